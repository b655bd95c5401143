// The invented facility: its units and how well each does in which month, its lines, its patients.
#include <fmt/format.h>

#include <algorithm>

#include "policies/demo/generator/aims.hpp"
#include "policies/demo/generator/scripts.hpp"

namespace linelaw::demo {
namespace {

struct KindWeight {
    const char* kind;
    int weight;
};
struct Unit {
    const char* name;
    const char* setting;
    int weight;    // of its episodes
    double lapse;  // 1 is usual; more is worse
    std::vector<KindWeight> kinds;
};

const std::vector<Unit>& units(Policy policy) {
    static const std::vector<Unit> neonatal = {
        {"neonatal",
         "icu",
         1,
         1.0,
         {{"umbilical_vein", 3}, {"umbilical_artery", 3}, {"picc", 5}, {"peripheral", 3}}},
    };
    static const std::vector<Unit> home_infusion = {
        {"home-infusion", "home", 2, 1.2, {{"picc", 6}, {"tunnelled_cvc", 3}, {"port", 2}, {"midline", 2}}},
        {"home-infusion", "ward", 1, 1.2, {{"picc", 5}, {"tunnelled_cvc", 2}, {"midline", 2}}},
    };
    static const std::vector<Unit> facility = {
        {"icu-1",
         "icu",
         12,
         0.6,
         {{"nontunnelled_cvc", 6}, {"arterial", 4}, {"picc", 2}, {"dialysis_catheter", 2}}},
        {"icu-2",
         "icu",
         10,
         1.5,
         {{"nontunnelled_cvc", 6}, {"arterial", 4}, {"picc", 2}, {"intraosseous", 1}}},
        {"med-3",
         "ward",
         20,
         1.0,
         {{"peripheral", 8}, {"picc", 4}, {"midline", 4}, {"dialysis_catheter", 1}}},
        {"med-5", "ward", 14, 1.1, {{"peripheral", 8}, {"picc", 3}, {"midline", 4}}},
        {"surg-2",
         "ward",
         16,
         2.0,
         {{"peripheral", 8}, {"picc", 3}, {"midline", 3}, {"nontunnelled_cvc", 1}}},
        {"onc-4", "ward", 10, 0.5, {{"port", 5}, {"tunnelled_cvc", 2}, {"picc", 4}, {"peripheral", 2}}},
        {"peds-2", "ward", 8, 0.8, {{"peripheral", 5}, {"picc", 3}, {"tunnelled_cvc", 2}, {"port", 1}}},
        {"nicu-1",
         "icu",
         7,
         0.7,
         {{"umbilical_vein", 3}, {"umbilical_artery", 3}, {"picc", 4}, {"peripheral", 3}}},
        {"day-unit", "outpatient", 3, 1.0, {{"port", 3}, {"picc", 2}, {"tunnelled_cvc", 2}}},
        {"home-care", "home", 6, 1.3, {{"picc", 5}, {"tunnelled_cvc", 3}, {"port", 2}, {"midline", 1}}},
    };
    switch (policy) {
        case Policy::neonatal:
            return neonatal;
        case Policy::home_infusion:
            return home_infusion;
        default:
            return facility;
    }
}

// Summer, with its substitutes, is worse; after a course in the autumn things go better.
double of_month(int month) {
    if (month == 7 || month == 8) return 1.6;
    if (month >= 10 || month <= 2) return 0.7;
    return 1.0;
}

struct Stays {  // hours
    const char* kind;
    int least;
    int most;
    int lumens;
};
constexpr Stays lengths[] = {
    {"peripheral", 12, 120, 1},
    {"midline", 48, 300, 1},
    {"picc", 60, 600, 2},
    {"nontunnelled_cvc", 24, 260, 3},
    {"tunnelled_cvc", 150, 900, 2},
    {"dialysis_catheter", 72, 500, 2},
    {"port", 40, 400, 1},
    {"arterial", 20, 150, 1},
    {"umbilical_artery", 40, 230, 1},
    {"umbilical_vein", 40, 280, 2},
    {"intraosseous", 2, 22, 1},
};
const Stays& lengths_of(const std::string& kind) {
    return *std::find_if(std::begin(lengths), std::end(lengths),
                         [&](const Stays& l) { return kind == l.kind; });
}

const Unit& choose_unit(Random& random, Policy policy, const Wish& wish) {
    std::int64_t all = 0;
    for (const Unit& unit : units(policy)) all += unit.weight;
    while (true) {
        std::int64_t left = random.between(1, all);
        for (const Unit& unit : units(policy)) {
            left -= unit.weight;
            if (left > 0) continue;
            const bool named =
                wish.units.empty() ||
                std::find(wish.units.begin(), wish.units.end(), unit.name) != wish.units.end() ||
                std::find(wish.units.begin(), wish.units.end(), unit.setting) != wish.units.end();
            const bool has =
                wish.kinds.empty() ||
                std::any_of(unit.kinds.begin(), unit.kinds.end(), [&](const KindWeight& k) {
                    return std::find(wish.kinds.begin(), wish.kinds.end(), k.kind) != wish.kinds.end();
                });
            if (named && has) return unit;
            break;
        }
    }
}

std::string choose_kind(Random& random, const Unit& unit, const Wish& wish) {
    std::vector<std::string> bag;
    for (const KindWeight& k : unit.kinds) {
        if (wish.kinds.empty() ||
            std::find(wish.kinds.begin(), wish.kinds.end(), k.kind) != wish.kinds.end()) {
            bag.insert(bag.end(), static_cast<std::size_t>(k.weight), k.kind);
        }
    }
    return random.pick(bag);
}

void choose_patient(Stay& s) {
    Random& random = s.random;
    if (s.unit == "nicu-1" || s.unit == "neonatal") {
        s.age_group = AgeGroup::neonate;
        const bool cord = s.kind.rfind("umbilical", 0) == 0;
        s.birth = add_days(midnight(s.inserted), -static_cast<int>(random.between(0, cord ? 2 : 25)));
        if (s.fifth() && !s.take("dressing.chlorhexidine_preterm", "not_assessable"))
            s.preterm = s.focus.item == "dressing.chlorhexidine_preterm" || random.chance(0.5);
    } else if (s.unit == "peds-2" && random.chance(0.25)) {
        s.age_group = AgeGroup::young_infant;
        s.birth = add_days(midnight(s.inserted), -static_cast<int>(random.between(30, 62)));
    } else if (s.unit == "peds-2") {
        s.age_group = AgeGroup::child;
        s.patient_age = random.chance(0.3)
                            ? fmt::format(R"({{"value":{},"unit":"mo"}})", random.between(4, 23))
                            : fmt::format(R"({{"value":{},"unit":"a"}})", random.between(2, 17));
    } else if (random.chance(0.006)) {
        s.age_group = AgeGroup::unknown;
        if (s.fifth()) s.preterm = false;
    } else {
        s.patient_age = fmt::format(R"({{"value":{},"unit":"a"}})", random.between(19, 94));
    }
    const bool sensitive_known = !s.take("antisepsis.sensitive", "not_assessable") &&
                                 !(s.adult() && s.take("skin.daily", "not_assessable")) &&
                                 !random.chance(0.012);
    if (s.focus.item == "antisepsis.sensitive") {
        s.sensitive = sensitive_known ? std::optional<bool>(true) : std::nullopt;
    } else if (s.age_group != AgeGroup::neonate) {
        s.sensitive = sensitive_known
                          ? std::optional<bool>(s.focus.item != "antisepsis.choice" && random.chance(0.05))
                          : std::nullopt;
    }
}

void choose_line(Stay& s, int usual_lumens) {
    Random& random = s.random;
    s.lumens = static_cast<int>(random.between(1, usual_lumens));
    if (s.aims("connector.interval", "not_assessable") ? random.chance(0.5)
        : s.aims("port.idle", "not_assessable") || s.aims("home.lumens", "not_assessable")
            ? true
            : random.chance(0.006)) {
        s.take("port.idle", "not_assessable");
        s.take("home.lumens", "not_assessable");
        s.lumens.reset();
        s.take("connector.interval", "not_assessable");
    }
    if (s.measurable()) s.baseline = random.between(20, 150);
    const bool silent = s.take("catheter_migration", "not_assessable", 1) || random.chance(0.015);
    if (silent) s.baseline.reset();
    s.emergency =
        s.focus.item == "insertion.emergency" || random.chance(s.unit.rfind("icu", 0) == 0 ? 0.12 : 0.01);
    if (s.focus.item == "umbilical.vein") s.emergency = false;
    if (s.take("insertion.emergency", "not_assessable") || s.take("umbilical.vein", "not_assessable") ||
        random.chance(0.01))
        s.emergency.reset();
    if (!s.fifth() || (s.kind != "picc" && s.kind != "midline")) return;
    s.arm_place = random.chance(0.8) ? "ten_cm_above_crease" : "at_insertion_site";
    if (s.focus.item == "arm_swelling" || !random.chance(0.04)) s.arm = random.between(220, 380);
}

bool aims_at_an_unknown_place(const Stay& s) {
    return s.aims("document.transfer", "not_met") || s.aims("document.transfer", "not_assessable") ||
           s.aims("discharge.teaching", "not_assessable") || s.aims("home.teaching", "not_assessable");
}

// Out of the ward, and nobody charts where to.
void choose_unknown_place(Stay& s, Time at) {
    const bool aimed = aims_at_an_unknown_place(s);
    if (!aimed && !s.random.chance(0.01)) return;
    if (const auto t = s.moment(at + hours(20), s.end())) s.setting.emplace_back(*t, "");
    if (!s.aims("document.transfer", "not_assessable")) s.focus_done = s.focus_done || aimed;
}

void choose_transfers(Stay& s, const std::string& first) {
    s.setting = {{s.inserted, first}};
    if (s.take("site.shift", "not_assessable") || s.take("need.daily", "not_assessable") ||
        s.take("site.away", "not_assessable") || s.take("neonatal.umbilical_need", "not_assessable") ||
        s.take("fever_at_home", "not_assessable", 1) || s.random.chance(0.006)) {
        s.setting.front().second.clear();
        return;
    }
    Time at = s.inserted;
    if (first == "icu" && s.unit != "nicu-1" && s.unit != "neonatal" && s.random.chance(0.35)) {
        if (const auto t = s.moment(at + hours(30), at + hours(140))) {
            s.setting.emplace_back(*t, "ward");
            at = *t;
        }
    }
    const bool goes_home =
        s.kind == "picc" || s.kind == "tunnelled_cvc" || s.kind == "midline" || s.kind == "port";
    const bool unknown_place = aims_at_an_unknown_place(s);
    const bool last_day = s.aims("home.teaching", "pending") || s.aims("home.teaching", "no_longer_due");
    if (s.setting.back().second == "ward" && last_day) {
        if (const auto t = s.moment(s.end() - hours(60), s.end() - hours(6)))
            s.setting.emplace_back(*t, "home");
    } else if (s.setting.back().second == "ward" && goes_home && !unknown_place &&
               s.end() - at > hours(200)) {
        if (const auto t = s.moment(at + hours(90), at + hours(190))) s.setting.emplace_back(*t, "home");
    }
    if (s.setting.back().second == "ward" && s.fifth()) choose_unknown_place(s, s.setting.back().first);
    if (s.setting.back().second == "home" && s.setting.size() > 1 &&
        s.random.chance(0.08)) {  // and comes back
        if (const auto t = s.moment(s.setting.back().first + hours(40), s.end()))
            s.setting.emplace_back(*t, "ward");
    }
}

}  // namespace

Stay begin_stay(Policy policy, std::uint64_t seed, int index) {
    Stay s;
    s.policy = policy;
    s.random = Random(seed * 0x9E3779B97F4A7C15U + static_cast<std::uint64_t>(index) * 0xD1B54A32D192ED03U);
    Random& random = s.random;
    // A stride without a common divisor with their number visits all aims before it repeats one.
    const std::vector<Focus>& aims = focuses(policy);
    s.focus = aims[static_cast<std::size_t>(index) * 67 % aims.size()];
    const Wish wish = wish_for(policy, s.focus);
    const Unit& unit = choose_unit(random, policy, wish);
    s.unit = unit.name;
    s.kind = choose_kind(random, unit, wish);
    s.key = fmt::format("{}-{:06}",
                        policy == Policy::neonatal        ? 'n'
                        : policy == Policy::home_infusion ? 'h'
                                                          : 'q',
                        index + 1);

    const Stays& usual = lengths_of(s.kind);
    const std::int64_t least =
        wish.most_hours > 0 ? wish.least_hours : std::max<std::int64_t>(usual.least, wish.least_hours);
    const std::int64_t most =
        wish.most_hours > 0 ? wish.most_hours : std::max<std::int64_t>(usual.most, least + 48);
    // Most lines are short-lived: the middle of two draws towards the low end.
    const std::int64_t draw = std::min(random.between(least, most), random.between(least, most));
    const Time length = minutes(draw * 60 + random.between(0, 59));
    const int year = year_of(policy);
    const Time first = instant({year, 3, 1, 10, 0});
    const Time last = instant({year + 1, 2, 28, 20, 0});
    s.inserted = random.between(first, last - length - hours(80)) / 60 * 60;
    const bool removed = wish.removed.value_or(random.chance(0.78));
    s.horizon = s.inserted + length;
    if (removed) {
        s.removed = s.horizon;
        s.says_horizon = random.chance(0.7);
        if (s.says_horizon) s.horizon += minutes(random.between(10, std::int64_t{72} * 60));
    }
    s.lapse = unit.lapse * of_month(local(s.inserted).month);
    choose_patient(s);
    choose_line(s, usual.lumens);
    choose_transfers(s, unit.setting);
    return s;
}

}  // namespace linelaw::demo
