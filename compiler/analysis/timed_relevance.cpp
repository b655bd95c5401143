#include "compiler/analysis/timed_relevance.hpp"

#include <algorithm>
#include <numeric>

namespace linelaw::compiler::analysis {

using runtime::ClauseId;
using runtime::EventKindId;
using Form = Draft::Form;

bool demands(Form form) {
    return form == Form::deadline || form == Form::response || form == Form::until || form == Form::each ||
           form == Form::had;
}
bool triggered(Form form) {
    return form == Form::response || form == Form::until || form == Form::had || form == Form::hold;
}

const Track* restricted(const Draft& d) {
    switch (d.form) {
        case Form::gap:
        case Form::forbidden:
        case Form::at_most:
        case Form::hold:
            return &d.events;
        case Form::had:
            return &d.triggers;
        default:
            return nullptr;
    }
}

Relevance::Relevance(Workspace& work, const std::vector<Draft>& drafts) : drafts_(drafts) {
    for (const Draft& d : drafts) {
        note_picked(work, d);
        std::set<EventKindId>& kinds = looked_back_.emplace_back();
        for (const DraftClock& clock : d.clocks)
            for (const auto& [kind, runs] : clock.runs_from) kinds.insert(kind);
    }
}

void Relevance::note_picked(Workspace& work, const Draft& d) {
    const std::vector<Variable>& variables = work.situations.variables();
    std::vector<Picked>& picked = picked_.emplace_back();
    const auto note = [&](EventKindId kind, Node node) {
        std::vector<bool> support = work.diagrams.support(node);
        for (std::uint32_t v = 0; v < support.size(); ++v)
            if (support[v] && variables[v].kind == VariableKind::relation)
                support[variables[v].left] = support[variables[v].right] = true;
        bool any = false;
        for (std::uint32_t v = 0; v < support.size(); ++v) {
            if (variables[v].kind != VariableKind::event) support[v] = false;
            any = any || support[v];
        }
        if (any) picked.push_back({kind, std::move(support)});
    };
    for (const Track* track : {&d.events, &d.triggers, &d.others})
        for (const auto& [kind, node] : *track) note(kind, node);
    for (const DraftClock& clock : d.clocks)
        for (const auto& [kind, runs] : clock.runs_from) note(kind, runs.yes);
}

// A demand on values can only stand in the way where something else picks events out by the same values:
// otherwise any event may be given values that keep it (or no value does, and that is said elsewhere).
Drafts Relevance::with_entangled_values(const Drafts& some) const {
    std::map<EventKindId, std::vector<bool>> picked;
    Drafts kept;
    Drafts waiting;
    const auto keep = [&](std::size_t i) {
        kept.push_back(i);
        for (const Picked& p : picked_[i]) {
            std::vector<bool>& all = picked[p.kind];
            all.resize(p.variables.size());
            for (std::size_t v = 0; v < all.size(); ++v) all[v] = all[v] || p.variables[v];
        }
    };
    for (const std::size_t i : some)
        if (drafts_[i].of_values)
            waiting.push_back(i);
        else
            keep(i);
    for (bool more = true; more;) {
        more = false;
        Drafts still;
        for (const std::size_t i : waiting) {
            const bool shares = std::any_of(picked_[i].begin(), picked_[i].end(), [&](const Picked& p) {
                const auto others = picked.find(p.kind);
                if (others == picked.end()) return false;
                for (std::size_t v = 0; v < p.variables.size(); ++v)
                    if (p.variables[v] && others->second[v]) return true;
                return false;
            });
            if (shares)
                keep(i);
            else
                still.push_back(i);
            more = more || shares;
        }
        waiting = std::move(still);
    }
    std::sort(kept.begin(), kept.end());
    return kept;
}

bool Relevance::drop_one_round(Drafts& some) const {
    std::set<EventKindId> held_back;
    std::set<EventKindId> matters;  // demanded, or looked back to
    std::set<EventKindId> looked_back;
    std::map<EventKindId, std::size_t> triggering;  // how many drafts it does
    for (const std::size_t i : some) {
        const Draft& d = drafts_[i];
        if (const Track* track = restricted(d))
            for (const auto& [kind, node] : *track) held_back.insert(kind);
        if (demands(d.form))
            for (const auto& [kind, node] : d.events) matters.insert(kind);
        if (d.form == Form::hold)
            for (const auto& [kind, node] : d.others) matters.insert(kind);  // to end it
        if (triggered(d.form))
            for (const auto& [kind, node] : d.triggers) ++triggering[kind];
        looked_back.insert(looked_back_[i].begin(), looked_back_[i].end());
    }
    matters.insert(looked_back.begin(), looked_back.end());
    std::set<EventKindId> lets_happen;  // a hold on what may happen by itself ends with it
    std::set<EventKindId> exempt;       // done only as an answer, by `unless`
    for (const std::size_t i : some) {
        const Draft& d = drafts_[i];
        if (d.form == Form::gap)
            for (const auto& [kind, node] : d.others) exempt.insert(kind);
        if (d.form != Form::hold) continue;
        const bool by_itself = std::any_of(d.events.begin(), d.events.end(), [&](const auto& e) {
            return triggering.count(e.first) != 0 || looked_back.count(e.first) != 0;
        });
        if (by_itself)
            for (const auto& [kind, node] : d.others) lets_happen.insert(kind);
    }
    const auto free_answer = [&](const Draft& d) {
        if (!demands(d.form)) return false;
        const bool opens = d.form == Form::response || d.form == Form::until;
        const auto asked = [&](const auto& is_so) {
            return std::any_of(d.events.begin(), d.events.end(),
                               [&](const auto& e) { return is_so(e.first); });
        };
        if (opens && asked([&](EventKindId kind) { return exempt.count(kind) != 0; })) return false;
        return asked([&](EventKindId kind) {
            return held_back.count(kind) == 0 && triggering.count(kind) == 0 &&
                   looked_back.count(kind) == 0 && lets_happen.count(kind) == 0;
        });
    };
    const auto restricts_what_matters = [&](const Draft& d, const Track& track) {
        return std::any_of(track.begin(), track.end(), [&](const auto& e) {
            const auto found = triggering.find(e.first);
            const std::size_t by_itself = triggered(d.form) && d.triggers.count(e.first) != 0 ? 1 : 0;
            return matters.count(e.first) != 0 || (found != triggering.end() && found->second > by_itself);
        });
    };
    // What shares an interval with an event that matters may use it up, and so matters too.
    for (std::size_t known = matters.size() + 1; known != matters.size();) {
        known = matters.size();
        for (const std::size_t i : some)
            if (const Track* track = restricted(drafts_[i]);
                track != nullptr && restricts_what_matters(drafts_[i], *track))
                for (const auto& [kind, node] : *track) matters.insert(kind);
    }
    return std::erase_if(some, [&](std::size_t i) {
               const Track* track = restricted(drafts_[i]);
               return free_answer(drafts_[i]) ||
                      (track != nullptr && !restricts_what_matters(drafts_[i], *track));
           }) > 0;
}

Drafts Relevance::kept(const Drafts& some) const {
    Drafts result = with_entangled_values(some);
    while (drop_one_round(result)) {
    }
    return result;
}

std::vector<Drafts> Relevance::groups(const Drafts& some) const {
    std::map<EventKindId, std::size_t> owner;
    std::vector<std::size_t> parent(some.size());
    std::iota(parent.begin(), parent.end(), 0U);
    const auto find = [&](std::size_t i) {
        while (parent[i] != i) i = parent[i] = parent[parent[i]];
        return i;
    };
    for (std::size_t i = 0; i < some.size(); ++i) {
        const auto joins = [&](EventKindId kind) {
            const auto [place, fresh] = owner.emplace(kind, i);
            if (!fresh) parent[find(i)] = find(place->second);
        };
        const Draft& d = drafts_[some[i]];
        for (const Track* track : {&d.events, &d.triggers, &d.others})
            for (const auto& [kind, node] : *track) joins(kind);
        for (const EventKindId kind : looked_back_[some[i]]) joins(kind);
    }
    std::map<std::size_t, Drafts> gathered;
    for (std::size_t i = 0; i < some.size(); ++i) gathered[find(i)].push_back(some[i]);
    std::vector<Drafts> result;
    for (auto& [root, members] : gathered) result.push_back(std::move(members));
    return result;
}

}  // namespace linelaw::compiler::analysis
