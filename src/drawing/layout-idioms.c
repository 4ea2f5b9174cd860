/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/layout-idioms.h"

#include <math.h>

MlMemberList *
ml_idiom_list (void)
{
  return g_array_new (FALSE, FALSE, sizeof (MlMember));
}

MlPiece *
ml_idiom_piece (const MlFinder *finder, int i)
{
  return g_ptr_array_index (finder->kit->plain, (guint) i);
}

MlKind
ml_idiom_kind (const MlFinder *finder, int i)
{
  return ml_idiom_piece (finder, i)->part_kind;
}

gboolean
ml_idiom_at (const MlFinder *finder, int net, guint joint, int *ret_piece, int *ret_pin)
{
  MlCircuitJoint at = finder->circuit->nets[net].joints[joint];
  int piece = finder->kit->plain_of_part[at.part];

  if (piece < 0 || ml_idiom_piece (finder, piece)->kind != ML_PIECE_PART || finder->used[piece]
      || at.pin >= (int) ml_idiom_piece (finder, piece)->n_pins)
    return FALSE;
  *ret_piece = piece;
  *ret_pin = at.pin;
  return TRUE;
}

gboolean
ml_idiom_two (const MlFinder *finder, int i)
{
  const MlPiece *piece = ml_idiom_piece (finder, i);

  return piece->kind == ML_PIECE_PART && finder->circuit->parts[piece->part].two_terminal && piece->part_kind != ML_KIND_BATTERY
         && piece->pins[0].net >= 0 && piece->pins[1].net >= 0 && piece->pins[0].net != piece->pins[1].net;
}

int
ml_idiom_net (const MlFinder *finder, int i, int pin)
{
  return ml_idiom_piece (finder, i)->pins[pin].net;
}

int
ml_idiom_net_of_word (const MlFinder *finder, int i, MlPinWord word)
{
  const MlCircuitPin *pin = ml_circuit_pin (&finder->circuit->parts[ml_idiom_piece (finder, i)->part], word);

  return pin == NULL ? -1 : pin->net;
}

int
ml_idiom_other (const MlFinder *finder, int i, int net)
{
  return ml_circuit_other (&finder->circuit->parts[ml_idiom_piece (finder, i)->part], net);
}

int
ml_idiom_pin_on (const MlFinder *finder, int i, int net)
{
  return ml_piece_pin_on (ml_idiom_piece (finder, i), net);
}

gboolean
ml_idiom_up (const MlFinder *finder, int net)
{
  return net >= 0 && finder->circuit->nets[net].rail == ML_RAIL_UP;
}

gboolean
ml_idiom_down (const MlFinder *finder, int net)
{
  return net >= 0 && finder->circuit->nets[net].rail == ML_RAIL_DOWN;
}

gboolean
ml_idiom_signal (const MlFinder *finder, int net)
{
  return net >= 0 && finder->circuit->nets[net].rail == ML_RAIL_NONE;
}

guint
ml_idiom_n_at (const MlFinder *finder, int net)
{
  return net < 0 ? 0 : finder->circuit->nets[net].n_joints;
}

int
ml_idiom_label_w (const MlFinder *finder, int i)
{
  return (int) ceil (MIN (finder->circuit->parts[ml_idiom_piece (finder, i)->part].label_w, ML_TEXT_WIDEST) + 0.6);
}

MlForm *
ml_idiom_cheapest (const MlFinder *finder, int i)
{
  const MlPiece *piece = ml_idiom_piece (finder, i);
  MlForm *best = g_ptr_array_index (piece->forms, 0);
  guint k;

  for (k = 1; k < piece->forms->len; k++)
    if (((MlForm *) g_ptr_array_index (piece->forms, k))->cost < best->cost)
      best = g_ptr_array_index (piece->forms, k);
  return best;
}

static MlForm *
form_with (const MlFinder *finder, int i, int pin, MlSide side, int other, MlSide other_side)
{
  const MlPiece *piece = ml_idiom_piece (finder, i);
  MlForm *best = NULL;
  guint k;

  for (k = 0; k < piece->forms->len && pin >= 0 && other >= 0; k++)
    {
      MlForm *form = g_ptr_array_index (piece->forms, k);
      if (form->pins[pin].side == side && form->pins[other].side == other_side && (best == NULL || form->cost < best->cost))
        best = form;
    }
  return best;
}

