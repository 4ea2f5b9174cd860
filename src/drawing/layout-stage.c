/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Transistors and amplifiers with what belongs to them: feedback, loads, relays. */
#include "drawing/layout-idioms.h"

#include <math.h>
#include <string.h>

#define CONTROL_PIN 1 /* base or gate: pins are sorted collector, base, emitter */

/* ---- amplifiers with what joins their output to an input ---- */

static int
by_kind_then_index (const MlFinder *finder, int a, int b)
{
  gboolean resistor_a = ml_idiom_kind (finder, a) == ML_KIND_RESISTOR, resistor_b = ml_idiom_kind (finder, b) == ML_KIND_RESISTOR;

  return resistor_a != resistor_b ? (resistor_a ? -1 : 1) : a - b;
}

static guint
feedback_parts (const MlFinder *finder, int in, int out, int *ret_pieces, guint most)
{
  guint k, n = 0, at;
  int piece, pin;

  for (k = 0; in >= 0 && out >= 0 && k < ml_idiom_n_at (finder, in) && n < most; k++)
    {
      MlKind kind;
      if (!ml_idiom_at (finder, in, k, &piece, &pin) || !ml_idiom_two (finder, piece) || ml_idiom_other (finder, piece, in) != out)
        continue;
      kind = ml_idiom_kind (finder, piece);
      if (kind != ML_KIND_RESISTOR && kind != ML_KIND_CAPACITOR && kind != ML_KIND_DIODE && kind != ML_KIND_ZENER)
        continue;
      for (at = n++; at > 0 && by_kind_then_index (finder, piece, ret_pieces[at - 1]) < 0; at--)
        ret_pieces[at] = ret_pieces[at - 1];
      ret_pieces[at] = piece;
    }
  return n;
}

static int
pull_up_of (const MlFinder *finder, int net)
{
  guint k;
  int piece, pin;

  for (k = 0; net >= 0 && k < ml_idiom_n_at (finder, net); k++)
    if (ml_idiom_at (finder, net, k, &piece, &pin) && ml_idiom_kind (finder, piece) == ML_KIND_RESISTOR && ml_idiom_two (finder, piece)
        && ml_idiom_up (finder, ml_idiom_other (finder, piece, net)))
      return piece;
  return -1;
}

#define ABOVE_PITCH 5 /* g: the lower one's text stands between the two */
#define BELOW_PITCH 4

static MlMemberList *
amplifier_list (MlFinder *finder, int i, int in_pin, const int *parts, guint n, int pull_up, gboolean on_top)
{
  MlPiece *piece = ml_idiom_piece (finder, i);
  const MlCircuitPart *part = &finder->circuit->parts[piece->part];
  gboolean plus_wanted = (part->pins[in_pin].word == ML_PIN_WORD_NONINVERTING) == on_top;
  MlForm *form = ml_piece_form_at (piece, finder->circuit, plus_wanted ? "opamp-plus-above" : "opamp", 0, FALSE);
  int in = piece->pins[in_pin].net, out = ml_idiom_net_of_word (finder, i, ML_PIN_WORD_OUT), y = on_top ? -5 : 9;
  MlMemberList *list = ml_idiom_list ();
  guint k;

  ml_idiom_put (finder, list, i, form, in_pin, 0, on_top ? 1 : 3);
  for (k = 0; k < n; k++, y += on_top ? -ABOVE_PITCH : BELOW_PITCH)
    ml_idiom_put (finder, list, parts[k], ml_idiom_lying (finder, parts[k], in), ml_idiom_pin_on (finder, parts[k], in), 1, y);
  if (pull_up >= 0)
    ml_idiom_put (finder, list, pull_up, ml_idiom_standing (finder, pull_up, ml_idiom_other (finder, pull_up, out)),
                  ml_idiom_pin_on (finder, pull_up, out), 9, 0);
  return list;
}

#define MOST_FEEDBACK 4

