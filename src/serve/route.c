// SPDX-License-Identifier: GPL-3.0-or-later
#include "serve/route.h"

#include <string.h>

const BtRoute bt__routes[] = {
    {"GET", "/", BT_FOR_DAT | BT_IS_PAGE, bt__handle_page},
    {"GET", "/capture", BT_FOR_DA | BT_IS_PAGE, bt__handle_page},
    {"GET", "/video", BT_FOR_DA | BT_IS_PAGE, bt__handle_page},
    {"GET", "/compare", BT_FOR_DA | BT_IS_PAGE, bt__handle_page},
    {"GET", "/board", BT_FOR_DA | BT_IS_PAGE, bt__handle_page},
    {"GET", "/people", BT_FOR_D | BT_IS_PAGE, bt__handle_page},
    {"GET", "/rubrics", BT_FOR_D | BT_IS_PAGE, bt__handle_page},
    {"GET", "/sessions", BT_FOR_DAT | BT_IS_PAGE, bt__handle_page},
    {"GET", "/mine", BT_FOR_T | BT_IS_PAGE, bt__handle_page},
    {"GET", "/session", BT_FOR_DAT | BT_IS_PAGE, bt__handle_page},
    {"GET", "/pages/*", BT_FOR_ALL, bt__handle_page_file},

    {"POST", "/api/login", BT_FOR_ALL, bt__handle_login},
    {"POST", "/api/logout", BT_FOR_DAT, bt__handle_logout},
    {"GET", "/api/me", BT_FOR_DAT, bt__handle_me},
    {"POST", "/api/secret", BT_FOR_DAT, bt__handle_secret},
    {"GET", "/api/people", BT_FOR_DA, bt__handle_people},
    {"POST", "/api/people", BT_FOR_D, bt__handle_add_person},
    {"POST", "/api/people/*/account", BT_FOR_D, bt__handle_set_account},

    {"GET", "/api/rubrics", BT_FOR_DAT, bt__handle_rubrics},
    {"GET", "/api/rubrics/*/*", BT_FOR_DAT, bt__handle_form},
    {"POST", "/api/rubrics", BT_FOR_D | BT_IS_LARGE, bt__handle_add_rubric},

    {"POST", "/api/observations", BT_FOR_DAT, bt__handle_begin},
    {"GET", "/api/observations/*", BT_FOR_DAT, bt__handle_observation},
    {"POST", "/api/observations/*/entries", BT_FOR_DAT, bt__handle_entries},
    {"POST", "/api/observations/*/close", BT_FOR_DAT, bt__handle_close},
    {"GET", "/api/observations/*/result", BT_FOR_DAT, bt__handle_result},

    {"GET", "/api/sessions", BT_FOR_DAT, bt__handle_sessions},
    {"POST", "/api/sessions/*/look", BT_FOR_T, bt__handle_look},
    {"GET", "/api/sessions/*/review", BT_FOR_DAT | BT_IS_PAGE, bt__handle_review},
    {"GET", "/api/observations/*/timeline.svg", BT_FOR_DAT, bt__handle_timeline},
    {"GET", "/api/trainees/*/progress.svg", BT_FOR_DAT, bt__handle_progress},
    {"GET", "/api/compare", BT_FOR_DAT, bt__handle_compare},

    {"GET", "/api/board", BT_FOR_DA, bt__handle_board},
    {"GET", "/api/live", BT_FOR_DA, bt__handle_live},

    {"GET", "/exports/workbook/*", BT_FOR_D | BT_FOR_T, bt__handle_workbook},
    {"GET", "/exports/cohort.xlsx", BT_FOR_D, bt__handle_cohort},
    {0}};

// Whether the path is of the pattern, whose wildcards go to `place`.
static bool fits(const char *pattern, char **segments, const char *place[BT_PLACES]) {
  const char *at = pattern + 1;
  int places = 0;
  for (char **segment = segments; *segment; segment++) {
    gsize length = strcspn(at, "/");
    bool any = length == 1 && *at == '*';
    if (any ? !**segment : strlen(*segment) != length || memcmp(*segment, at, length) != 0)
      return false;
    if (any)
      place[places++] = *segment;
    at += length;
    if (*at == '\0')
      return segment[1] == NULL;
    at++;
  }
  return false;
}

const BtRoute *bt__route_find(const char *method, char **segments, const char *place[BT_PLACES],
                              bool *other_method) {
  const char *asked = strcmp(method, "HEAD") == 0 ? "GET" : method;
  *other_method = false;
  for (const BtRoute *route = bt__routes; route->method; route++) {
    if (!fits(route->pattern, segments, place))
      continue;
    if (strcmp(route->method, asked) == 0)
      return route;
    *other_method = true;
  }
  return NULL;
}

bool bt__route_is_for(const BtRoute *route, BtRole role) {
  static const unsigned bit[] = {
      [BT_ROLE_TRAINEE] = BT_FOR_T, [BT_ROLE_ASSESSOR] = BT_FOR_A, [BT_ROLE_DIRECTOR] = BT_FOR_D};
  return (route->flags & bit[role]) != 0;
}
