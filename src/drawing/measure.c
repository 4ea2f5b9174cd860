/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How good a drawing is, from its geometry alone: also what a reader would take the net list to be. */
#include "drawing/groups.h"
#include "drawing/layout-circuit.h"
#include "drawing/layout-plan.h"
#include "drawing/layout.h"

#include <math.h>
#include <string.h>

#define EPSILON 0.01

static gboolean
boxes_overlap (const MlBox *a, const MlBox *b)
{
  return a->x0 < b->x1 - 1e-6 && b->x0 < a->x1 - 1e-6 && a->y0 < b->y1 - 1e-6 && b->y0 < a->y1 - 1e-6;
}

static MlBox
wire_box (const MlSceneWire *w)
{
  return (MlBox){ MIN (w->a.x, w->b.x), MIN (w->a.y, w->b.y), MAX (w->a.x, w->b.x), MAX (w->a.y, w->b.y) };
}

static gboolean
is_level (const MlSceneWire *w)
{
  return fabs (w->a.y - w->b.y) < EPSILON;
}

static gboolean
is_upright (const MlSceneWire *w)
{
  return fabs (w->a.x - w->b.x) < EPSILON;
}

static gboolean
lies_on (const MlSceneWire *w, MlPoint p)
{
  MlBox box = wire_box (w);

  return p.x > box.x0 - EPSILON && p.x < box.x1 + EPSILON && p.y > box.y0 - EPSILON && p.y < box.y1 + EPSILON;
}

static gboolean
same_point (MlPoint a, MlPoint b)
{
  return fabs (a.x - b.x) < EPSILON && fabs (a.y - b.y) < EPSILON;
}

/* ---- symbols ---- */

/* The nodes that belong to a symbol, as boxes. */
static void
append_cores (const MlSceneSymbol *symbol, GArray *ret_boxes)
{
  const MlSymbolGeometry *geometry = symbol->shape == ML_SHAPE_SYMBOL ? ml_symbol_geometry (symbol->name) : NULL;
  guint i;

  if (geometry == NULL)
    {
      g_array_append_val (ret_boxes, symbol->body);
      return;
    }
  for (i = 0; i < geometry->n_cores; i++)
    {
      const MlCells *c = &geometry->cores[i];
      MlBox box = ml_place_box (&symbol->place, (MlBox){ c->x0, c->y0, c->x1, c->y1 });
      g_array_append_val (ret_boxes, box);
    }
}

static guint
wires_through (const MlScene *scene)
{
  GArray *cores = g_array_new (FALSE, FALSE, sizeof (MlBox));
  guint i, k, n = 0;

  for (i = 0; i < scene->n_symbols; i++)
    if (scene->symbols[i].shape != ML_SHAPE_TERMINAL)
      append_cores (&scene->symbols[i], cores);
  for (i = 0; i < scene->n_wires; i++)
    for (k = 0; k < cores->len; k++)
      {
        MlBox wire = wire_box (&scene->wires[i]);
        const MlBox *core = &g_array_index (cores, MlBox, k);
        n += wire.x0 < core->x1 + EPSILON && wire.x1 > core->x0 - EPSILON && wire.y0 < core->y1 + EPSILON && wire.y1 > core->y0 - EPSILON;
      }
  g_array_unref (cores);
  return n;
}

static gboolean
symbols_touch (const MlScene *scene, guint a, guint b)
{
  GArray *of_a = g_array_new (FALSE, FALSE, sizeof (MlBox)), *of_b = g_array_new (FALSE, FALSE, sizeof (MlBox));
  gboolean touch = FALSE;
  guint i, k;

  append_cores (&scene->symbols[a], of_a);
  append_cores (&scene->symbols[b], of_b);
  for (i = 0; i < of_a->len && !touch; i++)
    for (k = 0; k < of_b->len && !touch; k++)
      {
        MlBox p = g_array_index (of_a, MlBox, i);
        p.x0 -= EPSILON;
        p.y0 -= EPSILON;
        p.x1 += EPSILON;
        p.y1 += EPSILON;
        touch = boxes_overlap (&p, &g_array_index (of_b, MlBox, k));
      }
  g_array_unref (of_a);
  g_array_unref (of_b);
  return touch;
}

