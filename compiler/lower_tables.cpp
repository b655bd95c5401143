// Tables: what goes in and comes out is known from the names where some attribute bears them, else from the
// rows. The inputs of a use are resolved where the use stands.
#include <algorithm>

#include "compiler/lower.hpp"

namespace linelaw::compiler {

using namespace grammar;

namespace {

Shape attribute_shape(const Work& work, AttributeId id) {
    const auto& declared = work.names.attributes.at(id);
    if (declared.broken) return {};
    Shape shape = shape_of(attribute(work.policy(), id).type);
    shape.name = attribute(work.policy(), id).name;
    shape.declared = declared.place;
    shape.has_place = declared.place.end != 0;
    return shape;
}

// Every shape that something of this name has; `owner` narrows the search.
std::vector<Shape> shapes_named(const Work& work, std::string_view owner, std::string_view name) {
    std::vector<Shape> shapes;
    for (const auto& [id, declared] : work.names.attributes) {
        if (attribute(work.policy(), id).name != name) continue;
        const bool wanted = owner.empty() || (owner == "event" && id.owner == Owner::event) ||
                            (owner == "part" && id.owner == Owner::part) ||
                            (owner == "line" && id.owner == Owner::line) ||
                            (owner == "patient" && id.owner == Owner::patient);
        if (wanted) shapes.push_back(attribute_shape(work, id));
    }
    if (owner.empty() || owner == "state")
        if (const auto* state = work.names.states.find(name)) {
            Shape shape = state->broken ? Shape{} : shape_of(work.policy().states[state->id].type);
            shape.name = std::string(name);
            shape.declared = state->place;
            shape.has_place = true;
            shapes.push_back(std::move(shape));
        }
    return shapes;
}

// One shape for all of them; nothing where they differ.
std::optional<Shape> joined(const std::vector<Shape>& shapes) {
    Shape all = shapes.front();
    for (const auto& shape : shapes) {
        if (shape.kind == Shape::Kind::broken) return Shape{};
        if (shape.kind != all.kind || shape.dimension != all.dimension || shape.whole != all.whole)
            return std::nullopt;
        for (const auto value : shape.values)
            if (std::find(all.values.begin(), all.values.end(), value) == all.values.end())
                all.values.push_back(value);
        if (shape.range && all.range) {
            all.range->first = std::min(all.range->first, shape.range->first);
            all.range->second = std::max(all.range->second, shape.range->second);
        }
    }
    return all;
}

Shape input_shape(Work& work, const Name& input) {
    const auto dot = input.text.find('.');
    const std::string owner = dot == std::string::npos ? "" : input.text.substr(0, dot);
    const std::string name = dot == std::string::npos ? input.text : input.text.substr(dot + 1);
    const auto shapes = shapes_named(work, owner, name);
    if (shapes.empty()) {
        std::vector<std::string> candidates;
        for (const auto& [id, declared] : work.names.attributes)
            candidates.push_back(attribute(work.policy(), id).name);
        for (const auto& state : work.names.states.names()) candidates.push_back(state);
        if (!owner.empty())
            for (auto& candidate : candidates) candidate.insert(0, owner + '.');
        unknown_name(work, "attribute", input, candidates);
        return {};
    }
    auto shape = joined(shapes);
    if (!shape) {
        auto& d = work.report.add("name.ambiguous", in_ticks(input.text) + " is declared in several ways",
                                  input.place, "which one");
        for (const auto& one : shapes)
            if (one.has_place) d.labels.push_back({one.declared, in_words(one)});
        advise(d, "say which, as " + in_ticks("event." + name) + " or " + in_ticks("line." + name));
        return {};
    }
    shape->name = input.text;
    return *shape;
}

// The shape of a column that no attribute is named after, from its first answer.
Shape shape_of_answers(Work& work, const TableItem& item, std::size_t column) {
    Shape shape;
    bool all_whole = true;
    for (const auto& row : item.rows) {
        if (column >= row.gives.size()) continue;
        const auto& answer = row.gives[column];
        if (const auto* number = std::get_if<Number>(&answer.node))
            all_whole = all_whole && number->text.find('.') == std::string::npos;
        if (const auto* reference = std::get_if<Reference>(&answer.node)) {
            const auto* symbol = work.names.symbols.find(reference->name.text);
            const bool flag = reference->name.text == "yes" || reference->name.text == "no";
            shape.kind = symbol == nullptr && flag ? Shape::Kind::flag : Shape::Kind::one_of;
            if (symbol != nullptr &&
                std::find(shape.values.begin(), shape.values.end(), symbol->id) == shape.values.end())
                shape.values.push_back(symbol->id);
        }
        if (shape.kind != Shape::Kind::broken) continue;
        if (const auto* quantity = std::get_if<Quantity>(&answer.node)) {
            const auto amount = read_amount(*quantity, work.report);
            if (!amount) return {};
            shape.kind = Shape::Kind::number;
            shape.dimension = amount->dimension;
            shape.unit = amount->unit;
        } else if (std::holds_alternative<Number>(answer.node)) {
            shape.kind = Shape::Kind::number;
        } else if (std::holds_alternative<TimeOfDay>(answer.node)) {
            shape.kind = Shape::Kind::time_of_day;
        }
    }
    shape.whole =
        shape.kind == Shape::Kind::number && shape.dimension == runtime::Dimension::none && all_whole;
    return shape;
}

Shape column_shape(Work& work, const TableItem& item, std::size_t column) {
    const auto shapes = shapes_named(work, "", item.gives[column].text);
    if (!shapes.empty())
        if (auto shape = joined(shapes)) return *shape;
    Shape shape = shape_of_answers(work, item, column);
    shape.name = item.gives[column].text;
    return shape;
}

class RowReader {
  public:
    RowReader(Work& work, const TableItem& item, const TableShape& shape)
        : work_(work), item_(item), shape_(shape) {}

