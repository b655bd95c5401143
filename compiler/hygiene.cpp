#include "compiler/hygiene.hpp"

#include <algorithm>

#include "compiler/drift.hpp"
#include "compiler/tree_walk.hpp"

namespace linelaw::compiler {

using namespace grammar;

namespace {

void unused(Work& work, const Index& index, std::string_view code, std::string_view kind) {
    for (const auto& name : index.names()) {
        const auto& declared = *index.find(name);
        if (declared.used || declared.place.end == 0) continue;
        work.report.add(code, "nothing uses the " + std::string(kind) + ' ' + in_ticks(name), declared.place,
                        "not used");
    }
}

bool speaks_of_shifts(const runtime::Policy& policy) {
    for (const auto& clause : policy.clauses) {
        if (const auto* each = std::get_if<runtime::EachPeriod>(&clause.demand))
            if (each->period == runtime::Period::shift) return true;
        if (const auto* within = std::get_if<runtime::Within>(&clause.demand))
            if (const auto* until = std::get_if<runtime::Until>(&within->within))
                if (*until != runtime::Until::same_calendar_day) return true;
    }
    return std::any_of(policy.bundles.begin(), policy.bundles.end(),
                       [](const auto& b) { return b.each == runtime::BundleEach::shift; });
}

void unused_shifts(Work& work) {
    const auto& shifts = work.names.shifts;
    if (shifts.names().empty() || speaks_of_shifts(work.policy())) return;
    auto& d = work.report.add("unused.shift",
                              std::string("nothing uses the shift") +
                                  (shifts.names().size() > 1 ? "s " : " ") + in_ticks(shifts.names(), "and"),
                              shifts.find(shifts.names().front())->place, "not used");
    for (std::size_t i = 1; i < shifts.names().size(); ++i)
        d.labels.push_back({shifts.find(shifts.names()[i])->place, "nor is this"});
}

// Of the attributes that the policy's own texts declare: a vocabulary serves many policies, and that one of
// them leaves words of it unused is no news.
void unused_attributes(Work& work) {
    for (const auto& clause : work.policy().clauses)
        if (const auto* document = std::get_if<runtime::Document>(&clause.demand))
            for (auto& [id, declared] : work.names.attributes)
                if (id.owner == Owner::event || id.owner == Owner::part)
                    for (const auto field : document->fields)
                        if (attribute(work.policy(), id).field == field) declared.used = true;
    for (const auto& [id, declared] : work.names.attributes) {
        const bool own =
            declared.place.end != 0 && declared.place.text == work.layers.header.title.place.text;
        if (declared.used || !own || id.owner == Owner::part) continue;
        work.report.add("unused.attribute",
                        "no clause asks about the attribute " + in_ticks(attribute(work.policy(), id).name),
                        declared.place, "not used");
    }
}

void missing_lines(Work& work) {
    const auto& header = work.layers.header;
    if (!header.review_by) {
        auto& d = work.report.add("missing.review", "the policy has no day of review", header.title.place,
                                  "no `review by` follows");
        advise(d, "write `review by` and the day by which the committee looks at it again");
    }
    if (!header.undocumented) {
        auto& d =
            work.report.add("missing.undocumented",
                            "the policy does not say how what is undocumented counts; it is taken as `not "
                            "assessable`",
                            header.title.place, "no `undocumented counts as` follows");
        advise(d, "write `undocumented counts as not assessable` or `undocumented counts as not met`");
    }
    if (!header.time_zone) {
        auto& d = work.report.add(
            "missing.zone", "the policy names no time zone; days and shifts are taken on the clock of UTC",
            header.title.place, "no `time zone` follows");
        advise(d, "write `time zone` and its name, as `time zone America/Halifax`");
    }
}

void missing_sources(Work& work) {
    for (std::size_t c = 0; c < work.policy().clauses.size(); ++c) {
        const auto& clause = work.policy().clauses[c];
        if (!clause.sources.empty() || !clause.reason.empty()) continue;
        auto& d = work.report.add(
            "missing.source", "the clause " + in_ticks(clause.id) + " names neither a source nor a reason",
            work.out.clauses[c].id.place, "where does it come from");
        advise(d, "write `source` and the published text, or `reason` where it is local practice");
    }
}

// Only to be set beside one another: a month is taken as 30 days.
std::int64_t about(const runtime::Span& span) {
    constexpr std::int64_t days_of_month = 30;
    return (span.months * days_of_month + span.days) * runtime::microseconds_per_day + span.elapsed;
}

// A demand with an interval and a grace, where it is one.
struct Graced {
    const runtime::Span* interval = nullptr;
    const runtime::Span* grace = nullptr;
};
Graced graced(const runtime::Demand& demand) {
    if (const auto* every = std::get_if<runtime::AtLeastEvery>(&demand))
        return {&every->every, &every->grace};
    if (const auto* within = std::get_if<runtime::Within>(&demand))
        return {std::get_if<runtime::Span>(&within->within), &within->grace};
    return {};
}

const Quantity* written_grace(const ClauseItem& clause) {
    for (const ClauseLine& line : clause.lines) {
        const auto* demand = std::get_if<Demand>(&line.node);
        if (demand == nullptr) continue;
        if (const auto* every = std::get_if<AtLeastEvery>(&demand->node))
            return every->grace ? &*every->grace : nullptr;
        if (const auto* within = std::get_if<Within>(&demand->node))
            return within->grace ? &*within->grace : nullptr;
    }
    return nullptr;
}

void long_graces(Work& work) {
    for (std::size_t c = 0; c < work.policy().clauses.size(); ++c) {
        const Graced graced_demand = graced(work.policy().clauses[c].demand);
        const Quantity* written = written_grace(work.out.clauses[c]);
        if (graced_demand.interval == nullptr || written == nullptr) continue;
        if (about(*graced_demand.grace) <= about(*graced_demand.interval)) continue;
        auto& d = work.report.add("range.grace",
                                  "the clause " + in_ticks(work.policy().clauses[c].id) +
                                      " has a grace longer than the time that it adds to",
                                  written->place, "more than the time itself");
        advise(d, "shorten the grace, or say the whole time in the demand and leave the grace out");
    }
}

// Of `A or B where COND` the condition is B's alone, and who reads it aloud may take it for both: asked where
// A charts what the condition looks at as well.
class LoneWheres {
  public:
    explicit LoneWheres(Work& work) : work_(work) {}

