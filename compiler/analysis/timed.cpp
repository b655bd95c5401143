// From drafted rules to timed problems, situation by situation, and from their answers to findings.
#include "compiler/analysis/timed.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cassert>
#include <numeric>
#include <set>

#include "compiler/analysis/witness.hpp"

namespace linelaw::compiler::analysis {

using runtime::ClauseId;
using runtime::EventKindId;
using runtime::none;
using Form = Draft::Form;

namespace {

constexpr std::int64_t day_length = 24 * runtime::microseconds_per_hour;
constexpr std::size_t region_limit = 20'000;  // situations of one group of clauses told apart
constexpr std::size_t solve_limit = 400;      // timed problems of one group of clauses

bool demands(Form form) {
    return form == Form::deadline || form == Form::response || form == Form::until || form == Form::each ||
           form == Form::had;
}
bool triggered(Form form) {
    return form == Form::response || form == Form::until || form == Form::had || form == Form::hold;
}

// The kinds that a draft keeps from happening at will.
const Track* restricted(const Draft& d) {
    switch (d.form) {
        case Form::gap:
        case Form::forbidden:
        case Form::at_most:
        case Form::hold:
            return &d.events;
        case Form::had:
            return &d.triggers;
        default:
            return nullptr;
    }
}

// Only what restricts an event that something demands can ever clash. Everything else is left out: an event
// that nothing restricts may be done whenever it is asked for.
class Relevance {
  public:
    Relevance(Workspace& work, const std::vector<Draft>& drafts)
        : drafts_(drafts), kept_(drafts.size(), true) {
        keep_entangled_values(work);
        while (drop_one_round()) {
        }
    }
    bool kept(std::size_t draft) const { return kept_[draft]; }
    // Groups of drafts that share kinds of event.
    std::vector<std::vector<std::size_t>> groups() const {
        std::map<EventKindId, std::size_t> owner;
        std::vector<std::size_t> parent(drafts_.size());
        std::iota(parent.begin(), parent.end(), 0U);
        const auto find = [&](std::size_t i) {
            while (parent[i] != i) i = parent[i];
            return i;
        };
        std::map<ClauseId, std::size_t> of_clause;
        for (std::size_t i = 0; i < drafts_.size(); ++i) {
            if (!kept_[i]) continue;
            for (const Track* track : {&drafts_[i].events, &drafts_[i].triggers, &drafts_[i].others})
                for (const auto& [kind, node] : *track) {
                    const auto [place, fresh] = owner.emplace(kind, i);
                    if (!fresh) parent[find(i)] = find(place->second);
                }
        }
        std::map<std::size_t, std::vector<std::size_t>> gathered;
        for (std::size_t i = 0; i < drafts_.size(); ++i)
            if (kept_[i]) gathered[find(i)].push_back(i);
        std::vector<std::vector<std::size_t>> result;
        for (auto& [root, members] : gathered) result.push_back(std::move(members));
        return result;
    }

  private:
    const std::vector<Draft>& drafts_;
    std::vector<bool> kept_;

    // A demand on values can only stand in the way where something else picks events out by the same values:
    // otherwise any event may be given values that keep it (or no value does, and that is said elsewhere).
    void keep_entangled_values(Workspace& work) {
        std::map<EventKindId, std::vector<bool>> picked;
        const auto attributes = [&](Node node) {
            std::vector<bool> support = work.diagrams.support(node);
            for (std::uint32_t v = 0; v < support.size(); ++v) {
                const Variable& variable = work.situations.variables()[v];
                if (support[v] && variable.kind == VariableKind::relation)
                    support[variable.left] = support[variable.right] = true;
            }
            for (std::uint32_t v = 0; v < support.size(); ++v)
                if (work.situations.variables()[v].kind != VariableKind::event) support[v] = false;
            return support;
        };
        const auto add = [&](EventKindId kind, const std::vector<bool>& support) {
            std::vector<bool>& all = picked[kind];
            all.resize(support.size());
            for (std::size_t v = 0; v < support.size(); ++v) all[v] = all[v] || support[v];
        };
        for (const Draft& d : drafts_)
            if (!d.of_values)
                for (const Track* track : {&d.events, &d.triggers, &d.others})
                    for (const auto& [kind, node] : *track) add(kind, attributes(node));
        for (std::size_t i = 0; i < drafts_.size(); ++i) kept_[i] = !drafts_[i].of_values;
        for (bool more = true; more;) {
            more = false;
            for (std::size_t i = 0; i < drafts_.size(); ++i) {
                if (kept_[i]) continue;
                for (const auto& [kind, node] : drafts_[i].events) {
                    const std::vector<bool> own = attributes(node);
                    const std::vector<bool>& others = picked[kind];
                    bool shares = false;
                    for (std::size_t v = 0; v < others.size(); ++v) shares = shares || (own[v] && others[v]);
                    if (!shares) continue;
                    kept_[i] = more = true;
                    add(kind, own);
                }
            }
        }
    }

