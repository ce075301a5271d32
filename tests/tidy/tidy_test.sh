#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# The rules of the house that a machine can check. Each finding names its place.
set -u
cd "$SOURCE_DIR"
status=0
finding() {
  echo "$1"
  status=1
}

sources=$(find src include tests -name '*.[ch]' | sort)
[ "$(echo "$sources" | wc -l)" -gt 30 ] || finding "fewer sources found than there are: the search is broken"

# Each file says its licence in its first line.
unsigned=$(awk 'FNR == 1 && !/SPDX-License-Identifier: GPL-3.0-or-later/ { print FILENAME ":1: no SPDX line" }' $sources)
[ -z "$unsigned" ] || finding "$unsigned"

# Functions that this project does not use, each with what stands in for it.
while read -r word instead; do
  hits=$(grep -nE "(^|[^a-zA-Z_])$word\(" $sources | grep -v '//' || true)
  [ -z "$hits" ] || finding "$hits: $word; use $instead"
done <<'TXT'
sprintf g_strdup_printf
strcpy g_strdup
strcat GString
strtok g_strsplit
gmtime GDateTime
localtime GDateTime
gets bt_file_read
TXT
grep -nE '\b(TO[D]O|FIX[M]E|XX[X]|HAC[K])\b' $sources && finding "unfinished work is no comment: do it, or file it"

# A section begins with its title and a ruler to column 80, in one line.
rulers=$(grep -nE '^(//|#).*--------$' $sources dev $(find tests -name '*.sh' -o -name '*.py') |
  awk '{ line = $0; sub(/^[^:]*:[^:]*:/, "", line)
         if (length(line) != 80 || line ~ /^(\/\/|#) *-+$/) print $0 ": no ruler of a title to column 80" }')
[ -z "$rulers" ] || finding "$rulers"

# One door to SQL.
hits=$(grep -ln 'sqlite3\.h' $(find src -name '*.[ch]') | grep -v '^src/store/' || true)
[ -z "$hits" ] || finding "$hits: sqlite3.h outside src/store"

# Scoring knows no floating point.
hits=$(grep -nE '\b(double|float)\b' src/score/*.[ch] src/model/*.[ch] src/base/*.[ch] src/log/resolve*.c | grep -v '//' || true)
[ -z "$hits" ] || finding "$hits: floating point where points are exact"

# Long files and long functions: each is perhaps two things.
large=$(wc -l $sources | awk '$1 > 700 && $2 != "total" { print $2 ": " $1 " lines; at most 700" }')
[ -z "$large" ] || finding "$large"
long=$(awk '
  FNR == 1 { begin = 0 }
  /^[a-zA-Z_].*\) \{$/ || (/^ .*\) \{$/ && pending) { begin = FNR; name = $0 }
  { pending = (/^[a-zA-Z_][^;{]*[,(]$/) || (pending && !/[;{]$/) }
  /^}/ { if (begin && FNR - begin + 1 > 70) printf "%s:%d: %d lines: %s\n", FILENAME, begin, FNR - begin + 1, name; begin = 0 }
' $(find src -name '*.c'))
[ -z "$long" ] || finding "$long; at most 70 lines a function"
exit $status
