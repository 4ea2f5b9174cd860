/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "quantity/quantity.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define MAX_DIGITS 64     /* significant digits kept; a further non-zero one still rounds the right way */
#define MAX_EXPONENT 9999 /* beyond any double; keeps the sums below from overflowing */
#define MOST_READ 1e12    /* no meter shows more, in any unit; its square, as a share of a small variance, is still a number */

typedef struct
{
  const char *text;
  size_t length, at;
  MlUnit expected;
  MlQuantityFlags flags;
} Scan;

/* A number while it is read: digits without a mark, and the power of ten of the last one. */
typedef struct
{
  char digits[MAX_DIGITS + 2];
  int n_digits;
  int n_read;    /* digits seen, leading zeros too */
  int exponent;  /* of the last digit kept */
  int place;     /* of the last digit written */
  bool negative, sticky, marked, lettered;
  bool has_prefix, has_unit;
  bool adjacent; /* no blank between the number and its prefix */
  int prefix;
  MlUnit unit;
  size_t letter_at; /* where the letter stands that serves as the mark */
  double tolerance;
} Number;

static bool
is_digit (char c)
{
  return c >= '0' && c <= '9';
}

static char
peek (const Scan *scan, size_t ahead)
{
  return scan->at + ahead < scan->length ? scan->text[scan->at + ahead] : '\0';
}

static bool
take (Scan *scan, const char *word)
{
  size_t n = strlen (word);

  if (scan->length - scan->at < n || memcmp (scan->text + scan->at, word, n) != 0)
    return false;
  scan->at += n;
  return true;
}

static void
skip_blanks (Scan *scan)
{
  while (peek (scan, 0) == ' ' || peek (scan, 0) == '\t')
    scan->at++;
}

static bool
at_mark (const Scan *scan)
{
  char c = peek (scan, 0);

  if (c == '.')
    return peek (scan, 1) != '.' || (scan->flags & ML_QUANTITY_RANGE) == 0;
  return c == ',' && (scan->flags & ML_QUANTITY_COMMA) != 0;
}

static void
add_digit (Number *number, char c)
{
  number->n_read++;
  if (number->n_digits == MAX_DIGITS)
    {
      number->sticky = number->sticky || c != '0';
      if (!number->marked)
        number->exponent++;
    }
  else
    {
      if (number->n_digits > 0 || c != '0')
        number->digits[number->n_digits++] = c;
      if (number->marked)
        number->exponent--;
    }
  if (number->marked)
    number->place--;
}

static void
take_digits (Scan *scan, Number *number)
{
  while (is_digit (peek (scan, 0)))
    {
      add_digit (number, scan->text[scan->at]);
      scan->at++;
    }
}

static bool
take_prefix (Scan *scan, int *ret_power)
{
  static const struct { const char *word; int power; } prefixes[] = {
    { "p", -12 }, { "n", -9 }, { "u", -6 }, { "\xc2\xb5", -6 }, { "\xce\xbc", -6 }, { "m", -3 },
    { "k", 3 }, { "K", 3 }, { "M", 6 }, { "G", 9 },
  };

  if (scan->expected == ML_UNIT_KELVIN && peek (scan, 0) == 'K')
    return false;
  for (size_t i = 0; i < sizeof prefixes / sizeof prefixes[0]; i++)
    if (take (scan, prefixes[i].word))
      {
        *ret_power = prefixes[i].power;
        return true;
      }
  return false;
}

static char
to_lower (char c)
{
  return c >= 'A' && c <= 'Z' ? (char) (c - 'A' + 'a') : c;
}

/* The same whatever the case of its ASCII letters; `word` is in small ones. */
static bool
take_any_case (Scan *scan, const char *word)
{
  size_t n = strlen (word);

  if (scan->length - scan->at < n)
    return false;
  for (size_t i = 0; i < n; i++)
    if (to_lower (scan->text[scan->at + i]) != word[i])
      return false;
  scan->at += n;
  return true;
}

