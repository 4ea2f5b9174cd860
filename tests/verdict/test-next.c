/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The next reading: what a meter cannot tell apart is no suggestion. The limit of error is the meter's own, 0.5 % and 2 counts of 6000. */
#include "support/exam.h"
#include "support/near.h"

#include "verdict/next-private.h"

#include <math.h>
#include <string.h>

#define judge ml_exam_judge_readings

/* Half of what an autoranging meter of 6000 counts may be off by, volts. */
static double
limit_of_error (double volts)
{
  double range = 0.6;
  while (range < fabs (volts))
    range *= 10;
  return 0.005 * fabs (volts) + 2 * range / 6000;
}

static void
assert_can_be_told (const MlNextReading *next)
{
  double low = next->healthy, high = next->healthy;
  for (guint i = 0; i < next->n_expect; i++)
    {
      low = fmin (low, next->expect[i].value);
      high = fmax (high, next->expect[i].value);
    }
  if (next->reads == ML_READS_VOLTS)
    assert_true (high - low > limit_of_error (fmax (fabs (low), fabs (high))));
}

/* 12 V over 1k and two of 2k side by side: 6 V at A (Ohm's law); 8 V with one of the two open. Only the divider's tap and the joints are left to read. */
static const char PARALLEL[] = "meterleaf 1\nboard \"Two in parallel\"\nreference G\npart R0 resistor 1=P 2=A value=1k tolerance=1%\n"
                               "part R1 resistor 1=A 2=G value=2k tolerance=1%\npart R2 resistor 1=A 2=G value=2k tolerance=1%\n"
                               "condition on\n  supply plus=P minus=G voltage=12 limit=1\n";

static void
test_next_suggestions_can_be_told_by_the_meter (void **state)
{
  g_autoptr (MlVerdict) verdict = judge (PARALLEL, "reading u on red=P volts=12.00\nreading u on red=A volts=8.00\nreading u on supply=1 amps=0.00400\n");
  for (guint i = 0; i < verdict->n_next; i++)
    assert_can_be_told (&verdict->next[i]);
  assert_int_equal (verdict->parts[ml_board_find_part (verdict->job->board, "R1")].group, verdict->parts[ml_board_find_part (verdict->job->board, "R2")].group);
}

/* Nothing measured at the tap yet: that is where to measure, and 6 V is what to expect there. */
static void
test_next_sound_so_far_is_still_asked (void **state)
{
  g_autoptr (MlVerdict) verdict = judge (PARALLEL, "reading u on red=P volts=12.00\n");
  assert_true (verdict->n_next > 0);
  gboolean found = FALSE;
  for (guint i = 0; i < verdict->n_next; i++)
    {
      const MlNextReading *next = &verdict->next[i];
      assert_can_be_told (next);
      if (next->reads == ML_READS_VOLTS && next->red.net == ml_board_find_net (verdict->job->board, "A") && !next->red.lead)
        {
          found = TRUE;
          assert_near (next->healthy, 6, 0.02, 0);
        }
    }
  assert_true (found);
}

/* A coil of 48 ohm on 12 V through a MOSFET that does not conduct although its gate has 4.97 V: any of its three pins may be open, and no
 * reading so far tells which. The best test of a joint is from the part's own metal to its solder; the black probe stays on the reference. */
static const char DRIVER[] = "meterleaf 1\nboard \"Driver\"\nreference G\npart L1 coil 1=P 2=D resistance=48\n"
                             "part R1 resistor 1=V5 2=GATE value=100\npart Q1 nmos drain=D gate=GATE source=G threshold=2\n"
                             "condition on\n  supply plus=P minus=G voltage=12 limit=1\n  supply plus=V5 minus=G voltage=5 limit=1\n";