static guint
symbol_overlaps (const MlScene *scene)
{
  guint i, k, n = 0;

  for (i = 0; i < scene->n_symbols; i++)
    for (k = 0; k < i; k++)
      {
        const MlSceneSymbol *a = &scene->symbols[i], *b = &scene->symbols[k];
        /* Hulls first: most pairs are far apart. */
        if (a->body.x0 - 2 > b->body.x1 || b->body.x0 - 2 > a->body.x1 || a->body.y0 - 2 > b->body.y1 || b->body.y0 - 2 > a->body.y1)
          continue;
        if (strcmp (a->name, "diode-diagonal") == 0 && strcmp (b->name, "diode-diagonal") == 0)
          continue;
        n += symbols_touch (scene, i, k);
      }
  return n;
}

/* ---- texts ---- */

static gboolean
is_inside_own_box (const MlScene *scene, const MlSceneLabel *label)
{
  guint i;

  for (i = 0; i < scene->n_symbols && label->part >= 0; i++)
    {
      const MlSceneSymbol *symbol = &scene->symbols[i];
      if (symbol->part == label->part && symbol->shape == ML_SHAPE_BOX && label->box.x0 >= symbol->box.x0 && label->box.x1 <= symbol->box.x1
          && label->box.y0 >= symbol->box.y0 && label->box.y1 <= symbol->box.y1)
        return TRUE;
    }
  return FALSE;
}

static void
append_ink (const MlScene *scene, GArray *boxes)
{
  guint i;

  for (i = 0; i < scene->n_symbols; i++)
    ml_scene_inks (scene, i, boxes);
  for (i = 0; i < scene->n_wires; i++)
    {
      MlBox box = wire_box (&scene->wires[i]);
      box = (MlBox){ box.x0 - 0.06, box.y0 - 0.06, box.x1 + 0.06, box.y1 + 0.06 };
      g_array_append_val (boxes, box);
    }
}

/* A flag's name with a wire through it; its own wire may touch the edge. */
static guint
wires_through_flags (const MlScene *scene)
{
  guint i, k, n = 0;

  for (i = 0; i < scene->n_flags; i++)
    for (k = 0; k < scene->n_wires; k++)
      {
        const MlBox *box = &scene->flags[i].box;
        MlBox inner = { box->x0 + 0.15, box->y0 + 0.15, box->x1 - 0.15, box->y1 - 0.15 }, wire = wire_box (&scene->wires[k]);
        n += wire.x0 < inner.x1 && wire.x1 > inner.x0 && wire.y0 < inner.y1 && wire.y1 > inner.y0;
      }
  return n;
}

static guint
text_overlaps (const MlScene *scene)
{
  GArray *ink = g_array_new (FALSE, FALSE, sizeof (MlBox));
  guint i, k, n = wires_through_flags (scene), n_ink;

  append_ink (scene, ink);
  n_ink = ink->len;
  for (i = 0; i < scene->n_labels; i++)
    {
      const MlSceneLabel *label = &scene->labels[i];
      for (k = 0; k < n_ink && !is_inside_own_box (scene, label); k++)
        n += boxes_overlap (&label->box, &g_array_index (ink, MlBox, k));
      for (k = 0; k < scene->n_flags; k++)
        n += boxes_overlap (&label->box, &scene->flags[k].box);
      for (k = 0; k < i; k++)
        n += boxes_overlap (&label->box, &scene->labels[k].box);
    }
  for (i = 0; i < scene->n_flags; i++)
    for (k = 0; k < i; k++)
      n += boxes_overlap (&scene->flags[i].box, &scene->flags[k].box);
  g_array_unref (ink);
  return n;
}

/* ---- wires ---- */

static guint
shared_runs (const MlScene *scene)
{
  guint i, k, n = 0;

  for (i = 0; i < scene->n_wires; i++)
    for (k = 0; k < i; k++)
      {
        const MlSceneWire *a = &scene->wires[i], *b = &scene->wires[k];
        MlBox p = wire_box (a), q = wire_box (b);
        if (a->net == b->net || is_level (a) != is_level (b))
          continue;
        if (is_level (a))
          n += fabs (p.y0 - q.y0) < EPSILON && p.x0 < q.x1 + EPSILON && q.x0 < p.x1 + EPSILON;
        else
          n += fabs (p.x0 - q.x0) < EPSILON && p.y0 < q.y1 + EPSILON && q.y0 < p.y1 + EPSILON;
      }
  return n;
}