/* Units as people write them: whole words too, and small letters, since no prefix here is written v, a, f, h, w or r. The longest come first. */
static bool
take_unit (Scan *scan, MlUnit *ret_unit)
{
  static const struct { const char *word; MlUnit unit; } any_case[] = {
    { "ohms", ML_UNIT_OHM }, { "ohm", ML_UNIT_OHM }, { "volts", ML_UNIT_VOLT }, { "volt", ML_UNIT_VOLT }, { "amperes", ML_UNIT_AMPERE },
    { "ampere", ML_UNIT_AMPERE }, { "amps", ML_UNIT_AMPERE }, { "amp", ML_UNIT_AMPERE }, { "farads", ML_UNIT_FARAD }, { "farad", ML_UNIT_FARAD },
    { "henries", ML_UNIT_HENRY }, { "henry", ML_UNIT_HENRY }, { "watts", ML_UNIT_WATT }, { "watt", ML_UNIT_WATT },
    { "\xce\xa9", ML_UNIT_OHM }, { "\xe2\x84\xa6", ML_UNIT_OHM },
    { "r", ML_UNIT_OHM }, { "v", ML_UNIT_VOLT }, { "a", ML_UNIT_AMPERE }, { "f", ML_UNIT_FARAD }, { "h", ML_UNIT_HENRY }, { "w", ML_UNIT_WATT },
    { "%", ML_UNIT_PERCENT },
  };
  static const struct { const char *word; MlUnit unit; } exact[] = { { "K", ML_UNIT_KELVIN }, { "s", ML_UNIT_SECOND } };

  for (size_t i = 0; i < sizeof any_case / sizeof any_case[0]; i++)
    if (take_any_case (scan, any_case[i].word))
      {
        *ret_unit = any_case[i].unit;
        return true;
      }
  for (size_t i = 0; i < sizeof exact / sizeof exact[0]; i++)
    if (take (scan, exact[i].word))
      {
        *ret_unit = exact[i].unit;
        return true;
      }
  return false;
}

/* The letter that stands where the decimal mark would: a prefix, R, or the unit (5V6). */
static bool
take_letter_mark (Scan *scan, Number *number)
{
  size_t start = scan->at;
  bool prefix = take_prefix (scan, &number->prefix);
  bool unit = !prefix && take_unit (scan, &number->unit);

  if (!prefix && (!unit || number->unit == ML_UNIT_PERCENT))
    {
      scan->at = start;
      return false;
    }
  number->has_prefix = prefix;
  number->has_unit = unit;
  number->lettered = true;
  number->letter_at = start;
  return true;
}

/* A tolerance letter right after a lone multiplier: 100KJ, 100nK; but 100nF is a capacitor wherever it stands. */
static bool
may_take_tolerance (const Scan *scan, const Number *number)
{
  if (!number->has_prefix || number->marked || !number->adjacent)
    return false;
  return scan->expected != ML_UNIT_OHM || number->prefix > 0;
}

static bool
take_tolerance (Scan *scan, Number *number)
{
  static const struct { char letter; double tolerance; } letters[] = {
    { 'B', 0.001 }, { 'C', 0.0025 }, { 'D', 0.005 }, { 'F', 0.01 }, { 'G', 0.02 }, { 'J', 0.05 }, { 'K', 0.1 }, { 'M', 0.2 },
  };

  if (scan->expected != ML_UNIT_OHM && scan->expected != ML_UNIT_FARAD && scan->expected != ML_UNIT_HENRY)
    return false;
  if (scan->expected == ML_UNIT_FARAD && peek (scan, 0) == 'F')
    return false;
  for (size_t i = 0; i < sizeof letters / sizeof letters[0]; i++)
    if (peek (scan, 0) == letters[i].letter)
      {
        number->tolerance = letters[i].tolerance;
        scan->at++;
        return true;
      }
  return false;
}

static void
take_exponent (Scan *scan, Number *number)
{
  size_t sign = peek (scan, 1) == '+' || peek (scan, 1) == '-';
  bool negative = peek (scan, 1) == '-';
  int exponent = 0;

  if ((peek (scan, 0) != 'e' && peek (scan, 0) != 'E') || !is_digit (peek (scan, 1 + sign)))
    return;
  for (scan->at += 1 + sign; is_digit (peek (scan, 0)); scan->at++)
    if (exponent < MAX_EXPONENT)
      exponent = 10 * exponent + (scan->text[scan->at] - '0');
  number->exponent += negative ? -exponent : exponent;
  number->place += negative ? -exponent : exponent;
  number->marked = true; /* no letter may follow as a mark */
}

static bool
unit_fits (MlUnit written, MlUnit expected)
{
  return written == expected || (expected == ML_UNIT_NONE && written == ML_UNIT_PERCENT);
}

