/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is seen, and what the supply shows, as evidence. The expected verdicts follow from Ohm's and Kirchhoff's laws on boards of a few parts. */
#include "support/exam.h"
#include "support/near.h"

#include <math.h>
#include <string.h>

/* Two like LED branches and a relay across 12 V: by the supply's current alone they cannot be told apart. */
static const char *const lamps = "reference N\npart R1 resistor 1=P 2=A value=1k\npart LED1 led anode=A cathode=N colour=red\n"
                                 "part R2 resistor 1=P 2=B value=1k\npart LED2 led anode=B cathode=N colour=red\n"
                                 "part C1 capacitor plus=P minus=N\npart K1 coil 1=P 2=D resistance=400\npart Q1 npn collector=D base=G emitter=N\n"
                                 "part R3 resistor 1=P 2=G value=4k7\ncondition on\n  supply plus=P minus=N voltage=12 limit=200m\n";

static MlVerdict *
judge (const char *board_text, const char *lines)
{
  g_autoptr (MlBoard) board = ml_exam_board ("lamps", board_text);
  g_autoptr (MlJudge) judge = ml_judge_new (board);
  g_autofree char *text = g_strdup_printf ("unit u suspect\n%s", lines);

  return ml_exam_judge_text (judge, board, text, 2);
}

static double
probability (const MlVerdict *verdict, const char *name)
{
  return verdict->parts[ml_board_find_part (verdict->job->board, name)].probability;
}

/* Of the explanation of that title. */
static double
titled (const MlVerdict *verdict, const char *title)
{
  for (guint i = 0; i < verdict->n_explanations; i++)
    if (g_str_equal (verdict->explanations[i].title, title))
      return verdict->explanations[i].probability;
  return NAN;
}

/* 12 V: 30 mA through the relay, 2.4 mA into Q1's base, 10.1 mA through each LED (red, 1.9 V): 52.6 mA; 42.5 mA with one branch open. */
#define ONE_BRANCH_DEAD "reading u on supply=1 amps=42.5m volts=12.00\n"

static void
test_dark_led_tells_the_branch (void **state)
{
  g_autoptr (MlVerdict) blind = judge (lamps, ONE_BRANCH_DEAD);
  g_autoptr (MlVerdict) seen = judge (lamps, ONE_BRANCH_DEAD "seen u on LED2 dark\nseen u on LED1 lit\n");
  double first = probability (blind, "R1") + probability (blind, "LED1"), second = probability (blind, "R2") + probability (blind, "LED2");
  gboolean said = FALSE;

  assert_near (first, second, 1e-3, 0); /* like branches */
  first = probability (seen, "R1") + probability (seen, "LED1");
  second = probability (seen, "R2") + probability (seen, "LED2");
  assert_true (second > 20 * first);
  for (guint k = 0; seen->n_explanations && seen->explanations[0].reasons[k]; k++)
    said |= strstr (seen->explanations[0].reasons[k], "LED2 is dark") != NULL;
  assert_true (said);
}

static void
test_silent_relay_and_limiting_supply (void **state)
{
  g_autoptr (MlVerdict) blind = judge (lamps, "reading u on red=P volts=12.00\n");
  g_autoptr (MlVerdict) silent = judge (lamps, "reading u on red=P volts=12.00\nseen u on K1 silent\n");
  g_autoptr (MlVerdict) calm = judge (lamps, "reading u on red=B volts=0.10\n");
  g_autoptr (MlVerdict) limiting = judge (lamps, "reading u on red=B volts=0.10\nseen u on supply limiting\n");

  assert_true (probability (silent, "Q1") > 2 * probability (blind, "Q1"));
  assert_true (probability (silent, "K1") > 2 * probability (blind, "K1"));
  /* 0.1 V at B: LED2 shorted, or everything short of volts because C1 is: only the latter drives the supply into its limit. */
  assert_true (probability (limiting, "C1") / probability (limiting, "LED2") > 3 * probability (calm, "C1") / probability (calm, "LED2"));
}

