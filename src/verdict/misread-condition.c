/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Slips that spoil a whole condition: the leads of the meter in the wrong sockets, or readings noted under another condition's name.
 * Reading by reading they would look like many slips or like a fault; together they are one. */
#include "verdict/judge-private.h"
#include "verdict/glance.h"
#include "verdict/misread.h"

#include "verdict/assumptions.h"

#include <math.h>
#include <string.h>

#define MOST_IN_FULL 2 /* possibilities that are held against the whole dictionary */

typedef struct
{
  MlConditionSlip what;
  double ln_prior, score;
} Possibility;

/* ---- the readings as they would be then ---- */

/* A supply that the other condition has not may have shown anything within its span. */
static void
move (MlCase *own, MlTaken *taken, int to)
{
  MlReadingPlace place = g_array_index (own->dictionary->places, MlReadingPlace, taken->named);

  if (place.reads == ML_READS_AMPS && (guint) place.supply >= own->job->board->conditions[to].n_supplies)
    taken->variance = taken->class.span * taken->class.span;
  place.condition = to;
  taken->place = ml_dictionary_place (own->dictionary, &place);
}

static gboolean
is_of (const MlConditionSlip *what, const MlReading *reading)
{
  return reading->condition == what->condition || (what->exchanged && reading->condition == what->other);
}

static int
other_condition (const MlConditionSlip *what, const MlReading *reading)
{
  return reading->condition == what->condition ? what->other : what->condition;
}

int
ml_case_condition_of (const MlCase *own, const MlReading *reading)
{
  const MlConditionSlip *what = own->condition_slip;

  return what->slip == ML_SLIP_WRONG_CONDITION && is_of (what, reading) ? other_condition (what, reading) : reading->condition;
}

static GArray *
taken_otherwise (MlCase *own, const MlConditionSlip *what)
{
  GArray *otherwise = g_array_copy (own->taken);

  for (guint i = 0; i < otherwise->len; i++)
    {
      MlTaken *taken = &g_array_index (otherwise, MlTaken, i);
      const MlReading *reading = &own->job->readings[taken->reading];

      if (taken->shown || !is_of (what, reading))
        continue;
      if (what->slip == ML_SLIP_WRONG_CONDITION)
        move (own, taken, other_condition (what, reading));
      else if (reading->reads == ML_READS_VOLTS)
        taken->class.observed = taken->observed = -taken->observed;
    }
  return otherwise;
}

/* ---- listing ---- */

static guint
n_readings_in (const MlCase *own, guint condition, gboolean volts)
{
  guint n = 0;

  for (guint i = 0; i < own->taken->len; i++)
    {
      const MlTaken *taken = &g_array_index (own->taken, MlTaken, i);
      const MlReading *reading = &own->job->readings[taken->reading];
      n += reading->condition == (int) condition && !taken->shown && (!volts || reading->reads == ML_READS_VOLTS);
    }
  return n;
}

static void
add_possibility (GArray *list, MlSlip slip, guint condition, int other, gboolean exchanged, const char *prior)
{
  Possibility own = { .what = { slip, (int) condition, other, exchanged, 0 }, .ln_prior = log (ml_assumption (prior)) };

  g_array_append_val (list, own);
}

static gboolean
has_source (const MlBoard *board, guint condition)
{
  for (guint i = 0; i < board->n_parts; i++)
    if (board->parts[i].kind->kind == ML_KIND_BATTERY)
      return TRUE;
  return board->conditions[condition].n_supplies > 0;
}

/* More than a capacitor's leftover, which is what a board without any supply shows at most. */
static gboolean
shows_power (const MlCase *own, guint condition)
{
  for (guint i = 0; i < own->taken->len; i++)
    {
      const MlTaken *taken = &g_array_index (own->taken, MlTaken, i);
      const MlReading *reading = &own->job->readings[taken->reading];

      if (reading->condition == (int) condition && !taken->shown
          && ((reading->reads == ML_READS_VOLTS && fabs (taken->observed) > ml_assumption ("misread.dead-volts"))
              || (reading->reads == ML_READS_AMPS && fabs (taken->observed) > own->figures.amps_a)))
        return TRUE;
    }
  return FALSE;
}

/* Whether what was read in one condition can have been read in the other. */
static gboolean
may_be_of (const MlCase *own, guint condition, guint other)
{
  return has_source (own->job->board, other) || !shows_power (own, condition);
}

