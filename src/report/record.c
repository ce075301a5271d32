// SPDX-License-Identifier: GPL-3.0-or-later
#include "report/record.h"

void bt__trainee_record_free(BtTraineeRecord *record) {
  if (!record)
    return;
  g_ptr_array_unref(record->exercises);
  g_ptr_array_unref(record->others);
  g_ptr_array_unref(record->sessions);
  g_ptr_array_unref(record->corrections);
  g_ptr_array_unref(record->editions);
  g_free(record);
}

const BtAttempt *bt__attempt(const BtExercise *exercise, guint index) {
  return g_ptr_array_index(exercise->attempts, index);
}

const BtAttempt *bt__latest_attempt(const BtExercise *exercise) {
  return bt__attempt(exercise, exercise->attempts->len - 1);
}

const BtExercise *bt__latest_exercise(const BtTraineeRecord *record) {
  return g_ptr_array_index(record->exercises, 0);
}

const char *bt__trainee_name(const BtTraineeRecord *record) {
  return record->person->name && *record->person->name ? record->person->name
                                                       : record->person->code;
}

char *bt__person_text(const BtTraineeRecord *record, const char *code) {
  const char *name = g_hash_table_lookup(record->names, code);
  return name ? g_strdup_printf("%s (%s)", name, code) : g_strdup(code);
}
