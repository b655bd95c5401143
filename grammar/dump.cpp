// The tree as one S-expression, without places: for tests, and to tell whether two trees are the same.
#include <string>
#include <string_view>

#include "grammar/parse.hpp"
#include "grammar/words.hpp"

namespace linelaw::grammar {

namespace {

class Dumper {
  public:
    std::string out;

    template <typename... Parts>
    void list(std::string_view head, const Parts&... parts) {
        begin(head);
        (put(parts), ...);
        end();
    }

    void begin(std::string_view head) {
        blank();
        out += '(';
        out += head;
    }
    void end() { out += ')'; }
    void word(std::string_view text) {
        blank();
        out += text;
    }

    void put(std::string_view text) { word(text); }
    void put(const char* text) { word(text); }
    void put(const Name& name) { word(name.text); }
    void put(const Number& number) { word(number.text); }
    void put(const Text& text) {
        std::string quoted = "\"";
        for (const char c : text.text) {
            if (c == '"') quoted += '\\';
            quoted += c;
        }
        word(quoted + '"');
    }
    void put(const Quantity& quantity) {
        for (const QuantityTerm& term : quantity.terms) {
            word(term.number.text);
            word(canonical_unit(term.number.text, term.unit.text));
        }
    }
    void put(const Date& date) {
        word(padded(date.year, 4) + '-' + padded(date.month, 2) + '-' + padded(date.day, 2));
    }
    void put(const TimeOfDay& time) { word(padded(time.hour, 2) + ':' + padded(time.minute, 2)); }
    void put(const Range& range) { list("range", range.low, range.high); }

    template <typename T>
    void put(const std::vector<T>& all) {
        for (const T& one : all) put(one);
    }
    template <typename T>
    void put(const Box<T>& box) {
        put(*box);
    }
    template <typename T>
    void put(const std::optional<T>& some) {
        if (some) put(*some);
    }
    template <typename T>
    void under(std::string_view head, const T& part) {
        list(head, part);
    }
    template <typename T>
    void under(std::string_view head, const std::optional<T>& part) {
        if (part) list(head, *part);
    }
    template <typename T>
    void under(std::string_view head, const std::vector<T>& parts) {
        if (!parts.empty()) list(head, parts);
    }
    void flag(std::string_view name, bool set) {
        if (set) word(name);
    }

    // ---- events, expressions
    void put(const EventPattern& event) {
        if (!event.where) return put(event.event);
        list("where", event.event, *event.where);
    }
    void put(const Window& window) {
        under("in-the-last", window.in_the_last);
        if (window.since) list(window.since_last ? "since-last" : "since", *window.since);
    }
    void put(const Expression& expression) {
        std::visit([this](const auto& node) { put(node); }, expression.node);
    }
    static std::string_view sign(Comparator comparator) {
        switch (comparator) {
            case Comparator::at_least:
                return ">=";
            case Comparator::at_most:
                return "<=";
            case Comparator::more_than:
                return ">";
            case Comparator::less_than:
                return "<";
            case Comparator::is_not:
                return "!=";
            case Comparator::is:
                break;
        }
        return "=";
    }
    void put(const Reference& node) { put(node.name); }
    void put(const And& node) { list("and", node.operands); }
    void put(const Or& node) { list("or", node.operands); }
    void put(const Not& node) { list("not", node.operand); }
    void put(const Comparison& node) { list(sign(node.comparator), node.left, node.right); }
    void put(const OneOf& node) { list(node.negated ? "not-one-of" : "one-of", node.left, node.values); }
    void put(const Between& node) { list("between", node.left, node.low, node.high); }
    void put(const Documented& node) { list(node.negated ? "undocumented" : "documented", node.attribute); }
    void put(const Occurred& node) { list(node.negated ? "no" : "any", node.events, node.window); }
    void put(const SomePart& node) {
        begin(node.negated ? "no-part" : "any-part");
        put(node.part);
        put(node.where);
        end();
    }
    void put(const Dwell&) { word("dwell"); }
    void put(const TimeSince& node) { list("time-since", node.events); }
    void put(const CountOf& node) { list("count-of", node.events, node.window); }
    void put(const SumOf& node) { list("sum-of", node.event, node.attribute, node.window); }
    void put(const DifferenceOf& node) { list("difference", node.left, node.right); }
    void put(const Change& node) {
        begin(node.kind == ChangeKind::change ? "change" : node.kind == ChangeKind::rise ? "rise" : "fall");
        put(node.attribute);
        under("since-last", node.since_last);
        end();
    }
    void put(const StepTime& node) { list("step-time", node.from, node.to); }
    void put(const StepIn& node) { list("step-in", node.step); }
    void put(const Multiple& node) { list("times", node.factor, node.operand); }

