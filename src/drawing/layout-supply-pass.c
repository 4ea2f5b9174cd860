/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Transistors in the line of a supply, with what gives their bases and gates the voltage. */
#include "drawing/layout-supply.h"

/* A large capacitor to the reference holds the net. */
gboolean
ml_supply_is_held (const MlFinder *finder, int net)
{
  guint i;

  for (i = 0; i < ml_idiom_n_at (finder, net); i++)
    {
      MlCircuitJoint joint = finder->circuit->nets[net].joints[i];
      const MlCircuitPart *part = &finder->circuit->parts[joint.part];
      const MlCircuitPin *plus = ml_circuit_pin (part, ML_PIN_WORD_PLUS);
      if (part->kind == ML_KIND_CAPACITOR && plus != NULL && plus->net == net && ml_idiom_down (finder, ml_circuit_other (part, net)))
        return TRUE;
    }
  return FALSE;
}

/* The resistor that measures the current behind a pass transistor: from its emitter to a net or rail that a large capacitor holds; -1. */
static int
shunt_behind (const MlFinder *finder, int net)
{
  int piece, pin;
  guint i;

  for (i = 0; i < ml_idiom_n_at (finder, net); i++)
    if (ml_idiom_at (finder, net, i, &piece, &pin) && ml_idiom_kind (finder, piece) == ML_KIND_RESISTOR && ml_idiom_two (finder, piece)
        && !ml_idiom_down (finder, ml_idiom_other (finder, piece, net)) && ml_supply_is_held (finder, ml_idiom_other (finder, piece, net)))
      return piece;
  return -1;
}

/* An emitter follower whose collector hangs on a supply and whose emitter feeds a rail, or a held net. */
/* Its emitter drives the base of another that hangs on the same supply: the driver in a Darlington pair. */
static gboolean
drives_another (const MlFinder *finder, int in, int emitter)
{
  guint i;

  for (i = 0; i < ml_idiom_n_at (finder, emitter); i++)
    {
      MlCircuitJoint joint = finder->circuit->nets[emitter].joints[i];
      const MlCircuitPart *part = &finder->circuit->parts[joint.part];
      if (part->kind == ML_KIND_NPN && part->pins[joint.pin].word == ML_PIN_WORD_BASE && ml_circuit_has_pin_at (part, in))
        return TRUE;
    }
  return FALSE;
}

gboolean
ml_supply_is_pass (const MlFinder *finder, int i)
{
  const MlPiece *piece = ml_idiom_piece (finder, i);
  int in, out;

  if ((piece->part_kind != ML_KIND_NPN && piece->part_kind != ML_KIND_NMOS) || piece->n_pins != 3)
    return FALSE;
  in = piece->pins[0].net;
  out = piece->pins[2].net;
  return in != out && piece->pins[1].net >= 0 && piece->pins[1].net != in && ml_idiom_up (finder, in) && out >= 0 && !ml_idiom_down (finder, out)
         && !drives_another (finder, in, out)
         && (ml_idiom_up (finder, out) || ml_supply_is_held (finder, out) || shunt_behind (finder, out) >= 0);
}

/* The one unused part of two pins from a net to another that `fits`; -1. */
static int
part_from (const MlFinder *finder, int net, gboolean (*fits) (const MlFinder *finder, int piece, int other, int extra), int extra)
{
  int piece, pin;
  guint i;

  for (i = 0; i < ml_idiom_n_at (finder, net); i++)
    if (ml_idiom_at (finder, net, i, &piece, &pin) && ml_idiom_two (finder, piece)
        && fits (finder, piece, ml_idiom_other (finder, piece, net), extra))
      return piece;
  return -1;
}

static gboolean
is_resistor_to_low (const MlFinder *finder, int piece, int other, int unused)
{
  return ml_idiom_kind (finder, piece) == ML_KIND_RESISTOR && ml_idiom_down (finder, other);
}

/* A p-channel transistor between the line and a rail, or a held net, whose gate a resistor holds low: it saves the board from a supply the wrong way round,
 * or switches it. Where the line goes on behind it; -1: it is none. */
