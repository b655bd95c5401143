// How long a policy of many clauses takes to read, check and lower, beside what PEGTL alone takes to build
// its parse tree of the same bytes with the same rules. Prints milliseconds and ratios; both are measured in
// turn in one run.
#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cstdlib>
#include <string>
#include <tao/pegtl.hpp>
#include <tao/pegtl/contrib/parse_tree.hpp>
#include <vector>

#include "compiler/compile.hpp"
#include "grammar/rules.hpp"

namespace {

using linelaw::compiler::Compilation;
using Clock = std::chrono::steady_clock;

constexpr const char* vocabulary = R"(vocabulary line_care
  edition 1
patient
  age     : age 0 days .. 120 years
  setting : one of icu, ward, outpatient, home
line
  kind            : one of picc, midline, nontunnelled_cvc, tunnelled_cvc, port, peripheral
  external_length : length 0 cm .. 60 cm in cm
event insertion "Insertion"
  dressing : one of transparent, gauze
event dressing_change "Dressing change"
  dressing        : one of transparent, gauze
  antiseptic      : one of chg_alcohol, povidone_iodine
  dry_time        : duration 0 s .. 30 min in s
  external_length : length 0 cm .. 60 cm in cm
event site_assessment "Site assessment"
  dressing_condition : one of intact, damp, loose, soiled complication damp, loose, soiled
event refusal "Refusal"
state dressing from insertion.dressing, dressing_change.dressing
role provider
)";

// Every clause has numbers of its own, so that nothing is shared by chance.
std::string policy_of(std::size_t clauses) {
    std::string text = R"(policy "Many clauses"
  edition 1
  in force from 2026-03-01 until 2027-02-28
  review by 2027-01-15
  owner "Committee"
  time zone America/Halifax
  uses vocabulary "vocabulary.linelaw"
  undocumented counts as not assessable
source committee "Decisions" by "Committee" year 2026
term adult means patient.age at least 18 years
escalation call
  "Somebody is called."
  first notify provider within 1 h
)";
    for (std::size_t i = 0; i < clauses; ++i) {
        const std::size_t n = i % 400 + 1;
        switch (i % 4) {
            case 0:
                text += fmt::format(
                    "\nclause interval.c{}\n  \"Change the dressing at least every {} hours.\"\n  for adult "
                    "and "
                    "line.kind is one of picc, port\n  while dressing is transparent\n  must dressing_change "
                    "at "
                    "least every {} h grace 12 h\n  source committee\n",
                    i, n, n);
                break;
            case 1:
                text += fmt::format(
                    "\nclause response.c{}\n  \"Change a damp or loose dressing within {} hours.\"\n  after "
                    "site_assessment where dressing_condition is one of damp, loose\n  must dressing_change "
                    "within "
                    "{} h\n  except when refusal in the last 12 h because \"it was declined\"\n  source "
                    "committee\n",
                    i, n, n);
                break;
            case 2:
                text += fmt::format(
                    "\nclause value.c{}\n  \"Let it dry for at least {} seconds.\"\n  at dressing_change "
                    "where "
                    "antiseptic is chg_alcohol\n  must dry_time at least {} s\n  priority minor\n  source "
                    "committee\n",
                    i, n, n);
                break;
            default:
                text += fmt::format(
                    "\nclause length.c{}\n  \"A change in external length of more than {} mm is "
                    "escalated.\"\n  at "
                    "dressing_change where change in external_length since insertion more than {} mm\n  then "
                    "escalate call\n  source committee\n",
                    i, n, n);
        }
    }
    return text;
}

// What the parse tree of the yardstick keeps: the constructs that the project's own reader keeps.
template <typename Rule>
concept Kept = requires {
    Rule::kind;
};
template <typename Rule>
struct Selector : std::bool_constant<Kept<Rule>> {};

std::size_t yardstick(const std::string& text) {
    namespace pegtl = tao::pegtl;
    linelaw::grammar::Scan scan;
    linelaw::grammar::ScanState state(text, 0, scan);
    pegtl::memory_input<pegtl::tracking_mode::lazy, pegtl::eol::lf_crlf, const char*> input(
        text.data(), text.data() + text.size(), "");
    const auto root = pegtl::parse_tree::parse<linelaw::grammar::rules::text, Selector>(input, state);
    return root ? root->children.size() : 0;
}

Compilation compile_all(const std::string& text) {
    return linelaw::compiler::compile("policy.linelaw",
                                      [&](const std::string& path) -> std::optional<std::string> {
                                          return path == "policy.linelaw" ? text : vocabulary;
                                      });
}

template <typename Work>
double milliseconds(const Work& work) {
    const auto begin = Clock::now();
    work();
    return std::chrono::duration<double, std::milli>(Clock::now() - begin).count();
}

double median(std::vector<double> figures) {
    std::nth_element(figures.begin(), figures.begin() + static_cast<std::ptrdiff_t>(figures.size() / 2),
                     figures.end());
    return figures[figures.size() / 2];
}

}  // namespace

int main(int argc, char** argv) {
    const int runs = argc > 1 ? std::atoi(argv[1]) : 5;
    fmt::print("{:>8} {:>10} {:>14} {:>14} {:>8} {:>16}\n", "clauses", "bytes", "tree alone ms", "compile ms",
               "ratio", "us a clause");
    for (const std::size_t clauses : {100U, 1'000U, 10'000U, 20'000U}) {
        const std::string text = policy_of(clauses);
        const Compilation once = compile_all(text);
        for (const auto& diagnostic : once.diagnostics) {
            if (diagnostic.severity == linelaw::grammar::Severity::error) {
                fmt::print(stderr, "the generated policy has an error: {}\n", diagnostic.message);
                return 2;
            }
        }
        std::vector<double> tree_alone;
        std::vector<double> whole;
        for (int run = 0; run < runs; ++run) {
            tree_alone.push_back(milliseconds([&] { (void)yardstick(text); }));
            whole.push_back(milliseconds([&] { (void)compile_all(text); }));
        }
        fmt::print("{:>8} {:>10} {:>14.1f} {:>14.1f} {:>8.1f} {:>16.1f}\n", clauses, text.size(),
                   median(tree_alone), median(whole), median(whole) / median(tree_alone),
                   1000 * median(whole) / static_cast<double>(clauses));
    }
    return 0;
}
