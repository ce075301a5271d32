#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# curve: on tables worked by hand and of a published example, in its words and its errors, and on books made by importing.
set -u
. "$SOURCE_DIR/tests/support/cli.sh"
curve() { "$BENCHTALLY" curve "$@"; }

# The value at a path of the last --json output.
value() { jq -r "$1" "$WORK/out"; }
is() { [ "$1" = "$2" ] || complain "$3: \"$1\", expected \"$2\""; }
# near VALUE EXPECTED TOLERANCE WHAT
near() {
  awk -v a="$1" -v b="$2" -v t="$3" 'BEGIN { exit !(a != "null" && a - b <= t && b - a <= t) }' ||
    complain "$4: $1, expected $2 within $3"
}

# A curve without noise: from 40 towards 80, half of the way with each attempt.
printf 'trainee,attempt,value\n' >half.csv
printf 'T-1,%s\n' 1,40 2,60 3,70 4,75 5,77.5 6,78.75 >>half.csv
expect 0 "" curve --table half.csv --json
exponential='.[0].trainees[0].curve.forms[] | select(.form == "exponential")'
near "$(value "$exponential | .start.value")" 40 1e-7 "start"
near "$(value "$exponential | .rate.value")" 0.69314718056 1e-8 "rate"
near "$(value "$exponential | .plateau.value")" 80 1e-7 "plateau"
is "$(value '.[0].trainees[0].curve.preferred')" exponential "the preferred form"
is "$(value '.[0].trainees[0].standard')" null "a standard without decisions"
is "$(value '.[0].cohort.why')" "there is only one group" "a cohort of one"
expect 0 'Preferred: exponential, which goes through every point' curve T-1 --table half.csv
expect 0 'Half of what is still to come comes in 1.0 attempts' curve T-1 --table half.csv
expect 0 'which attempts passed is not known' curve T-1 --table half.csv
expect 0 'nothing to judge its error by' curve T-1 --table half.csv

# A power curve in seconds: each doubling leaves 80 % (Wright 1936), down to 600 s.
{
  printf 'trainee,attempt,value\n'
  awk 'BEGIN { for (k = 1; k <= 7; k++) printf "T-1,%d,%.12f\n", k, 600 + 900 * exp(log(0.8) / log(2) * log(k)) }'
} >wright.csv
expect 0 'Each doubling of the attempts leaves 80 % of what is to come' curve T-1 --table wright.csv --value time
expect 0 'Of the table: time, mark 20:00' curve --table wright.csv --value time --standard 20:00
# What is left out to fit is told with the option that shows it, and a gain beside times in minutes has its unit.
awk 'BEGIN { print "trainee,attempt,value"; for (t = 1; t <= 4; t++) for (k = 1; k <= 6; k++)
  printf "T-%d,%d,%.3f\n", t, k, 1200 + 60 * t - (90 + 10 * t) * log(k) / log(2) + (k * t * 7 % 5) }' >times.csv
expect 0 'gain, s per doubling' curve --table times.csv --value time --standard 17:00
expect 0 'Left out to fit: first.*; --wide shows them' curve --table times.csv --value time --standard 17:00
awk 'length($0) > 80 { exit 1 }' "$WORK/out" || complain "a line of times is wider than 80"
expect 0 '^trainee +attempts +first +last +start +gain, s per doubling' curve --table times.csv --value time --standard 17:00 --wide
! grep -q 'Left out' "$WORK/out" || complain "--wide leaves columns out"
expect 2 '--edition 0: expected a number from 1 up' curve --edition 0
expect 0 '^ *4  19:36  pass ' curve T-1 --table wright.csv --value time --standard 20:00

# The learning curve's sum (Biau and Porcher 2010), with 0.10 and 0.25: a pass adds 0.182321556793955, a "not yet" takes
# 0.916290731874155; with the limit 2, of which the chance of error in 50 attempts is 0.456, it signals at attempt 22.
{
  echo trainee,attempt,value,passed
  n=0
  for failed in 1 0 1 0 0 1 0 0 0 0 1 0 0 0 0 0 0 0 0 0 0 0 0 0; do
    n=$((n + 1))
    echo "LC,$n,,$((1 - failed))"
  done
} >lc.csv
biau=(--table lc.csv --p0 0.1 --p1 0.25 --within 50 --error 0.457)
expect 0 'LC: standard reached at attempt 22\.' curve LC "${biau[@]}"
expect 0 "" curve LC "${biau[@]}" --json
near "$(value '.[0].charts.lc_cusum.on_pass')" 0.182321556793955 1e-14 "what a pass adds"
near "$(value '.[0].charts.lc_cusum.on_not_yet')" -0.916290731874155 1e-14 "what a \"not yet\" takes"
near "$(value '.[0].trainees[0].attempts[15].sum')" 0.911607783969773 1e-13 "the sum after attempt 16"
near "$(value '.[0].trainees[0].attempts[21].sum')" 2.0055371247335 1e-12 "the sum after attempt 22"
is "$(value '.[0].trainees[0].attempts[22].chart')" cusum "the chart once the standard is shown"
head -22 lc.csv >shorter.csv
expect 0 'LC: not yet shown: one more pass would show it\.' curve LC --table shorter.csv "${biau[@]:2}"
head -13 lc.csv >start.csv # after attempt 12 the sum is 0.18: ten passes to go to 1.83 .. 2.00
expect 0 'LC: not yet shown: (9|10) more passes in a row would show it\.' curve LC --table start.csv "${biau[@]:2}"

