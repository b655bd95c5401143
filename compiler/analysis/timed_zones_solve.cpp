// Which values of which places are lost: the fixpoint of timed_solve.cpp over sets of clock values.
#include <algorithm>
#include <deque>
#include <set>

#include "compiler/analysis/timed_zones.hpp"

namespace linelaw::compiler::analysis {

namespace {

constexpr std::uint32_t never_lost = 0xFFFF'FFFF;
constexpr std::size_t longest_history = 400;  // of moves after care is lost

struct Exhausted {};  // thrown inside only: more work than the limit

struct Lost {
    Zone zone;
    std::uint32_t order = 0;  // what it rests on was lost before
    bool together = false;    // care goes on from it without end, in no time
};

class ZoneSolver {
  public:
    ZoneSolver(const PlaceGraph& graph, std::size_t limit)
        : graph_(graph),
          places_(graph.places()),
          limit_(limit),
          lost_(places_.size()),
          led_to_lost_(places_.size()) {}

    void find_lost();
    bool start_lost() const;
    // The first node that a clean history reaches with something of it lost; SIZE_MAX: none.
    std::size_t first_lost() const;
    TimedAnswer tell(std::size_t node, std::int64_t parts, std::int64_t just_after) const;

  private:
    // A moment of one history: values in parts of a unit. `after`: just after the dot that they stand on.
    struct Moment {
        std::uint32_t place = 0;
        std::vector<std::int64_t> values;
        std::int64_t now = 0;
        bool after = false;
    };
    struct Telling;
    struct Led {             // from where a move leads to what is lost: that only grows, and so does this
        std::size_t of = 0;  // so many of the lost zones
        Zones from;
    };

    const PlaceGraph& graph_;
    const std::vector<Place>& places_;
    std::size_t limit_;
    mutable std::size_t work_ = 0;  // zones looked at
    std::vector<std::vector<Lost>> lost_;
    mutable std::vector<std::vector<Led>> led_to_lost_;  // by place and move
    std::uint32_t order_ = 0;

