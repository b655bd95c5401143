#include "compiler/names.hpp"

#include <algorithm>

#include "compiler/joined_values.hpp"

namespace linelaw::compiler {

using grammar::Name;

bool Index::add(const std::string& name, std::uint32_t id, grammar::Place place) {
    const bool fresh = entries_.emplace(name, Declared{id, place, false}).second;
    if (fresh) order_.push_back(name);
    return fresh;
}

const Declared* Index::use(std::string_view name) {
    const auto it = entries_.find(name);
    if (it == entries_.end()) return nullptr;
    it->second.used = true;
    return &it->second;
}

const Declared* Index::find(std::string_view name) const {
    const auto it = entries_.find(name);
    return it == entries_.end() ? nullptr : &it->second;
}

std::uint32_t intern_symbol(Work& work, const std::string& name) {
    if (const auto* known = work.names.symbols.find(name)) return known->id;
    const auto id = static_cast<std::uint32_t>(work.policy().symbols.size());
    work.policy().symbols.push_back(name);
    work.names.symbols.add(name, id, {});
    return id;
}

std::uint32_t intern_field(Work& work, const std::string& name) {
    if (const auto* known = work.names.fields.find(name)) return known->id;
    const auto id = static_cast<std::uint32_t>(work.policy().fields.size());
    work.policy().fields.push_back(name);
    work.names.fields.add(name, id, {});
    return id;
}

const runtime::Attribute& attribute(const runtime::Policy& policy, AttributeId id) {
    switch (id.owner) {
        case Owner::patient:
            return policy.patient[id.slot];
        case Owner::line:
            return policy.line[id.slot];
        case Owner::part:
            return policy.part_kinds[id.kind].attributes[id.slot];
        case Owner::event:
            break;
    }
    return policy.event_kinds[id.kind].attributes[id.slot];
}

const runtime::Attribute* find_attribute(const std::vector<runtime::Attribute>& attributes,
                                         std::string_view name) {
    const auto it =
        std::find_if(attributes.begin(), attributes.end(), [&](const auto& a) { return a.name == name; });
    return it == attributes.end() ? nullptr : &*it;
}

std::string what_is(const Work& work, std::string_view name) {
    const Names& names = work.names;
    const std::pair<const Index*, std::string_view> kinds[] = {
        {&names.events, "an event"},  {&names.states, "a state"},   {&names.parts, "a part"},
        {&names.roles, "a role"},     {&names.terms, "a term"},     {&names.tables, "a table"},
        {&names.sources, "a source"}, {&names.clauses, "a clause"}, {&names.escalations, "an escalation"},
        {&names.bundles, "a bundle"}, {&names.shifts, "a shift"},   {&names.questions, "a question"},
    };
    for (const auto& [index, words] : kinds)
        if (index->find(name) != nullptr) return std::string(words);
    const auto& policy = work.policy();
    if (find_attribute(policy.patient, name) != nullptr) return "an attribute of the patient";
    if (find_attribute(policy.line, name) != nullptr) return "an attribute of the line";
    for (const auto& part : policy.part_kinds)
        if (find_attribute(part.attributes, name) != nullptr)
            return "an attribute of the part " + in_ticks(part.name);
    for (const auto& event : policy.event_kinds)
        if (find_attribute(event.attributes, name) != nullptr)
            return "an attribute of the event " + in_ticks(event.name);
    for (const auto& event : policy.event_kinds)
        if (std::find(event.steps.begin(), event.steps.end(), name) != event.steps.end())
            return "a step of the event " + in_ticks(event.name);
    if (names.symbols.find(name) != nullptr) return "a value of a list";
    return {};
}

namespace {

// What was read is known: a name in it is no sign that an item was lost.
bool in_a_parsed_item(const Work& work, std::uint32_t text, std::size_t at) {
    return std::any_of(work.layers.items.begin(), work.layers.items.end(), [&](const grammar::Item* item) {
        const grammar::Place place = item->place;
        return place.text == text && place.begin <= at && at < place.end;
    });
}

bool is_letter(char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

}  // namespace

bool perhaps_lost(const Work& work, std::string_view name) {
    if (work.layers.whole || name.empty()) return false;
    const auto is_word = [](char c) {
        return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '_' || c == '.';
    };
    static constexpr std::string_view heads[] = {"part",   "event",      "state",  "role",
                                                 "term",   "table",      "source", "shift",
                                                 "clause", "escalation", "bundle", "question"};
    for (std::uint32_t t = 0; t < work.sources.size(); ++t) {
        const std::string_view text = work.sources.text(t).content;
        for (auto at = text.find(name); at != std::string_view::npos; at = text.find(name, at + 1)) {
            const std::size_t end = at + name.size();
            if ((at > 0 && is_word(text[at - 1])) || (end < text.size() && is_word(text[end]))) continue;
            const auto after = text.find_first_not_of(' ', end);
            if (in_a_parsed_item(work, t, at)) continue;
            if (after != std::string_view::npos && text[after] == ':') return true;
            const auto before = text.find_last_not_of(' ', at == 0 ? 0 : at - 1);
            const std::string_view until = text.substr(0, before + 1);
            // The second word at the left margin, whatever the first was meant to be: `Term inpatient`.
            const std::string_view line = until.substr(until.rfind('\n') + 1);
            if (!line.empty() && std::all_of(line.begin(), line.end(), is_letter)) return true;
            for (const auto head : heads)
                if (until.size() >= head.size() && until.substr(until.size() - head.size()) == head)
                    return true;
        }
    }
    return false;
}

namespace {

// The attributes in whose list the value stands, as a condition names them.
std::vector<std::string> lists_with(const runtime::Policy& policy, std::string_view value) {
    std::vector<std::string> found;
    const auto look = [&](const std::vector<runtime::Attribute>& attributes, const std::string& owner) {
        for (const auto& attribute : attributes)
            for (const auto symbol : attribute.type.values)
                if (policy.symbols[symbol] == value) {
                    const std::string name = owner + attribute.name;
                    if (std::find(found.begin(), found.end(), name) == found.end()) found.push_back(name);
                }
    };
    look(policy.line, "line.");
    look(policy.patient, "patient.");
    for (const auto& part : policy.part_kinds) look(part.attributes, "part.");
    for (const auto& event : policy.event_kinds) look(event.attributes, "");
    return found;
}

// The values of a list that `lists_with` named.
std::vector<std::string> values_of(const runtime::Policy& policy, const std::string& list) {
    std::vector<std::string> values;
    for (const auto& symbol : policy.symbols) {
        const auto lists = lists_with(policy, symbol);
        if (std::find(lists.begin(), lists.end(), list) != lists.end()) values.push_back(symbol);
    }
    return values;
}

bool is_flag(const runtime::Policy& policy, std::string_view name) {
    const auto has = [name](const std::vector<runtime::Attribute>& attributes) {
        return std::any_of(attributes.begin(), attributes.end(), [name](const auto& a) {
            return a.name == name && a.type.kind == runtime::TypeKind::flag;
        });
    };
    const auto some_has = [&](const auto& kinds) {
        return std::any_of(kinds.begin(), kinds.end(), [&](const auto& k) { return has(k.attributes); });
    };
    return has(policy.patient) || has(policy.line) || some_has(policy.part_kinds) ||
           some_has(policy.event_kinds);
}

// Where no name is near: all there are of the kind, if they are few, or those that have a word in common.
// Others there may be where an item was left out for a syntax error: `whole` is false.
void offer_those_there_are(grammar::Diagnostic& d, std::string_view name,
                           const std::vector<std::string>& candidates, bool whole) {
    constexpr std::size_t few = 10;
    const bool all = candidates.size() <= few;
    const auto offered = all ? candidates : sharing_a_word(name, candidates);
    if (offered.empty() || offered.size() > few) return;
    const std::string others = offered.size() == 1 ? "there is " : "there are ";
    d.notes.push_back(others + in_ticks(offered, "and") + (all && whole ? "" : ", among others"));
}

}  // namespace

void unknown_name(Work& work, std::string_view kind, const Name& name,
                  const std::vector<std::string>& candidates) {
    for (const auto& dropped : work.layers.dropped)
        if (dropped.id == name.text && kind == "clause") {
            auto& d = work.report.add("name.dropped",
                                      "the clause " + in_ticks(name.text) + " is dropped by this policy",
                                      name.place, "named here");
            d.labels.push_back({dropped.place, "dropped here"});
            return;
        }
    const std::string last =
        name.text.substr(name.text.rfind('.') + 1);  // `dressing` of `insertion.dressing`
    if (perhaps_lost(work, name.text) || perhaps_lost(work, last)) return;
    const std::string other = what_is(work, name.text);
    auto& d = work.report.add(other.empty() ? "name.unknown" : "name.kind",
                              "there is no " + std::string(kind) + ' ' + in_ticks(name.text) +
                                  (other.empty() ? "" : "; " + in_ticks(name.text) + " is " + other),
                              name.place, other.empty() ? "not declared" : other);
    const std::size_t offered = d.mends.size();
    // Another year's guideline is another document, however like its name is.
    // A value's name is no misspelt attribute, however like one it is.
    const bool value = kind == "attribute" && other == "a value of a list";
    if (!value)
        offer_near(d, name.text, name.place, candidates, kind == "source" ? Offered::value : Offered::name);
    if (kind == "part" && is_flag(work.policy(), name.text))
        advise(d, "that an attribute is not so is written " + in_ticks("not " + name.text));
    if (value) {
        const auto lists = lists_with(work.policy(), name.text);
        std::optional<grammar::Mend> several;
        for (const auto& list : lists)
            if (!several) several = one_of_several(work.sources, name, values_of(work.policy(), list));
        if (several) {
            d.mends.push_back(std::move(*several));
            return;
        }
        if (lists.size() == 1)
            advise(d, "it is a value of " + in_ticks(lists[0]) + ": write " +
                          in_ticks(lists[0] + " is " + name.text));
        advise(d, "several values of one list are written `is one of A, B`, and `is not one of A, B`");
    }
    if (d.mends.size() != offered) return;
    offer_those_there_are(d, name.text, candidates, work.layers.whole);
    if (!d.notes.empty() || !other.empty() || !work.layers.whole) return;
    if (kind == "attribute")
        advise(d, "a word for what is true of some is declared first, as " +
                      in_ticks("term " + name.text + " means …") + "; an attribute, in the word list");
    if (kind == "event") advise(d, "write an event that the word list declares, or declare it there");
}

std::uint32_t use_name(Work& work, Index& index, std::string_view kind, const Name& name) {
    if (const auto* declared = index.use(name.text)) return declared->id;
    unknown_name(work, kind, name, index.names());
    return runtime::none;
}

}  // namespace linelaw::compiler
