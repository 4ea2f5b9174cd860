/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/layout-stages.h"
#include "drawing/layout-polish.h"

#include <math.h>
#include <string.h>

#define BETWEEN 8      /* g between stages: wires and names */
#define WIDER 1.5      /* a sheet's width by its height */
#define BESIDE 80      /* g of raster round a stage */
#define MOVES 100      /* per piece */
#define HOT 3.0
#define COLD 0.4

/* ---- which pieces belong together ---- */

typedef struct
{
  const MlKit *kit;
  guint8 *taken;    /* per piece */
  double *strength; /* per piece: how closely it is joined to the stage that grows */
  GArray **pieces_on; /* per net: of guint */
} Grouping;

static guint
n_parts_of (const MlPiece *piece)
{
  return MAX (piece->n_members, 1);
}

static MlPiece *
piece_at (const Grouping *grouping, guint i)
{
  return g_ptr_array_index (grouping->kit->pieces, i);
}

static void
list_pieces_on (Grouping *grouping)
{
  guint i, k;

  for (i = 0; i < grouping->kit->pieces->len; i++)
    for (k = 0; k < piece_at (grouping, i)->n_pins; k++)
      {
        int net = piece_at (grouping, i)->pins[k].net;
        if (net < 0 || grouping->kit->circuit->nets[net].rail != ML_RAIL_NONE)
          continue;
        if (grouping->pieces_on[net] == NULL)
          grouping->pieces_on[net] = g_array_new (FALSE, FALSE, sizeof (guint));
        g_array_append_val (grouping->pieces_on[net], i);
      }
}

/* Whoever shares a signal with the piece is joined the more closely the fewer others do. */
static void
take (Grouping *grouping, guint i, GPtrArray *stage)
{
  MlPiece *piece = piece_at (grouping, i);
  guint k, p;

  grouping->taken[i] = TRUE;
  g_ptr_array_add (stage, piece);
  for (k = 0; k < piece->n_pins; k++)
    {
      const GArray *on = piece->pins[k].net < 0 ? NULL : grouping->pieces_on[piece->pins[k].net];
      for (p = 0; on != NULL && p < on->len; p++)
        grouping->strength[g_array_index (on, guint, p)] += 1.0 / on->len;
    }
}

/* The supply first of all; then what is joined most closely; where nothing is, in the order of names. */
static int
next_piece (const Grouping *grouping)
{
  int best = -1;
  guint i;

  for (i = 0; i < grouping->kit->pieces->len; i++)
    {
      if (grouping->taken[i])
        continue;
      if (piece_at (grouping, i)->is_supply_chain)
        return (int) i;
      if (best < 0 || grouping->strength[i] > grouping->strength[best] + 1e-9)
        best = (int) i;
    }
  return best;
}

static GPtrArray *
next_stage (Grouping *grouping, guint most_parts)
{
  GPtrArray *stage = g_ptr_array_new ();
  guint n = 0;
  int next;

  memset (grouping->strength, 0, sizeof *grouping->strength * grouping->kit->pieces->len);
  while (n < most_parts && (next = next_piece (grouping)) >= 0)
    {
      take (grouping, (guint) next, stage);
      n += n_parts_of (piece_at (grouping, (guint) next));
    }
  return stage;
}

/* Of GPtrArray of MlPiece, borrowed. */
static GPtrArray *
stages_of (const MlKit *kit, guint most_parts)
{
  Grouping grouping = { kit, g_new0 (guint8, MAX (kit->pieces->len, 1)), g_new0 (double, MAX (kit->pieces->len, 1)),
                        g_new0 (GArray *, MAX (kit->circuit->n_nets, 1)) };
  GPtrArray *stages = g_ptr_array_new_with_free_func ((GDestroyNotify) g_ptr_array_unref), *stage;
  guint i;

  list_pieces_on (&grouping);
  while ((stage = next_stage (&grouping, most_parts))->len > 0)
    g_ptr_array_add (stages, stage);
  g_ptr_array_unref (stage);
  for (i = 0; i < kit->circuit->n_nets; i++)
    g_clear_pointer (&grouping.pieces_on[i], g_array_unref);
  g_free (grouping.pieces_on);
  g_free (grouping.strength);
  g_free (grouping.taken);
  return stages;
}

/* ---- stages side by side ---- */

typedef struct { int width, height, x, y; } Block; /* with the space that must be free right of it and below */

/* Of the raster of a stage. */
static int
span_of (const GPtrArray *stage)
{
  double area = 0;
  guint i;

  for (i = 0; i < stage->len; i++)
    {
      const MlPiece *piece = g_ptr_array_index (stage, i);
      const MlForm *form = g_ptr_array_index (piece->forms, 0);
      area += (form->hull.x1 - form->hull.x0 + 4.0) * (form->hull.y1 - form->hull.y0 + 4.0);
    }
  return 2 * BESIDE + (int) (4 * sqrt (area));
}

