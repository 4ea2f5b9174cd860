/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every fault mode of every kind can be supposed and solved: a board with one part of the kind, each pin between a resistor to the supply
 * and one to the reference. Expected: an open lead carries nothing, pins shorted exactly stand at one voltage, the currents into a part sum
 * to zero (Kirchhoff), and what cannot be supposed of a kind is refused in words. */
#include "support/models.h"
#include "support/near.h"

#include "verdict/assumptions.h"
#include "verdict/judge.h"
#include "verdict/modes.h"

#include <math.h>
#include <string.h>

static const char *const kinds[] = {
  "resistor", "link", "inductor", "capacitor", "potentiometer", "thermistor", "varistor", "tvs", "fuse", "coil", "switch", "changeover", "contact",
  "lamp", "diode", "led", "zener", "bridge", "npn", "pnp", "nmos", "pmos", "njfet", "pjfet", "thyristor", "triac", "regulator", "adjustable", "shunt",
  "opamp", "comparator", "opto", "converter", "battery",
};

static MlBoard *
board_with (const char *word)
{
  const MlKindInfo *kind = ml_kind_find (word);
  g_autoptr (GString) text = g_string_new ("reference MINUS\npart K9 coil 1=IN 2=MINUS\n");
  gboolean by_coil = strcmp (word, "contact") == 0;

  g_string_append_printf (text, "part X %s", word);
  for (guint p = 0; kind->pins[p] != NULL; p++)
    g_string_append_printf (text, " %s=N%u", kind->pins[p], p);
  g_string_append (text, by_coil ? " by=K9\n" : "\n");
  for (guint p = 0; kind->pins[p] != NULL; p++)
    g_string_append_printf (text, "part RA%u resistor 1=IN 2=N%u value=%u\npart RB%u resistor 1=N%u 2=MINUS value=%u\n", p, p, 2000 + 1700 * p, p, p,
                            3000 + 900 * (p % 2));
  g_string_append (text, "condition on\n  supply plus=IN minus=MINUS voltage=12 limit=500m\n");
  MlBoard *board = ml_test_board (text->str);
  assert_int_equal (board->parts[1].n_pins, (guint) g_strv_length ((char **) kind->pins));
  return board;
}

static void
check_currents (const MlBoard *board, const MlOperatingPoint *point)
{
  for (guint i = 0; i < board->n_parts; i++)
    {
      double sum = 0, largest = 0;
      for (guint p = 0; p < board->parts[i].n_pins; p++)
        {
          sum += point->pin_a[i][p];
          largest = MAX (largest, fabs (point->pin_a[i][p]));
        }
      assert_near (sum, 0, 0, 1e-12 + 1e-9 * largest);
    }
}

/* Solved (TRUE), or refused with a reason. */
static gboolean
suppose (MlJudge *judge, const MlBoard *board, const char *words, MlOperatingPoint **ret_point)
{
  MlFault fault;
  g_autoptr (GError) error = NULL;

  if (!ml_fault_parse (board, words, &fault, &error))
    print_error ("%s: %s\n", words, error->message);
  assert_null (error);
  *ret_point = ml_judge_solve (judge, 0, &fault, 1, NULL);
  ml_fault_clear (&fault);
  if ((*ret_point)->solved)
    check_currents (board, *ret_point);
  else
    assert_true (strlen ((*ret_point)->error) > 10);
  return (*ret_point)->solved;
}

static void
must_solve (MlJudge *judge, const MlBoard *board, const char *words, MlOperatingPoint **ret_point)
{
  if (!suppose (judge, board, words, ret_point))
    print_error ("%s %s: %s\n", board->parts[1].kind->word, words, (*ret_point)->error);
  assert_true ((*ret_point)->solved);
}

