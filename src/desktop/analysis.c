/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/analysis.h"

#include <math.h>

/* While a board is being drawn, changes come in quick succession; a dictionary begun for each would be thrown away each time. */
#define SETTLE_MS 120
#define PREPARE_SHARE 0.6 /* of the progress shown */
#define N_STAGES 3u

/* One judge and whether its slow part is done. Used by one thread at a time: that of the task which holds it, else the main one. */
typedef struct
{
  MlBoard *board;
  MlJudge *judge; /* NULL until a thread made it */
  gboolean prepared;
} Bench;

typedef struct
{
  MlAnalysis *analysis;
  Bench *bench;
  GCancellable *cancellable;
  /* points */
  GArray *conditions; /* int, in the order to solve */
  gboolean supposed;
  MlFault fault;
  MlFound *found; /* NULL: not known */
  /* verdict */
  MlJob *job;
  int unit;
  guint pass;
  double shown; /* progress told last */
  GArray *likely; /* MlLikelyPlace: where the verdict suggests to measure … */
  gboolean foreseeing; /* … or, the verdict being there, what to be ready for … */
  gboolean asked;      /* … first of all where somebody is about to */
} Work;

typedef struct
{
  Bench *bench;
  GCancellable *cancellable; /* of the task at work; NULL: idle */
  gboolean foreseeing;       /* it is there for later only: nobody waits for it */
  Work *next;                /* waits for the task at work */
} Lane;

struct _MlAnalysis
{
  MlAnalysisCalls calls;
  gpointer data;
  GMainContext *context;
  gboolean alive;
  Lane points, verdict;
  guint settle;  /* timeout */
  Work *settling;
  GArray *asked; /* MlLikelyPlace: where somebody is about to measure; NULL: not known */
  Work *judged;  /* of the last verdict that has been found to its end, for its job and suggestions; NULL: none */
};

/* ---- pieces that threads and the main context share: counted ---- */

static void
bench_clear (gpointer data)
{
  Bench *bench = data;
  g_clear_pointer (&bench->judge, ml_judge_free);
  ml_board_unref (bench->board);
}

static void
bench_unref (Bench *bench)
{
  g_atomic_rc_box_release_full (bench, bench_clear);
}

static Bench *
bench_new (MlBoard *board)
{
  Bench *bench = g_atomic_rc_box_new0 (Bench);
  bench->board = ml_board_ref (board);
  return bench;
}

static MlJudge *
bench_judge (Bench *bench)
{
  if (!bench->judge)
    bench->judge = ml_judge_new (bench->board);
  return bench->judge;
}

static void
analysis_clear (gpointer data)
{
  MlAnalysis *self = data;
  g_main_context_unref (self->context);
}

static void
analysis_unref (MlAnalysis *self)
{
  g_atomic_rc_box_release_full (self, analysis_clear);
}

static Work *
work_new (MlAnalysis *self, Bench *bench)
{
  Work *work = g_new0 (Work, 1);
  work->analysis = g_atomic_rc_box_acquire (self);
  work->bench = g_atomic_rc_box_acquire (bench);
  work->cancellable = g_cancellable_new ();
  return work;
}

static void
work_free (gpointer data)
{
  Work *work = data;
  if (!work)
    return;
  g_clear_pointer (&work->conditions, g_array_unref);
  if (work->supposed)
    ml_fault_clear (&work->fault);
  ml_found_unref (work->found);
  g_clear_pointer (&work->job, ml_job_unref);
  g_clear_pointer (&work->likely, g_array_unref);
  g_object_unref (work->cancellable);
  bench_unref (work->bench);
  analysis_unref (work->analysis);
  g_free (work);
}

/* ---- results on their way to the main context ---- */

typedef struct
{
  MlAnalysis *analysis;
  GCancellable *cancellable;
  MlOperatingPoint *point;
  gboolean supposed;
  MlVerdict *verdict;
  GError *error;
  gboolean foretold;
  MlLikelyPlace place;
  double value, sigma;
  double progress;
} Message;

static void
message_free (gpointer data)
{
  Message *message = data;
  g_clear_pointer (&message->point, ml_operating_point_free);
  g_clear_pointer (&message->verdict, ml_verdict_unref);
  g_clear_error (&message->error);
  g_object_unref (message->cancellable);
  analysis_unref (message->analysis);
  g_free (message);
}

