/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Making a sheet: which spot has which nets, mates and ties. */
#include "drawing/layout-sheet.h"

static void
list_nets (MlSheet *sheet)
{
  guint i, k, j;

  for (i = 0; i < sheet->n; i++)
    {
      MlSpot *spot = &sheet->spots[i];
      spot->nets = g_new (int, MAX (spot->piece->n_pins, 1));
      for (k = 0; k < spot->piece->n_pins; k++)
        {
          int net = spot->piece->pins[k].net;
          MlSheetNet *of;
          if (net < 0)
            continue;
          of = &sheet->nets[net];
          of->pins = g_renew (MlPiecePinRef, of->pins, of->n_pins + 1);
          of->pins[of->n_pins++] = (MlPiecePinRef){ (int) i, (int) k };
          for (j = 0; j < spot->n_nets && spot->nets[j] != net; j++)
            ;
          if (j == spot->n_nets)
            spot->nets[spot->n_nets++] = net;
        }
    }
}

/* Which spot holds a plain piece. */
static int *
spots_of_plain (const MlSheet *sheet)
{
  int *spot_of = g_new (int, MAX (sheet->kit->plain->len, 1));
  GHashTable *index = g_hash_table_new (NULL, NULL);
  guint i, k;

  for (i = 0; i < sheet->kit->plain->len; i++)
    {
      g_hash_table_insert (index, g_ptr_array_index (sheet->kit->plain, i), GUINT_TO_POINTER (i));
      spot_of[i] = -1;
    }
  for (i = 0; i < sheet->n; i++)
    {
      const MlPiece *piece = sheet->spots[i].piece;
      for (k = 0; k < piece->n_members; k++)
        spot_of[piece->members[k]] = (int) i;
      if (piece->n_members == 0)
        spot_of[GPOINTER_TO_UINT (g_hash_table_lookup (index, piece))] = (int) i;
    }
  g_hash_table_unref (index);
  return spot_of;
}

static void
list_mates_and_ties (MlSheet *sheet)
{
  int *spot_of = spots_of_plain (sheet);
  guint i;

  for (i = 0; i < sheet->kit->mates->len; i++)
    {
      MlMate mate = g_array_index (sheet->kit->mates, MlMate, i);
      MlFlowTo to = { spot_of[mate.b], mate.level }, back = { spot_of[mate.a], mate.level };
      if (to.piece < 0 || back.piece < 0 || to.piece == back.piece || sheet->spots[to.piece].piece->n_members > 0 || sheet->spots[back.piece].piece->n_members > 0)
        continue;
      g_array_append_val (sheet->spots[back.piece].mates, to);
      g_array_append_val (sheet->spots[to.piece].mates, back);
    }
  for (i = 0; i < sheet->kit->ties->len; i++)
    {
      MlTie tie = g_array_index (sheet->kit->ties, MlTie, i);
      int a = spot_of[tie.capacitor], b = spot_of[tie.chip];
      if (a < 0 || b < 0 || a == b)
        continue;
      g_array_append_val (sheet->spots[a].ties, b);
      g_array_append_val (sheet->spots[b].ties, a);
    }
  g_free (spot_of);
}

/* A bank wants room for the wires that fan out to it. */
static void
list_fans (MlSheet *sheet)
{
  guint i, k, n;

  for (i = 0; i < sheet->n; i++)
    for (k = 0; k < sheet->n && sheet->spots[i].piece->is_bank; k++)
      {
        guint shared = 0;
        if (!sheet->spots[k].piece->is_box)
          continue;
        for (n = 0; n < sheet->spots[k].n_nets; n++)
          {
            int net = sheet->spots[k].nets[n];
            guint p;
            for (p = 0; p < sheet->spots[i].n_nets && sheet->spots[i].nets[p] != net; p++)
              ;
            shared += p < sheet->spots[i].n_nets && sheet->nets[net].rail == ML_RAIL_NONE;
          }
        if (shared > 1)
          {
            MlFlowTo to = { (int) k, (int) shared }, back = { (int) i, (int) shared };
            g_array_append_val (sheet->spots[i].fans, to);
            g_array_append_val (sheet->spots[k].fans, back);
          }
      }
}

/* The pin on a terminal's net that has the least colour: with like terminals it is the like one. */
static gboolean
find_end (const MlSheet *sheet, int i, MlPiecePinRef *ret_end)
{
  const MlSheetNet *net = &sheet->nets[sheet->spots[i].piece->pins[0].net];
  gboolean found = FALSE;
  guint64 least = 0;
  guint k;

  for (k = 0; k < net->n_pins; k++)
    {
      const MlPiecePin *pin = &sheet->spots[net->pins[k].piece].piece->pins[net->pins[k].pin];
      const MlCircuitPart *part = &sheet->circuit->parts[pin->part];
      guint64 colour = ml_colours_mixed (part->colour, ml_circuit_word_alike (part, (guint) pin->pin));
      if (part->is_hub || (found && colour >= least))
        continue;
      least = colour;
      *ret_end = net->pins[k];
      found = TRUE;
    }
  return found;
}

