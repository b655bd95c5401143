#include "runtime/findings_said.hpp"

#include <fmt/compile.h>
#include <fmt/format.h>

#include <algorithm>

#include "runtime/findings.hpp"
#include "runtime/overloaded.hpp"

namespace linelaw::runtime {
namespace {

class Sayer {
  public:
    Sayer(const Words& words, const Episode& episode, const Opportunity& opportunity,
          const std::vector<Input>& inputs, const Judgement& all, Instant horizon)
        : words_(words),
          policy_(words.policy()),
          episode_(episode),
          o_(opportunity),
          inputs_(inputs),
          all_(all),
          horizon_(horizon),
          outcome_(o_.outcome == Outcome::excused ? o_.before_exception : o_.outcome) {}

    std::string say() {
        std::string text = o_.origin == OriginKind::clause   ? clause()
                           : o_.origin == OriginKind::ladder ? ladder()
                                                             : bundle();
        if (o_.outcome == Outcome::excused) text += " " + excuse();
        return text;
    }

  private:
    // ---- clauses

    std::string clause() {
        const Clause& clause = policy_.clauses[o_.item];
        return std::visit(overloaded{
                              [&](const AtLeastEvery& d) { return at_least_every(d); },
                              [&](const NoMoreOftenThan& d) { return too_soon(d.events, d.shortest); },
                              [&](const EachPeriod& d) { return each_period(d); },
                              [&](const Within& d) { return within(clause, d); },
                              [&](const WithinEitherSide& d) { return either_side(d); },
                              [&](const HaveHad& d) { return have_had(d); },
                              [&](const Holds& d) { return holds(d); },
                              [&](const Document& d) { return document(d); },
                              [&](const FollowSteps& d) { return follow_steps(d); },
                              [&](const Forbid& d) { return forbid(d); },
                              [&](const AtMostTimes& d) { return at_most_times(d); },
                              [&](const auto&) { return std::string("Nothing was asked for."); },
                          },
                          clause.demand);
    }

    std::string at_least_every(const AtLeastEvery& d) {
        if (outcome_ == Outcome::early) return too_soon(d.events, *d.shortest);
        const std::string lead =
            fmt::format(FMT_COMPILE("The {}{} was due by "), words_.events(d.events), of_part());
        return awaited(lead, d.every.calendar);
    }

    std::string within(const Clause& clause, const Within& d) {
        std::string lead;
        if (clause.trigger.kind == TriggerKind::once) {
            lead = fmt::format(FMT_COMPILE("From {}, when {}, "), words_.when(o_.opened),
                               turned(words_.condition(clause.trigger.once)));
        } else {
            lead =
                fmt::format(FMT_COMPILE("After the {} {}, "), event_name(o_.opened_by), words_.on(o_.opened));
        }
        lead += fmt::format(FMT_COMPILE("{}{} was due by "), Words::a(words_.events(d.events)), of_part());
        const Span* span = std::get_if<Span>(&d.within);
        const Until* until = std::get_if<Until>(&d.within);
        return awaited(lead, (span != nullptr && span->calendar) ||
                                 (until != nullptr && *until == Until::same_calendar_day));
    }
    static std::string turned(const std::string& condition) { return "this became true (" + condition + ")"; }

