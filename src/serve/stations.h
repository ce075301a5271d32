// SPDX-License-Identifier: GPL-3.0-or-later
//
// At which station of the lab an observation is made: for the board, as long as the server runs.
#ifndef SERVE_STATIONS_H
#define SERVE_STATIONS_H

#include <benchtally/model.h>

#define BT_STATION_CHARACTERS_MAX 40

typedef struct BtStations BtStations;

BtStations *bt__stations_new(void);
void bt__stations_free(BtStations *stations); // NULL is allowed

void bt__stations_set(BtStations *stations, gint64 observation_id, const char *station);
// The station as it was told, else as a note of the observation's log names it ("Station 4. Model
// ..."); NULL: unknown. Caller frees.
char *bt__stations_get(BtStations *stations, gint64 observation_id,
                       const BtObservation *observation);

#endif
