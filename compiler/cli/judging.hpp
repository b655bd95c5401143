// What every command that judges records takes: policies before records on one line, a moment to judge as of.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "compiler/cli/terminal.hpp"
#include "runtime/policy.hpp"
#include "runtime/result.hpp"
#include "runtime/time.hpp"

namespace linelaw::compiler::cli {

// The first operand is a policy; so is each after it that ends in .linelaw or that `compile` has written. The
// rest are records.
struct Operands {
    std::vector<std::string> policies;
    std::vector<std::string> records;
};
Operands operands(const std::vector<std::string>& given);

// The policies among them, joined into one where there are several; nothing where one cannot be run, where a
// conflict or a gap of its text is not accepted, or where they do not fit together. What stops it has been
// written to standard error.
std::optional<runtime::Policy> policy_of(const Operands& operands, const std::vector<std::string>& accept,
                                         const Manner& manner);

// "2026-03-20", "2026-03-20T08:00", "2026-03-20T08:00:00-04:00"; without an offset in the zone. A date is its
// first moment.
runtime::Result<runtime::Instant> moment(const std::string& text, const std::string& zone);

// Writes the error to standard error and answers not_carried_out, or not_written where that is its cause.
int refuse(const runtime::Error& error);

}  // namespace linelaw::compiler::cli
