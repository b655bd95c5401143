#!/usr/bin/env python3
"""Plants faults in the analysis, one at a time, and says which test catches each.

    planted_faults.py BUILD_FOLDER [NAME...]

A fault is one piece of text put in another's place in a copy of one source file. The copy is compiled as the build
folder compiles that file and linked into the test program before the library, whose own part is then not taken; neither
the tree nor the build folder is changed. A fault that keeps the tests from ending is told apart from one that they miss;
exits 1 where there is either.
"""
import json
import pathlib
import re
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(__file__).resolve().parents[3]
ANALYSIS = "compiler/analysis/"
FAULTS = [
    ("a deadline one cell short", "timed_state.cpp", "half(p, clock) > 2 * limit;", "half(p, clock) >= 2 * limit;"),
    ("a shortest interval one cell long", "timed_state.cpp", "since < 2 * gap->shortest &&", "since <= 2 * gap->shortest &&"),
    ("a hold ignored", "timed_state.cpp", "return (hold->held & bit) != 0 && flag(p, s.flag);", "return false;"),
    ("an exemption forgotten", "timed_state.cpp", "(gap->exempt & bit) != 0 || ", ""),
    ("time that never passes counts as kept", "timed_solve.cpp", "while (lose_the_hasty(open));", "while (false);"),
    ("zones: a moment after is the moment itself", "zone.cpp", "        at(0, i) = at(0, i).opened();\n    }\n    close();\n}\n\nvoid Zone::come_from", "    }\n    close();\n}\n\nvoid Zone::come_from"),
    ("zones: what lies before the bad and the good is forgotten", "zone.cpp", "if (!early.empty())", "if (false)"),
    ("zones: a goal behind the bad is reached", "zone.cpp", "result = both(result, avoids);", ""),
    ("zones: time that never passes counts as kept", "timed_zones_solve.cpp", "} while (!open.empty());", "} while (false);"),
    ("zones: what was lost since is not led to", "timed_zones_solve.cpp", "for (; led.of < lost.size(); ++led.of)", "for (; led.of < std::min<std::size_t>(1, lost.size()); ++led.of)"),
    ("zones: those that meet are held to be apart", "zone.cpp", "if (at(i, j) + other.at(j, i) < Bound::at_most(0)) return true;", "if (at(i, j) + other.at(j, i) < Bound::at_most(1)) return true;"),
    ("diagrams: another child taken for its neighbour", "diagram.cpp", "below_a == last_a && below_b == last_b", "below_a == last_a"),
    ("diagrams: a walk leaves what it came upon", "diagram.cpp", "if (marks_[node].walk == walk_) return marks_[node].value;", "if (marks_[node].walk != 0) return marks_[node].value;"),
    ("zones: what happens by itself is left to care", "timed_zones_solve.cpp", "if (move.by == By::environment)\n            for", "if (false)\n            for"),
    ("an exception forgotten", "timed_drafts.cpp", "applies = work_.diagrams.without(applies, always_held);", ""),
    ("an override forgotten", "workspace.cpp", "meaning = {diagrams.both(meaning.yes, other.no), diagrams.either(meaning.no, other.yes)};", ""),
    ("a minimal set not made minimal", "timed.cpp", "if (!still) continue;", "continue;"),
    ("situations with other clocks merged", "timed_case.cpp", "if (rule.guard.always) continue;", "continue;"),
    ("what a clause asks for may happen by itself", "timed_case.cpp", "plain = true;", "plain = false;"),
    ("values: a set not made minimal", "values_conflicts.cpp", "if (d.both(region(fewer), point) != never)", "if (false)"),
    ("a difference said the wrong way round", "compare.cpp", "return before_covers ? Kind::looser : Kind::incomparable;", "return before_covers ? Kind::stricter : Kind::incomparable;"),
    ("what is given up counted as exact", "exactness.cpp", "std::string why = work.given_up(c);", "std::string why;"),
    ("clauses that apply elsewhere left in", "timed_split.cpp", "return *rest == never || ", "return "),
    ("a way out that a demand names is closed", "timed_case.cpp", "if (d.both(picked, stays) == never) result", "if (false) result"),
    ("ages last for ever", "timed_case.cpp", "return stay < std::int64_t{2} * 365 * day_length ? stay : highest;", "return highest;"),
    ("times between steps are free of one another", "possible.cpp", "    rules.push_back(feasible_steps());\n", ""),
    ("boxes: widened over what is covered", "box_cover.cpp", "if (apart[r] != only) continue;", "continue;"),
    ("boxes: a hole in a row is not seen", "box_cover.cpp", "if (columns_[c].ordered && span.high - span.low + 1 == count) continue;", "if (columns_[c].ordered) continue;"),
    ("rows: told by a row that does not end the overlap", "table_overlaps.cpp", "o == r || answer[o] == answer[other];", "true || answer[o] == answer[other];"),
    ("what ends a hold on what happens by itself is free", "timed_relevance.cpp", "for (const auto& [kind, node] : d.others) lets_happen.insert(kind);", ";"),
    ("and so in the game", "timed_smaller.cpp", "all.lets_happen |= hold->releases;", ";"),
    ("a demand that opens what else is closed is left out", "timed_smaller.cpp", " && !opens(rule, problem.response_only)", ""),
    ("a limit compared the wrong way round", "strictness.cpp", "return by(first <= second, second <= first);", "return by(first >= second, second >= first);"),
]


