#include "tests/compiler/analysis/brute_timed.hpp"

#include <algorithm>
#include <map>
#include <vector>

namespace linelaw::compiler::analysis {

namespace {

// The history as far as anybody can tell it apart: how many steps ago each letter came last, the time before
// that, and so on; when each response still open was triggered; which holds are on; how old the stay is.
struct History {
    std::vector<std::vector<int>> ago;   // by letter, newest first
    std::vector<int> open;               // by rule: steps since the oldest trigger not answered, or -1
    std::vector<int> ends;               // by rule: steps until the end of the period to answer in, or -1
    std::vector<std::vector<int>> done;  // by rule: answers in each period, or -1 where it does not count
    std::vector<bool> held;              // by rule
    std::vector<bool> applied;           // by rule: its guard held just after the newest of its events
    int age = 0;
    int phase = 0;      // of the day
    bool clean = true;  // nothing has been broken, not even what does not bind
    auto operator<=>(const History&) const = default;
};

class Brute {
  public:
    Brute(const TimedProblem& problem, int steps, std::size_t limit) : p_(problem), k_(steps), limit_(limit) {
        for (const Rule& rule : p_.rules) {
            if (const auto* d = std::get_if<Deadline>(&rule.what)) far(d->limit);
            if (const auto* d = std::get_if<Gap>(&rule.what)) far(d->shortest);
            if (const auto* d = std::get_if<Response>(&rule.what)) far(d->limit);
            if (const auto* d = std::get_if<Had>(&rule.what)) far(d->window.value_or(0));
            if (const auto* d = std::get_if<AtMost>(&rule.what)) {
                far(d->in);
                remember_ = std::max<std::size_t>(remember_, d->times);
            }
            for (const auto& way : rule.guard.ways)
                for (const GuardAtom& atom : way) {
                    far(atom.low / 2 + 1);
                    if (atom.high < 1000) far(atom.high / 2 + 1);
                }
        }
        day_ = static_cast<int>(p_.day) * k_;
    }

    std::optional<Verdict> answer() {
        History start;
        start.ago.resize(p_.letters);
        start.open.assign(p_.rules.size(), -1);
        start.held.assign(p_.rules.size(), false);
        start.ends.assign(p_.rules.size(), -1);
        start.done.resize(p_.rules.size());
        start.applied.assign(p_.rules.size(), false);
        for (std::size_t r = 0; r < p_.rules.size(); ++r) {
            const bool here = holds(start, p_.rules[r].guard);
            if (const auto* d = std::get_if<Response>(&p_.rules[r].what))
                if (d->at_start && here) start.open[r] = 0;
            if (const auto* d = std::get_if<Hold>(&p_.rules[r].what)) start.held[r] = d->at_start && here;
            if (const auto* d = std::get_if<Until>(&p_.rules[r].what))
                if (d->at_start && here) start.ends[r] = until_end(*d, 0);
            if (const auto* d = std::get_if<Each>(&p_.rules[r].what))
                for (const auto& [from, to] : d->periods)
                    start.done[r].push_back(static_cast<int>(from) * k_ % day_ == 0 && here ? 0 : -1);
        }
        number(start);
        for (std::size_t at = 0; at < all_.size(); ++at) {
            if (all_.size() > limit_) return std::nullopt;
            expand(at);
        }
        std::vector<bool> lost(all_.size(), false);
        for (bool more = true; more;) {  // nothing clever: until nothing changes
            more = false;
            for (std::size_t at = all_.size(); at-- > 0;) {
                if (lost[at]) continue;
                const bool driven = std::any_of(environment_[at].begin(), environment_[at].end(),
                                                [&](std::size_t to) { return lost[to]; });
                const bool stuck =
                    std::all_of(care_[at].begin(), care_[at].end(), [&](std::size_t to) { return lost[to]; });
                if (driven || stuck) lost[at] = more = true;
            }
        }
        if (lost[0]) return Verdict::conflict;
        for (std::size_t at = 0; at < all_.size(); ++at)
            if (lost[at] && all_[at].clean) return Verdict::corner;
        return Verdict::keeps;
    }

