/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The pieces of a board and the ways each may be drawn, with what each way costs. Weights were found by looking at drawings. */
#include "drawing/layout-drives.h"

#include <math.h>
#include <string.h>

/* ---- forms from the geometry table ---- */

typedef enum { LABEL_RIGHT, LABEL_LEFT, LABEL_ABOVE } LabelSide;

static LabelSide
label_side (MlKind kind, int turn, gboolean mirror)
{
  if ((turn & 1) != 0 || ml_circuit_is_amplifier (kind) || ml_circuit_is_regulator (kind) || kind == ML_KIND_BRIDGE || kind == ML_KIND_OPTO)
    return LABEL_ABOVE;
  if (ml_circuit_is_transistor (kind))
    return mirror ? LABEL_LEFT : LABEL_RIGHT;
  if (kind == ML_KIND_POTENTIOMETER)
    return mirror ? LABEL_RIGHT : LABEL_LEFT;
  if (kind == ML_KIND_SHUNT || kind == ML_KIND_THYRISTOR || kind == ML_KIND_TRIAC)
    return mirror ? LABEL_LEFT : LABEL_RIGHT;
  return LABEL_RIGHT;
}

static MlCells
placed_cells (const MlPlace *place, MlCells cells)
{
  MlBox box = ml_place_box (place, (MlBox){ cells.x0, cells.y0, cells.x1, cells.y1 });
  MlCells placed = { (int) box.x0, (int) box.y0, (int) box.x1, (int) box.y1 };

  return placed;
}

static void
add_label_room (MlForm *form, const MlCircuitPart *part, LabelSide side)
{
  double width = ml_circuit_is_amplifier (part->kind) || ml_circuit_is_regulator (part->kind) || part->kind == ML_KIND_BRIDGE
                         || part->kind == ML_KIND_OPTO
                     ? 1
                     : MIN (part->label_w, ML_TEXT_WIDEST) + 0.5;
  int reach = (int) ceil (width), middle = (form->hull.x0 + form->hull.x1) / 2, half = (reach + 1) / 2;
  MlCells core = form->hull;

  if (side == LABEL_RIGHT)
    ml_form_add_room (form, core.x1, core.y0, core.x1 + reach, core.y1);
  else if (side == LABEL_LEFT)
    ml_form_add_room (form, core.x0 - reach, core.y0, core.x0, core.y1);
  else
    ml_form_add_room (form, MIN (core.x0, middle - half), core.y0 - 1, MAX (core.x1, middle + half), core.y0);
}

static const MlSymbolPin *
geometry_pin (const MlSymbolGeometry *geometry, const char *name)
{
  guint i;

  for (i = 0; i < geometry->n_pins; i++)
    if (strcmp (geometry->pins[i].name, name) == 0 || (geometry->pins[i].also != NULL && strcmp (geometry->pins[i].also, name) == 0))
      return &geometry->pins[i];
  return NULL;
}

/* Leads of pins that the file leaves out are drawn all the same: no wire may run over them. Those that another section has are not. */
static void
add_unused_leads (MlForm *form, const MlPiece *piece, const MlCircuitPart *part, const MlSymbolGeometry *geometry, const MlPlace *place)
{
  guint i, k;

  for (i = 0; i < geometry->n_pins && part->supplied_by < 0; i++)
    {
      gboolean used = FALSE;
      MlPoint at;
      for (k = 0; k < piece->n_pins; k++)
        used |= geometry_pin (geometry, part->pins[piece->pins[k].pin].name) == &geometry->pins[i];
      if (used)
        continue;
      at = ml_place_point (place, geometry->pins[i].x, geometry->pins[i].y);
      form->cores = g_renew (MlCells, form->cores, form->n_cores + 1);
      form->cores[form->n_cores++] = (MlCells){ (int) at.x, (int) at.y, (int) at.x, (int) at.y };
    }
}

