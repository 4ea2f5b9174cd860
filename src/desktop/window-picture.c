/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The picture of the real board in the window: loading it by dialog or by dropping it, its other side, its neighbours. */
#include "desktop/window-private.h"

#include <math.h>
#include <string.h>

#include "board/edit.h"
#include "desktop/actions.h"
#include "desktop/ask.h"
#include "drawing/photo-carry.h"
#include "drawing/photo.h"
#include "drawing/photo-scene.h"

#define NEAR_MM 2.6     /* pads of neighbouring pins of common parts are 2.54 mm apart */
#define MOST_NEARS 60

/* ---- loading ---- */

typedef struct { MlWindow *window; char *path; } Loading;

static void
loading_free (Loading *loading)
{
  g_object_unref (loading->window);
  g_free (loading->path);
  g_free (loading);
}

/* picture -1: one more. */
static void
take_picture (MlWindow *self, int picture, const char *path, gboolean bottom)
{
  const MlBoard *board = ml_document_board (self->document);
  g_autofree char *file = ml_photo_relative (ml_document_board_path (self->document), path);
  MlPicture to = picture >= 0 ? board->pictures[picture] : (MlPicture) { .scale_px_per_mm = NAN, .bottom = bottom };
  GError *error = NULL;

  to.file = file;
  if (!ml_window_apply (self, ml_board_edit_set_picture (board, picture, &to, &error), NULL, error, "Picture of the board"))
    return;
  if (picture < 0)
    ml_document_set_picture (self->document, (int) ml_document_board (self->document)->n_pictures - 1);
  ml_window_show_work (self);
  if (!gtk_widget_get_visible (GTK_WIDGET (self->picture_canvas)))
    g_action_group_change_action_state (G_ACTION_GROUP (self), "view", g_variant_new_string ("picture"));
  if (picture < 0 && ml_canvas_get_mode (self->canvas) != ML_CANVAS_DRAW)
    ml_window_notice_until (self, "pads", "Now say where the pins are: in Draw the program asks for one pad after the other.", "Draw", "win.mode::draw");
  ml_window_say_picture_trouble (self); /* which takes the place of that, if there is any */
}

static void
where_cb (int choice, gpointer data)
{
  Loading *loading = data;
  MlWindow *self = loading->window;
  int picture = ml_document_picture (self->document);

  if (choice == 1)
    take_picture (self, -1, loading->path, picture >= 0 && !ml_document_board (self->document)->pictures[picture].bottom);
  else if (choice == 2)
    take_picture (self, picture, loading->path, FALSE);
  loading_free (loading);
}

void
ml_window_load_picture (MlWindow *self, const char *path)
{
  g_autoptr (GError) error = NULL;
  Loading *loading;

  if (!ml_photo_check (path, &error)) /* before anything is asked about it, or written to the board */
    {
      ml_window_notice (self, error->message, NULL, NULL);
      return;
    }
  if (ml_document_board (self->document)->n_pictures == 0)
    {
      take_picture (self, -1, path, FALSE);
      return;
    }
  loading = g_new (Loading, 1);
  *loading = (Loading) { g_object_ref (self), g_strdup (path) };
  ml_choose (GTK_WINDOW (self), "The board has a picture already",
             "Is this the other side of the board, or a better picture of the same side? Pads stay where they are.",
             (const char *const[]) { "Cancel", "The Other Side", "Replace It", NULL }, where_cb, loading);
}

/* A question that is open waits for its answer: what is dropped meanwhile would change what it is about. */
static gboolean
is_asking (MlWindow *self)
{
  GListModel *windows = gtk_window_get_toplevels ();

  for (guint i = 0; i < g_list_model_get_n_items (windows); i++)
    {
      g_autoptr (GtkWindow) window = g_list_model_get_item (windows, i);
      if (gtk_window_get_modal (window) && gtk_window_get_transient_for (window) == GTK_WINDOW (self) && gtk_widget_get_visible (GTK_WIDGET (window)))
        return TRUE;
    }
  return FALSE;
}

static gboolean
drop_cb (GtkDropTarget *target, const GValue *value, double x, double y, gpointer data)
{
  MlWindow *self = data;
  GFile *file = g_value_get_object (value);
  g_autofree char *path = file != NULL ? g_file_get_path (file) : NULL;

  if (is_asking (self))
    return FALSE;
  if (path == NULL)
    {
      ml_window_notice (self, "Only files on this computer can be dropped here.", NULL, NULL);
      return FALSE;
    }
  if (g_str_has_suffix (path, ".leafboard") && ml_document_lacks_board (self->document))
    ml_window_find_board (self, path);
  else if (g_str_has_suffix (path, ".leafboard") || g_str_has_suffix (path, ".leafjob"))
    ml_window_open_for (gtk_window_get_application (GTK_WINDOW (self)), self, path);
  else
    ml_window_load_picture (self, path);
  return TRUE;
}

