/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A pin drawn on the wrong net. The board: two dividers on one supply, R1 over R2 with tap A, R3 over R4 with tap B; they do not touch each
 * other, so each tap is V R2 / (R1 + R2). In the drawing R2's upper end is on B. */
#include "support/exam.h"
#include "support/near.h"
#include "verdict/modes.h"

#include <math.h>
#include <string.h>

#define DRAWN(r2, more) \
  "meterleaf 1\nboard \"Two dividers for a test jig\"\nreference G\n" \
  "part R1 resistor 1=P 2=A value=1k tolerance=1%\npart R2 resistor 1=" r2 " 2=G value=2k tolerance=1%\n" \
  "part R3 resistor 1=P 2=B value=3k tolerance=1%\npart R4 resistor 1=B 2=G value=1k tolerance=1%\n" more \
  "condition on\n  supply plus=P minus=G voltage=12 limit=1\n"

static const double V = 12, R1 = 1e3, R2 = 2e3, R3 = 3e3, R4 = 1e3;

/* The job of the real board with this R4; the tap A named by the net or by R2's pin. */
static MlVerdict *
judge (const char *drawn, double r4, const char *tap, guint stage)
{
  g_autoptr (MlBoard) board = ml_exam_board ("dividers", drawn);
  g_autoptr (MlJudge) own = ml_judge_new (board);
  g_autofree char *text = g_strdup_printf ("meterleaf 1\njob \"T\"\nboard \"b.leafboard\"\nmeter bench dc=0.5%%+2 counts=6000 input=10M\nunit u suspect\n"
                                           "reading u on red=P volts=12.00\nreading u on red=%s volts=%.3f\nreading u on red=B volts=%.3f\n"
                                           "reading u on supply=1 amps=%.6f\n",
                                           tap, V * R2 / (R1 + R2), V * r4 / (R3 + r4), V / (R1 + R2) + V / (R3 + r4));
  return ml_exam_judge_text (own, board, text, stage);
}

/* The likeliest explanation of that kind; 0 when none is listed. */
static double
probability_of (const MlVerdict *verdict, MlFaultKind kind)
{
  for (guint i = 0; i < verdict->n_explanations; i++)
    if (verdict->explanations[i].n_faults == 1 && verdict->explanations[i].faults[0].kind == kind)
      return verdict->explanations[i].probability;
  return 0;
}

static void
check_named (const MlVerdict *verdict)
{
  const MlExplanation *first = &verdict->explanations[0];
  assert_int_equal (first->explains, ML_EXPLAINS_DRAWING);
  assert_int_equal (first->faults[0].kind, ML_FAULT_WRONG_NET);
  assert_string_equal (first->title, "R2 pin 1 is on net A, not on B as drawn");
  assert_string_equal (verdict->sentence, "Look at the drawing: R2 pin 1 is on net A, not on B as drawn.");
  for (guint i = 0; i < verdict->n_parts; i++)
    {
      assert_int_not_equal (verdict->parts[i].verdict, ML_VERDICT_SUSPECT);
      assert_true (verdict->parts[i].probability < 0.5);
    }
}

static void
test_wrong_net_is_named_and_convicts_nobody (void **state)
{
  g_autoptr (MlVerdict) verdict = judge (DRAWN ("B", ""), R4, "A", 2);
  check_named (verdict);
}

/* A probe on the pin stands where the pin is, not where it is drawn. */
static void
test_wrong_net_takes_a_probe_on_its_pin_along (void **state)
{
  g_autoptr (MlVerdict) verdict = judge (DRAWN ("B", ""), R4, "R2.1", 2);
  check_named (verdict);
}

static void
test_wrong_net_stays_out_of_a_right_drawing (void **state)
{
  g_autoptr (MlVerdict) sound = judge (DRAWN ("A", ""), R4, "A", 2), faulty = judge (DRAWN ("A", ""), 3 * R4, "A", 2);
  assert_int_equal (sound->explanations[0].explains, ML_EXPLAINS_HEALTHY);
  assert_true (sound->healthy_probability > 0.8);
  assert_int_equal (faulty->explanations[0].explains, ML_EXPLAINS_FAULT);
  assert_string_equal (faulty->job->board->parts[faulty->explanations[0].faults[0].part].name, "R4");
  assert_true (probability_of (faulty, ML_FAULT_WRONG_NET) < 0.05);
}

