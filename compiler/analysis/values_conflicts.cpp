// Demands at one event that no value satisfies together. The attributes that the demands of a set speak of
// are the nurse's to choose; everything else, what the triggers look at and what tables are read with, is the
// situation. A set is in conflict where no choice keeps all of it.
#include <fmt/format.h>

#include <algorithm>
#include <numeric>
#include <set>

#include "compiler/analysis/conflicts.hpp"
#include "compiler/analysis/witness.hpp"

namespace linelaw::compiler::analysis {

using runtime::ClauseId;
using runtime::EventKindId;
using runtime::none;

namespace {

struct Demanded {
    ClauseId clause = none;
    bool should = false;
    bool forbids = false;
    Node kept = always;  // where it does not apply, or is met
    Node applies = never;
    std::vector<bool> chosen;            // variables that its demand speaks of
    std::vector<std::uint32_t> choices;  // the same, by index
};

class ValueConflicts {
  public:
    ValueConflicts(Workspace& work, EventKindId kind) : work_(work), kind_(kind) { gather(); }

    void find() {
        for (const bool with_should : {false, true}) {
            std::vector<std::size_t> members;
            for (std::size_t i = 0; i < demands_.size(); ++i)
                if (with_should || !demands_[i].should) members.push_back(i);
            pairs(members, with_should);
            for (const std::vector<std::size_t>& component : components(members)) {
                looked_through_.clear();
                larger(component, with_should);
            }
        }
    }

    std::vector<ClauseId> clauses() const {
        std::vector<ClauseId> ids;
        for (const Demanded& d : demands_) ids.push_back(d.clause);
        return ids;
    }

  private:
    Workspace& work_;
    EventKindId kind_;
    std::vector<Demanded> demands_;
    std::vector<std::pair<std::vector<std::size_t>, Node>> found_;
    static constexpr std::size_t looked_through_limit = 500;  // of the parts of a component
    std::set<std::pair<std::vector<std::size_t>, bool>> looked_through_;

    void mark(runtime::ExpressionId condition, std::vector<bool>& chosen) const {
        std::vector<runtime::ExpressionId> inputs;
        walk(work_.policy, condition, kind_, [&](runtime::ExpressionId id, EventKindId) {
            if (const auto* table = std::get_if<runtime::TableValue>(&work_.policy.expressions[id]))
                inputs.insert(inputs.end(), table->inputs.begin(), table->inputs.end());
        });
        walk(work_.policy, condition, kind_, [&](runtime::ExpressionId id, EventKindId hand) {
            if (hand != kind_ || std::find(inputs.begin(), inputs.end(), id) != inputs.end()) return;
            const runtime::Expression& e = work_.policy.expressions[id];
            std::uint32_t v = none;
            if (const auto* attribute = std::get_if<runtime::EventAttribute>(&e))
                v = work_.situations.attribute_variable(kind_, attribute->field);
            else if (const auto* change = std::get_if<runtime::Change>(&e))
                v = work_.situations.attribute_variable(kind_, change->field);
            else if (std::holds_alternative<runtime::StepTime>(e) ||
                     std::holds_alternative<runtime::StepIn>(e))
                v = work_.situations.variable_of(id, kind_);
            if (v != none) chosen[v] = true;
        });
        // A comparison that no cells can tell (of two keys) is as free as the attributes that it compares.
        walk(work_.policy, condition, kind_, [&](runtime::ExpressionId id, EventKindId hand) {
            const std::uint32_t v = hand == kind_ ? work_.situations.other_of(id, kind_) : none;
            if (v == none) return;
            walk(work_.policy, id, kind_, [&](runtime::ExpressionId part, EventKindId at) {
                const runtime::Expression& e = work_.policy.expressions[part];
                if (at == kind_ && std::holds_alternative<runtime::EventAttribute>(e)) chosen[v] = true;
            });
        });
        // Whoever chooses the time between two steps moves the others with it.
        const auto is_time = [&](std::uint32_t v) {
            const Variable& variable = work_.situations.variables()[v];
            return variable.kind == VariableKind::step_time && variable.event == kind_;
        };
        bool times = false;
        for (std::uint32_t v = 0; v < chosen.size(); ++v) times = times || (chosen[v] && is_time(v));
        for (std::uint32_t v = 0; v < chosen.size(); ++v) chosen[v] = chosen[v] || (times && is_time(v));
        // What follows from a chosen number is not free to stay as it is.
        for (std::uint32_t v = 0; v < chosen.size(); ++v) {
            const Variable& variable = work_.situations.variables()[v];
            if (variable.kind == VariableKind::relation && (chosen[variable.left] || chosen[variable.right]))
                chosen[v] = true;
        }
    }

