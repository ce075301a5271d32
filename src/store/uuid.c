// SPDX-License-Identifier: GPL-3.0-or-later
#include "store/uuid.h"

#include <sodium.h>
#include <string.h>

static bool is_dash(int place) {
  return place == 8 || place == 13 || place == 18 || place == 23;
}

void bt__uuid_v7(gint64 now_ms, char uuid[BT_UUID_LENGTH + 1]) {
  guint8 bytes[16];
  randombytes_buf(bytes, sizeof bytes);
  for (int i = 0; i < 6; i++)
    bytes[i] = (guint8)(now_ms >> (8 * (5 - i)));
  bytes[6] = (guint8)(0x70 | (bytes[6] & 0x0f)); // the version
  bytes[8] = (guint8)(0x80 | (bytes[8] & 0x3f)); // the variant
  char hex[33];
  bt_hex(bytes, sizeof bytes, hex);
  const char *digit = hex;
  for (int i = 0; i < BT_UUID_LENGTH; i++)
    uuid[i] = is_dash(i) ? '-' : *digit++;
  uuid[BT_UUID_LENGTH] = '\0';
}
