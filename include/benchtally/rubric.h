// SPDX-License-Identifier: GPL-3.0-or-later
//
// Reading and checking a rubric file.
#ifndef BENCHTALLY_RUBRIC_H
#define BENCHTALLY_RUBRIC_H

#include <benchtally/model.h>

G_BEGIN_DECLS

#define BT_RUBRIC_BYTES_MAX (1024 * 1024)
#define BT_RUBRIC_DEPTH_MAX 16

// Reads the rubric in `text` (`length` bytes; `file` names it in faults, may be NULL). Every fault
// and warning found is appended to `faults` (of BtFault, in order of place; not NULL). Returns the
// rubric, owned by the caller, or NULL when there is at least one fault that is no warning.
BT_API BT_MUST_USE BtRubric *bt_rubric_read(const char *text, gsize length, const char *file,
                                            GPtrArray *faults);

// The same from a file. NULL with `error` set only when the file itself cannot be read (FILE); NULL
// without `error` when it has faults. Caller frees.
BT_API BT_MUST_USE BtRubric *bt_rubric_read_file(const char *path, GPtrArray *faults,
                                                 GError **error);

G_END_DECLS
#endif
