#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# Recording with clumsy hands: wrong keys in every state, a window of any size, a rubric larger than the screen, pasted text,
# wide letters, no colour. Nothing may be logged that was not meant, and everything must stay in reach.
set -u
command -v tmux >/dev/null || { echo "skipped: tmux is not installed"; exit 77; }
. "$SOURCE_DIR/tests/support/cli.sh"
. "$SOURCE_DIR/tests/support/terminal.sh"
trap terminal_end EXIT
export LC_ALL=C.UTF-8
# 16 kinds of work, one without a key; 15 sites; a detail of 70 words; 35 checkpoints; 12 kinds of errors.
python3 - >large.yaml <<'PY'
print("""benchtally: 1
rubric: large
edition: 1
title: A bench so large that its title says all that one could ever wish to know of it, and then some more
cautions: [A test. No surgery is taught here.]
sites:""")
for i in range(15): print(f"  site-{i}: Site number {i}")
print("actions:")
for i in range(16):
    key = f", key: {'qwertyuiopasdfg'[i]}" if i < 15 else ""
    extra = ", sites: [" + ", ".join(f"site-{s}" for s in range(15)) + "]" if i == 1 else ""
    words = ", details: {word: {title: Word, one_of: [" + ", ".join(f"w{w:02}" for w in range(70)) + "], always: true}}" if i == 2 else ""
    print(f"  work-{i}: {{title: Work of kind {i}{key}{extra}{words}}}")
print("phases:\n  - id: all\n    title: All of it\n    target: 10 min\n    checkpoints:")
for i in range(35):
    match = f"{{action: work-1, site: site-{i}}}" if i < 15 else f"{{action: work-2, details: {{word: w{i:02}}}}}"
    print(f"      - {{id: check-{i}, title: Checkpoint number {i}, match: {match}, points: 1}}")
print("order:\n  - {id: first-things, first: check-0, then: check-1, lose: 1, why: The first comes first.}")
print("injects:\n  - {id: variant, title: A fracture of another kind, drops: [check-34]}")
print("errors:")
for i in range(12): print(f"  - {{id: error-{i}, title: Error number {i}, severity: minor, lose: 1" + (", key: '1'}" if i == 11 else "}"))
print("score:\n  technique_points: 4\n  weights: {steps: 60, order: 20, technique: 20}\n  pass: 60")
PY
"$BENCHTALLY" rubric add large.yaml >/dev/null || complain "the large rubric has faults: $("$BENCHTALLY" rubric check large.yaml 2>&1 | head -5)"
"$BENCHTALLY" person add T-1 --role trainee >/dev/null
"$BENCHTALLY" person add A-1 --role assessor >/dev/null

logged() {
  "$BENCHTALLY" log "$1" --json | grep -o '"event"' | wc -l
}
times() { # times N KEY
  local i
  for ((i = 0; i < $1; i++)); do printf '%s\n' "$2"; done
}

terminal_run "$BENCHTALLY" record S-1 --trainee T-1 --assessor A-1 --rubric large
wait_for 'read and heeded' || finish
# Before the start: work is refused with words, a variant is taken; no key does harm.
type_for 'not started' Enter
type_for 'clock has not started' q
type_for 'clock has not started' F
type_for 'clock has not started' M
type_for 'nothing to undo' U
type_for 'Nothing is logged yet' X
type_for 'before the start: a variant' I
type_for 'Logged #1 .*complication: A fracture of another kind' 1
type_for 'Logged #2' Space
# Every key of the keyboard on the main screen, each left with Esc. Only work without a question may be logged by it.
for key in Up Down PPage NPage F1 F12 Home Left '~' ';' '[' 'é' Tab BSpace IC DC M-x C-a C-u C-w; do keys "$key"; done
wait_for 'Logged: 2' || complain "a key that means nothing logged something"
for key in w e W E I N T B R D A X F M C '?'; do keys "$key" Escape; done
type_for 'no redo' Escape
[ "$(logged S-1)" -eq 2 ] || complain "a question left with Esc logged something"
type_for 'Only the usual' D
# The 16th kind of work has a key of its own, and stands in the list of all work.
wait_for 'and [0-9]+ more \(W: all work\)' || complain "work that does not fit is not told"
type_for 'Logged #3 .*Work of kind 15' 1
type_for 'Which work' W
type_for 'Logged #4 .*Work of kind 15' Up Enter
# 15 sites by key and by arrow; 70 words, of which 61 have a key.
type_for 'Work of kind 1: where' w
type_for 'Logged #5 .*Site number 14' f
wait_for 'Work of kind 1, Site' || complain "no site"
type_for 'Enter: Site number 14' w
type_for 'Logged #6 .*Site number 1' Down Down Enter
wait_for 'Checkpoint number 0 comes first in the rubric' || complain "an order that was broken is not told"
type_for 'Word \(Enter' e
wait_for '1 to .* of 70' || complain "a long list does not say that it goes on"
type_for 'Logged #7 .*Word w69' Up Enter
wait_for 'asks for nothing like it' || complain "unplanned work is not told"
type_for 'Word \(Enter' e
# shellcheck disable=SC2046 # a list of keys
type_for 'Logged #8 .*Word w40' $(times 4 NPage) Down Enter
# An error kind whose own key another kind would have had by turn: both can be reached.
type_for 'Which error' E
type_for 'Logged #9 error|Logged #9 .*error: Error number 11' 1
type_for 'Which error' E
type_for 'Logged #10 .*error: Error number 0' Down Enter
type_for 'Every detail' D
type_for 'Which error' E
type_for 'Where did it happen' 2
type_for 'Logged #11 .*error: Error number [01], Site number 3' 4
type_for 'Only the usual' D
# All 35 checkpoints can be said not to have been seen.
type_for 'What could not be seen' N
type_for 'Logged #12 .*not seen: Checkpoint number 34' Up Up Enter
# What is expected scrolls to its end and back.
# shellcheck disable=SC2046
type_for 'Checkpoint number 33' $(times 6 NPage)
# shellcheck disable=SC2046
type_for ' 0 of 1  Checkpoint number 0' $(times 6 PPage)

