#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# standard: the published examples through --table, its words and its errors; then a simulated book: the same marks as from
# its scores as a table, what a mark would have done against the results themselves, keeping and adopting.
set -u
. "$SOURCE_DIR/tests/support/cli.sh"
standard() { "$BENCHTALLY" standard "$@"; }
value() { jq -r "$1" "$WORK/out"; }
is() { [ "$1" = "$2" ] || complain "$3: \"$1\", expected \"$2\""; }
near() {
  awk -v a="$1" -v b="$2" -v t="$3" 'BEGIN { exit !(a != "null" && a - b <= t && b - a <= t) }' ||
    complain "$4: $1, expected $2 within $3"
}
fits() { awk 'length($0) > 80 { wide = 1 } END { exit wide }' "$WORK/out" || complain "$1: a line is wider than 80"; }

# Judges: the examples of tests/published/standard.json (Angoff 1971; Ebel 1972), as a programme would write them.
angoff_rows() { awk -v j="$1" '{ for (i = 1; i <= NF; i++) printf "%s,item %d,%s\n", j, i, $i }'; }
{
  echo "judge,item,percent"
  angoff_rows "Dr Birch" <<<"80 70 60 90 50 75 65 85"
  angoff_rows "Dr Cedar" <<<"75 65 55 85 45 70 70 80"
  angoff_rows "Dr Elm" <<<"90 80 70 95 60 80 75 90"
  angoff_rows "Dr Hazel" <<<"70 60 50 80 40 65 60 75"
  angoff_rows "Dr Rowan" <<<"85 70 65 90 55 80 70 85"
} >angoff.csv
expect 0 'pass mark by Angoff would stand at 71.5 %' standard angoff --table angoff.csv
expect 0 'no certificate of clinical competence' standard angoff --table angoff.csv
fits Angoff
expect 0 'Dr Hazel +62.5 +-11.2' standard angoff --table angoff.csv
expect 0 '' standard angoff --table angoff.csv --json
near "$(value .cut.value)" 71.5 1e-9 "the mark"
near "$(value .cut.se)" 2.97515755885298 1e-9 "its error over judges" # 0.238012604708238 of 8 items
near "$(value .figures.cut_judges_and_items.se)" 5.32178809907239 1e-9 "its error over judges and items"
is "$(value .judges)" 5 "judges"
# A second round: Dr Hazel comes up by 8 on every item, so the mark by 8 / 5.
awk -F, -v OFS=, 'NR == 1 { print $0, "round"; next } { print $0, 1; if ($1 == "Dr Hazel") $3 += 8; print $0, 2 }' angoff.csv >rounds.csv
expect 0 '1 of 5 judges moved' standard angoff --table rounds.csv
expect 0 '' standard angoff --table rounds.csv --json
near "$(value .figures.rounds.change.value)" 1.6 1e-9 "the change"
near "$(value .cut.value)" 73.1 1e-9 "the mark of the second round"
# One judge.
grep -e judge, -e Birch angoff.csv >one.csv
expect 0 'at 71.9 % of the points \(how surely cannot' standard angoff --table one.csv
expect 0 'fewer than two judges' standard angoff --table one.csv
fits "one judge"
# Faults, each with its place.
printf 'judge,item,percent\nA,i,0.7\nA,j,0.9\n' >shares.csv
expect 2 'shares.csv:2.*write percentages' standard angoff --table shares.csv
printf 'judge,item,percent\nA,i,70\nA,i,80\nB,i,140\n' >twice.csv
expect 2 'twice.csv:4.*0 to 100' standard angoff --table twice.csv
printf 'judge,item,percent,points\nA,i,70,2\nB,i,80,3\n' >points.csv
expect 2 'points.csv:3.*another row gives this item 2 points' standard angoff --table points.csv
printf 'judge,item,percent\nA,i,70\nA,i,80\n' >twice.csv
expect 2 'twice.csv:3.*already' standard angoff --table twice.csv
expect 2 '"percent"|percent' standard angoff --table "$SOURCE_DIR/sample_sessions/people.csv"
expect 2 '--table is needed' standard angoff
expect 2 'nowhere.csv' standard angoff --table nowhere.csv
expect 2 '--judges, --on, --note and --by go with --keep' standard angoff --table angoff.csv --judges 3
expect 2 'a number from 0 to 1,000,000' standard angoff --table angoff.csv --draws -4

