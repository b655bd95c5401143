// Orders of steps that cannot all be followed. A step is done as often as the clause that lists it most often
// says; more would follow any two orders one after the other.
#include <fmt/format.h>

#include <algorithm>
#include <functional>
#include <map>
#include <set>

#include "compiler/analysis/conflicts.hpp"
#include "compiler/analysis/witness.hpp"

namespace linelaw::compiler::analysis {

using runtime::ClauseId;
using runtime::EventKindId;
using runtime::none;

namespace {

struct Order {
    ClauseId clause = none;
    std::vector<std::string> steps;
    Node applies = never;
};

// Whether one sequence contains every order, no step in it more often than some order lists it. Searches over
// how far each order has come; sets are small and orders short.
bool can_all_be_followed(const std::vector<const Order*>& orders) {
    std::map<std::string, std::size_t> most;
    for (const Order* order : orders) {
        std::map<std::string, std::size_t> count;
        for (const std::string& step : order->steps) most[step] = std::max(most[step], ++count[step]);
    }
    using State = std::pair<std::vector<std::size_t>, std::map<std::string, std::size_t>>;
    std::set<State> seen;
    const std::function<bool(const State&)> search = [&](const State& state) {
        const auto& [reached, used] = state;
        bool done = true;
        for (std::size_t i = 0; i < orders.size(); ++i) done = done && reached[i] == orders[i]->steps.size();
        if (done) return true;
        if (!seen.insert(state).second) return false;
        std::set<std::string> next;
        for (std::size_t i = 0; i < orders.size(); ++i)
            if (reached[i] < orders[i]->steps.size()) next.insert(orders[i]->steps[reached[i]]);
        for (const std::string& step : next) {
            State after = state;
            if (++after.second[step] > most[step]) continue;
            for (std::size_t i = 0; i < orders.size(); ++i)  // one step answers every order that waits for it
                if (reached[i] < orders[i]->steps.size() && orders[i]->steps[reached[i]] == step)
                    ++after.first[i];
            if (search(after)) return true;
        }
        return false;
    };
    return search({std::vector<std::size_t>(orders.size(), 0), {}});
}

class OrderConflicts {
  public:
    OrderConflicts(Workspace& work, EventKindId kind) : work_(work), kind_(kind) {
        for (ClauseId c = 0; c < work.policy.clauses.size(); ++c) {
            const runtime::Clause& clause = work.clause(c);
            const auto* follow = std::get_if<runtime::FollowSteps>(&clause.demand);
            const std::vector<EventKindId> kinds = kinds_in(clause.trigger.events);
            if (follow == nullptr || !follow->in_order ||
                std::find(kinds.begin(), kinds.end(), kind) == kinds.end())
                continue;
            const Node applies = work.diagrams.both(work.applies(c, kind).yes, work.possible(c));
            if (applies != never) orders_.push_back({c, follow->steps, applies});
        }
    }

    // Sets of rising size, each minimal: a set that holds a smaller conflict is not looked at.
    void find() {
        std::vector<std::size_t> set;
        for (std::size_t size = 2; size <= std::min<std::size_t>(orders_.size(), 4); ++size)
            grow(set, 0, size, always);
    }

  private:
    Workspace& work_;
    EventKindId kind_;
    std::vector<Order> orders_;
    std::vector<std::vector<std::size_t>> found_;

    void grow(std::vector<std::size_t>& set, std::size_t from, std::size_t size, Node applies) {
        if (set.size() == size) {
            std::vector<const Order*> orders;
            for (const std::size_t i : set) orders.push_back(&orders_[i]);
            if (can_all_be_followed(orders)) return;
            found_.push_back(set);
            report(set, applies);
            return;
        }
        for (std::size_t i = from; i < orders_.size(); ++i) {
            const Node together = work_.diagrams.both(applies, orders_[i].applies);
            if (together == never) continue;
            set.push_back(i);
            const bool explained = std::any_of(found_.begin(), found_.end(), [&](const auto& f) {
                return std::includes(set.begin(), set.end(), f.begin(), f.end());
            });
            if (!explained) grow(set, i + 1, size, together);
            set.pop_back();
        }
    }

    void report(const std::vector<std::size_t>& set, Node where) {
        Finding finding;
        finding.code = "conflict.order";
        std::vector<ClauseId> ids;
        for (const std::size_t i : set) {
            ids.push_back(orders_[i].clause);
            finding.ids.push_back(work_.clause(ids.back()).id);
            finding.labels.push_back(work_.label(ids.back()));
            finding.advisory = finding.advisory || work_.clause(ids.back()).should;
        }
        const Box box = work_.situations.smallest(where);
        finding.message = fmt::format("no order of the steps of `{}` follows {} together{}",
                                      work_.policy.event_kinds[kind_].name, work_.quoted(ids),
                                      work_.situations.where_sentence(box));
        finding.helps = {"decide on one order, or list a step twice where it is done twice"};
        if (show_at_event(work_, finding, ids, kind_, where, box)) work_.add(std::move(finding));
    }
};

}  // namespace

void find_order_conflicts(Workspace& work) {
    for (EventKindId kind = 0; kind < work.policy.event_kinds.size(); ++kind)
        OrderConflicts(work, kind).find();
}

}  // namespace linelaw::compiler::analysis
