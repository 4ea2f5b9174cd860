/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/scene-private.h"

#include <math.h>

#include "drawing/photo-scene.h"

MlScene *
ml_scene_new (MlBoard *board)
{
  MlSceneOwned *owned = g_atomic_rc_box_new0 (MlSceneOwned);

  owned->scene.board = ml_board_ref (board);
  return &owned->scene;
}

MlScene *
ml_scene_ref (MlScene *scene)
{
  g_return_val_if_fail (scene != NULL, NULL);
  return g_atomic_rc_box_acquire (scene);
}

static void
scene_clear (gpointer data)
{
  MlSceneOwned *owned = data;
  MlScene *scene = &owned->scene;
  guint i;

  for (i = 0; i < scene->n_labels; i++)
    g_free (scene->labels[i].text);
  g_free (scene->symbols);
  g_free (scene->pins);
  g_free (scene->wires);
  g_free (scene->dots);
  g_free (scene->flags);
  g_free (scene->labels);
  g_free (scene->links);
  if (scene->picture != NULL && scene->picture->photo != NULL)
    ml_photo_unref (scene->picture->photo);
  g_free (scene->picture);
  if (owned->free_state != NULL)
    owned->free_state (owned->state);
  ml_board_unref (scene->board);
}

void
ml_scene_unref (MlScene *scene)
{
  if (scene != NULL)
    g_atomic_rc_box_release_full (scene, scene_clear);
}

int
ml_scene_pin (const MlScene *scene, int part, int pin)
{
  guint i;

  for (i = 0; i < scene->n_pins; i++)
    if (scene->pins[i].part == part && scene->pins[i].pin == pin)
      return (int) i;
  return -1;
}

int
ml_scene_symbol (const MlScene *scene, int part)
{
  guint i;

  for (i = 0; i < scene->n_symbols; i++)
    if (scene->symbols[i].part == part)
      return (int) i;
  return -1;
}

static double
distance_to_wire (const MlSceneWire *wire, double x, double y)
{
  double x0 = MIN (wire->a.x, wire->b.x), x1 = MAX (wire->a.x, wire->b.x);
  double y0 = MIN (wire->a.y, wire->b.y), y1 = MAX (wire->a.y, wire->b.y);

  return hypot (x - CLAMP (x, x0, x1), y - CLAMP (y, y0, y1));
}

static double
distance_to_box (const MlBox *box, double x, double y)
{
  return hypot (x - CLAMP (x, box->x0, box->x1), y - CLAMP (y, box->y0, box->y1));
}

static gboolean
hit_pin (const MlScene *scene, double x, double y, double reach, MlHit *hit)
{
  double best = reach;
  guint i;

  for (i = 0; i < scene->n_pins; i++)
    {
      const MlScenePin *pin = &scene->pins[i];
      double d = hypot (x - pin->at.x, y - pin->at.y);
      if (d > best || (hit->kind == ML_HIT_PIN && d >= best))
        continue;
      best = d;
      *hit = (MlHit){ ML_HIT_PIN, pin->part, pin->pin, pin->net };
    }
  return hit->kind != ML_HIT_NOTHING;
}

/* The smallest body wins, so that a part inside another one's hull can be chosen. */
static gboolean
hit_part (const MlScene *scene, double x, double y, double reach, MlHit *hit)
{
  double best = G_MAXDOUBLE;
  guint i;

  for (i = 0; i < scene->n_symbols; i++)
    {
      const MlBox *body = &scene->symbols[i].body;
      double size = (body->x1 - body->x0) * (body->y1 - body->y0);
      if (distance_to_box (body, x, y) > reach || size >= best)
        continue;
      best = size;
      *hit = (MlHit){ ML_HIT_PART, scene->symbols[i].part, -1, -1 };
    }
  return hit->kind != ML_HIT_NOTHING;
}

/* Clips the range of t in which a + t d lies between low and high; FALSE when none is left. */
static gboolean
clip (double a, double d, double low, double high, double *t0, double *t1)
{
  double enter = d > 0 ? (low - a) / d : (high - a) / d, leave = d > 0 ? (high - a) / d : (low - a) / d;

  if (fabs (d) < 1e-9)
    return a > low && a < high;
  *t0 = MAX (*t0, enter);
  *t1 = MIN (*t1, leave);
  return *t0 < *t1;
}

gboolean
ml_box_meets_line (const MlBox *box, MlPoint a, MlPoint b)
{
  double t0 = 0, t1 = 1;

  return clip (a.x, b.x - a.x, box->x0, box->x1, &t0, &t1) && clip (a.y, b.y - a.y, box->y0, box->y1, &t0, &t1);
}

static gboolean
hit_label (const MlScene *scene, double x, double y, MlHit *hit)
{
  guint i;

  for (i = 0; i < scene->n_labels; i++)
    {
      const MlSceneLabel *label = &scene->labels[i];
      if (distance_to_box (&label->box, x, y) > 0)
        continue;
      if (label->part >= 0)
        *hit = (MlHit){ ML_HIT_PART, label->part, -1, -1 };
      else if (label->net >= 0)
        *hit = (MlHit){ ML_HIT_WIRE, -1, -1, label->net };
      return hit->kind != ML_HIT_NOTHING;
    }
  return FALSE;
}

static gboolean
hit_wire (const MlScene *scene, double x, double y, double reach, MlHit *hit)
{
  double best = reach;
  guint i;

  for (i = 0; i < scene->n_wires; i++)
    {
      double d = distance_to_wire (&scene->wires[i], x, y);
      if (d > best || (hit->kind == ML_HIT_WIRE && d >= best))
        continue;
      best = d;
      *hit = (MlHit){ ML_HIT_WIRE, -1, -1, scene->wires[i].net };
    }
  return hit->kind != ML_HIT_NOTHING;
}

