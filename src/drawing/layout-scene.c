/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From a plan to a scene: symbols, pins, wires with their groups, dots, flags, links. */
#include "drawing/layout-plan.h"
#include "drawing/scene-private.h"

#include <math.h>
#include <string.h>

static MlBox
box_of_cells (const MlPlace *at, const MlCells *cells)
{
  return (MlBox){ at->x + cells->x0, at->y + cells->y0, at->x + cells->x1, at->y + cells->y1 };
}

static MlBox
ring_box (const MlPlace *at, double radius)
{
  MlPoint step = ml_side_step ((MlSide) at->turn);
  double x = at->x - radius * step.x, y = at->y - radius * step.y;

  return (MlBox){ x - radius, y - radius, x + radius, y + radius };
}

static void
fill_symbol (MlSceneSymbol *symbol, const MlSheet *sheet, const MlSpot *spot)
{
  const MlSymbolGeometry *geometry = ml_symbol_geometry (spot->form->symbol);

  symbol->part = sheet->circuit->parts[spot->piece->part].index;
  symbol->name = spot->form->symbol;
  symbol->place = (MlPlace){ spot->x - sheet->origin_x, spot->y - sheet->origin_y, spot->form->turn, spot->form->mirror };
  if (spot->piece->kind == ML_PIECE_TERMINAL)
    {
      symbol->shape = ML_SHAPE_TERMINAL;
      symbol->body = ring_box (&symbol->place, spot->piece->part_kind == ML_KIND_TESTPOINT ? ML_TESTPOINT_RADIUS : ML_TERMINAL_RADIUS);
    }
  else if (geometry == NULL || geometry->shape == ML_SHAPE_BOX)
    {
      symbol->shape = ML_SHAPE_BOX;
      symbol->body = symbol->box = box_of_cells (&symbol->place, &spot->form->frame);
    }
  else
    {
      symbol->shape = ML_SHAPE_SYMBOL;
      symbol->body = ml_place_box (&symbol->place, ml_symbol_ink (geometry));
    }
}

/* The supply pins that a section has in common with another stand there, for whoever looks for them. */
static void
fill_shared_pins (MlScene *scene, const MlCircuit *circuit)
{
  guint i, k;

  for (i = 0; i < circuit->n_parts; i++)
    for (k = 0; circuit->parts[i].supplied_by >= 0 && k < circuit->parts[i].n_pins; k++)
      {
        const MlCircuitPart *part = &circuit->parts[i], *other = &circuit->parts[part->supplied_by];
        const MlCircuitPin *twin = ml_circuit_pin (other, part->pins[k].word);
        int there = ml_scene_pin (scene, other->index, twin->pin);
        if (there < 0 || ml_scene_pin (scene, part->index, part->pins[k].pin) >= 0)
          continue;
        scene->pins[scene->n_pins] = scene->pins[there];
        scene->pins[scene->n_pins].part = part->index;
        scene->pins[scene->n_pins++].pin = part->pins[k].pin;
      }
}

static void
fill_symbols (MlScene *scene, const MlLayoutPlan *plan)
{
  const MlSheet *sheet = plan->sheet;
  guint i, k, n_pins = 0;

  for (i = 0; i < sheet->n; i++)
    n_pins += sheet->spots[i].piece->n_pins;
  for (i = 0; i < sheet->circuit->n_parts; i++)
    n_pins += sheet->circuit->parts[i].supplied_by < 0 ? 0 : 2;
  scene->symbols = g_new0 (MlSceneSymbol, MAX (sheet->n, 1));
  scene->pins = g_new0 (MlScenePin, MAX (n_pins, 1));
  for (i = 0; i < sheet->n; i++)
    {
      const MlSpot *spot = &sheet->spots[i];
      MlSceneSymbol *symbol = &scene->symbols[scene->n_symbols];
      fill_symbol (symbol, sheet, spot);
      symbol->first_pin = scene->n_pins;
      symbol->n_pins = spot->piece->n_pins;
      for (k = 0; k < spot->piece->n_pins; k++)
        {
          const MlPiecePin *from = &spot->piece->pins[k];
          MlFormPin at = ml_sheet_pin (sheet, (int) i, (int) k);
          MlScenePin *pin = &scene->pins[scene->n_pins++];
          pin->part = symbol->part;
          pin->pin = sheet->circuit->parts[from->part].pins[from->pin].pin;
          pin->net = from->net < 0 ? -1 : sheet->circuit->nets[from->net].index;
          pin->at = (MlPoint){ at.x - sheet->origin_x, at.y - sheet->origin_y };
          pin->side = at.side;
          pin->symbol = (int) scene->n_symbols;
        }
      scene->n_symbols++;
    }
  fill_shared_pins (scene, sheet->circuit);
}

