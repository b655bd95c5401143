#include "compiler/cli/input_notes.hpp"

#include <fmt/format.h>

#include "compiler/cli/terminal.hpp"
#include "runtime/summary.hpp"

namespace linelaw::compiler::cli {
namespace {

// "note: 5 files …: a, b, c and 2 more"
std::string note(const std::vector<std::string>& paths, std::string_view one, std::string_view several) {
    if (paths.empty()) return {};
    constexpr std::size_t most = 5;
    std::string out =
        paths.size() == 1 ? std::string(one) : fmt::format("{} {}", runtime::grouped(paths.size()), several);
    for (std::size_t i = 0; i < paths.size() && i < most; ++i) out += (i == 0 ? ": " : ", ") + paths[i];
    if (paths.size() > most) out += fmt::format(" and {} more", runtime::grouped(paths.size() - most));
    return out + "\n";
}

}  // namespace

std::string input_notes(const runtime::InputFiles& inputs) {
    std::string notes =
        note(inputs.other_names,
             "not read, as its name does not end in .ndjson, .jsonl or .json (then .gz or .zst)",
             "files are not read, as their names do not end in .ndjson, .jsonl or .json (then .gz or .zst)") +
        note(inputs.of_audits, "not read, as an audit wrote it",
             "files are not read, as an audit wrote them") +
        note(inputs.no_files, "not read, as it is a link to nothing or to a folder, or no file",
             "names are not read, as they are links to nothing or to a folder, or no files") +
        note(inputs.again, "given twice, and read once", "files are given twice, and read once") +
        note(inputs.empty, "empty", "files are empty");
    if (notes.empty() && inputs.files.size() == 1) return {};
    return fmt::format("reading {} {}\n{}", runtime::grouped(inputs.files.size()),
                       inputs.files.size() == 1 ? "file" : "files", notes);
}

runtime::Result<std::vector<std::string>> record_files(const std::vector<std::string>& given, bool quiet) {
    auto inputs = runtime::expand_inputs(given);
    if (!inputs) return tl::unexpected(inputs.error());
    if (!quiet) warn(input_notes(*inputs));
    return std::move(inputs->files);
}

std::string not_used_note(const runtime::ReadCounts& seen) {
    const auto names = [](const char* what, const runtime::ReadCounts::Names& counts) {
        constexpr std::size_t most = 5;
        std::string out;
        std::size_t shown = 0;
        for (const auto& [name, times] : counts) {
            if (++shown > most) continue;
            out += fmt::format("{}{} ({})", out.empty() ? "" : ", ", name, runtime::grouped(times));
        }
        if (shown > most) out += fmt::format(" and {} more", runtime::grouped(shown - most));
        return out.empty() ? out : fmt::format("{} {}", what, out);
    };
    const std::string events = names("events", seen.unknown_events);
    const std::string keys = names("keys", seen.unknown_keys);
    if (events.empty() && keys.empty()) return {};
    return fmt::format("not used, as the policy's word list does not have them: {}{}{}\n", events,
                       events.empty() || keys.empty() ? "" : "; ", keys);
}

std::string look_note(const std::string& file, std::string_view look) {
    return fmt::format("{}: {}\n", file == "-" ? "standard input" : file, look);
}

constexpr std::size_t looks_said = 5;

void LookNotes::add(const std::string& file, std::string_view look) {
    if (++count_ <= looks_said) notes_ += look_note(file, look);
}

std::string LookNotes::said() const {
    return count_ <= looks_said ? notes_
                                : notes_ + fmt::format("… and {} more files like these\n",
                                                       runtime::grouped(count_ - looks_said));
}

}  // namespace linelaw::compiler::cli
