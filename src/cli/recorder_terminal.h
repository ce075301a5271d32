// SPDX-License-Identifier: GPL-3.0-or-later
//
// The terminal under the recorder's screen: keys in, text out.
#ifndef BENCHTALLY_CLI_RECORDER_TERMINAL_H
#define BENCHTALLY_CLI_RECORDER_TERMINAL_H

#include "cli/recorder.h"

// Colour pairs; without colour they change nothing.
enum { COLOUR_ACCENT = 1, COLOUR_ATTENTION };

void recorder_screen_open(void);
void recorder_screen_close(void);
// Waits up to 200 ms for a key; 0: none came.
gunichar recorder_screen_key(void);

// Draws the whole screen.
void recorder_screen_draw(const Recorder *recorder);
// The cautions of the rubric, to be acknowledged; false: left.
bool recorder_screen_cautions(const BtRubric *rubric, const BtHeader *header);

// How many columns `text` takes.
int recorder_text_width(const char *text);
// Text at a place, cut to `width` columns with an ellipsis.
void recorder_put(int row, int column, int width, const char *text);
void recorder_put_printf(int row, int column, int width, const char *format, ...)
    G_GNUC_PRINTF(4, 5);
// Lays `text` out in at most `rows` lines of at most `width` columns; returns how many it took.
int recorder_put_wrapped(int row, int rows, int column, int width, const char *text);
// The clock in figures three rows high that end before column `right`; returns how many columns to
// leave to it, 0 on a terminal that cannot show them.
int recorder_put_clock(int row, int right, const char *clock);

#endif
