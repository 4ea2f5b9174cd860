/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Stray links, broken tracks and wrong parts. Readings are closed forms (Ohm, Kirchhoff) or come from the truth program. */
#include "support/exam.h"
#include "support/near.h"

#include <math.h>
#include <string.h>

#define judge ml_exam_judge_readings

#define DIVIDERS "meterleaf 1\nboard \"Two dividers for a test jig\"\nreference G\npart R1 resistor 1=P 2=A value=1k tolerance=1%\n" \
                 "part R2 resistor 1=A 2=G value=2k tolerance=1%\npart R3 resistor 1=P 2=B value=3k tolerance=1%\n" \
                 "part R4 resistor 1=B 2=G value=1k tolerance=1%\ncondition on\n  supply plus=P minus=G voltage=12 limit=1\n"

static const MlExplanation *
find (const MlVerdict *verdict, const char *part, MlFaultKind kind)
{
  int index = part ? ml_board_find_part (verdict->job->board, part) : -1;
  for (guint i = 0; i < verdict->n_explanations; i++)
    if (verdict->explanations[i].n_faults == 1 && verdict->explanations[i].faults[0].part == index && verdict->explanations[i].faults[0].kind == kind)
      return &verdict->explanations[i];
  return NULL;
}

/* The readings of one unit with that fault, as the truth program and its meter show them. */
static char *
truth_readings (MlBoard *board, const MlFault *fault, const char *const *nets)
{
  g_autoptr (MlTruth) unit = ml_truth_new (board, board, ML_TRUTH_NOMINAL, 1, NULL);
  g_autoptr (MlJob) job = ml_job_new_for_board (board, NULL);
  MlTruthMeter meter = ml_truth_meter (&job->meters[0], 7);
  GString *lines = g_string_new (NULL);
  ml_truth_set_faults (unit, fault, 1);
  for (guint i = 0; nets[i]; i++)
    {
      MlTruthPlace place = { .reads = ML_READS_VOLTS, .supply = -1 };
      assert_true (ml_probe_parse (board, nets[i], &place.red));
      place.black = (MlProbe){ board->reference, -1, -1, ML_LEAD_NONE };
      g_autofree char *line = ml_truth_reading_line (board, unit, &meter, "u", &place);
      assert_non_null (line);
      g_string_append (lines, line);
      if (lines->str[lines->len - 1] != '\n')
        g_string_append_c (lines, '\n');
    }
  return g_string_free (lines, FALSE);
}

/* Both taps joined: 12 V (1/1k + 1/3k) / (1/1k + 1/2k + 1/3k + 1/1k) = 5.647 V at either. */
static void
test_stray_link_between_near_nets_leads (void **state)
{
  g_autoptr (MlVerdict) verdict = judge (DIVIDERS "near A B\n", "reading u on red=P volts=12.00\nreading u on red=A volts=5.647\nreading u on red=B volts=5.647\n");
  assert_int_equal (verdict->explanations[0].faults[0].kind, ML_FAULT_STRAY_LINK);
  assert_int_equal (verdict->n_links, 1);
  assert_int_equal (verdict->links[0].verdict, ML_VERDICT_SUSPECT);
  assert_near (verdict->links[0].probability, verdict->explanations[0].probability, 1e-9, 0);
  assert_non_null (strstr (verdict->sentence, "A and B are joined"));
  for (guint i = 0; i < verdict->n_parts; i++)
    assert_int_not_equal (verdict->parts[i].verdict, ML_VERDICT_SUSPECT);
}

static void
test_stray_link_stays_out_of_a_sound_board (void **state)
{
  g_autoptr (MlVerdict) verdict = judge (DIVIDERS "near A B\n", "reading u on red=P volts=12.00\nreading u on red=A volts=8.00\nreading u on red=B volts=3.00\n");
  assert_int_equal (verdict->explanations[0].explains, ML_EXPLAINS_HEALTHY);
  assert_int_equal (verdict->links[0].verdict, ML_VERDICT_UNPROVEN);
}

