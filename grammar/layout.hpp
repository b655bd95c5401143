// Lines on a page: each has a head, a body that may be wrapped, and the bytes of the text that it was made
// from, by which comments find their line. Knows nothing of the tree.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "grammar/tree.hpp"

namespace linelaw::grammar {

inline constexpr std::size_t page_width = 110;

struct LeadingComment {
    std::string text;  // with its `#`
    bool blank_before = false;
};

struct PageLine {
    std::size_t indent = 0;
    std::string head;      // never broken
    std::string body;      // broken where the language allows it
    std::size_t hang = 0;  // the column where the body goes on after a break
    Place place;           // empty where the line has no place in the text

    std::vector<LeadingComment> before;
    bool blank_after_comments = false;
    std::string trailing;
    std::vector<std::string> after;
};

// An item or a header: its lines, and how it stands to the one before it.
struct PageBlock {
    std::vector<PageLine> lines;
    std::string kind;  // blocks of one kind may stand without a blank line between them
    bool may_join = false;
};

// `head` and `body` on as few lines as the width of the page allows.
std::string wrapped(const PageLine& line);

// The blocks as text. Comments stand at the line that they stood at in `content`.
std::string page(std::string_view content, std::vector<PageBlock> blocks,
                 const std::vector<Comment>& comments);

// Whether two stretches of the text, one after the other, have no blank line between them.
bool adjoin(std::string_view content, std::uint32_t end, std::uint32_t begin);

}  // namespace linelaw::grammar
