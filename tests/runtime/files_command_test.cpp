// The files that an audit reads and those that it leaves, as people meet them: what is said of each, what is
// taken away, who can open them.
#include <catch2/catch.hpp>
#include <cstdlib>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <set>

#include "runtime/output_names.hpp"
#include "tests/runtime/program.hpp"

namespace fs = std::filesystem;
using Catch::Contains;
using nlohmann::json;
using small::content;
using small::Folder;
using small::Ran;
using small::run;

namespace {

const std::string policy = LINELAW_SOURCE_DIR "/policies/demo/quillhaven.linelaw";
const std::string sample = LINELAW_SOURCE_DIR "/policies/demo/sample/records.ndjson";

std::string audit(const std::string& records, const std::string& more = "") {
    return "audit '" + policy + "' " + records + " " + more;
}
std::set<std::string> names_in(const std::string& path) {
    std::set<std::string> names;
    for (const auto& entry : fs::directory_iterator(path)) names.insert(entry.path().filename().string());
    return names;
}
std::size_t count(const std::string& text, const std::string& words) {
    std::size_t found = 0;
    for (std::size_t at = text.find(words); at != text.npos; at = text.find(words, at + 1)) ++found;
    return found;
}

}  // namespace

TEST_CASE(
    "an episode that stands in two extracts is told of, on the terminal, in the summary and on the page") {
    const Folder folder;
    const std::string all = content(sample);
    folder.write("in/april.ndjson", all);
    folder.write("in/may.ndjson", all.substr(0, all.find('\n') + 1));
    const std::string out = folder / "out";
    const Ran ran = run(folder, audit(folder / "in", "--out " + out));
    const std::string told = "ecords of an episode that another record was of, too: 1";
    CHECK_THAT(ran.out, Contains(told));
    const json records = json::parse(content(out + "/summary.json"))["records"];
    CHECK(records["episodes_repeated"] == 1);
    CHECK_THAT(content(out + "/report.html"), Contains(told));
    CHECK_THAT(content(out + "/report.html"), Contains("do the extracts overlap?"));

    const std::string once = folder / "once";
    CHECK(run(folder, audit(sample, "--out " + once)).out.find("extracts") == std::string::npos);
    const json without = json::parse(content(once + "/summary.json"))["records"];
    CHECK(without["episodes_repeated"] == 0);
    CHECK(records["judged"] == without["judged"].get<int>() + 1);
    CHECK(content(once + "/report.html").find("extracts overlap") == std::string::npos);
}

TEST_CASE("the terminal tells how many files are read, and names those that are not or are empty") {
    const Folder folder;
    const std::string in = folder / "in";
    folder.write("in/april.NDJSON", content(sample));
    folder.write("in/._april.ndjson", content(sample));
    folder.write("in/may.ndjson", "");
    for (const char* name : {"a.txt", "b.txt", "c.txt", "d.txt", "e.txt", "f.txt", "g.txt"})
        folder.write(std::string("in/") + name, "");
    fs::create_symlink("nowhere", folder.path / "in/june.ndjson");
    const Ran ran = run(folder, audit(in + " " + in + "/april.NDJSON", "--out " + (folder / "out")));
    INFO(ran.err);
    CHECK(ran.err ==
          "reading 2 files\n"
          "7 files are not read, as their names do not end in .ndjson, .jsonl or .json (then .gz or "
          ".zst): " +
              in + "/a.txt, " + in + "/b.txt, " + in + "/c.txt, " + in + "/d.txt, " + in +
              "/e.txt and 2 more\n"
              "not read, as it is a link to nothing or to a folder, or no file: " +
              in +
              "/june.ndjson\n"
              "given twice, and read once: " +
              in +
              "/april.NDJSON\n"
              "empty: " +
              in + "/may.ndjson\n");
    run(folder, audit(sample, "--out " + (folder / "one")));
    CHECK((content(folder / "out/summary.json") == content(folder / "one/summary.json")));
    CHECK(run(folder, audit(in, "--quiet --out " + (folder / "out"))).err.empty());
    CHECK(run(folder, audit(sample, "--out " + (folder / "one"))).err.empty());
    CHECK_THAT(run(folder, "due '" + policy + "' " + in).err, Contains("reading 2 files\n"));
}

TEST_CASE("an output folder among the records is not read as records") {
    const Folder folder;
    folder.write("in/april.ndjson", content(sample));
    const std::string command = audit(folder / "in", "--findings all --out " + (folder / "in/out"));
    run(folder, command);
    const std::string first = content(folder / "in/out/summary.json");
    const Ran again = run(folder, command);
    CHECK((content(folder / "in/out/summary.json") == first));
    CHECK_THAT(again.err, Contains("reading 1 file\n") && Contains("as an audit wrote them: ") &&
                              Contains("in/out/findings.ndjson"));
}

