/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/sheet.h"

#define QUICK 0u
#define BETTER 2u

struct _MlSheet
{
  MlBoard *board;
  MlScene *scene;
  MlScene *before_hand; /* the scene before the preview; NULL: no preview */
  gboolean fresh;       /* laid out whole and untouched since */
  gboolean improving;
  GCancellable *cancellable;
  double *net_v;
  void (*changed) (gpointer data);
  gpointer data;
};

typedef struct
{
  MlBoard *board;
  double *net_v;
} Improvement;

static void
improvement_free (gpointer data)
{
  Improvement *improvement = data;
  ml_board_unref (improvement->board);
  g_free (improvement->net_v);
  g_free (improvement);
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
  self->improving = FALSE;
}

static void
forget_preview (MlSheet *self)
{
  g_clear_pointer (&self->before_hand, ml_scene_unref);
}

static void
improve_thread (GTask *task, gpointer source, gpointer data, GCancellable *cancellable)
{
  Improvement *improvement = data;
  MlLayoutOptions options = { .effort = BETTER, .net_v = improvement->net_v };
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
  self->improving = FALSE;
  g_clear_object (&self->cancellable);
  self->fresh = FALSE;
  if (scene)
    take_scene (self, scene);
  self->changed (self->data);
}

static void
begin_improving (MlSheet *self)
{
  stop_improving (self);
  Improvement *improvement = g_new0 (Improvement, 1);
  improvement->board = ml_board_ref (self->board);
  if (self->net_v)
    improvement->net_v = g_memdup2 (self->net_v, self->board->n_nets * sizeof (double));
  self->cancellable = g_cancellable_new ();
  self->improving = TRUE;
  GTask *task = g_task_new (NULL, self->cancellable, improved_cb, self);
  g_task_set_task_data (task, improvement, improvement_free);
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
ml_desktop_sheet_new (MlBoard *board, void (*changed) (gpointer data), gpointer data)
{
  MlSheet *self = g_new0 (MlSheet, 1);
  self->changed = changed;
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
  MlScene *scene = ml_layout_move (before, part, place, TRUE);
  /* Only `place` statements differ, so every index of the scene holds for the new board too: it changes hands instead of being laid out anew,
   * which keeps all wires that the part does not touch. The scene is nobody else's yet. */
  ml_board_unref (scene->board);
  scene->board = ml_board_ref (board);
  take_board (self, board);
  take_scene (self, scene);
}
