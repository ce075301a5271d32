// SPDX-License-Identifier: GPL-3.0-or-later
#include <benchtally/error.h>

G_DEFINE_QUARK(bt - error - quark, bt_error)

static const struct {
  const char *name;
  int exit_status;
} codes[] = {
#define CODE_ROW(name, status) {#name, status},
    BT_ERROR_LIST(CODE_ROW)
#undef CODE_ROW
};

int bt_error_exit_status(const GError *error) {
  if (!error)
    return 0;
  if (error->domain != BT_ERROR || error->code < 0 || (gsize)error->code >= G_N_ELEMENTS(codes))
    return 3;
  return codes[error->code].exit_status;
}

const char *bt_error_name(int code) {
  return code >= 0 && (gsize)code < G_N_ELEMENTS(codes) ? codes[code].name : "UNKNOWN_CODE";
}
