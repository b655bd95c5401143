// What every slip is told with. Internal to the files of slips.
#pragma once

#include <string>
#include <string_view>
#include <utility>

#include "grammar/diagnostic.hpp"

namespace linelaw::grammar {

inline std::string quoted(std::string_view words) {
    return "`" + std::string(words) + "`";
}

inline Diagnostic slip(std::string_view code, std::string message, Place place, std::string label,
                       Mend mend) {
    Diagnostic diagnostic = make_diagnostic(code, std::move(message), place, std::move(label));
    diagnostic.mends.push_back(std::move(mend));
    return diagnostic;
}

inline Mend write(std::string_view words, Place place, bool safe) {
    return {"write " + quoted(words), place, std::string(words), safe};
}

inline bool is_number(std::string_view word) {
    return !word.empty() && word.find_first_not_of("0123456789.") == std::string_view::npos;
}

}  // namespace linelaw::grammar
