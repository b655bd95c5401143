// Any bytes as a record: read, judged by the demo's policy, and written as findings. Nothing may crash, and a
// record that was read once reads the same again.
#include <cstdint>
#include <cstdlib>
#include <fstream>
#include <iterator>
#include <string>
#include <string_view>

#include "runtime/engine.hpp"
#include "runtime/findings.hpp"
#include "runtime/policy_json.hpp"
#include "runtime/records.hpp"

using namespace linelaw::runtime;

namespace {

Policy compiled_policy() {
    const char* path = std::getenv("LINELAW_FUZZ_POLICY");  // what `linelaw compile` wrote
    std::ifstream file(path != nullptr ? path : "policy.json");
    auto policy = read_policy(std::string(std::istreambuf_iterator<char>(file), {}));
    if (!policy) std::abort();
    return *std::move(policy);
}

struct Judge {
    Policy policy = compiled_policy();
    RecordReader reader{policy};
    Engine engine{policy};
    FindingWriter writer{policy};
    Episode episode;
    std::vector<Spoiled> set_aside;

    std::string judge(std::string_view record) {
        if (const auto spoiled = reader.read(record, episode, set_aside))
            return spoiled->code + spoiled->pointer;
        std::string out;
        const Judgement all = engine.judge(episode);
        for (const Opportunity& o : all) writer.json(out, episode, o, all);
        return out;
    }
};

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    static Judge judge;
    const std::string_view record(reinterpret_cast<const char*>(data), size);
    const std::string once = judge.judge(record);
    if (judge.judge(record) != once) std::abort();
    return 0;
}
