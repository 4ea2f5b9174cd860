/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The same input gives the same verdict to the last bit, whatever was judged before: what earlier stages and earlier readings left behind
 * only saves time. */
#include "support/demo-jobs.h"
#include "support/exam.h"
#include "support/near.h"

#include <string.h>

static void
append_probe (GString *text, const MlProbe *probe)
{
  g_string_append_printf (text, " %d.%d.%d.%d", probe->net, probe->part, probe->pin, probe->lead);
}

/* All numbers of a verdict, every bit of them. */
static char *
describe (const MlVerdict *verdict)
{
  GString *text = g_string_new (verdict->sentence);

  g_string_append_printf (text, "\n%a %a %a\n", verdict->healthy_probability, verdict->misfit_probability, verdict->rest_probability);
  for (guint i = 0; i < verdict->n_explanations; i++)
    g_string_append_printf (text, "explanation %a\n", verdict->explanations[i].probability);
  for (guint i = 0; i < verdict->n_parts; i++)
    g_string_append_printf (text, "part %d %a\n", verdict->parts[i].verdict, verdict->parts[i].probability);
  for (guint i = 0; i < verdict->n_readings; i++)
    g_string_append_printf (text, "reading %a %a %a %a\n", verdict->readings[i].healthy, verdict->readings[i].healthy_sigma, verdict->readings[i].explained,
                            verdict->readings[i].explained_sigma);
  for (guint i = 0; i < verdict->n_next; i++)
    {
      g_string_append_printf (text, "next %d %a", verdict->next[i].condition, verdict->next[i].bits);
      append_probe (text, &verdict->next[i].red);
      append_probe (text, &verdict->next[i].black);
      g_string_append_c (text, '\n');
    }
  return g_string_free (text, FALSE);
}

static char *
judge (MlJudge *own, MlJob *job, guint stage)
{
  g_autoptr (GError) error = NULL;
  g_autoptr (MlVerdict) verdict = ml_judge_run (own, job, -1, 0, stage, NULL, &error);

  assert_non_null (verdict);
  return describe (verdict);
}

static char *
read_demo (const char *name, const char *ending)
{
  g_autofree char *file = g_strconcat (name, ending, NULL), *path = g_build_filename (g_getenv ("METERLEAF_SOURCE"), "boards", file, NULL);
  char *text = NULL;

  assert_true (g_file_get_contents (path, &text, NULL, NULL));
  return text;
}

static MlJob *
read_job (MlBoard *board, const char *text)
{
  g_autoptr (MlText) lines = ml_text_new ("job", text, -1);
  g_autoptr (MlDiagnostics) diagnostics = ml_diagnostics_new ();
  MlJob *job = ml_job_read (lines, board, diagnostics);

  assert_int_equal (ml_diagnostics_n_errors (diagnostics), 0);
  return job;
}

/* Without its first reading line. */
static char *
shortened (const char *text)
{
  const char *line = strstr (text, "\nreading "), *end = strchr (line + 1, '\n');

  return g_strdup_printf ("%.*s%s", (int) (line - text), text, end);
}

static void
test_stages_leave_no_trace (void **state)
{
  for (guint i = 0; i < ML_N_DEMOS; i++)
    {
      g_autofree char *board_text = read_demo (ML_DEMOS[i].name, ".leafboard"), *text = read_demo (ML_DEMOS[i].name, ".leafjob"), *less = shortened (text);
      MlBoard *board = ml_exam_board ("board", board_text);
      g_autoptr (MlJob) job = read_job (board, text), shorter = read_job (board, less);
      char *fresh[3];

      for (guint stage = 0; stage < 3; stage++)
        {
          MlJudge *own = ml_judge_new (board);
          fresh[stage] = judge (own, job, stage);
          ml_judge_free (own);
        }
      MlJudge *used = ml_judge_new (board);
      g_free (judge (used, shorter, 2));
      for (guint k = 0; k < 4; k++)
        {
          g_autofree char *again = judge (used, job, k % 3);
          assert_string_equal (again, fresh[k % 3]);
        }
      ml_judge_free (used);
      for (guint stage = 0; stage < 3; stage++)
        g_free (fresh[stage]);
      ml_board_unref (board);
    }
}

int
main (void)
{
  const struct CMUnitTest tests[] = { cmocka_unit_test (test_stages_leave_no_trace) };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
