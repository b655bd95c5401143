#include "compiler/cli/diagnostics_json.hpp"

#include <cstdint>
#include <map>
#include <nlohmann/json.hpp>

#include "runtime/content_hash.hpp"

namespace linelaw::compiler::cli {

using grammar::Diagnostic;
using grammar::Severity;
using grammar::Sources;
using Json = nlohmann::ordered_json;

std::string_view severity_name(Severity severity) {
    switch (severity) {
        case Severity::error:
            return "error";
        case Severity::against:
            return "against";
        case Severity::warning:
            return "warning";
        case Severity::note:
            break;
    }
    return "note";
}

namespace {

std::string help_text(const Diagnostic& diagnostic) {
    std::string help;
    for (const auto& mend : grammar::ways_out(diagnostic)) help += (help.empty() ? "" : "; ") + mend.text;
    return help;
}

Json place_json(const Sources& sources, const grammar::Label& label) {
    const auto begin = sources.locate(label.place.text, label.place.begin);
    const auto end = sources.locate(label.place.text, label.place.end);
    return {{"file", sources.text(label.place.text).name},
            {"line", begin.line},
            {"column", begin.column},
            {"end_line", end.line},
            {"end_column", end.column},
            {"label", label.text}};
}

Json witness_json(const grammar::Witness& witness) {
    Json situation = Json::object();
    for (const auto& [what, value] : witness.situation) situation[what] = value;
    Json json = {{"situation", situation}};
    if (!witness.episode.empty()) {
        auto episode = Json::parse(witness.episode, nullptr, false);
        json["episode"] = episode.is_discarded() ? Json(witness.episode) : std::move(episode);
    }
    if (!witness.example.empty()) json["example"] = witness.example;
    json["outcomes"] = witness.outcomes;
    return json;
}

// The same on every machine, and for the same words wherever in the file they stand.
std::string fingerprint(const Sources& sources, const Diagnostic& diagnostic) {
    runtime::ContentHash hash;
    const auto add = [&](std::string_view text) {
        hash.add(text);
        hash.add("\xFF");  // in no text
    };
    add(diagnostic.code);
    add(diagnostic.message);
    for (const auto& label : diagnostic.labels) {
        add(sources.text(label.place.text).name);
        add(sources.slice(label.place));
    }
    return hash.digits();
}

std::string_view level(Severity severity) {
    switch (severity) {
        case Severity::error:
        case Severity::against:
            return "error";
        case Severity::warning:
            return "warning";
        case Severity::note:
            break;
    }
    return "note";
}

Json region(const Sources& sources, grammar::Place place) {
    const auto begin = sources.locate(place.text, place.begin);
    const auto end = sources.locate(place.text, place.end);
    return {{"startLine", begin.line},
            {"startColumn", begin.column},
            {"endLine", end.line},
            {"endColumn", end.column}};
}

// A path as a URI reference: what RFC 3986 does not let stand is written in hexadecimal.
std::string uri(const std::string& path) {
    std::string out;
    for (const char c : path) {
        const bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
                           c == '/' || c == '.' || c == '-' || c == '_' || c == '~';
        if (plain) {
            out += c;
        } else {
            const auto byte = static_cast<unsigned char>(c);
            out += '%';
            out += "0123456789ABCDEF"[byte >> 4U];
            out += "0123456789ABCDEF"[byte & 0xFU];
        }
    }
    return out;
}

Json location(const Sources& sources, const grammar::Label& label) {
    Json json = {{"physicalLocation",
                  {{"artifactLocation", {{"uri", uri(sources.text(label.place.text).name)}}},
                   {"region", region(sources, label.place)}}}};
    if (!label.text.empty()) json["message"] = {{"text", label.text}};
    return json;
}

Json fix(const Sources& sources, const grammar::Mend& mend) {
    return {{"description", {{"text", mend.text}}},
            {"artifactChanges",
             Json::array(
                 {{{"artifactLocation", {{"uri", uri(sources.text(mend.place->text).name)}}},
                   {"replacements", Json::array({{{"deletedRegion", region(sources, *mend.place)},
                                                  {"insertedContent", {{"text", mend.replacement}}}}})}}})}};
}

Json result(const Sources& sources, const Diagnostic& diagnostic, std::size_t rule) {
    std::string text = diagnostic.message;
    for (const auto& note : diagnostic.notes) text += "\n" + note;
    if (!diagnostic.accepted.empty()) text += "\naccepted: " + diagnostic.accepted;
    if (const auto help = help_text(diagnostic); !help.empty()) text += "\nhelp: " + help;
    Json json = {{"ruleId", diagnostic.code},
                 {"ruleIndex", rule},
                 {"level", level(diagnostic.severity)},
                 {"message", {{"text", text}}},
                 {"locations", Json::array()}};
    Json related = Json::array();
    for (std::size_t i = 0; i < diagnostic.labels.size(); ++i)
        (i == 0 ? json["locations"] : related).push_back(location(sources, diagnostic.labels[i]));
    if (!related.empty()) json["relatedLocations"] = std::move(related);
    json["partialFingerprints"] = {{"linelawFinding/v2", fingerprint(sources, diagnostic)}};
    Json fixes = Json::array();
    for (const auto& mend : diagnostic.mends)
        if (mend.place && !mend.replacement.empty()) fixes.push_back(fix(sources, mend));
    if (!fixes.empty()) json["fixes"] = std::move(fixes);
    if (diagnostic.witness) json["properties"] = {{"witness", witness_json(*diagnostic.witness)}};
    return json;
}

}  // namespace

std::string diagnostics_json(const std::vector<SaidOfPolicy>& said,
                             const std::vector<std::string>& not_done) {
    Json all = Json::array();
    for (const auto& policy : said)
        for (const auto& diagnostic : *policy.diagnostics) {
            Json places = Json::array();
            for (const auto& label : diagnostic.labels) places.push_back(place_json(*policy.sources, label));
            Json json = {{"code", diagnostic.code},
                         {"severity", severity_name(diagnostic.severity)},
                         {"message", diagnostic.message},
                         {"places", std::move(places)}};
            if (!diagnostic.accepted.empty()) json["accepted"] = diagnostic.accepted;
            if (!diagnostic.notes.empty()) json["notes"] = diagnostic.notes;
            if (diagnostic.witness) json["witness"] = witness_json(*diagnostic.witness);
            if (const auto help = help_text(diagnostic); !help.empty()) json["help"] = help;
            all.push_back(std::move(json));
        }
    Json out = {{"diagnostics", std::move(all)}};
    if (!not_done.empty()) out["not_done"] = not_done;
    return out.dump(2) + '\n';
}

std::string diagnostics_sarif(const std::vector<SaidOfPolicy>& said,
                              const std::vector<std::string>& not_done) {
    Json rules = Json::array();
    std::map<std::string, std::size_t, std::less<>> rule_of;
    for (const auto& code : grammar::diagnostic_codes()) {
        rule_of.emplace(code.code, rules.size());
        rules.push_back({{"id", code.code},
                         {"shortDescription", {{"text", code.title}}},
                         {"help", {{"text", "linelaw explain " + std::string(code.code)}}},
                         {"defaultConfiguration", {{"level", level(code.severity)}}}});
    }
    Json results = Json::array();
    for (const auto& policy : said)
        for (const auto& diagnostic : *policy.diagnostics)
            results.push_back(result(*policy.sources, diagnostic, rule_of.at(diagnostic.code)));
    Json notifications = Json::array();
    for (const auto& line : not_done)
        notifications.push_back({{"level", "note"}, {"message", {{"text", line}}}});
    const Json run = {
        {"tool",
         {{"driver", {{"name", "linelaw"}, {"semanticVersion", "0.1.0"}, {"rules", std::move(rules)}}}}},
        {"invocations", Json::array({{{"executionSuccessful", true},
                                      {"toolExecutionNotifications", std::move(notifications)}}})},
        {"columnKind", "unicodeCodePoints"},
        {"results", std::move(results)}};
    const Json sarif = {
        {"$schema",
         "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"},
        {"version", "2.1.0"},
        {"runs", Json::array({run})}};
    return sarif.dump(2) + '\n';
}

}  // namespace linelaw::compiler::cli
