// How the program writes to people: colour only where it is wanted and can be shown, lines no wider than the
// terminal. Output for programs does not pass here.
#pragma once

#include <CLI/CLI.hpp>
#include <cstddef>
#include <string>
#include <string_view>

#include "grammar/render.hpp"
#include "runtime/result.hpp"

namespace linelaw::compiler::cli {

// What every command that writes to people takes.
struct Manner {
    std::string color = "auto";  // auto, always, never
    bool quiet = false;
};
void add_manner(CLI::App& command, Manner& manner);

enum class Stream { output, error };
bool colored(const Manner& manner, Stream stream);
grammar::RenderOptions render_options(const Manner& manner, Stream stream);

void say(std::string_view text);   // to standard output
void warn(std::string_view text);  // to standard error

// The file holds either what it held or all of `content`, whatever happens in between.
runtime::Result<void> write_atomically(const std::string& path, std::string_view content);

}  // namespace linelaw::compiler::cli
