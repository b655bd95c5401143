#include "compiler/analysis/timed_case.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <functional>
#include <numeric>
#include <set>

namespace linelaw::compiler::analysis {

using runtime::EventKindId;
using runtime::none;
using Form = Draft::Form;

Node at_point(const Workspace& work, Node node, const std::vector<std::uint32_t>& point) {
    const std::uint32_t first = first_moving(work.situations);
    while (work.diagrams.top(node) < first) node = work.diagrams.child(node, point[work.diagrams.top(node)]);
    return node;
}

namespace {

class CaseMaker {
  public:
    CaseMaker(Workspace& work, const std::vector<Draft>& drafts, const Meeting& meeting)
        : work_(work), drafts_(drafts), meeting_(meeting), first_moving_(first_moving(work.situations)) {}

    std::optional<Case> make(bool& too_many_letters) {
        const Drafts& active = meeting_.drafts;
        if (active.size() < 2 && !(active.size() == 1 && demands(drafts_[active[0]].form)))
            return std::nullopt;
        Case one;
        one.where = meeting_.where;
        one.point = work_.diagrams.assignment(meeting_.where);
        const std::int64_t stay = longest_stay(one.point);
        const std::vector<Tracks> tracks = make_letters(active, one.point, one);
        one.unit = unit_of(active, stay);
        if (stay < highest) one.stays = stay / one.unit;
        too_many_letters = one.letters.size() > most_letters || !make_rules(active, tracks, one);
        return too_many_letters ? std::nullopt : std::optional(std::move(one));
    }

  private:
    Workspace& work_;
    const std::vector<Draft>& drafts_;
    const Meeting& meeting_;
    std::uint32_t first_moving_;

    struct Tracks {  // of a draft: the letters that each of its tracks picks
        Letters events = 0;
        Letters triggers = 0;
        Letters others = 0;
    };

    struct RunsFrom {  // of a clock
        Letters letters = 0;
        bool start = false;
    };

    Node rest(Node condition) const { return meeting_.rest.at(condition); }

    // How long somebody can be of the ages of this point; who stays for years stays for good.
    std::int64_t longest_stay(const std::vector<std::uint32_t>& point) const {
        std::int64_t stay = highest;
        for (std::uint32_t v = 0; v < first_moving_; ++v)
            if (const Variable& variable = work_.situations.variables()[v];
                meeting_.looked_at[v] && variable.kind == VariableKind::age)
                stay = std::min(stay, variable.cells[point[v]].stays);
        return stay < std::int64_t{2} * 365 * runtime::microseconds_per_day ? stay : highest;
    }

    std::vector<bool> clocks() const {
        std::vector<bool> result(work_.situations.variables().size(), false);
        for (std::uint32_t v = 0; v < result.size(); ++v) result[v] = work_.situations.variables()[v].clock();
        return result;
    }

    // Events of this kind that keep every state that matters in its cell; `never` where none does.
    Node keeps_states(EventKindId kind, const std::vector<std::uint32_t>& point,
                      const std::vector<bool>& matters) {
        Node result = always;
        for (std::uint32_t v = 0; v < first_moving_; ++v) {
            const Variable& variable = work_.situations.variables()[v];
            if (variable.kind != VariableKind::state || !matters[v]) continue;
            const runtime::State& state = work_.policy.states[variable.state];
            const ValueCell& now = variable.cells[point[v]];
            const auto sets = [&](const runtime::Events& events) {
                return std::any_of(events.begin(), events.end(),
                                   [&](const runtime::Pattern& p) { return p.event == kind; });
            };
            if (sets(state.from) && now.low == 0) return never;
            if (sets(state.until) && now.low != 0) return never;
            for (const runtime::StateSource& source : state.sources) {
                if (source.event != kind) continue;
                const std::uint32_t attribute = work_.situations.attribute_variable(kind, source.field);
                if (now.kind == ValueCell::Kind::unset) return never;
                if (attribute == none) continue;  // free to be what it was
                const Variable& a = work_.situations.variables()[attribute];
                CellSet same(a.cells.size());
                for (std::size_t c = 0; c < same.size(); ++c)
                    same.put(c, a.cells[c].kind == now.kind && a.cells[c].low <= now.high &&
                                    now.low <= a.cells[c].high);
                result = work_.diagrams.both(result, work_.diagrams.literal(attribute, same));
            }
        }
        return result;
    }