    // ---- vocabulary
    void put(const Attribute& attribute) {
        static constexpr std::string_view kinds[] = {
            "flag",   "one-of", "count", "number",      "percent",       "age",  "length", "duration",
            "volume", "rate",   "mass",  "temperature", "concentration", "time", "text",   "key"};
        begin("attribute");
        put(attribute.name);
        word(kinds[static_cast<std::size_t>(attribute.type.kind)]);
        put(attribute.type.values);
        put(attribute.type.range);
        under("in", attribute.type.unit);
        under("comparable-by", attribute.comparable_by);
        flag("complication", attribute.complication);
        under("complication", attribute.complication_values);
        end();
    }
    void put(const PatientBlock& item) { list("patient", item.attributes); }
    void put(const LineBlock& item) { list("line", item.attributes); }
    void put(const PartItem& item) {
        begin("part");
        put(item.name);
        put(item.title);
        under("of", item.of);
        under("count", item.count);
        under("from", item.from);
        under("until", item.until);
        put(item.attributes);
        end();
    }
    void put(const EventItem& item) {
        begin("event");
        put(item.name);
        put(item.title);
        under("of", item.of);
        flag("also-after-removal", item.also_after_removal);
        flag("complication", item.complication);
        put(item.attributes);
        under("steps", item.steps);
        end();
    }
    void put(const StateItem& item) {
        begin("state");
        put(item.name);
        under("sources", item.sources);
        under("from", item.from);
        under("until", item.until);
        under("initially", item.initially);
        end();
    }
    void put(const RoleItem& item) { list("role", item.names); }
    void put(const NeverItem& item) {
        begin("never");
        put(item.condition);
        under("because", item.because);
        end();
    }
    void put(const HowOften& about) { list("how-often", about.events); }
    void put(const AttributeAt& about) { list("at", about.attribute, about.event); }
    void put(const ResponseTo& about) {
        begin("response-to");
        put(about.events);
        under("by", about.by);
        end();
    }
    void put(const EscalationOf& about) { list("escalation", about.escalation); }
    void put(const QuestionAxis& axis) {
        if (!axis.or_unset) return put(axis.name);
        list("or-unset", axis.name);
    }
    void put(const QuestionItem& item) {
        begin("question");
        put(item.name);
        put(item.title);
        std::visit([this](const auto& about) { put(about); }, item.about);
        under("every", item.every);
        under("for", item.for_condition);
        end();
    }

    // ---- policy
    void put(const SourceItem& item) {
        begin("source");
        put(item.name);
        put(item.title);
        under("by", item.by);
        under("year", item.year);
        end();
    }
    void put(const ShiftItem& item) { list("shift", item.name, item.from, item.to); }
    void put(const TermItem& item) { list("term", item.name, item.condition); }
    void put(const AnyCell&) { word("any"); }
    void put(const CompareCell& cell) { list(sign(cell.comparator), cell.value); }
    void put(const RangeCell& cell) { put(cell.range); }
    void put(const OneOfCell& cell) { list("one-of", cell.values); }
    void put(const Cell& cell) {
        std::visit([this](const auto& node) { put(node); }, cell.node);
    }
    void put(const TableRow& row) {
        begin("row");
        put(row.given);
        list("gives", row.gives);
        end();
    }
    void put(const TableItem& item) {
        begin("table");
        put(item.name);
        flag("first-row-wins", item.first_row_wins);
        under("given", item.given);
        under("gives", item.gives);
        put(item.rows);
        end();
    }

