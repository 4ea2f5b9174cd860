/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the findings say, on a verdict made by hand: the numbers below are put in, not computed, and the words expected follow from the
 * program's own description of its findings (design: "one of D3, D4", "expect 1.9 V if Q2, 0.0 V if fine"). */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>
#include <string.h>

#include "desktop/findings-rows.h"
#include "desktop/findings-text.h"
#include "desktop/status-text.h"
#include "support/near.h"
#include "verdict/judge.h"

static const char board_text[] = "meterleaf 1\n"
                                 "reference MINUS\n"
                                 "part D3 diode anode=IN cathode=MID\n"
                                 "part D4 diode anode=MID cathode=OUT\n"
                                 "part R1 resistor 1=OUT 2=MINUS value=1k\n"
                                 "condition running\n"
                                 "  supply plus=IN minus=MINUS voltage=12 limit=100m\n";
static const char job_text[] = "meterleaf 1\n"
                               "unit one suspect\n"
                               "reading one running red=OUT volts=0.002\n"
                               "reading one running red=IN volts=12.01\n"
                               "reading one running across=R1 volts=0.002\n"
                               "reading one running red=MID black=OUT volts=11.2\n"
                               "reading one running supply=1 amps=0\n";

typedef struct
{
  MlBoard *board;
  MlJob *job;
  MlVerdict verdict;
  MlExplanation explanations[4];
  MlFault faults[4];
  MlReadingVerdict readings[3];
  guint tied_first, tied_second;
} Hand;

static Hand *
hand_new (void)
{
  Hand *hand = g_new0 (Hand, 1);
  static const char *const titles[] = { "D3 open", "D4 open", "R1 shorted", "All parts fine" };
  static const double shares[] = { 0.5, 0.42, 0.05, 0.0005 };
  static const MlFaultKind kinds[] = { ML_FAULT_OPEN, ML_FAULT_OPEN, ML_FAULT_SHORT };

  g_autoptr (MlText) board_file = ml_text_new ("hand.leafboard", board_text, -1), job_file = ml_text_new ("hand.leafjob", job_text, -1);
  hand->board = ml_board_read (board_file, NULL);
  hand->job = ml_job_read (job_file, hand->board, NULL);
  hand->tied_first = 2;
  hand->tied_second = 1;
  for (guint i = 0; i < 4; i++)
    {
      hand->explanations[i] = (MlExplanation){ .id = i + 1, .probability = shares[i], .title = (char *) titles[i],
                                               .explains = i < 3 ? ML_EXPLAINS_FAULT : ML_EXPLAINS_HEALTHY };
      if (i == 3)
        break;
      hand->faults[i] = (MlFault){ .part = (int) i, .kind = kinds[i], .net_a = -1, .net_b = -1, .size = NAN };
      hand->explanations[i].faults = &hand->faults[i];
      hand->explanations[i].n_faults = 1;
    }
  hand->explanations[0].tied = &hand->tied_first;
  hand->explanations[1].tied = &hand->tied_second;
  hand->explanations[0].n_tied = hand->explanations[1].n_tied = 1;
  hand->readings[0] = (MlReadingVerdict){ .reading = 0, .healthy = 10.6, .healthy_sigma = 0.1, .explained = 0.0, .explained_sigma = 0.01 };
  hand->readings[1] = (MlReadingVerdict){ .reading = 1, .healthy = 12.0, .healthy_sigma = 0.06, .explained = 12.0, .explained_sigma = 0.06 };
  hand->readings[2] = (MlReadingVerdict){ .reading = 3, .healthy = 0.7, .healthy_sigma = 0.05, .explained = 11.3, .explained_sigma = 0.2 };
  hand->verdict = (MlVerdict){ .job = hand->job, .explanations = hand->explanations, .n_explanations = 4, .readings = hand->readings, .n_readings = 3 };
  return hand;
}

static void
hand_free (Hand *hand)
{
  ml_job_unref (hand->job);
  ml_board_unref (hand->board);
  g_free (hand);
}

static void
test_rows_tied_explanations_stand_in_one_row (void **state)
{
  Hand *hand = hand_new ();
  g_autoptr (GPtrArray) rows = ml_findings_rows (&hand->verdict, 5);
  const MlFindingsRow *first = g_ptr_array_index (rows, 0), *second = g_ptr_array_index (rows, 1);

  assert_int_equal (rows->len, 2); /* the healthy one, 0.05 %, is not worth a line */
  assert_string_equal (first->title, "One of D3, D4: open");
  assert_near (first->probability, 0.92, 0, 1e-12); /* 0.5 + 0.42 */
  assert_int_equal (first->members->len, 2);
  assert_string_equal (second->title, "R1 shorted");
  hand_free (hand);
}

/* Two rows of the same parts differ in what is wrong with them: without it a person sees the same names again and again. */
static void
test_rows_of_several_parts_say_what_may_be_wrong (void **state)
{
  Hand *hand = hand_new ();
  hand->faults[1].kind = ML_FAULT_JOINT;
  g_autoptr (GPtrArray) rows = ml_findings_rows (&hand->verdict, 5);

  assert_string_equal (((const MlFindingsRow *) g_ptr_array_index (rows, 0))->title, "One of D3, D4: open or a bad solder joint");
  hand_free (hand);
}

