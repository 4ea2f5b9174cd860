/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From places to a scene: wires, room for what has none, and labels. */
#include "drawing/layout-job.h"

#include <math.h>
#include <string.h>

#define MAKE_ROOM_TRIES 6
#define CHOOSY_TRIES 2 /* so often room is made for a text that stands badly, too */
#define LARGE_TRIES 1
#define MAKE_FLAG_ROOM_TRIES 10
#define PATIENT_TRIES 4 /* so often room alone is made for a flag; then wires round it give way, too */
#define ROUTE_PASSES 3
#define RIP_UP_ROUNDS 2

/* Everything at or beyond a line moves away by as much. */
static void
push_beyond (MlSheet *sheet, int axis, int line, int by, int except)
{
  guint i;

  for (i = 0; i < sheet->n; i++)
    {
      MlSpot *spot = &sheet->spots[i];
      if ((int) i == except)
        continue;
      if (axis == 0 && spot->x + spot->form->pin_hull.x0 >= line)
        spot->x += by;
      else if (axis == 1 && spot->y + spot->form->pin_hull.y0 >= line)
        spot->y += by;
    }
}

static MlCells
core_hull (const MlSpot *spot)
{
  MlCells hull = { G_MAXINT, G_MAXINT, G_MININT, G_MININT };
  guint i;

  for (i = 0; i < spot->form->n_cores; i++)
    {
      hull.x0 = MIN (hull.x0, spot->x + spot->form->cores[i].x0);
      hull.y0 = MIN (hull.y0, spot->y + spot->form->cores[i].y0);
      hull.x1 = MAX (hull.x1, spot->x + spot->form->cores[i].x1);
      hull.y1 = MAX (hull.y1, spot->y + spot->form->cores[i].y1);
    }
  return hull;
}

/* A label found no room: what lies beyond its part moves away by the label's size; FALSE when nothing may. */
static gboolean
make_label_room (MlSheet *sheet, int part)
{
  const MlCircuitPart *of = &sheet->circuit->parts[part];
  int spot = sheet->kit->plain_of_part[part], reach = (int) ceil (MIN (of->label_w, ML_TEXT_WIDEST) + 1);
  MlCells core = core_hull (&sheet->spots[spot]);
  MlForm *form = sheet->spots[spot].form;

  if (form->symbol != NULL && strcmp (form->symbol, "diode-diagonal") == 0) /* its neighbours must stay where they touch it */
    return FALSE;
  if (core.x1 - core.x0 > core.y1 - core.y0)
    {
      ml_form_add_room (form, core.x0 - sheet->spots[spot].x, core.y0 - sheet->spots[spot].y - 3, core.x1 - sheet->spots[spot].x,
                        core.y0 - sheet->spots[spot].y);
      push_beyond (sheet, 1, core.y0 - 1, 3, -1);
    }
  else
    {
      ml_form_add_room (form, core.x1 - sheet->spots[spot].x, core.y0 - sheet->spots[spot].y, core.x1 - sheet->spots[spot].x + reach,
                        core.y1 - sheet->spots[spot].y);
      push_beyond (sheet, 0, core.x1, reach, spot);
    }
  ml_form_finish (form, sheet->spots[spot].piece->n_pins);
  return TRUE;
}

/* A flag found no room: space in front of a pin that wants it. */
static gboolean
make_flag_room (MlSheet *sheet, const MlRouter *router)
{
  gboolean any = FALSE;
  guint net;

  for (net = 0; net < router->n_nets; net++)
    {
      const MlRoutePin *pin = &router->nets[net].missing;
      int reach = (int) ceil (router->nets[net].name_w) + 4;
      MlFormPin at;
      if (router->nets[net].n_missing == 0)
        continue;
      any = TRUE;
      at = ml_sheet_pin (sheet, pin->piece, pin->pin);
      if (pin->side == ML_SIDE_RIGHT)
        push_beyond (sheet, 0, at.x + 1, reach, pin->piece);
      else if (pin->side == ML_SIDE_LEFT)
        push_beyond (sheet, 0, at.x, reach, -1);
      else
        push_beyond (sheet, 1, pin->side == ML_SIDE_DOWN ? at.y + 1 : at.y, 4, pin->side == ML_SIDE_DOWN ? pin->piece : -1);
    }
  return any;
}

/* Where pieces have come nearer to one another, a wire may serve after all where a name stood. */
static MlLayoutPlan *
with_joined_names (const MlLayoutJob *job, MlLayoutPlan *plan)
{
  MlRouter *router = ml_layout_plan_router (plan, job->cancellable);

  if (ml_router_join_named (router) > 0)
    {
      MlSheet *sheet = plan->sheet;
      ml_layout_plan_free (plan);
      plan = ml_layout_plan_new (sheet, router);
      ml_layout_plan_compact (plan);
    }
  ml_router_free (router);
  return plan;
}

