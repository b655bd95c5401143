#include "compiler/cli/episodes.hpp"

#include <algorithm>

#include "runtime/input.hpp"

namespace linelaw::compiler::cli {
namespace {

constexpr std::size_t chunk_size = 1U << 20U;
constexpr std::size_t record_limit = 16U << 20U;

bool is_blank(std::string_view text) {
    return text.find_first_not_of(" \t\r\n") == std::string_view::npos;
}

class Episodes {
  public:
    Episodes(const runtime::Policy& policy, const EpisodeSinks& sinks)
        : sinks_(sinks), reader_(policy, {false, record_limit}) {}

    // False where the caller has seen enough.
    bool chunk(const runtime::Chunk& chunk, const std::string& file) {
        const std::string_view text = chunk.text();
        EpisodePlace place{file, chunk.first_line};
        if (chunk.offset == 0 && is_one_record(text)) {
            std::string joined(text);
            std::replace(joined.begin(), joined.end(), '\n', ' ');
            return record(joined, place);
        }
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
        if (is_blank(text)) return true;
        if (const auto spoiled = reader_.read(text, episode_, set_aside_)) {
            if (sinks_.spoiled) sinks_.spoiled(*spoiled, place);
            return true;
        }
        return sinks_.episode(episode_, place);
    }

    const EpisodeSinks& sinks_;
    runtime::RecordReader reader_;
    runtime::Episode episode_;
    std::vector<runtime::Spoiled> set_aside_;
};

}  // namespace

runtime::Result<void> read_episodes(const runtime::Policy& policy, const std::vector<std::string>& inputs,
                                    const EpisodeSinks& sinks) {
    auto files = runtime::expand_inputs(inputs);
    if (!files) return tl::unexpected(files.error());
    runtime::ChunkReader reader(std::move(*files), chunk_size, record_limit);
    Episodes episodes(policy, sinks);
    runtime::Chunk chunk;
    for (;;) {
        const auto more = reader.next(chunk);
        if (!more) return tl::unexpected(more.error());
        if (!*more || !episodes.chunk(chunk, reader.files()[chunk.file])) return {};
    }
}

}  // namespace linelaw::compiler::cli
