// Which positions are lost: from the broken ones backwards, a position is lost where something that may
// happen leads into a lost one, or where everything that care can do, waiting included, does.
#include <algorithm>
#include <set>

#include "compiler/analysis/timed_state.hpp"

namespace linelaw::compiler::analysis {

namespace {

constexpr std::uint32_t nowhere = 0xFFFF'FFFF;

enum class By : std::uint8_t { environment, care, time, unit };  // unit: time, and a whole unit has passed

struct Edge {
    std::uint32_t to = 0;
    By by = By::time;
    std::uint8_t letter = 0;
};

class Solver {
  public:
    Solver(const TimedRules& rules, std::size_t limit) : rules_(rules), used_(rules.used()), limit_(limit) {}

    bool explore();  // false where there are more positions than the limit
    void find_lost();
    bool start_lost() const { return lost_order_[0] != nowhere; }
    std::uint32_t first_lost() const;  // the lost position that a history reaches first
    std::size_t size() const { return positions_.size(); }

    TimedAnswer tell(std::uint32_t corner, std::int64_t sub_units, std::int64_t just_after) const;

  private:
    const TimedRules& rules_;
    Letters used_;
    std::size_t limit_;
    std::vector<Position> positions_;
    std::vector<std::uint32_t> parent_;  // of a shortest history
    std::vector<Edge> parent_edge_;
    std::vector<std::uint32_t> first_edge_;  // positions_.size() + 1 of them
    std::vector<Edge> edges_;
    std::vector<bool> leaves_;               // care may end the stay
    std::vector<std::uint32_t> into_begin_;  // the edges into a position: from where, by what
    std::vector<std::pair<std::uint32_t, By>> into_;
    std::vector<std::uint32_t> ways_;        // that care has left to go on
    std::vector<std::uint32_t> lost_order_;  // nowhere: not lost
    std::uint32_t lost_count_ = 0;
    std::vector<std::uint32_t> table_ = std::vector<std::uint32_t>(1024, nowhere);  // by hash: positions

