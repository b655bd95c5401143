// For a visit that names each alternative.
#pragma once

namespace linelaw::runtime {

template <typename... Fs>
struct overloaded : Fs... {
    using Fs::operator()...;
};
template <typename... Fs>
overloaded(Fs...) -> overloaded<Fs...>;

}  // namespace linelaw::runtime
