#include "compiler/layers.hpp"

#include <algorithm>
#include <filesystem>

#include "grammar/parse.hpp"

namespace linelaw::compiler {

using namespace grammar;

const Name* name_of(const Item& item) {
    return std::visit(
        [](const auto& node) -> const Name* {
            using T = std::decay_t<decltype(node)>;
            if constexpr (std::is_same_v<T, ClauseItem> || std::is_same_v<T, EscalationItem> ||
                          std::is_same_v<T, BundleItem>)
                return &node.id;
            else if constexpr (std::is_same_v<T, PartItem> || std::is_same_v<T, EventItem> ||
                               std::is_same_v<T, StateItem> || std::is_same_v<T, QuestionItem> ||
                               std::is_same_v<T, SourceItem> || std::is_same_v<T, ShiftItem> ||
                               std::is_same_v<T, TermItem> || std::is_same_v<T, TableItem>)
                return &node.name;
            else
                return nullptr;
        },
        item.node);
}

std::string_view kind_of(const Item& item) {
    static constexpr std::string_view kinds[] = {"patient",   "line",   "part",     "event",      "state",
                                                 "role",      "never",  "question", "source",     "shift",
                                                 "term",      "table",  "clause",   "escalation", "bundle",
                                                 "set aside", "accept", "drop",     "example",    "replace"};
    static_assert(std::variant_size_v<decltype(Item::node)> == std::size(kinds));
    return kinds[item.node.index()];
}

namespace {

// Reads texts each once, and notices circles.
class Reader {
  public:
    Reader(const FileReader& reader, Sources& sources, Report& report, Layers& layers)
        : reader_(reader), sources_(sources), report_(report), layers_(layers) {}

    void read_first(const std::string& path) {
        auto content = reader_(path);
        if (!content) {
            const auto text = sources_.add({path, ""});
            report_.add("name.file", "the file " + in_ticks(path) + " cannot be read", {text, 0, 0});
            layers_.complete = false;
            return;
        }
        open_.push_back(key(path));
        layers_.called[path] = std::filesystem::path(path).filename().string();
        const Tree& tree = parse_text(path, std::move(*content));
        layers_.is_policy = !std::holds_alternative<VocabularyHeader>(tree.header);
        take(path, tree);
        if (layers_.is_policy) expect_vocabulary();
    }

  private:
    // Without one every name would be unknown: that one line is lacking is said, and not each name.
    void expect_vocabulary() {
        const auto declares_events = [](const Item* item) {
            return std::holds_alternative<EventItem>(item->node);
        };
        if (layers_.header.uses_vocabulary || !layers_.complete || layers_.items.empty() ||
            std::any_of(layers_.items.begin(), layers_.items.end(), declares_events))
            return;
        layers_.complete = false;
        if (!layers_.whole) return;  // its line may have the fault that was told
        auto& d = report_.add("missing.vocabulary",
                              "the policy uses no vocabulary, so that none of its words is known",
                              layers_.header.title.place, "no `uses vocabulary` follows");
        advise(d, "write `uses vocabulary` and the file's name, as `uses vocabulary \"line-care.linelaw\"`");
    }

    static std::string key(const std::string& path) {
        return std::filesystem::path(path).lexically_normal().string();
    }
    static std::string beside(const std::string& path, const std::string& named) {
        if (path == "-") return named;
        return (std::filesystem::path(path).parent_path() / named).lexically_normal().string();
    }

    const Tree& parse_text(const std::string& path, std::string content) {
        const auto text = sources_.add({path, std::move(content)});
        Parsed parsed = parse(sources_, text);
        for (const auto& d : parsed.diagnostics)
            if (d.severity == Severity::error) layers_.whole = false;
        report_.add(std::move(parsed.diagnostics));
        layers_.trees.push_back(std::move(parsed.tree));
        return layers_.trees.back();
    }

    // The text that `named` names, beside `path`. What was read before is not read again.
    enum class Wanted { policy, vocabulary };
    void read_also(const std::string& path, const Text& named, Wanted wanted) {
        const std::string file = beside(path, named.text);
        if (std::find(open_.begin(), open_.end(), key(file)) != open_.end()) {
            report_.add("name.circle", in_ticks(named.text) + " leads back to itself", named.place,
                        "this text is already being read");
            return;
        }
        if (std::find(done_.begin(), done_.end(), key(file)) != done_.end()) return;
        auto content = reader_(file);
        if (!content) {
            auto& d = report_.add("name.file", "the file " + in_ticks(file) + " cannot be read", named.place,
                                  "named here");
            d.notes.push_back("a file is looked for beside the text that names it");
            layers_.complete = false;
            return;
        }
        open_.push_back(key(file));
        layers_.called[file] = beside(layers_.called.at(path), named.text);
        const Tree& tree = parse_text(file, std::move(*content));
        const bool vocabulary = std::holds_alternative<VocabularyHeader>(tree.header);
        const bool policy = std::holds_alternative<PolicyHeader>(tree.header);
        if ((wanted == Wanted::policy && vocabulary) || (wanted == Wanted::vocabulary && policy)) {
            report_.add("name.file",
                        in_ticks(named.text) + (vocabulary ? " is a vocabulary, not a policy"
                                                           : " is a policy, not a vocabulary"),
                        named.place, "named here");
            layers_.complete = false;
        } else {
            take(file, tree);
        }
        open_.pop_back();
        done_.push_back(key(file));
    }

