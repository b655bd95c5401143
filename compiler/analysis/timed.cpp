// From drafted rules to timed problems, situation by situation, and from their answers to findings.
#include "compiler/analysis/timed.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <numeric>
#include <set>

#include "compiler/analysis/clock_changes.hpp"
#include "compiler/analysis/exactness.hpp"
#include "compiler/analysis/timed_case.hpp"
#include "compiler/analysis/timed_effort.hpp"
#include "compiler/analysis/witness.hpp"

namespace linelaw::compiler::analysis {

using runtime::ClauseId;
using runtime::EventKindId;
using runtime::none;
using Form = Draft::Form;

namespace {

// A shortest interval from which nothing yet excuses.
bool forbids_sooner(const runtime::Demand& demand) {
    if (const auto* every = std::get_if<runtime::AtLeastEvery>(&demand))
        return every->shortest && every->unless == none;
    const auto* spaced = std::get_if<runtime::NoMoreOftenThan>(&demand);
    return spaced != nullptr && spaced->unless == none;
}

constexpr std::size_t solve_limit = 400;  // timed problems of one case
constexpr std::uint64_t long_beside = 4;  // an age that lasts so many times all intervals lasts for good

std::vector<ClauseId> clauses_behind(const std::vector<Draft>& drafts, const Drafts& group) {
    std::vector<ClauseId> ids;
    for (const std::size_t i : group)
        if (std::find(ids.begin(), ids.end(), drafts[i].clause) == ids.end()) ids.push_back(drafts[i].clause);
    return ids;
}

class TimedConflicts {
  public:
    // Across a change of the clocks the drafts' spans are those that reach over it.
    TimedConflicts(Workspace& work, const std::vector<Draft>& drafts, const Relevance& relevance,
                   Effort& effort, const ClockChange* change = nullptr)
        : work_(work), drafts_(drafts), relevance_(relevance), effort_(effort), change_(change) {}

    void find(const Drafts& group) {
        const Meetings meetings = tell_apart(work_, drafts_, relevance_, group);
        if (!meetings.left_out.empty()) give_up(meetings.left_out);
        std::map<std::string, Case> cases;
        for (const Meeting& meeting : meetings.all) {
            bool too_many = false;
            std::optional<Case> one = make_case(work_, drafts_, meeting, too_many);
            if (too_many) too_many_letters(meeting.drafts);
            if (!one) continue;
            const auto [place, fresh] = cases.emplace(signature(*one), *one);
            if (!fresh) place->second.where = work_.diagrams.either(place->second.where, meeting.where);
        }
        for (auto& [key, one] : cases) judge(one);
        for (Told& conflict : conflicts_) {
            if (std::string more = also_where(work_, conflict.where, conflict.shown); !more.empty())
                conflict.finding.notes.push_back(std::move(more));
            work_.add(conflict.finding);
        }
        for (Told& corner : corners_) {
            const bool clash_there = std::any_of(conflicts_.begin(), conflicts_.end(), [&](const Told& c) {
                return c.finding.ids == corner.finding.ids &&
                       work_.diagrams.both(c.where, corner.where) != never;
            });
            if (!clash_there) work_.add(std::move(corner.finding));
        }
    }

  private:
    Workspace& work_;
    const std::vector<Draft>& drafts_;
    const Relevance& relevance_;
    Effort& effort_;
    const ClockChange* change_;
    std::set<std::pair<std::string, std::vector<ClauseId>>> reported_;
    struct Told {  // at the end
        Finding finding;
        Box shown;
        Node where = never;  // of all cases
    };
    std::vector<Told> corners_;  // where the same clauses do not conflict
    std::vector<Told> conflicts_;
    std::size_t solves_ = 0;  // of one case
    bool said_too_big_ = false;

    void give_up(const Drafts& some) {
        work_.skipped(
            fmt::format("not analysed to the end for timed conflicts: {} (too many situations "
                        "to tell apart)",
                        names(some)));
        work_.give_up(clauses_behind(drafts_, some), "it was not analysed to the end for timed conflicts");
    }

    void too_many_letters(const Drafts& some) {
        work_.skipped("not analysed for timed conflicts: " + names(some) +
                      " (too many kinds of event at once)");
        work_.give_up(clauses_behind(drafts_, some), "it was not analysed for timed conflicts");
    }

    std::string names(const Drafts& group) const {
        std::vector<ClauseId> ids = clauses_behind(drafts_, group);
        if (ids.size() > 6) {
            const std::size_t more = ids.size() - 6;
            ids.resize(6);
            return work_.quoted(ids) + fmt::format(" and {} more", more);
        }
        return work_.quoted(ids);
    }

