#include "compiler/analysis/diagram.hpp"

#include <algorithm>
#include <bit>
#include <cassert>
#include <utility>

namespace linelaw::compiler::analysis {

CellSet::CellSet(std::size_t size, bool all) : size_(size), words_((size + 63) / 64, 0) {
    if (all && size > 0) put_range(0, size - 1);
}

void CellSet::put(std::size_t cell, bool in) {
    const std::uint64_t bit = std::uint64_t{1} << (cell % 64);
    words_[cell / 64] = in ? words_[cell / 64] | bit : words_[cell / 64] & ~bit;
}

void CellSet::put_range(std::size_t first, std::size_t last) {
    for (std::size_t w = first / 64; w <= last / 64; ++w) {
        std::uint64_t bits = ~std::uint64_t{0};
        if (w == first / 64) bits &= ~std::uint64_t{0} << (first % 64);
        if (w == last / 64) bits &= ~std::uint64_t{0} >> (63 - last % 64);
        words_[w] |= bits;
    }
}

bool CellSet::empty() const {
    return std::all_of(words_.begin(), words_.end(), [](std::uint64_t w) { return w == 0; });
}

std::size_t CellSet::count() const {
    std::size_t n = 0;
    for (const std::uint64_t w : words_) n += static_cast<std::size_t>(std::popcount(w));
    return n;
}

std::size_t CellSet::first() const {
    for (std::size_t w = 0; w < words_.size(); ++w)
        if (words_[w] != 0) return w * 64 + static_cast<std::size_t>(std::countr_zero(words_[w]));
    return size_;
}

std::size_t CellSet::last() const {
    std::size_t w = words_.size() - 1;
    while (words_[w] == 0) --w;
    return w * 64 + 63 - static_cast<std::size_t>(std::countl_zero(words_[w]));
}

bool CellSet::meets(const CellSet& other) const {
    for (std::size_t w = 0; w < words_.size(); ++w)
        if ((words_[w] & other.words_[w]) != 0) return true;
    return false;
}

bool CellSet::within(const CellSet& other) const {
    for (std::size_t w = 0; w < words_.size(); ++w)
        if ((words_[w] & ~other.words_[w]) != 0) return false;
    return true;
}

void CellSet::keep(const CellSet& other) {
    for (std::size_t w = 0; w < words_.size(); ++w) words_[w] &= other.words_[w];
}

namespace {

constexpr std::size_t node_work = 12;  // of a node, in children

std::uint64_t hash_of(std::uint32_t variable, const Node* children, std::size_t count) {
    std::uint64_t h = variable * 0x9E37'79B9'7F4A'7C15ULL;
    for (std::size_t i = 0; i < count; ++i) {
        h = (h ^ children[i]) * 0xFF51'AFD7'ED55'8CCDULL;
        h ^= h >> 32U;
    }
    return h;
}

}  // namespace

Diagrams::Diagrams(std::size_t most_children, std::uint64_t most_work)
    : most_children_(most_children), work_left_(most_work), nodes_(2), table_(1024, never), cache_(1024) {}

std::uint32_t Diagrams::add_variable(std::uint32_t width) {
    assert(width > 0);
    widths_.push_back(width);
    return static_cast<std::uint32_t>(widths_.size() - 1);
}

void Diagrams::grow_table() {
    std::vector<Node> old(table_.size() * 2, never);
    old.swap(table_);
    const std::size_t mask = table_.size() - 1;
    for (const Node node : old) {
        if (node == never) continue;
        const NodeData& data = nodes_[node];
        std::size_t at = hash_of(data.variable, &children_[data.children], widths_[data.variable]) & mask;
        while (table_[at] != never) at = (at + 1) & mask;
        table_[at] = node;
    }
}

// Room for the children of a node to be, given back whatever happens.
class Diagrams::Children {
  public:
    Children(std::vector<Node>& unmade, std::size_t count) : unmade_(unmade), first_(unmade.size()) {
        unmade_.resize(first_ + count);
    }
    ~Children() { unmade_.resize(first_); }
    Children(const Children&) = delete;
    Children& operator=(const Children&) = delete;
    void put(std::size_t i, Node node) { unmade_[first_ + i] = node; }
    Node operator[](std::size_t i) const { return unmade_[first_ + i]; }
    const Node* data() const { return unmade_.data() + first_; }

