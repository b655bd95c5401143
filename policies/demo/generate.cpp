// linelaw_demo_records: a year of invented episodes for the demo's policy, with what was planted in them.
//
// It knows neither the policy text nor the engine: each outcome is reckoned here, by the scripts in
// generator/, from their own events. So what `linelaw audit` finds can be held against what was planted, both
// ways.
//
// Writes into DIR: records.ndjson; planted.ndjson, one line an opportunity (episode, clause, ladder or
// bundle, step and part where there is one, when it opened, its outcome); spoiled.ndjson, one line a record
// that must be quarantined; planted.json, the counts.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <filesystem>
#include <fstream>
#include <iostream>

#include "policies/demo/generator/record.hpp"
#include "policies/demo/generator/scripts.hpp"

namespace {

using linelaw::demo::Planted;
using linelaw::demo::quoted;
using linelaw::demo::Spoiled;
using linelaw::demo::Stay;

using Counts = std::map<std::string, int>;

struct Tally {
    std::map<std::string, Counts> outcomes;
    Counts set_aside;
    Counts counted;
    Counts spoiled;
};

Stay write_stay(std::uint64_t seed, int index) {
    Stay stay = linelaw::demo::begin_stay(seed, index);
    write_dressings(stay);
    write_responses(stay);
    write_infusions(stay);
    write_connectors(stay);
    write_ladders(stay);
    write_reviews(stay);
    account_dressings(stay);
    account_responses(stay);
    account_ladders(stay);
    account_reviews(stay);
    return stay;
}

std::string name_of(const Planted& planted) {
    return planted.step == 0 ? planted.item : fmt::format("{} step {}", planted.item, planted.step);
}

void write_planted(std::ostream& out, const Stay& stay, const Planted& planted) {
    out << fmt::format(R"({{"episode":"{}","item":"{}")", stay.key, planted.item);
    if (planted.step != 0) out << fmt::format(R"(,"step":{})", planted.step);
    if (!planted.part.empty()) out << fmt::format(R"(,"part":"{}")", planted.part);
    out << fmt::format(R"(,"opened":"{}","outcome":"{}"}})",
                       write(planted.opened, linelaw::demo::Writing::utc), planted.outcome)
        << '\n';
}

std::string to_json(const Counts& counts) {
    std::string out = "{";
    for (const auto& [name, number] : counts) {
        out += fmt::format("{}{}: {}", out.size() > 1 ? ", " : "", quoted(name), number);
    }
    return out + '}';
}

void write_tally(std::ostream& out, std::uint64_t seed, int episodes, const Tally& tally) {
    int spoiled = 0;
    for (const auto& kind : tally.spoiled) spoiled += kind.second;
    out << fmt::format("{{\n  \"seed\": {},\n  \"episodes\": {},\n  \"records\": {},\n", seed, episodes,
                       episodes + spoiled)
        << "  \"spoiled\": " << to_json(tally.spoiled) << ",\n  \"set_aside\": " << to_json(tally.set_aside)
        << ",\n  \"counted\": " << to_json(tally.counted) << ",\n  \"outcomes\": {";
    bool first = true;
    for (const auto& [item, counts] : tally.outcomes) {
        out << (first ? "\n    " : ",\n    ") << quoted(item) << ": " << to_json(counts);
        first = false;
    }
    out << "\n  }\n}\n";
}

int generate(const std::filesystem::path& folder, std::uint64_t seed, int episodes, bool oversize) {
    std::filesystem::create_directories(folder);
    std::ofstream records(folder / "records.ndjson", std::ios::binary);
    std::ofstream planted(folder / "planted.ndjson", std::ios::binary);
    std::ofstream spoiled(folder / "spoiled.ndjson", std::ios::binary);
    std::ofstream counts(folder / "planted.json", std::ios::binary);
    Tally tally;
    int line = 0;
    const auto spoil = [&](int number, bool with_oversize) {
        for (const Spoiled& record : linelaw::demo::spoiled_records(number, with_oversize)) {
            records << record.text << '\n';
            spoiled << fmt::format(R"({{"line":{},"kind":"{}","episode":"{}"}})", ++line, record.kind,
                                   record.key)
                    << '\n';
            ++tally.spoiled[record.kind];
        }
    };
    for (int index = 0; index < episodes; ++index) {
        Stay stay = write_stay(seed, index);
        records << write_record(stay) << '\n';
        ++line;
        for (const Planted& one : stay.planted) {
            write_planted(planted, stay, one);
            ++tally.outcomes[name_of(one)][one.outcome];
        }
        for (const auto& [what, number] : stay.set_aside) tally.set_aside[what] += number;
        for (const auto& [what, number] : stay.counted) tally.counted[what] += number;
        if (index % 1000 == 29) spoil(index / 1000, oversize && index < 1000);
    }
    write_tally(counts, seed, episodes, tally);
    for (const std::ofstream* file : {&records, &planted, &spoiled, &counts}) {
        if (!file->good()) {
            std::cerr << "linelaw_demo_records: cannot write to " << folder.string() << '\n';
            return 2;
        }
    }
    return 0;
}

}  // namespace

int main(int argc, char** argv) try {
    CLI::App app{"Invented line-care records for the demo, and what was planted in them."};
    int episodes = 3000;
    std::uint64_t seed = 2026;
    std::string folder;
    bool oversize = false;
    app.add_option("--episodes", episodes, "how many episodes")->check(CLI::Range(1, 1000000));
    app.add_option("--seed", seed, "the same seed gives the same records");
    app.add_option("--out", folder, "the folder to write into")->required();
    app.add_flag("--oversize", oversize, "add one record over the size limit (17 MB)");
    CLI11_PARSE(app, argc, argv);
    return generate(folder, seed, episodes, oversize);
} catch (const std::exception& error) {
    std::cerr << "linelaw_demo_records: " << error.what() << '\n';
    return 2;
}