    // ---- answers

    using Set = std::vector<std::size_t>;  // of rules of a case, rising

    TimedAnswer ask(const Case& one, const Set& set) {
        TimedProblem problem = one.problem;
        problem.rules.clear();
        const std::set<ClauseId> clauses = clauses_of(one, set);
        for (std::size_t r = 0; r < one.problem.rules.size(); ++r) {
            Rule rule = one.problem.rules[r];
            rule.binds = clauses.count(rule.clause) != 0;
            if (!rule.binds && drafts_[one.draft_of_rule[r]].should) continue;
            problem.rules.push_back(std::move(rule));
        }
        return played(one, std::move(problem));
    }

    TimedAnswer played(const Case& one, TimedProblem problem) {
        ++solves_;
        drop_free(problem);
        drop_implied(problem);
        TimedAnswer answer = effort_.solved(problem, one.unit);
        const bool short_stay =
            one.stays && static_cast<std::uint64_t>(*one.stays) < long_beside * all_times(problem);
        if (short_stay && answer.verdict != Verdict::keeps && answer.verdict != Verdict::exhausted) {
            // Lost for good is not yet lost by the day on which the patient is too old for the situation.
            for (Rule& rule : problem.rules) end_at(rule.guard, *one.stays);
            answer = effort_.solved(problem, one.unit);
        }
        return answer;
    }

    static void end_at(Guard& guard, std::int64_t units) {
        GuardAtom before;
        before.high = static_cast<std::uint32_t>(2 * units - 1);
        if (guard.always) guard.ways = {{}};
        guard.always = false;
        for (std::vector<GuardAtom>& way : guard.ways) way.push_back(before);
    }

    std::set<ClauseId> clauses_of(const Case& one, const Set& set) const {
        std::set<ClauseId> clauses;
        for (const std::size_t r : set) clauses.insert(one.problem.rules[r].clause);
        return clauses;
    }

    void judge(const Case& one) {
        solves_ = 0;
        for (const bool with_should : {false, true}) {
            std::set<ClauseId> clauses;
            bool any_should = false;
            for (std::size_t r = 0; r < one.problem.rules.size(); ++r) {
                const bool should = drafts_[one.draft_of_rule[r]].should;
                any_should = any_should || should;
                if (with_should || !should) clauses.insert(one.problem.rules[r].clause);
            }
            if (with_should && !any_should) continue;
            std::set<std::set<ClauseId>> seen;
            explore(one, clauses, with_should, seen);
        }
    }

    Set rules_of(const Case& one, const std::set<ClauseId>& clauses) const {
        Set set;
        for (std::size_t r = 0; r < one.problem.rules.size(); ++r)
            if (clauses.count(one.problem.rules[r].clause) != 0) set.push_back(r);
        return set;
    }

    // Every minimal set: one by leaving out clause after clause, the others with one of its clauses gone.
    void explore(const Case& one, const std::set<ClauseId>& clauses, bool with_should,
                 std::set<std::set<ClauseId>>& seen) {
        if (clauses.empty() || !seen.insert(clauses).second) return;
        if (solves_ > solve_limit) {
            too_big(clauses);
            return;
        }
        TimedAnswer answer = ask(one, rules_of(one, clauses));
        if (answer.verdict == Verdict::exhausted) {
            too_big(clauses);
            explore_few(one, clauses, with_should);
            return;
        }
        if (answer.verdict == Verdict::keeps) return;
        const bool conflict = answer.verdict == Verdict::conflict;
        bool sure = true;  // that no clause can be left out
        std::set<ClauseId> minimal = clauses;
        for (const ClauseId c : clauses) {
            std::set<ClauseId> fewer = minimal;
            fewer.erase(c);
            if (fewer.empty()) continue;
            TimedAnswer without = ask(one, rules_of(one, fewer));
            if (without.verdict == Verdict::exhausted) {
                sure = false;
                continue;
            }
            const bool still =
                conflict ? without.verdict == Verdict::conflict : without.verdict != Verdict::keeps;
            if (!still) continue;
            minimal = std::move(fewer);
            answer = std::move(without);
        }
        if (!sure) {
            too_big(clauses);
            if (explore_few(one, clauses, with_should)) return;
        }
        const bool has_should =
            std::any_of(minimal.begin(), minimal.end(), [&](ClauseId c) { return work_.clause(c).should; });
        if (with_should == has_should) report(one, minimal, answer, conflict);
        for (const ClauseId c : minimal) {
            std::set<ClauseId> fewer = clauses;
            fewer.erase(c);
            explore(one, fewer, with_should, seen);
        }
    }

