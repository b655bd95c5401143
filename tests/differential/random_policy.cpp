// Policies at random over the vocabulary of the vectors. Well typed by construction, or (where
// asked) with names put in at random, most of which the compiler must refuse.
#include <algorithm>

#include "tests/differential/draft.hpp"

namespace linelaw::literal {

namespace {

struct AttributeWords {
    const char* name;
    std::vector<const char*> conditions;  // true, false or unknown of it
    const char* quantity;                 // its kind where it is a number, else ""
};
struct EventWords {
    const char* name;
    const char* part;
    std::vector<AttributeWords> attributes;
};

const std::vector<EventWords>& event_words() {
    static const std::vector<EventWords> words = {
        {"insertion",
         "",
         {{"dressing", {"is gauze", "is not gauze", "is one of gauze, transparent"}, ""},
          {"site", {"is arm", "is not groin"}, ""}}},
        {"dressing_change",
         "",
         {{"dressing",
           {"is gauze", "is not gauze", "is one of gauze, transparent", "is not one of gauze"},
           ""},
          {"cause", {"is soiled", "is not routine"}, ""},
          {"antiseptic", {"is chg", "is not alcohol", "is one of chg, iodine"}, ""},
          {"dry_time",
           {"at least 30 s", "more than 1 min", "at most 2 min", "between 20 s and 90 s", "is 30 s"},
           "time"},
          {"scrub_time", {"at least 30 s", "less than 1 min"}, "time"},
          {"external_length",
           {"at most 15 cm", "more than 13 cm", "is 13 cm", "at least 5 inch"},
           "length"}}},
        {"measurement",
         "",
         {{"arm_place", {"is at_site"}, ""},
          {"arm_circumference", {"at least 30 cm", "less than 32 cm"}, "length"},
          {"temperature", {"at least 38 degC", "more than 100.4 degF"}, "temperature"}}},
        {"flush",
         "",
         {{"volume", {"at least 10 mL", "more than 0.02 L", "is 10 mL"}, "volume"},
          {"cause", {"is blocked", "is not blocked"}, ""}}},
        {"infusion_start", "infusion", {{"fluid", {"is lipid", "is not blood"}, ""}}},
        {"infusion_stop", "infusion", {}},
        {"set_change", "infusion", {{"cause", {"is leak", "is not leak"}, ""}}},
        {"lumen_flush", "lumen", {{"volume", {"at least 10 mL"}, "volume"}}},
        {"site_assessment",
         "",
         {{"condition", {"is soiled", "is not intact", "is one of damp, soiled"}, ""},
          {"pain", {"more than 3", "is 0", "between 2 and 4", "at most 3"}, "count"}}},
        {"transfer", "", {{"setting", {"is ward", "is not icu"}, ""}}},
        {"refusal", "", {}},
        {"tip_confirmation", "", {}},
        {"sedation_start", "", {}},
        {"sedation_stop", "", {}},
        {"fever", "", {}},
        {"culture", "", {}},
    };
    return words;
}

class Policies {
  public:
    Policies(Dice& dice, bool well_typed, Theme theme)
        : dice_(dice), well_typed_(well_typed), theme_(theme) {}

    PolicyDraft policy(const std::string& vocabulary) {
        PolicyDraft p;
        p.vocabulary = vocabulary;
        p.header = {"edition 1", "in force from 2019-01-01 until 2027-12-31",
                    "time zone " + dice_.pick({"America/Halifax", "America/Halifax", "America/Havana",
                                               "Europe/Lisbon", "UTC"}),
                    "uses vocabulary \"vectors.vocabulary.linelaw\"",
                    counts_as_not_met(25) ? "undocumented counts as not met"
                                          : "undocumented counts as not assessable"};
        p.before = {
            {"day", "shift day from 07:00 to 19:30\n"},
            {"night",
             dice_.chance(50) ? "shift night from 19:00 to 07:30\n" : "shift night from 20:00 to 06:00\n"},
            {"adult", "term adult means patient.age at least 18 years\n"},
            {"central", "term central means line.kind is one of picc, port\n"},
            {"busy", "term busy means " + moment(1) + "\n"},
            {"use",
             "table use\n  given antiseptic | patient.age gives dry_time | scrub_time\n"
             "  row chg | at least 2 months gives 30 s | 30 s\n  row chg | less than 2 months gives 60 s | "
             "30 s\n"
             "  row iodine | any gives 2 min | 60 s\n"},
            {"steep",
             "table steep first row wins\n  given pain gives rank\n  row 0 gives 1\n  row 0 .. 3 gives 2\n"
             "  row more than 6 gives 3\n"}};
        const int count = dice_.between(6, 12);
        for (int i = 0; i < count; ++i) p.clauses.push_back(clause("c" + std::to_string(i)));
        add_overrides(p);
        p.after = {{"ladder_a", ladder("ladder_a", true)}, {"ladder_b", ladder("ladder_b", false)}};
        p.after.push_back({"whole", bundle("whole", p, "line")});
        p.after.push_back({"daily", bundle("daily", p, dice_.chance(50) ? "calendar day" : "shift")});
        p.after.push_back(
            {"practice",
             bundle("practice", p, dice_.pick({"dressing_change", "flush", "insertion", "culture"}))});
        return p;
    }