    bool ends_a_part(EventKindId kind, const std::set<runtime::PartKindId>& parts) const {
        return std::any_of(parts.begin(), parts.end(), [&](runtime::PartKindId part) {
            const std::vector<EventKindId>& until = work_.policy.part_kinds[part].until;
            return std::find(until.begin(), until.end(), kind) != until.end();
        });
    }

    bool asks_the_early_one(const Draft& draft) const {
        return draft.early != always && rest(draft.early) != always;
    }
    std::vector<bool> guarded_by(const Draft& draft) const {
        std::vector<bool> support = work_.diagrams.support(rest(draft.applies));
        if (!asks_the_early_one(draft)) return support;
        const std::vector<bool>& early = work_.diagrams.support(rest(draft.early));
        for (std::size_t v = 0; v < support.size(); ++v) support[v] = support[v] || early[v];
        return support;
    }

    // The clocks that the rest of its condition still looks at.
    std::vector<DraftClock> guarding(const Draft& draft) const {
        const std::vector<bool> support = guarded_by(draft);
        std::vector<DraftClock> result;
        for (const DraftClock& clock : draft.clocks)
            if (support[clock.variable]) result.push_back(clock);
        return result;
    }

    // Which events of a kind a clock runs from (`time since`, `in the last`), and which surely do not start
    // it.
    Meaning starts_clock(const DraftClock& clock, EventKindId kind) {
        const auto found = clock.runs_from.find(kind);
        if (found == clock.runs_from.end()) return {never, always};
        const auto here = [&](Node node) { return work_.diagrams.forget(rest(node), clocks()); };
        return {here(found->second.yes), here(found->second.no)};
    }

    // The same, of the clocks that guard what is active.
    std::vector<Meaning> looked_back_to(const Drafts& active, EventKindId kind) {
        std::vector<Meaning> result;
        for (const std::size_t i : active)
            for (const DraftClock& clock : guarding(drafts_[i]))
                if (clock.runs_from.count(kind) != 0) result.push_back(starts_clock(clock, kind));
        return result;
    }

    // These events of one kind, parted by which conditions pick them.
    std::vector<Node> told_apart(const Drafts& active, EventKindId kind, Node events) {
        Diagrams& d = work_.diagrams;
        std::vector<Node> classes;
        if (events != never) classes.push_back(events);
        for (const std::size_t i : active)
            for (const Track* track : {&drafts_[i].events, &drafts_[i].triggers, &drafts_[i].others}) {
                const auto found = track->find(kind);
                if (found == track->end()) continue;
                const Node picked = d.forget(rest(found->second), clocks());
                std::vector<Node> finer;
                for (const Node c : classes)
                    for (const Node half : {d.both(c, picked), d.without(c, picked)})
                        if (half != never) finer.push_back(half);
                classes = std::move(finer);
            }
        for (const Meaning& picked : looked_back_to(active, kind)) {
            std::vector<Node> finer;
            for (const Node c : classes)
                for (const Node half : {d.both(c, picked.yes), d.both(c, picked.no)})
                    if (half != never) finer.push_back(half);
            classes = std::move(finer);
        }
        return classes;
    }

