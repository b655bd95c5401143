// How single tokens are read, and how faults are met: the PEGTL rules under the rules of rules.hpp. A token
// takes the blanks and comments after it. Only rules.hpp includes this.
#pragma once

#include <algorithm>
#include <cstddef>
#include <string_view>
#include <tao/pegtl.hpp>
#include <tao/pegtl/contrib/analyze_traits.hpp>

#include "grammar/nodes.hpp"
#include "grammar/parse.hpp"
#include "grammar/scan_state.hpp"

namespace linelaw::grammar {

namespace pegtl = tao::pegtl;

// A string as a template argument, so that each rule carries its own words.
template <std::size_t N>
struct Words {
    char text[N]{};
    constexpr Words(const char (&from)[N]) { std::copy_n(from, N, text); }  // NOLINT: converting on purpose
    constexpr std::string_view view() const { return {text, N - 1}; }
};

// ---- tokens
// --------------------------------------------------------------------------------------------------

// What every token shares: `read` gives the token's length at the input's place, or nothing.
template <typename Token>
struct token {
    using rule_t = token;
    using subs_t = pegtl::type_list<>;
    template <typename Input, typename... More>
    static bool match_token(Input& in, ScanState& state, std::size_t length) {
        const std::uint32_t at = state.offset(in.current());
        const std::uint32_t end = state.skip_blanks(at + static_cast<std::uint32_t>(length));
        in.bump(end - at);
        return true;
    }
    template <pegtl::apply_mode, pegtl::rewind_mode, template <typename...> class,
              template <typename...> class, typename Input, typename... More>
    static bool match(Input& in, ScanState& state, More&&...) {
        const std::size_t length = Token::read(state, state.offset(in.current()));
        return length != 0 && match_token(in, state, length);
    }
};

// One or more reserved words; a blank in W is any run of blanks and comments.
template <Words W>
struct word : token<word<W>> {
    static std::size_t read(ScanState& state, std::uint32_t at) { return read_phrase(state, at, W.view()); }
};
template <Words W>
struct sign : token<sign<W>> {
    static std::size_t read(ScanState& state, std::uint32_t at) { return read_symbol(state, at, W.view()); }
};
// The word that begins an item or a line of one; a misspelling of it is reported and read as if it were
// right.
template <Words W>
struct head : token<head<W>> {
    static std::size_t read(ScanState& state, std::uint32_t at) {
        if (const std::size_t length = read_phrase(state, at, W.view())) {
            return state.byte_after_blanks(at + static_cast<std::uint32_t>(length)) == ':' ? 0 : length;
        }
        return state.misspelt(W.view(), at) ? state.word_at(at).size() : 0;
    }
};
struct bare_name : token<bare_name> {
    static std::size_t read(ScanState& state, std::uint32_t at) { return read_name(state, at, false); }
};
struct dotted_name : token<dotted_name> {
    static std::size_t read(ScanState& state, std::uint32_t at) { return read_name(state, at, true); }
};
struct attribute_token : token<attribute_token> {
    static std::size_t read(ScanState& state, std::uint32_t at) { return read_attribute_name(state, at); }
};
struct number_token : token<number_token> {
    static std::size_t read(ScanState& state, std::uint32_t at) { return read_number(state, at); }
};
struct unit_token : token<unit_token> {
    static std::size_t read(ScanState& state, std::uint32_t at) { return read_unit(state, at); }
};
struct date_token : token<date_token> {
    static std::size_t read(ScanState& state, std::uint32_t at) { return read_date(state, at); }
};
struct time_token : token<time_token> {
    static std::size_t read(ScanState& state, std::uint32_t at) { return read_time_of_day(state, at); }
};
struct zone_token : token<zone_token> {
    static std::size_t read(ScanState& state, std::uint32_t at) { return read_zone(state, at); }
};
struct string_token : token<string_token> {
    static std::size_t read(ScanState& state, std::uint32_t at) { return read_string(state, at); }
};

// A string that is certainly closed; for looking ahead, where an open one is no fault yet.
struct closed_string : token<closed_string> {
    static std::size_t read(const ScanState& state, std::uint32_t at) {
        if (at >= state.text().size() || state.text()[at] != '"') return 0;
        return state.string_end(at).value_or(at) - at;
    }
};

// Blanks and comments before the first token.
struct blanks {
    using rule_t = blanks;
    using subs_t = pegtl::type_list<>;
    template <pegtl::apply_mode, pegtl::rewind_mode, template <typename...> class,
              template <typename...> class, typename Input, typename... More>
    static bool match(Input& in, ScanState& state, More&&...) {
        const std::uint32_t at = state.offset(in.current());
        in.bump(state.skip_blanks(at) - at);
        return true;
    }
};

// Looking ahead: the first word of an item, or of a line of the item at hand, as it is written or misspelt.
enum class Begins { item, line, item_for_certain, line_for_certain };
template <Begins What>
struct ahead {
    using rule_t = ahead;
    using subs_t = pegtl::type_list<>;
    template <pegtl::apply_mode, pegtl::rewind_mode, template <typename...> class,
              template <typename...> class, typename Input, typename... More>
    static bool match(Input& in, ScanState& state, More&&...) {
        const std::uint32_t at = state.offset(in.current());
        const bool certain = What == Begins::item_for_certain || What == Begins::line_for_certain;
        const bool item = What == Begins::item || What == Begins::item_for_certain;
        return item ? state.item_begins(at, certain) : state.line_begins(at, certain);
    }
};
using item_ahead = ahead<Begins::item>;
using line_ahead = ahead<Begins::line>;
using certain_item_ahead = ahead<Begins::item_for_certain>;
using certain_line_ahead = ahead<Begins::line_for_certain>;

// ---- faults
// --------------------------------------------------------------------------------------------------

// R must match here; if it does not, the text was expected to hold W, in words.
template <typename R, Words W, FaultCode C = FaultCode::expected>
struct expect {
    using rule_t = expect;
    using subs_t = pegtl::type_list<R>;
    template <pegtl::apply_mode A, pegtl::rewind_mode, template <typename...> class Action,
              template <typename...> class Control, typename Input, typename... More>
    static bool match(Input& in, ScanState& state, More&&... more) {
        const std::uint32_t at = state.offset(in.current());
        if (Control<R>::template match<A, pegtl::rewind_mode::required, Action, Control>(in, state,
                                                                                         more...)) {
            return true;
        }
        state.fail(C, W.view(), at);
    }
};

// Reads R; after a fault in it, goes on at the next line that can be read. Fails only where R fails without
// one.
template <typename R>
struct guarded {
    using rule_t = guarded;
    using subs_t = pegtl::type_list<R>;
    template <pegtl::apply_mode A, pegtl::rewind_mode, template <typename...> class Action,
              template <typename...> class Control, typename Input, typename... More>
    static bool match(Input& in, ScanState& state, More&&... more) {
        const std::uint32_t start = state.offset(in.current());
        const ScanState::Mark before = state.mark(start);
        try {
            return Control<R>::template match<A, pegtl::rewind_mode::required, Action, Control>(in, state,
                                                                                                more...);
        } catch (const Broken&) {
            state.rewind(before);
            const std::uint32_t end = state.resume(start);
            state.skipped(start, end);
            in.bump(end - state.offset(in.current()));
            return true;
        }
    }
};

// R one level deeper in parentheses or the like.
template <typename R>
struct nested {
    using rule_t = nested;
    using subs_t = pegtl::type_list<R>;
    template <pegtl::apply_mode A, pegtl::rewind_mode M, template <typename...> class Action,
              template <typename...> class Control, typename Input, typename... More>
    static bool match(Input& in, ScanState& state, More&&... more) {
        if (state.depth == deepest_nesting) {
            state.fail(FaultCode::nesting, "", state.offset(in.current()));
        }
        ++state.depth;
        const bool matched = Control<R>::template match<A, M, Action, Control>(in, state, more...);
        --state.depth;
        return matched;
    }
};

// R as an item that takes the lines of B.
template <Block B, typename R>
struct in_block {
    using rule_t = in_block;
    using subs_t = pegtl::type_list<R>;
    template <pegtl::apply_mode A, pegtl::rewind_mode M, template <typename...> class Action,
              template <typename...> class Control, typename Input, typename... More>
    static bool match(Input& in, ScanState& state, More&&... more) {
        const Block before = state.block;
        state.block = B;
        const bool matched = Control<R>::template match<A, M, Action, Control>(in, state, more...);
        state.block = before;
        return matched;
    }
};

// Keeps the constructs of the rules that name a `kind`; the others need no control at all.
template <typename Rule>
concept Construct = requires {
    Rule::kind;
};

template <typename Rule>
struct keep : pegtl::normal<Rule> {
    static constexpr bool enable = Construct<Rule>;
    template <typename Input, typename... More>
    static void start(const Input& in, ScanState& state, More&&...) {
        if constexpr (Construct<Rule>) state.open(Rule::kind, state.offset(in.current()));
    }
    template <typename Input, typename... More>
    static void success(const Input& in, ScanState& state, More&&...) {
        if constexpr (Construct<Rule>) state.close(state.offset(in.current()));
    }
    template <typename Input, typename... More>
    static void failure(const Input&, ScanState& state, More&&...) {
        if constexpr (Construct<Rule>) state.drop();
    }
};

}  // namespace linelaw::grammar

