#include "policies/demo/generator/malformed.hpp"

#include <fmt/format.h>

namespace linelaw::demo {
namespace {

// A small sound record, of which the malformed ones are made by putting something else in one place.
struct Sound {
    std::string unit = "med-3";
    std::string patient = R"({"age":{"value":60,"unit":"a"}})";
    std::string line =
        R"({"kind":"picc","lumens":2,"inserted_at":"Y-05-04T10:00:00-03:00","removed_at":"Y-05-06T10:00:00-03:00"})";
    std::string events = R"([{"id":"e1","type":"line_need_review","at":"Y-05-05T12:00:00-03:00"}])";
    std::string more;  // after the line
};

class Writer {
  public:
    Writer(int year, int number) : year_(fmt::format("{}-", year)), number_(number) {}

    void unreadable(const char* code, const char* kind, const Sound& record) { add(kind, code, {}, record); }
    void unreadable_text(const char* code, const char* kind, const char* text) {
        all.push_back({"", kind, code, {}, text});
    }
    // One event, or a list of them.
    void unreadable_events(const char* code, const char* kind, const std::string& events) {
        Sound record;
        record.events = events;
        add(kind, code, {}, record);
    }
    void value(const char* code, const char* kind, std::vector<std::string> pointers, const Sound& record) {
        add(kind, code, std::move(pointers), record);
    }
    // A value of the line, beside its instants.
    void line_value(const char* code, const char* kind, const char* name, const std::string& json) {
        Sound record;
        record.line =
            fmt::format(R"({{"kind":"picc","{}":{},"inserted_at":"Y-05-04T10:00:00-03:00"}})", name, json);
        add(kind, code, {fmt::format("/line/{}", name)}, record);
    }
    // A value of the one event.
    void event_value(const char* code, const char* kind, const char* place, const std::string& event_rest) {
        Sound record;
        record.events = fmt::format(R"([{{"id":"e1","at":"Y-05-05T12:00:00-03:00",{}}}])", event_rest);
        add(kind, code, {fmt::format("/events/0{}", place)}, record);
    }

    std::vector<Malformed> all;

  private:
    void add(const char* kind, const char* code, std::vector<std::string> pointers, const Sound& record) {
        const std::string key = fmt::format("x-{:03}-{:02}", number_, all.size());
        std::string text = fmt::format(
            R"({{"episode":"{}","facility":"quillhaven","care_unit":"{}","patient":{},"line":{}{},"events":{}}})",
            key, record.unit, record.patient, record.line, record.more, record.events);
        for (std::size_t at = 0; (at = text.find("Y-", at)) != std::string::npos;) text.replace(at, 2, year_);
        all.push_back({key, kind, code, std::move(pointers), std::move(text)});
    }

