/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/layout-piece.h"

#include <string.h>

MlForm *
ml_form_new (guint n_pins, guint n_cores)
{
  MlForm *form = g_new0 (MlForm, 1);

  form->pins = g_new0 (MlFormPin, MAX (n_pins, 1));
  form->cores = g_new0 (MlCells, MAX (n_cores, 1));
  form->n_cores = n_cores;
  return form;
}

void
ml_form_free (MlForm *form)
{
  g_free (form->pins);
  g_free (form->cores);
  g_free (form->rooms);
  g_free (form->members);
  g_free (form->sides);
  g_free (form);
}

void
ml_form_add_room (MlForm *form, int x0, int y0, int x1, int y1)
{
  form->rooms = g_renew (MlCells, form->rooms, form->n_rooms + 1);
  form->rooms[form->n_rooms++] = (MlCells){ MIN (x0, x1), MIN (y0, y1), MAX (x0, x1), MAX (y0, y1) };
}

void
ml_form_finish (MlForm *form, guint n_pins)
{
  static const MlCells nothing = { G_MAXINT, G_MAXINT, G_MININT, G_MININT };
  guint i;

  form->hull = form->pin_hull = nothing;
  for (i = 0; i < n_pins; i++)
    {
      MlCells at = { form->pins[i].x, form->pins[i].y, form->pins[i].x, form->pins[i].y };
      ml_cells_widen (&form->pin_hull, &at);
    }
  for (i = 0; i < form->n_cores; i++)
    ml_cells_widen (&form->hull, &form->cores[i]);
  for (i = 0; i < form->n_rooms; i++)
    ml_cells_widen (&form->hull, &form->rooms[i]);
  if (n_pins == 0)
    form->pin_hull = form->hull;
  if (form->n_cores == 0 && form->n_rooms == 0)
    form->hull = form->pin_hull;
}

void
ml_form_flag_rooms (MlForm *form, const MlPiece *piece, const MlCircuit *circuit)
{
  guint i;

  for (i = 0; i < piece->n_pins; i++)
    {
      const MlFormPin *pin = &form->pins[i];
      MlPoint step = ml_side_step (pin->side);
      int net = piece->pins[i].net, dx = (int) step.x, dy = (int) step.y;
      MlRail rail = net < 0 ? ML_RAIL_NONE : circuit->nets[net].rail;
      if (net < 0 || circuit->nets[net].n_joints < 2)
        continue;
      if (rail == ML_RAIL_DOWN && pin->side == ML_SIDE_DOWN)
        {
          ml_form_add_room (form, pin->x - 1, pin->y + 1, pin->x + 1, pin->y + 2);
          ml_form_add_room (form, pin->x, pin->y + 1, pin->x, pin->y + 2);
        }
      else if (rail == ML_RAIL_UP && pin->side == ML_SIDE_UP)
        {
          ml_form_add_room (form, pin->x - 1, pin->y - 2, pin->x + 1, pin->y - 1);
          ml_form_add_room (form, pin->x, pin->y - 2, pin->x, pin->y - 1);
        }
      else if (rail == ML_RAIL_NONE)
        ml_form_add_room (form, pin->x + dx, pin->y + dy, pin->x + dx, pin->y + dy);
      else
        ml_form_add_room (form, pin->x + dx, pin->y + dy, pin->x + 2 * dx, pin->y + 2 * dy);
    }
}

int
ml_form_index (const MlPiece *piece, const MlForm *form)
{
  guint i;

  for (i = 0; i < piece->forms->len; i++)
    if (g_ptr_array_index (piece->forms, i) == form)
      return (int) i;
  return -1;
}

static MlSide
mirrored_side (MlSide side)
{
  return side == ML_SIDE_LEFT ? ML_SIDE_RIGHT : side == ML_SIDE_RIGHT ? ML_SIDE_LEFT : side;
}

