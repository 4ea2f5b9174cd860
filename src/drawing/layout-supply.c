/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The supply, from left to right: where it comes in, what lies in its line, what hangs on it. Never mirrored. */
#include "drawing/layout-supply.h"

#include <string.h>

#define MOST_HANGING 4
#define MOST_STEPS 12
#define GROUND_TERMINAL_BELOW 4 /* g */
#define NEGATIVE_BELOW 6        /* g: parts of a negative rail below those of the positive */


static gboolean
is_polar (const MlFinder *finder, int i)
{
  return strcmp (((MlForm *) g_ptr_array_index (ml_idiom_piece (finder, i)->forms, 0))->symbol, "capacitor-polar") == 0;
}

/* Of a connector drawn pin by pin, the terminal on the reference stands below the one on the supply. */
static void
put_ground_terminal (MlSupplyChain *chain, int source)
{
  MlFinder *finder = chain->finder;
  guint i, k;

  for (i = 0; i < finder->kit->plain->len; i++)
    {
      MlPiece *piece = ml_idiom_piece (finder, (int) i);
      if (piece->kind != ML_PIECE_TERMINAL || piece->part != ml_idiom_piece (finder, source)->part || finder->used[i]
          || piece->pins[0].net != finder->reference)
        continue;
      for (k = 0; k < piece->forms->len; k++)
        {
          MlForm *form = g_ptr_array_index (piece->forms, k);
          if (form->pins[0].side != ML_SIDE_DOWN)
            continue;
          ml_idiom_put (finder, chain->list, (int) i, form, 0, 0, GROUND_TERMINAL_BELOW);
          return;
        }
    }
}

/* A connector with the plus pin upper, or a terminal. */
static void
put_source (MlSupplyChain *chain)
{
  MlFinder *finder = chain->finder;
  guint i, k, f;

  for (i = 0; i < finder->kit->plain->len; i++)
    {
      MlPiece *piece = ml_idiom_piece (finder, (int) i);
      if (piece->part_kind != ML_KIND_CONNECTOR && piece->part_kind != ML_KIND_BATTERY)
        continue;
      for (k = 0; k < piece->n_pins; k++)
        {
          MlForm *best = NULL;
          if (piece->pins[k].net != chain->net)
            continue;
          for (f = 0; f < piece->forms->len; f++)
            {
              MlForm *form = g_ptr_array_index (piece->forms, f);
              if (form->pins[k].side == (piece->part_kind == ML_KIND_BATTERY ? ML_SIDE_UP : ML_SIDE_RIGHT)
                  && (best == NULL || form->pins[k].y < best->pins[k].y || (form->pins[k].y == best->pins[k].y && form->cost < best->cost)))
                best = form;
            }
          if (best == NULL)
            continue;
          ml_idiom_put (finder, chain->list, (int) i, best, (int) k, 0, 0);
          chain->has_source = TRUE;
          chain->n_in_line++;
          if (piece->kind == ML_PIECE_TERMINAL)
            put_ground_terminal (chain, (int) i);
          if (piece->part_kind == ML_KIND_BATTERY)
            chain->x = 3 + ml_idiom_label_w (finder, (int) i);
          return;
        }
    }
}

/* Blocks, beside which a small capacitor stands well; amplifiers, whose supply pins lie between their wires, leave theirs to the supply's line. */
static guint
n_chips_on (const MlFinder *finder, int net)
{
  guint i, n = 0;

  for (i = 0; i < ml_idiom_n_at (finder, net); i++)
    n += finder->circuit->parts[finder->circuit->nets[net].joints[i].part].kind == ML_KIND_BLOCK;
  return n;
}

/* ---- the line ---- */

static gboolean
lies_in_line (MlKind kind)
{
  return kind == ML_KIND_FUSE || kind == ML_KIND_DIODE || kind == ML_KIND_INDUCTOR || kind == ML_KIND_LINK || kind == ML_KIND_SWITCH;
}

#define MOST_ON_THE_WAY_OUT 3

