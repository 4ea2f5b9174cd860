/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Two faults at once. Readings are closed forms: two dividers on one supply do not touch each other, so each tap is V R2 / (R1 + R2). */
#include "support/exam.h"
#include "support/models.h"
#include "support/near.h"

#include "verdict/judge-private.h"
#include "verdict/pairs.h"

#include <math.h>
#include <string.h>

static const char BOARD[] = "meterleaf 1\nboard \"Two dividers for a test jig\"\nreference G\n"
                            "part R1 resistor 1=P 2=A value=1k tolerance=1%\npart R2 resistor 1=A 2=G value=2k tolerance=1%\n"
                            "part R3 resistor 1=P 2=B value=3k tolerance=1%\npart R4 resistor 1=B 2=G value=1k tolerance=1%\n"
                            "condition on\n  supply plus=P minus=G voltage=12 limit=1\n";

/* The job of a board whose resistors have these values in kilohm. */
static MlVerdict *
judge (MlBoard *board, MlJudge *judge_of, double r1, double r2, double r3, double r4)
{
  g_autofree char *text = g_strdup_printf ("meterleaf 1\njob \"T\"\nboard \"b.leafboard\"\nmeter bench dc=0.5%%+2 counts=6000 input=10M\nunit u suspect\n"
                                           "reading u on red=P volts=12.00\nreading u on red=A volts=%.3f\nreading u on red=B volts=%.3f\n"
                                           "reading u on supply=1 amps=%.6f\n",
                                           12 * r2 / (r1 + r2), 12 * r4 / (r3 + r4), 12e-3 / (r1 + r2) + 12e-3 / (r3 + r4));
  return ml_exam_judge_text (judge_of, board, text, 2);
}

static gboolean
names_one_of (const MlVerdict *verdict, const char *a, const char *b)
{
  const MlExplanation *first = &verdict->explanations[0];
  for (guint k = 0; k < first->n_faults; k++)
    {
      const char *name = verdict->job->board->parts[first->faults[k].part].name;
      if (g_str_equal (name, a) || g_str_equal (name, b))
        return TRUE;
    }
  return FALSE;
}

static void
test_pairs_two_faults_are_named_together (void **state)
{
  g_autoptr (MlBoard) board = ml_exam_board ("dividers", BOARD);
  g_autoptr (MlJudge) own = ml_judge_new (board);
  g_autoptr (MlVerdict) verdict = judge (board, own, 4, 2, 3, 3);
  assert_int_equal (verdict->explanations[0].n_faults, 2);
  assert_true (names_one_of (verdict, "R1", "R2"));
  assert_true (names_one_of (verdict, "R3", "R4"));
  assert_non_null (strstr (verdict->sentence, "two faults"));
  for (guint i = 0; i < verdict->n_parts; i++)
    assert_int_not_equal (verdict->parts[i].verdict, ML_VERDICT_CLEARED);
}

static void
test_pairs_one_fault_stays_one (void **state)
{
  g_autoptr (MlBoard) board = ml_exam_board ("dividers", BOARD);
  g_autoptr (MlJudge) own = ml_judge_new (board);
  g_autoptr (MlVerdict) verdict = judge (board, own, 4, 2, 3, 1);
  assert_int_equal (verdict->explanations[0].n_faults, 1);
  assert_string_equal (board->parts[verdict->explanations[0].faults[0].part].name, "R1");
}

static void
test_pairs_sound_board_stays_sound (void **state)
{
  g_autoptr (MlBoard) board = ml_exam_board ("dividers", BOARD);
  g_autoptr (MlJudge) own = ml_judge_new (board);
  g_autoptr (MlVerdict) verdict = judge (board, own, 1, 2, 3, 1);
  assert_int_equal (verdict->explanations[0].explains, ML_EXPLAINS_HEALTHY);
}

