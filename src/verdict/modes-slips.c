/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How the drawing may differ from the real board. */
#include "verdict/modes.h"

#include "verdict/assumptions.h"
#include "verdict/wrong-part.h"

#include <math.h>

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

/* Parts and pins by net; a net's pins stand together, in the order of the board. */
typedef struct { guint part, pin; } Place;
typedef struct
{
  const MlBoard *board;
  Place *places;
  guint *first;    /* [nets + 1] */
} PinsOfNets;

static void
pins_of_nets_init (PinsOfNets *own, const MlBoard *board)
{
  g_autofree guint *next = g_new0 (guint, board->n_nets + 1);

  *own = (PinsOfNets){ .board = board, .first = g_new0 (guint, board->n_nets + 1) };
  for (guint i = 0; i < board->n_parts; i++)
    for (guint p = 0; p < board->parts[i].n_pins; p++)
      if (board->parts[i].pins[p].net >= 0)
        own->first[board->parts[i].pins[p].net + 1]++;
  for (guint net = 0; net < board->n_nets; net++)
    next[net + 1] = own->first[net + 1] += own->first[net];
  own->places = g_new (Place, MAX (own->first[board->n_nets], 1));
  for (guint i = 0; i < board->n_parts; i++)
    for (guint p = 0; p < board->parts[i].n_pins; p++)
      if (board->parts[i].pins[p].net >= 0)
        own->places[next[board->parts[i].pins[p].net]++] = (Place){ i, p };
}

static void
pins_of_nets_clear (PinsOfNets *own)
{
  g_free (own->places);
  g_free (own->first);
}

/* Marks, with a + 1, each net that shares a part with net a. FALSE for `chips`: not through parts with any number of pins. */
static void
mark_sharing (const PinsOfNets *own, guint a, gboolean chips, guint *marks)
{
  for (guint k = own->first[a]; k < own->first[a + 1]; k++)
    {
      const MlPart *part = &own->board->parts[own->places[k].part];

      for (guint p = 0; (chips || !part->kind->any_pins) && p < part->n_pins; p++)
        if (part->pins[p].net >= 0)
          marks[part->pins[p].net] = a + 1;
    }
}

static void
add_link_slip (GArray *list, guint a, guint b, gboolean across)
{
  /* Across a part it reads as that part shorted, which somebody who drew the part would rather have. */
  MlHypothesis own = ml_modes_new_slip (ML_FAULT_MISSING_LINK, -1, across ? ml_assumption ("slip.across") : 1);

  own.fault.net_a = (int) a;
  own.fault.net_b = (int) b;
  g_array_append_val (list, own);
}

/* FALSE: there are too many to be told apart. */
static gboolean
add_link_slips (GArray *list, const PinsOfNets *pins, gboolean chips)
{
  guint n_nets = pins->board->n_nets, first = list->len, most = (guint) ml_assumption ("slip.most-nets");
  gboolean all = n_nets <= ml_assumption ("slip.all-nets");
  g_autofree guint *marks = g_new0 (guint, MAX (n_nets, 1));

  for (guint a = 0; a < n_nets && (!chips || list->len - first <= most); a++)
    {
      mark_sharing (pins, a, chips, marks);
      for (guint b = a + 1; b < n_nets; b++)
        if (all || marks[b] == a + 1)
          add_link_slip (list, a, b, marks[b] == a + 1);
    }
  return list->len - first <= most;
}

/* Any two nets may be one; on large boards only those that some part joins, and where a large chip joins very many, without it. */
static void
list_link_slips (GArray *list, const MlModel *model)
{
  guint first = list->len;
  PinsOfNets pins;

  pins_of_nets_init (&pins, model->board);
  if (!add_link_slips (list, &pins, TRUE))
    {
      g_array_set_size (list, first);
      add_link_slips (list, &pins, FALSE);
    }
  pins_of_nets_clear (&pins);
}

static guint *
count_pins (const MlModel *model)
{
  guint *n = g_new0 (guint, MAX (model->board->n_nets, 1));

  for (guint i = 0; i < model->board->n_parts; i++)
    for (guint p = 0; p < model->board->parts[i].n_pins; p++)
      if (model->board->parts[i].pins[p].net >= 0 && model->pins[i][p].device >= 0)
        n[model->board->parts[i].pins[p].net]++;
  return n;
}

/* One pin that is not on the net it was drawn on. */
static void
list_split_slips (GArray *list, const MlModel *model)
{
  const MlBoard *board = model->board;
  g_autofree guint *n_pins_on = count_pins (model);

  for (guint i = 0; i < board->n_parts; i++)
    for (guint p = 0; p < board->parts[i].n_pins; p++)
      {
        int net = board->parts[i].pins[p].net;
        MlHypothesis own;

        if (net < 0 || model->pins[i][p].device < 0 || n_pins_on[net] < 2)
          continue;
        own = ml_modes_new_slip (ML_FAULT_EXTRA_LINK, -1, 1);
        own.fault.net_a = net;
        own.fault.cut_parts[0] = i;
        own.fault.cut_pins[0] = p;
        own.fault.n_cut = 1;
        g_array_append_val (list, own);
      }
}

/* Not slips of the hand: nobody said which type it is. Each has a prior of its own. */
static void
list_other_types (GArray *list, const MlModel *model)
{
  for (guint i = 0; i < model->board->n_parts; i++)
    {
      MlHypothesis own;

      if (ml_model_type (model, i) && !model->removed[i] && ml_other_type_hypothesis (model, (int) i, &own))
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
  double shares = 0;

  for (guint i = 0; i < G_N_ELEMENTS (classes); i++)
    shares += ml_assumption (classes[i].share);
  for (guint i = 0; i < G_N_ELEMENTS (classes); i++)
    {
      guint first = list->len;
      double total = 0, prior = shares > 0 ? ml_assumption ("prior.slips") * ml_assumption (classes[i].share) / shares : 0;

      classes[i].lister (list, model);
      for (guint k = first; k < list->len; k++)
        total += g_array_index (list, MlHypothesis, k).prior;
      for (guint k = first; k < list->len; k++)
        g_array_index (list, MlHypothesis, k).prior *= prior / total;
    }
  list_other_types (list, model);
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
