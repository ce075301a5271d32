#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# Recording in trouble: a full disk, a book that is locked, a second recorder, a terminal that goes away, Ctrl-C and Ctrl-Z.
# Nothing logged is lost, and nothing is said to be logged that is not.
set -u
command -v tmux >/dev/null || { echo "skipped: tmux is not installed"; exit 77; }
command -v prlimit >/dev/null || { echo "skipped: prlimit is not installed"; exit 77; }
. "$SOURCE_DIR/tests/support/cli.sh"
. "$SOURCE_DIR/tests/support/terminal.sh"
trap terminal_end EXIT
"$BENCHTALLY" rubric add "$SOURCE_DIR/tests/cli/record/small-bench.yaml" >/dev/null
"$BENCHTALLY" person add T-1 --role trainee >/dev/null
"$BENCHTALLY" person add T-2 --role trainee >/dev/null
"$BENCHTALLY" person add A-1 --role assessor >/dev/null
new=(--trainee T-1 --assessor A-1 --rubric small-bench)

record() {
  terminal respawn-window -k -t bench "exec $(printf '%q ' "$BENCHTALLY" record "$@")"
}
recorder_pid() {
  terminal display-message -p -t bench '#{pane_pid}'
}
logged() {
  "$BENCHTALLY" log "$1" --json | grep -o '"event"' | wc -l
}
# gone PID: waits for the process to end.
gone() {
  local i
  for ((i = 0; i < 60; i++)); do
    kill -0 "$1" 2>/dev/null || return 0
    sleep 0.1
  done
  return 1
}

# No byte more fits on the disk: the entry waits with its time, through Esc, Ctrl-C and the keys of other entries.
terminal_run true
record S-1 "${new[@]}"
wait_for 'read and heeded'
type_for 'not started' Enter
type_for 'Logged #1' Space
prlimit --pid "$(recorder_pid)" --fsize=1:unlimited
type_for 'NOT LOGGED: ' m
type_for 'still to be logged' Escape
type_for 'still to be logged' C-c
type_for 'Not one of the choices' d t x
type_for 'NOT LOGGED: ' T
[ "$(logged S-1)" -eq 1 ] || complain "a full disk took an entry"
kept=$(screen | grep -oE 'keeps its time, [0-9:]+' | grep -oE '[0-9:]+$')
sleep 1.2
prlimit --pid "$(recorder_pid)" --fsize=unlimited:unlimited
type_for "Logged #2 $kept Marked" T
# Dropped on purpose it is not logged; a resume takes the work that waited for it along.
prlimit --pid "$(recorder_pid)" --fsize=1:unlimited
type_for 'NOT LOGGED: ' m
type_for 'Dropped' X
prlimit --pid "$(recorder_pid)" --fsize=unlimited:unlimited
type_for 'PAUSED' Space
type_for 'clock is paused' m
prlimit --pid "$(recorder_pid)" --fsize=1:unlimited
type_for 'NOT LOGGED: ' r
prlimit --pid "$(recorder_pid)" --fsize=unlimited:unlimited
type_for 'Logged #5 .*Marked' T
[ "$(logged S-1)" -eq 5 ] || complain "S-1 has $(logged S-1) events, not 5"

# A second recorder of the same session is refused, also under another trainee's name.
(sleep 0.3; echo y) | script -qec "$(printf '%q ' "$BENCHTALLY" record S-1)" second.txt >/dev/null
grep -q 'being recorded in another window' second.txt || complain "a second recorder was not refused: $(cat second.txt)"
script -qec "$(printf '%q ' "$BENCHTALLY" record S-1 --trainee T-2 --assessor A-1 --rubric small-bench)" other.txt >/dev/null </dev/null
grep -q 'was begun with T-1' other.txt || complain "a session was offered to another trainee: $(cat other.txt)"

# The book is locked by another program for longer than the recorder waits.
(echo 'BEGIN IMMEDIATE;'; sleep 6.5; echo 'ROLLBACK;') | sqlite3 "$BENCHTALLY_BOOK" &
sleep 0.4
keys m
wait_for 'NOT LOGGED: ' || complain "a locked book was not told"
wait
type_for 'Logged #6 .*Marked' T

