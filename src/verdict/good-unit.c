/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "verdict/good-unit.h"

#include "verdict/assumptions.h"
#include "verdict/misread.h"
#include "verdict/verdict-private.h"

#include <math.h>
#include <string.h>

void
ml_good_unit_free (MlGoodUnit *good)
{
  if (!good)
    return;
  ml_case_free (good->own);
  ml_dictionary_free (good->dictionary);
  ml_job_unref (good->job);
  g_free (good->key);
  g_free (good);
}

/* ---- is it good? ---- */

static MlDictionary *
dictionary_of (const MlGoodUnit *good)
{
  return good->own->dictionary;
}

static double
share_of (const MlGoodUnit *good, MlExplains explains, gboolean prior)
{
  double sum = 0;

  for (guint h = 0; h < dictionary_of (good)->hypotheses->len; h++)
    {
      const MlHypothesis *hypothesis = &g_array_index (dictionary_of (good)->hypotheses, MlHypothesis, h);
      if (hypothesis->explains == explains)
        sum += prior ? hypothesis->prior : good->own->hypothesis_probability[h];
    }
  return sum;
}

/* The posterior with the prior of a unit that somebody calls good. */
static void
find_healthy (MlGoodUnit *good)
{
  double faulty = ml_assumption ("good.faulty");
  double slips = share_of (good, ML_EXPLAINS_DRAWING, FALSE), misfit = good->own->misfit_probability;
  double faults = share_of (good, ML_EXPLAINS_FAULT, FALSE) / MAX (share_of (good, ML_EXPLAINS_FAULT, TRUE), 1e-9) * faulty;
  double fine = good->own->hypothesis_probability[0] / share_of (good, ML_EXPLAINS_HEALTHY, TRUE)
                * (1 - faulty - share_of (good, ML_EXPLAINS_DRAWING, TRUE) - dictionary_of (good)->misfit_prior);

  good->healthy = fine / MAX (fine + faults + slips + misfit, 1e-300);
}

/* The best of the sound board's items, one at each node of the blocks. */
static void
find_item (MlGoodUnit *good)
{
  for (guint i = 1; i < dictionary_of (good)->model->n_nodes; i++)
    if (good->own->items[i].ln > good->own->items[good->item].ln)
      good->item = i;
}

/* ---- its readings as linear in z ---- */

typedef struct
{
  guint n;
  double *d, *covariance, *slope; /* [n], [n * n], [n * columns] */
  double *extra;                  /* [n] variance of a reading that is left out */
} Linear;

static void
linear_clear (Linear *linear)
{
  g_free (linear->d);
  g_free (linear->covariance);
  g_free (linear->slope);
  g_free (linear->extra);
}

/* The reading furthest from what the others say, or -1: d_r = a_r / v_r with variance 1 / v_r, v = (C^-1)_rr. */
static int
oddest (MlGoodUnit *good, const Linear *linear)
{
  double worst = ml_assumption ("good.odd-sigma");
  g_autofree double *unit = g_new0 (double, MAX (linear->n, 1)), *column = g_new0 (double, MAX (linear->n, 1));
  MlEvidence evidence;
  int found = -1;

  if (!ml_case_weigh (good->own, ml_case_expansion (good->own, good->item), NULL, linear->extra, &evidence))
    return -1;
  for (guint i = 0; i < linear->n; i++)
    {
      unit[i] = 1;
      ml_evidence_solve (&evidence, unit, column);
      unit[i] = 0;
      if (fabs (evidence.a[i]) / sqrt (column[i]) > worst)
        {
          worst = fabs (evidence.a[i]) / sqrt (column[i]);
          found = (int) i;
        }
    }
  ml_evidence_clear (&evidence);
  return found;
}

