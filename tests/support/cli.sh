# SPDX-License-Identifier: GPL-3.0-or-later
# For shell tests of the command: a small book, and what a call must give. Source it; end with `finish`.
export BENCHTALLY_BOOK=$WORK/book.db
failures=0

complain() {
  echo "$1"
  failures=$((failures + 1))
}

# expect STATUS WORDS COMMAND...: the exit status, and words (an extended regular expression) that standard output or error
# must hold.
expect() {
  local status=$1 words=$2 got=0
  shift 2
  "$@" >"$WORK/out" 2>"$WORK/err" || got=$?
  [ "$got" -eq "$status" ] || complain "exit status $got, expected $status: $* ($(head -c 300 "$WORK/err"))"
  [ -z "$words" ] || cat "$WORK/out" "$WORK/err" | grep -qE -- "$words" ||
    complain "no \"$words\" in what this says: $* (it says: $(cat "$WORK/out" "$WORK/err" | head -c 400))"
}

# A book with two rubrics, two trainees, two assessors and one session.
small_book() {
  "$BENCHTALLY" rubric add "$SOURCE_DIR/rubrics/arch-bars.yaml" "$SOURCE_DIR/rubrics/forearm-two-bones.yaml" >/dev/null
  "$BENCHTALLY" person add T-1 --role trainee --name "Tess Trial" --level "year 1" >/dev/null
  "$BENCHTALLY" person add T-2 --role trainee >/dev/null
  "$BENCHTALLY" person add A-1 --role assessor >/dev/null
  "$BENCHTALLY" person add A-2 --role assessor >/dev/null
}

# What the book holds, as text: two books with the same dump hold the same.
dump() {
  sqlite3 "$1" .dump | sha256sum
}

finish() {
  [ "$failures" -eq 0 ] || { echo "$failures complaints"; exit 1; }
}
