// The one place where the rules are instantiated. Reads a text into flat constructs and faults; build.cpp
// makes the tree of them and faults.cpp the messages.
#include "grammar/parse.hpp"

#include <algorithm>
#include <utility>

#include "grammar/build.hpp"
#include "grammar/columns.hpp"
#include "grammar/faults.hpp"
#include "grammar/rules.hpp"

namespace linelaw::grammar {

namespace {

// Byte offsets only: lines and columns are made where a diagnostic is shown.
using Input = pegtl::memory_input<pegtl::tracking_mode::lazy, pegtl::eol::lf_crlf, const char*>;

constexpr std::string_view byte_order_mark = "\xEF\xBB\xBF";

Scan scan(std::string_view content, std::uint32_t text) {
    Scan result;
    ScanState state(content, text, result);
    Input input(content.data(), content.data() + content.size(), "");
    if (content.substr(0, byte_order_mark.size()) == byte_order_mark) input.bump(byte_order_mark.size());
    const bool read = pegtl::parse<rules::text, pegtl::nothing, keep>(input, state);
    if (!read) throw std::logic_error("the rule of a whole text reads any text");
    return result;
}

// Each line's first byte that is no UTF-8, so that a file in another encoding is not answered by a thousand
// complaints.
void check_encoding(std::string_view content, std::uint32_t text, std::vector<Diagnostic>& diagnostics) {
    for (std::size_t at = 0; at < content.size();) {
        const std::size_t length = utf8_length(content, at);
        if (length != 0) {
            at += length;
            continue;
        }
        const auto place = static_cast<std::uint32_t>(at);
        diagnostics.push_back(make_diagnostic("syntax.encoding",
                                              "this is not UTF-8, the encoding of a policy's text",
                                              {text, place, place + 1}, "save the file as UTF-8"));
        at = std::min(content.find('\n', at), content.size());
    }
}

}  // namespace

Parsed parse(const Sources& sources, std::uint32_t text) {
    Parsed parsed;
    if (sources.text(text).json) {
        parsed.diagnostics.push_back(
            make_diagnostic("syntax.header",
                            "this is JSON, as records and compiled policies are, and no text of a policy; "
                            "nothing of it is shown",
                            {text, 0, 0}, "give the file of the policy's text here, and records after it"));
        return parsed;
    }
    const std::string_view content = sources.text(text).content;
    const Scan read = scan(content, text);
    check_encoding(content, text, parsed.diagnostics);
    for (const Fault& fault : read.faults) parsed.diagnostics.push_back(explain(sources, text, fault));
    parsed.tree = build(content, text, read, parsed.diagnostics);
    std::stable_sort(parsed.diagnostics.begin(), parsed.diagnostics.end(),
                     [](const Diagnostic& a, const Diagnostic& b) {
                         return a.labels.front().place.begin < b.labels.front().place.begin;
                     });
    return parsed;
}

}  // namespace linelaw::grammar