static Linear
linearise (MlGoodUnit *good)
{
  MlExpansion *at = ml_case_expansion (good->own, good->item);
  guint n = good->own->taken->len, columns = dictionary_of (good)->n_columns;
  Linear linear = { .n = n, .d = g_new0 (double, MAX (n, 1)), .covariance = g_new0 (double, MAX (n * n, 1)),
                    .slope = g_new0 (double, MAX (n * columns, 1)), .extra = g_new0 (double, MAX (n, 1)) };
  MlEvidence evidence;
  int odd;

  for (guint k = 0; k < n / 3 && (odd = oddest (good, &linear)) >= 0; k++)
    linear.extra[odd] = pow (g_array_index (good->own->taken, MlTaken, odd).class.span, 2);
  good->fit_tail = 0;
  if (ml_case_weigh (good->own, at, NULL, linear.extra, &evidence))
    {
      good->fit_tail = ml_chi2_tail (evidence.chi2, n);
      ml_evidence_clear (&evidence);
    }
  ml_case_residual (good->own, at, NULL, linear.extra, linear.d, linear.covariance);
  for (guint i = 0; i < n; i++)
    {
      const MlPrediction *prediction = ml_case_predict (good->own, good->item, g_array_index (good->own->taken, MlTaken, i).place);
      for (guint k = 0; k < prediction->n; k++)
        linear.slope[i * columns + prediction->column[k]] = prediction->slope[k];
    }
  return linear;
}

MlGoodUnit *
ml_good_unit_new (MlDictionary *base, MlDictionary *own, MlJob *job, int unit, guint pass, GCancellable *cancellable, GError **error)
{
  MlGoodUnit *good = g_new0 (MlGoodUnit, 1);
  Linear linear;

  good->unit = unit;
  good->pass = pass;
  good->job = ml_job_ref (job);
  good->dictionary = own;
  good->own = ml_case_new (own ? own : base, job, unit, pass);
  if (!ml_case_fill (good->own, cancellable, error))
    {
      ml_good_unit_free (good);
      return NULL;
    }
  ml_case_update (good->own);
  if (!ml_case_refine (good->own, cancellable, error) || !ml_case_refine_on_bench (good->own, cancellable, error)
      || !ml_case_refine_inputs (good->own, cancellable, error) || !ml_case_exchange_fits (good->own, cancellable, error)
      || !ml_case_refine_on_new_bench (good->own, cancellable, error)
      || !ml_case_weigh_coincidences (good->own, 0)) /* it is this unit's as well, and counts there */
    {
      ml_good_unit_free (good);
      return NULL;
    }
  find_item (good);
  find_healthy (good);
  linear = linearise (good);
  linear_clear (&linear);
  if (good->fit_tail < ml_assumption ("gate.probability"))
    good->healthy = MIN (good->healthy, good->fit_tail);
  return good;
}

/* ---- from its unknowns to this unit's ---- */

static gboolean
differs_at (const MlJob *job, int unit, guint pass, int part)
{
  for (guint i = 0; part >= 0 && i < job->units[unit].n_differences; i++)
    if (job->units[unit].differences[i].part == part && job->units[unit].differences[i].pass <= pass)
      return TRUE;
  return FALSE;
}

/* The same unknown of the other model, or -1. Devices of parts stand in the order of the board in both. */
static int
same_unknown (const MlModel *to, const MlModel *from, guint unknown)
{
  const MlUnknown *a = &from->unknowns[unknown];
  guint nth = 0;

  if (a->leak)
    return -1;
  for (guint i = 0; i < unknown; i++) /* supplies and loads: by their order */
    nth += a->part < 0 && from->unknowns[i].part < 0 && !from->unknowns[i].leak && from->unknowns[i].condition == a->condition;
  for (guint i = 0; i < to->n_unknowns; i++)
    {
      const MlUnknown *b = &to->unknowns[i];

      if (b->leak || b->part != a->part || b->condition != a->condition || b->parameter != a->parameter)
        continue;
      if (a->part >= 0 && b->device - to->first_device[b->part] != a->device - from->first_device[a->part])
        continue;
      if (a->part >= 0 || nth-- == 0)
        return (int) i;
    }
  return -1;
}

/* Per column of the good unit's model the column of this one's, -1: none. */
static int *
map_columns (const MlModel *to, const MlModel *from)
{
  int *column = g_new (int, MAX (from->n_z, 1));

  for (guint i = 0; i < from->n_z; i++)
    column[i] = -1;
  for (guint i = 0; i < from->n_unknowns; i++)
    {
      column[i] = same_unknown (to, from, i);
      if (column[i] >= 0 && from->unknowns[i].group >= 0)
        column[from->unknowns[i].group] = to->unknowns[column[i]].group;
    }
  return column;
}

