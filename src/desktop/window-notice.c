/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is said over and below the drawing: the hint of what is under way, notices, which keep off the entry and off what is being measured, and
 * the room for the line about what is selected. */
#include "desktop/window-private.h"

#include <math.h>

#include "desktop/glyph.h"
#include "desktop/room.h"
#include "desktop/said.h"

#define NOTICE_S 12
#define NOTICE_CONFIRMS_S 9 /* of what went well: time to read it, and to get to its button */
#define NOTICE_MARGIN_PX 10
#define AIR_PX 8 /* between hint or notice and what is drawn */
#define STATUS_CHARS 125 /* what is said of a selected place is hardly ever longer */
#define MOST_STATUS_LINES 3
#define SHORT_PX 330 /* at 100 % text; below it the drawing would get less than half of what lies under the header */
#define STATUS_AROUND_PX 40

static gboolean
notice_over_cb (gpointer data)
{
  MlWindow *self = data;

  self->notice_timeout = 0;
  gtk_widget_set_visible (self->notice, FALSE);
  return G_SOURCE_REMOVE;
}

static void
notice_closed_cb (GtkButton *button, gpointer data)
{
  gtk_widget_set_visible (ML_WINDOW (data)->notice, FALSE);
}

/* The target first: GTK complains of a name that has not got its own yet. */
static void
set_action (GtkActionable *button, const char *detailed)
{
  g_autofree char *name = NULL;
  g_autoptr (GVariant) target = NULL;

  gtk_actionable_set_action_name (button, NULL);
  if (!g_action_parse_detailed_name (detailed, &name, &target, NULL))
    return;
  gtk_actionable_set_action_target_value (button, target);
  gtk_actionable_set_action_name (button, name);
}

void
ml_window_notice (MlWindow *self, const char *text, const char *label, const char *action)
{
  g_autofree char *said = ml_said (ml_document_board (self->document), text);

  g_clear_handle_id (&self->notice_timeout, g_source_remove);
  g_clear_pointer (&self->notice_word, g_free);
  gtk_label_set_text (GTK_LABEL (self->notice_label), said);
  gtk_accessible_update_property (GTK_ACCESSIBLE (self->notice), GTK_ACCESSIBLE_PROPERTY_LABEL, said, -1);
  gtk_widget_set_visible (self->notice_button, action != NULL);
  if (action != NULL)
    {
      gtk_button_set_label (GTK_BUTTON (self->notice_button), label);
      set_action (GTK_ACTIONABLE (self->notice_button), action);
    }
  else
    self->notice_timeout = g_timeout_add_seconds (NOTICE_S, notice_over_cb, self);
  gtk_widget_set_visible (self->notice, TRUE);
}

void
ml_window_notice_passes (MlWindow *self)
{
  g_clear_handle_id (&self->notice_timeout, g_source_remove);
  self->notice_timeout = g_timeout_add_seconds (NOTICE_CONFIRMS_S, notice_over_cb, self);
}

void
ml_window_notice_until (MlWindow *self, const char *word, const char *text, const char *label, const char *action)
{
  ml_window_notice (self, text, label, action);
  self->notice_word = g_strdup (word);
}

void
ml_window_notice_over (MlWindow *self, const char *word)
{
  if (g_strcmp0 (self->notice_word, word) != 0)
    return;
  g_clear_pointer (&self->notice_word, g_free);
  gtk_widget_set_visible (self->notice, FALSE);
}

void
ml_window_show_tools (MlWindow *self)
{
  gboolean picks = ml_canvas_picks (self->circuit_canvas) || ml_canvas_picks (self->picture_canvas);

  gtk_widget_set_visible (self->draw_bar, ml_canvas_get_mode (self->circuit_canvas) == ML_CANVAS_DRAW && !(picks && self->is_short));
}

void
ml_window_show_hint (MlWindow *self, const char *text)
{
  gtk_label_set_text (GTK_LABEL (self->hint), text);
  gtk_widget_set_visible (self->hint, text != NULL && text[0] != '\0');
  ml_window_show_status (self);
  ml_window_show_tools (self);
  gtk_widget_queue_allocate (self->drawing_slot);
}

