// simdjson on demand visiting every field of every line, and nothing else: how fast JSON can be read at all.
//
//   bench_walk FILE
#include "lines.hpp"

namespace {

namespace json = simdjson::ondemand;

struct Seen {
    std::size_t records = 0, broken = 0, fields = 0, bytes_of_texts = 0;
    double numbers = 0;
};

template <class Value>
void walk(Value&& value, Seen& seen) {
    switch (value.type()) {
        case json::json_type::object:
            for (auto field : value.get_object()) {
                seen.bytes_of_texts += std::string_view(field.unescaped_key()).size();
                ++seen.fields;
                walk(field.value(), seen);
            }
            break;
        case json::json_type::array:
            for (auto item : value.get_array()) walk(item, seen);
            break;
        case json::json_type::string:
            seen.bytes_of_texts += std::string_view(value.get_string()).size();
            break;
        case json::json_type::number:
            seen.numbers += double(value.get_double());
            break;
        case json::json_type::boolean:
            seen.numbers += bool(value.get_bool()) ? 1 : 0;
            break;
        case json::json_type::null:
            value.is_null();
            break;
    }
}

}  // namespace

int main(int argc, char** argv) {
    json::parser parser;
    Seen seen;
    const auto read = [&](std::string_view line) {
        try {
            auto document =
                parser.iterate(line.data(), line.size(), line.size() + simdjson::SIMDJSON_PADDING);
            walk(document, seen);
            ++seen.records;
        } catch (const simdjson::simdjson_error&) {
            ++seen.broken;  // the demo's records hold some that are no JSON
        }
    };
    for (int i = 1; i < argc; ++i)
        if (!each_line(argv[i], read)) return 2;
    std::printf("%zu %zu %zu %zu %.0f\n", seen.records, seen.broken, seen.fields, seen.bytes_of_texts,
                seen.numbers);
}
