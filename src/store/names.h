// SPDX-License-Identifier: GPL-3.0-or-later
//
// The words of a rubric by name, so that a log of a million events is resolved by look-up.
#ifndef STORE_NAMES_H
#define STORE_NAMES_H

#include <benchtally/model.h>

#include "store/store.h"

// The names of a rubric edition, made once a handle; borrowed from the book.
const BtNames *bt__names(BtBook *book, const BtRubric *rubric);
void bt__names_free(BtNames *names); // NULL is allowed

// What an action is: of a built-in, its kind and -1; of the rubric, WORK and its index. False: it
// is neither.
bool bt__names_action(const BtNames *names, const char *action, BtEventKind *kind, int *index);
int bt__names_site(const BtNames *names, const char *site); // -1: none

#endif
