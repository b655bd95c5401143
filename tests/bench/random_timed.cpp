// Random timed problems against the brute answer for as long as one likes: first seed, last seed, seconds at
// most.
#include <fmt/format.h>

#include <chrono>
#include <cstdlib>
#include <map>
#include <set>

#include "tests/compiler/analysis/random_timed.hpp"

using namespace linelaw::compiler::analysis;

int main(int argc, char** argv) {
    const int first = argc > 1 ? std::atoi(argv[1]) : 0;
    const int last = argc > 2 ? std::atoi(argv[2]) : 10'000;
    const double seconds = argc > 3 ? std::atof(argv[3]) : 1e9;
    using Clock = std::chrono::steady_clock;
    const Clock::time_point begin = Clock::now();
    std::size_t drawn = 0;
    std::size_t by_brute = 0;
    std::size_t by_zones = 0;
    std::size_t compared = 0;  // by either
    std::size_t differ = 0;
    std::size_t verdicts[4] = {0, 0, 0, 0};  // of those compared
    std::map<std::string, std::size_t> stood;
    int seed = first;
    for (; seed < last && std::chrono::duration<double>(Clock::now() - begin).count() < seconds; ++seed) {
        std::mt19937 random(static_cast<unsigned>(seed));
        const TimedProblem problem = random_problem(random);
        const Agreement agreement = agree(problem, 2000);
        ++drawn;
        by_zones += agreement.by_zones ? 1 : 0;
        by_brute += agreement.by_brute ? 1 : 0;
        if (!agreement.same) {
            ++differ;
            fmt::print("seed {}: {}\n", seed, agreement.said);
            std::fflush(stdout);
        }
        if (!agreement.by_brute && !agreement.by_zones) continue;
        ++compared;
        ++verdicts[static_cast<int>(agreement.verdict)];
        for (const std::string& construct : [&] {
                 const std::vector<std::string> all = constructs(problem);
                 return std::set<std::string>(all.begin(), all.end());
             }())
            ++stood[construct];
    }
    const auto share = [&](std::size_t n) {
        return compared == 0 ? 0.0 : 100.0 * static_cast<double>(n) / static_cast<double>(compared);
    };
    fmt::print(
        "seeds {} to {}: {} drawn; {} verdicts compared with the brute one, {} between the solvers; {} "
        "differ\n",
        first, seed - 1, drawn, by_brute, by_zones, differ);
    fmt::print("{:.1f} % kept, {:.1f} % corners, {:.1f} % conflicts\n", share(verdicts[0]),
               share(verdicts[1]), share(verdicts[2]));
    for (const auto& [construct, n] : stood) fmt::print("{:5.1f} % {}\n", share(n), construct);
    return differ == 0 ? 0 : 1;
}
