#include "compiler/report.hpp"

#include <algorithm>

namespace linelaw::compiler {

namespace {

// Edit distance where two neighbours swapped count once.
std::size_t distance(std::string_view a, std::string_view b) {
    std::vector<std::vector<std::size_t>> d(a.size() + 1, std::vector<std::size_t>(b.size() + 1));
    for (std::size_t i = 0; i <= a.size(); ++i) d[i][0] = i;
    for (std::size_t j = 0; j <= b.size(); ++j) d[0][j] = j;
    for (std::size_t i = 1; i <= a.size(); ++i)
        for (std::size_t j = 1; j <= b.size(); ++j) {
            const std::size_t change = a[i - 1] == b[j - 1] ? 0 : 1;
            d[i][j] = std::min({d[i - 1][j] + 1, d[i][j - 1] + 1, d[i - 1][j - 1] + change});
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
                d[i][j] = std::min(d[i][j], d[i - 2][j - 2] + 1);
        }
    return d[a.size()][b.size()];
}

// `insertion.tip` → insertion, tip.
std::vector<std::string_view> words_of(std::string_view name) {
    std::vector<std::string_view> words;
    for (;;) {
        const std::size_t end = name.find_first_of("._");
        words.push_back(name.substr(0, end));
        if (end == std::string_view::npos) return words;
        name.remove_prefix(end + 1);
    }
}

// Whether no word of the one is another word than that of the other: `steps` is not `tip` misspelt.
bool same_words(std::string_view a, std::string_view b) {
    const auto left = words_of(a);
    const auto right = words_of(b);
    if (left.size() != right.size()) return true;  // a joint too many or too few: the whole is compared
    for (std::size_t i = 0; i < left.size(); ++i)
        if (distance(left[i], right[i]) > std::max<std::size_t>(1, (left[i].size() + 1) / 3)) return false;
    return true;
}

}  // namespace

grammar::Diagnostic& Report::add(std::string_view code, std::string message, grammar::Place place,
                                 std::string label) {
    auto made = grammar::make_diagnostic(code, std::move(message), place, std::move(label));
    const bool fresh = said_.emplace(made.code, place.text, place.begin).second;
    if (!fresh) {
        repeated_ = std::move(made);
        return repeated_;
    }
    diagnostics_.push_back(std::move(made));
    return diagnostics_.back();
}

void Report::add(std::vector<grammar::Diagnostic> diagnostics) {
    for (auto& diagnostic : diagnostics) diagnostics_.push_back(std::move(diagnostic));
}

void Report::forget(std::size_t since, const std::set<std::string>& codes) {
    const auto from = diagnostics_.begin() + static_cast<std::ptrdiff_t>(since);
    diagnostics_.erase(
        std::remove_if(from, diagnostics_.end(), [&](const auto& d) { return codes.count(d.code) != 0; }),
        diagnostics_.end());
}

bool Report::has_errors() const {
    return std::any_of(diagnostics_.begin(), diagnostics_.end(),
                       [](const auto& d) { return d.severity == grammar::Severity::error; });
}

std::vector<grammar::Diagnostic> Report::take() {
    std::vector<grammar::Diagnostic> all(std::make_move_iterator(diagnostics_.begin()),
                                         std::make_move_iterator(diagnostics_.end()));
    diagnostics_.clear();
    said_.clear();
    const auto place = [](const grammar::Diagnostic& d) {
        return d.labels.empty() ? std::pair<std::uint32_t, std::uint32_t>{0, 0}
                                : std::pair{d.labels.front().place.text, d.labels.front().place.begin};
    };
    std::stable_sort(all.begin(), all.end(),
                     [&](const auto& a, const auto& b) { return place(a) < place(b); });
    return all;
}

std::string Report::quote(grammar::Place place) const {
    std::string folded;
    for (const char c : sources_.slice(place)) {
        const bool space = c == ' ' || c == '\n' || c == '\t' || c == '\r';
        if (!space)
            folded += c;
        else if (!folded.empty() && folded.back() != ' ')
            folded += ' ';
    }
    while (!folded.empty() && folded.back() == ' ') folded.pop_back();
    return in_ticks(folded);
}

std::string in_ticks(std::string_view words) {
    std::string quoted = "`";
    quoted += words;
    quoted += '`';
    return quoted;
}

std::string in_ticks(const std::vector<std::string>& words, std::string_view joint) {
    std::string all;
    for (std::size_t i = 0; i < words.size(); ++i) {
        if (i > 0) all += i + 1 == words.size() ? ' ' + std::string(joint) + ' ' : ", ";
        all += in_ticks(words[i]);
    }
    return all;
}

Near near(std::string_view word, const std::vector<std::string>& candidates) {
    const std::size_t tolerated = std::min<std::size_t>(3, std::max<std::size_t>(1, word.size() / 3));
    Near best{std::nullopt, false};
    std::size_t least = tolerated + 1;
    for (const auto& candidate : candidates) {
        if (candidate.size() + tolerated < word.size() || word.size() + tolerated < candidate.size())
            continue;
        const std::size_t d = distance(word, candidate);
        if (d < least && same_words(word, candidate)) {
            least = d;
            best.word = candidate;
        }
    }
    best.certain = least == 1 && std::none_of(candidates.begin(), candidates.end(), [&](const auto& other) {
                       return other != best.word && distance(word, other) <= tolerated;
                   });
    return best;
}

void offer_near(grammar::Diagnostic& diagnostic, std::string_view word, grammar::Place place,
                const std::vector<std::string>& candidates, Offered what) {
    const Near meant = near(word, candidates);
    if (!meant.word) return;
    const bool safe = what == Offered::name && meant.certain;
    diagnostic.mends.push_back({"write " + in_ticks(*meant.word), place, *meant.word, safe});
}

std::vector<std::string> sharing_a_word(std::string_view word, const std::vector<std::string>& candidates) {
    const auto words = words_of(word);
    std::vector<std::string> found;
    for (const auto& candidate : candidates)
        for (const auto part : words_of(candidate)) {
            if (std::find(words.begin(), words.end(), part) == words.end()) continue;
            found.push_back(candidate);
            break;
        }
    return found;
}

void advise(grammar::Diagnostic& diagnostic, std::string text) {
    diagnostic.mends.push_back({std::move(text), std::nullopt, "", false});
}

}  // namespace linelaw::compiler
