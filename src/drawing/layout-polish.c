/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/layout-polish.h"

#include <string.h>

#define ROUNDS 2
#define TRIED_FOR_REAL 5
#define WORTH_A_LOOK ML_COST (4)
#define TOO_CROWDED ML_COST (60)
#define LEAST_GAIN ML_COST (0.5)
#define DEARER_FORM ML_COST (8)
#define PERMUTATIONS 14

typedef struct { int x, y; MlForm *form; } Stand;
typedef struct { Stand stand; int cost; } Ranked;

typedef struct
{
  MlSheet *sheet;
  MlRouter *router;
  guint tried, limit;
  GCancellable *cancellable;
} Polish;

static void
stand_at (MlSheet *sheet, int i, Stand stand)
{
  sheet->spots[i].x = stand.x;
  sheet->spots[i].y = stand.y;
  sheet->spots[i].form = stand.form;
}

static Stand
stand_of (const MlSheet *sheet, int i)
{
  return (Stand){ sheet->spots[i].x, sheet->spots[i].y, sheet->spots[i].form };
}

static int
standing_cost (Polish *polish, int i)
{
  MlCells hull = ml_sheet_hull (polish->sheet, -1);
  int box = ml_sheet_box (polish->sheet, i, -1);

  ml_sheet_box (polish->sheet, i, 1);
  return ml_sheet_own_cost (polish->sheet, i) + ml_sheet_shape_cost (&hull) + box / 2;
}

/* ---- candidates, ranked by the raster's estimate ---- */

static void
add_stand (GArray *stands, int x, int y, MlForm *form)
{
  Stand stand = { x, y, form };

  g_array_append_val (stands, stand);
}

#define NEAREST_PARTNERS 4

/* Of a net with many pins only those nearest to the piece. */
static guint
near_partners (const MlSheet *sheet, int i, int net, MlPiecePinRef *ret_refs)
{
  const MlSheetNet *of = &sheet->nets[net];
  int distances[NEAREST_PARTNERS];
  guint k, n = 0;

  for (k = 0; k < of->n_pins; k++)
    {
      const MlSpot *other = &sheet->spots[of->pins[k].piece];
      int distance = ABS (other->x - sheet->spots[i].x) + ABS (other->y - sheet->spots[i].y);
      guint at;
      if (of->pins[k].piece == i || !other->on)
        continue;
      if (n == NEAREST_PARTNERS && distance >= distances[n - 1])
        continue;
      at = n < NEAREST_PARTNERS ? n++ : n - 1;
      for (; at > 0 && distances[at - 1] > distance; at--)
        {
          distances[at] = distances[at - 1];
          ret_refs[at] = ret_refs[at - 1];
        }
      distances[at] = distance;
      ret_refs[at] = of->pins[k];
    }
  return n;
}

static void
list_stands_of_form (MlSheet *sheet, int i, MlForm *form, GArray *stands)
{
  const MlSpot *spot = &sheet->spots[i];
  GArray *found = g_array_new (FALSE, FALSE, 2 * sizeof (int));
  MlPiecePinRef partners[NEAREST_PARTNERS];
  MlCells rest;
  guint pin, k, n, at;
  int dx, dy;

  for (pin = 0; pin < spot->piece->n_pins; pin++)
    {
      if (spot->piece->pins[pin].net < 0)
        continue;
      n = near_partners (sheet, i, spot->piece->pins[pin].net, partners);
      g_array_set_size (found, 0);
      for (k = 0; k < n; k++)
        ml_sheet_candidates (form, (int) pin, ml_sheet_pin (sheet, partners[k].piece, partners[k].pin), found);
      for (at = 0; at < found->len; at++)
        add_stand (stands, ((int *) (gpointer) found->data)[2 * at], ((int *) (gpointer) found->data)[2 * at + 1], form);
    }
  g_array_set_size (found, 0);
  rest = ml_sheet_hull (sheet, i);
  ml_sheet_special_candidates (sheet, i, form, &rest, found);
  for (at = 0; at < found->len; at++)
    add_stand (stands, ((int *) (gpointer) found->data)[2 * at], ((int *) (gpointer) found->data)[2 * at + 1], form);
  for (dx = -2; dx <= 2; dx++)
    for (dy = -2; dy <= 2; dy++)
      add_stand (stands, spot->x + dx, spot->y + dy, form);
  g_array_unref (found);
}

