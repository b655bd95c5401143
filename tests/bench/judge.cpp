// How fast the engine judges, on one core: episodes in memory, so that reading them is not measured.
//   bench_judge                     the length of limits, the number of open opportunities, and the number of
//                                   clauses, each in one series with its ratios
//   bench_judge SERIES              one of them: limits, records, open, clauses
//   bench_judge POLICY RECORDS      a policy of your own and its records (NDJSON)
#include <algorithm>
#include <ctime>
#include <fstream>
#include <string>
#include <vector>

#include <fmt/format.h>

#include "compiler/compile.hpp"
#include "runtime/engine.hpp"
#include "runtime/records.hpp"
#include "tests/bench/judge_worlds.hpp"

using namespace linelaw;

namespace {

struct Figure {
    std::size_t clauses = 0;
    std::uint64_t events = 0;
    std::uint64_t opportunities = 0;
    double best = 1e9;  // seconds, of all rounds
};

// That it worked for this process: other programs do not count.
double seconds_of_this_core() {
    timespec t{};
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return static_cast<double>(t.tv_sec) + static_cast<double>(t.tv_nsec) / 1e9;
}

// One engine for all episodes, warm.
class Measured {
  public:
    Measured(std::string name, const runtime::Policy& policy, const std::vector<runtime::Episode>& episodes)
        : name_(std::move(name)), episodes_(episodes), engine_(policy) {
        figure_.clauses = policy.clauses.size();
        judge_all();
    }
    void round() {
        const double begin = seconds_of_this_core();
        judge_all();
        figure_.best = std::min(figure_.best, seconds_of_this_core() - begin);
    }
    double nanoseconds_an_event() const { return figure_.best * 1e9 / static_cast<double>(figure_.events); }
    void print(double of_the_first) const {
        fmt::print(
            "{:<34} {:>6} clauses {:>7} events {:>8} opportunities  {:6.2f} M events/s  {:6.0f} ns an event  "
            "{:5.0f} ns an opportunity  x{:.2f}\n",
            name_, figure_.clauses, figure_.events, figure_.opportunities,
            static_cast<double>(figure_.events) / figure_.best / 1e6, nanoseconds_an_event(),
            figure_.best * 1e9 / static_cast<double>(figure_.opportunities),
            nanoseconds_an_event() / of_the_first);
    }

  private:
    void judge_all() {
        figure_.events = figure_.opportunities = 0;
        for (const runtime::Episode& e : episodes_) {
            figure_.events += e.events.size();
            figure_.opportunities += engine_.judge(e).size();
        }
    }
    std::string name_;
    const std::vector<runtime::Episode>& episodes_;
    runtime::Engine engine_;
    Figure figure_;
};

// The worlds of a series by turns, so that a busy machine slows all of them; x: time an event, of the first.
void series(const std::string& title, const std::vector<bench::World>& worlds) {
    constexpr int rounds = 7;
    std::vector<Measured> measured;
    measured.reserve(worlds.size());
    for (const bench::World& w : worlds) measured.emplace_back(w.name, w.policy, w.episodes);
    for (int i = 0; i < rounds; ++i)
        for (Measured& m : measured) m.round();
    fmt::print("\n{}\n", title);
    for (const Measured& m : measured) m.print(measured.front().nanoseconds_an_event());
}

int own(const char* policy_path, const char* records_path) {
    const compiler::Compilation c = compiler::compile(policy_path);
    if (!c.compiled) {
        fmt::print(stderr, "{}: the policy does not compile\n", policy_path);
        return 2;
    }
    runtime::RecordReader reader(c.compiled->policy);
    std::vector<runtime::Episode> all;
    std::vector<runtime::Spoiled> set_aside;
    std::ifstream in(records_path);
    for (std::string line; std::getline(in, line);) {
        runtime::Episode e;
        if (!reader.read(line, e, set_aside)) all.push_back(std::move(e));
    }
    series("your own", std::vector<bench::World>{{policy_path, c.compiled->policy, all}});
    return 0;
}

}  // namespace

int main(int argc, char** argv) {
    if (argc == 3) return own(argv[1], argv[2]);
    const auto worlds = [](auto make, std::initializer_list<int> sizes) {
        std::vector<bench::World> all;
        for (const int size : sizes) all.push_back(make(size));
        return all;
    };
    const std::string only = argc == 2 ? argv[1] : "";
    if (only.empty() || only == "limits")
        series("the length of limits, on the same events",
               worlds([](int hours) { return bench::every_form(hours, 1); }, {1, 24, 240, 2'400, 9'600}));
    if (only.empty() || only == "records")
        series("the length of limits and of the record alike: with it grow the shifts and days judged",
               worlds([](int factor) { return bench::every_form(24 * factor, factor); }, {1, 10, 100}));
    if (only.empty() || only == "open")
        series("opportunities open at once, of 500,000 in one record",
               worlds(bench::open_at_once, {5, 50, 500, 5'000, 50'000, 500'000}));
    if (only.empty() || only == "clauses")
        series("clauses, of which an event concerns ten",
               worlds(bench::ten_an_event, {10, 100, 1'000, 10'000}));
    return 0;
}