// For PEGTL's own search for loops that consume nothing.
namespace tao::pegtl {
template <typename Name, typename Token>
struct analyze_traits<Name, linelaw::grammar::token<Token>> : analyze_any_traits<> {};
template <typename Name>
struct analyze_traits<Name, linelaw::grammar::blanks> : analyze_opt_traits<> {};
template <typename Name, auto What>
struct analyze_traits<Name, linelaw::grammar::ahead<What>> : analyze_opt_traits<> {};
template <typename Name, typename R, auto W, auto C>
struct analyze_traits<Name, linelaw::grammar::expect<R, W, C>> : analyze_seq_traits<R> {};
// A fault always gets on: reading resumes further on.
template <typename Name, auto W, auto C>
struct analyze_traits<Name, linelaw::grammar::expect<failure, W, C>> : analyze_any_traits<> {};
template <typename Name, typename R>
struct analyze_traits<Name, linelaw::grammar::guarded<R>> : analyze_seq_traits<R> {};
template <typename Name, typename R>
struct analyze_traits<Name, linelaw::grammar::nested<R>> : analyze_seq_traits<R> {};
template <typename Name, auto B, typename R>
struct analyze_traits<Name, linelaw::grammar::in_block<B, R>> : analyze_seq_traits<R> {};
}  // namespace tao::pegtl
