/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "bench/bench.h"

#include "support/near.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define DETECTABLE 3.0
#define ROUNDS 3 /* each mode is drawn so often */
#define MOST_OHMS 10 /* a person does not buzz out every net, and for each the rivals' samples climb through the meter's ranges */

static gboolean
has_kind (const MlBoard *board, MlKind kind)
{
  for (guint i = 0; i < board->n_parts; i++)
    if (board->parts[i].kind->kind == kind)
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
        bench->n_drawn++;
        if (ml_truth_case_shift (bench->all, &fault) > DETECTABLE)
          g_array_append_val (bench->visible, fault);
      }
}

/* Pins of a part whose drop a person takes: along a diode's or a gate's path. */
static const struct { MlKind kind; guint red, black; } DROPS[] = {
  { ML_KIND_DIODE, 0, 1 }, { ML_KIND_LED, 0, 1 }, { ML_KIND_ZENER, 1, 0 }, { ML_KIND_NPN, 1, 2 }, { ML_KIND_NPN, 0, 2 }, { ML_KIND_PNP, 2, 1 },
  { ML_KIND_PNP, 2, 0 }, { ML_KIND_NMOS, 1, 2 }, { ML_KIND_NMOS, 0, 2 }, { ML_KIND_PMOS, 1, 2 }, { ML_KIND_PMOS, 0, 2 }, { ML_KIND_OPTO, 0, 1 },
  { ML_KIND_OPTO, 2, 3 }, { ML_KIND_BRIDGE, 2, 3 }, { ML_KIND_REGULATOR, 0, 1 }, { ML_KIND_ADJUSTABLE, 0, 1 }, { ML_KIND_TVS, 0, 1 },
};

static void
append_drops (GArray *places, const MlBoard *board, guint condition)
{
  for (guint i = 0; i < board->n_parts; i++)
    for (guint row = 0; row < G_N_ELEMENTS (DROPS); row++)
      {
        const MlPart *part = &board->parts[i];
        int red = part->kind->kind == DROPS[row].kind ? ml_truth_pin (part, DROPS[row].red) : -1;
        int black = red >= 0 ? ml_truth_pin (part, DROPS[row].black) : -1;
        if (black < 0 || part->pins[red].net < 0 || part->pins[black].net < 0 || part->pins[red].net == part->pins[black].net)
          continue;
        MlTruthPlace place = { condition, ML_READS_VOLTS, { part->pins[red].net, -1, -1, FALSE }, { part->pins[black].net, -1, -1, FALSE }, -1 };
        g_array_append_val (places, place);
      }
}

static void
append_ohms (GArray *places, const MlBoard *board, guint condition, guint64 seed)
{
  MlRandom random = ml_random_seeded (seed + 7);
  guint before = places->len;
  for (guint i = 0; i < board->n_nets; i++)
    {
      MlTruthPlace place = { condition, ML_READS_OHMS, { (int) i, -1, -1, FALSE }, { board->reference, -1, -1, FALSE }, -1 };
      if ((int) i != board->reference)
        g_array_append_val (places, place);
    }
  while (places->len - before > MOST_OHMS)
    g_array_remove_index (places, before + ml_random_below (&random, places->len - before));
}

static GArray *
list_places (MlBench *bench, gboolean cold)
{
  const MlBoard *board = bench->actual;
  GArray *places = ml_truth_all_places (board);
  bench->n_powered = places->len;
  for (guint k = 0; k < board->n_conditions; k++)
    if (board->conditions[k].n_supplies)
      append_drops (places, board, k);
  bench->n_drops = places->len - bench->n_powered;
  for (guint k = 0; k < board->n_conditions && cold && !has_kind (board, ML_KIND_BATTERY); k++) /* a board with its battery in is never cold */
    if (ml_condition_is_cold (&board->conditions[k]))
      {
        append_ohms (places, board, k, bench->seed);
        break;
      }
  return places;
}

