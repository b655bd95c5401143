#include "tests/differential/properties.hpp"

#include <algorithm>
#include <nlohmann/json.hpp>

#include "tests/differential/vectors.hpp"

namespace linelaw::literal {

using nlohmann::json;

namespace {

bool against(const std::string& outcome) {
    return outcome == "late" || outcome == "missed" || outcome == "early" || outcome == "not_met";
}
bool one_opportunity(const Row& a, const Row& b) {
    return a.id == b.id && a.step == b.step && a.part == b.part && a.opened == b.opened;
}

}  // namespace

bool asks_what_is_documented(const PolicyDraft& draft) {
    const std::string text = draft.text();
    for (const char* word : {"document ", " is documented", " is not documented", "counts as not met"})
        if (text.find(word) != std::string::npos) return true;
    return false;
}

std::optional<std::string> event_by_event(Pair& pair, const json& record, const std::vector<Row>& whole) {
    if (same(pair.in_steps(record), whole)) return std::nullopt;
    return "event by event gives another answer";
}

// Which of two clauses started a ladder in one minute is by their order in the policy: the part, and whether
// what is missing counts, are not compared.
std::optional<std::string> any_order(Pair& turned, const json& record, const std::vector<Row>& whole) {
    const auto comparable = [](std::vector<Row> rows) {
        rows.erase(std::remove_if(rows.begin(), rows.end(), [](const Row& r) { return r.step >= 0; }),
                   rows.end());
        return rows;
    };
    if (same(comparable(turned.ask(record).engine), comparable(whole))) return std::nullopt;
    return "the order of clauses changes the answer";
}

std::optional<std::string> cut_into_editions(Pair& pair, const json& record, const std::vector<Row>& whole,
                                             int days_in) {
    const auto is_bundle = [&](const Row& r) {
        const auto& bundles = pair.book().bundles;
        return std::any_of(bundles.begin(), bundles.end(),
                           [&](const grammar::BundleItem* bundle) { return bundle->id.text == r.id; });
    };
    const auto comparable = [&](std::vector<Row> rows) {
        rows.erase(std::remove_if(rows.begin(), rows.end(), is_bundle), rows.end());
        return rows;
    };
    const auto uncut = comparable(whole);
    const auto cut = comparable(pair.in_editions(record, days_in));
    if (same(cut, uncut)) return std::nullopt;
    std::string out =
        "cut into two editions after " + std::to_string(days_in) + " days it gives another answer";
    const auto only = [&](const std::vector<Row>& rows, const std::vector<Row>& others, const char* where) {
        for (const Row& r : only_in(rows, others)) out += "\n  only " + std::string(where) + ": " + show(r);
    };
    only(uncut, cut, "uncut");
    only(cut, uncut, "cut");
    return out;
}

std::optional<std::string> due_is_open(Pair& pair, const json& record, std::size_t after_events) {
    const auto both = pair.due_and_finished(record, after_events);
    const std::vector<Row>& due = both.first;
    const std::vector<Row>& finished = both.second;
    std::vector<Row> pending;
    for (const Row& r : finished)
        if (r.outcome == "pending") pending.push_back(r);
    std::vector<Row> open = due;
    open.erase(std::remove_if(open.begin(), open.end(), [](const Row& r) { return r.outcome != "pending"; }),
               open.end());
    const bool all_there = std::all_of(due.begin(), due.end(), [&](const Row& r) {
        return std::any_of(finished.begin(), finished.end(), [&](const Row& f) { return same(r, f); });
    });
    if (all_there && same(open, pending)) return std::nullopt;
    return "what is due after " + std::to_string(after_events) +
           " events is not what finishing there leaves open";
}

std::optional<std::string> documenting(Dice& dice, const PolicyDraft& draft, Pair& pair, const json& record,
                                       const std::vector<Row>& before, bool& documented) {
    documented = false;
    if (asks_what_is_documented(draft)) return std::nullopt;
    // Values that set no state.
    static const std::vector<std::tuple<const char*, const char*, json>> values = {
        {"dressing_change", "dry_time", 60},
        {"dressing_change", "antiseptic", "chg"},
        {"dressing_change", "cause", "soiled"},
        {"flush", "cause", "blocked"},
        {"flush", "volume", 10},
        {"measurement", "temperature", 38},
        {"site_assessment", "condition", "damp"},
        {"set_change", "cause", "leak"}};
    json fuller = record;
    std::string what;
    const std::size_t from = static_cast<std::size_t>(dice.below(static_cast<int>(values.size())));
    for (std::size_t i = 0; i < values.size() && what.empty(); ++i) {
        const auto& [type, key, value] = values[(from + i) % values.size()];
        for (json& e : fuller["events"])
            if (what.empty() && e["type"] == type && !e.contains(key)) {
                e[key] = value;
                what = key;
            }
    }
    if (what.empty()) return std::nullopt;
    documented = true;
    const auto answers = pair.ask(fuller);
    if (!answers.failure.empty()) return answers.failure;
    for (const Row& a : before)
        for (const Row& b : answers.engine) {
            const bool is_clause = std::any_of(draft.clauses.begin(), draft.clauses.end(),
                                               [&a](const ClauseDraft& c) { return c.id == a.id; });
            if (!one_opportunity(a, b) || !is_clause) continue;
            const bool turns =
                (a.outcome == "met" && against(b.outcome)) || (against(a.outcome) && b.outcome == "met");
            const auto alone = std::count_if(before.begin(), before.end(),
                                             [&](const Row& o) { return one_opportunity(o, a); });
            if (turns && alone == 1) return "documenting " + what + " turns " + show(a) + " into " + show(b);
        }
    return std::nullopt;
}

}  // namespace linelaw::literal
