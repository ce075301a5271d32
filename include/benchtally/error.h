// SPDX-License-Identifier: GPL-3.0-or-later
//
// Errors: one list from which come the enum and the exit status of the command.
#ifndef BENCHTALLY_ERROR_H
#define BENCHTALLY_ERROR_H

#include <glib.h>

#include <benchtally/export.h>

G_BEGIN_DECLS

// X(code, exit status of the command): 1 = the answer is no, 2 = the request was wrong, 3 = the
// machine failed.
#define BT_ERROR_LIST(X)                                                                           \
  X(CHECK_FAILED, 1)   /* a check found faults, a verification failed */                           \
  X(OPTION, 2)         /* an option or argument is wrong */                                        \
  X(FILE, 2)           /* a named file or folder is missing or cannot be read */                   \
  X(RUBRIC, 2)         /* a rubric has faults */                                                   \
  X(LOG, 2)            /* an event file or an event has a fault */                                 \
  X(UNKNOWN, 2)        /* no such trainee, session, rubric, event ... in the book */               \
  X(CONFLICT, 2)       /* what was asked contradicts what the book holds */                        \
  X(NOT_A_BOOK, 2)     /* the file is no book, or is newer than this program */                    \
  X(BOOK_BUSY, 3)      /* another program holds the book */                                        \
  X(BOOK_READ_ONLY, 3) /* the book or its folder cannot be written */                              \
  X(DATABASE, 3)       /* SQLite reported a fault */                                               \
  X(DISK, 3)           /* a file could not be written: disk full, folder gone */                   \
  X(EXPORT, 3)         /* a document could not be made */

typedef enum {
#define BT_ERROR_ENUM(name, status) BT_ERROR_##name,
  BT_ERROR_LIST(BT_ERROR_ENUM)
#undef BT_ERROR_ENUM
} BtErrorCode;

#define BT_ERROR (bt_error_quark())
BT_API GQuark bt_error_quark(void); // the domain of this library's errors

// The exit status the command gives for `error`: that of its code, 3 for an error of another
// domain, 0 for NULL.
BT_API int bt_error_exit_status(const GError *error);

G_END_DECLS
#endif
