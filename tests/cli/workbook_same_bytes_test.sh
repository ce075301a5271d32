#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# The same book gives the same bytes: a second later, in another time zone, on another day, after an export was noted, one
# by one or all at once. Another session does change them.
set -u
. "$SOURCE_DIR/tests/support/cli.sh"
"$BENCHTALLY" rubric add "$SOURCE_DIR"/rubrics/*.yaml >/dev/null
"$BENCHTALLY" person add --from "$SOURCE_DIR/sample_sessions/people.csv" >/dev/null
expect 0 '' "$BENCHTALLY" import "$SOURCE_DIR"/sample_sessions/[!a]*-*.csv
mkdir one two all zone
expect 0 '' "$BENCHTALLY" workbook LK-01 --out one
sleep 1.1
expect 0 '' "$BENCHTALLY" workbook LK-01 --out two
expect 0 '' "$BENCHTALLY" workbook --all --out all
expect 0 '' env TZ=Pacific/Auckland "$BENCHTALLY" workbook LK-01 --out zone
for folder in two all zone; do
  cmp one/LK-01.xlsx "$folder/LK-01.xlsx" || complain "the workbook in $folder differs"
done
expect 0 '' "$BENCHTALLY" import "$SOURCE_DIR/sample_sessions/again-tibia.csv"
expect 0 '' "$BENCHTALLY" workbook LK-01 --out two
! cmp -s one/LK-01.xlsx two/LK-01.xlsx || complain "a new session does not change the workbook"

# A limit that the book fits into but not its workbook. A former workbook stays as it is when the new one cannot be written, and nothing else is left.
cp one/LK-01.xlsx former.xlsx
(ulimit -f 40; "$BENCHTALLY" workbook LK-01 --out one >out 2>err)
[ $? -eq 3 ] || complain "a full disk: exit status not 3: $(cat err)"
grep -q 'LK-01\.xlsx' err || complain "a full disk: the file is not named: $(cat err)"
cmp former.xlsx one/LK-01.xlsx || complain "a full disk spoils the former workbook"
[ "$(ls -A one)" = LK-01.xlsx ] || complain "a full disk leaves $(ls -A one)"
finish
