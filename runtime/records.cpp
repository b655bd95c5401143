#include "runtime/records.hpp"

#include <iterator>

#include "runtime/records_reading.hpp"

namespace linelaw::runtime {

namespace {

constexpr std::size_t most_unknown_names = 1'000;
constexpr const char* others = "(others)";

}  // namespace

void ReadCounts::count(Names& names, const std::string& name, std::uint64_t times) {
    names[name] += times;
    if (names.size() <= most_unknown_names || names.size() - names.count(others) <= most_unknown_names)
        return;
    auto last = std::prev(names.end());
    if (last->first == others) --last;
    names[others] += last->second;
    names.erase(last);
}

void ReadCounts::add(const ReadCounts& other) {
    identical_repeats += other.identical_repeats;
    after_observed_until += other.after_observed_until;
    for (const auto& [key, times] : other.unknown_keys) count(unknown_keys, key, times);
    for (const auto& [type, times] : other.unknown_events) count(unknown_events, type, times);
}

struct RecordReader::Implementation : records::Reading {
    using Reading::Reading;
};

RecordReader::RecordReader(const Policy& policy, ReaderOptions options)
    : implementation_(std::make_unique<Implementation>(policy, options)) {}
RecordReader::~RecordReader() = default;
RecordReader::RecordReader(RecordReader&&) noexcept = default;
RecordReader& RecordReader::operator=(RecordReader&&) noexcept = default;

std::unique_ptr<Spoiled> RecordReader::read(std::string_view record, Episode& episode,
                                            std::vector<Spoiled>& set_aside) {
    return implementation_->read(record, episode, set_aside);
}

const ReadCounts& RecordReader::counts() const {
    return implementation_->counts();
}
ReadCounts RecordReader::take_counts() {
    return implementation_->take_counts();
}

}  // namespace linelaw::runtime
