#include "runtime/review.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "runtime/input.hpp"
#include "runtime/keyed_hash.hpp"

namespace linelaw::runtime {
namespace {

// What may stand between the parts of a settlement, and, from a spreadsheet, after the last one.
constexpr std::string_view separators = " \t\r,;";

std::string_view trimmed(std::string_view text) {
    const std::size_t begin = text.find_first_not_of(separators);
    if (begin == std::string_view::npos) return {};
    return text.substr(begin, text.find_last_not_of(separators) + 1 - begin);
}

// Takes a part in quotation marks off the line's begin, marks doubled within it made one; nothing where there
// is none, or where it is not closed.
std::optional<std::string> take_quoted(std::string_view& line) {
    if (line.empty() || line.front() != '"') return std::nullopt;
    std::string part;
    for (std::size_t i = 1; i < line.size(); ++i) {
        if (line[i] != '"') {
            part += line[i];
        } else if (i + 1 < line.size() && line[i + 1] == '"') {
            part += line[++i];
        } else {
            line.remove_prefix(i + 1);
            return part;
        }
    }
    return std::nullopt;
}

// The same where nothing stands behind it.
std::optional<std::string> wholly_quoted(std::string_view line) {
    auto part = take_quoted(line);
    return part && trimmed(line).empty() ? part : std::nullopt;
}

bool is_id(std::string_view word) {
    constexpr std::size_t digits = 16;
    return word.size() == digits && word.find_first_not_of("0123456789abcdef") == std::string_view::npos;
}

std::vector<std::string> ids_of(const std::vector<EarlierFinding>& findings) {
    std::vector<std::string> ids;
    for (const EarlierFinding& finding : findings) ids.push_back(finding.id);
    return ids;
}
std::vector<std::string> episodes_of(const std::vector<EarlierFinding>& findings) {
    std::vector<std::string> episodes;
    for (const EarlierFinding& finding : findings) episodes.push_back(finding.episode);
    return episodes;
}

}  // namespace

Ids::Ids(const std::vector<std::string>& ids) {
    for (const std::string& id : ids) {
        if (index_.emplace(id, size_).second) ++size_;
    }
    asked_ = std::make_unique<std::atomic<bool>[]>(size_);
}

std::optional<std::size_t> Ids::index_of(std::string_view id) const {
    const auto found = index_.find(std::string(id));
    return found == index_.end() ? std::nullopt : std::optional<std::size_t>(found->second);
}

std::optional<std::size_t> Ids::find(std::string_view id) const {
    const auto index = index_of(id);
    if (index) asked_[*index].store(true, std::memory_order_relaxed);
    return index;
}

std::string Ids::all_asked() const {
    std::string out(size_, '0');
    for (std::size_t i = 0; i < size_; ++i) {
        if (asked(i)) out[i] = '1';
    }
    return out;
}

bool Ids::ask_all(std::string_view asked) const {
    if (asked.size() != size_ || asked.find_first_not_of("01") != std::string_view::npos) return false;
    for (std::size_t i = 0; i < size_; ++i) {
        if (asked[i] == '1') asked_[i].store(true, std::memory_order_relaxed);
    }
    return true;
}

// ---- settled

namespace {

// Takes the id off the line's begin; nothing where it is none.
std::optional<std::string> take_id(std::string_view& line) {
    auto id = take_quoted(line);
    if (!id) {
        id = line.substr(0, line.find_first_of(separators));
        line.remove_prefix(id->size());
    }
    return is_id(*id) ? id : std::nullopt;
}

// Takes the ruling off the line's begin; nothing where it is neither.
std::optional<Outcome> take_ruling(std::string_view& line) {
    std::string_view behind = line;
    const auto quoted = take_quoted(behind);
    for (const auto& [words, outcome] :
         {std::pair<std::string_view, Outcome>{"excused", Outcome::excused}, {"not met", Outcome::not_met}}) {
        if (!quoted && line.substr(0, words.size()) != words) continue;
        if (quoted && *quoted != words) continue;
        const std::string_view rest = quoted ? behind : line.substr(words.size());
        if (!rest.empty() && separators.find(rest.front()) == std::string_view::npos) continue;
        line = rest;
        return outcome;
    }
    return std::nullopt;
}

}  // namespace

Result<Settled> Settled::read(std::string_view text, const std::string& name) {
    std::vector<std::string> ids;
    std::set<std::string> seen;
    std::vector<Settlement> settlements;
    std::size_t number = 0;
    const auto refuse = [&](std::string_view what) {
        return tl::unexpected(
            Error{"settled.line", fmt::format("{}:{}: {}; write the finding's id, `excused` "
                                              "or `not met`, and the reason, such as `{}`",
                                              name, number, what, settlement_example)});
    };
    constexpr std::string_view byte_order_mark = "\xEF\xBB\xBF";  // spreadsheets put it in front
    if (text.substr(0, byte_order_mark.size()) == byte_order_mark) text.remove_prefix(byte_order_mark.size());
    while (!text.empty()) {
        ++number;
        const std::size_t end = std::min(text.find('\n'), text.size());
        std::string_view line = trimmed(text.substr(0, end));
        const auto all = wholly_quoted(line);
        if (all) line = trimmed(*all);
        text.remove_prefix(std::min(text.size(), end + 1));
        if (line.empty() || line.front() == '#') continue;
        const auto id = take_id(line);
        if (!id) return refuse("this line does not begin with a finding's id");
        line = trimmed(line);
        const auto outcome = take_ruling(line);
        if (!outcome) return refuse("a finding is settled as `excused` or as `not met`");
        line = trimmed(line);
        const auto quoted = wholly_quoted(line);
        Settlement settlement{*outcome, std::string(trimmed(quoted ? *quoted : line))};
        if (settlement.reason.empty()) return refuse("the reason is missing");
        if (!seen.insert(*id).second) return refuse("this finding is settled twice");
        ids.push_back(*id);
        settlements.push_back(std::move(settlement));
    }
    return Settled(std::move(ids), std::move(settlements));
}

const Settlement* Settled::find(std::string_view id) const {
    const auto index = ids_.find(id);
    return index ? &settlements_[*index] : nullptr;
}

Outcome settled(Outcome recorded, const Settlement& settlement) {
    if (settlement.outcome == Outcome::excused) return counts_against(recorded) ? Outcome::excused : recorded;
    return counts_against(recorded) || recorded == Outcome::pending ? recorded : Outcome::not_met;
}

// ---- earlier

Earlier::Earlier(std::vector<EarlierFinding> findings)
    : findings_(std::move(findings)), ids_(ids_of(findings_)), episodes_(episodes_of(findings_)) {}

namespace {

// Nothing where the line is no finding with its key; within, nothing where it did not count against: only
// that is compared, and an earlier run may have written every outcome.
std::optional<std::optional<EarlierFinding>> earlier_finding(std::string_view line) {
    const auto json = nlohmann::json::parse(line, nullptr, false);
    if (!json.is_object()) return std::nullopt;
    try {
        EarlierFinding finding{
            json.at("id").get<std::string>(), json.value("episode", ""),
            json.value("clause", json.value("ladder", json.value("bundle", std::string()))),
            json.value("said", "")};
        if (!is_id(finding.id)) return std::nullopt;
        if (json.contains("step")) finding.item += fmt::format(" step {}", json.at("step").get<int>());
        const std::string outcome = json.value("outcome", "");
        const bool against =
            outcome == "late" || outcome == "missed" || outcome == "early" || outcome == "not_met";
        return against ? std::optional(std::move(finding)) : std::nullopt;
    } catch (const nlohmann::json::exception&) {
        return std::nullopt;
    }
}

}  // namespace

Result<Earlier> Earlier::read(const std::string& given) {
    std::error_code ignored;
    const std::string path = std::filesystem::is_directory(given, ignored)
                                 ? (std::filesystem::path(given) / "findings.ndjson").string()
                                 : given;
    constexpr std::size_t chunk_size = 1U << 20U;
    constexpr std::size_t longest_line = 16U << 20U;
    ChunkReader reader({path}, chunk_size, longest_line);
    std::vector<EarlierFinding> findings;
    std::set<std::string> seen;
    Chunk chunk;
    for (;;) {
        const auto more = reader.next(chunk);
        if (!more) return tl::unexpected(more.error());
        if (!*more) return Earlier(std::move(findings));
        std::string_view text = chunk.text();
        for (std::uint64_t line = chunk.first_line; !text.empty(); ++line) {
            const std::size_t end = std::min(text.find('\n'), text.size());
            auto finding = earlier_finding(text.substr(0, end));
            text.remove_prefix(std::min(text.size(), end + 1));
            if (!finding) {
                return tl::unexpected(
                    Error{"since.line",
                          fmt::format("{}:{}: this is no finding of an earlier run, or one without keys; "
                                      "give its findings.ndjson",
                                      path, line)});
            }
            if (*finding && seen.insert((*finding)->id).second) findings.push_back(std::move(**finding));
        }
    }
}

std::string Earlier::mark() const {
    std::vector<std::string> ids = ids_of(findings_);
    std::sort(ids.begin(), ids.end());
    return fmt::format("{:016x}", keyed_hash({}, fmt::format("{}", fmt::join(ids, "\n"))));
}

std::string Earlier::noted() const {
    return ids_.all_asked() + " " + episodes_.all_asked();
}

bool Earlier::note(std::string_view noted) const {
    const std::size_t space = std::min(noted.find(' '), noted.size());
    const std::string_view episodes = noted.substr(std::min(space + 1, noted.size()));
    return ids_.ask_all(noted.substr(0, space)) && episodes_.ask_all(episodes);
}

std::vector<EarlierFinding> Earlier::gone() const {
    std::vector<EarlierFinding> gone;
    for (const EarlierFinding& finding : findings_) {
        const bool again = ids_.asked(*ids_.index_of(finding.id));
        if (!again && episodes_.asked(*episodes_.index_of(finding.episode))) gone.push_back(finding);
    }
    std::sort(gone.begin(), gone.end(),
              [](const EarlierFinding& a, const EarlierFinding& b) { return a.id < b.id; });
    return gone;
}

}  // namespace linelaw::runtime
