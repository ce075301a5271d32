#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# Whether everyone can use the pages: axe, the keyboard alone, sizes of targets, 320 px and 400 % zoom, dark and light.
# With SHOTS=folder it keeps a picture of every page at every size, to be looked at.
set -eu
. "$SOURCE_DIR/tests/web/web.sh"
node "$SOURCE_DIR/tests/web/access.mjs"
