// Shards of a batch: together they are the batch, however it is cut, and `merge` sees that none is missing.
#include "runtime/shard.hpp"

#include <algorithm>
#include <map>
#include <random>

#include "tests/runtime/folder.hpp"
#include "tests/runtime/started.hpp"

namespace fs = std::filesystem;
using namespace linelaw::runtime;
using Catch::Contains;
using small::content;
using small::Folder;
using started::Process;

namespace {

struct Line {
    std::string file;
    std::uint64_t number = 0;
    std::uint64_t offset = 0;
    std::string text;
    bool operator==(const Line&) const = default;
};

// Every line that a reader gives, until it has given `most` chunks; it then says where it stands.
std::vector<Line> lines_of(ChunkReader& reader, std::size_t most, Position& stands) {
    std::vector<Line> lines;
    Chunk chunk;
    for (std::size_t i = 0; i < most && reader.next(chunk).value(); ++i) {
        std::string_view text = chunk.text();
        Line line{reader.files()[chunk.file], chunk.first_line, chunk.offset, ""};
        while (!text.empty()) {
            const std::size_t end = std::min(text.find('\n'), text.size());
            line.text = text.substr(0, end);
            lines.push_back(line);
            ++line.number;
            line.offset += end + 1;
            text.remove_prefix(std::min(text.size(), end + 1));
        }
    }
    stands = reader.position();
    return lines;
}
std::vector<Line> lines_of(ChunkReader& reader) {
    Position ignored;
    return lines_of(reader, std::numeric_limits<std::size_t>::max(), ignored);
}

// Files of lines of all lengths: empty ones, one over the limit, one without a line end, a byte order mark.
std::vector<std::string> files_in(const Folder& folder, std::mt19937& random) {
    std::vector<std::string> files;
    for (int f = 0; f < 5; ++f) {
        std::string text = f == 1 ? "\xef\xbb\xbf" : "";
        const std::size_t lines = random() % 12;
        for (std::size_t i = 0; i < lines; ++i)
            text += std::string(random() % 5 == 0 ? random() % 200 : random() % 9, 'a' + f) + "\n";
        if (f == 3 && !text.empty()) text.pop_back();
        files.push_back(folder.write("f" + std::to_string(f) + ".ndjson", text));
    }
    REQUIRE(std::system(("gzip -kf " + files[2]).c_str()) == 0);
    files[2] += ".gz";
    return files;
}

constexpr std::size_t longest = 64;

}  // namespace

TEST_CASE("shards of any number give each line once, in order, with its place") {
    const Folder folder;
    std::mt19937 random(7);
    for (int round = 0; round < 60; ++round) {
        const auto files = files_in(folder, random);
        ChunkReader whole(files, 16, longest);
        const std::vector<Line> expected = lines_of(whole);
        for (const unsigned of : {2U, 3U, 7U, 50U, 400U}) {
            std::vector<Line> together;
            for (unsigned number = 1; number <= of; ++number) {
                ChunkReader reader(parts_of(files, {number, of}).value(), 1 + random() % 40, longest);
                const std::vector<Line> lines = lines_of(reader);
                together.insert(together.end(), lines.begin(), lines.end());
            }
            INFO(round << " cut into " << of);
            CHECK((together == expected));
        }
    }
}

TEST_CASE("a reader goes on where another stood, after any chunk, in any shard") {
    const Folder folder;
    std::mt19937 random(8);
    for (int round = 0; round < 100; ++round) {
        const auto files = files_in(folder, random);
        const unsigned of = 1 + random() % 3;
        const std::size_t chunk_size = 1 + random() % 40;
        const auto parts = parts_of(files, {1 + static_cast<unsigned>(random() % of), of}).value();
        ChunkReader whole(parts, chunk_size, longest);
        const std::vector<Line> expected = lines_of(whole);
        for (std::size_t chunks = 0; chunks < 30; ++chunks) {
            Position position;
            ChunkReader before(parts, chunk_size, longest);
            std::vector<Line> lines = lines_of(before, chunks, position);
            ChunkReader after(parts, chunk_size, longest);
            REQUIRE(after.go_on(position));
            const std::vector<Line> rest = lines_of(after);
            lines.insert(lines.end(), rest.begin(), rest.end());
            INFO(round << " after " << chunks);
            CHECK((lines == expected));
        }
    }
}

