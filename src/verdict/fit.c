/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Relinearisation: Gauss-Newton in the unknowns, the evidence then taken at the fit. */
#include "verdict/pairs.h"

#include "verdict/assumptions.h"
#include "verdict/side-by-side.h"

#include <math.h>
#include <string.h>

#define LEAST_HELD 0.1 /* standard deviations: a smaller move goes past no corner */

typedef struct
{
  MlCase *own;
  MlExpansion *at;
  gboolean owned;        /* at is ours, not the dictionary's */
  double objective;
  double *extra;         /* variance added to a reading that is left out */
  guint doubtful;        /* the condition that the last step was lost in */
} Fit;

/* Leakage, and the test current of a meter. */
static gboolean
stays_at_zero (const MlDictionary *dictionary, guint column)
{
  return (column < dictionary->model->n_unknowns && dictionary->model->unknowns[column].leak) || column == ml_dictionary_test_column (dictionary);
}

static double
noise (const MlCase *own, guint i, const MlPrediction *prediction)
{
  const MlTaken *taken = &g_array_index (own->taken, MlTaken, i);
  MlReads reads = g_array_index (own->dictionary->places, MlReadingPlace, taken->place).reads;
  double variance = taken->variance + ml_case_floor (own, reads, prediction->value, prediction->chopped);

  /* What stays linear about 0 counts, with what it may do to the reading, as noise of the fit. */
  for (guint k = 0; k < prediction->n; k++)
    if (stays_at_zero (own->dictionary, prediction->column[k]))
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

static guint
condition_of (const MlCase *own, guint i)
{
  return (guint) g_array_index (own->dictionary->places, MlReadingPlace, g_array_index (own->taken, MlTaken, i).place).condition;
}

/* (observed - predicted)^2 / (2 R) */
static double
share_of_reading (const Fit *fit, MlExpansion *at, const MlExpansion *start, guint i)
{
  const MlPrediction *prediction = predicted (fit->own, at, start, i);
  double off = g_array_index (fit->own->taken, MlTaken, i).observed - prediction->value;

  return off * off / (2 * (noise (fit->own, i, prediction) + fit->extra[i]));
}

/* The readings of one condition, which are predicted for it; their share of the objective. */
static double
share_of_condition (const Fit *fit, MlExpansion *at, const MlExpansion *start, guint condition)
{
  gboolean any = FALSE;
  double sum = 0;

  for (guint i = 0; i < fit->own->taken->len; i++)
    if (condition_of (fit->own, i) == condition)
      {
        if (!any)
          ml_case_predict_taken_with (fit->own, at, start, i);
        any = TRUE;
        sum += share_of_reading (fit, at, start, i);
      }
  return sum;
}

/* Has all readings predicted, condition by condition until they are more than `most` off: what one step was lost in mostly loses the next. FALSE: they are. */
static gboolean
predict_in_turn (Fit *fit, MlExpansion *at, const MlExpansion *start, double most)
{
  const double rounding = 1e-9;
  const guint first = fit->doubtful;
  double sum = 0;

  for (guint k = 0; k < fit->own->dictionary->model->board->n_conditions; k++)
    {
      const guint condition = k == 0 ? first : k <= first ? k - 1 : k;

      sum += share_of_condition (fit, at, start, condition);
      if (sum > most + rounding * fabs (most))
        {
          fit->doubtful = condition;
          return FALSE;
        }
    }
  return TRUE;
}

/* |z|^2 / 2 + sum (observed - predicted)^2 / (2 R); or anything above `most`: no condition is predicted that cannot bring it back down. */
static double
objective (Fit *fit, MlExpansion *at, const MlExpansion *start, double most)
{
  double sum = 0;

  for (guint i = 0; at->z && i < fit->own->dictionary->n_columns; i++)
    if (!ml_case_is_input (fit->own, i, at))
      sum += at->z[i] * at->z[i] / 2;
  if (sum > most)
    return sum;
  if (ml_side_by_side_threads () > 1) /* those lost cost nobody anything */
    ml_case_predict_taken (fit->own, at, start);
  else if (!predict_in_turn (fit, at, start, most - sum))
    return INFINITY;
  for (guint i = 0; i < fit->own->taken->len && sum <= most; i++)
    sum += share_of_reading (fit, at, start, i);
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

/* What cannot be computed there carries a wide spread and so looks like a good fit: no reason to go there. */
static gboolean
loses_a_reading (const Fit *fit, MlExpansion *next)
{
  for (guint i = 0; i < fit->own->taken->len; i++)
    if (predicted (fit->own, fit->at, NULL, i)->valid && !predicted (fit->own, next, fit->at, i)->valid)
      return TRUE;
  return FALSE;
}

/* Where no reading depends on an unknown it would go back to its middle in one step, and often enough past the corner that brought it there: a
 * resistance beyond the meter's scale, a junction that blocks. Whether one of them would be moved; they are then put back to where they are. */
static gboolean
hold_insensitive (const Fit *fit, MlExpansion *at, double *target)
{
  guint n = fit->own->dictionary->n_columns;
  g_autofree gboolean *sensitive = g_new0 (gboolean, n);
  gboolean any = FALSE;

  for (guint i = 0; i < fit->own->taken->len; i++)
    {
      const MlPrediction *prediction = predicted (fit->own, at, NULL, i);

      for (guint k = 0; k < prediction->n; k++)
        sensitive[prediction->column[k]] = TRUE;
    }
  for (guint i = 0; at->z && i < n; i++)
    if (!sensitive[i] && target[i] != at->z[i])
      {
        any |= fabs (target[i] - at->z[i]) >= LEAST_HELD;
        target[i] = at->z[i];
      }
  return any;
}

/* Where the readings, taken as linear about `at`, would have z; what stays where it is stays there. */
static gboolean
find_target (const Fit *fit, MlExpansion *at, double *ret_target)
{
  if (!posterior_mean (fit->own, at, fit->extra, ret_target))
    return FALSE;
  for (guint i = 0; i < fit->own->dictionary->n_columns; i++)
    if (stays_at_zero (fit->own->dictionary, i))
      ret_target[i] = 0;
    else if (ml_case_is_input (fit->own, i, at))
      ret_target[i] = at->z[i];
  return TRUE;
}

static double
farthest (const Fit *fit, const MlExpansion *from, const double *target)
{
  double longest = 0;

  for (guint i = 0; i < fit->own->dictionary->n_columns; i++)
    longest = MAX (longest, fabs (target[i] - (from->z ? from->z[i] : 0)));
  return longest;
}

static MlExpansion *
on_the_way (const Fit *fit, const MlExpansion *from, const double *target, double share)
{
  guint n = fit->own->dictionary->n_columns;
  g_autofree double *z = g_new0 (double, n);

  for (guint i = 0; i < n; i++)
    {
      double was = from->z ? from->z[i] : 0;
      z[i] = was + share * (target[i] - was);
    }
  return ml_expansion_new (fit->own->dictionary, from->item, from->second, z);
}

/* Goes to `next`, and takes it, when the fit is better there. */
static gboolean
accept (Fit *fit, MlExpansion *next)
{
  double value = objective (fit, next, fit->at, fit->objective);

  if (!(value < fit->objective) || loses_a_reading (fit, next))
    return FALSE;
  fit->objective = value;
  move_to (fit, next);
  return TRUE;
}

/* A whole step may lead off a curved valley, a transistor's current being exponential in its voltage; another one from there may lead back into it,
 * farther down. NULL: it would lead too far. */
static MlExpansion *
another_step (const Fit *fit, MlExpansion *next)
{
  g_autofree double *target = g_new0 (double, fit->own->dictionary->n_columns);

  ml_case_predict_taken (fit->own, next, fit->at);
  if (loses_a_reading (fit, next) || !find_target (fit, next, target))
    return NULL;
  hold_insensitive (fit, next, target);
  if (farthest (fit, next, target) > ml_assumption ("refine.step"))
    return NULL;
  return on_the_way (fit, next, target, 1);
}

/* Whether a reading is farther off than meter and model allow, or than all unknowns together do. */
static gboolean
is_far_off (Fit *fit, gboolean for_all_unknowns)
{
  double most = pow (ml_assumption ("refine.drop-sigma"), 2);

  for (guint i = 0; i < fit->own->taken->len; i++)
    {
      const MlPrediction *prediction = predicted (fit->own, fit->at, NULL, i);
      double off = g_array_index (fit->own->taken, MlTaken, i).observed - prediction->value;
      double variance = noise (fit->own, i, prediction) + fit->extra[i];

      if (off * off > most * (variance + (for_all_unknowns ? ml_prediction_dot (prediction, prediction) : 0)))
        return TRUE;
    }
  return FALSE;
}

/* Where a step came from `from` and readings are still far off, twice as far the same way as long as that is better: what saturates, a net between two
 * junctions that block, promises to each straight line that a small step will do. */
static void
go_on (Fit *fit, const double *from, const double *target, double share)
{
  guint n = fit->own->dictionary->n_columns;

  for (share *= 2; is_far_off (fit, FALSE); share *= 2)
    {
      g_autofree double *z = g_new (double, n);
      double longest = 0;
      MlExpansion *next;

      for (guint i = 0; i < n; i++)
        {
          z[i] = from[i] + share * (target[i] - from[i]);
          longest = MAX (longest, fabs (share * (target[i] - from[i])));
        }
      if (longest > ml_assumption ("refine.step"))
        return;
      next = ml_expansion_new (fit->own->dictionary, fit->at->item, fit->at->second, z);
      if (!accept (fit, next))
        {
          ml_expansion_free (fit->own->dictionary, next);
          return;
        }
    }
}

/* One step of at most refine.step in any z; FALSE when it gains too little to go on. */
static gboolean
take_step (Fit *fit)
{
  guint n = fit->own->dictionary->n_columns;
  g_autofree double *target = g_new0 (double, n), *from = NULL;
  double longest, share = 1, before = fit->objective;

  if (!find_target (fit, fit->at, target))
    return FALSE;
  longest = farthest (fit, fit->at, target);
  if (longest < 1e-3)
    return FALSE;
  from = fit->at->z ? g_memdup2 (fit->at->z, n * sizeof *from) : g_new0 (double, n);
  if (longest > ml_assumption ("refine.step"))
    share = ml_assumption ("refine.step") / longest;
  for (guint try = 0; try < 3; try++)
    {
      MlExpansion *next = on_the_way (fit, fit->at, target, share);
      gboolean again = FALSE; /* as far */

      if (accept (fit, next))
        go_on (fit, from, target, share);
      else
        {
          MlExpansion *after = NULL;

          again = try == 0 && hold_insensitive (fit, fit->at, target);
          if (!again && share == 1)
            after = another_step (fit, next);
          if (after && !accept (fit, after))
            ml_expansion_free (fit->own->dictionary, after);
          ml_expansion_free (fit->own->dictionary, next);
        }
      if (fit->objective < before)
        return before - fit->objective > ml_assumption ("refine.stop");
      if (!again)
        share *= ml_assumption ("refine.shrink");
    }
  return FALSE;
}

/* Whether a step that took the fit there from `before` pays for one more than usual: it is far from any end yet, or on a long way to a good one. */
static gboolean
is_worth_more (const Fit *fit, double before)
{
  return fit->objective <= 0.8 * before
         || (fit->objective < fit->own->least_off + ml_assumption ("refine.hopeless") && before - fit->objective > ml_assumption ("refine.worth"));
}

static void
converge (Fit *fit)
{
  guint usual = (guint) ml_assumption ("refine.steps"), most = (guint) ml_assumption ("refine.steps-most");

  fit->objective = objective (fit, fit->at, NULL, INFINITY);
  for (guint i = 0; i < most; i++)
    {
      double before = fit->objective;

      if (!take_step (fit) || (i >= usual && !is_worth_more (fit, before)))
        return;
    }
}

/* A step with each reading blunted by a share of how far off it is now. */
static void
take_blunt_step (Fit *fit, double share)
{
  g_autofree double *blunt = g_new (double, MAX (fit->own->taken->len, 1));
  double *extra = fit->extra;

  for (guint i = 0; i < fit->own->taken->len; i++)
    blunt[i] = extra[i] + share * pow (g_array_index (fit->own->taken, MlTaken, i).observed - predicted (fit->own, fit->at, NULL, i)->value, 2);
  fit->extra = blunt;
  fit->objective = objective (fit, fit->at, NULL, INFINITY);
  take_step (fit);
  fit->extra = extra;
}

/* Where readings are far off, taken at their word they pull first at whatever moves them at all, however little: a regulator that has
 * dropped out would be given another voltage, a supply in its limit another setting. Blunted, they move what moves them most; the rest
 * follows. So the fit begins blunt and is sharpened step by step. */
static void
approach (Fit *fit)
{
  guint most = is_far_off (fit, TRUE) ? (guint) ml_assumption ("refine.blunt-steps") : 0;
  double share = 1;

  for (guint i = 0; i < most && is_far_off (fit, FALSE); i++, share *= ml_assumption ("refine.sharpen"))
    take_blunt_step (fit, share);
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

/* Whether leaving out that reading can bring the fit near the best one so far. */
static gboolean
is_within_reach (Fit *fit, int dropped)
{
  const MlPrediction *prediction = predicted (fit->own, fit->at, NULL, (guint) dropped);
  double off = g_array_index (fit->own->taken, MlTaken, dropped).observed - prediction->value;
  double rest = fit->objective - off * off / (2 * (noise (fit->own, (guint) dropped, prediction) + fit->extra[dropped]));

  return rest < fit->own->least_off + ml_assumption ("refine.hopeless");
}

/* What the readings say at that very point, by Laplace's method: equal to the linear evidence where a fit has settled, far less where the
 * straight line promises what the next step did not find. A reading blunted by `extra` holds no unknown in its place. */
static double
attained_ln (MlCase *own, MlExpansion *at, const double *extra)
{
  guint n = own->taken->len;
  g_autofree double *d = g_new0 (double, MAX (n, 1)), *covariance = g_new0 (double, MAX (n * n, 1));
  g_autofree MlReadingClass *classes = g_new0 (MlReadingClass, MAX (n, 1));
  MlEvidence linear, evidence;
  double ln = 0;

  if (!ml_case_weigh (own, at, NULL, extra, &linear))
    return -INFINITY;
  for (guint i = 0; i < n; i++)
    {
      const MlPrediction *prediction = predicted (own, at, NULL, i);

      d[i] = g_array_index (own->taken, MlTaken, i).observed - prediction->value;
      covariance[i * n + i] = noise (own, i, prediction);
      classes[i] = g_array_index (own->taken, MlTaken, i).class;
      ln += log (covariance[i * n + i] + extra[i]) / 2 - log (linear.factor[i * n + i]);
    }
  ml_evidence_clear (&linear);
  for (guint i = 0; at->z && i < own->dictionary->n_columns; i++)
    if (!ml_case_is_input (own, i, at))
      ln -= at->z[i] * at->z[i] / 2;
  if (!ml_evidence_weigh (d, covariance, classes, n, own->figures.mild, own->figures.gross, &evidence))
    return -INFINITY;
  ln += evidence.ln;
  ml_evidence_clear (&evidence);
  return ln;
}

/* What to take off the linear evidence at a fit that could not come near one reading and went on without it: the slopes there may promise that a good
 * one is still to be had, but that has been tried. It is a gross one, unless it is only a little off. In ln, 0 or less. */
static double
unreached_ln (MlCase *own, MlExpansion *at, guint dropped, const MlEvidence *linear)
{
  const MlTaken *taken = &g_array_index (own->taken, MlTaken, dropped);
  const MlPrediction *prediction = predicted (own, at, NULL, dropped);
  const double off = taken->observed - prediction->value, most = ml_assumption ("refine.drop-sigma");

  return off * off > most * most * (noise (own, dropped, prediction) + taken->class.mild_variance) ? MIN (linear->ln_gross[dropped], 0) : 0;
}

double
ml_case_settled_ln (MlCase *own, MlExpansion *at)
{
  g_autofree double *extra = g_new0 (double, MAX (own->taken->len, 1));

  return MIN (ml_case_ln_at (own, at, NULL), attained_ln (own, at, extra) + ml_assumption ("refine.unsettled") + ml_case_beside_ln (own, at, NULL));
}

/* The reading that seems the least to belong to the others, seen from an expansion, or -1; *ret_ln: evidence there. */
static int
stranger (MlCase *own, MlExpansion *at, double *ret_ln)
{
  MlEvidence evidence;
  int found = -1;

  *ret_ln = -INFINITY;
  if (!ml_case_weigh (own, at, NULL, NULL, &evidence))
    return -1;
  *ret_ln = evidence.ln + ml_case_beside_ln (own, at, NULL);
  for (guint i = 0; i < evidence.n; i++)
    if (evidence.ln_gross[i] > (found < 0 ? 0 : evidence.ln_gross[found]))
      found = (int) i;
  ml_evidence_clear (&evidence);
  return found;
}

/* What they say where the fit began, with the one let go there that belongs least to the others. */
static double
let_go_ln (MlCase *own, MlExpansion *start, const double *extra)
{
  g_autofree double *blunted = g_memdup2 (extra, MAX (own->taken->len, 1) * sizeof *extra);
  double ln;
  int odd = stranger (own, start, &ln);

  if (odd >= 0)
    blunted[odd] = pow (g_array_index (own->taken, MlTaken, odd).class.span, 2);
  return attained_ln (own, start, blunted);
}

/* From `start`, the readings blunted by `extra`, to the fit; one that stays far off is then left out. *ret_ln: its evidence. NULL: nothing gained. */
static MlExpansion *
fit_once (MlCase *own, MlExpansion *start, double *extra, double *ret_ln)
{
  Fit fit = { .own = own, .at = start, .extra = extra };
  MlEvidence evidence;
  double attained;
  int dropped;

  approach (&fit);
  converge (&fit);
  own->least_off = MIN (own->least_off, fit.objective);
  dropped = worst_residual (&fit);
  if (dropped >= 0 && is_within_reach (&fit, dropped))
    {
      fit.extra[dropped] = pow (g_array_index (own->taken, MlTaken, dropped).class.span, 2);
      converge (&fit);
    }
  if (!fit.owned)
    return NULL;
  if (!ml_case_weigh (own, fit.at, NULL, NULL, &evidence))
    {
      ml_expansion_free (own->dictionary, fit.at);
      return NULL;
    }
  /* A single odd reading is let go best where the fit began, which is no promise of anything better. */
  attained = MAX (attained_ln (own, fit.at, extra) + ml_assumption ("refine.unsettled"), let_go_ln (own, start, extra) + ml_assumption ("refine.let-go"));
  *ret_ln = MIN (evidence.ln + (dropped >= 0 ? unreached_ln (own, fit.at, (guint) dropped, &evidence) : 0), attained) + ml_case_beside_ln (own, fit.at, NULL);
  ml_evidence_clear (&evidence);
  return fit.at;
}

/* One reading that is a slip can drag the fit to where nothing is right any more; when it has ended no better than it began, it is done again
 * without that one. */
MlExpansion *
ml_case_fit_from (MlCase *own, MlExpansion *start, double *ret_ln)
{
  g_autofree double *extra = g_new0 (double, MAX (own->taken->len, 1));
  MlExpansion *fitted = fit_once (own, start, extra, ret_ln), *again;
  double before, ln;
  int odd = fitted ? stranger (own, start, &before) : -1;

  if (odd < 0 || *ret_ln > before || before < own->items[own->best_item].ln - ml_assumption ("refine.hopeless"))
    return fitted;
  memset (extra, 0, own->taken->len * sizeof *extra);
  extra[odd] = pow (g_array_index (own->taken, MlTaken, odd).class.span, 2);
  again = fit_once (own, start, extra, &ln);
  if (!again || ln <= *ret_ln)
    {
      ml_expansion_free (own->dictionary, again);
      return fitted;
    }
  ml_expansion_free (own->dictionary, fitted);
  *ret_ln = ln;
  return again;
}

double
ml_case_fit_without (MlCase *own, guint item, const gboolean *let_go, guint taken)
{
  const guint place = g_array_index (own->taken, MlTaken, taken).place;
  const double least_off = own->least_off;
  g_autofree double *extra = g_new0 (double, MAX (own->taken->len, 1));
  MlExpansion *fitted;
  double ln, value;

  for (guint i = 0; i < own->taken->len; i++)
    if (let_go[i])
      extra[i] = pow (g_array_index (own->taken, MlTaken, i).class.span, 2);
  fitted = fit_once (own, own->dictionary->expansions[item], extra, &ln);
  own->least_off = least_off; /* it is no fit of the readings */
  value = fitted ? ml_case_predict_at (own, fitted, place)->value : ml_dictionary_predict (own->dictionary, item, place)->value;
  ml_expansion_free (own->dictionary, fitted);
  return value;
}

void
ml_case_refine_item (MlCase *own, guint item)
{
  double ln;
  MlExpansion *from = own->items[item].refined, *start = from ? from : own->dictionary->expansions[item], *fitted = ml_case_fit_from (own, start, &ln);

  if (!fitted)
    {
      own->items[item].ln = MIN (own->items[item].ln, ml_case_settled_ln (own, start));
      return;
    }
  if (!own->items[item].lent)
    ml_expansion_free (own->dictionary, from);
  own->items[item].ln = ln;
  own->items[item].refined = fitted;
  own->items[item].lent = FALSE;
}

double
ml_case_ln_at (MlCase *own, MlExpansion *at, const MlExpansion *start)
{
  MlEvidence evidence;
  double ln;

  if (!ml_case_weigh (own, at, start, NULL, &evidence))
    return -INFINITY;
  ln = evidence.ln + ml_case_beside_ln (own, at, NULL);
  ml_evidence_clear (&evidence);
  return ln;
}

MlExpansion *
ml_case_fit (MlCase *own, MlExpansion *start, double *ret_ln)
{
  MlExpansion *fitted = ml_case_fit_from (own, start, ret_ln);

  if (fitted)
    {
      ml_expansion_free (own->dictionary, start);
      return fitted;
    }
  *ret_ln = ml_case_settled_ln (own, start);
  return start;
}

void
ml_case_keep_better_fit (MlCase *own, guint item, MlExpansion *start)
{
  MlWeighed *weighed = &own->items[item];
  double ln;
  MlExpansion *fitted = ml_case_fit (own, start, &ln);

  if (!(ln > weighed->ln))
    {
      ml_expansion_free (own->dictionary, fitted);
      return;
    }
  if (!weighed->lent)
    ml_expansion_free (own->dictionary, weighed->refined);
  weighed->refined = fitted;
  weighed->lent = FALSE;
  weighed->ln = ln;
}

void
ml_case_refine_pair (MlCase *own, MlPair *pair)
{
  double ln;
  MlExpansion *fitted = ml_case_fit_from (own, pair->at, &ln);

  if (!fitted)
    {
      pair->ln = MIN (pair->ln, ml_case_settled_ln (own, pair->at));
      return;
    }
  ml_expansion_free (own->dictionary, pair->at);
  pair->at = fitted;
  pair->ln = ln;
}
