// Texts and places in them. A place is a pair of byte offsets; lines and columns are made from one table, and
// only when somebody is shown the place. Knows nothing of the language.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace linelaw::grammar {

// The bytes [begin, end) of the text numbered `text` in a Sources table.
struct Place {
    std::uint32_t text = 0;
    std::uint32_t begin = 0;
    std::uint32_t end = 0;
};

// One text that was read: a policy, a vocabulary, or a layer of either.
struct SourceText {
    std::string name;  // as the reader gave it: a path, or "-" for standard input
    std::string content;
    bool json = false;  // see Sources::add
};

// Whether it begins as JSON does: records and compiled policies are JSON, texts of the language never.
bool is_json(std::string_view content);

// A position as people count it: both from 1; columns count Unicode code points, not bytes.
struct LineColumn {
    std::uint32_t line = 1;
    std::uint32_t column = 1;
};

// The texts of one run. Places refer to texts by their index here, so a text is never removed.
class Sources {
  public:
    // What is JSON may be somebody's record: nothing of it is kept, so that no message can show it.
    std::uint32_t add(SourceText text);
    const SourceText& text(std::uint32_t index) const { return texts_[index]; }
    std::size_t size() const { return texts_.size(); }
    std::string_view slice(Place place) const;

    // O(log lines) after a first O(bytes) for each text.
    LineColumn locate(std::uint32_t text, std::uint32_t offset) const;
    // The line (counted from 1) without its line end.
    std::string_view line(std::uint32_t text, std::uint32_t number) const;

  private:
    const std::vector<std::uint32_t>& line_starts(std::uint32_t text) const;

    std::vector<SourceText> texts_;
    mutable std::vector<std::vector<std::uint32_t>> line_starts_;
};

}  // namespace linelaw::grammar