/* What may follow the digits: tolerance letter, prefix, unit. */
static MlQuantityStatus
take_suffix (Scan *scan, Number *number)
{
  size_t start = scan->at, unit_at;

  if (number->lettered && take_tolerance (scan, number))
    return ML_QUANTITY_OK;
  skip_blanks (scan);
  number->adjacent = scan->at == start;
  if (!number->has_prefix && !number->lettered)
    number->has_prefix = take_prefix (scan, &number->prefix);
  unit_at = scan->at;
  if (!number->has_unit)
    {
      if (may_take_tolerance (scan, number) && take_tolerance (scan, number))
        return ML_QUANTITY_OK;
      number->has_unit = take_unit (scan, &number->unit);
      if (number->has_unit && number->unit == ML_UNIT_PERCENT && number->has_prefix)
        {
          scan->at = unit_at;
          return ML_QUANTITY_TRAILING;
        }
    }
  if (number->has_unit && number->unit == ML_UNIT_OHM && !number->marked && to_lower (scan->text[scan->at - 1]) == 'r' && scan->expected == ML_UNIT_OHM)
    take_tolerance (scan, number);
  if (number->has_unit && !unit_fits (number->unit, scan->expected))
    {
      scan->at = number->lettered ? number->letter_at : unit_at;
      return ML_QUANTITY_WRONG_UNIT;
    }
  if (!number->has_prefix && !number->has_unit && number->tolerance != number->tolerance)
    scan->at = start;
  return ML_QUANTITY_OK;
}

static MlQuantityStatus
take_mantissa (Scan *scan, Number *number)
{
  size_t start;

  if (take (scan, "-") || take (scan, "\xe2\x88\x92"))
    number->negative = true;
  else
    take (scan, "+");
  start = scan->at;
  take_digits (scan, number);
  if (at_mark (scan))
    {
      scan->at++;
      number->marked = true;
      take_digits (scan, number);
      if (at_mark (scan))
        return ML_QUANTITY_TWO_MARKS;
    }
  else if (peek (scan, 0) == ',' && number->n_read > 0 && is_digit (peek (scan, 1)))
    return ML_QUANTITY_COMMA_MARK;
  else
    {
      size_t letter = scan->at;
      bool exponent = (peek (scan, 0) == 'e' || peek (scan, 0) == 'E') && number->n_read > 0;

      if (!exponent && take_letter_mark (scan, number) && is_digit (peek (scan, 0)))
        {
          number->marked = true;
          take_digits (scan, number);
        }
      else if (number->lettered)
        {
          scan->at = letter; /* a lone letter after digits is the multiplier: read as such below */
          number->lettered = number->has_prefix = number->has_unit = false;
          number->prefix = 0;
          number->unit = ML_UNIT_NONE;
        }
    }
  if (number->n_read == 0)
    {
      scan->at = start;
      return ML_QUANTITY_NOT_A_NUMBER;
    }
  if (!number->lettered)
    take_exponent (scan, number);
  return ML_QUANTITY_OK;
}

/* A string of digits and an exponent holds no decimal mark, so that strtod () rounds it correctly under every locale. */
static double
digits_value (const Number *number, int power)
{
  char buffer[MAX_DIGITS + 24];
  int saved = errno, n = 0;
  double value;

  if (number->n_digits == 0)
    return number->negative ? -0.0 : 0.0;
  buffer[n++] = number->negative ? '-' : '+';
  memcpy (buffer + n, number->digits, (size_t) number->n_digits);
  n += number->n_digits;
  if (number->sticky)
    buffer[n++] = '1';
  snprintf (buffer + n, sizeof buffer - (size_t) n, "e%d", number->exponent + power - (number->sticky ? 1 : 0));
  value = strtod (buffer, NULL);
  errno = saved;
  return value;
}

static double
place_value (int power)
{
  Number one = { .digits = "1", .n_digits = 1, .exponent = power };

  return digits_value (&one, 0);
}

static MlQuantityStatus
take_number (Scan *scan, Number *number)
{
  MlQuantityStatus status;

  *number = (Number) { .tolerance = NAN };
  status = take_mantissa (scan, number);
  if (status == ML_QUANTITY_OK)
    status = take_suffix (scan, number);
  return status;
}

static int
number_power (const Number *number, MlUnit expected)
{
  MlUnit unit = number->has_unit ? number->unit : expected;

  return number->prefix + (unit == ML_UNIT_PERCENT ? -2 : 0);
}

static bool
take_over (Scan *scan)
{
  static const char *const words[] = { "O.L", "0.L", ".OL", "OL", "0L", "ol", "Ol" };

  if ((scan->flags & ML_QUANTITY_OVER) == 0)
    return false;
  for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
    if (take (scan, words[i]))
      return true;
  return false;
}

/* "1.8..2.1k" says kilo for both ends, "900..1.1k" only for the second: the prefix is shared where the range stays in order. */
static MlQuantityStatus
take_range_end (Scan *scan, Number *low, MlQuantity *quantity)
{
  Number high;
  MlQuantityStatus status;
  size_t start;
  int power, low_power;

  skip_blanks (scan);
  start = scan->at;
  status = take_number (scan, &high);
  if (status != ML_QUANTITY_OK)
    return status;
  power = number_power (&high, scan->expected);
  low_power = number_power (low, scan->expected);
  quantity->high = digits_value (&high, power);
  if (!low->has_prefix && !low->has_unit && high.has_prefix && digits_value (low, power) <= quantity->high)
    low_power = power;
  quantity->low = digits_value (low, low_power);
  quantity->resolution = fmax (place_value (low->place + low_power), place_value (high.place + power));
  quantity->value = quantity->low + (quantity->high - quantity->low) / 2;
  quantity->unit = high.has_unit ? high.unit : quantity->unit;
  quantity->range = true;
  if (quantity->low > quantity->high)
    {
      scan->at = start;
      return ML_QUANTITY_BACKWARDS;
    }
  return ML_QUANTITY_OK;
}

