#include "grammar/scan_state.hpp"

#include <algorithm>

#include "grammar/text_view.hpp"

namespace linelaw::grammar {

namespace {

bool is_lower(char c) {
    return c >= 'a' && c <= 'z';
}
bool is_digit(char c) {
    return c >= '0' && c <= '9';
}
bool is_letter(char c) {
    return is_lower(c) || (c >= 'A' && c <= 'Z');
}

// The byte at `at`, or NUL past the end.
char byte(std::string_view text, std::size_t at) {
    return at < text.size() ? text[at] : '\0';
}

std::size_t digits(std::string_view text, std::size_t at) {
    std::size_t count = 0;
    while (is_digit(byte(text, at + count))) ++count;
    return count;
}

// Lower case, digits, single underscores between them; not glued to anything that would make it another word.
std::size_t name_segment(std::string_view text, std::size_t at) {
    if (!is_lower(byte(text, at))) return 0;
    std::size_t end = at;
    while (is_word_byte(byte(text, end))) {
        const char c = text[end];
        const bool lone_underscore = c == '_' && is_word_byte(byte(text, end + 1)) && text[end + 1] != '_';
        if (!is_lower(c) && !is_digit(c) && !lone_underscore) return 0;
        ++end;
    }
    const bool hyphenated = byte(text, end) == '-' && is_word_byte(byte(text, end + 1));
    return hyphenated ? 0 : end - at;
}

}  // namespace

std::uint32_t ScanState::skip_blanks(std::uint32_t at) {
    std::size_t p = at;
    for (;;) {
        while (p < text_.size() && is_space_byte(text_[p])) ++p;
        if (byte(text_, p) != '#') return static_cast<std::uint32_t>(p);
        std::size_t end = std::min(text_.find('\n', p), text_.size());
        const auto begin = static_cast<std::uint32_t>(p);
        p = end;
        if (!out_.comments.empty() && out_.comments.back().place.begin >= begin) continue;
        while (is_space_byte(text_[end - 1])) --end;
        out_.comments.push_back({std::string(text_.substr(begin + 1, end - begin - 1)),
                                 {number_, begin, static_cast<std::uint32_t>(end)}});
    }
}

bool ScanState::at_line_start(std::uint32_t at) const {
    while (at > 0 && (text_[at - 1] == ' ' || text_[at - 1] == '\t')) --at;
    return at == 0 || text_[at - 1] == '\n';
}

std::string_view ScanState::word_at(std::uint32_t at) const {
    std::size_t end = at;
    while (is_word_byte(byte(text_, end))) ++end;
    return text_.substr(at, end - at);
}

char ScanState::byte_after_blanks(std::uint32_t at) const {
    while (at < text_.size() && (text_[at] == ' ' || text_[at] == '\t')) ++at;
    return byte(text_, at);
}

// A quotation mark after a blank and before a letter opens a string rather than closing one: then it is the
// string before it that somebody forgot to close.
std::optional<std::uint32_t> ScanState::string_end(std::uint32_t at) const {
    std::size_t p = at + 1;
    for (;; ++p) {
        p = text_.find_first_of("\"\\", p);
        if (p == std::string_view::npos) return std::nullopt;
        if (text_[p] == '"') break;
        if (byte(text_, p + 1) == '"') ++p;
    }
    const char next = byte(text_, p + 1);
    const bool ends_a_line = next == '\0' || next == ',' || next == ')' || next == '#' || is_space_byte(next);
    const bool opens = p > at + 1 && is_space_byte(text_[p - 1]) && !ends_a_line;
    if (opens) return std::nullopt;
    return static_cast<std::uint32_t>(p + 1);
}

// ---- constructs
// ----------------------------------------------------------------------------------------------

// What a rule kept before it was given up lies at or after the place that reading goes back to.
void ScanState::forget_from(std::uint32_t at) {
    const std::size_t innermost = open_.empty() ? 0 : open_.back() + std::size_t{1};
    while (out_.nodes.size() > innermost && out_.nodes.back().begin >= at) out_.nodes.pop_back();
}

void ScanState::open(Kind kind, std::uint32_t at) {
    forget_from(at);
    open_.push_back(static_cast<std::uint32_t>(out_.nodes.size()));
    out_.nodes.push_back({kind, at, at, 0});
}

void ScanState::close(std::uint32_t at) {
    forget_from(at);
    Node& node = out_.nodes[open_.back()];
    open_.pop_back();
    node.end = std::max(node.begin, trimmed(at));
    node.next = static_cast<std::uint32_t>(out_.nodes.size());
}

void ScanState::drop() {
    out_.nodes.resize(open_.back());
    open_.pop_back();
}

// The end of the last token before `at`: without the blanks and comments between.
std::uint32_t ScanState::trimmed(std::uint32_t at) const {
    auto after = std::upper_bound(out_.comments.begin(), out_.comments.end(), at,
                                  [](std::uint32_t place, const Comment& c) { return place < c.place.end; });
    for (;;) {
        while (at > 0 && is_space_byte(text_[at - 1])) --at;
        while (after != out_.comments.begin() && std::prev(after)->place.end > at) --after;
        if (after == out_.comments.begin() || std::prev(after)->place.end != at) return at;
        at = std::prev(after)->place.begin;
        --after;
    }
}

void ScanState::rewind(const Mark& mark) {
    out_.nodes.resize(mark.nodes);
    open_.resize(mark.open);
    depth = mark.depth;
    block = mark.block;
}

// ---- faults
// --------------------------------------------------------------------------------------------------

void ScanState::fail(FaultCode code, std::string_view expected, std::uint32_t at) {
    fault_at_ = at;
    out_.faults.push_back({code, expected, at, block});
    throw Broken{};
}

std::string_view ScanState::nearest(std::uint32_t at) {
    if (nearest_at_ == at && nearest_block_ == block) return nearest_;
    nearest_at_ = at;
    nearest_block_ = block;
    nearest_ = {};
    const std::string_view word = word_at(at);
    const char next = byte(text_, at + word.size());
    const bool could_be = at_line_start(at) && word.size() < 24 && next != '.' && next != '-' &&
                          byte_after_blanks(at + static_cast<std::uint32_t>(word.size())) != ':' &&
                          !is_head_word(word) && !is_operator_word(word);
    if (could_be) nearest_ = nearest_head_word(block, lower(word));
    return nearest_;
}

bool ScanState::misspelt(std::string_view word, std::uint32_t at) {
    const std::string_view near = nearest(at);
    if (near.empty() || near != word) return false;
    const bool said = std::any_of(out_.faults.rbegin(), out_.faults.rend(), [at](const Fault& fault) {
        return fault.at == at && fault.code == FaultCode::spelling;
    });
    if (!said) out_.faults.push_back({FaultCode::spelling, near, at, block});
    return true;
}

// Whether an attribute is declared at the next token: a name and a colon.
bool ScanState::attribute_follows(std::uint32_t at) {
    at = skip_blanks(at);
    const std::size_t name = read_attribute_name(*this, at);
    return name != 0 && byte_after_blanks(at + static_cast<std::uint32_t>(name)) == ':';
}

bool ScanState::item_begins(std::uint32_t at, bool certain) {
    const std::string_view word = word_at(at);
    const auto after = static_cast<std::uint32_t>(at + word.size());
    if (byte(text_, after) == '.' || byte_after_blanks(after) == ':') return false;
    if (word == "set") return read_phrase(*this, at, "set aside") != 0;
    if (block == Block::example && (word == "line" || word == "patient")) return attribute_follows(after);
    return is_item_word(word) || (!certain && is_item_word(nearest(at)));
}

bool ScanState::line_begins(std::uint32_t at, bool certain) {
    const std::string_view word = word_at(at);
    if (block == Block::attributes || block == Block::event) {
        const std::size_t length = read_attribute_name(*this, at);
        if (length != 0 && byte_after_blanks(at + static_cast<std::uint32_t>(length)) == ':') return true;
    }
    const auto after = static_cast<std::uint32_t>(at + word.size());
    if (byte(text_, after) == '.' || byte_after_blanks(after) == ':') return false;
    if (word == "at")
        return is_line_word(block, word) && read_phrase(*this, at, "at least") == 0 &&
               read_phrase(*this, at, "at most") == 0;
    return is_line_word(block, word) || (!certain && is_line_word(block, nearest(at)));
}

// A line as far in as the one with the fault is the next line of the item, even if its first word is not
// known.
bool ScanState::is_next_line(std::uint32_t at, std::uint32_t indent) const {
    return indent != 0 && indent == indentation(at) && is_lower(byte(text_, at));
}

// At the left margin and after a blank line: there stands an item, even if its word is not known.
bool ScanState::at_margin(std::uint32_t at) const {
    if (at == 0 || text_[at - 1] != '\n' || !is_letter(byte(text_, at))) return false;
    std::uint32_t before = at - 1;
    while (before > 0 && (text_[before - 1] == ' ' || text_[before - 1] == '\t' || text_[before - 1] == '\r'))
        --before;
    return before == 0 || text_[before - 1] == '\n';
}

// How far `at` is in from the start of its line; 0 where something stands before it.
std::uint32_t ScanState::indentation(std::uint32_t at) const {
    std::uint32_t begin = at;
    while (begin > 0 && (text_[begin - 1] == ' ' || text_[begin - 1] == '\t')) --begin;
    return begin == 0 || text_[begin - 1] == '\n' ? at - begin : 0;
}

std::uint32_t ScanState::resume(std::uint32_t start) {
    std::uint32_t at = fault_at_;
    const std::uint32_t indent = block == Block::none ? 0 : indentation(start);
    const auto begins = [this](std::uint32_t place) {
        return at_line_start(place) && (item_begins(place) || line_begins(place));
    };
    const auto can_go_on = [&](std::uint32_t place) {
        return begins(place) || is_next_line(place, indent) || at_margin(place);
    };
    if (at > start && begins(at)) return at;
    while (at < text_.size()) {
        const char c = text_[at];
        if (c == '"') {
            at = string_end(at).value_or(at + 1);
        } else if (c == '#' || c == '\n') {
            at = skip_blanks(at);
            if (at > start && can_go_on(at)) return at;
        } else {
            ++at;
        }
    }
    return at;
}

// ---- single tokens
// -------------------------------------------------------------------------------------------

std::size_t read_phrase(ScanState& state, std::uint32_t at, std::string_view phrase) {
    const std::string_view text = state.text();
    std::uint32_t p = at;
    for (const char c : phrase) {
        if (c == ' ') {
            const std::uint32_t end = state.skip_blanks(p);
            if (end == p) return 0;
            p = end;
        } else if (byte(text, p) == c) {
            ++p;
        } else {
            return 0;
        }
    }
    const bool longer_word =
        is_word_byte(byte(text, p)) || (byte(text, p) == '.' && is_lower(byte(text, p + 1)));
    return longer_word ? 0 : p - at;
}

std::size_t read_symbol(const ScanState& state, std::uint32_t at, std::string_view symbol) {
    return state.text().substr(std::min<std::size_t>(at, state.text().size()), symbol.size()) == symbol
               ? symbol.size()
               : 0;
}

std::size_t read_name(const ScanState& state, std::uint32_t at, bool dotted) {
    const std::string_view text = state.text();
    std::size_t length = name_segment(text, at);
    if (length == 0) return 0;
    const std::string_view first = text.substr(at, length);
    if (byte(text, at + length) != '.' || !is_word_byte(byte(text, at + length + 1))) {
        if (is_operator_word(first)) return 0;
        const auto end = static_cast<std::uint32_t>(at + length);
        const bool begins_a_line =
            is_head_word(first) || is_line_word(state.block, first) || state.byte_after_blanks(end) == ':';
        return begins_a_line && state.at_line_start(at) ? 0 : length;
    }
    if (!dotted) return 0;
    while (byte(text, at + length) == '.' && is_word_byte(byte(text, at + length + 1))) {
        const std::size_t segment = name_segment(text, at + length + 1);
        if (segment == 0) return 0;
        length += 1 + segment;
    }
    return length;
}

std::size_t read_attribute_name(const ScanState& state, std::uint32_t at) {
    return name_segment(state.text(), at);
}

std::size_t read_number(const ScanState& state, std::uint32_t at) {
    const std::string_view text = state.text();
    const std::size_t sign = byte(text, at) == '-' ? 1 : 0;
    std::size_t length = digits(text, at + sign);
    if (length == 0) return 0;
    length += sign;
    if (byte(text, at + length) == '.') {
        const std::size_t fraction = digits(text, at + length + 1);
        if (fraction != 0) length += 1 + fraction;
    }
    const char next = byte(text, at + length);
    const bool of_a_date_or_time = (next == '-' || next == ':') && is_digit(byte(text, at + length + 1));
    return of_a_date_or_time ? 0 : length;
}

std::size_t read_unit(const ScanState& state, std::uint32_t at) {
    const std::string_view text = state.text();
    const std::size_t length = unit_length(text.substr(std::min<std::size_t>(at, text.size())));
    if (length == 0 || text.substr(at, length) != "day") return length;
    // `lumens 2` and then, on the next line, `day 3 09:00`: no unit.
    std::size_t p = at + length;
    while (is_space_byte(byte(text, p))) ++p;
    const std::size_t day = digits(text, p);
    if (day == 0) return length;
    p += day;
    while (is_space_byte(byte(text, p))) ++p;
    return digits(text, p) != 0 && byte(text, p + digits(text, p)) == ':' ? 0 : length;
}

std::size_t read_date(const ScanState& state, std::uint32_t at) {
    const std::string_view text = state.text();
    const bool date = digits(text, at) == 4 && byte(text, at + 4) == '-' && digits(text, at + 5) == 2 &&
                      byte(text, at + 7) == '-' && digits(text, at + 8) == 2;
    return date && !is_word_byte(byte(text, at + 10)) ? 10 : 0;
}

std::size_t read_time_of_day(const ScanState& state, std::uint32_t at) {
    const std::string_view text = state.text();
    const std::size_t hours = digits(text, at);
    if (hours == 0 || hours > 2 || byte(text, at + hours) != ':' || digits(text, at + hours + 1) != 2)
        return 0;
    return is_word_byte(byte(text, at + hours + 3)) ? 0 : hours + 3;
}

std::size_t read_zone(const ScanState& state, std::uint32_t at) {
    const std::string_view text = state.text();
    if (!is_letter(byte(text, at)) || (state.at_line_start(at) && is_head_word(state.word_at(at)))) return 0;
    std::size_t end = at;
    while (is_word_byte(byte(text, end)) || byte(text, end) == '/' || byte(text, end) == '+' ||
           byte(text, end) == '-') {
        ++end;
    }
    return end - at;
}

std::size_t read_string(ScanState& state, std::uint32_t at) {
    if (byte(state.text(), at) != '"') return 0;
    const std::optional<std::uint32_t> end = state.string_end(at);
    if (!end) state.fail(FaultCode::string, "", at);
    return *end - at;
}

}  // namespace linelaw::grammar
