#include "compiler/cli/checkpoint.hpp"

#include <fmt/format.h>
#include <sys/stat.h>

#include <filesystem>
#include <nlohmann/json.hpp>

#include "compiler/cli/audit_files.hpp"
#include "compiler/cli/judging.hpp"
#include "compiler/read_file.hpp"
#include "runtime/input_files.hpp"

namespace linelaw::compiler::cli {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::string_view schema = "linelaw/checkpoint/2";

Json head(const MadeWith& made_with, const char* state) {
    Json inputs = Json::array();
    for (const MadeWith::Input& input : made_with.inputs)
        inputs.push_back({{"path", input.path}, {"size", input.size}, {"modified", input.modified}});
    Json options = Json::object();
    for (const auto& [name, value] : made_with.options) options[name] = value;
    return {{"schema", schema}, {"state", state}, {"options", options}, {"inputs", inputs}};
}

// The second line says what was judged, by which policy and program, and, halfway, what was counted.
std::string two_lines(const Json& first, const runtime::Audited& audited, const runtime::Tally& tally) {
    return runtime::sealed(first.dump(-1, ' ', false, Json::error_handler_t::replace)) + "\n" +
           runtime::partial_json(audited, tally);
}

// Where the records are not those of before, in words; empty: they are.
std::string other_records(const std::vector<MadeWith::Input>& now, const std::vector<MadeWith::Input>& then) {
    for (std::size_t i = 0; i < std::min(now.size(), then.size()); ++i) {
        if (now[i].path != then[i].path)
            return fmt::format("it read {} where {} is given now", then[i].path, now[i].path);
        if (now[i] != then[i]) return fmt::format("{} has been changed since", now[i].path);
    }
    if (now.size() != then.size())
        return fmt::format("it read {} files, and {} are given now", then.size(), now.size());
    return {};
}

// What is not as it was, in words; empty: nothing.
std::string what_differs(const MadeWith& now, const Json& then, const runtime::Audited& audited) {
    std::vector<MadeWith::Input> inputs;
    for (const Json& input : then.at("inputs")) {
        inputs.push_back({input.at("path").get<std::string>(), input.at("size").get<std::uint64_t>(),
                          input.at("modified").get<std::int64_t>()});
    }
    if (std::string words = other_records(now.inputs, inputs); !words.empty()) return words;
    for (const auto& [name, value] : now.options) {
        const std::string before = then.at("options").at(name).get<std::string>();
        if (before != value) return fmt::format("{} was {}, and is {} now", name, before, value);
    }
    if (audited != now.audited) return difference(now.audited, audited);
    return {};
}

Halfway read_halfway(const Json& json, runtime::Tally tally) {
    Halfway halfway;
    const Json& at = json.at("position");
    halfway.checkpoint.position = {at.at("file").get<std::uint32_t>(), at.at("offset").get<std::uint64_t>(),
                                   at.at("line").get<std::uint64_t>(), at.at("skipping").get<bool>()};
    halfway.checkpoint.tally = std::move(tally);
    for (const Json& file : json.at("files")) {
        halfway.files.push_back({file.at("name").get<std::string>(), file.at("length").get<std::uint64_t>(),
                                 file.at("hash").get<std::string>(), file.at("pending").get<std::string>()});
    }
    json.at("noted").get_to(halfway.noted);
    return halfway;
}

Complete read_complete(const Json& json) {
    return {json.at("files").get<std::vector<std::string>>(), json.at("status").get<int>(),
            json.at("said").get<std::string>()};
}

}  // namespace

runtime::Result<std::optional<MadeWith>> made_with(const runtime::AuditOptions& options,
                                                   const runtime::Audited& audited,
                                                   runtime::Packing packing) {
    const auto files = runtime::expand_inputs(options.inputs);
    if (!files) return tl::unexpected(files.error());
    MadeWith out;
    out.audited = audited;
    out.audited.keys = true;  // a partial summary does not say it; the options below do
    for (const std::string& file : files->files) {
        struct stat status {};
        if (file == "-" || ::stat(file.c_str(), &status) != 0 || !S_ISREG(status.st_mode))
            return std::nullopt;
        constexpr std::int64_t ns_per_s = 1'000'000'000;
        out.inputs.push_back({file, static_cast<std::uint64_t>(status.st_size),
                              status.st_mtim.tv_sec * ns_per_s + status.st_mtim.tv_nsec});
    }
    const char* findings = options.findings == runtime::FindingsWanted::all       ? "all"
                           : options.findings == runtime::FindingsWanted::nothing ? "none"
                                                                                  : "against";
    out.options = {{"--findings", findings},
                   {"--format", options.csv ? "csv" : "ndjson"},
                   {"--compress", std::string(runtime::packing_name(packing))},
                   {"--no-keys", options.keys ? "not given" : "given"},
                   {"--shard", fmt::format("{}/{}", options.shard.number, options.shard.of)}};
    return out;
}

std::string write_note(const MadeWith& made_with, const Halfway& halfway) {
    Json json = head(made_with, "halfway");
    const runtime::Position& at = halfway.checkpoint.position;
    json["position"] = {
        {"file", at.file}, {"offset", at.offset}, {"line", at.line}, {"skipping", at.skipping}};
    json["files"] = Json::array();
    for (const Written& file : halfway.files)
        json["files"].push_back(
            {{"name", file.name}, {"length", file.length}, {"hash", file.hash}, {"pending", file.pending}});
    json["noted"] = halfway.noted;
    return two_lines(json, made_with.audited, halfway.checkpoint.tally);
}

std::string write_note(const MadeWith& made_with, const Complete& complete) {
    Json json = head(made_with, "complete");
    json["files"] = complete.files;
    json["status"] = complete.status;
    json["said"] = complete.said;
    return two_lines(json, made_with.audited, {});
}

runtime::Result<std::optional<Note>> read_note(const std::string& path, const MadeWith& made_with) {
    std::error_code ignored;
    if (!std::filesystem::exists(path, ignored)) return std::nullopt;
    const auto text = content_of(path);
    if (!text) return tl::unexpected(text.error());
    const auto refuse = [&](const char* code, const std::string& what) {
        return tl::unexpected(runtime::Error{code, fmt::format("{}: {}", path, what)});
    };
    const std::string damaged =
        "this checkpoint is damaged, so the audit cannot go on; start it again without --resume";
    const std::size_t line_end = std::min(text->find('\n'), text->size());
    const auto first = runtime::unsealed(text->substr(0, line_end));
    const Json json = Json::parse(first.value_or(""), nullptr, false);
    const std::string made_by = json.is_object() ? json.value("schema", "") : "";
    if (made_by != schema && made_by.rfind("linelaw/checkpoint/", 0) == 0)
        return refuse("resume.differs",
                      "the unfinished audit here was begun by another version of the program; start it again "
                      "without --resume");
    if (made_by != schema) return refuse("resume.damaged", damaged);
    auto partial = runtime::read_partial(std::string_view(*text).substr(line_end));
    if (!partial) return refuse("resume.damaged", damaged);
    try {
        if (const std::string words = what_differs(made_with, json, partial->audited); !words.empty()) {
            return refuse("resume.differs",
                          fmt::format("the unfinished audit here cannot go on with this command: {}; give "
                                      "the command it was started with, or leave --resume out to begin anew",
                                      words));
        }
        if (json.at("state") == "complete") return Note(read_complete(json));
        return Note(read_halfway(json, std::move(partial->tally)));
    } catch (const Json::exception&) {
        return refuse("resume.damaged", damaged);
    }
}

}  // namespace linelaw::compiler::cli
