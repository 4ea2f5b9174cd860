/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/sheet.h"

#define QUICK 0u
#define BETTER 2u
#define TOLD_EVERY_MS 100u

typedef struct _Improvement Improvement;

struct _MlSheet
{
  MlBoard *board;
  MlScene *scene;
  MlScene *before_hand; /* the scene before the preview; NULL: no preview */
  gboolean fresh;       /* laid out whole and untouched since */
  gboolean improving;
  double share;         /* of the better drawing, 0 to 1; negative: nothing is told of it */
  Improvement *improvement; /* owned: a reference; NULL when none is on its way */
  GCancellable *cancellable;
  double *net_v;
  void (*changed) (gpointer data);
  void (*progressed) (gpointer data);
  gpointer data;
};

/* Shared by the sheet, the thread and what is to be told on the main context. */
struct _Improvement
{
  MlBoard *board;
  double *net_v;
  MlSheet *sheet; /* only for the main context; NULL once the sheet waits for it no longer */
  int permille;   /* atomic: how much is done */
  int is_due;     /* atomic: the main context will look at it */
};

static void
improvement_clear (gpointer data)
{
  Improvement *improvement = data;
  ml_board_unref (improvement->board);
  g_free (improvement->net_v);
}

static void
improvement_unref (gpointer data)
{
  g_atomic_rc_box_release_full (data, improvement_clear);
}

static MlScene *
quick_layout (MlBoard *board, const MlScene *previous)
{
  MlLayoutOptions options = { .effort = QUICK, .previous = previous };
  return ml_layout (board, &options, NULL, NULL);
}

static void
take_scene (MlSheet *self, MlScene *scene)
{
  MlScene *old = self->scene;
  self->scene = scene;
  if (old)
    ml_scene_unref (old);
}

static void
take_board (MlSheet *self, MlBoard *board)
{
  MlBoard *old = self->board;
  self->board = ml_board_ref (board);
  if (old)
    ml_board_unref (old);
}

static void
stop_improving (MlSheet *self)
{
  if (self->cancellable)
    g_cancellable_cancel (self->cancellable);
  g_clear_object (&self->cancellable);
  if (self->improvement)
    self->improvement->sheet = NULL;
  g_clear_pointer (&self->improvement, improvement_unref);
  self->improving = FALSE;
  self->share = -1;
}

static void
forget_preview (MlSheet *self)
{
  g_clear_pointer (&self->before_hand, ml_scene_unref);
}

static gboolean
told_cb (gpointer data)
{
  Improvement *improvement = data;
  MlSheet *self = improvement->sheet;
  g_atomic_int_set (&improvement->is_due, 0);
  if (!self)
    return G_SOURCE_REMOVE;
  self->share = g_atomic_int_get (&improvement->permille) / 1000.0;
  self->progressed (self->data);
  return G_SOURCE_REMOVE;
}

/* In the thread that draws. */
static void
progress_cb (double share, gpointer data)
{
  Improvement *improvement = data;
  g_atomic_int_set (&improvement->permille, (int) (1000 * share));
  if (g_atomic_int_compare_and_exchange (&improvement->is_due, 0, 1))
    g_timeout_add_full (G_PRIORITY_DEFAULT, TOLD_EVERY_MS, told_cb, g_atomic_rc_box_acquire (improvement), improvement_unref);
}

static void
improve_thread (GTask *task, gpointer source, gpointer data, GCancellable *cancellable)
{
  Improvement *improvement = data;
  MlLayoutOptions options = { .effort = BETTER, .net_v = improvement->net_v, .progress = progress_cb, .progress_data = improvement };
  GError *error = NULL;
  MlScene *scene = ml_layout (improvement->board, &options, cancellable, &error);
  if (scene)
    g_task_return_pointer (task, scene, (GDestroyNotify) ml_scene_unref);
  else
    g_task_return_error (task, error);
}

/* A cancelled task must not look at the sheet: it may be gone. */
static void
improved_cb (GObject *source, GAsyncResult *result, gpointer data)
{
  g_autoptr (GError) error = NULL;
  MlScene *scene = g_task_propagate_pointer (G_TASK (result), &error);
  if (!scene && g_error_matches (error, G_IO_ERROR, G_IO_ERROR_CANCELLED))
    return;
  MlSheet *self = data;
  stop_improving (self);
  self->fresh = FALSE;
  if (scene)
    take_scene (self, scene);
  self->changed (self->data);
}

