/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Writing numbers. Expected texts: SI brochure (prefixes, a blank before the unit), IEC 60062 (letter as decimal mark). */
#include "support/near.h"

#include <locale.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "quantity/quantity.h"

static void
test_format_for_people (void **state)
{
  static const struct { double value; MlUnit unit; int digits; bool zeros; const char *text; } table[] = {
    { 0.27, ML_UNIT_VOLT, 3, false, "270 mV" },   { 4700, ML_UNIT_OHM, 3, false, "4.7 kΩ" },   { -1.2, ML_UNIT_VOLT, 3, true, "-1.20 V" },
    { 999.96, ML_UNIT_OHM, 4, true, "1.000 kΩ" }, { 0, ML_UNIT_VOLT, 3, true, "0.00 V" },      { 0, ML_UNIT_VOLT, 3, false, "0 V" },
    { -0.0, ML_UNIT_VOLT, 2, false, "0 V" },      { 2.2e-6, ML_UNIT_FARAD, 2, false, "2.2 \xc2\xb5" "F" },
    { 0.05, ML_UNIT_PERCENT, 2, false, "5 %" },   { 0.005, ML_UNIT_PERCENT, 2, false, "0.5 %" }, { 220, ML_UNIT_NONE, 3, false, "220" },
    { 3950, ML_UNIT_KELVIN, 4, false, "3950 K" }, { 270, ML_UNIT_OHM, 2, false, "270 Ω" },     { 1234567, ML_UNIT_OHM, 3, false, "1.23 MΩ" },
    { 1e-12, ML_UNIT_AMPERE, 1, false, "1 pA" },  { 12.345, ML_UNIT_VOLT, 4, false, "12.35 V" }, { 86e-3, ML_UNIT_AMPERE, 3, true, "86.0 mA" },
    /* below a thousandth of the smallest prefix: solver dust, not a reading */
    { -3.6e-25, ML_UNIT_VOLT, 4, false, "0 V" },  { 5e-16, ML_UNIT_VOLT, 3, false, "0 V" },
    { 2e-15, ML_UNIT_WATT, 3, false, "0.002 pW" }, { 3.6e-25, ML_UNIT_NONE, 1, false, "4e-25" },
  };
  char text[64];

  for (size_t i = 0; i < sizeof table / sizeof table[0]; i++)
    {
      int n = ml_quantity_format (table[i].value, table[i].unit, table[i].digits, table[i].zeros, text, sizeof text);
      assert_string_equal (text, table[i].text);
      assert_int_equal (n, strlen (text));
    }
  ml_quantity_format (NAN, ML_UNIT_VOLT, 3, false, text, sizeof text);
  assert_string_equal (text, "?");
  ml_quantity_format (INFINITY, ML_UNIT_OHM, 3, false, text, sizeof text);
  assert_string_equal (text, "OL");
}

static void
test_format_for_files (void **state)
{
  static const struct { double value; const char *text; } table[] = {
    { 0.27, "270m" }, { 4700, "4.7k" }, { 18, "18" }, { 0.5, "0.5" }, { 0.25, "250m" }, { -1.2, "-1.2" }, { 0, "0" }, { 10e3, "10k" },
    { 2.2e-6, "2.2u" }, { 1e6, "1M" }, { 123456, "123456" }, { 1e-15, "1e-15" }, { 1e300, "1e300" },
  };
  char text[64];

  for (size_t i = 0; i < sizeof table / sizeof table[0]; i++)
    {
      ml_quantity_format_file (table[i].value, text, sizeof text);
      assert_string_equal (text, table[i].text);
    }
}

/* Whatever is written reads back as the same double: 20000 values over the whole range, from a fixed congruential generator. */
static void
test_files_read_back_exactly (void **state)
{
  uint64_t seed = 1;
  char text[64];

  for (int i = 0; i < 20000; i++)
    {
      MlQuantity quantity;
      double mantissa, value;

      seed = seed * 6364136223846793005u + 1442695040888963407u;
      mantissa = (double) (int64_t) seed / 9.2e18;
      value = mantissa * pow (10, (double) (seed >> 40 & 63) - (i % 2 == 0 ? 32 : 12));
      ml_quantity_format_file (value, text, sizeof text);
      if (ml_quantity_parse (text, strlen (text), ML_UNIT_NONE, ML_QUANTITY_PLAIN, &quantity, NULL) != ML_QUANTITY_OK || quantity.value != value)
        print_error ("%.17g is written '%s'\n", value, text);
      assert_int_equal (ml_quantity_parse (text, strlen (text), ML_UNIT_NONE, ML_QUANTITY_PLAIN, &quantity, NULL), ML_QUANTITY_OK);
      assert_true (quantity.value == value);
    }
}

static void
test_markings (void **state)
{
  static const struct { double value; MlUnit unit; const char *text; } table[] = {
    { 4700, ML_UNIT_OHM, "4k7" },  { 470, ML_UNIT_OHM, "470R" },    { 0.47, ML_UNIT_OHM, "R47" },    { 4.7, ML_UNIT_OHM, "4R7" },
    { 47300, ML_UNIT_OHM, "47k3" }, { 1e6, ML_UNIT_OHM, "1M" },     { 0.047, ML_UNIT_OHM, "R047" },  { 2.2e-6, ML_UNIT_FARAD, "2u2" },
    { 100e-9, ML_UNIT_FARAD, "100n" }, { 4.7e-12, ML_UNIT_FARAD, "4p7" }, { 4700e-6, ML_UNIT_FARAD, "4700u" }, { 100e-6, ML_UNIT_HENRY, "100u" },
    { 5.6, ML_UNIT_VOLT, "5V6" },  { 12, ML_UNIT_VOLT, "12V" },
  };
  char text[64];

  for (size_t i = 0; i < sizeof table / sizeof table[0]; i++)
    {
      ml_quantity_format_marking (table[i].value, table[i].unit, text, sizeof text);
      assert_string_equal (text, table[i].text);
    }
}

/* As snprintf (): says how long it would be and never writes past the end. */
static void
test_short_buffers_are_cut (void **state)
{
  char text[8] = "#######";

  assert_int_equal (ml_quantity_format (-123.4, ML_UNIT_VOLT, 4, false, text, 4), 8);
  assert_string_equal (text, "-12");
  assert_int_equal (text[4], '#');
  assert_int_equal (ml_quantity_format_file (123456, NULL, 0), 6);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_format_for_people),
    cmocka_unit_test (test_format_for_files),
    cmocka_unit_test (test_files_read_back_exactly),
    cmocka_unit_test (test_markings),
    cmocka_unit_test (test_short_buffers_are_cut),
  };
  int failed = cmocka_run_group_tests (tests, NULL, NULL);

  if (setlocale (LC_ALL, "de_DE.UTF-8") != NULL)
    failed += cmocka_run_group_tests_name ("de_DE", tests, NULL, NULL);
  else
    fprintf (stderr, "the locale de_DE.UTF-8 is not installed: only the C locale was tested\n");
  return failed;
}
