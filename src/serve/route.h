// SPDX-License-Identifier: GPL-3.0-or-later
//
// The routes: one table, which a test walks with every role.
#ifndef SERVE_ROUTE_H
#define SERVE_ROUTE_H

#include "serve/request.h"

// Who may ask (ALL: nobody need be logged in), and what else is so of a route: a page, which shows
// the login form to who is not logged in; a body that may be as large as a rubric.
enum {
  BT_FOR_D = 1,
  BT_FOR_A = 2,
  BT_FOR_T = 4,
  BT_FOR_ALL = 8,
  BT_IS_PAGE = 16,
  BT_IS_LARGE = 32
};
#define BT_FOR_DA  (BT_FOR_D | BT_FOR_A)
#define BT_FOR_DAT (BT_FOR_D | BT_FOR_A | BT_FOR_T)

#define BT_BODY_BYTES_MAX        (64 * 1024)
#define BT_RUBRIC_BODY_BYTES_MAX (1024 * 1024)

struct BtRoute {
  const char *method;
  const char *pattern; // "*" stands for a segment
  unsigned flags;
  BtAnswer *(*handle)(BtRequest *request);
};

extern const BtRoute bt__routes[]; // ends with a row whose method is NULL

// The route of a request; `place` gets what the wildcards stand for, borrowed from the segments.
// NULL: none; *other_method tells that the path is known with another one.
const BtRoute *bt__route_find(const char *method, char **segments, const char *place[BT_PLACES],
                              bool *other_method);

bool bt__route_is_for(const BtRoute *route, BtRole role);

// The handlers ----------------------------------------------------------------

BtAnswer *bt__handle_page(BtRequest *request);
BtAnswer *bt__handle_page_file(BtRequest *request);

BtAnswer *bt__handle_login(BtRequest *request);
BtAnswer *bt__handle_logout(BtRequest *request);
BtAnswer *bt__handle_me(BtRequest *request);
BtAnswer *bt__handle_secret(BtRequest *request);

BtAnswer *bt__handle_people(BtRequest *request);
BtAnswer *bt__handle_add_person(BtRequest *request);
BtAnswer *bt__handle_set_account(BtRequest *request);

BtAnswer *bt__handle_rubrics(BtRequest *request);
BtAnswer *bt__handle_form(BtRequest *request);
BtAnswer *bt__handle_add_rubric(BtRequest *request);

BtAnswer *bt__handle_begin(BtRequest *request);
BtAnswer *bt__handle_observation(BtRequest *request);
BtAnswer *bt__handle_entries(BtRequest *request);
BtAnswer *bt__handle_close(BtRequest *request);
BtAnswer *bt__handle_result(BtRequest *request);

BtAnswer *bt__handle_sessions(BtRequest *request);
BtAnswer *bt__handle_look(BtRequest *request);
BtAnswer *bt__handle_review(BtRequest *request);
BtAnswer *bt__handle_timeline(BtRequest *request);
BtAnswer *bt__handle_progress(BtRequest *request);
BtAnswer *bt__handle_compare(BtRequest *request);

BtAnswer *bt__handle_board(BtRequest *request);
BtAnswer *bt__handle_live(BtRequest *request);

BtAnswer *bt__handle_workbook(BtRequest *request);
BtAnswer *bt__handle_cohort(BtRequest *request);

// Gives `code`, of `role`, a new secret; its logins end but that of `keep_key_sha256` (NULL: all).
BtAnswer *bt__set_secret(BtRequest *request, const char *code, BtRole role, const char *secret,
                         const char *keep_key_sha256);

#endif
