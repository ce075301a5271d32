// SPDX-License-Identifier: GPL-3.0-or-later
//
// Values of details: "6 mm", "14..18 mm", "..18 mm", "1..12", words, and lists of these.
#include "rubric/reader.h"

#include <string.h>

typedef enum {
  RANGE_GOOD,
  RANGE_NO_NUMBER,
  RANGE_NO_UNIT,
  RANGE_JOINED,
  RANGE_OTHER_UNIT,
  RANGE_A_UNIT, // where there is none
  RANGE_DECIMALS,
  RANGE_NOT_WHOLE,
  RANGE_BACKWARDS
} RangeFault;

static const char *const range_wrong[] = {
    [RANGE_NO_NUMBER] = "no number or range",
    [RANGE_NO_UNIT] = "a value without its unit",
    [RANGE_JOINED] = "a value without a space before its unit",
    [RANGE_OTHER_UNIT] = "a value in another unit than the detail's",
    [RANGE_A_UNIT] = "a value with a unit where there is none",
    [RANGE_DECIMALS] = "a number with more than three decimals",
    [RANGE_NOT_WHOLE] = "not whole",
    [RANGE_BACKWARDS] = "a range that ends before it begins",
};

// A plain decimal but for having too many decimals.
static bool has_more_decimals(const char *text) {
  text += *text == '-';
  gsize whole = strspn(text, "0123456789");
  if (whole == 0 || text[whole] != '.')
    return false;
  gsize part = strspn(text + whole + 1, "0123456789");
  return part > 3 && !text[whole + 1 + part];
}

// One end of a range; "" is no end.
static RangeFault parse_end(const char *text, bool *has, gint64 *milli) {
  *has = text[0] != '\0';
  if (!*has || bt_decimal_parse(text, milli))
    return RANGE_GOOD;
  return has_more_decimals(text) ? RANGE_DECIMALS : RANGE_NO_NUMBER;
}

static RangeFault parse_ends(char *numbers, BtRange *range) {
  char *dots = strstr(numbers, "..");
  if (dots)
    *dots = '\0';
  RangeFault fault = parse_end(numbers, &range->has_lo, &range->lo_milli);
  if (fault != RANGE_GOOD)
    return fault;
  if (!dots) {
    range->has_hi = range->has_lo;
    range->hi_milli = range->lo_milli;
  } else {
    fault = parse_end(dots + 2, &range->has_hi, &range->hi_milli);
  }
  if (fault != RANGE_GOOD)
    return fault;
  return range->has_lo || range->has_hi ? RANGE_GOOD : RANGE_NO_NUMBER;
}

static RangeFault check_unit(const char *written, const char *unit) {
  if (!unit)
    return written ? RANGE_A_UNIT : RANGE_GOOD;
  if (!written)
    return RANGE_NO_UNIT;
  return strcmp(written, unit) == 0 ? RANGE_GOOD : RANGE_OTHER_UNIT;
}

static bool whole(const BtRange *range) {
  return range->lo_milli % 1000 == 0 && range->hi_milli % 1000 == 0;
}

static RangeFault parse_range(const char *text, const char *unit, BtRange *range) {
  g_auto(GStrv) parts = g_strsplit(text, " ", 2);
  *range = (BtRange){0};
  if (unit && !parts[1] && g_str_has_suffix(parts[0], unit))
    return RANGE_JOINED;
  RangeFault fault = parse_ends(parts[0], range);
  if (fault != RANGE_GOOD)
    return fault;
  fault = check_unit(parts[1], unit);
  if (fault != RANGE_GOOD)
    return fault;
  if (!unit && !whole(range))
    return RANGE_NOT_WHOLE;
  bool backwards = range->has_lo && range->has_hi && range->lo_milli > range->hi_milli;
  return backwards ? RANGE_BACKWARDS : RANGE_GOOD;
}

static char *range_example(const char *unit) {
  return unit ? g_strdup_printf("expected a value or range in %s, as in \"6 %s\", \"4..8 %s\", "
                                "\"..8 %s\" or \"4.. %s\"",
                                unit, unit, unit, unit, unit)
              : g_strdup("expected a whole number or a range of them, as in 6, 4..8, ..8 or 4..");
}

bool bt__read_range(BtReader *reader, const BtNode *node, const char *unit, BtRange *range) {
  g_autofree char *expected = range_example(unit);
  if (!bt__is(reader, node, BT_NODE_TEXT, expected))
    return false;
  BtRange read;
  RangeFault fault = parse_range(node->text, unit, &read);
  if (fault != RANGE_GOOD)
    bt__refuse(reader, node, range_wrong[fault], expected);
  else
    *range = read;
  return fault == RANGE_GOOD;
}

bool bt__read_measured(BtReader *reader, const BtNode *node, const char *unit, gint64 *milli) {
  g_autofree char *expected =
      g_strdup_printf("expected one value in %s, as in \"2 %s\"", unit, unit);
  if (!bt__is(reader, node, BT_NODE_TEXT, expected))
    return false;
  BtRange range;
  RangeFault fault = parse_range(node->text, unit, &range);
  bool single = !strstr(node->text, "..");
  if (fault != RANGE_GOOD || !single) {
    bt__refuse(reader, node, fault != RANGE_GOOD ? range_wrong[fault] : "a range", expected);
    return false;
  }
  *milli = range.lo_milli;
  return true;
}

static void read_word(BtReader *reader, const BtNode *node, const BtDetail *detail,
                      BtAllowed *allowed) {
  int word = bt__choose(reader, node, (const char *const *)detail->words, (gsize)detail->n_words);
  for (int i = 0; i < allowed->n_words; i++) {
    if (allowed->words[i] == word) {
      bt__refuse(reader, node, "listed twice", "list it once");
      return;
    }
  }
  if (word >= 0)
    allowed->words[allowed->n_words++] = word;
}

// Reads one value of a detail into the next place of `allowed`.
static void read_one(BtReader *reader, const BtNode *node, const BtDetail *detail,
                     BtAllowed *allowed) {
  if (detail->kind == BT_DETAIL_WORD)
    read_word(reader, node, detail, allowed);
  else if (bt__read_range(reader, node, detail->unit, &allowed->ranges[allowed->n_ranges]))
    allowed->n_ranges++;
}

bool bt__read_allowed(BtReader *reader, const BtNode *node, const BtDetail *detail,
                      BtAllowed *allowed) {
  bool list = node->kind == BT_NODE_LIST;
  gsize n = list ? (gsize)node->n : 1;
  if (n == 0) {
    g_autofree char *name = bt__name_of(node);
    bt__fault(&reader->report, node->place, "expected at least one value", "%s is an empty list",
              name);
    return false;
  }
  allowed->ranges = bt_rubric_alloc(reader->rubric, n, sizeof *allowed->ranges);
  allowed->words = bt_rubric_alloc(reader->rubric, n, sizeof *allowed->words);
  for (const BtNode *item = list ? node->first : node; item; item = list ? item->next : NULL)
    read_one(reader, item, detail, allowed);
  return allowed->n_ranges + allowed->n_words > 0;
}
