// The canonical layout: one line for each line of an item, words under one another, signs as words.
#include "grammar/format.hpp"

#include <algorithm>
#include <string_view>
#include <utility>

#include "grammar/layout.hpp"
#include "grammar/to_text.hpp"

namespace linelaw::grammar {

namespace {

using std::string;
using std::string_view;

string padded(string_view text, std::size_t width) {
    return string(text) + string(text.size() < width ? width - text.size() : 0, ' ');
}

Place spanning(Place first, Place last) {
    return {first.text, first.begin, std::max(first.end, last.end)};
}

string title(const Text& text) {
    return ' ' + to_text(text);
}

string because(const std::optional<Text>& reason) {
    return reason ? " because " + to_text(*reason) : "";
}

// Makes the blocks of a page. `column` is how wide the names of neighbouring terms, shifts and states are.
class Layouter {
  public:
    explicit Layouter(std::size_t column) : column_(column) {}

    PageBlock block;

    void operator()(const VocabularyHeader& header) {
        head("vocabulary " + header.name.text, header.name.place);
        if (header.edition) line("edition ", header.edition->text, header.edition->place);
        for (const Text& file : header.extends) line("extends ", to_text(file), file.place);
    }
    void operator()(const PolicyHeader& header);
    void operator()(std::monostate) {}

    // ---- vocabulary
    void operator()(const PatientBlock& item) {
        head("patient", first_word_of(item.place, 7));
        attributes(item.attributes, {});
    }
    void operator()(const LineBlock& item) {
        head("line", first_word_of(item.place, 4));
        attributes(item.attributes, {});
    }
    void operator()(const PartItem& item);
    void operator()(const EventItem& item);
    void operator()(const StateItem& item);
    void operator()(const RoleItem& item) {
        joins("role");
        single("role ", to_text(item.names, ", "), item.place);
    }
    void operator()(const NeverItem& item) {
        joins("never");
        single("never ", to_text(item.condition) + because(item.because), item.place, 2);
    }
    void operator()(const QuestionItem& item);

    // ---- policy
    void operator()(const SourceItem& item) {
        joins("source");
        head("source " + item.name.text + title(item.title), spanning(item.name.place, item.title.place));
        string body;
        if (item.by) body = "by " + to_text(*item.by);
        if (item.year) body += (body.empty() ? "year " : " year ") + item.year->text;
        if (body.empty()) return;
        const Place by = item.by ? item.by->place : item.year->place;
        line("", body, spanning(by, item.year ? item.year->place : by));
    }
    void operator()(const ShiftItem& item) {
        joins("shift");
        single("shift " + padded(item.name.text, column_) + " from ",
               to_text(item.from) + " to " + to_text(item.to), item.place);
    }
    void operator()(const TermItem& item) {
        joins("term");
        single("term " + padded(item.name.text, column_) + " means ", to_text(item.condition), item.place);
    }
    void operator()(const TableItem& item);
    void operator()(const ClauseItem& item);
    void operator()(const EscalationItem& item);
    void operator()(const BundleItem& item);
    void operator()(const SetAsideQuestion& item) {
        joins("set aside");
        const string condition = item.for_condition ? " for " + to_text(*item.for_condition) : "";
        single("set aside question ", item.question.text + condition + because(item.because), item.place, 2);
    }
    void operator()(const AcceptItem& item) {
        joins("accept");
        const string ids = item.ids.empty() ? "" : " for " + to_text(item.ids, ", ");
        single("accept ", item.code.text + ids + because(item.because), item.place, 2);
    }
    void operator()(const DropClause& item) {
        joins("drop");
        single("drop clause ", item.id.text + because(item.because), item.place, 2);
    }
    void operator()(const ExampleItem& item);
    void operator()(const ReplaceItem& item) {
        std::visit(*this, item.with->node);
        block.lines.front().head.insert(0, "replace ");
        block.kind = "replace";
        block.may_join = false;
    }

  private:
    static Place first_word_of(Place place, std::uint32_t length) {
        return {place.text, place.begin, std::min(place.end, place.begin + length)};
    }

