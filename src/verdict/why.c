/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Why an explanation holds, in a technician's words: the readings that convict, and those that only follow from the fault. */
#include "verdict/judge-private.h"

#include "verdict/assumptions.h"
#include "verdict/cold.h"
#include "verdict/misread.h"
#include "verdict/observe.h"
#include "verdict/pairs.h"

#include <math.h>

#define MOST_REASONS 3
#define MOST_CONSEQUENCES 2
#define OVER_ODDNESS 10.0
#define MOST_RUNNING 0.2 /* an explanation whose probability is this far on the side where nothing switches says so */

char *
ml_verdict_say_measured (const MlVerdict *verdict, guint i)
{
  const MlReading *reading = &verdict->job->readings[verdict->readings[i].reading];

  return ml_say_quantity (reading->measured.value, ml_reading_unit (reading->reads));
}

char *
ml_verdict_say_at (const MlVerdict *verdict, guint i)
{
  g_autofree char *place = ml_reading_place (verdict->job, &verdict->job->readings[verdict->readings[i].reading]);

  return g_strconcat (g_str_has_prefix (place, "across ") ? "" : "at ", place, NULL);
}

/* How far a reading lies from what the healthy board would give, in standard deviations: of its parts and of the meter. */
static double
oddness (const MlVerdict *verdict, guint i)
{
  const MlReadingVerdict *own = &verdict->readings[i];
  const MlReading *reading = &verdict->job->readings[own->reading];
  const MlQuantity *measured = &reading->measured;
  double meter = ml_reading_sigma (verdict->job, reading), off = fabs (measured->value - own->healthy) / hypot (own->healthy_sigma, isfinite (meter) ? meter : 0);

  if (ml_cold_is_beyond (reading)) /* where a sound board reads within the scale, but not just below its end */
    off = reading->reads != ML_READS_OHMS ? OVER_ODDNESS : MAX (ml_cold_ln (INFINITY, NULL) - ml_cold_ln (own->healthy, NULL), 0) / ml_assumption ("cold.over-spread");
  if (ml_cold_is_beyond (reading) && !isfinite (own->healthy))
    off = 0;
  return isfinite (off) ? off : 0;
}

gboolean
ml_verdict_is_odd (const MlVerdict *verdict, guint i)
{
  return oddness (verdict, i) > ml_assumption ("word.odd");
}

/* Where an explanation was linearised, NULL for a misfit. */
static MlExpansion *
expansion_of (const MlCase *own, guint id)
{
  for (guint h = 0; h < own->dictionary->hypotheses->len; h++)
    if (own->id_of[h] == id)
      return ml_case_expansion (own, ml_case_best_of (own, h));
  for (guint i = 0; i < own->pairs->len; i++)
    if (g_array_index (own->pairs, MlPair, i).id == id)
      return g_array_index (own->pairs, MlPair, i).at;
  return NULL;
}

/* The reading under this explanation, fitted to all readings. */
static double
under (MlCase *own, const MlExplanation *explanation, int reading)
{
  MlExpansion *at = expansion_of (own, explanation->id);
  double sigma;

  for (guint i = 0; at && i < own->taken->len; i++)
    if (g_array_index (own->taken, MlTaken, i).reading == reading && !g_array_index (own->taken, MlTaken, i).shown)
      {
        double value = ml_case_fitted (own, at, g_array_index (own->taken, MlTaken, i).place, &sigma);
        return own->job->readings[reading].reads == ML_READS_OHMS ? exp (value) : value;
      }
  return NAN;
}

/* ", 4.98 V on spare": the same reading of a good unit; new string, empty when there is none. */
static char *
say_on_good_unit (const MlJob *job, const MlReading *reading)
{
  for (guint u = 0; reading->reads != ML_READS_AMPS && u < job->n_units; u++)
    {
      gboolean swapped = FALSE;
      int other = (int) u != reading->unit && job->units[u].state == ML_UNIT_STATE_GOOD
                    ? ml_job_find_reading (job, (int) u, ml_job_last_pass (job, (int) u), reading->condition, reading->reads, &reading->red,
                                           &reading->black, &swapped)
                    : -1;

      if (other >= 0 && !job->readings[other].measured.over)
        {
          double sign = swapped && reading->reads == ML_READS_VOLTS ? -1 : 1;
          g_autofree char *value = ml_say_quantity (sign * job->readings[other].measured.value, ml_reading_unit (reading->reads));
          return g_strdup_printf (", %s on %s", value, job->units[u].name);
        }
    }
  return g_strdup ("");
}