static void
test_next_one_part_with_several_faults_is_said_as_such (void **state)
{
  g_autoptr (MlVerdict) verdict = judge (DRIVER, "reading u on red=P volts=12.00\nreading u on red=GATE volts=5.00\nreading u on red=D volts=12.00\n");
  int q1 = ml_board_find_part (verdict->job->board, "Q1"), reference = verdict->job->board->reference;
  gboolean lead = FALSE;

  assert_int_equal (verdict->parts[q1].verdict, ML_VERDICT_SUSPECT);
  assert_non_null (strstr (verdict->sentence, "Q1 open at its "));
  for (guint i = 0; i < 3; i++)
    assert_non_null (strstr (verdict->sentence, (const char *const[]) { "drain", "gate", "source" }[i]));
  assert_null (strstr (verdict->sentence, "or open"));
  for (guint i = 0; i < verdict->n_next; i++)
    if (verdict->next[i].red.lead || verdict->next[i].black.lead)
      {
        lead = TRUE;
        assert_true (verdict->next[i].red.lead);
        assert_true (verdict->next[i].red.net != reference || verdict->next[i].black.net == reference);
      }
  assert_true (lead);
}

/* The same with a condition without supply; no reading with every leg in place tells which of two like parts side by side is open. By itself a
 * sound one is 2 kohm, an open one nothing that a meter shows. */
static const char COLD[] = "condition cold\n";

static MlTruthPlace
place_of (const MlNextReading *next)
{
  return (MlTruthPlace){ next->condition, next->reads, next->red, next->black, next->supply };
}

/* A thermistor that is open and a comparator's input that is shorted to its supply read alike under power. The thermistor's leg is the one to lift:
 * a chip is not powered with a leg in the air (common practice). R5 draws so much that the supply's own display cannot tell either. */
static void
test_next_no_chip_is_powered_with_a_leg_in_the_air (void **state)
{
  static const char board[] = "meterleaf 1\nboard \"b\"\nreference N\npart R1 resistor 1=P 2=S value=10k\npart RT1 thermistor 1=S 2=N value=10k\n"
                              "part R2 resistor 1=P 2=F value=10k\npart R3 resistor 1=F 2=N value=8k2\n"
                              "part U1 comparator noninverting=S inverting=F out=O positive=P negative=N\npart R4 resistor 1=P 2=O value=4k7\n"
                              "part R5 resistor 1=P 2=N value=47\ncondition on\n  supply plus=P minus=N voltage=5 limit=300m\n";
  g_autoptr (MlVerdict) verdict = judge (board, "reading u on red=P volts=5.00\nreading u on red=S volts=5.00\nreading u on red=F volts=2.253\n"
                                                "reading u on red=O volts=5.00\n");

  assert_true (verdict->untold);
  assert_non_null (strstr (verdict->sentence, "No reading under power can tell"));
  assert_non_null (strstr (verdict->sentence, "add a condition without a supply"));
  for (guint i = 0; i < verdict->n_next; i++)
    if (verdict->next[i].step)
      assert_null (strstr (verdict->next[i].step, "U1"));
}

/* What the ohms range is expected to show across an open R1, with an LED beside it: the value at A under the first explanation. */
static double
expected_ohms (const char *diode_test)
{
  static const char board[] = "meterleaf 1\nboard \"b\"\nreference N\npart R0 resistor 1=P 2=A value=1k\npart R1 resistor 1=A 2=N value=1k\n"
                              "part LED1 led anode=A cathode=C colour=red\npart R2 resistor 1=C 2=N value=100\n"
                              "condition on\n  supply plus=P minus=N voltage=5 limit=1\ncondition cold\n";
  g_autofree char *job = g_strdup_printf ("meterleaf 1\njob \"T\"\nboard \"b.leafboard\"\nmeter bench dc=0.5%%+2 ohms=0.8%%+3 counts=6000 input=10M diode=%s\n"
                                          "unit u suspect\nreading u on red=A volts=2.09\nreading u on red=C volts=0.290\n", diode_test);
  g_autoptr (MlBoard) drawn = ml_exam_board ("b", board);
  g_autoptr (MlJudge) own = ml_judge_new (drawn);
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (own, drawn, job, 2);

  for (guint i = 0; i < verdict->n_next; i++)
    if (verdict->next[i].reads == ML_READS_OHMS && verdict->next[i].red.net == ml_board_find_net (drawn, "A"))
      for (guint k = 0; k < verdict->next[i].n_expect; k++)
        if (verdict->next[i].expect[k].explanation == 1)
          return verdict->next[i].expect[k].value;
  fail_msg ("no resistance is suggested");
  return NAN;
}