/* Behind the part, through fuses and their like, comes a connector: the supply leaves the board there. */
static gboolean
leads_out (const MlFinder *finder, int net, int from, int depth)
{
  guint i;

  for (i = 0; i < ml_idiom_n_at (finder, net); i++)
    {
      MlCircuitJoint joint = finder->circuit->nets[net].joints[i];
      int piece = finder->kit->plain_of_part[joint.part];
      MlKind kind = finder->circuit->parts[joint.part].kind;
      if (kind == ML_KIND_CONNECTOR && ml_idiom_piece (finder, piece)->pull < 0)
        return TRUE;
      if (depth > 0 && piece != from && lies_in_line (kind) && ml_idiom_two (finder, piece)
          && ml_idiom_signal (finder, ml_idiom_other (finder, piece, net))
          && leads_out (finder, ml_idiom_other (finder, piece, net), piece, depth - 1))
        return TRUE;
    }
  return FALSE;
}

/* The line goes on there, to a regulator or to what a large capacitor holds. */
static gboolean
goes_on (const MlFinder *finder, int net)
{
  guint i;

  for (i = 0; i < ml_idiom_n_at (finder, net); i++)
    {
      MlCircuitJoint joint = finder->circuit->nets[net].joints[i];
      const MlCircuitPart *part = &finder->circuit->parts[joint.part];
      if (ml_circuit_is_regulator (part->kind) && part->pins[joint.pin].word == ML_PIN_WORD_IN)
        return TRUE;
    }
  return ml_supply_is_held (finder, net);
}

/* A resistor that alone feeds a rail which a large capacitor or a zener holds. */
static gboolean
is_filter_resistor (const MlFinder *finder, int i, int rail)
{
  gboolean held = FALSE;
  guint k;

  if (ml_idiom_kind (finder, i) != ML_KIND_RESISTOR || !ml_idiom_up (finder, rail) || finder->circuit->nets[rail].supply_plus)
    return FALSE;
  for (k = 0; k < ml_idiom_n_at (finder, rail); k++)
    {
      MlCircuitJoint joint = finder->circuit->nets[rail].joints[k];
      const MlCircuitPart *part = &finder->circuit->parts[joint.part];
      int other = part->two_terminal ? ml_circuit_other (part, rail) : -1;
      MlPinWord word = part->pins[joint.pin].word;
      if (word == ML_PIN_WORD_OUT || ((word == ML_PIN_WORD_EMITTER || word == ML_PIN_WORD_SOURCE) && ml_circuit_is_transistor (part->kind)))
        return FALSE;
      if (other >= 0 && ml_idiom_up (finder, other) && finder->kit->plain_of_part[joint.part] != i)
        return FALSE;
      held |= other >= 0 && ml_idiom_down (finder, other)
              && (part->kind == ML_KIND_ZENER || (part->kind == ML_KIND_CAPACITOR && word == ML_PIN_WORD_PLUS));
    }
  return held;
}

/* A resistor that takes some of a regulator's heat, or filters before it: behind it comes nothing but the regulator and its capacitors. */
static gboolean
is_before_regulator (const MlFinder *finder, int i, int net)
{
  gboolean regulator = FALSE;
  guint k;

  if (ml_idiom_kind (finder, i) != ML_KIND_RESISTOR)
    return FALSE;
  for (k = 0; k < ml_idiom_n_at (finder, net); k++)
    {
      MlCircuitJoint joint = finder->circuit->nets[net].joints[k];
      const MlCircuitPart *part = &finder->circuit->parts[joint.part];
      if (ml_circuit_is_regulator (part->kind) && part->pins[joint.pin].word == ML_PIN_WORD_IN)
        regulator = TRUE;
      else if (finder->kit->plain_of_part[joint.part] != i && part->kind != ML_KIND_CAPACITOR)
        return FALSE;
    }
  return regulator;
}

/* What comes next in the line: a regulator or a pass transistor, else a fuse, inductor or link, else a diode the right way round, else a
 * resistor before a rail of its own or a regulator. */
