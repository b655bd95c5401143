// An audit that is stopped, by a kill, a full disk or a closed pipe, and what `--resume` makes of it: the
// bytes of a run that nothing disturbed, or a plain refusal.
#include <sys/mount.h>

#include <cstdlib>
#include <iostream>
#include <map>
#include <random>

#include "tests/runtime/folder.hpp"
#include "tests/runtime/number_from.hpp"
#include "tests/runtime/started.hpp"

namespace fs = std::filesystem;
using Catch::Contains;
using small::content;
using small::Folder;
using started::Ended;
using started::Process;

namespace {

const std::string policy = LINELAW_SOURCE_DIR "/docs/tutorial/finished.linelaw";
const std::string demo = LINELAW_SOURCE_DIR "/policies/demo/quillhaven.linelaw";
const std::string sample = LINELAW_SOURCE_DIR "/policies/demo/sample/records.ndjson";

using Arguments = std::vector<std::string>;
Arguments operator+(Arguments a, const Arguments& b) {
    a.insert(a.end(), b.begin(), b.end());
    return a;
}

// The sample's records several times over, each time of other episodes.
std::string many_records(const Folder& folder, int times) {
    const std::string once = content(sample);
    std::string all;
    for (int i = 0; i < times; ++i) {
        std::size_t begin = 0;
        const std::string mark = R"("episode":")";
        for (std::size_t at = once.find(mark); at != std::string::npos; at = once.find(mark, begin)) {
            all.append(once, begin, at + mark.size() - begin);
            all += "r" + std::to_string(i) + "-";
            begin = at + mark.size();
        }
        all.append(once, begin);
    }
    return folder.write("records.ndjson", all);
}

// What an audit leaves behind, by file.
std::map<std::string, std::string> left_in(const std::string& path) {
    std::map<std::string, std::string> files;
    for (const auto& entry : fs::directory_iterator(path)) {
        const std::string name = entry.path().filename().string();
        files[name] = entry.is_directory() ? "a folder" : content(entry.path().string());
    }
    return files;
}
void check_same(const std::map<std::string, std::string>& left,
                const std::map<std::string, std::string>& right) {
    REQUIRE(left.size() == right.size());
    for (const auto& [name, text] : left) {
        INFO(name);
        REQUIRE(right.count(name) == 1);
        REQUIRE((right.at(name) == text));  // in parentheses: megabytes are not to be printed
    }
}

struct Run {
    const Folder& folder;
    Ended to_end(const Arguments& arguments, rlim_t file_limit = 0) const {
        return Process(arguments, folder / "out.txt", folder / "err.txt", file_limit).wait();
    }
    std::string out() const { return content(folder / "out.txt"); }
    std::string err() const { return content(folder / "err.txt"); }
};

}  // namespace

