// A careful program for the three rules and nothing else: simdjson on demand, the keys that it needs,
// instants read by hand. It takes the records for what they should be: it validates nothing, knows no unit
// and no zone, sets nothing aside, explains nothing. Prints the three counts.
//
//   bench_one_off FILE
#include <algorithm>
#include <cstdint>

#include "lines.hpp"

namespace {

namespace json = simdjson::ondemand;

using Seconds = std::int64_t;
constexpr Seconds longest_gap = 168 * 3600;
constexpr Seconds soon = 60 * 60;
constexpr double shortest_drying = 120;

constexpr int two_digits(const char* at) {
    return (at[0] - '0') * 10 + at[1] - '0';
}

// 2026-03-20T08:15:00-03:00, or Z in place of the offset.
Seconds instant(std::string_view text) {
    const char* at = text.data();
    const int year = two_digits(at) * 100 + two_digits(at + 2);
    const int month = two_digits(at + 5);
    // Days from civil: a year begins in March, so that the leap day is its last.
    const int y = month <= 2 ? year - 1 : year;
    const int of_year = (153 * (month + (month > 2 ? -3 : 9)) + 2) / 5 + two_digits(at + 8) - 1;
    const Seconds day = y * 365LL + y / 4 - y / 100 + y / 400 + of_year - 719'468;
    const Seconds local =
        day * 86'400 + two_digits(at + 11) * 3600 + two_digits(at + 14) * 60 + two_digits(at + 17);
    if (at[19] == 'Z') return local;
    const Seconds offset = two_digits(at + 20) * 3600 + two_digits(at + 23) * 60;
    return at[19] == '-' ? local + offset : local - offset;
}

struct Rules {
    std::vector<Seconds> changes, fevers, cultures;  // of one record, used again
    std::size_t gaps = 0, unanswered = 0, wet = 0;

    void record(json::document& document) {
        changes.clear();
        fevers.clear();
        cultures.clear();
        Seconds begin = 0, removed = 0, until = 0;
        for (auto field : document.get_object()) {
            const json::raw_json_string key = field.key();
            if (key == "line") {
                for (auto of_line : field.value().get_object()) {
                    if (of_line.key() == "inserted_at") begin = instant(of_line.value().get_string());
                    if (of_line.key() != "removed_at") continue;
                    std::string_view text;
                    if (of_line.value().get_string().get(text) == simdjson::SUCCESS) removed = instant(text);
                }
            } else if (key == "observed_until") {
                until = instant(field.value().get_string());
            } else if (key == "events") {
                for (auto item : field.value().get_array()) event(item.get_object());
            }
        }
        judge(begin, removed != 0 ? removed : until);
    }

    void event(json::object object) {
        enum class Kind { other, change, fever, culture } kind = Kind::other;
        Seconds at = 0;
        bool alcohol = false;
        double dry_time = shortest_drying;
        for (auto field : object) {
            const json::raw_json_string key = field.key();
            if (key == "at") {
                at = instant(field.value().get_string());
            } else if (key == "type") {
                const json::raw_json_string type = field.value().get_raw_json_string();
                kind = type == "dressing_change" ? Kind::change
                       : type == "fever"         ? Kind::fever
                       : type == "culture"       ? Kind::culture
                                                 : Kind::other;
            } else if (key == "antiseptic") {
                alcohol = field.value().get_raw_json_string().value() == "chg_alcohol";
            } else if (key == "dry_time") {
                dry_time = field.value().get_double();
            }
        }
        if (kind == Kind::change) changes.push_back(at);
        if (kind == Kind::fever) fevers.push_back(at);
        if (kind == Kind::culture) cultures.push_back(at);
        if (kind == Kind::change && alcohol && dry_time < shortest_drying) ++wet;
    }

    void judge(Seconds begin, Seconds end) {
        for (auto* instants : {&changes, &cultures})
            if (!std::is_sorted(instants->begin(), instants->end()))
                std::sort(instants->begin(), instants->end());
        Seconds last = begin;
        for (const Seconds change : changes) {
            gaps += change - last > longest_gap ? 1 : 0;
            last = change;
        }
        gaps += end - last > longest_gap ? 1 : 0;
        for (const Seconds fever : fevers) {
            const auto culture = std::lower_bound(cultures.begin(), cultures.end(), fever);
            const bool answered = culture != cultures.end() && *culture <= fever + soon;
            unanswered += !answered && fever + soon < end ? 1 : 0;
        }
    }
};

}  // namespace

int main(int argc, char** argv) {
    json::parser parser;
    Rules rules;
    const auto read = [&](std::string_view line) {
        json::document document =
            parser.iterate(line.data(), line.size(), line.size() + simdjson::SIMDJSON_PADDING);
        rules.record(document);
    };
    for (int i = 1; i < argc; ++i)
        if (!each_line(argv[i], read)) return 2;
    std::printf("%zu %zu %zu\n", rules.gaps, rules.unanswered, rules.wet);
}