    // "… was due by X", then what became of it.
    std::string awaited(std::string lead, bool calendar) {
        if (outcome_ == Outcome::not_assessable || !o_.due) return not_judged();
        const bool grace = o_.limit && *o_.limit != *o_.due;
        const Instant limit = o_.limit.value_or(*o_.due);
        lead += words_.end(*o_.due, calendar);
        const bool past_due = o_.closed && *o_.closed > *o_.due;
        const bool graceful = grace && (past_due || outcome_ == Outcome::pending);
        if (graceful)
            lead += fmt::format(FMT_COMPILE(" (with grace, by {})"), words_.when_beside(limit, *o_.due));
        const auto closed = [&] { return words_.at(*o_.closed, calendar ? *o_.due - 1 : *o_.due); };
        switch (outcome_) {
            case Outcome::met:
                return fmt::format(FMT_COMPILE("{} and came {}, {}."), lead,
                                   past_due ? "within the grace" : "in time", closed());
            case Outcome::late:
                return fmt::format(FMT_COMPILE("{} and came {} {}, {}."), lead, Words::lasted(*lateness(o_)),
                                   grace ? "after that" : "late", closed());
            case Outcome::missed:
                return lead + " and had not come " + when_given_up() + overdue() + ".";
            case Outcome::no_longer_due:
                return lead + ", but was no longer asked for " + when_ended() + ".";
            case Outcome::pending:
                return Words::sentence_case(lead) + "; the record ends before that" + recorded_until() + ".";
            default:
                return lead + ".";
        }
    }
    std::string when_given_up() const {
        if (!o_.closed) return recorded_until();
        if (removed()) return "when the line was removed, " + words_.on(*o_.closed);
        if (*o_.closed == horizon_) return "by the end of the record, " + words_.on(*o_.closed);
        return "when it was no longer asked for, " + words_.on(*o_.closed);
    }
    std::string when_ended() const {
        if (!o_.closed) return "";
        return fmt::format(FMT_COMPILE("from {}{}"), words_.when(*o_.closed),
                           removed() ? ", when the line was removed" : "");
    }
    bool removed() const { return o_.closed && episode_.removed_at && *o_.closed == *episode_.removed_at; }
    std::string overdue() const {
        const auto late = lateness(o_);
        return late && *late > 0 ? fmt::format(FMT_COMPILE(", {} past the limit"), Words::lasted(*late)) : "";
    }
    std::string recorded_until() const { return ", " + words_.on(horizon_); }

    std::string too_soon(const Events& events, const Span& shortest) {
        if (outcome_ == Outcome::not_assessable) return not_judged();
        if (!o_.closed)
            return fmt::format(FMT_COMPILE("No further {} is in the record{}."), words_.events(events),
                               recorded_until());
        const Instant earliest = add(o_.opened, shortest, words_.zone());
        const std::string lead = fmt::format(FMT_COMPILE("The {}{} {} came {} after the one before, {}"),
                                             words_.events(events), of_part(), words_.on(*o_.closed),
                                             Words::lasted(*o_.closed - o_.opened), words_.on(o_.opened));
        if (outcome_ != Outcome::early) return lead + ", which is not too soon.";
        return fmt::format(FMT_COMPILE("{}; it was not to come within {}, that is before {}."), lead,
                           Words::span(shortest), words_.when(earliest));
    }

    std::string each_period(const EachPeriod& d) {
        const std::string what = words_.events(d.events);
        const std::string asked =
            d.times == 1 ? Words::a(what) : fmt::format(FMT_COMPILE("{} {} times"), Words::a(what), d.times);
        const std::string lead = fmt::format(FMT_COMPILE("{}{} was asked for {}"),
                                             Words::sentence_case(asked), of_part(), period(d.period));
        switch (outcome_) {
            case Outcome::met:
                return lead + (d.times == 1 ? " and came" : " and came that often") +
                       (o_.closed ? ", " + words_.at(*o_.closed, o_.opened) : "") + ".";
            case Outcome::missed:
                return lead + (d.times == 1 ? "; none was recorded." : "; fewer were recorded.");
            case Outcome::pending:
                return lead + "; the record ends before that period does" + recorded_until() + ".";
            default:
                return lead + ". " + not_judged();
        }
    }
    std::string period(Period period) const {
        if (period == Period::calendar_day) return "on " + Words::date(words_.zone().date_of(o_.opened));
        const std::int64_t begin = words_.zone().time_of_day(o_.opened);
        for (const Shift& shift : policy_.shifts) {
            if (shift.from == begin && shift.edition == policy_.clauses[o_.item].edition) {
                return fmt::format(FMT_COMPILE("in the {} shift of {}"), Words::name(shift.name),
                                   words_.when(o_.opened));
            }
        }
        return "in the shift of " + words_.when(o_.opened);
    }

