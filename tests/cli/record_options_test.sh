#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# What `record` is asked for: a slip in the session's code, trainee, rubric or mode never spoils a record.
set -u
command -v script >/dev/null || { echo "skipped: script is not installed"; exit 77; }
. "$SOURCE_DIR/tests/support/cli.sh"
small_book

# asked WORDS ARGUMENT...: what record says, in a terminal without keys, and that it takes nothing.
asked() {
  local words=$1 before
  before=$("$BENCHTALLY" sessions --json)
  shift
  script -qec "$(printf '%q ' "$BENCHTALLY" record "$@")" said.txt >/dev/null </dev/null
  grep -qE -- "$words" said.txt || complain "record $*: no \"$words\" in what it says: $(cat said.txt)"
  [ "$("$BENCHTALLY" sessions --json)" = "$before" ] || complain "record $* changed the book"
}

cat >closed.csv <<'CSV'
session,trainee,assessor,rubric,edition,started,mode,time,action
S-1,T-1,A-1,arch-bars,1,2026-03-04T09:00:00Z,live,0:00,start
S-1,T-1,A-1,arch-bars,1,2026-03-04T09:00:00Z,live,5:00,finish
CSV
expect 0 '' "$BENCHTALLY" import closed.csv
expect 2 'needs a terminal' "$BENCHTALLY" record S-9 --trainee T-1 --assessor A-1 --rubric arch-bars
asked 'so --trainee CODE is needed' S-9
asked 'so --assessor CODE is needed' S-9 --trainee T-1
asked 'so --rubric ID is needed' S-9 --trainee T-1 --assessor A-1
asked 'no rubric "arch-bar" in the book' S-9 --trainee T-1 --assessor A-1 --rubric arch-bar
asked 'no rubric "arch-bars" of that edition' S-9 --trainee T-1 --assessor A-1 --rubric arch-bars --edition 7
asked 'is no session code' 'S 9' --trainee T-1 --assessor A-1 --rubric arch-bars
asked 'expected live, video or self' S-9 --trainee T-1 --assessor A-1 --rubric arch-bars --mode alive
asked 'is closed by "A-1"' S-1
asked 'is closed by "A-1"' S-1 --trainee T-1 --assessor A-1 --rubric arch-bars
finish
