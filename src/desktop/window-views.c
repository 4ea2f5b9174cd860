/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which view is shown: the circuit drawing, the picture of the real board, or both with as much room for each as there is. */
#include "desktop/window-private.h"

#include <string.h>

#include "desktop/actions.h"
#include "desktop/room.h"

/* ---- which view ---- */

/* The canvas that keys and menus speak of: the one that has or had the focus. */
static void
set_active (MlWindow *self, MlCanvas *canvas)
{
  if (self->canvas == canvas)
    return;
  self->canvas = canvas;
  ml_window_show_hint (self, ml_canvas_hint (canvas));
  ml_window_refresh_actions (self);
}

static void
canvas_entered_cb (GtkEventControllerFocus *controller, gpointer data)
{
  GtkWidget *widget = gtk_event_controller_get_widget (GTK_EVENT_CONTROLLER (controller));

  set_active (data, ML_CANVAS (widget));
}

void
ml_window_say_picture_trouble (MlWindow *self)
{
  const char *trouble = ml_document_picture_trouble (self->document);

  if (trouble != NULL && gtk_widget_get_visible (GTK_WIDGET (self->picture_canvas)))
    ml_window_notice (self, trouble, "Load Another…", "win.picture-load");
}

/* ---- the switch lies over a corner ---- */

/* Of both views it is the second one that has the corner. */
static void
keep_off_corner (MlWindow *self)
{
  gboolean picture = gtk_widget_get_visible (GTK_WIDGET (self->picture_canvas));
  MlCanvas *under = picture ? self->picture_canvas : self->circuit_canvas;

  ml_canvas_keep_off_corner (under, self->corner_width, self->corner_height);
  ml_canvas_keep_off_corner (picture ? self->circuit_canvas : self->picture_canvas, 0, 0);
}

static gboolean
corner_cb (gpointer data)
{
  MlWindow *self = data;

  self->corner_moves = 0;
  keep_off_corner (self);
  return G_SOURCE_REMOVE;
}

/* It grows with the text; while it is hidden it keeps its room, so that nothing moves when an entry opens. */
static void
keep_off_switch (MlWindow *self)
{
  int width, height;

  gtk_widget_measure (self->view_switch, GTK_ORIENTATION_HORIZONTAL, -1, NULL, &width, NULL, NULL);
  gtk_widget_measure (self->view_switch, GTK_ORIENTATION_VERTICAL, -1, NULL, &height, NULL, NULL);
  if (height == 0 || (width == self->corner_width && height == self->corner_height))
    return;
  self->corner_width = width;
  self->corner_height = height;
  if (self->corner_moves == 0)
    self->corner_moves = g_idle_add (corner_cb, self);
}

/* ---- both views share the room ---- */

static double
shape_of (const MlScene *scene)
{
  double width = scene->extent.x1 - scene->extent.x0, height = scene->extent.y1 - scene->extent.y0;

  return width > 0 && height > 0 ? width / height : 1.0;
}

static gboolean
share_cb (gpointer data)
{
  MlWindow *self = data;
  int width = gtk_widget_get_width (self->views), height = gtk_widget_get_height (self->views);
  gboolean stacked;
  int first = ml_room_share (shape_of (ml_document_scene (self->document)), shape_of (ml_document_picture_scene (self->document)), width, height,
                             &stacked);
  GtkOrientation orientation = stacked ? GTK_ORIENTATION_VERTICAL : GTK_ORIENTATION_HORIZONTAL;

  self->views_share = 0;
  if (gtk_orientable_get_orientation (GTK_ORIENTABLE (self->views)) != orientation)
    {
      /* the divider is placed once the views stand the other way: until then it would be taken for a share of the other side */
      self->views_width = 0;
      gtk_orientable_set_orientation (GTK_ORIENTABLE (self->views), orientation);
      return G_SOURCE_REMOVE;
    }
  self->views_width = width;
  self->views_height = height;
  self->views_moving = TRUE;
  gtk_paned_set_position (GTK_PANED (self->views), first);
  self->views_moving = FALSE;
  return G_SOURCE_REMOVE;
}

static gboolean
shows_both (MlWindow *self)
{
  return gtk_widget_get_visible (GTK_WIDGET (self->circuit_canvas)) && gtk_widget_get_visible (GTK_WIDGET (self->picture_canvas));
}

static gboolean
has_other_size (MlWindow *self)
{
  return gtk_widget_get_width (self->views) != self->views_width || gtk_widget_get_height (self->views) != self->views_height;
}

static void
share_soon (MlWindow *self)
{
  if (self->views_share == 0 && !self->views_kept && shows_both (self) && has_other_size (self))
    self->views_share = g_idle_add (share_cb, self);
}

static void
canvas_arranged_cb (MlCanvas *canvas, gpointer data)
{
  share_soon (data);
  keep_off_switch (data);
}

