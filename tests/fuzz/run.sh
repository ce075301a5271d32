#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# run.sh BUILD SECONDS: runs every fuzz target of the build that long, starting from the project's own files. A crash, a
# leak, more than 512 MB or more than 10 s for one input ends it with the input's place.
set -euo pipefail
build=$(realpath "$1") seconds=$2
cd "$(dirname "$0")/../.."
source=$PWD
ran=0
for target in "$build"/tests/*_fuzz; do
  name=$(basename "$target" _fuzz)
  corpus=$build/corpus-$name
  mkdir -p "$corpus"
  seeds=()
  case $name in
  rubric) seeds=(rubrics tests/bad/rubric) ;;
  csv) seeds=(sample_sessions tests/bad/log) ;;
  jsonl) seeds=(tests/bad/log) ;;
  serve) seeds=(tests/fuzz/seeds_serve) ;;
  esac
  echo "$name, $seconds s"
  (cd "$build" && "$target" -max_total_time="$seconds" -max_len=65536 -rss_limit_mb=512 -timeout=10 -print_final_stats=1 \
    "$corpus" "${seeds[@]/#/$source/}" >"$name-fuzz.log" 2>&1) || {
    tail -n 40 "$build/$name-fuzz.log"
    exit 1
  }
  runs=$(awk '/stat::number_of_executed_units/ { print $2 }' "$build/$name-fuzz.log")
  echo "  ${runs:-0} inputs, no finding"
  [ "${runs:-0}" -gt 100 ] || { echo "  too few inputs: the target does not run"; exit 1; }
  ran=$((ran + 1))
done
[ "$ran" -gt 0 ] || { echo "no fuzz target in $build"; exit 1; }
