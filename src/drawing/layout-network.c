/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Networks of two-terminal parts: ladders, columns from rail to rail, references, dividers, strings, parallel parts. */
#include "drawing/layout-idioms.h"

#include <string.h>

#define LONGEST 12
#define LADDER_PITCH 9
#define COLUMN_PITCH 6
#define STRING_PITCH 5

/* ---- ladder: a straight spine with its rungs ---- */

typedef struct { int piece, from, to; } Step;
typedef struct { Step steps[LONGEST + 1]; guint n; } Path;

static gboolean
is_spine (const MlFinder *finder, int i)
{
  MlKind kind = ml_idiom_kind (finder, i);

  return !finder->used[i] && (kind == ML_KIND_RESISTOR || kind == ML_KIND_INDUCTOR) && ml_idiom_two (finder, i)
         && ml_idiom_signal (finder, ml_idiom_net (finder, i, 0)) && ml_idiom_signal (finder, ml_idiom_net (finder, i, 1));
}

/* A node of two-terminal parts only. */
static gboolean
is_inner (const MlFinder *finder, int net)
{
  guint k, n = ml_idiom_n_at (finder, net);
  int piece, pin;

  if (n < 3 || n > 4)
    return FALSE;
  for (k = 0; k < n; k++)
    if (!ml_idiom_at (finder, net, k, &piece, &pin) || !ml_idiom_two (finder, piece))
      return FALSE;
  return TRUE;
}

static gboolean
has_been (const Path *path, int net)
{
  guint i;

  for (i = 0; i < path->n; i++)
    if (path->steps[i].from == net || path->steps[i].to == net)
      return TRUE;
  return FALSE;
}

/* Of two as long as each other that with the busier ends: what hangs there is the output, not one more rung. */
static gboolean
is_better (const MlFinder *finder, const Path *path, const Path *than)
{
  if (path->n != than->n || path->n == 0)
    return path->n > than->n;
  return ml_idiom_n_at (finder, path->steps[0].from) + ml_idiom_n_at (finder, path->steps[path->n - 1].to)
         > ml_idiom_n_at (finder, than->steps[0].from) + ml_idiom_n_at (finder, than->steps[than->n - 1].to);
}

static void
walk (const MlFinder *finder, int net, Path *path, Path *longest)
{
  guint k;
  int piece, pin;

  if (is_better (finder, path, longest))
    *longest = *path;
  if ((path->n > 0 && !is_inner (finder, net)) || path->n >= LONGEST || ml_idiom_n_at (finder, net) > 8)
    return;
  for (k = 0; k < ml_idiom_n_at (finder, net); k++)
    {
      int other;
      if (!ml_idiom_at (finder, net, k, &piece, &pin) || !is_spine (finder, piece))
        continue;
      other = ml_idiom_other (finder, piece, net);
      if (has_been (path, other))
        continue;
      path->steps[path->n++] = (Step){ piece, net, other };
      walk (finder, other, path, longest);
      path->n--;
    }
}

static gboolean
is_on_small_connector (const MlFinder *finder, int net)
{
  guint k;

  for (k = 0; k < ml_idiom_n_at (finder, net); k++)
    {
      const MlCircuitPart *part = &finder->circuit->parts[finder->circuit->nets[net].joints[k].part];
      if (part->kind == ML_KIND_CONNECTOR && part->n_pins == 2)
        return TRUE;
    }
  return FALSE;
}

static void
turn_round (Path *path)
{
  Path old = *path;
  guint i;

  for (i = 0; i < path->n; i++)
    {
      Step step = old.steps[path->n - 1 - i];
      path->steps[i] = (Step){ step.piece, step.to, step.from };
    }
}

static void
put_rungs (MlFinder *finder, MlMemberList *list, const Path *path, guint at, int x, int *next_x)
{
  int net = path->steps[at].to, following = at + 1 < path->n ? path->steps[at + 1].piece : -1, piece, pin, z = 0;
  guint k;

  for (k = 0; k < ml_idiom_n_at (finder, net); k++)
    {
      MlForm *form;
      if (!ml_idiom_at (finder, net, k, &piece, &pin) || !ml_idiom_two (finder, piece) || piece == following)
        continue;
      form = ml_idiom_standing (finder, piece, net);
      if (form == NULL)
        continue;
      ml_idiom_put (finder, list, piece, form, ml_idiom_pin_on (finder, piece, net), x + 6 + 5 * z, 2);
      *next_x = MAX (*next_x, x + LADDER_PITCH + 5 * z);
      z++;
    }
}