static void
find_amplifier (MlFinder *finder, int i)
{
  static const MlPinWord inputs[] = { ML_PIN_WORD_INVERTING, ML_PIN_WORD_NONINVERTING };
  const MlPiece *piece = ml_idiom_piece (finder, i);
  int out = ml_idiom_net_of_word (finder, i, ML_PIN_WORD_OUT), parts[MOST_FEEDBACK], best_parts[MOST_FEEDBACK], in_pin = -1, pull_up;
  guint n_best = 0, k, n, p;
  MlMemberList *above, *below;

  for (k = 0; k < 2; k++)
    {
      n = feedback_parts (finder, ml_idiom_net_of_word (finder, i, inputs[k]), out, parts, MOST_FEEDBACK);
      if (n <= n_best)
        continue;
      n_best = n;
      memcpy (best_parts, parts, sizeof parts);
      for (p = 0; p < piece->n_pins; p++)
        if (finder->circuit->parts[piece->part].pins[p].word == inputs[k])
          in_pin = (int) p;
    }
  pull_up = pull_up_of (finder, out);
  if (n_best == 0 && pull_up < 0)
    return;
  for (p = 0; in_pin < 0 && p < piece->n_pins; p++)
    if (finder->circuit->parts[piece->part].pins[p].word == ML_PIN_WORD_NONINVERTING)
      in_pin = (int) p;
  if (in_pin < 0)
    return;
  above = amplifier_list (finder, i, in_pin, best_parts, n_best, pull_up, TRUE);
  below = amplifier_list (finder, i, in_pin, best_parts, n_best, pull_up, FALSE);
  ml_idiom_add (finder, above, below, FALSE, 0);
}

/* ---- two amplifiers whose inverting inputs one resistor joins: the first stage of an instrumentation amplifier ---- */

#define FIRST_FEEDBACK_ROW 9  /* g below the origin of the upper amplifier */
#define SECOND_BELOW 20       /* the origin of the lower one: its feedback lies above it, the resistor stands between the two */
#define COMMON_COLUMN (-1)

static int
pin_of_word (const MlFinder *finder, int i, MlPinWord word)
{
  const MlPiece *piece = ml_idiom_piece (finder, i);
  guint p;

  for (p = 0; p < piece->n_pins; p++)
    if (finder->circuit->parts[piece->part].pins[p].word == word)
      return (int) p;
  return -1;
}

static gboolean
is_free_amplifier (const MlFinder *finder, int i)
{
  return !finder->used[i] && ml_circuit_is_amplifier (ml_idiom_kind (finder, i)) && ml_idiom_piece (finder, i)->kind == ML_PIECE_PART
         && pin_of_word (finder, i, ML_PIN_WORD_INVERTING) >= 0 && pin_of_word (finder, i, ML_PIN_WORD_OUT) >= 0;
}

/* The amplifier that a net leads to as inverting input; -1. */
static int
amplifier_behind (const MlFinder *finder, int net)
{
  int piece, pin;
  guint k;

  for (k = 0; ml_idiom_signal (finder, net) && k < ml_idiom_n_at (finder, net); k++)
    if (ml_idiom_at (finder, net, k, &piece, &pin) && is_free_amplifier (finder, piece)
        && pin == pin_of_word (finder, piece, ML_PIN_WORD_INVERTING))
      return piece;
  return -1;
}