/* A supply set to 200 mA by its knob that gives 210 mA (Ohm's law on 10 ohm of 1 %): C1 is shorted, and nothing is wrong with the drawing. */
static void
test_a_limit_is_not_set_to_the_milliampere (void **state)
{
  static const char board[] = "reference N\npart D1 diode anode=P cathode=A\npart R1 resistor 1=A 2=B value=10 tolerance=1%\n"
                              "part C1 capacitor plus=B minus=N\npart R2 resistor 1=B 2=C value=1k\npart LED1 led anode=C cathode=N colour=red\n"
                              "condition on\n  supply plus=P minus=N voltage=12 limit=200m\n";
  g_autoptr (MlVerdict) verdict = judge (board, "reading u on across=R1 volts=2.100\nreading u on across=D1 volts=0.815\nreading u on red=B volts=0.084\n"
                                                "reading u on red=P volts=2.999\nseen u on supply limiting\n");

  assert_true (g_str_has_prefix (verdict->sentence, "Probably: C1 shorted"));
  assert_true (verdict->misfit_probability < 0.01);
}

/* Neither is a voltage: 12.6 V across the supply's own pins, where 12 V were written, is what it gives, either way round. A tenth of it missing is not. */
static void
test_what_is_read_across_a_supply_is_what_it_gives (void **state)
{
  static const char board[] = "reference N\npart R1 resistor 1=P 2=A value=1k tolerance=1%\npart R2 resistor 1=A 2=N value=2k tolerance=1%\n"
                              "part R3 resistor 1=P 2=B value=2k2 tolerance=1%\npart D1 zener anode=N cathode=B voltage=5.1\n"
                              "condition on\n  supply plus=P minus=N voltage=12 limit=200m\n";
#define ELSEWHERE "reading u on red=A volts=8.40\nreading u on red=B volts=5.10\n"
  g_autoptr (MlVerdict) high = judge (board, "reading u on red=P volts=12.60\n" ELSEWHERE);
  g_autoptr (MlVerdict) turned = judge (board, "reading u on red=N black=P volts=-12.60\n" ELSEWHERE);
  g_autoptr (MlVerdict) low = judge (board, "reading u on red=P volts=10.70\nreading u on red=A volts=7.13\nreading u on red=B volts=5.10\n");

  assert_true (high->healthy_probability > 0.8);
  assert_near (high->readings[1].healthy, 8.4, 0.01, 0);
  assert_true (turned->healthy_probability > 0.8);
  assert_true (low->healthy_probability < 0.5);
}

/* 300 mA at 12 V through a resistor that nobody can read are 3.6 W (Joule's law): no quarter watt resistor stands that, so it is far likelier the
 * capacitor beside it that leaks: by 1 + (3.6 / 0.25)^2 = 208 against a board that says its resistors stand 100 W, less what a small leak beside such a
 * resistor had there of the capacitor's part. With a rating of 10 W it is at most 1 + 0.36^2. */
static void
test_an_unread_resistor_does_not_burn (void **state)
{
  static const char *const parts[] = { "part R1 resistor 1=P 2=N\n", "part R1 resistor 1=P 2=N\nassume unread.watts 100\n",
                                       "part R1 resistor 1=P 2=N power=10\n", "part R1 resistor 1=P 2=N power=10\nassume unread.watts 100\n" };
  double odds[4];

  for (guint i = 0; i < 4; i++)
    {
      g_autofree char *text = g_strconcat ("reference N\npart C1 capacitor plus=P minus=N\ncondition on\n  supply plus=P minus=N voltage=12 limit=1\n", parts[i], NULL);
      g_autoptr (MlVerdict) verdict = judge (text, "reading u on supply=1 amps=300m volts=12.00\n");

      odds[i] = verdict->healthy_probability / probability (verdict, "C1");
    }
  assert_true (odds[1] / odds[0] > 50 && odds[1] / odds[0] < 1 + pow (3.6 / 0.25, 2));
  assert_true (odds[1] / odds[2] > 1.04 && odds[1] / odds[2] < 1 + 0.36 * 0.36);
  assert_near (odds[3], odds[2], 1e-9, 0);
}

/* 14 V, a zener of 10 V at 300 mA behind a resistor that nobody can read, 300 mA: 3 W in the zener, (3 / 0.5)^2 times its usual watts squared, besides the 1.2 W in
 * the resistor. Where the sound board is an explanation, it says which value it takes R1 for: at most 4 V at 0.3 A, 13 ohm. */
