// SPDX-License-Identifier: GPL-3.0-or-later
//
// One request and its answer on a connection.
#ifndef SERVE_EXCHANGE_H
#define SERVE_EXCHANGE_H

#include <microhttpd.h>

#include "serve/server.h"

typedef struct {
  BtServer *server;
  int open;   // requests that are being answered; atomic
  int ending; // 1: connections close after their answer; atomic
} BtExchanges;

// The library's callbacks; `data` is the BtExchanges. The first makes the exchange from the address
// asked for, as it came.
void *bt__exchange_begin(void *data, const char *uri, struct MHD_Connection *connection);
enum MHD_Result bt__exchange_handle(void *data, struct MHD_Connection *connection, const char *url,
                                    const char *method, const char *version, const char *upload,
                                    size_t *upload_size, void **exchange);
void bt__exchange_end(void *data, struct MHD_Connection *connection, void **exchange,
                      enum MHD_RequestTerminationCode why);

#endif