static int
next_in_line (const MlSupplyChain *chain)
{
  const MlFinder *finder = chain->finder;
  int best = -1, best_rank = 9, piece, pin;
  guint i;

  for (i = 0; i < ml_idiom_n_at (finder, chain->net); i++)
    {
      MlKind kind;
      int other, rank;
      if (!ml_idiom_at (finder, chain->net, i, &piece, &pin))
        continue;
      kind = ml_idiom_kind (finder, piece);
      if (ml_circuit_is_regulator (kind))
        rank = ml_idiom_net_of_word (finder, piece, ML_PIN_WORD_IN) == chain->net && ml_idiom_net_of_word (finder, piece, ML_PIN_WORD_OUT) >= 0
                   ? 0
                   : 9;
      else if ((pin == 0 && ml_supply_is_pass (finder, piece)) || ml_supply_behind_guard (finder, piece, chain->net) >= 0)
        rank = 0;
      else
        {
          if (!ml_idiom_two (finder, piece))
            continue;
          other = ml_idiom_other (finder, piece, chain->net);
          if (!lies_in_line (kind) && !is_filter_resistor (finder, piece, other) && !is_before_regulator (finder, piece, other))
            continue;
          if (ml_idiom_down (finder, other) || (kind == ML_KIND_DIODE && pin != 0))
            continue;
          if (kind == ML_KIND_SWITCH && !ml_idiom_up (finder, other) && ml_idiom_n_at (finder, chain->net) > 3)
            continue;
          if (ml_idiom_signal (finder, other) && ml_idiom_n_at (finder, chain->net) > 3
              && !goes_on (finder, other) && !leads_out (finder, other, piece, MOST_ON_THE_WAY_OUT))
            continue;
          rank = kind == ML_KIND_RESISTOR ? 3 : kind == ML_KIND_DIODE ? 2 : 1;
        }
      if (rank < best_rank)
        {
          best_rank = rank;
          best = piece;
        }
    }
  return best;
}

/* Parts from the line down to a lower rail: bulk capacitors and suppressors here, small capacitors to the chips they serve. */
static guint
list_hanging (const MlSupplyChain *chain, int next, int *ret_pieces)
{
  const MlFinder *finder = chain->finder;
  int others[64], bulk[64], small[64], piece, pin;
  guint n_others = 0, n_bulk = 0, n_small = 0, i, n = 0, n_chips = n_chips_on (finder, chain->net), keep;
  gboolean to_regulator = next >= 0 && ml_circuit_is_regulator (ml_idiom_kind (finder, next));

  for (i = 0; i < ml_idiom_n_at (finder, chain->net); i++)
    {
      MlKind kind;
      if (!ml_idiom_at (finder, chain->net, i, &piece, &pin) || !ml_idiom_two (finder, piece)
          || !ml_idiom_down (finder, ml_idiom_other (finder, piece, chain->net)))
        continue;
      kind = ml_idiom_kind (finder, piece);
      if (kind == ML_KIND_CAPACITOR && is_polar (finder, piece) && n_bulk < 64)
        bulk[n_bulk++] = piece;
      else if (kind == ML_KIND_CAPACITOR && n_small < 64)
        small[n_small++] = piece;
      else if ((kind == ML_KIND_TVS || kind == ML_KIND_VARISTOR || kind == ML_KIND_ZENER || (kind == ML_KIND_DIODE && pin == 1))
               && ml_idiom_up (finder, chain->net) && n_others < 64)
        others[n_others++] = piece;
    }
  if (chain->after_regulator && n_small > 0 && n_bulk == 0)
    keep = 1;
  else if (n_chips == 0 || (to_regulator && n_chips == 0))
    keep = n_small;
  else
    keep = n_small > n_chips ? n_small - n_chips : 0;
  for (i = 0; i < n_others && n < MOST_HANGING; i++)
    ret_pieces[n++] = others[i];
  for (i = 0; i < n_bulk && n < MOST_HANGING; i++)
    ret_pieces[n++] = bulk[i];
  for (i = 0; i < keep && n < MOST_HANGING; i++)
    ret_pieces[n++] = small[i];
  return n;
}

static int
first_supply (const MlCircuit *circuit)
{
  int plus;
  guint i;

  for (i = 0; circuit->condition == NULL && i < circuit->n_parts; i++)
    if (circuit->parts[i].kind == ML_KIND_BATTERY)
      return ml_circuit_pin (&circuit->parts[i], ML_PIN_WORD_PLUS) == NULL ? -1 : ml_circuit_pin (&circuit->parts[i], ML_PIN_WORD_PLUS)->net;
  if (circuit->condition == NULL)
    return -1;
  plus = circuit->condition->supplies[0].plus;
  return plus < 0 ? -1 : circuit->net_of_board[plus];
}

/* A capacitor from the reference down to a negative rail that no other piece has. */
static int
negative_capacitor (const MlFinder *finder, gboolean polar)
{
  int piece, pin;
  guint i;

  for (i = 0; finder->reference >= 0 && i < ml_idiom_n_at (finder, finder->reference); i++)
    if (ml_idiom_at (finder, finder->reference, i, &piece, &pin) && ml_idiom_kind (finder, piece) == ML_KIND_CAPACITOR
        && ml_idiom_two (finder, piece) && ml_idiom_down (finder, ml_idiom_other (finder, piece, finder->reference))
        && is_polar (finder, piece) == polar)
      return piece;
  return -1;
}

