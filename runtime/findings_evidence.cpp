#include "runtime/findings_evidence.hpp"

#include <string_view>

#include "runtime/json_text.hpp"
#include "runtime/overloaded.hpp"
#include "runtime/time.hpp"

namespace linelaw::runtime {
namespace {

// The items of a list, each after the first behind a comma.
class List {
  public:
    explicit List(std::string& out) : out_(out) { out_ += '['; }
    std::string& item() {
        if (!first_) out_ += ',';
        first_ = false;
        return out_;
    }
    void end() { out_ += ']'; }

  private:
    std::string& out_;
    bool first_ = true;
};

void put_event(std::string& out, const Policy& policy, const Episode& episode, std::uint32_t index,
               std::string_view role, bool keys) {
    const Event& event = episode.events[index];
    out += R"({"role":)";
    put_text(out, role);
    out += R"(,"event":)";
    put_text(out, policy.event_kinds[event.kind].name);
    if (keys && event.id != none) {
        out += R"(,"id":)";
        put_text(out, episode.texts[event.id]);
    }
    out += R"(,"pointer":)";
    put_text(out, pointer_of(policy, event));
    out += R"(,"at":)";
    put_instant(out, event.at);
    out += '}';
}

void put_known(std::string& out, const Policy& policy, const Type& type, std::int64_t value) {
    switch (type.kind) {
        case TypeKind::key:
        case TypeKind::text:
            return put_text(out, "recorded, not shown");
        case TypeKind::flag:
            out += value != 0 ? "true" : "false";
            return;
        case TypeKind::one_of:
            return put_text(out, policy.symbols[static_cast<std::size_t>(value)]);
        case TypeKind::time_of_day:
            return put_text(out, write_time_of_day(value));
        default:
            break;
    }
    out += Words::number(type, value);  // a decimal as JSON writes one
    if (type.unit.empty()) return;
    out += R"(,"unit":)";
    put_text(out, type.unit);
}

void put_input(std::string& out, const Policy& policy, const Input& input) {
    out += R"({"role":"value","attribute":)";
    put_text(out, input.name);
    if (!input.pointer.empty()) {
        out += R"(,"pointer":)";
        put_text(out, input.pointer);
    }
    out += R"(,"value":)";
    if (input.value.state != Known::known)
        out += input.value.state == Known::set_aside ? R"(null,"why":"set aside")"
                                                     : R"(null,"why":"not recorded")";
    else if (input.type == nullptr || !input.text.empty())
        put_text(out, input.text);
    else
        put_known(out, policy, *input.type, input.value.number);
    out += '}';
}

void put_names(std::string& out, const Policy& policy, const Events& events) {
    List names(out);
    for (const Pattern& pattern : events) put_text(names.item(), policy.event_kinds[pattern.event].name);
    names.end();
}

void put_lacking(std::string& out, const Policy& policy, const HaveHad& d, Instant until) {
    out += R"({"role":"absent","events":)";
    put_names(out, policy, d.events);
    if (d.window.in_last) {
        out += R"(,"in_the_last":)";
        put_text(out, Words::span(*d.window.in_last));
    }
    if (!d.window.since.empty()) {
        out += R"(,"since_last":)";
        put_names(out, policy, d.window.since);
    }
    out += R"(,"until":)";
    put_instant(out, until);
    out += '}';
}

// Whether the time in which it was awaited went by without it.
bool went_unanswered(Outcome outcome) {
    return outcome == Outcome::late || outcome == Outcome::missed || outcome == Outcome::pending ||
           outcome == Outcome::no_longer_due;
}

void put_span(std::string& out, Instant from, Instant until) {
    out += R"(,"from":)";
    put_instant(out, from);
    out += R"(,"until":)";
    put_instant(out, until);
    out += '}';
}

// Of a ladder's step: that nobody called these.
void put_no_call(List& evidence, const Policy& policy, const Opportunity& o, Instant horizon) {
    const Ladder& ladder = policy.ladders[o.item];
    if (o.step >= ladder.steps.size() || policy.notification == none || !went_unanswered(o.outcome)) return;
    std::string& out = evidence.item();
    out += R"({"role":"absent","events":)";
    put_names(out, policy, {{policy.notification, none}});
    out += R"(,"to":)";
    List roles(out);
    for (const RoleId role : ladder.steps[o.step].roles) put_text(roles.item(), policy.roles[role]);
    roles.end();
    put_span(out, o.opened, o.closed.value_or(horizon));
}

// That nothing of a kind came between two instants is evidence as much as an event is.
void put_absence(List& evidence, const Words& words, const Opportunity& o, Instant horizon) {
    const Policy& policy = words.policy();
    const Outcome outcome = o.outcome == Outcome::excused ? o.before_exception : o.outcome;
    const auto between = [&](const Events& events, Instant from, Instant until) {
        std::string& out = evidence.item();
        out += R"({"role":"absent","events":)";
        put_names(out, policy, events);
        put_span(out, from, until);
    };
    const bool unanswered = went_unanswered(outcome);
    const Instant closed = o.closed.value_or(horizon);
    std::visit(overloaded{
                   [&](const AtLeastEvery& d) {
                       if (unanswered) between(d.events, o.opened, closed);
                   },
                   [&](const Within& d) {
                       if (unanswered) between(d.events, o.opened, closed);
                   },
                   [&](const EachPeriod& d) {
                       if (outcome == Outcome::missed && d.times == 1) {
                           between(d.events, o.opened, o.limit.value_or(closed));
                       }
                   },
                   [&](const WithinEitherSide& d) {
                       if (outcome != Outcome::not_met) return;
                       const Instant after = add(o.opened, d.within, words.zone());
                       between(d.events, o.opened - (after - o.opened), after);
                   },
                   [&](const HaveHad& d) {
                       if (outcome == Outcome::not_met) put_lacking(evidence.item(), policy, d, o.opened);
                   },
                   [&](const auto&) {},
               },
               policy.clauses[o.item].demand);
}

}  // namespace

void put_evidence(std::string& out, const Words& words, const Episode& episode, const Opportunity& o,
                  const std::vector<Input>& inputs, Instant horizon, bool keys) {
    const Policy& policy = words.policy();
    List evidence(out);
    if (o.opened_by != none) put_event(evidence.item(), policy, episode, o.opened_by, "opened", keys);
    if (o.closed_by != none && o.closed_by != o.opened_by)
        put_event(evidence.item(), policy, episode, o.closed_by, "closed", keys);
    if (o.origin == OriginKind::clause) put_absence(evidence, words, o, horizon);
    if (o.origin == OriginKind::ladder) put_no_call(evidence, policy, o, horizon);
    for (const Input& input : inputs) put_input(evidence.item(), policy, input);
    evidence.end();
}

}  // namespace linelaw::runtime
