// Sources and tables.
#include <string>
#include <utility>

#include "grammar/tree_builder.hpp"

namespace linelaw::grammar {

SourceItem TreeBuilder::source_item(NodeId id) {
    SourceItem source;
    source.name = parts_.name_in(id);
    source.title = parts_.text_in(id);
    source.place = parts_.place(id);
    for (const NodeId by : parts_.parts(id, Kind::source_by)) {
        once(source.by, by, "by");
        source.by = parts_.text_in(by);
    }
    for (const NodeId year : parts_.parts(id, Kind::source_year)) {
        once(source.year, year, "year");
        source.year = parts_.number(parts_.first(year));
    }
    if (!source.by)
        missing(id, "source `" + source.name.text + "` does not say who published it: `by` is missing");
    return source;
}

Cell TreeBuilder::cell(NodeId id) {
    const NodeId what = parts_.first(id);
    const Place place = parts_.place(id);
    switch (parts_.node(what).kind) {
        case Kind::any_cell:
            return {AnyCell{}, place};
        case Kind::range:
            return {RangeCell{parts_.range(what)}, place};
        case Kind::one_of:
            return {OneOfCell{parts_.expressions(what)}, place};
        case Kind::compare: {
            const NodeId sign = parts_.first(what);
            return {CompareCell{parts_.comparator(sign), parts_.expression(parts_.after(what, sign))}, place};
        }
        default:
            return {CompareCell{Comparator::is, parts_.expression(what)}, place};
    }
}

TableRow TreeBuilder::table_row(NodeId id) {
    TableRow row;
    row.place = parts_.place(id);
    for (const NodeId part : parts_.parts(id, Kind::cell)) row.given.push_back(cell(part));
    row.gives = parts_.expressions(parts_.part(id, Kind::row_gives));
    return row;
}

TableItem TreeBuilder::table_item(NodeId id) {
    TableItem table;
    table.name = parts_.name_in(id);
    table.place = parts_.place(id);
    table.first_row_wins = parts_.has(id, Kind::first_row_wins);
    for (const NodeId line : parts_.parts(id, Kind::table_given)) {
        if (!table.given.empty()) parts_.say("syntax.repeated", "`given` stands twice", line, "again here");
        table.given = parts_.names(line);
        table.gives = parts_.names(parts_.part(line, Kind::table_gives));
    }
    const std::vector<NodeId> rows = parts_.parts(id, Kind::table_row);
    if (table.given.empty()) {
        missing(id, "table `" + table.name.text + "` has no `given` line that names its columns");
        return table;
    }
    if (rows.empty()) missing(id, "table `" + table.name.text + "` has no row");
    for (const NodeId line : rows) {
        TableRow row = table_row(line);
        const auto compare = [&](std::size_t cells, const std::vector<Name>& columns, const char* side) {
            if (cells == columns.size()) return;
            std::string names;
            for (const Name& column : columns) names += (names.empty() ? "`" : ", `") + column.text + "`";
            parts_.say("syntax.table",
                       "this row has " + std::to_string(cells) + (cells == 1 ? " cell " : " cells ") + side +
                           " `gives`, but the table has " + std::to_string(columns.size()) +
                           (columns.size() == 1 ? " column there: " : " columns there: ") + names,
                       line);
        };
        compare(row.given.size(), table.given, "before");
        compare(row.gives.size(), table.gives, "after");
        table.rows.push_back(std::move(row));
    }
    return table;
}

}  // namespace linelaw::grammar