    static Zones zones_of(const std::vector<Lost>& lost) {
        Zones zones;
        for (const Lost& l : lost) zones.push_back(l.zone);
        return zones;
    }
    Zones back(std::uint32_t at, const PlaceMove& move, const Zones& target) const {
        Zones result;
        count(target.size());
        for (const Zone& zone : target) add(result, graph_.back(at, move, zone));
        return result;
    }
    const Zones& back_to_lost(std::uint32_t at, const PlaceMove& move) const {
        const std::vector<Lost>& lost = lost_[move.to];
        std::vector<Led>& moves = led_to_lost_[at];
        moves.resize(places_[at].onward.size());
        Led& led = moves[static_cast<std::size_t>(&move - places_[at].onward.data())];
        count(lost.size());
        for (; led.of < lost.size(); ++led.of) add(led.from, graph_.back(at, move, lost[led.of].zone));
        return led.from;
    }
    Zones waiting_for(const Place& place, const Zones& goals, const Zones& bad) const;
    Zones losing(std::uint32_t at) const;
    Zones lasting(std::uint32_t at, const std::vector<Zones>& lasts, const Zones& live) const;
    bool lose(std::uint32_t at, Zones zones, bool together);
    void spread(std::deque<std::uint32_t> open);
    std::deque<std::uint32_t> lose_the_hasty();
    void count(std::size_t zones) const {
        work_ += zones;
        if (work_ > limit_) throw Exhausted{};
    }
    Zones shared(const Zones& a, const Zones& b) const {
        count(1 + a.size() * b.size());
        return both(a, b);
    }
    Zones less(Zones from, const Zones& what) const {
        for (const Zone& zone : what) {
            if (from.empty()) break;
            count(from.size());
            from = without(std::move(from), zone);
        }
        return from;
    }
};

// From where waiting leads into a goal before it leads into anything bad.
Zones ZoneSolver::waiting_for(const Place& place, const Zones& goals, const Zones& bad) const {
    Zones result;
    for (const Zone& goal : goals) {
        count(1 + bad.size());
        for (Zone& zone : before(goal, bad)) {
            count(result.size() / 8);
            graph_.forget_stopped(zone, place.running);
            zone.meet(place.hull);
            add(result, std::move(zone));
        }
    }
    return result;
}

// Values from which something that may happen leads to what is lost, or everything that care can do does.
Zones ZoneSolver::losing(std::uint32_t at) const {
    const Place& place = places_[at];
    Zones driven;
    Zones helpless{place.hull};  // of care's letters; on the dot, of waiting too
    for (const PlaceMove& move : place.onward) {
        if (move.by == By::environment)
            for (const Zone& z : back_to_lost(at, move)) add(driven, z);
        else if ((move.by == By::care || place.on_the_dot) && !helpless.empty())
            helpless = shared(helpless, back_to_lost(at, move));
    }
    if (place.leaves) return driven;
    if (place.on_the_dot || helpless.empty()) {
        for (Zone& z : helpless) add(driven, std::move(z));
        return driven;
    }
    Zones won;
    const Zones acts = less(less(Zones{place.hull}, helpless), driven);
    for (Zone& z : waiting_for(place, acts, driven)) add(won, std::move(z));
    for (const PlaceMove& move : place.onward) {
        if (move.by != By::time) continue;
        const Zones ends = less(Zones{graph_.end_of(place, move)}, back_to_lost(at, move));
        for (Zone& z : waiting_for(place, ends, driven)) add(won, std::move(z));
    }
    return less(Zones{place.hull}, won);
}

bool ZoneSolver::lose(std::uint32_t at, Zones zones, bool together) {
    zones = less(std::move(zones), zones_of(lost_[at]));
    if (zones.empty()) return false;
    count(zones.size());
    for (Zone& zone : zones) lost_[at].push_back({std::move(zone), order_, together});
    if (!together) ++order_;
    return true;
}

void ZoneSolver::spread(std::deque<std::uint32_t> open) {
    std::vector<bool> waits(places_.size(), false);
    for (const std::uint32_t at : open) waits[at] = true;
    while (!open.empty()) {
        const std::uint32_t at = open.front();
        open.pop_front();
        waits[at] = false;
        if (places_[at].nodes.empty() || !lose(at, losing(at), false)) continue;
        for (const std::uint32_t from : places_[at].into)
            if (!waits[from]) {
                waits[from] = true;
                open.push_back(from);
            }
    }
}

Zones ZoneSolver::lasting(std::uint32_t at, const std::vector<Zones>& lasts, const Zones& live) const {
    const Place& place = places_[at];
    if (place.leaves) return live;
    const Zones lost = zones_of(lost_[at]);
    Zones result;
    for (const PlaceMove& move : place.onward) {
        if (move.by == By::environment) continue;
        const bool runs_out = move.by == By::time && !place.on_the_dot;
        Zones goals = runs_out && move.unit ? less(Zones{graph_.end_of(place, move)}, back_to_lost(at, move))
                                            : back(at, move, lasts[move.to]);
        if (!runs_out) goals = shared(goals, live);
        if (!place.on_the_dot) goals = waiting_for(place, goals, lost);
        for (Zone& z : goals) add(result, std::move(z));
    }
    return result;
}

// Values from which care cannot get a unit of time further, all lost at once.
std::deque<std::uint32_t> ZoneSolver::lose_the_hasty() {
    std::vector<Zones> lasts(places_.size());
    std::vector<Zones> live(places_.size());
    std::deque<std::uint32_t> open;
    for (std::uint32_t at = 0; at < places_.size(); ++at) {
        if (places_[at].nodes.empty()) continue;
        live[at] = less(Zones{places_[at].hull}, zones_of(lost_[at]));
        if (!live[at].empty()) open.push_back(at);
    }
    std::vector<bool> waits(places_.size(), true);
    while (!open.empty()) {
        const std::uint32_t at = open.front();
        open.pop_front();
        waits[at] = false;
        bool more = false;
        for (Zone& z : lasting(at, lasts, live[at])) {
            if (less(Zones{z}, lasts[at]).empty()) continue;
            add(lasts[at], std::move(z));
            more = true;
        }
        if (!more) continue;
        for (const std::uint32_t from : places_[at].into)
            if (!waits[from]) {
                waits[from] = true;
                open.push_back(from);
            }
    }
    std::deque<std::uint32_t> changed;
    for (std::uint32_t at = 0; at < places_.size(); ++at)
        if (lose(at, less(live[at], lasts[at]), true))
            for (const std::uint32_t from : places_[at].into) changed.push_back(from);
    ++order_;
    std::sort(changed.begin(), changed.end());
    changed.erase(std::unique(changed.begin(), changed.end()), changed.end());
    return changed;
}

void ZoneSolver::find_lost() {
    std::deque<std::uint32_t> open;
    for (std::uint32_t at = 0; at < places_.size(); ++at) open.push_front(at);
    do {
        spread(std::move(open));
        open = lose_the_hasty();
    } while (!open.empty());
}

bool ZoneSolver::start_lost() const {
    const std::vector<std::int64_t> zero(graph_.rules().clocks(), 0);
    return std::any_of(lost_[0].begin(), lost_[0].end(), [&](const Lost& l) {
        const auto stay = l.zone.when(zero, 1, places_[0].running);
        return stay && stay->from == 0 && !stay->after_from;
    });
}

std::size_t ZoneSolver::first_lost() const {
    const std::vector<Node>& nodes = graph_.nodes();
    for (std::size_t n = 0; n < nodes.size(); ++n) {
        if (!graph_.rules().clean(places_[nodes[n].place].position)) continue;
        for (const Lost& lost : lost_[nodes[n].place]) {
            Zone shared = lost.zone;
            shared.meet(nodes[n].zone);
            if (!shared.empty()) return n;
        }
    }
    return SIZE_MAX;
}

// ---- a history

struct ZoneSolver::Telling {
    const ZoneSolver& solver;
    std::int64_t parts;
    std::int64_t just_after;
    Moment here{};
    TimedAnswer answer{};