/* Where a supply below the reference comes in; -1. */
static int
negative_entry (const MlFinder *finder)
{
  const MlCondition *condition = finder->circuit->condition;
  guint i;

  for (i = 0; condition != NULL && i < condition->n_supplies; i++)
    if (condition->supplies[i].plus >= 0 && condition->supplies[i].minus >= 0
        && finder->circuit->net_of_board[condition->supplies[i].plus] == finder->reference)
      return finder->circuit->net_of_board[condition->supplies[i].minus];
  return -1;
}

/* A part in the line of the first supply has its fellow in that of a negative one, level with the feet of the capacitors. */
static void
put_negative_in_line (MlSupplyChain *chain, int fellow, int x)
{
  MlFinder *finder = chain->finder;
  int entry = negative_entry (finder), piece, pin;
  guint i;

  for (i = 0; i < ml_idiom_n_at (finder, entry); i++)
    {
      MlForm *form;
      if (!ml_idiom_at (finder, entry, i, &piece, &pin) || !ml_idiom_two (finder, piece)
          || ml_idiom_kind (finder, piece) != ml_idiom_kind (finder, fellow) || !ml_idiom_down (finder, ml_idiom_other (finder, piece, entry))
          || ml_idiom_other (finder, piece, entry) == finder->reference)
        continue;
      form = ml_idiom_lying (finder, piece, entry);
      if (form == NULL)
        return;
      ml_idiom_put (finder, chain->list, piece, form, ml_idiom_pin_on (finder, piece, entry), x, NEGATIVE_BELOW + 4);
      chain->has_negative = TRUE;
      return;
    }
}

/* Where supplies come in, the capacitor of a negative rail stands under its fellow of the positive. */
static void
put_negative (MlSupplyChain *chain, int fellow)
{
  MlFinder *finder = chain->finder;
  int piece = ml_idiom_kind (finder, fellow) == ML_KIND_CAPACITOR ? negative_capacitor (finder, is_polar (finder, fellow)) : -1;
  MlForm *form = piece < 0 ? NULL : ml_idiom_standing (finder, piece, finder->reference);

  if (form != NULL)
    ml_idiom_put (finder, chain->list, piece, form, ml_idiom_pin_on (finder, piece, finder->reference), chain->x, NEGATIVE_BELOW);
}

static gboolean
hang (MlSupplyChain *chain, const int *pieces, guint n)
{
  MlFinder *finder = chain->finder;
  gboolean started = FALSE;
  guint i;

  for (i = 0; i < n; i++)
    {
      MlForm *form = ml_idiom_standing (finder, pieces[i], chain->net);
      if (form == NULL)
        continue;
      if (!started)
        chain->x += chain->n_in_line == 1 ? 5 : chain->n_in_line > 1 ? 3 : 0;
      ml_idiom_put (finder, chain->list, pieces[i], form, ml_idiom_pin_on (finder, pieces[i], chain->net), chain->x, 0);
      chain->n_in_line++;
      if (chain->has_negative || chain->net == first_supply (finder->circuit))
        put_negative (chain, pieces[i]);
      chain->x += 3 + ml_idiom_label_w (finder, pieces[i]);
      started = TRUE;
    }
  return started;
}