  private:
    const TimedProblem& p_;
    int k_;
    std::size_t limit_;
    int horizon_ = 1;
    int day_ = 0;
    std::size_t remember_ = 1;
    std::vector<History> all_;
    std::map<History, std::size_t> known_;
    std::vector<std::vector<std::size_t>> care_;
    std::vector<std::vector<std::size_t>> environment_;

    void far(std::uint32_t units) { horizon_ = std::max(horizon_, static_cast<int>(units) * k_ + 1); }

    std::size_t number(const History& h) {
        const auto [place, fresh] = known_.emplace(h, all_.size());
        if (fresh) all_.push_back(h);
        return place->second;
    }

    // Steps since the newest of the letters; -1 where none came.
    static int newest(const History& h, Letters letters) {
        int best = -1;
        for (unsigned l = 0; l < h.ago.size(); ++l)
            if ((letters & letter(l)) != 0 && !h.ago[l].empty() && (best < 0 || h.ago[l][0] < best))
                best = h.ago[l][0];
        return best;
    }

    // How many instants of the last `steps` steps had one of the letters.
    static std::size_t instants(const History& h, Letters letters, int steps) {
        std::vector<int> when;
        for (unsigned l = 0; l < h.ago.size(); ++l)
            if ((letters & letter(l)) != 0) when.insert(when.end(), h.ago[l].begin(), h.ago[l].end());
        std::sort(when.begin(), when.end());
        when.erase(std::unique(when.begin(), when.end()), when.end());
        return static_cast<std::size_t>(
            std::count_if(when.begin(), when.end(), [&](int w) { return w <= steps; }));
    }

    // Half units, as guards have them: 2n at n units, 2n + 1 between n and n + 1.
    bool between(int steps, const GuardAtom& atom) const {
        const auto half =
            static_cast<std::uint32_t>(2 * (steps / k_) + (steps % k_ != 0 || steps >= horizon_ ? 1 : 0));
        return half >= atom.low && half <= atom.high;
    }
    bool holds(const History& h, const Guard& guard) const {
        if (guard.always) return true;
        return std::any_of(guard.ways.begin(), guard.ways.end(), [&](const std::vector<GuardAtom>& way) {
            return std::all_of(way.begin(), way.end(), [&](const GuardAtom& atom) {
                const int since = atom.newest == 0 ? h.age : newest(h, atom.newest);
                return since < 0 ? atom.never_yet : between(since, atom);
            });
        });
    }

    // Steps from `phase` to the end of the period that holds it, begun last, or of the next to begin.
    int until_end(const Until& until, int phase) const {
        int begin = -1;
        int end = -1;
        for (int day = -1; day <= 1; ++day)
            for (const auto& [from, to] : until.periods) {
                const int b = static_cast<int>(from) * k_ + day * day_;
                const int e = static_cast<int>(to) * k_ + day * day_;
                const bool fits = until.which == Until::Which::same ? b <= phase && phase < e : b > phase;
                const bool better = end < 0 || (until.which == Until::Which::same ? b > begin : b < begin);
                if (fits && better) begin = b, end = e;
            }
        return end < 0 ? -1 : end - phase;
    }

