/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/layout.h"
#include "drawing/layout-plan.h"
#include "drawing/layout-polish.h"
#include "drawing/layout-keep.h"
#include "drawing/layout-stages.h"
#include "drawing/layout-way.h"
#include "drawing/measure-texts.h"

#include <math.h>
#include <string.h>

#define MAKE_ROOM_TRIES 6
#define CHOOSY_TRIES 2 /* so often room is made for a text that stands badly, too */
#define LARGE 200 /* parts */
#define LARGE_TRIES 1
#define MAKE_FLAG_ROOM_TRIES 10
#define LARGE_POLISH 120
#define WIDEST_SHEET 2400
#define ROUTE_PASSES 3
#define RIP_UP_ROUNDS 2
#define MOST_MOVES 20000
#define FIRST_HOT 3.0
#define FIRST_COLD 0.4
#define LOOK_WEIGHT 0.5
#define ALIKE 0.6 /* for all parts: what is built alike is found by its look */
#define HARD_FAULT 100
#define UNTOLD 2 /* a text left out */
#define STRAY 0.3 /* a name far from its part, or nearer to another */
#define MISREAD 0.6 /* one that the eye would give to another part */
#define INTERRUPTED 5.0 /* a name in the place of a wire, shared out among the parts: the eye must look for where it goes on */
#define STEP_ASIDE 8.0 /* a wire that steps aside by one step, shared out: it looks like a slip */
#define MOST_THREADS 4

typedef struct
{
  MlCircuit *circuit;
  const MlLayoutOptions *options;
  MlKept *kept;           /* parts that stay where they are */
  GCancellable *cancellable;
  int span;
  GThread *caller;        /* the one thread that tells how far it is */
  double *told;           /* what was told last */
} Job;

static gboolean
is_cancelled (const Job *job)
{
  return job->cancellable != NULL && g_cancellable_is_cancelled (job->cancellable);
}

/* Boards so large that care costs more than it brings. */
static gboolean
is_large (const Job *job)
{
  return job->circuit->n_parts > LARGE;
}

/* The first drawing of a large board: something to look at while the final one is made. */
static gboolean
is_hurried (const Job *job)
{
  return is_large (job) && job->options->effort < 2;
}

/* Shares of the whole: when all is placed, routed, and drawn. */
#define ALL_PLACED 0.5
#define ALL_ROUTED 0.8

static void
tell (const Job *job, double share)
{
  if (job->options->progress == NULL || !is_large (job) || g_thread_self () != job->caller || share < *job->told)
    return;
  *job->told = share;
  job->options->progress (share, job->options->progress_data);
}

static void
insert_all (const Job *job, MlSheet *sheet)
{
  guint i;

  for (i = 0; !is_cancelled (job) && ml_sheet_insert_next (sheet); i++)
    tell (job, ALL_PLACED * MIN (i, sheet->n) / MAX (sheet->n, 1));
}

/* A raster wide enough for the pieces and for what is fixed already. */
static int
span_of (const MlKit *kit, const MlKept *kept)
{
  double area = 0;
  guint i;

  for (i = 0; i < kit->plain->len; i++)
    {
      const MlPiece *piece = g_ptr_array_index (kit->plain, i);
      const MlForm *form = g_ptr_array_index (piece->forms, 0);
      area += (form->hull.x1 - form->hull.x0 + 4.0) * (form->hull.y1 - form->hull.y0 + 4.0) * 2.5;
    }
  return (int) MIN (200 + 3 * sqrt (area) + ml_kept_span (kept), WIDEST_SHEET);
}

static MlSheet *
plain_sheet (const Job *job, MlKit *kit)
{
  MlSheet *sheet = ml_sheet_new (kit, kit->plain, 1, job->span);

  ml_kept_apply (job->kept, sheet);
  return sheet;
}