static MlForm *
symbol_form_named_at (const MlPiece *piece, const MlCircuit *circuit, const char *symbol, int turn, gboolean mirror, int cost, LabelSide side)
{
  const MlSymbolGeometry *geometry = ml_symbol_geometry (symbol);
  const MlCircuitPart *part = &circuit->parts[piece->part];
  MlPlace place = { 0, 0, turn, mirror };
  MlForm *form = ml_form_new (piece->n_pins, geometry->n_cores);
  guint i;

  form->symbol = geometry->name;
  form->turn = turn;
  form->mirror = mirror;
  form->cost = cost;
  for (i = 0; i < piece->n_pins; i++)
    {
      const MlSymbolPin *pin = geometry_pin (geometry, part->pins[piece->pins[i].pin].name);
      MlPoint at = ml_place_point (&place, pin == NULL ? 0 : pin->x, pin == NULL ? 0 : pin->y);
      form->pins[i] = (MlFormPin){ (int) at.x, (int) at.y, ml_place_side (&place, pin == NULL ? ML_SIDE_UP : pin->side) };
    }
  for (i = 0; i < geometry->n_cores; i++)
    form->cores[i] = placed_cells (&place, geometry->cores[i]);
  if (geometry->shape == ML_SHAPE_BOX)
    form->frame = form->cores[0];
  ml_form_finish (form, piece->n_pins);
  add_label_room (form, part, side);
  add_unused_leads (form, piece, part, geometry, &place);
  ml_form_flag_rooms (form, piece, circuit);
  ml_form_finish (form, piece->n_pins);
  return form;
}

static MlForm *
symbol_form (const MlPiece *piece, const MlCircuit *circuit, const char *symbol, int turn, gboolean mirror, int cost)
{
  return symbol_form_named_at (piece, circuit, symbol, turn, mirror, cost, label_side (piece->part_kind, turn, mirror));
}

MlForm *
ml_piece_form_named_left (MlPiece *piece, const MlCircuit *circuit, const MlForm *like)
{
  MlForm *form = symbol_form_named_at (piece, circuit, like->symbol, like->turn, like->mirror, like->cost, LABEL_LEFT);

  g_ptr_array_add (piece->forms, form);
  return form;
}

/* ---- two-terminal parts ---- */

typedef struct
{
  int net[2];
  double potential[2]; /* as far as it decides what is up */
  gboolean equal, upish[2], signal[2], control;
  gboolean series; /* from one box to another */
} Ends;

static gboolean
has_control (const MlCircuit *circuit, int net)
{
  guint i;

  for (i = 0; net >= 0 && i < circuit->nets[net].n_joints; i++)
    {
      MlCircuitJoint joint = circuit->nets[net].joints[i];
      if (ml_circuit_is_control (circuit->parts[joint.part].pins[joint.pin].word))
        return TRUE;
    }
  return FALSE;
}

static MlRail
rail_at (const MlCircuit *circuit, int net)
{
  return net < 0 ? ML_RAIL_NONE : circuit->nets[net].rail;
}

static int
hub_at (const MlCircuit *circuit, int net)
{
  guint i;

  for (i = 0; net >= 0 && circuit->nets[net].rail == ML_RAIL_NONE && i < circuit->nets[net].n_joints; i++)
    if (circuit->parts[circuit->nets[net].joints[i].part].is_hub)
      return circuit->nets[net].joints[i].part;
  return -1;
}