/* A third divider that reads as it should: cleared beside one fault; beside two of them a third would have to be tried, so it is left open. */
static void
test_pairs_beside_two_faults_nothing_is_cleared (void **state)
{
  static const struct { const char *readings; MlVerdictWord word; } table[] = {
    { "reading u on red=A volts=4.00\nreading u on red=B volts=3.00\n", ML_VERDICT_CLEARED },  /* R1 of 4 k */
    { "reading u on red=A volts=4.00\nreading u on red=B volts=6.00\n", ML_VERDICT_UNPROVEN }, /* and R4 of 3 k */
  };
  g_autofree char *text = g_strconcat (BOARD, "part R5 resistor 1=P 2=C value=1k tolerance=1%\npart R6 resistor 1=C 2=G value=2k tolerance=1%\n", NULL);

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      g_autofree char *lines = g_strconcat ("reading u on red=P volts=12.00\nreading u on red=C volts=8.00\nreading u on across=R5 volts=4.00\n",
                                            table[i].readings, NULL);
      g_autoptr (MlVerdict) verdict = ml_exam_judge_readings (text, lines);
      assert_int_equal (verdict->explanations[0].n_faults, i + 1);
      assert_int_equal (verdict->parts[ml_board_find_part (verdict->job->board, "R5")].verdict, table[i].word);
    }
}

/* A battery monitor with most resistors unread: only where a pair of faults was fitted is it found what those and the chip are, and there one of the
 * two suffices. Readings computed for Q1 leaking 1.5 kohm from drain to source, resistors within 4 %, 0.4 % of meter error. */
static void
test_pair_gives_way_to_one_of_its_own (void **state)
{
  static const char board[] = "board \"Brooder battery monitor\"\nreference GND\npart J1 connector 1=BAT 2=GND 3=OUT\n"
                              "part D1 diode anode=BAT cathode=VP family=schottky\npart R1 resistor 1=VP 2=ZR value=2k2 tolerance=5%\n"
                              "part D2 zener anode=GND cathode=ZR voltage=5.1\npart R2 resistor 1=VP 2=DIV value=33k tolerance=1%\n"
                              "part R3 resistor 1=DIV 2=GND value=22k tolerance=1%\n"
                              "part U1 comparator noninverting=DIV inverting=RF out=CO positive=VP negative=GND output=open\n"
                              "part R4 resistor 1=ZR 2=RF value=4k7 tolerance=5%\npart R5 resistor 1=RF 2=GND value=47k tolerance=5%\n"
                              "part R6 resistor 1=VP 2=CO value=10k tolerance=5%\npart R7 resistor 1=CO 2=DIV\npart R8 resistor 1=CO 2=GM\n"
                              "part R9 resistor 1=GM 2=GND value=100k tolerance=5%\npart Q1 nmos drain=KD gate=GM source=GND\n"
                              "part K1 coil 1=VP 2=KD resistance=250 show=relay\npart D3 diode anode=KD cathode=VP\n"
                              "part K1A contact common=VP no=OUT by=K1\npart R10 resistor 1=OUT 2=GND value=100 tolerance=5%\n"
                              "part R11 resistor 1=KD 2=LA value=1k tolerance=5%\npart LED1 led anode=VP cathode=LA colour=red\n"
                              "part LED2 led anode=LB cathode=GND colour=green\npart R12 resistor 1=OUT 2=LB\n"
                              "part Q2 pnp collector=WRN base=B2 emitter=VP\npart R13 resistor 1=B2 2=SIG\npart R14 resistor 1=VP 2=B2\n"
                              "part R15 resistor 1=WRN 2=GND value=2k2 tolerance=5%\npart U2 block 1=VP 2=GND 3=SIG 4=CO\ncondition good \"12.6 V\"\n"
                              "  supply plus=BAT minus=GND voltage=13.2 limit=1\ncondition low \"10 V\"\n"
                              "  supply plus=BAT minus=GND voltage=9.5 limit=1\n";
  static const char lines[] = "reading u good red=BAT volts=13.2400\nreading u good red=CO volts=11.3300\nreading u good red=DIV volts=5.2330\n"
                              "reading u good red=GM volts=11.1600\nreading u good red=LA volts=10.7000\nreading u good red=OUT volts=12.6200\n"
                              "reading u good red=ZR volts=5.0900\nreading u good across=D1 volts=0.5640\nreading u good across=D2 volts=-5.0900\n"
                              "reading u good across=Q1.drain-source volts=0.0067\nreading u good across=R11 volts=-10.7100\n"
                              "reading u good across=LED2 volts=2.2070\nreading u good across=Q2.base-emitter volts=0.0000\n"
                              "reading u good across=Q2.base-collector volts=12.6700\nreading u low red=B2 volts=8.5600\n"
                              "reading u low red=BAT volts=9.5100\nreading u low red=DIV volts=3.5660\nreading u low red=GM volts=0.0269\n"
                              "reading u low red=KD volts=7.9300\nreading u low red=LA volts=7.8700\nreading u low red=RF volts=4.5730\n"
                              "reading u low red=SIG volts=0.0494\nreading u low red=VP volts=9.1900\nreading u low red=WRN volts=9.1400\n"
                              "reading u low red=ZR volts=5.0280\nreading u low across=D1 volts=0.3198\nreading u low across=D2 volts=-5.0490\n"
                              "reading u low across=R3 volts=3.5840\nreading u low across=D3 volts=-1.2780\nreading u low across=LED1 volts=1.2770\n"
                              "reading u low across=Q2.base-collector volts=-0.6050\nreading u low across=R15 volts=9.1700\n";
  g_autoptr (MlVerdict) verdict = ml_exam_judge_readings (board, lines);

  assert_int_equal (verdict->explanations[0].n_faults, 1);
  assert_true (verdict->parts[ml_board_find_part (verdict->job->board, "Q1")].probability > 0.9);
}

