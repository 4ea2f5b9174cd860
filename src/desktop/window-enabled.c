/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What can be done now: the bar over the drawing while one draws, and which actions are enabled. */
#include "desktop/window-private.h"

#include <string.h>

#include "desktop/actions.h"

/* ---- the bar ---- */

/* What the bar offers, shortly, so that it fits into the smallest window: on the circuit drawing, on the picture of the board. */
static const struct { const char *id, *label; gboolean on_circuit, on_picture; } draw_buttons[] = {
  { "win.add-part", "Add a Part…", TRUE, FALSE },
  { "win.picture-load", "Load…", FALSE, TRUE },
  { "win.picture-scale", "Scale", FALSE, TRUE },
  { "win.turn", "Turn", TRUE, TRUE },
  { "win.mirror", "Mirror", TRUE, TRUE },
  { "win.picture-other", "Other Side", FALSE, TRUE },
  { "win.picture-carry", "Pads From Other Side", FALSE, TRUE },
  { "win.picture-near", "Neighbours", FALSE, TRUE },
  { "win.remove", "Remove", TRUE, TRUE },
  { "win.part-value", "Value…", TRUE, FALSE },
  { "win.set-reference", "Black Probe Here", TRUE, FALSE },
  { "win.add-pin", "Add a Pin", TRUE, FALSE },
  { "win.arrange", "Arrange", TRUE, FALSE },
};

static void
show_draw_buttons (MlWindow *self)
{
  gboolean picture = ml_canvas_get_view (self->canvas) == ML_CANVAS_PICTURE;
  GtkWidget *button = gtk_widget_get_first_child (self->draw_row);

  for (guint i = 0; button != NULL && i < G_N_ELEMENTS (draw_buttons); i++, button = gtk_widget_get_next_sibling (button))
    gtk_widget_set_visible (button, picture ? draw_buttons[i].on_picture : draw_buttons[i].on_circuit);
}

/* A bar that comes and goes by itself gets no height of its own: it would lie over the lower half of the words. */
static gboolean
fit_draw_bar (gpointer data)
{
  GtkAdjustment *across = gtk_scrolled_window_get_hadjustment (data);
  gboolean fits = gtk_adjustment_get_upper (across) <= gtk_adjustment_get_page_size (across) + 0.5;

  gtk_scrolled_window_set_policy (data, fits ? GTK_POLICY_AUTOMATIC : GTK_POLICY_ALWAYS, GTK_POLICY_NEVER);
  return G_SOURCE_REMOVE;
}

/* It is being given its room: it can ask for more only after that. */
static void
draw_bar_room_cb (GtkAdjustment *across, GtkWidget *bar)
{
  g_idle_add_full (G_PRIORITY_DEFAULT_IDLE, fit_draw_bar, g_object_ref (bar), g_object_unref);
}

void
ml_window_build_draw_bar (MlWindow *self)
{
  GtkAdjustment *across = gtk_scrolled_window_get_hadjustment (GTK_SCROLLED_WINDOW (self->draw_bar));

  g_signal_connect_object (across, "changed", G_CALLBACK (draw_bar_room_cb), self->draw_bar, 0);
  for (guint i = 0; i < G_N_ELEMENTS (draw_buttons); i++)
    {
      GtkWidget *button = gtk_button_new_with_label (draw_buttons[i].label);
      ml_actions_dress_button (button, draw_buttons[i].id);
      gtk_button_set_has_frame (GTK_BUTTON (button), FALSE);
      gtk_widget_set_name (button, draw_buttons[i].id + strlen ("win."));
      gtk_widget_set_focus_on_click (button, FALSE);
      gtk_box_append (GTK_BOX (self->draw_row), button);
    }
}

/* ---- what can be done ---- */

static void
enable (MlWindow *self, const char *name, gboolean enabled)
{
  GAction *action = ml_window_action (self, name);

  if (action != NULL)
    g_simple_action_set_enabled (G_SIMPLE_ACTION (action), enabled);
}

