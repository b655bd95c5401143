#include "tests/compiler/analysis/z3_judge.hpp"

#include <algorithm>

namespace linelaw::compiler::analysis {

namespace {

class Judge {
  public:
    Judge(const DrawnPolicy& drawn, const Analysis& analysis)
        : drawn_(drawn), analysis_(analysis), formulas_(context_, drawn) {}

    Z3Verdicts all() {
        gaps();
        conflicts();
        return std::move(result_);
    }

  private:
    const DrawnPolicy& drawn_;
    const Analysis& analysis_;
    z3::context context_;
    z3::solver solver_{context_};
    Formulas formulas_;
    Z3Verdicts result_;

    // The solver must say that the formula can be, or that it cannot.
    void must(bool be, const z3::expr& formula, const std::string& claim) {
        solver_.push();
        solver_.add(formula);
        const z3::check_result said = solver_.check();
        solver_.pop();
        if (said == z3::unknown) return;
        ++result_.compared;
        if ((said == z3::sat) != be) result_.differ.push_back(claim);
    }

    // Each reported situation is a gap throughout, and outside them there is none.
    void gaps() {
        z3::expr answered = context_.bool_val(false);
        for (const DrawnCondition& condition : drawn_.answering)
            answered = answered || formulas_.condition(condition);
        const z3::expr possible = formulas_.possible();
        z3::expr reported = context_.bool_val(false);
        for (const auto& d : analysis_.diagnostics) {
            if (d.code != "gap.question") continue;
            ++result_.gaps;
            const z3::expr situation = formulas_.situation(d.witness->situation);
            must(true, possible && situation, "the situation can be: " + d.message);
            must(false, possible && situation && answered, "it is a gap throughout: " + d.message);
            for (std::size_t i = 0; i < d.witness->situation.size(); ++i) {
                auto fewer = d.witness->situation;
                fewer.erase(fewer.begin() + static_cast<std::ptrdiff_t>(i));
                must(true, possible && formulas_.situation(fewer) && answered,
                     "nothing can be left out of it: " + d.message);
            }
            reported = reported || situation;
        }
        if (result_.gaps < 12)  // so many are shown at most
            must(false, possible && !answered && !reported, "no other gap");
    }

    // Where the demands of these clauses, all applying, leave no value.
    z3::expr clash(const std::vector<std::size_t>& set) {
        const z3::expr antiseptic = context_.int_const("antiseptic");
        const z3::expr seconds = context_.int_const("seconds");
        z3::expr kept = formulas_.antiseptic_bounds(antiseptic, seconds);
        z3::expr apply = formulas_.possible();
        for (const std::size_t i : set) {
            apply = apply && formulas_.condition(drawn_.demanding[i].first);
            kept = kept && formulas_.demand(drawn_.demanding[i].second, antiseptic, seconds);
        }
        return apply && !z3::exists(antiseptic, seconds, kept);
    }

    // Every set found clashes throughout its situation and none of its parts does; every set that clashes
    // holds one found.
    void conflicts() {
        std::vector<std::vector<std::size_t>> found;
        for (const auto& d : analysis_.diagnostics) {
            if (d.code != "conflict.values") continue;
            ++result_.conflicts;
            std::vector<std::size_t> set;
            for (const auto& label : d.labels) set.push_back(std::stoul(label.text.substr(7)));  // `value_N`
            std::sort(set.begin(), set.end());
            const z3::expr here = formulas_.possible() && formulas_.situation(d.witness->situation);
            must(true, clash(set) && here, "they clash there: " + d.message);
            must(false, here && !clash(set), "they clash everywhere there: " + d.message);
            for (std::size_t i = 0; i < set.size(); ++i) {
                std::vector<std::size_t> fewer = set;
                fewer.erase(fewer.begin() + static_cast<std::ptrdiff_t>(i));
                must(false, clash(fewer), "none can be left out: " + d.message);
            }
            found.push_back(std::move(set));
        }
        const std::size_t n = drawn_.demanding.size();
        for (std::size_t bits = 1; bits < std::size_t{1} << n; ++bits) {
            std::vector<std::size_t> set;
            for (std::size_t i = 0; i < n; ++i)
                if ((bits >> i & 1U) != 0) set.push_back(i);
            const bool explained = std::any_of(found.begin(), found.end(), [&](const auto& f) {
                return std::includes(set.begin(), set.end(), f.begin(), f.end());
            });
            if (!explained) must(false, clash(set), "no other set clashes");
        }
    }
};

}  // namespace

Z3Verdicts judged_by_z3(const DrawnPolicy& drawn, const Analysis& analysis) {
    return Judge(drawn, analysis).all();
}

}  // namespace linelaw::compiler::analysis