MlForm *
ml_idiom_standing (const MlFinder *finder, int i, int net_above)
{
  int pin = ml_idiom_pin_on (finder, i, net_above);

  return pin < 0 || pin > 1 ? NULL : form_with (finder, i, pin, ML_SIDE_UP, 1 - pin, ML_SIDE_DOWN);
}

MlForm *
ml_idiom_lying (const MlFinder *finder, int i, int net_left)
{
  int pin = ml_idiom_pin_on (finder, i, net_left);

  return pin < 0 || pin > 1 ? NULL : form_with (finder, i, pin, ML_SIDE_LEFT, 1 - pin, ML_SIDE_RIGHT);
}

MlForm *
ml_idiom_hanging_from (const MlFinder *finder, int i, int net, gboolean net_above)
{
  int pin = ml_idiom_pin_on (finder, i, net);

  if (pin < 0 || pin > 1)
    return NULL;
  return net_above ? form_with (finder, i, pin, ML_SIDE_UP, 1 - pin, ML_SIDE_DOWN)
                   : form_with (finder, i, pin, ML_SIDE_DOWN, 1 - pin, ML_SIDE_UP);
}

void
ml_idiom_put (MlFinder *finder, MlMemberList *list, int i, const MlForm *form, int pin, int x, int y)
{
  MlMember member = { i, ml_form_index (ml_idiom_piece (finder, i), form), x - form->pins[pin].x, y - form->pins[pin].y };

  g_array_append_val (list, member);
  finder->used[i] = TRUE;
}

static gboolean
is_switch_transistor (MlKind kind)
{
  return kind >= ML_KIND_NPN && kind <= ML_KIND_PMOS;
}

void
ml_idiom_ends (const MlFinder *finder, int i, int *ret_top, int *ret_bottom)
{
  int a = ml_idiom_net (finder, i, 0), b = ml_idiom_net (finder, i, 2);
  gboolean swap = a >= 0 && b >= 0 && finder->circuit->nets[a].potential < finder->circuit->nets[b].potential;

  *ret_top = swap ? b : a;
  *ret_bottom = swap ? a : b;
}

gboolean
ml_idiom_whole_transistor (const MlFinder *finder, int i)
{
  const MlPiece *piece = ml_idiom_piece (finder, i);

  return is_switch_transistor (piece->part_kind) && piece->n_pins == 3 && piece->pins[0].net >= 0 && piece->pins[1].net >= 0
         && piece->pins[2].net >= 0 && piece->pins[0].net != piece->pins[2].net;
}

int
ml_idiom_main_pin (const MlFinder *finder, int i, int net)
{
  return ml_idiom_net (finder, i, 0) == net ? 0 : 2;
}

int
ml_idiom_free (const MlFinder *finder, int part)
{
  int piece = part < 0 ? -1 : finder->kit->plain_of_part[part];

  return piece < 0 || finder->used[piece] || !ml_idiom_two (finder, piece) ? -1 : piece;
}

int
ml_idiom_hang (MlFinder *finder, MlMemberList *list, int piece, int net, int x)
{
  const MlForm *form = piece < 0 ? NULL : ml_idiom_standing (finder, piece, net);

  if (form == NULL)
    return x;
  ml_idiom_put (finder, list, piece, form, ml_idiom_pin_on (finder, piece, net), x, 0);
  return x + 3 + ml_idiom_label_w (finder, piece);
}

void
ml_idiom_release (MlFinder *finder, const MlMemberList *list)
{
  guint i;

  for (i = 0; i < list->len; i++)
    finder->used[g_array_index (list, MlMember, i).piece] = FALSE;
}