    void gather() {
        const std::size_t count = work_.situations.variables().size();
        for (ClauseId c = 0; c < work_.policy.clauses.size(); ++c) {
            const runtime::Clause& clause = work_.clause(c);
            Demanded d;
            d.clause = c;
            d.should = clause.should;
            d.chosen.assign(count, false);
            Meaning met;
            if (const auto* holds = std::get_if<runtime::Holds>(&clause.demand)) {
                const std::vector<EventKindId> kinds = kinds_in(clause.trigger.events);
                if (std::find(kinds.begin(), kinds.end(), kind_) == kinds.end()) continue;
                mark(holds->condition, d.chosen);
                met = work_.situations.meaning(holds->condition, kind_);
                d.applies = work_.applies(c, kind_).yes;
            } else if (const auto* forbid = std::get_if<runtime::Forbid>(&clause.demand)) {
                bool with_values = false;
                for (const runtime::Pattern& p : forbid->events) {
                    if (p.event != kind_ || p.where == none) continue;
                    with_values = true;
                    mark(p.where, d.chosen);
                }
                if (!with_values) continue;
                d.forbids = true;
                const Meaning matches = work_.situations.matches(forbid->events, kind_);
                met = {matches.no, matches.yes};
                d.applies = work_.applies(c).yes;
            } else {
                continue;
            }
            d.applies = work_.diagrams.both(d.applies, work_.possible(c));
            // What a table has no row for is not broken; that is the table's gap.
            d.kept = work_.diagrams.opposite(work_.diagrams.both(d.applies, met.no));
            for (std::uint32_t v = 0; v < count; ++v)
                if (d.chosen[v]) d.choices.push_back(v);
            if (d.applies != never) demands_.push_back(std::move(d));
        }
    }

    static bool speaks_of_some(const Demanded& d, const std::vector<bool>& variables) {
        return std::any_of(d.choices.begin(), d.choices.end(), [&](std::uint32_t v) { return variables[v]; });
    }
    static bool share(const Demanded& a, const Demanded& b) { return speaks_of_some(a, b.chosen); }

    // The situations in which no choice keeps every member of the set.
    Node region(const std::vector<std::size_t>& set) {
        Diagrams& d = work_.diagrams;
        std::vector<bool> chosen(work_.situations.variables().size(), false);
        std::vector<bool> looked_at(chosen.size(), false);
        std::vector<Node> kept;
        for (const std::size_t i : set) {
            kept.push_back(demands_[i].kept);
            const std::vector<bool>& support = d.support(demands_[i].kept);
            for (std::size_t v = 0; v < chosen.size(); ++v) {
                if (demands_[i].chosen[v]) chosen[v] = true;
                if (support[v] || chosen[v]) looked_at[v] = true;
            }
        }
        const Node possible = d.both(work_.situations.possible(), work_.situations.documented(looked_at));
        kept.push_back(possible);
        const Node conflict =
            d.without(d.forget(possible, chosen), d.forget(d.all_of(std::move(kept)), chosen));
        if (conflict == never) return never;
        // Values of the event that break another clause anyway are that clause's matter.
        const std::vector<bool>& rests_on = d.support(conflict);
        std::vector<Node> others{conflict};
        for (const Demanded& other : demands_) {
            if (other.should || !speaks_of_some(other, rests_on) || speaks_of_some(other, chosen)) continue;
            others.push_back(other.kept);
            others.push_back(work_.situations.documented(other.kept));
        }
        return d.all_of(std::move(others));
    }

    bool known(const std::vector<std::size_t>& set) const {
        return std::any_of(found_.begin(), found_.end(), [&](const auto& f) { return holds(set, f.first); });
    }
    bool has_should(const std::vector<std::size_t>& set) const {
        return std::any_of(set.begin(), set.end(), [&](std::size_t i) { return demands_[i].should; });
    }

