// Progress of an audit as somebody at a terminal sees it, and nobody else. The terminal is a pseudo-terminal.
#include <fcntl.h>
#include <pty.h>
#include <unistd.h>

#include <cstdlib>
#include <regex>

#include "tests/runtime/folder.hpp"
#include "tests/runtime/started.hpp"

using small::content;
using small::Folder;
using started::Process;

namespace {

const std::string policy = LINELAW_SOURCE_DIR "/docs/tutorial/finished.linelaw";
const std::string sample = LINELAW_SOURCE_DIR "/policies/demo/sample/records.ndjson";

// A changed root may have no /dev/pts.
bool there_are_terminals() {
    const int terminal = ::posix_openpt(O_RDWR | O_NOCTTY);
    const bool there =
        terminal >= 0 && ::ptsname(terminal) != nullptr && ::access(::ptsname(terminal), F_OK) == 0;
    if (terminal >= 0) ::close(terminal);
    return there;
}

// What the program writes to a terminal that is its standard error, and its exit status.
std::pair<std::string, int> seen_on_terminal(std::vector<std::string> arguments, const Folder& folder) {
    int terminal = -1;
    int program_side = -1;
    REQUIRE(::openpty(&terminal, &program_side, nullptr, nullptr, nullptr) == 0);
    std::string name(256, '\0');
    REQUIRE(::ttyname_r(program_side, name.data(), name.size()) == 0);
    name.resize(name.find('\0'));
    Process process(std::move(arguments), folder / "out.txt", name);
    ::close(program_side);
    std::string seen;
    std::string buffer(4096, '\0');
    // Reading fails once the program has ended and nobody holds the other side.
    for (ssize_t got = 0; (got = ::read(terminal, buffer.data(), buffer.size())) > 0;)
        seen.append(buffer, 0, static_cast<std::size_t>(got));
    ::close(terminal);
    return {seen, process.wait().status};
}

}  // namespace

TEST_CASE("a terminal shows records, rate, share and time left, and is clean at the end") {
    if (!there_are_terminals()) {
        WARN("there is no pseudo-terminal here: what a terminal shows was not tested");
        return;
    }
    const Folder folder;
    std::string records;
    for (int i = 0; i < 24; ++i) records += content(sample);  // far more than is read ahead
    folder.write("records.ndjson", records);
    const std::vector<std::string> audit = {"audit", policy, folder / "records.ndjson", "--out",
                                            folder / "report"};
    const auto [seen, status] = seen_on_terminal(audit, folder);
    CHECK(status == 1);
    INFO(seen);
    const std::regex words(
        R"(\r\x1b\[K([0-9,]+) records, ([0-9,]+) a second, ([0-9]+) %, (less than 1|[0-9]+) s left)");
    std::smatch found;
    REQUIRE(std::regex_search(seen, found, words));
    CHECK(found[2].str() != "0");
    CHECK(std::stoi(found[3]) <= 100);
    CHECK(seen.substr(seen.rfind('\r')) == "\r\x1b[K");  // the line is taken away
    CHECK_FALSE(std::regex_search(content(folder / "out.txt"), std::regex(" a second")));

    std::vector<std::string> quiet = audit;
    quiet.emplace_back("--quiet");
    CHECK(seen_on_terminal(quiet, folder).first.empty());
    CHECK(Process(audit, folder / "out.txt", folder / "err.txt").wait().status == 1);
    CHECK(content(folder / "err.txt").empty());  // no terminal, no progress
}
