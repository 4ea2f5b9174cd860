/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reading boards: what a statement means, and what is said of one in error. The language is our own: its description is the source. */
#include "support/near.h"
#include "support/size.h"

#include <locale.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "board/board.h"

static MlBoard *
read_with (const char *bytes, gssize length, MlDiagnostics *diagnostics)
{
  g_autoptr (MlText) text = ml_text_new ("test", bytes, length);

  return ml_board_read (text, diagnostics);
}

static void
print_all (const MlDiagnostics *diagnostics)
{
  for (guint i = 0; i < ml_diagnostics_n (diagnostics); i++)
    {
      g_autofree char *line = ml_diagnostic_to_string (ml_diagnostics_get (diagnostics, i));
      print_error ("  %s\n", line);
    }
}

static MlBoard *
read_clean (const char *bytes)
{
  g_autoptr (MlDiagnostics) diagnostics = ml_diagnostics_new ();
  MlBoard *board = read_with (bytes, -1, diagnostics);

  print_all (diagnostics);
  assert_int_equal (ml_diagnostics_n (diagnostics), 0);
  return board;
}

static MlBoard *
read_source_file (const char *name)
{
  g_autofree char *path = g_build_filename (g_getenv ("METERLEAF_SOURCE"), name, NULL);
  g_autofree char *content = NULL;

  assert_true (g_file_get_contents (path, &content, NULL, NULL));
  return read_clean (content);
}

/* ---- what statements mean ---- */

static void
test_every_statement_and_kind_reads (void **state)
{
  g_autoptr (MlBoard) board = read_source_file ("tests/fuzz/corpus-board/every-statement");
  gboolean seen[ML_N_KINDS] = { FALSE };

  for (guint i = 0; i < board->n_parts; i++)
    seen[board->parts[i].kind->kind] = TRUE;
  for (guint i = 0; i < ML_N_KINDS; i++)
    if (i != ML_KIND_PNP && i != ML_KIND_PMOS && i != ML_KIND_PJFET) /* the twins of kinds that are in the file */
      assert_true (seen[i]);
  assert_string_equal (board->title, "Shed fan");
  assert_string_equal (board->revision, "B");
  assert_string_equal (board->notes[0], "two \"fans\" \\ one plug");
  assert_null (board->notes[1]);
  assert_int_equal (board->n_hazards, 1);
  assert_int_equal (board->n_pictures, 1);
  assert_int_equal (board->pictures[0].n_pads, 2);
  assert_int_equal (board->pictures[0].pads[1].pin, -1);
  assert_near (board->pictures[0].scale_px_per_mm, 12.5, 0, 0);
  assert_true (board->pictures[0].mirror && !board->pictures[0].bottom);
  assert_int_equal (board->n_beeps, 1);
  assert_int_equal (board->n_nears, 1);
  assert_int_equal (board->nets[ml_board_find_net (board, "OUT")].prefer, 1);
}

static void
test_part_with_pins_keys_and_place (void **state)
{
  g_autoptr (MlBoard) board = read_source_file ("tests/fuzz/corpus-board/every-statement");
  const MlPart *part = &board->parts[ml_board_find_part (board, "R1")];

  assert_int_equal (part->n_pins, 2);
  assert_string_equal (board->nets[part->pins[0].net].name, "A");
  assert_true (ml_part_attribute (part, ML_KEY_VALUE)->quantity.value == 4700);
  assert_true (ml_part_attribute (part, ML_KEY_VALUE)->quantity.tolerance == 0.10); /* 4K7K */
  assert_true (ml_part_attribute (part, ML_KEY_POWER)->quantity.value == 0.25);
  assert_string_equal (part->package, "P1");
  assert_true (part->placed && part->place.x == 3 && part->place.y == -2 && part->place.turn == 1 && part->place.mirror);
  part = &board->parts[ml_board_find_part (board, "K1a")];
  assert_int_equal (part->by, ml_board_find_part (board, "K1"));
  assert_int_equal (part->pins[ml_part_find_pin (part, "nc")].net, -1);
  part = &board->parts[ml_board_find_part (board, "C1")];
  assert_int_equal (ml_part_find_pin (part, "plus"), 0);
  assert_int_equal (ml_part_find_pin (part, "2"), 1);
  part = &board->parts[ml_board_find_part (board, "Q1")];
  assert_int_equal (part->kind->kind, ML_KIND_NPN);
  assert_string_equal (part->datasheet, "FX1");
  assert_true (ml_part_attribute (part, ML_KEY_GAIN)->from_datasheet && ml_part_attribute (part, ML_KEY_GAIN)->quantity.value == 300);
  part = &board->parts[ml_board_find_part (board, "Q2")];
  assert_true (ml_part_attribute (part, ML_KEY_ON)->quantity.value == 0.05 && ml_part_attribute (part, ML_KEY_ON)->at.value == 10);
  part = &board->parts[ml_board_find_part (board, "U8")];
  assert_int_equal (part->supply_pin, ml_part_find_pin (part, "VDD"));
  assert_int_equal (part->ground_pin, ml_part_find_pin (part, "GND"));
  assert_true (ml_part_find_pin (part, "supply") >= 0); /* pin.supply= is a pin, supply= a key */
}