static void
list_like_terminals (MlSheet *sheet)
{
  guint i, k;

  for (i = 0; i < sheet->n; i++)
    {
      const MlPiece *piece = sheet->spots[i].piece;
      sheet->spots[i].end_of = (MlPiecePinRef){ -1, -1 };
      if (piece->kind != ML_PIECE_TERMINAL || piece->pins[0].net < 0 || sheet->nets[piece->pins[0].net].rail != ML_RAIL_NONE
          || !find_end (sheet, (int) i, &sheet->spots[i].end_of))
        continue;
      for (k = 0; k < i; k++)
        {
          const MlPiece *other = sheet->spots[k].piece;
          int first = (int) i, second = (int) k;
          if (other->kind != ML_PIECE_TERMINAL || other->part != piece->part || other->pins[0].net < 0 || sheet->spots[k].end_of.piece < 0
              || other->pins[0].net == piece->pins[0].net
              || sheet->circuit->nets[other->pins[0].net].colour != sheet->circuit->nets[piece->pins[0].net].colour)
            continue;
          g_array_append_val (sheet->spots[k].like, first);
          g_array_append_val (sheet->spots[i].like, second);
        }
    }
}

MlSheet *
ml_sheet_new (MlKit *kit, GPtrArray *pieces, guint64 seed, int span)
{
  MlSheet *sheet = g_new0 (MlSheet, 1);
  guint i;

  sheet->circuit = kit->circuit;
  sheet->kit = kit;
  sheet->n = pieces->len;
  sheet->spots = g_new0 (MlSpot, MAX (sheet->n, 1));
  sheet->n_nets = kit->circuit->n_nets;
  sheet->nets = g_new0 (MlSheetNet, MAX (sheet->n_nets, 1));
  sheet->supply_spot = -1;
  sheet->connectors = g_array_new (FALSE, FALSE, sizeof (int));
  sheet->core_on_core = ML_CORE_ON_CORE;
  sheet->random = 0x9e3779b97f4a7c15u ^ (seed * 0xbf58476d1ce4e5b9u);
  sheet->above_weight = kit->circuit->n_parts > 40 ? ML_COST (1) : ML_COST (0.5);
  sheet->width = sheet->height = span;
  sheet->cells = g_new0 (MlCell, (gsize) span * (gsize) span);
  for (i = 0; i < sheet->n; i++)
    {
      MlSpot *spot = &sheet->spots[i];
      spot->piece = g_ptr_array_index (pieces, i);
      spot->form = g_ptr_array_index (spot->piece->forms, 0);
      spot->flows = g_array_new (FALSE, FALSE, sizeof (MlFlowTo));
      spot->mates = g_array_new (FALSE, FALSE, sizeof (MlFlowTo));
      spot->ties = g_array_new (FALSE, FALSE, sizeof (int));
      spot->fans = g_array_new (FALSE, FALSE, sizeof (MlFlowTo));
      spot->like = g_array_new (FALSE, FALSE, sizeof (int));
      if (spot->piece->is_supply_chain)
        sheet->supply_spot = (int) i;
      else if (spot->piece->kind == ML_PIECE_PART && spot->piece->part_kind == ML_KIND_CONNECTOR && spot->piece->pull != 0)
        g_array_append_val (sheet->connectors, i);
    }
  for (i = 0; i < sheet->n_nets; i++)
    sheet->nets[i].rail = kit->circuit->nets[i].rail;
  list_nets (sheet);
  list_mates_and_ties (sheet);
  list_fans (sheet);
  list_like_terminals (sheet);
  ml_flow_find (sheet, span * 2 / 5);
  return sheet;
}

void
ml_sheet_free (MlSheet *sheet)
{
  guint i;

  for (i = 0; i < sheet->n; i++)
    {
      g_free (sheet->spots[i].nets);
      g_array_unref (sheet->spots[i].flows);
      g_array_unref (sheet->spots[i].mates);
      g_array_unref (sheet->spots[i].ties);
      g_array_unref (sheet->spots[i].fans);
      g_array_unref (sheet->spots[i].like);
    }
  for (i = 0; i < sheet->n_nets; i++)
    {
      g_free (sheet->nets[i].pins);
      g_free (sheet->nets[i].now.segments);
      g_free (sheet->nets[i].before.segments);
    }
  g_array_unref (sheet->connectors);
  g_free (sheet->spots);
  g_free (sheet->nets);
  g_free (sheet->cells);
  g_free (sheet);
}

/* ---- places of one sheet on another ---- */

static int
spot_of_piece (const MlSheet *sheet, const MlPiece *piece)
{
  guint i;

  for (i = 0; i < sheet->n; i++)
    if (sheet->spots[i].piece == piece)
      return (int) i;
  return -1;
}

void
ml_sheet_take_places (MlSheet *finer, const MlSheet *from, int dx, int dy)
{
  guint i, k;

  for (i = 0; i < from->n; i++)
    {
      const MlSpot *spot = &from->spots[i];
      int same = spot_of_piece (finer, spot->piece);
      if (same >= 0)
        {
          finer->spots[same].x = spot->x + dx;
          finer->spots[same].y = spot->y + dy;
          finer->spots[same].form = spot->form;
          finer->spots[same].on = spot->on;
          continue;
        }
      for (k = 0; k < spot->form->n_members; k++)
        {
          MlMember member = spot->form->members[k];
          MlPiece *piece = g_ptr_array_index (from->kit->plain, (guint) member.piece);
          MlSpot *to = &finer->spots[spot_of_piece (finer, piece)];
          to->x = spot->x + member.dx + dx;
          to->y = spot->y + member.dy + dy;
          to->form = g_ptr_array_index (piece->forms, (guint) member.form);
          to->on = TRUE;
        }
    }
}
