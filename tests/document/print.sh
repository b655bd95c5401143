#!/usr/bin/env bash
# Prints the documents of the demo's policies on A4 and on Letter and holds that the bedside checklist is one page, on
# which its heading stands first and every clause of it is named. Needs chromium and poppler-utils; beside the tests.
#
#     tests/document/print.sh PROGRAM     # build/release/compiler/linelaw
set -euo pipefail
program=$(realpath "$1")
cd "$(dirname "$0")/../.."
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
faults=0
for policy in policies/demo/*.linelaw; do
    "$program" document "$policy" --format html -o "$work/page.html"
    "$program" document "$policy" -o "$work/page.md"
    clauses=$(sed -n '/^## Bedside checklist/,/^## Sign-off/p' "$work/page.md" | grep -o '\[`[a-z_.]*`\]' | tr -d '[]`' | sort -u)
    for paper in A4 Letter; do
        sed "s#</head>#<style>@page { size: $paper } @page bedside { size: $paper }</style></head>#" "$work/page.html" \
            >"$work/$paper.html"
        chromium --headless --no-sandbox --disable-gpu --no-pdf-header-footer --print-to-pdf="$work/$paper.pdf" \
            "$work/$paper.html" >/dev/null 2>&1
        pages=$(pdfinfo "$work/$paper.pdf" | sed -n 's/^Pages: *//p')
        # The sign-off sheet is the last page; the checklist must be the one before it.
        pdftotext -f $((pages - 1)) -l $((pages - 1)) "$work/$paper.pdf" "$work/page.txt"
        said="$policy on $paper: $pages pages"
        [ "$(head -1 "$work/page.txt")" = "Bedside checklist" ] || { said+=", the checklist is not one page"; faults=1; }
        for clause in $clauses; do
            grep -qF "$clause" "$work/page.txt" || { said+=", $clause is not on it"; faults=1; }
        done
        echo "$said"
    done
done
exit $faults
