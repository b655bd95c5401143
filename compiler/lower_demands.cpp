// Demands, and whether each may stand with what makes its clause speak (language.md, the table of demands).
#include <algorithm>

#include "compiler/lower.hpp"

namespace linelaw::compiler {

using runtime::TriggerKind;

namespace {

std::string_view line_of(TriggerKind kind) {
    switch (kind) {
        case TriggerKind::at:
            return "at";
        case TriggerKind::after:
            return "after";
        case TriggerKind::before:
            return "before";
        case TriggerKind::once:
            return "once";
        case TriggerKind::stretch:
            break;
    }
    return "";
}

struct Reader {
    Work& work;
    const grammar::Demand& whole;
    const runtime::Trigger& trigger;
    const Context& context;

    using Answer = std::optional<runtime::Demand>;

    // Whether the clause speaks in one of the ways that this demand needs; said where not.
    bool stands(std::initializer_list<TriggerKind> with, std::string_view demand) const {
        if (std::find(with.begin(), with.end(), trigger.kind) != with.end()) return true;
        const bool over_time = *with.begin() == TriggerKind::stretch;
        std::vector<std::string> lines;
        for (const auto kind : with) lines.emplace_back(line_of(kind));
        const std::string has = trigger.kind == TriggerKind::stretch
                                    ? ", and this clause has none"
                                    : ", and this clause has " + in_ticks(line_of(trigger.kind));
        auto& d =
            work.report.add("type.demand",
                            std::string(demand) +
                                (over_time ? " is asked over time" : " needs " + in_ticks(lines, "or")) + has,
                            whole.place, "this demand");
        if (trigger.kind == TriggerKind::at && std::string(demand) == "`within`")
            advise(d, "write `after` in place of `at`, or `either side` after the time");
        if (std::string(demand) == "`within`" && trigger.kind == TriggerKind::stretch)
            advise(d,
                   "add a line `after EVENT` that says what it follows; what is to come again and again is "
                   "written `at least every`");
        if (with.size() == 1 && *with.begin() == TriggerKind::at && trigger.kind == TriggerKind::after)
            advise(d, "write `at` in place of `after`: it is asked of the event itself");
        const bool limits = only_limits();
        if (over_time && trigger.kind != TriggerKind::stretch && limits)
            advise(d, "take " + in_ticks(line_of(trigger.kind)) +
                          " out, and say with `for` or `while` when this holds");
        if (over_time && trigger.kind != TriggerKind::stretch && !limits)
            advise(d, "write how soon it follows, as `within 2 h` or `within the same shift`, or take " +
                          in_ticks(line_of(trigger.kind)) + " out");
        return false;
    }

    // Whether it asks for nothing, and only keeps events from coming, or from coming too often.
    bool only_limits() const {
        return std::holds_alternative<grammar::Forbid>(whole.node) ||
               std::holds_alternative<grammar::AtMostTimes>(whole.node) ||
               std::holds_alternative<grammar::NoMoreOftenThan>(whole.node);
    }

    std::optional<runtime::Events> events(const grammar::Events& written) const {
        return lower_events(work, written, outside());
    }
    Context outside() const {
        Context c = context;
        c.at_hand.clear();
        return c;
    }
    // `unless` is asked at the event that would be early.
    bool unless(const std::optional<grammar::Box<grammar::Expression>>& written,
                const std::optional<runtime::Events>& of, runtime::ExpressionId& lowered) const {
        if (!written) return true;
        if (!of) return false;
        const auto condition =
            lower_condition(work, **written, at_events(work, kinds_of(*of), "`unless`", outside()));
        if (condition) lowered = *condition;
        return condition.has_value();
    }
    bool span(const std::optional<grammar::Quantity>& written, std::string_view what,
              runtime::Span& read) const {
        if (!written) return true;
        const auto one = read_span(*written, what, work.report);
        if (one) read = *one;
        return one.has_value();
    }

