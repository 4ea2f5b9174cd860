/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Slips of the person. The demo jobs' readings come from the truth program (test-demos computes them again); a slip is put into them by
 * hand, so the reading as it stands in the file is what would have fitted. */
#include "support/exam.h"
#include "support/models.h"
#include "support/near.h"
#include "support/size.h"

#include "verdict/judge-private.h"
#include "verdict/misread-private.h"

#include <math.h>
#include <string.h>

typedef struct { MlBoard *board; char *text; MlJudge *judge; } Bench;

static void
open_demo (Bench *b, const char *name)
{
  g_autofree char *board_path = g_strdup_printf ("boards/%s.leafboard", name), *job_path = g_strdup_printf ("boards/%s.leafjob", name);
  b->text = ml_test_file (job_path);
  b->board = ml_test_board_of (board_path);
  b->judge = ml_judge_new (b->board);
}

static void
close_demo (Bench *b)
{
  ml_judge_free (b->judge);
  ml_board_unref (b->board);
  g_free (b->text);
}

static void
retype (Bench *b, const char *from, const char *to)
{
  g_auto (GStrv) parts = g_strsplit (b->text, from, 2);
  assert_non_null (parts[1]);
  g_free (b->text);
  b->text = g_strjoinv (to, parts);
}

static const MlReadingVerdict *
find_reading (const MlVerdict *verdict, const char *label, const char *condition)
{
  for (guint i = 0; i < verdict->n_readings; i++)
    {
      const MlReading *reading = &verdict->job->readings[verdict->readings[i].reading];
      g_autofree char *own = ml_reading_label (verdict->job, reading);
      if (g_str_equal (own, label) && g_str_equal (verdict->job->board->conditions[reading->condition].name, condition))
        return &verdict->readings[i];
    }
  fail_msg ("no reading of %s in %s", label, condition);
  return NULL;
}

static guint
n_slips (const MlVerdict *verdict)
{
  guint n = 0;
  for (guint i = 0; i < verdict->n_readings; i++)
    n += verdict->readings[i].slip != ML_SLIP_NONE;
  return n;
}

static gboolean
suspects (const MlVerdict *verdict, const char *part)
{
  return verdict->parts[ml_board_find_part (verdict->job->board, part)].verdict == ML_VERDICT_SUSPECT;
}

static void
test_misread_clean_jobs_have_no_slip (void **state)
{
  const char *const names[] = { "vent-controller", "dust-switch", "signal-board" };
  for (guint i = 0; i < ml_test_size (G_N_ELEMENTS (names), 1); i++)
    {
      Bench b;
      open_demo (&b, names[i]);
      g_autoptr (MlVerdict) verdict = ml_exam_judge_text (b.judge, b.board, b.text, 2);
      assert_int_equal (n_slips (verdict), 0);
      assert_null (verdict->condition_slip);
      close_demo (&b);
    }
}

static void
test_misread_swapped_probes_are_named (void **state)
{
  Bench b;
  open_demo (&b, "vent-controller");
  retype (&b, "rest red=V5 volts=2.850", "rest red=V5 volts=-2.850");
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (b.judge, b.board, b.text, 2);
  const MlReadingVerdict *reading = find_reading (verdict, "V5", "rest");
  assert_int_equal (reading->slip, ML_SLIP_SWAPPED);
  assert_true (reading->doubtful);
  assert_near (reading->fits, 2.850, 0.1, 0);
  assert_int_equal (n_slips (verdict), 1);
  assert_true (suspects (verdict, "Q1"));
  close_demo (&b);
}

/* Where nothing can be, since D6 blocks, nothing would fit, and not some nanovolts that no meter shows. */
static void
test_misread_what_would_fit_is_what_a_meter_shows (void **state)
{
  Bench b;
  open_demo (&b, "signal-board");
  retype (&b, "reading east stop across=R3", "reading east ahead across=R3 volts=5.1\nreading east stop across=R3");
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (b.judge, b.board, b.text, 2);
  const MlReadingVerdict *reading = find_reading (verdict, "across R3", "ahead");
  assert_true (reading->doubtful);
  assert_non_null (reading->slip_text);
  if (strstr (reading->slip_text, " 0 V") == NULL)
    fail_msg ("%s", reading->slip_text);
  close_demo (&b);
}

