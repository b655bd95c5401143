// A record that grows by events: its text and theirs as they were given, one text of all for the record
// reader, and the way back from a place in that text to the text that somebody gave. Knows JSON and the names
// of a record's keys, and nothing of what they mean.
#pragma once

#include <cstdint>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "runtime/records.hpp"

namespace linelaw::runtime {

class GrownRecord {
  public:
    GrownRecord() = default;
    // The record must be one that the reader takes.
    explicit GrownRecord(std::string_view record) : record_(record) {}

    // Nothing, or why it is not one JSON object; its places are in the event. One of the type `removal` says,
    // too, when the line was removed, where the record does not.
    std::unique_ptr<Spoiled> add(std::string_view event, std::string_view removal);
    // What is known reaches to the last event added, in place of what the record says.
    void reach_to_last() { known_to_ = events_.size(); }

    // The text of all, made anew at each call. Places are of the last one made.
    const std::string& compose();

    // Where in the text that was given, the record's or the event's, is what stands at this byte of the
    // whole.
    std::uint64_t given_offset(std::uint64_t offset) const { return piece_at(offset).given_at(offset); }
    // Of what is wrong in the last event added: turns its place into the event's own and answers true.
    bool place_in_last(Spoiled& spoiled) const;

  private:
    struct GivenEvent {
        std::string text;
        std::string at;  // as it is written: with its quotation marks
        bool is_removal = false;
    };
    // A stretch of the whole that was given as it is.
    struct Piece {
        std::uint64_t begin = 0;
        std::size_t event = 0;  // counted from 1; 0: the record
        std::uint64_t given = 0;
        std::uint64_t given_at(std::uint64_t offset) const {
            return offset < begin ? given : given + (offset - begin);
        }
    };
    class Composer;

    const Piece& piece_at(std::uint64_t offset) const;

    std::string record_;
    std::vector<GivenEvent> events_;
    std::size_t known_to_ = 0;  // the event, counted from 1, to which what is known reaches; 0: not moved
    std::string whole_;
    std::vector<Piece> pieces_ = {{}};
    std::size_t own_events_ = 0;  // the record's own, which come before those added
};

}  // namespace linelaw::runtime
