/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reasons: which readings convict, which only follow, what none of them would show. The values are Ohm's law. */
#include "support/exam.h"
#include "support/near.h"

#include <string.h>

#define judge ml_exam_judge_readings

static const char *
reason_with (const MlExplanation *explanation, const char *words)
{
  for (guint i = 0; explanation->reasons[i]; i++)
    if (strstr (explanation->reasons[i], words))
      return explanation->reasons[i];
  return NULL;
}

/* Grob, Basic Electronics, ex. 4-6: 24 V across 150, 120, 180, 150 drops 6, 4.8, 7.2, 6 V; with the third open all of it stands there. */
static const char STRING[] = "meterleaf 1\nboard \"b\"\nreference N\npart R1 resistor 1=A 2=B value=150\npart R2 resistor 1=B 2=C value=120\n"
                             "part R3 resistor 1=C 2=D value=180\npart R4 resistor 1=D 2=N value=150\ncondition on\n  supply plus=A minus=N voltage=24 limit=1\n";

static void
test_why_the_drop_across_the_open_part_convicts_and_the_others_follow (void **state)
{
  g_autoptr (MlVerdict) verdict = judge (STRING, "reading u on across=R1 volts=0.000\nreading u on across=R2 volts=0.000\nreading u on across=R3 volts=24.0\n"
                                                 "reading u on across=R4 volts=0.000\n");
  const MlExplanation *first = &verdict->explanations[0];
  const char *convicts = reason_with (first, "across R3 reads 24 V"), *follows = reason_with (first, "across R1 reads 0 V");
  assert_int_equal (first->faults[0].part, ml_board_find_part (verdict->job->board, "R3"));
  assert_ptr_equal (first->reasons[0], convicts);
  assert_non_null (strstr (convicts, "7.2 V if all were fine"));
  assert_non_null (strstr (convicts, "24 V with this fault"));
  assert_non_null (strstr (convicts, "but 0 V with ")); /* an open part elsewhere leaves nothing across R3 */
  assert_non_null (follows);
  assert_non_null (strstr (follows, "far from 6 V, but that follows from R3: with R3 open it would read 0 V"));
}

/* Two dividers on one supply, only the first measured, 24 V halved by equal resistors (Ohm's law): that says nothing of the second. */
static void
test_why_a_sound_board_is_sound_only_where_it_was_measured (void **state)
{
  static const char two[] = "meterleaf 1\nboard \"b\"\nreference N\npart R1 resistor 1=A 2=B value=1k\npart R2 resistor 1=B 2=N value=1k\n"
                            "part R3 resistor 1=A 2=C value=1k\npart R4 resistor 1=C 2=N value=1k\ncondition on\n"
                            "  supply plus=A minus=N voltage=24 limit=1\n";
  g_autoptr (MlVerdict) half = judge (two, "reading u on red=B volts=12.00\nreading u on red=A volts=24.00\n");
  g_autoptr (MlVerdict) whole = judge (two, "reading u on red=B volts=12.00\nreading u on red=A volts=24.00\nreading u on red=C volts=12.00\n");

  assert_non_null (strstr (half->sentence, "wrong where you measured"));
  assert_non_null (strstr (half->sentence, "no reading would show a fault in R3, R4."));
  assert_non_null (strstr (whole->sentence, "Probably nothing is wrong: every reading"));
}

/* An open fuse leaves nothing at all on the vent controller. That 2.7 V on its 5 V rail speaks against the fuse helps nobody: nearly nothing
 * speaks for it. */
static void
test_why_no_rival_is_named_that_explains_next_to_nothing (void **state)
{
  g_autofree char *job_text = ml_test_file ("boards/vent-controller.leafjob");
  g_autoptr (MlBoard) board = ml_test_board_of ("boards/vent-controller.leafboard");
  g_autoptr (MlJudge) own = ml_judge_new (board);
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (own, board, job_text, 2);
  assert_non_null (reason_with (&verdict->explanations[0], "Q1.emitter/lead"));
  assert_null (reason_with (&verdict->explanations[0], "with F1 open"));
}