  private:
    bool plain() const { return theme_ == Theme::plain; }
    bool counts_as_not_met(int percent) {
        const bool often = theme_ == Theme::pairs || theme_ == Theme::calls || theme_ == Theme::undocumented;
        return !plain() && dice_.chance(often ? 85 : percent);
    }
    const EventWords& some_event(bool part = false) {
        for (;;) {
            const EventWords& e = dice_.one_of(event_words());
            if (part || *e.part == '\0') return e;
        }
    }
    const EventWords& event_of(const std::string& part) {
        for (;;) {
            const EventWords& e = dice_.one_of(event_words());
            if (e.part == part) return e;
        }
    }

    std::string span() {
        return dice_.pick({"30 min", "1 h", "2 h", "4 h", "6 h", "12 h", "24 h", "36 h", "1 day", "2 days",
                           "3 days", "1 week", "1 day 6 h"});
    }
    std::string long_span() {
        return dice_.pick({"12 h", "24 h", "1 day", "2 days", "3 days", "1 week", "1 calendar day",
                           "2 calendar days", "1 month"});
    }
    std::string comparator() { return dice_.pick({"at least", "at most", "more than", "less than"}); }

    // A comparison of an attribute of the event; sometimes, where anything goes, of something else.
    std::string of_event(const EventWords& e, bool bare) {
        if (!well_typed_ && dice_.chance(20)) return of_event(dice_.one_of(event_words()), bare);
        if (e.attributes.empty()) return moment(0);
        const AttributeWords& a = dice_.one_of(e.attributes);
        const std::string name = (bare && dice_.chance(80) ? "" : "event.") + std::string(a.name);
        if (!plain() && dice_.chance(8))
            return name + (dice_.chance(50) ? " is documented" : " is not documented");
        return name + " " + dice_.one_of(a.conditions);
    }

    std::string pattern(const EventWords& e) {
        std::string out = e.name;
        if (!e.attributes.empty() && dice_.chance(theme_ == Theme::either ? 60 : 30)) {
            if (dice_.chance(75))
                out += " where " + of_event(e, true);
            else
                out += " where (" + at_event(e, 1) + ")";
        }
        return out;
    }
    std::string patterns(bool part = false) {
        std::string out = pattern(some_event(part));
        if (dice_.chance(15)) out += " or " + std::string(some_event().name);
        return out;
    }

    std::string window() {
        const std::string last = "in the last " + span();
        const std::string since = "since " + std::string(dice_.chance(50) ? "last " : "") + some_event().name;
        const int turn = dice_.below(10);
        return turn < 6 ? last : turn < 9 ? since : last + " " + since;
    }

    std::string atom() {
        switch (dice_.below(24)) {
            case 0:
                return "line.kind " + dice_.pick({"is picc", "is not picc", "is one of picc, port",
                                                  "is not one of midline"});
            case 1:
                return "line.lumens " + comparator() + " 2";
            case 2:
                return "line.external_length " + comparator() + " 13 cm";
            case 3:
            case 4:
            case 5:
                return "setting " + dice_.pick({"is ward", "is not ward", "is one of ward, icu"});
            case 6:
            case 7:
                return "state.dressing " +
                       dice_.pick({"is gauze", "is not gauze", "is one of gauze, transparent"});
            case 8:
                return dice_.pick({"sedated", "not sedated"});
            case 9:
                return "line_pain " + dice_.pick({"more than 3", "is 0", "is not 0", "at most 3"});
            case 10:
                return dice_.pick({"patient.sensitive", "not patient.sensitive", "patient.setting is home"});
            case 11:
                return "patient.age " + comparator() + " " +
                       dice_.pick({"18 years", "17 years", "2 months", "60 days", "9 weeks"});
            case 12:
                return "dwell " + comparator() + " " + span();
            case 13:
            case 14:
                return "time since " + pattern(some_event()) + " " + comparator() + " " + span();
            case 15:
            case 16:
                return pattern(some_event()) + " " + window();
            case 17:
                return "no " + pattern(some_event()) + " " + window();
            case 18:
                return "any of " + pattern(some_event()) + ", " + some_event().name + " " + window();
            case 19:
                return "count of " + pattern(some_event()) + " " + window() + " " + comparator() + " " +
                       dice_.pick({"1", "2"});
            case 20:
                return "sum of flush.volume " + window() + " " + comparator() + " 20 mL";
            case 21:
                return dice_.pick({"any infusion", "no infusion", "any infusion where fluid is lipid",
                                   "no infusion where fluid is blood"});
            case 22:
                return dice_.pick({"adult", "central"});
            default:
                return "time since any of " + std::string(some_event().name) + ", " + some_event().name +
                       " " + comparator() + " " + span();
        }
    }

