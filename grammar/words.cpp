#include "grammar/words.hpp"

#include <algorithm>
#include <utility>
#include <vector>

namespace linelaw::grammar {

namespace {

using std::string_view;

constexpr auto operator_words = std::to_array<string_view>({
    "and",    "or",      "not",   "is",    "in",      "of",  "to",    "from",  "until",
    "since",  "between", "where", "when",  "because", "any", "no",    "each",  "every",
    "least",  "most",    "more",  "less",  "than",    "one", "gives", "means", "grace",
    "within", "unless",  "dwell", "times", "at",      "for", "while", "must",  "should",
});

constexpr auto item_words = std::to_array<string_view>({
    "vocabulary", "policy",     "patient",  "line",   "part",    "event", "state",
    "role",       "never",      "question", "source", "shift",   "term",  "table",
    "clause",     "escalation", "bundle",   "accept", "replace", "drop",  "example",
});

constexpr auto other_line_words = std::to_array<string_view>({
    "edition",      "review",  "owner",     "governs", "time",      "uses",     "builds",    "measured",
    "undocumented", "extends", "given",     "row",     "even",      "after",    "before",    "once",
    "leaves",       "except",  "otherwise", "then",    "overrides", "priority", "reason",    "advice",
    "departs",      "first",   "about",     "until",   "expect",    "observed", "initially", "steps",
});

struct BlockWords {
    Block block;
    std::vector<string_view> words;
};

const std::vector<BlockWords>& block_words() {
    static const std::vector<BlockWords> table = {
        {Block::none, {}},
        {Block::policy_header,
         {"edition", "in", "review", "owner", "governs", "time", "uses", "builds", "measured",
          "undocumented"}},
        {Block::vocabulary_header, {"edition", "extends"}},
        {Block::attributes, {}},
        {Block::event, {}},
        {Block::state, {}},
        {Block::question, {"about", "for"}},
        {Block::source, {}},
        {Block::table, {"given", "row", "first"}},
        {Block::clause, {"for",      "while",  "even",   "at",     "after",     "before",      "once",
                         "must",     "should", "leaves", "except", "otherwise", "then",        "overrides",
                         "priority", "source", "reason", "advice", "departs",   "undocumented"}},
        {Block::escalation, {"first", "then", "no"}},
        {Block::bundle, {"of", "each"}},
        {Block::example, {"line", "patient", "day", "until", "expect", "observed", "on"}},
    };
    return table;
}

const std::vector<string_view>& words_of(Block block) {
    return block_words()[static_cast<std::size_t>(block)].words;
}

template <typename Table>
bool contains(const Table& table, string_view word) {
    return std::find(table.begin(), table.end(), word) != table.end();
}

// How many letters may differ before a word is no longer a misspelling of one of that length.
std::size_t edits_allowed(std::size_t length) {
    return length < 4 ? 0 : length < 6 ? 1 : 2;
}

// Longest first, so that "calendar days" is not read as another unit and "mL/h" not as "mL".
constexpr auto units = std::to_array<string_view>({
    "calendar days",
    "calendar day",
    "units/mL",
    "months",
    "degC",
    "degF",
    "inch",
    "mL/h",
    "month",
    "weeks",
    "years",
    "days",
    "week",
    "year",
    "min",
    "day",
    "mm",
    "cm",
    "mL",
    "kg",
    "s",
    "h",
    "L",
    "g",
    "mg",
    "%",
});

constexpr auto plurals = std::to_array<std::pair<string_view, string_view>>({
    {"day", "days"},
    {"calendar day", "calendar days"},
    {"week", "weeks"},
    {"month", "months"},
    {"year", "years"},
});

// Bytes of `text` that `unit` covers, a blank of the unit being any run of blanks; 0 if it does not begin so.
std::size_t match_unit(string_view text, string_view unit) {
    std::size_t at = 0;
    for (const char c : unit) {
        if (c == ' ') {
            const std::size_t before = at;
            while (at < text.size() && is_space_byte(text[at])) ++at;
            if (at == before) return 0;
        } else if (at < text.size() && text[at] == c) {
            ++at;
        } else {
            return 0;
        }
    }
    const bool goes_on = at < text.size() && unit != "%" && (is_word_byte(text[at]) || text[at] == '/');
    return goes_on ? 0 : at;
}

}  // namespace

bool is_word_byte(char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_';
}

bool is_space_byte(char c) {
    return c == ' ' || c == '\t' || c == '\n' || c == '\r';
}

bool is_operator_word(string_view word) {
    return contains(operator_words, word);
}

bool is_item_word(string_view word) {
    return contains(item_words, word);
}

bool is_head_word(string_view word) {
    return is_item_word(word) || contains(other_line_words, word);
}

bool is_line_word(Block block, string_view word) {
    return contains(words_of(block), word);
}

bool within_edits(string_view a, string_view b, std::size_t limit) {
    if (a.size() > b.size() + limit || b.size() > a.size() + limit) return false;
    // Rows of the edit-distance table; `before` is needed for exchanged neighbours.
    std::vector<std::size_t> before(b.size() + 1), last(b.size() + 1), now(b.size() + 1);
    for (std::size_t j = 0; j <= b.size(); ++j) last[j] = j;
    for (std::size_t i = 1; i <= a.size(); ++i) {
        now[0] = i;
        for (std::size_t j = 1; j <= b.size(); ++j) {
            const std::size_t change = last[j - 1] + (a[i - 1] == b[j - 1] ? 0 : 1);
            now[j] = std::min({change, last[j] + 1, now[j - 1] + 1});
            const bool exchanged = i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1];
            if (exchanged) now[j] = std::min(now[j], before[j - 2] + 1);
        }
        std::swap(before, last);
        std::swap(last, now);
    }
    return last[b.size()] <= limit;
}

string_view nearest_head_word(Block block, string_view word) {
    const std::size_t most = edits_allowed(word.size());
    for (std::size_t limit = 1; limit <= most; ++limit) {
        for (const string_view candidate : words_of(block)) {
            if (candidate.size() > 2 && within_edits(word, candidate, limit)) return candidate;
        }
        for (const string_view candidate : item_words) {
            if (within_edits(word, candidate, limit)) return candidate;
        }
    }
    return {};
}

std::size_t unit_length(string_view text) {
    std::size_t longest = 0;
    for (const string_view unit : units) longest = std::max(longest, match_unit(text, unit));
    return longest;
}

std::string canonical_unit(string_view number, string_view unit) {
    std::string words;
    for (const char c : unit) {
        if (!is_space_byte(c)) {
            words += c;
        } else if (!words.empty() && words.back() != ' ') {
            words += ' ';
        }
    }
    for (const auto& [one, many] : plurals) {
        if (words == one || words == many) return std::string(number == "1" ? one : many);
    }
    return words;
}

}  // namespace linelaw::grammar
