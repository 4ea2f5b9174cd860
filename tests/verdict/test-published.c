/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Troubleshooting cases from textbooks with their published verdict, and what must hold of any verdict. */
#include "support/exam.h"
#include "support/near.h"

#include <math.h>
#include <string.h>

static const MlPartVerdict *
part (const MlExamBench *bench, const char *name)
{
  return &bench->verdict->parts[ml_board_find_part (bench->board, name)];
}

static double
probability_of (const MlExamBench *bench, const char *name, MlFaultKind kind)
{
  double sum = 0;

  for (guint i = 0; i < bench->verdict->n_explanations; i++)
    {
      const MlExplanation *own = &bench->verdict->explanations[i];
      if (own->n_faults && own->faults[0].part == ml_board_find_part (bench->board, name) && own->faults[0].kind == kind)
        sum += own->probability;
    }
  return sum;
}

static const MlExplanation *
find (const MlExamBench *bench, const char *name, MlFaultKind kind)
{
  for (guint i = 0; i < bench->verdict->n_explanations; i++)
    {
      const MlExplanation *own = &bench->verdict->explanations[i];
      if (own->n_faults == 1 && own->faults[0].part == ml_board_find_part (bench->board, name) && own->faults[0].kind == kind)
        return own;
    }
  return NULL;
}

static gboolean
are_tied (const MlExamBench *bench, const char *a, MlFaultKind fault_a, const char *b, MlFaultKind fault_b)
{
  const MlExplanation *first = find (bench, a, fault_a), *second = find (bench, b, fault_b);

  for (guint i = 0; first && second && i < first->n_tied; i++)
    if (first->tied[i] == second->id)
      return TRUE;
  return FALSE;
}

static void
assert_sums_to_one (const MlVerdict *verdict)
{
  double sum = verdict->rest_probability;

  for (guint i = 0; i < verdict->n_explanations; i++)
    sum += verdict->explanations[i].probability;
  assert_near (sum, 1, 1e-9, 0);
}

static void
test_grob_series_string_third_open (void **state)
{
  /* Grob, Basic Electronics, ex. 4-6: 24 V across 150, 120, 180, 150; readings 0, 0, 24, 0: the third is open. */
  MlExamBench bench;

  ml_exam_bench_open (&bench,
              "reference N\npart R1 resistor 1=A 2=B value=150\npart R2 resistor 1=B 2=C value=120\npart R3 resistor 1=C 2=D value=180\n"
              "part R4 resistor 1=D 2=N value=150\ncondition on\n  supply plus=A minus=N voltage=24 limit=1\n",
              "unit u suspect\nreading u on across=R1 volts=0.000\nreading u on across=R2 volts=0.000\nreading u on across=R3 volts=24.0\n"
              "reading u on across=R4 volts=0.000\n");
  assert_int_equal (part (&bench, "R3")->verdict, ML_VERDICT_SUSPECT);
  assert_true (part (&bench, "R3")->probability > 0.9);
  assert_true (probability_of (&bench, "R3", ML_FAULT_OPEN) > 0.5);
  assert_int_not_equal (part (&bench, "R1")->verdict, ML_VERDICT_SUSPECT);
  assert_sums_to_one (bench.verdict);
  ml_exam_bench_close (&bench);
}

static void
test_grob_series_parallel_150_open (void **state)
{
  /* Grob ex. 6-3: 36 V, 120 + (100 || 150) + 180; readings 10.8, 9, 16.2: the 150 open. */
  MlExamBench bench;

  ml_exam_bench_open (&bench,
              "reference N\npart R1 resistor 1=A 2=B value=120\npart R2 resistor 1=B 2=C value=100\npart R3 resistor 1=B 2=C value=150\n"
              "part R4 resistor 1=C 2=N value=180\ncondition on\n  supply plus=A minus=N voltage=36 limit=1\n",
              "unit u suspect\nreading u on across=R1 volts=10.80\nreading u on across=R2 volts=9.00\nreading u on across=R4 volts=16.20\n");
  /* The voltages say that the pair has become 100 ohm: the 150 open (or, reading the same, risen far; or the 100 risen to 300). */
  assert_true (part (&bench, "R3")->probability > 0.5);
  assert_true (part (&bench, "R3")->probability > part (&bench, "R2")->probability);
  /* The three voltages cannot tell whether the 150 is open or the 100 has risen to 300: 300 || 150 is 100 as well. */
  assert_non_null (find (&bench, "R2", ML_FAULT_HIGH));
  assert_int_equal (part (&bench, "R2")->verdict, ML_VERDICT_POSSIBLE);
  assert_int_equal (part (&bench, "R3")->verdict, ML_VERDICT_SUSPECT);
  assert_int_not_equal (part (&bench, "R1")->verdict, ML_VERDICT_SUSPECT);
  assert_int_not_equal (part (&bench, "R4")->verdict, ML_VERDICT_SUSPECT);
  ml_exam_bench_close (&bench);
}

