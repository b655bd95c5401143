// Collects what is said about one policy: each fault once, however many uses lead to it, in the order of the
// text. Also finds near names for misspelt ones. Knows nothing of what the names mean.
#pragma once

#include <deque>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <tuple>
#include <vector>

#include "grammar/diagnostic.hpp"
#include "grammar/source.hpp"

namespace linelaw::compiler {

class Report {
  public:
    explicit Report(const grammar::Sources& sources) : sources_(sources) {}

    // The diagnostic, for more labels, notes and mends. Where the same was said of the same place before,
    // what is added to the answer goes nowhere.
    grammar::Diagnostic& add(std::string_view code, std::string message, grammar::Place place,
                             std::string label = "");
    void add(std::vector<grammar::Diagnostic> diagnostics);

    std::size_t size() const { return diagnostics_.size(); }
    // Takes back what was said after `since` with one of these codes.
    void forget(std::size_t since, const std::set<std::string>& codes);

    bool has_errors() const;
    // In the order of the text, texts in the order in which they were read.
    std::vector<grammar::Diagnostic> take();

    // The words of the policy at a place, runs of white space folded to one space, in `…`.
    std::string quote(grammar::Place place) const;

  private:
    const grammar::Sources& sources_;
    std::deque<grammar::Diagnostic> diagnostics_;
    std::set<std::tuple<std::string, std::uint32_t, std::uint32_t>> said_;  // code and place
    grammar::Diagnostic repeated_;
};

std::string in_ticks(std::string_view words);
// "`a`, `b` and `c`"; `joint` is "and" or "or".
std::string in_ticks(const std::vector<std::string>& words, std::string_view joint);

// The candidate that somebody who wrote `word` most likely meant. Certain where it is one slip of a letter
// away and no other candidate is near. O(candidates × length²).
struct Near {
    std::optional<std::string> word;
    bool certain;
};
Near near(std::string_view word, const std::vector<std::string>& candidates);

// Adds "write `x`" for a near candidate, where there is one. A name that is certainly meant is a spelling and
// safe to mend; a value is a clinical choice, and a source's name a citation: neither ever is.
enum class Offered { name, value };
void offer_near(grammar::Diagnostic& diagnostic, std::string_view word, grammar::Place place,
                const std::vector<std::string>& candidates, Offered what = Offered::name);
// The candidates that have a word of the name: `phlebitis_grade` of `phlebitis`.
std::vector<std::string> sharing_a_word(std::string_view word, const std::vector<std::string>& candidates);
void advise(grammar::Diagnostic& diagnostic, std::string text);

}  // namespace linelaw::compiler
