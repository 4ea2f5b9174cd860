/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Edits of a board as pairs of texts: what was there, what must be there. The expected texts follow from the rule that an edit
 * changes only the words it must; no other source is needed. */
#include "support/edits.h"
#include "support/near.h"

#include <math.h>
#include <string.h>

#include "board/edit.h"
#include "board/scan.h"

static MlBoard *
read_board (const char *bytes)
{
  g_autoptr (MlText) text = ml_text_new ("test", bytes, -1);
  g_autoptr (MlDiagnostics) diagnostics = ml_diagnostics_new ();
  MlBoard *board = ml_board_read (text, diagnostics);

  if (ml_diagnostics_n_errors (diagnostics) > 0)
    {
      g_autofree char *line = ml_diagnostic_to_string (ml_diagnostics_get (diagnostics, 0));
      print_error ("%s\n", line);
    }
  assert_int_equal (ml_diagnostics_n_errors (diagnostics), 0);
  return board;
}

static int
part (const MlBoard *board, const char *name)
{
  int index = ml_board_find_part (board, name);

  assert_true (index >= 0);
  return index;
}

static int
pin (const MlBoard *board, const char *name, const char *pin_name)
{
  int index = ml_part_find_pin (&board->parts[part (board, name)], pin_name);

  assert_true (index >= 0);
  return index;
}

static int
net (const MlBoard *board, const char *name)
{
  int index = ml_board_find_net (board, name);

  assert_true (index >= 0);
  return index;
}

/* ---- values ---- */

static void
test_set_value_understands_each_kind (void **state)
{
  static const struct { const char *before, *typed, *after; } table[] = {
    { "part R1 resistor 1=A 2=B # c\n", "4k7", "part R1 resistor 1=A 2=B value=4k7 # c\n" },
    { "part R1 resistor 1=A value=1k  2=B\n", "4k7 1%", "part R1 resistor 1=A value=4k7  2=B tolerance=1%\n" },
    { "part R1 resistor 1=A value=1k\n", "1,5", "part R1 resistor 1=A value=1.5\n" },
    { "part R1 resistor\n", "10k 0.25W", "part R1 resistor value=10k power=0.25W\n" },
    { "part R1 resistor value=1k\n", "", "part R1 resistor\n" },
    { "part C1 capacitor\n", "100u 25V", "part C1 capacitor value=100u voltage=25V\n" },
    { "part D1 diode anode=A\n", "1N4148", "part D1 1N4148 anode=A\n" },
    { "part D1 diode\n", "schottky", "part D1 diode family=schottky\n" },
    { "part D1 diode\n", "0.6@10m", "part D1 diode drop=0.6@10m\n" },
    { "part D1 zener\n", "5V6", "part D1 zener voltage=5V6\n" },
    { "part D1 zener voltage=3\n", "5.6 V", "part D1 zener voltage=5.6V\n" },
    { "part D1 zener voltage=3\n", "5.1V@49m", "part D1 zener voltage=5.1V@49m\n" },
    { "part LED1 led\n", "red", "part LED1 led colour=red\n" },
    { "part LED1 led colour=red\n", "green 20mA", "part LED1 led colour=green current=20mA\n" },
    { "part Q1 npn\n", "BC547", "part Q1 BC547\n" },
    { "part Q1 npn\n", "bc547", "part Q1 BC547\n" },
    { "part Q1 npn\n", "200", "part Q1 npn gain=200\n" },
    { "part Q1 npn\n", "ZZ4711", "datasheet ZZ4711 npn\npart Q1 ZZ4711\n" },
    { "part Q1 BC547 base=A\n", "", "part Q1 npn base=A\n" },
    { "part F1 fuse\n", "500mA", "part F1 fuse current=500mA\n" },
    { "part K1 coil\n", "270", "part K1 coil resistance=270\n" },
    { "part K1 coil\n", "motor", "part K1 coil show=motor\n" },
    { "part BT1 battery\n", "9V", "part BT1 battery voltage=9V\n" },
    { "part U1 regulator\n", "5", "part U1 regulator voltage=5\n" },
    { "part R1 resistor\n", "power=2", "part R1 resistor power=2\n" },
    { "part D1 zener value=3\n", "5.6 V", "part D1 zener value=5.6V\n" }, /* the word that is there stays */
    { "part D1 zener value=3\n", "", "part D1 zener\n" },
    { "part D1 diode\n", "tolerance=10%", "part D1 diode tolerance=10%\n" },
    /* what is printed on a chip that nobody knows, or on a relay: makers use digits only, blanks and dots too (from memory) */
    { "part U1 block 1=A 2=-\n", "AX-5521", "datasheet AX-5521 block\npart U1 AX-5521 1=A 2=-\n" },
    { "part U1 block 1=A\n", "4060", "datasheet 4060 block\npart U1 4060 1=A\n" },
    { "part U1 block 1=A\n", " HT 66F.20 ", "datasheet HT-66F-20 block\npart U1 HT-66F-20 1=A\n" },
    { "datasheet HT66 block\npart U1 block 1=A\n", "HT66", "datasheet HT66 block\npart U1 HT66 1=A\n" },
    { "datasheet HT66 block\npart U1 HT66 1=A\n", "", "datasheet HT66 block\npart U1 block 1=A\n" },
    { "part U1 block 1=A\n", "supply=1", "part U1 block 1=A supply=1\n" },
    { "part K1 coil\n", "SRD-12VDC", "datasheet SRD-12VDC coil\npart K1 SRD-12VDC\n" },
    { "part K2 contact common=A\npart K1 coil\n", "k1", "part K2 contact common=A by=K1\npart K1 coil\n" },
    { "part K2 contact by=K1 common=A\npart K1 coil\n", "", "part K2 contact common=A\npart K1 coil\n" },
    { "part K2 contact by=K1\npart K1 coil\npart K3 coil\n", "K3", "part K2 contact by=K3\npart K1 coil\npart K3 coil\n" },
  };

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      g_autoptr (MlBoard) board = read_board (table[i].before);
      g_autoptr (GError) error = NULL;
      assert_text (ml_board_edit_set_value (board, 0, table[i].typed, &error), &error, table[i].after);
    }
}

