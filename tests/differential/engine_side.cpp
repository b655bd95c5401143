#include "tests/differential/engine_side.hpp"

#include <algorithm>
#include <stdexcept>

#include "compiler/compile.hpp"
#include "runtime/joined.hpp"

namespace linelaw::literal {

EngineSide::EngineSide(const std::string& policy, const std::string& vocabulary) {
    const auto read_either = [&](const std::string& path) -> std::optional<std::string> {
        return path.find("policy.linelaw") != std::string::npos ? policy : vocabulary;
    };
    auto compilation = compiler::compile("policy.linelaw", read_either);
    if (!compilation.compiled) {
        for (const auto& d : compilation.diagnostics)
            if (d.severity == grammar::Severity::error) problem_ += d.code + ": " + d.message + "\n";
        if (problem_.empty()) problem_ = "the policy does not compile, and nothing says why";
        return;
    }
    policy_ = std::make_unique<runtime::Policy>(std::move(compilation.compiled->policy));
    reader_ = std::make_unique<runtime::RecordReader>(*policy_);
    engine_ = std::make_unique<runtime::Engine>(*policy_);
}

void EngineSide::read(const std::string& record) {
    if (const auto spoiled = reader_->read(record, episode_, set_aside_))
        throw std::runtime_error(spoiled->code + " at " + spoiled->pointer + ": " + spoiled->reason);
}

std::vector<Row> EngineSide::judge(const std::string& record) {
    read(record);
    return rows(engine_->judge(episode_).opportunities);
}

std::vector<Row> EngineSide::judge_in_steps(const std::string& record) {
    read(record);
    runtime::Episode growing = episode_;
    growing.events.clear();
    engine_->begin(growing);
    for (const auto& event : episode_.events) {
        growing.events.push_back(event);
        engine_->feed(growing);
    }
    return rows(engine_->finish(growing).opportunities);
}

std::pair<std::vector<Row>, std::vector<Row>> EngineSide::due_and_finished(const std::string& record,
                                                                           std::size_t events) {
    read(record);
    runtime::Episode growing = episode_;
    growing.observed_until.reset();
    growing.removed_at.reset();
    growing.events.clear();
    engine_->begin(growing);
    for (std::size_t i = 0; i < std::min(events, episode_.events.size()); ++i) {
        growing.events.push_back(episode_.events[i]);
        engine_->feed(growing);
    }
    std::vector<runtime::Opportunity> open;
    for (const runtime::Due& d : engine_->due(growing)) open.push_back(d.opportunity);
    std::vector<runtime::Opportunity> finished;
    for (const auto& o : engine_->judge(growing))
        if (o.origin != runtime::OriginKind::bundle) finished.push_back(o);
    return {rows(open), rows(finished)};
}

std::vector<Row> EngineSide::judge_in_editions(const std::string& record, int days_in) {
    read(record);
    const auto zone = runtime::Zone::of(policy_->time_zone);
    runtime::Policy older = *policy_;
    runtime::Policy newer = *policy_;
    // Without an event not even the insertion is known, and the record says from when it is.
    const auto first = episode_.events.empty() ? *episode_.observed_from : episode_.events.front().at;
    newer.in_force_from = runtime::add_days(zone.date_of(first), days_in);
    older.in_force_until = runtime::add_days(*newer.in_force_from, -1);
    const auto together = runtime::joined({older, newer});
    if (!together) throw std::runtime_error(together.error().message);
    runtime::Engine engine(*together);
    return rows(engine.judge(episode_).opportunities, *together);
}

std::vector<Row> EngineSide::rows(const std::vector<runtime::Opportunity>& list) const {
    return rows(list, *policy_);
}

std::vector<Row> EngineSide::rows(const std::vector<runtime::Opportunity>& list,
                                  const runtime::Policy& policy) const {
    std::vector<Row> out;
    for (const auto& o : list) {
        Row r;
        if (o.origin == runtime::OriginKind::clause) r.id = policy.clauses[o.item].id;
        if (o.origin == runtime::OriginKind::bundle) r.id = policy.bundles[o.item].id;
        if (o.origin == runtime::OriginKind::ladder) {
            r.id = policy.ladders[o.item].id;
            r.step = static_cast<int>(o.step);
        }
        if (o.part_kind != runtime::none) {
            const bool counted = policy.part_kinds[o.part_kind].count_slot != runtime::none;
            if (o.part != runtime::none)
                r.part = counted ? std::to_string(o.part) : std::string(episode_.texts[o.part]);
        }
        r.outcome = runtime::outcome_names[static_cast<std::size_t>(o.outcome)];
        r.opened = o.opened;
        r.due = o.due;
        r.limit = o.limit;
        r.closed = o.closed;
        out.push_back(std::move(r));
    }
    return out;
}

}  // namespace linelaw::literal
