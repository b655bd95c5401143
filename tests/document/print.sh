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
    clauses=$(sed -n '/^## Bedside checklist/,/^## Checklist for other events/p' "$work/page.md" | grep -o '\[`[a-z_.]*`\]' | tr -d '[]`' | sort -u)
    for paper in A4 Letter; do
        sed "s#</head>#<style>@page { size: $paper } @page bedside { size: $paper }</style></head>#" "$work/page.html" \
            >"$work/$paper.html"
        chromium --headless --no-sandbox --disable-gpu --no-pdf-header-footer --print-to-pdf="$work/$paper.pdf" \
            "$work/$paper.html" >/dev/null 2>&1
        pages=$(pdfinfo "$work/$paper.pdf" | sed -n 's/^Pages: *//p')
        said="$policy on $paper: $pages pages"
        # The page that begins with the checklist's heading, before the one that begins with the next heading.
        list=0 next=0
        for page in $(seq "$pages"); do
            first=$(pdftotext -f "$page" -l "$page" "$work/$paper.pdf" - | sed -n 1p)
            [ "$first" = "Bedside checklist" ] && list=$page
            [ "$first" = "Checklist for other events" ] && next=$page
        done
        [ "$list" -gt 0 ] && [ "$next" -eq $((list + 1)) ] || { said+=", the checklist is not one page"; faults=1; }
        pdftotext -f "$list" -l "$list" "$work/$paper.pdf" "$work/page.txt"
        for clause in $clauses; do
            grep -qF "$clause" "$work/page.txt" || { said+=", $clause is not on it"; faults=1; }
        done
        echo "$said"
    done
done
exit $faults
