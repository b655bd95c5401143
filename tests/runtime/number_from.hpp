// A number that the environment may set, so that a test can be run longer than every day's run is.
#pragma once

#include <cstdlib>

inline std::size_t number_from(const char* name, std::size_t otherwise) {
    const char* text = std::getenv(name);
    return text == nullptr ? otherwise : std::strtoul(text, nullptr, 10);
}
