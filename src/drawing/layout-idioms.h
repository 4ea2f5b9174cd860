/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Structures that a draughtsman draws as one piece. Offsets in g, pin to pin, found by looking at drawings. */
#pragma once

#include "drawing/layout-piece.h"

G_BEGIN_DECLS

typedef struct
{
  MlKit *kit;
  const MlCircuit *circuit;
  gboolean *used; /* per plain piece */
  int reference;
} MlFinder;

typedef GArray MlMemberList; /* of MlMember */

MlMemberList *ml_idiom_list (void);
MlPiece *ml_idiom_piece (const MlFinder *finder, int i);
MlKind ml_idiom_kind (const MlFinder *finder, int i);
/** ml_idiom_at: the plain piece and its pin of one joint of a net, FALSE for terminals and for pieces in use already. */
gboolean ml_idiom_at (const MlFinder *finder, int net, guint joint, int *ret_piece, int *ret_pin);
gboolean ml_idiom_two (const MlFinder *finder, int i);
int ml_idiom_net (const MlFinder *finder, int i, int pin);
int ml_idiom_net_of_word (const MlFinder *finder, int i, MlPinWord word); /* -1 */
int ml_idiom_other (const MlFinder *finder, int i, int net);
int ml_idiom_pin_on (const MlFinder *finder, int i, int net);
gboolean ml_idiom_up (const MlFinder *finder, int net);
gboolean ml_idiom_down (const MlFinder *finder, int net);
gboolean ml_idiom_signal (const MlFinder *finder, int net);
guint ml_idiom_n_at (const MlFinder *finder, int net);
int ml_idiom_label_w (const MlFinder *finder, int i);
MlForm *ml_idiom_cheapest (const MlFinder *finder, int i);
MlForm *ml_idiom_standing (const MlFinder *finder, int i, int net_above);
MlForm *ml_idiom_hanging_from (const MlFinder *finder, int i, int net, gboolean net_above); /* three-pin parts too */
MlForm *ml_idiom_lying (const MlFinder *finder, int i, int net_left);
/** ml_idiom_put: a member whose pin stands at (x, y); it counts as used from now on. */
void ml_idiom_put (MlFinder *finder, MlMemberList *list, int i, const MlForm *form, int pin, int x, int y);
/** ml_idiom_whole_transistor: one whose pins are all joined, its path between two nets. ml_idiom_ends: those, the one at the higher potential first.
 * ml_idiom_main_pin: the pin of the path on a net. */
gboolean ml_idiom_whole_transistor (const MlFinder *finder, int i);
void ml_idiom_ends (const MlFinder *finder, int i, int *ret_top, int *ret_bottom);
int ml_idiom_main_pin (const MlFinder *finder, int i, int net);
/** ml_idiom_free: the piece of a circuit's part of two pins that no idiom holds yet; -1, also for part -1. */
int ml_idiom_free (const MlFinder *finder, int part);
/** ml_idiom_hang: a piece (or -1: nothing) hanging from a net's line at (x, 0); where the next on that line goes. */
int ml_idiom_hang (MlFinder *finder, MlMemberList *list, int piece, int net, int x);
/** ml_idiom_release: members are free again. */
void ml_idiom_release (MlFinder *finder, const MlMemberList *list);
MlMemberList *ml_idiom_mirrored (MlFinder *finder, const MlMemberList *list, int about);
/** ml_idiom_add: a composite of one or two alternatives (taken over), each with its mirror image when wanted. NULL when too small. */
MlPiece *ml_idiom_add (MlFinder *finder, MlMemberList *list, MlMemberList *alternative, gboolean with_mirror, double mirror_cost);
/** ml_idiom_keep: a composite whose look lies in its symmetry: its members never move apart. NULL is fine. */
void ml_idiom_keep (MlPiece *composite);
/** ml_idiom_add_ways: a composite that may be drawn in several ways, of MlMemberList, each with the same pieces in the same order. What they cost counts beyond the cheapest. */
MlPiece *ml_idiom_add_ways (MlFinder *finder, const GPtrArray *ways);

void ml_idiom_find_diamonds (MlFinder *finder);    /* layout-network.c: four single diodes that form a bridge; first of all */
void ml_idiom_find_choppers (MlFinder *finder);    /* layout-chopper.c: behind what is chopped; before the supply, which would take its capacitors */
void ml_idiom_find_pumps (MlFinder *finder);       /* layout-pump.c: charge pumps; before the supply, as choppers are */
void ml_idiom_find_supply (MlFinder *finder);      /* layout-supply.c */
void ml_idiom_find_pairs (MlFinder *finder);       /* layout-pair.c: multivibrators and flip-flops */
void ml_idiom_find_tailed (MlFinder *finder);      /* layout-tail.c: two transistors that share what feeds their emitters */
void ml_idiom_find_shifters (MlFinder *finder);    /* layout-shifter.c: lines between two voltages */
void ml_idiom_find_matrices (MlFinder *finder);    /* layout-matrix.c: lamps or keys in rows and columns */
void ml_idiom_find_combs (MlFinder *finder);       /* layout-comb.c: lamps in a row, each at its own pin of a chip */
void ml_idiom_find_isolated (MlFinder *finder);    /* layout-opto.c: isolated inputs */
void ml_idiom_find_crystals (MlFinder *finder);    /* layout-crystal.c */
void ml_idiom_find_push_pulls (MlFinder *finder);  /* layout-push-pull.c: followers of opposite polarity at one output */
void ml_idiom_find_bridges (MlFinder *finder);     /* layout-bridge.c: half and full bridges */
void ml_idiom_find_stages (MlFinder *finder);      /* layout-stage.c: amplifiers, transistor stages */
void ml_idiom_find_networks (MlFinder *finder);    /* layout-network.c: ladders, columns, dividers, strings */
void ml_idiom_find_banks (MlFinder *finder);       /* layout-bank.c: units alike; last, from the composites of the others */

G_END_DECLS