/* ---- which readings convict, and which only follow ---- */

/* Whether a fault of the explanation lies at that net: the part has a pin on it, or the net is joined or broken. */
static gboolean
lies_at (const MlBoard *board, const MlExplanation *explanation, int net)
{
  for (guint k = 0; k < explanation->n_faults; k++)
    {
      const MlFault *fault = &explanation->faults[k];

      if (net >= 0 && (fault->net_a == net || fault->net_b == net))
        return TRUE;
      if (fault->part >= 0 && ml_part_pin_on (&board->parts[fault->part], net) >= 0)
        return TRUE;
    }
  return FALSE;
}

/* A reading across another part, or where the faulty one has no pin: odd as it is, it is only what the fault does elsewhere. */
static gboolean
is_elsewhere (const MlVerdict *verdict, const MlExplanation *explanation, guint i)
{
  const MlReading *reading = &verdict->job->readings[verdict->readings[i].reading];
  const MlBoard *board = verdict->job->board;

  if (reading->reads == ML_READS_AMPS)
    return FALSE;
  for (guint k = 0; k < explanation->n_faults; k++)
    if (reading->across >= 0 && explanation->faults[k].part == reading->across)
      return FALSE;
  if (reading->across >= 0)
    return TRUE;
  return !lies_at (board, explanation, reading->red.net) && (reading->black.net == board->reference || !lies_at (board, explanation, reading->black.net));
}

/* Whether the explanation gives what was read. */
static gboolean
follows (const MlVerdict *verdict, MlCase *own, const MlExplanation *explanation, guint i)
{
  const MlReading *reading = &verdict->job->readings[verdict->readings[i].reading];
  double faulty = under (own, explanation, verdict->readings[i].reading), off = fabs (reading->measured.value - verdict->readings[i].healthy);

  return isfinite (faulty) && fabs (reading->measured.value - faulty) < 0.25 * off;
}

/* Of a whole condition that was noted under another's name each reading is doubtful, and yet tells what it tells: there. */
static gboolean
tells (const MlVerdict *verdict, const MlCase *own, guint i)
{
  return !verdict->readings[i].doubtful || (own->condition_slip->slip == ML_SLIP_WRONG_CONDITION && verdict->readings[i].slip == ML_SLIP_WRONG_CONDITION);
}

/* The condition that a reading is judged in. */
static const char *
condition_of (const MlCase *own, const MlReading *reading)
{
  return own->job->board->conditions[ml_case_condition_of (own, reading)].name;
}

static int
oddest (const MlVerdict *verdict, const MlCase *own, const gboolean *used)
{
  int found = -1;

  for (guint i = 0; i < verdict->n_readings; i++)
    if (!used[i] && tells (verdict, own, i) && ml_verdict_is_odd (verdict, i) && (found < 0 || oddness (verdict, i) > oddness (verdict, found)))
      found = (int) i;
  return found;
}

/* ---- what speaks against another part ---- */

#define MOST_RIVALS 12

/* The likeliest hypotheses of parts that the explanation does not name; how many. */
static guint
find_rivals (const MlCase *own, const MlExplanation *explanation, guint *ret_hypotheses)
{
  guint n = 0;

  for (guint h = 0; h < own->dictionary->hypotheses->len; h++)
    {
      const MlHypothesis *it = &g_array_index (own->dictionary->hypotheses, MlHypothesis, h);
      gboolean named = FALSE;
      guint at = n;

      for (guint k = 0; k < explanation->n_faults; k++)
        named |= explanation->faults[k].part == it->fault.part;
      if (it->explains != ML_EXPLAINS_FAULT || it->fault.part < 0 || named)
        continue;
      while (at > 0 && own->hypothesis_probability[h] > own->hypothesis_probability[ret_hypotheses[at - 1]])
        at--;
      if (at >= MOST_RIVALS)
        continue;
      n = MIN (n + 1, MOST_RIVALS);
      for (guint k = n - 1; k > at; k--)
        ret_hypotheses[k] = ret_hypotheses[k - 1];
      ret_hypotheses[at] = h;
    }
  return n;
}