static void
walk_pins (MlJudge *judge, const MlBoard *board)
{
  const MlPart *part = &board->parts[1];

  for (guint a = 0; a < part->n_pins; a++)
    {
      MlOperatingPoint *point;
      g_autofree char *open = g_strdup_printf ("X open pins=%s", part->pins[a].name);
      g_autofree char *joint = g_strdup_printf ("X joint pins=%s size=310", part->pins[a].name);
      g_autofree char *track = g_strdup_printf ("broken-track nets=N%u pins=X.%s", a, part->pins[a].name);
      must_solve (judge, board, open, &point);
      assert_near (point->pin_a[1][a], 0, 0, 1e-12);
      ml_operating_point_free (point);
      must_solve (judge, board, joint, &point);
      ml_operating_point_free (point);
      must_solve (judge, board, track, &point);
      assert_near (point->pin_a[1][a], 0, 0, 1e-12);
      ml_operating_point_free (point);
      for (guint b = 0; b < part->n_pins; b++)
        {
          g_autofree char *exact = g_strdup_printf ("X short pins=%s,%s size=0", part->pins[a].name, part->pins[b].name);
          g_autofree char *leak = g_strdup_printf ("X leak pins=%s,%s size=470", part->pins[a].name, part->pins[b].name);
          g_autofree char *link = g_strdup_printf ("stray-link nets=N%u,N%u size=20", a, b);
          if (a == b)
            continue;
          must_solve (judge, board, exact, &point);
          assert_near (point->net_v[board->parts[1].pins[a].net], point->net_v[board->parts[1].pins[b].net], 0, 1e-9);
          ml_operating_point_free (point);
          must_solve (judge, board, leak, &point);
          ml_operating_point_free (point);
          must_solve (judge, board, link, &point);
          ml_operating_point_free (point);
        }
    }
}

static void
walk_words (MlJudge *judge, const MlBoard *board)
{
  static const char *const words[] = { "X high size=3", "X low size=0.4", "X reversed", "X dead", "X through", "X stuck-high", "X stuck-low" };
  const char *kind = board->parts[1].kind->word;
  gboolean output = strcmp (kind, "opamp") == 0 || strcmp (kind, "comparator") == 0;
  gboolean feeds = strcmp (kind, "regulator") == 0 || strcmp (kind, "adjustable") == 0 || strcmp (kind, "converter") == 0;

  for (guint i = 0; i < G_N_ELEMENTS (words); i++)
    {
      MlOperatingPoint *point;
      gboolean solved = suppose (judge, board, words[i], &point);
      if (i >= 3) /* said of what has an output, and of nothing else */
        assert_int_equal (solved, i < 5 ? feeds : output);
      if (i == 2 && board->parts[1].n_pins == 2)
        assert_true (solved);
      ml_operating_point_free (point);
    }
}

/* Every hypothesis that the verdict would weigh. */
static void
walk_modes (MlJudge *judge, MlBoard *board)
{
  MlModel *model = ml_model_new (board, NULL);
  GArray *modes = ml_modes_list (model);
  guint n = 0;

  for (guint i = 0; i < modes->len; i++)
    {
      const MlHypothesis *mode = &g_array_index (modes, MlHypothesis, i);
      if (mode->fault.part != 1)
        continue;
      for (guint c = 0; c < mode->n_cells; c++)
        {
          MlFault fault = mode->fault;
          fault.size = mode->cells[c].size;
          MlOperatingPoint *point = ml_judge_solve (judge, 0, &fault, 1, NULL);
          if (!point->solved)
            print_error ("%s %s: %s\n", board->parts[1].kind->word, ml_fault_word (fault.kind), point->error);
          assert_true (point->solved);
          check_currents (board, point);
          ml_operating_point_free (point);
          n++;
        }
    }
  assert_true (n > 0);
  g_array_unref (modes);
  ml_model_free (model);
}

static void
test_every_fault_of_every_kind_solves (void **state)
{
  for (guint k = 0; k < G_N_ELEMENTS (kinds); k++)
    {
      MlBoard *board = board_with (kinds[k]);
      MlJudge *judge = ml_judge_new (board);
      walk_pins (judge, board);
      walk_words (judge, board);
      walk_modes (judge, board);
      ml_judge_free (judge);
      ml_board_unref (board);
    }
}

/* The sizes that a fault may have are parts of one whole, and so are all faults with the sound board and a wrong drawing (axioms of probability). */
static void
test_priors_and_sizes_add_up_to_one (void **state)
{
  static const char text[] = "reference G\npart R1 resistor 1=P 2=A value=4k7\npart D1 zener anode=G cathode=A voltage=5.6\npart C1 capacitor plus=A minus=G\n"
                             "part Q1 npn collector=P base=A emitter=O\npart R2 resistor 1=O 2=G\npart U1 regulator in=P out=V ground=G voltage=5\n"
                             "part U2 block 1=V 2=G 3=O\nnear A O\ncondition on\n  supply plus=P minus=G voltage=12 limit=1\n";
  MlBoard *board = ml_test_board (text);
  MlModel *model = ml_model_new (board, NULL);
  GArray *modes = ml_modes_list (model);
  double priors = 0, late = 0;

  for (guint i = 0; i < modes->len; i++)
    {
      const MlHypothesis *mode = &g_array_index (modes, MlHypothesis, i);
      double shares = 0;

      for (guint c = 0; c < mode->n_cells; c++)
        shares += mode->cells[c].share;
      if (fabs (shares - 1) > 1e-9)
        print_error ("%s of part %d: %g\n", ml_fault_word (mode->fault.kind), mode->fault.part, shares);
      assert_near (shares, 1, 1e-9, 0);
      assert_true (mode->prior > 0);
      *(mode->late ? &late : &priors) += mode->prior;
    }
  assert_near (priors + ml_assumption ("prior.misfit"), 1, 1e-9, 0);
  assert_true (late > 0 && late < ml_assumption ("prior.misfit")); /* they are part of it */
  g_array_unref (modes);
  ml_model_free (model);
  ml_board_unref (board);
}

