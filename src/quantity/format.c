/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "quantity/quantity.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define MAX_SIGNIFICANT 17 /* enough for every double */

/* value = (-1)^negative x 0.DIGITS x 10^point */
typedef struct
{
  char digits[MAX_SIGNIFICANT + 2];
  int n;
  int point;
  bool negative;
} Decimal;

static const char *const unit_symbols[ML_N_UNITS] = {
  [ML_UNIT_NONE] = "", [ML_UNIT_VOLT] = "V", [ML_UNIT_AMPERE] = "A", [ML_UNIT_OHM] = "\xce\xa9", [ML_UNIT_FARAD] = "F",
  [ML_UNIT_HENRY] = "H", [ML_UNIT_WATT] = "W", [ML_UNIT_KELVIN] = "K", [ML_UNIT_SECOND] = "s", [ML_UNIT_PERCENT] = "%",
};

/* The decimal mark that snprintf () writes depends on the locale: only the digits are taken from it. */
static Decimal
decimal_from (double value, int digits)
{
  Decimal decimal = { .negative = signbit (value) };
  char buffer[64];
  const char *c;
  int exponent = 0;

  snprintf (buffer, sizeof buffer, "%.*e", digits - 1, fabs (value));
  for (c = buffer; *c != '\0' && *c != 'e'; c++)
    if (*c >= '0' && *c <= '9' && decimal.n < MAX_SIGNIFICANT)
      decimal.digits[decimal.n++] = *c;
  if (*c == 'e')
    sscanf (c + 1, "%d", &exponent);
  decimal.point = exponent + 1;
  return decimal;
}

static void
strip_zeros (Decimal *decimal)
{
  while (decimal->n > 1 && decimal->digits[decimal->n - 1] == '0')
    decimal->n--;
  decimal->digits[decimal->n] = '\0';
}

/* Writes the decimal times 10^-power with `mark` where the decimal mark belongs; zeros fill up to the mark. */
static void
put_decimal (const Decimal *decimal, int power, const char *mark, char *out, size_t size)
{
  int point = decimal->point - power;
  size_t at = 0;
  int n = point > decimal->n ? point : decimal->n;

  if (decimal->negative)
    at += (size_t) snprintf (out + at, size - at, "-");
  if (point <= 0)
    at += (size_t) snprintf (out + at, size - at, "0%s", mark);
  for (int i = point < 0 ? point : 0; i < n && at + 8 < size; i++)
    {
      if (i == point && point > 0)
        at += (size_t) snprintf (out + at, size - at, "%s", mark);
      out[at++] = i >= 0 && i < decimal->n ? decimal->digits[i] : '0';
    }
  out[at] = '\0';
}

static const char *
prefix_word (int power)
{
  switch (power)
    {
    case -12: return "p";
    case -9: return "n";
    case -6: return "\xc2\xb5";
    case -3: return "m";
    case 3: return "k";
    case 6: return "M";
    case 9: return "G";
    default: return "";
    }
}

/* A thousandth of the smallest prefix: what a solver leaves where nothing flows is shown as nothing. */
#define LEAST_SHOWN 1e-15

/* The power of a thousand that leaves one to three digits before the mark. */
static int
engineering_power (int point)
{
  int power = 3 * (int) floor ((point - 1) / 3.0);

  return power < -12 ? -12 : power > 9 ? 9 : power;
}

static bool
takes_prefix (MlUnit unit)
{
  return unit != ML_UNIT_NONE && unit != ML_UNIT_PERCENT && unit != ML_UNIT_KELVIN;
}

const char *
ml_quantity_unit_symbol (MlUnit unit)
{
  return (unsigned) unit < ML_N_UNITS ? unit_symbols[unit] : "";
}