    bool breaks(const History& h, unsigned l, std::size_t r) const {
        const Rule& rule = p_.rules[r];
        if (const auto* d = std::get_if<Gap>(&rule.what)) {
            const int since = newest(h, d->events);
            return (d->events & letter(l)) != 0 && (d->exempt & letter(l)) == 0 && since > 0 &&
                   since < static_cast<int>(d->shortest) * k_ && (rule.guard.always || h.applied[r]) &&
                   holds(h, rule.guard);
        }
        if (!holds(h, rule.guard)) return std::holds_alternative<Hold>(rule.what) && held_back(h, l, r);
        if (const auto* d = std::get_if<Had>(&rule.what)) {
            const int since = newest(h, d->before);
            return (d->triggers & letter(l)) != 0 &&
                   (since < 0 || (d->window && since > static_cast<int>(*d->window) * k_));
        }
        if (const auto* d = std::get_if<Forbidden>(&rule.what)) return (d->events & letter(l)) != 0;
        if (const auto* d = std::get_if<AtMost>(&rule.what))
            return (d->events & letter(l)) != 0 && newest(h, d->events) != 0 &&
                   instants(h, d->events, static_cast<int>(d->in) * k_) + 1 > d->times;
        return held_back(h, l, r);
    }
    bool held_back(const History& h, unsigned l, std::size_t r) const {
        const auto* d = std::get_if<Hold>(&p_.rules[r].what);
        return d != nullptr && h.held[r] && (d->held & letter(l)) != 0;
    }

    // A trigger of the very instant at which its guard's clock starts does not see that; it comes later.
    static bool unseen(const History& h, unsigned l, const Rule& rule) {
        Letters triggers = 0;
        if (const auto* d = std::get_if<Response>(&rule.what)) triggers = d->by_guard ? 0 : d->triggers;
        if (const auto* d = std::get_if<Until>(&rule.what)) triggers = d->triggers;
        if (const auto* d = std::get_if<Hold>(&rule.what)) triggers = d->starts;
        if ((triggers & letter(l)) == 0) return false;
        for (const auto& way : rule.guard.ways)
            for (const GuardAtom& atom : way)
                if ((atom.newest == 0 ? h.age : newest(h, atom.newest)) == 0) return true;
        return false;
    }

    bool may(const History& h, unsigned l) const {
        const bool environment = (p_.environment & letter(l)) != 0;
        for (std::size_t r = 0; r < p_.rules.size(); ++r)
            if (((environment || p_.rules[r].binds) && breaks(h, l, r)) ||
                (environment && unseen(h, l, p_.rules[r])))
                return false;
        if (environment || (p_.response_only & letter(l)) == 0) return true;
        for (std::size_t r = 0; r < p_.rules.size(); ++r) {
            const auto* d = std::get_if<Response>(&p_.rules[r].what);
            if (d != nullptr && (d->answers & letter(l)) != 0 && h.open[r] >= 0) return true;
            const auto* u = std::get_if<Until>(&p_.rules[r].what);
            if (u != nullptr && (u->answers & letter(l)) != 0 && h.ends[r] >= 0) return true;
        }
        return false;
    }

    // What is broken and does not bind is over: only the history is no longer clean.
    void spoil(History& h) const {
        h.clean = false;
        for (std::size_t r = 0; r < p_.rules.size(); ++r) {
            if (p_.rules[r].binds) continue;
            h.open[r] = h.ends[r] = -1;
            for (int& n : h.done[r]) n = -1;
        }
    }

