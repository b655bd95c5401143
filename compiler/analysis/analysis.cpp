#include "compiler/analysis/analysis.hpp"

namespace linelaw::compiler::analysis {

Analysis analyse(const Compilation&, const Limits&) {
    Analysis analysis;
    analysis.not_done.emplace_back("not analysed: conflicts, corners and gaps");
    return analysis;
}

Comparison compare(const Compilation&, const Compilation&, const Limits&) {
    return {{}, {"not compared: the comparison of two policies is not built yet"}};
}

std::vector<grammar::Diagnostic> measure_against(const Compilation&, const Compilation&, const Limits&) {
    return {};
}

std::string render_question_table(const QuestionTable&, std::size_t) {
    return {};
}

}  // namespace linelaw::compiler::analysis