    void look(const Events& events) {
        if (events.size() < 2 || !events.back().where) return;
        for (std::size_t i = 0; i + 1 < events.size(); ++i)
            if (events[i].where || !charts(events[i].event.text, **events.back().where)) return;
        std::string others;
        for (std::size_t i = 0; i + 1 < events.size(); ++i)
            others += (others.empty() ? "" : " or ") + in_ticks(events[i].event.text);
        const std::string last = in_ticks(events.back().event.text);
        auto& d = work_.report.add("unclear.where",
                                   "this `where` speaks of " + last + " alone, and any " + others +
                                       " counts, whatever was charted with it",
                                   (*events.back().where)->place, "of " + last + " alone");
        advise(d, "where it is meant for both, write it after each of them");
        advise(d, "or put the event with the `where` first, so that nobody takes it for both");
    }

  private:
    Work& work_;

    // Whether the event has every attribute that the condition names by itself.
    bool charts(const std::string& event, const Expression& where) const {
        bool any = false;
        bool all = true;
        TreeVisitor visitor;
        visitor.pattern = [&](const EventPattern&) { all = false; };  // other events chart for themselves
        visitor.window = [](const Window&) {};
        visitor.expression = [&](const Expression& e) {
            const auto* reference = std::get_if<Reference>(&e.node);
            if (reference == nullptr) return;
            constexpr std::string_view at_hand = "event.";
            std::string name = reference->name.text;
            if (name.rfind(at_hand, 0) == 0) name.erase(0, at_hand.size());
            const bool of_an_event = is_attribute(name);
            any = any || of_an_event;
            all = all && (!of_an_event || has(event, name));
        };
        walk(where, visitor);
        return any && all;
    }
    bool has(const std::string& event, const std::string& attribute) const {
        const runtime::Policy& policy = work_.policy();
        for (const runtime::EventKind& kind : policy.event_kinds)
            if (kind.name == event)
                return std::any_of(kind.attributes.begin(), kind.attributes.end(),
                                   [&](const auto& a) { return a.name == attribute; });
        return false;
    }
    bool is_attribute(const std::string& name) const {
        const std::vector<runtime::EventKind>& kinds = work_.policy().event_kinds;
        return std::any_of(kinds.begin(), kinds.end(),
                           [&](const auto& kind) { return has(kind.name, name); });
    }
};

void lone_wheres(Work& work) {
    LoneWheres wheres(work);
    for (const auto* item : work.layers.items)
        if (const auto* clause = std::get_if<ClauseItem>(&item->node))
            for (const ClauseLine& line : clause->lines) {
                if (const auto* at = std::get_if<AtLine>(&line.node)) wheres.look(at->events);
                if (const auto* after = std::get_if<AfterLine>(&line.node)) wheres.look(after->events);
                if (const auto* before = std::get_if<BeforeLine>(&line.node)) wheres.look(before->events);
            }
}

// A text of three dots, as `linelaw new` leaves them.
bool is_blank(const Text& text) {
    return text.text.find_first_not_of(" .") == std::string::npos || text.text == "…";
}

class Blanks {
  public:
    explicit Blanks(Work& work) : work_(work) {}

