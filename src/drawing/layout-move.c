/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Moving one part of a finished drawing: wires that nothing forces to change stay as they are, so that they do not jump under the hand. */
#include "drawing/layout-keep.h"
#include "drawing/layout.h"

#include <math.h>
#include <string.h>

void
ml_layout_places (const MlScene *scene, MlPlace *ret_places)
{
  guint i;

  for (i = 0; i < scene->board->n_parts; i++)
    {
      int symbol = ml_scene_symbol (scene, (int) i);
      if (symbol >= 0)
        ret_places[i] = ml_symbol_place_of (scene->symbols[symbol].name, &scene->symbols[symbol].place);
      else
        ret_places[i] = scene->board->parts[i].place;
    }
}

static int
along_edge (gconstpointer a, gconstpointer b)
{
  const MlScenePin *p = *(const MlScenePin *const *) a, *q = *(const MlScenePin *const *) b;
  const double at = (p->side & 1) != 0 ? p->at.x - q->at.x : p->at.y - q->at.y;

  return (at > 0) - (at < 0);
}

static char *
edge_words (const MlScene *scene, const MlSceneSymbol *symbol)
{
  const MlPart *block = &scene->board->parts[symbol->part];
  GString *words = g_string_new (NULL);

  for (int edge = 0; edge < ML_N_EDGES; edge++) /* MlEdge goes round as MlSide does */
    {
      g_autoptr (GPtrArray) pins = g_ptr_array_new ();
      for (guint i = 0; i < symbol->n_pins; i++)
        if ((int) scene->pins[symbol->first_pin + i].side == edge)
          g_ptr_array_add (pins, (gpointer) &scene->pins[symbol->first_pin + i]);
      g_ptr_array_sort (pins, along_edge);
      for (guint i = 0; i < pins->len; i++)
        {
          if (i == 0)
            g_string_append_printf (words, "%s%s=", words->len > 0 ? " " : "", ml_edge_names[edge]);
          g_string_append_printf (words, "%s%s", i > 0 ? "," : "", block->pins[((const MlScenePin *) pins->pdata[i])->pin].name);
        }
    }
  return g_string_free (words, FALSE);
}

/* The pins of a connector behind the first, whose place is the part's. */
static char *
terminal_words (const MlScene *scene, guint first, const MlPlace *to)
{
  const MlSceneSymbol *own = &scene->symbols[first];
  const double dx = to == NULL ? 0 : to->x - own->place.x, dy = to == NULL ? 0 : to->y - own->place.y;
  GString *words = g_string_new (NULL);

  for (guint i = first + 1; i < scene->n_symbols; i++)
    if (scene->symbols[i].part == own->part && scene->symbols[i].shape == ML_SHAPE_TERMINAL)
      {
        const MlScenePin *pin = &scene->pins[scene->symbols[i].first_pin];
        char x[G_ASCII_DTOSTR_BUF_SIZE], y[G_ASCII_DTOSTR_BUF_SIZE];
        g_ascii_formatd (x, sizeof x, "%.9g", pin->at.x + dx);
        g_ascii_formatd (y, sizeof y, "%.9g", pin->at.y + dy);
        g_string_append_printf (words, "%spin.%s=%s,%s,%s", words->len > 0 ? " " : "", scene->board->parts[own->part].pins[pin->pin].name, x, y,
                                ml_edge_names[pin->side]);
      }
  return g_string_free (words, FALSE);
}

char *
ml_layout_pin_words (const MlScene *scene, int part, const MlPlace *to)
{
  const int found = ml_scene_symbol (scene, part);

  if (found >= 0 && scene->board->parts[part].kind->kind == ML_KIND_BLOCK)
    return edge_words (scene, &scene->symbols[found]);
  if (found >= 0 && scene->board->parts[part].kind->kind == ML_KIND_CONNECTOR && scene->symbols[found].shape == ML_SHAPE_TERMINAL)
    return terminal_words (scene, (guint) found, to);
  return NULL;
}

/* ---- the old wires on the new raster ---- */

typedef struct
{
  const MlScene *scene;
  const MlCircuit *circuit;
  MlSheet *sheet;
  MlRouter *router;
  int part; /* circuit's */
} Move;

static int
cell_of (const Move *move, MlPoint at)
{
  return ml_router_cell (move->router, (int) lround (at.x) + move->sheet->origin_x, (int) lround (at.y) + move->sheet->origin_y);
}

static gboolean
is_on_raster (const Move *move, MlPoint at)
{
  int x = (int) lround (at.x) + move->sheet->origin_x - move->router->x0, y = (int) lround (at.y) + move->sheet->origin_y - move->router->y0;

  return x > 0 && y > 0 && x < move->router->width - 1 && y < move->router->height - 1;
}

