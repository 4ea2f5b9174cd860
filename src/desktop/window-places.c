/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The table of a part in all conditions, at the part that is selected. */
#include "desktop/window-private.h"

#include "desktop/actions.h"
#include "desktop/place-popover.h"

static void
chosen_cb (MlPlacePopover *popover, const MlProbe *red, const MlProbe *black, int condition, gpointer data)
{
  MlWindow *self = data;

  ml_canvas_focus_place (self->canvas, red, black, condition);
  ml_canvas_open_entry (self->canvas);
}

static void
closed_cb (GtkPopover *popover, gpointer data)
{
  gtk_widget_grab_focus (GTK_WIDGET (ML_WINDOW (data)->canvas));
}

void
ml_window_build_places (MlWindow *self)
{
  self->place_popover = ml_place_popover_new (self->document);
  gtk_widget_set_parent (self->place_popover, self->drawing_slot);
  g_signal_connect (self->place_popover, "closed", G_CALLBACK (closed_cb), self);
  g_signal_connect (self->place_popover, "chosen", G_CALLBACK (chosen_cb), self);
  ml_actions_dress_button (self->all_conditions_button, "win.all-conditions");
}

void
ml_window_show_all_conditions (MlWindow *self)
{
  GdkRectangle at;
  int part, pin;
  double x, y;

  ml_document_selected (self->document, &part, &pin);
  if (part < 0)
    return;
  ml_canvas_reveal (self->canvas, part, -1);
  if (!ml_canvas_place_rect (self->canvas, part, -1, &at) ||
      !gtk_widget_translate_coordinates (GTK_WIDGET (self->canvas), self->drawing_slot, at.x, at.y, &x, &y))
    at = (GdkRectangle){ gtk_widget_get_width (self->drawing_slot) / 2, gtk_widget_get_height (self->drawing_slot) / 2, 1, 1 };
  else
    at.x = (int) x, at.y = (int) y;
  ml_place_popover_open (ML_PLACE_POPOVER (self->place_popover), part, pin, ml_window_other_unit (self), &at);
}
