/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "verdict/chopped.h"

#include <string.h>

#define NOWHERE (-1)

/* ---- nets ---- */

static int
net_of (const MlPart *part, const char *pin)
{
  int i = ml_part_find_pin (part, pin);

  return i < 0 ? NOWHERE : part->pins[i].net;
}

static gboolean
is_supplied (const MlBoard *board, int net)
{
  for (guint c = 0; c < board->n_conditions; c++)
    for (guint i = 0; i < board->conditions[c].n_supplies; i++)
      if (board->conditions[c].supplies[i].plus == net || board->conditions[c].supplies[i].minus == net)
        return TRUE;
  return FALSE;
}

/* A capacitor, a battery or a regulator holds it. */
static gboolean
is_held (const MlPart *part, guint pin)
{
  switch (part->kind->kind)
    {
    case ML_KIND_CAPACITOR: case ML_KIND_BATTERY: return TRUE;
    case ML_KIND_REGULATOR: case ML_KIND_ADJUSTABLE: case ML_KIND_CONVERTER: return g_str_equal (part->pins[pin].name, "in") || g_str_equal (part->pins[pin].name, "out");
    default: return FALSE;
    }
}

gboolean
ml_chopped_is_stiff (const MlBoard *board, int net)
{
  if (net < 0 || net == board->reference || is_supplied (board, net))
    return TRUE;
  for (guint i = 0; i < board->n_parts; i++)
    for (guint p = 0; p < board->parts[i].n_pins; p++)
      if (board->parts[i].pins[p].net == net && is_held (&board->parts[i], p))
        return TRUE;
  return FALSE;
}

static gboolean
is_bare (const MlKind kind)
{
  return kind == ML_KIND_RESISTOR || kind == ML_KIND_LINK || kind == ML_KIND_FUSE;
}

/* Chops a net that nothing holds; TRUE when it was not yet. Marked nets are so whatever hangs on them. */
static gboolean
chop (MlChopped *own, const MlBoard *board, int net)
{
  if (net < 0 || own->nets[net] || ml_chopped_is_stiff (board, net))
    return FALSE;
  return own->nets[net] = TRUE;
}

static gboolean
is_chopped (const MlChopped *own, int net)
{
  return net >= 0 && own->nets[net];
}

/* Whether what flows there is in proportion to voltages, or nothing: then the law of the d.c. circuit holds for averages, too. */
static gboolean
keeps_averages (const MlPart *part, guint pin)
{
  switch (part->kind->kind)
    {
    case ML_KIND_RESISTOR: case ML_KIND_POTENTIOMETER: case ML_KIND_LINK: case ML_KIND_FUSE: case ML_KIND_INDUCTOR: case ML_KIND_COIL:
    case ML_KIND_SWITCH: case ML_KIND_CHANGEOVER: case ML_KIND_CONTACT: case ML_KIND_CAPACITOR: case ML_KIND_CONNECTOR: case ML_KIND_TESTPOINT:
      return TRUE;
    case ML_KIND_OPAMP: case ML_KIND_COMPARATOR: return strstr (part->pins[pin].name, "inverting") != NULL;
    case ML_KIND_NMOS: case ML_KIND_PMOS: return g_str_equal (part->pins[pin].name, "gate");
    default: return FALSE;
    }
}

/* A timing or coupling capacitor moves the net at its other end, unless something there holds it; by pulses, of which something there makes another
 * average. */
static gboolean
is_moved (const MlChopped *own, const MlBoard *board, int net)
{
  gboolean any = FALSE, bends = FALSE;

  if (net == board->reference || own->nets[net] || is_supplied (board, net))
    return FALSE;
  for (guint i = 0; i < board->n_parts; i++)
    for (guint p = 0; p < board->parts[i].n_pins; p++)
      {
        const MlPart *part = &board->parts[i];

        if (part->pins[p].net != net)
          continue;
        bends |= !keeps_averages (part, p);
        if (!is_held (part, p))
          continue;
        if (part->kind->kind != ML_KIND_CAPACITOR || part->n_pins != 2 || !is_chopped (own, part->pins[1 - p].net))
          return FALSE;
        any = TRUE;
      }
  return any && bends;
}

/* ---- transistors ---- */

typedef struct { const char *control, *from, *to; } Transistor; /* from, to: as its current flows */

static const Transistor *
transistor (const MlPart *part)
{
  static const Transistor npn = { "base", "collector", "emitter" }, pnp = { "base", "emitter", "collector" };
  static const Transistor nmos = { "gate", "drain", "source" }, pmos = { "gate", "source", "drain" };

  switch (part->kind->kind)
    {
    case ML_KIND_NPN: return &npn;
    case ML_KIND_PNP: return &pnp;
    case ML_KIND_NMOS: return &nmos;
    case ML_KIND_PMOS: return &pmos;
    default: return NULL;
    }
}