static void
test_set_value_refuses_what_says_nothing (void **state)
{
  static const struct { const char *before, *typed, *word; } table[] = {
    { "part R1 resistor\n", "abc", "says nothing about a resistor" },
    { "part R1 resistor\n", "-5", "above zero" },
    { "part R1 resistor\n", "5V", "'5V'" },
    { "part D1 diode\n", "BC547", "npn" },
    { "part J1 connector\n", "5", "no value" },
    { "part K2 contact\npart R1 resistor\n", "R1", "'R1' is no coil of this board; type the name of the one that works K2" },
    { "part R1 resistor\n", "valu=5", "'valu=5'" },
    { "part R1 resistor\n", "5 5", "value is typed twice" },
    { "part R1 resistor value=1k\n", "4k7 1% 2%", "tolerance is typed twice" },
    { "part U1 block 1=A\n", "BC547", "npn" },
    { "part U1 block 1=A\n", "diode", "'diode' is the name of a kind" },
    { "part U1 block 1=A\n", ".", "cannot be the name of a chip" },
  };

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      g_autoptr (MlBoard) board = read_board (table[i].before);
      GError *error = NULL;
      assert_refused (ml_board_edit_set_value (board, 0, table[i].typed, &error), &error,
                      table[i].word);
    }
}

static void
test_set_key_changes_adds_and_removes (void **state)
{
  g_autoptr (MlBoard) board = read_board ("part R1 resistor 1=A  value=1k  tolerance=5% # five\r\n");
  GError *error = NULL;

  assert_text (ml_board_edit_set_key (board, 0, "tolerance", "1%", &error), &error, "part R1 resistor 1=A  value=1k  tolerance=1% # five\r\n");
  assert_text (ml_board_edit_set_key (board, 0, "value", NULL, &error), &error, "part R1 resistor 1=A  tolerance=5% # five\r\n");
  assert_text (ml_board_edit_set_key (board, 0, "power", "2", &error), &error, "part R1 resistor 1=A  value=1k  tolerance=5% power=2 # five\r\n");
  assert_refused (ml_board_edit_set_key (board, 0, "toleranse", "1", &error), &error, "tolerance");
  assert_refused (ml_board_edit_set_key (board, 0, "value", "much", &error), &error, "value=much");
}

/* A zener's `value` is its voltage: changing the one never leaves the other beside it. */
static void
test_set_key_finds_a_key_under_its_other_name (void **state)
{
  g_autoptr (MlBoard) board = read_board ("part D1 zener value=5.6\npart U1 block VCC=A\n");
  GError *error = NULL;

  assert_text (ml_board_edit_set_key (board, 0, "voltage", "6.2", &error), &error, "part D1 zener value=6.2\npart U1 block VCC=A\n");
  assert_text (ml_board_edit_set_key (board, 0, "voltage", NULL, &error), &error, "part D1 zener\npart U1 block VCC=A\n");
  assert_text (ml_board_edit_rename_pin (board, 1, 0, "value", &error), &error, "part D1 zener value=5.6\npart U1 block pin.value=A\n");
}

/* ---- parts ---- */

static void
test_add_part_takes_the_next_free_name (void **state)
{
  g_autoptr (MlBoard) board = read_board ("meterleaf 1\nreference M\n\npart R1 resistor 1=M\npart R3 resistor 1=M # last\n\ncondition cold\n");
  MlPlace place = { 4, -2.5, 1, TRUE };
  g_autofree char *name = NULL;
  GError *error = NULL;

  assert_text (ml_board_edit_add_part (board, ml_kind_info (ML_KIND_RESISTOR), NULL, 0, &place, &name, &error), &error,
               "meterleaf 1\nreference M\n\npart R1 resistor 1=M\npart R3 resistor 1=M # last\npart R2 resistor\n\ncondition cold\n"
               "place R2 x=4 y=-2.5 turn=90 mirror\n");
  assert_string_equal (name, "R2");
  assert_text (ml_board_edit_add_part (board, ml_kind_info (ML_KIND_CONNECTOR), "J1", 2, NULL, NULL, &error), &error,
               "meterleaf 1\nreference M\n\npart R1 resistor 1=M\npart R3 resistor 1=M # last\npart J1 connector 1=- 2=-\n\ncondition cold\n");
  assert_refused (ml_board_edit_add_part (board, ml_kind_info (ML_KIND_RESISTOR), "R1", 0, NULL, NULL, &error), &error, "R1 already");
  assert_refused (ml_board_edit_add_part (board, ml_kind_info (ML_KIND_RESISTOR), "R 4", 0, NULL, NULL, &error), &error, "R 4");
}

static void
test_add_part_to_an_empty_board (void **state)
{
  g_autoptr (MlBoard) board = read_board ("");
  GError *error = NULL;

  assert_text (ml_board_edit_add_part (board, ml_kind_info (ML_KIND_LED), NULL, 0, NULL, NULL, &error), &error, "part LED1 led\n");
  assert_text (ml_board_edit_add_part (board, ml_kind_info (ML_KIND_CAPACITOR), NULL, 2, NULL, NULL, &error), &error, "part C1 capacitor plus=- minus=-\n");
  assert_text (ml_board_edit_add_part (board, ml_kind_info (ML_KIND_CAPACITOR), NULL, 0, NULL, NULL, &error), &error, "part C1 capacitor\n");
}

static const char with_everything[] = "reference M\n"
                                      "part R1 resistor 1=A 2=M # keep\n"
                                      "part K1 coil 1=A 2=X\n"
                                      "part K1a contact common=A no=M by=K1\n"
                                      "net X \"coil's end\"\n"
                                      "beep K1.2 R1.1 no\n"
                                      "beep R1.1 K1a.common yes\n"
                                      "place K1 x=1 y=2\n"
                                      "condition on\n"
                                      "  supply plus=A minus=M voltage=5\n"
                                      "  connect X M\n"
                                      "  lift K1.2\n"
                                      "picture \"a.png\"\n"
                                      "  pad K1.1 x=1 y=2\n"
                                      "  pad R1 x=3 y=4\n";