    void take(const std::vector<std::size_t>& set, Node where) {
        found_.emplace_back(set, where);
        report(set, where);
    }

    void pairs(const std::vector<std::size_t>& members, bool with_should) {
        for (const std::size_t i : members) {
            // What nobody chooses a value of only says when the event may come, or of whom.
            if (with_should != demands_[i].should || demands_[i].forbids || demands_[i].choices.empty())
                continue;
            if (const Node where = region({i}); where != never && !known({i})) take({i}, where);
        }
        for (const auto& [a, b] : meeting(members)) {
            const std::vector<std::size_t> set{members[a], members[b]};
            if (with_should != has_should(set) || !share(demands_[set[0]], demands_[set[1]]) || known(set))
                continue;
            if (demands_[set[0]].forbids && demands_[set[1]].forbids) continue;
            if (work_.diagrams.both(demands_[set[0]].applies, demands_[set[1]].applies) == never) continue;
            if (const Node where = region(set); where != never) take(set, where);
        }
    }

    // Of more than two that choose the same variables in situations that meet, one through another: the
    // members of a minimal set all apply where it clashes, and no part of it can be kept by itself.
    std::vector<std::vector<std::size_t>> components(const std::vector<std::size_t>& members) const {
        std::vector<std::size_t> parent(members.size());
        std::iota(parent.begin(), parent.end(), 0U);
        const auto find = [&](std::size_t m) {
            while (parent[m] != m) m = parent[m] = parent[parent[m]];
            return m;
        };
        for (const auto& [a, b] : meeting(members))
            if (share(demands_[members[a]], demands_[members[b]])) parent[find(b)] = find(a);
        std::map<std::size_t, std::vector<std::size_t>> gathered;
        for (std::size_t m = 0; m < members.size(); ++m) gathered[find(m)].push_back(members[m]);
        std::vector<std::vector<std::size_t>> result;
        for (auto& [root, component] : gathered)
            if (component.size() > 2 && !ranges_of_one_number(component))
                result.push_back(std::move(component));
        return result;
    }

    // Ranges of one number have one in common where every two have: pairs have said it all.
    bool ranges_of_one_number(const std::vector<std::size_t>& component) const {
        const auto reads_table = [&](runtime::ExpressionId id) {
            return std::holds_alternative<runtime::TableValue>(work_.policy.expressions[id]);
        };
        return std::all_of(component.begin(), component.end(), [&](std::size_t i) {
            const std::vector<std::uint32_t>& choices = demands_[i].choices;
            const auto* holds = std::get_if<runtime::Holds>(&work_.clause(demands_[i].clause).demand);
            const auto* compare =
                holds == nullptr ? nullptr
                                 : std::get_if<runtime::Compare>(&work_.policy.expressions[holds->condition]);
            return compare != nullptr && compare->comparator != runtime::Comparator::is_not &&
                   !reads_table(compare->left) && !reads_table(compare->right) && choices.size() == 1 &&
                   work_.situations.variables()[choices[0]].numeric();
        });
    }

    std::vector<std::pair<std::uint32_t, std::uint32_t>> meeting(
        const std::vector<std::size_t>& members) const {
        std::vector<Node> applies;
        for (const std::size_t i : members) applies.push_back(demands_[i].applies);
        return work_.diagrams.may_meet(applies);
    }

    // Both rising; `some` are few.
    static bool holds(const std::vector<std::size_t>& all, const std::vector<std::size_t>& some) {
        return std::all_of(some.begin(), some.end(), [&](std::size_t member) {
            return std::binary_search(all.begin(), all.end(), member);
        });
    }

    // What pairs do not explain: three values of which each two demands leave one, and the like. Another set
    // may clash in the very situations of one that was found; with a member of that one gone it shows.
    void larger(const std::vector<std::size_t>& component, bool with_should) {
        if (component.size() < 3 || !looked_through_.emplace(component, with_should).second) return;
        if (looked_through_.size() > looked_through_limit) return too_many(component);
        larger_at_points(component, with_should);
        const std::size_t known_before = found_.size();
        for (std::size_t f = 0; f < known_before; ++f) {
            if (found_[f].first.size() < 2 || !holds(component, found_[f].first)) continue;
            const std::vector<std::size_t> set = found_[f].first;  // what follows finds more
            for (const std::size_t gone : set) {
                std::vector<std::size_t> fewer = component;
                fewer.erase(std::find(fewer.begin(), fewer.end(), gone));
                larger(fewer, with_should);
            }
        }
    }