static void
test_an_unread_resistor_lets_no_zener_burn (void **state)
{
  static const char *const zener = "reference N\npart C1 capacitor plus=P minus=N\npart R1 resistor 1=P 2=V\npart D1 zener cathode=V anode=N voltage=10@300m\n"
                                   "condition on\n  supply plus=P minus=N voltage=14 limit=1\n";
  g_autofree char *other = g_strconcat (zener, "assume unread.zener-watts 50\n", NULL);
  g_autoptr (MlVerdict) burns = judge (zener, "reading u on supply=1 amps=300m volts=14.00\nreading u on red=V volts=9.9\n");
  g_autoptr (MlVerdict) stands = judge (other, "reading u on supply=1 amps=300m volts=14.00\nreading u on red=V volts=9.9\n");
  double ratio = stands->healthy_probability / probability (stands, "C1") / (burns->healthy_probability / probability (burns, "C1"));
  gboolean said = FALSE;

  assert_true (ratio > 10 && ratio < 1 + pow (14 * 0.3 / 0.5, 2));
  for (guint i = 0; i < stands->n_explanations; i++)
    for (guint k = 0; stands->explanations[i].explains == ML_EXPLAINS_HEALTHY && stands->explanations[i].reasons[k]; k++)
      said |= g_str_has_prefix (stands->explanations[i].reasons[k], "it takes R1, whose value is not said, for about ");
  assert_true (said);
}

/* A chip that nobody knows and a capacitor on a 12 V rail behind R1. With 3 ohm (Ohm's law: 2.4 V at 0.8 A, 4.0 V at the supply in front of R1)
 * one of them is a dead short, as common practice has it; the sound chip is none, nor does a resistor that nobody can read (R2 with Q1) make one. */
static const char *const shorted = "reference N\npart R1 resistor 1=P 2=V value=2\npart C1 capacitor plus=V minus=N\npart U1 block VCC=V GND=N OUT=O\n"
                                   "part R2 resistor 1=V 2=D\npart Q1 npn collector=D base=B emitter=N\npart R3 resistor 1=V 2=B\n"
                                   "part R4 resistor 1=O 2=L value=1k\npart LED1 led anode=L cathode=N colour=red\n"
                                   "condition on\n  supply plus=P minus=N voltage=12 limit=800m\ncondition cold\n";

static void
test_a_short_may_be_inside_the_unknown_chip (void **state)
{
  static const char *const jobs[] = { "reading u on supply=1 amps=800m volts=4.00\nseen u on supply limiting\n",
                                      "reading u on supply=1 amps=800m volts=4.00\nreading u cold red=V ohms=3.0\n" };

  for (guint i = 0; i < G_N_ELEMENTS (jobs); i++)
    {
      g_autoptr (MlVerdict) verdict = judge (shorted, jobs[i]);

      assert_true (verdict->healthy_probability < 0.1);
      assert_true (probability (verdict, "C1") > 0.1);
      assert_true (probability (verdict, "U1") > 0.05);
      if (i == 1) /* the supply alone leaves R2 in the running */
        {
          assert_int_equal (verdict->parts[ml_board_find_part (verdict->job->board, "C1")].verdict, ML_VERDICT_SUSPECT);
          assert_int_equal (verdict->parts[ml_board_find_part (verdict->job->board, "U1")].verdict, ML_VERDICT_SUSPECT);
        }
      assert_int_not_equal (verdict->parts[ml_board_find_part (verdict->job->board, "Q1")].verdict, ML_VERDICT_SUSPECT);
    }
}

static void
test_what_is_seen_never_outweighs_a_reading (void **state)
{
  /* Every branch reads as it should (by hand as above; base and saturated collector are common practice); a finger says otherwise. */
  static const char good[] = "reading u on red=P volts=12.00\nreading u on red=A volts=1.90\nreading u on red=B volts=1.90\nreading u on red=G volts=0.70\n"
                             "reading u on red=D volts=0.05\n";
  g_autofree char *odd = g_strconcat (good, "seen u on LED2 dark\n", NULL);
  g_autoptr (MlVerdict) plain = judge (lamps, good);
  g_autoptr (MlVerdict) doubted = judge (lamps, odd);

  assert_true (doubted->healthy_probability > 0.5);
  assert_true (plain->healthy_probability >= doubted->healthy_probability);
}

