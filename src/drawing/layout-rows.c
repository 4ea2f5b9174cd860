/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Too many parts to weigh one against the other: rows, in order of name. */
#include "drawing/layout-job.h"

#include <math.h>

/* How far the name of a signal may reach beside a piece: all its nets may come to be named. */
static int
name_room (const MlSheet *sheet, const MlSpot *spot)
{
  double widest = 0;
  guint i;

  for (i = 0; i < spot->piece->n_pins; i++)
    {
      int net = spot->piece->pins[i].net;
      if (net >= 0 && sheet->circuit->nets[net].rail == ML_RAIL_NONE)
        widest = MAX (widest, MIN (ml_text_width (sheet->circuit->nets[net].name, ML_TEXT_HEIGHT), ML_TEXT_WIDEST));
    }
  return (int) ceil (widest);
}

void
ml_layout_put_in_rows (MlSheet *sheet)
{
  double area = 0;
  int x = 40, y = 40, below = 0, wide;
  guint i;

  for (i = 0; i < sheet->n; i++)
    {
      const MlCells *hull = &sheet->spots[i].form->hull;
      area += (hull->x1 - hull->x0 + 6.0 + name_room (sheet, &sheet->spots[i])) * (hull->y1 - hull->y0 + 6.0);
    }
  wide = MIN ((int) sqrt (area * 1.6) + 60, sheet->width - 80);
  for (i = 0; i < sheet->n; i++)
    {
      MlSpot *spot = &sheet->spots[i];
      const MlCells *hull = &spot->form->hull;
      if (spot->on)
        continue;
      if (x + hull->x1 - hull->x0 > wide)
        {
          x = 40;
          y += below + 6;
          below = 0;
        }
      spot->x = x - hull->x0;
      spot->y = y - hull->y0;
      spot->on = TRUE;
      x += hull->x1 - hull->x0 + 6 + name_room (sheet, spot);
      below = MAX (below, hull->y1 - hull->y0);
    }
}

MlScene *
ml_layout_in_rows (const MlLayoutJob *job)
{
  MlKit *kit = ml_kit_new (job->circuit, ML_KIT_PLAIN);
  MlSheet *sheet = ml_layout_plain_sheet (job, kit);
  MlRouter *router;
  MlLayoutPlan *plan;
  MlScene *scene;

  ml_layout_put_in_rows (sheet);
  router = ml_router_new (sheet, job->cancellable);
  ml_router_route_all (router, 0);
  ml_router_flag_missing (router);
  plan = ml_layout_plan_new (sheet, router);
  scene = ml_layout_plan_to_scene (plan);
  scene->in_rows = ml_kept_n (job->kept) == 0;
  g_free (ml_labels_place (scene, job->options->show_generated_names, ML_LABELS_LAST_RESORT));
  ml_layout_plan_free (plan);
  ml_router_free (router);
  ml_sheet_free (sheet);
  ml_kit_free (kit);
  return scene;
}
