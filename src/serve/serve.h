// SPDX-License-Identifier: GPL-3.0-or-later
//
// The lab's web service, as the command sees it. What it says and hears stands in API.md.
#ifndef SERVE_SERVE_H
#define SERVE_SERVE_H

#include <benchtally/base.h>

typedef struct {
  const char *book_path;
  const char *reports_program;      // which makes documents, in a process of its own
  const char *address;              // to listen at: "127.0.0.1", "0.0.0.0", "::1" ...
  guint16 port;                     // 0: any that is free
  const char *cert_path, *key_path; // PEM; both NULL: no TLS
  bool verbose;                     // a line on standard error for each request
} BtServeOptions;

typedef struct BtServer BtServer;

// Opens the book and begins to answer. NULL with `error`: OPTION (address, port, certificate), or
// what bt_book_open gives. Caller ends it with bt_serve_stop.
BtServer *bt_serve_start(const BtServeOptions *options, GError **error);
// The port it listens at.
guint16 bt_serve_port(const BtServer *server);
// Takes no new requests, finishes those that are open, and leaves the book in one file. NULL is
// allowed.
void bt_serve_stop(BtServer *server);

// Makes a certificate authority and a certificate for this machine's names and addresses in
// `folder`: lab-ca.pem, which tablets are told to trust, server.pem and server.key. Existing files
// are not overwritten (CONFLICT); DISK.
bool bt_serve_make_certificate(const char *folder, GError **error);

#endif