/* What two units' z have in common, per column of this unit's model. */
static double *
shares_of (const MlModel *model, const MlJob *job, int unit, guint pass, const MlGoodUnit *good)
{
  double *share = g_new0 (double, MAX (model->n_z, 1));

  for (guint i = 0; i < model->n_unknowns; i++)
    {
      const MlUnknown *own = &model->unknowns[i];

      if (own->leak || differs_at (job, unit, pass, own->part) || differs_at (good->job, good->unit, good->pass, own->part))
        continue;
      share[i] = own->carried;
      if (own->group >= 0)
        share[own->group] = MAX (share[own->group], own->carried);
    }
  return share;
}

/* A good unit's readings in this unit's unknowns; the nodes of its blocks become part of their z. */
typedef struct
{
  guint n;
  double *d, *covariance; /* [n], [n * n] */
  double *mapped;         /* [n * n_z] */
} Mapped;

static void
mapped_clear (Mapped *own)
{
  g_free (own->d);
  g_free (own->covariance);
  g_free (own->mapped);
}

/* What stands where an unknown of the good unit was found, in standard deviations over all nodes; *ret_stretch: of one over that of the node. */
static double
found_at (const MlGoodUnit *good, guint unknown, double *ret_shift, double *ret_stretch)
{
  const MlModel *from = dictionary_of (good)->model;
  const double *z = ml_case_expansion (good->own, good->item)->z;
  gboolean block = unknown < from->n_unknowns && from->unknowns[unknown].block;
  double total = block ? ml_model_block_spread (from, unknown) : 1, level = ml_model_level (from, dictionary_of (good)->items[good->item].node);

  *ret_stretch = block ? total / from->unknowns[unknown].spread : 1;
  *ret_shift = block && from->n_levels == 3 ? (level - 1) * ml_assumption ("block.node-step") / total : 0;
  return *ret_shift + (z ? z[unknown] : 0) / *ret_stretch;
}

/* Its n readings, one row each. */
static void
map_readings (const MlGoodUnit *good, const MlModel *model, const int *column, const Linear *linear, Mapped *own)
{
  guint columns = dictionary_of (good)->n_columns;

  for (guint i = 0; i < linear->n; i++)
    {
      own->d[i] = linear->d[i];
      for (guint j = 0; j < linear->n; j++)
        own->covariance[i * own->n + j] = linear->covariance[i * linear->n + j];
    }
  for (guint k = 0; k < dictionary_of (good)->model->n_z; k++)
    {
      double shift, stretch;

      found_at (good, k, &shift, &stretch);
      for (guint i = 0; i < linear->n; i++)
        {
          double was = linear->slope[i * columns + k], now = was * stretch;

          own->d[i] += now * shift; /* J z about the common centre instead of the node's */
          for (guint j = 0; j < linear->n; j++)
            own->covariance[i * own->n + j] += (stretch * stretch - 1) * was * linear->slope[j * columns + k];
          if (column[k] >= 0)
            own->mapped[i * model->n_z + (guint) column[k]] = now;
        }
    }
}

static gboolean
is_told (const gboolean *known, int column)
{
  return known && column >= 0 && known[column];
}

/* The chips' resistances that it tells, as if each had been read by itself where it was found. What one does to its net is far from linear, and what
 * the net's reading leaves open of it and of unread parts beside it only together would let it go anywhere. */
static void
map_blocks (const MlGoodUnit *good, const MlModel *model, const int *column, const gboolean *known, guint at, Mapped *own)
{
  for (guint k = 0; k < dictionary_of (good)->model->n_unknowns; k++)
    if (is_told (known, column[k]))
      {
        double shift, stretch;

        own->d[at] = found_at (good, k, &shift, &stretch);
        own->mapped[at * model->n_z + (guint) column[k]] = 1;
        own->covariance[at * own->n + at] = 1 + pow (ml_assumption ("carried.found"), 2);
        for (guint j = 0; j < at; j++)
          own->covariance[at * own->n + j] = own->covariance[j * own->n + at] = own->mapped[j * model->n_z + (guint) column[k]];
        at++;
      }
}

static Mapped
map_good (const MlGoodUnit *good, const MlModel *model, const gboolean *known)
{
  Linear linear = linearise ((MlGoodUnit *) good);
  g_autofree int *column = map_columns (model, dictionary_of (good)->model);
  Mapped own = { .n = linear.n };

  for (guint k = 0; k < dictionary_of (good)->model->n_unknowns; k++)
    own.n += is_told (known, column[k]);
  own.d = g_new0 (double, MAX (own.n, 1));
  own.covariance = g_new0 (double, MAX (own.n * own.n, 1));
  own.mapped = g_new0 (double, MAX (own.n * model->n_z, 1));
  map_readings (good, model, column, &linear, &own);
  map_blocks (good, model, column, known, linear.n, &own);
  linear_clear (&linear);
  return own;
}