/* Ohms ranges have their own open-circuit voltage, whatever the diode test's is: an LED conducts a little in them (3 V, common practice). */
static void
test_next_ohms_do_not_hang_on_the_diode_test (void **state)
{
  double with_three = expected_ohms ("1m/3V");

  assert_true (isfinite (with_three));
  assert_near (expected_ohms ("1m/1.2V"), with_three, 1e-9, 0);
}

static void
test_next_two_alike_are_told_by_lifting_a_leg (void **state)
{
  static const char readings[] = "reading u on red=P volts=12.00\nreading u on red=A volts=8.00\nreading u on supply=1 amps=0.00400\n";
  g_autofree char *text = g_strconcat (PARALLEL, COLD, NULL);
  g_autoptr (MlBoard) board = ml_exam_board ("b", text);
  g_autoptr (MlVerdict) before = judge (text, readings);
  const MlNextReading *next = &before->next[0];
  MlFault fault = { .part = ml_board_find_part (board, "R2"), .kind = ML_FAULT_OPEN, .pins = { 0 }, .n_pins = 1, .net_a = -1, .net_b = -1, .size = NAN };
  g_autoptr (MlTruth) unit = ml_truth_new (board, board, ML_TRUTH_NOMINAL, 1, NULL);
  MlTruthPlace place = place_of (next);
  MlTruthMeter meter = ml_truth_meter (&before->job->meters[0], 1);

  assert_non_null (strstr (before->sentence, "No reading can tell R1 from R2"));
  assert_true (before->untold);
  assert_true (before->n_next > 0);
  assert_string_equal (next->step, "lift R1.1");
  assert_int_equal (next->red.lead, ML_LEAD_LIFTED);
  assert_int_equal (next->reads, ML_READS_OHMS);
  assert_near (next->healthy, 2000, 1e-3, 0);
  for (guint i = 0; i < next->n_expect; i++)
    {
      const MlExplanation *explanation = &before->explanations[next->expect[i].explanation - 1];
      gboolean r1_open = explanation->faults[0].part == ml_board_find_part (board, "R1") && explanation->faults[0].kind == ML_FAULT_OPEN;
      if (r1_open)
        assert_true (isinf (next->expect[i].value));
      if (explanation->faults[0].part == fault.part)
        assert_near (next->expect[i].value, 2000, 1e-3, 0);
    }
  assert_true (before->readings_left > 0.5 && before->readings_left < 2.5);
  ml_truth_set_faults (unit, &fault, 1);
  assert_near (ml_truth_read (unit, &place, 10e6), 2000, 1e-6, 0);
  g_autofree char *line = ml_truth_reading_line (board, unit, &meter, "u", &place);
  g_autofree char *more = g_strconcat (readings, line, NULL);
  g_autoptr (MlVerdict) after = judge (text, more);
  assert_true (after->parts[fault.part].probability > 0.8);
  assert_true (after->parts[ml_board_find_part (board, "R1")].probability < 0.2);
}