static void
test_misread_thousandfold_is_named (void **state)
{
  Bench b;
  open_demo (&b, "signal-board");
  retype (&b, "across=D6 volts=0.658", "across=D6 volts=658");
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (b.judge, b.board, b.text, 2);
  const MlReadingVerdict *reading = find_reading (verdict, "across D6", "stop");
  assert_int_equal (reading->slip, ML_SLIP_THOUSANDFOLD);
  assert_near (reading->fits, 0.658, 0.1, 0);
  assert_true (suspects (verdict, "R3"));
  close_demo (&b);
}

/* A typed m decides between two faults: R2 open gives 12 V at its tap, R1 open 0 V, and 12 mV are neither. Closed forms: the other divider draws 3 mA. */
static void
test_misread_thousandfold_tells_faults_apart (void **state)
{
  g_autoptr (MlVerdict) verdict = ml_exam_judge_readings (
    "board \"Two dividers for a test jig\"\nreference G\npart R1 resistor 1=P 2=A value=1k tolerance=1%\npart R2 resistor 1=A 2=G value=2k tolerance=1%\n"
    "part R3 resistor 1=P 2=B value=3k tolerance=1%\npart R4 resistor 1=B 2=G value=1k tolerance=1%\n"
    "condition on\n  supply plus=P minus=G voltage=12 limit=1\n",
    "reading u on red=P volts=12.00\nreading u on red=A volts=0.01200\nreading u on red=B volts=3.000\nreading u on supply=1 amps=0.003000\n");
  const MlReadingVerdict *slip = find_reading (verdict, "A", "on");
  assert_string_equal (verdict->explanations[0].title, "R2 open");
  assert_int_equal (slip->slip, ML_SLIP_THOUSANDFOLD);
  assert_near (slip->fits, 12, 0.01, 0);
  assert_int_equal (n_slips (verdict), 1);
}

/* Expected 0.1012 V, typed 0.1 mV. Who types an m too many keeps the digits: of those that a meter of 6000 counts shows at 0.1000 V three are missing here, and
 * that they were zeros happens once in a thousand; typed as 0.1000 mV none is. */
static void
test_misread_a_lost_m_keeps_the_digits (void **state)
{
  static const char *const typed[] = { "0.1000m", "0.0001" };
  g_autoptr (MlBoard) board = ml_exam_board ("b", "board \"Sense line\"\nreference G\npart R1 resistor 1=P 2=A value=3k tolerance=1%\n"
                                                  "part R2 resistor 1=A 2=G value=25.5 tolerance=1%\ncondition on\n  supply plus=P minus=G voltage=12 limit=1\n");
  g_autoptr (MlJudge) judge = ml_judge_new (board);
  double terms[2];
  for (guint i = 0; i < 2; i++)
    {
      g_autofree char *text = g_strdup_printf ("meter m counts=6000\nunit u suspect\nreading u on red=P volts=12.00\nreading u on red=A volts=%s\n", typed[i]);
      g_autoptr (MlJob) job = ml_test_job (board, text);
      int unit = -1;
      guint pass = 0;
      MlDictionary *dictionary = ml_judge_find (judge, job, &unit, &pass, NULL, NULL);
      MlCase *own = ml_case_new (dictionary, job, unit, pass);
      gboolean let_go[2] = { FALSE, FALSE };
      Opinion opinion;
      Given given;
      assert_int_equal (ml_dictionary_hypothesis (own->dictionary, 0)->explains, ML_EXPLAINS_HEALTHY);
      assert_true (ml_given_init (&given, own, let_go, 0, 1, -1));
      ml_opinion_form (&given, 1, &opinion);
      terms[i] = opinion.term[TERM_THOUSANDFOLD];
      ml_given_clear (&given);
      ml_case_free (own);
    }
  assert_near (terms[0] / terms[1], 1000, 0.01, 0);
}

