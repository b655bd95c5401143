#include "runtime/input_looks.hpp"

namespace linelaw::runtime {
namespace {

bool is_utf16(std::string_view begin) {
    if (begin.substr(0, 2) == "\xff\xfe" || begin.substr(0, 2) == "\xfe\xff") return true;
    // A plain letter is one byte and a zero in it; in JSON's UTF-8 a zero byte stands nowhere.
    return begin.size() >= 2 && (begin[0] == '\0' || begin[1] == '\0');
}

}  // namespace

std::string_view no_lines_of_records(std::string_view begin) {
    if (is_utf16(begin)) {
        return "it is written in UTF-16; export it as UTF-8, or turn it into that with `iconv -f UTF-16 -t "
               "UTF-8`";
    }
    constexpr std::string_view blanks = " \t\r\n";
    const std::size_t first = begin.find_first_not_of(blanks);
    if (first == std::string_view::npos) return {};
    begin.remove_prefix(first);
    if (begin.front() == '[') {
        return "it is one list in brackets; write one record a line, without the brackets and the commas "
               "between "
               "(`jq -c '.[]'` does that)";
    }
    if (begin.front() != '{') {
        return "its first line does not begin with `{` as a record does; a table (CSV) or another form is to "
               "be "
               "turned into one JSON object a line first";
    }
    const std::string_view line = begin.substr(0, begin.find('\n'));
    const std::size_t last = line.find_last_not_of(blanks);
    if (line.size() < begin.size() && last > 0 && line.substr(last - 1, 2) == "},")
        return "its lines end with commas; write one record a line, without a comma behind it";
    // A whole record ends with its brace.
    constexpr std::string_view goes_on = ",:{[";
    if (line.size() < begin.size() && goes_on.find(line[last]) != std::string_view::npos)
        return "its records are spread over several lines; write each on one line (`jq -c .` does that)";
    return {};
}

}  // namespace linelaw::runtime
