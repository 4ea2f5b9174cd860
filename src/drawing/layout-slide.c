/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Clusters that are joined by drawn wires only slide up and left as rigid bodies, until something is in the way. */
#include "drawing/groups.h"
#include "drawing/layout-plan.h"

#include <math.h>
#include <string.h>

#define ROUNDS 2
#define PACK_BELOW 24 /* rows beyond the sheet that may be tried */

typedef struct { int x, y; } Node;
typedef struct { int x0, y0, x1, y1; } Hull;

typedef struct
{
  MlLayoutPlan *plan;
  guint *parent;      /* spots, then wires, then flags, then dots */
  guint n_spots, n_wires, n_flags, n_dots, n;
  GArray **nodes;     /* per root: the nodes it covers, of Node */
  int x0, y0, width, height;
  gint16 *covered;
  Hull *hulls;        /* per root, while packing */
  guint supply;       /* root of the supply chain's cluster, or G_MAXUINT */
} Slide;

/* ---- what belongs together: whatever shares a node of the same net ---- */

static void
join_crossing (Slide *slide);

static void
join_all (Slide *slide)
{
  const MlKit *kit = slide->plan->sheet->kit;
  guint i, k;

  ml_layout_plan_join_touching (slide->plan, 1, slide->parent);
  /* Members of a composite stay level although no wire may join them. */
  for (i = 0; i < kit->composites->len; i++)
    {
      const MlPiece *composite = g_ptr_array_index (kit->composites, i);
      for (k = 1; k < composite->n_members; k++)
        ml_group_join (slide->parent, (guint) composite->members[0], (guint) composite->members[k]);
    }
  join_crossing (slide);
}

/* Wires that cross move together: apart they might come to lie on each other. */
static void
join_crossing (Slide *slide)
{
  guint i, k;

  for (i = 0; i < slide->n_wires; i++)
    for (k = 0; k < i; k++)
      {
        const MlPlanWire *a = &g_array_index (slide->plan->wires, MlPlanWire, i), *b = &g_array_index (slide->plan->wires, MlPlanWire, k);
        if (a->x0 <= b->x1 && b->x0 <= a->x1 && a->y0 <= b->y1 && b->y0 <= a->y1)
          ml_group_join (slide->parent, slide->n_spots + i, slide->n_spots + k);
      }
}

/* ---- what a cluster covers ---- */

static void
cover (Slide *slide, guint index, int x0, int y0, int x1, int y1)
{
  GArray **nodes = &slide->nodes[ml_group_of (slide->parent, index)];
  Node node;

  if (*nodes == NULL)
    *nodes = g_array_new (FALSE, FALSE, sizeof (Node));
  for (node.y = y0; node.y <= y1; node.y++)
    for (node.x = x0; node.x <= x1; node.x++)
      g_array_append_val (*nodes, node);
}

static void
cover_spots (Slide *slide)
{
  guint i, k;

  for (i = 0; i < slide->n_spots; i++)
    {
      const MlSpot *spot = &slide->plan->sheet->spots[i];
      for (k = 0; k < spot->form->n_cores; k++)
        {
          const MlCells *c = &spot->form->cores[k];
          cover (slide, i, c->x0 + spot->x - 1, c->y0 + spot->y - 1, c->x1 + spot->x + 1, c->y1 + spot->y + 1);
        }
      for (k = 0; k < spot->form->n_rooms; k++)
        {
          const MlCells *c = &spot->form->rooms[k];
          cover (slide, i, c->x0 + spot->x, c->y0 + spot->y, c->x1 + spot->x, c->y1 + spot->y);
        }
      for (k = 0; k < spot->piece->n_pins; k++)
        {
          MlFormPin at = ml_sheet_pin (slide->plan->sheet, (int) i, (int) k);
          cover (slide, i, at.x, at.y, at.x, at.y);
        }
    }
}

