// The document as one HTML page: cmark-gfm makes HTML of each section's Markdown; here it gets its frame, the
// anchors of its headings, and a style for screen and paper. Nothing in it refers to the network.
#include <cmark-gfm-core-extensions.h>
#include <cmark-gfm.h>
#include <fmt/format.h>

#include <array>
#include <cctype>
#include <cstdlib>
#include <map>
#include <memory>

#include "compiler/document/document.hpp"
#include "compiler/document/markdown.hpp"
#include "runtime/report_html.hpp"

namespace linelaw::compiler::document {

namespace {

// Paper first: A4 and Letter differ by 6 mm in width, so nothing has a fixed width, and the margins fit both.
constexpr std::string_view style = R"css(
@page { margin: 16mm 15mm; }
@page bedside { margin: 6mm 8mm; }
:root { --ink: #1c2430; --soft: #4a5566; --line: #c3ccd8; --tint: #f1f4f8; }
* { box-sizing: border-box; }
body { color: var(--ink); background: #fff; font: 16px/1.5 system-ui, "DejaVu Sans", Arial, sans-serif; margin: 0 auto; max-width: 60rem; padding: 1.5rem; }
h1 { font-size: 1.8rem; line-height: 1.2; margin: 0 0 1rem; }
h2 { border-bottom: 2px solid var(--ink); font-size: 1.35rem; margin: 2.5rem 0 1rem; padding-bottom: .2rem; }
h3 { font-size: 1.1rem; margin: 1.8rem 0 .6rem; }
h4 { font-size: 1rem; margin: 1.4rem 0 .3rem; }
h2, h3, h4 { break-after: avoid; }
p, ul, ol { margin: .4rem 0 .8rem; }
li { margin: .15rem 0; }
a { color: #0b4f8a; }
code { font: .9em ui-monospace, "DejaVu Sans Mono", monospace; overflow-wrap: anywhere; }
blockquote { background: var(--tint); border-left: 4px solid #0b4f8a; break-inside: avoid; margin: .4rem 0 .8rem; padding: .5rem .9rem; }
blockquote p { margin: 0; }
table { border-collapse: collapse; font-size: .9rem; margin: .4rem 0 1rem; width: 100%; }
th, td { border: 1px solid var(--line); padding: .3rem .5rem; text-align: left; vertical-align: top; overflow-wrap: break-word; }
th { background: var(--tint); font-weight: 600; }
thead { display: table-header-group; }
tr { break-inside: avoid; }
.head thead, .head th:empty { display: none; }
.head td:first-child { font-weight: 600; white-space: nowrap; width: 1%; }
.cautions, .checked { border: 1px solid var(--line); border-radius: 4px; margin-top: 1.5rem; padding: 0 1rem .4rem; }
.cautions h2, .checked h2 { border: 0; margin-top: .8rem; }
.clauses h4 { border-top: 1px solid var(--line); padding-top: .8rem; }
.questions td:last-child code, .changes td:first-child code, .departures td code, .checklist code, .other-events code, .trace code, .sources td:first-child code, .bundles td:first-child code { white-space: nowrap; }
.sign-off td { height: 3rem; }
.sign-off td:first-child { width: 28%; }
@media screen and (max-width: 48rem) {
  body { padding: 1rem; }
  table { display: block; overflow-x: auto; }
}
@media print {
  html { font-size: 9pt; }
  body { font-size: 9pt; line-height: 1.38; max-width: none; padding: 0; }
  a { color: inherit; text-decoration: none; }
  h2 { margin-top: 1.6rem; }
  .clauses > p, .clauses > blockquote { break-after: avoid; }
  .contents, .cautions, .checked { break-inside: avoid-page; }
  .checklist, .other-events, .sign-off { break-before: page; }
  :is(.checklist, .other-events) { font-size: 7.2pt; line-height: 1.14; page: bedside; }
  :is(.checklist, .other-events) h2 { font-size: 12pt; margin: 0 0 .2rem; }
  :is(.checklist, .other-events) h3 { font-size: 9pt; margin: .25rem 0 .05rem; }
  :is(.checklist, .other-events) p { margin: .2rem 0; }
  :is(.checklist, .other-events) table { font-size: 6.9pt; margin: .1rem 0 .1rem; }
  :is(.checklist, .other-events) :is(th, td) { padding: .04rem .25rem; }
  :is(.checklist, .other-events) code { font-size: 6pt; }
  .checklist td:nth-child(2):nth-last-child(3) { width: 25%; }
  .checklist td:nth-child(3):nth-last-child(2) { width: 33%; }
}
)css";

std::string rendered(const std::string& markdown) {
    cmark_gfm_core_extensions_ensure_registered();
    const std::unique_ptr<cmark_parser, void (*)(cmark_parser*)> parser(
        cmark_parser_new(CMARK_OPT_VALIDATE_UTF8), cmark_parser_free);
    cmark_parser_attach_syntax_extension(parser.get(), cmark_find_syntax_extension("table"));
    cmark_parser_feed(parser.get(), markdown.data(), markdown.size());
    const std::unique_ptr<cmark_node, void (*)(cmark_node*)> root(cmark_parser_finish(parser.get()),
                                                                  cmark_node_free);
    const std::unique_ptr<char, void (*)(void*)> html(
        cmark_render_html(root.get(), CMARK_OPT_DEFAULT, cmark_parser_get_syntax_extensions(parser.get())),
        std::free);
    return html.get();
}

// The text of a heading: its HTML without tags, and with the four named characters back.
std::string text_of(std::string_view html) {
    static constexpr std::array<std::pair<std::string_view, char>, 4> named = {
        {{"&amp;", '&'}, {"&lt;", '<'}, {"&gt;", '>'}, {"&quot;", '"'}}};
    std::string out;
    for (std::size_t i = 0; i < html.size(); ++i) {
        if (html[i] == '<') {
            i = std::min(html.find('>', i), html.size() - 1);
            continue;
        }
        out += html[i];
        for (const auto& [name, character] : named)
            if (html.substr(i, name.size()) == name) {
                out.back() = character;
                i += name.size() - 1;
                break;
            }
    }
    return out;
}

// Gives every heading the anchor that links speak of; where two would be the same, the later is numbered.
std::string with_anchors(const std::string& html, std::map<std::string, int>& used) {
    std::string out;
    std::size_t at = 0;
    for (std::size_t open = html.find("<h"); open != std::string::npos; open = html.find("<h", open + 2)) {
        const char level = open + 2 < html.size() ? html[open + 2] : ' ';
        if (level < '1' || level > '6' || html[open + 3] != '>') continue;
        const auto close = html.find(std::string("</h") + level + '>', open);
        std::string anchor = anchor_of(text_of(std::string_view(html).substr(open + 4, close - open - 4)));
        if (const int again = used[anchor]++; again > 0) anchor += '-' + std::to_string(again);
        out += html.substr(at, open + 3 - at) + " id=\"" + runtime::html::escaped(anchor) + '"';
        at = open + 3;
    }
    return out + html.substr(at);
}

}  // namespace

std::string as_html(const Document& document) {
    std::string out = fmt::format(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\" />\n<meta name=\"viewport\" "
        "content=\"width=device-width, initial-scale=1\" "
        "/>\n<title>{}</title>\n<style>{}</style>\n</head>\n<body>\n"
        "<main>\n",
        runtime::html::escaped(document.title), style);
    std::map<std::string, int> used;
    for (const auto& section : document.sections)
        out += fmt::format("<section class=\"{}\">\n{}</section>\n",
                           section.id.empty() ? "head" : runtime::html::escaped(section.id),
                           with_anchors(rendered(section.markdown), used));
    return out + "</main>\n</body>\n</html>\n";
}

}  // namespace linelaw::compiler::document
