#include "tests/compiler/analysis/brute_timed.hpp"

#include <algorithm>
#include <map>
#include <vector>

namespace linelaw::compiler::analysis {

namespace {

// The history as far as anybody can tell it apart: how many steps ago each letter came last, the time before
// that, and so on; when each response still open was triggered; which holds are on; how old the stay is.
struct History {
    std::vector<std::vector<int>> ago;  // by letter, newest first
    std::vector<int> open;              // by rule: steps since the oldest trigger not answered, or -1
    std::vector<bool> held;             // by rule
    int age = 0;
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
        }
    }

    std::optional<Verdict> answer() {
        History start;
        start.ago.resize(p_.letters);
        start.open.assign(p_.rules.size(), -1);
        start.held.assign(p_.rules.size(), false);
        for (std::size_t r = 0; r < p_.rules.size(); ++r)
            if (const auto* d = std::get_if<Response>(&p_.rules[r].what))
                if (d->at_start) start.open[r] = 0;
        number(start);
        for (std::size_t at = 0; at < all_.size(); ++at) {
            if (all_.size() > limit_) return std::nullopt;
            expand(at);
        }
        std::vector<bool> lost(all_.size(), false);
        for (bool more = true; more;) {  // nothing clever: until nothing changes
            more = false;
            for (std::size_t at = 0; at < all_.size(); ++at) {
                if (lost[at]) continue;
                const bool driven = std::any_of(environment_[at].begin(), environment_[at].end(),
                                                [&](std::size_t to) { return lost[to]; });
                const bool stuck =
                    std::all_of(care_[at].begin(), care_[at].end(), [&](std::size_t to) { return lost[to]; });
                if (driven || stuck) lost[at] = more = true;
            }
        }
        if (lost[0]) return Verdict::conflict;
        return std::find(lost.begin(), lost.end(), true) == lost.end() ? Verdict::keeps : Verdict::corner;
    }

  private:
    const TimedProblem& p_;
    int k_;
    std::size_t limit_;
    int horizon_ = 1;
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

    bool may(const History& h, unsigned l) const {
        for (std::size_t r = 0; r < p_.rules.size(); ++r) {
            if (const auto* d = std::get_if<Gap>(&p_.rules[r].what)) {
                const int since = newest(h, d->events);
                if ((d->events & letter(l)) != 0 && (d->exempt & letter(l)) == 0 && since > 0 &&
                    since < static_cast<int>(d->shortest) * k_)
                    return false;
            }
            if (const auto* d = std::get_if<Had>(&p_.rules[r].what)) {
                const int since = newest(h, d->before);
                if ((d->triggers & letter(l)) != 0 &&
                    (since < 0 || (d->window && since > static_cast<int>(*d->window) * k_)))
                    return false;
            }
            if (const auto* d = std::get_if<Forbidden>(&p_.rules[r].what))
                if ((d->events & letter(l)) != 0) return false;
            if (const auto* d = std::get_if<AtMost>(&p_.rules[r].what))
                if ((d->events & letter(l)) != 0 && newest(h, d->events) != 0 &&
                    instants(h, d->events, static_cast<int>(d->in) * k_) + 1 > d->times)
                    return false;
            if (std::holds_alternative<Hold>(p_.rules[r].what) && h.held[r] &&
                (std::get<Hold>(p_.rules[r].what).held & letter(l)) != 0)
                return false;
        }
        return true;
    }

    History with(const History& before, unsigned l) const {
        History h = before;
        if (h.ago[l].empty() || h.ago[l][0] != 0) h.ago[l].insert(h.ago[l].begin(), 0);
        if (h.ago[l].size() > remember_) h.ago[l].resize(remember_);
        for (std::size_t r = 0; r < p_.rules.size(); ++r) {
            if (const auto* d = std::get_if<Response>(&p_.rules[r].what)) {
                if ((d->answers & letter(l)) != 0) h.open[r] = -1;
                const int answered = newest(before, d->answers & ~letter(l));  // by another
                const bool by_before = answered == 0 || (d->either_side && answered >= 0 &&
                                                         answered <= static_cast<int>(d->limit) * k_);
                if ((d->triggers & letter(l)) != 0 && !by_before && h.open[r] < 0) h.open[r] = 0;
            }
            if (const auto* d = std::get_if<Hold>(&p_.rules[r].what)) {
                if ((d->releases & letter(l)) != 0) h.held[r] = false;
                if ((d->starts & ~d->releases & letter(l)) != 0 && newest(before, d->releases) != 0)
                    h.held[r] = true;
            }
        }
        return h;
    }

    std::optional<History> later(const History& before) const {
        History h = before;
        h.age = std::min(h.age + 1, horizon_);
        for (auto& times : h.ago) {
            for (int& t : times) t = std::min(t + 1, horizon_);
        }
        for (int& t : h.open)
            if (t >= 0) t = std::min(t + 1, horizon_);
        for (std::size_t r = 0; r < p_.rules.size(); ++r) {
            if (const auto* d = std::get_if<Deadline>(&p_.rules[r].what)) {
                const int since = newest(h, d->answers);
                const int waited = since < 0 ? h.age : since;
                const int limit = static_cast<int>(d->limit) * k_;
                if (waited > limit) return std::nullopt;
            }
            if (const auto* d = std::get_if<Response>(&p_.rules[r].what))
                if (h.open[r] > static_cast<int>(d->limit) * k_) return std::nullopt;
        }
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
