#include "tests/differential/draft.hpp"

#include <date/date.h>

namespace linelaw::literal {

std::string PolicyDraft::text() const {
    std::string out = "policy \"Meeting\"\n";
    for (const std::string& line : header) out += "  " + line + "\n";
    for (const ItemDraft& item : before) out += "\n" + item.text;
    for (const ClauseDraft& c : clauses) {
        out += "\nclause " + c.id + "\n  \"As written.\"\n";
        for (const std::string& line : c.lines) out += "  " + line + "\n";
    }
    for (const ItemDraft& item : after) out += "\n" + item.text;
    return out;
}

// splitmix64 (Steele, Lea, Flood 2014): small, and the same on every machine.
std::uint64_t Dice::next() {
    state_ += 0x9E37'79B9'7F4A'7C15U;
    std::uint64_t z = state_;
    z = (z ^ (z >> 30U)) * 0xBF58'476D'1CE4'E5B9U;
    z = (z ^ (z >> 27U)) * 0x94D0'49BB'1331'11EBU;
    return z ^ (z >> 31U);
}

std::string utc_text(Instant t) {
    using std::chrono::microseconds;
    return date::format("%FT%TZ",
                        date::floor<std::chrono::seconds>(date::sys_time<microseconds>(microseconds(t))));
}

}  // namespace linelaw::literal
