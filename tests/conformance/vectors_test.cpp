// Hand-worked vectors: every example in tests/conformance/vectors is judged, and what its `expect` and `#=`
// lines name must come out exactly (vectors/README.md says how they are written).
#include <algorithm>
#include <catch2/catch.hpp>
#include <filesystem>
#include <map>
#include <sstream>

#include "compiler/compile.hpp"
#include "examples.hpp"
#include "grammar/parse.hpp"
#include "runtime/engine.hpp"
#include "runtime/joined.hpp"

using namespace linelaw;
using runtime::Instant;
using runtime::Opportunity;

namespace {

// Without spaces at the ends, and one where there were several.
std::string trimmed(const std::string& s) {
    std::istringstream in(s);
    std::string words;
    for (std::string word; in >> word;) words += (words.empty() ? "" : " ") + word;
    return words;
}

std::string with_spaces(std::string_view outcome) {
    std::string s(outcome);
    std::replace(s.begin(), s.end(), '_', ' ');
    return s;
}

// "0 08:00" on the example's clock; "-" none.
struct Clock {
    const runtime::Policy& policy;
    const runtime::Zone& zone;
    const grammar::ExampleItem& example;

    std::string at(std::optional<Instant> t) const {
        if (!t) return "-";
        const Instant day0 = conformance::instant_of(policy, zone, example, 0, 0);
        runtime::CivilDate date = zone.date_of(day0);
        int day = 0;
        while (date < zone.date_of(*t)) date = runtime::add_days(date, 1), ++day;
        while (date > zone.date_of(*t)) date = runtime::add_days(date, -1), --day;
        const auto minutes = zone.time_of_day(*t) / runtime::microseconds_per_minute;
        char text[32];
        std::snprintf(text, sizeof text, "%d %02d:%02d", day, static_cast<int>(minutes / 60),
                      static_cast<int>(minutes % 60));
        const bool first_of_two = zone.at(zone.date_of(*t), zone.time_of_day(*t)) != *t;
        return std::string(text) + (first_of_two ? "*" : "");
    }
};

// What an opportunity is called in an expectation: its clause, bundle, or ladder and step; of several
// policies with their place, "every.plain@2".
std::string called(const runtime::Policy& policy, const Opportunity& o) {
    const auto named = [&](const auto& item) {
        return item.edition == runtime::none ? item.id : item.id + "@" + std::to_string(item.edition + 1);
    };
    if (o.origin == runtime::OriginKind::clause) return named(policy.clauses[o.item]);
    if (o.origin == runtime::OriginKind::bundle) return named(policy.bundles[o.item]);
    return named(policy.ladders[o.item]) + " step " + std::to_string(o.step + 1);
}

// The `#=` lines of each example of a file, by the example's title.
std::map<std::string, std::vector<std::string>> lines_of(const std::string& text) {
    std::map<std::string, std::vector<std::string>> lines;
    std::istringstream in(text);
    std::string line;
    std::string title;
    while (std::getline(in, line)) {
        const std::string t = trimmed(line);
        if (t.rfind("example \"", 0) == 0) title = t.substr(9, t.size() - 10);
        if (t.rfind("#= ", 0) == 0) lines[title].push_back(trimmed(t.substr(3)));
    }
    return lines;
}

std::vector<std::string> fields_of(const std::string& line) {
    std::vector<std::string> fields;
    std::istringstream in(line);
    std::string field;
    while (std::getline(in, field, '|')) fields.push_back(trimmed(field));
    return fields;
}

std::string joined(const std::vector<std::string>& lines) {
    std::string s;
    for (const std::string& l : lines) s += "  " + l + "\n";
    return s;
}

bool equal_but_for_marks(const std::string& wanted, const std::string& found) {
    const auto a = fields_of(wanted);
    const auto b = fields_of(found);
    if (a.size() != b.size()) return false;
    for (std::size_t i = 0; i < a.size(); ++i)
        if (a[i] != "?" && a[i] != b[i]) return false;
    return true;
}

struct Found {
    std::string id;
    std::string outcome;
    std::string line;
};

void check_lines(const std::string& id, const std::vector<std::string>& wanted,
                 const std::vector<Found>& found) {
    std::vector<std::string> left;
    for (const Found& f : found)
        if (f.id == id || f.id.rfind(id + " step ", 0) == 0) left.push_back(f.line);
    const std::string all = joined(left);
    std::vector<std::string> missing;
    for (const std::string& w : wanted) {
        const auto match = std::find_if(left.begin(), left.end(),
                                        [&](const std::string& f) { return equal_but_for_marks(w, f); });
        if (match == left.end())
            missing.push_back(w);
        else
            left.erase(match);
    }
    INFO("wanted:\n" << joined(wanted) << "found:\n" << all);
    CHECK((missing.empty() && left.empty()));
}

void check_example(const runtime::Policy& policy, const runtime::Zone& zone,
                   const grammar::ExampleItem& example, const std::vector<std::string>& lines) {
    runtime::Engine engine(policy);
    const runtime::Episode episode = conformance::episode_of(policy, zone, example);
    const Clock clock{policy, zone, example};
    std::vector<Found> found;
    for (const Opportunity& o : engine.judge(episode)) {
        const std::string id = called(policy, o);
        const std::string outcome = with_spaces(runtime::outcome_names[static_cast<std::size_t>(o.outcome)]);
        found.push_back({id, outcome,
                         id + " " + outcome + " | " + clock.at(o.opened) + " | " + clock.at(o.due) + " | " +
                             clock.at(o.limit) + " | " + clock.at(o.closed)});
    }
    std::map<std::string, std::vector<std::string>> wanted;
    for (const std::string& line : lines) {
        const std::string id = line.substr(0, line.find(' '));
        auto& list = wanted[id];
        if (line != id + " none") list.push_back(line);
    }
    for (const auto& [id, list] : wanted) check_lines(id, list, found);
    if (!policy.editions.empty()) return;  // an `expect` does not say whose
    for (const grammar::Expectation& e : example.expectations) {
        const std::string id = e.id.text + (e.step ? " step " + e.step->text : "");
        const auto count = std::count_if(found.begin(), found.end(), [&](const Found& f) {
            return (f.id == id || (!e.step && f.id.rfind(id + " step ", 0) == 0)) &&
                   f.outcome == e.outcome.text;
        });
        INFO("expect " << id << " " << e.outcome.text);
        if (e.times)
            CHECK(count == std::stol(e.times->text));
        else
            CHECK(count > 0);
    }
}

// As written: what the compiler makes of them is a record, and the engine alone is tested here.
std::vector<grammar::ExampleItem> examples_of(const std::string& path) {
    grammar::Sources sources;
    const std::uint32_t text = sources.add({path, compiler::read_file(path).value()});
    std::vector<grammar::ExampleItem> examples;
    for (const grammar::Item& item : grammar::parse(sources, text).tree.items)
        if (const auto* example = std::get_if<grammar::ExampleItem>(&item.node)) examples.push_back(*example);
    return examples;
}

runtime::Policy compiled(const std::filesystem::path& path) {
    const compiler::Compilation compilation = compiler::compile(path.string());
    std::string problems;
    for (const grammar::Diagnostic& d : compilation.diagnostics)
        if (d.severity == grammar::Severity::error) problems += d.code + ": " + d.message + "\n";
    INFO(path.filename().string() << "\n" << problems);
    REQUIRE(compilation.compiled);
    return compilation.compiled->policy;
}

// The examples of a file, judged by this policy.
void check_examples(const std::filesystem::path& path, const runtime::Policy& policy) {
    const runtime::Zone zone = runtime::Zone::find(policy.time_zone).value();
    const auto lines = lines_of(compiler::read_file(path.string()).value());
    const std::vector<grammar::ExampleItem> examples = examples_of(path.string());
    CHECK_FALSE(examples.empty());
    for (const grammar::ExampleItem& example : examples) {
        INFO(path.filename().string() << ": \"" << example.title.text << "\"");
        const auto own = lines.find(example.title.text);
        check_example(policy, zone, example, own == lines.end() ? std::vector<std::string>{} : own->second);
    }
}

const std::string vectors = std::string(LINELAW_SOURCE_DIR) + "/tests/conformance/vectors";

std::vector<std::filesystem::path> files_in(const std::string& folder) {
    std::vector<std::filesystem::path> files;
    for (const auto& entry : std::filesystem::directory_iterator(folder))
        if (entry.path().extension() == ".linelaw" &&
            entry.path().filename().string().find(".vocabulary.") == std::string::npos)
            files.push_back(entry.path());
    std::sort(files.begin(), files.end());
    return files;
}

}  // namespace

