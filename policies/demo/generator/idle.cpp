// Lumens that lie idle: those of a port without its needle, and those of a line at home.
#include <algorithm>

#include "policies/demo/generator/periods.hpp"
#include "policies/demo/generator/scripts.hpp"

namespace linelaw::demo {
namespace {

struct Span {
    Time begin = 0;
    std::optional<Time> end;  // nothing: with the record
};

Time port_limit(Time from) {
    return add_days(from, 28 + 7);
}
Time home_limit(Time from) {
    return add_days(from, 7 + 1);
}

// While no needle is in.
std::vector<Span> without_needle(const Stay& s) {
    std::vector<Span> found = {{s.inserted, s.removed}};
    for (const Time in : instants_of(s, "needle_insertion")) {
        found.back().end = in;
        const auto out = first_from(instants_of(s, "needle_removal"), in);
        if (!out) return found;
        found.push_back({*out, s.removed});
    }
    return found;
}

bool flushed_at_home(const Stay& s) {
    return s.policy == Policy::home_infusion && (s.kind == "picc" || s.kind == "midline" ||
                                                 s.kind == "tunnelled_cvc" || s.kind == "nontunnelled_cvc");
}

// A flush, or at home sometimes a lock, of that lumen.
void tend(Stay& s, Time at, int lumen, bool lock) {
    Values values = {{"lumen", std::to_string(lumen)}};
    if (lock) {
        s.add("lock", at, std::move(values));
        return;
    }
    values.emplace_back("volume", "10");
    s.add("flush", at, std::move(values));
    s.plant("document.flush", at, "met");
}

void tend_regularly(Stay& s, const std::string& clause, int lumen, Time begin, Time end, int days,
                    Time (*limit)(Time)) {
    Time last = begin;
    for (int i = 0; i < 40; ++i) {
        const Time due = add_days(last, days);
        const bool room = limit(last) + hours(2) < end;
        if (room && (s.take(clause, "missed") || s.lapses(0.02))) return;
        std::optional<Time> at;
        if (room && (s.take(clause, "late") || s.lapses(0.07))) {
            at = s.moment(limit(last) + minutes(1), limit(last) + hours(30));
        } else {
            if (room) s.take(clause, "met");
            at = room && s.random.chance(0.05) ? s.exactly(limit(last))
                                               : s.moment(due - hours(30), limit(last));
        }
        if (!at || *at >= end) return;
        tend(s, *at, lumen, clause == "home.lumens" && s.random.chance(0.3));
        last = *at;
    }
}

// When this lumen was flushed (or locked), in order.
std::vector<Time> tended(const Stay& s, int lumen, bool locks) {
    std::vector<Time> found;
    for (const Event& event : s.events) {
        if (event.type != "flush" && !(locks && event.type == "lock")) continue;
        const std::string named = value_of(event, "lumen");
        if (named == std::to_string(lumen) || (named.empty() && s.lumens == 1)) found.push_back(event.at);
    }
    std::sort(found.begin(), found.end());
    return found;
}

}  // namespace

void write_idle(Stay& s) {
    if (!s.lumens) return;
    if (s.kind == "port") {
        for (const Span& span : without_needle(s)) {
            for (int lumen = 1; lumen <= *s.lumens; ++lumen)
                tend_regularly(s, "port.idle", lumen, span.begin, span.end.value_or(s.end()), 28, port_limit);
        }
    }
    if (!flushed_at_home(s)) return;
    for (const Stretch& stretch : stretches(s)) {
        if (stretch.where != Where::outside) continue;
        for (int lumen = 1; lumen <= *s.lumens; ++lumen)
            tend_regularly(s, "home.lumens", lumen, stretch.begin, stretch.end, 7, home_limit);
    }
}

void account_idle(Stay& s) {
    if (!s.lumens) {  // of each clause over lumens one, at insertion, whatever line it is
        s.plant("port.idle", s.inserted, "not_assessable");
        if (s.policy == Policy::home_infusion) s.plant("home.lumens", s.inserted, "not_assessable");
        return;
    }
    if (s.kind == "port") {
        for (const Span& span : without_needle(s)) {
            for (int lumen = 1; lumen <= *s.lumens; ++lumen)
                account_every(s, "port.idle", std::to_string(lumen), span.begin, span.end,
                              tended(s, lumen, false), port_limit);
        }
    }
    if (!flushed_at_home(s)) return;
    for (const Stretch& stretch : stretches(s)) {
        if (stretch.where == Where::unknown) {
            for (int lumen = 1; lumen <= *s.lumens; ++lumen)
                s.plant("home.lumens", stretch.begin, "not_assessable", std::to_string(lumen));
        }
        if (stretch.where != Where::outside) continue;
        for (int lumen = 1; lumen <= *s.lumens; ++lumen)
            account_every(s, "home.lumens", std::to_string(lumen), stretch.begin, stretch.ends(s),
                          tended(s, lumen, true), home_limit);
    }
}

}  // namespace linelaw::demo
