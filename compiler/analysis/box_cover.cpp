#include "compiler/analysis/box_cover.hpp"

#include <algorithm>
#include <numeric>

namespace linelaw::compiler::analysis {

BoxCover::BoxCover(std::vector<CoverColumn> columns, const std::vector<Cells>& boxes)
    : columns_(std::move(columns)), empty_(boxes.size(), false) {
    for (std::size_t c = 0; c < columns_.size(); ++c) {
        const CellSet& domain = columns_[c].domain;
        std::vector<std::uint32_t> index(domain.size(), 0);
        cells_.emplace_back();
        for (std::uint32_t cell = 0; cell < domain.size(); ++cell) {
            index[cell] = static_cast<std::uint32_t>(cells_[c].size());
            if (domain.has(cell)) cells_[c].push_back(cell);
        }
        span_.emplace_back(boxes.size());
        set_.emplace_back(boxes.size(), no_set);
        for (std::size_t b = 0; b < boxes.size(); ++b) {
            CellSet here = boxes[b][c];
            here.keep(domain);
            const std::size_t count = here.count();
            empty_[b] = empty_[b] || count == 0;
            if (count == 0) continue;
            Span& span = span_[c][b];
            span = {index[here.first()], index[here.last()]};
            if (columns_[c].ordered && span.high - span.low + 1 == count) continue;
            set_[c][b] = static_cast<std::uint32_t>(sets_.size());
            sets_.emplace_back(size(c));
            for (std::uint32_t i = span.low; i <= span.high; ++i) sets_.back().put(i, here.has(cells_[c][i]));
        }
    }
}

bool BoxCover::meets(std::size_t c, std::uint32_t box, const Span& span) const {
    const Span& own = span_[c][box];
    const std::uint32_t from = std::max(own.low, span.low);
    const std::uint32_t to = std::min(own.high, span.high);
    const CellSet* cells = set(c, box);
    if (cells == nullptr) return from <= to;
    for (std::uint32_t i = from; i <= to; ++i)
        if (cells->has(i)) return true;
    return false;
}

bool BoxCover::meets(std::size_t c, std::uint32_t a, std::uint32_t b) const {
    const CellSet* of_a = set(c, a);
    const CellSet* of_b = set(c, b);
    if (of_a != nullptr && of_b != nullptr) return of_a->meets(*of_b);
    return of_a == nullptr ? meets(c, b, span_[c][a]) : meets(c, a, span_[c][b]);
}

bool BoxCover::covers(std::size_t c, std::uint32_t box, const Span& span) const {
    const Span& own = span_[c][box];
    if (own.low > span.low || own.high < span.high) return false;
    const CellSet* cells = set(c, box);
    for (std::uint32_t i = span.low; cells != nullptr && i <= span.high; ++i)
        if (!cells->has(i)) return false;
    return true;
}

bool BoxCover::meets(std::size_t c, std::uint32_t box, const Wide& wide) const {
    if (columns_[c].ordered) return meets(c, box, wide.spans[c]);
    return set(c, box)->meets(wide.sets[c]);
}

// A sweep along the column in which boxes are the narrowest.
std::vector<std::pair<std::uint32_t, std::uint32_t>> BoxCover::meeting() const {
    std::vector<std::pair<std::uint32_t, std::uint32_t>> result;
    if (columns_.empty()) return result;
    std::size_t along = 0;
    double narrowest = 2;
    for (std::size_t c = 0; c < columns_.size(); ++c) {
        double share = 0;
        for (std::uint32_t b = 0; b < empty_.size(); ++b)
            if (!empty_[b]) share += (span_[c][b].high - span_[c][b].low + 1.0) / double(size(c));
        share /= double(empty_.size() + 1);
        if (share >= narrowest) continue;
        narrowest = share;
        along = c;
    }
    Rows order;
    for (std::uint32_t b = 0; b < empty_.size(); ++b)
        if (!empty_[b]) order.push_back(b);
    std::stable_sort(order.begin(), order.end(), [&](std::uint32_t a, std::uint32_t b) {
        return span_[along][a].low < span_[along][b].low;
    });
    for (std::size_t i = 0; i < order.size(); ++i)
        for (std::size_t j = i + 1; j < order.size(); ++j) {
            const std::uint32_t a = order[i];
            const std::uint32_t b = order[j];
            if (span_[along][b].low > span_[along][a].high) break;
            bool all = true;
            for (std::size_t c = 0; all && c < columns_.size(); ++c) all = meets(c, a, b);
            if (all) result.emplace_back(std::min(a, b), std::max(a, b));
        }
    std::sort(result.begin(), result.end());
    return result;
}

// The cut that parts the boxes best: few on either side, few on both.
std::pair<std::size_t, std::uint32_t> BoxCover::cut_of(const Region& region, const Rows& rows) const {
    std::pair<std::size_t, std::uint32_t> best{columns_.size(), 0};
    std::size_t least = SIZE_MAX;
    Rows lows;
    Rows highs;
    Rows at;
    for (std::size_t c = 0; c < columns_.size(); ++c) {
        const Span& span = region[c];
        lows.clear();
        highs.clear();
        at.clear();
        for (const std::uint32_t r : rows) {
            lows.push_back(span_[c][r].low);
            highs.push_back(span_[c][r].high);
            if (lows.back() > span.low) at.push_back(lows.back());
            if (highs.back() < span.high) at.push_back(highs.back() + 1);
            const CellSet* cells = set(c, r);
            for (std::uint32_t i = span.low + 1; cells != nullptr && i <= span.high; ++i)
                if (cells->has(i) != cells->has(i - 1)) at.push_back(i);
        }
        std::sort(lows.begin(), lows.end());
        std::sort(highs.begin(), highs.end());
        std::sort(at.begin(), at.end());
        std::size_t before = 0;  // boxes that begin before the cut, and that end before it
        std::size_t ended = 0;
        for (const std::uint32_t cut : at) {
            while (before < lows.size() && lows[before] < cut) ++before;
            while (ended < highs.size() && highs[ended] < cut) ++ended;
            const std::size_t after = rows.size() - ended;
            const std::size_t cost = std::max(before, after) + (before + after - rows.size());
            if (cost >= least) continue;
            least = cost;
            best = {c, cut};
        }
    }
    return best;
}

// Leaves regions that no box meets. `rows` are those that meet this one. False where there are too many.
bool BoxCover::divide(const Region& region, const Rows& rows, std::size_t limit,
                      std::vector<Region>& left) const {
    if (rows.empty()) {
        left.push_back(region);
        return left.size() < limit;
    }
    for (const std::uint32_t r : rows) {
        bool all = true;
        for (std::size_t c = 0; all && c < columns_.size(); ++c) all = covers(c, r, region[c]);
        if (all) return true;
    }
    const auto [column, cut] = cut_of(region, rows);
    for (const bool lower : {true, false}) {
        Region part = region;
        if (lower)
            part[column].high = cut - 1;
        else
            part[column].low = cut;
        Rows here;
        for (const std::uint32_t r : rows)
            if (meets(column, r, part[column])) here.push_back(r);
        if (!divide(part, here, limit, left)) return false;
    }
    return true;
}

bool BoxCover::covered_by_earlier(std::uint32_t box) const {
    if (empty_[box]) return true;
    Region hull;
    for (std::size_t c = 0; c < columns_.size(); ++c) hull.push_back(span_[c][box]);
    Rows rows;
    for (std::uint32_t r = 0; r < box; ++r) {
        bool all = !empty_[r];
        for (std::size_t c = 0; all && c < columns_.size(); ++c) all = meets(c, r, hull[c]);
        if (all) rows.push_back(r);
    }
    // What lies in the hull and is no cell of the box need not be covered.
    std::vector<Region> left;
    divide(hull, rows, SIZE_MAX, left);
    return std::none_of(left.begin(), left.end(), [&](const Region& region) {
        bool all = true;
        for (std::size_t c = 0; all && c < columns_.size(); ++c) all = meets(c, box, region[c]);
        return all;
    });
}

// Of each box a bit for every column in which it lies apart. A box that lies apart in one column only stands
// in the way there.
BoxCover::Wide BoxCover::widened(const Region& region) const {
    Wide wide;
    wide.spans = region;
    for (std::size_t c = 0; c < columns_.size(); ++c) {
        wide.sets.emplace_back();
        if (columns_[c].ordered) continue;
        wide.sets[c] = CellSet(size(c));
        wide.sets[c].put_range(region[c].low, region[c].high);
    }
    std::vector<std::uint64_t> apart(empty_.size(), 0);
    for (std::size_t c = 0; c < columns_.size(); ++c)
        for (std::uint32_t r = 0; r < apart.size(); ++r)
            if (!empty_[r] && !meets(c, r, wide)) apart[r] |= std::uint64_t{1} << c;
    const auto grow = [&](std::size_t c, bool whole) {
        const std::uint64_t only = std::uint64_t{1} << c;
        CellSet blocked(size(c));
        bool any = false;
        for (std::uint32_t r = 0; r < apart.size(); ++r) {
            if (apart[r] != only) continue;
            any = true;
            if (whole) return;
            if (set(c, r) == nullptr) {
                blocked.put_range(span_[c][r].low, span_[c][r].high);
            } else {
                for (std::uint32_t i = span_[c][r].low; i <= span_[c][r].high; ++i)
                    if (set(c, r)->has(i)) blocked.put(i);
            }
        }
        if (!any) blocked = CellSet(size(c));
        Span& span = wide.spans[c];
        if (columns_[c].ordered) {
            while (span.low > 0 && !blocked.has(span.low - 1)) --span.low;
            while (span.high + 1 < size(c) && !blocked.has(span.high + 1)) ++span.high;
        } else {
            for (std::uint32_t i = 0; i < size(c); ++i) wide.sets[c].put(i, !blocked.has(i));
        }
        for (std::uint32_t r = 0; r < apart.size(); ++r)
            if ((apart[r] & only) != 0 && meets(c, r, wide)) apart[r] &= ~only;
    };
    // What people think of last is left out first.
    for (const bool whole : {true, false})
        for (std::size_t c = columns_.size(); c-- > 0;) grow(c, whole);
    return wide;
}

bool BoxCover::within(const Region& region, const Wide& wide) const {
    for (std::size_t c = 0; c < columns_.size(); ++c) {
        if (columns_[c].ordered) {
            if (region[c].low < wide.spans[c].low || region[c].high > wide.spans[c].high) return false;
            continue;
        }
        for (std::uint32_t i = region[c].low; i <= region[c].high; ++i)
            if (!wide.sets[c].has(i)) return false;
    }
    return true;
}

Cells BoxCover::told(const Wide& wide) const {
    Cells result;
    for (std::size_t c = 0; c < columns_.size(); ++c) {
        CellSet cells(columns_[c].domain.size());
        for (std::uint32_t i = 0; i < size(c); ++i)
            if (columns_[c].ordered ? wide.spans[c].low <= i && i <= wide.spans[c].high : wide.sets[c].has(i))
                cells.put(cells_[c][i]);
        result.push_back(std::move(cells));
    }
    return result;
}

std::vector<Cells> BoxCover::uncovered(std::size_t limit, bool& cut) const {
    Region all;
    Rows rows;
    for (std::size_t c = 0; c < columns_.size(); ++c) {
        if (size(c) == 0) return {};
        all.push_back({0, static_cast<std::uint32_t>(size(c) - 1)});
    }
    for (std::uint32_t r = 0; r < empty_.size(); ++r)
        if (!empty_[r]) rows.push_back(r);
    std::vector<Region> pieces;
    cut = !divide(all, rows, limit, pieces);
    std::vector<Wide> found;
    for (const Region& piece : pieces)
        if (std::none_of(found.begin(), found.end(), [&](const Wide& w) { return within(piece, w); }))
            found.push_back(widened(piece));
    // A box whose every piece lies in another one too says nothing new.
    std::vector<std::uint32_t> times(pieces.size(), 0);
    std::vector<Rows> holds(found.size());
    for (std::uint32_t p = 0; p < pieces.size(); ++p)
        for (std::size_t f = 0; f < found.size(); ++f)
            if (within(pieces[p], found[f])) {
                holds[f].push_back(p);
                ++times[p];
            }
    std::vector<std::size_t> order(found.size());
    std::iota(order.begin(), order.end(), 0U);
    std::stable_sort(order.begin(), order.end(),
                     [&](std::size_t a, std::size_t b) { return holds[a].size() < holds[b].size(); });
    std::vector<bool> needed(found.size(), true);
    for (const std::size_t f : order) {
        needed[f] =
            std::any_of(holds[f].begin(), holds[f].end(), [&](std::uint32_t p) { return times[p] == 1; });
        if (needed[f]) continue;
        for (const std::uint32_t p : holds[f]) --times[p];
    }
    std::vector<Cells> result;
    for (std::size_t f = 0; f < found.size(); ++f)
        if (needed[f]) result.push_back(told(found[f]));
    return result;
}

}  // namespace linelaw::compiler::analysis
