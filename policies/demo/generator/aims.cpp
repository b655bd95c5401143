#include "policies/demo/generator/aims.hpp"

#include <algorithm>

namespace linelaw::demo {
namespace {

using Outcomes = std::initializer_list<const char*>;
using Items = std::initializer_list<const char*>;
constexpr Outcomes judged = {"met", "not_met", "not_assessable"};
constexpr Outcomes answered = {"met", "late", "missed", "no_longer_due", "pending"};

class Aims {
  public:
    void each(const char* item, int step, Outcomes outcomes) {
        for (const char* outcome : outcomes) all.push_back({item, step, outcome});
    }
    void each(Items items, Outcomes outcomes) {
        for (const char* item : items) each(item, 0, outcomes);
    }
    std::vector<Focus> all;
};

Aims edition_4() {
    Aims aims;
    aims.each({"dressing.transparent", "dressing.gauze", "dressing.compromised"},
              {"met", "late", "missed", "excused", "no_longer_due", "pending", "not_assessable"});
    aims.each({"set.continuous", "connector.interval"},
              {"met", "late", "missed", "early", "no_longer_due", "pending", "not_assessable"});
    aims.each(
        {"set.nutrition_lipid_blood", "set.propofol", "site.away", "flush.after_draw", "drainage.culture"},
        {"met", "late", "missed", "no_longer_due", "pending", "not_assessable"});
    aims.each({"tip.confirmed", "needle.change", "fever.culture"}, answered);
    aims.each({"site.shift", "need.daily"}, {"met", "missed", "pending", "not_assessable"});
    aims.each({"dressing.steps", "antisepsis.choice", "antisepsis.sensitive", "antisepsis.scrub",
               "antisepsis.dry", "hub.scrub", "insertion.barriers", "vesicant.route", "document.dressing",
               "document.length", "document.site", "document.sets", "document.hub", "document.flush",
               "document.infusion", "charting.prompt"},
              judged);
    aims.each("tip.before_use", 0, {"met", "not_met"});
    aims.each("insertion.emergency", 0, {"met", "late", "missed", "pending", "not_assessable"});
    aims.each("umbilical.artery", 0, {"met", "late", "missed", "pending"});
    aims.each("catheter_migration", 1, {"met", "late", "missed", "pending", "not_assessable"});
    aims.each("catheter_migration", 2, {"met", "late", "missed", "no_longer_due", "pending"});
    aims.each("catheter_migration", 3, {"met", "not_met", "pending"});
    aims.each("device_failure", 1, {"met", "late", "missed", "pending"});
    aims.each("device_failure", 2, {"met", "missed", "no_longer_due", "pending"});
    return aims;
}

Aims edition_5() {
    Aims aims = edition_4();
    aims.each({"insertion.femoral", "insertion.upper_limb", "insertion.dry", "insertion.attempts",
               "insertion.length", "document.insertion", "dressing.chlorhexidine",
               "dressing.chlorhexidine_preterm", "document.cleansing", "hub.antiseptic",
               "document.hub_antiseptic", "hub.dry", "document.arm", "document.phlebitis", "document.need",
               "removal.inspected", "document.removal", "discharge.teaching", "document.transfer"},
              judged);
    aims.each("skin.daily", 0, {"met", "missed", "pending", "not_assessable"});
    aims.each("port.idle", 0, {"met", "late", "missed", "no_longer_due", "pending", "not_assessable"});
    aims.each("connector.shortest", 0, {"met", "early", "not_assessable"});
    aims.each("arm_swelling", 1, {"met", "missed", "pending", "not_assessable"});
    aims.each({"phlebitis.reported", "umbilical.vein", "removal.prompt"},
              {"met", "late", "missed", "pending", "not_assessable"});
    return aims;
}

Aims neonatal() {
    Aims aims;
    aims.each("neonatal.umbilical_need", 0, {"met", "missed", "pending", "not_assessable"});
    aims.each({"neonatal.two_months", "neonatal.weight", "neonatal.flush"}, judged);
    aims.each("neonatal.flush_after_draw", 0, answered);
    return aims;
}

Aims home_infusion() {
    Aims aims;
    aims.each({"home.lumens", "home.teaching"},
              {"met", "late", "missed", "no_longer_due", "pending", "not_assessable"});
    aims.each("fever_at_home", 1, {"met", "late", "missed", "pending", "not_assessable"});
    aims.each("fever_at_home", 2,
              {"met", "missed", "no_longer_due", "pending"});  // the run is over before it is late
    return aims;
}

bool is_one_of(const std::string& item, Items items) {
    return std::find(items.begin(), items.end(), item) != items.end();
}

const std::vector<std::string> wards = {"med-3", "med-5", "surg-2"};
const std::vector<std::string> intensive = {"icu-1", "icu-2"};

Wish wish_of_edition_5(const Focus& focus, Wish wish) {
    const std::string& item = focus.item;
    const std::string& outcome = focus.outcome;
    const bool out = outcome == "met" || outcome == "late";
    if (item == "insertion.femoral") return {intensive, {"nontunnelled_cvc", "picc"}, 30, 0, {}};
    if (item == "insertion.upper_limb" || item == "insertion.dry") return {wards, {"peripheral"}, 30, 0, {}};
    if (item == "insertion.length") return {wards, {"picc", "midline"}, 60, 0, {}};
    if (item == "dressing.chlorhexidine") return {intensive, {"nontunnelled_cvc"}, 200, 0, {}};
    if (item == "dressing.chlorhexidine_preterm") return {{"nicu-1"}, {"picc", "umbilical_vein"}, 120, 0, {}};
    if (is_one_of(item, {"skin.daily", "document.cleansing"}))
        return {intensive, {"nontunnelled_cvc"}, 70, 0, wish.removed};
    if (item == "port.idle") {
        const bool closes = out || outcome == "missed";
        return {{"day-unit", "home-care"}, {"port"}, closes ? 1050 : 200, closes ? 1500 : 400, wish.removed};
    }
    if (item == "connector.shortest") return {wards, {"picc"}, 480, 0, {}};
    if (is_one_of(item, {"document.arm", "arm_swelling"}))
        return {wards, {"picc", "midline"}, 90, 0, wish.removed};
    if (item == "umbilical.vein") {
        const bool in_time = outcome == "met" || outcome == "pending";
        return {{}, {"umbilical_vein"}, in_time ? 60 : 350, in_time ? 320 : 420, out};
    }
    if (item == "phlebitis.reported") return {wards, {}, 60, 0, wish.removed};
    if (item == "removal.prompt" && outcome != "not_assessable") return {wards, {}, 110, 0, out};
    if (is_one_of(item, {"removal.inspected", "document.removal"})) return {{}, {}, 40, 0, true};
    if (is_one_of(item, {"discharge.teaching", "document.transfer"})) return {wards, {"picc"}, 360, 0, {}};
    wish.least_hours = 60;
    return wish;
}

Wish wish_of_neonatal(const Focus& focus, Wish wish) {
    wish.least_hours = 60;
    if (focus.item == "neonatal.umbilical_need") wish.kinds = {"umbilical_artery", "umbilical_vein"};
    if (focus.item == "neonatal.two_months") wish.kinds = {"peripheral"};
    if (focus.item == "neonatal.weight") wish.kinds = {"picc", "umbilical_vein"};
    return wish;
}

Wish wish_of_home_infusion(const Focus& focus, Wish wish) {
    wish.least_hours = 60;
    wish.units = {"home"};
    if (focus.item == "home.lumens") wish.kinds = {"picc", "tunnelled_cvc"}, wish.least_hours = 480;
    if (focus.item == "home.teaching") wish.kinds = {"picc"}, wish.units = {"ward"}, wish.least_hours = 420;
    return wish;
}

Wish wish_of_edition_4(const Focus& focus, Wish wish) {
    const std::string& item = focus.item;
    const std::string& outcome = focus.outcome;
    const bool closes = outcome == "met" || outcome == "late" || outcome == "missed" || outcome == "excused";
    if (item == "dressing.transparent") {
        wish = {wards, {"picc"}, closes ? 270 : 60, 0, wish.removed};
    } else if (item == "dressing.gauze") {
        wish = {wards, {"picc", "midline"}, closes ? 130 : 50, 0, wish.removed};
    } else if (item.rfind("dressing.", 0) == 0 || item == "charting.prompt") {
        wish = {wards, {"picc", "midline"}, 180, 0, wish.removed};
    } else if (item == "document.length" || item == "catheter_migration") {
        wish = {wards, {"picc", "midline"}, 200, 0, wish.removed};
    } else if (item == "set.continuous" || item == "connector.interval") {
        wish = {wards, {"picc"}, 480, 0, wish.removed};
    } else if (item.rfind("set.", 0) == 0 || item == "document.sets") {
        wish = {intensive, {"picc", "nontunnelled_cvc"}, 130, 0, wish.removed};
    } else if (item == "site.shift" || item == "need.daily") {
        wish = {wards, {}, 60, 0, wish.removed};
    } else if (item == "site.away") {
        wish = {{"home-care"}, {"picc", "tunnelled_cvc"}, 480, 0, wish.removed};
    } else if (item == "tip.confirmed") {
        wish = {{}, {"picc", "nontunnelled_cvc"}, closes ? 60 : 4, closes ? 0 : 20, wish.removed};
    } else if (item == "tip.before_use" || item == "insertion.barriers") {
        wish = {{}, {"picc", "nontunnelled_cvc"}, 60, 0, {}};
    } else if (item == "needle.change") {
        wish = {{"onc-4", "day-unit"}, {"port"}, closes ? 300 : 40, 0, wish.removed};
    } else if (item == "umbilical.artery") {
        wish = {{},
                {"umbilical_artery"},
                outcome == "pending" || outcome == "met" ? 124 : 160,
                outcome == "pending" || outcome == "met" ? 142 : 220,
                outcome == "met" || outcome == "late"};
    } else if (item == "insertion.emergency") {
        const bool brief = outcome == "met" || outcome == "pending";
        wish = {
            {}, {"nontunnelled_cvc"}, brief ? 20 : 70, brief ? 46 : 0, outcome == "met" || outcome == "late"};
    } else if (item == "vesicant.route") {
        wish = {wards, {"peripheral", "midline"}, 30, 0, {}};
    } else if (item == "antisepsis.sensitive" || item == "antisepsis.choice") {
        wish = {wards, {}, 30, 0, {}};
    } else {
        wish.least_hours = 40;
    }
    return wish;
}

}  // namespace

const std::vector<Focus>& focuses(Policy policy) {
    static const std::vector<Focus> all[] = {edition_4().all, edition_5().all, neonatal().all,
                                             home_infusion().all};
    return all[static_cast<int>(policy)];
}

Wish wish_for(Policy policy, const Focus& focus) {
    Wish wish;
    if (focus.outcome == "pending") wish.removed = false;
    if (focus.outcome == "no_longer_due" && focus.step == 0) wish.removed = true;
    switch (policy) {
        case Policy::neonatal:
            return wish_of_neonatal(focus, wish);
        case Policy::home_infusion:
            return wish_of_home_infusion(focus, wish);
        default: {
            const std::vector<Focus>& of_edition_4 = focuses(Policy::edition_4);
            const bool old = std::any_of(of_edition_4.begin(), of_edition_4.end(),
                                         [&](const Focus& f) { return f.item == focus.item; });
            return old ? wish_of_edition_4(focus, wish) : wish_of_edition_5(focus, wish);
        }
    }
}

}  // namespace linelaw::demo
