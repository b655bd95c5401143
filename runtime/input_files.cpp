#include "runtime/input_files.hpp"

#include <fmt/format.h>
#include <sys/stat.h>

#include <algorithm>
#include <filesystem>
#include <set>
#include <utility>

#include "runtime/ascii.hpp"
#include "runtime/output_names.hpp"

namespace linelaw::runtime {
namespace {

namespace fs = std::filesystem;

tl::unexpected<Error> cannot_read(const std::string& path, std::string_view reason) {
    return tl::unexpected(Error{"file.read", fmt::format("cannot read {}: {}", path, reason)});
}

bool has_ending(std::string_view text, std::string_view ending) {
    return text.size() >= ending.size() && text.substr(text.size() - ending.size()) == ending;
}

bool is_records_name(std::string name) {
    for (char& c : name) c = ascii::lower(c);
    for (const std::string_view packed : {".gz", ".zst"}) {
        if (has_ending(name, packed)) name.resize(name.size() - packed.size());
    }
    return has_ending(name, ".ndjson") || has_ending(name, ".jsonl") || has_ending(name, ".json");
}

class Finder {
  public:
    Result<void> path(const std::string& path) {
        if (path == "-") return out_.files.push_back(path), Result<void>{};
        std::error_code error;
        const fs::file_status status = fs::status(path, error);
        if (fs::is_directory(status)) return folder(path);
        if (!fs::exists(status)) {
            const bool link = fs::is_symlink(fs::symlink_status(path, error));
            return cannot_read(path,
                               link ? "it is a link to a file that is not there" : "no such file or folder");
        }
        take(path);
        return {};
    }
    InputFiles take_all() { return std::move(out_); }

  private:
    Result<void> folder(const std::string& path) {
        std::vector<std::string> found;
        std::vector<std::string> others;
        std::error_code error;
        for (fs::recursive_directory_iterator entry(path, error), end; !error && entry != end;
             entry.increment(error)) {
            const std::string name = entry->path().filename().string();
            std::error_code ignored;
            const bool is_folder = entry->is_directory(ignored) && !entry->is_symlink(ignored);
            if (name.front() == '.' || (is_folder && name == unfinished_folder)) {
                entry.disable_recursion_pending();
            } else if (is_folder) {
                continue;
            } else if (!entry->is_regular_file(ignored)) {
                out_.no_files.push_back(entry->path().string());
            } else if (is_output_name(name)) {
                out_.of_audits.push_back(entry->path().string());
            } else {
                (is_records_name(name) ? found : others).push_back(entry->path().string());
            }
        }
        if (error) return cannot_read(path, error.message());
        if (found.empty()) {
            std::sort(others.begin(), others.end());
            return cannot_read(path, "no *.ndjson, *.jsonl or *.json in this folder" +
                                         (others.empty() ? "" : fmt::format(", but {}", others.front())));
        }
        std::sort(found.begin(), found.end());
        for (const std::string& file : found) take(file);
        out_.other_names.insert(out_.other_names.end(), others.begin(), others.end());
        return {};
    }

    void take(const std::string& path) {
        struct stat status {};
        if (::stat(path.c_str(), &status) == 0 && S_ISREG(status.st_mode)) {
            if (!seen_.emplace(status.st_dev, status.st_ino).second) {
                out_.again.push_back(path);
                return;
            }
            if (status.st_size == 0) out_.empty.push_back(path);
        }
        out_.files.push_back(path);
    }

    InputFiles out_;
    std::set<std::pair<::dev_t, ::ino_t>> seen_;
};

}  // namespace

Result<InputFiles> expand_inputs(const std::vector<std::string>& paths) {
    Finder finder;
    for (const std::string& path : paths) {
        if (auto found = finder.path(path); !found) return tl::unexpected(found.error());
    }
    InputFiles all = finder.take_all();
    for (auto* named : {&all.other_names, &all.of_audits, &all.no_files}) {
        std::sort(named->begin(), named->end());
        named->erase(std::unique(named->begin(), named->end()), named->end());
    }
    return all;
}

}  // namespace linelaw::runtime
