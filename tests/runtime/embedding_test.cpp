// The runtime without the parser and the compiler, installed and used as another project would.
#include <unistd.h>

#include <catch2/catch.hpp>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <memory>
#include <string>

#include "compiler/compile.hpp"
#include "runtime/policy_json.hpp"

namespace {

namespace fs = std::filesystem;

std::string output_of(const std::string& command, int& status) {
    const std::unique_ptr<FILE, int (*)(FILE*)> pipe(popen((command + " 2>&1").c_str(), "r"),
                                                     [](FILE*) { return 0; });
    REQUIRE(pipe);
    std::string out;
    for (int c = std::fgetc(pipe.get()); c != EOF; c = std::fgetc(pipe.get())) out += static_cast<char>(c);
    status = pclose(pipe.get());
    return out;
}

std::string text_of(const fs::path& path) {
    std::ifstream file(path);
    REQUIRE(file);
    return {std::istreambuf_iterator<char>(file), {}};
}

}  // namespace

TEST_CASE("the runtime builds, installs and is embedded without PEGTL") {
    const fs::path scratch = fs::temp_directory_path() / ("linelaw-embedding-" + std::to_string(getpid()));
    fs::create_directories(scratch);
    const std::string source = LINELAW_SOURCE_DIR;
    int status = 0;
    const std::string log =
        output_of(source + "/tests/runtime/embedding/build_alone " + source + ' ' + scratch.string(), status);
    INFO(log);
    REQUIRE(status == 0);

    const auto compilation = linelaw::compiler::compile(source + "/policies/demo/quillhaven.linelaw");
    REQUIRE(compilation.compiled);
    std::ofstream(scratch / "policy.json") << linelaw::runtime::write_policy(compilation.compiled->policy);
    std::ofstream(scratch / "record.json")
        << R"({"episode": "q-1", "patient": {"age": 54}, "line": {"kind": "picc", "lumens": 1,
               "inserted_at": "2026-03-02T10:00:00-04:00", "dressing": "transparent"}})";
    const std::string files =
        ' ' + (scratch / "policy.json").string() + ' ' + (scratch / "record.json").string();

    const std::string by_package = output_of((scratch / "example/example").string() + files, status);
    INFO(by_package);
    CHECK(status == 0);
    CHECK(by_package.rfind("due\n", 0) == 0);
    CHECK(by_package.find("\"clause\":\"dressing.transparent\"") != std::string::npos);
    CHECK(output_of((scratch / "example_pc").string() + files, status) == by_package);
    CHECK(status == 0);
    const std::string by_cpp = output_of((scratch / "example/example_cpp").string() + files, status);
    CHECK(status == 0);
    CHECK(by_cpp.find("dressing.transparent") != std::string::npos);
    std::ofstream(scratch / "record.json") << "{";
    CHECK(output_of((scratch / "example/example_cpp").string() + files, status).rfind("record.json", 0) == 0);

    std::ifstream symbols(scratch / "symbols");
    int count = 0;
    for (std::string symbol; std::getline(symbols, symbol); ++count) CHECK(symbol.rfind("linelaw_", 0) == 0);
    CHECK(count > 15);
    CHECK(text_of(scratch / "symbols").find("linelaw_policy_read@@LINELAW_0.1") != std::string::npos);
    fs::remove_all(scratch);
}
