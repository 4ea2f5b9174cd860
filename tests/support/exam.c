/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/exam.h"

#include "support/near.h"

#include <math.h>
#include <string.h>

#define GROUP_FACTOR 3.0

gboolean
ml_exam_is_readable (const char *text)
{
  g_autoptr (MlText) content = ml_text_new ("drawing", text, -1);
  g_autoptr (MlDiagnostics) diagnostics = ml_diagnostics_new ();
  G_GNUC_UNUSED g_autoptr (MlBoard) board = ml_board_read (content, diagnostics);

  return ml_diagnostics_n_errors (diagnostics) == 0;
}

MlBoard *
ml_exam_board (const char *name, const char *text)
{
  return ml_test_board (text);
}

MlVerdict *
ml_exam_judge_text (MlJudge *judge, MlBoard *board, const char *job_text, guint stage)
{
  g_autoptr (MlJob) job = ml_test_job (board, job_text);
  g_autoptr (GError) error = NULL;
  MlVerdict *verdict = ml_judge_run (judge, job, -1, 0, stage, NULL, &error);
  if (!verdict)
    {
      print_error ("%s\n%s\n", error->message, job_text);
      fail ();
    }
  return verdict;
}

void
ml_exam_bench_open (MlExamBench *bench, const char *board_text, const char *job_text)
{
  bench->board = ml_test_board (board_text);
  bench->judge = ml_judge_new (bench->board);
  bench->verdict = ml_exam_judge_text (bench->judge, bench->board, job_text, 2);
  bench->job = bench->verdict->job;
}

void
ml_exam_bench_close (MlExamBench *bench)
{
  ml_verdict_unref (bench->verdict);
  ml_judge_free (bench->judge);
  ml_board_unref (bench->board);
}

typedef struct { int part; double probability; } Ranked;

static int
compare_ranked (gconstpointer a, gconstpointer b)
{
  const Ranked *x = a, *y = b;
  return x->probability > y->probability ? -1 : x->probability < y->probability ? 1 : x->part - y->part;
}

static double
drawing_mass (const MlVerdict *verdict)
{
  double mass = 0;
  for (guint i = 0; i < verdict->n_explanations; i++)
    if (verdict->explanations[i].explains == ML_EXPLAINS_DRAWING)
      mass = MAX (mass, verdict->explanations[i].probability);
  return mass;
}

MlVerdict *
ml_exam_judge_readings (const char *board_text, const char *lines)
{
  g_autoptr (MlBoard) board = ml_exam_board ("b", board_text);
  g_autoptr (MlJudge) own = ml_judge_new (board);
  g_autofree char *text = g_strconcat ("meterleaf 1\njob \"T\"\nboard \"b.leafboard\"\nmeter bench dc=0.5%+2 ohms=0.8%+3 counts=6000 input=10M\n"
                                       "unit u suspect\n", lines, NULL);
  return ml_exam_judge_text (own, board, text, 2);
}

void
ml_exam_keep (const char *folder, guint64 seed, const char *board_text, const char *job_text)
{
  if (!folder)
    return;
  g_autofree char *job = g_strdup_printf ("%s/%" G_GUINT64_FORMAT ".leafjob", folder, seed);
  g_autofree char *board = g_strdup_printf ("%s/%" G_GUINT64_FORMAT ".leafboard", folder, seed);
  g_autofree char *line = g_strdup_printf ("\nboard \"%" G_GUINT64_FORMAT ".leafboard\"", seed);
  g_autoptr (GRegex) names_board = g_regex_new ("\nboard \"[^\"]*\"", 0, 0, NULL);
  g_autofree char *words = g_regex_replace_literal (names_board, job_text, -1, 0, line, 0, NULL);
  if (!g_file_set_contents (job, words, -1, NULL) || !g_file_set_contents (board, board_text, -1, NULL))
    print_message ("%s: cannot write there\n", folder);
}

void
ml_exam_answer (const MlVerdict *verdict, MlExamAnswer *ret_answer)
{
  g_autofree Ranked *ranked = g_new0 (Ranked, verdict->n_parts + 1);
  *ret_answer = (MlExamAnswer) { .group = g_new0 (int, verdict->n_parts + 1) };
  for (guint i = 0; i < verdict->n_parts; i++)
    ranked[i] = (Ranked) { i, verdict->parts[i].probability };
  qsort (ranked, verdict->n_parts, sizeof *ranked, compare_ranked);
  double first = ret_answer->largest = verdict->n_parts ? ranked[0].probability : 0, drawing = drawing_mass (verdict);
  ret_answer->leads = ML_EXPLAINS_FAULT;
  if (verdict->healthy_probability > first && verdict->healthy_probability >= verdict->misfit_probability)
    ret_answer->leads = ML_EXPLAINS_HEALTHY;
  else if (verdict->misfit_probability > first)
    ret_answer->leads = ML_EXPLAINS_MISFIT;
  if (drawing > MAX (first, MAX (verdict->healthy_probability, verdict->misfit_probability)))
    ret_answer->leads = ML_EXPLAINS_DRAWING;
  for (guint i = 0; i < verdict->n_parts && ranked[i].probability * GROUP_FACTOR >= first; i++)
    {
      ret_answer->group[ret_answer->n_group++] = ranked[i].part;
      ret_answer->group_mass += ranked[i].probability;
    }
}