static void
cover_copper (Slide *slide)
{
  guint i;

  for (i = 0; i < slide->n_wires; i++)
    {
      const MlPlanWire *w = &g_array_index (slide->plan->wires, MlPlanWire, i);
      cover (slide, slide->n_spots + i, w->x0 - 1, w->y0 - 1, w->x1 + 1, w->y1 + 1);
    }
  for (i = 0; i < slide->n_flags; i++)
    {
      MlBox box = ml_layout_plan_flag_box (slide->plan->sheet->circuit, &g_array_index (slide->plan->flags, MlPlanFlag, i));
      cover (slide, slide->n_spots + slide->n_wires + i, (int) floor (box.x0 - 0.3), (int) floor (box.y0 - 0.3), (int) ceil (box.x1 + 0.3),
             (int) ceil (box.y1 + 0.3));
    }
}

static void
stamp (Slide *slide, guint root, int sign)
{
  const GArray *nodes = slide->nodes[root];
  guint i;

  for (i = 0; i < nodes->len; i++)
    {
      Node node = g_array_index (nodes, Node, i);
      gint16 *at = &slide->covered[(node.y - slide->y0) * slide->width + node.x - slide->x0];
      *at = (gint16) (*at + sign);
    }
}

static void
take_raster (Slide *slide)
{
  int x1 = G_MININT, y1 = G_MININT;
  guint i, k;

  slide->x0 = slide->y0 = G_MAXINT;
  for (i = 0; i < slide->n; i++)
    for (k = 0; slide->nodes[i] != NULL && k < slide->nodes[i]->len; k++)
      {
        Node node = g_array_index (slide->nodes[i], Node, k);
        slide->x0 = MIN (slide->x0, node.x);
        slide->y0 = MIN (slide->y0, node.y);
        x1 = MAX (x1, node.x);
        y1 = MAX (y1, node.y);
      }
  slide->width = x1 - slide->x0 + 1;
  slide->height = y1 - slide->y0 + 1 + PACK_BELOW;
  slide->covered = g_new0 (gint16, (gsize) slide->width * (gsize) slide->height);
  for (i = 0; i < slide->n; i++)
    if (slide->nodes[i] != NULL)
      stamp (slide, i, 1);
}

/* ---- sliding ---- */

static int
room_ahead (const Slide *slide, guint root, int axis)
{
  const GArray *nodes = slide->nodes[root];
  int by;
  guint i;

  for (by = 1;; by++)
    for (i = 0; i < nodes->len; i++)
      {
        Node node = g_array_index (nodes, Node, i);
        int x = node.x - (axis == 0 ? by : 0) - slide->x0, y = node.y - (axis == 1 ? by : 0) - slide->y0;
        if (x < 0 || y < 0 || slide->covered[y * slide->width + x] > 0)
          return by - 1;
      }
}

static void
move_cluster (Slide *slide, guint root, int dx, int dy)
{
  MlLayoutPlan *plan = slide->plan;
  guint i, at = slide->n_spots;

  for (i = 0; i < slide->n_spots; i++)
    if (ml_group_of (slide->parent, i) == root)
      {
        plan->sheet->spots[i].x += dx;
        plan->sheet->spots[i].y += dy;
      }
  for (i = 0; i < slide->n_wires; i++)
    if (ml_group_of (slide->parent, at + i) == root)
      {
        MlPlanWire *wire = &g_array_index (plan->wires, MlPlanWire, i);
        wire->x0 += dx;
        wire->x1 += dx;
        wire->y0 += dy;
        wire->y1 += dy;
      }
  for (i = 0, at += slide->n_wires; i < slide->n_flags; i++)
    if (ml_group_of (slide->parent, at + i) == root)
      {
        g_array_index (plan->flags, MlPlanFlag, i).x += dx;
        g_array_index (plan->flags, MlPlanFlag, i).y += dy;
      }
  for (i = 0, at += slide->n_flags; i < slide->n_dots; i++)
    if (ml_group_of (slide->parent, at + i) == root)
      {
        g_array_index (plan->dots, MlPlanDot, i).x += dx;
        g_array_index (plan->dots, MlPlanDot, i).y += dy;
      }
  for (i = 0; i < slide->nodes[root]->len; i++)
    {
      g_array_index (slide->nodes[root], Node, i).x += dx;
      g_array_index (slide->nodes[root], Node, i).y += dy;
    }
}