/* ---- from places to a scene ---- */

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
with_joined_names (const Job *job, MlLayoutPlan *plan)
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
scene_of (const Job *job, MlSheet *sheet, MlRouter *router, gboolean may_move, MlLabelsCare care, int **ret_failed)
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
  else if (!is_large (job))
    ml_layout_plan_straighten (plan, FALSE);
  scene = ml_layout_plan_to_scene (plan);
  *ret_failed = ml_labels_place (scene, job->options->show_generated_names, care);
  ml_layout_plan_free (plan);
  return scene;
}

static MlRouter *
routed (const Job *job, MlSheet *sheet)
{
  MlRouter *router = ml_router_new (sheet, job->cancellable);

  ml_router_route_all (router, is_hurried (job) ? 1 : ROUTE_PASSES);
  if (!is_hurried (job))
    ml_router_rip_up (router, is_large (job) ? 1 : RIP_UP_ROUNDS);
  if (ml_kept_n (job->kept) > 0 || is_large (job)) /* nothing may move, or moving takes too long */
    ml_router_flag_missing (router);
  if (ml_kept_n (job->kept) > 0 && !is_large (job))
    ml_router_unwall (router);
  return router;
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

/* Whether this is the last try: texts without room are left out then. A flag without room would leave a pin unjoined: that gets more tries. */
static gboolean
is_last_try (const Job *job, const MlRouter *router, int tries)
{
  if (ml_kept_n (job->kept) > 0 || is_cancelled (job))
    return TRUE;
  return tries >= (misses_flags (router) ? MAKE_FLAG_ROOM_TRIES : is_large (job) ? LARGE_TRIES : MAKE_ROOM_TRIES);
}

/* Takes router over. */
static MlScene *
finish (const Job *job, MlSheet *sheet, MlRouter *router)
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
      router = routed (job, sheet);
    }
}

/* ---- too many parts to weigh one against the other: rows, in order of name ---- */

#define CROWD 560     /* pieces: 500 parts, some of whose pins stand alone; beyond, nothing is put in between what stands */
#define FEWEST_STAGED 70 /* pieces: from here on a drawing stage by stage is tried beside those of the whole */
#define WHOLE_AT_FIRST 130 /* pieces: so many in the first drawing */
#define MOST_WHOLE 210 /* pieces: of more a single sheet becomes a wide scatter */
#define MOST_COMPARED 320 /* pieces: of more only one size of stages is tried */
#define MOST_STAGED 2000 /* pieces: about half a minute; beyond, in rows */
#define MOST_AT_ONCE 300 /* pieces of a drawing wanted at once (effort 0); beyond, in rows until a better one comes */

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

static void
put_in_rows (MlSheet *sheet)
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