static bool
is_in_range (const MlQuantity *quantity, MlQuantityFlags flags)
{
  bool reading = (flags & (ML_QUANTITY_RANGE | ML_QUANTITY_OVER)) != 0;

  if (!isfinite (quantity->value) || !isfinite (quantity->low) || !isfinite (quantity->high))
    return false;
  return !reading || (fabs (quantity->low) <= MOST_READ && fabs (quantity->high) <= MOST_READ);
}

static MlQuantityStatus
take_quantity (Scan *scan, MlQuantity *quantity)
{
  Number number;
  MlQuantityStatus status;
  size_t start = scan->at, after;
  int power;

  *quantity = (MlQuantity) { .tolerance = NAN, .unit = scan->expected };
  if (take_over (scan))
    {
      quantity->value = quantity->low = quantity->high = INFINITY;
      quantity->over = true;
      return ML_QUANTITY_OK;
    }
  status = take_number (scan, &number);
  if (status != ML_QUANTITY_OK)
    return status;
  power = number_power (&number, scan->expected);
  quantity->value = quantity->low = quantity->high = digits_value (&number, power);
  quantity->resolution = place_value (number.place + power);
  quantity->tolerance = number.tolerance;
  if (number.has_unit)
    quantity->unit = number.unit;
  after = scan->at;
  skip_blanks (scan);
  if ((scan->flags & ML_QUANTITY_RANGE) != 0 && take (scan, ".."))
    status = take_range_end (scan, &number, quantity);
  else
    scan->at = after;
  if (status == ML_QUANTITY_OK && !is_in_range (quantity, scan->flags))
    {
      scan->at = start;
      return ML_QUANTITY_OUT_OF_RANGE;
    }
  return status;
}

MlQuantityStatus
ml_quantity_parse (const char *text, size_t length, MlUnit expected, MlQuantityFlags flags, MlQuantity *ret_quantity, size_t *ret_where)
{
  Scan scan = { text, length, 0, expected, flags };
  MlQuantity quantity;
  MlQuantityStatus status = ML_QUANTITY_EMPTY;

  skip_blanks (&scan);
  if (scan.at < length)
    status = take_quantity (&scan, &quantity);
  if (status == ML_QUANTITY_OK)
    {
      skip_blanks (&scan);
      if (scan.at < length)
        status = ML_QUANTITY_TRAILING;
    }
  if (status == ML_QUANTITY_OK)
    *ret_quantity = quantity;
  else if (ret_where != NULL)
    *ret_where = scan.at;
  return status;
}

const char *
ml_quantity_unit_examples (MlUnit unit)
{
  switch (unit)
    {
    case ML_UNIT_VOLT:
      return "5.6 or 270m";
    case ML_UNIT_AMPERE:
      return "1.5 or 250m";
    case ML_UNIT_OHM:
      return "4k7 or 330";
    case ML_UNIT_FARAD:
      return "100n or 47u";
    case ML_UNIT_HENRY:
      return "100u or 10m";
    case ML_UNIT_WATT:
      return "0.25 or 250m";
    case ML_UNIT_KELVIN:
      return "3950";
    case ML_UNIT_SECOND:
      return "0.5 or 20m";
    case ML_UNIT_PERCENT:
      return "5% or 0.5%";
    default:
      return "150 or 1.5";
    }
}

const char *
ml_quantity_status_text (MlQuantityStatus status)
{
  switch (status)
    {
    case ML_QUANTITY_OK:
      return "a number";
    case ML_QUANTITY_EMPTY:
      return "a number is missing";
    case ML_QUANTITY_NOT_A_NUMBER:
      return "this is no number";
    case ML_QUANTITY_TRAILING:
      return "something is left over after the number";
    case ML_QUANTITY_WRONG_UNIT:
      return "this unit does not belong here";
    case ML_QUANTITY_TWO_MARKS:
      return "a number has only one decimal mark";
    case ML_QUANTITY_OUT_OF_RANGE:
      return "this number is too large";
    case ML_QUANTITY_BACKWARDS:
      return "a range starts with its smaller end";
    case ML_QUANTITY_COMMA_MARK:
      return "the decimal mark is a point here, not a comma";
    default:
      return "this is no number";
    }
}