int
ml_supply_behind_guard (const MlFinder *finder, int i, int in)
{
  const MlPiece *piece = ml_idiom_piece (finder, i);
  int out;

  if (piece->part_kind != ML_KIND_PMOS || piece->n_pins != 3 || piece->pins[0].net == piece->pins[2].net
      || (piece->pins[0].net != in && piece->pins[2].net != in))
    return -1;
  out = piece->pins[piece->pins[0].net == in ? 2 : 0].net;
  if (out < 0 || ml_idiom_down (finder, out) || !(ml_idiom_up (finder, out) || ml_supply_is_held (finder, out)) || !ml_idiom_signal (finder, piece->pins[1].net)
      || part_from (finder, piece->pins[1].net, is_resistor_to_low, 0) < 0)
    return -1;
  return out;
}

/* `in` left, the other end right, base or gate below. */
static MlForm *
lying_between (const MlFinder *finder, int i, int in)
{
  const MlPiece *piece = ml_idiom_piece (finder, i);
  guint k, first = piece->pins[0].net == in ? 0 : 2;

  for (k = 0; k < piece->forms->len; k++)
    {
      MlForm *form = g_ptr_array_index (piece->forms, k);
      if (form->pins[first].side == ML_SIDE_LEFT && form->pins[1].side == ML_SIDE_DOWN && form->pins[2 - first].side == ML_SIDE_RIGHT)
        return form;
    }
  return NULL;
}

/* Collector left, emitter right, base below. */
static MlForm *
lying_transistor (const MlFinder *finder, int i)
{
  return lying_between (finder, i, ml_idiom_net (finder, i, 0));
}

static gboolean
is_resistor_to (const MlFinder *finder, int piece, int other, int net)
{
  return ml_idiom_kind (finder, piece) == ML_KIND_RESISTOR && other == net;
}

static gboolean
is_zener_to_low (const MlFinder *finder, int piece, int other, int unused)
{
  MlKind kind = ml_idiom_kind (finder, piece);

  return (kind == ML_KIND_ZENER || kind == ML_KIND_DIODE || kind == ML_KIND_LED) && ml_idiom_down (finder, other);
}

static gboolean
is_zener_to (const MlFinder *finder, int piece, int other, int net)
{
  return ml_idiom_kind (finder, piece) == ML_KIND_ZENER && other == net;
}

static void
put_standing (MlSupplyChain *chain, int piece, int net_above, int x, int y)
{
  MlForm *form = piece < 0 ? NULL : ml_idiom_standing (chain->finder, piece, net_above);

  if (form != NULL)
    ml_idiom_put (chain->finder, chain->list, piece, form, ml_idiom_pin_on (chain->finder, piece, net_above), x, y);
}

/* The transistor on the line's net whose emitter drives a base; -1. */
static int
driver_at (const MlSupplyChain *chain, int base)
{
  const MlFinder *finder = chain->finder;
  int piece, pin;
  guint i;

  for (i = 0; i < ml_idiom_n_at (finder, base); i++)
    if (ml_idiom_at (finder, base, i, &piece, &pin) && ml_circuit_is_transistor (ml_idiom_kind (finder, piece)) && pin == 2
        && ml_idiom_piece (finder, piece)->n_pins == 3 && ml_idiom_net (finder, piece, 0) == chain->net && lying_transistor (finder, piece) != NULL)
      return piece;
  return -1;
}

#define DRIVER_BELOW 5
#define BESIDE_DRIVER 2 /* g from the resistor that feeds the driver's base to its collector */

/* The transistor that drives the base of the first lies a step lower, what feeds its own base hangs before it; the resistor over the first's junction,
 * or from its base to the output, beside it. */
static void
put_darlington (MlSupplyChain *chain, int driver, int base, int emitter, int behind, int x)
{
  MlFinder *finder = chain->finder;
  int across = part_from (finder, base, is_resistor_to, emitter), feed;
  MlForm *form;

  if (across < 0 && behind >= 0)
    across = part_from (finder, base, is_resistor_to, behind);
  if (driver >= 0)
    {
      ml_idiom_put (finder, chain->list, driver, lying_transistor (finder, driver), 2, x, DRIVER_BELOW);
      feed = part_from (finder, ml_idiom_net (finder, driver, 1), is_resistor_to, chain->net);
      put_standing (chain, feed, chain->net, x - 4 - BESIDE_DRIVER, 0);
    }
  form = across < 0 ? NULL : ml_idiom_lying (finder, across, base);
  if (form != NULL)
    ml_idiom_put (finder, chain->list, across, form, ml_idiom_pin_on (finder, across, base), x + 4, DRIVER_BELOW);
}

#define GATE_HELD_BELOW 3 /* g under the gate: what protects the gate joins between */
#define GATE_GUARD_BEHIND 3 /* g */

