// SPDX-License-Identifier: GPL-3.0-or-later
//
// Statistics as commands print them, one way for all: in words with their form, n and interval, and
// as JSON with every digit.
#ifndef BENCHTALLY_CLI_FIGURE_H
#define BENCHTALLY_CLI_FIGURE_H

#include <benchtally/estimate.h>
#include <jansson.h>

// "0.49 (95 % limits 0.39 to 0.59; standard error 0.05; n 200)", with so many decimals; or "not
// estimable: all ratings are the same (n 12)". Appends to `out`.
void cli_put_figure(GString *out, const BtEstimate *estimate, int decimals);
// A row of a block of figures: the form, padded to `width` columns, then the figure and a newline;
// wrapped to 80 columns, what follows standing under the figure.
void cli_put_figure_row(GString *out, const char *form, int width, const BtEstimate *estimate,
                        int decimals);

// A percentage as outcomes show it: cut, never rounded, to one decimal, so that nothing below a
// mark reads as the mark ("69.9" of 69.96). Caller frees.
char *cli_percent_text(double percent);

// A paragraph, wrapped at spaces to 80 columns, every line indented. Appends to `out`.
void cli_put_paragraph(GString *out, int indent, const char *format, ...) G_GNUC_PRINTF(3, 4);

// {"form": ..., "value": 0.49152542372881358, "n": 200, "se": ..., "low": ..., "high": ...}, or
// {"form": ..., "value": null, "n": 12, "why": "all ratings are the same"}. `form` names the
// statistic and its source ("kappa (Cohen 1960)"). Caller decrefs.
json_t *cli_json_figure(const char *form, const BtEstimate *estimate);
// Appends a document with 17 significant digits, sorted keys, two columns of indent and a newline.
// Takes `document` over.
void cli_put_json(GString *out, json_t *document);

#endif