static void
test_misread_wrong_pin_says_which (void **state)
{
  Bench b;
  open_demo (&b, "vent-controller");
  /* the probe on the zener's net instead of the emitter's: 5.526 V is what the file gives there */
  retype (&b, "rest red=V5 volts=2.850", "rest red=V5 volts=5.526");
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (b.judge, b.board, b.text, 2);
  const MlReadingVerdict *reading = find_reading (verdict, "V5", "rest");
  assert_int_equal (reading->slip, ML_SLIP_WRONG_PIN);
  assert_int_equal (reading->slip_at.net, ml_board_find_net (b.board, "ZREF"));
  assert_near (reading->fits, 2.850, 0.1, 0);
  /* a connection drawn to the wrong net would read the same: Q1 leads, and is not convicted */
  assert_true (verdict->parts[ml_board_find_part (b.board, "Q1")].probability > 0.5);
  assert_false (suspects (verdict, "Q1"));
  close_demo (&b);
}

static void
test_misread_wrong_condition_says_which (void **state)
{
  Bench b;
  open_demo (&b, "signal-board");
  /* D5 conducts in the other condition: 11.97 - 6.64 - 2.287 - 2.315 V by Kirchhoff's law from the file, a volt or less in the fuse taken off */
  retype (&b, "stop across=D5 volts=-0.0021", "stop across=D5 volts=0.721");
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (b.judge, b.board, b.text, 2);
  const MlReadingVerdict *reading = find_reading (verdict, "across D5", "stop");
  assert_int_equal (reading->slip, ML_SLIP_WRONG_CONDITION);
  assert_int_equal (reading->slip_condition, ml_board_find_condition (b.board, "ahead"));
  assert_near (reading->fits, 0, 0, 0.1);
  assert_true (suspects (verdict, "R3"));
  close_demo (&b);
}

static void
test_misread_two_slips_are_both_found (void **state)
{
  Bench b;
  open_demo (&b, "dust-switch");
  retype (&b, "idle red=REGOUT volts=4.909", "idle red=REGOUT volts=4909");
  retype (&b, "idle across=R1 volts=1.604", "idle across=R1 volts=-1.604");
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (b.judge, b.board, b.text, 2);
  assert_int_equal (find_reading (verdict, "REGOUT", "idle")->slip, ML_SLIP_THOUSANDFOLD);
  assert_near (find_reading (verdict, "REGOUT", "idle")->fits, 4.909, 0.1, 0);
  assert_int_equal (find_reading (verdict, "across R1", "idle")->slip, ML_SLIP_SWAPPED);
  assert_near (find_reading (verdict, "across R1", "idle")->fits, 1.604, 0.1, 0);
  close_demo (&b);
}

/* Every voltage of one condition negated: the leads in the wrong sockets. The verdict is that of the job as it should have been. */
static void
test_misread_condition_with_swapped_probes_is_found (void **state)
{
  Bench b;
  open_demo (&b, "signal-board");
  g_autoptr (GRegex) volts = g_regex_new ("(reading east stop [^\\n]*volts=)", 0, 0, NULL);
  g_autofree char *swapped = g_regex_replace (volts, b.text, -1, 0, "\\1-", 0, NULL);
  g_autofree char *typed = g_strdelimit (g_strdup (swapped), "\r", ' ');
  g_auto (GStrv) parts = g_strsplit (typed, "=--", -1);
  g_autofree char *text = g_strjoinv ("=", parts);
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (b.judge, b.board, text, 2);
  assert_non_null (verdict->condition_slip);
  assert_non_null (strstr (verdict->condition_slip, "stop"));
  assert_int_equal (find_reading (verdict, "across R3", "stop")->slip, ML_SLIP_SWAPPED);
  assert_near (find_reading (verdict, "across R3", "stop")->fits, 7.69, 0.1, 0);
  assert_int_equal (find_reading (verdict, "across R2", "ahead")->slip, ML_SLIP_NONE);
  assert_true (suspects (verdict, "R3"));
  close_demo (&b);
}

