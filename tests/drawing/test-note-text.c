/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What stands beside a reading: the same place on another unit and the difference, and expected values. Expected by arithmetic: volts change their
 * sign with the probes, resistances do not; a difference is this unit's reading less the other's. */
#include "support/models.h"
#include "support/near.h"

#include "drawing/note-text.h"

#include <math.h>
#include <string.h>

static const char board_text[] = "reference G\npart R1 resistor 1=A 2=B value=1k\npart R2 resistor 1=B 2=G value=1k\npart D1 diode anode=B cathode=G\n"
                                 "condition on\n  supply plus=A minus=G voltage=5 limit=100m\ncondition cold\n";

static MlJob *
read_job (const char *readings)
{
  g_autoptr (MlBoard) board = ml_test_board (board_text);
  g_autofree char *text = g_strconcat ("unit bad suspect\nunit fine good\n", readings, NULL);

  return ml_test_job (board, text);
}

static void
test_the_other_unit_is_read_the_same_way_round (void **state)
{
  static const struct { const char *readings, *value, *difference; } table[] = {
    { "reading bad on red=A volts=5.00\nreading fine on red=A volts=4.50\n", "4.50 V", "+500 mV" },
    { "reading bad on red=A volts=5.00\nreading fine on red=G black=A volts=-4.50\n", "4.50 V", "+500 mV" },
    { "reading bad on red=A volts=5.0\nreading fine on red=G black=A volts=-2.1..-1.8\n", "1.8 V to 2.1 V", "+3.05 V" },
    { "reading bad cold across=R1 ohms=470\nreading fine cold across=R1.2-1 ohms=1000\n", "1.000 k\xce\xa9", "-530 \xce\xa9" },
    { "reading bad cold across=R1 ohms=470\nreading fine cold across=R1.2-1 ohms=OL\n", "OL", "differs" },
    { "reading bad cold across=R1 ohms=OL\nreading fine cold across=R1.2-1 ohms=OL\n", "OL", "same" },
    { "reading bad on supply=1 amps=26m\nreading fine on supply=1 amps=24m\n", "24 mA", "+2.00 mA" },
    { "reading bad on red=A volts=5.00\nreading fine on red=A volts=5.00\n", "5.00 V", "0 V" },
    { "reading bad on red=A volts=5.00\nreading fine on red=A volts=4.00\nreading fine on red=A volts=4.50\n", "4.50 V", "+500 mV" },
    { "reading bad on red=A volts=5.00\nreading fine on red=A volts=4.00\npass fine 2\nreading fine on red=A volts=4.50\n", "4.50 V", "+500 mV" },
  };

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      g_autoptr (MlJob) job = read_job (table[i].readings);
      g_autofree char *value = NULL, *difference = NULL;

      assert_true (ml_note_other_unit (job, 1, &job->readings[0], &value, &difference));
      if (strcmp (value, table[i].value) != 0 || strcmp (difference, table[i].difference) != 0)
        fail_msg ("%s: %s, %s", table[i].readings, value, difference);
    }
}

/* A diode test the other way round is another test. */
static void
test_what_was_not_read_there_is_not_compared (void **state)
{
  static const char *const table[] = {
    "reading bad on red=A volts=5\nreading fine on red=B volts=5\n",
    "reading bad on red=A volts=5\nreading fine cold red=A ohms=5\n",
    "reading bad cold across=D1 diode=0.61\nreading fine cold across=D1.cathode-anode diode=OL\n",
  };

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      g_autoptr (MlJob) job = read_job (table[i]);
      g_autofree char *value = NULL, *difference = NULL;

      assert_false (ml_note_other_unit (job, 1, &job->readings[0], &value, &difference));
      assert_false (ml_note_other_unit (job, 0, &job->readings[0], &value, &difference));
      assert_false (ml_note_other_unit (job, -1, &job->readings[0], &value, &difference));
      assert_null (value);
    }
}

/* Three digits; what no meter would show is nothing, what none can hold is over-range (common practice). */
static void
test_expected_values_have_three_digits (void **state)
{
  static const struct { double value; MlUnit unit; const char *text; } table[] = {
    { 4.9876, ML_UNIT_VOLT, "4.99 V" }, { 4e-4, ML_UNIT_VOLT, "0 V" }, { -4e-4, ML_UNIT_VOLT, "0 V" }, { 6e-4, ML_UNIT_VOLT, "600 \xc2\xb5V" },
    { 5e-10, ML_UNIT_AMPERE, "0 A" }, { 0.0261, ML_UNIT_AMPERE, "26.1 mA" }, { 2e9, ML_UNIT_OHM, "OL" }, { 9e8, ML_UNIT_OHM, "900 M\xce\xa9" },
    { INFINITY, ML_UNIT_VOLT, "OL" }, { 5e-4, ML_UNIT_OHM, "0 \xce\xa9" },
  };

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      g_autofree char *text = ml_note_expected (table[i].value, table[i].unit);
      assert_string_equal (text, table[i].text);
    }
}

