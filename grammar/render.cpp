// Diagnostics as people read them. Read aloud, each must make sense to a nurse who never programmed.
#include "grammar/render.hpp"

#include <algorithm>
#include <string_view>
#include <utility>

#include "grammar/columns.hpp"

namespace linelaw::grammar {

namespace {

using std::string;
using std::string_view;

enum class Paint { heading, error, warning, note, place, mark, help };

string_view paint_code(Paint paint) {
    switch (paint) {
        case Paint::heading:
            return "\x1b[1m";
        case Paint::error:
            return "\x1b[1;31m";
        case Paint::warning:
            return "\x1b[1;33m";
        case Paint::note:
            return "\x1b[1;36m";
        case Paint::place:
            return "\x1b[34m";
        case Paint::mark:
            return "\x1b[36m";
        case Paint::help:
            return "\x1b[32m";
    }
    return "";
}

// The family of the code says more than its severity: a conflict is called one.
string_view severity_word(const Diagnostic& diagnostic) {
    if (!diagnostic.accepted.empty()) return "accepted";
    switch (diagnostic.severity) {
        case Severity::error:
            return "error";
        case Severity::warning:
            return "warning";
        case Severity::note:
            return "note";
        case Severity::against:
            break;
    }
    const string_view family = string_view(diagnostic.code).substr(0, diagnostic.code.find('.'));
    return family == "conflict" || family == "gap" ? family : "finding";
}

Paint severity_paint(Severity severity) {
    switch (severity) {
        case Severity::warning:
            return Paint::warning;
        case Severity::note:
            return Paint::note;
        default:
            return Paint::error;
    }
}

class Renderer {
  public:
    Renderer(const Sources& sources, const RenderOptions& options) : sources_(sources), options_(options) {}

    string render(const Diagnostic& diagnostic) {
        severity_ = diagnostic.severity;
        heading(diagnostic);
        if (!diagnostic.accepted.empty()) {
            // Those who accepted it know it: why it may stand is enough.
            paragraph("because: ", Paint::note, diagnostic.accepted);
            return std::move(out_);
        }
        excerpts(diagnostic.labels);
        for (const string& note : diagnostic.notes) paragraph("note: ", Paint::note, note);
        if (diagnostic.witness) witness(*diagnostic.witness);
        mends(diagnostic);
        return std::move(out_);
    }

  private:
    // One label, as it lies on the lines of its text.
    struct Marked {
        const Label* label;
        bool is_first;
        LineColumn begin;
        LineColumn end;
    };

    string painted(Paint paint, string_view text) const {
        if (!options_.color || text.empty()) return string(text);
        return string(paint_code(paint)) + string(text) + "\x1b[0m";
    }

    void heading(const Diagnostic& diagnostic) {
        const string word = string(severity_word(diagnostic)) + ": ";
        const string text = printable(diagnostic.message) + " (" + diagnostic.code + ")";
        out_ += painted(severity_paint(severity_), word) +
                painted(Paint::heading, wrap(text, options_.width, word.size(), 2)) + '\n';
    }

    void paragraph(string_view head, Paint paint, const string& text) {
        out_ += "  " + painted(paint, head) +
                wrap(printable(text), options_.width, 2 + head.size(), 2 + head.size()) + '\n';
    }

    // ---- excerpts

    void at(std::uint32_t text, const LineColumn& at) {
        out_ += "  " +
                painted(Paint::place, "at " + printable(sources_.text(text).name) + ':' +
                                          std::to_string(at.line) + ':' + std::to_string(at.column)) +
                '\n';
    }

    void excerpts(const std::vector<Label>& labels) {
        std::vector<std::uint32_t> texts;
        for (const Label& label : labels) {
            if (std::find(texts.begin(), texts.end(), label.place.text) == texts.end()) {
                texts.push_back(label.place.text);
            }
        }
        for (const std::uint32_t text : texts) {
            std::vector<Marked> marked;
            for (const Label& label : labels) {
                if (label.place.text != text) continue;
                const std::uint32_t last = std::max(label.place.begin, label.place.end);
                marked.push_back({&label, &label == &labels.front(), sources_.locate(text, label.place.begin),
                                  sources_.locate(text, last)});
            }
            excerpt(text, std::move(marked));
        }
    }

