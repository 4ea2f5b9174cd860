/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/layout-alike.h"

#include "drawing/groups.h"

#include <string.h>

#define MOST_PIECES 24 /* of a unit */

typedef struct
{
  const MlKit *kit;
  const MlCircuit *circuit;
  guint n;             /* plain pieces */
  gboolean *is_hub, *is_barred;
  gboolean *is_shared; /* per net */
  guint *parent;
} Finder;

static MlPiece *
piece_at (const Finder *finder, guint i)
{
  return g_ptr_array_index (finder->kit->plain, i);
}

static guint64
colour_of (const Finder *finder, guint piece)
{
  return finder->circuit->parts[piece_at (finder, piece)->part].colour;
}

static gboolean
is_signal (const Finder *finder, int net)
{
  return net >= 0 && finder->circuit->nets[net].rail == ML_RAIL_NONE;
}

static void
list_hubs (Finder *finder)
{
  guint i;

  for (i = 0; i < finder->n; i++)
    {
      const MlPiece *piece = piece_at (finder, i);
      finder->is_hub[i] = piece->kind == ML_PIECE_PART && finder->circuit->parts[piece->part].is_hub;
      finder->is_barred[i] = (piece->is_source && piece->kind != ML_PIECE_TERMINAL) || piece->part_kind == ML_KIND_BATTERY;
    }
}

/* ---- what hangs together ---- */

/* Parallel, or both ending there: no two units meet at such a net. */
static gboolean
reach_the_same (const Finder *finder, const MlPiece *a, const MlPiece *b)
{
  guint k;

  for (k = 0; k < a->n_pins; k++)
    if (is_signal (finder, a->pins[k].net) && ml_piece_pin_on (b, a->pins[k].net) < 0)
      return FALSE;
  return TRUE;
}

/* Parts of one colour that lead to different places meet there: a bus, a sum, a common wire. */
static gboolean
is_common (const Finder *finder, int net)
{
  const MlCircuitNet *of = &finder->circuit->nets[net];
  guint i, k;

  for (i = 0; i < of->n_joints; i++)
    for (k = 0; k < i; k++)
      {
        const MlCircuitPart *a = &finder->circuit->parts[of->joints[i].part], *b = &finder->circuit->parts[of->joints[k].part];
        if (a != b && !a->is_hub && a->colour == b->colour
            && ml_circuit_word_alike (a, (guint) of->joints[i].pin) == ml_circuit_word_alike (b, (guint) of->joints[k].pin)
            && !reach_the_same (finder, piece_at (finder, (guint) finder->kit->plain_of_part[of->joints[i].part]),
                                piece_at (finder, (guint) finder->kit->plain_of_part[of->joints[k].part])))
          return TRUE;
      }
  return FALSE;
}

static void
join_pieces (Finder *finder)
{
  int *first = g_new (int, MAX (finder->circuit->n_nets, 1));
  guint i, k;

  for (i = 0; i < finder->n; i++)
    finder->parent[i] = i;
  for (i = 0; i < finder->circuit->n_nets; i++)
    {
      first[i] = -1;
      finder->is_shared[i] = !is_signal (finder, (int) i) || is_common (finder, (int) i);
    }
  for (i = 0; i < finder->n; i++)
    for (k = 0; k < piece_at (finder, i)->n_pins && !finder->is_hub[i]; k++)
      {
        int net = piece_at (finder, i)->pins[k].net;
        if (net < 0 || finder->is_shared[net])
          continue;
        if (first[net] >= 0)
          ml_group_join (finder->parent, (guint) first[net], i);
        first[net] = (int) i;
      }
  for (i = 0; i < finder->kit->composites->len; i++)
    {
      const MlPiece *composite = g_ptr_array_index (finder->kit->composites, i);
      for (k = 0; k < composite->n_members; k++)
        {
          ml_group_join (finder->parent, (guint) composite->members[0], (guint) composite->members[k]);
          if (composite->is_supply_chain)
            finder->is_barred[composite->members[k]] = TRUE;
        }
    }
  g_free (first);
}

/* ---- units ---- */

typedef struct
{
  GArray *pieces; /* of guint, by colour, then by index */
  int hub, hub_pin; /* where it hangs, in the order of the box's pins */
  guint n_hubs;
} Unit;