    // Whether these clauses conflict, whatever the others ask of care: only what the others keep from
    // happening by itself is left of them, and no answer to them is kept from care.
    TimedAnswer ask_alone(const Case& one, const std::set<ClauseId>& clauses) {
        TimedProblem problem = one.problem;
        problem.rules.clear();
        for (std::size_t r = 0; r < one.problem.rules.size(); ++r) {
            Rule rule = one.problem.rules[r];
            rule.binds = clauses.count(rule.clause) != 0;
            const bool answered =
                std::holds_alternative<Response>(rule.what) || std::holds_alternative<Until>(rule.what);
            if (!rule.binds && answered) problem.response_only &= ~asked_for_by(rule) | problem.leaving;
            const bool holds_chance = (held_back_by(rule) & problem.environment) != 0;
            if (rule.binds || (holds_chance && !drafts_[one.draft_of_rule[r]].should))
                problem.rules.push_back(std::move(rule));
        }
        return played(one, std::move(problem));
    }

    // What is too large as a whole is not silent about a clause, or two or three that speak of the same
    // events, that no care can keep. Whether there are such.
    bool explore_few(const Case& one, const std::set<ClauseId>& clauses, bool with_should) {
        const std::map<ClauseId, Letters> letters = letters_of_clauses(one);
        const std::size_t solved_before = solves_;  // these have an allowance of their own
        std::vector<std::set<ClauseId>> found;
        const auto ask_few = [&](const std::set<ClauseId>& few) {
            for (const std::set<ClauseId>& fewer : found)
                if (std::includes(few.begin(), few.end(), fewer.begin(), fewer.end())) return;
            const TimedAnswer answer = ask_alone(one, few);
            if (answer.verdict != Verdict::conflict) return;
            found.push_back(few);
            const bool has_should =
                std::any_of(few.begin(), few.end(), [&](ClauseId c) { return work_.clause(c).should; });
            if (with_should == has_should) report(one, few, answer, true);
        };
        const auto share = [&](ClauseId a, ClauseId b) { return (letters.at(a) & letters.at(b)) != 0; };
        for (const ClauseId a : clauses) ask_few({a});
        for (const ClauseId a : clauses)
            for (const ClauseId b : clauses)
                if (a < b && share(a, b)) ask_few({a, b});
        for (const ClauseId a : clauses)
            for (const ClauseId b : clauses)
                for (const ClauseId c : clauses)
                    if (a < b && b < c && share(a, b) + share(b, c) + share(a, c) >= 2) ask_few({a, b, c});
        solves_ = solved_before;
        return !found.empty();
    }

    // What the rules of each clause speak of.
    static std::map<ClauseId, Letters> letters_of_clauses(const Case& one) {
        std::map<ClauseId, Letters> result;
        for (const Rule& rule : one.problem.rules) result[rule.clause] |= spoken_of_by(rule);
        return result;
    }

    void too_big(const std::set<ClauseId>& clauses) {
        const std::vector<ClauseId> ids(clauses.begin(), clauses.end());
        work_.give_up(ids, "it was not analysed to the end for timed conflicts");
        if (said_too_big_) return;
        said_too_big_ = true;
        work_.skipped("not analysed to the end for timed conflicts: " + work_.quoted(ids) +
                      " (their intervals make too many moments to tell apart)");
    }

    std::string code_of(const Case& one, const std::set<ClauseId>& clauses, bool conflict) const {
        bool response = false;
        bool forbids = false;
        for (std::size_t r = 0; r < one.problem.rules.size(); ++r) {
            const Rule& rule = one.problem.rules[r];
            if (clauses.count(rule.clause) == 0) continue;
            const Letters other = one.problem.environment;
            if (const auto* what = std::get_if<Response>(&rule.what))
                response = response || what->at_start || what->by_guard || (what->triggers & other) != 0;
            if (const auto* what = std::get_if<Until>(&rule.what))
                response = response || (what->triggers & other) != 0;
            response = response || std::holds_alternative<Hold>(rule.what);
            forbids = forbids || drafts_[one.draft_of_rule[r]].form == Draft::Form::forbidden;
        }
        if (response) return conflict ? "conflict.response" : "corner.response";
        if (forbids && conflict) return "conflict.forbidden";
        return conflict ? "conflict.interval" : "corner.interval";
    }