/* The gate's resistor below the transistor, what protects the gate behind it. */
gboolean
ml_supply_put_guard (MlSupplyChain *chain, int i, int out)
{
  MlFinder *finder = chain->finder;
  int gate = ml_idiom_net (finder, i, 1), in_pin = ml_idiom_pin_on (finder, i, chain->net), zener;
  MlForm *form = lying_between (finder, i, chain->net);
  int across = form == NULL ? 0 : form->pins[1].x - form->pins[in_pin].x, down = form == NULL ? 0 : form->pins[1].y - form->pins[in_pin].y;

  if (form == NULL)
    return FALSE;
  ml_idiom_put (finder, chain->list, i, form, in_pin, chain->x, 0);
  put_standing (chain, part_from (finder, gate, is_resistor_to_low, 0), gate, chain->x + across, down + GATE_HELD_BELOW);
  chain->n_in_line++;
  chain->x += 4;
  zener = part_from (finder, gate, is_zener_to, ml_idiom_net (finder, i, 2));
  if (zener >= 0 && ml_idiom_net (finder, i, 2) == out)
    {
      put_standing (chain, zener, out, chain->x + GATE_GUARD_BEHIND, 0);
      chain->x += GATE_GUARD_BEHIND + 1 + ml_idiom_label_w (finder, zener);
    }
  chain->net = out;
  return TRUE;
}

void
ml_supply_put_back_diode (MlSupplyChain *chain, int in, int out, int x)
{
  MlFinder *finder = chain->finder;
  int piece, pin;
  guint i;

  for (i = 0; i < ml_idiom_n_at (finder, in); i++)
    if (ml_idiom_at (finder, in, i, &piece, &pin) && ml_idiom_kind (finder, piece) == ML_KIND_DIODE && ml_idiom_two (finder, piece) && pin == 1
        && ml_idiom_other (finder, piece, in) == out && ml_idiom_lying (finder, piece, in) != NULL)
      {
        ml_idiom_put (finder, chain->list, piece, ml_idiom_lying (finder, piece, in), pin, x + 2, -6);
        return;
      }
}

/* Before the pair: a resistor from the line to the driver's base, and its text. */
static int
room_before_driver (const MlSupplyChain *chain, int driver)
{
  const MlFinder *finder = chain->finder;
  int feed = part_from (finder, ml_idiom_net (finder, driver, 1), is_resistor_to, chain->net);

  return feed < 0 ? 0 : BESIDE_DRIVER + 3 + ml_idiom_label_w (finder, feed);
}

gboolean
ml_supply_put_pass (MlSupplyChain *chain, int i)
{
  MlFinder *finder = chain->finder;
  MlForm *form = lying_transistor (finder, i);
  int base = ml_idiom_net (finder, i, 1), in = chain->net, out = ml_idiom_net (finder, i, 2), x;
  int feed = part_from (finder, base, is_resistor_to, in), driver = feed < 0 ? driver_at (chain, base) : -1;
  int shunt = ml_idiom_up (finder, out) || ml_supply_is_held (finder, out) ? -1 : shunt_behind (finder, out);

  if (form == NULL)
    return FALSE;
  x = chain->x;
  if (feed >= 0)
    {
      int zener = part_from (finder, base, is_zener_to_low, 0);
      put_standing (chain, feed, chain->net, chain->x, 0);
      put_standing (chain, zener, base, chain->x, 6);
      chain->x += 2 + MAX (ml_idiom_label_w (finder, feed), zener < 0 ? 0 : ml_idiom_label_w (finder, zener) - 4);
    }
  if (driver >= 0)
    chain->x += room_before_driver (chain, driver);
  ml_idiom_put (finder, chain->list, i, form, 0, chain->x, 0);
  if (feed < 0)
    put_darlington (chain, driver, base, out, shunt < 0 ? -1 : ml_idiom_other (finder, shunt, out), chain->x + 1);
  chain->n_in_line++;
  chain->x += 4;
  chain->net = out;
  chain->after_regulator = TRUE;
  form = shunt < 0 ? NULL : ml_idiom_lying (finder, shunt, out);
  if (form != NULL)
    {
      chain->x += 3;
      ml_idiom_put (finder, chain->list, shunt, form, ml_idiom_pin_on (finder, shunt, out), chain->x, 0);
      chain->x += 4;
      chain->net = ml_idiom_other (finder, shunt, out);
    }
  ml_supply_put_back_diode (chain, in, chain->net, x);
  return TRUE;
}
