/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Numbers as people write them. Marking codes and tolerance letters: IEC 60062 (R47 = 0.47 ohm, 4K7 = 4.7 kohm, 47K3, 4M7; F 1, G 2, J 5,
 * K 10, M 20 %); preferred values: IEC 60063:2015, E24 and E96. Decimal values are checked against the compiler's own literals. */
#include "support/near.h"

#include <locale.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "quantity/quantity.h"

static MlQuantity
parsed (const char *text, MlUnit unit, MlQuantityFlags flags)
{
  MlQuantity quantity = { 0 };
  size_t where = 0;
  MlQuantityStatus status = ml_quantity_parse (text, strlen (text), unit, flags, &quantity, &where);

  if (status != ML_QUANTITY_OK)
    print_error ("'%s': %s at %zu\n", text, ml_quantity_status_text (status), where);
  assert_int_equal (status, ML_QUANTITY_OK);
  return quantity;
}

static void
test_forms_give_their_value_and_last_digit (void **state)
{
  static const struct { const char *text; MlUnit unit; double value, resolution; } table[] = {
    { "4700", ML_UNIT_OHM, 4700, 1 },         { "4k7", ML_UNIT_OHM, 4700, 100 },       { "4.7k", ML_UNIT_OHM, 4700, 100 },
    { "R47", ML_UNIT_OHM, 0.47, 0.01 },       { "4R7", ML_UNIT_OHM, 4.7, 0.1 },        { "470R", ML_UNIT_OHM, 470, 1 },
    { "4K7", ML_UNIT_OHM, 4700, 100 },        { "47K", ML_UNIT_OHM, 47e3, 1e3 },       { "47K3", ML_UNIT_OHM, 47300, 100 },
    { "4M7", ML_UNIT_OHM, 4.7e6, 1e5 },       { "10 kΩ", ML_UNIT_OHM, 10e3, 1e3 },     { "1.5kohm", ML_UNIT_OHM, 1500, 100 },
    { "270m", ML_UNIT_VOLT, 0.27, 1e-3 },     { "450 mV", ML_UNIT_VOLT, 0.45, 1e-3 },  { "-1.2 V", ML_UNIT_VOLT, -1.2, 0.1 },
    { "-1.20", ML_UNIT_VOLT, -1.2, 0.01 },    { "+3", ML_UNIT_VOLT, 3, 1 },            { "2.91", ML_UNIT_VOLT, 2.91, 0.01 },
    { "5V6", ML_UNIT_VOLT, 5.6, 0.1 },        { ".5", ML_UNIT_VOLT, 0.5, 0.1 },        { "5.", ML_UNIT_VOLT, 5, 1 },
    { "\xe2\x88\x92" "3.1", ML_UNIT_VOLT, -3.1, 0.1 },
    { "10u", ML_UNIT_FARAD, 10e-6, 1e-6 },    { "2n2", ML_UNIT_FARAD, 2.2e-9, 1e-10 }, { "100nF", ML_UNIT_FARAD, 100e-9, 1e-9 },
    { "4.7\xc2\xb5" "F", ML_UNIT_FARAD, 4.7e-6, 1e-7 },  { "n47", ML_UNIT_FARAD, 0.47e-9, 1e-11 }, { "1F", ML_UNIT_FARAD, 1, 1 },
    { "100u", ML_UNIT_HENRY, 100e-6, 1e-6 },  { "250m", ML_UNIT_AMPERE, 0.25, 1e-3 },  { "85 mA", ML_UNIT_AMPERE, 0.085, 1e-3 },
    { "1e-3", ML_UNIT_AMPERE, 1e-3, 1e-3 },   { "1.5E3", ML_UNIT_NONE, 1500, 100 },    { "2e3m", ML_UNIT_VOLT, 2, 1 },
    { "5%", ML_UNIT_PERCENT, 0.05, 0.01 },    { "0.5 %", ML_UNIT_PERCENT, 0.005, 1e-3 }, { "30", ML_UNIT_PERCENT, 0.3, 0.01 },
    { "50%", ML_UNIT_NONE, 0.5, 0.01 },       { "3950K", ML_UNIT_KELVIN, 3950, 1 },    { "0", ML_UNIT_VOLT, 0, 1 },
    /* as spelt out or in small letters: no SI prefix (BIPM, SI Brochure, table 7) is written v, r, w or h, and f and a are none that is read here */
    { "3.3 volt", ML_UNIT_VOLT, 3.3, 0.1 },   { "12 Volts", ML_UNIT_VOLT, 12, 1 },     { "3.3v", ML_UNIT_VOLT, 3.3, 0.1 },
    { "5v6", ML_UNIT_VOLT, 5.6, 0.1 },        { "450 mv", ML_UNIT_VOLT, 0.45, 1e-3 },  { "4.7 kOhms", ML_UNIT_OHM, 4700, 100 },
    { "4r7", ML_UNIT_OHM, 4.7, 0.1 },         { "10uf", ML_UNIT_FARAD, 10e-6, 1e-6 },  { "10\xce\xbc" "F", ML_UNIT_FARAD, 10e-6, 1e-6 },
    { "500 ma", ML_UNIT_AMPERE, 0.5, 1e-3 },  { "2 amps", ML_UNIT_AMPERE, 2, 1 },      { "0.25w", ML_UNIT_WATT, 0.25, 0.01 },
    { "10mh", ML_UNIT_HENRY, 0.01, 1e-3 },    { "470 OHM", ML_UNIT_OHM, 470, 1 },
    { "1G", ML_UNIT_OHM, 1e9, 1e9 },          { "0.25W", ML_UNIT_WATT, 0.25, 0.01 },   { " 7 ", ML_UNIT_VOLT, 7, 1 },
  };

  for (size_t i = 0; i < sizeof table / sizeof table[0]; i++)
    {
      MlQuantity quantity = parsed (table[i].text, table[i].unit, ML_QUANTITY_PLAIN);
      if (quantity.value != table[i].value)
        print_error ("'%s' is %.17g\n", table[i].text, quantity.value);
      assert_true (quantity.value == table[i].value);
      assert_true (quantity.low == quantity.value && quantity.high == quantity.value && !quantity.range && !quantity.over);
      assert_near (quantity.resolution, table[i].resolution, 1e-15, 0);
    }
}