    // Only what sets a response off may be counted on to have come: an exception is nobody's to bring about.
    std::vector<std::string> ways_out(const std::vector<ClauseId>& ids, const std::string& code) const {
        std::vector<std::string> ways;
        if (ids.size() == 1) return {"change an interval so that one fits into the other"};
        const bool response = code == "conflict.response" || code == "corner.response";
        for (const ClauseId c : ids)
            if (response && forbids_sooner(work_.clause(c).demand))
                ways.push_back(fmt::format(
                    "let {} say when it may come sooner, as `unless EVENT where … in the last 12 h`",
                    work_.quoted(c)));
        // What is judged at an event cannot override what is judged over time, or at another event.
        const bool alike = std::all_of(ids.begin(), ids.end(), [&](ClauseId c) {
            return work_.at_events(c) == work_.at_events(ids.front()) &&
                   kinds_in(work_.clause(c).trigger.events) ==
                       kinds_in(work_.clause(ids.front()).trigger.events);
        });
        // And one that applies everywhere would leave nothing of the other.
        const bool narrower = std::any_of(ids.begin(), ids.end(), [&](ClauseId c) {
            return work_.clause(c).applies_for != none || work_.clause(c).applies_while != none;
        });
        ways.push_back(fmt::format("{}decide which of them gives way: narrow its `for` or `while`{}",
                                   ways.empty() ? "" : "or ",
                                   alike && narrower ? ", or let the other `overrides` it" : ""));
        const bool forbidden = std::any_of(ids.begin(), ids.end(), [&](ClauseId c) {
            return std::holds_alternative<runtime::Forbid>(work_.clause(c).demand);
        });
        if (forbidden && response)
            ways.emplace_back("or let the one that forbids it say when it may be, with `except when`");
        else if (!forbidden)
            ways.emplace_back("or change an interval so that one fits into the other");
        return ways;
    }

    void report(const Case& one, const std::set<ClauseId>& clauses, const TimedAnswer& answer,
                bool conflict) {
        const std::string code = code_of(one, clauses, conflict);
        const std::vector<ClauseId> ids(clauses.begin(), clauses.end());
        if (!reported_.emplace(code, ids).second) return also_here(one, clauses, code, conflict);
        if (change_ != nullptr && (!conflict || clash_anyhow(ids))) return;
        Finding finding;
        finding.code = code;
        for (const ClauseId c : ids) {
            finding.ids.push_back(work_.clause(c).id);
            finding.labels.push_back(work_.label(c));
            finding.advisory = finding.advisory || work_.clause(c).should;
        }
        std::string possible;
        for (const ClauseId c : ids)
            if (!outside_fragment(work_, c).empty()) possible = "possible: ";
        const Node where = wide_region(work_, drafts_, one, clauses);
        const Box box = work_.situations.smallest(where);
        finding.message =
            conflict
                ? fmt::format("{}no care keeps {}{}{}", possible, work_.quoted(ids),
                              ids.size() > 1 ? " together" : "", work_.situations.where_sentence(box))
                : fmt::format(
                      "{}{} can {}be kept, but a history that breaks nothing leads to where they cannot{}",
                      possible, work_.quoted(ids), ids.size() > 1 ? "all " : "",
                      work_.situations.where_sentence(box));
        finding.helps = ways_out(ids, code);
        if (change_ != nullptr) say_across(finding, ids, box);
        Story story;
        story.point = one.point;
        story.corner = !conflict;
        if (one.problem.day != 0) story.start = 0;
        for (const TimedStep& step : answer.history)
            story.events.push_back(
                {step.at, one.letters[step.letter].kind, one.letters[step.letter].attributes});
        story.until = answer.until;
        story.limit = answer.limit;
        for (const unsigned l : answer.last)
            if (answers_something(one, clauses, l)) {
                story.last = StoryEvent{answer.until, one.letters[l].kind, one.letters[l].attributes};
                break;
            }
        story.into_corner = answer.into_corner;
        if (change_ != nullptr) {
            story.change = *change_;
            const std::int64_t newest = story.events.empty() ? 0 : story.events.back().at;
            story.change_at = newest + (story.until - newest) / 2;
        }
        if (!show_story(work_, finding, ids, box, story)) return;
        (conflict ? conflicts_ : corners_).push_back({std::move(finding), box, where});
    }