static void
test_kuphaldt_series_300_shorted (void **state)
{
  /* Kuphaldt, DC ch. 5: 9 V across 100, 300, 50; readings 6, 0, 3: the 300 shorted. */
  MlExamBench bench;

  ml_exam_bench_open (&bench,
              "reference N\npart R1 resistor 1=A 2=B value=100\npart R2 resistor 1=B 2=C value=300\npart R3 resistor 1=C 2=N value=50\n"
              "condition on\n  supply plus=A minus=N voltage=9 limit=1\n",
              "unit u suspect\nreading u on across=R1 volts=6.00\nreading u on across=R2 volts=0.00\nreading u on across=R3 volts=3.00\n");
  assert_int_equal (part (&bench, "R2")->verdict, ML_VERDICT_SUSPECT);
  /* The textbook takes its diagram for granted; that the board joins the two nets by a track, or has a neighbour's end past R2, reads the
   * same and stays in play. */
  assert_true (probability_of (&bench, "R2", ML_FAULT_SHORT) > 0.5);
  {
    double sum = bench.verdict->explanations[0].probability;
    gboolean joined = FALSE;
    for (guint i = 1; i < bench.verdict->n_explanations; i++)
      {
        const MlExplanation *other = &bench.verdict->explanations[i];
        sum += other->explains == ML_EXPLAINS_DRAWING ? other->probability : 0;
        joined |= other->explains == ML_EXPLAINS_DRAWING && other->faults[0].kind == ML_FAULT_MISSING_LINK && other->probability > 0.05;
      }
    assert_true (joined);
    assert_non_null (strstr (bench.verdict->sentence, "; or the drawing is wrong: "));
    assert_true (sum > 0.99);
  }
  ml_exam_bench_close (&bench);
}

static const char mehta_board[] = "reference N\npart R1 resistor 1=A 2=B value=1k\npart D1 zener anode=N cathode=B voltage=6\n"
                                  "part R2 resistor 1=B 2=N value=5k\ncondition on\n  supply plus=A minus=N voltage=12 limit=1\n";

static void
test_mehta_zener (void **state)
{
  /* Mehta, Principles of Electronics, ex. 6.34: 12 V, 1 k, 6 V zener || 5 k: 6 V good, 0 V zener (or load) shorted, 10 V zener open. */
  MlExamBench bench;

  ml_exam_bench_open (&bench, mehta_board, "unit u suspect\nreading u on red=B volts=6.00\n");
  assert_int_not_equal (part (&bench, "D1")->verdict, ML_VERDICT_SUSPECT);
  assert_int_equal (bench.verdict->explanations[0].explains, ML_EXPLAINS_HEALTHY);
  ml_exam_bench_close (&bench);
  ml_exam_bench_open (&bench, mehta_board, "unit u suspect\nreading u on red=B volts=0.00\n");
  assert_int_equal (part (&bench, "D1")->verdict, ML_VERDICT_SUSPECT);
  ml_exam_bench_close (&bench);
  /* "Zener (or load) shorted": with the current, 12 mA by Ohm's law, those two are left, and neither is told from the other. */
  ml_exam_bench_open (&bench, mehta_board, "unit u suspect\nreading u on red=B volts=0.00\nreading u on supply=1 amps=12.0m volts=12.00\n");
  assert_int_equal (part (&bench, "D1")->verdict, ML_VERDICT_SUSPECT);
  assert_int_equal (part (&bench, "R2")->verdict, ML_VERDICT_POSSIBLE);
  assert_int_not_equal (part (&bench, "R1")->verdict, ML_VERDICT_SUSPECT);
  assert_true (are_tied (&bench, "D1", ML_FAULT_SHORT, "R2", ML_FAULT_SHORT));
  assert_non_null (strstr (bench.verdict->sentence, "R2 shorted would read the same"));
  assert_true (bench.verdict->named > 0);
  assert_int_equal (bench.verdict->explanations[bench.verdict->named - 1].faults[0].part, ml_board_find_part (bench.verdict->job->board, "D1"));
  ml_exam_bench_close (&bench);
  ml_exam_bench_open (&bench, mehta_board, "unit u suspect\nreading u on red=B volts=10.00\n");
  assert_int_equal (part (&bench, "D1")->verdict, ML_VERDICT_SUSPECT);
  assert_true (part (&bench, "D1")->probability > 0.8);
  ml_exam_bench_close (&bench);
}

