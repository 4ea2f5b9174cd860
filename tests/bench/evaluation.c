/* SPDX-License-Identifier: GPL-3.0-or-later */
/* evaluation [JOBS [BOARDS [FIRST-SEED [STRATUM [BOARD]]]]]: how well the verdict names the faulty part, beside a nearest-signature dictionary and
 * a Bayes classifier that knows the true spreads, on the same jobs in one run. JOBS per stratum and board; BOARDS generated ones and,
 * from 10 on (and with 0) those of boards/, tests/drawing/boards and tests/bench/boards (chopped nets) too that the truth program can compute;
 * STRATUM: only those whose name contains it, behind a ! only those whose name does not; BOARD: of our own boards only those whose file name
 * contains it. METERLEAF_EXAM_VERBOSE=1 tells every miss.
 * What was counted so far is printed after every tenth board. */
#include "bench/bench.h"

#include "support/generate.h"
#include "support/near.h"
#include "support/size.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define N_SAMPLES 60       /* of the Bayes classifier, per mode and size */
#define N_SAMPLES_LARGE 24 /* of our own boards, which are larger, and of cold readings: most of the time would go into these */
#define OWN_BOARD_SEED 900
#define LONG_RUN 10
#define BOARDS_BETWEEN_PRINTS 10 /* a long run that is stopped leaves what it has found so far */

static const MlStratum STRATA[] = {
  { "clean single faults, all readings", ml_stratum_all, FALSE },
  { "clean single faults, half of the nets", ml_stratum_half, FALSE },
  { "clean single faults, only drops across semiconductors", ml_stratum_drops, FALSE },
  { "healthy", ml_stratum_healthy, FALSE },
  { "one reading with a slip", ml_stratum_slip, FALSE },
  { "two faults", ml_stratum_doubles, FALSE },
  { "with a good unit", ml_stratum_good_unit, FALSE },
  { "unknown block", ml_stratum_blocks, FALSE },
  { "cold readings beside half of the nets", ml_stratum_cold, TRUE },
  { "off-model", ml_stratum_off_model, FALSE },
  { "wrong drawing", ml_stratum_drawings, FALSE },
  { "chopped nets", ml_stratum_chopped, FALSE },
};

/* Half of the values unread, one chip unknown: on boards of their own, one row for each way of support/exam-unread.h. */
static const char *const UNREAD[ML_UNREAD_N_WAYS] = { "half unread", "half unread, with a good unit", "half unread, with cold readings" };

#define N_STRATA (G_N_ELEMENTS (STRATA) + ML_UNREAD_N_WAYS)

static const char *
stratum_name (guint i)
{
  return i < G_N_ELEMENTS (STRATA) ? STRATA[i].name : UNREAD[i - G_N_ELEMENTS (STRATA)];
}

/* What even a short run must reach: the wanted share within the interval of the share found. From the product's promises, loosened to
 * what holds today; tightened as the verdict improves. */
static const struct { const char *stratum, *what; double share; gboolean most; guint n; } DEMANDS[] = {
  { "clean single faults, all readings", "right group first: verdict", 0.92, FALSE, 5 },
  { "clean single faults, all readings", "within the first three: verdict", 0.99, FALSE, 5 },
  { "clean single faults, all readings", "faulty part called cleared", 0.005, TRUE, 5 },
  { "healthy", "healthy called healthy: verdict", 0.95, FALSE, 5 },
  { "one reading with a slip", "right group first: verdict", 0.8, FALSE, 3 },
  { "two faults", "first part right or tied: verdict", 0.8, FALSE, 2 },
  { "wrong drawing", "a good part above 0.8: verdict", 0.1, TRUE, 2 },
  { "half unread", "right group first", 0.85, FALSE, 5 },
  { "half unread", "a good part above 0.8", 0.02, TRUE, 5 },
  { "half unread, with a good unit", "right group first", 0.8, FALSE, 5 },
  { "half unread, with a good unit", "a good part above 0.8", 0.02, TRUE, 5 },
  { "half unread, with cold readings", "right group first", 0.85, FALSE, 5 },
  { "half unread, with cold readings", "a good part above 0.8", 0.02, TRUE, 5 },
};

typedef struct { guint per_board, n_generated; guint64 first; const char *only, *own; MlTally *tallies[N_STRATA]; MlTally *boards; guint n_done; } Run;

static gboolean
is_wanted (const Run *run, const char *stratum)
{
  if (!run->only)
    return TRUE;
  return run->only[0] == '!' ? !strstr (stratum, run->only + 1) : strstr (stratum, run->only) != NULL;
}

/* Fault modes with a size drawn, of the boards as they are. */
static void
count_unseen_faults (Run *run, const MlBench *bench)
{
  for (guint i = 0; i < bench->n_drawn; i++)
    ml_tally_count (run->boards, "fault modes that no d.c. reading of the powered board shows", i >= bench->visible->len);
}