/* One reading is no condition: from two on. */
static GArray *
list_possibilities (const MlCase *own)
{
  const MlBoard *board = own->job->board;
  GArray *list = g_array_new (FALSE, TRUE, sizeof (Possibility));

  for (guint a = 0; a < board->n_conditions; a++)
    {
      guint n = n_readings_in (own, a, FALSE);

      if (n_readings_in (own, a, TRUE) >= 2)
        add_possibility (list, ML_SLIP_SWAPPED, a, -1, FALSE, "misread.swapped-condition");
      for (guint b = 0; b < board->n_conditions && n >= 2; b++)
        if (b != a && own->dictionary->model->conditions[b].solver && may_be_of (own, a, b))
          {
            guint other = n_readings_in (own, b, FALSE);
            if (other && b > a && may_be_of (own, b, a))
              add_possibility (list, ML_SLIP_WRONG_CONDITION, a, (int) b, TRUE, "misread.exchanged-conditions");
            if (!other)
              add_possibility (list, ML_SLIP_WRONG_CONDITION, a, (int) b, FALSE, "misread.moved-condition");
          }
    }
  return list;
}

/* ---- weighing ---- */

/* The sound board, every reading blunted: most of what a faulty board shows is what a sound one does. */
static double
blunt_score (MlCase *own)
{
  g_autofree double *extra = ml_case_blunted (own, ml_assumption ("misread.screen-volts"), ml_assumption ("misread.screen-share"));
  double best = -INFINITY;

  for (guint node = 0; node < own->dictionary->model->n_nodes; node++)
    {
      MlEvidence evidence;

      if (!ml_case_weigh (own, own->dictionary->expansions[node], NULL, extra, &evidence))
        continue;
      best = MAX (best, evidence.ln);
      ml_evidence_clear (&evidence);
    }
  return best;
}

static void
screen (MlCase *own, Possibility *possibility, double as_named)
{
  GArray *named = own->taken;

  own->taken = taken_otherwise (own, &possibility->what);
  possibility->score = blunt_score (own) - as_named + possibility->ln_prior;
  g_array_unref (own->taken);
  own->taken = named;
}

static gint
best_first (gconstpointer a, gconstpointer b)
{
  const Possibility *x = a, *y = b;

  if (x->score != y->score)
    return x->score < y->score ? 1 : -1;
  if (x->what.condition != y->what.condition)
    return x->what.condition - y->what.condition;
  return x->what.other - y->what.other;
}

double
ml_case_ln_total (const MlCase *own)
{
  double total = own->misfit_ln + log (ml_case_misfit_prior (own));

  for (guint i = 0; i < own->dictionary->n_items; i++)
    total = ml_ln_add (total, own->items[i].ln
                                + log (ml_dictionary_hypothesis (own->dictionary, i)->prior * own->dictionary->items[i].share));
  return total;
}

/* In full: every hypothesis, the readings taken that way. Keeps it when it is likelier than not. */
static gboolean
try_in_full (MlCase *own, const Possibility *possibility, double as_named, GCancellable *cancellable, GError **error)
{
  GArray *named = own->taken;
  g_autofree MlWeighed *items = g_memdup2 (own->items, own->dictionary->n_items * sizeof *items);
  double misfit_ln = own->misfit_ln, ln;

  own->taken = taken_otherwise (own, &possibility->what);
  if (!ml_case_fill (own, cancellable, error))
    {
      g_array_unref (named);
      return FALSE;
    }
  ln = ml_case_ln_total (own) + possibility->ln_prior;
  if (ln > as_named)
    {
      *own->condition_slip = possibility->what;
      own->condition_slip->probability = 1 / (1 + exp (as_named - ln));
      g_array_unref (named);
      return TRUE;
    }
  g_array_unref (own->taken);
  own->taken = named;
  memcpy (own->items, items, own->dictionary->n_items * sizeof *items);
  own->misfit_ln = misfit_ln;
  return TRUE;
}

gboolean
ml_case_misread_conditions (MlCase *own, GCancellable *cancellable, GError **error)
{
  g_autoptr (GArray) list = list_possibilities (own);
  double blunt, as_named;

  if (!list->len)
    return TRUE;
  blunt = blunt_score (own);
  as_named = ml_case_ln_total (own);
  for (guint i = 0; i < list->len; i++)
    screen (own, &g_array_index (list, Possibility, i), blunt);
  g_array_sort (list, best_first);
  for (guint i = 0; i < MIN (list->len, MOST_IN_FULL) && own->condition_slip->slip == ML_SLIP_NONE; i++)
    {
      const Possibility *possibility = &g_array_index (list, Possibility, i);

      if (possibility->score > 0 && !try_in_full (own, possibility, as_named, cancellable, error))
        return FALSE;
    }
  if (own->condition_slip->slip != ML_SLIP_NONE)
    ml_case_update (own);
  return TRUE;
}

