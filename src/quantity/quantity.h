/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Numbers as people write them on a board, a meter or in a file. No GLib, no locale, no allocation. */
#pragma once

#include <stdbool.h>
#include <stddef.h>

typedef enum
{
  ML_UNIT_NONE,     /* a bare ratio: gain, ideality */
  ML_UNIT_VOLT,
  ML_UNIT_AMPERE,
  ML_UNIT_OHM,
  ML_UNIT_FARAD,
  ML_UNIT_HENRY,
  ML_UNIT_WATT,
  ML_UNIT_KELVIN,
  ML_UNIT_SECOND,
  ML_UNIT_PERCENT,  /* stored as a fraction: 5 % is 0.05 */
  ML_N_UNITS
} MlUnit;

/* Understood forms: 4700, 4k7, 4.7k, 4K7K, R47, 270m, 10u, 2n2, 1e-3, -1.2 V, 450 mV, 3.3 volts, 5%, and with ML_QUANTITY_COMMA 1,5.
 * ML_QUANTITY_RANGE also takes 1.8..2.1, ML_QUANTITY_OVER also takes OL; with either it is a reading, which is no larger than 1e12. */
typedef enum
{
  ML_QUANTITY_PLAIN = 0,
  ML_QUANTITY_COMMA = 1 << 0, /* the comma too is a decimal mark (typed entries, never files) */
  ML_QUANTITY_RANGE = 1 << 1,
  ML_QUANTITY_OVER  = 1 << 2
} MlQuantityFlags;

typedef struct
{
  double value;      /* SI; the middle of a range; +infinity when over */
  double low, high;  /* SI; both equal value unless a range was written */
  double resolution; /* SI; the place value of the last digit written: 2.91 -> 0.01, 270m -> 1e-3 */
  double tolerance;  /* as a fraction, from an IEC 60062 letter (4K7K -> 0.10); NAN when none was written */
  MlUnit unit;       /* the unit written, else the unit expected by the caller */
  bool range;
  bool over;         /* OL: beyond the meter's range */
} MlQuantity;

typedef enum
{
  ML_QUANTITY_OK = 0,
  ML_QUANTITY_EMPTY = -1,
  ML_QUANTITY_NOT_A_NUMBER = -2,
  ML_QUANTITY_TRAILING = -3,     /* something is left after the number */
  ML_QUANTITY_WRONG_UNIT = -4,   /* ohms where volts belong */
  ML_QUANTITY_TWO_MARKS = -5,    /* 1.2.3 or 1,2.3 */
  ML_QUANTITY_OUT_OF_RANGE = -6, /* not finite as a double, or more than a meter shows */
  ML_QUANTITY_BACKWARDS = -7,    /* 2.1..1.8 */
  ML_QUANTITY_COMMA_MARK = -8    /* 1,5 without ML_QUANTITY_COMMA */
} MlQuantityStatus;

/**
 * ml_quantity_parse: read one quantity that fills text[0 .. length-1] (blanks around it are allowed).
 * Units:  `expected` says which unit a bare number has and which units are accepted; with ML_UNIT_FARAD a letter F is the unit.
 * Errors: a negative MlQuantityStatus; ret_quantity is then untouched, *ret_where (may be NULL) is the offset of the offending character.
 * Source: IEC 60062 (letter as decimal mark, tolerance letters), SI prefixes p n u µ m k M G.
 */
MlQuantityStatus ml_quantity_parse (const char *text, size_t length, MlUnit expected, MlQuantityFlags flags,
                                    MlQuantity *ret_quantity, size_t *ret_where);

/** ml_quantity_status_text: a constant English sentence fragment, "a number is missing". Never NULL. */
const char *ml_quantity_status_text (MlQuantityStatus status);

/** ml_quantity_unit_examples: how such a number is written, for messages: "4k7 or 330". Never NULL. */
const char *ml_quantity_unit_examples (MlUnit unit);

/** ml_quantity_unit_symbol: "V", "A", "Ω", "F", "H", "W", "K", "s", "%", "". */
const char *ml_quantity_unit_symbol (MlUnit unit);

/**
 * ml_quantity_format: write value for people, "270 mV", "4.7 kΩ", "−1.20 V" is written with an ASCII hyphen: "-1.20 V".
 * digits significant digits (1..9); below 1e-15 of a unit that takes prefixes is written 0; trailing zeros are kept when keep_zeros. NAN gives "?", infinity "OL".
 * Returns the length it wrote (or would have written, as snprintf does).
 */
int ml_quantity_format (double value, MlUnit unit, int digits, bool keep_zeros, char *buffer, size_t size);

/**
 * ml_quantity_format_file: the shortest form that ml_quantity_parse reads back to the same double, without a unit and with an
 * SI prefix where one fits ("270m", "4.7k", "18").
 */
int ml_quantity_format_file (double value, char *buffer, size_t size);

/** ml_quantity_format_marking: resistor and capacitor values as the trade writes them: "4k7", "470R", "2u2". */
int ml_quantity_format_marking (double value, MlUnit unit, char *buffer, size_t size);
