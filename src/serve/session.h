// SPDX-License-Identifier: GPL-3.0-or-later
//
// Logins: the cookie's key, and the token bound to it.
#ifndef SERVE_SESSION_H
#define SERVE_SESSION_H

#include "serve/request.h"

#define BT_KEY_HEX 64

// Finds who is logged in by the request's key and notes, now and then, that the login is in use.
// False with `error`; nobody is no error.
bool bt__session_find(BtRequest *request, GError **error);

// A new key in hex, and what is known of it: its SHA-256 for the book, the token for pages.
void bt__session_new_key(char key[BT_KEY_HEX + 1]);
void bt__session_key_sha256(const char *key, char sha256[BT_SHA256_HEX + 1]);
void bt__session_token(const char *key, char token[BT_SHA256_HEX + 1]);

bool bt__session_has_token(const BtRequest *request);

// What Set-Cookie says of the key; an empty key takes the cookie away. Caller frees.
char *bt__session_cookie(const char *key, bool tls);

// The key in a Cookie header, or NULL. Caller frees.
char *bt__session_key_of(const char *cookie_header);

#endif
