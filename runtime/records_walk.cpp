#include "runtime/records_walk.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cstring>
#include <new>
#include <nlohmann/json.hpp>

#include "runtime/ascii.hpp"

namespace linelaw::runtime::records {
namespace {

// The key whose quotation mark is there; nothing where none is, or its escapes are wrong.
std::string name_of_key(std::string_view text, std::size_t begin) {
    std::size_t end = begin + 1;
    while (end < text.size() && text[end] != '"') end += text[end] == '\\' ? 2 : 1;
    if (end >= text.size() || text[begin] != '"') return "";
    const auto key = nlohmann::json::parse(text.substr(begin, end + 1 - begin), nullptr, false);
    return key.is_string() ? key.get<std::string>() : "";
}

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

constexpr const char* cut_short = "the record is cut short: a text, list or object is not closed";
constexpr std::uint32_t none_found = 0;  // the token where a text has none

// A text is unescaped where it is read, and once more where it is looked for.
constexpr std::size_t most_unescaped = 2;

// What may stand right behind a number or a word.
bool ends_token(char c) {
    switch (c) {
        case ' ':
        case '\t':
        case '\n':
        case '\r':
        case ',':
        case ':':
        case '{':
        case '}':
        case '[':
        case ']':
            return true;
        default:
            return false;
    }
}

// What is nearer to zero than any number is zero; what is larger than any is none.
bool long_number(std::string_view text, double& out) {
    if (std::from_chars(text.data(), text.data() + text.size(), out).ec == std::errc()) return true;
    const auto number = nlohmann::json::parse(text, nullptr, false);
    if (number.is_number()) out = number.get<double>();
    return number.is_number();
}

// What is no name may be anything that somebody typed, a person's name too: it is counted, and not shown.
std::string_view shown(std::string_view name) {
    constexpr std::size_t longest = 64;
    const auto in = [](char c, char low, char high) { return c >= low && c <= high; };
    const bool is_name =
        !name.empty() && name.size() <= longest && in(name[0], 'a', 'z') &&
        std::all_of(name.begin(), name.end(), [&](char c) {
            return in(c, 'a', 'z') || in(c, 'A', 'Z') || ascii::is_digit(c) || c == '_' || c == '-';
        });
    return is_name ? name : "(no name, not shown)";
}

constexpr std::array<double, 16> powers_of_ten = {1e0, 1e1, 1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                                  1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15};

}  // namespace

std::string Path::pointer(std::string_view text) const {
    std::string out;
    for (std::size_t i = 1; i <= std::min(size_, deepest); ++i) {
        if (parts_[i].index != none) {
            out += '/' + std::to_string(parts_[i].index);
            continue;
        }
        // A name needs none of the signs that RFC 6901 has others write; a key that is cut off has none.
        if (const std::string key = name_of_key(text, parts_[i].key); !key.empty())
            (out += '/') += shown(key);
    }
    return out;
}

Walk::Walk(std::size_t slots, ReaderOptions options) : options_(options), seen_slots_(slots) {
    // simdjson asks the processor once which of its ways is the fastest here.
    if (simdjson::get_active_implementation()->create_dom_parser_implementation(0, 1, finder_) !=
        simdjson::SUCCESS)
        throw std::bad_alloc();
}

bool Walk::load(std::string_view text) {
    text_ = buffer_.data();
    size_ = 0;
    token_ = &none_found;
    if (text.size() > options_.record_limit)
        return spoil("record.size", 0,
                     fmt::format("the record is longer than the limit of {} bytes", options_.record_limit));
    if (buffer_.size() < text.size() + room_behind)
        buffer_.resize(std::max(text.size() + room_behind, 2 * buffer_.size()));
    text_ = buffer_.data();
    size_ = text.size();
    std::memcpy(buffer_.data(), text.data(), size_);
    std::memset(buffer_.data() + size_, ' ', room_behind);
    // A byte order mark before the first record of a file says nothing (RFC 8259, 8.1).
    if (text.substr(0, 3) == "\xEF\xBB\xBF") std::memset(buffer_.data(), ' ', 3);
    return true;
}

bool Walk::find_tokens() {
    if (finder_->capacity() < size_ && finder_->set_capacity(buffer_.size()) != simdjson::SUCCESS)
        throw std::bad_alloc();
    const auto error =
        finder_->stage1(reinterpret_cast<const std::uint8_t*>(text_), size_, simdjson::stage1_mode::regular);
    if (error != simdjson::SUCCESS) return not_tokens(error);
    std::uint32_t* tokens = finder_->structural_indexes.get();
    tokens[finder_->n_structural_indexes] = static_cast<std::uint32_t>(size_);
    token_ = tokens;
    has_escapes_ = std::memchr(text_, '\\', size_) != nullptr;
    if (has_escapes_ && unescaped_.size() < most_unescaped * size_ + room_behind)
        unescaped_.resize(most_unescaped * size_ + room_behind);
    unescaped_end_ = unescaped_.data();
    return true;
}

bool Walk::at_end() {
    return offset() == size_ || spoil_at("", "record.json", offset(),
                                         "something follows the record's object; one record is one line");
}

bool Walk::not_tokens(simdjson::error_code error) {
    switch (error) {
        case simdjson::UTF8_ERROR:
            return spoil("record.utf8", first_bad_byte(text()), "the record is not valid UTF-8 from here on");
        case simdjson::EMPTY:
            return spoil("record.json", 0, "the record is empty");
        case simdjson::UNCLOSED_STRING:
            return spoil("record.json", size_, cut_short);
        default:
            return spoil("record.json", 0, "the record is no valid JSON");
    }
}

bool Walk::broken() {
    return offset() == size_ ? spoil("record.json", size_, cut_short)
                             : spoil("record.json", offset(), "the record is no valid JSON here");
}

bool Walk::unescape(std::string_view& text) {
    if (text.find('\\') == std::string_view::npos) return true;
    std::uint8_t* end =
        finder_->parse_string(reinterpret_cast<const std::uint8_t*>(text.data()), unescaped_end_);
    if (end == nullptr) return false;
    text = {reinterpret_cast<const char*>(unescaped_end_), static_cast<std::size_t>(end - unescaped_end_)};
    unescaped_end_ = end;
    return true;
}

bool Walk::number(double& out) {
    const char* const begin = text_ + *token_;
    const char* at = *begin == '-' ? begin + 1 : begin;
    std::uint64_t digits = 0;
    const auto pass_digits = [&at, &digits] {
        const char* const first = at;
        for (; ascii::is_digit(*at); ++at) digits = 10 * digits + static_cast<std::uint64_t>(*at - '0');
        return static_cast<std::size_t>(at - first);
    };
    const bool leading_zero = *at == '0';
    const std::size_t whole = pass_digits();
    std::size_t decimals = 0;
    if (whole == 0 || (leading_zero && whole > 1)) return broken();
    if (*at == '.') {
        ++at;
        decimals = pass_digits();
        if (decimals == 0) return broken();
    }
    const std::size_t counted = whole + decimals;
    const bool exponent = *at == 'e' || *at == 'E';
    if (exponent) {
        ++at;
        if (*at == '+' || *at == '-') ++at;
        if (pass_digits() == 0) return broken();
    }
    if (!ends_token(*at)) return broken();
    if (exponent || counted > 15) {
        if (!long_number({begin, static_cast<std::size_t>(at - begin)}, out))
            return spoil("record.json", offset(), "the number here is too large to be read");
    } else {
        // So few digits are exact, and so is the power of ten: one division rounds as it should.
        out = static_cast<double>(digits);
        if (decimals != 0) out /= powers_of_ten[decimals];
        if (*begin == '-') out = -out;
    }
    ++token_;
    return true;
}

bool Walk::word(std::string_view word) {
    const char* const begin = text_ + *token_;
    if (std::memcmp(begin, word.data(), word.size()) != 0 || !ends_token(begin[word.size()])) return broken();
    ++token_;
    return true;
}

bool Walk::flag(bool& out) {
    out = peek() == 't';
    return word(out ? "true" : "false");
}

bool Walk::null_value() {
    return word("null");
}

bool Walk::ignore(std::size_t depth) {
    if (depth > deepest_nesting)
        return spoil("record.depth", offset(),
                     fmt::format("the record nests deeper than {}", deepest_nesting));
    std::string_view text;
    double number_there = 0;
    bool flag_there = false;
    switch (peek()) {
        case '{':
            return each_key([&](std::string_view) { return ignore(depth + 1); });
        case '[':
            return each_item([&](std::uint32_t) { return ignore(depth + 1); });
        case '"':
            return text_value(text);
        case 't':
        case 'f':
            return flag(flag_there);
        case 'n':
            return null_value();
        default:
            return at_number() ? number(number_there) : broken();
    }
}

// Nothing is checked but what the search itself rests on: all of it is once it is read.
bool Walk::look_ahead(std::string_view key, std::string_view& text) {
    for (Token t = token_ + 1; text_[t[0]] == '"' && text_[t[1]] == ':'; ++t) {
        std::string_view name = between_quotes(text_ + t[0], text_ + t[1]);
        if (has_escapes_ && !unescape(name)) return false;
        t += 2;
        if (name == key) {
            if (text_[*t] != '"') return false;
            text = between_quotes(text_ + t[0], text_ + t[1]);
            return !has_escapes_ || unescape(text);
        }
        pass_value(t);
        if (text_[*t] != ',') return false;
    }
    return false;
}

void Walk::pass_value(Token& token) const {
    std::size_t depth = 0;
    do {
        const char first = text_[*token];
        if (*token == size_) return;
        if (first == '{' || first == '[')
            ++depth;
        else if (depth > 0 && (first == '}' || first == ']'))
            --depth;
        ++token;
    } while (depth > 0);
}

bool Walk::twice() {
    return spoil("record.key", offset(), "the same key stands twice in this object; keep one of them");
}

bool Walk::spoil(const char* code, std::uint64_t offset, std::string reason) {
    return spoil_at(path_.pointer(text()), code, offset, std::move(reason));
}
bool Walk::spoil_at(std::string pointer, const char* code, std::uint64_t offset, std::string reason) {
    if (!spoiled_)
        spoiled_ = std::make_unique<Spoiled>(Spoiled{code, std::move(pointer), offset, std::move(reason)});
    return false;
}
void Walk::set_aside(const char* code, std::uint64_t offset, std::string reason) {
    set_aside_at(path_.pointer(text()), code, offset, std::move(reason));
}
void Walk::set_aside_at(std::string pointer, const char* code, std::uint64_t offset, std::string reason) {
    set_aside_->push_back({code, std::move(pointer), offset, std::move(reason)});
}

void Walk::unknown_key(std::string_view where, std::string_view key) {
    std::string name(where);
    if (!name.empty()) name += '.';
    ReadCounts::count(counts.unknown_keys, name.append(shown(key)), 1);
}
void Walk::unknown_event(std::string_view type) {
    ReadCounts::count(counts.unknown_events, std::string(shown(type)), 1);
}

}  // namespace linelaw::runtime::records
