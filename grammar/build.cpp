#include "grammar/build.hpp"

#include <algorithm>
#include <string>
#include <utility>

#include "grammar/tree_builder.hpp"

namespace linelaw::grammar {

bool TreeBuilder::is_whole(NodeId id) const {
    const std::uint32_t begin = parts_.node(id).begin;
    return std::none_of(scan_.broken.begin(), scan_.broken.end(), [begin, this](const Place& broken) {
        return broken.begin >= begin && broken.begin < end_of_item_;
    });
}

namespace {

// Items that are read line by line: what their broken lines leave can still be looked at.
bool takes_lines(Kind kind) {
    switch (kind) {
        case Kind::patient_block:
        case Kind::line_block:
        case Kind::part_item:
        case Kind::event_item:
        case Kind::question_item:
        case Kind::table_item:
        case Kind::clause_item:
        case Kind::escalation_item:
        case Kind::bundle_item:
        case Kind::example_item:
            return true;
        default:
            return false;
    }
}

}  // namespace

// One header, and before the items.
void TreeBuilder::check_header() {
    const auto count = static_cast<NodeId>(scan_.nodes.size());
    std::optional<NodeId> header;
    for (NodeId id = 0; id < count; id = parts_.node(id).next) {
        const Kind kind = parts_.node(id).kind;
        if (kind != Kind::policy_header && kind != Kind::vocabulary_header) continue;
        if (header) {
            parts_.say("syntax.header", "a text has one `policy` or one `vocabulary`, and this is its second",
                       id);
        } else if (id != 0) {
            parts_.say("syntax.header", "`policy` or `vocabulary` stands before every item", id);
        }
        header = id;
    }
    // Where the text's first line could not be read, that has been said.
    const std::uint32_t begin = count == 0 ? size_ : parts_.node(0).begin;
    const bool unread = std::any_of(scan_.faults.begin(), scan_.faults.end(), [begin](const Fault& fault) {
        return fault.code == FaultCode::item && fault.at <= begin;
    });
    if (header || unread) return;
    const Place first = count == 0 ? Place{parts_.text_number(), 0, 0} : parts_.place(0);
    Diagnostic missing = make_diagnostic(
        "syntax.header", "a text begins with `policy` and its title, or `vocabulary` and its name",
        {first.text, first.begin, first.begin}, "one of them belongs here");
    diagnostics_.push_back(std::move(missing));
}

Tree TreeBuilder::build() {
    Tree tree;
    tree.comments = scan_.comments;
    check_header();
    const auto count = static_cast<NodeId>(scan_.nodes.size());
    for (NodeId id = 0; id < count; id = parts_.node(id).next) {
        const Node& node = parts_.node(id);
        end_of_item_ = node.next < count ? parts_.node(node.next).begin : size_ + 1;
        // An item with a fault is made all the same, for what else is wrong with it, and left out.
        broken_ = !is_whole(id);
        const std::size_t said = diagnostics_.size();
        if (node.kind == Kind::policy_header) {
            tree.header = policy_header(id);  // with its lines that are whole: they name the other texts
        } else if (node.kind == Kind::vocabulary_header) {
            tree.header = vocabulary_header(id);
        } else if (!broken_ || takes_lines(node.kind)) {
            Item made = item(id);
            if (!broken_ && diagnostics_.size() == said) tree.items.push_back(std::move(made));
        }
    }
    return tree;
}

Item TreeBuilder::item(NodeId id) {
    const Place place = parts_.place(id);
    switch (parts_.node(id).kind) {
        case Kind::patient_block:
            return {PatientBlock{attributes(id), place}, place};
        case Kind::line_block:
            return {LineBlock{attributes(id), place}, place};
        case Kind::part_item:
            return {part_item(id), place};
        case Kind::event_item:
            return {event_item(id), place};
        case Kind::state_item:
            return {state_item(id), place};
        case Kind::role_item:
            return {RoleItem{parts_.names(id), place}, place};
        case Kind::never_item:
            return {NeverItem{parts_.condition_in(id), because(id), place}, place};
        case Kind::question_item:
            return {question_item(id), place};
        case Kind::source_item:
            return {source_item(id), place};
        case Kind::term_item:
            return {TermItem{parts_.name_in(id), parts_.condition_in(id), place}, place};
        case Kind::table_item:
            return {table_item(id), place};
        case Kind::clause_item:
            return {clause_item(id), place};
        case Kind::escalation_item:
            return {escalation_item(id), place};
        case Kind::bundle_item:
            return {bundle_item(id), place};
        case Kind::example_item:
            return {example_item(id), place};
        case Kind::shift_item: {
            const std::vector<NodeId> times = parts_.parts(id, Kind::time_of_day);
            return {ShiftItem{parts_.name_in(id), parts_.time_of_day(times[0]), parts_.time_of_day(times[1]),
                              place},
                    place};
        }
        case Kind::set_aside: {
            std::optional<Expression> condition;
            if (parts_.has(id, Kind::any_of)) condition = parts_.condition_in(id);
            return {SetAsideQuestion{parts_.name_in(id), std::move(condition), *because(id), place}, place};
        }
        case Kind::accept_item: {
            std::vector<Name> names = parts_.names(id);
            Name code = std::move(names.front());
            names.erase(names.begin());
            return {AcceptItem{std::move(code), std::move(names), *because(id), place}, place};
        }
        case Kind::drop_item:
            return {DropClause{parts_.name_in(id), *because(id), place}, place};
        case Kind::replace_item:
            return {ReplaceItem{item(parts_.first(id))}, place};
        default:
            std::abort();  // every item of the rules is named above
    }
}

std::optional<Text> TreeBuilder::because(NodeId of) {
    const NodeId id = parts_.part(of, Kind::because);
    if (id == no_node) return std::nullopt;
    return parts_.text_in(id);
}

UndocumentedCounts TreeBuilder::counts(NodeId of) const {
    return parts_.words(parts_.part(of, Kind::mark)) == "not met" ? UndocumentedCounts::not_met
                                                                  : UndocumentedCounts::not_assessable;
}

void TreeBuilder::missing(NodeId item, const std::string& what) {
    if (broken_) return;
    const Place whole = parts_.place(item);
    const NodeId first = parts_.first(item);
    const Place head{whole.text, whole.begin, first == no_node ? whole.end : parts_.place(first).end};
    diagnostics_.push_back(make_diagnostic("syntax.missing", what, head));
}

VocabularyHeader TreeBuilder::vocabulary_header(NodeId id) {
    VocabularyHeader header;
    header.name = parts_.name_in(id);
    header.place = parts_.place(id);
    for (NodeId line = parts_.first(id); line != no_node; line = parts_.after(id, line)) {
        const Kind kind = parts_.node(line).kind;
        if (kind == Kind::edition_line) {
            once(header.edition, line, "edition");
            header.edition = parts_.number(parts_.first(line));
        } else if (kind == Kind::extends_line) {
            header.extends.push_back(parts_.text_in(line));
        }
    }
    return header;
}

PolicyHeader TreeBuilder::policy_header(NodeId id) {
    PolicyHeader header;
    header.title = parts_.text_in(id);
    header.place = parts_.place(id);
    for (NodeId line = parts_.first(id); line != no_node; line = parts_.after(id, line)) {
        const NodeId what = parts_.first(line);
        switch (parts_.node(line).kind) {
            case Kind::edition_line:
                once(header.edition, line, "edition");
                header.edition = parts_.number(what);
                break;
            case Kind::in_force:
                once(header.in_force_from, line, "in force");
                header.in_force_from = parts_.date(what);
                if (const NodeId until = parts_.part(line, Kind::in_force_until); until != no_node) {
                    header.in_force_until = parts_.date(parts_.first(until));
                }
                break;
            case Kind::review:
                once(header.review_by, line, "review by");
                header.review_by = parts_.date(what);
                break;
            case Kind::owner:
                once(header.owner, line, "owner");
                header.owner = parts_.text(what);
                break;
            case Kind::governs:
                once(header.governs, line, "governs");
                header.governs = Governs{parts_.condition_in(line), parts_.place(line)};
                break;
            case Kind::time_zone:
                once(header.time_zone, line, "time zone");
                header.time_zone = parts_.name(what);
                break;
            case Kind::uses:
                once(header.uses_vocabulary, line, "uses vocabulary");
                header.uses_vocabulary = parts_.text(what);
                break;
            case Kind::builds_on:
                once(header.builds_on, line, "builds on");
                header.builds_on = parts_.text(what);
                break;
            case Kind::measured:
                header.measured_against.push_back(parts_.text(what));
                break;
            case Kind::undocumented:
                once(header.undocumented, line, "undocumented counts as");
                header.undocumented = counts(line);
                header.undocumented_place = parts_.place(line);
                break;
            default:
                break;
        }
    }
    return header;
}

Tree build(std::string_view content, std::uint32_t text, const Scan& scan,
           std::vector<Diagnostic>& diagnostics) {
    return TreeBuilder(content, text, scan, diagnostics).build();
}

}  // namespace linelaw::grammar
