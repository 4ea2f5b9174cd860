/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/reading-text.h"

#include <math.h>
#include <string.h>

#define NEAR_SHARE 0.25   /* of the greater: so far a reading may miss the expected value and still be called as it should be … */
#define NEAR_LEAST 10e-3  /* … and volts or ohms */
#define FLAGS (ML_QUANTITY_COMMA | ML_QUANTITY_RANGE | ML_QUANTITY_OVER)

/* Signs that keyboards and copied text have for the same thing: minus signs, blanks that keep a number and its unit together, the ellipsis. */
static char *
plain_signs (const char *text)
{
  static const struct { gunichar sign; const char *plain; } signs[] = {
    { 0x2212, "-" }, { 0x2013, "-" }, { 0x00a0, " " }, { 0x2009, " " }, { 0x202f, " " }, { 0x2026, ".." },
  };
  GString *plain = g_string_new (NULL);
  for (const char *c = text; *c; c = g_utf8_next_char (c))
    {
      gunichar sign = g_utf8_get_char (c);
      const char *with = NULL;
      for (guint i = 0; i < G_N_ELEMENTS (signs); i++)
        if (signs[i].sign == sign)
          with = signs[i].plain;
      if (with)
        g_string_append (plain, with);
      else
        g_string_append_unichar (plain, sign);
    }
  return g_string_free (plain, FALSE);
}

/* The capital letters without the one decimal mark that meters show among them, "OL" of "0.L" as well, in room for three; FALSE: there are more. */
static gboolean
over_letters (const char *text, char *ret_letters)
{
  guint n = 0, marks = 0;
  for (const char *c = text; *c; c++)
    if (*c == '.' || *c == ',')
      marks++;
    else if (n == 2)
      return FALSE;
    else
      ret_letters[n++] = *c == '0' ? 'O' : g_ascii_toupper (*c);
  ret_letters[n] = '\0';
  return marks <= 1;
}

gboolean
ml_reading_text_begins_over (const char *text)
{
  char letters[3];
  return over_letters (text, letters) && strcmp (letters, "O") == 0;
}

/* "1.8-2.1 V", as a person writes what wanders, for "1.8..2.1 V": a dash between two numbers, which is neither a sign nor that of an exponent. */
static char *
dots_for_dash (const char *text)
{
  const char *dash = *text != '\0' ? strchr (text + 1, '-') : NULL, *before = dash, *after = dash;

  if (dash == NULL || strstr (text, "..") != NULL)
    return g_strdup (text);
  while (before > text && g_ascii_isspace (before[-1]))
    before--;
  after += 1 + strspn (after + 1, " ");
  gboolean exponent = before == dash && g_ascii_tolower (before[-1]) == 'e';
  if (before == text || exponent || !(g_ascii_isalnum (before[-1]) || before[-1] == '.' || before[-1] == ',') || !g_ascii_isdigit (*after))
    return g_strdup (text);
  return g_strdup_printf ("%.*s..%s", (int) (before - text), text, after);
}

static char *
plain (const char *text)
{
  g_autofree char *signs = plain_signs (text), *minus = dots_for_dash (g_strstrip (signs));
  char letters[3];
  if (g_ascii_strcasecmp (minus, "o") == 0 || (over_letters (minus, letters) && strcmp (letters, "OL") == 0))
    return g_strdup ("OL");
  return g_steal_pointer (&minus);
}

/* As files have it: a point, and no blank within the word. */
static char *
file_form (const char *text)
{
  GString *form = g_string_new (NULL);
  for (const char *c = text; *c; c++)
    if (!g_ascii_isspace (*c))
      g_string_append_c (form, *c == ',' ? '.' : *c);
  return g_string_free (form, FALSE);
}

static MlQuantityStatus
parse (const char *text, MlReads reads, MlQuantity *ret_quantity)
{
  return ml_quantity_parse (text, strlen (text), ml_reading_unit (reads), FLAGS, ret_quantity, NULL);
}

/* A unit that was written decides; volts in a cold condition are the diode test unless volts were asked for. */
static gboolean
other_reads (const char *text, MlReads expected, MlReads *ret_reads, MlQuantity *ret_quantity)
{
  static const MlReads all[] = { ML_READS_VOLTS, ML_READS_OHMS, ML_READS_AMPS };
  for (guint i = 0; i < G_N_ELEMENTS (all); i++)
    if (parse (text, all[i], ret_quantity) == ML_QUANTITY_OK)
      {
        *ret_reads = all[i] == ML_READS_VOLTS && expected == ML_READS_OHMS ? ML_READS_DIODE : all[i];
        return TRUE;
      }
  return FALSE;
}

static char *
wrong_place (MlReads reads, gboolean cold)
{
  if (reads == ML_READS_AMPS)
    return g_strdup ("A current is read at the supply: type it on the card of the condition");
  if (!cold && reads != ML_READS_VOLTS)
    return g_strdup ("Ohms and the diode test are read without a supply: choose a cold condition");
  return NULL;
}

static gboolean
fail (char **ret_trouble, char *trouble)
{
  *ret_trouble = trouble;
  return FALSE;
}