/* ---- where it stands ---- */

static gboolean
panel_is_open (MlWindow *self)
{
  return ml_canvas_open_panel (self->circuit_canvas) != NULL || ml_canvas_open_panel (self->picture_canvas) != NULL;
}

/* What is there in the room over the drawing, hint and notice aside: entries, the selected place, the probes, parts, what is written, the switch of
 * views; each with a little air, so that nothing stands edge to edge with it. */
static GArray *
find_busy (MlWindow *self)
{
  MlCanvas *const canvases[] = { self->circuit_canvas, self->picture_canvas };
  GArray *busy = g_array_new (FALSE, FALSE, sizeof (MlBusy));

  for (guint i = 0; i < G_N_ELEMENTS (canvases); i++)
    {
      double x, y;
      if (gtk_widget_get_visible (GTK_WIDGET (canvases[i])) &&
          gtk_widget_translate_coordinates (GTK_WIDGET (canvases[i]), self->drawing_slot, 0, 0, &x, &y))
        {
          ml_canvas_add_busy (canvases[i], (int) x, (int) y, busy);
          ml_canvas_add_written (canvases[i], (int) x, (int) y, busy);
        }
    }
  if (gtk_widget_get_mapped (self->view_switch))
    {
      MlBusy one = { .must = TRUE };
      gtk_widget_get_allocation (self->view_switch, &one.at);
      g_array_append_val (busy, one);
    }
  for (guint i = 0; i < busy->len; i++)
    {
      GdkRectangle *at = &g_array_index (busy, MlBusy, i).at;
      *at = (GdkRectangle){ at->x - AIR_PX, at->y - AIR_PX, at->width + 2 * AIR_PX, at->height + 2 * AIR_PX };
    }
  return busy;
}

static gboolean
covers (const GdkRectangle *at, const GArray *busy, gboolean only_must)
{
  for (guint i = 0; i < busy->len; i++)
    if ((g_array_index (busy, MlBusy, i).must || !only_must) && gdk_rectangle_intersect (at, &g_array_index (busy, MlBusy, i).at, NULL))
      return TRUE;
  return FALSE;
}

/* Where hint or notice covers the least, at that part of the width that it would like. */
static GdkRectangle
place_narrowed (MlWindow *self, GtkWidget *child, double share, const GArray *busy)
{
  int room_width = gtk_widget_get_width (self->drawing_slot), room_height = gtk_widget_get_height (self->drawing_slot), width, height, least;

  gtk_widget_measure (child, GTK_ORIENTATION_HORIZONTAL, -1, &least, &width, NULL, NULL);
  width = MAX (least, MIN ((int) (share * width), room_width - 2 * NOTICE_MARGIN_PX));
  gtk_widget_measure (child, GTK_ORIENTATION_VERTICAL, width, &least, &height, NULL, NULL);
  return ml_room_beside (room_width, room_height, width, MAX (least, height), NOTICE_MARGIN_PX, child == self->hint, (const MlBusy *) busy->data, busy->len);
}

/* In one line if that covers nothing; else it may be that more lines, in a corner, cover less. */
static GdkRectangle
place_beside (MlWindow *self, GtkWidget *child, const GArray *busy)
{
  static const double shares[] = { 1.0, 0.75, 0.55 };
  GdkRectangle best = { 0 };
  double least = INFINITY;

  for (guint i = 0; i < G_N_ELEMENTS (shares) && least > 0.0; i++)
    {
      GdkRectangle at = place_narrowed (self, child, shares[i], busy);
      double covered = ml_room_covered (&at, (const MlBusy *) busy->data, busy->len);
      if (covered >= least)
        continue;
      least = covered;
      best = at;
    }
  return best;
}

static gboolean arranged_idle_cb (gpointer data);

static void
put_hint_below (MlWindow *self, gboolean below)
{
  if (self->hint_below == below)
    return;
  self->hint_below = below;
  if (self->notice_moves == 0)
    self->notice_moves = g_idle_add (arranged_idle_cb, self); /* not while room is being given */
}

