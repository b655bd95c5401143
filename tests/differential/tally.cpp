#include "tests/differential/tally.hpp"

#include <algorithm>
#include <vector>

namespace linelaw::literal {

namespace {

const std::vector<std::string> outcomes = {"met",     "late",          "missed",  "early",         "not_met",
                                           "excused", "no_longer_due", "pending", "not_assessable"};

// By the sentences of §3, §4.3 to §4.8: which outcomes a demand can have. `not_met` of a demand over time is
// an unknown that counts as not met (§4.2).
const std::map<std::string, std::vector<std::string>>& possible() {
    static const std::vector<std::string> over_time = {
        "met", "late", "missed", "not_met", "excused", "no_longer_due", "pending", "not_assessable"};
    static const std::vector<std::string> at_event = {"met", "not_met", "excused", "not_assessable"};
    static const std::vector<std::string> period = {"met",     "missed",  "not_met",
                                                    "excused", "pending", "not_assessable"};
    static const std::map<std::string, std::vector<std::string>> table = {
        {"every", over_time},
        {"every, no more often", outcomes},
        {"no more often", {"met", "early", "not_met", "excused", "not_assessable"}},
        {"each day", period},
        {"each shift", period},
        {"within", over_time},
        {"within a shift or day", over_time},
        {"once", over_time},
        {"either side", {"met", "not_met", "excused", "no_longer_due", "pending", "not_assessable"}},
        {"have had", at_event},
        {"condition", at_event},
        {"document", at_event},
        {"steps", at_event},
        {"not", at_event},
        {"at most", at_event},
        {"only a ladder", {"not_met", "excused", "not_assessable"}},
        {"ladder step", {"met", "late", "missed", "not_met", "no_longer_due", "pending", "not_assessable"}},
        {"hold", {"met", "not_met", "pending", "not_assessable"}},
        {"bundle", {"met", "not_met", "pending", "not_assessable"}},
    };
    return table;
}

const char* why_not(const std::string& demand, const std::string& outcome) {
    if (demand == "bundle") return "a bundle is met, not met, pending or not assessable (4.7)";
    if (demand == "only a ladder") return "it asks for nothing but to know its parts (2)";
    if (demand == "hold") return "a hold has no limit, and exceptions do not touch ladders (4.7)";
    if (outcome == "early") return "no shortest interval is asked for (3)";
    if (demand == "ladder step") return "exceptions do not touch ladders (4.7)";
    if (demand == "no more often") return "a pair is complete when it is judged (3)";
    if (outcome == "late")
        return demand == "each day" || demand == "each shift" ? "a period is over at its end (3)"
                                                              : "judged at one moment, without a limit (3)";
    if (outcome == "no_longer_due")
        return demand == "each day" || demand == "each shift" ? "only whole periods count (3)"
                                                              : "judged at one moment (3)";
    return "judged at one moment, without a limit (3)";
}

std::string demand_of(const PolicyDraft& draft, const Row& row) {
    if (row.step >= 0) {
        for (const ItemDraft& item : draft.after)
            if (item.id == row.id) {
                int steps = 0;
                for (std::size_t at = item.text.find(" notify "); at != std::string::npos;
                     at = item.text.find(" notify ", at + 1))
                    ++steps;
                return row.step >= steps ? "hold" : "ladder step";
            }
    }
    for (const ClauseDraft& c : draft.clauses)
        if (c.id == row.id) return c.demand;
    return "bundle";
}

}  // namespace

void Counts::add(const PolicyDraft& draft, const std::vector<Row>& rows) {
    for (std::size_t i = 0; i < rows.size(); ++i) {
        if (i == 0 || rows[i - 1].id != rows[i].id) ++lists_;
        ++counts_[demand_of(draft, rows[i])][rows[i].outcome];
    }
}

void Counts::add(const Counts& other) {
    lists_ += other.lists_;
    for (const auto& [demand, row] : other.counts_)
        for (const auto& [outcome, n] : row) counts_[demand][outcome] += n;
}

std::uint64_t Counts::seen(const std::string& demand, const std::string& outcome) const {
    const auto row = counts_.find(demand);
    if (row == counts_.end()) return 0;
    const auto cell = row->second.find(outcome);
    return cell == row->second.end() ? 0 : cell->second;
}

bool Counts::all_at_least(std::uint64_t least) const {
    for (const auto& [demand, row] : counts_)
        for (const auto& [outcome, n] : row) {
            const auto& list = possible().at(demand);
            if (std::find(list.begin(), list.end(), outcome) == list.end()) return false;
        }
    for (const auto& [demand, list] : possible())
        for (const std::string& outcome : list) {
            if (seen(demand, outcome) < least) return false;
        }
    return true;
}

std::string Counts::table(std::uint64_t least) const {
    std::string out;
    for (const auto& [demand, list] : possible()) {
        out += demand + "\n";
        for (const std::string& outcome : outcomes) {
            const std::uint64_t n = seen(demand, outcome);
            const bool can = std::find(list.begin(), list.end(), outcome) != list.end();
            std::string number = std::to_string(n);
            number.insert(0, number.size() < 12 ? 12 - number.size() : 0, ' ');
            out += "  " + number + "  " + outcome;
            if (!can)
                out += n == 0 ? std::string("  (cannot occur: ") + why_not(demand, outcome) + ")"
                              : "  MUST NOT OCCUR";
            else if (n < least)
                out += "  seldom";
            out += "\n";
        }
    }
    return out;
}

}  // namespace linelaw::literal
