/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Faults that are no part's: nets joined by stray solder or dirt where their copper lies close together, and broken tracks that cut off
 * more than one pin (one pin alone reads as that pin open). */
#include "verdict/modes.h"

#include "verdict/assumptions.h"

#include <math.h>

static MlHypothesis
new_fault (MlFaultKind kind, int net_a, double weight)
{
  MlHypothesis own = { .explains = ML_EXPLAINS_FAULT, .twin = -1, .prior = weight, .n_cells = 1 };

  own.fault = (MlFault){ .part = -1, .kind = kind, .net_a = net_a, .net_b = -1, .size = NAN, .size_low = NAN, .size_high = NAN };
  own.cells = g_new (MlCell, 1);
  own.cells[0] = (MlCell){ NAN, 0, 1 };
  return own;
}

/* ---- stray links ---- */

static MlHypothesis *
find_link (GArray *list, guint first, int a, int b)
{
  for (guint i = first; i < list->len; i++)
    {
      MlHypothesis *own = &g_array_index (list, MlHypothesis, i);
      if (own->fault.net_a == a && own->fault.net_b == b)
        return own;
    }
  return NULL;
}

/* A part with two pins between the nets and nothing else: the link reads as that part shorted. */
static gboolean
reads_as_a_short (const MlModel *model, int a, int b)
{
  for (guint i = 0; i < model->board->n_parts; i++)
    {
      const MlPart *part = &model->board->parts[i];
      if (part->n_pins == 2 && model->first_device[i] >= 0
          && ((part->pins[0].net == a && part->pins[1].net == b) || (part->pins[0].net == b && part->pins[1].net == a)))
        return TRUE;
    }
  return FALSE;
}

/* The likeliest source of a pair counts. */
static void
add_link (GArray *list, guint first, int net_a, int net_b, double weight)
{
  int a = MIN (net_a, net_b), b = MAX (net_a, net_b);
  MlHypothesis *known = find_link (list, first, a, b);
  MlHypothesis own;

  if (a < 0 || a == b || weight <= 0)
    return;
  if (known)
    {
      known->prior = MAX (known->prior, weight);
      return;
    }
  own = new_fault (ML_FAULT_STRAY_LINK, a, weight);
  own.fault.net_b = b;
  own.fault.size_in = ML_SIZE_OHM;
  own.cells[0] = (MlCell){ ml_assumption ("size.short-ohm"), ml_assumption ("size.short-spread"), 1 };
  g_array_append_val (list, own);
}

/* Pins in a row, of what is known as a row of pins; those of other kinds lie nobody knows how, and their faults have shorts between any two. */
static void
add_rows (GArray *list, const MlModel *model, guint first)
{
  for (guint i = 0; i < model->board->n_parts; i++)
    {
      const MlPart *part = &model->board->parts[i];
      gboolean row = part->kind->kind == ML_KIND_BLOCK || part->kind->kind == ML_KIND_CONNECTOR;

      for (guint p = 0; row && p + 1 < part->n_pins; p++)
        if (!reads_as_a_short (model, part->pins[p].net, part->pins[p + 1].net))
          add_link (list, first, part->pins[p].net, part->pins[p + 1].net, ml_assumption ("weight.link-row"));
    }
}

int
ml_modes_net_of_pad (const MlBoard *board, const MlPad *pad)
{
  return pad->part >= 0 && pad->pin >= 0 ? board->parts[pad->part].pins[pad->pin].net : -1;
}

static void
add_picture (GArray *list, const MlModel *model, guint first, const MlPicture *picture)
{
  double reach = ml_assumption ("link.reach-mm") * picture->scale_px_per_mm;

  for (guint i = 0; isfinite (reach) && i < picture->n_pads; i++)
    for (guint k = i + 1; k < picture->n_pads; k++)
      {
        const MlPad *a = &picture->pads[i], *b = &picture->pads[k];
        int net_a = ml_modes_net_of_pad (model->board, a), net_b = ml_modes_net_of_pad (model->board, b);

        if (net_a >= 0 && net_b >= 0 && hypot (a->x_px - b->x_px, a->y_px - b->y_px) <= reach && !reads_as_a_short (model, net_a, net_b))
          add_link (list, first, net_a, net_b, ml_assumption ("weight.link-picture"));
      }
}

static void
list_links (GArray *list, const MlModel *model)
{
  const MlBoard *board = model->board;
  guint first = list->len;

  for (guint i = 0; i < board->n_nears; i++)
    add_link (list, first, board->nears[i].net_a, board->nears[i].net_b, ml_assumption ("weight.link-near"));
  for (guint i = 0; i < board->n_pictures; i++)
    add_picture (list, model, first, &board->pictures[i]);
  add_rows (list, model, first);
}

/* ---- broken tracks ---- */

typedef struct { int part, pin; } Place;

/* Pins that a track leads to. A block whose pins may be cut off in pairs could explain anything. */
static guint
pins_on (const MlModel *model, int net, Place *ret_places, guint most)
{
  guint n = 0;

  for (guint i = 0; i < model->board->n_parts; i++)
    for (guint p = 0; p < model->board->parts[i].n_pins; p++)
      if (model->board->parts[i].pins[p].net == net && model->pins[i][p].device >= 0 && !model->removed[i]
          && model->board->parts[i].kind->kind != ML_KIND_BLOCK)
        {
          if (n < most)
            ret_places[n] = (Place){ (int) i, (int) p };
          n++;
        }
  return n;
}

/* Two pins cut off together; a reading of the net is taken where the others are. */
static void
add_pairs (GArray *list, int net, const Place *places, guint n)
{
  for (guint a = 0; a < n; a++)
    for (guint b = a + 1; b < n; b++)
      {
        MlHypothesis own;

        if (places[a].part == places[b].part)
          continue;
        own = new_fault (ML_FAULT_BROKEN_TRACK, net, 1);
        own.fault.n_cut = 2;
        own.fault.cut_parts[0] = places[a].part;
        own.fault.cut_pins[0] = places[a].pin;
        own.fault.cut_parts[1] = places[b].part;
        own.fault.cut_pins[1] = places[b].pin;
        g_array_append_val (list, own);
      }
}

#define MOST_ON_NET 6

/* Where few pins share a net; on larger ones nobody knows which hang together on the board. All tracks together have one weight. */
static void
list_tracks (GArray *list, const MlModel *model)
{
  guint first = list->len, most = (guint) ml_assumption ("track.most");

  for (guint net = 0; net < model->board->n_nets && list->len - first < most; net++)
    {
      Place places[MOST_ON_NET];
      gboolean supplied = ml_board_supplies (model->board, (int) net);
      guint n = pins_on (model, (int) net, places, MOST_ON_NET);

      if (n + supplied >= 4 && n <= MOST_ON_NET)
        add_pairs (list, (int) net, places, n);
    }
  for (guint i = first; i < list->len; i++)
    g_array_index (list, MlHypothesis, i).prior = ml_assumption ("weight.tracks") / (list->len - first);
}

void
ml_modes_list_links (GArray *list, const MlModel *model)
{
  list_links (list, model);
  list_tracks (list, model);
}