/* A bad joint in front of everything, and an open divider behind it: S = V R4 / (38k + R4), A = 0, all of the current in R4. The joint's size alone, and
 * what it does to a sound board, say little of what it does beside the open resistor. */
static void
test_pairs_one_fault_behind_the_other (void **state)
{
  static const char board[] = "board \"Turntable motor feed\"\nreference G\npart F1 fuse 1=P 2=S\npart R1 resistor 1=S 2=A value=6k8 tolerance=5%\n"
                              "part R2 resistor 1=A 2=B value=2k7 tolerance=1%\npart R3 resistor 1=B 2=G value=8k2 tolerance=5%\n"
                              "part R4 resistor 1=S 2=G value=6k8 tolerance=5%\ncondition on\n  supply plus=P minus=G voltage=12 limit=0.5\n";
  g_autofree char *lines = g_strdup_printf ("reading u on red=P volts=12.00\nreading u on red=S volts=%.3f\nreading u on red=A volts=0.0001\n"
                                            "reading u on red=B volts=0.0001\nreading u on supply=1 amps=%.6f\n",
                                            12 * 6.8 / (38 + 6.8), 12e-3 / (38 + 6.8));
  g_autoptr (MlVerdict) verdict = ml_exam_judge_readings (board, lines);

  assert_int_equal (verdict->explanations[0].n_faults, 2);
  assert_true (names_one_of (verdict, "F1", "F1"));
  assert_true (names_one_of (verdict, "R1", "R1"));
  assert_true (verdict->explanations[0].probability > 0.9);
}

/* An unknown chip drives hard into a shorted base resistor while a lamp beside it is open: from what the open lamp alone made of the chip no
 * way leads there, from what the short made of it one does. Readings computed for R3 shorted and LED2 open, parts within tolerance. */
