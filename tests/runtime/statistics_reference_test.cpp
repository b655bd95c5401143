// The same figures from SciPy and statsmodels: judges that share no code with ours. They are among the tests'
// packages; without them the test fails, because a check that is not made is none.
#include <sys/wait.h>

#include <catch2/catch.hpp>
#include <cstdio>
#include <memory>
#include <sstream>
#include <string>

#include "runtime/statistics.hpp"

using namespace linelaw::runtime;

namespace {

struct Answer {
    std::string text;
    int status = 0;
};

Answer run(const std::string& command) {
    Answer answer;
    FILE* pipe = popen(command.c_str(), "r");
    REQUIRE(pipe != nullptr);
    char buffer[4096];
    while (fgets(buffer, sizeof buffer, pipe) != nullptr) answer.text += buffer;
    const int status = pclose(pipe);
    answer.status = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
    return answer;
}

void check_close(double ours, double theirs) {
    CHECK(ours == Approx(theirs).epsilon(1e-9).margin(1e-12));
}

void compare(std::istringstream& line, const std::string& what) {
    if (what == "kappa") {
        std::size_t size = 0;
        line >> size;
        std::vector<std::uint64_t> cells(size * size);
        double kappa = 0;
        double low = 0;
        double high = 0;
        for (std::uint64_t& cell : cells) line >> cell;
        line >> kappa >> low >> high;
        const auto ours = cohen_kappa(cells, size);
        REQUIRE(ours);
        check_close(ours->kappa, kappa);
        check_close(ours->interval.low, low);
        check_close(ours->interval.high, std::min(1.0, high));
        return;
    }
    if (what == "design") {
        std::size_t clusters = 0;
        line >> clusters;
        Clustered all;
        all.clusters = clusters;
        for (std::size_t i = 0; i < clusters; ++i) {
            std::uint64_t met = 0;
            std::uint64_t counted = 0;
            line >> met >> counted;
            all.met += met;
            all.counted += counted;
            all.met_squared += met * met;
            all.met_counted += met * counted;
            all.counted_squared += counted * counted;
        }
        double effect = 0, low = 0, high = 0;
        line >> effect >> low >> high;
        check_close(design_effect({all}), effect);
        const Interval ours = wilson_clustered(all.met, all.counted, design_effect({all}));
        check_close(ours.low, low);
        check_close(ours.high, high);
        return;
    }
    if (what == "difference") {
        std::uint64_t x1 = 0, n1 = 0, x2 = 0, n2 = 0;
        double confidence = 0, low = 0, high = 0;
        line >> x1 >> n1 >> x2 >> n2 >> confidence >> low >> high;
        const Difference ours = difference(x1, n1, x2, n2, confidence);
        check_close(ours.interval.low, low);
        check_close(ours.interval.high, high);
        return;
    }
    if (what == "fisher") {
        std::uint64_t x1 = 0, n1 = 0, x2 = 0, n2 = 0;
        double p = 0;
        line >> x1 >> n1 >> x2 >> n2 >> p;
        // Logarithms of factorials of a million leave eight digits; each goes its own way to them.
        CHECK(fisher_exact(x1, n1, x2, n2) == Approx(p).epsilon(n1 + n2 < 10000 ? 1e-9 : 1e-7).margin(0));
        return;
    }
    if (what == "beyond_p" || what == "beyond_u") {
        double centre = 0, size = 0, chance = 0;
        line >> centre >> size >> chance;
        check_close(what == "beyond_p" ? chance_beyond_p(p_chart(centre, size), size)
                                       : chance_beyond_u(u_chart(centre, size), size),
                    chance);
        return;
    }
    std::uint64_t x = 0;
    std::uint64_t n = 0;
    double low = 0;
    double high = 0;
    line >> x >> n >> low >> high;
    if (what == "crossings") {
        CHECK(fewest_crossings_allowed(x) == static_cast<std::size_t>(low));
        CHECK(longest_run_allowed(x) == static_cast<std::size_t>(high));
        return;
    }
    if (what == "runs") {
        CHECK(runs_allowed(x).fewest == static_cast<std::size_t>(low));
        CHECK(runs_allowed(x).most == static_cast<std::size_t>(high));
        return;
    }
    const Interval ours = what == "wilson"  ? wilson(x, n)
                          : what == "exact" ? clopper_pearson(x, n)
                                            : poisson(x, static_cast<double>(n));
    check_close(ours.low, low);
    check_close(ours.high, high);
}

}  // namespace

TEST_CASE("intervals, tests and chart limits are those of SciPy and statsmodels") {
    const std::string script = " '" LINELAW_SOURCE_DIR "/tests/runtime/statistics_reference.py' 2>&1";
    Answer answer = run("python3" + script);
    if (answer.status == 77) answer = run("command -p python3" + script);  // the system's, behind a local one
    INFO(answer.text);
    INFO("77: SciPy or statsmodels is not installed (python3-scipy, python3-statsmodels)");
    REQUIRE(answer.status == 0);
    std::istringstream lines(answer.text);
    std::size_t compared = 0;
    for (std::string text; std::getline(lines, text); ++compared) {
        std::istringstream line(text);
        std::string what;
        line >> what;
        INFO(text);
        compare(line, what);
    }
    CHECK(compared > 440);
}
