#include "tests/differential/vectors.hpp"

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <set>
#include <sstream>
#include <stdexcept>

#include "grammar/parse.hpp"
#include "tests/differential/record.hpp"

namespace linelaw::literal {

using namespace grammar;
using nlohmann::json;

namespace {

std::string utc(Instant t) {
    using std::chrono::microseconds;
    return date::format("%FT%TZ",
                        date::floor<std::chrono::seconds>(date::sys_time<microseconds>(microseconds(t))));
}

Tree parse_text(const std::string& text, const std::string& name) {
    Sources sources;
    const auto index = sources.add({name, text});
    Parsed parsed = parse(sources, index);
    if (!parsed.diagnostics.empty()) {
        const auto& d = parsed.diagnostics.front();
        const auto at = d.labels.empty() ? LineColumn{} : sources.locate(index, d.labels.front().place.begin);
        throw std::runtime_error(name + ":" + std::to_string(at.line) + ": " + d.message);
    }
    return std::move(parsed.tree);
}

std::string read_text(const std::filesystem::path& path) {
    std::ifstream in(path);
    std::stringstream out;
    out << in.rdbuf();
    return out.str();
}

// ---- an example as a record

Instant on_day(const Book& book, date::local_days first, int day, const TimeOfDay& t) {
    return book.zone.at(first + date::days(day), t.hour * one_hour + t.minute * one_minute);
}

date::local_days first_day(const ExampleItem& example, const Book& book) {
    const Date& d = example.on ? *example.on : *std::get<PolicyHeader>(book.policy.header).in_force_from;
    return date::local_days{date::year{d.year} / date::month{d.month} / date::day{d.day}};
}

const char* ucum(const std::string& unit) {
    if (unit.rfind("year", 0) == 0) return "a";
    if (unit.rfind("month", 0) == 0) return "mo";
    if (unit.rfind("week", 0) == 0) return "wk";
    if (unit.rfind("day", 0) == 0) return "d";
    if (unit == "inch") return "[in_i]";
    if (unit == "degC") return "Cel";
    return unit == "degF" ? "[degF]" : nullptr;
}

json number(const std::string& text) {
    return json::parse(text);
}

json value_json(const Assignment& a) {
    if (a.value.empty()) return true;
    const Expression& e = a.value.front();
    if (const auto* r = std::get_if<Reference>(&e.node))
        return r->name.text == "yes" ? json(true) : r->name.text == "no" ? json(false) : json(r->name.text);
    if (const auto* n = std::get_if<Number>(&e.node)) return number(n->text);
    if (const auto* t = std::get_if<Text>(&e.node)) return t->text;
    const auto& term = std::get<Quantity>(e.node).terms.front();
    const char* code = ucum(term.unit.text);
    return {{"value", number(term.number.text)}, {"unit", code != nullptr ? code : term.unit.text}};
}

json steps_json(const ExampleEvent& e, const Book& book, date::local_days first) {
    json out = json::array();
    for (const ExampleStep& s : e.steps) {
        if (!s.at && !s.from && !s.to) {
            out.push_back(s.step.text);
            continue;
        }
        json step = {{"step", s.step.text}};
        if (s.at) step["at"] = utc(on_day(book, first, e.day, *s.at));
        if (s.from) step["from"] = utc(on_day(book, first, e.day, *s.from));
        if (s.to) step["to"] = utc(on_day(book, first, e.day, *s.to));
        out.push_back(step);
    }
    return out;
}

}  // namespace

std::string record_of(const ExampleItem& example, const Book& book) {
    const date::local_days first = first_day(example, book);
    json record = {
        {"episode", "e"}, {"line", json::object()}, {"patient", json::object()}, {"events", json::array()}};
    for (const Assignment& a : example.line) record["line"][a.attribute.text] = value_json(a);
    for (const Assignment& a : example.patient) record["patient"][a.attribute.text] = value_json(a);
    for (const ExampleEvent& e : example.events) {
        const std::string at = utc(on_day(book, first, e.day, e.at));
        json event = {
            {"type", e.event.text}, {"at", at}, {"id", "e" + std::to_string(record["events"].size() + 1)}};
        for (const Assignment& a : e.attributes) event[a.attribute.text] = value_json(a);
        if (!e.steps.empty()) event["steps"] = steps_json(e, book, first);
        if (e.event.text == "insertion") record["line"]["inserted_at"] = at;
        if (e.event.text == "removal") record["line"]["removed_at"] = at;
        record["events"].push_back(event);
    }
    if (example.from) record["observed_from"] = utc(on_day(book, first, example.from->day, example.from->at));
    if (example.until)
        record["observed_until"] = utc(on_day(book, first, example.until->day, example.until->at));
    return record.dump();
}

std::unique_ptr<Book> book_of(const std::string& policy, const std::string& vocabulary) {
    return open_book(parse_text(policy, "policy"), parse_text(vocabulary, "vocabulary"));
}

namespace {

// ---- `#=` lines

std::string joined(const std::vector<std::string>& words, std::size_t from, const char* between) {
    std::string out;
    for (std::size_t i = from; i < words.size(); ++i) out += (out.empty() ? "" : between) + words[i];
    return out;
}

std::vector<std::string> split(const std::string& text, char by) {
    std::vector<std::string> out;
    std::stringstream in(text);
    std::string word;
    while (std::getline(in, word, by))
        if (!word.empty()) out.push_back(word);
    return out;
}

struct Given {
    std::optional<Instant> at;
    bool any = false;
};

// `7 08:00`, `2 00:00*` (the first of two), `-`, `?`.
Given read_given(const std::string& text, const Book& book, date::local_days first) {
    const auto words = split(text, ' ');
    if (words.empty() || words[0] == "?") return {std::nullopt, true};
    if (words[0] == "-") return {};
    const int day = std::stoi(words[0]);
    const bool earlier = words[1].back() == '*';
    const Instant clock =
        std::stoi(words[1].substr(0, 2)) * one_hour + std::stoi(words[1].substr(3, 2)) * one_minute;
    const Instant at = book.zone.at(first + date::days(day), clock);
    return {earlier ? at - one_hour : at, false};
}

void read_line(const std::string& line, const Book& book, date::local_days first, Vector& out) {
    const auto fields = split(line, '|');
    auto words = split(fields[0], ' ');
    Expected e;
    e.id = words[0];
    std::size_t next = 1;
    if (words.size() > 2 && words[1] == "step") {
        e.step = std::stoi(words[2]) - 1;
        next = 3;
    }
    e.outcome = joined(words, next, "_");
    out.complete.push_back(e.id);
    if (e.outcome == "none") return;
    if (fields.size() != 5) throw std::runtime_error("a `#=` line needs four instants: " + line);
    e.instants = true;
    const Given opened = read_given(fields[1], book, first);
    e.opened = opened.at.value_or(0);
    e.any_opened = opened.any;
    for (const auto& [field, at, any] :
         {std::tuple{2, &e.due, &e.any_due}, {3, &e.limit, &e.any_limit}, {4, &e.closed, &e.any_closed}}) {
        const Given given = read_given(fields[static_cast<std::size_t>(field)], book, first);
        *at = given.at;
        *any = given.any;
    }
    out.expected.push_back(e);
}

void read_expectations(const ExampleItem& example, Vector& out) {
    std::set<std::string> told(out.complete.begin(), out.complete.end());
    for (const Expectation& x : example.expectations) {
        Expected e;
        e.id = x.id.text;
        if (x.step) e.step = std::stoi(x.step->text) - 1;
        e.outcome = joined(split(x.outcome.text, ' '), 0, "_");
        const int times = x.times ? std::stoi(x.times->text) : 1;
        if (told.count(e.id) != 0) {  // a check of the vector itself: both must say the same
            const auto same =
                std::count_if(out.expected.begin(), out.expected.end(), [&e](const Expected& o) {
                    return o.id == e.id && o.outcome == e.outcome && (e.step < 0 || o.step == e.step);
                });
            if (same != times)
                throw std::runtime_error(out.title + ": `expect " + e.id + "` and its `#=` lines differ");
            continue;
        }
        out.complete.push_back(e.id);
        for (int i = 0; i < times; ++i) out.expected.push_back(e);
    }
}

void add_examples(VectorFile& file, const Book& book) {
    const Tree& tree = book.policy;
    for (std::size_t i = 0; i < tree.items.size(); ++i) {
        const auto* example = std::get_if<ExampleItem>(&tree.items[i].node);
        if (example == nullptr) continue;
        const auto begin = example->place.begin;
        const auto end = i + 1 < tree.items.size() ? tree.items[i + 1].place.begin : file.policy.size();
        Vector v;
        v.title = example->title.text;
        v.record = record_of(*example, book);
        for (const Comment& c : tree.comments)
            if (c.place.begin >= begin && c.place.begin < end && !c.text.empty() && c.text.front() == '=')
                read_line(c.text.substr(1), book, first_day(*example, book), v);
        read_expectations(*example, v);
        file.vectors.push_back(std::move(v));
    }
}

void add_records(VectorFile& file, const Book& book, const json& records) {
    for (const json& r : records) {
        if (r["policy"].get<std::string>() != std::filesystem::path(file.path).filename()) continue;
        Vector v;
        v.title = r["sentence"].get<std::string>();
        v.record = r["record"].dump();
        for (const json& row : r["expect"]) {
            Expected e;
            e.id = row[0].get<std::string>();
            e.outcome = joined(split(row[1].get<std::string>(), ' '), 0, "_");
            e.instants = true;
            const auto at = [&](int i) {
                const json& j = row[static_cast<std::size_t>(i)];
                return j.is_null() ? std::optional<Instant>{} : read_instant(j.get<std::string>(), book.zone);
            };
            e.opened = *at(2);
            e.due = at(3);
            e.limit = at(4);
            e.closed = at(5);
            v.complete.push_back(e.id);
            v.expected.push_back(e);
        }
        file.vectors.push_back(std::move(v));
    }
}

bool fits(const Expected& e, const Row& r) {
    if (e.id != r.id || e.outcome != r.outcome || (e.step >= 0 && e.step != r.step)) return false;
    if (!e.instants) return true;
    return (e.any_opened || e.opened == r.opened) && (e.any_due || e.due == r.due) &&
           (e.any_limit || e.limit == r.limit) && (e.any_closed || e.closed == r.closed);
}

}  // namespace

std::vector<VectorFile> read_vectors(const std::string& folder) {
    std::vector<VectorFile> out;
    const json records = json::parse(read_text(std::filesystem::path(folder) / "records.json"));
    for (const auto& entry : std::filesystem::directory_iterator(folder)) {
        const std::string name = entry.path().filename().string();
        if (entry.path().extension() != ".linelaw" || name.find(".vocabulary.") != std::string::npos)
            continue;
        VectorFile file;
        file.path = entry.path().string();
        file.policy = read_text(entry.path());
        file.vocabulary = read_text(std::filesystem::path(folder) / "vectors.vocabulary.linelaw");
        try {
            const auto book = book_of(file.policy, file.vocabulary);
            add_examples(file, *book);
            add_records(file, *book, records);
        } catch (const std::exception& error) {
            throw std::runtime_error(name + ": " + error.what());
        }
        out.push_back(std::move(file));
    }
    std::sort(out.begin(), out.end(),
              [](const VectorFile& a, const VectorFile& b) { return a.path < b.path; });
    return out;
}

std::string show(const Row& r) {
    const auto at = [](const std::optional<Instant>& t) { return t ? utc(*t) : std::string("-"); };
    return r.id + (r.step >= 0 ? " step " + std::to_string(r.step + 1) : "") +
           (r.part.empty() ? "" : " @" + r.part) + " " + r.outcome + " | " + utc(r.opened) + " | " +
           at(r.due) + " | " + at(r.limit) + " | " + at(r.closed);
}

namespace {
std::string show(const Expected& e) {
    const auto at = [&e](const std::optional<Instant>& t, bool any) {
        return !e.instants || any ? std::string("?") : t ? utc(*t) : std::string("-");
    };
    return e.id + (e.step >= 0 ? " step " + std::to_string(e.step + 1) : "") + " " + e.outcome + " | " +
           at(e.opened, e.any_opened) + " | " + at(e.due, e.any_due) + " | " + at(e.limit, e.any_limit) +
           " | " + at(e.closed, e.any_closed);
}
}  // namespace

std::string differences(const Vector& vector, const std::vector<Row>& rows) {
    std::vector<Row> left;
    for (const Row& r : rows)
        if (std::find(vector.complete.begin(), vector.complete.end(), r.id) != vector.complete.end())
            left.push_back(r);
    std::string out;
    for (const Expected& e : vector.expected) {
        const auto found = std::find_if(left.begin(), left.end(), [&e](const Row& r) { return fits(e, r); });
        if (found == left.end())
            out += "  lacks " + show(e) + "\n";
        else
            left.erase(found);
    }
    for (const Row& r : left) out += "  beyond " + show(r) + "\n";
    return out;
}

}  // namespace linelaw::literal
