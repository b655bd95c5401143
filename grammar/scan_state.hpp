// Where a scan stands: the text, the constructs kept so far, the faults met, and how single tokens are told
// apart. Knows no PEGTL; tokens.hpp makes rules of it.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string_view>
#include <vector>

#include "grammar/nodes.hpp"
#include "grammar/words.hpp"

namespace linelaw::grammar {

// Thrown at a fault, caught by the nearest `guarded`.
struct Broken {};

class ScanState {
  public:
    ScanState(std::string_view text, std::uint32_t number, Scan& out)
        : text_(text), number_(number), out_(out) {}

    std::string_view text() const { return text_; }
    std::uint32_t offset(const char* p) const { return static_cast<std::uint32_t>(p - text_.data()); }

    // The end of the blanks and comments that begin at `at`. Keeps the comments that it has not seen yet.
    std::uint32_t skip_blanks(std::uint32_t at);
    // Whether only blanks stand between the start of the line and `at`.
    bool at_line_start(std::uint32_t at) const;
    // The word at `at`: letters, digits and underscores.
    std::string_view word_at(std::uint32_t at) const;
    // The first byte after the blanks (no comments) that follow `at`, or NUL.
    char byte_after_blanks(std::uint32_t at) const;
    // The end of the string that opens at `at`; nothing if it is never closed or only seems to be.
    std::optional<std::uint32_t> string_end(std::uint32_t at) const;

    void open(Kind kind, std::uint32_t at);
    void close(std::uint32_t at);
    void drop();  // the innermost open construct did not match

    [[noreturn]] void fail(FaultCode code, std::string_view expected, std::uint32_t at);
    // Whether `word` may be read as the misspelt word at `at`; says so once.
    bool misspelt(std::string_view word, std::uint32_t at);
    // `certain`: as it is written, not misspelt.
    bool item_begins(std::uint32_t at, bool certain = false);
    bool line_begins(std::uint32_t at, bool certain = false);
    // The next place after the latest fault where reading can go on; past `start`, so that it always gets on.
    std::uint32_t resume(std::uint32_t start);

    struct Mark {
        std::size_t nodes;
        std::size_t open;
        std::uint32_t depth;
        Block block;
    };
    // Where reading stands at `at`, without what was kept while looking ahead of it.
    Mark mark(std::uint32_t at) {
        forget_from(at);
        return {out_.nodes.size(), open_.size(), depth, block};
    }
    void rewind(const Mark& mark);
    void skipped(std::uint32_t begin, std::uint32_t end) { out_.broken.push_back({number_, begin, end}); }

    std::uint32_t depth = 0;
    Block block = Block::none;

  private:
    void forget_from(std::uint32_t at);
    std::uint32_t trimmed(std::uint32_t at) const;
    std::string_view nearest(std::uint32_t at);
    bool attribute_follows(std::uint32_t at);
    bool is_next_line(std::uint32_t at, std::uint32_t indent) const;
    bool at_margin(std::uint32_t at) const;
    std::uint32_t indentation(std::uint32_t at) const;

    std::string_view text_;
    std::uint32_t number_;
    Scan& out_;
    std::vector<std::uint32_t> open_;
    std::uint32_t fault_at_ = 0;
    std::uint32_t nearest_at_ = UINT32_MAX;
    Block nearest_block_ = Block::none;
    std::string_view nearest_;
};

// The length of the token at `at`, without the blanks after it; 0 if another token stands there.
std::size_t read_phrase(ScanState& state, std::uint32_t at, std::string_view phrase);
std::size_t read_symbol(const ScanState& state, std::uint32_t at, std::string_view symbol);
std::size_t read_name(const ScanState& state, std::uint32_t at, bool dotted);
std::size_t read_attribute_name(const ScanState& state, std::uint32_t at);
std::size_t read_number(const ScanState& state, std::uint32_t at);
std::size_t read_unit(const ScanState& state, std::uint32_t at);
std::size_t read_date(const ScanState& state, std::uint32_t at);
std::size_t read_time_of_day(const ScanState& state, std::uint32_t at);
std::size_t read_zone(const ScanState& state, std::uint32_t at);
std::size_t read_string(ScanState& state, std::uint32_t at);

}  // namespace linelaw::grammar
