/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "verdict/compare.h"

#include "verdict/assumptions.h"
#include "verdict/verdict-private.h"

#include <math.h>

#define MOST_AREAS 3

/* One place read on both units. */
typedef struct { int reading, other; double there, off, spread; } Difference;

/* What both meters, and sound units among themselves, may differ by: standard deviation. */
static double
spread_of (const MlJob *job, const MlReading *a, const MlReading *b, double there)
{
  double least = ml_assumption ("compare.volts"), share = ml_assumption ("compare.share");
  double size = MAX (fabs (a->measured.value), fabs (there));

  return sqrt (least * least + share * share * size * size + pow (ml_reading_sigma (job, a), 2) + pow (ml_reading_sigma (job, b), 2));
}

static void
compare_with (const MlCase *own, int unit, GArray *found)
{
  const MlJob *job = own->job;
  guint pass = ml_job_last_pass (job, unit);

  for (guint i = 0; i < own->taken->len; i++)
    {
      Difference difference = { .reading = g_array_index (own->taken, MlTaken, i).reading };
      const MlReading *here = &job->readings[difference.reading];
      gboolean swapped = FALSE;

      if (here->reads != ML_READS_VOLTS || g_array_index (own->taken, MlTaken, i).shown)
        continue;
      difference.other = ml_job_find_reading (job, unit, pass, here->condition, here->reads, &here->red, &here->black, &swapped);
      if (difference.other < 0 || job->readings[difference.other].measured.over)
        continue;
      difference.there = (swapped ? -1 : 1) * job->readings[difference.other].measured.value;
      difference.off = here->measured.value - difference.there;
      difference.spread = spread_of (job, here, &job->readings[difference.other], difference.there);
      g_array_append_val (found, difference);
    }
}

/* ---- nets ---- */

/* How a net stands to the reference on both units, in one condition. */
typedef struct { gboolean known; double off, spread; int reading; } NetDifference;

static void
find_nets (const MlCase *own, const GArray *found, guint c, NetDifference *ret_nets)
{
  const MlBoard *board = own->job->board;

  for (guint i = 0; i < board->n_nets; i++) /* reference and supply stand where they were put */
    ret_nets[i] = (NetDifference){ (int) i == board->reference || ml_condition_supplies (&board->conditions[c], (int) i), 0, 0, -1 };
  for (guint i = 0; i < found->len; i++)
    {
      const Difference *difference = &g_array_index (found, Difference, i);
      const MlReading *here = &own->job->readings[difference->reading];

      if (here->condition == (int) c && here->black.net == board->reference && here->red.net >= 0 && !here->red.lead && !here->black.lead)
        ret_nets[here->red.net] = (NetDifference){ TRUE, difference->off, difference->spread, difference->reading };
    }
}

/* ---- parts ---- */

static void
keep_most (MlCompared *compared, double off, double spread, int reading)
{
  double apart = spread > 0 ? fabs (off) / spread : 0;

  if (apart > compared->apart)
    {
      compared->apart = apart;
      compared->reading = reading;
    }
}

/* Between two of its pins; or at the one pin whose net is known, which says half as much. */
static void
look_at_nets (const MlPart *part, const NetDifference *nets, MlCompared *compared)
{
  for (guint a = 0; a < part->n_pins; a++)
    {
      gboolean alone = TRUE;

      for (guint b = 0; b < part->n_pins; b++)
        {
          const NetDifference *x = part->pins[a].net >= 0 ? &nets[part->pins[a].net] : NULL, *y = part->pins[b].net >= 0 ? &nets[part->pins[b].net] : NULL;

          if (!x || !y || !x->known || !y->known || x == y)
            continue;
          alone = FALSE;
          keep_most (compared, x->off - y->off, hypot (x->spread, y->spread), fabs (x->off) >= fabs (y->off) ? x->reading : y->reading);
        }
      if (alone && part->pins[a].net >= 0 && nets[part->pins[a].net].known)
        keep_most (compared, nets[part->pins[a].net].off / 2, nets[part->pins[a].net].spread, nets[part->pins[a].net].reading);
    }
}

