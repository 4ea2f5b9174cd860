/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "bench/bench.h"

#include "support/near.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define DETECTABLE 3.0
#define ROUNDS 3 /* each mode is drawn so often */

static gboolean
has_block (const MlBoard *board)
{
  for (guint i = 0; i < board->n_parts; i++)
    if (board->parts[i].kind->kind == ML_KIND_BLOCK)
      return TRUE;
  return FALSE;
}

static void
find_visible (MlBench *bench)
{
  MlRandom random = ml_random_seeded (bench->seed + 3);
  bench->visible = g_array_new (FALSE, TRUE, sizeof (MlFault));
  for (guint round = 0; round < ROUNDS; round++)
    for (guint i = 0; i < bench->all->modes->len; i++)
      {
        MlFault fault = ml_truth_mode_draw (&g_array_index (bench->all->modes, MlTruthMode, i), &random);
        if (ml_truth_case_shift (bench->all, &fault) > DETECTABLE)
          g_array_append_val (bench->visible, fault);
      }
}

MlBench *
ml_bench_open (const char *name, const char *drawn_text, const char *actual_text, guint64 seed, guint n_samples)
{
  MlBench *bench = g_new0 (MlBench, 1);
  g_autoptr (GError) error = NULL;
  bench->name = g_strdup (name);
  bench->seed = seed;
  bench->drawn_text = g_strdup (drawn_text);
  bench->actual_text = g_strdup (actual_text);
  bench->drawn = ml_exam_board ("drawn", drawn_text);
  bench->actual = ml_exam_board ("actual", actual_text);
  bench->has_block = has_block (bench->drawn);
  bench->verbose = g_getenv ("METERLEAF_EXAM_VERBOSE") != NULL;
  bench->judge = ml_judge_new (bench->drawn);
  if (!ml_truth_knows (bench->actual) || !ml_judge_prepare (bench->judge, NULL, NULL, NULL, &error))
    {
      if (error)
        print_message ("%s: %s\n", name, error->message);
      ml_bench_free (bench);
      return NULL;
    }
  g_autoptr (GArray) places = ml_truth_all_places (bench->actual);
  bench->all = ml_truth_case_new (bench->drawn, bench->actual, places);
  if (!bench->all->solved)
    {
      ml_bench_free (bench);
      return NULL;
    }
  bench->rivals = ml_rivals_new (bench->all, n_samples);
  find_visible (bench);
  return bench;
}

void
ml_bench_free (MlBench *bench)
{
  ml_rivals_free (bench->rivals);
  ml_truth_case_free (bench->all);
  ml_judge_free (bench->judge);
  ml_board_unref (bench->drawn);
  ml_board_unref (bench->actual);
  g_clear_pointer (&bench->visible, g_array_unref);
  g_free (bench->drawn_text);
  g_free (bench->actual_text);
  g_free (bench->name);
  g_free (bench);
}

/* ---- which readings ---- */

const char *
ml_bench_set_name (MlBenchSet set)
{
  static const char *const NAMES[] = { "all readings", "half of the nets", "semiconductors only" };
  return NAMES[set];
}

static gboolean
is_on_semiconductor (const MlBoard *board, int net)
{
  for (guint i = 0; i < board->n_parts; i++)
    {
      MlKind kind = board->parts[i].kind->kind;
      if (kind == ML_KIND_RESISTOR || kind == ML_KIND_CAPACITOR || kind == ML_KIND_COIL || kind == ML_KIND_INDUCTOR || kind == ML_KIND_FUSE)
        continue;
      for (guint k = 0; k < board->parts[i].n_pins; k++)
        if (board->parts[i].pins[k].net == net)
          return TRUE;
    }
  return FALSE;
}

GArray *
ml_bench_choose (const MlBench *bench, MlBenchSet set, guint64 seed)
{
  GArray *which = g_array_new (FALSE, TRUE, sizeof (guint));
  for (guint i = 0; i < bench->all->places->len; i++)
    {
      const MlTruthPlace *place = &g_array_index (bench->all->places, MlTruthPlace, i);
      MlRandom random = ml_random_seeded (seed * 31 + i);
      gboolean half = ml_random_chance (&random, 0.5);
      if (set == ML_BENCH_ALL || place->reads == ML_READS_AMPS || (set == ML_BENCH_HALF && half)
          || (set == ML_BENCH_DROPS && is_on_semiconductor (bench->actual, place->red.net)))
        g_array_append_val (which, i);
    }
  return which;
}

MlTruthCase *
ml_bench_case (const MlBench *bench, const GArray *which)
{
  g_autoptr (GArray) places = g_array_new (FALSE, TRUE, sizeof (MlTruthPlace));
  for (guint i = 0; i < which->len; i++)
    g_array_append_val (places, g_array_index (bench->all->places, MlTruthPlace, g_array_index (which, guint, i)));
  return ml_truth_case_new (bench->drawn, bench->actual, places);
}

/* ---- readings as typed ---- */

static double
with_slip (double value, double other, guint kind)
{
  return kind == 0 ? -value : kind == 1 ? value / 1000 : other;
}

char *
ml_bench_readings (const MlBench *bench, MlTruth *unit, const char *unit_name, const GArray *which, guint64 seed, const MlBenchSlip *slip,
                   double *ret_y)
{
  MlTruthMeter meter = ml_truth_meter (&bench->all->meter, seed);
  GString *text = g_string_new (NULL);
  for (guint i = 0; i < which->len; i++)
    {
      const MlTruthPlace *place = &g_array_index (bench->all->places, MlTruthPlace, g_array_index (which, guint, i));
      g_autofree char *line = ml_truth_reading_line (bench->actual, unit, &meter, unit_name, place);
      char *mark = line ? strrchr (line, '=') : NULL;
      if (!mark)
        {
          g_string_free (text, TRUE);
          return NULL;
        }
      ret_y[i] = g_ascii_strtod (mark + 1, NULL);
      if (slip && (int) i == slip->at && place->reads == ML_READS_VOLTS)
        {
          ret_y[i] = with_slip (ret_y[i], i ? ret_y[i - 1] : 0, slip->kind);
          g_string_append_printf (text, "%.*s=%.4f\n", (int) (mark - line), line, ret_y[i]);
        }
      else
        g_string_append (text, line);
    }
  return g_string_free (text, FALSE);
}

char *
ml_bench_job (const char *unit_name, const char *state, const char *readings)
{
  return g_strdup_printf ("meterleaf 1\njob \"Bench\"\nboard \"bench.leafboard\"\n"
                          "meter bench dc=0.5%%+2 ohms=0.8%%+3 counts=6000 input=10M\nunit %s %s\n%s", unit_name, state, readings);
}
