// Episodes as lines of NDJSON, in the varied hands in which charts are kept; and records that cannot be read.
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "policies/demo/generator/stay.hpp"

namespace linelaw::demo {

// One record, without its line end. Adds some of what a reader passes over and counts it in `stay.counted`.
std::string write_record(Stay& stay);

// A record that must be quarantined: its key (empty where none can be read), what is wrong with it, and its
// text.
struct Spoiled {
    std::string key;
    std::string kind;
    std::string text;
};
std::vector<Spoiled> spoiled_records(int number, bool oversize);

}  // namespace linelaw::demo