static void
find_amplifier_pair (MlFinder *finder, int resistor)
{
  int nets[2] = { ml_idiom_net (finder, resistor, 0), ml_idiom_net (finder, resistor, 1) }, amplifiers[2], parts[2][MOST_FEEDBACK], k;
  MlMemberList *lists[2];
  MlForm *form = ml_idiom_standing (finder, resistor, nets[0]);
  guint n[2], i;

  for (k = 0; k < 2; k++)
    {
      amplifiers[k] = amplifier_behind (finder, nets[k]);
      n[k] = amplifiers[k] < 0
                 ? 0
                 : feedback_parts (finder, nets[k], ml_idiom_net_of_word (finder, amplifiers[k], ML_PIN_WORD_OUT), parts[k], MOST_FEEDBACK);
      if (n[k] == 0)
        return;
    }
  if (form == NULL || amplifiers[0] == amplifiers[1] || n[0] > 1 || n[1] > 1)
    return;
  for (k = 0; k < 2; k++)
    lists[k] = amplifier_list (finder, amplifiers[k], pin_of_word (finder, amplifiers[k], ML_PIN_WORD_INVERTING), parts[k], n[k], -1, k == 1);
  for (i = 0; i < lists[1]->len; i++)
    {
      MlMember member = g_array_index (lists[1], MlMember, i);
      member.dy += SECOND_BELOW;
      g_array_append_val (lists[0], member);
    }
  g_array_unref (lists[1]);
  ml_idiom_put (finder, lists[0], resistor, form, ml_idiom_pin_on (finder, resistor, nets[0]), COMMON_COLUMN, FIRST_FEEDBACK_ROW + 1);
  ml_idiom_keep (ml_idiom_add (finder, lists[0], NULL, FALSE, 0));
}

/* ---- a transistor with what stands above and below it ---- */

static int
rank_in_group (MlKind kind)
{
  return kind == ML_KIND_COIL || kind == ML_KIND_LAMP ? 0
         : kind == ML_KIND_RESISTOR || kind == ML_KIND_LED ? 1
         : kind == ML_KIND_DIODE                             ? 3
                                                             : 2;
}

#define MOST_IN_GROUP 3

/* Parallel parts between a net and one rail. */
static guint
group_to_rail (const MlFinder *finder, int net, gboolean up, int *ret_pieces, int *ret_rail)
{
  guint k, n = 0, at;
  int piece, pin;

  *ret_rail = -1;
  for (k = 0; k < ml_idiom_n_at (finder, net); k++)
    {
      int other;
      if (!ml_idiom_at (finder, net, k, &piece, &pin) || !ml_idiom_two (finder, piece) || ml_idiom_kind (finder, piece) == ML_KIND_SWITCH
          || ml_idiom_kind (finder, piece) == ML_KIND_CONTACT)
        continue;
      other = ml_idiom_other (finder, piece, net);
      if (!(up ? ml_idiom_up (finder, other) : ml_idiom_down (finder, other)) || (*ret_rail >= 0 && other != *ret_rail) || n == MOST_IN_GROUP)
        continue;
      *ret_rail = other;
      for (at = n++; at > 0 && rank_in_group (ml_idiom_kind (finder, piece)) < rank_in_group (ml_idiom_kind (finder, ret_pieces[at - 1])); at--)
        ret_pieces[at] = ret_pieces[at - 1];
      ret_pieces[at] = piece;
    }
  return n;
}

static int
contact_of (const MlFinder *finder, int coil)
{
  int board_part = finder->circuit->parts[ml_idiom_piece (finder, coil)->part].index;
  guint i;

  for (i = 0; i < finder->kit->plain->len; i++)
    {
      const MlPiece *piece = ml_idiom_piece (finder, (int) i);
      if (piece->part_kind == ML_KIND_CONTACT && !finder->used[i] && finder->circuit->parts[piece->part].part->by == board_part)
        return (int) i;
    }
  return -1;
}

static MlForm *
cheapest_upright (const MlFinder *finder, int i)
{
  const MlPiece *piece = ml_idiom_piece (finder, i);
  MlForm *best = NULL;
  guint k;

  for (k = 0; k < piece->forms->len; k++)
    {
      MlForm *form = g_ptr_array_index (piece->forms, k);
      if ((form->turn & 1) == 0 && (best == NULL || form->cost < best->cost))
        best = form;
    }
  return best;
}