static gboolean
is_mirror_image (const MlForm *of, const MlForm *form, guint n_pins, int *ret_dx)
{
  int dx = -of->pins[0].x - form->pins[0].x;
  guint i;

  for (i = 0; i < n_pins; i++)
    if (form->pins[i].x + dx != -of->pins[i].x || form->pins[i].y != of->pins[i].y
        || form->pins[i].side != mirrored_side (of->pins[i].side))
      return FALSE;
  *ret_dx = dx;
  return TRUE;
}

static MlForm *
mirrored_block (MlPiece *piece, MlForm *form, const MlCircuit *circuit, int *ret_dx)
{
  MlBoxSides sides = ml_box_sides_of (piece, form);
  int *pins = sides.pins[ML_SIDE_RIGHT];
  guint n = sides.n[ML_SIDE_RIGHT];
  MlForm *mirror;

  sides.pins[ML_SIDE_RIGHT] = sides.pins[ML_SIDE_LEFT];
  sides.n[ML_SIDE_RIGHT] = sides.n[ML_SIDE_LEFT];
  sides.pins[ML_SIDE_LEFT] = pins;
  sides.n[ML_SIDE_LEFT] = n;
  mirror = ml_box_form (piece, circuit, &sides, ml_box_cost (piece, &sides));
  ml_box_sides_clear (&sides);
  g_ptr_array_add (piece->forms, mirror);
  *ret_dx = -(form->width + 2);
  return mirror;
}

MlForm *
ml_form_mirrored (MlPiece *piece, MlForm *form, const MlCircuit *circuit, int *ret_dx)
{
  guint i;

  if (piece->is_block)
    return mirrored_block (piece, form, circuit, ret_dx);
  for (i = 0; i < piece->forms->len && piece->n_pins > 0; i++)
    {
      MlForm *other = g_ptr_array_index (piece->forms, i);
      if (is_mirror_image (form, other, piece->n_pins, ret_dx))
        return other;
    }
  return NULL;
}

void
ml_piece_free (MlPiece *piece)
{
  g_free (piece->pins);
  g_free (piece->members);
  g_ptr_array_unref (piece->forms);
  g_free (piece);
}

MlPiece *
ml_piece_new (MlPieceKind kind)
{
  MlPiece *piece = g_new0 (MlPiece, 1);

  piece->kind = kind;
  piece->part = -1;
  piece->forms = g_ptr_array_new_with_free_func ((GDestroyNotify) ml_form_free);
  return piece;
}

int
ml_piece_pin_on (const MlPiece *piece, int net)
{
  guint k;

  for (k = 0; k < piece->n_pins; k++)
    if (piece->pins[k].net == net)
      return (int) k;
  return -1;
}

MlKit *
ml_kit_new (const MlCircuit *circuit, MlKitCare care)
{
  MlKit *kit = g_new0 (MlKit, 1);
  guint i;

  kit->circuit = circuit;
  kit->care = care;
  kit->plain = g_ptr_array_new_with_free_func ((GDestroyNotify) ml_piece_free);
  kit->composites = g_ptr_array_new_with_free_func ((GDestroyNotify) ml_piece_free);
  kit->pieces = g_ptr_array_new ();
  kit->mates = g_array_new (FALSE, FALSE, sizeof (MlMate));
  kit->ties = g_array_new (FALSE, FALSE, sizeof (MlTie));
  kit->plain_of_part = g_new (int, MAX (circuit->n_parts, 1));
  for (i = 0; i < circuit->n_parts; i++)
    kit->plain_of_part[i] = -1;
  ml_kit_list_pieces (kit);
  if (care != ML_KIT_PLAIN)
    ml_kit_find_idioms (kit);
  else
    for (i = 0; i < kit->plain->len; i++)
      g_ptr_array_add (kit->pieces, g_ptr_array_index (kit->plain, i));
  return kit;
}

void
ml_kit_free (MlKit *kit)
{
  g_ptr_array_unref (kit->pieces);
  g_ptr_array_unref (kit->composites);
  g_ptr_array_unref (kit->plain);
  g_array_unref (kit->mates);
  g_array_unref (kit->ties);
  g_free (kit->plain_of_part);
  g_free (kit);
}