    Answer operator()(const grammar::AtLeastEvery& node) const {
        bool good = stands({TriggerKind::stretch}, "`at least every`");
        runtime::AtLeastEvery demand;
        const auto of = events(node.events);
        good = span(node.every, "every", demand.every) && good;
        good = span(node.grace, "grace", demand.grace) && good;
        if (node.shortest) {
            demand.shortest.emplace();
            good = span(node.shortest, "no more often than every", *demand.shortest) && good;
        }
        good = unless(node.unless, of, demand.unless) && good;
        demand.counted_anew = node.counted_anew;
        if (!of || !good) return std::nullopt;
        demand.events = *of;
        return demand;
    }
    Answer operator()(const grammar::NoMoreOftenThan& node) const {
        bool good = stands({TriggerKind::stretch}, "`no more often than every`");
        runtime::NoMoreOftenThan demand;
        const auto of = events(node.events);
        good = span(node.shortest, "no more often than every", demand.shortest) && good;
        good = unless(node.unless, of, demand.unless) && good;
        if (!of || !good) return std::nullopt;
        demand.events = *of;
        return demand;
    }
    Answer operator()(const grammar::EachPeriod& node) const {
        const bool shift = node.period == grammar::Period::shift;
        bool good = stands({TriggerKind::stretch}, shift ? "`each shift`" : "`each calendar day`");
        runtime::EachPeriod demand;
        demand.period = shift ? runtime::Period::shift : runtime::Period::calendar_day;
        if (shift) good = need_shifts() && good;
        const auto of = events(node.events);
        if (node.times) {
            const auto times = read_times(*node.times, work.report);
            good = good && times;
            demand.times = times.value_or(1);
        }
        if (!of || !good) return std::nullopt;
        demand.events = *of;
        return demand;
    }
    Answer operator()(const grammar::Within& node) const {
        bool good = stands({TriggerKind::after, TriggerKind::once}, "`within`");
        runtime::Within demand;
        const auto of = events(node.events);
        if (const auto* time = std::get_if<grammar::Quantity>(&node.within)) {
            const auto read = read_span(*time, "within", work.report);
            good = good && read;
            if (read) demand.within = *read;
        } else {
            const auto until = std::get<grammar::Until>(node.within);
            demand.within = static_cast<runtime::Until>(until);
            if (until != grammar::Until::same_calendar_day) good = need_shifts() && good;
        }
        good = span(node.grace, "grace", demand.grace) && good;
        if (!of || !good || !can_follow(*of)) return std::nullopt;
        demand.events = *of;
        return demand;
    }
    Answer operator()(const grammar::WithinEitherSide& node) const {
        bool good = stands({TriggerKind::at}, "`either side`");
        runtime::WithinEitherSide demand;
        const auto of = events(node.events);
        good = span(node.within, "within", demand.within) && good;
        if (!of || !good) return std::nullopt;
        demand.events = *of;
        return demand;
    }
    Answer operator()(const grammar::HaveHad& node) const {
        bool good = stands({TriggerKind::before}, "`have had`");
        runtime::HaveHad demand;
        const auto of = events(node.events);
        if (node.window) {
            const auto window = lower_window(work, *node.window, outside());
            good = good && window;
            if (window) demand.window = *window;
            demand.anywhen = false;
        }
        if (!of || !good) return std::nullopt;
        demand.events = *of;
        return demand;
    }
    Answer operator()(const grammar::Holds& node) const {
        // `must not dressing_change` is read as a condition by the grammar, which knows no names.
        if (const auto* negation = std::get_if<grammar::Not>(&node.condition.node))
            if (const auto* reference = std::get_if<grammar::Reference>(&negation->operand->node))
                if (work.names.events.find(reference->name.text) != nullptr)
                    return forbid({{reference->name, std::nullopt, reference->name.place}});
        if (const auto* reference = std::get_if<grammar::Reference>(&node.condition.node))
            if (work.names.events.use(reference->name.text) != nullptr && context.at_hand.empty()) {
                auto& d = work.report.add(
                    "type.demand", "what is demanded of " + in_ticks(reference->name.text) + " is not said",
                    whole.place, "an event by itself");
                advise(d, "say how often or how soon, as " +
                              in_ticks(reference->name.text + " at least every 7 days") + " or " +
                              in_ticks(reference->name.text + " within 2 h"));
                return std::nullopt;
            }
        const bool good = stands({TriggerKind::at}, "a condition as a demand");
        if (!good && context.at_hand.empty()) return std::nullopt;
        const auto condition = lower_condition(work, node.condition, context);
        if (!condition || !good) return std::nullopt;
        return runtime::Holds{*condition};
    }
    Answer operator()(const grammar::Document& node) const {
        bool good = stands({TriggerKind::at}, "`document`");
        if (context.at_hand.empty()) return std::nullopt;
        runtime::Document demand;
        for (const auto& name : node.attributes) {
            const Field field = resolve_field(work, name, context);
            good = good && field.field != runtime::none;
            if (field.field != runtime::none) demand.fields.push_back(field.field);
        }
        if (!good) return std::nullopt;
        return demand;
    }
    Answer operator()(const grammar::FollowSteps& node) const {
        bool good = stands({TriggerKind::at}, "`follow steps`");
        if (context.at_hand.empty()) return std::nullopt;
        runtime::FollowSteps demand;
        demand.in_order = node.in_order;
        for (const auto& step : node.steps) {
            good = have_step(work, step, context) && good;
            demand.steps.push_back(step.text);
        }
        if (!good) return std::nullopt;
        return demand;
    }
    Answer operator()(const grammar::Forbid& node) const {
        const auto& first = node.events.front();
        if (node.events.size() == 1 && !first.where && work.names.events.find(first.event.text) == nullptr &&
            !what_is(work, first.event.text).empty())
            return (*this)(grammar::Holds{
                {grammar::Not{grammar::Expression{grammar::Reference{first.event}, first.place}},
                 whole.place}});
        return forbid(node.events);
    }
    Answer operator()(const grammar::AtMostTimes& node) const {
        bool good = stands({TriggerKind::stretch}, "`at most … times in`");
        runtime::AtMostTimes demand;
        const auto of = events(node.events);
        const auto times = read_times(node.times, work.report);
        good = span(node.in, "times in", demand.in) && good;
        if (!of || !times || !good) return std::nullopt;
        demand.events = *of;
        demand.times = *times;
        return demand;
    }
    Answer operator()(const grammar::LeavesToJudgement& node) const {
        if (use_name(work, work.names.questions, "question", node.question) == runtime::none)
            return std::nullopt;
        return runtime::LeavesToJudgement{node.question.text};
    }