/* 10 ohm between the supply and the ground of a chip that is taken to have 300 ohm there itself: 9.68 ohm behind R1's 10 (Ohm's law). */
static void
test_short_inside_an_unknown_chip_is_supposed (void **state)
{
  static const char text[] = "reference G\npart R1 resistor 1=P 2=V value=10\npart U1 block VCC=V GND=G\ncondition on\n  supply plus=P minus=G voltage=12 limit=3\n";
  double chip = ml_assumption ("block.centre-ohm"), inside = 10 * chip / (10 + chip);
  MlBoard *board = ml_test_board (text);
  MlJudge *judge = ml_judge_new (board);
  MlOperatingPoint *at;
  MlFault fault;

  assert_true (ml_fault_parse (board, "U1 leak pins=VCC,GND size=10", &fault, NULL));
  at = ml_judge_solve (judge, 0, &fault, 1, NULL);
  assert_near (at->net_v[ml_board_find_net (board, "V")], 12 * inside / (10 + inside), 1e-6, 0);
  ml_operating_point_free (at);
  ml_fault_clear (&fault);
  ml_judge_free (judge);
  ml_board_unref (board);
}

static void
check_refused (const MlBoard *board, const char *words)
{
  MlFault fault;
  g_autoptr (GError) error = NULL;

  assert_false (ml_fault_parse (board, words, &fault, &error));
  assert_true (strlen (error->message) > 10);
}

/* R2 drawn across R4 but in truth below R1: the tap is then the divider 12 V R2 / (R1 + R2) = 8 V and R4 has the whole of its own 12 V R4 /
 * (R3 + R4) = 3 V; as drawn A has no load (12 V) and B 12 V (R2 || R4) / (R3 + R2 || R4) = 2.18 V. */
static void
test_pin_on_another_net_is_supposed (void **state)
{
  static const char text[] = "reference G\npart R1 resistor 1=P 2=A value=1k\npart R2 resistor 1=B 2=G value=2k\npart R3 resistor 1=P 2=B value=3k\n"
                             "part R4 resistor 1=B 2=G value=1k\ncondition on\n  supply plus=P minus=G voltage=12 limit=1\n";
  MlBoard *board = ml_test_board (text);
  MlJudge *judge = ml_judge_new (board);
  MlOperatingPoint *drawn = ml_judge_solve (judge, 0, NULL, 0, NULL), *real;

  assert_near (drawn->net_v[ml_board_find_net (board, "A")], 12, 1e-5, 0);
  assert_near (drawn->net_v[ml_board_find_net (board, "B")], 12 * (2 / 3.0) / (3 + 2 / 3.0), 1e-4, 0);
  must_solve (judge, board, "R2 wrong-net pins=1 nets=A", &real);
  assert_near (real->net_v[ml_board_find_net (board, "A")], 8, 1e-4, 0);
  assert_near (real->net_v[ml_board_find_net (board, "B")], 3, 1e-4, 0);
  check_refused (board, "R2 wrong-net pins=1");
  check_refused (board, "R2 wrong-net nets=A");
  check_refused (board, "R2 wrong-net pins=1,2 nets=A");
  check_refused (board, "R2 wrong-net pins=1 nets=A,B");
  check_refused (board, "R2 wrong-net pins=1 nets=Z");
  ml_operating_point_free (drawn);
  ml_operating_point_free (real);
  ml_judge_free (judge);
  ml_board_unref (board);
}

/* A relay of 5 V (pulls at 3.75 V, 75 %, a usual figure of data sheets) on 12 V through 270 ohm: 12 x 100 / 370 = 3.24 V; with 158.8 ohm beside
 * these, 100 ohm: 12 x 100 / 200 = 6 V. What is set overrules the coil. */
