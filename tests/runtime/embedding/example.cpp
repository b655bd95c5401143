// The C++ face: says what is due, or why the record is refused.
//
// usage: example_cpp POLICY.json RECORD.json
#include <fstream>
#include <iostream>
#include <iterator>
#include <linelaw/linelaw.hpp>

namespace {

std::string text_of(const char* path) {
    std::ifstream file(path);
    return {std::istreambuf_iterator<char>(file), {}};
}

}  // namespace

int main(int argc, char** argv) try {
    if (argc != 3) return 2;
    const linelaw::Policy policy(text_of(argv[1]));
    linelaw::Episode episode(policy, text_of(argv[2]));
    std::cout << policy.title() << '\n' << episode.due("2026-03-10T09:00:00-03:00");
    return 0;
} catch (const linelaw::Error& error) {
    std::cerr << error.code() << ' ' << error.pointer() << ' ' << error.what() << '\n';
    return 1;
}
