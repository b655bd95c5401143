// Any bytes as a policy's text: read, laid out and read again. Nothing may crash; a text without a complaint
// is laid out as the same tree, and its layout is left alone when it is laid out again. Seeds:
// tests/grammar/whole and broken.
#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <string>

#include "grammar/format.hpp"
#include "grammar/parse.hpp"
#include "grammar/render.hpp"

using namespace linelaw::grammar;

namespace {

void require(bool holds, const char* what, const std::string& text) {
    if (holds) return;
    std::fprintf(stderr, "%s:\n%s\n", what, text.c_str());
    std::abort();
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    Sources sources;
    const std::uint32_t first = sources.add({"fuzz", std::string(reinterpret_cast<const char*>(data), size)});
    const Parsed read = parse(sources, first);
    render_text(sources, read.diagnostics);
    if (!read.diagnostics.empty()) return 0;
    const std::uint32_t second = sources.add({"formatted", format(sources, first, read.tree)});
    const std::string& text = sources.text(second).content;
    const Parsed again = parse(sources, second);
    require(again.diagnostics.empty(), "the layout is not read without a complaint", text);
    require(dump(again.tree) == dump(read.tree), "the layout is another tree", text);
    require(again.tree.comments.size() == read.tree.comments.size(), "the layout lost a comment", text);
    require(format(sources, second, again.tree) == text, "the layout of the layout is another", text);
    return 0;
}