// LINELAW_KILLS, LINELAW_KILL_SEED and LINELAW_KILL_COPIES make a longer run of it.
TEST_CASE("killed at a hundred moments, an audit ends with the bytes of an undisturbed one") {
    const std::size_t wanted = number_from("LINELAW_KILLS", 100);
    std::mt19937_64 random(number_from("LINELAW_KILL_SEED", 20261129));
    const Folder folder;
    const Run run{folder};
    const std::string records = many_records(folder, static_cast<int>(number_from("LINELAW_KILL_COPIES", 2)));
    const std::string secret = folder.write("secret", std::string(32, 'k'));
    const std::string compiled = folder / "policy.json";
    REQUIRE(run.to_end({"compile", policy, "-o", compiled}).status == 0);
    REQUIRE(run.to_end({"audit", compiled, sample, "--as-of", "2026-05-01", "--out", folder / "earlier"})
                .status == 1);

    std::size_t kills = 0;
    std::size_t from_a_checkpoint = 0;
    std::size_t at_the_end = 0;  // all files were whole, and not yet all in their places
    const std::vector<Arguments> manners = {{"--compress", "none"},
                                            {"--compress", "zstd"},
                                            {"--compress", "gzip", "--since", folder / "earlier"},
                                            {"--format", "csv"}};
    std::vector<std::map<std::string, std::string>> expected;
    std::vector<double> takes;
    const auto command = [&](std::size_t manner, const std::string& out, const std::string& every = "0") {
        return Arguments{"audit", compiled, records,     "--partial-key", secret, "--checkpoint-every",
                         every,   "--out",  folder / out} +
               manners[manner];
    };
    for (std::size_t m = 0; m < manners.size(); ++m) {
        const std::string name = "whole-" + std::to_string(m);
        // Undisturbed, and without a checkpoint.
        const Arguments plain = command(m, name, "3600") + Arguments{"--jobs", "2"};
        REQUIRE(run.to_end(plain).status == 1);
        expected.push_back(left_in(folder / name));
        takes.push_back(run.to_end(command(m, "timed") + Arguments{"--jobs", "2"}).seconds);
        check_same(left_in(folder / "timed"), expected.back());
        fs::remove_all(folder / "timed");
    }
    for (std::size_t trial = 0; kills < wanted; ++trial) {
        const std::size_t manner = trial % manners.size();
        const std::string name = "trial-" + std::to_string(trial);
        bool ended = false;
        for (const char* file : {"findings.csv.zst", "gone.ndjson"})
            folder.write(name + "/" + file, "of an earlier run\n");
        for (int stop = 0; stop < 4 && !ended && kills < wanted; ++stop) {
            // The first go at any moment from its begin to its end; the later ones have less left to do.
            const double share = std::uniform_real_distribution<double>(0.0, stop == 0 ? 1.05 : 0.6)(random);
            const double moment = share * takes[manner];
            Arguments go = command(manner, name) + Arguments{"--jobs", std::to_string(1 + random() % 4)};
            if (stop > 0) go.emplace_back("--resume");
            Process process(go, folder / "out.txt", folder / "err.txt");
            const Ended end = process.kill_after(moment);
            ended = !end.killed;
            if (ended) REQUIRE(end.status == 1);
            kills += end.killed ? 1 : 0;
            const std::string note = folder / (name + "/linelaw.unfinished/checkpoint.json");
            if (!end.killed || !fs::exists(note)) continue;
            ++from_a_checkpoint;
            at_the_end += content(note).find(R"("state":"complete")") < 100 ? 1 : 0;
        }
        if (!ended) REQUIRE(run.to_end(command(manner, name) + Arguments{"--resume"}).status == 1);
        check_same(left_in(folder / name), expected[manner]);
        fs::remove_all(folder / name);
    }
    WARN(kills << " kills, " << from_a_checkpoint << " of them after a checkpoint, " << at_the_end
               << " when all files were whole");
    CHECK(kills >= wanted);
    CHECK(from_a_checkpoint * 4 >= wanted);  // else the kills came too early to show anything
}

TEST_CASE("stopped while the files are put in their places, an audit puts the rest there") {
    const Folder folder;
    const Run run{folder};
    const Arguments command = {"audit", policy, sample, "--out", folder / "report"};
    REQUIRE(run.to_end({"audit", policy, sample, "--out", folder / "whole"}).status == 1);
    // A folder where a file is to be: the renaming fails half-way.
    fs::create_directories(folder.path / "report/set_aside.ndjson");
    folder.write("report/partial.json", "of an earlier run");
    CHECK(run.to_end(command).status == 3);
    CHECK_THAT(run.err(), Contains("cannot write " + (folder / "report/set_aside.ndjson")) &&
                              Contains("--resume goes on from there"));
    CHECK(fs::exists(folder.path / "report/findings.ndjson"));
    CHECK_FALSE(fs::exists(folder.path / "report/partial.json"));
    CHECK_FALSE(fs::exists(folder.path / "report/summary.json"));
    fs::remove(folder.path / "report/set_aside.ndjson");
    CHECK(run.to_end(command + Arguments{"--resume"}).status == 1);
    check_same(left_in(folder / "report"), left_in(folder / "whole"));
    CHECK_THAT(run.out(), Contains("records read = "));
}