# Ctrl-C asks, and the entry begun comes back.
type_for 'Hole 1..12' s
type_for 'Use' 4
type_for 'The entry begun' C-c
type_for 'Use' n
type_for 'Length' 1
type_for 'Leave' C-c
type_for 'Length' Escape
type_for 'Logged #7 .*Hole 4, Use neutral, Length 16 mm' 1 6 Enter
type_for 'Leave' C-c
type_for 'goes on with it' y

# The terminal goes away, with and without the signal that says so.
record S-1
wait_for '7 events logged.*Go on' || complain "the session is not offered again"
type_for 'Logged: 7' y Enter
pid=$(recorder_pid)
type_for 'Logged #8' m
terminal kill-session -t bench
gone "$pid" || complain "the recorder outlives its terminal"
terminal new-session -d -s bench -x 80 -y 24 "trap '' HUP; exec $(printf '%q ' "$BENCHTALLY" record S-1)" \; \
  set-option -g remain-on-exit on
wait_for '8 events logged.*Go on' || complain "a terminal that went away lost something"
type_for 'Logged: 8' y Enter
pid=$(recorder_pid)
terminal kill-session -t bench
gone "$pid" || { complain "the recorder asks a terminal that is gone for ever"; kill -9 "$pid"; }

# Suspended and resumed: the session's clock went on.
terminal_run bash --norc
keys "$(printf '%q ' "$BENCHTALLY" record S-2 "${new[@]}")" Enter
wait_for 'read and heeded'
type_for 'not started' Enter
type_for 'Logged #1' Space
type_for 'Stopped' C-z
sleep 2
keys fg Enter
wait_for 'running 0:0[2-9]' || complain "the clock stood still while suspended"
type_for 'Logged #2 0:0[2-9] Marked' m
type_for 'Leave' C-c
type_for 'goes on with it' y

# The machine's clock is set back, then far on, between two runs: the session's clock never falls behind its last entry, and
# what comes after a day is still kept.
cat >shift.c <<'C'
#include <stdlib.h>
#include <sys/syscall.h>
#include <sys/time.h>
#include <time.h>
#include <unistd.h>
int clock_gettime(clockid_t clock, struct timespec *now) {
  int answer = (int)syscall(SYS_clock_gettime, clock, now);
  const char *shift_s = getenv("SHIFT_S");
  if (clock == CLOCK_REALTIME && shift_s)
    now->tv_sec += atol(shift_s);
  return answer;
}
int gettimeofday(struct timeval *restrict now, void *restrict zone) {
  struct timespec precise;
  (void)zone;
  int answer = clock_gettime(CLOCK_REALTIME, &precise);
  now->tv_sec = precise.tv_sec;
  now->tv_usec = precise.tv_nsec / 1000;
  return answer;
}
C
shifted() { # shifted SECONDS ARGUMENT...
  terminal respawn-window -k -t bench "exec env SHIFT_S=$1 LD_PRELOAD=$PWD/shift.so $(printf '%q ' "$BENCHTALLY" record "${@:2}")"
}
if cc -D_GNU_SOURCE -shared -fPIC -o shift.so shift.c 2>/dev/null && LD_PRELOAD=$PWD/shift.so "$BENCHTALLY" --version >/dev/null 2>&1; then
  shifted -3600 S-2
  wait_for 'the last at 0:0[2-9]; its clock stands at 0:0[2-9]' || complain "a clock set back is not held at the last entry"
  type_for 'Logged: 2' y Enter
  type_for 'Logged #3 0:[0-5][0-9] Marked' m
  type_for 'Leave' C-c
  type_for 'goes on with it' y
  shifted 3600 S-2
  wait_for 'its clock stands at 1:0' || complain "the clock did not go on while the recorder was away"
  type_for 'Left as it is' n Enter
  shifted 180000 S-2
  wait_for 'its clock stands at 24:00:00' || complain "the clock goes beyond what a log can hold"
  type_for 'Logged: 3' y Enter
  type_for 'Logged #4 24:00:00 Marked' m
  type_for 'Leave' C-c
  type_for 'goes on with it' y
else
  echo "not tested: a machine's clock that is set (no compiler, or a sanitizer)"
fi
expect 0 'every record holds' "$BENCHTALLY" verify
finish