static void
find_ladder (MlFinder *finder)
{
  Path longest = { { { 0 } }, 0 }, path = { { { 0 } }, 0 };
  MlMemberList *list;
  guint i;
  int x = 0;

  for (i = 0; i < finder->circuit->n_nets; i++)
    if (ml_idiom_signal (finder, (int) i))
      walk (finder, (int) i, &path, &longest);
  if (longest.n < 4)
    return;
  if (is_on_small_connector (finder, longest.steps[0].from))
    turn_round (&longest);
  for (i = 0; i < longest.n; i++)
    if (ml_idiom_lying (finder, longest.steps[i].piece, longest.steps[i].from) == NULL)
      return;
  list = ml_idiom_list ();
  for (i = 0; i < longest.n; i++)
    {
      const Step *step = &longest.steps[i];
      int next = x + LADDER_PITCH;
      ml_idiom_put (finder, list, step->piece, ml_idiom_lying (finder, step->piece, step->from), ml_idiom_pin_on (finder, step->piece, step->from),
                    x, 0);
      put_rungs (finder, list, &longest, i, x, &next);
      x = next;
    }
  ml_idiom_add (finder, list, NULL, FALSE, 0);
}

/* ---- columns ---- */

static gboolean
is_column_part (const MlFinder *finder, int i)
{
  MlKind kind = ml_idiom_kind (finder, i);

  return (kind == ML_KIND_RESISTOR || kind == ML_KIND_THERMISTOR) && !finder->used[i] && ml_idiom_two (finder, i);
}

static int
next_in_column (const MlFinder *finder, int net, const int *column, guint n)
{
  int found = -1, piece, pin;
  guint k, j;

  for (k = 0; k < ml_idiom_n_at (finder, net); k++)
    {
      gboolean seen = FALSE;
      int other;
      if (!ml_idiom_at (finder, net, k, &piece, &pin) || !is_column_part (finder, piece))
        continue;
      for (j = 0; j < n; j++)
        seen |= column[j] == piece;
      other = ml_idiom_other (finder, piece, net);
      if (seen || ml_idiom_up (finder, other) || (!ml_idiom_down (finder, other) && ml_idiom_n_at (finder, other) < 3))
        continue;
      if (found >= 0)
        return -1;
      found = piece;
    }
  return found;
}

static void
find_column (MlFinder *finder, int first)
{
  int column[8], nets[9], end;
  guint n, k;

  for (end = 0; end < 2; end++)
    {
      MlMemberList *list;
      if (finder->used[first] || !ml_idiom_up (finder, ml_idiom_net (finder, first, end)))
        continue;
      column[0] = first;
      nets[0] = ml_idiom_net (finder, first, end);
      nets[1] = ml_idiom_other (finder, first, nets[0]);
      for (n = 1; n < 7 && ml_idiom_signal (finder, nets[n]); n++)
        {
          column[n] = next_in_column (finder, nets[n], column, n);
          if (column[n] < 0)
            break;
          nets[n + 1] = ml_idiom_other (finder, column[n], nets[n]);
        }
      if (n < 3 || !ml_idiom_down (finder, nets[n]))
        continue;
      list = ml_idiom_list ();
      for (k = 0; k < n; k++)
        ml_idiom_put (finder, list, column[k], ml_idiom_standing (finder, column[k], nets[k]), ml_idiom_pin_on (finder, column[k], nets[k]), 0,
                      COLUMN_PITCH * (int) k);
      ml_idiom_add (finder, list, NULL, FALSE, 0);
    }
}

/* A zener's cathode, or that of a shunt reference, whose other end is on a lower rail. */
static gboolean
holds_net (const MlFinder *finder, int piece, int net)
{
  MlKind kind = ml_idiom_kind (finder, piece);

  if (kind != ML_KIND_ZENER && kind != ML_KIND_SHUNT)
    return FALSE;
  return ml_idiom_net_of_word (finder, piece, ML_PIN_WORD_CATHODE) == net
         && ml_idiom_down (finder, ml_idiom_net_of_word (finder, piece, ML_PIN_WORD_ANODE));
}

