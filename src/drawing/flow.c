/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/flow.h"

#include <math.h>
#include <stddef.h>
#include <string.h>

/* One net as a graph: nodes where something joins, edges the straight pieces between them. The router draws trees, so that the currents
 * follow from those of the pins alone (Kirchhoff's current law from the leaves inwards). Should wires form a loop, its closing piece
 * carries nothing: without resistances the share is not determined. */
typedef struct
{
  MlPoint at;
  double demand_a;  /* what leaves the copper here */
  gboolean flag, entry, unknown;
  int parent, edge; /* in the tree; -1 */
  int component;    /* -1: not reached yet */
} Node;

typedef struct
{
  int from, to;
  guint wire;
  double current_a; /* from `from` to `to` */
} Edge;

typedef struct
{
  const MlScene *scene;
  const guint *wires, *pins, *flags; /* indices of this net's, in order */
  guint n_wires, n_pins, n_flags;
  GArray *nodes, *edges; /* Node, Edge */
  GArray *order;         /* int, nodes in the order they were reached */
  GArray *first_edge;    /* int, adjacency: offsets into ends */
  GArray *ends;          /* int, edge indices */
} Net;

#define NODE(net, i) g_array_index ((net)->nodes, Node, i)
#define EDGE(net, i) g_array_index ((net)->edges, Edge, i)

static int
compare_nodes (gconstpointer a, gconstpointer b)
{
  const MlPoint *p = a, *q = b; /* at is first */

  if (p->x != q->x)
    return p->x < q->x ? -1 : 1;
  return p->y < q->y ? -1 : p->y > q->y;
}

static void
add_node (Net *net, MlPoint at)
{
  const Node node = { .at = at, .parent = -1, .edge = -1, .component = -1 };

  g_array_append_val (net->nodes, node);
}

static int
find_node (const Net *net, MlPoint at)
{
  guint lo = 0, hi = net->nodes->len;

  while (lo < hi)
    {
      guint mid = (lo + hi) / 2;

      if (compare_nodes (&NODE (net, mid), &at) < 0)
        lo = mid + 1;
      else
        hi = mid;
    }
  return lo < net->nodes->len && compare_nodes (&NODE (net, lo), &at) == 0 ? (int) lo : -1;
}

static void
collect_nodes (Net *net)
{
  const MlScene *scene = net->scene;
  guint kept = 0;

  for (guint i = 0; i < net->n_wires; i++)
    {
      add_node (net, scene->wires[net->wires[i]].a);
      add_node (net, scene->wires[net->wires[i]].b);
    }
  for (guint i = 0; i < net->n_pins; i++)
    add_node (net, scene->pins[net->pins[i]].at);
  for (guint i = 0; i < net->n_flags; i++)
    add_node (net, scene->flags[net->flags[i]].at);
  g_array_sort (net->nodes, compare_nodes);
  for (guint i = 0; i < net->nodes->len; i++)
    if (kept == 0 || compare_nodes (&NODE (net, i), &NODE (net, kept - 1)) != 0)
      NODE (net, kept++) = NODE (net, i);
  g_array_set_size (net->nodes, kept);
}

static gboolean
lies_on (const MlSceneWire *wire, MlPoint p)
{
  return p.x >= MIN (wire->a.x, wire->b.x) && p.x <= MAX (wire->a.x, wire->b.x) && p.y >= MIN (wire->a.y, wire->b.y)
         && p.y <= MAX (wire->a.y, wire->b.y);
}

/* Nodes are sorted by x, then y: along a wire they come in order of a to b or of b to a. */
static void
cut_wire (Net *net, guint w)
{
  const MlSceneWire *wire = &net->scene->wires[w];
  const gboolean forward = wire->a.x < wire->b.x || (wire->a.x == wire->b.x && wire->a.y < wire->b.y);
  const guint first = net->edges->len;
  int last = -1;

  for (guint i = 0; i < net->nodes->len; i++)
    {
      if (!lies_on (wire, NODE (net, i).at))
        continue;
      if (last >= 0)
        {
          const Edge edge = { forward ? last : (int) i, forward ? (int) i : last, w, 0 };

          if (forward)
            g_array_append_val (net->edges, edge);
          else
            g_array_insert_val (net->edges, first, edge);
        }
      last = (int) i;
    }
}

