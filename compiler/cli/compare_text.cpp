#include "compiler/cli/compare_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <nlohmann/json.hpp>

namespace linelaw::compiler::cli {

using analysis::Difference;
using Kind = Difference::Kind;
using Json = nlohmann::ordered_json;

namespace {

constexpr std::array<std::string_view, 6> kind_names = {"same",         "stricter", "looser",
                                                        "incomparable", "added",    "dropped"};

std::string joined(const std::vector<std::string>& words, const char* between) {
    std::string out;
    for (const std::string& word : words) out += (out.empty() ? "" : between) + word;
    return out;
}

std::string situation_words(const Difference& d) {
    std::string out;
    for (const auto& [name, value] : d.situation)
        out += fmt::format("{}{} is {}", out.empty() ? "" : ", ", name, value);
    if (out.empty()) return "in every situation";
    return (d.instance ? "for instance where " : "where ") + out;
}

std::string answer(const std::string& words, const std::vector<std::string>& clauses) {
    if (words.empty()) return "says nothing";
    std::vector<std::string> quoted;
    for (const std::string& id : clauses) quoted.push_back("`" + id + "`");
    return fmt::format("{}  ({})", words, joined(quoted, ", "));
}

std::string work_words(const Difference& d) {
    std::vector<std::string> lines;
    const auto of = [](const std::vector<analysis::Work>& all, const std::string& what) {
        for (const analysis::Work& w : all)
            if (w.what == what) return w.per_1000;
        return 0.0;
    };
    std::vector<analysis::Work> all = d.work_before;
    for (const analysis::Work& w : d.work_after)
        if (std::none_of(all.begin(), all.end(), [&](const analysis::Work& b) { return b.what == w.what; }))
            all.push_back(w);
    for (const analysis::Work& w : all) {
        std::string old = fmt::format("{:.0f}", of(d.work_before, w.what));
        std::string now = fmt::format("{:.0f}", of(d.work_after, w.what));
        if (old != now) lines.push_back(fmt::format("{} {} → {}", w.what, old, now));
    }
    return joined(lines, ", ");
}

void put_history(std::string& out, const char* title, const std::optional<grammar::Witness>& witness) {
    if (!witness) return;
    out += fmt::format("    {}:\n", title);
    std::size_t begin = 0;
    const std::string& text = witness->example;
    while (begin < text.size()) {
        const std::size_t end = std::min(text.find('\n', begin), text.size());
        if (end > begin) out += "      " + text.substr(begin, end - begin) + "\n";
        begin = end + 1;
    }
}

void put_examples(std::string& out, const Difference& d) {
    put_history(out, "the old counts this against, and the new does not", d.breaks_before);
    put_history(out, "the new counts this against, and the old does not", d.breaks_after);
    if (!d.unshown) return;
    const bool one_way = d.kind != Kind::incomparable;
    out += fmt::format("    no small episode was found that shows {}: read the two beside one another\n",
                       one_way ? "this" : "that it goes both ways");
}

void put_difference(std::string& out, const Difference& d) {
    out += fmt::format("  {}  {}\n", kind_name(d.kind), situation_words(d));
    if (d.before == d.after)
        out += fmt::format("    old and new: {}; what else about it is changed stands below\n",
                           answer(d.before, d.clauses_before));
    else
        out += fmt::format("    old: {}\n    new: {}\n", answer(d.before, d.clauses_before),
                           answer(d.after, d.clauses_after));
    if (d.kind == Kind::incomparable) {
        if (!d.only_before.empty()) out += fmt::format("    given up: {}\n", joined(d.only_before, "; "));
        if (!d.only_after.empty()) out += fmt::format("    asked anew: {}\n", joined(d.only_after, "; "));
    }
    const std::string work = work_words(d);
    if (!work.empty()) out += fmt::format("    routine, at the least per 1,000 line-days there: {}\n", work);
    put_examples(out, d);
}

// What the trial alone found.
void put_shown(std::string& out, const Difference& d) {
    const std::vector<std::string>& ids = d.clauses_after.empty() ? d.clauses_before : d.clauses_after;
    out += fmt::format("  {}  `{}`\n", kind_name(d.kind), joined(ids, "`, `"));
    put_examples(out, d);
}

// One heading and the changes under it; nothing where there are none.
void put_changes(std::string& out, const std::vector<analysis::Change>& changes, analysis::Weighed weighed,
                 const char* heading) {
    bool headed = false;
    for (const analysis::Change& change : changes) {
        if (change.weighed != weighed) continue;
        if (!headed) out += fmt::format("\n{}\n", heading);
        headed = true;
        const Rewritten& w = change.written;
        const std::string place = place_in_words(w);
        if (w.before.empty())
            out += fmt::format("  {}, new: `{}`\n", place, w.now);
        else if (w.now.empty())
            out += fmt::format("  {}, left out: `{}`\n", place, w.before);
        else
            out += fmt::format("  {}: `{}` → `{}`\n", place, w.before, w.now);
    }
}

std::string outcome_words(const std::string& outcome) {
    if (outcome.empty()) return "not asked";
    std::string words = outcome;
    std::replace(words.begin(), words.end(), '_', ' ');
    return words;
}

std::string replay_text(const Replay& r) {
    std::string out = fmt::format("\n{} records through both: {} with a flip", r.records, r.flipped);
    if (r.cannot_tell > 0)
        out += fmt::format(", {} of them where it hangs on what was not recorded", r.cannot_tell);
    out += "\n";
    if (r.unread > 0)
        out += fmt::format("{} records that one of the policies cannot read are left out\n", r.unread);
    std::vector<std::pair<std::pair<std::string, std::string>, const Flips*>> order;
    for (const auto& [pair, flips] : r.flips) order.emplace_back(pair, &flips);
    std::stable_sort(order.begin(), order.end(),
                     [](const auto& a, const auto& b) { return a.second->times > b.second->times; });
    for (const auto& [pair, flips] : order) {
        out += fmt::format("  {} → {}: {} times in {} records\n", outcome_words(pair.first),
                           outcome_words(pair.second), flips->times, flips->records);
        for (const FlipCase& c : flips->first)
            out += fmt::format("    {}  {}  opened {}\n", c.episode, c.item, c.opened);
    }
    if (!r.work.empty()) out += "asked for in these records, per 1,000 line-days, old → new\n";
    for (const WorkAsked& w : r.work)
        out += fmt::format("  {}: {:.1f} → {:.1f}\n", w.what, w.before, w.after);
    return out;
}

}  // namespace

std::string_view kind_name(Kind kind) {
    return kind_names.at(static_cast<std::size_t>(kind));
}

std::string comparison_text(const Compared& compared) {
    std::string out = fmt::format("old: {}\nnew: {}\n", compared.before, compared.after);
    std::array<std::size_t, 6> counts{};
    const auto& all = compared.comparison.differences;
    for (const Difference& d : all)
        if (d.kind != Kind::same || !d.touched) ++counts.at(static_cast<std::size_t>(d.kind));
    std::vector<std::string> questions;
    for (const Difference& d : all)
        if (!d.by_trial && std::find(questions.begin(), questions.end(), d.question) == questions.end())
            questions.push_back(d.question);
    for (const std::string& question : questions) {
        std::size_t same = 0;
        std::string told;
        for (const Difference& d : all) {
            if (d.by_trial || d.question != question) continue;
            if (d.kind != Kind::same)
                put_difference(told, d);
            else if (!d.touched)
                ++same;
        }
        if (told.empty()) continue;
        out += question.empty() ? "\nclauses that answer no question\n" : fmt::format("\n`{}`\n", question);
        out += told;
        if (same > 0) out += fmt::format("  the same in {} more\n", same);
    }
    std::string shown;
    for (const Difference& d : all)
        if (d.by_trial) put_shown(shown, d);
    if (!shown.empty()) out += "\nclauses of which small episodes show more than was weighed\n" + shown;
    std::vector<std::string> summary;
    for (const Kind kind :
         {Kind::stricter, Kind::looser, Kind::incomparable, Kind::added, Kind::dropped, Kind::same})
        if (const std::size_t n = counts.at(static_cast<std::size_t>(kind)); n > 0)
            summary.push_back(fmt::format("{} {}", n, kind == Kind::same ? "the same" : kind_name(kind)));
    const auto& changes = compared.comparison.changes;
    put_changes(out, changes, analysis::Weighed::yes, "changed, and weighed above");
    put_changes(out, changes, analysis::Weighed::in_part, "changed, weighed only in part: read each");
    put_changes(out, changes, analysis::Weighed::no,
                "changed, not weighed: whether it is stricter or looser was not looked at, read each");
    const auto unweighed = std::count_if(changes.begin(), changes.end(), [](const analysis::Change& change) {
        return change.weighed != analysis::Weighed::yes;
    });
    if (unweighed > 0)
        summary.push_back(fmt::format("{} {} of the text not weighed, or in part", unweighed,
                                      unweighed == 1 ? "change" : "changes"));
    out += "\n" + (summary.empty() ? "nothing to compare" : joined(summary, ", ")) + "\n";
    if (compared.comparison.tried > 0)
        out += fmt::format(
            "{} small episodes about the clauses that changed were judged by both; what they do "
            "not show may still be so\n",
            compared.comparison.tried);
    for (const std::string& line : compared.comparison.not_done) out += line + "\n";
    if (compared.replay) out += replay_text(*compared.replay);
    return out;
}

// ---- for programs

namespace {

Json work_json(const std::vector<analysis::Work>& work) {
    Json out = Json::array();
    for (const analysis::Work& w : work)
        out.push_back({{"what", w.what}, {"per_1000_line_days", w.per_1000}});
    return out;
}

Json side(const std::string& answer, const std::vector<std::string>& clauses,
          const std::vector<std::string>& only, const std::vector<analysis::Work>& work,
          const std::optional<grammar::Witness>& broken) {
    Json out;
    out["answer"] = answer;
    out["clauses"] = clauses;
    out["only_here"] = only;
    out["routine"] = work_json(work);
    if (broken) out["broken_by"] = {{"example", broken->example}, {"episode", broken->episode}};
    return out;
}

Json difference_json(const Difference& d) {
    Json out;
    if (!d.question.empty()) out["question"] = d.question;
    out["kind"] = d.kind == Kind::same && d.touched ? "not weighed" : kind_name(d.kind);
    if (d.instance) out["for_instance"] = true;
    if (d.by_trial) out["by_trial"] = true;
    if (d.unshown) out["no_episode_shows_it"] = true;
    out["situation"] = Json::array();
    for (const auto& [name, value] : d.situation)
        out["situation"].push_back({{"name", name}, {"value", value}});
    out["old"] = side(d.before, d.clauses_before, d.only_before, d.work_before, d.breaks_before);
    out["new"] = side(d.after, d.clauses_after, d.only_after, d.work_after, d.breaks_after);
    return out;
}

Json change_json(const analysis::Change& change) {
    static constexpr std::array<std::string_view, 3> weighed = {"no", "in part", "yes"};
    const Rewritten& w = change.written;
    Json out;
    out["kind"] = w.kind;
    if (!w.item.empty()) out["id"] = w.item;
    out["part"] = w.part;
    out["old"] = w.before.empty() ? Json(nullptr) : Json(w.before);
    out["new"] = w.now.empty() ? Json(nullptr) : Json(w.now);
    out["weighed"] = weighed.at(static_cast<std::size_t>(change.weighed));
    return out;
}

Json replay_json(const Replay& r) {
    Json out;
    out["records"] = r.records;
    out["records_unread"] = r.unread;
    out["records_flipped"] = r.flipped;
    out["records_cannot_tell"] = r.cannot_tell;
    out["opportunities"] = r.opportunities;
    out["line_days"] = r.line_days;
    out["flips"] = Json::array();
    for (const auto& [pair, flips] : r.flips) {
        Json entry;
        entry["old"] = pair.first.empty() ? Json(nullptr) : Json(pair.first);
        entry["new"] = pair.second.empty() ? Json(nullptr) : Json(pair.second);
        entry["times"] = flips.times;
        entry["records"] = flips.records;
        entry["first"] = Json::array();
        for (const FlipCase& c : flips.first)
            entry["first"].push_back({{"episode", c.episode}, {"item", c.item}, {"opened", c.opened}});
        out["flips"].push_back(std::move(entry));
    }
    out["asked_per_1000_line_days"] = Json::array();
    for (const WorkAsked& w : r.work)
        out["asked_per_1000_line_days"].push_back({{"what", w.what}, {"old", w.before}, {"new", w.after}});
    return out;
}

}  // namespace

std::string comparison_json(const Compared& compared) {
    Json out;
    out["schema"] = "linelaw/comparison/1";
    out["old"] = compared.before;
    out["new"] = compared.after;
    out["differences"] = Json::array();
    for (const Difference& d : compared.comparison.differences)
        out["differences"].push_back(difference_json(d));
    out["changes"] = Json::array();
    for (const analysis::Change& change : compared.comparison.changes)
        out["changes"].push_back(change_json(change));
    out["episodes_tried"] = compared.comparison.tried;
    out["not_done"] = compared.comparison.not_done;
    if (compared.replay) out["replay"] = replay_json(*compared.replay);
    return out.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace linelaw::compiler::cli
