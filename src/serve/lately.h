// SPDX-License-Identifier: GPL-3.0-or-later
//
// What happened in the last while, by a key: for what is to be done once in that time.
#ifndef SERVE_LATELY_H
#define SERVE_LATELY_H

#include <benchtally/base.h>

typedef struct BtLately BtLately;

BtLately *bt__lately_new(gint64 while_ms);
void bt__lately_free(BtLately *lately); // NULL is allowed

// Whether the key was added less than the while ago.
bool bt__lately(BtLately *lately, const char *key);
void bt__lately_add(BtLately *lately, const char *key);

#endif
