/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where somebody is likely to measure next, in the order in which it is worth being ready for: where they are about to, where the verdict
 * suggests it, then every net and every part of the condition at hand, then those of the others. */
#include "verdict/judge-private.h"

#include "verdict/assumptions.h"
#include "verdict/foresee.h"

#include <math.h>

#define TOGETHER 8 /* places looked at per item before a cancel is heard */

typedef struct
{
  MlCase *own;
  GArray *places; /* guint */
} Likely;

static gboolean
is_taken (const MlCase *own, guint place)
{
  guint plain = g_array_index (own->dictionary->places, MlReadingPlace, place).plain;

  for (guint i = 0; i < own->taken->len; i++)
    if (g_array_index (own->dictionary->places, MlReadingPlace, g_array_index (own->taken, MlTaken, i).place).plain == plain)
      return TRUE;
  return FALSE;
}

static void
add_reading (Likely *likely, const MlReading *reading, gboolean shown)
{
  MlReadingPlace place;
  guint index;

  if (!ml_case_find_place (likely->own, reading, shown, &place))
    return;
  index = ml_dictionary_place (likely->own->dictionary, &place);
  for (guint i = 0; i < likely->places->len; i++)
    if (g_array_index (likely->places, guint, i) == index)
      return;
  if (!is_taken (likely->own, index))
    g_array_append_val (likely->places, index);
}

gboolean
ml_case_as_reading (const MlCase *own, const MlLikelyPlace *at, MlReading *ret_reading)
{
  const MlBoard *board = own->job->board;

  *ret_reading = (MlReading){ .condition = at->condition, .reads = at->reads, .red = at->red, .black = at->black, .supply = at->supply, .across = -1,
                              .measured = { .value = at->ohm, .low = at->ohm, .high = at->ohm } };
  return at->condition >= 0 && (guint) at->condition < board->n_conditions && own->dictionary->model->conditions[at->condition].solver
         && (!ml_reading_needs_cold (ret_reading) || ml_condition_is_cold (&board->conditions[at->condition]))
         && (at->reads != ML_READS_AMPS || (at->supply >= 0 && (guint) at->supply < board->conditions[at->condition].n_supplies));
}

static void
add (Likely *likely, const MlLikelyPlace *at)
{
  MlReading reading;

  if (!ml_case_as_reading (likely->own, at, &reading))
    return;
  add_reading (likely, &reading, FALSE);
  if (at->reads == ML_READS_AMPS)
    add_reading (likely, &reading, TRUE);
}

static MlProbe
on_net (int net)
{
  return (MlProbe){ net, -1, -1, FALSE };
}

static void
add_condition (Likely *likely, int c)
{
  const MlBoard *board = likely->own->job->board;
  const MlCondition *condition = &board->conditions[c];
  int reference = board->reference >= 0 || !condition->n_supplies ? board->reference : condition->supplies[0].minus;

  if (!condition->n_supplies)
    return;
  for (guint i = 0; i < board->n_nets && reference >= 0; i++)
    if ((int) i != reference)
      add (likely, &(MlLikelyPlace){ c, ML_READS_VOLTS, on_net ((int) i), on_net (reference), -1, 0 });
  for (guint i = 0; i < board->n_parts; i++)
    {
      const MlPart *part = &board->parts[i];
      int a = part->n_pins == 2 ? part->pins[0].net : -1, b = part->n_pins == 2 ? part->pins[1].net : -1;

      if (a >= 0 && b >= 0 && a != b && a != reference && b != reference)
        add (likely, &(MlLikelyPlace){ c, ML_READS_VOLTS, on_net (a), on_net (b), -1, 0 });
    }
  for (guint s = 0; s < condition->n_supplies; s++)
    add (likely, &(MlLikelyPlace){ c, ML_READS_AMPS, on_net (-1), on_net (-1), (int) s, 0 });
}

/* Those added since, up to TOGETHER of one condition at a time; the list is then empty again. */
static gboolean
foresee (Likely *likely, GCancellable *cancellable, GError **error)
{
  const GArray *all = likely->own->dictionary->places;
  gboolean going = TRUE;

  while (likely->places->len && going)
    {
      guint together[TOGETHER], n = 0;
      int condition = g_array_index (all, MlReadingPlace, g_array_index (likely->places, guint, 0)).condition;

      for (guint i = 0; i < likely->places->len && n < TOGETHER;)
        {
          guint place = g_array_index (likely->places, guint, i);

          if (g_array_index (all, MlReadingPlace, place).condition != condition)
            {
              i++;
              continue;
            }
          together[n++] = place;
          g_array_remove_index (likely->places, i);
        }
      going = ml_case_foresee (likely->own, together, n, cancellable, error);
    }
  return going;
}

static gboolean
foresee_all (Likely *likely, const MlLikelyPlace *asked, guint n_asked, GCancellable *cancellable, GError **error)
{
  int n = (int) likely->own->job->board->n_conditions, at_hand = n_asked ? asked[0].condition : 0;

  for (guint i = 0; i < n_asked; i++)
    add (likely, &asked[i]);
  if (!foresee (likely, cancellable, error))
    return FALSE;
  for (int c = -1; c < n; c++)
    {
      if (c == at_hand || (c < 0 && (at_hand < 0 || at_hand >= n)))
        continue;
      add_condition (likely, c < 0 ? at_hand : c);
      if (!foresee (likely, cancellable, error))
        return FALSE;
    }
  return TRUE;
}

gboolean
ml_judge_foresee (MlJudge *judge, MlJob *job, int unit, guint pass, const MlLikelyPlace *asked, guint n_asked, GCancellable *cancellable,
                  GError **error)
{
  GHashTable *before = ml_assumptions_use (judge->assumed);
  MlDictionary *dictionary = ml_judge_find (judge, job, &unit, &pass, cancellable, error);
  Likely likely = { 0 };
  gboolean done = FALSE;

  if (dictionary)
    {
      likely.own = ml_case_new (dictionary, job, unit, pass);
      likely.places = g_array_new (FALSE, FALSE, sizeof (guint));
      done = foresee_all (&likely, asked, n_asked, cancellable, error);
      g_array_unref (likely.places);
      ml_case_free (likely.own);
    }
  ml_assumptions_use (before);
  return done;
}

/* A leg that must be lifted first takes its time. */
GArray *
ml_verdict_likely (const MlVerdict *verdict)
{
  GArray *likely = g_array_new (FALSE, FALSE, sizeof (MlLikelyPlace));

  for (guint i = 0; i < verdict->n_next; i++)
    {
      const MlNextReading *next = &verdict->next[i];
      MlLikelyPlace at = { next->condition, next->reads, next->red, next->black, next->supply, 0 };

      for (guint k = 0; !next->step && k < (next->reads == ML_READS_OHMS ? next->n_expect : 1); k++)
        {
          at.ohm = next->reads == ML_READS_OHMS ? next->expect[k].value : 0;
          g_array_append_val (likely, at);
        }
    }
  return likely;
}
