// The files that a command writes into one folder: all of them appear, each whole, or none does. Errors say
// the path and the reason.
#pragma once

#include <cstdio>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "runtime/result.hpp"

namespace linelaw::compiler::cli {

class OutputFolder {
  public:
    // Makes the folder where it is not there.
    static runtime::Result<OutputFolder> open(const std::string& path);
    ~OutputFolder();  // files that were not committed are taken away
    OutputFolder(OutputFolder&&) noexcept = default;
    OutputFolder& operator=(OutputFolder&&) = delete;

    // A file to be written piece by piece, beside its place. The number names it.
    runtime::Result<std::size_t> create(const std::string& name);
    runtime::Result<void> write(std::size_t file, std::string_view text);
    // A file whole.
    runtime::Result<void> put(const std::string& name, std::string_view text);
    // Puts every file in its place.
    runtime::Result<void> commit();

    std::string path_of(const std::string& name) const;

  private:
    explicit OutputFolder(std::string path) : path_(std::move(path)) {}
    struct Close {
        void operator()(std::FILE* file) const { std::fclose(file); }
    };
    struct File {
        std::string path;
        std::string beside;
        std::unique_ptr<std::FILE, Close> stream;
    };
    std::string path_;
    std::vector<File> files_;
};

// Writes a text to standard output; an error where it does not take all of it.
runtime::Result<void> write_out(std::string_view text);

}  // namespace linelaw::compiler::cli
