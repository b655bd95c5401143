// Which combinations of cells are possible: numbers keep their differences, clocks keep their order, and a
// part that is there makes `any` of its kind true.
#include <algorithm>
#include <functional>
#include <numeric>

#include "compiler/analysis/situation.hpp"

namespace linelaw::compiler::analysis {

using runtime::none;

namespace {

constexpr std::size_t group_limit = 2'000'000;  // combinations of one group of linked numbers
constexpr std::size_t part_limit = 6;           // conditions on one kind of part
constexpr std::size_t window_limit = 6;         // windows over events of one kind

bool number_there(const ValueCell& cell) {
    return cell.kind == ValueCell::Kind::range;
}

// Bounds on differences of a few integers, closed under consequence. Index 0 is zero itself.
class Differences {
  public:
    explicit Differences(std::size_t count) : n_(count + 1), bound_(n_ * n_, highest) {
        for (std::size_t i = 0; i < n_; ++i) bound_[i * n_ + i] = 0;
    }
    // left - right <= bound; answers whether some integers still satisfy everything.
    bool add(std::size_t left, std::size_t right, std::int64_t bound) {
        if (bound >= highest) return true;
        if (bound_[right * n_ + left] < highest && bound_[right * n_ + left] + bound < 0) return false;
        if (bound_[left * n_ + right] <= bound) return true;
        for (std::size_t i = 0; i < n_; ++i) {
            if (bound_[i * n_ + left] >= highest) continue;
            for (std::size_t j = 0; j < n_; ++j) {
                if (bound_[right * n_ + j] >= highest) continue;
                std::int64_t& known = bound_[i * n_ + j];
                known = std::min(known, bound_[i * n_ + left] + bound + bound_[right * n_ + j]);
            }
        }
        return true;
    }
    bool between(std::size_t left, std::size_t right, std::int64_t low, std::int64_t high) {
        return add(left, right, high >= highest ? highest : high) &&
               add(right, left, low <= lowest ? highest : -low);
    }

