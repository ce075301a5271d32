#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# A full disk, a read-only place, a locale with a decimal comma.
set -u
. "$SOURCE_DIR/tests/support/cli.sh"
small_book
cp "$SOURCE_DIR/sample_sessions/people.csv" .
"$BENCHTALLY" rubric add "$SOURCE_DIR"/rubrics/*.yaml >/dev/null
"$BENCHTALLY" person add --from people.csv >/dev/null
sessions=("$SOURCE_DIR"/sample_sessions/[!p]*.csv)

# A disk that takes no more: files may grow to a limit only.
before=$(dump "$BENCHTALLY_BOOK")
(ulimit -f 100; "$BENCHTALLY" import "${sessions[@]}" >out 2>err)
[ $? -eq 3 ] || complain "import to a full disk: exit status not 3: $(cat err)"
grep -qi 'disk' err || complain "import to a full disk does not say so: $(cat err)"
expect 0 'every record holds' "$BENCHTALLY" verify
sqlite3 "$BENCHTALLY_BOOK" 'PRAGMA integrity_check' | grep -qx ok || complain "the book is damaged by a full disk"
# What had been taken in before the limit is whole files; the rest comes when there is room.
expect 0 '' "$BENCHTALLY" import "${sessions[@]}"
[ "$(dump "$BENCHTALLY_BOOK")" != "$before" ] || complain "nothing was taken in"

mkdir workbooks
trainee=$("$BENCHTALLY" sessions --of-record | awk 'NR == 2 { print $2 }')
(ulimit -f 8; "$BENCHTALLY" workbook "$trainee" --out workbooks >out 2>err)
[ $? -eq 3 ] || complain "a workbook to a full disk: exit status not 3: $(cat err)"
[ -z "$(ls workbooks)" ] || complain "a workbook to a full disk leaves $(ls workbooks)"
(ulimit -f 8; "$BENCHTALLY" backup copy.db >out 2>err)
[ $? -eq 3 ] || complain "a backup to a full disk: exit status not 3: $(cat err)"
[ -z "$(ls | grep copy)" ] || complain "a backup to a full disk leaves $(ls | grep copy)"
expect 0 'copied and checked' "$BENCHTALLY" backup copy.db
expect 2 'copy\.db' "$BENCHTALLY" backup copy.db
expect 0 'every record holds' "$BENCHTALLY" --book copy.db verify

# A read-only place: it can be read and exported, not written.
mkdir sealed
if [ "$(id -u)" -ne 0 ]; then
  cp "$BENCHTALLY_BOOK" sealed/book.db
  chmod 400 sealed/book.db
  chmod 500 sealed
  sealed=1
elif mount -t tmpfs none sealed 2>/dev/null; then
  cp copy.db sealed/book.db
  mount -o remount,ro sealed
  trap 'umount "$WORK/sealed"' EXIT
  sealed=1
else
  sealed=0
fi
if [ "$sealed" -eq 1 ]; then
  expect 0 "$trainee" "$BENCHTALLY" --book sealed/book.db sessions
  expect 3 'sealed/book\.db' "$BENCHTALLY" --book sealed/book.db import "${sessions[0]}"
  expect 3 'sealed/book\.db' "$BENCHTALLY" --book sealed/book.db person add X-1 --role trainee
  expect 0 'does not note it' "$BENCHTALLY" --book sealed/book.db workbook "$trainee" --out workbooks
fi

# A locale with a decimal comma changes no byte.
"$BENCHTALLY" workbook "$trainee" --out workbooks >/dev/null
"$BENCHTALLY" score --json >plain.json
mkdir locales comma
if localedef -i de_DE -f UTF-8 "$WORK/locales/de_DE.UTF-8" 2>/dev/null; then
  export LOCPATH=$WORK/locales
  LC_ALL=de_DE.UTF-8 "$BENCHTALLY" workbook "$trainee" --out comma >/dev/null
  cmp "workbooks/$trainee.xlsx" "comma/$trainee.xlsx" || complain "a locale with a decimal comma changes the workbook"
  LC_ALL=de_DE.UTF-8 "$BENCHTALLY" score --json >comma.json
  cmp plain.json comma.json || complain "a locale with a decimal comma changes the ledger"
  unset LOCPATH
else
  complain "the locale de_DE could not be made: is the package locales installed?"
fi
finish