/* One reading alone: 0.9 V from base to emitter is more than a small transistor shows (0.6 to 0.8 V, common practice), but no fault explains it
 * much better. The sentence says what is odd, not that all is near a sound board. */
static void
test_why_an_odd_reading_alone_is_said (void **state)
{
  g_autoptr (MlBoard) board = ml_test_board_of ("boards/vent-controller.leafboard");
  g_autoptr (MlJudge) own = ml_judge_new (board);
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (own, board, "unit u suspect\nreading u asked red=BASE volts=0.900\n", 2);

  assert_non_null (strstr (verdict->sentence, "900 mV at BASE"));
  assert_null (strstr (verdict->sentence, "nothing is wrong"));
}

/* A timer whose unknown chip drives a relay and an LED while S1 is closed, after the repair, beside a good unit. 2.2 V at the LED with S1 open is none of
 * the chip's doing: with as much at its output the transistor would get (2.2 - 0.7) V / 4.7 kohm (Ohm's law) and pull the relay, which is off. The other
 * condition gives it. */
static void
test_why_a_reading_that_no_chip_gives_is_named (void **state)
{
  g_autoptr (MlBoard) board = ml_test_board ("reference G\npart F1 fuse 1=IN 2=A current=500mA\npart D1 1N4007 anode=A cathode=B\n"
                                             "part C1 capacitor plus=B minus=G value=100u\npart R1 resistor 1=B 2=V value=470\n"
                                             "part D2 zener anode=G cathode=V voltage=5.1V\npart U1 block 1=V 2=G 3=OUT 4=KEY\n"
                                             "part R2 resistor 1=OUT 2=BASE value=4k7\npart Q1 BC547 collector=COIL base=BASE emitter=G\npart K1 coil 1=B 2=COIL\n"
                                             "part D3 1N4148 anode=COIL cathode=B\npart R3 resistor 1=OUT 2=LAMP value=1k\n"
                                             "part LED1 led anode=LAMP cathode=G colour=green\npart S1 switch 1=V 2=KEY\npart R4 resistor 1=KEY 2=G value=10k\n"
                                             "condition up\n  supply plus=IN minus=G voltage=12 limit=0.2\n"
                                             "condition down\n  supply plus=IN minus=G voltage=12 limit=0.2\n  set S1 closed\n");
  g_autoptr (MlJudge) own = ml_judge_new (board);
  g_autoptr (MlVerdict) verdict
      = ml_exam_judge_text (own, board, "unit u suspect\nunit spare good\nreading spare down red=V volts=5.05\nreading spare down red=KEY volts=5.04\n"
                                        "reading spare down red=OUT volts=4.4\nreading spare down red=BASE volts=0.71\nreading spare down red=COIL volts=66m\n"
                                        "reading spare up red=V volts=5.08\nreading spare up red=COIL volts=11.3\n"
                                        "reading u down red=COIL volts=64m\nreading u down red=OUT volts=4.38\nreading u down red=BASE volts=0.71\n"
                                        "reading u down red=V volts=5.03\nreading u down red=LAMP volts=2.1\nreading u up red=COIL volts=11.31\n"
                                        "reading u up red=V volts=5.07\nreading u up red=LAMP volts=2.2\n", 2);

  assert_int_equal (verdict->explanations[0].explains, ML_EXPLAINS_HEALTHY);
  assert_non_null (reason_with (&verdict->explanations[0], "but for what looks misread"));
  assert_non_null (strstr (verdict->sentence, "One reading looks misread: LAMP in condition up"));
  assert_null (strstr (verdict->sentence, "every reading is what"));
  assert_int_equal (verdict->readings[verdict->n_readings - 1].slip, ML_SLIP_WRONG_CONDITION);
}

