// Records for the comparison side by side, in the project's format and the words of the standard vocabulary:
// some sixty events each, of which the three rules concern about ten. Clean, so that a program which
// validates nothing counts the same: no value is out of range, no event out of its place. In one of fifty the
// events are out of order. Links nothing of the project. Every figure of chance comes from a seeded generator
// of bits alone.
//
//   bench_versus_records MEBIBYTES [SEED] > records.ndjson
#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <iterator>
#include <random>
#include <string>
#include <utility>
#include <vector>

namespace {

constexpr int hour = 60;  // minutes
constexpr int day = 24 * hour;

struct Chance {
    std::mt19937_64 bits;
    int between(int low, int high) {
        return low + static_cast<int>(bits() % static_cast<unsigned>(high - low + 1));
    }
    bool percent(int share) { return between(1, 100) <= share; }
    template <std::size_t N>
    const char* one_of(const char* const (&names)[N]) {
        return names[bits() % N];
    }
};

constexpr const char* transparent[] = {"transparent", "transparent", "chg_transparent", "gauze"};
constexpr const char* antiseptics[] = {"chg_alcohol", "chg_alcohol", "chg_alcohol", "chg_aqueous",
                                       "povidone_iodine"};
constexpr const char* kinds[] = {"picc", "midline", "nontunnelled_cvc", "tunnelled_cvc"};
constexpr const char* settings[] = {"icu", "ward", "ward", "outpatient"};
constexpr const char* conditions[] = {"intact", "intact", "intact", "intact", "damp", "loose", "soiled"};
constexpr const char* sites[] = {"clear", "clear", "clear", "redness", "swelling"};
constexpr const char* hubs[] = {"chg_alcohol", "alcohol", "antiseptic_cap"};
constexpr const char* cleansers[] = {"chg_cloth", "chg_cloth", "soap"};
constexpr const char* specimens[] = {"blood_paired", "blood_line", "blood_peripheral"};

// Minutes since 2026-03-20 00:00 at UTC-3, up to the end of October: the clocks do not change on the way.
std::string instant(int minute) {
    using namespace std::chrono;
    const year_month_day date(sys_days(2026y / March / 20) + days(minute / day));
    return fmt::format("{:04}-{:02}-{:02}T{:02}:{:02}:00-03:00", static_cast<int>(date.year()),
                       static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()),
                       minute % day / hour, minute % hour);
}

struct Stay {
    Chance& chance;
    int begin;
    int end;
    std::vector<std::pair<int, std::string>> events;  // by minute; the rest of the object

    void add(int minute, std::string rest) {
        if (minute > begin && minute < end) events.emplace_back(minute, std::move(rest));
    }
    int in_day(int which) const { return begin + which * day + chance.between(0, day - 1); }

    void dressings() {
        int t = begin;
        while (true) {
            t += chance.percent(92) ? chance.between(60 * hour, 168 * hour)
                                    : chance.between(168 * hour + 1, 260 * hour);
            if (t >= end) return;
            const int dry = chance.percent(90) ? chance.between(120, 240) : chance.between(20, 119);
            add(t,
                fmt::format(R"("dressing_change","dressing":"{}","antiseptic":"{}","scrub_time":{},{})"
                            R"("external_length":{}.{},"recorded_at":"{}","steps":["hand_hygiene",)"
                            R"("clean_gloves","remove_dressing","inspect_site","sterile_gloves","scrub",)"
                            R"("dry","apply_dressing","label"])",
                            chance.one_of(transparent), chance.one_of(antiseptics), chance.between(30, 60),
                            chance.percent(4) ? "" : fmt::format(R"("dry_time":{},)", dry),
                            chance.between(1, 12), chance.between(0, 9), instant(t + chance.between(1, 90))));
        }
    }

