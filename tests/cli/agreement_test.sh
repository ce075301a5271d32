#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# The agreement command: published examples through --table, the words, the errors, and the sample sessions in a book, whose
# expectations are read by hand from sample_sessions/*.csv.
set -u
. "$SOURCE_DIR/tests/support/cli.sh"
command -v python3 >/dev/null || exit 77

# table FILE CROSS...: one subject for each count of a square cross table, rows rater A, columns rater B.
table() {
  local file=$1 row=1 column n=0 count
  shift
  echo subject,rater,rating >"$file"
  for line in "$@"; do
    column=1
    for count in $line; do
      for ((i = 0; i < count; i++)); do
        n=$((n + 1))
        printf 's%d,A,%d\ns%d,B,%d\n' $n $row $n $column >>"$file"
      done
      column=$((column + 1))
    done
    row=$((row + 1))
  done
}

# value FILE-OF-JSON PATH EXPECTED TOLERANCE: a number of the output, found by keys and indices.
value() {
  python3 - "$@" <<'PY' || failures=$((failures + 1))
import json, sys
path, keys, wanted, tolerance = sys.argv[1], sys.argv[2].split("."), float(sys.argv[3]), float(sys.argv[4])
found = json.load(open(path))
for key in keys:
    found = found[int(key)] if isinstance(found, list) else found[key]
if not isinstance(found, (int, float)) or abs(found - wanted) > tolerance:
    print(f"{'.'.join(keys)} is {found}, expected {wanted}")
    sys.exit(1)
PY
}
json() {
  "$BENCHTALLY" agreement "$@" --json >"$WORK/json" || complain "status $?: agreement $* --json"
}

# Cohen 1960, table 2: agreement .70, kappa .492; error of Fleiss, Cohen and Everitt by vcd .05100.
table cohen.csv "88 14 18" "10 40 10" "2 6 12"
expect 0 'agreed on 70.0 % of ratings of 200 subjects' "$BENCHTALLY" agreement --table cohen.csv
expect 0 "Cohen's kappa +0.49 \(95 % limits 0.39 to 0.59; standard error 0.05; n 200\)" "$BENCHTALLY" agreement --table cohen.csv
json --table cohen.csv
value json cohen.value 0.491525423728813 1e-12
value json cohen.se 0.0510018155760779 1e-12
value json cohen.null_se 0.0519789363565954 1e-12
value json agreed.value 0.7 1e-15
# The same with quadratic weights (Fleiss and Cohen 1973): 5/11.
json --table cohen.csv --weights quadratic
value json weighted.value 0.454545454545455 1e-12
expect 2 '--edition 0: expected a number from 1 up' "$BENCHTALLY" agreement --edition 0

# Two differences that are the same: a difference, and no limits of it.
printf 'subject,rater,rating\ns1,A,3\ns1,B,2\ns2,A,5\ns2,B,4\n' >two.csv
expect 0 '^ +A +B +2 +1\.00* +- *$|^ +A +B +2 +1\.00* *-? +-$' "$BENCHTALLY" agreement --table two.csv --scale interval

# Shrout and Fleiss 1979, table 2: .17 .29 .71 .44 .62 .91.
python3 - <<'PY'
rows = [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]]
with open("judges.csv", "w") as out:
    print("subject,rater,rating", file=out)
    for i, row in enumerate(rows):
        for j, rating in enumerate(row):
            print(f"target {i + 1},judge {j + 1},{rating}", file=out)
PY
expect 0 'ICC\(2,1\) +0.29 \(95 % limits 0.02 to 0.76; n 6\)' "$BENCHTALLY" agreement --table judges.csv --scale interval
json --table judges.csv --scale interval
for form in "0 0.17" "1 0.29" "2 0.71" "3 0.44" "4 0.62" "5 0.91"; do
  value json "icc.forms.${form% *}.value" "${form#* }" 0.0051
done
value json icc.forms.4.low 0.0711368153025034 1e-9 # by the corrected degrees of freedom
value json icc.mean_squares.between 11.2416666666667 1e-9

# Krippendorff 2011, example C: four observers, twelve units, holes. .743 nominal, .815 ordinal, .849 interval, .797 ratio.
python3 - <<'PY'
rows = ["1 2 3 3 2 1 4 1 2 . . .", "1 2 3 3 2 2 4 1 2 5 . 3", ". 3 3 3 2 3 4 2 2 5 1 .", "1 2 3 3 2 4 4 1 2 5 1 ."]
with open("units.csv", "w") as out:
    print("rater,subject,rating", file=out)
    for r, row in enumerate(rows):
        for u, rating in enumerate(row.split()):
            print(f"observer {r + 1},unit {u + 1},{'' if rating == '.' else rating}", file=out)
PY
for scale in "nominal 0.743" "ordinal 0.815" "interval 0.849" "ratio 0.797"; do
  json --table units.csv --scale "${scale% *}"
  value json alpha.value "${scale#* }" 0.0006
done
json --table units.csv --seed 5
cp json first
json --table units.csv --seed 5
cmp -s json first || complain "the same seed gives other limits"
json --table units.csv --seed 6
cmp -s json first && complain "another seed gives the same limits"
json --table units.csv --draws 0
grep -q '"high"' <(python3 -c 'import json; print(json.dumps(json.load(open("json"))["alpha"]))') && complain "limits without draws"

# Items, each with its own figures; words as ratings.
cat >items.csv <<'CSV'
subject,rater,item,rating
s1,A,plate,done
s1,B,plate,done
s2,A,plate,not done
s2,B,plate,not done
s1,A,screw,done
s1,B,screw,not done
s2,A,screw,not done
s2,B,screw,not done
CSV
expect 0 'agreed on 75.0 % of ratings of 4 subjects and items' "$BENCHTALLY" agreement --table items.csv
expect 0 '^screw +2 +50.0' "$BENCHTALLY" agreement --table items.csv
expect 0 '^plate +2 +100.0' "$BENCHTALLY" agreement --table items.csv