static void
test_remove_part_takes_all_that_speaks_of_it (void **state)
{
  g_autoptr (MlBoard) board = read_board (with_everything);
  GError *error = NULL;

  assert_text (ml_board_edit_remove_part (board, part (board, "K1"), &error), &error,
               "reference M\n"
               "part R1 resistor 1=A 2=M # keep\n"
               "part K1a contact common=A no=M\n"
               "beep R1.1 K1a.common yes\n"
               "condition on\n"
               "  supply plus=A minus=M voltage=5\n"
               "picture \"a.png\"\n"
               "  pad R1 x=3 y=4\n");
}

static void
test_rename_part_follows_every_mention (void **state)
{
  g_autoptr (MlBoard) board = read_board (with_everything);
  GError *error = NULL;

  assert_text (ml_board_edit_rename_part (board, part (board, "K1"), "RELAY", &error), &error,
               "reference M\n"
               "part R1 resistor 1=A 2=M # keep\n"
               "part RELAY coil 1=A 2=X\n"
               "part K1a contact common=A no=M by=RELAY\n"
               "net X \"coil's end\"\n"
               "beep RELAY.2 R1.1 no\n"
               "beep R1.1 K1a.common yes\n"
               "place RELAY x=1 y=2\n"
               "condition on\n"
               "  supply plus=A minus=M voltage=5\n"
               "  connect X M\n"
               "  lift RELAY.2\n"
               "picture \"a.png\"\n"
               "  pad RELAY.1 x=1 y=2\n"
               "  pad R1 x=3 y=4\n");
  assert_refused (ml_board_edit_rename_part (board, part (board, "K1"), "R1", &error), &error, "R1 already");
  assert_refused (ml_board_edit_rename_part (board, part (board, "K1"), "a.b", &error), &error, "a.b");
}

/* 3V3 as IEC 60062 writes a decimal point */
static void
test_names_typed_with_what_no_name_holds_become_names (void **state)
{
  static const struct { const char *typed, *name; } table[] = {
    { "S1 pressed", "S1-pressed" }, { "  bay 7 \t", "bay-7" }, { "3.3V", "3V3" }, { "+3,3 V", "+3V3" }, { "12 V", "12V" }, { "5V", "5V" },
    { "V 5.0", "V-5-0" }, { "A.B", "A-B" }, { "a, b", "a-b" }, { "#1", "1" }, { "net/OUT", "net-OUT" }, { "", "" }, { " . ", "" }, { "-", "-" },
    { "1.5k", "1-5k" }, { "3.3V rail", "3V3-rail" }, { "12Volt", "12Volt" }, { "U12.5 V", "U12-5V" }, { "вкл \u202eS1", "вкл-S1" }, { "غرفة ٣", "غرفة-٣" },
  };

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      g_autofree char *name = ml_name_typed (table[i].typed);
      assert_string_equal (name, table[i].name);
      assert_true (*name == '\0' || strcmp (name, "-") == 0 || ml_name_check (name) == NULL);
    }
  assert_string_equal (ml_name_check ("S1 pressed"), "a name holds no blank");
}

static void
test_a_condition_is_copied_with_all_that_belongs_to_it (void **state)
{
  g_autoptr (MlBoard) board = read_board ("part R1 resistor 1=A 2=B\npart S1 switch 1=A 2=B\ncondition on \"it runs\" # as found\n\tsupply plus=A minus=B \\\n\t\tvoltage=5\n"
                                          "  set S1 closed\ncondition cold\nplace R1 x=1 y=2\n");
  GError *error = NULL;

  assert_text (ml_board_edit_copy_condition (board, 0, "on-2", &error), &error,
               "part R1 resistor 1=A 2=B\npart S1 switch 1=A 2=B\ncondition on \"it runs\" # as found\n\tsupply plus=A minus=B \\\n\t\tvoltage=5\n"
               "  set S1 closed\ncondition cold\ncondition on-2 \"it runs\" # as found\n\tsupply plus=A minus=B \\\n\t\tvoltage=5\n  set S1 closed\n"
               "place R1 x=1 y=2\n");
  assert_refused (ml_board_edit_copy_condition (board, 0, "cold", &error), &error, "cold already");
  assert_refused (ml_board_edit_copy_condition (board, 0, "a b", &error), &error, "a b");
}

static void
test_a_part_number_of_a_kind_with_the_same_pins_changes_the_kind (void **state)
{
  static const struct { const char *before, *typed, *after; } table[] = {
    { "part Q1 npn collector=A base=B emitter=C gain=100 # x\n", "BC557", "part Q1 BC557 collector=A base=B emitter=C gain=100 # x\n" },
    { "part D1 diode anode=A cathode=B family=schottky power=1\n", "1N4733A", "part D1 1N4733A anode=A cathode=B power=1\n" },
    { "part D1 1N4148 anode=A cathode=B\n", "bzx55c5v6", "part D1 BZX55C5V6 anode=A cathode=B\n" },
    { "part D1 zener anode=A cathode=B value=5.6\n", "1N4148", "part D1 1N4148 anode=A cathode=B\n" },
  };
  g_autoptr (MlBoard) resistor = read_board ("part R1 resistor 1=A 2=B\n");
  g_autoptr (MlBoard) transistor = read_board ("part Q1 npn collector=A base=B emitter=C\n");
  GError *error = NULL;

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      g_autoptr (MlBoard) board = read_board (table[i].before);
      assert_text (ml_board_edit_set_value (board, 0, table[i].typed, &error), &error, table[i].after);
    }
  assert_refused (ml_board_edit_set_value (resistor, 0, "1N4148", &error), &error, "add 1N4148 in its place");
  assert_refused (ml_board_edit_set_value (transistor, 0, "2N7000", &error), &error, "with other pins");
}