    void excerpt(std::uint32_t text, std::vector<Marked> marked) {
        at(text, marked.front().begin);
        std::stable_sort(marked.begin(), marked.end(), [](const Marked& a, const Marked& b) {
            return std::pair(a.begin.line, a.begin.column) < std::pair(b.begin.line, b.begin.column);
        });
        gutter_ = std::max<std::size_t>(4, std::to_string(marked.back().begin.line).size());
        std::uint32_t shown = 0;
        for (std::size_t i = 0; i < marked.size();) {
            const std::uint32_t line = marked[i].begin.line;
            if (shown != 0 && line > shown + 1) gap(text, shown, line);
            left_out_ = left_out(text, marked[i]);
            source_line(text, line);
            for (; i < marked.size() && marked[i].begin.line == line; ++i) underline(text, marked[i]);
            shown = line;
        }
    }

    // Of a very long line only what stands around its first mark is shown: so many columns before it are not.
    std::size_t left_out(std::uint32_t text, const Marked& marked) const {
        const ShownLine shown = show_line(sources_.line(text, marked.begin.line));
        const std::size_t at = shown.column[std::min<std::size_t>(
            marked.label->place.begin - line_start(text, marked), shown.column.size() - 1)];
        return shown.column.back() <= longest_line || at <= longest_line / 2 ? 0 : at - longest_line / 2;
    }

    // `shown` without the columns that are left out, and no longer than is readable.
    string cut(const ShownLine& shown) const {
        if (shown.column.back() <= longest_line) return shown.text;
        const std::vector<std::size_t> column = show_line(shown.text).column;
        const auto byte_at = [&](std::size_t wanted) {
            return static_cast<std::size_t>(std::lower_bound(column.begin(), column.end(), wanted) -
                                            column.begin());
        };
        const std::size_t end = left_out_ + longest_line;
        string part = shown.text.substr(byte_at(left_out_), byte_at(end) - byte_at(left_out_));
        if (left_out_ > 0) part = "…" + part;
        return end < column.back() ? part + "…" : part;
    }

    // One line between is shown, several are a row of dots.
    void gap(std::uint32_t text, std::uint32_t shown, std::uint32_t line) {
        left_out_ = 0;
        if (line == shown + 2) {
            source_line(text, shown + 1);
        } else {
            out_ += string(2 + gutter_, ' ') + painted(Paint::place, " :") + '\n';
        }
    }

    void bar(const string& number) {
        out_ += "  " + painted(Paint::place, string(gutter_ - number.size(), ' ') + number + " |");
    }

    void source_line(std::uint32_t text, std::uint32_t line) {
        bar(std::to_string(line));
        const string shown = cut(show_line(sources_.line(text, line)));
        out_ += (shown.empty() ? "" : " " + shown) + '\n';
    }

    void underline(std::uint32_t text, const Marked& marked) {
        const string_view line = sources_.line(text, marked.begin.line);
        const ShownLine shown = show_line(line);
        const std::uint32_t start = line_start(text, marked);
        const std::size_t from = std::min<std::size_t>(marked.label->place.begin - start, line.size());
        const std::size_t to = std::min<std::size_t>(
            std::max(marked.label->place.end, marked.label->place.begin) - start, line.size());
        const std::size_t before = left_out_ > 0 ? left_out_ - 1 : 0;  // a `…` stands for them
        const std::size_t last = left_out_ + longest_line;
        const std::size_t column = std::clamp(shown.column[from], left_out_, last);
        const std::size_t width = std::max<std::size_t>(1, std::min(shown.column[to], last) - column);
        string words = printable(marked.label->text);
        if (marked.end.line > marked.begin.line) {
            words += (words.empty() ? "to line " : " (to line ") + std::to_string(marked.end.line) +
                     (words.empty() ? "" : ")");
        }
        bar("");
        const Paint paint = marked.is_first ? severity_paint(severity_) : Paint::mark;
        out_ +=
            ' ' + string(column - before, ' ') + painted(paint, string(width, marked.is_first ? '^' : '-'));
        if (!words.empty()) out_ += ' ' + painted(paint, words);
        out_ += '\n';
    }

