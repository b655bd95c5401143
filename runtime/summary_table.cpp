// The summary for a terminal: what was read, each clause's rate with its interval and what was not counted,
// the worst findings. Fits 100 columns; colour never says anything that the words do not.
#include <fmt/format.h>

#include <algorithm>

#include "runtime/fault_words.hpp"
#include "runtime/findings_words.hpp"
#include "runtime/summary.hpp"
#include "runtime/summary_review.hpp"

namespace linelaw::runtime {
namespace {

// Columns on a terminal, as the formatting library counts them: a code point each.
std::size_t columns_of(std::string_view text) {
    return static_cast<std::size_t>(
        std::count_if(text.begin(), text.end(), [](char c) { return (c & 0xC0) != 0x80; }));
}

std::string clipped(const std::string& text, std::size_t width) {
    if (columns_of(text) <= width) return text;
    std::string out;
    std::size_t columns = 0;
    for (std::size_t i = 0; i < text.size(); ++i) {
        if ((text[i] & 0xC0) != 0x80 && ++columns == width) break;
        out += text[i];
    }
    return out + "…";
}

std::string without_edition(const AuditedItem& item) {
    std::string name = item.name;
    const std::string edition = " (" + item.edition + ")";
    if (const auto at = name.find(edition); at != std::string::npos) name.erase(at, edition.size());
    return name;
}

std::string wrapped(const std::string& text, std::size_t indent, std::size_t width) {
    std::string out;
    std::size_t column = 0;
    for (std::size_t begin = 0; begin < text.size();) {
        const std::size_t end = std::min(text.find(' ', begin), text.size());
        const std::string_view word = std::string_view(text).substr(begin, end - begin);
        const std::size_t columns = columns_of(word);
        if (column == 0 || column + 1 + columns > width) {
            if (column != 0) out += '\n';
            out.append(indent, ' ');
            column = indent;
        } else {
            out += ' ';
            ++column;
        }
        out += word;
        column += columns;
        begin = end + 1;
    }
    return out + "\n";
}

class SummaryTable {
  public:
    SummaryTable(const Audited& audited, const Tally& tally, const TableOptions& options)
        : audited_(audited), tally_(tally), options_(options) {}

    std::string make() {
        head();
        rates(OriginKind::clause, "clause");
        rates(OriginKind::ladder, "escalation");
        rates(OriginKind::bundle, "bundle, all or none");
        legend();
        review();
        worst();
        return std::move(out_);
    }

  private:
    std::string styled(const std::string& text, const char* code) const {
        return options_.color ? fmt::format("\x1b[{}m{}\x1b[0m", code, text) : text;
    }
    std::string bold(const std::string& text) const { return styled(text, "1"); }

    void head() {
        out_ += bold(clipped(audited_.title, options_.width)) + "\n";
        const std::string edition = audited_.edition.empty() ? "not given" : audited_.edition;
        out_ += audited_.editions.empty()
                    ? fmt::format("edition {}, policy {}\n", edition, audited_.content_hash.substr(0, 16))
                    : fmt::format("{} judged together, as {}\n",
                                  audited_.edition.empty() ? "policies" : "editions " + edition,
                                  audited_.content_hash.substr(0, 16));
        coverage();
        out_ += fmt::format("{} records read = {} judged + {} quarantined; {} values set aside\n",
                            grouped(tally_.read), grouped(tally_.judged), grouped(tally_.quarantined),
                            grouped(values_set_aside(tally_)));
        by_fault("quarantined", tally_.quarantined_by);
        by_fault("set aside", tally_.set_aside_by);
        repeated();
        unused();
        if (tally_.first && tally_.last) {
            const Zone zone = Zone::of(audited_.time_zone);
            out_ +=
                wrapped(fmt::format("known from {} to {}; line-days: {} of each line, {} of patients "
                                    "(counted at {:02}:{:02})",
                                    Words::date(zone.date_of(*tally_.first)),
                                    Words::date(zone.date_of(*tally_.last)), grouped(tally_.all.line_days),
                                    grouped(patient_days(tally_)), audited_.count_at / microseconds_per_hour,
                                    audited_.count_at / microseconds_per_minute % 60),
                        0, options_.width);
        }
        out_ += '\n';
    }
    void repeated() {
        const std::uint64_t repeated = tally_.episodes.repeated();
        if (repeated == 0) return;
        out_ += wrapped(
            fmt::format(
                "records of an episode that another record was of, too: {}. Each counts by itself: do "
                "the extracts overlap?",
                grouped(repeated)),
            2, options_.width);
    }
    // How many for which reason, the most frequent first; where in the record is on the page and in the
    // files.
    void by_fault(std::string_view what, const std::map<std::string, std::uint64_t>& faults) {
        if (faults.empty()) return;
        std::map<std::string_view, std::uint64_t> by_code;
        for (const auto& [fault, count] : faults)
            by_code[std::string_view(fault).substr(0, fault.find(' '))] += count;
        std::vector<std::pair<std::string_view, std::uint64_t>> sorted(by_code.begin(), by_code.end());
        std::stable_sort(sorted.begin(), sorted.end(),
                         [](const auto& a, const auto& b) { return a.second > b.second; });
        std::string list;
        for (const auto& [code, count] : sorted)
            list += fmt::format("{}{}: {}", list.empty() ? "" : "; ", grouped(count), fault_in_words(code));
        out_ += wrapped(fmt::format("{} because: {}", what, list), 2, options_.width);
    }
    // "1 episode", "12 episodes of unknown type"
    static std::string count(std::uint64_t n, const char* what, const char* of = "") {
        return fmt::format("{} {}{}{}", grouped(n), what, n == 1 ? "" : "s", of);
    }
    void coverage() {
        for (const CoverageRow& row : coverage_rows(audited_, tally_))
            out_ +=
                wrapped(fmt::format("- {}: {} of {}, {}", row.who, count(row.judged.line_days, "line-day"),
                                    count(row.judged.episodes, "episode"), row.note),
                        0, options_.width);
    }
    void unused() {
        const auto total = [](const std::map<std::string, std::uint64_t>& counts) {
            std::uint64_t sum = 0;
            for (const auto& [name, count] : counts) sum += count;
            return sum;
        };
        const std::uint64_t keys = total(tally_.seen.unknown_keys);
        const std::uint64_t events = total(tally_.seen.unknown_events);
        if (keys + events + tally_.seen.after_observed_until + tally_.seen.identical_repeats == 0) return;
        out_ +=
            wrapped(fmt::format("not used: {}, {}, {}, {}", count(keys, "unknown key"),
                                count(events, "event", " of unknown type"),
                                count(tally_.seen.after_observed_until, "event", " after the record's end"),
                                count(tally_.seen.identical_repeats, "identical repeat")),
                    0, options_.width);
    }