/* No word of the files stands among what a person reads: those with a hyphen are known by it. */
static void
test_rows_say_every_fault_in_plain_words (void **state)
{
  for (int kind = 0; kind < ML_N_FAULTS; kind++)
    {
      Hand *hand = hand_new ();
      hand->faults[0].kind = hand->faults[1].kind = (MlFaultKind) kind;
      g_autoptr (GPtrArray) rows = ml_findings_rows (&hand->verdict, 5);
      const char *title = ((const MlFindingsRow *) g_ptr_array_index (rows, 0))->title;
      assert_true (g_str_has_prefix (title, "One of D3, D4: ") && strlen (title) > strlen ("One of D3, D4: "));
      assert_null (strchr (title, '-'));
      hand_free (hand);
    }
}

/* A diode that nobody called a Schottky one is no wrong part. */
static void
test_rows_of_an_unsaid_type_accuse_nobody_of_a_wrong_part (void **state)
{
  Hand *hand = hand_new ();
  for (guint i = 0; i < 2; i++)
    {
      hand->explanations[i].explains = ML_EXPLAINS_DRAWING;
      hand->faults[i].kind = ML_FAULT_WRONG_PART;
    }
  g_autoptr (GPtrArray) rows = ml_findings_rows (&hand->verdict, 5);
  const char *title = ((const MlFindingsRow *) g_ptr_array_index (rows, 0))->title;

  assert_null (strstr (title, "wrong part"));
  hand_free (hand);
}

/* A part must not seem accused because the drawing of it may be wrong. */
static void
test_rows_fault_and_slip_of_the_drawing_are_told_apart (void **state)
{
  Hand *hand = hand_new ();
  hand->explanations[1].explains = ML_EXPLAINS_DRAWING;
  hand->explanations[1].title = (char *) "D4's anode is on net A, not on B as drawn";
  g_autoptr (GPtrArray) rows = ml_findings_rows (&hand->verdict, 5);
  const MlFindingsRow *first = g_ptr_array_index (rows, 0);

  assert_string_equal (first->title, "D3 open, or the drawing is wrong: D4's anode is on net A, not on B as drawn");
  assert_near (first->probability, 0.92, 0, 1e-12); /* 0.5 + 0.42 */
  hand_free (hand);
}

/* A sound board among the explanations must not read as an accusation of those that no reading touches. */
static void
test_rows_a_sound_board_is_named_first (void **state)
{
  Hand *hand = hand_new ();
  hand->explanations[0].explains = ML_EXPLAINS_HEALTHY;
  hand->explanations[0].n_faults = 0;
  hand->explanations[0].title = (char *) "All parts fine";
  g_autoptr (GPtrArray) rows = ml_findings_rows (&hand->verdict, 5);
  const MlFindingsRow *first = g_ptr_array_index (rows, 0);

  assert_string_equal (first->title, "Nothing wrong, or in D4 a fault of a kind that no reading shows yet");
  hand_free (hand);
}

static void
test_places_are_said_by_what_can_be_seen (void **state)
{
  g_autoptr (MlText) file = ml_text_new ("b", "meterleaf 1\npart R1 resistor 1=N1 2=OUT\npart Q1 npn base=N1 collector=OUT emitter=N2\n"
                                              "part J1 connector 1=N2 2=N2\n", -1);
  g_autoptr (MlBoard) board = ml_board_read (file, NULL);
  static const struct { const char *net; int part, pin; MlLead lead; const char *words; } cases[] = {
    { "OUT", -1, -1, ML_LEAD_NONE, "OUT" },                /* a person named it */
    { "N1", -1, -1, ML_LEAD_NONE, "Q1.base" },       /* says more than R1.1 */
    { "N2", -1, -1, ML_LEAD_NONE, "J1.1" },          /* a plug is found first */
    { "OUT", 1, 0, ML_LEAD_NONE, "Q1.collector" },
    { "OUT", 1, 0, ML_LEAD_SOLDERED, "Q1.collector on its leg" },
    { "OUT", 1, 0, ML_LEAD_LIFTED, "Q1.collector on its lifted leg" },
  };

  for (guint i = 0; i < G_N_ELEMENTS (cases); i++)
    {
      MlProbe probe = { .net = ml_board_find_net (board, cases[i].net), .part = cases[i].part, .pin = cases[i].pin, .lead = cases[i].lead };
      g_autofree char *words = ml_findings_probe_words (board, &probe);
      assert_string_equal (words, cases[i].words);
    }
}

static void
test_long_lists_of_names_are_cut (void **state)
{
  GString *long_line = g_string_new ("R1");

  for (guint i = 2; i <= 40; i++)
    g_string_append_printf (long_line, ", R%u", i);
  g_string_append (long_line, ": no reading, so far: none");
  g_autofree char *cut = ml_findings_shorten (long_line->str), *kept = ml_findings_shorten ("C1, C2: an open capacitor"), *plain = ml_findings_shorten ("nothing");
  assert_string_equal (cut, "R1, R2, R3, R4, R5, R6, R7, R8, R9, R10, R11, R12 and 28 more: no reading, so far: none");
  assert_string_equal (kept, "C1, C2: an open capacitor");
  assert_string_equal (plain, "nothing");
  g_string_free (long_line, TRUE);
}

