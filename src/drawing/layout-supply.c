/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The supply, from left to right: where it comes in, what lies in its line, what hangs on it. Never mirrored. */
#include "drawing/layout-idioms.h"

#include <string.h>

#define MOST_HANGING 4
#define MOST_STEPS 12

typedef struct
{
  MlFinder *finder;
  MlMemberList *list;
  int net, x;         /* where the line has come to */
  gboolean after_regulator, has_source;
} Chain;

static gboolean
is_polar (const MlFinder *finder, int i)
{
  return strcmp (((MlForm *) g_ptr_array_index (ml_idiom_piece (finder, i)->forms, 0))->symbol, "capacitor-polar") == 0;
}

/* A connector with the plus pin upper, or a terminal. */
static void
put_source (Chain *chain)
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
          if (piece->part_kind == ML_KIND_BATTERY)
            chain->x = 3 + ml_idiom_label_w (finder, (int) i);
          return;
        }
    }
}

static guint
n_chips_on (const MlFinder *finder, int net)
{
  guint i, n = 0;

  for (i = 0; i < ml_idiom_n_at (finder, net); i++)
    {
      MlKind kind = finder->circuit->parts[finder->circuit->nets[net].joints[i].part].kind;
      n += kind == ML_KIND_BLOCK || ml_circuit_is_amplifier (kind);
    }
  return n;
}

/* What comes next in the line: a regulator, else a fuse, inductor or link, else a diode the right way round. */
static int
next_in_line (const Chain *chain)
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
      else
        {
          if (!ml_idiom_two (finder, piece)
              || (kind != ML_KIND_FUSE && kind != ML_KIND_DIODE && kind != ML_KIND_INDUCTOR && kind != ML_KIND_LINK && kind != ML_KIND_SWITCH))
            continue;
          other = ml_idiom_other (finder, piece, chain->net);
          if (ml_idiom_down (finder, other) || (kind == ML_KIND_DIODE && pin != 0))
            continue;
          if (kind == ML_KIND_SWITCH && !ml_idiom_up (finder, other) && ml_idiom_n_at (finder, chain->net) > 3)
            continue;
          if (ml_idiom_signal (finder, other) && ml_idiom_n_at (finder, chain->net) > 3)
            continue;
          rank = kind == ML_KIND_DIODE ? 2 : 1;
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
list_hanging (const Chain *chain, int next, int *ret_pieces)
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

static gboolean
hang (Chain *chain, const int *pieces, guint n)
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
        chain->x += chain->list->len == 1 ? 5 : chain->list->len > 1 ? 3 : 0;
      ml_idiom_put (finder, chain->list, pieces[i], form, ml_idiom_pin_on (finder, pieces[i], chain->net), chain->x, 0);
      chain->x += 3 + ml_idiom_label_w (finder, pieces[i]);
      started = TRUE;
    }
  return started;
}

/* An adjustable regulator's two resistors stand in a column right of its output, the lower one 6 below. */
static void
put_adjusting (Chain *chain, int adjust)
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

static void
put_back_diode (Chain *chain, int in, int out, int x)
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

static gboolean
put_next (Chain *chain, int next, gboolean hung)
{
  MlFinder *finder = chain->finder;
  MlForm *form;
  int wide, other;

  if (!hung && chain->list->len > 0)
    chain->x += 3;
  if (ml_circuit_is_regulator (ml_idiom_kind (finder, next)))
    {
      int out = ml_idiom_net_of_word (finder, next, ML_PIN_WORD_OUT), adjust = ml_idiom_net_of_word (finder, next, ML_PIN_WORD_ADJUST);
      form = g_ptr_array_index (ml_idiom_piece (finder, next)->forms, 0);
      ml_idiom_put (finder, chain->list, next, form, ml_idiom_pin_on (finder, next, chain->net), chain->x, 0);
      put_back_diode (chain, chain->net, out, chain->x);
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
  chain->x += 4 + 2 * wide;
  chain->net = other;
  chain->after_regulator = FALSE;
  return TRUE;
}

/* A bridge in one case: plus to the right at (0,0), the feed from the left. */
static gboolean
put_bridge (Chain *chain)
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
      chain->net = plus;
      return TRUE;
    }
  return FALSE;
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

/* A bridge of four single diodes that feeds a rail begins the supply as well. */
static MlPiece *
feeding_diamond (const MlFinder *finder)
{
  guint i, k, n;

  for (i = 0; i < finder->kit->composites->len; i++)
    {
      MlPiece *composite = g_ptr_array_index (finder->kit->composites, i);
      for (k = 0, n = 0; k < composite->n_members; k++)
        n += ml_idiom_kind (finder, composite->members[k]) == ML_KIND_DIODE && ml_idiom_up (finder, ml_idiom_net (finder, composite->members[k], 1));
      if (composite->n_members == 4 && n == 2)
        return composite;
    }
  return NULL;
}

void
ml_idiom_find_supply (MlFinder *finder)
{
  Chain chain = { finder, ml_idiom_list (), first_supply (finder->circuit), 0, FALSE, FALSE };
  MlPiece *composite;
  int step;

  if (!put_bridge (&chain))
    {
      if (chain.net < 0)
        {
          g_array_unref (chain.list);
          return;
        }
      put_source (&chain);
    }
  for (step = 0; step < MOST_STEPS; step++)
    {
      int next = next_in_line (&chain), pieces[MOST_HANGING];
      guint n = list_hanging (&chain, next, pieces);
      gboolean hung = hang (&chain, pieces, n);
      if (next < 0 || finder->used[next] || !put_next (&chain, next, hung))
        break;
    }
  composite = ml_idiom_add (finder, chain.list, NULL, FALSE, 0);
  if (composite == NULL)
    composite = feeding_diamond (finder);
  if (composite != NULL)
    composite->is_supply_chain = TRUE;
}