static void
test_place_writes_changes_and_removes (void **state)
{
  g_autoptr (MlBoard) board = read_board ("part R1 resistor\npart R2 resistor\nplace R1 x=1 y=1 turn=90 # here\nnote \"n\"\n");
  int both[] = { 0, 1 };
  MlPlace places[] = { { 10, 20, 0, FALSE }, { 3, 4, 2, FALSE } };
  GError *error = NULL;

  assert_text (ml_board_edit_place (board, both, places, 2, &error), &error,
               "part R1 resistor\npart R2 resistor\nplace R1 x=10 y=20 # here\nplace R2 x=3 y=4 turn=180\nnote \"n\"\n");
  assert_text (ml_board_edit_place (board, both, NULL, 2, &error), &error, "part R1 resistor\npart R2 resistor\nnote \"n\"\n");
  places[0] = (MlPlace){ -0.0, -0.0, 0, FALSE }; /* rounding leaves such noughts; nobody writes "-0" */
  assert_text (ml_board_edit_place (board, both, places, 1, &error), &error, "part R1 resistor\npart R2 resistor\nplace R1 x=0 y=0 # here\nnote \"n\"\n");
}

/* What a place says of a block's pins stays when the block is moved, and follows the names of its pins. */
static void
test_place_keeps_the_pins_of_a_block (void **state)
{
#define BLOCK(pins) "part U1 block " pins "\npart R1 resistor\n"
  g_autoptr (MlBoard) board = read_board (BLOCK ("1=A 2=B 3=- 4=-") "place U1 x=1 y=1 left=2,1 right=3 # here\n");
  int both[] = { 0, 1 };
  MlPlace places[] = { { 10, 20, 0, FALSE }, { 3, 4, 0, FALSE } };
  GError *error = NULL;

  assert_int_equal (board->parts[0].pin_places[0].edge, ML_EDGE_LEFT);
  assert_int_equal (board->parts[0].pin_places[0].at, 1);
  assert_int_equal (board->parts[0].pin_places[2].edge, ML_EDGE_RIGHT);
  assert_int_equal (board->parts[0].pin_places[3].edge, -1);
  assert_null (board->parts[1].pin_places);
  assert_text (ml_board_edit_place (board, both, places, 1, &error), &error,
               BLOCK ("1=A 2=B 3=- 4=-") "place U1 x=10 y=20 left=2,1 right=3 # here\n");
  assert_text (ml_board_edit_place_pins (board, both, places, (const char *const[]){ "top=3 left=1", NULL }, 2, &error), &error,
               BLOCK ("1=A 2=B 3=- 4=-") "place U1 x=10 y=20 top=3 left=1 # here\nplace R1 x=3 y=4\n");
  assert_text (ml_board_edit_rename_pin (board, 0, 0, "IN", &error), &error,
               BLOCK ("IN=A 2=B 3=- 4=-") "place U1 x=1 y=1 left=2,IN right=3 # here\n");
  assert_text (ml_board_edit_remove_pin (board, 0, 2, &error), &error, BLOCK ("1=A 2=B 4=-") "place U1 x=1 y=1 left=2,1 # here\n");
#undef BLOCK
}

/* The same of a connector whose pins are drawn one by one. */
static void
test_place_keeps_the_pins_of_a_connector (void **state)
{
  g_autoptr (MlBoard) board = read_board ("part J1 connector 1=A 2=- 3=B\nplace J1 x=1 y=1 pin.2=-3.5,4,top pin.3=7,8,left\n");
  int part = 0;
  MlPlace place = { 10, 20, 0, FALSE };
  GError *error = NULL;

  assert_int_equal (board->parts[0].pin_places[0].edge, -1);
  assert_int_equal (board->parts[0].pin_places[1].edge, ML_EDGE_TOP);
  assert_near (board->parts[0].pin_places[1].x, -3.5, 0, 0);
  assert_near (board->parts[0].pin_places[1].y, 4, 0, 0);
  assert_text (ml_board_edit_place (board, &part, &place, 1, &error), &error,
               "part J1 connector 1=A 2=- 3=B\nplace J1 x=10 y=20 pin.2=-3.5,4,top pin.3=7,8,left\n");
  assert_text (ml_board_edit_rename_pin (board, 0, 2, "OUT", &error), &error,
               "part J1 connector 1=A 2=- OUT=B\nplace J1 x=1 y=1 pin.2=-3.5,4,top pin.OUT=7,8,left\n");
  assert_text (ml_board_edit_remove_pin (board, 0, 1, &error), &error, "part J1 connector 1=A 3=B\nplace J1 x=1 y=1 pin.3=7,8,left\n");
}

/* ---- pins and nets ---- */

static void
test_join_pins_names_and_merges_nets (void **state)
{
  g_autoptr (MlBoard) fresh = read_board ("part R1 resistor # one\npart R2 resistor 2=N1\n");
  g_autoptr (MlBoard) named = read_board ("part R1 resistor 1=N1 2=V5\npart R2 resistor 1=V5 2=N1\npart R3 resistor 1=LOW 2=N2\n"
                                          "net LOW \"low\"\nnear N1 LOW\n");
  g_autoptr (MlBoard) referenced = read_board ("reference M\npart R1 resistor 1=M 2=V5\n");
  GError *error = NULL;

  /* both open: the first free generated name; one open: the other's; pins in the order of the kind */
  assert_text (ml_board_edit_join_pins (fresh, 0, 1, 1, 0, &error), &error, "part R1 resistor 2=N2 # one\npart R2 resistor 1=N2 2=N1\n");
  assert_text (ml_board_edit_join_pins (fresh, 0, 1, 1, 1, &error), &error, "part R1 resistor 2=N1 # one\npart R2 resistor 2=N1\n");
  /* a person's name wins over a generated one; `near` of one net says nothing */
  assert_text (ml_board_edit_join_pins (named, 0, 0, 2, 0, &error), &error,
               "part R1 resistor 1=LOW 2=V5\npart R2 resistor 1=V5 2=LOW\npart R3 resistor 1=LOW 2=N2\nnet LOW \"low\"\n");
  assert_text (ml_board_edit_join_pins (referenced, 0, 1, 0, 0, &error), &error, "reference M\npart R1 resistor 1=M 2=M\n");
  assert_refused (ml_board_edit_join_pins (named, 0, 0, 1, 1, &error), &error, "already");
  assert_text (ml_board_edit_join_pins (fresh, 0, 1, 0, 1, &error), &error, "part R1 resistor 2=N2 # one\npart R2 resistor 2=N1\n"); /* for a lead */
}

