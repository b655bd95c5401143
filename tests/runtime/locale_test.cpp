// A host that has set its locale gets the same answers. POSIX (setlocale) lets a locale change what the C
// library takes for a decimal point and for a letter; JSON (RFC 8259, section 6) knows only the point.
#include <linelaw/linelaw.hpp>

#include <catch2/catch.hpp>
#include <clocale>
#include <cstdlib>
#include <string>

#include "compiler/compile.hpp"
#include "runtime/policy_json.hpp"
#include "tests/runtime/folder.hpp"

namespace {

// A flush of 9.5 mL where ten are asked for.
constexpr const char* record =
    R"({"episode": "q-1", "patient": {"age": 54},
        "line": {"kind": "picc", "lumens": 1, "inserted_at": "2026-03-02T10:00:00-04:00"},
        "events": [{"type": "blood_draw", "at": "2026-03-03T10:00:00-04:00", "lumen": 1},
                   {"type": "flush", "at": "2026-03-03T10:05:00-04:00", "lumen": 1, "volume": 9.5}]})";

struct Answers {
    std::string policy;
    std::string findings;
};

Answers answers() {
    const auto compilation =
        linelaw::compiler::compile(LINELAW_SOURCE_DIR "/policies/demo/quillhaven.linelaw");
    REQUIRE(compilation.compiled);
    Answers out;
    out.policy = linelaw::runtime::write_policy(compilation.compiled->policy);
    linelaw::Episode episode(linelaw::Policy(out.policy), record);
    out.findings = episode.findings({}, true);
    return out;
}

// A locale made for the test, and the one before again at the end.
class Locale {
  public:
    Locale(const char* definition, const char* charset) {
        const std::string command = std::string("localedef -c -i ") + definition + " -f " + charset + ' ' +
                                    folder_ / "made" + " >" + folder_ / "log" + " 2>&1";
        if (std::system(command.c_str()) != 0) return;
        setenv("LOCPATH", folder_.path.c_str(), 1);
        set_ = std::setlocale(LC_ALL, "made") != nullptr;
    }
    ~Locale() {
        std::setlocale(LC_ALL, "C");
        unsetenv("LOCPATH");
    }
    Locale(const Locale&) = delete;
    Locale& operator=(const Locale&) = delete;
    bool set() const { return set_; }

  private:
    small::Folder folder_;
    bool set_ = false;
};

}  // namespace

TEST_CASE("a decimal comma or another alphabet in the host's locale changes no answer", "[locale]") {
    const Answers plain = answers();
    CHECK(plain.findings.find(R"("value":9.5,"unit":"mL")") != std::string::npos);
    int made = 0;
    for (const auto& [definition, charset] : {std::pair{"de_DE", "UTF-8"}, {"tr_TR", "ISO-8859-9"}}) {
        const Locale locale(definition, charset);
        if (!locale.set()) continue;
        ++made;
        REQUIRE(std::string(std::localeconv()->decimal_point) == ",");
        const Answers here = answers();
        CHECK(here.findings == plain.findings);
        CHECK(here.policy == plain.policy);
    }
    if (made == 0)
        WARN("no locale could be made here (localedef and its definitions are missing): not tested");
}