static void
test_pairs_begin_with_either_fault (void **state)
{
  static const char board[] = "board \"Signal lamp driver\"\nreference G\npart U1 regulator in=P out=V5 ground=G voltage=5\npart C1 capacitor plus=V5 minus=G\n"
                              "part R1 resistor 1=P 2=Z value=1k5 tolerance=5%\npart D1 zener anode=G cathode=Z voltage=5.6\n"
                              "part Q1 npn collector=P base=Z emitter=VR\npart U2 block 1=VR 2=G 3=IN 4=OUT supply=1 ground=2\n"
                              "part R2 resistor 1=VR 2=IN value=10k tolerance=5%\npart R3 resistor 1=OUT 2=B value=1k8 tolerance=5%\n"
                              "part Q2 npn collector=K base=B emitter=G\npart K1 coil 1=P 2=K resistance=1k5 show=relay\n"
                              "part R4 resistor 1=VR 2=L1 value=180 tolerance=5%\npart LED1 led anode=L1 cathode=G colour=blue\n"
                              "part R5 resistor 1=VR 2=L2 value=180 tolerance=1%\npart LED2 led anode=L2 cathode=G colour=blue\n"
                              "part R6 resistor 1=P 2=G value=4k7 tolerance=5%\ncondition on\n  supply plus=P minus=G voltage=18 limit=500m\n";
  static const char lines[] = "reading u on red=P volts=17.96\nreading u on red=V5 volts=5.024\nreading u on red=Z volts=5.808\n"
                              "reading u on red=VR volts=5.074\nreading u on red=IN volts=5.066\nreading u on red=OUT volts=0.783\n"
                              "reading u on red=B volts=0.765\nreading u on red=K volts=0.0094\nreading u on red=L1 volts=3.036\n"
                              "reading u on red=L2 volts=5.074\nreading u on supply=1 amps=0.1137\n";
  g_autoptr (MlVerdict) verdict = ml_exam_judge_readings (board, lines);

  assert_int_equal (verdict->explanations[0].n_faults, 2);
  assert_true (names_one_of (verdict, "R3", "R3"));
  assert_true (names_one_of (verdict, "LED2", "LED2"));
}

/* The items of that part's first two modes, at their first sizes. */
static void
find_modes (const MlDictionary *dictionary, int part, guint ret_items[2])
{
  guint n = 0;
  for (guint i = 0; i < dictionary->n_items && n < 2; i++)
    if (ml_dictionary_hypothesis (dictionary, i)->explains == ML_EXPLAINS_FAULT && ml_dictionary_hypothesis (dictionary, i)->fault.part == part
        && (!n || dictionary->items[i].hypothesis != dictionary->items[ret_items[0]].hypothesis))
      ret_items[n++] = i;
  assert_int_equal (n, 2);
}

/* Whichever of a part's faults it is, it is one thing to mend: two pairs that are each three fifths as likely as the likeliest single fault lead when
 * they are of the same two parts, in any order, and do not when they share one part only. */
static void
test_pairs_of_the_same_two_parts_count_together (void **state)
{
  static const struct { const char *second; gboolean turned, leads; } table[] = { { "R4", FALSE, TRUE }, { "R4", TRUE, TRUE }, { "R3", FALSE, FALSE } };
  g_autoptr (MlBoard) board = ml_exam_board ("dividers", BOARD);
  g_autoptr (MlJudge) own = ml_judge_new (board);
  g_autoptr (MlJob) job = ml_test_job (board, "meterleaf 1\njob \"T\"\nboard \"b.leafboard\"\nunit u suspect\nreading u on red=A volts=4.00\n");
  int unit = -1;
  guint pass = 0;
  MlDictionary *dictionary = ml_judge_find (own, job, &unit, &pass, NULL, NULL);
  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      MlCase *judged = ml_case_new (dictionary, job, unit, pass);
      guint r1[2], r4[2], other[2];
      assert_true (ml_case_fill (judged, NULL, NULL));
      ml_case_update (judged);
      const MlItem *best = &dictionary->items[judged->best_item];
      double ln_all = judged->items[judged->best_item].ln + log (ml_dictionary_hypothesis (dictionary, judged->best_item)->prior * best->share)
                      - log (judged->probability[judged->best_item]);
      double ln = ln_all + log (0.6 * judged->hypothesis_probability[best->hypothesis]);
      find_modes (dictionary, ml_board_find_part (board, "R1"), r1);
      find_modes (dictionary, ml_board_find_part (board, "R4"), r4);
      find_modes (dictionary, ml_board_find_part (board, table[i].second), other);
      MlPair pairs[] = { { .first = r1[0], .second = r4[0], .ln = ln }, { .first = r1[1], .second = other[1], .ln = ln } };
      if (table[i].turned)
        pairs[1] = (MlPair) { .first = other[1], .second = r1[1], .ln = ln };
      g_array_append_vals (judged->pairs, pairs, 2);
      ml_case_update (judged);
      assert_int_equal (judged->best_pair >= 0, table[i].leads);
      ml_case_free (judged);
    }
}

