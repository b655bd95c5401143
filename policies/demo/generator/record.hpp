// Episodes as lines of NDJSON, in the varied hands in which charts are kept.
#pragma once

#include <string>

#include "policies/demo/generator/stay.hpp"

namespace linelaw::demo {

// One record, without its line end. Adds some of what a reader passes over and counts it in `stay.counted`.
std::string write_record(Stay& stay);

}  // namespace linelaw::demo