/* Whether a rival gives at least half of the odd readings by itself: else nobody would think of it, and what speaks against it says nothing. */
static gboolean
is_tempting (const MlVerdict *verdict, const MlCase *own, guint hypothesis)
{
  guint odd = 0, given = 0, item = ml_case_best_of (own, hypothesis);

  for (guint i = 0; i < verdict->n_readings; i++)
    for (guint taken = 0; ml_verdict_is_odd (verdict, i) && taken < own->taken->len; taken++)
      {
        const MlTaken *it = &g_array_index (own->taken, MlTaken, taken);
        const MlPrediction *there;

        if (it->reading != verdict->readings[i].reading || it->shown)
          continue;
        there = ml_dictionary_predict (own->dictionary, item, it->place);
        odd++;
        given += there->valid
                 && fabs (it->observed - there->value) < 4 * ml_case_spread (own, there, own->job->readings[it->reading].reads);
      }
  return 2 * given >= odd;
}

/* "R3 shorted", "a bad solder joint at Q1's emitter": as it stands behind "with"; new string. */
static char *
say_with (const MlBoard *board, const MlFault *fault)
{
  static const struct { const char *begins, *article; } articles[] = { { "solder joint", "a bad " }, { "worn contact", "a " }, { "stray link", "a " }, { "broken track", "a " },
                                                                       { "wrong part", "a " }, { "output of", "the " } };
  g_autofree char *words = ml_fault_describe (board, fault);

  for (guint i = 0; i < G_N_ELEMENTS (articles); i++)
    if (g_str_has_prefix (words, articles[i].begins))
      return g_strconcat (articles[i].article, words, NULL);
  return g_steal_pointer (&words);
}

/* ", 9.2 V with R3 shorted": the likeliest of other parts that this reading speaks against; new string, empty when there is none. */
static char *
say_against (const MlVerdict *verdict, MlCase *own, const MlExplanation *explanation, guint i)
{
  int index = verdict->readings[i].reading;
  const MlReading *reading = &own->job->readings[index];
  guint rivals[MOST_RIVALS], n = explanation->id == 1 && explanation->explains == ML_EXPLAINS_FAULT ? find_rivals (own, explanation, rivals) : 0;
  double measured = reading->measured.value;

  for (guint taken = 0; n && taken < own->taken->len; taken++)
    for (guint k = 0; g_array_index (own->taken, MlTaken, taken).reading == index && !g_array_index (own->taken, MlTaken, taken).shown && k < n; k++)
      {
        /* As the rival would have it by itself, not bent towards what was read. */
        const MlPrediction *there = ml_dictionary_predict (own->dictionary, ml_case_best_of (own, rivals[k]), g_array_index (own->taken, MlTaken, taken).place);
        double value = there->value, sigma = ml_case_spread (own, there, reading->reads);
        double size = reading->reads == ML_READS_OHMS ? exp (value) : value;

        if (there->valid && fabs (g_array_index (own->taken, MlTaken, taken).observed - value) > 4 * sigma && fabs (size - measured) > 0.05 * fabs (measured)
            && own->hypothesis_probability[rivals[k]] < 0.1 * explanation->probability && is_tempting (verdict, own, rivals[k]))
          {
            g_autofree char *words = say_with (own->job->board, &g_array_index (own->dictionary->hypotheses, MlHypothesis, rivals[k]).fault);
            g_autofree char *other = ml_say_quantity (ml_shown_of (reading->reads, value, INFINITY), ml_reading_unit (reading->reads));
            return g_strdup_printf (", but %s with %s", other, words);
          }
      }
  return g_strdup ("");
}

/* ---- in words ---- */

static char *
say_why (const MlVerdict *verdict, MlCase *own, const MlExplanation *explanation, guint i)
{
  const MlReading *reading = &verdict->job->readings[verdict->readings[i].reading];
  g_autofree char *place = ml_reading_label (own->job, reading);
  g_autofree char *measured = ml_verdict_say_measured (verdict, i);
  g_autofree char *fine = ml_say_quantity (verdict->readings[i].healthy, ml_reading_unit (reading->reads));
  g_autofree char *faulty = ml_say_quantity (under (own, explanation, verdict->readings[i].reading), ml_reading_unit (reading->reads));
  g_autofree char *other = say_on_good_unit (own->job, reading), *against = say_against (verdict, own, explanation, i);

  return g_strdup_printf ("%s reads %s (%s)%s; it would be %s if all were fine, %s with this %s%s", place, measured,
                          condition_of (own, reading), other, fine, faulty,
                          explanation->explains == ML_EXPLAINS_DRAWING ? (explanation->n_faults > 1 ? "slip and this fault" : "slip")
                          : explanation->n_faults > 1                          ? "pair of faults"
                                                                               : "fault",
                          against);
}