/* A fault on the misdrawn board: neither explains the readings alone, and only the faulty part is suspected. R4 is 0.4 times its value. */
static void
test_wrong_net_and_a_fault_are_found_together (void **state)
{
  g_autoptr (MlVerdict) verdict = judge (DRAWN ("B", ""), 0.4 * R4, "A", 2);
  const MlExplanation *first = &verdict->explanations[0];
  assert_int_equal (first->explains, ML_EXPLAINS_DRAWING);
  assert_int_equal (first->n_faults, 2);
  assert_int_equal (first->faults[0].kind, ML_FAULT_WRONG_NET);
  assert_string_equal (verdict->job->board->parts[first->faults[1].part].name, "R4");
  assert_near (first->faults[1].size, 0.4, 0.1, 0);
  assert_true (g_str_has_prefix (verdict->sentence, "Look at the drawing: R2 pin 1 is on net A, not on B as drawn, and: R4 drifted low"));
  assert_true (first->reasons[0] && strstr (first->reasons[0], "with this slip and this fault"));
  for (guint i = 0; i < verdict->n_parts; i++)
    {
      assert_int_equal (verdict->parts[i].probability > 0.5, g_str_equal (verdict->job->board->parts[i].name, "R4"));
      assert_true (verdict->parts[i].probability < 0.8); /* not all such pairs are looked at */
    }
}

/* It belongs to the final stage: the earlier ones must be quick. */
static void
test_wrong_net_is_looked_for_in_the_final_stage (void **state)
{
  g_autoptr (MlVerdict) refined = judge (DRAWN ("B", ""), R4, "A", 1);
  assert_near (probability_of (refined, ML_FAULT_WRONG_NET), 0, 0, 0);
}

/* Somebody heard with the beeper that R2's and R4's upper ends are joined: the more likely the drawing, and the less likely this slip. */
static void
test_wrong_net_heard_with_the_beeper_is_less_likely (void **state)
{
  g_autoptr (MlVerdict) plain = judge (DRAWN ("B", ""), R4, "A", 2), heard = judge (DRAWN ("B", "beep R2.1 R4.1 yes\n"), R4, "A", 2);
  assert_true (probability_of (heard, ML_FAULT_WRONG_NET) < probability_of (plain, ML_FAULT_WRONG_NET));
}

/* Behind a chip nobody knows: with the feed drawn past the regulator the whole board would be dead, so that what the chip does must come from
 * the best explanation before the wrong pin can show itself. Readings by the truth program from the board as it is. */
static void
test_wrong_net_is_found_where_an_unknown_chip_is_fed_by_it (void **state)
{
  g_autofree char *path = g_strdup_printf ("%s/boards/vent-controller.leafboard", g_getenv ("METERLEAF_SOURCE")), *text = NULL;
  assert_true (g_file_get_contents (path, &text, NULL, NULL));
  g_auto (GStrv) halves = g_strsplit (text, "part R1 resistor 1=V18 2=ZREF", 2);
  assert_int_equal (g_strv_length (halves), 2);
  g_autofree char *wrong_text = g_strjoinv ("part R1 resistor 1=V18 2=INLET", halves);
  g_autoptr (MlBoard) actual = ml_exam_board ("right", text), wrong = ml_exam_board ("wrong", wrong_text);
  g_autoptr (GArray) places = ml_truth_all_places (actual);
  g_autoptr (MlTruthCase) all = ml_truth_case_new (actual, actual, places);
  g_autoptr (MlTruth) unit = ml_truth_new (actual, actual, ML_TRUTH_UNIT, 31, NULL);
  MlTruthMeter meter = ml_truth_meter (&all->meter, 31);
  g_autofree char *job = ml_truth_job_text (all, unit, &meter, "suspect", places);
  g_autoptr (MlJudge) own = ml_judge_new (wrong);
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (own, wrong, job, 2);
  double named = 0;
  for (guint i = 0; i < verdict->n_explanations; i++)
    if (verdict->explanations[i].n_faults && verdict->explanations[i].faults[0].kind == ML_FAULT_WRONG_NET
        && verdict->explanations[i].faults[0].part == ml_board_find_part (wrong, "R1"))
      named += verdict->explanations[i].probability;
  assert_true (named > 0.2);
  for (guint i = 0; i < verdict->n_parts; i++)
    assert_true (verdict->parts[i].probability < 0.8);
}

/* Nobody builds a part with both ends on one net: one of them is drawn wrongly, which needs less to believe. The same slip either way: R2's
 * upper end is on A in truth, drawn on B or on its own lower end's net. */
