#include "grammar/faults.hpp"

#include <array>
#include <string>
#include <utility>

namespace linelaw::grammar {

namespace {

std::string_view code_of(FaultCode code) {
    switch (code) {
        case FaultCode::item:
            return "syntax.item";
        case FaultCode::line:
            return "syntax.line";
        case FaultCode::leftover:
            return "syntax.leftover";
        case FaultCode::name:
            return "syntax.name";
        case FaultCode::string:
            return "syntax.string";
        case FaultCode::quantity:
            return "syntax.quantity";
        case FaultCode::date:
            return "syntax.date";
        case FaultCode::type:
            return "syntax.type";
        case FaultCode::condition:
            return "syntax.condition";
        case FaultCode::events:
            return "syntax.events";
        case FaultCode::demand:
            return "syntax.demand";
        case FaultCode::nesting:
            return "syntax.nesting";
        case FaultCode::expected:
            return "syntax.expected";
        case FaultCode::spelling:
            return "syntax.spelling";
    }
    return "syntax.expected";
}

// The word, sign or string that stands at `at`, as far as it helps to see it.
std::uint32_t end_of_what_stands(std::string_view text, std::uint32_t at) {
    if (at >= text.size()) return at;
    std::size_t end = at;
    while (end < text.size() && (is_word_byte(text[end]) || text[end] == '.' || text[end] == '-')) ++end;
    while (end > at + 1 && (text[end - 1] == '.' || text[end - 1] == '-')) --end;
    if (end == at) {
        ++end;
        while (end < text.size() && (static_cast<unsigned char>(text[end]) & 0xC0U) == 0x80U) ++end;
    }
    return static_cast<std::uint32_t>(end);
}

}  // namespace

Diagnostic explain(const Sources& sources, std::uint32_t text, const Fault& fault) {
    const std::string_view content = sources.text(text).content;
    const Place place{text, fault.at, end_of_what_stands(content, fault.at)};
    const std::string stands(sources.slice(place));
    const std::string_view code = code_of(fault.code);
    if (fault.code == FaultCode::spelling) {
        Diagnostic diagnostic = make_diagnostic(code, "`" + stands + "` is no word of the language", place);
        diagnostic.mends.push_back(
            {"write `" + std::string(fault.expected) + "`", place, std::string(fault.expected), true});
        return diagnostic;
    }
    if (fault.code == FaultCode::nesting) {
        return make_diagnostic(code, "conditions are nested deeper than 200 levels here", place);
    }
    if (fault.code == FaultCode::string && fault.expected.empty()) {
        return make_diagnostic(code, "the string that opens here is never closed", place, "opens here");
    }
    std::string message = "expected " + std::string(fault.expected);
    message += stands.empty() ? ", but the text ends" : ", not `" + stands + "`";
    return make_diagnostic(code, std::move(message), place);
}

}  // namespace linelaw::grammar
