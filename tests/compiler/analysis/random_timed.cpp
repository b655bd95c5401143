#include "tests/compiler/analysis/random_timed.hpp"

#include <fmt/format.h>

#include "tests/compiler/analysis/brute_timed.hpp"

namespace linelaw::compiler::analysis {

namespace {

constexpr unsigned letters = 3;
constexpr std::size_t zone_limit = 300;

std::uint32_t up_to(std::mt19937& random, std::uint32_t most) {
    return 1 + random() % most;
}
Letters some(std::mt19937& random) {
    return random() % 4 == 0 ? 1 + random() % 7 : letter(static_cast<unsigned>(random() % letters));
}

}  // namespace

TimedProblem random_problem(std::mt19937& random) {
    TimedProblem problem;
    problem.letters = letters;
    const std::size_t count = 2 + random() % 2;
    Letters triggers = 0;
    for (std::size_t i = 0; i < count; ++i) {
        Rule rule;
        rule.clause = static_cast<std::uint32_t>(i);
        switch (random() % 8) {
            case 0:
            case 1:
                rule.what = Deadline{some(random), up_to(random, 4)};
                break;
            case 2:
            case 3:
                rule.what = Gap{some(random), up_to(random, 4), 0};
                break;
            case 4: {
                Response r;
                r.triggers = some(random);
                r.answers = some(random);
                r.limit = up_to(random, 3);
                r.either_side = random() % 5 == 0;
                r.at_start = random() % 5 == 0;
                triggers |= r.triggers;
                rule.what = r;
                break;
            }
            case 5:
                rule.what = Had{some(random), some(random),
                                random() % 3 == 0 ? std::optional<std::uint32_t>() : up_to(random, 3)};
                break;
            case 6: {
                const Letters starts = some(random);
                triggers |= starts;
                rule.what = Hold{starts, some(random), some(random), false};
                break;
            }
            default:
                rule.what = AtMost{some(random), up_to(random, 2), up_to(random, 3)};
                break;
        }
        problem.rules.push_back(std::move(rule));
    }
    for (unsigned l = 0; l < letters; ++l)
        if ((triggers & letter(l)) != 0 && random() % 2 == 0) problem.environment |= letter(l);
    return problem;
}

std::string as_text(const TimedProblem& problem) {
    std::string text = fmt::format("environment {}\n", problem.environment);
    for (const Rule& rule : problem.rules) {
        if (const auto* d = std::get_if<Deadline>(&rule.what))
            text += fmt::format("deadline {} within {}\n", d->answers, d->limit);
        if (const auto* d = std::get_if<Gap>(&rule.what))
            text += fmt::format("gap {} of {}\n", d->events, d->shortest);
        if (const auto* d = std::get_if<Response>(&rule.what))
            text += fmt::format("after {} answer {} within {}{}{}\n", d->triggers, d->answers, d->limit,
                                d->either_side ? " either side" : "", d->at_start ? " from the start" : "");
        if (const auto* d = std::get_if<Had>(&rule.what))
            text += fmt::format("before {} have had {} in {}\n", d->triggers, d->before,
                                d->window ? std::to_string(*d->window) : "ever");
        if (const auto* d = std::get_if<Hold>(&rule.what))
            text += fmt::format("from {} no {} until {}\n", d->starts, d->held, d->releases);
        if (const auto* d = std::get_if<AtMost>(&rule.what))
            text += fmt::format("{} at most {} times in {}\n", d->events, d->times, d->in);
    }
    return text;
}

bool agree(const TimedProblem& problem, std::size_t limit, bool& tried, std::string& said) {
    const TimedAnswer fast = solve_by_regions(problem, limit);
    tried = false;
    if (fast.verdict == Verdict::exhausted) return true;
    const Verdict by_zones = solve_by_zones(problem, zone_limit).verdict;
    said = fmt::format("regions {}, zones {}\n{}", static_cast<int>(fast.verdict), static_cast<int>(by_zones),
                       as_text(problem));
    if (by_zones != Verdict::exhausted && by_zones != fast.verdict) return false;
    // The finest grid that can be tried in full decides; where they differ, a finer one still.
    for (const int steps : {6, 4, 3}) {
        std::optional<Verdict> slow = brute(problem, steps, limit);
        if (!slow) continue;
        tried = true;
        for (const int finer : {8, 12})
            if (*slow != fast.verdict) slow = brute(problem, finer, limit * 8).value_or(*slow);
        said = fmt::format("solver {}, brute {}\n{}", static_cast<int>(fast.verdict), static_cast<int>(*slow),
                           as_text(problem));
        return *slow == fast.verdict;
    }
    return true;
}

}  // namespace linelaw::compiler::analysis