# Windows of other sizes: too small ones say so and still take keys.
for size in 20x5 79x24 80x23 200x60 80x24; do
  terminal resize-window -t bench -x "${size%x*}" -y "${size#*x}"
  sleep 0.3
  case $size in
  20x5) wait_for 'needs 80 x 24' 20 || complain "a window of 20 x 5 does not say so" ;;
  79x24 | 80x23) wait_for 'too small' 20 && type_for 'Logged #1[34] .*note: small' T s m a l l Enter ;;
  *) wait_for 'Still expected' 20 || complain "a window of $size shows nothing" ;;
  esac
done

# Wide letters and a long note: the end typed stays in sight; pasted text is a note, and no command.
type_for 'Note' T
type_for '指を離す_' 指 を 離 す
type_for '指を離_' BSpace
type_for 'Logged #15 .*note: 指を離' Enter
python3 -c 'print("Paste Q\nUXC" + "x" * 600 + "end", end="")' >paste.txt
terminal load-buffer paste.txt
type_for 'Note' T
terminal paste-buffer -p -t bench
wait_for 'room for 500 characters' || complain "a long paste is not told to be cut"
type_for '#16 .*note: Paste Q UXCxxx' Enter
terminal paste-buffer -p -t bench
wait_for 'Pasted text is taken only' || complain "pasted text was taken for commands"
[ "$(logged S-1)" -eq 16 ] || complain "S-1 has $(logged S-1) events, not 16"
length=$("$BENCHTALLY" log S-1 --json | python3 -c 'import json, sys; print(max(len(r["note"] or "") for r in json.load(sys.stdin)))')
[ "$length" -eq 500 ] || complain "the pasted note has $length characters, not 500"

# A key held down does not undo the whole log.
keys U U U U U U
wait_for 'Undo this too.* #15' || complain "the second undo does not ask"
[ "$(logged S-1)" -eq 15 ] || complain "a held key undid $((16 - $(logged S-1))) entries"
type_for 'Logged: 15' n
type_for 'is no number' A - - Enter
type_for 'no event #9999' BSpace BSpace 9 9 9 9 Enter
type_for 'Left' Escape
type_for 'goes on with it' Q

# Without colour: bold only.
terminal respawn-window -k -t bench "exec env NO_COLOR=1 $(printf '%q ' "$BENCHTALLY" record S-1)"
wait_for 'Go on with it'
type_for 'Still expected' y Enter
terminal capture-pane -p -e -t bench | grep -qP '\x1b\[[0-9;]*3[0-7]' && complain "NO_COLOR is not heeded"
type_for 'goes on with it' Q

# What the trainee records of themselves needs the trainee as assessor.
terminal respawn-window -k -t bench "exec $(printf '%q ' "$BENCHTALLY" record S-5 --trainee T-1 --assessor A-1 --rubric large --mode self)"
wait_for 'read and heeded' && keys Enter
wait_for 'in mode self' || complain "self by another is taken"
[ "$("$BENCHTALLY" sessions | grep -c S-5)" -eq 0 ] || complain "a session by another was recorded as the trainee's own"
expect 0 'every record holds' "$BENCHTALLY" verify
finish
