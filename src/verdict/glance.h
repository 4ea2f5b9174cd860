/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The first answer to one more reading: what the last verdict came to, and how likely that reading is under each of its explanations. */
#pragma once

#include "verdict/case.h"

G_BEGIN_DECLS

/* What a case came to that was refined. Owned by its dictionary. */
struct _MlJudged
{
  GBytes *heard, *seen;     /* of the readings; of the observations */
  guint n_taken;
  MlRemembered *remembered; /* held for the fits that it has lent */
  double *ln, *heard_ln;    /* per item: evidence in the end; of a late slip, what good units make of it */
  MlExpansion **at;         /* per item: its fit; NULL: it was judged at its centre … */
  gboolean *lent;           /* … and whether that is one of the remembered's */
  double *at_ln;            /* per item: the evidence of its fit, or of a late one at its centre, as linear about it; NAN where it is not needed */
  double *centre_ln;        /* per early item, at its centre */
  GArray *pairs;            /* MlPair; their ln … */
  double *pair_at_ln;       /* … and as at_ln */
  MlMisread *misread;       /* per reading taken */
  double misfit_ln;
  gboolean looked_late;
};

/** ml_case_keep_judged: for the next reading, into its dictionary; with it go the fits: nothing but freeing may follow. */
void ml_case_keep_judged (MlCase *own);
void ml_judged_free (MlDictionary *dictionary, MlJudged *judged);
/**
 * ml_case_glance: the probabilities after some further readings, from those of the last case: exact to first order for whatever may still lead, for the
 * rest by the voltages that the dictionary holds. FALSE: the last case does not serve, or too much hangs on what was not looked at.
 */
gboolean ml_case_glance (MlCase *own);
/** ml_case_take_up: a case of just the readings judged last as that left it, without its work. FALSE: other ones were judged last. */
gboolean ml_case_take_up (MlCase *own);
/** ml_dictionary_rough_value: what an early item shows at a place by the dictionary's voltages alone, at its centre and without the meter's load, V or A;
 *  NAN: not to be seen there. */
double ml_dictionary_rough_value (MlDictionary *dictionary, guint item, guint place);

G_END_DECLS