    std::string either_side(const WithinEitherSide& d) {
        const std::string lead = fmt::format(
            FMT_COMPILE("At the {} {}, {} was asked for within {} before or after"), event_name(o_.opened_by),
            words_.on(o_.opened), Words::a(words_.events(d.events)), Words::span(d.within));
        switch (outcome_) {
            case Outcome::met:
                return lead + "; one was recorded" + at_answer() + ".";
            case Outcome::not_met:
                return lead + "; none was recorded.";
            case Outcome::pending:
                return lead + "; the record ends before that" + recorded_until() + ".";
            case Outcome::no_longer_due:
                return lead + "; the line was removed before that time was over.";
            default:
                return lead + ". " + not_judged();
        }
    }
    std::string at_answer() const {
        if (o_.closed_by == none || o_.closed_by == o_.opened_by) return "";
        return ", " + words_.at(episode_.events[o_.closed_by].at, o_.opened);
    }

    std::string have_had(const HaveHad& d) {
        std::string lead =
            fmt::format(FMT_COMPILE("Before the {} {}, {} was asked for"), event_name(o_.opened_by),
                        words_.on(o_.opened), Words::a(words_.events(d.events)));
        if (d.window.in_last) lead += " in the last " + Words::span(*d.window.in_last);
        if (!d.window.since.empty()) lead += " since the last " + words_.events(d.window.since);
        if (outcome_ == Outcome::met) return lead + "; one was recorded" + at_answer() + ".";
        if (outcome_ == Outcome::not_met) return lead + "; none was recorded.";
        return lead + ". " + not_judged();
    }

    std::string holds(const Holds& d) {
        const std::string lead = at_event() + "this was asked for: " + words_.condition(d.condition) + ".";
        if (outcome_ == Outcome::not_assessable) return lead + " " + not_judged();
        const std::string verdict = outcome_ == Outcome::met ? "which meets it" : "which does not meet it";
        const std::string recorded = recorded_values();
        if (recorded.empty()) return lead + (outcome_ == Outcome::met ? " It was met." : " It was not met.");
        return fmt::format(FMT_COMPILE("{} Recorded: {}, {}."), lead, recorded, verdict);
    }
    // The values that the demand reads, missing ones said to be missing.
    std::string recorded_values() const {
        std::string text;
        for (const Input& input : inputs_) {
            if (!input.demanded) continue;
            if (!text.empty()) text += ", ";
            text += owned(input.name) + " " + shown(input);
        }
        return text;
    }
    // "patient's age", "line's kind", "dry time".
    static std::string owned(const std::string& name) {
        const std::size_t dot = name.find('.');
        if (dot == std::string::npos) return Words::name(name);
        const std::string owner = name.substr(0, dot);
        return (owner == "state" ? "" : Words::name(owner) + "'s ") + Words::name(name.substr(dot + 1));
    }
    std::string shown(const Input& input) const {
        if (input.value.state == Known::undocumented) return "not recorded";
        if (input.value.state == Known::set_aside) return "set aside as not usable";
        if (input.type == nullptr) return Words::name(input.text);
        if (!input.text.empty()) return input.text;
        if (input.type->kind == TypeKind::key || input.type->kind == TypeKind::text) return "recorded";
        return words_.quantity(*input.type, input.value.number);
    }

    std::string document(const Document& d) {
        std::vector<std::string> missing;
        std::vector<std::string> spoiled;
        for (const Input& input : inputs_) {
            if (!input.demanded) continue;
            if (input.value.state == Known::undocumented) missing.push_back(Words::name(input.name));
            if (input.value.state == Known::set_aside) spoiled.push_back(Words::name(input.name));
        }
        if (outcome_ == Outcome::met) {
            std::vector<std::string> all;
            for (const FieldId field : d.fields) all.push_back(Words::name(policy_.fields[field]));
            return Words::sentence_case(at_event() + list(all) + (all.size() == 1 ? " was" : " were") +
                                        " recorded.");
        }
        std::string text = at_event();
        if (!missing.empty())
            text += list(missing) + (missing.size() == 1 ? " was" : " were") + " not recorded";
        if (!spoiled.empty()) {
            text += std::string(missing.empty() ? "" : "; ") + list(spoiled) +
                    (spoiled.size() == 1 ? " was" : " were") + " recorded with a value that is not usable";
        }
        if (missing.empty() && spoiled.empty()) return not_judged();
        return text + ".";
    }

