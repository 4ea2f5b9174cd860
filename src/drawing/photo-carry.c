/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/photo-carry.h"

#include <math.h>

#define LINE_SHARE 1e-4 /* narrower than this share of its length, the common pads count as one line */

typedef struct { double x, y, u, v; } Pair; /* the same pad on both pictures */
typedef struct { double ax, ay, bx, by, x0, y0, u0, v0; } Affine; /* u = u0 + ax (x - x0) + ay (y - y0), v likewise with b */

static GArray *
common_pads (const MlBoard *board, int from, int to)
{
  GArray *pairs = g_array_new (FALSE, FALSE, sizeof (Pair));
  const MlPicture *a = &board->pictures[from], *b = &board->pictures[to];

  for (guint i = 0; i < a->n_pads; i++)
    {
      int k = a->pads[i].pin >= 0 ? ml_board_find_pad (board, to, a->pads[i].part, a->pads[i].pin) : -1;

      if (k >= 0)
        g_array_append_val (pairs, ((Pair) { a->pads[i].x_px, a->pads[i].y_px, b->pads[k].x_px, b->pads[k].y_px }));
    }
  return pairs;
}

static void
find_middles (const GArray *pairs, Affine *fit)
{
  for (guint i = 0; i < pairs->len; i++)
    {
      const Pair *p = &g_array_index (pairs, Pair, i);

      fit->x0 += p->x / pairs->len;
      fit->y0 += p->y / pairs->len;
      fit->u0 += p->u / pairs->len;
      fit->v0 += p->v / pairs->len;
    }
}

static gboolean
fit_affine (const GArray *pairs, Affine *fit)
{
  double xx = 0, xy = 0, yy = 0, xu = 0, yu = 0, xv = 0, yv = 0, det;

  *fit = (Affine) { 0 };
  if (pairs->len < ML_PHOTO_CARRY_MIN)
    return FALSE;
  find_middles (pairs, fit);
  for (guint i = 0; i < pairs->len; i++)
    {
      const Pair *p = &g_array_index (pairs, Pair, i);
      const double x = p->x - fit->x0, y = p->y - fit->y0, u = p->u - fit->u0, v = p->v - fit->v0;

      xx += x * x, xy += x * y, yy += y * y;
      xu += x * u, yu += y * u, xv += x * v, yv += y * v;
    }
  det = xx * yy - xy * xy;
  if (!(det > LINE_SHARE * (xx + yy) * (xx + yy) / 4))
    return FALSE;
  fit->ax = (yy * xu - xy * yu) / det;
  fit->ay = (xx * yu - xy * xu) / det;
  fit->bx = (yy * xv - xy * yv) / det;
  fit->by = (xx * yv - xy * xv) / det;
  return TRUE;
}

static void
carry (const Affine *fit, double x, double y, double *ret_u, double *ret_v)
{
  *ret_u = fit->u0 + fit->ax * (x - fit->x0) + fit->ay * (y - fit->y0);
  *ret_v = fit->v0 + fit->bx * (x - fit->x0) + fit->by * (y - fit->y0);
}

static double
misfit (const GArray *pairs, const Affine *fit)
{
  double sum = 0;

  for (guint i = 0; i < pairs->len; i++)
    {
      const Pair *p = &g_array_index (pairs, Pair, i);
      double u, v;

      carry (fit, p->x, p->y, &u, &v);
      sum += (u - p->u) * (u - p->u) + (v - p->v) * (v - p->v);
    }
  return sqrt (sum / pairs->len);
}

MlPad *
ml_photo_carry (const MlBoard *board, int from, int to, guint *ret_n, double *ret_misfit_px)
{
  const MlPicture *source = &board->pictures[from];
  g_autoptr (GArray) pairs = common_pads (board, from, to);
  GArray *pads;
  Affine fit;

  *ret_n = 0;
  if (!fit_affine (pairs, &fit))
    return NULL;
  *ret_misfit_px = misfit (pairs, &fit);
  pads = g_array_new (FALSE, FALSE, sizeof (MlPad));
  for (guint i = 0; i < source->n_pads; i++)
    {
      MlPad pad = source->pads[i];

      if (pad.pin < 0 || ml_board_find_pad (board, to, pad.part, pad.pin) >= 0)
        continue;
      carry (&fit, pad.x_px, pad.y_px, &pad.x_px, &pad.y_px);
      if (fabs (pad.x_px) <= ML_PICTURE_MAX_PX && fabs (pad.y_px) <= ML_PICTURE_MAX_PX)
        g_array_append_val (pads, pad);
    }
  *ret_n = pads->len;
  return (MlPad *) (void *) g_array_free (pads, FALSE);
}
