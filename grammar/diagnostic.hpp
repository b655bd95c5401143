// What is said about a policy: a code, a sentence, the places it speaks of, and how to mend it. Every part of
// the program that finds something wrong makes one of these; only render.hpp turns them into text or JSON.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "grammar/source.hpp"

namespace linelaw::grammar {

enum class Severity {
    error,    // stops compilation
    against,  // a conflict or a gap: stops compilation unless the policy or the caller accepts it
    warning,  // worth a look; counts as a finding of `check`
    note,
};

struct Label {
    Place place;
    std::string text;  // what stands here, in a few words; may be empty
};

// A way out. `safe` ones may be applied without thought (a spelling); a clinical choice is never safe.
struct Mend {
    std::string text;  // what to do, as advice: "write `dressing_change`"
    std::optional<Place> place;
    std::string replacement;  // for `place`, where there is one
    bool safe = false;
};

// The smallest situation that shows the finding, already in words and, where there is one, as a pasteable
// example.
struct Witness {
    std::vector<std::pair<std::string, std::string>> situation;  // "line.kind" → "picc"
    std::string example;                                         // an `example` of the language, or empty
    std::string episode;                                         // the same as a record (JSON), or empty
    std::vector<std::string> outcomes;                           // "dressing.gauze late"
};

struct Diagnostic {
    std::string code;  // one of diagnostic_codes()
    Severity severity = Severity::error;
    std::string
        message;  // one sentence, lower-case start, no full stop; names and words of the policy in `…`
    std::vector<Label> labels;  // the first is where the reader should look
    std::vector<std::string> notes;
    std::vector<Mend> mends;
    std::optional<Witness> witness;
    std::string accepted;  // why it may stand, in the words of those who accepted it; empty: nobody did
};

// The registry: every code that any diagnostic may carry. Each has a page docs/diagnostics/CODE.md.
struct DiagnosticCode {
    std::string_view code;
    Severity severity;
    std::string_view title;         // one line for lists and for SARIF rules
    std::string_view way_out = {};  // where a diagnostic has no nearer mend; empty where its words say enough
};
const std::vector<DiagnosticCode>& diagnostic_codes();
const DiagnosticCode* find_diagnostic_code(std::string_view code);

// How to mend it: the diagnostic's own mends or, where it has none, the way out of its code.
std::vector<Mend> ways_out(const Diagnostic& diagnostic);

// A diagnostic of a registered code, with the registry's severity. Asserts that the code is registered.
Diagnostic make_diagnostic(std::string_view code, std::string message, Place place, std::string label = "");

}  // namespace linelaw::grammar
