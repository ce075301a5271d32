#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# Names that break careless exports: quotes, an emoji, right-to-left text, what a spreadsheet takes for a formula, what
# XML takes for markup, what the file format takes for an escape. Each comes out of the workbook as it went in.
set -u
. "$SOURCE_DIR/tests/support/cli.sh"
python=/usr/bin/python3
"$python" -c 'import openpyxl' 2>/dev/null || { echo "openpyxl is not there"; exit 77; }
export PYTHONDONTWRITEBYTECODE=1

names=('=cmd()' '+1-2' '@SUM(A1)' 'Ann "Quote" O'\''Nil' '🦴 Bone 👩🏽‍⚕️' 'שירה בן־דוד' 'علياء' '<b>&amp;</b> & Sons' '_x0041_' '&P of &N &D'
  'Renée Ångström-Łukasiewicz' "$(printf 'n%.0s' $(seq 200))")
"$BENCHTALLY" rubric add "$SOURCE_DIR/rubrics/arch-bars.yaml" >/dev/null
"$BENCHTALLY" person add AS-3 --role assessor --name '=HYPERLINK("x")' >/dev/null
for i in "${!names[@]}"; do
  expect 0 '' "$BENCHTALLY" person add "N-$i" --role trainee --name "${names[$i]}" --level '=1+1' --cohort '"2026"'
  sed "s/LK-01/N-$i/g; s/larkfield-04/names-$i/g" "$SOURCE_DIR/sample_sessions/redo-arch-bars.csv" >"names-$i.csv"
  expect 0 '' "$BENCHTALLY" import "names-$i.csv"
  expect 0 '' "$BENCHTALLY" workbook "N-$i"
  printf '%s\0' "${names[$i]}" >>names
done

"$python" - "${#names[@]}" <<'PY' || complain "a name did not come through"
import sys, warnings
import openpyxl
warnings.simplefilter("error")
with open("names", "rb") as file:
    names = file.read().decode().split("\0")[:-1]
assert len(names) == int(sys.argv[1])
faults = 0
for i, name in enumerate(names):
    book = openpyxl.load_workbook(f"N-{i}.xlsx")
    title = book["Summary"]["A1"].value
    assessor = book["Sessions"]["F5"].value
    formulas = [c.coordinate for sheet in book for row in sheet.iter_rows() for c in row if c.data_type == "f"]
    for what, got, wanted in (("name", title, name + ": Summary"), ("property", book.properties.title, "Progress of " + name),
                              ("assessor", assessor, '=HYPERLINK("x") (AS-3)'), ("formulas", formulas, [])):
        if got != wanted:
            faults += 1
            print(f"N-{i}: {what}: {got!r}, and should be {wanted!r}")
sys.exit(faults > 0)
PY
finish
