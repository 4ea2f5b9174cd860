/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The demo jobs: their readings are those of the documented fault, and the verdict finds it. */
#include "support/demo-jobs.h"
#include "support/exam.h"
#include "support/near.h"

#include <string.h>

typedef struct { MlBoard *board; MlJob *job; char *job_text; MlVerdict *verdict; } Demo;

static Demo demos[ML_N_DEMOS]; /* judged once for all tests */

static char *
demo_path (guint demo, const char *ending)
{
  return g_strdup_printf ("%s/boards/%s.%s", g_getenv ("METERLEAF_SOURCE"), ML_DEMOS[demo].name, ending);
}

static void
open_demo (guint i, Demo *ret)
{
  g_autofree char *path = demo_path (i, "leafjob");
  g_autoptr (MlDiagnostics) diagnostics = ml_diagnostics_new ();
  g_autoptr (GError) error = NULL;
  ret->job = ml_job_load (path, diagnostics, &error);
  assert_non_null (ret->job);
  assert_int_equal (ml_diagnostics_n_errors (diagnostics), 0);
  assert_true (g_file_get_contents (path, &ret->job_text, NULL, NULL));
  ret->board = ret->job->board;
  g_autoptr (MlJudge) judge = ml_judge_new (ret->board);
  assert_true (ml_judge_prepare (judge, NULL, NULL, NULL, &error));
  ret->verdict = ml_judge_run (judge, ret->job, -1, 0, 2, NULL, &error);
  if (!ret->verdict)
    print_error ("%s\n", error->message);
  assert_non_null (ret->verdict);
}

static int
judge_demos (void **state)
{
  for (guint i = 0; i < ML_N_DEMOS; i++)
    open_demo (i, &demos[i]);
  return 0;
}

static int
close_demos (void **state)
{
  for (guint i = 0; i < ML_N_DEMOS; i++)
    {
      ml_verdict_unref (demos[i].verdict);
      ml_job_unref (demos[i].job);
      g_free (demos[i].job_text);
    }
  return 0;
}

/* The truth program computes every reading of the file again: what stands there comes from the stated fault and nothing else. */
static void
test_demos_readings_come_from_stated_fault (void **state)
{
  for (guint i = 0; i < ML_N_DEMOS; i++)
    {
      g_autofree char *again = ml_demo_fill (i, demos[i].board, demos[i].job_text);
      assert_string_equal (again, demos[i].job_text);
    }
}

static guint
n_cleared (const Demo *demo)
{
  guint n = 0;

  for (guint k = 0; k < demo->verdict->n_parts; k++)
    n += demo->verdict->parts[k].verdict == ML_VERDICT_CLEARED;
  return n;
}

static void
test_demos_name_the_culprit (void **state)
{
  for (guint i = 0; i < ML_N_DEMOS; i++)
    {
      const Demo *demo = &demos[i];
      MlExamAnswer answer;
      ml_exam_answer (demo->verdict, &answer);
      int culprit = ml_board_find_part (demo->board, ML_DEMOS[i].culprit);
      print_message ("%s: %s\n", ML_DEMOS[i].name, demo->verdict->sentence);
      for (guint k = 0; k < demo->verdict->n_parts; k++)
        {
          if (demo->verdict->parts[k].probability > 0.02)
            print_message ("  %s %.3f\n", demo->board->parts[k].name, demo->verdict->parts[k].probability);
          assert_true ((demo->verdict->parts[k].verdict == ML_VERDICT_SUSPECT) == ((int) k == culprit));
        }
      assert_int_equal (answer.leads, ML_EXPLAINS_FAULT);
      assert_int_equal (answer.group[0], culprit);
      assert_true (demo->verdict->parts[culprit].probability >= 0.9);
      assert_true (n_cleared (demo) >= 6); /* these many readings speak against many a part; the culprit is none of them, see above */
      ml_exam_answer_clear (&answer);
    }
}

static double
fine_at (const Demo *demo, const char *condition, const char *net)
{
  int c = ml_board_find_condition (demo->board, condition);

  assert_non_null (demo->verdict->fine[c]);
  return demo->verdict->fine[c]->net_v[ml_board_find_net (demo->board, net)];
}

/* At rest the chip lets go of the relay: no current through its coil, so by Ohm's law both its ends are at one potential, and a sound
 * board shows that, not what the chip might have done. The regulated rail is then what its zener less one junction gives. */
static void
test_demos_expect_what_the_chip_does (void **state)
{
  const Demo *demo = &demos[0];

  assert_string_equal (ML_DEMOS[0].name, "vent-controller");
  assert_near (fine_at (demo, "rest", "COIL"), fine_at (demo, "rest", "V18"), 0, 0.1);
  assert_near (fine_at (demo, "rest", "V5"), 5.6 - 0.6, 0.06, 0);
  for (guint i = 0; i < demo->verdict->n_readings; i++)
    {
      const MlReadingVerdict *own = &demo->verdict->readings[i];
      const MlReading *reading = &demo->job->readings[own->reading];
      if (reading->reads == ML_READS_VOLTS && reading->red.net == ml_board_find_net (demo->board, "COIL")
          && reading->condition == ml_board_find_condition (demo->board, "rest"))
        assert_near (own->healthy, reading->measured.value, 0.02, 0); /* a consequence of nothing: it is as it should be */
    }
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_demos_readings_come_from_stated_fault),
    cmocka_unit_test (test_demos_name_the_culprit),
    cmocka_unit_test (test_demos_expect_what_the_chip_does),
  };
  return cmocka_run_group_tests (tests, judge_demos, close_demos);
}