    // What a demand names although it leaves the situation, where nothing that stays in it would do: after
    // `sedation_stop within 24 h` the patient is not sedated any more.
    Node way_out(const Drafts& active, EventKindId kind, Node possible, Node stays) {
        Diagrams& d = work_.diagrams;
        Node result = never;
        for (const std::size_t i : active) {
            const auto found = drafts_[i].events.find(kind);
            if (!demands(drafts_[i].form) || found == drafts_[i].events.end()) continue;
            const Node picked = d.both(possible, d.forget(rest(found->second), clocks()));
            if (d.both(picked, stays) == never) result = d.either(result, picked);
        }
        return result;
    }

    // These events of one kind as far as some demand names them.
    Node named(const Drafts& active, EventKindId kind, Node events) {
        Node result = never;
        for (const std::size_t i : active) {
            const auto found = drafts_[i].events.find(kind);
            if (!demands(drafts_[i].form) || found == drafts_[i].events.end()) continue;
            const Node picked = work_.diagrams.forget(rest(found->second), clocks());
            result = work_.diagrams.either(result, work_.diagrams.both(events, picked));
        }
        return result;
    }

    static void add_leaving(Case& one, EventKindId kind, const std::vector<Node>& classes) {
        for (const Node c : classes) {
            if (one.letters.size() < most_letters)
                one.problem.leaving |= letter(static_cast<unsigned>(one.letters.size()));
            one.letters.push_back({kind, c});
        }
    }

    // Splits the events of each kind into letters, and says for each draft which letters its tracks pick.
    std::vector<Tracks> make_letters(const Drafts& active, const std::vector<std::uint32_t>& point,
                                     Case& one) {
        Diagrams& d = work_.diagrams;
        std::vector<bool> matters(work_.situations.variables().size(), false);
        std::set<EventKindId> kinds;
        std::set<runtime::PartKindId> parts;
        for (const std::size_t i : active) {
            const Draft& draft = drafts_[i];
            if (const runtime::PartKindId part = work_.clause(draft.clause).for_each; part != none)
                parts.insert(part);
            for (const Track* track : {&draft.events, &draft.triggers, &draft.others})
                for (const auto& [kind, node] : *track) kinds.insert(kind);
            for (const Node node : conditions_of(draft)) {
                const std::vector<bool>& support = d.support(node);
                for (std::size_t v = 0; v < support.size(); ++v) matters[v] = matters[v] || support[v];
            }
            for (const DraftClock& clock : guarding(draft))
                for (const auto& [kind, runs] : clock.runs_from) kinds.insert(kind);
        }
        const Node possible = d.forget(
            at_point(work_,
                     d.both(work_.situations.possible(), work_.situations.documented(meeting_.looked_at)),
                     point),
            clocks());
        std::map<EventKindId, std::pair<std::size_t, std::size_t>> of_kind;  // letters [from, to)
        for (const EventKindId kind : kinds) {
            const std::size_t from = one.letters.size();
            if (kind == work_.policy.removal) {
                // No way out, unless a demand names it; what is asked of it is asked then, too.
                add_leaving(one, kind, told_apart(active, kind, named(active, kind, possible)));
            } else if (kind != work_.policy.insertion) {
                const Node stays =
                    ends_a_part(kind, parts) ? never : d.both(possible, keeps_states(kind, point, matters));
                for (const Node c : told_apart(active, kind, stays)) one.letters.push_back({kind, c});
                add_leaving(one, kind, told_apart(active, kind, way_out(active, kind, possible, stays)));
            }
            of_kind[kind] = {from, one.letters.size()};
        }
        const auto picked_by = [&](const Track& track) {
            Letters letters = 0;
            for (const auto& [kind, node] : track) {
                const auto [from, to] = of_kind.at(kind);
                const Node picked = d.forget(rest(node), clocks());
                for (std::size_t l = from; l < to && l < most_letters; ++l)
                    if (d.both(one.letters[l].attributes, picked) != never)
                        letters |= letter(static_cast<unsigned>(l));
            }
            return letters;
        };
        std::vector<Tracks> tracks;
        for (const std::size_t i : active)
            tracks.push_back(
                {picked_by(drafts_[i].events), picked_by(drafts_[i].triggers), picked_by(drafts_[i].others)});
        return tracks;
    }