static void
test_tolerance_letters (void **state)
{
  static const struct { const char *text; double value, tolerance; } table[] = {
    { "4K7K", 4700, 0.10 }, { "4K7F", 4700, 0.01 }, { "R47G", 0.47, 0.02 }, { "470RJ", 470, 0.05 }, { "1M0M", 1e6, 0.20 },
    { "100KJ", 100e3, 0.05 }, { "47KK", 47e3, 0.10 },
  };

  for (size_t i = 0; i < sizeof table / sizeof table[0]; i++)
    {
      MlQuantity quantity = parsed (table[i].text, ML_UNIT_OHM, ML_QUANTITY_PLAIN);
      assert_true (quantity.value == table[i].value);
      assert_true (quantity.tolerance == table[i].tolerance);
    }
  assert_true (isnan (parsed ("4K7", ML_UNIT_OHM, ML_QUANTITY_PLAIN).tolerance));
  /* on capacitors F is the unit, not 1 % */
  assert_true (isnan (parsed ("4n7F", ML_UNIT_FARAD, ML_QUANTITY_PLAIN).tolerance));
  assert_true (parsed ("4n7K", ML_UNIT_FARAD, ML_QUANTITY_PLAIN).tolerance == 0.10);
}

static void
test_refusals_name_the_place (void **state)
{
  static const struct { const char *text; MlUnit unit; MlQuantityStatus status; size_t where; } table[] = {
    { "", ML_UNIT_VOLT, ML_QUANTITY_EMPTY, 0 },           { "   ", ML_UNIT_VOLT, ML_QUANTITY_EMPTY, 3 },
    { "abc", ML_UNIT_VOLT, ML_QUANTITY_NOT_A_NUMBER, 0 }, { "-", ML_UNIT_VOLT, ML_QUANTITY_NOT_A_NUMBER, 1 },
    { "1.2x", ML_UNIT_VOLT, ML_QUANTITY_TRAILING, 3 },    { "5 A", ML_UNIT_VOLT, ML_QUANTITY_WRONG_UNIT, 2 },
    { "5V6", ML_UNIT_OHM, ML_QUANTITY_WRONG_UNIT, 1 },    { "1.2.3", ML_UNIT_VOLT, ML_QUANTITY_TWO_MARKS, 3 },
    { "1e999", ML_UNIT_VOLT, ML_QUANTITY_OUT_OF_RANGE, 0 }, { "1,5", ML_UNIT_VOLT, ML_QUANTITY_COMMA_MARK, 1 },
    { "OL", ML_UNIT_VOLT, ML_QUANTITY_NOT_A_NUMBER, 0 },  { "1..2", ML_UNIT_VOLT, ML_QUANTITY_TWO_MARKS, 2 },
    { "5 k%", ML_UNIT_PERCENT, ML_QUANTITY_TRAILING, 3 }, { "inf", ML_UNIT_VOLT, ML_QUANTITY_NOT_A_NUMBER, 0 },
    { "nan", ML_UNIT_NONE, ML_QUANTITY_NOT_A_NUMBER, 0 }, { "0x10", ML_UNIT_NONE, ML_QUANTITY_TRAILING, 1 },
    { "4k7k", ML_UNIT_OHM, ML_QUANTITY_TRAILING, 3 },     { "100nF", ML_UNIT_OHM, ML_QUANTITY_WRONG_UNIT, 4 },
    { "4,7k", ML_UNIT_OHM, ML_QUANTITY_COMMA_MARK, 1 },   { "1,", ML_UNIT_OHM, ML_QUANTITY_TRAILING, 1 },
    { "3 amps", ML_UNIT_VOLT, ML_QUANTITY_WRONG_UNIT, 2 }, { "3 voltz", ML_UNIT_VOLT, ML_QUANTITY_TRAILING, 6 },
  };

  for (size_t i = 0; i < sizeof table / sizeof table[0]; i++)
    {
      MlQuantity quantity = { .value = 42 };
      size_t where = 99;
      MlQuantityStatus status = ml_quantity_parse (table[i].text, strlen (table[i].text), table[i].unit, ML_QUANTITY_PLAIN, &quantity, &where);
      if (status != table[i].status || where != table[i].where)
        print_error ("'%s': %d at %zu\n", table[i].text, status, where);
      assert_int_equal (status, table[i].status);
      assert_int_equal (where, table[i].where);
      assert_true (quantity.value == 42); /* untouched */
    }
}