/* Of two nets that a person named, the one with a statement of its own keeps it, on whichever side it is joined. */
static void
test_join_keeps_the_net_that_has_a_statement (void **state)
{
  static const char text[] = "part R1 resistor 1=A 2=C\npart R2 resistor 1=B 2=C\nnet B \"drive\" switching\n";
  g_autoptr (MlBoard) board = read_board (text);
  g_autoptr (GError) error = NULL;
  const char *expected = "part R1 resistor 1=B 2=C\npart R2 resistor 1=B 2=C\nnet B \"drive\" switching\n";

  assert_text (ml_board_edit_join_pins (board, 0, 0, 1, 0, &error), &error, expected);
  assert_text (ml_board_edit_join_pins (board, 1, 0, 0, 0, &error), &error, expected);
}

/* One net cannot be preferred high and low: what was said of the one that stays holds; said of the other only, it moves along. */
static void
test_join_keeps_what_is_preferred_of_the_net_that_stays (void **state)
{
  g_autoptr (MlBoard) both = read_board ("part R1 resistor 1=A 2=C\npart R2 resistor 1=B 2=C\nprefer A high\nprefer B low\n");
  g_autoptr (MlBoard) other = read_board ("part R1 resistor 1=A 2=C\npart R2 resistor 1=B 2=C\nprefer B low\n");
  GError *error = NULL;

  assert_text (ml_board_edit_join_pins (both, 0, 0, 1, 0, &error), &error, "part R1 resistor 1=A 2=C\npart R2 resistor 1=A 2=C\nprefer A high\n");
  assert_text (ml_board_edit_join_pins (other, 0, 0, 1, 0, &error), &error, "part R1 resistor 1=A 2=C\npart R2 resistor 1=A 2=C\nprefer A low\n");
}

static void
test_join_pins_refuses_to_short_a_supply (void **state)
{
  g_autoptr (MlBoard) board = read_board ("part R1 resistor 1=A 2=B\ncondition on\n  supply plus=A minus=B voltage=5\n");
  GError *error = NULL;

  assert_refused (ml_board_edit_join_pins (board, 0, 0, 0, 1, &error), &error, "supply");
}

static void
test_free_pin_takes_a_net_that_ends (void **state)
{
  g_autoptr (MlBoard) board = read_board ("part R1 resistor 1=A 2=B\npart R2 resistor 1=A\nnet B switching\ncondition on\n  connect A B\n");
  GError *error = NULL;

  assert_text (ml_board_edit_free_pin (board, 0, 1, &error), &error, "part R1 resistor 1=A 2=-\npart R2 resistor 1=A\ncondition on\n");
  assert_text (ml_board_edit_free_pin (board, 0, 0, &error), &error,
               "part R1 resistor 1=- 2=B\npart R2 resistor 1=A\nnet B switching\ncondition on\n  connect A B\n");
}

static void
test_add_pin_only_where_pins_are_free (void **state)
{
  g_autoptr (MlBoard) board = read_board ("part U1 block 1=A # box\npart R1 resistor\n");
  GError *error = NULL;

  assert_text (ml_board_edit_add_pin (board, 0, "VDD", &error), &error, "part U1 block 1=A VDD=- # box\npart R1 resistor\n");
  assert_text (ml_board_edit_add_pin (board, 0, "supply", &error), &error, "part U1 block 1=A pin.supply=- # box\npart R1 resistor\n");
  assert_refused (ml_board_edit_add_pin (board, 0, "1", &error), &error, "already");
  assert_refused (ml_board_edit_add_pin (board, 1, "3", &error), &error, "fixed");
}

static void
test_remove_pin_only_where_it_is_open (void **state)
{
  GError *error = NULL;
  g_autoptr (MlBoard) board = read_board ("part U1 block 1=A 2=- pin.supply=- # box\npart R1 resistor 1=A 2=-\npart J1 connector 1=-\n");

  assert_text (ml_board_edit_remove_pin (board, 0, 1, &error), &error, "part U1 block 1=A pin.supply=- # box\npart R1 resistor 1=A 2=-\npart J1 connector 1=-\n");
  assert_text (ml_board_edit_remove_pin (board, 0, 2, &error), &error, "part U1 block 1=A 2=- # box\npart R1 resistor 1=A 2=-\npart J1 connector 1=-\n");
  assert_refused (ml_board_edit_remove_pin (board, 0, 0, &error), &error, "joined");
  assert_refused (ml_board_edit_remove_pin (board, 1, 1, &error), &error, "fixed");
  assert_refused (ml_board_edit_remove_pin (board, 2, 0, &error), &error, "last");
}

static void
test_net_edits (void **state)
{
  g_autoptr (MlBoard) board = read_board ("reference M\npart R1 resistor 1=A 2=M\npart J1 connector A=A\nnet A \"label\" # n\n"
                                          "condition on\n  supply plus=A minus=M voltage=5\n");
  GError *error = NULL;

  assert_text (ml_board_edit_rename_net (board, net (board, "A"), "FEED", &error), &error,
               "reference M\npart R1 resistor 1=FEED 2=M\npart J1 connector A=FEED\nnet FEED \"label\" # n\n"
               "condition on\n  supply plus=FEED minus=M voltage=5\n");
  assert_refused (ml_board_edit_rename_net (board, net (board, "A"), "M", &error), &error, "join");
  assert_text (ml_board_edit_set_switching (board, net (board, "A"), TRUE, &error), &error,
               "reference M\npart R1 resistor 1=A 2=M\npart J1 connector A=A\nnet A \"label\" switching # n\n"
               "condition on\n  supply plus=A minus=M voltage=5\n");
  assert_text (ml_board_edit_set_switching (board, net (board, "M"), TRUE, &error), &error,
               "reference M\npart R1 resistor 1=A 2=M\npart J1 connector A=A\nnet A \"label\" # n\nnet M switching\n"
               "condition on\n  supply plus=A minus=M voltage=5\n");
  assert_text (ml_board_edit_set_reference (board, net (board, "A"), &error), &error,
               "reference A\npart R1 resistor 1=A 2=M\npart J1 connector A=A\nnet A \"label\" # n\n"
               "condition on\n  supply plus=A minus=M voltage=5\n");
}