# There and away again, with the usual figures: eight passes show it, three "not yet" in a row are a signal.
row() { for outcome in $2; do n=$((n + 1)); echo "$1,$n,,$outcome"; done; }
{
  echo trainee,attempt,value,passed
  n=0; row LK-1 "no yes yes yes yes yes yes yes yes"
  n=0; row LK-2 "yes yes yes yes yes yes yes yes yes no no no"
  n=0; row LK-3 "yes yes yes yes yes yes yes yes yes no no no yes yes"
  n=0; row LK-4 "yes undecided yes"
  n=0; row LK-5 "undecided"
} >ways.csv
expect 0 'LK-1: standard reached at attempt 9\.' curve LK-1 --table ways.csv
expect 0 'LK-2: signal: look at the last three\.' curve LK-2 --table ways.csv
expect 0 'LK-3: signal at attempt 12: look at attempts 10 to 12; 6 more passes' curve LK-3 --table ways.csv
expect 0 'LK-4: not yet shown: 6 more passes in a row would show it' curve LK-4 --table ways.csv
expect 0 'LK-5: not told: no attempt was decided' curve LK-5 --table ways.csv
expect 0 '1 of 5 trainees at standard; not yet shown by 2; signal for 2 who had shown it' curve --table ways.csv
expect 0 'LK-1.*LK-2|LK-2: signal' curve LK-1 LK-2 --table ways.csv
expect 0 "" curve --table ways.csv --json
is "$(value '[.[0].trainees[].standard.passes_needed] | join(" ")')" "0 8 6 6 8" "passes needed"
is "$(value '.[0].trainees[2].standard | [.reached, .signal, .signal_from] | join(" ")')" "8 12 10" "LK-3's way"

# What is too little says so, and what stands instead.
printf 'trainee,attempt,value\nT-1,2,50\nT-1,3,55\nT-1,4,61\nT-2,1,70\n' >few.csv
expect 0 'the three figures of a curve take five' curve T-1 --table few.csv
expect 0 'change, \+5.5 % an attempt' curve T-1 --table few.csv
expect 0 '1 attempt before the latest is not in this curve' curve T-1 --table few.csv
expect 0 '1 attempt with a value' curve T-2 --table few.csv
expect 0 'Too few attempts a trainee for a gain' curve --table few.csv
expect 0 'Which attempts passed is not known' curve --table few.csv
printf 'trainee,attempt,value\n%s' "$(printf 'T-1,%d,70\n' 1 2 3 4 5 6)" >flat.csv
expect 0 'Not estimable: all values are the same' curve T-1 --table flat.csv
printf 'trainee,attempt,value\nT-1,1,30\nT-1,2,31\nT-1,3,33\nT-1,4,37\nT-1,5,45\nT-1,6,61\n' >bent.csv
expect 0 'no plateau is' curve T-1 --table bent.csv
printf 'exercise,trainee,attempt,value\nplate,T-1,1,50\nnail,T-1,1,60\nplate,T-1,2,55\n' >two.csv
expect 0 "" curve --table two.csv --json
is "$(value '[.[] | .exercise, (.trainees[0].attempts | length)] | join(" ")')" "plate 2 nail 1" "two exercises"

# Requests that are wrong.
expect 2 'percent or time is expected' curve --table few.csv --value speed
expect 2 'a percentage from 0 to 100' curve --table few.csv --standard 170
expect 2 'a time is expected' curve --table few.csv --value time --standard soon
expect 2 'share above 0 and below 1' curve --table few.csv --p0 0
expect 2 'not below --p1' curve --table few.csv --p0 0.5 --p1 0.1
expect 2 '1 to 200 attempts' curve --table few.csv --within 201
expect 2 'T-9: no attempt by a trainee' curve T-9 --table few.csv
expect 2 'name what the book holds' curve --table few.csv --rubric arch-bars
expect 2 'one of them says' curve --value time --checkpoint x
expect 2 'none.csv' curve --table none.csv
printf 'trainee,attempt,value\nT-1,0,50\n' >zero.csv
expect 2 'zero.csv:2.*whole number from 1' curve --table zero.csv
printf 'trainee,attempt,value\nT-1,1,50\nT-1,1,60\n' >twice.csv
expect 2 'twice.csv:3.*attempt 1 of T-1 is there twice' curve --table twice.csv
printf 'trainee,attempt,value\nT-1,1,350\n' >seconds.csv
expect 2 'for times give --value time' curve --table seconds.csv
printf 'trainee,attempt,value,passed\nT-1,1,50,perhaps\n' >perhaps.csv
expect 2 'perhaps.csv:2.*yes or no is expected' curve --table perhaps.csv
printf 'trainee,value\nT-1,50\n' >short.csv
expect 2 'attempt' curve --table short.csv