static void
test_wrong_net_of_a_part_with_both_ends_on_one_net_is_likelier (void **state)
{
  g_autoptr (MlBoard) apart = ml_exam_board ("apart", DRAWN ("B", "")), meet = ml_exam_board ("meet", DRAWN ("G", ""));
  double prior[2] = { 0 };
  for (guint k = 0; k < 2; k++)
    {
      MlModel *model = ml_model_new (k ? meet : apart, NULL);
      g_autoptr (GArray) list = ml_modes_list (model);
      for (guint h = 0; h < list->len; h++)
        {
          const MlHypothesis *own = &g_array_index (list, MlHypothesis, h);
          if (own->fault.kind == ML_FAULT_WRONG_NET && own->fault.part == 1 && own->fault.pins[0] == 0
              && own->fault.net_a == ml_board_find_net (k ? meet : apart, "A"))
            prior[k] = own->prior;
        }
      ml_model_free (model);
    }
  assert_true (prior[0] > 0);
  assert_true (prior[1] > 2 * prior[0]);
}

/* A chain of resistors, and before it a chip with a pin on each of the chain's nets and as many again. */
static MlBoard *
chain (guint n_resistors, guint n_pins)
{
  g_autoptr (GString) text = g_string_new ("meterleaf 1\nboard \"Chain\"\nreference N0\n");

  for (guint i = 0; i < n_resistors; i++)
    g_string_append_printf (text, "part R%u resistor 1=N%u 2=N%u value=1k\n", i + 1, i, i + 1);
  if (n_pins)
    g_string_append (text, "part U1 block");
  for (guint i = 0; i < n_pins; i++)
    g_string_append_printf (text, " p%u=N%u", i, i);
  g_string_append (text, "\ncondition on\n  supply plus=N1 minus=N0 voltage=5 limit=1\n");
  return ml_exam_board ("chain", text->str);
}

static guint
n_slips (guint n_resistors, guint n_pins, MlFaultKind kind)
{
  g_autoptr (MlBoard) board = chain (n_resistors, n_pins);
  MlModel *model = ml_model_new (board, NULL);
  g_autoptr (GArray) list = ml_modes_list (model);
  guint n = 0;

  for (guint h = 0; h < list->len; h++)
    n += g_array_index (list, MlHypothesis, h).fault.kind == kind;
  ml_model_free (model);
  return n;
}

/* M1 shorted, and Q3's drain drawn on the wrong net, read the same here; but then the fan could not run on the good unit. Readings computed with resistors
 * within 4 % and 0.4 % of meter error. */
