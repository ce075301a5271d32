#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# A session at the keyboard, every kind of key once; then the same events imported must score the same.
set -u
command -v tmux >/dev/null || { echo "skipped: tmux is not installed"; exit 77; }
. "$SOURCE_DIR/tests/support/cli.sh"
. "$SOURCE_DIR/tests/support/terminal.sh"
trap terminal_end EXIT
"$BENCHTALLY" rubric add "$SOURCE_DIR/tests/cli/record/small-bench.yaml" >/dev/null
"$BENCHTALLY" person add T-1 --role trainee >/dev/null
"$BENCHTALLY" person add A-1 --role assessor >/dev/null

# type WORDS KEY...: types, and the screen must come to say the words.

terminal_run "$BENCHTALLY" record S-1 --trainee T-1 --assessor A-1 --rubric small-bench
wait_for 'No surgery is taught here' || complain "no cautions before the start"
[ "$("$BENCHTALLY" sessions | grep -c S-1)" -eq 0 ] || complain "a session is in the book before the cautions are heeded"
type_for 'not started' Enter
type_for 'The clock has not started' m
type_for 'Logged #1 .*start' Space
type_for 'Logged #2 .*Marked' m
type_for 'Drilled: where' d
type_for 'Logged #3 .*Drilled, Near end' 1
type_for 'Drilled: where.*Enter: Near end' d
type_for 'Logged #4 .*Drilled, Near end' Enter
type_for 'Hole 1..12' s
type_for 'Use' 3
type_for 'Length 8..60 mm' 1
type_for 'Logged #5 .*Screw placed, Near end, Hole 3, Use neutral, Length 16 mm' 1 6 Enter
# A hole of two figures, a length out of range (accepted with a warning), then undone.
type_for 'Hole 1..12' s
type_for 'Use' 1 2
type_for 'Length' 1
type_for 'Logged #6, with a warning: .*75' 7 5 Enter
type_for 'Struck #6' U
# Redo of the first screw, 20 seconds ago.
type_for 'The next work is a redo' R
type_for '20 seconds ago' B
type_for 'Hole' s
type_for 'Use' 3
type_for 'Length' 1
type_for 'Logged #7 .*Length 14 mm, redo' 1 4 Enter
# Every detail, asked on request.
type_for 'Every detail' D
type_for 'where' d
type_for 'Bit 1..5 mm' 2
type_for 'Logged #8 .*Far end, Bit 2.5 mm' 2 . 5 Enter
type_for 'Only the usual' D
type_for 'Which error' E
type_for 'Logged #9 .*error: Drill plunges' p
type_for 'Which inject' I
type_for 'Logged #10 .*complication: A fragment' 1
wait_for 'Lag screw' || complain "what the inject adds is not expected on the screen"
type_for 'What could not be seen' N
type_for 'Logged #11 .*not seen: Line marked' 1
type_for 'Note' T
type_for 'Logged #12 .*note: two words' 't' 'w' 'o' Space 'w' 'o' 'r' 'd' 's' Enter
type_for 'PAUSED' Space
type_for 'The clock is paused' m
type_for 'Left; nothing was logged' Escape
type_for 'running' Space
# Amend: event 5 had another length; strike: the plunge was none.
type_for 'Amend which' A
type_for 'Amend what' 5 Enter
type_for 'The Length is' 3
type_for 'Why' 1 5 Enter
type_for 'Event #5 is amended' 3
type_for 'Strike which' X
type_for 'Why' 9 Enter
type_for 'Struck #9' 2
type_for 'trainee has ended' F
type_for 'Gap in mm' y
type_for 'Flow, 1 to 5' 1 . 5 Enter
type_for 'Close the record' 4
type_for 'left open|Logged' n
type_for 'Close the record' C
type_for 'Receipt of session S-1' y

"$BENCHTALLY" log S-1 --json >log.json
python3 - <<'PY' || failures=$((failures + 1))
import json, sys
rows = sorted(json.load(open("log.json")), key=lambda r: r["event"])
got = [(r["event"], r["action"], r["site"], r["item"], r["value"], r["details"], r["redo"], r["note"]) for r in rows
       if r["kind"] in ("logged", "amended")]