static void
run_strata (Run *run, const char *name, const char *drawn, const char *actual, guint64 seed, guint n_samples, gboolean cold)
{
  gboolean any = FALSE;
  for (guint i = 0; i < G_N_ELEMENTS (STRATA); i++)
    any = any || (STRATA[i].cold == cold && is_wanted (run, STRATA[i].name));
  MlBench *bench = any ? ml_bench_open (name, drawn, actual, seed, n_samples, cold) : NULL;
  if (any && !bench)
    print_message ("%s: left out, the truth program cannot compute it\n", name);
  if (!bench)
    return;
  if (!cold)
    count_unseen_faults (run, bench);
  for (guint i = 0; i < G_N_ELEMENTS (STRATA); i++)
    for (guint k = 0; k < run->per_board; k++)
      if (STRATA[i].cold == cold && is_wanted (run, STRATA[i].name))
        STRATA[i].run (bench, seed * 100000 + i * 1000 + k, run->tallies[i]);
  ml_bench_free (bench);
}

static void
print_all (const Run *run)
{
  ml_tally_print (run->boards);
  for (guint i = 0; i < N_STRATA; i++)
    ml_tally_print (run->tallies[i]);
}

static void
count_done (Run *run)
{
  if (++run->n_done % BOARDS_BETWEEN_PRINTS)
    return;
  print_message ("==== after %u boards\n", run->n_done);
  print_all (run);
  fflush (NULL);
}

/* METERLEAF_EVALUATION_ASSUME="NAME VALUE; NAME VALUE": the boards are judged under these assumptions, to try one without building anew. */
static char *
with_assumptions (const char *drawn)
{
  const char *wanted = g_getenv ("METERLEAF_EVALUATION_ASSUME");
  GString *text = g_string_new (drawn);
  g_auto (GStrv) each = g_strsplit (wanted ? wanted : "", ";", -1);
  for (guint i = 0; each[i]; i++)
    if (*g_strstrip (each[i]))
      g_string_append_printf (text, "\nassume %s\n", each[i]);
  return g_string_free (text, FALSE);
}

/* METERLEAF_EVALUATION_SAMPLES=N: fewer of the Bayes classifier, which then says little, where only the verdict is looked at. */
static guint
samples (guint usual)
{
  const char *wanted = g_getenv ("METERLEAF_EVALUATION_SAMPLES");

  return wanted ? MAX ((guint) atoi (wanted), 1) : usual;
}

static void
run_board (Run *run, const char *name, const char *drawn, const char *actual, guint64 seed, guint n_samples)
{
  g_autofree char *assumed = with_assumptions (drawn);
  g_autofree char *cold_drawn = g_strconcat (assumed, "\ncondition unpowered\n", NULL), *cold_actual = g_strconcat (actual, "\ncondition unpowered\n", NULL);
  run_strata (run, name, assumed, actual, seed, n_samples, FALSE);
  run_strata (run, name, cold_drawn, cold_actual, seed, samples (N_SAMPLES_LARGE), TRUE);
}

static int
by_name (gconstpointer a, gconstpointer b)
{
  return strcmp (*(const char *const *) a, *(const char *const *) b);
}

/* Drawn for the sake of the drawing, without a condition to measure in, or with none but its battery's. */
static const struct { const char *file, *condition; } WITHOUT_CONDITION[] = {
  { "bench-supply.leafboard", "\ncondition bench\n  supply plus=AC1 minus=AC2 voltage=15 limit=500m\n  supply plus=V33 minus=GND2 voltage=3.3 limit=100m\n"
                              "  connect GND GND2\n  set RV1 position=20%\n" },
  { "resistor-ladder.leafboard", "\ncondition five\n  supply plus=B0 minus=GND voltage=5 limit=100m\n  supply plus=B2 minus=GND voltage=5 limit=100m\n"
                                 "  connect B1 GND\n  connect B3 GND\n"
                                 "condition ten\n  supply plus=B1 minus=GND voltage=5 limit=100m\n  supply plus=B3 minus=GND voltage=5 limit=100m\n"
                                 "  connect B0 GND\n  connect B2 GND\n" },
  { "shelf-light.leafboard", "\ncondition bench\n  supply plus=CELL minus=GND voltage=5 limit=2\n  remove BT1\n  set S1 closed\n" },
  { "soil-moisture.leafboard", "\ncondition bench\n  supply plus=VB minus=GND voltage=9 limit=200m\n  remove BT1\n  set S1 closed\n" },
};

static char *
with_condition (const char *file, const char *text)
{
  for (guint i = 0; i < G_N_ELEMENTS (WITHOUT_CONDITION); i++)
    if (!strcmp (file, WITHOUT_CONDITION[i].file))
      return g_strconcat (text, WITHOUT_CONDITION[i].condition, NULL);
  return g_strdup (text);
}

