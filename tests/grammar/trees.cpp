#include "trees.hpp"

#include <array>
#include <random>
#include <string>
#include <utility>

namespace linelaw::grammar::testing {

namespace {

class Maker {
  public:
    explicit Maker(std::uint64_t seed) : random_(seed) {}

    Tree tree() {
        Tree tree;
        if (chance(2)) {
            tree.header = policy_header();
        } else {
            tree.header = VocabularyHeader{name(), some(&Maker::number), list(0, 2, &Maker::text), {}};
        }
        tree.items = list(1, 8, &Maker::item);
        return tree;
    }

  private:
    // ---- chance
    std::size_t below(std::size_t n) { return std::uniform_int_distribution<std::size_t>(0, n - 1)(random_); }
    bool chance(std::size_t one_in) { return below(one_in) == 0; }
    template <typename T>
    std::vector<T> list(std::size_t least, std::size_t most, T (Maker::*make)()) {
        std::vector<T> all;
        for (std::size_t n = least + below(most - least + 1); n > 0; --n) all.push_back((this->*make)());
        return all;
    }
    template <typename T>
    std::optional<T> some(T (Maker::*make)()) {
        if (chance(2)) return std::nullopt;
        return (this->*make)();
    }

    // ---- words and literals
    std::string word() {
        static constexpr std::array<const char*, 14> words = {
            "dressing", "flush", "kind",    "organ", "is_dry",  "notable", "a",
            "x9",       "stage", "line_no", "prior", "expects", "dayroom", "m_2"};
        return words[below(words.size())];
    }
    // Inside a line some names are words that begin others.
    Name name() { return {word(), {}}; }
    Name id() { return {chance(2) ? word() : word() + '.' + (chance(4) ? "reason" : word()), {}}; }
    Name dotted() { return {word() + '.' + word(), {}}; }
    Text text() {
        static constexpr std::array<const char*, 10> texts = {
            "",
            "Short.",
            "with \"marks\" in it",
            "a # that is no comment",
            "\\",
            "\\\"",
            "a backslash at its end \\",
            "for each line of it must be at least read",
            "Caf\xC3\xA9 \xE2\x80\x94 \xE5\x85\xA8\xE8\xA7\x92",
            "A long one, so that it is folded: the quick brown fox jumps over the lazy dog, and then the dog "
            "jumps over the fox."};
        return {texts[below(texts.size())], {}};
    }
    Number number() {
        static constexpr std::array<const char*, 5> numbers = {"0", "1", "7", "38.3", "120"};
        return {numbers[below(numbers.size())], {}};
    }
    QuantityTerm quantity_term() {
        static constexpr std::array<const char*, 14> units = {
            "s",  "min",  "h", "days", "calendar days", "weeks", "cm",
            "mL", "mL/h", "%", "degC", "units/mL",      "inch",  "year"};
        return {number(), {units[below(units.size())], {}}};
    }
    Quantity quantity() { return {list(1, 2, &Maker::quantity_term), {}}; }
    Date date() {
        return {static_cast<std::int32_t>(1900 + below(200)),
                static_cast<std::uint8_t>(1 + below(12)),
                static_cast<std::uint8_t>(1 + below(28)),
                {}};
    }
    TimeOfDay time() {
        return {static_cast<std::uint8_t>(below(24)), static_cast<std::uint8_t>(below(60)), {}};
    }

