#include "runtime/findings_words.hpp"

#include <fmt/compile.h>
#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "runtime/ascii.hpp"
#include "runtime/overloaded.hpp"

namespace linelaw::runtime {
namespace {

constexpr std::array<std::string_view, 12> months = {"January",   "February", "March",    "April",
                                                     "May",       "June",     "July",     "August",
                                                     "September", "October",  "November", "December"};

void append_counted(std::string& out, std::int64_t count, std::string_view one, std::string_view many) {
    if (count == 0) return;
    if (!out.empty()) out += ' ';
    out += fmt::format(FMT_COMPILE("{} {}"), count, count == 1 ? one : many);
}

void append_date(std::string& out, CivilDate date) {
    const auto append = [&out](auto number) {
        const fmt::format_int digits(number);
        out.append(digits.data(), digits.size());
    };
    append(unsigned{date.day});
    out.append(" ").append(months[date.month - 1U]).append(" ");
    append(date.year);
}

std::string_view comparator_words(Comparator comparator) {
    switch (comparator) {
        case Comparator::at_least:
            return "at least";
        case Comparator::at_most:
            return "at most";
        case Comparator::more_than:
            return "more than";
        case Comparator::less_than:
            return "less than";
        case Comparator::is:
            return "is";
        case Comparator::is_not:
            return "is not";
    }
    return "is";
}

std::string_view opposite_words(Comparator comparator, bool may_be_unset) {
    switch (comparator) {
        case Comparator::at_least:
            return may_be_unset ? "not at least" : "less than";
        case Comparator::at_most:
            return may_be_unset ? "not at most" : "more than";
        case Comparator::more_than:
            return may_be_unset ? "not more than" : "at most";
        case Comparator::less_than:
            return may_be_unset ? "not less than" : "at least";
        case Comparator::is:
            return "is not";
        case Comparator::is_not:
            return "is";
    }
    return "is not";
}

// A condition that is a value by itself.
bool is_flag(const Expression& node) {
    return std::holds_alternative<EventAttribute>(node) || std::holds_alternative<PartAttribute>(node) ||
           std::holds_alternative<LineAttribute>(node) || std::holds_alternative<PatientAttribute>(node) ||
           std::holds_alternative<StateValue>(node) || std::holds_alternative<TableValue>(node);
}

std::string bracketed(const std::string& text, int depth) {
    return depth > 0 ? "(" + text + ")" : text;
}

// An exact decimal of value / divisor with up to six places and no trailing zeros.
std::string decimal(std::int64_t value, std::int64_t divisor) {
    constexpr int places = 6;
    __extension__ using Wide = __int128;
    Wide scaled = static_cast<Wide>(value) * 1'000'000;
    if (scaled < 0) scaled = -scaled;
    scaled = (scaled + divisor / 2) / divisor;
    const bool negative = value < 0 && scaled != 0;
    const auto whole = static_cast<std::int64_t>(scaled / 1'000'000);
    std::string fraction =
        fmt::format(FMT_COMPILE("{:0{}}"), static_cast<std::int64_t>(scaled % 1'000'000), places);
    fraction.erase(fraction.find_last_not_of('0') + 1);
    return fmt::format(FMT_COMPILE("{}{}{}{}"), negative ? "-" : "", whole, fraction.empty() ? "" : ".",
                       fraction);
}

std::string join(const std::vector<std::string>& parts, std::string_view between, std::string_view last) {
    std::string out;
    for (std::size_t i = 0; i < parts.size(); ++i) {
        if (i > 0) out += i + 1 == parts.size() ? last : between;
        out += parts[i];
    }
    return out;
}

std::string age(const AgeConstant& constant) {
    constexpr std::array<std::string_view, 4> units = {"day", "week", "month", "year"};
    const std::string_view unit = units[static_cast<std::size_t>(constant.unit)];
    return fmt::format(FMT_COMPILE("{} {}{}"), constant.count, unit, constant.count == 1 ? "" : "s");
}

std::string event_words(const EventKind& kind) {
    std::string title = kind.title.empty() ? Words::name(kind.name) : kind.title;
    const auto is_upper = [&](std::size_t i) { return i < title.size() && ascii::is_upper(title[i]); };
    if (is_upper(0) && !is_upper(1)) title[0] = ascii::lower(title[0]);
    return title;
}

}  // namespace

Words::Words(const Policy& policy) : policy_(&policy), zone_(Zone::of(policy.time_zone)) {
    for (const EventKind& kind : policy.event_kinds) events_.push_back(event_words(kind));
}

std::string Words::name(std::string_view identifier) {
    std::string out(identifier);
    std::replace(out.begin(), out.end(), '_', ' ');
    return out;
}

std::string Words::date(CivilDate date) {
    std::string out;
    append_date(out, date);
    return out;
}

std::string Words::lasted(std::int64_t microseconds) {
    std::string out;
    if (microseconds < microseconds_per_minute) {
        return microseconds < microseconds_per_second
                   ? "less than 1 s"
                   : fmt::format(FMT_COMPILE("{} s"), microseconds / microseconds_per_second);
    }
    const std::int64_t days = microseconds / microseconds_per_day;
    if (days >= 2) {
        append_counted(out, days, "day", "days");
        append_counted(out, microseconds % microseconds_per_day / microseconds_per_hour, "h", "h");
        return out;
    }
    append_counted(out, microseconds / microseconds_per_hour, "h", "h");
    append_counted(out, microseconds % microseconds_per_hour / microseconds_per_minute, "min", "min");
    return out;
}

std::string Words::span(const Span& span) {
    std::string out;
    append_counted(out, span.months / 12, "year", "years");
    append_counted(out, span.months % 12, "month", "months");
    append_counted(out, span.days, span.calendar ? "calendar day" : "day",
                   span.calendar ? "calendar days" : "days");
    append_counted(out, span.elapsed / microseconds_per_hour, "h", "h");
    append_counted(out, span.elapsed / microseconds_per_minute % 60, "min", "min");
    append_counted(out, span.elapsed / microseconds_per_second % 60, "s", "s");
    return out.empty() ? "0 s" : out;
}

std::string Words::a(const std::string& noun) {
    const bool vowel = !noun.empty() && std::string_view("aeiou").find(noun[0]) != std::string_view::npos;
    return (vowel ? "an " : "a ") + noun;
}

std::string Words::sentence_case(std::string text) {
    if (!text.empty()) text[0] = ascii::upper(text[0]);
    return text;
}

std::string Words::when(Instant t) const {
    std::string out = date(zone_.date_of(t));
    out += ' ';
    out += time_of_day(t);
    return out;
}

std::string Words::when_beside(Instant t, Instant other) const {
    return zone_.date_of(t) == zone_.date_of(other) ? time_of_day(t) : when(t);
}

std::string Words::on(Instant t) const {
    std::string out = "on ";
    append_date(out, zone_.date_of(t));
    out += " at ";
    out += time_of_day(t);
    return out;
}

std::string Words::at(Instant t, Instant other) const {
    return zone_.date_of(t) == zone_.date_of(other) ? "at " + time_of_day(t) : on(t);
}

std::string Words::time_of_day(Instant t) const {
    return write_time_of_day(zone_.time_of_day(t));
}

std::string Words::end(Instant limit, bool calendar) const {
    if (!calendar) return when(limit);
    return "the end of " + date(zone_.date_of(limit - 1));  // the limit is the midnight after it
}

const std::string& Words::event(EventKindId kind) const {
    return events_[kind];
}

std::string Words::events(const Events& events) const {
    std::vector<std::string> parts;
    for (const Pattern& pattern : events) {
        std::string text = event(pattern.event);
        if (pattern.where != none) text += " (where " + condition(pattern.where) + ")";
        parts.push_back(std::move(text));
    }
    return join(parts, ", ", " or ");
}

std::string Words::part(PartKindId kind, std::uint32_t part, const Episode& episode) const {
    const PartKind& k = policy_->part_kinds[kind];
    std::string out = name(k.name);
    if (k.count_slot != none) return out + " " + std::to_string(part);
    if (part < episode.texts.size()) out.append(" ").append(episode.texts[part]);  // else it bears no name
    return out;
}

std::string Words::number(const Type& type, std::int64_t grains) {
    switch (type.kind) {
        case TypeKind::count:
            return decimal(grains, 1);
        case TypeKind::number:
        case TypeKind::percent:
            return decimal(grains, 1'000'000);
        default:
            break;
    }
    const Unit* unit = find_unit(type.unit);
    return unit == nullptr ? decimal(grains, 1)
                           : decimal(grains - unit->offset_in_grains, unit->grains_per_unit);
}

std::string Words::quantity(const Type& type, std::int64_t value) const {
    switch (type.kind) {
        case TypeKind::flag:
            return value != 0 ? "yes" : "no";
        case TypeKind::one_of:
            return name(policy_->symbols[static_cast<std::size_t>(value)]);
        case TypeKind::time_of_day:
            return write_time_of_day(value);
        case TypeKind::count:
        case TypeKind::number:
            return number(type, value);
        case TypeKind::percent:
            return number(type, value) + " %";
        default:
            break;
    }
    // Minutes and hours are read as such, not as thousands of seconds.
    if (type.kind == TypeKind::duration && (type.unit.empty() || value >= 2 * microseconds_per_minute)) {
        return span(Span{0, 0, false, value});
    }
    return number(type, value) + (type.unit.empty() ? "" : " " + type.unit);
}

const Attribute* Words::attribute_of_field(FieldId field) const {
    for (const EventKind& kind : policy_->event_kinds) {
        if (field < kind.slot_of_field.size() && kind.slot_of_field[field] != none) {
            return &kind.attributes[kind.slot_of_field[field]];
        }
    }
    return nullptr;
}

const Type* Words::type_of(ExpressionId id) const {
    static const Type duration{TypeKind::duration, {}, 0, 0, {}, {}, ""};
    static const Type count{TypeKind::count, {}, 0, 0, {}, {}, ""};
    const auto of_field = [&](FieldId field) -> const Type* {
        if (field == policy_->charting_delay) return &duration;
        const Attribute* attribute = attribute_of_field(field);
        return attribute == nullptr ? nullptr : &attribute->type;
    };
    return std::visit(
        overloaded{
            [&](const EventAttribute& e) { return of_field(e.field); },
            [&](const PartAttribute& e) -> const Type* {
                return &policy_->part_kinds[e.part].attributes[e.slot].type;
            },
            [&](const LineAttribute& e) -> const Type* { return &policy_->line[e.slot].type; },
            [&](const PatientAttribute& e) -> const Type* { return &policy_->patient[e.slot].type; },
            [&](const StateValue& e) -> const Type* { return &policy_->states[e.state].type; },
            [&](const SumOf& e) { return of_field(e.field); },
            [&](const Change& e) { return of_field(e.field); },
            [&](const DifferenceOf& e) { return type_of(e.left); },
            [&](const Multiple& e) { return type_of(e.operand); },
            [&](const StepTime&) -> const Type* { return &duration; },
            [&](const StepIn&) -> const Type* { return &duration; },
            [&](const Dwell&) -> const Type* { return &duration; },
            [&](const TimeSince&) -> const Type* { return &duration; },
            [&](const CountOf&) -> const Type* { return &count; },
            [&](const auto&) -> const Type* { return nullptr; },
        },
        policy_->expressions[id]);
}

const std::string& Words::condition(ExpressionId id) const {
    static const std::string always = "always";
    if (id == none) return always;
    if (conditions_.empty()) conditions_.resize(policy_->expressions.size());
    std::string& kept = conditions_[id];
    if (kept.empty()) kept = joined({id}, "", -1);
    return kept;
}

std::string Words::joined(const std::vector<ExpressionId>& operands, std::string_view word, int depth) const {
    std::vector<std::string> parts;
    for (const ExpressionId operand : operands) {
        parts.push_back(expression(operand, nullptr, depth + 1));
        if (is_flag(policy_->expressions[operand])) parts.back() += " is yes";
    }
    return join(parts, word, word);
}

std::string Words::window(const Window& window) const {
    std::string text;
    if (window.in_last) text += " in the last " + span(*window.in_last);
    if (!window.since.empty()) text += " since the last " + events(window.since);
    return text;
}

std::string Words::list(const OneOf& e, std::string_view last) const {
    std::vector<std::string> values;
    for (const ExpressionId value : e.values) values.push_back(expression(value, type_of(e.operand), 1));
    return join(values, ", ", last);
}

// A negation stays with the one thing that it denies, or names the several that it covers: "not A and B" is
// read in two ways.
std::string Words::negated(ExpressionId id, int depth) const {
    const auto sub = [&](ExpressionId inner, const Type* type = nullptr) {
        return expression(inner, type, depth + 1);
    };
    const auto is_state = [&](ExpressionId inner) {
        return std::holds_alternative<StateValue>(policy_->expressions[inner]);
    };
    const Expression& node = policy_->expressions[id];
    if (const auto* e = std::get_if<Not>(&node)) return expression(e->operand, nullptr, depth);
    if (const auto* e = std::get_if<Compare>(&node)) {
        // With an unset state no order holds, so that "more than" would say more than "not at most".
        const bool may_be_unset = is_state(e->left) || is_state(e->right);
        return fmt::format("{} {} {}", sub(e->left, type_of(e->right)),
                           opposite_words(e->comparator, may_be_unset), sub(e->right, type_of(e->left)));
    }
    if (const auto* e = std::get_if<OneOf>(&node))
        return sub(e->operand) + (e->values.size() == 1 ? " is not " : " is none of ") + list(*e, " and ");
    if (const auto* e = std::get_if<Documented>(&node)) return sub(e->attribute) + " is not documented";
    if (const auto* e = std::get_if<Occurred>(&node))
        return (e->negated ? "" : "no ") + events(e->events) + window(e->window);
    if (const auto* e = std::get_if<SomePart>(&node))
        return "no " + name(policy_->part_kinds[e->part].name) +
               (e->where == none ? "" : " where " + sub(e->where));
    if (const auto* e = std::get_if<Always>(&node)) return e->value ? "never" : "always";
    if (const auto* e = std::get_if<And>(&node))
        return bracketed((e->operands.size() == 2 ? "not both: " : "not all of these: ") +
                             joined(e->operands, ", and ", depth),
                         depth);
    if (const auto* e = std::get_if<Or>(&node))
        return bracketed(
            "neither " + joined(e->operands, e->operands.size() == 2 ? " nor " : ", nor ", depth), depth);
    // A flag. One that is unset is not yes, and not no either.
    return expression(id, nullptr, depth) + (is_state(id) ? " is not yes" : " is no");
}

std::string Words::expression(ExpressionId id, const Type* beside, int depth) const {
    const auto sub = [&](ExpressionId inner, const Type* type = nullptr) {
        return expression(inner, type, depth + 1);
    };
    return std::visit(
        overloaded{
            [&](const Constant& e) {
                return beside == nullptr ? std::to_string(e.value) : quantity(*beside, e.value);
            },
            [&](const TextConstant& e) { return e.text; },
            [&](const SpanConstant& e) { return span(e.span); },
            [&](const AgeConstant& e) { return age(e); },
            [&](const Unset&) { return std::string("unset"); },
            [&](const EventAttribute& e) { return name(policy_->fields[e.field]); },
            [&](const PartAttribute& e) { return name(policy_->part_kinds[e.part].attributes[e.slot].name); },
            [&](const LineAttribute& e) { return "line's " + name(policy_->line[e.slot].name); },
            [&](const PatientAttribute& e) { return "patient's " + name(policy_->patient[e.slot].name); },
            [&](const StateValue& e) { return name(policy_->states[e.state].name); },
            [&](const Facility&) { return std::string("facility"); },
            [&](const CareUnit&) { return std::string("care unit"); },
            [&](const Dwell&) { return std::string("dwell"); },
            [&](const TimeSince& e) { return "time since " + events(e.events); },
            [&](const CountOf& e) { return "count of " + events(e.events) + window(e.window); },
            [&](const SumOf& e) {
                return fmt::format("sum of {} at each {}{}", name(policy_->fields[e.field]), event(e.event),
                                   window(e.window));
            },
            [&](const DifferenceOf& e) {
                return fmt::format("difference of {} and {}", sub(e.left), sub(e.right));
            },
            [&](const Change& e) {
                constexpr std::array<std::string_view, 3> kinds = {"change", "rise", "fall"};
                return fmt::format("{} in {} since {}", kinds[static_cast<std::size_t>(e.kind)],
                                   name(policy_->fields[e.field]),
                                   e.since_last.empty() ? "insertion" : "the last " + events(e.since_last));
            },
            [&](const StepTime& e) { return fmt::format("time from {} to {}", name(e.from), name(e.to)); },
            [&](const StepIn& e) { return "time in " + name(e.step); },
            [&](const Multiple& e) {
                return fmt::format("{} times {}", decimal(e.numerator, e.denominator), sub(e.operand));
            },
            [&](const TableValue& e) {
                const Table& table = policy_->tables[e.table];
                return fmt::format("the {} in the table {}", name(table.columns[e.column]), name(table.name));
            },
            [&](const And& e) { return bracketed(joined(e.operands, " and ", depth), depth); },
            [&](const Or& e) { return bracketed(joined(e.operands, " or ", depth), depth); },
            [&](const Not& e) { return negated(e.operand, depth); },
            [&](const Compare& e) {
                return fmt::format("{} {} {}", sub(e.left, type_of(e.right)), comparator_words(e.comparator),
                                   sub(e.right, type_of(e.left)));
            },
            [&](const OneOf& e) { return fmt::format("{} is {}", sub(e.operand), list(e, " or ")); },
            [&](const Documented& e) { return sub(e.attribute) + " is documented"; },
            [&](const Occurred& e) { return (e.negated ? "no " : "") + events(e.events) + window(e.window); },
            [&](const SomePart& e) {
                std::string text = "any " + name(policy_->part_kinds[e.part].name);
                if (e.where != none) text += " where " + sub(e.where);
                return text;
            },
            [&](const Always& e) { return std::string(e.value ? "always" : "never"); },
        },
        policy_->expressions[id]);
}

}  // namespace linelaw::runtime
