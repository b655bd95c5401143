#include "compiler/compile.hpp"

#include "compiler/declare.hpp"
#include "compiler/hygiene.hpp"
#include "compiler/layers.hpp"
#include "compiler/lower.hpp"
#include "runtime/policy_json.hpp"

namespace linelaw::compiler {

Compiled::Compiled() = default;
Compiled::Compiled(const Compiled&) = default;
Compiled::Compiled(Compiled&&) noexcept = default;
Compiled& Compiled::operator=(const Compiled&) = default;
Compiled& Compiled::operator=(Compiled&&) noexcept = default;
Compiled::~Compiled() = default;

Compilation::Compilation() = default;
Compilation::Compilation(const Compilation&) = default;
Compilation::Compilation(Compilation&&) noexcept = default;
Compilation& Compilation::operator=(const Compilation&) = default;
Compilation& Compilation::operator=(Compilation&&) noexcept = default;
Compilation::~Compilation() = default;

namespace {

// A term that nothing uses is still read, as if anything might be at hand.
void read_unused_terms(Work& work) {
    for (const auto* term : work.names.term_items) {
        if (work.names.terms.find(term->name.text)->used) continue;
        const auto before = work.report.size();
        lower_term(work, *term, term->name.place, outside_events("a term"));
        work.report.forget(before, {"name.at_hand", "type.change", "type.condition"});
    }
}

}  // namespace

Compilation compile(const std::string& path, const FileReader& reader) {
    Compilation compilation;
    Report report(compilation.sources);
    const auto read = std::make_shared<Layers>(read_layers(path, reader, compilation.sources, report));
    compilation.layers = read;
    Layers& layers = *read;
    Work work(layers, compilation.sources, report);
    if (layers.complete) {
        declare_names(work);
        declare_vocabulary(work);
        link_states(work);
        declare_tables(work);
        lower_vocabulary(work);
        lower_tables(work);
        lower_items(work);
        lower_clauses(work);
        lower_examples(work);
        read_unused_terms(work);
        check_hygiene(work);
    }
    if (!report.has_errors()) {
        runtime::seal(work.policy());
        for (const auto* item : layers.items)
            if (const auto* name = name_of(*item)) work.out.items.emplace_back(name->text, item->place);
        work.out.measured_against = layers.measured_against;
        compilation.compiled = std::move(work.out);
    }
    compilation.diagnostics = report.take();
    return compilation;
}

}  // namespace linelaw::compiler