/* A wire may stay when no core and no foreign pin lies on it. */
static gboolean
is_free (const Move *move, int net, int cell)
{
  const MlRouter *router = move->router;

  return !router->cells[cell].block && !router->cells[cell].flagged && (router->cells[cell].pin == 0 || router->cells[cell].pin == net + 1);
}

static gboolean
wire_is_free (const Move *move, int net, const MlSceneWire *wire)
{
  int from, to, stride;

  if (!is_on_raster (move, wire->a) || !is_on_raster (move, wire->b))
    return FALSE;
  from = cell_of (move, wire->a);
  to = cell_of (move, wire->b);
  stride = ABS (to - from) < move->router->width ? 1 : move->router->width;
  for (; from <= to; from += stride)
    if (!is_free (move, net, from))
      return FALSE;
  return TRUE;
}

/* Groups of the scene's copper per net: which must go. Pins without a wire count by their flag. */
static gboolean
group_is_lost (const Move *move, int net, guint group)
{
  const MlScene *scene = move->scene;
  int board_net = move->circuit->nets[net].index, board_part = move->circuit->parts[move->part].index;
  guint i, k;

  for (i = 0; i < scene->n_wires; i++)
    {
      const MlSceneWire *wire = &scene->wires[i];
      if (wire->net != board_net || wire->group != group)
        continue;
      if (!wire_is_free (move, net, wire))
        return TRUE;
      for (k = 0; k < scene->n_pins; k++)
        {
          const MlScenePin *pin = &scene->pins[k];
          if (pin->part == board_part && pin->net == board_net
              && ((fabs (pin->at.x - wire->a.x) < 0.1 && fabs (pin->at.y - wire->a.y) < 0.1)
                  || (fabs (pin->at.x - wire->b.x) < 0.1 && fabs (pin->at.y - wire->b.y) < 0.1)))
            return TRUE;
        }
    }
  return FALSE;
}

static gboolean
flag_is_free (const Move *move, int net, const MlRouteFlag *flag)
{
  GArray *cells = g_array_new (FALSE, FALSE, sizeof (int));
  gboolean fits = move->router->cells[flag->cell].pin == 0 || move->router->cells[flag->cell].pin == net + 1;
  guint i;

  ml_router_flag_cells (move->router, net, flag, cells);
  for (i = 0; i < cells->len; i++)
    {
      int cell = g_array_index (cells, int, i);
      fits &= cell >= 0 && cell < move->router->n_cells && !move->router->cells[cell].block && !move->router->cells[cell].pin;
    }
  g_array_unref (cells);
  return fits;
}

static guint
n_groups_of (const Move *move, int board_net)
{
  guint i, n = 0;

  for (i = 0; i < move->scene->n_wires; i++)
    if (move->scene->wires[i].net == board_net)
      n = MAX (n, move->scene->wires[i].group + 1);
  return n;
}

static void
append_edges (const Move *move, const MlSceneWire *wire, GArray *edges)
{
  int from = cell_of (move, wire->a), to = cell_of (move, wire->b), axis = ABS (to - from) < move->router->width ? 0 : 1;

  for (; from < to; from += axis ? move->router->width : 1)
    {
      int edge = 2 * from + axis;
      g_array_append_val (edges, edge);
    }
}

static gboolean
pin_stands_at (const Move *move, int net, int cell)
{
  const MlRouteNet *of = &move->router->nets[net];
  guint i;

  for (i = 0; i < of->n_pins; i++)
    if (of->pins[i].cell == cell)
      return TRUE;
  return FALSE;
}

/* Lays what may stay of a net. TRUE when nothing of it was lost. */
static gboolean
keep_net (Move *move, int net)
{
  const MlScene *scene = move->scene;
  int board_net = move->circuit->nets[net].index;
  guint n_groups = n_groups_of (move, board_net), i;
  gboolean *lost = g_new0 (gboolean, n_groups + 1), whole = TRUE;
  GArray *edges = g_array_new (FALSE, FALSE, sizeof (int)), *flags = g_array_new (FALSE, FALSE, sizeof (MlRouteFlag));

  for (i = 0; i < n_groups; i++)
    whole &= !(lost[i] = group_is_lost (move, net, i));
  for (i = 0; i < scene->n_flags; i++)
    {
      const MlSceneFlag *from = &scene->flags[i];
      MlRouteFlag flag;
      gboolean free_box;
      if (from->net != board_net || (from->group < n_groups && lost[from->group]) || !is_on_raster (move, from->at))
        continue;
      flag = (MlRouteFlag){ cell_of (move, from->at), from->side, from->kind };
      free_box = flag_is_free (move, net, &flag);
      if (from->group < n_groups)
        {
          if (!free_box)
            {
              lost[from->group] = TRUE;
              whole = FALSE;
              continue;
            }
        }
      else if (!free_box || !pin_stands_at (move, net, flag.cell))
        continue;
      g_array_append_val (flags, flag);
    }
  for (i = 0; i < scene->n_wires; i++)
    if (scene->wires[i].net == board_net && !lost[scene->wires[i].group])
      append_edges (move, &scene->wires[i], edges);
  ml_router_take (move->router, net, edges, flags, 0);
  g_array_unref (edges);
  g_array_unref (flags);
  g_free (lost);
  return whole;
}