    void joins(string_view kind) {
        block.kind = kind;
        block.may_join = true;
    }
    // The first line of a block.
    void head(string text, Place place) {
        PageLine line;
        line.head = std::move(text);
        line.place = place;
        block.lines.push_back(std::move(line));
    }
    // A block of one line; goes on under its body, or `hang` blanks in.
    void single(string head, string body, Place place, std::size_t hang = 0) {
        PageLine line;
        line.hang = hang != 0 ? hang : head.size();
        line.head = std::move(head);
        line.body = std::move(body);
        line.place = place;
        block.lines.push_back(std::move(line));
    }
    // A further line of a block; goes on under its body, or `hang` blanks further in.
    void line(string head, string body, Place place, std::size_t hang = 0) {
        single(std::move(head), std::move(body), place, hang);
        PageLine& made = block.lines.back();
        made.indent = 2;
        made.hang += 2;
    }

    void attributes(const std::vector<Attribute>& all, const std::vector<Name>& steps);
    static string type(const Attribute& attribute);
    void clause_line(const ClauseLine& line);
    string assignments(const std::vector<Assignment>& all, const std::vector<ExampleStep>& steps) const;

    std::size_t column_;
};

void Layouter::operator()(const PolicyHeader& header) {
    head("policy" + title(header.title), header.title.place);
    if (header.edition) line("edition ", header.edition->text, header.edition->place);
    if (header.in_force_from) {
        const string until = header.in_force_until ? " until " + to_text(*header.in_force_until) : "";
        line("in force from ", to_text(*header.in_force_from) + until,
             spanning(header.in_force_from->place,
                      header.in_force_until ? header.in_force_until->place : header.in_force_from->place));
    }
    if (header.review_by) line("review by ", to_text(*header.review_by), header.review_by->place);
    if (header.owner) line("owner ", to_text(*header.owner), header.owner->place);
    if (header.governs) line("governs ", to_text(header.governs->condition), header.governs->place);
    if (header.time_zone) line("time zone ", header.time_zone->text, header.time_zone->place);
    if (header.uses_vocabulary) {
        line("uses vocabulary ", to_text(*header.uses_vocabulary), header.uses_vocabulary->place);
    }
    if (header.builds_on) line("builds on ", to_text(*header.builds_on), header.builds_on->place);
    for (const Text& file : header.measured_against) line("measured against ", to_text(file), file.place);
    if (header.undocumented) {
        const bool not_met = *header.undocumented == UndocumentedCounts::not_met;
        line("undocumented counts as ", not_met ? "not met" : "not assessable", header.undocumented_place);
    }
}

// ---- vocabulary
// ----------------------------------------------------------------------------------------------

string Layouter::type(const Attribute& attribute) {
    static constexpr string_view words[] = {
        "flag",   "one of", "count", "number",      "percent",       "age",  "length", "duration",
        "volume", "rate",   "mass",  "temperature", "concentration", "time", "text",   "key"};
    string text(words[static_cast<std::size_t>(attribute.type.kind)]);
    if (!attribute.type.values.empty()) text += ' ' + to_text(attribute.type.values, ", ");
    if (attribute.type.range) text += ' ' + to_text(*attribute.type.range);
    if (attribute.type.unit) text += " in " + attribute.type.unit->text;
    if (attribute.comparable_by) text += " comparable by " + attribute.comparable_by->text;
    if (attribute.complication) text += " complication";
    if (!attribute.complication_values.empty())
        text += " complication " + to_text(attribute.complication_values, ", ");
    return text;
}

void Layouter::attributes(const std::vector<Attribute>& all, const std::vector<Name>& steps) {
    std::size_t width = steps.empty() ? 0 : 5;
    for (const Attribute& attribute : all) width = std::max(width, attribute.name.text.size());
    for (const Attribute& attribute : all) {
        const string head = padded(attribute.name.text, width) + " : ";
        const std::size_t hang = head.size() + (attribute.type.kind == TypeKind::one_of ? 7 : 0);
        line(head, type(attribute), attribute.place, hang);
    }
    if (!steps.empty()) {
        line(padded("steps", width) + " : ", to_text(steps, ", "),
             spanning(steps.front().place, steps.back().place));
    }
}

void Layouter::operator()(const PartItem& item) {
    joins("part");
    string text = "part " + item.name.text + title(item.title);
    if (item.of) text += " of " + item.of->text;
    Place last = item.title.place;
    if (item.count) {
        text += ' ' + item.count->text + " of them";
        last = item.count->place;
    } else if (!item.until.empty()) {
        text += " from " + to_text(item.from) + " until " + to_text(item.until);
        last = item.until.back().place;
    }
    head(std::move(text), spanning(item.name.place, last));
    attributes(item.attributes, {});
}

void Layouter::operator()(const EventItem& item) {
    joins("event");
    string text = "event " + item.name.text;
    if (item.of) text += " of " + item.of->text;
    text += title(item.title);
    if (item.also_after_removal) text += " also after removal";
    if (item.complication) text += " complication";
    head(std::move(text), spanning(item.name.place, item.title.place));
    attributes(item.attributes, item.steps);
}

void Layouter::operator()(const StateItem& item) {
    joins("state");
    const string from = item.sources.empty() ? to_text(item.from) + " until " + to_text(item.until)
                                             : to_text(item.sources, ", ");
    single("state " + padded(item.name.text, column_) + " from ",
           from + (item.initially ? " initially " + item.initially->text : ""), item.place);
}

void Layouter::operator()(const QuestionItem& item) {
    head("question " + item.name.text, item.name.place);
    line("", to_text(item.title), item.title.place);
    if (const auto* often = std::get_if<HowOften>(&item.about)) {
        line("about ", to_text(often->events) + " how often",
             spanning(often->events.front().place, often->events.back().place));
    } else if (const auto* attribute = std::get_if<AttributeAt>(&item.about)) {
        line("about ", attribute->attribute.text + " at " + attribute->event.text,
             spanning(attribute->attribute.place, attribute->event.place));
    } else if (const auto* response = std::get_if<ResponseTo>(&item.about)) {
        const Events& last = response->by.empty() ? response->events : response->by;
        line("about response to ",
             to_text(response->events) + (response->by.empty() ? "" : " by " + to_text(response->by)),
             spanning(response->events.front().place, last.back().place));
    } else {
        const Name& ladder = std::get<EscalationOf>(item.about).escalation;
        line("about escalation ", ladder.text, ladder.place);
    }
    if (!item.every.empty()) {
        string axes;
        for (const QuestionAxis& axis : item.every) {
            axes += (axes.empty() ? "" : ", ") + axis.name.text + (axis.or_unset ? " or unset" : "");
        }
        line("for every combination of ", axes,
             spanning(item.every.front().name.place, item.every.back().name.place));
    }
    if (item.for_condition) line("for ", to_text(*item.for_condition), item.for_condition->place);
}

// ---- policy
// --------------------------------------------------------------------------------------------------

string cell_text(const Cell& cell) {
    if (const auto* compare = std::get_if<CompareCell>(&cell.node)) {
        const string value = to_text(*compare->value);
        return compare->comparator == Comparator::is ? value : to_text(compare->comparator) + ' ' + value;
    }
    if (const auto* range = std::get_if<RangeCell>(&cell.node)) return to_text(range->range);
    if (const auto* values = std::get_if<OneOfCell>(&cell.node)) {
        string text = "one of ";
        for (const Expression& value : values->values) text += (text.size() > 7 ? ", " : "") + to_text(value);
        return text;
    }
    return "any";
}

void Layouter::operator()(const TableItem& item) {
    head("table " + item.name.text + (item.first_row_wins ? " first row wins" : ""), item.name.place);
    std::vector<std::vector<string>> rows(item.rows.size() + 1);
    for (const Name& name : item.given) rows[0].push_back(name.text);
    for (const Name& name : item.gives) rows[0].push_back(name.text);
    for (std::size_t i = 0; i < item.rows.size(); ++i) {
        for (const Cell& cell : item.rows[i].given) rows[i + 1].push_back(cell_text(cell));
        for (const Expression& value : item.rows[i].gives) rows[i + 1].push_back(to_text(value));
    }
    std::vector<std::size_t> widths(rows[0].size());
    for (const auto& row : rows) {
        for (std::size_t c = 0; c < row.size(); ++c) widths[c] = std::max(widths[c], row[c].size());
    }
    for (std::size_t i = 0; i < rows.size(); ++i) {
        string body;
        for (std::size_t c = 0; c < rows[i].size(); ++c) {
            if (c > 0) body += c == item.given.size() ? " gives " : " | ";
            body += c + 1 < rows[i].size() ? padded(rows[i][c], widths[c]) : rows[i][c];
        }
        const Place place =
            i > 0 ? item.rows[i - 1].place : spanning(item.given.front().place, item.gives.back().place);
        line((i > 0 ? "row   " : "given ") + body, "", place);
    }
}

void Layouter::clause_line(const ClauseLine& written) {
    const auto put = [&](string_view word, const string& body) {
        constexpr std::size_t column = 8;  // the longest of the usual words: priority
        const string head = padded(word, column) + ' ';
        line(head, body, written.place, head.size() > 10 ? 2 : 0);
    };
    if (const auto* l = std::get_if<ForLine>(&written.node)) return put("for", to_text(l->condition));
    if (const auto* l = std::get_if<ForEachLine>(&written.node)) {
        return put("for each", l->part.text + (l->where ? " where " + to_text(*l->where) : ""));
    }
    if (const auto* l = std::get_if<WhileLine>(&written.node)) return put("while", to_text(l->condition));
    if (std::holds_alternative<EvenAfterRemoval>(written.node)) return put("even after removal", "");
    if (const auto* l = std::get_if<AtLine>(&written.node)) return put("at", to_text(l->events));
    if (const auto* l = std::get_if<AfterLine>(&written.node)) return put("after", to_text(l->events));
    if (const auto* l = std::get_if<BeforeLine>(&written.node)) return put("before", to_text(l->events));
    if (const auto* l = std::get_if<OnceLine>(&written.node)) return put("once", to_text(l->condition));
    if (const auto* l = std::get_if<Demand>(&written.node)) {
        const bool leaves = std::holds_alternative<LeavesToJudgement>(l->node);
        return put(leaves ? "leaves" : l->should ? "should" : "must", to_text(*l));
    }
    if (const auto* l = std::get_if<ExceptLine>(&written.node)) {
        return put("except when", to_text(l->condition) + because(l->because));
    }
    if (const auto* l = std::get_if<OtherwiseEscalate>(&written.node))
        return put("otherwise escalate", l->escalation.text);
    if (const auto* l = std::get_if<ThenEscalate>(&written.node))
        return put("then escalate", l->escalation.text);
    if (const auto* l = std::get_if<OverridesLine>(&written.node))
        return put("overrides", to_text(l->clauses, ", "));
    if (const auto* l = std::get_if<PriorityLine>(&written.node)) return put("priority", l->priority.text);
    if (const auto* l = std::get_if<SourceLine>(&written.node)) {
        return put("source", l->source.text + (l->where ? ' ' + to_text(*l->where) : "") +
                                 (l->category ? " category " + to_text(*l->category) : ""));
    }
    if (const auto* l = std::get_if<ReasonLine>(&written.node)) return put("reason", to_text(l->text));
    if (const auto* l = std::get_if<AdviceLine>(&written.node)) return put("advice", to_text(l->text));
    if (const auto* l = std::get_if<DepartsLine>(&written.node)) {
        return put("departs from", l->source.text + because(l->because));
    }
    const auto& l = std::get<UndocumentedLine>(written.node);
    put("undocumented counts as", l.counts == UndocumentedCounts::not_met ? "not met" : "not assessable");
}

void Layouter::operator()(const ClauseItem& item) {
    head("clause " + item.id.text, item.id.place);
    if (item.sentence) line("", to_text(*item.sentence), item.sentence->place);
    for (const ClauseLine& written : item.lines) clause_line(written);
}

void Layouter::operator()(const EscalationItem& item) {
    head("escalation " + item.id.text, item.id.place);
    line("", to_text(item.sentence), item.sentence.place);
    for (const LadderStep& step : item.steps) {
        const bool is_first = &step == &item.steps.front();
        string body = "notify " + to_text(step.roles, " or ") + " within " + to_text(step.within);
        if (step.if_not_acknowledged_within) {
            body += " if not acknowledged within " + to_text(*step.if_not_acknowledged_within);
        }
        line(is_first ? "first " : "then  ", std::move(body), step.place);
    }
    for (const LadderHold& hold : item.holds) {
        line("no new ", to_text(hold.events) + " until " + to_text(hold.until), hold.place);
    }
}

void Layouter::operator()(const BundleItem& item) {
    head("bundle " + item.id.text + title(item.title), spanning(item.id.place, item.title.place));
    if (!item.of.empty())
        line("of   ", to_text(item.of, ", "), spanning(item.of.front().place, item.of.back().place));
    if (const auto* each = std::get_if<EachEvent>(&item.each))
        return line("each ", to_text(each->events), item.each_place);
    const bool shift = std::holds_alternative<EachShift>(item.each);
    const bool whole_line = std::holds_alternative<EachLine>(item.each);
    line("each ", shift ? "shift" : whole_line ? "line" : "calendar day", item.each_place);
}

// ---- examples
// ------------------------------------------------------------------------------------------------

string step_text(const ExampleStep& step) {
    string text = step.step.text;
    if (step.at) text += " at " + to_text(*step.at);
    if (step.from && step.to) text += " from " + to_text(*step.from) + " to " + to_text(*step.to);
    return text;
}

string Layouter::assignments(const std::vector<Assignment>& all,
                             const std::vector<ExampleStep>& steps) const {
    string text;
    const auto comma = [&text] { text += text.empty() ? "" : ", "; };
    for (const Assignment& one : all) {
        comma();
        text += one.attribute.text;
        for (const Expression& value : one.value) text += ' ' + to_text(value);
    }
    if (steps.empty()) return text;
    comma();
    string list;
    for (const ExampleStep& step : steps) list += (list.empty() ? "" : ", ") + step_text(step);
    return text + "steps (" + list + ')';
}

string moment_text(std::int32_t day, const TimeOfDay& at, std::size_t width = 0) {
    return "day " + padded(std::to_string(day), width) + ' ' + to_text(at);
}

void Layouter::operator()(const ExampleItem& item) {
    head("example" + title(item.title), item.title.place);
    if (item.on) line("on ", to_text(*item.on), item.on->place);
    const auto given = [this](string_view word, const std::vector<Assignment>& all) {
        if (!all.empty())
            line(string(word), assignments(all, {}), spanning(all.front().place, all.back().place));
    };
    given("line    ", item.line);
    given("patient ", item.patient);
    if (item.from) line("observed from ", moment_text(item.from->day, item.from->at), item.from->at.place);
    std::size_t width = 0;
    for (const ExampleEvent& event : item.events) width = std::max(width, std::to_string(event.day).size());
    for (const ExampleEvent& event : item.events) {
        const string attributes = assignments(event.attributes, event.steps);
        line(moment_text(event.day, event.at, width) + ' ',
             event.event.text + (attributes.empty() ? "" : ' ' + attributes), event.place, 4);
    }
    if (item.until) line("until ", moment_text(item.until->day, item.until->at), item.until->at.place);
    for (const Expectation& one : item.expectations) {
        line("expect  ",
             one.id.text + (one.step ? " step " + one.step->text : "") + ' ' + one.outcome.text +
                 (one.times ? " " + one.times->text + " times" : ""),
             one.place);
    }
}

// The width of the name that stands in a column with its neighbours'; 0 for items of other kinds.
std::size_t name_width(const Item& item) {
    if (const auto* term = std::get_if<TermItem>(&item.node)) return term->name.text.size();
    if (const auto* shift = std::get_if<ShiftItem>(&item.node)) return shift->name.text.size();
    if (const auto* state = std::get_if<StateItem>(&item.node)) return state->name.text.size();
    return 0;
}

std::vector<std::size_t> name_columns(string_view content, const std::vector<Item>& items) {
    std::vector<std::size_t> columns(items.size());
    for (std::size_t begin = 0; begin < items.size();) {
        std::size_t end = begin + 1;
        std::size_t width = name_width(items[begin]);
        while (width != 0 && end < items.size() && items[end].node.index() == items[begin].node.index() &&
               adjoin(content, items[end - 1].place.end, items[end].place.begin)) {
            width = std::max(width, name_width(items[end++]));
        }
        std::fill(columns.begin() + static_cast<std::ptrdiff_t>(begin),
                  columns.begin() + static_cast<std::ptrdiff_t>(end), width);
        begin = end;
    }
    return columns;
}

}  // namespace

string format(const Sources& sources, std::uint32_t text, const Tree& tree) {
    const string_view content = sources.text(text).content;
    std::vector<PageBlock> blocks;
    const auto add = [&blocks](const auto& what, std::size_t column) {
        Layouter layouter(column);
        std::visit([&layouter](const auto& node) { layouter(node); }, what);
        if (!layouter.block.lines.empty()) blocks.push_back(std::move(layouter.block));
    };
    add(tree.header, 0);
    const std::vector<std::size_t> columns = name_columns(content, tree.items);
    for (std::size_t i = 0; i < tree.items.size(); ++i) add(tree.items[i].node, columns[i]);
    return page(content, std::move(blocks), tree.comments);
}

}  // namespace linelaw::grammar