    std::string follow_steps(const FollowSteps& d) {
        const Event* event = o_.opened_by == none ? nullptr : &episode_.events[o_.opened_by];
        if (event == nullptr || event->step_count == 0) return at_event() + "no steps were recorded.";
        std::vector<std::string> recorded;
        for (std::uint32_t i = 0; i < event->step_count; ++i) {
            const std::uint32_t step = episode_.steps[event->steps + i].step;
            if (step != none) recorded.push_back(policy_.event_kinds[event->kind].steps[step]);
        }
        std::vector<std::string> missing;
        for (const std::string& step : d.steps) {
            const auto found = std::find(recorded.begin(), recorded.end(), step);
            if (found == recorded.end()) {
                missing.push_back(Words::name(step));
            } else {
                recorded.erase(found);
            }
        }
        if (!missing.empty()) {
            return fmt::format(FMT_COMPILE("{}{} {} not recorded: {}."), at_event(),
                               missing.size() == 1 ? "a step" : "steps", missing.size() == 1 ? "was" : "were",
                               list(missing));
        }
        std::vector<std::string> order;
        for (const std::string& step : d.steps) order.push_back(Words::name(step));
        if (outcome_ == Outcome::met) {
            return at_event() + "every step was recorded" + (d.in_order ? ", in order." : ".");
        }
        if (outcome_ == Outcome::not_assessable) return not_judged();
        return at_event() + "every step was recorded, but not in this order: " + list(order) + ".";
    }

    std::string forbid(const Forbid& d) {
        const std::string what =
            fmt::format(FMT_COMPILE("The {}{} {}"),
                        o_.opened_by == none ? words_.events(d.events) : event_name(o_.opened_by), of_part(),
                        words_.on(o_.opened));
        if (outcome_ == Outcome::not_assessable) return not_judged();
        if (outcome_ == Outcome::met) return what + " was allowed.";
        return what + " was not allowed" + not_allowed_where(d.events) + ".";
    }
    std::string not_allowed_where(const Events& events) const {
        for (const Pattern& pattern : events) {
            const bool this_one = o_.opened_by != none && episode_.events[o_.opened_by].kind == pattern.event;
            if (this_one && pattern.where != none) return " (" + words_.condition(pattern.where) + ")";
        }
        return "";
    }

    std::string at_most_times(const AtMostTimes& d) {
        if (outcome_ == Outcome::not_assessable) return not_judged();
        return fmt::format(FMT_COMPILE("The {}{} {} was {} {} allowed in {}."), words_.events(d.events),
                           of_part(), words_.on(o_.opened),
                           outcome_ == Outcome::met ? "within the" : "beyond the", d.times,
                           Words::span(d.in));
    }

    // ---- ladders and bundles

