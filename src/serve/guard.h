// SPDX-License-Identifier: GPL-3.0-or-later
//
// The request guard: what a request must look like before anything of it is used. Pure functions
// over what the wire said.
#ifndef SERVE_GUARD_H
#define SERVE_GUARD_H

#include <benchtally/base.h>

#define BT_HEADER_BYTES_MAX (16 * 1024)
#define BT_URI_BYTES_MAX    (4 * 1024)

typedef struct {
  const char *name, *value; // value NULL: none
  gsize name_length, value_length;
} BtHeaderLine;

typedef struct {
  const char *method, *uri;
  const BtHeaderLine *headers;
  gsize n_headers;
} BtRawRequest;

// Why a request is refused; static.
typedef struct {
  int status;
  const char *code, *message;
} BtRefused;

// NULL: the request may be used. `hosts` holds the names and addresses (lower case, IPv6 without
// brackets) that the server goes by, as keys.
const BtRefused *bt__guard(const BtRawRequest *raw, GHashTable *hosts);

// The value of the header, or NULL; borrowed.
const char *bt__header(const BtRawRequest *raw, const char *name);
// What Content-Length says; -1 when it does not stand there, which the guard has seen to be sound.
gint64 bt__content_length(const BtRawRequest *raw);

// The path of a URI that the guard has let in, decoded, as its segments; and its parameters. Caller
// frees both.
char **bt__path_segments(const char *uri);
GHashTable *bt__query_of(const char *uri);

#endif
