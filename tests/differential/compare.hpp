// The two evaluators side by side on one policy, and what to do when they differ.
#pragma once

#include <map>
#include <memory>

#include "tests/differential/draft.hpp"
#include "tests/differential/engine_side.hpp"

namespace linelaw::literal {

class Pair {
  public:
    // `problem` is empty unless the policy does not compile.
    explicit Pair(const PolicyDraft& draft);
    const std::string& problem() const { return engine_.problem(); }

    struct Answers {
        std::vector<Row> literal;
        std::vector<Row> engine;
        std::string failure;  // of either: it could not answer
    };
    // Rows sorted alike.
    Answers ask(const nlohmann::json& record);
    std::vector<Row> in_steps(const nlohmann::json& record);
    std::vector<Row> in_editions(const nlohmann::json& record, int days_in);
    // What the engine says is due after so many events, and what finishing there gives.
    std::pair<std::vector<Row>, std::vector<Row>> due_and_finished(const nlohmann::json& record,
                                                                   std::size_t events);

    const Book& book() const { return *book_; }

  private:
    EngineSide engine_;
    std::unique_ptr<Book> book_;
};

bool same(const Row& a, const Row& b);
bool less(const Row& a, const Row& b);
bool same(const std::vector<Row>& a, const std::vector<Row>& b);
// Of sorted rows: those that the others have not, or have less often.
std::vector<Row> only_in(const std::vector<Row>& rows, const std::vector<Row>& others);

// The smallest policy and record found that still differ, and both answers, as one text. `differ` says
// whether a draft and a record still do.
std::string shrink(PolicyDraft draft, nlohmann::json record);

}  // namespace linelaw::literal
