#include "compiler/cli/judging.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <filesystem>

#include "compiler/cli/commands.hpp"
#include "compiler/load.hpp"
#include "runtime/episode.hpp"
#include "runtime/joined.hpp"
#include "runtime/policy_json.hpp"

namespace linelaw::compiler::cli {
namespace {

bool is_policy(const std::string& path) {
    constexpr std::string_view ending = ".linelaw";
    if (path.size() > ending.size() && path.compare(path.size() - ending.size(), ending.size(), ending) == 0)
        return true;
    // What is read of a pipe to see what it is would be lost to whoever reads the records in it.
    std::error_code ignored;
    if (!std::filesystem::is_regular_file(path, ignored)) return false;
    // The schema may be named anywhere in it; records have their own, and may be far longer than any policy.
    if (std::filesystem::file_size(path, ignored) > longest_text || ignored) return false;
    const auto text = content_of(path, longest_text);
    return text && runtime::is_compiled_policy(*text);
}

}  // namespace

Operands operands(const std::vector<std::string>& given) {
    Operands out;
    bool policies = true;
    for (const std::string& path : given) {
        policies = policies && (out.policies.empty() || is_policy(path));
        (policies ? out.policies : out.records).push_back(path);
    }
    return out;
}

std::optional<runtime::Policy> policy_of(const Operands& operands, const std::vector<std::string>& accept,
                                         const Manner& manner) {
    std::vector<runtime::Policy> policies;
    for (const std::string& path : operands.policies) {
        Loaded loaded = load_policy(path, accept);
        warn(what_was_said(loaded, render_options(manner, Stream::error)));
        if (!loaded.policy && !loaded.error)
            warn(fmt::format("{}: no record is judged by it while that stands; mend it{}\n", path,
                             loaded.compilation.compiled ? ", or let it stand with `--accept CODE`" : ""));
        if (!loaded.policy) return std::nullopt;
        policies.push_back(std::move(*loaded.policy));
    }
    auto together = runtime::joined(std::move(policies));
    if (together) return std::move(*together);
    refuse(together.error());
    return std::nullopt;
}

namespace {

runtime::Result<runtime::Instant> read_moment(const std::string& text, const std::string& zone_name) {
    const auto zone = runtime::Zone::of(zone_name);
    if (const auto instant = runtime::read_instant(text)) return *instant;
    if (const auto date = runtime::read_date(text)) return zone.begin_of(*date);
    bool ambiguous = false;
    if (const auto instant = runtime::read_local_instant(text, zone, ambiguous)) return *instant;
    if (const auto instant = runtime::read_local_instant(text + ":00", zone, ambiguous)) return *instant;
    return tl::unexpected(runtime::Error{
        "option.moment",
        ambiguous ? fmt::format("`{}` is no single moment in {}, because the clocks change; give its offset",
                                text, zone_name)
                  : fmt::format(
                        "`{}` is no moment; write 2026-03-20, 2026-03-20T08:00 or 2026-03-20T08:00:00-04:00",
                        text)});
}

}  // namespace

runtime::Result<runtime::Instant> moment(const std::string& text, const std::string& zone_name) {
    using namespace std::chrono;
    auto instant = read_moment(text, zone_name);
    const runtime::Instant now = duration_cast<microseconds>(system_clock::now().time_since_epoch()).count();
    if (!instant || *instant - now <= runtime::longest_record_days * runtime::microseconds_per_day)
        return instant;
    return tl::unexpected(runtime::Error{
        "option.moment",
        fmt::format("`{}` is more than a century from now: days would be judged one by one; look at its year",
                    text)});
}

int refuse(const runtime::Error& error) {
    warn(error.message + "\n");
    return error.code == "file.write" ? not_written : not_carried_out;
}

}  // namespace linelaw::compiler::cli
