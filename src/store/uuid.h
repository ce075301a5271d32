// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef STORE_UUID_H
#define STORE_UUID_H

#include <benchtally/base.h>

#define BT_UUID_LENGTH 36

// A new UUID version 7 (RFC 9562 section 5.7): the time in ms, then random bits; lower case.
void bt__uuid_v7(gint64 now_ms, char uuid[BT_UUID_LENGTH + 1]);

#endif
