#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# Progress workbooks read by openpyxl: structure, and every number against `score --json`. With
# BENCHTALLY_OOXML_SCHEMAS naming a folder that holds the ECMA-376 schemas (sml.xsd, dml-chart.xsd ...), each part is
# checked against them with xmllint too.
set -u
. "$SOURCE_DIR/tests/support/cli.sh"
python=/usr/bin/python3
"$python" -c 'import openpyxl' 2>/dev/null || { echo "openpyxl is not there"; exit 77; }
export PYTHONDONTWRITEBYTECODE=1

"$BENCHTALLY" rubric add "$SOURCE_DIR"/rubrics/*.yaml >/dev/null
"$BENCHTALLY" person add --from "$SOURCE_DIR/sample_sessions/people.csv" >/dev/null
expect 0 '' "$BENCHTALLY" import "$SOURCE_DIR"/sample_sessions/*-*.csv
mkdir residency workbooks
trainees=(LK-01 LK-02 LK-03)
if [ -x "$BUILD_DIR/tests/simulate_tool" ]; then
  expect 0 '' "$BUILD_DIR/tests/simulate_tool" residency "$SOURCE_DIR"/rubrics/*.yaml
  "$BENCHTALLY" person add --from residency/people.csv >/dev/null
  expect 0 '' "$BENCHTALLY" import residency/*-*.csv
  trainees+=(R-001 R-013 R-024)
fi

"$BENCHTALLY" sessions --json >sessions.json
"$BENCHTALLY" score --json >scores.json
"$BENCHTALLY" rubric list --json >rubrics.json
expect 0 '' "$BENCHTALLY" workbook "${trainees[@]}" --out workbooks
"$python" "$SOURCE_DIR/tests/cli/workbook_reader.py" sessions.json scores.json rubrics.json workbooks/*.xlsx ||
  complain "openpyxl and score --json do not agree"

# check_part SCHEMA PARTS...
check_part() {
  local schema=$BENCHTALLY_OOXML_SCHEMAS/$1
  shift
  xmllint --noout --nonet --schema "$schema" "$@" >valid 2>&1 || complain "$(grep -v validates valid | head -5)"
}
if [ -n "${BENCHTALLY_OOXML_SCHEMAS:-}" ]; then
  for workbook in workbooks/*.xlsx; do
    rm -rf parts && mkdir parts && (cd parts && "$python" -m zipfile -e "../$workbook" .)
    check_part sml.xsd parts/xl/worksheets/*.xml parts/xl/tables/*.xml parts/xl/{workbook,styles,sharedStrings}.xml
    check_part dml-chart.xsd parts/xl/charts/*.xml
    check_part dml-spreadsheetDrawing.xsd parts/xl/drawings/*.xml
    check_part opc-contentTypes.xsd 'parts/[Content_Types].xml'
    check_part opc-relationships.xsd parts/_rels/.rels parts/xl/_rels/*.rels parts/xl/worksheets/_rels/*.rels
    check_part shared-documentPropertiesExtended.xsd parts/docProps/app.xml
  done
fi
finish