/* The divider moves with the window's size too: only when nothing else changed, a hand moved it, and there it stays. */
static void
divider_moved_cb (GObject *views, GParamSpec *pspec, gpointer data)
{
  MlWindow *self = data;

  if (!self->views_moving && self->views_share == 0 && shows_both (self) && !has_other_size (self))
    self->views_kept = TRUE;
}

/* ---- choosing ---- */

void
ml_window_show_view (MlWindow *self, const char *view)
{
  gboolean circuit = strcmp (view, "picture") != 0, picture = strcmp (view, "circuit") != 0;

  gtk_widget_set_visible (GTK_WIDGET (self->picture_canvas), picture);
  gtk_widget_set_visible (GTK_WIDGET (self->circuit_canvas), circuit);
  if (!circuit)
    set_active (self, self->picture_canvas);
  else if (!picture)
    set_active (self, self->circuit_canvas);
  self->views_kept = FALSE;
  self->views_width = 0;
  share_soon (self);
  keep_off_corner (self);
  ml_canvas_release (self->circuit_canvas); /* each has another size now */
  ml_canvas_release (self->picture_canvas);
  gtk_widget_grab_focus (GTK_WIDGET (self->canvas));
  ml_window_refresh_actions (self);
  if (picture)
    ml_window_say_picture_trouble (self);
}

static GtkWidget *
view_switch_new (void)
{
  static const struct { const char *id, *label, *name; } ways[] = {
    { "win.view::circuit", "Circuit", "view-circuit" }, { "win.view::picture", "Board", "view-picture" }, { "win.view::both", "Both", "view-both" },
  };
  GtkWidget *box = gtk_box_new (GTK_ORIENTATION_HORIZONTAL, 0);

  for (guint i = 0; i < G_N_ELEMENTS (ways); i++)
    {
      GtkWidget *button = gtk_toggle_button_new_with_label (ways[i].label);

      ml_actions_dress_button (button, ways[i].id);
      gtk_widget_set_focus_on_click (button, FALSE);
      gtk_widget_set_name (button, ways[i].name);
      gtk_box_append (GTK_BOX (box), button);
    }
  gtk_widget_add_css_class (box, "linked");
  gtk_widget_add_css_class (box, "view-switch");
  gtk_widget_set_halign (box, GTK_ALIGN_END);
  gtk_widget_set_valign (box, GTK_ALIGN_END); /* the hint has the upper edge, if it can */
  return box;
}

static void
watch_focus (MlWindow *self, MlCanvas *canvas)
{
  GtkEventController *focus = gtk_event_controller_focus_new ();

  g_signal_connect (focus, "enter", G_CALLBACK (canvas_entered_cb), self);
  gtk_widget_add_controller (GTK_WIDGET (canvas), focus);
}

void
ml_window_build_views (MlWindow *self)
{
  GtkWidget *circuit = ml_canvas_new (self->document), *picture = ml_canvas_new (self->document);

  self->canvas = self->circuit_canvas = ML_CANVAS (circuit);
  self->picture_canvas = ML_CANVAS (picture);
  ml_canvas_set_view (self->picture_canvas, ML_CANVAS_PICTURE);
  ml_canvas_set_partner (self->circuit_canvas, self->picture_canvas);
  gtk_widget_set_name (circuit, "drawing");
  gtk_widget_set_name (picture, "board-picture");
  ml_actions_add_drawing_keys (circuit);
  ml_actions_add_drawing_keys (picture);
  watch_focus (self, self->circuit_canvas);
  watch_focus (self, self->picture_canvas);
  self->views = gtk_paned_new (GTK_ORIENTATION_HORIZONTAL);
  gtk_paned_set_start_child (GTK_PANED (self->views), circuit);
  gtk_paned_set_end_child (GTK_PANED (self->views), picture);
  gtk_paned_set_shrink_start_child (GTK_PANED (self->views), FALSE);
  gtk_paned_set_shrink_end_child (GTK_PANED (self->views), FALSE);
  gtk_paned_set_wide_handle (GTK_PANED (self->views), TRUE);
  gtk_widget_set_visible (picture, FALSE);
  gtk_overlay_set_child (GTK_OVERLAY (self->drawing_slot), self->views);
  self->view_switch = view_switch_new ();
  gtk_overlay_add_overlay (GTK_OVERLAY (self->drawing_slot), self->view_switch);
  g_signal_connect (circuit, "arranged", G_CALLBACK (canvas_arranged_cb), self);
  g_signal_connect (picture, "arranged", G_CALLBACK (canvas_arranged_cb), self);
  g_signal_connect (self->views, "notify::position", G_CALLBACK (divider_moved_cb), self);
  ml_window_accept_drops (self);
}
