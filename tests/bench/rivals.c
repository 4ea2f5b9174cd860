/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "bench/rivals.h"

#include "verdict/assumptions.h"

#include <lapacke.h>
#include <math.h>
#include <string.h>

#define N_SIZES 6

/* One mode at one size: what it gives at every place, over samples of the part values. */
typedef struct
{
  int part;         /* -1: healthy */
  guint n_cells;    /* of its mode */
  double weight;    /* what the verdict takes its mode to weigh, 0 for healthy */
  double *nominal;  /* n_places */
  double *samples;  /* n_samples x n_places */
  guint n_samples;  /* those that could be solved */
} Cell;

struct _MlRivals
{
  const MlTruthCase *c;
  GArray *cells; /* Cell */
  guint n_places;
};

/* Where a cell's size lies, as a share of the whole range in its logarithm. */
static MlFault
sized (const MlTruthMode *mode, double share)
{
  MlFault fault = mode->fault;
  double low, high;
  if (ml_truth_mode_sizes (mode, &low, &high))
    fault.size = low * pow (high / low, share);
  return fault;
}

/* Cell k of n of a mode (NULL: healthy). The samples' sizes fill the cell, so that their spread has its width in it. */
static void
add_cell (MlRivals *rivals, GPtrArray *units, MlTruthCase *c, const MlTruthMode *mode, guint k, guint n)
{
  MlRandom random = ml_random_seeded (rivals->cells->len + 1);
  Cell cell = { .part = mode ? mode->fault.part : -1, .n_cells = n, .nominal = g_new0 (double, c->places->len + 1) };
  MlFault fault = mode ? sized (mode, (k + 0.5) / n) : (MlFault) { .part = -1 };
  if (mode)
    cell.weight = ml_assumption_weight (c->actual->parts[fault.part].kind->kind, fault.kind);
  if (!ml_truth_case_predict (c, mode ? &fault : NULL, cell.nominal))
    {
      g_free (cell.nominal);
      return;
    }
  cell.samples = g_new0 (double, (gsize) units->len * c->places->len + 1);
  for (guint i = 0; i < units->len; i++)
    {
      fault = mode ? sized (mode, (k + ml_random_uniform (&random)) / n) : fault;
      if (ml_truth_case_read (c, g_ptr_array_index (units, i), mode ? &fault : NULL, mode ? 1 : 0, cell.samples + (gsize) cell.n_samples * c->places->len))
        cell.n_samples++;
    }
  g_array_append_val (rivals->cells, cell);
}

MlRivals *
ml_rivals_new (MlTruthCase *c, guint n_samples)
{
  MlRivals *rivals = g_new0 (MlRivals, 1);
  g_autoptr (GPtrArray) units = g_ptr_array_new_with_free_func ((GDestroyNotify) ml_truth_free);
  rivals->c = c;
  rivals->cells = g_array_new (FALSE, TRUE, sizeof (Cell));
  rivals->n_places = c->places->len;
  for (guint k = 0; k < n_samples; k++)
    g_ptr_array_add (units, ml_truth_new (c->actual, c->drawn, ML_TRUTH_BELIEVED, 50000 + k, NULL));
  add_cell (rivals, units, c, NULL, 0, 1);
  for (guint i = 0; i < c->modes->len; i++)
    {
      const MlTruthMode *mode = &g_array_index (c->modes, MlTruthMode, i);
      double low, high;
      guint n = ml_truth_mode_sizes (mode, &low, &high) ? N_SIZES : 1;
      for (guint k = 0; k < n; k++)
        add_cell (rivals, units, c, mode, k, n);
    }
  return rivals;
}

void
ml_rivals_free (MlRivals *rivals)
{
  if (!rivals)
    return;
  for (guint i = 0; i < rivals->cells->len; i++)
    {
      g_free (g_array_index (rivals->cells, Cell, i).nominal);
      g_free (g_array_index (rivals->cells, Cell, i).samples);
    }
  g_array_unref (rivals->cells);
  g_free (rivals);
}

/* Ohms are compared in their logarithm: from a short to over-range they span eight decades. */
static double
measure (const MlRivals *rivals, guint place, double value)
{
  const double over_ohm = 6e7, least_ohm = 0.3;
  if (g_array_index (rivals->c->places, MlTruthPlace, place).reads != ML_READS_OHMS)
    return value;
  return log (CLAMP (value, least_ohm, over_ohm));
}

static double
meter_sigma (const MlRivals *rivals, guint place, double measured)
{
  MlReads reads = g_array_index (rivals->c->places, MlTruthPlace, place).reads;
  double value = reads == ML_READS_OHMS ? exp (measured) : measured, sigma = ml_truth_meter_sigma (&rivals->c->meter, reads, value);
  return reads == ML_READS_OHMS ? MAX (sigma / value, 0.01) : sigma;
}

