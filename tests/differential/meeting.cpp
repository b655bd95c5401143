#include "tests/differential/meeting.hpp"

#include <algorithm>
#include <chrono>
#include <nlohmann/json.hpp>
#include <set>
#include <stdexcept>

#include "tests/differential/compare.hpp"
#include "tests/differential/vectors.hpp"

namespace linelaw::literal {

using nlohmann::json;

namespace {

bool against(const std::string& outcome) {
    return outcome == "late" || outcome == "missed" || outcome == "early" || outcome == "not_met";
}

class Table {
  public:
    explicit Table(const MeetingOptions& options)
        : options_(options), dice_(options.seed), begin_(std::chrono::steady_clock::now()) {}

    Meeting run() {
        if (options_.small_events >= 0) small();
        const std::uint64_t before = meeting_.counts.lists();
        const auto random_begin = seconds();
        while (meeting_.counts.lists() - before < options_.comparisons ||
               seconds() - random_begin < options_.seconds) {
            if (static_cast<int>(meeting_.cases.size()) >= options_.most_cases) break;
            random(dice_.chance(50));
        }
        meeting_.took = seconds();
        return meeting_;
    }

  private:
    double seconds() const {
        return std::chrono::duration<double>(std::chrono::steady_clock::now() - begin_).count();
    }

    void say(const std::string& line) {
        if (options_.progress) options_.progress(line);
    }

    void note(const PolicyDraft& draft, const json& record) {
        ++meeting_.differences;
        meeting_.cases.push_back(shrink(draft, record));
        say("a difference:\n" + meeting_.cases.back());
    }

    // False where the two differ.
    bool compare(const PolicyDraft& draft, Pair& pair, const json& record) {
        ++meeting_.records;
        const auto answers = pair.ask(record);
        if (answers.failure.rfind("the engine", 0) == 0) {
            ++meeting_.quarantined;
            ++meeting_.refusals[answers.failure];
            return true;
        }
        if (!answers.failure.empty() || !same(answers.literal, answers.engine)) {
            note(draft, record);
            return false;
        }
        meeting_.counts.add(draft, answers.engine);
        return true;
    }

    void small() {
        std::size_t turn = 0;
        for (const PolicyDraft& draft : small_policies(40)) {
            Pair pair(draft);
            if (!pair.problem().empty())
                throw std::runtime_error("the small world does not compile: " + pair.problem());
            ++meeting_.policies;
            for (const bool autumn : {false, true})
                for (const bool missing : {false, true}) {
                    const int most = missing ? std::min(options_.small_events, 2) : options_.small_events;
                    small_records(most, autumn, missing, [&](const json& record) {
                        if (turn++ % options_.small_stride != 0) return true;
                        return compare(draft, pair, record);
                    });
                }
            say("small world: " + std::to_string(meeting_.counts.lists()) + " lists after " +
                std::to_string(seconds()) + " s");
        }
    }

    void refuse(const std::string& problem) {
        ++meeting_.refused;
        std::string first = problem.substr(0, problem.find('\n'));
        if (first.find("not supported yet") != std::string::npos) ++meeting_.not_supported;
        const auto quote = first.find('`');
        ++meeting_.refusals[first.substr(0, quote)];
    }

    void random(bool well_typed) {
        PolicyDraft draft = random_policy(dice_, options_.vocabulary, well_typed);
        keep_what_compiles(draft);
        if (draft.clauses.empty()) return;
        Pair pair(draft);
        if (!pair.problem().empty()) return refuse(pair.problem());
        ++meeting_.policies;
        PolicyDraft turned = draft;
        std::reverse(turned.clauses.begin(), turned.clauses.end());
        Pair other(turned);
        const bool asks_insertion =
            std::any_of(draft.clauses.begin(), draft.clauses.end(), [](const ClauseDraft& c) {
                return std::any_of(c.lines.begin(), c.lines.end(), [](const std::string& l) {
                    const auto at = l.find("insertion");
                    return at != std::string::npos && (at < 6 || l.substr(at - 6, 6) != "since ");
                });
            });
        for (int i = 0; i < 400; ++i) {
            const json record = random_record(dice_);
            if (asks_insertion && record.contains("observed_from")) {  // not compared: see the report
                ++meeting_.insertion_before_edge;
                continue;
            }
            if (!compare(draft, pair, record)) return;
            if (i % 20 == 0 && !properties(draft, pair, other, record)) return;
        }
        if (meeting_.policies % 50 == 0)
            say(std::to_string(meeting_.counts.lists()) + " lists after " + std::to_string(seconds()) + " s");
    }

    // A clause that alone does not compile is taken out (and counted), so that the others still meet.
    void keep_what_compiles(PolicyDraft& draft) {
        if (Pair(draft).problem().empty()) return;
        for (std::size_t i = draft.clauses.size(); i-- > 0;) {
            PolicyDraft alone = draft;
            alone.after.erase(
                std::remove_if(alone.after.begin(), alone.after.end(),
                               [](const ItemDraft& item) { return item.text.rfind("bundle", 0) == 0; }),
                alone.after.end());
            ClauseDraft clause = draft.clauses[i];
            drop_overrides(clause);
            alone.clauses = {clause};
            const std::string problem = Pair(alone).problem();
            if (problem.empty()) continue;
            refuse(problem);
            draft.clauses.erase(draft.clauses.begin() + static_cast<std::ptrdiff_t>(i));
        }
        if (Pair(draft).problem().empty()) return;
        std::set<std::string> known;
        for (const ClauseDraft& c : draft.clauses) known.insert(c.id);
        for (ClauseDraft& c : draft.clauses) drop_overrides(c);
        draft.after.erase(
            std::remove_if(draft.after.begin(), draft.after.end(),
                           [](const ItemDraft& item) { return item.text.rfind("bundle", 0) == 0; }),
            draft.after.end());
    }
    static void drop_overrides(ClauseDraft& c) {
        c.lines.erase(std::remove_if(c.lines.begin(), c.lines.end(),
                                     [](const std::string& l) { return l.rfind("overrides", 0) == 0; }),
                      c.lines.end());
    }