    // A condition that needs no event at hand.
    std::string moment(int depth) {
        if (depth <= 0 || dice_.chance(60)) return atom();
        switch (dice_.below(3)) {
            case 0:
                return "(" + moment(depth - 1) + " and " + moment(depth - 1) + ")";
            case 1:
                return "(" + moment(depth - 1) + " or " + moment(depth - 1) + ")";
            default:
                return "not (" + moment(depth - 1) + ")";
        }
    }

    // A condition at an event of this kind.
    std::string at_event(const EventWords& e, int depth) {
        const std::string name = e.name;
        if (depth > 0 && dice_.chance(35)) {
            switch (dice_.below(3)) {
                case 0:
                    return "(" + at_event(e, depth - 1) + " and " + at_event(e, depth - 1) + ")";
                case 1:
                    return "(" + at_event(e, depth - 1) + " or " + at_event(e, depth - 1) + ")";
                default:
                    return "not (" + at_event(e, depth - 1) + ")";
            }
        }
        if (name == "dressing_change" && dice_.chance(45)) {
            switch (dice_.below(8)) {
                case 0:
                    return "change in external_length since insertion " + comparator() + " 2 cm";
                case 1:
                    return "rise in external_length since last dressing_change " + comparator() + " 1 cm";
                case 2:
                    return "fall in external_length since insertion " + comparator() + " 2 cm";
                case 3:
                    return "difference of dry_time and scrub_time " + comparator() + " 30 s";
                case 4:
                    return "dry_time at least 2 times scrub_time";
                case 5:
                    return dice_.chance(50) ? "dry_time at least use.dry_time"
                                            : "scrub_time at least use.scrub_time";
                case 6:
                    return "time from scrub to apply_dressing " + comparator() + " 2 min";
                default:
                    return "time in scrub at least 1 min";
            }
        }
        if (name == "measurement" && dice_.chance(40))
            return dice_.pick({"change", "rise", "fall"}) + " in arm_circumference since last measurement " +
                   comparator() + " 2 cm";
        if (name == "site_assessment" && dice_.chance(20)) return "steep.rank is 2";
        return dice_.chance(65) ? of_event(e, true) : atom_or_event(e);
    }
    std::string atom_or_event(const EventWords& e) { return dice_.chance(50) ? atom() : of_event(e, false); }

    // ---- clauses

    struct Body {
        std::vector<std::string> lines;
        std::string demand;
        const EventWords* at = nullptr;  // the one event that it is judged at
        bool stretch = false;
    };

    std::string must() { return dice_.chance(90) ? "must " : "should "; }
    std::string grace() {
        return dice_.chance(40) ? " grace " + dice_.pick({"30 min", "2 h", "6 h", "1 day"}) : "";
    }
    std::string unless(const EventWords& e) {
        return dice_.chance(50) ? " unless " + (dice_.chance(50) ? of_event(e, false) : moment(1)) : "";
    }

