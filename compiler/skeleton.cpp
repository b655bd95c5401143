#include "compiler/skeleton.hpp"

#include <algorithm>

#include "grammar/format.hpp"
#include "grammar/parse.hpp"
#include "grammar/to_text.hpp"

namespace linelaw::compiler {

using namespace grammar;

namespace {

const std::string blank = "\"…\"";

// The part that all of these events are of; empty where they are of none, or of several.
std::string part_of(const Layers& layers, const Events& events) {
    std::string part;
    for (const auto& pattern : events)
        for (const auto* item : layers.items) {
            const auto* event = std::get_if<EventItem>(&item->node);
            if (event == nullptr || event->name.text != pattern.event.text) continue;
            if (!event->of || (!part.empty() && part != event->of->text)) return "";
            part = event->of->text;
        }
    return part;
}

// How a clause that answers the question begins, for whoever writes it. `…` stands for what to choose.
std::string hint(const QuestionItem& question) {
    if (const auto* about = std::get_if<HowOften>(&question.about))
        return "  # must " + to_text(about->events) + " at least every …\n";
    if (const auto* about = std::get_if<AttributeAt>(&question.about))
        return "  # at " + about->event.text + "\n  # must " + about->attribute.text + " …\n";
    if (const auto* about = std::get_if<ResponseTo>(&question.about))
        return "  # after " + to_text(about->events) + "\n  # must " +
               (about->by.empty() ? "…" : to_text(about->by)) + " within …\n";
    return "  # then escalate " + std::get<EscalationOf>(question.about).escalation.text + "\n";
}

std::string clause(const Layers& layers, const QuestionItem& question) {
    std::string text = "# " + question.title.text + "\n";
    text += "clause " + question.name.text + "\n  " + blank + "\n" + hint(question);
    if (const auto* about = std::get_if<HowOften>(&question.about))
        if (const auto part = part_of(layers, about->events); !part.empty())
            text += "  for each " + part + "\n";
    text += "  leaves " + question.name.text + " to judgement because " + blank + "\n";
    return text + "  reason " + blank + "\n\n";
}

}  // namespace

std::string skeleton(const Layers& layers, const std::string& vocabulary) {
    std::string text =
        "# A policy to begin with. Every question of the vocabulary stands below, left to judgement: write "
        "`must` and what is\n"
        "# asked in the place of `leaves`, or say why it is left. `linelaw check` names whatever is still "
        "blank or unanswered;\n"
        "# until then `linelaw compile` and `linelaw audit` refuse the policy.\n\n";
    text += "policy " + blank + "\n  edition 1\n  owner " + blank +
            "\n  # in force from 2026-03-01 until 2027-02-28\n  # review by 2027-01-15\n"
            "  # time zone America/Halifax\n  # undocumented counts as not assessable\n  uses vocabulary " +
            to_text(Text{vocabulary, {}}) + "\n\n";
    text += "# Words of the policy's own, so that clauses can be read aloud.\n# term … means …\n\n";
    for (const auto* item : layers.items)
        if (const auto* question = std::get_if<QuestionItem>(&item->node)) text += clause(layers, *question);
    Sources sources;
    const auto number = sources.add({"skeleton", text});
    const auto parsed = parse(sources, number);
    return format(sources, number, parsed.tree);
}

}  // namespace linelaw::compiler
