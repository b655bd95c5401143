// The auditor's round in the summary: JSON, and lines of the table.
#include "runtime/summary_review.hpp"

#include <fmt/format.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "runtime/csv.hpp"

namespace linelaw::runtime {
namespace {

using Json = nlohmann::ordered_json;

Json rounded(double value) {
    return std::round(value * 1e4) / 1e4;
}
Json rate_json(const Rate& rate) {
    return {
        {"counted", rate.counted},
        {"against", rate.against()},
        {"rate", rate.exercised() ? rounded(rate.share) : Json(nullptr)},
        {"rate_interval_95",
         rate.exercised() ? Json{rounded(rate.interval.low), rounded(rate.interval.high)} : Json(nullptr)}};
}

Json settled_json(const Audited& audited, const Tally& tally) {
    const ReviewTally& review = tally.review;
    Json out;
    out["given"] = review.settlements.size();
    out["found"] = review.settled.size();
    out["no_longer_there"] = audited.keys ? Json(review.unmatched()) : Json(review.unmatched().size());
    out["after_review"] = Json::array();
    for (std::size_t i = 0; i < audited.items.size(); ++i) {
        if (settled_of(tally, i) == 0) continue;
        Json entry;
        entry["item"] = audited.items[i].name;
        entry["settled"] = settled_of(tally, i);
        entry["as_recorded"] = rate_json(rate_of(tally.all.counts[i]));
        entry["after_review"] = rate_json(rate_of(after_review(tally, i)));
        out["after_review"].push_back(std::move(entry));
    }
    out["findings"] = Json::array();
    for (const auto& [id, f] : review.settled) {
        Json entry;
        if (audited.keys) entry["id"] = id, entry["episode"] = f.episode;
        entry["item"] = audited.items[f.item].name;
        entry["recorded"] = outcome_names[static_cast<std::size_t>(f.recorded)];
        entry["settled"] = outcome_names[static_cast<std::size_t>(f.settled)];
        entry["reason"] = f.reason;
        out["findings"].push_back(std::move(entry));
    }
    return out;
}

Json since_json(const Audited& audited, const SinceEarlier& since) {
    Json out = {{"earlier", since.earlier},
                {"same", since.same},
                {"gone", since.gone.size()},
                {"not_judged", since.not_judged()},
                {"new", since.fresh}};
    out["new_by"] = Json::object();
    for (const auto& [item, count] : since.fresh_by) out["new_by"][audited.items[item].name] = count;
    return out;
}

Json sample_json(const Audited& audited, const Tally& tally) {
    const std::vector<Sampled> drawn = tally.review.sample.drawn();
    Json out = {{"wanted", audited.sample}, {"seed", audited.seed}, {"drawn", drawn.size()}};
    out["sample"] = sample_code(drawn);
    out["agreement"] = Json::array();
    for (const Agreement& a : tally.review.agreements) {
        Json entry = {
            {"first", a.first}, {"second", a.second}, {"table", a.table}, {"no_answer", a.no_answer}};
        entry["agreement"] = a.kappa ? rounded(a.kappa->agreement) : Json(nullptr);
        entry["kappa"] = a.kappa ? rounded(a.kappa->kappa) : Json(nullptr);
        entry["kappa_interval_95"] =
            a.kappa ? Json{rounded(a.kappa->interval.low), rounded(a.kappa->interval.high)} : Json(nullptr);
        out["agreement"].push_back(std::move(entry));
    }
    return out;
}

}  // namespace

Json review_summary(const Audited& audited, const Tally& tally) {
    Json out = Json::object();
    if (!tally.review.settlements.empty()) out["settled"] = settled_json(audited, tally);
    if (tally.review.since) out["since"] = since_json(audited, *tally.review.since);
    if (audited.sample != 0) out["sample"] = sample_json(audited, tally);
    return out;
}

std::vector<std::string> review_lines(const Audited& audited, const Tally& tally) {
    const ReviewTally& review = tally.review;
    std::vector<std::string> out;
    if (!review.settlements.empty()) {
        out.push_back(
            fmt::format("settled after chart review: {} of {} given; {} against as recorded, {} after review",
                        review.settled.size(), review.settlements.size(), grouped(against_in(audited, tally)),
                        grouped(against_after_review(audited, tally))));
        for (std::size_t i = 0; i < audited.items.size(); ++i) {
            if (settled_of(tally, i) == 0) continue;
            const Rate rate = rate_of(after_review(tally, i));
            out.push_back(fmt::format(
                "  {}: {} settled; after review {}", audited.items[i].name, settled_of(tally, i),
                rate.exercised()
                    ? fmt::format("{} of {} met, {} ({})", grouped(rate.met), grouped(rate.counted),
                                  percent(rate.share), percent_range(rate.interval))
                    : std::string("no evidence")));
        }
        const auto unmatched = review.unmatched();
        if (!unmatched.empty()) {
            std::string names;
            for (const std::string& id : unmatched) names += (names.empty() ? ": " : ", ") + id;
            out.push_back(fmt::format("  {} settled {} no longer there{}", unmatched.size(),
                                      unmatched.size() == 1 ? "finding is" : "findings are",
                                      audited.keys ? names : ""));
        }
    }
    if (review.since) {
        out.push_back(
            fmt::format("since the earlier run: {} new, {} gone, {} the same, {} of episodes not judged now",
                        grouped(review.since->fresh), grouped(review.since->gone.size()),
                        grouped(review.since->same), grouped(review.since->not_judged())));
    }
    for (const Agreement& a : review.agreements) {
        out.push_back(fmt::format("agreement of {} and {} on the sample: {} of {}{}", a.first, a.second,
                                  a.table[0] + a.table[3], a.table[0] + a.table[1] + a.table[2] + a.table[3],
                                  a.kappa
                                      ? fmt::format(", kappa {:.2f} ({:.2f} to {:.2f})", a.kappa->kappa,
                                                    a.kappa->interval.low, a.kappa->interval.high)
                                      : std::string("; kappa is not defined where all answers are alike")));
    }
    return out;
}

std::string gone_ndjson(const Audited& audited, const Tally& tally) {
    std::string out;
    if (!tally.review.since) return out;
    for (const EarlierFinding& f : tally.review.since->gone) {
        Json entry;
        if (audited.keys) entry["id"] = f.id, entry["episode"] = f.episode;
        entry["item"] = f.item;
        entry["said"] = f.said;
        out += entry.dump(-1, ' ', false, Json::error_handler_t::replace) + "\n";
    }
    return out;
}

}  // namespace linelaw::runtime
