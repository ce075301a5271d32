// SPDX-License-Identifier: GPL-3.0-or-later
//
// Base: exact decimals, durations, times, and a few file helpers that GLib does not give.
//
// Numbers: points are whole thousandths of a point (`_mp`), values whole thousandths of their unit
// (`_milli`), times and durations whole milliseconds (`_ms`), wall-clock times milliseconds since
// 1970-01-01T00:00:00Z (`_ms`). No floating point.
#ifndef BENCHTALLY_BASE_H
#define BENCHTALLY_BASE_H

#include <stdbool.h>

#include <glib.h>

#include <benchtally/error.h>
#include <benchtally/export.h>

G_BEGIN_DECLS

#define BT_POINTS_MP_MAX   (10000 * 1000)                // 10,000 points in one number
#define BT_DURATION_MS_MAX (24 * 60 * 60 * 1000)         // 24 hours
#define BT_VALUE_MILLI_MAX G_GINT64_CONSTANT(1000000000) // a million units

// Exact decimals --------------------------------------------------------------

// Reads a plain decimal ("12", "-0.5", "1.250"; no exponent, no spaces, no "+", no ",") of at most
// three decimals as whole thousandths. False, *milli untouched, if `text` (not NULL) is anything
// else or beyond +-BT_VALUE_MILLI_MAX.
BT_API BT_MUST_USE bool bt_decimal_parse(const char *text, gint64 *milli);

// Thousandths as the shortest plain decimal: 12000 -> "12", 500 -> "0.5". Caller frees.
BT_API char *bt_decimal_format(gint64 milli);

// As bt_decimal_format, cut (towards zero, never rounded) to `decimals` 0..3 and always showing
// them: (12345, 1) -> "12.3". Caller frees.
BT_API char *bt_decimal_format_cut(gint64 milli, int decimals);

// round(a * b / den), half away from zero; den > 0. Exact in 128 bits: |a * b| must fit, which it
// does for points and durations.
BT_API gint64 bt_round_ratio(gint64 a, gint64 b, gint64 den);

// Durations and clock times ---------------------------------------------------

// A duration with its unit as rubrics write it: "90 s", "8 min", "1 h", "1.5 min"; 0 .. 24 h. False
// if not.
BT_API BT_MUST_USE bool bt_duration_parse(const char *text, gint64 *ms);

// A time on the session's clock as logs write it: "mm:ss", "h:mm:ss", either with up to three
// decimals, or plain seconds ("75", "75.25"); seconds (and minutes after an hour) below 60;
// 0 .. 24 h. False if not.
BT_API BT_MUST_USE bool bt_clock_parse(const char *text, gint64 *ms);

// "m:ss" below an hour, "h:mm:ss" from there; milliseconds are cut. Caller frees.
BT_API char *bt_clock_format(gint64 ms);

// As bt_clock_format with as many decimals as needed to be exact ("1:05.25"): for data. Caller
// frees.
BT_API char *bt_clock_format_exact(gint64 ms);

// RFC 3339 date-time with an offset or Z, up to three decimals of a second; leap second :60
// refused. False if not.
BT_API BT_MUST_USE bool bt_rfc3339_parse(const char *text, gint64 *ms);

// "2026-03-04T09:05:00Z", with ".250" only if there are milliseconds. Caller frees.
BT_API char *bt_rfc3339_format(gint64 ms);

// For people: "4 Mar 2026" (UTC). Caller frees.
BT_API char *bt_date_format(gint64 ms);

// Words -----------------------------------------------------------------------

// A code of a person, session or rubric: 1..64 of [A-Za-z0-9_.-], not starting with '-' or '.'.
BT_API BT_MUST_USE bool bt_code_valid(const char *text);

// The entry of `words` (n of them, none NULL) nearest to `word`, or NULL when none is close enough
// to be meant (distance over a third of its length). Case and '_'/'-' count little. Borrowed from
// `words`.
BT_API const char *bt_closest_word(const char *word, const char *const *words, gsize n);

// The index of `word` among `words` (n of them, none NULL), or -1; NULL is no word.
BT_API int bt_word_index(const char *word, const char *const *words, gsize n);

// `text` between double quotes, as messages show it: cut to a readable length, on one line, without
// what cannot be seen or is not UTF-8. Caller frees.
BT_API char *bt_quoted(const char *text);

// `did you mean "plate"?` when one of `words` is close to `word`, else a copy of `otherwise` (may
// be NULL). Caller frees.
BT_API char *bt_did_you_mean(const char *word, const char *const *words, gsize n,
                             const char *otherwise);

// Reads a lower-case UUID (RFC 9562: "8-4-4-4-12" digits) as its two halves, either of which may be
// NULL. False if `text` is anything else.
BT_API BT_MUST_USE bool bt_uuid_parse(const char *text, guint64 *high, guint64 *low);

// Appends `count` and the right form: "1 event", "2 events". `plural` NULL means singular + "s".
// Caller frees.
BT_API char *bt_count_of(gint64 count, const char *singular, const char *plural);

// Files -----------------------------------------------------------------------

// Reads a whole file of at most `max_bytes` into *text (NUL-terminated; caller frees) and *length.
// Errors: FILE, with the file named; a larger file is an error that says both sizes.
BT_API BT_MUST_USE bool bt_file_read(const char *path, gsize max_bytes, char **text, gsize *length,
                                     GError **error);

// Writes beside `path`, flushes to the disk, renames; on failure nothing is left. Error: DISK.
BT_API BT_MUST_USE bool bt_file_write(const char *path, const void *data, gsize length,
                                      GError **error);

// Byte offset of the first byte that is not UTF-8 (or is NUL), or -1 if all is well.
BT_API gssize bt_utf8_fault(const char *text, gsize length);

// Hashes ----------------------------------------------------------------------

#define BT_SHA256_BYTES 32
#define BT_SHA256_HEX   64

// SHA-256 (FIPS 180-4) of `length` bytes.
BT_API void bt_sha256(const void *data, gsize length, guint8 digest[BT_SHA256_BYTES]);
// Bytes as lower-case hex digits; `hex` has room for 2n + 1.
BT_API void bt_hex(const guint8 *bytes, gsize n, char *hex);
// The bytes of exactly 2n lower-case hex digits; false, *bytes undefined, if `hex` is anything
// else.
BT_API BT_MUST_USE bool bt_hex_parse(const char *hex, guint8 *bytes, gsize n);

// JSON ------------------------------------------------------------------------

// Appends a whole number in decimal.
BT_API void bt_json_append_int(GString *out, gint64 number);

// Appends `text` as a JSON string literal in RFC 8785 form (minimal escapes) to `out`. `text` is
// valid UTF-8.
BT_API void bt_json_append_string(GString *out, const char *text);

G_END_DECLS
#endif
