// Two policies, question by question and clause by clause: where the one asks for more, less or something
// else than the other.
#include <fmt/format.h>

#include <algorithm>

#include "compiler/analysis/gaps.hpp"
#include "compiler/analysis/merge.hpp"
#include "compiler/analysis/strictness.hpp"
#include "compiler/analysis/weighed.hpp"
#include "compiler/analysis/witness.hpp"

namespace linelaw::compiler::analysis {

using runtime::ClauseId;
using runtime::EventKindId;
using runtime::none;
using Kind = Difference::Kind;

namespace {

constexpr std::size_t region_limit = 4000;  // situations of one question told apart
constexpr std::size_t boxes_shown = 12;     // of one kind of difference

std::vector<std::pair<std::int64_t, std::int64_t>> hours_of(const std::vector<runtime::Shift>& shifts) {
    std::vector<std::pair<std::int64_t, std::int64_t>> hours;
    for (const runtime::Shift& shift : shifts) hours.emplace_back(shift.from, shift.to);
    std::sort(hours.begin(), hours.end());
    return hours;
}

// The policy and the other's clauses behind its own, analysed together.
struct Pair {
    Merged merged;
    Compilation compilation;
    Analysis scratch;
    std::optional<Workspace> work;
    std::vector<ClauseId> own;
    std::vector<ClauseId> others;