static void
test_comma_only_where_typed (void **state)
{
  MlQuantity quantity;

  assert_true (parsed ("1,5", ML_UNIT_VOLT, ML_QUANTITY_COMMA).value == 1.5);
  assert_true (parsed ("1,50 kΩ", ML_UNIT_OHM, ML_QUANTITY_COMMA).value == 1500);
  assert_int_equal (ml_quantity_parse ("1,2.3", 5, ML_UNIT_VOLT, ML_QUANTITY_COMMA, &quantity, NULL), ML_QUANTITY_TWO_MARKS);
}

static void
test_ranges (void **state)
{
  static const struct { const char *text; MlUnit unit; double low, high; } table[] = {
    { "1.8..2.1", ML_UNIT_VOLT, 1.8, 2.1 },      { "1.8 .. 2.1 V", ML_UNIT_VOLT, 1.8, 2.1 }, { "-2..1", ML_UNIT_VOLT, -2, 1 },
    { "270..310m", ML_UNIT_VOLT, 0.27, 0.31 },   { "270m..310m", ML_UNIT_VOLT, 0.27, 0.31 }, { "900..1.1k", ML_UNIT_OHM, 900, 1100 },
    { "1..2k", ML_UNIT_OHM, 1000, 2000 },        { "5..5", ML_UNIT_VOLT, 5, 5 },
  };
  MlQuantity quantity;

  for (size_t i = 0; i < sizeof table / sizeof table[0]; i++)
    {
      quantity = parsed (table[i].text, table[i].unit, ML_QUANTITY_RANGE);
      assert_true (quantity.range && quantity.low == table[i].low && quantity.high == table[i].high);
      assert_near (quantity.value, (table[i].low + table[i].high) / 2, 1e-15, 0);
    }
  assert_int_equal (ml_quantity_parse ("2.1..1.8", 8, ML_UNIT_VOLT, ML_QUANTITY_RANGE, &quantity, NULL), ML_QUANTITY_BACKWARDS);
  assert_int_equal (ml_quantity_parse ("2.1..", 5, ML_UNIT_VOLT, ML_QUANTITY_RANGE, &quantity, NULL), ML_QUANTITY_NOT_A_NUMBER);
}

/* Hand-held and bench meters end at some 1e10 ohm and 1e3 V (common practice); values of parts are not limited. */
static void
test_readings_no_meter_shows_are_refused (void **state)
{
  static const char *const texts[] = { "1e300", "-1e300", "2e12", "-1e300..1", "1..1e300" };
  MlQuantity quantity = { .value = 42 };

  for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++)
    assert_int_equal (ml_quantity_parse (texts[i], strlen (texts[i]), ML_UNIT_VOLT, ML_QUANTITY_RANGE | ML_QUANTITY_OVER, &quantity, NULL),
                      ML_QUANTITY_OUT_OF_RANGE);
  assert_true (quantity.value == 42);
  assert_true (parsed ("1e12", ML_UNIT_OHM, ML_QUANTITY_OVER).value == 1e12);
  assert_true (parsed ("1e300", ML_UNIT_OHM, ML_QUANTITY_PLAIN).value == 1e300);
}

static void
test_over_range (void **state)
{
  static const char *const words[] = { "OL", "ol", "O.L", "0L", " OL " };

  for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
    {
      MlQuantity quantity = parsed (words[i], ML_UNIT_OHM, ML_QUANTITY_OVER);
      assert_true (quantity.over && isinf (quantity.value) && quantity.value > 0);
    }
}

