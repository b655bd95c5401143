// The commands of the program, one function a command, each in a file of its own beside this one. A command
// adds itself to the command line; what it answers becomes the exit status.
#pragma once

#include <functional>

namespace CLI {
class App;
}

namespace linelaw::compiler::cli {

// Exit statuses: 0 nothing against, 1 findings (policy or records), 2 the command could not be carried out, 3
// its output could not be written whole (a full disk, a closed pipe).
enum Status { nothing_against = 0, findings = 1, not_carried_out = 2, not_written = 3 };

// Set by the command that was chosen; main runs it.
using Chosen = std::function<int()>;

void add_check(CLI::App& app, Chosen& chosen);
void add_compare(CLI::App& app, Chosen& chosen);
void add_compile(CLI::App& app, Chosen& chosen);
void add_document(CLI::App& app, Chosen& chosen);
void add_explain(CLI::App& app, Chosen& chosen);
void add_format(CLI::App& app, Chosen& chosen);
void add_new(CLI::App& app, Chosen& chosen);
void add_test(CLI::App& app, Chosen& chosen);
void add_audit(CLI::App& app, Chosen& chosen);
void add_merge(CLI::App& app, Chosen& chosen);
void add_schema(CLI::App& app, Chosen& chosen);
void add_why(CLI::App& app, Chosen& chosen);
void add_due(CLI::App& app, Chosen& chosen);

}  // namespace linelaw::compiler::cli