/* A bad joint in the fuse and a resistor open before the lamp that a sound board lights: 0.1 mV at the lamp are no 0.1 V with an m too many, for the
 * meter would have shown 0.1 V with three more digits. Readings of the truth program, parts within tolerance. */
static void
test_pairs_what_shows_at_one_net_is_no_lost_m (void **state)
{
  static const char board[] = "board \"Frost warning lamp\"\nreference G\npart F1 fuse 1=P 2=FUSED\npart U1 regulator in=FUSED out=V5 ground=G voltage=5\n"
                              "part C1 capacitor plus=V5 minus=G\npart R1 resistor 1=V5 2=F2 value=470R tolerance=5%\npart C2 capacitor plus=F2 minus=G\n"
                              "part R2 resistor 1=F2 2=G value=2k7 tolerance=1%\npart U2 block 1=V5 2=G 3=IN 4=OUT supply=1 ground=2\n"
                              "part R3 resistor 1=V5 2=IN value=10k tolerance=1%\npart R4 resistor 1=OUT 2=B value=5k6 tolerance=5%\n"
                              "part R5 resistor 1=B 2=G value=10k tolerance=5%\npart Q1 npn collector=K base=B emitter=G\n"
                              "part R6 resistor 1=FUSED 2=L value=3k3 tolerance=1%\npart LED1 led anode=L cathode=K colour=yellow\n"
                              "condition on\n  supply plus=P minus=G voltage=18 limit=500m\n";
  static const char lines[] = "reading u on red=P volts=18.05\nreading u on red=FUSED volts=4.472\nreading u on red=V5 volts=2.675\n"
                              "reading u on red=F2 volts=2.267\nreading u on red=IN volts=2.671\nreading u on red=OUT volts=2.645\n"
                              "reading u on red=B volts=0.613\nreading u on red=K volts=0.0057\nreading u on red=L volts=0.0001\n"
                              "reading u on supply=1 amps=0.00872\n";
  g_autoptr (MlVerdict) verdict = ml_exam_judge_readings (board, lines);

  assert_int_equal (verdict->explanations[0].n_faults, 2);
  assert_true (names_one_of (verdict, "F1", "F1"));
  assert_true (names_one_of (verdict, "R6", "R6"));
  for (guint i = 0; i < verdict->n_readings; i++)
    assert_int_equal (verdict->readings[i].slip, ML_SLIP_NONE);
}

/* A serial driver of eight lamps, its two chips unknown: what they do at thirty pins can be bent to nearly anything by a straight line. No two faults, and no
 * slip in drawing, may live on a promise that no fit kept. The readings are a sound board's of the truth program, its chips driving at random. */
