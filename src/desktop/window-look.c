/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A board or job opened again, or recovered, shows what was looked at last: unit, condition, view and zoom. */
#include "desktop/window-private.h"

#include <string.h>

#include "desktop/last-view.h"

#define LOOK_RESTS_MS 300

/* What was never saved is known by its journal. */
static const char *
path_of_work (MlWindow *self)
{
  const char *job = ml_document_job_path (self->document), *board = ml_document_board_path (self->document);

  return job != NULL ? job : board != NULL ? board : ml_document_journal_path (self->document);
}

void
ml_window_keep_look (MlWindow *self)
{
  const MlBoard *board = ml_document_board (self->document);
  const MlJob *job = ml_document_job (self->document);
  const char *path = path_of_work (self);
  int unit = ml_document_unit (self->document), condition = ml_document_condition (self->document);
  GAction *view = ml_window_action (self, "view");

  if (path == NULL || ml_window_is_untouched (self) || view == NULL)
    return;
  g_autoptr (GVariant) shown = g_action_get_state (view);
  MlLastView last = { .unit = unit >= 0 ? job->units[unit].name : NULL,
                      .condition = condition >= 0 ? board->conditions[condition].name : NULL,
                      .view = (char *) g_variant_get_string (shown, NULL),
                      .circuit = ml_canvas_look (self->circuit_canvas),
                      .picture = ml_canvas_look (self->picture_canvas) };
  ml_last_view_write (path, &last);
}

void
ml_window_restore_look (MlWindow *self)
{
  static const char *const views[] = { "circuit", "picture", "both", NULL };
  const char *path = path_of_work (self);
  MlLastView last;

  if (path == NULL || !ml_last_view_read (path, &last))
    return;
  int unit = last.unit != NULL ? ml_job_find_unit (ml_document_job (self->document), last.unit) : -1;
  int condition = last.condition != NULL ? ml_board_find_condition (ml_document_board (self->document), last.condition) : -1;
  gboolean has_picture = ml_document_board (self->document)->n_pictures > 0;

  if (unit >= 0)
    ml_document_set_unit (self->document, unit);
  if (condition >= 0)
    ml_document_set_condition (self->document, condition);
  if (last.view != NULL && g_strv_contains (views, last.view) && (has_picture || g_str_equal (last.view, "circuit")))
    g_action_group_change_action_state (G_ACTION_GROUP (self), "view", g_variant_new_string (last.view));
  ml_canvas_look_at (self->circuit_canvas, &last.circuit);
  ml_canvas_look_at (self->picture_canvas, &last.picture);
  ml_last_view_clear (&last);
}

static gboolean
look_rests_cb (gpointer data)
{
  MlWindow *self = data;

  self->look_rests = 0;
  ml_window_keep_look (self);
  return G_SOURCE_REMOVE;
}

/* Kept while one works, not only at the end: a power cut says nothing before it comes. */
void
ml_window_keep_look_soon (MlWindow *self)
{
  g_clear_handle_id (&self->look_rests, g_source_remove);
  self->look_rests = g_timeout_add (LOOK_RESTS_MS, look_rests_cb, self);
}