TEST_CASE("every hand-worked vector comes out as it was worked") {
    const std::string only = std::getenv("LINELAW_VECTORS") == nullptr ? "" : std::getenv("LINELAW_VECTORS");
    for (const auto& path : files_in(vectors))
        if (only.empty() || path.filename().string().find(only) != std::string::npos)
            check_examples(path, compiled(path));
}

TEST_CASE("every vector of several policies or editions comes out as it was worked") {
    for (const char* folder : {"/editions", "/governed"}) {
        const auto files = files_in(vectors + folder);
        std::vector<runtime::Policy> policies;
        for (const auto& path : files) policies.push_back(compiled(path));
        const auto together = runtime::joined(policies);
        INFO((together ? "" : together.error().message));
        REQUIRE(together);
        check_examples(files.back(), *together);
    }
}

TEST_CASE("editions are put in the order of their days, whatever the order given") {
    const auto files = files_in(vectors + "/editions");
    const auto turned = runtime::joined({compiled(files[1]), compiled(files[0])});
    REQUIRE(turned);
    check_examples(files.back(), *turned);
}

TEST_CASE("policies that do not fit together are refused, and it is said why") {
    const auto older = compiled(vectors + "/editions/1.linelaw");
    const auto newer = compiled(vectors + "/editions/2.linelaw");
    const auto refused = [](const runtime::Policy& a, const runtime::Policy& b) {
        const auto together = runtime::joined({a, b});
        return together ? std::string() : together.error().code + ": " + together.error().message;
    };
    auto longer = older;
    longer.in_force_until = runtime::CivilDate{2026, 4, 1};
    CHECK(refused(longer, newer) ==
          "conflict.edition: edition 1 of “Vectors: editions” and edition 2 of “Vectors: editions” cannot "
          "judge "
          "together: both are in force on 2026-04-01; let the older one end on the day before");
    auto elsewhere = newer;
    elsewhere.time_zone = "Europe/Berlin";
    CHECK(refused(older, elsewhere) ==
          "policies.zone: edition 1 of “Vectors: editions” and edition 2 of “Vectors: editions” cannot judge "
          "together: their time zones are America/Halifax and Europe/Berlin; audit each by itself");
    auto other = newer;
    other.event_kinds.back().name += "_other";
    CHECK(refused(older, other) ==
          "policies.vocabulary: edition 1 of “Vectors: editions” and edition 2 of “Vectors: editions” cannot "
          "judge "
          "together: they do not speak of the same events, attributes and states; let both use one "
          "vocabulary, or "
          "audit each by itself");
}
