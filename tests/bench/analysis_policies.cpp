// Whole policies of 100, 1,000 and 10,000 clauses over the standard vocabulary: every analysis, end to end,
// and how the time grows. A policy is drawn as a manual would be written: a chapter of a hundred clauses for
// each kind of line at each site, for ages and what is known of the patient, among them some that clash and
// some that say nothing new. And policies built to blow up, which must end in time and say what was not
// analysed.
//
//   bench_analysis_policies [CLAUSES | blow-up]      from the project's folder
#include <fmt/format.h>
#include <sys/resource.h>

#include <cmath>
#include <cstdlib>
#include <ctime>
#include <fstream>
#include <map>
#include <random>
#include <sstream>

#include "compiler/analysis/analysis.hpp"
#include "compiler/compile.hpp"

using namespace linelaw::compiler;

namespace {

constexpr const char* standard = "policies/line-care.linelaw";
constexpr std::size_t clauses_of_a_chapter = 100;

const char* head =
    "policy \"Bench\"\n  edition 1\n  in force from 2026-03-01 until 2027-02-28\n  review by 2027-01-15\n"
    "  time zone UTC\n  uses vocabulary \"line-care.linelaw\"\n  undocumented counts as not assessable\n\n"
    "shift day   from 07:00 to 19:30\nshift night from 19:00 to 07:30\n\n";

class Draw {
  public:
    explicit Draw(unsigned seed) : random_(seed) {}

    std::string policy(std::size_t clauses) {
        std::string text = head;
        for (std::size_t c = 0; c < clauses; ++c) {
            const std::size_t chapter = c / clauses_of_a_chapter;
            text += fmt::format(
                "clause c{}\n  \"Drawn.\"\n  for line.kind is {} and line.site is {}{}\n{}  reason "
                "\"bench\"\n\n",
                c, kinds[chapter % 11], sites[chapter / 11 % 11], condition(), demand());
        }
        return text;
    }

  private:
    std::mt19937 random_;