    void look(const Text& text, const std::string& what) {
        if (!is_blank(text)) return;
        auto& d = work_.report.add("gap.blank", what + " is still to be written", text.place, "blank");
        advise(d, "write it in the committee's own words");
    }
    void look(const std::optional<Text>& text, const std::string& what) {
        if (text) look(*text, what);
    }
    void look(const Item& item) {
        if (const auto* clause = std::get_if<ClauseItem>(&item.node)) {
            look(clause->sentence, "the sentence of " + in_ticks(clause->id.text));
            for (const auto& line : clause->lines)
                std::visit([&](const auto& node) { take(node, clause->id.text); }, line.node);
        }
        if (const auto* ladder = std::get_if<EscalationItem>(&item.node))
            look(ladder->sentence, "the sentence of " + in_ticks(ladder->id.text));
        if (const auto* bundle = std::get_if<BundleItem>(&item.node))
            look(bundle->title, "the title of " + in_ticks(bundle->id.text));
        if (const auto* accepted = std::get_if<AcceptItem>(&item.node))
            look(accepted->because, "why " + in_ticks(accepted->code.text) + " is accepted");
        if (const auto* question = std::get_if<SetAsideQuestion>(&item.node))
            look(question->because, "why " + in_ticks(question->question.text) + " is set aside");
        if (const auto* source = std::get_if<SourceItem>(&item.node)) {
            look(source->title, "the title of " + in_ticks(source->name.text));
            look(source->by, "who published " + in_ticks(source->name.text));
        }
    }

  private:
    void take(const ReasonLine& line, const std::string& id) {
        look(line.text, "the reason of " + in_ticks(id));
    }
    void take(const AdviceLine& line, const std::string& id) {
        look(line.text, "the advice of " + in_ticks(id));
    }
    void take(const ExceptLine& line, const std::string& id) {
        look(line.because, "why " + in_ticks(id) + " has its exception");
    }
    void take(const DepartsLine& line, const std::string& id) {
        look(line.because, "why " + in_ticks(id) + " departs from its source");
    }
    void take(const Demand& demand, const std::string& id) {
        if (const auto* leaves = std::get_if<LeavesToJudgement>(&demand.node))
            look(leaves->because, "why " + in_ticks(id) + " leaves its question to judgement");
    }
    template <typename Line>
    void take(const Line& /*bears no text*/, const std::string& /*id*/) {}

    Work& work_;
};

void blanks(Work& work) {
    Blanks blanks(work);
    blanks.look(work.layers.header.title, "the title of the policy");
    blanks.look(work.layers.header.owner, "the owner of the policy");
    for (const auto* item : work.layers.items) blanks.look(*item);
}

}  // namespace

void check_hygiene(Work& work) {
    if (!work.layers.is_policy || !work.layers.whole || work.report.has_errors()) return;
    unused(work, work.names.terms, "unused.term", "term");
    unused(work, work.names.tables, "unused.table", "table");
    unused(work, work.names.sources, "unused.source", "source");
    unused(work, work.names.escalations, "unused.escalation", "escalation");
    unused_shifts(work);
    unused_attributes(work);
    missing_lines(work);
    missing_sources(work);
    long_graces(work);
    lone_wheres(work);
    blanks(work);
    check_drift(work);
}

void check_review(const Compilation& compilation, runtime::CivilDate today,
                  std::vector<Diagnostic>& diagnostics) {
    if (!compilation.compiled) return;
    const auto& policy = compilation.compiled->policy;
    if (!policy.review_by || *policy.review_by >= today || !compilation.compiled->review_place) return;
    diagnostics.push_back(make_diagnostic("past.review",
                                          "the day by which the policy was to be reviewed is past",
                                          *compilation.compiled->review_place, "past"));
    diagnostics.back().mends.push_back(
        {"let the committee review it, then write the next day", std::nullopt, "", false});
}

}  // namespace linelaw::compiler