/* What has no wire and no flag yet is joined anew: a rail only where it was torn, a signal as a whole. */
static void
mend_net (Move *move, int net, gboolean whole)
{
  MlRouter *router = move->router;
  MlRouteNet *of = &router->nets[net];
  GArray *loose = g_array_new (FALSE, FALSE, sizeof (int));
  guint i, k;

  for (i = 0; i < of->n_pins; i++)
    {
      int cell = of->pins[i].cell;
      gboolean joined = router->cells[cell].line[0] == net + 1 || router->cells[cell].line[1] == net + 1;
      for (k = 0; k < of->flags->len && !joined; k++)
        joined = g_array_index (of->flags, MlRouteFlag, k).cell == cell;
      for (k = 0; k < of->n_pins && !joined && of->rail == ML_RAIL_NONE; k++)
        joined = k != i && of->pins[k].cell == cell;
      if (!joined)
        g_array_append_val (loose, i);
    }
  if (of->rail != ML_RAIL_NONE && loose->len > 0)
    ml_router_extend (router, net, loose);
  else if (of->rail == ML_RAIL_NONE && (loose->len > 0 || !whole))
    {
      ml_router_erase (router, net);
      ml_router_route (router, net);
    }
  g_array_unref (loose);
}

static void
route_moved (Move *move)
{
  gboolean *whole = g_new0 (gboolean, MAX (move->circuit->n_nets, 1));
  guint net;

  for (net = 0; net < move->circuit->n_nets; net++)
    whole[net] = keep_net (move, (int) net);
  for (net = 0; net < move->circuit->n_nets; net++)
    if (move->router->nets[net].rail == ML_RAIL_NONE)
      mend_net (move, (int) net, whole[net]);
  for (net = 0; net < move->circuit->n_nets; net++)
    if (move->router->nets[net].rail != ML_RAIL_NONE)
      mend_net (move, (int) net, whole[net]);
  ml_router_flag_missing (move->router);
  g_free (whole);
}

/* Where old wires leave a pin no way at all, everything is routed anew. */
static void
route_anew_if_stuck (MlRouter *router)
{
  gboolean stuck = FALSE;
  guint net;

  for (net = 0; net < router->n_nets; net++)
    stuck |= router->nets[net].n_missing > 0;
  for (net = 0; net < router->n_nets && stuck; net++)
    ml_router_erase (router, (int) net);
  if (!stuck)
    return;
  ml_router_route_all (router, 2);
  ml_router_rip_up (router, 2);
  ml_router_flag_missing (router);
}

/* What had no room for more keeps its short name, too. */
static void
keep_short_flags (MlCircuit *circuit, const MlScene *scene)
{
  guint i, net;

  for (i = 0; i < scene->n_flags; i++)
    for (net = 0; net < circuit->n_nets && scene->flags[i].short_name; net++)
      if (circuit->nets[net].index == scene->flags[i].net)
        circuit->nets[net].short_flags = TRUE;
}

/* ---- labels while the hand moves: as they were, the part's own with it ---- */

static void
carry_labels (const MlScene *from, MlScene *to, int part)
{
  int before = ml_scene_symbol (from, part), after = ml_scene_symbol (to, part);
  double dx = to->symbols[after].body.x0 - from->symbols[before].body.x0, dy = to->symbols[after].body.y0 - from->symbols[before].body.y0;
  guint i;

  to->labels = g_new0 (MlSceneLabel, MAX (from->n_labels, 1));
  to->n_labels = from->n_labels;
  for (i = 0; i < from->n_labels; i++)
    {
      MlSceneLabel *label = &to->labels[i];
      *label = from->labels[i];
      label->text = g_strdup (label->text);
      if (label->part != part)
        continue;
      label->box.x0 += dx;
      label->box.x1 += dx;
      label->box.y0 += dy;
      label->box.y1 += dy;
      label->lead[0] = (MlPoint){ label->lead[0].x + dx, label->lead[0].y + dy };
      label->lead[1] = (MlPoint){ label->lead[1].x + dx, label->lead[1].y + dy };
    }
  ml_scene_extend (to);
}