/* ---- beside a fault ---- */

/* By the dictionary's voltages alone: how well an item goes with the readings, none of which may cost more than rough.most. */
static double
rough_ln (const MlCase *own, guint item)
{
  const double most = ml_assumption ("rough.most"), volts = ml_assumption ("reading.enlarged-volts"), share = ml_assumption ("reading.enlarged-share");
  double sum = 0;

  for (guint i = 0; i < own->taken->len; i++)
    {
      const MlTaken *taken = &g_array_index (own->taken, MlTaken, i);
      const double floor = g_array_index (own->dictionary->places, MlReadingPlace, taken->place).reads == ML_READS_AMPS ? own->figures.amps_a : volts;
      const double off = taken->observed - ml_dictionary_rough_value (own->dictionary, item, taken->place), spread = hypot (floor, share * taken->observed);

      sum -= isfinite (off) ? MIN (most, off * off / (2 * spread * spread)) : ml_assumption ("rough.unknown");
    }
  return sum;
}

/* ln of how well anything in the dictionary goes with the readings, by that rough look, the misfit apart: where the drawing is wrong, conditions cannot
 * be told. */
static double
rough_total (const MlCase *own)
{
  double ln = -INFINITY;

  for (guint i = 0; i < own->dictionary->n_early; i++)
    if (!ml_case_same_as_twin (own, i))
      ln = ml_ln_add (ln, rough_ln (own, i) + log (ml_dictionary_hypothesis (own->dictionary, i)->prior * own->dictionary->items[i].share));
  return ln;
}

/* How little of the readings anything explains with the board as drawn. */
static gboolean
is_in_doubt (MlCase *own)
{
  return own->misfit_probability + own->drawing_probability >= ml_assumption ("misread.condition-doubt")
         || ml_case_fit_tail (own, ml_case_expansion (own, own->best_item), NULL, own->taken->len) < ml_assumption ("gate.probability");
}

gboolean
ml_case_doubt_conditions (MlCase *own, MlConditionSlip *ret_what, double *ret_ln_prior, GCancellable *cancellable, GError **error)
{
  g_autoptr (GArray) list = is_in_doubt (own) ? list_possibilities (own) : NULL;
  GArray *named = own->taken;
  double as_named, most = 0;

  ret_what->slip = ML_SLIP_NONE;
  if (!list || !list->len || own->condition_slip->slip != ML_SLIP_NONE)
    return TRUE;
  as_named = rough_total (own);
  for (guint i = 0; i < list->len; i++)
    {
      const Possibility *possibility = &g_array_index (list, Possibility, i);
      double more;

      if (g_cancellable_set_error_if_cancelled (cancellable, error))
        return FALSE;
      own->taken = taken_otherwise (own, &possibility->what);
      more = rough_total (own) - as_named + possibility->ln_prior;
      g_array_unref (own->taken);
      own->taken = named;
      if (more > most)
        {
          most = more;
          *ret_what = possibility->what;
          *ret_ln_prior = possibility->ln_prior;
        }
    }
  return TRUE;
}

void
ml_case_take_otherwise (MlCase *own, const MlConditionSlip *what)
{
  GArray *otherwise = taken_otherwise (own, what);

  g_array_unref (own->taken);
  own->taken = otherwise;
  *own->condition_slip = *what;
}

/* ---- words ---- */

char *
ml_misread_say_condition (const MlCase *own)
{
  const MlConditionSlip *what = own->condition_slip;
  const MlCondition *conditions = own->job->board->conditions;

  if (what->slip == ML_SLIP_NONE)
    return NULL;
  if (what->slip == ML_SLIP_SWAPPED)
    return g_strdup_printf ("All readings in condition %s fit only with red and black exchanged: leads in the wrong sockets? They are judged as if so.",
                            conditions[what->condition].name);
  if (what->exchanged)
    return g_strdup_printf ("The readings in conditions %s and %s fit only under each other's name: mixed up? They are judged as if so.",
                            conditions[what->condition].name, conditions[what->other].name);
  return g_strdup_printf ("The readings in condition %s fit only as readings in condition %s: was it set? They are judged as if so.",
                          conditions[what->condition].name, conditions[what->other].name);
}
