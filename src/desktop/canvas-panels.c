/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What opens on the canvas at a place: the entry of a reading, the line for a name or a value, the list of part kinds. */
#include "desktop/add-list.h"
#include "desktop/canvas-private.h"
#include "desktop/entry.h"
#include "desktop/line-entry.h"

#define PANEL_GAP_PX 14
#define EDGE_GAP_PX 4
#define PLACE_ROOM_PX 30 /* round the place that the panel is about */
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

/* Unless a hand has moved it, or the window changed, since. */
static void
move_back (MlCanvas *self)
{
  const MlViewport *now = &self->viewport, *put = &self->beside_panel;
  const gboolean stays = now->width_px == put->width_px && now->height_px == put->height_px && now->zoom == put->zoom
                         && now->origin.x == put->origin.x && now->origin.y == put->origin.y;
  if (!self->moved_for_panel)
    return;
  self->moved_for_panel = FALSE;
  if (!stays)
    return;
  ml_canvas_pan_by (self, (self->before_panel.origin.x - now->origin.x) * now->zoom, (self->before_panel.origin.y - now->origin.y) * now->zoom);
  self->viewport.held = self->before_panel.held;
  if (self->before_panel.fitted)
    ml_viewport_fit (&self->viewport); /* to the same content: the drawing is where it was */
}

void
ml_canvas_close_panels (MlCanvas *self)
{
  GtkWidget *panel = ml_canvas_open_panel (self);
  if (!panel)
    return;
  gtk_widget_set_visible (panel, FALSE);
  move_back (self);
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
  return CLAMP (at, EDGE_GAP_PX, MAX (EDGE_GAP_PX, room - size - EDGE_GAP_PX));
}

void
ml_canvas_panel_follows (MlCanvas *self)
{
  int part, pin;
  ml_document_selected (self->document, &part, &pin);
  if (ml_canvas_open_panel (self) && part >= 0 && ml_canvas_shows (self, part, pin))
    self->panel_at = ml_canvas_place_box (self, part, pin);
}

/* ---- where a panel stands ---- */

typedef struct { MlPoint low, high; } Place; /* in the view's pixels */

static Place
panel_place (MlCanvas *self)
{
  return (Place){ ml_viewport_to_view (&self->viewport, self->panel_at.x0, self->panel_at.y0),
                  ml_viewport_to_view (&self->viewport, self->panel_at.x1, self->panel_at.y1) };
}

/* Right of the place, else left, else below or above it. FALSE: wherever it stands it lies over the place; then it stands right. */
static gboolean
beside_place (const Place *place, int panel_width, int panel_height, int width, int height, int *ret_x, int *ret_y)
{
  const int right = (int) place->high.x + PANEL_GAP_PX, left = (int) place->low.x - PANEL_GAP_PX - panel_width;
  const int below = (int) place->high.y + PANEL_GAP_PX, above = (int) place->low.y - PANEL_GAP_PX - panel_height;
  const gboolean fits_right = right + panel_width + EDGE_GAP_PX <= width, fits_left = left >= EDGE_GAP_PX;
  const gboolean fits_below = below + panel_height + EDGE_GAP_PX <= height, fits_above = above >= EDGE_GAP_PX;
  const gboolean aside = fits_right || fits_left;

  *ret_x = fit_into (aside || !(fits_below || fits_above) ? (fits_left && !fits_right ? left : right) : (int) place->low.x, panel_width, width);
  *ret_y = fit_into (aside || !(fits_below || fits_above) ? (int) place->low.y : fits_below ? below : above, panel_height, height);
  return aside || fits_below || fits_above;
}

/* How far the sheet must go to the left for the panel to stand right of the place, or (negative) to the right for it to stand left; the shorter way.
 * 0: there is no room for both. */
static double
way_beside (const Place *place, int panel_width, int width)
{
  const double to_left = place->high.x + PANEL_GAP_PX + panel_width + EDGE_GAP_PX - width + 1;
  const double to_right = panel_width + PANEL_GAP_PX + EDGE_GAP_PX - place->low.x + 1;
  const gboolean goes_left = place->low.x - to_left >= EDGE_GAP_PX, goes_right = place->high.x + to_right + EDGE_GAP_PX <= width;
  if (goes_left && (!goes_right || to_left <= to_right))
    return to_left;
  return goes_right ? -to_right : 0;
}

/* With large text in a small window the panel takes most of the view, and would lie over what it is about: the sheet gives way. */
static gboolean
make_room_cb (gpointer data)
{
  MlCanvas *self = data;
  self->panel_room = 0;
  if (!ml_canvas_open_panel (self))
    return G_SOURCE_REMOVE;
  const Place place = panel_place (self);
  const double way = way_beside (&place, self->panel_width_px, gtk_widget_get_width (GTK_WIDGET (self)));
  if (way == 0)
    return G_SOURCE_REMOVE;
  if (!self->moved_for_panel)
    self->before_panel = self->viewport;
  self->moved_for_panel = TRUE;
  ml_canvas_pan_by (self, way, 0);
  self->beside_panel = self->viewport;
  return G_SOURCE_REMOVE;
}

void
ml_canvas_allocate_panel (MlCanvas *self, GtkWidget *panel, int width, int height)
{
  int natural_width = 0, natural_height = 0, minimum = 0, x, y;
  gtk_widget_measure (panel, GTK_ORIENTATION_HORIZONTAL, -1, &minimum, &natural_width, NULL, NULL);
  const Place place = panel_place (self);
  const int place_width = (int) (place.high.x - place.low.x) + PLACE_ROOM_PX;
  natural_width = MAX (minimum, MIN (natural_width, width - 2 * EDGE_GAP_PX - PANEL_GAP_PX - place_width)); /* words go on in another line */
  gtk_widget_measure (panel, GTK_ORIENTATION_VERTICAL, natural_width, &minimum, &natural_height, NULL, NULL);
  const gboolean clear = beside_place (&place, natural_width, natural_height, width, height, &x, &y);
  GtkAllocation allocation = { x, y, natural_width, natural_height };
  gtk_widget_size_allocate (panel, &allocation, -1);
  self->panel_width_px = natural_width;
  if (!clear && self->panel_room == 0 && way_beside (&place, natural_width, width) != 0)
    self->panel_room = g_idle_add (make_room_cb, self);
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
printed_cb (MlAddList *list, const char *print, MlCanvas *self)
{
  ml_canvas_typed (self, print);
}

static void
make_add_list (MlCanvas *self)
{
  self->add_list = ml_add_list_new ();
  ml_add_list_set_paper (ML_ADD_LIST (self->add_list), self->paper);
  gtk_widget_set_parent (self->add_list, GTK_WIDGET (self));
  g_signal_connect (self->add_list, "chosen", G_CALLBACK (kind_chosen_cb), self);
  g_signal_connect (self->add_list, "printed", G_CALLBACK (printed_cb), self);
}

void
ml_canvas_open_add_list (MlCanvas *self)
{
  if (!self->add_list)
    make_add_list (self);
  MlPoint at = self->pointer_inside ? self->pointer : (MlPoint){ self->viewport.width_px / 2.0, self->viewport.height_px / 4.0 };
  gtk_popover_set_pointing_to (GTK_POPOVER (self->add_list), &(GdkRectangle){ (int) at.x, (int) at.y, 1, 1 });
  int part, pin;
  ml_document_selected (self->document, &part, &pin);
  ml_add_list_begin (ML_ADD_LIST (self->add_list), part >= 0 ? ml_canvas_part (self, part)->name : NULL);
  gtk_popover_popup (GTK_POPOVER (self->add_list));
}