/* A rail overrules potentials; at equal potentials a resistor's collector end is the lower one. */
static Ends
ends_of (const MlPiece *piece, const MlCircuit *circuit)
{
  Ends ends = { 0 };
  MlRail a, b;
  double *v = ends.potential;
  int i;

  for (i = 0; i < 2; i++)
    {
      int net = ends.net[i] = piece->pins[i].net;
      v[i] = net < 0 ? 0.5 : circuit->nets[net].potential;
      ends.upish[i] = net >= 0 && (circuit->nets[net].rail == ML_RAIL_UP || circuit->nets[net].supply_plus);
      ends.signal[i] = rail_at (circuit, net) == ML_RAIL_NONE;
      ends.control |= ends.signal[i] && has_control (circuit, net);
    }
  a = rail_at (circuit, ends.net[0]);
  b = rail_at (circuit, ends.net[1]);
  if (a != b && !(ends.upish[0] && ends.upish[1]))
    {
      if (a == ML_RAIL_DOWN || b == ML_RAIL_UP)
        v[0] = MIN (v[0], v[1] - 0.01);
      else
        v[0] = MAX (v[0], v[1] + 0.01);
    }
  ends.series = hub_at (circuit, ends.net[0]) >= 0 && hub_at (circuit, ends.net[1]) >= 0;
  ends.equal = fabs (v[0] - v[1]) < 0.004;
  if (ends.equal && piece->part_kind == ML_KIND_RESISTOR)
    {
      gboolean first = ml_circuit_has_word (circuit, ends.net[0], ML_PIN_WORD_COLLECTOR, ML_PIN_WORD_DRAIN);
      gboolean second = ml_circuit_has_word (circuit, ends.net[1], ML_PIN_WORD_COLLECTOR, ML_PIN_WORD_DRAIN);
      if (first != second)
        {
          v[0] = first ? v[1] - 0.01 : v[1] + 0.01;
          ends.equal = FALSE;
        }
    }
  return ends;
}

static double
lying_cost (const Ends *ends, const MlCircuit *circuit)
{
  gboolean both = ends->signal[0] && ends->signal[1];

  if (both)
    return ends->control || ends->series ? 0 : 4;
  if (ends->signal[0] != ends->signal[1])
    return rail_at (circuit, ends->net[0]) == ML_RAIL_DOWN || rail_at (circuit, ends->net[1]) == ML_RAIL_DOWN ? 20 : 14;
  return 40;
}

/* Between two supply rails: chains lie, resistors stand. */
static double
between_rails_cost (const Ends *ends, MlKind kind, gboolean standing, gboolean right_way)
{
  gboolean stands = kind == ML_KIND_RESISTOR || kind == ML_KIND_ZENER;

  if (standing)
    return right_way ? (stands ? 0 : 3) : 12;
  return right_way ? (stands ? 3 : 0) : 4;
}

static double
two_terminal_cost (const MlPiece *piece, const MlCircuit *circuit, const Ends *ends, int turn)
{
  gboolean standing = (turn & 1) == 0, first_up = ends->potential[0] >= ends->potential[1];
  gboolean right_way = standing ? first_up == (turn == 0) : first_up == (turn == 3);
  MlKind kind = piece->part_kind;
  double cost = right_way ? 0 : standing ? 12 : 1;
  int top;

  if (ends->equal)
    cost = turn == 0 || turn == 3 ? 0 : (kind == ML_KIND_DIODE || kind == ML_KIND_LED) && turn == 2 ? 8 : 0.5;
  if (!standing)
    cost += lying_cost (ends, circuit);
  else if (ends->signal[0] && ends->signal[1] && (ends->control || ends->series))
    cost += 2;
  if (ends->upish[0] && ends->upish[1])
    cost = between_rails_cost (ends, kind, standing, right_way);
  top = turn == 0 ? ends->net[0] : turn == 2 ? ends->net[1] : -1;
  if (top >= 0 && circuit->nets[top].rail == ML_RAIL_DOWN
      && !(kind == ML_KIND_CAPACITOR && top == circuit->reference && rail_at (circuit, ends->net[0]) == rail_at (circuit, ends->net[1])))
    cost += 18;
  if (kind == ML_KIND_CAPACITOR && ends->signal[0] && ends->signal[1] && standing)
    cost += 3;
  return cost;
}

static void
list_two_terminal (MlPiece *piece, const MlCircuit *circuit)
{
  const char *symbol = ml_symbol_name (circuit->parts[piece->part].part, NULL, NULL);
  Ends ends = ends_of (piece, circuit);
  int turn;

  for (turn = 0; turn < 4; turn++)
    g_ptr_array_add (piece->forms, symbol_form (piece, circuit, symbol, turn, FALSE,
                                                ML_COST (two_terminal_cost (piece, circuit, &ends, turn))));
}

