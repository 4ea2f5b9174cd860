/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a good unit tells: the algebra against textbook conditioning, then whole jobs. */
#include "support/exam.h"
#include "support/near.h"
#include "support/random.h"

#include "verdict/carried.h"

#include <lapacke.h>
#include <math.h>
#include <string.h>

static void
test_carried_one_exact_reading (void **state)
{
  /* z of the good unit read as 1.5 with a variance of 0.25 beside its own of 1, share 0.8: bivariate normal, textbook. */
  const double row[2] = { 0.8, 0 }, d[1] = { 1.5 }, covariance[1] = { 1.25 };
  MlCarried *carried = ml_carried_new (2, 1, row, d, covariance);
  double z[2];

  ml_carried_to_z (carried, NULL, z);
  assert_near (z[0], 0.8 * 1.5 / 1.25, 1e-12, 0);
  assert_near (z[1], 0, 0, 1e-12);
  assert_near (ml_carried_variance (carried, 0), 1 - 0.64 / 1.25, 1e-12, 0);
  assert_near (ml_carried_variance (carried, 1), 1, 1e-12, 0);
  ml_carried_free (carried);
}

static void
test_carried_against_lapack (void **state)
{
  /* mean = F J' C^-1 d, covariance I - F J' C^-1 J F with C = J J' + R, by LAPACK's dposv (second method). */
  enum { N_Z = 9, N = 6 };
  MlRandom random = ml_random_seeded (4);
  double j[N * N_Z], rows[N * N_Z], d[N], c[N * N], solved[N * (N_Z + 1)], z[N_Z], one[N_Z], factor[N * N];

  for (guint i = 0; i < N * N_Z; i++)
    {
      j[i] = ml_random_normal (&random);
      rows[i] = j[i] * (0.1 + 0.1 * (i % N_Z));
    }
  for (guint i = 0; i < N; i++)
    {
      d[i] = ml_random_normal (&random);
      for (guint k = 0; k < N; k++)
        {
          c[i * N + k] = i == k ? 0.01 : 0;
          for (guint m = 0; m < N_Z; m++)
            c[i * N + k] += j[i * N_Z + m] * j[k * N_Z + m];
        }
    }
  for (guint i = 0; i < N; i++)
    {
      memcpy (solved + i * (N_Z + 1), rows + i * N_Z, N_Z * sizeof *rows);
      solved[i * (N_Z + 1) + N_Z] = d[i];
    }
  memcpy (factor, c, sizeof c);
  assert_int_equal (LAPACKE_dposv (LAPACK_ROW_MAJOR, 'L', N, N_Z + 1, factor, N, solved, N_Z + 1), 0);
  MlCarried *carried = ml_carried_new (N_Z, N, rows, d, c);
  ml_carried_to_z (carried, NULL, z);
  for (guint a = 0; a < N_Z; a++)
    {
      double mean = 0;
      for (guint i = 0; i < N; i++)
        mean += rows[i * N_Z + a] * solved[i * (N_Z + 1) + N_Z];
      assert_near (z[a], mean, 1e-9, 1e-12);
      memset (one, 0, sizeof one);
      one[a] = 1;
      ml_carried_slopes (carried, one); /* B' e_a; then B B' e_a is a column of the covariance */
      ml_carried_to_z (carried, one, z);
      for (guint b = 0; b < N_Z; b++)
        {
          double expected = a == b, own_mean = 0;
          for (guint i = 0; i < N; i++)
            {
              expected -= rows[i * N_Z + a] * solved[i * (N_Z + 1) + b];
              own_mean += rows[i * N_Z + b] * solved[i * (N_Z + 1) + N_Z];
            }
          assert_near (z[b] - own_mean, expected, 1e-9, 1e-9);
        }
      ml_carried_to_z (carried, NULL, z);
    }
  ml_carried_free (carried);
}

/* ---- whole jobs ---- */

/* A chip of unknown draw behind a resistor: 2.91 V at the chip is low only beside a good unit's 4.98 V; R1's own drop of the current that
 * the chip takes is 5.02 V on the good one, so that 10 mA flow there (Ohm's law) and 14.2 mA here. */
static const char *const chip_board = "reference N\npart R1 resistor 1=IN 2=V value=500\npart C1 capacitor 1=V 2=N\npart U1 block vcc=V gnd=N supply=vcc ground=gnd\n"
                                      "condition on\n  supply plus=IN minus=N voltage=10 limit=1\n";