static void
test_wrong_net_that_a_good_unit_denies (void **state)
{
  static const char board[] = "board \"Drill battery charger\"\nreference GND\npart J1 connector 1=IN 2=GND 3=BAT\npart F1 fuse 1=IN 2=VF current=2\n"
                              "part D1 diode anode=VF cathode=VP\npart C1 capacitor plus=VP minus=GND value=470u\n"
                              "part Q1 pnp collector=OUT base=BP emitter=VP\npart R1 resistor 1=VP 2=BP\n"
                              "part R2 resistor 1=BP 2=DRV value=680 tolerance=5%\npart Q2 npn collector=DRV base=B2 emitter=GND\n"
                              "part R3 resistor 1=B2 2=GND value=10k tolerance=5%\npart R4 resistor 1=CMP 2=B2\n"
                              "part D2 diode anode=OUT cathode=BAT family=schottky\npart R5 resistor 1=BAT 2=SENS value=47k tolerance=1%\n"
                              "part R6 resistor 1=SENS 2=GND value=10k tolerance=1%\npart U1 shunt cathode=REF anode=GND reference=REF\n"
                              "part R7 resistor 1=V8 2=REF\npart U2 regulator in=VP out=V8 ground=GND voltage=8\n"
                              "part R8 resistor 1=V8 2=CMP value=4k7 tolerance=5%\npart R9 resistor 1=CMP 2=LR value=2k2 tolerance=5%\n"
                              "part LED1 led anode=LR cathode=GND colour=green\npart RT1 thermistor 1=NTC 2=GND value=10k beta=3950\n"
                              "part R10 resistor 1=REF 2=NTC value=22k tolerance=5%\npart R11 resistor 1=V8 2=LP\n"
                              "part LED2 led anode=LP cathode=GND colour=red\npart R12 resistor 1=FAN 2=B3\npart Q3 nmos drain=FD gate=B3 source=GND\n"
                              "part R13 resistor 1=B3 2=GND\npart M1 coil 1=VP 2=FD resistance=150 show=motor\npart D3 diode anode=FD cathode=VP\n"
                              "part RB resistor 1=BAT 2=GND value=180 tolerance=5%\npart U3 block 1=V8 2=GND 3=REF 4=SENS 5=CMP 6=NTC 7=FAN\n"
                              "condition empty \"low battery\"\n  supply plus=IN minus=GND voltage=20 limit=1\ncondition full \"battery full\"\n"
                              "  supply plus=IN minus=GND voltage=20 limit=1\n  supply BATT plus=BAT minus=GND voltage=16.5 limit=1\n";
  static const char job[] = "meterleaf 1\njob \"x\"\nboard \"x\"\nmeter m dc=0.5%+2 counts=6000 input=10M\n"
                            "unit u suspect \"x\"\nunit g good \"y\"\nreading u empty red=B2 volts=0.643\nreading u empty red=BAT volts=5.066\n"
                            "reading u empty red=DRV volts=0.0793\nreading u empty red=FAN volts=3.463\nreading u empty red=FD volts=5.458\n"
                            "reading u empty red=NTC volts=0.783\nreading u empty red=OUT volts=5.411\nreading u empty red=REF volts=2.441\n"
                            "reading u empty red=VP volts=5.447\nreading u empty across=D1 volts=2.005\n"
                            "reading u empty across=Q1.base-collector volts=-0.657\nreading u empty across=Q2.base-emitter volts=0.646\n"
                            "reading u empty across=Q2.base-collector volts=0.563\nreading u empty across=D2 volts=0.3476\n"
                            "reading u empty across=LED1 volts=1.893\nreading u empty across=LED2 volts=1.748\n"
                            "reading u empty across=Q3.gate-source volts=3.391\nreading u empty across=Q3.drain-source volts=5.469\n"
                            "reading u empty across=D3 volts=0\nreading u full red=B2 volts=0.036\nreading u full red=B3 volts=0\n"
                            "reading u full red=BAT volts=16.53\nreading u full red=BP volts=19.35\nreading u full red=DRV volts=19.38\n"
                            "reading u full red=FD volts=19.4\nreading u full red=LP volts=1.819\nreading u full red=OUT volts=13.92\n"
                            "reading u full red=VF volts=20.02\nreading u full red=VP volts=19.37\nreading u full across=D1 volts=0.664\n"
                            "reading u full across=Q1.base-emitter volts=0\nreading u full across=Q1.base-collector volts=2.832\n"
                            "reading u full across=R1 volts=0\nreading u full across=Q2.base-emitter volts=0.036\nreading u full across=D2 volts=0\n"
                            "reading u full across=LED1 volts=0.0526\nreading u full across=LED2 volts=1.825\n"
                            "reading u full across=Q3.gate-source volts=0\nreading u full across=Q3.drain-source volts=19.27\n"
                            "reading u full across=D3 volts=0\nreading g empty red=B3 volts=7.84\nreading g empty red=BAT volts=14.2\n"
                            "reading g empty red=BP volts=18.27\nreading g empty red=DRV volts=17.51\nreading g empty red=FD volts=0.0217\n"
                            "reading g empty red=IN volts=20.01\nreading g empty red=LP volts=1.818\nreading g empty red=LR volts=0.893\n"
                            "reading g empty red=NTC volts=0.763\nreading g empty red=REF volts=2.5\nreading g empty red=V8 volts=8\n"
                            "reading g empty red=VF volts=20.03\nreading g empty across=Q1.base-emitter volts=-0.701\n"
                            "reading g empty across=Q1.base-collector volts=3.585\nreading g empty across=R1 volts=0.702\n"
                            "reading g empty across=Q2.base-emitter volts=0.591\nreading g empty across=LED1 volts=0.887\n"
                            "reading g empty across=Q3.gate-source volts=7.81\nreading g empty across=Q3.drain-source volts=0.0217\n"
                            "reading g full red=B3 volts=0\nreading g full red=CMP volts=0.0518\nreading g full red=FD volts=19.31\n"
                            "reading g full red=LP volts=1.824\nreading g full red=NTC volts=0.762\nreading g full red=REF volts=2.492\n"
                            "reading g full red=V8 volts=8.02\nreading g full red=VF volts=19.98\n"
                            "reading g full across=Q1.base-collector volts=2.831\nreading g full across=Q2.base-emitter volts=0.035\n"
                            "reading g full across=Q2.base-collector volts=-19.24\nreading g full across=R10 volts=1.741\n"
                            "reading g full across=R12 volts=0\nreading g full across=Q3.drain-source volts=19.34\nreading g full across=D3 volts=0\n";
  MlExamBench bench;

  ml_exam_bench_open (&bench, board, job);
  assert_int_equal (bench.verdict->explanations[0].explains, ML_EXPLAINS_FAULT);
  assert_true (bench.verdict->parts[ml_board_find_part (bench.board, "M1")].probability > 0.3);
  ml_exam_bench_close (&bench);
}

