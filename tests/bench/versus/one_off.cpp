// A program for the three rules and nothing else: simdjson on demand, the keys that it needs, instants read
// by hand. It knows no unit and no zone, sets nothing aside, explains nothing. Prints the three counts, and
// how many records it could not read.
//
//   bench_one_off FILE             takes the records for what they should be: it passes over what it does not
//                                  need, and validates nothing
//   bench_one_off --careful FILE   trusts no record: every value is read, and is JSON of its type; every
//   instant
//                                  that the rules need is one. Which values its words, limits and units
//                                  allow it does not know, nor which keys
#include <algorithm>
#include <cstdint>

#include "lines.hpp"
#include "walk.hpp"

namespace {

namespace json = simdjson::ondemand;

using Seconds = std::int64_t;
constexpr Seconds longest_gap = 168 * 3600;
constexpr Seconds soon = 60 * 60;
constexpr double shortest_drying = 120;

constexpr int two_digits(const char* at) {
    return (at[0] - '0') * 10 + at[1] - '0';
}

struct Unfit {};  // a record that the rules cannot be asked of

constexpr bool in(int number, int least, int most) {
    return number >= least && number <= most;
}

int days_of_month(int year, int month) {
    constexpr int days[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    const bool leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    return days[month - 1] + (month == 2 && leap ? 1 : 0);
}

void check_instant(std::string_view text) {
    constexpr std::string_view utc = "0000-00-00T00:00:00Z", offset = "0000-00-00T00:00:00+00:00";
    if (text.size() != utc.size() && text.size() != offset.size()) throw Unfit{};
    const std::string_view form = text.size() == utc.size() ? utc : offset;
    bool good = true;
    for (std::size_t i = 0; i < form.size(); ++i)
        good &= form[i] == '0'   ? in(text[i], '0', '9')
                : form[i] == '+' ? text[i] == '+' || text[i] == '-'
                                 : text[i] == form[i];
    const char* at = text.data();
    good = good && in(two_digits(at + 5), 1, 12) && in(two_digits(at + 11), 0, 23) &&
           in(two_digits(at + 14), 0, 59) && in(two_digits(at + 17), 0, 59);
    if (!good) throw Unfit{};
    const int year = two_digits(at) * 100 + two_digits(at + 2);
    if (!in(two_digits(at + 8), 1, days_of_month(year, two_digits(at + 5)))) throw Unfit{};
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
    bool careful = false;
    std::vector<Seconds> changes, fevers, cultures;  // of one record, used again
    std::vector<std::string_view> ids;
    std::size_t gaps = 0, unanswered = 0, wet = 0, unread = 0;
    Seen seen;

    Seconds instant(std::string_view text) const {
        if (careful) check_instant(text);
        return ::instant(text);
    }

    template <class Value>
    void pass_over(Value&& value) {
        if (careful) walk(value, seen);
    }

    void record(json::document& document) {
        changes.clear();
        fevers.clear();
        cultures.clear();
        ids.clear();
        Seconds begin = 0, removed = 0, until = 0;
        for (auto field : document.get_object()) {
            const json::raw_json_string key = field.key();
            if (key == "line") {
                for (auto of_line : field.value().get_object()) {
                    const json::raw_json_string of_key = of_line.key();
                    std::string_view text;
                    if (of_key == "inserted_at")
                        begin = instant(of_line.value().get_string());
                    else if (of_key != "removed_at")
                        pass_over(of_line.value());
                    else if (of_line.value().get_string().get(text) == simdjson::SUCCESS)
                        removed = instant(text);
                }
            } else if (key == "observed_until") {
                until = instant(field.value().get_string());
            } else if (key == "events") {
                for (auto item : field.value().get_array()) event(item.get_object());
            } else {
                pass_over(field.value());
            }
        }
        std::sort(ids.begin(), ids.end());
        if (std::adjacent_find(ids.begin(), ids.end()) != ids.end()) throw Unfit{};
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
            } else if (careful && key == "id") {
                ids.push_back(field.value().get_string());
            } else {
                pass_over(field.value());
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
    rules.careful = argc > 1 && std::string_view(argv[1]) == "--careful";
    const auto read = [&](std::string_view line) {
        try {
            json::document document =
                parser.iterate(line.data(), line.size(), line.size() + simdjson::SIMDJSON_PADDING);
            rules.record(document);
        } catch (const simdjson::simdjson_error&) {
            ++rules.unread;
        } catch (const Unfit&) {
            ++rules.unread;
        }
    };
    for (int i = rules.careful ? 2 : 1; i < argc; ++i)
        if (!each_line(argv[i], read)) return 2;
    std::printf("%zu %zu %zu %zu\n", rules.gaps, rules.unanswered, rules.wet, rules.unread);
}
