/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Signals run from left to right: levels by least squares over springs between driving and listening pins. */
#include "drawing/layout-drives.h"
#include "drawing/layout-sheet.h"

#include <math.h>

#define SWEEPS 300
#define LEVEL_STEP 9 /* g per level */

typedef enum { ROLE_NONE, ROLE_DRIVES, ROLE_LISTENS, ROLE_EMITS } Role;
typedef struct { int a, b; double separation, weight; } Spring;
typedef struct { int from, to; } Pair;

/* What pulls down a line that an output or a wiper drives only limits it: the signal does not begin there. */
static Role
role_of_transistor (const MlCircuit *circuit, const MlCircuitPart *part, int net, MlPinWord word)
{
  if (ml_circuit_is_control (word))
    return ROLE_LISTENS;
  if (word == ML_PIN_WORD_COLLECTOR || word == ML_PIN_WORD_DRAIN)
    return ml_circuit_has_word (circuit, net, ML_PIN_WORD_OUT, ML_PIN_WORD_WIPER) ? ROLE_NONE : ROLE_DRIVES;
  return ml_drive_is_follower (circuit, part, word) ? ROLE_DRIVES : ROLE_EMITS;
}

static Role
role_of (const MlSheet *sheet, MlPiecePinRef ref)
{
  const MlPiecePin *pin = &sheet->spots[ref.piece].piece->pins[ref.pin];
  const MlCircuitPart *part = &sheet->circuit->parts[pin->part];
  MlPinWord word = part->pins[pin->pin].word;
  MlKind kind = part->kind;

  if (kind == ML_KIND_BATTERY)
    return ROLE_DRIVES;
  if (kind == ML_KIND_BRIDGE)
    return word == ML_PIN_WORD_PLUS || word == ML_PIN_WORD_MINUS ? ROLE_DRIVES : ROLE_LISTENS;
  if (ml_circuit_is_regulator (kind))
    return word == ML_PIN_WORD_IN ? ROLE_LISTENS : word == ML_PIN_WORD_OUT ? ROLE_DRIVES : ROLE_NONE;
  if (ml_circuit_is_transistor (kind))
    return role_of_transistor (sheet->circuit, part, pin->net, word);
  if (ml_circuit_is_amplifier (kind))
    return ml_circuit_is_control (word) ? ROLE_LISTENS : word == ML_PIN_WORD_OUT ? ROLE_DRIVES : ROLE_NONE;
  if (kind == ML_KIND_OPTO)
    return word == ML_PIN_WORD_ANODE || word == ML_PIN_WORD_CATHODE ? ROLE_LISTENS : ROLE_DRIVES;
  if (kind == ML_KIND_CONTACT || kind == ML_KIND_CHANGEOVER)
    return word == ML_PIN_WORD_COMMON ? ROLE_LISTENS : ROLE_DRIVES;
  if (kind == ML_KIND_BLOCK || kind == ML_KIND_CONNECTOR)
    return pin->score > 0 ? ROLE_DRIVES : pin->score < 0 && kind == ML_KIND_BLOCK ? ROLE_LISTENS : ROLE_NONE;
  return ROLE_NONE;
}

static void
add_spring (GArray *springs, int a, int b, double separation, double weight)
{
  Spring spring = { a, b, separation, weight };

  if (a != b)
    g_array_append_val (springs, spring);
}

static MlKind
kind_at (const MlSheet *sheet, MlPiecePinRef ref)
{
  return sheet->circuit->parts[sheet->spots[ref.piece].piece->pins[ref.pin].part].kind;
}

static gboolean
has_other_pin_on_rail (const MlSheet *sheet, MlPiecePinRef ref)
{
  const MlPiece *piece = sheet->spots[ref.piece].piece;
  guint i;

  for (i = 0; i < piece->n_pins; i++)
    if ((int) i != ref.pin && piece->pins[i].net >= 0 && sheet->circuit->nets[piece->pins[i].net].rail != ML_RAIL_NONE)
      return TRUE;
  return FALSE;
}

