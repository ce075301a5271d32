// SPDX-License-Identifier: GPL-3.0-or-later
#include <benchtally/version.h>

const char *bt_version(void) {
  return BENCHTALLY_VERSION;
}
