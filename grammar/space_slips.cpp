#include "grammar/space_slips.hpp"

#include <algorithm>
#include <array>
#include <string>

namespace linelaw::grammar {

namespace {

using std::string;
using std::string_view;

// As they come out of word processors and web pages: no-break, narrow no-break, figure, thin, em, en,
// ideographic, and the one of no width, of which nobody can tell whether it parts two words.
constexpr string_view no_width = "\xE2\x80\x8B";
constexpr auto odd_spaces =
    std::to_array<string_view>({"\xC2\xA0", "\xE2\x80\xAF", "\xE2\x80\x87", "\xE2\x80\x89", "\xE2\x80\x83",
                                "\xE2\x80\x82", "\xE3\x80\x80", no_width});

std::uint32_t odd_space_at(string_view text) {
    for (const string_view space : odd_spaces)
        if (text.substr(0, space.size()) == space) return static_cast<std::uint32_t>(space.size());
    return 0;
}

}  // namespace

std::optional<Diagnostic> odd_space_slip(const TextView& view, const Fault& fault) {
    std::uint32_t begin = fault.at;
    while (begin > 0 && view.byte(begin - 1) != '\n') --begin;
    const std::uint32_t end = view.line_end(fault.at);
    const std::uint32_t from = std::min(view.token_before(fault.at).begin, fault.at);
    const std::uint32_t until = view.wide_word(fault.at).end;
    // All of the line are told at once; in a text between quotation marks they do no harm.
    Place all = view.place(0, 0);
    Place first = all;
    string plain;
    std::uint32_t spaces = 0;
    std::uint32_t kept = 0;
    bool in_string = false;
    for (std::uint32_t at = begin; at < end; ++at) {
        if (view.byte(at) == '"') in_string = !in_string;
        const std::uint32_t length = in_string ? 0 : odd_space_at(view.slice(view.place(at, end)));
        if (length == 0) continue;
        if (spaces == 0)
            all = first = view.place(at, at + length);
        else
            plain += view.slice(view.place(kept, at));
        plain += ' ';
        kept = all.end = at + length;
        at = kept - 1;
        ++spaces;
    }
    if (spaces == 0 || first.begin > until || first.end < from) return std::nullopt;
    const bool one = spaces == 1;
    Diagnostic diagnostic =
        make_diagnostic("syntax.spelling",
                        one ? "a non-breaking space stands here, as a word processor makes it"
                            : "non-breaking spaces stand in this line, as a word processor makes them",
                        first, one ? "it looks like a plain one" : "the first of " + std::to_string(spaces));
    const bool safe = view.slice(all).find(no_width) == string_view::npos;
    diagnostic.mends.push_back({one ? "write a plain space" : "write plain spaces", all, plain, safe});
    return diagnostic;
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

}  // namespace linelaw::grammar