static gboolean
crosses (const MlSceneWire *level, const MlSceneWire *upright)
{
  MlBox h = wire_box (level), v = wire_box (upright);

  return v.x0 > h.x0 + EPSILON && v.x0 < h.x1 - EPSILON && h.y0 > v.y0 + EPSILON && h.y0 < v.y1 - EPSILON;
}

static guint
count_crossings (const MlScene *scene)
{
  guint i, k, n = 0;

  for (i = 0; i < scene->n_wires; i++)
    for (k = 0; k < scene->n_wires; k++)
      n += scene->wires[i].net != scene->wires[k].net && is_level (&scene->wires[i]) && is_upright (&scene->wires[k])
           && crosses (&scene->wires[i], &scene->wires[k]);
  return n;
}

/* Lines that end at a point, by direction: bit 1 level, bit 2 upright; how many in all. */
static guint
lines_at (const MlScene *scene, int net, MlPoint at, guint *ret_ways)
{
  guint i, n = 0;

  *ret_ways = 0;
  for (i = 0; i < scene->n_wires; i++)
    {
      const MlSceneWire *w = &scene->wires[i];
      if (w->net != net || (!same_point (w->a, at) && !same_point (w->b, at)))
        continue;
      n++;
      *ret_ways |= is_level (w) ? 1 : 2;
    }
  for (i = 0; i < scene->n_pins; i++)
    if (scene->pins[i].net == net && same_point (scene->pins[i].at, at))
      {
        n++;
        *ret_ways |= (scene->pins[i].side & 1) == 0 ? 1 : 2;
      }
  for (i = 0; i < scene->n_flags; i++)
    if (scene->flags[i].net == net && same_point (scene->flags[i].at, at))
      {
        n++;
        *ret_ways |= (scene->flags[i].side & 1) == 0 ? 1 : 2;
      }
  return n;
}

static guint
count_bends (const MlScene *scene)
{
  GHashTable *seen = g_hash_table_new (NULL, NULL);
  guint i, end, n = 0, ways;

  for (i = 0; i < scene->n_wires; i++)
    for (end = 0; end < 2; end++)
      {
        MlPoint at = end == 0 ? scene->wires[i].a : scene->wires[i].b;
        gpointer key = GINT_TO_POINTER ((int) lround (at.x) * 65536 + (int) lround (at.y) + 1);
        if (g_hash_table_contains (seen, key))
          continue;
        g_hash_table_add (seen, key);
        n += lines_at (scene, scene->wires[i].net, at, &ways) == 2 && ways == 3;
      }
  g_hash_table_unref (seen);
  return n;
}

/* ---- jogs: a wire steps sideways by one grid step between two stretches that run on the same way ---- */

#define JOG_STEP 1.0

static MlSide
way_from (const MlSceneWire *w, MlPoint at)
{
  MlPoint to = same_point (w->a, at) ? w->b : w->a;

  if (is_level (w))
    return to.x > at.x ? ML_SIDE_RIGHT : ML_SIDE_LEFT;
  return to.y > at.y ? ML_SIDE_DOWN : ML_SIDE_UP;
}

/* The ways in which lines leave a point, wires, leads and flags, as bits 1 << side. */
static guint
ways_from (const MlScene *scene, int net, MlPoint at)
{
  guint i, ways = 0;

  for (i = 0; i < scene->n_wires; i++)
    if (scene->wires[i].net == net && (same_point (scene->wires[i].a, at) || same_point (scene->wires[i].b, at)))
      ways |= 1u << way_from (&scene->wires[i], at);
  for (i = 0; i < scene->n_pins; i++)
    if (scene->pins[i].net == net && same_point (scene->pins[i].at, at))
      ways |= 1u << (scene->pins[i].side + 2) % 4;
  for (i = 0; i < scene->n_flags; i++)
    if (scene->flags[i].net == net && same_point (scene->flags[i].at, at))
      ways |= 1u << scene->flags[i].side;
  return ways;
}

