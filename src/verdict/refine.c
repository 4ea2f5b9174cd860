/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Relinearisation of the leaders: Gauss-Newton in the unknowns, the evidence then taken at the fit. */
#include "verdict/pairs.h"
#include "verdict/remember.h"

#include "verdict/assumptions.h"
#include "verdict/observe.h"

#include <math.h>
#include <string.h>

typedef struct
{
  MlCase *own;
  MlExpansion *at;
  gboolean owned;        /* at is ours, not the dictionary's */
  double objective;
  double *extra;         /* variance added to a reading that is left out */
} Fit;

static double
noise (const MlCase *own, guint i, const MlPrediction *prediction)
{
  const MlTaken *taken = &g_array_index (own->taken, MlTaken, i);
  MlReads reads = g_array_index (own->dictionary->places, MlReadingPlace, taken->place).reads;
  double variance = taken->variance + ml_case_floor (own, reads, prediction->value);
  const MlModel *model = own->dictionary->model;

  /* Leakage stays linear about 0: what it may do to the reading counts as noise of the fit. */
  for (guint k = 0; k < prediction->n; k++)
    if (prediction->column[k] < model->n_unknowns && model->unknowns[prediction->column[k]].leak)
      variance += prediction->slope[k] * prediction->slope[k];
  return prediction->valid ? variance : variance + pow (own->figures.unsolved_share * taken->class.span, 2);
}

static const MlPrediction *
predicted (MlCase *own, MlExpansion *at, const MlExpansion *start, guint i)
{
  guint place = g_array_index (own->taken, MlTaken, i).place;

  if (at->second < 0 && at == own->dictionary->expansions[at->item])
    return ml_dictionary_predict (own->dictionary, at->item, place);
  return ml_expansion_predict (own->dictionary, at, place, start);
}

/* |z|^2 / 2 + sum (observed - predicted)^2 / (2 R); or anything above `most`: no reading is predicted that cannot bring it back down. */
static double
objective (const Fit *fit, MlExpansion *at, const MlExpansion *start, double most)
{
  double sum = 0;

  for (guint i = 0; at->z && i < fit->own->dictionary->n_columns; i++)
    sum += at->z[i] * at->z[i] / 2;
  if (sum <= most)
    ml_case_predict_taken (fit->own, at, start);
  for (guint i = 0; i < fit->own->taken->len && sum <= most; i++)
    {
      const MlPrediction *prediction = predicted (fit->own, at, start, i);
      double off = g_array_index (fit->own->taken, MlTaken, i).observed - prediction->value;
      sum += off * off / (2 * (noise (fit->own, i, prediction) + fit->extra[i]));
    }
  return sum;
}

/* The posterior mean of z, the readings taken as linear about the expansion: J' C^-1 d. */
static gboolean
posterior_mean (MlCase *own, MlExpansion *at, const double *extra, double *ret_z)
{
  MlEvidence evidence;

  if (!ml_case_weigh (own, at, NULL, extra, &evidence))
    return FALSE;
  memset (ret_z, 0, own->dictionary->n_columns * sizeof *ret_z);
  for (guint i = 0; i < own->taken->len; i++)
    {
      const MlPrediction *prediction = predicted (own, at, NULL, i);
      for (guint k = 0; k < prediction->n; k++)
        ret_z[prediction->column[k]] += prediction->slope[k] * evidence.a[i];
    }
  ml_evidence_clear (&evidence);
  return TRUE;
}

static void
move_to (Fit *fit, MlExpansion *to)
{
  if (fit->owned)
    ml_expansion_free (fit->own->dictionary, fit->at);
  fit->at = to;
  fit->owned = TRUE;
}

/* One step of at most refine.step in any z; FALSE when it gains too little to go on. */
static gboolean
take_step (Fit *fit)
{
  guint n = fit->own->dictionary->n_columns;
  g_autofree double *target = g_new0 (double, n);
  g_autofree double *z = g_new0 (double, n);
  double longest = 0, share = 1;

  if (!posterior_mean (fit->own, fit->at, fit->extra, target))
    return FALSE;
  for (guint i = 0; i < fit->own->dictionary->model->n_unknowns; i++)
    if (fit->own->dictionary->model->unknowns[i].leak)
      target[i] = 0;
  for (guint i = 0; i < n; i++)
    longest = MAX (longest, fabs (target[i] - (fit->at->z ? fit->at->z[i] : 0)));
  if (longest < 1e-3)
    return FALSE;
  if (longest > ml_assumption ("refine.step"))
    share = ml_assumption ("refine.step") / longest;
  for (guint try = 0; try < 3; try++, share *= ml_assumption ("refine.shrink"))
    {
      MlExpansion *next;
      double value;

      for (guint i = 0; i < n; i++)
        {
          double was = fit->at->z ? fit->at->z[i] : 0;
          z[i] = was + share * (target[i] - was);
        }
      next = ml_expansion_new (fit->own->dictionary, fit->at->item, fit->at->second, z);
      value = objective (fit, next, fit->at, fit->objective);
      if (value < fit->objective)
        {
          gboolean enough = fit->objective - value > ml_assumption ("refine.stop");
          fit->objective = value;
          move_to (fit, next);
          return enough;
        }
      ml_expansion_free (fit->own->dictionary, next);
    }
  return FALSE;
}