typedef struct { int near; guint root; } Order;

static int
by_nearness (gconstpointer a, gconstpointer b)
{
  const Order *p = a, *q = b;

  return p->near != q->near ? (p->near < q->near ? -1 : 1) : (p->root < q->root ? -1 : p->root > q->root);
}

#define TIED_NEAR ML_COST (8) /* so far from its chip a capacitor is still seen to be that chip's */

/* A capacitor does not leave its chip: of the way that is free only so far as it stands near, or no farther than it did. */
static int
way_worth_going (Slide *slide, guint root, int axis, int most)
{
  MlSheet *sheet = slide->plan->sheet;
  int spot = -1, by, x, y, now;
  guint i, n = 0;

  for (i = 0; i < slide->n_spots; i++)
    if (ml_group_of (slide->parent, i) == root)
      {
        n++;
        spot = (int) i;
      }
  if (n != 1 || sheet->spots[spot].ties->len == 0)
    return most;
  x = sheet->spots[spot].x;
  y = sheet->spots[spot].y;
  now = ml_sheet_ties_cost (sheet, spot);
  for (by = most; by > 0; by--)
    {
      int cost;
      *(axis == 0 ? &sheet->spots[spot].x : &sheet->spots[spot].y) -= by;
      cost = ml_sheet_ties_cost (sheet, spot);
      sheet->spots[spot].x = x;
      sheet->spots[spot].y = y;
      if (cost <= MAX (now, TIED_NEAR))
        break;
    }
  return by;
}

static void
slide_axis (Slide *slide, int axis)
{
  Order *order = g_new (Order, slide->n);
  guint n = 0, i, k;

  for (i = 0; i < slide->n; i++)
    {
      if (slide->nodes[i] == NULL)
        continue;
      order[n] = (Order){ G_MAXINT, i };
      for (k = 0; k < slide->nodes[i]->len; k++)
        {
          Node node = g_array_index (slide->nodes[i], Node, k);
          order[n].near = MIN (order[n].near, axis ? node.y : node.x);
        }
      n++;
    }
  qsort (order, n, sizeof *order, by_nearness);
  for (i = 0; i < n; i++)
    {
      int by;
      stamp (slide, order[i].root, -1);
      by = way_worth_going (slide, order[i].root, axis, room_ahead (slide, order[i].root, axis));
      if (by > 0)
        move_cluster (slide, order[i].root, axis == 0 ? -by : 0, axis == 1 ? -by : 0);
      stamp (slide, order[i].root, 1);
    }
  g_free (order);
}

/* ---- packing: a cluster goes into a gap that others leave, where the sheet gets smaller and its parts stand well ---- */

#define PACK_ROUNDS 2
#define PACK_MOST 250 /* parts: beyond it, trying every place takes too long */
#define PACK_AREA_PER_50 3
#define PACK_GAIN ML_COST (3)

static Hull
hull_of (const Slide *slide, guint root)
{
  Hull hull = { G_MAXINT, G_MAXINT, G_MININT, G_MININT };
  guint k;

  for (k = 0; slide->nodes[root] != NULL && k < slide->nodes[root]->len; k++)
    {
      Node node = g_array_index (slide->nodes[root], Node, k);
      hull.x0 = MIN (hull.x0, node.x);
      hull.y0 = MIN (hull.y0, node.y);
      hull.x1 = MAX (hull.x1, node.x);
      hull.y1 = MAX (hull.y1, node.y);
    }
  return hull;
}

static Hull
joined (Hull a, const Hull *b)
{
  return (Hull){ MIN (a.x0, b->x0), MIN (a.y0, b->y0), MAX (a.x1, b->x1), MAX (a.y1, b->y1) };
}

static int
sheet_cost (const Hull *hull)
{
  MlCells cells = { hull->x0, hull->y0, hull->x1, hull->y1 };

  return ml_sheet_shape_cost (&cells) + ML_COST (PACK_AREA_PER_50) * (hull->x1 - hull->x0) / 50 * (hull->y1 - hull->y0) / 2;
}