    const Place& place() const { return solver.places_[here.place]; }

    // When the values lie in the zone, if ever; what stands just after a dot is later than it.
    std::optional<Zone::Stay> when(const Zone& zone) const {
        std::optional<Zone::Stay> stay = zone.when(here.values, parts, place().running);
        if (stay && here.after && stay->from == 0) {
            stay->after_from = true;
            if (stay->to == 0) return std::nullopt;
        }
        if (stay && place().on_the_dot && (stay->from != 0 || stay->after_from)) return std::nullopt;
        return stay;
    }
    std::int64_t wait_for(const Zone::Stay& stay) const {
        if (!stay.after_from) return stay.from;
        const std::int64_t room = stay.to - stay.from;
        return stay.from + std::max<std::int64_t>(1, std::min(room / 2, just_after));
    }
    void wait(std::int64_t by) {
        if (by == 0) return;
        here.now += by;
        for (std::int64_t& v : here.values) v += by;
        here.after = false;
    }
    void move(const PlaceMove& m) {
        if (m.by != By::time) answer.history.push_back({here.now, m.letter, m.by == By::environment});
        here.after = m.by == By::time && place().on_the_dot;
        for (const ClockMove& c : m.moves) {
            if (c.kind == ClockMove::Kind::reset) here.values[c.clock] = 0;
            if (c.kind == ClockMove::Kind::copy) here.values[c.clock] = here.values[c.from];
        }
        here.place = m.to;
    }
    // How long to wait until the move leads into what was lost before; nothing where it never does.
    std::optional<std::int64_t> leads(const PlaceMove& m, std::uint32_t order, bool together) const {
        std::optional<std::int64_t> earliest;
        for (const Lost& lost : solver.lost_[m.to]) {
            if (lost.order > order || (lost.order == order && !together)) continue;
            const Zone from = solver.graph_.back(here.place, m, lost.zone);
            if (from.empty()) continue;
            if (const auto stay = when(from)) {
                const std::int64_t after = wait_for(*stay);
                if (!earliest || after < *earliest) earliest = after;
            }
        }
        return earliest;
    }
    std::uint32_t order() const {
        std::uint32_t best = never_lost;
        for (const Lost& lost : solver.lost_[here.place])
            if (const auto stay = when(lost.zone); stay && stay->from == 0) best = std::min(best, lost.order);
        return best;
    }