static void
fill_copper (MlScene *scene, const MlLayoutPlan *plan)
{
  const MlCircuit *circuit = plan->sheet->circuit;
  int ox = plan->sheet->origin_x, oy = plan->sheet->origin_y;
  guint i;

  scene->n_wires = plan->wires->len;
  scene->wires = g_new0 (MlSceneWire, MAX (scene->n_wires, 1));
  for (i = 0; i < scene->n_wires; i++)
    {
      const MlPlanWire *from = &g_array_index (plan->wires, MlPlanWire, i);
      scene->wires[i] = (MlSceneWire){ circuit->nets[from->net].index, { from->x0 - ox, from->y0 - oy }, { from->x1 - ox, from->y1 - oy }, 0 };
    }
  scene->n_dots = plan->dots->len;
  scene->dots = g_new0 (MlSceneDot, MAX (scene->n_dots, 1));
  for (i = 0; i < scene->n_dots; i++)
    {
      const MlPlanDot *from = &g_array_index (plan->dots, MlPlanDot, i);
      scene->dots[i] = (MlSceneDot){ circuit->nets[from->net].index, { from->x - ox, from->y - oy } };
    }
  scene->n_flags = plan->flags->len;
  scene->flags = g_new0 (MlSceneFlag, MAX (scene->n_flags, 1));
  for (i = 0; i < scene->n_flags; i++)
    {
      MlPlanFlag from = g_array_index (plan->flags, MlPlanFlag, i);
      from.x -= ox;
      from.y -= oy;
      scene->flags[i]
          = (MlSceneFlag){ circuit->nets[from.net].index, from.kind, { from.x, from.y }, from.side, 0, ml_layout_plan_flag_box (circuit, &from),
                            circuit->nets[from.net].short_flags };
    }
}

/* ---- groups: wires of a net that touch ---- */

static guint
root_of (guint *parent, guint i)
{
  while (parent[i] != i)
    i = parent[i] = parent[parent[i]];
  return i;
}

static gboolean
same_point (MlPoint a, MlPoint b)
{
  return fabs (a.x - b.x) < 0.01 && fabs (a.y - b.y) < 0.01;
}

static gboolean
wires_touch (const MlSceneWire *a, const MlSceneWire *b)
{
  return same_point (a->a, b->a) || same_point (a->a, b->b) || same_point (a->b, b->a) || same_point (a->b, b->b);
}

/* Wires end wherever they join, so common ends tell. Groups count from 0 within each net. */
static void
number_groups (MlScene *scene)
{
  guint n = scene->n_wires, i, k, *parent = g_new (guint, MAX (n, 1)), next = 0;
  int net = -1;

  for (i = 0; i < n; i++)
    parent[i] = i;
  for (i = 0; i < n; i++)
    for (k = i + 1; k < n && scene->wires[k].net == scene->wires[i].net; k++)
      if (wires_touch (&scene->wires[i], &scene->wires[k]))
        parent[root_of (parent, k)] = root_of (parent, i);
  for (i = 0; i < n; i++)
    {
      guint root = root_of (parent, i);
      if (scene->wires[i].net != net)
        {
          net = scene->wires[i].net;
          next = 0;
        }
      for (k = 0; k < i && root_of (parent, k) != root; k++)
        ;
      scene->wires[i].group = k < i ? scene->wires[k].group : next++;
    }
  for (i = 0; i < scene->n_flags; i++)
    {
      MlSceneFlag *flag = &scene->flags[i];
      flag->group = G_MAXUINT;
      for (k = 0; k < n; k++)
        if (scene->wires[k].net == flag->net && (same_point (scene->wires[k].a, flag->at) || same_point (scene->wires[k].b, flag->at)))
          flag->group = scene->wires[k].group;
    }
  g_free (parent);
}

/* ---- dashed links from a coil to its contacts, where they stand level and near ---- */

