#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# Rubrics, people, sessions and workbooks in the director's pages.
set -eu
. "$SOURCE_DIR/tests/web/web.sh"
node "$SOURCE_DIR/tests/web/director_pages.mjs"
