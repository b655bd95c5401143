"""Runs every program over the same file in turns and prints who took how long; `run` calls it.

    side_by_side.py BUILD_FOLDER WORK_FOLDER ROUNDS [rules|whole]

Of seconds the least of the rounds counts, the clock's and the processor's each. Of a speed-up the median of what each
round gave: a machine whose speed drifts hardly does so within a round. Fails where the counts of the three rules
differ, or where a program does.
"""
import json
import os
import pathlib
import shutil
import statistics
import subprocess
import sys
import time

build, work, rounds = pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2]), int(sys.argv[3])
only = sys.argv[4] if len(sys.argv) > 4 else None
if only not in (None, "rules", "whole"):
    sys.exit(f"{only} is none of rules, whole")
here = pathlib.Path(__file__).parent
linelaw, bench = str(build / "compiler/linelaw"), build / "tests/bench"
records, demo = str(work / "lines.ndjson"), str(work / "demo/records.ndjson")


def run(command, copies=1):
    """The seconds on the clock, those of the processor, and what the first copy wrote."""
    begin = time.monotonic()
    started = [subprocess.Popen(command, stdout=subprocess.PIPE, cwd=work, text=True) for _ in range(copies)]
    written, processor = None, 0.0
    for process in started:
        text = process.stdout.read()
        written = text if written is None else written
        _, status, used = os.wait4(process.pid, 0)
        if os.waitstatus_to_exitcode(status) not in ((0, 1) if command[0] == linelaw else (0,)):  # 1: findings
            sys.exit(f"{command} failed")
        processor += used.ru_utime + used.ru_stime
    return time.monotonic() - begin, processor, written


def counts_of_summary(text):
    return [clause["against"] for clause in json.loads(text)["clauses"]]


def first_three(text):
    return [int(word) for word in text.split()[:3]]


def in_turns(programs):
    """name → (least seconds, least processor seconds, all that was written, seconds by round), the programs taking turns."""
    taken = {name: [] for name in programs}
    for _ in range(rounds):
        for name, (command, copies) in programs.items():
            shutil.rmtree(work / "out", ignore_errors=True)
            taken[name].append(run(command, copies))
            print(f"  {name}: {taken[name][-1][0]:.2f} s, processor {taken[name][-1][1]:.2f} s", file=sys.stderr)
    return {name: (min(t[0] for t in all), min(t[1] for t in all), [t[2] for t in all], [t[0] for t in all])
            for name, all in taken.items()}


def about(path):
    with open(path, "rb") as file:
        count = sum(1 for _ in file)
    return count, os.path.getsize(path)


def table(results, count, size, base):
    print(f"\n| | seconds | processor, s | records/s | MB/s | time against {base} | processor time |\n|---|---|---|---|---|---|---|")
    for name, (seconds, processor, *_) in results.items():
        against = seconds / results[base][0], processor / results[base][1]
        print(f"| {name} | {seconds:.2f} | {processor:.2f} | {count / seconds:,.0f} | {size / seconds / 1e6:,.0f} "
              f"| {against[0]:.2f} | {against[1]:.2f} |")


def sqlite(every):
    text = (here / "sqlite.sql").read_text()
    if every:
        text = "".join(line for line in text.splitlines(True) if "-- only what" not in line).replace("--values ", "")
    script = work / ("sqlite_values.sql" if every else "sqlite.sql")
    script.write_text(text)
    return ["sqlite3", ":memory:", f".read {script}"], 1


def three_rules():
    audit = [linelaw, "audit", "rules.json", records, "--quiet", "--summary", "json"]
    duckdb = ["node", str(here / "duckdb.mjs"), records]
    pandas = ["/usr/bin/python3", str(here / "pandas_rules.py"), records]
    programs = {
        "Linelaw, 1 thread": (audit + ["--jobs", "1"], 1),
        "Linelaw, 2 threads": (audit + ["--jobs", "2"], 1),
        "Linelaw, 1 thread, findings written": (audit + ["--jobs", "1", "--out", "out"], 1),
        "one-off program": ([str(bench / "bench_one_off"), records], 1),
        "one-off program, careful": ([str(bench / "bench_one_off"), "--careful", records], 1),
        "DuckDB, 1 thread": (duckdb + ["1"], 1),
        "DuckDB, 2 threads": (duckdb + ["2"], 1),
        "DuckDB, 1 thread, all events loaded": (duckdb + ["1", "events"], 1),
        "DuckDB, 1 thread, every value loaded": (duckdb + ["1", "values"], 1),
        "SQLite": sqlite(every=False),
        "SQLite, every value loaded": sqlite(every=True),
        "pandas": (pandas, 1),
        "pandas, every value loaded": (pandas + ["values"], 1),
        "simdjson walking every field": ([str(bench / "bench_walk"), records], 1),
    }
    count, size = about(records)
    print(f"\nThree rules: {count:,} records, {size / 1e9:.2f} GB")
    results = in_turns(programs)
    right = None
    for name, (_, _, texts, _) in results.items():
        if "written" in name or "walking" in name:
            continue  # its summary is a file; it counts nothing
        for text in texts:
            counts = counts_of_summary(text) if "Linelaw" in name else first_three(text)
            right = right or counts
            if counts != right:
                sys.exit(f"{name} counts {counts}, and {next(iter(results))} {right}")
    print(f"All give the same three counts: {right}")
    table(results, count, size, "Linelaw, 1 thread")
    for name in (name for name in results if "DuckDB" in name):
        loading, asking = (min(float(text.split()[i]) for text in results[name][2]) for i in (3, 4))
        print(f"{name}: loading {loading:.2f} s; on what is loaded the three rules take {asking:.3f} s")


def whole_audit():
    audit = [linelaw, "audit", "demo.json", demo, "--quiet", "--out", "out"]
    walk = [str(bench / "bench_walk"), demo]
    count, size = about(demo)
    print(f"\nThe whole audit: {count:,} records, {size / 1e9:.2f} GB")
    results = in_turns({
        "walk": (walk, 1),
        "two walks at once": (walk, 2),
        "audit, 1 thread": (audit + ["--jobs", "1"], 1),
        "audit, 2 threads": (audit + ["--jobs", "2"], 1),
    })
    table(results, count, size, "walk")
    alone, both, one, two = (by_round for *_, by_round in results.values())
    walks = [2 * a / b for a, b in zip(alone, both)]
    audits = [a / b for a, b in zip(one, two)]
    print(f"\nThe audit's rate is {min(alone) / min(one):.3f} of the walk's.")
    print(f"Speed-up on two cores, the median of {rounds} rounds (least to most): audit {spread(audits)}, two walks at once "
          f"{spread(walks)}; the audit's against the walks' {spread([a / w for a, w in zip(audits, walks)])}")


def spread(ratios):
    return f"{statistics.median(ratios):.2f} ({min(ratios):.2f} to {max(ratios):.2f})"


if only in (None, "rules"):
    three_rules()
if only in (None, "whole"):
    whole_audit()
