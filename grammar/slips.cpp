#include "grammar/slips.hpp"

#include <array>
#include <string>
#include <utility>

#include "grammar/columns.hpp"
#include "grammar/demand_shapes.hpp"
#include "grammar/number_slips.hpp"
#include "grammar/slip_words.hpp"
#include "grammar/space_slips.hpp"
#include "grammar/words.hpp"

namespace linelaw::grammar {

namespace {

using std::string;
using std::string_view;

// ---- other words for what the language has
// -------------------------------------------------------------------

struct Wording {
    string_view wrong;
    string_view right;
    bool safe;
};

constexpr auto wordings = std::to_array<Wording>({
    {"is greater than or equal to", "at least", true},
    {"greater than or equal to", "at least", true},
    {"is less than or equal to", "at most", true},
    {"less than or equal to", "at most", true},
    {"is equal to", "is", true},
    {"is at least", "at least", true},
    {"is at most", "at most", true},
    {"is more than", "more than", true},
    {"is less than", "less than", true},
    {"is greater than", "more than", true},
    {"is between", "between", true},
    {"greater than", "more than", true},
    {"larger than", "more than", true},
    {"bigger than", "more than", true},
    {"higher than", "more than", true},
    {"longer than", "more than", true},
    {"older than", "more than", true},
    {"over", "more than", false},
    {"above", "more than", true},
    {"exceeds", "more than", true},
    {"exceeding", "more than", true},
    {"smaller than", "less than", true},
    {"fewer than", "less than", true},
    {"lower than", "less than", true},
    {"shorter than", "less than", true},
    {"younger than", "less than", true},
    {"under", "less than", false},
    {"below", "less than", true},
    {"no more than", "at most", false},
    {"not more than", "at most", true},
    {"up to", "at most", true},
    {"no less than", "at least", true},
    {"not less than", "at least", true},
    {"no fewer than", "at least", true},
    {"equals", "is", true},
    {"equal to", "is", true},
    {"==", "is", true},
    {"is in", "is one of", true},
    {"is any of", "is one of", true},
    {"is either", "is one of", true},
    {"is none of", "is not one of", true},
    {"isn't", "is not", true},
    {"no later than", "within", false},
    {"not later than", "within", false},
    {"at the latest after", "within", false},
    {"at least once every", "at least every", true},
    {"at least once each", "each", true},
    {"once every", "at least every", false},
    {"once a week", "at least every 7 days", false},
    {"once per week", "at least every 7 days", false},
    {"once a day", "each calendar day", false},
    {"once per day", "each calendar day", false},
    {"once a shift", "each shift", true},
    {"once per shift", "each shift", true},
    {"no more frequently than every", "no more often than every", true},
    {"not more often than every", "no more often than every", true},
    {"not more often than", "no more often than every", true},
    {"each day shift and each night shift", "each shift", false},
    {"each day and night shift", "each shift", false},
    {"each day shift and night shift", "each shift", false},
    {"each day", "each calendar day", false},
    {"every day", "each calendar day", false},
    {"every shift", "each shift", true},
    {"twice each shift", "at least 2 times each shift", false},
    {"twice a shift", "at least 2 times each shift", false},
    {"twice per shift", "at least 2 times each shift", false},
    {"twice a day", "at least 2 times each calendar day", false},
    {"twice daily", "at least 2 times each calendar day", false},
    {"every week", "at least every 7 days", false},
    {"weekly", "at least every 7 days", false},
    {"every hour", "at least every 1 h", false},
    {"hourly", "at least every 1 h", false},
    {"daily", "each calendar day", false},
    {"grace period of", "grace", true},
    {"grace of", "grace", true},
    {"within the last", "in the last", true},
    {"in last", "in the last", true},
    {"in the past", "in the last", true},
    {"during the last", "in the last", true},
    {"&&", "and", true},
    {"&", "and", true},
    {"||", "or", true},
    {"\xE2\x89\xA5", "at least", true},
    {"\xE2\x89\xA4", "at most", true},
    {"\xE2\x89\xA0", "is not", true},
    {"but not", "and not", true},
});

std::optional<Diagnostic> wording_slip(const TextView& view, const Fault& fault) {
    // The words may begin at the fault or, where the first of them was read as right, one or two words before
    // it.
    std::uint32_t begin = fault.at;
    for (int back = 0; back < 3; ++back) {
        for (const Wording& one : wordings) {
            const std::uint32_t end = view.phrase(begin, one.wrong);
            if (end <= fault.at || end == 0) continue;
            // `once every shift`: the one word for it says that it is once.
            const Place before = view.token_before(begin);
            const bool once = one.right.substr(0, 5) == "each " && view.slice(before) == "once";
            const Place two_before = view.token_before(before.begin);
            const bool at_least = one.right.substr(0, 9) == "at least " && view.slice(before) == "least" &&
                                  view.slice(two_before) == "at";
            const Place place = view.place(at_least ? two_before.begin : once ? before.begin : begin, end);
            return slip("syntax.wording", quoted(view.slice(place)) + " is written " + quoted(one.right),
                        place, "", write(one.right, place, one.safe));
        }
        const Place before = view.token_before(begin);
        if (before.begin == before.end) break;
        begin = before.begin;
    }
    return std::nullopt;
}

// First words of lines that others would write.
constexpr auto head_wordings = std::to_array<Wording>({
    {"each", "for each", false},
    {"during", "while", false},
    {"unless", "except when", false},
    {"except", "except when", true},
    {"shall", "must", false},
    {"ought", "should", false},
    {"because", "reason", false},
    {"note", "advice", false},
    {"rule", "clause", false},
    {"ladder", "escalation", false},
});

std::optional<Diagnostic> head_slip(const TextView& view, const Fault& fault) {
    if (!view.is_line_start(fault.at)) return std::nullopt;
    if (fault.code != FaultCode::leftover && fault.code != FaultCode::item) return std::nullopt;
    for (const string_view word : {"when", "whenever", "if"}) {
        const std::uint32_t end = view.phrase(fault.at, word);
        if (end == 0 || fault.block != Block::clause) continue;
        return slip("syntax.wording", "no line begins with " + quoted(word), view.place(fault.at, end), "",
                    {"write `after` where an event follows that calls for something, `at` where something is "
                     "done at the event, and `while` where a condition follows",
                     {},
                     "",
                     false});
    }
    for (const Wording& one : head_wordings) {
        const std::uint32_t end = view.phrase(fault.at, one.wrong);
        if (end == 0 || !(is_item_word(one.right) || fault.block == Block::clause)) continue;
        const Place place = view.place(fault.at, end);
        return slip("syntax.wording", "no line begins with " + quoted(one.wrong), place, "",
                    write(one.right, place, one.safe));
    }
    return std::nullopt;
}

// ---- names
// ---------------------------------------------------------------------------------------------------

// As the name was probably meant: lower case, underscores for hyphens, no two in a row.
string right_name(string_view written) {
    string name;
    for (const char c : lower(written)) {
        const char kept = c == '-' ? '_' : c;
        if (kept == '_' && (name.empty() || name.back() == '_')) continue;
        name += kept;
    }
    while (!name.empty() && name.back() == '_') name.pop_back();
    return name;
}

std::optional<Diagnostic> name_slip(const TextView& view, const Fault& fault) {
    Place place = view.wide_word(fault.at);
    const string_view written = view.slice(place);
    if (written.empty() || is_number(written.substr(0, 1))) return std::nullopt;
    if (fault.code == FaultCode::item) return std::nullopt;  // a heading is no name
    const bool plain_letters =
        written.find_first_not_of("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-.") ==
        string_view::npos;
    if (!plain_letters) {
        if (fault.code != FaultCode::name && fault.code != FaultCode::events) return std::nullopt;
        return make_diagnostic(
            "syntax.name",
            quoted(written) + " is no name: names are lower-case letters, digits and underscores", place);
    }
    const string name = right_name(written);
    if (name == written || name.empty() || is_operator_word(name)) return std::nullopt;
    // A word of the language in capitals: the next line, or `And`.
    const string_view what = written.find('-') != string_view::npos ? "hyphens"
                             : lower(written) != written            ? "capital letters"
                                                         : "two underscores in a row, or one at an end";
    return slip("syntax.name", quoted(written) + " is no name: names have no " + string(what), place, "",
                write(name, place, true));
}

std::optional<Diagnostic> capital_word_slip(const TextView& view, const Fault& fault) {
    const Place place = view.token(fault.at);
    const string_view written = view.slice(place);
    const string small = lower(written);
    if (small == written || !(is_operator_word(small) || is_head_word(small))) return std::nullopt;
    return slip("syntax.spelling", "the words of the language are written in small letters: " + quoted(small),
                place, "", write(small, place, true));
}

// The words that stand in backticks in what was expected, and those that join the parts of a line.
std::optional<Diagnostic> spelling_slip(const TextView& view, const Fault& fault) {
    static constexpr auto joining = std::to_array<string_view>(
        {"and", "where", "within", "because", "unless", "grace", "every", "each", "times", "since", "until",
         "category", "initially", "complication", "comparable", "gives"});
    const Place place = view.token(fault.at);
    const string_view written = view.slice(place);
    const std::size_t limit = written.size() < 4 ? 0 : written.size() < 6 ? 1 : 2;
    if (limit == 0 || is_operator_word(written) || is_head_word(written)) return std::nullopt;
    const auto found = [&](string_view word) {
        return word.size() > 3 && within_edits(written, word, limit);
    };
    // A word of four letters may well be another one: `ever` is not `every`.
    const bool safe = written.size() > 4;
    const auto said = [&](string_view word) {
        return slip("syntax.spelling", quoted(written) + " is no word of the language", place, "",
                    write(word, place, safe));
    };
    if (fault.code == FaultCode::leftover && !view.is_line_start(fault.at)) {
        for (const string_view word : joining) {
            if (found(word)) return said(word);
        }
    }
    string_view rest = fault.expected;
    while (fault.code != FaultCode::name && rest.find('`') != string_view::npos) {
        rest.remove_prefix(rest.find('`') + 1);
        string_view words = rest.substr(0, rest.find('`'));
        rest.remove_prefix(std::min(rest.size(), words.size() + 1));
        words = words.substr(0, words.find(' '));
        if (found(words)) return said(words);
    }
    return std::nullopt;
}

// ---- quotation marks, colons, signs
// --------------------------------------------------------------------------

std::optional<Diagnostic> quotation_slip(const TextView& view, const Fault& fault) {
    const std::uint32_t end = view.line_end(fault.at);
    const Place rest = view.place(fault.at, end);
    const string_view words = view.slice(rest);
    for (const string_view curly : {"\xE2\x80\x9C", "\xE2\x80\x9D", "\xE2\x80\x9E", "\xC2\xAB", "'"}) {
        if (words.substr(0, curly.size()) != curly) continue;
        const Place place = view.place(fault.at, fault.at + static_cast<std::uint32_t>(curly.size()));
        return slip("syntax.string", "a text stands in straight quotation marks, `\"`", place, "",
                    {"write `\"` before and after the text", {}, "", false});
    }
    if (words == ":" && fault.expected.find("sentence") != string_view::npos)
        return slip("syntax.leftover", "no `:` is needed after a name", rest, "",
                    {"leave out the `:`", rest, "", true});
    const bool a_string_may_stand =
        fault.code == FaultCode::string || fault.expected.find("quotation marks") != string_view::npos;
    if (!a_string_may_stand || words.empty() || view.byte(fault.at) == '"') return std::nullopt;
    const Place first = view.token(fault.at);
    const bool next_line = is_head_word(view.slice(first)) || view.byte(view.after_blanks(first.end)) == ':';
    if (next_line && view.is_line_start(fault.at)) return std::nullopt;
    const bool closed = words.size() > 1 && words.back() == '"' && words.find('"') == words.size() - 1;
    if (closed) {
        const Place opening = view.place(fault.at, fault.at);
        return slip("syntax.string", "the quotation mark that opens this text is missing",
                    view.token(fault.at), "the text begins here",
                    {"write `\"` before it", opening, "\"", true});
    }
    if (words.find('"') != string_view::npos) return std::nullopt;
    // Only where nothing can follow the text on its line is it certain where it ends.
    const bool to_the_end = fault.expected.find("sentence") != string_view::npos ||
                            fault.expected.find("reason") != string_view::npos ||
                            fault.expected.find("advice") != string_view::npos;
    if (!to_the_end) {
        return slip("syntax.string", quoted(view.slice(first)) + " stands in no quotation marks", first, "",
                    {"put the text that begins here in quotation marks", {}, "", false});
    }
    // A step of a ladder, without its word.
    if (const Place verb = view.token(fault.at);
        view.slice(verb) == "notify" && view.is_line_start(fault.at) && fault.block == Block::escalation)
        return slip("syntax.string", "a step begins with `first` or `then`", verb, "",
                    {"write " +
                         quoted("first " + string(words) +
                                (words.find(" within ") == string_view::npos ? " within 15 min" : "")) +
                         ", with the time of your policy",
                     {},
                     "",
                     false});
    // Without a full stop it may go on in the next line; behind a name it may belong to the name.
    const bool whole = words.back() == '.' && view.is_line_start(fault.at);
    return slip("syntax.string", "this text stands in no quotation marks", rest, "",
                {"put it in quotation marks", rest, "\"" + string(words) + "\"", whole});
}

constexpr auto type_words = std::to_array<string_view>(
    {"flag", "one", "count", "number", "percent", "age", "length", "duration", "volume", "rate", "mass",
     "temperature", "concentration", "time", "text", "key"});

std::optional<Diagnostic> colon_slip(const TextView& view, const Fault& fault) {
    if (fault.block != Block::attributes && fault.block != Block::event) return std::nullopt;
    if (fault.code != FaultCode::leftover || !view.is_line_start(fault.at)) return std::nullopt;
    const Place name = view.token(fault.at);
    const std::uint32_t at = view.after_blanks(name.end);
    const string_view next = view.slice(view.token(at));
    bool types = view.slice(name) == "steps";
    for (const string_view word : type_words) types = types || next == word;
    if (!types) return std::nullopt;
    const string attribute = string(view.slice(name));
    return slip("syntax.expected", "expected `:` between the name " + quoted(attribute) + " and its type",
                name, "a colon belongs after this",
                {"write `" + attribute + " :`", view.place(name.end, name.end), " :", true});
}

std::optional<Diagnostic> sign_slip(const TextView& view, const Fault& fault) {
    const Place place = view.token(fault.at);
    const string_view sign = view.slice(place);
    if (sign == ":" && fault.code == FaultCode::condition)
        return slip("syntax.condition", "no `:` is needed here", place, "",
                    {"leave out the `:`", place, "", true});
    if (sign != "." && sign != ";" && sign != ",") return std::nullopt;
    if (fault.code != FaultCode::leftover) return std::nullopt;
    if (view.line_end(fault.at) != place.end) return std::nullopt;
    return slip("syntax.leftover", "no " + quoted(sign) + " is needed at the end of a line", place, "",
                {"leave out the " + quoted(sign), place, "", true});
}

// ---- articles
// -----------------------------------------------------------------------------------------

// `the doctor`, `an infusion`: names stand by themselves.
std::optional<Diagnostic> article_slip(const TextView& view, const Fault& fault) {
    const bool a_name_may_stand = fault.code != FaultCode::quantity && fault.code != FaultCode::string &&
                                  fault.code != FaultCode::date && fault.code != FaultCode::type;
    const bool the_may_stand = fault.expected.find("the same") != string_view::npos ||
                               fault.expected.find("in the") != string_view::npos;
    if (!a_name_may_stand || the_may_stand || view.is_line_start(fault.at)) return std::nullopt;
    if (!shift_shape(view, fault).empty()) return std::nullopt;  // `before the end of the shift`
    for (const Place place : {view.token(fault.at), view.token_before(fault.at)}) {
        const string_view word = view.slice(place);
        if ((word != "a" && word != "an" && word != "the") || view.is_line_start(place.begin)) continue;
        const Place with_blank = view.place(place.begin, view.after_blanks(place.end));
        return slip("syntax.leftover", quoted(word) + " is not needed: names stand by themselves", place, "",
                    {"leave out " + quoted(word), with_blank, "", true});
    }
    return std::nullopt;
}

// ---- the time of a response
// -----------------------------------------------------------------------------------------

// `after fever within 1 h`: how soon stands with what is done.
std::optional<Diagnostic> misplaced_time_slip(const TextView& view, const Fault& fault) {
    if (fault.code != FaultCode::leftover || fault.block != Block::clause) return std::nullopt;
    const Place word = view.token(fault.at);
    const string_view line = view.slice(view.line_word(fault.at));
    const bool names_the_moment = line == "after" || line == "at" || line == "before" || line == "once";
    if (view.slice(word) != "within" || !names_the_moment) return std::nullopt;
    const std::uint32_t end = view.line_end(fault.at);
    const string time(view.slice(view.place(word.begin, end)));
    return slip("syntax.leftover", "how soon something is done stands in the line that says what is done",
                view.place(word.begin, end), "this belongs there",
                {"take it out here, and write " + quoted("must EVENT " + time), {}, "", false});
}

// ---- dates and times
// -----------------------------------------------------------------------------------------

std::optional<Diagnostic> date_slip(const TextView& view, const Fault& fault) {
    if (fault.code != FaultCode::date) return std::nullopt;
    std::uint32_t end = fault.at;
    while (is_word_byte(view.byte(end)) || view.byte(end) == '/' || view.byte(end) == '-' ||
           view.byte(end) == '.' || view.byte(end) == ':') {
        ++end;
    }
    const Place place = view.place(fault.at, end);
    const string_view written = view.slice(place);
    if (written.empty() || !is_number(written.substr(0, 1))) return std::nullopt;
    const bool wants_date = fault.expected.find("a date") != string_view::npos;
    if (wants_date) {
        return slip("syntax.date", quoted(written) + " is no date as the language writes it", place,
                    "expected year, month and day, such as `2026-03-01`",
                    {"write the year with four digits, the month and the day with two, joined by hyphens",
                     {},
                     "",
                     false});
    }
    if (written.size() == 4 && written.find_first_not_of("0123456789") == string_view::npos) {
        const string right = string(written.substr(0, 2)) + ":" + string(written.substr(2));
        return slip("syntax.date", "a time of day is written with a colon: " + quoted(right), place, "",
                    write(right, place, true));
    }
    return std::nullopt;
}

}  // namespace

std::optional<Diagnostic> find_slip(const TextView& view, const Fault& fault) {
    if (view.at_end(fault.at)) return std::nullopt;
    using Finder = std::optional<Diagnostic> (*)(const TextView&, const Fault&);
    for (const Finder finder :
         {odd_space_slip, date_slip, decimal_comma_slip, figure_slip, unit_slip, wording_slip,
          spaced_name_slip, quotation_slip, head_slip, colon_slip, spelling_slip, capital_word_slip,
          article_slip, name_slip, sign_slip, misplaced_time_slip, two_words_slip}) {
        if (std::optional<Diagnostic> found = finder(view, fault)) return found;
    }
    return std::nullopt;
}

}  // namespace linelaw::grammar