static void
test_an_operating_point_says_where_contacts_stand (void **state)
{
  g_autoptr (MlBoard) board = ml_test_board ("reference M\npart S1 switch 1=P 2=A\npart R1 resistor 1=P 2=C value=270\npart R2 resistor 1=A 2=C value=158.8\n"
                                             "part K1 coil 1=C 2=M resistance=100 pull=3.75 release=0.5\npart K1a contact common=P no=B nc=D by=K1\n"
                                             "part R3 resistor 1=B 2=M value=1k\npart R4 resistor 1=D 2=M value=1k\n"
                                             "condition off\n  supply plus=P minus=M voltage=12 limit=1\n"
                                             "condition on\n  supply plus=P minus=M voltage=12 limit=1\n  set S1 closed\n"
                                             "condition held\n  supply plus=P minus=M voltage=12 limit=1\n  set K1a closed\n");
  static const gboolean pulled[] = { FALSE, TRUE, TRUE };
  const int contact = ml_board_find_part (board, "K1a");
  MlJudge *judge = ml_judge_new (board);

  for (int c = 0; c < 3; c++)
    {
      g_autoptr (MlOperatingPoint) point = ml_judge_solve (judge, c, NULL, 0, NULL);

      assert_true (point->solved);
      for (guint i = 0; i < board->n_parts; i++)
        assert_int_equal (point->pulled[i], (int) i == contact && pulled[c]);
      assert_near (fabs (point->pin_a[contact][pulled[c] ? 1 : 2]), 12e-3, 1e-3, 0);
    }
  ml_judge_free (judge);
}

/* A chip nobody knows holds its output near 0 V against 10 kohm to its supply of 5 V: through it flow 0.5 mA, and 30 mV say that it holds with 60
 * ohm. With R1 then taken for 1 kohm it is the divider 5 V x 60 / 1060 = 283 mV, and the meter shows the same; of a chip of which nothing is known no such figure
 * can be told. */
static void
test_supposing_goes_by_what_the_chip_was_found_to_do (void **state)
{
  g_autoptr (MlBoard) board = ml_test_board ("reference G\npart U1 block 1=V 2=G 3=OUT supply=1 ground=2\npart R1 resistor 1=V 2=OUT value=10k\n"
                                             "part R2 resistor 1=V 2=G value=1k\n"
                                             "condition on\n  supply plus=V minus=G voltage=5 limit=1\n");
  MlJob *job = ml_test_job (board, "meter m\nunit a suspect\nreading a on red=OUT volts=30.0m\nreading a on red=V volts=5.00\n"
                                   "reading a on supply=1 amps=7.5m\n");
  MlJudge *judge = ml_judge_new (board);
  g_autoptr (GError) error = NULL;
  MlVerdict *verdict = ml_judge_run (judge, job, -1, 0, 2, NULL, &error);
  const int out = ml_board_find_net (board, "OUT");
  const MlProbe red = { .part = -1, .pin = -1, .net = out }, black = { .part = -1, .pin = -1, .net = board->reference };
  MlFault fault;

  assert_null (error);
  assert_non_null (verdict->found);
  assert_true (ml_fault_parse (board, "R1 wrong-part as=1k", &fault, &error));
  g_autoptr (MlOperatingPoint) fine = ml_judge_solve (judge, 0, NULL, 0, verdict->found);
  g_autoptr (MlOperatingPoint) supposed = ml_judge_solve (judge, 0, &fault, 1, verdict->found);
  g_autoptr (MlOperatingPoint) guessed = ml_judge_solve (judge, 0, &fault, 1, NULL);
  assert_near (fine->net_v[out], ml_verdict_point (verdict, 0)->net_v[out], 1e-9, 1e-12);
  assert_near (fine->net_v[out], 0.030, 0, 2e-3);
  assert_near (supposed->net_v[out], 0.283, 0.05, 0);
  assert_near (ml_judge_expect (judge, 0, &fault, 1, verdict->found, ML_READS_VOLTS, &red, &black, -1, &job->meters[0], NULL), 0.283, 0.05, 0);
  assert_true (fabs (guessed->net_v[out] - 0.283) > 0.5);
  ml_fault_clear (&fault);
  ml_verdict_unref (verdict);
  ml_judge_free (judge);
  ml_job_unref (job);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_an_operating_point_says_where_contacts_stand),
    cmocka_unit_test (test_supposing_goes_by_what_the_chip_was_found_to_do),
    cmocka_unit_test (test_every_fault_of_every_kind_solves),
    cmocka_unit_test (test_priors_and_sizes_add_up_to_one),
    cmocka_unit_test (test_short_inside_an_unknown_chip_is_supposed),
    cmocka_unit_test (test_pin_on_another_net_is_supposed),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