static gboolean
hit_flag (const MlScene *scene, double x, double y, double reach, MlHit *hit)
{
  guint i;

  for (i = 0; i < scene->n_flags; i++)
    if (distance_to_box (&scene->flags[i].box, x, y) <= reach * 0.5)
      {
        *hit = (MlHit){ ML_HIT_FLAG, -1, -1, scene->flags[i].net };
        return TRUE;
      }
  return FALSE;
}

MlHit
ml_scene_hit (const MlScene *scene, double x, double y, double reach)
{
  MlHit hit = { ML_HIT_NOTHING, -1, -1, -1 };

  if (hit_pin (scene, x, y, reach, &hit) || hit_part (scene, x, y, reach * 0.5, &hit) || hit_label (scene, x, y, &hit)
      || hit_wire (scene, x, y, reach, &hit) || hit_flag (scene, x, y, reach, &hit))
    return hit;
  return hit;
}

static MlPoint
middle_of (const MlBox *box)
{
  MlPoint middle = { (box->x0 + box->x1) / 2, (box->y0 + box->y1) / 2 };

  return middle;
}

/* How far `to` lies from `from` in a direction, or a negative number when it lies elsewhere (more than 45 degrees off the way). */
static double
distance_along (MlPoint from, MlPoint to, MlSide side)
{
  MlPoint step = ml_side_step (side);
  double along = (to.x - from.x) * step.x + (to.y - from.y) * step.y;
  double across = fabs ((to.x - from.x) * step.y) + fabs ((to.y - from.y) * step.x);

  if (along < 0.5 || across > along)
    return -1;
  return along + 2 * across;
}

static gboolean
wire_touches (const MlSceneWire *wire, MlPoint at)
{
  return distance_to_wire (wire, at.x, at.y) < 0.01;
}

/* The drawn group of copper that a pin is soldered to, or -1 when it has no wire. */
static int
group_at (const MlScene *scene, const MlScenePin *pin)
{
  guint i;

  for (i = 0; i < scene->n_wires; i++)
    if (scene->wires[i].net == pin->net && wire_touches (&scene->wires[i], pin->at))
      return (int) scene->wires[i].group;
  return -1;
}

static gboolean
neighbour_along_wires (const MlScene *scene, const MlScenePin *from, MlSide side, int *ret_part, int *ret_pin)
{
  int group = group_at (scene, from);
  double best = G_MAXDOUBLE;
  guint i;

  for (i = 0; i < scene->n_pins && group >= 0; i++)
    {
      const MlScenePin *pin = &scene->pins[i];
      double d;
      if (pin == from || pin->net != from->net)
        continue;
      d = distance_along (from->at, pin->at, side);
      if (d < 0 || d >= best || group_at (scene, pin) != group)
        continue;
      best = d;
      *ret_part = pin->part;
      *ret_pin = pin->pin;
    }
  return best < G_MAXDOUBLE;
}

static gboolean
neighbour_of_own (const MlScene *scene, int part, MlPoint from, MlSide side, int *ret_part, int *ret_pin)
{
  double best = G_MAXDOUBLE;
  guint i;

  for (i = 0; i < scene->n_pins; i++)
    {
      const MlScenePin *pin = &scene->pins[i];
      double d;
      if (pin->part != part)
        continue;
      d = distance_along (from, pin->at, side);
      if (d < 0)
        continue;
      if (pin->side != side)
        d += 4;
      if (d >= best)
        continue;
      best = d;
      *ret_part = part;
      *ret_pin = pin->pin;
    }
  return best < G_MAXDOUBLE;
}

static gboolean
neighbour_part (const MlScene *scene, int part, MlPoint from, MlSide side, int *ret_part, int *ret_pin)
{
  double best = G_MAXDOUBLE;
  guint i;

  for (i = 0; i < scene->n_symbols; i++)
    {
      double d;
      if (scene->symbols[i].part == part)
        continue;
      d = distance_along (from, middle_of (&scene->symbols[i].body), side);
      if (d < 0 || d >= best)
        continue;
      best = d;
      *ret_part = scene->symbols[i].part;
      *ret_pin = -1;
    }
  return best < G_MAXDOUBLE;
}

static gboolean
is_opposite (MlSide a, MlSide b)
{
  MlPoint one = ml_side_step (a), other = ml_side_step (b);

  return one.x + other.x == 0 && one.y + other.y == 0;
}

gboolean
ml_scene_neighbour (const MlScene *scene, int part, int pin, MlSide side, int *ret_part, int *ret_pin)
{
  int symbol = ml_scene_symbol (scene, part);
  int at = pin >= 0 ? ml_scene_pin (scene, part, pin) : -1;
  MlPoint from;

  if (symbol < 0)
    return FALSE;
  from = at >= 0 ? scene->pins[at].at : middle_of (&scene->symbols[symbol].body);
  if (at < 0)
    return neighbour_of_own (scene, part, from, side, ret_part, ret_pin) || neighbour_part (scene, part, from, side, ret_part, ret_pin);
  gboolean back = is_opposite (scene->pins[at].side, side);
  if (!back && neighbour_along_wires (scene, &scene->pins[at], side, ret_part, ret_pin))
    return TRUE;
  /* Back towards the body: the part as a whole, even where the wire comes round it. */
  if (back || distance_along (from, middle_of (&scene->symbols[scene->pins[at].symbol].body), side) >= 0)
    {
      *ret_part = part;
      *ret_pin = -1;
      return TRUE;
    }
  return neighbour_of_own (scene, part, from, side, ret_part, ret_pin) || neighbour_part (scene, part, from, side, ret_part, ret_pin);
}