    // Everything that this text is made of, its own items last.
    void take(const std::string& path, const Tree& tree) {
        if (const auto* vocabulary = std::get_if<VocabularyHeader>(&tree.header)) {
            for (const auto& other : vocabulary->extends) read_also(path, other, Wanted::vocabulary);
            layers_.vocabulary = *vocabulary;
        } else if (const auto* header = std::get_if<PolicyHeader>(&tree.header)) {
            if (header->uses_vocabulary) read_also(path, *header->uses_vocabulary, Wanted::vocabulary);
            if (header->builds_on) read_also(path, *header->builds_on, Wanted::policy);
            inherit(*header);
            if (!header->measured_against.empty()) layers_.measured_against.clear();
            for (const auto& other : header->measured_against)
                layers_.measured_against.push_back(beside(path, other.text));
        }
        for (const auto& item : tree.items) add(item);
    }

    // What a layer's header leaves unsaid is its base's; title, edition and dates are each layer's own.
    void inherit(const PolicyHeader& newer) {
        const PolicyHeader older = std::exchange(layers_.header, newer);
        auto& header = layers_.header;
        if (!header.owner) header.owner = older.owner;
        if (!header.governs) header.governs = older.governs;
        if (!header.time_zone) header.time_zone = older.time_zone;
        if (!header.undocumented) header.undocumented = older.undocumented;
        if (!header.uses_vocabulary) header.uses_vocabulary = older.uses_vocabulary;
        if (header.measured_against.empty()) header.measured_against = older.measured_against;
    }

    void add(const Item& item) {
        // A policy's examples are tests of it as a whole: of a layer below they are not taken along.
        if (std::holds_alternative<ExampleItem>(item.node) && item.place.text != 0) return;
        if (const auto* replacement = std::get_if<ReplaceItem>(&item.node))
            replace(*replacement);
        else if (const auto* drop = std::get_if<DropClause>(&item.node))
            remove(*drop);
        else
            layers_.items.push_back(&item);
    }

    auto find(std::string_view kind, const std::string& id) {
        return std::find_if(layers_.items.begin(), layers_.items.end(), [&](const Item* item) {
            return kind_of(*item) == kind && name_of(*item) != nullptr && name_of(*item)->text == id;
        });
    }

    void nothing_to(std::string_view verb, std::string_view kind, const Name& id) {
        std::vector<std::string> ids;
        for (const Item* item : layers_.items)
            if (kind_of(*item) == kind && name_of(*item) != nullptr) ids.push_back(name_of(*item)->text);
        auto& d = report_.add(
            "name.unknown",
            "there is no " + std::string(kind) + ' ' + in_ticks(id.text) + " to " + std::string(verb),
            id.place, "no policy that this one builds on has it");
        offer_near(d, id.text, id.place, ids);
    }

    void replace(const ReplaceItem& replacement) {
        const Item& with = *replacement.with;
        const Name* id = name_of(with);
        if (id == nullptr) return;
        const auto old = find(kind_of(with), id->text);
        if (old == layers_.items.end())
            nothing_to("replace", kind_of(with), *id);
        else
            *old = &with;
    }

    void remove(const DropClause& drop) {
        const auto old = find("clause", drop.id.text);
        if (old == layers_.items.end()) {
            nothing_to("drop", "clause", drop.id);
            return;
        }
        layers_.items.erase(old);
        layers_.dropped.push_back({drop.id.text, drop.place});
    }

    const FileReader& reader_;
    Sources& sources_;
    Report& report_;
    Layers& layers_;
    std::vector<std::string> open_;
    std::vector<std::string> done_;
};

}  // namespace

Layers read_layers(const std::string& path, const FileReader& reader, Sources& sources, Report& report) {
    Layers layers;
    Reader(reader, sources, report, layers).read_first(path);
    return layers;
}

}  // namespace linelaw::compiler
