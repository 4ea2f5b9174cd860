/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/truth-case.h"

#include <math.h>

#define N_BELIEVED 16
#define N_SIZES 7
#define N_GOLDEN 12
#define SIGMAS 3.0

static const char *const QUANTITY_WORDS[] = { "volts", "amps", "ohms", "diode" };

MlMeter
ml_truth_usual_meter (void)
{
  return (MlMeter) { .name = (char *) "bench", .dc_share = 0.005, .dc_counts = 2, .ohms_share = 0.008, .ohms_counts = 3,
                     .counts = 6000, .input_ohm = 10e6, .diode_a = 1e-3, .diode_v = 3 };
}

MlTruthCase *
ml_truth_case_new (MlBoard *drawn, MlBoard *actual, const GArray *places)
{
  MlTruthCase *c = g_new0 (MlTruthCase, 1);
  c->drawn = ml_board_ref (drawn);
  c->actual = ml_board_ref (actual);
  c->meter = ml_truth_usual_meter ();
  c->places = g_array_new (FALSE, TRUE, sizeof (MlTruthPlace));
  g_array_append_vals (c->places, places->data, places->len);
  c->modes = ml_truth_modes (actual);
  c->seldom = ml_truth_seldom_modes (actual);
  c->nominal = ml_truth_new (actual, drawn, ML_TRUTH_NOMINAL, 0, NULL);
  c->believed = g_ptr_array_new_with_free_func ((GDestroyNotify) ml_truth_free);
  for (guint i = 0; i < N_BELIEVED; i++)
    g_ptr_array_add (c->believed, ml_truth_new (actual, drawn, ML_TRUTH_BELIEVED, 1000 + i, NULL));
  c->healthy = g_new0 (double, places->len + 1);
  c->healthy_sigma = g_new0 (double, places->len + 1);
  c->solved = ml_truth_case_predict (c, NULL, c->healthy);
  ml_truth_case_sigma (c, NULL, c->healthy_sigma);
  return c;
}

void
ml_truth_case_free (MlTruthCase *c)
{
  if (!c)
    return;
  ml_board_unref (c->drawn);
  ml_board_unref (c->actual);
  g_array_unref (c->places);
  g_array_unref (c->modes);
  g_array_unref (c->seldom);
  ml_truth_free (c->nominal);
  g_ptr_array_unref (c->believed);
  g_free (c->healthy);
  g_free (c->healthy_sigma);
  g_free (c);
}

gboolean
ml_truth_case_read (const MlTruthCase *c, MlTruth *truth, const MlFault *faults, guint n_faults, double *ret)
{
  gboolean all = TRUE;
  ml_truth_set_faults (truth, faults, n_faults);
  for (guint i = 0; i < c->places->len; i++)
    {
      ret[i] = ml_truth_read (truth, &g_array_index (c->places, MlTruthPlace, i), c->meter.input_ohm);
      all = all && !isnan (ret[i]);
    }
  return all;
}

gboolean
ml_truth_case_predict (MlTruthCase *c, const MlFault *fault, double *ret)
{
  return ml_truth_case_read (c, c->nominal, fault, fault ? 1 : 0, ret);
}

void
ml_truth_case_sigma (MlTruthCase *c, const MlFault *fault, double *ret)
{
  guint n = c->places->len, used = 0;
  g_autofree double *sum = g_new0 (double, n + 1), *squares = g_new0 (double, n + 1), *one = g_new0 (double, n + 1);
  for (guint k = 0; k < c->believed->len; k++)
    {
      if (!ml_truth_case_read (c, g_ptr_array_index (c->believed, k), fault, fault ? 1 : 0, one))
        continue;
      used++;
      for (guint i = 0; i < n; i++)
        {
          sum[i] += one[i];
          squares[i] += one[i] * one[i];
        }
    }
  for (guint i = 0; i < n; i++)
    {
      double mean = used ? sum[i] / used : 0, variance = used > 1 ? (squares[i] - sum[i] * mean) / (used - 1) : 0;
      ret[i] = hypot (sqrt (MAX (variance, 0)), ml_truth_meter_sigma (&c->meter, g_array_index (c->places, MlTruthPlace, i).reads, mean));
    }
}

