// Adding up: line-days in both readings, and sums that do not depend on how the records were dealt out.
#include "runtime/tally.hpp"

#include <catch2/catch.hpp>
#include <random>
#include <set>

#include "runtime/summary.hpp"
#include "tests/runtime/small_policy.hpp"

using namespace linelaw::runtime;
using namespace small;

namespace {

const Zone utc = Zone::utc();
constexpr std::int64_t seven = 7 * hour;

std::uint64_t length(const Days& days) {
    return static_cast<std::uint64_t>(days.last - days.first) + 1;
}
std::uint64_t calendar(const char* from, const char* until, const Zone& zone = utc) {
    return length(calendar_days(instant(from), instant(until), zone));
}
std::uint64_t at_seven(const char* from, const char* until) {
    return length(days_at(instant(from), instant(until), seven, utc));
}
Days march(int first, int last) {
    return {day_number({2026, 3, static_cast<std::uint8_t>(first)}),
            day_number({2026, 3, static_cast<std::uint8_t>(last)})};
}

Policy weekly() {
    Policy p = policy();
    AtLeastEvery demand;
    demand.events = {{dressing_change, none}};
    demand.every = days(7);
    p.clauses = {clause("dressing.transparent", "Change it at least every 7 days.", demand),
                 clause("dressing.gauze", "Change gauze at least every 2 days.", demand, Priority::critical)};
    return p;
}

Opportunity outcome(Outcome result, const char* opened, const char* due, const char* closed,
                    std::uint32_t item = 0) {
    Opportunity o;
    o.item = item;
    o.outcome = result;
    o.opened = instant(opened);
    o.due = o.limit = instant(due);
    o.closed = instant(closed);
    return o;
}

// The months of a line's days, and how many each has.
std::map<std::int32_t, std::uint64_t> line_days_by_month(const char* from, const char* until) {
    const Policy p = weekly();
    const Items items(p);
    Tallier tallier(p, items, {}, {});
    EpisodeMaker maker(p, "q-1");
    maker.episode.inserted_at = instant(from);
    maker.episode.observed_until = instant(until);
    tallier.judged(maker.episode, {}, {});
    std::map<std::int32_t, std::uint64_t> days;
    for (const auto& [month, group] : tallier.tally().by_month) days[month] = group.line_days;
    return days;
}

// A line in from 2 March; each number makes another patient and other outcomes.
void add_sample(Tallier& tallier, const Policy& p, int number) {
    EpisodeMaker maker(p, "q-" + std::to_string(1000 + number));
    maker.episode.patient_key = "p-" + std::to_string(number / 2);
    maker.episode.care_unit = number % 3 == 0 ? "med-3" : "icu-1";
    maker.episode.observed_until = instant("2026-04-10T00:00:00Z") + number * day;
    const auto late = instant("2026-03-09T08:00:00Z") + number * hour;
    std::vector<Opportunity> all = {
        outcome(Outcome::late, "2026-03-02T08:00:00Z", "2026-03-09T08:00:00Z", "2026-03-09T08:00:00Z"),
        outcome(number % 2 == 0 ? Outcome::met : Outcome::missed, "2026-03-09T08:00:00Z",
                "2026-03-16T08:00:00Z", "2026-03-20T08:00:00Z", 1)};
    all[0].closed = late;
    tallier.judged(maker.episode, {all, {}},
                   {{0, none, none, *maker.episode.inserted_at, instant("2026-04-01T00:00:00Z")}});
    if (number % 5 == 0)
        tallier.quarantined({"record.json", "/events/" + std::to_string(number) + "/at", 0, ""});
    tallier.set_aside({"value.range", "/events/3/dry_time", 0, ""});
}

std::string iso(DayNumber day) {
    const CivilDate date = date_of_day(day);
    char text[16];
    std::snprintf(text, sizeof text, "%04d-%02d-%02d", date.year, date.month, date.day);
    return text;
}
// Which day of its count this date is; 0 where the patient had no line.
int day_in_count(const PatientDays& patients, const std::string& date) {
    for (const auto& [patient, days] : patients.intervals()) {
        for (DayNumber day = days.first; day <= days.last; ++day) {
            if (iso(day) == date) return day - days.first + 1;
        }
    }
    return 0;
}
// From the third day of each count to the day after its last.
std::vector<std::string> eligible(const PatientDays& patients) {
    std::vector<std::string> out;
    for (const auto& [patient, days] : patients.intervals()) {
        for (DayNumber day = days.first + 2; day <= days.last + 1; ++day) out.push_back(iso(day));
    }
    return out;
}

Tally tally_of(const Policy& p, const std::vector<int>& numbers) {
    const Items items(p);
    Tallier tallier(p, items, {{"line.kind"}, seven, {}}, {grouping(p, "line.kind").value()});
    for (const int number : numbers) add_sample(tallier, p, number);
    return tallier.tally();
}

bool same(const Tally& a, const Tally& b) {
    return a.read == b.read && a.judged == b.judged && a.quarantined == b.quarantined &&
           a.quarantined_by == b.quarantined_by && a.set_aside_by == b.set_aside_by && a.first == b.first &&
           a.last == b.last && a.all == b.all && a.by_care_unit == b.by_care_unit &&
           a.by_month == b.by_month && a.by == b.by && a.patient_days == b.patient_days &&
           a.episodes == b.episodes && a.worst == b.worst;
}

}  // namespace

