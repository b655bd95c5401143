#include "runtime/findings.hpp"

#include <fmt/format.h>
#include <xxhash.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "runtime/csv.hpp"
#include "runtime/findings_evidence.hpp"
#include "runtime/findings_said.hpp"
#include "runtime/findings_words.hpp"
#include "runtime/joined.hpp"
#include "runtime/review.hpp"

namespace linelaw::runtime {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::array<std::string_view, 4> priority_names = {"critical", "major", "minor", "advisory"};

std::string_view outcome_name(Outcome outcome) {
    return outcome_names[static_cast<std::size_t>(outcome)];
}

// What asked, a clause, a ladder or a bundle, as `read` sees it.
template <typename Read>
decltype(auto) of_item(const Policy& policy, const Opportunity& o, Read read) {
    if (o.origin == OriginKind::ladder) return read(policy.ladders[o.item]);
    if (o.origin == OriginKind::bundle) return read(policy.bundles[o.item]);
    return read(policy.clauses[o.item]);
}

const std::string& item_id(const Policy& policy, const Opportunity& o) {
    return of_item(policy, o, [](const auto& item) -> const std::string& { return item.id; });
}

EditionId edition_id(const Policy& policy, const Opportunity& o) {
    return of_item(policy, o, [](const auto& item) { return item.edition; });
}

const std::string& title_of(const Policy& policy, const Opportunity& o) {
    const EditionId edition = edition_id(policy, o);
    return edition == none ? policy.title : policy.editions[edition].title;
}

std::string_view origin_name(OriginKind origin) {
    return origin == OriginKind::clause ? "clause" : origin == OriginKind::ladder ? "ladder" : "bundle";
}

std::string part_name(const Policy& policy, const Episode& episode, const Opportunity& o) {
    if (o.part_kind == none) return "";
    if (policy.part_kinds[o.part_kind].count_slot != none) return std::to_string(o.part);
    return o.part < episode.texts.size() ? episode.texts[o.part] : "";
}

Json sources_of(const Policy& policy, const Clause& clause) {
    Json sources = Json::array();
    for (const SourceRef& ref : clause.sources) {
        Json entry;
        entry["source"] = ref.source;
        for (const Source& source : policy.sources) {
            if (source.name == ref.source && source.edition == clause.edition)
                entry["title"] = source.title, entry["by"] = source.by, entry["year"] = source.year;
        }
        if (!ref.where.empty()) entry["place"] = ref.where;
        if (!ref.category.empty()) entry["category"] = ref.category;
        sources.push_back(std::move(entry));
    }
    return sources;
}

Json instant_or_null(const std::optional<Instant>& t) {
    return t ? Json(write_instant(*t)) : Json(nullptr);
}

// Seconds, whole where they are whole.
Json seconds(std::int64_t microseconds) {
    if (microseconds % microseconds_per_second == 0) return microseconds / microseconds_per_second;
    return static_cast<double>(microseconds) / static_cast<double>(microseconds_per_second);
}

}  // namespace

const std::string& sentence_of(const Policy& policy, const Opportunity& o) {
    if (o.origin == OriginKind::bundle) return policy.bundles[o.item].title;
    return o.origin == OriginKind::ladder ? policy.ladders[o.item].sentence : policy.clauses[o.item].sentence;
}

std::string finding_id(const Policy& policy, const Episode& episode, const Opportunity& o) {
    // The separator cannot stand in any of the parts, so no two lists of parts give one text.
    const std::string text =
        fmt::format("{}\x1f{}\x1f{}\x1f{}\x1f{}\x1f{}\x1f{}", episode.key, origin_name(o.origin),
                    item_id(policy, o), o.step == none ? "" : std::to_string(o.step + 1),
                    o.part_kind == none ? "" : policy.part_kinds[o.part_kind].name,
                    part_name(policy, episode, o), o.opened);
    return fmt::format("{:016x}", XXH3_64bits(text.data(), text.size()));
}

std::string part_words(const Policy& policy, const Episode& episode, const Opportunity& o) {
    if (o.part_kind == none) return "";
    return policy.part_kinds[o.part_kind].name + " " + part_name(policy, episode, o);
}