/* An adjustable regulator's two resistors stand in a column right of its output, the lower one 6 below. */
static void
put_adjusting (MlSupplyChain *chain, int adjust)
{
  MlFinder *finder = chain->finder;
  int upper = -1, lower[2] = { -1, -1 }, piece, pin, x;
  guint i, n_lower = 0;

  for (i = 0; i < ml_idiom_n_at (finder, adjust); i++)
    {
      MlKind kind;
      if (!ml_idiom_at (finder, adjust, i, &piece, &pin))
        continue;
      kind = ml_idiom_kind (finder, piece);
      if (ml_idiom_two (finder, piece) && ml_idiom_other (finder, piece, adjust) == chain->net && kind == ML_KIND_RESISTOR && upper < 0)
        upper = piece;
      else if (((ml_idiom_two (finder, piece) && ml_idiom_down (finder, ml_idiom_other (finder, piece, adjust)))
                || (kind == ML_KIND_POTENTIOMETER && pin < 2))
               && n_lower < 2)
        lower[n_lower++] = piece;
    }
  if (n_lower == 2 && ml_idiom_kind (finder, lower[0]) == ML_KIND_CAPACITOR)
    {
      piece = lower[0];
      lower[0] = lower[1];
      lower[1] = piece;
    }
  if (upper < 0 || n_lower == 0 || ml_idiom_standing (finder, upper, chain->net) == NULL)
    return;
  x = chain->x += 3;
  ml_idiom_put (finder, chain->list, upper, ml_idiom_standing (finder, upper, chain->net), ml_idiom_pin_on (finder, upper, chain->net), x, 0);
  for (i = 0; i < n_lower; i++)
    {
      MlForm *form = ml_idiom_hanging_from (finder, lower[i], adjust, TRUE);
      if (form == NULL)
        continue;
      ml_idiom_put (finder, chain->list, lower[i], form, ml_idiom_pin_on (finder, lower[i], adjust), x, 6);
      x += 5 + ml_idiom_label_w (finder, lower[i]);
    }
  chain->x = MAX (chain->x + 3 + ml_idiom_label_w (finder, upper), x - 2);
}

static gboolean
put_next (MlSupplyChain *chain, int next, gboolean hung)
{
  MlFinder *finder = chain->finder;
  MlForm *form;
  int wide, other;

  if (!hung && chain->n_in_line > 0)
    chain->x += 3;
  if (ml_supply_behind_guard (finder, next, chain->net) >= 0)
    return ml_supply_put_guard (chain, next, ml_supply_behind_guard (finder, next, chain->net));
  if (ml_circuit_is_transistor (ml_idiom_kind (finder, next)))
    return ml_supply_put_pass (chain, next);
  if (ml_circuit_is_regulator (ml_idiom_kind (finder, next)))
    {
      int out = ml_idiom_net_of_word (finder, next, ML_PIN_WORD_OUT), adjust = ml_idiom_net_of_word (finder, next, ML_PIN_WORD_ADJUST);
      form = g_ptr_array_index (ml_idiom_piece (finder, next)->forms, 0);
      ml_idiom_put (finder, chain->list, next, form, ml_idiom_pin_on (finder, next, chain->net), chain->x, 0);
      chain->n_in_line++;
      ml_supply_put_back_diode (chain, chain->net, out, chain->x);
      chain->x += 8;
      chain->net = out;
      chain->after_regulator = TRUE;
      if (adjust >= 0)
        put_adjusting (chain, adjust);
      return TRUE;
    }
  form = ml_idiom_lying (finder, next, chain->net);
  if (form == NULL)
    return FALSE;
  wide = MAX (0, ml_idiom_label_w (finder, next) - 6) / 2;
  other = ml_idiom_other (finder, next, chain->net);
  ml_idiom_put (finder, chain->list, next, form, ml_idiom_pin_on (finder, next, chain->net), chain->x + wide, 0);
  if (chain->net == first_supply (finder->circuit))
    put_negative_in_line (chain, next, chain->x + wide);
  chain->n_in_line++;
  chain->x += 4 + 2 * wide;
  chain->net = other;
  chain->after_regulator = FALSE;
  return TRUE;
}

/* A bridge in one case: plus to the right at (0,0), the feed from the left. */
static gboolean
put_bridge (MlSupplyChain *chain)
{
  MlFinder *finder = chain->finder;
  guint i;

  for (i = 0; i < finder->kit->plain->len; i++)
    {
      int plus;
      MlForm *form;
      if (ml_idiom_kind (finder, (int) i) != ML_KIND_BRIDGE)
        continue;
      plus = ml_idiom_net_of_word (finder, (int) i, ML_PIN_WORD_PLUS);
      form = ml_piece_form_at (ml_idiom_piece (finder, (int) i), finder->circuit, "bridge", 1, FALSE);
      if (plus < 0 || form == NULL || !ml_idiom_up (finder, plus))
        continue;
      ml_idiom_put (finder, chain->list, (int) i, form, ml_idiom_pin_on (finder, (int) i, plus), 0, 0);
      chain->n_in_line++;
      chain->net = plus;
      return TRUE;
    }
  return FALSE;
}

