// The program `linelaw`: one command line, one command run.
#include <fmt/format.h>

#include "compiler/cli/commands.hpp"

int main(int argc, char** argv) {
    CLI::App app{"Linelaw: line-care policies that can be checked, and records judged by them."};
    app.require_subcommand(1);
    linelaw::compiler::cli::Chosen chosen;
    linelaw::compiler::cli::add_audit(app, chosen);
    linelaw::compiler::cli::add_merge(app, chosen);
    try {
        app.parse(argc, argv);
    } catch (const CLI::ParseError& error) {
        return app.exit(error) == 0 ? 0 : linelaw::compiler::cli::not_carried_out;
    }
    return chosen();
}
