#include "runtime/audit_worker.hpp"

#include <algorithm>
#include <nlohmann/json.hpp>

namespace linelaw::runtime {
namespace {

using Json = nlohmann::ordered_json;

bool is_blank(std::string_view text) {
    return text.find_first_not_of(" \t\r") == std::string_view::npos;
}

TallyOptions with_nearest(TallyOptions options) {
    options.nearest = true;
    return options;
}

// Of a record that is too long, only so much is kept beside its fault.
constexpr std::size_t longest_kept = 64U << 10U;

}  // namespace

void Judged::clear() {
    findings.clear();
    quarantine.clear();
    set_aside.clear();
    records = 0;
}

AuditWorker::AuditWorker(const Policy& policy, const Items& items, const AuditOptions& options,
                         const std::vector<Grouping>& groupings, const std::vector<std::string>& files)
    : policy_(policy),
      options_(options),
      files_(files),
      reader_(policy, {options.strict, options.record_limit, options.keys}),
      engine_(policy, {true}),
      writer_(policy, options.tally.as_of, options.keys),
      tallier_(policy, items, with_nearest(options.tally), groupings),
      reviewer_(policy, items, options.review, options.tally.as_of) {}

void AuditWorker::judge(const Chunk& chunk, Judged& judged) {
    judged.clear();
    const std::string_view text = chunk.text();
    Place place{chunk.file, chunk.first_line, chunk.offset};
    for (std::size_t begin = 0; begin < text.size(); ++place.line) {
        const std::size_t end = std::min(text.find('\n', begin), text.size());
        const std::string_view line = text.substr(begin, end - begin);
        place.offset = chunk.offset + begin;
        if (!is_blank(line)) record(line, place, judged);
        begin = end + 1;
    }
}

void AuditWorker::record(std::string_view text, const Place& place, Judged& judged) {
    if (text.back() == '\r') text.remove_suffix(1);
    ++judged.records;
    const auto spoiled = reader_.read(text, episode_, set_aside_);
    if (spoiled) {
        tallier_.quarantined(*spoiled);
        write_spoiled(judged.quarantine, place, *spoiled, text);
        return;  // its values are not used at all, so none of them is set aside
    }
    for (const Spoiled& value : set_aside_) {
        tallier_.set_aside(value);
        write_spoiled(judged.set_aside, place, value, {});
    }
    const Judgement& judgement = engine_.judge(episode_, options_.tally.as_of);
    tallier_.judged(episode_, judgement, engine_.stretches(), engine_.governed());
    if (reviewer_.wanted())
        reviewer_.judged(episode_, judgement, files_[place.file] + ":" + std::to_string(place.line));
    if (options_.findings == FindingsWanted::nothing) return;
    for (const Opportunity& o : judgement) {
        if (options_.findings == FindingsWanted::against && !counts_against(o.outcome)) continue;
        if (options_.csv) {
            writer_.csv(judged.findings, episode_, o, judgement, reviewer_.notes(episode_, o));
        } else {
            writer_.json(judged.findings, episode_, o, judgement, reviewer_.notes(episode_, o));
        }
    }
}

void AuditWorker::write_spoiled(std::string& out, const Place& place, const Spoiled& spoiled,
                                std::string_view record) const {
    Json entry;
    entry["file"] = files_[place.file];
    entry["line"] = place.line;
    entry["offset"] = place.offset + spoiled.offset;
    entry["pointer"] = spoiled.pointer;
    entry["reason"] = spoiled.reason;
    entry["code"] = spoiled.code;
    if (options_.keys) {  // the record holds them, and the episode is one: else the place alone is told
        if (record.data() == nullptr)
            entry["episode"] = episode_.key;
        else
            entry["record"] = std::string(record.substr(0, longest_kept));
    }
    out += entry.dump(-1, ' ', false, Json::error_handler_t::replace);
    out += '\n';
}

Tally AuditWorker::take() {
    Tally tally = tallier_.take();
    tally.seen = reader_.take_counts();
    tally.review = reviewer_.take();
    return tally;
}

}  // namespace linelaw::runtime