MlMemberList *
ml_idiom_mirrored (MlFinder *finder, const MlMemberList *list, int about)
{
  MlMemberList *mirrored = ml_idiom_list ();
  guint i;

  for (i = 0; i < list->len; i++)
    {
      MlMember member = g_array_index (list, MlMember, i);
      MlPiece *piece = ml_idiom_piece (finder, member.piece);
      int dx = 0;
      MlForm *form = ml_form_mirrored (piece, g_ptr_array_index (piece->forms, (guint) member.form), finder->circuit, &dx);
      if (form == NULL)
        {
          g_array_unref (mirrored);
          return NULL;
        }
      member = (MlMember){ member.piece, ml_form_index (piece, form), about - member.dx + dx, member.dy };
      g_array_append_val (mirrored, member);
    }
  return mirrored;
}

/* ---- composites ---- */

static void
append_shifted (MlCells **cells, guint *n, const MlCells *from, guint n_from, const MlMember *by)
{
  guint i;

  *cells = g_renew (MlCells, *cells, *n + n_from + 1);
  for (i = 0; i < n_from; i++)
    (*cells)[(*n)++] = (MlCells){ from[i].x0 + by->dx, from[i].y0 + by->dy, from[i].x1 + by->dx, from[i].y1 + by->dy };
}

static void
add_form (MlFinder *finder, MlPiece *composite, const MlMemberList *list, int extra)
{
  MlForm *form = ml_form_new (composite->n_pins, 0);
  guint i, k, n = 0;

  form->symbol = "";
  form->cost = extra;
  form->members = g_memdup2 (list->data, sizeof (MlMember) * list->len);
  form->n_members = list->len;
  for (i = 0; i < list->len; i++)
    {
      const MlMember *member = &g_array_index (list, MlMember, i);
      const MlPiece *piece = ml_idiom_piece (finder, member->piece);
      const MlForm *from = g_ptr_array_index (piece->forms, (guint) member->form);
      form->cost += from->cost;
      for (k = 0; k < piece->n_pins; k++)
        form->pins[n++] = (MlFormPin){ from->pins[k].x + member->dx, from->pins[k].y + member->dy, from->pins[k].side };
      append_shifted (&form->cores, &form->n_cores, from->cores, from->n_cores, member);
      append_shifted (&form->rooms, &form->n_rooms, from->rooms, from->n_rooms, member);
    }
  ml_form_finish (form, composite->n_pins);
  g_ptr_array_add (composite->forms, form);
}

static void
add_form_and_mirror (MlFinder *finder, MlPiece *composite, MlMemberList *list, gboolean with_mirror, double mirror_cost)
{
  MlMemberList *mirrored = with_mirror ? ml_idiom_mirrored (finder, list, 0) : NULL;

  add_form (finder, composite, list, 0);
  if (mirrored != NULL)
    {
      add_form (finder, composite, mirrored, ML_COST (mirror_cost));
      g_array_unref (mirrored);
    }
  g_array_unref (list);
}

/* Without forms yet. */
static MlPiece *
composite_of (MlFinder *finder, const MlMemberList *list)
{
  MlPiece *composite = ml_piece_new (ML_PIECE_COMPOSITE);
  guint i, k;

  composite->part_kind = ML_KIND_LINK;
  composite->n_members = list->len;
  composite->members = g_new (int, list->len);
  for (i = 0; i < list->len; i++)
    {
      const MlPiece *piece = ml_idiom_piece (finder, g_array_index (list, MlMember, i).piece);
      composite->members[i] = g_array_index (list, MlMember, i).piece;
      composite->pins = g_renew (MlPiecePin, composite->pins, composite->n_pins + piece->n_pins + 1);
      for (k = 0; k < piece->n_pins; k++)
        composite->pins[composite->n_pins++] = piece->pins[k];
      composite->is_source |= piece->is_source;
    }
  return composite;
}

MlPiece *
ml_idiom_add (MlFinder *finder, MlMemberList *list, MlMemberList *alternative, gboolean with_mirror, double mirror_cost)
{
  MlPiece *composite;

  if (list->len < 2)
    {
      ml_idiom_release (finder, list);
      g_array_unref (list);
      g_clear_pointer (&alternative, g_array_unref);
      return NULL;
    }
  composite = composite_of (finder, list);
  add_form_and_mirror (finder, composite, list, with_mirror, mirror_cost);
  if (alternative != NULL)
    add_form_and_mirror (finder, composite, alternative, with_mirror, mirror_cost);
  composite->n_listed = composite->forms->len;
  g_ptr_array_add (finder->kit->composites, composite);
  return composite;
}

