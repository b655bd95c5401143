#include "runtime/records_walk.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cstring>

namespace linelaw::runtime::records {
namespace {

// The first byte that is no UTF-8. Slow, and asked only where there is one.
std::uint64_t first_bad_byte(std::string_view text) {
    std::size_t i = 0;
    while (i < text.size()) {
        const auto lead = static_cast<unsigned char>(text[i]);
        const std::size_t length = lead < 0x80 ? 1 : lead < 0xE0 ? 2 : lead < 0xF0 ? 3 : 4;
        if (i + length > text.size() || !simdjson::validate_utf8(text.data() + i, length)) return i;
        i += length;
    }
    return i;
}

}  // namespace

std::string Path::pointer() const {
    std::string out;
    for (std::size_t i = 0; i < std::min(size_, parts_.size()); ++i) {
        out += '/';
        if (parts_[i].key.data() == nullptr) {
            out += std::to_string(parts_[i].index);
            continue;
        }
        for (const char c : parts_[i].key) {  // RFC 6901
            if (c == '~' || c == '/')
                out += c == '~' ? "~0" : "~1";
            else
                out += c;
        }
    }
    return out;
}

bool Walk::load(std::string_view text) {
    size_ = 0;
    if (text.size() > options_.record_limit)
        return spoil("record.size", 0,
                     fmt::format("the record has {} bytes, more than the limit of {}", text.size(),
                                 options_.record_limit));
    if (buffer_.size() < text.size() + simdjson::SIMDJSON_PADDING)
        buffer_.resize(std::max(text.size() + simdjson::SIMDJSON_PADDING, 2 * buffer_.size()));
    size_ = text.size();
    std::memcpy(buffer_.data(), text.data(), size_);
    std::memset(buffer_.data() + size_, ' ', simdjson::SIMDJSON_PADDING);
    // A byte order mark before the first record of a file says nothing (RFC 8259, 8.1).
    if (text.substr(0, 3) == "\xEF\xBB\xBF") std::memset(buffer_.data(), ' ', 3);
    return true;
}

std::uint64_t Walk::offset() {
    if (!in_document_) return 0;
    const char* location = nullptr;
    if (document_.current_location().get(location) != simdjson::SUCCESS) return size_;
    return std::min<std::uint64_t>(static_cast<std::uint64_t>(location - buffer_.data()), size_);
}

bool Walk::at_end() {
    const char* location = nullptr;
    if (document_.current_location().get(location) == simdjson::OUT_OF_BOUNDS) return true;
    return spoil_at("", "record.json", offset(),
                    "something follows the record's object; one record is one line");
}

bool Walk::broken(simdjson::error_code error) {
    switch (error) {
        case simdjson::UTF8_ERROR:
            return spoil("record.utf8", first_bad_byte(text()), "the record is not valid UTF-8 from here on");
        case simdjson::EMPTY:
            return spoil("record.json", 0, "the record is empty");
        case simdjson::UNCLOSED_STRING:
        case simdjson::INCOMPLETE_ARRAY_OR_OBJECT:
            return spoil("record.json", size_,
                         "the record is cut short: a text, list or object is not closed");
        case simdjson::INCORRECT_TYPE:
            if (text().find_first_not_of(" \t\r\n") != std::string_view::npos &&
                text()[text().find_first_not_of(" \t\r\n")] != '{')
                return spoil_at("", "record.json", 0, "the record must be a JSON object");
            [[fallthrough]];
        default:
            return spoil("record.json", offset(), "the record is no valid JSON here");
    }
}

bool Walk::key_of(json::field& field, std::string_view& key) {
    const char* raw = field.key().raw();
    const char* end = raw;
    while (*end != '"' && *end != '\\') ++end;
    if (*end == '\\') return ok(field.unescaped_key().get(key));
    key = {raw, static_cast<std::size_t>(end - raw)};
    return true;
}

bool Walk::is_null(json::value& value, bool& null) {
    json::json_type type{};
    null = false;
    if (!type_of(value, type)) return false;
    if (type != json::json_type::null) return true;
    if (!ok(value.is_null().get(null))) return false;
    return null || ok(simdjson::N_ATOM_ERROR);
}

bool Walk::ignore(json::value& value, std::size_t depth) {
    if (depth > deepest_nesting)
        return spoil("record.depth", offset(),
                     fmt::format("the record nests deeper than {}", deepest_nesting));
    json::json_type type{};
    if (!type_of(value, type)) return false;
    switch (type) {
        case json::json_type::object: {
            json::object object;
            return ok(value.get_object().get(object)) &&
                   each_key(object,
                            [&](std::string_view, json::value& child) { return ignore(child, depth + 1); });
        }
        case json::json_type::array: {
            json::array array;
            return ok(value.get_array().get(array)) &&
                   each_item(array, [&](json::value& child) { return ignore(child, depth + 1); });
        }
        case json::json_type::string: {
            std::string_view text;
            return string(value, text);
        }
        case json::json_type::number: {
            double number = 0;
            return ok(value.get_double().get(number));
        }
        case json::json_type::boolean: {
            bool flag = false;
            return ok(value.get_bool().get(flag));
        }
        case json::json_type::null: {
            bool null = false;
            return is_null(value, null);
        }
    }
    return ok(simdjson::TAPE_ERROR);
}

std::uint64_t Walk::offset_of(json::value& value) const {
    return static_cast<std::uint64_t>(value.raw_json_token().data() - buffer_.data());
}

bool Walk::once(std::uint64_t object, std::uint32_t key) {
    std::uint64_t& seen = key >= key_first ? seen_keys_[key - key_first] : seen_slots_[key];
    if (seen == object)
        return spoil("record.key", offset(), "the same key stands twice in this object; keep one of them");
    seen = object;
    return true;
}

bool Walk::spoil(const char* code, std::uint64_t offset, std::string reason) {
    return spoil_at(path.pointer(), code, offset, std::move(reason));
}
bool Walk::spoil_at(std::string pointer, const char* code, std::uint64_t offset, std::string reason) {
    if (!spoiled_)
        spoiled_ = std::make_unique<Spoiled>(Spoiled{code, std::move(pointer), offset, std::move(reason)});
    return false;
}
void Walk::set_aside(const char* code, std::uint64_t offset, std::string reason) {
    set_aside_at(path.pointer(), code, offset, std::move(reason));
}
void Walk::set_aside_at(std::string pointer, const char* code, std::uint64_t offset, std::string reason) {
    set_aside_->push_back({code, std::move(pointer), offset, std::move(reason)});
}

void Walk::unknown_key(std::string_view where, std::string_view key) {
    std::string name(where);
    if (!name.empty()) name += '.';
    ReadCounts::count(counts.unknown_keys, name.append(key), 1);
}
void Walk::unknown_event(std::string_view type) {
    ReadCounts::count(counts.unknown_events, std::string(type), 1);
}

}  // namespace linelaw::runtime::records
