// How the program writes to people: colour only where it is wanted and can be shown, lines no wider than the
// terminal. Output for programs does not pass here.
#pragma once

#include <chrono>
#include <cstddef>
#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "grammar/render.hpp"

namespace CLI {
class App;
}

namespace linelaw::compiler::cli {

// What every command that writes to people takes.
struct Manner {
    std::string color = "auto";  // auto, always, never
    bool quiet = false;
};
void add_manner(CLI::App& command, Manner& manner);
// `--accept CODE`, of every command that a conflict or a gap of the policy would stop.
void add_accept(CLI::App& command, std::vector<std::string>& codes);

enum class Stream { output, error };
bool colored(const Manner& manner, Stream stream);
grammar::RenderOptions render_options(const Manner& manner, Stream stream);

// How far long work has come, on one line of a terminal that is taken away at the end. Never in a pipe.
class ProgressLine {
  public:
    explicit ProgressLine(bool wanted);
    ~ProgressLine();
    ProgressLine(const ProgressLine&) = delete;
    ProgressLine& operator=(const ProgressLine&) = delete;

    // `words` is asked for a few times a second, with the seconds since the work began (never zero).
    void show(const std::function<std::string(double seconds)>& words);

  private:
    bool wanted_;
    bool shown_ = false;
    std::chrono::steady_clock::time_point start_ = std::chrono::steady_clock::now();
    std::chrono::steady_clock::time_point last_;
};

// What may be shown on a terminal: signs of a record's own that would move it stand as `?`.
std::string harmless_on_terminal(std::string_view text);
void say(std::string_view text);   // to standard output
void warn(std::string_view text);  // to standard error

}  // namespace linelaw::compiler::cli