/* On a rail only what makes it, to what hangs on it next: keeps supply chains in order. */
static void
rail_springs (const MlSheet *sheet, const MlSheetNet *net, GArray *springs)
{
  guint i, k;

  for (i = 0; i < net->n_pins; i++)
    {
      if (role_of (sheet, net->pins[i]) != ROLE_DRIVES)
        continue;
      for (k = 0; k < net->n_pins; k++)
        {
          MlKind kind = kind_at (sheet, net->pins[k]);
          if (ml_circuit_is_regulator (kind) || ml_circuit_is_transistor (kind) || kind == ML_KIND_BRIDGE || kind == ML_KIND_CAPACITOR
              || kind == ML_KIND_ZENER)
            add_spring (springs, net->pins[i].piece, net->pins[k].piece, 1, 0.12);
        }
    }
}

static void
pair_spring (const MlSheet *sheet, MlPiecePinRef a, MlPiecePinRef b, double weight, GArray *springs, GArray *pairs)
{
  Role role_a = role_of (sheet, a), role_b = role_of (sheet, b);
  Pair pair = { a.piece, b.piece };

  if (role_a == ROLE_DRIVES && role_b == ROLE_LISTENS)
    {
      add_spring (springs, a.piece, b.piece, 1, 2 * weight);
      if (a.piece != b.piece)
        g_array_append_val (pairs, pair);
    }
  else if (role_a == ROLE_DRIVES && (role_b == ROLE_NONE || role_b == ROLE_EMITS))
    {
      if (kind_at (sheet, b) == ML_KIND_CONNECTOR)
        add_spring (springs, a.piece, b.piece, 1.2, weight);
      else
        add_spring (springs, a.piece, b.piece,
                    has_other_pin_on_rail (sheet, b) && kind_at (sheet, a) != ML_KIND_BLOCK ? 0 : 0.6, weight);
    }
  else if ((role_a == ROLE_NONE || role_a == ROLE_EMITS) && role_b == ROLE_LISTENS)
    add_spring (springs, a.piece, b.piece, 0.7, weight);
}

static void
signal_springs (const MlSheet *sheet, const MlSheetNet *net, GArray *springs, GArray *pairs)
{
  double weight = 1.0 / MAX (1, (int) net->n_pins - 1);
  guint i, k;

  if (net->n_pins > 40)
    return;
  for (i = 0; i < net->n_pins; i++)
    for (k = 0; k < net->n_pins; k++)
      {
        Role role_i = role_of (sheet, net->pins[i]), role_k = role_of (sheet, net->pins[k]);
        gboolean loose = (role_i == ROLE_NONE || role_i == ROLE_EMITS) && (role_k == ROLE_NONE || role_k == ROLE_EMITS);
        if (i == k)
          continue;
        if (!loose)
          pair_spring (sheet, net->pins[i], net->pins[k], weight, springs, pairs);
        else if (k < i)
          add_spring (springs, net->pins[i].piece, net->pins[k].piece, 0, weight);
      }
}

static gboolean
is_anchored (const MlPiece *piece)
{
  return piece->is_supply_chain || piece->part_kind == ML_KIND_BATTERY || (piece->kind == ML_PIECE_TERMINAL && piece->is_source);
}

static void
relax_levels (const MlSheet *sheet, const GArray *springs, double *levels)
{
  GArray **of_spot = g_new (GArray *, MAX (sheet->n, 1));
  guint sweep, i, k;

  for (i = 0; i < sheet->n; i++)
    of_spot[i] = g_array_new (FALSE, FALSE, sizeof (guint));
  for (k = 0; k < springs->len; k++)
    {
      g_array_append_val (of_spot[g_array_index (springs, Spring, k).a], k);
      g_array_append_val (of_spot[g_array_index (springs, Spring, k).b], k);
    }
  for (sweep = 0; sweep < SWEEPS; sweep++)
    for (i = 0; i < sheet->n; i++)
      {
        double s = 0, w = is_anchored (sheet->spots[i].piece) ? 3 : 0;
        for (k = 0; k < of_spot[i]->len; k++)
          {
            Spring spring = g_array_index (springs, Spring, g_array_index (of_spot[i], guint, k));
            s += spring.weight * (spring.a == (int) i ? levels[spring.b] - spring.separation : levels[spring.a] + spring.separation);
            w += spring.weight;
          }
        if (w > 0)
          levels[i] = s / w;
      }
  for (i = 0; i < sheet->n; i++)
    g_array_unref (of_spot[i]);
  g_free (of_spot);
}