static guint
n_ways (guint ways)
{
  return (ways & 1) + (ways >> 1 & 1) + (ways >> 2 & 1) + (ways >> 3 & 1);
}

static gboolean
is_jog (const MlScene *scene, const MlSceneWire *w)
{
  MlSide aside = is_level (w) ? ML_SIDE_UP : ML_SIDE_LEFT;
  guint one = 1u << aside, other = 1u << (aside + 2) % 4, at_a, at_b;

  if (fabs (w->a.x - w->b.x) + fabs (w->a.y - w->b.y) > JOG_STEP + EPSILON)
    return FALSE;
  at_a = ways_from (scene, w->net, w->a) & ~(1u << way_from (w, w->a));
  at_b = ways_from (scene, w->net, w->b) & ~(1u << way_from (w, w->b));
  if (n_ways (at_a) + n_ways (at_b) > 3) /* two branches that do not meet in one point, as they should not */
    return FALSE;
  at_a &= one | other;
  at_b &= one | other;
  return (at_a == one && at_b == other) || (at_a == other && at_b == one);
}

static guint
count_jogs (const MlScene *scene)
{
  guint i, n = 0;

  for (i = 0; i < scene->n_wires; i++)
    n += is_jog (scene, &scene->wires[i]);
  return n;
}

/* ---- the net list as a reader sees it ---- */

static gboolean
has_dot (const MlScene *scene, const MlSceneWire *a, const MlSceneWire *b)
{
  guint i;

  for (i = 0; i < scene->n_dots; i++)
    if (lies_on (a, scene->dots[i].at) && lies_on (b, scene->dots[i].at))
      return TRUE;
  return FALSE;
}

static void
join_wires (const MlScene *scene, guint *parent)
{
  guint i, k;

  for (i = 0; i < scene->n_wires; i++)
    for (k = 0; k < i; k++)
      {
        const MlSceneWire *a = &scene->wires[i], *b = &scene->wires[k];
        if (lies_on (a, b->a) || lies_on (a, b->b) || lies_on (b, a->a) || lies_on (b, a->b) || has_dot (scene, a, b))
          ml_group_join (parent, i, k);
      }
}

static void
join_ends (const MlScene *scene, guint *parent)
{
  guint pins = scene->n_wires, flags = pins + scene->n_pins, i, k;

  for (i = 0; i < scene->n_pins; i++)
    {
      for (k = 0; k < scene->n_wires; k++)
        if (lies_on (&scene->wires[k], scene->pins[i].at))
          ml_group_join (parent, pins + i, k);
      for (k = 0; k < i; k++)
        if (same_point (scene->pins[i].at, scene->pins[k].at))
          ml_group_join (parent, pins + i, pins + k);
    }
  for (i = 0; i < scene->n_flags; i++)
    {
      for (k = 0; k < scene->n_wires; k++)
        if (lies_on (&scene->wires[k], scene->flags[i].at))
          ml_group_join (parent, flags + i, k);
      for (k = 0; k < scene->n_pins; k++)
        if (same_point (scene->pins[k].at, scene->flags[i].at))
          ml_group_join (parent, flags + i, pins + k);
      for (k = 0; k < i; k++) /* the same name */
        if (scene->flags[i].net == scene->flags[k].net)
          ml_group_join (parent, flags + i, flags + k);
    }
}