void
ml_window_accept_drops (MlWindow *self)
{
  GtkDropTarget *drop = gtk_drop_target_new (G_TYPE_FILE, GDK_ACTION_COPY);

  g_signal_connect (drop, "drop", G_CALLBACK (drop_cb), self);
  gtk_widget_add_controller (GTK_WIDGET (self), GTK_EVENT_CONTROLLER (drop));
}

void
ml_window_picture_changed (MlWindow *self)
{
  ml_window_say_picture_trouble (self);
}

/* ---- more than one, none ---- */

void
ml_window_other_picture (MlWindow *self)
{
  int n = (int) ml_document_board (self->document)->n_pictures;

  if (n > 1)
    ml_document_set_picture (self->document, (ml_document_picture (self->document) + 1) % n);
  else
    ml_window_notice (self, "There is no picture of the other side yet.", "Load One…", "win.picture-load");
}

void
ml_window_remove_picture (MlWindow *self)
{
  int picture = ml_document_picture (self->document);
  GError *error = NULL;

  if (picture >= 0)
    ml_window_apply (self, ml_board_edit_remove_picture (ml_document_board (self->document), picture, &error), NULL, error,
                     "Remove the picture and its pads");
}

/* The other picture that has most pads in common with this one. */
static MlPad *
carried_pads (const MlBoard *board, int to, guint *ret_n, double *ret_misfit_px)
{
  MlPad *best = NULL;

  *ret_n = 0;
  for (guint i = 0; i < board->n_pictures; i++)
    {
      guint n = 0;
      double misfit_px = 0;
      MlPad *pads = (int) i != to ? ml_photo_carry (board, (int) i, to, &n, &misfit_px) : NULL;

      if (pads == NULL || (best != NULL && n <= *ret_n))
        {
          g_free (pads);
          continue;
        }
      g_free (best);
      best = pads;
      *ret_n = n;
      *ret_misfit_px = misfit_px;
    }
  return best;
}

void
ml_window_carry_pads (MlWindow *self)
{
  const MlBoard *board = ml_document_board (self->document);
  int to = ml_document_picture (self->document);
  guint n = 0;
  double misfit_px = 0;
  g_autofree MlPad *pads = to >= 0 ? carried_pads (board, to, &n, &misfit_px) : NULL;
  g_autofree char *said = NULL;
  GError *error = NULL;

  if (pads == NULL)
    ml_window_notice (self, "First pin three pads here that are pinned on the other side too, far apart and not in one line.", NULL, NULL);
  else if (n == 0)
    ml_window_notice (self, "Every pad of the other side is on this picture already.", NULL, NULL);
  else if (ml_window_apply (self, ml_board_edit_set_pads (board, to, pads, n, &error), NULL, error, "Pads from the other side"))
    {
      said = g_strdup_printf (n == 1 ? "%u pad carried over, to within %.0f px. Take off (Delete) those that are not on this side, drag what is not right."
                                     : "%u pads carried over, to within %.0f px. Take off (Delete) those that are not on this side, drag what is not right.",
                              n, ceil (misfit_px));
      ml_window_notice (self, said, NULL, NULL);
    }
}

gboolean
ml_window_rebase_pictures (MlWindow *self, const char *board_path)
{
  g_autofree char *old = g_strdup (ml_document_board_path (self->document));
  g_autofree char *old_folder = old != NULL ? g_path_get_dirname (old) : NULL, *folder = board_path != NULL ? g_path_get_dirname (board_path) : NULL;
  gboolean changed = FALSE;

  if (folder == NULL || g_strcmp0 (folder, old_folder) == 0)
    return FALSE;
  for (guint i = 0; i < ml_document_board (self->document)->n_pictures; i++)
    {
      const MlBoard *board = ml_document_board (self->document);
      MlPicture to = board->pictures[i];
      g_autofree char *path = ml_photo_path (old, to.file), *file = ml_photo_relative (board_path, path);

      if (old != NULL && g_path_is_absolute (to.file)) /* somebody wanted it so */
        continue;
      to.file = file;
      g_autoptr (MlText) text = ml_board_edit_set_picture (board, (int) i, &to, NULL);
      if (text == NULL || ml_text_equal (text, board->text))
        continue;
      ml_document_apply (self->document, text, NULL, "Name the picture from the board's folder", changed ? "rebase" : NULL);
      changed = TRUE;
    }
  return changed;
}

