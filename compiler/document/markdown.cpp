#include "compiler/document/markdown.hpp"

#include "runtime/ascii.hpp"

namespace linelaw::compiler::document {

namespace {

// `at_start`: where "1." and "-" would begin a list.
std::string escaped_at(std::string_view text, bool at_start) {
    static constexpr std::string_view marks = "\\`*_[]<>|~&#";
    std::string out;
    for (std::size_t i = 0; i < text.size(); ++i) {
        const char c = text[i];
        if (c == '\n' || c == '\r' || c == '\t') {
            out += ' ';
            continue;
        }
        const bool digit = runtime::ascii::is_digit(c);
        const bool list = at_start && (c == '-' || c == '+' || c == '=' || c == '.' || c == ')');
        if (list || marks.find(c) != std::string_view::npos) out += '\\';
        out += c;
        at_start = at_start && digit;
    }
    return out;
}

}  // namespace

std::string escaped(std::string_view text) {
    return escaped_at(text, true);
}

std::string code(std::string_view name) {
    return '`' + std::string(name) + '`';
}

std::string with_names(std::string_view words) {
    std::string out;
    for (std::size_t at = 0; at < words.size();) {
        const auto open = words.find('`', at);
        const auto close = open == std::string_view::npos ? open : words.find('`', open + 1);
        if (close == std::string_view::npos) return out + escaped_at(words.substr(at), at == 0);
        out +=
            escaped_at(words.substr(at, open - at), at == 0) + code(words.substr(open + 1, close - open - 1));
        at = close + 1;
    }
    return out;
}

std::string link(std::string_view shown, std::string_view anchor) {
    return '[' + std::string(shown) + "](#" + std::string(anchor) + ')';
}

std::string table(const std::vector<std::string>& headings,
                  const std::vector<std::vector<std::string>>& rows) {
    if (rows.empty()) return "";
    std::string out = "|";
    for (const auto& heading : headings) out += ' ' + heading + " |";
    out += "\n|";
    for (std::size_t i = 0; i < headings.size(); ++i) out += "---|";
    for (const auto& row : rows) {
        out += "\n|";
        for (const auto& cell : row) out += ' ' + cell + " |";
    }
    return out + "\n\n";
}

std::string anchor_of(std::string_view heading) {
    std::string out;
    for (const char c : heading) {
        const bool beyond_ascii = static_cast<unsigned char>(c) >= 0x80;
        if (runtime::ascii::is_letter_or_digit(c) || c == '-' || c == '_' || beyond_ascii)
            out += runtime::ascii::lower(c);
        else if (c == ' ')
            out += '-';
    }
    return out;
}

std::string plain(std::string_view words) {
    std::string out;
    for (const char c : words)
        if (c != '`') out += c == '_' ? ' ' : c;
    return out;
}

std::string joined(const std::vector<std::string>& parts, std::string_view between) {
    std::string out;
    for (const auto& part : parts) {
        if (!out.empty()) out += between;
        out += part;
    }
    return out;
}

}  // namespace linelaw::compiler::document
