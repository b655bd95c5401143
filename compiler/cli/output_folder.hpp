// The files that a command writes into one folder: all of them appear, each whole, or none does, and those of
// an earlier run that this one does not write are gone. Until then they stand in a folder
// `linelaw.unfinished` within it, which one program at a time writes into. Errors say the path and the
// reason.
#pragma once

#include <cstdint>
#include <cstdio>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "runtime/content_hash.hpp"
#include "runtime/packing.hpp"
#include "runtime/result.hpp"

namespace linelaw::compiler::cli {

// How far a file has come that is written piece by piece.
struct Written {
    std::string name;
    std::uint64_t length = 0;  // bytes on the disk
    std::string hash;          // of those bytes (runtime/content_hash.hpp)
    std::string pending;       // lines taken and not yet on it: a compressed file is written in pieces
};

// Which people fill in, and no run takes away or replaces.
constexpr std::string_view sample_sheet = "sample.csv";

class OutputFolder {
  public:
    // Makes the folder where it is not there, for its owner alone: what is in it is treated as records are.
    // "file.busy" where another program is writing into it.
    static runtime::Result<OutputFolder> open(const std::string& path);
    // Whether a run into the folder goes on, or was stopped.
    static bool is_unfinished(const std::string& path);
    // Takes away what an earlier run left unfinished.
    void begin_anew();
    ~OutputFolder();  // files that were not committed are taken away, unless they are kept
    OutputFolder(OutputFolder&&) noexcept = default;
    OutputFolder& operator=(OutputFolder&&) = delete;

    // A file to be written piece by piece. The number names it. A packed one bears its packing's ending.
    runtime::Result<std::size_t> create(const std::string& name,
                                        runtime::Packing packing = runtime::Packing::plain);
    // The same, which goes on after what was written before; what was written after that is dropped.
    // "file.damaged" where the file is shorter, or what stands in it is not what was written.
    runtime::Result<std::size_t> go_on(const Written& written, runtime::Packing packing);
    runtime::Result<void> write(std::size_t file, std::string_view lines);
    // A file whole.
    runtime::Result<void> put(const std::string& name, std::string_view text);

    // Everything written so far is on the disk, and how far that is.
    runtime::Result<std::vector<Written>> sync();
    // A note beside the files, replaced whole; it is taken away when they are in their places. From the first
    // note on, files that were not committed are kept.
    runtime::Result<void> note(std::string_view text);
    std::string note_path() const;
    void keep(bool kept = true) { kept_ = kept; }
    bool kept() const { return kept_; }

    // Every file whole on the disk, and all their names; more may be written, and finished, after them.
    runtime::Result<std::vector<std::string>> finish();
    // Puts finished files in their places; those that are there already are left. Takes an earlier run's
    // files away first, so that no moment shows files with keys beside those of a run without.
    runtime::Result<void> place(const std::vector<std::string>& names);
    // Both.
    runtime::Result<void> commit();

    std::string path_of(const std::string& name) const;
    std::string beside(const std::string& name) const;  // until it is in its place
    std::string unfinished_path() const;

  private:
    struct Close {
        void operator()(std::FILE* file) const { std::fclose(file); }
    };
    using Stream = std::unique_ptr<std::FILE, Close>;
    struct File {
        std::string name;  // in its place
        std::string beside;
        Stream stream;
        runtime::Packer packer{runtime::Packing::plain};
        runtime::ContentHash hash;      // of what was written
        std::size_t not_yet_begun = 0;  // bytes written since begin_sync
    };
    OutputFolder(std::string path, Stream lock) : path_(std::move(path)), lock_(std::move(lock)) {}
    runtime::Result<void> take_away_earlier(const std::vector<std::string>& names) const;
    runtime::Result<void> append(File& file, std::string_view bytes);

    std::string path_;
    Stream lock_;
    std::vector<File> files_;
    std::vector<std::string> finished_;
    bool kept_ = false;
};

// Writes a text to standard output; an error where it does not take all of it.
runtime::Result<void> write_out(std::string_view text);

}  // namespace linelaw::compiler::cli