// The cases of line-days follow the surveillance manual's rules (CDC/NHSN: calendar days, the day of
// insertion or first access is day 1 whatever the hour; a count restarts after a whole calendar day without a
// line; one count a day of patients with a line). The port on 31 March is the manual's "Patient A", from
// memory; the others were built from its rules. The days of a count are ours; the number of a day in it, and
// the eligibility that surveillance derives from it (from day 3 to the day after the line is out), are worked
// out here, because the audit does not attribute.

TEST_CASE("a line counts on every calendar day that it touches, whatever the hour") {
    // In 1 March 23:50, out 3 March 00:10: days 1, 2, 3; eligible on the 3rd and on the 4th, the day after.
    const auto from = instant("2026-03-01T23:50:00Z");
    const auto until = instant("2026-03-03T00:10:00Z");
    CHECK(calendar("2026-03-01T23:50:00Z", "2026-03-03T00:10:00Z") == 3);
    CHECK(at_seven("2026-03-01T23:50:00Z", "2026-03-03T00:10:00Z") == 1);  // 2 March only
    PatientDays patients;
    patients.add(1, calendar_days(from, until, utc));
    CHECK(eligible(patients) == std::vector<std::string>{"2026-03-03", "2026-03-04"});
}

TEST_CASE("a line that is replaced the next day gives no day twice, and the count goes on") {
    PatientDays patients;
    patients.add(1, calendar_days(instant("2026-03-01T10:00:00Z"), instant("2026-03-04T09:00:00Z"), utc));
    patients.add(1, calendar_days(instant("2026-03-05T15:00:00Z"), instant("2026-03-05T18:00:00Z"), utc));
    CHECK(patients.count() == 5);  // no line-free calendar day between
    CHECK(day_in_count(patients, "2026-03-05") == 5);
}

TEST_CASE("days of many parts add up to those of all, day by day") {
    std::mt19937 random(20261130);
    const auto up_to = [&](unsigned most) { return random() % (most + 1); };
    PatientDays sum;
    std::set<std::pair<std::uint64_t, DayNumber>> each;
    for (int part = 0; part < 300; ++part) {
        PatientDays days;
        for (unsigned i = up_to(part % 50 == 0 ? 40 : 4); i > 0; --i) {
            const std::uint64_t patient = up_to(30);
            const auto first = static_cast<DayNumber>(up_to(400));
            const auto last = first + static_cast<DayNumber>(up_to(6));
            days.add(patient, {first, last});
            for (DayNumber day = first; day <= last; ++day) each.emplace(patient, day);
        }
        sum.add(days);
        REQUIRE(sum.count() == each.size());
    }
    sum.put_in_order();
    CHECK(sum.count() == each.size());
}

TEST_CASE("a calendar day without a line is none of the patient's line-days, and the count restarts") {
    PatientDays patients;
    patients.add(1, march(1, 4));
    patients.add(1, march(6, 8));
    CHECK(patients.count() == 7);
    CHECK(day_in_count(patients, "2026-03-05") == 0);
    CHECK(day_in_count(patients, "2026-03-06") == 1);
    // The 5th is still the day after the first line; eligible again on the 8th.
    CHECK(eligible(patients) ==
          std::vector<std::string>{"2026-03-03", "2026-03-04", "2026-03-05", "2026-03-08", "2026-03-09"});
}