/* The two conditions' names exchanged on every reading. */
static void
test_misread_exchanged_conditions_are_found (void **state)
{
  Bench b;
  open_demo (&b, "signal-board");
  g_auto (GStrv) ahead = g_strsplit (b.text, "reading east ahead", -1);
  g_autofree char *once = g_strjoinv ("reading east @", ahead);
  g_auto (GStrv) stop = g_strsplit (once, "reading east stop", -1);
  g_autofree char *twice = g_strjoinv ("reading east ahead", stop);
  g_auto (GStrv) mark = g_strsplit (twice, "reading east @", -1);
  g_autofree char *text = g_strjoinv ("reading east stop", mark);
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (b.judge, b.board, text, 2);
  assert_non_null (verdict->condition_slip);
  assert_int_equal (find_reading (verdict, "across R3", "ahead")->slip, ML_SLIP_WRONG_CONDITION);
  assert_int_equal (find_reading (verdict, "across R3", "ahead")->slip_condition, ml_board_find_condition (b.board, "stop"));
  assert_true (suspects (verdict, "R3"));
  close_demo (&b);
}

/* The same beside a fault that lets nothing of the sound board show: a board fed either way round through a bridge of four diodes, D4 open, half of its
 * values unread. Readings from the truth program, their conditions' names exchanged: then it is fed as it was in the other. */
static void
test_misread_exchanged_conditions_are_found_beside_a_fault (void **state)
{
  static const char board[] =
    "reference MINUS\npart F1 fuse 1=FEED 2=FUSED\npart D1 diode anode=FUSED cathode=VPLUS family=schottky\n"
    "part D2 diode anode=RETURN cathode=VPLUS family=silicon\npart D3 diode anode=MINUS cathode=FUSED family=silicon\n"
    "part D4 diode anode=MINUS cathode=RETURN family=schottky\npart U1 regulator in=VPLUS out=V5_1 ground=MINUS voltage=5\n"
    "part C1 capacitor plus=V5_1 minus=MINUS\npart S1 switch 1=V5_1 2=DRV2\npart R1 resistor 1=DRV2 2=B3\n"
    "part Q1 npn collector=K4 base=B3 emitter=MINUS\npart R2 resistor 1=VPLUS 2=L5\npart LED1 led anode=L5 cathode=K4 colour=red\n"
    "part R3 resistor 1=VPLUS 2=MINUS value=8k2 tolerance=5%\n"
    "condition c1\n  supply plus=FEED minus=RETURN voltage=12 limit=500m\n  set S1 open\n"
    "condition c2\n  supply plus=RETURN minus=FEED voltage=12 limit=500m\n  set S1 closed\n";
  static const char lines[] =
    "reading u c2 red=FEED volts=0.0006\nreading u c2 red=FUSED volts=0.0006\nreading u c2 red=VPLUS volts=0\nreading u c2 red=RETURN volts=-11.93\n"
    "reading u c2 red=V5_1 volts=0\nreading u c2 red=DRV2 volts=0\nreading u c2 red=B3 volts=0\nreading u c2 red=K4 volts=0\nreading u c2 red=L5 volts=0\n"
    "reading u c2 supply=1 amps=0.00001\nreading u c1 red=FEED volts=-0.690\nreading u c1 red=FUSED volts=-0.689\nreading u c1 red=VPLUS volts=10.62\n"
    "reading u c1 red=RETURN volts=11.31\nreading u c1 red=V5_1 volts=5.113\nreading u c1 red=DRV2 volts=5.113\nreading u c1 red=B3 volts=0.741\n"
    "reading u c1 red=K4 volts=0.0187\nreading u c1 red=L5 volts=1.832\nreading u c1 supply=1 amps=0.01066\n";
  g_autoptr (MlVerdict) verdict = ml_exam_judge_readings (board, lines);
  const MlReadingVerdict *reading = find_reading (verdict, "RETURN", "c2");

  assert_non_null (verdict->condition_slip);
  assert_non_null (strstr (verdict->condition_slip, "c1 and c2"));
  assert_int_equal (reading->slip, ML_SLIP_WRONG_CONDITION);
  assert_int_equal (reading->slip_condition, ml_board_find_condition (verdict->job->board, "c1"));
  assert_int_equal (verdict->explanations[0].n_faults, 1);
  assert_int_equal (verdict->explanations[0].faults[0].part, ml_board_find_part (verdict->job->board, "D4"));
  assert_non_null (strstr (verdict->explanations[0].reasons[0], "RETURN reads -11.9 V (c1)")); /* where it belongs */
}

/* No reading of volts or of a supply's current is one of a board without a supply, however little else explains it. The demo's signal with D4 turned and R2
 * shorted; readings from the truth program. */
