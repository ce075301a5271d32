# SPDX-License-Identifier: GPL-3.0-or-later
# For tests in a browser: where node's packages and Chromium are; skips the test where they cannot be.
WEB_MODULES=$SOURCE_DIR/build/web/node_modules
CHROMIUM=$(command -v chromium || command -v chromium-browser || true)
command -v node >/dev/null || { echo "node is not here"; exit 77; }
[ -n "$CHROMIUM" ] || { echo "Chromium is not here"; exit 77; }
[ -d "$WEB_MODULES/playwright-core" ] || { echo "the packages of tests/web/package.json are not here; ./dev test installs them"; exit 77; }
export WEB_MODULES CHROMIUM
