#include "compiler/analysis/timed_zones.hpp"

#include <algorithm>

namespace linelaw::compiler::analysis {

namespace {

constexpr std::size_t no_move = SIZE_MAX;

template <typename Do>
void each_clock(std::uint32_t mask, const Do& then) {
    for (std::size_t c = 0; mask >> c != 0; ++c)
        if ((mask >> c & 1U) != 0) then(c);
}

}  // namespace

// ---- sets of values of a place

void PlaceGraph::forget_stopped(Zone& zone, std::uint32_t running) const {
    for (std::size_t c = 0; c < rules_.clocks(); ++c)
        if ((running >> c & 1U) == 0) zone.free(c);
}

Zone PlaceGraph::waiting(const Place& place, Zone zone) const {
    zone.come_from();
    forget_stopped(zone, place.running);
    zone.meet(place.hull);
    return zone;
}

Zone PlaceGraph::end_of(const Place& place, const PlaceMove& move) const {
    Zone zone = place.hull;
    std::vector<std::size_t> running;
    each_clock(place.running, [&](std::size_t c) { running.push_back(c); });
    zone.reach(running);
    const auto end = [&](std::size_t c) { return rules_.cut(c, place.position.whole[c] + 1U); };
    for (const std::size_t c : running) {
        if ((move.hits >> c & 1U) != 0)
            zone.limit_lower(c, Bound::at_most(-end(c)));
        else
            zone.limit_upper(c, Bound::below(end(c)));
    }
    return zone;
}

Zone PlaceGraph::back(std::uint32_t from, const PlaceMove& move, const Zone& target) const {
    const Place& place = places_[from];
    Zone zone = target;
    const bool leaves_the_dot = move.by == By::time && place.on_the_dot;
    if (leaves_the_dot) zone.just_before();
    for (std::size_t i = move.moves.size(); i-- > 0 && !zone.empty();) {
        const ClockMove& m = move.moves[i];
        if (m.kind == ClockMove::Kind::copy)
            zone.equate(m.clock, m.from);
        else if (m.kind == ClockMove::Kind::reset)
            zone.limit_upper(m.clock, Bound::at_most(0));
        if (!zone.empty()) zone.free(m.clock);
    }
    if (zone.empty()) return zone;
    zone.meet(move.by == By::time && !place.on_the_dot ? end_of(place, move) : place.hull);
    return zone;
}

// ---- what is reached

std::uint32_t PlaceGraph::place_of(const Position& p) {
    const auto [found, fresh] = known_.emplace(p, static_cast<std::uint32_t>(places_.size()));
    if (!fresh) return found->second;
    const std::size_t clocks = rules_.clocks();
    Zone cell(clocks);
    Place place{p, TimedRules::on_the_dot(p, clocks), false, 0, cell, cell, {}, {}, {}};
    for (std::size_t c = 0; c < clocks; ++c) {
        if (!TimedRules::runs(p, c)) continue;
        place.running |= 1U << c;
        const std::int64_t from = rules_.cut(c, p.whole[c]);
        if (p.rank[c] == 0) {
            place.cell.limit_lower(c, Bound::at_most(-from));
            place.cell.limit_upper(c, Bound::at_most(from));
        } else {
            place.cell.limit_lower(c, Bound::below(-from));
            place.cell.limit_upper(c, Bound::below(rules_.cut(c, p.whole[c] + 1U)));
        }
    }
    places_.push_back(std::move(place));
    return found->second;
}

void PlaceGraph::letters(std::uint32_t at) {
    const TimedProblem& problem = rules_.problem();
    const Position here = places_[at].position;
    for (unsigned l = 0; l < problem.letters; ++l) {
        if ((used_ & letter(l)) == 0 || !rules_.allowed(here, l)) continue;
        if ((problem.leaving & letter(l)) != 0) {
            places_[at].leaves = true;  // the stay ends, and with it every rule
            continue;
        }
        PlaceMove move;
        move.letter = l;
        move.by = (problem.environment & letter(l)) != 0 ? By::environment : By::care;
        if (move.by == By::care && !rules_.open_to_care(here, l)) continue;
        const Position next = rules_.after(here, l, &move.moves);
        const bool copies = std::any_of(move.moves.begin(), move.moves.end(),
                                        [](const ClockMove& m) { return m.kind == ClockMove::Kind::copy; });
        if (next == here && !copies) continue;  // nothing happens by it
        move.to = place_of(next);
        places_[at].onward.push_back(std::move(move));
    }
}

void PlaceGraph::enter(std::size_t parent, std::size_t move, Zone zone) {
    const std::uint32_t at = parent == SIZE_MAX ? 0 : places_[nodes_[parent].place].onward[move].to;
    Place& place = places_[at];
    forget_stopped(zone, place.running);
    if (!place.on_the_dot) {
        const Place* from = parent == SIZE_MAX ? nullptr : &places_[nodes_[parent].place];
        if (from != nullptr && from->on_the_dot && from->onward[move].by == By::time)
            zone.just_after();
        else
            zone.let_pass();
        forget_stopped(zone, place.running);
    }
    zone.meet(place.cell);
    if (zone.empty()) return;
    if (parent != SIZE_MAX) {
        const std::uint32_t from = nodes_[parent].place;
        if (std::find(place.into.begin(), place.into.end(), from) == place.into.end())
            place.into.push_back(from);
    }
    for (const std::size_t n : place.nodes)
        if (nodes_[n].zone.includes(zone)) return;
    if (place.nodes.empty())
        place.hull = zone;
    else
        place.hull.widen(zone);
    place.nodes.push_back(nodes_.size());
    nodes_.push_back({at, std::move(zone), parent, move});
}

namespace {

void follow(const std::vector<ClockMove>& moves, Zone& zone) {
    for (const ClockMove& m : moves) {
        if (m.kind == ClockMove::Kind::reset)
            zone.reset(m.clock);
        else if (m.kind == ClockMove::Kind::copy)
            zone.copy(m.clock, m.from);
        else
            zone.free(m.clock);
    }
}

}  // namespace

std::size_t PlaceGraph::move_by_time(std::uint32_t at, std::uint32_t hits) {
    const std::vector<PlaceMove>& known = places_[at].onward;
    for (std::size_t i = 0; i < known.size(); ++i)
        if (known[i].by == By::time && known[i].hits == hits) return i;
    PlaceMove move;
    move.hits = hits;
    const std::optional<Position> next = rules_.later(places_[at].position, hits, move.unit, move.moves);
    if (!next) return no_move;
    move.to = place_of(*next);
    places_[at].onward.push_back(std::move(move));
    return places_[at].onward.size() - 1;
}

// Which clocks may come to their next constant together, and before all others.
void PlaceGraph::run_out(std::size_t node, const Zone& zone, std::size_t clock, std::uint32_t hits) {
    if (zone.empty()) return;
    const std::uint32_t at = nodes_[node].place;
    if (clock == rules_.clocks()) {
        if (hits == 0) return;
        const std::size_t move = move_by_time(at, hits);
        if (move == no_move) return;
        Zone next = zone;
        follow(places_[at].onward[move].moves, next);
        enter(node, move, std::move(next));
        return;
    }
    if ((places_[at].running >> clock & 1U) == 0) return run_out(node, zone, clock + 1, hits);
    const std::int64_t end = rules_.cut(clock, places_[at].position.whole[clock] + 1U);
    Zone with = zone;
    with.limit_lower(clock, Bound::at_most(-end));
    run_out(node, with, clock + 1, hits | 1U << clock);
    Zone without_it = zone;
    without_it.limit_upper(clock, Bound::below(end));
    run_out(node, without_it, clock + 1, hits);
}

void PlaceGraph::expand(std::size_t node) {
    const std::uint32_t at = nodes_[node].place;
    if (places_[at].nodes.front() == node) letters(at);
    for (std::size_t i = 0; i < places_[at].onward.size(); ++i) {
        if (places_[at].onward[i].by == By::time) continue;
        Zone next = nodes_[node].zone;
        follow(places_[at].onward[i].moves, next);
        enter(node, i, std::move(next));
    }
    if (places_[at].on_the_dot) {
        const std::size_t move = move_by_time(at, 0);
        if (move == no_move) return;
        Zone next = nodes_[node].zone;
        follow(places_[at].onward[move].moves, next);
        enter(node, move, std::move(next));
        return;
    }
    Zone to_the_end = nodes_[node].zone;
    std::vector<std::size_t> running;
    each_clock(places_[at].running, [&](std::size_t c) { running.push_back(c); });
    to_the_end.reach(running);
    run_out(node, to_the_end, 0, 0);
}

bool PlaceGraph::explore(std::size_t limit) {
    place_of(rules_.start());
    Zone zone(rules_.clocks());
    for (std::size_t c = 0; c < rules_.clocks(); ++c) zone.reset(c);
    enter(SIZE_MAX, 0, std::move(zone));
    for (std::size_t node = 0; node < nodes_.size(); ++node) {
        if (nodes_.size() > limit || places_.size() > limit) return false;
        expand(node);
    }
    return true;
}

}  // namespace linelaw::compiler::analysis
