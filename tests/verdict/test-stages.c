/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The same input gives the same verdict to the last bit, whatever was judged before: what earlier stages and earlier readings left behind
 * only saves time. */
#include "support/demo-jobs.h"
#include "support/exam.h"
#include "support/near.h"
#include "support/size.h"
#include "verdict/judge-private.h"

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

/* A chip nobody has a diagram of, whose pins the evidence looks at, and nets that float when a leg is off. */
static const char timer_board[] = "meterleaf 1\nboard \"Watering timer\"\nreference MINUS\n"
                                  "part R1 resistor 1=FEED 2=V5 value=220\npart D1 zener anode=MINUS cathode=V5 voltage=5.1\n"
                                  "part U1 block 1=V5 2=MINUS 3=DRIVE 4=SENSE\npart R2 resistor 1=DRIVE 2=BASE value=4k7\n"
                                  "part Q1 npn collector=COIL base=BASE emitter=MINUS\npart R3 resistor 1=FEED 2=COIL value=470\n"
                                  "part R4 resistor 1=V5 2=SENSE value=10k\n"
                                  "condition on\n  supply plus=FEED minus=MINUS voltage=12 limit=200m\n"
                                  "condition low\n  supply plus=FEED minus=MINUS voltage=9 limit=200m\n";
static const char timer_job[] = "meterleaf 1\njob \"Timer\"\nboard \"board\"\nmeter bench dc=0.5%+2 counts=6000 input=10M\nunit u suspect\n"
                                "reading u on red=V5 volts=5.08\nreading u on red=DRIVE volts=4.62\nreading u on red=COIL volts=11.98\n"
                                "reading u on across=R2 volts=0.004\nreading u on supply=1 amps=31m volts=12.0\nreading u low red=SENSE volts=4.98\n";

/* At small size, where the question is memory, the watering timer goes the same ways in a tenth of the time. */
static guint
n_boards (void)
{
  return ml_test_size (ML_N_DEMOS, 1);
}

static char *
read_board (guint i)
{
  g_autofree char *path = g_strconcat ("boards/", ML_DEMOS[i].name, ".leafboard", NULL);

  return n_boards () == 1 ? g_strdup (timer_board) : ml_test_file (path);
}

static char *
read_job (guint i)
{
  g_autofree char *path = g_strconcat ("boards/", ML_DEMOS[i].name, ".leafjob", NULL);

  return n_boards () == 1 ? g_strdup (timer_job) : ml_test_file (path);
}

/* Without its first reading line. */
static char *
shortened (const char *text)
{
  const char *line = strstr (text, "\nreading "), *end = strchr (line + 1, '\n');

  return g_strdup_printf ("%.*s%s", (int) (line - text), text, end);
}

/* Without its last n reading lines: as the job was when they had not been taken yet. */
static char *
earlier (const char *text, guint n)
{
  GString *cut = g_string_new (text);

  for (; n > 0; n--)
    {
      const char *line = g_strrstr (cut->str, "\nreading "), *end = strchr (line + 1, '\n');
      g_string_erase (cut, line - cut->str, end - line);
    }
  return g_string_free (cut, FALSE);
}

/* Reading by reading, up to the stage that a person waits for, each verdict is that of a judge who has never seen the job before. */
static void
test_readings_one_by_one_give_what_all_at_once_give (void **state)
{
  for (guint i = 0; i < n_boards (); i++)
    {
      g_autofree char *board_text = read_board (i), *text = read_job (i);
      MlBoard *board = ml_exam_board ("board", board_text);
      MlJudge *used = ml_judge_new (board);

      for (guint left = 2; left-- > 0;)
        {
          g_autofree char *cut = earlier (text, left);
          g_autoptr (MlJob) job = ml_test_job (board, cut);
          MlJudge *own = ml_judge_new (board);

          for (guint stage = 0; stage < 2; stage++)
            {
              g_autofree char *step = judge (used, job, stage), *all = judge (own, job, stage);
              assert_string_equal (step, all);
            }
          ml_judge_free (own);
        }
      ml_judge_free (used);
      ml_board_unref (board);
    }
}