static gboolean
deliver_cb (gpointer data)
{
  Message *message = data;
  MlAnalysis *self = message->analysis;
  if (!self->alive || g_cancellable_is_cancelled (message->cancellable))
    return G_SOURCE_REMOVE;
  if (message->point)
    self->calls.point (g_steal_pointer (&message->point), message->supposed, self->data);
  else if (message->verdict)
    self->calls.verdict (g_steal_pointer (&message->verdict), self->data);
  else if (message->error)
    self->calls.failed (message->error, self->data);
  else if (message->foretold)
    self->calls.foretold (&message->place, message->value, message->sigma, self->data);
  else
    self->calls.progress (message->progress, self->data);
  return G_SOURCE_REMOVE;
}

static Message *
message_new (Work *work)
{
  Message *message = g_new0 (Message, 1);
  message->analysis = g_atomic_rc_box_acquire (work->analysis);
  message->cancellable = g_object_ref (work->cancellable);
  return message;
}

static void
post (Message *message)
{
  GSource *source = g_idle_source_new ();
  g_source_set_priority (source, G_PRIORITY_DEFAULT);
  g_source_set_callback (source, deliver_cb, message, message_free);
  g_source_attach (source, message->analysis->context);
  g_source_unref (source);
}

static void
post_progress (Work *work, double share)
{
  if (share - work->shown < 0.02 && share < 1.0 && share > 0.0)
    return;
  work->shown = share;
  Message *message = message_new (work);
  message->progress = share;
  post (message);
}

/* ---- in threads ---- */

static void
solve_thread (GTask *task, gpointer source, gpointer data, GCancellable *cancellable)
{
  Work *work = data;
  MlJudge *judge = bench_judge (work->bench);
  for (guint i = 0; i < work->conditions->len && !g_cancellable_is_cancelled (cancellable); i++)
    {
      Message *message = message_new (work);
      message->supposed = work->supposed;
      message->point = ml_judge_solve (judge, g_array_index (work->conditions, int, i), work->supposed ? &work->fault : NULL,
                                       work->supposed ? 1 : 0, work->found);
      post (message);
    }
  g_task_return_boolean (task, TRUE);
}

static void
prepare_progress (double share, gpointer data)
{
  post_progress (data, PREPARE_SHARE * CLAMP (share, 0.0, 1.0));
}

static gboolean
prepare (Work *work, GError **error)
{
  if (!work->bench->prepared)
    work->bench->prepared = ml_judge_prepare (bench_judge (work->bench), prepare_progress, work, work->cancellable, error);
  return work->bench->prepared;
}

/* As stage 0, when what was judged last answers sooner. */
static MlVerdict *
glance (const Work *work)
{
  return ml_judge_glance (work->bench->judge, work->job, work->unit, work->pass);
}

static void
judge_thread (GTask *task, gpointer source, gpointer data, GCancellable *cancellable)
{
  Work *work = data;
  GError *error = NULL;
  post_progress (work, 0.0);
  gboolean good = prepare (work, &error);
  for (guint stage = 0; good && stage < N_STAGES; stage++)
    {
      Message *message = message_new (work);
      message->verdict = stage == 0 ? glance (work) : NULL;
      if (!message->verdict)
        message->verdict = ml_judge_run (work->bench->judge, work->job, work->unit, work->pass, stage, cancellable, &error);
      good = message->verdict != NULL;
      if (good)
        {
          g_clear_pointer (&work->likely, g_array_unref);
          work->likely = ml_verdict_likely (message->verdict);
          post (message);
        }
      else
        message_free (message);
      post_progress (work, PREPARE_SHARE + (1.0 - PREPARE_SHARE) * (stage + 1) / N_STAGES);
    }
  if (good)
    g_task_return_boolean (task, TRUE);
  else
    g_task_return_error (task, error ? error : g_error_new_literal (G_IO_ERROR, G_IO_ERROR_CANCELLED, "Stopped"));
}

static void
foretell (Work *work)
{
  const MlLikelyPlace place = g_array_index (work->likely, MlLikelyPlace, 0);
  double sigma, value = ml_judge_foretell (work->bench->judge, work->job, work->unit, work->pass, &place, &sigma);
  if (isnan (value))
    return;
  Message *message = message_new (work);
  message->foretold = TRUE;
  message->place = place;
  message->value = value;
  message->sigma = sigma;
  post (message);
}