    void too_many(const std::vector<std::size_t>& component) {
        std::vector<ClauseId> ids;
        for (const std::size_t i : component) ids.push_back(demands_[i].clause);
        work_.give_up(ids, "not every set of demands on its values was tried");
    }

    void larger_at_points(const std::vector<std::size_t>& component, bool with_should) {
        Diagrams& d = work_.diagrams;
        Node rest = region(component);
        for (const auto& [set, where] : found_)
            if (holds(component, set)) rest = d.without(rest, where);
        while (rest != never) {
            std::vector<std::size_t> set = component;
            const Node point = d.box(exact(d.assignment(rest), rest));
            for (std::size_t i = 0; i < set.size();) {
                std::vector<std::size_t> fewer = set;
                fewer.erase(fewer.begin() + static_cast<std::ptrdiff_t>(i));
                if (d.both(region(fewer), point) != never)
                    set = std::move(fewer);
                else
                    ++i;
            }
            const Node where = d.both(region(set), always);
            const bool forbids_only =
                std::all_of(set.begin(), set.end(), [&](std::size_t i) { return demands_[i].forbids; });
            if (with_should == has_should(set) && !known(set) && !forbids_only) take(set, where);
            const Node smaller = d.without(rest, where);
            if (smaller == rest) break;  // nothing gained: the point was another clause's matter
            rest = smaller;
        }
    }

    Box exact(const std::vector<std::uint32_t>& cells, Node node) {
        const std::vector<bool>& matters = work_.diagrams.support(node);
        Box box;
        for (std::uint32_t v = 0; v < cells.size(); ++v) {
            if (!matters[v]) continue;
            CellSet set(work_.diagrams.width(v));
            set.put(cells[v]);
            box.push_back({v, std::move(set)});
        }
        return box;
    }

    void report(const std::vector<std::size_t>& set, Node where) {
        Finding finding;
        std::vector<ClauseId> ids;
        bool steps = true;
        std::vector<bool> chosen(work_.situations.variables().size(), false);
        for (const std::size_t i : set) {
            ids.push_back(demands_[i].clause);
            finding.ids.push_back(work_.clause(ids.back()).id);
            finding.labels.push_back(work_.label(ids.back()));
            if (demands_[i].forbids) finding.code = "conflict.forbidden";
            for (std::size_t v = 0; v < chosen.size(); ++v)
                if (demands_[i].chosen[v]) {
                    chosen[v] = true;
                    steps = steps && work_.situations.variables()[v].kind == VariableKind::step_time;
                }
        }
        if (finding.code.empty()) finding.code = steps ? "conflict.order" : "conflict.values";
        finding.advisory = has_should(set);
        const Box box = work_.situations.smallest(where);
        const std::string& event = work_.policy.event_kinds[kind_].name;
        finding.message = set.size() == 1
                              ? fmt::format("no value at `{}` keeps {}{}", event, work_.quoted(ids),
                                            work_.situations.where_sentence(box))
                              : fmt::format("no value at `{}` keeps {} together{}", event, work_.quoted(ids),
                                            work_.situations.where_sentence(box));
        if (set.size() == 1)
            finding.helps = {"let it ask for what some value can be, or narrow its `for` or `where`"};
        else
            finding.helps = {"decide which of them holds there: narrow the `for` or `where` of the other",
                             "or let one say `overrides` the other"};
        if (std::string more = also_where(work_, where, box); !more.empty())
            finding.notes.push_back(std::move(more));
        if (show_at_event(work_, finding, ids, kind_, where, box)) work_.add(std::move(finding));
    }
};

}  // namespace

void find_value_conflicts(Workspace& work) {
    for (EventKindId kind = 0; kind < work.policy.event_kinds.size(); ++kind) {
        ValueConflicts conflicts(work, kind);
        work.apart("values at `" + work.policy.event_kinds[kind].name + "`", conflicts.clauses(),
                   [&] { conflicts.find(); });
    }
}

}  // namespace linelaw::compiler::analysis