/* Foreseen or not, and foreseen in part. */
static void
test_readings_foreseen_give_what_they_give_unforeseen (void **state)
{
  MlBoard *board = ml_exam_board ("board", timer_board);
  MlJudge *used = ml_judge_new (board), *in_part = ml_judge_new (board);
  g_autoptr (GCancellable) cancelled = g_cancellable_new ();
  g_autoptr (MlJob) all = ml_test_job (board, timer_job);
  const MlReading *reading = &all->readings[all->n_readings - 1];
  MlLikelyPlace last = { reading->condition, reading->reads, reading->red, reading->black, -1, 0 };

  g_cancellable_cancel (cancelled);
  for (guint left = 6; left-- > 0;)
    {
      g_autofree char *cut = earlier (timer_job, left);
      g_autoptr (MlJob) job = ml_test_job (board, cut);
      MlJudge *own = ml_judge_new (board);
      g_autoptr (GError) error = NULL;
      g_autofree char *fresh = judge (own, job, 0), *foreseen = judge (used, job, 0), *partly = judge (in_part, job, 0);

      assert_string_equal (foreseen, fresh);
      assert_string_equal (partly, fresh);
      assert_true (ml_judge_foresee (used, job, -1, 0, &last, 1, NULL, NULL));
      assert_int_equal (ml_judge_foresee (in_part, job, -1, 0, &last, 1, left % 2 ? cancelled : NULL, &error), left % 2 == 0);
      assert_int_equal (error != NULL, left % 2);
      if (left == 0)
        {
          g_autofree char *refined = judge (used, job, 1), *anew = judge (own, job, 1);
          assert_string_equal (refined, anew);
        }
      ml_judge_free (own);
    }
  ml_judge_free (used);
  ml_judge_free (in_part);
  ml_board_unref (board);
}

/* A large board's solutions are packed away: what is judged with them is the same, to what Newton leaves open of pins' currents. */
static void
test_packed_dictionary_gives_the_same_verdict (void **state)
{
  for (guint i = 0; i < n_boards (); i++)
    {
      g_autofree char *board_text = read_board (i), *text = read_job (i);
      MlBoard *board = ml_exam_board ("board", board_text);
      g_autoptr (MlJob) job = ml_test_job (board, text);
      MlJudge *whole = ml_judge_new (board), *packed = ml_judge_new (board);

      assert_false (ml_judge_base (whole)->packs);
      ml_judge_base (packed)->packs = TRUE;
      assert_true (ml_judge_prepare (packed, NULL, NULL, NULL, NULL));
      assert_null (ml_judge_base (packed)->expansions[ml_judge_base (packed)->model->n_nodes]->at[0].pin_a);
      for (guint stage = 0; stage < 3; stage++)
        {
          g_autoptr (MlVerdict) a = ml_judge_run (whole, job, -1, 0, stage, NULL, NULL), b = ml_judge_run (packed, job, -1, 0, stage, NULL, NULL);

          assert_string_equal (a->sentence, b->sentence);
          assert_int_equal (a->n_explanations, b->n_explanations);
          for (guint k = 0; k < a->n_explanations; k++)
            assert_near (a->explanations[k].probability, b->explanations[k].probability, 1e-6, 1e-9);
          assert_int_equal (a->n_next, b->n_next);
          for (guint k = 0; k < a->n_next; k++)
            assert_near (a->next[k].bits, b->next[k].bits, 1e-6, 1e-9);
        }
      ml_judge_free (whole);
      ml_judge_free (packed);
      ml_board_unref (board);
    }
}

