// The program, run in a folder of the test's own.
#pragma once

#include <sys/wait.h>

#include <cstdlib>
#include <string>

#include "tests/runtime/folder.hpp"

namespace small {

struct Ran {
    int status = 0;
    std::string out;
    std::string err;
};

// `before` stands before the program in the shell's line.
inline Ran run(const Folder& folder, const std::string& arguments, const std::string& before = "") {
    const std::string command = before + "'" + LINELAW_PROGRAM + "' " + arguments + " > " +
                                (folder / "out.txt") + " 2> " + (folder / "err.txt");
    const int status = std::system(command.c_str());
    return {WIFEXITED(status) ? WEXITSTATUS(status) : -1, content(folder / "out.txt"),
            content(folder / "err.txt")};
}

}  // namespace small