static void
converge (Fit *fit)
{
  guint most = (guint) ml_assumption ("refine.steps");

  fit->objective = objective (fit, fit->at, NULL, INFINITY);
  for (guint i = 0; i < most && take_step (fit); i++)
    ;
}

/* The one reading beyond refine.drop-sigma, or -1. */
static int
worst_residual (Fit *fit)
{
  double worst = ml_assumption ("refine.drop-sigma");
  int found = -1;

  for (guint i = 0; i < fit->own->taken->len; i++)
    {
      const MlPrediction *prediction = predicted (fit->own, fit->at, NULL, i);
      double off = fabs (g_array_index (fit->own->taken, MlTaken, i).observed - prediction->value) / sqrt (noise (fit->own, i, prediction));
      if (off > worst)
        {
          worst = off;
          found = i;
        }
    }
  return found;
}

/* From `start` to its fit: a new expansion with its evidence, or NULL when there is nothing to gain. */
static MlExpansion *
fit_from (MlCase *own, MlExpansion *start, double *ret_ln)
{
  Fit fit = { .own = own, .at = start };
  MlEvidence evidence;
  int dropped;

  fit.extra = g_new0 (double, MAX (own->taken->len, 1));
  converge (&fit);
  dropped = worst_residual (&fit);
  if (dropped >= 0)
    {
      fit.extra[dropped] = pow (g_array_index (own->taken, MlTaken, dropped).class.span, 2);
      converge (&fit);
    }
  g_free (fit.extra);
  if (!fit.owned)
    return NULL;
  if (!ml_case_weigh (own, fit.at, NULL, NULL, &evidence))
    {
      ml_expansion_free (own->dictionary, fit.at);
      return NULL;
    }
  *ret_ln = evidence.ln + ml_case_seen_ln (own, fit.at, NULL);
  ml_evidence_clear (&evidence);
  return fit.at;
}

void
ml_case_refine_item (MlCase *own, guint item)
{
  double ln;
  MlExpansion *from = own->items[item].refined, *fitted = fit_from (own, from ? from : own->dictionary->expansions[item], &ln);

  if (!fitted)
    return;
  if (!own->items[item].lent)
    ml_expansion_free (own->dictionary, from);
  own->items[item].ln = ln;
  own->items[item].refined = fitted;
  own->items[item].lent = FALSE;
}

/* From its centre; an earlier stage may have done it. */
static void
refine_once (MlCase *own, MlRemembered *remembered, guint item)
{
  MlWeighed *weighed = &own->items[item];

  if (weighed->refined)
    {
      ml_case_refine_item (own, item);
      return;
    }
  if (!remembered->fitted[item])
    remembered->at[item] = fit_from (own, own->dictionary->expansions[item], &remembered->fitted_ln[item]);
  remembered->fitted[item] = TRUE;
  if (!remembered->at[item])
    return;
  weighed->refined = remembered->at[item];
  weighed->lent = TRUE;
  weighed->ln = remembered->fitted_ln[item];
}

void
ml_case_refine_pair (MlCase *own, MlPair *pair)
{
  double ln;
  MlExpansion *fitted = fit_from (own, pair->at, &ln);

  if (!fitted)
    return;
  ml_expansion_free (own->dictionary, pair->at);
  pair->at = fitted;
  pair->ln = ln;
}

/* ---- which items ---- */

typedef struct { guint item; double score; } Scored;

static gint
by_score (gconstpointer a, gconstpointer b)
{
  const Scored *x = a, *y = b;

  if (x->score != y->score)
    return x->score < y->score ? 1 : -1;
  return x->item < y->item ? -1 : x->item > y->item;
}

static double
prior_of (const MlCase *own, guint item)
{
  return ml_dictionary_hypothesis (own->dictionary, item)->prior * own->dictionary->items[item].share;
}

/* The score with every reading blunted: a right hypothesis with a strongly nonlinear unknown can look hopeless linearly. */
static double
blunt_score (MlCase *own, guint item, const double *extra)
{
  MlEvidence evidence;
  double ln;

  if (!ml_case_weigh (own, own->dictionary->expansions[item], NULL, extra, &evidence))
    return -INFINITY;
  ln = evidence.ln;
  ml_evidence_clear (&evidence);
  return ln + log (prior_of (own, item));
}

