/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Several drawings of one board, side by side; those that are nearly best are looked at as a file would bring them back, and the best of all is
 * chosen: by their order where two are as good, however the work was shared among threads. */
#include "drawing/layout-job.h"
#include "drawing/layout-polish.h"
#include "drawing/layout-stages.h"

#include <string.h>

#define LARGE_POLISH 120
#define MOST_MOVES 20000
#define FIRST_HOT 3.0
#define FIRST_COLD 0.4
#define LOOK_WEIGHT 0.5
#define MOST_THREADS 4

/* One drawing, what its pieces look like beside the measure, and the same as it will be when its places are read from a file again; NULL where that is clearly worse. */
typedef struct { MlScene *scene, *reopened; double score, reopened_score, look; } Attempt;

/* ---- where everything goes first: the same for all that are made of the same pieces; only then chance moves it about ---- */

typedef struct { int piece, x, y, form; } Insertion;
typedef struct { GMutex mutex; GArray *insertions; } Begin; /* of Insertion, in their order; NULL until the first needs them */

#define N_BEGINS 2 /* with pairs as pieces, and without */

static GArray *
insert_all (const MlLayoutJob *job, MlSheet *sheet)
{
  GArray *insertions = g_array_new (FALSE, FALSE, sizeof (Insertion));
  int i;

  while (!ml_layout_is_cancelled (job) && (i = ml_sheet_insert_next (sheet)) >= 0)
    {
      const MlSpot *spot = &sheet->spots[i];
      Insertion insertion = { i, spot->x, spot->y, ml_form_index (spot->piece, spot->form) };
      g_array_append_val (insertions, insertion);
      ml_layout_tell (job, ML_LAYOUT_PLACED * MIN (insertions->len, sheet->n) / MAX (sheet->n, 1));
    }
  return insertions;
}

static void
insert_again (MlSheet *sheet, const GArray *insertions)
{
  guint i;

  for (i = 0; i < insertions->len; i++)
    {
      const Insertion *insertion = &g_array_index (insertions, Insertion, i);
      ml_sheet_insert_at (sheet, insertion->piece, insertion->x, insertion->y,
                          g_ptr_array_index (sheet->spots[insertion->piece].piece->forms, (guint) insertion->form));
    }
}