/* A net behind one resistor follows the pulses in front of it, when it is a transistor's input. */
static gboolean
reach_inputs (MlChopped *own, const MlBoard *board)
{
  gboolean any = FALSE;

  for (guint i = 0; i < board->n_parts; i++)
    {
      const Transistor *it = transistor (&board->parts[i]);
      int input = it ? net_of (&board->parts[i], it->control) : NOWHERE;

      for (guint k = 0; input >= 0 && !own->nets[input] && k < board->n_parts; k++)
        {
          const MlPart *bare = &board->parts[k];
          int a = is_bare (bare->kind->kind) && bare->n_pins == 2 ? bare->pins[0].net : NOWHERE, b = a < 0 ? NOWHERE : bare->pins[1].net;

          if ((a == input && is_chopped (own, b)) || (b == input && is_chopped (own, a)))
            any |= chop (own, board, input);
        }
    }
  return any;
}

/* The one bare part between a transistor's input and another chopped net; -1: none, or several. */
static int
drive_of (const MlChopped *own, const MlBoard *board, guint part)
{
  const Transistor *it = transistor (&board->parts[part]);
  int input = it ? net_of (&board->parts[part], it->control) : NOWHERE, found = NOWHERE;

  for (guint k = 0; input >= 0 && k < board->n_parts; k++)
    {
      const MlPart *bare = &board->parts[k];
      int a = is_bare (bare->kind->kind) && bare->n_pins == 2 ? bare->pins[0].net : NOWHERE, b = a < 0 ? NOWHERE : bare->pins[1].net;

      if ((a != input || !is_chopped (own, b)) && (b != input || !is_chopped (own, a)))
        continue;
      if (found >= 0 || a == b)
        return NOWHERE;
      found = (int) k;
    }
  return found;
}

/* A block, an amplifier or a transistor with its output there brings the pulses by itself. */
static gboolean
has_source (const MlBoard *board, int net)
{
  for (guint i = 0; i < board->n_parts; i++)
    for (guint p = 0; p < board->parts[i].n_pins; p++)
      {
        const Transistor *it = transistor (&board->parts[i]);
        MlKind kind = board->parts[i].kind->kind;

        if (board->parts[i].pins[p].net == net
            && (kind == ML_KIND_BLOCK || kind == ML_KIND_OPAMP || kind == ML_KIND_COMPARATOR || kind == ML_KIND_CAPACITOR
                || (it && !g_str_equal (board->parts[i].pins[p].name, it->control))))
          return TRUE;
      }
  return FALSE;
}

static gboolean
is_driven (const MlChopped *own, const MlPart *part)
{
  const Transistor *it = transistor (part);

  return it && (is_chopped (own, net_of (part, it->control)) || is_chopped (own, net_of (part, it->from)) || is_chopped (own, net_of (part, it->to)));
}

static gboolean
reach_outputs (MlChopped *own, const MlBoard *board)
{
  gboolean any = FALSE;

  for (guint i = 0; i < board->n_parts; i++)
    {
      const Transistor *it = transistor (&board->parts[i]);

      if (!it || !is_chopped (own, net_of (&board->parts[i], it->control)))
        continue;
      any |= chop (own, board, net_of (&board->parts[i], it->from));
      any |= chop (own, board, net_of (&board->parts[i], it->to));
    }
  return any;
}

/* ---- paths ---- */

static void
add_path (MlChopped *own, const MlBoard *board, guint part, int from, int to)
{
  MlChoppedPath path = { from, to };
  int net_a = from < 0 ? NOWHERE : board->parts[part].pins[from].net, net_b = to < 0 ? NOWHERE : board->parts[part].pins[to].net;

  if (net_a < 0 || net_b < 0 || net_a == net_b)
    return;
  if (!own->paths[part])
    own->paths[part] = g_array_new (FALSE, FALSE, sizeof (MlChoppedPath));
  g_array_append_val (own->paths[part], path);
}

/* An amplifier that chops its output, an oscillator's, sinks and gives on average what its inputs' averages do not tell; one with an open collector sinks. */
static void
add_amplifier (MlChopped *own, const MlBoard *board, guint i)
{
  const MlPart *part = &board->parts[i];
  int out = ml_part_find_pin (part, "out"), low = ml_part_find_pin (part, "negative"), high = ml_part_find_pin (part, "positive");

  if (!is_chopped (own, net_of (part, "out")))
    return;
  add_path (own, board, i, out, low);
  if (part->kind->kind == ML_KIND_OPAMP)
    add_path (own, board, i, high, out);
}

static void
add_part (MlChopped *own, const MlBoard *board, guint i)
{
  const MlPart *part = &board->parts[i];
  const Transistor *it = transistor (part);

  if (part->kind->kind == ML_KIND_OPAMP || part->kind->kind == ML_KIND_COMPARATOR)
    add_amplifier (own, board, i);

  if (it && is_driven (own, part))
    add_path (own, board, i, ml_part_find_pin (part, it->from), ml_part_find_pin (part, it->to));
  if (part->kind->kind == ML_KIND_DIODE && is_chopped (own, net_of (part, "anode")) != is_chopped (own, net_of (part, "cathode")))
    add_path (own, board, i, ml_part_find_pin (part, "anode"), ml_part_find_pin (part, "cathode"));
}

