// Texts written straight as JSON are held against nlohmann/json's.
#include "runtime/json_text.hpp"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
#include <string>

using linelaw::runtime::put_text;

namespace {

std::string text_as_json(const std::string& text) {
    std::string out;
    put_text(out, text);
    return out;
}
std::string expected(const std::string& text) {
    return nlohmann::json(text).dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
}

}  // namespace

TEST_CASE("any byte at any place of a text is written as nlohmann/json writes it") {
    for (std::size_t size = 0; size < 20; ++size) {
        const std::string plain = std::string("abcdefghijklmnopqrst").substr(0, size);
        CHECK(text_as_json(plain) == expected(plain));
        for (std::size_t at = 0; at < size; ++at) {
            for (int byte = 0; byte < 256; ++byte) {
                std::string text = plain;
                text[at] = static_cast<char>(byte);
                if (text_as_json(text) != expected(text))
                    FAIL("byte " << byte << " at " << at << " of " << size);
            }
        }
    }
}

TEST_CASE("a byte that is written otherwise hides behind none that is not") {
    // Bytes whose eight-byte arithmetic borrows from, or carries into, the ones beside.
    const std::string edges("\x1F\x20\x21\x22\x23\x5B\x5C\x5D\x7E\x7F\x80\xC3\xA9\xFF", 14);
    for (const char a : edges)
        for (const char b : edges)
            for (const char c : edges) {
                const std::string text = std::string("xy") + a + b + c + "zxyzx";
                if (text_as_json(text) != expected(text)) FAIL("after " << static_cast<int>(a));
            }
}
