#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# R as an independent reader of learning curves: random tables, each figure of the command made again by R's nls and nlme, and
# the chances of the sums by going through every row of outcomes.
set -u
command -v Rscript >/dev/null || { echo "no R here"; exit 77; }
Rscript -e 'quit(status = !all(sapply(c("nlme", "jsonlite"), requireNamespace, quietly = TRUE)))' >/dev/null 2>&1 ||
  { echo "R has no nlme or no jsonlite"; exit 77; }
Rscript --vanilla "$SOURCE_DIR/tests/published/curve.R" "$BENCHTALLY" "$WORK"
