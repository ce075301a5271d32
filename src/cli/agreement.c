// SPDX-License-Identifier: GPL-3.0-or-later
#include "cli/agreement.h"

#include <string.h>

#define TOLERANCE_MS 5000
#define DRAWS        1000
#define DRAWS_MOST   100000

static bool scale_given(const char *text, AgreementRequest *request, int *status) {
  int scale = text ? bt_scale_from_name(text) : BT_NOMINAL;
  if (scale < 0)
    *status = cli_usage_error("--scale \"%s\": expected nominal, ordinal, interval or ratio", text);
  request->scale = (BtScale)MAX(scale, 0);
  return scale >= 0;
}

// Weights need an order, so without a scale the ratings are taken as ordinal.
static bool weights_given(const char *text, const char *scale, AgreementRequest *request,
                          int *status) {
  if (!text)
    return true;
  bool linear = g_str_equal(text, "linear"), quadratic = g_str_equal(text, "quadratic");
  request->weights = linear ? BT_WEIGHTS_LINEAR : BT_WEIGHTS_QUADRATIC;
  if (!scale)
    request->scale = BT_ORDINAL;
  if (!linear && !quadratic)
    *status = cli_usage_error("--weights \"%s\": expected linear or quadratic", text);
  else if (request->scale == BT_NOMINAL)
    *status = cli_usage_error("--weights needs ratings with an order: --scale ordinal");
  else
    return true;
  return false;
}

// "5s" as "5 s", the form of durations everywhere else. Caller frees.
static char *with_space(const char *text) {
  gsize number = strspn(text, "0123456789.");
  return g_strdup_printf("%.*s %s", (int)number, text, text + number);
}

static bool tolerance_given(const char *text, AgreementRequest *request, int *status) {
  request->tolerance_ms = TOLERANCE_MS;
  g_autofree char *spaced = text ? with_space(text) : NULL;
  if (!text || bt_duration_parse(text, &request->tolerance_ms) ||
      bt_duration_parse(spaced, &request->tolerance_ms) ||
      bt_clock_parse(text, &request->tolerance_ms))
    return true;
  *status = cli_usage_error("--tolerance \"%s\": expected a time such as 5s or 0:05", text);
  return false;
}

static bool draws_given(int draws, AgreementRequest *request, int *status) {
  request->draws = (guint)MAX(draws, 0);
  if (draws >= 0 && draws <= DRAWS_MOST)
    return true;
  *status = cli_usage_error("--draws %d: expected 0 to %d", draws, DRAWS_MOST);
  return false;
}

int cli_agreement(Cli *cli, int argc, char **argv) {
  int status = 0, edition = CLI_LATEST_EDITION, draws = DRAWS, seed = 1;
  gboolean json = FALSE, wide = FALSE, with_own = FALSE;
  g_autofree char *rubric = NULL, *session = NULL, *tolerance = NULL, *table = NULL, *scale = NULL,
                  *weights = NULL;
  const GOptionEntry entries[] = {
      {"rubric", 0, 0, G_OPTION_ARG_STRING, &rubric, "Sessions of this rubric", "ID"},
      {"edition", 0, 0, G_OPTION_ARG_INT, &edition, "Of this edition; else the latest", "N"},
      {"session", 0, 0, G_OPTION_ARG_STRING, &session,
       "What its assessors saw otherwise, with times", "CODE"},
      {"tolerance", 0, 0, G_OPTION_ARG_STRING, &tolerance,
       "How far apart two entries of one happening may stand (5s)", "TIME"},
      {"with-self", 0, 0, G_OPTION_ARG_NONE, &with_own, "Trainees' own records count too", NULL},
      {"table", 0, 0, G_OPTION_ARG_FILENAME, &table,
       "On ratings of a file: subject, rater, rating and perhaps item", "FILE"},
      {"scale", 0, 0, G_OPTION_ARG_STRING, &scale,
       "Of its ratings: nominal (default), ordinal, interval or ratio", "SCALE"},
      {"weights", 0, 0, G_OPTION_ARG_STRING, &weights, "Weighted kappa: linear or quadratic",
       "KIND"},
      {"draws", 0, 0, G_OPTION_ARG_INT, &draws, "Draws for the limits of alpha (1000; 0: none)",
       "N"},
      {"seed", 0, 0, G_OPTION_ARG_INT, &seed, "Which draws (1)", "N"},
      {"wide", 0, 0, G_OPTION_ARG_NONE, &wide, "Every column, also where the terminal is narrow",
       NULL},
      {"json", 0, 0, G_OPTION_ARG_NONE, &json, "As JSON, every digit", NULL},
      G_OPTION_ENTRY_NULL};
  if (!cli_parse(cli, &argc, &argv, entries, 0, 0, &status) || !cli_take_edition(&edition, &status))
    return status;
  AgreementRequest request = {.json = json,
                              .wide = wide,
                              .with_own = with_own,
                              .seed = (guint32)seed,
                              .rubric = rubric,
                              .edition = edition};
  if (!scale_given(scale, &request, &status) || !weights_given(weights, scale, &request, &status) ||
      !tolerance_given(tolerance, &request, &status) || !draws_given(draws, &request, &status))
    return status;
  if (table && (rubric || session || tolerance || with_own || edition))
    return cli_usage_error("--table takes its ratings from a file; --rubric, --edition, --session, "
                           "--tolerance and --with-self are about the book");
  if (!table && (scale || weights))
    return cli_usage_error("--scale and --weights go with --table");
  return table     ? agreement_of_table(cli, &request, table)
         : session ? agreement_of_session(cli, &request, session)
                   : agreement_of_book(cli, &request);
}
