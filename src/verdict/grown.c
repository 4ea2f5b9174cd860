/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "verdict/grown.h"

#include "verdict/dot.h"

#include <math.h>
#include <string.h>

void
ml_growing_init (MlGrowing *growing, MlCase *own)
{
  guint n = own->taken->len, n_columns = own->dictionary->n_columns;
  g_autofree MlReadingClass *classes = g_new (MlReadingClass, MAX (n, 1));

  for (guint i = 0; i < n; i++)
    classes[i] = g_array_index (own->taken, MlTaken, i).class;
  *growing = (MlGrowing){ .own = own };
  growing->classes = ml_mix_classes_new (classes, n, own->figures.mild, own->figures.gross);
  growing->dense = g_new0 (double, n_columns);
  growing->dense_leak = g_new0 (double, n_columns);
  growing->covariance = g_new (double, n + 1);
  growing->dry_covariance = g_new (double, n + 1);
  growing->h = g_new (double, n_columns);
  growing->unknown = g_new (guint, n_columns);
  growing->where = g_new0 (guint, n_columns);
  growing->numbers = g_array_new (FALSE, FALSE, sizeof (double));
  growing->fresh = g_array_new (FALSE, FALSE, sizeof (guint));
}

void
ml_growing_clear (MlGrowing *growing)
{
  ml_mix_classes_free (growing->classes);
  g_free (growing->dense);
  g_free (growing->dense_leak);
  g_free (growing->covariance);
  g_free (growing->dry_covariance);
  g_free (growing->h);
  g_free (growing->unknown);
  g_free (growing->where);
  g_array_unref (growing->numbers);
  g_array_unref (growing->fresh);
}

void
ml_grown_step_room (const MlGrowing *growing, const MlGrown *grown, guint *ret_numbers, guint *ret_fresh)
{
  guint n_signals = growing->own->n_signals;

  *ret_numbers = ml_step_room (&grown->with, n_signals) + (grown->leaks ? ml_step_room (&grown->without, 0) : 0);
  *ret_fresh = n_signals;
}

/* ---- preparing ---- */

static gboolean
is_leak (const MlModel *model, guint column)
{
  return column < model->n_unknowns && model->unknowns[column].leak;
}

/* Its slopes where they can be found by column; the variance by leakage, and how many of its unknowns are pins of chips. */
static double
spread_out (MlGrowing *growing, const MlPrediction *prediction, guint *ret_n_pins)
{
  const MlModel *model = growing->own->dictionary->model;
  gboolean pins = ml_case_weighs_pins (growing->own);
  double leak = 0;

  *ret_n_pins = 0;
  for (guint k = 0; k < prediction->n; k++)
    {
      guint column = prediction->column[k];
      double slope = prediction->slope[k];

      growing->dense[column] = slope;
      if (is_leak (model, column))
        {
          growing->dense_leak[column] = slope;
          leak += slope * slope;
        }
      else if (pins && column < model->n_unknowns && growing->own->signal_of[column] >= 0)
        {
          growing->unknown[*ret_n_pins] = column;
          growing->h[(*ret_n_pins)++] = slope;
        }
    }
  return leak;
}

static void
fold_up (MlGrowing *growing, const MlPrediction *prediction)
{
  for (guint k = 0; k < prediction->n; k++)
    growing->dense[prediction->column[k]] = growing->dense_leak[prediction->column[k]] = 0;
}

static double
dot (const MlPrediction *prediction, const double *dense)
{
  return ml_dot_at (prediction->slope, prediction->column, prediction->n, dense);
}

/* With the first n readings; dry: leakage left out. */
static void
find_covariance (MlGrowing *growing, guint item, guint n, gboolean dry)
{
  for (guint i = 0; i < n; i++)
    {
      guint place = g_array_index (growing->own->taken, MlTaken, i).place;
      const MlPrediction *earlier = ml_dictionary_predict (growing->own->dictionary, item, place);

      growing->covariance[i] = dot (earlier, growing->dense);
      if (dry)
        growing->dry_covariance[i] = growing->covariance[i] - dot (earlier, growing->dense_leak);
    }
}

void
ml_grown_prepare (MlGrowing *growing, guint item, const MlGrown *grown, guint place, double *numbers, guint *fresh, MlPrepared *ret)
{
  MlCase *own = growing->own;
  const MlPrediction *prediction = ml_dictionary_predict (own->dictionary, item, place);
  MlReads reads = g_array_index (own->dictionary->places, MlReadingPlace, place).reads;
  guint n_pins;
  double leak = spread_out (growing, prediction, &n_pins), self = dot (prediction, growing->dense);

  *ret = (MlPrepared){ .value = prediction->value, .floor = ml_case_floor (own, reads, prediction->value, prediction->chopped), .valid = prediction->valid,
                       .leaks = leak > own->figures.volts_v * own->figures.volts_v / 4 };
  if (!grown->lost)
    {
      find_covariance (growing, item, grown->with.n, grown->leaks);
      ret->with = ml_whitened_prepare (&grown->with, growing->covariance, self, growing->unknown, growing->h, n_pins, numbers, fresh, growing->where);
      if (grown->leaks && !grown->dry_lost)
        ret->without = ml_whitened_prepare (&grown->without, growing->dry_covariance, self - leak, NULL, NULL, 0,
                                            numbers + ret->with.n + ret->with.n_watched, NULL, NULL);
    }
  fold_up (growing, prediction);
}

