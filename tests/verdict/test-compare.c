/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Plain comparison of two units of which only pins, nets and kinds of blocks are known. Where the units differ follows from the numbers
 * written here by subtraction; 50 mV and 5 % are what sound units may differ by. */
#include "support/exam.h"
#include "support/near.h"

#include <string.h>

static const char BOARD[] = "meterleaf 1\nboard \"Boxes\"\nreference G\npart J1 connector 1=P 2=G\npart U1 block in=P out=V5 com=G\n"
                            "part U2 block in=V5 out=SIG com=G\npart U3 block in=SIG out=DRV com=G\npart U4 block in=DRV out=OUT com=G\n"
                            "condition on\n  supply plus=P minus=G voltage=12 limit=1\n";
static const char SPARE[] = "unit spare good\nreading spare on red=V5 volts=5.02\nreading spare on red=SIG volts=2.51\n"
                            "reading spare on red=DRV volts=3.30\nreading spare on red=OUT volts=1.20\n";

static MlVerdict *
judge (const char *readings)
{
  g_autofree char *lines = g_strconcat (SPARE, readings, NULL);
  return ml_exam_judge_readings (BOARD, lines);
}

static const MlCompared *
find (const MlVerdict *verdict, const char *part)
{
  for (guint i = 0; i < verdict->n_compared; i++)
    if (verdict->compared[i].part == ml_board_find_part (verdict->job->board, part))
      return &verdict->compared[i];
  return NULL;
}

/* DRV alone differs, by 2.88 V: the area is what drives it and what it drives. */
static void
test_compare_names_the_parts_around_the_net_that_differs (void **state)
{
  g_autoptr (MlVerdict) verdict = judge ("reading u on red=V5 volts=4.97\nreading u on red=SIG volts=2.48\nreading u on red=DRV volts=0.42\n"
                                         "reading u on red=OUT volts=1.18\n");
  assert_non_null (find (verdict, "U3"));
  assert_non_null (find (verdict, "U4"));
  assert_null (find (verdict, "U1"));
  assert_null (find (verdict, "U2"));
  assert_null (find (verdict, "J1"));
  assert_non_null (strstr (verdict->sentence, "By comparison with the good unit, look at U3, U4 first."));
}

/* From V5 on all is lower: U1, between the supply that is as it was and V5, and what hangs on V5 come before what only follows. */
static void
test_compare_ranks_the_first_that_differs_before_what_follows (void **state)
{
  g_autoptr (MlVerdict) verdict = judge ("reading u on red=V5 volts=2.10\nreading u on red=SIG volts=1.95\nreading u on red=DRV volts=3.05\n"
                                         "reading u on red=OUT volts=1.18\n");
  const MlCompared *first = find (verdict, "U1"), *last = find (verdict, "U3");
  assert_non_null (first);
  assert_true (verdict->compared[0].apart == first->apart);
  assert_true (!last || last->apart < 0.5 * first->apart);
  assert_null (find (verdict, "U4"));
}

/* U5 hangs on DRV with one pin and with the other on a net that nobody measured; U4 has the reference beside DRV: what is known at one end
 * only says half as much. */
static void
test_compare_trusts_two_nets_more_than_one (void **state)
{
  g_autofree char *board = g_strconcat (BOARD, "part U5 block a=DRV b=TAP\npart U6 block a=TAP b=G\n", NULL);
  g_autofree char *lines = g_strconcat (SPARE, "reading u on red=V5 volts=4.97\nreading u on red=SIG volts=2.48\nreading u on red=DRV volts=0.42\n", NULL);
  g_autoptr (MlVerdict) verdict = ml_exam_judge_readings (board, lines);

  assert_non_null (find (verdict, "U4"));
  assert_non_null (find (verdict, "U5"));
  assert_near (find (verdict, "U5")->apart, find (verdict, "U4")->apart / 2, 1e-12, 0);
}

static void
test_compare_says_nothing_of_like_units (void **state)
{
  g_autoptr (MlVerdict) verdict = judge ("reading u on red=V5 volts=4.97\nreading u on red=SIG volts=2.48\nreading u on red=DRV volts=3.28\n"
                                         "reading u on red=OUT volts=1.18\n");
  assert_int_equal (verdict->n_compared, 0);
  assert_null (strstr (verdict->sentence, "comparison"));
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_compare_names_the_parts_around_the_net_that_differs),
    cmocka_unit_test (test_compare_ranks_the_first_that_differs_before_what_follows),
    cmocka_unit_test (test_compare_trusts_two_nets_more_than_one),
    cmocka_unit_test (test_compare_says_nothing_of_like_units),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
