#include "compiler/read_type.hpp"

#include <algorithm>

#include "compiler/types.hpp"

namespace linelaw::compiler {

using grammar::Expression;
using runtime::Dimension;

namespace {

Dimension dimension_of(grammar::TypeKind kind) {
    using T = grammar::TypeKind;
    switch (kind) {
        case T::percent:
            return Dimension::percent;
        case T::length:
            return Dimension::length;
        case T::duration:
            return Dimension::duration;
        case T::volume:
            return Dimension::volume;
        case T::rate:
            return Dimension::rate;
        case T::mass:
            return Dimension::mass;
        case T::temperature:
            return Dimension::temperature;
        case T::concentration:
            return Dimension::concentration;
        default:
            return Dimension::none;
    }
}

runtime::TypeKind kind_of(grammar::TypeKind kind) {
    using T = grammar::TypeKind;
    using R = runtime::TypeKind;
    switch (kind) {
        case T::flag:
            return R::flag;
        case T::one_of:
            return R::one_of;
        case T::count:
            return R::count;
        case T::number:
            return R::number;
        case T::percent:
            return R::percent;
        case T::age:
            return R::age;
        case T::length:
            return R::length;
        case T::duration:
            return R::duration;
        case T::volume:
            return R::volume;
        case T::rate:
            return R::rate;
        case T::mass:
            return R::mass;
        case T::temperature:
            return R::temperature;
        case T::concentration:
            return R::concentration;
        case T::time:
            return R::time_of_day;
        case T::text:
            return R::text;
        case T::key:
            return R::key;
    }
    return R::flag;
}

bool read_values(const grammar::Type& type, runtime::Type& read, Work& work) {
    for (const auto& value : type.values) {
        const auto symbol = intern_symbol(work, value.text);
        if (std::find(read.values.begin(), read.values.end(), symbol) != read.values.end()) {
            work.report.add("name.duplicate", "the value " + in_ticks(value.text) + " is listed twice",
                            value.place, "listed again");
            return false;
        }
        read.values.push_back(symbol);
    }
    return true;
}

// The end of a range as an expression to read: the ends stand beside each other in messages.
bool read_ages(const grammar::Type& type, runtime::Type& read, Work& work) {
    Shape shape;
    shape.kind = Shape::Kind::age;
    const auto low = read_constant(type.range->low, shape, type.place, work);
    const auto high = read_constant(type.range->high, shape, type.place, work);
    if (!low || !high) return false;
    read.age_low = span_of(std::get<runtime::AgeConstant>(*low));
    read.age_high = span_of(std::get<runtime::AgeConstant>(*high));
    if (days_in(read.age_low).first > days_in(read.age_high).first) {
        work.report.add("range.order",
                        "the range " + work.report.quote(type.range->place) + " ends before it begins",
                        type.range->place, "the greater age stands first");
        return false;
    }
    return true;
}

bool read_unit(const grammar::Type& type, Dimension dimension, runtime::Type& read, Work& work) {
    if (type.unit) {
        const auto* unit = runtime::find_unit(type.unit->text);
        if (unit == nullptr || unit->dimension != dimension) {
            auto& d = work.report.add(
                unit == nullptr ? "syntax.quantity" : "unit.mixed",
                unit == nullptr
                    ? "there is no unit " + in_ticks(type.unit->text)
                    : in_ticks(type.unit->text) + " is a unit of " + std::string(in_words(unit->dimension)) +
                          ", and the attribute is " + std::string(in_words(dimension)),
                type.unit->place, unit == nullptr ? "not a unit" : std::string(in_words(unit->dimension)));
            if (unit == nullptr)
                offer_near(d, type.unit->text, type.unit->place, unit_names(), Offered::value);
            if (unit != nullptr) d.labels.push_back({type.place, std::string(in_words(dimension))});
            return false;
        }
        read.unit = type.unit->text;
        return true;
    }
    for (const Expression* end : {&type.range->high, &type.range->low})
        if (const auto* quantity = std::get_if<grammar::Quantity>(&end->node))
            if (runtime::find_unit(quantity->terms.front().unit.text) != nullptr) {
                read.unit = quantity->terms.front().unit.text;
                return true;
            }
    return true;
}

bool read_range(const grammar::Type& type, runtime::Type& read, Work& work) {
    const Dimension dimension = dimension_of(type.kind);
    if (dimension != Dimension::none && !read_unit(type, dimension, read, work)) return false;
    Shape shape;
    shape.kind = Shape::Kind::number;
    shape.dimension = dimension;
    shape.whole = type.kind == grammar::TypeKind::count;
    shape.unit = read.unit;
    const auto low = read_constant(type.range->low, shape, type.place, work);
    const auto high = read_constant(type.range->high, shape, type.place, work);
    if (!low || !high) return false;
    read.low = std::get<runtime::Constant>(*low).value;
    read.high = std::get<runtime::Constant>(*high).value;
    if (read.low > read.high) {
        work.report.add("range.order",
                        "the range " + work.report.quote(type.range->place) + " ends before it begins",
                        type.range->place, "the greater end stands first");
        return false;
    }
    for (const auto& [end, value] :
         {std::pair{&type.range->low, read.low}, std::pair{&type.range->high, read.high}}) {
        if (std::abs(value) <= runtime::widest_range) continue;
        work.report.add(
            "unit.precision",
            "the range " + work.report.quote(type.range->place) + " goes farther than can be reckoned with",
            end->place, "farther from 0 than any record needs");
        return false;
    }
    return true;
}

}  // namespace

std::optional<runtime::Type> read_type(const grammar::Type& type, const std::string& attribute, Work& work) {
    using T = grammar::TypeKind;
    runtime::Type read;
    read.kind = kind_of(type.kind);
    switch (type.kind) {
        case T::flag:
        case T::time:
        case T::text:
        case T::key:
            return read;
        case T::one_of:
            if (!read_values(type, read, work)) return std::nullopt;
            return read;
        default:
            break;
    }
    if (!type.range) {
        auto& d = work.report.add("type.declaration",
                                  in_ticks(attribute) +
                                      " needs a range: without one the policy cannot be checked "
                                      "completely",
                                  type.place, "no range");
        advise(
            d,
            "write the least and the greatest value that a record can hold, as `length 0 cm .. 60 cm in cm`");
        return std::nullopt;
    }
    const bool good = type.kind == T::age ? read_ages(type, read, work) : read_range(type, read, work);
    if (!good) return std::nullopt;
    return read;
}

}  // namespace linelaw::compiler