double *
ml_case_blunted (const MlCase *own, double volts, double share)
{
  double *extra = g_new0 (double, MAX (own->taken->len, 1));

  for (guint i = 0; i < own->taken->len; i++)
    {
      const MlTaken *taken = &g_array_index (own->taken, MlTaken, i);
      MlReads reads = g_array_index (own->dictionary->places, MlReadingPlace, taken->place).reads;

      if (reads == ML_READS_OHMS)
        extra[i] = pow (2 * share, 2);
      else
        extra[i] = pow (reads == ML_READS_AMPS ? volts / 50 : volts, 2) + pow (share * taken->observed, 2);
    }
  return extra;
}

/* The best item, at each node of the blocks, of each of the best hypotheses by this score. */
static void
choose (MlCase *own, Scored *scored, guint n, gboolean slips, gboolean *chosen)
{
  const guint n_nodes = own->dictionary->model->n_nodes;
  g_autofree gboolean *seen = g_new0 (gboolean, own->dictionary->hypotheses->len);             /* at any node */
  g_autofree gboolean *seen_at = g_new0 (gboolean, own->dictionary->hypotheses->len * n_nodes); /* at this one */
  guint left = (guint) ml_assumption (slips ? "refine.slip-leaders" : "refine.leaders");

  qsort (scored, n, sizeof *scored, by_score);
  for (guint i = 0; i < n && isfinite (scored[i].score); i++)
    {
      guint h = own->dictionary->items[scored[i].item].hypothesis, at = h * n_nodes + own->dictionary->items[scored[i].item].node;
      gboolean slip = g_array_index (own->dictionary->hypotheses, MlHypothesis, h).explains == ML_EXPLAINS_DRAWING;

      if (seen_at[at] || slip != slips || (!seen[h] && left == 0))
        continue;
      left -= !seen[h];
      seen[h] = seen_at[at] = TRUE;
      chosen[scored[i].item] = TRUE;
    }
}

gboolean
ml_case_refine (MlCase *own, GCancellable *cancellable, GError **error)
{
  guint n = 0, left = (guint) ml_assumption ("refine.most");
  g_autofree Scored *plain = g_new (Scored, own->dictionary->n_items);
  g_autofree Scored *blunt = g_new (Scored, own->dictionary->n_items);
  g_autofree gboolean *chosen = g_new0 (gboolean, own->dictionary->n_items);
  g_autofree double *extra = ml_case_blunted (own, ml_assumption ("reading.enlarged-volts"), ml_assumption ("reading.enlarged-share"));

  MlRemembered *remembered = ml_case_remember (own);

  if (!own->taken->len)
    return TRUE;
  for (guint i = 0; i < own->dictionary->n_early; i++)
    {
      if (g_cancellable_set_error_if_cancelled (cancellable, error))
        return FALSE;
      if (ml_case_expansion (own, i) != own->dictionary->expansions[i] || own->dictionary->items[i].twin >= 0)
        continue;
      plain[n] = (Scored){ i, own->items[i].ln + log (prior_of (own, i)) };
      if (isnan (remembered->blunt[i]))
        remembered->blunt[i] = blunt_score (own, i, extra);
      blunt[n++] = (Scored){ i, remembered->blunt[i] };
      /* The healthy board at every node: it is what all others are measured against. */
      chosen[i] = own->probability[i] >= ml_assumption ("refine.probability")
                  || ml_dictionary_hypothesis (own->dictionary, i)->explains == ML_EXPLAINS_HEALTHY;
    }
  /* Faults and slips apart: there are many more slips, and what is not refined cannot be compared with what is. */
  for (guint slips = 0; slips < 2; slips++)
    {
      choose (own, plain, n, slips != 0, chosen);
      choose (own, blunt, n, slips != 0, chosen);
    }
  for (guint i = 0; i < n; i++) /* plain is in order of score now */
    if (chosen[plain[i].item] && (left || plain[i].item < own->dictionary->model->n_nodes))
      {
        if (g_cancellable_set_error_if_cancelled (cancellable, error))
          return FALSE;
        refine_once (own, remembered, plain[i].item);
        left -= left > 0;
      }
  /* The other end's joint of a two-pin part follows its twin. */
  for (guint i = 0; i < own->dictionary->n_items; i++)
    if (own->dictionary->items[i].twin >= 0 && ml_case_expansion (own, i) != own->dictionary->expansions[i] && !own->items[i].refined)
      own->items[i].ln = own->items[own->dictionary->items[i].twin].ln;
  ml_case_update (own);
  return TRUE;
}
