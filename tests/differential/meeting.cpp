#include "tests/differential/meeting.hpp"

#include <algorithm>
#include <atomic>
#include <chrono>
#include <mutex>
#include <nlohmann/json.hpp>
#include <stdexcept>
#include <thread>

#include "tests/differential/compare.hpp"
#include "tests/differential/properties.hpp"

namespace linelaw::literal {

using nlohmann::json;

namespace {

// What the threads share.
struct Hall {
    std::mutex speaking;
    std::atomic<std::uint64_t> compared{0};  // at random
    std::atomic<int> cases{0};
};

void drop_overrides(ClauseDraft& c) {
    c.lines.erase(std::remove_if(c.lines.begin(), c.lines.end(),
                                 [](const std::string& l) { return l.rfind("overrides", 0) == 0; }),
                  c.lines.end());
}
void drop_bundles(PolicyDraft& draft) {
    draft.after.erase(std::remove_if(draft.after.begin(), draft.after.end(),
                                     [](const ItemDraft& item) { return item.text.rfind("bundle", 0) == 0; }),
                      draft.after.end());
}

// One thread's part of the meeting.
class Table {
  public:
    Table(const MeetingOptions& options, Hall& hall, unsigned number)
        : options_(options),
          hall_(hall),
          number_(number),
          dice_(options.seed * 1'000 + number),
          begin_(std::chrono::steady_clock::now()) {}

    Meeting run() {
        if (options_.small_events >= 0) small(small_policies(40), options_.small_events);
        if (options_.pair_events >= 0) small(small_pairs(40), options_.pair_events);
        const double random_begin = seconds();
        while (hall_.compared < options_.comparisons || seconds() - random_begin < options_.seconds) {
            if (enough_cases()) break;
            random();
        }
        return meeting_;
    }

  private:
    double seconds() const {
        return std::chrono::duration<double>(std::chrono::steady_clock::now() - begin_).count();
    }
    bool enough_cases() const { return hall_.cases >= options_.most_cases; }

    void say(const std::string& line) {
        const std::lock_guard<std::mutex> lock(hall_.speaking);
        if (options_.progress) options_.progress(line);
    }

    void add_case(const std::string& text) {
        ++meeting_.differences;
        ++hall_.cases;
        meeting_.cases.push_back(text);
        say("a difference:\n" + text);
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
            add_case(shrink(draft, record));
            return false;
        }
        meeting_.counts.add(draft, answers.engine);
        return true;
    }

    void small(const std::vector<PolicyDraft>& policies, int events) {
        for (std::size_t i = number_; i < policies.size(); i += std::max(1U, options_.jobs)) {
            if (enough_cases()) return;
            small(policies[i], events);
        }
    }

    void small(const PolicyDraft& draft, int events) {
        Pair pair(draft);
        if (!pair.problem().empty())
            throw std::runtime_error("the small world does not compile: " + pair.problem());
        ++meeting_.policies;
        std::size_t turn = 0;
        for (const bool autumn : {false, true})
            for (const bool missing : {false, true}) {
                const int most = missing ? std::min(events, 2) : events;
                small_records(most, autumn, missing, [&](const json& record) {
                    if (turn++ % options_.small_stride != 0) return true;
                    return compare(draft, pair, record);
                });
            }
        if (seconds() - said_ < 20) return;
        said_ = seconds();
        say("small world: " + std::to_string(meeting_.counts.lists()) + " lists of this thread after " +
            std::to_string(seconds()) + " s");
    }

    void refuse(const std::string& problem) {
        ++meeting_.refused;
        std::string first = problem.substr(0, problem.find('\n'));
        const auto quote = first.find('`');
        ++meeting_.refusals[first.substr(0, quote)];
    }

    Theme theme() {
        static const std::vector<Theme> themes = {
            Theme::mixed,        Theme::mixed,  Theme::mixed,  Theme::mixed,  Theme::plain,
            Theme::pairs,        Theme::pairs,  Theme::pairs,  Theme::calls,  Theme::calls,
            Theme::calls,        Theme::calls,  Theme::calls,  Theme::steps,  Theme::undocumented,
            Theme::undocumented, Theme::either, Theme::either, Theme::either, Theme::either,
            Theme::either,       Theme::either};
        return dice_.one_of(themes);
    }

    void random() {
        const Theme leaning = theme();
        PolicyDraft draft = random_policy(dice_, options_.vocabulary, dice_.chance(70), leaning);
        keep_what_compiles(draft);
        if (draft.clauses.empty()) return;
        Pair pair(draft);
        if (!pair.problem().empty()) return refuse(pair.problem());
        ++meeting_.policies;
        PolicyDraft turned = draft;
        std::reverse(turned.clauses.begin(), turned.clauses.end());
        Pair other(turned);
        if (!other.problem().empty())
            return add_case("with its clauses turned round it does not compile: " + other.problem() +
                            turned.text());
        const std::uint64_t before = meeting_.counts.lists();
        for (int i = 0; i < 400; ++i) {
            const json record = random_record(dice_, leaning);
            if (!compare(draft, pair, record)) break;
            if (i % 20 == 0 && !properties(draft, pair, other, record)) break;
        }
        hall_.compared += meeting_.counts.lists() - before;
        if (meeting_.policies % 200 == 0)
            say(std::to_string(hall_.compared) + " lists at random after " + std::to_string(seconds()) +
                " s");
    }