MlScene *
ml_layout_move (const MlScene *scene, int part, const MlPlace *place, gboolean settled)
{
  const MlSceneState *state = ml_scene_state_get (scene);
  MlCircuit *circuit = ml_circuit_new (scene->board, state->net_v);
  MlKit *kit = ml_kit_new (circuit, ML_KIT_PLAIN);
  MlKept *kept = ml_kept_new (kit, scene);
  Move move = { scene, circuit, NULL, NULL, circuit->part_of_board[part] };
  MlLayoutPlan *plan;
  MlScene *moved;

  keep_short_flags (circuit, scene);
  ml_kept_override (kept, kit, move.part, place);
  move.sheet = ml_sheet_new (kit, kit->plain, 1, CLAMP (ml_kept_span (kept) + 200, 64, 3000));
  ml_kept_apply (kept, move.sheet);
  ml_sheet_insert_all (move.sheet);
  move.router = ml_router_new (move.sheet, NULL);
  route_moved (&move);
  if (settled)
    route_anew_if_stuck (move.router);
  if (settled && ml_router_shorten_flags (move.router, circuit))
    route_anew_if_stuck (move.router);
  plan = ml_layout_plan_new (move.sheet, move.router);
  moved = ml_layout_plan_to_scene (plan);
  if (settled || ml_scene_symbol (scene, part) < 0)
    g_free (ml_labels_place (moved, state->show_generated, ML_LABELS_LAST_RESORT));
  else
    carry_labels (scene, moved, part);
  ml_scene_state_set (moved, state->net_v, state->show_generated);
  ml_layout_plan_free (plan);
  ml_router_free (move.router);
  ml_sheet_free (move.sheet);
  ml_kept_free (kept);
  ml_kit_free (kit);
  ml_circuit_free (circuit);
  return moved;
}

/* ---- where a part finds room ---- */

#define FARTHEST_ASIDE 60
#define MOST_TRIES 12
#define TRIES_APART 3
#define WAY_OUT 2 /* nodes ahead of a pin */

typedef struct
{
  MlSheet *sheet;
  int part;        /* circuit's */
  guint8 *before;  /* nodes right before some other part's pin: with a body there no wire could reach it */
} Room;

static const MlCell *
cell_at (const Room *room, int x, int y)
{
  const MlSheet *sheet = room->sheet;

  return x < 0 || y < 0 || x >= sheet->width || y >= sheet->height ? NULL : &sheet->cells[y * sheet->width + x];
}

static gboolean
body_is_clear (const Room *room, const MlCells *core, int dx, int dy)
{
  int x, y;

  for (y = core->y0 + dy - 1; y <= core->y1 + dy + 1; y++)
    for (x = core->x0 + dx - 1; x <= core->x1 + dx + 1; x++)
      {
        const MlCell *cell = cell_at (room, x, y);
        gboolean around = y < core->y0 + dy || y > core->y1 + dy || x < core->x0 + dx || x > core->x1 + dx;
        if (cell == NULL || cell->core > 0) /* a lane between bodies, for wires */
          return FALSE;
        if (!around && (cell->pins > 0 || room->before[y * room->sheet->width + x]))
          return FALSE;
      }
  return TRUE;
}

static gboolean
is_foreign (const MlCell *cell, int net)
{
  return cell->pins > 0 && (net < 0 || cell->pin_sum != cell->pins * (net + 1));
}

/* On nothing but pins of its own net, and with a way out. */
static gboolean
pin_is_clear (const Room *room, MlFormPin at, int net)
{
  MlPoint step = ml_side_step (at.side);
  int ahead;

  for (ahead = 0; ahead <= (net < 0 ? 0 : WAY_OUT); ahead++)
    {
      const MlCell *cell = cell_at (room, at.x + ahead * (int) step.x, at.y + ahead * (int) step.y);
      if (cell == NULL || cell->core > 0 || is_foreign (cell, net))
        return FALSE;
    }
  return TRUE;
}

static gboolean
stands_clear (const Room *room, int dx, int dy)
{
  const MlSheet *sheet = room->sheet;
  guint i, k;

  for (i = 0; i < sheet->n; i++)
    {
      const MlSpot *spot = &sheet->spots[i];
      if (spot->piece->part != room->part || !spot->on)
        continue;
      for (k = 0; k < spot->form->n_cores; k++)
        if (!body_is_clear (room, &spot->form->cores[k], spot->x + dx, spot->y + dy))
          return FALSE;
      for (k = 0; k < spot->piece->n_pins; k++)
        {
          MlFormPin at = ml_sheet_pin (sheet, (int) i, (int) k);
          at.x += dx;
          at.y += dy;
          if (!pin_is_clear (room, at, spot->piece->pins[k].net))
            return FALSE;
        }
    }
  return TRUE;
}