/* A share a little below one would let a chip do anything again, so a unit that is likelier good than not counts in full. */
static double
weight_of (const MlGoodUnit *good)
{
  return good->healthy >= ml_assumption ("word.likeliest") ? 1 : good->healthy;
}

/* Rows of all good units one below the other. */
typedef struct { guint n; double *rows, *plain, *d, *covariance; } Stack;

static void
stack_good (Stack *stack, const Mapped *own, const double *share, double weight, guint n_z, guint total)
{
  for (guint i = 0; i < own->n; i++)
    {
      guint at = stack->n + i;

      stack->d[at] = own->d[i];
      for (guint k = 0; k < n_z; k++)
        {
          stack->plain[at * n_z + k] = weight * own->mapped[i * n_z + k];
          stack->rows[at * n_z + k] = weight * share[k] * own->mapped[i * n_z + k];
        }
      for (guint j = 0; j < own->n; j++)
        stack->covariance[at * total + stack->n + j] = own->covariance[i * own->n + j];
      for (guint j = 0; j < stack->n; j++) /* between two good units: J F J' */
        {
          double sum = 0;
          for (guint k = 0; k < n_z; k++)
            sum += stack->rows[at * n_z + k] * stack->plain[j * n_z + k];
          stack->covariance[at * total + j] = stack->covariance[j * total + at] = sum;
        }
    }
  stack->n += own->n;
}

static MlCarried *
conditioned (const GPtrArray *goods, const MlModel *model, const MlJob *job, int unit, guint pass, const gboolean *known)
{
  guint total = 0, n_z = model->n_z;
  g_autofree Mapped *mapped = g_new (Mapped, MAX (goods->len, 1));
  Stack stack = { 0 };
  MlCarried *carried;

  for (guint g = 0; g < goods->len; g++)
    {
      mapped[g] = map_good (goods->pdata[g], model, known);
      total += mapped[g].n;
    }
  stack.rows = g_new0 (double, MAX (total * n_z, 1));
  stack.plain = g_new0 (double, MAX (total * n_z, 1));
  stack.d = g_new0 (double, MAX (total, 1));
  stack.covariance = g_new0 (double, MAX (total * total, 1));
  for (guint g = 0; g < goods->len; g++)
    {
      const MlGoodUnit *good = goods->pdata[g];
      g_autofree double *share = shares_of (model, job, unit, pass, good);

      for (guint k = 0; known && k < model->n_unknowns; k++)
        if (model->unknowns[k].block && !known[k])
          share[k] = 0;
      stack_good (&stack, &mapped[g], share, weight_of (good), n_z, total);
      mapped_clear (&mapped[g]);
    }
  carried = ml_carried_new (n_z, total, stack.rows, stack.d, stack.covariance);
  g_free (stack.rows);
  g_free (stack.plain);
  g_free (stack.d);
  g_free (stack.covariance);
  return carried;
}

/* Voltages at the blocks' pins on the good unit that counts most, in the conditions it was measured in. */
static void
note_pins (MlCarried *carried, const GPtrArray *goods, const MlModel *model)
{
  carried->n_conditions = model->board->n_conditions;
  carried->pin_v = g_new0 (double *, MAX (carried->n_conditions, 1));
  for (guint c = 0; c < carried->n_conditions; c++)
    {
      const MlGoodUnit *best = NULL;

      for (guint g = 0; g < goods->len; g++)
        {
          const MlGoodUnit *good = goods->pdata[g];
          gboolean measured = FALSE;

          for (guint i = 0; i < good->own->taken->len; i++)
            measured |= good->job->readings[g_array_index (good->own->taken, MlTaken, i).reading].condition == (int) c;
          if (measured && (!best || good->healthy > best->healthy))
            best = good;
        }
      if (best && ml_expansion_solve (dictionary_of (best), ml_case_expansion (best->own, best->item), (int) c, NULL))
        carried->pin_v[c] = ml_model_pin_volts (dictionary_of (best)->model, (int) c, ml_expansion_at (dictionary_of (best), ml_case_expansion (best->own, best->item), (int) c));
    }
}

/* The chips' resistances that the good units tell anything of, or found to be an input's: far out, where no reading depends on them. The others keep
 * their nodes. */
