#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# The same as of the pages that are read, of what is made by hand: faults in a rubric, a passphrase, a video beside the bench.
set -eu
. "$SOURCE_DIR/tests/web/web.sh"
node "$SOURCE_DIR/tests/web/reading_access.mjs" states