/* Both places follow from what else is there, never from where either of them was before: so they come to rest. In a short window, as with large text,
 * the drawing may be no higher than the hint: over it nothing could be clicked any more. And where the notice finds no free room beside the hint, it
 * is the hint that gives way: it can be said in the line below. */
static void
place_both (MlWindow *self, GdkRectangle *ret_hint, GdkRectangle *ret_notice, GArray *busy)
{
  MlBusy hint = { place_beside (self, self->hint, busy), TRUE };
  gboolean both = gtk_widget_get_visible (self->hint) && gtk_widget_get_visible (self->notice);
  gboolean below = self->is_short && covers (&hint.at, busy, FALSE);

  *ret_hint = hint.at;
  if (both && !below)
    {
      g_array_append_val (busy, hint);
      *ret_notice = place_beside (self, self->notice, busy);
      below = covers (ret_notice, busy, FALSE);
      g_array_set_size (busy, busy->len - 1);
    }
  if (!both || below)
    *ret_notice = place_beside (self, self->notice, busy);
  if (gtk_widget_get_visible (self->hint))
    put_hint_below (self, below);
}

/* Where there is no room beside an entry, as with large text in a small window, what is said waits until that is closed. */
static gboolean
position_cb (GtkOverlay *overlay, GtkWidget *child, GdkRectangle *ret_at, gpointer data)
{
  MlWindow *self = data;
  GdkRectangle hint, notice;

  if (child != self->notice && child != self->hint)
    return FALSE;
  g_autoptr (GArray) busy = find_busy (self);
  place_both (self, &hint, &notice, busy);
  *ret_at = child == self->hint ? hint : notice;
  gtk_widget_set_child_visible (child, !(child == self->hint && self->hint_below) && !(panel_is_open (self) && covers (ret_at, busy, TRUE)));
  return TRUE;
}

/* ---- once the drawing has its room ---- */

/* The height below the header, for drawing, status and conditions together. */
static gboolean
is_short (MlWindow *self)
{
  int height = gtk_widget_get_height (gtk_widget_get_parent (self->strip_slot));

  return height > 0 && height < SHORT_PX * ml_glyph_text_scale ();
}

/* As many lines as the longest text takes at that width, always: the drawing above must not move when something is selected. */
static void
fit_status (MlWindow *self)
{
  const gboolean beside = gtk_widget_get_visible (self->all_conditions_button);
  PangoFontMetrics *metrics = pango_context_get_metrics (gtk_widget_get_pango_context (self->status), NULL, NULL);
  int char_px = MAX (pango_font_metrics_get_approximate_char_width (metrics) / PANGO_SCALE, 1);
  int line_px = (pango_font_metrics_get_ascent (metrics) + pango_font_metrics_get_descent (metrics)) / PANGO_SCALE + 1, beside_px;

  pango_font_metrics_unref (metrics);
  gtk_widget_set_visible (self->all_conditions_button, TRUE); /* what is hidden has no width, yet it comes back */
  gtk_widget_measure (self->all_conditions_button, GTK_ORIENTATION_HORIZONTAL, -1, NULL, &beside_px, NULL, NULL);
  gtk_widget_set_visible (self->all_conditions_button, beside);
  self->status_width = gtk_widget_get_width (self->drawing_slot);
  int chars = MAX ((self->status_width - beside_px - STATUS_AROUND_PX) / char_px, 1);
  int lines = CLAMP ((STATUS_CHARS + chars - 1) / chars, 2, is_short (self) ? 2 : MOST_STATUS_LINES);
  gtk_label_set_lines (GTK_LABEL (self->status), lines);
  gtk_widget_set_size_request (self->status, -1, lines * line_px);
}

static gboolean
arranged_idle_cb (gpointer data)
{
  MlWindow *self = data;

  self->notice_moves = 0;
  gtk_widget_set_visible (self->view_switch, !panel_is_open (self)); /* it would lie over an entry */
  if (self->is_short != is_short (self) || self->status_width != gtk_widget_get_width (self->drawing_slot))
    fit_status (self);
  self->is_short = is_short (self);
  ml_bench_strip_set_short (self->strip, self->is_short);
  ml_window_show_status (self);
  gtk_widget_queue_allocate (self->drawing_slot);
  return G_SOURCE_REMOVE;
}