/* Malvino, Electronic Principles, voltage-divider bias and its table of troubles (from memory; decimals by Ohm's law with 0.7 V at every conducting
 * junction and 0.1 V across a saturated transistor): 10 V, 10 k and 2.2 k at the base, 3.6 k and 1 k. also: what the table gives the same readings for. */
static const char malvino_board[] = "reference N\npart R1 resistor 1=VCC 2=B value=10k\npart R2 resistor 1=B 2=N value=2k2\n"
                                    "part RC resistor 1=VCC 2=C value=3k6\npart RE resistor 1=E 2=N value=1k\npart Q1 npn collector=C base=B emitter=E\n"
                                    "condition on\n  supply plus=VCC minus=N voltage=10 limit=1\n";
static const struct { const char *base_v, *emitter_v, *collector_v, *part; MlFaultKind fault; const char *also; MlFaultKind also_fault; } malvino[] = {
  { "10.00", "9.30", "9.40", "R1", ML_FAULT_SHORT, NULL, 0 },
  { "0.00", "0.00", "10.00", "R1", ML_FAULT_OPEN, "R2", ML_FAULT_SHORT }, /* the table has both, and the same readings for them */
  { "3.37", "2.67", "2.77", "R2", ML_FAULT_OPEN, NULL, 0 },
  { "0.70", "0.00", "0.10", "RE", ML_FAULT_SHORT, NULL, 0 },
  { "1.80", "1.37", "10.00", "RE", ML_FAULT_OPEN, NULL, 0 },
  { "1.80", "1.10", "10.00", "RC", ML_FAULT_SHORT, NULL, 0 },
  { "1.80", "2.17", "2.17", "Q1", ML_FAULT_SHORT, NULL, 0 },
  { "1.80", "0.00", "10.00", "Q1", ML_FAULT_OPEN, NULL, 0 },
};

static void
bench_open_malvino (MlExamBench *bench, const char *base_v, const char *emitter_v, const char *collector_v)
{
  g_autofree char *job = g_strdup_printf ("unit u suspect\nreading u on red=VCC volts=10.00\nreading u on red=B volts=%s\n"
                                          "reading u on red=E volts=%s\nreading u on red=C volts=%s\n", base_v, emitter_v, collector_v);

  ml_exam_bench_open (bench, malvino_board, job);
}

static void
test_malvino_divider_bias_troubles (void **state)
{
  for (guint i = 0; i < G_N_ELEMENTS (malvino); i++)
    {
      MlExamBench bench;

      bench_open_malvino (&bench, malvino[i].base_v, malvino[i].emitter_v, malvino[i].collector_v);
      for (guint k = 0; k < bench.verdict->n_parts; k++)
        if (bench.verdict->parts[k].verdict == ML_VERDICT_SUSPECT)
          assert_string_equal (bench.board->parts[k].name, malvino[i].part);
      assert_int_equal (part (&bench, malvino[i].part)->verdict, ML_VERDICT_SUSPECT);
      assert_true (probability_of (&bench, malvino[i].part, malvino[i].fault) > 0.5);
      if (malvino[i].also)
        {
          assert_int_equal (part (&bench, malvino[i].also)->verdict, ML_VERDICT_POSSIBLE);
          assert_true (are_tied (&bench, malvino[i].part, malvino[i].fault, malvino[i].also, malvino[i].also_fault));
        }
      ml_exam_bench_close (&bench);
    }
}

static void
test_malvino_divider_bias_sound (void **state)
{
  /* The same table, nothing wrong: 1.8, 1.1 and 6.04 V. */
  MlExamBench bench;

  bench_open_malvino (&bench, "1.80", "1.10", "6.04");
  assert_int_equal (bench.verdict->explanations[0].explains, ML_EXPLAINS_HEALTHY);
  for (guint k = 0; k < bench.verdict->n_parts; k++)
    assert_int_not_equal (bench.verdict->parts[k].verdict, ML_VERDICT_SUSPECT);
  ml_exam_bench_close (&bench);
}

