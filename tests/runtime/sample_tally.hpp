// A tally as an audit of some hundred invented lines would give it, for tests of what is made from tallies.
#pragma once

#include "runtime/summary.hpp"
#include "runtime/tally.hpp"
#include "tests/runtime/small_policy.hpp"

namespace small {

// Four clauses, a ladder, a bundle.
inline Policy sample_policy() {
    Policy p = policy();
    p.time_zone = "America/Halifax";
    p.owner = "Vascular access committee";
    p.in_force_from = CivilDate{2026, 3, 1};
    p.sources = {{"hicpac_2011", "Guidelines for the Prevention of Intravascular Catheter-Related Infections",
                  "CDC/HICPAC", "2011"}};
    AtLeastEvery weekly;
    weekly.events = {{dressing_change, none}};
    weekly.every = days(7);
    Within response;
    response.events = {{dressing_change, none}};
    response.within = hours(2);
    const ExpressionId dry =
        compare(p, Comparator::at_least, EventAttribute{dry_time}, Constant{30 * microseconds_per_second});
    p.clauses = {
        clause("dressing.transparent", "Change a transparent dressing at least every 7 days.", weekly),
        clause("dressing.compromised",
               "Change a damp, loose or soiled dressing within 2 hours of finding it so.", response,
               Priority::critical),
        clause("antisepsis.dry", "Let the antiseptic dry fully before the site is covered.", Holds{dry}),
        clause("set.continuous", "Change a continuous set at least every 7 days.", weekly, Priority::minor)};
    p.clauses[0].sources = {{"hicpac_2011", "dressing regimens", "IB"}};
    p.clauses[1].trigger = {TriggerKind::after, {{site_assessment, none}}, none};
    p.clauses[1].otherwise_escalate = 0;
    p.clauses[2].trigger = {TriggerKind::at, {{dressing_change, none}}, none};
    p.clauses[2].advice = "Wait until the skin is visibly dry. Do not fan, blot or wipe.";
    Ladder ladder;
    ladder.id = "damp_dressing";
    ladder.sentence = "A dressing that lets go is seen to.";
    ladder.steps = {{{0}, hours(1), {}}, {{1}, hours(1), hours(1)}};
    p.ladders = {ladder};
    p.bundles = {{"dressing_practices", "Dressing practices, all or none", {0, 2}, BundleEach::line, {}, {}}};
    return p;
}

// Deterministic and without meaning; enough of it to fill every chart.
inline Tally sample_tally(const Policy& p, int lines = 400, int first = 0) {
    const Items items(p);
    Tallier tallier(p, items, {{"line.kind"}, 7 * hour, {}}, {grouping(p, "line.kind").value()});
    const char* units[] = {"icu-1", "med-3", "surg-2", "home"};
    for (int n = first; n < first + lines; ++n) {
        const auto pick = [&](int salt, int of) {
            return static_cast<int>(
                       (static_cast<unsigned>(n) * 2654435761U + static_cast<unsigned>(salt) * 40503U) >>
                       7U) %
                   of;
        };
        EpisodeMaker maker(p, "q-" + std::to_string(100000 + n));
        const Instant in = instant("2025-03-02T09:00:00Z") + (n % 360) * day + pick(1, 12) * hour;
        maker.episode.inserted_at = in;
        maker.episode.events[0].at = in;
        maker.episode.care_unit = units[pick(2, 4)];
        maker.episode.patient_key = "p-" + std::to_string(n / 2);
        maker.episode.line[0] = known(pick(3, 3) == 0 ? port : picc);
        const int weeks = 1 + pick(4, 4);
        const Instant out = in + (weeks * 7 + 3) * day;
        std::vector<Opportunity> all;
        Instant opened = in;
        for (int week = 0; week < weeks; ++week) {
            Opportunity o;
            o.item = 0;
            o.opened = opened;
            o.due = o.limit = opened + 7 * day;
            const int dice = pick(10 + week, 20) - (n % 360 > 200 ? 3 : 0);
            o.closed = *o.due + (dice >= 17 ? (dice - 15) * 9 * hour : -dice * hour);
            o.outcome = dice >= 17 ? Outcome::late : Outcome::met;
            o.closed_by = maker.event(dressing_change, *o.closed,
                                      {known(pick(20 + week, 60) * microseconds_per_second),
                                       known(chg_alcohol), known(transparent)});
            opened = *o.closed;
            all.push_back(o);
            Opportunity dry;
            dry.item = 2;
            dry.opened = *o.closed;
            dry.closed = o.closed;
            dry.opened_by = dry.closed_by = o.closed_by;
            const int seconds = pick(20 + week, 60);
            dry.outcome = seconds > 50  ? Outcome::not_assessable
                          : seconds < 8 ? Outcome::not_met
                                        : Outcome::met;
            all.push_back(dry);
            if (pick(30 + week, 9) == 0) {
                Opportunity response;
                response.item = 1;
                response.opened = opened - 20 * hour;
                response.opened_by = 0;
                response.due = response.limit = response.opened + 2 * hour;
                response.closed = response.opened + pick(40, 5) * hour;
                response.outcome = *response.closed > *response.limit ? Outcome::late : Outcome::met;
                if (pick(41, 6) == 0)
                    response.outcome = Outcome::excused, response.before_exception = Outcome::late;
                all.push_back(response);
                if (response.outcome == Outcome::late) {
                    Opportunity step = response;
                    step.origin = OriginKind::ladder;
                    step.item = 0;
                    step.step = 0;
                    step.started_by = 1;
                    step.outcome = pick(43, 3) == 0 ? Outcome::missed : Outcome::met;
                    all.push_back(step);
                }
            }
        }
        Opportunity last;
        last.item = 0;
        last.opened = opened;
        last.due = last.limit = opened + 7 * day;
        last.closed = out;
        last.outcome = *last.limit < out ? Outcome::missed : Outcome::no_longer_due;
        all.push_back(last);
        maker.episode.removed_at = out;
        maker.event(removal, out);
        Opportunity bundle;
        bundle.origin = OriginKind::bundle;
        bundle.item = 0;
        bundle.opened = in;
        bundle.closed = out;
        bundle.outcome = Outcome::met;
        for (const Opportunity& o : all) {
            if (o.item == 1 || o.origin == OriginKind::ladder) continue;
            if (counts_against(o.outcome)) bundle.outcome = Outcome::not_met;
        }
        all.push_back(bundle);
        tallier.judged(maker.episode, {all, {}}, {{0, none, none, in, out}});
        if (n % 97 == 0)
            tallier.quarantined({"record.instant", "/events/" + std::to_string(n % 7) + "/at", 0, ""});
        if (n % 31 == 0) tallier.set_aside({"value.range", "/events/3/dry_time", 0, ""});
    }
    Tally tally = tallier.take();
    tally.seen.unknown_keys["line.lumen"] += 3;
    return tally;
}

inline Audited sample_audited(const Policy& p) {
    return audited(p, {{"line.kind"}, 7 * hour, {}}, false, "0.1.0");
}

}  // namespace small
