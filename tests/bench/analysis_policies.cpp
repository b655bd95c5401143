// Whole policies of 100, 1,000 and 10,000 clauses: every analysis, end to end. Clauses are drawn as
// committees write them: mostly one kind of line or setting, an interval, a response or a value; a few are
// planted to clash.
#include <fmt/format.h>

#include <chrono>
#include <cstdlib>
#include <map>
#include <random>

#include "compiler/analysis/analysis.hpp"
#include "compiler/compile.hpp"

using namespace linelaw::compiler;

namespace {

std::string vocabulary(std::size_t events) {
    std::string text =
        "vocabulary bench\n  edition 1\n\npatient\n  age : age 0 days .. 120 years\n  setting : one of icu, "
        "ward, outpatient, home\n"
        "\nline\n  kind : one of picc, midline, nontunnelled_cvc, tunnelled_cvc, port, peripheral, arterial, "
        "dialysis\n"
        "  lumens : count 1 .. 5\n  external_length : length 0 cm .. 60 cm in cm\n\nevent insertion "
        "\"Insertion\"\n"
        "event removal \"Removal\"\n";
    for (std::size_t e = 0; e < events; ++e)
        text += fmt::format(
            "event care_{} \"Care\"\n  seconds_{} : duration 0 s .. 10 min in s\n  way_{} : one of a, b, c, "
            "d\n"
            "event finding_{} \"Finding\"\n",
            e, e, e, e);
    return text;
}

std::string condition(std::mt19937& random) {
    static const char* kinds[] = {"picc", "midline",    "nontunnelled_cvc", "tunnelled_cvc",
                                  "port", "peripheral", "arterial",         "dialysis"};
    static const char* settings[] = {"icu", "ward", "outpatient", "home"};
    switch (random() % 5) {
        case 0:
            return fmt::format("line.kind is {}", kinds[random() % 8]);
        case 1:
            return fmt::format("line.kind is one of {}, {}", kinds[random() % 4], kinds[4 + random() % 4]);
        case 2:
            return fmt::format("patient.setting is {}", settings[random() % 4]);
        case 3:
            return fmt::format("patient.age {} {} years", random() % 2 == 0 ? "at least" : "less than",
                               1 + random() % 18);
        default:
            return fmt::format("line.kind is {} and patient.setting is {}", kinds[random() % 8],
                               settings[random() % 4]);
    }
}

std::string policy(std::size_t clauses, std::size_t events) {
    std::mt19937 random(static_cast<unsigned>(clauses));
    std::string text =
        "policy \"Bench\"\n  edition 1\n  in force from 2026-03-01 until 2027-02-28\n  review by 2027-01-15\n"
        "  time zone UTC\n  uses vocabulary \"bench.linelaw\"\n  undocumented counts as not assessable\n\n";
    for (std::size_t c = 0; c < clauses; ++c) {
        const std::size_t e = random() % events;
        text += fmt::format("clause c{}\n  \"Drawn.\"\n  for {}\n", c, condition(random));
        switch (random() % 10) {
            case 0:
            case 1:
            case 2:
                text += fmt::format("  must care_{} at least every {} h\n", e, 12 * (2 + random() % 13));
                break;
            case 3:
                text +=
                    fmt::format("  must care_{} no more often than every {} h\n", e, 12 * (1 + random() % 2));
                break;
            case 4:
            case 5:
                text += fmt::format("  after finding_{}\n  must care_{} within {} h\n", e, e,
                                    12 * (1 + random() % 2));
                break;
            case 6:
            case 7:
                text += fmt::format("  at care_{}\n  must seconds_{} at least {} s\n", e, e,
                                    10 * (1 + random() % 6));
                break;
            case 8:
                text += fmt::format("  at care_{}\n  must way_{} is one of a, {}\n", e, e,
                                    random() % 2 == 0 ? "b" : "c");
                break;
            default:
                text += fmt::format("  at care_{}\n  must document seconds_{}, way_{}\n", e, e, e);
        }
        text += "  reason \"bench\"\n\n";
    }
    return text;
}

void measure(std::size_t clauses) {
    const std::size_t events = std::max<std::size_t>(10, clauses / 20);
    const Compilation compilation =
        compile("policy", [&](const std::string& path) -> std::optional<std::string> {
            return path == "policy" ? policy(clauses, events) : vocabulary(events);
        });
    if (!compilation.compiled) {
        fmt::print("does not compile: {}\n", compilation.diagnostics[0].message);
        return;
    }
    const auto begin = std::chrono::steady_clock::now();
    const analysis::Analysis analysis = analysis::analyse(compilation);
    const double seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
    std::map<std::string, std::size_t> counts;
    for (const auto& d : analysis.diagnostics) ++counts[d.code];
    fmt::print("{:6} clauses, {} kinds of event: {:.2f} s; {} exact\n", clauses, 2 * events, seconds,
               analysis.exact.size());
    for (const auto& [code, n] : counts) fmt::print("       {:6} {}\n", n, code);
    for (const std::string& line : analysis.not_done) fmt::print("       {}\n", line.substr(0, 150));
}

}  // namespace

int main(int argc, char** argv) {
    if (argc == 2) {
        measure(static_cast<std::size_t>(std::atoi(argv[1])));
        return 0;
    }
    for (const std::size_t clauses : {100, 1000, 10'000}) measure(clauses);
}
