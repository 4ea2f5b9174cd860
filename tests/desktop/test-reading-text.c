/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a person types as a reading. The accepted forms are those promised for the entry; SI prefixes as in the SI brochure. The limits of
 * agreement are worked by hand beside each check. */
#include "support/near.h"

#include <math.h>
#include <string.h>

#include "desktop/reading-text.h"

typedef struct
{
  const char *text;
  MlReads expected;
  gboolean cold;
  MlReads reads;
  double low, high;
  const char *typed, *understood;
} Good;

static const Good good[] = {
  { "270m", ML_READS_VOLTS, FALSE, ML_READS_VOLTS, 0.270, 0.270, "270m", "270 mV" },
  { "-1.2", ML_READS_VOLTS, FALSE, ML_READS_VOLTS, -1.2, -1.2, "-1.2", "-1.2 V" },
  { "\xe2\x88\x92" "1.2", ML_READS_VOLTS, FALSE, ML_READS_VOLTS, -1.2, -1.2, "-1.2", "-1.2 V" }, /* minus sign U+2212 */
  { "\xe2\x80\x93" "0,45\xc2\xa0V\n", ML_READS_VOLTS, FALSE, ML_READS_VOLTS, -0.45, -0.45, "-0.45V", "-450 mV" }, /* copied: dash, no-break space, new line */
  { "450\xe2\x80\xafmV", ML_READS_VOLTS, FALSE, ML_READS_VOLTS, 0.450, 0.450, "450mV", "450 mV" },                    /* narrow no-break space */
  { "1,8\xe2\x80\xa6" "2,1", ML_READS_VOLTS, FALSE, ML_READS_VOLTS, 1.8, 2.1, "1.8..2.1", "1.8 V to 2.1 V" },         /* one sign for the dots */
  { "1,5", ML_READS_VOLTS, FALSE, ML_READS_VOLTS, 1.5, 1.5, "1.5", "1.5 V" },
  { "450 mV", ML_READS_VOLTS, FALSE, ML_READS_VOLTS, 0.450, 0.450, "450mV", "450 mV" },
  { " 2.910 ", ML_READS_VOLTS, FALSE, ML_READS_VOLTS, 2.91, 2.91, "2.910", "2.910 V" },
  { "1.8..2.1", ML_READS_VOLTS, FALSE, ML_READS_VOLTS, 1.8, 2.1, "1.8..2.1", "1.8 V to 2.1 V" },
  { "1,8..2,1", ML_READS_VOLTS, FALSE, ML_READS_VOLTS, 1.8, 2.1, "1.8..2.1", "1.8 V to 2.1 V" },
  { "1.8-2.1", ML_READS_VOLTS, FALSE, ML_READS_VOLTS, 1.8, 2.1, "1.8..2.1", "1.8 V to 2.1 V" },
  { "1,8 \xe2\x80\x93 2,1 V", ML_READS_VOLTS, FALSE, ML_READS_VOLTS, 1.8, 2.1, "1.8..2.1V", "1.8 V to 2.1 V" },
  { "-2-3", ML_READS_VOLTS, FALSE, ML_READS_VOLTS, -2, 3, "-2..3", "-2 V to 3 V" },
  { "12e-3", ML_READS_VOLTS, FALSE, ML_READS_VOLTS, 0.012, 0.012, "12e-3", "12 mV" }, /* no range */
  { "4k7", ML_READS_OHMS, TRUE, ML_READS_OHMS, 4700, 4700, "4k7", "4.7 k\xce\xa9" },
  { "OL", ML_READS_OHMS, TRUE, ML_READS_OHMS, INFINITY, INFINITY, "OL", "over range" },
  { "0L", ML_READS_OHMS, TRUE, ML_READS_OHMS, INFINITY, INFINITY, "OL", "over range" },
  { "0.l", ML_READS_OHMS, TRUE, ML_READS_OHMS, INFINITY, INFINITY, "OL", "over range" },
  { ".0L", ML_READS_OHMS, TRUE, ML_READS_OHMS, INFINITY, INFINITY, "OL", "over range" },
  { "o,l", ML_READS_DIODE, TRUE, ML_READS_DIODE, INFINITY, INFINITY, "OL", "over range" },
  { "O", ML_READS_OHMS, TRUE, ML_READS_OHMS, INFINITY, INFINITY, "OL", "over range" },
  { "0.61 V", ML_READS_OHMS, TRUE, ML_READS_DIODE, 0.61, 0.61, "0.61V", "610 mV" },
};

static void
test_reading_text_accepts_what_is_promised (void **state)
{
  for (guint i = 0; i < G_N_ELEMENTS (good); i++)
    {
      MlReadingText reading;
      char *trouble = NULL;
      print_message ("%s\n", good[i].text);
      assert_true (ml_reading_text_read (good[i].text, good[i].expected, good[i].cold, &reading, &trouble));
      assert_null (trouble);
      assert_int_equal (reading.reads, good[i].reads);
      if (isfinite (good[i].low))
        {
          assert_near (reading.quantity.low, good[i].low, 1e-12, 0);
          assert_near (reading.quantity.high, good[i].high, 1e-12, 0);
        }
      else
        assert_true (reading.quantity.over);
      assert_string_equal (reading.typed, good[i].typed);
      g_autofree char *understood = ml_reading_text_understood (&reading);
      assert_string_equal (understood, good[i].understood);
      ml_reading_text_clear (&reading);
    }
}

typedef struct
{
  const char *text;
  MlReads expected;
  gboolean cold;
  const char *says;
} Bad;

