#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Struck and amended events, in the book, against the oracle on the log that remains.
set -eu
python=/usr/bin/python3
[ -x "$python" ] || python=python3
if ! "$python" -c 'import yaml' 2>/dev/null; then
  echo "skipped: the oracle needs python3-yaml"
  exit 77
fi
"$python" "$SOURCE_DIR/tests/oracle/corrections.py" "$BENCHTALLY" "${ORACLE_FIRST:-1}" \
  "${ORACLE_SEEDS:-15}"