    bool make_rules(const Drafts& active, const std::vector<Tracks>& tracks, Case& one) {
        TimedProblem& problem = one.problem;
        problem.letters = static_cast<unsigned>(one.letters.size());
        for (const std::size_t i : active)
            if (!drafts_[i].periods.empty())
                problem.day = static_cast<std::uint32_t>(runtime::microseconds_per_day / one.unit);
        for (std::size_t a = 0; a < active.size(); ++a) {
            const Draft& draft = drafts_[active[a]];
            Rule rule;
            rule.clause = draft.clause;
            rule.guard = guard_of(draft, tracks[a].events, one);
            rule.what = rule_of(draft, tracks[a], one);
            problem.rules.push_back(std::move(rule));
            one.draft_of_rule.push_back(active[a]);
            // What is excused by what is charted with it: care answers with it, and plans it where a demand
            // asks for nothing else.
            if (draft.form == Form::gap || draft.form == Form::forbidden)
                problem.response_only |=
                    tracks[a].others & ~planned(active, tracks, tracks[a].others, ~Letters{0});
        }
        begins_at_midnight(active, problem);
        leave_to_chance(active, tracks, one);
        only_as_an_answer(active, tracks, problem);
        return problem.letters <= most_letters;
    }

    // A line comes in as a day begins here. What rests on how far into a day it does is not looked for.
    void begins_at_midnight(const Drafts& active, const TimedProblem& problem) {
        const bool counts_from_start =
            std::any_of(problem.rules.begin(), problem.rules.end(), [](const Rule& rule) {
                return std::any_of(rule.guard.ways.begin(), rule.guard.ways.end(), [](const auto& way) {
                    return std::any_of(way.begin(), way.end(), [](const GuardAtom& atom) {
                        return atom.newest == 0 && (atom.low > 0 || atom.high != GuardAtom().high);
                    });
                });
            });
        if (!counts_from_start) return;
        for (const std::size_t i : active)
            if (!drafts_[i].periods.empty())
                work_.give_up({drafts_[i].clause}, "at what time of day the line comes in is not told apart");
    }

    // What a clause asks for is care's to do, and all else may happen at any time; but nobody else removes
    // the line.
    void leave_to_chance(const Drafts& active, const std::vector<Tracks>& tracks, Case& one) {
        Letters& chance = one.problem.environment;
        Letters spoken_of = 0;
        for (const Tracks& t : tracks) spoken_of |= t.events | t.triggers | t.others;
        for (std::size_t a = 0; a < active.size(); ++a) {
            const Draft& draft = drafts_[active[a]];
            // What only triggers a clause, and an event asked for with a finding that triggers one.
            if (triggered(draft.form) && draft.form != Form::had)
                chance |= tracks[a].triggers & ~planned(active, tracks, tracks[a].triggers, ~Letters{0});
            // What is found is not care's choice: an event asked for, with values that only a clock asks for.
            for (const DraftClock& clock : guarding(draft)) {
                const Letters found = letters_of(clock, one);
                for (const auto& [kind, runs] : clock.runs_from)
                    if (const Letters of_kind = letters_of(kind, one); (of_kind & ~found) != 0)
                        chance |= found & of_kind & ~planned(active, tracks, found, of_kind);
            }
        }
        const Letters all =
            one.problem.letters < most_letters ? letter(one.problem.letters) - 1 : ~Letters{0};
        chance |= all & ~spoken_of;
        chance &= ~(letters_of(work_.policy.removal, one) | one.problem.leaving);
    }

    // Those of some letters that a demand asks for which picks nothing but these among some others.
    Letters planned(const Drafts& active, const std::vector<Tracks>& tracks, Letters some,
                    Letters among) const {
        Letters result = 0;
        for (std::size_t b = 0; b < active.size(); ++b)
            if (demands(drafts_[active[b]].form) && (tracks[b].events & among & ~some) == 0)
                result |= tracks[b].events & some;
        return result;
    }