static void
test_malvino_collector_resistor_open (void **state)
{
  /* The same table: 1.07, 0.37 and 0.43 V. 0.7 V is much for a third of a milliampere, so that the readings are not quite what any real
   * transistor gives: the culprit leads, but not for sure. */
  MlExamBench bench;

  bench_open_malvino (&bench, "1.07", "0.37", "0.43");
  for (guint k = 0; k < bench.verdict->n_parts; k++)
    assert_true (bench.verdict->parts[k].probability <= part (&bench, "RC")->probability);
  assert_true (find (&bench, "RC", ML_FAULT_OPEN) && find (&bench, "RC", ML_FAULT_OPEN)->probability > 0.2);
  ml_exam_bench_close (&bench);
}

/* Kuphaldt, Semiconductors ch. 4: 0.655 V and 0.621 V on two pairs, red on the two and black on the third, are a PNP, its base the third and its
 * emitter the pin with the larger drop. */
static void
test_kuphaldt_diode_test_tells_a_transistor (void **state)
{
  static const struct { const char *kind, *red_e, *red_c; gboolean sound; } table[] = {
    { "pnp", "0.655", "0.621", TRUE },
    { "npn", "0.655", "0.621", FALSE }, /* it is a PNP in an NPN's place */
  };

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      MlExamBench bench;
      g_autofree char *board = g_strdup_printf ("reference E\npart Q1 %s collector=C base=B emitter=E\ncondition cold\n", table[i].kind);
      g_autofree char *job = g_strdup_printf ("unit u suspect\nreading u cold red=E black=B diode=%s\nreading u cold red=C black=B diode=%s\n", table[i].red_e,
                                              table[i].red_c);

      ml_exam_bench_open (&bench, board, job);
      assert_int_equal (bench.verdict->explanations[0].explains == ML_EXPLAINS_HEALTHY, table[i].sound);
      if (!table[i].sound)
        {
          assert_int_equal (bench.verdict->explanations[0].faults[0].kind, ML_FAULT_WRONG_PART);
          assert_string_equal (bench.verdict->explanations[0].faults[0].as, "pnp");
        }
      ml_exam_bench_close (&bench);
    }
}

static const char branches[] = "reference N\npart R1 resistor 1=A 2=N value=1k\npart R2 resistor 1=A 2=N value=2k\n"
                               "part R3 resistor 1=A 2=N value=3k\ncondition on\n  supply plus=A minus=N voltage=9 limit=1\n";

static void
test_kuphaldt_parallel_branch_shows_only_in_current (void **state)
{
  /* Kuphaldt, DC ch. 5: three branches on a stiff supply; an open one shows in no voltage, only in the current. By Ohm's law the
   * current is 16.5 mA whole, 12.0 mA without the 2 k. */
  MlExamBench bench;

  ml_exam_bench_open (&bench, branches, "unit u suspect\nreading u on red=A volts=9.00\n");
  for (guint i = 0; i < bench.verdict->n_parts; i++)
    {
      assert_int_not_equal (bench.verdict->parts[i].verdict, ML_VERDICT_SUSPECT);
      assert_int_not_equal (bench.verdict->parts[i].verdict, ML_VERDICT_CLEARED);
    }
  assert_true (bench.verdict->n_next > 0);
  assert_int_equal (bench.verdict->next[0].reads, ML_READS_AMPS);
  ml_exam_bench_close (&bench);
  ml_exam_bench_open (&bench, branches, "unit u suspect\nreading u on red=A volts=9.00\nreading u on supply=1 amps=12.0m volts=9.00\n");
  assert_int_equal (part (&bench, "R2")->verdict, ML_VERDICT_SUSPECT);
  assert_int_not_equal (part (&bench, "R1")->verdict, ML_VERDICT_SUSPECT);
  assert_int_not_equal (part (&bench, "R3")->verdict, ML_VERDICT_SUSPECT);
  ml_exam_bench_close (&bench);
}

static const char divider[] = "reference N\npart R1 resistor 1=A 2=B value=1k\npart R2 resistor 1=B 2=N value=1k\n"
                              "part R3 resistor 1=A 2=C value=2k\npart R4 resistor 1=C 2=N value=1k\n"
                              "condition on\n  supply plus=A minus=N voltage=9 limit=1\n";

