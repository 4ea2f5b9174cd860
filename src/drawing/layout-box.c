/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rectangles sized by their pins: blocks, whose pins may go anywhere, and connectors, whose pins stay in order. */
#include "drawing/layout-piece.h"

#include <math.h>

#define PITCH 2
#define SIDE_SHIFT 16

void
ml_box_sides_clear (MlBoxSides *sides)
{
  int i;

  for (i = 0; i < 4; i++)
    g_free (sides->pins[i]);
}

static MlBoxSides
sides_new (guint n_pins)
{
  MlBoxSides sides;
  int i;

  for (i = 0; i < 4; i++)
    {
      sides.pins[i] = g_new (int, MAX (n_pins, 1));
      sides.n[i] = 0;
    }
  return sides;
}

static void
side_add (MlBoxSides *sides, MlSide side, int pin)
{
  sides->pins[side][sides->n[side]++] = pin;
}

MlBoxSides
ml_box_sides_of (const MlPiece *piece, const MlForm *form)
{
  MlBoxSides sides = sides_new (piece->n_pins);
  guint i;

  for (i = 0; i < piece->n_pins; i++)
    {
      int side = form->sides[i] >> SIDE_SHIFT, at = form->sides[i] & ((1 << SIDE_SHIFT) - 1);
      sides.pins[side][at] = (int) i;
      sides.n[side]++;
    }
  return sides;
}

#define LIKE_APART 4      /* two pins that run alike on both sides of a box */
#define LIKE_EXCHANGED 1.5  /* two of them not in the order of the pins */
#define ROW 3             /* so many of them are a row that the eye follows */
#define ROW_APART 10
#define ROW_EXCHANGED 2.5
#define ROW_BROKEN 5      /* another pin in between */

/* Pins that run alike stand on one side, together, in order from above or from below. */
static double
disorder (const MlPiece *piece, const MlBoxSides *sides)
{
  static const MlSide beside[] = { ML_SIDE_LEFT, ML_SIDE_RIGHT };
  double cost = 0;
  guint like, s, i, k;

  for (like = 1; like <= piece->n_pins; like++)
    {
      guint n[2] = { 0, 0 }, exchanged = 0, pairs = 0, runs = 0;
      for (s = 0; s < 2; s++)
        for (i = 0; i < sides->n[beside[s]]; i++)
          {
            int pin = sides->pins[beside[s]][i];
            if (piece->pins[pin].like != (int) like)
              continue;
            n[s]++;
            runs += i == 0 || piece->pins[sides->pins[beside[s]][i - 1]].like != (int) like;
            for (k = 0; k < i; k++)
              if (piece->pins[sides->pins[beside[s]][k]].like == (int) like)
                {
                  exchanged += piece->pins[sides->pins[beside[s]][k]].rank > piece->pins[pin].rank;
                  pairs++;
                }
          }
      cost += (n[0] + n[1] >= ROW ? ROW_APART : LIKE_APART) * MIN (n[0], n[1]);
      cost += n[0] + n[1] >= ROW ? ROW_BROKEN * (runs - (n[0] > 0) - (n[1] > 0)) : 0;
      cost += (n[0] + n[1] >= ROW ? ROW_EXCHANGED : LIKE_EXCHANGED) * MIN (exchanged, pairs - exchanged);
    }
  return cost;
}

int
ml_box_cost (const MlPiece *piece, const MlBoxSides *sides)
{
  int cost = ML_COST (0.4) * ABS ((int) sides->n[ML_SIDE_LEFT] - (int) sides->n[ML_SIDE_RIGHT]);
  guint i;

  if (piece->has_likes)
    cost += ML_COST (disorder (piece, sides));
  for (i = 0; i < sides->n[ML_SIDE_RIGHT]; i++)
    if (piece->pins[sides->pins[ML_SIDE_RIGHT][i]].score < 0)
      cost += ML_COST (3);
  for (i = 0; i < sides->n[ML_SIDE_LEFT]; i++)
    if (piece->pins[sides->pins[ML_SIDE_LEFT][i]].score > 0)
      cost += ML_COST (3);
  return cost;
}

static double
widest_name (const MlPiece *piece, const MlCircuit *circuit, const MlBoxSides *sides, MlSide side)
{
  double widest = 0;
  guint i;

  for (i = 0; i < sides->n[side]; i++)
    {
      const MlPiecePin *pin = &piece->pins[sides->pins[side][i]];
      widest = MAX (widest, ml_text_width (circuit->parts[pin->part].pins[pin->pin].name, ML_TEXT_HEIGHT));
    }
  return MIN (widest, ML_TEXT_WIDEST);
}

static int
flat_pitch (double widest, guint n)
{
  return n < 2 ? PITCH : MAX (PITCH, PITCH * (int) ceil ((widest + 0.6) / PITCH));
}

