/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/truth-loose.h"

#include <lapacke.h>
#include <math.h>
#include <string.h>

#define SIGMAS 3.0
#define N_STEPS 14
#define N_STARTS 3   /* sizes of a fault that are begun from */
#define DIFFERENCE 0.02 /* of a logarithm, for slopes */
#define MOST_OFF 1e3 /* sigma: over-range against a number, or farther */

/* Usual values: resistors and zeners of the common series (common practice); a regulator drawn as a block may give anything a small one gives. */
static const struct { MlKind kind; MlKey key; double low, high; } USUAL[] = {
  { ML_KIND_RESISTOR, ML_KEY_VALUE, 10, 500e3 },
  { ML_KIND_ZENER, ML_KEY_VOLTAGE, 2.4, 39 },
  { ML_KIND_REGULATOR, ML_KEY_VOLTAGE, 1.8, 24 },
};

/* A quantity that may be anything between two ends: ln of a part's factor, or, part -1, ln of the fault's size. */
typedef struct { int part; double low, high; } Free;

struct _MlTruthLoose
{
  MlTruthCase *known; /* as if every value stood on the drawing: its spreads are the tolerances alone */
  MlTruth *board;
  GArray *unread;     /* Free */
  gboolean beside_good;
};

static void
add_unread (MlTruthLoose *loose, const MlBoard *drawn, int index)
{
  const MlPart *part = &loose->known->actual->parts[index], *as_drawn = &drawn->parts[index];
  for (guint i = 0; i < G_N_ELEMENTS (USUAL); i++)
    {
      const MlAttribute *value = part->kind->kind == USUAL[i].kind ? ml_part_attribute (part, USUAL[i].key) : NULL;
      if (!value || (as_drawn->kind == part->kind && ml_part_attribute (as_drawn, USUAL[i].key)))
        continue;
      Free unread = { index, log (USUAL[i].low / value->quantity.value), log (USUAL[i].high / value->quantity.value) };
      g_array_append_val (loose->unread, unread);
    }
}

MlTruthLoose *
ml_truth_loose_new (MlBoard *drawn, MlBoard *actual, const GArray *places, gboolean beside_good)
{
  MlTruthLoose *loose = g_new0 (MlTruthLoose, 1);
  loose->known = ml_truth_case_new (actual, actual, places);
  loose->board = ml_truth_new (actual, actual, ML_TRUTH_NOMINAL, 0, NULL);
  loose->unread = g_array_new (FALSE, TRUE, sizeof (Free));
  loose->beside_good = beside_good;
  for (guint i = 0; i < actual->n_parts; i++)
    add_unread (loose, drawn, (int) i);
  return loose;
}

void
ml_truth_loose_free (MlTruthLoose *loose)
{
  if (!loose)
    return;
  ml_truth_case_free (loose->known);
  ml_truth_free (loose->board);
  g_array_unref (loose->unread);
  g_free (loose);
}

guint
ml_truth_loose_n_unread (const MlTruthLoose *loose)
{
  return loose->unread->len;
}

gboolean
ml_truth_loose_is_unread (const MlTruthLoose *loose, int part)
{
  for (guint i = 0; i < loose->unread->len; i++)
    if (g_array_index (loose->unread, Free, i).part == part)
      return TRUE;
  return FALSE;
}

/* ---- the nearest board ---- */

typedef struct
{
  MlTruthLoose *loose;
  const double *y, *sigma; /* per place: what is to be met */
  guint n;                 /* places, twice as many beside a good unit */
  const MlFault *fault;    /* NULL: a sound board */
  const Free *free;
  guint n_free;
} Match;

/* From readings to how far off they are, in sigma; the sum of squares. */
static double
far_off (double *r, const double *y, const double *sigma, guint n)
{
  double sum = 0;
  for (guint i = 0; i < n; i++)
    {
      r[i] = isinf (r[i]) && isinf (y[i]) ? 0 : CLAMP ((r[i] - y[i]) / sigma[i], -MOST_OFF, MOST_OFF);
      sum += r[i] * r[i];
    }
  return sum;
}

/* r: how far off each place is, then each of the good unit. Sum of squares; INFINITY where the board could not be solved. */
static double
residuals (const Match *m, const double *at, double *r)
{
  MlTruthCase *known = m->loose->known;
  MlFault fault = m->fault ? *m->fault : (MlFault) { 0 };
  guint n = known->places->len;
  for (guint i = 0; i < m->n_free; i++)
    if (m->free[i].part >= 0)
      ml_truth_scale (m->loose->board, m->free[i].part, exp (at[i]));
    else
      fault.size = exp (at[i]);
  if (!ml_truth_case_read (known, m->loose->board, &fault, m->fault ? 1 : 0, r)
      || (m->n > n && !ml_truth_case_read (known, m->loose->board, NULL, 0, r + n)))
    return INFINITY;
  return far_off (r, m->y, m->sigma, n) + (m->n > n ? far_off (r + n, known->healthy, known->healthy_sigma, n) : 0);
}

/* Levenberg and Marquardt: (J'J + damping) step = -J'r, within the ends. */
static gboolean
find_step (const Match *m, const double *r, const double *slopes, double damping, double *step)
{
  lapack_int n = (lapack_int) m->n_free;
  g_autofree double *a = g_new0 (double, n * n);
  for (lapack_int i = 0; i < n; i++)
    {
      step[i] = 0;
      for (guint k = 0; k < m->n; k++)
        step[i] -= slopes[i * m->n + k] * r[k];
      for (lapack_int j = 0; j <= i; j++)
        for (guint k = 0; k < m->n; k++)
          a[j * n + i] += slopes[i * m->n + k] * slopes[j * m->n + k];
      a[i * n + i] += damping * (1 + a[i * n + i]);
    }
  return !LAPACKE_dposv (LAPACK_COL_MAJOR, 'L', n, 1, a, n, step, n);
}

