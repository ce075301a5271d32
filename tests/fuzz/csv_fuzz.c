// SPDX-License-Identifier: GPL-3.0-or-later
//
// Any bytes as a CSV file, as they are and behind a good header.
#include <stddef.h>
#include <stdint.h>

#include "log_fuzz.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  static const char header[] =
      "session,trainee,assessor,rubric,edition,started,mode,time,action,site,item,value,redo,note,"
      "length,hole,use,id\n"
      "S1,T1,A1,forearm,1,2026-03-04T09:05:00Z,live,0:00,start,,,,,,,,,\n"
      "S1,T1,A1,forearm,1,2026-03-04T09:05:00Z,live,";
  if (size > 0 && data[0] == '{')
    return 0;
  log_fuzz_read("", data, size);
  log_fuzz_read(header, data, size);
  return 0;
}
