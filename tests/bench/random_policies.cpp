// Random policies, their gaps and conflicts of values before Z3, for as long as one likes: first seed, last
// seed, seconds at most.
#include <fmt/format.h>

#include <chrono>
#include <cstdlib>
#include <map>

#include "tests/compiler/analysis/texts.hpp"
#include "tests/compiler/analysis/z3_judge.hpp"

using namespace linelaw::compiler::analysis;

int main(int argc, char** argv) {
    const int first = argc > 1 ? std::atoi(argv[1]) : 0;
    const int last = argc > 2 ? std::atoi(argv[2]) : 10'000;
    const double seconds = argc > 3 ? std::atof(argv[3]) : 1e9;
    using Clock = std::chrono::steady_clock;
    const Clock::time_point begin = Clock::now();
    std::size_t policies = 0;
    std::size_t compared = 0;
    std::size_t differ = 0;
    std::size_t with_gap = 0;
    std::size_t with_conflict = 0;
    std::map<std::string, std::size_t> stood;
    int seed = first;
    for (; seed < last && std::chrono::duration<double>(Clock::now() - begin).count() < seconds; ++seed) {
        std::mt19937 random(static_cast<unsigned>(seed));
        const DrawnPolicy drawn = draw(random);
        const auto compilation = from_texts(as_policy(drawn), as_vocabulary(drawn));
        if (!compilation.compiled) {
            fmt::print("seed {}: the drawn policy does not compile\n", seed);
            ++differ;
            continue;
        }
        const Z3Verdicts verdicts = judged_by_z3(drawn, analyse(compilation));
        ++policies;
        compared += verdicts.compared;
        with_gap += verdicts.gaps > 0 ? 1 : 0;
        with_conflict += verdicts.conflicts > 0 ? 1 : 0;
        for (const std::string& construct : constructs(drawn)) ++stood[construct];
        for (const std::string& claim : verdicts.differ) fmt::print("seed {}: {}\n", seed, claim);
        differ += verdicts.differ.size();
        std::fflush(stdout);
    }
    const auto share = [&](std::size_t n) {
        return policies == 0 ? 0.0 : 100.0 * static_cast<double>(n) / static_cast<double>(policies);
    };
    fmt::print("seeds {} to {}: {} policies, {} verdicts compared, {} differ\n", first, seed - 1, policies,
               compared, differ);
    fmt::print("{:.1f} % with a gap, {:.1f} % with a conflict\n", share(with_gap), share(with_conflict));
    for (const auto& [construct, n] : stood) fmt::print("{:5.1f} % {}\n", share(n), construct);
    return differ == 0 ? 0 : 1;
}
