/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/findings-text.h"

#include <math.h>
#include <string.h>

#define MOST_EXPECTATIONS 3u /* of faults; "1.9 V if Q2, 4.9 V if R4, 0.0 V if fine" is about all that is read between two probes */
#define MOST_NAMES 12u       /* in one line */
#define SURE_ENOUGH 0.9      /* a part at this is worth the soldering iron; common practice */
#define TELLING_SIGMA 3.0
#define METER_FLOOR_V 1e-4   /* half of the last digit of a common meter's 200 mV range; from memory */

static const MlUnit reads_unit[] = { ML_UNIT_VOLT, ML_UNIT_AMPERE, ML_UNIT_OHM, ML_UNIT_VOLT };

gboolean
ml_findings_hold_back (const MlVerdict *verdict, gboolean working)
{
  return working && verdict != NULL && verdict->stage < 2 && verdict->n_explanations > 0 && verdict->explanations[0].explains == ML_EXPLAINS_MISFIT;
}

static gboolean
share_a_suspect (const MlVerdict *a, const MlVerdict *b)
{
  for (guint i = 0; i < a->n_parts && i < b->n_parts; i++)
    if (a->parts[i].verdict == ML_VERDICT_SUSPECT && b->parts[i].verdict == ML_VERDICT_SUSPECT)
      return TRUE;
  return FALSE;
}

/* Whether both begin with the same thing to work on; how large the fault is, and where in the part, does not matter. */
static gboolean
begin_alike (const MlVerdict *a, const MlVerdict *b)
{
  if (a->n_explanations == 0 || b->n_explanations == 0)
    return a->n_explanations == b->n_explanations;
  const MlExplanation *x = &a->explanations[0], *y = &b->explanations[0];
  if (x->explains != y->explains || x->n_faults != y->n_faults)
    return FALSE;
  for (guint i = 0; i < x->n_faults; i++)
    if (x->faults[i].part != y->faults[i].part || x->faults[i].net_a != y->faults[i].net_a || x->faults[i].net_b != y->faults[i].net_b)
      return FALSE;
  return TRUE;
}

gboolean
ml_findings_waits (const MlVerdict *shown, const MlVerdict *arrived)
{
  return shown != NULL && shown->stage > 0 && arrived->stage == 0 && shown->unit == arrived->unit && shown->pass == arrived->pass
         && !share_a_suspect (shown, arrived) && !begin_alike (shown, arrived);
}

int
ml_findings_to_mend (const MlVerdict *verdict)
{
  const MlExplanation *first = verdict != NULL && verdict->n_explanations > 0 ? &verdict->explanations[0] : NULL;

  if (first == NULL || verdict->stage < 2 || verdict->n_readings == 0 || first->explains != ML_EXPLAINS_FAULT || first->n_faults != 1)
    return -1;
  int part = first->faults[0].part;
  return part >= 0 && part < (int) verdict->n_parts && verdict->parts[part].verdict == ML_VERDICT_SUSPECT && verdict->parts[part].probability >= SURE_ENOUGH
             ? part
             : -1;
}

const char *
ml_findings_mend_first (const MlBoard *board, guint n_errors, gboolean was_read)
{
  if (n_errors == 0 || (board->n_parts > 0 && was_read))
    return NULL;
  return "Lines with errors do not count. Mend them in the text of the file; what they say is taken in then.";
}

const char *
ml_findings_guide (const MlBoard *board, int unit, guint pass, const MlVerdict *verdict, gboolean working, gboolean was_read)
{
  if (board->n_parts == 0)
    return "An empty sheet. Add the parts you see on the board and join their pins.";
  if (board->n_nets == 0)
    return "Add the other parts too. To join two pins, click one and then the other.";
  if (board->n_conditions == 0)
    return "How is the board supplied? Add a condition on the strip below the drawing.";
  if (unit < 0)
    return "Which board is on the bench? Add a unit at the top.";
  if (ml_findings_hold_back (verdict, working))
    return "A first look does not explain these readings. Looking closer, and at pairs, slips and the drawing …";
  if (verdict == NULL && working)
    return "Working out what the board should do …";
  if (verdict == NULL && was_read)
    return "Stopped before there was a verdict. F5 begins again, and so does any change.";
  if (verdict == NULL || verdict->sentence == NULL || !ml_job_has_readings (verdict->job, verdict->unit, verdict->pass))
    return pass > 1 ? "No readings since the repair. Power up with a low current limit, then measure again, in Measure."
                    : "No readings yet. In Measure, click a pin and type what the meter shows.";
  return NULL;
}