    // What ends the stay is no way out of what is asked in it, unless something asks for it now.
    void only_as_an_answer(const Drafts& active, const std::vector<Tracks>& tracks, TimedProblem& problem) {
        Letters at_any_time = 0;
        for (std::size_t a = 0; a < active.size(); ++a) {
            const Form form = drafts_[active[a]].form;
            if (demands(form) && form != Form::response && form != Form::until)
                at_any_time |= tracks[a].events;
        }
        problem.response_only |= problem.leaving & ~at_any_time;
        problem.response_only &= ~problem.environment;
    }

    static Letters letters_of(EventKindId kind, const Case& one) {
        Letters letters = 0;
        for (std::size_t l = 0; l < one.letters.size() && l < most_letters; ++l)
            if (one.letters[l].kind == kind) letters |= letter(static_cast<unsigned>(l));
        return letters;
    }

    decltype(Rule::what) rule_of(const Draft& draft, const Tracks& tracks, const Case& one) const {
        const auto units = [&](std::int64_t us) { return static_cast<std::uint32_t>(us / one.unit); };
        std::vector<std::pair<std::uint32_t, std::uint32_t>> periods;
        for (const auto& [from, to] : draft.periods) periods.emplace_back(units(from), units(to));
        const auto [events, triggers, others] = tracks;
        switch (draft.form) {
            case Form::deadline:
                return Deadline{events, units(draft.span)};
            case Form::gap:
                if (asks_the_early_one(draft)) return Forbidden{events & ~others};
                return Gap{events, units(draft.span), others};
            case Form::response:
                return Response{triggers,       events,         units(draft.span),
                                draft.at_start, draft.by_guard, draft.either_side};
            case Form::until:
                return Until{triggers, events, draft.at_start,
                             draft.next ? Until::Which::next : Until::Which::same, std::move(periods)};
            case Form::had:
                return Had{triggers, events,
                           draft.forever ? std::optional<std::uint32_t>() : units(draft.span)};
            case Form::forbidden:
                return Forbidden{events};
            case Form::at_most:
                return AtMost{events, draft.times, units(draft.span)};
            case Form::each:
                return Each{events, draft.times, std::move(periods)};
            case Form::hold:
                return Hold{triggers, events, others, draft.at_start};
        }
        return Forbidden{};
    }

    // The largest time that divides every constant.
    std::int64_t unit_of(const Drafts& active, std::int64_t stay) const {
        std::int64_t unit = stay < highest ? stay : 0;
        for (const std::size_t i : active) {
            const Draft& draft = drafts_[i];
            unit = std::gcd(unit, draft.span);
            for (const auto& [from, to] : draft.periods)
                unit = std::gcd(std::gcd(std::gcd(unit, from), to), runtime::microseconds_per_day);
            const std::vector<bool> support = guarded_by(draft);
            for (std::uint32_t v = first_moving_; v < support.size(); ++v)
                if (support[v])
                    for (const std::int64_t cut : work_.situations.variables()[v].cuts)
                        unit = std::gcd(unit, cut);
        }
        if (unit == 0) unit = runtime::microseconds_per_hour;
        // An event asked for N times in a period is done a unit apart each time.
        for (const std::size_t i : active)
            for (const auto& [from, to] : drafts_[i].periods)
                while (drafts_[i].times > 1 && (to - from) / unit < drafts_[i].times && unit % 2 == 0)
                    unit /= 2;
        return unit;
    }

