#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# Four benches on one tablet; logins that end; entries left on a tablet.
set -eu
. "$SOURCE_DIR/tests/web/web.sh"
node "$SOURCE_DIR/tests/web/benches.mjs"