/* A lifted leg under power: R2 alone carries 8 V, and the leg of an open R1 carries nothing. Ohm's law. */
static void
test_next_lifted_leg_reads_the_circuit_without_it (void **state)
{
  g_autoptr (MlBoard) board = ml_exam_board ("b", PARALLEL);
  g_autoptr (MlJudge) own = ml_judge_new (board);
  g_autoptr (MlJob) job = ml_job_new_for_board (board, NULL);
  g_autoptr (MlTruth) unit = ml_truth_new (board, board, ML_TRUTH_NOMINAL, 1, NULL);
  MlTruthPlace place = { .condition = 0, .reads = ML_READS_VOLTS, .supply = -1 };
  MlFault open = { .part = ml_board_find_part (board, "R1"), .kind = ML_FAULT_OPEN, .pins = { 1 }, .n_pins = 1, .net_a = -1, .net_b = -1, .size = NAN };

  assert_true (ml_probe_parse (board, "R1.1/lifted", &place.red));
  assert_true (ml_probe_parse (board, "A", &place.black));
  assert_near (ml_truth_read (unit, &place, 10e6), -8, 1e-3, 0);
  assert_near (ml_judge_expect (own, 0, NULL, 0, NULL, ML_READS_VOLTS, &place.red, &place.black, -1, &job->meters[0], NULL), -8, 1e-3, 0);
  ml_truth_set_faults (unit, &open, 1);
  assert_near (ml_truth_read (unit, &place, 10e6), 0, 0, 1e-3);
  assert_near (ml_judge_expect (own, 0, &open, 1, NULL, ML_READS_VOLTS, &place.red, &place.black, -1, &job->meters[0], NULL), 0, 0, 1e-3);
}

/* ---- what is not safe is not suggested ---- */

static gboolean
suggests (const MlVerdict *verdict, const char *condition)
{
  for (guint i = 0; i < verdict->n_next; i++)
    if (!verdict->next[i].step && g_str_equal (verdict->job->board->conditions[verdict->next[i].condition].name, condition))
      return TRUE;
  return FALSE;
}

static gboolean
suggests_with (const char *board_format, const char *figure, const char *readings, const char *condition)
{
  g_auto (GStrv) pieces = g_strsplit (board_format, "@", 2);
  g_autofree char *text = g_strconcat (pieces[0], figure, pieces[1], NULL);
  g_autoptr (MlVerdict) verdict = judge (text, readings);
  return suggests (verdict, condition);
}

/* 12 V over 100 ohm and two of 200 side by side, one of them open: A has 8 V and the other bears 0.32 W (P = U^2/R). Twice 150 mW is less, twice
 * 250 mW is more. */
static void
test_next_never_over_twice_the_power_of_a_part (void **state)
{
  static const char board[] = "meterleaf 1\nboard \"b\"\nreference G\npart R0 resistor 1=P 2=A value=100 tolerance=1%\n"
                              "part R1 resistor 1=A 2=G value=200 tolerance=1% power=1\npart R2 resistor 1=A 2=G value=200 tolerance=1%@\n"
                              "condition on\n  supply plus=P minus=G voltage=12 limit=1\n";
  static const char reading[] = "reading u on red=A volts=8.00\n";
  assert_true (suggests_with (board, " power=250m", reading, "on"));
  assert_false (suggests_with (board, " power=150m", reading, "on"));
}

/* R2 open, or R1 shorted: all of the 12 V stand across D1 the way it blocks. Twice its 7 V is more than that, twice 5 V is less. */
static void
test_next_never_over_twice_the_reverse_voltage_of_a_part (void **state)
{
  static const char board[] = "meterleaf 1\nboard \"b\"\nreference G\npart R1 resistor 1=P 2=A value=1k tolerance=1%\n"
                              "part R2 resistor 1=A 2=G value=1k tolerance=1%\npart D1 diode anode=G cathode=A@\n"
                              "condition on\n  supply plus=P minus=G voltage=12 limit=1\n";
  static const char reading[] = "reading u on red=A volts=11.99\n";
  assert_true (suggests_with (board, " reverse=7", reading, "on"));
  assert_false (suggests_with (board, " reverse=5", reading, "on"));
}

/* A shorted capacitor across the supply, or one behind half an ohm, draws all that the supply gives. In a limit that was set it does what it was set for; without one the
 * usual 3 A flow into the short. */