    std::string ladder() {
        const Ladder& ladder = policy_.ladders[o_.item];
        if (o_.step >= ladder.steps.size()) return hold(ladder, ladder.holds[o_.step - ladder.steps.size()]);
        const LadderStep& step = ladder.steps[o_.step];
        std::vector<std::string> roles;
        for (const RoleId role : step.roles) roles.push_back(Words::name(policy_.roles[role]));
        const std::string lead =
            fmt::format(FMT_COMPILE("{} Step {}, from {}: the {} was to be notified by "), ladder.sentence,
                        o_.step + 1, words_.when(o_.opened), list(roles, " or "));
        if (!o_.due)
            return fmt::format(
                FMT_COMPILE("{} Whether this was to start {} is not known: {} could not be judged."),
                ladder.sentence, words_.on(o_.opened), policy_.clauses[o_.started_by].id);
        const std::string due = lead + words_.when_beside(*o_.due, o_.opened);
        switch (outcome_) {
            case Outcome::met:
                return due + " and was, " + words_.at(o_.closed.value_or(o_.opened), o_.opened) + ".";
            case Outcome::late:
                return fmt::format(FMT_COMPILE("{} and was {} late, {}."), due,
                                   Words::lasted(lateness(o_).value_or(0)), words_.at(*o_.closed, o_.opened));
            case Outcome::missed:
                return due + "; no notification was recorded while the call was open.";
            case Outcome::no_longer_due:
                return due + ", but somebody had acknowledged before.";
            case Outcome::not_assessable:
            case Outcome::not_met:  // where what is undocumented counts so
                return due + "; a notification was recorded, but not of whom.";
            default:
                return due + "; the record ends before that" + recorded_until() + ".";
        }
    }
    std::string hold(const Ladder& ladder, const LadderHold& hold) {
        const std::string lead =
            fmt::format(FMT_COMPILE("{} From {} no new {} was to come until {}"), ladder.sentence,
                        words_.when(o_.opened), words_.events(hold.events), words_.events(hold.until));
        switch (outcome_) {
            case Outcome::met:
                return lead + "; none came.";
            case Outcome::not_met:
                return lead + (o_.closed ? "; one came " + words_.at(*o_.closed, o_.opened) : "") + ".";
            case Outcome::pending:
                return lead + "; none had come when the record ends" + recorded_until() + ".";
            default:
                return lead + ". " + not_judged();
        }
    }

    std::string bundle() {
        const Bundle& bundle = policy_.bundles[o_.item];
        const std::string lead = fmt::format(FMT_COMPILE("{} ({}): "), bundle.title, bundle_time(bundle));
        switch (outcome_) {
            case Outcome::met:
                return lead + "every clause that applied was kept.";
            case Outcome::pending:
                return lead + "not yet complete" + recorded_until() + ".";
            case Outcome::not_assessable:
                return lead + "could not be judged" + members(false) + ".";
            default:
                return lead + "not every clause was kept" + members(true) + ".";
        }
    }
    std::string bundle_time(const Bundle& bundle) const {
        switch (bundle.each) {
            case BundleEach::calendar_day:
                return Words::date(words_.zone().date_of(o_.opened));
            case BundleEach::shift:
                return "shift of " + words_.when(o_.opened);
            case BundleEach::line:
                return "the whole line";
            case BundleEach::event:
                return words_.when(o_.opened);
        }
        return "";
    }
    // The clauses of the bundle that went against it, or could not be judged.
    std::string members(bool against) const {
        std::vector<std::string> names;
        for (const Judgement::Member& member : all_.members_of(o_)) {
            const Opportunity& other = all_[member.member];
            if (against ? !counts_against(other.outcome) : other.outcome != Outcome::not_assessable) continue;
            std::string name = policy_.clauses[other.item].id;
            name += fmt::format(FMT_COMPILE(" ({})"),
                                Words::name(outcome_names[static_cast<std::size_t>(other.outcome)]));
            if (std::find(names.begin(), names.end(), name) == names.end()) names.push_back(std::move(name));
        }
        return names.empty() ? "" : ": " + list(names);
    }

    // ---- shared

    // The event that leaves it open: the answer where what is missing is missing there, or where nothing is
    // and the answer itself is in doubt; else what opened it.
    std::uint32_t unsettled_by(bool nothing_missing) const {
        const std::uint32_t answer = o_.closed_by;
        if (answer == none || answer == o_.opened_by) return o_.opened_by;
        const std::string at_answer = pointer_of(policy_, episode_.events[answer]) + "/";
        const bool missing_there = std::any_of(inputs_.begin(), inputs_.end(), [&](const Input& input) {
            return input.value.state != Known::known && input.pointer.rfind(at_answer, 0) == 0;
        });
        return missing_there || nothing_missing ? answer : o_.opened_by;
    }