static void
foresee_thread (GTask *task, gpointer source, gpointer data, GCancellable *cancellable)
{
  Work *work = data;
  if (work->asked)
    foretell (work);
  g_task_return_boolean (task, ml_judge_foresee (work->bench->judge, work->job, work->unit, work->pass, (MlLikelyPlace *) (gpointer) work->likely->data,
                                                 work->likely->len, cancellable, NULL));
}

/* ---- lanes ---- */

static void lane_start (Lane *lane, Work *work);

/* A new piece of work on what was judged last: what the next reading would show, those asked for before those suggested. */
static Work *
foresee_work (MlAnalysis *self)
{
  Work *work = work_new (self, self->judged->bench);
  work->foreseeing = TRUE;
  work->job = ml_job_ref (self->judged->job);
  work->unit = self->judged->unit;
  work->pass = self->judged->pass;
  work->likely = g_array_new (FALSE, FALSE, sizeof (MlLikelyPlace));
  work->asked = self->asked != NULL;
  if (work->asked)
    g_array_append_vals (work->likely, self->asked->data, self->asked->len);
  g_array_append_vals (work->likely, self->judged->likely->data, self->judged->likely->len);
  return work;
}

static void
keep_judged (MlAnalysis *self, Work *work)
{
  g_clear_pointer (&self->judged, work_free);
  self->judged = work_new (self, work->bench);
  self->judged->job = ml_job_ref (work->job);
  self->judged->unit = work->unit;
  self->judged->pass = work->pass;
  self->judged->likely = g_array_ref (work->likely);
}

static void
finish (MlAnalysis *self, Lane *lane, GTask *task)
{
  Work *work = g_task_get_task_data (task);
  g_autoptr (GError) error = NULL;
  gboolean good = g_task_propagate_boolean (task, &error);
  if (!self->alive || lane->cancellable != g_task_get_cancellable (task))
    return; /* a task of a board that is gone */
  gboolean cancelled = g_cancellable_is_cancelled (lane->cancellable);
  g_clear_object (&lane->cancellable);
  if (!good && !cancelled && !work->foreseeing && !g_error_matches (error, G_IO_ERROR, G_IO_ERROR_CANCELLED))
    self->calls.failed (error, self->data);
  if (lane->next)
    lane_start (lane, g_steal_pointer (&lane->next));
  else if (lane == &self->verdict && !work->foreseeing)
    {
      self->calls.progress (-1.0, self->data);
      /* What was told may have asked for something new already. */
      if (self->alive && good && !cancelled && !lane->cancellable && !self->settling && lane->bench == work->bench)
        {
          keep_judged (self, work);
          lane_start (lane, foresee_work (self));
        }
    }
}

static void
solved_cb (GObject *source, GAsyncResult *result, gpointer data)
{
  Work *work = g_task_get_task_data (G_TASK (result));
  finish (work->analysis, &work->analysis->points, G_TASK (result));
}

static void
judged_cb (GObject *source, GAsyncResult *result, gpointer data)
{
  Work *work = g_task_get_task_data (G_TASK (result));
  finish (work->analysis, &work->analysis->verdict, G_TASK (result));
}

static void
lane_start (Lane *lane, Work *work)
{
  gboolean solving = work->conditions != NULL;
  lane->foreseeing = work->foreseeing;
  lane->cancellable = g_object_ref (work->cancellable);
  GTask *task = g_task_new (NULL, work->cancellable, solving ? solved_cb : judged_cb, NULL);
  g_task_set_task_data (task, work, work_free);
  g_task_set_check_cancellable (task, FALSE); /* the end of a cancelled one is awaited all the same: the judge is in its hands */
  g_task_run_in_thread (task, solving ? solve_thread : work->foreseeing ? foresee_thread : judge_thread);
  g_object_unref (task);
}

static void
lane_ask (Lane *lane, Work *work)
{
  g_clear_pointer (&lane->next, work_free);
  if (!lane->cancellable)
    {
      lane_start (lane, work);
      return;
    }
  g_cancellable_cancel (lane->cancellable);
  lane->next = work;
}

static void
lane_cancel (Lane *lane)
{
  g_clear_pointer (&lane->next, work_free);
  if (lane->cancellable)
    g_cancellable_cancel (lane->cancellable);
}