static void
test_next_never_into_a_limit_that_nobody_set (void **state)
{
  static const char board[] = "meterleaf 1\nboard \"b\"\nreference G\npart C1 capacitor 1=P 2=G value=10u\npart R1 resistor 1=P 2=A value=0R5\n"
                              "part C2 capacitor 1=A 2=G value=10u\npart R2 resistor 1=A 2=G value=1k\ncondition on\n  supply plus=P minus=G voltage=12@\n";
  static const char reading[] = "reading u on red=P volts=0.26\n";
  assert_true (suggests_with (board, " limit=500m", reading, "on"));
  assert_false (suggests_with (board, "", reading, "on"));
}

/* D1 keeps 5 V out of a 3.3 V supply; shorted, as 5.0 V behind it tell, it drives current into that supply, which a bench supply does not take. */
static void
test_next_never_backwards_into_a_supply (void **state)
{
  static const char board[] = "meterleaf 1\nboard \"b\"\nreference G\npart R1 resistor 1=V5 2=A value=10@\npart D1 diode anode=B cathode=A\n"
                              "part R2 resistor 1=A 2=G value=1k\ncondition on\n  supply plus=V5 minus=G voltage=5 limit=1\n"
                              "  supply plus=B minus=G voltage=3.3 limit=1\ncondition one\n  supply plus=V5 minus=G voltage=5 limit=1\n";
  /* A would have 4.95 V (1 k behind 10 ohm); with D1 shorted it stands at 3.3 V. */
  static const char reading[] = "reading u on red=A volts=3.31\n";
  assert_false (suggests_with (board, "", reading, "on"));
}

/* Three of 600 ohm behind 100 on 12 V, one of them open: 9 V, 0.135 W each; with one more lifted 10.29 V, 0.176 W in the one left. Twice 80 mW lies between. */
static void
test_next_lifting_must_not_overload_another_part (void **state)
{
  static const char board[] = "meterleaf 1\nboard \"b\"\nreference G\npart R0 resistor 1=P 2=A value=100 tolerance=1%\n"
                              "part R1 resistor 1=A 2=G value=600 tolerance=1%@\npart R2 resistor 1=A 2=G value=600 tolerance=1%@\n"
                              "part R3 resistor 1=A 2=G value=600 tolerance=1%@\ncondition on\n  supply plus=P minus=G voltage=12 limit=1\n";
  static const char *const figures[] = { " power=80m", " power=250m" };
  for (guint k = 0; k < G_N_ELEMENTS (figures); k++)
    {
      g_autoptr (GString) text = g_string_new (board);
      gboolean lifts = FALSE, any = FALSE;
      g_string_replace (text, "@", figures[k], 0);
      g_autoptr (MlVerdict) verdict = judge (text->str, "reading u on red=P volts=12.00\nreading u on red=A volts=9.00\nreading u on supply=1 amps=0.0300\n");
      for (guint i = 0; i < verdict->n_next; i++)
        {
          lifts |= verdict->next[i].step != NULL;
          any |= verdict->next[i].step == NULL;
        }
      assert_int_equal (lifts, k == 1);
      assert_true (any);
    }
}

/* ---- one case, one prediction ---- */

