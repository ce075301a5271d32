// SPDX-License-Identifier: GPL-3.0-or-later
#include <benchtally/error.h>

G_DEFINE_QUARK(bt - error - quark, bt_error)

static const int exit_statuses[] = {
#define EXIT_STATUS(name, status) [BT_ERROR_##name] = (status),
    BT_ERROR_LIST(EXIT_STATUS)
#undef EXIT_STATUS
};

int bt_error_exit_status(const GError *error) {
  if (!error)
    return 0;
  if (error->domain != BT_ERROR || error->code < 0 ||
      (gsize)error->code >= G_N_ELEMENTS(exit_statuses))
    return 3;
  return exit_statuses[error->code];
}