/* One reading that fits nothing beside a good unit: 1.05 V across R4 where 0.69 V follow from 2.72 V on the rail. The sentence names it, and does
 * not send anybody to parts that differ from the good unit only because of the joint. */
static void
test_why_an_odd_reading_is_named_as_it_was_taken (void **state)
{
  g_autofree char *job_text = ml_test_file ("boards/vent-controller.leafjob");
  g_autofree char *odd = g_strconcat (job_text, "\nreading bay7 asked across=R4 volts=1.05\n", NULL);
  g_autoptr (MlBoard) board = ml_test_board_of ("boards/vent-controller.leafboard");
  g_autoptr (MlJudge) own = ml_judge_new (board);
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (own, board, odd, 2);
  assert_int_equal (verdict->explanations[0].faults[0].part, ml_board_find_part (board, "Q1"));
  assert_non_null (strstr (verdict->sentence, "across R4"));
  assert_null (strstr (verdict->sentence, "at across"));
  assert_null (strstr (verdict->sentence, "By comparison"));
  assert_int_equal (verdict->n_compared, 0);
}

/* Two dividers on a stiff supply: what is read in one says nothing about the other. */
static void
test_why_sound_so_far_says_what_would_not_show (void **state)
{
  static const char board[] = "meterleaf 1\nboard \"b\"\nreference N\npart R1 resistor 1=A 2=B value=1k\npart R2 resistor 1=B 2=N value=1k\n"
                              "part R3 resistor 1=A 2=C value=2k\npart R4 resistor 1=C 2=N value=1k\ncondition on\n  supply plus=A minus=N voltage=9 limit=1\n";
  g_autoptr (MlVerdict) verdict = judge (board, "reading u on red=B volts=4.50\n");
  const MlExplanation *first = &verdict->explanations[0];
  assert_int_equal (first->explains, ML_EXPLAINS_HEALTHY);
  assert_non_null (reason_with (first, "would show a fault in R3, R4"));
}

/* Of twelve such parts ten are named and two counted; each of them is in the list of what the readings cannot tell. */
static void
test_why_many_that_would_not_show_are_counted (void **state)
{
  g_autoptr (GString) board = g_string_new ("meterleaf 1\nboard \"b\"\nreference N\npart R1 resistor 1=A 2=B value=1k\npart R2 resistor 1=B 2=N value=1k\n");
  for (int i = 3; i < 15; i += 2)
    g_string_append_printf (board, "part R%d resistor 1=A 2=C%d value=2k\npart R%d resistor 1=C%d 2=N value=1k\n", i, i, i + 1, i);
  g_string_append (board, "condition on\n  supply plus=A minus=N voltage=9 limit=1\n");
  g_autoptr (MlVerdict) verdict = judge (board->str, "reading u on red=B volts=4.50\n");

  assert_non_null (reason_with (&verdict->explanations[0], "would show a fault in R3, R4, R5, R6, R7, R8, R9, R10, R11, R12 and 2 more"));
  assert_int_equal (verdict->n_blind, 12);
}

/* 500 V on a 9 V divider: nothing gives it, so it is let go and the sound board leads; that board does not give it either. */
static void
test_why_a_sound_board_is_not_said_to_give_what_it_does_not (void **state)
{
  static const char board[] = "meterleaf 1\nboard \"b\"\nreference N\npart R1 resistor 1=A 2=B value=1k\npart R2 resistor 1=B 2=N value=1k\n"
                              "condition on\n  supply plus=A minus=N voltage=9 limit=1\n";
  g_autoptr (MlVerdict) slip = judge (board, "reading u on red=A volts=9.00\nreading u on red=B volts=500\n");
  const MlExplanation *first = &slip->explanations[0];
  assert_int_equal (first->explains, ML_EXPLAINS_HEALTHY);
  assert_non_null (reason_with (first, "but for what looks misread, every reading is"));
  assert_int_equal (slip->readings[1].slip, ML_SLIP_UNCLEAR);

  /* 0.3 V off, thrice its spread: no slip, and not what the board gives */
  g_autoptr (MlVerdict) off = judge (board, "reading u on red=A volts=9.00\nreading u on red=B volts=4.80\n");
  first = NULL;
  for (guint i = 0; i < off->n_explanations; i++)
    first = off->explanations[i].explains == ML_EXPLAINS_HEALTHY ? &off->explanations[i] : first;
  assert_non_null (first);
  assert_null (reason_with (first, "every reading is"));
  assert_non_null (reason_with (first, "only if B, 4.8 V (on), was misread or parts are well outside tolerance: it would be 4.5"));
}