char *
ml_findings_value (double value, MlReads reads)
{
  char text[64];

  if (reads != ML_READS_AMPS && reads != ML_READS_OHMS && fabs (value) < METER_FLOOR_V)
    return g_strdup ("0.00 V");
  if (reads == ML_READS_AMPS && fabs (value) < 1e-9)
    return g_strdup ("0 A");
  ml_quantity_format (value, reads_unit[reads], 3, true, text, sizeof text);
  return g_strdup (text);
}

char *
ml_findings_shorten (const char *line)
{
  const char *why = strstr (line, ": ");
  g_autofree char *names = why != NULL ? g_strndup (line, (gsize) (why - line)) : NULL;
  g_auto (GStrv) list = names != NULL ? g_strsplit (names, ", ", -1) : NULL;
  guint n = list != NULL ? g_strv_length (list) : 0;

  if (n <= MOST_NAMES + 1) /* "and 1 more" saves nothing */
    return g_strdup (line);
  g_clear_pointer (&list[MOST_NAMES], g_free);
  g_autofree char *first = g_strjoinv (", ", list);
  for (guint i = MOST_NAMES + 1; i < n; i++)
    g_clear_pointer (&list[i], g_free);
  return g_strdup_printf ("%s and %u more%s", first, n - MOST_NAMES, why);
}

char *
ml_findings_joined (const MlBoard *board, const MlPin *pin)
{
  if (pin->net >= 0 && !board->nets[pin->net].generated)
    return g_strdup (board->nets[pin->net].name);
  char *other = pin->net >= 0 ? ml_board_telling_pin (board, pin->net, pin) : NULL;
  return other != NULL ? other : g_strdup ("nothing");
}

char *
ml_findings_probe_words (const MlBoard *board, const MlProbe *probe)
{
  if (probe->part >= 0 && probe->lead)
    return g_strdup_printf ("%s.%s on its %s", board->parts[probe->part].name, board->parts[probe->part].pins[probe->pin].name,
                            probe->lead == ML_LEAD_LIFTED ? "lifted leg" : "leg");
  return ml_probe_label (board, probe);
}

char *
ml_findings_place (const MlBoard *board, MlReads reads, const MlProbe *red, const MlProbe *black, int supply)
{
  if (reads == ML_READS_AMPS)
    return g_strdup_printf ("the current that supply %d shows", supply + 1);
  g_autofree char *red_name = ml_findings_probe_words (board, red);
  g_autofree char *black_name = ml_findings_probe_words (board, black);
  const char *how = reads == ML_READS_OHMS ? "ohms, " : reads == ML_READS_DIODE ? "diode test, " : "";
  return g_strdup_printf ("%sred on %s, black on %s", how, red_name, black_name);
}

char *
ml_findings_place_short (const MlBoard *board, const MlReading *reading)
{
  if (reading->reads == ML_READS_AMPS)
    return g_strdup_printf ("supply %d", reading->supply + 1);
  if (reading->across >= 0 && board->parts[reading->across].n_pins == 2)
    return g_strdup_printf ("across %s", board->parts[reading->across].name);
  g_autofree char *red = ml_probe_label (board, &reading->red);
  if (reading->black.part < 0 && reading->black.net == board->reference)
    return g_steal_pointer (&red);
  g_autofree char *black = ml_probe_label (board, &reading->black);
  return g_strdup_printf ("%s to %s", red, black);
}

static char *
fault_name (const MlBoard *board, const MlFault *fault)
{
  if (fault->part >= 0)
    return g_strdup (board->parts[fault->part].name);
  if (fault->net_a >= 0 && fault->net_b >= 0)
    return g_strdup_printf ("%s–%s", board->nets[fault->net_a].words, board->nets[fault->net_b].words);
  return fault->net_a >= 0 ? g_strdup_printf ("track %s", board->nets[fault->net_a].words) : g_strdup ("?");
}

