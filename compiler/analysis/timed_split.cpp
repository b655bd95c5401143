#include "compiler/analysis/timed_split.hpp"

#include <algorithm>
#include <functional>
#include <set>

namespace linelaw::compiler::analysis {

using runtime::none;

std::vector<Node> conditions_of(const Draft& draft) {
    std::vector<Node> nodes{draft.applies};
    for (const Track* track : {&draft.events, &draft.triggers, &draft.others})
        for (const auto& [kind, node] : *track) nodes.push_back(node);
    return nodes;
}

std::uint32_t first_moving(const Situations& situations) {
    auto first = static_cast<std::uint32_t>(situations.variables().size());
    while (first > 0 && situations.variables()[first - 1].kind >= VariableKind::event) --first;
    return first;
}

namespace {

constexpr std::size_t meetings_limit = 20'000;  // of one group of clauses
constexpr std::size_t work_limit = 20'000'000;  // conditions looked at on the way

// Goes down all conditions together, variable by variable. Drafts that do not apply any more, and those that
// can clash with nothing that still does, are left out as soon as that is known, and what falls apart into
// groups is gone on with group by group: situations multiply only where their clauses can clash.
class Splitter {
  public:
    Splitter(Workspace& work, const std::vector<Draft>& drafts, const Relevance& relevance)
        : work_(work),
          drafts_(drafts),
          relevance_(relevance),
          first_moving_(first_moving(work.situations)),
          path_(work.situations.variables().size(), 0),
          known_cell_(path_.size(), false) {
        moving_.assign(path_.size(), false);
        for (std::size_t v = first_moving_; v < moving_.size(); ++v) moving_[v] = true;
        for (const Draft& draft : drafts) conditions_.push_back(conditions_of(draft));
    }

    Meetings tell(const Drafts& group) {
        std::vector<Part> parts;
        for (const std::size_t i : group)
            if (Part part{i, conditions_[i]}; !gone(part)) parts.push_back(std::move(part));
        Meetings result;
        for (const auto& [leaf, where] : narrowed(parts)) {
            Meeting meeting;
            meeting.where = where;
            for (const Part& part : leaves_[leaf]) {
                meeting.drafts.push_back(part.draft);
                for (std::size_t n = 0; n < part.rest.size(); ++n)
                    meeting.rest[conditions_[part.draft][n]] = part.rest[n];
            }
            meeting.looked_at = looked_at(meeting.drafts);
            result.all.push_back(std::move(meeting));
        }
        result.left_out.assign(left_out_.begin(), left_out_.end());
        return result;
    }

  private:
    struct Part {
        std::size_t draft = 0;
        std::vector<Node> rest;  // of each of its conditions
        bool operator<(const Part& other) const {
            return draft != other.draft ? draft < other.draft : rest < other.rest;
        }
    };
    struct State {
        Node start = never;  // what is possible from here on
        std::vector<Part> parts;
        bool operator<(const State& other) const {
            return start != other.start ? start < other.start : parts < other.parts;
        }
    };
    using Leaves = std::map<std::size_t, Node>;  // where each is, below the state

    Workspace& work_;
    const std::vector<Draft>& drafts_;
    const Relevance& relevance_;
    std::uint32_t first_moving_;
    std::vector<std::uint32_t> path_;  // which cell
    std::vector<bool> known_cell_;     // whether it was gone down by a cell of this variable
    std::vector<bool> moving_;
    std::vector<std::vector<Node>> conditions_;  // by draft
    std::map<State, Leaves> known_;
    std::map<std::vector<Part>, std::size_t> leaf_of_;
    std::vector<std::vector<Part>> leaves_;
    std::map<std::pair<std::vector<bool>, std::vector<runtime::PartKindId>>, Node> starts_;
    std::size_t worked_ = 0;
    std::set<std::size_t> left_out_;  // drafts of which not every situation was told apart

    std::vector<bool> looked_at(const Drafts& some) const {
        std::vector<bool> result(path_.size(), false);
        for (const std::size_t i : some)
            for (const Node node : conditions_[i]) {
                const std::vector<bool> support = work_.diagrams.support(node);
                for (std::size_t v = 0; v < support.size(); ++v) result[v] = result[v] || support[v];
            }
        return result;
    }

