#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# R as an independent reader of agreement: random tables with ties and holes, each figure made again by R (base, and the
# packages psych and vcd; what those have not, by another computation than ours), and how much longer R takes for it.
set -u
command -v Rscript >/dev/null || { echo "no R here"; exit 77; }
Rscript -e 'quit(status = !all(sapply(c("psych", "vcd"), requireNamespace, quietly = TRUE)))' >/dev/null 2>&1 ||
  { echo "R has no psych or no vcd"; exit 77; }
Rscript --vanilla "$SOURCE_DIR/tests/published/agreement.R" "$BUILD_DIR/tests/agreement_tool" "$WORK"