/* "Q1", "Q1 and R3", "the link": what a consequence follows from. */
static char *
say_cause (const MlBoard *board, const MlExplanation *explanation)
{
  GString *text = g_string_new (NULL);

  for (guint k = 0; k < explanation->n_faults; k++)
    {
      const MlFault *fault = &explanation->faults[k];
      g_string_append_printf (text, "%s%s", k ? " and " : "", fault->part >= 0 ? board->parts[fault->part].name
                                                               : fault->kind == ML_FAULT_STRAY_LINK ? "the link" : "the track");
    }
  return g_string_free (text, FALSE);
}

static char *
say_consequence (const MlVerdict *verdict, MlCase *own, const MlExplanation *explanation, guint i)
{
  const MlReading *reading = &verdict->job->readings[verdict->readings[i].reading];
  g_autofree char *place = ml_reading_label (own->job, reading), *measured = ml_verdict_say_measured (verdict, i);
  g_autofree char *fine = ml_say_quantity (verdict->readings[i].healthy, ml_reading_unit (reading->reads));
  g_autofree char *faulty = ml_say_quantity (under (own, explanation, verdict->readings[i].reading), ml_reading_unit (reading->reads));
  g_autofree char *cause = say_cause (own->job->board, explanation), *words = say_with (own->job->board, &explanation->faults[0]);

  return g_strdup_printf ("%s reads %s (%s), far from %s, but that follows from %s: with %s it would read %s", place, measured,
                          condition_of (own, reading), fine, cause,
                          explanation->n_faults > 1 ? "both" : words, faulty);
}

static void
reason_fault (MlVerdict *verdict, MlCase *own, MlExplanation *explanation, GPtrArray *reasons)
{
  g_autofree gboolean *used = g_new0 (gboolean, MAX (verdict->n_readings, 1)), *elsewhere = g_new0 (gboolean, MAX (verdict->n_readings, 1));
  guint convicting = 0, consequences = 0;
  int i;

  for (guint k = 0; k < verdict->n_readings; k++)
    if (explanation->explains == ML_EXPLAINS_FAULT && is_elsewhere (verdict, explanation, k) && follows (verdict, own, explanation, k))
      used[k] = elsewhere[k] = TRUE;
  while (convicting < MOST_REASONS && (i = oddest (verdict, own, used)) >= 0)
    {
      used[i] = TRUE;
      convicting++;
      g_ptr_array_add (reasons, say_why (verdict, own, explanation, (guint) i));
    }
  for (guint k = 0; k < verdict->n_readings; k++)
    used[k] = !elsewhere[k];
  while (consequences < (convicting ? MOST_CONSEQUENCES : MOST_REASONS) && (i = oddest (verdict, own, used)) >= 0)
    {
      used[i] = TRUE;
      consequences++;
      g_ptr_array_add (reasons, (convicting ? say_consequence : say_why) (verdict, own, explanation, (guint) i));
    }
  for (guint h = 0; h < own->dictionary->hypotheses->len; h++)
    if (own->id_of[h] == explanation->id)
      ml_case_say_seen (own, ml_case_best_of (own, h), reasons);
  if (!reasons->len)
    g_ptr_array_add (reasons, g_strdup (explanation->probability > verdict->healthy_probability
                                          ? "each reading by itself is near what a sound board may give; all together they fit this better"
                                          : "no reading speaks against it, and none for it: every reading is near what a sound board gives"));
}

static void
reason_misfit (MlVerdict *verdict, MlCase *own, MlExplanation *explanation, GPtrArray *reasons)
{
  for (guint k = 0; k < explanation->n_refusing && k < MOST_REASONS; k++)
    {
      guint i = explanation->refusing[k];
      g_autofree char *at = ml_verdict_say_at (verdict, i), *measured = ml_verdict_say_measured (verdict, i);
      g_ptr_array_add (reasons, g_strdup_printf ("no single fault gives %s %s", measured, at));
    }
  g_ptr_array_add (reasons, g_strdup ("look at the board again: a connection, a polarity or a value may be drawn wrongly, or there are two faults"));
}