static void
begin (const MlLayoutJob *job, MlSheet *sheet, Begin *begin)
{
  gboolean first;

  g_mutex_lock (&begin->mutex);
  first = begin->insertions == NULL;
  if (first)
    begin->insertions = insert_all (job, sheet);
  g_mutex_unlock (&begin->mutex);
  if (!first)
    insert_again (sheet, begin->insertions);
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

/* ---- one drawing of the whole sheet ---- */

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

/* Pieces first, then their routing, then the parts by themselves. */
static Attempt
lay_out_pieces (const MlLayoutJob *job, Begin *begins, guint64 seed, gboolean anneal)
{
  MlKit *kit = ml_kit_new (job->circuit, seed % N_BEGINS == 0 ? ML_KIT_NO_PAIRS : ML_KIT_IDIOMS);
  MlSheet *sheet = ml_sheet_new (kit, kit->pieces, seed, job->span);
  MlRouter *router;
  Attempt attempt;

  begin (job, sheet, &begins[seed % N_BEGINS]);
  if (anneal)
    {
      ml_sheet_anneal (sheet, MIN (100 * sheet->n, MOST_MOVES), FIRST_HOT, FIRST_COLD, job->cancellable);
      fit_blocks (sheet);
    }
  router = routed_and_polished (job, sheet);
  ml_layout_tell (job, ML_LAYOUT_ROUTED);
  attempt = or_folded (job, kit, sheet, draw_parts (job, kit, sheet, router, seed), seed);
  ml_sheet_free (sheet);
  ml_kit_free (kit);
  return attempt;
}

/* ---- stage by stage ---- */

static const guint stage_sizes[ML_LAYOUT_STAGE_SIZES] = { 45, 30, 70 }; /* parts */

static gboolean
stage_placed (guint done, guint n_stages, gpointer data)
{
  const MlLayoutJob *job = data;

  ml_layout_tell (job, ML_LAYOUT_PLACED * done / n_stages);
  return !ml_layout_is_cancelled (job);
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
  ml_layout_tell (job, ML_LAYOUT_ROUTED);
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

/* A person finds a drawing as it was left: so each attempt is looked at as a file would bring it back. */
static void
reopen (const MlLayoutJob *job, Attempt *attempt)
{
  MlLayoutMeasure before = ml_layout_measure (attempt->scene), after;

  if (ml_layout_is_hurried (job) || job->options->effort == 0 || ml_layout_is_cancelled (job) || attempt->scene->n_symbols > ML_LAYOUT_CROWD)
    return;
  attempt->reopened = ml_layout_as_reopened (job, attempt->scene, NULL);
  after = ml_layout_measure (attempt->reopened);
  attempt->reopened_score = ml_layout_rating (attempt->reopened, attempt->look);
  if (ml_layout_is_cancelled (job) || ml_layout_hard_faults (&after) > ml_layout_hard_faults (&before)
      || n_letters (attempt->reopened) < n_letters (attempt->scene))
    g_clear_pointer (&attempt->reopened, ml_scene_unref);
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

/* ---- side by side ---- */

typedef struct
{
  const MlLayoutJob *job;
  Begin begins[N_BEGINS];
  Attempt *attempts;
  guint n_whole, n; /* those of the whole sheet, then those stage by stage */
  double least;     /* score */
} Contest;

typedef void (*Work) (Contest *contest, guint i);
typedef struct { Contest *contest; Work work; guint n; int next; /* atomic */ } Share;

static gpointer
work_on (gpointer data)
{
  Share *share = data;
  guint i;

  while ((i = (guint) g_atomic_int_add (&share->next, 1)) < share->n)
    if (i == 0 || !ml_layout_is_cancelled (share->contest->job))
      share->work (share->contest, i);
  return NULL;
}

/* Of a drawing that is cancelled only the first is sure to be worked on. */
static void
side_by_side (Contest *contest, Work work, guint n)
{
  Share share = { contest, work, n, 0 };
  guint n_threads = MIN (MIN (n, g_get_num_processors ()), MOST_THREADS), i;
  GThread *threads[MOST_THREADS];

  for (i = 1; i < n_threads; i++)
    threads[i] = g_thread_new ("layout", work_on, &share);
  work_on (&share);
  for (i = 1; i < n_threads; i++)
    g_thread_join (threads[i]);
}

static void
draw_one (Contest *contest, guint i)
{
  contest->attempts[i] = i < contest->n_whole ? lay_out_pieces (contest->job, contest->begins, i + 1, i > 0)
                                              : lay_out_in_stages (contest->job, stage_sizes[i - contest->n_whole]);
}

#define WORTH_REOPENING 1.06 /* of the best score: what is worse hardly ever comes back best */

static void
reopen_one (Contest *contest, guint i)
{
  if (contest->attempts[i].scene != NULL && contest->attempts[i].score <= WORTH_REOPENING * contest->least)
    reopen (contest->job, &contest->attempts[i]);
}

static void
find_least (Contest *contest)
{
  guint i;

  contest->least = G_MAXDOUBLE;
  for (i = 0; i < contest->n; i++)
    if (contest->attempts[i].scene != NULL)
      contest->least = MIN (contest->least, contest->attempts[i].score);
}

static void
contest_clear (Contest *contest)
{
  guint i;

  for (i = 0; i < contest->n; i++)
    {
      g_clear_pointer (&contest->attempts[i].scene, ml_scene_unref);
      g_clear_pointer (&contest->attempts[i].reopened, ml_scene_unref);
    }
  for (i = 0; i < N_BEGINS; i++)
    {
      g_clear_pointer (&contest->begins[i].insertions, g_array_unref);
      g_mutex_clear (&contest->begins[i].mutex);
    }
  g_free (contest->attempts);
}

MlScene *
ml_layout_best_of (const MlLayoutJob *job, guint n_whole, guint n_staged)
{
  Contest contest = { .job = job, .n_whole = n_whole, .n = n_whole + n_staged };
  MlScene *best;
  guint i;

  for (i = 0; i < N_BEGINS; i++)
    g_mutex_init (&contest.begins[i].mutex);
  contest.attempts = g_new0 (Attempt, contest.n);
  side_by_side (&contest, draw_one, contest.n);
  find_least (&contest);
  side_by_side (&contest, reopen_one, contest.n);
  best = ml_scene_ref (chosen (contest.attempts, contest.n));
  contest_clear (&contest);
  return best;
}
