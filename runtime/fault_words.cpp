#include "runtime/fault_words.hpp"

#include <algorithm>
#include <array>
#include <utility>

namespace linelaw::runtime {

namespace {

constexpr auto words = std::to_array<std::pair<std::string_view, std::string_view>>({
    {"record.json", "it is cut short or no valid JSON"},
    {"record.utf8", "it is not valid UTF-8"},
    {"record.size", "it is larger than the limit"},
    {"record.depth", "it nests too deep"},
    {"record.key", "a key stands twice"},
    {"record.shape", "patient, line, events or an event has the wrong shape"},
    {"record.episode", "it has no episode key"},
    {"record.type", "an event has no type"},
    {"record.instant", "an instant is missing or does not exist"},
    {"record.order", "instants are in an order that cannot be"},
    {"record.span", "it spans more than a century"},
    {"record.repeated", "an id comes again with other content"},
    {"value.type", "it is of another type"},
    {"value.range", "it is outside its range"},
    {"value.list", "it is none of the words of its list"},
    {"value.unit", "its unit is not known or measures something else"},
    {"value.instant", "it is no instant"},
    {"value.part", "it names no part of this line"},
    {"value.twice", "it is given twice, and not the same"},
    {"value.place", "it is of an insertion or removal that has no instant"},
});

}  // namespace

std::string_view fault_in_words(std::string_view code) {
    const auto found =
        std::find_if(words.begin(), words.end(), [&](const auto& one) { return one.first == code; });
    return found == words.end() ? code : found->second;
}

}  // namespace linelaw::runtime
