/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What was found from the same readings before: a later stage of the verdict begins with the work of the earlier ones. */
#pragma once

#include "verdict/foresee.h"

G_BEGIN_DECLS

/* An item relinearised from where the best fits stand. */
typedef struct { guint item; double ln, least_off; MlExpansion *at; } MlAgain; /* least_off: of the case after that fit */

/* Counted: held by the dictionary, for the next case, and by each case that takes something from it. */
struct _MlRemembered
{
  guint n_held;
  GBytes *heard, *seen;  /* readings; observations */
  gboolean filled;
  double *ln;            /* n_early, once filled: evidence of each item at its centre … */
  MlGrown *grown;        /* … and that of the readings, to be grown by further ones; NULL: they would be too large */
  MlNodalRoom *rooms[ML_N_SLICES]; /* where that lies, of the items of a slice together; NULL: nothing is there yet */
  double *beside;        /* n_early: what the observations say to each item at its centre; NAN: not asked for */
  GArray *misfit;        /* double: ln density of each reading when the drawing is wrong, as far as known */
  GPtrArray *foreseen;   /* MlForeseen: readings that may come next */
  gboolean *touched;     /* per part: some fault of it moves one of the first … */
  guint n_touching;      /* … so many readings */
  double *blunt;         /* n_early: by the second score of ml_case_refine; NAN: not asked for */
  gboolean *fitted;      /* n_items: relinearised from its centre … */
  MlExpansion **at;      /* … to here, NULL: nothing was to be gained */
  double *fitted_ln;
  double *least_off;     /* of the case after that fit */
  GBytes *again_from;    /* on what bench the faults were looked at once more; NULL: not done */
  GArray *again;         /* MlAgain: what came of it */
};

/** ml_case_list_heard: what the evidence of an expansion depends on, as bytes that are equal for equal readings, those of further readings behind. */
GBytes *ml_case_list_heard (const MlCase *own);
GBytes *ml_case_list_seen (const MlCase *own);
/** ml_case_remember: what is known from just these readings and observations, empty at first. Held by the case until it is freed or the readings change. */
MlRemembered *ml_case_remember (MlCase *own);
/** ml_case_forget_remembered: with the case; what the dictionary keeps is of the readings as they were taken, not of how they might have been. */
void ml_case_forget_remembered (MlCase *own);
/** ml_remembered_set_again: takes both. */
void ml_remembered_set_again (MlDictionary *dictionary, MlRemembered *remembered, GBytes *from, GArray *again);
void ml_remembered_release (MlDictionary *dictionary, MlRemembered *remembered);

G_END_DECLS