    bool drop_one_round() {
        std::set<EventKindId> held_back;
        std::set<EventKindId> demanded;
        std::set<EventKindId> triggering;
        for (std::size_t i = 0; i < drafts_.size(); ++i) {
            if (!kept_[i]) continue;
            const Draft& d = drafts_[i];
            if (const Track* track = restricted(d))
                for (const auto& [kind, node] : *track) held_back.insert(kind);
            if (demands(d.form))
                for (const auto& [kind, node] : d.events) demanded.insert(kind);
            if (d.form == Form::hold)
                for (const auto& [kind, node] : d.others) demanded.insert(kind);  // to end it
            if (triggered(d.form))
                for (const auto& [kind, node] : d.triggers) triggering.insert(kind);
        }
        bool dropped = false;
        for (std::size_t i = 0; i < drafts_.size(); ++i) {
            if (!kept_[i]) continue;
            const Draft& d = drafts_[i];
            const bool free_answer =
                demands(d.form) && std::any_of(d.events.begin(), d.events.end(), [&](const auto& e) {
                    return held_back.count(e.first) == 0 && triggering.count(e.first) == 0;
                });
            const Track* track = restricted(d);
            const bool nobody_asks =
                track != nullptr && std::none_of(track->begin(), track->end(),
                                                 [&](const auto& e) { return demanded.count(e.first) != 0; });
            if (free_answer || nobody_asks) {
                kept_[i] = false;
                dropped = true;
            }
        }
        return dropped;
    }
};

// One letter of a situation: an event of a kind, told apart by which tracks pick it.
struct LetterMeaning {
    EventKindId kind = none;
    Node attributes = always;  // of the event, in this situation
};

struct Region {
    Node where = always;
    std::vector<Node> residuals;  // of each node that tells situations apart
};

// A timed problem that some situations share.
struct Case {
    TimedProblem problem;
    std::vector<LetterMeaning> letters;
    std::vector<std::size_t> draft_of_rule;
    std::int64_t unit = 1;  // microseconds
    Node where = never;
    std::vector<std::uint32_t> point;  // the situation that the letters are told apart in
};

// A policy may have many problems that are each too large. The first few are tried hard, the next a little,
// and then no more: by counting, so that one policy always gets one answer.
class Effort {
  public:
    explicit Effort(std::size_t most) : most_(most) {}
    std::size_t limit() const { return gave_up_ < 2 ? most_ : gave_up_ < 20 ? std::min(most_, little) : 0; }
    void gave_up() { ++gave_up_; }

  private:
    static constexpr std::size_t little = 5000;  // positions
    std::size_t most_;
    std::size_t gave_up_ = 0;
};

class TimedConflicts {
  public:
    TimedConflicts(Workspace& work, const std::vector<Draft>& drafts, Effort& effort)
        : work_(work), drafts_(drafts), effort_(effort) {
        first_moving_ = static_cast<std::uint32_t>(work.situations.variables().size());
        for (std::uint32_t v = first_moving_; v-- > 0;)
            if (work.situations.variables()[v].kind >= VariableKind::event) first_moving_ = v;
    }

    void find(const std::vector<std::size_t>& group) {
        std::map<std::string, Case> cases;
        if (!split(group)) {
            work_.skipped(fmt::format(
                "not analysed for timed conflicts: {} (too many situations to tell apart)", names(group)));
            work_.give_up(clauses_of(group), "it was not analysed for timed conflicts");
            return;
        }
        for (const Region& region : regions_) make_case(group, region, cases);
        for (auto& [key, one] : cases) judge(one);
    }

