#include "runtime/grown_record.hpp"

#include <algorithm>

#include "runtime/json_text.hpp"
#include "runtime/records_walk.hpp"

namespace linelaw::runtime {

using records::Walk;

namespace {

// The value that stands here as it is written, taken.
std::string_view take_raw(Walk& walk, std::string_view text) {
    const std::uint64_t begin = walk.offset();
    if (!walk.ignore()) return {};
    return text.substr(begin, walk.offset() - begin);
}

}  // namespace

// Writes the whole, piece by piece. What it walks was taken by the reader before, so that every walk goes
// through.
class GrownRecord::Composer {
  public:
    explicit Composer(GrownRecord& grown) : grown_(grown), out_(grown.whole_), walk_(0, {}) {
        out_.clear();
        grown.pieces_ = {{}};
        grown.own_events_ = 0;
        const auto removal = std::find_if(grown.events_.begin(), grown.events_.end(),
                                          [](const GivenEvent& event) { return event.is_removal; });
        if (removal != grown.events_.end())
            removal_ = static_cast<std::size_t>(removal - grown.events_.begin()) + 1;
    }

    void run() {
        std::vector<Spoiled> set_aside;
        out_ += '{';
        walk_.object(grown_.record_, set_aside, [&] {
            return walk_.each_key([&](std::string_view name) {
                if (name == "line") return line();
                if (name == "events") return events();
                if (name == "observed_until" && grown_.known_to_ != 0) return walk_.ignore();
                key(name);
                return copy();
            });
        });
        if (!line_written_ && removal_ != 0) {
            key("line");
            removed_line();
        }
        if (!events_written_) {
            key("events");
            out_ += '[';
            added_events();
        }
        if (grown_.known_to_ != 0) instant_of("observed_until", grown_.known_to_);
        out_ += '}';
    }

  private:
    void key(std::string_view name) {
        if (out_.back() != '{') out_ += ',';
        put_text(out_, name);
        out_ += ':';
    }
    void piece(std::size_t event, std::uint64_t given, std::string_view text) {
        grown_.pieces_.push_back({out_.size(), event, given});
        out_ += text;
    }
    bool copy() {
        const std::uint64_t given = walk_.offset();
        piece(0, given, take_raw(walk_, grown_.record_));
        return true;
    }
    void instant_of(std::string_view name, std::size_t event) {
        key(name);
        out_ += grown_.events_[event - 1].at;
    }
    void removed_line() {
        out_ += '{';
        instant_of("removed_at", removal_);
        out_ += '}';
    }

    bool line() {
        line_written_ = true;
        key("line");
        if (removal_ == 0) return copy();
        if (walk_.at_null()) {
            removed_line();
            return walk_.null_value();
        }
        bool removed = false;  // the record says when
        out_ += '{';
        walk_.each_key([&](std::string_view name) {
            if (name == "removed_at") {
                if (walk_.at_null()) return walk_.null_value();
                removed = true;
            }
            key(name);
            return copy();
        });
        if (!removed) instant_of("removed_at", removal_);
        out_ += '}';
        return true;
    }

    bool events() {
        events_written_ = true;
        key("events");
        out_ += '[';
        if (walk_.at_null())
            walk_.null_value();
        else
            walk_.each_item([&](std::uint32_t) {
                item();
                ++grown_.own_events_;
                return copy();
            });
        added_events();
        return true;
    }
    void item() {
        if (out_.back() != '[') out_ += ',';
    }
    void added_events() {
        for (std::size_t i = 0; i < grown_.events_.size(); ++i) {
            item();
            piece(i + 1, 0, grown_.events_[i].text);
        }
        out_ += ']';
    }

    GrownRecord& grown_;
    std::string& out_;
    Walk walk_;
    std::size_t removal_ = 0;  // the event, counted from 1; 0: none
    bool line_written_ = false;
    bool events_written_ = false;
};

std::unique_ptr<Spoiled> GrownRecord::add(std::string_view text, std::string_view removal) {
    Walk walk(0, {});
    std::vector<Spoiled> set_aside;
    GivenEvent event;
    event.text = text;
    // Inside a list a byte order mark would be none.
    if (text.substr(0, 3) == "\xEF\xBB\xBF") event.text.replace(0, 3, "   ");
    const bool good = walk.object(text, set_aside, [&] {
        return walk.each_key([&](std::string_view name) {
            if (name == "at") {
                event.at = take_raw(walk, event.text);
                return !event.at.empty();
            }
            if (name != "type" || !walk.at_text()) return walk.ignore();
            std::string_view type;
            if (!walk.text_value(type)) return false;
            event.is_removal = type == removal;
            return true;
        });
    });
    if (!good) return walk.take_spoiled();
    if (event.at.empty()) event.at = "null";
    events_.push_back(std::move(event));
    return nullptr;
}

const std::string& GrownRecord::compose() {
    Composer(*this).run();
    return whole_;
}

const GrownRecord::Piece& GrownRecord::piece_at(std::uint64_t offset) const {
    const auto after =
        std::upper_bound(pieces_.begin(), pieces_.end(), offset,
                         [](std::uint64_t place, const Piece& piece) { return place < piece.begin; });
    return *std::prev(after);
}

bool GrownRecord::place_in_last(Spoiled& spoiled) const {
    const std::string place = "/events/" + std::to_string(own_events_ + events_.size() - 1);
    const bool inside = spoiled.pointer.rfind(place, 0) == 0 &&
                        (spoiled.pointer.size() == place.size() || spoiled.pointer[place.size()] == '/');
    if (!inside) return false;
    spoiled.pointer.erase(0, place.size());
    spoiled.offset = given_offset(spoiled.offset);
    return true;
}

}  // namespace linelaw::runtime