static void
test_condition_with_all_it_may_hold (void **state)
{
  g_autoptr (MlBoard) board = read_source_file ("tests/fuzz/corpus-board/every-statement");
  const MlCondition *on = &board->conditions[ml_board_find_condition (board, "on")];

  assert_string_equal (on->label, "runs");
  assert_int_equal (on->n_supplies, 2);
  assert_string_equal (on->supplies[0].name, "1");
  assert_true (on->supplies[0].limit_written && on->supplies[0].limit_a == 0.4 && on->supplies[0].voltage_v == 12);
  assert_string_equal (on->supplies[1].name, "aux");
  assert_true (!on->supplies[1].limit_written && on->supplies[1].limit_a == 3); /* 3 A where none is written */
  assert_int_equal (on->n_loads, 2);
  assert_true (on->loads[0].resistance_ohm == 100 && isnan (on->loads[0].current_a));
  assert_true (on->loads[1].current_a == 0.01 && isnan (on->loads[1].resistance_ohm));
  assert_int_equal (on->n_settings, 4);
  assert_int_equal (on->settings[0].state, ML_SETTING_CLOSED);
  assert_int_equal (on->settings[1].state, ML_SETTING_MIDDLE);
  assert_true (on->settings[3].state == ML_SETTING_POSITION && on->settings[3].position == 0.3);
  assert_int_equal (on->n_lifts, 1);
  assert_int_equal (on->n_removals, 1);
  assert_int_equal (on->n_connects, 1);
  assert_false (ml_condition_is_cold (on));
  assert_true (ml_condition_is_cold (&board->conditions[1]));
}

static void
test_block_pins_are_found_from_the_nets (void **state)
{
  g_autoptr (MlBoard) board = read_clean ("reference M\npart U1 regulator in=IN out=V5 ground=M\npart U2 block a=X b=M c=V5\n"
                                          "part J1 connector 1=IN 2=X\n");
  const MlPart *block = &board->parts[1];

  assert_int_equal (block->ground_pin, 1);
  assert_int_equal (block->supply_pin, 2);
}

static void
assert_pin (const MlPart *block, int pin, const char *name)
{
  if (name)
    assert_string_equal (block->pins[pin].name, name);
  else
    assert_int_equal (pin, -1);
}

/* Which pins of a chip among these parts, fed 12 V from IN, are found to be its supply and its ground; NULL: none. */
static void
assert_chip (const char *parts, const char *pins, const char *supply, const char *ground)
{
  g_autofree char *text = g_strconcat ("reference M\n", parts, "part U9 block ", pins, "\ncondition on\n  supply plus=IN minus=M voltage=12\n", NULL);
  g_autoptr (MlBoard) board = read_clean (text);
  const MlPart *block = &board->parts[ml_board_find_part (board, "U9")];

  assert_pin (block, block->supply_pin, supply);
  assert_pin (block, block->ground_pin, ground);
}

/* How a chip is fed where no regulator and no lead is on its pin: over a series resistor with a zener diode, a pass transistor, a protecting
 * diode, or out of another chip with a capacitor on it or more chips; what only a pull-up reaches is a signal. Common practice, no source. */
