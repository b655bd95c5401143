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

namespace {

// Where what is shown as it is ends: a colour of ours, or one sign that moves nothing on the terminal. 0
// where a sign would: a record's own key may hold any.
std::size_t harmless(std::string_view text) {
    const auto first = static_cast<unsigned char>(text.front());
    const auto begins = [&](std::string_view sign) { return text.substr(0, sign.size()) == sign; };
    if (begins("\x1b[")) {
        const std::size_t end = text.find_first_not_of("0123456789;", 2);
        return end != std::string_view::npos && text[end] == 'm' ? end + 1 : 0;
    }
    if (first == '\r') return begins("\r\n") ? 2 : 0;
    if (first < 0x20 || first == 0x7f) return first == '\n' || first == '\t' ? 1 : 0;
    const auto second = text.size() > 1 ? static_cast<unsigned char>(text[1]) : 0;
    if (first == 0xC2 && second >= 0x80 && second < 0xA0) return 0;  // C1
    // Signs that turn the direction of what follows.
    if (begins("\xE2\x80") && text.size() > 2 && text[2] >= '\xAA' && text[2] <= '\xAE') return 0;
    if (begins("\xE2\x81") && text.size() > 2 && text[2] >= '\xA6' && text[2] <= '\xA9') return 0;
    return 1;
}

// What goes to a file or another program stays as it is.
void put(std::string_view text, std::FILE* where) {
    std::string shown;
    if (isatty(fileno(where)) != 0) text = shown = harmless_on_terminal(text);
    std::fwrite(text.data(), 1, text.size(), where);
}

// The progress line alone moves the cursor.
void put_in_place(std::string_view text) {
    std::fwrite(text.data(), 1, text.size(), stderr);
}

}  // namespace

ProgressLine::ProgressLine(bool wanted) : wanted_(wanted && isatty(STDERR_FILENO) != 0) {}

ProgressLine::~ProgressLine() {
    if (shown_) put_in_place("\r\x1b[K");
}

void ProgressLine::show(const std::function<std::string(double seconds)>& words) {
    using namespace std::chrono;
    if (!wanted_) return;
    const auto now = steady_clock::now();
    if (now - last_ < milliseconds(200)) return;
    last_ = now;
    shown_ = true;
    put_in_place("\r\x1b[K" + words(std::max(0.001, duration<double>(now - start_).count())));
}

std::string harmless_on_terminal(std::string_view text) {
    std::string shown;
    shown.reserve(text.size());
    while (!text.empty()) {
        std::size_t taken = harmless(text);
        if (taken == 0) {
            shown += '?';
            const auto first = static_cast<unsigned char>(text.front());
            taken = first == 0xC2 ? 2 : first == 0xE2 ? 3 : 1;
        } else {
            shown += text.substr(0, taken);
        }
        text.remove_prefix(taken);
    }
    return shown;
}

void say(std::string_view text) {
    put(text, stdout);
}
void warn(std::string_view text) {
    put(text, stderr);
}

}  // namespace linelaw::compiler::cli