/* The soldering iron is for a part that is sure, after the whole verdict; not for a first look, a pair or a wrong drawing. */
static void
test_to_mend_only_what_is_sure (void **state)
{
  Hand *hand = hand_new ();
  MlPartVerdict parts[3] = { { .verdict = ML_VERDICT_SUSPECT, .probability = 0.95 } };

  hand->verdict.parts = parts;
  hand->verdict.n_parts = 3;
  hand->verdict.stage = 2;
  assert_int_equal (ml_findings_to_mend (&hand->verdict), 0);
  parts[0].probability = 0.6;
  assert_int_equal (ml_findings_to_mend (&hand->verdict), -1);
  parts[0].probability = 0.95;
  hand->verdict.stage = 1;
  assert_int_equal (ml_findings_to_mend (&hand->verdict), -1);
  hand->verdict.stage = 2;
  hand->explanations[0].explains = ML_EXPLAINS_DRAWING;
  assert_int_equal (ml_findings_to_mend (&hand->verdict), -1);
  assert_int_equal (ml_findings_to_mend (NULL), -1);
  hand_free (hand);
}

/* Told apart by the readings, but in words the same: two lines that read alike leave a person wondering which is which. */
static void
test_rows_in_the_same_words_are_one (void **state)
{
  Hand *hand = hand_new ();
  hand->explanations[0].n_tied = hand->explanations[1].n_tied = 0;
  hand->explanations[1].title = hand->explanations[0].title;
  g_autoptr (GPtrArray) rows = ml_findings_rows (&hand->verdict, 5);
  const MlFindingsRow *first = g_ptr_array_index (rows, 0), *second = g_ptr_array_index (rows, 1);

  assert_int_equal (rows->len, 2);
  assert_near (first->probability, 0.92, 0, 1e-12); /* 0.5 + 0.42 */
  assert_int_equal (first->members->len, 2);
  assert_string_not_equal (first->title, second->title);
  hand_free (hand);
}

/* The scale of an entry says what the suggestion says, whichever way round its probes are. */
static void
test_suggested_reading_is_found_with_its_probes_either_way (void **state)
{
  const MlProbe a = { .net = 0, .part = -1, .pin = -1 }, b = { .net = 1, .part = -1, .pin = -1 };
  MlExpect expect[] = { { 7, 1.5 } };
  MlNextReading next[] = { { .condition = 0, .reads = ML_READS_OHMS, .red = a, .black = b, .supply = -1, .healthy = 4700 },
                           { .condition = 1, .reads = ML_READS_VOLTS, .red = a, .black = b, .supply = -1, .healthy = 3, .expect = expect, .n_expect = 1 },
                           { .condition = 1, .reads = ML_READS_DIODE, .red = a, .black = b, .supply = -1, .healthy = 0.6 } };
  const MlVerdict verdict = { .next = next, .n_next = 3 };
  double sign = 0;

  assert_ptr_equal (ml_findings_suggested (&verdict, 0, ML_READS_OHMS, &b, &a, &sign), &next[0]);
  assert_true (sign == 1.0); /* ohms have no sign */
  assert_ptr_equal (ml_findings_suggested (&verdict, 1, ML_READS_VOLTS, &a, &b, &sign), &next[1]);
  assert_true (sign == 1.0);
  assert_ptr_equal (ml_findings_suggested (&verdict, 1, ML_READS_VOLTS, &b, &a, &sign), &next[1]);
  assert_true (sign == -1.0);
  assert_null (ml_findings_suggested (&verdict, 1, ML_READS_DIODE, &b, &a, &sign)); /* a diode the other way round is another thing */
  assert_null (ml_findings_suggested (&verdict, 0, ML_READS_VOLTS, &a, &b, &sign));
  assert_null (ml_findings_suggested (NULL, 0, ML_READS_VOLTS, &a, &b, &sign));
  assert_true (ml_findings_foretold (&next[1], 7) == 1.5);
  assert_true (isnan (ml_findings_foretold (&next[1], 8)));
}

/* Who asks before the work is done is not told that nothing more is worth reading. */
static void
test_none_suggested_is_said_only_when_it_is_sure (void **state)
{
  Hand *hand = hand_new ();

  assert_non_null (strstr (ml_findings_none_suggested (&hand->verdict, TRUE), "still being worked out"));
  assert_non_null (strstr (ml_findings_none_suggested (&hand->verdict, FALSE), "none would tell much more"));
  assert_non_null (strstr (ml_findings_none_suggested (NULL, FALSE), "yet"));
  hand_free (hand);
}

static void
test_rows_no_more_than_asked_for (void **state)
{
  Hand *hand = hand_new ();
  g_autoptr (GPtrArray) rows = ml_findings_rows (&hand->verdict, 1);

  assert_int_equal (rows->len, 1);
  hand_free (hand);
}

