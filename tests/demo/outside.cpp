#include "tests/demo/outside.hpp"

#include <sys/wait.h>
#include <unistd.h>

#include <catch2/catch.hpp>
#include <cstdlib>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

namespace outside {
namespace {

std::string in_quotes(const std::string& argument) {
    std::string out = "'";
    for (const char c : argument) out += c == '\'' ? std::string("'\\''") : std::string(1, c);
    return out + "'";
}

std::string text_or(const nlohmann::json& object, const char* key) {
    return object.contains(key) ? object.at(key).get<std::string>() : std::string();
}

}  // namespace

Folder::Folder() {
    std::string name = (std::filesystem::temp_directory_path() / "linelaw-XXXXXX").string();
    if (mkdtemp(name.data()) == nullptr) throw std::runtime_error("no temporary folder");
    path_ = name;
}

Folder::~Folder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
}

Run linelaw(const std::vector<std::string>& arguments, const std::string& input) {
    const Folder folder;
    write(folder / "in", input);
    std::string command = in_quotes(LINELAW_PROGRAM);
    for (const std::string& argument : arguments) command += ' ' + in_quotes(argument);
    command += " <" + in_quotes((folder / "in").string()) + " >" + in_quotes((folder / "out").string()) +
               " 2>" + in_quotes((folder / "err").string());
    const int status = std::system(command.c_str());  // NOLINT: the arguments are the tests' own
    return {WIFEXITED(status) ? WEXITSTATUS(status) : -1, read(folder / "out"), read(folder / "err")};
}

void generate(const std::filesystem::path& folder, int episodes, int seed, const std::string& policy) {
    const std::string command = in_quotes(LINELAW_GENERATOR) + " --episodes " + std::to_string(episodes) +
                                " --seed " + std::to_string(seed) + " --policy " + policy + " --out " +
                                in_quotes(folder.string());
    REQUIRE(std::system(command.c_str()) == 0);  // NOLINT: the arguments are the tests' own
}

std::string read(const std::filesystem::path& file) {
    std::ifstream in(file, std::ios::binary);
    std::ostringstream text;
    text << in.rdbuf();
    return text.str();
}

void write(const std::filesystem::path& file, const std::string& text) {
    std::ofstream(file, std::ios::binary) << text;
}

std::vector<std::string> lines(const std::string& text) {
    std::vector<std::string> all;
    std::istringstream in(text);
    for (std::string line; std::getline(in, line);) all.push_back(line);
    return all;
}

std::string demo_policy(const std::string& name) {
    return LINELAW_SOURCE_DIR "/policies/demo/" + name + ".linelaw";
}
std::string demo_vocabulary() {
    return LINELAW_SOURCE_DIR "/policies/line-care.linelaw";
}

std::string opportunity(const std::string& episode, const std::string& item, int step,
                        const std::string& part, const std::string& opened, const std::string& outcome) {
    std::string line = episode + ' ' + item;
    if (step != 0) line += " step " + std::to_string(step);
    if (!part.empty()) line += ' ' + part;
    return line + ' ' + opened + ' ' + outcome;
}

Opportunities planted(const std::filesystem::path& planted_ndjson) {
    Opportunities all;
    for (const std::string& line : lines(read(planted_ndjson))) {
        const auto one = nlohmann::json::parse(line);
        ++all[opportunity(one.at("episode"), one.at("item"), one.value("step", 0), one.value("part", ""),
                          one.at("opened"), one.at("outcome"))];
    }
    return all;
}

Opportunities found(const std::filesystem::path& findings_ndjson) {
    Opportunities all;
    for (const std::string& line : lines(read(findings_ndjson))) {
        const auto one = nlohmann::json::parse(line);
        if (one.at("episode").get<std::string>().rfind("x-", 0) == 0) continue;
        std::string item;
        for (const char* origin : {"clause", "ladder", "bundle"}) item += text_or(one, origin);
        const auto& part = one.at("part");
        ++all[opportunity(one.at("episode"), item, one.value("step", 0),
                          part.is_null() ? "" : part.at("name").get<std::string>(), one.at("opened"),
                          one.at("outcome"))];
    }
    return all;
}

std::vector<std::string> letting_stand(std::vector<std::string> arguments) {
    for (const char* code : {"gap.question", "gap.response", "gap.documentation", "gap.table", "gap.boundary",
                             "conflict.interval", "conflict.response", "conflict.forbidden",
                             "conflict.values", "conflict.order"}) {
        arguments.insert(arguments.end(), {"--accept", code});
    }
    return arguments;
}

Opportunities audit(const std::string& policy, const std::filesystem::path& records, const Folder& folder) {
    const Run run = linelaw(letting_stand(
        {"audit", policy, records.string(), "--findings", "all", "--out", (folder / "audit").string()}));
    INFO(run.err);
    REQUIRE((run.status == 0 || run.status == 1));
    return found(folder / "audit" / "findings.ndjson");
}

std::string differences(const Opportunities& expected, const Opportunities& found) {
    std::ostringstream out;
    int shown = 0;
    const auto compare = [&](const Opportunities& these, const Opportunities& those, const char* said) {
        int more = 0;
        for (const auto& [line, times] : these) {
            const auto other = those.find(line);
            const int difference = times - (other == those.end() ? 0 : other->second);
            if (difference <= 0) continue;
            if (++shown <= 30) out << said << line << (difference > 1 ? " (several times)" : "") << '\n';
            ++more;
        }
        if (more > 0) out << said << more << " in all\n";
        shown = 0;
    };
    compare(expected, found, "expected, not found: ");
    compare(found, expected, "found, not expected: ");
    return out.str();
}

}  // namespace outside