  private:
    Answer forbid(const grammar::Events& written) const {
        const bool good = stands({TriggerKind::stretch}, "`not` and an event");
        const auto of = events(written);
        if (!of || !good) return std::nullopt;
        return runtime::Forbid{*of};
    }
    bool need_shifts() const {
        if (!work.names.shifts.names().empty()) return true;
        auto& d = work.report.add("name.unknown", "the policy speaks of shifts and declares none",
                                  whole.place, "which shifts");
        advise(d, "declare them, as `shift day from 07:00 to 19:30`");
        return false;
    }
    // After the line is out only few events can come.
    bool can_follow(const runtime::Events& awaited) const {
        const auto& policy = work.policy();
        const bool only_removal =
            !trigger.events.empty() && std::all_of(trigger.events.begin(), trigger.events.end(),
                                                   [&](const auto& p) { return p.event == policy.removal; });
        if (!only_removal) return true;
        for (const auto& pattern : awaited)
            if (policy.event_kinds[pattern.event].also_after_removal) return true;
        auto& d = work.report.add("type.after_removal",
                                  in_ticks(policy.event_kinds[awaited.front().event].name) +
                                      " cannot come after `removal`: the line is out",
                                  whole.place, "can never be answered");
        advise(d, "declare the event `also after removal`, or ask for it `before removal`");
        return false;
    }
};

}  // namespace

std::optional<runtime::Demand> lower_demand(Work& work, const grammar::Demand& demand,
                                            const runtime::Trigger& trigger, const Context& context) {
    return std::visit(Reader{work, demand, trigger, context}, demand.node);
}

const runtime::Events* demanded_events(const runtime::Demand& demand) {
    return std::visit(
        [](const auto& d) -> const runtime::Events* {
            using T = std::decay_t<decltype(d)>;
            if constexpr (std::is_same_v<T, runtime::AtLeastEvery> ||
                          std::is_same_v<T, runtime::NoMoreOftenThan> ||
                          std::is_same_v<T, runtime::EachPeriod> || std::is_same_v<T, runtime::Within> ||
                          std::is_same_v<T, runtime::WithinEitherSide> ||
                          std::is_same_v<T, runtime::HaveHad> || std::is_same_v<T, runtime::Forbid> ||
                          std::is_same_v<T, runtime::AtMostTimes>)
                return &d.events;
            else
                return nullptr;
        },
        demand);
}

}  // namespace linelaw::compiler