static void
run_own_boards (Run *run, const char *folder, guint64 seed)
{
  g_autofree char *path = g_build_filename (g_getenv ("METERLEAF_SOURCE"), folder, NULL);
  g_autoptr (GPtrArray) names = g_ptr_array_new_with_free_func (g_free);
  GDir *directory = g_dir_open (path, 0, NULL);
  for (const char *name = directory ? g_dir_read_name (directory) : NULL; name; name = g_dir_read_name (directory))
    if (g_str_has_suffix (name, ".leafboard"))
      g_ptr_array_add (names, g_strdup (name));
  g_clear_pointer (&directory, g_dir_close);
  g_ptr_array_sort (names, by_name);
  for (guint i = 0; i < names->len; i++)
    {
      g_autofree char *file = g_build_filename (path, g_ptr_array_index (names, i), NULL), *text = NULL;
      const char *name = g_ptr_array_index (names, i);
      if ((run->own && !strstr (name, run->own)) || !g_file_get_contents (file, &text, NULL, NULL))
        continue;
      g_autofree char *whole = with_condition (name, text);
      run_board (run, name, whole, whole, seed + i, samples (N_SAMPLES_LARGE));
      count_done (run);
    }
}

static void
run_unread (Run *run, guint64 seed, guint n_parts)
{
  gboolean wanted[ML_UNREAD_N_WAYS], any = FALSE;
  MlUnreadBoard board;
  for (MlUnreadWay way = 0; way < ML_UNREAD_N_WAYS; way++)
    any |= wanted[way] = is_wanted (run, UNREAD[way]);
  if (!any)
    return;
  ml_unread_open (&board, seed, n_parts);
  for (MlUnreadWay way = 0; way < ML_UNREAD_N_WAYS; way++)
    if (wanted[way])
      ml_stratum_unread (&board, way, seed * 100000 + (G_N_ELEMENTS (STRATA) + way) * 1000, run->per_board, run->tallies[G_N_ELEMENTS (STRATA) + way]);
  ml_unread_close (&board);
}

/* METERLEAF_EVALUATION_SKIP=N: the first N are passed over, to see a later one again; how large a board is goes by its place in the row. */
static void
run_generated (Run *run)
{
  const char *skip = g_getenv ("METERLEAF_EVALUATION_SKIP");

  for (guint i = skip ? (guint) atoi (skip) : 0; i < run->n_generated; i++)
    {
      g_autofree char *drawn = NULL, *actual = NULL, *name = g_strdup_printf ("generated %" G_GUINT64_FORMAT, run->first + i);
      ml_generate_pair (run->first + i, 5 + i % 11, &drawn, &actual);
      run_board (run, name, drawn, actual, run->first + i, samples (N_SAMPLES));
      run_unread (run, run->first + i, 10 + i % 6);
      count_done (run);
    }
}

static gboolean
meets_demands (const Run *run)
{
  gboolean all = TRUE;
  for (guint i = 0; i < G_N_ELEMENTS (DEMANDS); i++)
    for (guint k = 0; k < N_STRATA; k++)
      {
        const MlTally *tally = run->tallies[k];
        if (strcmp (stratum_name (k), DEMANDS[i].stratum) || !is_wanted (run, stratum_name (k)))
          continue;
        if (DEMANDS[i].most ? ml_tally_stays_below (tally, DEMANDS[i].what, DEMANDS[i].share, DEMANDS[i].n)
                            : ml_tally_reaches (tally, DEMANDS[i].what, DEMANDS[i].share, DEMANDS[i].n))
          continue;
        print_message ("not met: %s: %s: at %s %.3f of at least %u\n", DEMANDS[i].stratum, DEMANDS[i].what, DEMANDS[i].most ? "most" : "least",
                       DEMANDS[i].share, DEMANDS[i].n);
        all = FALSE;
      }
  return all;
}

int
main (int argc, char **argv)
{
  Run run = { .per_board = argc > 1 ? atoi (argv[1]) : 3, .n_generated = argc > 2 ? atoi (argv[2]) : 6,
              .first = argc > 3 ? g_ascii_strtoull (argv[3], NULL, 10) : 101, .only = argc > 4 ? argv[4] : NULL,
              .own = argc > 5 ? argv[5] : NULL };
  run.per_board = MIN (run.per_board, ml_test_size (G_MAXUINT, 1));
  run.n_generated = MIN (run.n_generated, ml_test_size (G_MAXUINT, 1));
  for (guint i = 0; i < N_STRATA; i++)
    run.tallies[i] = ml_tally_new (stratum_name (i));
  run.boards = ml_tally_new ("boards");
  if (run.n_generated >= LONG_RUN || !run.n_generated)
    {
      run_own_boards (&run, "boards", OWN_BOARD_SEED);
      run_own_boards (&run, "tests/drawing/boards", OWN_BOARD_SEED + 20);
      run_own_boards (&run, "tests/bench/boards", OWN_BOARD_SEED + 60);
    }
  run_generated (&run);
  print_all (&run);
  gboolean met = meets_demands (&run) || ml_test_is_small (); /* shares of a few cases tell nothing */
  for (guint i = 0; i < N_STRATA; i++)
    ml_tally_free (run.tallies[i]);
  ml_tally_free (run.boards);
  return met ? 0 : 1;
}