    History with(const History& before, unsigned l) const {
        History h = before;
        if (h.ago[l].empty() || h.ago[l][0] != 0) h.ago[l].insert(h.ago[l].begin(), 0);
        if (h.ago[l].size() > remember_) h.ago[l].resize(remember_);
        bool spoils = !before.clean;
        for (std::size_t r = 0; r < p_.rules.size(); ++r) {
            const Rule& rule = p_.rules[r];
            spoils = spoils || (!rule.binds && breaks(before, l, r));
            const bool applies = holds(before, rule.guard);
            if (const auto* d = std::get_if<Gap>(&rule.what))
                if ((d->events & letter(l)) != 0) h.applied[r] = !rule.guard.always && holds(h, rule.guard);
            if (const auto* d = std::get_if<Response>(&rule.what)) {
                if ((d->answers & letter(l)) != 0) h.open[r] = -1;
                const int answered = newest(before, d->answers & ~letter(l));  // by another
                const bool by_before = answered == 0 || (d->either_side && answered >= 0 &&
                                                         answered <= static_cast<int>(d->limit) * k_);
                if ((d->triggers & letter(l)) != 0 && applies && !by_before && h.open[r] < 0) h.open[r] = 0;
            }
            if (const auto* d = std::get_if<Until>(&rule.what)) {
                if ((d->answers & letter(l)) != 0) h.ends[r] = -1;
                if ((d->triggers & letter(l)) != 0 && applies &&
                    newest(before, d->answers & ~letter(l)) != 0) {
                    const int end = until_end(*d, before.phase);
                    if (end >= 0 && (h.ends[r] < 0 || end < h.ends[r])) h.ends[r] = end;
                }
            }
            if (const auto* d = std::get_if<Each>(&rule.what))
                if ((d->answers & letter(l)) != 0 && newest(before, d->answers) != 0)
                    for (int& n : h.done[r])
                        if (n >= 0) n = std::min(n + 1, static_cast<int>(d->times));
            if (const auto* d = std::get_if<Hold>(&rule.what)) {
                if ((d->releases & letter(l)) != 0) h.held[r] = false;
                if ((d->starts & ~d->releases & letter(l)) != 0 && applies &&
                    newest(before, d->releases) != 0)
                    h.held[r] = true;
            }
        }
        if (spoils) spoil(h);
        return h;
    }

    std::optional<History> later(const History& before) const {
        History h = before;
        h.age = std::min(h.age + 1, horizon_);
        if (day_ > 0) h.phase = (h.phase + 1) % day_;
        for (auto& times : h.ago) {
            for (int& t : times) t = std::min(t + 1, horizon_);
        }
        for (int& t : h.open)
            if (t >= 0) t = std::min(t + 1, horizon_);
        bool spoils = !h.clean;
        for (std::size_t r = 0; r < p_.rules.size(); ++r) {
            bool broken = false;
            if (const auto* d = std::get_if<Deadline>(&p_.rules[r].what)) {
                const int since = newest(h, d->answers);
                broken = (since < 0 ? h.age : since) > static_cast<int>(d->limit) * k_;
            }
            if (const auto* d = std::get_if<Response>(&p_.rules[r].what))
                broken = h.open[r] > static_cast<int>(d->limit) * k_;
            if (h.ends[r] > 0) broken = --h.ends[r] == 0 || broken;
            if (const auto* d = std::get_if<Each>(&p_.rules[r].what))
                for (std::size_t i = 0; i < d->periods.size(); ++i) {
                    int& n = h.done[r][i];
                    if (static_cast<int>(d->periods[i].second) * k_ % day_ == h.phase) {
                        broken = broken || (n >= 0 && n < static_cast<int>(d->times));
                        n = -1;
                    }
                    if (static_cast<int>(d->periods[i].first) * k_ % day_ == h.phase)
                        n = h.clean || p_.rules[r].binds ? 0 : -1;
                }
            if (broken && p_.rules[r].binds) return std::nullopt;
            spoils = spoils || broken;
        }
        if (spoils) spoil(h);
        return h;
    }

    void expand(std::size_t at) {
        const History here = all_[at];
        std::vector<std::size_t> care;
        std::vector<std::size_t> environment;
        if (const auto next = later(here)) care.push_back(number(*next));
        for (unsigned l = 0; l < p_.letters; ++l) {
            if (!may(here, l) || newest(here, letter(l)) == 0) continue;  // once an instant
            const std::size_t to = number(with(here, l));
            ((p_.environment & letter(l)) != 0 ? environment : care).push_back(to);
        }
        care_.push_back(std::move(care));
        environment_.push_back(std::move(environment));
    }
};

}  // namespace

std::optional<Verdict> brute(const TimedProblem& problem, int steps, std::size_t limit) {
    return Brute(problem, steps, limit).answer();
}

}  // namespace linelaw::compiler::analysis
