#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# What a director changes in a book: the level of a trainee when a year has passed, and which of two observations decides.
# Both stand on the book's chain, which verifies after each.
set -u
. "$SOURCE_DIR/tests/support/cli.sh"
export BENCHTALLY_BOOK=$WORK/book.db
sound() { expect 0 'every record holds' "$BENCHTALLY" verify; }
field() {
  "$BENCHTALLY" person list --json |
    python3 -c 'import json, sys; print(next(p[sys.argv[2]] for p in json.load(sys.stdin) if p["code"] == sys.argv[1]))' "$1" "$2"
}
notes() { sqlite3 "$BENCHTALLY_BOOK" "SELECT count(*) FROM book_entry WHERE kind = '$1'"; }
is() { [ "$1" = "$2" ] || complain "$3: \"$1\", expected \"$2\""; }

"$BENCHTALLY" rubric add "$SOURCE_DIR"/rubrics/*.yaml >/dev/null
"$BENCHTALLY" person add --from "$SOURCE_DIR/sample_sessions/people.csv" >/dev/null
"$BENCHTALLY" import "$SOURCE_DIR"/sample_sessions/{two-assessors-ankle,own-record-mandible}.csv >/dev/null

# People.
expect 2 'in the book as a trainee .*person amend LK-03' "$BENCHTALLY" person add LK-03 --role trainee --level "year 9"
name=$(field LK-03 name)
expect 0 'LK-03: amended' "$BENCHTALLY" person amend LK-03 --level "year 9" --by DIR-1
is "$(field LK-03 level)" "year 9" "the level after the change"
is "$(field LK-03 name)" "$name" "the name, which was not to change"
sound
expect 0 'already so' "$BENCHTALLY" person amend LK-03 --level "year 9"
is "$(notes person_amended)" 1 "notes on the chain; a change to the same is none"
expect 0 'amended' "$BENCHTALLY" person amend LK-03 --name "Zoë Example" --cohort "spring"
is "$(field LK-03 name)" "Zoë Example" "the name after the change"
sound
expect 0 'amended' "$BENCHTALLY" person amend LK-03 --level ""
is "$(field LK-03 level)" None "a level taken away"
expect 0 'already in the book, the same' "$BENCHTALLY" person add LK-03 --role trainee --name "Zoë Example" --cohort spring
sound
expect 2 'nothing to change' "$BENCHTALLY" person amend LK-03
expect 2 'no person "LK-99"' "$BENCHTALLY" person amend LK-99 --level "year 1"
expect 2 'name is not plain text' "$BENCHTALLY" person amend LK-03 --name "two
lines"
is "$(field LK-03 name)" "Zoë Example" "the name after a refused change"
sqlite3 "$BENCHTALLY_BOOK" "UPDATE person SET level = 'year 1' WHERE code = 'LK-03'"
expect 1 'person LK-03: the level was changed' "$BENCHTALLY" verify
sqlite3 "$BENCHTALLY_BOOK" "UPDATE person SET level = NULL WHERE code = 'LK-03'"
sound

# The observation of record.
deciding() {
  "$BENCHTALLY" sessions --of-record --session larkfield-08 --json |
    python3 -c 'import json, sys; print(*(o["assessor"] + " " + o["mode"] for o in json.load(sys.stdin)))'
}
is "$(deciding)" "AS-1 live" "without a decision the live observation decides"
expect 2 'say which: --assessor AS-1 --mode live, or --assessor AS-4 --mode video' "$BENCHTALLY" decide larkfield-08 --reason x
expect 2 'needs its reason' "$BENCHTALLY" decide larkfield-08 --mode video
expect 2 'needs its reason' "$BENCHTALLY" decide larkfield-08 --mode video --reason "  "
expect 2 'expected live, video or self' "$BENCHTALLY" decide larkfield-08 --mode vidoe --reason x
expect 2 'no session "larkfield-99"' "$BENCHTALLY" decide larkfield-99 --reason x
expect 2 'own, which never decides' "$BENCHTALLY" decide larkfield-09 --mode self --reason x
is "$(notes record_named)" 0 "notes on the chain after refusals"
expect 0 'AS-4 \(video\) decides: Undecided, 89.3 %' "$BENCHTALLY" decide larkfield-08 --mode video --by DIR-1 \
  --reason 'the live view was "blocked"'
is "$(deciding)" "AS-4 video" "after the decision"
is "$(sqlite3 "$BENCHTALLY_BOOK" "SELECT body ->> 'by', body ->> 'reason' FROM book_entry WHERE kind = 'record_named'")" \
  'DIR-1|the live view was "blocked"' "who decided, and why"
sound
expect 0 'larkfield-08 .*95.8  \*$' "$BENCHTALLY" sessions --session larkfield-08
expect 0 'does not decide' "$BENCHTALLY" sessions --session larkfield-08
expect 0 'AS-1 \(live\) decides' "$BENCHTALLY" decide larkfield-08 --assessor AS-1 --reason "seen again"
is "$(deciding)" "AS-1 live" "after the second decision"
sound

# Lists that fit: 80 columns lose what is least needed, and say so; a file or a pipe gets every column.
on_terminal() { script -qec "stty cols $1; $2" /dev/null </dev/null | tr -d '\r' >"$WORK/terminal.txt"; }
on_terminal 80 "$BENCHTALLY sessions"
grep -q 'Left out to fit: events, attempt' "$WORK/terminal.txt" || complain "a narrow list does not say what it leaves out"
awk 'length($0) > 84 { print; found = 1 } END { exit found }' "$WORK/terminal.txt" || complain "lines wider than the terminal"
on_terminal 80 "$BENCHTALLY sessions --wide"
grep -q 'attempt.*events' "$WORK/terminal.txt" || complain "--wide leaves columns out"
on_terminal 200 "$BENCHTALLY sessions"
grep -q 'attempt.*events' "$WORK/terminal.txt" || complain "a wide terminal loses columns"
expect 0 'attempt.*events' "$BENCHTALLY" sessions
! "$BENCHTALLY" sessions | grep -q ' $' || complain "lines end in blanks"
finish
