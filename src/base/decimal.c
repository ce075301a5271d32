// SPDX-License-Identifier: GPL-3.0-or-later
#include <benchtally/base.h>

#include <string.h>

__extension__ typedef __int128 Wide;

// Reads digits into *value while it stays at or below `max`; NULL when there is none or it grows
// beyond.
static const char *read_digits(const char *p, gint64 max, gint64 *value) {
  if (!g_ascii_isdigit(*p))
    return NULL;
  gint64 v = 0;
  for (; g_ascii_isdigit(*p); p++) {
    v = v * 10 + (*p - '0');
    if (v > max)
      return NULL;
  }
  *value = v;
  return p;
}

// Reads "" or "." and one to three digits as thousandths; NULL when it is neither.
static const char *read_thousandths(const char *p, gint64 *thousandths) {
  *thousandths = 0;
  if (*p != '.')
    return p;
  p++;
  if (!g_ascii_isdigit(*p))
    return NULL;
  int scale = 100;
  for (; g_ascii_isdigit(*p); p++, scale /= 10) {
    if (scale == 0)
      return NULL;
    *thousandths += scale * (*p - '0');
  }
  return p;
}

static const char *read_decimal(const char *p, gint64 *milli) {
  gint64 whole = 0, part = 0;
  p = read_digits(p, BT_VALUE_MILLI_MAX / 1000, &whole);
  p = p ? read_thousandths(p, &part) : NULL;
  if (p)
    *milli = whole * 1000 + part;
  return p && *milli <= BT_VALUE_MILLI_MAX ? p : NULL;
}

bool bt_decimal_parse(const char *text, gint64 *milli) {
  bool negative = *text == '-';
  gint64 value = 0;
  const char *end = read_decimal(text + negative, &value);
  if (!end || *end)
    return false;
  *milli = negative ? -value : value;
  return true;
}

char *bt_decimal_format_cut(gint64 milli, int decimals) {
  static const gint64 step[] = {1000, 100, 10, 1};
  gint64 magnitude = milli < 0 ? -milli : milli;
  magnitude -= magnitude % step[decimals];
  const char *sign = milli < 0 && magnitude > 0 ? "-" : "";
  if (decimals == 0)
    return g_strdup_printf("%s%" G_GINT64_FORMAT, sign, magnitude / 1000);
  return g_strdup_printf("%s%" G_GINT64_FORMAT ".%0*" G_GINT64_FORMAT, sign, magnitude / 1000,
                         decimals, magnitude % 1000 / step[decimals]);
}

char *bt_decimal_format(gint64 milli) {
  int decimals = milli % 1000 == 0 ? 0 : milli % 100 == 0 ? 1 : milli % 10 == 0 ? 2 : 3;
  return bt_decimal_format_cut(milli, decimals);
}

gint64 bt_round_ratio(gint64 a, gint64 b, gint64 den) {
  Wide product = (Wide)a * b;
  Wide doubled = product < 0 ? -product * 2 : product * 2;
  gint64 rounded = (gint64)((doubled + den) / (2 * (Wide)den));
  return product < 0 ? -rounded : rounded;
}

// Durations and clock times ---------------------------------------------------

bool bt_duration_parse(const char *text, gint64 *ms) {
  static const struct {
    const char *unit;
    gint64 ms;
  } units[] = {{" s", 1000}, {" min", 60 * 1000}, {" h", 60 * 60 * 1000}};
  gint64 milli = 0;
  const char *rest = read_decimal(text, &milli);
  for (gsize i = 0; rest && i < G_N_ELEMENTS(units); i++) {
    if (strcmp(rest, units[i].unit) != 0)
      continue;
    gint64 value = milli * units[i].ms / 1000;
    if (value > BT_DURATION_MS_MAX)
      return false;
    *ms = value;
    return true;
  }
  return false;
}

