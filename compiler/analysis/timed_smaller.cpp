#include "compiler/analysis/timed_smaller.hpp"

#include <algorithm>
#include <numeric>

namespace linelaw::compiler::analysis {

namespace {

bool within(Letters few, Letters many) {
    return (few & ~many) == 0;
}

// Whether whoever keeps a keeps b, where both apply.
bool implies(const Deadline& a, const Deadline& b) {
    return within(a.answers, b.answers) && a.limit <= b.limit;
}
bool implies(const Gap& a, const Gap& b) {
    return within(b.events, a.events) && a.shortest >= b.shortest && within(a.exempt, b.exempt);
}
bool implies(const Response& a, const Response& b) {
    return within(b.triggers, a.triggers) && within(a.answers, b.answers) && a.limit <= b.limit &&
           (a.at_start || !b.at_start) && a.by_guard == b.by_guard && a.either_side == b.either_side &&
           (a.triggers & a.answers) == (b.triggers & b.answers);  // none answers itself
}
bool implies(const Until& a, const Until& b) {
    return within(b.triggers, a.triggers) && within(a.answers, b.answers) && (a.at_start || !b.at_start) &&
           a.which == b.which && a.periods == b.periods &&
           (a.triggers & a.answers) == (b.triggers & b.answers);
}
bool implies(const Had& a, const Had& b) {
    return within(b.triggers, a.triggers) && within(a.before, b.before) &&
           (!b.window || (a.window && *a.window <= *b.window));
}
bool implies(const Forbidden& a, const Forbidden& b) {
    return within(b.events, a.events);
}
bool implies(const AtMost& a, const AtMost& b) {
    return within(b.events, a.events) && a.times <= b.times && a.in >= b.in;
}
bool implies(const Each& a, const Each& b) {
    return within(a.answers, b.answers) && a.times >= b.times && a.periods == b.periods;
}
bool implies(const Hold& a, const Hold& b) {
    return within(b.starts, a.starts) && within(b.held, a.held) && within(a.releases, b.releases) &&
           (a.at_start || !b.at_start);
}
template <typename A, typename B>
bool implies(const A&, const B&) {
    return false;
}

bool same(const Guard& a, const Guard& b) {
    const auto same_atom = [](const GuardAtom& x, const GuardAtom& y) {
        return x.newest == y.newest && x.low == y.low && x.high == y.high && x.never_yet == y.never_yet;
    };
    return a.always == b.always &&
           std::equal(a.ways.begin(), a.ways.end(), b.ways.begin(), b.ways.end(),
                      [&](const auto& x, const auto& y) {
                          return std::equal(x.begin(), x.end(), y.begin(), y.end(), same_atom);
                      });
}

// A rule that does not bind care cannot stand for one that does.
bool implies(const Rule& a, const Rule& b) {
    return (a.binds || !b.binds) && same(a.guard, b.guard) &&
           std::visit([](const auto& x, const auto& y) { return implies(x, y); }, a.what, b.what);
}

class Writer {
  public:
    std::string text;
    void put(std::uint64_t number) {
        text += std::to_string(number);
        text += ' ';
    }
    void put(const std::optional<std::uint32_t>& number) { put(number ? *number + std::uint64_t{1} : 0); }
    void put(const std::vector<std::pair<std::uint32_t, std::uint32_t>>& periods) {
        for (const auto& [from, to] : periods) {
            put(from);
            put(to);
        }
        text += '.';
    }
    template <typename What>
    void rule(const What& what) {
        if constexpr (requires { what.triggers; }) put(what.triggers);
        if constexpr (requires { what.answers; }) put(what.answers);
        if constexpr (requires { what.events; }) put(what.events);
        if constexpr (requires { what.before; }) put(what.before);
        if constexpr (requires { what.exempt; }) put(what.exempt);
        if constexpr (requires { what.starts; }) put(what.starts);
        if constexpr (requires { what.held; }) put(what.held);
        if constexpr (requires { what.releases; }) put(what.releases);
        if constexpr (requires { what.limit; }) put(what.limit);
        if constexpr (requires { what.shortest; }) put(what.shortest);
        if constexpr (requires { what.window; }) put(what.window);
        if constexpr (requires { what.times; }) put(what.times);
        if constexpr (requires { what.in; }) put(what.in);
        if constexpr (requires { what.periods; }) put(what.periods);
        if constexpr (requires { what.which; }) put(static_cast<std::uint64_t>(what.which));
        if constexpr (requires { what.at_start; }) put(what.at_start ? 1 : 0);
        if constexpr (requires { what.by_guard; }) put(what.by_guard ? 1 : 0);
        if constexpr (requires { what.either_side; }) put(what.either_side ? 1 : 0);
    }
};

}  // namespace

void drop_implied(TimedProblem& problem) {
    const std::vector<Rule> all = std::move(problem.rules);
    problem.rules.clear();
    for (std::size_t i = 0; i < all.size(); ++i) {
        bool implied = false;
        for (std::size_t j = 0; j < all.size() && !implied; ++j)
            implied = i != j && implies(all[j], all[i]) && (j < i || !implies(all[i], all[j]));
        if (!implied) problem.rules.push_back(all[i]);
    }
}

Letters held_back_by(const Rule& rule) {
    if (const auto* gap = std::get_if<Gap>(&rule.what)) return gap->events;
    if (const auto* forbidden = std::get_if<Forbidden>(&rule.what)) return forbidden->events;
    if (const auto* at_most = std::get_if<AtMost>(&rule.what)) return at_most->events;
    if (const auto* hold = std::get_if<Hold>(&rule.what)) return hold->held;
    if (const auto* had = std::get_if<Had>(&rule.what)) return had->triggers;
    return 0;
}

Letters set_off_by(const Rule& rule) {
    if (const auto* response = std::get_if<Response>(&rule.what))
        return response->by_guard ? 0 : response->triggers;
    if (const auto* until = std::get_if<Until>(&rule.what)) return until->triggers;
    if (const auto* hold = std::get_if<Hold>(&rule.what)) return hold->starts;
    return 0;
}

Letters asked_for_by(const Rule& rule) {
    if (const auto* hold = std::get_if<Hold>(&rule.what)) return hold->releases;
    if (const auto* had = std::get_if<Had>(&rule.what)) return had->before;
    return std::visit(
        [](const auto& what) -> Letters {
            if constexpr (requires { what.answers; })
                return what.answers;
            else
                return 0;
        },
        rule.what);
}

Letters spoken_of_by(const Rule& rule) {
    Letters all = 0;
    std::visit(
        [&](const auto& what) {
            if constexpr (requires { what.answers; }) all |= what.answers;
            if constexpr (requires { what.events; }) all |= what.events;
            if constexpr (requires { what.triggers; }) all |= what.triggers;
            if constexpr (requires { what.before; }) all |= what.before;
            if constexpr (requires { what.held; }) all |= what.starts | what.held | what.releases;
        },
        rule.what);
    for (const std::vector<GuardAtom>& way : rule.guard.ways)
        for (const GuardAtom& atom : way) all |= atom.newest;
    return all;
}

namespace {

struct Spoken {  // letters, by how the rules speak of them
    Letters held_back = 0;
    Letters sets_off = 0;
    Letters asked_for = 0;
    Letters looked_back_to = 0;
    Letters lets_happen = 0;  // what may happen by itself is held until one of these
};

Spoken spoken_of(const TimedProblem& problem) {
    Spoken all;
    for (const Rule& rule : problem.rules) {
        all.held_back |= held_back_by(rule);
        all.sets_off |= set_off_by(rule);
        all.asked_for |= asked_for_by(rule);
        if (std::holds_alternative<Had>(rule.what)) all.looked_back_to |= asked_for_by(rule);
        if (const auto* hold = std::get_if<Hold>(&rule.what))
            if ((hold->held & problem.environment) != 0) all.lets_happen |= hold->releases;
        for (const std::vector<GuardAtom>& way : rule.guard.ways)
            for (const GuardAtom& atom : way) all.looked_back_to |= atom.newest;
    }
    return all;
}

// Whether an open demand is what lets care do one of the letters at all.
bool opens(const Rule& rule, Letters response_only) {
    const bool answered =
        std::holds_alternative<Response>(rule.what) || std::holds_alternative<Until>(rule.what);
    return answered && (asked_for_by(rule) & response_only) != 0;
}

}  // namespace

void drop_free(TimedProblem& problem) {
    for (std::size_t before = problem.rules.size() + 1; problem.rules.size() < before;) {
        before = problem.rules.size();
        const Spoken all = spoken_of(problem);
        const Letters free = ~(all.held_back | all.sets_off | all.looked_back_to | all.lets_happen |
                               problem.environment | problem.response_only | problem.leaving);
        // Letters that one interval counts together with such as matter, matter too: they may use it up.
        Letters matters = all.asked_for | all.sets_off | all.looked_back_to;
        for (Letters known = 0; known != matters;) {
            known = matters;
            for (const Rule& rule : problem.rules)
                if ((held_back_by(rule) & matters) != 0) matters |= held_back_by(rule);
        }
        std::erase_if(problem.rules, [&](const Rule& rule) {
            const bool demands = asked_for_by(rule) != 0 && !std::holds_alternative<Hold>(rule.what) &&
                                 !std::holds_alternative<Had>(rule.what);
            if (demands) return (asked_for_by(rule) & free) != 0 && !opens(rule, problem.response_only);
            const Letters held = held_back_by(rule);
            return held != 0 && (held & matters) == 0;
        });
    }
    const bool by_the_day = std::any_of(problem.rules.begin(), problem.rules.end(), [](const Rule& rule) {
        return std::holds_alternative<Each>(rule.what) || std::holds_alternative<Until>(rule.what);
    });
    if (!by_the_day) problem.day = 0;
}

namespace {

// Every time of the problem, to be read or written; bounds of guards in whole units.
template <typename See>
void each_time(TimedProblem& problem, See see) {
    see(problem.day);
    for (Rule& rule : problem.rules) {
        std::visit(
            [&](auto& what) {
                if constexpr (requires { what.limit; }) see(what.limit);
                if constexpr (requires { what.shortest; }) see(what.shortest);
                if constexpr (requires { what.window; })
                    if (what.window) see(*what.window);
                if constexpr (requires { what.in; }) see(what.in);
                if constexpr (requires { what.periods; })
                    for (auto& [from, to] : what.periods) {
                        see(from);
                        see(to);
                    }
            },
            rule.what);
        for (std::vector<GuardAtom>& way : rule.guard.ways)
            for (GuardAtom& atom : way) {
                if (atom.never_yet) continue;
                std::uint32_t low = atom.low / 2;  // from there on, or from just after it
                see(low);
                atom.low = 2 * low + atom.low % 2;
                if (atom.high == std::numeric_limits<std::uint32_t>::max()) continue;
                std::uint32_t high = (atom.high + 1) / 2;  // up to there, or up to just before it
                see(high);
                atom.high = 2 * high - atom.high % 2;
            }
    }
}

}  // namespace

std::uint32_t coarsen(TimedProblem& problem) {
    std::uint32_t divisor = 0;
    each_time(problem, [&](std::uint32_t& time) { divisor = std::gcd(divisor, time); });
    if (divisor < 2) return 1;
    // An event asked for several times in a period is done a unit apart each time.
    for (const Rule& rule : problem.rules)
        if (const auto* each = std::get_if<Each>(&rule.what); each != nullptr && each->times > 1) return 1;
    each_time(problem, [&](std::uint32_t& time) { time /= divisor; });
    return divisor;
}

std::uint64_t all_times(const TimedProblem& problem) {
    std::uint64_t sum = 0;
    for (const Rule& rule : problem.rules)
        std::visit(
            [&](const auto& what) {
                if constexpr (requires { what.limit; }) sum += what.limit;
                if constexpr (requires { what.shortest; }) sum += what.shortest;
                if constexpr (requires { what.window; }) sum += what.window.value_or(0);
                if constexpr (requires { what.in; }) sum += what.in;
                if constexpr (requires { what.periods; }) sum += std::uint64_t{2} * problem.day;
            },
            rule.what);
    return sum;
}

std::string content_of(const TimedProblem& problem) {
    Writer writer;
    for (const std::uint64_t number : {std::uint64_t{problem.letters}, problem.environment,
                                       problem.response_only, problem.leaving, std::uint64_t{problem.day}})
        writer.put(number);
    for (const Rule& rule : problem.rules) {
        writer.text += rule.binds ? "\n!" : "\n?";
        writer.put(rule.what.index());
        std::visit([&](const auto& what) { writer.rule(what); }, rule.what);
        if (rule.guard.always) continue;
        for (const std::vector<GuardAtom>& way : rule.guard.ways) {
            writer.text += '/';
            for (const GuardAtom& atom : way)
                for (const std::uint64_t number :
                     {atom.newest, std::uint64_t{atom.low}, std::uint64_t{atom.high},
                      std::uint64_t{atom.never_yet ? 1U : 0U}})
                    writer.put(number);
        }
    }
    return writer.text;
}

}  // namespace linelaw::compiler::analysis
