#include "grammar/build.hpp"

#include <algorithm>
#include <cstdlib>
#include <string>
#include <utility>

#include "grammar/build_expression.hpp"

namespace linelaw::grammar {

namespace {

class TreeBuilder {
  public:
    TreeBuilder(std::string_view content, std::uint32_t text, const Scan& scan,
                std::vector<Diagnostic>& diagnostics)
        : parts_(content, text, scan, diagnostics),
          scan_(scan),
          diagnostics_(diagnostics),
          size_(static_cast<std::uint32_t>(content.size())) {}

    Tree build();

  private:
    void check_header();
    bool is_whole(NodeId id) const;
    Item item(NodeId id);
    PolicyHeader policy_header(NodeId id);
    VocabularyHeader vocabulary_header(NodeId id);

    Type type(NodeId id);
    Attribute attribute(NodeId id);
    std::vector<Attribute> attributes(NodeId id);
    PartItem part_item(NodeId id);
    EventItem event_item(NodeId id);
    StateItem state_item(NodeId id);
    QuestionItem question_item(NodeId id);
    void question_about(NodeId id, QuestionItem& question);

    SourceItem source_item(NodeId id);
    TableItem table_item(NodeId id);
    Cell cell(NodeId id);
    TableRow table_row(NodeId id);

    ClauseItem clause_item(NodeId id);
    ClauseLine clause_line(NodeId id);
    Demand demand(NodeId id);
    DemandNode demand_node(NodeId id);
    DemandNode event_demand(NodeId events, NodeId tail);
    AtLeastEvery at_least_every(Events events, NodeId tail);

    EscalationItem escalation_item(NodeId id);
    LadderStep ladder_step(NodeId id);
    BundleItem bundle_item(NodeId id);
    ExampleItem example_item(NodeId id);
    ExampleEvent example_event(NodeId id);
    ExampleUntil moment(NodeId id);
    Assignment assignment(NodeId id);
    std::vector<Assignment> assignments(NodeId of);
    Expectation expectation(NodeId id);

    std::optional<Text> because(NodeId of);
    UndocumentedCounts counts(NodeId of) const;
    void missing(NodeId item, const std::string& what);
    // Says that a line stands again, unless this is its first time.
    template <typename Slot>
    void once(const Slot& slot, NodeId line, const char* what) {
        if (slot)
            parts_.say("syntax.repeated", std::string("`") + what + "` stands twice", line, "again here");
    }