static int
standing_cost (Slide *slide, const GArray *spots, int dx, int dy)
{
  MlSheet *sheet = slide->plan->sheet;
  int cost = 0;
  guint i;

  for (i = 0; i < spots->len; i++)
    {
      sheet->spots[g_array_index (spots, guint, i)].x += dx;
      sheet->spots[g_array_index (spots, guint, i)].y += dy;
    }
  for (i = 0; i < spots->len; i++)
    cost += ml_sheet_own_cost (sheet, (int) g_array_index (spots, guint, i));
  for (i = 0; i < spots->len; i++)
    {
      sheet->spots[g_array_index (spots, guint, i)].x -= dx;
      sheet->spots[g_array_index (spots, guint, i)].y -= dy;
    }
  return cost;
}

static int
standing_at_least (const Slide *slide, const GArray *spots, int dx, int dy)
{
  int cost = 0;
  guint i;

  for (i = 0; i < spots->len; i++)
    cost += ml_sheet_own_cost_at_least (slide->plan->sheet, (int) g_array_index (spots, guint, i), dx, dy);
  return cost;
}

static gboolean
is_free (const Slide *slide, guint root, int dx, int dy)
{
  const GArray *nodes = slide->nodes[root];
  guint i;

  for (i = 0; i < nodes->len; i++)
    {
      Node node = g_array_index (nodes, Node, i);
      if (slide->covered[(node.y + dy - slide->y0) * slide->width + node.x + dx - slide->x0] > 0)
        return FALSE;
    }
  return TRUE;
}

static GArray *
spots_of (Slide *slide, guint root)
{
  GArray *spots = g_array_new (FALSE, FALSE, sizeof (guint));
  guint i;

  for (i = 0; i < slide->n_spots; i++)
    if (ml_group_of (slide->parent, i) == root)
      g_array_append_val (spots, i);
  return spots;
}

/* The supply comes in at the upper left: nothing stands further to the left or higher up without need. */
static int
outside_cost (const Hull *supply, const Hull *hull)
{
  return ML_COST (2) * (MAX (0, supply->x0 - hull->x0) + MAX (0, supply->y0 - hull->y0));
}

static int
corner_cost (const Slide *slide, guint root, Hull moved)
{
  int cost = 0;
  guint i;

  if (slide->supply == G_MAXUINT)
    return 0;
  if (root != slide->supply)
    return outside_cost (&slide->hulls[slide->supply], &moved);
  for (i = 0; i < slide->n; i++)
    if (slide->nodes[i] != NULL && i != root)
      cost += outside_cost (&moved, &slide->hulls[i]);
  return cost;
}

/* The cluster is off the raster; rest: the hull of all others. */
static gboolean
find_gap (Slide *slide, guint root, const Hull *rest, int *ret_dx, int *ret_dy)
{
  GArray *spots = spots_of (slide, root);
  Hull own = hull_of (slide, root), now = joined (own, rest);
  int best = sheet_cost (&now) + standing_cost (slide, spots, 0, 0) + corner_cost (slide, root, own) - PACK_GAIN, dx, dy;
  gboolean found = FALSE;

  for (dy = slide->y0 - own.y0; own.y1 + dy < slide->y0 + slide->height; dy++)
    for (dx = slide->x0 - own.x0; own.x1 + dx < slide->x0 + slide->width; dx++)
      {
        Hull moved = { own.x0 + dx, own.y0 + dy, own.x1 + dx, own.y1 + dy }, all = joined (moved, rest);
        int cost = sheet_cost (&all);
        if (cost + standing_at_least (slide, spots, dx, dy) >= best || !is_free (slide, root, dx, dy))
          continue;
        cost += corner_cost (slide, root, moved) + standing_cost (slide, spots, dx, dy);
        if (cost >= best)
          continue;
        best = cost;
        *ret_dx = dx;
        *ret_dy = dy;
        found = TRUE;
      }
  g_array_unref (spots);
  return found;
}