static void
test_block_supply_is_the_best_fed_pin (void **state)
{
  static const struct { const char *parts, *supply; } feeds[] = {
    { "part R1 resistor 1=IN 2=A value=330\npart D1 zener cathode=A anode=M\npart R2 resistor 1=A 2=B value=10k\n", "a" },
    { "part Q1 npn collector=IN base=C emitter=A\npart R1 resistor 1=IN 2=C value=1k\npart R2 resistor 1=A 2=B value=4k7\n", "a" },
    { "part D1 diode anode=IN cathode=B\npart R1 resistor 1=IN 2=A value=1k\n", "b" },
    { "part D1 diode anode=B cathode=IN\npart R1 resistor 1=IN 2=A value=1k\n", "a" },
    { "part Q1 pnp emitter=IN base=A collector=B\npart R1 resistor 1=IN 2=A value=2k2\n", "b" },
    { "part U1 block 1=IN 2=M 3=A\npart R1 resistor 1=IN 2=B value=47k\n", NULL },
    { "part U1 block 1=IN 2=M 3=A\npart R1 resistor 1=A 2=C\npart R2 resistor 1=A 2=B\n", "a" },
    { "part U1 block 1=IN 2=M 3=A\npart C1 capacitor 1=A 2=M\n", "a" },
    { "part R1 resistor 1=IN 2=A value=47k\npart R2 resistor 1=IN 2=B value=22k\n", NULL },
    { "part Q1 npn collector=A base=B emitter=M\npart K1 coil 1=IN 2=A\n", NULL },
  };

  for (guint i = 0; i < G_N_ELEMENTS (feeds); i++)
    assert_chip (feeds[i].parts, "c=M b=B a=A", feeds[i].supply, "c");
}

/* A chip whose ground comes over a sense resistor or a low-side transistor; a pull-down is a signal. */
static void
test_block_ground_is_the_pin_nearest_to_the_reference (void **state)
{
  static const struct { const char *parts, *ground; } ways[] = {
    { "part R1 resistor 1=A 2=M value=0R22\npart R2 resistor 1=B 2=M value=10k\n", "a" },
    { "part Q1 nmos drain=B gate=IN source=M\npart R2 resistor 1=A 2=M value=10k\n", "b" },
    { "part R1 resistor 1=A 2=M value=4k7\npart R2 resistor 1=B 2=M value=10k\n", NULL },
  };

  for (guint i = 0; i < G_N_ELEMENTS (ways); i++)
    assert_chip (ways[i].parts, "c=IN b=B a=A", "c", ways[i].ground);
}

/* What is printed beside a pin in every data sheet goes before how it is fed. */
static void
test_block_supply_is_the_pin_called_so (void **state)
{
  g_autoptr (MlBoard) board = read_clean ("reference M\npart R1 resistor 1=IN 2=A value=10k\npart C1 capacitor 1=A 2=M\npart U1 block EN=IN VDD=A VSS=B\n"
                                          "condition on\n  supply plus=IN minus=M voltage=5\n");
  const MlPart *block = &board->parts[ml_board_find_part (board, "U1")];

  assert_string_equal (block->pins[block->supply_pin].name, "VDD");
  assert_string_equal (block->pins[block->ground_pin].name, "VSS");
}

static void
test_generated_nets_are_known_by_their_form (void **state)
{
  g_autoptr (MlBoard) board = read_clean ("part R1 resistor 1=N12 2=NET\npart R2 resistor 1=N3 2=n4\nnet N3 \"a person's\"\n");

  assert_true (board->nets[ml_board_find_net (board, "N12")].generated);
  assert_false (board->nets[ml_board_find_net (board, "NET")].generated);
  assert_false (board->nets[ml_board_find_net (board, "N3")].generated);
  assert_false (board->nets[ml_board_find_net (board, "n4")].generated);
}

static void
test_layout_of_the_file_does_not_matter (void **state)
{
  g_autoptr (MlBoard) board = read_clean ("\xef\xbb\xbf# comment\r\nmeterleaf 1\r\n\r\ncondition on\r\n\t# inside\r\n\tsupply plus=A \\\r\n\t\tminus=B  voltage=5 # end\r\n"
                                          "reference B\r\npart R1\tresistor\t1=A 2=B");

  assert_int_equal (board->reference, ml_board_find_net (board, "B"));
  assert_int_equal (board->n_conditions, 1);
  assert_int_equal (board->conditions[0].n_supplies, 1);
  assert_int_equal (board->conditions[0].supplies[0].line, 6);
  assert_int_equal (board->parts[0].line, 9);
}

static void
test_value_texts_beside_symbols (void **state)
{
  static const struct { const char *words, *text; } table[] = {
    { "resistor value=4700", "4k7" }, { "resistor", "" }, { "resistor value=R47", "R47" }, { "1N4148", "1N4148" }, { "led colour=red", "red" },
    { "capacitor value=100u voltage=25", "100u" }, { "fuse current=500m", "500 mA" }, { "zener voltage=6.2", "6.2 V" },
    { "zener voltage=6.2@41m", "6.2 V" },
  };

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      g_autofree char *bytes = g_strconcat ("part X1 ", table[i].words, NULL);
      g_autoptr (MlBoard) board = read_clean (bytes);
      g_autofree char *text = ml_part_value_text (&board->parts[0]);
      assert_string_equal (text, table[i].text);
    }
}

