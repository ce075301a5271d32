// SPDX-License-Identifier: GPL-3.0-or-later
//
// How often something that may happen several times in a session happens.
#ifndef BENCHTALLY_RATE_H
#define BENCHTALLY_RATE_H

#include <benchtally/estimate.h>

G_BEGIN_DECLS

// `found` over `sessions`, with the exact limits of a Poisson count (Garwood 1936, Biometrika
// 28:437-442). They hold where one session tells nothing of the next; of few trainees with many
// sessions each they are too narrow. Not estimable for 0 sessions; `n` is `sessions`.
BT_API BtEstimate bt_rate(gsize found, gsize sessions);

G_END_DECLS
#endif
