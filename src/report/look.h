// SPDX-License-Identifier: GPL-3.0-or-later
//
// The colours of everything that people read. None carries meaning alone: a word, a shape or a
// marker goes with it, so that a page in grey says the same.
#ifndef BENCHTALLY_REPORT_LOOK_H
#define BENCHTALLY_REPORT_LOOK_H

typedef enum {
  BT_PAPER = 0xffffff,
  BT_INK = 0x16242c,    // text
  BT_SLATE = 0x53626b,  // secondary text, axes
  BT_LINE = 0xc9d1d6,   // rules, grids; never text
  BT_WASH = 0xf3f5f6,   // banding
  BT_LAGOON = 0x0a6a86, // the accent: this trainee; series 1
  BT_OCHRE = 0x9a5b00,  // attention: not yet, late; series 2
  BT_PLUM = 0x7d2a63,   // critical; series 3
  BT_MOSS = 0x4d6b1f,   // series 4
  BT_STEEL = 0x3f5fa8,  // series 5
  BT_SAND = 0x8a7a55    // series 6: the cohort
} BtColour;

// Fills of cells behind ink, each darker than the one before in grey, too (contrast 13, 10 and 6).
typedef enum { BT_SHADE_1 = 0xf3e9da, BT_SHADE_2 = 0xe3c79c, BT_SHADE_3 = 0xc99a55 } BtShade;

#endif
