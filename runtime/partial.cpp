// A partial summary as JSON and back: the tally whole, and what it is a tally of. Reading refuses what it
// does not know, by JSON pointer; nothing in it is trusted to index anything before it is checked.
#include <fmt/format.h>

#include <nlohmann/json.hpp>
#include <optional>

#include "runtime/content_hash.hpp"
#include "runtime/summary.hpp"

namespace linelaw::runtime {
namespace {

using Json = nlohmann::ordered_json;

// ---- writing

Json sparse(const std::vector<Counts>& all) {
    Json out = Json::array();
    for (std::size_t i = 0; i < all.size(); ++i) {
        const Counts& counts = all[i];
        if (counts == Counts{}) continue;
        out.push_back({{"item", i},
                       {"outcomes", counts.outcomes},
                       {"lateness", counts.lateness},
                       {"applied_s", counts.applied_s},
                       {"overdue_s", counts.overdue_s},
                       {"lines", counts.lines},
                       {"met_squared", counts.met_squared},
                       {"met_counted", counts.met_counted},
                       {"counted_squared", counts.counted_squared}});
    }
    return out;
}

Json cut_json(const Cut& cut) {
    Json files = Json::array();
    for (const StoredFile& file : cut.files)
        files.push_back({{"name", file.name}, {"bytes", file.bytes}, {"hash", file.hash}});
    return {{"is", fmt::format("{}/{}", cut.shard.number, cut.shard.of)},
            {"from", cut.from},
            {"findings", cut.findings},
            {"files", files}};
}

// ---- the seal: a hash of all that follows it, as it is spelt

constexpr std::string_view seal_begins = "{\"content_hash\":\"";

Json group_json(const Group& group) {
    return {{"episodes", group.episodes}, {"line_days", group.line_days}, {"counts", sparse(group.counts)}};
}

Json patient_days_json(const PatientDays& days) {
    // A list, not an object: an ordered object looks through its keys at each new one, and patients are many.
    Json out = Json::array();
    std::optional<std::uint64_t> before;
    for (const auto& [patient, d] : days.intervals()) {
        if (patient != before) out.push_back({fmt::format("{:016x}", patient), Json::array()});
        out.back().back().push_back({d.first, d.last});
        before = patient;
    }
    return out;
}

Json maybe(const std::optional<Instant>& t) {
    return t ? Json(*t) : Json(nullptr);
}

Json bar_json(const Bar& bar) {
    return {{"item", bar.item},           {"part", bar.part},      {"outcome", static_cast<int>(bar.outcome)},
            {"opened", bar.opened},       {"due", maybe(bar.due)}, {"limit", maybe(bar.limit)},
            {"closed", maybe(bar.closed)}};
}

Json worst_json(const WorstFinding& finding) {
    Json bars = Json::array();
    for (const Bar& bar : finding.bars) bars.push_back(bar_json(bar));
    return {{"priority", static_cast<int>(finding.priority)},
            {"lateness", finding.lateness},
            {"episode", finding.episode},
            {"id", finding.id},
            {"care_unit", finding.care_unit},
            {"item", finding.item},
            {"outcome", static_cast<int>(finding.outcome)},
            {"opened", finding.opened},
            {"said", finding.said},
            {"nearest", finding.nearest},
            {"begin", finding.begin},
            {"end", finding.end},
            {"bars", std::move(bars)}};
}

Json audited_json(const Audited& audited) {
    Json items = Json::array();
    for (const AuditedItem& item : audited.items) {
        items.push_back({{"origin", static_cast<int>(item.origin)},
                         {"id", item.id},
                         {"name", item.name},
                         {"edition", item.edition},
                         {"sentence", item.sentence},
                         {"priority", static_cast<int>(item.priority)},
                         {"over_time", item.over_time},
                         {"asks_nothing", item.asks_nothing},
                         {"sources", item.sources},
                         {"advice", item.advice}});
    }
    Json editions = Json::array();
    for (const AuditedEdition& e : audited.editions)
        editions.push_back({{"title", e.title},
                            {"edition", e.edition},
                            {"content_hash", e.content_hash},
                            {"in_force", e.in_force},
                            {"review_by", e.review_by},
                            {"owner", e.owner}});
    return {{"program_version", audited.program_version},
            {"title", audited.title},
            {"edition", audited.edition},
            {"content_hash", audited.content_hash},
            {"time_zone", audited.time_zone},
            {"owner", audited.owner},
            {"in_force", audited.in_force},
            {"review_by", audited.review_by},
            {"editions", std::move(editions)},
            {"items", std::move(items)},
            {"by", audited.by},
            {"count_at", audited.count_at},
            {"as_of", audited.as_of},
            {"strict", audited.strict},
            {"chart_rules", write_chart_rules(audited.charts.rules)},
            {"control_chart", static_cast<int>(audited.charts.control)},
            {"sample", audited.sample},
            {"seed", audited.seed},
            {"settled", audited.settled},
            {"earlier", audited.earlier},
            {"patients", audited.patients}};
}

Json judged_json(const Covered& judged) {
    return {judged.episodes, judged.line_days};
}
Json coverage_json(const Coverage& coverage) {
    Json editions = Json::array();
    for (const Covered& judged : coverage.editions) editions.push_back(judged_json(judged));
    return {{"editions", std::move(editions)},
            {"no_edition", judged_json(coverage.no_edition)},
            {"not_governed", judged_json(coverage.not_governed)},
            {"several", judged_json(coverage.several)}};
}

// ---- reading

Covered read_judged(const Json& json) {
    return {json.at(0).get<std::uint64_t>(), json.at(1).get<std::uint64_t>()};
}
Coverage read_coverage(const Json& json) {
    Coverage coverage;
    for (const Json& judged : json.at("editions")) coverage.editions.push_back(read_judged(judged));
    coverage.no_edition = read_judged(json.at("no_edition"));
    coverage.not_governed = read_judged(json.at("not_governed"));
    coverage.several = read_judged(json.at("several"));
    return coverage;
}

// What is wrong, and where; caught by read_partial alone.
struct Refused {
    std::string message;
};

template <typename T>
T bounded(const Json& json, std::uint64_t limit, const char* what) {
    const auto number = json.get<std::uint64_t>();
    if (number >= limit) throw Refused{fmt::format("a number of {} is out of range", what)};
    return static_cast<T>(number);
}

std::optional<Instant> maybe_instant(const Json& json) {
    return json.is_null() ? std::nullopt : std::optional<Instant>(json.get<Instant>());
}

Group read_group(const Json& json, std::size_t items) {
    Group group;
    group.episodes = json.at("episodes").get<std::uint64_t>();
    group.line_days = json.at("line_days").get<std::uint64_t>();
    group.counts.resize(items);
    for (const Json& entry : json.at("counts")) {
        Counts& counts = group.counts[bounded<std::size_t>(entry.at("item"), items, "an item")];
        const auto outcomes = entry.at("outcomes").get<std::vector<std::uint64_t>>();
        const auto lateness = entry.at("lateness").get<std::vector<std::uint64_t>>();
        if (outcomes.size() != outcome_count || lateness.size() != lateness_bin_count) {
            throw Refused{"the outcomes or the bins of lateness are not as many as they should be"};
        }
        std::copy(outcomes.begin(), outcomes.end(), counts.outcomes.begin());
        std::copy(lateness.begin(), lateness.end(), counts.lateness.begin());
        counts.applied_s = entry.at("applied_s").get<std::uint64_t>();
        counts.overdue_s = entry.at("overdue_s").get<std::uint64_t>();
        counts.lines = entry.at("lines").get<std::uint64_t>();
        counts.met_squared = entry.at("met_squared").get<std::uint64_t>();
        counts.met_counted = entry.at("met_counted").get<std::uint64_t>();
        counts.counted_squared = entry.at("counted_squared").get<std::uint64_t>();
    }
    return group;
}

std::map<std::string, Group> read_groups(const Json& json, std::size_t items) {
    std::map<std::string, Group> groups;
    for (const auto& [value, group] : json.items()) groups.emplace(value, read_group(group, items));
    return groups;
}

PatientDays read_patient_days(const Json& json) {
    // A damaged interval must not make the summary count for hours.
    constexpr auto longest = static_cast<DayNumber>(longest_record_days);
    PatientDays days;
    for (const Json& patient : json) {
        const std::uint64_t key = std::stoull(patient.at(0).get<std::string>(), nullptr, 16);
        for (const Json& interval : patient.at(1)) {
            const Days d{interval.at(0).get<DayNumber>(), interval.at(1).get<DayNumber>()};
            if (d.empty() || d.last - d.first > longest) throw Refused{"an interval of days is out of range"};
            days.add(key, d);
        }
    }
    return days;
}

Bar read_bar(const Json& json, std::size_t items) {
    Bar bar;
    bar.item = bounded<std::uint32_t>(json.at("item"), items, "an item");
    bar.part = json.at("part").get<std::string>();
    bar.outcome = bounded<Outcome>(json.at("outcome"), outcome_count, "an outcome");
    bar.opened = json.at("opened").get<Instant>();
    bar.due = maybe_instant(json.at("due"));
    bar.limit = maybe_instant(json.at("limit"));
    bar.closed = maybe_instant(json.at("closed"));
    return bar;
}

WorstFinding read_worst(const Json& json, std::size_t items) {
    WorstFinding finding;
    finding.priority = bounded<Priority>(json.at("priority"), 4, "a priority");
    finding.lateness = json.at("lateness").get<std::int64_t>();
    finding.episode = json.at("episode").get<std::string>();
    finding.id = json.at("id").get<std::string>();
    finding.care_unit = json.at("care_unit").get<std::string>();
    finding.item = bounded<std::uint32_t>(json.at("item"), items, "an item");
    finding.outcome = bounded<Outcome>(json.at("outcome"), outcome_count, "an outcome");
    finding.opened = json.at("opened").get<Instant>();
    finding.said = json.at("said").get<std::string>();
    finding.nearest = json.at("nearest").get<std::string>();
    finding.begin = json.at("begin").get<Instant>();
    finding.end = json.at("end").get<Instant>();
    for (const Json& bar : json.at("bars")) finding.bars.push_back(read_bar(bar, items));
    return finding;
}

// ---- the auditor's round

Json review_json(const ReviewTally& review) {
    Json out;
    out["settlements"] = review.settlements;
    out["settled"] = Json::object();
    for (const auto& [id, f] : review.settled) {
        out["settled"][id] = {{"episode", f.episode},
                              {"care_unit", f.care_unit},
                              {"item", f.item},
                              {"recorded", static_cast<int>(f.recorded)},
                              {"settled", static_cast<int>(f.settled)},
                              {"reason", f.reason}};
    }
    if (review.since) {
        Json gone = Json::array();
        for (const EarlierFinding& f : review.since->gone)
            gone.push_back({{"id", f.id}, {"episode", f.episode}, {"item", f.item}, {"said", f.said}});
        out["since"] = {{"earlier", review.since->earlier},
                        {"same", review.since->same},
                        {"fresh", review.since->fresh},
                        {"fresh_by", review.since->fresh_by},
                        {"gone", std::move(gone)}};
    }
    out["strata"] = Json::array();
    for (const auto& [key, stratum] : review.sample.strata) {
        Json lowest = Json::array();
        for (const Sampled& s : stratum.lowest) {
            lowest.push_back({{"rank", s.rank},
                              {"id", s.id},
                              {"episode", s.episode},
                              {"care_unit", s.care_unit},
                              {"place", s.place},
                              {"part", s.part},
                              {"outcome", static_cast<int>(s.outcome)},
                              {"opened", s.opened},
                              {"limit", maybe(s.limit)},
                              {"closed", maybe(s.closed)},
                              {"said", s.said}});
        }
        out["strata"].push_back({{"item", key.first},
                                 {"met", key.second},
                                 {"population", stratum.population},
                                 {"lowest", std::move(lowest)}});
    }
    out["wanted"] = review.sample.wanted;
    return out;
}

SinceEarlier read_since(const Json& json, std::size_t items) {
    SinceEarlier since;
    json.at("earlier").get_to(since.earlier);
    json.at("same").get_to(since.same);
    json.at("fresh").get_to(since.fresh);
    json.at("fresh_by").get_to(since.fresh_by);
    if (!since.fresh_by.empty() && since.fresh_by.rbegin()->first >= items)
        throw Refused{"an item is out of range"};
    for (const Json& f : json.at("gone")) {
        since.gone.push_back({f.at("id").get<std::string>(), f.at("episode").get<std::string>(),
                              f.at("item").get<std::string>(), f.at("said").get<std::string>()});
    }
    if (since.same + since.gone.size() > since.earlier)
        throw Refused{"more findings are told than there were"};
    return since;
}

Sample read_sample(const Json& json, std::size_t items) {
    Sample sample;
    json.at("wanted").get_to(sample.wanted);
    for (const Json& entry : json.at("strata")) {
        const auto item = bounded<std::uint32_t>(entry.at("item"), items, "an item");
        Sample::Stratum& stratum = sample.strata[{item, entry.at("met").get<bool>()}];
        entry.at("population").get_to(stratum.population);
        for (const Json& e : entry.at("lowest")) {
            Sampled s;
            e.at("rank").get_to(s.rank);
            e.at("id").get_to(s.id);
            e.at("episode").get_to(s.episode);
            e.at("care_unit").get_to(s.care_unit);
            e.at("place").get_to(s.place);
            e.at("part").get_to(s.part);
            s.item = item;
            s.outcome = bounded<Outcome>(e.at("outcome"), outcome_count, "an outcome");
            s.opened = e.at("opened").get<Instant>();
            s.limit = maybe_instant(e.at("limit"));
            s.closed = maybe_instant(e.at("closed"));
            e.at("said").get_to(s.said);
            sample.keep(stratum, std::move(s));
        }
    }
    return sample;
}

ReviewTally read_review(const Json& json, std::size_t items) {
    ReviewTally review;
    json.at("settlements").get_to(review.settlements);
    for (const auto& [id, f] : json.at("settled").items()) {
        review.settled.emplace(
            id, SettledFinding{f.at("episode").get<std::string>(), f.at("care_unit").get<std::string>(),
                               bounded<std::uint32_t>(f.at("item"), items, "an item"),
                               bounded<Outcome>(f.at("recorded"), outcome_count, "an outcome"),
                               bounded<Outcome>(f.at("settled"), outcome_count, "an outcome"),
                               f.at("reason").get<std::string>()});
    }
    if (json.contains("since")) review.since = read_since(json.at("since"), items);
    review.sample = read_sample(json, items);
    return review;
}

Audited read_audited(const Json& json) {
    Audited audited;
    json.at("program_version").get_to(audited.program_version);
    json.at("title").get_to(audited.title);
    json.at("edition").get_to(audited.edition);
    json.at("content_hash").get_to(audited.content_hash);
    json.at("time_zone").get_to(audited.time_zone);
    if (!Zone::find(audited.time_zone))
        throw Refused{
            fmt::format("this machine's zone database does not know its time zone {}; install the "
                        "system's zone database (tzdata)",
                        audited.time_zone)};
    json.at("owner").get_to(audited.owner);
    json.at("in_force").get_to(audited.in_force);
    json.at("review_by").get_to(audited.review_by);
    json.at("by").get_to(audited.by);
    json.at("count_at").get_to(audited.count_at);
    json.at("as_of").get_to(audited.as_of);
    json.at("strict").get_to(audited.strict);
    const auto rules = read_chart_rules(json.at("chart_rules").get<std::string>());
    if (!rules) throw Refused{"its rules of run charts are not known"};
    audited.charts = {bounded<ControlKind>(json.at("control_chart"), 3, "a control chart"), *rules};
    json.at("sample").get_to(audited.sample);
    json.at("seed").get_to(audited.seed);
    json.at("settled").get_to(audited.settled);
    json.at("earlier").get_to(audited.earlier);
    json.at("patients").get_to(audited.patients);
    for (const Json& entry : json.at("editions"))
        audited.editions.push_back(
            {entry.at("title").get<std::string>(), entry.at("edition").get<std::string>(),
             entry.at("content_hash").get<std::string>(), entry.at("in_force").get<std::string>(),
             entry.at("review_by").get<std::string>(), entry.at("owner").get<std::string>()});
    for (const Json& entry : json.at("items")) {
        AuditedItem item;
        item.origin = bounded<OriginKind>(entry.at("origin"), 3, "an origin");
        entry.at("id").get_to(item.id);
        entry.at("name").get_to(item.name);
        entry.at("edition").get_to(item.edition);
        entry.at("sentence").get_to(item.sentence);
        item.priority = bounded<Priority>(entry.at("priority"), 4, "a priority");
        entry.at("over_time").get_to(item.over_time);
        entry.at("asks_nothing").get_to(item.asks_nothing);
        entry.at("sources").get_to(item.sources);
        entry.at("advice").get_to(item.advice);
        audited.items.push_back(std::move(item));
    }
    return audited;
}

Cut read_cut(const Json& json) {
    const auto shard = read_shard(json.at("is").get<std::string>());
    if (!shard) throw Refused{"its shard is none"};
    Cut cut{*shard, json.at("from").get<std::string>(), json.at("findings").get<std::string>(), {}};
    for (const Json& file : json.at("files"))
        cut.files.push_back({file.at("name").get<std::string>(), file.at("bytes").get<std::uint64_t>(),
                             file.at("hash").get<std::string>()});
    return cut;
}

Tally read_tally(const Json& json, std::size_t items) {
    Tally tally;
    json.at("read").get_to(tally.read);
    json.at("judged").get_to(tally.judged);
    json.at("quarantined").get_to(tally.quarantined);
    if (tally.read != tally.judged + tally.quarantined) {
        throw Refused{"the records read are not those judged and those quarantined"};
    }
    json.at("without_patient_key").get_to(tally.without_patient_key);
    json.at("quarantined_by").get_to(tally.quarantined_by);
    json.at("set_aside_by").get_to(tally.set_aside_by);
    json.at("identical_repeats").get_to(tally.seen.identical_repeats);
    json.at("after_observed_until").get_to(tally.seen.after_observed_until);
    json.at("unknown_keys").get_to(tally.seen.unknown_keys);
    json.at("unknown_events").get_to(tally.seen.unknown_events);
    tally.first = maybe_instant(json.at("first"));
    tally.last = maybe_instant(json.at("last"));
    tally.all = read_group(json.at("all"), items);
    tally.by_care_unit = read_groups(json.at("by_care_unit"), items);
    for (const auto& [month, group] : json.at("by_month").items()) {
        tally.by_month.emplace(std::stoi(month), read_group(group, items));
    }
    for (const auto& [attribute, groups] : json.at("by").items())
        tally.by[attribute] = read_groups(groups, items);
    for (const auto& [unit, days] : json.at("patient_days").items()) {
        tally.patient_days.emplace(unit, read_patient_days(days));
    }
    for (const Json& episode : json.at("episodes"))
        tally.episodes.add(std::stoull(episode.get<std::string>(), nullptr, 16));
    if (tally.episodes.count() != tally.judged) throw Refused{"the episodes are not those judged"};
    for (const Json& finding : json.at("worst"))
        put_worst(tally.worst, worst_kept, read_worst(finding, items));
    for (const Json& entry : json.at("worst_of")) {
        const WorstFinding finding = read_worst(entry, items);
        put_worst(tally.worst_of[finding.item], worst_kept_each, finding);
    }
    tally.review = read_review(json.at("review"), items);
    tally.coverage = read_coverage(json.at("coverage"));
    return tally;
}

}  // namespace

std::string partial_json(const Audited& audited, const Tally& tally, const Cut& cut) {
    Json out;
    out["schema"] = partial_schema;
    if (!cut.shard.whole()) out["shard"] = cut_json(cut);
    out["audited"] = audited_json(audited);
    Json t;
    t["read"] = tally.read;
    t["judged"] = tally.judged;
    t["quarantined"] = tally.quarantined;
    t["without_patient_key"] = tally.without_patient_key;
    t["quarantined_by"] = tally.quarantined_by;
    t["set_aside_by"] = tally.set_aside_by;
    t["identical_repeats"] = tally.seen.identical_repeats;
    t["after_observed_until"] = tally.seen.after_observed_until;
    t["unknown_keys"] = tally.seen.unknown_keys;
    t["unknown_events"] = tally.seen.unknown_events;
    t["first"] = maybe(tally.first);
    t["last"] = maybe(tally.last);
    t["all"] = group_json(tally.all);
    t["by_care_unit"] = Json::object();
    for (const auto& [unit, group] : tally.by_care_unit) t["by_care_unit"][unit] = group_json(group);
    t["by_month"] = Json::object();
    for (const auto& [month, group] : tally.by_month)
        t["by_month"][std::to_string(month)] = group_json(group);
    t["by"] = Json::object();
    for (const auto& [attribute, groups] : tally.by) {
        Json values = Json::object();
        for (const auto& [value, group] : groups) values[value] = group_json(group);
        t["by"][attribute] = std::move(values);
    }
    t["patient_days"] = Json::object();
    for (const auto& [unit, days] : tally.patient_days) t["patient_days"][unit] = patient_days_json(days);
    t["episodes"] = Json::array();
    for (const std::uint64_t episode : tally.episodes.in_order())
        t["episodes"].push_back(fmt::format("{:016x}", episode));
    t["worst"] = Json::array();
    for (const WorstFinding& finding : tally.worst) t["worst"].push_back(worst_json(finding));
    t["worst_of"] = Json::array();
    for (const auto& [item, findings] : tally.worst_of) {
        for (const WorstFinding& finding : findings) t["worst_of"].push_back(worst_json(finding));
    }
    t["review"] = review_json(tally.review);
    t["coverage"] = coverage_json(tally.coverage);
    out["tally"] = std::move(t);
    return sealed(out.dump(-1, ' ', false, Json::error_handler_t::replace)) + "\n";
}

std::string sealed(std::string_view json) {
    return fmt::format("{}{}\",{}", seal_begins, content_hash(json), json.substr(1));
}

std::optional<std::string> unsealed(std::string_view text) {
    const std::size_t begin = std::min(text.find_first_not_of(" \r\n"), text.size());
    text = text.substr(begin, text.find_last_not_of(" \r\n") + 1 - begin);
    constexpr std::size_t digits = 32;
    const std::size_t end = seal_begins.size() + digits + 2;  // past the quotation mark and the comma
    if (text.substr(0, seal_begins.size()) != seal_begins || text.size() < end) return std::nullopt;
    std::string inside = "{" + std::string(text.substr(end));
    if (content_hash(inside) != text.substr(seal_begins.size(), digits)) return std::nullopt;
    return inside;
}

Result<Partial> read_partial(std::string_view text) {
    const auto refuse = [](const std::string& message) {
        return tl::unexpected(
            Error{"partial.content", "this is no partial summary of this program: " + message});
    };
    try {
        const std::optional<std::string> opened = unsealed(text);
        if (!opened) return refuse("it is damaged, or was changed");
        const Json json = Json::parse(*opened);
        if (!json.is_object() || json.value("schema", "") != partial_schema) {
            return refuse(fmt::format("its schema is not {}", partial_schema));
        }
        Partial partial;
        if (json.contains("shard")) partial.cut = read_cut(json.at("shard"));
        partial.audited = read_audited(json.at("audited"));
        partial.tally = read_tally(json.at("tally"), partial.audited.items.size());
        return partial;
    } catch (const Refused& refused) {
        return refuse(refused.message);
    } catch (const std::exception&) {
        return refuse("it is damaged, or a part of it is missing or of another type");
    }
}

}  // namespace linelaw::runtime