want = [
    (1, "start", None, None, None, None, None, None),
    (2, "mark", None, None, None, None, None, None),
    (3, "drill", "near", None, None, None, None, None),
    (4, "drill", "near", None, None, None, None, None),
    (5, "screw", "near", None, None, "Hole 3, Length 15 mm, Use neutral", None, None),
    (7, "screw", "near", None, None, "Hole 3, Length 14 mm, Use neutral", "yes", None),
    (8, "drill", "far", None, None, "Bit 2.5 mm", None, None),
    (10, "inject", None, "loose", None, None, None, None),
    (11, "unseen", None, "marked", None, None, None, None),
    (12, "note", None, None, None, None, None, "two words"),
    (13, "pause", None, None, None, None, None, None),
    (14, "resume", None, None, None, None, None, None),
    (15, "finish", None, None, None, None, None, None),
    (16, "measure", None, "gap", "1.5", None, None, None),
    (17, "rate", None, "flow", "4", None, None, None),
]
def plain(row):
    return tuple((x.lower() if isinstance(x, str) else x) or None for x in row)
bad = [(g, w) for g, w in zip(map(plain, got), map(plain, want)) if g != w]
if bad or len(got) != len(want):
    print(f"the log holds {len(got)} events, expected {len(want)}; differing: {bad}")
    sys.exit(1)
PY
"$BENCHTALLY" log S-1 --all | grep -q 'undone while recording' || complain "the history lost the undo"
"$BENCHTALLY" log S-1 --all | grep -q 'seen wrongly' || complain "the history lost the reason of the amendment"
expect 0 'every record holds' "$BENCHTALLY" verify

# The same events as tidy CSV, in another session, score the same.
python3 - >same.csv <<'PY'
import json
print("session,trainee,assessor,rubric,edition,started,mode,time,action,site,item,value,redo,note,hole,use,length,bit")
kept = 0
for r in sorted(json.load(open("log.json")), key=lambda r: r["event"]):
    if r["kind"] not in ("logged", "amended"):
        continue
    details = dict(part.lower().removesuffix(" mm").rsplit(" ", 1) for part in (r["details"] or "").split(", ") if part)
    fields = [r["time"], r["action"], r["site"], r["item"], r["value"], r["redo"], r["note"]]
    fields += [details.get(name) for name in ("hole", "use", "length", "bit")]
    print("S-2,T-1,A-1,small-bench,1,2026-03-04T09:00:00Z,live," + ",".join(f or "" for f in fields))
PY
expect 0 '' "$BENCHTALLY" import same.csv
"$BENCHTALLY" score S-1 --json >one.json
"$BENCHTALLY" score S-2 --json >two.json
python3 - <<'PY' || failures=$((failures + 1))
import json, sys
one, two = json.load(open("one.json"))[0], json.load(open("two.json"))[0]
def figures(x):
    return {k: ({n: x[k][n] for n in ("given", "possible", "assessed")} if isinstance(x[k], dict) and "given" in x[k] else x[k])
            for k in ("outcome", "total", "finished", "steps", "order", "technique", "product", "rating")}
if figures(one) != figures(two):
    print("recorded:", figures(one), "imported:", figures(two))
    sys.exit(1)
PY

# An open session is offered again, and goes on where it stopped.
terminal respawn-window -k -t bench "$(printf '%q ' "$BENCHTALLY" record S-3 --trainee T-1 --assessor A-1 --rubric small-bench)"
wait_for 'read and heeded' || complain "the second session does not begin"
type_for 'not started' Enter
type_for 'Logged #1' Space
type_for 'Logged #2' m
type_for 'goes on with it' Q
terminal respawn-window -k -t bench "$(printf '%q ' "$BENCHTALLY" record S-3)"
wait_for '2 events logged.*Go on' || complain "an open session is not offered again"
type_for 'Logged: 2' y Enter
type_for 'Logged #3 .*Marked' m
type_for 'goes on with it' Q
finish