    std::uint32_t number(const Position& p, std::uint32_t from, Edge edge);
    void grow_table();
    void expand(std::uint32_t at);
    void lose(std::uint32_t at, std::vector<std::uint32_t>& open);
    void spread(std::vector<std::uint32_t>& open);
    bool lose_the_hasty(std::vector<std::uint32_t>& open);
    const Edge* onward(std::uint32_t at, const std::set<std::uint32_t>& visited) const;
};

std::uint32_t Solver::number(const Position& p, std::uint32_t from, Edge edge) {
    std::size_t at = PositionHash{}(p) & (table_.size() - 1);
    for (; table_[at] != nowhere; at = (at + 1) & (table_.size() - 1))
        if (positions_[table_[at]] == p) return table_[at];
    const auto fresh = static_cast<std::uint32_t>(positions_.size());
    table_[at] = fresh;
    positions_.push_back(p);
    parent_.push_back(from);
    edge.to = fresh;
    parent_edge_.push_back(edge);
    if (positions_.size() * 2 > table_.size()) grow_table();
    return fresh;
}

void Solver::grow_table() {
    table_.assign(table_.size() * 4, nowhere);
    for (std::uint32_t i = 0; i < positions_.size(); ++i) {
        std::size_t at = PositionHash{}(positions_[i]) & (table_.size() - 1);
        while (table_[at] != nowhere) at = (at + 1) & (table_.size() - 1);
        table_[at] = i;
    }
}

void Solver::expand(std::uint32_t at) {
    const TimedProblem& problem = rules_.problem();
    const Position here = positions_[at];
    const auto add = [&](const Position& p, By by, unsigned l) {
        const Edge edge{0, by, static_cast<std::uint8_t>(l)};
        edges_.push_back({number(p, at, edge), by, static_cast<std::uint8_t>(l)});
    };
    bool unit = false;
    const std::optional<Position> later = rules_.later(here, unit);
    leaves_.push_back(false);
    if (later) add(*later, unit ? By::unit : By::time, 0);
    for (unsigned l = 0; l < problem.letters; ++l) {
        if ((used_ & letter(l)) == 0 || !rules_.allowed(here, l)) continue;
        if ((problem.leaving & letter(l)) != 0) {
            leaves_[at] = true;  // the stay ends, and with it every rule
            continue;
        }
        if ((problem.environment & letter(l)) != 0) {
            add(rules_.after(here, l), By::environment, l);
        } else if (rules_.open_to_care(here, l)) {
            const Position next = rules_.after(here, l);
            if (!(next == here)) add(next, By::care, l);
        }
    }
}

bool Solver::explore() {
    number(rules_.start(), nowhere, {});
    for (std::uint32_t at = 0; at < positions_.size(); ++at) {
        if (positions_.size() > limit_ || edges_.size() > limit_ * 8) return false;
        first_edge_.push_back(static_cast<std::uint32_t>(edges_.size()));
        expand(at);
    }
    first_edge_.push_back(static_cast<std::uint32_t>(edges_.size()));
    return true;
}

// Lost are the positions from which care cannot both keep every rule and let time pass. First what leads to a
// break by itself or whatever care does; then those from which care could only go on in no time (ever more
// events in ever less of it), and so on until nothing more is lost.
void Solver::find_lost() {
    const std::size_t n = positions_.size();
    into_begin_.assign(n + 1, 0);
    for (const Edge& edge : edges_) ++into_begin_[edge.to + 1];
    for (std::size_t i = 0; i < n; ++i) into_begin_[i + 1] += into_begin_[i];
    into_.resize(edges_.size());
    std::vector<std::uint32_t> fill(into_begin_.begin(), into_begin_.end() - 1);
    ways_.assign(n, 0);
    for (std::uint32_t at = 0; at < n; ++at) {
        if (leaves_[at]) ways_[at] = nowhere / 2;
        for (std::uint32_t e = first_edge_[at]; e < first_edge_[at + 1]; ++e) {
            into_[fill[edges_[e].to]++] = {at, edges_[e].by};
            if (edges_[e].by != By::environment) ++ways_[at];
        }
    }
    lost_order_.assign(n, nowhere);
    std::vector<std::uint32_t> open;
    for (std::uint32_t at = 0; at < n; ++at)
        if (ways_[at] == 0) lose(at, open);
    do spread(open);
    while (lose_the_hasty(open));
}

void Solver::lose(std::uint32_t at, std::vector<std::uint32_t>& open) {
    if (lost_order_[at] != nowhere) return;
    lost_order_[at] = lost_count_++;
    open.push_back(at);
}

void Solver::spread(std::vector<std::uint32_t>& open) {
    while (!open.empty()) {
        std::vector<std::uint32_t> next;
        for (const std::uint32_t lost : open)
            for (std::uint32_t i = into_begin_[lost]; i < into_begin_[lost + 1]; ++i) {
                const auto& [at, by] = into_[i];
                if (by == By::environment || --ways_[at] == 0) lose(at, next);
            }
        open = std::move(next);
    }
}

bool Solver::lose_the_hasty(std::vector<std::uint32_t>& open) {
    const std::size_t n = positions_.size();
    std::vector<bool> lasting(n, false);  // care can get a unit of time further
    std::vector<std::uint32_t> found;
    const auto lasts = [&](std::uint32_t at) {
        if (lasting[at] || lost_order_[at] != nowhere) return;
        lasting[at] = true;
        found.push_back(at);
    };
    for (std::uint32_t at = 0; at < n; ++at) {
        if (leaves_[at]) lasts(at);
        for (std::uint32_t e = first_edge_[at]; e < first_edge_[at + 1]; ++e)
            if (edges_[e].by == By::unit && lost_order_[edges_[e].to] == nowhere) lasts(at);
    }
    for (std::size_t next = 0; next < found.size(); ++next)
        for (std::uint32_t i = into_begin_[found[next]]; i < into_begin_[found[next] + 1]; ++i)
            if (into_[i].second != By::environment) lasts(into_[i].first);
    for (std::uint32_t at = 0; at < n; ++at) {
        if (lasting[at] || lost_order_[at] != nowhere) continue;
        lost_order_[at] = lost_count_;  // all at once: none of them leads on to another
        open.push_back(at);
    }
    ++lost_count_;
    return !open.empty();
}

std::uint32_t Solver::first_lost() const {
    for (std::uint32_t at = 0; at < positions_.size(); ++at)  // numbered by breadth: shortest histories first
        if (lost_order_[at] != nowhere && rules_.clean(positions_[at])) return at;
    return nowhere;
}

// Follows the regions of a history with exact times.
class Chronicle {
  public:
    Chronicle(const TimedRules& rules, std::int64_t sub_units, std::int64_t just_after)
        : rules_(rules), unit_(sub_units), just_after_(just_after), here_(rules.start()) {}

    void pass() {
        bool unit = false;
        std::vector<ClockMove> moves;
        const std::optional<Position> next = rules_.later(here_, unit, &moves);
        if (!next) return;
        if (!TimedRules::on_the_dot(here_, rules_.clocks()))
            to_the_dot();  // else: just after, when something happens
        here_ = *next;
        follow(moves);
    }
    std::int64_t moment() {  // of what happens in this region
        if (!TimedRules::on_the_dot(here_, rules_.clocks()) && any_fraction() && exact_) {
            const std::int64_t room = to_next();
            advance(std::max<std::int64_t>(1, std::min<std::int64_t>(room / 2, just_after_)));
            exact_ = false;
        }
        return now_;
    }
    std::int64_t happen(unsigned l) {
        const std::int64_t at = moment();
        std::vector<ClockMove> moves;
        here_ = rules_.after(here_, l, &moves);
        follow(moves);
        exact_ = true;
        return at;
    }
    std::int64_t end_of_region() const {
        return TimedRules::on_the_dot(here_, rules_.clocks()) ? now_ : now_ + to_next();
    }

  private:
    const TimedRules& rules_;
    std::int64_t unit_;
    std::int64_t just_after_;
    Position here_;
    std::array<std::int64_t, most_clocks> value_{};
    std::int64_t now_ = 0;
    bool exact_ = true;  // the clocks' values stand at the begin of the region