static void
test_rows_one_part_is_given_with_all_that_may_be_wrong (void **state)
{
  Hand *hand = hand_new ();
  hand->faults[1].part = 0;
  hand->faults[1].kind = ML_FAULT_JOINT;
  hand->explanations[1].title = (char *) "Solder joint at D3's anode, about 9 kΩ";
  g_autoptr (GPtrArray) rows = ml_findings_rows (&hand->verdict, 5);

  assert_string_equal (((const MlFindingsRow *) g_ptr_array_index (rows, 0))->title, "D3 open, or solder joint at D3's anode, about 9 kΩ");
  hand_free (hand);
}

/* 0.93 + 0.03 of D3 alone and 0.02 of a pair with it stand as 98 % at D3 on the drawing: the same figure in the list, as one row, in the words of what
 * is likely. */
static void
test_rows_the_first_part_has_the_figure_of_the_drawing (void **state)
{
  Hand *hand = hand_new ();
  MlPartVerdict parts[] = { { .verdict = ML_VERDICT_SUSPECT, .probability = 0.98 }, { .verdict = ML_VERDICT_CLEARED }, { .verdict = ML_VERDICT_CLEARED } };

  hand->verdict.parts = parts;
  hand->verdict.n_parts = 3;
  hand->faults[1].part = 0;
  hand->faults[1].kind = ML_FAULT_JOINT;
  hand->explanations[1].title = (char *) "Solder joint at D3's anode, about 9 kΩ";
  hand->explanations[0].n_tied = hand->explanations[1].n_tied = 0;
  hand->explanations[0].probability = 0.93;
  hand->explanations[1].probability = 0.03;
  hand->explanations[2].probability = 0.012;
  g_autoptr (GPtrArray) rows = ml_findings_rows (&hand->verdict, 5);
  const MlFindingsRow *first = g_ptr_array_index (rows, 0);
  assert_int_equal (rows->len, 2);
  assert_string_equal (first->title, "D3 open");
  assert_int_equal (first->members->len, 2);
  assert_near (first->probability, 0.98, 0, 1e-12);
  assert_near (((const MlFindingsRow *) g_ptr_array_index (rows, 1))->probability, 0.012, 0, 1e-12);
  hand_free (hand);
}

/* The sentence goes by what a part's faults come to together: 0.30 and 0.21 of D3 against 0.25 of D4. The two that read the same are no longer one
 * row then, which would lead with 0.46. */
static void
test_rows_the_one_of_the_sentence_stands_first (void **state)
{
  Hand *hand = hand_new ();
  MlExplanation *leak = &hand->explanations[0], *shown_open = &hand->explanations[1], *other_open = &hand->explanations[2];

  hand->faults[0].kind = ML_FAULT_LEAK;
  hand->faults[1] = (MlFault){ .part = 0, .kind = ML_FAULT_OPEN, .net_a = -1, .net_b = -1, .size = NAN };
  hand->faults[2] = (MlFault){ .part = 1, .kind = ML_FAULT_OPEN, .net_a = -1, .net_b = -1, .size = NAN };
  leak->title = (char *) "D3 leaking";
  shown_open->title = (char *) "D3 open";
  other_open->title = (char *) "D4 open";
  leak->probability = 0.30;
  shown_open->probability = 0.21;
  other_open->probability = 0.25;
  leak->n_tied = 0;
  hand->tied_first = 2;
  hand->tied_second = 3;
  other_open->tied = &hand->tied_first;
  other_open->n_tied = 1;
  g_autoptr (GPtrArray) as_found = ml_findings_rows (&hand->verdict, 5);
  assert_string_equal (((const MlFindingsRow *) g_ptr_array_index (as_found, 0))->title, "One of D3, D4: open");
  hand->verdict.named = leak->id;
  g_autoptr (GPtrArray) rows = ml_findings_rows (&hand->verdict, 5);
  const MlFindingsRow *first = g_ptr_array_index (rows, 0), *second = g_ptr_array_index (rows, 1);
  assert_int_equal (rows->len, 2);
  assert_string_equal (first->title, "D3 leaking, or open");
  assert_near (first->probability, 0.51, 0, 1e-12);
  assert_int_equal (g_array_index (first->members, guint, 0), 0); /* its reasons are shown */
  assert_string_equal (second->title, "D4 open");
  assert_near (second->probability, 0.25, 0, 1e-12);
  /* what is no part's cannot be gathered: it goes first all the same */
  leak->explains = ML_EXPLAINS_DRAWING;
  g_autoptr (GPtrArray) moved = ml_findings_rows (&hand->verdict, 5);
  assert_string_equal (((const MlFindingsRow *) g_ptr_array_index (moved, 0))->title, "D3 leaking");
  assert_string_equal (((const MlFindingsRow *) g_ptr_array_index (moved, 1))->title, "One of D3, D4: open");
  hand_free (hand);
}