/* ---- neighbours ---- */

typedef struct { MlWindow *window; MlBoard *board; MlPhotoNear *nears; guint n; } Nears;

static void
nears_free (gpointer data)
{
  Nears *nears = data;

  g_object_unref (nears->window);
  ml_board_unref (nears->board);
  g_free (nears->nears);
  g_free (nears);
}

static void
nears_chosen_cb (const gboolean *chosen, guint n, gpointer data)
{
  const Nears *nears = data;
  g_autofree int *nets = g_new (int, 2 * n + 1);
  GError *error = NULL;
  guint n_pairs = 0;

  if (nears->board != ml_document_board (nears->window->document))
    return;
  for (guint i = 0; i < n; i++)
    if (chosen[i])
      {
        nets[2 * n_pairs] = nears->nears[i].net_a;
        nets[2 * n_pairs + 1] = nears->nears[i].net_b;
        n_pairs++;
      }
  if (n_pairs > 0)
    ml_window_apply (nears->window, ml_board_edit_add_nears (nears->board, nets, n_pairs, &error), NULL, error, "Neighbours on the board");
}

static char *
near_text (const MlBoard *board, const MlPhotoNear *near)
{
  const MlPart *a = &board->parts[near->part_a], *b = &board->parts[near->part_b];
  char distance[G_ASCII_DTOSTR_BUF_SIZE];

  g_ascii_formatd (distance, sizeof distance, "%.1f", near->distance_mm);
  return g_strdup_printf ("%s and %s:  %s mm from %s %s to %s %s", board->nets[near->net_a].words, board->nets[near->net_b].words, distance,
                          a->name, a->pins[near->pin_a].name, b->name, b->pins[near->pin_b].name);
}

void
ml_window_ask_nears (MlWindow *self)
{
  MlBoard *board = ml_document_board (self->document);
  int picture = ml_document_picture (self->document);
  const MlAsk ask = { .title = "Neighbours on the board",
                      .explain = "Solder or dirt can join these nets where their pads lie close together. Ticked ones count as candidates for stray links.",
                      .accept = "Add Them" };
  g_autoptr (GPtrArray) items = g_ptr_array_new_with_free_func (g_free);
  MlPhotoNear *found;
  Nears *nears;
  guint n = 0;

  if (picture < 0 || !isfinite (board->pictures[picture].scale_px_per_mm))
    {
      ml_window_notice (self, "How near pads are is known once the picture has its scale.", "Scale From Two Points", "win.picture-scale");
      return;
    }
  found = ml_photo_nears (board, picture, NEAR_MM, &n);
  if (n == 0)
    {
      ml_window_notice (self, "No pads of different nets lie within 2.6 mm of each other, beyond those noted already.", NULL, NULL);
      g_free (found);
      return;
    }
  gtk_widget_set_visible (self->notice, FALSE); /* what it proposed is looked at now */
  n = MIN (n, MOST_NEARS);
  for (guint i = 0; i < n; i++)
    g_ptr_array_add (items, near_text (board, &found[i]));
  g_ptr_array_add (items, NULL);
  nears = g_new (Nears, 1);
  *nears = (Nears) { g_object_ref (self), ml_board_ref (board), found, n };
  ml_ask_which (GTK_WINDOW (self), &ask, (const char *const *) items->pdata, nears_chosen_cb, nears, nears_free);
}

/* A picture that is pinned and scaled proposes its neighbours; the person takes them or not. */
void
ml_window_offer_nears (MlWindow *self)
{
  const MlBoard *board = ml_document_board (self->document);
  int picture = ml_document_picture (self->document);
  guint n = 0;

  if (picture < 0 || !isfinite (board->pictures[picture].scale_px_per_mm))
    return;
  g_free (ml_photo_nears (board, picture, NEAR_MM, &n));
  if (n == 0)
    return;
  g_autofree char *text = g_strdup_printf (n == 1 ? "%u pair of nets lies" : "%u pairs of nets lie", n);
  g_autofree char *whole = g_strconcat (text, " within 2.6 mm of each other on the board: places where a stray link can be.", NULL);
  ml_window_notice (self, whole, "Show Them…", "win.picture-near");
}