  private:
    std::size_t n_;
    std::vector<std::int64_t> bound_;
};

}  // namespace

// One group: every combination of its cells that some numbers give, built from the leaves up.
Node Situations::feasible_group(const std::vector<std::uint32_t>& group) {
    std::map<std::uint32_t, std::size_t> number;  // variable → index of its number
    for (const std::uint32_t v : group)
        if (variables_[v].kind != VariableKind::relation) number.emplace(v, number.size() + 1);

    std::vector<std::uint32_t> chosen(variables_.size(), none);
    const auto allowed = [&](std::uint32_t v, std::uint32_t cell_index, Differences& differences) {
        const Variable& variable = variables_[v];
        const ValueCell& cell = variable.cells[cell_index];
        if (variable.kind != VariableKind::relation)
            return !number_there(cell) || differences.between(number.at(v), 0, cell.low, cell.high);
        const bool left = number_there(variables_[variable.left].cells[chosen[variable.left]]);
        const bool right = number_there(variables_[variable.right].cells[chosen[variable.right]]);
        if (!number_there(cell)) return !variable.same_readings || !(left && right);
        return left && right &&
               differences.between(number.at(variable.left), number.at(variable.right), cell.low, cell.high);
    };
    const std::function<Node(std::size_t, const Differences&)> build = [&](std::size_t i,
                                                                           const Differences& so_far) {
        if (i == group.size()) return always;
        const std::uint32_t v = group[i];
        std::vector<Node> children(variables_[v].cells.size(), never);
        for (std::uint32_t c = 0; c < children.size(); ++c) {
            chosen[v] = c;
            Differences differences = so_far;
            if (allowed(v, c, differences)) children[c] = build(i + 1, differences);
        }
        return diagrams_.make(v, children);
    };
    return build(0, Differences(number.size()));
}

Node Situations::feasible_numbers() {
    std::vector<std::uint32_t> parent(variables_.size());
    std::iota(parent.begin(), parent.end(), 0U);
    const std::function<std::uint32_t(std::uint32_t)> find = [&](std::uint32_t v) {
        return parent[v] == v ? v : parent[v] = find(parent[v]);
    };
    for (std::uint32_t v = 0; v < variables_.size(); ++v)
        if (variables_[v].kind == VariableKind::relation) {
            parent[find(v)] = find(variables_[v].left);
            parent[find(v)] = find(variables_[v].right);
        }
    std::map<std::uint32_t, std::vector<std::uint32_t>> groups;
    for (std::uint32_t v = 0; v < variables_.size(); ++v) groups[find(v)].push_back(v);
    Node result = always;
    for (const auto& [root, group] : groups) {
        if (group.size() < 2) continue;
        std::size_t combinations = 1;
        for (const std::uint32_t v : group)
            combinations = std::min(group_limit + 1, combinations * variables_[v].cells.size());
        if (combinations > group_limit) {
            inexact_.push_back("too many comparisons hang together on " + variables_[group[0]].name);
            continue;
        }
        result = diagrams_.both(result, feasible_group(group));
    }
    return result;
}

// Times between the steps of one event: each is the begin of one step less the end of another (the time in a
// step is its end less its begin), and no step ends before it begins.
Node Situations::feasible_steps(const std::vector<std::uint32_t>& times) {
    std::map<std::string, std::size_t> begin_of;  // step → index of its begin; its end is the next
    for (const std::uint32_t v : times)
        for (const std::string& step : {variables_[v].step_from, variables_[v].step_to})
            begin_of.emplace(step, 2 * begin_of.size() + 1);
    Differences start(2 * begin_of.size());
    for (const auto& [step, begin] : begin_of) start.add(begin, begin + 1, 0);
    const std::function<Node(std::size_t, const Differences&)> build = [&](std::size_t i,
                                                                           const Differences& so_far) {
        if (i == times.size()) return always;
        const Variable& v = variables_[times[i]];
        const std::size_t from = begin_of.at(v.step_from);
        const std::size_t to = begin_of.at(v.step_to);
        const bool in_one = v.step_from == v.step_to;
        std::vector<Node> children(v.cells.size(), never);
        for (std::uint32_t c = 0; c < children.size(); ++c) {
            Differences differences = so_far;
            const ValueCell& cell = v.cells[c];
            const bool fits =
                !number_there(cell) || (in_one ? differences.between(to + 1, from, cell.low, cell.high)
                                               : differences.between(to, from + 1, cell.low, cell.high));
            if (fits) children[c] = build(i + 1, differences);
        }
        return diagrams_.make(times[i], children);
    };
    return build(0, start);
}

Node Situations::feasible_steps() {
    std::map<runtime::EventKindId, std::vector<std::uint32_t>> of_kind;
    for (std::uint32_t v = 0; v < variables_.size(); ++v)
        if (variables_[v].kind == VariableKind::step_time) of_kind[variables_[v].event].push_back(v);
    Node result = always;
    for (const auto& [kind, times] : of_kind) {
        if (times.size() < 2) continue;
        std::size_t combinations = 1;
        for (const std::uint32_t v : times)
            combinations = std::min(group_limit + 1, combinations * variables_[v].cells.size());
        if (combinations > group_limit) {
            inexact_.push_back("too many times between steps hang together at " +
                               policy_.event_kinds[kind].name);
            continue;
        }
        result = diagrams_.both(result, feasible_steps(times));
    }
    return result;
}

// Two clocks of the history of which one is never the longer: intervals that are so ordered pairwise are
// ordered together.
Node Situations::ordered_clocks(std::uint32_t smaller, std::uint32_t larger) {
    Node result = never;
    for (std::uint32_t s = 0; s < variables_[smaller].cells.size(); ++s)
        for (std::uint32_t l = 0; l < variables_[larger].cells.size(); ++l) {
            const ValueCell& a = variables_[smaller].cells[s];
            const ValueCell& b = variables_[larger].cells[l];
            // Where the rarer events came, the more general ones came too.
            const bool fits =
                number_there(b)
                    ? number_there(a) ? a.low <= b.high : variables_[larger].kind == VariableKind::dwell
                    : true;
            if (fits)
                result = diagrams_.either(
                    result, diagrams_.both(diagrams_.cell(smaller, s), diagrams_.cell(larger, l)));
        }
    return result;
}

// Whether each event of the one clock is an event of one of the others.
bool Situations::all_among(std::uint32_t clock, const std::vector<std::uint32_t>& others) {
    const auto where = [this](const runtime::Pattern& p) {
        return p.where == none ? always : meaning(p.where, p.event).yes;
    };
    const runtime::Events& events = variables_[clock].events;
    return std::all_of(events.begin(), events.end(), [&](const runtime::Pattern& p) {
        std::vector<Node> any;
        for (const std::uint32_t other : others)
            for (const runtime::Pattern& q : variables_[other].events)
                if (q.event == p.event) any.push_back(where(q));
        // Of what the diagrams cannot say nothing follows.
        return where(p) != never && diagrams_.implies(where(p), diagrams_.any_of(std::move(any)));
    });
}

// Where every event of a clock is one of these others', one of them came no earlier: of each smallest choice
// of others.
Node Situations::one_is_as_new(std::uint32_t clock, const std::vector<std::uint32_t>& all) {
    std::vector<std::uint32_t> others;
    for (const std::uint32_t a : all)
        if (std::any_of(variables_[a].events.begin(), variables_[a].events.end(), [&](const auto& p) {
                return std::any_of(variables_[clock].events.begin(), variables_[clock].events.end(),
                                   [&](const auto& q) { return p.event == q.event; });
            }))
            others.push_back(a);
    const std::size_t together = others.size() > window_limit ? 1 : others.size();
    if (together < others.size() && all_among(clock, others))
        inexact_.push_back("too many windows hang together on " + variables_[clock].name);
    Node result = always;
    std::vector<std::vector<std::uint32_t>> found;
    const std::function<void(std::size_t, std::size_t, std::vector<std::uint32_t>&)> choose =
        [&](std::size_t from, std::size_t more, std::vector<std::uint32_t>& chosen) {
            if (more > 0) {
                for (std::size_t i = from; i < others.size(); ++i) {
                    chosen.push_back(others[i]);
                    choose(i + 1, more - 1, chosen);
                    chosen.pop_back();
                }
                return;
            }
            const bool more_than_needed = std::any_of(found.begin(), found.end(), [&](const auto& fewer) {
                return std::includes(chosen.begin(), chosen.end(), fewer.begin(), fewer.end());
            });
            if (more_than_needed || !all_among(clock, chosen)) return;
            found.push_back(chosen);
            Node some = never;
            for (const std::uint32_t a : chosen) some = diagrams_.either(some, ordered_clocks(a, clock));
            result = diagrams_.both(result, some);
        };
    std::vector<std::uint32_t> chosen;
    for (std::size_t size = 1; size <= together; ++size) choose(0, size, chosen);
    return result;
}

// Any of one kind of part is true where another, narrower condition's part is there.
Node Situations::feasible_parts() {
    std::map<runtime::PartKindId, std::vector<std::uint32_t>> by_part;
    for (std::uint32_t v = 0; v < variables_.size(); ++v)
        if (variables_[v].kind == VariableKind::some_part) by_part[variables_[v].part].push_back(v);
    Node result = always;
    for (const auto& [part, atoms] : by_part) {
        if (atoms.size() > part_limit) {
            inexact_.push_back("too many conditions on any " + policy_.part_kinds[part].name);
            continue;
        }
        for (std::size_t i = 0; i < atoms.size(); ++i) {
            const Node where = meaning(variables_[atoms[i]].expression).yes;
            for (std::size_t subset = 0; subset < std::size_t{1} << atoms.size(); ++subset) {
                if ((subset >> i & 1U) != 0) continue;
                Node others = never;
                Node some = never;
                for (std::size_t j = 0; j < atoms.size(); ++j)
                    if ((subset >> j & 1U) != 0) {
                        others = diagrams_.either(others, meaning(variables_[atoms[j]].expression).yes);
                        some = diagrams_.either(some, diagrams_.cell(atoms[j], 1));
                    }
                if (diagrams_.implies(diagrams_.both(where, possible_), others))
                    result = diagrams_.both(result, diagrams_.either(diagrams_.cell(atoms[i], 0), some));
            }
        }
    }
    return result;
}

Node Situations::possible_with(runtime::PartKindId part) {
    Node result = possible_;
    for (runtime::PartKindId p = part; p != none; p = policy_.part_kinds[p].of)
        for (std::uint32_t v = 0; v < variables_.size(); ++v)
            if (variables_[v].kind == VariableKind::some_part && variables_[v].part == p)
                result = diagrams_.both(
                    result, diagrams_.either(diagrams_.opposite(meaning(variables_[v].expression).yes),
                                             diagrams_.cell(v, 1)));
    return result;
}

void Situations::constrain() {
    std::vector<Node> rules;
    for (const Never& n : compiled_.nevers) rules.push_back(diagrams_.opposite(meaning(n.condition).yes));
    rules.push_back(feasible_numbers());
    rules.push_back(feasible_steps());
    std::vector<std::uint32_t> clocks;
    for (std::uint32_t v = 0; v < variables_.size(); ++v)
        if (variables_[v].clock()) clocks.push_back(v);
    for (const std::uint32_t b : clocks) {
        std::vector<std::uint32_t> others;
        for (const std::uint32_t a : clocks)
            if (a != b && variables_[a].kind == VariableKind::newest) others.push_back(a);
        if (variables_[b].kind == VariableKind::dwell)
            for (const std::uint32_t a : others) rules.push_back(ordered_clocks(a, b));
        else
            rules.push_back(one_is_as_new(b, others));
    }
    possible_ = diagrams_.all_of(rules);
    possible_ = diagrams_.both(possible_, feasible_parts());
}

}  // namespace linelaw::compiler::analysis
