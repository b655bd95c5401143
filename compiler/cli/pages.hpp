// The pages of docs/diagnostics, inside the program so that an installed one needs no folder beside it. Made
// by embed_pages.cmake when the program is built.
#pragma once

#include <string_view>
#include <vector>

namespace linelaw::compiler::cli {

struct Page {
    std::string_view code;
    std::string_view markdown;
};
const std::vector<Page>& pages();  // in the order of their codes

}  // namespace linelaw::compiler::cli
