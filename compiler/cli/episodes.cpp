#include "compiler/cli/episodes.hpp"

#include <algorithm>

#include "compiler/cli/input_notes.hpp"
#include "compiler/cli/terminal.hpp"
#include "runtime/input.hpp"
#include "runtime/input_looks.hpp"

namespace linelaw::compiler::cli {
namespace {

constexpr std::size_t chunk_size = 1U << 20U;

bool is_blank(std::string_view text) {
    return text.find_first_not_of(" \t\r\n") == std::string_view::npos;
}

class RecordTexts {
  public:
    explicit RecordTexts(const RecordSink& sink) : sink_(sink) {}

    // False where the caller has seen enough.
    bool chunk(const runtime::Chunk& chunk, const std::string& file) {
        const std::string_view text = chunk.text();
        EpisodePlace place{file, chunk.first_line};
        if (chunk.offset == 0 && is_one_record(text)) {
            std::string joined(text);
            std::replace(joined.begin(), joined.end(), '\n', ' ');
            return record(joined, place);
        }
        if (const auto look = runtime::no_lines_of_records(text); chunk.offset == 0 && !look.empty())
            warn(look_note(file, look));
        for (std::size_t begin = 0; begin < text.size(); ++place.line) {
            const std::size_t end = std::min(text.find('\n', begin), text.size());
            if (!record(text.substr(begin, end - begin), place)) return false;
            begin = end + 1;
        }
        return true;
    }

  private:
    // An object whose first line does not close it: written for people to read.
    static bool is_one_record(std::string_view text) {
        const std::size_t end = text.find('\n');
        if (end == std::string_view::npos) return false;
        const std::string_view first = text.substr(0, end);
        const std::size_t begin = first.find_first_not_of(" \t");
        const std::size_t last = first.find_last_not_of(" \t\r");
        return begin != std::string_view::npos && first[begin] == '{' && first[last] != '}';
    }
    bool record(std::string_view text, const EpisodePlace& place) {
        return is_blank(text) || sink_(text, place);
    }

    const RecordSink& sink_;
};

}  // namespace

runtime::Result<void> read_record_texts(const std::vector<std::string>& files, const RecordSink& sink) {
    runtime::ChunkReader reader(files, chunk_size, record_limit);
    RecordTexts records(sink);
    runtime::Chunk chunk;
    for (;;) {
        const auto more = reader.next(chunk);
        if (!more) return tl::unexpected(more.error());
        if (!*more || !records.chunk(chunk, reader.files()[chunk.file])) return {};
    }
}

runtime::Result<void> read_episodes(const runtime::Policy& policy, const std::vector<std::string>& files,
                                    const EpisodeSinks& sinks) {
    runtime::RecordReader reader(policy, {false, record_limit});
    runtime::Episode episode;
    std::vector<runtime::Spoiled> set_aside;
    return read_record_texts(files, [&](std::string_view text, const EpisodePlace& place) {
        const auto spoiled = reader.read(text, episode, set_aside);
        const runtime::ReadCounts seen = reader.take_counts();
        if (spoiled) {
            if (sinks.spoiled) sinks.spoiled(*spoiled, episode.key, place);
            return true;
        }
        if (sinks.not_used) sinks.not_used(seen);
        return sinks.episode(episode, place);
    });
}

}  // namespace linelaw::compiler::cli
