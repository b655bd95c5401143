// The hand-worked vectors, on both evaluators.
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "tests/differential/engine_side.hpp"
#include "tests/differential/vectors.hpp"

using namespace linelaw::literal;

namespace {
const std::string folder = LINELAW_SOURCE_DIR "/tests/conformance/vectors";
}

TEST_CASE("the literal evaluator gives what was worked out by hand") {
    std::size_t count = 0;
    for (const VectorFile& file : read_vectors(folder)) {
        const auto book = book_of(file.policy, file.vocabulary);
        for (const Vector& v : file.vectors) {
            INFO(file.path << ": " << v.title);
            CHECK(differences(v, judge(*book, nlohmann::json::parse(v.record))) == "");
            ++count;
        }
    }
    CHECK(count >= 150);
}

TEST_CASE("the engine gives what was worked out by hand") {
    for (const VectorFile& file : read_vectors(folder)) {
        EngineSide engine(file.policy, file.vocabulary);
        INFO(file.path);
        CHECK(engine.problem() == "");
        if (!engine.problem().empty()) continue;
        for (const Vector& v : file.vectors) {
            INFO(v.title);
            CHECK(differences(v, engine.judge(v.record)) == "");
            CHECK(differences(v, engine.judge_in_steps(v.record)) == "");
        }
    }
}
