#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# A whole session by touch on a tablet, scored as the same events imported.
set -eu
. "$SOURCE_DIR/tests/web/web.sh"
node "$SOURCE_DIR/tests/web/capture.mjs"