TEST_CASE("two lines in one patient give one line-day a day, and two where each line counts") {
    PatientDays patients;
    patients.add(1, march(1, 5));
    patients.add(1, march(3, 8));
    CHECK(patients.count() == 8);
    CHECK(length(march(1, 5)) + length(march(3, 8)) == 11);
    // So no unit has more patients' line-days than patient-days: 120 of 100 cannot be.
    CHECK(patients.count() <= static_cast<std::uint64_t>(length(march(1, 8))));
}

TEST_CASE("a line that was in on admission counts from its first use, where the record begins there") {
    // Own tunnelled line, first used on the 12th, home on the 15th: four days; by a count at 07:00 three, or
    // four if it was first used before seven.
    CHECK(calendar("2026-03-12T11:00:00Z", "2026-03-15T10:00:00Z") == 4);
    CHECK(at_seven("2026-03-12T11:00:00Z", "2026-03-15T10:00:00Z") == 3);
    CHECK(at_seven("2026-03-12T06:30:00Z", "2026-03-15T10:00:00Z") == 4);
}

TEST_CASE("a port counts from its first access, and goes on while it is in the body") {
    // In on 31 March, first accessed on 2 April, de-accessed on the 4th, still in on the 6th: day 1 is 2
    // April; eligible on the 4th, 5th and 6th.
    PatientDays patients;
    patients.add(1, calendar_days(instant("2026-04-02T09:00:00Z"), instant("2026-04-06T12:00:00Z"), utc));
    CHECK(day_in_count(patients, "2026-04-01") == 0);
    CHECK(day_in_count(patients, "2026-04-02") == 1);
    std::vector<std::string> days = eligible(patients);
    days.pop_back();  // the day after the record ends is not known to be one with the port
    CHECK(days == std::vector<std::string>{"2026-04-04", "2026-04-05", "2026-04-06"});
}

TEST_CASE("calendar days are those of the policy's zone, through a clock change") {
    const Zone halifax = Zone::find("America/Halifax").value();
    CHECK(calendar("2026-03-08T03:30:00Z", "2026-03-09T02:30:00Z", halifax) ==
          2);  // 23:30 on the 7th to 23:30 on the 8th
    CHECK(calendar("2026-03-08T03:30:00Z", "2026-03-09T02:30:00Z") == 2);
    CHECK(calendar("2026-03-08T04:30:00Z", "2026-03-09T02:30:00Z", halifax) == 1);
}

TEST_CASE("a line out at midnight was not in place on the day that begins") {
    CHECK(calendar("2026-03-01T10:00:00Z", "2026-03-03T00:00:00Z") == 2);
    CHECK(calendar("2026-03-01T10:00:00Z", "2026-03-01T10:00:00Z") == 1);
}

TEST_CASE("a line's days are those of each month, in the last month of all as well") {
    using Months = std::map<std::int32_t, std::uint64_t>;
    CHECK(line_days_by_month("2025-12-30T08:00:00Z", "2026-02-02T08:00:00Z") ==
          Months{{2025 * 12 + 11, 2}, {2026 * 12, 31}, {2026 * 12 + 1, 2}});
    CHECK(line_days_by_month("9999-12-30T08:00:00Z", "9999-12-31T23:00:00Z") == Months{{9999 * 12 + 11, 2}});
}

TEST_CASE("patients' days are the same in whatever order they are added") {
    std::vector<Days> all = {march(1, 3),   march(9, 9), march(5, 6),  march(2, 4),
                             march(20, 25), march(8, 8), march(22, 30)};
    PatientDays forward;
    PatientDays backward;
    for (const Days& days : all) forward.add(7, days);
    for (auto days = all.rbegin(); days != all.rend(); ++days) backward.add(7, *days);
    CHECK(forward == backward);
    CHECK(forward.count() == 6 + 2 + 11);
}

