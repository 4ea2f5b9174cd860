/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A short annealing from a good start (Davidson and Harel 1996, from memory): single pieces, whole neighbourhoods, mirrored ones too. */
#include "drawing/layout-sheet.h"

#include <math.h>
#include <string.h>

#define MOST_COUPLED 3 /* pieces: a connector and what couples it */
#define SPECIAL_EVERY 6 /* moves of a piece that has such a place */

typedef struct { int x, y; MlForm *form; } Stand;

static gboolean
accepts (MlSheet *sheet, int delta, double temperature)
{
  if (delta <= 0)
    return TRUE;
  return ml_sheet_random (sheet, 1u << 24) / (double) (1u << 24) < exp (-delta / (20 * temperature));
}

static int
between (MlSheet *sheet, int low, int high)
{
  return low + (int) ml_sheet_random (sheet, (guint) (high - low + 1));
}

/* ---- moving several at once ---- */

static int
own_costs (MlSheet *sheet, const int *which, guint n)
{
  int cost = 0;
  guint i;

  for (i = 0; i < n; i++)
    cost += ml_sheet_own_cost (sheet, which[i]);
  return cost;
}

static guint
nets_of (const MlSheet *sheet, const int *which, guint n, int *ret_nets)
{
  guint8 *marked = g_new0 (guint8, MAX (sheet->n_nets, 1));
  guint i, k, n_nets = 0;

  for (i = 0; i < n; i++)
    for (k = 0; k < sheet->spots[which[i]].n_nets; k++)
      marked[sheet->spots[which[i]].nets[k]] = 1;
  for (i = 0; i < sheet->n_nets; i++)
    if (marked[i])
      ret_nets[n_nets++] = (int) i;
  g_free (marked);
  return n_nets;
}

static void
set_stands (MlSheet *sheet, const int *which, guint n, const Stand *stands)
{
  guint i;

  for (i = 0; i < n; i++)
    {
      sheet->spots[which[i]].x = stands[i].x;
      sheet->spots[which[i]].y = stands[i].y;
      sheet->spots[which[i]].form = stands[i].form;
    }
}

static int
stamp_boxes (MlSheet *sheet, const int *which, guint n, int sign)
{
  int cost = 0;
  guint i;

  for (i = 0; i < n; i++)
    cost += ml_sheet_box (sheet, which[i], sign);
  return cost;
}

static gboolean
all_inside (const MlSheet *sheet, const int *which, guint n)
{
  guint i;

  for (i = 0; i < n; i++)
    if (!ml_sheet_inside (sheet, which[i]))
      return FALSE;
  return TRUE;
}

static void
try_stands (MlSheet *sheet, const int *which, guint n, const Stand *to, double temperature)
{
  Stand *old = g_new (Stand, MAX (n, 1));
  int *nets = g_new (int, MAX (sheet->n_nets, 1)), before, after;
  guint i, n_nets = nets_of (sheet, which, n, nets);
  MlCells hull = ml_sheet_hull (sheet, -1);

  for (i = 0; i < n; i++)
    old[i] = (Stand){ sheet->spots[which[i]].x, sheet->spots[which[i]].y, sheet->spots[which[i]].form };
  before = ml_sheet_shape_cost (&hull) + own_costs (sheet, which, n);
  set_stands (sheet, which, n, to);
  if (!all_inside (sheet, which, n))
    {
      set_stands (sheet, which, n, old);
      g_free (old);
      g_free (nets);
      return;
    }
  set_stands (sheet, which, n, old);
  for (i = 0; i < n_nets; i++)
    before += sheet->nets[nets[i]].now.cost + ml_sheet_wire (sheet, &sheet->nets[nets[i]].now, -1);
  before += stamp_boxes (sheet, which, n, -1);
  set_stands (sheet, which, n, to);
  after = stamp_boxes (sheet, which, n, 1);
  ml_sheet_save_nets (sheet, nets, n_nets);
  for (i = 0; i < n_nets; i++)
    {
      ml_sheet_estimate (sheet, nets[i]);
      after += sheet->nets[nets[i]].now.cost + ml_sheet_wire (sheet, &sheet->nets[nets[i]].now, 1);
    }
  hull = ml_sheet_hull (sheet, -1);
  after += ml_sheet_shape_cost (&hull) + own_costs (sheet, which, n);
  if (!accepts (sheet, after - before, temperature))
    {
      for (i = 0; i < n_nets; i++)
        ml_sheet_wire (sheet, &sheet->nets[nets[i]].now, -1);
      stamp_boxes (sheet, which, n, -1);
      set_stands (sheet, which, n, old);
      stamp_boxes (sheet, which, n, 1);
      ml_sheet_back_nets (sheet, nets, n_nets);
      for (i = 0; i < n_nets; i++)
        ml_sheet_wire (sheet, &sheet->nets[nets[i]].now, 1);
    }
  g_free (old);
  g_free (nets);
}

