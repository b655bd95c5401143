#include "compiler/analysis/questions.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <sstream>

#include "compiler/analysis/gaps.hpp"

namespace linelaw::compiler::analysis {

using runtime::ClauseId;
using Mark = QuestionRow::Mark;

namespace {

constexpr std::size_t region_limit = 2000;
constexpr std::size_t rows_shown = 60;      // of one question
constexpr std::size_t answers_shown = 120;  // clauses that answer it

struct Answered {
    Node where = always;
    std::vector<ClauseId> clauses;
};

std::optional<std::vector<Answered>> by_answer(Workspace& work, const Question& question,
                                               const Scope& scope) {
    std::vector<std::pair<ClauseId, Node>> answering;
    for (ClauseId c = 0; c < work.policy.clauses.size(); ++c)
        if (const Node yes = answers(work, c, question, scope.kind).yes;
            work.diagrams.both(yes, scope.covered) != never)
            answering.emplace_back(c, yes);
    if (answering.size() > answers_shown) return std::nullopt;
    std::vector<Answered> regions{{scope.covered, {}}};
    for (const auto& [c, yes] : answering) {
        std::vector<Answered> finer;
        for (const Answered& region : regions) {
            if (const Node with = work.diagrams.both(region.where, yes); with != never) {
                finer.push_back({with, region.clauses});
                finer.back().clauses.push_back(c);
            }
            if (const Node without = work.diagrams.without(region.where, yes); without != never)
                finer.push_back({without, region.clauses});
        }
        regions = std::move(finer);
        if (regions.size() > region_limit) return std::nullopt;
    }
    std::erase_if(regions, [](const Answered& r) { return r.where == never; });
    return regions;
}

bool in_conflict(const Workspace& work, const std::vector<ClauseId>& clauses) {
    return std::any_of(work.said().begin(), work.said().end(), [&](const auto& finding) {
        if (finding.first.rfind("conflict.", 0) != 0) return false;
        return std::all_of(finding.second.begin(), finding.second.end(), [&](const std::string& id) {
            return std::any_of(clauses.begin(), clauses.end(),
                               [&](ClauseId c) { return work.clause(c).id == id; });
        });
    });
}

void tabulate(Workspace& work, const Question& question) {
    QuestionTable table;
    table.id = question.id;
    table.title = question.title;
    struct Row {
        Box box;
        QuestionRow row;
    };
    std::vector<Row> rows;
    for (const Scope& scope : scopes_of(work, question)) {
        const auto regions = by_answer(work, question, scope);
        if (!regions) {
            table.cut = true;
            continue;
        }
        const Node aside = set_aside_where(work, question, scope.kind);
        for (const Answered& region : *regions) {
            std::vector<std::pair<Node, Mark>> parts{{region.where, Mark::answered}};
            if (region.clauses.empty())
                parts = {{work.diagrams.both(region.where, aside), Mark::set_aside},
                         {work.diagrams.without(region.where, aside), Mark::gap}};
            else if (in_conflict(work, region.clauses))
                parts[0].second = Mark::conflict;
            for (const auto& [where, mark] : parts) {
                if (where == never) continue;
                for (const Box& box :
                     work.situations.boxes_within(where, scope.covered, rows_shown, table.cut)) {
                    Row row;
                    row.box = box;
                    row.row.mark = mark;
                    std::vector<std::string> words;
                    for (const ClauseId c : region.clauses) {
                        row.row.clauses.push_back(work.clause(c).id);
                        const std::string said = work.demand_words(c);
                        if (std::find(words.begin(), words.end(), said) == words.end()) words.push_back(said);
                    }
                    row.row.answer = join(words, "; ", "; ");
                    rows.push_back(std::move(row));
                }
            }
        }
    }
    std::vector<std::uint32_t> columns;  // in the order of the variables
    for (const Row& row : rows)
        for (const Constraint& c : row.box)
            if (std::find(columns.begin(), columns.end(), c.variable) == columns.end())
                columns.push_back(c.variable);
    std::sort(columns.begin(), columns.end());
    for (const std::uint32_t v : columns) table.headings.push_back(work.situations.variables()[v].name);
    for (Row& row : rows) {
        for (const std::uint32_t v : columns) {
            const auto found = std::find_if(row.box.begin(), row.box.end(),
                                            [&](const Constraint& c) { return c.variable == v; });
            row.row.situation.push_back(
                found == row.box.end() ? "any"
                                       : words(work.situations.variables()[v], found->cells, work.policy));
        }
        table.rows.push_back(std::move(row.row));
    }
    work.result.questions.push_back(std::move(table));
}

std::string padded(const std::string& text, std::size_t width) {
    return text + std::string(text.size() < width ? width - text.size() : 0, ' ');
}

// A word that is longer than the line, cut where a name has a joint if it has one there.
std::vector<std::string> pieces(std::string word, std::size_t width) {
    std::vector<std::string> result;
    while (word.size() > width) {
        const std::size_t joint = word.find_last_of("._", width - 1);
        const std::size_t cut = joint == std::string::npos || joint == 0 ? width : joint + 1;
        result.push_back(word.substr(0, cut));
        word.erase(0, cut);
    }
    result.push_back(std::move(word));
    return result;
}

std::vector<std::string> wrapped(const std::string& text, std::size_t width) {
    std::vector<std::string> lines{""};
    std::istringstream in(text);
    std::string word;
    while (in >> word)
        for (const std::string& piece : pieces(word, width)) {
            const bool fits = lines.back().empty() || lines.back().size() + 1 + piece.size() <= width;
            if (!fits) lines.emplace_back();
            lines.back() += (lines.back().empty() ? "" : " ") + piece;
        }
    return lines;
}

std::size_t longest_word(const std::string& text) {
    std::size_t longest = 0;
    std::istringstream in(text);
    for (std::string word; in >> word;) longest = std::max(longest, word.size());
    return longest;
}

// The room of each column but the last: what its cells ask for; the widest are narrowed until the answer has
// room too, down to their longest word at first, and below that only where nothing else helps.
std::vector<std::size_t> column_widths(const std::vector<std::vector<std::string>>& lines,
                                       std::size_t width) {
    constexpr std::size_t narrowest = 8;
    constexpr std::size_t for_the_answer = 24;
    std::vector<std::size_t> widths(lines[0].size() - 1, 0);
    std::vector<std::size_t> words(widths.size(), 0);
    for (const auto& line : lines)
        for (std::size_t c = 0; c < widths.size(); ++c) {
            widths[c] = std::max(widths[c], line[c].size());
            words[c] = std::max(words[c], longest_word(line[c]));
        }
    const auto too_wide = [&] {
        std::size_t sum = 2;
        for (const std::size_t w : widths) sum += w + (w > 0 ? 2 : 0);
        return sum + for_the_answer > width;
    };
    for (const bool within_words : {false, true})
        for (bool narrower = true; narrower && too_wide();) {
            std::size_t widest = 0;  // the marks stay whole
            for (std::size_t c = 1; c < widths.size(); ++c)
                if (widths[c] > (within_words ? narrowest : words[c]) &&
                    (widest == 0 || widths[c] > widths[widest]))
                    widest = c;
            narrower = widest != 0;
            if (narrower) --widths[widest];
        }
    return widths;
}

std::string mark_words(Mark mark) {
    switch (mark) {
        case Mark::gap:
            return "GAP";
        case Mark::conflict:
            return "CONFLICT";
        case Mark::set_aside:
            return "set aside";
        case Mark::answered:
            return "";
    }
    return "";
}

}  // namespace

void tabulate_questions(Workspace& work) {
    for (const Question& question : work.compiled.questions) tabulate(work, question);
}

std::string render_question_table(const QuestionTable& table, std::size_t width) {
    std::vector<std::vector<std::string>> lines{table.headings};
    lines[0].insert(lines[0].begin(), "");
    lines[0].emplace_back("answer");
    for (const QuestionRow& row : table.rows) {
        std::vector<std::string> line{mark_words(row.mark)};
        line.insert(line.end(), row.situation.begin(), row.situation.end());
        line.push_back(row.answer.empty() ? "none" : row.answer);
        lines.push_back(std::move(line));
    }
    const std::vector<std::size_t> widths = column_widths(lines, width);
    std::size_t before_answer = 2;
    for (const std::size_t w : widths) before_answer += w + (w > 0 ? 2 : 0);
    const std::size_t room = width > before_answer + 20 ? width - before_answer : 20;
    std::string text = table.id + ": " + table.title + "\n";
    for (const auto& line : lines) {
        std::vector<std::vector<std::string>> cells;
        std::size_t height = 1;
        for (std::size_t c = 0; c < line.size(); ++c) {
            cells.push_back(wrapped(line[c], c < widths.size() ? std::max<std::size_t>(widths[c], 1) : room));
            height = std::max(height, cells.back().size());
        }
        for (std::size_t i = 0; i < height; ++i) {
            const auto cell = [&](std::size_t c) { return i < cells[c].size() ? cells[c][i] : ""; };
            std::string out = "  ";
            for (std::size_t c = 0; c < widths.size(); ++c)
                out += padded(cell(c), widths[c]) + (widths[c] > 0 ? "  " : "");
            out += cell(widths.size());
            out.erase(out.find_last_not_of(' ') + 1);
            text += out + "\n";
        }
    }
    if (table.cut) text += "  and more\n";
    return text;
}

}  // namespace linelaw::compiler::analysis