/* ---- everything else with a fixed outline ---- */

typedef struct { int turn; gboolean mirror; double cost; } Way;
static const Way transistor_ways[] = { { 0, 0, 0 }, { 0, 1, 11 }, { 2, 1, 12 }, { 2, 0, 14 }, { 3, 0, 13 }, { 1, 1, 15 } };
static const Way amplifier_ways[] = { { 0, 0, 0 }, { 0, 1, 22 } };
static const Way box_ways[] = { { 0, 0, 0 } };
static const Way bridge_ways[] = { { 0, 0, 0 }, { 0, 1, 0 }, { 1, 0, 2 } };
static const Way potentiometer_ways[]
    = { { 0, 0, 0 }, { 0, 1, 0.5 }, { 2, 0, 10 }, { 2, 1, 10 }, { 3, 0, 16 }, { 3, 1, 16 }, { 1, 0, 18 }, { 1, 1, 18 } };
static const Way contact_ways[] = { { 0, 0, 0 }, { 0, 1, 0 }, { 2, 0, 2 }, { 2, 1, 2 } };
static const Way other_ways[] = { { 0, 0, 0 }, { 0, 1, 0.5 }, { 2, 1, 2 }, { 2, 0, 2 } };
static const Way opto_ways[] = { { 0, 0, 0 }, { 0, 1, 22 } };

static const Way *
ways_of (MlKind kind, guint *ret_n)
{
#define WAYS(table) (*ret_n = G_N_ELEMENTS (table), table)
  if (ml_circuit_is_transistor (kind))
    return WAYS (transistor_ways);
  if (ml_circuit_is_amplifier (kind))
    return WAYS (amplifier_ways);
  if (ml_circuit_is_regulator (kind))
    return WAYS (box_ways);
  if (kind == ML_KIND_BRIDGE)
    return WAYS (bridge_ways);
  if (kind == ML_KIND_POTENTIOMETER)
    return WAYS (potentiometer_ways);
  if (kind == ML_KIND_CONTACT || kind == ML_KIND_CHANGEOVER)
    return WAYS (contact_ways);
  if (kind == ML_KIND_OPTO)
    return WAYS (opto_ways);
  return WAYS (other_ways);
#undef WAYS
}

/* The end at the higher potential goes on top. */
static double
upright_cost (const MlPiece *piece, const MlCircuit *circuit, const MlForm *form, const Way *way)
{
  int upper = -1, lower = -1, i;

  if (!ml_circuit_is_transistor (piece->part_kind) && piece->part_kind != ML_KIND_THYRISTOR && piece->part_kind != ML_KIND_SHUNT)
    return 0;
  for (i = 0; i < (int) piece->n_pins; i++)
    {
      if (form->pins[i].side == ML_SIDE_UP)
        upper = piece->pins[i].net;
      if (form->pins[i].side == ML_SIDE_DOWN)
        lower = piece->pins[i].net;
    }
  if (upper < 0 || lower < 0)
    return 0;
  if (circuit->nets[upper].potential < circuit->nets[lower].potential - 1e-6)
    return 10;
  return way->cost >= 12 && circuit->nets[upper].potential > circuit->nets[lower].potential + 1e-6 ? -9 : 0;
}

static void
list_outlined (MlPiece *piece, const MlCircuit *circuit)
{
  const char *symbol = ml_symbol_name (circuit->parts[piece->part].part, NULL, NULL);
  guint n, i;
  const Way *ways = ways_of (piece->part_kind, &n);

  for (i = 0; i < n; i++)
    {
      MlForm *form = symbol_form (piece, circuit, symbol, ways[i].turn, ways[i].mirror, 0);
      form->cost = ML_COST (ways[i].cost + upright_cost (piece, circuit, form, &ways[i]));
      g_ptr_array_add (piece->forms, form);
      if (ml_circuit_is_amplifier (piece->part_kind))
        g_ptr_array_add (piece->forms, symbol_form (piece, circuit, "opamp-plus-above", ways[i].turn, ways[i].mirror, form->cost));
    }
}

