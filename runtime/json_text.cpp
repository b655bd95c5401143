#include "runtime/json_text.hpp"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

namespace linelaw::runtime {
namespace {

// Most texts. Asked of every byte and answered at the end, which a compiler turns into wide steps.
bool is_plain(std::string_view text) {
    bool other = false;
    for (const char c : text) {
        const auto byte = static_cast<unsigned char>(c);
        other |= byte < 0x20 || byte >= 0x7F || byte == '"' || byte == '\\';
    }
    return !other;
}

}  // namespace

void put_text(std::string& out, std::string_view text) {
    if (is_plain(text)) {
        out += '"';
        out += text;
        out += '"';
    } else {
        out += nlohmann::json(text).dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
    }
}

void put_instant(std::string& out, Instant t) {
    put_text(out, write_instant(t));
}

void put_whole(std::string& out, std::int64_t number) {
    const fmt::format_int digits(number);
    out.append(digits.data(), digits.size());
}

void put_number(std::string& out, double number) {
    out += nlohmann::json(number).dump();
}

}  // namespace linelaw::runtime
