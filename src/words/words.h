// SPDX-License-Identifier: GPL-3.0-or-later
//
// Phrases that the ledger and the workbook share: values, times, events and what a rubric allows.
#ifndef BENCHTALLY_WORDS_WORDS_H
#define BENCHTALLY_WORDS_WORDS_H

#include <benchtally/model.h>

// The event with sequence number `seq`, or NULL when the effective log has none. Borrowed.
const BtEvent *bt__event_of(const BtObservation *observation, int seq);
// Its time on the session's clock; -1 when there is none.
gint64 bt__event_at_ms(const BtObservation *observation, int seq);

// "81.6": given of possible in percent, cut to one decimal; "-" when nothing is possible. Caller
// frees.
char *bt__percent_text(gint64 given, gint64 possible);
// given of possible in thousandths of a percent, cut to tenths of a percent; -1 when nothing is
// possible.
gint64 bt__percent_milli_cut(gint64 given, gint64 possible);
// "16 mm"; just "16" without a unit. Caller frees.
char *bt__value_text(gint64 milli, const char *unit);
// "12:41" of an event; "?" when there is none. Caller frees.
char *bt__time_text(const BtObservation *observation, int seq);
// "3:05, 3:40": the times of the events in `seqs`. Caller frees.
char *bt__times_text(const BtObservation *observation, const GArray *seqs);
// "length 14 to 18 mm", "use neutral or compression". Caller frees.
char *bt__allowed_text(const BtAction *action, const BtAllowed *allowed);
// "Screw placed, Radius, middle third, length 16 mm" for work, "pause", "error: Drill plunges" for
// the rest. Caller frees.
char *bt__event_text(const BtRubric *rubric, const BtEvent *event);
// "length 16 mm". Caller frees.
char *bt__detail_text(const BtAction *action, const BtDetailValue *value);
// "Steps" for BT_STEPS; static.
const char *bt__component_title(BtComponent component);

// The value logged for `detail`; NULL when it was not logged. Borrowed.
const BtDetailValue *bt__event_detail(const BtEvent *event, int detail);
// Whether a logged value is among those allowed.
bool bt__allowed_holds(const BtAllowed *allowed, const BtDetailValue *value);

// Appends `text` to `out`, after `separator` when `out` is not empty.
void bt__join(GString *out, const char *separator, const char *text);
// As bt__join, with a printf form.
void bt__join_printf(GString *out, const char *separator, const char *form, ...)
    G_GNUC_PRINTF(3, 4);

bool bt__ints_hold(const GArray *ints, int value);

#endif