/* "Probably one of D3, D4" stood above "The circuit as drawn cannot give this, 35 %": the list begins with what the sentence says. */
static void
test_rows_begin_with_the_suspects_of_the_sentence (void **state)
{
  Hand *hand = hand_new ();
  MlPartVerdict parts[] = { { .verdict = ML_VERDICT_SUSPECT }, { .verdict = ML_VERDICT_SUSPECT }, { .verdict = ML_VERDICT_POSSIBLE } };
  MlExplanation *misfit = &hand->explanations[2];

  hand->verdict.parts = parts;
  hand->verdict.n_parts = G_N_ELEMENTS (parts);
  hand->explanations[0].n_tied = hand->explanations[1].n_tied = 0;
  hand->explanations[0].probability = 0.34;
  hand->explanations[1].probability = 0.31;
  hand->explanations[3].probability = 0.0;
  *misfit = (MlExplanation){ .id = 3, .probability = 0.35, .explains = ML_EXPLAINS_MISFIT, .title = (char *) "The circuit as drawn cannot give this" };
  g_autoptr (GPtrArray) as_found = ml_findings_rows (&hand->verdict, 5);
  assert_string_equal (((const MlFindingsRow *) g_ptr_array_index (as_found, 0))->title, misfit->title);
  hand->verdict.one_of_suspects = TRUE;
  g_autoptr (GPtrArray) rows = ml_findings_rows (&hand->verdict, 5);
  const MlFindingsRow *first = g_ptr_array_index (rows, 0);
  assert_int_equal (rows->len, 2);
  assert_string_equal (first->title, "One of D3, D4: open");
  assert_near (first->probability, 0.65, 0, 1e-12); /* 0.34 + 0.31 */
  assert_string_equal (((const MlFindingsRow *) g_ptr_array_index (rows, 1))->title, misfit->title);
  /* where a suspect leads anyway, each keeps a row of its own: that says more */
  misfit->probability = 0.3;
  g_autoptr (GPtrArray) apart = ml_findings_rows (&hand->verdict, 5);
  assert_string_equal (((const MlFindingsRow *) g_ptr_array_index (apart, 0))->title, "D3 open");
  assert_int_equal (apart->len, 3);
  /* suspect only by faults that come in pairs: there is nothing to gather */
  misfit->probability = 0.35;
  hand->explanations[0].n_faults = hand->explanations[1].n_faults = 0;
  g_autoptr (GPtrArray) pairs = ml_findings_rows (&hand->verdict, 5);
  assert_string_equal (((const MlFindingsRow *) g_ptr_array_index (pairs, 0))->title, misfit->title);
  hand_free (hand);
}

/* As it was found: a driver whose collector stands between the rails. Joints of R1 and of Q1, and a drifted R1, read alike and together are likelier than
 * any one fault; the sentence accuses Q1, which may also be a wrong part. */
static void
test_rows_of_a_driver_begin_with_the_part_of_the_sentence (void **state)
{
  g_autoptr (MlText) board_file = ml_text_new ("driver.leafboard", "meterleaf 1\nreference M\npart J1 connector VCC=VCC M=M IN=IN\n"
                                               "part R1 resistor 1=IN 2=B value=4k7 tolerance=5%\npart R2 resistor 1=VCC 2=C value=1k tolerance=5%\n"
                                               "part Q1 npn collector=C base=B emitter=M\ncondition on\n  supply plus=VCC minus=M voltage=12 limit=100m\n"
                                               "  supply plus=IN minus=M voltage=5 limit=100m\n", -1);
  g_autoptr (MlText) job_file = ml_text_new ("driver.leafjob", "meterleaf 1\nunit one suspect\nreading one on red=C volts=9.5\nreading one on supply=1 amps=0.003\n", -1);
  g_autoptr (MlBoard) board = ml_board_read (board_file, NULL);
  g_autoptr (MlJob) job = ml_job_read (job_file, board, NULL);
  g_autoptr (MlJudge) judge = ml_judge_new (board);
  assert_true (ml_judge_prepare (judge, NULL, NULL, NULL, NULL));
  g_autoptr (MlVerdict) verdict = ml_judge_run (judge, job, -1, 0, 2, NULL, NULL);
  g_autoptr (GPtrArray) rows = ml_findings_rows (verdict, 5);
  const MlFindingsRow *first = g_ptr_array_index (rows, 0);

  assert_true (g_str_has_prefix (verdict->sentence, "Likeliest: ") && strstr (verdict->sentence, "Q1") != NULL);
  assert_true (verdict->named > 0);
  assert_true (strstr (first->title, "Q1") != NULL && strstr (first->title, "R1") == NULL);
  for (guint i = 1; i < rows->len; i++)
    assert_true (((const MlFindingsRow *) g_ptr_array_index (rows, i))->probability <= first->probability);
}

/* No current through two resistors in a row, either of which may be open: the sentence says both, and the rows may know that. */
static void
test_rows_of_a_chain_begin_with_the_parts_of_the_sentence (void **state)
{
  g_autoptr (MlText) board_file = ml_text_new ("chain.leafboard", "meterleaf 1\nreference M\npart J1 connector VCC=VCC M=M\npart R1 resistor 1=VCC 2=N1 value=1k\n"
                                               "part R2 resistor 1=N1 2=OUT value=1k\npart R3 resistor 1=OUT 2=M value=1k\n"
                                               "condition on\n  supply plus=VCC minus=M voltage=12 limit=100m\n", -1);
  g_autoptr (MlText) job_file = ml_text_new ("chain.leafjob", "meterleaf 1\nunit one suspect\nreading one on red=OUT volts=0\nreading one on supply=1 amps=0\n", -1);
  g_autoptr (MlBoard) board = ml_board_read (board_file, NULL);
  g_autoptr (MlJob) job = ml_job_read (job_file, board, NULL);
  g_autoptr (MlJudge) judge = ml_judge_new (board);
  assert_true (ml_judge_prepare (judge, NULL, NULL, NULL, NULL));
  g_autoptr (MlVerdict) verdict = ml_judge_run (judge, job, -1, 0, 2, NULL, NULL);
  g_autoptr (GPtrArray) rows = ml_findings_rows (verdict, 5);
  const char *title = ((const MlFindingsRow *) g_ptr_array_index (rows, 0))->title;

  assert_non_null (strstr (verdict->sentence, "one of R1, R2"));
  assert_true (verdict->one_of_suspects);
  assert_true (strstr (title, "R1") != NULL || strstr (title, "R2") != NULL);
}

