#include "compiler/cli/replay.hpp"

#include <algorithm>
#include <set>
#include <tuple>

#include "compiler/cli/episodes.hpp"
#include "runtime/engine.hpp"
#include "runtime/findings.hpp"
#include "runtime/findings_words.hpp"
#include "runtime/overloaded.hpp"
#include "runtime/records.hpp"
#include "runtime/tally.hpp"

namespace linelaw::compiler::cli {
namespace {

using runtime::Episode;
using runtime::Instant;
using runtime::none;
using runtime::Opportunity;
using runtime::Outcome;

constexpr std::size_t cases_shown = 3;  // of one pair of outcomes

// What one policy says of one record.
class Side {
  public:
    using Key = std::tuple<std::string, std::string, Instant>;  // item, part, opened

    explicit Side(const runtime::Policy& policy)
        : policy_(policy),
          words_(policy),
          reader_(policy, {false, record_limit}),
          engine_(policy),
          items_(policy) {}

    bool read(std::string_view record) { return reader_.read(record, episode_, set_aside_) == nullptr; }
    const Episode& episode() const { return episode_; }

    std::multimap<Key, Outcome> judge() {
        std::multimap<Key, Outcome> outcomes;
        routine_.clear();
        for (const Opportunity& o : engine_.judge(episode_)) {
            outcomes.emplace(key_of(o), o.outcome);
            count(o);
        }
        for (const auto& [what, by_clause] : routine_) {
            double most = 0;
            for (const auto& [clause, times] : by_clause) most = std::max(most, times);
            work_[what] += most;
        }
        return outcomes;
    }
    const std::map<std::string, double>& work() const { return work_; }

  private:
    Key key_of(const Opportunity& o) const {
        std::string item = runtime::item_name(policy_, items_[items_.of(o)]);
        if (o.origin == runtime::OriginKind::ladder) item += " step " + std::to_string(o.step + 1);
        return {std::move(item), o.part_kind == none ? "" : words_.part(o.part_kind, o.part, episode_),
                o.opened};
    }

    void count(const Opportunity& o) {
        if (o.origin == runtime::OriginKind::bundle) return;
        const bool routine = o.origin == runtime::OriginKind::clause &&
                             std::holds_alternative<runtime::AtLeastEvery>(policy_.clauses[o.item].demand);
        // The routine was due for as long as it applied; what was let off is no work.
        if (o.outcome == Outcome::excused || (o.outcome == Outcome::no_longer_due && !routine)) return;
        if (o.origin == runtime::OriginKind::ladder) {
            if (o.step < policy_.ladders[o.item].steps.size()) work_["call"] += 1;
            return;
        }
        const Instant until = o.closed.value_or(runtime::horizon_of(episode_));
        std::visit(
            runtime::overloaded{
                [&](const runtime::AtLeastEvery& d) {
                    if (!o.limit || *o.limit <= o.opened) return;
                    const auto share =
                        static_cast<double>(until - o.opened) / static_cast<double>(*o.limit - o.opened);
                    routine_[words_.events(d.events)][o.item] += share;
                },
                [&](const runtime::EachPeriod& d) { routine_[words_.events(d.events)][o.item] += d.times; },
                [&](const runtime::Within& d) { work_[words_.events(d.events)] += 1; },
                [&](const runtime::WithinEitherSide& d) { work_[words_.events(d.events)] += 1; },
                [](const auto&) {},
            },
            policy_.clauses[o.item].demand);
    }

    const runtime::Policy& policy_;
    runtime::Words words_;
    runtime::RecordReader reader_;
    runtime::Engine engine_;
    runtime::Items items_;
    Episode episode_;
    std::vector<runtime::Spoiled> set_aside_;
    std::map<std::string, std::map<std::uint32_t, double>> routine_;  // of one record
    std::map<std::string, double> work_;
};

double days_of(const Episode& episode) {
    const Instant from = episode.inserted_at.value_or(episode.observed_from.value_or(0));
    const Instant until = episode.removed_at.value_or(runtime::horizon_of(episode));
    return std::max(0.0, static_cast<double>(until - from) / (24.0 * runtime::microseconds_per_hour));
}

std::string name_of(const Outcome* outcome) {
    return outcome == nullptr ? "" : std::string(runtime::outcome_names[static_cast<std::size_t>(*outcome)]);
}

class Replaying {
  public:
    Replaying(const runtime::Policy& before, const runtime::Policy& after) : before_(before), after_(after) {}

    void add(std::string_view record) {
        const bool one = before_.read(record);
        const bool other = after_.read(record);
        if (!one || !other) {
            ++result_.unread;
            return;
        }
        ++result_.records;
        result_.line_days += days_of(after_.episode());
        pairs_.clear();
        cannot_tell_ = false;
        const auto old = before_.judge();
        const auto fresh = after_.judge();
        auto a = old.begin();
        auto b = fresh.begin();
        while (a != old.end() || b != fresh.end()) {
            const bool only_old = b == fresh.end() || (a != old.end() && a->first < b->first);
            const bool only_new = !only_old && (a == old.end() || b->first < a->first);
            ++result_.opportunities;
            compare(only_old ? a->first : b->first, only_new ? nullptr : &a->second,
                    only_old ? nullptr : &b->second);
            if (!only_new) ++a;
            if (!only_old) ++b;
        }
        result_.flipped += pairs_.empty() ? 0 : 1;
        result_.cannot_tell += cannot_tell_ ? 1 : 0;
        for (const auto& pair : pairs_) ++result_.flips[pair].records;
    }

    Replay take() {
        const double thousands = result_.line_days / 1000;
        std::set<std::string> kinds;
        for (const auto& [what, times] : before_.work()) kinds.insert(what);
        for (const auto& [what, times] : after_.work()) kinds.insert(what);
        const auto per = [&](const std::map<std::string, double>& work, const std::string& what) {
            const auto found = work.find(what);
            return found == work.end() || thousands <= 0 ? 0.0 : found->second / thousands;
        };
        for (const std::string& what : kinds)
            result_.work.push_back({what, per(before_.work(), what), per(after_.work(), what)});
        return std::move(result_);
    }

  private:
    void compare(const Side::Key& key, const Outcome* old, const Outcome* fresh) {
        if (old != nullptr && fresh != nullptr && *old == *fresh) return;
        const auto unknown = [](const Outcome* o) { return o != nullptr && *o == Outcome::not_assessable; };
        cannot_tell_ = cannot_tell_ || unknown(old) || unknown(fresh);
        const auto pair = std::make_pair(name_of(old), name_of(fresh));
        Flips& flips = result_.flips[pair];
        ++flips.times;
        pairs_.insert(pair);
        if (flips.first.size() >= cases_shown) return;
        const std::string& part = std::get<1>(key);
        flips.first.push_back({after_.episode().key, std::get<0>(key) + (part.empty() ? "" : " of " + part),
                               runtime::write_instant(std::get<2>(key))});
    }

    Side before_;
    Side after_;
    Replay result_;
    std::set<std::pair<std::string, std::string>> pairs_;  // of this record
    bool cannot_tell_ = false;
};

}  // namespace

runtime::Result<Replay> replay(const runtime::Policy& before, const runtime::Policy& after,
                               const std::vector<std::string>& files) {
    Replaying replaying(before, after);
    const auto done = read_record_texts(files, [&](std::string_view record, const EpisodePlace&) {
        replaying.add(record);
        return true;
    });
    if (!done) return tl::unexpected(done.error());
    return replaying.take();
}

}  // namespace linelaw::compiler::cli