    // What is possible where all of them have their part and nothing that they look at is undocumented.
    Node start_of(const Drafts& some) {
        Diagrams& d = work_.diagrams;
        std::vector<runtime::PartKindId> parts;
        for (const std::size_t i : some)
            if (const runtime::PartKindId part = work_.clause(drafts_[i].clause).for_each; part != none)
                parts.push_back(part);
        std::sort(parts.begin(), parts.end());
        parts.erase(std::unique(parts.begin(), parts.end()), parts.end());
        const auto [place, fresh] = starts_.try_emplace({looked_at(some), parts}, never);
        if (fresh) {
            Node node = d.both(work_.situations.possible(), work_.situations.documented(place->first.first));
            for (const runtime::PartKindId part : parts)
                node = d.both(node, work_.situations.possible_with(part));
            place->second = d.forget(node, moving_);
        }
        return place->second;
    }

    // The node with everything known that was gone down by.
    Node along_the_path(Node node) {
        std::map<Node, Node> memo;
        const std::function<Node(Node)> go = [&](Node n) -> Node {
            const std::uint32_t v = work_.diagrams.top(n);
            if (v >= first_moving_) return n;
            if (known_cell_[v]) return go(work_.diagrams.child(n, path_[v]));
            if (const auto found = memo.find(n); found != memo.end()) return found->second;
            std::vector<Node> children(work_.diagrams.width(v));
            for (std::uint32_t c = 0; c < children.size(); ++c) children[c] = go(work_.diagrams.child(n, c));
            return memo[n] = work_.diagrams.make(v, children);
        };
        return go(node);
    }

    // What can clash with nothing that still applies is left out, and what falls apart is gone on with group
    // by group.
    Leaves narrowed(const std::vector<Part>& parts) {
        Drafts alive;
        for (const Part& part : parts) alive.push_back(part.draft);
        Leaves result;
        for (const Drafts& group : relevance_.groups(relevance_.kept(alive))) {
            State state;
            state.start = along_the_path(start_of(group));
            for (const Part& part : parts)
                if (std::binary_search(group.begin(), group.end(), part.draft)) state.parts.push_back(part);
            for (const auto& [leaf, where] : told_apart(state)) {
                Node& here = result.emplace(leaf, never).first->second;
                here = work_.diagrams.either(here, where);
            }
        }
        return result;
    }

    Leaves told_apart(const State& state) {
        if (state.start == never) return {};
        if (const auto found = known_.find(state); found != known_.end()) return found->second;
        worked_ += state.parts.size();
        if (worked_ > work_limit || leaves_.size() > meetings_limit) {
            for (const Part& part : state.parts) left_out_.insert(part.draft);
            return {};
        }
        std::uint32_t v = work_.diagrams.top(state.start);
        for (const Part& part : state.parts)
            for (const Node node : part.rest) v = std::min(v, work_.diagrams.top(node));
        Leaves result = v < first_moving_ ? by_cells(state, v) : leaf(state);
        return known_[state] = std::move(result);
    }

    Leaves leaf(const State& state) {
        const auto [place, fresh] = leaf_of_.emplace(state.parts, leaves_.size());
        if (fresh) leaves_.push_back(state.parts);
        return {{place->second, state.start}};
    }

    // Whether nothing of the draft is left: it does not apply, or picks out nothing that it could forbid.
    bool gone(const Part& part) const {
        const bool forbids = drafts_[part.draft].form == Draft::Form::forbidden;
        return part.rest[0] == never || (forbids && std::all_of(part.rest.begin() + 1, part.rest.end(),
                                                                [](Node n) { return n == never; }));
    }

    Leaves by_cells(const State& state, std::uint32_t v) {
        Diagrams& d = work_.diagrams;
        const auto below = [&](Node node, std::uint32_t cell) {
            return d.top(node) == v ? d.child(node, cell) : node;
        };
        Leaves result;
        known_cell_[v] = true;
        for (std::uint32_t cell = 0; cell < d.width(v); ++cell) {
            State next;
            next.start = below(state.start, cell);
            if (next.start == never) continue;
            path_[v] = cell;
            worked_ += state.parts.size();
            for (const Part& part : state.parts) {
                Part there{part.draft, {}};
                for (const Node node : part.rest) there.rest.push_back(below(node, cell));
                if (!gone(there)) next.parts.push_back(std::move(there));
            }
            const bool fewer = next.parts.size() < state.parts.size();
            for (const auto& [leaf, where] : fewer ? narrowed(next.parts) : told_apart(next)) {
                Node& here = result.emplace(leaf, never).first->second;
                here = d.either(here, d.both(d.cell(v, cell), where));
            }
        }
        known_cell_[v] = false;
        return result;
    }
};

}  // namespace

Meetings tell_apart(Workspace& work, const std::vector<Draft>& drafts, const Relevance& relevance,
                    const Drafts& group) {
    return Splitter(work, drafts, relevance).tell(group);
}

}  // namespace linelaw::compiler::analysis