/* The task at work keeps the old bench to its end; the lane is free for the new one at once. */
static void
lane_set_board (Lane *lane, MlBoard *board)
{
  lane_cancel (lane);
  g_clear_object (&lane->cancellable);
  g_clear_pointer (&lane->bench, bench_unref);
  lane->bench = board ? bench_new (board) : NULL;
}

/* ---- asking ---- */

static void
unsettle (MlAnalysis *self)
{
  g_clear_handle_id (&self->settle, g_source_remove);
  g_clear_pointer (&self->settling, work_free);
}

static gboolean
settled_cb (gpointer data)
{
  MlAnalysis *self = data;
  self->settle = 0;
  lane_ask (&self->verdict, g_steal_pointer (&self->settling));
  return G_SOURCE_REMOVE;
}

MlAnalysis *
ml_analysis_new (const MlAnalysisCalls *calls, gpointer data)
{
  MlAnalysis *self = g_atomic_rc_box_new0 (MlAnalysis);
  self->calls = *calls;
  self->data = data;
  self->context = g_main_context_ref_thread_default ();
  self->alive = TRUE;
  return self;
}

void
ml_analysis_free (MlAnalysis *self)
{
  if (!self)
    return;
  self->alive = FALSE;
  unsettle (self);
  lane_set_board (&self->points, NULL);
  lane_set_board (&self->verdict, NULL);
  g_clear_pointer (&self->judged, work_free);
  g_clear_pointer (&self->asked, g_array_unref);
  analysis_unref (self);
}

static Work *
points_work (MlAnalysis *self)
{
  Work *work = work_new (self, self->points.bench);
  work->conditions = g_array_new (FALSE, FALSE, sizeof (int));
  return work;
}

static void
solve_all (MlAnalysis *self, int first)
{
  MlBoard *board = self->points.bench->board;
  Work *work = points_work (self);
  if (first >= 0 && (guint) first < board->n_conditions)
    g_array_append_val (work->conditions, first);
  for (int i = 0; (guint) i < board->n_conditions; i++)
    if (i != first)
      g_array_append_val (work->conditions, i);
  lane_ask (&self->points, work);
}

void
ml_analysis_set_board (MlAnalysis *self, MlBoard *board, int first)
{
  unsettle (self);
  g_clear_pointer (&self->judged, work_free);
  g_clear_pointer (&self->asked, g_array_unref);
  lane_set_board (&self->points, board);
  lane_set_board (&self->verdict, board);
  solve_all (self, first);
}

void
ml_analysis_suppose (MlAnalysis *self, int condition, const MlFault *fault, MlFound *found)
{
  if (!fault)
    {
      /* The points as drawn may have been cancelled by the supposition. */
      solve_all (self, condition);
      return;
    }
  Work *work = points_work (self);
  g_array_append_val (work->conditions, condition);
  work->supposed = TRUE;
  ml_analysis_copy_fault (fault, &work->fault);
  work->found = ml_found_ref (found);
  lane_ask (&self->points, work);
}

void
ml_analysis_judge (MlAnalysis *self, MlJob *job, int unit, guint pass, gboolean soon)
{
  unsettle (self);
  lane_cancel (&self->verdict);
  g_clear_pointer (&self->judged, work_free);
  if (!job || unit < 0)
    return;
  Work *work = work_new (self, self->verdict.bench);
  work->job = ml_job_ref (job);
  work->unit = unit;
  work->pass = pass;
  if (soon)
    {
      lane_ask (&self->verdict, work);
      return;
    }
  self->settling = work;
  self->settle = g_timeout_add (SETTLE_MS, settled_cb, self);
}

void
ml_analysis_expect (MlAnalysis *self, const MlLikelyPlace *place)
{
  g_clear_pointer (&self->asked, g_array_unref);
  self->asked = g_array_new (FALSE, FALSE, sizeof *place);
  g_array_append_vals (self->asked, place, 1);
  if (self->judged && (!self->verdict.cancellable || self->verdict.foreseeing))
    lane_ask (&self->verdict, foresee_work (self));
}

void
ml_analysis_stop (MlAnalysis *self)
{
  unsettle (self);
  lane_cancel (&self->verdict);
}

MlJudge *
ml_analysis_bench_judge (MlAnalysis *self)
{
  return self->points.cancellable || !self->points.bench ? NULL : self->points.bench->judge;
}

void
ml_analysis_copy_fault (const MlFault *fault, MlFault *ret_copy)
{
  *ret_copy = *fault;
  ret_copy->as = g_strdup (fault->as);
}
