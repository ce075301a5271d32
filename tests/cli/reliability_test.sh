#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# reliability: on tables of published examples, in its words and its errors, and on books made by importing.
set -u
. "$SOURCE_DIR/tests/support/cli.sh"
reliability() { "$BENCHTALLY" reliability "$@"; }

# The value at a path of the last --json output.
value() { jq -r "$1" "$WORK/out"; }
is() { [ "$1" = "$2" ] || complain "$3: \"$1\", expected \"$2\""; }
# near VALUE EXPECTED TOLERANCE WHAT
near() {
  awk -v a="$1" -v b="$2" -v t="$3" 'BEGIN { exit !(a != "null" && a - b <= t && b - a <= t) }' ||
    complain "$4: $1, expected $2 within $3"
}

# Brennan (2001), synthetic data set 4, Table 3.2: persons by raters (four a task), tasks one after another.
rows_of() { awk -v t="$1" '{ for (i = 1; i <= NF; i++) printf "P%d,%s,R%d,%s\n", NR, t, i, $i }'; }
{
  echo "person,task,rater,score"
  rows_of T1 <<<$'5 6 5 5\n9 3 7 7\n3 4 3 3\n7 5 5 3\n9 2 9 7\n3 4 3 5\n7 3 7 7\n5 8 5 7\n9 9 8 8\n4 4 4 3'
  rows_of T2 <<<$'5 3 4 5\n7 5 5 5\n5 3 3 5\n3 1 4 3\n7 7 3 7\n3 3 6 3\n7 5 5 7\n7 5 5 4\n6 6 6 5\n3 5 6 5'
  rows_of T3 <<<$'6 7 3 3\n7 7 5 2\n6 5 1 6\n5 3 3 5\n2 7 5 3\n4 5 1 2\n5 5 5 4\n3 2 1 1\n5 8 1 1\n5 7 1 1'
} >tasks.csv
nested=(--table tasks.csv --design "person x (rater:task)")

expect 0 "" reliability "${nested[@]}" --json
# Printed: 0.4731, 0.3252, 0.5596, 0.6475, 2.3803; E rho^2 0.55 and Phi 0.46 for four raters and three tasks.
is "$(value '[.effects[].effect] | join(";")')" \
  "person;task;person x task;rater:task;person x (rater:task)" "effects"
i=0
for printed in 0.4731 0.3252 0.5596 0.6475 2.3803; do
  near "$(value ".effects[$i].component.value")" "$printed" 0.00006 "component $i"
  i=$((i + 1))
done
near "$(value .observed.erho2.value)" 0.55 0.0051 "E rho^2"
near "$(value .observed.phi.value)" 0.46 0.0051 "Phi"
# Recomputed to every digit: MS of persons 10.296296296296296.
is "$(value '.effects[0].mean_square.value * 1e10 | round')" 102962962963 "a mean square's digits"
# One rater in each of six tasks: Phi 0.420489611191115.
near "$(value '.plans[] | select(.conditions.rater == 1 and .conditions.task == 6) | .phi.value')" \
  0.420489611191115 1e-9 "Phi of one rater in six tasks"
# Sigma^2(p) 0.47315, per task 0.56 + 0.33 + (0.65 + 2.38) / raters; 4 x Delta over 0.47315: 33.1, 20.3, 16.0.
expect 0 'With 1 rater, 34 tasks reach 0.80; with 2 raters, 21; with 3 raters, 17' reliability "${nested[@]}"
expect 0 'Reliability as scored: 0.46 for pass decisions \(Phi\), 0.55 for ranking' reliability "${nested[@]}"
expect 0 'every cell of the design has one' reliability "${nested[@]}"
expect 0 'for 0.60' reliability "${nested[@]}" --target 0.60
# With the tasks fixed the tasks' part of a person counts for the person, and only raters are left to vary.
expect 0 'Everywhere with 3 tasks, fixed' reliability "${nested[@]}" --fixed task
expect 0 "" reliability "${nested[@]}" --fixed task --json
near "$(value .observed.universe_variance)" 0.659670781893005 1e-9 "universe variance with tasks fixed" # .47315 + .55957 / 3
# With all fixed nothing would be error, whatever the scores are: no coefficient is told.
printf 'trainee,assessor,score\nT1,A1,60\nT1,A2,72\nT2,A1,75\nT2,A2,71\nT3,A1,50\nT3,A2,64\n' >fixed.csv
expect 0 '^With 2 assessors \(fixed\) nothing is left to vary' reliability --table fixed.csv --design "trainee x assessor" --fixed assessor
! grep -q '1\.00' "$WORK/out" || complain "a reliability of 1.00 where nothing was left to vary"
expect 2 '--edition 0: expected a number from 1 up' reliability --edition 0

