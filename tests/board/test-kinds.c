/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The table of kinds: pins and keys as the language's description lists them, and every kind there and back. */
#include "support/near.h"

#include <string.h>

#include "board/board.h"
#include "board/edit.h"

static const struct { const char *word, *pins, *keys; } described[] = {
  { "resistor", "1 2", "value tolerance power current reverse package" },
  { "link", "1 2", "resistance value tolerance" },
  { "inductor", "1 2", "value resistance" },
  { "capacitor", "1 2", "value tolerance" },
  { "potentiometer", "1 2 wiper", "value position" },
  { "thermistor", "1 2", "value beta" },
  { "varistor", "1 2", "clamp value" },
  { "tvs", "1 2", "clamp" },
  { "fuse", "1 2", "resistance current value" },
  { "coil", "1 2", "resistance pull release show value" },
  { "switch", "1 2", "package" },
  { "changeover", "common a b", "package" },
  { "contact", "common no nc", "by" },
  { "lamp", "1 2", "voltage power" },
  { "diode", "anode cathode", "family drop reverse" },
  { "led", "anode cathode", "colour drop" },
  { "zener", "anode cathode", "voltage tolerance" },
  { "bridge", "ac1 ac2 plus minus", "family drop" },
  { "npn", "collector base emitter", "gain tolerance" },
  { "pnp", "collector base emitter", "gain" },
  { "nmos", "drain gate source", "threshold on" },
  { "pmos", "drain gate source", "threshold on" },
  { "njfet", "drain gate source", "idss" },
  { "pjfet", "drain gate source", "idss" },
  { "thyristor", "anode cathode gate", "trigger hold drop" },
  { "triac", "1 2 gate", "trigger hold drop" },
  { "regulator", "in out ground", "voltage dropout limit" },
  { "adjustable", "in out adjust", "reference dropout limit" },
  { "shunt", "cathode anode reference", "voltage" },
  { "opamp", "noninverting inverting out positive negative", "offset bias headroom footroom" },
  { "comparator", "noninverting inverting out positive negative", "offset bias output" },
  { "opto", "anode cathode collector emitter", "ratio" },
  { "converter", "in out ground", "voltage efficiency limit start" },
  { "battery", "plus minus", "voltage resistance" },
  { "connector", "", "package" },
  { "testpoint", "", "package" },
  { "block", "", "supply ground package" },
};

static void
test_pins_and_keys_are_as_described (void **state)
{
  assert_int_equal (G_N_ELEMENTS (described), ML_N_KINDS);
  for (guint i = 0; i < ML_N_KINDS; i++)
    {
      const MlKindInfo *kind = ml_kind_find (described[i].word);
      g_autofree char *pins = NULL;
      g_auto (GStrv) keys = g_strsplit (described[i].keys, " ", -1);

      assert_ptr_equal (kind, ml_kind_info (i));
      assert_int_equal (kind->kind, i);
      pins = g_strjoinv (" ", (char **) kind->pins);
      assert_string_equal (pins, described[i].pins);
      for (guint k = 0; keys[k] != NULL; k++)
        assert_non_null (ml_kind_key (kind, keys[k]));
      assert_true (*kind->trade_name != '\0' && *kind->letter != '\0' && g_ascii_isupper (kind->letter[0]));
      assert_int_equal (kind->any_pins, *described[i].pins == '\0');
    }
  assert_null (ml_kind_find ("Resistor"));
  assert_null (ml_kind_key (ml_kind_info (ML_KIND_RESISTOR), "colour"));
}

/* No key of a kind is named as one of its own pins: the two could not be told apart. */
static void
test_keys_are_no_pins (void **state)
{
  for (guint i = 0; i < ML_N_KINDS; i++)
    for (guint k = 0; k < ml_kind_info (i)->n_keys; k++)
      assert_false (g_strv_contains (ml_kind_info (i)->pins, ml_kind_info (i)->keys[k].word));
}

static const char *
example (const MlKeyInfo *key)
{
  switch (key->shape)
    {
    case ML_KEY_IS_QUANTITY:
      return key->unit == ML_UNIT_PERCENT ? "5%" : "1.5";
    case ML_KEY_IS_AT:
      return "0.5@10m";
    case ML_KEY_IS_CHOICE:
      return "";
    default:
      return "1";
    }
}