TEST_CASE("a disk that is full ends the audit with the path and the reason, and the rest can follow") {
    const Folder folder;
    const Run run{folder};
    const std::string records = many_records(folder, 2);
    const Arguments command = {"audit", policy, records, "--checkpoint-every", "0"};
    REQUIRE(run.to_end(command + Arguments{"--out", folder / "whole"}).status == 1);
    SECTION("no file may grow over a limit") {
        // Plain, the findings grow over it; compressed, the checkpoint does.
        for (const std::string packing : {"none", "zstd"}) {
            const Arguments packed =
                command + Arguments{"--compress", packing, "--findings", "all", "--sample", "20"};
            const std::string whole = folder / ("whole-" + packing);
            const std::string out = folder / ("report-" + packing);
            REQUIRE(run.to_end(packed + Arguments{"--out", whole}).status == 1);
            CHECK(run.to_end(packed + Arguments{"--out", out}, packing == "none" ? 1'200'000 : 300'000)
                      .status == 3);
            CHECK_THAT(run.err(), Contains("cannot write " + out + "/linelaw.unfinished/") &&
                                      Contains("File too large"));
            for (const auto& [name, text] : left_in(out)) CHECK(name == "linelaw.unfinished");
            CHECK(run.to_end(packed + Arguments{"--out", out, "--resume"}).status == 1);
            check_same(left_in(out), left_in(whole));
        }
    }
    SECTION("a file system of 300 KiB") {
        const std::string out = folder / "small";
        fs::create_directory(out);
        if (::mount("tmpfs", out.c_str(), "tmpfs", 0, "size=300k") != 0) {
            WARN("not done: only root may mount a small file system");
            return;
        }
        const Ended end = run.to_end(command + Arguments{"--out", out});
        const std::string err = run.err();
        REQUIRE(::mount("tmpfs", out.c_str(), "tmpfs", MS_REMOUNT, "size=30m") == 0);
        const Ended again = run.to_end(command + Arguments{"--out", out, "--resume"});
        const auto left = left_in(out);
        ::umount(out.c_str());
        CHECK(end.status == 3);
        CHECK_THAT(err, Contains("cannot write " + out) && Contains("No space left on device"));
        CHECK(again.status == 1);
        check_same(left, left_in(folder / "whole"));
    }
}

TEST_CASE("output that nobody takes is an error, whatever the command") {
    const Folder folder;
    for (const Arguments& arguments :
         {Arguments{"audit", policy, sample, "--findings", "all"}, Arguments{"audit", policy, sample},
          Arguments{"explain", "gap.question"}, Arguments{"check", policy}}) {
        INFO(arguments[0]);
        CHECK(Process(arguments, "/dev/full", folder / "err.txt").wait().status == 3);
        CHECK_THAT(content(folder / "err.txt"),
                   Contains("cannot write standard output: No space left on device"));
        CHECK(Process(arguments, started::closed_pipe, folder / "err.txt").wait().status == 3);
        CHECK_THAT(content(folder / "err.txt"), Contains("cannot write standard output: Broken pipe"));
    }
}

TEST_CASE("an audit goes on only with what it was begun with") {
    const Folder folder;
    const Run run{folder};
    const std::string records = many_records(folder, 2);
    const std::string out = folder / "report";
    const Arguments command = {
        "audit", policy, records, "--findings", "all", "--out", out, "--checkpoint-every", "0"};
    const auto stop = [&] { REQUIRE(run.to_end(command, 1'200'000).status == 3); };
    const auto refused = [&](const Arguments& with, const std::string& why) {
        INFO(why);
        CHECK(run.to_end(with + Arguments{"--resume"}).status == 2);
        CHECK_THAT(run.err(), Contains(out + "/linelaw.unfinished/checkpoint.json: ") && Contains(why));
    };
    stop();
    refused(command + Arguments{"--strict"}, "one of the two was judged --strict");
    refused(command + Arguments{"--compress", "zstd"}, "--compress was none, and is zstd now");
    refused(command + Arguments{"--no-keys"}, "--no-keys was not given, and is given now");
    refused(command + Arguments{"--by", "line.kind"}, "grouped by other attributes (--by)");
    refused({"audit", demo, records, "--out", out, "--findings", "all"}, "judged by another policy");
    refused({"audit", policy, records, sample, "--out", out, "--findings", "all"},
            "it read 1 files, and 2 are given now");
    const std::string note = out + "/linelaw.unfinished/checkpoint.json";
    const std::string kept = content(note);
    folder.write("report/linelaw.unfinished/checkpoint.json", kept.substr(0, kept.size() / 2));
    refused(command, "this checkpoint is damaged");
    folder.write("report/linelaw.unfinished/checkpoint.json", kept);
    const std::string part = out + "/linelaw.unfinished/findings.ndjson";
    std::string flipped = content(part);
    flipped[3] = static_cast<char>(flipped[3] ^ 1);
    folder.write("report/linelaw.unfinished/findings.ndjson", flipped);
    CHECK(run.to_end(command + Arguments{"--resume"}).status == 2);
    CHECK_THAT(run.err(), Contains(part + ": it does not hold what the checkpoint beside it says"));
    fs::resize_file(part, 10);
    CHECK(run.to_end(command + Arguments{"--resume"}).status == 2);
    CHECK_THAT(run.err(), Contains(part + ": it is shorter than the checkpoint beside it says"));
    // A refusal takes nothing away; what was begun anew does.
    CHECK(fs::exists(note));
    stop();
    fs::last_write_time(records, fs::last_write_time(records) + std::chrono::seconds(2));
    refused(command, "records.ndjson has been changed since");
    CHECK(run.to_end(command).status == 1);
    CHECK_FALSE(fs::exists(out + "/linelaw.unfinished"));
}

TEST_CASE("without a checkpoint, --resume begins at the first record and says so") {
    const Folder folder;
    const Run run{folder};
    REQUIRE(run.to_end({"audit", policy, sample, "--out", folder / "whole"}).status == 1);
    CHECK(run.to_end({"audit", policy, sample, "--out", folder / "new", "--resume"}).status == 1);
    CHECK_THAT(run.err(), Contains("there is no checkpoint here; the audit begins at the first record"));
    check_same(left_in(folder / "new"), left_in(folder / "whole"));
    // Standard input cannot be read twice; the unfinished files of another run are not taken for its own.
    const std::string piped = "cat '" + sample + "' | '" LINELAW_PROGRAM "' audit '" + policy +
                              "' - --resume --out " + (folder / "piped") + " > /dev/null 2> " +
                              (folder / "err.txt");
    CHECK(WEXITSTATUS(std::system(piped.c_str())) == 1);
    CHECK_THAT(run.err(), Contains("the audit begins at the first record"));
    CHECK((content(folder / "piped/findings.ndjson") == content(folder / "whole/findings.ndjson")));
    // Nor is a pipe with a name, of which nothing is read before its records are.
    const std::string named = "'" LINELAW_PROGRAM "' audit '" + policy + "' <(cat '" + sample + "') --out " +
                              (folder / "named") + " > /dev/null";
    CHECK(WEXITSTATUS(std::system(("bash -c \"" + named + "\"").c_str())) == 1);
    CHECK((content(folder / "named/findings.ndjson") == content(folder / "whole/findings.ndjson")));
    CHECK(run.to_end({"audit", policy, sample, "--resume"}).status == 2);
    CHECK_THAT(run.err(), Contains("--resume needs --out DIR"));
}

TEST_CASE("two runs do not write into one folder at once") {
    const Folder folder;
    const Run run{folder};
    const std::string fifo = folder / "records.ndjson";
    REQUIRE(std::system(("mkfifo " + fifo).c_str()) == 0);
    Process first({"audit", policy, fifo, "--out", folder / "report"}, folder / "out-1.txt",
                  folder / "err-1.txt");
    const int writer = ::open(fifo.c_str(), O_WRONLY);  // waits until the first run reads
    REQUIRE(writer >= 0);
    CHECK(run.to_end({"audit", policy, sample, "--out", folder / "report"}).status == 2);
    CHECK_THAT(run.err(), Contains((folder / "report") + ": another run is writing into this folder"));
    const std::string records = content(sample);
    std::thread feeder([&] {
        for (std::size_t at = 0; at < records.size();) {
            const auto put = ::write(writer, records.data() + at, records.size() - at);
            if (put <= 0) break;
            at += static_cast<std::size_t>(put);
        }
        ::close(writer);
    });
    CHECK(first.wait().status == 1);
    feeder.join();
    REQUIRE(run.to_end({"audit", policy, sample, "--out", folder / "whole"}).status == 1);
    CHECK((content(folder / "report/findings.ndjson") == content(folder / "whole/findings.ndjson")));
}