/* A resistor from a higher rail over the zener or shunt that makes a lower one. */
static void
find_reference (MlFinder *finder, int net)
{
  int zener = -1, resistor = -1, piece, pin;
  guint k;
  MlForm *above, *below;
  MlMemberList *list;
  MlPiece *composite;

  for (k = 0; k < ml_idiom_n_at (finder, net); k++)
    {
      int other;
      if (!ml_idiom_at (finder, net, k, &piece, &pin))
        continue;
      if (holds_net (finder, piece, net))
        zener = piece;
      if (!ml_idiom_two (finder, piece))
        continue;
      other = ml_idiom_other (finder, piece, net);
      if (ml_idiom_kind (finder, piece) == ML_KIND_RESISTOR && ml_idiom_up (finder, other)
               && finder->circuit->nets[other].potential > finder->circuit->nets[net].potential)
        resistor = piece;
    }
  above = resistor < 0 ? NULL : ml_idiom_hanging_from (finder, resistor, net, FALSE);
  below = zener < 0 ? NULL : ml_idiom_hanging_from (finder, zener, net, TRUE);
  if (above == NULL || below == NULL)
    return;
  list = ml_idiom_list ();
  ml_idiom_put (finder, list, resistor, above, ml_idiom_pin_on (finder, resistor, net), 0, 4);
  ml_idiom_put (finder, list, zener, below, ml_idiom_pin_on (finder, zener, net), 0, 6);
  composite = ml_idiom_add (finder, list, NULL, FALSE, 0);
  if (composite != NULL)
    composite->is_reference_pair = TRUE;
}

/* ---- dividers: one part from an up-rail, one to a down-rail, a filter capacitor beside ---- */

static int
rank_in_divider (MlKind kind)
{
  return kind == ML_KIND_RESISTOR || kind == ML_KIND_THERMISTOR || kind == ML_KIND_POTENTIOMETER ? 0
         : kind == ML_KIND_ZENER || kind == ML_KIND_SHUNT || kind == ML_KIND_SWITCH                  ? 1
         : kind == ML_KIND_CAPACITOR || kind == ML_KIND_DIODE                                        ? 2
                                                                                                     : 3;
}

static void
keep_better (const MlFinder *finder, int *best, int piece)
{
  if (*best < 0 || rank_in_divider (ml_idiom_kind (finder, piece)) < rank_in_divider (ml_idiom_kind (finder, *best)))
    *best = piece;
}

static int
far_net (const MlFinder *finder, int piece, int pin)
{
  MlKind kind = ml_idiom_kind (finder, piece);

  if (kind == ML_KIND_POTENTIOMETER && pin < 2 && ml_idiom_piece (finder, piece)->n_pins == 3)
    return ml_idiom_net (finder, piece, 1 - pin);
  if (kind == ML_KIND_SHUNT)
    return holds_net (finder, piece, ml_idiom_net (finder, piece, pin)) ? ml_idiom_net_of_word (finder, piece, ML_PIN_WORD_ANODE) : -1;
  if (!ml_idiom_two (finder, piece) || kind == ML_KIND_LED || kind == ML_KIND_COIL || kind == ML_KIND_LAMP)
    return -1;
  return ml_idiom_net (finder, piece, 1 - pin);
}

static void
find_divider (MlFinder *finder, int net)
{
  int high = -1, low = -1, filter = -1, piece, pin, x;
  guint k;
  MlForm *above, *below, *beside;
  MlMemberList *list, *other = NULL;

  for (k = 0; k < ml_idiom_n_at (finder, net); k++)
    {
      if (!ml_idiom_at (finder, net, k, &piece, &pin))
        continue;
      if (ml_idiom_up (finder, far_net (finder, piece, pin)))
        keep_better (finder, &high, piece);
      else if (ml_idiom_down (finder, far_net (finder, piece, pin)))
        keep_better (finder, &low, piece);
    }
  if (high < 0 || low < 0)
    return;
  above = ml_idiom_hanging_from (finder, high, net, FALSE);
  below = ml_idiom_hanging_from (finder, low, net, TRUE);
  if (above == NULL || below == NULL)
    return;
  list = ml_idiom_list ();
  ml_idiom_put (finder, list, high, above, ml_idiom_pin_on (finder, high, net), 0, 0);
  ml_idiom_put (finder, list, low, below, ml_idiom_pin_on (finder, low, net), 0, 2);
  x = 3 + MAX (ml_idiom_label_w (finder, high), ml_idiom_label_w (finder, low));
  for (k = 0; k < ml_idiom_n_at (finder, net) && filter < 0; k++)
    if (ml_idiom_at (finder, net, k, &piece, &pin) && ml_idiom_two (finder, piece) && ml_idiom_kind (finder, piece) == ML_KIND_CAPACITOR
        && ml_idiom_down (finder, ml_idiom_other (finder, piece, net)))
      filter = piece;
  beside = filter < 0 ? NULL : ml_idiom_standing (finder, filter, net);
  if (beside != NULL)
    {
      other = g_array_copy (list);
      ml_idiom_put (finder, list, filter, beside, ml_idiom_pin_on (finder, filter, net), x, 2);
      ml_idiom_put (finder, other, filter, beside, ml_idiom_pin_on (finder, filter, net), -3 - ml_idiom_label_w (finder, filter), 2);
    }
  ml_idiom_add (finder, list, other, FALSE, 0);
}