    // Why there is no verdict: what is missing, as far as the record shows it.
    std::string not_judged() {
        std::vector<std::string> missing;
        std::vector<std::string> spoiled;
        for (const Input& input : inputs_) {
            const std::string name = Words::name(input.name.substr(input.name.find('.') + 1));
            if (input.value.state == Known::undocumented) missing.push_back(name);
            if (input.value.state == Known::set_aside) spoiled.push_back(name);
        }
        std::string why;
        if (!missing.empty())
            why = "the " + list(missing) + (missing.size() == 1 ? " was" : " were") + " not recorded";
        if (!spoiled.empty()) {
            why += std::string(why.empty() ? "" : "; ") + "the value of " + list(spoiled) + " was set aside";
        }
        // With neither a limit nor a doubt, what opened it lies before what is in view.
        const bool opened_unseen =
            !o_.due && o_.opened_by == none && o_.closed != o_.opened && o_.origin == OriginKind::clause;
        if (why.empty() && episode_.observed_from &&
            (o_.opened <= *episode_.observed_from || opened_unseen)) {
            why = "what happened before " + words_.when(*episode_.observed_from) + " is not in the record";
        }
        const std::uint32_t event = unsettled_by(why.empty());
        const bool of_parts = event != none && o_.part_kind != none &&
                              policy_.event_kinds[episode_.events[event].kind].of == o_.part_kind;
        if (why.empty() && of_parts && episode_.events[event].part == none)
            why = "which " + Words::name(policy_.part_kinds[o_.part_kind].name) + " it was is not recorded";
        if (why.empty()) why = "what is recorded does not settle it";
        const std::string where =
            event == none
                ? "From " + words_.when(o_.opened)
                : fmt::format(FMT_COMPILE("At the {} {}"), event_name(event),
                              words_.on(event == o_.opened_by ? o_.opened : episode_.events[event].at));
        return where + ", it could not be judged: " + why + ".";
    }

    std::string excuse() const {
        const std::string outcome = Words::name(outcome_names[static_cast<std::size_t>(o_.before_exception)]);
        std::string because;
        if (o_.origin == OriginKind::clause && o_.exception != none) {
            const Exception& exception = policy_.clauses[o_.item].exceptions[o_.exception];
            because = exception.because.empty() ? words_.condition(exception.condition) : exception.because;
        }
        return fmt::format(FMT_COMPILE("This would be {}, but is excused{}."), outcome,
                           because.empty() ? "" : ": " + because);
    }

    std::string at_event() const {
        if (o_.opened_by == none) return Words::sentence_case(words_.on(o_.opened)) + ", ";
        return fmt::format(FMT_COMPILE("At the {}{} {}, "), event_name(o_.opened_by), of_part(),
                           words_.on(o_.opened));
    }
    std::string event_name(std::uint32_t event) const {
        return event == none ? "event" : words_.event(episode_.events[event].kind);
    }
    std::string of_part() const {
        return o_.part_kind == none ? "" : " of " + words_.part(o_.part_kind, o_.part, episode_);
    }
    static std::string list(const std::vector<std::string>& items, std::string_view last = " and ") {
        std::string out;
        for (std::size_t i = 0; i < items.size(); ++i) {
            if (i > 0) out += i + 1 == items.size() ? std::string(last) : ", ";
            out += items[i];
        }
        return out;
    }

    const Words& words_;
    const Policy& policy_;
    const Episode& episode_;
    const Opportunity& o_;
    const std::vector<Input>& inputs_;
    const Judgement& all_;
    Instant horizon_;
    Outcome outcome_;  // an excused one's own
};

}  // namespace

std::string say(const Words& words, const Episode& episode, const Opportunity& opportunity,
                const std::vector<Input>& inputs, const Judgement& all, Instant horizon) {
    return Sayer(words, episode, opportunity, inputs, all, horizon).say();
}

}  // namespace linelaw::runtime