static MlVerdict *
judge_chip (const char *lines)
{
  g_autoptr (MlBoard) board = ml_exam_board ("chip", chip_board);
  g_autoptr (MlJudge) judge = ml_judge_new (board);

  return ml_exam_judge_text (judge, board, lines, 2);
}

static void
test_good_unit_tells_what_a_chip_draws (void **state)
{
  static const char here[] = "unit bay7 suspect\nunit spare good\nreading bay7 on red=IN volts=10.00\nreading bay7 on red=V volts=2.91\n";
  g_autoptr (MlVerdict) alone = judge_chip (here);
  g_autofree char *both = g_strconcat (here, "reading spare on red=IN volts=10.00\nreading spare on red=V volts=4.98\n", NULL);
  g_autoptr (MlVerdict) with = judge_chip (both);
  gboolean said = FALSE;

  assert_true (alone->healthy_probability > 0.4); /* nobody knows what the chip draws */
  assert_true (with->healthy_probability < 0.2);
  for (guint i = 0; i < with->n_explanations; i++)
    for (guint k = 0; with->explanations[i].reasons[k]; k++)
      said |= strstr (with->explanations[i].reasons[k], "4.98 V on spare") != NULL;
  assert_true (said);
  assert_null (with->cautions[0]);
}

static void
test_like_readings_stay_sound (void **state)
{
  g_autoptr (MlVerdict) verdict = judge_chip ("unit bay7 suspect\nunit spare good\nunit third good\nreading bay7 on red=V volts=5.02\n"
                                              "reading spare on red=V volts=4.98\nreading third on red=V volts=4.95\n");

  assert_true (verdict->healthy_probability > 0.7);
}

static void
test_good_unit_that_is_not_good_is_said (void **state)
{
  /* 20 V out of a 10 V supply through a resistor: no sound board does that. */
  static const char text[] = "reference N\npart R1 resistor 1=IN 2=V value=1k\npart R2 resistor 1=V 2=N value=1k\ncondition on\n"
                             "  supply plus=IN minus=N voltage=10 limit=1\n";
  g_autoptr (MlBoard) board = ml_exam_board ("divider", text);
  g_autoptr (MlJudge) judge = ml_judge_new (board);
  g_autoptr (MlVerdict) bad = ml_exam_judge_text (judge, board, "unit u suspect\nunit spare good\nreading u on red=V volts=5.00\nreading u on red=IN volts=10.00\n"
                                                  "reading spare on red=V volts=9.99\nreading spare on red=IN volts=10.00\n", 2);

  assert_non_null (bad->cautions[0]);
  assert_non_null (strstr (bad->cautions[0], "spare is called good"));
  assert_true (bad->healthy_probability > 0.8);
}

static void
test_units_with_other_parts_fitted (void **state)
{
  /* The good unit has 2 kohm below: 6.67 V there and 5 V here are both what a sound board of that kind gives (divider rule). */
  static const char text[] = "reference N\npart R1 resistor 1=IN 2=V value=1k\npart R2 resistor 1=V 2=N value=1k\ncondition on\n"
                             "  supply plus=IN minus=N voltage=10 limit=1\n";
  g_autoptr (MlBoard) board = ml_exam_board ("divider", text);
  g_autoptr (MlJudge) judge = ml_judge_new (board);
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (judge, board, "unit u suspect\nunit spare good\n  fitted R2 value=2k\nreading u on red=V volts=5.00\n"
                                                      "reading spare on red=V volts=6.67\n", 2);

  assert_true (verdict->healthy_probability > 0.8);
  assert_null (verdict->cautions[0]);
}

static double
first_part (const char *text, const char *lines)
{
  g_autoptr (MlBoard) board = ml_exam_board ("lamp", text);
  g_autoptr (MlJudge) judge = ml_judge_new (board);
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (judge, board, lines, 2);

  return verdict->parts[0].probability + verdict->parts[1].probability;
}

/* Green LEDs of all makers have 1.7 to 2.8 V (Kuphaldt, Semiconductors ch. 3), two of one type some ten millivolts between them (data sheets):
 * 2.43 V may be a sound LED by itself, but not beside 1.98 V on a good unit. A joint of some hundred ohms in its lead gives it. */
static void
test_good_unit_tells_the_type_of_an_led (void **state)
{
  static const char text[] = "reference N\npart R1 resistor 1=IN 2=A value=1k\npart LED1 led anode=A cathode=N colour=green\ncondition on\n"
                             "  supply plus=IN minus=N voltage=5 limit=1\n";
  static const char here[] = "unit u suspect\nunit spare good\nreading u on red=IN volts=5.00\nreading u on red=A volts=2.43\n";
  g_autofree char *both = g_strconcat (here, "reading spare on red=IN volts=5.00\nreading spare on red=A volts=1.98\n", NULL);

  assert_true (first_part (text, here) < 0.5);
  assert_true (first_part (text, both) > 0.8);
}