char *
ml_findings_names (const MlBoard *board, const MlExplanation *explanation)
{
  GString *names = g_string_new (NULL);

  for (guint i = 0; i < explanation->n_faults; i++)
    {
      g_autofree char *name = fault_name (board, &explanation->faults[i]);
      g_string_append_printf (names, "%s%s", i == 0 ? "" : " and ", name);
    }
  return g_string_free (names, FALSE);
}

/* ---- the next reading ---- */

int
ml_findings_find (const MlVerdict *verdict, guint id)
{
  for (guint i = 0; i < verdict->n_explanations; i++)
    if (verdict->explanations[i].id == id)
      return (int) i;
  return -1;
}

typedef struct { char *value; GString *names; } Expectation;

static void
expectation_clear (gpointer data)
{
  Expectation *expectation = data;

  g_free (expectation->value);
  g_string_free (expectation->names, TRUE);
}

/* That which the reading is expected to show if `next->expect[i]` holds; NULL where nothing is at fault. */
static const MlExplanation *
expected_of (const MlVerdict *verdict, const MlNextReading *next, guint i)
{
  int index = ml_findings_find (verdict, next->expect[i].explanation);

  return index >= 0 && verdict->explanations[index].n_faults > 0 ? &verdict->explanations[index] : NULL;
}

/* How many explanations of those expected go by this name; more than one value among them: *ret_apart. */
static guint
count_named (const MlVerdict *verdict, const MlNextReading *next, const char *name, gboolean *ret_apart)
{
  g_autofree char *first = NULL;
  guint n_named = 0;

  *ret_apart = FALSE;
  for (guint i = 0; i < next->n_expect; i++)
    {
      const MlExplanation *explanation = expected_of (verdict, next, i);
      g_autofree char *other = explanation != NULL ? ml_findings_names (verdict->job->board, explanation) : NULL;
      if (g_strcmp0 (other, name) != 0)
        continue;
      g_autofree char *value = ml_findings_value (next->expect[i].value, next->reads);
      *ret_apart = *ret_apart || (first != NULL && strcmp (first, value) != 0);
      n_named++;
      if (first == NULL)
        first = g_steal_pointer (&value);
    }
  return n_named;
}

/* Whether some part would show two values. */
static gboolean
any_apart (const MlVerdict *verdict, const MlNextReading *next)
{
  gboolean apart = FALSE;

  for (guint i = 0; i < next->n_expect && !apart; i++)
    {
      const MlExplanation *explanation = expected_of (verdict, next, i);
      g_autofree char *name = explanation != NULL ? ml_findings_names (verdict->job->board, explanation) : NULL;
      if (name != NULL)
        count_named (verdict, next, name, &apart);
    }
  return apart;
}

/* A part that would show two values is told apart by what is wrong with it, and then what has but one fault beside it is named so too: "D1 open,
 * C1 leaking" and not "D1 open, C1". Faults of one part that all show the same are that part. new string. */
static char *
name_among (const MlVerdict *verdict, const MlNextReading *next, const MlExplanation *explanation, gboolean with_faults)
{
  g_autofree char *name = ml_findings_names (verdict->job->board, explanation);
  gboolean apart = FALSE;
  guint n_named = count_named (verdict, next, name, &apart);

  if (explanation->n_faults == 1 && (apart || (with_faults && n_named == 1)))
    return ml_fault_describe (verdict->job->board, &explanation->faults[0]);
  return g_steal_pointer (&name);
}

static void
add_expectation (GArray *list, const char *value, const char *name)
{
  for (guint i = 0; i < list->len; i++)
    {
      Expectation *known = &g_array_index (list, Expectation, i);
      if (strcmp (known->value, value) == 0)
        {
          if (strstr (known->names->str, name) == NULL)
            g_string_append_printf (known->names, " or %s", name);
          return;
        }
    }
  Expectation fresh = { g_strdup (value), g_string_new (name) };
  g_array_append_val (list, fresh);
}

