/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Readings with one leg of a part lifted off its pad. */
#include "verdict/next-private.h"

#include "verdict/assumptions.h"

#define MOST_LIFTED 4 /* parts */
#define CHIP_PINS 4   /* a part with so many is a chip */

static const MlProbe *
lifted_tip (const MlReadingPlace *place)
{
  return place->red.lead == ML_LEAD_LIFTED ? &place->red : place->black.lead == ML_LEAD_LIFTED ? &place->black : NULL;
}

char *
ml_next_say_step (const Search *search, const MlReadingPlace *place)
{
  const MlProbe *tip = lifted_tip (place);
  const MlPart *part = tip ? &search->own->job->board->parts[tip->part] : NULL;

  return part ? g_strdup_printf ("lift %s.%s", part->name, part->pins[tip->pin].name) : NULL;
}

/* With one leg in the air and the supply off, the meter sees a part with two pins alone: what is wrong elsewhere does not matter. */
gboolean
ml_next_stands_alone (const Search *search, const MlReadingPlace *place, guint i)
{
  const MlProbe *tip = lifted_tip (place);
  const MlFault *fault = &ml_dictionary_hypothesis (search->own->dictionary, search->item[i])->fault;

  return tip && search->own->job->board->parts[tip->part].n_pins == 2 && !search->own->job->board->conditions[place->condition].n_supplies
         && fault->part != tip->part && !fault->n_cut;
}

static gboolean
is_wide (const MlBoard *board, int net)
{
  return net == board->reference || ml_board_supplies (board, net);
}

/* The pad is easier to free of solder away from the wide copper of supply and reference. */
static guint
leg_to_lift (const MlBoard *board, const MlPart *part, guint a, guint b)
{
  return is_wide (board, part->pins[b].net) && !is_wide (board, part->pins[a].net) ? a : b;
}

static void
add_lifted (Search *search, int c, int part, guint a, guint b)
{
  const MlBoard *board = search->own->job->board;
  const MlPart *it = &board->parts[part];
  guint leg = leg_to_lift (board, it, a, b);
  MlProbe tip = { it->pins[leg].net, part, (int) leg, ML_LEAD_LIFTED }, other = ml_next_on_net (it->pins[leg == a ? b : a].net);
  guint before = search->candidates->len;

  if (tip.net < 0 || other.net < 0 || tip.net == other.net)
    return;
  if (board->conditions[c].n_supplies) /* what is left of the drive to the part, on its pad */
    ml_next_add_candidate (search, c, ML_READS_VOLTS, tip, ml_next_on_net (tip.net), -1, "next.effort-across");
  else if (ml_next_is_junction (it->kind->kind) && leg != 0)
    ml_next_add_candidate (search, c, ML_READS_DIODE, other, tip, -1, "next.effort-cold");
  else
    ml_next_add_candidate (search, c, ml_next_is_junction (it->kind->kind) ? ML_READS_DIODE : ML_READS_OHMS, tip, other, -1, "next.effort-cold");
  if (search->candidates->len > before)
    g_array_index (search->candidates, Candidate, before).effort
      += ml_assumption (it->n_pins < CHIP_PINS ? "next.effort-lift" : "next.effort-lift-chip");
}

/* A chip with a leg in the air is not to be powered: what it then draws through its other pins can kill it. */
static gboolean
may_be_lifted (const MlBoard *board, int part, int c)
{
  return board->parts[part].n_pins < CHIP_PINS || !board->conditions[c].n_supplies;
}

/* The leading parts, each between two of its pins: those of its likeliest fault where it has more. */
static void
add_lifted_parts (Search *search, int c)
{
  MlCase *own = search->own;
  g_autofree gboolean *done = g_new0 (gboolean, MAX (own->job->board->n_parts, 1));
  guint n = 0;

  for (guint i = 0; i < search->n && n < MOST_LIFTED; i++)
    {
      const MlHypothesis *hypothesis = ml_dictionary_hypothesis (own->dictionary, search->item[i]);
      const MlFault *fault = &hypothesis->fault;
      gboolean two = fault->part >= 0 && own->job->board->parts[fault->part].n_pins == 2;

      if (hypothesis->explains != ML_EXPLAINS_FAULT || fault->part < 0 || done[fault->part] || (!two && fault->n_pins != 2)
          || own->part_probability[fault->part] < ml_assumption ("next.leading") || !ml_model_type (own->dictionary->model, fault->part)
          || !may_be_lifted (own->job->board, fault->part, c))
        continue;
      done[fault->part] = TRUE;
      n++;
      add_lifted (search, c, fault->part, two ? 0 : (guint) fault->pins[0], two ? 1 : (guint) fault->pins[1]);
    }
}

/* Supply off where the board knows such a condition, else under power. */
void
ml_next_collect_lifted (Search *search)
{
  const MlBoard *board = search->own->job->board;
  gboolean cold = FALSE;

  for (guint c = 0; c < board->n_conditions; c++)
    cold |= ml_condition_is_cold (&board->conditions[c]);
  for (guint c = 0; c < board->n_conditions; c++)
    if (search->own->dictionary->model->conditions[c].solver && cold == ml_condition_is_cold (&board->conditions[c]))
      add_lifted_parts (search, (int) c);
}