/* Names are cases of their own, and the letter of a name says nothing of the part. */
static void
test_names_mean_nothing (void **state)
{
  g_autoptr (MlBoard) board = read_clean ("part R1 diode anode=a cathode=A\npart r1 led\n");

  assert_int_equal (board->n_nets, 2);
  assert_int_equal (board->parts[0].kind->kind, ML_KIND_DIODE);
  assert_int_equal (ml_board_find_part (board, "r1"), 1);
}

/* ---- what is said of errors ---- */

typedef struct { const char *bytes; guint line, column; const char *words; } Wrong;

static const Wrong wrong[] = {
  { "prat R1 resistor\n", 1, 1, "part" },
  { "part R1 resistr\n", 1, 9, "resistor" },
  { "part R1\n", 1, 6, "kind" },
  { "part\n", 1, 1, "name" },
  { "part R.1 resistor\n", 1, 6, "R.1" },
  { "part R1 resistor 1=A 1=B\n", 1, 22, "twice" },
  { "part R1 resistor 3=A\n", 1, 18, "'3'" },
  { "part R1 resistor valu=4k7\n", 1, 18, "value" },
  { "part R1 resistor value=4x7\n", 1, 25, "left over" },
  { "part R1 resistor value=5V\n", 1, 25, "unit" },
  { "part R1 resistor value=0\n", 1, 24, "above zero" },
  { "picture\n", 1, 1, "file" },
  { "picture \"p\" scale=0\n", 1, 19, "per millimetre" },
  { "picture \"p\" scale=9/inch\n", 1, 19, "per millimetre" },
  { "picture \"p\" turn=400\n", 1, 18, "degrees" },
  { "part R1 resistor\npicture \"p\"\n pad R1.1 x=1 y=1\n pad R1.1 x=2 y=2\n", 4, 6, "already" },
  { "part R1 resistor\npicture \"p\"\n pad R1.1 x=1\n", 3, 2, "pixels" },
  { "part R1 resistor\npicture \"p\"\n pad R1.1 x=1e9 y=0\n", 3, 2, "million" },
  { "part R1 resistor\npicture \"p\"\n pad R1.3 x=1 y=1\n", 3, 6, "'3'" },
  { "part R1 resistor value=-5\n", 1, 24, "above zero" },
  { "part R1 resistor value=1e-30\n", 1, 24, "no part is like that; expected 1 µΩ to 1000 GΩ. A wire is a link" },
  { "part R1 resistor value=1e30\n", 1, 24, "expected 1 µΩ to 1000 GΩ" },
  { "part Q1 npn gain=0.71\n", 1, 18, "expected 1 to 10 million. A reading in volts belongs in the job" },
  { "part C1 capacitor value=1e-30\n", 1, 25, "no part is like that" },
  { "part D1 zener voltage=1e9\n", 1, 23, "no part is like that" },
  { "part R1 resistor 1=A 2=B\ncondition on\n  load plus=A minus=B value=1e-30\n", 3, 29, "no part is like that" },
  { "part R1 resistor value=4,7k\n", 1, 25, "point here, not a comma" },
  { "part C1 capacitor value=10MFD\n", 1, 29, "100n or 47u" },
  { "part D1 diode drop=0.7@-1m\n", 1, 24, "behind @" },
  { "part D1 diode drop=0.7@0\n", 1, 24, "behind @" },
  { "part Q1 npn value=BC547\n", 1, 13, "in place of its kind" },
  { "part S1 switch value=2\n", 1, 16, "its keys are: tolerance" },
  { "part U1 block value=VCC\n", 1, 15, "pin.value=NET" },
  { "part Q1 npn c=A\n", 1, 13, "did you mean collector?" },
  { "part D1 diode k=A\n", 1, 15, "did you mean cathode?" },
  { "part R1 res\n", 1, 9, "did you mean resistor?" },
  { "part D1 1N5401 anode=A cathode=B\n", 1, 9, "did you mean 1N5400? If not, add a line: datasheet 1N5401 diode" },
  { "part K1 Relay\n", 1, 9, "did you mean coil?" },
  { "part D1 schottky\n", 1, 9, "did you mean diode?" },
  { "part Y1 crystal\n", 1, 9, "drawn as a block" },
  { "datasheet X1 resistor 1=A\n", 1, 23, "its keys are: value" },
  { "board Vent controller\n", 1, 12, "in quotes" },
  { "condition at rest\n", 1, 14, "label in quotes" },
  { "part R1 resistor tolerance=500%\n", 1, 28, "100%" },
  { "part R1 resistor value=\n", 1, 24, "missing" },
  { "part R1 resistor =A\n", 1, 18, "before =" },
  { "part R1 resistor 1=\"A\n", 1, 20, "not closed" },
  { "part R1 resistor\npart R1 led\n", 2, 6, "line 1" },
  { "part D1 diode family=shotky\n", 1, 22, "schottky" },
  { "part D1 diode drop=0.3@x\n", 1, 24, "no number" },
  { "part C1 capacitor 1=A minus=B\n", 1, 23, "not both" },
  { "part K1a contact common=A no=B by=K7\n", 1, 32, "K7" },
  { "part R1 resistor\npart K1a contact by=R1\n", 2, 18, "not a coil" },
  { "part U1 block 1=A 1=B\n", 1, 19, "twice" },
  { "part U1 block 1=A supply=VDD\n", 1, 19, "VDD" },
  { "part R1 resistor 1=a.b\n", 1, 20, "a.b" },
  { "part \xc3\x9c" "1 resistr\n", 1, 9, "resistor" }, /* columns count characters, not bytes */
  { "part R1 resistor 1=A 2=B\ncondition on\n  supply plus=A minus=C voltage=5\n", 3, 23, "'C'" },
  { "part R1 resistor 1=FEED 2=B\ncondition on\n  supply plus=FED minus=B voltage=5\n", 3, 15, "FEED" },
  { "part R1 resistor 1=A 2=B\ncondition on\n  supply plus=A minus=B\n", 3, 3, "voltage" },
  { "part R1 resistor 1=A 2=B\ncondition on\n  supply plus=A minus=A voltage=5\n", 3, 3, "both leads" },
  { "part R1 resistor 1=A 2=B\ncondition on\n  supply plus=A minus=B voltage=-5\n", 3, 3, "exchange" },
  { "part R1 resistor 1=A 2=B\ncondition on\n  supply plus=A minus=B voltage=5 limt=1\n", 3, 35, "limit" },
  { "condition on\n  suply plus=A\n", 2, 3, "supply" },
  { "condition on\ncondition on\n", 2, 11, "already" },
  { "part R1 resistor 1=A 2=B\nprefer A high\nprefer A low\n", 3, 8, "said already" },
  { "part R1 resistor 1=A 2=B\nplace R1 x=1 y=1\nplace R1 x=2 y=1\n", 3, 7, "already" },
  { "part R1 resistor 1=A 2=B\ncondition on\n connect A A\n", 3, 12, "two nets" },
  { "assume prior.healthy 0.2\nassume prior.healthy 0.3\n", 2, 8, "twice" },
  { "assume prior.helthy 0.2\n", 1, 8, "did you mean prior.healthy?" },
  { "part K1 coil 1=A 2=B\npart K2 contact common=A by=K9\n", 2, 26, "did you mean K1?" },
  { "part K1 coil 1=A 2=B\npart R1 resistor 1=A 2=B\npart K2 contact common=A by=R1\n", 3, 26, "not a coil" },
  { "part S1 switch\ncondition on\n  set S1 a\n", 3, 10, "closed" },
  { "part R1 resistor\ncondition on\n  set R1 closed\n", 3, 7, "switch" },
  { "part S1 switch\ncondition on\n  set S1 open\n  set S1 closed\n", 4, 7, "twice" },
  { "part RV1 potentiometer\ncondition on\n  set RV1 position=120%\n", 3, 11, "100%" },
  { "part D4 diode\ncondition on\n  lift D4.cathod\n", 3, 8, "cathode" },
  { "part D4 diode\ncondition on\n  lift D5.cathode\n", 3, 8, "D4" },
  { "part D4 diode\ncondition on\n  lift D4\n", 3, 8, "PART.PIN" },
  { "supply plus=A\n", 1, 1, "condition" },
  { "  supply plus=A\n", 1, 3, "there is none" },
  { "note \"a\"\n  supply plus=A\n", 2, 3, "note" },
  { "meterleaf 2\n", 1, 11, "version 1" },
  { "note \"x\"\nmeterleaf 1\n", 2, 1, "before everything" },
  { "near A\n", 1, 6, "near" },
  { "part R1 resistor 1=A 2=B\nbeep R1.1 R1.2 maybe\n", 2, 16, "yes" },
  { "part R1 resistor\nplace R1 x=1\n", 2, 1, "y=" },
  { "part R1 resistor\nplace R1 x=1 y=2 left=1\n", 2, 18, "is no block" },
  { "part U1 block 1=A 2=B\nplace U1 x=1 y=2 pin.1=3,4,left\n", 2, 18, "is no connector" },
  { "part J1 connector 1=A 2=B\nplace J1 x=1 y=2 pin.3=3,4,left\n", 2, 18, "no pin '3'" },
  { "part J1 connector 1=A 2=B\nplace J1 x=1 y=2 pin.2=3,4\n", 2, 18, "where the wire leaves" },
  { "part J1 connector 1=A 2=B\nplace J1 x=1 y=2 pin.2=3,4,up\n", 2, 18, "where the wire leaves" },
  { "part J1 connector 1=A 2=B\nplace J1 x=1 y=2 pin.2=3,x,left\n", 2, 24, "no number" },
  { "part J1 connector 1=A 2=B\nplace J1 x=1 y=2 pin.2=3,1e6,left\n", 2, 18, "grid units" },
  { "part J1 connector 1=A 2=B\nplace J1 x=1 y=2 pin.2=3,4,left pin.2=5,4,left\n", 2, 33, "already" },
  { "part U1 block 1=A 2=B\nplace U1 x=1 y=2 left=1,3\n", 2, 18, "no pin '3'" },
  { "part U1 block 1=A 2=B\nplace U1 x=1 y=2 left=1 right=2,1\n", 2, 25, "already" },
  { "part U1 block 1=A 2=B\nplace U1 x=1 y=2 left=\n", 2, 23, "missing after left=" },
  { "part R1 resistor\nplace R1 x=1 y=2 turn=45\n", 2, 18, "90" },
  { "hazard fire \"x\"\n", 1, 8, "mains" },
  { "datasheet led npn\n", 1, 11, "kind" },
  { "datasheet X1 npn gain=100\ndatasheet X1 npn\n", 2, 11, "twice" },
  { "note \"a\\n\"\n", 1, 8, "backslash" },
  { "note \"a\"b\n", 1, 9, "blank" },
  { "part R1 resistor 1=A\\B\n", 1, 21, "backslash" },
  { "part R1 resistor \\\n", 1, 18, "ends" },
  { "part R1 \x01\n", 1, 9, "0x01" },
  { "note \"a\"\nnote \"\xff\"\n", 2, 7, "UTF-8" },
  { "a\rb\n", 1, 2, "carriage return" },
};