static void
unit_clear (gpointer data)
{
  g_array_unref (((Unit *) data)->pieces);
}

static int
by_colour (gconstpointer a, gconstpointer b, gpointer data)
{
  const Finder *finder = data;
  guint p = *(const guint *) a, q = *(const guint *) b;

  if (colour_of (finder, p) != colour_of (finder, q))
    return colour_of (finder, p) < colour_of (finder, q) ? -1 : 1;
  return p < q ? -1 : p > q;
}

/* The pin of a chip, or else of a connector, that comes first in the file. */
static void
find_hub (const Finder *finder, Unit *unit)
{
  g_autofree gboolean *seen = g_new0 (gboolean, finder->n + 1);
  gboolean chip = FALSE;
  guint i, k, j;

  unit->hub = -1;
  for (i = 0; i < unit->pieces->len; i++)
    {
      const MlPiece *piece = piece_at (finder, g_array_index (unit->pieces, guint, i));
      for (k = 0; k < piece->n_pins; k++)
        {
          int net = piece->pins[k].net;
          if (net < 0 || finder->is_shared[net])
            continue;
          for (j = 0; j < finder->circuit->nets[net].n_joints; j++)
            {
              MlCircuitJoint joint = finder->circuit->nets[net].joints[j];
              const MlCircuitPart *part = &finder->circuit->parts[joint.part];
              int hub = finder->kit->plain_of_part[joint.part], pin = part->pins[joint.pin].pin;
              gboolean block = part->kind == ML_KIND_BLOCK, better;
              if (!ml_circuit_is_free_box (part->kind) || hub < 0)
                continue;
              unit->n_hubs += finder->is_hub[hub] && !seen[hub];
              seen[hub] = TRUE;
              better = unit->hub < 0 || (block && !chip) || (block == chip && (hub < unit->hub || (hub == unit->hub && pin < unit->hub_pin)));
              if (!better)
                continue;
              chip = block;
              unit->hub = hub;
              unit->hub_pin = pin;
            }
        }
    }
}

static GArray *
list_units (Finder *finder)
{
  GArray *units = g_array_new (FALSE, FALSE, sizeof (Unit));
  int *unit_of = g_new (int, MAX (finder->n, 1));
  guint i, k;

  g_array_set_clear_func (units, unit_clear);
  for (i = 0; i < finder->n; i++)
    unit_of[i] = -1;
  for (i = 0; i < finder->n; i++)
    {
      guint root = ml_group_of (finder->parent, i);
      if (finder->is_hub[i])
        continue;
      if (unit_of[root] < 0)
        {
          Unit unit = { g_array_new (FALSE, FALSE, sizeof (guint)), -1, 0, 0 };
          unit_of[root] = (int) units->len;
          g_array_append_val (units, unit);
        }
      g_array_append_val (g_array_index (units, Unit, unit_of[root]).pieces, i);
    }
  g_free (unit_of);
  for (i = units->len; i-- > 0;)
    {
      GArray *pieces = g_array_index (units, Unit, i).pieces;
      gboolean barred = pieces->len > MOST_PIECES;
      for (k = 0; k < pieces->len; k++)
        barred |= finder->is_barred[g_array_index (pieces, guint, k)];
      g_array_sort_with_data (pieces, by_colour, finder);
      find_hub (finder, &g_array_index (units, Unit, i));
      if (barred)
        g_array_remove_index (units, i);
    }
  return units;
}

static gboolean
are_of_one_colour (const Finder *finder, const Unit *a, const Unit *b)
{
  guint k;

  for (k = 0; k < a->pieces->len && a->pieces->len == b->pieces->len; k++)
    if (colour_of (finder, g_array_index (a->pieces, guint, k)) != colour_of (finder, g_array_index (b->pieces, guint, k)))
      return FALSE;
  return a->pieces->len == b->pieces->len;
}

/* ---- which piece answers to which ---- */

typedef struct { int *to, *from; } NetMap; /* -1: not known yet */

static gboolean
net_fits (const Finder *finder, const NetMap *map, int a, int b)
{
  if (a < 0 || b < 0)
    return a < 0 && b < 0;
  if (finder->is_shared[a] || finder->is_shared[b])
    return a == b;
  return finder->circuit->nets[a].colour == finder->circuit->nets[b].colour && (map->to[a] < 0 ? map->from[b] < 0 : map->to[a] == b);
}