/* What the notice must keep off is where it is only once the drawing has been given its room: the rest follows after that. */
void
ml_window_place_notice (MlWindow *self)
{
  if (self->notice_moves == 0 && (gtk_widget_get_visible (self->notice) || gtk_widget_get_visible (self->hint)
                                  || gtk_widget_get_visible (self->view_switch) == panel_is_open (self)
                                  || self->status_width != gtk_widget_get_width (self->drawing_slot) || self->is_short != is_short (self)))
    self->notice_moves = g_idle_add (arranged_idle_cb, self);
}

static void
arranged_cb (MlCanvas *canvas, gpointer data)
{
  ml_window_place_notice (data);
}

/* ---- building ---- */

static void
build_hint (MlWindow *self)
{
  self->hint = g_object_new (GTK_TYPE_LABEL, "accessible-role", GTK_ACCESSIBLE_ROLE_STATUS, NULL);
  gtk_widget_add_css_class (self->hint, "hint");
  gtk_widget_set_name (self->hint, "hint");
  gtk_label_set_wrap (GTK_LABEL (self->hint), TRUE);
  gtk_label_set_natural_wrap_mode (GTK_LABEL (self->hint), GTK_NATURAL_WRAP_NONE);
  gtk_widget_set_can_target (self->hint, FALSE);
  gtk_widget_set_visible (self->hint, FALSE);
  gtk_overlay_add_overlay (GTK_OVERLAY (self->drawing_slot), self->hint);
}

static GtkWidget *
close_button_new (MlWindow *self)
{
  GtkWidget *close = gtk_button_new ();

  gtk_button_set_child (GTK_BUTTON (close), ml_glyph_new (ML_GLYPH_CLOSE, 12));
  gtk_button_set_has_frame (GTK_BUTTON (close), FALSE);
  gtk_widget_set_valign (close, GTK_ALIGN_CENTER);
  gtk_widget_set_name (close, "close-notice");
  gtk_widget_set_tooltip_text (close, "Close this notice");
  gtk_accessible_update_property (GTK_ACCESSIBLE (close), GTK_ACCESSIBLE_PROPERTY_LABEL, "Close this notice", -1);
  g_signal_connect (close, "clicked", G_CALLBACK (notice_closed_cb), self);
  return close;
}

void
ml_window_build_notice (MlWindow *self)
{
  build_hint (self);
  self->notice = g_object_new (GTK_TYPE_BOX, "accessible-role", GTK_ACCESSIBLE_ROLE_ALERT, "spacing", 8, NULL); /* read aloud when it comes */
  gtk_widget_add_css_class (self->notice, "notice");
  gtk_widget_set_name (self->notice, "notice-box");
  gtk_widget_set_visible (self->notice, FALSE);
  self->notice_label = gtk_label_new ("");
  gtk_widget_set_name (self->notice_label, "notice");
  gtk_label_set_wrap (GTK_LABEL (self->notice_label), TRUE);
  gtk_label_set_max_width_chars (GTK_LABEL (self->notice_label), 60);
  gtk_label_set_natural_wrap_mode (GTK_LABEL (self->notice_label), GTK_NATURAL_WRAP_NONE);
  gtk_label_set_xalign (GTK_LABEL (self->notice_label), 0.0f);
  self->notice_button = gtk_button_new_with_label ("");
  gtk_widget_set_name (self->notice_button, "notice-button");
  gtk_widget_set_valign (self->notice_button, GTK_ALIGN_CENTER);
  gtk_box_append (GTK_BOX (self->notice), self->notice_label);
  gtk_box_append (GTK_BOX (self->notice), self->notice_button);
  gtk_box_append (GTK_BOX (self->notice), close_button_new (self));
  gtk_overlay_add_overlay (GTK_OVERLAY (self->drawing_slot), self->notice);
  g_signal_connect (self->drawing_slot, "get-child-position", G_CALLBACK (position_cb), self);
  g_signal_connect (self->circuit_canvas, "arranged", G_CALLBACK (arranged_cb), self);
  g_signal_connect (self->picture_canvas, "arranged", G_CALLBACK (arranged_cb), self);
}