static gboolean
is_said (const MlDiagnostics *diagnostics, const Wrong *it)
{
  for (guint i = 0; i < ml_diagnostics_n (diagnostics); i++)
    {
      const MlDiagnostic *one = ml_diagnostics_get (diagnostics, i);
      if (one->severity == ML_SEVERITY_ERROR && one->line == it->line && one->column == it->column && strstr (one->message, it->words) != NULL)
        return TRUE;
    }
  return FALSE;
}

static void
test_each_error_is_said_at_its_place (void **state)
{
  guint n_failed = 0;

  for (guint i = 0; i < G_N_ELEMENTS (wrong); i++)
    {
      g_autoptr (MlDiagnostics) diagnostics = ml_diagnostics_new ();
      G_GNUC_UNUSED g_autoptr (MlBoard) board = read_with (wrong[i].bytes, -1, diagnostics);

      if (is_said (diagnostics, &wrong[i]) && ml_diagnostics_n (diagnostics) == 1)
        continue;
      print_error ("%s: expected %u:%u with '%s' and nothing else, found\n", wrong[i].bytes, wrong[i].line, wrong[i].column, wrong[i].words);
      print_all (diagnostics);
      n_failed++;
    }
  assert_int_equal (n_failed, 0);
}

static void
test_all_errors_in_one_go_and_in_order (void **state)
{
  g_autoptr (MlDiagnostics) diagnostics = ml_diagnostics_new ();
  g_autoptr (MlBoard) board = read_with ("bord \"x\"\npart R1 resistor value=x\npart R2 resistor 1=A 2=B\ncondition on\n"
                                         "  supply plus=Q minus=B voltage=1\nnear A Z\n", -1, diagnostics);

  assert_int_equal (ml_diagnostics_n_errors (diagnostics), 4);
  for (guint i = 1; i < 4; i++)
    assert_true (ml_diagnostics_get (diagnostics, i - 1)->line < ml_diagnostics_get (diagnostics, i)->line);
  assert_int_equal (board->n_parts, 2); /* what is right is kept */
}