/* ---- a potentiometer between what limits its range: one column ---- */

/* The resistor alone on a net with an end of the potentiometer, that leads to a rail; -1. */
static int
end_resistor (const MlFinder *finder, int net)
{
  int piece, pin;
  guint k;

  for (k = 0; net >= 0 && ml_idiom_signal (finder, net) && ml_idiom_n_at (finder, net) == 2 && k < 2; k++)
    if (ml_idiom_at (finder, net, k, &piece, &pin) && ml_idiom_two (finder, piece) && ml_idiom_kind (finder, piece) == ML_KIND_RESISTOR
        && !ml_idiom_signal (finder, ml_idiom_other (finder, piece, net)))
      return piece;
  return -1;
}

static void
put_end (MlFinder *finder, MlMemberList *list, int resistor, int net, gboolean below)
{
  MlForm *form = resistor < 0 ? NULL : ml_idiom_standing (finder, resistor, below ? net : ml_idiom_other (finder, resistor, net));

  if (form != NULL)
    ml_idiom_put (finder, list, resistor, form, ml_idiom_pin_on (finder, resistor, net), 0, below ? 6 : -2);
}

/* With a rail at the other end it is a divider. */
static void
find_trimmed (MlFinder *finder, int i)
{
  int ends[2], nets[2], low, k;
  MlForm *form;
  MlMemberList *list;

  for (k = 0; k < 2; k++)
    {
      nets[k] = ml_idiom_net (finder, i, k);
      if (nets[k] < 0 || !ml_idiom_signal (finder, nets[k]))
        return;
      ends[k] = end_resistor (finder, nets[k]);
    }
  if (ends[0] < 0 && ends[1] < 0)
    return;
  k = ends[0] >= 0 ? 0 : 1;
  low = ml_idiom_down (finder, ml_idiom_other (finder, ends[k], nets[k])) ? k : 1 - k;
  form = ml_idiom_hanging_from (finder, i, nets[low], FALSE);
  if (form == NULL || nets[0] == nets[1])
    return;
  list = ml_idiom_list ();
  ml_idiom_put (finder, list, i, form, low, 0, 4);
  put_end (finder, list, ends[low], nets[low], TRUE);
  put_end (finder, list, ends[1 - low], nets[1 - low], FALSE);
  ml_idiom_add (finder, list, NULL, TRUE, 0);
}

static void
find_trimmed_ones (MlFinder *finder)
{
  guint i;

  for (i = 0; i < finder->kit->plain->len; i++)
    if (!finder->used[i] && ml_idiom_kind (finder, (int) i) == ML_KIND_POTENTIOMETER && ml_idiom_piece (finder, (int) i)->n_pins == 3)
      find_trimmed (finder, (int) i);
}

/* ---- inputs: a resistor in line, and what hangs behind it ---- */

#define MOST_BEHIND 3

/* Resistors, capacitors and clamps from a net down to a lower rail; how many. */
static guint
hanging_parts (const MlFinder *finder, int net, int *ret_pieces)
{
  guint n = 0, k;
  int piece, pin;

  for (k = 0; k < ml_idiom_n_at (finder, net); k++)
    {
      MlKind kind;
      if (!ml_idiom_at (finder, net, k, &piece, &pin) || !ml_idiom_two (finder, piece) || !ml_idiom_down (finder, ml_idiom_other (finder, piece, net)))
        continue;
      kind = ml_idiom_kind (finder, piece);
      if (kind != ML_KIND_RESISTOR && kind != ML_KIND_CAPACITOR && kind != ML_KIND_ZENER && kind != ML_KIND_TVS && kind != ML_KIND_DIODE)
        continue;
      if (n == MOST_BEHIND)
        return 0;
      ret_pieces[n++] = piece;
    }
  return n;
}