    // ---- events, expressions
    EventPattern event() {
        EventPattern event{name(), std::nullopt, {}};
        if (chance(3)) event.where = condition();
        return event;
    }
    Events events() { return list(1, 3, &Maker::event); }
    Window window() {
        Window window;
        if (chance(2)) window.in_the_last = quantity();
        if (!window.in_the_last || chance(3)) {
            window.since = events();
            window.since_last = chance(2);
        }
        return window;
    }
    Expression reference() { return {Reference{id()}, {}}; }
    Expression value() {
        const Depth deeper(depth_);
        switch (below(depth_ > 4 ? 8 : 17)) {
            case 0:
                return {quantity(), {}};
            case 1:
                return {number(), {}};
            case 2:
                return {text(), {}};
            case 3:
                return {date(), {}};
            case 4:
                return {time(), {}};
            case 5:
                return {Dwell{}, {}};
            case 6:
                return {StepTime{name(), name()}, {}};
            case 7:
                return {StepIn{name()}, {}};
            case 8:
                return {TimeSince{events()}, {}};
            case 9:
                return {CountOf{events(), window()}, {}};
            case 10:
                return {SumOf{name(), name(), window()}, {}};
            case 11:
                return {DifferenceOf{value(), value()}, {}};
            case 12: {
                Change change{static_cast<ChangeKind>(below(3)), id(), std::nullopt};
                if (chance(2)) change.since_last = events();
                return {std::move(change), {}};
            }
            case 13:
                return {Multiple{number(), value()}, {}};
            default:
                return reference();
        }
    }
    Expression condition() {
        const Depth deeper(depth_);
        switch (below(depth_ > 5 ? 4 : 11)) {
            case 0:
                return reference();
            case 1:
                return {Comparison{value(), static_cast<Comparator>(below(6)), {}, value()}, {}};
            case 2:
                return {Documented{id(), chance(2)}, {}};
            case 3:
                return {OneOf{value(), list(1, 3, &Maker::value), chance(2)}, {}};
            case 4:
                return {Between{value(), value(), value()}, {}};
            case 5:
                return {And{list(2, 3, &Maker::condition)}, {}};
            case 6:
                return {Or{list(2, 3, &Maker::condition)}, {}};
            case 7:
                return {Not{condition()}, {}};
            case 8:
            case 9:
                return {Occurred{events(), window(), chance(2)}, {}};
            default: {
                SomePart part{name(), std::nullopt, chance(2)};
                if (chance(2)) part.where = condition();
                return {std::move(part), {}};
            }
        }
    }

    // ---- vocabulary
    Type type() {
        Type type;
        type.kind = static_cast<TypeKind>(below(16));
        if (type.kind == TypeKind::one_of) type.values = list(1, 9, &Maker::name);
        const bool ranged = type.kind >= TypeKind::count && type.kind <= TypeKind::concentration;
        if (!ranged) return type;
        const auto end = [this]() -> Expression {
            if (chance(2)) return {number(), {}};
            return {quantity(), {}};
        };
        type.range = Range{end(), end(), {}};
        if (chance(2)) type.unit = quantity_term().unit;
        return type;
    }
    Attribute attribute() {
        Attribute attribute;
        attribute.name = {chance(8) ? "reason" : word(), {}};
        attribute.type = type();
        if (chance(4)) attribute.comparable_by = name();
        if (chance(4)) {
            attribute.complication_values = list(0, 3, &Maker::name);
            attribute.complication = attribute.complication_values.empty();
        }
        return attribute;
    }
    QuestionAxis axis() { return {id(), chance(3)}; }

    // ---- policy
    PolicyHeader policy_header() {
        PolicyHeader header;
        header.title = text();
        header.edition = some(&Maker::number);
        header.in_force_from = some(&Maker::date);
        if (header.in_force_from) header.in_force_until = some(&Maker::date);
        header.review_by = some(&Maker::date);
        header.owner = some(&Maker::text);
        if (chance(2)) header.governs = Governs{condition(), {}};
        if (chance(2)) header.time_zone = Name{"America/Halifax", {}};
        header.uses_vocabulary = some(&Maker::text);
        header.builds_on = some(&Maker::text);
        header.measured_against = list(0, 2, &Maker::text);
        if (chance(2)) header.undocumented = static_cast<UndocumentedCounts>(below(2));
        return header;
    }
    Cell cell() {
        switch (below(4)) {
            case 0:
                return {AnyCell{}, {}};
            case 1:
                return {RangeCell{{{quantity(), {}}, {number(), {}}, {}}}, {}};
            case 2:
                return {OneOfCell{list(1, 3, &Maker::value)}, {}};
            default:
                return {CompareCell{static_cast<Comparator>(below(6)), value()}, {}};
        }
    }

