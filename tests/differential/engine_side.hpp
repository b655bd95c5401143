// The engine's side of the meeting: a policy compiled once, records read and judged, opportunities as rows.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "runtime/engine.hpp"
#include "runtime/records.hpp"
#include "tests/differential/literal.hpp"

namespace linelaw::literal {

class EngineSide {
  public:
    // `problem` is empty unless the policy does not compile; then it says why.
    EngineSide(const std::string& policy, const std::string& vocabulary);

    const std::string& problem() const { return problem_; }
    const runtime::Policy& policy() const { return *policy_; }

    // Throws std::runtime_error where the record is quarantined.
    std::vector<Row> judge(const std::string& record);
    // The same, event by event.
    std::vector<Row> judge_in_steps(const std::string& record);

    // The same text cut into two editions, so many days after the first event's.
    std::vector<Row> judge_in_editions(const std::string& record, int days_in);

    // What is due after so many events, fed one by one, and what finishing at that moment gives; bundles,
    // which nothing asks for next, left out.
    std::pair<std::vector<Row>, std::vector<Row>> due_and_finished(const std::string& record,
                                                                   std::size_t events);

  private:
    void read(const std::string& record);
    std::vector<Row> rows(const std::vector<runtime::Opportunity>& list) const;
    std::vector<Row> rows(const std::vector<runtime::Opportunity>& list, const runtime::Policy& policy) const;

    std::string problem_;
    std::unique_ptr<runtime::Policy> policy_;
    std::unique_ptr<runtime::RecordReader> reader_;
    std::unique_ptr<runtime::Engine> engine_;
    runtime::Episode episode_;
    std::vector<runtime::Spoiled> set_aside_;
};

}  // namespace linelaw::literal
