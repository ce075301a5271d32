#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# The command that writes the director's workbook: what it takes and refuses, what is left out on request, and books with
# next to nothing in them. The numbers are tested by cohort_reader_test.sh.
set -u
. "$SOURCE_DIR/tests/support/cli.sh"
samples=$SOURCE_DIR/sample_sessions

# All texts of a workbook; without a library, so that this runs anywhere.
texts() {
  unzip -p "$1" 'xl/sharedStrings.xml'
}
# expect_text WORKBOOK WORDS, and expect_no_text: an extended regular expression.
expect_text() {
  texts "$1" | grep -qE -- "$2" || complain "no \"$2\" in $1"
}
expect_no_text() {
  ! texts "$1" | grep -qE -- "$2" || complain "\"$2\" in $1"
}

# A book with rubrics and people alone: each sheet says that there is nothing yet.
"$BENCHTALLY" rubric add "$SOURCE_DIR"/rubrics/*.yaml >/dev/null
"$BENCHTALLY" person add --from "$samples/people.csv" >/dev/null
expect 0 '^cohort.xlsx$' "$BENCHTALLY" cohort
expect_text cohort.xlsx 'There is no closed session to report in what was asked for'
expect 0 '' "$BENCHTALLY" cohort --suppress 5 --out empty.xlsx
expect_text empty.xlsx 'There is no closed session'

# One trainee, one session, one assessor.
expect 0 '' "$BENCHTALLY" import "$samples/redo-arch-bars.csv"
expect 0 '^one.xlsx$' "$BENCHTALLY" cohort --out one.xlsx
expect_text one.xlsx '1 trainee, 1 session of 1 exercise, 11 Feb 2026 to 11 Feb 2026\. By the latest sessions 1 is at the standard'
expect_text one.xlsx 'At the standard in every exercise tried\.'
expect_text one.xlsx 'there is only one assessor'
expect_text one.xlsx 'no subject was rated by two assessors'
expect_text one.xlsx 'What could not be estimated, and why'
expect 0 '' "$BENCHTALLY" cohort --suppress 5 --out one-shared.xlsx
expect_text one-shared.xlsx 'For sharing: fewer than 5 trainees, none shown alone'
expect_no_text one-shared.xlsx 'LK-01|Tamsin'

# Undecided alone.
export BENCHTALLY_BOOK=$WORK/undecided.db
"$BENCHTALLY" rubric add "$SOURCE_DIR/rubrics/tibia-frame.yaml" >/dev/null
"$BENCHTALLY" person add --from "$samples/people.csv" >/dev/null
expect 0 '' "$BENCHTALLY" import "$samples/unfinished-tibia.csv"
expect 0 '' "$BENCHTALLY" cohort --out undecided.xlsx
expect_text undecided.xlsx 'undecided, something needed was not assessed'
expect_text undecided.xlsx '◐ Undecided, 63\.4 \(1\)'
expect_text undecided.xlsx '0 are at the standard in every exercise tried; 0 kept back'

# All samples: who is kept back by one critical error stands before who is at the standard; names and scope.
export BENCHTALLY_BOOK=$WORK/all.db
"$BENCHTALLY" rubric add "$SOURCE_DIR"/rubrics/*.yaml >/dev/null
"$BENCHTALLY" person add --from "$samples/people.csv" >/dev/null
"$BENCHTALLY" import "$samples"/*-*.csv >/dev/null
expect 0 '' "$BENCHTALLY" cohort --out all.xlsx
expect_text all.xlsx 'An ankle, lag screw and neutralisation plate: not yet, 86\.2 of 72\.5 % needed, a critical failure or below a floor'
expect_text all.xlsx 'Sorted by need: kept back by a critical failure or a floor in most exercises'
expect_text all.xlsx 'Tamsin Orlebar'
expect_text all.xlsx 'no certificate of clinical competence'
expect 0 '' "$BENCHTALLY" cohort --without-names --out codes.xlsx
expect_no_text codes.xlsx 'Tamsin|Orlebar|Surgeon'
expect_text codes.xlsx 'LK-01'
expect 0 '' "$BENCHTALLY" cohort --rubric tibia-frame --rubric arch-bars --out two.xlsx
expect_text two.xlsx 'Exercises: tibia-frame, arch-bars'
expect_no_text two.xlsx 'An ankle'
expect 0 '' "$BENCHTALLY" cohort --from 2026-03-01 --before 2026-03-05 --out march.xlsx
expect_text march.xlsx 'Sessions from 1 Mar 2026 to before 5 Mar 2026'
expect_no_text march.xlsx 'larkfield-01'
cohort=$("$BENCHTALLY" person list --json | grep -o '"cohort":"[^"]*"' | head -1 | cut -d'"' -f4)
expect 0 '' "$BENCHTALLY" cohort --cohort "$cohort" --out cohort.xlsx
expect_text cohort.xlsx "Cohort $cohort: Overview"

# Refused, with what to do; nothing is written.
expect 2 'the book has no rubric "ankle"; it has: ankle-lag-plate' "$BENCHTALLY" cohort --rubric ankle --out no.xlsx
expect 2 'nobody in the book is of the cohort "1999"; it has: ' "$BENCHTALLY" cohort --cohort 1999 --out no.xlsx
expect 2 '--from: "March" is no date; write it as 2026-03-04' "$BENCHTALLY" cohort --from March --out no.xlsx
expect 2 '--before must be later than --from' "$BENCHTALLY" cohort --from 2026-03-04 --before 2026-03-04 --out no.xlsx
expect 2 '--suppress takes a number from 3 to 100' "$BENCHTALLY" cohort --suppress 2 --out no.xlsx
expect 2 '--suppress takes a number from 3 to 100' "$BENCHTALLY" cohort --suppress -5 --out no.xlsx
expect 2 '' "$BENCHTALLY" cohort LK-01
expect 2 'none/no.xlsx' "$BENCHTALLY" cohort --out none/no.xlsx
expect 2 'nobody has a closed session in what was asked for' "$BENCHTALLY" cohort --from 2030-01-01 --out no.xlsx
[ ! -e no.xlsx ] || complain "a refused request wrote a workbook"

# A former workbook stays when the new one cannot be written; a book that cannot be written gives its workbook all the same.
cp all.xlsx former.xlsx
(ulimit -f 40; "$BENCHTALLY" cohort --out all.xlsx >out 2>err)
[ $? -eq 3 ] || complain "a full disk: exit status not 3: $(cat err)"
cmp former.xlsx all.xlsx || complain "a full disk spoils the former workbook"
[ -z "$(find . -name '.benchtally-*')" ] || complain "a full disk leaves something behind"
[ "$(sqlite3 "$BENCHTALLY_BOOK" "SELECT count(*) FROM book_entry WHERE kind = 'export'")" -eq 5 ] ||
  complain "not every export is on the book's chain"
expect 0 'every record holds' "$BENCHTALLY" verify
finish
