#include "runtime/reviewer.hpp"

#include <xxhash.h>

#include <utility>

namespace linelaw::runtime {

Reviewer::Reviewer(const Policy& policy, const Items& items, const ReviewOptions& options,
                   std::optional<Instant> as_of)
    : policy_(policy), items_(items), options_(options), writer_(policy, as_of), tally_(fresh()) {}

ReviewTally Reviewer::fresh() const {
    ReviewTally tally;
    tally.sample.wanted = options_.sample;
    if (options_.settled != nullptr) tally.settlements = options_.settled->ids();
    if (options_.earlier != nullptr) {
        tally.since.emplace();
        tally.since->earlier = options_.earlier->size();
    }
    return tally;
}

ReviewTally Reviewer::take() {
    return std::exchange(tally_, fresh());
}

void Reviewer::judged(const Episode& episode, const Judgement& judgement, const std::string& place) {
    if (!wanted()) return;
    if (options_.earlier != nullptr) options_.earlier->judged(episode.key);
    for (const Opportunity& o : judgement) {
        const std::string id = finding_id(policy_, episode, o);
        if (options_.settled != nullptr) settle(episode, o, id);
        if (options_.earlier != nullptr && counts_against(o.outcome)) compare(o, id);
        if (options_.sample != 0) draw(episode, o, judgement, id, place);
    }
}

void Reviewer::settle(const Episode& episode, const Opportunity& o, const std::string& id) {
    const Settlement* settlement = options_.settled->find(id);
    if (settlement == nullptr) return;
    tally_.settled.emplace(
        id, SettledFinding{episode.key, episode.care_unit, static_cast<std::uint32_t>(items_.of(o)),
                           o.outcome, settled(o.outcome, *settlement), settlement->reason});
}

void Reviewer::compare(const Opportunity& o, const std::string& id) {
    if (options_.earlier->has(id)) {
        ++tally_.since->same;
        return;
    }
    ++tally_.since->fresh;
    ++tally_.since->fresh_by[static_cast<std::uint32_t>(items_.of(o))];
}

void Reviewer::draw(const Episode& episode, const Opportunity& o, const Judgement& all, const std::string& id,
                    const std::string& place) {
    const bool met = counts_for(o.outcome);
    if (o.origin == OriginKind::bundle || (!met && !counts_against(o.outcome))) return;
    const auto item = static_cast<std::uint32_t>(items_.of(o));
    Sample& sample = tally_.sample;
    Sample::Stratum& stratum = sample.strata[{item, met}];
    ++stratum.population;
    const std::uint64_t rank = XXH3_64bits_withSeed(id.data(), id.size(), options_.seed);
    if (!sample.would_keep(stratum, rank)) return;
    Sampled drawn;
    drawn.rank = rank;
    drawn.id = id;
    drawn.episode = episode.key;
    drawn.care_unit = episode.care_unit;
    drawn.place = place;
    drawn.part = part_words(policy_, episode, o);
    drawn.item = item;
    drawn.outcome = o.outcome;
    drawn.opened = o.opened;
    drawn.limit = o.limit;
    drawn.closed = o.closed;
    drawn.said = writer_.said(episode, o, all);
    sample.keep(stratum, std::move(drawn));
}

FindingNotes Reviewer::notes(const Episode& episode, const Opportunity& o) const {
    FindingNotes notes;
    if (options_.settled == nullptr && options_.earlier == nullptr) return notes;
    const std::string id = finding_id(policy_, episode, o);
    if (options_.settled != nullptr) notes.settled = options_.settled->find(id);
    if (options_.earlier != nullptr && counts_against(o.outcome))
        notes.since = options_.earlier->has(id) ? "same" : "new";
    return notes;
}

}  // namespace linelaw::runtime