static const Bad bad[] = {
  { "", ML_READS_VOLTS, FALSE, "No reading yet" },
  { "abc", ML_READS_VOLTS, FALSE, "No reading yet" },
  { "1.2.3", ML_READS_VOLTS, FALSE, "No reading yet" },
  { "0..L", ML_READS_OHMS, TRUE, "No reading yet" },
  { "0LL", ML_READS_OHMS, TRUE, "No reading yet" },
  { "2.1..1.8", ML_READS_VOLTS, FALSE, "No reading yet" },
  { "85 mA", ML_READS_VOLTS, FALSE, "at the supply" },
  { "4k7 ohm", ML_READS_VOLTS, FALSE, "cold condition" },
  { "OL", ML_READS_VOLTS, FALSE, "higher range" },
  { "1e999", ML_READS_VOLTS, FALSE, "No reading yet" },
};

static void
test_reading_text_says_what_is_wrong (void **state)
{
  for (guint i = 0; i < G_N_ELEMENTS (bad); i++)
    {
      MlReadingText untouched = { .typed = NULL }, reading = untouched;
      g_autofree char *trouble = NULL;
      print_message ("%s\n", bad[i].text);
      assert_false (ml_reading_text_read (bad[i].text, bad[i].expected, bad[i].cold, &reading, &trouble));
      assert_non_null (trouble);
      assert_non_null (strstr (trouble, bad[i].says));
      assert_null (reading.typed);
    }
}

/* A meter of 0.5 % + 2 counts, 6000 counts: at 5 V its step is 1 mV, its sigma (25 mV + 2 mV) / sqrt 3 = 15.6 mV. */
static const MlMeter meter = { .dc_share = 0.005, .dc_counts = 2, .counts = 6000 };

static void
test_reading_fits_tells_agreement_and_slips (void **state)
{
  /* fine: 5.00 V, sigma 30 mV: allowed 3 sqrt (30^2 + 15.6^2) = 101 mV, and 2 % is 100 mV. Fault: 1.90 V. */
  MlExpectation expected[] = { { "fine", 5.0, 0.030 }, { "1", 1.9, 0.020 } };
  guint which = 99;
  double factor = 0.0;
  assert_int_equal (ml_reading_fits (5.09, &meter, expected, 2, TRUE, &which, NULL), ML_FITS_HEALTHY);
  assert_int_equal (ml_reading_fits (5.12, &meter, expected, 2, TRUE, NULL, NULL), ML_FITS_NOTHING);
  assert_int_equal (ml_reading_fits (1.91, &meter, expected, 2, TRUE, &which, NULL), ML_FITS_EXPLANATION);
  assert_int_equal (which, 1);
  assert_int_equal (ml_reading_fits (-5.0, &meter, expected, 2, TRUE, NULL, NULL), ML_FITS_SWAPPED);
  assert_int_equal (ml_reading_fits (-5.0, &meter, expected, 2, FALSE, NULL, NULL), ML_FITS_NOTHING); /* ohms have no sign */
  assert_int_equal (ml_reading_fits (0.0019, &meter, expected, 2, TRUE, &which, &factor), ML_FITS_THOUSANDFOLD);
  assert_near (factor, 1000.0, 0, 0);
  assert_int_equal (ml_reading_fits (3.3, &meter, expected, 0, TRUE, NULL, NULL), ML_FITS_UNKNOWN);
  MlExpectation unknown[] = { { "fine", NAN, NAN } };
  assert_int_equal (ml_reading_fits (3.3, &meter, unknown, 1, TRUE, NULL, NULL), ML_FITS_UNKNOWN);
}

/* A chip that nobody knows leaves 2 V of freedom round 4.58 V: 3.62 V is a fifth less than that, 2.5 V not much more than half of it. */
static void
test_reading_far_from_the_value_itself_is_not_praised (void **state)
{
  static const MlExpectation wide[] = { { "fine", 0.51, 0.2 }, { "R4 open", 4.58, 2.0 } };
  static const struct { double value; guint which; const char *words; } cases[] = {
    { 0.5, 0, "As it should be" },
    { 0.9, 0, "A sound board may read this too" },
    { 0.505, 0, "As it should be" },
    { 3.62, 1, "As it would be with: R4 open" },
    { 2.5, 1, "May be read with: R4 open" },
    { 9.0, 1, "May be read with: R4 open" },
  };
  guint which;

  for (guint i = 0; i < G_N_ELEMENTS (cases); i++)
    {
      ml_reading_fits (cases[i].value, &meter, wide, 2, TRUE, &which, NULL);
      assert_int_equal (which, cases[i].which);
      g_autofree char *words = ml_reading_fit_words (cases[i].value, &wide[which], which == 0);
      assert_string_equal (words, cases[i].words);
    }
}

/* 0.5 % and 2 counts of a meter at 2 V, 10 mV of spread: three sigma are 37 mV. */
static void
test_reading_that_a_sound_board_may_show_may_still_surprise (void **state)
{
  const MlExpectation going_by = { "", 2.02, 0.01 }, unknown = { "", NAN, NAN };

  assert_null (ml_reading_surprise_words (2.0, &meter, &going_by));
  assert_null (ml_reading_surprise_words (1.93, &meter, &unknown));
  g_autofree char *words = ml_reading_surprise_words (1.93, &meter, &going_by);
  assert_string_equal (words, "A sound board may read this, but by the other readings it should be 2.02 V");
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_reading_text_accepts_what_is_promised),
    cmocka_unit_test (test_reading_text_says_what_is_wrong),
    cmocka_unit_test (test_reading_fits_tells_agreement_and_slips),
    cmocka_unit_test (test_reading_that_a_sound_board_may_show_may_still_surprise),
    cmocka_unit_test (test_reading_far_from_the_value_itself_is_not_praised),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
