#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# bench.sh BUILD: speed and memory against stated floors, in one run.
set -euo pipefail
build=$(realpath "$1")
source=$(realpath "$(dirname "$0")/../..")
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
status=0
python3 "$source/tests/bench/bench.py" "$build" "$source" "$work" "${BENCH_EVENTS:-1000000}" || status=1
python3 "$source/tests/bench/serve_bench.py" "$build" "$source" "$work" || status=1
exit "$status"
