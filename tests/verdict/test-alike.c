/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What changes nothing that was read is as likely, beside its prior, as the sound board: a fact of what was read, not of the program. */
#include "support/exam.h"
#include "support/generate.h"
#include "support/models.h"
#include "support/near.h"
#include "support/size.h"

#include "verdict/alike.h"
#include "verdict/judge-private.h"

#include <math.h>

/* Whether an item's readings are the sound board's at its node to within a hundredth of what the meter tells, and all that they depend on, too. */
static gboolean
changes_nothing (MlCase *own, guint item, guint sound)
{
  for (guint i = 0; i < own->taken->len; i++)
    {
      const MlTaken *taken = &g_array_index (own->taken, MlTaken, i);
      const MlPrediction *a = ml_dictionary_predict (own->dictionary, item, taken->place), *b = ml_dictionary_predict (own->dictionary, sound, taken->place);

      if (!a->valid || !b->valid || fabs (a->value - b->value) > 0.01 * sqrt (taken->variance) || a->n != b->n)
        return FALSE;
      for (guint k = 0; k < a->n; k++)
        if (a->column[k] != b->column[k] || fabs (a->slope[k] - b->slope[k]) > 0.01 * sqrt (taken->variance))
          return FALSE;
    }
  return TRUE;
}

/* Of a generated board with one open resistor, every third net read in the first condition: the farthest that any fault without effect that was fitted stands behind the
 * sound board, in nats; *ret_n: how many there are. */
static double
farthest_behind (guint64 seed, guint n_parts, guint *ret_n)
{
  g_autofree char *text = ml_generate_conditions (seed, n_parts, 2);
  g_autoptr (MlBoard) board = ml_test_board (text);
  MlJudge *judge = ml_judge_new (board);
  g_autoptr (GString) lines = g_string_new ("meterleaf 1\njob \"Bench\"\nboard \"bench.leafboard\"\nmeter bench dc=0.5%+2 counts=6000 input=10M\nunit u suspect\n");
  MlFault fault = { .kind = ML_FAULT_OPEN, .net_a = -1, .net_b = -1, .size = NAN, .pins = { 0 }, .n_pins = 1 };
  const MlMeter meter = { .input_ohm = 10e6 };
  MlDictionary *dictionary;
  MlRemembered *remembered;
  MlCase *own;
  guint pass = 0;
  int unit = -1;
  double most = 0;

  while (board->parts[fault.part].kind->kind != ML_KIND_RESISTOR)
    fault.part++;
  for (guint net = 0; net < board->n_nets; net += 3)
    {
      MlProbe red = { .net = (int) net, .part = -1, .pin = -1 }, black = { .net = board->reference, .part = -1, .pin = -1 };
      double value = ml_judge_expect (judge, 0, &fault, 1, NULL, ML_READS_VOLTS, &red, &black, -1, &meter, NULL);

      if ((int) net != board->reference && isfinite (value))
        g_string_append_printf (lines, "reading u %s red=%s volts=%.4f\n", board->conditions[0].name, board->nets[net].name, value);
    }
  {
    g_autoptr (MlJob) job = ml_test_job (board, lines->str);

    dictionary = ml_judge_find (judge, job, &unit, &pass, NULL, NULL);
    own = ml_case_new (dictionary, job, unit, pass);
    assert_true (ml_case_fill (own, NULL, NULL));
    ml_case_update (own);
    assert_true (ml_case_refine (own, NULL, NULL));
    remembered = ml_case_remember (own);
    *ret_n = 0;
    for (guint i = dictionary->model->n_nodes; i < dictionary->n_early; i++)
      if (remembered->fitted[i] && changes_nothing (own, i, dictionary->items[i].node))
        {
          most = MAX (most, remembered->fitted_ln[dictionary->items[i].node] - remembered->fitted_ln[i]);
          ++*ret_n;
        }
    ml_case_free (own);
  }
  ml_judge_free (judge);
  return most;
}

static void
test_alike_what_changes_nothing_is_as_likely_as_the_sound_board (void **state)
{
  guint sum = 0;

  for (guint64 seed = 1; seed <= ml_test_size (8, 6); seed++)
    {
      guint n;
      double behind = farthest_behind (seed, 24, &n);

      if (behind > 1)
        print_error ("seed %u: %.1f nats behind the sound board, of %u\n", (guint) seed, behind, n);
      assert_true (behind <= 1);
      sum += n;
    }
  assert_true (sum > 3);
}

int
main (void)
{
  const struct CMUnitTest tests[] = { cmocka_unit_test (test_alike_what_changes_nothing_is_as_likely_as_the_sound_board) };

  return cmocka_run_group_tests (tests, NULL, NULL);
}
