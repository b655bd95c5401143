#include "runtime/findings.hpp"

#include <fmt/compile.h>
#include <fmt/format.h>
#include <xxhash.h>

#include <algorithm>
#include <array>

#include "runtime/csv.hpp"
#include "runtime/findings_evidence.hpp"
#include "runtime/findings_inputs.hpp"
#include "runtime/findings_said.hpp"
#include "runtime/findings_words.hpp"
#include "runtime/joined.hpp"
#include "runtime/json_text.hpp"
#include "runtime/review.hpp"

namespace linelaw::runtime {
namespace {

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
    return o.part < episode.texts.size() ? std::string(episode.texts[o.part]) : "";
}

// As the record has it, whether or not it is told.
std::string name_in_record(const Policy& policy, const Episode& episode, const Opportunity& o) {
    for (const Episode::NumberedPart& part : episode.numbered_parts)
        if (part.kind == o.part_kind && part.number == o.part) return std::string(episode.texts[part.name]);
    return part_name(policy, episode, o);
}

// `,"key":"text"`
void put_member(std::string& out, std::string_view key, std::string_view text) {
    out += ",\"";
    out += key;
    out += "\":";
    put_text(out, text);
}

void put_instant_or_null(std::string& out, std::string_view key, const std::optional<Instant>& t) {
    out += ",\"";
    out += key;
    out += "\":";
    if (t)
        put_instant(out, *t);
    else
        out += "null";
}

// Seconds, whole where they are whole.
void put_seconds(std::string& out, std::int64_t microseconds) {
    if (microseconds % microseconds_per_second == 0)
        put_whole(out, microseconds / microseconds_per_second);
    else
        put_number(out, static_cast<double>(microseconds) / static_cast<double>(microseconds_per_second));
}

void put_sources(std::string& out, const Policy& policy, const Clause& clause) {
    out += ",\"source\":[";
    for (const SourceRef& ref : clause.sources) {
        out += out.back() == '[' ? "{\"source\":" : ",{\"source\":";
        put_text(out, ref.source);
        for (const Source& source : policy.sources) {
            if (source.name != ref.source || source.edition != clause.edition) continue;
            put_member(out, "title", source.title);
            put_member(out, "by", source.by);
            put_member(out, "year", source.year);
        }
        if (!ref.where.empty()) put_member(out, "place", ref.where);
        if (!ref.category.empty()) put_member(out, "category", ref.category);
        out += '}';
    }
    out += ']';
}

// What every finding of a clause, a ladder or a bundle says alike, as JSON.
struct Alike {
    std::string id;
    std::string edition;
    std::string sentence;
    std::string sources;  // and the advice
};

Alike alike_of(const Policy& policy, const Opportunity& o) {
    Alike alike;
    put_member(alike.id, origin_name(o.origin), item_id(policy, o));
    if (!policy.editions.empty()) put_member(alike.edition, "policy", title_of(policy, o));
    put_member(alike.edition, "edition", edition_of(policy, edition_id(policy, o)));
    put_member(alike.sentence, "sentence", sentence_of(policy, o));
    if (o.origin != OriginKind::clause) return alike;
    const Clause& clause = policy.clauses[o.item];
    put_sources(alike.sources, policy, clause);
    if (!clause.advice.empty()) put_member(alike.sources, "advice", clause.advice);
    return alike;
}

}  // namespace

const std::string& sentence_of(const Policy& policy, const Opportunity& o) {
    if (o.origin == OriginKind::bundle) return policy.bundles[o.item].title;
    return o.origin == OriginKind::ladder ? policy.ladders[o.item].sentence : policy.clauses[o.item].sentence;
}

std::string finding_id(const Policy& policy, const Episode& episode, const Opportunity& o) {
    // The separator cannot stand in any of the parts, so no two lists of parts give one text.
    std::string text =
        fmt::format(FMT_COMPILE("{}\x1f{}\x1f{}\x1f{}\x1f{}\x1f{}\x1f{}"), episode.key, origin_name(o.origin),
                    item_id(policy, o), o.step == none ? "" : std::to_string(o.step + 1),
                    o.part_kind == none ? "" : policy.part_kinds[o.part_kind].name,
                    name_in_record(policy, episode, o), o.opened);
    if (o.nth > 0) text.append(1, '\x1f').append(std::to_string(o.nth + 1));
    return fmt::format(FMT_COMPILE("{:016x}"), XXH3_64bits(text.data(), text.size()));
}