/* Readings from one of its nets to another. */
static void
look_across (const MlCase *own, const GArray *found, const MlPart *part, MlCompared *compared)
{
  for (guint i = 0; i < found->len; i++)
    {
      const Difference *difference = &g_array_index (found, Difference, i);
      const MlReading *here = &own->job->readings[difference->reading];

      if (ml_part_pin_on (part, here->red.net) >= 0 && ml_part_pin_on (part, here->black.net) >= 0)
        keep_most (compared, difference->off, difference->spread, difference->reading);
    }
}

static gint
most_first (gconstpointer a, gconstpointer b)
{
  const MlCompared *x = a, *y = b;

  if (x->apart != y->apart)
    return x->apart < y->apart ? 1 : -1;
  return x->part - y->part;
}

static GArray *
find_differences (const MlCase *own)
{
  GArray *found = g_array_new (FALSE, FALSE, sizeof (Difference));

  /* Units with other parts fitted differ rightly. */
  for (guint u = 0; u < own->job->n_units && !own->job->units[own->unit].n_differences; u++)
    if ((int) u != own->unit && own->job->units[u].state == ML_UNIT_STATE_GOOD && !own->job->units[u].n_differences)
      compare_with (own, (int) u, found);
  return found;
}

MlCompared *
ml_case_compare (const MlCase *own, guint *ret_n)
{
  const MlBoard *board = own->job->board;
  g_autoptr (GArray) found = find_differences (own);
  g_autofree NetDifference *nets = g_new (NetDifference, MAX (board->n_nets, 1));
  GArray *list = g_array_new (FALSE, TRUE, sizeof (MlCompared));

  for (guint i = 0; i < board->n_parts; i++)
    {
      MlCompared compared = { (int) i, 0, -1 };

      if (board->parts[i].kind->kind == ML_KIND_CONNECTOR || board->parts[i].kind->kind == ML_KIND_TESTPOINT)
        continue;
      for (guint c = 0; c < board->n_conditions; c++)
        {
          find_nets (own, found, c, nets);
          look_at_nets (&board->parts[i], nets, &compared);
        }
      look_across (own, found, &board->parts[i], &compared);
      if (compared.apart > ml_assumption ("compare.differs") && compared.reading >= 0)
        g_array_append_val (list, compared);
    }
  g_array_sort (list, most_first);
  *ret_n = list->len;
  return (MlCompared *) (gpointer) g_array_free (list, list->len == 0);
}

/* ---- in words ---- */

static const Difference *
difference_at (const GArray *found, int reading)
{
  for (guint i = 0; i < found->len; i++)
    if (g_array_index (found, Difference, i).reading == reading)
      return &g_array_index (found, Difference, i);
  return NULL;
}

/* "U2, U3 (V5: 2.91 V here, 4.98 V there)": an area is what one reading points at. */
static char *
say_area (const MlCase *own, const GArray *found, const MlCompared *compared, guint n, guint first)
{
  const Difference *difference = difference_at (found, compared[first].reading);
  const MlReading *here = &own->job->readings[compared[first].reading];
  g_autofree char *place = ml_reading_place (own->job, here), *value = ml_say_quantity (here->measured.value, ML_UNIT_VOLT);
  g_autofree char *there = ml_say_quantity (difference->there, ML_UNIT_VOLT);
  g_autoptr (GString) names = g_string_new (NULL);

  for (guint i = first; i < n; i++)
    if (compared[i].reading == compared[first].reading)
      g_string_append_printf (names, "%s%s", names->len ? ", " : "", own->job->board->parts[compared[i].part].name);
  return g_strdup_printf ("%s (%s: %s here, %s there)", names->str, place, value, there);
}

char *
ml_case_say_compared (const MlCase *own, const MlCompared *compared, guint n)
{
  g_autoptr (GArray) found = find_differences (own);
  GString *text;
  guint areas = 0;

  if (!n)
    return NULL;
  text = g_string_new (NULL);
  for (guint i = 0; i < n && areas < MOST_AREAS; i++)
    {
      g_autofree char *area = NULL;
      guint k = 0;

      while (compared[k].reading != compared[i].reading)
        k++;
      if (k < i)
        continue;
      area = say_area (own, found, compared, n, i);
      g_string_append_printf (text, "%s%s", areas++ ? ", then at " : "", area);
    }
  {
    const Difference *first = difference_at (found, compared[0].reading);
    char *whole = g_strdup_printf ("Compared with %s, the units differ most at %s", own->job->units[own->job->readings[first->other].unit].name, text->str);
    g_string_free (text, TRUE);
    return whole;
  }
}