    // ---- demands
    void put(const AtLeastEvery& demand) {
        begin("at-least-every");
        put(demand.events);
        put(demand.every);
        flag("counted-anew", demand.counted_anew);
        under("shortest", demand.shortest);
        under("unless", demand.unless);
        under("grace", demand.grace);
        end();
    }
    void put(const NoMoreOftenThan& demand) {
        begin("no-more-often");
        put(demand.events);
        put(demand.shortest);
        under("unless", demand.unless);
        end();
    }
    void put(const EachPeriod& demand) {
        begin(demand.period == Period::shift ? "each-shift" : "each-calendar-day");
        put(demand.events);
        under("times", demand.times);
        end();
    }
    void put(const Until& until) {
        word(until == Until::same_shift   ? "same-shift"
             : until == Until::next_shift ? "next-shift"
                                          : "same-calendar-day");
    }
    void put(const Within& demand) {
        begin("within");
        put(demand.events);
        std::visit([this](const auto& within) { put(within); }, demand.within);
        under("grace", demand.grace);
        end();
    }
    void put(const WithinEitherSide& demand) { list("either-side", demand.events, demand.within); }
    void put(const HaveHad& demand) { list("have-had", demand.events, demand.window); }
    void put(const Holds& demand) { list("holds", demand.condition); }
    void put(const Document& demand) { list("document", demand.attributes); }
    void put(const FollowSteps& demand) { list(demand.in_order ? "steps-in-order" : "steps", demand.steps); }
    void put(const Forbid& demand) { list("forbid", demand.events); }
    void put(const AtMostTimes& demand) { list("at-most", demand.events, demand.times, demand.in); }
    void put(const LeavesToJudgement& demand) {
        begin("leaves");
        put(demand.question);
        under("because", demand.because);
        end();
    }

    // ---- clauses
    void put(const ForLine& line) { list("for", line.condition); }
    void put(const ForEachLine& line) { list("for-each", line.part, line.where); }
    void put(const WhileLine& line) { list("while", line.condition); }
    void put(const EvenAfterRemoval&) { word("(even-after-removal)"); }
    void put(const AtLine& line) { list("at", line.events); }
    void put(const AfterLine& line) { list("after", line.events); }
    void put(const BeforeLine& line) { list("before", line.events); }
    void put(const OnceLine& line) { list("once", line.condition); }
    void put(const Demand& demand) {
        if (std::holds_alternative<LeavesToJudgement>(demand.node))
            return put(std::get<LeavesToJudgement>(demand.node));
        begin(demand.should ? "should" : "must");
        std::visit([this](const auto& node) { put(node); }, demand.node);
        end();
    }
    void put(const ExceptLine& line) {
        begin("except");
        put(line.condition);
        under("because", line.because);
        end();
    }
    void put(const OtherwiseEscalate& line) { list("otherwise", line.escalation); }
    void put(const ThenEscalate& line) { list("then", line.escalation); }
    void put(const OverridesLine& line) { list("overrides", line.clauses); }
    void put(const PriorityLine& line) { list("priority", line.priority); }
    void put(const SourceLine& line) {
        begin("source");
        put(line.source);
        put(line.where);
        under("category", line.category);
        end();
    }
    void put(const ReasonLine& line) { list("reason", line.text); }
    void put(const AdviceLine& line) { list("advice", line.text); }
    void put(const DepartsLine& line) { list("departs", line.source, line.because); }
    static std::string_view counts(UndocumentedCounts counts) {
        return counts == UndocumentedCounts::not_met ? "not-met" : "not-assessable";
    }
    void put(const UndocumentedLine& line) { list("undocumented", counts(line.counts)); }
    void put(const ClauseItem& item) {
        begin("clause");
        put(item.id);
        put(item.sentence);
        for (const ClauseLine& line : item.lines) {
            std::visit([this](const auto& node) { put(node); }, line.node);
        }
        end();
    }