/* Of a bridge of four single diodes the net where two anodes (pin 0) or two cathodes (pin 1) meet; -1 when it is none. */
static int
net_where_two_meet (const MlFinder *finder, const MlPiece *composite, int pin)
{
  guint i, k;

  for (i = 0; i < composite->n_members && composite->n_members == 4; i++)
    for (k = 0; k < i; k++)
      if (ml_idiom_kind (finder, composite->members[i]) == ML_KIND_DIODE && ml_idiom_kind (finder, composite->members[k]) == ML_KIND_DIODE
          && ml_idiom_net (finder, composite->members[i], pin) == ml_idiom_net (finder, composite->members[k], pin))
        return ml_idiom_net (finder, composite->members[i], pin);
  return -1;
}

/* One that feeds a rail begins the supply, even where the line does not go on in its row. */
static MlPiece *
feeding_diamond (const MlFinder *finder)
{
  guint i;

  for (i = 0; i < finder->kit->composites->len; i++)
    if (ml_idiom_up (finder, net_where_two_meet (finder, g_ptr_array_index (finder->kit->composites, i), 1)))
      return g_ptr_array_index (finder->kit->composites, i);
  return NULL;
}

#define DIAMOND_REACH 8 /* g from its plus past its right corner */

/* One whose minus is the reference: its members with their plus at (0,0), the composite itself dissolved. */
static gboolean
put_diamond (MlSupplyChain *chain)
{
  MlFinder *finder = chain->finder;
  guint i, k, n = 0;

  for (i = 0; i < finder->kit->composites->len; i++)
    {
      MlPiece *composite = g_ptr_array_index (finder->kit->composites, i);
      const MlForm *form = g_ptr_array_index (composite->forms, 0);
      int plus = net_where_two_meet (finder, composite, 1);
      if (!ml_idiom_up (finder, plus) || net_where_two_meet (finder, composite, 0) != finder->reference)
        continue;
      for (n = 0; composite->pins[n].net != plus;)
        n++;
      for (k = 0; k < form->n_members; k++)
        {
          MlMember member = form->members[k];
          member.dx -= form->pins[n].x;
          member.dy -= form->pins[n].y;
          g_array_append_val (chain->list, member);
        }
      g_ptr_array_remove_index (finder->kit->composites, i);
      chain->n_in_line = 2;
      chain->x = DIAMOND_REACH;
      chain->net = plus;
      return TRUE;
    }
  return FALSE;
}

#define LONGEST_TO_SINK 60 /* g: beyond, the connector had better stand wherever there is room */

/* Where the line ends in an output's connector, that stands at its end. */
static void
put_sink (MlSupplyChain *chain)
{
  MlFinder *finder = chain->finder;
  MlForm *best = NULL;
  int piece, pin;
  guint i, f;

  if (chain->n_in_line == 0 || chain->x > LONGEST_TO_SINK || ml_idiom_up (finder, chain->net))
    return;
  for (i = 0; i < ml_idiom_n_at (finder, chain->net) && best == NULL; i++)
    {
      if (!ml_idiom_at (finder, chain->net, i, &piece, &pin) || ml_idiom_kind (finder, piece) != ML_KIND_CONNECTOR
          || ml_idiom_piece (finder, piece)->pull >= 0)
        continue;
      for (f = 0; f < ml_idiom_piece (finder, piece)->forms->len; f++)
        {
          MlForm *form = g_ptr_array_index (ml_idiom_piece (finder, piece)->forms, f);
          if (form->pins[pin].side == ML_SIDE_LEFT
              && (best == NULL || form->pins[pin].y < best->pins[pin].y || (form->pins[pin].y == best->pins[pin].y && form->cost < best->cost)))
            best = form;
        }
      if (best != NULL)
        ml_idiom_put (finder, chain->list, piece, best, pin, chain->x + 3, 0);
    }
}

/* The line onwards: what hangs on it, what comes next. */
static void
follow (MlSupplyChain *chain)
{
  int step;

  for (step = 0; step < MOST_STEPS; step++)
    {
      int next = next_in_line (chain), pieces[MOST_HANGING];
      guint n = list_hanging (chain, next, pieces);
      gboolean hung = hang (chain, pieces, n);
      if (next < 0 || chain->finder->used[next] || !put_next (chain, next, hung))
        break;
    }
  put_sink (chain);
}