/* E24 and E96 as IEC 60063:2015 lists them (E96 = round (10^(i/96), 2)); read through every decade. */
static void
test_preferred_values_read_exactly (void **state)
{
  static const double e24[] = { 1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0, 3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1 };
  char text[32], marking[32];

  for (size_t i = 0; i < sizeof e24 / sizeof e24[0]; i++)
    for (int decade = -1; decade <= 6; decade++)
      {
        double value = e24[i] * pow (10, decade);

        snprintf (text, sizeof text, "%de%d", (int) lround (10 * e24[i]), decade - 1);
        assert_near (parsed (text, ML_UNIT_OHM, ML_QUANTITY_PLAIN).value, value, 1e-15, 0);
        ml_quantity_format_marking (value, ML_UNIT_OHM, marking, sizeof marking);
        assert_near (parsed (marking, ML_UNIT_OHM, ML_QUANTITY_PLAIN).value, value, 1e-15, 0);
      }
  for (int i = 0; i < 96; i++)
    {
      double value = round (100 * pow (10, i / 96.0)) * 10; /* 1.00 k … 9.76 k */

      ml_quantity_format_marking (value, ML_UNIT_OHM, marking, sizeof marking);
      assert_true (parsed (marking, ML_UNIT_OHM, ML_QUANTITY_PLAIN).value == value);
    }
}

/* More digits than a double holds round as strtod () rounds them. */
static void
test_long_numbers_round_correctly (void **state)
{
  static const char *const texts[] = {
    "0.1000000000000000055511151231257827021181583404541015625", "9007199254740993", "9007199254740993.00000000000000000000000000000000000000000001",
    "9007199254740993.00000000000000000000000000000000000000000000000000000000000010",
    "2.2250738585072011e-308", "179769313486231570000000000000", "0.000000000000000000000000000000000000000000000000000000000000000000000000012345",
  };
  locale_t plain = newlocale (LC_ALL_MASK, "C", (locale_t) 0);
  char many[400];

  for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++)
    assert_true (parsed (texts[i], ML_UNIT_NONE, ML_QUANTITY_PLAIN).value == strtod_l (texts[i], NULL, plain));
  memset (many, '7', sizeof many);
  many[299] = '\0';
  assert_true (parsed (many, ML_UNIT_NONE, ML_QUANTITY_PLAIN).value == strtod_l (many, NULL, plain));
  freelocale (plain);
}

/* A text is not NUL-terminated: only length bytes are looked at. */
static void
test_reads_only_its_length (void **state)
{
  static const char text[] = "12345";
  MlQuantity quantity;

  assert_int_equal (ml_quantity_parse (text, 2, ML_UNIT_NONE, ML_QUANTITY_PLAIN, &quantity, NULL), ML_QUANTITY_OK);
  assert_true (quantity.value == 12);
}

static void
test_every_status_has_words (void **state)
{
  for (int status = ML_QUANTITY_OK; status >= ML_QUANTITY_COMMA_MARK - 1; status--)
    assert_true (strlen (ml_quantity_status_text ((MlQuantityStatus) status)) > 3);
}

/* What a message shows as an example reads as such a number. */
static void
test_examples_of_every_unit_can_be_read (void **state)
{
  for (int unit = 0; unit < ML_N_UNITS; unit++)
    {
      const char *text = ml_quantity_unit_examples ((MlUnit) unit), *or = strstr (text, " or ");
      MlQuantity quantity;

      assert_int_equal (ml_quantity_parse (text, or != NULL ? (size_t) (or - text) : strlen (text), (MlUnit) unit, ML_QUANTITY_PLAIN, &quantity, NULL),
                        ML_QUANTITY_OK);
      if (or != NULL)
        assert_int_equal (ml_quantity_parse (or + 4, strlen (or + 4), (MlUnit) unit, ML_QUANTITY_PLAIN, &quantity, NULL), ML_QUANTITY_OK);
    }
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_forms_give_their_value_and_last_digit),
    cmocka_unit_test (test_tolerance_letters),
    cmocka_unit_test (test_refusals_name_the_place),
    cmocka_unit_test (test_comma_only_where_typed),
    cmocka_unit_test (test_ranges),
    cmocka_unit_test (test_readings_no_meter_shows_are_refused),
    cmocka_unit_test (test_over_range),
    cmocka_unit_test (test_preferred_values_read_exactly),
    cmocka_unit_test (test_long_numbers_round_correctly),
    cmocka_unit_test (test_reads_only_its_length),
    cmocka_unit_test (test_every_status_has_words),
    cmocka_unit_test (test_examples_of_every_unit_can_be_read),
  };
  int failed = cmocka_run_group_tests (tests, NULL, NULL);

  /* Again where the comma is the decimal mark: nothing may change. */
  if (setlocale (LC_ALL, "de_DE.UTF-8") != NULL)
    failed += cmocka_run_group_tests_name ("de_DE", tests, NULL, NULL);
  else
    fprintf (stderr, "the locale de_DE.UTF-8 is not installed: only the C locale was tested\n");
  return failed;
}
