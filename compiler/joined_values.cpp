#include "compiler/joined_values.hpp"

#include <algorithm>
#include <string_view>

#include "compiler/report.hpp"
#include "runtime/ascii.hpp"

namespace linelaw::compiler {

namespace {

using grammar::Place;

bool joins(std::string_view word) {
    return word == "or" || word == "and" || word == "nor" || word == ",";
}

// The words, and the single signs, of a text, one by one in either direction.
struct Steps {
    std::string_view text;
    std::uint32_t number;

    static bool is_word(char c) { return c == '_' || c == '.' || runtime::ascii::is_letter_or_digit(c); }
    static bool is_blank(char c) { return c == ' ' || c == '\n' || c == '\r' || c == '\t'; }
    std::string_view word(Place place) const { return text.substr(place.begin, place.end - place.begin); }
    Place before(std::uint32_t end) const {
        while (end > 0 && is_blank(text[end - 1])) --end;
        std::uint32_t begin = end;
        while (begin > 0 && is_word(text[begin - 1])) --begin;
        if (begin == end && begin > 0) --begin;
        return {number, begin, end};
    }
    Place after(std::uint32_t begin) const {
        while (begin < text.size() && is_blank(text[begin])) ++begin;
        std::uint32_t end = begin;
        while (end < text.size() && is_word(text[end])) ++end;
        if (end == begin && end < text.size()) ++end;
        return {number, begin, end};
    }
};

}  // namespace

std::optional<grammar::Mend> one_of_several(const grammar::Sources& sources, const grammar::Name& value,
                                            const std::vector<std::string>& values) {
    const Steps steps{sources.text(value.place.text).content, value.place.text};
    const auto is_value = [&](Place place) {
        return std::find(values.begin(), values.end(), steps.word(place)) != values.end();
    };
    std::vector<std::string> named{value.text};
    Place at = steps.before(value.place.begin);
    if (!joins(steps.word(at))) return std::nullopt;
    while (joins(steps.word(at))) {
        Place one = steps.before(at.begin);
        if (joins(steps.word(one))) one = steps.before(one.begin);  // `, or`
        if (!is_value(one)) return std::nullopt;
        named.emplace(named.begin(), steps.word(one));
        at = steps.before(one.begin);
    }
    if (steps.word(at) == "of") at = steps.before(steps.before(at.begin).begin);  // `is one of A or B`
    const bool negated = steps.word(at) == "not";
    if (negated) at = steps.before(at.begin);
    if (steps.word(at) != "is") return std::nullopt;
    const Place subject = steps.before(at.begin);
    Place all{value.place.text, subject.begin, value.place.end};
    for (Place joint = steps.after(all.end); joins(steps.word(joint)); joint = steps.after(all.end)) {
        const Place next = steps.after(joint.end);
        if (!is_value(next)) break;
        named.emplace_back(steps.word(next));
        all.end = next.end;
    }
    std::string right(steps.word(subject));
    right += negated ? " is not one of " : " is one of ";
    for (std::size_t i = 0; i < named.size(); ++i) right += (i == 0 ? "" : ", ") + named[i];
    return grammar::Mend{"write " + in_ticks(right), all, right, false};
}

}  // namespace linelaw::compiler
