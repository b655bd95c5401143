// The static analysis judged by an SMT solver (Z3), over random policies. Z3 gets formulas made from the
// draw, not from the compiled policy.
#include <catch2/catch.hpp>
#include <chrono>

#include "tests/compiler/analysis/texts.hpp"
#include "tests/compiler/analysis/z3_policies.hpp"

using namespace linelaw::compiler::analysis;

namespace {

bool can_be(z3::context& context, const z3::expr& formula) {
    z3::solver solver(context);
    solver.add(formula);
    return solver.check() == z3::sat;
}

// Gaps: each reported situation is one throughout, and outside them there is none.
void judge_gaps(const DrawnPolicy& drawn, const Analysis& analysis) {
    z3::context context;
    const Formulas formulas(context, drawn);
    z3::expr answered = context.bool_val(false);
    for (const DrawnCondition& condition : drawn.answering)
        answered = answered || formulas.condition(condition);
    const z3::expr gap = formulas.possible() && !answered;
    z3::expr reported = context.bool_val(false);
    std::size_t count = 0;
    for (const auto& d : analysis.diagnostics) {
        if (d.code != "gap.question") continue;
        const z3::expr situation = formulas.situation(d.witness->situation);
        INFO(d.message);
        CHECK(can_be(context, formulas.possible() && situation));
        CHECK_FALSE(can_be(context, formulas.possible() && situation && answered));
        // Nothing can be left out of it.
        for (std::size_t i = 0; i < d.witness->situation.size(); ++i) {
            auto fewer = d.witness->situation;
            fewer.erase(fewer.begin() + static_cast<std::ptrdiff_t>(i));
            CHECK(can_be(context, formulas.possible() && formulas.situation(fewer) && answered));
        }
        reported = reported || situation;
        ++count;
    }
    if (count < 12) CHECK_FALSE(can_be(context, gap && !reported));  // 12 are shown at most
}

// Whether the demands of these clauses, all applying, leave no value.
z3::expr clash(z3::context& context, const Formulas& formulas, const DrawnPolicy& drawn,
               const std::vector<std::size_t>& set) {
    const z3::expr antiseptic = context.int_const("antiseptic");
    const z3::expr seconds = context.int_const("seconds");
    z3::expr kept = formulas.antiseptic_bounds(antiseptic, seconds);
    z3::expr apply = formulas.possible();
    for (const std::size_t i : set) {
        apply = apply && formulas.condition(drawn.demanding[i].first);
        kept = kept && formulas.demand(drawn.demanding[i].second, antiseptic, seconds);
    }
    return apply && !z3::exists(antiseptic, seconds, kept);
}

// Conflicts of values: every set found clashes and none of its parts does; every set that clashes holds one
// found.
void judge_conflicts(const DrawnPolicy& drawn, const Analysis& analysis) {
    z3::context context;
    const Formulas formulas(context, drawn);
    std::vector<std::vector<std::size_t>> found;
    for (const auto& d : analysis.diagnostics) {
        if (d.code != "conflict.values") continue;
        std::vector<std::size_t> set;
        for (const auto& label : d.labels) set.push_back(std::stoul(label.text.substr(7)));  // `value_N`
        std::sort(set.begin(), set.end());
        INFO(d.message);
        CHECK(can_be(context,
                     clash(context, formulas, drawn, set) && formulas.situation(d.witness->situation)));
        CHECK_FALSE(can_be(context, formulas.possible() && formulas.situation(d.witness->situation) &&
                                        !clash(context, formulas, drawn, set)));
        for (std::size_t i = 0; i < set.size(); ++i) {
            std::vector<std::size_t> fewer = set;
            fewer.erase(fewer.begin() + static_cast<std::ptrdiff_t>(i));
            CHECK_FALSE(can_be(context, clash(context, formulas, drawn, fewer)));
        }
        found.push_back(std::move(set));
    }
    const std::size_t n = drawn.demanding.size();
    for (std::size_t bits = 1; bits < std::size_t{1} << n; ++bits) {
        std::vector<std::size_t> set;
        for (std::size_t i = 0; i < n; ++i)
            if ((bits >> i & 1U) != 0) set.push_back(i);
        const bool explained = std::any_of(found.begin(), found.end(), [&](const auto& f) {
            return std::includes(set.begin(), set.end(), f.begin(), f.end());
        });
        if (!explained) CHECK_FALSE(can_be(context, clash(context, formulas, drawn, set)));
    }
}

}  // namespace

TEST_CASE("gaps and conflicts of random policies are those that Z3 finds") {
    using Clock = std::chrono::steady_clock;
    const Clock::time_point stop = Clock::now() + std::chrono::seconds(15);
    std::mt19937 random(40126);
    std::size_t policies = 0;
    std::size_t gaps = 0;
    std::size_t conflicts = 0;
    while (policies < 60 && Clock::now() < stop) {
        const DrawnPolicy drawn = draw(random);
        const std::string text = as_policy(drawn);
        INFO(text);
        const Analysis analysis = analysed(text, as_vocabulary(drawn));
        INFO(everything(analysis));
        CHECK(messages(analysis, "internal").empty());
        judge_gaps(drawn, analysis);
        judge_conflicts(drawn, analysis);
        ++policies;
        gaps += messages(analysis, "gap.question").size();
        conflicts += messages(analysis, "conflict.values").size();
    }
    INFO(policies << " policies, " << gaps << " gaps, " << conflicts << " conflicts");
    CHECK(policies >= 10);
    CHECK(gaps > 5);
    CHECK(conflicts > 5);
}
