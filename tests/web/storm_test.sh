#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# Entries logged while the network goes, the server is killed, pages are reloaded and two tabs are open: none lost, none
# twice, order kept.
set -eu
. "$SOURCE_DIR/tests/web/web.sh"
node "$SOURCE_DIR/tests/web/storm.mjs" "${SEED:-1}" "${ROUNDS:-100}"