    // A clause that alone does not compile is taken out (and counted), so that the others still meet.
    void keep_what_compiles(PolicyDraft& draft) {
        if (Pair(draft).problem().empty()) return;
        for (std::size_t i = draft.clauses.size(); i-- > 0;) {
            PolicyDraft alone = draft;
            drop_bundles(alone);
            ClauseDraft clause = draft.clauses[i];
            drop_overrides(clause);
            alone.clauses = {clause};
            const std::string problem = Pair(alone).problem();
            if (problem.empty()) continue;
            refuse(problem);
            draft.clauses.erase(draft.clauses.begin() + static_cast<std::ptrdiff_t>(i));
        }
        if (Pair(draft).problem().empty()) return;
        for (ClauseDraft& c : draft.clauses) drop_overrides(c);
        drop_bundles(draft);
    }

    bool properties(const PolicyDraft& draft, Pair& pair, Pair& turned, const json& record) {
        const auto whole = pair.ask(record);
        if (!whole.failure.empty()) return true;
        const auto holds = [&](const std::optional<std::string>& broken, std::uint64_t& times) {
            if (!broken) return ++times, true;
            add_case(*broken + "\n" + draft.text() + "\n---- record\n" + record.dump(1) + "\n");
            return false;
        };
        if (!holds(event_by_event(pair, record, whole.engine), meeting_.stepwise)) return false;
        if (!holds(any_order(turned, record, whole.engine), meeting_.reordered)) return false;
        const int cut = static_cast<int>(meeting_.cut % 13);
        if (!holds(cut_into_editions(pair, record, whole.literal, cut), meeting_.cut)) return false;
        const auto events = static_cast<int>(record["events"].size());
        const auto some = static_cast<std::size_t>(dice_.between(0, events));
        if (!holds(due_is_open(pair, record, some), meeting_.due)) return false;
        bool had_something = false;
        const auto broken = documenting(dice_, draft, pair, record, whole.engine, had_something);
        return (!had_something && !broken) || holds(broken, meeting_.documented);
    }

    const MeetingOptions& options_;
    Hall& hall_;
    std::size_t number_;
    Dice dice_;
    std::chrono::steady_clock::time_point begin_;
    double said_ = 0;
    Meeting meeting_;
};

}  // namespace

Meeting meet(const MeetingOptions& options) {
    const auto begin = std::chrono::steady_clock::now();
    Hall hall;
    std::vector<Meeting> parts(std::max(1U, options.jobs));
    std::vector<std::string> failures(parts.size());
    std::vector<std::thread> threads;
    for (unsigned i = 0; i < parts.size(); ++i)
        threads.emplace_back([&, i] {
            try {
                parts[i] = Table(options, hall, i).run();
            } catch (const std::exception& error) {
                failures[i] = error.what();
            }
        });
    for (std::thread& t : threads) t.join();
    Meeting all;
    for (const Meeting& part : parts) all.add(part);
    for (const std::string& failure : failures)
        if (!failure.empty()) throw std::runtime_error(failure);
    all.took = std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
    return all;
}

void Meeting::add(const Meeting& other) {
    counts.add(other.counts);
    differences += other.differences;
    cases.insert(cases.end(), other.cases.begin(), other.cases.end());
    policies += other.policies;
    refused += other.refused;
    records += other.records;
    quarantined += other.quarantined;
    stepwise += other.stepwise;
    reordered += other.reordered;
    cut += other.cut;
    documented += other.documented;
    due += other.due;
    for (const auto& [why, times] : other.refusals) refusals[why] += times;
}

std::string Meeting::report(std::uint64_t least) const {
    const auto n = [](std::uint64_t x) { return std::to_string(x); };
    std::string out = n(counts.lists()) + " opportunity lists compared, none empty, of " + n(policies) +
                      " policies and " + n(records) + " records, in " + std::to_string(took) + " s; " +
                      n(differences) + " differences\n";
    out += "clauses or policies that the compiler refused: " + n(refused) +
           "; records quarantined: " + n(quarantined) + "\n";
    for (const auto& [why, times] : refusals) out += "  " + std::to_string(times) + " times: " + why + "\n";
    out += "held: event by event as whole " + n(stepwise) + " times, any order of clauses " + n(reordered) +
           " times, cut into two editions " + n(cut) + " times, due as finishing there " + n(due) +
           " times, documenting " + n(documented) + " times\n";
    return out + counts.table(least);
}

}  // namespace linelaw::literal