# On the book.
expect 2 '' curve # there is none yet
"$BENCHTALLY" rubric add "$SOURCE_DIR"/rubrics/*.yaml >/dev/null
expect 2 'name one with --rubric' curve
expect 0 'No attempt is on record' curve --rubric arch-bars

# On a larger book, made by the simulator, whose truth is known.
"$BUILD_DIR/tests/simulate_tool" "$WORK" --seed 4 --trainees 40 --attempts-most 9 "$SOURCE_DIR/rubrics/arch-bars.yaml" >/dev/null
export BENCHTALLY_BOOK=$WORK/larger.db
"$BENCHTALLY" rubric add "$SOURCE_DIR/rubrics/arch-bars.yaml" >/dev/null
"$BENCHTALLY" person add --from people.csv >/dev/null
"$BENCHTALLY" import arch-bars.csv >/dev/null
expect 0 'of 40 trainees at standard' curve
curve >text
curve R-001 R-002 --value time >>text
awk 'length > 80 { print "wider than 80 columns: " $0; bad = 1 } /fail|!/ { print "not in our words: " $0; bad = 1 } END { exit bad }' text ||
  complain "the text of the curves"
expect 0 'checkpoint [a-z-]+, percent done' curve --checkpoint "$(awk '/checkpoints:/ { getline; print $3; exit }' "$SOURCE_DIR/rubrics/arch-bars.yaml")"
expect 2 'has no such checkpoint' curve --checkpoint nothing-like-it
expect 2 'no edition 7' curve --edition 7
expect 0 "" curve --json
# Each trainee's start, with the cohort's strength, goes with the skill they truly began with.
jq -r --slurpfile truth truth.json '.[0].trainees[] | select(.with_cohort) | .trainee as $t |
  [.with_cohort.start.value, ($truth[0].curves[] | select(.trainee == $t) | .start)] | @tsv' out |
  awk '{ n++; x += $1; y += $2; xx += $1 * $1; yy += $2 * $2; xy += $1 * $2 }
    END { r = (xy - x * y / n) / sqrt((xx - x * x / n) * (yy - y * y / n)); print r; exit !(n >= 30 && r > 0.7) }' >r ||
  complain "starts found and true starts correlate by $(cat r)"
# The same attempts as a table give the same curves.
cp out book.json
jq -r '["trainee", "attempt", "value", "passed"], (.[0].trainees[] | .trainee as $t | .attempts[] |
  [$t, .attempt, .value, (if .passed == null then "" elif .passed then "yes" else "no" end)]) | @csv' book.json >table.csv
expect 0 "" curve --table table.csv --json
is "$(value '[.[0].trainees[] | .standard.words, .with_cohort.start.value] | tostring')" \
  "$(jq -r '[.[0].trainees[] | .standard.words, .with_cohort.start.value] | tostring' book.json)" "the table and the book"
# A mark of one's own decides for itself.
expect 0 "" curve --standard 100 --json
is "$(value '[.[0].trainees[].standard.at_standard] | any')" false "nobody has 100 % time and again"
expect 0 "no certificate of clinical competence" curve

# Another edition is another measure: a curve holds one, and says what it leaves out.
sed 's/^edition: 1/edition: 2/' "$SOURCE_DIR/rubrics/arch-bars.yaml" >arch-bars-2.yaml
"$BENCHTALLY" rubric add arch-bars-2.yaml >/dev/null
python3 - <<'PY'
import csv
rows = list(csv.DictReader(open("arch-bars.csv", encoding="utf-8-sig")))
first = [row for row in rows if row["session"] == rows[0]["session"]]
with open("second.csv", "w", newline="") as file:
    out = csv.DictWriter(file, fieldnames=rows[0].keys())
    out.writeheader()
    for row in first:
        out.writerow({**row, "session": "of-edition-two", "edition": "2", "started": "2027-06-01T09:00:00Z"})
PY
made=$(jq --arg t "$(awk -F, 'NR == 2 { print $2 }' arch-bars.csv)" '[.[0].trainees[] | select(.trainee == $t)][0].attempts_made' book.json)
expect 0 "" "$BENCHTALLY" import second.csv
expect 0 'Arch bars and wires edition 2' curve --edition 2
expect 0 "$made attempts? before the latest (is|are) not in this curve" curve "$(awk -F, 'NR == 2 { print $2 }' arch-bars.csv)" --edition 2
expect 0 "" curve --json # the latest edition
is "$(value '.[0] | .edition, (.trainees | length), .trainees[0].attempts[0].attempt' | xargs)" "2 1 $((made + 1))" "the second edition alone"
finish