void
ml_window_refresh_actions (MlWindow *self)
{
  const MlBoard *board = ml_document_board (self->document);
  gboolean at_work = !ml_window_is_untouched (self), has_parts = board->n_parts > 0;
  gboolean draws = ml_canvas_get_mode (self->canvas) == ML_CANVAS_DRAW;
  int condition = ml_document_condition (self->document), unit = ml_document_unit (self->document), part, pin;

  gboolean on_picture = ml_canvas_get_view (self->canvas) == ML_CANVAS_PICTURE, has_picture = board->n_pictures > 0;
  ml_document_selected (self->document, &part, &pin);
  show_draw_buttons (self);
  gboolean has_net = self->menu_net >= 0 || (part >= 0 && pin >= 0 && board->parts[part].pins[pin].net >= 0);
  enable (self, "undo", ml_document_can_undo (self->document));
  enable (self, "redo", ml_document_can_redo (self->document));
  enable (self, "find-board", ml_document_lacks_board (self->document));
  enable (self, "read-files", self->told_elsewhere != NULL);
  enable (self, "save", at_work);
  enable (self, "save-as", at_work);
  enable (self, "save-picture", at_work && has_parts);
  enable (self, "copy-picture", at_work && has_parts);
  enable (self, "print", at_work && has_parts);
  enable (self, "save-report", at_work && has_parts && unit >= 0);
  enable (self, "retitle", at_work);
  enable (self, "file-text", at_work);
  enable (self, "compare", ml_document_job (self->document)->n_units > 1);
  /* single letters are values while one draws ("red" for a lamp) */
  enable (self, "suggested", !draws && has_parts);
  enable (self, "next-place", (!draws || on_picture) && has_parts);
  enable (self, "previous-place", (!draws || on_picture) && has_parts);
  enable (self, "swap-probes", !draws && (ml_document_red (self->document) != NULL || ml_document_black (self->document) != NULL));
  enable (self, "lead", !draws && ml_document_red (self->document) != NULL);
  enable (self, "all-conditions", !draws && part >= 0 && condition >= 0);
  ml_window_show_status (self);
  enable (self, "take-out", !draws && ml_canvas_reading_here (self->canvas) >= 0);
  enable (self, "rename-pin", part >= 0 && pin >= 0 && board->parts[part].kind->any_pins);
  enable (self, "add-pin", draws && part >= 0 && board->parts[part].kind->any_pins);
  enable (self, "judge", at_work && has_parts && ml_document_progress (self->document) < 0.0);
  enable (self, "stop-supposing", ml_document_supposed (self->document) != NULL);
  enable (self, "add-part", at_work && draws); /* typed beside a pin while one measures, it must not change what the next clicks do */
  gboolean turnable = draws && (part >= 0 || ml_canvas_holds_part (self->canvas) || (on_picture && has_picture));
  enable (self, "turn", turnable);
  enable (self, "mirror", turnable);
  enable (self, "remove", part >= 0 || (on_picture && has_picture));
  enable (self, "picture-load", at_work);
  enable (self, "picture-scale", has_picture);
  enable (self, "picture-other", on_picture && has_picture);
  enable (self, "picture-near", has_picture);
  enable (self, "picture-carry", board->n_pictures > 1);
  enable (self, "picture-remove", has_picture);
  enable (self, "rename-part", part >= 0);
  enable (self, "part-value", part >= 0);
  enable (self, "rename-net", has_net);
  enable (self, "set-reference", has_net);
  enable (self, "switching", has_net);
  enable (self, "arrange", has_parts);
  enable (self, "add-condition", at_work);
  enable (self, "turn-supply", condition >= 0 && board->conditions[condition].n_supplies > 0);
  enable (self, "retitle-job", at_work);
  enable (self, "call-good", unit >= 0 && ml_document_job (self->document)->units[unit].state != ML_UNIT_STATE_GOOD);
  enable (self, "call-suspect", unit >= 0 && ml_document_job (self->document)->units[unit].state != ML_UNIT_STATE_SUSPECT);
  enable (self, "rename-unit", unit >= 0);
  enable (self, "remove-unit", unit >= 0 && ml_document_job (self->document)->n_units > 1); /* readings belong to a unit: one there must be */
  enable (self, "new-pass", unit >= 0);
  enable (self, "log-replaced", unit >= 0);
  enable (self, "log-resoldered", unit >= 0);
  enable (self, "log-noted", unit >= 0);
}