static void
test_pairs_live_on_no_promise (void **state)
{
  g_autoptr (MlVerdict) verdict = ml_exam_judge_readings (
    "reference GND\n"
    "part J1 connector P12=VIN GND=GND\n"
    "part D1 diode anode=VIN cathode=V12 family=schottky\n"
    "part C1 capacitor plus=V12 minus=GND value=220u\n"
    "part U1 regulator in=V12 out=V5 ground=GND voltage=5\n"
    "part C2 capacitor plus=V5 minus=GND value=10u\n"
    "part J2 connector CLK=CLKI DAT=DATI STB=STBI GND=GND\n"
    "part R1 resistor 1=CLKI 2=CLK value=1k\n"
    "part R2 resistor 1=DATI 2=DAT value=1k\n"
    "part R3 resistor 1=STBI 2=STB value=1k\n"
    "part R4 resistor 1=V5 2=CLK value=10k\n"
    "part R5 resistor 1=V5 2=DAT value=10k\n"
    "part R6 resistor 1=V5 2=STB value=10k\n"
    "part U2 block VDD=V5 VSS=GND CLK=CLK DAT=DAT STB=STB OE=GND Q0=Q0 Q1=Q1 Q2=Q2 Q3=Q3 Q4=Q4 Q5=Q5 Q6=Q6 Q7=Q7\n"
    "part C3 capacitor 1=V5 2=GND value=100n\n"
    "part U3 block I0=Q0 I1=Q1 I2=Q2 I3=Q3 I4=Q4 I5=Q5 I6=Q6 I7=Q7 GND=GND COM=V12 O0=Y0 O1=Y1 O2=Y2 O3=Y3 O4=Y4 O5=Y5 O6=Y6 O7=Y7\n"
    "part R10 resistor 1=Y0 2=L0 value=470\n"
    "part R11 resistor 1=Y1 2=L1 value=470\n"
    "part R12 resistor 1=Y2 2=L2 value=470\n"
    "part R13 resistor 1=Y3 2=L3 value=470\n"
    "part R14 resistor 1=Y4 2=L4 value=470\n"
    "part R15 resistor 1=Y5 2=L5 value=470\n"
    "part R16 resistor 1=Y6 2=L6 value=470\n"
    "part R17 resistor 1=Y7 2=L7 value=470\n"
    "part J3 connector COM=V12 A0=L0 A1=L1 A2=L2 A3=L3 A4=L4 A5=L5 A6=L6 A7=L7\n"
    "condition on \"supply on\"\n"
    "  supply plus=VIN minus=GND voltage=12 limit=1\n",
    "reading u on red=VIN volts=11.97\n"
    "reading u on red=V12 volts=11.41\n"
    "reading u on red=V5 volts=4.894\n"
    "reading u on red=CLKI volts=4.887\n"
    "reading u on red=DATI volts=0.0357\n"
    "reading u on red=STBI volts=0.0350\n"
    "reading u on red=CLK volts=4.887\n"
    "reading u on red=DAT volts=0.0357\n"
    "reading u on red=STB volts=0.0350\n"
    "reading u on red=Q0 volts=5.744\n"
    "reading u on red=Q1 volts=2.447\n"
    "reading u on red=Q2 volts=4.894\n"
    "reading u on red=Q3 volts=2.447\n"
    "reading u on red=Q4 volts=4.894\n"
    "reading u on red=Q5 volts=0.0002\n"
    "reading u on red=Q6 volts=11.41\n"
    "reading u on red=Q7 volts=0.0002\n"
    "reading u on red=Y0 volts=0.0002\n"
    "reading u on red=Y1 volts=0.0002\n"
    "reading u on red=Y2 volts=0.0002\n"
    "reading u on red=Y3 volts=11.41\n"
    "reading u on red=Y4 volts=0.0002\n"
    "reading u on red=Y5 volts=0.0002\n"
    "reading u on red=Y6 volts=0.0002\n"
    "reading u on red=Y7 volts=0.0002\n"
    "reading u on red=L0 volts=0.0002\n"
    "reading u on red=L1 volts=0.0002\n"
    "reading u on red=L2 volts=0.0002\n"
    "reading u on red=L3 volts=11.41\n"
    "reading u on red=L4 volts=0.0002\n"
    "reading u on red=L5 volts=0.0002\n"
    "reading u on red=L6 volts=0.0002\n"
    "reading u on red=L7 volts=0.0002\n"
    "reading u on supply=1 amps=0.2433\n");

  assert_int_equal (verdict->explanations[0].explains, ML_EXPLAINS_HEALTHY);
  assert_true (verdict->explanations[0].probability > 0.5);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_pairs_live_on_no_promise),
    cmocka_unit_test (test_pairs_what_shows_at_one_net_is_no_lost_m),
    cmocka_unit_test (test_pairs_of_the_same_two_parts_count_together),
    cmocka_unit_test (test_pair_gives_way_to_one_of_its_own),
    cmocka_unit_test (test_pairs_one_fault_behind_the_other),
    cmocka_unit_test (test_pairs_begin_with_either_fault),
    cmocka_unit_test (test_pairs_two_faults_are_named_together),
    cmocka_unit_test (test_pairs_one_fault_stays_one),
    cmocka_unit_test (test_pairs_sound_board_stays_sound),
    cmocka_unit_test (test_pairs_beside_two_faults_nothing_is_cleared),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
