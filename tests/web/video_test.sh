#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# A second observation from a video file, blind until it is closed, and then side by side with the first.
set -eu
. "$SOURCE_DIR/tests/web/web.sh"
node "$SOURCE_DIR/tests/web/video.mjs"
