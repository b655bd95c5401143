// The page's frame and its style, from report/page.html and report/report.css, embedded when the program is
// built.
#pragma once

#include <string_view>

namespace linelaw::runtime::report_text {

extern const std::string_view page_html;  // with @title@, @style@ and @body@ to fill in
extern const std::string_view report_css;

}  // namespace linelaw::runtime::report_text