static void
test_a_reference_without_pins_is_doubted (void **state)
{
  g_autoptr (MlDiagnostics) diagnostics = ml_diagnostics_new ();
  G_GNUC_UNUSED g_autoptr (MlBoard) board = read_with ("reference MINSU\npart R1 resistor 1=A 2=MINUS\n", -1, diagnostics);

  assert_int_equal (ml_diagnostics_n_errors (diagnostics), 0);
  assert_int_equal (ml_diagnostics_n (diagnostics), 1);
  assert_non_null (strstr (ml_diagnostics_get (diagnostics, 0)->message, "did you mean MINUS?"));
}

static void
test_a_part_number_in_other_letters_is_proposed (void **state)
{
  g_autoptr (MlDiagnostics) diagnostics = ml_diagnostics_new ();
  G_GNUC_UNUSED g_autoptr (MlBoard) board
      = read_with ("part D1 1n4148 anode=A cathode=B\npart D2 MY1 anode=A cathode=B\ndatasheet MY12 diode family=silicon\n", -1, diagnostics);

  assert_int_equal (ml_diagnostics_n_errors (diagnostics), 2);
  assert_non_null (strstr (ml_diagnostics_get (diagnostics, 0)->message, "did you mean 1N4148?"));
  assert_non_null (strstr (ml_diagnostics_get (diagnostics, 1)->message, "did you mean MY12?"));
}

