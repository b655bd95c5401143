// linelaw_demo_records: a year of invented episodes for one of the demo's policies, with what was planted in
// them.
//
// It knows neither the policy text nor the engine: each outcome is reckoned here, by the scripts in
// generator/, from their own events. So what `linelaw audit` finds can be held against what was planted, both
// ways.
//
// Writes into DIR: records.ndjson; planted.ndjson, one line an opportunity (episode, clause, ladder or
// bundle, step and part where there is one, when it opened, its outcome); malformed.ndjson, one line a record
// that must be quarantined, or of which a value must be set aside; planted.json, the counts.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <filesystem>
#include <fstream>
#include <iostream>

#include "policies/demo/generator/malformed.hpp"
#include "policies/demo/generator/record.hpp"
#include "policies/demo/generator/scripts.hpp"

namespace {

using linelaw::demo::Malformed;
using linelaw::demo::Planted;
using linelaw::demo::Policy;
using linelaw::demo::quoted;
using linelaw::demo::Stay;

using Counts = std::map<std::string, int>;

struct Tally {
    std::map<std::string, Counts> outcomes;
    Counts set_aside;
    Counts counted;
    Counts malformed;
};

Stay write_stay(Policy policy, std::uint64_t seed, int index) {
    Stay stay = linelaw::demo::begin_stay(policy, seed, index);
    write_dressings(stay);
    write_responses(stay);
    write_hubs(stay);
    write_infusions(stay);
    write_connectors(stay);
    write_ladders(stay);
    if (stay.fifth()) write_skin(stay), write_idle(stay);
    write_reviews(stay);
    if (stay.fifth()) write_phlebitis(stay), write_leaving(stay);
    account_dressings(stay);
    account_responses(stay);
    account_ladders(stay);
    account_reviews(stay);
    if (!stay.fifth()) return stay;
    account_skin(stay);
    account_idle(stay);
    account_phlebitis(stay);
    account_leaving(stay);
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
    int malformed = 0;
    for (const auto& kind : tally.malformed) malformed += kind.second;
    out << fmt::format("{{\n  \"seed\": {},\n  \"episodes\": {},\n  \"records\": {},\n", seed, episodes,
                       episodes + malformed)
        << "  \"malformed\": " << to_json(tally.malformed)
        << ",\n  \"set_aside\": " << to_json(tally.set_aside)
        << ",\n  \"counted\": " << to_json(tally.counted) << ",\n  \"outcomes\": {";
    bool first = true;
    for (const auto& [item, counts] : tally.outcomes) {
        out << (first ? "\n    " : ",\n    ") << quoted(item) << ": " << to_json(counts);
        first = false;
    }
    out << "\n  }\n}\n";
}

void write_malformed(std::ostream& out, int line, const Malformed& record) {
    std::string values;
    for (const std::string& pointer : record.values) values += (values.empty() ? "" : ",") + quoted(pointer);
    out << fmt::format(R"({{"line":{},"kind":"{}","code":"{}","values":[{}],"episode":"{}"}})", line,
                       record.kind, record.code, values, record.key)
        << '\n';
}

int generate(const std::filesystem::path& folder, Policy policy, std::uint64_t seed, int episodes,
             bool oversize) {
    std::filesystem::create_directories(folder);
    std::ofstream records(folder / "records.ndjson", std::ios::binary);
    std::ofstream planted(folder / "planted.ndjson", std::ios::binary);
    std::ofstream malformed(folder / "malformed.ndjson", std::ios::binary);
    std::ofstream counts(folder / "planted.json", std::ios::binary);
    Tally tally;
    int line = 0;
    const auto add_malformed = [&](int number, bool with_oversize) {
        for (const Malformed& record :
             linelaw::demo::malformed_records(linelaw::demo::year_of(policy), number, with_oversize)) {
            records << record.text << '\n';
            write_malformed(malformed, ++line, record);
            ++tally.malformed[record.kind];
        }
    };
    for (int index = 0; index < episodes; ++index) {
        Stay stay = write_stay(policy, seed, index);
        records << write_record(stay) << '\n';
        ++line;
        for (const Planted& one : stay.planted) {
            write_planted(planted, stay, one);
            ++tally.outcomes[name_of(one)][one.outcome];
        }
        for (const auto& [what, number] : stay.set_aside) tally.set_aside[what] += number;
        for (const auto& [what, number] : stay.counted) tally.counted[what] += number;
        if (index % 1000 == 29) add_malformed(index / 1000, oversize && index < 1000);
    }
    write_tally(counts, seed, episodes, tally);
    for (const std::ofstream* file : {&records, &planted, &malformed, &counts}) {
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
    const std::map<std::string, Policy> policies = {{"quillhaven", Policy::edition_4},
                                                    {"quillhaven-2027", Policy::edition_5},
                                                    {"neonatal", Policy::neonatal},
                                                    {"home-infusion", Policy::home_infusion}};
    Policy policy = Policy::edition_5;
    int episodes = 3000;
    std::uint64_t seed = 2026;
    std::string folder;
    bool oversize = false;
    app.add_option("--policy", policy, "by which of the demo's policies they are to be judged")
        ->transform(CLI::CheckedTransformer(policies));
    app.add_option("--episodes", episodes, "how many episodes")->check(CLI::Range(1, 1000000));
    app.add_option("--seed", seed, "the same seed gives the same records");
    app.add_option("--out", folder, "the folder to write into")->required();
    app.add_flag("--oversize", oversize, "add one record over the size limit (17 MB)");
    CLI11_PARSE(app, argc, argv);
    return generate(folder, policy, seed, episodes, oversize);
} catch (const std::exception& error) {
    std::cerr << "linelaw_demo_records: " << error.what() << '\n';
    return 2;
}
