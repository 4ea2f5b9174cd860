/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Pins drawn on the wrong net: which ones are thought of, and how likely each is beside the others. */
#include "verdict/modes.h"

#include "verdict/assumptions.h"

#include <math.h>

/* What is known of each pair of nets, [a * n_nets + b]. */
typedef struct
{
  const MlModel *model;
  guint n_nets;
  guint8 *known;
} Nets;

enum { SHARE_A_PART = 1, NEAR = 2 };

static void
know (Nets *nets, int a, int b, guint8 what)
{
  if (a < 0 || b < 0)
    return;
  nets->known[a * (int) nets->n_nets + b] |= what;
  nets->known[b * (int) nets->n_nets + a] |= what;
}

static void
know_nets (Nets *nets)
{
  const MlBoard *board = nets->model->board;

  for (guint i = 0; i < board->n_parts; i++)
    for (guint p = 0; p < board->parts[i].n_pins; p++)
      for (guint q = 0; q < p; q++)
        know (nets, board->parts[i].pins[p].net, board->parts[i].pins[q].net, SHARE_A_PART);
  for (guint i = 0; i < board->n_nears; i++)
    know (nets, board->nears[i].net_a, board->nears[i].net_b, NEAR);
}

/* Pads that adjoin: no farther than twice as far as the nearest one of another net. */
static void
know_pads (Nets *nets, const MlPicture *picture)
{
  const MlBoard *board = nets->model->board;

  for (guint i = 0; i < picture->n_pads; i++)
    {
      int own = ml_modes_net_of_pad (board, &picture->pads[i]), other;
      double nearest = INFINITY;

      for (guint pass = 0; own >= 0 && pass < 2; pass++)
        for (guint k = 0; k < picture->n_pads; k++)
          {
            double far = hypot (picture->pads[k].x_px - picture->pads[i].x_px, picture->pads[k].y_px - picture->pads[i].y_px);

            other = ml_modes_net_of_pad (board, &picture->pads[k]);
            if (other < 0 || other == own)
              continue;
            if (pass == 0)
              nearest = MIN (nearest, far);
            else if (far <= 2 * nearest)
              know (nets, own, other, NEAR);
          }
    }
}

/* What the beeper said of this pin: joined to another pin of its drawn net, or not joined to one of that net. */
static gboolean
was_heard (const MlBoard *board, int part, int pin, int net, gboolean joined)
{
  for (guint i = 0; i < board->n_beeps; i++)
    {
      const MlBeep *beep = &board->beeps[i];

      if (beep->joined == joined
          && ((beep->part_a == part && beep->pin_a == pin && board->parts[beep->part_b].pins[beep->pin_b].net == net)
              || (beep->part_b == part && beep->pin_b == pin && board->parts[beep->part_a].pins[beep->pin_a].net == net)))
        return TRUE;
    }
  return FALSE;
}

/* With both pins of a part on one net it is as good as not there, which the slip of a missing connection covers. */
static gboolean
is_own_end (const MlPart *part, guint pin, int net)
{
  return part->n_pins == 2 && part->pins[1 - pin].net == net;
}

/* Nobody builds a part with both ends on one net: one of them was drawn wrongly. */
static gboolean
ends_meet (const MlPart *part)
{
  gboolean regulator = part->kind->kind == ML_KIND_REGULATOR;

  for (guint p = 0; p < part->n_pins && (regulator || part->n_pins == 2); p++)
    for (guint q = 0; q < p; q++)
      if (part->pins[p].net >= 0 && part->pins[p].net == part->pins[q].net)
        return TRUE;
  return FALSE;
}

static double
weight_of (const Nets *nets, guint part, guint pin, int net)
{
  const MlBoard *board = nets->model->board;
  int drawn = board->parts[part].pins[pin].net;
  double weight = 1;

  if (net == drawn || is_own_end (&board->parts[part], pin, net) || was_heard (board, (int) part, (int) pin, net, FALSE))
    return 0;
  if (nets->known[drawn * (int) nets->n_nets + net] & NEAR)
    weight *= ml_assumption ("slip.near");
  if (ends_meet (&board->parts[part]))
    weight *= ml_assumption ("slip.ends-meet");
  if (was_heard (board, (int) part, (int) pin, drawn, TRUE))
    weight *= ml_assumption ("slip.heard");
  return weight;
}

static void
list_pin (const Nets *nets, GArray *list, guint part, guint pin, gboolean all)
{
  int drawn = nets->model->board->parts[part].pins[pin].net;

  for (int net = 0; net < (int) nets->n_nets; net++)
    {
      double weight = all || nets->known[drawn * (int) nets->n_nets + net] ? weight_of (nets, part, pin, net) : 0;
      MlHypothesis own;

      if (weight <= 0)
        continue;
      own = ml_modes_new_slip (ML_FAULT_WRONG_NET, (int) part, weight);
      own.late = TRUE;
      own.fault.pins[own.fault.n_pins++] = (int) pin;
      own.fault.net_a = net;
      own.fault.net_b = drawn;
      g_array_append_val (list, own);
    }
}

/* On small boards every net, on larger ones those that some part joins with the drawn one and its neighbours; on the largest nothing: there
 * they would be more than all else together. */
void
ml_modes_list_wrong_nets (GArray *list, const MlModel *model)
{
  const MlBoard *board = model->board;
  Nets nets = { model, board->n_nets, NULL };
  guint first = list->len, most = (guint) ml_assumption ("slip.most-nets");
  gboolean all = board->n_nets <= (guint) ml_assumption ("slip.all-nets");

  if (board->n_nets > most) /* nearly each of them has a pin that may be elsewhere */
    return;
  nets.known = g_new0 (guint8, MAX (board->n_nets * board->n_nets, 1));
  know_nets (&nets);
  for (guint i = 0; i < board->n_pictures; i++)
    know_pads (&nets, &board->pictures[i]);
  for (guint i = 0; i < board->n_parts && list->len - first <= most; i++)
    for (guint p = 0; p < board->parts[i].n_pins && !model->removed[i] && list->len - first <= most; p++)
      if (board->parts[i].pins[p].net >= 0 && model->pins[i][p].device >= 0)
        list_pin (&nets, list, i, p, all);
  if (list->len - first > most)
    g_array_set_size (list, first);
  g_free (nets.known);
}
