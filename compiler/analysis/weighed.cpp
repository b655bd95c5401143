#include "compiler/analysis/weighed.hpp"

#include <algorithm>
#include <array>
#include <set>

#include "compiler/alterations.hpp"
#include "compiler/layers.hpp"

namespace linelaw::compiler::analysis {

namespace {

template <typename All, typename What>
bool is_one_of(const All& all, const What& what) {
    return std::find(std::begin(all), std::end(all), what) != std::end(all);
}

// Lines of a clause that change no outcome.
constexpr std::array<std::string_view, 6> words_alone = {"sentence", "priority", "source",
                                                         "reason",   "advice",   "departs from"};
// Lines that no weighing looks at: they say how it is judged and called, not what it asks for.
constexpr std::array<std::string_view, 2> lines_not_weighed = {"undocumented", "otherwise escalate"};
// Where and for what it is asked: a question asks for a part of that only.
constexpr std::array<std::string_view, 7> where_lines = {"at",  "after", "before",  "once",
                                                         "for", "while", "for each"};
// What most clauses lean on without naming it.
constexpr std::array<std::string_view, 7> under_all = {"patient", "line",  "part", "event",
                                                       "state",   "shift", "never"};

class Weighing {
  public:
    Weighing(const Compilation& before, const Compilation& after, Comparison& comparison)
        : before_(before), after_(after), comparison_(comparison) {
        for (const Difference& d : comparison.differences) {
            if (d.kind == Difference::Kind::same) continue;
            auto& seen = d.question.empty() ? alone_ : in_question_;
            seen.insert(d.clauses_before.begin(), d.clauses_before.end());
            seen.insert(d.clauses_after.begin(), d.clauses_after.end());
        }
        for (Rewritten& written : written_otherwise(before, after))
            comparison_.changes.push_back({std::move(written), Weighed::no, {}});
        for (Change& change : comparison_.changes) {
            change.weighed = weighed(change.written);
            change.clauses = changed_by(change.written);
        }
    }

    void mark_touched() {
        std::set<std::string> touched;
        bool all = false;
        for (const Change& change : comparison_.changes) {
            if (change.weighed == Weighed::yes) continue;
            const std::vector<std::string> ids = touched_by(change.written);
            touched.insert(ids.begin(), ids.end());
            all = all || touches_all(change.written);
        }
        const auto is_touched = [&](const std::string& id) { return all || touched.count(id) != 0; };
        for (Difference& d : comparison_.differences)
            d.touched = std::any_of(d.clauses_before.begin(), d.clauses_before.end(), is_touched) ||
                        std::any_of(d.clauses_after.begin(), d.clauses_after.end(), is_touched);
    }

  private:
    bool is_response(const std::string& id) const {
        const auto begins = [&](const Compilation& compilation) {
            const auto& clauses = compilation.compiled->policy.clauses;
            return std::any_of(clauses.begin(), clauses.end(), [&](const runtime::Clause& c) {
                return c.id == id && c.trigger.kind != runtime::TriggerKind::stretch;
            });
        };
        return begins(before_) || begins(after_);
    }

    // Clauses that answer no question are weighed wherever they apply; the others where the question asks.
    Weighed of_clause(const std::string& id, const std::string& part) const {
        if (is_one_of(words_alone, part) || is_one_of(lines_not_weighed, part)) return Weighed::no;
        if (alone_.count(id) != 0) return Weighed::yes;
        if (in_question_.count(id) == 0 || part == "except when") return Weighed::no;
        const bool within_question = part == "whole" ? is_response(id) : is_one_of(where_lines, part);
        return within_question ? Weighed::in_part : Weighed::yes;
    }

    std::vector<std::string> resting_on(const std::string& item) const {
        std::vector<std::string> ids = clauses_resting_on(*before_.layers, item);
        for (std::string& id : clauses_resting_on(*after_.layers, item))
            if (!is_one_of(ids, id)) ids.push_back(std::move(id));
        return ids;
    }

    // Through the clauses that rest on it: in part where only some were weighed, or where what was weighed
    // may be a change of the clause itself.
    Weighed through_clauses(const std::string& item) const {
        const std::vector<std::string> ids = resting_on(item);
        std::size_t seen = 0;
        bool itself = false;
        for (const std::string& id : ids) {
            if (alone_.count(id) + in_question_.count(id) != 0) ++seen;
            itself = itself || std::any_of(comparison_.changes.begin(), comparison_.changes.end(),
                                           [&](const Change& c) {
                                               return c.written.kind == "clause" && c.written.item == id &&
                                                      !is_one_of(words_alone, c.written.part) &&
                                                      !is_one_of(lines_not_weighed, c.written.part);
                                           });
        }
        if (seen == 0) return Weighed::no;
        const bool within_questions = std::any_of(ids.begin(), ids.end(), [this](const std::string& id) {
            return alone_.count(id) == 0 && in_question_.count(id) != 0;
        });
        return seen < ids.size() || itself || within_questions ? Weighed::in_part : Weighed::yes;
    }

    Weighed weighed(const Rewritten& written) const {
        if (written.kind == "clause") return of_clause(written.item, written.part);
        if (written.kind == "term" || written.kind == "table") return through_clauses(written.item);
        // Of a ladder whom it calls, by when and after what wait; of what it holds up only the kinds of
        // event.
        if (written.kind == "escalation" && (written.part == "whole" || written.part.rfind("step ", 0) == 0))
            return through_clauses(written.item);
        return Weighed::no;
    }

    std::vector<std::string> touched_by(const Rewritten& written) const {
        if (written.kind == "clause") return {written.item};
        if (written.kind == "term" || written.kind == "table" || written.kind == "escalation")
            return resting_on(written.item);
        std::vector<std::string> ids;
        if (written.kind != "head" || written.part != "undocumented") return ids;
        for (const Compilation* compilation : {&before_, &after_})
            for (const grammar::ClauseItem& clause : compilation->compiled->clauses)
                if (std::none_of(clause.lines.begin(), clause.lines.end(), [](const grammar::ClauseLine& l) {
                        return std::holds_alternative<grammar::UndocumentedLine>(l.node);
                    }))
                    ids.push_back(clause.id.text);
        return ids;
    }
    std::vector<std::string> changed_by(const Rewritten& written) const {
        if (written.kind == "clause" && is_one_of(words_alone, written.part)) return {};
        if (!touches_all(written)) return touched_by(written);
        std::set<std::string> ids;
        for (const Compilation* compilation : {&before_, &after_})
            for (const runtime::Clause& clause : compilation->compiled->policy.clauses) ids.insert(clause.id);
        return {ids.begin(), ids.end()};
    }
    static bool touches_all(const Rewritten& written) {
        if (written.kind == "head") return written.part == "time zone" || written.part == "governs";
        return is_one_of(under_all, written.kind) && (!written.before.empty() || written.kind == "shift");
    }

    const Compilation& before_;
    const Compilation& after_;
    Comparison& comparison_;
    std::set<std::string> alone_;
    std::set<std::string> in_question_;
};

}  // namespace

void tell_changes(const Compilation& before, const Compilation& after, Comparison& comparison) {
    if (before.layers == nullptr || after.layers == nullptr) return;
    Weighing(before, after, comparison).mark_touched();
}

}  // namespace linelaw::compiler::analysis