/* The one resistor that a net has to another signal; -1. */
static int
series_into (const MlFinder *finder, int net)
{
  int piece, pin, found = -1;
  guint k;

  for (k = 0; k < ml_idiom_n_at (finder, net); k++)
    {
      if (!ml_idiom_at (finder, net, k, &piece, &pin) || !ml_idiom_two (finder, piece) || ml_idiom_kind (finder, piece) != ML_KIND_RESISTOR)
        continue;
      if (ml_idiom_down (finder, ml_idiom_other (finder, piece, net)))
        continue;
      if (found >= 0 || !ml_idiom_signal (finder, ml_idiom_other (finder, piece, net)))
        return -1;
      found = piece;
    }
  return found;
}

/* What listens there is a chip's pin, and nothing comes in from outside: the resistor is where it comes from. */
static gboolean
is_listened_to (const MlFinder *finder, int net)
{
  gboolean listened = FALSE;
  guint k;

  for (k = 0; k < ml_idiom_n_at (finder, net); k++)
    {
      MlCircuitJoint joint = finder->circuit->nets[net].joints[k];
      const MlCircuitPart *part = &finder->circuit->parts[joint.part];
      if (part->kind == ML_KIND_CONNECTOR)
        return FALSE;
      listened |= part->kind == ML_KIND_BLOCK || (ml_circuit_is_amplifier (part->kind) && ml_circuit_is_control (part->pins[joint.pin].word));
    }
  return listened;
}

static gboolean
comes_in (const MlFinder *finder, int net)
{
  guint k;

  for (k = 0; k < ml_idiom_n_at (finder, net); k++)
    if (finder->circuit->parts[finder->circuit->nets[net].joints[k].part].kind == ML_KIND_CONNECTOR)
      return TRUE;
  return FALSE;
}

/* What loads the line where it comes in hangs there before the resistor. */
static void
put_before (MlFinder *finder, MlMemberList *list, int net)
{
  int before[MOST_BEHIND], x = -6;
  guint n = comes_in (finder, net) ? hanging_parts (finder, net, before) : 0, k;

  for (k = 0; k < n; k++)
    {
      MlForm *form = ml_idiom_standing (finder, before[k], net);
      if (form == NULL)
        continue;
      ml_idiom_put (finder, list, before[k], form, ml_idiom_pin_on (finder, before[k], net), x, 2);
      x -= 3 + ml_idiom_label_w (finder, before[k]);
    }
}

/* A capacitor alone behind a resistor may stand where there is room. */
static gboolean
is_input (const MlFinder *finder, const int *behind, guint n)
{
  guint k;

  for (k = 0; k < n; k++)
    if (ml_idiom_kind (finder, behind[k]) != ML_KIND_CAPACITOR)
      return TRUE;
  return FALSE;
}

static void
find_input (MlFinder *finder, int net)
{
  int behind[MOST_BEHIND], series = series_into (finder, net), x = 3;
  guint n = series < 0 ? 0 : hanging_parts (finder, net, behind), k;
  MlForm *lying = n == 0 ? NULL : ml_idiom_lying (finder, series, ml_idiom_other (finder, series, net));
  MlMemberList *list;

  if (lying == NULL || ml_idiom_n_at (finder, net) > n + 2 || !is_listened_to (finder, net)
      || !is_input (finder, behind, n))
    return;
  list = ml_idiom_list ();
  ml_idiom_put (finder, list, series, lying, ml_idiom_pin_on (finder, series, net), 0, 0);
  put_before (finder, list, ml_idiom_other (finder, series, net));
  for (k = 0; k < n; k++)
    {
      MlForm *form = ml_idiom_standing (finder, behind[k], net);
      if (form == NULL)
        continue;
      ml_idiom_put (finder, list, behind[k], form, ml_idiom_pin_on (finder, behind[k], net), x, 2);
      x += 3 + ml_idiom_label_w (finder, behind[k]);
    }
  ml_idiom_add (finder, list, NULL, TRUE, 14);
}

