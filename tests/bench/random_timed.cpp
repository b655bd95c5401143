// Random timed problems against the brute answer for as long as one likes: first seed, last seed.
#include <fmt/format.h>

#include <cstdlib>

#include "tests/compiler/analysis/random_timed.hpp"

using namespace linelaw::compiler::analysis;

int main(int argc, char** argv) {
    const int first = argc > 1 ? std::atoi(argv[1]) : 0;
    const int last = argc > 2 ? std::atoi(argv[2]) : 10'000;
    std::size_t tried = 0;
    std::size_t differ = 0;
    std::size_t verdicts[4] = {0, 0, 0, 0};
    for (int seed = first; seed < last; ++seed) {
        std::mt19937 random(static_cast<unsigned>(seed));
        const TimedProblem problem = random_problem(random);
        bool was_tried = false;
        std::string said;
        if (!agree(problem, 30'000, was_tried, said)) {
            ++differ;
            fmt::print("seed {}: {}\n", seed, said);
        }
        tried += was_tried ? 1 : 0;
        ++verdicts[static_cast<int>(solve(problem, 30'000).verdict)];
    }
    fmt::print("{} tried, {} differ; {} kept, {} corners, {} conflicts, {} too large\n", tried, differ,
               verdicts[0], verdicts[1], verdicts[2], verdicts[3]);
    return differ == 0 ? 0 : 1;
}