static int
box_width (const MlPiece *piece, const MlCircuit *circuit, const MlBoxSides *sides)
{
  double above = widest_name (piece, circuit, sides, ML_SIDE_UP), below = widest_name (piece, circuit, sides, ML_SIDE_DOWN);
  double beside = widest_name (piece, circuit, sides, ML_SIDE_LEFT) + widest_name (piece, circuit, sides, ML_SIDE_RIGHT) + 1.6;
  int width = piece->part_kind == ML_KIND_BLOCK ? 6 : 3;

  width = MAX (width, (int) ceil (beside));
  if (sides->n[ML_SIDE_UP] > 0)
    width = MAX (width, (int) ceil (MAX (above + 1, flat_pitch (above, sides->n[ML_SIDE_UP]) * (int) sides->n[ML_SIDE_UP])));
  if (sides->n[ML_SIDE_DOWN] > 0)
    width = MAX (width, (int) ceil (MAX (below + 1, flat_pitch (below, sides->n[ML_SIDE_DOWN]) * (int) sides->n[ML_SIDE_DOWN])));
  return width + (width & 1);
}

static void
put_flat_pins (MlForm *form, const MlPiece *piece, const MlCircuit *circuit, const MlBoxSides *sides, MlSide side)
{
  int n = (int) sides->n[side], pitch = flat_pitch (widest_name (piece, circuit, sides, side), sides->n[side]);
  int x = 1 + form->width / 2 - pitch * (n - 1) / 2, i;

  for (i = 0; i < n; i++)
    form->pins[sides->pins[side][i]] = (MlFormPin){ x + pitch * i, side == ML_SIDE_UP ? -1 : form->height + 1, side };
}

MlForm *
ml_box_form (const MlPiece *piece, const MlCircuit *circuit, const MlBoxSides *sides, int cost)
{
  MlForm *form = ml_form_new (piece->n_pins, 1);
  guint rows = MAX (MAX (sides->n[ML_SIDE_LEFT], sides->n[ML_SIDE_RIGHT]), 1), i;
  gboolean flat = sides->n[ML_SIDE_UP] > 0 || sides->n[ML_SIDE_DOWN] > 0;
  int first = flat ? 2 : 1, side;

  form->cost = cost;
  form->symbol = piece->part_kind == ML_KIND_BLOCK ? "block" : "connector";
  form->width = box_width (piece, circuit, sides);
  form->height = PITCH * (int) rows + (flat ? 2 : 0);
  if (piece->part_kind == ML_KIND_BLOCK)
    form->height = MAX (form->height, 4);
  for (i = 0; i < sides->n[ML_SIDE_LEFT]; i++)
    form->pins[sides->pins[ML_SIDE_LEFT][i]] = (MlFormPin){ 0, first + PITCH * (int) i, ML_SIDE_LEFT };
  for (i = 0; i < sides->n[ML_SIDE_RIGHT]; i++)
    form->pins[sides->pins[ML_SIDE_RIGHT][i]] = (MlFormPin){ form->width + 2, first + PITCH * (int) i, ML_SIDE_RIGHT };
  put_flat_pins (form, piece, circuit, sides, ML_SIDE_UP);
  put_flat_pins (form, piece, circuit, sides, ML_SIDE_DOWN);
  form->sides = g_new0 (int, MAX (piece->n_pins, 1));
  for (side = 0; side < 4; side++)
    for (i = 0; i < sides->n[side]; i++)
      form->sides[sides->pins[side][i]] = (side << SIDE_SHIFT) + (int) i;
  form->frame = form->cores[0] = (MlCells){ 1, 0, 1 + form->width, form->height };
  ml_form_add_room (form, 1, -2, 1 + form->width, 0);
  ml_form_flag_rooms (form, piece, circuit);
  ml_form_finish (form, piece->n_pins);
  return form;
}

/* The connector that a pin leads to straight; -1. */
static int
connector_at (const MlPiece *piece, const MlCircuit *circuit, guint pin)
{
  int net = piece->pins[pin].net;
  guint i;

  for (i = 0; net >= 0 && i < circuit->nets[net].n_joints; i++)
    if (circuit->parts[circuit->nets[net].joints[i].part].kind == ML_KIND_CONNECTOR)
      return circuit->nets[net].joints[i].part;
  return -1;
}

/* Where nothing tells what a pin does: on the side of what leads to the same connector, else where there are fewer pins. */
static MlSide
side_by_default (const MlPiece *piece, const MlCircuit *circuit, guint pin, const MlBoxSides *sides)
{
  int connector = connector_at (piece, circuit, pin);
  guint i;

  for (i = 0; connector >= 0 && i < sides->n[ML_SIDE_LEFT]; i++)
    if (connector_at (piece, circuit, (guint) sides->pins[ML_SIDE_LEFT][i]) == connector)
      return ML_SIDE_LEFT;
  for (i = 0; connector >= 0 && i < sides->n[ML_SIDE_RIGHT]; i++)
    if (connector_at (piece, circuit, (guint) sides->pins[ML_SIDE_RIGHT][i]) == connector)
      return ML_SIDE_RIGHT;
  return piece->n_pins > 8 && sides->n[ML_SIDE_RIGHT] < sides->n[ML_SIDE_LEFT] ? ML_SIDE_RIGHT : ML_SIDE_LEFT;
}

