#include "compiler/cli/terminal.hpp"

#include <sys/ioctl.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <cstdio>
#include <cstdlib>

namespace linelaw::compiler::cli {

void add_manner(CLI::App& command, Manner& manner) {
    command.add_option("--color", manner.color, "Colour: auto, always or never")
        ->check(CLI::IsMember({"auto", "always", "never"}));
    command.add_flag("--quiet", manner.quiet, "Say nothing but what is against");
}

void add_accept(CLI::App& command, std::vector<std::string>& codes) {
    command.add_option("--accept", codes, "A code whose findings are let stand; may be given again")
        ->type_size(1)
        ->allow_extra_args(false);
}

bool colored(const Manner& manner, Stream stream) {
    if (manner.color != "auto") return manner.color == "always";
    const char* no_color = std::getenv("NO_COLOR");
    if (no_color != nullptr && *no_color != '\0') return false;
    return isatty(stream == Stream::output ? STDOUT_FILENO : STDERR_FILENO) != 0;
}

grammar::RenderOptions render_options(const Manner& manner, Stream stream) {
    grammar::RenderOptions options;
    options.color = colored(manner, stream);
    winsize size{};
    const int file = stream == Stream::output ? STDOUT_FILENO : STDERR_FILENO;
    if (isatty(file) != 0 && ioctl(file, TIOCGWINSZ, &size) == 0 && size.ws_col >= 40)
        options.width = std::min<std::size_t>(size.ws_col, 120);
    return options;
}

ProgressLine::ProgressLine(bool wanted) : wanted_(wanted && isatty(STDERR_FILENO) != 0) {}

ProgressLine::~ProgressLine() {
    if (shown_) warn("\r\x1b[K");
}

void ProgressLine::show(const std::function<std::string(double seconds)>& words) {
    using namespace std::chrono;
    if (!wanted_) return;
    const auto now = steady_clock::now();
    if (now - last_ < milliseconds(200)) return;
    last_ = now;
    shown_ = true;
    warn("\r\x1b[K" + words(std::max(0.001, duration<double>(now - start_).count())));
}

void say(std::string_view text) {
    std::fwrite(text.data(), 1, text.size(), stdout);
}
void warn(std::string_view text) {
    std::fwrite(text.data(), 1, text.size(), stderr);
}

}  // namespace linelaw::compiler::cli
