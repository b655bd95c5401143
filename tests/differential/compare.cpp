#include "tests/differential/compare.hpp"

#include <algorithm>
#include <iterator>
#include <stdexcept>
#include <tuple>

#include "tests/differential/vectors.hpp"

namespace linelaw::literal {

using nlohmann::json;

namespace {
auto key(const Row& r) {
    return std::tie(r.id, r.step, r.part, r.opened, r.outcome, r.due, r.limit, r.closed);
}
}  // namespace

bool same(const Row& a, const Row& b) {
    return key(a) == key(b);
}
bool less(const Row& a, const Row& b) {
    return key(a) < key(b);
}
bool same(const std::vector<Row>& a, const std::vector<Row>& b) {
    return a.size() == b.size() &&
           std::equal(a.begin(), a.end(), b.begin(), [](const Row& x, const Row& y) { return same(x, y); });
}

Pair::Pair(const PolicyDraft& draft) : engine_(draft.text(), draft.vocabulary) {
    if (engine_.problem().empty()) book_ = book_of(draft.text(), draft.vocabulary);
}

Pair::Answers Pair::ask(const json& record) {
    Answers out;
    try {
        out.engine = engine_.judge(record.dump());
    } catch (const std::exception& error) {
        out.failure = std::string("the engine: ") + error.what();
        return out;
    }
    try {
        out.literal = judge(*book_, record);
    } catch (const std::exception& error) {
        out.failure = std::string("the literal evaluator: ") + error.what();
        return out;
    }
    std::sort(out.literal.begin(), out.literal.end(), less);
    std::sort(out.engine.begin(), out.engine.end(), less);
    return out;
}

std::vector<Row> Pair::in_steps(const json& record) {
    auto out = engine_.judge_in_steps(record.dump());
    std::sort(out.begin(), out.end(), less);
    return out;
}

std::vector<Row> Pair::in_editions(const json& record, int days_in) {
    auto out = engine_.judge_in_editions(record.dump(), days_in);
    std::sort(out.begin(), out.end(), less);
    return out;
}

std::pair<std::vector<Row>, std::vector<Row>> Pair::due_and_finished(const json& record, std::size_t events) {
    auto out = engine_.due_and_finished(record.dump(), events);
    std::sort(out.first.begin(), out.first.end(), less);
    std::sort(out.second.begin(), out.second.end(), less);
    return out;
}

std::vector<Row> only_in(const std::vector<Row>& rows, const std::vector<Row>& others) {
    std::vector<Row> out;
    std::set_difference(rows.begin(), rows.end(), others.begin(), others.end(), std::back_inserter(out),
                        less);
    return out;
}

namespace {

// Whether the draft compiles and its answers on the record differ.
bool differs(const PolicyDraft& draft, const json& record) {
    try {
        Pair pair(draft);
        if (!pair.problem().empty()) return false;
        const auto answers = pair.ask(record);
        return answers.failure.empty() ? !same(answers.literal, answers.engine)
                                       : answers.failure.rfind("the literal", 0) == 0;
    } catch (const std::exception&) {
        return false;
    }
}

// Takes element after element away for as long as the two differ.
template <typename List, typename Differs>
void thin(List& list, const Differs& still) {
    for (std::size_t i = list.size(); i-- > 0;) {
        const List whole = list;
        list.erase(list.begin() + static_cast<std::ptrdiff_t>(i));
        if (!still()) list = whole;
    }
}

void thin_keys(json& object, const json& root_record, const PolicyDraft& draft) {
    std::vector<std::string> keys;
    for (const auto& [k, v] : object.items()) keys.push_back(k);
    for (const std::string& k : keys) {
        if (k == "type" || k == "at" || k == "inserted_at" || k == "episode" || k == "events" || k == "line")
            continue;
        const json value = object[k];
        object.erase(k);
        if (!differs(draft, root_record)) object[k] = value;
    }
}

// The clause named by a line is needed; a line that names a clause taken away goes with it.
void drop_dangling(PolicyDraft& draft) {
    const auto known = [&draft](const std::string& id) {
        return std::any_of(draft.clauses.begin(), draft.clauses.end(),
                           [&id](const ClauseDraft& c) { return c.id == id; });
    };
    for (ClauseDraft& c : draft.clauses)
        c.lines.erase(std::remove_if(c.lines.begin(), c.lines.end(),
                                     [&](const std::string& l) {
                                         return l.rfind("overrides ", 0) == 0 && !known(l.substr(10));
                                     }),
                      c.lines.end());
}

std::string lines_only_in(const std::vector<Row>& rows, const std::vector<Row>& others) {
    std::string out;
    for (const Row& r : only_in(rows, others)) out += "  " + show(r) + "\n";
    return out;
}

}  // namespace

std::string shrink(PolicyDraft draft, json record) {
    const auto still = [&] { return differs(draft, record); };
    thin(draft.after, still);
    for (std::size_t i = draft.clauses.size(); i-- > 0;) {
        const PolicyDraft whole = draft;
        draft.clauses.erase(draft.clauses.begin() + static_cast<std::ptrdiff_t>(i));
        drop_dangling(draft);
        if (!still()) draft = whole;
    }
    thin(draft.after, still);
    thin(draft.before, still);
    for (ClauseDraft& c : draft.clauses) thin(c.lines, still);
    json& events = record["events"];
    for (std::size_t i = events.size(); i-- > 0;) {
        const json whole = events;
        events.erase(i);
        if (!still()) events = whole;
    }
    thin_keys(record, record, draft);
    if (record.contains("line")) thin_keys(record["line"], record, draft);
    if (record.contains("patient")) thin_keys(record["patient"], record, draft);
    for (json& e : events) thin_keys(e, record, draft);

    Pair pair(draft);
    const auto answers = pair.ask(record);
    return draft.text() + "\n---- record\n" + record.dump(1) + "\n---- literal, not engine\n" +
           lines_only_in(answers.literal, answers.engine) + "---- engine, not literal\n" +
           lines_only_in(answers.engine, answers.literal) +
           (answers.failure.empty() ? "" : "---- failure\n" + answers.failure + "\n");
}

}  // namespace linelaw::literal
