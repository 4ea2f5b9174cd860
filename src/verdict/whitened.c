/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "verdict/whitened.h"

#include "verdict/room.h"

#include <math.h>
#include <string.h>

guint
ml_step_room (const MlWhitened *own, guint n_h)
{
  return own->n + own->n_watched + n_h;
}

/* Where an unknown is among those watched, a new one behind them. */
static guint
find_watched (MlStep *step, guint unknown, guint *where)
{
  if (!where[unknown])
    {
      step->fresh[step->n_new++] = unknown;
      step->y[step->n_watched++] = 0;
      where[unknown] = step->n_watched;
    }
  return where[unknown] - 1;
}

/* The unknowns that hang together with the reading. A large board has hundreds of pins of chips: each is found at once. */
static void
find_all_watched (const MlWhitened *own, MlStep *step, const guint *unknown, const double *h, guint n_h, guint *where)
{
  for (guint i = 0; i < own->n_watched && n_h; i++)
    where[own->watched[i]] = i + 1;
  for (guint i = 0; i < n_h; i++)
    {
      guint at = find_watched (step, unknown[i], where);
      step->y[at] += h[i];
    }
  for (guint i = 0; i < own->n_watched && n_h; i++)
    where[own->watched[i]] = 0;
  for (guint i = 0; i < step->n_new; i++)
    where[step->fresh[i]] = 0;
}

MlStep
ml_whitened_prepare (const MlWhitened *own, const double *covariance, double variance, const guint *unknown, const double *h, guint n_h, double *memory,
                     guint *fresh, guint *where)
{
  MlStep step = { .n = own->n, .left = variance, .back = memory, .n_watched = own->n_watched, .y = memory + own->n, .fresh = fresh };
  const double *row = own->rows;

  memset (memory, 0, (own->n + own->n_watched) * sizeof *memory);
  find_all_watched (own, &step, unknown, h, n_h, where);
  for (guint i = 0; i < own->n; row += ++i)
    {
      const double *y = own->y[i];
      double l = 0;

      for (guint k = 0; k <= i; k++)
        l += row[k] * covariance[k];
      for (guint k = 0; k <= i; k++)
        step.back[k] += row[k] * l;
      step.left -= l * l;
      step.along += l * own->d[i];
      for (guint k = 0; k < own->y_end[i]; k++)
        step.y[k] -= l * y[k];
    }
  return step;
}

static gpointer
enlarge (const MlWhitened *own, gpointer array, gsize used, gsize bytes)
{
  gpointer larger;

  if (!own->lies_in)
    return g_realloc (array, bytes);
  larger = ml_room_take (own->lies_in, bytes);
  if (used)
    memcpy (larger, array, used);
  return larger;
}

#define ENLARGE(type, array, n_used, n) (type *) enlarge (own, array, (n_used) * sizeof (type), (n) * sizeof (type))

void
ml_whitened_reserve (MlWhitened *own, guint n)
{
  if (n <= own->room)
    return;
  own->room = n;
  own->rows = ENLARGE (double, own->rows, ml_white_at (own->n), ml_white_at (n));
  own->d = ENLARGE (double, own->d, own->n, n);
  own->a = ENLARGE (double, own->a, own->n, n);
  own->v = ENLARGE (double, own->v, own->n, n);
  own->y_end = ENLARGE (guint, own->y_end, own->n, n);
  own->y = ENLARGE (double *, own->y, own->n, n);
}

static void
watch (MlWhitened *own, const guint *fresh, guint n)
{
  guint all = own->n_watched + n;

  if (!n)
    return;
  if (all > own->watched_room)
    {
      own->watched_room = MAX (own->watched_room + own->watched_room / 2, all + 4); /* others of the chip follow with further readings */
      own->watched = ENLARGE (guint, own->watched, own->n_watched, own->watched_room);
      own->mean = ENLARGE (double, own->mean, own->n_watched, own->watched_room);
      own->variance = ENLARGE (double, own->variance, own->n_watched, own->watched_room);
    }
  for (guint i = 0; i < n; i++)
    {
      own->watched[own->n_watched + i] = fresh[i];
      own->mean[own->n_watched + i] = 0;
      own->variance[own->n_watched + i] = 1;
    }
  own->n_watched = all;
}

gboolean
ml_whitened_take (MlWhitened *own, const MlStep *step, double variance, double d)
{
  double left = step->left + variance, share = 1 / sqrt (left), white_d = (d - step->along) * share, *row, *y;
  guint n = own->n;

  if (!(left > 0))
    return FALSE;
  watch (own, step->fresh, step->n_new);
  if (n == own->room)
    ml_whitened_reserve (own, own->room ? own->room + own->room / 2 : 8);
  row = own->rows + ml_white_at (n);
  y = own->y[n] = own->n_watched ? enlarge (own, NULL, 0, own->n_watched * sizeof *y) : NULL;
  for (guint k = 0; k < n; k++)
    {
      row[k] = -step->back[k] * share;
      own->a[k] += row[k] * white_d;
      own->v[k] += row[k] * row[k];
    }
  row[n] = share;
  own->d[n] = white_d;
  own->a[n] = share * white_d;
  own->v[n] = share * share;
  own->ln_good -= (log (2 * G_PI * left) + white_d * white_d) / 2;
  for (guint k = 0; k < own->n_watched; k++)
    {
      y[k] = step->y[k] * share;
      own->mean[k] += y[k] * white_d;
      own->variance[k] -= y[k] * y[k];
    }
  own->y_end[n] = own->n_watched;
  own->n++;
  return TRUE;
}

void
ml_whitened_along (const MlWhitened *own, guint reading, double *ret)
{
  memset (ret, 0, own->n_watched * sizeof *ret);
  for (guint i = reading; i < own->n; i++)
    for (guint k = 0; k < own->y_end[i]; k++)
      ret[k] += own->rows[ml_white_at (i) + reading] * own->y[i][k];
}

MlMixed
ml_whitened_mix (const MlWhitened *own, const MlMixClasses *classes, double mild, double gross, double *memory)
{
  return ml_mix (own->a, own->v, own->rows, classes, own->n, mild, gross, memory);
}

void
ml_whitened_clear (MlWhitened *own)
{
  gpointer arrays[] = { own->rows, own->d, own->a, own->v, own->watched, own->mean, own->variance, own->y_end, own->y };

  for (guint i = 0; i < own->n && !own->lies_in; i++)
    g_free (own->y[i]);
  for (guint i = 0; i < G_N_ELEMENTS (arrays) && !own->lies_in; i++)
    g_free (arrays[i]);
  *own = (MlWhitened){ 0 };
}
