// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef BENCHTALLY_MEASURE_NUMERICS_H
#define BENCHTALLY_MEASURE_NUMERICS_H

// GSL ends the program on an error unless it is told not to. Call this before the first call of it
// in every public function; then every code that GSL returns must be looked at.
void bt__gsl_quiet(void);

#endif