{
  echo relevance,difficulty,items,percent
  printf '%s\n' essential,easy,6,95 essential,medium,4,85 essential,hard,2,80 important,easy,5,90 important,medium,8,75 \
    important,hard,3,60 acceptable,easy,2,85 acceptable,medium,4,60 acceptable,hard,6,40
} >ebel.csv
expect 0 'pass mark by Ebel would stand at 73.8 %' standard ebel --table ebel.csv
expect 0 '' standard ebel --table ebel.csv --json
near "$(value .cut.value)" 73.75 1e-9 "Ebel's mark"
is "$(value .cut.se)" null "one panel's error"
{ cat ebel.csv; echo essential,easy,1,50; } >doubled.csv
expect 2 'doubled.csv:11.*already' standard ebel --table doubled.csv

# Trainees.
{
  echo trainee,group,score
  for s in 41 45 48 50 52 53 55 56 58 60 61 63; do echo "T-$s,year 1,$s"; done
  for s in 57 59 62 64 65 67 68 70 71 73 74 76 78 80 82; do echo "T-$s,year 5,$s"; done
} >groups.csv
expect 0 'contrasting groups would stand at 61.5 %' standard contrasting --table groups.csv --competent "year 5"
fits contrasting
expect 0 '' standard contrasting --table groups.csv --competent "year 4, year 5" --json
near "$(value .cut.value)" 61.5003200871345 1e-9 "the crossing"
near "$(value .figures.logistic.formula.value)" 60.5383597138356 1e-9 "the even chance"
near "$(value .figures.midpoint.formula.value)" 61.6166666666667 1e-9 "the midpoint"
is "$(value '.figures.midpoint | [.false_pass, .false_not_yet] | join(" ")')" "1 2" "told wrongly at 61.6"
cp "$WORK/out" first.json
expect 0 '' standard contrasting --table groups.csv --competent "year 5" --json
cmp -s "$WORK/out" first.json || complain "one seed gives two answers"
expect 0 '' standard contrasting --table groups.csv --competent "year 5" --json --seed 2
cmp -s "$WORK/out" first.json && complain "two seeds give one answer"
expect 0 'would stand at 61.6 %' standard contrasting --table groups.csv --competent "year 5" --take midpoint
expect 2 'expected crossing, midpoint or logistic' standard contrasting --table groups.csv --take middle
expect 2 'no group is "competent".*"year 1", "year 5"' standard contrasting --table groups.csv
expect 0 'did not score higher' standard contrasting --table groups.csv --competent "year 1"
fits "groups the wrong way round"
expect 2 'no mark to keep' standard contrasting --table groups.csv --competent "year 1" --keep
expect 0 'nobody was named not yet competent' standard contrasting --table groups.csv --competent "year 1,year 5"
awk -F, 'NR == 1 || $3 < 50 || $3 > 70' groups.csv >apart.csv
expect 0 'above 48.0, up( to)?$' standard contrasting --table apart.csv --competent "year 5"
expect 0 'halfway is 59.5' standard contrasting --table apart.csv --competent "year 5"