static void
put_contact (MlFinder *finder, MlMemberList *list, int contact, int *x)
{
  MlForm *form = cheapest_upright (finder, contact);
  int top = 0;
  guint k;

  if (form == NULL)
    return;
  for (k = 1; k < ml_idiom_piece (finder, contact)->n_pins; k++)
    if (form->pins[k].y < form->pins[top].y)
      top = (int) k;
  ml_idiom_put (finder, list, contact, form, top, *x + 2, -6);
  *x += 4 + ml_idiom_label_w (finder, contact);
}

#define STRING_PITCH 5
#define LONGEST_STRING 6

/* A lamp with its resistor, one over the other, from a rail down to the transistor. */
static void
put_string (MlFinder *finder, MlMemberList *list, int top)
{
  int chain[LONGEST_STRING], nets[LONGEST_STRING + 1], piece, pin;
  guint n = 0, k;

  nets[0] = top;
  while (n < LONGEST_STRING && !ml_idiom_up (finder, nets[n]))
    {
      int next = -1;
      if (!ml_idiom_signal (finder, nets[n]) || ml_idiom_n_at (finder, nets[n]) != 2)
        return;
      for (k = 0; k < 2; k++)
        if (ml_idiom_at (finder, nets[n], k, &piece, &pin) && ml_idiom_two (finder, piece) && (n == 0 || piece != chain[n - 1]))
          next = piece;
      if (next < 0)
        return;
      chain[n++] = next;
      nets[n] = ml_idiom_other (finder, next, nets[n - 1]);
    }
  for (k = 0; k < n && n > 1 && ml_idiom_up (finder, nets[n]); k++)
    if (ml_idiom_standing (finder, chain[k], nets[k + 1]) == NULL)
      return;
  for (k = 0; k < n && n > 1 && ml_idiom_up (finder, nets[n]); k++)
    ml_idiom_put (finder, list, chain[k], ml_idiom_standing (finder, chain[k], nets[k + 1]), ml_idiom_pin_on (finder, chain[k], nets[k]), 3,
                  -2 - STRING_PITCH * (int) k);
}

/* A relay's diode stands left of its coil, its contact right of it at the same height. */
static gboolean
put_loads (MlFinder *finder, MlMemberList *list, int top)
{
  int group[MOST_IN_GROUP], rail, x = 3, contact = -1;
  guint n = ml_idiom_n_at (finder, top) <= 6 ? group_to_rail (finder, top, TRUE, group, &rail) : 0, k;

  for (k = 0; k < n && contact < 0; k++)
    if (ml_idiom_kind (finder, group[k]) == ML_KIND_COIL)
      contact = contact_of (finder, group[k]);
  for (k = 0; k < n; k++)
    {
      MlForm *form = ml_idiom_standing (finder, group[k], rail);
      if (form == NULL)
        continue;
      if (contact >= 0 && k > 0)
        {
          ml_idiom_put (finder, list, group[k], form, ml_idiom_pin_on (finder, group[k], top), -(int) k * (3 + ml_idiom_label_w (finder, group[k])) + 3,
                        -2);
          continue;
        }
      ml_idiom_put (finder, list, group[k], form, ml_idiom_pin_on (finder, group[k], top), x, -2);
      x += 3 + ml_idiom_label_w (finder, group[k]);
    }
  if (contact >= 0)
    put_contact (finder, list, contact, &x);
  if (n == 0)
    put_string (finder, list, top);
  return contact >= 0;
}

static void
put_feet (MlFinder *finder, MlMemberList *list, int bottom)
{
  int group[MOST_IN_GROUP], rail, x = 3;
  guint n = ml_idiom_n_at (finder, bottom) <= 5 ? group_to_rail (finder, bottom, FALSE, group, &rail) : 0, k;

  for (k = 0; k < n; k++)
    {
      MlForm *form = ml_idiom_standing (finder, group[k], bottom);
      if (form == NULL)
        continue;
      ml_idiom_put (finder, list, group[k], form, ml_idiom_pin_on (finder, group[k], bottom), x, 6);
      x += 3 + ml_idiom_label_w (finder, group[k]);
    }
}

