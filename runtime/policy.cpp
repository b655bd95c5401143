// How a policy and a clause are made, copied and destroyed; policy.hpp says why here.
#include "runtime/policy.hpp"

namespace linelaw::runtime {

Clause::Clause() = default;
Clause::Clause(const Clause&) = default;
Clause::Clause(Clause&&) noexcept = default;
Clause& Clause::operator=(const Clause&) = default;
Clause& Clause::operator=(Clause&&) noexcept = default;
Clause::~Clause() = default;

Policy::Policy() = default;
Policy::Policy(const Policy&) = default;
Policy::Policy(Policy&&) noexcept = default;
Policy& Policy::operator=(const Policy&) = default;
Policy& Policy::operator=(Policy&&) noexcept = default;
Policy::~Policy() = default;

}  // namespace linelaw::runtime
