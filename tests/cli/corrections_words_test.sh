#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# Corrections in odd orders, as a person types them: each is told, each that makes no sense is refused with what to do, and
# after each the book verifies, gives its workbook and scores as the log that remains.
set -u
. "$SOURCE_DIR/tests/support/cli.sh"
export BENCHTALLY_BOOK=$WORK/book.db
"$BENCHTALLY" rubric add "$SOURCE_DIR"/rubrics/*.yaml >/dev/null
"$BENCHTALLY" person add --from "$SOURCE_DIR/sample_sessions/people.csv" >/dev/null
"$BENCHTALLY" import "$SOURCE_DIR"/sample_sessions/*-*.csv >/dev/null

# The book scores every sample as its file alone does.
for file in "$SOURCE_DIR"/sample_sessions/*-*.csv; do
  rubric=$(sed -n 2p "$file" | cut -d, -f4)
  for session in $(tail -n +2 "$file" | cut -d, -f1 | sort -u); do
    "$BENCHTALLY" score "$session" --json
  done | python3 -c 'import json, sys; text = sys.stdin.read().replace("]\n[", ","); json.dump(sorted(json.loads(text), key=str), sys.stdout)' >from-book
  "$BENCHTALLY" score --rubric "$SOURCE_DIR/rubrics/$rubric.yaml" --events "$file" --json |
    python3 -c 'import json, sys; json.dump(sorted(json.load(sys.stdin), key=str), sys.stdout)' >from-file
  [ -s from-book ] && cmp -s from-book from-file || complain "the book scores $file in another way than the file alone"
done

session=larkfield-01
# done_so STATUS WORDS COMMAND...: as expect, and the book holds and gives its workbook.
done_so() {
  expect "$@"
  expect 0 'every record holds' "$BENCHTALLY" verify
  expect 0 'LK-04.xlsx' "$BENCHTALLY" workbook LK-04 --out "$WORK"
  expect 0 "Session $session" "$BENCHTALLY" score $session
}
# refused WORDS COMMAND...: status 2, and nothing of the book has changed.
refused() {
  local before after
  before=$(dump book.db)
  expect 2 "$@"
  after=$(dump book.db)
  [ "$before" = "$after" ] || complain "a refused correction changed the book: ${*:2}"
}

done_so 0 'Event 9 of session larkfield-01 is struck; .*' "$BENCHTALLY" strike $session 9 --reason $'a "quote",\na second line and \xf0\x9f\xa6\xb4'
refused 'struck already' "$BENCHTALLY" strike $session 9 --reason again
refused 'no event 9 in its effective log' "$BENCHTALLY" amend $session 9 --time 3:00 --reason x
expect 0 'struck  +9 .*reason: a "quote", a second line and' "$BENCHTALLY" log $session --all
done_so 0 'Event 10 .* is amended' "$BENCHTALLY" amend $session 10 --time 13:30 --reason "misread the clock"
done_so 0 'Event 10 .* is struck' "$BENCHTALLY" strike $session 10 --reason "seen twice"
refused 'no event 10' "$BENCHTALLY" amend $session 10 --time 13:00 --reason x
done_so 0 'is amended' "$BENCHTALLY" amend $session 38 --detail length=12 --detail use= --reason "read the gauge again"
expect 0 '38 +34:42 +screw +ulna-shaft +hole 1, length 12 mm$' "$BENCHTALLY" log $session
done_so 0 'The result is now: Undecided' "$BENCHTALLY" amend $session 40 --action note --note "left the room" --reason "never finished"
done_so 0 'The result is now: Undecided' "$BENCHTALLY" strike $session 1 --reason "the clock was not seen to start"

refused 'nothing to change' "$BENCHTALLY" amend $session 5 --reason x
refused 'needs its reason' "$BENCHTALLY" amend $session 5 --time 3:00
refused 'needs its reason' "$BENCHTALLY" strike $session 5 --reason " "
refused '"99:99" is no time' "$BENCHTALLY" amend $session 5 --time 99:99 --reason x
refused 'unknown action "cut"' "$BENCHTALLY" amend $session 5 --action cut --reason x
refused 'unknown site "nowhere"' "$BENCHTALLY" amend $session 5 --site nowhere --reason x
refused 'has no detail "weight"; expected over' "$BENCHTALLY" amend $session 5 --detail weight=3 --reason x
refused 'expected NAME=VALUE' "$BENCHTALLY" amend $session 5 --detail over --reason x
refused '"0" is no event number' "$BENCHTALLY" strike $session 0 --reason x
refused 'no event 999' "$BENCHTALLY" strike $session 999 --reason x
refused 'no session "larkfield"' "$BENCHTALLY" strike larkfield 1 --reason x
refused 'say which' "$BENCHTALLY" strike larkfield-08 1 --reason x

# What a hand types in haste.
refused '"person" is half a command; there are `benchtally person add`' "$BENCHTALLY" person
expect 0 'No such sessions' "$BENCHTALLY" sessions --trainee nobody
expect 0 'LK-01: amended' env LC_ALL=C "$BENCHTALLY" person amend LK-01 --name "Zoë Example"
expect 0 'Zoë Example' env LC_ALL=C "$BENCHTALLY" person list
said=$({ "$BENCHTALLY" score --json 2>&1 >&3 3>&- | cat >said; } 3> >(head -c 10 >/dev/null); cat said)
[ -z "$said" ] || complain "a reader that has read enough is told off: $said"
expect 0 'expected: ' "$BENCHTALLY" score $session --full
finish
