#include "compiler/written_otherwise.hpp"

#include <algorithm>

#include "compiler/layers.hpp"
#include "compiler/report.hpp"
#include "grammar/format.hpp"
#include "grammar/to_text.hpp"

namespace linelaw::compiler {

using namespace grammar;

namespace {

struct Piece {
    std::string part;
    std::string words;
};
struct WrittenItem {
    std::string kind;
    std::string name;
    bool in_order = false;  // of its rows the first that fits wins
    std::vector<Piece> pieces;
};

// On one line, without comments. What stands in quotation marks is no comment.
std::string on_one_line(std::string_view text) {
    std::string out;
    bool quoted = false;
    bool comment = false;
    for (const char c : text) {
        if (c == '\n') comment = false;
        if (c == '"' && !comment && (out.empty() || out.back() != '\\')) quoted = !quoted;
        if (c == '#' && !quoted) comment = true;
        if (comment) continue;
        if (c != ' ' && c != '\n' && c != '\t' && c != '\r')
            out += c;
        else if (!out.empty() && out.back() != ' ')
            out += ' ';
    }
    while (!out.empty() && out.back() == ' ') out.pop_back();
    return out;
}

// The item's pieces, each in the words of the text.
class Pieces {
  public:
    Pieces(const Sources& sources, WrittenItem& out) : sources_(sources), out_(out) {}

    void head(const PolicyHeader& head) {
        std::string force = head.in_force_from ? "in force from " + to_text(*head.in_force_from) : "";
        if (head.in_force_until) force += " until " + to_text(*head.in_force_until);
        put("in force", force);
        put("review by", head.review_by ? "review by " + to_text(*head.review_by) : "");
        put("owner", head.owner ? "owner " + to_text(*head.owner) : "");
        put("governs", head.governs ? "governs " + to_text(head.governs->condition) : "");
        put("time zone", head.time_zone ? "time zone " + head.time_zone->text : "");
        for (const auto& file : head.measured_against)
            put("measured against", "measured against " + to_text(file));
        if (head.undocumented)
            put("undocumented",
                std::string("undocumented counts as ") +
                    (*head.undocumented == UndocumentedCounts::not_met ? "not met" : "not assessable"));
    }
    void item(const ClauseItem& clause, Place /*whole*/) {
        if (clause.sentence) put("sentence", to_text(*clause.sentence));
        for (const auto& line : clause.lines) {
            // The places of `for` and `for each` begin after that word, which the two share.
            const std::string part = part_of(line);
            put(part, (part == "for" || part == "for each" ? "for " : "") + slice(line.place));
        }
    }
    void item(const EscalationItem& ladder, Place /*whole*/) {
        put("sentence", to_text(ladder.sentence));
        for (std::size_t s = 0; s < ladder.steps.size(); ++s) {
            const auto& step = ladder.steps[s];
            const std::string number = std::to_string(s + 1);
            put("step " + number, (s == 0 ? "first notify " : "then notify ") + to_text(step.roles, " or ") +
                                      " within " + to_text(step.within));
            if (step.if_not_acknowledged_within)
                put("wait before step " + number,
                    "if not acknowledged within " + to_text(*step.if_not_acknowledged_within));
        }
        for (const auto& hold : ladder.holds) put("hold", slice(hold.place));
    }
    void item(const TableItem& table, Place /*whole*/) {
        put("columns", "given " + to_text(table.given, " | ") + " gives " + to_text(table.gives, " | ") +
                           (table.first_row_wins ? ", the first row that fits wins" : ""));
        out_.in_order = table.first_row_wins;
        for (const auto& row : table.rows) put("row", slice(row.place));
    }
    void item(const PatientBlock& block, Place /*whole*/) { attributes(block.attributes); }
    void item(const LineBlock& block, Place /*whole*/) { attributes(block.attributes); }
    void item(const PartItem& part, Place whole) {
        first_line(whole, part.attributes, {});
        attributes(part.attributes);
    }
    void item(const EventItem& event, Place whole) {
        first_line(whole, event.attributes, event.steps);
        attributes(event.attributes);
        put("steps", event.steps.empty() ? "" : "steps : " + to_text(event.steps, ", "));
    }
    template <typename Other>
    void item(const Other& /*nothing of it alone*/, Place whole) {
        put("text", slice(whole));
    }

  private:
    void put(std::string part, std::string words) {
        if (!words.empty()) out_.pieces.push_back({std::move(part), std::move(words)});
    }
    std::string slice(Place place) const { return on_one_line(sources_.slice(place)); }
    // Which kind of line it is: the word that it begins with.
    std::string part_of(const ClauseLine& line) const {
        static constexpr std::string_view parts[] = {"for",
                                                     "for each",
                                                     "while",
                                                     "even after removal",
                                                     "at",
                                                     "after",
                                                     "before",
                                                     "once",
                                                     "must",
                                                     "except when",
                                                     "otherwise escalate",
                                                     "then escalate",
                                                     "overrides",
                                                     "priority",
                                                     "source",
                                                     "reason",
                                                     "advice",
                                                     "departs from",
                                                     "undocumented"};
        static_assert(std::variant_size_v<decltype(ClauseLine::node)> == std::size(parts));
        return std::string(parts[line.node.index()]);
    }
    void attributes(const std::vector<Attribute>& all) {
        for (const auto& attribute : all) put("attribute " + attribute.name.text, slice(attribute.place));
    }
    void first_line(Place whole, const std::vector<Attribute>& attributes, const std::vector<Name>& steps) {
        if (!attributes.empty()) whole.end = attributes.front().place.begin;
        if (attributes.empty() && !steps.empty()) whole.end = steps.front().place.begin;
        put("text", slice(whole));
    }

