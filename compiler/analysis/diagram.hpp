// Decision diagrams over variables of finitely many cells: reduced, ordered and shared, so that two
// conditions mean the same exactly where their nodes are the same. Every question of the analysis becomes an
// operation here. Knows nothing of policies.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <stdexcept>
#include <unordered_map>
#include <vector>

namespace linelaw::compiler::analysis {

using Node = std::uint32_t;
constexpr Node never = 0;
constexpr Node always = 1;

// The cells of one variable that are meant, by index. Cells are few; a bit each.
class CellSet {
  public:
    CellSet() = default;
    explicit CellSet(std::size_t size, bool all = false) : bits_(size, all) {}
    std::size_t size() const { return bits_.size(); }
    bool has(std::size_t cell) const { return bits_[cell]; }
    void put(std::size_t cell, bool in = true) { bits_[cell] = in; }
    bool empty() const;
    bool full() const;
    bool operator==(const CellSet&) const = default;

  private:
    std::vector<bool> bits_;
};

// A conjunction of cell sets, one a variable that matters; in the order of variables.
struct Constraint {
    std::uint32_t variable = 0;
    CellSet cells;
};
using Box = std::vector<Constraint>;

// The work was more than its budget allows. Thrown by every operation that makes nodes; whoever asks a
// question of the analysis catches it and says which part was not analysed.
struct DiagramsExhausted : std::runtime_error {
    DiagramsExhausted() : std::runtime_error("the decision diagrams outgrew their limit") {}
};

// Nodes live as long as the manager. Operations are memoised; each costs at most the product of the sizes.
class Diagrams {
  public:
    explicit Diagrams(std::size_t node_limit);

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

    Node restrict(Node node, std::uint32_t variable, std::uint32_t cell);
    // Where some cell of the variables makes it true. `forget[v]` says which variables.
    Node forget(Node node, const std::vector<bool>& forget);

    // The variable tested first, or variables() for a terminal; its child by cell.
    std::uint32_t top(Node node) const {
        return node <= always ? static_cast<std::uint32_t>(widths_.size()) : nodes_[node].variable;
    }
    Node child(Node node, std::uint32_t cell) const { return children_[nodes_[node].children + cell]; }
    // A node from the children of one variable; for building a diagram from the leaves up.
    Node make(std::uint32_t variable, const std::vector<Node>& children);

    // Which variables the node depends on.
    std::vector<bool> support(Node node) const;
    std::size_t size() const { return nodes_.size(); }

    // One full assignment, a cell a variable, at which node holds (it must not be `never`); the lowest cells
    // first, so that the answer is the same in every run.
    std::vector<std::uint32_t> assignment(Node node) const;
    // The widest box around `seed` inside `node` as far as `possible` reaches: no variable in it can be left
    // out, no cell that is possible there can be added. `order` says which variables to drop first.
    Box widen(Node node, Node possible, const std::vector<std::uint32_t>& seed,
              const std::vector<std::uint32_t>& order);

  private:
    enum class Operation : std::uint8_t { both, either, without };
    struct NodeData {
        std::uint32_t variable = 0;
        std::uint32_t children = 0;  // first, in children_
    };
    struct Key {
        std::uint64_t operands = 0;
        std::uint8_t operation = 0;
        bool operator==(const Key&) const = default;
    };
    struct KeyHash {
        std::size_t operator()(const Key& key) const {
            std::uint64_t h = (key.operands + key.operation) * 0x9E37'79B9'7F4A'7C15ULL;
            return static_cast<std::size_t>(h ^ (h >> 29U));
        }
    };

    Node apply(Operation operation, Node a, Node b);
    bool empty_in(Node node, const std::vector<const CellSet*>& cells,
                  std::unordered_map<Node, bool>& memo) const;
    void grow_table();

    std::size_t limit_;
    std::vector<std::uint32_t> widths_;
    std::vector<NodeData> nodes_;
    std::vector<Node> children_;
    std::vector<Node> table_;  // open addressing; never marks an empty place
    std::unordered_map<Key, Node, KeyHash> memo_;
};

}  // namespace linelaw::compiler::analysis
