// The small world: three events, one state of two values, one number of three cells, six instants around a
// clock change. Everything that the little grammar below can say is said.
#include <algorithm>

#include "tests/differential/draft.hpp"

namespace linelaw::literal {

using nlohmann::json;

namespace {

const std::string vocabulary = R"(vocabulary small
  edition 1

line
  kind : one of picc, port

event alpha "Alpha"
  level : count 0 .. 2

event beta "Beta"
  mode : one of on, off

event gamma "Gamma"

state mode from beta.mode
)";

const std::vector<std::string> header = {"edition 1", "in force from 2019-01-01 until 2019-12-31",
                                         "time zone America/Halifax", "uses vocabulary \"small.linelaw\"",
                                         "undocumented counts as not assessable"};

const std::vector<std::string> conditions = {"", "while mode is on", "while mode is not on",
                                             "while gamma in the last 12 h"};
const std::vector<std::string> answers = {"alpha", "alpha where level at least 1", "beta"};
const std::vector<std::string> triggers = {"alpha where level more than 1", "beta", "gamma"};

struct Lines {
    std::string demand;
    std::vector<std::string> lines;
};

std::vector<Lines> over_stretches(const std::string& e) {
    return {
        {"every", {"must " + e + " at least every 1 day"}},
        {"every", {"must " + e + " at least every 12 h grace 2 h"}},
        {"every", {"must " + e + " at least every 1 calendar day"}},
        {"every", {"must " + e + " at least every 12 h counted anew"}},
        {"every, no more often", {"must " + e + " at least every 1 day no more often than every 12 h"}},
        {"every, no more often",
         {"must " + e + " at least every 1 day no more often than every 12 h unless gamma in the last 6 h"}},
        {"every", {"must " + e + " at least every 12 h", "except when gamma in the last 6 h"}},
        {"no more often", {"must " + e + " no more often than every 1 day"}},
        {"each day", {"must " + e + " each calendar day"}},
        {"each day", {"must " + e + " at least 2 times each calendar day"}},
        {"each shift", {"must " + e + " each shift"}},
        {"not", {"must not " + e}},
        {"at most", {"must " + e + " at most 1 times in 1 day"}},
        {"once", {"once mode is on", "must " + e + " within 12 h"}},
        {"once", {"once dwell more than 1 day", "must " + e + " within 1 day"}},
    };
}

std::vector<Lines> at_triggers(const std::string& f, const std::string& e) {
    return {
        {"within", {"after " + f, "must " + e + " within 12 h"}},
        {"within",
         {"after " + f, "must " + e + " within 1 day grace 2 h", "except when gamma in the last 6 h"}},
        {"within a shift or day", {"after " + f, "must " + e + " within the same calendar day"}},
        {"either side", {"at " + f, "must " + e + " within 12 h either side"}},
        {"have had", {"before " + f, "must have had " + e + " in the last 1 day"}},
        {"have had", {"before " + f, "must have had " + e + " since last gamma"}},
    };
}

std::vector<ClauseDraft> all_clauses() {
    std::vector<ClauseDraft> out;
    const auto add = [&out](const Lines& l, const std::string& condition) {
        ClauseDraft c{"c" + std::to_string(out.size()), l.lines, l.demand};
        if (!condition.empty()) c.lines.insert(c.lines.begin(), condition);
        out.push_back(c);
    };
    for (const std::string& condition : conditions) {
        for (const std::string& e : answers)
            for (const Lines& l : over_stretches(e)) add(l, condition);
        for (const std::string& f : triggers) {
            for (const std::string& e : answers)
                for (const Lines& l : at_triggers(f, e)) add(l, condition);
            add({"condition", {"at " + f, "must state.mode is on"}}, condition);
        }
        add({"condition", {"at alpha", "must level is 1"}}, condition);
        add({"document", {"at alpha", "must document level"}}, condition);
    }
    return out;
}

PolicyDraft empty_policy() {
    PolicyDraft p;
    p.vocabulary = vocabulary;
    p.header = header;
    p.before = {{"day", "shift day from 07:00 to 19:30\n"}, {"night", "shift night from 19:00 to 07:30\n"}};
    return p;
}

// Of a clause that overrides only these matter: when it applies, and the event that it is judged at.
std::vector<Lines> overriding() {
    std::vector<Lines> out;
    for (const std::string& condition : conditions) {
        const auto add = [&](Lines l) {
            if (!condition.empty()) l.lines.insert(l.lines.begin(), condition);
            out.push_back(l);
        };
        add(over_stretches("beta")[1]);
        for (const std::string& f : triggers) add({"condition", {"at " + f, "must state.mode is on"}});
    }
    return out;
}

bool judged_at_events(const std::vector<std::string>& lines) {
    return std::any_of(lines.begin(), lines.end(), [](const std::string& l) {
        return l.rfind("at ", 0) == 0 || l.rfind("after ", 0) == 0 || l.rfind("before ", 0) == 0;
    });
}

Instant local(int days_from_change, int hour, int minute, bool autumn) {
    // 2019-03-10T06:00Z and 2019-11-03T05:00Z are the changes of America/Halifax; days are counted from their
    // dates.
    using date::sys_days;
    const auto day = sys_days{autumn ? date::year{2019} / 11 / 3 : date::year{2019} / 3 / 10};
    const Instant midnight = std::chrono::microseconds(day.time_since_epoch()).count();
    const Instant offset = (days_from_change > 0 || (days_from_change == 0 && hour >= 3)) != autumn ? 3 : 4;
    return midnight + (days_from_change * 24 + hour + offset) * one_hour + minute * one_minute;
}

}  // namespace

