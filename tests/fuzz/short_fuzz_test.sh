#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# A short run of every fuzz target; the long one is ./dev fuzz.
set -euo pipefail
command -v clang >/dev/null || { echo "skipped: clang is not installed"; exit 77; }
build=$BUILD_DIR/fuzz
targets=()
for file in "$SOURCE_DIR"/tests/fuzz/*_fuzz.c; do targets+=("$(basename "$file" .c)"); done
cmake -S "$SOURCE_DIR" --preset fuzz -B "$build" >"$WORK/log" 2>&1 && cmake --build "$build" --target "${targets[@]}" \
  >>"$WORK/log" 2>&1 || { tail -n 40 "$WORK/log"; exit 1; }
bash "$SOURCE_DIR/tests/fuzz/run.sh" "$build" "${FUZZ_SECONDS:-6}"