static void
test_stages_leave_no_trace (void **state)
{
  for (guint i = 0; i < n_boards (); i++)
    {
      g_autofree char *board_text = read_board (i), *text = read_job (i), *less = shortened (text);
      MlBoard *board = ml_exam_board ("board", board_text);
      g_autoptr (MlJob) job = ml_test_job (board, text), shorter = ml_test_job (board, less);
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

static gboolean
ends_with_suspect (const MlJob *job)
{
  return job->readings[job->n_readings - 1].unit == ml_job_suspect (job);
}

/* A glance at one reading more looks at a few of all states of affairs, and the stages after it begin with what it found of them. A reading of the good
 * unit makes another bench of it. */
static void
test_a_glance_leaves_no_trace (void **state)
{
  for (guint i = 0; i < n_boards (); i++)
    {
      g_autofree char *board_text = read_board (i), *text = read_job (i), *cut = earlier (text, 1);
      MlBoard *board = ml_exam_board ("board", board_text);
      g_autoptr (MlJob) job = ml_test_job (board, text), shorter = ml_test_job (board, cut);
      MlJudge *used = ml_judge_new (board), *own = ml_judge_new (board);

      assert_null (ml_judge_glance (used, job, -1, 0));
      g_free (judge (used, shorter, 2));
      for (guint stage = 0; stage < 3; stage++)
        {
          g_autoptr (MlVerdict) glance = ml_judge_glance (used, job, -1, 0);
          g_autofree char *after = NULL, *fresh = judge (own, job, stage);

          assert_true ((glance != NULL) == (stage == 0 && ends_with_suspect (job))); /* then all is known exactly */
          assert_true (!glance || glance->stage == 0);
          after = judge (used, job, stage);
          assert_string_equal (after, fresh);
        }
      assert_null (ml_judge_glance (used, shorter, -1, 0)); /* a reading less */
      ml_judge_free (used);
      ml_judge_free (own);
      ml_board_unref (board);
    }
}

/* As the timer's job, its last reading a hundredth of a volt off, so that no memory of it serves. */
static char *
altered (const char *text)
{
  g_auto (GStrv) halves = g_strsplit (text, "volts=4.98", 2);

  return g_strjoinv ("volts=4.97", halves);
}

/* Whether the same parts lead; what is wrong with them, and how much, is refined after the first look. */
static gboolean
leads_alike (const MlVerdict *a, const MlVerdict *b)
{
  const MlExplanation *one = &a->explanations[0], *other = &b->explanations[0];
  gboolean alike = one->n_faults == other->n_faults && one->explains == other->explains;

  for (guint i = 0; alike && i < one->n_faults; i++)
    alike = one->faults[i].part == other->faults[i].part;
  return alike;
}

/* The glance is held against the verdict that is found from the same readings in the end. "Mostly" as measured on boards of the generator, where 152 of 156
 * glances had the final leading group, the exact first verdicts 124. */
static void
test_a_glance_mostly_leads_where_the_verdict_ends (void **state)
{
  guint n = 0, n_alike = 0;

  for (guint i = 0; i < n_boards (); i++)
    {
      g_autofree char *board_text = read_board (i), *text = read_job (i);
      MlBoard *board = ml_exam_board ("board", board_text);
      MlJudge *used = ml_judge_new (board);

      for (guint left = 4; left-- > 0;)
        {
          g_autofree char *cut = earlier (text, left);
          g_autoptr (MlJob) job = ml_test_job (board, cut);
          g_autoptr (MlVerdict) glance = ends_with_suspect (job) ? ml_judge_glance (used, job, -1, 0) : NULL;
          g_autoptr (MlVerdict) end = ml_judge_run (used, job, -1, 0, 2, NULL, NULL);

          n += glance != NULL;
          n_alike += glance && leads_alike (glance, end);
        }
      ml_judge_free (used);
      ml_board_unref (board);
    }
  assert_in_range (n, 3, 12);
  assert_in_range (n_alike, n - n / 6, n);
}

/* What another reading was, or was seen, is not what was judged. */
static void
test_a_glance_goes_by_the_readings_judged_last (void **state)
{
  MlBoard *board = ml_exam_board ("board", timer_board);
  MlJudge *used = ml_judge_new (board);
  g_autofree char *cut = earlier (timer_job, 1), *other = altered (timer_job), *longer = g_strconcat (other, "reading u low red=V5 volts=5.06\n", NULL);
  g_autoptr (MlJob) before = ml_test_job (board, cut), job = ml_test_job (board, timer_job), more = ml_test_job (board, longer);

  g_free (judge (used, before, 1));
  g_free (judge (used, job, 1));
  assert_null (ml_judge_glance (used, more, -1, 0));
  g_free (judge (used, before, 1));
  g_autoptr (MlVerdict) two = ml_judge_glance (used, more, -1, 0); /* two readings more */
  assert_non_null (two);
  ml_judge_free (used);
  ml_board_unref (board);
}

int
main (void)
{
  const struct CMUnitTest tests[] = { cmocka_unit_test (test_stages_leave_no_trace),
                                       cmocka_unit_test (test_readings_one_by_one_give_what_all_at_once_give),
                                       cmocka_unit_test (test_packed_dictionary_gives_the_same_verdict),
                                       cmocka_unit_test (test_a_glance_leaves_no_trace),
                                       cmocka_unit_test (test_a_glance_mostly_leads_where_the_verdict_ends),
                                       cmocka_unit_test (test_a_glance_goes_by_the_readings_judged_last),
    cmocka_unit_test (test_readings_foreseen_give_what_they_give_unforeseen) };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
