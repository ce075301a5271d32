// SPDX-License-Identifier: GPL-3.0-or-later
//
// The names and addresses that this machine can be asked by.
#ifndef SERVE_HOSTS_H
#define SERVE_HOSTS_H

#include <benchtally/base.h>

// Those of a server that listens at `address`, in lower case, as keys. Caller frees.
GHashTable *bt__hosts_of(const char *address);

// Whether the address is reached from this machine alone.
bool bt__is_loopback(const char *address);

#endif