TEST_CASE("a shard is written 3/8") {
    CHECK(read_shard("3/8") == Shard{3, 8});
    CHECK(read_shard("1/1")->whole());
    for (const char* text : {"", "3", "0/8", "9/8", "3/", "/8", "3/8 ", "-1/8", "3/0", "1/99999999999"}) {
        INFO(text);
        CHECK_FALSE(read_shard(text));
    }
}

TEST_CASE("shards that are merged give the bytes of one run, file by file, and none may be missing") {
    const Folder folder;
    const std::string policy = LINELAW_SOURCE_DIR "/docs/tutorial/finished.linelaw";
    const std::string sample = LINELAW_SOURCE_DIR "/policies/demo/sample/records.ndjson";
    const std::string secret = folder.write("secret", std::string(32, 'k'));
    const auto run = [&](std::vector<std::string> arguments) {
        return Process(std::move(arguments), folder / "out.txt", folder / "err.txt").wait().status;
    };
    const std::vector<std::vector<std::string>> manners = {{"--findings", "all", "--sample", "20"},
                                                           {"--compress", "zstd"},
                                                           {"--format", "csv", "--compress", "gzip"}};
    for (std::size_t m = 0; m < manners.size(); ++m) {
        const auto audit = [&](const std::string& out, std::vector<std::string> more) {
            std::vector<std::string> arguments = {"audit", policy,  sample, "--partial-key",
                                                  secret,  "--out", out};
            arguments.insert(arguments.end(), manners[m].begin(), manners[m].end());
            arguments.insert(arguments.end(), more.begin(), more.end());
            return run(arguments);
        };
        const std::string at = folder / std::to_string(m);
        REQUIRE(audit(at + "whole", {}) == 1);
        std::vector<std::string> shards;
        for (int i = 1; i <= 4; ++i) {
            shards.push_back(at + "-" + std::to_string(i));
            CHECK(audit(shards.back(), {"--shard", std::to_string(i) + "/4"}) == 1);
        }
        CHECK(run({"merge", shards[2], shards[0], shards[3], shards[1], "--out", at + "merged"}) == 1);
        std::size_t files = 0;
        for (const auto& entry : fs::directory_iterator(at + "whole")) {
            const std::string name = entry.path().filename().string();
            INFO(name);
            REQUIRE(fs::exists(at + "merged/" + name));
            CHECK((content(at + "merged/" + name) == content(at + "whole/" + name)));
            ++files;
        }
        CHECK(files >= 6);
        if (m > 0) continue;
        CHECK(run({"merge", shards[0], shards[1], shards[3]}) == 2);
        CHECK_THAT(content(folder / "err.txt"), Contains("shard 3/4 is missing"));
        CHECK(run({"merge", shards[0], shards[1], shards[2], shards[3], shards[1]}) == 2);
        CHECK_THAT(content(folder / "err.txt"), Contains("both are shard 2; give each once"));
        CHECK(run({"merge", shards[0], at + "whole"}) == 2);
        CHECK_THAT(content(folder / "err.txt"), Contains("it is of another number of shards"));
        // Lines of another shard, lines cut short, lines that are gone; and a shard of other findings.
        const std::string lines = shards[2] + "/findings.ndjson";
        const std::string as_written = content(lines);
        const auto with_lines = [&](const std::string& text) {
            std::ofstream(lines, std::ios::binary) << text;
            return run({"merge", shards[0], shards[1], shards[2], shards[3], "--out", at + "damaged"});
        };
        for (const std::string& text :
             {content(shards[1] + "/findings.ndjson"), as_written.substr(0, 1000)}) {
            CHECK(with_lines(text) == 2);
            CHECK_THAT(content(folder / "err.txt"),
                       Contains("is not as its audit wrote it; run shard 3/4 again"));
        }
        fs::remove(lines);
        CHECK(run({"merge", shards[0], shards[1], shards[2], shards[3], "--out", at + "damaged"}) == 2);
        CHECK_THAT(content(folder / "err.txt"), Contains("cannot read " + lines));
        CHECK_FALSE(fs::exists(at + "damaged/findings.ndjson"));
        CHECK(with_lines(as_written) == 1);
        REQUIRE(run({"audit", policy, sample, "--partial-key", secret, "--out", at + "against", "--findings",
                     "against", "--sample", "20", "--shard", "2/4"}) == 1);
        CHECK(run({"merge", shards[0], at + "against", shards[2], shards[3]}) == 2);
        CHECK_THAT(content(folder / "err.txt"),
                   Contains("it has other findings (--findings against, not all)"));
        fs::create_directories(at + "stopped/linelaw.unfinished");
        CHECK(run({"merge", shards[0], shards[1], shards[2], at + "stopped"}) == 2);
        CHECK_THAT(content(folder / "err.txt"),
                   Contains("the audit here is not finished; give its command again"));
        const std::string other = folder.write("other.ndjson", content(sample) + "\n{}\n");
        REQUIRE(run({"audit", policy, other, "--partial-key", secret, "--out", at + "other", "--findings",
                     "all", "--sample", "20", "--shard", "2/4"}) == 1);
        CHECK(run({"merge", shards[0], at + "other", shards[2], shards[3]}) == 2);
        CHECK_THAT(content(folder / "err.txt"), Contains("it is a shard of other records"));
    }
    CHECK(run({"audit", policy, sample, "--out", folder / "x", "--shard", "2/4"}) == 2);
    CHECK_THAT(content(folder / "err.txt"), Contains("--shard needs --partial-key"));
    CHECK(run({"audit", policy, sample, "--out", folder / "x", "--shard", "5/4"}) == 2);
    CHECK_THAT(content(folder / "err.txt"), Contains("`5/4` is no shard; write 3/8"));
    CHECK(run({"audit", policy, "-", "--partial-key", secret, "--out", folder / "x", "--shard", "1/4"}) == 2);
    CHECK_THAT(content(folder / "err.txt"), Contains("standard input cannot be cut into shards"));
}