/* ---- terminals ---- */

static MlForm *
terminal_form (const MlPiece *piece, const MlCircuit *circuit, MlSide side, int cost)
{
  MlForm *form = ml_form_new (1, 1);
  MlPoint step = ml_side_step (side);
  const MlCircuitPart *part = &circuit->parts[piece->part];
  g_autofree char *name = ml_terminal_text (part, piece->pins[0].pin);
  int width = (int) ceil (MIN (ml_text_width (name, ML_TEXT_HEIGHT), ML_TEXT_WIDEST)) + 1, half = (width + 1) / 2;

  form->symbol = part->kind == ML_KIND_TESTPOINT ? "testpoint" : "terminal";
  form->turn = (int) side;
  form->cost = cost;
  form->pins[0] = (MlFormPin){ 0, 0, side };
  form->cores[0] = (MlCells){ -(int) step.x, -(int) step.y, -(int) step.x, -(int) step.y };
  if (side == ML_SIDE_RIGHT)
    ml_form_add_room (form, -width - 1, -1, 0, 1);
  else if (side == ML_SIDE_LEFT)
    ml_form_add_room (form, 0, -1, width + 1, 1);
  else if (side == ML_SIDE_DOWN)
    ml_form_add_room (form, -half, -2, half, 0);
  else
    ml_form_add_room (form, -half, 0, half, 2);
  ml_form_flag_rooms (form, piece, circuit);
  ml_form_finish (form, 1);
  return form;
}

char *
ml_terminal_text (const MlCircuitPart *part, int pin)
{
  if (part->n_pins == 1)
    return g_strdup (part->part->name);
  return g_strdup_printf ("%s:%s", part->part->name, part->pins[pin].name);
}

MlForm *
ml_piece_form_at (MlPiece *piece, const MlCircuit *circuit, const char *symbol, int turn, gboolean mirror)
{
  MlForm *form;
  guint i;

  for (i = 0; i < piece->forms->len; i++)
    {
      form = g_ptr_array_index (piece->forms, i);
      if (form->turn == turn && form->mirror == mirror && (symbol == NULL || strcmp (form->symbol, symbol) == 0))
        return form;
    }
  if (piece->is_box || piece->kind == ML_PIECE_TERMINAL || symbol == NULL || ml_symbol_geometry (symbol) == NULL)
    return g_ptr_array_index (piece->forms, 0);
  form = symbol_form (piece, circuit, symbol, turn, mirror, 0);
  g_ptr_array_add (piece->forms, form);
  return form;
}

/* ---- which way a terminal looks ---- */

typedef struct { MlSide side; double cost; } Facing;
static const Facing in_ways[] = { { ML_SIDE_RIGHT, 0 }, { ML_SIDE_LEFT, 6 }, { ML_SIDE_DOWN, 4 }, { ML_SIDE_UP, 0.5 } };
static const Facing out_ways[] = { { ML_SIDE_LEFT, 0 }, { ML_SIDE_RIGHT, 2 }, { ML_SIDE_UP, 1 }, { ML_SIDE_DOWN, 2 } };
static const Facing open_ways[] = { { ML_SIDE_RIGHT, 0 }, { ML_SIDE_LEFT, 0 }, { ML_SIDE_UP, 1 }, { ML_SIDE_DOWN, 2 } };
static const Facing point_ways[] = { { ML_SIDE_RIGHT, 0 }, { ML_SIDE_LEFT, 0.4 }, { ML_SIDE_DOWN, 0.2 }, { ML_SIDE_UP, 0.6 } };
static const Facing low_ways[] = { { ML_SIDE_DOWN, 0 }, { ML_SIDE_LEFT, 3 }, { ML_SIDE_RIGHT, 3 }, { ML_SIDE_UP, 8 } }; /* the flag hangs below the ring */
static const Facing high_ways[] = { { ML_SIDE_UP, 0 }, { ML_SIDE_LEFT, 3 }, { ML_SIDE_RIGHT, 3 }, { ML_SIDE_DOWN, 8 } }; /* the flag stands above it */

