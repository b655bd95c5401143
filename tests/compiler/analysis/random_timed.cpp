#include "tests/compiler/analysis/random_timed.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "compiler/analysis/timed_smaller.hpp"
#include "tests/compiler/analysis/brute_timed.hpp"

namespace linelaw::compiler::analysis {

namespace {

constexpr unsigned letters = 3;
constexpr std::size_t zone_limit = 300;
constexpr std::uint32_t random_day = 4;

std::uint32_t up_to(std::mt19937& random, std::uint32_t most) {
    return 1 + random() % most;
}
// Mostly one of the first two, so that rules meet.
Letters some(std::mt19937& random) {
    if (random() % 5 == 0) return 1 + random() % 7;
    return letter(static_cast<unsigned>(random() % 7 < 6 ? random() % 2 : 2));
}

using Periods = std::vector<std::pair<std::uint32_t, std::uint32_t>>;
Periods periods(std::mt19937& random) {
    if (random() % 2 == 0) return {{0, random_day}};
    return {{1, 3}, {3, random_day + 1}};  // two shifts, the second into the next day
}

Rule a_demand(std::mt19937& random, TimedProblem& problem) {
    Rule rule;
    switch (random() % 8) {
        case 0:
        case 1:
        case 2:
            rule.what = Deadline{some(random), up_to(random, 4)};
            break;
        case 3:
            problem.day = random_day;
            rule.what = Each{some(random), random() % 4 == 0 ? 2U : 1U, periods(random)};
            break;
        case 4:
            problem.day = random_day;
            rule.what = Until{some(random), some(random), random() % 3 == 0,
                              random() % 2 == 0 ? Until::Which::same : Until::Which::next, periods(random)};
            break;
        default:
            rule.what = Response{some(random),      some(random), up_to(random, 3),
                                 random() % 5 == 0, false,        random() % 5 == 0};
    }
    return rule;
}

Guard a_guard(std::mt19937& random) {
    Guard guard{false, {}};
    GuardAtom atom;
    if (random() % 2 == 0) atom.newest = some(random);
    atom.never_yet = atom.newest != 0 && random() % 2 == 0;
    const std::uint32_t at = 2 * up_to(random, 2) + random() % 2;  // on the dot, or past it
    if (random() % 2 == 0)
        atom.low = at;
    else
        atom.high = at;
    guard.ways = {{atom}};
    return guard;
}

Rule a_restriction(std::mt19937& random, TimedProblem& problem) {
    Rule rule;
    switch (random() % 9) {
        case 0:
        case 1:
        case 2: {
            Gap gap{some(random), up_to(random, 4), 0};
            if (random() % 4 == 0) {
                gap.exempt = gap.events & some(random);
                problem.response_only |= gap.exempt;
            }
            rule.what = gap;
            break;
        }
        case 3:
        case 4:
            rule.what = Had{some(random), some(random),
                            random() % 3 == 0 ? std::optional<std::uint32_t>() : up_to(random, 3)};
            break;
        case 5:
        case 6:
            rule.what = Hold{some(random), some(random), some(random), random() % 3 == 0};
            break;
        case 7:
            rule.what = AtMost{some(random), up_to(random, 2), up_to(random, 3)};
            break;
        default:
            rule.what = Forbidden{some(random)};
            rule.guard = a_guard(random);
    }
    if (random() % 6 == 0) rule.guard = a_guard(random);
    return rule;
}

}  // namespace

TimedProblem random_problem(std::mt19937& random) {
    TimedProblem problem;
    problem.letters = letters;
    const bool answer_held_up = random() % 3 == 0;  // what leads into corners
    if (answer_held_up) {
        const Response response{some(random), some(random), up_to(random, 2), false, false, false};
        const Letters both = response.answers | (random() % 3 == 0 ? some(random) : 0);
        problem.rules.push_back({0, true, {}, response});
        if (random() % 3 != 0)
            problem.rules.push_back({0, true, {}, Gap{both, response.limit + up_to(random, 2), 0}});
        else
            problem.rules.push_back({0, true, {}, AtMost{both, up_to(random, 2), response.limit + 1}});
    } else {
        problem.rules.push_back(a_demand(random, problem));
        problem.rules.push_back(a_restriction(random, problem));
    }
    if (random() % 2 == 0)
        problem.rules.push_back(random() % 2 == 0 ? a_demand(random, problem)
                                                  : a_restriction(random, problem));
    Letters triggers = 0;
    for (std::size_t i = 0; i < problem.rules.size(); ++i) {
        Rule& rule = problem.rules[i];
        rule.clause = static_cast<std::uint32_t>(i);
        if (const auto* d = std::get_if<Response>(&rule.what)) triggers |= d->triggers;
        if (const auto* d = std::get_if<Until>(&rule.what)) triggers |= d->triggers;
        if (const auto* d = std::get_if<Hold>(&rule.what)) triggers |= d->starts;
    }
    if (problem.rules.size() == 3 && random() % 4 == 0) problem.rules[random() % 3].binds = false;
    for (unsigned l = 0; l < letters; ++l)
        if ((triggers & letter(l)) != 0 && random() % (answer_held_up ? 8 : 3) == 0)
            problem.environment |= letter(l);
    problem.response_only &= ~problem.environment;
    return problem;
}

std::vector<std::string> constructs(const TimedProblem& problem) {
    std::vector<std::string> all;
    if (problem.environment != 0) all.emplace_back("what may happen by itself");
    for (const Rule& rule : problem.rules) {
        if (!rule.binds) all.emplace_back("a rule that does not bind");
        if (!rule.guard.always)
            all.emplace_back(rule.guard.ways[0][0].newest == 0 ? "while dwell" : "while time since");
        if (std::holds_alternative<Deadline>(rule.what)) all.emplace_back("at least every");
        if (std::holds_alternative<Forbidden>(rule.what)) all.emplace_back("not");
        if (std::holds_alternative<AtMost>(rule.what)) all.emplace_back("at most N times");
        if (std::holds_alternative<Each>(rule.what)) all.emplace_back("each day or shift");
        if (std::holds_alternative<Until>(rule.what)) all.emplace_back("within the same or next shift");
        if (const auto* d = std::get_if<Gap>(&rule.what))
            all.emplace_back(d->exempt != 0 ? "no more often than, unless" : "no more often than");
        if (const auto* d = std::get_if<Had>(&rule.what))
            all.emplace_back(d->window ? "have had in the last" : "have had");
        if (const auto* d = std::get_if<Hold>(&rule.what))
            all.emplace_back(d->at_start ? "hold from the start" : "hold");
        if (const auto* d = std::get_if<Response>(&rule.what))
            all.emplace_back(d->either_side ? "within, either side"
                             : d->at_start  ? "within, from the start"
                                            : "within");
    }
    return all;
}

std::string as_text(const TimedProblem& problem) {
    std::string text =
        fmt::format("environment {}, {} as answers only\n", problem.environment, problem.response_only);
    const auto spans = [](const auto& periods) {
        std::string all;
        for (const auto& [from, to] : periods) all += fmt::format(" {}-{}", from, to);
        return all;
    };
    for (const Rule& rule : problem.rules) {
        if (!rule.binds) text += "(not binding) ";
        for (const auto& way : rule.guard.ways)
            for (const GuardAtom& atom : way)
                text += fmt::format("while {} since {} to {}{}: ", atom.newest, atom.low, atom.high,
                                    atom.never_yet ? " or never" : "");
        if (const auto* d = std::get_if<Forbidden>(&rule.what)) text += fmt::format("not {}\n", d->events);
        if (const auto* d = std::get_if<Each>(&rule.what))
            text += fmt::format("{} times {} each{}\n", d->answers, d->times, spans(d->periods));
        if (const auto* d = std::get_if<Until>(&rule.what))
            text += fmt::format("after {} answer {} in the {} of{}{}\n", d->triggers, d->answers,
                                d->which == Until::Which::same ? "same" : "next", spans(d->periods),
                                d->at_start ? " from the start" : "");
        if (const auto* d = std::get_if<Deadline>(&rule.what))
            text += fmt::format("deadline {} within {}\n", d->answers, d->limit);
        if (const auto* d = std::get_if<Gap>(&rule.what))
            text += fmt::format("gap {} of {} unless {}\n", d->events, d->shortest, d->exempt);
        if (const auto* d = std::get_if<Response>(&rule.what))
            text += fmt::format("after {} answer {} within {}{}{}\n", d->triggers, d->answers, d->limit,
                                d->either_side ? " either side" : "", d->at_start ? " from the start" : "");
        if (const auto* d = std::get_if<Had>(&rule.what))
            text += fmt::format("before {} have had {} in {}\n", d->triggers, d->before,
                                d->window ? std::to_string(*d->window) : "ever");
        if (const auto* d = std::get_if<Hold>(&rule.what))
            text += fmt::format("from {}{} no {} until {}\n", d->starts, d->at_start ? " and the start" : "",
                                d->held, d->releases);
        if (const auto* d = std::get_if<AtMost>(&rule.what))
            text += fmt::format("{} at most {} times in {}\n", d->events, d->times, d->in);
    }
    return text;
}

namespace {

// A grid has a last moment before a period ends or a guard begins to hold, and dense time has none: several
// events fit into it, and something may happen after it. Where an event must come more than so long after
// another, again and again, dense time has room for ever smaller steps past that. And on a grid what happens
// by itself can happen at every instant, so that care never does anything without it. No grid is fine enough
// for any of these, so only the two solvers are compared there.
bool no_grid_is_fine_enough(const TimedProblem& problem) {
    const auto any_rule = [&](const auto& is_so) {
        return std::any_of(problem.rules.begin(), problem.rules.end(), is_so);
    };
    const bool counts = any_rule([](const Rule& rule) { return std::holds_alternative<AtMost>(rule.what); });
    const bool guarded = any_rule([](const Rule& rule) { return !rule.guard.always; });
    const bool begins_later = any_rule([](const Rule& rule) {
        return std::any_of(rule.guard.ways.begin(), rule.guard.ways.end(), [](const auto& way) {
            return std::any_of(way.begin(), way.end(), [](const GuardAtom& atom) { return atom.low > 0; });
        });
    });
    const bool something_happens = problem.environment != 0;
    return (counts && begins_later && something_happens) || any_rule([&](const Rule& rule) {
               const auto* each = std::get_if<Each>(&rule.what);
               const auto* hold = std::get_if<Hold>(&rule.what);
               return std::holds_alternative<Until>(rule.what) ||
                      (each != nullptr && (each->times > 1 || something_happens || counts || guarded)) ||
                      (hold != nullptr && (hold->releases & problem.environment) != 0);
           });
}

}  // namespace

Agreement agree(const TimedProblem& problem, std::size_t limit) {
    Agreement result;
    const TimedAnswer fast = solve_by_regions(problem, limit);
    result.verdict = fast.verdict;
    if (fast.verdict == Verdict::exhausted) return result;
    const Verdict by_zones = solve_by_zones(problem, zone_limit).verdict;
    result.by_zones = by_zones != Verdict::exhausted;
    result.said = fmt::format("regions {}, zones {}\n{}", static_cast<int>(fast.verdict),
                              static_cast<int>(by_zones), as_text(problem));
    result.same = by_zones == Verdict::exhausted || by_zones == fast.verdict;
    TimedProblem fewer = problem;
    drop_free(fewer);
    drop_implied(fewer);
    if (fewer.rules.size() < problem.rules.size()) {
        const Verdict by_fewer = solve_by_regions(fewer, limit).verdict;
        result.said += fmt::format("made smaller {}\n", static_cast<int>(by_fewer));
        result.same = result.same && (by_fewer == fast.verdict || by_fewer == Verdict::exhausted);
    }
    if (!result.same || no_grid_is_fine_enough(problem)) return result;
    // A coarse grid is mostly fine enough; where they differ, finer ones decide.
    for (const int steps : {4, 3}) {
        std::optional<Verdict> slow = brute(problem, steps, limit);
        if (!slow) continue;
        result.by_brute = true;
        for (const int finer : {6, 8, 12})
            if (*slow != fast.verdict) slow = brute(problem, finer, limit * 16).value_or(*slow);
        result.same = *slow == fast.verdict;
        result.said = fmt::format("solver {}, brute {}\n{}", static_cast<int>(fast.verdict),
                                  static_cast<int>(*slow), as_text(problem));
        return result;
    }
    return result;
}

}  // namespace linelaw::compiler::analysis