    void rates(OriginKind origin, std::string_view title) {
        bool first = true;
        std::string edition;  // of several: named once, above its own
        for (std::size_t i = 0; i < audited_.items.size(); ++i) {
            if (audited_.items[i].origin != origin) continue;
            if (first) {
                const auto headings = [&](auto... columns) {
                    return bold(fmt::format("{:<27}{:>15}{:>8}{:>15}{:>8}{:>10}{:>8}{:>9}", columns...)) +
                           "\n";
                };
                out_ += headings("", "", "", "95 %", "", "no longer", "", "not as-");
                out_ += headings(title, "met of counted", "rate", "interval", "excused", "due", "pending",
                                 "sessable");
            }
            first = false;
            if (audited_.items[i].edition != edition) {
                edition = audited_.items[i].edition;
                out_ += bold(edition) + "\n";
            }
            row(audited_.items[i], i < tally_.all.counts.size() ? tally_.all.counts[i] : Counts{});
        }
        if (!first) out_ += '\n';
    }
    void row(const AuditedItem& item, const Counts& counts) {
        const Rate rate = rate_of(counts);
        const std::string name = clipped(without_edition(item), 26);
        std::string line;
        if (rate.exercised()) {
            line = fmt::format("{:<27}{:>15}{:>8}{:>15}", name,
                               fmt::format("{} of {}", grouped(rate.met), grouped(rate.counted)),
                               percent(rate.share), percent_range(rate.interval));
        } else {
            line = fmt::format("{:<27}{:>38}", name,
                               item.asks_nothing.empty() ? "no evidence" : clipped(item.asks_nothing, 37));
        }
        line += fmt::format("{:>8}{:>10}{:>8}{:>9}", grouped(count_of(counts, Outcome::excused)),
                            grouped(count_of(counts, Outcome::no_longer_due)),
                            grouped(count_of(counts, Outcome::pending)),
                            grouped(count_of(counts, Outcome::not_assessable)));
        if (rate.exercised() && rate.small()) line += " *", marked_ = true;
        out_ += (rate.exercised() ? line : styled(line, "2")) + "\n";
    }
    void legend() {
        if (marked_) {
            out_ += fmt::format("* fewer than {} counted: a small number, read the interval, not the rate\n",
                                few);
        }
        out_ += wrapped(
            "The rate is met of counted (met and against), with its Wilson 95 % interval. Not counted, and "
            "shown beside: excused, no longer due, pending at the end of the record, not assessable. A "
            "clause that nothing exercised has no evidence, which is not 100 %.",
            0, options_.width);
        out_ += '\n';
    }

    void review() {
        const std::vector<std::string> lines = review_lines(audited_, tally_);
        for (const std::string& line : lines)
            out_ += wrapped(line, line.rfind("  ", 0) == 0 ? 2 : 0, options_.width);
        if (!lines.empty()) out_ += '\n';
    }

    void worst() {
        if (tally_.worst.empty()) {
            out_ +=
                tally_.judged == 0 ? "No record could be judged.\n" : "Nothing counts against any clause.\n";
            return;
        }
        out_ += bold(fmt::format("the worst {}, by priority, then lateness (of {} against)",
                                 tally_.worst.size(), grouped(against_in(audited_, tally_)))) +
                "\n";
        for (const WorstFinding& finding : tally_.worst) {
            out_ += fmt::format(
                "  {} {}{}{}: {}\n", styled(std::string(priority_name(finding.priority)), "1"),
                audited_.keys ? finding.episode + " " : "", audited_.items[finding.item].name,
                finding.care_unit.empty() ? "" : " in " + finding.care_unit, outcome_words(finding.outcome));
            out_ += wrapped(finding.said, 4, options_.width);
        }
    }

    const Audited& audited_;
    const Tally& tally_;
    const TableOptions& options_;
    std::string out_;
    bool marked_ = false;
};

}  // namespace

std::string summary_table(const Audited& audited, const Tally& tally, const TableOptions& options) {
    return SummaryTable(audited, tally, options).make();
}

}  // namespace linelaw::runtime
