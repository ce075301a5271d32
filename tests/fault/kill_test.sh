#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# A writer killed at any moment leaves the book as it was or complete. By hand, for longer:
# KILL_ROUNDS=2000 KILL_SEED=7 tests/fault/kill_test.sh
set -euo pipefail
mkdir -p kill
timeout 280 "$BUILD_DIR/tests/kill_tool" kill "${KILL_ROUNDS:-60}" "${KILL_SEED:-1}" | tee result
# A run in which nothing was interrupted, or nothing finished, has shown nothing.
grep -Eq ' [1-9][0-9]* imports complete, [1-9][0-9]* as before; [1-9][0-9]* events' result