int
ml_quantity_format (double value, MlUnit unit, int digits, bool keep_zeros, char *buffer, size_t size)
{
  const char *symbol = ml_quantity_unit_symbol (unit);
  char number[64];
  Decimal decimal;
  int power = 0;

  if (isnan (value))
    return snprintf (buffer, size, "?");
  if (isinf (value))
    return snprintf (buffer, size, value < 0 ? "-OL" : "OL");
  if (takes_prefix (unit) && fabs (value) < LEAST_SHOWN)
    value = 0;
  digits = digits < 1 ? 1 : digits > 9 ? 9 : digits;
  decimal = decimal_from (unit == ML_UNIT_PERCENT ? value * 100 : value, digits);
  if (value == 0)
    decimal.negative = false;
  else if (takes_prefix (unit))
    power = engineering_power (decimal.point);
  if (!keep_zeros)
    strip_zeros (&decimal);
  if (decimal.point - power < -20 || decimal.point - power > 20)
    {
      Decimal mantissa = decimal;
      mantissa.point = 1;
      put_decimal (&mantissa, 0, ".", number, sizeof number);
      return snprintf (buffer, size, "%se%d%s%s%s", number, decimal.point - 1 - power, *symbol != '\0' ? " " : "", prefix_word (power), symbol);
    }
  put_decimal (&decimal, power, ".", number, sizeof number);
  if (*symbol == '\0')
    return snprintf (buffer, size, "%s", number);
  return snprintf (buffer, size, "%s %s%s", number, prefix_word (power), symbol);
}

static bool
reads_back (const char *text, double value)
{
  MlQuantity quantity;

  return ml_quantity_parse (text, strlen (text), ML_UNIT_NONE, ML_QUANTITY_PLAIN, &quantity, NULL) == ML_QUANTITY_OK
         && quantity.value == value;
}

int
ml_quantity_format_file (double value, char *buffer, size_t size)
{
  char plain[80] = "", prefixed[80] = "", number[64];
  Decimal decimal;
  int power;

  if (isnan (value))
    return snprintf (buffer, size, "?");
  if (isinf (value))
    return snprintf (buffer, size, "OL");
  if (value == 0)
    return snprintf (buffer, size, "0");
  for (int digits = 1; digits <= MAX_SIGNIFICANT; digits++)
    {
      Decimal mantissa;

      decimal = decimal_from (value, digits);
      mantissa = decimal;
      mantissa.point = 1;
      put_decimal (&mantissa, 0, ".", number, sizeof number);
      snprintf (plain, sizeof plain, "%.40se%d", number, decimal.point - 1);
      if (reads_back (plain, value))
        break;
    }
  strip_zeros (&decimal);
  power = engineering_power (decimal.point);
  if (decimal.point < -13 || decimal.point > 15)
    return snprintf (buffer, size, "%s", plain);
  put_decimal (&decimal, 0, ".", plain, sizeof plain);
  put_decimal (&decimal, power, ".", number, sizeof number);
  snprintf (prefixed, sizeof prefixed, "%s%s", number, power == -6 ? "u" : prefix_word (power));
  return snprintf (buffer, size, "%s", strlen (prefixed) <= strlen (plain) ? prefixed : plain);
}

static const char *
marking_word (MlUnit unit, int power)
{
  if (power == -6)
    return "u";
  if (power != 0)
    return prefix_word (power);
  return unit == ML_UNIT_OHM ? "R" : ml_quantity_unit_symbol (unit);
}

int
ml_quantity_format_marking (double value, MlUnit unit, char *buffer, size_t size)
{
  char number[64];
  Decimal decimal;
  int power;
  bool fraction;

  if (!isfinite (value) || value <= 0 || !takes_prefix (unit))
    return ml_quantity_format (value, unit, 6, false, buffer, size);
  decimal = decimal_from (value, 6);
  if (decimal.point < -12 || decimal.point > 12)
    return ml_quantity_format (value, unit, 6, false, buffer, size);
  strip_zeros (&decimal);
  power = engineering_power (decimal.point);
  if (unit == ML_UNIT_OHM && power < 0 && decimal.point > -2)
    power = 0; /* R47, not 470m */
  if (unit == ML_UNIT_FARAD && power > -6)
    power = -6; /* the trade says 4700u */
  fraction = decimal.n > decimal.point - power;
  put_decimal (&decimal, power, marking_word (unit, power), number, sizeof number);
  if (decimal.point - power <= 0 && number[0] == '0' && unit == ML_UNIT_OHM)
    return snprintf (buffer, size, "%s", number + 1);
  return snprintf (buffer, size, "%s%s", number, fraction ? "" : marking_word (unit, power));
}