static void
collect_pins (Net *net, double *const *pin_a)
{
  const MlScene *scene = net->scene;

  for (guint i = 0; i < net->n_pins; i++)
    {
      const MlScenePin *pin = &scene->pins[net->pins[i]];
      const MlPart *part = pin->part >= 0 ? &scene->board->parts[pin->part] : NULL;
      Node *node;
      double current_a;

      if (part == NULL)
        continue;
      node = &NODE (net, find_node (net, pin->at));
      current_a = pin_a[pin->part] != NULL ? pin_a[pin->part][pin->pin] : NAN;
      if (isfinite (current_a))
        node->demand_a += current_a;
      if (part->kind->kind == ML_KIND_CONNECTOR || part->kind->kind == ML_KIND_TESTPOINT)
        node->entry = TRUE;
      else if (!isfinite (current_a))
        node->unknown = TRUE;
    }
  for (guint i = 0; i < net->n_flags; i++)
    NODE (net, find_node (net, scene->flags[net->flags[i]].at)).flag = TRUE;
}

/* Bench supplies and loads are no parts: what the parts of a net do not balance among themselves enters at its connector, else it is
 * the share of pins whose current nobody knows. */
static void
balance (Net *net)
{
  double sum = 0;
  guint n_unknown = 0;

  for (guint i = 0; i < net->nodes->len; i++)
    {
      sum += NODE (net, i).demand_a;
      n_unknown += NODE (net, i).unknown;
    }
  for (guint i = 0; i < net->nodes->len; i++)
    if (NODE (net, i).entry)
      {
        NODE (net, i).demand_a -= sum;
        return;
      }
  for (guint i = 0; i < net->nodes->len; i++)
    if (NODE (net, i).unknown)
      NODE (net, i).demand_a -= sum / n_unknown;
}

static void
link_edges (Net *net)
{
  int *fill;

  g_array_set_size (net->first_edge, net->nodes->len + 1);
  memset (net->first_edge->data, 0, (net->nodes->len + 1) * sizeof (int));
  for (guint e = 0; e < net->edges->len; e++)
    {
      g_array_index (net->first_edge, int, EDGE (net, e).from + 1)++;
      g_array_index (net->first_edge, int, EDGE (net, e).to + 1)++;
    }
  for (guint i = 0; i < net->nodes->len; i++)
    g_array_index (net->first_edge, int, i + 1) += g_array_index (net->first_edge, int, i);
  g_array_set_size (net->ends, 2 * net->edges->len);
  fill = g_memdup2 (net->first_edge->data, (net->nodes->len + 1) * sizeof (int));
  for (guint e = 0; e < net->edges->len; e++)
    {
      g_array_index (net->ends, int, fill[EDGE (net, e).from]++) = (int) e;
      g_array_index (net->ends, int, fill[EDGE (net, e).to]++) = (int) e;
    }
  g_free (fill);
}

/* Reaches everything joined to root; appends to order. */
static void
grow_tree (Net *net, int root)
{
  NODE (net, root).component = root;
  g_array_append_val (net->order, root);
  for (guint k = net->order->len - 1; k < net->order->len; k++)
    {
      const int i = g_array_index (net->order, int, k);

      for (int s = g_array_index (net->first_edge, int, i); s < g_array_index (net->first_edge, int, i + 1); s++)
        {
          const int e = g_array_index (net->ends, int, s);
          const int other = EDGE (net, e).from == i ? EDGE (net, e).to : EDGE (net, e).from;

          if (NODE (net, other).component >= 0)
            continue;
          NODE (net, other).component = root;
          NODE (net, other).parent = i;
          NODE (net, other).edge = e;
          g_array_append_val (net->order, other);
        }
    }
}

/* The flags of one piece of copper carry what it does not balance, in equal shares. */
static void
balance_with_flags (Net *net, guint first, guint end)
{
  double sum = 0;
  guint n_flags = 0;

  for (guint k = first; k < end; k++)
    {
      const Node *node = &NODE (net, g_array_index (net->order, int, k));

      sum += node->demand_a;
      n_flags += node->flag;
    }
  for (guint k = first; k < end; k++)
    if (NODE (net, g_array_index (net->order, int, k)).flag)
      NODE (net, g_array_index (net->order, int, k)).demand_a -= sum / n_flags;
}

static void
sum_from_leaves (Net *net, guint first)
{
  for (guint k = net->order->len; k-- > first + 1;)
    {
      const int i = g_array_index (net->order, int, k);
      const Node *node = &NODE (net, i);
      Edge *edge = &EDGE (net, node->edge);

      edge->current_a = edge->to == i ? node->demand_a : -node->demand_a;
      NODE (net, node->parent).demand_a += node->demand_a;
    }
}

static void
solve_net (Net *net, double *const *pin_a)
{
  g_array_set_size (net->nodes, 0);
  g_array_set_size (net->edges, 0);
  g_array_set_size (net->order, 0);
  collect_nodes (net);
  for (guint i = 0; i < net->n_wires; i++)
    cut_wire (net, net->wires[i]);
  collect_pins (net, pin_a);
  balance (net);
  link_edges (net);
  for (guint i = 0; i < net->nodes->len; i++)
    if (NODE (net, i).component < 0)
      {
        const guint first = net->order->len;

        grow_tree (net, (int) i);
        balance_with_flags (net, first, net->order->len);
        sum_from_leaves (net, first);
      }
}