static void
mark_before_pins (Room *room)
{
  const MlSheet *sheet = room->sheet;
  guint i, k;

  for (i = 0; i < sheet->n; i++)
    for (k = 0; k < sheet->spots[i].piece->n_pins && sheet->spots[i].piece->part != room->part && sheet->spots[i].on; k++)
      {
        MlFormPin at = ml_sheet_pin (sheet, (int) i, (int) k);
        MlPoint step = ml_side_step (at.side);
        int x = at.x + (int) step.x, y = at.y + (int) step.y;
        if (sheet->spots[i].piece->pins[k].net >= 0 && cell_at (room, x, y) != NULL)
          room->before[y * sheet->width + x] = 1;
      }
}

typedef struct { int dx, dy; } Aside;

static gboolean
was_tried (const GArray *tried, int dx, int dy)
{
  guint i;

  for (i = 0; i < tried->len; i++)
    if (ABS (g_array_index (tried, Aside, i).dx - dx) < TRIES_APART && ABS (g_array_index (tried, Aside, i).dy - dy) < TRIES_APART)
      return TRUE;
  return FALSE;
}

static gboolean
find_room (const Room *room, const GArray *tried, Aside *ret_aside)
{
  int best = G_MAXINT, dx, dy;

  for (dy = -FARTHEST_ASIDE; dy <= FARTHEST_ASIDE; dy++)
    for (dx = -FARTHEST_ASIDE; dx <= FARTHEST_ASIDE; dx++)
      if (dx * dx + dy * dy < best && !was_tried (tried, dx, dy) && stands_clear (room, dx, dy))
        {
          best = dx * dx + dy * dy;
          *ret_aside = (Aside){ dx, dy };
        }
  return best < G_MAXINT;
}

/* Whether all pins can be reached with the part there: no geometry tells that but the router. */
static gboolean
can_be_wired (const MlScene *scene, int part, const MlPlace *place)
{
  MlScene *moved = ml_layout_move (scene, part, place, TRUE);
  MlLayoutMeasure measure = ml_layout_measure (moved);

  ml_scene_unref (moved);
  return measure.misconnected == 0 && measure.symbol_overlaps == 0 && measure.through == 0;
}

static void
settle_on (const MlScene *scene, int part, const Room *room, MlPlace *place)
{
  GArray *tried = g_array_new (FALSE, FALSE, sizeof (Aside));
  MlPlace asked = *place;
  Aside aside;

  while (tried->len < MOST_TRIES && find_room (room, tried, &aside))
    {
      MlPlace there = { asked.x + aside.dx, asked.y + aside.dy, asked.turn, asked.mirror };
      if (tried->len == 0)
        *place = there;
      g_array_append_val (tried, aside);
      if (!can_be_wired (scene, part, &there))
        continue;
      *place = there;
      break;
    }
  g_array_unref (tried);
}

gboolean
ml_layout_settle (const MlScene *scene, int part, MlPlace *place)
{
  MlCircuit *circuit = ml_circuit_new (scene->board, NULL);
  MlKit *kit = ml_kit_new (circuit, ML_KIT_PLAIN);
  MlKept *kept = ml_kept_new (kit, scene);
  MlSheet *sheet;
  MlPlace asked = *place;
  Room room = { NULL, circuit->part_of_board[part], NULL };
  guint i;

  ml_kept_override (kept, kit, room.part, place);
  sheet = ml_sheet_new (kit, kit->plain, 1, CLAMP (ml_kept_span (kept) + 200, 64, 3000));
  ml_kept_apply (kept, sheet);
  for (i = 0; i < sheet->n; i++)
    if (sheet->spots[i].piece->part == room.part && sheet->spots[i].on)
      ml_sheet_box (sheet, (int) i, -1);
  room.sheet = sheet;
  room.before = g_new0 (guint8, (gsize) sheet->width * (gsize) sheet->height);
  mark_before_pins (&room);
  settle_on (scene, part, &room, place);
  g_free (room.before);
  ml_sheet_free (sheet);
  ml_kept_free (kept);
  ml_kit_free (kit);
  ml_circuit_free (circuit);
  return place->x < asked.x || place->x > asked.x || place->y < asked.y || place->y > asked.y;
}
