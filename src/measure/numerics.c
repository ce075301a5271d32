// SPDX-License-Identifier: GPL-3.0-or-later
#include "measure/numerics.h"

#include <glib.h>
#include <gsl/gsl_errno.h>

void bt__gsl_quiet(void) {
  static gsize done = 0;
  if (g_once_init_enter(&done)) {
    gsl_set_error_handler_off();
    g_once_init_leave(&done, 1);
  }
}