char *
ml_findings_expect (const MlVerdict *verdict, const MlNextReading *next)
{
  g_autoptr (GArray) list = g_array_new (FALSE, FALSE, sizeof (Expectation));
  GString *text = g_string_new (NULL);
  gboolean with_faults = any_apart (verdict, next);

  g_array_set_clear_func (list, expectation_clear);
  for (guint i = 0; i < next->n_expect; i++)
    {
      const MlExplanation *explanation = expected_of (verdict, next, i);
      if (explanation == NULL || isnan (next->expect[i].value))
        continue;
      g_autofree char *value = ml_findings_value (next->expect[i].value, next->reads);
      g_autofree char *name = name_among (verdict, next, explanation, with_faults);
      add_expectation (list, value, name);
    }
  if (list->len > MOST_EXPECTATIONS)
    g_array_set_size (list, MOST_EXPECTATIONS);
  if (!isnan (next->healthy))
    {
      g_autofree char *value = ml_findings_value (next->healthy, next->reads);
      add_expectation (list, value, "all is fine");
    }
  for (guint i = 0; i < list->len; i++)
    {
      const Expectation *expectation = &g_array_index (list, Expectation, i);
      g_string_append_printf (text, "%s%s if %s", i == 0 ? "Expect " : ", ", expectation->value, expectation->names->str);
    }
  return g_string_free (text, FALSE);
}

const char *
ml_findings_none_suggested (const MlVerdict *verdict, gboolean working)
{
  if (working) /* the first verdicts say nothing about it */
    return "Where to measure next is still being worked out";
  return verdict != NULL ? "No further reading is suggested: none would tell much more" : "No reading is suggested yet";
}

const MlNextReading *
ml_findings_suggested (const MlVerdict *verdict, int condition, MlReads reads, const MlProbe *red, const MlProbe *black, double *ret_sign)
{
  for (guint i = 0; verdict != NULL && i < verdict->n_next; i++)
    {
      const MlNextReading *next = &verdict->next[i];
      gboolean straight = ml_probe_equal (&next->red, red) && ml_probe_equal (&next->black, black);
      gboolean turned = ml_probe_equal (&next->red, black) && ml_probe_equal (&next->black, red);
      if (next->supply >= 0 || next->condition != condition || next->reads != reads || !(straight || (turned && reads != ML_READS_DIODE)))
        continue;
      *ret_sign = straight || reads == ML_READS_OHMS ? 1.0 : -1.0;
      return next;
    }
  return NULL;
}

double
ml_findings_foretold (const MlNextReading *next, guint explanation)
{
  for (guint i = 0; i < next->n_expect; i++)
    if (next->expect[i].explanation == explanation)
      return next->expect[i].value;
  return NAN;
}

/* ---- reasons ---- */

static double
weight (const MlFindingsReason *reason)
{
  double sigma = reason->sigma > 0.0 ? reason->sigma : 1e-3;
  double seen = isfinite (reason->fine) ? fabs (reason->measured - reason->fine) / sigma : 0.0;
  double shown = isfinite (reason->fine) && isfinite (reason->faulty) ? fabs (reason->faulty - reason->fine) / sigma : 0.0;

  return isfinite (seen) ? MAX (seen, shown) : shown;
}

static int
by_weight (gconstpointer a, gconstpointer b)
{
  const MlFindingsReason *first = a, *second = b;
  double difference = weight (second) - weight (first);

  return difference != 0.0 ? (difference > 0.0) - (difference < 0.0) : (first->reading > second->reading) - (first->reading < second->reading);
}

GArray *
ml_findings_reasons (const MlVerdict *verdict)
{
  GArray *reasons = g_array_new (FALSE, FALSE, sizeof (MlFindingsReason));

  for (guint i = 0; i < verdict->n_readings; i++)
    {
      const MlReadingVerdict *judged = &verdict->readings[i];
      const MlReading *reading = &verdict->job->readings[judged->reading];
      double meter = ml_reading_sigma (verdict->job, reading);
      double spread = isfinite (judged->healthy_sigma) ? judged->healthy_sigma : 0.0;
      MlFindingsReason reason = { .reading = (guint) judged->reading, .measured = reading->measured.value, .fine = judged->healthy,
                                  .faulty = judged->explained, .sigma = hypot (isfinite (meter) ? meter : 0.0, spread),
                                  .doubtful = judged->doubtful };
      reason.telling = weight (&reason) > TELLING_SIGMA;
      g_array_append_val (reasons, reason);
    }
  g_array_sort (reasons, by_weight);
  return reasons;
}