/* Without a verdict the state shown says it: net against net, and of a supply its current. */
static void
test_a_state_says_what_should_be_read (void **state)
{
  g_autoptr (MlJob) job = read_job ("reading bad on red=A black=B volts=1\nreading bad on supply=1 amps=1m\nreading bad cold across=R1 ohms=1k\n");
  double net_v[3] = { 0 }, supply_a[1] = { 5e-3 };
  MlOperatingPoint point = { .condition = 0, .net_v = net_v, .supply_a = supply_a };
  const MlOverlay overlay = { .job = job, .condition = 0, .pass = 1, .point = &point };

  net_v[ml_board_find_net (job->board, "A")] = 5;
  net_v[ml_board_find_net (job->board, "B")] = 2.5;
  assert_near (ml_note_expected_of (&overlay, 0), 2.5, 1e-15, 0);
  assert_near (ml_note_expected_of (&overlay, 1), 5e-3, 1e-15, 0);
  assert_true (isnan (ml_note_expected_of (&overlay, 2)));
}

static void
test_a_doubt_names_what_would_fit (void **state)
{
  static const struct { MlSlip slip; double fits; const char *text; } table[] = {
    { ML_SLIP_SWAPPED, 4.93, "probes swapped? 4.93 V fits" }, { ML_SLIP_THOUSANDFOLD, 0.45, "a thousandfold off? 450 mV fits" },
    { ML_SLIP_WRONG_PIN, 4.93, "another pin? 4.93 V fits" }, { ML_SLIP_WRONG_CONDITION, 0, "another condition? 0 V fits" },
    { ML_SLIP_UNCLEAR, 4.93, "doubtful: 4.93 V fits" }, { ML_SLIP_NONE, 4.93, "doubtful" }, { ML_SLIP_SWAPPED, NAN, "doubtful" },
  };

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      const MlReadingVerdict reading = { .slip = table[i].slip, .fits = table[i].fits };
      g_autofree char *text = ml_note_doubt (&reading, ML_UNIT_VOLT);
      assert_string_equal (text, table[i].text);
    }
}

/* Two faults at once are no choice: beside each stands the other. Of two that read the same it is one. */
static void
test_a_part_says_with_which_others_it_is_suspect (void **state)
{
  g_autoptr (MlBoard) board = ml_test_board (board_text);
  MlFault faults[] = { { .part = 0, .net_a = -1, .net_b = -1 }, { .part = 1, .net_a = -1, .net_b = -1 } };
  MlExplanation explanation = { .id = 1, .faults = faults, .n_faults = 2, .explains = ML_EXPLAINS_FAULT };
  MlPartVerdict parts[] = { { .verdict = ML_VERDICT_SUSPECT, .probability = 0.9, .group = 1 }, { .verdict = ML_VERDICT_SUSPECT, .probability = 0.9, .group = 1 },
                            { .verdict = ML_VERDICT_CLEARED } };
  const MlVerdict verdict = { .explanations = &explanation, .n_explanations = 1, .parts = parts, .n_parts = 3 };
  const MlScene scene = { .board = board };

  MlNoteText note = ml_note_of_part (&scene, &verdict, 0);
  assert_int_equal (note.n_lines, 2);
  assert_string_equal (note.lines[1].text, "and R2");
  ml_note_text_clear (&note);
  note = ml_note_of_part (&scene, &verdict, 1);
  assert_string_equal (note.lines[1].text, "and R1");
  ml_note_text_clear (&note);
  explanation.n_faults = 1;
  note = ml_note_of_part (&scene, &verdict, 0);
  assert_string_equal (note.lines[1].text, "one of R1, R2");
  ml_note_text_clear (&note);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_the_other_unit_is_read_the_same_way_round),
    cmocka_unit_test (test_what_was_not_read_there_is_not_compared),
    cmocka_unit_test (test_expected_values_have_three_digits),
    cmocka_unit_test (test_a_state_says_what_should_be_read),
    cmocka_unit_test (test_a_doubt_names_what_would_fit),
    cmocka_unit_test (test_a_part_says_with_which_others_it_is_suspect),
  };

  return cmocka_run_group_tests (tests, NULL, NULL);
}
