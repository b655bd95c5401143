// simdjson on demand visiting every field of every line, and nothing else: how fast JSON can be read at all.
//
//   bench_walk FILE
#include "walk.hpp"

#include "lines.hpp"

int main(int argc, char** argv) {
    simdjson::ondemand::parser parser;
    Seen seen;
    std::size_t records = 0, broken = 0;
    const auto read = [&](std::string_view line) {
        try {
            auto document =
                parser.iterate(line.data(), line.size(), line.size() + simdjson::SIMDJSON_PADDING);
            walk(document, seen);
            ++records;
        } catch (const simdjson::simdjson_error&) {
            ++broken;  // the demo's records hold some that are no JSON
        }
    };
    for (int i = 1; i < argc; ++i)
        if (!each_line(argv[i], read)) return 2;
    std::printf("%zu %zu %zu %zu %.0f\n", records, broken, seen.fields, seen.bytes_of_texts, seen.numbers);
}
