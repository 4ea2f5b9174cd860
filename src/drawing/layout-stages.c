/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/layout-stages.h"

#include <math.h>
#include <string.h>

#define PARTS_OF_A_STAGE 70
#define BETWEEN 8      /* g between stages: wires and names */
#define WIDER 1.5      /* a sheet's width by its height */
#define BESIDE 80      /* g of raster round a stage */

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
next_stage (Grouping *grouping)
{
  GPtrArray *stage = g_ptr_array_new ();
  guint n = 0;
  int next;

  memset (grouping->strength, 0, sizeof *grouping->strength * grouping->kit->pieces->len);
  while (n < PARTS_OF_A_STAGE && (next = next_piece (grouping)) >= 0)
    {
      take (grouping, (guint) next, stage);
      n += n_parts_of (piece_at (grouping, (guint) next));
    }
  return stage;
}

/* Of GPtrArray of MlPiece, borrowed. */
static GPtrArray *
stages_of (const MlKit *kit)
{
  Grouping grouping = { kit, g_new0 (guint8, MAX (kit->pieces->len, 1)), g_new0 (double, MAX (kit->pieces->len, 1)),
                        g_new0 (GArray *, MAX (kit->circuit->n_nets, 1)) };
  GPtrArray *stages = g_ptr_array_new_with_free_func ((GDestroyNotify) g_ptr_array_unref), *stage;
  guint i;

  list_pieces_on (&grouping);
  while ((stage = next_stage (&grouping))->len > 0)
    g_ptr_array_add (stages, stage);
  g_ptr_array_unref (stage);
  for (i = 0; i < kit->circuit->n_nets; i++)
    g_clear_pointer (&grouping.pieces_on[i], g_array_unref);
  g_free (grouping.pieces_on);
  g_free (grouping.strength);
  g_free (grouping.taken);
  return stages;
}

/* ---- stages side by side, as words in lines ---- */

typedef struct { int width, height; } Block;
typedef struct { int x, y, below, width; } Line;

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

static int
width_of_lines (const MlSheet *sheet, const GArray *blocks)
{
  double area = 0;
  int widest = 0;
  guint i;

  for (i = 0; i < blocks->len; i++)
    {
      const Block *block = &g_array_index (blocks, Block, i);
      area += (double) (block->width + BETWEEN) * (block->height + BETWEEN);
      widest = MAX (widest, block->width);
    }
  return MIN (MAX ((int) sqrt (WIDER * area), widest), sheet->width - 2 * BESIDE);
}

/* Each stage stands at (0,0); they are set beside each other, and below where the line is full. */
static void
set_in_lines (MlSheet *sheet, const GArray *blocks, const int *block_of)
{
  Line line = { BESIDE, BESIDE, BESIDE, width_of_lines (sheet, blocks) };
  guint i, k;

  for (i = 0; i < blocks->len; i++)
    {
      const Block *block = &g_array_index (blocks, Block, i);
      if (line.x > BESIDE && line.x + block->width > BESIDE + line.width)
        {
          line.x = BESIDE;
          line.y = line.below + BETWEEN;
        }
      for (k = 0; k < sheet->n; k++)
        if (block_of[k] == (int) i)
          {
            sheet->spots[k].x += line.x;
            sheet->spots[k].y += line.y;
          }
      line.x += block->width + BETWEEN;
      line.below = MAX (line.below, line.y + block->height);
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

gboolean
ml_stages_place (MlSheet *sheet, gboolean (*told) (guint done, guint n_stages, gpointer data), gpointer data)
{
  GPtrArray *stages = stages_of (sheet->kit);
  GArray *blocks = g_array_new (FALSE, FALSE, sizeof (Block));
  int *block_of = g_new (int, MAX (sheet->n, 1));
  gboolean more = TRUE;
  guint i;

  for (i = 0; i < sheet->n; i++)
    block_of[i] = -1;
  for (i = 0; i < stages->len && more; i++)
    {
      GPtrArray *pieces = g_ptr_array_index (stages, i);
      MlSheet *stage = ml_sheet_new (sheet->kit, pieces, i + 1, span_of (pieces));
      MlCells hull;
      Block block;
      ml_sheet_insert_all (stage);
      hull = ml_sheet_hull (stage, -1);
      block = (Block){ hull.x1 - hull.x0, hull.y1 - hull.y0 };
      g_array_append_val (blocks, block);
      ml_sheet_take_places (sheet, stage, -hull.x0, -hull.y0);
      mark_block (sheet, block_of, (int) i);
      ml_sheet_free (stage);
      more = told (i + 1, stages->len, data);
    }
  set_in_lines (sheet, blocks, block_of);
  g_free (block_of);
  g_array_unref (blocks);
  g_ptr_array_unref (stages);
  return more;
}