TEST_CASE("an episode that comes again is counted, in whatever shard it comes") {
    EpisodeKeys january;
    EpisodeKeys february;
    for (const std::uint64_t episode : {11, 12, 13}) january.add(episode);
    for (const std::uint64_t episode : {13, 14, 13}) february.add(episode);
    CHECK(january.repeated() == 0);
    CHECK(february.repeated() == 1);
    EpisodeKeys both = february;
    both.add(january);
    CHECK(both.repeated() == 2);
    CHECK(both.count() == 6);
    january.add(february);
    CHECK(both == january);

    const Policy p = weekly();
    CHECK(tally_of(p, {1, 2, 3}).episodes.repeated() == 0);
    CHECK(tally_of(p, {1, 2, 1}).episodes.repeated() == 1);
}

TEST_CASE("thousands of patients' days are what a set of their days holds") {
    std::mt19937 random(20261129);
    PatientDays whole;
    PatientDays shards[3];
    std::set<std::pair<std::uint64_t, DayNumber>> each;
    for (int i = 0; i < 20'000; ++i) {
        const std::uint64_t patient = random() % 3000;
        const auto first = static_cast<DayNumber>(random() % 365);
        const Days in_place{first, first + static_cast<DayNumber>(random() % 20)};
        whole.add(patient, in_place);
        shards[random() % 3].add(patient, in_place);
        for (DayNumber d = in_place.first; d <= in_place.last; ++d) each.emplace(patient, d);
    }
    CHECK(whole.count() == each.size());
    CHECK(PatientDays::count_together({&shards[0], &shards[1], &shards[2]}) == each.size());
    CHECK(PatientDays::count_together({}) == 0);
    PatientDays merged;
    for (const PatientDays& shard : shards) merged.add(shard);
    CHECK(merged == whole);
    shards[1].put_in_order();
    CHECK(PatientDays::count_together({&shards[1], &whole, &merged}) == each.size());
    const auto intervals = whole.intervals();
    for (std::size_t i = 1; i < intervals.size(); ++i) {
        const auto& before = intervals[i - 1];
        const auto& next = intervals[i];
        const bool apart = before.patient < next.patient ||
                           (before.patient == next.patient && before.days.last + 1 < next.days.first);
        if (!apart || each.count({next.patient, next.days.last + 1}) != 0) FAIL("interval " << i);
    }
}

TEST_CASE("the sum of shards is the sum of the whole, however they are dealt") {
    const Policy p = weekly();
    std::vector<int> numbers;
    for (int i = 0; i < 60; ++i) numbers.push_back(i);
    const Tally whole = tally_of(p, numbers);
    CHECK(whole.read == whole.judged + whole.quarantined);
    CHECK(whole.judged == 60);
    CHECK(whole.worst.size() == worst_kept);
    for (const std::size_t shards : {2, 3, 7}) {
        std::vector<std::vector<int>> dealt(shards);
        for (const int number : numbers)
            dealt[static_cast<std::size_t>(number * 31) % shards].push_back(number);
        Tally forward;
        Tally backward;
        for (std::size_t i = 0; i < shards; ++i) {
            forward.add(tally_of(p, dealt[i]));
            backward.add(tally_of(p, dealt[shards - 1 - i]));
        }
        CHECK(same(forward, whole));
        CHECK(same(backward, whole));
    }
}

TEST_CASE("the worst findings are those of the highest priority, then the latest, then by key") {
    const Policy p = weekly();
    const Tally tally = tally_of(p, {1, 2, 3});
    REQUIRE(tally.worst.size() == 5);
    CHECK(tally.worst[0].priority == Priority::critical);  // missed by four days, twice
    CHECK(tally.worst[0].episode == "q-1001");
    CHECK(tally.worst[1].episode == "q-1003");
    CHECK(tally.worst[2].lateness == 3 * hour);
    CHECK(tally.worst[4].lateness == 1 * hour);
    CHECK(tally.worst[0].bars.size() == 2);
}

TEST_CASE("the same fault in many places is counted as one kind of fault") {
    const Tally tally = tally_of(weekly(), {0, 5, 10});
    CHECK(tally.quarantined_by == std::map<std::string, std::uint64_t>{{"record.json /events/*/at", 3}});
    CHECK(tally.set_aside_by == std::map<std::string, std::uint64_t>{{"value.range /events/*/dry_time", 3}});
}