/* A sound board may lead although a reading is let go: it must not be said to give that one. */
static void
reason_healthy (const MlVerdict *verdict, const MlCase *own, GPtrArray *reasons)
{
  g_autofree gboolean *used = g_new0 (gboolean, MAX (verdict->n_readings, 1));
  guint odd = 0, doubtful = 0;
  int i;

  for (guint k = 0; k < verdict->n_readings; k++)
    doubtful += verdict->readings[k].doubtful && ml_verdict_is_odd (verdict, k);
  for (; odd < MOST_REASONS && (i = oddest (verdict, own, used)) >= 0; odd++)
    {
      const MlReading *reading = &verdict->job->readings[verdict->readings[i].reading];
      g_autofree char *place = ml_reading_label (own->job, reading), *measured = ml_verdict_say_measured (verdict, (guint) i);
      g_autofree char *fine = ml_say_quantity (verdict->readings[i].healthy, ml_reading_unit (reading->reads));

      used[i] = TRUE;
      g_ptr_array_add (reasons, g_strdup_printf ("only if %s, %s (%s), was misread or parts are well outside tolerance: it would be %s", place, measured,
                                                 condition_of (own, reading), fine));
    }
  if (!odd && verdict->n_readings)
    g_ptr_array_add (reasons, g_strconcat (doubtful ? "but for what looks misread, " : "",
                                           "every reading is what the board as drawn gives within part tolerances", NULL));
}

static void
reason_unread (MlCase *own, const MlExplanation *explanation, GPtrArray *reasons)
{
  for (guint h = 0; h < own->dictionary->hypotheses->len; h++)
    if (own->id_of[h] == explanation->id)
      {
        ml_case_say_unread (own, ml_case_best_of (own, h), reasons);
        return;
      }
}

/* Where a hypothesis holds only if nothing switches there, although it could: "on, rest"; new string, NULL: nowhere. */
static char *
say_still (const MlCase *own, guint hypothesis)
{
  const MlModel *model = own->dictionary->model;
  GString *names = g_string_new (NULL);

  for (guint c = 0; model->n_states > 1 && c < model->board->n_conditions; c++)
    {
      double runs = 0;

      if (!(model->runs[0] >> c & 1u) || !ml_case_is_read_in (own, (int) c))
        continue;
      for (guint i = 0; i < own->dictionary->n_items; i++)
        if (own->dictionary->items[i].hypothesis == hypothesis && ml_model_runs (model, own->dictionary->items[i].node, (int) c))
          runs += own->probability[i];
      if (runs < MOST_RUNNING * own->hypothesis_probability[hypothesis])
        g_string_append_printf (names, "%s%s", names->len ? ", " : "", model->board->conditions[c].name);
    }
  return g_string_free (names, names->len == 0);
}

static void
reason_switching (const MlCase *own, const MlExplanation *explanation, GPtrArray *reasons)
{
  for (guint h = 0; h < own->dictionary->hypotheses->len; h++)
    if (own->id_of[h] == explanation->id)
      {
        g_autofree char *still = say_still (own, h);

        if (still)
          g_ptr_array_add (reasons, g_strdup_printf ("that is so if nothing switches (%s)", still));
      }
}

void
ml_verdict_reason (MlVerdict *verdict, MlCase *own, MlExplanation *explanation)
{
  GPtrArray *reasons = g_ptr_array_new ();

  if (explanation->explains == ML_EXPLAINS_FAULT || explanation->explains == ML_EXPLAINS_DRAWING)
    reason_fault (verdict, own, explanation, reasons);
  else if (explanation->explains == ML_EXPLAINS_MISFIT)
    reason_misfit (verdict, own, explanation, reasons);
  else
    reason_healthy (verdict, own, reasons);
  if (explanation->explains == ML_EXPLAINS_HEALTHY)
    reason_unread (own, explanation, reasons);
  reason_switching (own, explanation, reasons);
  g_ptr_array_add (reasons, NULL);
  explanation->reasons = (char **) g_ptr_array_free (reasons, FALSE);
}