/* ---- taking ---- */

static double
noise (const MlCase *own, const MlTaken *taken, const MlPrepared *prepared)
{
  double variance = taken->variance + prepared->floor;

  return prepared->valid ? variance : variance + pow (own->figures.unsolved_share * taken->class.span, 2);
}

/* The first n readings once more, without leakage. */
static void
grow_dry (MlGrowing *growing, guint item, MlGrown *grown, guint n)
{
  MlCase *own = growing->own;

  ml_whitened_reserve (&grown->without, grown->with.room);
  for (guint i = 0; i < n && !grown->dry_lost; i++)
    {
      const MlTaken *taken = &g_array_index (own->taken, MlTaken, i);
      const MlPrediction *prediction = ml_dictionary_predict (own->dictionary, item, taken->place);
      MlReads reads = g_array_index (own->dictionary->places, MlReadingPlace, taken->place).reads;
      MlPrepared prepared = { .value = prediction->value, .floor = ml_case_floor (own, reads, prediction->value, prediction->chopped),
                              .valid = prediction->valid };
      guint n_pins;
      double leak = spread_out (growing, prediction, &n_pins), self = dot (prediction, growing->dense);

      find_covariance (growing, item, i, TRUE);
      fold_up (growing, prediction);
      g_array_set_size (growing->numbers, ml_step_room (&grown->without, 0) + 1);
      prepared.without = ml_whitened_prepare (&grown->without, growing->dry_covariance, self - leak, NULL, NULL, 0,
                                              (double *) (gpointer) growing->numbers->data, NULL, NULL);
      grown->dry_lost = !ml_whitened_take (&grown->without, &prepared.without, noise (own, taken, &prepared), taken->observed - prepared.value);
    }
}

void
ml_grown_take (MlGrowing *growing, guint item, MlGrown *grown, const MlPrepared *prepared)
{
  MlCase *own = growing->own;
  guint n = grown->with.n;
  const MlTaken *taken = &g_array_index (own->taken, MlTaken, n);
  double variance = noise (own, taken, prepared), d = taken->observed - prepared->value;

  if (grown->lost)
    return;
  grown->lost = !ml_whitened_take (&grown->with, &prepared->with, variance, d);
  if (grown->leaks && !grown->dry_lost)
    grown->dry_lost = !ml_whitened_take (&grown->without, &prepared->without, variance, d);
  else if (!grown->leaks && prepared->leaks)
    {
      grown->leaks = TRUE;
      grow_dry (growing, item, grown, n + 1);
    }
}

void
ml_grown_next (MlGrowing *growing, guint item, MlGrown *grown)
{
  guint place = g_array_index (growing->own->taken, MlTaken, grown->with.n).place, n_numbers, n_fresh;
  MlPrepared prepared;

  ml_grown_step_room (growing, grown, &n_numbers, &n_fresh);
  g_array_set_size (growing->numbers, n_numbers + 1);
  g_array_set_size (growing->fresh, n_fresh + 1);
  ml_grown_prepare (growing, item, grown, place, (double *) (gpointer) growing->numbers->data, (guint *) (gpointer) growing->fresh->data, &prepared);
  ml_grown_take (growing, item, grown, &prepared);
}

/* ---- the density ---- */

/* Most boards leak nothing worth mentioning, some do: a net that floats at 0 V must not lose against one that is tied there. */
static double
mix_in_dry (const MlCase *own, const MlGrown *grown, const MlMixClasses *classes, double ln, double *memory)
{
  double dry = own->figures.dry;

  if (!grown->leaks || grown->dry_lost)
    return ln;
  return ml_ln_add (ln + log (1 - dry), log (dry) + grown->without.ln_good
                                          + ml_whitened_mix (&grown->without, classes, own->figures.mild, own->figures.gross, memory).ln);
}

double
ml_grown_ln (MlGrowing *growing, guint item, const MlGrown *grown)
{
  const MlCase *own = growing->own;
  double *memory, ln;
  MlMixed mixed;

  if (grown->lost)
    return -INFINITY;
  g_array_set_size (growing->numbers, 7 * grown->with.n + 2 + 4 * grown->with.n_watched);
  memory = (double *) (gpointer) growing->numbers->data;
  mixed = ml_whitened_mix (&grown->with, growing->classes, own->figures.mild, own->figures.gross, memory);
  ln = mix_in_dry (own, grown, growing->classes, grown->with.ln_good + mixed.ln, memory);
  return grown->with.n_watched ? ln + ml_case_grown_pins_ln (own, item, &grown->with, &mixed, memory) : ln;
}

void
ml_grown_clear (MlGrown *grown)
{
  ml_whitened_clear (&grown->with);
  ml_whitened_clear (&grown->without);
  *grown = (MlGrown){ 0 };
}