TEST_CASE("an output folder holds the files of one run, and what others put there") {
    const Folder folder;
    const std::string secret = folder.write("secret", std::string(32, 'k'));
    const std::string out = folder / "out";
    run(folder, audit(sample, "--findings all --format csv --compress gzip --sample 9 --since " +
                                  (folder / "earlier") + " --partial-key " + secret + " --out " + out));
    run(folder, audit(sample, "--out " + (folder / "earlier")));
    run(folder, audit(sample, "--findings all --format csv --compress gzip --sample 9 --since " +
                                  (folder / "earlier") + " --partial-key " + secret + " --out " + out));
    for (const std::string& name : names_in(out)) {
        INFO(name);
        CHECK(linelaw::runtime::is_output_name(name));
    }
    CHECK(names_in(out).size() == 10);
    folder.write("out/notes.txt", "of a person");
    folder.write("out/findings.ndjson.bak", "of a person");
    folder.write("out/sample.csv", "filled in");
    run(folder, audit(sample, "--findings all --no-keys --out " + out));
    CHECK(names_in(out) == std::set<std::string>{"findings.ndjson", "findings.ndjson.bak", "notes.txt",
                                                 "quarantine.ndjson", "report.html", "sample.csv",
                                                 "set_aside.ndjson", "summary.json"});
    CHECK(content(folder / "out/sample.csv") == "filled in");
    // No key of the records is left.
    const std::string key = json::parse(content(sample).substr(0, content(sample).find('\n')))["episode"];
    for (const std::string& name : names_in(out)) {
        INFO(name);
        CHECK(content(folder / ("out/" + name)).find('"' + key + '"') == std::string::npos);
    }
}

TEST_CASE("the sum does not take the place of its parts") {
    const Folder folder;
    const std::string out = folder / "part";
    run(folder,
        audit(sample, "--partial-key " + folder.write("secret", std::string(32, 'k')) + " --out " + out));
    const std::string before = content(folder / "part/partial.json");
    for (const std::string& given : {out, out + "/", out + "/partial.json"}) {
        const Ran ran = run(folder, "merge " + given + " --out " + out);
        CHECK(ran.status == 2);
        CHECK_THAT(ran.err, Contains(out + " is the folder of one of the parts"));
    }
    CHECK((content(folder / "part/partial.json") == before));
}

TEST_CASE("a folder that an audit makes is its owner's alone; one that is there stays as it is") {
    const Folder folder;
    const auto rights = [](const std::string& path) {
        return fs::status(path).permissions() & fs::perms::all;
    };
    run(folder, audit(sample, "--out " + (folder / "made/here/")));
    CHECK(rights(folder / "made/here") == fs::perms::owner_all);
    fs::create_directory(folder / "shared");
    fs::permissions(folder / "shared", fs::perms::owner_all | fs::perms::group_read | fs::perms::group_exec);
    run(folder, audit(sample, "--out " + (folder / "shared")));
    CHECK(rights(folder / "shared") ==
          (fs::perms::owner_all | fs::perms::group_read | fs::perms::group_exec));
    CHECK(fs::exists(folder / "made/here/report.html"));
}

TEST_CASE("a file that holds something else is named once, with how to mend it, and still quarantined") {
    const Folder folder;
    const std::string first = content(sample).substr(0, content(sample).find('\n') + 1);
    folder.write("in/plain.ndjson", first);
    folder.write("in/list.json", "[\n" + first + "]\n");
    folder.write("in/spread.json", json::parse(first).dump(2) + "\n");
    folder.write("in/beside.json",
                 first.substr(0, first.find(',') + 1) + "\n" + first.substr(first.find(',') + 1));
    folder.write("in/table.json", "episode,line\nq-1,picc\nq-2,picc\n");
    REQUIRE(std::system(("iconv -f UTF-8 -t UTF-16 " + (folder / "in/plain.ndjson") + " > " +
                         (folder / "in/wide.ndjson"))
                            .c_str()) == 0);
    const Ran ran = run(folder, audit(folder / "in", "--out " + (folder / "out")));
    INFO(ran.err);
    for (const char* said :
         {"/list.json: it is one list in brackets; ",
          "/spread.json: its records are spread over several lines; ",
          "/beside.json: its records are spread over several lines; ",
          "/table.json: its first line does not begin with `{` ", "/wide.ndjson: it is written in UTF-16; "})
        CHECK(count(ran.err, said) == 1);
    CHECK(count(ran.err, "plain.ndjson") == 0);
    const json records = json::parse(content(folder / "out/summary.json"))["records"];
    CHECK(records["judged"] == 2);  // the plain one, and the one in the list that has a line to itself
    CHECK(records["read"] == records["judged"].get<int>() + records["quarantined"].get<int>());
    CHECK(records["quarantined"] > 5);
    const Ran due = run(folder, "due '" + policy + "' " + (folder / "in"));
    CHECK(count(due.err, "/wide.ndjson: it is written in UTF-16; ") == 1);
    CHECK(count(due.err, "/spread.json") == 0);  // one record over several lines is read there
}
