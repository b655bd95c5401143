// Files to chunks: every line once, whole, with its place, however the file is stored and cut.
#include "runtime/input.hpp"

#include <catch2/catch.hpp>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

#include "runtime/input_files.hpp"
#include "runtime/input_looks.hpp"
#include "tests/runtime/folder.hpp"

using namespace linelaw::runtime;
using small::Folder;
namespace fs = std::filesystem;

namespace {

struct Line {
    std::uint32_t file;
    std::uint64_t number;
    std::uint64_t offset;
    std::string text;
    bool operator==(const Line&) const = default;
};
std::ostream& operator<<(std::ostream& out, const Line& line) {
    return out << line.file << ":" << line.number << "@" << line.offset << " " << line.text.substr(0, 40);
}

Result<std::vector<Line>> lines_of(const std::vector<std::string>& files, std::size_t chunk_size,
                                   std::size_t limit = 1U << 20U) {
    ChunkReader reader(files, chunk_size, limit);
    std::vector<Line> lines;
    Chunk chunk;
    for (std::uint64_t expected = 0;; ++expected) {
        const auto more = reader.next(chunk);
        if (!more) return tl::unexpected(more.error());
        if (!*more) return lines;
        CHECK(chunk.sequence == expected);
        std::uint64_t number = chunk.first_line;
        for (std::size_t begin = 0; begin < chunk.used; ++number) {
            std::size_t end = chunk.text().find('\n', begin);
            if (end == std::string_view::npos) end = chunk.used;
            lines.push_back({chunk.file, number, chunk.offset + begin,
                             std::string(chunk.text().substr(begin, end - begin))});
            begin = end + 1;
        }
    }
}

std::vector<Line> expected_lines(const std::string& content, std::uint32_t file = 0) {
    std::vector<Line> lines;
    std::uint64_t number = 1;
    for (std::size_t begin = 0; begin < content.size(); ++number) {
        std::size_t end = content.find('\n', begin);
        if (end == std::string::npos) end = content.size();
        lines.push_back({file, number, begin, content.substr(begin, end - begin)});
        begin = end + 1;
    }
    return lines;
}

std::string sample(int lines) {
    std::string content;
    for (int i = 0; i < lines; ++i)
        content +=
            "{\"n\": " + std::to_string(i) + std::string(static_cast<std::size_t>(i * 7 % 90), 'x') + "}\n";
    return content;
}

void run(const std::string& command) {
    REQUIRE(std::system(command.c_str()) == 0);
}

}  // namespace

TEST_CASE("every line comes once, whole and with its place, whatever the size of a chunk") {
    const Folder folder;
    const std::string content = sample(200);
    const std::string path = folder.write("a.ndjson", content);
    for (const std::size_t size : {1, 2, 7, 100, 101, 4096, 1 << 20}) {
        INFO("chunks of " << size);
        CHECK(lines_of({path}, size).value() == expected_lines(content));
    }
    // The last line may lack its line end; an empty line is a line.
    const std::string ragged = "first\n\nlast";
    const std::string other = folder.write("b.ndjson", ragged);
    for (const std::size_t size : {1, 6, 7, 64})
        CHECK(lines_of({other}, size).value() == expected_lines(ragged));
}

TEST_CASE("compressed files give the lines of the plain one, in several members too") {
    const Folder folder;
    const std::string content = sample(5000);
    const std::string path = folder.write("a.ndjson", content);
    run("gzip -k " + path + " && cat " + path + ".gz " + path + ".gz > " + path + ".two.gz");
    run("zstd -q -k " + path + " && cat " + path + ".zst " + path + ".zst > " + path + ".two.zst");
    for (const std::string packed : {".gz", ".zst"}) {
        for (const std::size_t size : {512, 65536}) {
            CHECK(lines_of({path + packed}, size).value() == expected_lines(content));
            CHECK(lines_of({path + ".two" + packed}, size).value() == expected_lines(content + content));
        }
    }
}

TEST_CASE("compressed data that end early or are damaged are an error with the path") {
    const Folder folder;
    const std::string path = folder.write("a.ndjson", sample(5000));
    run("gzip -k " + path + " && zstd -q -k " + path);
    for (const std::string packed : {".gz", ".zst"}) {
        const std::string cut = path + ".cut" + packed;
        fs::copy(path + packed, cut);
        fs::resize_file(cut, fs::file_size(cut) / 2);
        const auto lines = lines_of({cut}, 4096);
        REQUIRE_FALSE(lines);
        CHECK(lines.error().code == "file.read");
        CHECK_THAT(lines.error().message, Catch::Contains(cut) && Catch::Contains("end early"));
        const std::string damaged = path + ".damaged" + packed;
        std::ifstream in(path + packed, std::ios::binary);
        std::string bytes((std::istreambuf_iterator<char>(in)), std::istreambuf_iterator<char>());
        for (std::size_t i = bytes.size() / 2; i < bytes.size() / 2 + 64; ++i) bytes[i] = '\x55';
        folder.write("a.ndjson.damaged" + packed, bytes);
        CHECK_FALSE(lines_of({damaged}, 4096));
    }
}

// RFC 8878, 3.1.1: no flags, an exponent of 20 (a window of 1 GiB), a last raw block of three bytes.
TEST_CASE("a window that is too large is no damage") {
    const Folder folder;
    const std::string frame = std::string("\x28\xb5\x2f\xfd\x00\xa0\x19\x00\x00", 9) + "{}\n";
    const auto lines = lines_of({folder.write("a.zst", frame)}, 4096);
    REQUIRE_FALSE(lines);
    CHECK_THAT(lines.error().message, Catch::Contains("with a window of more than 128 MiB (--long)"));
    const std::string usual = std::string(frame).replace(5, 1, "\x50");  // 1 MiB
    CHECK(lines_of({folder.write("b.zst", usual)}, 4096).value() == expected_lines("{}\n"));
}