/* ---- four single diodes that form a bridge, unless their inputs touch transistors ---- */

static gboolean
touches_transistor (const MlFinder *finder, int net)
{
  guint k;

  for (k = 0; k < ml_idiom_n_at (finder, net); k++)
    if (ml_circuit_is_transistor (finder->circuit->parts[finder->circuit->nets[net].joints[k].part].kind))
      return TRUE;
  return FALSE;
}

static int
diode_between (const MlFinder *finder, int anode, int cathode)
{
  guint k;
  int piece, pin;

  for (k = 0; k < ml_idiom_n_at (finder, anode); k++)
    if (ml_idiom_at (finder, anode, k, &piece, &pin) && ml_idiom_kind (finder, piece) == ML_KIND_DIODE && ml_idiom_two (finder, piece) && pin == 0
        && ml_idiom_net (finder, piece, 1) == cathode)
      return piece;
  return -1;
}

static void
put_arm (MlFinder *finder, MlMemberList *list, int diode, int turn, gboolean mirror, int x, int y)
{
  MlForm *form = ml_piece_form_at (ml_idiom_piece (finder, diode), finder->circuit, "diode-diagonal", turn, mirror);

  form->cost = 0;
  ml_idiom_put (finder, list, diode, form, 0, x, y);
}

static gboolean
add_diamond (MlFinder *finder, int plus, int minus, int a, int b)
{
  int up_a = diode_between (finder, a, plus), up_b = diode_between (finder, b, plus), down_a = diode_between (finder, minus, a),
      down_b = diode_between (finder, minus, b);
  MlMemberList *list;

  if (up_a < 0 || up_b < 0 || down_a < 0 || down_b < 0 || touches_transistor (finder, a) || touches_transistor (finder, b))
    return FALSE;
  list = ml_idiom_list ();
  /* a.c. left and right, plus above, minus below */
  put_arm (finder, list, up_a, 0, FALSE, 0, 4);
  put_arm (finder, list, up_b, 0, TRUE, 8, 4);
  put_arm (finder, list, down_a, 3, FALSE, 4, 8);
  put_arm (finder, list, down_b, 1, TRUE, 4, 8);
  ml_idiom_keep (ml_idiom_add (finder, list, NULL, FALSE, 0));
  return TRUE;
}

static void
find_diamond (MlFinder *finder, int first)
{
  int a = ml_idiom_net (finder, first, 0), plus = ml_idiom_net (finder, first, 1), piece, pin;
  guint k;

  for (k = 0; k < ml_idiom_n_at (finder, plus); k++)
    {
      int b;
      guint j;
      if (!ml_idiom_at (finder, plus, k, &piece, &pin) || piece == first || ml_idiom_kind (finder, piece) != ML_KIND_DIODE
          || !ml_idiom_two (finder, piece) || pin != 1)
        continue;
      b = ml_idiom_net (finder, piece, 0);
      for (j = 0; b != a && j < ml_idiom_n_at (finder, a); j++)
        {
          int low, low_pin;
          if (ml_idiom_at (finder, a, j, &low, &low_pin) && ml_idiom_kind (finder, low) == ML_KIND_DIODE && ml_idiom_two (finder, low)
              && low_pin == 1 && ml_idiom_net (finder, low, 0) != plus && add_diamond (finder, plus, ml_idiom_net (finder, low, 0), a, b))
            return;
        }
    }
}

/* ---- strings and parallel parts ---- */

static int
follower (const MlFinder *finder, int piece, int net)
{
  guint k;
  int other, pin;

  if (!ml_idiom_signal (finder, net) || ml_idiom_n_at (finder, net) != 2)
    return -1;
  for (k = 0; k < 2; k++)
    if (ml_idiom_at (finder, net, k, &other, &pin) && other != piece && ml_idiom_two (finder, other))
      return other;
  return -1;
}

static gboolean
lights (MlKind kind)
{
  return kind == ML_KIND_LED || kind == ML_KIND_DIODE || kind == ML_KIND_ZENER || kind == ML_KIND_LAMP;
}

