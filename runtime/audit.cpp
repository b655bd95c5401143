#include "runtime/audit.hpp"

#include <algorithm>
#include <condition_variable>
#include <deque>
#include <exception>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <thread>

#include "runtime/audit_worker.hpp"
#include "runtime/input.hpp"
#include "runtime/input_files.hpp"
#include "runtime/input_looks.hpp"

namespace linelaw::runtime {
namespace {

constexpr std::size_t chunk_size = 128U << 10U;

// A chunk on its way: read, judged, given out, used again.
struct Work {
    Chunk chunk;
    Judged judged;
};

// Where the reading thread and the workers meet. Work that is done is given out in order, by whichever worker
// completes the next one; the others meanwhile go on.
class Exchange {
  public:
    Exchange(const AuditSinks& sinks, std::size_t works, std::uint64_t records)
        : sinks_(sinks), works_(works), records_(records) {
        for (std::size_t i = 0; i < works; ++i) free_.push_back(std::make_unique<Work>());
    }

    // For the reading thread, which is woken for half of all works at once: to wake it for each takes longer
    // than to read one. Nothing where the audit has failed.
    std::unique_ptr<Work> take_free() {
        std::unique_lock lock(mutex_);
        freed_.wait(lock, [&] { return !free_.empty() || error_; });
        if (error_) return nullptr;
        auto work = std::move(free_.back());
        free_.pop_back();
        return work;
    }
    void put_read(std::unique_ptr<Work> work) {
        const std::lock_guard lock(mutex_);
        read_.push_back(std::move(work));
        readied_.notify_one();
    }
    // Waits until all that was read is given out; the workers then rest. False where the audit has failed.
    bool drain() {
        std::unique_lock lock(mutex_);
        freed_.wait(lock, [&] { return free_.size() == works_ || error_; });
        return !error_;
    }
    void end() {
        const std::lock_guard lock(mutex_);
        ended_ = true;
        readied_.notify_all();
    }
    void fail(Error error) {
        const std::lock_guard lock(mutex_);
        note(std::move(error));
    }

    // For the workers. Nothing where there is no more to do.
    std::unique_ptr<Work> take_read() {
        std::unique_lock lock(mutex_);
        readied_.wait(lock, [&] { return !read_.empty() || ended_ || error_; });
        if (read_.empty() || error_) return nullptr;
        auto work = std::move(read_.front());
        read_.pop_front();
        return work;
    }
    void put_done(std::unique_ptr<Work> work) {
        std::unique_lock lock(mutex_);
        const std::uint64_t sequence = work->chunk.sequence;
        done_.emplace(sequence, std::move(work));
        if (giving_out_) return;  // another worker gives this one out too
        giving_out_ = true;
        while (!error_ && !done_.empty() && done_.begin()->first == next_) {
            auto next = std::move(done_.begin()->second);
            done_.erase(done_.begin());
            lock.unlock();
            auto given = give_out(next->judged);
            lock.lock();
            if (!given) note(given.error());
            records_ += next->judged.records;
            free_.push_back(std::move(next));
            ++next_;
            if (free_.size() >= works_ / 2) freed_.notify_one();
        }
        giving_out_ = false;
    }

    std::uint64_t records() const {
        const std::lock_guard lock(mutex_);
        return records_;
    }
    const std::optional<Error>& error() const { return error_; }  // after the workers have ended

  private:
    Result<void> give_out(const Judged& judged) const {
        const auto pass = [](const Sink& sink, const std::string& text) -> Result<void> {
            return sink && !text.empty() ? sink(text) : Result<void>{};
        };
        auto given = pass(sinks_.findings, judged.findings);
        if (given) given = pass(sinks_.quarantine, judged.quarantine);
        if (given) given = pass(sinks_.set_aside, judged.set_aside);
        return given;
    }
    void note(Error error) {
        if (!error_) error_ = std::move(error);
        freed_.notify_all();
        readied_.notify_all();
    }