/* Over-range where 1 kohm should be: the fuse is open. */
static void
test_why_over_range_is_a_reason (void **state)
{
  static const char board[] = "meterleaf 1\nboard \"b\"\nreference N\npart F1 fuse 1=A 2=B\npart R1 resistor 1=B 2=N value=1k\n"
                              "condition on\n  supply plus=A minus=N voltage=9 limit=1\ncondition cold\n";
  g_autoptr (MlVerdict) verdict = judge (board, "reading u cold red=A black=N ohms=OL\nreading u cold red=B black=N ohms=1.00k\n");
  const MlExplanation *first = &verdict->explanations[0];
  assert_int_equal (first->faults[0].part, ml_board_find_part (verdict->job->board, "F1"));
  assert_non_null (reason_with (first, "A reads OL"));
}

/* An amplifier of gain 1 + 10k / 1k = 11 behind a divider that nobody could read: 0.1 V at its tap should come out as 1.1 V. With 20k it is 2.1 V. */
static void
test_why_a_sound_board_has_the_values_that_were_found (void **state)
{
  static const char board[] = "meterleaf 1\nboard \"b\"\nreference N\npart R1 resistor 1=I 2=A\npart R2 resistor 1=A 2=N\n"
                              "part U1 opamp noninverting=A inverting=F out=O positive=P negative=M\npart R3 resistor 1=F 2=N value=1k\n"
                              "part R4 resistor 1=F 2=O value=10k\ncondition on\n  supply plus=P minus=N voltage=9 limit=1\n"
                              "  supply plus=N minus=M voltage=9 limit=1\n  supply plus=I minus=N voltage=0.2 limit=1\n";
  g_autoptr (MlVerdict) verdict = judge (board, "reading u on red=I volts=200.0m\nreading u on red=A volts=100.0m\nreading u on red=F volts=99.9m\n"
                                                "reading u on red=O volts=2.098\n");
  const MlExplanation *first = &verdict->explanations[0];

  assert_int_equal (first->faults[0].part, ml_board_find_part (verdict->job->board, "R4"));
  assert_non_null (reason_with (first, "O reads 2.1 V (on); it would be 1.1 V if all were fine"));
}

/* A written board with seven values that nobody could read; the readings are those of Q1 open at its gate, as computed from the values it had. One of
 * them is odd, COLD, and the drawing can give it: the sentence must not say that it cannot, nor that all is near what a sound board gives, but name
 * Q1, and COLD as the reason. */