  private:
    std::vector<Node>& unmade_;
    std::size_t first_;
};

Node Diagrams::make(std::uint32_t variable, const Node* children) {
    const std::size_t count = widths_[variable];
    if (std::all_of(children, children + count, [&](Node c) { return c == children[0]; })) return children[0];
    const std::size_t mask = table_.size() - 1;
    std::size_t at = hash_of(variable, children, count) & mask;
    for (; table_[at] != never; at = (at + 1) & mask) {
        const NodeData& data = nodes_[table_[at]];
        if (data.variable == variable && std::equal(children, children + count, &children_[data.children]))
            return table_[at];
    }
    if (children_.size() + count > most_children_) throw DiagramsExhausted();
    const Node made = static_cast<Node>(nodes_.size());
    nodes_.push_back({variable, static_cast<std::uint32_t>(children_.size())});
    children_.insert(children_.end(), children, children + count);
    table_[at] = made;
    if (nodes_.size() * 2 > table_.size()) {
        grow_table();
        grow_cache();
    }
    return made;
}

Node Diagrams::literal(std::uint32_t variable, const CellSet& cells) {
    std::vector<Node> children(widths_[variable]);
    for (std::size_t c = 0; c < children.size(); ++c) children[c] = cells.has(c) ? always : never;
    return make(variable, children);
}

Node Diagrams::cell(std::uint32_t variable, std::uint32_t cell) {
    CellSet cells(widths_[variable]);
    cells.put(cell);
    return literal(variable, cells);
}

std::size_t Diagrams::place_of(std::uint32_t operation, Node a, Node b) {
    const std::uint64_t h =
        ((static_cast<std::uint64_t>(a) << 32U | b) + operation) * 0x9E37'79B9'7F4A'7C15ULL;
    return static_cast<std::size_t>(h ^ (h >> 29U));
}

void Diagrams::grow_cache() {
    constexpr std::size_t largest = std::size_t{1} << 21U;
    if (cache_.size() >= largest) return;
    std::vector<Known> old(cache_.size() * 2);
    old.swap(cache_);
    for (const Known& known : old)
        if (known.operation != 0)
            cache_[place_of(known.operation, known.a, known.b) & (cache_.size() - 1)] = known;
}

Node Diagrams::apply(Operation operation, Node a, Node b) {
    switch (operation) {
        case Operation::both:
            if (a == never || b == never) return never;
            if (a == always) return b;
            if (b == always || a == b) return a;
            if (a > b) std::swap(a, b);
            break;
        case Operation::either:
            if (a == always || b == always) return always;
            if (a == never) return b;
            if (b == never || a == b) return a;
            if (a > b) std::swap(a, b);
            break;
        case Operation::without:
            if (a == never || b == always || a == b) return never;
            if (b == never) return a;
            break;
    }
    const std::uint32_t number = static_cast<std::uint32_t>(operation) + 1;
    {
        const Known& known = cache_[place_of(number, a, b) & (cache_.size() - 1)];
        if (known.operation == number && known.a == a && known.b == b) return known.result;
    }
    const std::uint32_t top_a = top(a);
    const std::uint32_t top_b = top(b);
    const std::uint32_t variable = std::min(top_a, top_b);
    const std::uint32_t width = widths_[variable];
    spend(width + node_work);
    Children children(unmade_, width);
    Node last_a = never;
    Node last_b = never;
    for (std::uint32_t c = 0; c < width; ++c) {
        const Node below_a = top_a == variable ? child(a, c) : a;
        const Node below_b = top_b == variable ? child(b, c) : b;
        const bool again = c > 0 && below_a == last_a && below_b == last_b;  // neighbours mostly are alike
        children.put(c, again ? children[c - 1] : apply(operation, below_a, below_b));
        last_a = below_a;
        last_b = below_b;
    }
    const Node made = make(variable, children.data());
    cache_[place_of(number, a, b) & (cache_.size() - 1)] = {a, b, made, number};
    return made;
}

Node Diagrams::all_of(std::vector<Node> nodes) {
    if (nodes.empty()) return always;
    while (nodes.size() > 1) {
        std::vector<Node> next;
        for (std::size_t i = 0; i + 1 < nodes.size(); i += 2) next.push_back(both(nodes[i], nodes[i + 1]));
        if (nodes.size() % 2 == 1) next.push_back(nodes.back());
        nodes = std::move(next);
    }
    return nodes[0];
}

Node Diagrams::any_of(std::vector<Node> nodes) {
    if (nodes.empty()) return never;
    while (nodes.size() > 1) {
        std::vector<Node> next;
        for (std::size_t i = 0; i + 1 < nodes.size(); i += 2) next.push_back(either(nodes[i], nodes[i + 1]));
        if (nodes.size() % 2 == 1) next.push_back(nodes.back());
        nodes = std::move(next);
    }
    return nodes[0];
}

Node Diagrams::box(const Box& box) {
    Node result = always;
    for (auto constraint = box.rbegin(); constraint != box.rend(); ++constraint)
        result = both(literal(constraint->variable, constraint->cells), result);
    return result;
}

// Marks of an earlier walk do not count any more. Nodes made on the way are not walked over.
void Diagrams::begin_walk() {
    marks_.resize(nodes_.size());
    ++walk_;
}

Node Diagrams::forget(Node node, const std::vector<bool>& forget) {
    begin_walk();
    return forgotten(node, forget);
}

Node Diagrams::forgotten(Node node, const std::vector<bool>& forget) {
    if (node <= always) return node;
    if (marks_[node].walk == walk_) return marks_[node].value;
    const std::uint32_t variable = top(node);
    const std::uint32_t width = widths_[variable];
    spend(width + node_work);
    Children children(unmade_, width);
    for (std::uint32_t c = 0; c < width; ++c) children.put(c, forgotten(child(node, c), forget));
    const Node made = forget[variable] ? any_of({children.data(), children.data() + width})
                                       : make(variable, children.data());
    marks_[node] = {walk_, made};
    return made;
}

const std::vector<bool>& Diagrams::support(Node node) {
    const auto [place, fresh] = supports_.try_emplace(node);
    Support& support = place->second;
    if (fresh) {
        support.variables.assign(widths_.size(), false);
        begin_walk();
        std::vector<Node> open{node};
        while (!open.empty()) {
            const Node n = open.back();
            open.pop_back();
            if (n <= always || marks_[n].walk == walk_) continue;
            marks_[n].walk = walk_;
            support.variables[top(n)] = true;
            support.work += widths_[top(n)] + node_work;
            for (std::uint32_t c = 0; c < widths_[top(n)]; ++c) open.push_back(child(n, c));
        }
    }
    spend(support.work);
    return support.variables;
}

std::vector<std::uint32_t> Diagrams::assignment(Node node) const {
    assert(node != never);
    std::vector<std::uint32_t> cells(widths_.size(), 0);
    while (node != always) {
        std::uint32_t c = 0;
        while (child(node, c) == never) ++c;
        cells[top(node)] = c;
        node = child(node, c);
    }
    return cells;
}

// Whether no assignment within `cells` (nullptr: any cell) makes the node true.
bool Diagrams::empty_in(Node node, const std::vector<const CellSet*>& cells) {
    begin_walk();
    return none_in(node, cells);
}

// A node that was come upon before was empty, or the walk would have ended there.
bool Diagrams::none_in(Node node, const std::vector<const CellSet*>& cells) {
    if (node <= always) return node == never;
    if (marks_[node].walk == walk_) return true;
    marks_[node].walk = walk_;
    const std::uint32_t variable = top(node);
    const std::uint32_t width = widths_[variable];
    spend(width + node_work);
    const CellSet* const within = cells[variable];
    Node last = never;
    for (std::uint32_t c = 0; c < width; ++c) {
        const Node below = child(node, c);
        if (below == last || (within != nullptr && !within->has(c))) continue;
        if (!none_in(below, cells)) return false;
        last = below;
    }
    return true;
}

Box Diagrams::widen(Node node, Node possible, const std::vector<std::uint32_t>& seed,
                    const std::vector<std::uint32_t>& order) {
    const Node outside = without(possible, node);
    const std::vector<bool>& matters = support(outside);
    std::vector<CellSet> cells;
    cells.reserve(widths_.size());
    for (std::uint32_t v = 0; v < widths_.size(); ++v) {
        cells.emplace_back(widths_[v]);
        cells.back().put(seed[v]);
    }
    std::vector<const CellSet*> view(widths_.size());
    for (std::uint32_t v = 0; v < widths_.size(); ++v) view[v] = &cells[v];
    const auto fits = [&] { return empty_in(outside, view); };
    const auto adds_something = [&](std::uint32_t v, std::uint32_t c) {
        CellSet only(widths_[v]);
        only.put(c);
        view[v] = &only;
        const bool empty = empty_in(possible, view);
        view[v] = &cells[v];
        return !empty;
    };
    assert(fits());
    for (const std::uint32_t v : order) {  // first leave out whole variables …
        view[v] = nullptr;
        if (!matters[v]) continue;
        if (!fits()) view[v] = &cells[v];
    }
    for (bool widened = true; widened;) {  // … then widen what must stay, nearest cells first
        widened = false;
        for (const std::uint32_t v : order) {
            if (view[v] == nullptr) continue;
            for (std::uint32_t distance = 1; distance < widths_[v]; ++distance)
                for (const bool up : {true, false}) {
                    if (up ? seed[v] + distance >= widths_[v] : seed[v] < distance) continue;
                    const std::uint32_t c = up ? seed[v] + distance : seed[v] - distance;
                    if (cells[v].has(c) || !adds_something(v, c)) continue;
                    cells[v].put(c);
                    if (fits())
                        widened = true;
                    else
                        cells[v].put(c, false);
                }
        }
    }
    Box box;
    for (std::uint32_t v = 0; v < widths_.size(); ++v)
        if (view[v] != nullptr) box.push_back({v, cells[v]});
    return box;
}

std::vector<std::pair<std::uint32_t, std::uint32_t>> Diagrams::may_meet(
    const std::vector<Node>& nodes) const {
    constexpr std::size_t few = 8;
    using Some = std::vector<std::pair<std::uint32_t, Node>>;  // index, and what is left of it
    std::vector<std::pair<std::uint32_t, std::uint32_t>> pairs;
    const std::function<void(const Some&)> go = [&](const Some& some) {
        std::uint32_t v = static_cast<std::uint32_t>(widths_.size());
        for (const auto& [index, node] : some) v = std::min(v, top(node));
        std::vector<Some> by_cell;
        std::size_t products = 0;
        for (std::uint32_t c = 0; some.size() > few && v < widths_.size() && c < widths_[v]; ++c) {
            Some here;
            for (const auto& [index, node] : some) {
                const Node below = top(node) == v ? child(node, c) : node;
                if (below != never) here.emplace_back(index, below);
            }
            products += here.size() * here.size();
            if (by_cell.empty() || by_cell.back() != here) by_cell.push_back(std::move(here));
        }
        if (!by_cell.empty() && products < some.size() * some.size()) {
            for (const Some& here : by_cell) go(here);
            return;
        }
        for (std::size_t i = 0; i < some.size(); ++i)
            for (std::size_t j = i + 1; j < some.size(); ++j)
                pairs.emplace_back(some[i].first, some[j].first);
    };
    Some all;
    for (std::uint32_t i = 0; i < nodes.size(); ++i)
        if (nodes[i] != never) all.emplace_back(i, nodes[i]);
    go(all);
    std::sort(pairs.begin(), pairs.end());
    pairs.erase(std::unique(pairs.begin(), pairs.end()), pairs.end());
    return pairs;
}

}  // namespace linelaw::compiler::analysis
