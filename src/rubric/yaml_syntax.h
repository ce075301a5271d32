// SPDX-License-Identifier: GPL-3.0-or-later
//
// What libyaml cannot read, in plain words.
#ifndef BENCHTALLY_RUBRIC_YAML_SYNTAX_H
#define BENCHTALLY_RUBRIC_YAML_SYNTAX_H

#include "rubric/report.h"

#include <yaml.h>

// The place of a libyaml mark, which counts characters from 0.
BtPlace bt__place(yaml_mark_t mark);

// Reports why `parser` stopped in `text`. `quote` is where the latest quoted text over several
// lines began and `quote_end_line` the line of its end (0: none), for a quote that was not closed
// often swallows the lines up to the next one.
void bt__syntax_fault(BtReport *report, const yaml_parser_t *parser, const char *text, gsize length,
                      BtPlace quote, int quote_end_line);

#endif