  private:
    Workspace& work_;
    const std::vector<Draft>& drafts_;
    Effort& effort_;
    std::uint32_t first_moving_ = 0;  // variables from here on belong to events and clocks
    std::vector<Region> regions_;
    std::vector<bool> looked_at_;         // variables that the group's conditions look at
    std::map<Node, std::size_t> column_;  // node → index into residuals
    std::set<std::pair<std::string, std::vector<ClauseId>>> reported_;
    std::size_t solves_ = 0;
    bool said_too_big_ = false;

    std::vector<ClauseId> clauses_of(const std::vector<std::size_t>& group) const {
        std::vector<ClauseId> ids;
        for (const std::size_t i : group)
            if (std::find(ids.begin(), ids.end(), drafts_[i].clause) == ids.end())
                ids.push_back(drafts_[i].clause);
        return ids;
    }

    std::string names(const std::vector<std::size_t>& group) const {
        std::vector<ClauseId> ids = clauses_of(group);
        if (ids.size() > 6) {
            const std::size_t more = ids.size() - 6;
            ids.resize(6);
            return work_.quoted(ids) + fmt::format(" and {} more", more);
        }
        return work_.quoted(ids);
    }

    // ---- situations told apart

    // What is left of a condition once everything but events and clocks is known, and where.
    std::map<Node, Node> residuals(Node node) {
        std::map<Node, std::map<Node, Node>> memo;
        const std::function<const std::map<Node, Node>&(Node)> go =
            [&](Node n) -> const std::map<Node, Node>& {
            const auto found = memo.find(n);
            if (found != memo.end()) return found->second;
            std::map<Node, Node> result;
            Diagrams& d = work_.diagrams;
            if (d.top(n) >= first_moving_) {
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

    std::vector<bool> moving() const {
        std::vector<bool> result(work_.situations.variables().size(), false);
        for (std::uint32_t v = first_moving_; v < result.size(); ++v) result[v] = true;
        return result;
    }

    static std::vector<Node> nodes_of(const Draft& draft) {
        std::vector<Node> nodes{draft.applies};
        for (const Track* track : {&draft.events, &draft.triggers, &draft.others})
            for (const auto& [kind, node] : *track) nodes.push_back(node);
        return nodes;
    }

    bool split(const std::vector<std::size_t>& group) {
        Diagrams& d = work_.diagrams;
        std::vector<bool> looked_at(work_.situations.variables().size(), false);
        for (const std::size_t i : group)
            for (const Node node : nodes_of(drafts_[i])) {
                const std::vector<bool> support = d.support(node);
                for (std::size_t v = 0; v < support.size(); ++v) looked_at[v] = looked_at[v] || support[v];
            }
        looked_at_ = looked_at;
        Node start = d.both(work_.situations.possible(), work_.situations.documented(looked_at));
        for (const std::size_t i : group)
            if (const runtime::PartKindId part = work_.clause(drafts_[i].clause).for_each; part != none)
                start = d.both(start, work_.situations.possible_with(part));
        regions_ = {{d.forget(start, moving()), {}}};
        column_.clear();
        for (const std::size_t i : group) {
            const Draft& draft = drafts_[i];
            for (const Node node : nodes_of(draft)) {
                if (!column_.emplace(node, column_.size()).second) continue;
                const std::map<Node, Node> parts = residuals(node);
                std::vector<Region> finer;
                for (const Region& region : regions_)
                    for (const auto& [residual, where] : parts) {
                        const Node both = d.both(region.where, where);
                        if (both == never) continue;
                        finer.push_back({both, region.residuals});
                        finer.back().residuals.push_back(residual);
                    }
                regions_ = std::move(finer);
                if (regions_.size() > region_limit) return false;
            }
        }
        return true;
    }

    Node residual(const Region& region, Node node) const { return region.residuals[column_.at(node)]; }

    // ---- letters of one situation

    // The rest of a condition at one point of everything that stays.
    Node at_point(Node node, const std::vector<std::uint32_t>& point) const {
        while (work_.diagrams.top(node) < first_moving_)
            node = work_.diagrams.child(node, point[work_.diagrams.top(node)]);
        return node;
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

    // ---- one situation's problem

    struct Mask {
        Letters letters = 0;
        bool removal = false;
    };

    void make_case(const std::vector<std::size_t>& group, const Region& region,
                   std::map<std::string, Case>& cases) {
        std::vector<std::size_t> active;
        for (const std::size_t i : group)
            if (residual(region, drafts_[i].applies) != never) active.push_back(i);
        if (active.size() < 2 && !self_restricting(active)) return;
        Case one;
        one.where = region.where;
        one.point = work_.diagrams.assignment(region.where);
        const std::vector<std::vector<Mask>> masks = make_letters(active, region, one.point, one);
        if (one.letters.size() > most_letters) {
            work_.skipped("not analysed for timed conflicts: " + names(active) +
                          " (too many kinds of event at once)");
            work_.give_up(clauses_of(active), "it was not analysed for timed conflicts");
            return;
        }
        if (!make_rules(active, region, masks, one)) return;
        std::string key = signature(one);
        const auto [place, fresh] = cases.emplace(key, one);
        if (!fresh) place->second.where = work_.diagrams.either(place->second.where, region.where);
    }

    bool self_restricting(const std::vector<std::size_t>& active) const {
        return !active.empty() && demands(drafts_[active[0]].form);
    }

    // Splits the events of each kind into letters, and says for each draft which letters its tracks pick:
    // events, triggers, others.
    std::vector<std::vector<Mask>> make_letters(const std::vector<std::size_t>& active, const Region& region,
                                                const std::vector<std::uint32_t>& point, Case& one) {
        Diagrams& d = work_.diagrams;
        std::vector<bool> matters(work_.situations.variables().size(), false);
        std::set<EventKindId> kinds;
        std::set<runtime::PartKindId> parts;
        for (const std::size_t i : active) {
            const Draft& draft = drafts_[i];
            if (const runtime::PartKindId part = work_.clause(draft.clause).for_each; part != none)
                parts.insert(part);
            std::vector<Node> nodes{draft.applies};
            for (const Track* track : {&draft.events, &draft.triggers, &draft.others})
                for (const auto& [kind, node] : *track) {
                    kinds.insert(kind);
                    nodes.push_back(node);
                }
            for (const Node node : nodes) {
                const std::vector<bool> support = d.support(node);
                for (std::size_t v = 0; v < support.size(); ++v) matters[v] = matters[v] || support[v];
            }
            guard_kinds(residual(region, draft.applies), kinds);
        }
        const Node possible = d.forget(
            at_point(d.both(work_.situations.possible(), work_.situations.documented(looked_at_)), point),
            clocks());
        std::map<EventKindId, std::pair<std::size_t, std::size_t>> of_kind;  // letters [from, to)
        for (const EventKindId kind : kinds) {
            const std::size_t from = one.letters.size();
            if (kind != work_.policy.insertion && kind != work_.policy.removal && !ends_a_part(kind, parts)) {
                std::vector<Node> classes{d.both(possible, keeps_states(kind, point, matters))};
                for (const std::size_t i : active)
                    for (const Track* track :
                         {&drafts_[i].events, &drafts_[i].triggers, &drafts_[i].others}) {
                        const auto found = track->find(kind);
                        if (found == track->end()) continue;
                        const Node picked = d.forget(residual(region, found->second), clocks());
                        std::vector<Node> finer;
                        for (const Node c : classes)
                            for (const Node half : {d.both(c, picked), d.without(c, picked)})
                                if (half != never) finer.push_back(half);
                        classes = std::move(finer);
                    }
                for (const Node c : classes)
                    if (c != never) one.letters.push_back({kind, c});
            }
            of_kind[kind] = {from, one.letters.size()};
        }
        const auto mask = [&](const Track& track) {
            Mask m;
            for (const auto& [kind, node] : track) {
                if (kind == work_.policy.removal) m.removal = true;
                const auto [from, to] = of_kind.at(kind);
                const Node picked = d.forget(residual(region, node), clocks());
                for (std::size_t l = from; l < to && l < most_letters; ++l)
                    if (d.both(one.letters[l].attributes, picked) != never)
                        m.letters |= letter(static_cast<unsigned>(l));
            }
            return m;
        };
        std::vector<std::vector<Mask>> masks;
        for (const std::size_t i : active)
            masks.push_back({mask(drafts_[i].events), mask(drafts_[i].triggers), mask(drafts_[i].others)});
        return masks;
    }

    // Kinds of event that a condition on the history looks back to.
    void guard_kinds(Node node, std::set<EventKindId>& kinds) const {
        const std::vector<bool> support = work_.diagrams.support(node);
        for (std::uint32_t v = first_moving_; v < support.size(); ++v)
            if (support[v])
                for (const runtime::Pattern& p : work_.situations.variables()[v].events)
                    kinds.insert(p.event);
    }

    bool make_rules(const std::vector<std::size_t>& active, const Region& region,
                    const std::vector<std::vector<Mask>>& masks, Case& one) {
        TimedProblem& problem = one.problem;
        problem.letters = static_cast<unsigned>(one.letters.size());
        one.unit = unit_of(active, region);
        for (const std::size_t i : active)
            if (!drafts_[i].periods.empty()) problem.day = static_cast<std::uint32_t>(day_length / one.unit);
        bool leaves = false;
        for (std::size_t a = 0; a < active.size(); ++a) leaves = leaves || masks[a][0].removal;
        if (leaves) {
            one.letters.push_back({work_.policy.removal, always});
            problem.leaving = letter(problem.letters++);
        }
        for (std::size_t a = 0; a < active.size(); ++a) {
            const Draft& draft = drafts_[active[a]];
            Rule rule;
            rule.clause = draft.clause;
            rule.guard = guard_of(residual(region, draft.applies), one);
            rule.what = rule_of(draft, masks[a], one);
            if (masks[a][0].removal) add_removal(rule, problem.leaving);
            problem.rules.push_back(std::move(rule));
            one.draft_of_rule.push_back(active[a]);
            if (draft.form == Form::gap && masks[a][2].letters != 0)
                problem.response_only |= masks[a][2].letters;
        }
        // What a clause asks for is care's to do. What only triggers one may happen at any time, and so may
        // an event asked for with a finding that triggers one.
        for (std::size_t a = 0; a < active.size(); ++a) {
            const Draft& draft = drafts_[active[a]];
            if (!triggered(draft.form) || draft.form == Form::had) continue;
            for (unsigned l = 0; l < problem.letters; ++l) {
                if ((masks[a][1].letters & letter(l)) == 0) continue;
                bool plain = false;
                for (std::size_t b = 0; b < active.size(); ++b) {
                    const Letters asked = masks[b][0].letters;
                    if (demands(drafts_[active[b]].form) && (asked & letter(l)) != 0 &&
                        (asked & ~masks[a][1].letters) == 0)
                        plain = true;
                }
                if (!plain) problem.environment |= letter(l);
            }
        }
        // A history's events that nobody asks for may come at any time too.
        Letters spoken_of = 0;
        for (const std::vector<Mask>& m : masks) spoken_of |= m[0].letters | m[1].letters | m[2].letters;
        for (unsigned l = 0; l < problem.letters; ++l)
            if ((spoken_of & letter(l)) == 0 && problem.leaving != letter(l))
                problem.environment |= letter(l);
        problem.response_only &= ~problem.environment;
        return problem.letters <= most_letters;
    }

    static void add_removal(Rule& rule, Letters leaving) {
        std::visit(
            [&](auto& what) {
                if constexpr (requires { what.answers; }) what.answers |= leaving;
            },
            rule.what);
    }

    decltype(Rule::what) rule_of(const Draft& draft, const std::vector<Mask>& masks, const Case& one) const {
        const auto units = [&](std::int64_t us) { return static_cast<std::uint32_t>(us / one.unit); };
        std::vector<std::pair<std::uint32_t, std::uint32_t>> periods;
        for (const auto& [from, to] : draft.periods) periods.emplace_back(units(from), units(to));
        const Letters events = masks[0].letters;
        const Letters triggers = masks[1].letters;
        switch (draft.form) {
            case Form::deadline:
                return Deadline{events, units(draft.span)};
            case Form::gap:
                return Gap{events, units(draft.span), masks[2].letters};
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
                return Hold{triggers, events, masks[2].letters, draft.at_start};
        }
        return Forbidden{};
    }

    // The largest time that divides every constant.
    std::int64_t unit_of(const std::vector<std::size_t>& active, const Region& region) const {
        std::int64_t unit = 0;
        for (const std::size_t i : active) {
            const Draft& draft = drafts_[i];
            unit = std::gcd(unit, draft.span);
            for (const auto& [from, to] : draft.periods)
                unit = std::gcd(std::gcd(std::gcd(unit, from), to), day_length);
            const std::vector<bool> support = work_.diagrams.support(residual(region, draft.applies));
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
    Guard guard_of(Node node, const Case& one) {
        Guard guard;
        if (node == always) return guard;
        guard.always = false;
        std::vector<GuardAtom> way;
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
                way.push_back(atom_of(variable, variable.cells[c], one));
                paths(child);
                way.pop_back();
            }
        };
        paths(node);
        return guard;
    }

    GuardAtom atom_of(const Variable& variable, const ValueCell& cell, const Case& one) {
        GuardAtom atom;
        if (variable.kind == VariableKind::newest)
            for (std::size_t l = 0; l < one.letters.size() && l < most_letters; ++l)
                if (work_.diagrams.both(work_.situations.matches(variable.events, one.letters[l].kind).yes,
                                        one.letters[l].attributes) != never)
                    atom.newest |= letter(static_cast<unsigned>(l));
        if (cell.kind == ValueCell::Kind::never_yet) {
            atom.never_yet = true;
            atom.low = 1;
            atom.high = 0;
            return atom;
        }
        const auto half = [&](std::int64_t us) {  // 2n at n units, 2n + 1 between n and n + 1
            const std::int64_t floor = us / one.unit;
            return static_cast<std::uint32_t>(2 * floor + (us % one.unit != 0 ? 1 : 0));
        };
        atom.low = half(cell.low);
        if (cell.high < highest) atom.high = half(cell.high);
        return atom;
    }

    static std::string signature(const Case& one) {
        std::string key =
            fmt::format("{} {} {} {} {};", one.unit, one.problem.letters, one.problem.environment,
                        one.problem.response_only, one.problem.leaving);
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

    // ---- answers

    using Set = std::vector<std::size_t>;  // of rules of a case, rising

    TimedAnswer ask(const Case& one, const Set& set) {
        TimedProblem problem = one.problem;
        problem.rules.clear();
        const std::set<ClauseId> clauses = clauses_of(one, set);
        for (std::size_t r = 0; r < one.problem.rules.size(); ++r) {
            Rule rule = one.problem.rules[r];
            rule.binds = clauses.count(rule.clause) != 0;
            if (!rule.binds && drafts_[one.draft_of_rule[r]].should) continue;
            problem.rules.push_back(std::move(rule));
        }
        ++solves_;
        TimedAnswer answer;
        answer.verdict = Verdict::exhausted;
        if (const std::size_t limit = effort_.limit(); limit > 0)
            answer = solve(problem, limit, one.unit, runtime::microseconds_per_minute);
        if (answer.verdict == Verdict::exhausted) effort_.gave_up();
        return answer;
    }

    std::set<ClauseId> clauses_of(const Case& one, const Set& set) const {
        std::set<ClauseId> clauses;
        for (const std::size_t r : set) clauses.insert(one.problem.rules[r].clause);
        return clauses;
    }

    void judge(const Case& one) {
        for (const bool with_should : {false, true}) {
            std::set<ClauseId> clauses;
            bool any_should = false;
            for (std::size_t r = 0; r < one.problem.rules.size(); ++r) {
                const bool should = drafts_[one.draft_of_rule[r]].should;
                any_should = any_should || should;
                if (with_should || !should) clauses.insert(one.problem.rules[r].clause);
            }
            if (with_should && !any_should) continue;
            std::set<std::set<ClauseId>> seen;
            explore(one, clauses, with_should, seen);
        }
    }

    Set rules_of(const Case& one, const std::set<ClauseId>& clauses) const {
        Set set;
        for (std::size_t r = 0; r < one.problem.rules.size(); ++r)
            if (clauses.count(one.problem.rules[r].clause) != 0) set.push_back(r);
        return set;
    }

    // Every minimal set: one by leaving out clause after clause, the others with one of its clauses gone.
    void explore(const Case& one, const std::set<ClauseId>& clauses, bool with_should,
                 std::set<std::set<ClauseId>>& seen) {
        if (clauses.empty() || !seen.insert(clauses).second) return;
        if (solves_ > solve_limit) {
            too_big(clauses);
            return;
        }
        TimedAnswer answer = ask(one, rules_of(one, clauses));
        if (answer.verdict == Verdict::exhausted) return too_big(clauses);
        if (answer.verdict == Verdict::keeps) return;
        const bool conflict = answer.verdict == Verdict::conflict;
        std::set<ClauseId> minimal = clauses;
        for (const ClauseId c : clauses) {
            std::set<ClauseId> fewer = minimal;
            fewer.erase(c);
            if (fewer.empty()) continue;
            TimedAnswer without = ask(one, rules_of(one, fewer));
            if (without.verdict == Verdict::exhausted) return too_big(clauses);
            const bool still =
                conflict ? without.verdict == Verdict::conflict : without.verdict != Verdict::keeps;
            if (!still) continue;
            minimal = std::move(fewer);
            answer = std::move(without);
        }
        const bool has_should =
            std::any_of(minimal.begin(), minimal.end(), [&](ClauseId c) { return work_.clause(c).should; });
        if (with_should == has_should) report(one, minimal, answer, conflict);
        for (const ClauseId c : minimal) {
            std::set<ClauseId> fewer = clauses;
            fewer.erase(c);
            explore(one, fewer, with_should, seen);
        }
    }

    void too_big(const std::set<ClauseId>& clauses) {
        const std::vector<ClauseId> ids(clauses.begin(), clauses.end());
        work_.give_up(ids, "it was not analysed to the end for timed conflicts");
        if (said_too_big_) return;
        said_too_big_ = true;
        work_.skipped("not analysed to the end for timed conflicts: " + work_.quoted(ids) +
                      " (their intervals make too many moments to tell apart)");
    }

    std::string code_of(const Case& one, const std::set<ClauseId>& clauses, bool conflict) const {
        bool response = false;
        bool forbids = false;
        for (std::size_t r = 0; r < one.problem.rules.size(); ++r) {
            const Rule& rule = one.problem.rules[r];
            if (clauses.count(rule.clause) == 0) continue;
            const Letters other = one.problem.environment;
            if (const auto* what = std::get_if<Response>(&rule.what))
                response = response || what->at_start || what->by_guard || (what->triggers & other) != 0;
            if (const auto* what = std::get_if<Until>(&rule.what))
                response = response || (what->triggers & other) != 0;
            response = response || std::holds_alternative<Hold>(rule.what);
            forbids = forbids || std::holds_alternative<Forbidden>(rule.what);
        }
        if (response) return conflict ? "conflict.response" : "corner.response";
        if (forbids && conflict) return "conflict.forbidden";
        return conflict ? "conflict.interval" : "corner.interval";
    }

    void report(const Case& one, const std::set<ClauseId>& clauses, const TimedAnswer& answer,
                bool conflict) {
        const std::string code = code_of(one, clauses, conflict);
        const std::vector<ClauseId> ids(clauses.begin(), clauses.end());
        if (!reported_.emplace(code, ids).second) return;
        Finding finding;
        finding.code = code;
        for (const ClauseId c : ids) {
            finding.ids.push_back(work_.clause(c).id);
            finding.labels.push_back(work_.label(c));
            finding.advisory = finding.advisory || work_.clause(c).should;
        }
        std::string possible;
        for (const ClauseId c : ids)
            if (!outside_fragment(work_, c).empty()) possible = "possible: ";
        const Box box = work_.situations.smallest(wide_region(one, clauses));
        finding.message =
            conflict
                ? fmt::format("{}no care keeps {}{}{}", possible, work_.quoted(ids),
                              ids.size() > 1 ? " together" : "", work_.situations.where_sentence(box))
                : fmt::format(
                      "{}{} can {}be kept, but a history that breaks nothing leads to where they cannot{}",
                      possible, work_.quoted(ids), ids.size() > 1 ? "all " : "",
                      work_.situations.where_sentence(box));
        finding.helps = {
            "decide which of them gives way: narrow its `for` or `while`, or let the other `overrides` it",
            "or change an interval so that one fits into the other"};
        Story story;
        story.point = one.point;
        story.corner = !conflict;
        if (one.problem.day != 0) story.start = 0;
        for (const TimedStep& step : answer.history)
            story.events.push_back(
                {step.at, one.letters[step.letter].kind, one.letters[step.letter].attributes});
        story.until = answer.until;
        story.limit = answer.limit;
        for (const unsigned l : answer.last)
            if (answers_something(one, clauses, l)) {
                story.last = StoryEvent{answer.until, one.letters[l].kind, one.letters[l].attributes};
                break;
            }
        story.into_corner = answer.into_corner;
        show_story(work_, finding, ids, box, story);
        work_.add(std::move(finding));
    }

    bool answers_something(const Case& one, const std::set<ClauseId>& clauses, unsigned l) const {
        bool answers = false;
        for (const Rule& rule : one.problem.rules) {
            if (clauses.count(rule.clause) == 0) continue;
            std::visit(
                [&](const auto& what) {
                    if constexpr (requires { what.answers; })
                        answers = answers || (what.answers & letter(l)) != 0;
                },
                rule.what);
        }
        return answers;
    }

    // Wherever these clauses meet with the same meaning, other clauses or not.
    Node wide_region(const Case& one, const std::set<ClauseId>& clauses) {
        Diagrams& d = work_.diagrams;
        const std::vector<std::uint32_t>& point = one.point;
        Node result =
            d.forget(d.both(work_.situations.possible(), work_.situations.documented(looked_at_)), moving());
        for (std::size_t r = 0; r < one.problem.rules.size(); ++r) {
            if (clauses.count(one.problem.rules[r].clause) == 0) continue;
            for (const Node node : nodes_of(drafts_[one.draft_of_rule[r]])) {
                const std::map<Node, Node> parts = residuals(node);
                result = d.both(result, parts.at(at_point(node, point)));
            }
        }
        return result;
    }
};

}  // namespace

namespace {

bool looks_at_parts(const Workspace& work, const Draft& draft) {
    if (work.clause(draft.clause).for_each != none) return true;
    std::vector<Node> nodes{draft.applies};
    for (const Track* track : {&draft.events, &draft.triggers, &draft.others})
        for (const auto& [kind, node] : *track) nodes.push_back(node);
    return std::any_of(nodes.begin(), nodes.end(), [&](Node node) {
        const std::vector<bool> support = work.diagrams.support(node);
        for (std::uint32_t v = 0; v < support.size(); ++v) {
            const VariableKind kind = work.situations.variables()[v].kind;
            if (support[v] && (kind == VariableKind::part || kind == VariableKind::some_part)) return true;
        }
        return false;
    });
}

// Where no clause of a group tells parts apart, an event of any of them is the same event, and with the parts
// forgotten the game is the same. So it is for clauses that nothing can clash with.
void forget_parts(Workspace& work, const std::vector<Draft>& drafts, const Relevance& relevance,
                  const std::vector<std::vector<std::size_t>>& groups) {
    std::set<ClauseId> blind;
    for (std::size_t i = 0; i < drafts.size(); ++i)
        if (!relevance.kept(i)) blind.insert(drafts[i].clause);
    std::set<ClauseId> telling;
    for (const std::vector<std::size_t>& group : groups) {
        const bool tells = std::any_of(group.begin(), group.end(),
                                       [&](std::size_t i) { return looks_at_parts(work, drafts[i]); });
        for (const std::size_t i : group) (tells ? telling : blind).insert(drafts[i].clause);
    }
    for (const ClauseId c : blind)
        if (telling.count(c) == 0) work.forget_parts(c);
}

// Whether a call can always be made, and sets nothing off: then no call of a ladder can clash.
bool calls_are_free(const Workspace& work, const std::vector<Draft>& drafts) {
    return std::none_of(drafts.begin(), drafts.end(), [&](const Draft& d) {
        const Track* track = restricted(d);
        return (track != nullptr && track->count(work.policy.notification) != 0) ||
               d.triggers.count(work.policy.notification) != 0 ||
               (d.form == Form::hold && d.others.count(work.policy.notification) != 0);
    });
}

}  // namespace

void find_timed_conflicts(Workspace& work) {
    const std::vector<Draft> drafts = draft_rules(work);
    const Relevance relevance(work, drafts);
    const std::vector<std::vector<std::size_t>> groups = relevance.groups();
    forget_parts(work, drafts, relevance, groups);
    if (calls_are_free(work, drafts)) work.say_calls_are_free();
    Effort effort(work.limits.timed_states);
    for (const std::vector<std::size_t>& group : groups) TimedConflicts(work, drafts, effort).find(group);
}

}  // namespace linelaw::compiler::analysis