std::string part_words(const Policy& policy, const Episode& episode, const Opportunity& o) {
    if (o.part_kind == none) return "";
    const std::string name = part_name(policy, episode, o);
    return policy.part_kinds[o.part_kind].name + (name.empty() ? "" : " " + name);
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

Instant horizon_of(const Episode& episode, std::optional<Instant> as_of) {
    if (episode.observed_until) return *episode.observed_until;
    if (as_of) return *as_of;
    return episode.events.empty() ? episode.observed_from.value_or(0) : episode.events.back().at;
}

struct FindingWriter::Implementation {
    Implementation(const Policy& policy, std::optional<Instant> as_of_, bool keys_)
        : words(policy), as_of(as_of_), keys(keys_) {}
    // Made when first asked for: few of a large policy's clauses may have findings.
    const Alike& alike(const Opportunity& o) {
        std::vector<Alike>& made = alikes[static_cast<std::size_t>(o.origin)];
        if (made.size() <= o.item) made.resize(o.item + std::size_t{1});
        if (made[o.item].id.empty()) made[o.item] = alike_of(words.policy(), o);
        return made[o.item];
    }
    Words words;
    std::optional<Instant> as_of;
    bool keys;
    std::array<std::vector<Alike>, 3> alikes;  // by OriginKind, then by item
};

FindingWriter::FindingWriter(const Policy& policy, std::optional<Instant> as_of, bool keys)
    : implementation_(std::make_unique<Implementation>(policy, as_of, keys)) {}
FindingWriter::~FindingWriter() = default;
FindingWriter::FindingWriter(FindingWriter&&) noexcept = default;
FindingWriter& FindingWriter::operator=(FindingWriter&&) noexcept = default;

std::string FindingWriter::said(const Episode& episode, const Opportunity& o, const Judgement& all) const {
    const Words& words = implementation_->words;
    return say(words, episode, o, inputs_of(words, episode, o), all,
               horizon_of(episode, implementation_->as_of));
}

namespace {

// Whose finding it is: the keys, and where the line was.
void put_whose(std::string& out, const Policy& policy, const Episode& episode, const Opportunity& o,
               bool keys) {
    if (keys) {
        put_member(out, "id", finding_id(policy, episode, o));
        put_member(out, "episode", episode.key);
    }
    if (!episode.facility.empty()) put_member(out, "facility", episode.facility);
    if (!episode.care_unit.empty()) put_member(out, "care_unit", episode.care_unit);
}

// Which clause, ladder or bundle asked, and of which part.
void put_asked(std::string& out, const Policy& policy, const Episode& episode, const Opportunity& o,
               const Alike& alike) {
    out += alike.id;
    if (o.origin == OriginKind::ladder) {
        out += ",\"step\":";
        put_whole(out, std::int64_t{o.step} + 1);
        if (o.started_by != none) put_member(out, "started_by", policy.clauses[o.started_by].id);
    }
    out += alike.edition;
    if (o.part_kind == none) {
        out += ",\"part\":null";
    } else {
        out += ",\"part\":{\"kind\":";
        put_text(out, policy.part_kinds[o.part_kind].name);
        put_member(out, "name", part_name(policy, episode, o));
        out += '}';
    }
}

void put_outcome(std::string& out, const Policy& policy, const Opportunity& o) {
    put_member(out, "outcome", outcome_name(o.outcome));
    if (o.outcome == Outcome::excused) put_member(out, "would_be", outcome_name(o.before_exception));
    put_member(out, "priority", priority_name(priority_of(policy, o)));
    put_instant_or_null(out, "opened", o.opened);
    put_instant_or_null(out, "due", o.due);
    put_instant_or_null(out, "limit", o.limit);
    put_instant_or_null(out, "closed", o.closed);
    out += ",\"lateness_s\":";
    if (const auto late = lateness(o))
        put_seconds(out, *late);
    else
        out += "null";
}

void put_notes(std::string& out, const FindingNotes& notes) {
    if (!notes.since.empty()) put_member(out, "since", notes.since);
    if (notes.settled == nullptr) return;
    out += ",\"settled\":{\"outcome\":";
    put_text(out, outcome_name(notes.settled->outcome));
    put_member(out, "reason", notes.settled->reason);
    out += '}';
}

}  // namespace

void FindingWriter::json(std::string& out, const Episode& episode, const Opportunity& o, const Judgement& all,
                         const FindingNotes& notes) const {
    const Words& words = implementation_->words;
    const Policy& policy = words.policy();
    const Alike& alike = implementation_->alike(o);
    const Instant horizon = horizon_of(episode, implementation_->as_of);
    const std::vector<Input> inputs = inputs_of(words, episode, o);
    out += "{\"schema\":";
    put_text(out, finding_schema);
    put_whose(out, policy, episode, o, implementation_->keys);
    put_asked(out, policy, episode, o, alike);
    put_outcome(out, policy, o);
    out += ",\"evidence\":";
    put_evidence(out, words, episode, o, inputs, horizon, implementation_->keys);
    out += alike.sentence;
    put_member(out, "said", say(words, episode, o, inputs, all, horizon));
    out += alike.sources;
    put_notes(out, notes);
    out += "}\n";
}

std::string_view csv_header() {
    return "id,episode,facility,care_unit,origin,item,step,started_by,policy,edition,part_kind,part,outcome,"
           "priority,opened,due,limit,closed,lateness_s,since,settled,settled_because,said,sentence\r\n";
}

void FindingWriter::csv(std::string& out, const Episode& episode, const Opportunity& o, const Judgement& all,
                        const FindingNotes& notes) const {
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
    put_cell(out, priority_name(priority_of(policy, o)));
    put_cell(out, write_instant(o.opened));
    put_cell(out, instant(o.due));
    put_cell(out, instant(o.limit));
    put_cell(out, instant(o.closed));
    std::string late_s;
    if (late) put_seconds(late_s, *late);
    put_cell(out, late_s);
    put_cell(out, notes.since);
    put_cell(out, notes.settled != nullptr ? outcome_name(notes.settled->outcome) : "");
    put_cell(out, notes.settled != nullptr ? notes.settled->reason : "");
    put_cell(out, said(episode, o, all));
    put_cell(out, sentence_of(policy, o), true);
}

}  // namespace linelaw::runtime
