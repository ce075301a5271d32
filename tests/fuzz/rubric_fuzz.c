// SPDX-License-Identifier: GPL-3.0-or-later
//
// Any bytes as a rubric: a rubric that keeps its promises comes out, or located faults in order.
#include "rubric_promises.h"

#include <stddef.h>
#include <stdint.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void check_faults(const GPtrArray *faults) {
  int line = 0;
  for (guint i = 0; i < faults->len; i++) {
    const BtFault *fault = faults->pdata[i];
    bool last = fault->line == 0 && fault->column == 0; // "12 more faults not shown"
    if (!promise_text(fault->wrong) || (fault->expected && !promise_text(fault->expected)) ||
        (fault->line < line && !last) || fault->column < 0)
      g_error("a fault is not fit to print: %s", fault->wrong);
    line = MAX(line, fault->line);
  }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  g_autoptr(GPtrArray) faults = bt_faults_new();
  g_autoptr(BtRubric) rubric = bt_rubric_read((const char *)data, size, NULL, faults);
  check_faults(faults);
  if ((rubric == NULL) != (bt_faults_count_errors(faults) > 0))
    g_error("a rubric and faults, or neither");
  const char *broken = rubric ? rubric_broken_promise(rubric) : NULL;
  if (broken)
    g_error("a promise is broken: %s", broken);
  return 0;
}
