// Every conversion against Python's zoneinfo (civil_time.py), which reads the same zone files with other
// code.
#include <catch2/catch.hpp>
#include <cstdio>
#include <map>
#include <memory>
#include <sstream>
#include <string>

#include "runtime/time.hpp"

using namespace linelaw::runtime;

namespace {

const Zone& zone(const std::string& name) {
    static std::map<std::string, Zone> zones;
    auto found = zones.find(name);
    if (found == zones.end()) {
        const auto fresh = Zone::find(name);
        REQUIRE(fresh);
        found = zones.emplace(name, *fresh).first;
    }
    return found->second;
}

CivilDate date_from(std::istream& in) {
    std::string text;
    in >> text;
    const auto date = read_date(text);
    REQUIRE(date);
    return *date;
}

void check(const std::string& line) {
    INFO(line);
    std::istringstream in(line);
    std::string what;
    std::string name;
    std::string equals;
    in >> what >> name;
    const Zone& z = zone(name);
    if (what == "shows") {
        Instant t = 0;
        std::int64_t seconds = 0;
        std::int64_t offset = 0;
        in >> t >> equals;
        const CivilDate date = date_from(in);
        in >> seconds >> offset;
        CHECK(z.date_of(t) == date);
        CHECK(z.time_of_day(t) == seconds * microseconds_per_second);
        CHECK(z.offset_at(t) == offset * microseconds_per_second);
    } else if (what == "at") {
        const CivilDate date = date_from(in);
        std::int64_t seconds = 0;
        int times = 0;
        Instant answer = 0;
        in >> seconds >> times >> equals >> answer;
        CHECK(z.at(date, seconds * microseconds_per_second) == answer);
        const auto unique = z.at_if_unique(date, seconds * microseconds_per_second);
        CHECK(unique.has_value() == (times == 1));
        if (unique) CHECK(*unique == answer);
    } else if (what == "begin") {
        const CivilDate date = date_from(in);
        Instant answer = 0;
        in >> equals >> answer;
        CHECK(z.begin_of(date) == answer);
    } else {
        Instant t = 0;
        Span span;
        Instant answer = 0;
        in >> t >> span.months >> span.days >> span.elapsed >> equals >> answer;
        span.elapsed *= microseconds_per_second;
        span.calendar = what == "calendar";
        CHECK(add(t, span, z) == answer);
    }
    REQUIRE(in);
}

}  // namespace

TEST_CASE("civil time agrees with Python's zoneinfo around the clock changes of many zones") {
    const std::string command = "python3 " LINELAW_SOURCE_DIR "/tests/runtime/civil_time.py 20260301 1500";
    const std::unique_ptr<FILE, int (*)(FILE*)> cases(popen(command.c_str(), "r"), pclose);
    REQUIRE(cases);
    std::map<std::string, int> seen;
    char buffer[256];
    while (std::fgets(buffer, sizeof buffer, cases.get())) {
        const std::string line = buffer;
        ++seen[line.substr(0, line.find(' '))];
        check(line);
    }
    for (const char* what : {"shows", "at", "begin", "add", "calendar"}) CHECK(seen[what] == 1500);
}
