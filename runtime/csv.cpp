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

Result<std::vector<std::vector<std::string>>> read_csv(std::string_view text) {
    std::vector<std::vector<std::string>> rows;
    constexpr std::string_view byte_order_mark = "\xEF\xBB\xBF";  // spreadsheets put it in front
    if (text.substr(0, byte_order_mark.size()) == byte_order_mark) text.remove_prefix(byte_order_mark.size());
    std::size_t at = 0;
    while (at < text.size()) {
        std::vector<std::string> row(1);
        for (;; ++at) {
            std::string& cell = row.back();
            if (at < text.size() && text[at] == '"' && cell.empty()) {
                for (++at;; ++at) {
                    if (at >= text.size())
                        return tl::unexpected(Error{"csv.quote", "a quotation mark is not closed"});
                    if (text[at] != '"') {
                        cell += text[at];
                    } else if (at + 1 < text.size() && text[at + 1] == '"') {
                        cell += text[++at];
                    } else {
                        break;
                    }
                }
                continue;
            }
            if (at >= text.size() || text[at] == '\n') break;
            if (text[at] == ',') {
                row.emplace_back();
            } else if (text[at] != '\r') {
                cell += text[at];
            }
        }
        ++at;
        if (row.size() > 1 || !row[0].empty()) rows.push_back(std::move(row));
    }
    return rows;
}

}  // namespace linelaw::runtime
