#include "grammar/layout.hpp"

#include <algorithm>
#include <string_view>
#include <utility>

#include "grammar/columns.hpp"
#include "grammar/words.hpp"

namespace linelaw::grammar {

namespace {

using std::string;
using std::string_view;

std::size_t columns(string_view text) {
    return show_line(text).column.back();
}

string_view first_word(string_view text) {
    std::size_t end = 0;
    while (end < text.size() && is_word_byte(text[end])) ++end;
    return text.substr(0, end);
}

// Whether a line may be broken at the blank before `rest`: inside a string anywhere; else after a comma and
// before the words that join, but never so that a word comes to begin a line of its own.
bool may_break(char before, string_view rest, bool in_string) {
    if (in_string) return true;
    const string_view word = first_word(rest);
    const bool joins =
        word == "and" || word == "or" || word == "because" || word == "unless" || word == "grace";
    return joins || (before == ',' && !is_head_word(word));
}

// The body in pieces between which it may be broken; `strings` says which pieces begin inside a string.
struct Pieces {
    std::vector<string_view> pieces;
    std::vector<bool> in_string;
};

Pieces cut(string_view body) {
    Pieces result;
    std::size_t begin = 0;
    bool in_string = false, began_in_string = false;
    for (std::size_t at = 0; at < body.size(); ++at) {
        if (body[at] == '"' && (at == 0 || body[at - 1] != '\\')) in_string = !in_string;
        if (body[at] != ' ' || !may_break(at == 0 ? ' ' : body[at - 1], body.substr(at + 1), in_string))
            continue;
        result.pieces.push_back(body.substr(begin, at - begin));
        result.in_string.push_back(began_in_string);
        begin = at + 1;
        began_in_string = in_string;
    }
    result.pieces.push_back(body.substr(begin));
    result.in_string.push_back(began_in_string);
    return result;
}

// ---- comments
// ------------------------------------------------------------------------------------------------

bool is_trailing(string_view content, std::uint32_t begin) {
    while (begin > 0 && (content[begin - 1] == ' ' || content[begin - 1] == '\t')) --begin;
    return begin > 0 && content[begin - 1] != '\n';
}

std::uint32_t column_of(string_view content, std::uint32_t at) {
    const std::size_t newline = at == 0 ? string_view::npos : content.rfind('\n', at - 1);
    return at - (newline == string_view::npos ? 0 : static_cast<std::uint32_t>(newline + 1));
}

class CommentPlacer {
  public:
    CommentPlacer(string_view content, std::vector<PageBlock>& blocks) : content_(content) {
        for (PageBlock& block : blocks) {
            for (PageLine& line : block.lines) {
                if (line.place.end > line.place.begin)
                    lines_.push_back({&line, &line == &block.lines.front()});
            }
        }
        std::stable_sort(lines_.begin(), lines_.end(), [](const Slot& a, const Slot& b) {
            return a.line->place.begin < b.line->place.begin;
        });
    }

    // What belongs to no line: the comments at the end.
    std::vector<LeadingComment> place(const std::vector<Comment>& comments) {
        std::vector<LeadingComment> rest;
        for (const Comment& comment : comments) put(comment, rest);
        return rest;
    }

  private:
    struct Slot {
        PageLine* line;
        bool begins_block;
    };

    void put(const Comment& comment, std::vector<LeadingComment>& rest) {
        const std::uint32_t at = comment.place.begin;
        const auto next = std::partition_point(
            lines_.begin(), lines_.end(), [at](const Slot& slot) { return slot.line->place.begin < at; });
        PageLine* before = next == lines_.begin() ? nullptr : std::prev(next)->line;
        const string text = "#" + comment.text;
        if (before != nullptr && is_trailing(content_, at) && before->trailing.empty()) {
            before->trailing = text;
            return;
        }
        const LeadingComment leading{text, !adjoin(content_, end_before(at), at)};
        if (before != nullptr && before->place.end > at) return lead(*before, leading, at);
        const bool deeper =
            next == lines_.end() ||
            (next->begins_block && column_of(content_, at) > column_of(content_, next->line->place.begin));
        if (before != nullptr && deeper && column_of(content_, at) > 0) return before->after.push_back(text);
        if (next == lines_.end()) return rest.push_back(leading);
        lead(*next->line, leading, at);
    }

    void lead(PageLine& line, const LeadingComment& comment, std::uint32_t at) {
        line.before.push_back(comment);
        const std::size_t end = std::min(content_.find('\n', at), content_.size());
        const auto after = static_cast<std::uint32_t>(end);
        line.blank_after_comments = line.place.begin > after && !adjoin(content_, after, line.place.begin);
    }

    // Where whatever stands before `at` ends.
    std::uint32_t end_before(std::uint32_t at) const {
        while (at > 0 && is_space_byte(content_[at - 1])) --at;
        return at;
    }

