/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How the drawing may differ from the real board. */
#include "verdict/modes.h"

#include "verdict/assumptions.h"

#include <math.h>

#define MOST_NETS_FOR_ALL_PAIRS 25

MlHypothesis
ml_modes_new_slip (MlFaultKind kind, int part, double weight)
{
  MlHypothesis own = { .explains = ML_EXPLAINS_DRAWING, .twin = -1, .prior = weight };

  own.fault = (MlFault){ .part = part, .kind = kind, .net_a = -1, .net_b = -1, .size = NAN, .size_low = NAN, .size_high = NAN };
  own.cells = g_new (MlCell, 1);
  own.cells[0] = (MlCell){ NAN, 0, 1 };
  own.n_cells = 1;
  return own;
}

/* The orders of a three-pin part's pins other than the drawn one, as rings of pins: three exchanges and two rotations. */
static void
list_pin_slips (GArray *list, const MlModel *model)
{
  static const int rings[5][3] = { { 0, 1, -1 }, { 0, 2, -1 }, { 1, 2, -1 }, { 0, 1, 2 }, { 0, 2, 1 } };

  for (guint i = 0; i < model->board->n_parts; i++)
    {
      const MlNodalType *type = ml_model_type (model, i);

      if (!type || model->removed[i] || ml_nodal_type_n_pins (type) != 3 || model->board->parts[i].n_pins != 3)
        continue;
      for (guint k = 0; k < G_N_ELEMENTS (rings); k++)
        {
          MlHypothesis own = ml_modes_new_slip (ML_FAULT_PINS_EXCHANGED, i, 1);

          for (guint p = 0; p < 3 && rings[k][p] >= 0; p++)
            own.fault.pins[own.fault.n_pins++] = rings[k][p];
          g_array_append_val (list, own);
        }
    }
}

static void
list_turned_slips (GArray *list, const MlModel *model)
{
  for (guint i = 0; i < model->board->n_parts; i++)
    {
      const MlNodalType *type = ml_model_type (model, i);

      if (type && !model->removed[i] && model->board->parts[i].kind->polar && model->board->parts[i].kind->kind != ML_KIND_CAPACITOR
          && ml_nodal_type_n_pins (type) == 2)
        {
          MlHypothesis own = ml_modes_new_slip (ML_FAULT_DRAWN_REVERSED, i, 1);
          g_array_append_val (list, own);
        }
    }
}

static gboolean
share_a_part (const MlBoard *board, int net_a, int net_b)
{
  for (guint i = 0; i < board->n_parts; i++)
    {
      gboolean on_a = FALSE, on_b = FALSE;

      for (guint p = 0; p < board->parts[i].n_pins; p++)
        {
          on_a |= board->parts[i].pins[p].net == net_a;
          on_b |= board->parts[i].pins[p].net == net_b;
        }
      if (on_a && on_b)
        return TRUE;
    }
  return FALSE;
}

/* Any two nets may be one; on large boards only those that some part joins. */
static void
list_link_slips (GArray *list, const MlModel *model)
{
  const MlBoard *board = model->board;

  for (guint a = 0; a < board->n_nets; a++)
    for (guint b = a + 1; b < board->n_nets; b++)
      {
        gboolean across = share_a_part (board, a, b);

        if (board->n_nets <= MOST_NETS_FOR_ALL_PAIRS || across)
          {
            /* Across a part it reads as that part shorted, which somebody who drew the part would rather have. */
            MlHypothesis own = ml_modes_new_slip (ML_FAULT_MISSING_LINK, -1, across ? ml_assumption ("slip.across") : 1);
            own.fault.net_a = a;
            own.fault.net_b = b;
            g_array_append_val (list, own);
          }
      }
}

static guint
pins_on (const MlModel *model, int net)
{
  guint n = 0;

  for (guint i = 0; i < model->board->n_parts; i++)
    for (guint p = 0; p < model->board->parts[i].n_pins; p++)
      n += model->board->parts[i].pins[p].net == net && model->pins[i][p].device >= 0;
  return n;
}

/* One pin that is not on the net it was drawn on. */
static void
list_split_slips (GArray *list, const MlModel *model)
{
  const MlBoard *board = model->board;

  for (guint i = 0; i < board->n_parts; i++)
    for (guint p = 0; p < board->parts[i].n_pins; p++)
      {
        int net = board->parts[i].pins[p].net;
        MlHypothesis own;

        if (net < 0 || model->pins[i][p].device < 0 || pins_on (model, net) < 2)
          continue;
        own = ml_modes_new_slip (ML_FAULT_EXTRA_LINK, -1, 1);
        own.fault.net_a = net;
        own.fault.cut_parts[0] = i;
        own.fault.cut_pins[0] = p;
        own.fault.n_cut = 1;
        g_array_append_val (list, own);
      }
}

/* Each class of slips has its share of the prior, by weight within the class. */
void
ml_modes_list_slips (GArray *list, const MlModel *model)
{
  static const struct
  {
    void (*lister) (GArray *list, const MlModel *model);
    const char *share;
  } classes[] = { { list_pin_slips, "slip.pins" }, { list_turned_slips, "slip.turned" }, { list_link_slips, "slip.link" }, { list_split_slips, "slip.split" } };

  for (guint i = 0; i < G_N_ELEMENTS (classes); i++)
    {
      guint first = list->len;
      double total = 0, prior = ml_assumption ("prior.slips") * ml_assumption (classes[i].share);

      classes[i].lister (list, model);
      for (guint k = first; k < list->len; k++)
        total += g_array_index (list, MlHypothesis, k).prior;
      for (guint k = first; k < list->len; k++)
        g_array_index (list, MlHypothesis, k).prior *= prior / total;
    }
}

/* Pins drawn, as a share of those on a board of usual size; at most all. */
static double
drawn_share (const MlModel *model)
{
  double n = 0;

  for (guint i = 0; i < model->board->n_parts; i++)
    for (guint p = 0; p < model->board->parts[i].n_pins; p++)
      n += model->board->parts[i].pins[p].net >= 0;
  return MIN (n / ml_assumption ("slip.net-pins"), 1);
}

/* What is looked at late is part of what the misfit stands for until then, and takes its prior from there: the more there is to draw, the
 * more of it. */
void
ml_modes_list_late_slips (GArray *list, const MlModel *model)
{
  guint first = list->len;
  double total = 0, prior = ml_assumption ("prior.misfit") * ml_assumption ("slip.net") * drawn_share (model);

  ml_modes_list_wrong_nets (list, model);
  for (guint k = first; k < list->len; k++)
    total += g_array_index (list, MlHypothesis, k).prior;
  for (guint k = first; k < list->len; k++)
    g_array_index (list, MlHypothesis, k).prior *= prior / total;
}