{
  echo trainee,rating,score
  paste -d, <(seq 1 20) <(printf '%s\n' 1 1 2 2 2 2 3 3 3 3 3 3 4 4 4 4 4 5 5 5) \
    <(printf '%s\n' 38 45 50 47 55 52 58 62 57 60 66 61 70 68 73 66 75 82 79 88)
} >borderline.csv
expect 0 'borderline regression would stand at 50.8 %' standard borderline --table borderline.csv --borderline 2
fits borderline
expect 0 '' standard borderline --table borderline.csv --borderline 2 --json
near "$(value .cut.value)" 50.8301225919439 1e-9 "the line at 2"
near "$(value .figures.formula.se)" 1.08064225871612 1e-9 "its error"
near "$(value .figures.r_squared)" 0.931990877975235 1e-9 "R squared"
expect 0 'borderline group, mean would stand at 51.0' standard borderline --table borderline.csv --borderline 2 --take mean
expect 0 'drawn out beyond' standard borderline --table borderline.csv --borderline 0
expect 0 'No pass mark by borderline regression: the scores put it outside 0 to 100 %' \
  standard borderline --table borderline.csv --borderline 40
expect 0 'nobody was rated borderline' standard borderline --table borderline.csv --borderline 2.5
expect 2 '--borderline is needed' standard borderline --table borderline.csv
awk -F, -v OFS=, 'NR > 1 { $2 = 6 - $2 } 1' borderline.csv >falling.csv
expect 0 'scores do not rise with the ratings' standard borderline --table falling.csv --borderline 2

{
  echo trainee,score,outcome
  for s in 42 45 48 50 51 53 54 55 56 57 58 59 60 61 62 63 64 65 66 67 68 69 70 71 72 74 75 77 80 85; do
    echo "T-$s,$s,$([ "$s" -ge 60 ] && echo pass || echo not yet)"
  done
} >scores.csv
printf 'judge,least_cut,most_cut,least_not_yet,most_not_yet\nDr Elm,45,60,0,25\nDr Oak,55,70,10,35\n' >hofstee.csv
expect 0 'Hofstee would stand at 54.7 %' standard hofstee --table hofstee.csv --scores scores.csv
fits Hofstee
# 55, 56, 57, 58 and 59 were not yet, and lie above 54.7.
expect 0 'no pass would have been not yet and 5 not' standard hofstee --table hofstee.csv --scores scores.csv
expect 0 '' standard hofstee --table hofstee.csv --scores scores.csv --sem 1 --json
near "$(value .cut.value)" 54.6666666666667 1e-9 "where they meet"
near "$(value .figures.not_yet)" 0.222222222222222 1e-9 "not yet there"
is "$(value .figures.whole_cut)" 55 "the whole mark"
is "$(value '.effect.decisions | [.decided, .stays_pass, .stays_not_yet, .to_pass, .to_not_yet] | join(" ")')" "30 18 7 5 0" \
  "what it would have done"
is "$(value '[.effect.doubtful[].who] | join(" ")')" "T-54 T-55" "within 1 % of 54.7"
printf 'judge,least_cut,most_cut,least_not_yet,most_not_yet\nDr Elm,75,80,1,20\n' >strict.csv
expect 0 'No pass mark by Hofstee' standard hofstee --table strict.csv --scores scores.csv
expect 0 'even the least mark' standard hofstee --table strict.csv --scores scores.csv
fits "no meeting"
printf 'judge,least_cut,most_cut,least_not_yet,most_not_yet\nDr Elm,80,75,1,20\n' >strict.csv
expect 2 'strict.csv:2.*below the least' standard hofstee --table strict.csv --scores scores.csv
printf 'judge,least_cut,most_cut,least_not_yet,most_not_yet\nDr Elm,50,60,1,20\nDr Elm,50,60,1,20\n' >strict.csv
expect 2 'strict.csv:3.*this judge stands in the table already' standard hofstee --table strict.csv --scores scores.csv
head -n 1 scores.csv >no-scores.csv
standard hofstee --table hofstee.csv --scores no-scores.csv >"$WORK/out" 2>&1
! grep -q '0\.0 to 0\.0' "$WORK/out" || complain "judges' limits that nobody gave"
expect 2 'book' standard hofstee --table hofstee.csv # the scores would be the book's, and there is none