static GArray *
list_stands (Polish *polish, int i)
{
  MlSheet *sheet = polish->sheet;
  MlSpot *spot = &sheet->spots[i];
  GArray *stands = g_array_new (FALSE, FALSE, sizeof (Stand));
  MlForm *now = spot->form;
  guint k;

  if (spot->piece->is_block)
    {
      MlForm *fitted = ml_sheet_fitted (sheet, i);
      if (spot->fixed && fitted != now)
        add_stand (stands, spot->x, spot->y, fitted);
      if (!spot->fixed)
        list_stands_of_form (sheet, i, now, stands);
      if (!spot->fixed && fitted != now)
        list_stands_of_form (sheet, i, fitted, stands);
      for (k = 0; k < PERMUTATIONS; k++)
        {
          MlForm *other = ml_sheet_permuted (sheet, i);
          if (other != now)
            add_stand (stands, spot->x, spot->y, other);
        }
      return stands;
    }
  for (k = 0; k < spot->piece->n_listed; k++)
    {
      MlForm *form = g_ptr_array_index (spot->piece->forms, k);
      if (form->cost <= now->cost + DEARER_FORM)
        list_stands_of_form (sheet, i, form, stands);
    }
  return stands;
}

static int
compare_stands (const Stand *a, const Stand *b, const MlPiece *piece)
{
  if (a->x != b->x)
    return a->x < b->x ? -1 : 1;
  if (a->y != b->y)
    return a->y < b->y ? -1 : 1;
  return a->form == b->form ? 0 : ml_form_index (piece, a->form) - ml_form_index (piece, b->form);
}

static int
by_stand (gconstpointer a, gconstpointer b, gpointer piece)
{
  return compare_stands (a, b, piece);
}

static void
rank (Ranked *best, guint *n, Stand stand, int cost)
{
  guint k;

  if (*n == TRIED_FOR_REAL && best[TRIED_FOR_REAL - 1].cost <= cost)
    return;
  k = *n < TRIED_FOR_REAL ? (*n)++ : TRIED_FOR_REAL - 1;
  for (; k > 0 && best[k - 1].cost > cost; k--)
    best[k] = best[k - 1];
  best[k] = (Ranked){ stand, cost };
}

/* The spot, which is on, where it stands now: what that costs without box and wires, nothing being put yet. rest: the hull of all else. */
static int
cost_unput (MlSheet *sheet, int i, const MlCells *rest, int limit)
{
  MlCells hull = ml_sheet_hull_with (sheet, rest, i);
  int cost = ml_sheet_own_cost (sheet, i) + ml_sheet_shape_cost (&hull);

  return cost >= limit || ml_sheet_box_at_least (sheet, i, TOO_CROWDED + 1) > TOO_CROWDED ? G_MAXINT : cost;
}

/* The spot is off the raster; its nets' wires as well. */
static int
estimate_stand (Polish *polish, int i, const MlCells *rest, int limit)
{
  MlSheet *sheet = polish->sheet;
  MlSpot *spot = &sheet->spots[i];
  int box, cost;
  guint k, done;

  spot->on = TRUE;
  cost = cost_unput (sheet, i, rest, limit);
  if (cost == G_MAXINT)
    {
      spot->on = FALSE;
      return cost;
    }
  box = ml_sheet_box (sheet, i, 1);
  cost = box <= TOO_CROWDED ? cost + box : G_MAXINT;
  for (done = 0; done < spot->n_nets && cost < limit; done++)
    {
      ml_sheet_estimate (sheet, spot->nets[done]);
      cost += sheet->nets[spot->nets[done]].now.cost + ml_sheet_wire (sheet, &sheet->nets[spot->nets[done]].now, 1);
    }
  for (k = 0; k < done; k++)
    ml_sheet_wire (sheet, &sheet->nets[spot->nets[k]].now, -1);
  ml_sheet_box (sheet, i, -1);
  spot->on = FALSE;
  return done < spot->n_nets ? G_MAXINT : cost;
}