    std::string year_;
    int number_;
};

void replace(std::string& text, const std::string& was, const std::string& now) {
    text.replace(text.find(was), was.size(), now);
}

// The bytes and the JSON.
void broken_text(Writer& write) {
    write.unreadable("record.json", "cut short", {});
    write.all.back().text.resize(write.all.back().text.size() * 3 / 5);
    write.unreadable_text("record.json", "no JSON", "episode q-000001 was lost");
    write.unreadable_text("record.json", "no object", R"(["an episode is an object"])");
    write.unreadable("record.json", "something after its end", {});
    write.all.back().text += R"( {"and":"more"})";
    Sound record;
    record.more = R"(,"note":0123)";
    write.unreadable("record.json", "number that is none, where nobody reads", record);
    record = {};
    record.unit = "med-\xC3\x28";
    write.unreadable("record.utf8", "invalid UTF-8", record);
    record = {};
    record.more = ",\"note\":" + std::string(3000, '[') + std::string(3000, ']');
    write.unreadable("record.depth", "nested too deep", record);
    record = {};
    record.more = R"(,"care_unit":"med-5")";
    write.unreadable("record.key", "key twice in the record", record);
    write.unreadable_events(
        "record.key", "key twice in an event",
        R"([{"id":"e1","type":"flush","at":"Y-05-05T10:00:00-03:00","at":"Y-05-05T11:00:00-03:00"}])");
}

// The parts of a record.
void broken_shape(Writer& write) {
    Sound record;
    record.patient = R"("p-0042")";
    write.unreadable("record.shape", "patient that is no object", record);
    record = {};
    record.line = R"(["picc"])";
    write.unreadable("record.shape", "line that is no object", record);
    write.unreadable_events("record.shape", "events that are no list", R"({"id":"e1"})");
    write.unreadable_events("record.shape", "event that is no object", R"(["flush"])");
    write.unreadable("record.episode", "no episode", {});
    std::string& unnamed = write.all.back().text;
    replace(unnamed, "\"episode\":" + ('"' + write.all.back().key) + "\",", "");
    write.all.back().key.clear();
    write.unreadable("record.episode", "episode that is a number", {});
    replace(write.all.back().text, '"' + write.all.back().key + '"', "17");
    write.all.back().key.clear();
    write.unreadable_events("record.type", "event without a type",
                            R"([{"id":"e1","at":"Y-05-05T10:00:00-03:00"}])");
    write.unreadable_events("record.repeated", "repeated id with other content",
                            R"([{"id":"e1","type":"flush","at":"Y-05-05T10:00:00-03:00"},)"
                            R"({"id":"e1","type":"flush","at":"Y-05-05T11:00:00-03:00"}])");
}

// A flush at that instant, written as JSON.
std::string flush_at(const std::string& instant) {
    return fmt::format(R"([{{"id":"e1","type":"flush","at":{}}}])", instant);
}
std::string line_between(const std::string& inserted, const std::string& removed) {
    return fmt::format(R"({{"kind":"picc","inserted_at":"Y-{}","removed_at":"Y-{}"}})", inserted, removed);
}

// Instants, and their order. Halifax's clocks change on the second Sunday of March and the first of November.
void broken_times(Writer& write, int year) {
    const auto no_instant = [&](const char* kind, const std::string& json) {
        write.unreadable_events("record.instant", kind, flush_at(json));
    };
    Sound record;
    record.line = R"({"kind":"picc","inserted_at":null})";
    write.unreadable("record.instant", "no insertion and no start of observation", record);
    write.unreadable_events("record.instant", "event without an instant", R"([{"id":"e1","type":"flush"}])");
    no_instant("instant that is a number", "1777900000");
    no_instant("instant that does not exist", R"("Y-05-32T10:00:00-03:00")");
    no_instant("date without a time", R"("Y-05-05")");
    const int autumn = year == 2026 ? 1 : 7;
    const int spring = year == 2026 ? 8 : 14;
    record = {};
    record.line = line_between("10-31T10:00:00-03:00", "11-09T10:00:00-04:00");
    record.events = flush_at(fmt::format(R"("Y-11-{:02}T01:30:00")", autumn));
    write.unreadable("record.instant", "local time that comes twice", record);
    record.line = line_between("03-07T10:00:00-04:00", "03-16T10:00:00-03:00");
    record.events = flush_at(fmt::format(R"("Y-03-{:02}T02:30:00")", spring));
    write.unreadable("record.instant", "local time that the clocks skip", record);

    record = {};
    record.line = line_between("05-04T10:00:00-03:00", "05-03T10:00:00-03:00");
    record.events = "[]";
    write.unreadable("record.order", "removal before insertion", record);
    const auto out_of_order = [&](const char* kind, const char* events) {
        write.unreadable_events("record.order", kind, events);
    };
    out_of_order("event before insertion", R"([{"id":"e1","type":"flush","at":"Y-05-04T09:59:00-03:00"}])");
    out_of_order("event after removal", R"([{"id":"e1","type":"flush","at":"Y-05-06T10:01:00-03:00"}])");
    out_of_order("second insertion", R"([{"id":"e1","type":"insertion","at":"Y-05-05T10:00:00-03:00"}])");
    out_of_order("second removal", R"([{"id":"e1","type":"removal","at":"Y-05-05T10:00:00-03:00"}])");
    record = {};
    record.more = R"(,"observed_from":"Y-05-06T00:00:00-03:00","observed_until":"Y-05-05T00:00:00-03:00")";
    write.unreadable("record.order", "observed until before it is observed", record);
}

void broken_values(Writer& write) {
    write.line_value("value.type", "number where a word belongs", "site", "7");
    write.line_value("value.type", "text where a number belongs", "external_length", R"("13 cm")");
    write.line_value("value.type", "text where yes or no belongs", "emergency_insertion", R"("no")");
    write.line_value("value.type", "part of a lumen", "lumens", "1.5");
    write.line_value("value.range", "more lumens than there are", "lumens", "9");
    write.line_value("value.range", "length out of range", "external_length", "60.001");
    write.line_value("value.list", "word that is not in the list", "site", R"("elbow")");
    write.line_value("value.unit", "unit that nobody knows", "external_length",
                     R"({"value":5,"unit":"span"})");
    write.line_value("value.unit", "unit of something else", "external_length", R"({"value":5,"unit":"mL"})");
    write.event_value("value.instant", "charted at no instant", "/recorded_at",
                      R"("type":"flush","lumen":1,"recorded_at":"after lunch")");
    write.event_value("value.instant", "step at no instant", "/steps/0/at",
                      R"("type":"dressing_change","steps":[{"step":"scrub","at":"10 o'clock"}])");
    write.event_value("value.list", "step that is not in the list", "/steps/1",
                      R"("type":"dressing_change","steps":["scrub","sing"])");
    write.event_value("value.part", "lumen that the line does not have", "/lumen",
                      R"("type":"flush","lumen":4)");
    Sound record;
    record.patient = R"({"age":{"value":60,"unit":"a"},"birth_date":"2001-05-05"})";
    write.value("value.twice", "age and birth date that contradict each other", {"/patient/birth_date"},
                record);
    record = {};
    record.line = R"({"kind":"picc","lumens":2,"inserted_at":"Y-05-04T10:00:00-03:00","dressing":"gauze"})";
    record.events =
        R"([{"id":"e1","type":"insertion","at":"Y-05-04T10:00:00-03:00","dressing":"transparent"}])";
    write.value("value.twice", "two dressings at one insertion", {"/events/0/dressing"}, record);
    record = {};
    record.line = R"({"kind":"picc","lumens":2,"dressing":"gauze"})";
    record.more = R"(,"observed_from":"Y-05-05T00:00:00-03:00")";
    write.value("value.place", "dressing of an insertion that nobody saw", {"/line/dressing"}, record);
}

}  // namespace

std::vector<Malformed> malformed_records(int year, int number, bool oversize) {
    Writer write(year, number);
    broken_text(write);
    broken_shape(write);
    broken_times(write, year);
    broken_values(write);
    if (oversize) {
        Sound record;
        record.more = R"(,"note":")" + std::string(std::size_t{17} << 20U, 'x') + '"';
        write.unreadable("record.size", "oversize", record);
    }
    return std::move(write.all);
}

}  // namespace linelaw::demo
