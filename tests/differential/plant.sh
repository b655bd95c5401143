#!/usr/bin/env bash
# Plants faults in copies of the engine's sources, one at a time, and shows that a minute's meeting catches each.
#   tests/differential/plant.sh BUILD [SECONDS]
# BUILD is a configured build folder (release) in which `meet` is built. Nothing in it or in the sources is changed.
set -euo pipefail
root=$(cd "$(dirname "$0")/../.." && pwd)
build=$(cd "$1" && pwd)
seconds=${2:-60}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cd "$build"
escaped=0

# fault NAME FILE OLD NEW: OLD must stand in FILE exactly once.
fault() {
    local name=$1 file=$2 old=$3 new=$4 copy="$work/$2" object="$work/${2%.cpp}.o"
    OLD=$old NEW=$new perl -0pe 'BEGIN { $n = 0 } $n += s/\Q$ENV{OLD}\E/$ENV{NEW}/g;
        END { die "not there exactly once\n" if $n != 1 }' "$root/runtime/engine/$file" >"$copy" ||
        { echo "$name: $file does not hold \`$old\` once"; exit 2; }
    local compile link caught
    compile=$(ninja -t commands "runtime/CMakeFiles/linelaw_runtime.dir/engine/$file.o" | tail -1 |
        sed -E "s| -MD -MT [^ ]+ -MF [^ ]+||; s| -o [^ ]+| -o $object|; s| -c [^ ]+| -c $copy|; s| -Werror||")
    link=$(ninja -t commands meet | tail -1 | sed -E "s| -o tests/differential/meet | $object -o $work/meet |")
    eval "$compile" 2>"$work/log" || { cat "$work/log"; exit 2; }
    eval "$link"
    if "$work/meet" --seconds "$seconds" --cases 1 --jobs 2 --seed 1 >"$work/log" 2>&1; then
        echo "ESCAPED  $name"
        escaped=1
    else
        caught=$(grep -oE '^[0-9]+ opportunity lists compared|in [0-9.]+ s' "$work/log" | head -2 | tr '\n' ' ')
        grep -qE '[1-9][0-9]* differences' "$work/log" || { echo "$name: the meeting failed"; tail -3 "$work/log"; exit 2; }
        echo "caught   $name: $caught"
    fi
}

tests/differential/meet --seconds 5 --cases 1 --jobs 2 --seed 1 >"$work/log" ||
    { echo "without a fault the two differ already"; exit 2; }

fault "a bound off by one: the event at the far end of a window is out" truth_windows.cpp \
    'return at(add(s, span, plan_.zone)) + (span.calendar ? 0 : 1);' 'return at(add(s, span, plan_.zone));'
fault "an event is judged in the state that it sets itself" history.cpp \
    '[](const StateChange& c, std::uint32_t e) { return c.event < e; }' \
    '[](const StateChange& c, std::uint32_t e) { return c.event <= e; }'
fault "grace is lost" judging.cpp \
    'limit.limit = add(limit.due, grace, plan_.zone);' 'limit.limit = limit.due;'
fault "a civil day is 24 hours" judging.cpp \
    'limit.due = limit.limit = add(from, span, plan_.zone);' \
    'limit.due = limit.limit = span.calendar || span.months != 0 ? add(from, span, plan_.zone)
                                    : from + span.days * 24 * microseconds_per_hour + span.elapsed;'
fault "a part sees the events of another" history.cpp \
    'if (!may_be_of(match.event, scope)) return Truth::no;' \
    'if (!may_be_of(match.event, scope)) return truth();'
fault "a midnight is still in time" judging.cpp \
    'limit.exclusive = span.calendar;' 'limit.exclusive = false;'
fault "an exception is asked at the due instant only" judging.cpp \
    'if (next == never) break;' 'break;'
fault "the horizon is taken for the end of the stretch" stretches.cpp \
    '} else if (stretch.running) {' '} else if (stretch.running && false) {'
fault "a ladder started again while a run is open is run twice" ladders.cpp \
    ' || (is_open && start.at <= open_until)' ''
fault "early is ignored" stretches.cpp \
    'if (demand.shortest && opener != nullptr &&' 'if (false && demand.shortest && opener != nullptr &&'
fault "an uncertain answer is taken for a certain one" judging.cpp \
    'hits.push_back({h.episode().events[match.event].at, match.event, match.event, truth, none});' \
    'hits.push_back({h.episode().events[match.event].at, match.event, match.event, Truth::yes, none});'
fault "the left edge is forgotten" truth_windows.cpp \
    'if (!history_.edge() || own_begin(events) != none) return false;' 'return false;'
exit $escaped