#define LINK_REACH 26

/* It would run into something else than the two. */
static gboolean
is_barred (const MlScene *scene, const MlSceneLink *link, const MlSceneSymbol *coil, const MlSceneSymbol *contact)
{
  MlBox way = { MIN (link->a.x, link->b.x), link->a.y - 0.2, MAX (link->a.x, link->b.x), link->a.y + 0.2 };
  guint i;

  for (i = 0; i < scene->n_symbols; i++)
    if (&scene->symbols[i] != coil && &scene->symbols[i] != contact && ml_boxes_meet (&way, &scene->symbols[i].body))
      return TRUE;
  return FALSE;
}

static void
fill_links (MlScene *scene)
{
  guint i, n = 0;

  scene->links = g_new0 (MlSceneLink, MAX (scene->n_symbols, 1));
  for (i = 0; i < scene->n_symbols; i++)
    {
      const MlSceneSymbol *contact = &scene->symbols[i];
      const MlSceneSymbol *coil;
      int by = contact->part >= 0 && contact->shape == ML_SHAPE_SYMBOL ? scene->board->parts[contact->part].by : -1;
      int other = by < 0 ? -1 : ml_scene_symbol (scene, by);
      double ya, yb;
      if (other < 0)
        continue;
      coil = &scene->symbols[other];
      ya = (coil->body.y0 + coil->body.y1) / 2;
      yb = (contact->body.y0 + contact->body.y1) / 2;
      if (fabs (ya - yb) > 0.6 || fabs (coil->place.x - contact->place.x) > LINK_REACH)
        continue;
      if (coil->body.x1 < contact->body.x0)
        scene->links[n] = (MlSceneLink){ coil->part, contact->part, { coil->body.x1, ya }, { contact->body.x0 + 0.4, ya } };
      else if (contact->body.x1 < coil->body.x0)
        scene->links[n] = (MlSceneLink){ coil->part, contact->part, { coil->body.x0, ya }, { contact->body.x1 - 0.2, ya } };
      else
        continue;
      n += !is_barred (scene, &scene->links[n], coil, contact);
    }
  scene->n_links = n;
}

static void
extend (MlBox *box, double x0, double y0, double x1, double y1)
{
  box->x0 = MIN (box->x0, x0);
  box->y0 = MIN (box->y0, y0);
  box->x1 = MAX (box->x1, x1);
  box->y1 = MAX (box->y1, y1);
}

void
ml_scene_extend (MlScene *scene)
{
  MlBox box = { G_MAXDOUBLE, G_MAXDOUBLE, -G_MAXDOUBLE, -G_MAXDOUBLE };
  guint i;

  for (i = 0; i < scene->n_symbols; i++)
    extend (&box, scene->symbols[i].body.x0, scene->symbols[i].body.y0, scene->symbols[i].body.x1, scene->symbols[i].body.y1);
  for (i = 0; i < scene->n_pins; i++)
    extend (&box, scene->pins[i].at.x, scene->pins[i].at.y, scene->pins[i].at.x, scene->pins[i].at.y);
  for (i = 0; i < scene->n_wires; i++)
    {
      const MlSceneWire *wire = &scene->wires[i];
      extend (&box, MIN (wire->a.x, wire->b.x), MIN (wire->a.y, wire->b.y), MAX (wire->a.x, wire->b.x), MAX (wire->a.y, wire->b.y));
    }
  for (i = 0; i < scene->n_flags; i++)
    extend (&box, scene->flags[i].box.x0, scene->flags[i].box.y0, scene->flags[i].box.x1, scene->flags[i].box.y1);
  for (i = 0; i < scene->n_labels; i++)
    extend (&box, scene->labels[i].box.x0, scene->labels[i].box.y0, scene->labels[i].box.x1, scene->labels[i].box.y1);
  if (box.x1 < box.x0)
    box = (MlBox){ 0, 0, 0, 0 };
  scene->extent = box;
}

MlScene *
ml_layout_plan_to_scene (const MlLayoutPlan *plan)
{
  MlScene *scene = ml_scene_new (plan->sheet->circuit->board);

  fill_symbols (scene, plan);
  fill_copper (scene, plan);
  number_groups (scene);
  fill_links (scene);
  ml_scene_extend (scene);
  return scene;
}