    // ---- ladders, bundles, layers
    void put(const LadderStep& step) {
        begin("step");
        put(step.roles);
        put(step.within);
        under("unacknowledged", step.if_not_acknowledged_within);
        end();
    }
    void put(const LadderHold& hold) {
        begin("hold");
        put(hold.events);
        list("until", hold.until);
        end();
    }
    void put(const EscalationItem& item) {
        list("escalation", item.id, item.sentence, item.steps, item.holds);
    }
    void put(const EachCalendarDay&) { word("each-calendar-day"); }
    void put(const EachShift&) { word("each-shift"); }
    void put(const EachLine&) { word("each-line"); }
    void put(const EachEvent& each) { list("each", each.events); }
    void put(const BundleItem& item) {
        begin("bundle");
        put(item.id);
        put(item.title);
        under("of", item.of);
        std::visit([this](const auto& each) { put(each); }, item.each);
        end();
    }
    void put(const SetAsideQuestion& item) {
        begin("set-aside");
        put(item.question);
        under("for", item.for_condition);
        put(item.because);
        end();
    }
    void put(const AcceptItem& item) { list("accept", item.code, item.ids, item.because); }
    void put(const DropClause& item) { list("drop", item.id, item.because); }
    void put(const ReplaceItem& item) { list("replace", item.with); }

    // ---- examples
    void put(const Assignment& assignment) { list("=", assignment.attribute, assignment.value); }
    void put(const ExampleStep& step) {
        if (!step.at && !step.from) return put(step.step);
        begin("step");
        put(step.step);
        under("at", step.at);
        under("from", step.from);
        under("to", step.to);
        end();
    }
    void put(const ExampleUntil& moment) {
        word(std::to_string(moment.day));
        put(moment.at);
    }
    void put(const ExampleEvent& event) {
        begin("day");
        word(std::to_string(event.day));
        put(event.at);
        put(event.event);
        put(event.attributes);
        under("steps", event.steps);
        end();
    }
    void put(const Expectation& expectation) {
        begin("expect");
        put(expectation.id);
        under("step", expectation.step);
        put(expectation.outcome);
        under("times", expectation.times);
        end();
    }
    void put(const ExampleItem& item) {
        begin("example");
        put(item.title);
        under("on", item.on);
        under("line", item.line);
        under("patient", item.patient);
        put(item.events);
        under("from", item.from);
        under("until", item.until);
        put(item.expectations);
        end();
    }
    void put(const Item& item) {
        std::visit([this](const auto& node) { put(node); }, item.node);
    }

    // ---- headers
    void put(std::monostate) {}
    void put(const VocabularyHeader& header) {
        begin("vocabulary");
        put(header.name);
        under("edition", header.edition);
        for (const Text& text : header.extends) list("extends", text);
        end();
    }
    void put(const PolicyHeader& header) {
        begin("policy");
        put(header.title);
        under("edition", header.edition);
        under("from", header.in_force_from);
        under("until", header.in_force_until);
        under("review", header.review_by);
        under("owner", header.owner);
        if (header.governs) list("governs", header.governs->condition);
        under("zone", header.time_zone);
        under("uses", header.uses_vocabulary);
        under("builds-on", header.builds_on);
        for (const Text& text : header.measured_against) list("measured-against", text);
        if (header.undocumented) list("undocumented", counts(*header.undocumented));
        end();
    }

  private:
    void blank() {
        if (!out.empty() && out.back() != '(') out += ' ';
    }
    static std::string padded(int number, std::size_t width) {
        std::string digits = std::to_string(number);
        return digits.size() < width ? std::string(width - digits.size(), '0') + digits : digits;
    }
};

}  // namespace

std::string dump(const Tree& tree) {
    Dumper dumper;
    std::visit([&dumper](const auto& header) { dumper.put(header); }, tree.header);
    dumper.put(tree.items);
    return std::move(dumper.out);
}

}  // namespace linelaw::grammar
