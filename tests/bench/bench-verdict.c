/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The verdict's stages as the window runs them: dictionary, then a job's first verdict, single faults refined with the next reading, and
 * the rest; then the first answer to one more reading, the exact first verdict, and the same when it has been foreseen in idle time. Each in milliseconds of processor time, and as a ratio to the bare linear algebra of the Newton
 * steps it took (klu_refactor and klu_solve of the same matrices); on a quiet machine also the time on the clock, with several threads less. bench-verdict [ROUNDS [SEED PARTS]…]; without seeds the demo jobs and
 * generated boards of 50 and 500 parts. Prints a table; asserts nothing. */
#include "bench/bench-kit.h"
#include "support/generate.h"
#include "support/models.h"
#include "verdict/foresee.h"
#include "verdict/good-unit.h"
#include "verdict/judge-private.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>

#define N_CONDITIONS 4
#define NETS_READ 6 /* per condition */
#define LONG_PARTS 200 /* from here on one round is enough */

typedef enum { DICTIONARY, FIRST, SINGLES, REST, GLANCE, ONE_MORE, FORESEEN, N_TIMED } Timed;

static const char *const NAMES[N_TIMED] = { "dictionary", "first verdict", "singles, next", "pairs, slips, cleared", "one more: at a glance",
                                              "one more: exactly", "the same, foreseen" };

typedef struct { double spent_s, waited_s, bare_s; long steps, peak_mb; } Cost; /* processor time of all threads; time on the clock; memory by then */

static double
clock_s (void)
{
  return (double) g_get_monotonic_time () / G_USEC_PER_SEC;
}

/* ---- counting ---- */

static long
peak_mb (void)
{
  struct rusage used;

  getrusage (RUSAGE_SELF, &used);
  return used.ru_maxrss / 1024;
}

static void
count_steps (const MlDictionary *dictionary, GHashTable *steps)
{
  for (guint c = 0; dictionary && c < dictionary->model->board->n_conditions; c++)
    if (dictionary->model->conditions[c].solver)
      g_hash_table_insert (steps, dictionary->model->conditions[c].solver,
                           GSIZE_TO_POINTER (ml_nodal_solver_counts (dictionary->model->conditions[c].solver).newton_steps));
}

/* Newton steps so far, by solver: of all that the judge works with. */
static GHashTable *
all_steps (const MlJudge *judge)
{
  GHashTable *steps = g_hash_table_new (NULL, NULL);

  count_steps (judge->base, steps);
  count_steps (judge->variant, steps);
  for (guint i = 0; judge->goods && i < judge->goods->len; i++)
    count_steps (((const MlGoodUnit *) judge->goods->pdata[i])->dictionary, steps);
  return steps;
}

/* What has been done since; the table is freed. */
static void
take_cost (const MlJudge *judge, GHashTable *before, Cost *cost)
{
  g_autoptr (GHashTable) after = all_steps (judge);
  GHashTableIter iter;
  gpointer solver, n;

  cost->steps = 0;
  cost->bare_s = 0;
  g_hash_table_iter_init (&iter, after);
  while (g_hash_table_iter_next (&iter, &solver, &n))
    {
      long steps = (long) (GPOINTER_TO_SIZE (n) - GPOINTER_TO_SIZE (g_hash_table_lookup (before, solver)));

      cost->steps += steps;
      cost->bare_s += steps ? (double) steps * bench_bare_step_s (solver, 500) : 0;
    }
  g_hash_table_unref (before);
}

/* ---- boards and jobs ---- */

static gboolean
is_driven (const MlCondition *condition, guint net)
{
  for (guint s = 0; s < condition->n_supplies; s++)
    if ((guint) condition->supplies[s].plus == net || (guint) condition->supplies[s].minus == net)
      return TRUE;
  return FALSE;
}

static void
append_volts (GString *text, MlJudge *judge, int condition, int net, const MlFault *fault)
{
  const MlBoard *board = judge->board;
  MlProbe red = { .net = net, .part = -1, .pin = -1 }, black = { .net = board->reference, .part = -1, .pin = -1 };
  MlMeter meter = { .input_ohm = 10e6 };
  double value = ml_judge_expect (judge, condition, fault, 1, NULL, ML_READS_VOLTS, &red, &black, -1, &meter, NULL);
  char number[G_ASCII_DTOSTR_BUF_SIZE];

  if (isfinite (value))
    g_string_append_printf (text, "reading u %s red=%s volts=%s\n", board->conditions[condition].name, board->nets[net].name,
                            g_ascii_formatd (number, sizeof number, "%.4f", value));
}