    // What is left of for and while once the situation stays: conditions on the clocks of the history.
    // Of a shortest interval that asks more of the early event alone: this, and how long ago the one before
    // came.
    Guard guard_of(const Draft& draft, Letters events, const Case& one) {
        Guard guard;
        std::vector<GuardAtom> way;
        Node node = rest(draft.applies);
        if (asks_the_early_one(draft)) {
            if (node != always)
                work_.give_up({draft.clause}, "its exceptions are not followed beside its `while`");
            node = work_.diagrams.both(node, rest(draft.early));
            GuardAtom& soon = way.emplace_back();
            soon.newest = events;
            soon.low = 1;
            soon.high = static_cast<std::uint32_t>(2 * (draft.span / one.unit) - 1);
        }
        if (node == always) return guard;
        guard.always = false;
        std::map<std::uint32_t, RunsFrom> runs_from;  // by clock
        for (const DraftClock& clock : guarding(draft))
            runs_from[clock.variable] = {letters_of(clock, one), clock.from_start};
        const std::function<void(Node)> paths = [&](Node n) {
            if (n == never) return;
            if (n == always) {
                guard.ways.push_back(way);
                return;
            }
            const std::uint32_t v = work_.diagrams.top(n);
            const Variable& variable = work_.situations.variables()[v];
            for (std::uint32_t c = 0; c < variable.cells.size(); ++c) {
                const Node child = work_.diagrams.child(n, c);
                if (child == never) continue;
                const RunsFrom from =
                    variable.kind == VariableKind::newest ? runs_from[v] : RunsFrom{0, true};
                for (const std::vector<GuardAtom>& any :
                     ways_of(from, variable.cells[c], one.unit, counts_from_its_begin(draft))) {
                    way.insert(way.end(), any.begin(), any.end());
                    paths(child);
                    way.resize(way.size() - any.size());
                }
            }
        };
        paths(node);
        return guard;
    }

    Letters letters_of(const DraftClock& clock, const Case& one) {
        Letters letters = 0;
        for (std::size_t l = 0; l < one.letters.size() && l < most_letters; ++l)
            if (work_.diagrams.both(starts_clock(clock, one.letters[l].kind).yes,
                                    one.letters[l].attributes) != never)
                letters |= letter(static_cast<unsigned>(l));
        return letters;
    }

    // What begins "more than D" after the insertion is counted from D itself, and answered there already. (Of
    // other clocks an event at that instant may keep it from beginning.)
    static bool counts_from_its_begin(const Draft& draft) {
        return draft.form == Form::deadline || draft.by_guard;
    }

