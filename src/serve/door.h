// SPDX-License-Identifier: GPL-3.0-or-later
//
// Who tries to log in too often waits: only for the code tried, and only at the address it was
// tried from, so that nobody can lock another out.
#ifndef SERVE_DOOR_H
#define SERVE_DOOR_H

#include <benchtally/base.h>

typedef struct BtDoor BtDoor;

BtDoor *bt__door_new(void);
void bt__door_free(BtDoor *door); // NULL is allowed

// Seconds that this code must still wait at this address; 0: it may be tried. `now_ms` is
// monotonic, here and below.
int bt__door_wait_s(BtDoor *door, const char *address, const char *code, gint64 now_ms);
// Notes how a try went.
void bt__door_tried(BtDoor *door, const char *address, const char *code, bool right, gint64 now_ms);

// Room for the few secrets that may be hashed at once, each in 64 MiB. False: too many wait
// already; else bt__door_leave must follow.
bool bt__door_enter(BtDoor *door);
void bt__door_leave(BtDoor *door);

#endif
