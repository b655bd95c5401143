#!/usr/bin/env python3
"""Holds the pages of docs/ against the program: every block ```console is run and compared line by line, every block
```linelaw must stand, as it is, in one of the files given for its page. `[…]` in a console block leaves lines out.

    captures.py PROGRAM ROOT PAGE FILE…            compare; status 1 and every difference where one is found
    captures.py --write PROGRAM ROOT PAGE FILE…    write the program's answers into the page (blocks without `[…]`)

`check` is run as of 1 June 2026, so that no page grows old by itself."""
import difflib
import pathlib
import re
import subprocess
import sys

BLOCK = re.compile(r"^```(console|linelaw)\n(.*?)^```$", re.M | re.S)
LEFT_OUT = "[…]"


def answer(program, root, line):
    words = line.removeprefix("$ ").split()
    assert words[0] == "linelaw", f"not a line for this program: {line}"
    if words[1] == "check":
        words[2:2] = ["--today", "2026-06-01"]
    ran = subprocess.run([program] + words[1:], cwd=root, capture_output=True, text=True, timeout=600)
    return (ran.stdout + ran.stderr).rstrip("\n").split("\n")


def holds(shown, said):
    """Whether the pieces between `[…]` stand in `said` one after the other; without `[…]` all of it is meant."""
    if LEFT_OUT not in shown:
        return shown == said
    at = 0
    for piece in "\n".join(shown).split(LEFT_OUT):
        if not piece.strip("\n"):
            continue
        lines = piece.strip("\n").split("\n")
        while said[at : at + len(lines)] != lines:
            at += 1
            if at >= len(said):
                return False
        at += len(lines)
    return True


def main(arguments):
    write = arguments[:1] == ["--write"]
    program, root, page, *files = arguments[1:] if write else arguments
    root = pathlib.Path(root)
    text = (root / page).read_text(encoding="utf-8")
    texts = [(root / file).read_text(encoding="utf-8") for file in files]
    faults, counts = [], {"console": 0, "linelaw": 0}

    def visit(match):
        kind, body = match.group(1), match.group(2).rstrip("\n")
        counts[kind] += 1
        if kind == "linelaw":
            if not any("\n" + body + "\n" in "\n" + whole for whole in texts):
                faults.append(f"{page}: in none of its files:\n{body}\n")
            return match.group(0)
        command, *shown = body.split("\n")
        said = answer(program, root, command)
        if write and LEFT_OUT not in shown:
            return "```console\n" + "\n".join([command] + said) + "\n```"
        if not holds(shown, said):
            faults.append(f"{page}: {command}\n" + "\n".join(difflib.unified_diff(shown, said, "shown", "said", lineterm="")))
        return match.group(0)

    text = BLOCK.sub(visit, text)
    if write:
        (root / page).write_text(text, encoding="utf-8")
    if not counts["console"] and not counts["linelaw"]:
        faults.append(f"{page}: no block to compare")
    print("\n".join(faults), end="\n" if faults else "")
    print(f"{page}: {counts['console']} answers of the program and {counts['linelaw']} blocks of policies compared")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