static void
test_misread_no_volts_come_from_a_cold_board (void **state)
{
  static const char lines[] =
    "unit u suspect\n"
    "reading u ahead red=RAILA volts=0.0543\nreading u ahead red=INA volts=0.0336\nreading u ahead red=PLUS volts=0.0175\n"
    "reading u ahead red=RAILB volts=-5.854\nreading u ahead red=HUT volts=0.0175\nreading u ahead red=G1 volts=-0.0813\n"
    "reading u ahead red=G2 volts=-0.1092\nreading u ahead red=G3 volts=-2.861\nreading u ahead red=H1 volts=-0.0841\n"
    "reading u ahead red=H2 volts=-0.0841\nreading u ahead red=H3 volts=-0.0016\nreading u ahead supply=1 amps=0.2006\n"
    "reading u stop red=RAILA volts=-1.477\nreading u stop red=INA volts=-1.443\nreading u stop red=PLUS volts=1.322\n"
    "reading u stop red=RAILB volts=1.468\nreading u stop red=HUT volts=1.322\nreading u stop red=G1 volts=-0.0884\n"
    "reading u stop red=G2 volts=-0.0884\nreading u stop red=G3 volts=0.0017\nreading u stop red=H1 volts=1.312\nreading u stop red=H2 volts=1.312\n"
    "reading u stop red=H3 volts=0.0153\nreading u stop supply=1 amps=0.2006\n";
  Bench b;
  open_demo (&b, "signal-board");
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (b.judge, b.board, lines, 2);
  assert_null (verdict->condition_slip);
  assert_true (suspects (verdict, "D4"));
  assert_true (suspects (verdict, "R2"));
  close_demo (&b);
}

/* The names exchanged where only one condition has the supply: what its display showed has no place in the other. The cold board
 * reads 0 V everywhere, whatever is wrong with it. */
static void
test_misread_exchanged_with_a_cold_condition_leaves_its_supply_out (void **state)
{
  static const char board[] = "meterleaf 1\nboard \"b\"\nreference G\npart R1 resistor 1=V 2=A value=1k\npart R2 resistor 1=A 2=G value=1k\n"
                              "part D1 diode anode=A cathode=G\npart Q1 npn collector=A base=V emitter=G\n"
                              "condition on\n  supply plus=V minus=G voltage=12 limit=1\ncondition cold\n";
  g_autoptr (MlVerdict) verdict = ml_exam_judge_readings (board, "reading u on red=A volts=0.000\nreading u on red=V volts=0.000\n"
                                                                 "reading u on supply=1 amps=0.000\nreading u cold red=A volts=3.010\n"
                                                                 "reading u cold red=V volts=12.00\n");
  assert_non_null (verdict->condition_slip);
  assert_int_equal (find_reading (verdict, "V", "cold")->slip, ML_SLIP_WRONG_CONDITION);
  assert_int_equal (find_reading (verdict, "V", "on")->slip, ML_SLIP_WRONG_CONDITION);
  for (guint i = 0; i < verdict->n_explanations; i++)
    assert_true (verdict->explanations[i].probability >= 0 && verdict->explanations[i].probability <= 1);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_misread_clean_jobs_have_no_slip),
    cmocka_unit_test (test_misread_swapped_probes_are_named),
    cmocka_unit_test (test_misread_what_would_fit_is_what_a_meter_shows),
    cmocka_unit_test (test_misread_thousandfold_is_named),
    cmocka_unit_test (test_misread_a_lost_m_keeps_the_digits),
    cmocka_unit_test (test_misread_thousandfold_tells_faults_apart),
    cmocka_unit_test (test_misread_wrong_pin_says_which),
    cmocka_unit_test (test_misread_wrong_condition_says_which),
    cmocka_unit_test (test_misread_two_slips_are_both_found),
    cmocka_unit_test (test_misread_condition_with_swapped_probes_is_found),
    cmocka_unit_test (test_misread_exchanged_conditions_are_found),
    cmocka_unit_test (test_misread_exchanged_conditions_are_found_beside_a_fault),
    cmocka_unit_test (test_misread_no_volts_come_from_a_cold_board),
    cmocka_unit_test (test_misread_exchanged_with_a_cold_condition_leaves_its_supply_out),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
