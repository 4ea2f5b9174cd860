/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The current in each piece of drawn wire. A wire that others join in its middle is cut there: current differs on both sides. */
#pragma once

#include "drawing/paint.h"

G_BEGIN_DECLS

typedef struct
{
  guint wire;      /* index into scene->wires */
  MlPoint a, b;    /* in the wire's own direction */
  double current_a; /* from a to b */
} MlFlowPiece;

/** ml_flow_pieces: array of MlFlowPiece, wires in order and along each wire from a to b. pin_a as in MlOperatingPoint. */
GArray *ml_flow_pieces (const MlScene *scene, double *const *pin_a);

G_END_DECLS
