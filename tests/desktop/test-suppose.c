/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Everything that can be supposed of a part must be understood by the verdict; the words are those of the command line's --suppose. */
#include "support/models.h"
#include "support/near.h"

#include "desktop/suppose.h"

static const char board_text[] = "meterleaf 1\n"
                                 "part R1 resistor 1=A 2=B\n"
                                 "part L1 inductor 1=A 2=B\n"
                                 "part C1 capacitor 1=A 2=B\n"
                                 "part F1 fuse 1=A 2=B\n"
                                 "part K1 coil 1=A 2=B\n"
                                 "part S1 switch 1=A 2=B\n"
                                 "part D1 diode anode=A cathode=B\n"
                                 "part LED1 led anode=A cathode=B\n"
                                 "part D2 zener anode=A cathode=B voltage=5.1\n"
                                 "part Q1 npn collector=A base=B emitter=C\n"
                                 "part Q2 pnp collector=A base=B emitter=C\n"
                                 "part U1 regulator in=A out=B ground=C voltage=5\n"
                                 "part U2 block 1=A 2=B 3=C\n"
                                 "part M1 nmos drain=A gate=B source=C\n"
                                 "part J1 pjfet drain=A gate=B source=C\n"
                                 "part T1 thyristor anode=A cathode=B gate=C\n"
                                 "part U3 opamp noninverting=A inverting=B out=C positive=D negative=E\n"
                                 "part U4 opto anode=A cathode=B collector=C emitter=D\n"
                                 "part U5 converter in=A out=B ground=C\n"
                                 "part U6 shunt cathode=A anode=B reference=C\n"
                                 "part RV1 potentiometer 1=A 2=B wiper=C\n"
                                 "part BR1 bridge ac1=A ac2=B plus=C minus=D\n"
                                 "part RL1 changeover common=A a=B b=C\n";

static void
test_every_supposition_is_understood (void **state)
{
  g_autoptr (MlBoard) board = ml_test_board (board_text);

  assert_int_equal (board->n_parts, 23);
  for (guint part = 0; part < board->n_parts; part++)
    {
      g_autoptr (GPtrArray) list = ml_suppose_list (board, (int) part);
      for (guint i = 0; i < list->len; i++)
        {
          const MlSuppose *suppose = g_ptr_array_index (list, i);
          MlFault fault;
          g_autoptr (GError) error = NULL;
          const char *size = suppose->size != NULL && *suppose->size == '\0' ? "×10" : suppose->size;
          g_autofree char *words = size != NULL ? ml_suppose_sized (board, (int) part, suppose, size, &error) : g_strdup (suppose->words);
          if (words == NULL || !ml_fault_parse (board, words, &fault, &error))
            fail_msg ("“%s”: %s", suppose->words, error->message);
          assert_int_equal (fault.part, part);
          ml_fault_clear (&fault);
        }
    }
}

static void
test_known_kinds_can_be_supposed_open (void **state)
{
  g_autoptr (MlBoard) board = ml_test_board (board_text);

  for (guint part = 0; part < 9; part++) /* those of two pins */
    {
      g_autoptr (GPtrArray) list = ml_suppose_list (board, (int) part);
      gboolean open = FALSE;
      for (guint i = 0; i < list->len; i++)
        open = open || g_str_has_suffix (((MlSuppose *) g_ptr_array_index (list, i))->words, " open");
      assert_int_equal (open, board->parts[part].kind->kind != ML_KIND_CAPACITOR); /* d.c. cannot see an open capacitor */
    }
}

static gboolean
can_be_supposed (const MlBoard *board, const char *part, const char *words)
{
  g_autoptr (GPtrArray) list = ml_suppose_list (board, ml_board_find_part (board, part));

  for (guint i = 0; i < list->len; i++)
    if (g_str_equal (((MlSuppose *) g_ptr_array_index (list, i))->words, words))
      return TRUE;
  return FALSE;
}

/* What the verdict names can be supposed: "Q1 open at its collector", "M1 shorted from drain to source". */
static void
test_parts_of_more_pins_can_be_supposed_open_and_shorted (void **state)
{
  g_autoptr (MlBoard) board = ml_test_board (board_text);

  assert_true (can_be_supposed (board, "Q1", "Q1 open pins=collector"));
  assert_true (can_be_supposed (board, "M1", "M1 open pins=gate"));
  assert_true (can_be_supposed (board, "M1", "M1 short pins=drain,source"));
  assert_true (can_be_supposed (board, "U1", "U1 short pins=in,ground"));
  assert_true (can_be_supposed (board, "U4", "U4 short pins=collector,emitter"));
  assert_true (can_be_supposed (board, "BR1", "BR1 open pins=plus"));
}

static void
test_a_block_has_nothing_to_suppose (void **state)
{
  g_autoptr (MlBoard) board = ml_test_board (board_text);
  g_autoptr (GPtrArray) list = ml_suppose_list (board, ml_board_find_part (board, "U2"));

  assert_int_equal (list->len, 0);
}

