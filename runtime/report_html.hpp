// Pieces of HTML that every section of the page uses: escaping, tables with captions and scopes.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "runtime/summary.hpp"

namespace linelaw::runtime::html {

// The whole page, self-contained, in the report's style; `body` is HTML already.
std::string page(std::string_view title, std::string_view body);

std::string escaped(std::string_view text);  // for text and for attributes in double quotes
// "clause-dressing-gauze": an id of an element, from an item's name.
std::string anchor(std::string_view kind, std::string_view name);

// A table: a caption, a row of headings, rows whose first cell is a heading. Numbers stand right. `cells` are
// HTML already. Wrapped so that a narrow screen scrolls the table, not the page, by keyboard too.
struct TableColumn {
    std::string heading;
    bool number = false;
};
std::string table(std::string_view caption, const std::vector<TableColumn>& columns,
                  const std::vector<std::vector<std::string>>& rows);
// The same, folded away under a line that opens it.
std::string folded(std::string_view summary, const std::string& content);

// Words with a mark of the outcome's colour and shape.
std::string_view outcome_class(Outcome outcome);  // a class of report.css
std::string rate_words(const Rate& rate);         // "91.2 % (89.3–92.8 %)" or "no evidence"

}  // namespace linelaw::runtime::html
