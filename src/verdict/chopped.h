/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which nets of a board are chopped, and which parts then carry an average current that their d.c. law does not give: a transistor that is
 * driven by pulses conducts part of the time whatever the average at its gate, an amplifier that oscillates whatever its inputs' averages, a freewheel diode
 * conducts while its average voltage is reversed. */
#pragma once

#include <glib.h>

#include "board/board.h"

G_BEGIN_DECLS

/* Pins of the part; a block's further pair where the chip itself lets the coil's current go on. */
typedef struct { int from, to; } MlChoppedPath;

typedef struct
{
  gboolean *nets;           /* per net: marked as switching, or reached from such a net through a transistor or a single resistor */
  gboolean *moved;          /* per net: its average may be anything, beyond a rail as well: a capacitor brings the pulses, or only chopped parts hang on it */
  GArray **paths; guint n_parts; /* per part: MlChoppedPath; NULL: its d.c. law holds for averages too */
  int *drive;               /* per part: the resistor that alone brings the pulses to a transistor's input; -1 */
  gboolean any;             /* some part has a path */
} MlChopped;

MlChopped *ml_chopped_find (const MlBoard *board);
void ml_chopped_free (MlChopped *own);
/** ml_chopped_is_stiff: whether a net keeps its voltage: the reference, a supply's, a regulator's output, or one with a capacitor on it. */
gboolean ml_chopped_is_stiff (const MlBoard *board, int net);

G_END_DECLS