# Items: Brennan (2001), synthetic data set 1; alpha is KR-20 0.844.
awk 'BEGIN { print "person,item,score" } { for (i = 1; i <= NF; i++) printf "P%d,I%02d,%s\n", NR, i, $i }' >items.csv <<'T'
1 0 1 0 0 0 0 0 0 0 0 0
1 1 1 0 0 1 0 0 0 0 0 0
1 1 1 1 1 0 0 0 0 0 0 0
1 1 0 1 1 0 0 1 0 0 0 0
1 1 1 1 1 0 1 0 0 0 0 0
1 1 1 0 1 1 1 0 0 0 0 0
1 1 1 1 1 1 1 0 0 0 0 0
1 1 1 1 0 1 1 1 1 1 0 0
1 1 1 1 1 1 1 1 1 1 1 0
1 1 1 1 1 1 1 1 1 1 1 1
T
crossed=(--table items.csv --design "person x item" --scale 0..1)
expect 0 'KR-20, the same for 0 and 1 +0\.84 \(95 % limits' reliability "${crossed[@]}"
expect 0 '^15 items reach 0.80' reliability "${crossed[@]}"
expect 0 '^  I01 +10 +1\.00 +-' reliability "${crossed[@]}"
expect 0 'doubtful zone around 0.80: 0.67 to 0.93' reliability "${crossed[@]}" --cut 0.8
expect 0 'two parameters because the four moments ask' reliability "${crossed[@]}" --cut 0.8
expect 0 'Phi\(lambda\) \(Brennan, Kane 1977\) +0\.86' reliability "${crossed[@]}" --cut 0.8
expect 0 "" reliability "${crossed[@]}" --cut 0.8 --json
near "$(value .items.kr21.value)" 0.761128882468269 1e-9 "KR-21"
near "$(value .pass_mark.phi_lambda.value)" 0.859043395628761 1e-9 "Phi(lambda)"
is "$(value '[.pass_mark.doubtful[].object] | join(" ")')" "P7 P8 P9 P10" "the doubtful"
is "$(value .items.items[0].discrimination.why)" "everyone has the same value on it" "why an item that all did has none"

# What is too little says so.
printf 'trainee,assessor,score\nT1,A1,70\nT1,A2,71\n' >one.csv
expect 0 'not estimable: there is only one trainee; two are the fewest' reliability --table one.csv --design "trainee x assessor"
expect 0 "" reliability --table one.csv --design "trainee x assessor" --json
is "$(value .why_not)" "there is only one trainee; two are the fewest" "why not, in JSON"
printf 'trainee,assessor,score\nT1,A1,70\nT1,A2,70\nT2,A1,70\nT2,A2,70\n' >same.csv
expect 0 'all scores are the same' reliability --table same.csv --design "trainee x assessor"
printf 'p,i,score\n1,a,1\n1,b,3\n2,a,3\n2,b,1\n3,a,2\n3,b,2\n' >against.csv
expect 0 'Below zero, which no variance is: p \(-1\.0000\)' reliability --table against.csv --design "p x i"
expect 0 'No number of anything reaches 0.80' reliability --table against.csv --design "p x i"
printf 'p,i,score\n1,a,1\n1,b,\n2,a,3\n2,b,1\n3,a,2\n3,b,2.5\n' >holes.csv
expect 0 '1 rows? without a score' reliability --table holes.csv --design "p x i"
expect 0 "Henderson's method 1" reliability --table holes.csv --design "p x i"
expect 0 'restricted likelihood' reliability "${nested[@]}" --reml

# Requests that are wrong.
expect 2 'design "trainee x", character 10: .* as in "trainee x assessor"' reliability --table one.csv --design "trainee x"
expect 2 '--table and --design go together' reliability --table one.csv
expect 2 'no such facet beside "trainee"' reliability --table one.csv --design "trainee x assessor" --fixed trainee
expect 2 'above 0 and below 1' reliability --table one.csv --design "trainee x assessor" --target 1
expect 2 'a number is expected' reliability --cut high
expect 2 'such as 0..100' reliability --table one.csv --design "trainee x assessor" --scale 5
expect 2 'a percentage from 0 to 100' reliability --cut 170
expect 2 'outside the scale, 0..1;' reliability "${crossed[@]}" --cut 80
# Two scores of one cell: no figure may choose between them.
printf 'trainee,assessor,score\nT1,A1,60\nT1,A1,61\nT2,A1,80\nT2,A2,62\n' >doubled.csv
expect 0 'two scores stand in one cell' reliability --table doubled.csv --design "trainee x assessor"
! grep -qE 'alpha|Components' "$WORK/out" || complain "figures of a table with a cell of two scores"
# A thousand trainees by ten assessors: ten, not 10.0.
awk 'BEGIN { print "trainee,assessor,score"; for (t = 1; t <= 1000; t++) for (a = 1; a <= 10; a++)
  printf "T%d,A%d,%d\n", t, a, 50 + (t * 7 + a * 3) % 40 }' >many.csv
