// Counts what is allocated. The .cpp replaces operator new in the program that it is linked into, so such a
// test is a program of its own.
#pragma once

#include <atomic>

namespace linelaw::tests {

extern std::atomic<bool> counting;
extern std::atomic<int> allocations;  // while `counting`

}  // namespace linelaw::tests