/* A chip nobody has a diagram of, and nothing read yet: what is expected of a sound board is one number. Below a microvolt nothing is shown. */
static void
test_next_one_prediction_for_one_case (void **state)
{
  static const char board[] = "meterleaf 1\nboard \"b\"\nreference G\npart D1 diode anode=P cathode=F\npart R1 resistor 1=F 2=V5 value=47\n"
                              "part D2 zener anode=G cathode=V5 voltage=5.1\npart U1 block 1=V5 2=G 3=OUT supply=1 ground=2\npart R2 resistor 1=OUT 2=B value=1k\n"
                              "part LED1 led anode=B cathode=G colour=red\npart R3 resistor 1=X 2=G value=10k\ncondition on\n  supply plus=P minus=G voltage=9 limit=200m\n";
  /* 8 V at A as drawn; 0.36 V above that the likeliest is a drift, but a sound board out of tolerance is not yet ruled out. */
  static const char chain[] = "meterleaf 1\nboard \"b\"\nreference G\npart R1 resistor 1=P 2=A value=1k\npart R2 resistor 1=A 2=B value=1k\n"
                              "part R3 resistor 1=B 2=G value=1k\ncondition on\n  supply plus=P minus=G voltage=12 limit=1\n";
  static const char *const boards[] = { board, chain }, *const readings[] = { "", "reading u on red=A volts=8.36\n" };
  for (guint k = 0; k < G_N_ELEMENTS (readings); k++)
    {
      g_autoptr (MlVerdict) verdict = judge (boards[k], readings[k]);
      guint sound = 0;
      assert_true (verdict->n_next > 0);
      for (guint i = 0; i < verdict->n_next; i++)
        for (guint j = 0; j < verdict->next[i].n_expect; j++)
          {
            const MlExpect *expect = &verdict->next[i].expect[j];
            if (verdict->explanations[expect->explanation - 1].explains == ML_EXPLAINS_HEALTHY)
              {
                assert_memory_equal (&expect->value, &verdict->next[i].healthy, sizeof (double));
                sound++;
              }
            assert_true (expect->value == 0 || fabs (expect->value) >= 1e-9);
          }
      assert_true (sound > 0);
      if (k == 1)
        assert_int_not_equal (verdict->explanations[0].explains, ML_EXPLAINS_HEALTHY);
    }
}

/* One of two like resistors is open: 8 V at A either way. Two of 0.4 ohm in the way of R1's 4 mA show 0.8 mV when R2 is the open one and nothing when
 * R1 is: a millivolt range would tell them apart, but the leads' thermoelectric voltages and the copper are as much, and no circuit model has them. */
static void
test_next_differences_that_the_model_leaves_out_are_no_suggestion (void **state)
{
  static const char board[] = "meterleaf 1\nboard \"b\"\nreference G\npart R0 resistor 1=P 2=A value=1k tolerance=1%\npart R1 resistor 1=A 2=X value=2k tolerance=1%\n"
                              "part R2 resistor 1=A 2=G value=2k tolerance=1%\npart R3 resistor 1=X 2=G value=0R4 tolerance=1%\npart R4 resistor 1=X 2=G value=0R4 tolerance=1%\n"
                              "condition on\n  supply plus=P minus=G voltage=12 limit=1\n";
  g_autoptr (MlVerdict) verdict = judge (board, "reading u on red=P volts=12.00\nreading u on red=A volts=8.00\nreading u on supply=1 amps=0.00400\n");
  int x = ml_board_find_net (verdict->job->board, "X");
  assert_true (verdict->untold);
  for (guint i = 0; i < verdict->n_next; i++)
    {
      const MlNextReading *next = &verdict->next[i];
      double most = 0;
      for (guint j = 0; j < next->n_expect; j++)
        most = fmax (most, fabs (next->expect[j].value - next->expect[0].value));
      if (next->reads == ML_READS_VOLTS && next->red.net == x && next->red.part < 0)
        assert_true (most > 2e-3);
    }
}

/* ---- effort and the way ahead ---- */

static void
test_next_effort_is_the_boards_to_change (void **state)
{
  g_autofree char *text = g_strconcat (PARALLEL, "assume next.effort-net 7\n", NULL);
  g_autoptr (MlVerdict) usual = judge (PARALLEL, "reading u on red=P volts=12.00\n"), own = judge (text, "reading u on red=P volts=12.00\n");
  const MlVerdict *both[] = { usual, own };
  for (guint k = 0; k < 2; k++)
    {
      gboolean found = FALSE;
      for (guint i = 0; i < both[k]->n_next; i++)
        if (both[k]->next[i].reads == ML_READS_VOLTS && both[k]->next[i].red.part < 0 && both[k]->next[i].black.net == both[k]->job->board->reference)
          {
            assert_near (both[k]->next[i].effort, k ? 7 : 1, 1e-12, 0);
            found = TRUE;
          }
      assert_true (found);
    }
}