static void
test_untouched_part_is_never_cleared (void **state)
{
  /* R3 and R4 hang on the stiff supply by themselves: the readings of the other divider say nothing about them (Ohm's law). */
  MlExamBench bench;

  ml_exam_bench_open (&bench, divider, "unit u suspect\nreading u on red=B volts=9.00\n");
  assert_int_not_equal (part (&bench, "R3")->verdict, ML_VERDICT_CLEARED);
  assert_int_not_equal (part (&bench, "R4")->verdict, ML_VERDICT_CLEARED);
  assert_true (part (&bench, "R1")->probability + part (&bench, "R2")->probability > 0.8);
  ml_exam_bench_close (&bench);
}

static void
test_lit_indicator_beside_an_open_divider_is_cleared (void **state)
{
  /* Ohm's law: 10.1 mA in the indicator's branch, none in the divider's; the lamp has its 1.9 V (red: 1.5 to 2.4 V, Kuphaldt, Semiconductors
   * ch. 3). A joint of some ohms or a leak of kilohms would hardly show, but neither is what takes the divider's current away. */
  MlExamBench bench;

  ml_exam_bench_open (&bench,
              "reference N\npart R1 resistor 1=A 2=B value=1k\npart R2 resistor 1=B 2=N value=1k\npart R3 resistor 1=A 2=L value=1k\n"
              "part LED1 led anode=L cathode=N colour=red\ncondition on\n  supply plus=A minus=N voltage=12 limit=1\n",
              "unit u suspect\nreading u on red=B volts=0.0000\nreading u on red=L volts=1.90\nreading u on supply=1 amps=10.1m volts=12.00\n");
  assert_int_equal (part (&bench, "R1")->verdict, ML_VERDICT_SUSPECT);
  assert_int_equal (part (&bench, "LED1")->verdict, ML_VERDICT_CLEARED);
  assert_int_equal (part (&bench, "R3")->verdict, ML_VERDICT_CLEARED);
  assert_int_not_equal (part (&bench, "R2")->verdict, ML_VERDICT_CLEARED); /* dead, it shows nothing */
  ml_exam_bench_close (&bench);
}

static void
test_transistor_leaks_what_its_data_sheet_allows (void **state)
{
  /* Collector cut-off current of small transistors: typically 0.2 nA, at most 15 nA (data sheet, from memory). Through a meter of 10 Mohm
   * across a dark indicator those are 2 mV and 150 mV. */
  static const char *const leaked_v[] = { "0.0020", "0.0175", "0.0580", "0.1500" };

  for (guint i = 0; i < G_N_ELEMENTS (leaked_v); i++)
    {
      g_autofree char *job = g_strdup_printf ("unit u suspect\nreading u off red=L black=C volts=%s\nreading u off red=B volts=0.0001\n"
                                              "reading u on red=B volts=0.680\nreading u on red=C volts=0.0209\nreading u on red=L black=C volts=1.95\n",
                                              leaked_v[i]);
      MlExamBench bench;

      ml_exam_bench_open (&bench,
                  "reference N\npart S1 switch 1=A 2=D\npart R1 resistor 1=D 2=B value=8k2\npart Q1 npn collector=C base=B emitter=N\n"
                  "part R2 resistor 1=A 2=L value=6k8\npart LED1 led anode=L cathode=C colour=yellow\n"
                  "condition off\n  supply plus=A minus=N voltage=18 limit=500m\n  set S1 open\n"
                  "condition on\n  supply plus=A minus=N voltage=18 limit=500m\n  set S1 closed\n",
                  job);
      assert_int_equal (bench.verdict->explanations[0].explains, ML_EXPLAINS_HEALTHY);
      ml_exam_bench_close (&bench);
    }
}

static void
test_misfit_leads_on_a_wrong_drawing (void **state)
{
  /* 13 V cannot stand anywhere in a passive network on 9 V, whatever is faulty, nor -4 V at C: the drawing is wrong (maximum principle). */
  MlExamBench bench;

  ml_exam_bench_open (&bench, divider, "unit u suspect\nreading u on red=B volts=13.00\nreading u on red=C volts=-4.00\nreading u on red=A volts=5.00\n");
  for (guint i = 0; i < bench.verdict->n_parts; i++)
    assert_int_not_equal (bench.verdict->parts[i].verdict, ML_VERDICT_SUSPECT);
  assert_true (bench.verdict->misfit_probability > 0.5);
  assert_non_null (strstr (bench.verdict->sentence, "as drawn cannot give"));
  ml_exam_bench_close (&bench);
}