    string_view content_;
    std::vector<Slot> lines_;
};

// ---- printing
// ------------------------------------------------------------------------------------------------

class Printer {
  public:
    string out;

    void blank() {
        if (!out.empty() && !(out.size() > 1 && out[out.size() - 1] == '\n' && out[out.size() - 2] == '\n'))
            out += '\n';
    }

    void block(const PageBlock& block) {
        const std::size_t column = comment_column(block);
        for (std::size_t i = 0; i < block.lines.size(); ++i) {
            const PageLine& line = block.lines[i];
            for (std::size_t c = 0; c < line.before.size(); ++c) {
                if (line.before[c].blank_before && (c > 0 || i > 0)) blank();
                out += string(line.indent, ' ') + line.before[c].text + '\n';
            }
            if (line.blank_after_comments) blank();
            print(line, column);
        }
    }

  private:
    void print(const PageLine& line, std::size_t column) {
        out += wrapped(line);
        if (!line.trailing.empty()) {
            const std::size_t newline = out.rfind('\n');
            const std::size_t width =
                columns(string_view(out).substr(newline == string::npos ? 0 : newline + 1));
            out += string(column > width + 2 ? column - width : 2, ' ') + line.trailing;
        }
        out += '\n';
        for (const string& comment : line.after)
            out += string(std::max<std::size_t>(line.indent, 2), ' ') + comment + '\n';
    }

    // Comments at the ends of a block's lines stand under one another, if that leaves room for them.
    static std::size_t comment_column(const PageBlock& block) {
        constexpr std::size_t farthest = 78;
        std::size_t column = 0;
        for (const PageLine& line : block.lines) {
            if (line.trailing.empty()) continue;
            const string text = wrapped(line);
            const std::size_t newline = text.rfind('\n');
            const std::size_t width =
                columns(string_view(text).substr(newline == string::npos ? 0 : newline + 1));
            if (width + 2 <= farthest) column = std::max(column, width + 2);
        }
        return column;
    }
};

std::uint32_t begin_of(const PageBlock& block) {
    return block.lines.front().place.begin;
}

std::uint32_t end_of(const PageBlock& block) {
    std::uint32_t end = 0;
    for (const PageLine& line : block.lines) end = std::max(end, line.place.end);
    return end;
}

}  // namespace

bool adjoin(string_view content, std::uint32_t end, std::uint32_t begin) {
    if (begin <= end) return true;
    const string_view between = content.substr(end, begin - end);
    // Two line ends with nothing but blanks between them.
    std::size_t newline = between.find('\n');
    while (newline != string_view::npos) {
        const std::size_t next = between.find('\n', newline + 1);
        if (next == string_view::npos) return true;
        if (between.substr(newline + 1, next - newline - 1).find_first_not_of(" \t\r") == string_view::npos)
            return false;
        newline = next;
    }
    return true;
}

string wrapped(const PageLine& line) {
    string text = string(line.indent, ' ') + line.head;
    std::size_t column = columns(text);
    const Pieces body = cut(line.body);
    std::size_t string_hang = 0;
    for (std::size_t i = 0; i < body.pieces.size(); ++i) {
        const string_view piece = body.pieces[i];
        const std::size_t width = columns(piece);
        if (i > 0) {
            const std::size_t hang = body.in_string[i] ? string_hang : line.hang;
            // A string that begins here stays in one piece where it can.
            std::size_t needed = width;
            for (std::size_t next = i + 1;
                 !body.in_string[i] && next < body.pieces.size() && body.in_string[next]; ++next) {
                needed += 1 + columns(body.pieces[next]);
            }
            if (column + 1 + needed > page_width) {
                text += '\n' + string(hang, ' ');
                column = hang;
            } else {
                text += ' ';
                ++column;
            }
        }
        // A string goes on under its first letter.
        const std::size_t quote = piece.find('"');
        if (quote != string_view::npos && !body.in_string[i])
            string_hang = column + columns(piece.substr(0, quote)) + 1;
        text += piece;
        column += width;
    }
    while (!text.empty() && text.back() == ' ') text.pop_back();
    return text;
}

string page(string_view content, std::vector<PageBlock> blocks, const std::vector<Comment>& comments) {
    const std::vector<LeadingComment> rest = CommentPlacer(content, blocks).place(comments);
    Printer printer;
    for (std::size_t i = 0; i < blocks.size(); ++i) {
        const PageBlock& block = blocks[i];
        const bool joined = i > 0 && block.may_join && blocks[i - 1].kind == block.kind &&
                            adjoin(content, end_of(blocks[i - 1]), begin_of(block));
        if (i > 0 && !joined) printer.blank();
        printer.block(block);
    }
    for (const LeadingComment& comment : rest) {
        if (comment.blank_before) printer.blank();
        printer.out += comment.text + '\n';
    }
    return std::move(printer.out);
}

}  // namespace linelaw::grammar