/* A part in the middle of the board is open. */
static char *
generated_job (MlJudge *judge, char **ret_more)
{
  const MlBoard *board = judge->board;
  GString *text = g_string_new ("meterleaf 1\njob \"Bench\"\nboard \"bench.leafboard\"\nmeter bench dc=0.5%+2 counts=6000 input=10M\nunit u suspect\n");
  g_autoptr (GString) more = g_string_new (NULL);
  guint part = board->n_parts / 2;
  MlFault fault = { .kind = ML_FAULT_OPEN, .net_a = -1, .net_b = -1, .size = NAN, .pins = { 0 }, .n_pins = 1 };
  guint step = MAX (board->n_nets / NETS_READ, 1);

  while (board->parts[part].kind->kind != ML_KIND_RESISTOR || board->parts[part].pins[1].net == board->reference)
    part++;
  fault.part = (int) part;
  for (guint c = 0; c < board->n_conditions; c++)
    for (guint k = 0, net = c % step; k < NETS_READ; k++, net = (net + step) % board->n_nets)
      if (!is_driven (&board->conditions[c], net) && (int) net != board->reference)
        append_volts (text, judge, (int) c, (int) net, &fault);
  append_volts (more, judge, 0, board->parts[part].pins[1].net, &fault);
  *ret_more = g_strconcat (text->str, more->str, NULL);
  return g_string_free (text, FALSE);
}

/* A demo job, and the same with a net read in a condition where the suspect has not been read there. */
static char *
demo_more (MlBoard *board, const char *text)
{
  g_autoptr (MlJob) job = ml_test_job (board, text);
  int unit = ml_job_suspect (job);

  for (guint net = 0; net < board->n_nets; net++)
    for (guint c = 0; c < board->n_conditions; c++)
      {
        gboolean read = is_driven (&board->conditions[c], net) || (int) net == board->reference || !board->conditions[c].n_supplies;

        for (guint i = 0; i < job->n_readings; i++)
          read |= job->readings[i].unit == unit && job->readings[i].condition == (int) c && job->readings[i].red.net == (int) net;
        if (!read)
          return g_strdup_printf ("%s\nreading %s %s red=%s volts=1\n", text, job->units[unit].name, board->conditions[c].name, board->nets[net].name);
      }
  return g_strdup (text);
}

/* ---- timing ---- */

/* stage -1: at a glance. */
static void
run_stage (MlJudge *judge, MlJob *job, int stage, gboolean count, Cost *cost)
{
  GHashTable *before = all_steps (judge);
  double start = bench_now_s (), began = clock_s ();
  MlVerdict *verdict = stage < 0 ? ml_judge_glance (judge, job, -1, 0) : ml_judge_run (judge, job, -1, 0, (guint) stage, NULL, NULL);

  cost->spent_s = MIN (cost->spent_s, bench_now_s () - start);
  cost->waited_s = MIN (cost->waited_s, clock_s () - began);
  if (count)
    cost->peak_mb = peak_mb ();
  if (count)
    take_cost (judge, before, cost);
  else
    g_hash_table_unref (before);
  ml_verdict_unref (verdict);
}

/* Everything about the longer job's last reading that can be known before it is taken. */
static void
foresee (MlJudge *judge, MlJob *job, MlJob *longer)
{
  MlVerdict *verdict = ml_judge_run (judge, job, -1, 0, 0, NULL, NULL);
  MlCase *own = ml_case_new (judge->variant ? judge->variant : judge->base, job, verdict->unit, verdict->pass);
  MlReadingPlace place;

  if (ml_case_find_place (own, &longer->readings[longer->n_readings - 1], FALSE, &place))
    {
      guint at = ml_dictionary_place (own->dictionary, &place);
      ml_case_foresee (own, &at, 1, NULL, NULL);
    }
  ml_case_free (own);
  ml_verdict_unref (verdict);
}

