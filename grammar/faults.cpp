#include "grammar/faults.hpp"

#include <algorithm>
#include <array>
#include <optional>
#include <string>
#include <utility>

#include "grammar/columns.hpp"
#include "grammar/demand_shapes.hpp"
#include "grammar/slip_words.hpp"
#include "grammar/slips.hpp"
#include "grammar/text_view.hpp"
#include "grammar/words.hpp"

namespace linelaw::grammar {

namespace {

std::string_view code_of(FaultCode code) {
    switch (code) {
        case FaultCode::item:
            return "syntax.item";
        case FaultCode::line:
            return "syntax.line";
        case FaultCode::leftover:
            return "syntax.leftover";
        case FaultCode::name:
            return "syntax.name";
        case FaultCode::string:
            return "syntax.string";
        case FaultCode::quantity:
            return "syntax.quantity";
        case FaultCode::date:
            return "syntax.date";
        case FaultCode::type:
            return "syntax.type";
        case FaultCode::condition:
            return "syntax.condition";
        case FaultCode::events:
            return "syntax.events";
        case FaultCode::demand:
            return "syntax.demand";
        case FaultCode::nesting:
            return "syntax.nesting";
        case FaultCode::spelling:
            return "syntax.spelling";
        case FaultCode::expected:
            break;
    }
    return "syntax.expected";
}

std::string_view item_name(Block block) {
    switch (block) {
        case Block::policy_header:
            return "the policy's head";
        case Block::vocabulary_header:
            return "the vocabulary's head";
        case Block::state:
            return "a state";
        case Block::question:
            return "a question";
        case Block::source:
            return "a source";
        case Block::table:
            return "a table";
        case Block::clause:
            return "a clause";
        case Block::escalation:
            return "an escalation";
        case Block::bundle:
            return "a bundle";
        case Block::example:
            return "an example";
        case Block::attributes:
        case Block::event:
        case Block::none:
            break;
    }
    return {};
}

// "a duration such as `7 days` after `every`" → "a duration": enough for the label under the place.
std::string short_concept(std::string_view expected) {
    for (const std::string_view cut :
         {" (", ", such as", " such as", " in quotation marks", " after `", ", after", " and ", ", "}) {
        expected = expected.substr(0, expected.find(cut));
    }
    return std::string(expected);
}

// What helps where people write these instead of what is expected there.
std::optional<Mend> usual_mend(const TextView& view, const Fault& fault, Place token) {
    const std::string_view word = view.slice(token);
    const auto expects = [&](std::string_view begin) {
        return fault.expected.substr(0, begin.size()) == begin;
    };
    if (word == "," && expects("`gives`"))
        return Mend{"columns are divided by `|`: write it in place of `,`", token, " |", false};
    if (word == "notify" && expects("`escalate`"))
        return Mend{"write the calls as an `escalation` of their own, and name it here: `then escalate ID`",
                    {},
                    "",
                    false};
    if (word == "to" && fault.code == FaultCode::name)
        return Mend{"take `to` out: the name follows at once", token, "", false};
    if (word == "." && view.byte(token.end) >= '0' && view.byte(token.end) <= '9')
        return Mend{"a number begins with a digit: write `0` before the point", token, "0.", false};
    return std::nullopt;
}

Diagnostic missing(const TextView& view, const Fault& fault, std::string_view code) {
    const Place token = view.token(fault.at);
    const Place before = view.token_before(fault.at);
    const std::string_view word = view.slice(token);
    const std::string expected = "expected " + std::string(fault.expected);
    if (view.at_end(fault.at)) {
        return make_diagnostic(code, expected + ", but the text ends", before,
                               short_concept(fault.expected) + " belongs after this");
    }
    const bool next_line =
        view.is_line_start(fault.at) && before.end > before.begin &&
        (is_head_word(word) || is_operator_word(word) || is_line_word(fault.block, word) ||
         view.phrase(fault.at, "set aside") != 0 || view.is_margin(fault.at) ||
         !nearest_head_word(fault.block, word).empty() || view.byte(view.after_blanks(token.end)) == ':');
    if (next_line) {
        return make_diagnostic(code, expected + ", but the line ends", before,
                               short_concept(fault.expected) + " belongs after this");
    }
    const bool reserved = fault.code == FaultCode::name && (is_operator_word(word) || is_head_word(word));
    if (reserved) {
        Diagnostic diagnostic = make_diagnostic(
            code, expected + "; " + quoted(word) + " is a word of the language and names nothing", token);
        if (auto mend = usual_mend(view, fault, token)) diagnostic.mends.push_back(std::move(*mend));
        return diagnostic;
    }
    const std::string stands = word == "\"" ? "a quotation mark" : quoted(word);
    Diagnostic diagnostic = make_diagnostic(code, expected + ", not " + stands, token,
                                            short_concept(fault.expected) + " belongs here");
    if (fault.block == Block::clause && fault.expected.substr(0, 13) == "`in the last`")
        diagnostic.mends.push_back(
            {"each of several infusions, lumens or needles is spoken of by `for each PART where CONDITION`; "
             "what is done at an event by `at EVENT where CONDITION`",
             {},
             "",
             false});
    if (fault.code == FaultCode::demand && (word == "within" || word == "every" || word == "each"))
        diagnostic.mends.push_back(
            {"what must be done stands first, then when: `EVENT within 2 h`, "
             "`EVENT at least every 7 days`, `EVENT each shift`",
             {},
             "",
             false});
    if (auto mend = usual_mend(view, fault, token)) diagnostic.mends.push_back(std::move(*mend));
    // The word that is wanted, where it is a word of the language.
    if (diagnostic.mends.empty() && fault.expected.substr(0, 1) == "`") {
        const std::string_view wanted = fault.expected.substr(1, fault.expected.find('`', 1) - 1);
        const bool begun = wanted.substr(0, wanted.find(' ')) == word;  // `to judgment`
        diagnostic.mends.push_back({begun ? "write " + quoted(wanted)
                                          : "if " + quoted(wanted) +
                                                " is what was meant, write it in place of " + stands +
                                                "; if it was forgotten, write it before " + stands,
                                    {},
                                    "",
                                    false});
    }
    return diagnostic;
}

// What `or`, `and` or a comma joins at the end of such a line.
std::string_view joined_there(std::string_view expected) {
    for (const auto& [word, one] : {std::pair<std::string_view, std::string_view>{"events", "an event"},
                                    {"conditions", "a condition"},
                                    {"attributes", "an attribute"},
                                    {"roles", "a role"}}) {
        if (expected.substr(0, word.size()) == word) return one;
    }
    return {};
}

Diagnostic bad_item(const TextView& view, const Fault& fault) {
    const Place token = view.token(fault.at);
    return make_diagnostic("syntax.item",
                           quoted(view.slice(token)) + " begins no item of a policy or a vocabulary", token);
}

Diagnostic bad_line(const TextView& view, const Fault& fault) {
    if (view.is_margin(fault.at)) return bad_item(view, fault);
    const Place token = view.token(fault.at);
    const std::string_view item = item_name(fault.block);
    Diagnostic diagnostic = make_diagnostic(
        "syntax.line",
        quoted(view.slice(token)) + " begins no line of " + (item.empty() ? "this item" : std::string(item)),
        token);
    if (fault.block == Block::escalation && view.slice(token) == "notify")
        diagnostic.mends.push_back(
            {"write `first` before it, or where it is a later step `then if not acknowledged within …`",
             {},
             "",
             false});
    return diagnostic;
}

// Whether `7 days`, `2h` or `each shift` ends before `at`: a demand that says when is a whole one.
bool ends_in_time(const TextView& view, std::uint32_t at) {
    const auto is_digit = [&](std::uint32_t place) {
        return view.byte(place) >= '0' && view.byte(place) <= '9';
    };
    const Place last = view.token_before(at);
    const std::string_view word = view.slice(last);
    if (word == "shift") return true;
    if (is_digit(last.begin)) {
        const std::size_t unit = word.find_first_not_of("0123456789.");
        return unit != std::string_view::npos && unit_length(word.substr(unit)) != 0;
    }
    return unit_length(word) == word.size() && !word.empty() && is_digit(view.token_before(last.begin).begin);
}

// `emergency insertion`, where both may be parts of a name.
std::string name_of_two_words(const TextView& view, std::uint32_t at) {
    if (view.is_line_start(at)) return {};
    std::string name;
    for (const Place place : {view.token_before(at), view.token(at)}) {
        const std::string_view word = view.slice(place);
        const bool letters =
            word.find_first_not_of("abcdefghijklmnopqrstuvwxyz_0123456789") == std::string_view::npos;
        if (word.empty() || !letters || (word[0] >= '0' && word[0] <= '9') || is_operator_word(word) ||
            is_head_word(word))
            return {};
        name += (name.empty() ? "" : "_") + std::string(word);
    }
    return name;
}

// `one of transparent chg_transparent`, where a comma was forgotten.
std::string two_values(const TextView& view, std::uint32_t at) {
    if (name_of_two_words(view, at).empty()) return {};
    const std::string_view line = view.slice(view.place(view.line_begin(at), at));
    const std::size_t list = line.rfind(" one of ");
    if (list == std::string_view::npos) return {};
    const std::string_view values = line.substr(list);
    if (values.find(" and ") != std::string_view::npos || values.find(" or ") != std::string_view::npos)
        return {};
    return std::string(view.slice(view.token_before(at))) + ", " + std::string(view.slice(view.token(at)));
}

bool is_name_byte(char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_';
}

// `is damp, loose or soiled`, of which this is the comma: "one of damp, loose, soiled" in place of the
// values.
std::optional<Mend> one_of_these(const TextView& view, std::uint32_t comma) {
    const std::uint32_t begin = view.line_begin(comma);
    const std::string_view before = view.slice(view.place(begin, comma));
    const std::size_t is = before.rfind(" is ");
    if (is == std::string_view::npos) return std::nullopt;
    const std::uint32_t values = view.after_blanks(begin + static_cast<std::uint32_t>(is) + 4);
    const Place all = view.place(values, view.line_end(comma));
    std::string list;
    std::string_view last = ",";
    for (std::uint32_t at = all.begin; at < all.end;) {
        const Place token = view.token(at);
        const std::string_view word = view.slice(token);
        if (word == "and") return std::nullopt;  // another condition
        const bool joins = word == "," || word == "or";
        if (!joins && !std::all_of(word.begin(), word.end(), is_name_byte)) return std::nullopt;
        const bool joined = last == "," || last == "or";
        if (joins ? joined && last != "," : !joined) return std::nullopt;
        if (!joins) list += (list.empty() ? "" : ", ") + std::string(word);
        last = word;
        at = view.after_blanks(token.end);
    }
    if (last == "," || last == "or") return std::nullopt;
    list.insert(0, "one of ");
    return Mend{"write " + quoted(list), all, list, false};
}

Diagnostic leftover(const TextView& view, const Fault& fault) {
    const Place token = view.token(fault.at);
    const std::string_view word = view.slice(token);
    const std::string expected(fault.expected);
    const std::string_view joins = joined_there(fault.expected);
    if ((word == "and" || word == "or" || word == ",") && !joins.empty()) {
        std::uint32_t next = token.end;
        while (is_space_byte(view.byte(next))) ++next;
        const bool nothing_follows = view.at_end(next) || is_head_word(view.slice(view.token(next)));
        const bool right_word = expected.find("`" + std::string(word) + "`") != std::string::npos;
        if (nothing_follows || right_word) {
            return make_diagnostic("syntax.leftover",
                                   "expected " + std::string(joins) + " after " + quoted(word), token,
                                   std::string(joins) + " belongs after this");
        }
        Diagnostic diagnostic =
            make_diagnostic("syntax.leftover", quoted(word) + " cannot stand here: " + expected, token);
        if (auto values = word == "," ? one_of_these(view, fault.at) : std::nullopt) {
            diagnostic.mends.push_back(std::move(*values));
            return diagnostic;
        }
        if (word == "," && joins == "an event")
            diagnostic.mends.push_back({"write `or`", token, " or", false});
        if (word == "," && joins == "a condition")
            diagnostic.mends.push_back(
                {"write `and` or `or` between conditions; several values of one "
                 "attribute are written `ATTRIBUTE is one of A, B`",
                 {},
                 "",
                 false});
        return diagnostic;
    }
    if (view.is_margin(fault.at)) return bad_item(view, fault);
    if (view.is_line_start(fault.at) && fault.block != Block::none && fault.block != Block::attributes &&
        fault.block != Block::event && expected.find("quotation marks") == std::string::npos) {
        return bad_line(view, fault);
    }
    const std::string what = word == "\"" ? "a text in quotation marks" : quoted(word);
    if (fault.expected != demand_is_complete) {
        Diagnostic diagnostic =
            make_diagnostic("syntax.leftover", what + " does not belong here: " + expected, token);
        if (const std::string shifts = shift_shape(view, fault); !shifts.empty())
            diagnostic.mends.push_back({shifts, {}, "", false});
        else if (word.find_first_not_of("0123456789.") == std::string_view::npos)
            diagnostic.mends.push_back(
                {"a number stands after its comparison, as `NAME at least " + std::string(word) + "`",
                 {},
                 "",
                 false});
        else if (const std::string values = two_values(view, fault.at); !values.empty())
            diagnostic.mends.push_back({"if these are two values, write " + quoted(values), {}, "", false});
        else if (const std::string name = name_of_two_words(view, fault.at); !name.empty())
            diagnostic.mends.push_back({"if these words are one name, write " + quoted(name) +
                                            "; else write the word that joins them",
                                        {},
                                        "",
                                        false});
        return diagnostic;
    }
    if (auto values = word == "," ? one_of_these(view, fault.at) : std::nullopt) {
        Diagnostic diagnostic =
            make_diagnostic("syntax.leftover", "the demand cannot be read on from " + what, token);
        diagnostic.mends.push_back(std::move(*values));
        return diagnostic;
    }
    if (word != "," && ends_in_time(view, fault.at)) {  // after a comma stands what is asked too
        Diagnostic diagnostic =
            make_diagnostic("syntax.leftover", "the demand is complete before " + what, token);
        const std::string_view line = view.slice(view.place(view.line_begin(fault.at), fault.at));
        if (word == "and" && line.find(" at least every ") != std::string_view::npos &&
            view.phrase(view.after_blanks(token.end), "no more often than") != 0)
            diagnostic.mends.push_back(
                {"leave out `and`", view.place(token.begin, view.after_blanks(token.end)), "", true});
        else
            diagnostic.mends.push_back(
                {"take out what follows; an exception is a line of its own, `except when`", {}, "", false});
        return diagnostic;
    }
    Diagnostic diagnostic =
        make_diagnostic("syntax.leftover", "the demand cannot be read on from " + what, token);
    diagnostic.mends.push_back({demand_shape(view, fault), {}, "", false});
    return diagnostic;
}

}  // namespace

Diagnostic explain(const Sources& sources, std::uint32_t text, const Fault& fault) {
    const TextView view(sources.text(text).content, text);
    const Place token = view.token(fault.at);
    const std::string_view code = code_of(fault.code);
    switch (fault.code) {
        case FaultCode::spelling: {
            Diagnostic diagnostic =
                make_diagnostic(code, quoted(view.slice(token)) + " is no word of the language", token);
            const std::string right(fault.expected);
            diagnostic.mends.push_back({"write " + quoted(right), token, right, true});
            return diagnostic;
        }
        case FaultCode::nesting:
            return make_diagnostic(code, "conditions are nested deeper than 200 levels", token,
                                   "the 201st level");
        case FaultCode::string:
            if (fault.expected.empty()) {
                return make_diagnostic(code, "the text that this quotation mark opens is never closed",
                                       view.place(fault.at, view.line_end(fault.at)),
                                       "a quotation mark `\"` is missing at its end");
            }
            break;
        default:
            break;
    }
    if (std::optional<Diagnostic> slip = find_slip(view, fault)) return std::move(*slip);
    if (fault.code == FaultCode::item) return bad_item(view, fault);
    if (fault.code == FaultCode::line) return bad_line(view, fault);
    if (fault.code == FaultCode::leftover) return leftover(view, fault);
    Diagnostic diagnostic = missing(view, fault, code);
    if (fault.expected == "an attribute after `times`")
        diagnostic.mends.push_back(
            {"a count is compared with a bare number: leave out `times`", {}, "", false});
    return diagnostic;
}

}  // namespace linelaw::grammar
