#include "grammar/source.hpp"

#include <algorithm>
#include <utility>

namespace linelaw::grammar {

bool is_json(std::string_view content) {
    constexpr std::string_view byte_order_mark = "\xEF\xBB\xBF";
    if (content.substr(0, byte_order_mark.size()) == byte_order_mark)
        content.remove_prefix(byte_order_mark.size());
    const std::size_t first = content.find_first_not_of(" \t\r\n");
    return first != std::string_view::npos && (content[first] == '{' || content[first] == '[');
}

std::uint32_t Sources::add(SourceText text) {
    text.json = is_json(text.content);
    if (text.json) text.content.clear();
    texts_.push_back(std::move(text));
    line_starts_.emplace_back();
    return static_cast<std::uint32_t>(texts_.size() - 1);
}

std::string_view Sources::slice(Place place) const {
    const std::string_view content = texts_[place.text].content;
    const std::size_t begin = std::min<std::size_t>(place.begin, content.size());
    return content.substr(begin, place.end > place.begin ? place.end - place.begin : 0);
}

const std::vector<std::uint32_t>& Sources::line_starts(std::uint32_t text) const {
    std::vector<std::uint32_t>& starts = line_starts_[text];
    if (starts.empty()) {
        starts.push_back(0);
        const std::string& content = texts_[text].content;
        for (std::size_t i = 0; i < content.size(); ++i) {
            if (content[i] == '\n') starts.push_back(static_cast<std::uint32_t>(i + 1));
        }
    }
    return starts;
}

LineColumn Sources::locate(std::uint32_t text, std::uint32_t offset) const {
    const std::vector<std::uint32_t>& starts = line_starts(text);
    const auto after = std::upper_bound(starts.begin(), starts.end(), offset);
    const auto line = static_cast<std::uint32_t>(after - starts.begin());
    const std::string& content = texts_[text].content;
    std::uint32_t column = 1;
    for (std::size_t i = starts[line - 1]; i < offset && i < content.size(); ++i) {
        const bool continues_a_code_point = (static_cast<unsigned char>(content[i]) & 0xC0U) == 0x80U;
        if (!continues_a_code_point) ++column;
    }
    return {line, column};
}

std::string_view Sources::line(std::uint32_t text, std::uint32_t number) const {
    const std::vector<std::uint32_t>& starts = line_starts(text);
    if (number == 0 || number > starts.size()) return {};
    const std::string_view content = texts_[text].content;
    const std::size_t begin = starts[number - 1];
    std::size_t end = content.find('\n', begin);
    if (end == std::string_view::npos) end = content.size();
    if (end > begin && content[end - 1] == '\r') --end;
    return content.substr(begin, end - begin);
}

}  // namespace linelaw::grammar
