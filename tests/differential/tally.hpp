// How often each demand met each outcome, and which pairs cannot occur.
#pragma once

#include <array>
#include <cstdint>
#include <map>
#include <string>

#include "tests/differential/draft.hpp"

namespace linelaw::literal {

class Counts {
  public:
    // Counts one answer; what is counted is an opportunity list of one clause, ladder or bundle that is not
    // empty.
    void add(const PolicyDraft& draft, const std::vector<Row>& rows);
    void add(const Counts& other);
    std::uint64_t lists() const { return lists_; }
    // The table; `least` below which a possible pair is marked as seen too seldom.
    std::string table(std::uint64_t least) const;
    // Whether every possible pair was met so often, and no impossible one.
    bool all_at_least(std::uint64_t least) const;

  private:
    std::uint64_t seen(const std::string& demand, const std::string& outcome) const;
    std::uint64_t lists_ = 0;
    std::map<std::string, std::map<std::string, std::uint64_t>> counts_;
};

}  // namespace linelaw::literal
