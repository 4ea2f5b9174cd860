/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a person types as a reading: "270m", "-1.2", "1,5", "450 mV", "OL", "1.8..2.1". Knows no widget. */
#pragma once

#include <glib.h>

#include "job/job.h"

G_BEGIN_DECLS

typedef struct
{
  MlReads reads;       /* as the unit written says, else as expected */
  MlQuantity quantity;
  char *typed;         /* digit for digit as a job file takes it */
} MlReadingText;

/**
 * ml_reading_text_read: text as a reading. expected: what a bare number is. cold: the condition has no supply; only then are ohms and the
 * diode test possible.
 * Errors: FALSE, *ret_trouble is a new sentence that says what is wrong; ret_reading is then untouched.
 */
gboolean ml_reading_text_read (const char *text, MlReads expected, gboolean cold, MlReadingText *ret_reading, char **ret_trouble);
void ml_reading_text_clear (MlReadingText *reading);
/** ml_reading_text_begins_over: with an L behind it, small or not, that would be an over-range reading: "O", "0.". */
gboolean ml_reading_text_begins_over (const char *text);
/** ml_reading_text_understood: "270 mV", "over range", "1.80 V to 2.10 V"; new string. */
char *ml_reading_text_understood (const MlReadingText *reading);

/* One number that a reading may be compared with. */
typedef struct
{
  const char *label; /* borrowed: "fine", "1" */
  double value;      /* SI; NAN: not known */
  double sigma;      /* of part tolerances, without the meter */
} MlExpectation;

typedef enum
{
  ML_FITS_UNKNOWN,      /* nothing to compare with */
  ML_FITS_HEALTHY,      /* the first expectation, which is that of a fine board */
  ML_FITS_EXPLANATION,  /* another one */
  ML_FITS_SWAPPED,      /* none, but with the sign changed */
  ML_FITS_THOUSANDFOLD, /* none, but a thousand times more or less */
  ML_FITS_NOTHING
} MlFits;

/**
 * ml_reading_fits: which expectation a value agrees with: within 3 sigma of tolerance and meter, and never closer than 2 % or 5 steps of the
 * display. *ret_which (may be NULL) is that expectation; for ML_FITS_THOUSANDFOLD *ret_factor (may be NULL) makes the value fit.
 */
MlFits ml_reading_fits (double value, const MlMeter *meter, const MlExpectation *expectations, guint n, gboolean signed_value,
                        guint *ret_which, double *ret_factor);
/** ml_reading_fit_words: what is said of a value that agrees with that expectation, the sound board's or a fault's; new string. Behind a chip that
 * nobody knows nearly anything may agree: far from the expected value itself that is no praise. */
char *ml_reading_fit_words (double value, const MlExpectation *expectation, gboolean healthy);
/** ml_reading_surprise_words: what is said of a voltage that a sound board may show, but that is not what the readings taken have it be (value V and sigma
 * of going_by, NAN: they do not tell); NULL: it is no surprise. New string. */
char *ml_reading_surprise_words (double value, const MlMeter *meter, const MlExpectation *going_by);

G_END_DECLS