    // ---- demands and clauses
    Demand demand() {
        Demand demand;
        demand.should = chance(4);
        switch (below(12)) {
            case 0: {
                AtLeastEvery d{
                    events(), quantity(), chance(4), some(&Maker::quantity), {}, some(&Maker::quantity)};
                if (d.shortest && chance(2)) d.unless = condition();
                demand.node = std::move(d);
                break;
            }
            case 1: {
                NoMoreOftenThan d{events(), quantity(), {}};
                if (chance(2)) d.unless = condition();
                demand.node = std::move(d);
                break;
            }
            case 2:
                demand.node = EachPeriod{events(), some(&Maker::number), static_cast<Period>(below(2))};
                break;
            case 3:
                demand.node = Within{events(), quantity(), some(&Maker::quantity)};
                break;
            case 4:
                demand.node = Within{events(), static_cast<Until>(below(3)), some(&Maker::quantity)};
                break;
            case 5:
                demand.node = WithinEitherSide{events(), quantity()};
                break;
            case 6:
                demand.node = HaveHad{events(), some(&Maker::window)};
                break;
            case 7:
                demand.node = Document{list(1, 9, &Maker::id)};
                break;
            case 8:
                demand.node = FollowSteps{list(1, 9, &Maker::name), chance(2)};
                break;
            case 9:
                demand.node = Forbid{events()};
                break;
            case 10:
                demand.node = AtMostTimes{events(), number(), quantity()};
                break;
            default:
                demand.node = Holds{condition()};
        }
        return demand;
    }
    ClauseItem clause() {
        ClauseItem clause;
        clause.id = id();
        if (!chance(4)) clause.sentence = text();
        const auto add = [&clause](auto line) { clause.lines.push_back({std::move(line), {}}); };
        while (chance(2)) add(ForLine{condition()});
        if (chance(3)) add(ForEachLine{name(), some(&Maker::condition)});
        while (chance(3)) add(WhileLine{condition()});
        if (chance(8)) add(EvenAfterRemoval{});
        switch (below(5)) {
            case 0:
                add(AtLine{events()});
                break;
            case 1:
                add(AfterLine{events()});
                break;
            case 2:
                add(BeforeLine{events()});
                break;
            case 3:
                add(OnceLine{condition()});
                break;
            default:
                break;
        }
        if (chance(8)) {
            Demand judgement;
            judgement.node = LeavesToJudgement{name(), some(&Maker::text)};
            add(std::move(judgement));
        } else if (!chance(8)) {
            add(demand());
        }
        while (chance(3)) add(ExceptLine{condition(), some(&Maker::text)});
        if (chance(4)) add(OtherwiseEscalate{id()});
        if (chance(4)) add(ThenEscalate{id()});
        if (chance(4)) add(OverridesLine{list(1, 9, &Maker::id)});
        static constexpr std::array<const char*, 4> priorities = {"critical", "major", "minor", "advisory"};
        if (chance(2)) add(PriorityLine{{priorities[below(4)], {}}});
        while (chance(3)) add(SourceLine{id(), some(&Maker::text), some(&Maker::text)});
        if (chance(3)) add(ReasonLine{text()});
        if (chance(3)) add(AdviceLine{text()});
        while (chance(4)) add(DepartsLine{id(), text()});
        if (chance(4)) add(UndocumentedLine{static_cast<UndocumentedCounts>(below(2))});
        return clause;
    }

    // ---- ladders, examples
    LadderHold hold() { return {events(), events(), {}}; }
    EscalationItem escalation() {
        EscalationItem ladder{id(), text(), {}, list(0, 2, &Maker::hold), {}};
        ladder.steps.push_back({list(1, 3, &Maker::name), quantity(), std::nullopt, {}});
        while (chance(2))
            ladder.steps.push_back({list(1, 2, &Maker::name), quantity(), some(&Maker::quantity), {}});
        return ladder;
    }
    BundleItem bundle() {
        BundleItem bundle;
        bundle.id = id();
        bundle.title = text();
        bundle.of = list(1, 9, &Maker::id);
        if (chance(4))
            bundle.each = EachShift{};
        else if (chance(3))
            bundle.each = EachLine{};
        else if (chance(2))
            bundle.each = EachEvent{events()};
        return bundle;
    }
    Assignment assignment() {
        Assignment assignment{name(), {}, {}};
        if (chance(6)) return assignment;
        switch (below(4)) {
            case 0:
                assignment.value.push_back({quantity(), {}});
                break;
            case 1:
                assignment.value.push_back({text(), {}});
                break;
            case 2:
                assignment.value.push_back({Reference{{chance(2) ? "yes" : "no", {}}}, {}});
                break;
            default:
                assignment.value.push_back(reference());
        }
        return assignment;
    }
    ExampleStep step() {
        ExampleStep step{name(), {}, {}, {}};
        if (chance(3)) {
            step.at = time();
        } else if (chance(2)) {
            step.from = time();
            step.to = time();
        }
        return step;
    }
    ExampleEvent example_event() {
        return {static_cast<std::int32_t>(below(40)),
                time(),
                name(),
                list(0, 6, &Maker::assignment),
                chance(3) ? list(1, 6, &Maker::step) : std::vector<ExampleStep>{},
                {}};
    }
    ExampleUntil moment() { return {static_cast<std::int32_t>(below(40)), time()}; }
    Expectation expectation() {
        static constexpr std::array<const char*, 9> outcomes = {"met",           "late",    "missed",
                                                                "early",         "not met", "excused",
                                                                "no longer due", "pending", "not assessable"};
        return {id(), some(&Maker::number), {outcomes[below(9)], {}}, some(&Maker::number), {}};
    }
    ExampleItem example() {
        return {text(),
                some(&Maker::date),
                list(0, 6, &Maker::assignment),
                list(0, 3, &Maker::assignment),
                list(0, 4, &Maker::example_event),
                some(&Maker::moment),
                some(&Maker::moment),
                list(0, 3, &Maker::expectation),
                {}};
    }

