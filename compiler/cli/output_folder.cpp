#include "compiler/cli/output_folder.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <filesystem>

namespace linelaw::compiler::cli {
namespace {

namespace fs = std::filesystem;

tl::unexpected<runtime::Error> cannot_write(const std::string& path, std::string_view reason) {
    return tl::unexpected(runtime::Error{"file.write", fmt::format("cannot write {}: {}", path, reason)});
}

}  // namespace

runtime::Result<OutputFolder> OutputFolder::open(const std::string& path) {
    std::error_code error;
    fs::create_directories(path, error);
    if (error) return cannot_write(path, error.message());
    if (!fs::is_directory(path, error)) return cannot_write(path, "it is no folder");
    return OutputFolder(path);
}

OutputFolder::~OutputFolder() {
    for (File& file : files_) {
        file.stream.reset();
        std::error_code ignored;
        fs::remove(file.beside, ignored);
    }
}

std::string OutputFolder::path_of(const std::string& name) const {
    return (fs::path(path_) / name).string();
}

runtime::Result<std::size_t> OutputFolder::create(const std::string& name) {
    File file;
    file.path = path_of(name);
    file.beside = fmt::format("{}.part-{}", file.path, getpid());
    file.stream.reset(std::fopen(file.beside.c_str(), "wb"));
    if (!file.stream) return cannot_write(file.beside, std::strerror(errno));
    files_.push_back(std::move(file));
    return files_.size() - 1;
}

runtime::Result<void> OutputFolder::write(std::size_t file, std::string_view text) {
    std::FILE* stream = files_[file].stream.get();
    if (std::fwrite(text.data(), 1, text.size(), stream) == text.size()) return {};
    return cannot_write(files_[file].path, std::strerror(errno));
}

runtime::Result<void> OutputFolder::put(const std::string& name, std::string_view text) {
    const auto file = create(name);
    if (!file) return tl::unexpected(file.error());
    return write(*file, text);
}

runtime::Result<void> OutputFolder::commit() {
    for (File& file : files_) {
        // What is still buffered, and what the file system takes late, fails here and not after the renaming.
        std::FILE* stream = file.stream.get();
        if (std::fflush(stream) != 0 || ::fsync(fileno(stream)) != 0) {
            return cannot_write(file.path, std::strerror(errno));
        }
        if (std::fclose(file.stream.release()) != 0) return cannot_write(file.path, std::strerror(errno));
    }
    for (const File& file : files_) {
        if (std::rename(file.beside.c_str(), file.path.c_str()) != 0) {
            return cannot_write(file.path, std::strerror(errno));
        }
    }
    files_.clear();
    return {};
}

runtime::Result<void> write_out(std::string_view text) {
    if (std::fwrite(text.data(), 1, text.size(), stdout) == text.size() && std::fflush(stdout) == 0)
        return {};
    return cannot_write("standard output", std::strerror(errno));
}

}  // namespace linelaw::compiler::cli