    Pair(const Compilation& policy, const Compilation& other, const Limits& limits)
        : merged(merge(*policy.compiled, *other.compiled)) {
        compilation.sources = policy.sources;
        compilation.compiled = merged.compiled;
        work.emplace(compilation, limits, scratch);
        work->to_the_letter = false;
        work->shifts_differ = hours_of(merged.shifts_of_second) != hours_of(work->policy.shifts);
        for (ClauseId c = 0; c < work->policy.clauses.size(); ++c)
            (c < merged.first_of_second ? own : others).push_back(c);
    }
};

bool leaves_to_judgement(const runtime::Clause& clause) {
    return std::holds_alternative<runtime::LeavesToJudgement>(clause.demand);
}

bool all_in(const std::vector<EventKindId>& some, const std::vector<EventKindId>& all) {
    return std::all_of(some.begin(), some.end(), [&](EventKindId kind) {
        return std::find(all.begin(), all.end(), kind) != all.end();
    });
}

// Whether this kind of event is held back at least as long as by the other hold: by no event that ends the
// one and not the other.
bool holds_as_long(const runtime::Ladder& ladder, EventKindId kind, const runtime::LadderHold& other) {
    return std::any_of(ladder.holds.begin(), ladder.holds.end(), [&](const runtime::LadderHold& one) {
        return all_in({kind}, kinds_in(one.events)) && all_in(kinds_in(one.until), kinds_in(other.until));
    });
}

// Whether who keeps the one calls everybody whom the other calls, as soon, waits no longer for an answer, and
// holds back its kinds of event.
bool calls_as_strictly(const runtime::Ladder& strong, const runtime::Ladder& weak) {
    if (strong.steps.size() < weak.steps.size()) return false;
    for (std::size_t i = 0; i < weak.steps.size(); ++i) {
        const runtime::LadderStep& a = strong.steps[i];
        const runtime::LadderStep& b = weak.steps[i];
        if (a.roles != b.roles || longest(a.within) > longest(b.within) ||
            longest(a.if_not_acknowledged_within) > longest(b.if_not_acknowledged_within))
            return false;
    }
    return std::all_of(weak.holds.begin(), weak.holds.end(), [&](const runtime::LadderHold& held) {
        const std::vector<EventKindId> kinds = kinds_in(held.events);
        return std::all_of(kinds.begin(), kinds.end(),
                           [&](EventKindId kind) { return holds_as_long(strong, kind, held); });
    });
}

// Whether keeping `by` keeps this part of what `asked` demands, where both apply.
bool at_least_as_strict(Workspace& work, ClauseId by, ClauseId asked, const runtime::Demand& part,
                        EventKindId kind, Node where = always) {
    const runtime::Clause& strong = work.clause(by);
    const runtime::Clause& weak = work.clause(asked);
    if (leaves_to_judgement(weak)) return true;
    if (leaves_to_judgement(strong) || (strong.should && !weak.should)) return false;
    if (strong.demand.index() == 0 || weak.demand.index() == 0) {  // only `then escalate`
        if (weak.then_escalate == none) return false;
        if (strong.then_escalate == none) return false;
        return calls_as_strictly(work.policy.ladders[strong.then_escalate],
                                 work.policy.ladders[weak.then_escalate]);
    }
    const Strictness s = compare_demands(work, by, asked, part, kind, where);
    return s == Strictness::same || s == Strictness::stricter;
}

// Whether keeping all of these keeps it: each part of what it demands by one of them.
bool kept_by(Workspace& work, const std::vector<ClauseId>& by, ClauseId asked, EventKindId kind, Node where) {
    const std::vector<runtime::Demand> parts = parts_of(work.clause(asked).demand);
    return std::all_of(parts.begin(), parts.end(), [&](const runtime::Demand& part) {
        return std::any_of(by.begin(), by.end(),
                           [&](ClauseId b) { return at_least_as_strict(work, b, asked, part, kind, where); });
    });
}

// ---- by question

struct Answers {
    Node where = always;
    std::vector<ClauseId> before;
    std::vector<ClauseId> after;
};

std::string answer_words(Workspace& work, const std::vector<ClauseId>& clauses) {
    std::vector<std::string> words;
    for (const ClauseId c : clauses)
        if (std::string said = work.demand_words(c);
            std::find(words.begin(), words.end(), said) == words.end())
            words.push_back(std::move(said));
    return join(words, "; ", "; ");
}

std::vector<std::string> ids_of(const Workspace& work, const std::vector<ClauseId>& clauses) {
    std::vector<std::string> ids;
    for (const ClauseId c : clauses) ids.push_back(work.clause(c).id);
    return ids;
}

Kind kind_of(Workspace& work, const Answers& answers, EventKindId kind) {
    if (answers.before.empty()) return Kind::added;
    if (answers.after.empty()) return Kind::dropped;
    const auto covers = [&](const std::vector<ClauseId>& strict, const std::vector<ClauseId>& loose) {
        return std::all_of(loose.begin(), loose.end(),
                           [&](ClauseId l) { return kept_by(work, strict, l, kind, answers.where); });
    };
    const bool after_covers = covers(answers.after, answers.before);
    const bool before_covers = covers(answers.before, answers.after);
    if (after_covers && before_covers) return Kind::same;
    if (after_covers) return Kind::stricter;
    return before_covers ? Kind::looser : Kind::incomparable;
}

// What the clauses of one side ask for that keeping the other side's does not give.
std::vector<ClauseId> not_kept(Workspace& work, const std::vector<ClauseId>& asked,
                               const std::vector<ClauseId>& by, EventKindId kind, Node where) {
    std::vector<ClauseId> result;
    for (const ClauseId a : asked)
        if (!kept_by(work, by, a, kind, where)) result.push_back(a);
    return result;
}

// ---- in work

// With how few looks a day something is seen in every shift: where two overlap one look counts for both. From
// each shift's last moment on round the day, the shift that ends next decides the next look.
std::size_t fewest_for_all(const std::vector<runtime::Shift>& shifts) {
    constexpr std::int64_t day = runtime::microseconds_per_day;
    const auto until_end = [&](const runtime::Shift& shift, std::int64_t from) {
        return (shift.to - 1 - from + 2 * day) % day;
    };
    std::size_t fewest = shifts.size();
    for (const runtime::Shift& first : shifts) {
        std::vector<runtime::Shift> left = shifts;
        std::size_t looks = 0;
        for (std::int64_t at = (first.to - 1 + day) % day; !left.empty();) {
            ++looks;
            std::erase_if(left, [&](const runtime::Shift& shift) {
                return shift.from < shift.to ? shift.from <= at && at < shift.to
                                             : shift.from <= at || at < shift.to;
            });
            if (left.empty()) break;
            const runtime::Shift& next = *std::min_element(
                left.begin(), left.end(),
                [&](const auto& a, const auto& b) { return until_end(a, at) < until_end(b, at); });
            at = (at + until_end(next, at)) % day;
        }
        fewest = std::min(fewest, looks);
    }
    return fewest;
}

std::vector<Work> routine(const Workspace& work, const std::vector<ClauseId>& clauses,
                          const std::vector<runtime::Shift>& shifts) {
    constexpr double day = 24.0 * runtime::microseconds_per_hour;
    std::vector<Work> all;
    const auto ask = [&](const runtime::Events& events, double a_day) {
        std::vector<std::string> names;
        for (const EventKindId kind : kinds_in(events)) names.push_back(work.policy.event_kinds[kind].name);
        const std::string what = join(names, " or ", " or ");
        const auto found =
            std::find_if(all.begin(), all.end(), [&](const Work& w) { return w.what == what; });
        if (found == all.end())  // who does the most often one has done the others
            all.push_back({what, 1000 * a_day});
        else
            found->per_1000 = std::max(found->per_1000, 1000 * a_day);
    };
    for (const ClauseId c : clauses) {
        const runtime::Clause& clause = work.clause(c);
        if (const auto* every = std::get_if<runtime::AtLeastEvery>(&clause.demand)) {
            const auto limit = static_cast<double>(longest(every->every) + longest(every->grace));
            if (limit > 0) ask(every->events, day / limit);
        } else if (const auto* each = std::get_if<runtime::EachPeriod>(&clause.demand)) {
            const std::size_t periods = each->period == runtime::Period::shift ? fewest_for_all(shifts) : 1;
            ask(each->events, static_cast<double>(periods * each->times));
        }
    }
    return all;
}

// ---- as histories

// Where the demand's own limit has just passed with nothing done; only for demands that a limit ends.
std::optional<Story> story_of(Workspace& work, ClauseId c, Node where) {
    const runtime::Clause& clause = work.clause(c);
    Node here = work.diagrams.both(where, work.possible(c));
    const std::vector<bool> all(work.situations.variables().size(), true);
    here = work.diagrams.both(here, work.situations.documented(all));
    if (const Node set = work.diagrams.both(here, work.situations.set(all)); set != never) here = set;
    if (here == never) return std::nullopt;
    Story story;
    story.point = work.diagrams.assignment(here);
    if (const auto* every = std::get_if<runtime::AtLeastEvery>(&clause.demand)) {
        if (every->every.calendar) return std::nullopt;
        story.limit = longest(every->every) + longest(every->grace);
    } else if (const auto* within = std::get_if<runtime::Within>(&clause.demand)) {
        const auto* span = std::get_if<runtime::Span>(&within->within);
        if (span == nullptr || span->calendar || clause.trigger.events.empty()) return std::nullopt;
        const EventKindId kind = clause.trigger.events[0].event;
        const std::int64_t at = kind == work.policy.insertion ? 0 : runtime::microseconds_per_hour;
        Node event = always;
        for (std::uint32_t v = 0; v < story.point.size(); ++v) {
            const VariableKind k = work.situations.variables()[v].kind;
            if (k == VariableKind::event || k == VariableKind::relation)
                event = work.diagrams.both(event, work.diagrams.cell(v, story.point[v]));
        }
        story.events.push_back({at, kind, event});
        story.limit = at + longest(*span) + longest(within->grace);
    } else {
        return std::nullopt;
    }
    story.until = story.limit;
    return story;
}

std::optional<grammar::Witness> history_against(Workspace& work, const std::vector<ClauseId>& broken,
                                                const std::vector<ClauseId>& kept, Node where,
                                                const Box& box) {
    for (const ClauseId c : broken)
        if (const auto story = story_of(work, c, where))
            if (auto witness = story_between(work, c, kept, box, *story)) return witness;
    return std::nullopt;
}

std::vector<std::string> demands_of(Workspace& work, const std::vector<ClauseId>& clauses) {
    std::vector<std::string> words;
    for (const ClauseId c : clauses)
        words.push_back((work.clause(c).should ? "should " : "") + work.demand_words(c));
    return words;
}

void say_both_ways(Pair& pair, Difference& difference, const std::vector<ClauseId>& before,
                   const std::vector<ClauseId>& after, EventKindId kind, Node where) {
    Workspace& work = *pair.work;
    difference.work_before = routine(work, before, pair.merged.shifts_of_second);
    difference.work_after = routine(work, after, work.policy.shifts);
    const std::vector<ClauseId> given_up = not_kept(work, before, after, kind, where);
    const std::vector<ClauseId> fresh = not_kept(work, after, before, kind, where);
    difference.only_before = demands_of(work, given_up);
    difference.only_after = demands_of(work, fresh);
    if (given_up.empty() && fresh.empty()) return;
    const Box box = work.situations.smallest(where);
    difference.breaks_before = history_against(work, given_up, after, where, box);
    difference.breaks_after = history_against(work, fresh, before, where, box);
}

bool demands_values(const Workspace& work, ClauseId c) {
    return std::holds_alternative<runtime::Holds>(work.clause(c).demand);
}

// Two demands on values, as by the rows of a table, may be the same in one situation and not in another:
// parts each region into where the new ones ask for more, for less, for both, and for the same.
void split_by_values(Workspace& work, EventKindId kind, std::vector<Answers>& regions) {
    std::vector<Answers> parted;
    for (const Answers& region : regions) {
        const auto only_values = [&](const std::vector<ClauseId>& clauses) {
            return !clauses.empty() && std::all_of(clauses.begin(), clauses.end(),
                                                   [&](ClauseId c) { return demands_values(work, c); });
        };
        if (!only_values(region.before) || !only_values(region.after)) {
            parted.push_back(region);
            continue;
        }
        const Node more = kept_and_not_kept(work, region.before, region.after, kind);
        const Node less = kept_and_not_kept(work, region.after, region.before, kind);
        for (const Node part :
             {work.diagrams.without(more, less), work.diagrams.without(less, more),
              work.diagrams.both(more, less), work.diagrams.opposite(work.diagrams.either(more, less))}) {
            const Node where = work.diagrams.both(region.where, part);
            if (where != never) parted.push_back({where, region.before, region.after});
        }
    }
    regions = std::move(parted);
}

void compare_question(Pair& pair, const Question& question, Comparison& comparison) {
    Workspace& work = *pair.work;
    for (const Scope& scope : scopes_of(work, question)) {
        std::vector<Answers> regions{{scope.covered, {}, {}}};
        for (ClauseId c = 0; c < work.policy.clauses.size(); ++c) {
            const Node yes = answers(work, c, question, scope.kind).yes;
            if (work.diagrams.both(yes, scope.covered) == never) continue;
            std::vector<Answers> finer;
            for (const Answers& region : regions) {
                if (const Node with = work.diagrams.both(region.where, yes); with != never) {
                    finer.push_back(region);
                    finer.back().where = with;
                    (c < pair.merged.first_of_second ? finer.back().after : finer.back().before).push_back(c);
                }
                if (const Node without = work.diagrams.without(region.where, yes); without != never) {
                    finer.push_back(region);
                    finer.back().where = without;
                }
            }
            regions = std::move(finer);
            if (regions.size() > region_limit) {
                comparison.not_done.push_back("not compared to the end: `" + question.id + "`");
                return;
            }
        }
        split_by_values(work, scope.kind, regions);
        for (const Answers& region : regions) {
            if (region.before.empty() && region.after.empty()) continue;
            Difference difference;
            difference.question = question.id;
            difference.kind = kind_of(work, region, scope.kind);
            difference.before = answer_words(work, region.before);
            difference.after = answer_words(work, region.after);
            difference.clauses_before = ids_of(work, region.before);
            difference.clauses_after = ids_of(work, region.after);
            say_both_ways(pair, difference, region.before, region.after, scope.kind, region.where);
            bool cut = false;
            for (const Box& box :
                 work.situations.boxes_within(region.where, scope.covered, boxes_shown, cut)) {
                difference.situation = work.situations.worded(box);
                comparison.differences.push_back(difference);
            }
        }
    }
}

// ---- by clause

// Whether both are asked in the same way; what is due around an event (`at … either side`) or after it counts
// from it alike.
bool asked_alike(const runtime::Clause& one, const runtime::Clause& other) {
    const auto awaits = [](const runtime::Clause& clause) {
        const bool around = clause.trigger.kind == runtime::TriggerKind::at &&
                            std::holds_alternative<runtime::WithinEitherSide>(clause.demand);
        const bool afterwards = clause.trigger.kind == runtime::TriggerKind::after &&
                                std::holds_alternative<runtime::Within>(clause.demand);
        return around || afterwards;
    };
    return one.trigger.kind == other.trigger.kind || (awaits(one) && awaits(other));
}

// Whether whatever the one clause excuses the other excuses too. What is asked of an event that is not at
// hand may excuse anything, and is excused by the same words alone.
bool excuses_no_more(Workspace& work, const runtime::Clause& one, const runtime::Clause& other,
                     EventKindId kind) {
    Node excused = never;
    for (const runtime::Exception& e : other.exceptions)
        excused = work.diagrams.either(excused, work.situations.meaning(e.condition, kind).yes);
    return std::all_of(one.exceptions.begin(), one.exceptions.end(), [&](const runtime::Exception& e) {
        const std::string key = work.situations.key(e.condition, kind);
        const bool alike = std::any_of(
            other.exceptions.begin(), other.exceptions.end(),
            [&](const runtime::Exception& same) { return work.situations.key(same.condition, kind) == key; });
        const Meaning meaning = work.situations.meaning(e.condition, kind);
        const bool not_at_hand = meaning.yes == never && meaning.no == never;
        return alike ||
               (!not_at_hand &&
                work.diagrams.implies(work.diagrams.both(meaning.yes, work.situations.possible()), excused));
    });
}

// Where the clause asks for this part of its demand and no clause of the other policy gives as much.
Node uncovered_part(Workspace& work, ClauseId asked, const runtime::Demand& part, EventKindId kind,
                    const std::vector<ClauseId>& by) {
    const runtime::Clause& clause = work.clause(asked);
    const Node applies = work.applies(asked, kind).yes;
    Node rest = work.diagrams.all_of({applies, work.possible(asked), work.situations.documented(applies)});
    for (const ClauseId c : by) {
        if (rest == never) break;
        const runtime::Clause& other = work.clause(c);
        if (!asked_alike(other, clause) || other.for_each != clause.for_each) continue;
        if (clause.trigger.kind == runtime::TriggerKind::once &&
            work.situations.key(other.trigger.once, none) != work.situations.key(clause.trigger.once, none))
            continue;
        Node kept = always;  // where keeping the other's demand keeps this one's
        if (!at_least_as_strict(work, c, asked, part, kind)) {
            if (!demands_values(work, c) || !demands_values(work, asked) || (other.should && !clause.should))
                continue;
            kept = work.diagrams.opposite(kept_and_not_kept(work, {c}, {asked}, kind));
        }
        if (!excuses_no_more(work, other, clause, kind)) continue;
        rest = work.diagrams.without(rest, work.diagrams.both(work.applies(c, kind).yes, kept));
    }
    return work.diagrams.both(rest, work.situations.documented(rest));
}

// Where the clause of the one policy asks for something and no clause of the other asks for as much.
Node uncovered(Workspace& work, ClauseId asked, EventKindId kind, const std::vector<ClauseId>& by) {
    Node any = never;
    for (const runtime::Demand& part : parts_of(work.clause(asked).demand))
        any = work.diagrams.either(any, uncovered_part(work, asked, part, kind, by));
    return any;
}

// Clauses that knowingly depart from a source that the baseline's clause rests on.
Node departed(Workspace& work, const runtime::Clause& asked, EventKindId kind,
              const std::vector<ClauseId>& own) {
    Node result = never;
    for (const ClauseId c : own)
        for (const runtime::Departure& departure : work.clause(c).departures) {
            const bool rests =
                std::any_of(asked.sources.begin(), asked.sources.end(),
                            [&](const runtime::SourceRef& s) { return s.source == departure.source; });
            if (rests) result = work.diagrams.either(result, work.applies(c, kind).yes);
        }
    return result;
}

bool answers_a_question(Pair& pair, ClauseId c) {
    for (const Question& question : pair.work->compiled.questions)
        for (const Scope& scope : scopes_of(*pair.work, question))
            if (pair.work->diagrams.both(answers(*pair.work, c, question, scope.kind).yes, scope.covered) !=
                never)
                return true;
    return false;
}

// What the other policy says there: by the same id, and on the same matter by an id that is not here too.
std::vector<ClauseId> others_there(Pair& pair, ClauseId c, const std::vector<ClauseId>& by,
                                   const std::vector<ClauseId>& own, EventKindId kind, Node here) {
    Workspace& work = *pair.work;
    std::vector<ClauseId> others;
    for (const ClauseId b : by) {
        if (work.diagrams.both(work.applies(b, kind).yes, here) == never) continue;
        const bool in_both = std::any_of(own.begin(), own.end(),
                                         [&](ClauseId o) { return work.clause(o).id == work.clause(b).id; });
        if (work.clause(b).id == work.clause(c).id ||
            (!in_both && compare_demands(work, c, b, kind) != Strictness::unrelated))
            others.push_back(b);
    }
    return others;
}

void compare_clause(Pair& pair, ClauseId c, const std::vector<ClauseId>& by, bool in_old,
                    Comparison& comparison) {
    Workspace& work = *pair.work;
    if (leaves_to_judgement(work.clause(c)) || answers_a_question(pair, c)) return;
    for (const EventKindId kind : hands_of(work.clause(c))) {
        const Node rest = uncovered(work, c, kind, by);
        if (rest == never) continue;
        Difference difference;
        difference.kind = in_old ? Kind::looser : Kind::stricter;
        const bool same_id = std::any_of(by.begin(), by.end(),
                                         [&](ClauseId b) { return work.clause(b).id == work.clause(c).id; });
        if (!same_id) difference.kind = in_old ? Kind::dropped : Kind::added;
        const Box box = work.situations.smallest(rest);
        difference.situation = work.situations.worded(box);
        difference.instance = work.diagrams.without(rest, work.diagrams.box(box)) != never;
        const Node here = work.diagrams.both(rest, work.diagrams.box(box));
        (in_old ? difference.before : difference.after) = work.demand_words(c);
        (in_old ? difference.clauses_before : difference.clauses_after) = {work.clause(c).id};
        const std::vector<ClauseId> others =
            others_there(pair, c, by, in_old ? pair.others : pair.own, kind, here);
        (in_old ? difference.after : difference.before) = answer_words(work, others);
        (in_old ? difference.clauses_after : difference.clauses_before) = ids_of(work, others);
        const std::vector<ClauseId> one{c};
        say_both_ways(pair, difference, in_old ? one : others, in_old ? others : one, kind, rest);
        comparison.differences.push_back(std::move(difference));
        return;
    }
}

}  // namespace

Comparison compare(const Compilation& before, const Compilation& after, const Limits& limits) {
    Comparison comparison;
    try {
        Pair pair(after, before, limits);
        for (const std::string& line : pair.merged.left_out)
            comparison.not_done.push_back("not compared: " + line);
        for (const Question& question : pair.work->compiled.questions)
            compare_question(pair, question, comparison);
        for (const ClauseId c : pair.others) compare_clause(pair, c, pair.own, true, comparison);
        for (const ClauseId c : pair.own) compare_clause(pair, c, pair.others, false, comparison);
    } catch (const DiagramsExhausted&) {
        comparison.not_done.emplace_back(
            "not compared to the end: the policies have too many combinations for the limit set");
    }
    tell_changes(before, after, comparison);
    return comparison;
}

std::vector<grammar::Diagnostic> measure_against(const Compilation& policy, const Compilation& baseline,
                                                 const Limits& limits) {
    std::vector<grammar::Diagnostic> found;
    const auto skipped = [&](const std::string& line) {
        if (grammar::find_diagnostic_code("analysis.skipped") != nullptr)
            found.push_back(grammar::make_diagnostic("analysis.skipped", line, {}));
    };
    try {
        Pair pair(policy, baseline, limits);
        Workspace& work = *pair.work;
        for (const std::string& line : pair.merged.left_out)
            skipped("not measured against the baseline: " + line);
        for (const ClauseId c : pair.others)
            for (const EventKindId kind : hands_of(work.clause(c))) {
                if (leaves_to_judgement(work.clause(c))) continue;
                const Node rest = work.diagrams.without(uncovered(work, c, kind, pair.own),
                                                        departed(work, work.clause(c), kind, pair.own));
                if (rest == never) continue;
                // Where the baseline's clause applies goes without saying; what is left is the difference.
                const Box difference = work.situations.smallest_within(
                    rest, work.diagrams.both(work.applies(c, kind).yes, work.possible(c)));
                const Node here = work.diagrams.both(rest, work.diagrams.box(difference));
                std::vector<ClauseId> nearest;  // what this policy says there on the same matter
                for (const ClauseId own : pair.own)
                    if (compare_demands(work, own, c, kind) != Strictness::unrelated &&
                        work.diagrams.both(work.applies(own, kind).yes, here) != never)
                        nearest.push_back(own);
                grammar::Diagnostic d = grammar::make_diagnostic(
                    "loose.baseline",
                    fmt::format("the baseline's {} (`{}`) is not kept{}", work.quoted(c),
                                work.demand_words(c), work.situations.where_sentence(difference)),
                    nearest.empty() ? work.policy_place() : work.place(nearest[0]),
                    nearest.empty() ? "says nothing as strict" : "is looser");
                for (std::size_t i = 1; i < nearest.size(); ++i)
                    d.labels.push_back({work.place(nearest[i]), "is looser"});
                d.notes.push_back("the baseline says: \"" + work.clause(c).sentence + "\"");
                d.mends.push_back({"make it at least as strict", {}, {}, false});
                d.mends.push_back(
                    {"or say why not: `departs from … because \"…\"`, with a source that the baseline names",
                     {},
                     {},
                     false});
                d.witness.emplace();
                d.witness->situation = work.situations.worded(work.situations.smallest(here));
                found.push_back(std::move(d));
                break;
            }
    } catch (const DiagramsExhausted&) {
        skipped("not measured against the baseline to the end: too many combinations for the limit set");
    }
    return found;
}

}  // namespace linelaw::compiler::analysis