/* A fault has the size that the person says. Of a value the factor is ohms by ohms: 47 kΩ is ten times 4.7 kΩ. */
static void
test_any_size_can_be_supposed (void **state)
{
  static const struct { const char *part, *words, *typed, *sized; } cases[] = {
    { "R1", "R1 value", "47k", "R1 high size=10" },
    { "R1", "R1 value", "0R47", "R1 low size=0.0001" },
    { "R1", "R1 value", " ×1000 ", "R1 high size=1000" },
    { "R1", "R1 value", "x 0,1", "R1 low size=0.1" },
    { "R1", "R1 value", "/10", "R1 low size=0.1" },
    { "R1", "R1 value", "20 times", "R1 high size=20" },
    { "R1", "R1 value", "4k7", NULL }, /* what it is */
    { "R1", "R1 value", "", NULL },
    { "R1", "R1 value", "×-2", NULL },
    { "R1", "R1 value", "/0", NULL },
    { "R1", "R1 joint pins=1", "2R2", "R1 joint pins=1 size=2.2" },
    { "R1", "R1 joint pins=1", "1,5 kΩ", "R1 joint pins=1 size=1500" },
    { "R1", "R1 joint pins=1", "0", NULL },
    { "R1", "R1 joint pins=1", "×10", NULL },
    { "D1", "D1 leak", "50k", "D1 leak size=50000" },
    { "Q1", "Q1 leak pins=collector,emitter", "1M", "Q1 leak pins=collector,emitter size=1e+06" },
    { "S1", "S1 joint pins=1,2", "12", "S1 joint pins=1,2 size=12" },
  };
  g_autoptr (MlBoard) board = ml_test_board ("meterleaf 1\npart R1 resistor 1=A 2=B value=4k7\npart D1 diode anode=A cathode=B\n"
                                             "part Q1 npn collector=A base=B emitter=C\npart S1 switch 1=A 2=B\n");

  for (guint i = 0; i < G_N_ELEMENTS (cases); i++)
    {
      int part = ml_board_find_part (board, cases[i].part);
      g_autoptr (GPtrArray) list = ml_suppose_list (board, part);
      const MlSuppose *suppose = ml_suppose_find (list, cases[i].words);
      g_autoptr (GError) error = NULL;
      MlFault fault;
      assert_non_null (suppose);
      g_autofree char *words = ml_suppose_sized (board, part, suppose, cases[i].typed, &error);
      if (cases[i].sized == NULL)
        {
          assert_null (words);
          assert_non_null (error);
          continue;
        }
      assert_string_equal (words, cases[i].sized);
      assert_true (ml_fault_parse (board, words, &fault, NULL));
      ml_fault_clear (&fault);
    }
}

/* A joint's resistance decides what it does, so it is said; whether it is open needs no number. */
static void
test_the_ribbon_says_how_large_the_fault_is (void **state)
{
  g_autoptr (MlText) text = ml_text_new ("one", "meterleaf 1\npart Q1 npn collector=A base=B emitter=C\npart R1 resistor 1=A 2=B value=1k\n", -1);
  g_autoptr (MlBoard) board = ml_board_read (text, NULL);
  static const struct { const char *words, *ribbon; } cases[] = {
    { "Q1 joint pins=emitter size=300", "supposing solder joint at Q1's emitter, about 300 Ω" },
    { "Q1 open pins=base,emitter", "supposing Q1 open from base to emitter" },
    { "R1 high size=3.04", "supposing R1 drifted high, about 3 times its value" },
    { "R1 high size=123", "supposing R1 drifted high, about 120 times its value" },
    { "R1 high size=1000", "supposing R1 drifted high, about 1000 times its value" },
    { "R1 low size=0.1", "supposing R1 drifted low, about 0.1 times its value" },
  };

  for (guint i = 0; i < G_N_ELEMENTS (cases); i++)
    {
      MlFault fault;
      assert_true (ml_fault_parse (board, cases[i].words, &fault, NULL));
      g_autofree char *ribbon = ml_suppose_ribbon (board, &fault);
      assert_string_equal (ribbon, cases[i].ribbon);
      ml_fault_clear (&fault);
    }
  assert_null (ml_suppose_ribbon (board, NULL));
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_every_supposition_is_understood),
    cmocka_unit_test (test_known_kinds_can_be_supposed_open),
    cmocka_unit_test (test_parts_of_more_pins_can_be_supposed_open_and_shorted),
    cmocka_unit_test (test_any_size_can_be_supposed),
    cmocka_unit_test (test_the_ribbon_says_how_large_the_fault_is),
    cmocka_unit_test (test_a_block_has_nothing_to_suppose),
  };

  return cmocka_run_group_tests (tests, NULL, NULL);
}