/* From the end with the higher potential downwards. */
static void
find_string (MlFinder *finder, int first)
{
  int end, chain[LONGEST], nets[LONGEST + 1];

  for (end = 0; end < 2; end++)
    {
      guint n = 1, k;
      gboolean any = lights (ml_idiom_kind (finder, first));
      MlMemberList *list;
      chain[0] = first;
      nets[0] = ml_idiom_net (finder, first, end);
      nets[1] = ml_idiom_other (finder, first, nets[0]);
      if (follower (finder, first, nets[0]) >= 0)
        continue; /* not an end */
      while (n < LONGEST && (chain[n] = follower (finder, chain[n - 1], nets[n])) >= 0 && chain[n] != first)
        {
          any |= lights (ml_idiom_kind (finder, chain[n]));
          nets[n + 1] = ml_idiom_other (finder, chain[n], nets[n]);
          n++;
        }
      if (n < 2 || !any || nets[n] < 0)
        continue;
      if (!ml_idiom_up (finder, nets[0]) && !ml_idiom_down (finder, nets[n])
          && (ml_idiom_down (finder, nets[0]) || ml_idiom_up (finder, nets[n])
              || finder->circuit->nets[nets[0]].potential < finder->circuit->nets[nets[n]].potential))
        continue;
      list = ml_idiom_list ();
      for (k = 0; k < n; k++)
        {
          MlForm *form = ml_idiom_standing (finder, chain[k], nets[k]);
          if (form == NULL)
            break;
          ml_idiom_put (finder, list, chain[k], form, ml_idiom_pin_on (finder, chain[k], nets[k]), 0, STRING_PITCH * (int) k);
        }
      ml_idiom_add (finder, list, NULL, FALSE, 0);
      return;
    }
}

static void
find_parallel (MlFinder *finder, int first)
{
  int a = ml_idiom_net (finder, first, 0), b = ml_idiom_net (finder, first, 1), piece, pin, x, top;
  MlMemberList *list;
  MlForm *form;
  guint k;

  if (!ml_idiom_signal (finder, a) && !ml_idiom_signal (finder, b))
    return;
  form = ml_idiom_cheapest (finder, first);
  if ((form->turn & 1) != 0)
    return;
  top = form->pins[0].side == ML_SIDE_UP ? a : b;
  list = ml_idiom_list ();
  ml_idiom_put (finder, list, first, form, ml_idiom_pin_on (finder, first, top), 0, 0);
  x = 3 + ml_idiom_label_w (finder, first);
  for (k = 0; k < ml_idiom_n_at (finder, top) && list->len < 4; k++)
    {
      if (!ml_idiom_at (finder, top, k, &piece, &pin) || !ml_idiom_two (finder, piece)
          || ml_idiom_other (finder, piece, top) != ml_idiom_other (finder, first, top))
        continue;
      form = ml_idiom_standing (finder, piece, top);
      if (form == NULL)
        continue;
      ml_idiom_put (finder, list, piece, form, pin, x, 0);
      x += 3 + ml_idiom_label_w (finder, piece);
    }
  ml_idiom_add (finder, list, NULL, FALSE, 0);
}

void
ml_idiom_find_networks (MlFinder *finder)
{
  guint i, n = finder->kit->plain->len;

  find_ladder (finder);
  for (i = 0; i < n; i++)
    if (is_column_part (finder, (int) i))
      find_column (finder, (int) i);
  for (i = 0; i < finder->circuit->n_nets; i++)
    if (ml_idiom_up (finder, (int) i))
      find_reference (finder, (int) i);
  find_trimmed_ones (finder);
  for (i = 0; i < finder->circuit->n_nets; i++)
    if (ml_idiom_signal (finder, (int) i))
      find_divider (finder, (int) i);
  for (i = 0; i < finder->circuit->n_nets; i++)
    if (ml_idiom_signal (finder, (int) i))
      find_input (finder, (int) i);
  for (i = 0; i < n; i++)
    if (!finder->used[i] && ml_idiom_two (finder, (int) i))
      find_string (finder, (int) i);
  for (i = 0; i < n; i++)
    if (!finder->used[i] && ml_idiom_two (finder, (int) i))
      find_parallel (finder, (int) i);
}

void
ml_idiom_find_diamonds (MlFinder *finder)
{
  guint i;

  for (i = 0; i < finder->kit->plain->len; i++)
    if (!finder->used[i] && ml_idiom_kind (finder, (int) i) == ML_KIND_DIODE && ml_idiom_two (finder, (int) i))
      find_diamond (finder, (int) i);
}
