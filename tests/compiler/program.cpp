#include "tests/compiler/program.hpp"

#include <sys/wait.h>
#include <unistd.h>

#include <catch2/catch.hpp>
#include <cstdio>
#include <fstream>

namespace linelaw::tests {

Ran run(std::string command) {
    for (std::size_t at = 0; (at = command.find("PROGRAM", at)) != std::string::npos;)
        command.replace(at, 7, LINELAW_PROGRAM);
    Ran ran;
    FILE* pipe = popen(("{ " + command + "; } 2>&1").c_str(), "r");
    REQUIRE(pipe != nullptr);
    char buffer[4096];
    for (std::size_t n = 0; (n = fread(buffer, 1, sizeof buffer, pipe)) > 0;) ran.output.append(buffer, n);
    ran.status = WEXITSTATUS(pclose(pipe));
    return ran;
}

Folder::Folder()
    : path_(std::filesystem::temp_directory_path() / ("linelaw-test-" + std::to_string(getpid()))) {
    std::filesystem::create_directories(path_);
}
Folder::~Folder() {
    std::filesystem::remove_all(path_);
}

std::string Folder::write(const std::string& name, const std::string& content) const {
    std::ofstream(path_ / name, std::ios::binary) << content;
    return path(name);
}

}  // namespace linelaw::tests