static guint
rank_stands (Polish *polish, int i, Ranked *best)
{
  MlSheet *sheet = polish->sheet;
  MlSpot *spot = &sheet->spots[i];
  Stand old = stand_of (sheet, i);
  GArray *stands = list_stands (polish, i);
  MlCells rest = ml_sheet_hull (sheet, i);
  guint n = 0, k;

  g_array_sort_with_data (stands, by_stand, spot->piece);
  ml_sheet_lift (sheet, i);
  for (k = 0; k < stands->len; k++)
    {
      Stand stand = g_array_index (stands, Stand, k);
      int cost;
      if (k > 0 && compare_stands (&stand, &g_array_index (stands, Stand, k - 1), spot->piece) == 0)
        continue;
      if (stand.x == old.x && stand.y == old.y && stand.form == old.form)
        continue;
      stand_at (sheet, i, stand);
      if (!ml_sheet_inside (sheet, i) || !ml_router_holds (polish->router, i))
        continue;
      cost = estimate_stand (polish, i, &rest, n == TRIED_FOR_REAL ? best[TRIED_FOR_REAL - 1].cost : G_MAXINT);
      if (cost < G_MAXINT)
        rank (best, &n, stand, cost);
    }
  stand_at (sheet, i, old);
  ml_sheet_put (sheet, i);
  g_array_unref (stands);
  return n;
}

/* ---- the real thing ---- */

static GArray *
cells_of (const Polish *polish, int i)
{
  const MlSpot *spot = &polish->sheet->spots[i];
  GArray *cells = g_array_new (FALSE, FALSE, sizeof (int));
  guint k;
  int x, y;

  for (k = 0; k < spot->form->n_cores; k++)
    {
      const MlCells *core = &spot->form->cores[k];
      for (y = core->y0 + spot->y; y <= core->y1 + spot->y; y++)
        for (x = core->x0 + spot->x; x <= core->x1 + spot->x; x++)
          {
            int cell = ml_router_cell (polish->router, x, y);
            g_array_append_val (cells, cell);
          }
    }
  for (k = 0; k < spot->piece->n_pins; k++)
    {
      MlFormPin at = ml_sheet_pin (polish->sheet, i, (int) k);
      int cell = ml_router_cell (polish->router, at.x, at.y);
      g_array_append_val (cells, cell);
    }
  return cells;
}

static void
mark_net (gboolean *marked, int mark)
{
  if (mark > 0)
    marked[mark - 1] = TRUE;
}

static gboolean
flags_cover (const MlRouter *router, int net, const GArray *cells)
{
  GArray *of_flag = g_array_new (FALSE, FALSE, sizeof (int));
  gboolean cover = FALSE;
  guint f, i, k;

  for (f = 0; f < router->nets[net].flags->len && !cover; f++)
    {
      ml_router_flag_cells (router, net, &g_array_index (router->nets[net].flags, MlRouteFlag, f), of_flag);
      for (i = 0; i < of_flag->len && !cover; i++)
        for (k = 0; k < cells->len && !cover; k++)
          cover = g_array_index (of_flag, int, i) == g_array_index (cells, int, k);
    }
  g_array_unref (of_flag);
  return cover;
}

typedef struct { int rail, cost, net; } Order;

static int
by_order (gconstpointer a, gconstpointer b)
{
  const Order *p = a, *q = b;

  if (p->rail != q->rail)
    return p->rail - q->rail;
  if (p->cost != q->cost)
    return p->cost < q->cost ? -1 : 1;
  return p->net - q->net;
}

