/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is drawn stays in view: near the view's edge the sheet moves on under the hand, and a wire that was just joined is brought into sight. */
#include <math.h>

#include "desktop/canvas-private.h"

#define EDGE_PX 28.0          /* so near the edge the hand wants to go on */
#define FASTEST_PX_PER_S 700.0
#define RESTS_S 0.25          /* on the way to a button beside the drawing nothing moves */
#define LONGEST_STEP_S 0.05   /* after a stutter it must not jump */

/* How deep into the zone along one edge: -1 at the low edge, 1 at the high one, 0 away from both. */
static double
depth (double at, double size)
{
  const double edge = MIN (EDGE_PX, size / 6.0);
  if (at < edge)
    return -MIN ((edge - at) / edge, 1.0);
  return at > size - edge ? MIN ((at - size + edge) / edge, 1.0) : 0.0;
}

/* Where a part is dragged the sheet grows; else there must be something out of sight that way. */
static MlPoint
wanted_way (MlCanvas *self)
{
  const MlViewport *view = &self->viewport;
  MlPoint way = { depth (self->pointer.x, view->width_px), depth (self->pointer.y, view->height_px) };
  MlPoint low = ml_viewport_to_view (view, view->content.x0, view->content.y0), high = ml_viewport_to_view (view, view->content.x1, view->content.y1);
  if (self->doing == ML_DOING_MOVE)
    return way;
  if ((way.x < 0.0 && low.x >= 0.0) || (way.x > 0.0 && high.x <= view->width_px))
    way.x = 0.0;
  if ((way.y < 0.0 && low.y >= 0.0) || (way.y > 0.0 && high.y <= view->height_px))
    way.y = 0.0;
  return way;
}

static gboolean
may_move (MlCanvas *self)
{
  gboolean draws = self->doing == ML_DOING_ADD || self->doing == ML_DOING_JOIN || self->doing == ML_DOING_MOVE;
  return draws && (self->pointer_inside || self->doing == ML_DOING_MOVE || self->dragged_join);
}

/* What hangs at the hand follows the sheet that has moved below it. */
static void
follow (MlCanvas *self, MlPoint by_px)
{
  self->edge_panned.x += by_px.x;
  self->edge_panned.y += by_px.y;
  if (self->doing == ML_DOING_MOVE)
    ml_canvas_draw_drag_update (self, self->drag_from, self->pointer);
  else
    self->hover = ml_canvas_hit (self, self->pointer.x, self->pointer.y);
}

static gboolean
edge_tick_cb (GtkWidget *widget, GdkFrameClock *clock, gpointer data)
{
  MlCanvas *self = data;
  MlPoint way = may_move (self) ? wanted_way (self) : (MlPoint){ 0.0, 0.0 };
  const gint64 now_us = gdk_frame_clock_get_frame_time (clock);
  if (way.x == 0.0 && way.y == 0.0)
    {
      self->edge_tick = 0;
      return G_SOURCE_REMOVE;
    }
  if (self->edge_since_us == 0)
    self->edge_since_us = self->edge_last_us = now_us;
  const double step_s = MIN ((double) (now_us - self->edge_last_us) / G_USEC_PER_SEC, LONGEST_STEP_S), step_px = FASTEST_PX_PER_S * step_s;
  self->edge_last_us = now_us;
  if ((double) (now_us - self->edge_since_us) < RESTS_S * G_USEC_PER_SEC)
    return G_SOURCE_CONTINUE;
  const MlPoint before = self->viewport.origin;
  const gboolean held = self->viewport.held;
  ml_canvas_pan_by (self, step_px * way.x, step_px * way.y);
  self->viewport.held = held; /* it is fitted again when the drawing is done */
  follow (self, (MlPoint){ (self->viewport.origin.x - before.x) * self->viewport.zoom, (self->viewport.origin.y - before.y) * self->viewport.zoom });
  return G_SOURCE_CONTINUE;
}

void
ml_canvas_edge_watch (MlCanvas *self)
{
  if (self->edge_tick != 0 || !may_move (self))
    return;
  MlPoint way = wanted_way (self);
  if (way.x == 0.0 && way.y == 0.0)
    return;
  self->edge_since_us = 0;
  self->edge_tick = gtk_widget_add_tick_callback (GTK_WIDGET (self), edge_tick_cb, self, NULL);
}

static void
take_in (MlBox *box, MlBox other)
{
  *box = (MlBox){ MIN (box->x0, other.x0), MIN (box->y0, other.y0), MAX (box->x1, other.x1), MAX (box->y1, other.y1) };
}

static MlBox
box_of_net (const MlScene *scene, int net)
{
  MlBox box = { INFINITY, INFINITY, -INFINITY, -INFINITY };
  for (guint i = 0; i < scene->n_wires; i++)
    if (scene->wires[i].net == net)
      {
        const MlPoint a = scene->wires[i].a, b = scene->wires[i].b;
        take_in (&box, (MlBox){ MIN (a.x, b.x), MIN (a.y, b.y), MAX (a.x, b.x), MAX (a.y, b.y) });
      }
  for (guint i = 0; i < scene->n_flags; i++)
    if (scene->flags[i].net == net)
      take_in (&box, scene->flags[i].box);
  return box;
}

/* Whether the name or the value of a part that is in view is not. */
static gboolean
cuts_a_label (MlCanvas *self)
{
  const MlScene *scene = ml_canvas_scene (self);
  for (guint i = 0; i < scene->n_labels; i++)
    {
      int symbol = scene->labels[i].part >= 0 ? ml_scene_symbol (scene, scene->labels[i].part) : -1;
      if (symbol >= 0 && ml_viewport_shows (&self->viewport, scene->symbols[symbol].body) && !ml_viewport_shows (&self->viewport, scene->labels[i].box))
        return TRUE;
    }
  return FALSE;
}

void
ml_canvas_reveal_labels (MlCanvas *self)
{
  if (self->view == ML_CANVAS_CIRCUIT && self->viewport.held && self->doing == ML_DOING_NOTHING && cuts_a_label (self))
    ml_canvas_release (self);
}

/* Whether a part that is in view would not be when the view goes to the box. */
static gboolean
would_lose_a_part (MlCanvas *self, MlBox box)
{
  const MlScene *scene = ml_canvas_scene (self);
  MlViewport there = self->viewport;
  ml_viewport_reveal (&there, box);
  for (guint i = 0; i < scene->n_symbols; i++)
    if (ml_viewport_shows (&self->viewport, scene->symbols[i].body) && !ml_viewport_shows (&there, scene->symbols[i].body))
      return TRUE;
  return FALSE;
}

void
ml_canvas_reveal_net (MlCanvas *self, int net)
{
  MlBox box = box_of_net (ml_canvas_scene (self), net);
  if (box.x0 > box.x1 || ml_viewport_shows (&self->viewport, box))
    return; /* nothing moves under the hand without need */
  if (!ml_viewport_has_room (&self->viewport, box) || would_lose_a_part (self, box))
    ml_canvas_release (self);
  if (ml_viewport_has_room (&self->viewport, box)) /* where a hand has moved the view it was not fitted */
    ml_canvas_reveal_box (self, box);
}