static void
test_expect_says_each_value_once_with_its_causes (void **state)
{
  Hand *hand = hand_new ();
  MlExpect expect[] = { { 1, 11.3 }, { 2, 0.0 }, { 3, 0.0 } };
  MlNextReading next = { .reads = ML_READS_VOLTS, .expect = expect, .n_expect = 3, .healthy = 0.71 };
  g_autofree char *text = ml_findings_expect (&hand->verdict, &next);

  assert_string_equal (text, "Expect 11.3 V if D3, 0.00 V if D4 or R1, 710 mV if all is fine");
  hand_free (hand);
}

static void
test_expect_same_part_twice_is_told_apart_by_fault (void **state)
{
  Hand *hand = hand_new ();
  MlExpect expect[] = { { 1, 11.3 }, { 2, 2.0 } };
  MlNextReading next = { .reads = ML_READS_VOLTS, .expect = expect, .n_expect = 2, .healthy = NAN };

  hand->faults[1].part = 0;
  hand->faults[1].kind = ML_FAULT_LEAK;
  g_autofree char *text = ml_findings_expect (&hand->verdict, &next);
  assert_string_equal (text, "Expect 11.3 V if D3 open, 2.00 V if D3 leaking");
  hand_free (hand);
}

/* Beside a part named with its fault no other part stands bare, and the value of a sound board, which clears the suspects, is never crowded out. */
static void
test_expect_beside_a_fault_named_all_are_and_the_sound_value_stays (void **state)
{
  Hand *hand = hand_new ();
  MlExpect expect[] = { { 1, 11.3 }, { 2, 2.0 }, { 3, 0.06 } };
  MlNextReading next = { .reads = ML_READS_VOLTS, .expect = expect, .n_expect = 3, .healthy = 0.71 };

  hand->faults[1].part = 0;
  hand->faults[1].kind = ML_FAULT_LEAK;
  g_autofree char *text = ml_findings_expect (&hand->verdict, &next);
  assert_string_equal (text, "Expect 11.3 V if D3 open, 2.00 V if D3 leaking, 60.0 mV if R1 shorted, 710 mV if all is fine");
  hand_free (hand);
}

static void
test_expect_faults_of_a_part_that_show_the_same_are_the_part (void **state)
{
  Hand *hand = hand_new ();
  MlExpect expect[] = { { 1, 0.0 }, { 2, 0.0 }, { 3, 0.0 } };
  MlNextReading next = { .reads = ML_READS_VOLTS, .expect = expect, .n_expect = 3, .healthy = 0.71 };

  hand->faults[1].part = 0;
  hand->faults[1].kind = ML_FAULT_LEAK;
  g_autofree char *text = ml_findings_expect (&hand->verdict, &next);
  assert_string_equal (text, "Expect 0.00 V if D3 or R1, 710 mV if all is fine");

  /* also beside a part that would show two values */
  MlExpect mixed[] = { { 1, 0.0 }, { 2, 0.0 }, { 3, 3.0 }, { 4, 1.5 } };
  next.expect = mixed;
  next.n_expect = 4;
  hand->explanations[3].faults = &hand->faults[3];
  hand->explanations[3].n_faults = 1;
  hand->faults[3] = hand->faults[2];
  hand->faults[3].kind = ML_FAULT_LEAK;
  g_autofree char *beside = ml_findings_expect (&hand->verdict, &next);
  assert_string_equal (beside, "Expect 0.00 V if D3, 3.00 V if R1 shorted, 1.50 V if R1 leaking, 710 mV if all is fine");
  hand_free (hand);
}

static void
test_expect_over_range_is_said_as_the_meter_says_it (void **state)
{
  Hand *hand = hand_new ();
  MlExpect expect[] = { { 1, INFINITY }, { 2, 2000 } };
  MlNextReading next = { .reads = ML_READS_OHMS, .expect = expect, .n_expect = 2, .healthy = 2000 };
  g_autofree char *text = ml_findings_expect (&hand->verdict, &next);

  assert_string_equal (text, "Expect OL if D3, 2.00 k\xce\xa9 if D4 or all is fine");
  hand_free (hand);
}

