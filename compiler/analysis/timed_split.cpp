#include "compiler/analysis/timed_split.hpp"

#include <algorithm>
#include <functional>
#include <set>
#include <unordered_map>

namespace linelaw::compiler::analysis {

using runtime::none;

std::vector<Node> conditions_of(const Draft& draft) {
    std::vector<Node> nodes{draft.applies};
    for (const Track* track : {&draft.events, &draft.triggers, &draft.others})
        for (const auto& [kind, node] : *track) nodes.push_back(node);
    for (const DraftClock& clock : draft.clocks)
        for (const auto& [kind, runs] : clock.runs_from) nodes.insert(nodes.end(), {runs.yes, runs.no});
    if (draft.early != always) nodes.push_back(draft.early);
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
        Parts parts;
        for (const std::size_t i : group) {
            parts.push_back(static_cast<std::uint32_t>(i));
            parts.insert(parts.end(), conditions_[i].begin(), conditions_[i].end());
            if (gone(i, parts.end() - static_cast<std::ptrdiff_t>(conditions_[i].size())))
                parts.resize(parts.size() - 1 - conditions_[i].size());
        }
        Meetings result;
        for (const auto& [leaf, where] : narrowed(parts)) {
            Meeting meeting;
            meeting.where = where;
            each(leaves_[leaf], [&](std::size_t draft, Rest rest) {
                meeting.drafts.push_back(draft);
                for (const Node condition : conditions_[draft]) meeting.rest[condition] = *rest++;
            });
            meeting.looked_at = looked_at(meeting.drafts);
            result.all.push_back(std::move(meeting));
        }
        result.left_out.assign(left_out_.begin(), left_out_.end());
        return result;
    }

  private:
    // Drafts, each by its index and what is left of each of its conditions, one behind the other.
    using Parts = std::vector<std::uint32_t>;
    using Rest = Parts::const_iterator;
    struct State {
        Node start = never;  // what is possible from here on
        Parts parts;
        bool operator==(const State&) const = default;
    };
    struct Hash {
        template <typename Number>
        std::size_t operator()(const std::vector<Number>& numbers) const {
            std::uint64_t h = numbers.size();
            for (const Number n : numbers) {
                h = (h ^ n) * 0x9E37'79B9'7F4A'7C15ULL;
                h ^= h >> 29U;
            }
            return h;
        }
        std::size_t operator()(const State& state) const { return (*this)(state.parts) * 31 + state.start; }
    };
    using Leaves = std::vector<std::pair<std::size_t, Node>>;  // rising: where each is, below the state

    Workspace& work_;
    const std::vector<Draft>& drafts_;
    const Relevance& relevance_;
    std::uint32_t first_moving_;
    std::vector<std::uint32_t> path_;  // which cell
    std::vector<bool> known_cell_;     // whether it was gone down by a cell of this variable
    std::vector<bool> moving_;
    std::vector<std::vector<Node>> conditions_;  // by draft
    std::unordered_map<State, Leaves, Hash> known_;
    std::unordered_map<Parts, std::size_t, Hash> leaf_of_;
    std::vector<Parts> leaves_;
    std::unordered_map<Drafts, std::vector<Drafts>, Hash> groups_of_;
    std::map<std::pair<std::vector<bool>, std::vector<runtime::PartKindId>>, Node> starts_;
    std::size_t worked_ = 0;
    std::set<std::size_t> left_out_;  // drafts of which not every situation was told apart