    const Sources& sources_;
    WrittenItem& out_;
};

// The id or the name; of what has none, what it speaks of.
std::string name_in(const Item& item) {
    if (const auto* name = name_of(item)) return name->text;
    if (const auto* aside = std::get_if<SetAsideQuestion>(&item.node)) return aside->question.text;
    if (const auto* accepted = std::get_if<AcceptItem>(&item.node)) return accepted->code.text;
    return "";
}

// Items that have neither an id nor a name stand together as one.
std::vector<WrittenItem> items_of(const Compilation& compilation) {
    const Layers& layers = *compilation.layers;
    std::vector<WrittenItem> out{{"head", "", false, {}}};
    Pieces(compilation.sources, out.front()).head(layers.header);
    for (const Item* item : layers.items) {
        if (std::holds_alternative<ExampleItem>(item->node)) continue;
        const std::string kind(kind_of(*item));
        const std::string name = name_in(*item);
        auto at = std::find_if(out.begin(), out.end(), [&](const WrittenItem& other) {
            return other.kind == kind && other.name == name;
        });
        if (at == out.end()) at = out.insert(out.end(), {kind, name, false, {}});
        Pieces pieces(compilation.sources, *at);
        std::visit([&](const auto& node) { pieces.item(node, item->place); }, item->node);
    }
    return out;
}

std::vector<std::string> words_of(const WrittenItem& item, const std::string& part) {
    std::vector<std::string> words;
    for (const auto& piece : item.pieces)
        if (piece.part == part) words.push_back(piece.words);
    return words;
}

// Takes out of both what stands in both, as often as it does.
void without_common(std::vector<std::string>& a, std::vector<std::string>& b) {
    for (auto it = a.begin(); it != a.end();) {
        const auto same = std::find(b.begin(), b.end(), *it);
        if (same == b.end()) {
            ++it;
            continue;
        }
        b.erase(same);
        it = a.erase(it);
    }
}

void compare_part(const WrittenItem& before, const WrittenItem& now, const std::string& part,
                  std::vector<Rewritten>& out) {
    const auto all_old = words_of(before, part);
    const auto all_new = words_of(now, part);
    auto old = all_old;
    auto fresh = all_new;
    without_common(old, fresh);
    if (old.empty() && fresh.empty() && now.in_order && before.in_order)  // the same rows in another order
        for (std::size_t i = 0; i < all_old.size(); ++i)
            if (all_old[i] != all_new[i]) {
                old.push_back(all_old[i]);
                fresh.push_back(all_new[i]);
            }
    for (std::size_t i = 0; i < std::max(old.size(), fresh.size()); ++i)
        out.push_back(
            {now.kind, now.name, part, i < old.size() ? old[i] : "", i < fresh.size() ? fresh[i] : ""});
}

void compare_item(const WrittenItem& before, const WrittenItem& now, std::vector<Rewritten>& out) {
    std::vector<std::string> parts;
    for (const auto* item : {&now, &before})
        for (const auto& piece : item->pieces)
            if (std::find(parts.begin(), parts.end(), piece.part) == parts.end()) parts.push_back(piece.part);
    for (const auto& part : parts) compare_part(before, now, part, out);
}

std::string first_words(const WrittenItem& item) {
    return item.pieces.empty() ? item.kind : item.pieces.front().words;
}

const WrittenItem* find(const std::vector<WrittenItem>& items, const WrittenItem& like) {
    for (const auto& item : items)
        if (item.kind == like.kind && item.name == like.name) return &item;
    return nullptr;
}

}  // namespace

std::vector<Rewritten> written_otherwise(const Compilation& before, const Compilation& now) {
    std::vector<Rewritten> out;
    if (before.layers == nullptr || now.layers == nullptr) return out;
    const auto old = items_of(before);
    const auto fresh = items_of(now);
    for (const auto& item : fresh) {
        if (const auto* was = find(old, item))
            compare_item(*was, item, out);
        else
            out.push_back({item.kind, item.name, "whole", "", first_words(item)});
    }
    for (const auto& item : old)
        if (find(fresh, item) == nullptr)
            out.push_back({item.kind, item.name, "whole", first_words(item), ""});
    return out;
}

std::string place_in_words(const Rewritten& written) {
    std::string out = written.kind;
    if (!written.item.empty()) out += ' ' + in_ticks(written.item);
    if (written.kind == "escalation" && written.part.find("step ") != std::string::npos)
        out += ", " + written.part;
    return out;
}

}  // namespace linelaw::compiler