    void fevers() {
        if (!chance.percent(40)) return;
        for (int n = chance.between(1, 2); n > 0; --n) {
            const int t = chance.between(begin + 1, end - 1);
            add(t,
                fmt::format(R"("fever","temperature":{}.{})", chance.between(38, 39), chance.between(0, 9)));
            const int after = chance.percent(85) ? chance.between(0, 60) : chance.between(61, 400);
            if (!chance.percent(10))
                add(t + after, fmt::format(R"("culture","specimen":"{}")", chance.one_of(specimens)));
        }
    }

    void days() {
        for (int d = 0; d * day < end - begin; ++d) {
            for (int n = 0; n < 2; ++n)
                add(in_day(d),
                    fmt::format(R"("site_assessment","dressing_condition":"{}","site_condition":"{}",)"
                                R"("phlebitis_grade":{},"pain":{})",
                                chance.one_of(conditions), chance.one_of(sites), chance.between(0, 1),
                                chance.between(0, 3)));
            add(in_day(d), R"("line_need_review","still_needed":true)");
            if (chance.percent(60))
                add(in_day(d), fmt::format(R"("bathing","cleanser":"{}")", chance.one_of(cleansers)));
            if (!chance.percent(40)) continue;
            const int t = in_day(d);
            add(t, fmt::format(
                       R"("access","lumen":1,"hub_antiseptic":"{}","hub_scrub_time":{},"hub_dry_time":{})",
                       chance.one_of(hubs), chance.between(3, 20), chance.between(5, 30)));
            add(t + 5, fmt::format(R"("flush","lumen":1,"volume":{},"solution":"saline","blood_return":true,)"
                                   R"("resistance":false)",
                                   chance.between(8, 12)));
        }
    }
};

void record(std::string& out, int number, Chance& chance) {
    const int begin = chance.between(0, 180 * day);
    Stay stay{chance, begin, begin + chance.between(6 * day, 22 * day), {}};
    stay.dressings();
    stay.fevers();
    stay.days();
    std::sort(stay.events.begin(), stay.events.end());
    if (chance.percent(2)) std::rotate(stay.events.begin(), stay.events.end() - 3, stay.events.end());
    const bool removed = chance.percent(85);
    const auto to = std::back_inserter(out);
    fmt::format_to(
        to,
        R"({{"episode":"b-{:07}","facility":"quillhaven","care_unit":"med-{}","patient":{{"key":"p-{:07}",)"
        R"("age":{{"value":{},"unit":"a"}},"setting":"{}","chg_sensitivity":false}},"line":{{"kind":"{}",)"
        R"("lumens":{},"inserted_at":"{}","removed_at":{},"external_length":{}.{},"dressing":"transparent",)"
        R"("antiseptic":"chg_alcohol","scrub_time":30,"dry_time":{}}},"observed_until":"{}","events":[)",
        number, chance.between(1, 12), number, chance.between(18, 90), chance.one_of(settings),
        chance.one_of(kinds), chance.between(1, 3), instant(stay.begin),
        removed ? '"' + instant(stay.end) + '"' : "null", chance.between(1, 12), chance.between(0, 9),
        chance.between(30, 240), instant(stay.end + (removed ? chance.between(0, day) : 0)));
    for (std::size_t i = 0; i < stay.events.size(); ++i)
        fmt::format_to(to, R"({}{{"id":"e{}","at":"{}","type":{}}})", i == 0 ? "" : ",", i + 1,
                       instant(stay.events[i].first), stay.events[i].second);
    out += "]}\n";
}

}  // namespace

int main(int argc, char** argv) {
    const std::size_t wanted = (argc > 1 ? std::strtoul(argv[1], nullptr, 10) : 1024) << 20U;
    Chance chance{std::mt19937_64(argc > 2 ? std::strtoul(argv[2], nullptr, 10) : 1)};
    std::string out;
    std::size_t written = 0;
    for (int number = 1; written < wanted; ++number) {
        out.clear();
        record(out, number, chance);
        if (std::fwrite(out.data(), 1, out.size(), stdout) != out.size()) return 2;
        written += out.size();
    }
    return std::fflush(stdout) == 0 ? 0 : 2;
}