/* Pins that run alike stand in the file's order at the places they have among them. */
static void
put_in_order (const MlPiece *piece, MlBoxSides *sides)
{
  static const MlSide beside[] = { ML_SIDE_LEFT, ML_SIDE_RIGHT };
  guint s, i, k;

  for (s = 0; s < 2; s++)
    for (i = 0; i < sides->n[beside[s]]; i++)
      for (k = i; k > 0; k--)
        {
          int *pins = sides->pins[beside[s]], pin = pins[k];
          guint to = k;
          while (to > 0 && piece->pins[pins[to - 1]].like != piece->pins[pin].like)
            to--;
          if (piece->pins[pin].like == 0 || to == 0 || piece->pins[pins[to - 1]].rank <= piece->pins[pin].rank)
            continue;
          pins[k] = pins[to - 1];
          pins[to - 1] = pin;
        }
}

/* The pin that goes on top (the supply) and the one that goes below (the ground); the others by what they drive. A chip of which nothing says where
 * it is fed may have been given one of several lines alike: it stays among them. */
static MlBoxSides
block_sides (const MlPiece *piece, const MlCircuit *circuit)
{
  MlBoxSides sides = sides_new (piece->n_pins);
  const MlPart *part = circuit->parts[piece->part].part;
  int top = part->supply_pin, bottom = part->ground_pin;
  guint i;

  for (i = 0; i < piece->n_pins; i++)
    {
      MlRail rail = piece->pins[i].net < 0 ? ML_RAIL_NONE : circuit->nets[piece->pins[i].net].rail;
      if (top < 0 && rail == ML_RAIL_UP)
        top = circuit->parts[piece->part].pins[piece->pins[i].pin].pin;
      if (bottom < 0 && rail == ML_RAIL_DOWN)
        bottom = circuit->parts[piece->part].pins[piece->pins[i].pin].pin;
    }
  for (i = 0; i < piece->n_pins; i++)
    {
      int pin = circuit->parts[piece->part].pins[piece->pins[i].pin].pin, score = piece->pins[i].score;
      if (pin == top && piece->pins[i].like == 0)
        side_add (&sides, ML_SIDE_UP, (int) i);
      else if (pin == bottom && piece->pins[i].like == 0)
        side_add (&sides, ML_SIDE_DOWN, (int) i);
      else
        side_add (&sides, score > 0 ? ML_SIDE_RIGHT : score < 0 ? ML_SIDE_LEFT : side_by_default (piece, circuit, i, &sides), (int) i);
    }
  if (piece->has_likes)
    put_in_order (piece, &sides);
  return sides;
}

static void
list_connector_form (MlPiece *piece, const MlCircuit *circuit, MlSide side, gboolean reversed, int cost)
{
  MlBoxSides sides = sides_new (piece->n_pins);
  MlForm *form;
  guint i;

  for (i = 0; i < piece->n_pins; i++)
    side_add (&sides, side, (int) (reversed ? piece->n_pins - 1 - i : i));
  form = ml_box_form (piece, circuit, &sides, cost);
  if ((side & 1) == 0)
    {
      form->turn = reversed ? 2 : 0;
      form->mirror = (side == ML_SIDE_LEFT) != reversed;
    }
  else
    {
      form->turn = reversed ? 1 : 3;
      form->mirror = (side == ML_SIDE_DOWN) != reversed;
    }
  g_ptr_array_add (piece->forms, form);
  ml_box_sides_clear (&sides);
}

void
ml_box_forms_list (MlPiece *piece, const MlCircuit *circuit)
{
  int right = piece->pull >= 0 ? 0 : ML_COST (30), left = piece->pull >= 0 ? ML_COST (30) : 0, reversed;
  MlBoxSides sides;

  if (piece->part_kind == ML_KIND_BLOCK)
    {
      sides = block_sides (piece, circuit);
      g_ptr_array_add (piece->forms, ml_box_form (piece, circuit, &sides, 0));
      ml_box_sides_clear (&sides);
      return;
    }
  for (reversed = 0; reversed < 2; reversed++)
    {
      list_connector_form (piece, circuit, ML_SIDE_RIGHT, reversed, right + (reversed ? ML_COST (9) : 0));
      list_connector_form (piece, circuit, ML_SIDE_LEFT, reversed, left + (reversed ? ML_COST (9) : 0));
    }
  /* Standing on end only where a person has put it so. */
  for (reversed = 0; reversed < 2; reversed++)
    {
      list_connector_form (piece, circuit, ML_SIDE_DOWN, reversed, ML_COST (60));
      list_connector_form (piece, circuit, ML_SIDE_UP, reversed, ML_COST (60));
    }
}