/* Whether something else than capacitors and free currents hangs on the net: two free currents alone would contradict each other. */
static gboolean
is_determined (const MlChopped *own, const MlBoard *board, int net)
{
  for (guint i = 0; i < board->n_parts; i++)
    for (guint p = 0; p < board->parts[i].n_pins && !own->paths[i]; p++)
      if (board->parts[i].pins[p].net == net && board->parts[i].kind->kind != ML_KIND_CAPACITOR && board->parts[i].kind->kind != ML_KIND_CONNECTOR
          && board->parts[i].kind->kind != ML_KIND_TESTPOINT)
        return TRUE;
  return net == board->reference || is_supplied (board, net);
}

/* A net between chopped parts alone goes to one rail and the other, and its average to wherever between them. */
static gboolean
drop_undetermined (MlChopped *own, const MlBoard *board)
{
  for (guint i = 0; i < board->n_parts; i++)
    {
      const MlChoppedPath *path = own->paths[i] ? &g_array_index (own->paths[i], MlChoppedPath, 0) : NULL;
      int nets[] = { path ? board->parts[i].pins[path->from].net : NOWHERE, path ? board->parts[i].pins[path->to].net : NOWHERE };
      gboolean any = FALSE;

      for (guint k = 0; k < G_N_ELEMENTS (nets); k++)
        if (path && !is_determined (own, board, nets[k]))
          {
            any = TRUE;
            own->moved[nets[k]] |= own->nets[nets[k]]; /* a converter's output keeps its voltage */
          }
      if (!any)
        continue;
      g_clear_pointer (&own->paths[i], g_array_unref);
      return TRUE;
    }
  return FALSE;
}

static gboolean
has_winding (const MlBoard *board, int net)
{
  for (guint i = 0; i < board->n_parts; i++)
    for (guint p = 0; p < board->parts[i].n_pins; p++)
      if (board->parts[i].pins[p].net == net && (board->parts[i].kind->kind == ML_KIND_COIL || board->parts[i].kind->kind == ML_KIND_INDUCTOR))
        return TRUE;
  return FALSE;
}

static gboolean
has_path (const MlChopped *own, const MlBoard *board, int net)
{
  for (guint i = 0; i < board->n_parts; i++)
    for (guint k = 0; own->paths[i] && k < own->paths[i]->len; k++)
      {
        const MlChoppedPath *path = &g_array_index (own->paths[i], MlChoppedPath, k);

        if (board->parts[i].pins[path->from].net == net || board->parts[i].pins[path->to].net == net)
          return TRUE;
      }
  return FALSE;
}

/* A chip that chops a coil with no diode beside it must let the current go on itself, from its ground or into its supply, against the average. */
static void
add_block (MlChopped *own, const MlBoard *board, guint i)
{
  const MlPart *part = &board->parts[i];

  for (guint p = 0; p < part->n_pins; p++)
    {
      int net = part->pins[p].net;

      if ((int) p == part->ground_pin || (int) p == part->supply_pin || part->ground_pin < 0 || !is_chopped (own, net) || !has_winding (board, net)
          || has_path (own, board, net))
        continue;
      add_path (own, board, i, part->ground_pin, (int) p);
      if (part->supply_pin >= 0)
        add_path (own, board, i, (int) p, part->supply_pin);
    }
}

MlChopped *
ml_chopped_find (const MlBoard *board)
{
  MlChopped *own = g_new0 (MlChopped, 1);

  own->nets = g_new0 (gboolean, MAX (board->n_nets, 1));
  own->moved = g_new0 (gboolean, MAX (board->n_nets, 1));
  own->paths = g_new0 (GArray *, MAX (board->n_parts, 1));
  own->drive = g_new (int, MAX (board->n_parts, 1));
  own->n_parts = board->n_parts;
  for (guint i = 0; i < board->n_nets; i++)
    own->nets[i] = board->nets[i].switching;
  while (reach_inputs (own, board) || reach_outputs (own, board))
    ;
  for (guint i = 0; i < board->n_nets; i++)
    own->moved[i] = is_moved (own, board, (int) i);
  for (guint i = 0; i < board->n_parts; i++)
    add_part (own, board, i);
  while (drop_undetermined (own, board))
    ;
  for (guint i = 0; i < board->n_parts; i++)
    if (board->parts[i].kind->kind == ML_KIND_BLOCK)
      add_block (own, board, i);
  for (guint i = 0; i < board->n_parts; i++)
    {
      const Transistor *it = transistor (&board->parts[i]);

      own->any |= own->paths[i] != NULL;
      own->drive[i] = it && !has_source (board, net_of (&board->parts[i], it->control)) ? drive_of (own, board, i) : NOWHERE;
    }
  return own;
}

void
ml_chopped_free (MlChopped *own)
{
  if (!own)
    return;
  for (guint i = 0; i < own->n_parts; i++)
    if (own->paths[i])
      g_array_unref (own->paths[i]);
  g_free (own->paths);
  g_free (own->drive);
  g_free (own->moved);
  g_free (own->nets);
  g_free (own);
}