bool bt_clock_parse(const char *text, gint64 *ms) {
  gint64 part[3] = {0, 0, 0};
  int n = 0;
  const char *p = text;
  for (;;) {
    p = read_digits(p, BT_DURATION_MS_MAX / 1000, &part[n]);
    if (!p)
      return false;
    n++;
    if (*p != ':' || n == 3)
      break;
    p++;
    // After a colon there are two digits, so that "1:5" is refused rather than guessed at.
    if (!g_ascii_isdigit(p[0]) || !g_ascii_isdigit(p[1]) || g_ascii_isdigit(p[2]))
      return false;
  }
  gint64 fraction = 0;
  p = read_thousandths(p, &fraction);
  if (!p || *p)
    return false;
  if ((n > 1 && part[n - 1] > 59) || (n > 2 && part[1] > 59))
    return false;
  gint64 seconds = n == 1   ? part[0]
                   : n == 2 ? part[0] * 60 + part[1]
                            : part[0] * 3600 + part[1] * 60 + part[2];
  gint64 value = seconds * 1000 + fraction;
  if (value > BT_DURATION_MS_MAX)
    return false;
  *ms = value;
  return true;
}

char *bt_clock_format(gint64 ms) {
  int seconds = (int)(ms / 1000);
  if (seconds < 3600)
    return g_strdup_printf("%d:%02d", seconds / 60, seconds % 60);
  return g_strdup_printf("%d:%02d:%02d", seconds / 3600, seconds / 60 % 60, seconds % 60);
}

char *bt_clock_format_exact(gint64 ms) {
  g_autofree char *whole = bt_clock_format(ms);
  if (ms % 1000 == 0)
    return g_steal_pointer(&whole);
  g_autofree char *part = bt_decimal_format(ms % 1000);
  return g_strconcat(whole, part + 1, NULL);
}

// Wall clock ------------------------------------------------------------------

#define YEAR_1_S     G_GINT64_CONSTANT(-62135596800)
#define YEAR_10000_S G_GINT64_CONSTANT(253402300800)

// True when `text` begins with `form`, in which 'd' stands for a digit and 'T' for T or t.
static bool has_form(const char *text, const char *form) {
  for (; *form; text++, form++) {
    if (*form == 'd'   ? !g_ascii_isdigit(*text)
        : *form == 'T' ? (*text != 'T' && *text != 't')
                       : *text != *form)
      return false;
  }
  return true;
}

static int two(const char *p) {
  return (p[0] - '0') * 10 + (p[1] - '0');
}

bool bt_rfc3339_parse(const char *text, gint64 *ms) {
  if (!has_form(text, "dddd-dd-ddTdd:dd:dd"))
    return false;
  gint64 fraction = 0;
  const char *p = read_thousandths(text + 19, &fraction);
  if (!p)
    return false;
  int offset_minutes = 0;
  if ((*p == 'Z' || *p == 'z') && !p[1]) {
    offset_minutes = 0;
  } else if ((*p == '+' || *p == '-') && has_form(p + 1, "dd:dd") && !p[6] && two(p + 1) < 24 &&
             two(p + 4) < 60) {
    offset_minutes = (two(p + 1) * 60 + two(p + 4)) * (*p == '-' ? -1 : 1);
  } else {
    return false;
  }
  int year = two(text) * 100 + two(text + 2);
  if (year < 1 || two(text + 17) > 59)
    return false;
  g_autoptr(GDateTime) utc = g_date_time_new_utc(year, two(text + 5), two(text + 8), two(text + 11),
                                                 two(text + 14), two(text + 17));
  if (!utc)
    return false;
  gint64 seconds = g_date_time_to_unix(utc) - (gint64)offset_minutes * 60;
  if (seconds < YEAR_1_S || seconds >= YEAR_10000_S) // no year that could be written again
    return false;
  *ms = seconds * 1000 + fraction;
  return true;
}

static gint64 floor_to_seconds(gint64 ms) {
  return ms / 1000 - (ms % 1000 < 0);
}

char *bt_rfc3339_format(gint64 ms) {
  gint64 seconds = floor_to_seconds(ms);
  int part = (int)(ms - seconds * 1000);
  g_autoptr(GDateTime) utc = g_date_time_new_from_unix_utc(seconds);
  g_autofree char *stem = g_date_time_format(utc, "-%m-%dT%H:%M:%S");
  int year = g_date_time_get_year(utc); // %Y would leave out its leading zeros
  return part ? g_strdup_printf("%04d%s.%03dZ", year, stem, part)
              : g_strdup_printf("%04d%sZ", year, stem);
}

char *bt_date_format(gint64 ms) {
  static const char *const months[] = {"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                       "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
  g_autoptr(GDateTime) utc = g_date_time_new_from_unix_utc(floor_to_seconds(ms));
  return g_strdup_printf("%d %s %d", g_date_time_get_day_of_month(utc),
                         months[g_date_time_get_month(utc) - 1], g_date_time_get_year(utc));
}
