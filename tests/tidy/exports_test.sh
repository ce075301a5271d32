#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# The shared library shows bt_ symbols alone, and every one of them is declared in a public header.
set -u
library=$BUILD_DIR/libbenchtally.so
symbols=$(nm -D --defined-only "$library" | awk '$2 ~ /[TDBR]/ { print $3 }' | grep -vE '^(__asan|__ubsan|__odr_asan|__gcov|__llvm|_init$|_fini$|__bss_start$|_edata$|_end$)')
[ "$(echo "$symbols" | wc -l)" -gt 40 ] || { echo "fewer symbols than the library has: the search is broken"; exit 1; }
status=0
for symbol in $symbols; do
  case $symbol in
  bt_*) grep -rqw "$symbol" "$SOURCE_DIR/include" || { echo "$symbol is exported and in no public header"; status=1; } ;;
  *) echo "$symbol is exported and is no bt_ name"; status=1 ;;
  esac
done
exit $status
