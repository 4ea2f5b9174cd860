/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which parts of a circuit are alike: the channels of a driver chip, the inputs of a connector. */
#pragma once

#include "drawing/layout-piece.h"

G_BEGIN_DECLS

/* Units of like structure, in the order of the pins of what they hang on. */
typedef struct
{
  guint n_units, n_pieces;
  guint model;     /* the unit with the longest texts */
  int *pieces;     /* plain ones; pieces[unit * n_pieces + k] answers to pieces[model * n_pieces + k] */
  gboolean *turned; /* likewise: the other way round than that */
  guint n_hubs;    /* boxes with several signals that one unit joins */
} MlAlike;

/**
 * ml_alike_find: the groups of units, each of two or more; of MlAlike, new. A unit is what hangs together by signals that it shares with no
 * like one, boxes with several signals (chips, connectors) taken away; the members of a composite always hang together. Structure counts,
 * values do not: kinds of parts, which pins meet, on which rails and at which boxes they end.
 */
GPtrArray *ml_alike_find (const MlKit *kit);
/** ml_alike_pin: the pin of a unit's k-th piece that answers to `pin` of the model's; -1: it has none. */
int ml_alike_pin (const MlAlike *alike, const MlKit *kit, guint unit, guint k, int pin);

G_END_DECLS