    Body over_stretches(const EventWords& e) {
        Body b;
        b.stretch = true;
        std::string p = pattern(e);
        if (dice_.chance(12)) p += " or " + std::string(some_event().name);
        switch (theme_ == Theme::pairs                        ? dice_.between(3, 5)
                : theme_ == Theme::either && dice_.chance(70) ? 8
                                                              : dice_.below(9)) {
            case 0:
            case 1:
                b = {{must() + p + " at least every " + long_span() + grace()}, "every", nullptr, true};
                break;
            case 2:
                b = {{must() + p + " at least every " + long_span() + " counted anew" + grace()},
                     "every",
                     nullptr,
                     true};
                break;
            case 3:
            case 4:
                b = {{must() + p + " at least every " + long_span() + " no more often than every " + span() +
                      unless(e) + grace()},
                     "every, no more often",
                     nullptr,
                     true};
                break;
            case 5:
                b = {{must() + p + " no more often than every " + long_span() + unless(e)},
                     "no more often",
                     nullptr,
                     true};
                break;
            case 6:
                b = {{must() + p + (dice_.chance(40) ? " at least 2 times" : "") + " each calendar day"},
                     "each day",
                     nullptr,
                     true};
                break;
            case 7:
                b = {{must() + p + (dice_.chance(30) ? " at least 2 times" : "") + " each shift"},
                     "each shift",
                     nullptr,
                     true};
                break;
            default:
                if (dice_.chance(50))
                    b = {{must() + "not " + p}, "not", nullptr, true};
                else
                    b = {{must() + p + " at most " + dice_.pick({"1", "2"}) + " times in " + span()},
                         "at most",
                         nullptr,
                         true};
        }
        return b;
    }

    std::string response(const EventWords& e, std::string& demand) {
        const std::string p = pattern(e) + (dice_.chance(20) ? " or " + std::string(some_event().name) : "") +
                              (dice_.chance(10) ? " or removal" : "");
        if (dice_.chance(25)) {
            demand = "within a shift or day";
            return must() + p + " within " +
                   dice_.pick({"the same shift", "the next shift", "the same calendar day"});
        }
        demand = "within";
        return must() + p + " within " + span() + grace();
    }

    Body at_triggers(const EventWords& f, const EventWords& e) {
        Body b;
        b.at = &f;
        const std::string trigger = pattern(f);
        const int turn = theme_ == Theme::steps && dice_.chance(70)    ? 6
                         : theme_ == Theme::either && dice_.chance(60) ? dice_.between(3, 4)
                                                                       : dice_.below(11);
        switch (plain() && turn == 7 ? 0 : turn) {
            case 0:
            case 1:
            case 2:
                b.lines = {"after " + trigger, response(e, b.demand)};
                break;
            case 3:
                b.lines = {"at " + trigger, must() + pattern(e) + " within " + span() + " either side"};
                b.demand = "either side";
                break;
            case 4:
            case 5:
                b.lines = {"before " + trigger,
                           must() + "have had " + pattern(e) + (dice_.chance(75) ? " " + window() : "")};
                b.demand = "have had";
                break;
            case 6:
                if (std::string(f.name) != "dressing_change") return at_triggers(event_words()[1], e);
                b.lines = {"at " + trigger, must() + "follow steps " +
                                                dice_.pick({"scrub", "scrub, dry", "dry",
                                                            "hand_hygiene, remove_dressing, hand_hygiene",
                                                            "scrub, dry, apply_dressing"}) +
                                                (dice_.chance(60) ? " in order" : "")};
                b.demand = "steps";
                break;
            case 7:
                if (f.attributes.empty()) return at_triggers(event_words()[1], e);
                b.lines = {"at " + trigger, must() + "document " + dice_.one_of(f.attributes).name};
                b.demand = "document";
                break;
            default:
                b.lines = {"at " + trigger,
                           must() + (dice_.chance(20) ? "not (" + at_event(f, 1) + ")" : at_event(f, 2))};
                b.demand = "condition";
        }
        return b;
    }

