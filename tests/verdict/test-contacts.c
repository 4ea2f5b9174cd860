/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Contacts that wear: of a switch, a changeover switch, a relay. The expected voltages are Ohm's law; that contacts wear and burn is common practice. */
#include "support/exam.h"
#include "support/near.h"

#include <math.h>
#include <string.h>

/* 60 ohm in S1, which feeds 190 ohm: 12 V x 60 / 250 = 2.88 V are lost there. */
static const char SWITCH[] = "reference N\npart S1 switch 1=P 2=A\npart R1 resistor 1=A 2=N value=200 tolerance=1%\npart R2 resistor 1=A 2=B value=2k2 tolerance=1%\n"
                             "part R3 resistor 1=B 2=N value=1k6 tolerance=1%\ncondition on\n  supply plus=P minus=N voltage=12 limit=1\n  set S1 closed\n";
#define LOST_IN_S1 "reading u on red=P volts=12.00\nreading u on red=A volts=9.12\nreading u on red=B volts=3.84\n"

/* A relay's contact with a resistor on either throw. */
static const char RELAY[] = "reference N\npart K1 coil 1=P 2=N resistance=400\npart K1A contact common=P no=A nc=B by=K1\npart R1 resistor 1=A 2=N value=100\n"
                            "part R2 resistor 1=B 2=N value=100\ncondition on\n  supply plus=P minus=N voltage=12 limit=1\n";

/* From the solder a worn contact is a bad joint at either pin: all three are said, in one breath, and what tells them apart is asked for. */
static void
test_worn_contact_reads_as_a_joint_from_the_solder (void **state)
{
  g_autoptr (MlVerdict) verdict = ml_exam_judge_readings (SWITCH, LOST_IN_S1);
  const MlNextReading *next = verdict->next;
  guint asked = 0;

  assert_non_null (strstr (verdict->sentence, "Worn contact in S1, or solder joint at S1, pin 1 or 2, about 60 Ω"));
  for (guint i = 0; i < verdict->n_next; i++)
    asked += next[i].red.lead && next[i].black.lead && next[i].red.part == ml_board_find_part (verdict->job->board, "S1");
  assert_int_equal (asked, 1);
}

/* The part's own metal tells: all of it between the two pins' metal, none between metal and solder; or the other way round. */
static void
test_own_metal_tells_contact_from_joint (void **state)
{
  static const struct { const char *reading, *title; double least; } table[] = {
    { "reading u on red=S1.1/lead black=S1.2/lead volts=2.88\n", "Worn contact in S1, about 60 Ω", 0.99 },
    { "reading u on red=S1.1/lead black=S1.2/lead volts=0.003\n", "Solder joint at S1, pin ", 0.45 }, /* either pin */
    { "reading u on red=S1.1 black=S1.1/lead volts=2.88\n", "Solder joint at S1, pin 1, about 60 Ω", 0.99 },
    { "reading u on red=S1.2/lead black=S1.2 volts=2.88\n", "Solder joint at S1, pin 2, about 60 Ω", 0.99 },
  };

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      g_autofree char *lines = g_strconcat (LOST_IN_S1, table[i].reading, NULL);
      g_autoptr (MlVerdict) verdict = ml_exam_judge_readings (SWITCH, lines);
      const MlReadingVerdict *last = &verdict->readings[verdict->n_readings - 1];

      assert_true (g_str_has_prefix (verdict->explanations[0].title, table[i].title));
      if (verdict->explanations[0].probability < table[i].least)
        print_error ("%s: %g\n", table[i].reading, verdict->explanations[0].probability);
      assert_true (verdict->explanations[0].probability >= table[i].least);
      assert_false (last->doubtful);
      assert_near (last->explained, verdict->job->readings[last->reading].measured.value, 0.02, 5e-3);
      assert_near (verdict->explanations[0].faults[0].size, 60, 0.03, 0);
    }
}

static double
supposed_v (const MlExamBench *bench, const char *fault, const char *net)
{
  MlProbe red, black;
  MlFault own;

  assert_true (ml_fault_parse (bench->board, fault, &own, NULL));
  assert_true (ml_probe_parse (bench->board, net, &red));
  assert_true (ml_probe_parse (bench->board, "N", &black));
  return ml_judge_expect (bench->judge, 0, &own, 1, NULL, ML_READS_VOLTS, &red, &black, -1, &bench->job->meters[0], NULL);
}

/* The coil has pulled in: the throw that is open wears unseen, the other takes 12 V x 100 / 150. */
static void
test_worn_contact_is_that_of_its_throw (void **state)
{
  MlExamBench bench;

  ml_exam_bench_open (&bench, RELAY, "board \"b.leafboard\"\nunit u suspect\n");
  assert_near (supposed_v (&bench, "K1A joint pins=common,no size=50", "A"), 8, 1e-3, 0);
  assert_near (supposed_v (&bench, "K1A joint pins=no,common size=50", "A"), 8, 1e-3, 0);
  assert_near (supposed_v (&bench, "K1A joint pins=common,nc size=50", "A"), 12, 1e-3, 0);
  ml_exam_bench_close (&bench);
}

/* A pull-up of 10 kohm gone to 600 kohm: (5 - 0.65) V / 600 kohm = 7.3 uA (Ohm's law) into a base that needs more. On its own leads it reads the same, so it is
 * no joint; nor is it open, since something flows. */
static void
test_resistor_between_drifted_and_open (void **state)
{
  g_autoptr (MlVerdict) verdict = ml_exam_judge_readings ("reference GND\n"
                                                          "part R1 resistor 1=V5 2=IN value=10k\n"
                                                          "part R5 resistor 1=IN 2=GND value=2k\n"
                                                          "part R6 resistor 1=V5 2=REF value=10k\n"
                                                          "part R7 resistor 1=REF 2=GND value=10k\n"
                                                          "part U2 comparator noninverting=REF inverting=IN out=OUT positive=V5 negative=GND\n"
                                                          "part R2 resistor 1=V5 2=OUT value=10k\n"
                                                          "part R3 resistor 1=OUT 2=BASE value=4k7\n"
                                                          "part Q1 BC547 collector=COL base=BASE emitter=GND\n"
                                                          "part R4 resistor 1=V5 2=COL value=220\n"
                                                          "condition on\n"
                                                          "  supply plus=V5 minus=GND voltage=5 limit=0.3\n",
                                                          "reading u on red=V5 volts=5.00\nreading u on red=OUT volts=0.645\nreading u on red=BASE volts=0.611\n"
                                                          "reading u on red=COL volts=4.68\nreading u on across=R2/lead volts=4.36\nreading u on red=REF volts=2.50\n"
                                                          "reading u on red=IN volts=0.834\n");
  const MlExplanation *first = &verdict->explanations[0];

  assert_int_equal (first->faults[0].part, ml_board_find_part (verdict->job->board, "R2"));
  assert_int_equal (first->faults[0].kind, ML_FAULT_HIGH);
  assert_true (first->faults[0].size > 30 && first->faults[0].size < 120);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_resistor_between_drifted_and_open),
    cmocka_unit_test (test_worn_contact_reads_as_a_joint_from_the_solder),
    cmocka_unit_test (test_own_metal_tells_contact_from_joint),
    cmocka_unit_test (test_worn_contact_is_that_of_its_throw),
  };

  return cmocka_run_group_tests (tests, NULL, NULL);
}