    PartBuilder parts_;
    const Scan& scan_;
    std::vector<Diagnostic>& diagnostics_;
    std::uint32_t size_;
    std::uint32_t end_of_item_ = 0;
    bool broken_ = false;  // the item at hand has a fault, so nothing of it is missing for certain
};

// ---- a text
// --------------------------------------------------------------------------------------------------

bool TreeBuilder::is_whole(NodeId id) const {
    const std::uint32_t begin = parts_.node(id).begin;
    return std::none_of(scan_.broken.begin(), scan_.broken.end(), [begin, this](const Place& broken) {
        return broken.begin >= begin && broken.begin < end_of_item_;
    });
}

// Items that are read line by line: what their broken lines leave can still be looked at.
bool takes_lines(Kind kind) {
    switch (kind) {
        case Kind::patient_block:
        case Kind::line_block:
        case Kind::part_item:
        case Kind::event_item:
        case Kind::question_item:
        case Kind::table_item:
        case Kind::clause_item:
        case Kind::escalation_item:
        case Kind::bundle_item:
        case Kind::example_item:
            return true;
        default:
            return false;
    }
}

// One header, and before the items.
void TreeBuilder::check_header() {
    const auto count = static_cast<NodeId>(scan_.nodes.size());
    std::optional<NodeId> header;
    for (NodeId id = 0; id < count; id = parts_.node(id).next) {
        const Kind kind = parts_.node(id).kind;
        if (kind != Kind::policy_header && kind != Kind::vocabulary_header) continue;
        if (header) {
            parts_.say("syntax.header", "a text has one `policy` or one `vocabulary`, and this is its second",
                       id);
        } else if (id != 0) {
            parts_.say("syntax.header", "`policy` or `vocabulary` stands before every item", id);
        }
        header = id;
    }
    // Where the text's first line could not be read, that has been said.
    const std::uint32_t begin = count == 0 ? size_ : parts_.node(0).begin;
    const bool unread = std::any_of(scan_.faults.begin(), scan_.faults.end(), [begin](const Fault& fault) {
        return fault.code == FaultCode::item && fault.at <= begin;
    });
    if (header || unread) return;
    const Place first = count == 0 ? Place{parts_.text_number(), 0, 0} : parts_.place(0);
    Diagnostic missing = make_diagnostic(
        "syntax.header", "a text begins with `policy` and its title, or `vocabulary` and its name",
        {first.text, first.begin, first.begin}, "one of them belongs here");
    diagnostics_.push_back(std::move(missing));
}

Tree TreeBuilder::build() {
    Tree tree;
    tree.comments = scan_.comments;
    check_header();
    const auto count = static_cast<NodeId>(scan_.nodes.size());
    for (NodeId id = 0; id < count; id = parts_.node(id).next) {
        const Node& node = parts_.node(id);
        end_of_item_ = node.next < count ? parts_.node(node.next).begin : size_ + 1;
        // An item with a fault is made all the same, for what else is wrong with it, and left out.
        broken_ = !is_whole(id);
        const std::size_t said = diagnostics_.size();
        if (node.kind == Kind::policy_header) {
            tree.header = policy_header(id);  // with its lines that are whole: they name the other texts
        } else if (node.kind == Kind::vocabulary_header) {
            tree.header = vocabulary_header(id);
        } else if (!broken_ || takes_lines(node.kind)) {
            Item made = item(id);
            if (!broken_ && diagnostics_.size() == said) tree.items.push_back(std::move(made));
        }
    }
    return tree;
}

Item TreeBuilder::item(NodeId id) {
    const Place place = parts_.place(id);
    switch (parts_.node(id).kind) {
        case Kind::patient_block:
            return {PatientBlock{attributes(id), place}, place};
        case Kind::line_block:
            return {LineBlock{attributes(id), place}, place};
        case Kind::part_item:
            return {part_item(id), place};
        case Kind::event_item:
            return {event_item(id), place};
        case Kind::state_item:
            return {state_item(id), place};
        case Kind::role_item:
            return {RoleItem{parts_.names(id), place}, place};
        case Kind::never_item:
            return {NeverItem{parts_.condition_in(id), because(id), place}, place};
        case Kind::question_item:
            return {question_item(id), place};
        case Kind::source_item:
            return {source_item(id), place};
        case Kind::term_item:
            return {TermItem{parts_.name_in(id), parts_.condition_in(id), place}, place};
        case Kind::table_item:
            return {table_item(id), place};
        case Kind::clause_item:
            return {clause_item(id), place};
        case Kind::escalation_item:
            return {escalation_item(id), place};
        case Kind::bundle_item:
            return {bundle_item(id), place};
        case Kind::example_item:
            return {example_item(id), place};
        case Kind::shift_item: {
            const std::vector<NodeId> times = parts_.parts(id, Kind::time_of_day);
            return {ShiftItem{parts_.name_in(id), parts_.time_of_day(times[0]), parts_.time_of_day(times[1]),
                              place},
                    place};
        }
        case Kind::set_aside: {
            std::optional<Expression> condition;
            if (parts_.has(id, Kind::any_of)) condition = parts_.condition_in(id);
            return {SetAsideQuestion{parts_.name_in(id), std::move(condition), *because(id), place}, place};
        }
        case Kind::accept_item: {
            std::vector<Name> names = parts_.names(id);
            Name code = std::move(names.front());
            names.erase(names.begin());
            return {AcceptItem{std::move(code), std::move(names), *because(id), place}, place};
        }
        case Kind::drop_item:
            return {DropClause{parts_.name_in(id), *because(id), place}, place};
        case Kind::replace_item:
            return {ReplaceItem{item(parts_.first(id))}, place};
        default:
            std::abort();  // every item of the rules is named above
    }
}

std::optional<Text> TreeBuilder::because(NodeId of) {
    const NodeId id = parts_.part(of, Kind::because);
    if (id == no_node) return std::nullopt;
    return parts_.text_in(id);
}

UndocumentedCounts TreeBuilder::counts(NodeId of) const {
    return parts_.words(parts_.part(of, Kind::mark)) == "not met" ? UndocumentedCounts::not_met
                                                                  : UndocumentedCounts::not_assessable;
}

void TreeBuilder::missing(NodeId item, const std::string& what) {
    if (broken_) return;
    const Place whole = parts_.place(item);
    const NodeId first = parts_.first(item);
    const Place head{whole.text, whole.begin, first == no_node ? whole.end : parts_.place(first).end};
    diagnostics_.push_back(make_diagnostic("syntax.missing", what, head));
}

VocabularyHeader TreeBuilder::vocabulary_header(NodeId id) {
    VocabularyHeader header;
    header.name = parts_.name_in(id);
    header.place = parts_.place(id);
    for (NodeId line = parts_.first(id); line != no_node; line = parts_.after(id, line)) {
        const Kind kind = parts_.node(line).kind;
        if (kind == Kind::edition_line) {
            once(header.edition, line, "edition");
            header.edition = parts_.number(parts_.first(line));
        } else if (kind == Kind::extends_line) {
            header.extends.push_back(parts_.text_in(line));
        }
    }
    return header;
}

PolicyHeader TreeBuilder::policy_header(NodeId id) {
    PolicyHeader header;
    header.title = parts_.text_in(id);
    header.place = parts_.place(id);
    for (NodeId line = parts_.first(id); line != no_node; line = parts_.after(id, line)) {
        const NodeId what = parts_.first(line);
        switch (parts_.node(line).kind) {
            case Kind::edition_line:
                once(header.edition, line, "edition");
                header.edition = parts_.number(what);
                break;
            case Kind::in_force:
                once(header.in_force_from, line, "in force");
                header.in_force_from = parts_.date(what);
                if (const NodeId until = parts_.part(line, Kind::in_force_until); until != no_node) {
                    header.in_force_until = parts_.date(parts_.first(until));
                }
                break;
            case Kind::review:
                once(header.review_by, line, "review by");
                header.review_by = parts_.date(what);
                break;
            case Kind::owner:
                once(header.owner, line, "owner");
                header.owner = parts_.text(what);
                break;
            case Kind::governs:
                once(header.governs, line, "governs");
                header.governs = Governs{parts_.condition_in(line), parts_.place(line)};
                break;
            case Kind::time_zone:
                once(header.time_zone, line, "time zone");
                header.time_zone = parts_.name(what);
                break;
            case Kind::uses:
                once(header.uses_vocabulary, line, "uses vocabulary");
                header.uses_vocabulary = parts_.text(what);
                break;
            case Kind::builds_on:
                once(header.builds_on, line, "builds on");
                header.builds_on = parts_.text(what);
                break;
            case Kind::measured:
                header.measured_against.push_back(parts_.text(what));
                break;
            case Kind::undocumented:
                once(header.undocumented, line, "undocumented counts as");
                header.undocumented = counts(line);
                header.undocumented_place = parts_.place(line);
                break;
            default:
                break;
        }
    }
    return header;
}

// ---- vocabulary
// ----------------------------------------------------------------------------------------------

TypeKind type_kind(std::string_view word) {
    constexpr std::pair<std::string_view, TypeKind> kinds[] = {
        {"flag", TypeKind::flag},       {"one of", TypeKind::one_of},
        {"count", TypeKind::count},     {"number", TypeKind::number},
        {"percent", TypeKind::percent}, {"age", TypeKind::age},
        {"length", TypeKind::length},   {"duration", TypeKind::duration},
        {"volume", TypeKind::volume},   {"rate", TypeKind::rate},
        {"mass", TypeKind::mass},       {"temperature", TypeKind::temperature},
        {"time", TypeKind::time},       {"concentration", TypeKind::concentration},
        {"text", TypeKind::text},       {"key", TypeKind::key},
    };
    for (const auto& [name, kind] : kinds) {
        if (name == word) return kind;
    }
    std::abort();  // the rules name the types
}

Type TreeBuilder::type(NodeId id) {
    Type type;
    type.place = parts_.place(id);
    type.kind = type_kind(parts_.words(parts_.part(id, Kind::mark)));
    if (const NodeId values = parts_.part(id, Kind::values); values != no_node)
        type.values = parts_.names(values);
    if (const NodeId range = parts_.part(id, Kind::range); range != no_node) type.range = parts_.range(range);
    if (const NodeId unit = parts_.part(id, Kind::type_unit); unit != no_node) {
        type.unit = parts_.name(parts_.first(unit));
    }
    return type;
}

Attribute TreeBuilder::attribute(NodeId id) {
    Attribute attribute;
    attribute.name = parts_.name_in(id);
    attribute.type = type(parts_.part(id, Kind::type));
    attribute.place = parts_.place(id);
    for (NodeId more = parts_.first(id); more != no_node; more = parts_.after(id, more)) {
        if (parts_.node(more).kind == Kind::comparable) {
            once(attribute.comparable_by, more, "comparable by");
            attribute.comparable_by = parts_.name_in(more);
        } else if (parts_.node(more).kind == Kind::complication) {
            attribute.complication_values = parts_.names(more);
            attribute.complication = attribute.complication_values.empty();
        }
    }
    return attribute;
}

std::vector<Attribute> TreeBuilder::attributes(NodeId id) {
    std::vector<Attribute> attributes;
    for (const NodeId line : parts_.parts(id, Kind::attribute)) attributes.push_back(attribute(line));
    return attributes;
}

PartItem TreeBuilder::part_item(NodeId id) {
    PartItem part;
    part.name = parts_.name_in(id);
    part.title = parts_.text_in(id);
    part.place = parts_.place(id);
    part.attributes = attributes(id);
    if (const NodeId of = parts_.part(id, Kind::of_part); of != no_node) part.of = parts_.name_in(of);
    if (const NodeId count = parts_.part(id, Kind::part_count); count != no_node)
        part.count = parts_.name_in(count);
    if (const NodeId life = parts_.part(id, Kind::part_life); life != no_node) {
        const std::vector<NodeId> ends = parts_.parts(life, Kind::events);
        part.from = parts_.events(ends[0]);
        part.until = parts_.events(ends[1]);
    }
    return part;
}

EventItem TreeBuilder::event_item(NodeId id) {
    EventItem event;
    event.name = parts_.name_in(id);
    event.title = parts_.text_in(id);
    event.place = parts_.place(id);
    event.attributes = attributes(id);
    event.also_after_removal = parts_.has(id, Kind::after_removal);
    event.complication = parts_.has(id, Kind::complication);
    if (const NodeId of = parts_.part(id, Kind::of_part); of != no_node) event.of = parts_.name_in(of);
    for (const NodeId steps : parts_.parts(id, Kind::steps)) {
        if (!event.steps.empty()) parts_.say("syntax.repeated", "`steps` stands twice", steps, "again here");
        event.steps = parts_.names(steps);
    }
    return event;
}

StateItem TreeBuilder::state_item(NodeId id) {
    StateItem state;
    state.name = parts_.name_in(id);
    state.place = parts_.place(id);
    if (const NodeId sources = parts_.part(id, Kind::state_sources); sources != no_node) {
        state.sources = parts_.names(sources);
        const NodeId initially = parts_.part(id, Kind::initially);
        if (initially != no_node) state.initially = parts_.name_in(initially);
    } else {
        const std::vector<NodeId> ends = parts_.parts(id, Kind::events);
        state.from = parts_.events(ends[0]);
        state.until = parts_.events(ends[1]);
    }
    return state;
}

void TreeBuilder::question_about(NodeId id, QuestionItem& question) {
    switch (parts_.node(id).kind) {
        case Kind::how_often:
            question.about = HowOften{parts_.events_in(id)};
            break;
        case Kind::response_to:
            question.about = ResponseTo{parts_.events_in(id)};
            break;
        case Kind::escalation_of:
            question.about = EscalationOf{parts_.name_in(id)};
            break;
        default: {
            std::vector<Name> names = parts_.names(id);
            question.about = AttributeAt{std::move(names[0]), std::move(names[1])};
        }
    }
}

QuestionItem TreeBuilder::question_item(NodeId id) {
    QuestionItem question;
    question.name = parts_.name_in(id);
    question.title = parts_.text_in(id);
    question.place = parts_.place(id);
    std::optional<NodeId> about, combinations;
    for (NodeId line = parts_.first(id); line != no_node; line = parts_.after(id, line)) {
        switch (parts_.node(line).kind) {
            case Kind::name:
            case Kind::string:
                break;
            case Kind::axes:
                once(combinations, line, "for every combination of");
                combinations = line;
                for (const NodeId axis : parts_.parts(line, Kind::axis)) {
                    question.every.push_back({parts_.name_in(axis), parts_.has(axis, Kind::mark)});
                }
                break;
            case Kind::for_line:
                once(question.for_condition, line, "for");
                question.for_condition = parts_.condition_in(line);
                break;
            default:
                once(about, line, "about");
                about = line;
                question_about(line, question);
        }
    }
    if (!about) missing(id, "question `" + question.name.text + "` does not say what it is `about`");
    return question;
}

// ---- policy
// --------------------------------------------------------------------------------------------------

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

// ---- clauses
// -------------------------------------------------------------------------------------------------

AtLeastEvery TreeBuilder::at_least_every(Events events, NodeId tail) {
    AtLeastEvery demand{std::move(events), parts_.quantity_in(tail), false, {}, {}, {}};
    for (NodeId more = parts_.first(tail); more != no_node; more = parts_.after(tail, more)) {
        switch (parts_.node(more).kind) {
            case Kind::counted_anew:
                demand.counted_anew = true;
                break;
            case Kind::grace:
                once(demand.grace, more, "grace");
                demand.grace = parts_.quantity_in(more);
                break;
            case Kind::shortest:
                once(demand.shortest, more, "no more often than every");
                demand.shortest = parts_.quantity_in(more);
                if (const NodeId unless = parts_.part(more, Kind::unless); unless != no_node) {
                    demand.unless = parts_.condition_in(unless);
                }
                break;
            default:
                break;
        }
    }
    return demand;
}

DemandNode TreeBuilder::event_demand(NodeId who, NodeId tail) {
    Events events = parts_.events(who);
    switch (parts_.node(tail).kind) {
        case Kind::at_least_every:
            return at_least_every(std::move(events), tail);
        case Kind::no_more_often: {
            NoMoreOftenThan demand{std::move(events), parts_.quantity_in(tail), {}};
            const NodeId unless = parts_.part(tail, Kind::unless);
            if (unless != no_node) demand.unless = parts_.condition_in(unless);
            return demand;
        }
        case Kind::each_period: {
            EachPeriod demand{std::move(events), {}, Period::calendar_day};
            const NodeId times = parts_.part(tail, Kind::times);
            if (times != no_node) demand.times = parts_.number(parts_.first(times));
            if (parts_.words(parts_.part(tail, Kind::mark)) == "shift") demand.period = Period::shift;
            return demand;
        }
        case Kind::at_most_times:
            return AtMostTimes{std::move(events), parts_.number(parts_.first(parts_.part(tail, Kind::times))),
                               parts_.quantity_in(tail)};
        default:
            break;
    }
    const NodeId grace = parts_.part(tail, Kind::grace);
    if (const NodeId side = parts_.part(tail, Kind::either_side); side != no_node) {
        if (grace != no_node) parts_.say("syntax.demand", "`within … either side` takes no `grace`", grace);
        if (parts_.has(tail, Kind::quantity))
            return WithinEitherSide{std::move(events), parts_.quantity_in(tail)};
        parts_.say("syntax.demand", "`either side` needs a duration such as `2 h` after `within`", side);
    }
    Within demand{std::move(events), Until::same_shift, {}};
    if (grace != no_node) demand.grace = parts_.quantity_in(grace);
    if (const NodeId until = parts_.part(tail, Kind::until_shift); until != no_node) {
        const std::string words = parts_.words(until);
        demand.within = words == "the same shift"   ? Until::same_shift
                        : words == "the next shift" ? Until::next_shift
                                                    : Until::same_calendar_day;
    } else {
        demand.within = parts_.quantity_in(tail);
    }
    return demand;
}

DemandNode TreeBuilder::demand_node(NodeId id) {
    const NodeId what = parts_.first(id);
    switch (parts_.node(what).kind) {
        case Kind::events:
            return event_demand(what, parts_.after(id, what));
        case Kind::forbid:
            return Forbid{parts_.events_in(what)};
        case Kind::document:
            return Document{parts_.names(what)};
        case Kind::follow_steps:
            return FollowSteps{parts_.names(what), parts_.has(what, Kind::in_order)};
        case Kind::have_had: {
            HaveHad demand{parts_.events_in(what), {}};
            if (const NodeId window = parts_.part(what, Kind::window); window != no_node) {
                demand.window = parts_.window(window);
            }
            return demand;
        }
        default:
            if (broken_ && parts_.first(what) == no_node) return Holds{};
            return Holds{parts_.condition_in(what)};
    }
}

Demand TreeBuilder::demand(NodeId id) {
    Demand demand;
    demand.should = parts_.node(id).kind == Kind::should_line;
    demand.place = parts_.place(id);
    demand.place.begin = parts_.place(parts_.first(id)).begin;
    if (parts_.node(id).kind == Kind::leaves_line) {
        demand.node = LeavesToJudgement{parts_.name_in(id), because(id)};
    } else {
        demand.node = demand_node(id);
    }
    return demand;
}

ClauseLine TreeBuilder::clause_line(NodeId id) {
    const Place place = parts_.place(id);
    switch (parts_.node(id).kind) {
        case Kind::for_line:
            return {ForLine{parts_.condition_in(id)}, place};
        case Kind::for_each_line: {
            ForEachLine line{parts_.name_in(id), {}};
            if (parts_.has(id, Kind::any_of)) line.where = parts_.condition_in(id);
            return {std::move(line), place};
        }
        case Kind::while_line:
            return {WhileLine{parts_.condition_in(id)}, place};
        case Kind::even_after_removal:
            return {EvenAfterRemoval{}, place};
        case Kind::at_line:
            return {AtLine{parts_.events_in(id)}, place};
        case Kind::after_line:
            return {AfterLine{parts_.events_in(id)}, place};
        case Kind::before_line:
            return {BeforeLine{parts_.events_in(id)}, place};
        case Kind::once_line:
            return {OnceLine{parts_.condition_in(id)}, place};
        case Kind::except_line:
            return {ExceptLine{parts_.condition_in(id), because(id)}, place};
        case Kind::otherwise_line:
            return {OtherwiseEscalate{parts_.name_in(id)}, place};
        case Kind::then_line:
            return {ThenEscalate{parts_.name_in(id)}, place};
        case Kind::overrides_line:
            return {OverridesLine{parts_.names(id)}, place};
        case Kind::priority_line:
            return {PriorityLine{parts_.name(parts_.first(id))}, place};
        case Kind::source_line: {
            SourceLine line{parts_.name_in(id), {}, {}};
            if (parts_.has(id, Kind::string)) line.where = parts_.text_in(id);
            const NodeId category = parts_.part(id, Kind::category);
            if (category != no_node) line.category = parts_.text_in(category);
            return {std::move(line), place};
        }
        case Kind::reason_line:
            return {ReasonLine{parts_.text_in(id)}, place};
        case Kind::advice_line:
            return {AdviceLine{parts_.text_in(id)}, place};
        case Kind::departs_line:
            return {DepartsLine{parts_.name_in(id), *because(id)}, place};
        case Kind::undocumented_line:
            return {UndocumentedLine{counts(id)}, place};
        default:
            return {demand(id), place};
    }
}

// Lines that may stand more than once: their conditions are joined, or they say each its own.
bool may_repeat(Kind kind) {
    return kind == Kind::for_line || kind == Kind::while_line || kind == Kind::except_line ||
           kind == Kind::source_line || kind == Kind::departs_line || kind == Kind::overrides_line;
}

// Lines of which a clause has one among them.
Kind role_of(Kind kind) {
    switch (kind) {
        case Kind::should_line:
        case Kind::leaves_line:
            return Kind::must_line;
        case Kind::after_line:
        case Kind::before_line:
        case Kind::once_line:
            return Kind::at_line;
        default:
            return kind;
    }
}

ClauseItem TreeBuilder::clause_item(NodeId id) {
    ClauseItem clause;
    clause.id = parts_.name_in(id);
    clause.place = parts_.place(id);
    std::vector<std::pair<Kind, NodeId>> stood;
    for (NodeId line = parts_.first(id); line != no_node; line = parts_.after(id, line)) {
        const Kind kind = parts_.node(line).kind;
        if (kind == Kind::name) continue;
        if (kind == Kind::string) {
            clause.sentence = parts_.text(line);
            continue;
        }
        for (const auto& [before, where] : stood) {
            if (may_repeat(kind) || role_of(before) != role_of(kind)) continue;
            const bool two_moments = role_of(kind) == Kind::at_line;
            Diagnostic again = make_diagnostic(
                "syntax.repeated",
                two_moments ? "a clause is judged at one moment, and this names a second"
                            : "a clause has one line of this kind, and this one is its second",
                parts_.place(line), "the second");
            again.labels.push_back({parts_.place(where), "the first"});
            if (kind == Kind::before_line && stood.back().first == Kind::must_line)
                again.mends.push_back(
                    {"what must have been done before an event is written in two lines: `before` with that "
                     "event, and `must have had` with what was done, and `in the last …` where it may be "
                     "too old",
                     {},
                     "",
                     false});
            diagnostics_.push_back(std::move(again));
            break;
        }
        stood.emplace_back(kind, line);
        // A line that a fault cut off before its first word has nothing to build.
        if (broken_ && parts_.first(line) == no_node) continue;
        clause.lines.push_back(clause_line(line));
    }
    return clause;
}

// ---- ladders, bundles, examples
// ------------------------------------------------------------------------------

LadderStep TreeBuilder::ladder_step(NodeId id) {
    LadderStep step;
    step.roles = parts_.names(id);
    step.within = parts_.quantity_in(id);
    step.place = parts_.place(id);
    const NodeId unless = parts_.part(id, Kind::if_not_acknowledged);
    if (unless != no_node) step.if_not_acknowledged_within = parts_.quantity_in(unless);
    return step;
}

EscalationItem TreeBuilder::escalation_item(NodeId id) {
    EscalationItem ladder;
    ladder.id = parts_.name_in(id);
    ladder.sentence = parts_.text_in(id);
    ladder.place = parts_.place(id);
    for (NodeId line = parts_.first(id); line != no_node; line = parts_.after(id, line)) {
        if (parts_.node(line).kind == Kind::ladder_hold) {
            const std::vector<NodeId> ends = parts_.parts(line, Kind::events);
            ladder.holds.push_back({parts_.events(ends[0]), parts_.events(ends[1]), parts_.place(line)});
        } else if (parts_.node(line).kind == Kind::ladder_step) {
            const bool is_first = parts_.words(line).front() == 'f';
            if (is_first != ladder.steps.empty() && !broken_) {
                parts_.say("syntax.line",
                           is_first
                               ? "only the first step of a ladder begins with `first`; later ones with `then`"
                               : "the first step of a ladder begins with `first`",
                           line);
            }
            ladder.steps.push_back(ladder_step(line));
            if (is_first && ladder.steps.back().if_not_acknowledged_within) {
                parts_.say("syntax.line", "the first step of a ladder waits for no acknowledgement",
                           parts_.part(line, Kind::if_not_acknowledged));
            }
        }
    }
    if (ladder.steps.empty()) {
        missing(id, "escalation `" + ladder.id.text + "` has no step: `first notify` is missing");
    }
    return ladder;
}

BundleItem TreeBuilder::bundle_item(NodeId id) {
    BundleItem bundle;
    std::vector<Name> names = parts_.names(id);
    if (!names.empty()) {
        bundle.id = std::move(names.front());
        bundle.of.assign(std::make_move_iterator(names.begin() + 1), std::make_move_iterator(names.end()));
    }
    bundle.title = parts_.text_in(id);
    bundle.place = parts_.place(id);
    if (bundle.of.empty())
        missing(id, "bundle `" + bundle.id.text + "` does not say which clauses it is `of`");
    std::optional<NodeId> said;
    for (const NodeId each : parts_.parts(id, Kind::bundle_each)) {
        once(said, each, "each");
        said = each;
        bundle.each_place = parts_.place(each);
        if (parts_.has(each, Kind::events)) {
            bundle.each = EachEvent{parts_.events_in(each)};
            continue;
        }
        const std::string word = parts_.words(parts_.first(each));
        if (word == "shift") bundle.each = EachShift{};
        if (word == "line") bundle.each = EachLine{};
    }
    if (!said)
        missing(id,
                "bundle `" + bundle.id.text + "` does not say how often it is counted: `each` is missing");
    return bundle;
}

Assignment TreeBuilder::assignment(NodeId id) {
    const NodeId what = parts_.first(id);
    Assignment assignment{parts_.name(what), {}, parts_.place(id)};
    const NodeId value = parts_.after(id, what);
    if (value == no_node) return assignment;
    if (parts_.node(value).kind == Kind::mark) {
        assignment.value.push_back({Reference{parts_.name(value)}, parts_.place(value)});
    } else {
        assignment.value.push_back(parts_.expression(value));
    }
    return assignment;
}

std::vector<Assignment> TreeBuilder::assignments(NodeId of) {
    std::vector<Assignment> assignments;
    for (const NodeId id : parts_.parts(of, Kind::assignment)) assignments.push_back(assignment(id));
    return assignments;
}

ExampleUntil TreeBuilder::moment(NodeId id) {
    const NodeId day = parts_.first(id);
    const std::string written = parts_.words(day);
    ExampleUntil moment;
    const bool whole =
        written.size() <= 5 &&
        written.find_first_not_of("0123456789", written[0] == '-' ? 1 : 0) == std::string::npos;
    if (whole) {
        moment.day = std::atoi(written.c_str());
    } else {
        parts_.say("syntax.date", "`" + written + "` is no day of an example: a whole number such as `3` is",
                   day);
    }
    moment.at = parts_.time_of_day(parts_.after(id, day));
    return moment;
}

ExampleEvent TreeBuilder::example_event(NodeId id) {
    ExampleEvent event;
    const ExampleUntil when = moment(parts_.part(id, Kind::moment));
    event.day = when.day;
    event.at = when.at;
    event.event = parts_.name_in(id);
    event.attributes = assignments(id);
    event.place = parts_.place(id);
    for (const NodeId steps : parts_.parts(id, Kind::steps)) {
        for (const NodeId one : parts_.parts(steps, Kind::example_step)) {
            ExampleStep step{parts_.name_in(one), {}, {}, {}};
            if (const NodeId at = parts_.part(one, Kind::step_at); at != no_node) {
                step.at = parts_.time_of_day(parts_.first(at));
            }
            if (const NodeId span = parts_.part(one, Kind::step_from_to); span != no_node) {
                const NodeId from = parts_.first(span);
                step.from = parts_.time_of_day(from);
                step.to = parts_.time_of_day(parts_.after(span, from));
            }
            event.steps.push_back(std::move(step));
        }
    }
    return event;
}

Expectation TreeBuilder::expectation(NodeId id) {
    Expectation expectation;
    expectation.id = parts_.name_in(id);
    expectation.outcome = parts_.name(parts_.part(id, Kind::outcome));
    expectation.place = parts_.place(id);
    if (const NodeId step = parts_.part(id, Kind::expectation_step); step != no_node) {
        expectation.step = parts_.number(parts_.first(step));
    }
    if (const NodeId times = parts_.part(id, Kind::times); times != no_node) {
        expectation.times = parts_.number(parts_.first(times));
    }
    return expectation;
}

ExampleItem TreeBuilder::example_item(NodeId id) {
    ExampleItem example;
    example.title = parts_.text_in(id);
    example.place = parts_.place(id);
    for (NodeId line = parts_.first(id); line != no_node; line = parts_.after(id, line)) {
        switch (parts_.node(line).kind) {
            case Kind::on_line:
                once(example.on, line, "on");
                example.on = parts_.date(parts_.first(line));
                break;
            case Kind::example_line:
                for (Assignment& one : assignments(line)) example.line.push_back(std::move(one));
                break;
            case Kind::example_patient:
                for (Assignment& one : assignments(line)) example.patient.push_back(std::move(one));
                break;
            case Kind::example_event:
                example.events.push_back(example_event(line));
                break;
            case Kind::observed_from:
                once(example.from, line, "observed from");
                example.from = moment(parts_.first(line));
                break;
            case Kind::observed_until:
                once(example.until, line, "until");
                example.until = moment(parts_.first(line));
                break;
            case Kind::expectation:
                example.expectations.push_back(expectation(line));
                break;
            default:
                break;
        }
    }
    return example;
}

}  // namespace

Tree build(std::string_view content, std::uint32_t text, const Scan& scan,
           std::vector<Diagnostic>& diagnostics) {
    return TreeBuilder(content, text, scan, diagnostics).build();
}

}  // namespace linelaw::grammar
