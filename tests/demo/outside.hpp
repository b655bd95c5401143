// Runs the program and the generator as a user would, and reads what they write. The tests of this folder see
// the project only through this.
#pragma once

#include <compare>
#include <filesystem>
#include <map>
#include <string>
#include <vector>

namespace outside {

// A folder that goes when the test ends.
class Folder {
  public:
    Folder();
    ~Folder();
    Folder(const Folder&) = delete;
    Folder& operator=(const Folder&) = delete;
    std::filesystem::path operator/(const std::string& name) const { return path_ / name; }

  private:
    std::filesystem::path path_;
};

struct Run {
    int status = -1;
    std::string out;
    std::string err;
};
// Runs `linelaw` with these arguments; `input` is its standard input.
Run linelaw(const std::vector<std::string>& arguments, const std::string& input = "");
// Records for one of the demo's policies.
void generate(const std::filesystem::path& folder, int episodes, int seed,
              const std::string& policy = "quillhaven");

std::string read(const std::filesystem::path& file);
void write(const std::filesystem::path& file, const std::string& text);
std::vector<std::string> lines(const std::string& text);
std::string demo_policy(const std::string& name = "quillhaven");  // its path
std::string demo_vocabulary();                                    // its path

// One opportunity with its outcome, as a line that can be compared and read: "q-000001 set.continuous i1
// 2026-03-02T14:15:00Z met".
using Opportunities = std::map<std::string, int>;  // line → how often
std::string opportunity(const std::string& episode, const std::string& item, int step,
                        const std::string& part, const std::string& opened, const std::string& outcome);
Opportunities planted(const std::filesystem::path& planted_ndjson);
// Without those of malformed records (x-…), of which nothing is planted but what is amiss.
Opportunities found(const std::filesystem::path& findings_ndjson);
// The same with every gap and conflict let stand: a policy of a few clauses, or with one struck out, has
// some.
std::vector<std::string> letting_stand(std::vector<std::string> arguments);
// Audits with every finding written.
Opportunities audit(const std::string& policy, const std::filesystem::path& records, const Folder& folder);

// The first differences both ways, for people; empty where there is none.
std::string differences(const Opportunities& expected, const Opportunities& found);

}  // namespace outside
