#include "compiler/compile.hpp"

#include <fstream>
#include <sstream>

namespace linelaw::compiler {

std::optional<std::string> read_file(const std::string& path) {
    std::ifstream in(path, std::ios::binary);
    if (!in) return std::nullopt;
    std::ostringstream content;
    content << in.rdbuf();
    return std::move(content).str();
}

}  // namespace linelaw::compiler