/* Candidates of a row of pins and of a picture: 2 mm apart is near, 5 mm is not. */
static void
test_stray_link_candidates_come_from_rows_and_pictures (void **state)
{
  g_autoptr (MlVerdict) row = judge (DIVIDERS "part J1 connector 1=P 2=B 3=A\n", "reading u on red=P volts=12.00\n");
  g_autoptr (MlVerdict) picture = judge (DIVIDERS "picture \"b.png\" scale=10\n  pad R1.2 x=100 y=100\n  pad R3.2 x=120 y=100\n  pad R2.2 x=150 y=100\n",
                                         "reading u on red=P volts=12.00\n");
  const MlBoard *board = row->job->board;
  int a = ml_board_find_net (board, "A"), b = ml_board_find_net (board, "B");
  assert_int_equal (row->n_links, 1); /* P and B are joined by R3: the link would read as that part shorted */
  assert_int_equal (row->links[0].net_a, MIN (a, b));
  assert_int_equal (picture->n_links, 1);
  assert_int_equal (picture->links[0].net_b, MAX (a, b));
}

/* 10 k in place of 1 k: B at 12 V 10/13 = 9.231 V, 12/3k + 12/13k = 4.92 mA in all. */
static void
test_wrong_part_a_decade_off_is_named (void **state)
{
  g_autoptr (MlVerdict) verdict = judge (DIVIDERS, "reading u on red=A volts=8.00\nreading u on red=B volts=9.23\nreading u on supply=1 amps=0.00492\n");
  const MlExplanation *wrong = find (verdict, "R4", ML_FAULT_WRONG_PART);
  assert_int_equal (verdict->parts[ml_board_find_part (verdict->job->board, "R4")].verdict, ML_VERDICT_SUSPECT);
  assert_non_null (wrong);
  assert_string_equal (wrong->faults[0].as, "10 k\xce\xa9");
  assert_string_equal (wrong->title, "Wrong part fitted as R4: 10 k\xce\xa9");
  assert_true (wrong->probability > 0.3);
}

/* 1.2 k in place of 1 k, the next in the E12 row (IEC 60063): 12 V 1.2/4.2 = 3.429 V, 4 mA + 2.857 mA. */
static void
test_wrong_part_next_in_the_row_is_named (void **state)
{
  g_autoptr (MlVerdict) verdict = judge (DIVIDERS, "reading u on red=A volts=8.00\nreading u on red=B volts=3.43\nreading u on supply=1 amps=0.00686\n");
  const MlExplanation *wrong = find (verdict, "R4", ML_FAULT_WRONG_PART);
  assert_non_null (wrong);
  assert_string_equal (wrong->faults[0].as, "1.2 k\xce\xa9");
}

/* A 6.2 V zener where 5.1 V is drawn, two further in E24. */
static void
test_wrong_part_zener_of_another_voltage (void **state)
{
  g_autoptr (MlVerdict) verdict = judge ("meterleaf 1\nboard \"b\"\nreference G\npart R1 resistor 1=P 2=A value=680 tolerance=1%\n"
                                         "part D1 zener anode=G cathode=A voltage=5.1 tolerance=2%\npart R2 resistor 1=A 2=G value=10k tolerance=1%\n"
                                         "condition on\n  supply plus=P minus=G voltage=12 limit=1\n",
                                         "reading u on red=P volts=12.00\nreading u on red=A volts=6.20\n");
  const MlExplanation *wrong = find (verdict, "D1", ML_FAULT_WRONG_PART);
  assert_int_equal (verdict->parts[ml_board_find_part (verdict->job->board, "D1")].verdict, ML_VERDICT_SUSPECT);
  assert_non_null (wrong);
  assert_string_equal (wrong->faults[0].as, "6.2 V");
}