static void
find_told (const GPtrArray *goods, const MlModel *model, const MlCarried *carried, gboolean *ret_known)
{
  for (guint i = 0; i < model->n_unknowns; i++)
    ret_known[i] = model->unknowns[i].block && ml_carried_variance (carried, i) < ml_assumption ("carried.informed");
  for (guint g = 0; g < goods->len; g++)
    {
      const MlGoodUnit *good = goods->pdata[g];
      const MlExpansion *found = ml_case_expansion (good->own, good->item);
      g_autofree int *column = map_columns (model, dictionary_of (good)->model);

      for (guint k = 0; k < dictionary_of (good)->model->n_unknowns; k++)
        if (column[k] >= 0 && ml_case_is_input (good->own, k, found))
          ret_known[column[k]] = TRUE;
    }
}

void
ml_good_units_carry (const GPtrArray *goods, MlModel *model, const MlJob *job, int unit, guint pass, gboolean as_drawn)
{
  g_autofree gboolean *known = g_new0 (gboolean, MAX (model->n_unknowns, 1));
  MlCarried *carried = conditioned (goods, model, job, unit, pass, NULL);

  if (!carried)
    return;
  find_told (goods, model, carried, known);
  ml_carried_free (carried);
  carried = conditioned (goods, model, job, unit, pass, known);
  if (!carried)
    return;
  memcpy (carried->known, known, model->n_unknowns * sizeof *known);
  note_pins (carried, goods, model);
  carried->alike = as_drawn;
  for (guint g = 0; g < goods->len; g++)
    carried->alike &= !((const MlGoodUnit *) goods->pdata[g])->dictionary;
  ml_model_carry (model, carried);
}

/* ---- the drawing ---- */

static gboolean
same_fault (const MlFault *a, const MlFault *b)
{
  return a->part == b->part && a->kind == b->kind && a->n_pins == b->n_pins && a->net_a == b->net_a && a->net_b == b->net_b && a->n_cut == b->n_cut
         && !memcmp (a->pins, b->pins, a->n_pins * sizeof *a->pins) && !memcmp (a->cut_parts, b->cut_parts, a->n_cut * sizeof *a->cut_parts)
         && !memcmp (a->cut_pins, b->cut_pins, a->n_cut * sizeof *a->cut_pins);
}

/* How likely its readings are, but for a factor, if the drawing is right: the unit is sound, or faulty after all. */
static double
if_drawn_rightly (const MlGoodUnit *good)
{
  double faulty = ml_assumption ("good.faulty");

  return MAX ((1 - faulty) * good->own->hypothesis_probability[0] / MAX (share_of (good, ML_EXPLAINS_HEALTHY, TRUE), 1e-9)
                + faulty * share_of (good, ML_EXPLAINS_FAULT, FALSE) / MAX (share_of (good, ML_EXPLAINS_FAULT, TRUE), 1e-9), 1e-300);
}

/* How much likelier a good unit's readings are with that slip in the drawing than without. */
static double
slip_factor (const MlGoodUnit *good, const MlFault *fault)
{
  double most = ml_assumption ("good.most-factor");

  for (guint h = 1; h < dictionary_of (good)->hypotheses->len; h++)
    {
      const MlHypothesis *hypothesis = &g_array_index (dictionary_of (good)->hypotheses, MlHypothesis, h);
      if (hypothesis->explains == ML_EXPLAINS_DRAWING && same_fault (&hypothesis->fault, fault) && hypothesis->prior > 0)
        return CLAMP (good->own->hypothesis_probability[h] / hypothesis->prior / if_drawn_rightly (good), 1 / most, most);
    }
  return 1;
}

/* ln evidence of a hypothesis from a good unit's readings, at its centres and over the nodes of the blocks. */
static double
weigh_late (MlGoodUnit *good, guint hypothesis)
{
  MlDictionary *dictionary = dictionary_of (good);
  double ln = -INFINITY;

  for (guint i = dictionary->n_early; i < dictionary->n_items; i++)
    {
      MlEvidence evidence;

      if (dictionary->items[i].hypothesis != hypothesis || !ml_case_weigh (good->own, dictionary->expansions[i], NULL, NULL, &evidence))
        continue;
      ln = ml_ln_add (ln, evidence.ln + log (dictionary->items[i].share));
      ml_evidence_clear (&evidence);
    }
  return ln;
}

