// Decision diagrams over variables of finitely many cells: reduced, ordered and shared, so that two
// conditions mean the same exactly where their nodes are the same. Every question of the analysis becomes an
// operation here. Knows nothing of policies.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <stdexcept>
#include <unordered_map>
#include <utility>
#include <vector>

namespace linelaw::compiler::analysis {

using Node = std::uint32_t;
constexpr Node never = 0;
constexpr Node always = 1;

// The cells of one variable that are meant, by index. A bit each.
class CellSet {
  public:
    CellSet() = default;
    explicit CellSet(std::size_t size, bool all = false);
    std::size_t size() const { return size_; }
    bool has(std::size_t cell) const { return (words_[cell / 64] >> (cell % 64) & 1U) != 0; }
    void put(std::size_t cell, bool in = true);
    void put_range(std::size_t first, std::size_t last);  // both included
    bool empty() const;
    bool full() const { return count() == size_; }
    std::size_t count() const;
    std::size_t first() const;  // size() where it is empty
    std::size_t last() const;   // of one that is not empty
    bool meets(const CellSet& other) const;
    bool within(const CellSet& other) const;
    void keep(const CellSet& other);  // only the cells of both
    bool operator==(const CellSet&) const = default;

  private:
    std::size_t size_ = 0;
    std::vector<std::uint64_t> words_;  // bits from size_ on are 0
};

// A conjunction of cell sets, one a variable that matters; in the order of variables.
struct Constraint {
    std::uint32_t variable = 0;
    CellSet cells;
};
using Box = std::vector<Constraint>;

// The room or the work was more than allowed. Thrown by every operation that makes nodes; whoever asks a
// question of the analysis catches it and says which part was not analysed.
struct DiagramsExhausted : std::runtime_error {
    DiagramsExhausted() : std::runtime_error("the decision diagrams outgrew their limit") {}
};

// Nodes live as long as the manager. Operations are memoised, as far as a cache of bounded size goes; each
// costs about the product of the sizes. Room is counted in children of nodes, work in children looked at.
class Diagrams {
  public:
    explicit Diagrams(std::size_t most_children, std::uint64_t most_work = UINT64_MAX);
    // From here on so much work is allowed.
    void allow(std::uint64_t work) { work_left_ = work; }

    // Variables are ordered as they are added. A width of 1 is allowed and never makes a node.
    std::uint32_t add_variable(std::uint32_t width);
    std::size_t variables() const { return widths_.size(); }
    std::uint32_t width(std::uint32_t variable) const { return widths_[variable]; }

    Node literal(std::uint32_t variable, const CellSet& cells);
    Node cell(std::uint32_t variable, std::uint32_t cell);
    Node both(Node a, Node b) { return apply(Operation::both, a, b); }
    Node either(Node a, Node b) { return apply(Operation::either, a, b); }
    Node without(Node a, Node b) { return apply(Operation::without, a, b); }
    Node opposite(Node a) { return without(always, a); }
    Node all_of(std::vector<Node> nodes);  // balanced, so that intermediate results stay small
    Node any_of(std::vector<Node> nodes);
    Node box(const Box& box);
    bool implies(Node a, Node b) { return without(a, b) == never; }

    // Where some cell of the variables makes it true. `forget[v]` says which variables.
    Node forget(Node node, const std::vector<bool>& forget);

    // The variable tested first, or variables() for a terminal; its child by cell.
    std::uint32_t top(Node node) const {
        return node <= always ? static_cast<std::uint32_t>(widths_.size()) : nodes_[node].variable;
    }
    Node child(Node node, std::uint32_t cell) const { return children_[nodes_[node].children + cell]; }
    // A node from the children of one variable; for building a diagram from the leaves up.
    Node make(std::uint32_t variable, const std::vector<Node>& children) {
        return make(variable, children.data());
    }

    // Which variables the node depends on. Asked again it counts as work again, although it is known: what
    // is allowed must not hang on who asked before.
    const std::vector<bool>& support(Node node);
    std::size_t size() const { return nodes_.size(); }

    // One full assignment, a cell a variable, at which node holds (it must not be `never`); the lowest cells
    // first, so that the answer is the same in every run.
    std::vector<std::uint32_t> assignment(Node node) const;
    // The widest box around `seed` inside `node` as far as `possible` reaches: no variable in it can be left
    // out, no cell that is possible there can be added. `order` says which variables to drop first.
    Box widen(Node node, Node possible, const std::vector<std::uint32_t>& seed,
              const std::vector<std::uint32_t>& order);

    // Every two of the nodes that may hold together, by index, the lower first; in order. Two that never do
    // are mostly left out, and it costs little where few meet.
    std::vector<std::pair<std::uint32_t, std::uint32_t>> may_meet(const std::vector<Node>& nodes) const;

  private:
    enum class Operation : std::uint8_t { both, either, without };
    struct NodeData {
        std::uint32_t variable = 0;
        std::uint32_t children = 0;  // first, in children_
    };
    struct Known {  // what an operation came to; of two in one place the newer stays
        Node a = never;
        Node b = never;
        Node result = never;
        std::uint32_t operation = 0;  // one more than it; 0: nothing is known here
    };
    struct Support {
        std::vector<bool> variables;
        std::size_t work = 0;
    };
    struct Mark {  // of a node, in one walk over a diagram
        std::uint32_t walk = 0;
        Node value = never;
    };
    class Children;
    static std::size_t place_of(std::uint32_t operation, Node a, Node b);
    void grow_cache();
    void spend(std::size_t work) {
        if (work > work_left_) throw DiagramsExhausted();
        work_left_ -= work;
    }

    Node apply(Operation operation, Node a, Node b);
    Node make(std::uint32_t variable, const Node* children);
    void begin_walk();
    Node forgotten(Node node, const std::vector<bool>& forget);
    bool empty_in(Node node, const std::vector<const CellSet*>& cells);
    bool none_in(Node node, const std::vector<const CellSet*>& cells);
    void grow_table();

    std::size_t most_children_;
    std::uint64_t work_left_;
    std::vector<std::uint32_t> widths_;
    std::vector<NodeData> nodes_;
    std::vector<Node> children_;
    std::vector<Node> table_;  // open addressing; never marks an empty place
    std::vector<Known> cache_;
    std::vector<Node> unmade_;  // children of nodes that are still being made, the innermost last
    std::vector<Mark> marks_;   // by node
    std::uint32_t walk_ = 0;
    std::unordered_map<Node, Support> supports_;
};

}  // namespace linelaw::compiler::analysis
