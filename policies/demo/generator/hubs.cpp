// The hubs and lumens: how they are scrubbed before use, and the flushing of lumens that lie idle.
#include <fmt/format.h>

#include "policies/demo/generator/charting.hpp"
#include "policies/demo/generator/periods.hpp"
#include "policies/demo/generator/scripts.hpp"

namespace linelaw::demo {
namespace {

// What the hub is scrubbed with, and whether it dried, as the later edition asks.
void chart_hub_antiseptic(Stay& s, Time at, Values& values) {
    Charted charted = Charted::yes;
    if (s.take("document.hub_antiseptic", "not_met") || s.take("hub.antiseptic", "not_assessable") ||
        s.lapses(0.03)) {
        charted = Charted::no;
    } else if (s.take("document.hub_antiseptic", "not_assessable")) {
        charted = Charted::spoiled;
    }
    const bool cap = s.take("hub.antiseptic", "not_met") || s.lapses(0.03);
    const char* with =
        cap ? "antiseptic_cap"
            : s.random.weighted<const char*>({{"chg_alcohol", 6}, {"alcohol", 3}, {"povidone_iodine", 1}});
    if (s.focus.item == "hub.dry") with = "chg_alcohol";
    if (charted == Charted::yes) values.emplace_back("hub_antiseptic", quoted(with));
    if (charted == Charted::spoiled) values.emplace_back("hub_antiseptic", spoiled_word(s));
    s.plant("document.hub_antiseptic", at, documented({charted}));
    s.plant("hub.antiseptic", at,
            charted != Charted::yes                 ? "not_assessable"
            : std::string(with) == "antiseptic_cap" ? "not_met"
                                                    : "met");

    Charted dried = Charted::yes;
    if (s.take("hub.dry", "not_assessable")) dried = Charted::spoiled;
    if (dried == Charted::yes && s.lapses(0.05)) dried = Charted::no;
    const bool brief = s.take("hub.dry", "not_met") || s.lapses(0.1);
    const std::int64_t seconds = brief ? s.random.between(2, 19) : s.random.between(20, 40);
    if (dried == Charted::yes) values.emplace_back("hub_dry_time", std::to_string(seconds));
    if (dried == Charted::spoiled) values.emplace_back("hub_dry_time", spoiled_number(s));
    if (charted == Charted::yes && std::string(with) != "chg_alcohol") return;
    // What is merely missing counts as not met here; what cannot be read does not.
    s.plant("hub.dry", at,
            charted == Charted::spoiled || (charted == Charted::yes && dried == Charted::spoiled)
                ? "not_assessable"
            : charted == Charted::no || dried == Charted::no || brief ? "not_met"
                                                                      : "met");
}

}  // namespace

Values name_lumen(Stay& s) {
    if (!s.lumens || (*s.lumens == 1 && s.random.chance(0.5))) return {};
    return {{"lumen", std::to_string(s.random.between(1, *s.lumens))}};
}

void write_hubs(Stay& s) {
    const std::int64_t count = s.focus.item.find("hub") != std::string::npos ? 2 : s.random.between(0, 4);
    for (int i = 0; i < count; ++i) {
        const auto at = s.moment(s.inserted + minutes(30), s.end());
        if (!at) continue;
        Values values = name_lumen(s);
        if (s.fifth()) {
            chart_hub_antiseptic(s, *at, values);
        } else {
            values.emplace_back("hub_antiseptic", quoted(s.random.chance(0.7) ? "chg_alcohol" : "alcohol"));
        }
        if (s.take("hub.scrub", "not_assessable") || s.take("document.hub", "not_met") || s.lapses(0.06)) {
            s.plant("hub.scrub", *at, "not_assessable");
            s.plant("document.hub", *at, "not_met");
        } else if (s.take("document.hub", "not_assessable") || s.random.chance(0.003)) {
            values.emplace_back("hub_scrub_time", spoiled_number(s));
            s.plant("hub.scrub", *at, "not_assessable");
            s.plant("document.hub", *at, "not_assessable");
        } else {
            const bool brief = s.take("hub.scrub", "not_met") || s.lapses(0.13);
            const std::int64_t seconds = brief ? s.random.between(3, 14) : s.random.between(15, 30);
            values.emplace_back("hub_scrub_time", std::to_string(seconds));
            s.plant("hub.scrub", *at, brief ? "not_met" : "met");
            s.plant("document.hub", *at, "met");
        }
        s.add("access", *at, std::move(values));
    }
}

}  // namespace linelaw::demo