# The book ---------------------------------------------------------------------
rubric=forearm-two-bones
mkdir cohort
"$BUILD_DIR/tests/simulate_tool" cohort --seed 5 --trainees 24 "$SOURCE_DIR/rubrics/$rubric.yaml" >/dev/null
"$BENCHTALLY" rubric add "$SOURCE_DIR/rubrics/$rubric.yaml" >/dev/null
"$BENCHTALLY" person add --from cohort/people.csv >/dev/null
for file in cohort/*.csv; do
  [ "$file" = cohort/people.csv ] || "$BENCHTALLY" import "$file" >/dev/null
done
# What its results say themselves: total, level, rating, outcome, whether the total alone decided.
"$BENCHTALLY" score --json >ledgers.json
"$BENCHTALLY" sessions --json --of-record >sessions.json
"$BENCHTALLY" person list --json >people.json
python3 - <<'PY'
import csv, datetime, fractions, json, math
people = {p["code"]: p["level"] for p in json.load(open("people.json"))}
of_record = {(s["session"], s["assessor"], s["mode"]): s for s in json.load(open("sessions.json"))}
rows = []
for l in json.load(open("ledgers.json")):
    s = of_record.get((l["session"], l["assessor"], l["mode"]))
    if s is None or l["total"] is None:
        continue
    percent = math.floor(fractions.Fraction(l["total"]) * 100000) / 1000
    alone = all(r["code"] == "below_pass" for r in l["reasons"])
    outcome = {"pass": "pass", "undecided": "undecided", "not_yet": "not yet" if alone else "not yet, held"}[l["outcome"]]
    flow = next((r["value"] for r in l["rating"]["rows"] if r["id"] == "flow"), None)
    rows.append((l["trainee"], people[l["trainee"]], "" if flow is None else flow, percent, outcome, s["started"]))
for name, column in (("group", 1), ("rating", 2)):
    with open(f"book_{name}.csv", "w", newline="") as f:
        w = csv.writer(f)
        w.writerow(["trainee", name, "score", "outcome"])
        w.writerows((r[0], r[column], r[3], r[4]) for r in rows)
latest = max(r[5] for r in rows)
start = datetime.datetime.fromisoformat(latest) - datetime.timedelta(days=365)
year = [r for r in rows if datetime.datetime.fromisoformat(r[5]) >= start]
json.dump({"all": len(rows), "year": len(year), "rows": year}, open("year.json", "w"))
PY
same() { # WHAT PATH: the number in book.json and in the last output
  is "$(jq -r "$2" book.json)" "$(value "$2")" "$1, from the book and from its table"
}
contrast=(standard contrasting --rubric $rubric --group-by level --competent "year 4" --draws 100 --json)
expect 0 '' "${contrast[@]}"
cp "$WORK/out" book.json
expect 0 '' standard contrasting --table book_group.csv --competent "year 4" --draws 100 --json
for path in .cut.value .figures.competent.n .figures.competent.mean .figures.logistic.formula.se; do
  same contrasting "$path"
done
expect 0 '' standard borderline --rubric $rubric --rating flow --borderline 3 --draws 100 --json
cp "$WORK/out" book.json
expect 0 '' standard borderline --table book_rating.csv --borderline 3 --draws 100 --json
for path in .cut.value .figures.formula.se .figures.group_mean.n .figures.r_squared; do
  same borderline "$path"
done
expect 0 'Contrasting groups' standard contrasting --rubric $rubric --rating flow --competent-from 4
expect 2 'rating flow has a scale of 1 to' standard borderline --rubric $rubric --rating flow --borderline 9
expect 2 'no rating "flo"; did you mean "flow"' standard borderline --rubric $rubric --rating flo --borderline 3
expect 2 'say which trainees are competent' standard contrasting --rubric $rubric
expect 2 'expected level or cohort' standard contrasting --group-by year --competent x
expect 2 '--edition 0: expected a number from 1 up' standard contrasting --rubric $rubric --edition 0 --group-by level --competent x
expect 2 'no edition 7' standard contrasting --rubric $rubric --edition 7 --group-by level --competent "year 4"

# A mark of 80 and what it would have done in the last year, against the results themselves.
printf 'judge,item,percent\nA,i,78\nB,i,82\n' >eighty.csv
expect 0 '' standard angoff --table eighty.csv --rubric $rubric --sem 2 --json
cp "$WORK/out" effect.json
python3 - <<'PY' || complain "what a mark of 80 % would have done"
import collections, json
effect, year = json.load(open("effect.json"))["effect"], json.load(open("year.json"))
d = collections.Counter()
for _, _, _, score, was, _ in year["rows"]:
    d["left_out" if was == "undecided" else "decided"] += 1
    d["stays_pass"] += was == "pass" and score >= 80
    d["to_not_yet"] += was == "pass" and score < 80
    d["to_pass"] += was == "not yet" and score >= 80
    d["stays_not_yet"] += was == "not yet, held" or (was == "not yet" and score < 80)
    d["held"] += was == "not yet, held" and score >= 80
doubtful = sorted(s for _, _, _, s, was, _ in year["rows"] if was != "undecided" and abs(s - 80) <= 2)
assert 20 < year["year"] < year["all"], year["year"]
assert d["to_not_yet"] > 0 and d["held"] > 0, d
assert dict(effect["decisions"]) == {k: d[k] for k in effect["decisions"]}, (effect["decisions"], d)
assert sorted(x["score"] for x in effect["doubtful"]) == doubtful and doubtful
assert effect["pass_rate"]["n"] == year["year"]
PY

# On record.
before=$("$BENCHTALLY" score --json | sha256sum)
expect 0 'No standard on record yet' standard list
expect 0 'Kept as standard 1 of forearm-two-bones, edition 1' standard angoff --table eighty.csv --rubric $rubric --keep \
  --on 2026-03-04 --note "Drs Birch and Elm" --by DR-1
expect 0 '  pass: [0-9.]+$' standard borderline --rubric $rubric --rating flow --borderline 3 --draws 50 --keep --judges 6
expect 0 '1  forearm-two-bones +1  angoff +80 ' standard list --wide
expect 0 '' standard list --json
is "$(value '.[0] | [.method, .cut_milli, .se_milli, .judges, .note, .set_on, .added_by] | map(tostring) | join(";")')" \
  "angoff;80000;2000;2;Drs Birch and Elm;2026-03-04;DR-1" "what was kept" # sd of 78 and 82 is sqrt(8), over sqrt(2)
is "$(value '.[0].figures.items')" 1 "its figures"
is "$(value '.[1] | [.method, .judges] | map(tostring) | join(";")')" "borderline;6" "the second"
expect 2 'no date' standard angoff --table eighty.csv --rubric $rubric --keep --on "4 March"
expect 2 'name the rubric' standard angoff --table eighty.csv --scores scores.csv --keep
expect 2 'needs its reason' standard adopt 1
expect 2 'no standard 9' standard adopt 9 --reason x
expect 2 'no number of a standard' standard adopt first --reason x
expect 0 'Standard 1 is adopted: a pass mark of 80.0 %' standard adopt 1 --reason "agreed in March" --by DR-1
grep -q "^  pass: 80$" "$WORK/out" || complain "the line of the next edition"
tr '\n' ' ' <"$WORK/out" | grep -q 'by Angoff, set on 4 Mar 2026\.' || complain "the method and day: $(head -3 "$WORK/out")"
expect 2 'adopted already' standard adopt 1 --reason again
expect 0 'of sessions from' standard adopt 2 --reason "the faculty preferred it"
tr '\n' ' ' <"$WORK/out" | grep -q 'by borderline regression, set on' || complain "the method's name: $(head -3 "$WORK/out")"
expect 0 'then superseded' standard list --wide
grep -q ' 4 Mar 2026 ' "$WORK/out" || complain "the day it was set on"
is "$("$BENCHTALLY" score --json | sha256sum)" "$before" "scores after a standard was adopted"
expect 0 'every record holds' "$BENCHTALLY" verify
finish