static void
test_why_one_odd_reading_that_a_fault_gives_is_no_wrong_drawing (void **state)
{
  static const char readings[] =
    "reading u heating red=VIN volts=24\n"
    "reading u heating red=VF volts=23.92\n"
    "reading u heating red=V24 volts=23.76\n"
    "reading u heating red=V12 volts=12\n"
    "reading u heating red=REF volts=2.495\n"
    "reading u heating red=SENSE volts=2.503\n"
    "reading u heating red=BUF volts=2.507\n"
    "reading u heating red=TOP volts=1.227\n"
    "reading u heating red=BOT volts=0.3837\n"
    "reading u heating red=SET volts=0.8054\n"
    "reading u heating red=CMP volts=2.583\n"
    "reading u heating red=HEAT volts=10.66\n"
    "reading u heating red=GATE volts=10.57\n"
    "reading u heating red=COLD volts=23.61\n"
    "reading u heating red=HOT volts=23.65\n"
    "reading u heating red=LA volts=2.041\n";
  g_autofree char *path = g_build_filename (g_getenv ("METERLEAF_SOURCE"), "tests", "drawing", "boards", "glue-pot.leafboard", NULL);
  g_autoptr (GRegex) values = g_regex_new ("^(part (R1|R2|R3|C4|R4|RV1|R8) .*) value=\\S+", G_REGEX_MULTILINE, 0, NULL);
  g_autofree char *text = NULL, *unread = NULL;

  assert_true (g_file_get_contents (path, &text, NULL, NULL));
  unread = g_regex_replace (values, text, -1, 0, "\\1", 0, NULL);
  g_autoptr (MlVerdict) verdict = judge (unread, readings);
  assert_null (strstr (verdict->sentence, "cannot give"));
  assert_null (strstr (verdict->sentence, "near those of a sound board"));
  assert_non_null (strstr (verdict->sentence, "Q1"));
  assert_int_equal (verdict->parts[ml_board_find_part (verdict->job->board, "Q1")].verdict, ML_VERDICT_SUSPECT);
  assert_non_null (reason_with (&verdict->explanations[0], "COLD reads 23.6 V"));
}

/* Two regulators of 5 V, each read against the rail of 23.3 V that feeds them: 18.48 V leaves 4.8 V, 19.25 V leaves 4.1 V, 19 % short of what the second one
 * is made for and five times what a common type may be off (4 %, data sheets, from memory). It is a twentieth of what was read all the same. */
static void
test_why_a_low_output_is_told_against_a_high_rail (void **state)
{
  g_autoptr (MlVerdict) verdict
      = judge ("meterleaf 1\nboard \"Signal box supply\"\nreference G\npart F1 fuse 1=IN 2=A\npart D1 diode anode=A cathode=RAIL family=silicon\n"
               "part U1 regulator in=RAIL out=LOGIC ground=G voltage=5\npart C1 capacitor plus=LOGIC minus=G\n"
               "part U2 regulator in=RAIL out=LAMPS ground=G voltage=5\npart C2 capacitor plus=LAMPS minus=G\n"
               "part R1 resistor 1=LAMPS 2=L value=1k2 tolerance=5%\npart LED1 led anode=L cathode=G colour=yellow\n"
               "part R2 resistor 1=RAIL 2=G value=18k tolerance=1%\ncondition on\n  supply plus=IN minus=G voltage=24 limit=500m\n",
               "reading u on red=A black=RAIL volts=0.685\nreading u on red=RAIL black=LOGIC volts=18.48\nreading u on red=RAIL black=LAMPS volts=19.25\n"
               "reading u on red=L volts=2.011\n");

  assert_int_equal (verdict->parts[ml_board_find_part (verdict->job->board, "U2")].verdict, ML_VERDICT_SUSPECT);
  assert_true (verdict->healthy_probability < 0.2);
  assert_non_null (reason_with (&verdict->explanations[0], "RAIL against LAMPS reads 19.2 V"));
}

/* Readings of the truth program: R1 has fallen to 149 ohm and takes 40 mA where 9 mA should flow ((12 - 0.3 - 5.6) V / 680 ohm), so that D1 has
 * 0.1 V more across it. Alone that reading is odd, and R1, whatever its size, is half as likely as a sound board with a reading gone wrong: the drawing
 * can give it. */