/* ---- hostile files ---- */

static GString *
repeated (const char *format, guint n)
{
  GString *bytes = g_string_new (NULL);

  for (guint i = 0; i < n; i++)
    {
      g_autofree char *number = g_strdup_printf ("%u", i);
      g_auto (GStrv) parts = g_strsplit (format, "@", -1);
      g_autofree char *line = g_strjoinv (number, parts);
      g_string_append (bytes, line);
    }
  return bytes;
}

/* Files at the limits end within seconds: everything is linear. 20 s leave room for a loaded machine and a sanitizer. */
static void
test_hostile_files_end_soon (void **state)
{
  static const struct { const char *format; guint n; } table[] = {
    { "x", 8000000 },                                    { "x @ ", 1000000 },
    { "part R@ resistor 1=A@ 2=B@\n", 200000 },          { "part\n", 199000 },
    { "near A@ B@\n", 199000 },                          { "condition c@\n", 199000 },
    { "datasheet X@ npn\n", 199000 },                    { "  supply plus=A minus=B voltage=1\n", 199000 },
    { "net N@ switching\n", 199000 },                    { "\\\n", 199000 },
    { "part R1 resistor 1=A@ 2=B@ \\\n", 100000 },       { "\"", 1000000 },
    { "part U@ block a=A b=B c=C d=D e=E f=F g=G h=H i=I j=J k=K l=L m=M n=N o=O p=P q=Q r=R s=S t=T\n", 60000 },
  };

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      GString *bytes = repeated (table[i].format, ml_test_size (table[i].n, table[i].n / 8));
      g_autoptr (MlDiagnostics) diagnostics = ml_diagnostics_new ();
      g_autoptr (GTimer) timer = g_timer_new ();
      g_autoptr (MlBoard) board = read_with (bytes->str, (gssize) bytes->len, diagnostics);

      ml_board_check (board, diagnostics);
      if (g_timer_elapsed (timer, NULL) > 2)
        print_message ("%.1f s for %u times %s\n", g_timer_elapsed (timer, NULL), table[i].n, table[i].format);
      assert_true (g_timer_elapsed (timer, NULL) < 20);
      assert_true (ml_diagnostics_n (diagnostics) <= ML_DIAGNOSTICS_MAX + 1);
      g_string_free (bytes, TRUE);
    }
}

static void
test_limits_are_errors (void **state)
{
  static const struct { const char *format; guint n; const char *words; } table[] = {
    { "part R@ resistor\n", ML_BOARD_MAX_PARTS + 1, "at most 20000 parts" },
    { "condition c@\n", ML_BOARD_MAX_CONDITIONS + 1, "at most 1000 conditions" },
    { "#\n", ML_TEXT_MAX_LINES, NULL },
    { "#\n", ML_TEXT_MAX_LINES + 1, "at most 200000 lines" },
    { "note @ x", 20000, "words" },
  };

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      GString *bytes = repeated (table[i].format, table[i].n);
      g_autoptr (MlDiagnostics) diagnostics = ml_diagnostics_new ();
      G_GNUC_UNUSED g_autoptr (MlBoard) board = read_with (bytes->str, (gssize) bytes->len, diagnostics);

      assert_int_equal (ml_diagnostics_n_errors (diagnostics), table[i].words != NULL ? 1 : 0);
      if (table[i].words != NULL && strstr (ml_diagnostics_get (diagnostics, 0)->message, table[i].words) == NULL)
        print_all (diagnostics);
      if (table[i].words != NULL)
        assert_non_null (strstr (ml_diagnostics_get (diagnostics, 0)->message, table[i].words));
      g_string_free (bytes, TRUE);
    }
}

