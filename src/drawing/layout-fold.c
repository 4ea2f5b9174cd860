/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A drawing much wider than high is a strip on a screen and on paper: it is cut where few wires run across, and what lay to the right goes below,
 * as a line of text is broken. */
#include "drawing/layout-sheet.h"

#define GAP 6              /* g between the rows */
#define NAMED 10.0         /* of the score: a signal across the cut is named at both ends, or led back */
#define FLAGGED 1.5        /* a rail across the cut begins anew */
#define PER_AREA 0.02
#define WIDEST 1.9         /* times the height: A4 lying has 1.4, a screen 1.8 */
#define HIGHEST 0.9        /* times the width */
#define PER_UNIT 0.5       /* of the score per part, for each unit beyond */

typedef struct { MlCells left, right; } Halves;

static MlCells
hull_at (const MlSpot *spot)
{
  const MlCells *h = &spot->form->hull, *p = &spot->form->pin_hull;

  return (MlCells){ spot->x + MIN (h->x0, p->x0), spot->y + MIN (h->y0, p->y0), spot->x + MAX (h->x1, p->x1), spot->y + MAX (h->y1, p->y1) };
}

static gboolean
is_right_of (const MlSpot *spot, int cut)
{
  MlCells hull = hull_at (spot);

  return hull.x0 + hull.x1 >= 2 * cut;
}

/* FALSE when nothing lies on one of the sides. */
static gboolean
halves_of (const MlSheet *sheet, int cut, Halves *ret_halves)
{
  static const MlCells none = { G_MAXINT / 2, G_MAXINT / 2, G_MININT / 2, G_MININT / 2 };
  guint i;

  *ret_halves = (Halves){ none, none };
  for (i = 0; i < sheet->n; i++)
    {
      MlCells hull = hull_at (&sheet->spots[i]);
      ml_cells_widen (is_right_of (&sheet->spots[i], cut) ? &ret_halves->right : &ret_halves->left, &hull);
    }
  return ret_halves->left.x1 >= ret_halves->left.x0 && ret_halves->right.x1 >= ret_halves->right.x0;
}

static gboolean
runs_across (const MlSheet *sheet, const MlSheetNet *net, int cut)
{
  guint i, n_right = 0;

  for (i = 0; i < net->n_pins; i++)
    n_right += is_right_of (&sheet->spots[net->pins[i].piece], cut);
  return n_right > 0 && n_right < net->n_pins;
}

double
ml_sheet_strip (double width, double height)
{
  return height <= 0 || width <= 0 ? 0 : PER_UNIT * (MAX (0, width / height - WIDEST) + MAX (0, height / width - HIGHEST));
}

static double
cost_of_cut (const MlSheet *sheet, int cut, const Halves *halves)
{
  double width = MAX (halves->left.x1 - halves->left.x0, halves->right.x1 - halves->right.x0);
  double height = halves->left.y1 - halves->left.y0 + GAP + halves->right.y1 - halves->right.y0;
  double cost = PER_AREA * width * height + sheet->circuit->n_parts * ml_sheet_strip (width, height);
  guint i;

  for (i = 0; i < sheet->n_nets; i++)
    if (runs_across (sheet, &sheet->nets[i], cut))
      cost += sheet->nets[i].rail == ML_RAIL_NONE ? NAMED : sheet->nets[i].rail == ML_RAIL_UP ? FLAGGED : 0;
  return cost;
}

/* Into the middle of the raster, from top to bottom; FALSE when there is no room for both rows. */
static gboolean
keep_inside (MlSheet *sheet)
{
  MlCells hull = { G_MAXINT / 2, G_MAXINT / 2, G_MININT / 2, G_MININT / 2 };
  int middle;
  guint i;

  for (i = 0; i < sheet->n; i++)
    {
      MlCells own = hull_at (&sheet->spots[i]);
      ml_cells_widen (&hull, &own);
    }
  middle = (sheet->height - hull.y0 - hull.y1) / 2;
  for (i = 0; i < sheet->n; i++)
    sheet->spots[i].y += middle;
  for (i = 0; i < sheet->n; i++)
    if (!ml_sheet_inside (sheet, (int) i))
      return FALSE;
  return TRUE;
}

gboolean
ml_sheet_fold (MlSheet *sheet)
{
  Halves best = { { 0, 0, 0, 0 }, { 0, 0, 0, 0 } };
  double best_cost = 0;
  int best_cut = G_MININT;
  guint i;

  for (i = 0; i < sheet->n; i++)
    {
      int cut = hull_at (&sheet->spots[i]).x0;
      Halves halves;
      double cost;
      if (!halves_of (sheet, cut, &halves))
        continue;
      cost = cost_of_cut (sheet, cut, &halves);
      if (best_cut != G_MININT && cost >= best_cost)
        continue;
      best_cost = cost;
      best_cut = cut;
      best = halves;
    }
  if (best_cut == G_MININT)
    return FALSE;
  for (i = 0; i < sheet->n; i++)
    if (is_right_of (&sheet->spots[i], best_cut))
      {
        sheet->spots[i].x += best.left.x0 - best.right.x0;
        sheet->spots[i].y += best.left.y1 + GAP - best.right.y0;
      }
  if (!keep_inside (sheet))
    return FALSE;
  ml_sheet_put_all (sheet);
  return TRUE;
}