static void
time_round (MlBoard *board, const char *text, const char *more, gboolean count, Cost *costs)
{
  g_autoptr (MlJob) job = ml_test_job (board, text), longer = ml_test_job (board, more);
  MlJudge *judge = ml_judge_new (board);
  double start = bench_now_s (), began = clock_s ();

  ml_judge_prepare (judge, NULL, NULL, NULL, NULL);
  costs[DICTIONARY].spent_s = MIN (costs[DICTIONARY].spent_s, bench_now_s () - start);
  costs[DICTIONARY].waited_s = MIN (costs[DICTIONARY].waited_s, clock_s () - began);
  if (count)
    costs[DICTIONARY].peak_mb = peak_mb ();
  if (count)
    take_cost (judge, g_hash_table_new (NULL, NULL), &costs[DICTIONARY]);
  for (int stage = 0; stage <= 2; stage++)
    run_stage (judge, job, stage, count, &costs[FIRST + stage]);
  run_stage (judge, longer, -1, count, &costs[GLANCE]);
  run_stage (judge, longer, 0, count, &costs[ONE_MORE]);
  foresee (judge, job, longer);
  run_stage (judge, longer, 0, count, &costs[FORESEEN]);
  ml_judge_free (judge);
}

static void
report (const char *name, MlBoard *board, const char *text, const char *more, guint rounds)
{
  Cost costs[N_TIMED];
  MlDictionary *dictionary = ml_dictionary_new (ml_model_new (board, NULL));
  g_autoptr (MlJob) job = ml_test_job (board, text);

  for (guint i = 0; i < N_TIMED; i++)
    costs[i] = (Cost){ .spent_s = INFINITY, .waited_s = INFINITY };
  for (guint round = 0; round < rounds; round++)
    time_round (board, text, more, round == 0, costs);
  g_print ("%s: %u parts, %u conditions, %u readings, %u states\n", name, board->n_parts, board->n_conditions, job->n_readings, dictionary->n_early);
  for (guint i = 0; i < N_TIMED; i++)
    g_print ("  %-22s %9.1f ms (%.1f on the clock)  %7ld Newton steps, %6.2f times their klu_refactor + klu_solve, %5ld MB by then\n", NAMES[i],
             1e3 * costs[i].spent_s, 1e3 * costs[i].waited_s, costs[i].steps, costs[i].bare_s > 0 ? costs[i].spent_s / costs[i].bare_s : NAN,
             costs[i].peak_mb);
  ml_dictionary_free (dictionary);
}

static char *
read_demo (const char *name, const char *ending)
{
  g_autofree char *path = g_strconcat ("boards/", name, ending, NULL);

  return ml_test_file (path);
}

static void
report_demo (const char *name, guint rounds)
{
  g_autofree char *board_text = read_demo (name, ".leafboard"), *text = read_demo (name, ".leafjob");
  g_autoptr (MlBoard) board = ml_test_board (board_text);
  g_autofree char *more = demo_more (board, text);

  report (name, board, text, more, rounds);
}

static void
report_generated (guint64 seed, guint n_parts, guint rounds)
{
  g_autofree char *board_text = ml_generate_conditions (seed, n_parts, N_CONDITIONS), *name = g_strdup_printf ("generated %u", (guint) seed), *more = NULL;
  g_autoptr (MlBoard) board = ml_test_board (board_text);
  MlJudge *judge = ml_judge_new (board);
  g_autofree char *text = generated_job (judge, &more);

  ml_judge_free (judge);
  if (g_getenv ("METERLEAF_BENCH_KEEP")) /* a folder: to judge the same by hand */
    {
      g_autofree char *board_path = g_strdup_printf ("%s/bench.leafboard", g_getenv ("METERLEAF_BENCH_KEEP"));
      g_autofree char *job_path = g_strdup_printf ("%s/%u-%u.leafjob", g_getenv ("METERLEAF_BENCH_KEEP"), (guint) seed, n_parts);
      g_file_set_contents (board_path, board_text, -1, NULL);
      g_file_set_contents (job_path, more, -1, NULL);
    }
  report (name, board, text, more, n_parts < LONG_PARTS ? rounds : 1);
}

int
main (int argc, char **argv)
{
  guint rounds = argc > 1 ? (guint) MAX (atoi (argv[1]), 1) : 3;

  for (int i = 2; i + 1 < argc; i += 2)
    report_generated ((guint64) atoi (argv[i]), (guint) atoi (argv[i + 1]), rounds);
  if (argc > 2)
    return 0;
  report_demo ("dust-switch", rounds);
  report_demo ("signal-board", rounds);
  report_demo ("vent-controller", rounds);
  for (guint64 seed = 1; seed <= 3; seed++)
    report_generated (seed, 50, rounds);
  report_generated (1, 500, 1);
  return 0;
}