std::optional<std::int64_t> lateness(const Opportunity& o) {
    const bool overdue = o.outcome == Outcome::late || o.outcome == Outcome::missed ||
                         (o.outcome == Outcome::excused &&
                          (o.before_exception == Outcome::late || o.before_exception == Outcome::missed));
    if (!overdue || !o.limit || !o.closed) return std::nullopt;
    return std::max<std::int64_t>(0, *o.closed - *o.limit);
}

Priority priority_of(const Policy& policy, const Opportunity& o) {
    if (o.origin == OriginKind::clause) return policy.clauses[o.item].priority;
    if (o.origin == OriginKind::ladder) {
        return o.started_by == none ? Priority::major : policy.clauses[o.started_by].priority;
    }
    Priority highest = Priority::advisory;
    for (const ClauseId clause : policy.bundles[o.item].of) {
        highest = std::min(highest, policy.clauses[clause].priority);
    }
    return highest;
}

bool is_in_bundle(const Policy& policy, const Opportunity& o, const Opportunity& clause, Instant horizon) {
    const Bundle& bundle = policy.bundles[o.item];
    if (clause.origin != OriginKind::clause ||
        std::find(bundle.of.begin(), bundle.of.end(), clause.item) == bundle.of.end())
        return false;
    if (bundle.each == BundleEach::line) return true;
    const Instant closed = clause.closed.value_or(horizon);
    if (bundle.each == BundleEach::event) return closed == o.opened;
    const Instant end = o.limit.value_or(o.closed.value_or(horizon));
    // A period's own outcome closes at its end, which is the next one's beginning.
    const bool periodic = std::holds_alternative<EachPeriod>(policy.clauses[clause.item].demand);
    return periodic ? clause.opened >= o.opened && clause.opened < end : closed >= o.opened && closed < end;
}

Instant horizon_of(const Episode& episode, std::optional<Instant> as_of) {
    if (episode.observed_until) return *episode.observed_until;
    if (as_of) return *as_of;
    return episode.events.empty() ? episode.observed_from.value_or(0) : episode.events.back().at;
}

struct FindingWriter::Implementation {
    Implementation(const Policy& policy, std::optional<Instant> as_of_, bool keys_)
        : words(policy), as_of(as_of_), keys(keys_) {}
    Words words;
    std::optional<Instant> as_of;
    bool keys;
};

FindingWriter::FindingWriter(const Policy& policy, std::optional<Instant> as_of, bool keys)
    : implementation_(std::make_unique<Implementation>(policy, as_of, keys)) {}
FindingWriter::~FindingWriter() = default;
FindingWriter::FindingWriter(FindingWriter&&) noexcept = default;
FindingWriter& FindingWriter::operator=(FindingWriter&&) noexcept = default;

std::string FindingWriter::said(const Episode& episode, const Opportunity& o,
                                const std::vector<Opportunity>& all) const {
    return say(implementation_->words, episode, o, all, horizon_of(episode, implementation_->as_of));
}

