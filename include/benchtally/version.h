// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef BENCHTALLY_VERSION_H
#define BENCHTALLY_VERSION_H

#include <glib.h>

#include <benchtally/export.h>

G_BEGIN_DECLS

// The version of the library, "1.2.3"; static.
BT_API const char *bt_version(void);

G_END_DECLS
#endif
