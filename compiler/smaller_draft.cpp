#include "compiler/smaller_draft.hpp"

#include <algorithm>

namespace linelaw::compiler {

using analysis::DraftEpisode;
using analysis::DraftEvent;

namespace {

class Smaller {
  public:
    Smaller(DraftEpisode draft, const std::function<bool(const DraftEpisode&)>& still)
        : draft_(std::move(draft)), still_(still) {}

    DraftEpisode run() {
        while (one_event_less() || one_event_says_less() || one_value_less(&DraftEpisode::patient) ||
               one_value_less(&DraftEpisode::line) || without_age() || ends_sooner()) {
        }
        return std::move(draft_);
    }

  private:
    bool take(DraftEpisode less) {
        if (!still_(less)) return false;
        draft_ = std::move(less);
        return true;
    }
    bool one_event_less() {
        for (std::size_t i = draft_.events.size(); i > 1; --i) {
            DraftEpisode less = draft_;
            less.events.erase(less.events.begin() + static_cast<std::ptrdiff_t>(i - 1));
            if (take(std::move(less))) return true;
        }
        return false;
    }
    bool one_event_says_less() {
        for (std::size_t i = 0; i < draft_.events.size(); ++i) {
            for (std::size_t a = 0; a < draft_.events[i].attributes.size(); ++a) {
                DraftEpisode less = draft_;
                auto& attributes = less.events[i].attributes;
                attributes.erase(attributes.begin() + static_cast<std::ptrdiff_t>(a));
                if (take(std::move(less))) return true;
            }
            const auto without = [&](auto leave_out) {
                DraftEpisode less = draft_;
                leave_out(less.events[i]);
                return take(std::move(less));
            };
            const DraftEvent& event = draft_.events[i];
            if (!event.steps.empty() && without([](DraftEvent& e) { e.steps.clear(); })) return true;
            if (event.recorded_after && without([](DraftEvent& e) { e.recorded_after.reset(); })) return true;
            if (!event.parts.empty() && without([](DraftEvent& e) { e.parts.clear(); })) return true;
        }
        return false;
    }
    template <typename Member>
    bool one_value_less(Member member) {
        for (std::size_t i = 0; i < (draft_.*member).size(); ++i) {
            DraftEpisode less = draft_;
            (less.*member).erase((less.*member).begin() + static_cast<std::ptrdiff_t>(i));
            if (take(std::move(less))) return true;
        }
        return false;
    }
    bool without_age() {
        if (!draft_.age) return false;
        DraftEpisode less = draft_;
        less.age.reset();
        return take(std::move(less));
    }
    bool ends_sooner() {
        if (draft_.until <= latest(draft_)) return false;
        DraftEpisode less = draft_;
        less.until = latest(draft_);
        return take(std::move(less));
    }

    DraftEpisode draft_;
    const std::function<bool(const DraftEpisode&)>& still_;
};

}  // namespace

DraftEpisode smaller_draft(DraftEpisode draft, const std::function<bool(const DraftEpisode&)>& still) {
    return Smaller(std::move(draft), still).run();
}

}  // namespace linelaw::compiler