void FindingWriter::json(std::string& out, const Episode& episode, const Opportunity& o,
                         const std::vector<Opportunity>& all, const FindingNotes& notes) const {
    const Policy& policy = implementation_->words.policy();
    Json finding;
    finding["schema"] = finding_schema;
    if (implementation_->keys) {
        finding["id"] = finding_id(policy, episode, o);
        finding["episode"] = episode.key;
    }
    if (!episode.facility.empty()) finding["facility"] = episode.facility;
    if (!episode.care_unit.empty()) finding["care_unit"] = episode.care_unit;
    finding[std::string(origin_name(o.origin))] = item_id(policy, o);
    if (o.origin == OriginKind::ladder) {
        finding["step"] = o.step + 1;
        if (o.started_by != none) finding["started_by"] = policy.clauses[o.started_by].id;
    }
    if (!policy.editions.empty()) finding["policy"] = title_of(policy, o);
    finding["edition"] = edition_of(policy, edition_id(policy, o));
    if (o.part_kind != none) {
        finding["part"] = {{"kind", policy.part_kinds[o.part_kind].name},
                           {"name", part_name(policy, episode, o)}};
    } else {
        finding["part"] = nullptr;
    }
    finding["outcome"] = outcome_name(o.outcome);
    if (o.outcome == Outcome::excused) finding["would_be"] = outcome_name(o.before_exception);
    finding["priority"] = priority_names[static_cast<std::size_t>(priority_of(policy, o))];
    finding["opened"] = write_instant(o.opened);
    finding["due"] = instant_or_null(o.due);
    finding["limit"] = instant_or_null(o.limit);
    finding["closed"] = instant_or_null(o.closed);
    if (const auto late = lateness(o)) {
        finding["lateness_s"] = seconds(*late);
    } else {
        finding["lateness_s"] = nullptr;
    }
    finding["evidence"] = evidence_of(implementation_->words, episode, o,
                                      horizon_of(episode, implementation_->as_of), implementation_->keys);
    finding["sentence"] = sentence_of(policy, o);
    finding["said"] = said(episode, o, all);
    if (o.origin == OriginKind::clause) {
        const Clause& clause = policy.clauses[o.item];
        finding["source"] = sources_of(policy, clause);
        if (!clause.advice.empty()) finding["advice"] = clause.advice;
    }
    if (!notes.since.empty()) finding["since"] = notes.since;
    if (notes.settled != nullptr) {
        finding["settled"] = {{"outcome", outcome_name(notes.settled->outcome)},
                              {"reason", notes.settled->reason}};
    }
    out += finding.dump(-1, ' ', false, Json::error_handler_t::replace);
    out += '\n';
}

std::string_view csv_header() {
    return "id,episode,facility,care_unit,origin,item,step,started_by,policy,edition,part_kind,part,outcome,"
           "priority,opened,due,limit,closed,lateness_s,since,settled,settled_because,said,sentence\r\n";
}

void FindingWriter::csv(std::string& out, const Episode& episode, const Opportunity& o,
                        const std::vector<Opportunity>& all, const FindingNotes& notes) const {
    const Policy& policy = implementation_->words.policy();
    const auto instant = [](const std::optional<Instant>& t) {
        return t ? write_instant(*t) : std::string();
    };
    const auto late = lateness(o);
    put_cell(out, implementation_->keys ? finding_id(policy, episode, o) : "");
    put_cell(out, implementation_->keys ? episode.key : "");
    put_cell(out, episode.facility);
    put_cell(out, episode.care_unit);
    put_cell(out, origin_name(o.origin));
    put_cell(out, item_id(policy, o));
    put_cell(out, o.step == none ? "" : std::to_string(o.step + 1));
    put_cell(out, o.started_by == none ? "" : policy.clauses[o.started_by].id);
    put_cell(out, title_of(policy, o));
    put_cell(out, edition_of(policy, edition_id(policy, o)));
    put_cell(out, o.part_kind == none ? "" : policy.part_kinds[o.part_kind].name);
    put_cell(out, part_name(policy, episode, o));
    put_cell(out, outcome_name(o.outcome));
    put_cell(out, priority_names[static_cast<std::size_t>(priority_of(policy, o))]);
    put_cell(out, write_instant(o.opened));
    put_cell(out, instant(o.due));
    put_cell(out, instant(o.limit));
    put_cell(out, instant(o.closed));
    put_cell(out, late ? seconds(*late).dump() : "");
    put_cell(out, notes.since);
    put_cell(out, notes.settled != nullptr ? outcome_name(notes.settled->outcome) : "");
    put_cell(out, notes.settled != nullptr ? notes.settled->reason : "");
    put_cell(out, said(episode, o, all));
    put_cell(out, sentence_of(policy, o), true);
}

std::string said(const Policy& policy, const Episode& episode, const Opportunity& opportunity) {
    return FindingWriter(policy).said(episode, opportunity);
}

void write_finding(std::string& out, const Policy& policy, const Episode& episode,
                   const Opportunity& opportunity) {
    FindingWriter(policy).json(out, episode, opportunity);
}

}  // namespace linelaw::runtime