static const Facing *
facings_of (const MlPiece *piece, const MlCircuit *circuit)
{
  MlRail rail = rail_at (circuit, piece->pins[0].net);

  if (piece->part_kind == ML_KIND_TESTPOINT)
    return point_ways;
  if (rail == ML_RAIL_DOWN)
    return low_ways;
  if (piece->is_source)
    return in_ways;
  if (rail == ML_RAIL_UP)
    return high_ways;
  if (piece->pins[0].net >= 0 && piece->pins[0].score == 0 && !ml_circuit_is_driven (circuit, piece->pins[0].net))
    return open_ways;
  return out_ways;
}

static void
list_terminal (MlPiece *piece, const MlCircuit *circuit)
{
  const Facing *ways = facings_of (piece, circuit);
  guint i;

  for (i = 0; i < 4; i++)
    g_ptr_array_add (piece->forms, terminal_form (piece, circuit, ways[i].side, ML_COST (ways[i].cost)));
}

/* Sorted by word, the supply pins of an amplifier come last. */
static guint
n_own_pins (const MlCircuitPart *part)
{
  return part->supplied_by < 0 ? part->n_pins : part->n_pins - 2;
}

/* ---- the list ---- */

/* Pins of a chip whose nets run alike get one number. */
static void
list_likes (MlPiece *piece, const MlCircuit *circuit)
{
  guint i, k;

  for (i = 0; i < piece->n_pins; i++)
    {
      const MlPiecePin *pin = &piece->pins[i];
      piece->pins[i].rank = circuit->parts[pin->part].pins[pin->pin].pin;
      for (k = 0; k < i && pin->net >= 0 && circuit->nets[pin->net].rail == ML_RAIL_NONE && pin->like == 0; k++)
        if (piece->pins[k].net >= 0 && piece->pins[k].net != pin->net && circuit->nets[piece->pins[k].net].colour == circuit->nets[pin->net].colour)
          {
            piece->pins[k].like = piece->pins[i].like = piece->pins[k].like == 0 ? (int) k + 1 : piece->pins[k].like;
            piece->has_likes = TRUE;
          }
    }
}

static void
list_part (MlKit *kit, int part, const int *pulls)
{
  const MlCircuit *circuit = kit->circuit;
  const MlCircuitPart *from = &circuit->parts[part];
  MlPiece *piece;
  guint i;

  kit->plain_of_part[part] = (int) kit->plain->len;
  if (ml_connector_is_split (circuit, from))
    {
      for (i = 0; i < from->n_pins; i++)
        {
          piece = ml_piece_of_pins (circuit, pulls, part, ML_PIECE_TERMINAL, i, 1);
          list_terminal (piece, circuit);
          g_ptr_array_add (kit->plain, piece);
        }
      return;
    }
  piece = ml_piece_of_pins (circuit, pulls, part, ML_PIECE_PART, 0, n_own_pins (from));
  if (ml_circuit_is_free_box (from->kind))
    {
      piece->is_box = TRUE;
      piece->is_block = from->kind == ML_KIND_BLOCK;
      if (from->kind == ML_KIND_CONNECTOR)
        piece->pull = pulls[part];
      if (piece->is_block)
        list_likes (piece, circuit);
      ml_box_forms_list (piece, circuit);
    }
  else if (from->two_terminal)
    list_two_terminal (piece, circuit);
  else
    list_outlined (piece, circuit);
  g_ptr_array_add (kit->plain, piece);
}

void
ml_kit_list_pieces (MlKit *kit)
{
  g_autofree int *pulls = ml_connector_pulls (kit->circuit);
  guint i;

  for (i = 0; i < kit->circuit->n_parts; i++)
    list_part (kit, (int) i, pulls);
  for (i = 0; i < kit->plain->len; i++)
    {
      MlPiece *piece = g_ptr_array_index (kit->plain, i);
      piece->n_listed = piece->forms->len;
    }
}
