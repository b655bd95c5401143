#include "runtime/csv.hpp"

namespace linelaw::runtime {

void put_cell(std::string& out, std::string_view text, bool last) {
    const bool formula =
        !text.empty() && std::string_view("=+-@\t\r").find(text[0]) != std::string_view::npos;
    if (formula || text.find_first_of(",\"\r\n") != std::string_view::npos) {
        out += '"';
        if (formula) out += '\'';
        for (const char c : text) {
            if (c == '"') out += '"';
            out += c;
        }
        out += '"';
    } else {
        out += text;
    }
    out += last ? "\r\n" : ",";
}

}  // namespace linelaw::runtime