#define SWITCH "meterleaf 1\nboard \"b\"\nreference G\npart R1 resistor 1=P 2=C value=1k tolerance=1%\npart R2 resistor 1=IN 2=B value=2k2 tolerance=1%\n" \
               "part Q1 npn collector=C base=B emitter=E\npart R3 resistor 1=E 2=G value=100 tolerance=1%\ncondition on\n" \
               "  supply plus=P minus=G voltage=12 limit=1\n  supply plus=IN minus=G voltage=5 limit=1\n"

static void
test_wrong_part_pnp_for_npn (void **state)
{
  static const char *const nets[] = { "C", "B", "E", NULL };
  g_autoptr (MlBoard) board = ml_exam_board ("b", SWITCH);
  MlFault fault = { .part = ml_board_find_part (board, "Q1"), .kind = ML_FAULT_WRONG_PART, .net_a = -1, .net_b = -1, .size = NAN };
  g_autofree char *readings = truth_readings (board, &fault, nets);
  g_autoptr (MlVerdict) verdict = judge (SWITCH, readings);
  const MlExplanation *wrong = find (verdict, "Q1", ML_FAULT_WRONG_PART);
  assert_int_equal (verdict->parts[fault.part].verdict, ML_VERDICT_SUSPECT);
  assert_non_null (wrong);
  assert_string_equal (wrong->faults[0].as, "pnp");
  assert_true (wrong->probability > 0.5);
}

/* T feeds four pins; with R3 and R4 cut off together, R5 behind R3 and R4 floats with them. */
#define TRACK "meterleaf 1\nboard \"b\"\nreference G\npart R1 resistor 1=P 2=T value=1k tolerance=1%\npart R2 resistor 1=T 2=G value=1k tolerance=1%\n" \
              "part R3 resistor 1=T 2=X value=1k tolerance=1%\npart R4 resistor 1=T 2=Y value=2k2 tolerance=1%\n" \
              "part R5 resistor 1=X 2=G value=1k tolerance=1%\npart R6 resistor 1=Y 2=G value=1k tolerance=1%\n" \
              "condition on\n  supply plus=P minus=G voltage=12 limit=1\n"

static void
test_broken_track_cuts_two_pins_off (void **state)
{
  static const char *const nets[] = { "T", "X", "Y", NULL };
  g_autoptr (MlBoard) board = ml_exam_board ("b", TRACK);
  MlFault fault = { .part = -1, .kind = ML_FAULT_BROKEN_TRACK, .net_a = ml_board_find_net (board, "T"), .net_b = -1, .size = NAN, .n_cut = 2 };
  fault.cut_parts[0] = ml_board_find_part (board, "R3");
  fault.cut_parts[1] = ml_board_find_part (board, "R4");
  g_autofree char *readings = truth_readings (board, &fault, nets);
  g_autoptr (MlVerdict) verdict = judge (TRACK, readings);
  const MlExplanation *broken = find (verdict, NULL, ML_FAULT_BROKEN_TRACK);
  assert_non_null (broken);
  assert_true (broken->probability > 0.5);
  assert_int_equal (broken->faults[0].n_cut, 2);
  assert_non_null (strstr (broken->title, "cut off"));
}

/* ---- supposing ---- */

static double
tap (const char *words)
{
  g_autoptr (MlBoard) board = ml_exam_board ("b", DIVIDERS);
  g_autoptr (MlJudge) own = ml_judge_new (board);
  MlFault fault;
  g_autoptr (GError) error = NULL;
  assert_true (ml_fault_parse (board, words, &fault, &error));
  g_autoptr (MlOperatingPoint) point = ml_judge_solve (own, 0, &fault, 1, NULL);
  ml_fault_clear (&fault);
  return point->solved ? point->net_v[ml_board_find_net (board, "B")] : NAN;
}

static void
test_wrong_part_can_be_supposed (void **state)
{
  assert_near (tap ("R4 wrong-part as=10k"), 12 * 10 / 13.0, 1e-9, 0);
  assert_near (tap ("R4 wrong-part size=10"), 12 * 10 / 13.0, 1e-9, 0);
  assert_near (tap ("R4 wrong-part size=0.1"), 12 * 0.1 / 3.1, 1e-9, 0);
  assert_true (isnan (tap ("R4 wrong-part")));
  assert_true (isnan (tap ("R4 wrong-part as=blue")));
}

