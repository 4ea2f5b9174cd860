/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Fault words, supposed faults as typed, faults in words, and the table of assumptions. Expected texts are the documented language. */
#include "support/models.h"
#include "support/near.h"

#include "verdict/assumptions.h"
#include "verdict/judge.h"

#include <math.h>
#include <string.h>

static const char board_text[] = "reference MINUS\n"
                                 "part R4 resistor 1=IN 2=BASE value=1k\n"
                                 "part Q2 npn collector=IN base=BASE emitter=OUT\n"
                                 "part C3 capacitor 1=OUT 2=MINUS\n"
                                 "condition on\n  supply plus=IN minus=MINUS voltage=9 limit=100m\n";

static void
test_fault_words_round_trip (void **state)
{
  for (int i = 0; i < ML_N_FAULTS; i++)
    assert_int_equal (ml_fault_find (ml_fault_word (i)), i);
  assert_int_equal (ml_fault_find ("sulking"), -1);
  assert_string_equal (ml_fault_word (ML_FAULT_STUCK_HIGH), "stuck-high");
  assert_string_equal (ml_verdict_word (ML_VERDICT_SUSPECT), "suspect");
  assert_null (ml_slip_word (ML_SLIP_NONE));
  assert_string_equal (ml_slip_word (ML_SLIP_WRONG_PIN), "wrong-pin");
}

/* So that it can stand behind "with": "with U1 giving too low a voltage it would read 1.9 V". */
static void
test_fault_words_stand_behind_with (void **state)
{
  static const struct { const char *words, *said; } table[] = {
    { "U1 low size=0.8", "U1 giving too low a voltage" }, { "U1 high size=1.2", "U1 giving too high a voltage" }, { "U2 stopped", "U2 not switching" },
    { "S1 joint pins=1 size=900", "solder joint at S1, pin 1" }, { "S1 joint pins=1,2 size=900", "worn contact in S1" },
    { "K1 joint pins=common,no size=900", "worn contact in K1 from common to no" },
  };
  MlBoard *board = ml_test_board ("reference N\npart U1 regulator in=P out=A ground=N voltage=5\npart U2 block 1=A 2=N 3=B\n"
                                  "part S1 switch 1=P 2=B\npart K1 contact common=P no=A nc=N\ncondition on\n  supply plus=P minus=N voltage=9 limit=1\n");

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      MlFault fault;
      g_autofree char *said = NULL;

      assert_true (ml_fault_parse (board, table[i].words, &fault, NULL));
      said = ml_fault_describe (board, &fault);
      assert_string_equal (said, table[i].said);
    }
  ml_board_unref (board);
}

static void
test_fault_parse_accepted (void **state)
{
  static const struct { const char *words; int part, kind, pin; double size; const char *said; } table[] = {
    { "Q2 joint pins=emitter size=310", 1, ML_FAULT_JOINT, 2, 310, "solder joint at Q2's emitter" },
    { "R4  high size=3", 0, ML_FAULT_HIGH, -1, 3, "R4 drifted high" },
    { "R4 open", 0, ML_FAULT_OPEN, -1, NAN, "R4 open" },
    { "Q2 short pins=collector,emitter", 1, ML_FAULT_SHORT, 0, NAN, "Q2 shorted from collector to emitter" },
    { "C3 leak size=4k7", 2, ML_FAULT_LEAK, -1, 4700, "C3 leaking" },
    { "stray-link nets=IN,OUT size=20", -1, ML_FAULT_STRAY_LINK, -1, 20, "stray link from IN to OUT" },
    { "broken-track nets=OUT pins=C3.1", -1, ML_FAULT_BROKEN_TRACK, -1, NAN, "broken track on OUT: C3.1 cut off" },
  };
  MlBoard *board = ml_test_board (board_text);

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      MlFault fault;
      g_autoptr (GError) error = NULL;
      g_autofree char *said = NULL;

      assert_true (ml_fault_parse (board, table[i].words, &fault, &error));
      assert_int_equal (fault.part, table[i].part);
      assert_int_equal (fault.kind, table[i].kind);
      if (table[i].pin >= 0)
        assert_int_equal (fault.pins[0], table[i].pin);
      if (isfinite (table[i].size))
        assert_near (fault.size, table[i].size, 1e-12, 0);
      else
        assert_true (isnan (fault.size));
      said = ml_fault_describe (board, &fault);
      assert_string_equal (said, table[i].said);
      ml_fault_clear (&fault);
    }
  ml_board_unref (board);
}

