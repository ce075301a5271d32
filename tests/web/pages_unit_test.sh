#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# What of the pages needs no browser: clock, queue, what is expected next, keys. And that every name in the pages' words
# is asked for, and every one that is asked for is there.
set -eu
command -v node >/dev/null || { echo "node is not here"; exit 77; }
node --test --test-reporter=spec "$SOURCE_DIR"/tests/web/*.unit.mjs | tee report
grep -q '^ℹ fail 0' report
[ "$(sed -n 's/^ℹ pass //p' report)" -ge 39 ] || { echo "fewer tests ran than there are"; exit 1; }