static void
test_why_a_drawing_is_right_where_a_fault_of_any_size_gives_it (void **state)
{
  g_autoptr (MlVerdict) verdict
      = judge ("meterleaf 1\nboard \"Points motor regulator\"\nreference G\npart F1 fuse 1=IN 2=A\npart D1 diode anode=A cathode=RAIL family=schottky\n"
               "part R1 resistor 1=RAIL 2=REF value=680R tolerance=1%\npart D2 zener anode=G cathode=REF voltage=5.6\n"
               "part Q1 npn collector=RAIL base=REF emitter=OUT\npart R2 resistor 1=RAIL 2=X\npart D3 diode anode=X cathode=BOTH family=silicon\n"
               "part D4 diode anode=RAIL cathode=BOTH family=schottky\npart R3 resistor 1=BOTH 2=G value=5k6 tolerance=5%\n"
               "part R4 resistor 1=RAIL 2=TAP value=3k3 tolerance=5%\npart R5 resistor 1=TAP 2=G value=6k8 tolerance=5%\n"
               "condition on\n  supply plus=IN minus=G voltage=12 limit=500m\n",
               "reading u on red=A black=RAIL volts=0.4061\n"
               "reading u on red=REF black=G volts=5.568\n"
               "reading u on red=REF black=OUT volts=-0.0881\n"
               "reading u on red=RAIL black=OUT volts=0.0002\n"
               "reading u on red=X black=BOTH volts=0.2687\n"
               "reading u on red=RAIL black=BOTH volts=0.2689\n");

  assert_null (strstr (verdict->sentence, "cannot give"));
  assert_non_null (strstr (verdict->sentence, "R1"));
  assert_int_equal (verdict->explanations[1].faults[0].part, ml_board_find_part (verdict->job->board, "R1"));
}

/* A closed switch to the reference that carries half a milliampere has 20 uV; a display that shows 0.001 V in a range of volts, good to 2 of its last digit, says
 * nothing else. */
static void
test_why_the_last_digit_of_a_display_is_not_odd (void **state)
{
  static const char board[] = "meterleaf 1\nboard \"b\"\nreference N\npart R1 resistor 1=P 2=A value=10k\npart S1 switch 1=A 2=N\n"
                              "part R2 resistor 1=P 2=B value=10k\npart R3 resistor 1=B 2=N value=10k\ncondition on\n  supply plus=P minus=N voltage=5 limit=1\n"
                              "  set S1 closed\n";
  g_autoptr (MlVerdict) verdict = judge (board, "reading u on red=P volts=5.01\nreading u on red=A volts=0.001\nreading u on red=B volts=2.50\n");

  assert_null (strstr (verdict->sentence, "cannot tell"));
  assert_null (reason_with (&verdict->explanations[0], "misread"));
  assert_non_null (reason_with (&verdict->explanations[0], "every reading is what the board as drawn gives"));
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_why_the_drop_across_the_open_part_convicts_and_the_others_follow),
    cmocka_unit_test (test_why_a_sound_board_is_sound_only_where_it_was_measured),
    cmocka_unit_test (test_why_no_rival_is_named_that_explains_next_to_nothing),
    cmocka_unit_test (test_why_an_odd_reading_alone_is_said),
    cmocka_unit_test (test_why_a_reading_that_no_chip_gives_is_named),
    cmocka_unit_test (test_why_an_odd_reading_is_named_as_it_was_taken),
    cmocka_unit_test (test_why_sound_so_far_says_what_would_not_show),
    cmocka_unit_test (test_why_many_that_would_not_show_are_counted),
    cmocka_unit_test (test_why_a_sound_board_is_not_said_to_give_what_it_does_not),
    cmocka_unit_test (test_why_over_range_is_a_reason),
    cmocka_unit_test (test_why_a_sound_board_has_the_values_that_were_found),
    cmocka_unit_test (test_why_one_odd_reading_that_a_fault_gives_is_no_wrong_drawing),
    cmocka_unit_test (test_why_a_low_output_is_told_against_a_high_rail),
    cmocka_unit_test (test_why_the_last_digit_of_a_display_is_not_odd),
    cmocka_unit_test (test_why_a_drawing_is_right_where_a_fault_of_any_size_gives_it),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