/* The net at which such a part takes its supply; -1: it is none. */
static int
fed_at (const MlFinder *finder, int i)
{
  if (ml_circuit_is_regulator (ml_idiom_kind (finder, i)))
    return ml_idiom_net_of_word (finder, i, ML_PIN_WORD_OUT) < 0 ? -1 : ml_idiom_net_of_word (finder, i, ML_PIN_WORD_IN);
  return ml_supply_is_pass (finder, i) ? ml_idiom_net (finder, i, 0) : -1;
}

/* The resistor before a regulator, if a rail lies before that; -1. */
static int
resistor_before (const MlFinder *finder, int net)
{
  int piece, pin;
  guint i;

  for (i = 0; i < ml_idiom_n_at (finder, net); i++)
    if (ml_idiom_at (finder, net, i, &piece, &pin) && ml_idiom_two (finder, piece) && is_before_regulator (finder, piece, net)
        && ml_idiom_up (finder, ml_idiom_other (finder, piece, net)))
      return piece;
  return -1;
}

/* Pass transistors and regulators that the line from the supply's entry did not reach, with what hangs behind them. */
static void
find_other_passes (MlFinder *finder)
{
  guint i;

  for (i = 0; i < finder->kit->plain->len; i++)
    {
      MlSupplyChain chain = { finder, NULL, -1, 0, 0, FALSE, FALSE, FALSE };
      int before;
      if (finder->used[i])
        continue;
      chain.net = fed_at (finder, (int) i);
      if (chain.net < 0)
        continue;
      chain.list = ml_idiom_list ();
      before = resistor_before (finder, chain.net);
      if (before >= 0)
        chain.net = ml_idiom_other (finder, before, chain.net);
      put_next (&chain, before >= 0 ? before : (int) i, FALSE);
      follow (&chain);
      ml_idiom_add (finder, chain.list, NULL, FALSE, 0);
    }
}

/* ---- behind a transformer ---- */

/* The end of a secondary from which a diode leads on, the other end being its island's ground; -1. */
static int
hot_end (const MlFinder *finder, int i)
{
  int piece, pin, end;
  guint k;

  if (ml_idiom_kind (finder, i) != ML_KIND_COIL || !ml_idiom_two (finder, i))
    return -1;
  for (end = 0; end < 2; end++)
    {
      int hot = ml_idiom_net (finder, i, end), cold = ml_idiom_net (finder, i, 1 - end);
      if (!ml_idiom_signal (finder, hot) || cold < 0 || cold == finder->reference || finder->circuit->nets[cold].ground != cold)
        continue;
      for (k = 0; k < ml_idiom_n_at (finder, hot); k++)
        if (ml_idiom_at (finder, hot, k, &piece, &pin) && ml_idiom_kind (finder, piece) == ML_KIND_DIODE && pin == 0)
          return hot;
    }
  return -1;
}

/* The winding at the left, then the rectifier, and what it feeds: as the supply itself is drawn. */
static void
find_secondaries (MlFinder *finder)
{
  guint i;

  for (i = 0; i < finder->kit->plain->len; i++)
    {
      MlSupplyChain chain = { finder, NULL, -1, 0, 0, FALSE, FALSE, FALSE };
      MlForm *form;
      if (finder->used[i])
        continue;
      chain.net = hot_end (finder, (int) i);
      form = chain.net < 0 ? NULL : ml_idiom_standing (finder, (int) i, chain.net);
      if (form == NULL)
        continue;
      chain.list = ml_idiom_list ();
      ml_idiom_put (finder, chain.list, (int) i, form, ml_idiom_pin_on (finder, (int) i, chain.net), 0, 0);
      chain.x = ml_idiom_label_w (finder, (int) i);
      chain.n_in_line = 1;
      follow (&chain);
      ml_idiom_add (finder, chain.list, NULL, FALSE, 0);
    }
}

void
ml_idiom_find_supply (MlFinder *finder)
{
  MlSupplyChain chain = { finder, ml_idiom_list (), first_supply (finder->circuit), 0, 0, FALSE, FALSE, FALSE };
  MlPiece *composite;

  if (!put_bridge (&chain) && !put_diamond (&chain) && chain.net >= 0)
    put_source (&chain);
  if (chain.net >= 0)
    follow (&chain);
  composite = ml_idiom_add (finder, chain.list, NULL, FALSE, 0);
  if (composite == NULL && chain.net >= 0)
    composite = feeding_diamond (finder);
  if (composite != NULL)
    composite->is_supply_chain = TRUE;
  find_secondaries (finder);
  find_other_passes (finder);
}