/* Three things it may be, and one reading that tells the third from the others: beside it the first two stay even for good. How many readings are left
 * is said where more than half of the probability gets settled: then it is that one. */
static void
test_next_how_many_are_left_is_said_where_most_is_settled (void **state)
{
  static const struct { double told, left; } table[] = { { 0.3, NAN }, { 0.5, NAN }, { 0.6, 1 } };

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      Search search = { .n = 3, .key = { 0, 1, 2 }, .weight = { (1 - table[i].told) / 2, (1 - table[i].told) / 2, table[i].told } };
      const Prospect prospect = { .effort = 1, .mean = { 0, 0, 10 }, .sigma = { 1, 1, 1 } };

      search.prospects = g_array_new (FALSE, TRUE, sizeof (Prospect));
      g_array_append_val (search.prospects, prospect);
      if (isnan (table[i].left))
        assert_true (isnan (ml_next_readings_left (&search)));
      else
        assert_near (ml_next_readings_left (&search), table[i].left, 1e-12, 0);
      g_array_unref (search.prospects);
    }
}

/* Which leg is open makes no difference to which part it is; but a cracked joint costs no part, and a comparison of metal and pad at each leg tells (common
 * practice, no source). */
static void
test_next_an_open_leg_is_compared_with_its_pad_first (void **state)
{
  g_autoptr (MlVerdict) verdict = judge ("reference GND\npart R1 resistor 1=V12 2=D value=1k\npart R2 resistor 1=V5 2=G value=10k\npart R3 resistor 1=G 2=GND value=100k\n"
                                         "part Q1 nmos drain=D gate=G source=GND threshold=1.5\n"
                                         "condition on\n  supply plus=V12 minus=GND voltage=12 limit=100m\n  supply plus=V5 minus=GND voltage=5 limit=100m\n",
                                         "reading u on red=V12 volts=12.01\nreading u on red=D volts=12.00\nreading u on red=G volts=4.53\nreading u on red=V5 volts=4.99\n"
                                         "reading u on supply=1 amps=0.0000\n");

  assert_int_equal (verdict->explanations[0].faults[0].kind, ML_FAULT_OPEN);
  assert_non_null (strstr (verdict->sentence, "from each leg's own metal to its pad"));
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_next_how_many_are_left_is_said_where_most_is_settled),
    cmocka_unit_test (test_next_suggestions_can_be_told_by_the_meter),
    cmocka_unit_test (test_next_sound_so_far_is_still_asked),
    cmocka_unit_test (test_next_one_part_with_several_faults_is_said_as_such),
    cmocka_unit_test (test_next_no_chip_is_powered_with_a_leg_in_the_air),
    cmocka_unit_test (test_next_ohms_do_not_hang_on_the_diode_test),
    cmocka_unit_test (test_next_two_alike_are_told_by_lifting_a_leg),
    cmocka_unit_test (test_next_lifted_leg_reads_the_circuit_without_it),
    cmocka_unit_test (test_next_never_over_twice_the_power_of_a_part),
    cmocka_unit_test (test_next_never_over_twice_the_reverse_voltage_of_a_part),
    cmocka_unit_test (test_next_never_into_a_limit_that_nobody_set),
    cmocka_unit_test (test_next_never_backwards_into_a_supply),
    cmocka_unit_test (test_next_lifting_must_not_overload_another_part),
    cmocka_unit_test (test_next_one_prediction_for_one_case),
    cmocka_unit_test (test_next_differences_that_the_model_leaves_out_are_no_suggestion),
    cmocka_unit_test (test_next_an_open_leg_is_compared_with_its_pad_first),
    cmocka_unit_test (test_next_effort_is_the_boards_to_change),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
