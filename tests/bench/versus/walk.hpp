// simdjson on demand visiting every field of a value, and nothing else.
#pragma once

#include <simdjson.h>

#include <string_view>

struct Seen {
    std::size_t fields = 0, bytes_of_texts = 0;
    double numbers = 0;
};

// Throws simdjson_error where the value is no JSON.
template <class Value>
void walk(Value&& value, Seen& seen) {
    using simdjson::ondemand::json_type;
    switch (value.type()) {
        case json_type::object:
            for (auto field : value.get_object()) {
                seen.bytes_of_texts += std::string_view(field.unescaped_key()).size();
                ++seen.fields;
                walk(field.value(), seen);
            }
            break;
        case json_type::array:
            for (auto item : value.get_array()) walk(item, seen);
            break;
        case json_type::string:
            seen.bytes_of_texts += std::string_view(value.get_string()).size();
            break;
        case json_type::number:
            seen.numbers += double(value.get_double());
            break;
        case json_type::boolean:
            seen.numbers += bool(value.get_bool()) ? 1 : 0;
            break;
        case json_type::null:
            value.is_null();
            break;
    }
}