static void
test_set_title_writes_the_statement_where_missing (void **state)
{
  g_autoptr (MlBoard) without = read_board ("# top\nmeterleaf 1\nreference M\n");
  g_autoptr (MlBoard) with = read_board ("board \"Old\"   revision=C\n");
  GError *error = NULL;

  assert_text (ml_board_edit_set_title (without, "A \"new\" one", &error), &error, "# top\nmeterleaf 1\nboard \"A \\\"new\\\" one\"\nreference M\n");
  assert_text (ml_board_edit_set_title (with, "New", &error), &error, "board \"New\"   revision=C\n");
}

/* ---- conditions ---- */

static void
test_condition_edits (void **state)
{
  static const char before[] = "part R1 resistor 1=A 2=M\npart S1 switch 1=A 2=M\npart RV1 potentiometer\n"
                               "condition on \"it runs\" # c\n\tsupply plus=A minus=M voltage=18.0 limit=250m # psu\n\tset S1 open\n"
                               "# between\ncondition cold\n";
  g_autoptr (MlBoard) board = read_board (before);
  g_autofree char *expected = NULL;
  GError *error = NULL;

#define EXPECT(text, from, to)                              \
  G_STMT_START                                              \
  {                                                         \
    g_auto (GStrv) parts = g_strsplit (before, (from), 2);  \
    g_free (expected);                                      \
    expected = g_strjoinv ((to), parts);                    \
    assert_text ((text), &error, expected);                  \
  }                                                         \
  G_STMT_END
  EXPECT (ml_board_edit_reverse_supply (board, 0, 0, &error), "plus=A minus=M", "plus=M minus=A");
  EXPECT (ml_board_edit_set_supply (board, 0, 0, net (board, "A"), net (board, "M"), 18, 0.25, &error), "@", "");
  EXPECT (ml_board_edit_set_supply (board, 0, 0, net (board, "A"), net (board, "M"), 12.5, NAN, &error), "voltage=18.0 limit=250m", "voltage=12.5");
  EXPECT (ml_board_edit_set_supply (board, 1, -1, net (board, "A"), net (board, "M"), 5, 0.1, &error), "condition cold\n",
          "condition cold\n  supply plus=A minus=M voltage=5 limit=0.1\n");
  EXPECT (ml_board_edit_set_supply (board, 0, -1, net (board, "M"), net (board, "A"), 5, NAN, &error), "# psu\n",
          "# psu\n\tsupply plus=M minus=A voltage=5\n");
  EXPECT (ml_board_edit_remove_supply (board, 0, 0, &error), "\tsupply plus=A minus=M voltage=18.0 limit=250m # psu\n", "");
  EXPECT (ml_board_edit_set_load (board, 0, -1, net (board, "A"), net (board, "M"), 47, NAN, &error), "# psu\n",
          "# psu\n\tload plus=A minus=M value=47\n");
  EXPECT (ml_board_edit_set_load (board, 1, -1, net (board, "M"), net (board, "A"), NAN, 0.02, &error), "condition cold\n",
          "condition cold\n  load plus=M minus=A current=20m\n");
  EXPECT (ml_board_edit_set_setting (board, 0, part (board, "S1"), "closed", &error), "set S1 open", "set S1 closed");
  EXPECT (ml_board_edit_set_setting (board, 0, part (board, "S1"), NULL, &error), "\tset S1 open\n", "");
  EXPECT (ml_board_edit_set_setting (board, 0, part (board, "RV1"), "30%", &error), "set S1 open\n", "set S1 open\n\tset RV1 position=30%\n");
  EXPECT (ml_board_edit_rename_condition (board, 0, "running", "it runs", &error), "condition on", "condition running");
  EXPECT (ml_board_edit_rename_condition (board, 0, "on", NULL, &error), " \"it runs\"", "");
  EXPECT (ml_board_edit_rename_condition (board, 1, "cold", "off", &error), "condition cold", "condition cold \"off\"");
  EXPECT (ml_board_edit_remove_condition (board, 1, &error), "condition cold\n", "");
  EXPECT (ml_board_edit_add_condition (board, "idle", "waits", &error), "condition cold\n", "condition cold\ncondition idle \"waits\"\n");
#undef EXPECT
  assert_refused (ml_board_edit_set_setting (board, 0, part (board, "S1"), "ajar", &error), &error, "ajar");
  assert_refused (ml_board_edit_add_condition (board, "on", NULL, &error), &error, "already");
  assert_refused (ml_board_edit_set_supply (board, 0, 0, 0, 0, 5, NAN, &error), &error, "supply");
}

static void
test_load_edits_keep_what_they_do_not_change (void **state)
{
  g_autoptr (MlBoard) board = read_board ("part R1 resistor 1=A 2=M\npart R2 resistor 1=B 2=M\n"
                                          "condition on\n  supply plus=A minus=M voltage=5 limit=1\n"
                                          "  load plus=B  minus=M value=4k70 # lamp\n  load plus=A minus=M current=20m\n");
  GError *error = NULL;

#define BEFORE "part R1 resistor 1=A 2=M\npart R2 resistor 1=B 2=M\ncondition on\n  supply plus=A minus=M voltage=5 limit=1\n"
  assert_text (ml_board_edit_set_load (board, 0, 0, net (board, "A"), net (board, "M"), 4700, NAN, &error), &error,
               BEFORE "  load plus=A  minus=M value=4k70 # lamp\n  load plus=A minus=M current=20m\n");
  assert_text (ml_board_edit_set_load (board, 0, 0, net (board, "B"), net (board, "M"), NAN, 0.1, &error), &error,
               BEFORE "  load plus=B  minus=M current=0.1 # lamp\n  load plus=A minus=M current=20m\n");
  assert_text (ml_board_edit_remove_load (board, 0, 1, &error), &error, BEFORE "  load plus=B  minus=M value=4k70 # lamp\n");
  assert_text (ml_board_edit_set_load (board, 0, -1, net (board, "B"), net (board, "A"), 1, NAN, &error), &error,
               BEFORE "  load plus=B  minus=M value=4k70 # lamp\n  load plus=A minus=M current=20m\n  load plus=B minus=A value=1\n");
#undef BEFORE
  assert_refused (ml_board_edit_set_load (board, 0, 0, -1, net (board, "M"), 10, NAN, &error), &error, "a net at each end");
  assert_refused (ml_board_edit_set_load (board, 0, 0, 0, 1, NAN, NAN, &error), &error, "ohms or a current");
  assert_refused (ml_board_edit_set_load (board, 0, 0, 0, 1, 10, 0.1, &error), &error, "ohms or a current");
  assert_refused (ml_board_edit_set_load (board, 0, 0, 0, 1, NAN, -0.1, &error), &error, "above zero");
  assert_refused (ml_board_edit_set_load (board, 0, 0, 0, 0, 10, NAN, &error), &error, "one net");
}

