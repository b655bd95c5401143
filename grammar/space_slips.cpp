#include "grammar/space_slips.hpp"

#include <algorithm>
#include <array>
#include <string>

#include "grammar/demand_shapes.hpp"
#include "grammar/slip_words.hpp"
#include "grammar/words.hpp"

namespace linelaw::grammar {

namespace {

using std::string;
using std::string_view;

// As they come out of word processors and web pages: no-break, narrow no-break, figure, thin, em, en and
// ideographic; and those of no width: zero-width blank, soft hyphen, word joiner, byte order mark.
constexpr auto odd_spaces =
    std::to_array<string_view>({"\xC2\xA0", "\xE2\x80\xAF", "\xE2\x80\x87", "\xE2\x80\x89", "\xE2\x80\x83",
                                "\xE2\x80\x82", "\xE3\x80\x80"});
constexpr auto unseen =
    std::to_array<string_view>({"\xE2\x80\x8B", "\xC2\xAD", "\xE2\x81\xA0", "\xEF\xBB\xBF"});

struct OddSpace {
    std::uint32_t length = 0;  // in bytes; 0 where none stands
    bool seen = true;
};
OddSpace odd_space_at(string_view text) {
    const auto begins = [&](string_view space) { return text.substr(0, space.size()) == space; };
    for (const string_view space : odd_spaces)
        if (begins(space)) return {static_cast<std::uint32_t>(space.size()), true};
    for (const string_view space : unseen)
        if (begins(space)) return {static_cast<std::uint32_t>(space.size()), false};
    return {};
}

Diagnostic told(std::uint32_t spaces, std::uint32_t hidden, Place first, Mend mend) {
    const bool one = spaces == 1;
    const string nth = one ? "" : "the first of " + std::to_string(spaces);
    string message = "non-breaking spaces stand in this line, as a word processor makes them";
    if (hidden == spaces)
        message = one ? "a sign that cannot be seen stands in this word, as a word processor or a web page "
                        "leaves it"
                      : "signs that cannot be seen stand in this line, as a word processor or a web page "
                        "leaves them";
    else if (one)
        message = "a non-breaking space stands here, as a word processor makes it";
    mend.text = hidden == spaces ? (one ? "take it out" : "take them out")
                : hidden > 0     ? "write plain spaces, and take out what cannot be seen"
                : one            ? "write a plain space"
                                 : "write plain spaces";
    const string looks = hidden == spaces ? "here" : "it looks like a plain one";
    Diagnostic diagnostic = make_diagnostic("syntax.spelling", message, first, one ? looks : nth);
    diagnostic.mends.push_back(std::move(mend));
    return diagnostic;
}

}  // namespace

std::optional<Diagnostic> odd_space_slip(const TextView& view, const Fault& fault) {
    const std::uint32_t begin = view.line_begin(fault.at);
    const std::uint32_t end = view.line_end(fault.at);
    const std::uint32_t from = std::min(view.token_before(fault.at).begin, fault.at);
    const std::uint32_t until = view.wide_word(fault.at).end;
    // All of the line are told at once; in a text between quotation marks they do no harm.
    Place all = view.place(0, 0);
    Place first = all;
    string plain;
    std::uint32_t spaces = 0;
    std::uint32_t kept = 0;
    std::uint32_t hidden = 0;
    bool in_string = false;
    for (std::uint32_t at = begin; at < end; ++at) {
        if (view.byte(at) == '"') in_string = !in_string;
        const OddSpace space = in_string ? OddSpace{} : odd_space_at(view.slice(view.place(at, end)));
        if (space.length == 0) continue;
        if (spaces == 0)
            all = first = view.place(at, at + space.length);
        else
            plain += view.slice(view.place(kept, at));
        if (space.seen) plain += ' ';
        if (!space.seen) ++hidden;
        kept = all.end = at + space.length;
        at = kept - 1;
        ++spaces;
    }
    if (spaces == 0 || first.begin > until || first.end < from) return std::nullopt;
    // A sign of no width may part two words after all: the committee looks.
    return told(spaces, hidden, first, {"", all, plain, hidden == 0});
}

// `clause access scrub`, and the sentence on the next line.
std::optional<Diagnostic> spaced_name_slip(const TextView& view, const Fault& fault) {
    if (fault.expected.find("sentence") == string_view::npos || view.is_line_start(fault.at))
        return std::nullopt;
    const std::uint32_t end = view.line_end(fault.at);
    const string_view rest = view.slice(view.place(fault.at, end));
    std::uint32_t next = end;
    while (view.byte(next) == ' ' || view.byte(next) == '\t' || view.byte(next) == '\r' ||
           view.byte(next) == '\n')
        ++next;
    const bool is_names =
        rest.find_first_not_of("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_.- ") ==
        string_view::npos;
    if (next == end || view.byte(next) != '"' || rest.empty() || !is_names) return std::nullopt;
    const Place name = view.place(view.token_before(fault.at).begin, end);
    const string written(view.slice(name));
    Diagnostic diagnostic = make_diagnostic(
        "syntax.name", "`" + written + "` is no name: names have no spaces", name, "one name");
    const bool dotted = fault.expected.find("clause") != string_view::npos;
    for (const char joint : {'_', '.'}) {
        if (joint == '.' && !dotted) continue;
        string joined = lower(written);
        std::replace(joined.begin(), joined.end(), '-', '_');
        std::replace(joined.begin(), joined.end(), ' ', joint);
        diagnostic.mends.push_back({"write `" + joined + "`", name, joined, false});
    }
    return diagnostic;
}

namespace {

bool is_plain_name(string_view word) {
    const bool letters =
        word.find_first_not_of("abcdefghijklmnopqrstuvwxyz0123456789_.") == string_view::npos;
    return letters && !word.empty() && !is_number(word.substr(0, 1)) && !is_operator_word(word) &&
           !is_head_word(word) && unit_length(word) != word.size();
}

}  // namespace

std::optional<Diagnostic> two_words_slip(const TextView& view, const Fault& fault) {
    if (fault.code != FaultCode::leftover || fault.block != Block::clause || view.is_line_start(fault.at))
        return std::nullopt;
    const Place first = view.token_before(fault.at);
    const Place second = view.token(fault.at);
    const string one(view.slice(first));
    const string two(view.slice(second));
    if (!is_plain_name(one) || !is_plain_name(two)) return std::nullopt;
    // Where a name begins the demand, or stands in a list of values; `flush with saline` is another slip.
    const string_view before = view.slice(view.token_before(first.begin));
    const string_view line = view.slice(view.place(view.line_begin(first.begin), first.begin));
    const string_view line_word = view.slice(view.line_word(first.begin));
    const bool of_demand = line_word == "must" || line_word == "should";
    const bool values = of_demand && line.find(" one of ") != string_view::npos;
    const bool begins = before == "must" || before == "should" || before == "not";
    const bool value = !values && before == "is";
    if (!values && !value && (!begins || one.find('_') != string::npos)) return std::nullopt;
    constexpr auto joints = std::to_array<string_view>(
        {"a", "after", "as", "by", "for", "from", "if", "on", "than", "the", "then", "to", "using", "with"});
    if (std::find(joints.begin(), joints.end(), two) != joints.end()) return std::nullopt;
    const Place between = view.place(first.end, second.begin);
    Diagnostic diagnostic =
        make_diagnostic("syntax.leftover", "nothing joins `" + one + "` and `" + two + "`",
                        view.place(first.begin, second.end));
    if (values)
        diagnostic.mends.push_back(
            {"if these are two values, write `" + one + ", " + two + "`", between, ", ", false});
    if (begins && one == "be") {
        diagnostic.mends.push_back({"take `be` out", view.place(first.begin, second.begin), "", false});
        return diagnostic;
    }
    const string joined = quoted(one + "_" + two);
    const string words = value    ? "if it is one value, write " + joined + ": values have no spaces"
                         : values ? "if it is one name, write " + joined + ": names have no spaces"
                                  : "if it is one name, write " + joined + " or " + quoted(two + "_" + one) +
                                        ", as the vocabulary has it: names have no spaces";
    diagnostic.mends.push_back({words, between, "_", false});
    if (!values && !value) diagnostic.mends.push_back({demand_shape(view, fault), {}, "", false});
    return diagnostic;
}

}  // namespace linelaw::grammar
