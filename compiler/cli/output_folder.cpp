#include "compiler/cli/output_folder.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <filesystem>

#include "compiler/cli/terminal.hpp"
#include "compiler/cli/write_file.hpp"
#include "runtime/output_names.hpp"

namespace linelaw::compiler::cli {
namespace {

namespace fs = std::filesystem;

// A checkpoint, findings and records are for their owner alone.
constexpr mode_t owner_alone = 0700;

constexpr const char* lock_name = "lock";
constexpr const char* note_name = "checkpoint.json";

std::string unfinished_in(const std::string& path) {
    return (fs::path(path) / runtime::unfinished_folder).string();
}

// Begins to put on the disk what was written, without waiting, so that little is left for the end. Where it
// cannot, the sync at the end finds what is wrong.
void begin_sync(std::FILE* stream) {
#ifdef SYNC_FILE_RANGE_WRITE
    ::sync_file_range(fileno(stream), 0, 0, SYNC_FILE_RANGE_WRITE);
#else
    static_cast<void>(stream);
#endif
}

// The folder, and those above it where they are not there, which are nobody's secret.
runtime::Result<void> make_folder(const std::string& path) {
    fs::path folder(path);
    if (!folder.has_filename()) folder = folder.parent_path();  // "report/"
    std::error_code error;
    if (folder.has_parent_path()) fs::create_directories(folder.parent_path(), error);
    if (error) return cannot_write(path, error.message());
    if (::mkdir(folder.c_str(), owner_alone) != 0 && errno != EEXIST) return cannot_write(path);
    if (!fs::is_directory(folder, error)) return cannot_write(path, "it is no folder");
    return {};
}

bool same_file(std::FILE* stream, const std::string& path) {
    struct stat opened {};
    struct stat named {};
    return ::fstat(fileno(stream), &opened) == 0 && ::stat(path.c_str(), &named) == 0 &&
           opened.st_ino == named.st_ino && opened.st_dev == named.st_dev;
}

// Its regular files. Going on through a folder can fail as well as opening it, and nothing is thrown.
std::vector<fs::path> files_in(const std::string& folder, std::error_code& error) {
    std::vector<fs::path> out;
    std::error_code ignored;
    for (fs::directory_iterator entry(folder, error); !error && entry != fs::directory_iterator();
         entry.increment(error))
        if (entry->is_regular_file(ignored)) out.push_back(entry->path());
    return out;
}

tl::unexpected<runtime::Error> not_as_written(const std::string& path, std::string_view what) {
    return tl::unexpected(runtime::Error{
        "file.damaged", fmt::format("{}: it {} the checkpoint beside it says, so the audit cannot go on; "
                                    "start it again without --resume",
                                    path, what)});
}

// The first `length` bytes of a file.
runtime::Result<void> add_beginning(runtime::ContentHash& hash, const std::string& path,
                                    std::uint64_t length) {
    const std::unique_ptr<std::FILE, int (*)(std::FILE*)> file(std::fopen(path.c_str(), "rb"), &std::fclose);
    const auto unread = [&path] {
        return tl::unexpected(runtime::Error{"file.read", fmt::format("{}: {}", path, std::strerror(errno))});
    };
    if (!file) return unread();
    std::vector<char> piece(std::size_t{1} << 20U);
    while (length > 0) {
        const std::size_t wanted = std::min<std::uint64_t>(piece.size(), length);
        const std::size_t read = std::fread(piece.data(), 1, wanted, file.get());
        if (read == 0 && std::ferror(file.get()) != 0) return unread();
        if (read == 0) return not_as_written(path, "is shorter than");
        hash.add({piece.data(), read});
        length -= read;
    }
    return {};
}

}  // namespace

runtime::Result<OutputFolder> OutputFolder::open(const std::string& path) {
    const std::string unfinished = unfinished_in(path);
    const std::string lock = (fs::path(unfinished) / lock_name).string();
    for (;;) {
        if (auto made = make_folder(path); !made) return tl::unexpected(made.error());
        if (::mkdir(unfinished.c_str(), owner_alone) != 0 && errno != EEXIST) return cannot_write(unfinished);
        Stream stream(std::fopen(lock.c_str(), "abe"));
        if (!stream) {
            if (errno == ENOENT) continue;  // another program has just finished
            return cannot_write(lock);
        }
        // Where a file system knows no locks, people must see to it.
        if (::flock(fileno(stream.get()), LOCK_EX | LOCK_NB) != 0 && errno == EWOULDBLOCK) {
            return tl::unexpected(runtime::Error{
                "file.busy", fmt::format("{}: another run is writing into this folder; wait until it has "
                                         "ended, or give another folder",
                                         path)});
        }
        if (same_file(stream.get(), lock)) return OutputFolder(path, std::move(stream));
    }
}

OutputFolder::~OutputFolder() {
    if (!lock_ || kept_) return;
    files_.clear();
    begin_anew();
    // The lock goes last: whoever takes a new one from now on finds the folder his own.
    std::error_code ignored;
    fs::remove(beside(lock_name), ignored);
    ::rmdir(unfinished_path().c_str());
}

void OutputFolder::begin_anew() {
    std::error_code ignored;
    for (const fs::path& path : files_in(unfinished_path(), ignored))
        if (path.filename() != lock_name) fs::remove(path, ignored);
}

std::string OutputFolder::path_of(const std::string& name) const {
    return (fs::path(path_) / name).string();
}
std::string OutputFolder::unfinished_path() const {
    return unfinished_in(path_);
}
bool OutputFolder::is_unfinished(const std::string& path) {
    std::error_code ignored;
    return fs::is_directory(unfinished_in(path), ignored);
}
std::string OutputFolder::beside(const std::string& name) const {
    return (fs::path(unfinished_path()) / name).string();
}
std::string OutputFolder::note_path() const {
    return beside(note_name);
}

runtime::Result<std::size_t> OutputFolder::create(const std::string& name, runtime::Packing packing) {
    File file;
    file.name = name + std::string(packing_ending(packing));
    file.beside = beside(file.name);
    file.packer = runtime::Packer(packing);
    file.stream.reset(std::fopen(file.beside.c_str(), "wb"));
    if (!file.stream) return cannot_write(file.beside);
    files_.push_back(std::move(file));
    return files_.size() - 1;
}

runtime::Result<std::size_t> OutputFolder::go_on(const Written& written, runtime::Packing packing) {
    File file;
    file.name = written.name;
    file.beside = beside(file.name);
    file.packer = runtime::Packer(packing);
    file.packer.go_on(written.length > 0, written.pending);
    if (auto added = add_beginning(file.hash, file.beside, written.length); !added)
        return tl::unexpected(added.error());
    if (file.hash.digits() != written.hash) return not_as_written(file.beside, "does not hold what");
    std::error_code error;
    fs::resize_file(file.beside, written.length, error);
    if (error) return cannot_write(file.beside, error.message());
    file.stream.reset(std::fopen(file.beside.c_str(), "ab"));
    if (!file.stream) return cannot_write(file.beside);
    files_.push_back(std::move(file));
    return files_.size() - 1;
}

runtime::Result<void> OutputFolder::append(File& file, std::string_view bytes) {
    if (std::fwrite(bytes.data(), 1, bytes.size(), file.stream.get()) != bytes.size())
        return cannot_write(file.beside);
    file.hash.add(bytes);
    constexpr std::size_t much = 16U << 20U;
    file.not_yet_begun += bytes.size();
    if (file.not_yet_begun >= much) {
        begin_sync(file.stream.get());
        file.not_yet_begun = 0;
    }
    return {};
}

runtime::Result<void> OutputFolder::write(std::size_t file, std::string_view lines) {
    std::string bytes;
    if (auto added = files_[file].packer.add(lines, bytes); !added) return added;
    return append(files_[file], bytes);
}

runtime::Result<void> OutputFolder::put(const std::string& name, std::string_view text) {
    const auto file = create(name);
    if (!file) return tl::unexpected(file.error());
    return write(*file, text);
}

runtime::Result<std::vector<Written>> OutputFolder::sync() {
    std::vector<Written> all;
    for (File& file : files_) {
        if (auto synced = sync_stream(file.stream.get(), file.beside); !synced) {
            return tl::unexpected(synced.error());
        }
        const ::off_t length = ::ftello(file.stream.get());
        if (length < 0) return cannot_write(file.beside);
        all.push_back(
            {file.name, static_cast<std::uint64_t>(length), file.hash.digits(), file.packer.pending()});
    }
    return all;
}

runtime::Result<void> OutputFolder::note(std::string_view text) {
    const std::string next = note_path() + ".next";
    Stream stream(std::fopen(next.c_str(), "wb"));
    if (!stream) return cannot_write(next);
    if (std::fwrite(text.data(), 1, text.size(), stream.get()) != text.size()) return cannot_write(next);
    if (auto synced = sync_stream(stream.get(), next); !synced) return synced;
    if (std::fclose(stream.release()) != 0) return cannot_write(next);
    if (std::rename(next.c_str(), note_path().c_str()) != 0) return cannot_write(note_path());
    sync_folder(unfinished_path());
    kept_ = true;
    return {};
}

runtime::Result<std::vector<std::string>> OutputFolder::finish() {
    for (File& file : files_) {
        std::string bytes;
        runtime::Result<void> done = file.packer.end(bytes);
        if (done) done = append(file, bytes);
        if (done) done = sync_stream(file.stream.get(), file.beside);
        if (!done) return tl::unexpected(done.error());
        if (std::fclose(file.stream.release()) != 0) return cannot_write(file.beside);
        finished_.push_back(file.name);
    }
    files_.clear();
    return finished_;
}

runtime::Result<void> OutputFolder::take_away_earlier(const std::vector<std::string>& names) const {
    std::vector<fs::path> earlier;
    std::error_code error;
    for (fs::path& path : files_in(path_, error)) {
        const std::string name = path.filename().string();
        const bool written_now = std::find(names.begin(), names.end(), name) != names.end();
        if (!written_now && runtime::is_output_name(name) && name != sample_sheet)
            earlier.push_back(std::move(path));
    }
    if (error) return cannot_write(path_, error.message());
    for (const fs::path& path : earlier) {
        if (!fs::remove(path, error) && error) return cannot_write(path.string(), error.message());
    }
    return {};
}

runtime::Result<void> OutputFolder::place(const std::vector<std::string>& names) {
    if (auto gone = take_away_earlier(names); !gone) return gone;
    for (const std::string& name : names) {
        std::error_code error;
        if (!fs::exists(beside(name), error) && fs::exists(path_of(name), error)) continue;
        if (std::rename(beside(name).c_str(), path_of(name).c_str()) != 0) return cannot_write(path_of(name));
    }
    sync_folder(path_);
    kept_ = false;
    return {};
}

runtime::Result<void> OutputFolder::commit() {
    const auto names = finish();
    return names ? place(*names) : tl::unexpected(names.error());
}

runtime::Result<void> write_out(std::string_view text) {
    std::string shown;
    if (::isatty(STDOUT_FILENO) != 0) text = shown = harmless_on_terminal(text);
    if (std::fwrite(text.data(), 1, text.size(), stdout) == text.size() && std::fflush(stdout) == 0)
        return {};
    return cannot_write("standard output");
}

}  // namespace linelaw::compiler::cli
