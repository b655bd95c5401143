// Random policies as texts and, from the same draw, as formulas for an SMT solver. The formulas are built
// from the draw alone, by the reference's words; nothing of the compiler or the analysis has a part in them.
#pragma once

#include <z3++.h>

#include <random>
#include <set>
#include <string>
#include <vector>

namespace linelaw::compiler::analysis {

// A drawn comparison: of line.kind or dressing with values, of the external length at insertion (in mm) or
// the antiseptic's drying (in s) with a number, of the age with completed units.
struct DrawnAtom {
    enum class What { kind, setting, flag, length, age } what = What::kind;
    std::vector<int> values;  // of kind and setting
    bool negated = false;
    int comparator = 0;  // at least, at most, more than, less than, is, is not
    int number = 0;
    bool months = false;  // of age: months, else days
};
struct DrawnCondition {
    enum class Form { atom, both, either, opposite } form = Form::atom;
    DrawnAtom atom;
    std::vector<DrawnCondition> parts;
};
struct DrawnDemand {  // of the value at the event: antiseptic is one of …, or dry_time compared
    bool of_antiseptic = false;
    std::vector<int> values;
    int comparator = 0;
    int seconds = 0;
};
struct DrawnPolicy {
    std::vector<DrawnCondition> answering;                          // clauses that answer the question
    std::vector<std::pair<DrawnCondition, DrawnDemand>> demanding;  // clauses at the event
    DrawnCondition never;
    bool has_never = false;
};

DrawnPolicy draw(std::mt19937& random);
std::set<std::string> constructs(const DrawnPolicy& policy);  // that stand in it
std::string as_policy(const DrawnPolicy& policy);
std::string as_vocabulary(const DrawnPolicy& policy);

// The situation's unknowns, bounded to what the vocabulary allows and the never leaves. The age is the pair
// of completed days and completed months that one birth date and one day give.
class Formulas {
  public:
    Formulas(z3::context& context, const DrawnPolicy& policy);

    z3::expr possible() const;
    z3::expr condition(const DrawnCondition& condition) const;
    z3::expr demand(const DrawnDemand& demand, const z3::expr& antiseptic, const z3::expr& seconds) const;
    // A situation as the analysis words it; throws where the words are not understood.
    z3::expr situation(const std::vector<std::pair<std::string, std::string>>& words) const;

    z3::expr antiseptic(const char* name) const;
    z3::expr antiseptic_bounds(const z3::expr& antiseptic, const z3::expr& seconds) const;

  private:
    z3::context& c_;
    const DrawnPolicy& policy_;
    z3::expr kind_, setting_, flag_, length_, days_, months_;
    z3::expr ages_;  // pairs of days and months that exist

    z3::expr atom(const DrawnAtom& atom) const;
    z3::expr number_words(const z3::expr& number, const std::string& words, int per_unit) const;
    z3::expr age_words(const std::string& words) const;
};

}  // namespace linelaw::compiler::analysis