/* Pairs of pins that are joined and should not be, or the other way round; each pin is compared with one of its kin. */
static guint
count_misconnected (const MlScene *scene)
{
  guint n = scene->n_wires + scene->n_pins + scene->n_flags, i, bad = 0, *parent = g_new (guint, MAX (n, 1));
  int *net_of_root = g_new (int, MAX (n, 1));
  guint *root_of_net = g_new (guint, MAX (scene->board->n_nets, 1));

  for (i = 0; i < n; i++)
    {
      parent[i] = i;
      net_of_root[i] = -2;
    }
  for (i = 0; i < scene->board->n_nets; i++)
    root_of_net[i] = G_MAXUINT;
  join_wires (scene, parent);
  join_ends (scene, parent);
  for (i = 0; i < scene->n_pins; i++)
    {
      int net = scene->pins[i].net;
      guint root = ml_group_of (parent, scene->n_wires + i);
      if (net_of_root[root] != -2 && (net_of_root[root] != net || net < 0))
        bad++;
      net_of_root[root] = net;
      if (net < 0)
        continue;
      if (root_of_net[net] != G_MAXUINT && root_of_net[net] != root)
        bad++;
      root_of_net[net] = root;
    }
  for (i = 0; i < scene->board->n_parts; i++) /* every joined pin must stand somewhere */
    {
      guint k;
      for (k = 0; k < scene->board->parts[i].n_pins; k++)
        bad += scene->board->parts[i].pins[k].net >= 0 && ml_scene_pin (scene, (int) i, (int) k) < 0;
    }
  g_free (parent);
  g_free (net_of_root);
  g_free (root_of_net);
  return bad;
}

/* ---- upside down: two-terminal parts whose higher end is drawn below ---- */

static guint
count_upside_down (const MlScene *scene)
{
  MlCircuit *circuit = ml_circuit_new (scene->board, NULL);
  guint i, n = 0;

  for (i = 0; i < scene->n_symbols; i++)
    {
      const MlSceneSymbol *symbol = &scene->symbols[i];
      const MlScenePin *pins = &scene->pins[symbol->first_pin];
      double a, b;
      if (symbol->n_pins != 2 || !circuit->parts[circuit->part_of_board[symbol->part]].two_terminal || pins[0].net < 0 || pins[1].net < 0)
        continue;
      a = circuit->nets[circuit->net_of_board[pins[0].net]].potential;
      b = circuit->nets[circuit->net_of_board[pins[1].net]].potential;
      if (fabs (a - b) > 0.004 && fabs (pins[0].at.y - pins[1].at.y) > EPSILON)
        n += (a > b) != (pins[0].at.y < pins[1].at.y);
    }
  ml_circuit_free (circuit);
  return n;
}

/* Parts whose name found no room. */
static guint
count_unnamed (const MlScene *scene)
{
  guint i, k, n = 0;

  for (i = 0; i < scene->n_symbols; i++)
    {
      for (k = 0; k < scene->n_labels; k++)
        if (scene->labels[k].kind == ML_LABEL_NAME && scene->labels[k].part == scene->symbols[i].part)
          break;
      n += k == scene->n_labels;
    }
  return n;
}

guint
ml_layout_hard_faults (const MlLayoutMeasure *measure)
{
  return measure->through + measure->text_overlaps + measure->symbol_overlaps + measure->shared_runs + measure->slanted + measure->misconnected
         + measure->unnamed;
}

MlLayoutMeasure
ml_layout_measure (const MlScene *scene)
{
  MlLayoutMeasure m = { 0 };
  guint i;

  m.through = wires_through (scene);
  m.text_overlaps = text_overlaps (scene);
  m.symbol_overlaps = symbol_overlaps (scene);
  m.shared_runs = shared_runs (scene);
  m.misconnected = count_misconnected (scene);
  m.unnamed = count_unnamed (scene);
  m.crossings = count_crossings (scene);
  m.bends = count_bends (scene);
  m.jogs = count_jogs (scene);
  m.upside_down = count_upside_down (scene);
  for (i = 0; i < scene->n_wires; i++)
    {
      const MlSceneWire *w = &scene->wires[i];
      m.slanted += !is_level (w) && !is_upright (w);
      m.length += fabs (w->a.x - w->b.x) + fabs (w->a.y - w->b.y);
    }
  for (i = 0; i < scene->n_flags; i++)
    if (scene->flags[i].kind == ML_FLAG_NET)
      m.signal_flags++;
    else
      m.rail_flags++;
  m.area = (scene->extent.x1 - scene->extent.x0) * (scene->extent.y1 - scene->extent.y0);
  m.score = (20.0 * ml_layout_hard_faults (&m) + 6.0 * m.crossings
             + 2.0 * m.bends + 0.15 * m.length + 5.0 * m.signal_flags + m.rail_flags + 0.02 * m.area + 4.0 * m.upside_down)
            / MAX (scene->board->n_parts, 1);
  return m;
}