/* The piece's own nets and those that its new place would cover, signals first. */
static guint
touched_nets (const Polish *polish, int i, Stand stand, int *ret_nets)
{
  MlRouter *router = polish->router;
  MlSpot *spot = &polish->sheet->spots[i];
  Stand old = stand_of (polish->sheet, i);
  gboolean *marked = g_new0 (gboolean, router->n_nets);
  Order *order = g_new (Order, router->n_nets);
  GArray *cells;
  guint k, n = 0;

  for (k = 0; k < spot->n_nets; k++)
    marked[spot->nets[k]] = TRUE;
  stand_at (polish->sheet, i, stand);
  cells = cells_of (polish, i);
  stand_at (polish->sheet, i, old);
  for (k = 0; k < cells->len; k++)
    {
      mark_net (marked, router->cells[g_array_index (cells, int, k)].line[0]);
      mark_net (marked, router->cells[g_array_index (cells, int, k)].line[1]);
    }
  for (k = 0; k < router->n_nets; k++)
    if (marked[k] || flags_cover (router, (int) k, cells))
      order[n++] = (Order){ router->nets[k].rail != ML_RAIL_NONE, router->nets[k].cost, (int) k };
  if (n > 0) /* of no nets there is no array */
    qsort (order, n, sizeof *order, by_order);
  for (k = 0; k < n; k++)
    ret_nets[k] = order[k].net;
  g_array_unref (cells);
  g_free (marked);
  g_free (order);
  return n;
}

static gboolean
has_net (const MlSpot *spot, int net)
{
  guint i;

  for (i = 0; i < spot->n_nets; i++)
    if (spot->nets[i] == net)
      return TRUE;
  return FALSE;
}

/* On a core, or on a pin of a net that the piece has no part in. */
static gboolean
collides (const Polish *polish, int i)
{
  const MlRouter *router = polish->router;
  GArray *cells = cells_of (polish, i);
  gboolean bad = FALSE;
  guint k;

  for (k = 0; k < cells->len && !bad; k++)
    {
      int cell = g_array_index (cells, int, k), pin = router->cells[cell].pin;
      bad = router->cells[cell].block || (pin != 0 && (k + polish->sheet->spots[i].piece->n_pins < cells->len || pin < 0
                                                 || !has_net (&polish->sheet->spots[i], pin - 1)));
    }
  /* A pin on another piece's pin must be of the same net. */
  for (k = 0; k < polish->sheet->spots[i].piece->n_pins && !bad; k++)
    {
      int cell = g_array_index (cells, int, cells->len - polish->sheet->spots[i].piece->n_pins + k);
      bad = router->cells[cell].pin != 0 && router->cells[cell].pin != polish->sheet->spots[i].piece->pins[k].net + 1;
    }
  g_array_unref (cells);
  return bad;
}

static void
shift (Polish *polish, int i, Stand to)
{
  ml_router_stamp (polish->router, i, -1);
  ml_sheet_lift (polish->sheet, i);
  stand_at (polish->sheet, i, to);
  ml_sheet_put (polish->sheet, i);
}

/* TRUE when the piece stands better at its new place; else everything is as before. */
static gboolean
try_for_real (Polish *polish, int i, Stand stand)
{
  MlRouter *router = polish->router;
  Stand old = stand_of (polish->sheet, i);
  int *nets = g_new (int, router->n_nets), before = standing_cost (polish, i), after = G_MAXINT, left = 0;
  guint n = touched_nets (polish, i, stand, nets), k;
  GArray *saved = ml_router_save (router, nets, n);
  gboolean better;

  for (k = 0; k < n; k++)
    {
      before += router->nets[nets[k]].cost;
      ml_router_erase (router, nets[k]);
    }
  shift (polish, i, stand);
  if (!collides (polish, i))
    {
      ml_router_stamp (router, i, 1);
      after = standing_cost (polish, i);
      for (k = 0; k < n; k++)
        left += ml_router_least_cost (router, nets[k]);
      for (k = 0; k < n && after + left < before - LEAST_GAIN; k++)
        {
          int most = before - LEAST_GAIN - 1 - after - (left -= ml_router_least_cost (router, nets[k]));
          int cost = ml_router_route_within (router, nets[k], most);
          after = cost <= most ? after + cost : before;
        }
      if (k < n) /* it cannot get better any more */
        after = G_MAXINT;
    }
  else
    ml_router_stamp (router, i, 1);
  better = after < before - LEAST_GAIN;
  if (!better)
    {
      for (k = 0; k < n; k++)
        ml_router_erase (router, nets[k]);
      shift (polish, i, old);
      ml_router_stamp (router, i, 1);
      ml_router_restore (router, saved);
    }
  g_array_unref (saved);
  g_free (nets);
  return better;
}

/* ---- which pieces ---- */