static double
largest_difference (const double *a, const double *b, const double *sigma, guint n)
{
  double largest = 0;
  for (guint i = 0; i < n; i++)
    largest = isinf (a[i]) && isinf (b[i]) ? largest : MAX (largest, fabs (a[i] - b[i]) / sigma[i]);
  return largest;
}

double
ml_truth_case_shift (MlTruthCase *c, const MlFault *fault)
{
  g_autofree double *y = g_new0 (double, c->places->len + 1);
  if (!ml_truth_case_predict (c, fault, y))
    return NAN;
  return largest_difference (y, c->healthy, c->healthy_sigma, c->places->len);
}

/* ---- ties ---- */

/* faults[n]: what is tried, and what is there beside it. */
typedef struct { MlTruthCase *c; const double *y, *sigma; MlFault faults[2]; guint n; } Match;

static double
mismatch (Match *m, double ln_size)
{
  g_autofree double *y = g_new0 (double, m->c->places->len + 1);
  m->faults[0].size = isnan (ln_size) ? NAN : exp (ln_size);
  if (!ml_truth_case_read (m->c, m->c->nominal, m->faults, m->n, y))
    return INFINITY;
  return largest_difference (y, m->y, m->sigma, m->c->places->len);
}

/* Golden section about the best of a coarse grid. Two faults tie over more than the sizes they are drawn from: hence the margin of 10. */
static double
best_mismatch (Match *m, double low, double high)
{
  double from = log (low > 1 ? low / 10 : low), to = log (high < 1 ? high : high * 10), width = (to - from) / (N_SIZES - 1);
  double at = from, best = INFINITY;
  for (guint i = 0; i < N_SIZES; i++)
    {
      double value = mismatch (m, from + i * width);
      if (value < best)
        at = from + i * width;
      best = MIN (best, value);
    }
  double a = at - width, b = at + width, share = (sqrt (5) - 1) / 2;
  double p = b - share * (b - a), q = a + share * (b - a), fp = mismatch (m, p), fq = mismatch (m, q);
  for (guint i = 0; i < N_GOLDEN && best > SIGMAS; i++)
    {
      gboolean left = fp < fq;
      best = MIN (best, MIN (fp, fq));
      a = left ? a : p;
      b = left ? q : b;
      p = b - share * (b - a);
      q = a + share * (b - a);
      fp = mismatch (m, p);
      fq = mismatch (m, q);
    }
  return MIN (best, MIN (fp, fq));
}

/* One of these modes, of `part`, -1: of any, gives y within 3 sigma, `beside` (NULL: nothing) being there, too. */
static gboolean
one_gives (MlTruthCase *c, const GArray *modes, int part, const MlFault *beside, const double *y, const double *sigma)
{
  for (guint i = 0; i < modes->len; i++)
    {
      const MlTruthMode *mode = &g_array_index (modes, MlTruthMode, i);
      Match m = { c, y, sigma, { mode->fault }, 1 };
      double low, high;
      if (part >= 0 && mode->fault.part != part)
        continue;
      if (beside)
        m.faults[m.n++] = *beside;
      if ((ml_truth_mode_sizes (mode, &low, &high) ? best_mismatch (&m, low, high) : mismatch (&m, NAN)) < SIGMAS)
        return TRUE;
    }
  return FALSE;
}

gboolean
ml_truth_case_gives (MlTruthCase *c, int part, const MlFault *beside, const double *y, const double *sigma)
{
  return one_gives (c, c->modes, part, beside, y, sigma) || one_gives (c, c->seldom, part, beside, y, sigma);
}

gboolean
ml_truth_case_tied (MlTruthCase *c, const MlFault *fault, int part)
{
  guint n = c->places->len;
  g_autofree double *y = g_new0 (double, n + 1), *sigma = g_new0 (double, n + 1);
  if (fault->part == part)
    return TRUE;
  ml_truth_case_sigma (c, fault, sigma);
  return ml_truth_case_predict (c, fault, y) && ml_truth_case_gives (c, part, NULL, y, sigma);
}

gboolean
ml_truth_case_reads_as_one (MlTruthCase *c, const MlFault *faults, guint n_faults)
{
  guint n = c->places->len;
  g_autofree double *y = g_new0 (double, n + 1), *sigma = g_new0 (double, n + 1);
  ml_truth_case_sigma (c, &faults[0], sigma);
  return ml_truth_case_read (c, c->nominal, faults, n_faults, y) && ml_truth_case_gives (c, -1, NULL, y, sigma);
}

