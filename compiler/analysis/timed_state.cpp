#include "compiler/analysis/timed_state.hpp"

#include <algorithm>
#include <bit>

#include "compiler/analysis/timed_smaller.hpp"

namespace linelaw::compiler::analysis {

namespace {

constexpr std::uint32_t infinite = std::numeric_limits<std::uint32_t>::max();

bool at_zero(const Position& p, std::size_t clock) {
    return p.whole[clock] == 0 && p.rank[clock] == 0;
}

}  // namespace

std::size_t PositionHash::operator()(const Position& p) const {
    std::uint64_t h = 0x9E37'79B9'7F4A'7C15ULL;
    const auto* bytes = reinterpret_cast<const unsigned char*>(&p);
    for (std::size_t i = 0; i < sizeof p; i += 8) {
        std::uint64_t word = 0;
        std::memcpy(&word, bytes + i, std::min<std::size_t>(8, sizeof p - i));
        h = (h ^ word) * 0xFF51'AFD7'ED55'8CCDULL;
        h ^= h >> 31U;
    }
    return static_cast<std::size_t>(h);
}

// ---- what a problem needs to remember
// -----------------------------------------------------------------------------

std::size_t TimedRules::add_clock(std::uint32_t cap) {
    caps_.push_back(cap);
    cuts_.push_back({0});
    add_cut(caps_.size() - 1, cap);
    return caps_.size() - 1;
}

void TimedRules::add_cut(std::size_t clock, std::uint32_t at) {
    std::vector<std::uint32_t>& cuts = cuts_[clock];
    const auto place = std::lower_bound(cuts.begin(), cuts.end(), at);
    if (place == cuts.end() || *place != at) cuts.insert(place, at);
    caps_[clock] = std::max(caps_[clock], at);
}

std::size_t TimedRules::newest_of(Letters letters, std::uint32_t cap, bool from_start) {
    for (std::size_t i = 0; i < newest_.size(); ++i) {
        Newest& n = newest_[i];
        if (n.letters != letters) continue;
        add_cut(n.clock, cap);
        if (from_start && !n.from_start) {
            n.from_start = true;
            n.flag = add_flag();
        }
        return i;
    }
    newest_.push_back({letters, add_clock(cap), from_start, from_start ? add_flag() : 0});
    return newest_.size() - 1;
}

// An event that triggers what it could answer answers it for others only.
void TimedRules::other_answers(Letters both, Letters answers, std::uint32_t cap) {
    for (unsigned l = 0; l < problem_->letters; ++l)
        if ((both & letter(l)) != 0 && (answers & ~letter(l)) != 0) newest_of(answers & ~letter(l), cap);
}

std::optional<std::size_t> TimedRules::answered_by(Letters answers, unsigned l) const {
    const Letters others = answers & ~letter(l);
    for (std::size_t i = 0; i < newest_.size(); ++i)
        if (newest_[i].letters == others) return i;
    return std::nullopt;
}

std::optional<TimedRules> TimedRules::make(const TimedProblem& problem, Grain grain) {
    TimedRules rules;
    rules.problem_ = &problem;
    rules.grain_ = grain;
    if (!rules.build()) return std::nullopt;
    return rules;
}

bool TimedRules::build() {
    const auto need_guard = [&](const Guard& guard) {
        for (const std::vector<GuardAtom>& way : guard.ways)
            for (const GuardAtom& atom : way) {
                if (atom.newest == 0 && dwell_ == SIZE_MAX) dwell_ = add_clock(0);
                const std::size_t clock =
                    atom.newest == 0 ? dwell_ : newest_[newest_of(atom.newest, 0)].clock;
                add_cut(clock, atom.low / 2);
                if (atom.high != infinite) add_cut(clock, (atom.high + 1) / 2);
            }
    };
    phase_ = add_clock(std::max(1U, problem_->day));
    for (const Rule& rule : problem_->rules) {
        RuleState s;
        if (!rule.guard.always) need_guard(rule.guard);
        if (const auto* deadline = std::get_if<Deadline>(&rule.what)) {
            if (rule.guard.always) {
                s.newest = newest_of(deadline->answers, deadline->limit, true);
            } else {
                s.clock = add_clock(deadline->limit);
                s.flag = flags_;  // active, and counted from an event
                flags_ += 2;
            }
        } else if (const auto* gap = std::get_if<Gap>(&rule.what)) {
            s.newest = newest_of(gap->events, gap->shortest);
            if (!rule.guard.always) s.flag = add_flag();  // applied just after the newest
        } else if (const auto* response = std::get_if<Response>(&rule.what)) {
            s.newest = newest_of(response->answers, response->either_side ? response->limit : 0);
            other_answers(response->triggers & response->answers, response->answers,
                          response->either_side ? response->limit : 0);
            s.clock = add_clock(response->limit);
            if (response->by_guard) s.flag = add_flag();  // the guard held
        } else if (const auto* until = std::get_if<Until>(&rule.what)) {
            s.newest = newest_of(until->answers, 0);
            other_answers(until->triggers & until->answers, until->answers, 0);
            s.counter = counters_++;
        } else if (const auto* had = std::get_if<Had>(&rule.what)) {
            s.newest = newest_of(had->before, had->window.value_or(0));
        } else if (const auto* most = std::get_if<AtMost>(&rule.what)) {
            s.clock = add_clock(most->in);
            for (std::uint32_t i = 1; i < most->times; ++i) add_clock(most->in);
        } else if (const auto* each = std::get_if<Each>(&rule.what)) {
            s.newest = newest_of(each->answers, 0);
            s.flag = flags_;  // one a period: it runs, and the clause applied through it
            flags_ += static_cast<unsigned>(each->periods.size());
            s.counter = counters_;
            counters_ += each->periods.size();
        } else if (const auto* hold = std::get_if<Hold>(&rule.what)) {
            s.newest = newest_of(hold->releases, 0);
            s.flag = add_flag();
        }
        states_.push_back(s);
    }
    // By cells a unit of the stay may be any time: the longest that some clock is compared with.
    if (grain_ == Grain::cells && problem_->day == 0)
        cuts_[phase_] = {0, *std::max_element(caps_.begin(), caps_.end())};
    if (problem_->day != 0)
        for (const Rule& rule : problem_->rules) {
            const auto cut_at = [&](const auto& periods) {
                for (const auto& [from, to] : periods) {
                    add_cut(phase_, from % problem_->day);
                    add_cut(phase_, to % problem_->day);
                }
            };
            if (const auto* until = std::get_if<Until>(&rule.what)) cut_at(until->periods);
            if (const auto* each = std::get_if<Each>(&rule.what)) cut_at(each->periods);
        }
    const bool small = grain_ == Grain::cells || std::all_of(caps_.begin(), caps_.end(),
                                                             [](std::uint32_t cap) { return cap < 60'000; });
    return small && problem_->day < 20'000 && caps_.size() <= most_clocks && counters_ <= most_counters &&
           flags_ <= unclean;
}

Position TimedRules::start() const {
    Position p;
    for (std::size_t c = 0; c < most_clocks; ++c) p.whole[c] = Position::stopped;
    for (const Newest& n : newest_)
        if (n.from_start) p.whole[n.clock] = 0;
    if (dwell_ != SIZE_MAX) p.whole[dwell_] = 0;
    p.whole[phase_] = 0;
    for (std::size_t r = 0; r < problem_->rules.size(); ++r) {
        const Rule& rule = problem_->rules[r];
        const RuleState& s = states_[r];
        if (std::holds_alternative<Deadline>(rule.what) && !rule.guard.always) p.whole[s.clock] = 0;
        if (const auto* response = std::get_if<Response>(&rule.what))
            if (response->at_start && holds(p, rule.guard)) p.whole[s.clock] = 0;
        if (const auto* until = std::get_if<Until>(&rule.what))
            if (until->at_start && holds(p, rule.guard)) p.counter[s.counter] = end_of(*until, 0);
        if (const auto* hold = std::get_if<Hold>(&rule.what))
            if (hold->at_start && holds(p, rule.guard)) set(p, s.flag, true);
        if (const auto* each = std::get_if<Each>(&rule.what))  // a period that begins with the stay is whole
            for (std::size_t i = 0; i < each->periods.size(); ++i)
                if (each->periods[i].first % problem_->day == 0 && holds(p, rule.guard))
                    set(p, s.flag + static_cast<unsigned>(i), true);
    }
    follow_guards(p, nullptr);
    return p;
}

Letters TimedRules::used() const {
    Letters all = problem_->leaving;
    for (const Rule& rule : problem_->rules) all |= spoken_of_by(rule);
    return all;
}

// ---- reading a position
// --------------------------------------------------------------------------------------------

std::uint32_t TimedRules::half(const Position& p, std::size_t clock) const {
    if (!runs(p, clock)) return infinite;
    return 2U * units(p, clock) + (p.rank[clock] > 0 ? 1U : 0U);
}

bool TimedRules::came(const Position& p, std::size_t newest) const {
    const Newest& n = newest_[newest];
    return n.from_start ? flag(p, n.flag) : p.whole[n.clock] != Position::stopped;
}

bool TimedRules::just_now(const Position& p, std::size_t newest) const {
    return came(p, newest) && at_zero(p, newest_[newest].clock);
}

std::size_t TimedRules::newest_at(const GuardAtom& atom) const {
    std::size_t i = 0;
    while (newest_[i].letters != atom.newest) ++i;
    return i;
}

bool TimedRules::holds(const Position& p, const Guard& guard) const {
    if (guard.always) return true;
    const auto atom_holds = [&](const GuardAtom& atom) {
        if (atom.newest == 0) return half(p, dwell_) >= atom.low && half(p, dwell_) <= atom.high;
        const std::size_t i = newest_at(atom);
        if (!came(p, i)) return atom.never_yet;
        const std::uint32_t h = half(p, newest_[i].clock);
        return h >= atom.low && h <= atom.high;
    };
    return std::any_of(guard.ways.begin(), guard.ways.end(), [&](const std::vector<GuardAtom>& way) {
        return std::all_of(way.begin(), way.end(), atom_holds);
    });
}

bool TimedRules::in_time(Position& p) const {
    const auto past = [&](std::size_t clock, std::uint32_t limit) {
        return p.whole[clock] != Position::stopped && half(p, clock) > 2 * limit;
    };
    for (std::size_t r = 0; r < problem_->rules.size(); ++r) {
        const Rule& rule = problem_->rules[r];
        const RuleState& s = states_[r];
        if (!rule.binds && !clean(p)) continue;
        bool broken = false;
        if (const auto* deadline = std::get_if<Deadline>(&rule.what))
            broken = rule.guard.always ? past(newest_[s.newest].clock, deadline->limit)
                                       : flag(p, s.flag) && past(s.clock, deadline->limit);
        else if (const auto* response = std::get_if<Response>(&rule.what))
            broken = past(s.clock, response->limit);
        if (broken && rule.binds) return false;
        if (broken) spoil(p);
    }
    return true;
}

void TimedRules::spoil(Position& p) const {
    set(p, unclean, true);
    for (std::size_t r = 0; r < problem_->rules.size(); ++r) {
        const Rule& rule = problem_->rules[r];
        if (rule.binds) continue;
        const RuleState& s = states_[r];
        if (std::holds_alternative<Response>(rule.what) ||
            (std::holds_alternative<Deadline>(rule.what) && !rule.guard.always)) {
            p.whole[s.clock] = Position::stopped;
            p.rank[s.clock] = 0;
        } else if (std::holds_alternative<Until>(rule.what)) {
            p.counter[s.counter] = 0;
        } else if (const auto* each = std::get_if<Each>(&rule.what)) {
            for (std::size_t i = 0; i < each->periods.size(); ++i) {
                set(p, s.flag + static_cast<unsigned>(i), false);
                p.counter[s.counter + i] = 0;
            }
        }
    }
    tidy(p);
}

bool TimedRules::on_the_dot(const Position& p, std::size_t clocks) {
    for (std::size_t c = 0; c < clocks; ++c)
        if (runs(p, c) && p.rank[c] == 0) return true;
    return false;
}

// ---- letters
// -------------------------------------------------------------------------------------------------------

bool TimedRules::breaks(const Position& p, unsigned l, std::size_t r) const {
    const Letters bit = letter(l);
    const Rule& rule = problem_->rules[r];
    const RuleState& s = states_[r];
    if (const auto* gap = std::get_if<Gap>(&rule.what)) {
        if ((gap->events & bit) == 0 || (gap->exempt & bit) != 0 || !came(p, s.newest)) return false;
        const std::uint32_t since = half(p, newest_[s.newest].clock);
        return since != 0 && since < 2 * gap->shortest &&
               (rule.guard.always || (flag(p, s.flag) && holds(p, rule.guard)));
    }
    if (const auto* had = std::get_if<Had>(&rule.what)) {
        if ((had->triggers & bit) == 0 || !holds(p, rule.guard)) return false;
        return !came(p, s.newest) || (had->window && half(p, newest_[s.newest].clock) > 2 * *had->window);
    }
    if (const auto* forbidden = std::get_if<Forbidden>(&rule.what))
        return (forbidden->events & bit) != 0 && holds(p, rule.guard);
    if (const auto* most = std::get_if<AtMost>(&rule.what)) {
        if ((most->events & bit) == 0 || at_zero(p, s.clock) || !holds(p, rule.guard)) return false;
        const std::size_t oldest = s.clock + most->times - 1;
        return most->times == 0 || (p.whole[oldest] != Position::stopped && half(p, oldest) <= 2 * most->in);
    }
    if (const auto* hold = std::get_if<Hold>(&rule.what)) return (hold->held & bit) != 0 && flag(p, s.flag);
    return false;
}

bool TimedRules::allowed(const Position& p, unsigned l) const {
    const bool environment = (problem_->environment & letter(l)) != 0;
    for (std::size_t r = 0; r < problem_->rules.size(); ++r) {
        if ((environment || problem_->rules[r].binds) && breaks(p, l, r)) return false;
        if (environment && (set_off_by(problem_->rules[r]) & letter(l)) != 0 &&
            just_moved(p, problem_->rules[r].guard))
            return false;
    }
    return true;
}

// Whether some clock of the guard has just been started. A trigger of the same instant does not see that
// (language.md 4.1); it comes just after, when it does.
bool TimedRules::just_moved(const Position& p, const Guard& guard) const {
    for (const std::vector<GuardAtom>& way : guard.ways)
        for (const GuardAtom& atom : way)
            if (at_zero(p, atom.newest == 0 ? dwell_ : newest_[newest_at(atom)].clock)) return true;
    return false;
}

bool TimedRules::open_to_care(const Position& p, unsigned l) const {
    if ((problem_->response_only & letter(l)) == 0) return true;
    for (std::size_t r = 0; r < problem_->rules.size(); ++r) {
        const Rule& rule = problem_->rules[r];
        if (const auto* response = std::get_if<Response>(&rule.what))
            if ((response->answers & letter(l)) != 0 && p.whole[states_[r].clock] != Position::stopped)
                return true;
        if (const auto* until = std::get_if<Until>(&rule.what))
            if ((until->answers & letter(l)) != 0 && p.counter[states_[r].counter] != 0) return true;
    }
    return false;
}

void TimedRules::reset(Position& p, std::size_t clock, std::vector<ClockMove>* moves) const {
    p.whole[clock] = 0;
    p.rank[clock] = 0;
    if (moves != nullptr) moves->push_back({ClockMove::Kind::reset, clock, 0});
}
void TimedRules::stop(Position& p, std::size_t clock, std::vector<ClockMove>* moves) const {
    p.whole[clock] = Position::stopped;
    p.rank[clock] = 0;
    if (moves != nullptr) moves->push_back({ClockMove::Kind::stop, clock, 0});
}
void TimedRules::copy(Position& p, std::size_t to, std::size_t from, std::vector<ClockMove>* moves) const {
    p.whole[to] = p.whole[from];
    p.rank[to] = p.rank[from];
    if (moves != nullptr) moves->push_back({ClockMove::Kind::copy, to, from});
}

void TimedRules::tidy(Position& p) const {
    std::uint32_t used = 1;  // ranks, a bit each; 0 always
    for (std::size_t c = 0; c < clocks(); ++c) used |= 1U << p.rank[c];
    if ((used & (used + 1)) == 0) return;  // there are none
    for (std::size_t c = 0; c < clocks(); ++c)
        p.rank[c] = static_cast<std::uint8_t>(std::popcount(used & ((1U << p.rank[c]) - 1)));
}

std::uint16_t TimedRules::end_of(const Until& until, std::uint32_t now) const {
    const std::uint32_t day = problem_->day;
    std::uint32_t best_begin = 0;
    std::uint32_t best_end = 0;
    bool found = false;
    for (const auto& [from, to] : until.periods)
        for (std::uint32_t shift = 0; shift <= 2; ++shift) {  // begun yesterday, today, tomorrow
            const std::uint32_t begin = from + shift * day;
            const std::uint32_t end = to + shift * day;
            const std::uint32_t here = now + 2 * day;
            const bool fits =
                until.which == Until::Which::same ? 2 * begin <= here && here < 2 * end : 2 * begin > here;
            if (!fits) continue;
            const bool better =
                !found || (until.which == Until::Which::same ? begin > best_begin : begin < best_begin);
            if (!better) continue;
            found = true;
            best_begin = begin;
            best_end = end;
        }
    return found ? static_cast<std::uint16_t>(best_end - day + 1) : 0;
}

Position TimedRules::after(const Position& before, unsigned l, std::vector<ClockMove>* moves) const {
    const Letters bit = letter(l);
    Position p = before;
    bool spoils = false;
    for (std::size_t r = 0; r < problem_->rules.size(); ++r)
        spoils = spoils || (!problem_->rules[r].binds && breaks(before, l, r));
    for (const Newest& n : newest_) {
        if ((n.letters & bit) == 0) continue;
        reset(p, n.clock, moves);
        if (n.from_start) set(p, n.flag, true);
    }
    for (std::size_t r = 0; r < problem_->rules.size(); ++r) {
        const Rule& rule = problem_->rules[r];
        const RuleState& s = states_[r];
        if (const auto* deadline = std::get_if<Deadline>(&rule.what)) {
            if (rule.guard.always || (deadline->answers & bit) == 0) continue;
            reset(p, s.clock, moves);
            set(p, s.flag + 1, true);
        } else if (const auto* gap = std::get_if<Gap>(&rule.what)) {
            if (!rule.guard.always && (gap->events & bit) != 0) set(p, s.flag, holds(p, rule.guard));
        } else if (const auto* response = std::get_if<Response>(&rule.what)) {
            if ((response->answers & bit) != 0) stop(p, s.clock, moves);
            if ((response->triggers & bit) == 0 || response->by_guard || !holds(before, rule.guard)) continue;
            const std::optional<std::size_t> by = answered_by(response->answers, l);
            const bool answered =
                by && (just_now(before, *by) || (response->either_side && came(before, *by) &&
                                                 half(before, newest_[*by].clock) <= 2 * response->limit));
            if (!answered && p.whole[s.clock] == Position::stopped) reset(p, s.clock, moves);
        } else if (const auto* until = std::get_if<Until>(&rule.what)) {
            if ((until->answers & bit) != 0) p.counter[s.counter] = 0;
            const std::optional<std::size_t> by = answered_by(until->answers, l);
            if ((until->triggers & bit) == 0 || !holds(before, rule.guard) || (by && just_now(before, *by)))
                continue;
            const std::uint16_t end = end_of(*until, half(before, phase_));
            if (end != 0 && (p.counter[s.counter] == 0 || end < p.counter[s.counter]))
                p.counter[s.counter] = end;
        } else if (const auto* most = std::get_if<AtMost>(&rule.what)) {
            if ((most->events & bit) == 0 || at_zero(p, s.clock)) continue;
            for (std::size_t i = most->times; i-- > 1;) copy(p, s.clock + i, s.clock + i - 1, moves);
            reset(p, s.clock, moves);
        } else if (const auto* each = std::get_if<Each>(&rule.what)) {
            if ((each->answers & bit) == 0 || just_now(before, s.newest)) continue;
            for (std::size_t i = 0; i < each->periods.size(); ++i) {
                std::uint16_t& count = p.counter[s.counter + i];
                if (flag(p, s.flag + static_cast<unsigned>(i)) && count < each->times) ++count;
            }
        } else if (const auto* hold = std::get_if<Hold>(&rule.what)) {
            if ((hold->releases & bit) != 0) set(p, s.flag, false);
            if ((hold->starts & ~hold->releases & bit) != 0 && holds(before, rule.guard) &&
                !just_now(before, s.newest))
                set(p, s.flag, true);
        }
    }
    tidy(p);
    follow_guards(p, moves);
    if (spoils || !clean(p)) spoil(p);
    return p;
}

}  // namespace linelaw::compiler::analysis
