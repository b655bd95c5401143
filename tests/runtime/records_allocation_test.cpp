// A program of its own, because it replaces operator new: once warm, reading records allocates nothing.
#include <catch2/catch.hpp>
#include <string>

#include "runtime/records.hpp"
#include "sample_policy.hpp"
#include "tests/counted_allocations.hpp"

using namespace linelaw::runtime;
using linelaw::tests::allocations;
using linelaw::tests::counting;

namespace {

std::string record(int number, int events) {
    std::string text = R"({"episode": "episode-with-a-long-pseudonymous-key-)" + std::to_string(number) +
                       R"(", "facility": "a facility whose name is long enough", "care_unit": "med-3",
        "patient": {"key": "a-patient-key-that-is-rather-long-)" +
                       std::to_string(number) + R"(", "birth_date": "1971-05-20", "setting": "ward"},
        "line": {"kind": "picc", "lumens": 2, "inserted_at": "2026-03-02T10:15:00-04:00", "dressing": "gauze"},
        "events": [)";
    for (int i = 0; i < events; ++i) {
        const std::string second = std::to_string(10 + (i * 37) % 50);  // out of order
        text +=
            R"({"id": "an-event-id-of-some-length-)" + std::to_string(number) + '-' + std::to_string(i) +
            R"(", "type": "dressing_change", "at": "2026-03-03T08:00:)" + second +
            R"(-04:00", "dry_time": {"value": 1, "unit": "min"}, "dressing": "gauze", "recorded_at": "2026-03-03T09:00:00",
                "steps": ["scrub", {"step": "dry", "at": "2026-03-03T08:00:00Z"}]},)" +
            R"({"type": "measurement", "at": "2026-03-04T00:00:00Z", "note": "a note that is long enough to be on the heap )" +
            std::to_string(i) + R"(", "arm_circumference": 31.25},)";
    }
    text +=
        R"({"type": "infusion_start", "at": "2026-03-04T00:00:00Z", "infusion": "i1", "lumen": 2, "fluid": "lipid"}]})";
    return text;
}

}  // namespace

TEST_CASE("once warm, reading a record allocates nothing") {
    const Policy policy = sample_vocabulary();
    RecordReader reader(policy);
    Episode episode;
    std::vector<Spoiled> set_aside;
    std::vector<std::string> records;
    for (int i = 0; i < 50; ++i) records.push_back(record(i, 40 - i % 7));
    for (int warm = 0; warm < 4; ++warm)
        for (const std::string& text : records) REQUIRE_FALSE(reader.read(text, episode, set_aside));
    REQUIRE(set_aside.empty());

    bool good = true;
    allocations = 0;
    counting = true;
    for (const std::string& text : records) good = reader.read(text, episode, set_aside) == nullptr && good;
    counting = false;
    CHECK(good);
    CHECK(allocations == 0);
    CHECK(episode.events.size() > 60);

    std::string thirty_letters;
    counting = true;
    thirty_letters.assign(30, 'x');  // too long to lie in the string itself
    counting = false;
    CHECK(allocations >= 1);  // the count itself works
}