    std::optional<runtime::Row> read(const TableRow& row) {
        if (row.given.size() != shape_.inputs.size() || row.gives.size() != shape_.columns.size()) {
            auto& d = work_.report.add(
                "syntax.table",
                "a row of " + in_ticks(item_.name.text) + " has " + std::to_string(shape_.inputs.size()) +
                    " to be given and gives " + std::to_string(shape_.columns.size()) + ", this one has " +
                    std::to_string(row.given.size()) + " and gives " + std::to_string(row.gives.size()),
                row.place, "not as wide as the table's head");
            d.labels.push_back({item_.name.place, "the table"});
            return std::nullopt;
        }
        runtime::Row read;
        bool good = true;
        for (std::size_t i = 0; i < row.given.size(); ++i) {
            auto cell = read_cell(row.given[i], shape_.inputs[i], item_.given[i].place);
            good = good && cell;
            if (cell) read.given.push_back(std::move(*cell));
        }
        for (std::size_t i = 0; i < row.gives.size(); ++i) {
            const auto id = constant(row.gives[i], shape_.columns[i], item_.gives[i].place);
            good = good && id != runtime::none;
            read.gives.push_back(id);
        }
        if (!good) return std::nullopt;
        return read;
    }

  private:
    runtime::ExpressionId constant(const Expression& literal, const Shape& shape, Place head) {
        const auto read = read_constant(literal, shape, head, work_);
        return read ? intern(work_, *read, literal.place) : runtime::none;
    }