    std::uint32_t line_start(std::uint32_t text, const Marked& marked) const {
        const string_view content = sources_.text(text).content;
        const std::uint32_t at =
            std::min<std::uint32_t>(marked.label->place.begin, static_cast<std::uint32_t>(content.size()));
        const std::size_t newline = at == 0 ? string_view::npos : content.rfind('\n', at - 1);
        return newline == string_view::npos ? 0 : static_cast<std::uint32_t>(newline + 1);
    }

    // ---- witness and mends

    void block(const string& text) {
        string_view rest = text;
        while (!rest.empty()) {
            const std::size_t end = std::min(rest.find('\n'), rest.size());
            const string line = show_line(rest.substr(0, end)).text;
            out_ += (line.empty() ? "" : "      " + line) + '\n';
            rest.remove_prefix(std::min(end + 1, rest.size()));
        }
    }

    void witness(const Witness& witness) {
        if (!witness.situation.empty()) {
            out_ += "  " + painted(Paint::heading, "this happens when") + '\n';
            constexpr std::size_t widest = 40;  // a longer name is a sentence, and keeps no column
            std::size_t longest = 0;
            for (const auto& [name, value] : witness.situation)
                if (name.size() <= widest) longest = std::max(longest, name.size());
            for (const auto& [name, value] : witness.situation) {
                if (name.size() > widest) {
                    out_ += "      " + wrap(printable(name) + ": " + printable(value), options_.width, 6, 8) +
                            '\n';
                    continue;
                }
                const string head = printable(name) + string(longest - name.size(), ' ') + "  ";
                out_ += "      " + head +
                        wrap(printable(value), options_.width, 6 + head.size(), 6 + head.size()) + '\n';
            }
        }
        if (!witness.example.empty()) {
            out_ += "  " + painted(Paint::heading, "for example (this can be pasted into the policy)") + '\n';
            block(witness.example);
        }
        if (!witness.outcomes.empty()) {
            string list;
            for (const string& outcome : witness.outcomes) list += (list.empty() ? "" : ", ") + outcome;
            paragraph("there the policy judges: ", Paint::heading, list);
        }
    }

    void mends(const Diagnostic& diagnostic) {
        bool said_whose = false;
        for (const Mend& mend : ways_out(diagnostic)) {
            if (mend.safe) {
                paragraph("help: ", Paint::help, mend.text + " (safe to apply)");
            } else if (diagnostic.severity == Severity::error) {
                paragraph("help: ", Paint::help, mend.text);
            } else {
                if (!said_whose) {
                    out_ += "  " + painted(Paint::help, "ways out, for the committee to decide") + '\n';
                    said_whose = true;
                }
                out_ += "    - " + wrap(printable(mend.text), options_.width, 6, 6) + '\n';
            }
        }
    }

    const Sources& sources_;
    const RenderOptions& options_;
    Severity severity_ = Severity::error;
    static constexpr std::size_t longest_line = 200;  // columns; longer ones are cut
    std::size_t left_out_ = 0;
    std::size_t gutter_ = 4;
    string out_;
};

}  // namespace

string render_text(const Sources& sources, const Diagnostic& diagnostic, const RenderOptions& options) {
    return Renderer(sources, options).render(diagnostic);
}

string render_text(const Sources& sources, const std::vector<Diagnostic>& diagnostics,
                   const RenderOptions& options) {
    string out;
    bool short_before = false;  // what is accepted stands close together
    for (const Diagnostic& diagnostic : diagnostics) {
        const bool is_short = !diagnostic.accepted.empty();
        if (!out.empty() && !(is_short && short_before)) out += '\n';
        out += render_text(sources, diagnostic, options);
        short_before = is_short;
    }
    return out;
}

}  // namespace linelaw::grammar
