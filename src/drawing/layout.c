/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/layout.h"
#include "drawing/layout-job.h"
#include "drawing/layout-polish.h"
#include "drawing/layout-way.h"

#include <math.h>

#define WIDEST_SHEET 2400

void
ml_layout_tell (const MlLayoutJob *job, double share)
{
  if (job->options->progress == NULL || !ml_layout_is_large (job) || g_thread_self () != job->caller || share < *job->told)
    return;
  *job->told = share;
  job->options->progress (share, job->options->progress_data);
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

MlSheet *
ml_layout_plain_sheet (const MlLayoutJob *job, MlKit *kit)
{
  MlSheet *sheet = ml_sheet_new (kit, kit->plain, 1, job->span);

  ml_kept_apply (job->kept, sheet);
  return sheet;
}

/* ---- how large a board is drawn in which way ---- */

#define FEWEST_STAGED 70 /* pieces: from here on a drawing stage by stage is tried beside those of the whole */
#define WHOLE_AT_FIRST 130 /* pieces: so many in the first drawing */
#define MOST_WHOLE 210 /* pieces: of more a single sheet becomes a wide scatter */
#define MOST_COMPARED 320 /* pieces: of more only one size of stages is tried */
#define MOST_STAGED 2000 /* pieces: about half a minute; beyond, in rows */
#define MOST_AT_ONCE 300 /* pieces of a drawing wanted at once (effort 0); beyond, in rows until a better one comes */

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
lay_out_plainly (const MlLayoutJob *job)
{
  MlKit *kit = ml_kit_new (job->circuit, ML_KIT_PLAIN);
  MlSheet *sheet = ml_layout_plain_sheet (job, kit);
  MlRouter *router;
  MlScene *scene;
  guint i;

  sheet->core_on_core = ML_CORE_NEVER_ON_CORE;
  for (i = 0; !ml_layout_is_cancelled (job) && ml_sheet_insert_next (sheet) >= 0; i++)
    ml_layout_tell (job, ML_LAYOUT_PLACED * MIN (i, sheet->n) / MAX (sheet->n, 1));
  router = ml_layout_routed (job, sheet);
  if (job->options->effort > 0 || has_free_pins (sheet))
    ml_polish (sheet, router, 0, job->cancellable);
  if (ml_kept_n (job->kept) > 0)
    ml_router_join_named (router);
  scene = ml_layout_finish (job, sheet, router);
  ml_sheet_free (sheet);
  ml_kit_free (kit);
  return scene;
}

/* ---- what a file keeps: places and the order of a block's pins, but not where wires run ---- */

MlScene *
ml_layout_as_reopened (const MlLayoutJob *job, const MlScene *scene, const MlParting *parting)
{
  MlKit *kit = ml_kit_new (job->circuit, ML_KIT_PLAIN);
  MlLayoutJob again = *job;
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

/* ---- room for wires whose place a name has taken ---- */

#define MOST_PARTED 3    /* times */
#define MOST_PARTINGS 8  /* looked at each time */

static GArray *
partings_of (const MlLayoutJob *job, const MlScene *scene)
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
parted (const MlLayoutJob *job, const MlScene *scene)
{
  GArray *partings = partings_of (job, scene);
  double least = ml_layout_rating (scene, 0);
  MlScene *best = NULL;
  guint i;

  for (i = 0; i < MIN (partings->len, MOST_PARTINGS) && !ml_layout_is_cancelled (job); i++)
    {
      MlScene *tried = ml_layout_as_reopened (job, scene, &g_array_index (partings, MlParting, i));
      double rating = ml_layout_rating (tried, 0);
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
with_ways (const MlLayoutJob *job, MlScene *scene)
{
  MlScene *better;
  int i;

  for (i = 0; i < MOST_PARTED && !ml_layout_is_cancelled (job) && (better = parted (job, scene)) != NULL; i++)
    {
      ml_scene_unref (scene);
      scene = better;
    }
  return scene;
}

/* ---- all of it ---- */

/* The smaller the board, the more attempts the same time allows. */
static guint
n_whole_attempts (const MlLayoutJob *job, guint n_pieces)
{
  guint n = job->circuit->n_parts;

  if (n_pieces > MOST_WHOLE)
    return 0;
  if (job->options->effort < 2)
    return n_pieces <= WHOLE_AT_FIRST;
  return n <= 30 ? 18 : n <= 60 ? 10 : n <= 130 ? 6 : 2;
}

static guint
n_staged_attempts (const MlLayoutJob *job, guint n_pieces)
{
  if (job->options->effort < 2 || n_pieces > MOST_COMPARED)
    return n_pieces > WHOLE_AT_FIRST;
  return n_pieces > FEWEST_STAGED ? ML_LAYOUT_STAGE_SIZES : 0;
}

static gboolean
wants_rows (const MlLayoutJob *job, guint n_pieces)
{
  if (ml_kept_n (job->kept) > 0)
    return n_pieces > ML_LAYOUT_CROWD;
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
  MlLayoutJob job = { NULL, options == NULL ? &plain : options, NULL, cancellable, 0, g_thread_self (), &told };
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
    scene = ml_layout_in_rows (&job);
  else if (ml_kept_n (job.kept) > 0 || (job.options->effort == 0 && n_pieces <= WHOLE_AT_FIRST))
    scene = lay_out_plainly (&job);
  else
    scene = ml_layout_best_of (&job, n_whole_attempts (&job, n_pieces), n_staged_attempts (&job, n_pieces));
  if (ml_kept_n (job.kept) == 0 && job.options->effort > 1 && n_pieces <= ML_LAYOUT_CROWD && !scene->in_rows && !ml_layout_is_large (&job))
    scene = with_ways (&job, scene);
  ml_layout_tell (&job, 1);
  ml_scene_state_set (scene, net_v, job.options->show_generated_names);
  ml_kept_free (job.kept);
  ml_circuit_free (job.circuit);
  if (g_cancellable_set_error_if_cancelled (cancellable, error))
    g_clear_pointer (&scene, ml_scene_unref);
  return scene;
}