/* A technician's yardstick: 3 % of the reading and 30 mV (1 mA of current); a tenth of a resistance. */
static double
yardstick (const MlRivals *rivals, guint place, double expected)
{
  MlReads reads = g_array_index (rivals->c->places, MlTruthPlace, place).reads;
  return reads == ML_READS_OHMS ? 0.1 : 0.03 * fabs (expected) + (reads == ML_READS_AMPS ? 1e-3 : 0.03);
}

void
ml_rivals_nearest (const MlRivals *rivals, const guint *which, const double *y, guint n, double *ret_parts, double *ret_healthy)
{
  for (guint i = 0; i < rivals->c->actual->n_parts; i++)
    ret_parts[i] = INFINITY;
  *ret_healthy = INFINITY;
  for (guint i = 0; i < rivals->cells->len; i++)
    {
      const Cell *cell = &g_array_index (rivals->cells, Cell, i);
      double distance = 0, *nearest = cell->part < 0 ? ret_healthy : &ret_parts[cell->part];
      for (guint k = 0; k < n; k++)
        {
          double expected = measure (rivals, which[k], cell->nominal[which[k]]);
          double off = (measure (rivals, which[k], y[k]) - expected) / yardstick (rivals, which[k], expected);
          distance += off * off;
        }
      *nearest = MIN (*nearest, distance);
    }
}

/* Gaussian with the samples' mean and covariance and the meter's error: ln density of y. */
static double
ln_density (const MlRivals *rivals, const Cell *cell, const guint *which, const double *y, guint n)
{
  g_autofree double *mean = g_new0 (double, n), *covariance = g_new0 (double, (gsize) n * n), *d = g_new (double, n);
  for (guint s = 0; s < cell->n_samples; s++)
    for (guint i = 0; i < n; i++)
      mean[i] += measure (rivals, which[i], cell->samples[(gsize) s * rivals->n_places + which[i]]) / cell->n_samples;
  for (guint s = 0; s < cell->n_samples; s++)
    for (guint i = 0; i < n; i++)
      for (guint j = 0; j <= i; j++)
        covariance[j * n + i] += (measure (rivals, which[i], cell->samples[(gsize) s * rivals->n_places + which[i]]) - mean[i])
                                 * (measure (rivals, which[j], cell->samples[(gsize) s * rivals->n_places + which[j]]) - mean[j]) / (cell->n_samples - 1);
  for (guint i = 0; i < n; i++)
    {
      double sigma = meter_sigma (rivals, which[i], mean[i]);
      covariance[i * n + i] = 1.05 * covariance[i * n + i] + sigma * sigma;
      d[i] = measure (rivals, which[i], y[i]) - mean[i];
      if (!isfinite (d[i]) || !isfinite (covariance[i * n + i])) /* some sample could not be computed */
        return -INFINITY;
    }
  if (LAPACKE_dpotrf (LAPACK_COL_MAJOR, 'L', n, covariance, n) != 0)
    return -INFINITY;
  if (LAPACKE_dtrtrs (LAPACK_COL_MAJOR, 'L', 'N', 'N', n, 1, covariance, n, d, n) != 0)
    return -INFINITY;
  double ln = -0.5 * n * log (2 * G_PI);
  for (guint i = 0; i < n; i++)
    ln -= log (covariance[i * n + i]) + 0.5 * d[i] * d[i];
  return ln;
}

void
ml_rivals_bayes (const MlRivals *rivals, const guint *which, const double *y, guint n, double healthy_prior, gboolean weighted, double *ret_parts,
                 double *ret_healthy)
{
  g_autofree double *ln = g_new0 (double, rivals->cells->len);
  double most = -INFINITY, sum = 0, total = 0;
  for (guint i = 0; i < rivals->cells->len; i++)
    if (g_array_index (rivals->cells, Cell, i).part >= 0)
      total += (weighted ? g_array_index (rivals->cells, Cell, i).weight : 1) / g_array_index (rivals->cells, Cell, i).n_cells;
  for (guint i = 0; i < rivals->cells->len; i++)
    {
      const Cell *cell = &g_array_index (rivals->cells, Cell, i);
      double prior = cell->part < 0 ? healthy_prior : (1 - healthy_prior) * (weighted ? cell->weight : 1) / cell->n_cells / total;
      ln[i] = cell->n_samples > 2 ? log (prior) + ln_density (rivals, cell, which, y, n) : -INFINITY;
      most = MAX (most, ln[i]);
    }
  memset (ret_parts, 0, rivals->c->actual->n_parts * sizeof *ret_parts);
  *ret_healthy = 0;
  for (guint i = 0; i < rivals->cells->len; i++)
    sum += ln[i] = isfinite (most) ? exp (ln[i] - most) : 0;
  for (guint i = 0; i < rivals->cells->len && sum > 0; i++)
    {
      int part = g_array_index (rivals->cells, Cell, i).part;
      *(part < 0 ? ret_healthy : &ret_parts[part]) += ln[i] / sum;
    }
}
