/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The part in hand without a pointer: the arrow keys move it, Enter sets it where there is room. */
#include "desktop/canvas-private.h"

#include "drawing/symbol-geometry.h"

#include <math.h>
#include <stdlib.h>

#define HAND_STEP_G 2.0
#define ROOM_AROUND_G 2.0
#define FREE_STEP_G 3.0
#define MOST_RINGS 30

static gboolean
meet (const MlBox *a, const MlBox *b)
{
  return a->x0 < b->x1 && b->x0 < a->x1 && a->y0 < b->y1 && b->y0 < a->y1;
}

static gboolean
is_free (MlCanvas *self, double dx, double dy)
{
  const MlScene *scene = ml_canvas_scene (self);
  const MlPlace place = ml_canvas_hand_place (self);
  MlBox own = self->hand.scene->extent;
  own = (MlBox){ own.x0 + place.x + dx - ROOM_AROUND_G, own.y0 + place.y + dy - ROOM_AROUND_G, own.x1 + place.x + dx + ROOM_AROUND_G,
                 own.y1 + place.y + dy + ROOM_AROUND_G };
  for (guint i = 0; i < scene->n_symbols; i++)
    if (meet (&own, &scene->symbols[i].body))
      return FALSE;
  for (guint i = 0; i < scene->n_labels; i++)
    if (meet (&own, &scene->labels[i].box))
      return FALSE;
  return TRUE;
}

static void
move_pointer (MlCanvas *self, double dx, double dy)
{
  self->pointer.x += dx * self->viewport.zoom;
  self->pointer.y += dy * self->viewport.zoom;
  gtk_widget_queue_draw (GTK_WIDGET (self));
}

/* Whether the part in hand, that far from where the pointer is, is seen whole, with room for the pins. */
static gboolean
is_in_view (MlCanvas *self, double dx, double dy)
{
  const MlPlace place = ml_canvas_hand_place (self);
  const MlBox *own = &self->hand.scene->extent;
  MlPoint from = ml_viewport_to_view (&self->viewport, own->x0 + place.x + dx - ROOM_AROUND_G, own->y0 + place.y + dy - ROOM_AROUND_G);
  MlPoint to = ml_viewport_to_view (&self->viewport, own->x1 + place.x + dx + ROOM_AROUND_G, own->y1 + place.y + dy + ROOM_AROUND_G);
  return from.x >= 0 && from.y >= 0 && to.x <= self->viewport.width_px && to.y <= self->viewport.height_px;
}

/* The nearest free place of that ring round the pointer, straight before slanting and to the right before below, as one writes. */
static gboolean
find_in_ring (MlCanvas *self, int ring, gboolean in_view, int *ret_x, int *ret_y)
{
  int least = G_MAXINT;
  for (int y = -ring; y <= ring; y++)
    for (int x = -ring; x <= ring; x++)
      {
        int away = 4 * (x * x + y * y) + (x > 0 && y == 0 ? 0 : y > 0 ? 1 : 2);
        if (MAX (abs (x), abs (y)) != ring || away >= least || !is_free (self, FREE_STEP_G * x, FREE_STEP_G * y)
            || (in_view && !is_in_view (self, FREE_STEP_G * x, FREE_STEP_G * y)))
          continue;
        least = away;
        *ret_x = x;
        *ret_y = y;
      }
  return least < G_MAXINT;
}

/* A part that is set by keys does not land on another one: nobody looked where. It stays in view while there is room. */
static void
go_to_free_place (MlCanvas *self)
{
  int x, y;
  if (!self->hand.scene)
    return;
  for (int in_view = TRUE; in_view >= FALSE; in_view--)
    for (int ring = 0; ring <= MOST_RINGS; ring++)
      if (find_in_ring (self, ring, in_view, &x, &y))
        {
          move_pointer (self, FREE_STEP_G * x, FREE_STEP_G * y);
          return;
        }
}

static void
bring_pointer_in (MlCanvas *self)
{
  if (!self->pointer_inside)
    self->pointer = (MlPoint){ self->viewport.width_px / 2.0, self->viewport.height_px / 2.0 };
  self->pointer_inside = TRUE;
}

gboolean
ml_canvas_hand_walk (MlCanvas *self, MlSide direction)
{
  if (self->doing != ML_DOING_ADD)
    return FALSE;
  const MlPoint step = ml_side_step (direction);
  bring_pointer_in (self);
  move_pointer (self, HAND_STEP_G * step.x, HAND_STEP_G * step.y);
  self->pointer = (MlPoint){ CLAMP (self->pointer.x, 0.0, self->viewport.width_px), CLAMP (self->pointer.y, 0.0, self->viewport.height_px) };
  return TRUE;
}

void
ml_canvas_hand_begin (MlCanvas *self)
{
  if (self->pointer_inside && !self->by_keys)
    return;
  bring_pointer_in (self);
  go_to_free_place (self);
}

gboolean
ml_canvas_hand_enter (MlCanvas *self)
{
  if (self->doing != ML_DOING_ADD)
    return FALSE;
  bring_pointer_in (self);
  ml_viewport_hold (&self->viewport);
  go_to_free_place (self);
  ml_canvas_hand_set (self, FALSE);
  self->by_keys = TRUE;
  return TRUE;
}
