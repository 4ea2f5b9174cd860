/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/layout.h"
#include "drawing/layout-job.h"
#include "drawing/layout-polish.h"
#include "drawing/layout-stages.h"
#include "drawing/layout-way.h"

#include <math.h>
#include <string.h>

#define LARGE_POLISH 120
#define WIDEST_SHEET 2400
#define MOST_MOVES 20000
#define FIRST_HOT 3.0
#define FIRST_COLD 0.4
#define LOOK_WEIGHT 0.5
#define MOST_THREADS 4

/* Shares of the whole: when all is placed, routed, and drawn. */
#define ALL_PLACED 0.5
#define ALL_ROUTED 0.8

static void
tell (const MlLayoutJob *job, double share)
{
  if (job->options->progress == NULL || !ml_layout_is_large (job) || g_thread_self () != job->caller || share < *job->told)
    return;
  *job->told = share;
  job->options->progress (share, job->options->progress_data);
}

static void
insert_all (const MlLayoutJob *job, MlSheet *sheet)
{
  guint i;

  for (i = 0; !ml_layout_is_cancelled (job) && ml_sheet_insert_next (sheet); i++)
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

MlSheet *
ml_layout_plain_sheet (const MlLayoutJob *job, MlKit *kit)
{
  MlSheet *sheet = ml_sheet_new (kit, kit->plain, 1, job->span);

  ml_kept_apply (job->kept, sheet);
  return sheet;
}

/* ---- how large a board is drawn in which way ---- */

#define CROWD 560     /* pieces: 500 parts, some of whose pins stand alone; beyond, nothing is put in between what stands */
#define FEWEST_STAGED 70 /* pieces: from here on a drawing stage by stage is tried beside those of the whole */
#define WHOLE_AT_FIRST 130 /* pieces: so many in the first drawing */
#define MOST_WHOLE 210 /* pieces: of more a single sheet becomes a wide scatter */
#define MOST_COMPARED 320 /* pieces: of more only one size of stages is tried */
#define MOST_STAGED 2000 /* pieces: about half a minute; beyond, in rows */
#define MOST_AT_ONCE 300 /* pieces of a drawing wanted at once (effort 0); beyond, in rows until a better one comes */

/* ---- stage by stage ---- */

static gboolean
stage_placed (guint done, guint n_stages, gpointer data)
{
  const MlLayoutJob *job = data;

  tell (job, ALL_PLACED * done / n_stages);
  return !ml_layout_is_cancelled (job);
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
lay_out_plainly (const MlLayoutJob *job)
{
  MlKit *kit = ml_kit_new (job->circuit, ML_KIT_PLAIN);
  MlSheet *sheet = ml_layout_plain_sheet (job, kit);
  MlRouter *router;
  MlScene *scene;

  sheet->core_on_core = ML_CORE_NEVER_ON_CORE;
  insert_all (job, sheet);
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

/* One drawing, what its pieces look like beside the measure, and the same as it will be when its places are read from a file again; NULL where that is clearly worse. */
typedef struct { MlScene *scene, *reopened; double score, reopened_score, look; } Attempt;

static MlRouter *
routed_and_polished (const MlLayoutJob *job, MlSheet *sheet)
{
  MlRouter *router = ml_layout_routed (job, sheet);

  if (!ml_layout_is_large (job) || job->options->effort > 1)
    ml_polish (sheet, router, ml_layout_is_large (job) ? LARGE_POLISH : 0, job->cancellable);
  if (!ml_layout_is_hurried (job))
    ml_router_rip_up (router, 1);
  if (ml_layout_is_large (job))
    ml_router_flag_missing (router);
  return router;
}

/* The parts by themselves, where their pieces stand. Takes router over. */
static Attempt
draw_parts (const MlLayoutJob *job, MlKit *kit, const MlSheet *sheet, MlRouter *router, guint64 seed)
{
  MlSheet *plain = ml_sheet_new (kit, kit->plain, seed, job->span);
  double look = LOOK_WEIGHT * ml_sheet_look (sheet) - ml_layout_bonus_alike (job, kit);
  MlRouter *plain_router;
  MlScene *scene;

  ml_sheet_take_places (plain, sheet, 0, 0);
  plain_router = ml_router_taken_over (plain, router);
  ml_router_free (router);
  scene = ml_layout_finish (job, plain, plain_router);
  ml_sheet_free (plain);
  return (Attempt){ scene, NULL, ml_layout_rating (scene, look), 0, look };
}

/* The same in two rows, if that is better. */
static Attempt
or_folded (const MlLayoutJob *job, MlKit *kit, MlSheet *sheet, Attempt attempt, guint64 seed)
{
  double width = attempt.scene->extent.x1 - attempt.scene->extent.x0, height = attempt.scene->extent.y1 - attempt.scene->extent.y0;
  Attempt folded;

  if (ml_layout_is_large (job) || ml_layout_is_cancelled (job) || width < height || ml_sheet_strip (width, height) <= 0 || !ml_sheet_fold (sheet))
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
lay_out_pieces (const MlLayoutJob *job, guint64 seed, gboolean anneal)
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
lay_out_in_stages (const MlLayoutJob *job, guint most_parts)
{
  MlKit *kit = ml_kit_new (job->circuit, ML_KIT_IDIOMS);
  MlSheet *sheet = ml_sheet_new (kit, kit->plain, 1, job->span);
  MlStagesCare care = { most_parts, !ml_layout_is_hurried (job), job->cancellable, stage_placed, (gpointer) job };
  double look = 0;
  MlRouter *router;
  MlScene *scene;

  if (!ml_stages_place (sheet, &care, &look))
    ml_layout_put_in_rows (sheet); /* cancelled: nobody will see it */
  ml_sheet_put_all (sheet);
  router = ml_router_new (sheet, job->cancellable);
  ml_router_route_all (router, 1);
  ml_router_flag_missing (router);
  tell (job, ALL_ROUTED);
  scene = ml_layout_finish (job, sheet, router);
  look = LOOK_WEIGHT * look - ml_layout_bonus_alike (job, kit);
  ml_sheet_free (sheet);
  ml_kit_free (kit);
  return (Attempt){ scene, NULL, ml_layout_rating (scene, look), 0, look };
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
as_reopened (const MlLayoutJob *job, const MlScene *scene, const MlParting *parting)
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

/* A person finds a drawing as it was left: so each attempt is looked at as a file would bring it back. */
static void
reopen (const MlLayoutJob *job, Attempt *attempt)
{
  MlLayoutMeasure before = ml_layout_measure (attempt->scene), after;

  if (ml_layout_is_hurried (job) || job->options->effort == 0 || ml_layout_is_cancelled (job) || attempt->scene->n_symbols > CROWD)
    return;
  attempt->reopened = as_reopened (job, attempt->scene, NULL);
  after = ml_layout_measure (attempt->reopened);
  attempt->reopened_score = ml_layout_rating (attempt->reopened, attempt->look);
  if (ml_layout_is_cancelled (job) || ml_layout_hard_faults (&after) > ml_layout_hard_faults (&before)
      || n_letters (attempt->reopened) < n_letters (attempt->scene))
    g_clear_pointer (&attempt->reopened, ml_scene_unref);
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
      MlScene *tried = as_reopened (job, scene, &g_array_index (partings, MlParting, i));
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

/* ---- several attempts, side by side; the best is chosen in their order, however they were shared among threads ---- */

typedef struct
{
  const MlLayoutJob *job;
  Attempt *attempts;
  guint n_whole, n; /* those of the whole sheet, then those stage by stage */
  int next; /* atomic */
} Contest;

static const guint stage_sizes[] = { 45, 30, 70 }; /* parts */

static void
try_attempt (const Contest *contest, guint i)
{
  if (i > 0 && ml_layout_is_cancelled (contest->job))
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
best_of (const MlLayoutJob *job, guint n_whole, guint n_staged)
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
  return n_pieces > FEWEST_STAGED ? G_N_ELEMENTS (stage_sizes) : 0;
}

static gboolean
wants_rows (const MlLayoutJob *job, guint n_pieces)
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
    scene = best_of (&job, n_whole_attempts (&job, n_pieces), n_staged_attempts (&job, n_pieces));
  if (ml_kept_n (job.kept) == 0 && job.options->effort > 1 && n_pieces <= CROWD && !scene->in_rows && !ml_layout_is_large (&job))
    scene = with_ways (&job, scene);
  tell (&job, 1);
  ml_scene_state_set (scene, net_v, job.options->show_generated_names);
  ml_kept_free (job.kept);
  ml_circuit_free (job.circuit);
  if (g_cancellable_set_error_if_cancelled (cancellable, error))
    g_clear_pointer (&scene, ml_scene_unref);
  return scene;
}