    // What must hold of the engine by itself.
    bool properties(const PolicyDraft& draft, Pair& pair, Pair& turned, const json& record) {
        const auto whole = pair.ask(record);
        if (!whole.failure.empty()) return true;
        if (!same(pair.in_steps(record), whole.engine))
            return broken("event by event gives another answer", draft, record);
        ++meeting_.stepwise;
        if (!same_but_for_starters(turned.ask(record).engine, whole.engine))
            return broken("the order of clauses changes the answer", draft, record);
        ++meeting_.reordered;
        return documenting(draft, pair, record, whole.engine);
    }

    bool broken(const std::string& what, const PolicyDraft& draft, const json& record) {
        ++meeting_.differences;
        meeting_.cases.push_back(what + "\n" + draft.text() + "\n---- record\n" + record.dump(1) + "\n");
        say(meeting_.cases.back());
        return false;
    }

    // Which of two clauses started a ladder in one minute is by their order in the policy: the part is not
    // compared.
    static bool same_but_for_starters(std::vector<Row> a, std::vector<Row> b) {
        for (auto* rows : {&a, &b}) {
            for (Row& r : *rows)
                if (r.step >= 0) r.part.clear();
            std::sort(rows->begin(), rows->end(), less);
        }
        return same(a, b);
    }

    // "documenting a value that sets no state leaves every verdict as it was" (unknown may become known).
    bool documenting(const PolicyDraft& draft, Pair& pair, const json& record,
                     const std::vector<Row>& before) {
        const std::string text = draft.text();
        for (const char* word : {"document ", "documented", "counts as not met", "bundle"})
            if (text.find(word) != std::string::npos && std::string(word) != "bundle") return true;
        json fuller = record;
        static const std::vector<std::tuple<const char*, const char*, json>> values = {
            {"dressing_change", "dry_time", 60},
            {"dressing_change", "antiseptic", "chg"},
            {"dressing_change", "cause", "soiled"},
            {"flush", "cause", "blocked"},
            {"flush", "volume", 10},
            {"measurement", "temperature", 38},
            {"site_assessment", "condition", "damp"},
            {"set_change", "cause", "leak"}};
        const auto& [type, key, value] = dice_.one_of(values);
        bool any = false;
        for (json& e : fuller["events"])
            if (e["type"] == type && !e.contains(key)) {
                e[key] = value;
                any = true;
                break;
            }
        if (!any) return true;
        const auto after = pair.ask(fuller).engine;
        for (const Row& a : before)
            for (const Row& b : after) {
                const bool one = a.id == b.id && a.step == b.step && a.part == b.part && a.opened == b.opened;
                const bool bundle = std::none_of(draft.clauses.begin(), draft.clauses.end(),
                                                 [&a](const ClauseDraft& c) { return c.id == a.id; });
                if (!one || bundle) continue;
                const bool flips =
                    (a.outcome == "met" && against(b.outcome)) || (against(a.outcome) && b.outcome == "met");
                const bool alone =
                    std::count_if(before.begin(), before.end(), [&](const Row& o) {
                        return o.id == a.id && o.step == a.step && o.part == a.part && o.opened == a.opened;
                    }) == 1;
                if (flips && alone)
                    return broken(
                        "documenting " + std::string(key) + " turns " + show(a) + " into " + show(b), draft,
                        record);
            }
        ++meeting_.documented;
        return true;
    }

    const MeetingOptions& options_;
    Dice dice_;
    std::chrono::steady_clock::time_point begin_;
    Meeting meeting_;
};

}  // namespace

Meeting meet(const MeetingOptions& options) {
    return Table(options).run();
}

std::string Meeting::report(std::uint64_t least) const {
    const auto n = [](std::uint64_t x) { return std::to_string(x); };
    std::string out = n(counts.lists()) + " opportunity lists compared, none empty, of " + n(policies) +
                      " policies and " + n(records) + " records, in " + std::to_string(took) + " s; " +
                      n(differences) + " differences\n";
    out += "clauses or policies that the compiler refused: " + n(refused) +
           " (not supported yet: " + n(not_supported) + "); records quarantined: " + n(quarantined) + "\n";
    for (const auto& [why, times] : refusals) out += "  " + std::to_string(times) + " times: " + why + "\n";
    out += "held: event by event as whole " + n(stepwise) + " times, any order of clauses " + n(reordered) +
           " times, documenting " + n(documented) + " times\n";
    out += "not compared: an insertion before the left edge, asked about by the policy: " +
           n(insertion_before_edge) + " records\n";
    return out + counts.table(least);
}

}  // namespace linelaw::literal