gboolean
ml_truth_case_touched (MlTruthCase *c, const MlFault *given, int part, double share)
{
  guint n = c->places->len, n_given = given ? 1 : 0;
  g_autofree double *y = g_new0 (double, n + 1), *before = g_new0 (double, n + 1), *sigma = g_new0 (double, n + 1);
  if (!ml_truth_case_predict (c, given, before))
    return TRUE;
  for (guint i = 0; i < n; i++)
    sigma[i] = ml_truth_meter_sigma (&c->meter, g_array_index (c->places, MlTruthPlace, i).reads, before[i]) * share;
  for (guint i = 0; i < c->modes->len; i++)
    {
      const MlTruthMode *mode = &g_array_index (c->modes, MlTruthMode, i);
      MlFault faults[2] = { mode->fault };
      if (mode->fault.part != part)
        continue;
      faults[0].size = isnan (mode->low) ? NAN : faults[0].kind == ML_FAULT_LOW || faults[0].kind == ML_FAULT_LEAK ? mode->low : mode->high;
      if (given)
        faults[1] = *given;
      if (!ml_truth_case_read (c, c->nominal, faults, 1 + n_given, y) || largest_difference (y, before, sigma, n) > 1)
        return TRUE;
    }
  return FALSE;
}

/* ---- jobs ---- */

GArray *
ml_truth_all_places (const MlBoard *board)
{
  GArray *places = g_array_new (FALSE, TRUE, sizeof (MlTruthPlace));
  for (guint k = 0; k < board->n_conditions; k++)
    {
      MlTruthPlace place = { .condition = k, .reads = ML_READS_VOLTS, .red = { -1, -1, -1, FALSE }, .supply = -1 };
      place.black = (MlProbe) { board->reference, -1, -1, FALSE };
      for (guint i = 0; i < board->n_nets && board->conditions[k].n_supplies; i++)
        {
          place.red.net = i;
          if ((int) i != board->reference)
            g_array_append_val (places, place);
        }
      place.reads = ML_READS_AMPS;
      place.red.net = place.black.net = -1;
      for (guint i = 0; i < board->conditions[k].n_supplies; i++)
        {
          place.supply = i;
          g_array_append_val (places, place);
        }
    }
  return places;
}

static char *
probe_words (const MlBoard *board, const MlProbe *probe)
{
  if (probe->part < 0)
    return g_strdup (board->nets[probe->net].name);
  const MlPart *part = &board->parts[probe->part];
  return g_strdup_printf ("%s.%s%s", part->name, part->pins[probe->pin].name, probe->lead == ML_LEAD_LIFTED ? "/lifted" : probe->lead ? "/lead" : "");
}

char *
ml_truth_reading_line (const MlBoard *board, MlTruth *unit, const MlTruthMeter *meter, const char *unit_name, const MlTruthPlace *place)
{
  double value = ml_truth_read (unit, place, meter->figures->input_ohm);
  const MlCondition *condition = &board->conditions[place->condition];
  if (isnan (value))
    return NULL;
  g_autofree char *shown = ml_truth_meter_show (meter, place->reads, value);
  if (place->reads == ML_READS_AMPS)
    return g_strdup_printf ("reading %s %s supply=%s amps=%s\n", unit_name, condition->name, condition->supplies[place->supply].name, shown);
  g_autofree char *red = probe_words (board, &place->red), *black = probe_words (board, &place->black);
  return g_strdup_printf ("reading %s %s red=%s black=%s %s=%s\n", unit_name, condition->name, red, black,
                          QUANTITY_WORDS[place->reads], shown);
}

char *
ml_truth_job_text (const MlTruthCase *c, MlTruth *unit, const MlTruthMeter *meter, const char *state, const GArray *places)
{
  GString *text = g_string_new ("meterleaf 1\njob \"Generated job\"\nboard \"generated.leafboard\"\n"
                                "meter bench dc=0.5%+2 ohms=0.8%+3 counts=6000 input=10M\n");
  g_string_append_printf (text, "unit u1 %s\n", state);
  for (guint i = 0; i < places->len; i++)
    {
      g_autofree char *line = ml_truth_reading_line (c->actual, unit, meter, "u1", &g_array_index (places, MlTruthPlace, i));
      g_string_append (text, line ? line : "");
    }
  return g_string_free (text, FALSE);
}