MlBench *
ml_bench_open (const char *name, const char *drawn_text, const char *actual_text, guint64 seed, guint n_samples,
               gboolean cold)
{
  MlBench *bench = g_new0 (MlBench, 1);
  g_autoptr (GError) error = NULL;
  bench->name = g_strdup (name);
  bench->seed = seed;
  bench->drawn_text = g_strdup (drawn_text);
  bench->actual_text = g_strdup (actual_text);
  bench->drawn = ml_exam_board ("drawn", drawn_text);
  bench->actual = ml_exam_board ("actual", actual_text);
  bench->has_block = has_kind (bench->drawn, ML_KIND_BLOCK);
  for (guint i = 0; i < bench->drawn->n_nets; i++)
    bench->has_chopped |= bench->drawn->nets[i].switching;
  bench->verbose = g_getenv ("METERLEAF_EXAM_VERBOSE") != NULL;
  bench->judge = ml_judge_new (bench->drawn);
  if (!ml_truth_knows (bench->actual) || !ml_judge_prepare (bench->judge, NULL, NULL, NULL, &error))
    {
      if (error)
        print_message ("%s: %s\n", name, error->message);
      ml_bench_free (bench);
      return NULL;
    }
  g_autoptr (GArray) places = list_places (bench, cold);
  bench->all = ml_truth_case_new (bench->drawn, bench->actual, places);
  if (!bench->all->solved || !bench->n_powered)
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

GArray *
ml_bench_choose (const MlBench *bench, MlBenchSet set, guint64 seed)
{
  GArray *which = g_array_new (FALSE, TRUE, sizeof (guint));
  MlRandom any = ml_random_seeded (seed + 5);
  if (set == ML_BENCH_ANY)
    set = ML_BENCH_ALL + ml_random_below (&any, 3);
  for (guint i = 0; i < bench->all->places->len; i++)
    {
      MlRandom random = ml_random_seeded (seed * 31 + i);
      gboolean half = ml_random_chance (&random, 0.5) || g_array_index (bench->all->places, MlTruthPlace, i).reads == ML_READS_AMPS;
      gboolean powered = i < bench->n_powered, drop = !powered && i < bench->n_powered + bench->n_drops;
      if (powered ? set == ML_BENCH_ALL || (set != ML_BENCH_DROPS && half) : drop ? set == ML_BENCH_DROPS : set == ML_BENCH_HALF_AND_COLD)
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
with_slip (const MlBenchSlip *slip, const double *y)
{
  return slip->slip == ML_SLIP_SWAPPED ? -y[slip->at] : slip->slip == ML_SLIP_THOUSANDFOLD ? y[slip->at] / 1000 : y[slip->other];
}

static void
write_slip (GString *text, const GPtrArray *lines, const MlBenchSlip *slip, double *y)
{
  for (guint i = 0; i < lines->len; i++)
    {
      const char *line = g_ptr_array_index (lines, i), *mark = strrchr (line, '=');
      if ((int) i == slip->at)
        {
          y[i] = with_slip (slip, y);
          g_string_append_printf (text, "%.*s=%.6g\n", (int) (mark - line), line, y[i]);
        }
      else
        g_string_append (text, line);
    }
}

char *
ml_bench_readings (const MlBench *bench, MlTruth *unit, const char *unit_name, const GArray *which, guint64 seed, const MlBenchSlip *slip,
                   double *ret_y)
{
  static const MlBenchSlip NO_SLIP = { -1, ML_SLIP_NONE, 0 };
  MlTruthMeter meter = ml_truth_meter (&bench->all->meter, seed);
  g_autoptr (GPtrArray) lines = g_ptr_array_new_with_free_func (g_free);
  GString *text;
  for (guint i = 0; i < which->len; i++)
    {
      const MlTruthPlace *place = &g_array_index (bench->all->places, MlTruthPlace, g_array_index (which, guint, i));
      char *line = ml_truth_reading_line (bench->actual, unit, &meter, unit_name, place), *mark = line ? strrchr (line, '=') : NULL;
      if (!mark)
        {
          g_free (line);
          return NULL;
        }
      ret_y[i] = g_str_has_prefix (mark + 1, "OL") ? INFINITY : g_ascii_strtod (mark + 1, NULL);
      g_ptr_array_add (lines, line);
    }
  text = g_string_new (NULL);
  write_slip (text, lines, slip ? slip : &NO_SLIP, ret_y);
  return g_string_free (text, FALSE);
}

char *
ml_bench_job (const char *unit_name, const char *state, const char *readings)
{
  return g_strdup_printf ("meterleaf 1\njob \"Bench\"\nboard \"bench.leafboard\"\n"
                          "meter bench dc=0.5%%+2 ohms=0.8%%+3 counts=6000 input=10M\nunit %s %s\n%s", unit_name, state, readings);
}