/* What nobody said is no fault: a diode of unread type that drops 0.31 V at 11 mA is a Schottky diode, an LED drawn green that drops 2.9 V at 8 mA one of the newer
 * green (data sheets, from memory). Where the family is said, the same drop is a fault. */
#define INDICATOR(family, light) "meterleaf 1\nboard \"b\"\nreference N\npart D1 diode anode=P cathode=A" family "\npart R1 resistor 1=A 2=B value=1k\n" \
                                 "part LED1 led anode=B cathode=N colour=" light "\ncondition on\n  supply plus=P minus=N voltage=12 limit=500m\n"

static void
test_other_types_are_told_from_faults (void **state)
{
  g_autoptr (MlVerdict) unsaid = judge (INDICATOR ("", "red"), "reading u on red=P volts=12.00\nreading u on across=D1 volts=0.310\nreading u on red=B volts=1.900\n");
  g_autoptr (MlVerdict) said = judge (INDICATOR (" family=silicon", "red"),
                                      "reading u on red=P volts=12.00\nreading u on across=D1 volts=0.310\nreading u on red=B volts=1.900\n");
  g_autoptr (MlVerdict) green = judge (INDICATOR ("", "green"),
                                       "reading u on red=P volts=12.00\nreading u on across=D1 volts=0.660\nreading u on red=B volts=2.900\n");
  const MlExplanation *first = &unsaid->explanations[0];

  assert_int_equal (first->explains, ML_EXPLAINS_DRAWING);
  assert_int_equal (first->faults[0].kind, ML_FAULT_WRONG_PART);
  assert_string_equal (first->faults[0].as, "schottky");
  assert_true (first->probability > 0.8);
  assert_non_null (strstr (unsaid->sentence, "D1 is a Schottky diode"));
  assert_int_equal (said->explanations[0].explains, ML_EXPLAINS_FAULT);
  assert_null (find (said, "D1", ML_FAULT_WRONG_PART));
  assert_int_equal (green->explanations[0].explains, ML_EXPLAINS_DRAWING);
  assert_string_equal (green->explanations[0].faults[0].as, "true-green");
}

/* A diode supposed to be of the other type drops what that one does: 0.32 V at 10 mA. */
static void
test_other_types_can_be_supposed (void **state)
{
  g_autoptr (MlBoard) board = ml_test_board (INDICATOR ("", "red"));
  g_autoptr (MlJudge) own = ml_judge_new (board);
  MlFault fault;
  MlOperatingPoint *point;

  assert_true (ml_fault_parse (board, "D1 wrong-part as=schottky", &fault, NULL));
  point = ml_judge_solve (own, 0, &fault, 1, NULL);
  assert_true (point->solved);
  assert_near (point->net_v[ml_board_find_net (board, "P")] - point->net_v[ml_board_find_net (board, "A")], 0.32, 0.02, 0);
  ml_operating_point_free (point);
  ml_fault_clear (&fault);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_other_types_are_told_from_faults),
    cmocka_unit_test (test_other_types_can_be_supposed),
    cmocka_unit_test (test_stray_link_between_near_nets_leads),
    cmocka_unit_test (test_stray_link_stays_out_of_a_sound_board),
    cmocka_unit_test (test_stray_link_candidates_come_from_rows_and_pictures),
    cmocka_unit_test (test_wrong_part_a_decade_off_is_named),
    cmocka_unit_test (test_wrong_part_next_in_the_row_is_named),
    cmocka_unit_test (test_wrong_part_zener_of_another_voltage),
    cmocka_unit_test (test_wrong_part_pnp_for_npn),
    cmocka_unit_test (test_broken_track_cuts_two_pins_off),
    cmocka_unit_test (test_wrong_part_can_be_supposed),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
