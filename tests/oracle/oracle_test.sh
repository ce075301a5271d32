#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# The engine against the oracle, a second and independent reading of the scoring law: the cases
# worked by hand first, then drawn rubrics and logs, compared field by field.
# ORACLE_FIRST and ORACLE_SEEDS choose other seeds; a difference is shrunk and printed.
set -eu
python=/usr/bin/python3
[ -x "$python" ] || python=python3
if ! "$python" -c 'import yaml' 2>/dev/null; then
  echo "skipped: the oracle needs python3-yaml"
  exit 77
fi
"$python" "$SOURCE_DIR/tests/oracle/cases.py" "$SOURCE_DIR/tests/cases"
"$python" "$SOURCE_DIR/tests/oracle/differ.py" "$BENCHTALLY" "${ORACLE_FIRST:-1}" \
  "${ORACLE_SEEDS:-250}" --seconds "${ORACLE_SECONDS:-50}"