static void
test_edits_keep_crlf_bom_and_a_missing_last_newline (void **state)
{
  g_autoptr (MlBoard) board = read_board ("\xef\xbb\xbfpart R1 resistor 1=A \\\r\n  2=M  # two\r\npart R2 resistor 1=A");
  GError *error = NULL;

  assert_text (ml_board_edit_set_value (board, 0, "1k", &error), &error,
               "\xef\xbb\xbfpart R1 resistor 1=A \\\r\n  2=M value=1k  # two\r\npart R2 resistor 1=A");
  assert_text (ml_board_edit_set_value (board, 1, "1k", &error), &error,
               "\xef\xbb\xbfpart R1 resistor 1=A \\\r\n  2=M  # two\r\npart R2 resistor 1=A value=1k");
  assert_text (ml_board_edit_rename_net (board, net (board, "M"), "GND", &error), &error,
               "\xef\xbb\xbfpart R1 resistor 1=A \\\r\n  2=GND  # two\r\npart R2 resistor 1=A");
  assert_int_equal (pin (board, "R1", "2"), 1);
}

/* ---- pictures ---- */

static const char *const pictured = "part D4 diode anode=A cathode=B # c\npart R1 resistor 1=A 2=C\n"
                                    "picture \"top.png\"  scale=12.5/mm # from above\n\tpad D4.anode  x=10 y=20.5 # left\n\tpad R1 x=5 y=6\n"
                                    "picture \"back.jpg\" side=bottom mirror\n"
                                    "net A\n";

static void
test_set_picture_adds_and_changes_words (void **state)
{
  g_autoptr (MlBoard) board = read_board (pictured);
  GError *error = NULL;
  MlPicture is = board->pictures[0], more = { .file = (char *) "in a \"box\".svg", .scale_px_per_mm = NAN, .turn_deg = -90, .mirror = TRUE };
  MlPicture back = board->pictures[1];
#define EXPECT(edit, from, to) \
  G_STMT_START { \
    g_auto (GStrv) pieces = g_strsplit (pictured, from, 2); \
    g_autofree char *expected = g_strconcat (pieces[0], to, pieces[1], NULL); \
    assert_text (edit, &error, expected); \
  } G_STMT_END
  EXPECT (ml_board_edit_set_picture (board, 0, &is, &error), "net A", "net A");
  is.scale_px_per_mm = 7.0 / 3;
  is.turn_deg = 90;
  EXPECT (ml_board_edit_set_picture (board, 0, &is, &error), "scale=12.5/mm", "scale=2.33333/mm turn=90");
  is.scale_px_per_mm = NAN;
  is.turn_deg = 0;
  EXPECT (ml_board_edit_set_picture (board, 0, &is, &error), "  scale=12.5/mm", "");
  back.bottom = back.mirror = FALSE;
  back.file = (char *) "other side.jpg";
  EXPECT (ml_board_edit_set_picture (board, 1, &back, &error), "\"back.jpg\" side=bottom mirror", "\"other side.jpg\"");
  EXPECT (ml_board_edit_set_picture (board, -1, &more, &error), "mirror\n", "mirror\npicture \"in a \\\"box\\\".svg\" turn=-90 mirror\n");
  EXPECT (ml_board_edit_remove_picture (board, 1, &error), "picture \"back.jpg\" side=bottom mirror\n", "");
  more.file = (char *) "";
  assert_refused (ml_board_edit_set_picture (board, -1, &more, &error), &error, "file");
}

static void
test_set_pad_pins_moves_and_removes (void **state)
{
  g_autoptr (MlBoard) board = read_board (pictured);
  GError *error = NULL;
  int d4 = part (board, "D4"), r1 = part (board, "R1");

  EXPECT (ml_board_edit_set_pad (board, 0, d4, pin (board, "D4", "anode"), 11.26, 20.5, &error), "x=10 ", "x=11.3 ");
  EXPECT (ml_board_edit_set_pad (board, 0, d4, pin (board, "D4", "cathode"), 1500, 1e5, &error), "y=6\n", "y=6\n\tpad D4.cathode x=1500 y=100000\n");
  EXPECT (ml_board_edit_set_pad (board, 0, r1, -1, 0, 6, &error), "x=5", "x=0");
  EXPECT (ml_board_edit_set_pad (board, 1, r1, 0, 1, 2, &error), "mirror\n", "mirror\n  pad R1.1 x=1 y=2\n");
  EXPECT (ml_board_edit_remove_pad (board, 0, d4, pin (board, "D4", "anode"), &error), "\tpad D4.anode  x=10 y=20.5 # left\n", "");
  EXPECT (ml_board_edit_remove_pad (board, 1, d4, 0, &error), "net A", "net A");
  assert_text (ml_board_edit_remove_part (board, r1, &error), &error,
               "part D4 diode anode=A cathode=B # c\npicture \"top.png\"  scale=12.5/mm # from above\n\tpad D4.anode  x=10 y=20.5 # left\n"
               "picture \"back.jpg\" side=bottom mirror\nnet A\n");
}

static void
test_pads_follow_the_names_of_their_part (void **state)
{
  g_autoptr (MlBoard) board = read_board (pictured);
  GError *error = NULL;

  EXPECT (ml_board_edit_add_nears (board, (const int[]) { net (board, "A"), net (board, "B"), net (board, "C"), net (board, "B") }, 2, &error),
          "1=A 2=C\n", "1=A 2=C\nnear A B\nnear C B\n");
#undef EXPECT
  assert_refused (ml_board_edit_set_pad (board, 0, 0, 0, NAN, 1, &error), &error, "outside");
}