void
ml_exam_answer_clear (MlExamAnswer *answer)
{
  g_clear_pointer (&answer->group, g_free);
}

gboolean
ml_exam_has_part (const MlExamAnswer *answer, int part)
{
  for (guint i = 0; i < answer->n_group; i++)
    if (answer->group[i] == part)
      return TRUE;
  return FALSE;
}

gboolean
ml_exam_is_right (MlTruthCase *c, const MlFault *fault, const MlExamAnswer *answer)
{
  if (answer->leads != ML_EXPLAINS_FAULT)
    return FALSE;
  for (guint i = 0; i < answer->n_group; i++)
    if (!ml_truth_case_tied (c, fault, answer->group[i]))
      return FALSE;
  return TRUE;
}

void
ml_exam_count (MlExamScore *score, gboolean right)
{
  score->asked++;
  score->right += right ? 1 : 0;
}

double
ml_exam_share (const MlExamScore *score, double *ret_low, double *ret_high)
{
  const double z = 1.959964;
  double n = score->asked, p = n ? score->right / n : NAN, middle = (p + z * z / (2 * n)) / (1 + z * z / n);
  double half = z / (1 + z * z / n) * sqrt (p * (1 - p) / n + z * z / (4 * n * n));
  *ret_low = MAX (middle - half, 0);
  *ret_high = MIN (middle + half, 1);
  return p;
}

void
ml_exam_print (const char *what, const MlExamScore *score)
{
  double low, high, share = ml_exam_share (score, &low, &high);
  print_message ("%-64s %4u of %4u  %.3f  (95 %%: %.3f to %.3f)\n", what, score->right, score->asked, share, low, high);
}

/* ---- a slip in the drawing ---- */

static gboolean
is_connection (const MlPart *part, const char *word)
{
  g_autofree char *name = g_strndup (word, strcspn (word, "="));
  return strchr (word, '=') && ml_part_find_pin (part, name) >= 0;
}

static void
exchange_nets (char **words, guint a, guint b)
{
  char *cut_a = strchr (words[a], '=') + 1, *cut_b = strchr (words[b], '=') + 1;
  char *new_a = g_strdup_printf ("%.*s%s", (int) (cut_a - words[a]), words[a], cut_b);
  char *new_b = g_strdup_printf ("%.*s%s", (int) (cut_b - words[b]), words[b], cut_a);
  g_free (words[a]);
  g_free (words[b]);
  words[a] = new_a;
  words[b] = new_b;
}

static void
move_to_net (char **words, guint a, const char *net)
{
  char *moved = g_strdup_printf ("%.*s%s", (int) (strchr (words[a], '=') + 1 - words[a]), words[a], net);
  g_free (words[a]);
  words[a] = moved;
}

/* Half of the slips exchange two pins of a part, half put one pin on a net where it does not belong. */
static char *
misdrawn_line (const MlBoard *board, const MlPart *part, const char *line, MlRandom *random)
{
  g_auto (GStrv) words = g_strsplit (line, " ", -1);
  guint at[8], n = 0;
  for (guint i = 0; words[i] && n < G_N_ELEMENTS (at); i++)
    if (is_connection (part, words[i]))
      at[n++] = i;
  if (n < 2)
    return NULL;
  guint a = at[ml_random_below (random, n)], b = at[ml_random_below (random, n)];
  if (ml_random_chance (random, 0.5) && a != b)
    exchange_nets (words, a, b);
  else
    move_to_net (words, a, board->nets[ml_random_below (random, board->n_nets)].name);
  return g_strjoinv (" ", words);
}

char *
ml_exam_misdraw (const char *board_text, guint64 seed, char **ret_part)
{
  MlRandom random = ml_random_seeded (seed);
  g_autoptr (MlBoard) board = ml_exam_board ("misdraw", board_text);
  const MlPart *part = &board->parts[ml_random_below (&random, board->n_parts)];
  g_auto (GStrv) lines = g_strsplit (board_text, "\n", -1);
  char *line = misdrawn_line (board, part, lines[part->line - 1], &random);
  gboolean changed = line && strcmp (line, lines[part->line - 1]);
  if (line)
    {
      g_free (lines[part->line - 1]);
      lines[part->line - 1] = line;
    }
  if (!changed)
    return NULL;
  *ret_part = g_strdup (part->name);
  return g_strjoinv ("\n", lines);
}