static MlScene *
scene_of (const MlLayoutJob *job, MlSheet *sheet, MlRouter *router, gboolean may_move, MlLabelsCare care, int **ret_failed)
{
  MlLayoutPlan *plan = ml_layout_plan_new (sheet, router);
  MlScene *scene;

  if (may_move)
    {
      MlCells hull;
      ml_layout_plan_compact (plan);
      if (job->options->effort > 0)
        {
          ml_layout_plan_slide (plan);
          ml_layout_plan_compact (plan);
          plan = with_joined_names (job, plan);
          ml_layout_plan_straighten (plan, TRUE);
          ml_layout_plan_compact (plan);
        }
      hull = ml_sheet_hull (sheet, -1);
      sheet->origin_x = hull.x1 < hull.x0 ? 0 : hull.x0;
      sheet->origin_y = hull.x1 < hull.x0 ? 0 : hull.y0;
    }
  else if (!ml_layout_is_large (job))
    ml_layout_plan_straighten (plan, FALSE);
  scene = ml_layout_plan_to_scene (plan);
  *ret_failed = ml_labels_place (scene, job->options->show_generated_names, care);
  ml_layout_plan_free (plan);
  return scene;
}

static gboolean
misses_flags (const MlRouter *router)
{
  guint net;

  for (net = 0; net < router->n_nets; net++)
    if (router->nets[net].n_missing > 0)
      return TRUE;
  return FALSE;
}

static MlRouter *
route_once (const MlLayoutJob *job, MlSheet *sheet)
{
  MlRouter *router = ml_router_new (sheet, job->cancellable);

  ml_router_route_all (router, ml_layout_is_hurried (job) ? 1 : ROUTE_PASSES);
  if (!ml_layout_is_hurried (job))
    ml_router_rip_up (router, ml_layout_is_large (job) ? 1 : RIP_UP_ROUNDS);
  if (ml_kept_n (job->kept) > 0 || ml_layout_is_large (job)) /* nothing may move, or moving takes too long */
    ml_router_flag_missing (router);
  if (ml_kept_n (job->kept) > 0 && !ml_layout_is_large (job))
    ml_router_unwall (router);
  return router;
}

/* Where nothing may move, a pin without its net would look as if it were joined to nothing: rather a short name than none. */
MlRouter *
ml_layout_routed (const MlLayoutJob *job, MlSheet *sheet)
{
  MlRouter *router = route_once (job, sheet);

  while (ml_kept_n (job->kept) > 0 && misses_flags (router) && !ml_layout_is_cancelled (job) && ml_router_shorten_flags (router, job->circuit))
    {
      ml_router_free (router);
      router = route_once (job, sheet);
    }
  return router;
}

/* Whether this is the last try: texts without room are left out then. A flag without room would leave a pin unjoined: that gets more tries. */
static gboolean
is_last_try (const MlLayoutJob *job, const MlRouter *router, int tries)
{
  if (ml_kept_n (job->kept) > 0 || ml_layout_is_cancelled (job))
    return TRUE;
  return tries >= (misses_flags (router) ? MAKE_FLAG_ROOM_TRIES : ml_layout_is_large (job) ? LARGE_TRIES : MAKE_ROOM_TRIES);
}

/* Takes router over. */
MlScene *
ml_layout_finish (const MlLayoutJob *job, MlSheet *sheet, MlRouter *router)
{
  gboolean may_move = ml_kept_n (job->kept) == 0;
  int tries;

  for (tries = 0;; tries++)
    {
      int *failed = NULL, i;
      gboolean last = is_last_try (job, router, tries), again;
      MlLabelsCare care = last ? ML_LABELS_LAST_RESORT : tries < CHOOSY_TRIES ? ML_LABELS_CHOOSY : ML_LABELS_CONTENT;
      MlScene *scene = scene_of (job, sheet, router, may_move, care, &failed);
      again = !last && make_flag_room (sheet, router);
      for (i = 0; !last && failed != NULL && failed[i] >= 0; i++)
        again |= make_label_room (sheet, job->circuit->part_of_board[failed[i]]);
      ml_router_free (router);
      if (!again && !last && failed != NULL) /* no room can be made: what lies on something is left out */
        g_free (ml_labels_place (scene, job->options->show_generated_names, ML_LABELS_LAST_RESORT));
      g_free (failed);
      if (!again)
        return scene;
      ml_scene_unref (scene);
      router = ml_layout_routed (job, sheet);
      if (tries >= PATIENT_TRIES && misses_flags (router))
        {
          ml_router_flag_missing (router);
          ml_router_unwall (router);
        }
    }
}