static void
begin_improving (MlSheet *self)
{
  stop_improving (self);
  Improvement *improvement = g_atomic_rc_box_new0 (Improvement);
  improvement->sheet = self;
  self->improvement = g_atomic_rc_box_acquire (improvement);
  improvement->board = ml_board_ref (self->board);
  if (self->net_v)
    improvement->net_v = g_memdup2 (self->net_v, self->board->n_nets * sizeof (double));
  self->cancellable = g_cancellable_new ();
  self->improving = TRUE;
  GTask *task = g_task_new (NULL, self->cancellable, improved_cb, self);
  g_task_set_task_data (task, improvement, improvement_unref);
  g_task_run_in_thread (task, improve_thread);
  g_object_unref (task);
}

/* Whether nobody has said where anything belongs. */
static gboolean
nothing_placed (const MlBoard *board)
{
  for (guint i = 0; i < board->n_parts; i++)
    if (board->parts[i].placed)
      return FALSE;
  return TRUE;
}

MlSheet *
ml_desktop_sheet_new (MlBoard *board, void (*changed) (gpointer data), void (*progressed) (gpointer data), gpointer data)
{
  MlSheet *self = g_new0 (MlSheet, 1);
  self->changed = changed;
  self->progressed = progressed;
  self->data = data;
  ml_desktop_sheet_lay_out (self, board);
  return self;
}

void
ml_desktop_sheet_free (MlSheet *self)
{
  if (!self)
    return;
  stop_improving (self);
  forget_preview (self);
  ml_scene_unref (self->scene);
  ml_board_unref (self->board);
  g_free (self->net_v);
  g_free (self);
}

MlScene *
ml_desktop_sheet_scene (MlSheet *self)
{
  return self->scene;
}

void
ml_desktop_sheet_lay_out (MlSheet *self, MlBoard *board)
{
  stop_improving (self);
  forget_preview (self);
  g_clear_pointer (&self->net_v, g_free);
  take_board (self, board);
  take_scene (self, quick_layout (board, NULL));
  self->fresh = TRUE;
  self->share = self->scene->in_rows ? 0 : -1; /* such a drawing is no more than a promise of the better one */
}

void
ml_desktop_sheet_set_board (MlSheet *self, MlBoard *board, const MlScene *known)
{
  stop_improving (self);
  g_clear_pointer (&self->net_v, g_free);
  take_board (self, board);
  take_scene (self, quick_layout (board, known ? known : self->before_hand ? self->before_hand : self->scene));
  forget_preview (self);
  /* While the better drawing of a file just opened was on its way, a condition or a value may change without anyone having placed a part. */
  self->fresh = self->fresh && nothing_placed (board);
}

gboolean
ml_desktop_sheet_awaits_better (MlSheet *self)
{
  return self->fresh;
}

double
ml_desktop_sheet_progress (MlSheet *self)
{
  return self->share;
}

void
ml_desktop_sheet_keep (MlSheet *self)
{
  stop_improving (self);
  self->fresh = FALSE;
  self->progressed (self->data);
}

void
ml_desktop_sheet_improve (MlSheet *self, const double *net_v)
{
  if (!self->fresh || self->improving || self->before_hand)
    return;
  g_free (self->net_v);
  self->net_v = net_v ? g_memdup2 (net_v, self->board->n_nets * sizeof (double)) : NULL;
  begin_improving (self);
}

void
ml_desktop_sheet_preview (MlSheet *self, int part, const MlPlace *place)
{
  stop_improving (self);
  self->fresh = FALSE;
  if (!self->before_hand)
    self->before_hand = ml_scene_ref (self->scene);
  take_scene (self, ml_layout_move (self->before_hand, part, place, FALSE));
}

void
ml_desktop_sheet_end_preview (MlSheet *self)
{
  if (self->before_hand)
    take_scene (self, g_steal_pointer (&self->before_hand));
}

void
ml_desktop_sheet_drop (MlSheet *self, MlBoard *board, int part, const MlPlace *place)
{
  stop_improving (self);
  self->fresh = FALSE;
  g_autoptr (MlScene) before = self->before_hand ? g_steal_pointer (&self->before_hand) : ml_scene_ref (self->scene);
  g_autoptr (MlScene) moved = ml_layout_move (before, part, place, TRUE);
  /* Wires as the file will bring them back: they hang on where everything stands, not on what was dragged by which way. */
  take_board (self, board);
  take_scene (self, quick_layout (board, moved));
}
