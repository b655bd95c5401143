// `linelaw audit` and `linelaw merge` as they are run: files, exit statuses, what is said where.
#include <catch2/catch.hpp>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <regex>
#include <set>
#include <sstream>

#include "tests/runtime/program.hpp"

namespace fs = std::filesystem;
using nlohmann::json;
using small::content;
using small::Folder;
using small::Ran;
using small::run;

namespace {

const std::string policy = LINELAW_SOURCE_DIR "/policies/demo/quillhaven.linelaw";
const std::string sample = LINELAW_SOURCE_DIR "/policies/demo/sample/records.ndjson";

std::string secret(const Folder& folder) {
    return folder.write("secret", std::string(16, 'k') + std::string(16, 'q'));
}
std::string first_id(const std::string& findings) {
    return json::parse(content(findings).substr(0, content(findings).find('\n')))["id"];
}
// Where a record stood is told by its shard's own name and line.
std::string without_paths(const std::string& text) {
    static const std::regex place(R"re("place":"[^"]*")re");
    static const std::regex seal(R"re(^\{"content_hash":"[^"]*")re");  // over those as well
    return std::regex_replace(std::regex_replace(text, place, ""), seal, "");
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
    CHECK(names == std::set<std::string>{"findings.ndjson", "quarantine.ndjson", "report.html",
                                         "set_aside.ndjson", "summary.json"});
    CHECK_THAT(ran.out,
               Catch::Contains("records read = ") && Catch::Contains("report: " + (folder / "report")));
    CHECK(ran.err.find('\r') == std::string::npos);  // progress is for terminals
    CHECK(content(folder / "report/findings.ndjson").back() == '\n');
}

TEST_CASE("jobs and ways in make no difference to the bytes") {
    const Folder folder;
    const std::string all = " --findings all --partial-key " + secret(folder);
    run(folder, audit(sample, "--out " + (folder / "one") + " --jobs 1" + all));
    run(folder, audit(sample, "--out " + (folder / "four") + " --jobs 4" + all));
    run(folder, audit("-", "--out " + (folder / "piped") + all), "cat " + sample + " | ");
    REQUIRE(std::system(("zstd -q " + sample + " -o " + (folder / "records.ndjson.zst")).c_str()) == 0);
    run(folder, audit(folder / "records.ndjson.zst", "--out " + (folder / "packed") + all));
    for (const std::string name : {"findings.ndjson", "summary.json", "partial.json", "report.html"}) {
        const std::string expected = content(folder / ("one/" + name));
        CHECK(content(folder / ("four/" + name)) == expected);
        CHECK(content(folder / ("piped/" + name)) == expected);
        CHECK(content(folder / ("packed/" + name)) == expected);
    }
}

TEST_CASE("merge of shards gives the bytes of one run over all") {
    const Folder folder;
    // Compiled once: parts judged while somebody saves the policy's text anew would not fit together.
    const std::string compiled = folder / "policy.json";
    REQUIRE(run(folder, "compile '" + policy + "' -o " + compiled).status == 0);
    const auto audit = [&](const std::string& records, const std::string& more) {
        return "audit " + compiled + " " + records + " " + more;
    };
    // The auditor's round adds up too: a sample, an earlier run, settlements.
    run(folder, audit(sample, "--out " + (folder / "earlier") + " --as-of 2026-04-01"));
    const std::string id = first_id(folder / "earlier/findings.ndjson");
    folder.write("settled.txt",
                 id + " excused charted on paper\n0123456789abcdef not met seen at the bedside\n");
    const std::string more = " --partial-key " + secret(folder) + " --sample 30 --seed 7 --since " +
                             (folder / "earlier") + " --settled " + (folder / "settled.txt");
    run(folder, audit(sample, "--out " + (folder / "whole") + more));
    REQUIRE(std::system(
                ("split -n l/3 --additional-suffix=.ndjson " + sample + " " + (folder / "shard-")).c_str()) ==
            0);
    std::string parts;
    for (const std::string shard : {"ab", "ac", "aa"}) {
        run(folder,
            audit(folder / ("shard-" + shard + ".ndjson"), "--quiet --out " + (folder / shard) + more));
        parts += " " + (folder / shard);
    }
    const Ran twice = run(folder, "merge " + (folder / "whole") + " " + (folder / "whole") + "/");
    CHECK(twice.status == 2);
    CHECK(twice.err.find("is given twice") != std::string::npos);
    const Ran merged = run(folder, "merge" + parts + " --out " + (folder / "merged"));
    INFO(merged.err);
    CHECK(merged.status == 1);
    for (const std::string name :
         {"summary.json", "partial.json", "report.html", "gone.ndjson", "sample.csv"}) {
        INFO(name);
        CHECK(without_paths(content(folder / ("merged/" + name))) ==
              without_paths(content(folder / ("whole/" + name))));
    }
    const Ran other =
        run(folder, audit(sample, "--quiet --as-of 2027-03-01 --out " + (folder / "other") + more));
    const Ran refused = run(folder, "merge " + (folder / "whole") + " " + (folder / "other"));
    CHECK(refused.status == 2);
    CHECK_THAT(refused.err, Catch::Contains("--as-of"));
}

TEST_CASE("a partial summary is written only under a secret, and fits only with its like") {
    const Folder folder;
    run(folder, audit(sample, "--quiet --out " + (folder / "none")));
    CHECK_FALSE(fs::exists(folder / "none/partial.json"));
    folder.write("other", std::string(32, 'x'));
    run(folder, audit(sample, "--quiet --out " + (folder / "a") + " --partial-key " + secret(folder)));
    run(folder, audit(sample, "--quiet --out " + (folder / "b") + " --partial-key " + (folder / "other")));
    const Ran refused = run(folder, "merge " + (folder / "a") + " " + (folder / "b"));
    CHECK(refused.status == 2);
    CHECK_THAT(refused.err, Catch::Contains("--partial-key"));
    folder.write("short", "secret");
    CHECK(run(folder, audit(sample, "--out " + (folder / "c") + " --partial-key " + (folder / "short")))
              .status == 2);
}

TEST_CASE(
    "rulings after chart review are shown apart, carried to the next run, and named where they no longer "
    "fit") {
    const Folder folder;
    run(folder, audit(sample, "--quiet --out " + (folder / "first")));
    const std::string id = first_id(folder / "first/findings.ndjson");
    folder.write("settled.txt", "# after chart review\n" + id + " excused the provider was at the bedside\n" +
                                    "0123456789abcdef not met seen at the bedside\n");
    for (const char* name : {"second", "third"}) {
        const Ran ran =
            run(folder, audit(sample, "--out " + (folder / name) + " --settled " + (folder / "settled.txt")));
        CHECK_THAT(ran.out, Catch::Contains("settled after chart review: 1 of 2 given") &&
                                Catch::Contains("1 settled finding is no longer there: 0123456789abcdef"));
        const json before = json::parse(content(folder / "first/summary.json"));
        const json after = json::parse(content(folder / (std::string(name) + "/summary.json")));
        CHECK(after["clauses"] == before["clauses"]);  // as recorded
        const json& reviewed = after["review"]["settled"]["after_review"][0];
        CHECK(reviewed["as_recorded"]["against"].get<int>() - 1 ==
              reviewed["after_review"]["against"].get<int>());
        CHECK(reviewed["as_recorded"]["counted"].get<int>() - 1 ==
              reviewed["after_review"]["counted"].get<int>());
        CHECK(after["review"]["settled"]["findings"][0]["reason"] == "the provider was at the bedside");
        CHECK_THAT(content(folder / (std::string(name) + "/report.html")),
                   Catch::Contains("Settled after chart review") && Catch::Contains("0123456789abcdef"));
        CHECK_THAT(
            content(folder / (std::string(name) + "/findings.ndjson")),
            Catch::Contains(R"("settled":{"outcome":"excused","reason":"the provider was at the bedside"})"));
    }
    folder.write("wrong.txt", id + " forgiven because\n");
    const Ran wrong = run(folder, audit(sample, "--settled " + (folder / "wrong.txt")));
    CHECK(wrong.status == 2);
    CHECK_THAT(wrong.err, Catch::Contains("wrong.txt:1: a finding is settled as `excused` or as `not met`"));
}

TEST_CASE("an earlier run tells what is new, gone and the same") {
    const Folder folder;
    run(folder, audit(sample, "--quiet --out " + (folder / "first")));
    std::istringstream lines(content(folder / "first/findings.ndjson"));
    std::vector<std::string> findings;
    for (std::string line; std::getline(lines, line);) findings.push_back(line);
    // The earlier run lacked the first ten, had one that is gone, and one of an episode that is not here.
    json gone = json::parse(findings[20]);
    gone["id"] = "0123456789abcdef";
    json elsewhere = gone;
    elsewhere["id"] = "fedcba9876543210";
    elsewhere["episode"] = "not among these";
    std::string old = gone.dump() + "\n" + elsewhere.dump() + "\n";
    for (std::size_t i = 10; i < findings.size(); ++i) old += findings[i] + "\n";
    const Ran ran = run(folder, audit(sample, "--out " + (folder / "second") + " --since " +
                                                  folder.write("old.ndjson", old)));
    const json since = json::parse(content(folder / "second/summary.json"))["review"]["since"];
    CHECK(since["new"] == 10);
    CHECK(since["gone"] == 1);
    CHECK(since["not_judged"] == 1);
    CHECK(since["same"] == findings.size() - 10);
    CHECK_THAT(ran.out, Catch::Contains("since the earlier run: 10 new, 1 gone"));
    CHECK(json::parse(content(folder / "second/gone.ndjson"))["id"] == "0123456789abcdef");
    std::istringstream again(content(folder / "second/findings.ndjson"));
    std::size_t fresh = 0;
    for (std::string line; std::getline(again, line);) fresh += json::parse(line)["since"] == "new" ? 1 : 0;
    CHECK(fresh == 10);
}

TEST_CASE("a sample sees each clause, is drawn again alike, and does not show the reviewer what was found") {
    const Folder folder;
    const std::string drawn = " --sample 60 --seed 5 --out ";
    run(folder, audit(sample, "--quiet --jobs 1" + drawn + (folder / "one")));
    run(folder, audit(sample, "--quiet --jobs 3" + drawn + (folder / "two")));
    for (const std::string name : {"sample.html", "sample.csv", "sample_key.ndjson"})
        CHECK(content(folder / ("one/" + name)) == content(folder / ("two/" + name)));
    const json summary = json::parse(content(folder / "one/summary.json"));
    std::set<std::string> exercised;
    for (const char* kind : {"clauses", "ladders"}) {
        for (const json& item : summary[kind]) {
            if (item["counted"] > 0)
                exercised.insert(item[kind == std::string("clauses") ? "clause" : "ladder"]);
        }
    }
    std::set<std::string> seen;
    std::istringstream key(content(folder / "one/sample_key.ndjson"));
    std::size_t against = 0;
    for (std::string line; std::getline(key, line);) {
        const json entry = json::parse(line);
        seen.insert(entry["item"]);
        against += entry["outcome"] != "met" ? 1 : 0;
    }
    CHECK(seen == exercised);
    CHECK(against >= 15);
    CHECK(against <= 45);
    const std::string form = content(folder / "one/sample.html");
    CHECK_THAT(form, !Catch::Contains("came ") && !Catch::Contains("no longer due") &&
                         Catch::Contains("cannot tell"));
    run(folder, audit(sample, "--quiet --sample 60 --seed 6 --out " + (folder / "other")));
    CHECK(content(folder / "one/sample.csv") != content(folder / "other/sample.csv"));
    CHECK(run(folder, audit(sample, "--sample 5")).status == 2);
}

TEST_CASE("reviewers' answers are held against the sample that was drawn, and no other") {
    const Folder folder;
    const std::string drawn = " --sample 40 --seed 5 --out ";
    run(folder, audit(sample, "--quiet" + drawn + (folder / "one")));
    // A reviewer who agrees with everything, and one who puts down `met` throughout.
    std::istringstream key(content(folder / "one/sample_key.ndjson"));
    std::string sheet = "sample,number,reviewer_1,reviewer_2\r\n";
    std::string code;
    std::size_t met = 0;
    for (std::string line; std::getline(key, line);) {
        const json entry = json::parse(line);
        code = entry["sample"];
        const bool was_met = entry["outcome"] == "met";
        met += was_met ? 1 : 0;
        sheet += code + "," + std::to_string(entry["number"].get<int>()) + (was_met ? ",met" : ",against") +
                 ",met\r\n";
    }
    folder.write("filled.csv", sheet);
    const Ran ran =
        run(folder, audit(sample, drawn + (folder / "two") + " --reviewed " + (folder / "filled.csv")));
    const json agreement = json::parse(content(folder / "two/summary.json"))["review"]["sample"]["agreement"];
    REQUIRE(agreement.size() == 3);
    CHECK(agreement[0]["kappa"] == 1);
    CHECK(agreement[0]["agreement"] == 1);
    CHECK(agreement[1]["kappa"] == 0);  // no better than chance
    CHECK(agreement[1]["table"] == json{met, 0, 40 - met, 0});
    CHECK_THAT(ran.out,
               Catch::Contains("agreement of linelaw and reviewer_1 on the sample: 40 of 40, kappa 1.00"));
    const Ran other = run(folder, audit(sample, "--sample 40 --seed 6 --out " + (folder / "three") +
                                                    " --reviewed " + (folder / "filled.csv")));
    CHECK(other.status == 2);
    CHECK_THAT(other.err, Catch::Contains("it is of another sample"));
    folder.write("wrong.csv", "sample,number,reviewer_1\n" + code + ",1,maybe\n");
    CHECK_THAT(
        run(folder, audit(sample, drawn + (folder / "four") + " --reviewed " + (folder / "wrong.csv"))).err,
        Catch::Contains("row 2: an answer is `met`, `against`, `cannot tell` or nothing"));
    // The sheet that people have filled in is never replaced.
    folder.write("one/sample.csv", sheet);
    for (const std::string& more : {std::string(), " --reviewed " + (folder / "filled.csv")}) {
        const Ran again = run(folder, audit(sample, "--quiet" + drawn + (folder / "one") + more));
        CHECK(again.status == 2);
        CHECK_THAT(again.err, Catch::Contains("/one/sample.csv is there already, and somebody may have"));
    }
    CHECK(run(folder, audit(sample, "--quiet" + drawn + (folder / "one") + " --reviewed " +
                                        (folder / "one/sample.csv")))
              .status == 1);
    CHECK(content(folder / "one/sample.csv") == sheet);
}

TEST_CASE("no-keys leaves even pseudonymous keys out of everything that is written") {
    const Folder folder;
    run(folder, audit(sample, "--quiet --findings all --out " + (folder / "with") + " --sample 20"));
    const Ran ran = run(folder, audit(sample, "--no-keys --findings all --out " + (folder / "without") +
                                                  " --sample 20 --since " + (folder / "with")));
    CHECK(ran.status == 1);
    std::set<std::string> keys;
    std::istringstream records(content(sample));
    for (std::string line; std::getline(records, line);) {
        const json record = json::parse(line, nullptr, false);
        if (!record.is_object()) continue;
        if (record.contains("episode") && record["episode"].is_string()) keys.insert(record["episode"]);
        if (record.contains("patient") && record["patient"].is_object() && record["patient"].contains("key"))
            keys.insert(record["patient"]["key"].get<std::string>());
    }
    REQUIRE(keys.size() > 60);
    std::istringstream findings(content(folder / "with/findings.ndjson"));
    for (std::string line; std::getline(findings, line);)
        keys.insert(json::parse(line)["id"].get<std::string>());
    std::string all = ran.out + ran.err;
    for (const auto& entry : fs::directory_iterator(folder.path / "without"))
        all += content(entry.path().string());
    for (const std::string& key : keys) {
        if (all.find(key) == std::string::npos) continue;
        INFO(key);
        CHECK(false);
    }
    CHECK(run(folder, audit(sample, "--no-keys --partial-key " + secret(folder) + " --out " + (folder / "x")))
              .status == 2);
}

TEST_CASE("no-keys leaves the names of parts out, and a finding is the same finding") {
    const Folder folder;
    folder.write(
        "records.ndjson",
        "{\"episode\":\"q-1\",\"facility\":\"quillhaven\",\"patient\":{\"age\":40,\"setting\":\"ward\"},"
        "\"line\":{\"kind\":\"picc\",\"lumens\":2,\"inserted_at\":\"2027-03-01T10:00:00Z\"},"
        "\"observed_until\":\"2027-03-20T10:00:00Z\",\"events\":["
        "{\"type\":\"infusion_start\",\"at\":\"2027-03-01T11:00:00Z\",\"infusion\":\"Zebedee\",\"lumen\":1,"
        "\"fluid\":\"crystalloid\",\"delivery\":\"continuous\"}]}\n");
    const auto ids = [&](const std::string& out, const std::string& more) {
        run(folder,
            audit(folder / "records.ndjson", "--quiet --findings all --out " + (folder / out) + more));
        std::set<std::string> found;
        std::istringstream findings(content(folder / (out + "/findings.ndjson")));
        for (std::string line; std::getline(findings, line);) {
            const json finding = json::parse(line);
            if (finding["part"].is_object() && finding["part"]["kind"] == "infusion")
                found.insert(finding["part"]["name"].get<std::string>() + ' ' + finding.value("since", "-"));
        }
        return found;
    };
    CHECK(ids("with", "") == std::set<std::string>{"Zebedee -"});
    CHECK(ids("without", " --no-keys --since " + (folder / "with")) == std::set<std::string>{"1 same"});
    for (const auto& entry : fs::directory_iterator(folder.path / "without")) {
        INFO(entry.path());
        CHECK_THAT(content(entry.path().string()), !Catch::Contains("Zebedee"));
    }
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

TEST_CASE("the rules of run charts and the control chart are chosen, and told in every form") {
    const Folder folder;
    const json plain = json::parse(run(folder, audit(sample, "--summary json")).out);
    CHECK(plain["settings"]["chart_rules"] == "shift,crossings");
    CHECK(plain["settings"]["control_chart"] == "p");
    const json chosen = json::parse(
        run(folder, audit(sample, "--summary json --chart-rules run-3,trend-3 --control-chart u")).out);
    CHECK(chosen["settings"]["chart_rules"] == "run-3,trend-3");
    std::set<std::string> signals;
    for (const json& clause : chosen["clauses"]) {
        CHECK(clause["run_chart"]["control"] == "u");
        for (const json& signal : clause["run_chart"]["signals"]) signals.insert(signal);
    }
    CHECK(signals == std::set<std::string>{"run", "trend"});
    const Ran wrong = run(folder, audit(sample, "--chart-rules shift,luck"));
    CHECK(wrong.status == 2);
    CHECK_THAT(wrong.err, Catch::Contains("`shift,luck` are no rules of run charts"));
}

TEST_CASE(
    "what cannot be carried out has status 2, or 3 where it cannot be written, says where and why, and "
    "leaves nothing half done") {
    const Folder folder;
    const Ran missing = run(folder, audit("no-such.ndjson", "--out " + (folder / "report")));
    CHECK(missing.status == 2);
    CHECK_THAT(missing.err, Catch::Contains("cannot read no-such.ndjson: no such file or folder"));
    CHECK_FALSE(fs::exists(folder.path / "report"));
    CHECK(run(folder, "audit '" + policy + "'").status == 2);
    const Ran full = run(folder, audit(sample, "--findings all > /dev/full 2> /dev/null #"));
    CHECK(full.status == 3);
    std::ofstream(folder / "file") << "";
    const Ran blocked = run(folder, audit(sample, "--out " + (folder / "file/report")));
    CHECK(blocked.status == 3);
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