    std::optional<runtime::Cell> read_cell(const Cell& cell, const Shape& shape, Place head) {
        using K = runtime::Cell::Kind;
        runtime::Cell read;
        if (const auto* compare = std::get_if<CompareCell>(&cell.node)) {
            read.kind = K::compare;
            read.comparator = static_cast<runtime::Comparator>(compare->comparator);
            if (!check_ordered(shape, compare->comparator, cell.place, head, work_)) return std::nullopt;
            read.values = {constant(*compare->value, shape, head)};
        } else if (const auto* range = std::get_if<RangeCell>(&cell.node)) {
            read.kind = K::range;
            if (!check_ordered(shape, Comparator::at_least, cell.place, head, work_)) return std::nullopt;
            read.values = {constant(range->range.low, shape, head), constant(range->range.high, shape, head)};
            if (ends_before_it_begins(work_, read.values[0], read.values[1])) {
                work_.report.add("range.order",
                                 "the range " + work_.report.quote(cell.place) + " ends before it begins",
                                 cell.place, "the greater end stands first");
                return std::nullopt;
            }
        } else if (const auto* one_of = std::get_if<OneOfCell>(&cell.node)) {
            read.kind = K::one_of;
            for (const auto& value : one_of->values) read.values.push_back(constant(value, shape, head));
        }
        if (std::find(read.values.begin(), read.values.end(), runtime::none) != read.values.end())
            return std::nullopt;
        return read;
    }

    Work& work_;
    const TableItem& item_;
    const TableShape& shape_;
};

bool same_kind(const Shape& a, const Shape& b) {
    return a.kind == b.kind && a.dimension == b.dimension && a.whole == b.whole;
}

bool is_broken(const std::vector<Shape>& shapes) {
    return std::any_of(shapes.begin(), shapes.end(),
                       [](const auto& s) { return s.kind == Shape::Kind::broken; });
}

}  // namespace

void declare_tables(Work& work) {
    for (const auto* item : work.layers.items) {
        const auto* table = std::get_if<TableItem>(&item->node);
        if (table == nullptr) continue;
        const auto* declared = work.names.tables.find(table->name.text);
        if (declared->id != work.tables.size()) continue;  // declared twice
        TableShape shape;
        shape.item = table;
        auto& compiled = work.policy().tables.emplace_back();
        compiled.name = table->name.text;
        compiled.first_row_wins = table->first_row_wins;
        for (const auto& input : table->given) {
            shape.inputs.push_back(input_shape(work, input));
            compiled.inputs.push_back(input.text);
        }
        for (std::size_t column = 0; column < table->gives.size(); ++column) {
            shape.columns.push_back(column_shape(work, *table, column));
            compiled.columns.push_back(table->gives[column].text);
        }
        work.out.table_places.push_back(table->name.place);
        work.out.tables.push_back(*table);
        work.tables.push_back(std::move(shape));
    }
}

void lower_tables(Work& work) {
    for (std::size_t t = 0; t < work.tables.size(); ++t) {
        const auto& shape = work.tables[t];
        RowReader reader(work, *shape.item, shape);
        for (const auto& row : shape.item->rows)
            if (auto read = reader.read(row)) work.policy().tables[t].rows.push_back(std::move(*read));
    }
}

Lowered lower_column(Work& work, const ResolvedColumn& column, const Name& name, const Context& context) {
    const auto& shape = work.tables[column.table];
    runtime::TableValue value{column.table, column.column, {}};
    bool good = !is_broken(shape.inputs) && shape.columns[column.column].kind != Shape::Kind::broken;
    for (std::size_t i = 0; i < shape.item->given.size() && good; ++i) {
        const Name input{shape.item->given[i].text, name.place};
        Context here = context;
        here.where += ", where the table " + in_ticks(shape.item->name.text) + " is read";
        const Resolved resolved = resolve(work, input, here);
        const auto* found = std::get_if<ResolvedValue>(&resolved);
        if (found == nullptr) {
            good = false;
            if (!std::holds_alternative<Unresolved>(resolved))
                work.report.add("name.kind", in_ticks(input.text) + " is no attribute and no state",
                                name.place, "an input of the table");
        } else if (!same_kind(found->shape, shape.inputs[i]) &&
                   !check_comparable(found->shape, name.place, shape.inputs[i], shape.item->given[i].place,
                                     work)) {
            good = false;
        } else {
            value.inputs.push_back(intern(work, found->node, name.place));
        }
    }
    if (!good) return {};
    Shape answer = shape.columns[column.column];
    answer.name = name.text;
    answer.range.reset();
    return {intern(work, value, name.place), std::move(answer)};
}

}  // namespace linelaw::compiler