static void
test_healthy_is_called_healthy (void **state)
{
  /* Ohm's law: 4.5 V and 3 V. */
  MlExamBench bench;

  ml_exam_bench_open (&bench, divider, "unit u suspect\nreading u on red=B volts=4.50\nreading u on red=C volts=3.00\nreading u on supply=1 amps=7.50m volts=9.00\n");
  assert_int_equal (bench.verdict->explanations[0].explains, ML_EXPLAINS_HEALTHY);
  for (guint i = 0; i < bench.verdict->n_parts; i++)
    assert_int_not_equal (bench.verdict->parts[i].verdict, ML_VERDICT_SUSPECT);
  assert_sums_to_one (bench.verdict);
  ml_exam_bench_close (&bench);
}

static void
test_no_readings_says_so_and_proposes_one (void **state)
{
  MlExamBench bench;

  ml_exam_bench_open (&bench, divider, "unit u suspect\n");
  assert_non_null (strstr (bench.verdict->sentence, "no readings"));
  assert_true (bench.verdict->n_next > 0);
  assert_true (bench.verdict->next[0].bits > 0);
  ml_exam_bench_close (&bench);
}

static void
test_same_input_same_verdict_in_any_stage_order (void **state)
{
  MlExamBench bench;
  MlVerdict *again;

  ml_exam_bench_open (&bench, divider, "unit u suspect\nreading u on red=B volts=5.80\nreading u on red=C volts=3.01\n");
  ml_verdict_unref (ml_judge_run (bench.judge, bench.job, -1, 0, 0, NULL, NULL));
  again = ml_judge_run (bench.judge, bench.job, -1, 0, 2, NULL, NULL);
  assert_int_equal (again->n_explanations, bench.verdict->n_explanations);
  for (guint i = 0; i < again->n_explanations; i++)
    {
      assert_memory_equal (&again->explanations[i].probability, &bench.verdict->explanations[i].probability, sizeof (double));
      assert_string_equal (again->explanations[i].title, bench.verdict->explanations[i].title);
    }
  assert_int_equal (again->n_next, bench.verdict->n_next);
  for (guint i = 0; i < again->n_next; i++)
    assert_memory_equal (&again->next[i].bits, &bench.verdict->next[i].bits, sizeof (double));
  ml_verdict_unref (again);
  ml_exam_bench_close (&bench);
}

static void
test_cancelled_run_returns_the_error (void **state)
{
  MlExamBench bench;
  GCancellable *cancellable = g_cancellable_new ();
  g_autoptr (GError) error = NULL;

  ml_exam_bench_open (&bench, divider, "unit u suspect\n");
  g_cancellable_cancel (cancellable);
  assert_null (ml_judge_run (bench.judge, bench.job, -1, 0, 2, cancellable, &error));
  assert_true (g_error_matches (error, G_IO_ERROR, G_IO_ERROR_CANCELLED));
  g_object_unref (cancellable);
  ml_exam_bench_close (&bench);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_grob_series_string_third_open),
    cmocka_unit_test (test_grob_series_parallel_150_open),
    cmocka_unit_test (test_kuphaldt_series_300_shorted),
    cmocka_unit_test (test_mehta_zener),
    cmocka_unit_test (test_malvino_divider_bias_troubles),
    cmocka_unit_test (test_malvino_divider_bias_sound),
    cmocka_unit_test (test_malvino_collector_resistor_open),
    cmocka_unit_test (test_kuphaldt_diode_test_tells_a_transistor),
    cmocka_unit_test (test_kuphaldt_parallel_branch_shows_only_in_current),
    cmocka_unit_test (test_untouched_part_is_never_cleared),
    cmocka_unit_test (test_lit_indicator_beside_an_open_divider_is_cleared),
    cmocka_unit_test (test_transistor_leaks_what_its_data_sheet_allows),
    cmocka_unit_test (test_misfit_leads_on_a_wrong_drawing),
    cmocka_unit_test (test_healthy_is_called_healthy),
    cmocka_unit_test (test_no_readings_says_so_and_proposes_one),
    cmocka_unit_test (test_same_input_same_verdict_in_any_stage_order),
    cmocka_unit_test (test_cancelled_run_returns_the_error),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