    void follow_to(const std::vector<std::pair<const Node*, Zone>>& path);
    bool drive(std::set<std::uint32_t>& visited);
    void finish();
};

// Along nodes, each with the values from which the next is reached.
void ZoneSolver::Telling::follow_to(const std::vector<std::pair<const Node*, Zone>>& path) {
    for (std::size_t i = 1; i < path.size(); ++i) {
        const PlaceMove& m = place().onward[path[i].first->move];
        const Zone from = solver.graph_.back(here.place, m, path[i].second);
        if (from.empty()) return;
        const auto stay = when(from);
        if (!stay) return;
        wait(wait_for(*stay));
        move(m);
    }
    if (path.empty()) return;
    if (const auto stay = when(path.back().second)) wait(wait_for(*stay));
}

// One step towards the break: what drives care there, else waiting, else what care has left.
bool ZoneSolver::Telling::drive(std::set<std::uint32_t>& visited) {
    const std::uint32_t now = order();
    if (now == never_lost) return false;
    const bool together =
        std::any_of(solver.lost_[here.place].begin(), solver.lost_[here.place].end(),
                    [&](const Lost& l) { return l.together && l.order == now && when(l.zone).has_value(); });
    const PlaceMove* best = nullptr;
    std::int64_t best_wait = 0;
    for (const By by : {By::environment, By::time, By::care}) {
        for (const PlaceMove& m : place().onward) {
            if (m.by != by || (together && visited.count(m.to) != 0)) continue;
            const auto after = leads(m, now, together && by != By::environment);
            if (!after || (best != nullptr && *after >= best_wait)) continue;
            best = &m;
            best_wait = *after;
        }
        if (best != nullptr) break;
    }
    if (best == nullptr) return false;
    visited.insert(here.place);
    wait(best_wait);
    move(*best);
    return true;
}

void ZoneSolver::Telling::finish() {
    const TimedRules& rules = solver.graph_.rules();
    std::int64_t room = 0;
    if (!place().on_the_dot) {
        const auto stay = when(place().cell);
        room = stay ? stay->to : 0;
        answer.limit = here.now + room;
        // With no time left nothing helps: the last moment is just before the end, or at once.
        if (here.after) wait(std::max<std::int64_t>(1, std::min(room / 2, just_after)));
    } else {
        answer.limit = here.now;
    }
    answer.until = here.now;
    const TimedProblem& problem = rules.problem();
    for (unsigned l = 0; l < problem.letters; ++l)
        if ((solver.graph_.used() & ~problem.environment & letter(l)) != 0 &&
            !rules.allowed(place().position, l))
            answer.last.push_back(l);
}

TimedAnswer ZoneSolver::tell(std::size_t node, std::int64_t parts, std::int64_t just_after) const {
    Telling telling{*this, parts, just_after};
    telling.here.values.assign(graph_.rules().clocks(), 0);
    std::vector<std::pair<const Node*, Zone>> path;
    const std::vector<Node>& nodes = graph_.nodes();
    if (node != SIZE_MAX) {
        Zone target = nodes[node].zone;
        for (const Lost& lost : lost_[nodes[node].place]) {
            Zone shared = lost.zone;
            shared.meet(nodes[node].zone);
            if (shared.empty()) continue;
            target = shared;
            break;
        }
        for (std::size_t n = node; n != SIZE_MAX; n = nodes[n].parent) {
            const Place& place = places_[nodes[n].place];
            Zone entered = place.on_the_dot ? target : graph_.waiting(place, target);
            path.emplace_back(&nodes[n], n == node ? target : entered);
            if (nodes[n].parent == SIZE_MAX) break;
            const std::uint32_t from = nodes[nodes[n].parent].place;
            target = graph_.back(from, places_[from].onward[nodes[n].move], entered);
            if (target.empty()) break;
        }
        std::reverse(path.begin(), path.end());
        if (path.size() > 1) {  // the last is entered wherever waiting leads on to what is lost
            const Place& place = places_[path.back().first->place];
            const Zone goal = path.back().second;
            path.back().second = place.on_the_dot ? goal : graph_.waiting(place, goal);
            telling.follow_to(path);
            if (const auto stay = telling.when(goal)) telling.wait(telling.wait_for(*stay));
        } else {
            telling.follow_to(path);
        }
        telling.answer.into_corner = telling.answer.history.size();
    }
    std::set<std::uint32_t> visited;
    for (std::size_t i = 0; i < longest_history && telling.drive(visited); ++i) {
    }
    telling.finish();
    return telling.answer;
}

}  // namespace

TimedAnswer solve_by_zones(const TimedProblem& problem, std::size_t limit, std::int64_t parts,
                           std::int64_t just_after) {
    TimedAnswer answer;
    const std::optional<TimedRules> rules = TimedRules::make(problem, Grain::cells);
    if (!rules) {
        answer.verdict = Verdict::exhausted;
        return answer;
    }
    PlaceGraph graph(*rules);
    if (!graph.explore(limit)) {
        answer.verdict = Verdict::exhausted;
        answer.states = graph.nodes().size();
        return answer;
    }
    try {
        ZoneSolver solver(graph, 100 * limit);
        solver.find_lost();
        const bool conflict = solver.start_lost();
        const std::size_t lost = conflict ? SIZE_MAX : solver.first_lost();
        if (conflict || lost != SIZE_MAX) {
            answer = solver.tell(lost, parts, just_after);
            answer.verdict = conflict ? Verdict::conflict : Verdict::corner;
        }
    } catch (const Exhausted&) {
        answer.verdict = Verdict::exhausted;
    }
    answer.states = graph.nodes().size();
    return answer;
}

}  // namespace linelaw::compiler::analysis
