// The interval clauses against SQLite: the same records, row by row, by window functions (intervals.sql).
#include <fmt/format.h>
#include <sqlite3.h>

#include <catch2/catch.hpp>
#include <ctime>

#include "tests/demo/outside.hpp"

using namespace outside;

namespace {

// Halifax keeps -04:00, and -03:00 from the second Sunday of March, 02:00, to the first Sunday of November,
// 02:00 on the wall clock (the rule in force since 2007). For the years of the demo's two editions, as
// seconds.
struct Summer {
    std::int64_t spring;
    std::int64_t autumn;
};
constexpr Summer summers[] = {{1772949600, 1793509200},   // 2026-03-08T06:00:00Z, 2026-11-01T05:00:00Z
                              {1805004000, 1825563600}};  // 2027-03-14T06:00:00Z, 2027-11-07T05:00:00Z
constexpr std::int64_t hour = 3600;

std::int64_t wall_of(std::int64_t t) {
    for (const auto& [spring, autumn] : summers)
        if (t >= spring && t < autumn) return t - 3 * hour;
    return t - 4 * hour;
}
// A time that is skipped is the first instant after the skip; one that comes twice is the second.
std::int64_t instant_of(std::int64_t wall) {
    for (const auto& [spring, autumn] : summers) {
        if (wall >= spring - 4 * hour && wall < spring - 3 * hour) return spring;
        if (wall >= spring - 3 * hour && wall < autumn - 4 * hour) return wall + 3 * hour;
    }
    return wall + 4 * hour;
}

template <std::int64_t (*convert)(std::int64_t)>
void sql_function(sqlite3_context* context, int /*count*/, sqlite3_value** arguments) {
    if (sqlite3_value_type(arguments[0]) == SQLITE_NULL) {
        sqlite3_result_null(context);
    } else {
        sqlite3_result_int64(context, convert(sqlite3_value_int64(arguments[0])));
    }
}

// RFC 3339; without an offset it is the wall clock's.
void read_instant(sqlite3_context* context, int /*count*/, sqlite3_value** arguments) {
    const auto* text = reinterpret_cast<const char*>(sqlite3_value_text(arguments[0]));
    if (text == nullptr) return sqlite3_result_null(context);
    std::tm parts{};
    const char* rest = strptime(text, "%Y-%m-%dT%H:%M:%S", &parts);
    if (rest == nullptr) return sqlite3_result_error(context, "not an instant", -1);
    const std::int64_t shown = timegm(&parts);
    if (*rest == '\0') return sqlite3_result_int64(context, instant_of(shown));
    if (*rest == 'Z') return sqlite3_result_int64(context, shown);
    const std::int64_t offset = std::atoi(rest + 1) * hour + std::atoi(rest + 4) * 60;
    sqlite3_result_int64(context, *rest == '-' ? shown + offset : shown - offset);
}

class Database {
  public:
    Database() {
        REQUIRE(sqlite3_open(":memory:", &db_) == SQLITE_OK);
        sqlite3_create_function(db_, "wall", 1, SQLITE_UTF8, nullptr, sql_function<wall_of>, nullptr,
                                nullptr);
        sqlite3_create_function(db_, "instant", 1, SQLITE_UTF8, nullptr, sql_function<instant_of>, nullptr,
                                nullptr);
        sqlite3_create_function(db_, "read_instant", 1, SQLITE_UTF8, nullptr, read_instant, nullptr, nullptr);
    }
    ~Database() { sqlite3_close(db_); }
    Database(const Database&) = delete;
    Database& operator=(const Database&) = delete;

    void run(const std::string& sql) {
        char* error = nullptr;
        const int status = sqlite3_exec(db_, sql.c_str(), nullptr, nullptr, &error);
        INFO((error == nullptr ? "" : error));
        REQUIRE(status == SQLITE_OK);
    }
    void insert_lines(const std::vector<std::string>& lines) {
        run("CREATE TABLE raw(line TEXT); BEGIN");
        sqlite3_stmt* insert = nullptr;
        sqlite3_prepare_v2(db_, "INSERT INTO raw VALUES (?)", -1, &insert, nullptr);
        for (const std::string& line : lines) {
            sqlite3_bind_text(insert, 1, line.data(), static_cast<int>(line.size()), SQLITE_TRANSIENT);
            REQUIRE(sqlite3_step(insert) == SQLITE_DONE);
            sqlite3_reset(insert);
        }
        sqlite3_finalize(insert);
        run("COMMIT");
    }
    Opportunities expected() {
        Opportunities all;
        sqlite3_stmt* rows = nullptr;
        sqlite3_prepare_v2(
            db_,
            "SELECT episode, item, part, strftime('%Y-%m-%dT%H:%M:%SZ', opened, 'unixepoch'), outcome "
            "FROM expected",
            -1, &rows, nullptr);
        const auto text = [&](int column) {
            return std::string(reinterpret_cast<const char*>(sqlite3_column_text(rows, column)));
        };
        while (sqlite3_step(rows) == SQLITE_ROW)
            ++all[opportunity(text(0), text(1), 0, text(2), text(3), text(4))];
        sqlite3_finalize(rows);
        return all;
    }

  private:
    sqlite3* db_ = nullptr;
};

Opportunities of_intervals(const Opportunities& all) {
    Opportunities chosen;
    for (const auto& [line, times] : all) {
        for (const char* item :
             {" dressing.transparent ", " dressing.gauze ", " set.", " connector.interval ", " site.away "}) {
            if (line.find(item) != std::string::npos) chosen[line] = times;
        }
    }
    return chosen;
}

Opportunities by_sql(const std::filesystem::path& records) {
    Database database;
    database.insert_lines(lines(read(records)));
    database.run(read(LINELAW_SOURCE_DIR "/tests/demo/intervals.sql"));
    return database.expected();
}

}  // namespace

TEST_CASE("every interval clause of the demo finds what window functions in SQL find, row by row") {
    const std::string policy = "quillhaven-2027";
    const Folder folder;
    generate(folder / "demo", 1000, 42, policy);
    const Opportunities expected = by_sql(folder / "demo" / "records.ndjson");
    std::map<std::string, int> outcomes;
    for (const auto& [line, times] : expected) outcomes[line.substr(line.rfind(' ') + 1)] += times;
    for (const char* outcome :
         {"met", "late", "missed", "early", "excused", "no_longer_due", "pending", "not_assessable"}) {
        INFO(outcome);
        CHECK(outcomes[outcome] >= 20);
    }
    const Opportunities found =
        of_intervals(audit(demo_policy(policy), folder / "demo" / "records.ndjson", folder));
    CHECK(differences(expected, found) == "");
}

TEST_CASE("the generator's reckoning and SQL agree on the interval clauses") {
    for (const char* policy : {"quillhaven", "quillhaven-2027"}) {
        INFO(policy);
        const Folder folder;
        generate(folder / "demo", 2000, 3, policy);
        CHECK(differences(by_sql(folder / "demo" / "records.ndjson"),
                          of_intervals(planted(folder / "demo" / "planted.ndjson"))) == "");
    }
}
