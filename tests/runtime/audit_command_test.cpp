// `linelaw audit` and `linelaw merge` as they are run: files, exit statuses, what is said where.
#include <sys/wait.h>

#include <catch2/catch.hpp>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <set>
#include <sstream>

namespace fs = std::filesystem;

namespace {

const std::string program = LINELAW_PROGRAM;
const std::string policy = LINELAW_SOURCE_DIR "/policies/demo/quillhaven.linelaw";
const std::string sample = LINELAW_SOURCE_DIR "/policies/demo/sample/records.ndjson";

struct Folder {
    fs::path path;
    Folder() {
        std::string name = (fs::temp_directory_path() / "linelaw-command-XXXXXX").string();
        REQUIRE(mkdtemp(name.data()) != nullptr);
        path = name;
    }
    ~Folder() { fs::remove_all(path); }
    Folder(const Folder&) = delete;
    Folder& operator=(const Folder&) = delete;
    std::string operator/(const std::string& name) const { return (path / name).string(); }
};

std::string content(const std::string& path) {
    std::ifstream in(path, std::ios::binary);
    REQUIRE(in);
    return {std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
}

struct Ran {
    int status = 0;
    std::string out;
    std::string err;
};
Ran run(const Folder& folder, const std::string& arguments, const std::string& before = "") {
    const std::string command = before + "'" + program + "' " + arguments + " > " + (folder / "out.txt") +
                                " 2> " + (folder / "err.txt");
    const int status = std::system(command.c_str());
    Ran ran;
    ran.status = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
    ran.out = content(folder / "out.txt");
    ran.err = content(folder / "err.txt");
    return ran;
}

std::string audit(const std::string& records, const std::string& more = "") {
    return "audit '" + policy + "' " + records + " " + more;
}

}  // namespace

TEST_CASE("an audit into a folder leaves every file, whole, and none besides") {
    const Folder folder;
    const Ran ran = run(folder, audit(sample, "--out " + (folder / "report")));
    INFO(ran.err);
    CHECK(ran.status == 1);
    std::set<std::string> names;
    for (const auto& entry : fs::directory_iterator(folder.path / "report"))
        names.insert(entry.path().filename().string());
    CHECK(names == std::set<std::string>{"findings.ndjson", "partial.json", "quarantine.ndjson",
                                         "report.html", "set_aside.ndjson", "summary.json"});
    CHECK_THAT(ran.out,
               Catch::Contains("records read = ") && Catch::Contains("report: " + (folder / "report")));
    CHECK(ran.err.find('\r') == std::string::npos);  // progress is for terminals
    CHECK(content(folder / "report/findings.ndjson").back() == '\n');
}

TEST_CASE("jobs and ways in make no difference to the bytes") {
    const Folder folder;
    run(folder, audit(sample, "--out " + (folder / "one") + " --jobs 1 --findings all"));
    run(folder, audit(sample, "--out " + (folder / "four") + " --jobs 4 --findings all"));
    run(folder, audit("-", "--out " + (folder / "piped") + " --findings all"), "cat " + sample + " | ");
    REQUIRE(std::system(("zstd -q " + sample + " -o " + (folder / "records.ndjson.zst")).c_str()) == 0);
    run(folder, audit(folder / "records.ndjson.zst", "--out " + (folder / "packed") + " --findings all"));
    for (const std::string name : {"findings.ndjson", "summary.json", "partial.json", "report.html"}) {
        const std::string expected = content(folder / ("one/" + name));
        CHECK(content(folder / ("four/" + name)) == expected);
        CHECK(content(folder / ("piped/" + name)) == expected);
        CHECK(content(folder / ("packed/" + name)) == expected);
    }
}

TEST_CASE("merge of shards gives the bytes of one run over all") {
    const Folder folder;
    run(folder, audit(sample, "--out " + (folder / "whole")));
    REQUIRE(std::system(
                ("split -n l/3 --additional-suffix=.ndjson " + sample + " " + (folder / "shard-")).c_str()) ==
            0);
    std::string parts;
    for (const std::string shard : {"ab", "ac", "aa"}) {
        run(folder, audit(folder / ("shard-" + shard + ".ndjson"), "--quiet --out " + (folder / shard)));
        parts += " " + (folder / shard);
    }
    const Ran merged = run(folder, "merge" + parts + " --out " + (folder / "merged"));
    CHECK(merged.status == 1);
    for (const std::string name : {"summary.json", "partial.json", "report.html"}) {
        CHECK(content(folder / ("merged/" + name)) == content(folder / ("whole/" + name)));
    }
    const Ran other = run(folder, audit(sample, "--quiet --as-of 2027-03-01 --out " + (folder / "other")));
    const Ran refused = run(folder, "merge " + (folder / "whole") + " " + (folder / "other"));
    CHECK(refused.status == 2);
    CHECK_THAT(refused.err, Catch::Contains("--as-of"));
}

TEST_CASE("findings may be piped; the summary then goes to standard error") {
    const Folder folder;
    const Ran ran = run(folder, audit(sample, "--findings against"));
    CHECK(ran.status == 1);
    CHECK(ran.out.rfind("{\"schema\":\"linelaw/finding/1\"", 0) == 0);
    CHECK_THAT(ran.err, Catch::Contains("records read = "));
    const Ran csv = run(folder, audit(sample, "--findings against --format csv --quiet"));
    CHECK(csv.out.rfind("id,episode,", 0) == 0);
    CHECK(csv.err.empty());
}

TEST_CASE("the summary comes as JSON and as CSV too") {
    const Folder folder;
    CHECK(
        run(folder, audit(sample, "--summary json")).out.rfind("{\n  \"schema\": \"linelaw/summary/1\"", 0) ==
        0);
    CHECK(run(folder, audit(sample, "--summary csv --by line.kind")).out.find("\r\nline.kind,picc,clause,") !=
          std::string::npos);
}

TEST_CASE("what cannot be carried out has status 2, says where and why, and leaves nothing half done") {
    const Folder folder;
    const Ran missing = run(folder, audit("no-such.ndjson", "--out " + (folder / "report")));
    CHECK(missing.status == 2);
    CHECK_THAT(missing.err, Catch::Contains("cannot read no-such.ndjson: no such file or folder"));
    CHECK(fs::is_empty(folder.path / "report"));
    CHECK(run(folder, "audit '" + policy + "'").status == 2);
    const Ran full = run(folder, audit(sample, "--findings all > /dev/full 2> /dev/null #"));
    CHECK(full.status == 2);
    std::ofstream(folder / "file") << "";
    const Ran blocked = run(folder, audit(sample, "--out " + (folder / "file/report")));
    CHECK(blocked.status == 2);
    CHECK_THAT(blocked.err, Catch::Contains("cannot write " + (folder / "file/report")));
    CHECK(run(folder, audit(sample, "--as-of yesterday")).status == 2);
    CHECK(run(folder, audit(sample, "--by line.colour")).status == 2);
    std::ofstream(folder / "empty.ndjson") << "\n\n";
    CHECK_THAT(run(folder, audit(folder / "empty.ndjson")).err, Catch::Contains("there is no record"));
}

TEST_CASE("records with nothing against them have status 0") {
    const Folder folder;
    std::ofstream(folder / "good.ndjson")
        << R"({"episode":"q-1","facility":"quillhaven","care_unit":"med-3","patient":{"age":{"value":54,"unit":"a"},"setting":"home"},"line":{"kind":"picc","lumens":1,"inserted_at":null},"observed_from":"2026-03-10T08:00:00-03:00","observed_until":"2026-03-10T08:05:00-03:00","events":[]})"
        << "\n";
    const Ran ran = run(folder, audit(folder / "good.ndjson"));
    INFO(ran.err << ran.out);
    CHECK(ran.status == 0);
}