/* Two resistors that nobody could read give any share of 10 V (Ohm's law), but the same share on every unit, to their tolerance. */
static void
test_good_unit_tells_values_nobody_read (void **state)
{
  static const char text[] = "reference N\npart R1 resistor 1=IN 2=A\npart R2 resistor 1=A 2=N\ncondition on\n  supply plus=IN minus=N voltage=10 limit=1\n";
  static const char here[] = "unit u suspect\nunit spare good\nreading u on red=IN volts=10.00\nreading u on red=A volts=7.00\n";
  g_autofree char *unlike = g_strconcat (here, "reading spare on red=IN volts=10.00\nreading spare on red=A volts=5.00\n", NULL);
  g_autofree char *like = g_strconcat (here, "reading spare on red=IN volts=10.00\nreading spare on red=A volts=6.92\n", NULL);

  assert_true (first_part (text, here) < 0.5);
  assert_true (first_part (text, like) < 0.2);
  assert_true (first_part (text, unlike) > 0.8);
}

/* 5 V, R2 of 10 k and an unread R3: 3.84 V at the input on the good unit (divider rule: R3 is 33 k when the input takes nothing). All of 5 V there is R3
 * open or R2 shorted; neither R3 nor the chip's pin is known by itself, both together are. */
static void
test_good_unit_tells_a_chip_pin_beside_a_value_nobody_read (void **state)
{
  static const char text[] = "reference N\npart R3 resistor 1=I 2=N\npart R2 resistor 1=V 2=I value=10k\npart U1 block vcc=V gnd=N in=I supply=vcc ground=gnd\n"
                             "condition on\n  supply plus=V minus=N voltage=5 limit=1\n";
  static const char spare[] = "unit u suspect\nunit spare good\nreading spare on red=V volts=5.00\nreading spare on red=I volts=3.84\n"
                              "reading spare on supply=1 amps=20.0m\nreading u on red=V volts=5.00\nreading u on supply=1 amps=20.1m\n";
  g_autofree char *like = g_strconcat (spare, "reading u on red=I volts=3.80\n", NULL), *unlike = g_strconcat (spare, "reading u on red=I volts=4.998\n", NULL);

  assert_true (first_part (text, like) < 0.3);
  assert_true (first_part (text, unlike) > 0.9);
}

/* Chips and nets only. What drives A and what drives B do otherwise than on the good unit: one of the two, or what is between them, is at fault. */
static void
test_good_unit_tells_that_a_chip_does_otherwise (void **state)
{
  static const char text[] = "reference N\npart U1 block vcc=V gnd=N out=A supply=vcc ground=gnd\npart U2 block vcc=V gnd=N in=A out=B supply=vcc ground=gnd\n"
                             "condition on\n  supply plus=V minus=N voltage=5 limit=1\n";
  g_autoptr (MlBoard) board = ml_exam_board ("chips", text);
  g_autoptr (MlJudge) judge = ml_judge_new (board);
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (judge, board, "unit u suspect\nunit spare good\nreading u on red=V volts=5.00\nreading u on red=A volts=4.90\n"
                                                      "reading u on red=B volts=0.10\nreading spare on red=V volts=5.00\nreading spare on red=A volts=4.20\n"
                                                      "reading spare on red=B volts=4.80\n", 2);

  assert_true (verdict->healthy_probability < 0.1);
  for (guint i = 0; i < verdict->n_parts; i++)
    assert_int_equal (verdict->parts[i].verdict, ML_VERDICT_SUSPECT);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_carried_one_exact_reading),         cmocka_unit_test (test_carried_against_lapack),
    cmocka_unit_test (test_good_unit_tells_what_a_chip_draws), cmocka_unit_test (test_like_readings_stay_sound),
    cmocka_unit_test (test_good_unit_that_is_not_good_is_said), cmocka_unit_test (test_units_with_other_parts_fitted),
    cmocka_unit_test (test_good_unit_tells_that_a_chip_does_otherwise), cmocka_unit_test (test_good_unit_tells_the_type_of_an_led),
    cmocka_unit_test (test_good_unit_tells_values_nobody_read),
    cmocka_unit_test (test_good_unit_tells_a_chip_pin_beside_a_value_nobody_read),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
