// SPDX-License-Identifier: GPL-3.0-or-later
//
// Any bytes as JSON Lines: behind a first brace, and as more keys of a good object.
#include <stddef.h>
#include <stdint.h>

#include "log_fuzz.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  static const char object[] =
      "{\"session\":\"S1\",\"trainee\":\"T1\",\"assessor\":\"A1\",\"rubric\":\"forearm\","
      "\"edition\":1,\"started\":\"2026-03-04T09:05:00Z\",\"mode\":\"live\",\"time\":1,\"action\":";
  log_fuzz_read(size > 0 && data[0] == '{' ? "" : "{", data, size);
  log_fuzz_read(object, data, size);
  return 0;
}