TEST_CASE("a shard without a record is empty, and no error") {
    const Folder folder;
    const std::string policy = LINELAW_SOURCE_DIR "/docs/tutorial/finished.linelaw";
    const std::string sample = LINELAW_SOURCE_DIR "/policies/demo/sample/records.ndjson";
    const std::string secret = folder.write("secret", std::string(32, 'k'));
    REQUIRE(std::system(("zstd -q " + sample + " -o " + (folder / "packed.ndjson.zst")).c_str()) == 0);
    std::vector<std::string> merge = {"merge", "--out", folder / "merged"};
    for (const char* shard : {"1/3", "2/3", "3/3"}) {
        const std::string out = folder / ("s" + std::string(shard, 1));
        const int expected = shard[0] == '1' ? 1 : 0;  // a compressed file is not cut
        CHECK(Process({"audit", policy, folder / "packed.ndjson.zst", "--partial-key", secret, "--out", out,
                       "--shard", shard},
                      folder / "out.txt", folder / "err.txt")
                  .wait()
                  .status == expected);
        merge.push_back(out);
    }
    CHECK(Process(merge, folder / "out.txt", folder / "err.txt").wait().status == 1);
    REQUIRE(Process({"audit", policy, folder / "packed.ndjson.zst", "--partial-key", secret, "--out",
                     folder / "whole"},
                    folder / "out.txt", folder / "err.txt")
                .wait()
                .status == 1);
    for (const char* name : {"findings.ndjson", "quarantine.ndjson", "set_aside.ndjson", "summary.json",
                             "report.html", "partial.json"}) {
        INFO(name);
        CHECK((content(folder / (std::string("merged/") + name)) ==
               content(folder / (std::string("whole/") + name))));
    }
}