    // How a clock can stand in the cell: any of these, all of each. `closed`: its begin is taken to be of it.
    static std::vector<std::vector<GuardAtom>> ways_of(RunsFrom from, const ValueCell& cell,
                                                       std::int64_t unit, bool closed) {
        GuardAtom not_yet;
        not_yet.newest = from.letters;
        not_yet.never_yet = true;
        not_yet.low = 1;
        not_yet.high = 0;
        std::vector<GuardAtom> none_came;  // nothing to say of a clock that no event starts
        if (from.letters != 0) none_came.push_back(not_yet);
        std::vector<std::vector<GuardAtom>> ways;
        if (cell.kind == ValueCell::Kind::never_yet) {
            if (!from.start) ways.push_back(none_came);
            return ways;
        }
        const auto half = [&](std::int64_t us) {  // 2n at n units, 2n + 1 between n and n + 1
            const std::int64_t floor = us / unit;
            return static_cast<std::uint32_t>(2 * floor + (us % unit != 0 ? 1 : 0));
        };
        GuardAtom within;
        within.low = half(cell.low);
        if (closed && from.letters == 0 && within.low % 2 != 0) --within.low;
        if (cell.high < highest) within.high = half(cell.high);
        if (from.start) {
            ways.push_back(none_came);
            ways.back().push_back(within);
        }
        within.newest = from.letters;
        if (from.letters != 0) ways.push_back({within});
        return ways;
    }
};

}  // namespace

std::optional<Case> make_case(Workspace& work, const std::vector<Draft>& drafts, const Meeting& meeting,
                              bool& too_many_letters) {
    return CaseMaker(work, drafts, meeting).make(too_many_letters);
}

std::string signature(const Case& one) {
    std::string key = fmt::format("{} {} {} {} {} {};", one.unit, one.stays.value_or(0), one.problem.letters,
                                  one.problem.environment, one.problem.response_only, one.problem.leaving);
    for (const LetterMeaning& l : one.letters) key += fmt::format("{}.{} ", l.kind, l.attributes);
    for (std::size_t r = 0; r < one.problem.rules.size(); ++r) {
        const Rule& rule = one.problem.rules[r];
        key += fmt::format("|{}:", one.draft_of_rule[r]);
        std::visit(
            [&](const auto& what) {
                if constexpr (requires { what.answers; }) key += fmt::format("a{} ", what.answers);
                if constexpr (requires { what.events; }) key += fmt::format("e{} ", what.events);
                if constexpr (requires { what.triggers; }) key += fmt::format("t{} ", what.triggers);
                if constexpr (requires { what.before; }) key += fmt::format("b{} ", what.before);
                if constexpr (requires { what.exempt; }) key += fmt::format("x{} ", what.exempt);
                if constexpr (requires { what.held; })
                    key += fmt::format("h{} {} {} ", what.starts, what.held, what.releases);
            },
            rule.what);
        if (rule.guard.always) continue;
        for (const std::vector<GuardAtom>& way : rule.guard.ways) {
            key += "/";
            for (const GuardAtom& atom : way)
                key += fmt::format("g{} {} {} {},", atom.newest, atom.low, atom.high, atom.never_yet);
        }
    }
    return key;
}

namespace {

// What is left of a condition once everything but events and clocks is known, and where.
std::map<Node, Node> residuals(const Workspace& work, Node node) {
    Diagrams& d = work.diagrams;
    const std::uint32_t first = first_moving(work.situations);
    std::map<Node, std::map<Node, Node>> memo;
    const std::function<const std::map<Node, Node>&(Node)> go = [&](Node n) -> const std::map<Node, Node>& {
        const auto found = memo.find(n);
        if (found != memo.end()) return found->second;
        std::map<Node, Node> result;
        if (d.top(n) >= first) {
            result[n] = always;
        } else {
            const std::uint32_t v = d.top(n);
            for (std::uint32_t c = 0; c < d.width(v); ++c) {
                const std::map<Node, Node>& below = go(d.child(n, c));
                for (const auto& [residual, where] : below) {
                    Node& here = result.emplace(residual, never).first->second;
                    here = d.either(here, d.both(d.cell(v, c), where));
                }
            }
        }
        return memo[n] = std::move(result);
    };
    return go(node);
}

std::vector<bool> looked_at(const Workspace& work, const std::vector<Draft>& drafts, const Case& one) {
    std::vector<bool> result(work.situations.variables().size(), false);
    for (const std::size_t i : one.draft_of_rule)
        for (const Node node : conditions_of(drafts[i])) {
            const std::vector<bool>& support = work.diagrams.support(node);
            for (std::size_t v = 0; v < support.size(); ++v) result[v] = result[v] || support[v];
        }
    return result;
}

}  // namespace

Node wide_region(Workspace& work, const std::vector<Draft>& drafts, const Case& one,
                 const std::set<runtime::ClauseId>& clauses) {
    Diagrams& d = work.diagrams;
    std::vector<bool> moving(work.situations.variables().size(), false);
    for (std::uint32_t v = first_moving(work.situations); v < moving.size(); ++v) moving[v] = true;
    Node result = d.forget(
        d.both(work.situations.possible(), work.situations.documented(looked_at(work, drafts, one))), moving);
    for (std::size_t r = 0; r < one.problem.rules.size(); ++r) {
        if (clauses.count(one.problem.rules[r].clause) == 0) continue;
        for (const Node node : conditions_of(drafts[one.draft_of_rule[r]])) {
            const std::map<Node, Node> parts = residuals(work, node);
            result = d.both(result, parts.at(at_point(work, node, one.point)));
        }
    }
    return result;
}

}  // namespace linelaw::compiler::analysis
