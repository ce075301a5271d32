// SPDX-License-Identifier: GPL-3.0-or-later
//
// The pages and their files, compiled into the program.
#ifndef SERVE_PAGES_H
#define SERVE_PAGES_H

#include "serve/answer.h"

typedef struct BtPages BtPages;

BtPages *bt__pages_new(void);
void bt__pages_free(BtPages *pages); // NULL is allowed

// The file `name`, or 304 when `known_etag` (NULL: none) is the one it has. NULL: no such file.
BtAnswer *bt__pages_answer(const BtPages *pages, const char *name, const char *known_etag);

#endif