static int
compare_pieces (gconstpointer a, gconstpointer b)
{
  const MlFlowPiece *p = a, *q = b;
  double ahead;

  if (p->wire != q->wire)
    return p->wire < q->wire ? -1 : 1;
  /* a to b of one wire: the piece that starts nearer to the wire's a is the one whose own a lies before the other's, seen along a to b. */
  ahead = (q->a.x - p->a.x) * (p->b.x - p->a.x) + (q->a.y - p->a.y) * (p->b.y - p->a.y);
  return ahead > 0 ? -1 : ahead < 0;
}

/* Indices grouped by net: those of net n stand from first[n] to first[n + 1]. */
typedef struct { guint *first, *index; } ByNet;

static ByNet
by_net (guint n_nets, guint n, const void *things, gsize stride, gsize net_offset)
{
  const char *at = (const char *) things + net_offset;
  ByNet self = { g_new0 (guint, n_nets + 2), g_new (guint, MAX (n, 1)) };

  for (guint i = 0; i < n; i++)
    {
      const int net = *(const int *) (const void *) (at + i * stride);
      if (net >= 0 && (guint) net < n_nets)
        self.first[net + 2]++;
    }
  for (guint k = 2; k < n_nets + 2; k++)
    self.first[k] += self.first[k - 1];
  for (guint i = 0; i < n; i++)
    {
      const int net = *(const int *) (const void *) (at + i * stride);
      if (net >= 0 && (guint) net < n_nets)
        self.index[self.first[net + 1]++] = i;
    }
  return self;
}

static const guint *
of_net (const ByNet *self, guint net, guint *ret_n)
{
  *ret_n = self->first[net + 1] - self->first[net];
  return self->index + self->first[net];
}

static void
by_net_free (ByNet *self)
{
  g_free (self->first);
  g_free (self->index);
}

GArray *
ml_flow_pieces (const MlScene *scene, double *const *pin_a)
{
  GArray *pieces = g_array_new (FALSE, FALSE, sizeof (MlFlowPiece));
  const guint n_nets = scene->board != NULL ? scene->board->n_nets : 0;
  Net net = { .scene = scene };
  ByNet wires = by_net (n_nets, scene->n_wires, scene->wires, sizeof *scene->wires, offsetof (MlSceneWire, net));
  ByNet pins = by_net (n_nets, scene->n_pins, scene->pins, sizeof *scene->pins, offsetof (MlScenePin, net));
  ByNet flags = by_net (n_nets, scene->n_flags, scene->flags, sizeof *scene->flags, offsetof (MlSceneFlag, net));

  net.nodes = g_array_new (FALSE, TRUE, sizeof (Node));
  net.edges = g_array_new (FALSE, TRUE, sizeof (Edge));
  net.order = g_array_new (FALSE, TRUE, sizeof (int));
  net.first_edge = g_array_new (FALSE, TRUE, sizeof (int));
  net.ends = g_array_new (FALSE, TRUE, sizeof (int));
  for (guint n = 0; n < n_nets; n++)
    {
      net.wires = of_net (&wires, n, &net.n_wires);
      net.pins = of_net (&pins, n, &net.n_pins);
      net.flags = of_net (&flags, n, &net.n_flags);
      solve_net (&net, pin_a);
      for (guint e = 0; e < net.edges->len; e++)
        {
          const Edge *edge = &EDGE (&net, e);
          const MlFlowPiece piece = { edge->wire, NODE (&net, edge->from).at, NODE (&net, edge->to).at, edge->current_a };

          g_array_append_val (pieces, piece);
        }
    }
  g_array_sort (pieces, compare_pieces);
  by_net_free (&wires);
  by_net_free (&pins);
  by_net_free (&flags);
  g_array_unref (net.nodes);
  g_array_unref (net.edges);
  g_array_unref (net.order);
  g_array_unref (net.first_edge);
  g_array_unref (net.ends);
  return pieces;
}

double *
ml_scene_flow (const MlScene *scene, double *const *pin_a)
{
  double *flow = g_new0 (double, MAX (scene->n_wires, 1));
  GArray *pieces = ml_flow_pieces (scene, pin_a);

  for (guint i = 0; i < pieces->len; i++)
    {
      const MlFlowPiece *piece = &g_array_index (pieces, MlFlowPiece, i);

      if (fabs (piece->current_a) > fabs (flow[piece->wire]))
        flow[piece->wire] = piece->current_a;
    }
  g_array_unref (pieces);
  return flow;
}
