#include "compiler/cli/write_file.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <filesystem>
#include <memory>

namespace linelaw::compiler::cli {
namespace {

namespace fs = std::filesystem;

struct Close {
    void operator()(std::FILE* file) const { std::fclose(file); }
};
using Stream = std::unique_ptr<std::FILE, Close>;

// The file that a chain of links leads to, which need not be there. Of a circle, one of its links.
std::string behind_links(std::string path) {
    constexpr int longest = 40;  // as Linux has it
    std::error_code ignored;
    for (int i = 0; i < longest && fs::is_symlink(path, ignored); ++i)
        path = (fs::path(path).parent_path() / fs::read_symlink(path, ignored)).string();
    return path;
}

runtime::Result<void> put(std::FILE* stream, std::string_view content, const std::string& path) {
    if (std::fwrite(content.data(), 1, content.size(), stream) != content.size() || std::fflush(stream) != 0)
        return cannot_write(path);
    return {};
}

runtime::Result<void> write_into(const std::string& path, std::string_view content) {
    Stream stream(std::fopen(path.c_str(), "wbe"));
    if (!stream) return cannot_write(path);
    if (auto written = put(stream.get(), content, path); !written) return written;
    if (std::fclose(stream.release()) != 0) return cannot_write(path);
    return {};
}

// The new text beside the file, in the file's name and mode where it is there already.
runtime::Result<void> write_beside(const std::string& beside, std::string_view content,
                                   const struct stat* before, const std::string& path) {
    constexpr mode_t owner_alone = 0600;
    constexpr mode_t as_usual = 0666;  // less what the umask takes
    constexpr mode_t permissions = 07777;
    const int descriptor = ::open(beside.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC,
                                  before == nullptr ? as_usual : owner_alone);
    if (descriptor < 0) return cannot_write(path);
    if (before != nullptr) {
        // Only the owner of the machine may give a file away; anybody else's is his own already.
        static_cast<void>(::fchown(descriptor, before->st_uid, before->st_gid) == 0);
        ::fchmod(descriptor, before->st_mode & permissions);
    }
    Stream stream(::fdopen(descriptor, "wb"));
    if (!stream) {
        ::close(descriptor);
        return cannot_write(path);
    }
    if (auto written = put(stream.get(), content, path); !written) return written;
    if (auto synced = sync_stream(stream.get(), path); !synced) return synced;
    if (std::fclose(stream.release()) != 0) return cannot_write(path);
    return {};
}

}  // namespace

tl::unexpected<runtime::Error> cannot_write(const std::string& path, std::string_view reason) {
    return tl::unexpected(runtime::Error{"file.write", fmt::format("cannot write {}: {}", path, reason)});
}
tl::unexpected<runtime::Error> cannot_write(const std::string& path) {
    return cannot_write(path, std::strerror(errno));
}

runtime::Result<void> sync_stream(std::FILE* stream, const std::string& path) {
    if (std::fflush(stream) != 0 || ::fsync(fileno(stream)) != 0) return cannot_write(path);
    return {};
}

void sync_folder(const std::string& path) {
    const int descriptor = ::open(path.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (descriptor < 0) return;
    ::fsync(descriptor);
    ::close(descriptor);
}

runtime::Result<void> write_atomically(const std::string& path, std::string_view content) {
    const std::string file = behind_links(path);
    struct stat before {};
    const bool there = ::stat(file.c_str(), &before) == 0;
    if (!there && errno != ENOENT) return cannot_write(path);
    if (there && !S_ISREG(before.st_mode)) return write_into(path, content);
    if (there && ::access(file.c_str(), W_OK) != 0) return cannot_write(path);
    const std::string beside = file + ".part-" + std::to_string(getpid());
    auto written = write_beside(beside, content, there ? &before : nullptr, path);
    if (written && std::rename(beside.c_str(), file.c_str()) != 0) written = cannot_write(path);
    if (!written) {
        std::error_code ignored;
        fs::remove(beside, ignored);
        return written;
    }
    const auto folder = fs::path(file).parent_path();
    sync_folder(folder.empty() ? "." : folder.string());
    return {};
}

}  // namespace linelaw::compiler::cli