/* How high the lower edge lies over some columns. */
static int
edge_over (const int *edge, int x, int width)
{
  int y = 0, i;

  for (i = x; i < x + width; i++)
    y = MAX (y, edge[i]);
  return y;
}

/* One block after the other as high up as it goes, and as far left; returns the height of all. */
static int
pack (GArray *blocks, int width)
{
  g_autofree int *edge = g_new0 (int, width);
  int height = 0, x, i;
  guint k;

  for (k = 0; k < blocks->len; k++)
    {
      Block *block = &g_array_index (blocks, Block, k);
      block->y = G_MAXINT;
      for (x = 0; x + block->width <= width; x++)
        {
          int y = edge_over (edge, x, block->width);
          if (y < block->y)
            {
              block->x = x;
              block->y = y;
            }
        }
      for (i = block->x; i < block->x + block->width; i++)
        edge[i] = block->y + block->height;
      height = MAX (height, block->y + block->height);
    }
  return height;
}

#define WIDTHS 24 /* tried, from that of the widest block on */

/* As wide as makes the smallest sheet of the wanted shape that holds all. */
static void
pack_well (GArray *blocks, int most)
{
  double area = 0, best = G_MAXDOUBLE;
  int widest = 1, width, chosen = 1, i;
  guint k;

  for (k = 0; k < blocks->len; k++)
    {
      area += (double) g_array_index (blocks, Block, k).width * g_array_index (blocks, Block, k).height;
      widest = MAX (widest, g_array_index (blocks, Block, k).width);
    }
  for (i = 0; i < WIDTHS; i++)
    {
      double high;
      width = MIN (MAX (widest, (int) (sqrt (WIDER * area) * (0.6 + 0.05 * i))), MAX (most, widest));
      high = pack (blocks, width);
      if (MAX (width, WIDER * high) < best)
        {
          best = MAX (width, WIDER * high);
          chosen = width;
        }
    }
  pack (blocks, chosen);
}

/* Each stage stands at (0,0) until then. */
static void
set_side_by_side (MlSheet *sheet, GArray *blocks, const int *block_of)
{
  guint k;

  pack_well (blocks, sheet->width - 2 * BESIDE);
  for (k = 0; k < sheet->n; k++)
    if (block_of[k] >= 0)
      {
        sheet->spots[k].x += BESIDE + g_array_index (blocks, Block, block_of[k]).x;
        sheet->spots[k].y += BESIDE + g_array_index (blocks, Block, block_of[k]).y;
      }
}

/* Of the spots that stand and belong to none yet. */
static void
mark_block (const MlSheet *sheet, int *block_of, int number)
{
  guint i;

  for (i = 0; i < sheet->n; i++)
    if (sheet->spots[i].on && block_of[i] < 0)
      block_of[i] = number;
}

/* Nothing is known of the other stages: their pins are where wires of this one may go anywhere. */
static void
arrange (MlSheet *stage, gboolean careful, GCancellable *cancellable)
{
  MlRouter *router;

  ml_sheet_insert_all (stage);
  if (!careful)
    return;
  ml_sheet_anneal (stage, MOVES * stage->n, HOT, COLD, cancellable);
  router = ml_router_new (stage, cancellable);
  ml_router_route_all (router, 2);
  ml_polish (stage, router, 0, cancellable);
  ml_router_free (router);
}

gboolean
ml_stages_place (MlSheet *sheet, const MlStagesCare *care, double *ret_look)
{
  GPtrArray *stages = stages_of (sheet->kit, care->most_parts);
  GArray *blocks = g_array_new (FALSE, FALSE, sizeof (Block));
  int *block_of = g_new (int, MAX (sheet->n, 1));
  gboolean more = TRUE;
  double look = 0;
  guint i;

  for (i = 0; i < sheet->n; i++)
    block_of[i] = -1;
  for (i = 0; i < stages->len && more; i++)
    {
      GPtrArray *pieces = g_ptr_array_index (stages, i);
      MlSheet *stage = ml_sheet_new (sheet->kit, pieces, i + 1, span_of (pieces));
      MlCells hull;
      Block block;
      arrange (stage, care->careful, care->cancellable);
      look += ml_sheet_look (stage);
      hull = ml_sheet_hull (stage, -1);
      block = (Block){ hull.x1 - hull.x0 + BETWEEN, hull.y1 - hull.y0 + BETWEEN, 0, 0 };
      g_array_append_val (blocks, block);
      ml_sheet_take_places (sheet, stage, -hull.x0, -hull.y0);
      mark_block (sheet, block_of, (int) i);
      ml_sheet_free (stage);
      more = care->told (i + 1, stages->len, care->data);
    }
  set_side_by_side (sheet, blocks, block_of);
  *ret_look = look;
  g_free (block_of);
  g_array_unref (blocks);
  g_ptr_array_unref (stages);
  return more;
}