static guint
n_cleared (const MlVerdict *verdict)
{
  guint n = 0;

  for (guint i = 0; i < verdict->n_parts; i++)
    n += verdict->parts[i].verdict == ML_VERDICT_CLEARED;
  return n;
}

/* A divider behind a zener whose lower resistor lies at MINUS on the board, which gives 5.4 V 6.8 k / 16.8 k = 2.2 V at its tap, and whose R2 has drifted to
 * five times its value: 0.94 V. Drawn with both resistors at the zener it can give nothing but 5.4 V: then what speaks against the other parts is a
 * drawing that is not so. */
static void
test_wrong_net_that_nothing_explains_clears_nobody (void **state)
{
#define TAP(end) "reference MINUS\npart F1 fuse 1=FEED 2=FUSED\npart D1 diode anode=FUSED cathode=VIN family=schottky\n" \
                 "part R1 resistor 1=VIN 2=VZ1 value=1k tolerance=5%\npart D2 zener anode=MINUS cathode=VZ1 voltage=5.1\n" \
                 "part R2 resistor 1=VZ1 2=TAP2 value=10k tolerance=5%\npart R3 resistor 1=TAP2 2=" end " value=6k8 tolerance=5%\n" \
                 "part R4 resistor 1=VIN 2=MINUS value=2k7 tolerance=5%\ncondition c1\n  supply plus=FEED minus=MINUS voltage=24 limit=500m\n"
  static const char lines[] = "reading u c1 red=FEED volts=23.91\nreading u c1 red=FUSED volts=23.90\nreading u c1 red=VIN volts=23.52\n"
                              "reading u c1 red=VZ1 volts=5.393\nreading u c1 red=TAP2 volts=0.937\nreading u c1 supply=1 amps=0.02798\n";
  g_autoptr (MlVerdict) wrong = ml_exam_judge_readings (TAP ("VZ1"), lines), right = ml_exam_judge_readings (TAP ("MINUS"), lines);

  assert_int_equal (n_cleared (wrong), 0);
  assert_true (n_cleared (right) >= 3);
  assert_int_not_equal (right->parts[ml_board_find_part (right->job->board, "R2")].verdict, ML_VERDICT_CLEARED);
}

/* Counted by hand: of n nets n (n - 1) / 2 pairs; on more than slip.all-nets = 25 nets the neighbours in the chain. A chip that joins each with each
 * is left out from slip.most-nets = 3000 pairs on: 78 pins have 3003. */
static void
test_nets_that_are_one_stay_few (void **state)
{
  assert_int_equal (n_slips (24, 0, ML_FAULT_MISSING_LINK), 25 * 24 / 2);
  assert_int_equal (n_slips (25, 0, ML_FAULT_MISSING_LINK), 25);
  assert_int_equal (n_slips (25, 77, ML_FAULT_MISSING_LINK), 77 * 76 / 2);
  assert_int_equal (n_slips (25, 78, ML_FAULT_MISSING_LINK), 25);
  assert_int_equal (n_slips (0, 300, ML_FAULT_MISSING_LINK), 0);
  assert_int_equal (n_slips (0, 300, ML_FAULT_WRONG_NET), 0);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_wrong_net_is_named_and_convicts_nobody),
    cmocka_unit_test (test_wrong_net_takes_a_probe_on_its_pin_along),
    cmocka_unit_test (test_wrong_net_stays_out_of_a_right_drawing),
    cmocka_unit_test (test_wrong_net_and_a_fault_are_found_together),
    cmocka_unit_test (test_wrong_net_is_looked_for_in_the_final_stage),
    cmocka_unit_test (test_wrong_net_heard_with_the_beeper_is_less_likely),
    cmocka_unit_test (test_wrong_net_is_found_where_an_unknown_chip_is_fed_by_it),
    cmocka_unit_test (test_wrong_net_of_a_part_with_both_ends_on_one_net_is_likelier),
    cmocka_unit_test (test_wrong_net_that_a_good_unit_denies),
    cmocka_unit_test (test_wrong_net_that_nothing_explains_clears_nobody),
    cmocka_unit_test (test_nets_that_are_one_stay_few),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