static void
test_rename_pin_follows_every_mention (void **state)
{
  const char *before = "reference M\npart U1 block 1=A 2=M pin.value=B supply=1 ground=2\nbeep U1.1 U1.2 no\npicture \"p\"\n  pad U1.1 x=1 y=2\n"
                       "condition on\n  lift U1.1\n";
  g_autoptr (MlBoard) board = read_board (before);
  GError *error = NULL;

  assert_text (ml_board_edit_rename_pin (board, 0, 0, "VDD", &error), &error,
               "reference M\npart U1 block VDD=A 2=M pin.value=B supply=VDD ground=2\nbeep U1.VDD U1.2 no\npicture \"p\"\n  pad U1.VDD x=1 y=2\n"
               "condition on\n  lift U1.VDD\n");
  assert_text (ml_board_edit_rename_pin (board, 0, 2, "supply", &error), &error,
               "reference M\npart U1 block 1=A 2=M pin.supply=B supply=1 ground=2\nbeep U1.1 U1.2 no\npicture \"p\"\n  pad U1.1 x=1 y=2\n"
               "condition on\n  lift U1.1\n");
  assert_refused (ml_board_edit_rename_pin (board, 0, 0, "2", &error), &error, "already");
  assert_refused (ml_board_edit_rename_pin (board, 0, 0, "a b", &error), &error, "name");
}

/* A capacitor's plus and minus are the same legs as its 1 and 2: by the language's table of kinds. */
static void
test_set_polarity_renames_the_legs_everywhere (void **state)
{
  const char *plain = "reference M\npart C1 capacitor 1=A 2=M value=47u  # by the fuse\nbeep C1.2 C1.1 no\npicture \"p\"\n  pad C1.1 x=1 y=2\n  pad C1.2 x=3 y=4\n"
                      "condition on\n  lift C1.1\n";
  const char *at_first = "reference M\npart C1 capacitor plus=A minus=M value=47u  # by the fuse\nbeep C1.minus C1.plus no\npicture \"p\"\n"
                         "  pad C1.plus x=1 y=2\n  pad C1.minus x=3 y=4\ncondition on\n  lift C1.plus\n";
  const char *at_second = "reference M\npart C1 capacitor minus=A plus=M value=47u  # by the fuse\nbeep C1.plus C1.minus no\npicture \"p\"\n"
                          "  pad C1.minus x=1 y=2\n  pad C1.plus x=3 y=4\ncondition on\n  lift C1.minus\n";
  g_autoptr (MlBoard) board = read_board (plain), polar = read_board (at_first), open = read_board ("part C1 capacitor\npart R1 resistor 1=A 2=B\n");
  GError *error = NULL;

  assert_text (ml_board_edit_set_polarity (board, 0, 0, &error), &error, at_first);
  assert_text (ml_board_edit_set_polarity (board, 0, 1, &error), &error, at_second);
  assert_text (ml_board_edit_set_polarity (board, 0, -1, &error), &error, plain);
  assert_text (ml_board_edit_set_polarity (polar, 0, -1, &error), &error, plain);
  assert_text (ml_board_edit_set_polarity (polar, 0, 1, &error), &error, at_second);
  assert_text (ml_board_edit_set_polarity (open, 0, 0, &error), &error, "part C1 capacitor plus=- minus=-\npart R1 resistor 1=A 2=B\n");
  assert_refused (ml_board_edit_set_polarity (open, 1, 0, &error), &error, "only capacitors");
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_set_value_understands_each_kind),
    cmocka_unit_test (test_a_condition_is_copied_with_all_that_belongs_to_it),
    cmocka_unit_test (test_names_typed_with_what_no_name_holds_become_names),
    cmocka_unit_test (test_set_value_refuses_what_says_nothing),
    cmocka_unit_test (test_set_key_changes_adds_and_removes),
    cmocka_unit_test (test_set_key_finds_a_key_under_its_other_name),
    cmocka_unit_test (test_add_part_takes_the_next_free_name),
    cmocka_unit_test (test_add_part_to_an_empty_board),
    cmocka_unit_test (test_remove_part_takes_all_that_speaks_of_it),
    cmocka_unit_test (test_rename_part_follows_every_mention),
    cmocka_unit_test (test_a_part_number_of_a_kind_with_the_same_pins_changes_the_kind),
    cmocka_unit_test (test_place_writes_changes_and_removes),
    cmocka_unit_test (test_place_keeps_the_pins_of_a_block),
    cmocka_unit_test (test_place_keeps_the_pins_of_a_connector),
    cmocka_unit_test (test_join_pins_names_and_merges_nets),
    cmocka_unit_test (test_join_keeps_what_is_preferred_of_the_net_that_stays),
    cmocka_unit_test (test_join_pins_refuses_to_short_a_supply),
    cmocka_unit_test (test_join_keeps_the_net_that_has_a_statement),
    cmocka_unit_test (test_free_pin_takes_a_net_that_ends),
    cmocka_unit_test (test_add_pin_only_where_pins_are_free),
    cmocka_unit_test (test_remove_pin_only_where_it_is_open),
    cmocka_unit_test (test_net_edits),
    cmocka_unit_test (test_set_title_writes_the_statement_where_missing),
    cmocka_unit_test (test_condition_edits),
    cmocka_unit_test (test_load_edits_keep_what_they_do_not_change),
    cmocka_unit_test (test_set_picture_adds_and_changes_words),
    cmocka_unit_test (test_set_pad_pins_moves_and_removes),
    cmocka_unit_test (test_pads_follow_the_names_of_their_part),
    cmocka_unit_test (test_rename_pin_follows_every_mention),
    cmocka_unit_test (test_set_polarity_renames_the_legs_everywhere),
    cmocka_unit_test (test_edits_keep_crlf_bom_and_a_missing_last_newline),
  };

  return cmocka_run_group_tests (tests, NULL, NULL);
}