    const AuditSinks& sinks_;
    const std::size_t works_;
    mutable std::mutex mutex_;
    std::condition_variable freed_;
    std::condition_variable readied_;
    std::deque<std::unique_ptr<Work>> free_;
    std::deque<std::unique_ptr<Work>> read_;
    std::map<std::uint64_t, std::unique_ptr<Work>> done_;
    std::uint64_t next_ = 0;
    bool giving_out_ = false;
    std::uint64_t records_;
    bool ended_ = false;
    std::optional<Error> error_;
};

// The words of what was thrown might quote a record.
Error cannot_go_on() {
    return {"audit.failed",
            "the audit cannot go on: a fault of this program, or memory ran out; no record is quoted "
            "here, but `--jobs 1` on smaller files shows which one it is"};
}

void work(Exchange& exchange, AuditWorker& worker) {
    try {
        while (auto next = exchange.take_read()) {
            worker.judge(next->chunk, next->judged);
            exchange.put_done(std::move(next));
        }
        worker.finish();
    } catch (const std::exception&) {
        exchange.fail(cannot_go_on());
    }
}

// What the workers have counted since they were last asked, added to the rest. They rest meanwhile.
void collect(const std::vector<std::unique_ptr<AuditWorker>>& workers, Tally& tally) {
    for (const auto& worker : workers) {
        if (tally.read == 0)
            tally = worker->take();
        else
            tally.add(worker->take());
    }
}

void look_at(const Chunk& chunk, const ChunkReader& reader, const AuditSinks& sinks) {
    if (!sinks.look || chunk.offset != 0) return;
    const std::string_view look = no_lines_of_records(chunk.text());
    if (!look.empty()) sinks.look(reader.files()[chunk.file], look);
}

void read(Exchange& exchange, ChunkReader& reader, const AuditSinks& sinks,
          const std::vector<std::unique_ptr<AuditWorker>>& workers, Tally& tally) {
    while (auto free = exchange.take_free()) {
        const auto more = reader.next(free->chunk);
        if (!more) return exchange.fail(more.error());
        if (!*more) break;
        look_at(free->chunk, reader, sinks);
        exchange.put_read(std::move(free));
        if (sinks.progress) sinks.progress({exchange.records(), reader.bytes_read(), reader.bytes_total()});
        if (!sinks.checkpoint_due || !sinks.checkpoint_due()) continue;
        if (!exchange.drain()) return;
        collect(workers, tally);
        Checkpoint checkpoint{reader.position(), std::move(tally)};
        if (auto made = sinks.checkpoint(checkpoint); !made) return exchange.fail(made.error());
        tally = std::move(checkpoint.tally);
    }
    exchange.end();
}

Result<std::vector<Grouping>> groupings_of(const Policy& policy, const std::vector<std::string>& by) {
    std::vector<Grouping> groupings;
    for (const std::string& attribute : by) {
        auto group = grouping(policy, attribute);
        if (!group) return tl::unexpected(group.error());
        groupings.push_back(std::move(*group));
    }
    return groupings;
}

Result<ChunkReader> reader_of(const AuditOptions& options) {
    const auto files = expand_inputs(options.inputs);
    if (!files) return tl::unexpected(files.error());
    auto parts = parts_of(files->files, options.shard);
    if (!parts) return tl::unexpected(parts.error());
    return ChunkReader(std::move(*parts), chunk_size, options.record_limit);
}

}  // namespace

Result<Tally> audit(const Policy& policy, const AuditOptions& options, const AuditSinks& sinks,
                    const Checkpoint* from) {
    const auto groupings = groupings_of(policy, options.tally.by);
    if (!groupings) return tl::unexpected(groupings.error());
    auto reader = reader_of(options);
    if (!reader) return tl::unexpected(reader.error());
    Tally tally;
    if (from != nullptr) {
        tally = from->tally;
        if (auto placed = reader->go_on(from->position); !placed) return tl::unexpected(placed.error());
    }
    const Items items(policy);
    const unsigned jobs =
        options.jobs != 0 ? options.jobs : std::max(1U, std::thread::hardware_concurrency());
    std::vector<std::unique_ptr<AuditWorker>> workers;
    for (unsigned i = 0; i < jobs; ++i) {
        workers.push_back(std::make_unique<AuditWorker>(policy, items, options, *groupings, reader->files()));
    }
    Exchange exchange(sinks, 4 * std::size_t{jobs} + 4, tally.read);
    {
        std::vector<std::jthread> threads;
        threads.reserve(jobs);
        try {
            for (const auto& worker : workers)
                threads.emplace_back([&exchange, &worker] { work(exchange, *worker); });
            read(exchange, *reader, sinks, workers, tally);
        } catch (const std::exception&) {  // those that run wait for work, or for an end
            exchange.fail(cannot_go_on());
        }
    }
    if (exchange.error()) return tl::unexpected(*exchange.error());
    collect(workers, tally);
    tally.put_in_order();
    if (tally.review.since) tally.review.since->gone = options.review.earlier->gone();
    return tally;
}

}  // namespace linelaw::runtime
