/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A chip nobody knows that drives two like loads. That outputs of one chip are alike is common practice, no source; voltages follow from dividers
 * and a base's 0.7 V. */
#include "support/exam.h"
#include "support/near.h"

#include <string.h>

#define judge ml_exam_judge_readings

/* Fed over a resistor with a zener diode, and no supply= written. */
static const char FLASHER[]
  = "meterleaf 1\nboard \"Crossing flasher\"\nreference G\npart D1 diode anode=P cathode=VP\npart R1 resistor 1=VP 2=VZ value=330\n"
    "part D2 zener anode=G cathode=VZ voltage=5.1\npart U1 block 1=VZ 2=G 3=OA 4=OB 5=EN\npart R2 resistor 1=VZ 2=EN value=10k\npart S1 switch 1=EN 2=G\n"
    "part R3 resistor 1=OA 2=BA value=1k\npart R4 resistor 1=OB 2=BB value=1k\npart Q1 npn base=BA collector=CA emitter=G\n"
    "part Q2 npn base=BB collector=CB emitter=G\npart R5 resistor 1=VP 2=LA value=470\npart LED1 led anode=LA cathode=CA colour=red\n"
    "part R6 resistor 1=VP 2=LB value=470\npart LED2 led anode=LB cathode=CB colour=red\n"
    "condition on \"train near\"\n  supply plus=P minus=G voltage=12 limit=200m\n  set S1 closed\n";
#define SHARED "reading u on red=P volts=12.02\nreading u on red=VP volts=11.26\nreading u on red=VZ volts=5.05\nreading u on red=OA volts=3.90\n" \
               "reading u on red=BA volts=710m\nreading u on red=CA volts=80m\n"

static MlVerdict *
judge_flasher (const char *more)
{
  g_autofree char *lines = g_strconcat (SHARED, more, NULL);
  return judge (FLASHER, lines);
}

/* The right output is high with nothing to drive: 4.35 V at both ends of R4, no base current, LED2 off. One fault, and it is no chip's. */
static void
test_outputs_open_base_is_one_fault (void **state)
{
  g_autoptr (MlVerdict) verdict = judge_flasher ("reading u on red=OB volts=4.35\nreading u on red=BB volts=4.34\nreading u on red=CB volts=9.95\n");
  const MlExplanation *first = &verdict->explanations[0];

  assert_int_equal (first->explains, ML_EXPLAINS_FAULT);
  assert_int_equal (first->n_faults, 1);
  assert_int_equal (first->faults[0].part, ml_board_find_part (verdict->job->board, "Q2"));
  for (guint i = 0; i < verdict->n_parts; i++)
    if (g_str_equal (verdict->job->board->parts[i].name, "U1"))
      assert_int_not_equal (verdict->parts[i].verdict, ML_VERDICT_SUSPECT);
}

/* Both transistors driven, 20 mV apart: two like outputs, not two outputs that touch. */
static void
test_outputs_alike_are_no_stray_link (void **state)
{
  g_autoptr (MlVerdict) verdict = judge_flasher ("reading u on red=OB volts=3.88\nreading u on red=BB volts=700m\nreading u on red=CB volts=75m\n");

  assert_int_equal (verdict->explanations[0].explains, ML_EXPLAINS_HEALTHY);
  assert_true (verdict->explanations[0].probability > 0.7);
  for (guint i = 0; i < verdict->n_links; i++)
    assert_int_not_equal (verdict->links[i].verdict, ML_VERDICT_SUSPECT);
}

/* Two unknown chips, one of them with eight outputs of which seven are held low: each is far from what is usual of a pin that nobody knows, and together they are so
 * unlikely that the drawing was doubted. R4 is open, which a chip that holds its line low hides. Readings from the truth program. */
static void
test_what_outputs_do_is_no_doubt_about_the_drawing (void **state)
{
  static const char lines[] =
    "unit u suspect\n"
    "reading u on red=VIN volts=11.99\nreading u on red=V12 volts=11.06\nreading u on red=V5 volts=4.916\nreading u on red=CLKI volts=-0.0001\n"
    "reading u on red=DATI volts=0.0326\nreading u on red=STBI volts=0.0651\nreading u on red=CLK volts=-0.0001\nreading u on red=DAT volts=0.0327\n"
    "reading u on red=STB volts=0.0651\nreading u on red=Q0 volts=5.541\nreading u on red=Q1 volts=2.458\nreading u on red=Q2 volts=4.916\n"
    "reading u on red=Q3 volts=2.458\nreading u on red=Q4 volts=4.916\nreading u on red=Q5 volts=-0.0001\nreading u on red=Q6 volts=11.06\n"
    "reading u on red=Q7 volts=-0.0001\nreading u on red=Y0 volts=-0.0001\nreading u on red=Y1 volts=-0.0001\nreading u on red=Y2 volts=-0.0001\n"
    "reading u on red=Y3 volts=11.06\nreading u on red=Y4 volts=-0.0001\nreading u on red=Y5 volts=-0.0001\nreading u on red=Y6 volts=-0.0001\n"
    "reading u on red=Y7 volts=-0.0001\nreading u on red=L0 volts=-0.0001\nreading u on red=L1 volts=-0.0001\nreading u on red=L2 volts=-0.0001\n"
    "reading u on red=L3 volts=11.06\nreading u on red=L4 volts=-0.0001\nreading u on red=L5 volts=-0.0001\nreading u on red=L6 volts=-0.0001\n"
    "reading u on red=L7 volts=-0.0001\nreading u on supply=1 amps=0.3020\n";
  g_autoptr (MlBoard) board = ml_test_board_of ("tests/drawing/boards/aspect-driver.leafboard");
  g_autoptr (MlJudge) judge = ml_judge_new (board);
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (judge, board, lines, 2);

  assert_true (verdict->misfit_probability < 0.05);
  assert_null (strstr (verdict->sentence, "cannot give"));
  assert_int_equal (verdict->explanations[0].explains, ML_EXPLAINS_HEALTHY);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_what_outputs_do_is_no_doubt_about_the_drawing),
    cmocka_unit_test (test_outputs_open_base_is_one_fault),
    cmocka_unit_test (test_outputs_alike_are_no_stray_link),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
