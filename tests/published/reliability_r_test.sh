#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# R as an independent reader of reliability: random tables, complete and with holes, each figure made again by R (psych, lme4,
# mvtnorm, base; what those have not, by another computation than ours), and how much longer R takes for it.
set -u
command -v Rscript >/dev/null || { echo "no R here"; exit 77; }
Rscript -e 'quit(status = !all(sapply(c("psych", "lme4", "mvtnorm"), requireNamespace, quietly = TRUE)))' >/dev/null 2>&1 ||
  { echo "R has no psych, no lme4 or no mvtnorm"; exit 77; }
Rscript --vanilla "$SOURCE_DIR/tests/published/reliability.R" "$BUILD_DIR/tests/reliability_tool" "$WORK"