    bool runs(std::size_t c) const { return here_.whole[c] < Position::beyond; }
    bool any_fraction() const {
        for (std::size_t c = 0; c < rules_.clocks(); ++c)
            if (runs(c) && here_.rank[c] > 0) return true;
        return false;
    }
    std::int64_t to_next() const {
        std::int64_t room = unit_;
        for (std::size_t c = 0; c < rules_.clocks(); ++c)
            if (runs(c)) room = std::min(room, unit_ - value_[c] % unit_);
        return room;
    }
    void advance(std::int64_t by) {
        now_ += by;
        for (std::int64_t& v : value_) v += by;
    }
    void to_the_dot() {
        advance(to_next());
        exact_ = true;
    }
    void follow(const std::vector<ClockMove>& moves) {
        for (const ClockMove& move : moves) {
            if (move.kind == ClockMove::Kind::reset) value_[move.clock] = 0;
            if (move.kind == ClockMove::Kind::copy) value_[move.clock] = value_[move.from];
        }
    }
};

// From a lost position towards the break: what drives care there, else waiting, else what care has left,
// hasty or not; never twice to one position.
const Edge* Solver::onward(std::uint32_t at, const std::set<std::uint32_t>& visited) const {
    const Edge* chosen = nullptr;
    const auto worth = [](By by) { return by == By::environment ? 2 : by == By::care ? 0 : 1; };
    for (std::uint32_t e = first_edge_[at]; e < first_edge_[at + 1]; ++e) {
        const Edge& edge = edges_[e];
        const bool earlier = lost_order_[edge.to] < lost_order_[at];
        const bool together = edge.by != By::environment && lost_order_[edge.to] == lost_order_[at];
        if ((!earlier && !together) || visited.count(edge.to) != 0) continue;
        if (chosen == nullptr || worth(edge.by) > worth(chosen->by)) chosen = &edge;
    }
    return chosen;
}

TimedAnswer Solver::tell(std::uint32_t corner, std::int64_t sub_units, std::int64_t just_after) const {
    std::vector<Edge> path;
    for (std::uint32_t at = corner; at != 0; at = parent_[at]) path.push_back(parent_edge_[at]);
    std::reverse(path.begin(), path.end());
    const std::size_t into = path.size();
    std::uint32_t at = corner;
    std::set<std::uint32_t> visited;
    while (const Edge* edge = onward(at, visited)) {
        visited.insert(at);
        path.push_back(*edge);
        at = edge->to;
    }
    TimedAnswer answer;
    answer.states = positions_.size();
    Chronicle chronicle(rules_, sub_units, just_after);
    for (std::size_t i = 0; i < path.size(); ++i) {
        if (path[i].by == By::time || path[i].by == By::unit) {
            chronicle.pass();
        } else {
            const std::int64_t when = chronicle.happen(path[i].letter);
            answer.history.push_back({when, path[i].letter, path[i].by == By::environment});
        }
        if (i + 1 == into) answer.into_corner = answer.history.size();
    }
    answer.limit = chronicle.end_of_region();
    answer.until = chronicle.moment();
    const TimedProblem& problem = rules_.problem();
    for (unsigned l = 0; l < problem.letters; ++l)
        if ((used_ & ~problem.environment & letter(l)) != 0 && !rules_.allowed(positions_[at], l))
            answer.last.push_back(l);
    return answer;
}

}  // namespace

TimedAnswer solve(const TimedProblem& problem, std::size_t state_limit, std::int64_t sub_units,
                  std::int64_t just_after) {
    constexpr std::size_t few_regions = 5'000;  // beyond, zones are mostly quicker
    const std::size_t zones = std::clamp<std::size_t>(state_limit / 50, 200, 20'000);
    TimedAnswer answer = solve_by_regions(problem, std::min(state_limit, few_regions), sub_units, just_after);
    if (answer.verdict == Verdict::exhausted) answer = solve_by_zones(problem, zones, sub_units, just_after);
    if (answer.verdict == Verdict::exhausted && state_limit > few_regions)
        answer = solve_by_regions(problem, state_limit, sub_units, just_after);
    return answer;
}

TimedAnswer solve_by_regions(const TimedProblem& problem, std::size_t state_limit, std::int64_t sub_units,
                             std::int64_t just_after) {
    TimedAnswer answer;
    const std::optional<TimedRules> rules = TimedRules::make(problem);
    if (!rules) {
        answer.verdict = Verdict::exhausted;
        return answer;
    }
    Solver solver(*rules, state_limit);
    if (!solver.explore()) {
        answer.verdict = Verdict::exhausted;
        answer.states = solver.size();
        return answer;
    }
    solver.find_lost();
    const std::uint32_t lost = solver.first_lost();
    if (lost == nowhere) {
        answer.states = solver.size();
        return answer;
    }
    const bool conflict = solver.start_lost();
    answer = solver.tell(conflict ? 0 : lost, sub_units, just_after);
    answer.verdict = conflict ? Verdict::conflict : Verdict::corner;
    return answer;
}

}  // namespace linelaw::compiler::analysis