void
ml_idiom_keep (MlPiece *composite)
{
  if (composite != NULL)
    composite->is_kept = TRUE;
}

MlPiece *
ml_idiom_add_ways (MlFinder *finder, const GPtrArray *ways)
{
  MlPiece *composite = composite_of (finder, g_ptr_array_index (ways, 0));
  int least = G_MAXINT;
  guint i;

  for (i = 0; i < ways->len; i++)
    {
      add_form (finder, composite, g_ptr_array_index (ways, i), 0);
      least = MIN (least, ((MlForm *) g_ptr_array_index (composite->forms, i))->cost);
    }
  for (i = 0; i < ways->len; i++)
    ((MlForm *) g_ptr_array_index (composite->forms, i))->cost -= least;
  composite->n_listed = composite->forms->len;
  g_ptr_array_add (finder->kit->composites, composite);
  return composite;
}

/* ---- capacitors belong to chips ---- */

/* A block fed from one net to the other, or an amplifier. */
static gboolean
is_fed_between (const MlFinder *finder, int part, int reference)
{
  const MlCircuitPart *of = &finder->circuit->parts[part];
  guint i;

  for (i = 0; i < of->n_pins && of->kind == ML_KIND_BLOCK; i++)
    if (of->pins[i].net == reference)
      return TRUE;
  return ml_circuit_is_amplifier (of->kind);
}

static GArray *
chips_on (const MlFinder *finder, int net, int reference)
{
  GArray *chips = g_array_new (FALSE, FALSE, sizeof (int));
  guint i;

  for (i = 0; i < ml_idiom_n_at (finder, net); i++)
    {
      MlCircuitJoint joint = finder->circuit->nets[net].joints[i];
      int piece = finder->kit->plain_of_part[joint.part];
      if (is_fed_between (finder, joint.part, reference))
        g_array_append_val (chips, piece);
    }
  return chips;
}

/* Where a rail begins: its capacitors stand there when no chip wants them. */
static int
source_of (const MlFinder *finder, int net)
{
  guint i;

  for (i = 0; i < ml_idiom_n_at (finder, net); i++)
    {
      MlCircuitJoint joint = finder->circuit->nets[net].joints[i];
      const MlCircuitPart *part = &finder->circuit->parts[joint.part];
      MlPinWord word = part->pins[joint.pin].word;
      if ((ml_circuit_is_regulator (part->kind) && word == ML_PIN_WORD_OUT) || (part->kind == ML_KIND_BRIDGE && word == ML_PIN_WORD_PLUS)
          || (part->kind == ML_KIND_DIODE && word == ML_PIN_WORD_CATHODE))
        return finder->kit->plain_of_part[joint.part];
    }
  return -1;
}

static void
tie_capacitors (MlFinder *finder)
{
  guint *turn = g_new0 (guint, MAX (finder->circuit->n_nets, 1)), i;

  for (i = 0; i < finder->kit->plain->len; i++)
    {
      int a, b, rail;
      GArray *chips;
      if (finder->used[i] || ml_idiom_kind (finder, (int) i) != ML_KIND_CAPACITOR || !ml_idiom_two (finder, (int) i))
        continue;
      a = ml_idiom_net (finder, (int) i, 0);
      b = ml_idiom_net (finder, (int) i, 1);
      if (ml_idiom_signal (finder, a) || ml_idiom_signal (finder, b))
        continue;
      rail = a == finder->reference ? b : a;
      chips = chips_on (finder, rail, rail == a ? b : a);
      if (chips->len > 0)
        {
          MlTie tie = { (int) i, g_array_index (chips, int, turn[rail]++ % chips->len) };
          g_array_append_val (finder->kit->ties, tie);
        }
      else if (source_of (finder, rail) >= 0)
        {
          MlTie tie = { (int) i, source_of (finder, rail) };
          g_array_append_val (finder->kit->ties, tie);
        }
      g_array_unref (chips);
    }
  g_free (turn);
}