static void
test_supply_current_convicts (void **state)
{
  /* 5 V: R1 takes 50 mA, R2 5 mA. 5 mA are left: R1 is open. 105 mA: C1 leaks, or a resistor has fallen. */
  static const char text[] = "reference N\npart R1 resistor 1=P 2=N value=100\npart R2 resistor 1=P 2=N value=1k\npart C1 capacitor 1=P 2=N\ncondition on\n"
                             "  supply plus=P minus=N voltage=5 limit=1\n";
  g_autoptr (MlVerdict) open = judge (text, "reading u on supply=1 amps=5.0m volts=5.00\n");
  g_autoptr (MlVerdict) fine = judge (text, "reading u on supply=1 amps=55.0m volts=5.00\n");
  g_autoptr (MlVerdict) more = judge (text, "reading u on supply=1 amps=105m volts=5.00\n");

  assert_int_equal (open->parts[0].verdict, ML_VERDICT_SUSPECT);
  assert_true (probability (open, "R1") > 0.8);
  assert_true (fine->healthy_probability > 0.5);
  assert_true (more->healthy_probability < 0.1);
  assert_true (probability (more, "C1") > 0.1);
  assert_near (more->readings[0].healthy, 0.055, 1e-3, 0);
}

/* No reading at all. 12 V - 2 V over 470 ohm light LED1; dark beside a lit LED2 that the same fuse feeds, its own branch is open or shorted. */
static void
test_what_is_seen_is_judged_without_a_reading (void **state)
{
  static const char text[] = "reference N\npart F1 fuse 1=P 2=A\npart R1 resistor 1=A 2=B value=470\npart LED1 led anode=B cathode=N colour=red\n"
                             "part R2 resistor 1=A 2=C value=1k\npart LED2 led anode=C cathode=N colour=green\ncondition on\n"
                             "  supply plus=P minus=N voltage=12 limit=500m\n";
  g_autoptr (MlVerdict) dark = judge (text, "seen u on LED1 dark\nseen u on LED2 lit\n");
  g_autoptr (MlVerdict) lit = judge (text, "seen u on LED1 lit\nseen u on LED2 lit\n");
  g_autoptr (MlVerdict) second = judge (text, "reading u on red=C volts=2.00\npass u 2 \"new F1\"\nseen u on LED1 dark\n");

  assert_null (strstr (dark->sentence, "no readings"));
  assert_true (probability (dark, "R1") + probability (dark, "LED1") > 0.5);
  assert_true (probability (dark, "F1") < 0.05);
  assert_int_equal (dark->parts[ml_board_find_part (dark->job->board, "R1")].verdict, ML_VERDICT_SUSPECT);
  assert_true (dark->n_next > 0);
  assert_true (lit->healthy_probability > 0.5);
  assert_non_null (strstr (lit->sentence, "nothing is wrong"));
  assert_int_equal (second->pass, 2);
}

/* A frugal indicator: 0.514 mA through 20 kohm from 12 V (red, 1.9 V at 10 mA, 2 x 25.85 mV x ln 20 less at that current). Half of dim lies at the
 * geometric mean of a milliampere and two fifths of what the sound board gives: 0.453 mA. "Lit" then has 0.15 / 3 + 0.85 Phi (ln (0.514 / 0.453) / 0.7) =
 * 0.535 on the sound board and 0.05 where the LED is dark. Against a bare milliampere it would be 0.195. */
static void
test_lit_is_what_the_sound_board_gives (void **state)
{
  static const char board[] = "reference N\npart R1 resistor 1=P 2=A value=20k\npart LED1 led anode=A cathode=N colour=red\n"
                              "condition on\n  supply plus=P minus=N voltage=12 limit=200m\n";
  g_autoptr (MlVerdict) blind = judge (board, "reading u on red=P volts=12.00\n");
  g_autoptr (MlVerdict) lit = judge (board, "reading u on red=P volts=12.00\nseen u on LED1 lit\n");

  assert_near (lit->healthy_probability / titled (lit, "R1 open"), blind->healthy_probability / titled (blind, "R1 open") * 0.535 / 0.05, 0.03, 0);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_lit_is_what_the_sound_board_gives),
    cmocka_unit_test (test_dark_led_tells_the_branch),
    cmocka_unit_test (test_silent_relay_and_limiting_supply),
    cmocka_unit_test (test_a_limit_is_not_set_to_the_milliampere),
    cmocka_unit_test (test_what_is_read_across_a_supply_is_what_it_gives),
    cmocka_unit_test (test_an_unread_resistor_does_not_burn),
    cmocka_unit_test (test_an_unread_resistor_lets_no_zener_burn),
    cmocka_unit_test (test_a_short_may_be_inside_the_unknown_chip),
    cmocka_unit_test (test_what_is_seen_never_outweighs_a_reading),
    cmocka_unit_test (test_supply_current_convicts),
    cmocka_unit_test (test_what_is_seen_is_judged_without_a_reading),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