/* ---- the moves ---- */

static void
move_one (MlSheet *sheet, int i, double temperature)
{
  MlSpot *spot = &sheet->spots[i];
  Stand to = { spot->x, spot->y, spot->form };
  guint what = ml_sheet_random (sheet, 100);

  if (what < 35 && spot->piece->is_block)
    to.form = what < 12 ? ml_sheet_fitted (sheet, i) : ml_sheet_permuted (sheet, i);
  else if (what < 35 && spot->piece->n_listed > 1 && spot->piece->n_pins > 0)
    {
      guint pin = ml_sheet_random (sheet, spot->piece->n_pins);
      to.form = g_ptr_array_index (spot->piece->forms, ml_sheet_random (sheet, spot->piece->n_listed));
      to.x += spot->form->pins[pin].x - to.form->pins[pin].x;
      to.y += spot->form->pins[pin].y - to.form->pins[pin].y;
    }
  if (what >= 30 && what < 55)
    {
      to.x += between (sheet, -2, 2);
      to.y += between (sheet, -2, 2);
    }
  else if (what >= 55 && spot->piece->n_pins > 0)
    {
      guint pin = ml_sheet_random (sheet, spot->piece->n_pins);
      int net = spot->piece->pins[pin].net;
      GArray *found;
      MlPiecePinRef ref;
      if (net < 0)
        return;
      ref = sheet->nets[net].pins[ml_sheet_random (sheet, sheet->nets[net].n_pins)];
      if (!spot->piece->is_block && what > 80)
        to.form = g_ptr_array_index (spot->piece->forms, ml_sheet_random (sheet, spot->piece->n_listed));
      if (ref.piece == i)
        {
          to.x += between (sheet, -8, 8);
          to.y += between (sheet, -6, 6);
        }
      else
        {
          double r = ml_sheet_random (sheet, 1u << 16) / 65536.0;
          const int *xy;
          found = g_array_new (FALSE, FALSE, 2 * sizeof (int));
          ml_sheet_candidates (to.form, (int) pin, ml_sheet_pin (sheet, ref.piece, ref.pin), found);
          xy = &((int *) (gpointer) found->data)[2 * (guint) (r * r * found->len)];
          to.x = xy[0];
          to.y = xy[1];
          g_array_unref (found);
        }
    }
  if (to.x != spot->x || to.y != spot->y || to.form != spot->form)
    try_stands (sheet, &i, 1, &to, temperature);
}

/* A piece and its nearest over signal nets, breadth first. */
static guint
neighbourhood (const MlSheet *sheet, int from, guint size, int *ret_which)
{
  guint8 *seen = g_new0 (guint8, sheet->n);
  guint n = 1, i, k, j;

  ret_which[0] = from;
  seen[from] = 1;
  for (i = 0; i < n && n < size; i++)
    for (k = 0; k < sheet->spots[ret_which[i]].n_nets && n < size; k++)
      {
        const MlSheetNet *net = &sheet->nets[sheet->spots[ret_which[i]].nets[k]];
        for (j = 0; j < net->n_pins && n < size && net->rail == ML_RAIL_NONE; j++)
          if (!seen[net->pins[j].piece])
            {
              seen[net->pins[j].piece] = 1;
              ret_which[n++] = net->pins[j].piece;
            }
      }
  g_free (seen);
  return n;
}

static gboolean
mirror_group (MlSheet *sheet, const int *which, guint n, Stand *to)
{
  int left = G_MAXINT, right = G_MININT, dx;
  guint i;

  for (i = 0; i < n; i++)
    {
      const MlSpot *spot = &sheet->spots[which[i]];
      left = MIN (left, spot->x + spot->form->pin_hull.x0);
      right = MAX (right, spot->x + spot->form->pin_hull.x1);
    }
  for (i = 0; i < n; i++)
    {
      MlSpot *spot = &sheet->spots[which[i]];
      MlForm *form = ml_form_mirrored (spot->piece, spot->form, sheet->circuit, &dx);
      if (form == NULL)
        return FALSE;
      /* A pin at x goes to left + right - x. */
      to[i] = (Stand){ left + right - spot->x + dx, spot->y, form };
    }
  return TRUE;
}

