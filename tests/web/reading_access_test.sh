#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# Whether everyone can use the pages that are read: axe, sizes of targets, 320 px, 400 % zoom, light and dark.
set -eu
. "$SOURCE_DIR/tests/web/web.sh"
node "$SOURCE_DIR/tests/web/reading_access.mjs"
