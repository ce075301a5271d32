// SPDX-License-Identifier: GPL-3.0-or-later
//
// Canonical JSON objects (RFC 8785, whole numbers only), written directly: what is hashed.
#ifndef STORE_JSON_H
#define STORE_JSON_H

#include <benchtally/base.h>

// A member of an object. Absent ones, NULL text among them, are left out; the
// caller lists them in the order of their names.
typedef struct {
  const char *name;
  enum { BT_JSON_ABSENT, BT_JSON_TEXT, BT_JSON_INT, BT_JSON_RAW, BT_JSON_HEX } kind;
  gint64 number;
  const void *bytes;
  gsize length;
} BtMember;

#define MEMBER_TEXT(its_name, text)                                                                \
  { .name = (its_name), .kind = BT_JSON_TEXT, .bytes = (text) }
#define MEMBER_INT(its_name, value)                                                                \
  { .name = (its_name), .kind = BT_JSON_INT, .number = (value) }
#define MEMBER_INT_IF(its_name, present, value)                                                    \
  { .name = (its_name), .kind = (present) ? BT_JSON_INT : BT_JSON_ABSENT, .number = (value) }
// Text that is canonical JSON already.
#define MEMBER_RAW(its_name, json)                                                                 \
  { .name = (its_name), .kind = BT_JSON_RAW, .bytes = (json) }
#define MEMBER_HEX(its_name, data, n)                                                              \
  { .name = (its_name), .kind = BT_JSON_HEX, .bytes = (data), .length = (n) }

// Appends the object.
void bt__json_object(GString *out, const BtMember *members, gsize n);

#endif
