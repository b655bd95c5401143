#include "runtime/review_tally.hpp"

#include <fmt/format.h>
#include <xxhash.h>

#include <algorithm>

#include "runtime/csv.hpp"

namespace linelaw::runtime {

// ---- the sample

bool Sample::would_keep(const Stratum& stratum, std::uint64_t rank) const {
    return stratum.lowest.size() < wanted || (wanted > 0 && rank <= stratum.lowest.back().rank);
}

void Sample::keep(Stratum& stratum, Sampled sampled) const {
    const auto before = [](const Sampled& a, const Sampled& b) { return a.order() < b.order(); };
    auto& lowest = stratum.lowest;
    lowest.insert(std::upper_bound(lowest.begin(), lowest.end(), sampled, before), std::move(sampled));
    if (lowest.size() > wanted) lowest.pop_back();
}

void Sample::add(const Sample& other) {
    wanted = std::max(wanted, other.wanted);
    for (const auto& [key, theirs] : other.strata) {
        Stratum& ours = strata[key];
        ours.population += theirs.population;
        for (const Sampled& sampled : theirs.lowest) keep(ours, sampled);
    }
}

std::vector<Sampled> Sample::drawn() const {
    const auto before = [](const Sampled* a, const Sampled* b) { return a->order() < b->order(); };
    // Rounds: first the lowest of each item; then what is left of each stratum, one a round.
    std::vector<std::vector<const Sampled*>> rounds(1);
    std::map<std::uint32_t, const Sampled*> first;
    for (const auto& [key, stratum] : strata) {
        if (stratum.lowest.empty()) continue;
        // Met and against in turns, so that a sample of one a clause holds about as many of either.
        const auto [entry, new_item] = first.emplace(key.first, &stratum.lowest.front());
        if (!new_item && key.second == (key.first % 2 == 1)) entry->second = &stratum.lowest.front();
    }
    for (const auto& [item, lowest] : first) rounds[0].push_back(lowest);
    for (const auto& [key, stratum] : strata) {
        std::size_t round = 0;
        for (const Sampled& sampled : stratum.lowest) {
            if (&sampled == first[key.first]) continue;
            if (rounds.size() <= ++round) rounds.emplace_back();
            rounds[round].push_back(&sampled);
        }
    }
    std::vector<Sampled> out;
    for (auto& round : rounds) {
        std::sort(round.begin(), round.end(), before);
        for (const Sampled* sampled : round) {
            if (out.size() < wanted) out.push_back(*sampled);
        }
    }
    std::sort(out.begin(), out.end(), [](const Sampled& a, const Sampled& b) {
        return std::tie(a.item, a.rank, a.id) < std::tie(b.item, b.rank, b.id);
    });
    return out;
}

std::string sample_code(const std::vector<Sampled>& drawn) {
    std::string ids;
    for (const Sampled& sampled : drawn) ids += sampled.id + "\n";
    return fmt::format("{:016x}", XXH3_64bits(ids.data(), ids.size()));
}

// ---- answers

namespace {

enum class Answer : std::uint8_t { none, met, against };

struct Sheet {
    std::vector<std::string> reviewers;
    std::vector<std::vector<Answer>> answers;  // by reviewer, by number
};

tl::unexpected<Error> refused(const std::string& name, std::size_t row, std::string_view what) {
    return tl::unexpected(Error{"reviewed.row", fmt::format("{}: row {}: {}", name, row, what)});
}

std::optional<Answer> answer_of(std::string_view text) {
    const std::size_t begin = text.find_first_not_of(" \t");
    if (begin == std::string_view::npos) return Answer::none;
    text = text.substr(begin, text.find_last_not_of(" \t") + 1 - begin);
    if (text == "met") return Answer::met;
    if (text == "against") return Answer::against;
    if (text == "cannot tell") return Answer::none;
    return std::nullopt;
}

Result<Sheet> read_sheet(std::string_view csv, const std::string& name, const std::vector<Sampled>& drawn) {
    const auto rows = read_csv(csv);
    if (!rows) return refused(name, 1, "a quotation mark is not closed");
    if (rows->empty())
        return refused(name, 1, "there is no header; give the sample.csv of this sample, filled in");
    const auto& header = rows->front();
    const auto column = [&](std::string_view wanted) {
        return static_cast<std::size_t>(std::find(header.begin(), header.end(), wanted) - header.begin());
    };
    const std::size_t code = column("sample");
    const std::size_t number = column("number");
    if (code == header.size() || number == header.size()) {
        return refused(
            name, 1,
            "there is no column `sample` or `number`; give the sample.csv of this sample, filled in");
    }
    Sheet sheet;
    std::vector<std::size_t> columns;
    for (std::size_t i = 0; i < header.size(); ++i) {
        if (header[i].rfind("reviewer", 0) != 0) continue;
        columns.push_back(i);
        sheet.reviewers.push_back(header[i]);
    }
    if (columns.empty()) return refused(name, 1, "there is no column whose name begins with `reviewer`");
    sheet.answers.assign(columns.size(), std::vector<Answer>(drawn.size(), Answer::none));
    const std::string expected = sample_code(drawn);
    for (std::size_t r = 1; r < rows->size(); ++r) {
        const auto& row = (*rows)[r];
        if (row.size() != header.size())
            return refused(name, r + 1, "it has more or fewer cells than the header");
        if (row[code] != expected) {
            return refused(
                name, r + 1,
                "it is of another sample; draw it with the same policy, records, --sample and --seed");
        }
        const std::size_t at = std::strtoul(row[number].c_str(), nullptr, 10);
        if (at == 0 || at > drawn.size()) return refused(name, r + 1, "the sample has no such number");
        for (std::size_t i = 0; i < columns.size(); ++i) {
            const auto answer = answer_of(row[columns[i]]);
            if (!answer)
                return refused(name, r + 1, "an answer is `met`, `against`, `cannot tell` or nothing");
            sheet.answers[i][at - 1] = *answer;
        }
    }
    return sheet;
}

Agreement agreement(std::string first, const std::vector<Answer>& a, std::string second,
                    const std::vector<Answer>& b) {
    Agreement out;
    out.first = std::move(first);
    out.second = std::move(second);
    for (std::size_t i = 0; i < a.size(); ++i) {
        if (a[i] == Answer::none || b[i] == Answer::none) {
            ++out.no_answer;
        } else {
            ++out.table[(a[i] == Answer::against ? 2U : 0U) + (b[i] == Answer::against ? 1U : 0U)];
        }
    }
    out.kappa = cohen_kappa(out.table, 2);
    return out;
}

}  // namespace

Result<std::vector<Agreement>> agreements(std::string_view csv, const std::string& name,
                                          const std::vector<Sampled>& drawn) {
    const auto sheet = read_sheet(csv, name, drawn);
    if (!sheet) return tl::unexpected(sheet.error());
    std::vector<Answer> tool;
    for (const Sampled& sampled : drawn)
        tool.push_back(counts_against(sampled.outcome) ? Answer::against : Answer::met);
    std::vector<Agreement> out;
    for (std::size_t i = 0; i < sheet->reviewers.size(); ++i)
        out.push_back(agreement("linelaw", tool, sheet->reviewers[i], sheet->answers[i]));
    for (std::size_t i = 0; i < sheet->reviewers.size(); ++i) {
        for (std::size_t j = i + 1; j < sheet->reviewers.size(); ++j) {
            out.push_back(
                agreement(sheet->reviewers[i], sheet->answers[i], sheet->reviewers[j], sheet->answers[j]));
        }
    }
    return out;
}

// ---- adding up

std::vector<std::string> ReviewTally::unmatched() const {
    std::vector<std::string> out;
    for (const std::string& id : settlements) {
        if (settled.count(id) == 0) out.push_back(id);
    }
    return out;
}

void ReviewTally::add(const ReviewTally& other) {
    settlements.insert(other.settlements.begin(), other.settlements.end());
    settled.insert(other.settled.begin(), other.settled.end());
    sample.add(other.sample);
    if (!other.since) return;
    if (!since) {
        since = other.since;
        return;
    }
    since->same += other.since->same;
    since->fresh += other.since->fresh;
    for (const auto& [item, count] : other.since->fresh_by) since->fresh_by[item] += count;
    since->gone.insert(since->gone.end(), other.since->gone.begin(), other.since->gone.end());
    std::sort(since->gone.begin(), since->gone.end(),
              [](const EarlierFinding& a, const EarlierFinding& b) { return a.id < b.id; });
}

}  // namespace linelaw::runtime