    std::vector<bool> looked_at(const Drafts& some) const {
        std::vector<bool> result(path_.size(), false);
        for (const std::size_t i : some)
            for (const Node node : conditions_[i]) {
                const std::vector<bool>& support = work_.diagrams.support(node);
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

    template <typename Visit>
    void each(const Parts& parts, const Visit& visit) const {
        for (auto at = parts.begin(); at != parts.end();) {
            const std::size_t draft = *at++;
            visit(draft, at);
            at += static_cast<std::ptrdiff_t>(conditions_[draft].size());
        }
    }

    const std::vector<Drafts>& groups_of(const Parts& parts) {
        Drafts alive;
        each(parts, [&](std::size_t draft, Rest) { alive.push_back(draft); });
        const auto [place, fresh] = groups_of_.try_emplace(std::move(alive));
        if (fresh) place->second = relevance_.groups(relevance_.kept(place->first));
        return place->second;
    }

    void add(Leaves& leaves, std::size_t leaf, Node where) {
        auto place = std::lower_bound(leaves.begin(), leaves.end(), leaf,
                                      [](const auto& known, std::size_t l) { return known.first < l; });
        if (place == leaves.end() || place->first != leaf) place = leaves.insert(place, {leaf, never});
        place->second = work_.diagrams.either(place->second, where);
    }

    // What can clash with nothing that still applies is left out, and what falls apart is gone on with group
    // by group.
    Leaves narrowed(const Parts& parts) {
        Leaves result;
        for (const Drafts& group : groups_of(parts)) {
            State state;
            state.start = along_the_path(start_of(group));
            auto member = group.begin();
            each(parts, [&](std::size_t draft, Rest rest) {
                if (member == group.end() || *member != draft) return;
                ++member;
                state.parts.insert(state.parts.end(), rest - 1,
                                   rest + static_cast<std::ptrdiff_t>(conditions_[draft].size()));
            });
            for (const auto& [leaf, where] : told_apart(state)) add(result, leaf, where);
        }
        return result;
    }

    const Leaves& told_apart(const State& state) {
        static const Leaves none_of_them;
        if (state.start == never) return none_of_them;
        if (const auto found = known_.find(state); found != known_.end()) return found->second;
        std::size_t drafts = 0;
        std::uint32_t v = work_.diagrams.top(state.start);
        each(state.parts, [&](std::size_t draft, Rest rest) {
            ++drafts;
            for (std::size_t n = 0; n < conditions_[draft].size(); ++n)
                v = std::min(v, work_.diagrams.top(rest[static_cast<std::ptrdiff_t>(n)]));
        });
        worked_ += drafts;
        if (worked_ > work_limit || leaves_.size() > meetings_limit) {
            each(state.parts, [&](std::size_t draft, Rest) { left_out_.insert(draft); });
            return none_of_them;
        }
        Leaves result = v < first_moving_ ? by_cells(state, v, drafts) : leaf(state);
        return known_[state] = std::move(result);
    }

    Leaves leaf(const State& state) {
        const auto [place, fresh] = leaf_of_.emplace(state.parts, leaves_.size());
        if (fresh) leaves_.push_back(state.parts);
        return {{place->second, state.start}};
    }

    // Whether nothing of the draft is left: it does not apply, or picks out nothing that it could forbid.
    bool gone(std::size_t draft, Rest rest) const {
        const Draft& d = drafts_[draft];
        const auto picking =
            static_cast<std::ptrdiff_t>(d.events.size() + d.triggers.size() + d.others.size());
        return *rest == never ||
               (d.form == Draft::Form::forbidden &&
                std::all_of(rest + 1, rest + 1 + picking, [](Node n) { return n == never; }));
    }

    Leaves by_cells(const State& state, std::uint32_t v, std::size_t drafts) {
        Diagrams& d = work_.diagrams;
        const auto below = [&](Node node, std::uint32_t cell) {
            return d.top(node) == v ? d.child(node, cell) : node;
        };
        Leaves result;
        State next;
        known_cell_[v] = true;
        for (std::uint32_t cell = 0; cell < d.width(v); ++cell) {
            next.start = below(state.start, cell);
            if (next.start == never) continue;
            path_[v] = cell;
            worked_ += drafts;
            next.parts.clear();
            bool fewer = false;
            each(state.parts, [&](std::size_t draft, Rest rest) {
                const std::size_t first = next.parts.size();
                const std::size_t count = conditions_[draft].size();
                next.parts.push_back(static_cast<std::uint32_t>(draft));
                for (std::size_t n = 0; n < count; ++n) next.parts.push_back(below(*rest++, cell));
                if (!gone(draft, next.parts.begin() + static_cast<std::ptrdiff_t>(first) + 1)) return;
                next.parts.resize(first);
                fewer = true;
            });
            const auto take = [&](const Leaves& leaves) {
                for (const auto& [leaf, where] : leaves) add(result, leaf, d.both(d.cell(v, cell), where));
            };
            if (fewer)
                take(narrowed(next.parts));
            else
                take(told_apart(next));
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