expect 0 '^As scored, with 10 assessors' reliability --table many.csv --design "trainee x assessor"
# What cannot be estimated says why within the width of a page.
printf 'trainee,assessor,score\nT1,A1,70\nT1,A2,72\n' >one.csv
expect 0 'not estimable: fewer than two persons' reliability --table one.csv --design "trainee x assessor"
! grep -q 'some cells' "$WORK/out" || complain "a table without a hole is said to have some"
awk 'length($0) > 80 { exit 1 }' "$WORK/out" || complain "a line is wider than 80"
expect 2 '--rubric and --edition name what the book' reliability --table one.csv --design "trainee x assessor" --rubric r
expect 2 'go with --table' reliability --fixed session
expect 2 'another name' reliability --table one.csv --design "trainee x score"
expect 2 'one.csv:.*station' reliability --table one.csv --design "trainee x station"
printf 'trainee,assessor,score\nT1,A1,high\n' >word.csv
expect 2 'word.csv:2' reliability --table word.csv --design "trainee x assessor"
expect 2 'none.csv' reliability --table none.csv --design "trainee x assessor"

# On the book.
expect 2 '' reliability # there is none yet
"$BENCHTALLY" rubric add "$SOURCE_DIR"/rubrics/*.yaml >/dev/null
"$BENCHTALLY" person add --from "$SOURCE_DIR/sample_sessions/people.csv" >/dev/null
for file in "$SOURCE_DIR"/sample_sessions/*.csv; do
  [ "$(basename "$file")" = people.csv ] || "$BENCHTALLY" import "$file" >/dev/null
done
expect 2 'name one with --rubric' reliability
expect 0 'How reliable one session is cannot be told yet' reliability --rubric mandible-two-sites
expect 0 "" reliability --rubric mandible-two-sites --json
is "$(value .self_rated)" 1 "trainees' own records"
is "$(value .observations)" 2 "assessors' records"
expect 0 'no certificate of clinical competence' reliability --rubric mandible-two-sites
expect 0 'fewer than two trainees have a score|not estimable' reliability --rubric arch-bars

# On a larger book, made by the simulator.
"$BUILD_DIR/tests/simulate_tool" "$WORK" --seed 1 --trainees 24 --attempts-most 5 "$SOURCE_DIR/rubrics/arch-bars.yaml" >/dev/null
export BENCHTALLY_BOOK=$WORK/larger.db
"$BENCHTALLY" rubric add "$SOURCE_DIR/rubrics/arch-bars.yaml" >/dev/null
"$BENCHTALLY" person add --from people.csv >/dev/null
"$BENCHTALLY" import arch-bars.csv >/dev/null
expect 0 'One session seen by one assessor is reliable to 0\.[0-9]+ for a pass decision' reliability
expect 0 'Fair totals stand beside the raw ones and decide nothing' reliability
expect 0 'design assessor:\(trainee x session\)' reliability
reliability >text
awk 'length > 80 { print "wider than 80 columns: " $0; bad = 1 } /fail|!/ { print "not in our words: " $0; bad = 1 } END { exit bad }' text ||
  complain "the text of the report"
expect 0 "" reliability --json
# The same scores as a table give the same components: sessions of each trainee by attempt number.
cp "$WORK/out" book.json
"$BENCHTALLY" sessions --json | jq -r '["trainee", "session", "assessor", "score"], (.[] |
  select(.mode != "self" and .total_percent_milli != null) | [.trainee, .attempt, .assessor, .total_percent_milli / 1000]) |
  @csv' >sessions.csv
expect 0 "" reliability --table sessions.csv --design "assessor:(trainee x session)" --same session --json
for effect in 0 1 2 3; do
  near "$(value ".effects[$effect].component.value")" "$(jq ".study.effects[$effect].component.value" book.json)" 1e-9 \
    "component $effect, from the book and from its table"
done
near "$(value '.plans[0].phi.value')" "$(jq .reliability.value book.json)" 1e-9 "Phi of one session and one assessor"
# An assessor who observed alone is left out by name and changes nothing of the others' severity.
"$BENCHTALLY" person add A-99 --role assessor --name "Lone Larchfield" >/dev/null
awk -F, -v OFS=, 'NR == 1; NR == 2 { one = $1; by = $3 }
  NR > 1 && $1 == one && $3 == by { $1 = "LONE-1"; $3 = "A-99"; print }' arch-bars.csv >lone.csv
"$BENCHTALLY" import lone.csv >/dev/null || complain "the lone session is not imported"
expect 0 'Left out of severity: A-99 \(scored no session that the others scored\)\.' reliability
expect 0 "" reliability --json
is "$(jq -c '[.severity.assessors[] | select(.assessor != "A-99") | .severity.value]' "$WORK/out")" \
  "$(jq -c '[.severity.assessors[].severity.value]' book.json)" "severity of the others"
finish
