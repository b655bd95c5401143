// The C++ face of linelaw.h: handles that free themselves, and errors as exceptions. Header-only; C++17.
#pragma once

#include <linelaw/linelaw.h>

#include <cstdint>
#include <memory>
#include <optional>
#include <stdexcept>
#include <string>
#include <string_view>

namespace linelaw {

class Error : public std::runtime_error {
  public:
    explicit Error(linelaw_error* error)
        : std::runtime_error(linelaw_error_message(error)),
          code_(linelaw_error_code(error)),
          pointer_(linelaw_error_pointer(error)),
          offset_(linelaw_error_offset(error)) {
        linelaw_error_free(error);
    }
    const std::string& code() const noexcept { return code_; }
    const std::string& pointer() const noexcept { return pointer_; }  // into what was given, or empty
    std::uint64_t offset() const noexcept { return offset_; }

  private:
    std::string code_;
    std::string pointer_;
    std::uint64_t offset_;
};

namespace detail {

// Calls f(&error), and throws where it answers nothing.
template <class F>
auto checked(F f) {
    linelaw_error* error = nullptr;
    auto answer = f(&error);
    if (!answer) throw Error(error);
    return answer;
}

template <class Handle, void (*release)(Handle*)>
struct Release {
    void operator()(Handle* handle) const noexcept { release(handle); }
};

}  // namespace detail

class Episode;

// Never changes; may be shared by threads.
class Policy {
  public:
    explicit Policy(std::string_view json)
        : handle_(detail::checked(
              [&](linelaw_error** e) { return linelaw_policy_read(json.data(), json.size(), e); })) {}
    std::string title() const { return linelaw_policy_title(handle_.get()); }
    std::string edition() const { return linelaw_policy_edition(handle_.get()); }
    std::string hash() const { return linelaw_policy_hash(handle_.get()); }

  private:
    friend class Episode;
    std::unique_ptr<linelaw_policy, detail::Release<linelaw_policy, linelaw_policy_free>> handle_;
};

// For one thread at a time. `now` is an RFC 3339 instant; without it, the end of what is known.
class Episode {
  public:
    Episode(const Policy& policy, std::string_view record)
        : handle_(detail::checked([&](linelaw_error** e) {
              return linelaw_episode_begin(policy.handle_.get(), record.data(), record.size(), e);
          })) {}
    void add(std::string_view event) {
        detail::checked([&](linelaw_error** e) {
            return linelaw_episode_add(handle_.get(), event.data(), event.size(), e);
        });
    }
    std::string findings(const std::optional<std::string>& now = {}, bool all = false) {
        return detail::checked([&](linelaw_error** e) {
            return linelaw_episode_findings(handle_.get(), now ? now->c_str() : nullptr, all ? 1 : 0, e);
        });
    }
    std::string due(const std::optional<std::string>& now = {}) {
        return detail::checked([&](linelaw_error** e) {
            return linelaw_episode_due(handle_.get(), now ? now->c_str() : nullptr, e);
        });
    }
    std::string would_change(std::string_view event) {
        return detail::checked([&](linelaw_error** e) {
            return linelaw_episode_would_change(handle_.get(), event.data(), event.size(), e);
        });
    }
    std::string remarks() {
        return detail::checked([&](linelaw_error** e) { return linelaw_episode_remarks(handle_.get(), e); });
    }

  private:
    std::unique_ptr<linelaw_episode, detail::Release<linelaw_episode, linelaw_episode_free>> handle_;
};

}  // namespace linelaw