    // ---- items
    TermItem term() { return {name(), condition(), {}}; }
    TableItem table() {
        TableItem table{name(), chance(3), list(1, 3, &Maker::id), list(1, 2, &Maker::name), {}, {}};
        do {
            TableRow row;
            for (std::size_t i = 0; i < table.given.size(); ++i) row.given.push_back(cell());
            for (std::size_t i = 0; i < table.gives.size(); ++i) row.gives.push_back(value());
            table.rows.push_back(std::move(row));
        } while (chance(2));
        return table;
    }
    QuestionItem question() {
        QuestionItem question{name(), text(), HowOften{}, list(0, 6, &Maker::axis), some(&Maker::condition),
                              {}};
        switch (below(4)) {
            case 0:
                question.about = HowOften{events()};
                break;
            case 1:
                question.about = AttributeAt{id(), name()};
                break;
            case 2:
                question.about = ResponseTo{events(), chance(2) ? events() : Events{}};
                break;
            default:
                question.about = EscalationOf{id()};
        }
        return question;
    }
    PartItem part() {
        PartItem part;
        part.name = name();
        part.title = text();
        if (chance(3)) part.of = name();
        if (chance(2)) {
            part.count = id();
        } else {
            part.from = events();
            part.until = events();
        }
        part.attributes = list(0, 3, &Maker::attribute);
        return part;
    }
    StateItem state() {
        StateItem state;
        state.name = name();
        if (chance(2)) {
            state.sources = list(1, 4, &Maker::dotted);
            if (chance(2)) state.initially = id();
        } else {
            state.from = events();
            state.until = events();
        }
        return state;
    }
    Item item() {
        switch (below(21)) {
            case 0:
                return {PatientBlock{list(1, 5, &Maker::attribute), {}}, {}};
            case 1:
                return {LineBlock{list(1, 5, &Maker::attribute), {}}, {}};
            case 2:
                return {part(), {}};
            case 3:
                return {EventItem{name(),
                                  text(),
                                  chance(2) ? std::optional(name()) : std::nullopt,
                                  chance(4),
                                  chance(4),
                                  list(0, 5, &Maker::attribute),
                                  list(0, 12, &Maker::name),
                                  {}},
                        {}};
            case 4:
                return {state(), {}};
            case 5:
                return {RoleItem{list(1, 9, &Maker::name), {}}, {}};
            case 6:
                return {NeverItem{condition(), some(&Maker::text), {}}, {}};
            case 7:
                return {question(), {}};
            case 8:
                return {SourceItem{id(), text(), text(), some(&Maker::number), {}}, {}};
            case 9:
                return {ShiftItem{name(), time(), time(), {}}, {}};
            case 10:
                return {term(), {}};
            case 11:
                return {table(), {}};
            case 12:
                return {escalation(), {}};
            case 13:
                return {bundle(), {}};
            case 14:
                return {SetAsideQuestion{name(), some(&Maker::condition), text(), {}}, {}};
            case 15:
                return {AcceptItem{id(), list(0, 3, &Maker::id), text(), {}}, {}};
            case 16:
                return {DropClause{id(), text(), {}}, {}};
            case 17:
                return {example(), {}};
            case 18:
                switch (below(5)) {
                    case 0:
                        return {ReplaceItem{Item{term(), {}}}, {}};
                    case 1:
                        return {ReplaceItem{Item{table(), {}}}, {}};
                    case 2:
                        return {ReplaceItem{Item{escalation(), {}}}, {}};
                    case 3:
                        return {ReplaceItem{Item{question(), {}}}, {}};
                    default:
                        return {ReplaceItem{Item{clause(), {}}}, {}};
                }
            default:
                return {clause(), {}};
        }
    }

    struct Depth {
        explicit Depth(std::size_t& depth) : depth_(depth) { ++depth_; }
        ~Depth() { --depth_; }
        Depth(const Depth&) = delete;
        Depth& operator=(const Depth&) = delete;
        std::size_t& depth_;
    };

    std::mt19937_64 random_;
    std::size_t depth_ = 0;
};

}  // namespace

Tree random_tree(std::uint64_t seed) {
    return Maker(seed).tree();
}

}  // namespace linelaw::grammar::testing