    // What was told of these clauses in another case.
    void also_here(const Case& one, const std::set<ClauseId>& clauses, const std::string& code,
                   bool conflict) {
        std::vector<std::string> ids;
        for (const ClauseId c : clauses) ids.push_back(work_.clause(c).id);
        for (Told& told : conflict ? conflicts_ : corners_)
            if (told.finding.code == code && told.finding.ids == ids)
                told.where = work_.diagrams.either(told.where, wide_region(work_, drafts_, one, clauses));
    }

    // Whether some of the clauses cannot be kept on other days either.
    bool clash_anyhow(const std::vector<ClauseId>& ids) const {
        return std::any_of(work_.said().begin(), work_.said().end(), [&](const auto& said) {
            return said.first.rfind("conflict.", 0) == 0 &&
                   std::all_of(said.second.begin(), said.second.end(), [&](const std::string& id) {
                       return std::any_of(ids.begin(), ids.end(),
                                          [&](ClauseId c) { return work_.clause(c).id == id; });
                   });
        });
    }

    void say_across(Finding& finding, const std::vector<ClauseId>& ids, const Box& box) const {
        finding.advisory = true;
        finding.message =
            fmt::format("no care keeps {}{} over the change of the clocks on {}, when a day has {}{}",
                        work_.quoted(ids), ids.size() > 1 ? " together" : "", date_of(*change_),
                        duration_words(24 * runtime::microseconds_per_hour - change_->shorter),
                        work_.situations.where_sentence(box));
        finding.helps = {"count both in days, or both in hours",
                         "or leave room for the hour between them: a grace, or a shorter interval"};
    }

    bool answers_something(const Case& one, const std::set<ClauseId>& clauses, unsigned l) const {
        bool answers = false;
        for (const Rule& rule : one.problem.rules) {
            if (clauses.count(rule.clause) == 0) continue;
            std::visit(
                [&](const auto& what) {
                    if constexpr (requires { what.answers; })
                        answers = answers || (what.answers & letter(l)) != 0;
                },
                rule.what);
        }
        return answers;
    }
};

// Of a limit and a shortest interval of which the one counts days and the other hours, whether the interval
// fits into the limit on other days, and not across the change.
bool clash_across(const Draft& limit, const Draft& interval, std::int64_t shorter) {
    if ((limit.form != Form::deadline && limit.form != Form::response) || interval.form != Form::gap ||
        limit.civil == interval.civil)
        return false;
    const bool shares = std::any_of(limit.events.begin(), limit.events.end(),
                                    [&](const auto& e) { return interval.events.count(e.first) != 0; });
    const std::int64_t left = limit.span - interval.span;
    return shares && left >= 0 && left < (limit.civil ? shorter : -shorter);
}

// What two clauses keep on every other day and not across a change of the clocks.
void find_across(Workspace& work, const std::vector<Draft>& drafts, const Relevance& relevance,
                 const Drafts& group, const ClockChange& change, Effort& effort) {
    std::set<std::pair<ClauseId, ClauseId>> clauses;
    for (const std::size_t i : group)
        for (const std::size_t j : group)
            if (clash_across(drafts[i], drafts[j], change.shorter))
                clauses.emplace(drafts[i].clause, drafts[j].clause);
    if (clauses.empty()) return;
    std::vector<Draft> across = drafts;
    for (Draft& draft : across)
        if (draft.civil) draft.span -= change.shorter;
    TimedConflicts conflicts(work, across, relevance, effort, &change);
    for (const auto& [a, b] : clauses) {
        Drafts two;
        for (const std::size_t i : group)
            if (drafts[i].clause == a || drafts[i].clause == b) two.push_back(i);
        conflicts.find(two);
    }
}

}  // namespace

void find_timed_conflicts(Workspace& work) {
    const std::vector<Draft> drafts = draft_rules(work);
    const Relevance relevance(work, drafts);
    Drafts all(drafts.size());
    std::iota(all.begin(), all.end(), 0U);
    const Drafts kept = relevance.kept(all);
    const std::vector<Drafts> groups = relevance.groups(kept);
    note_for_exactness(work, drafts, relevance, kept, groups);
    Effort effort(work.limits.timed_states);
    for (const Drafts& group : groups) {
        TimedConflicts conflicts(work, drafts, relevance, effort);
        work.apart("timed conflicts", clauses_behind(drafts, group), [&] { conflicts.find(group); });
    }
    for (const ClockChange& change : clock_changes(work.policy))
        for (const Drafts& group : groups)
            work.apart("timed conflicts across a change of the clocks", clauses_behind(drafts, group),
                       [&] { find_across(work, drafts, relevance, group, change, effort); });
}

}  // namespace linelaw::compiler::analysis
