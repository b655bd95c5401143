// How the passing of time moves a position of the timed game.
#include <algorithm>

#include "compiler/analysis/timed_state.hpp"

namespace linelaw::compiler::analysis {

void TimedRules::follow_guards(Position& p, std::vector<ClockMove>* moves) const {
    for (std::size_t r = 0; r < problem_->rules.size(); ++r) {
        const Rule& rule = problem_->rules[r];
        const RuleState& s = states_[r];
        if (rule.guard.always) continue;
        const bool now = holds(p, rule.guard);
        if (const auto* deadline = std::get_if<Deadline>(&rule.what)) {
            if (now && !flag(p, s.flag) && !(flag(p, s.flag + 1) && half(p, s.clock) < 2 * deadline->limit)) {
                reset(p, s.clock, moves);
                set(p, s.flag + 1, false);
            }
            set(p, s.flag, now);
        } else if (const auto* response = std::get_if<Response>(&rule.what)) {
            if (!response->by_guard) continue;
            if (now && !flag(p, s.flag) && p.whole[s.clock] == Position::stopped) reset(p, s.clock, moves);
            set(p, s.flag, now);
        } else if (const auto* each = std::get_if<Each>(&rule.what)) {
            for (std::size_t i = 0; i < each->periods.size() && !now; ++i)
                set(p, s.flag + static_cast<unsigned>(i), false);
        }
    }
    tidy(p);
}

bool TimedRules::pass_boundaries(Position& p, std::vector<ClockMove>* moves) const {
    if (p.rank[phase_] != 0) return true;
    const std::uint32_t day = problem_->day;
    if (day == 0) {
        reset(p, phase_, moves);
        return true;
    }
    const bool midnight = units(p, phase_) == day;
    if (midnight) reset(p, phase_, moves);
    const std::uint32_t now = units(p, phase_);
    for (std::size_t r = 0; r < problem_->rules.size(); ++r) {
        const Rule& rule = problem_->rules[r];
        const RuleState& s = states_[r];
        if (!rule.binds && !clean(p)) continue;
        if (std::holds_alternative<Until>(rule.what)) {
            std::uint16_t& end = p.counter[s.counter];
            if (midnight && end != 0) end = static_cast<std::uint16_t>(end - day);
            if (end != 0 && end - 1U == now) {
                if (rule.binds) return false;
                spoil(p);
            }
        } else if (const auto* each = std::get_if<Each>(&rule.what)) {
            for (std::size_t i = 0; i < each->periods.size(); ++i) {
                const auto& [from, to] = each->periods[i];
                const unsigned runs = s.flag + static_cast<unsigned>(i);
                std::uint16_t& count = p.counter[s.counter + i];
                if (flag(p, runs) && to % day == now) {
                    if (count < each->times && rule.binds) return false;
                    if (count < each->times) spoil(p);
                    set(p, runs, false);
                    count = 0;
                }
                if (from % day == now && (rule.binds || clean(p))) {
                    set(p, runs, holds(p, rule.guard));
                    count = 0;
                }
            }
        }
    }
    return true;
}

std::optional<Position> TimedRules::later(const Position& before, bool& unit,
                                          std::vector<ClockMove>* moves) const {
    Position p = before;
    std::uint8_t highest_rank = 0;
    for (std::size_t c = 0; c < clocks(); ++c) highest_rank = std::max(highest_rank, p.rank[c]);
    const bool leaves_the_dot = on_the_dot(p, clocks());
    for (std::size_t c = 0; c < clocks(); ++c) {
        if (!runs(p, c)) continue;
        if (leaves_the_dot) {
            if (p.rank[c] > 0) {
                ++p.rank[c];
            } else if (p.whole[c] >= last_whole(c)) {
                p.whole[c] = Position::beyond;
            } else {
                p.rank[c] = 1;
            }
        } else if (p.rank[c] == highest_rank) {
            ++p.whole[c];
            p.rank[c] = 0;
        }
    }
    tidy(p);
    unit = !leaves_the_dot && p.rank[phase_] == 0;
    return arrive(p, unit, moves);
}

std::optional<Position> TimedRules::later(const Position& before, std::uint32_t hits, bool& unit,
                                          std::vector<ClockMove>& moves) const {
    Position p = before;
    const bool leaves_the_dot = on_the_dot(p, clocks());
    for (std::size_t c = 0; c < clocks(); ++c) {
        if (!runs(p, c)) continue;
        if (leaves_the_dot && p.rank[c] == 0) {
            if (p.whole[c] >= last_whole(c))
                p.whole[c] = Position::beyond;
            else
                p.rank[c] = 1;
        } else if (!leaves_the_dot && (hits >> c & 1U) != 0) {
            ++p.whole[c];
            p.rank[c] = 0;
        }
    }
    unit = !leaves_the_dot && p.rank[phase_] == 0;
    std::optional<Position> next = arrive(p, unit, &moves);
    if (next && leaves_the_dot)
        for (const ClockMove& move : moves)
            if (move.kind == ClockMove::Kind::reset) next->rank[move.clock] = 1;
    return next;
}

// What the rules make of a position that time has led into; nothing where one breaks.
std::optional<Position> TimedRules::arrive(Position p, bool unit, std::vector<ClockMove>* moves) const {
    if (unit && !pass_boundaries(p, moves)) return std::nullopt;
    follow_guards(p, moves);
    if (!in_time(p)) return std::nullopt;
    if (!clean(p)) spoil(p);
    return p;
}

}  // namespace linelaw::compiler::analysis
