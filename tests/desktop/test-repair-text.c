/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a new part has to stand, and the limit of the first power-up; expected numbers by Ohm's law on a divider: 20 V over 1k and 1k are 10 mA,
 * 10 V and 100 mW each. */
#include "support/near.h"

#include <math.h>

#include "desktop/repair-text.h"
#include "support/models.h"

static const char divider[] = "meterleaf 1\nreference M\npart R1 resistor 1=A 2=B value=1k\npart R2 resistor 1=B 2=M value=1k\n"
                              "part D1 diode anode=M cathode=B\ncondition on\n  supply plus=A minus=M voltage=20 limit=200m\ncondition cold\n";

typedef struct
{
  double net_v[3], pin_a[3][2], *pins[3], part_w[3], supply_v[1], supply_a[1];
  gboolean limiting[1];
  MlOperatingPoint point;
} Solved;

/* The divider at that supply, by hand. */
static void
solve (Solved *s, const MlBoard *board, double volts)
{
  double amps = volts / 2000;
  *s = (Solved){ .part_w = { amps * volts / 2, amps * volts / 2, 0 }, .supply_v = { volts }, .supply_a = { amps } };
  s->net_v[ml_board_find_net (board, "A")] = volts;
  s->net_v[ml_board_find_net (board, "B")] = volts / 2;
  for (int i = 0; i < 3; i++)
    s->pins[i] = s->pin_a[i];
  for (int i = 0; i < 2; i++)
    {
      s->pin_a[i][0] = amps;
      s->pin_a[i][1] = -amps;
    }
  s->point = (MlOperatingPoint){ .condition = 0, .solved = TRUE, .net_v = s->net_v, .pin_a = s->pins, .part_w = s->part_w,
                                 .supply_v = s->supply_v, .supply_a = s->supply_a, .limiting = s->limiting };
}

static void
test_new_part_stands_the_worst_of_all_conditions (void **state)
{
  g_autoptr (MlBoard) board = ml_test_board (divider);
  Solved low, high;
  solve (&low, board, 10);
  solve (&high, board, 20);
  const MlOperatingPoint *points[] = { &low.point, NULL, &high.point };
  g_autofree char *resistor = ml_repair_new_part (board, ml_board_find_part (board, "R1"), points, 3);
  g_autofree char *diode = ml_repair_new_part (board, ml_board_find_part (board, "D1"), points, 3);
  g_autofree char *unknown = ml_repair_new_part (board, ml_board_find_part (board, "R1"), points + 1, 1);
  assert_string_equal (resistor, "The new one gets up to 10 V, 10 mA, 100 mW in these conditions: fit one that stands twice that.");
  assert_string_equal (diode, "The new one gets up to 10 V in these conditions: fit one that stands twice that. Its cathode goes to B.");
  assert_string_equal (unknown, "");
}

/* What was done counts until the next pass begins, and of that unit and part only. */
static void
test_repair_is_known_from_the_log_of_this_pass (void **state)
{
  static const char before[] = "unit one suspect\nunit two suspect\nreading one on red=B volts=3\n",
                    done[] = "log 2026-12-01T15:12 one replaced R1 \"same type\"\nlog 2026-12-01T15:13 one noted \"looks new\"\n";
  g_autoptr (MlBoard) board = ml_test_board (divider);
  g_autofree char *logged = g_strconcat (before, done, NULL), *passed = g_strconcat (before, done, "pass one 2 \"replaced R1\"\n", NULL);
  g_autoptr (MlJob) first = ml_test_job (board, before), second = ml_test_job (board, logged), third = ml_test_job (board, passed);

  assert_null (ml_repair_logged (first, 0, "R1"));
  assert_string_equal (ml_repair_logged (second, 0, "R1"), "replaced");
  assert_null (ml_repair_logged (second, 0, "R2"));
  assert_null (ml_repair_logged (second, 1, "R1"));
  assert_null (ml_repair_logged (third, 0, "R1"));
}

static void
test_first_power_up_is_limited_by_what_a_sound_board_draws (void **state)
{
  g_autoptr (MlBoard) board = ml_test_board (divider);
  Solved solved;
  solve (&solved, board, 20);
  g_autofree char *words = ml_repair_power_up (board, &solved.point);
  assert_string_equal (words, "For the first power-up set the limit to 15 mA: in on a sound board draws 10 mA.");
  solved.supply_a[0] = 41e-3; /* 61.5 mA: no knob is set to that */
  g_autofree char *rounded = ml_repair_power_up (board, &solved.point);
  assert_non_null (strstr (rounded, "to 65 mA"));
  solved.supply_a[0] = 0.19; /* the condition's own limit is lower than half as much again */
  assert_null (ml_repair_power_up (board, &solved.point));
  solved.supply_a[0] = 0.01;
  solved.limiting[0] = TRUE;
  assert_null (ml_repair_power_up (board, &solved.point));
  assert_null (ml_repair_power_up (board, NULL));
  solved.limiting[0] = FALSE;
  solved.point.condition = 1; /* cold */
  assert_null (ml_repair_power_up (board, &solved.point));
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_new_part_stands_the_worst_of_all_conditions),
    cmocka_unit_test (test_repair_is_known_from_the_log_of_this_pass),
    cmocka_unit_test (test_first_power_up_is_limited_by_what_a_sound_board_draws),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
