// SPDX-License-Identifier: GPL-3.0-or-later
//
// Who may see which record. Blindness: while one's own observation of a session is open, every
// other of it stays closed; a trainee makes an own one first, or says that none will be made.
#ifndef SERVE_ACCESS_H
#define SERVE_ACCESS_H

#include "serve/request.h"

// How a session stands to who asks.
typedef enum {
  BT_SIGHT_CLEAR,
  BT_SIGHT_OWN_OPEN,  // an own observation is open: no other may be seen
  BT_SIGHT_OWN_FIRST, // a trainee who has neither made an own one nor said that none will be
  BT_SIGHT_NONE       // of another trainee: not even that it exists
} BtSight;

// `rows` are all observations (BtSessionRow) of one session; `looked` as bt_book_looked gives it.
BtSight bt__sight_of(const BtLogin *login, const GPtrArray *rows, bool looked);

// Whether the observation may be seen with what it holds: one's own always, another's by the sight
// of its session, and by a trainee only when it is closed.
bool bt__may_see(const BtLogin *login, const BtSessionRow *row, BtSight sight);

// The observation of the route's place, if who asks may see it. NULL: *refusal says why. Caller
// frees both.
BtSessionRow *bt__visible_observation(BtRequest *request, gint64 id, BtAnswer **refusal);

// The number of the route's observation, if it is one's own; else 0, and *refusal says why.
gint64 bt__own_observation(BtRequest *request, BtAnswer **refusal);

// All observations of a session that who asks may know of, and how it stands. NULL as above.
GPtrArray *bt__visible_session(BtRequest *request, const char *code, BtSight *sight,
                               BtAnswer **refusal);

// For what tells of many sessions at once: NULL when each closed session of the trainee (NULL: of
// all), of `rubric` (NULL: of any), that began by `until_ms` may be seen, else why not, naming the
// session.
BtAnswer *bt__check_sights(BtRequest *request, const char *trainee, const char *rubric,
                           gint64 until_ms);

#endif