static int
half_perimeter (const MlRouter *router, const MlRouteNet *net)
{
  int x0 = G_MAXINT, x1 = 0, y0 = G_MAXINT, y1 = 0;
  guint i;

  for (i = 0; i < net->n_pins; i++)
    {
      x0 = MIN (x0, net->pins[i].cell % router->width);
      x1 = MAX (x1, net->pins[i].cell % router->width);
      y0 = MIN (y0, net->pins[i].cell / router->width);
      y1 = MAX (y1, net->pins[i].cell / router->width);
    }
  return net->n_pins == 0 ? 0 : x1 - x0 + y1 - y0;
}

/* Pieces of the nets that cost most beyond what they must, those of few pins first. */
static GArray *
suspicious_pieces (const Polish *polish)
{
  const MlRouter *router = polish->router;
  const MlSheet *sheet = polish->sheet;
  Order *order = g_new (Order, MAX (router->n_nets, 1));
  gboolean *listed = g_new0 (gboolean, MAX (sheet->n, 1));
  GArray *pieces = g_array_new (FALSE, FALSE, sizeof (int));
  guint n = 0, i, k, pins;

  for (i = 0; i < router->n_nets; i++)
    {
      const MlRouteNet *net = &router->nets[i];
      int must = net->rail == ML_RAIL_NONE ? ML_COST (0.4) * half_perimeter (router, net) : ML_COST (3) * (int) net->n_pins;
      if (net->n_pins >= 2 && net->cost - must >= WORTH_A_LOOK)
        order[n++] = (Order){ 0, must - net->cost, (int) i };
    }
  if (n > 0) /* of no nets there is no array */
    qsort (order, n, sizeof *order, by_order);
  for (i = 0; i < n; i++)
    for (pins = 1; pins < 64; pins++)
      for (k = 0; k < sheet->nets[order[i].net].n_pins; k++)
        {
          int piece = sheet->nets[order[i].net].pins[k].piece;
          if (listed[piece] || (sheet->spots[piece].fixed && !sheet->spots[piece].pins_free) || MIN (sheet->spots[piece].piece->n_pins, 63) != pins)
            continue;
          listed[piece] = TRUE;
          g_array_append_val (pieces, piece);
        }
  g_free (order);
  g_free (listed);
  return pieces;
}

static gboolean
polish_piece (Polish *polish, int i)
{
  Ranked best[TRIED_FOR_REAL];
  guint n = rank_stands (polish, i, best), k;

  for (k = 0; k < n; k++)
    {
      polish->tried++;
      if (try_for_real (polish, i, best[k].stand))
        return TRUE;
    }
  return FALSE;
}

#define BLOCK_ROUNDS 3

/* Blocks have many pins and come last above: the order of their pins is looked at whatever has been tried by then. */
static void
polish_blocks (Polish *polish)
{
  const MlSheet *sheet = polish->sheet;
  guint i;
  int round;

  for (i = 0; i < sheet->n; i++)
    for (round = 0; round < BLOCK_ROUNDS; round++)
      {
        const MlSpot *spot = &sheet->spots[i];
        if (polish->cancellable != NULL && g_cancellable_is_cancelled (polish->cancellable))
          return;
        if (!spot->on || !spot->piece->is_block || (spot->fixed && !spot->pins_free)
            || !polish_piece (polish, (int) i))
          break;
      }
}

void
ml_polish (MlSheet *sheet, MlRouter *router, guint limit, GCancellable *cancellable)
{
  Polish polish = { sheet, router, 0, limit > 0 ? limit : MAX (100, 2 * sheet->circuit->n_parts), cancellable };
  int round;
  guint i;

  for (round = 0; round < ROUNDS; round++)
    {
      GArray *pieces = suspicious_pieces (&polish);
      gboolean better = FALSE;
      for (i = 0; i < pieces->len && polish.tried < polish.limit; i++)
        {
          if (cancellable != NULL && g_cancellable_is_cancelled (cancellable))
            break;
          better |= polish_piece (&polish, g_array_index (pieces, int, i));
        }
      g_array_unref (pieces);
      if (!better)
        break;
    }
  polish_blocks (&polish);
}