# All the same: the share, and why there is no kappa.
table same.csv "7"
expect 0 'kappa not estimable, all ratings are the same' "$BENCHTALLY" agreement --table same.csv
printf 'subject,rater,rating\ns1,A,1\ns2,A,1\n' >alone.csv
expect 0 'not estimable: no subject was rated by two' "$BENCHTALLY" agreement --table alone.csv
sed 's/,[^,]*$/,1/; 1s/,1$/,rating/' alone.csv >alone-numbers.csv
expect 0 'not estimable' "$BENCHTALLY" agreement --table alone-numbers.csv --scale interval
! grep -q '^Differences$' "$WORK/out" || complain "a heading without a table below it"
printf 'subject,rater,rating\ns1,A,yes\ns1,B,yes\n' >single.csv
expect 0 'ratings of 1 subject ' "$BENCHTALLY" agreement --table single.csv

# What is wrong with a table, or a request.
printf 'subject,rater,rating\ns1,A,1\ns1,A,2\n' >twice.csv
expect 2 'twice.csv:3:.*A has rated s1 already' "$BENCHTALLY" agreement --table twice.csv
printf 'subject,rater,rating\ns1,A,one\ns1,B,2\n' >words.csv
expect 2 'words.csv:2' "$BENCHTALLY" agreement --table words.csv --scale interval
printf 'subject,rating\ns1,1\n' >column.csv
expect 2 'rater' "$BENCHTALLY" agreement --table column.csv
expect 2 'nominal, ordinal, interval or ratio' "$BENCHTALLY" agreement --table cohen.csv --scale metric
expect 2 'linear or quadratic' "$BENCHTALLY" agreement --table cohen.csv --weights cubic
expect 2 'ratings with an order' "$BENCHTALLY" agreement --table cohen.csv --scale nominal --weights linear
expect 2 'go with --table' "$BENCHTALLY" agreement --scale ordinal
expect 2 'about the book' "$BENCHTALLY" agreement --table cohen.csv --session x
expect 2 'a time such as 5s' "$BENCHTALLY" agreement --tolerance long
expect 2 'expected 0 to' "$BENCHTALLY" agreement --table cohen.csv --draws -1

# A book: one session that two assessors watched, one alone, one with the trainee's own record.
"$BENCHTALLY" rubric add "$SOURCE_DIR"/rubrics/*.yaml >/dev/null
"$BENCHTALLY" person add --from "$SOURCE_DIR/sample_sessions/people.csv" >/dev/null
"$BENCHTALLY" import "$SOURCE_DIR"/sample_sessions/{two-assessors-ankle,critical-error-ankle,own-record-mandible}.csv >/dev/null
expect 2 'name one with --rubric' "$BENCHTALLY" agreement
expect 0 'agreed on 92.3 % of the checkpoints they both saw' "$BENCHTALLY" agreement --rubric ankle-lag-plate
expect 0 '1 session observed by' "$BENCHTALLY" agreement --rubric ankle-lag-plate
expect 0 '94.1 % of 34 entries' "$BENCHTALLY" agreement --rubric ankle-lag-plate
expect 0 'no certificate of clinical competence' "$BENCHTALLY" agreement --rubric ankle-lag-plate
expect 0 '^gliding-hole +1 +0.0' "$BENCHTALLY" agreement --rubric ankle-lag-plate
# Thirteen checkpoints that both saw, one seen otherwise; the tap was before the lens.
json --rubric ankle-lag-plate
value json checkpoints.all.pairs 13 0
value json checkpoints.all.same 12 0
value json errors.all.pairs 8 0
value json errors.all.same 7 0
value json entries.matched 16 0
value json scores.0.differences.0.bias.value 6.517 0.002 # 95.837 less 89.320
json --rubric ankle-lag-plate --tolerance 1s
value json entries.matched 15 0
awk 'length > 80 { print "wider than 80: " $0; bad = 1 } END { exit bad }' <("$BENCHTALLY" agreement --rubric ankle-lag-plate) ||
  complain "lines wider than a terminal"
grep -qiE 'nan|inf[^o]' <("$BENCHTALLY" agreement --rubric ankle-lag-plate --json | grep '"value"') && complain "a number that is none"

# What two can sit down with.
expect 0 'AS-1 and AS-4 saw 2 things otherwise' "$BENCHTALLY" agreement --session larkfield-08
expect 0 'AS-4 video: not done; 3:40' "$BENCHTALLY" agreement --session larkfield-08
expect 0 'AS-4 video: happened; 4:30' "$BENCHTALLY" agreement --session larkfield-08
expect 0 '6:50 AS-1: Thread tapped' "$BENCHTALLY" agreement --session larkfield-08
json --session larkfield-08
value json lone_entries.0.at_ms 270000 0
value json lone_entries.1.at_ms 410000 0

# The trainee's own record only where it is asked for.
expect 2 'no two closed records.*--with-self' "$BENCHTALLY" agreement --session larkfield-09
expect 0 'own record self: not done' "$BENCHTALLY" agreement --session larkfield-09 --with-self
expect 0 'no session of mandible-two-sites has the records' "$BENCHTALLY" agreement --rubric mandible-two-sites
json --rubric mandible-two-sites
value json sessions 0 0
value json left_out.own_records 1 0
expect 0 'AS-2, own record' "$BENCHTALLY" agreement --rubric mandible-two-sites --with-self
expect 2 'no such session' "$BENCHTALLY" agreement --session nowhere
expect 2 'no rubric' "$BENCHTALLY" agreement --rubric nothing
finish