static gboolean
find_slopes (const Match *m, const double *at, const double *r, double *slopes)
{
  g_autofree double *moved = g_memdup2 (at, (m->n_free + 1) * sizeof *at);
  for (guint i = 0; i < m->n_free; i++)
    {
      double by = at[i] + DIFFERENCE > m->free[i].high ? -DIFFERENCE : DIFFERENCE;
      moved[i] = at[i] + by;
      if (!isfinite (residuals (m, moved, slopes + i * m->n)))
        return FALSE;
      for (guint k = 0; k < m->n; k++)
        slopes[i * m->n + k] = (slopes[i * m->n + k] - r[k]) / by;
      moved[i] = at[i];
    }
  return TRUE;
}

static double
largest (const double *r, guint n)
{
  double most = 0;
  for (guint i = 0; i < n; i++)
    most = MAX (most, fabs (r[i]));
  return most;
}

/* Whether some values near those at `at` bring every place within SIGMAS. */
static gboolean
meets (const Match *m, double *at)
{
  g_autofree double *r = g_new0 (double, m->n + 1), *next_r = g_new0 (double, m->n + 1), *slopes = g_new0 (double, m->n * m->n_free + 1);
  g_autofree double *step = g_new0 (double, m->n_free + 1), *next = g_new0 (double, m->n_free + 1);
  double sum = residuals (m, at, r), damping = 1e-2;
  for (guint i = 0; i < N_STEPS && isfinite (sum) && largest (r, m->n) >= SIGMAS && m->n_free; i++)
    {
      gboolean gained = FALSE;
      double before = sum;
      if (!find_slopes (m, at, r, slopes))
        return FALSE;
      for (guint try = 0; try < 4 && !gained; try++, damping *= gained ? 1 : 8)
        {
          if (!find_step (m, r, slopes, damping, step))
            continue;
          for (guint k = 0; k < m->n_free; k++)
            next[k] = CLAMP (at[k] + CLAMP (step[k], -2, 2), m->free[k].low, m->free[k].high);
          double value = residuals (m, next, next_r);
          gained = value < sum;
          if (gained)
            {
              sum = value;
              memcpy (at, next, m->n_free * sizeof *at);
              memcpy (r, next_r, m->n * sizeof *r);
            }
        }
      if (!gained || before - sum < 1e-3 * before)
        break;
      damping = MAX (damping / 10, 1e-6);
    }
  return isfinite (sum) && largest (r, m->n) < SIGMAS;
}

/* fault NULL or with its own size: the unread values alone are free. mode: sizes that it may have besides. */
static gboolean
is_met (MlTruthLoose *loose, const double *y, const double *sigma, const MlFault *fault, double low, double high)
{
  g_autoptr (GArray) list = g_array_new (FALSE, TRUE, sizeof (Free));
  gboolean sized = fault && isfinite (low), met = FALSE;
  g_array_append_vals (list, loose->unread->data, loose->unread->len);
  if (sized) /* two faults tie over more than the sizes they are drawn from, as in truth-case.c */
    {
      Free size = { -1, log (low > 1 ? low / 10 : low), log (high < 1 ? high : high * 10) };
      g_array_append_val (list, size);
    }
  Match m = { loose, y, sigma, loose->known->places->len * (loose->beside_good ? 2 : 1), fault,
              (const Free *) (gpointer) list->data, list->len };
  g_autofree double *at = g_new0 (double, list->len + 1);
  for (guint i = 0; i < (sized ? N_STARTS : 1) && !met; i++)
    {
      memset (at, 0, list->len * sizeof *at);
      if (sized)
        at[list->len - 1] = m.free[list->len - 1].low + (i + 0.5) / N_STARTS * (m.free[list->len - 1].high - m.free[list->len - 1].low);
      met = meets (&m, at);
    }
  for (guint i = 0; i < loose->unread->len; i++)
    ml_truth_scale (loose->board, g_array_index (loose->unread, Free, i).part, 1);
  return met;
}

gboolean
ml_truth_loose_shows (MlTruthLoose *loose, const MlFault *fault)
{
  guint n = loose->known->places->len;
  g_autofree double *y = g_new0 (double, n + 1), *sigma = g_new0 (double, n + 1);
  if (!ml_truth_case_predict (loose->known, fault, y))
    return FALSE;
  ml_truth_case_sigma (loose->known, fault, sigma);
  for (guint i = 0; i < n; i++)
    sigma[i] = MAX (sigma[i], loose->known->healthy_sigma[i]);
  return !is_met (loose, y, sigma, NULL, NAN, NAN);
}

static gboolean
is_met_by_some (MlTruthLoose *loose, const double *y, const double *sigma, const GArray *modes, int part)
{
  for (guint i = 0; i < modes->len; i++)
    {
      const MlTruthMode *mode = &g_array_index (modes, MlTruthMode, i);
      if (mode->fault.part == part && is_met (loose, y, sigma, &mode->fault, mode->low, mode->high))
        return TRUE;
    }
  return FALSE;
}

gboolean
ml_truth_loose_tied (MlTruthLoose *loose, const MlFault *fault, int part)
{
  guint n = loose->known->places->len;
  g_autofree double *y = g_new0 (double, n + 1), *sigma = g_new0 (double, n + 1);
  if (fault->part == part)
    return TRUE;
  if (!ml_truth_case_predict (loose->known, fault, y))
    return FALSE;
  ml_truth_case_sigma (loose->known, fault, sigma);
  return is_met_by_some (loose, y, sigma, loose->known->modes, part) || is_met_by_some (loose, y, sigma, loose->known->seldom, part);
}