static void
take_net (const NetMap *map, int a, int b)
{
  if (a < 0)
    return;
  map->to[a] = b;
  map->from[b] = a;
}

static int
pin_of_word (const MlCircuit *circuit, const MlPiece *piece, MlPinWord word)
{
  guint k;

  for (k = 0; k < piece->n_pins; k++)
    if (circuit->parts[piece->pins[k].part].pins[piece->pins[k].pin].word == word)
      return (int) k;
  return -1;
}

/* The pin of q that answers to pin k of p; -1. */
static int
answering_pin (const MlCircuit *circuit, const MlPiece *p, const MlPiece *q, guint k, gboolean turned)
{
  if (turned)
    return 1 - (int) k;
  if (p->is_box || p->kind != ML_PIECE_PART)
    return k < q->n_pins ? (int) k : -1;
  return pin_of_word (circuit, q, circuit->parts[p->pins[k].part].pins[p->pins[k].pin].word);
}

static gboolean
pair_fits (const Finder *finder, const NetMap *map, const MlPiece *p, const MlPiece *q, gboolean turned)
{
  guint k;

  for (k = 0; k < p->n_pins; k++)
    {
      int pin = answering_pin (finder->circuit, p, q, k, turned);
      if (ml_circuit_pin_counts (&finder->circuit->parts[p->part], (guint) p->pins[k].pin) && (pin < 0 || !net_fits (finder, map, p->pins[k].net, q->pins[pin].net)))
        return FALSE;
    }
  return TRUE;
}

/* Takes the pair's nets over when they fit; two-terminal parts either way round. */
static gboolean
take_pair (const Finder *finder, const NetMap *map, guint a, guint b, gboolean *ret_turned)
{
  const MlPiece *p = piece_at (finder, a), *q = piece_at (finder, b);
  gboolean either = p->n_pins == 2 && q->n_pins == 2 && p->kind == ML_PIECE_PART && !p->is_box && ml_circuit_word_alike (&finder->circuit->parts[p->part], 0) == ml_circuit_word_alike (&finder->circuit->parts[p->part], 1);
  guint k;

  *ret_turned = FALSE;
  if (!pair_fits (finder, map, p, q, FALSE))
    {
      if (!either || !pair_fits (finder, map, p, q, TRUE))
        return FALSE;
      *ret_turned = TRUE;
    }
  for (k = 0; k < p->n_pins; k++)
    if (ml_circuit_pin_counts (&finder->circuit->parts[p->part], (guint) p->pins[k].pin))
      take_net (map, p->pins[k].net, q->pins[answering_pin (finder->circuit, p, q, k, *ret_turned)].net);
  return TRUE;
}

/* Pieces of `unit` in the order of those of `like`; FALSE where colours deceived. */
static gboolean
find_answers (const Finder *finder, const Unit *like, const Unit *unit, int *ret_pieces, gboolean *ret_turned)
{
  guint n_nets = MAX (finder->circuit->n_nets, 1), k, j;
  NetMap map = { g_new (int, n_nets), g_new (int, n_nets) };
  g_autofree gboolean *used = g_new0 (gboolean, unit->pieces->len + 1);
  gboolean all = TRUE;

  memset (map.to, -1, sizeof (int) * n_nets);
  memset (map.from, -1, sizeof (int) * n_nets);
  for (k = 0; k < like->pieces->len && all; k++)
    {
      guint piece = g_array_index (like->pieces, guint, k);
      ret_pieces[k] = -1;
      for (j = 0; j < unit->pieces->len && ret_pieces[k] < 0; j++)
        {
          guint other = g_array_index (unit->pieces, guint, j);
          if (used[j] || colour_of (finder, other) != colour_of (finder, piece) || !take_pair (finder, &map, piece, other, &ret_turned[k]))
            continue;
          used[j] = TRUE;
          ret_pieces[k] = (int) other;
        }
      all = ret_pieces[k] >= 0;
    }
  g_free (map.to);
  g_free (map.from);
  return all;
}

