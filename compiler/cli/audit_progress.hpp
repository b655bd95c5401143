// How far an audit has come, on a terminal: records, rate, share and time left.
#pragma once

#include <functional>
#include <string>

#include "runtime/audit.hpp"

namespace linelaw::compiler::cli {

// "45,200 records, 9,100 a second, 38 %, 75 s left": rate and time left by what was done since `begun`,
// `seconds` ago, so that an audit that was gone on with does not count what was done before it.
std::string progress_words(const runtime::Progress& begun, const runtime::Progress& now, double seconds);

// To be called now and then. Shows nothing where standard error is no terminal, or nothing is wanted.
std::function<void(const runtime::Progress&)> progress_line(bool wanted);

}  // namespace linelaw::compiler::cli
