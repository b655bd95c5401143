// Records at random over the vocabulary of the vectors.
#include <algorithm>
#include <functional>

#include "tests/differential/draft.hpp"

namespace linelaw::literal {

using nlohmann::json;

namespace {

class Records {
  public:
    Records(Dice& dice, Theme theme) : dice_(dice), theme_(theme) {}

    json record() {
        using date::sys_days;
        const std::vector<sys_days> days = {
            sys_days{date::year{2026} / 1 / 5}, sys_days{date::year{2019} / 3 / 8},
            sys_days{date::year{2019} / 11 / 1}, sys_days{date::year{2020} / 1 / 30}};
        const Instant day = std::chrono::microseconds(dice_.one_of(days).time_since_epoch()).count();
        start_ = day + dice_.between(4, 30) * one_hour + (dice_.chance(30) ? 30 * one_minute : 0);
        json r = {{"episode", "random"}, {"line", line()}, {"patient", patient()}, {"events", json::array()}};
        end_ = start_ + dice_.between(6, 200) * one_hour;
        bool unknown_start = false;
        if (dice_.chance(12)) {
            edge_ = start_ + dice_.between(1, 60) * one_hour;
            r["observed_from"] = utc_text(edge_);
            unknown_start = dice_.chance(25);
        }
        if (!unknown_start)
            r["line"]["inserted_at"] = utc_text(start_);
        else
            start_ = edge_;
        add_events(r["events"]);
        end_of(r);
        return r;
    }

  private:
    void set(json& object, const char* key, int present, const std::function<json()>& value) {
        if (dice_.chance(theme_ == Theme::undocumented ? present * 2 / 3 : present)) object[key] = value();
    }
    json word(std::initializer_list<const char*> list) {
        return dice_.chance(4) ? json("nonsense") : json(dice_.pick(list));
    }
    json number(std::initializer_list<double> list) {
        if (dice_.chance(3)) return 1e6;
        return *(list.begin() + dice_.below(static_cast<int>(list.size())));
    }

    json line() {
        json l = json::object();
        set(l, "kind", 85, [&] { return word({"picc", "midline", "port", "peripheral"}); });
        set(l, "lumens", theme_ == Theme::calls ? 65 : 85, [&] { return json(dice_.between(1, 3)); });
        set(l, "external_length", 60, [&] { return number({12, 13, 13.5}); });
        set(l, "dressing", 60, [&] { return word({"gauze", "transparent"}); });
        set(l, "site", 60, [&] { return word({"arm", "groin"}); });
        return l;
    }
    json patient() {
        json p = json::object();
        set(p, "setting", 80, [&] { return word({"ward", "icu", "home"}); });
        set(p, "sensitive", 70, [&] { return json(dice_.chance(50)); });
        if (dice_.chance(30))
            p["birth_date"] =
                dice_.pick({"2008-01-08", "2001-03-10", "2025-11-06", "2008-02-29", "2019-01-10"});
        else
            set(p, "age", 75, [&] {
                return dice_.chance(60)
                           ? json{{"value",
                                   dice_.pick({"17", "18", "54"}) == "17" ? 17 : dice_.between(1, 80)},
                                  {"unit", "a"}}
                       : dice_.chance(50)
                           ? json{{"value", dice_.between(0, 3)}, {"unit", "mo"}}
                           : json{{"value", dice_.between(55, 66)}, {"unit", dice_.chance(70) ? "d" : "wk"}};
            });
        return p;
    }

    Instant some_time() {
        if (!times_.empty() && dice_.chance(20)) return dice_.one_of(times_);
        if (theme_ == Theme::calls && dice_.chance(60))  // minutes after something
            return times_.back() + dice_.between(0, 9) * 15 * one_minute;
        if (!times_.empty() && dice_.chance(55)) {
            static const std::vector<Instant> steps = {
                one_minute,    30 * one_minute, one_hour,      2 * one_hour,  4 * one_hour,
                6 * one_hour,  12 * one_hour,   23 * one_hour, 24 * one_hour, 25 * one_hour,
                36 * one_hour, 48 * one_hour,   72 * one_hour, 168 * one_hour};
            return dice_.one_of(times_) + dice_.one_of(steps);
        }
        return start_ + dice_.below(200) * one_hour;
    }

