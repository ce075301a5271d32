#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# demo.sh BUILD FOLDER: a whole residency of invented people, from rubrics to progress workbooks.
set -euo pipefail
build=$1 folder=$2
benchtally=$build/benchtally
export BENCHTALLY_BOOK=$folder/book.db

# Runs one step; what it says goes to the demo's log and is shown when the step stops the demo.
step() {
  local title=$1
  shift
  printf '%s ... ' "$title"
  if ! "$@" >>"$folder/demo.log" 2>&1; then
    printf 'stopped\n'
    tail -n 20 "$folder/demo.log"
    exit 1
  fi
  printf 'done\n'
}

rm -rf "$folder"
mkdir -p "$folder/residency" "$folder/workbooks"
echo "A residency of invented trainees, in $folder/ (made anew each time)."
step "Six rubrics into the book" "$benchtally" rubric add rubrics/*.yaml
step "Two years of a simulated residency" "$build/tests/simulate_tool" "$folder/residency" rubrics/*.yaml
step "People" "$benchtally" person add --from sample_sessions/people.csv
step "More people" "$benchtally" person add --from "$folder/residency/people.csv"
step "Sessions written by hand" "$benchtally" import sample_sessions/*-*.csv
step "Sessions of the residency" "$benchtally" import "$folder"/residency/*-*.csv
step "A progress workbook for each trainee" "$benchtally" workbook --all --out "$folder/workbooks"
step "Every record checked against its chain" "$benchtally" verify
step "A backup" "$benchtally" backup "$folder/backup.db"

cat <<TXT

Three files most worth opening:
  $folder/workbooks/LK-03.xlsx   an excellent session, and not yet: one critical error decides
  $folder/workbooks/R-018.xlsx   two years in the residency, better from attempt to attempt
  $folder/workbooks/R-022.xlsx   has stopped improving, well below the standard

The book is $folder/book.db. Look around:
  export BENCHTALLY_BOOK=\$PWD/$folder/book.db
  $build/benchtally sessions --trainee LK-03
  $build/benchtally score larkfield-03

A training record, no certificate of clinical competence. Everybody in it is invented.
TXT