/* ---- what works together ---- */

/* A contact stands level with its coil: then a dashed line can join them. */
static void
mate_level (MlFinder *finder)
{
  const MlCircuit *circuit = finder->circuit;
  guint i, k;

  for (i = 0; i < circuit->n_parts; i++)
    for (k = 0; k < circuit->n_parts; k++)
      {
        MlMate mate = { finder->kit->plain_of_part[i], finder->kit->plain_of_part[k], TRUE };
        if (circuit->parts[k].kind == ML_KIND_CONTACT && circuit->parts[k].part->by == circuit->parts[i].index && mate.a >= 0 && mate.b >= 0)
          g_array_append_val (finder->kit->mates, mate);
      }
}

/* Terminals at a rail would stand anywhere: they belong to the next of the same connector that a signal leads to. */
static void
tie_terminals (MlFinder *finder)
{
  guint i, k;

  for (i = 0; i < finder->kit->plain->len; i++)
    {
      const MlPiece *piece = ml_idiom_piece (finder, (int) i);
      gboolean done = FALSE;
      if (piece->kind != ML_PIECE_TERMINAL || piece->is_source || finder->used[i] || piece->pins[0].net < 0
          || ml_idiom_signal (finder, piece->pins[0].net))
        continue;
      for (k = 0; k < finder->kit->plain->len && !done; k++)
        {
          const MlPiece *other = ml_idiom_piece (finder, (int) k);
          MlTie tie = { (int) i, (int) k };
          if (other->kind != ML_PIECE_TERMINAL || other->part != piece->part || !ml_idiom_signal (finder, other->pins[0].net))
            continue;
          g_array_append_val (finder->kit->ties, tie);
          done = TRUE;
        }
    }
}

#define BESIDE_ITS_BAR 4 /* a ring that its supply's wire would have to bend to */

/* What begins no supply chain but hangs on a supply hangs from a bar. */
static void
hang_rings (MlFinder *finder)
{
  guint i, k;

  for (i = 0; i < finder->kit->plain->len; i++)
    {
      const MlPiece *piece = ml_idiom_piece (finder, (int) i);
      if (piece->kind != ML_PIECE_TERMINAL || !piece->is_source || finder->used[i] || !ml_idiom_up (finder, piece->pins[0].net))
        continue;
      for (k = 0; k < piece->forms->len; k++)
        {
          MlForm *form = g_ptr_array_index (piece->forms, k);
          if (form->pins[0].side != ML_SIDE_UP)
            form->cost += ML_COST (BESIDE_ITS_BAR);
        }
    }
}

void
ml_kit_find_idioms (MlKit *kit)
{
  MlFinder finder = { kit, kit->circuit, g_new0 (gboolean, MAX (kit->plain->len, 1)), kit->circuit->reference };
  guint i;

  ml_idiom_find_diamonds (&finder);
  ml_idiom_find_choppers (&finder);
  ml_idiom_find_pumps (&finder);
  ml_idiom_find_supply (&finder);
  ml_idiom_find_pairs (&finder);
  ml_idiom_find_tailed (&finder);
  ml_idiom_find_shifters (&finder);
  ml_idiom_find_matrices (&finder);
  ml_idiom_find_combs (&finder);
  ml_idiom_find_isolated (&finder);
  ml_idiom_find_crystals (&finder);
  ml_idiom_find_push_pulls (&finder);
  ml_idiom_find_bridges (&finder);
  ml_idiom_find_stages (&finder);
  ml_idiom_find_networks (&finder);
  ml_idiom_find_banks (&finder);
  mate_level (&finder);
  tie_capacitors (&finder);
  tie_terminals (&finder);
  hang_rings (&finder);
  for (i = 0; i < kit->composites->len; i++)
    g_ptr_array_add (kit->pieces, g_ptr_array_index (kit->composites, i));
  for (i = 0; i < kit->plain->len; i++)
    if (!finder.used[i])
      g_ptr_array_add (kit->pieces, g_ptr_array_index (kit->plain, i));
  g_free (finder.used);
}
