// SPDX-License-Identifier: GPL-3.0-or-later
#include "serve/serve.h"

bool bt_serve_make_certificate(const char *folder, GError **error) {
  (void)folder;
  g_set_error(error, BT_ERROR, BT_ERROR_OPTION, "not yet");
  return false;
}
