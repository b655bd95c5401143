// The program `linelaw`: one command line, one command run.
#include <CLI/CLI.hpp>
#include <cerrno>
#include <csignal>
#include <cstdio>
#include <cstring>
#include <exception>
#include <new>
#include <system_error>

#include "compiler/cli/commands.hpp"

using namespace linelaw::compiler::cli;

namespace {

// `--out "$FOLDER"` of a variable that is not set would else be as good as no `--out`, in silence.
CLI::Validator says_something() {
    return {[](std::string& given) {
                return given.empty() ? std::string("an empty word was given; is a variable not set?") : "";
            },
            ""};
}

int run(int argc, char** argv) {
    CLI::App app{"Linelaw: line-care policies that can be checked, and records judged by them."};
    app.require_subcommand(1);
    Chosen chosen;
    add_audit(app, chosen);
    add_check(app, chosen);
    add_compare(app, chosen);
    add_compile(app, chosen);
    add_document(app, chosen);
    add_due(app, chosen);
    add_explain(app, chosen);
    add_format(app, chosen);
    add_merge(app, chosen);
    add_new(app, chosen);
    add_schema(app, chosen);
    add_test(app, chosen);
    add_why(app, chosen);
    for (CLI::App* command : app.get_subcommands({}))
        for (CLI::Option* option : command->get_options())
            if (option->get_items_expected_max() > 0) option->check(says_something());
    try {
        app.parse(argc, argv);
    } catch (const CLI::ParseError& error) {
        return app.exit(error) == 0 ? 0 : not_carried_out;
    }
    return chosen();
}

}  // namespace

// What is wrong with a policy or a record is said in place; only a machine without room or a fault of this
// program comes this far.
int main(int argc, char** argv) {
    // A pipe that its reader closed is then an error of the write, with its reason, and not a silent end.
    std::signal(SIGPIPE, SIG_IGN);
    try {
        const int status = run(argc, argv);
        errno = 0;
        if (std::fflush(stdout) == 0 && std::ferror(stdout) == 0) return status;
        if (status != not_written) {
            std::fprintf(stderr, "linelaw: cannot write standard output: %s\n",
                         errno != 0 ? std::strerror(errno) : "it did not take all of it");
        }
        return not_written;
    } catch (const std::bad_alloc&) {
        std::fputs("linelaw: this machine has no memory left; nothing was finished\n", stderr);
    } catch (const std::system_error& error) {  // its words are the machine's, of files and threads
        std::fprintf(stderr, "linelaw: the machine refused: %s\n", error.what());
    } catch (const std::exception&) {  // its words might quote a record, so they are not shown
        std::fputs(
            "linelaw: a fault of this program, not of the policy or the records; nothing was finished\n",
            stderr);
    }
    return not_carried_out;
}
