#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# The director's workbook read by openpyxl: structure, and every number worked out again from `score --json`; the one for
# sharing names nobody and gives no small count away; the same book gives the same bytes. With BENCHTALLY_OOXML_SCHEMAS
# naming a folder that holds the ECMA-376 schemas, each part is checked against them too.
set -u
. "$SOURCE_DIR/tests/support/cli.sh"
python=/usr/bin/python3
"$python" -c 'import openpyxl, yaml' 2>/dev/null || { echo "openpyxl or yaml is not there"; exit 77; }
export PYTHONDONTWRITEBYTECODE=1
rubrics=("$SOURCE_DIR"/rubrics/*.yaml)

# What the reader works from; $1 is its folder.
tell() {
  mkdir -p "$1"
  "$BENCHTALLY" sessions --json >"$1/sessions.json"
  "$BENCHTALLY" score --json >"$1/scores.json"
  "$BENCHTALLY" person list --json >"$1/people.json"
  "$BENCHTALLY" standard list --json >"$1/standards.json"
  for rubric in "${rubrics[@]}"; do
    local id
    id=$(basename "$rubric" .yaml)
    for command in agreement reliability curve; do
      "$BENCHTALLY" $command --rubric "$id" --json >"$1/$command-$id.json" 2>/dev/null
    done
  done
}
read_back() {
  "$python" "$SOURCE_DIR/tests/cli/cohort_reader.py" "$1" "$2" "${rubrics[@]}" || complain "$2: openpyxl and score --json do not agree"
}
check_part() { # SCHEMA PARTS...
  local schema=$BENCHTALLY_OOXML_SCHEMAS/$1
  shift
  xmllint --noout --nonet --schema "$schema" "$@" >valid 2>&1 || complain "$(grep -v validates valid | head -5)"
}
check_schemas() {
  [ -n "${BENCHTALLY_OOXML_SCHEMAS:-}" ] || return 0
  rm -rf parts && mkdir parts && (cd parts && "$python" -m zipfile -e "../$1" .)
  check_part sml.xsd parts/xl/worksheets/*.xml parts/xl/tables/*.xml parts/xl/{workbook,styles,sharedStrings}.xml
  check_part dml-chart.xsd parts/xl/charts/*.xml
  check_part dml-spreadsheetDrawing.xsd parts/xl/drawings/*.xml
  check_part opc-contentTypes.xsd 'parts/[Content_Types].xml'
  check_part opc-relationships.xsd parts/_rels/.rels parts/xl/_rels/*.rels parts/xl/worksheets/_rels/*.rels
}

# Sample sessions: few trainees, their own records, an unfinished session.
"$BENCHTALLY" rubric add "${rubrics[@]}" >/dev/null
"$BENCHTALLY" person add --from "$SOURCE_DIR/sample_sessions/people.csv" >/dev/null
expect 0 '' "$BENCHTALLY" import "$SOURCE_DIR"/sample_sessions/*-*.csv
tell few
expect 0 '^few.xlsx$' "$BENCHTALLY" cohort --out few.xlsx
read_back few few.xlsx

# A residency of two years, with standards on record.
[ -x "$BUILD_DIR/tests/simulate_tool" ] || { echo "no simulator: the residency is left out"; finish; exit; }
export BENCHTALLY_BOOK=$WORK/residency.db
"$BENCHTALLY" rubric add "${rubrics[@]}" >/dev/null
mkdir residency
expect 0 '' "$BUILD_DIR/tests/simulate_tool" residency "${rubrics[@]}"
"$BENCHTALLY" person add --from residency/people.csv >/dev/null
expect 0 '' "$BENCHTALLY" import residency/*-*.csv
printf 'judge,item,percent\nJ1,a,72\nJ1,b,80\nJ2,a,70\nJ2,b,86\nJ3,a,75\nJ3,b,83\n' >angoff.csv
expect 0 '' "$BENCHTALLY" standard angoff --table angoff.csv --rubric arch-bars --keep --on 2026-03-04 --note "three surgeons"
expect 0 '' "$BENCHTALLY" standard contrasting --rubric arch-bars --group-by level --competent "year 4" --keep --on 2026-03-05
expect 0 '' "$BENCHTALLY" standard adopt 1 --reason "agreed in March"
tell all
expect 0 '' "$BENCHTALLY" cohort --out all.xlsx
read_back all all.xlsx
check_schemas all.xlsx
for least in 3 5 20; do
  expect 0 '' "$BENCHTALLY" cohort --suppress $least --out "shared-$least.xlsx"
  "$python" "$SOURCE_DIR/tests/cli/cohort_shared.py" all "shared-$least.xlsx" $least "${rubrics[@]}" ||
    complain "what is shared at $least is not safe"
done
check_schemas shared-5.xlsx

# The same bytes a second later, in another time zone, under a decimal comma, whatever was exported meanwhile.
sleep 1.1
expect 0 '' "$BENCHTALLY" cohort --out again.xlsx
cmp all.xlsx again.xlsx || complain "a second later the workbook differs"
expect 0 '' env TZ=Pacific/Auckland "$BENCHTALLY" cohort --out zone.xlsx
cmp all.xlsx zone.xlsx || complain "in another time zone the workbook differs"
mkdir locales
localedef -i de_DE -f UTF-8 "$WORK/locales/de_DE.UTF-8" 2>/dev/null || complain "the locale de_DE could not be made: is the package locales installed?"
expect 0 '' env LOCPATH="$WORK/locales" LC_ALL=de_DE.UTF-8 "$BENCHTALLY" cohort --out comma.xlsx
cmp all.xlsx comma.xlsx || complain "under a decimal comma the workbook differs"
[ "$(sqlite3 "$BENCHTALLY_BOOK" "SELECT count(*) FROM book_entry WHERE kind = 'export'")" -eq 7 ] ||
  complain "not every export is on the book's chain"
expect 0 'every record holds' "$BENCHTALLY" verify
finish
