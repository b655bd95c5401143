#include "compiler/types.hpp"

#include <algorithm>

namespace linelaw::compiler {

using grammar::Expression;
using grammar::Place;
using Kind = Shape::Kind;
using runtime::Dimension;

namespace {

std::string named(const Shape& shape, Place place, const Report& report) {
    return shape.name.empty() ? report.quote(place) : in_ticks(shape.name);
}

// Of values without a unit.
const runtime::Unit& bare_unit(const Shape& shape) {
    return shape.whole ? runtime::count_unit : runtime::number_unit;
}

std::string amount_in_words(std::int64_t grains, const Shape& shape) {
    if (shape.dimension == Dimension::duration && grains >= 0)
        return in_words(runtime::Span{0, 0, false, grains});
    if (const auto* unit = runtime::find_unit(shape.unit)) {
        if (!shape.difference) return in_words(grains, *unit);
        const runtime::Unit plain{unit->name, unit->ucum, unit->dimension, unit->grains_per_unit, 0};
        return in_words(grains, plain);
    }
    std::string bare = in_words(grains, bare_unit(shape));
    if (!bare.empty() && bare.back() == ' ') bare.pop_back();
    return bare;
}

void note_declared(grammar::Diagnostic& diagnostic, const Shape& shape) {
    if (shape.has_place) diagnostic.labels.push_back({shape.declared, "declared here"});
}

bool in_range(std::int64_t grains, const Shape& shape, Place place, Work& work) {
    if (!shape.range || (grains >= shape.range->first && grains <= shape.range->second)) return true;
    auto& d = work.report.add("range.value",
                              work.report.quote(place) + " is outside what " +
                                  (shape.name.empty() ? "this value" : in_ticks(shape.name)) +
                                  " can be: " + amount_in_words(shape.range->first, shape) + " to " +
                                  amount_in_words(shape.range->second, shape),
                              place, "outside the range");
    note_declared(d, shape);
    return false;
}

bool age_in_range(const runtime::AgeConstant& age, const Shape& shape, Place place, Work& work) {
    if (!shape.ages) return true;
    const auto given = days_in(span_of(age));
    const auto low = days_in(shape.ages->first);
    const auto high = days_in(shape.ages->second);
    if (given.second >= low.first && given.first <= high.second) return true;
    auto& d = work.report.add(
        "range.value",
        work.report.quote(place) + " is outside what " + in_ticks(shape.name) +
            " can be: " + (shape.ages->first == runtime::Span{} ? "0 days" : in_words(shape.ages->first)) +
            " to " + in_words(shape.ages->second),
        place, "outside the range");
    note_declared(d, shape);
    return false;
}

void mixed_dimensions(const Shape& shape, Place beside, std::string_view other, Place place, Work& work) {
    auto& d = work.report.add("unit.mixed",
                              named(shape, beside, work.report) + " is " + in_words(shape) + ", and " +
                                  work.report.quote(place) + " is " + std::string(other),
                              place, std::string(other));
    d.labels.push_back({beside, in_words(shape)});
    note_declared(d, shape);
}

std::optional<runtime::Expression> read_quantity(const grammar::Quantity& quantity, const Shape& shape,
                                                 Place beside, Work& work) {
    const auto amount = read_amount(quantity, work.report);
    if (!amount) return std::nullopt;
    const Place place = quantity.place;
    if (shape.kind == Kind::clock) {
        if (amount->time) return runtime::SpanConstant{amount->span};
        mixed_dimensions(shape, beside, in_words(amount->dimension), place, work);
        return std::nullopt;
    }
    if (shape.kind == Kind::age) {
        if (!amount->time) {
            mixed_dimensions(shape, beside, in_words(amount->dimension), place, work);
            return std::nullopt;
        }
        if (!amount->age) {
            auto& d = work.report.add(
                "unit.civil",
                "an age is counted in whole days, weeks, months or years, not " + work.report.quote(place),
                place, "not an age");
            d.labels.push_back({beside, "an age"});
            advise(d, "write the age in one unit, as `30 months` or `28 days`");
            return std::nullopt;
        }
        if (!age_in_range(*amount->age, shape, place, work)) return std::nullopt;
        return *amount->age;
    }
    if (shape.kind == Kind::number && shape.dimension == Dimension::none) {
        auto& d = work.report.add("unit.none",
                                  named(shape, beside, work.report) + " is " + in_words(shape) +
                                      " and has no unit, but " + work.report.quote(place) + " has one",
                                  place, std::string(in_words(amount->dimension)));
        d.labels.push_back({beside, in_words(shape)});
        note_declared(d, shape);
        return std::nullopt;
    }
    if (shape.kind != Kind::number) {
        auto& d =
            work.report.add("type.compare",
                            named(shape, beside, work.report) + " is " + in_words(shape) +
                                " and cannot be compared with " + std::string(in_words(amount->dimension)),
                            place, std::string(in_words(amount->dimension)));
        d.labels.push_back({beside, in_words(shape)});
        note_declared(d, shape);
        return std::nullopt;
    }
    if (amount->dimension != shape.dimension) {
        mixed_dimensions(shape, beside, in_words(amount->dimension), place, work);
        return std::nullopt;
    }
    if (amount->span.civil()) {
        auto& d = work.report.add(
            "unit.civil",
            named(shape, beside, work.report) +
                " is an elapsed time, and days are counted on the calendar: a day can have 23 "
                "or 25 hours",
            place, "counted on the calendar");
        d.labels.push_back({beside, "measured in s, min or h"});
        advise(d, "write the hours, as `24 h`");
        return std::nullopt;
    }
    const std::int64_t grains = shape.difference ? amount->as_difference : amount->grains;
    if (!in_range(grains, shape, place, work)) return std::nullopt;
    return runtime::Constant{grains};
}

std::optional<runtime::Expression> read_number(const grammar::Number& number, const Shape& shape,
                                               Place beside, Work& work) {
    if (shape.kind == Kind::number && shape.dimension == Dimension::none) {
        const auto grains = runtime::grains_from_decimal(number.text, bare_unit(shape));
        if (!grains) {
            auto& d = work.report.add(
                "unit.precision",
                shape.whole ? named(shape, beside, work.report) + " is a count, and " +
                                  in_ticks(number.text) + " is not a whole number"
                            : in_ticks(number.text) + " has more digits than a number is kept with",
                number.place, shape.whole ? "not a whole number" : "too many digits");
            note_declared(d, shape);
            return std::nullopt;
        }
        if (!in_range(*grains, shape, number.place, work)) return std::nullopt;
        return runtime::Constant{*grains};
    }
    if (shape.kind == Kind::number || shape.kind == Kind::age || shape.kind == Kind::clock) {
        auto& d =
            work.report.add("unit.missing",
                            in_ticks(number.text) + " needs a unit: " + named(shape, beside, work.report) +
                                " is " + in_words(shape),
                            number.place, "a bare number");
        d.labels.push_back({beside, in_words(shape)});
        if (shape.kind == Kind::clock)
            advise(d, "say which unit is meant: `min`, `h`, `days` or another one of time");
        else if (shape.kind == Kind::age)
            advise(d, "say which unit is meant: `days`, `weeks`, `months` or `years`");
        else if (!shape.unit.empty())
            advise(d, "if it is meant so, write " + in_ticks(number.text + ' ' + shape.unit));
        return std::nullopt;
    }
    auto& d = work.report.add("type.compare",
                              named(shape, beside, work.report) + " is " + in_words(shape) +
                                  " and cannot be compared with a number",
                              number.place, "a number");
    d.labels.push_back({beside, in_words(shape)});
    note_declared(d, shape);
    return std::nullopt;
}

// The attributes of events in whose list the value stands: which one was meant.
std::vector<std::string> attributes_with(const Work& work, const std::string& value) {
    std::vector<std::string> found;
    for (const auto& event : work.policy().event_kinds)
        for (const auto& attribute : event.attributes) {
            const auto& values = attribute.type.values;
            const bool there = std::any_of(values.begin(), values.end(), [&](const auto symbol) {
                return work.policy().symbols[symbol] == value;
            });
            if (there && std::find(found.begin(), found.end(), attribute.name) == found.end())
                found.push_back(attribute.name);
        }
    return found;
}

std::optional<runtime::Expression> read_value_name(const grammar::Name& name, const Shape& shape,
                                                   Place beside, Work& work) {
    if (shape.kind == Kind::flag && (name.text == "yes" || name.text == "no"))
        return runtime::Constant{name.text == "yes" ? 1 : 0};
    if (shape.kind != Kind::one_of) {
        auto& d = work.report.add("type.compare",
                                  named(shape, beside, work.report) + " is " + in_words(shape) + ", and " +
                                      in_ticks(name.text) + " is none",
                                  name.place, "not " + in_words(shape));
        d.labels.push_back({beside, in_words(shape)});
        if (shape.kind == Kind::flag) advise(d, "a flag is `yes` or `no`");
        if (shape.kind == Kind::number && shape.dimension == Dimension::none)
            advise(d, "write the number that is meant, as " +
                          in_ticks(std::string(work.sources.slice(beside)) + " at least …"));
        note_declared(d, shape);
        return std::nullopt;
    }
    std::vector<std::string> values;
    for (const auto symbol : shape.values) {
        if (work.policy().symbols[symbol] == name.text) return runtime::Constant{symbol};
        values.push_back(work.policy().symbols[symbol]);
    }
    auto& d = work.report.add(
        "range.value",
        in_ticks(name.text) + " is not one of the values of " + named(shape, beside, work.report), name.place,
        "not one of its values");
    note_declared(d, shape);
    d.notes.push_back("its values are " + in_ticks(values, "and"));
    if (const auto others = attributes_with(work, name.text); !others.empty())
        d.notes.push_back(in_ticks(name.text) + " is a value of " + in_ticks(others, "and"));
    offer_near(d, name.text, name.place, values, Offered::value);
    return std::nullopt;
}

bool fail_compare(const grammar::Text& text, std::string_view what, const Shape& shape, Place beside,
                  Work& work) {
    auto& d = work.report.add("type.compare",
                              named(shape, beside, work.report) + " is " + in_words(shape) +
                                  " and cannot be compared with " + std::string(what),
                              text.place, std::string(what));
    d.labels.push_back({beside, in_words(shape)});
    note_declared(d, shape);
    return false;
}

}  // namespace

Shape shape_of(const runtime::Type& type) {
    using T = runtime::TypeKind;
    Shape shape;
    shape.unit = type.unit;
    const auto number = [&](Dimension dimension) {
        shape.kind = Kind::number;
        shape.dimension = dimension;
        shape.range = {type.low, type.high};
    };
    switch (type.kind) {
        case T::flag:
            shape.kind = Kind::flag;
            break;
        case T::one_of:
            shape.kind = Kind::one_of;
            shape.values = type.values;
            break;
        case T::count:
            number(Dimension::none);
            shape.whole = true;
            break;
        case T::number:
            number(Dimension::none);
            break;
        case T::percent:
            number(Dimension::percent);
            break;
        case T::age:
            shape.kind = Kind::age;
            shape.ages = {type.age_low, type.age_high};
            break;
        case T::length:
            number(Dimension::length);
            break;
        case T::duration:
            number(Dimension::duration);
            break;
        case T::volume:
            number(Dimension::volume);
            break;
        case T::rate:
            number(Dimension::rate);
            break;
        case T::mass:
            number(Dimension::mass);
            break;
        case T::temperature:
            number(Dimension::temperature);
            break;
        case T::concentration:
            number(Dimension::concentration);
            break;
        case T::time_of_day:
            shape.kind = Kind::time_of_day;
            break;
        case T::text:
            shape.kind = Kind::text;
            break;
        case T::key:
            shape.kind = Kind::key;
            break;
    }
    return shape;
}

std::string in_words(const Shape& shape) {
    switch (shape.kind) {
        case Kind::broken:
            return "unknown";
        case Kind::truth:
            return "a condition";
        case Kind::flag:
            return "a flag";
        case Kind::one_of:
            return "one of a list";
        case Kind::number:
            if (shape.dimension == Dimension::none) return shape.whole ? "a count" : "a number";
            return std::string(in_words(shape.dimension));
        case Kind::age:
            return "an age";
        case Kind::clock:
            return "a time that has passed";
        case Kind::time_of_day:
            return "a time of day";
        case Kind::text:
            return "a text";
        case Kind::key:
            return "a key";
        case Kind::place:
            return "a place's name";
    }
    return "unknown";
}

bool is_literal(const Expression& expression) {
    return std::holds_alternative<grammar::Quantity>(expression.node) ||
           std::holds_alternative<grammar::Number>(expression.node) ||
           std::holds_alternative<grammar::Text>(expression.node) ||
           std::holds_alternative<grammar::Date>(expression.node) ||
           std::holds_alternative<grammar::TimeOfDay>(expression.node);
}

std::optional<runtime::Expression> read_constant(const Expression& literal, const Shape& shape, Place beside,
                                                 Work& work) {
    if (shape.kind == Kind::broken) return std::nullopt;
    if (const auto* quantity = std::get_if<grammar::Quantity>(&literal.node))
        return read_quantity(*quantity, shape, beside, work);
    if (const auto* number = std::get_if<grammar::Number>(&literal.node))
        return read_number(*number, shape, beside, work);
    if (const auto* reference = std::get_if<grammar::Reference>(&literal.node))
        return read_value_name(reference->name, shape, beside, work);
    const grammar::Text at{"", literal.place};
    if (const auto* text = std::get_if<grammar::Text>(&literal.node)) {
        if (shape.kind == Kind::place) return runtime::TextConstant{text->text};
        if (shape.kind == Kind::text || shape.kind == Kind::key) {
            auto& d = work.report.add("type.compare",
                                      named(shape, beside, work.report) + " is " + in_words(shape) +
                                          " and is never compared with words: a rule cannot rest on them",
                                      beside, in_words(shape));
            advise(d, "ask whether it is documented, or declare a list of values for it");
            note_declared(d, shape);
            return std::nullopt;
        }
        fail_compare(at, "a text", shape, beside, work);
        return std::nullopt;
    }
    if (const auto* time = std::get_if<grammar::TimeOfDay>(&literal.node)) {
        if (shape.kind == Kind::time_of_day)
            return runtime::Constant{time->hour * runtime::microseconds_per_hour +
                                     time->minute * runtime::microseconds_per_minute};
        fail_compare(at, "a time of day", shape, beside, work);
        return std::nullopt;
    }
    fail_compare(at, "a date", shape, beside, work);
    return std::nullopt;
}

bool check_comparable(const Shape& left, Place left_place, const Shape& right, Place right_place,
                      Work& work) {
    if (left.kind == Kind::broken || right.kind == Kind::broken) return false;
    const auto fail = [&](std::string_view code, std::string message) {
        auto& d = work.report.add(code, std::move(message), right_place, in_words(right));
        d.labels.push_back({left_place, in_words(left)});
        return false;
    };
    const std::string l = named(left, left_place, work.report);
    const std::string r = named(right, right_place, work.report);
    if (left.kind == Kind::text || right.kind == Kind::text)
        return fail("type.compare", "a text is never compared: a rule cannot rest on free words");
    if (left.kind == Kind::number && right.kind == Kind::number) {
        if (left.dimension != right.dimension)
            return fail("unit.mixed", l + " is " + in_words(left) + ", and " + r + " is " + in_words(right));
        if (left.dimension == Dimension::none && left.whole != right.whole)
            return fail("type.compare",
                        l + " is " + in_words(left) + ", and " + r + " is " + in_words(right));
        return true;
    }
    if (left.kind != right.kind)
        return fail("type.compare", l + " is " + in_words(left) + ", and " + r + " is " + in_words(right));
    if (left.kind == Kind::one_of) {
        const bool shared = std::any_of(left.values.begin(), left.values.end(), [&](auto v) {
            return std::find(right.values.begin(), right.values.end(), v) != right.values.end();
        });
        if (!shared) return fail("type.compare", l + " and " + r + " have no value in common");
    }
    if (left.kind == Kind::clock || left.kind == Kind::age) {
        auto& d = work.report.add(
            "type.compare", l + " and " + r + " both go on with time, and are not compared with one another",
            right_place, in_words(right));
        d.labels.push_back({left_place, in_words(left)});
        advise(d, "compare each with a fixed time such as `7 days`");
        return false;
    }
    return true;
}

bool check_ordered(const Shape& shape, grammar::Comparator comparator, Place comparator_place,
                   Place value_place, Work& work) {
    if (comparator == grammar::Comparator::is || comparator == grammar::Comparator::is_not) return true;
    if (shape.kind == Kind::broken) return false;
    if (shape.kind == Kind::number || shape.kind == Kind::age || shape.kind == Kind::clock ||
        shape.kind == Kind::time_of_day)
        return true;
    auto& d = work.report.add("type.compare",
                              named(shape, value_place, work.report) + " is " + in_words(shape) +
                                  ", and is never more or less than anything",
                              comparator_place, "asks for an order");
    d.labels.push_back({value_place, in_words(shape)});
    advise(d, shape.kind == Kind::flag ? "write the flag by itself, or `not` before it"
                                       : "write `is`, `is not` or `is one of`");
    note_declared(d, shape);
    return false;
}

}  // namespace linelaw::compiler
