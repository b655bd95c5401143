#include "tests/counted_allocations.hpp"

#include <cstdlib>
#include <new>

namespace linelaw::tests {

std::atomic<bool> counting{false};
std::atomic<int> allocations{0};

}  // namespace linelaw::tests

// All forms that the project comes to, or the address sanitizer's own would answer one half of a pair. Not
// inlined: g++ would see a `free` beside a `new` of the library and call it a mismatch.
[[gnu::noinline]] void* operator new(std::size_t size, const std::nothrow_t& /*unused*/) noexcept {
    if (linelaw::tests::counting) ++linelaw::tests::allocations;
    return std::malloc(size == 0 ? 1 : size);
}
[[gnu::noinline]] void* operator new(std::size_t size) {
    if (void* memory = operator new(size, std::nothrow)) return memory;
    throw std::bad_alloc();
}
[[gnu::noinline]] void operator delete(void* memory) noexcept {
    std::free(memory);
}
[[gnu::noinline]] void operator delete(void* memory, std::size_t /*unused*/) noexcept {
    std::free(memory);
}
[[gnu::noinline]] void operator delete(void* memory, const std::nothrow_t& /*unused*/) noexcept {
    std::free(memory);
}