TEST_CASE("a line that is too long is cut, and those after it come whole") {
    const Folder folder;
    const std::string content = "short\n" + std::string(5000, 'y') + "\nlast\n" + std::string(300, 'z');
    const std::string path = folder.write("a.ndjson", content);
    for (const std::size_t size : {3, 64, 1000, 100000}) {
        INFO("chunks of " << size);
        const auto lines = lines_of({path}, size, 100).value();
        REQUIRE(lines.size() == 4);
        CHECK(lines[0] == Line{0, 1, 0, "short"});
        CHECK(lines[1].text.size() > 100);
        CHECK(lines[2] == Line{0, 3, 5007, "last"});
        CHECK(lines[3].text.size() > 100);
        CHECK(lines[3].offset == 5012);
    }
}

TEST_CASE("a folder gives its record files by name, those in folders below too") {
    const Folder folder;
    folder.write("b.ndjson", "b\n");
    folder.write("a.jsonl", "a\n");
    folder.write("c/d.json", "d");
    folder.write("c/notes.txt", "no record");
    const auto found = expand_inputs({folder.path.string()}).value();
    REQUIRE(found.files.size() == 3);
    const auto lines = lines_of(found.files, 64).value();
    CHECK(lines == std::vector<Line>{{0, 1, 0, "a"}, {1, 1, 0, "b"}, {2, 1, 0, "d"}});
    CHECK(found.other_names == std::vector<std::string>{folder / "c/notes.txt"});
    CHECK(expand_inputs({(folder.path / "nowhere").string()}).error().code == "file.read");
    const Folder empty;
    CHECK_THAT(expand_inputs({empty.path.string()}).error().message, Catch::Contains("no *.ndjson"));
}

TEST_CASE("what is hidden in a folder is left out, and what else is not read is told") {
    const Folder folder;
    for (const char* name :
         {"april.ndjson", "june.NDJSON", "july.Json.GZ", "._april.ndjson", ".snapshot/april.ndjson",
          "march.txt", "aug.ndjson.zip", "sep.ndjson.bz2", "out/findings.ndjson", "out/set_aside.ndjson.zst",
          "out/report.html", "out/linelaw.unfinished/checkpoint.json"})
        folder.write(name, "x\n");
    folder.write("may.ndjson", "");
    fs::create_symlink("nowhere.ndjson", folder.path / "lost.ndjson");
    fs::create_directory_symlink("out", folder.path / "linked");
    const auto found = expand_inputs({folder.path.string()}).value();
    using Names = std::vector<std::string>;
    CHECK(found.files == Names{folder / "april.ndjson", folder / "july.Json.GZ", folder / "june.NDJSON",
                               folder / "may.ndjson"});
    CHECK(found.empty == Names{folder / "may.ndjson"});
    CHECK(found.other_names ==
          Names{folder / "aug.ndjson.zip", folder / "march.txt", folder / "sep.ndjson.bz2"});
    CHECK(found.of_audits == Names{folder / "out/findings.ndjson", folder / "out/report.html",
                                   folder / "out/set_aside.ndjson.zst"});
    CHECK(found.no_files == Names{folder / "linked", folder / "lost.ndjson"});
    // A file that is named itself is read whatever it is called.
    CHECK(expand_inputs({folder / "out/findings.ndjson"}).value().files.size() == 1);
    CHECK_THAT(expand_inputs({folder / "lost.ndjson"}).error().message, Catch::Contains("a link to a file"));
}

TEST_CASE("a file that is reached twice is read once, and that is told") {
    const Folder folder;
    const std::string a = folder.write("a.ndjson", "a\n");
    fs::create_hard_link(a, folder / "b.ndjson");
    const auto found = expand_inputs({a, folder.path.string(), folder / "./a.ndjson"}).value();
    CHECK(found.files == std::vector<std::string>{a});
    CHECK(found.again ==
          std::vector<std::string>{folder / "a.ndjson", folder / "b.ndjson", folder / "./a.ndjson"});
}

TEST_CASE("a file that begins otherwise than records do is said to be what it is") {
    using Catch::Contains;
    const auto look = [](std::string_view begin) { return std::string(no_lines_of_records(begin)); };
    // The same text by iconv: with a byte order mark, and without one in either order.
    CHECK_THAT(look({"\xff\xfe{\0\"\0", 6}), Contains("UTF-16"));
    CHECK_THAT(look({"\xfe\xff\0{\0\"", 6}), Contains("UTF-16"));
    CHECK_THAT(look({"{\0\"\0", 4}), Contains("UTF-16"));
    CHECK_THAT(look({"\0{\0\"", 4}), Contains("UTF-16"));
    CHECK_THAT(look("[\n {\"episode\": \"q\"},\n"), Contains("list in brackets"));
    CHECK_THAT(look("episode,line,event\nq-1,picc,\n"), Contains("CSV"));
    CHECK_THAT(look("{\r\n  \"episode\": \"q\"\r\n}\r\n"), Contains("over several lines"));
    for (const char* records : {"", "\n\n", "{\"episode\": \"q\"}\n", "\n  {}\n", "{"})
        CHECK(look(records).empty());
}

TEST_CASE("a byte order mark is no part of the first record") {
    const Folder folder;
    const std::string path = folder.write("a.ndjson", "\xef\xbb\xbf{}\n");
    CHECK(lines_of({path}, 64).value()[0].text == "{}");
}

TEST_CASE("a file without lines gives none") {
    const Folder folder;
    CHECK(lines_of({folder.write("a.ndjson", "")}, 64).value().empty());
}