static void
test_places_are_named_as_the_probes_stand (void **state)
{
  Hand *hand = hand_new ();
  static const char *const expected[] = { "OUT", "IN", "across R1", "MID to OUT", "supply 1" };

  for (guint i = 0; i < G_N_ELEMENTS (expected); i++)
    {
      g_autofree char *text = ml_findings_place_short (hand->board, &hand->job->readings[i]);
      assert_string_equal (text, expected[i]);
    }
  g_autofree char *whole = ml_findings_place (hand->board, ML_READS_VOLTS, &hand->job->readings[3].red, &hand->job->readings[3].black, -1);
  assert_string_equal (whole, "red on MID, black on OUT");
  hand_free (hand);
}

static void
test_reasons_what_tells_most_comes_first (void **state)
{
  Hand *hand = hand_new ();
  g_autoptr (GArray) reasons = ml_findings_reasons (&hand->verdict);

  /* away from fine by more than 100 sigma: OUT and MID to OUT; IN agrees and would agree under the fault too */
  assert_int_equal (reasons->len, 3);
  assert_int_equal (g_array_index (reasons, MlFindingsReason, 2).reading, 1);
  assert_true (g_array_index (reasons, MlFindingsReason, 0).telling);
  assert_true (g_array_index (reasons, MlFindingsReason, 1).telling);
  assert_false (g_array_index (reasons, MlFindingsReason, 2).telling);
  hand_free (hand);
}

static void
test_value_below_any_meter_is_nothing (void **state)
{
  g_autofree char *tiny = ml_findings_value (3e-9, ML_READS_VOLTS), *amps = ml_findings_value (0.0853, ML_READS_AMPS);
  g_autofree char *unknown = ml_findings_value (NAN, ML_READS_VOLTS), *over = ml_findings_value (INFINITY, ML_READS_OHMS);

  assert_string_equal (tiny, "0.00 V");
  assert_string_equal (amps, "85.3 mA");
  assert_string_equal (unknown, "?");
  assert_string_equal (over, "OL");
}

/* While one draws, the next step is said; an early "nothing fits" is not, since what may yet fit has not been looked at. */
static void
test_guide_speaks_until_there_is_a_verdict_worth_saying (void **state)
{
  Hand *hand = hand_new ();
  g_autoptr (MlText) nothing = ml_text_new ("empty", "meterleaf 1\n", -1), bare = ml_text_new ("bare", "meterleaf 1\npart R1 resistor 1=A 2=B\n", -1);
  g_autoptr (MlText) loose = ml_text_new ("loose", "meterleaf 1\npart R1 resistor\n", -1);
  g_autoptr (MlBoard) empty = ml_board_read (nothing, NULL), unsupplied = ml_board_read (bare, NULL), unjoined = ml_board_read (loose, NULL);

  hand->verdict.sentence = (char *) "Probably D3 open.";
  hand->verdict.pass = 1;
  assert_non_null (strstr (ml_findings_guide (empty, 0, 1, NULL, FALSE, FALSE), "Add the parts"));
  /* a file with errors may look empty though it is not */
  assert_non_null (strstr (ml_findings_mend_first (empty, 3, FALSE), "errors do not count"));
  assert_non_null (strstr (ml_findings_mend_first (hand->board, 1, FALSE), "errors do not count")); /* of the readings */
  assert_null (ml_findings_mend_first (hand->board, 1, TRUE));
  assert_null (ml_findings_mend_first (empty, 0, FALSE));
  assert_non_null (strstr (ml_findings_guide (unsupplied, 0, 1, NULL, FALSE, FALSE), "Add a condition"));
  assert_non_null (strstr (ml_findings_guide (unjoined, 0, 1, NULL, FALSE, FALSE), "join two pins"));
  assert_non_null (strstr (ml_findings_guide (hand->board, 0, 2, NULL, FALSE, FALSE), "since the repair"));
  assert_non_null (strstr (ml_findings_guide (hand->board, -1, 1, NULL, FALSE, FALSE), "Add a unit"));
  assert_non_null (strstr (ml_findings_guide (hand->board, 0, 1, NULL, FALSE, FALSE), "No readings yet"));
  assert_non_null (strstr (ml_findings_guide (hand->board, 0, 1, NULL, FALSE, TRUE), "Stopped"));
  assert_non_null (strstr (ml_findings_guide (hand->board, 0, 1, NULL, TRUE, TRUE), "Working"));
  assert_null (ml_findings_guide (hand->board, 0, 1, &hand->verdict, TRUE, FALSE));
  hand->explanations[0].explains = ML_EXPLAINS_MISFIT;
  assert_non_null (strstr (ml_findings_guide (hand->board, 0, 1, &hand->verdict, TRUE, FALSE), "Looking"));
  assert_null (ml_findings_guide (hand->board, 0, 1, &hand->verdict, FALSE, FALSE)); /* stopped */
  hand->verdict.stage = 2;
  assert_null (ml_findings_guide (hand->board, 0, 1, &hand->verdict, TRUE, FALSE));
  hand_free (hand);
}