static void
test_fault_parse_refused (void **state)
{
  static const struct { const char *words, *names; } table[] = {
    { "", "missing" }, { "R9 open", "R9" }, { "R4", "what is wrong" }, { "R4 sulking", "sulking" }, { "R4 stray-link", "stray-link" },
    { "Q2 joint pins=gate", "gate" }, { "R4 high size=-2", "positive" }, { "R4 high size=x", "size=x" }, { "stray-link", "nets=" },
    { "stray-link nets=IN", "two nets" }, { "stray-link nets=IN,NOWHERE", "NOWHERE" }, { "stray-link nets=IN,IN", "different" },
    { "broken-track nets=OUT", "pins=" }, { "R4 open colour=red", "colour" },
    { "R4 opne", "did you mean open?" }, { "R4 stray-link nets=IN,OUT", "leave R4 away" }, { "R4 extra-link", "pins=U1.1" },
    { "R4 open size=5", "no size" }, { "R4 high size=x", "0.5 or 3" }, { "Q2 joint pins=gate", "collector base emitter" },
  };
  MlBoard *board = ml_test_board (board_text);

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      MlFault fault = { .part = 77 };
      g_autoptr (GError) error = NULL;

      assert_false (ml_fault_parse (board, table[i].words, &fault, &error));
      assert_true (g_error_matches (error, ML_JUDGE_ERROR, ML_JUDGE_ERROR_BAD_SUPPOSE));
      assert_non_null (strstr (error->message, table[i].names));
      assert_int_equal (fault.part, 77);
    }
  ml_board_unref (board);
}

static void
test_solve_supposed_fault_closed_form (void **state)
{
  /* Ohm's law: 9 V through 1 k and a transistor cut off by an open base leaves OUT at 0 V; with R4 shorted to 1 k the base sits at IN. */
  MlBoard *board = ml_test_board (board_text);
  MlJudge *judge = ml_judge_new (board);
  MlFault fault;
  MlOperatingPoint *point;

  assert_true (ml_fault_parse (board, "stray-link nets=OUT,MINUS size=1k", &fault, NULL));
  point = ml_judge_solve (judge, 0, &fault, 1, NULL);
  assert_true (point->solved);
  /* emitter follower into 1 kohm: the emitter current is V/R (Ohm), and Kirchhoff's current law holds at the transistor */
  assert_near (-point->pin_a[1][2], point->net_v[ml_board_find_net (board, "OUT")] / 1000, 1e-6, 1e-9);
  assert_near (point->pin_a[1][0] + point->pin_a[1][1] + point->pin_a[1][2], 0, 0, 1e-9);
  ml_operating_point_free (point);
  ml_fault_clear (&fault);
  assert_true (ml_fault_parse (board, "R4 wrong-part", &fault, NULL));
  point = ml_judge_solve (judge, 0, &fault, 1, NULL);
  assert_false (point->solved);
  assert_non_null (point->error);
  ml_operating_point_free (point);
  ml_fault_clear (&fault);
  ml_judge_free (judge);
  ml_board_unref (board);
}

static void
test_assumptions_every_line_has_a_source (void **state)
{
  g_autoptr (GError) error = NULL;

  /* Something must be left for the faults: probabilities of exclusive cases sum to one. */
  assert_true (ml_assumption ("prior.healthy") > 0 && ml_assumption ("prior.misfit") > 0 && ml_assumption ("prior.slips") > 0);
  assert_true (ml_assumption ("prior.healthy") + ml_assumption ("prior.misfit") + ml_assumption ("prior.slips") < 0.9);
  assert_null (ml_assumptions_read ("a 1\n", &error));
  assert_non_null (strstr (error->message, "line 1"));
  g_clear_error (&error);
  assert_null (ml_assumptions_read ("a 1 \"x\"\na 2 \"y\"\n", &error));
  assert_non_null (strstr (error->message, "twice"));
  assert_near (ml_assumption_weight (ML_KIND_CAPACITOR, ML_FAULT_OPEN), 0, 0, 0); /* blind at d.c. */
}

static void
test_percent_never_says_certain_or_impossible (void **state)
{
  static const struct { double p; const char *text; } cases[] = {
    { 0.94, "94 %" }, { 1.0, "over 99 %" }, { 0.996, "over 99 %" }, { 0.994, "99 %" }, { 0.004, "under 1 %" }, { 0.0, "under 1 %" }, { 0.5, "50 %" },
  };

  for (guint i = 0; i < G_N_ELEMENTS (cases); i++)
    {
      g_autofree char *text = ml_verdict_percent (cases[i].p);
      assert_string_equal (text, cases[i].text);
    }
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_percent_never_says_certain_or_impossible),
    cmocka_unit_test (test_fault_words_round_trip),
    cmocka_unit_test (test_fault_words_stand_behind_with),
    cmocka_unit_test (test_fault_parse_accepted),
    cmocka_unit_test (test_fault_parse_refused),
    cmocka_unit_test (test_solve_supposed_fault_closed_form),
    cmocka_unit_test (test_assumptions_every_line_has_a_source),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
