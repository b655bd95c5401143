// The rules themselves: PEGTL finds no loop in them. Apart from rules_test.cpp, for each is costly to
// compile.
#include <catch2/catch.hpp>
#include <tao/pegtl/contrib/analyze.hpp>

#include "grammar/rules.hpp"

using namespace linelaw::grammar;

TEST_CASE("no rule can loop without consuming") {
    CHECK(pegtl::analyze<rules::text>() == 0);
}
