// The program as a user runs it, and a folder of its own for what it reads and writes.
#pragma once

#include <filesystem>
#include <string>

namespace linelaw::tests {

struct Ran {
    int status = -1;
    std::string output;
};
// Runs a shell command line in which PROGRAM stands for the program; standard error is taken with the output.
Ran run(std::string command);

// Gone after the test.
class Folder {
  public:
    Folder();
    ~Folder();
    Folder(const Folder&) = delete;
    Folder& operator=(const Folder&) = delete;

    // The path of the file written.
    std::string write(const std::string& name, const std::string& content) const;
    std::string path(const std::string& name) const { return (path_ / name).string(); }

  private:
    std::filesystem::path path_;
};

}  // namespace linelaw::tests