/* Base resistor in line, pull-down 2 below the base line. */
static void
put_base (MlFinder *finder, MlMemberList *list, int net, int x, int y)
{
  int series = -1, down = -1, piece, pin;
  guint k, n = ml_idiom_n_at (finder, net), n_series = 0, n_down = 0;
  MlForm *form, *hanging;

  if (!ml_idiom_signal (finder, net) || n > 3)
    return;
  for (k = 0; k < n; k++)
    {
      if (!ml_idiom_at (finder, net, k, &piece, &pin) || !ml_idiom_two (finder, piece))
        continue;
      if (ml_idiom_down (finder, ml_idiom_other (finder, piece, net)))
        {
          down = piece;
          n_down++;
        }
      else if (ml_idiom_kind (finder, piece) == ML_KIND_RESISTOR && ml_idiom_signal (finder, ml_idiom_other (finder, piece, net)))
        {
          series = piece;
          n_series++;
        }
    }
  if (n_series != 1 || n_down > 1 || n_series + n_down + 1 != n)
    return;
  form = ml_idiom_lying (finder, series, ml_idiom_other (finder, series, net));
  hanging = down < 0 ? NULL : ml_idiom_standing (finder, down, net);
  if (form == NULL || (down >= 0 && hanging == NULL))
    return;
  if (down >= 0)
    ml_idiom_put (finder, list, down, hanging, ml_idiom_pin_on (finder, down, net), x - 3, y + 2);
  ml_idiom_put (finder, list, series, form, ml_idiom_pin_on (finder, series, net), x - (down >= 0 ? 5 : 2), y);
}

static void
find_stage (MlFinder *finder, int i)
{
  MlMemberList *list = ml_idiom_list ();
  MlForm *form = ml_idiom_cheapest (finder, i);
  int top, bottom, control = ml_idiom_net (finder, i, CONTROL_PIN), pin;
  gboolean relay = FALSE;

  ml_idiom_ends (finder, i, &top, &bottom);
  if (control == top || control == bottom)
    {
      g_array_unref (list);
      return;
    }
  pin = ml_idiom_main_pin (finder, i, top);
  ml_idiom_put (finder, list, i, form, pin, 3, 0);
  if (form->pins[pin].side == ML_SIDE_UP)
    {
      if (ml_idiom_signal (finder, top))
        relay = put_loads (finder, list, top);
      if (ml_idiom_signal (finder, bottom))
        put_feet (finder, list, bottom);
    }
  if (form->pins[CONTROL_PIN].side == ML_SIDE_LEFT)
    put_base (finder, list, control, 3 - form->pins[pin].x + form->pins[CONTROL_PIN].x, form->pins[CONTROL_PIN].y - form->pins[pin].y);
  ml_idiom_add (finder, list, NULL, TRUE, relay ? 12 : 2);
}

void
ml_idiom_find_stages (MlFinder *finder)
{
  guint i;

  for (i = 0; i < finder->kit->plain->len; i++)
    if (!finder->used[i] && ml_idiom_kind (finder, (int) i) == ML_KIND_RESISTOR && ml_idiom_two (finder, (int) i))
      find_amplifier_pair (finder, (int) i);
  for (i = 0; i < finder->kit->plain->len; i++)
    if (!finder->used[i] && ml_circuit_is_amplifier (ml_idiom_kind (finder, (int) i)) && ml_idiom_piece (finder, (int) i)->kind == ML_PIECE_PART)
      find_amplifier (finder, (int) i);
  for (i = 0; i < finder->kit->plain->len; i++)
    if (!finder->used[i] && ml_idiom_whole_transistor (finder, (int) i))
      find_stage (finder, (int) i);
}