static void
test_a_binary_file_is_said_once (void **state)
{
  static const char bytes[] = "\x7f" "ELF\n\0\0\0\n\xff\n\0";
  g_autoptr (MlDiagnostics) diagnostics = ml_diagnostics_new ();
  G_GNUC_UNUSED g_autoptr (MlBoard) board = read_with ("part \0\n\xff\n\xff\n", 10, diagnostics);
  g_autoptr (MlDiagnostics) more = ml_diagnostics_new ();
  G_GNUC_UNUSED g_autoptr (MlBoard) other = read_with (bytes, sizeof bytes, more);

  assert_int_equal (ml_diagnostics_n_errors (diagnostics), 1);
  assert_non_null (strstr (ml_diagnostics_get (diagnostics, 0)->message, "no text file"));
  assert_true (ml_diagnostics_n_errors (more) >= 1 && ml_diagnostics_n_errors (more) <= 3);
}

/* Every prefix of a good file reads without a crash: a torn file. */
static void
test_truncated_files_read (void **state)
{
  g_autofree char *path = g_build_filename (g_getenv ("METERLEAF_SOURCE"), "tests/fuzz/corpus-board/every-statement", NULL);
  g_autofree char *content = NULL;
  gsize length;

  assert_true (g_file_get_contents (path, &content, &length, NULL));
  for (gsize n = 0; n < length; n += 7)
    {
      g_autoptr (MlDiagnostics) diagnostics = ml_diagnostics_new ();
      g_autoptr (MlBoard) board = read_with (content, (gssize) n, diagnostics);
      ml_board_check (board, diagnostics);
    }
}

static void
test_messages_beyond_the_limit_are_counted (void **state)
{
  GString *bytes = repeated ("nonsense @\n", 3000);
  g_autoptr (MlDiagnostics) diagnostics = ml_diagnostics_new ();
  G_GNUC_UNUSED g_autoptr (MlBoard) board = read_with (bytes->str, -1, diagnostics);

  assert_int_equal (ml_diagnostics_n_errors (diagnostics), 3000);
  assert_int_equal (ml_diagnostics_n (diagnostics), ML_DIAGNOSTICS_MAX + 1);
  g_string_free (bytes, TRUE);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_every_statement_and_kind_reads),
    cmocka_unit_test (test_part_with_pins_keys_and_place),
    cmocka_unit_test (test_condition_with_all_it_may_hold),
    cmocka_unit_test (test_block_pins_are_found_from_the_nets),
    cmocka_unit_test (test_block_supply_is_the_best_fed_pin),
    cmocka_unit_test (test_block_ground_is_the_pin_nearest_to_the_reference),
    cmocka_unit_test (test_block_supply_is_the_pin_called_so),
    cmocka_unit_test (test_generated_nets_are_known_by_their_form),
    cmocka_unit_test (test_layout_of_the_file_does_not_matter),
    cmocka_unit_test (test_value_texts_beside_symbols),
    cmocka_unit_test (test_names_mean_nothing),
    cmocka_unit_test (test_each_error_is_said_at_its_place),
    cmocka_unit_test (test_all_errors_in_one_go_and_in_order),
    cmocka_unit_test (test_a_reference_without_pins_is_doubted),
    cmocka_unit_test (test_a_part_number_in_other_letters_is_proposed),
    cmocka_unit_test (test_hostile_files_end_soon),
    cmocka_unit_test (test_limits_are_errors),
    cmocka_unit_test (test_a_binary_file_is_said_once),
    cmocka_unit_test (test_truncated_files_read),
    cmocka_unit_test (test_messages_beyond_the_limit_are_counted),
  };

  if (setlocale (LC_ALL, "de_DE.UTF-8") == NULL) /* the comma is the decimal mark there: files do not care */
    fprintf (stderr, "the locale de_DE.UTF-8 is not installed: tested in the C locale\n");
  return cmocka_run_group_tests (tests, NULL, NULL);
}