static gboolean
knows_pair (const GArray *flows, int piece)
{
  guint i;

  for (i = 0; i < flows->len; i++)
    if (g_array_index (flows, MlFlowTo, i).piece == piece)
      return TRUE;
  return FALSE;
}

static void
add_flow (MlSheet *sheet, int from, int to)
{
  MlFlowTo forth = { to, 1 }, back = { from, -1 };

  if (knows_pair (sheet->spots[from].flows, to))
    return;
  g_array_append_val (sheet->spots[from].flows, forth);
  g_array_append_val (sheet->spots[to].flows, back);
}

static void
add_level_flows (MlSheet *sheet, const double *levels)
{
  guint net, i, k;

  for (net = 0; net < sheet->n_nets; net++)
    {
      const MlSheetNet *of = &sheet->nets[net];
      if (of->rail != ML_RAIL_NONE || of->n_pins > 7)
        continue;
      for (i = 0; i < of->n_pins; i++)
        for (k = 0; k < of->n_pins; k++)
          if (levels[of->pins[k].piece] - levels[of->pins[i].piece] > 0.3)
            add_flow (sheet, of->pins[i].piece, of->pins[k].piece);
    }
}

static void
set_pull (MlSpot *spot)
{
  const MlPiece *piece = spot->piece;

  if (piece->is_reference_pair)
    spot->pull_x = ML_COST (0.25);
  else if (piece->is_supply_chain)
    {
      spot->pull_x = ML_COST (0.5);
      spot->pull_y = ML_COST (0.25);
    }
  else if (piece->part_kind == ML_KIND_BATTERY || piece->is_source)
    spot->pull_x = ML_COST (0.2);
  else if (piece->part_kind == ML_KIND_CONNECTOR && piece->kind != ML_PIECE_COMPOSITE)
    spot->pull_x = piece->pull < 0 ? -ML_COST (0.25) : piece->pull > 0 ? ML_COST (0.25) : 0;
}

void
ml_flow_find (MlSheet *sheet, int origin)
{
  GArray *springs = g_array_new (FALSE, FALSE, sizeof (Spring)), *pairs = g_array_new (FALSE, FALSE, sizeof (Pair));
  double *levels = g_new (double, MAX (sheet->n, 1));
  guint i;

  for (i = 0; i < sheet->n_nets; i++)
    if (sheet->nets[i].rail != ML_RAIL_NONE)
      rail_springs (sheet, &sheet->nets[i], springs);
    else
      signal_springs (sheet, &sheet->nets[i], springs, pairs);
  for (i = 0; i < sheet->n; i++)
    levels[i] = is_anchored (sheet->spots[i].piece) ? 0 : 2.0 + 0.01 * i;
  relax_levels (sheet, springs, levels);
  for (i = 0; i < pairs->len; i++)
    add_flow (sheet, g_array_index (pairs, Pair, i).from, g_array_index (pairs, Pair, i).to);
  add_level_flows (sheet, levels);
  for (i = 0; i < sheet->n; i++)
    {
      double level = CLAMP (levels[i], -20, 20);
      sheet->spots[i].wanted_x = origin + (int) floor (LEVEL_STEP * level + 0.5);
      set_pull (&sheet->spots[i]);
    }
  g_array_unref (springs);
  g_array_unref (pairs);
  g_free (levels);
}