gboolean
ml_reading_text_read (const char *text, MlReads expected, gboolean cold, MlReadingText *ret_reading, char **ret_trouble)
{
  g_autofree char *clean = plain (text);
  MlReads reads = expected;
  MlQuantity quantity;
  MlQuantityStatus status = parse (clean, expected, &quantity);
  if (status == ML_QUANTITY_WRONG_UNIT && other_reads (clean, expected, &reads, &quantity))
    status = ML_QUANTITY_OK;
  if (status != ML_QUANTITY_OK)
    return fail (ret_trouble, g_strdup_printf ("No reading yet: %s", ml_quantity_status_text (status)));
  char *misplaced = wrong_place (reads, cold);
  if (misplaced)
    return fail (ret_trouble, misplaced);
  if (quantity.over && reads == ML_READS_VOLTS)
    return fail (ret_trouble, g_strdup ("OL is no voltage: choose a higher range of the meter"));
  *ret_reading = (MlReadingText){ reads, quantity, file_form (clean) };
  return TRUE;
}

void
ml_reading_text_clear (MlReadingText *reading)
{
  g_clear_pointer (&reading->typed, g_free);
}

/* As many digits as were typed, so that what is shown can be compared with the meter. */
static int
digits_of (double value, double resolution)
{
  if (value == 0.0 || resolution <= 0.0)
    return 3;
  int digits = (int) floor (log10 (fabs (value) / resolution) + 1e-9) + 1;
  return CLAMP (digits, 1, 9);
}

char *
ml_reading_text_understood (const MlReadingText *reading)
{
  const MlQuantity *q = &reading->quantity;
  MlUnit unit = ml_reading_unit (reading->reads);
  char low[48], high[48];
  if (q->over)
    return g_strdup ("over range");
  ml_quantity_format (q->low, unit, digits_of (q->low, q->resolution), true, low, sizeof low);
  if (!q->range)
    return g_strdup (low);
  ml_quantity_format (q->high, unit, digits_of (q->high, q->resolution), true, high, sizeof high);
  return g_strdup_printf ("%s to %s", low, high);
}

/* ---- against what is expected ---- */

static gboolean
agrees (double value, const MlMeter *meter, const MlExpectation *expectation)
{
  if (!isfinite (expectation->value) || !isfinite (value))
    return FALSE;
  double step = ml_meter_resolution (meter, value);
  double of_meter = (meter->dc_share * fabs (value) + meter->dc_counts * step) / sqrt (3.0); /* half-width to sigma, JCGM 100 */
  double sigma = isfinite (expectation->sigma) ? expectation->sigma : 0.0;
  double allowed = MAX (3.0 * hypot (sigma, of_meter), MAX (0.02 * fabs (expectation->value), 5.0 * step));
  return fabs (value - expectation->value) <= allowed;
}

static gboolean
find_agreement (double value, const MlMeter *meter, const MlExpectation *expectations, guint n, guint *ret_which)
{
  for (guint i = 0; i < n; i++)
    if (agrees (value, meter, &expectations[i]))
      {
        if (ret_which)
          *ret_which = i;
        return TRUE;
      }
  return FALSE;
}

static gboolean
anything_known (const MlExpectation *expectations, guint n)
{
  for (guint i = 0; i < n; i++)
    if (isfinite (expectations[i].value))
      return TRUE;
  return FALSE;
}

MlFits
ml_reading_fits (double value, const MlMeter *meter, const MlExpectation *expectations, guint n, gboolean signed_value, guint *ret_which,
                 double *ret_factor)
{
  static const double factors[] = { 1e-3, 1e3 };
  guint which = 0;
  if (!anything_known (expectations, n))
    return ML_FITS_UNKNOWN;
  if (find_agreement (value, meter, expectations, n, &which))
    {
      if (ret_which)
        *ret_which = which;
      return which == 0 ? ML_FITS_HEALTHY : ML_FITS_EXPLANATION;
    }
  if (signed_value && find_agreement (-value, meter, expectations, n, ret_which))
    return ML_FITS_SWAPPED;
  for (guint i = 0; i < G_N_ELEMENTS (factors); i++)
    if (value != 0.0 && find_agreement (value * factors[i], meter, expectations, n, ret_which))
      {
        if (ret_factor)
          *ret_factor = factors[i];
        return ML_FITS_THOUSANDFOLD;
      }
  return ML_FITS_NOTHING;
}

char *
ml_reading_fit_words (double value, const MlExpectation *expectation, gboolean healthy)
{
  gboolean near = fabs (value - expectation->value) <= NEAR_SHARE * MAX (fabs (value), fabs (expectation->value)) + NEAR_LEAST;

  if (healthy)
    return g_strdup (near ? "As it should be" : "A sound board may read this too");
  return g_strdup_printf (near ? "As it would be with: %s" : "May be read with: %s", expectation->label);
}

char *
ml_reading_surprise_words (double value, const MlMeter *meter, const MlExpectation *going_by)
{
  char text[48];

  if (isnan (going_by->value) || agrees (value, meter, going_by))
    return NULL;
  ml_quantity_format (going_by->value, ml_reading_unit (ML_READS_VOLTS), 3, false, text, sizeof text);
  return g_strdup_printf ("A sound board may read this, but by the other readings it should be %s", text);
}