static double
healthy_ln (const MlGoodUnit *good)
{
  double ln = -INFINITY;

  for (guint i = 0; i < dictionary_of (good)->model->n_nodes; i++)
    ln = ml_ln_add (ln, good->own->items[i].ln + log (dictionary_of (good)->items[i].share));
  return ln;
}

double
ml_good_units_slip_ln (const GPtrArray *goods, const MlFault *fault)
{
  double most = log (ml_assumption ("good.most-factor")), sum = 0;

  for (guint g = 0; g < goods->len; g++)
    {
      MlGoodUnit *good = goods->pdata[g];
      double sound = good->own->hypothesis_probability[0] / MAX (share_of (good, ML_EXPLAINS_HEALTHY, TRUE), 1e-9) / if_drawn_rightly (good);

      for (guint h = 1; h < dictionary_of (good)->hypotheses->len; h++)
        if (g_array_index (dictionary_of (good)->hypotheses, MlHypothesis, h).late
            && same_fault (&g_array_index (dictionary_of (good)->hypotheses, MlHypothesis, h).fault, fault))
          sum += CLAMP (weigh_late (good, h) - healthy_ln (good) + log (MAX (sound, 1e-300)), -most, most);
    }
  return sum;
}

static double
misfit_factor (const MlGoodUnit *good)
{
  double most = ml_assumption ("good.most-factor"), share = ml_assumption ("good.misfit-share");
  double factor = good->own->misfit_probability / ml_case_misfit_prior (good->own) / if_drawn_rightly (good);

  return 1 - share + share * CLAMP (factor, 1 / most, most);
}

void
ml_good_units_doubt (const GPtrArray *goods, MlDictionary *dictionary)
{
  double total = 0;

  for (guint g = 0; g < goods->len; g++)
    {
      for (guint h = 0; h < dictionary->hypotheses->len; h++)
        {
          MlHypothesis *hypothesis = &g_array_index (dictionary->hypotheses, MlHypothesis, h);
          if (hypothesis->explains == ML_EXPLAINS_DRAWING && !hypothesis->late) /* those are asked one by one */
            hypothesis->prior *= slip_factor (goods->pdata[g], &hypothesis->fault);
        }
      dictionary->misfit_prior *= misfit_factor (goods->pdata[g]);
    }
  total = dictionary->misfit_prior;
  for (guint h = 0; h < dictionary->hypotheses->len; h++)
    total += g_array_index (dictionary->hypotheses, MlHypothesis, h).prior;
  dictionary->misfit_prior /= total;
  for (guint h = 0; h < dictionary->hypotheses->len; h++)
    g_array_index (dictionary->hypotheses, MlHypothesis, h).prior /= total;
}

/* ---- cautions ---- */

static guint
best_hypothesis (const MlGoodUnit *good)
{
  guint best = 1;

  for (guint h = 2; h < dictionary_of (good)->hypotheses->len; h++)
    if (good->own->hypothesis_probability[h] > good->own->hypothesis_probability[best])
      best = h;
  return best;
}

static char *
say_not_good (MlGoodUnit *good)
{
  const MlJob *job = good->job;
  const char *name = job->units[good->unit].name;
  guint h = best_hypothesis (good);
  const MlHypothesis *best = &g_array_index (dictionary_of (good)->hypotheses, MlHypothesis, h);
  g_autofree char *title = dictionary_of (good)->hypotheses->len > 1 ? ml_fault_title (job->board, &best->fault) : NULL;

  if (title && good->own->hypothesis_probability[h] > good->own->misfit_probability)
    return g_strdup_printf (best->explains == ML_EXPLAINS_DRAWING
                                ? "%s is called good, but its readings do not fit the drawing: %s. Look at the drawing; until then it counts for little"
                                : "%s is called good, but its readings are not those of a sound board. Likeliest: %s. It counts for little",
                            name, title);
  return g_strdup_printf ("%s is called good, but the circuit as drawn cannot give its readings: look at the drawing, or whether it is good; it counts for little",
                          name);
}

void
ml_good_units_warn (const GPtrArray *goods, GPtrArray *cautions)
{
  for (guint g = 0; g < goods->len; g++)
    {
      MlGoodUnit *good = goods->pdata[g];
      if (good->healthy < ml_assumption ("word.likeliest"))
        g_ptr_array_add (cautions, say_not_good (good));
    }
}
