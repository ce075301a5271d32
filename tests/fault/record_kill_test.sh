#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# The recorder killed at random moments while keys come in: nothing that its screen showed as logged is lost, nothing half done
# is kept, the book verifies, and the session is offered again. ROUNDS=200 for a long run, SEED=n for the same choices again.
set -u
command -v tmux >/dev/null || { echo "skipped: tmux is not installed"; exit 77; }
. "$SOURCE_DIR/tests/support/cli.sh"
. "$SOURCE_DIR/tests/support/terminal.sh"
trap terminal_end EXIT
rounds=${ROUNDS:-25}
RANDOM=${SEED:-${SEED:=$RANDOM}}
"$BENCHTALLY" rubric add "$SOURCE_DIR/tests/cli/record/small-bench.yaml" >/dev/null
"$BENCHTALLY" person add T-1 --role trainee >/dev/null
"$BENCHTALLY" person add A-1 --role assessor >/dev/null

# The keys of one entry each; every screw has a hole, a use and a length.
entries=("m" "d 1" "d 2" "s 3 1 1 6 Enter" "s 1 2 2 7 5 Enter" "E p" "T w o r d Enter" "N 1" "I 1" "U n" "R m" "Space Space"
  "X Enter 2" "A Enter n t w o Enter 1")

# What the dead recorder's screen says, against what the book holds now.
compare() {
  python3 - "$1" <<'PY'
import json, re, sys
keep = [line for line in open("screen.txt", encoding="utf-8")]
records = json.load(open("log.json"))
alive = {r["event"] for r in records if r["kind"] in ("logged", "amended") and r["effective"]}
written = {r["event"]: r for r in records if r["kind"] == "logged"}
struck = {r["event"] for r in records if r["kind"] == "struck"}
amended = {r["event"] for r in records if r["kind"] == "amended"}
wrong, claims = [], 0
def seconds(clock):
    total = 0
    for part in clock.split(":"):
        total = total * 60 + float(part)
    return int(total)
for line in keep:
    listed = re.match(r" ?(?:Logged )?#(\d+),? (\d[\d:]*) (\S+)", line)
    if listed:
        claims += 1
        event, clock = int(listed[1]), listed[2]
        if event not in written or seconds(written[event]["time"]) != seconds(clock):
            wrong.append("shown, and not in the book as shown: " + line.strip())
        elif line.startswith(" ") and event not in alive and event not in struck:
            wrong.append("shown as standing: " + line.strip())
    for pattern, known in ((r"Logged #(\d+)", written), (r"Struck #(\d+)", struck), (r"Event #(\d+) is amended", amended)):
        said = re.match(pattern, line)
        if said:
            claims += 1
            if int(said[1]) not in known:
                wrong.append("said, and not in the book: " + line.strip())
if sorted(written) != list(range(1, len(written) + 1)):
    wrong.append(f"the numbers have gaps: {sorted(written)}")
for r in written.values():
    if r["action"] == "screw" and not all(name in (r["details"] or "") for name in ("hole", "use", "length")):
        wrong.append(f"half an entry: {r}")
    if r["action"] == "error" and r["item"] != "plunge" or r["action"] == "note" and not r["note"]:
        wrong.append(f"half an entry: {r}")
print(f"{claims} {len(written)} {len(alive)}")
for text in wrong:
    print(text, file=sys.stderr)
sys.exit(1 if wrong else 0)
PY
}

# Sends a burst, kills within it, and leaves the screen as it was in screen.txt.
burst_and_kill() {
  local pid burst=() i
  for ((i = 0; i < 4 + RANDOM % 12; i++)); do
    # shellcheck disable=SC2206 # each entry is several keys
    burst+=(${entries[RANDOM % ${#entries[@]}]})
  done
  pid=$(terminal display-message -p -t bench '#{pane_pid}')
  terminal send-keys -t bench "${burst[@]}"
  sleep "0.$(printf '%03d' $((RANDOM % 250)))"
  kill -9 "$pid" || complain "round $round: the recorder was gone before it was killed"
  until [ "$(terminal display-message -p -t bench '#{pane_dead}')" = 1 ]; do sleep 0.02; done
  screen >screen.txt
}

record() {
  terminal respawn-window -k -t bench "exec $(printf '%q ' "$BENCHTALLY" record "$@")"
}

claims=0 events=0 standing=0
terminal_run true
for ((round = 0; round < rounds && failures == 0; round++)); do
  session=S-$((round / 8))
  if ((round % 8 == 0)); then
    record "$session" --trainee T-1 --assessor A-1 --rubric small-bench
    wait_for 'read and heeded' && keys Enter && wait_for 'not started' && keys Space && wait_for 'Logged #1' ||
      complain "round $round: a new session does not begin"
  else
    record "$session"
    wait_for "$standing events? logged.*Go on" && keys y Enter && wait_for "Logged: $standing" ||
      complain "round $round: the session is not offered again as it stood"
  fi
  # A kill may have come between two keys of the clock.
  ! screen | grep -qE 'PAUSED|not started' || { keys Space && wait_for 'running'; }
  burst_and_kill
  "$BENCHTALLY" verify >verify.txt 2>&1 || complain "round $round: $(cat verify.txt)"
  "$BENCHTALLY" log "$session" --all --json >log.json || complain "round $round: the log cannot be read"
  counts=$(compare "$session") || { complain "round $round: the screen and the book differ"; cat screen.txt; }
  read -r shown events standing <<<"$counts"
  claims=$((claims + shown))
done
[ "$failures" -eq 0 ] || echo "seed $SEED"
echo "$round kills; the screens made $claims claims"
[ "$claims" -ge "$round" ] || complain "too few claims to have tested anything"
finish
