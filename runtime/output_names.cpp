#include "runtime/output_names.hpp"

#include <algorithm>
#include <array>

namespace linelaw::runtime {

bool is_output_name(std::string_view name) {
    constexpr std::array<std::string_view, 11> names = {
        "findings.ndjson", "findings.csv", "quarantine.ndjson", "set_aside.ndjson",
        "summary.json",    "partial.json", "report.html",       "gone.ndjson",
        "sample.html",     "sample.csv",   "sample_key.ndjson"};
    for (const std::string_view packed : {".gz", ".zst"}) {
        if (name.size() > packed.size() && name.substr(name.size() - packed.size()) == packed)
            name.remove_suffix(packed.size());
    }
    return std::find(names.begin(), names.end(), name) != names.end();
}

}  // namespace linelaw::runtime