/* A capacitor goes to the bar above its chip, a connector to the sheet's edge, alone or with what couples it. */
static void
move_specially (MlSheet *sheet, int i, double temperature)
{
  const MlSpot *spot = &sheet->spots[i];
  GArray *found = g_array_new (FALSE, FALSE, 2 * sizeof (int));
  MlCells rest = ml_sheet_hull (sheet, i);
  int which[MOST_COUPLED];
  Stand to[MOST_COUPLED];
  guint n = 1, k, kept = 0;

  which[0] = i;
  ml_sheet_special_candidates (sheet, i, spot->form, &rest, found);
  if (spot->piece->part_kind == ML_KIND_CONNECTOR)
    n = neighbourhood (sheet, i, 1 + ml_sheet_random (sheet, MOST_COUPLED), which);
  if (found->len > 0)
    {
      const int *xy = &((int *) (gpointer) found->data)[2 * ml_sheet_random (sheet, found->len)];
      int dx = xy[0] - spot->x, dy = xy[1] - spot->y;
      for (k = 0; k < n; k++)
        if (!sheet->spots[which[k]].fixed)
          {
            const MlSpot *moved = &sheet->spots[which[k]];
            to[kept] = (Stand){ moved->x + dx, moved->y + dy, moved->form };
            which[kept++] = which[k];
          }
      if (kept > 0 && (dx != 0 || dy != 0))
        try_stands (sheet, which, kept, to, temperature);
    }
  g_array_unref (found);
}

static gboolean
is_special (const MlSheet *sheet, int i)
{
  guint k;

  for (k = 0; k < sheet->connectors->len; k++)
    if (g_array_index (sheet->connectors, int, k) == i)
      return TRUE;
  return sheet->spots[i].ties->len > 0 && sheet->spots[i].piece->part_kind == ML_KIND_CAPACITOR;
}

static void
move_group (MlSheet *sheet, double temperature)
{
  static const guint sizes[] = { 2, 3, 3, 4, 5, 6, 8, 12 };
  int *which = g_new (int, sheet->n), dx = 0, dy = 0, from = (int) ml_sheet_random (sheet, sheet->n);
  Stand *to = g_new (Stand, sheet->n);
  guint what = ml_sheet_random (sheet, 100), n = 0, i, kept = 0;

  if (what < 20)
    {
      gboolean of_x = what < 10;
      int line = of_x ? sheet->spots[from].x : sheet->spots[from].y;
      for (i = 0; i < sheet->n; i++)
        if ((of_x ? sheet->spots[i].x : sheet->spots[i].y) >= line)
          which[n++] = (int) i;
      *(of_x ? &dx : &dy) = between (sheet, -3, 3);
    }
  else
    n = neighbourhood (sheet, from, sizes[ml_sheet_random (sheet, G_N_ELEMENTS (sizes))], which);
  for (i = 0; i < n; i++)
    if (!sheet->spots[which[i]].fixed)
      which[kept++] = which[i];
  n = kept;
  if (what >= 60)
    {
      dx = what < 80 ? between (sheet, -6, 6) : between (sheet, -14, 14);
      dy = what < 80 ? 0 : between (sheet, -10, 10);
    }
  for (i = 0; i < n; i++)
    to[i] = (Stand){ sheet->spots[which[i]].x + dx, sheet->spots[which[i]].y + dy, sheet->spots[which[i]].form };
  if (n > 0 && n < sheet->n && (what < 20 || what >= 60 ? dx != 0 || dy != 0 : mirror_group (sheet, which, n, to)))
    try_stands (sheet, which, n, to, temperature);
  g_free (which);
  g_free (to);
}

static void
swap_two (MlSheet *sheet, double temperature)
{
  int which[2] = { (int) ml_sheet_random (sheet, sheet->n), (int) ml_sheet_random (sheet, sheet->n) };
  const MlSpot *a = &sheet->spots[which[0]], *b = &sheet->spots[which[1]];
  Stand to[2] = { { b->x, b->y, a->form }, { a->x, a->y, b->form } };

  if (which[0] != which[1] && !a->fixed && !b->fixed)
    try_stands (sheet, which, 2, to, temperature);
}

void
ml_sheet_anneal (MlSheet *sheet, guint moves, double hot, double cold, GCancellable *cancellable)
{
  double temperature = hot, factor = exp (log (cold / hot) / MAX (moves, 1));
  guint i;

  for (i = 0; i < moves && sheet->n > 1; i++)
    {
      guint what = ml_sheet_random (sheet, 100);
      temperature *= factor;
      if ((i & 63) == 0 && cancellable != NULL && g_cancellable_is_cancelled (cancellable))
        return;
      if (what < 12)
        move_group (sheet, temperature);
      else if (what < 16)
        swap_two (sheet, temperature);
      else
        {
          int piece = (int) ml_sheet_random (sheet, sheet->n);
          if (sheet->spots[piece].fixed)
            continue;
          if (is_special (sheet, piece) && ml_sheet_random (sheet, SPECIAL_EVERY) == 0)
            move_specially (sheet, piece, temperature);
          else
            move_one (sheet, piece, temperature);
        }
    }
}
