/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The line of a supply while it is being put together (layout-supply.c), and the transistors that lie in it (layout-supply-pass.c). */
#pragma once

#include "drawing/layout-idioms.h"

G_BEGIN_DECLS

typedef struct
{
  MlFinder *finder;
  MlMemberList *list;
  int net, x;         /* where the line has come to */
  guint n_in_line;    /* pieces so far, those that only stand below another left out */
  gboolean after_regulator, has_source;
  gboolean has_negative; /* a negative rail goes along below */
} MlSupplyChain;

/** ml_supply_is_held: a large capacitor to the reference holds the net. */
gboolean ml_supply_is_held (const MlFinder *finder, int net);
/** ml_supply_is_pass: an emitter follower whose collector hangs on a supply and whose emitter feeds a rail, or a held net. */
gboolean ml_supply_is_pass (const MlFinder *finder, int i);
/** ml_supply_behind_guard: where the line goes on behind a p-channel transistor that saves the board from a supply the wrong way round, or switches it;
 * -1: it is none. */
int ml_supply_behind_guard (const MlFinder *finder, int i, int in);
/** ml_supply_put_guard, ml_supply_put_pass: such a transistor with what is at its gate or base; FALSE when it cannot lie. out: behind the guard. */
gboolean ml_supply_put_guard (MlSupplyChain *chain, int i, int out);
gboolean ml_supply_put_pass (MlSupplyChain *chain, int i);
/** ml_supply_put_back_diode: the diode that lets current back from a regulator's output to its input lies above it, behind x. */
void ml_supply_put_back_diode (MlSupplyChain *chain, int in, int out, int x);

G_END_DECLS