TEST_CASE("opportunities are of the month in which they were due, or closed where that came first") {
    const Policy p = weekly();
    const Items items(p);
    Tallier tallier(p, items, {}, {});
    EpisodeMaker maker(p);
    maker.episode.observed_until = instant("2026-05-02T00:00:00Z");
    tallier.judged(
        maker.episode,
        {{outcome(Outcome::missed, "2026-03-28T08:00:00Z", "2026-03-30T08:00:00Z", "2026-04-20T08:00:00Z"),
          outcome(Outcome::early, "2026-03-28T08:00:00Z", "2026-04-04T08:00:00Z", "2026-03-29T08:00:00Z"),
          outcome(Outcome::met, "2026-04-20T08:00:00Z", "2026-04-27T08:00:00Z", "2026-04-27T08:00:00Z")},
         {}},
        {});
    CHECK(tallier.tally().by_month.at(2026 * 12 + 2).counts[0].outcomes[static_cast<int>(Outcome::missed)] ==
          1);
    CHECK(tallier.tally().by_month.at(2026 * 12 + 2).counts[0].outcomes[static_cast<int>(Outcome::early)] ==
          1);
    CHECK(tallier.tally().by_month.at(2026 * 12 + 3).counts[0].outcomes[static_cast<int>(Outcome::met)] == 1);
    CHECK(tallier.tally().by_month.at(2026 * 12 + 2).line_days == 30);
    CHECK(tallier.tally().all.line_days == 30 + 30 + 1);
}

TEST_CASE(
    "what is due as a day or shift ends is of that day's month") {  // a look missed on 31 March is March's
    Policy p = weekly();
    EachPeriod daily;
    daily.events = {{dressing_change, none}};
    daily.period = Period::calendar_day;
    Within same_day;
    same_day.events = {{dressing_change, none}};
    same_day.within = Until::same_calendar_day;
    AtLeastEvery calendar;
    calendar.events = {{dressing_change, none}};
    calendar.every = days(3);
    calendar.every.calendar = true;
    p.clauses = {clause("a", "Daily.", daily), clause("b", "The same day.", same_day),
                 clause("c", "Every 3 calendar days.", calendar), weekly().clauses[0]};
    const Items items(p);
    for (const std::uint32_t item : {0U, 1U, 2U, 3U}) {
        Tallier tallier(p, items, {}, {});
        EpisodeMaker maker(p);
        maker.episode.observed_until = instant("2026-05-02T00:00:00Z");
        tallier.judged(maker.episode,
                       {{outcome(Outcome::missed, "2026-03-31T00:00:00Z", "2026-04-01T00:00:00Z",
                                 "2026-04-01T00:00:00Z", item)},
                        {}},
                       {});
        const auto missed = [&](int month) {
            const auto found = tallier.tally().by_month.find(2026 * 12 + month - 1);
            return found == tallier.tally().by_month.end()
                       ? 0U
                       : found->second.counts[item].outcomes[static_cast<int>(Outcome::missed)];
        };
        INFO(item);
        CHECK(missed(3) == (item == 3 ? 0U : 1U));
        CHECK(missed(4) == (item == 3 ? 1U : 0U));
    }
}

TEST_CASE("what is of one line is known to go together") {  // (3 of 4)² + (0 of 2)²; 3 x 4; 4² + 2²
    const Policy p = weekly();
    const Items items(p);
    Tallier tallier(p, items, {}, {});
    EpisodeMaker maker(p);
    maker.episode.observed_until = instant("2026-05-02T00:00:00Z");
    const auto one = [](Outcome result) {
        return outcome(result, "2026-03-28T08:00:00Z", "2026-03-30T08:00:00Z", "2026-03-29T08:00:00Z");
    };
    tallier.judged(maker.episode,
                   {{one(Outcome::met), one(Outcome::met), one(Outcome::missed), one(Outcome::met),
                     one(Outcome::excused)},
                    {}},
                   {});
    tallier.judged(maker.episode, {{one(Outcome::late), one(Outcome::missed)}, {}}, {});
    tallier.judged(maker.episode, {{one(Outcome::excused)}, {}}, {});
    const Counts& counts = tallier.tally().all.counts[0];
    CHECK(counts.lines == 2);
    CHECK(counts.met_squared == 9);
    CHECK(counts.met_counted == 12);
    CHECK(counts.counted_squared == 20);
}

