#include "compiler/cli/audit_progress.hpp"

#include <fmt/format.h>

#include <cmath>
#include <memory>
#include <optional>

#include "compiler/cli/terminal.hpp"
#include "runtime/findings_words.hpp"
#include "runtime/summary.hpp"

namespace linelaw::compiler::cli {
namespace {

struct Line {
    explicit Line(bool wanted) : shown(wanted) {}
    ProgressLine shown;
    std::optional<runtime::Progress> begun;
};

}  // namespace

std::string progress_words(const runtime::Progress& begun, const runtime::Progress& now, double seconds) {
    const double rate = static_cast<double>(now.records - begun.records) / seconds;
    std::string line = fmt::format("{} records, {} a second", runtime::grouped(now.records),
                                   runtime::grouped(static_cast<std::uint64_t>(rate)));
    if (now.bytes_total == 0 || now.bytes_read <= begun.bytes_read) return line;
    const auto total = static_cast<double>(now.bytes_total);
    const auto read = static_cast<double>(now.bytes_read);
    const double left = seconds * (total - read) / (read - static_cast<double>(begun.bytes_read));
    return line + fmt::format(", {:.0f} %, {} left", 100 * read / total,
                              runtime::Words::lasted(std::llround(left) * 1'000'000));
}

std::function<void(const runtime::Progress&)> progress_line(bool wanted) {
    return [line = std::make_shared<Line>(wanted)](const runtime::Progress& now) {
        if (!line->begun) {
            line->begun = now;
        } else if (now.records > line->begun->records) {
            line->shown.show([&](double seconds) { return progress_words(*line->begun, now, seconds); });
        }
    };
}

}  // namespace linelaw::compiler::cli