static Hull
hull_of_others (const Slide *slide, guint but)
{
  Hull hull = { G_MAXINT, G_MAXINT, G_MININT, G_MININT };
  guint i;

  for (i = 0; i < slide->n; i++)
    if (i != but && slide->nodes[i] != NULL)
      hull = joined (hull, &slide->hulls[i]);
  return hull;
}

static int
by_place (gconstpointer a, gconstpointer b)
{
  const Node *p = a, *q = b;

  return p->y != q->y ? (p->y < q->y ? -1 : 1) : p->x < q->x ? -1 : p->x > q->x;
}

static void
drop_doubles (GArray *nodes)
{
  guint i, n = 0;

  g_array_sort (nodes, by_place);
  for (i = 0; i < nodes->len; i++)
    if (n == 0 || by_place (&g_array_index (nodes, Node, i), &g_array_index (nodes, Node, n - 1)) != 0)
      g_array_index (nodes, Node, n++) = g_array_index (nodes, Node, i);
  g_array_set_size (nodes, n);
}

/* Those that lie furthest to the right and down first. */
static void
pack (Slide *slide)
{
  Order *order = g_new (Order, slide->n);
  guint n = 0, i;

  slide->hulls = g_new (Hull, slide->n);
  for (i = 0; i < slide->n; i++)
    if (slide->nodes[i] != NULL)
      {
        slide->hulls[i] = hull_of (slide, i);
        order[n++] = (Order){ -slide->hulls[i].x1 - slide->hulls[i].y1, i };
      }
  qsort (order, n, sizeof *order, by_nearness);
  for (i = 0; i < n; i++)
    {
      Hull rest = hull_of_others (slide, order[i].root);
      int dx = 0, dy = 0;
      if (rest.x1 < rest.x0)
        break;
      stamp (slide, order[i].root, -1);
      if (find_gap (slide, order[i].root, &rest, &dx, &dy))
        move_cluster (slide, order[i].root, dx, dy);
      slide->hulls[order[i].root] = hull_of (slide, order[i].root);
      stamp (slide, order[i].root, 1);
    }
  g_free (order);
  g_clear_pointer (&slide->hulls, g_free);
}

/* Plain pieces do not know that they are the supply chain; their composite does. */
static guint
supply_cluster (Slide *slide)
{
  const MlKit *kit = slide->plan->sheet->kit;
  guint i;

  for (i = 0; i < kit->composites->len; i++)
    {
      const MlPiece *composite = g_ptr_array_index (kit->composites, i);
      if (composite->is_supply_chain)
        return ml_group_of (slide->parent, (guint) composite->members[0]);
    }
  return G_MAXUINT;
}

void
ml_layout_plan_slide (MlLayoutPlan *plan)
{
  Slide slide = { plan, NULL, plan->sheet->n, plan->wires->len, plan->flags->len, plan->dots->len, 0, NULL, 0, 0, 0, 0, NULL, NULL, G_MAXUINT };
  guint i;
  int round;

  slide.n = slide.n_spots + slide.n_wires + slide.n_flags + slide.n_dots;
  if (slide.n_spots == 0)
    return;
  slide.parent = g_new (guint, slide.n);
  slide.nodes = g_new0 (GArray *, slide.n);
  for (i = 0; i < slide.n; i++)
    slide.parent[i] = i;
  join_all (&slide);
  slide.supply = supply_cluster (&slide);
  cover_spots (&slide);
  cover_copper (&slide);
  for (i = 0; i < slide.n; i++)
    if (slide.nodes[i] != NULL)
      drop_doubles (slide.nodes[i]);
  take_raster (&slide);
  for (round = 0; round < ROUNDS; round++)
    {
      slide_axis (&slide, 1);
      slide_axis (&slide, 0);
    }
  for (round = 0; round < PACK_ROUNDS && slide.n_spots <= PACK_MOST; round++)
    {
      pack (&slide);
      slide_axis (&slide, 1);
      slide_axis (&slide, 0);
    }
  for (i = 0; i < slide.n; i++)
    g_clear_pointer (&slide.nodes[i], g_array_unref);
  g_free (slide.nodes);
  g_free (slide.parent);
  g_free (slide.covered);
}
