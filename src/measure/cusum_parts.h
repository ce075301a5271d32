// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef BENCHTALLY_MEASURE_CUSUM_PARTS_H
#define BENCHTALLY_MEASURE_CUSUM_PARTS_H

#include <benchtally/cusum.h>

// Sums nearer to each other than this are one: they were reached on different ways.
#define BT__CUSUM_SAME 1e-9

// The sum after one more attempt, and whether a sum is a signal.
double bt__cusum_next(const BtCusum *chart, double sum, bool passed);
bool bt__cusum_signals(const BtCusum *chart, double sum);

#endif