static int
by_hub (gconstpointer a, gconstpointer b)
{
  const Unit *p = *(const Unit *const *) a, *q = *(const Unit *const *) b;

  if (p->hub != q->hub)
    return p->hub < q->hub ? -1 : 1;
  if (p->hub_pin != q->hub_pin)
    return p->hub_pin < q->hub_pin ? -1 : 1;
  return (int) g_array_index (p->pieces, guint, 0) - (int) g_array_index (q->pieces, guint, 0);
}

static void
alike_free (gpointer data)
{
  g_free (((MlAlike *) data)->pieces);
  g_free (((MlAlike *) data)->turned);
  g_free (data);
}

/* The unit whose texts are longest: what has room for those has room for the others. */
static const Unit *
wordiest (const Finder *finder, GPtrArray *like)
{
  const Unit *best = NULL;
  double most = -1;
  guint i, k;

  for (i = 0; i < like->len; i++)
    {
      const Unit *unit = g_ptr_array_index (like, i);
      double wide = 0;
      for (k = 0; k < unit->pieces->len; k++)
        {
          const MlPiece *piece = piece_at (finder, g_array_index (unit->pieces, guint, k));
          wide += finder->circuit->parts[piece->part].label_w + 10 * piece->n_pins;
        }
      if (wide > most + 1e-9)
        {
          most = wide;
          best = unit;
        }
    }
  return best;
}

static void
add_group (const Finder *finder, GPtrArray *like, GPtrArray *groups)
{
  const Unit *first = wordiest (finder, like);
  MlAlike *alike;
  guint i;

  g_ptr_array_sort (like, by_hub);
  alike = g_new0 (MlAlike, 1);
  alike->n_pieces = first->pieces->len;
  alike->n_hubs = first->n_hubs;
  alike->pieces = g_new (int, alike->n_pieces * like->len);
  alike->turned = g_new0 (gboolean, alike->n_pieces * like->len);
  for (i = 0; i < like->len; i++)
    {
      const Unit *unit = g_ptr_array_index (like, i);
      guint at = alike->n_units * alike->n_pieces;
      if (unit == first)
        alike->model = alike->n_units;
      alike->n_units += find_answers (finder, first, unit, &alike->pieces[at], &alike->turned[at]);
    }
  if (alike->n_units > 1)
    g_ptr_array_add (groups, alike);
  else
    alike_free (alike);
}

static void
list_groups (const Finder *finder, GArray *units, GPtrArray *groups)
{
  g_autofree gboolean *done = g_new0 (gboolean, units->len + 1);
  guint i, k;

  for (i = 0; i < units->len; i++)
    {
      GPtrArray *like = g_ptr_array_new ();
      for (k = i; k < units->len && !done[i]; k++)
        if (!done[k] && are_of_one_colour (finder, &g_array_index (units, Unit, i), &g_array_index (units, Unit, k)))
          {
            g_ptr_array_add (like, &g_array_index (units, Unit, k));
            done[k] = k > i;
          }
      if (like->len > 1)
        add_group (finder, like, groups);
      g_ptr_array_unref (like);
    }
}

GPtrArray *
ml_alike_find (const MlKit *kit)
{
  guint n = kit->plain->len;
  Finder finder = { kit, kit->circuit, n, g_new0 (gboolean, n + 1), g_new0 (gboolean, n + 1), g_new0 (gboolean, kit->circuit->n_nets + 1),
                    g_new0 (guint, n + 1) };
  GPtrArray *groups = g_ptr_array_new_with_free_func (alike_free);
  GArray *units;

  list_hubs (&finder);
  join_pieces (&finder);
  units = list_units (&finder);
  list_groups (&finder, units, groups);
  g_array_unref (units);
  g_free (finder.is_hub);
  g_free (finder.is_barred);
  g_free (finder.is_shared);
  g_free (finder.parent);
  return groups;
}

int
ml_alike_pin (const MlAlike *alike, const MlKit *kit, guint unit, guint k, int pin)
{
  const MlPiece *from = g_ptr_array_index (kit->plain, (guint) alike->pieces[alike->model * alike->n_pieces + k]);
  guint at = unit * alike->n_pieces + k;

  return answering_pin (kit->circuit, from, g_ptr_array_index (kit->plain, (guint) alike->pieces[at]), (guint) pin, alike->turned[at]);
}
