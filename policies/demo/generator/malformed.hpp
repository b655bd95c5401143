// Records with one thing amiss, each of another kind: most cannot be read and are to be quarantined, the
// others hold a value that is to be set aside. Which of the two, and under which code, is taken from
// docs/records.md.
#pragma once

#include <string>
#include <vector>

namespace linelaw::demo {

struct Malformed {
    std::string key;   // the episode's; empty where none can be read
    std::string kind;  // what is amiss, in words
    std::string code;
    std::vector<std::string>
        values;  // JSON pointers of what is to be set aside; none: the record is to be quarantined
    std::string text;
};
// One of each kind, with dates of that year.
std::vector<Malformed> malformed_records(int year, int number, bool oversize);

}  // namespace linelaw::demo
