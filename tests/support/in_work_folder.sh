#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# Runs one shell test in an empty folder of its own ($WORK) that goes afterwards. Keep it with KEEP=1.
set -eu
WORK=$(mktemp -d)
export WORK
[ -n "${KEEP:-}" ] && echo "work folder: $WORK" || trap 'chmod -R u+w "$WORK" 2>/dev/null; rm -rf "$WORK"' EXIT
cd "$WORK"
bash "$1"