    template <typename... T>
    std::string one_of(T... texts) {
        const std::vector<std::string> all{texts...};
        return all[random_() % all.size()];
    }
    static constexpr const char* kinds[] = {
        "picc",       "midline",  "nontunnelled_cvc", "tunnelled_cvc",  "dialysis_catheter", "port",
        "peripheral", "arterial", "umbilical_artery", "umbilical_vein", "intraosseous"};
    static constexpr const char* sites[] = {"upper_arm", "forearm", "hand",  "neck",      "chest", "groin",
                                            "leg",       "foot",    "scalp", "umbilicus", "bone"};
    std::string condition() {
        switch (random_() % 6) {
            case 0:
                return "";
            case 1:
            case 2:
                return fmt::format(" and patient.age {} {}", one_of("at least", "less than"),
                                   one_of("2 months", "1 years", "12 years", "18 years"));
            case 3:
                return one_of(" and chg_sensitivity", " and not chg_sensitivity", " and immunocompromised");
            case 4:
                return fmt::format(" and line.lumens {}", one_of("is 1", "more than 1", "at most 2"));
            default:
                return fmt::format(" and patient.weight at least {} kg and patient.age {} 18 years",
                                   one_of("3", "10", "50"), one_of("at least", "less than"));
        }
    }
    std::string demand() {
        switch (random_() % 18) {
            case 0:
                return fmt::format(
                    "  while dressing is one of transparent, chg_transparent\n  must dressing_change at "
                    "least "
                    "every {} days grace 12 h\n",
                    one_of("3", "5", "7"));
            case 1:
                return fmt::format(
                    "  while dressing is one of gauze, gauze_under_transparent\n  must dressing_change at "
                    "least every {} days\n",
                    one_of("1", "2"));
            case 2:
                return fmt::format(
                    "  after site_assessment where dressing_condition is one of damp, loose, soiled\n  must "
                    "dressing_change within {} h\n",
                    one_of("1", "2", "4"));
            case 3:
                return fmt::format("  at dressing_change\n  must antiseptic is one of {}\n",
                                   one_of("chg_alcohol, povidone_iodine", "povidone_iodine, alcohol",
                                          "chg_alcohol, chg_aqueous"));
            case 4:
                return fmt::format("  at dressing_change\n  must dry_time {} s\n",
                                   one_of("at least 30", "at least 60", "at least 120", "at most 90"));
            case 5:
                return fmt::format("  at insertion or dressing_change\n  must scrub_time at least {} s\n",
                                   one_of("15", "30"));
            case 6:
                return fmt::format(
                    "  for each infusion where fluid is one of {}\n  must set_change at least every {}\n",
                    one_of("crystalloid, medication", "nutrition, lipid", "blood, propofol"),
                    one_of("24 h", "72 h", "7 days no more often than every 96 h"));
            case 7:
                return fmt::format("  for each lumen\n  must connector_change at least every {}\n",
                                   one_of("4 days", "7 days no more often than every 96 h"));
            case 8:
                return fmt::format("  while setting is one of {}\n  must site_assessment each shift\n",
                                   one_of("icu, ward", "icu", "ward, outpatient"));
            case 9:
                return "  while setting is one of icu, ward\n  must line_need_review each calendar day\n";
            case 10:
                return fmt::format("  at access\n  must hub_scrub_time at least {} s\n",
                                   one_of("5", "15", "30"));
            case 11:
                return "  after blood_draw\n  must flush where volume at least 10 mL within 10 min\n";
            case 12:
                return fmt::format("  after fever\n  must culture within {} h\n", one_of("1", "2"));
            case 13:
                return "  before infusion_start\n  must have had tip_confirmation\n";
            case 14:
                return "  at insertion or dressing_change\n  must document antiseptic, scrub_time, "
                       "dry_time\n";
            case 15:
                return "  must not infusion_start where fluid is vesicant\n";
            case 16:
                return "  after needle_insertion\n  must needle_removal within 7 days grace 12 h\n";
            default:
                return fmt::format("  must dressing_change no more often than every {} h\n",
                                   one_of("4", "12", "24"));
        }
    }
};

// Every clause in conditions that no other clause shares: each subset of the clauses applies somewhere.
std::string every_combination(std::size_t clauses) {
    std::string text = head;
    for (std::size_t c = 0; c < clauses; ++c)
        text += fmt::format(
            "clause c{}\n  \"Built to blow up.\"\n  for line.gauge is {} or line.inserted_length is {} cm or "
            "patient.age at least {} days or patient.weight at least {} kg\n  must dressing_change at least "
            "every {} "
            "h no more often than every {} min\n  reason \"bench\"\n\n",
            c, 14 + c % 15, c % 80, 17 * c + 1, c % 390 + 1, 24 + c, 7 * c + 1);
    return text;
}

// Numbers that all hang together by their differences, each compared with many constants.
std::string tangled_numbers(std::size_t clauses) {
    std::string text = head;
    for (std::size_t c = 0; c < clauses; ++c)
        text += fmt::format(
            "clause c{}\n  \"Built to blow up.\"\n  at dressing_change where change in external_length since "
            "insertion more than {} mm and external_length more than {} mm\n  must dry_time at least {} s "
            "and scrub_time less than dry_time\n  reason \"bench\"\n\n",
            c, 3 * c % 590 + 1, 7 * c % 590 + 2, c + 1);
    return text;
}

// One long chain of events that each ask for the next, minutes beside weeks, in both directions.
std::string tangled_times(std::size_t clauses) {
    const std::vector<std::string> events{"dressing_change",
                                          "securement_change",
                                          "bathing",
                                          "flush",
                                          "lock",
                                          "access",
                                          "blood_draw",
                                          "measurement",
                                          "teaching",
                                          "site_assessment",
                                          "line_need_review",
                                          "culture"};
    std::string text = head;
    for (std::size_t c = 0; c < clauses; ++c) {
        const std::string& a = events[c % events.size()];
        const std::string& b = events[(c * 5 + 1) % events.size()];
        text += fmt::format("clause c{}\n  \"Built to blow up.\"\n", c);
        if (c % 3 == 0)
            text += fmt::format("  after {}\n  must {} within {} min\n", a, b, 11 + 13 * c);
        else if (c % 3 == 1)
            text += fmt::format("  must {} at least every {} min\n", a, 10'079 - 7 * c);
        else
            text += fmt::format("  must {} no more often than every {} min\n", b, 3 + 2 * c);
        text += "  reason \"bench\"\n\n";
    }
    return text;
}

double mebibytes() {
    rusage usage{};
    getrusage(RUSAGE_SELF, &usage);
    return static_cast<double>(usage.ru_maxrss) / 1024;
}

// Seconds, or nothing where the text does not compile.
std::optional<double> measure(const std::string& name, const std::string& text) {
    const Compilation compilation =
        compile("policy", [&](const std::string& path) -> std::optional<std::string> {
            if (path == "policy") return text;
            std::ifstream in(standard);
            if (!in) return std::nullopt;
            std::stringstream content;
            content << in.rdbuf();
            return content.str();
        });
    if (!compilation.compiled) {
        fmt::print("{}: does not compile: {}\n", name, compilation.diagnostics[0].message);
        return std::nullopt;
    }
    const double before = mebibytes();
    const std::clock_t begin = std::clock();  // of the processor: other work does not count
    const analysis::Analysis analysis = analysis::analyse(compilation);
    const double seconds = static_cast<double>(std::clock() - begin) / CLOCKS_PER_SEC;
    std::map<std::string, std::size_t> counts;
    for (const auto& d : analysis.diagnostics) ++counts[d.code];
    fmt::print("{}: {:.3f} s, at most {:.0f} MiB ({:.0f} before); {} of {} clauses exact\n", name, seconds,
               mebibytes(), before, analysis.exact.size(), analysis.exact.size() + analysis.not_exact.size());
    for (const auto& [code, n] : counts) fmt::print("       {:6} {}\n", n, code);
    for (const std::string& line : analysis.not_done) fmt::print("       {}\n", line.substr(0, 200));
    std::fflush(stdout);
    return seconds;
}

void built_to_blow_up() {
    measure("every combination of 60 clauses", every_combination(60));
    measure("every combination of 1,000 clauses", every_combination(1000));
    measure("60 tangled numbers", tangled_numbers(60));
    measure("1,000 tangled numbers", tangled_numbers(1000));
    measure("36 tangled times", tangled_times(36));
    measure("300 tangled times", tangled_times(300));
}

}  // namespace

int main(int argc, char** argv) {
    if (argc == 2 && std::string(argv[1]) == "blow-up") {
        built_to_blow_up();
        return 0;
    }
    if (argc == 2) {
        const auto clauses = static_cast<std::size_t>(std::atoi(argv[1]));
        return measure(fmt::format("{} clauses", clauses), Draw(1).policy(clauses)) ? 0 : 1;
    }
    std::vector<double> seconds;
    for (const std::size_t clauses : {100, 1000, 10'000}) {
        const auto took = measure(fmt::format("{} clauses", clauses), Draw(1).policy(clauses));
        if (!took) return 1;
        seconds.push_back(*took);
    }
    fmt::print(
        "time grows with the clauses to the power of {:.2f} from 100 to 1,000, {:.2f} from 1,000 to "
        "10,000\n",
        std::log10(seconds[1] / seconds[0]), std::log10(seconds[2] / seconds[1]));
    built_to_blow_up();
}