std::vector<PolicyDraft> small_policies(std::size_t in_one) {
    std::vector<PolicyDraft> out;
    for (const ClauseDraft& c : all_clauses()) {
        if (out.empty() || out.back().clauses.size() >= in_one) out.push_back(empty_policy());
        out.back().clauses.push_back(c);
    }
    return out;
}

std::vector<PolicyDraft> small_pairs(std::size_t in_one) {
    std::vector<PolicyDraft> out;
    for (const ClauseDraft& under : all_clauses())
        for (const Lines& over : overriding()) {
            if (judged_at_events(over.lines) && !judged_at_events(under.lines)) continue;  // an error
            if (out.empty() || out.back().clauses.size() >= in_one) out.push_back(empty_policy());
            PolicyDraft& p = out.back();
            const std::string n = std::to_string(p.clauses.size());
            p.clauses.push_back({"u" + n, under.lines, under.demand});
            p.clauses.push_back({"o" + n, over.lines, over.demand});
            p.clauses.back().lines.push_back("overrides u" + n);
        }
    return out;
}

std::string small_forms() {
    std::string out =
        "the small world: line.kind; events alpha (level 0 .. 2), beta (mode on, off), gamma; state mode "
        "from "
        "beta.mode\nevents: any of alpha with each level, beta with each mode, gamma, at 6 instants from the "
        "day "
        "before to the day after each clock change; up to 2 events also with values "
        "missing\nendings, in turn: removed or not, known to the last event or on, to a removal or past it\n";
    const auto list = [&out](const std::string& title, const std::vector<std::string>& lines) {
        out += title + "\n";
        for (const std::string& l : lines) out += "  " + (l.empty() ? "(none)" : l) + "\n";
    };
    const auto forms = [&out](const std::string& title, const std::vector<Lines>& all) {
        out += title + "\n";
        for (const Lines& l : all) {
            out += "  ";
            for (const std::string& line : l.lines) out += line + "; ";
            out += "\n";
        }
    };
    list("each clause with each of:", conditions);
    list("E, each of:", answers);
    list("F, each of:", triggers);
    forms("clauses over stretches:", over_stretches("E"));
    forms("clauses at events:", at_triggers("F", "E"));
    out += "  at F; must state.mode is on\n  at alpha; must level is 1\n  at alpha; must document level\n";
    forms("policies of one clause: " + std::to_string(all_clauses().size()) +
              "; of two, where one overrides the other (two that do not touch are two of one): each of these "
              "under "
              "each of (of a clause that overrides only its moments matter)",
          overriding());
    return out;
}

SmallWorld small_world(bool autumn, bool missing) {
    SmallWorld world;
    const std::vector<Instant> instants = {local(-1, 1, 30, autumn), local(-1, 19, 0, autumn),
                                           local(0, 0, 0, autumn),   local(0, 1, 30, autumn),
                                           local(0, 12, 0, autumn),  local(1, 1, 30, autumn)};
    std::vector<json> kinds = {{{"type", "alpha"}, {"level", 0}},   {{"type", "alpha"}, {"level", 1}},
                               {{"type", "alpha"}, {"level", 2}},   {{"type", "beta"}, {"mode", "on"}},
                               {{"type", "beta"}, {"mode", "off"}}, {{"type", "gamma"}}};
    if (missing) {
        kinds.push_back({{"type", "alpha"}});
        kinds.push_back({{"type", "beta"}});
    }
    for (const Instant t : instants)
        for (json event : kinds) {
            event["at"] = utc_text(t);
            world.points.push_back(event);
        }
    world.base = {{"episode", "small"},
                  {"line", {{"kind", "picc"}, {"inserted_at", utc_text(local(-2, 12, 0, autumn))}}},
                  {"events", json::array()}};
    const std::string end = utc_text(local(2, 0, 0, autumn));
    world.endings = {{"", end},
                     {utc_text(local(1, 1, 30, autumn)), end},
                     {"", ""},
                     {utc_text(local(1, 12, 0, autumn)), ""},
                     {"", utc_text(local(1, 12, 0, autumn))}};
    return world;
}

json small_record(const SmallWorld& world, const std::vector<std::size_t>& chosen, std::size_t ending) {
    json record = world.base;
    for (const std::size_t i : chosen) record["events"].push_back(world.points[i]);
    const auto& [removed, until] = world.endings[ending];
    if (!removed.empty()) record["line"]["removed_at"] = removed;
    if (!until.empty()) record["observed_until"] = until;
    return record;
}

}  // namespace linelaw::literal