static MlScene *
lay_out_in_rows (const Job *job)
{
  MlKit *kit = ml_kit_new (job->circuit, ML_KIT_PLAIN);
  MlSheet *sheet = plain_sheet (job, kit);
  MlRouter *router;
  MlLayoutPlan *plan;
  MlScene *scene;

  put_in_rows (sheet);
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

/* ---- stage by stage ---- */

static gboolean
stage_placed (guint done, guint n_stages, gpointer data)
{
  const Job *job = data;

  tell (job, ALL_PLACED * done / n_stages);
  return !is_cancelled (job);
}

/* ---- one attempt ---- */

/* Blocks read from a file: their pins are put in order under the real router even in the quickest drawing, which may be that of a file opened. */
static gboolean
has_free_pins (const MlSheet *sheet)
{
  guint i;

  for (i = 0; i < sheet->n; i++)
    if (sheet->spots[i].pins_free)
      return TRUE;
  return FALSE;
}

static MlScene *
lay_out_plainly (const Job *job)
{
  MlKit *kit = ml_kit_new (job->circuit, ML_KIT_PLAIN);
  MlSheet *sheet = plain_sheet (job, kit);
  MlRouter *router;
  MlScene *scene;

  sheet->core_on_core = ML_CORE_NEVER_ON_CORE;
  insert_all (job, sheet);
  router = routed (job, sheet);
  if (job->options->effort > 0 || has_free_pins (sheet))
    ml_polish (sheet, router, 0, job->cancellable);
  if (ml_kept_n (job->kept) > 0)
    ml_router_join_named (router);
  scene = finish (job, sheet, router);
  ml_sheet_free (sheet);
  ml_kit_free (kit);
  return scene;
}

/* One drawing, what its pieces look like beside the measure, and the same as it will be when its places are read from a file again; NULL where that is clearly worse. */
typedef struct { MlScene *scene, *reopened; double score, reopened_score, look; } Attempt;

/* The share of the parts that are drawn like others that are built like them. */
static double
share_alike (const Job *job, const MlKit *kit)
{
  guint n = 0, i;

  for (i = 0; i < kit->composites->len; i++)
    {
      const MlPiece *composite = g_ptr_array_index (kit->composites, i);
      n += composite->is_bank ? composite->n_members : 0;
    }
  return n / (double) MAX (job->circuit->n_parts, 1);
}

static double
rating_of (const MlScene *scene, double look)
{
  MlLayoutMeasure measure = ml_layout_measure (scene);

  return measure.score + look + HARD_FAULT * ml_layout_hard_faults (&measure) + UNTOLD * ml_texts_untold (scene)
         + STRAY * ml_texts_astray (scene) + MISREAD * ml_texts_misread (scene)
         + (INTERRUPTED * measure.signal_flags + STEP_ASIDE * measure.jogs) / MAX (scene->board->n_parts, 1)
         + ml_sheet_strip (scene->extent.x1 - scene->extent.x0, scene->extent.y1 - scene->extent.y0);
}

static MlRouter *
routed_and_polished (const Job *job, MlSheet *sheet)
{
  MlRouter *router = routed (job, sheet);

  if (!is_large (job) || job->options->effort > 1)
    ml_polish (sheet, router, is_large (job) ? LARGE_POLISH : 0, job->cancellable);
  if (!is_hurried (job))
    ml_router_rip_up (router, 1);
  if (is_large (job))
    ml_router_flag_missing (router);
  return router;
}

/* The parts by themselves, where their pieces stand. Takes router over. */
static Attempt
draw_parts (const Job *job, MlKit *kit, const MlSheet *sheet, MlRouter *router, guint64 seed)
{
  MlSheet *plain = ml_sheet_new (kit, kit->plain, seed, job->span);
  double look = LOOK_WEIGHT * ml_sheet_look (sheet) - ALIKE * share_alike (job, kit);
  MlRouter *plain_router;
  MlScene *scene;

  ml_sheet_take_places (plain, sheet, 0, 0);
  plain_router = ml_router_taken_over (plain, router);
  ml_router_free (router);
  scene = finish (job, plain, plain_router);
  ml_sheet_free (plain);
  return (Attempt){ scene, NULL, rating_of (scene, look), 0, look };
}

/* The same in two rows, if that is better. */
static Attempt
or_folded (const Job *job, MlKit *kit, MlSheet *sheet, Attempt attempt, guint64 seed)
{
  double width = attempt.scene->extent.x1 - attempt.scene->extent.x0, height = attempt.scene->extent.y1 - attempt.scene->extent.y0;
  Attempt folded;

  if (is_large (job) || is_cancelled (job) || width < height || ml_sheet_strip (width, height) <= 0 || !ml_sheet_fold (sheet))
    return attempt;
  folded = draw_parts (job, kit, sheet, routed_and_polished (job, sheet), seed);
  if (folded.score >= attempt.score)
    {
      ml_scene_unref (folded.scene);
      return attempt;
    }
  ml_scene_unref (attempt.scene);
  return folded;
}

/* Chance has put the pins of blocks in order, one exchange at a time: a last look at all that stand (a drawing that is cancelled lacks some). */
static void
fit_blocks (MlSheet *sheet)
{
  guint i;

  for (i = 0; i < sheet->n; i++)
    if (sheet->spots[i].on && sheet->spots[i].piece->is_block)
      ml_sheet_fit_block (sheet, (int) i);
}

/* Pieces first, then their routing, then the parts by themselves. */
static Attempt
lay_out_pieces (const Job *job, guint64 seed, gboolean anneal)
{
  MlKit *kit = ml_kit_new (job->circuit, seed % 2 == 0 ? ML_KIT_NO_PAIRS : ML_KIT_IDIOMS);
  MlSheet *sheet = ml_sheet_new (kit, kit->pieces, seed, job->span);
  MlRouter *router;
  Attempt attempt;

  insert_all (job, sheet);
  if (anneal)
    ml_sheet_anneal (sheet, MIN (100 * sheet->n, MOST_MOVES), FIRST_HOT, FIRST_COLD, job->cancellable);
  if (anneal)
    fit_blocks (sheet);
  router = routed_and_polished (job, sheet);
  tell (job, ALL_ROUTED);
  attempt = or_folded (job, kit, sheet, draw_parts (job, kit, sheet, router, seed), seed);
  ml_sheet_free (sheet);
  ml_kit_free (kit);
  return attempt;
}

/* Stage by stage, and the stages side by side. */
static Attempt
lay_out_in_stages (const Job *job, guint most_parts)
{
  MlKit *kit = ml_kit_new (job->circuit, ML_KIT_IDIOMS);
  MlSheet *sheet = ml_sheet_new (kit, kit->plain, 1, job->span);
  MlStagesCare care = { most_parts, !is_hurried (job), job->cancellable, stage_placed, (gpointer) job };
  double look = 0;
  MlRouter *router;
  MlScene *scene;

  if (!ml_stages_place (sheet, &care, &look))
    put_in_rows (sheet); /* cancelled: nobody will see it */
  ml_sheet_put_all (sheet);
  router = ml_router_new (sheet, job->cancellable);
  ml_router_route_all (router, 1);
  ml_router_flag_missing (router);
  tell (job, ALL_ROUTED);
  scene = finish (job, sheet, router);
  look = LOOK_WEIGHT * look - ALIKE * share_alike (job, kit);
  ml_sheet_free (sheet);
  ml_kit_free (kit);
  return (Attempt){ scene, NULL, rating_of (scene, look), 0, look };
}

/* ---- what a file keeps: places and the order of a block's pins, but not where wires run ---- */

#define REOPENED_AT_MOST 1.12 /* of the best rating: from the second opening on it is what a person has before the eyes */

/* How much is said of the parts: names and values that found no room are missing. */
static gsize
n_letters (const MlScene *scene)
{
  gsize n = 0;
  guint i;

  for (i = 0; i < scene->n_labels; i++)
    if (scene->labels[i].part >= 0)
      n += strlen (scene->labels[i].text);
  return n;
}

/* parting: NULL, or where it comes apart. */
static MlScene *
as_reopened (const Job *job, const MlScene *scene, const MlParting *parting)
{
  MlKit *kit = ml_kit_new (job->circuit, ML_KIT_PLAIN);
  Job again = *job;
  MlScene *reopened;

  again.kept = ml_kept_reopened (kit, scene);
  again.span = span_of (kit, again.kept);
  if (parting != NULL)
    ml_kept_part (again.kept, parting);
  ml_kit_free (kit);
  reopened = lay_out_plainly (&again);
  ml_kept_free (again.kept);
  return reopened;
}

/* A person finds a drawing as it was left: so each attempt is looked at as a file would bring it back. */
static void
reopen (const Job *job, Attempt *attempt)
{
  MlLayoutMeasure before = ml_layout_measure (attempt->scene), after;

  if (is_hurried (job) || job->options->effort == 0 || is_cancelled (job) || attempt->scene->n_symbols > CROWD)
    return;
  attempt->reopened = as_reopened (job, attempt->scene, NULL);
  after = ml_layout_measure (attempt->reopened);
  attempt->reopened_score = rating_of (attempt->reopened, attempt->look);
  if (is_cancelled (job) || ml_layout_hard_faults (&after) > ml_layout_hard_faults (&before)
      || n_letters (attempt->reopened) < n_letters (attempt->scene))
    g_clear_pointer (&attempt->reopened, ml_scene_unref);
}

/* ---- room for wires whose place a name has taken ---- */

#define MOST_PARTED 3    /* times */
#define MOST_PARTINGS 8  /* looked at each time */

static GArray *
partings_of (const Job *job, const MlScene *scene)
{
  MlKit *kit = ml_kit_new (job->circuit, ML_KIT_PLAIN);
  MlKept *kept = ml_kept_reopened (kit, scene);
  GArray *partings = ml_ways_find (kit, kept, scene, span_of (kit, kept), job->cancellable);

  ml_kept_free (kept);
  ml_kit_free (kit);
  return partings;
}

/* The same drawing parted where that helps most; NULL: nowhere. */
static MlScene *
parted (const Job *job, const MlScene *scene)
{
  GArray *partings = partings_of (job, scene);
  double least = rating_of (scene, 0);
  MlScene *best = NULL;
  guint i;

  for (i = 0; i < MIN (partings->len, MOST_PARTINGS) && !is_cancelled (job); i++)
    {
      MlScene *tried = as_reopened (job, scene, &g_array_index (partings, MlParting, i));
      double rating = rating_of (tried, 0);
      if (rating < least - 1e-9)
        {
          least = rating;
          g_clear_pointer (&best, ml_scene_unref);
          best = ml_scene_ref (tried);
        }
      ml_scene_unref (tried);
    }
  g_array_unref (partings);
  return best;
}

/* Takes scene over. */
static MlScene *
with_ways (const Job *job, MlScene *scene)
{
  MlScene *better;
  int i;

  for (i = 0; i < MOST_PARTED && !is_cancelled (job) && (better = parted (job, scene)) != NULL; i++)
    {
      ml_scene_unref (scene);
      scene = better;
    }
  return scene;
}

/* ---- several attempts, side by side; the best is chosen in their order, however they were shared among threads ---- */

typedef struct
{
  const Job *job;
  Attempt *attempts;
  guint n_whole, n; /* those of the whole sheet, then those stage by stage */
  int next; /* atomic */
} Contest;

static const guint stage_sizes[] = { 45, 30, 70 }; /* parts */

static void
try_attempt (const Contest *contest, guint i)
{
  if (i > 0 && is_cancelled (contest->job))
    return;
  contest->attempts[i] = i < contest->n_whole ? lay_out_pieces (contest->job, i + 1, i > 0)
                                              : lay_out_in_stages (contest->job, stage_sizes[i - contest->n_whole]);
  reopen (contest->job, &contest->attempts[i]);
}

static gpointer
work_on_attempts (gpointer data)
{
  Contest *contest = data;
  guint i;

  while ((i = (guint) g_atomic_int_add (&contest->next, 1)) < contest->n)
    try_attempt (contest, i);
  return NULL;
}

/* The best that a file brings back, unless it is clearly worse than the best of all; that then. */
static MlScene *
chosen (const Attempt *attempts, guint n)
{
  const Attempt *best = NULL, *same = NULL;
  guint i;

  for (i = 0; i < n; i++)
    {
      const Attempt *attempt = &attempts[i];
      if (attempt->scene != NULL && (best == NULL || attempt->score < best->score - 1e-9))
        best = attempt;
      if (attempt->reopened != NULL && (same == NULL || attempt->reopened_score < same->reopened_score - 1e-9))
        same = attempt;
    }
  return same != NULL && same->reopened_score <= REOPENED_AT_MOST * best->score ? same->reopened : best->scene;
}

static MlScene *
best_of (const Job *job, guint n_whole, guint n_staged)
{
  guint n = n_whole + n_staged;
  Attempt *attempts = g_new0 (Attempt, n);
  Contest contest = { job, attempts, n_whole, n, 0 };
  guint n_threads = MIN (MIN (n, g_get_num_processors ()), MOST_THREADS), i;
  GThread *threads[MOST_THREADS];
  MlScene *best;

  for (i = 1; i < n_threads; i++)
    threads[i] = g_thread_new ("layout", work_on_attempts, &contest);
  work_on_attempts (&contest);
  for (i = 1; i < n_threads; i++)
    g_thread_join (threads[i]);
  best = ml_scene_ref (chosen (attempts, n));
  for (i = 0; i < n; i++)
    {
      g_clear_pointer (&attempts[i].scene, ml_scene_unref);
      g_clear_pointer (&attempts[i].reopened, ml_scene_unref);
    }
  g_free (attempts);
  return best;
}

/* The smaller the board, the more attempts the same time allows. */
static guint
n_whole_attempts (const Job *job, guint n_pieces)
{
  guint n = job->circuit->n_parts;

  if (n_pieces > MOST_WHOLE)
    return 0;
  if (job->options->effort < 2)
    return n_pieces <= WHOLE_AT_FIRST;
  return n <= 30 ? 18 : n <= 60 ? 10 : n <= 130 ? 6 : 2;
}

static guint
n_staged_attempts (const Job *job, guint n_pieces)
{
  if (job->options->effort < 2 || n_pieces > MOST_COMPARED)
    return n_pieces > WHOLE_AT_FIRST;
  return n_pieces > FEWEST_STAGED ? G_N_ELEMENTS (stage_sizes) : 0;
}

static gboolean
wants_rows (const Job *job, guint n_pieces)
{
  if (ml_kept_n (job->kept) > 0)
    return n_pieces > CROWD;
  return n_pieces > (job->options->effort == 0 ? MOST_AT_ONCE : MOST_STAGED);
}

/* What the scene before knew of the potentials of nets that are still there; NULL: nothing. Else a small edit would give every wire another
 * reason to run where it does. */
static double *
potentials_before (const MlBoard *board, const MlScene *previous)
{
  const double *before = previous == NULL ? NULL : ml_scene_state_get (previous)->net_v;
  double *net_v = before == NULL ? NULL : g_new (double, MAX (board->n_nets, 1));
  guint i;

  for (i = 0; net_v != NULL && i < board->n_nets; i++)
    {
      int twin = ml_board_find_net (previous->board, board->nets[i].name);
      net_v[i] = twin < 0 ? NAN : before[twin];
    }
  return net_v;
}

MlScene *
ml_layout (MlBoard *board, const MlLayoutOptions *options, GCancellable *cancellable, GError **error)
{
  static const MlLayoutOptions plain = { .effort = 0 };
  g_autofree double *carried = options == NULL || options->net_v != NULL ? NULL : potentials_before (board, options->previous);
  const double *net_v = options == NULL ? NULL : options->net_v != NULL ? options->net_v : carried;
  double told = 0;
  Job job = { NULL, options == NULL ? &plain : options, NULL, cancellable, 0, g_thread_self (), &told };
  MlScene *scene;
  MlKit *kit;
  guint n_pieces;

  if (g_cancellable_set_error_if_cancelled (cancellable, error))
    return NULL;
  job.circuit = ml_circuit_new (board, net_v);
  kit = ml_kit_new (job.circuit, ML_KIT_PLAIN);
  job.kept = ml_kept_new (kit, job.options->previous);
  job.span = span_of (kit, job.kept);
  n_pieces = kit->plain->len;
  ml_kit_free (kit);
  if (wants_rows (&job, n_pieces))
    scene = lay_out_in_rows (&job);
  else if (ml_kept_n (job.kept) > 0 || (job.options->effort == 0 && n_pieces <= WHOLE_AT_FIRST))
    scene = lay_out_plainly (&job);
  else
    scene = best_of (&job, n_whole_attempts (&job, n_pieces), n_staged_attempts (&job, n_pieces));
  if (ml_kept_n (job.kept) == 0 && job.options->effort > 1 && n_pieces <= CROWD && !scene->in_rows && !is_large (&job))
    scene = with_ways (&job, scene);
  tell (&job, 1);
  ml_scene_state_set (scene, net_v, job.options->show_generated_names);
  ml_kept_free (job.kept);
  ml_circuit_free (job.circuit);
  if (g_cancellable_set_error_if_cancelled (cancellable, error))
    g_clear_pointer (&scene, ml_scene_unref);
  return scene;
}
