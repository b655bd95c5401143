// From flat constructs to items: one member a construct, their bodies by subject in build*.cpp. Internal to
// grammar/; what an item is made of is build_expression.hpp's.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "grammar/build_expression.hpp"

namespace linelaw::grammar {

class TreeBuilder {
  public:
    TreeBuilder(std::string_view content, std::uint32_t text, const Scan& scan,
                std::vector<Diagnostic>& diagnostics)
        : parts_(content, text, scan, diagnostics),
          scan_(scan),
          diagnostics_(diagnostics),
          size_(static_cast<std::uint32_t>(content.size())) {}

    Tree build();

  private:
    void check_header();
    bool is_whole(NodeId id) const;
    Item item(NodeId id);
    PolicyHeader policy_header(NodeId id);
    VocabularyHeader vocabulary_header(NodeId id);

    Type type(NodeId id);
    Attribute attribute(NodeId id);
    std::vector<Attribute> attributes(NodeId id);
    PartItem part_item(NodeId id);
    EventItem event_item(NodeId id);
    StateItem state_item(NodeId id);
    QuestionItem question_item(NodeId id);
    void question_about(NodeId id, QuestionItem& question);

    SourceItem source_item(NodeId id);
    TableItem table_item(NodeId id);
    Cell cell(NodeId id);
    TableRow table_row(NodeId id);

    ClauseItem clause_item(NodeId id);
    ClauseLine clause_line(NodeId id);
    Demand demand(NodeId id);
    DemandNode demand_node(NodeId id);
    DemandNode event_demand(NodeId events, NodeId tail);
    AtLeastEvery at_least_every(Events events, NodeId tail);

    EscalationItem escalation_item(NodeId id);
    LadderStep ladder_step(NodeId id);
    BundleItem bundle_item(NodeId id);
    ExampleItem example_item(NodeId id);
    ExampleEvent example_event(NodeId id);
    ExampleUntil moment(NodeId id);
    Assignment assignment(NodeId id);
    std::vector<Assignment> assignments(NodeId of);
    Expectation expectation(NodeId id);

    std::optional<Text> because(NodeId of);
    UndocumentedCounts counts(NodeId of) const;
    void missing(NodeId item, const std::string& what);
    // Says that a line stands again, unless this is its first time.
    template <typename Slot>
    void once(const Slot& slot, NodeId line, const char* what) {
        if (slot)
            parts_.say("syntax.repeated", std::string("`") + what + "` stands twice", line, "again here");
    }

    PartBuilder parts_;
    const Scan& scan_;
    std::vector<Diagnostic>& diagnostics_;
    std::uint32_t size_;
    std::uint32_t end_of_item_ = 0;
    bool broken_ = false;  // the item at hand has a fault, so nothing of it is missing for certain
};

}  // namespace linelaw::grammar