    ClauseDraft clause(const std::string& id) {
        const bool calls = theme_ == Theme::calls;
        const bool part = dice_.chance(calls ? 30 : 20);
        const std::string part_name = part ? (dice_.chance(calls ? 30 : 70) ? "infusion" : "lumen") : "";
        const EventWords& e = part && dice_.chance(75) ? event_of(part_name) : some_event();
        const EventWords& f = part && dice_.chance(60) ? event_of(part_name) : some_event();
        Body b;
        const int turn = theme_ == Theme::pairs                              ? dice_.below(45)
                         : calls && dice_.chance(50)                         ? 52
                         : theme_ == Theme::steps || theme_ == Theme::either ? dice_.between(20, 99)
                                                                             : dice_.below(100);
        if (turn < 40)
            b = over_stretches(e);
        else if (turn < 50) {
            b.lines = {"once " + moment(1), response(e, b.demand)};
            b.stretch = true;
            b.demand = b.demand == "within" ? "once" : b.demand;
        } else if (turn < 57) {
            b.lines = {"after " + pattern(f),
                       "then escalate " + std::string(dice_.chance(50) ? "ladder_a" : "ladder_b")};
            b.demand = "only a ladder";
            b.at = &f;
        } else
            b = at_triggers(f, e);

        ClauseDraft c{id, b.lines, b.demand};
        if (part) {
            const std::string where = part_name == "infusion" && dice_.chance(50)
                                          ? " where fluid is " + dice_.pick({"lipid", "crystalloid"})
                                          : "";
            c.lines.insert(c.lines.begin(), "for each " + part_name + where);
        }
        if (dice_.chance(25)) c.lines.push_back("for " + moment(1));
        if (dice_.chance(40)) c.lines.push_back("while " + moment(1));
        const bool few = theme_ == Theme::pairs || theme_ == Theme::either || (calls && part);
        if (dice_.chance(few ? 60 : 35))
            c.lines.push_back("except when " + (b.at != nullptr && b.demand != "within" &&
                                                        b.demand != "within a shift or day" &&
                                                        b.demand != "only a ladder" && dice_.chance(40)
                                                    ? of_event(*b.at, false)
                                                    : moment(1)));
        if (dice_.chance(10)) c.lines.push_back("except when " + atom());
        if (!part && dice_.chance(6)) c.lines.push_back("even after removal");
        if (!plain() && dice_.chance(15))
            c.lines.push_back(std::string("undocumented counts as ") +
                              (dice_.chance(60) ? "not met" : "not assessable"));
        if (b.demand != "only a ladder" && dice_.chance(20))
            c.lines.push_back(std::string("otherwise escalate ") +
                              (dice_.chance(50) ? "ladder_a" : "ladder_b"));
        if (b.at != nullptr && b.demand != "only a ladder" && dice_.chance(8))
            c.lines.push_back("then escalate ladder_b");
        return c;
    }

    static bool stretch(const ClauseDraft& c) {
        return std::none_of(c.lines.begin(), c.lines.end(), [](const std::string& l) {
            return l.rfind("at ", 0) == 0 || l.rfind("after ", 0) == 0 || l.rfind("before ", 0) == 0;
        });
    }

    // Only earlier clauses are overridden, so there is no circle.
    void add_overrides(PolicyDraft& p) {
        for (std::size_t i = 1; i < p.clauses.size(); ++i) {
            if (!dice_.chance(30)) continue;
            const ClauseDraft& under = p.clauses[static_cast<std::size_t>(dice_.below(static_cast<int>(i)))];
            if (!stretch(p.clauses[i]) && stretch(under)) continue;
            p.clauses[i].lines.push_back("overrides " + under.id);
        }
    }

    std::string ladder(const std::string& id, bool hold) {
        std::string out = "escalation " + id + "\n  \"Called.\"\n  first notify " +
                          dice_.pick({"provider", "bedside_nurse", "provider or bedside_nurse"}) +
                          " within " + dice_.pick({"30 min", "1 h", "2 h"}) + "\n";
        const bool calls = theme_ == Theme::calls;
        const int more = dice_.between(calls ? 1 : 0, 2);
        for (int i = 0; i < more; ++i)
            out += "  then notify " +
                   dice_.pick({"access_team", "bedside_nurse", "provider", "provider or access_team"}) +
                   " within " + dice_.pick({"30 min", "1 h", calls ? "4 h" : "1 h"}) +
                   " if not acknowledged within " + dice_.pick({"30 min", "1 h", calls ? "30 min" : "4 h"}) +
                   "\n";
        if (hold) {
            const EventWords& e = some_event();
            std::string until = some_event().name;
            while (until == e.name) until = some_event().name;
            out +=
                calls && dice_.chance(70)
                    ? "  no new " +
                          dice_.pick({"flush where cause is blocked", "flush where volume at least 10 mL"}) +
                          " until tip_confirmation\n"
                    : "  no new " + pattern(e) + " until " + until + "\n";
        }
        return out;
    }

    std::string bundle(const std::string& id, const PolicyDraft& p, const std::string& each) {
        std::string of;
        for (int i = 0; i < 3; ++i) {
            const std::string& c = dice_.one_of(p.clauses).id;
            if (of.find(c) == std::string::npos) of += (of.empty() ? "" : ", ") + c;
        }
        return "bundle " + id + " \"All or none\"\n  of " + of + "\n  each " + each + "\n";
    }

    Dice& dice_;
    bool well_typed_;
    Theme theme_;
};

}  // namespace

PolicyDraft random_policy(Dice& dice, const std::string& vocabulary, bool well_typed, Theme theme) {
    return Policies(dice, well_typed, theme).policy(vocabulary);
}

}  // namespace linelaw::literal
