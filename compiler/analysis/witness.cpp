#include "compiler/analysis/witness.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>

#include "runtime/engine.hpp"
#include "runtime/records.hpp"

namespace linelaw::compiler::analysis {

using runtime::ClauseId;
using runtime::EventKindId;

namespace {

struct Judged {
    bool read = false;
    bool broken = false;                    // one of the clauses counts against
    bool excused = false;                   // one of them would, but for an exception
    std::vector<std::string> outcomes;      // "dressing.gauze late", of the clauses
    std::vector<std::string> expectations;  // the same as lines of an example
};

Judged judge(Workspace& work, const DraftEpisode& draft, const std::vector<ClauseId>& clauses) {
    Judged judged;
    runtime::RecordReader reader(work.policy);
    runtime::Episode episode;
    std::vector<runtime::Spoiled> set_aside;
    if (reader.read(as_record(draft, work.policy), episode, set_aside) != nullptr || !set_aside.empty())
        return judged;
    judged.read = true;
    std::map<std::pair<std::string, std::string>, int> counts;
    std::vector<std::pair<std::string, std::string>> order;
    for (const runtime::Opportunity& o : work.engine().judge(episode)) {
        std::string id;
        if (o.origin == runtime::OriginKind::clause &&
            std::find(clauses.begin(), clauses.end(), o.item) != clauses.end())
            id = work.clause(o.item).id;
        if (o.origin == runtime::OriginKind::ladder &&
            std::find(clauses.begin(), clauses.end(), o.started_by) != clauses.end()) {
            const runtime::Ladder& ladder = work.policy.ladders[o.item];
            id = ladder.id;
            if (o.step < ladder.steps.size()) id += fmt::format(" step {}", o.step + 1);
        }
        if (id.empty()) continue;
        judged.broken = judged.broken || runtime::counts_against(o.outcome);
        judged.excused = judged.excused || o.outcome == runtime::Outcome::excused;
        std::string outcome(runtime::outcome_names[static_cast<std::size_t>(o.outcome)]);
        std::replace(outcome.begin(), outcome.end(), '_', ' ');
        const auto key = std::make_pair(id, outcome);
        if (counts[key]++ == 0) order.push_back(key);
    }
    for (const auto& key : order) {
        const int n = counts[key];
        judged.outcomes.push_back(key.first + " " + key.second +
                                  (n > 1 ? fmt::format(" ({} times)", n) : ""));
        judged.expectations.push_back(key.first + " " + key.second +
                                      (n > 1 ? fmt::format(" {} times", n) : ""));
    }
    return judged;
}

std::string plain_ids(const Finding& finding) {
    return join(finding.ids, ", ", " and ");
}

void blame_the_program(Finding& finding, const std::string& why) {
    finding.notes.insert(finding.notes.begin(),
                         fmt::format("the analysis said `{}`: {}", finding.code, finding.message));
    finding.code = "internal.witness";
    finding.message = fmt::format(
        "the analysis found something about {} that the runtime does not confirm ({}); this is a "
        "fault of the program, not of the policy",
        plain_ids(finding), why);
    finding.helps = {"please report it with this policy"};
}

}  // namespace

bool show_story(Workspace& work, Finding& finding, const std::vector<ClauseId>& clauses, const Box& box,
                const Story& story) {
    finding.witness.emplace();
    finding.witness->situation = work.situations.worded(box);
    const auto tell = [&](const Telling& telling) { return told(work, clauses, box, story, telling); };
    const std::int64_t past = std::max(story.until, story.limit) + runtime::microseconds_per_minute;
    const auto whole = tell({story.events.size(), true, story.last ? story.until : past});
    if (!whole) {
        finding.notes.emplace_back(
            "a condition outside the analysed part of the language decides here; no episode is shown");
        return true;
    }
    const Judged judged = judge(work, *whole, clauses);
    finding.witness->episode = as_record(*whole, work.policy);
    finding.witness->outcomes = judged.outcomes;
    finding.witness->example = as_example(
        *whole, work.policy, (story.corner ? "a corner of " : "a conflict of ") + plain_ids(finding),
        judged.expectations);
    const auto blame = [&](const char* why) {
        blame_the_program(finding, why);
        return true;
    };
    const auto excused = [&] {
        work.give_up(clauses,
                     "an exception of it may hold in what leads to a conflict, which is not followed");
        return false;
    };
    if (!judged.read) return blame("it does not take the episode");
    if (!judged.broken) return judged.excused ? excused() : blame("nothing is broken in the episode");
    if (story.last) {  // leaving the answer out breaks the one that asks for it
        const auto without_it = tell({story.events.size(), false, past});
        const Judged waiting = without_it ? judge(work, *without_it, clauses) : judged;
        if (!waiting.broken)
            return waiting.excused ? excused() : blame("without the last event nothing is broken");
    }
    if (!story.corner) return true;
    const std::int64_t corner = story.into_corner == 0 ? 0 : story.events[story.into_corner - 1].at;
    const auto into = tell({story.into_corner, false, corner});
    return into && judge(work, *into, clauses).broken ? blame("its history breaks something already") : true;
}

std::optional<grammar::Witness> story_between(Workspace& work, ClauseId broken,
                                              const std::vector<ClauseId>& kept, const Box& box,
                                              const Story& story) {
    std::vector<ClauseId> all = kept;
    all.push_back(broken);
    const auto episode = told(work, all, box, story,
                              {story.events.size(), true, story.limit + runtime::microseconds_per_minute});
    if (!episode) return std::nullopt;
    const Judged judged = judge(work, *episode, {broken});
    if (!judged.broken || judge(work, *episode, kept).broken) return std::nullopt;
    grammar::Witness witness;
    witness.situation = work.situations.worded(box);
    witness.episode = as_record(*episode, work.policy);
    witness.outcomes = judged.outcomes;
    witness.example = as_example(*episode, work.policy, "where " + work.clause(broken).id + " is broken",
                                 judged.expectations);
    return witness;
}

bool show_at_event(Workspace& work, Finding& finding, const std::vector<ClauseId>& clauses, EventKindId kind,
                   Node where, const Box& box) {
    Diagrams& d = work.diagrams;
    const std::vector<bool> all(work.situations.variables().size(), true);
    Node here = d.all_of({where, d.box(box), work.situations.possible(), work.situations.documented(all)});
    for (const ClauseId c : clauses) here = d.both(here, work.possible(c));
    if (const Node set = d.both(here, work.situations.set(all)); set != never) here = set;
    finding.witness.emplace();
    finding.witness->situation = work.situations.worded(box);
    if (here == never) return true;
    for (const ClauseId c : clauses)
        if (const auto* holds = std::get_if<runtime::Holds>(&work.clause(c).demand)) {
            const std::vector<bool>& asked = d.support(work.situations.meaning(holds->condition, kind).yes);
            for (std::uint32_t v = 0; v < asked.size(); ++v)
                if (asked[v] && work.situations.variables()[v].kind == VariableKind::step_time)
                    return true;  // an example has no times of steps
        }
    Story story;
    story.point = d.assignment(here);
    Node event = always;  // its attributes at that point
    for (std::uint32_t v = 0; v < story.point.size(); ++v) {
        const VariableKind k = work.situations.variables()[v].kind;
        if (k == VariableKind::event || k == VariableKind::relation)
            event = d.both(event, d.cell(v, story.point[v]));
        if (k == VariableKind::step_time || work.situations.variables()[v].clock()) {
            const std::vector<bool>& matters = d.support(where);
            if (matters[v]) return true;  // told by its situation alone
        }
    }
    const std::int64_t at = kind == work.policy.insertion ? 0 : runtime::microseconds_per_hour;
    story.events.push_back({at, kind, event});
    story.until = at;
    return show_story(work, finding, clauses, box, story);
}

}  // namespace linelaw::compiler::analysis
