// The program `linelaw`: one command line, one command run.
#include <fmt/format.h>

#include "compiler/cli/commands.hpp"

using namespace linelaw::compiler::cli;

int main(int argc, char** argv) {
    CLI::App app{"Linelaw: line-care policies that can be checked, and records judged by them."};
    app.require_subcommand(1);
    Chosen chosen;
    add_audit(app, chosen);
    add_check(app, chosen);
    add_compile(app, chosen);
    add_due(app, chosen);
    add_explain(app, chosen);
    add_format(app, chosen);
    add_merge(app, chosen);
    add_schema(app, chosen);
    add_test(app, chosen);
    add_why(app, chosen);
    try {
        app.parse(argc, argv);
    } catch (const CLI::ParseError& error) {
        return app.exit(error) == 0 ? 0 : not_carried_out;
    }
    return chosen();
}