# The small worlds first: they catch most faults at once, and where a fault keeps the program from ending, they say so
# before the long ones would. What runs the whole program is left out, for that is linked without the fault.
WORLDS = [
    ("~[#program_test]~[#random_timed_test]~[#z3_test]", 60),
    ("[#random_timed_test],[#z3_test]", 180),
]


def command_for(build, source):
    for entry in json.loads((build / "compile_commands.json").read_text()):
        if entry["file"].endswith(source):
            return entry["command"], entry["directory"]
    raise SystemExit(f"{source} is not built in {build}")


def link_command(build):
    said = subprocess.run(["ninja", "-C", build, "-t", "commands", "tests/compiler/analysis/test_analysis"],
                          capture_output=True, text=True, check=True).stdout
    return said.strip().splitlines()[-1]


def built_with(build, link, folder, fault):
    """The test program with one fault in it."""
    name, file, old, new = fault
    text = (ROOT / ANALYSIS / file).read_text()
    if text.count(old) != 1:
        raise SystemExit(f"{name}: {text.count(old)} places in {file}")
    copy, made, program = folder / file, folder / "faulty.o", folder / "faulty_tests"
    copy.write_text(text.replace(old, new))
    command, directory = command_for(build, ANALYSIS + file)
    command = re.sub(r" -o \S+", f" -o {made}", command)
    command = re.sub(r" -c \S+", f" -c {copy} -Wno-error", command)
    subprocess.run(command, shell=True, cwd=directory, check=True, capture_output=True)
    faulty = link.replace("-o tests/compiler/analysis/test_analysis", f"-o {program} {made}")
    subprocess.run(faulty.split(" && ")[1], shell=True, cwd=build, check=True)
    return program


def outcome(build, program):
    """What became of the program: "caught" and by which test, "NO END", or "MISSED"."""
    endless = False
    for tests, seconds in WORLDS:
        try:
            ran = subprocess.run(["nice", program, "--abort", "--filenames-as-tags", tests], capture_output=True, text=True,
                                 timeout=seconds, cwd=build / "tests/compiler/analysis")
        except subprocess.TimeoutExpired:
            endless = True
            continue
        if ran.returncode != 0:
            by = re.search(r"-{20,}\n((?:.+\n)+?)-{20,}", ran.stdout)
            return "caught", " ".join(by.group(1).split()) if by else f"the program broke off with {ran.returncode}"
    return ("NO END", "in the time allowed") if endless else ("MISSED", "")


def main():
    build = pathlib.Path(sys.argv[1]).resolve()
    wanted = sys.argv[2:]
    link = link_command(build)
    sound, said = outcome(build, build / "tests/compiler/analysis/test_analysis")
    if sound != "MISSED":
        raise SystemExit(f"without any fault: {sound} {said}")
    counts = {"caught": 0, "MISSED": 0, "NO END": 0}
    for fault in FAULTS:
        if wanted and fault[0] not in wanted:
            continue
        with tempfile.TemporaryDirectory() as folder:
            what, said = outcome(build, built_with(build, link, pathlib.Path(folder), fault))
        counts[what] += 1
        print(f"{what}: {fault[0]}" + (f"  (by: {said})" if said else ""), flush=True)
    print(", ".join(f"{n} {what}" for what, n in counts.items()))
    return 0 if counts["caught"] == sum(counts.values()) else 1


if __name__ == "__main__":
    sys.exit(main())
