/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What opens on the canvas at a place: the entry of a reading, the line for a name or a value, the list of part kinds. */
#include "desktop/add-list.h"
#include "desktop/canvas-private.h"
#include "desktop/entry.h"
#include "desktop/line-entry.h"

#define PANEL_GAP_PX 14
#define BUSY_AROUND_PX 24

static gboolean
panel_is_open (GtkWidget *panel)
{
  return gtk_widget_get_visible (panel);
}

GtkWidget *
ml_canvas_open_panel (MlCanvas *self)
{
  return panel_is_open (self->entry) ? self->entry : panel_is_open (self->line_entry) ? self->line_entry : NULL;
}

void
ml_canvas_focus_selection (MlCanvas *self)
{
  int part, pin;
  ml_document_selected (self->document, &part, &pin);
  GtkWidget *target = (GtkWidget *) ml_canvas_target_of (self, part, pin);
  gtk_widget_grab_focus (target && ml_canvas_shows (self, part, pin) ? target : GTK_WIDGET (self));
}

void
ml_canvas_close_panels (MlCanvas *self)
{
  GtkWidget *panel = ml_canvas_open_panel (self);
  if (!panel)
    return;
  gtk_widget_set_visible (panel, FALSE);
  ml_canvas_focus_selection (self);
}

/* What could not be taken is said again, for it goes away with the panel. */
void
ml_canvas_take_panels (MlCanvas *self)
{
  if (gtk_widget_get_visible (self->entry) && !ml_entry_is_empty (ML_ENTRY (self->entry)) && !ml_entry_take (ML_ENTRY (self->entry)))
    ml_canvas_fail (self, "“%s” is no reading: nothing was recorded", ml_entry_typed (ML_ENTRY (self->entry)));
  else if (gtk_widget_get_visible (self->line_entry) && !ml_line_entry_take (ML_LINE_ENTRY (self->line_entry))
           && *ml_line_entry_typed (ML_LINE_ENTRY (self->line_entry)))
    ml_canvas_fail (self, "“%s” was not taken: nothing was changed", ml_line_entry_typed (ML_LINE_ENTRY (self->line_entry)));
  ml_canvas_close_panels (self);
}

/* The panel must be on screen before it can take the focus. */
void
ml_canvas_show_panel (MlCanvas *self, GtkWidget *panel, MlBox at)
{
  GtkWidget *other = ml_canvas_open_panel (self);
  if (other && other != panel)
    gtk_widget_set_visible (other, FALSE);
  self->panel_at = at;
  gtk_widget_set_visible (panel, TRUE);
  gtk_widget_queue_allocate (GTK_WIDGET (self));
}

static int
fit_into (int at, int size, int room)
{
  return CLAMP (at, 4, MAX (4, room - size - 4));
}

/* Beside what it is about: right of it, else left, never over it when there is room. */
void
ml_canvas_allocate_panel (MlCanvas *self, GtkWidget *panel, int width, int height)
{
  int natural_width = 0, natural_height = 0, minimum = 0;
  gtk_widget_measure (panel, GTK_ORIENTATION_HORIZONTAL, -1, &minimum, &natural_width, NULL, NULL);
  natural_width = MAX (minimum, MIN (natural_width, width - 8));
  gtk_widget_measure (panel, GTK_ORIENTATION_VERTICAL, natural_width, &minimum, &natural_height, NULL, NULL);
  MlPoint low = ml_viewport_to_view (&self->viewport, self->panel_at.x0, self->panel_at.y0);
  MlPoint high = ml_viewport_to_view (&self->viewport, self->panel_at.x1, self->panel_at.y1);
  int x = (int) high.x + PANEL_GAP_PX;
  if (x + natural_width > width && low.x - PANEL_GAP_PX - natural_width > 0)
    x = (int) low.x - PANEL_GAP_PX - natural_width;
  GtkAllocation allocation = { fit_into (x, natural_width, width), fit_into ((int) low.y, natural_height, height), natural_width,
                               natural_height };
  gtk_widget_size_allocate (panel, &allocation, -1);
}

static void
add_busy (GArray *busy, GdkRectangle at, gboolean must, int dx, int dy)
{
  MlBusy one = { { at.x + dx, at.y + dy, at.width, at.height }, must };
  g_array_append_val (busy, one);
}

/* With what is written beside it. */
static void
add_busy_place (MlCanvas *self, int part, int pin, int dx, int dy, GArray *busy)
{
  GdkRectangle at;
  if (!ml_canvas_place_rect (self, part, pin, &at))
    return;
  GdkRectangle around = { at.x - BUSY_AROUND_PX, at.y - BUSY_AROUND_PX, at.width + 2 * BUSY_AROUND_PX, at.height + 2 * BUSY_AROUND_PX };
  add_busy (busy, around, TRUE, dx, dy);
}

void
ml_canvas_add_busy (MlCanvas *self, int dx, int dy, GArray *busy)
{
  const MlProbe *probes[] = { ml_document_red (self->document), ml_document_black (self->document) };
  GtkWidget *panel = ml_canvas_open_panel (self);
  GdkRectangle at;
  int part, pin;
  if (panel)
    {
      gtk_widget_get_allocation (panel, &at);
      add_busy (busy, at, TRUE, dx, dy);
    }
  ml_document_selected (self->document, &part, &pin);
  add_busy_place (self, part, pin, dx, dy, busy);
  for (guint i = 0; i < G_N_ELEMENTS (probes); i++)
    if (probes[i])
      add_busy_place (self, probes[i]->part, probes[i]->pin, dx, dy, busy);
  for (guint i = 0; i < self->targets->len; i++)
    {
      gtk_widget_get_allocation (self->targets->pdata[i], &at);
      add_busy (busy, at, FALSE, dx, dy);
    }
}

gboolean
ml_canvas_focus_in_panel (GtkWidget *panel, GtkDirectionType direction)
{
  if (!gtk_widget_child_focus (panel, direction))
    gtk_widget_child_focus (panel, direction); /* round again */
  return TRUE;
}

/* ---- the list of kinds ---- */

static void
kind_chosen_cb (MlAddList *list, const MlKindInfo *kind, gboolean polar, const char *number, MlCanvas *self)
{
  if (polar)
    ml_canvas_add_electrolytic (self);
  else
    ml_canvas_add_part (self, kind, number);
}

static void
make_add_list (MlCanvas *self)
{
  self->add_list = ml_add_list_new ();
  ml_add_list_set_paper (ML_ADD_LIST (self->add_list), self->paper);
  gtk_widget_set_parent (self->add_list, GTK_WIDGET (self));
  g_signal_connect (self->add_list, "chosen", G_CALLBACK (kind_chosen_cb), self);
}

void
ml_canvas_open_add_list (MlCanvas *self)
{
  if (!self->add_list)
    make_add_list (self);
  MlPoint at = self->pointer_inside ? self->pointer : (MlPoint){ self->viewport.width_px / 2.0, self->viewport.height_px / 4.0 };
  gtk_popover_set_pointing_to (GTK_POPOVER (self->add_list), &(GdkRectangle){ (int) at.x, (int) at.y, 1, 1 });
  ml_add_list_clear (ML_ADD_LIST (self->add_list));
  gtk_popover_popup (GTK_POPOVER (self->add_list));
}
