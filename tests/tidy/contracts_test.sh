#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# The public headers are contracts: each function has a comment above it, beside it, or above the run of declarations it
# stands in; and where a function gives a pointer, that comment says whose it is.
set -u
awk '
  function judge(   told) {
    told = run " " beside
    seen++
    if (told !~ /[a-z]/)
      printf "%s:%d: no comment says what this does: %s\n", file, begin, declaration
    else if (declaration ~ /^BT_API (BT_MUST_USE )?[A-Za-z0-9_ ]+\*/ &&
             told !~ /[Ff]rees|[Bb]orrowed|[Oo]wned|[Ss]tatic/)
      printf "%s:%d: no comment says whose the pointer is: %s\n", file, begin, declaration
  }
  FNR == 1 { file = FILENAME; run = ""; declaration = "" }
  declaration != "" { declaration = declaration " " $0 }
  /^BT_API / { declaration = $0; begin = FNR }
  declaration != "" {
    if (!/;/) next
    beside = $0
    if (!sub(/^[^;]*; *\/\//, "", beside)) beside = ""
    judge()
    declaration = ""
    next
  }
  /^\/\/.*--------$/ { run = ""; next }
  /^\/\// { run = (after_comment ? run " " : "") $0; after_comment = 1; next }
  /^G_DEFINE_AUTOPTR/ { next }
  { after_comment = 0 }
  /^$/ { run = "" }
  END { if (seen < 60) print "only " seen " functions were looked at: the search is broken" }
' "$SOURCE_DIR"/include/benchtally/*.h >findings
cat findings
[ ! -s findings ]