/* `value` is a common key: what the trade calls the value of such a part. */
static void
test_value_is_the_figure_a_part_is_known_by (void **state)
{
  static const struct { const char *part; MlKey key; double value; } table[] = {
    { "part D1 zener anode=A cathode=B value=5.6", ML_KEY_VOLTAGE, 5.6 },
    { "part U1 regulator in=A out=B ground=G value=5V", ML_KEY_VOLTAGE, 5 },
    { "part K1 coil 1=A 2=B value=320", ML_KEY_RESISTANCE, 320 },
    { "part F1 fuse 1=A 2=B value=500mA", ML_KEY_CURRENT, 0.5 },
    { "part D1 tvs 1=A 2=B value=\"15 volts\"", ML_KEY_CLAMP, 15 },
    { "part BT1 battery plus=A minus=B value=3.7", ML_KEY_VOLTAGE, 3.7 },
  };

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      g_autoptr (MlText) text = ml_text_new ("test", table[i].part, -1);
      g_autoptr (MlDiagnostics) diagnostics = ml_diagnostics_new ();
      g_autoptr (MlBoard) board = ml_board_read (text, diagnostics);
      const MlAttribute *attribute = board->n_parts > 0 ? ml_part_attribute (&board->parts[0], table[i].key) : NULL;

      assert_int_equal (ml_diagnostics_n (diagnostics), 0);
      assert_non_null (attribute);
      assert_near (attribute->quantity.value, table[i].value, 1e-12, 0);
    }
}

/* "a" or "an" as it is spoken. */
static void
test_kinds_are_called_with_their_article (void **state)
{
  assert_string_equal (ml_kind_called (ml_kind_info (ML_KIND_RESISTOR)), "a resistor");
  assert_string_equal (ml_kind_called (ml_kind_info (ML_KIND_NPN)), "an npn");
  assert_string_equal (ml_kind_called (ml_kind_info (ML_KIND_OPAMP)), "an opamp");
  assert_string_equal (ml_kind_called (ml_kind_info (ML_KIND_LED)), "an led");
  assert_string_equal (ml_kind_called (ml_kind_info (ML_KIND_PNP)), "a pnp");
}

/* Every kind with every pin and key: added, written, read again. */
static void
test_every_kind_there_and_back (void **state)
{
  for (guint i = 0; i < ML_N_KINDS; i++)
    {
      const MlKindInfo *kind = ml_kind_info (i);
      g_autoptr (GString) bytes = g_string_new (NULL);
      g_autoptr (MlDiagnostics) diagnostics = ml_diagnostics_new ();
      g_autoptr (MlText) text = NULL;
      g_autoptr (MlBoard) board = NULL;
      guint n_keys = 0;

      g_string_append_printf (bytes, "part X1 %s", kind->word);
      for (guint k = 0; kind->pins[k] != NULL; k++)
        g_string_append_printf (bytes, " %s=NET%u", kind->pins[k], k);
      if (kind->any_pins)
        g_string_append (bytes, " 1=NET0 pin.value=NET1");
      for (guint k = 0; k < kind->n_keys; k++)
        {
          g_auto (GStrv) choices = kind->keys[k].choices != NULL ? g_strsplit (kind->keys[k].choices, "|", -1) : NULL;

          if (kind->keys[k].key == ML_KEY_BY)
            continue;
          n_keys++;
          g_string_append_printf (bytes, " %s=%s", kind->keys[k].word, choices != NULL ? choices[0] : example (&kind->keys[k]));
        }
      text = ml_text_new (kind->word, bytes->str, -1);
      board = ml_board_read (text, diagnostics);
      if (ml_diagnostics_n (diagnostics) > 0)
        print_error ("%s: %s\n", bytes->str, ml_diagnostics_get (diagnostics, 0)->message);
      assert_int_equal (ml_diagnostics_n (diagnostics), 0);
      assert_ptr_equal (board->parts[0].kind, kind);
      assert_int_equal (board->parts[0].n_attributes, n_keys);
      assert_int_equal (board->parts[0].n_pins, kind->any_pins ? 2 : g_strv_length ((char **) kind->pins));
      for (guint k = 0; k < board->parts[0].n_pins; k++)
        assert_int_equal (board->parts[0].pins[k].net, k);
    }
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_pins_and_keys_are_as_described),
    cmocka_unit_test (test_keys_are_no_pins),
    cmocka_unit_test (test_value_is_the_figure_a_part_is_known_by),
    cmocka_unit_test (test_kinds_are_called_with_their_article),
    cmocka_unit_test (test_every_kind_there_and_back),
  };

  return cmocka_run_group_tests (tests, NULL, NULL);
}
