// SPDX-License-Identifier: GPL-3.0-or-later
//
// Phrases that the faults of the log share.
#ifndef BT_LOG_WORDING_H
#define BT_LOG_WORDING_H

#include <glib.h>

// The ids of `n` things of `size` bytes that each begin with a pointer to their id. The caller
// frees the array, not its strings.
const char **bt__ids(const void *things, int n, gsize size);

// What to do about an unknown `word`: did you mean "plate"? or, when nothing is near, the names
// there are (a long list is cut). NULL when there are no names. Caller frees.
char *bt__meant_or_any(const char *word, const char *const *names, gsize n);

#endif
