#include "runtime/report_html.hpp"

#include <fmt/format.h>

#include <array>
#include <initializer_list>
#include <utility>

#include "runtime/ascii.hpp"
#include "runtime/report_text.hpp"

namespace linelaw::runtime::html {
namespace {

// The frame with its names filled in, in the order in which they stand; what is filled in is never searched.
std::string filled(std::string_view frame,
                   std::initializer_list<std::pair<std::string_view, std::string_view>> fills) {
    std::string out;
    for (const auto& [name, value] : fills) {
        const std::size_t at = frame.find(name);
        out += frame.substr(0, at);
        out += value;
        frame.remove_prefix(at + name.size());
    }
    out += frame;
    return out;
}

}  // namespace

std::string page(std::string_view title, std::string_view body) {
    return filled(report_text::page_html,
                  {{"@title@", escaped(title)}, {"@style@", report_text::report_css}, {"@body@", body}});
}

std::string escaped(std::string_view text) {
    std::string out;
    out.reserve(text.size());
    for (const char c : text) {
        switch (c) {
            case '&':
                out += "&amp;";
                break;
            case '<':
                out += "&lt;";
                break;
            case '>':
                out += "&gt;";
                break;
            case '"':
                out += "&quot;";
                break;
            default:
                out += c;
        }
    }
    return out;
}

std::string anchor(std::string_view kind, std::string_view name) {
    std::string out(kind);
    out += '-';
    for (const char c : name) out += ascii::is_letter_or_digit(c) ? c : '-';
    return out;
}

std::string table(std::string_view caption, const std::vector<TableColumn>& columns,
                  const std::vector<std::vector<std::string>>& rows) {
    std::string out = fmt::format(
        "<div class=\"scroll\" role=\"region\" tabindex=\"0\" "
        "aria-label=\"{0}\"><table><caption>{0}</caption><thead><tr>",
        escaped(caption));
    for (const TableColumn& column : columns) {
        out += fmt::format("<th scope=\"col\"{}>{}</th>", column.number ? " class=\"number\"" : "",
                           column.heading);
    }
    out += "</tr></thead><tbody>";
    for (const auto& row : rows) {
        out += "<tr>";
        for (std::size_t i = 0; i < row.size(); ++i) {
            const char* number = columns[i].number ? " class=\"number\"" : "";
            out += i == 0 ? fmt::format("<th scope=\"row\"{}>{}</th>", number, row[i])
                          : fmt::format("<td{}>{}</td>", number, row[i]);
        }
        out += "</tr>\n";
    }
    return out + "</tbody></table></div>\n";
}

std::string folded(std::string_view summary, const std::string& content) {
    return fmt::format("<details><summary>{}</summary>{}</details>\n", escaped(summary), content);
}

std::string_view outcome_class(Outcome outcome) {
    constexpr std::array<std::string_view, outcome_count> classes = {
        "met", "late", "missed", "early", "not-met", "excused", "no-longer-due", "pending", "not-assessable"};
    return classes[static_cast<std::size_t>(outcome)];
}

std::string rate_words(const Rate& rate) {
    if (!rate.exercised()) return "no evidence";
    return fmt::format("{} ({})", percent(rate.share), percent_range(rate.interval));
}

}  // namespace linelaw::runtime::html
