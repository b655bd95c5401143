// The meeting: the engine and the literal evaluator on the same policies and records, and what must hold of
// both.
// prints what was compared, writes a shrunk case for each difference, and exits 1 if there was one or if a
// pair of demand and outcome came too seldom.
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "tests/differential/meeting.hpp"

using namespace linelaw::literal;

namespace {

std::string read_text(const std::string& path) {
    std::ifstream in(path);
    std::stringstream out;
    out << in.rdbuf();
    return out.str();
}

const char* const usage =
    "meet [--comparisons N] [--seconds S]   policies and records at random: so many comparisons, for so "
    "long\n"
    "     [--small N] [--pairs N]           the small world: one clause, and two, on up to N events\n"
    "     [--stride N]                      every Nth record of the small world only\n"
    "     [--seed N] [--jobs N]             threads, each with its own seed\n"
    "     [--least N]                       fail where a pair of demand and outcome came less often\n"
    "     [--cases N] [--out DIR]           stop after so many differences; write them there\n"
    "Only comparisons with at least one opportunity are counted.\n\n";

}  // namespace

int main(int argc, char** argv) {
    MeetingOptions options;
    options.vocabulary =
        read_text(LINELAW_SOURCE_DIR "/tests/conformance/vectors/vectors.vocabulary.linelaw");
    std::string out;
    std::uint64_t least = 0;  // 0: pairs may be lacking
    if (argc == 2 && std::string(argv[1]) == "--help") {
        std::printf("%s%s", usage, small_forms().c_str());
        return 0;
    }
    for (int i = 1; i + 1 < argc; i += 2) {
        const std::string key = argv[i];
        const std::string value = argv[i + 1];
        if (key == "--small")
            options.small_events = std::stoi(value);
        else if (key == "--pairs")
            options.pair_events = std::stoi(value);
        else if (key == "--stride")
            options.small_stride = std::stoul(value);
        else if (key == "--jobs")
            options.jobs = static_cast<unsigned>(std::stoul(value));
        else if (key == "--comparisons")
            options.comparisons = std::stoull(value);
        else if (key == "--seconds")
            options.seconds = std::stod(value);
        else if (key == "--seed")
            options.seed = std::stoull(value);
        else if (key == "--cases")
            options.most_cases = std::stoi(value);
        else if (key == "--least")
            least = std::stoull(value);
        else if (key == "--out")
            out = value;
        else {
            std::fprintf(stderr, "meet: unknown option %s\n", key.c_str());
            return 2;
        }
    }
    options.progress = [](const std::string& line) {
        std::printf("%s\n", line.c_str());
        std::fflush(stdout);
    };
    const Meeting meeting = meet(options);
    std::printf("%s", meeting.report(least).c_str());
    if (!out.empty()) std::filesystem::create_directories(out);
    int number = 0;
    for (const std::string& c : meeting.cases) {
        char name[32];
        std::snprintf(name, sizeof name, "/case-%03d.txt", ++number);
        if (out.empty())
            std::printf("\n==== case %d\n%s", number, c.c_str());
        else
            std::ofstream(out + name) << c;
    }
    if (!meeting.counts.all_at_least(least)) {
        std::printf("a pair of demand and outcome came less than %s times, or one that cannot occur came\n",
                    std::to_string(least).c_str());
        return 1;
    }
    return meeting.differences == 0 ? 0 : 1;
}