TEST_CASE("the last month that a date can name has no end to wait for") {
    const Policy p = weekly();
    const Items items(p);
    Tallier tallier(p, items, {}, {});
    EpisodeMaker maker(p);
    maker.episode.inserted_at = instant("9999-12-31T00:00:00-12:00");
    maker.episode.removed_at = instant("9999-12-31T23:59:59-12:00");
    maker.episode.observed_until = maker.episode.removed_at;
    Stretch stretch;
    stretch.clause = 0;
    stretch.begin = *maker.episode.inserted_at;
    stretch.end = *maker.episode.removed_at;
    tallier.judged(maker.episode, {}, {stretch}, {});
    CHECK(tallier.tally().all.counts[0].applied_s == 86'399);
}

TEST_CASE("time in order is told by month too, each month with its piece of the time") {
    const Policy p = weekly();
    const Items items(p);
    Tallier tallier(p, items, {}, {});
    EpisodeMaker maker(p);
    maker.episode.observed_until = instant("2026-05-01T00:00:00Z");
    // Applied from 2 March to the end of April; past its limit from 30 March 00:00 to 3 April 00:00.
    Opportunity late =
        outcome(Outcome::late, "2026-03-23T00:00:00Z", "2026-03-30T00:00:00Z", "2026-04-03T00:00:00Z");
    tallier.judged(maker.episode, {{late}, {}},
                   {{0, none, none, instant("2026-03-02T00:00:00Z"), instant("2026-05-01T00:00:00Z")}});
    constexpr std::uint64_t day_s = 86400;
    const Counts& march_counts = tallier.tally().by_month.at(2026 * 12 + 2).counts[0];
    const Counts& april_counts = tallier.tally().by_month.at(2026 * 12 + 3).counts[0];
    CHECK(march_counts.applied_s == 30 * day_s);
    CHECK(march_counts.overdue_s == 2 * day_s);
    CHECK(april_counts.applied_s == 30 * day_s);
    CHECK(april_counts.overdue_s == 2 * day_s);
    CHECK(tallier.tally().all.counts[0].applied_s == 60 * day_s);
    CHECK(tallier.tally().all.counts[0].overdue_s == 4 * day_s);
}

TEST_CASE("a month in which nothing fell due and something stayed overdue is told") {
    const Policy p = weekly();
    const Items items(p);
    Tallier tallier(p, items, {}, {});
    EpisodeMaker maker(p);
    maker.episode.observed_until = instant("2026-06-10T00:00:00Z");
    tallier.judged(
        maker.episode,
        {{outcome(Outcome::missed, "2026-03-02T00:00:00Z", "2026-03-09T00:00:00Z", "2026-06-10T00:00:00Z")},
         {}},
        {{0, none, none, instant("2026-03-02T00:00:00Z"), instant("2026-06-10T00:00:00Z")}});
    const Counts& may = tallier.tally().by_month.at(2026 * 12 + 4).counts[0];
    CHECK(total_of(may) == 0);
    CHECK(anything_in(may));
    CHECK(may.overdue_s == may.applied_s);
    CHECK_FALSE(anything_in(Counts{}));
}

TEST_CASE("as of a moment before a line came in nothing is counted of it but that it was read") {
    const Policy p = weekly();
    const Items items(p);
    TallyOptions options;
    options.as_of = instant("2026-02-01T00:00:00Z");
    Tallier tallier(p, items, options, {});
    EpisodeMaker maker(p);
    maker.episode.observed_until.reset();
    tallier.judged(maker.episode, {}, {});
    CHECK(tallier.tally().read == 1);
    CHECK(tallier.tally().all.line_days == 0);
    CHECK(tallier.tally().by_month.empty());
    CHECK_FALSE(tallier.tally().first);
}

TEST_CASE("grouping takes attributes with few values, and says so") {
    const Policy p = weekly();
    CHECK(grouping(p, "line.kind"));
    CHECK(grouping(p, "kind"));
    CHECK(grouping(p, "facility"));
    CHECK_THAT(grouping(p, "line.colour").error().message, Catch::Contains("`line.colour`"));
}