    json event(const std::string& type) {
        json e = {{"type", type}};
        if (type == "dressing_change") {
            set(e, "dressing", 80, [&] { return word({"gauze", "transparent"}); });
            set(e, "cause", 70, [&] { return word({"routine", "soiled", "other"}); });
            set(e, "antiseptic", 75, [&] { return word({"chg", "iodine", "alcohol"}); });
            set(e, "dry_time", 75, [&] { return number({20, 30, 60, 90, 120}); });
            set(e, "scrub_time", 75, [&] { return number({15, 30, 45, 60}); });
            set(e, "external_length", 70, [&] { return number({10, 11, 13, 13.5, 15, 16}); });
            if (dice_.chance(60)) e["steps"] = steps();
        }
        if (type == "measurement") {
            set(e, "arm_place", 80, [&] { return word({"at_site", "above_crease"}); });
            set(e, "arm_circumference", 85, [&] { return number({28, 30, 32, 33}); });
            set(e, "temperature", 80, [&] {
                return dice_.chance(70) ? number({37, 38, 38.5}) : json{{"value", 100.4}, {"unit", "[degF]"}};
            });
        }
        if (type == "flush") {
            set(e, "volume", 80, [&] { return number({5, 10, 20}); });
            set(e, "cause", 75, [&] { return word({"routine", "blocked"}); });
        }
        if (type == "infusion_start")
            set(e, "fluid", 85, [&] { return word({"crystalloid", "lipid", "blood"}); });
        if (type == "infusion_start" || type == "infusion_stop" || type == "set_change")
            set(e, "infusion", type == "set_change" ? 75 : 95, [&] {
                return json(dice_.pick({"i1", "i2", "i3"}));
            });
        if (type == "set_change") set(e, "cause", 80, [&] { return word({"routine", "leak"}); });
        if (type == "lumen_flush") {
            set(e, "lumen", 85, [&] {
                return dice_.chance(50) ? json(dice_.between(1, 3))
                                        : json(std::to_string(dice_.between(1, 2)));
            });
            set(e, "volume", 80, [&] { return number({5, 10}); });
        }
        if (type == "site_assessment") {
            set(e, "condition", 80, [&] { return word({"intact", "damp", "soiled"}); });
            set(e, "pain", 80, [&] { return json(dice_.one_of(std::vector<int>{0, 2, 3, 4, 7})); });
        }
        if (type == "transfer") set(e, "setting", 85, [&] { return word({"ward", "icu", "home"}); });
        if (type == "notification")
            set(e, "notified", theme_ == Theme::calls ? 65 : 90, [&] {
                return word({"provider", "bedside_nurse", "access_team"});
            });
        if (type == "acknowledgement")
            set(e, "acknowledged_by", 90, [&] { return word({"provider", "access_team"}); });
        return e;
    }

    json steps() {
        json out = json::array();
        const int count = dice_.between(1, theme_ == Theme::steps ? 8 : 5);
        for (int i = 0; i < count; ++i) {
            const std::string name =
                dice_.pick({"hand_hygiene", "remove_dressing", "scrub", "dry", "apply_dressing"});
            const auto minute = [&] {
                const Instant t = start_ + dice_.below(6) * one_minute;
                return dice_.chance(4) ? json(7) : json(utc_text(t));  // a number is no instant: set aside
            };
            if (dice_.chance(3))
                out.push_back("never_heard_of");  // set aside, may be any step
            else if (dice_.chance(50))
                out.push_back(name);
            else if (dice_.chance(60))
                out.push_back({{"step", name}, {"at", minute()}});
            else
                out.push_back({{"step", name}, {"from", minute()}, {"to", minute()}});
        }
        return out;
    }

    void add_events(json& events) {
        times_ = {start_};
        const int count = dice_.below(15);
        static const std::vector<const char*> types = {
            "dressing_change", "dressing_change", "dressing_change", "measurement",      "flush",
            "flush",           "flush",           "infusion_start",  "infusion_start",   "infusion_stop",
            "set_change",      "set_change",      "lumen_flush",     "lumen_flush",      "site_assessment",
            "site_assessment", "transfer",        "refusal",         "tip_confirmation", "sedation_start",
            "sedation_stop",   "fever",           "culture",         "culture",          "notification",
            "notification",    "acknowledgement"};
        for (int i = 0; i < count; ++i) {
            const Instant t = some_time();
            if (t < start_ || t < edge_) continue;
            const bool call = theme_ == Theme::calls && dice_.chance(45);
            const bool dressing = theme_ == Theme::steps && dice_.chance(50);
            const bool flush = theme_ == Theme::calls && dice_.chance(25);
            json e = event(flush      ? "flush"
                           : call     ? dice_.pick({"notification", "notification", "acknowledgement"})
                           : dressing ? "dressing_change"
                                      : dice_.one_of(types));
            e["at"] = utc_text(t);
            times_.push_back(t);
            events.push_back(e);
        }
    }

    void end_of(json& r) {
        const Instant last = *std::max_element(times_.begin(), times_.end());
        Instant removed = 0;
        const bool soon = theme_ == Theme::either && last > edge_ && dice_.chance(50);
        if (soon || dice_.chance(40)) {
            removed = soon ? last + dice_.between(0, 8) * one_hour
                      : dice_.chance(30) && last > edge_
                          ? last
                          : std::max(some_time(), std::max(start_, edge_ + one_hour));
            r["line"]["removed_at"] = utc_text(removed);
            json kept = json::array();
            for (const json& e : r["events"]) {
                const std::string& type = e["type"].get_ref<const std::string&>();
                const bool after =
                    type == "site_assessment" || type == "notification" || type == "acknowledgement";
                if (after || e["at"].get<std::string>() <= utc_text(removed)) kept.push_back(e);
            }
            r["events"] = kept;
        }
        if (soon && dice_.chance(80)) {
            r["observed_until"] = utc_text(removed + dice_.between(1, 100) * one_hour);
        } else if (dice_.chance(55) || last <= edge_) {
            const Instant until = dice_.chance(25) && last > edge_
                                      ? last
                                      : std::max({some_time(), removed, edge_ + one_hour, start_});
            r["observed_until"] = utc_text(until);
        }
    }

    Dice& dice_;
    Theme theme_;
    Instant start_ = 0;
    Instant edge_ = 0;
    Instant end_ = 0;
    std::vector<Instant> times_;
};

}  // namespace

json random_record(Dice& dice, Theme theme) {
    return Records(dice, theme).record();
}

}  // namespace linelaw::literal