/* What is said should not go from one suspect to another and back within the stages of one verdict. */
static void
test_first_verdict_waits_when_it_names_something_else (void **state)
{
  Hand *first = hand_new (), *shown = hand_new ();
  MlPartVerdict first_parts[3] = { 0 }, shown_parts[3] = { 0 };

  first->verdict.parts = first_parts;
  shown->verdict.parts = shown_parts;
  first->verdict.n_parts = shown->verdict.n_parts = 3;
  first->verdict.stage = 0;
  shown->verdict.stage = 2;
  assert_false (ml_findings_waits (NULL, &first->verdict));
  assert_false (ml_findings_waits (&shown->verdict, &first->verdict)); /* D3 leads in both */
  first->explanations[0] = first->explanations[2];                     /* R1 shorted leads */
  assert_true (ml_findings_waits (&shown->verdict, &first->verdict));
  first_parts[0].verdict = shown_parts[0].verdict = ML_VERDICT_SUSPECT; /* of several suspects one is the same */
  assert_false (ml_findings_waits (&shown->verdict, &first->verdict));
  shown_parts[0].verdict = ML_VERDICT_POSSIBLE;
  assert_true (ml_findings_waits (&shown->verdict, &first->verdict));
  first->verdict.stage = 1; /* as refined as the one shown */
  assert_false (ml_findings_waits (&shown->verdict, &first->verdict));
  first->verdict.stage = 0;
  shown->verdict.stage = 0;
  assert_false (ml_findings_waits (&shown->verdict, &first->verdict));
  shown->verdict.stage = 2;
  first->verdict.pass = 2; /* another pass: what is shown says nothing about it */
  assert_false (ml_findings_waits (&shown->verdict, &first->verdict));
  hand_free (first);
  hand_free (shown);
}

/* A tick says no more than the readings do. */
static void
test_status_of_a_cleared_part_says_what_readings_cannot (void **state)
{
  MlPartVerdict parts[] = { { .verdict = ML_VERDICT_CLEARED }, { .verdict = ML_VERDICT_CLEARED }, { .verdict = ML_VERDICT_UNPROVEN },
                            { .verdict = ML_VERDICT_UNPROVEN } };
  char turns[] = "shorted turns do not show in d.c. readings", none[] = "no reading taken so far would show a fault here";
  MlBlind blind[] = { { 1, turns }, { 2, none } };
  const MlVerdict verdict = { .parts = parts, .n_parts = 4, .n_readings = 1, .blind = blind, .n_blind = 2 };
  static const char *const expected[] = { "cleared: the readings speak against a fault here",
                                          "cleared as far as readings go; shorted turns do not show in d.c. readings",
                                          "unproven: no reading taken so far would show a fault here", "unproven: some of its faults would not show" };

  for (int i = 0; i < 4; i++)
    {
      g_autofree char *why = ml_status_why (&verdict, i);
      assert_string_equal (why, expected[i]);
    }
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_first_verdict_waits_when_it_names_something_else),
    cmocka_unit_test (test_guide_speaks_until_there_is_a_verdict_worth_saying),
    cmocka_unit_test (test_rows_tied_explanations_stand_in_one_row),
    cmocka_unit_test (test_rows_one_part_is_given_with_all_that_may_be_wrong),
    cmocka_unit_test (test_rows_the_first_part_has_the_figure_of_the_drawing),
    cmocka_unit_test (test_rows_the_one_of_the_sentence_stands_first),
    cmocka_unit_test (test_rows_begin_with_the_suspects_of_the_sentence),
    cmocka_unit_test (test_rows_of_a_chain_begin_with_the_parts_of_the_sentence),
    cmocka_unit_test (test_rows_of_a_driver_begin_with_the_part_of_the_sentence),
    cmocka_unit_test (test_rows_of_several_parts_say_what_may_be_wrong),
    cmocka_unit_test (test_rows_say_every_fault_in_plain_words),
    cmocka_unit_test (test_rows_of_an_unsaid_type_accuse_nobody_of_a_wrong_part),
    cmocka_unit_test (test_rows_fault_and_slip_of_the_drawing_are_told_apart),
    cmocka_unit_test (test_rows_a_sound_board_is_named_first),
    cmocka_unit_test (test_places_are_said_by_what_can_be_seen),
    cmocka_unit_test (test_long_lists_of_names_are_cut),
    cmocka_unit_test (test_to_mend_only_what_is_sure),
    cmocka_unit_test (test_rows_in_the_same_words_are_one),
    cmocka_unit_test (test_suggested_reading_is_found_with_its_probes_either_way),
    cmocka_unit_test (test_none_suggested_is_said_only_when_it_is_sure),
    cmocka_unit_test (test_rows_no_more_than_asked_for),
    cmocka_unit_test (test_expect_says_each_value_once_with_its_causes),
    cmocka_unit_test (test_expect_same_part_twice_is_told_apart_by_fault),
    cmocka_unit_test (test_expect_beside_a_fault_named_all_are_and_the_sound_value_stays),
    cmocka_unit_test (test_expect_faults_of_a_part_that_show_the_same_are_the_part),
    cmocka_unit_test (test_expect_over_range_is_said_as_the_meter_says_it),
    cmocka_unit_test (test_places_are_named_as_the_probes_stand),
    cmocka_unit_test (test_reasons_what_tells_most_comes_first),
    cmocka_unit_test (test_status_of_a_cleared_part_says_what_readings_cannot),
    cmocka_unit_test (test_value_below_any_meter_is_nothing),
  };

  return cmocka_run_group_tests (tests, NULL, NULL);
}
