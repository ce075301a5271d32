#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# The board of the benches: live, readable, and honest when the connection is lost.
set -eu
. "$SOURCE_DIR/tests/web/web.sh"
node "$SOURCE_DIR/tests/web/board.mjs"
