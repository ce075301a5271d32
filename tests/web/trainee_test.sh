#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# What a trainee may see, and in which order.
set -eu
. "$SOURCE_DIR/tests/web/web.sh"
node "$SOURCE_DIR/tests/web/trainee.mjs"
