// A file's lines, read into one buffer that is used again, each padded as simdjson wants it.
#pragma once

#include <simdjson.h>

#include <cstdio>
#include <cstring>
#include <string_view>
#include <vector>

// Calls each(line) for every line; false where the file cannot be read. What follows a line in the buffer is
// readable, which is all that simdjson's padding asks for.
template <class Each>
bool each_line(const char* path, Each&& each) {
    std::FILE* file = std::fopen(path, "rb");
    if (file == nullptr) return false;
    std::setvbuf(file, nullptr, _IONBF, 0);
    std::vector<char> buffer(1U << 20U);
    std::size_t kept = 0;  // the beginning of a line whose end is not read yet
    while (true) {
        if (kept + simdjson::SIMDJSON_PADDING >= buffer.size() / 2) buffer.resize(2 * buffer.size());
        const std::size_t room = buffer.size() - simdjson::SIMDJSON_PADDING - kept;
        const std::size_t got = std::fread(buffer.data() + kept, 1, room, file);
        const char* begin = buffer.data();
        const char* end = begin + kept + got;
        while (begin != end) {
            const void* found = std::memchr(begin, '\n', static_cast<std::size_t>(end - begin));
            if (found == nullptr && got != 0) break;
            const char* stop = found == nullptr ? end : static_cast<const char*>(found);
            if (stop != begin) each(std::string_view(begin, static_cast<std::size_t>(stop - begin)));
            begin = found == nullptr ? end : stop + 1;
        }
        if (got == 0) break;
        kept = static_cast<std::size_t>(end - begin);
        std::memmove(buffer.data(), begin, kept);
    }
    const bool whole = std::ferror(file) == 0;
    return std::fclose(file) == 0 && whole;
}
