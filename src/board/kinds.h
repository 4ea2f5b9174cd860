/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The table of part kinds: the one place that says which words, pins and keys a kind has. */
#pragma once

#include <glib.h>

#include "quantity/quantity.h"

G_BEGIN_DECLS

typedef enum
{
  ML_KIND_RESISTOR, ML_KIND_LINK, ML_KIND_INDUCTOR, ML_KIND_CAPACITOR, ML_KIND_POTENTIOMETER, ML_KIND_THERMISTOR, ML_KIND_VARISTOR,
  ML_KIND_TVS, ML_KIND_FUSE, ML_KIND_COIL, ML_KIND_SWITCH, ML_KIND_CHANGEOVER, ML_KIND_CONTACT, ML_KIND_LAMP, ML_KIND_DIODE,
  ML_KIND_LED, ML_KIND_ZENER, ML_KIND_BRIDGE, ML_KIND_NPN, ML_KIND_PNP, ML_KIND_NMOS, ML_KIND_PMOS, ML_KIND_NJFET, ML_KIND_PJFET,
  ML_KIND_THYRISTOR, ML_KIND_TRIAC, ML_KIND_REGULATOR, ML_KIND_ADJUSTABLE, ML_KIND_SHUNT, ML_KIND_OPAMP, ML_KIND_COMPARATOR,
  ML_KIND_OPTO, ML_KIND_CONVERTER, ML_KIND_BATTERY, ML_KIND_CONNECTOR, ML_KIND_TESTPOINT, ML_KIND_BLOCK,
  ML_N_KINDS
} MlKind;

typedef enum
{
  ML_KEY_VALUE, ML_KEY_TOLERANCE, ML_KEY_POWER, ML_KEY_CURRENT, ML_KEY_REVERSE, ML_KEY_PACKAGE, ML_KEY_RESISTANCE, ML_KEY_POSITION,
  ML_KEY_BETA, ML_KEY_CLAMP, ML_KEY_PULL, ML_KEY_RELEASE, ML_KEY_SHOW, ML_KEY_BY, ML_KEY_VOLTAGE, ML_KEY_FAMILY, ML_KEY_DROP,
  ML_KEY_COLOUR, ML_KEY_GAIN, ML_KEY_THRESHOLD, ML_KEY_ON, ML_KEY_IDSS, ML_KEY_TRIGGER, ML_KEY_HOLD, ML_KEY_DROPOUT, ML_KEY_LIMIT,
  ML_KEY_REFERENCE, ML_KEY_OFFSET, ML_KEY_HEADROOM, ML_KEY_FOOTROOM, ML_KEY_BIAS, ML_KEY_OUTPUT, ML_KEY_RATIO, ML_KEY_EFFICIENCY, ML_KEY_START, ML_KEY_SUPPLY, ML_KEY_GROUND,
  ML_N_KEYS
} MlKey;

typedef enum
{
  ML_KEY_IS_QUANTITY, /* value=4k7 */
  ML_KEY_IS_AT,       /* drop=0.6@10m, on=50m@10 : quantity @ second quantity */
  ML_KEY_IS_CHOICE,   /* family=silicon|schottky|germanium */
  ML_KEY_IS_WORD      /* package=U3, by=K1 */
} MlKeyShape;

typedef struct
{
  MlKey key;
  const char *word;
  MlKeyShape shape;
  MlUnit unit, at_unit;
  const char *choices; /* "silicon|schottky|germanium", NULL otherwise */
} MlKeyInfo;

typedef struct
{
  MlKind kind;
  const char *word;       /* in files: "npn" */
  const char *trade_name; /* in the window: "NPN transistor" */
  const char *search;     /* further words a person may type, blank-separated: "bjt bipolar" */
  const char *letter;     /* for new names: "Q" (class letters commonly listed for IEEE 315) */
  const char *const *pins;      /* in the order of the design's table; NULL-terminated; empty for connector, testpoint, block */
  const char *const *pins_also; /* capacitor: plus minus; NULL otherwise */
  gboolean any_pins;
  gboolean polar;         /* can be fitted the wrong way round */
  const MlKeyInfo *keys;  /* keys of its own and the common ones it takes */
  guint n_keys;
} MlKindInfo;

const MlKindInfo *ml_kind_info (MlKind kind);
/** ml_kind_called: its word with its article, "a resistor", "an npn". The result lives for the process. */
const char *ml_kind_called (const MlKindInfo *kind);
/** ml_kind_find: exact word; NULL when unknown. */
const MlKindInfo *ml_kind_find (const char *word);
/** ml_kind_key: the key of that kind, or NULL. `value` is its main figure where the trade calls that its value: a zener's voltage. */
const MlKeyInfo *ml_kind_key (const MlKindInfo *kind, const char *word);
#define ML_PIN_PREFIX "pin." /* of a key that is the name of a pin: "pin.open=NET" */
/** ml_kind_reserves: a pin of that name is written pin.NAME=, since NAME= is a key (for connectors and blocks). */
gboolean ml_kind_reserves (const MlKindInfo *kind, const char *word);
/** ml_kind_key_info: that key of the kind, or NULL when it has none such. */
const MlKeyInfo *ml_kind_key_info (const MlKindInfo *kind, MlKey key);
/** ml_kind_main_key: the key that a bare number means; ML_N_KEYS where a number means nothing. */
MlKey ml_kind_main_key (MlKind kind);
/** ml_kind_key_words: the names of its keys, for messages: "voltage tolerance power". */
char *ml_kind_key_words (const MlKindInfo *kind);
/** ml_kind_has_part_number: its body carries one, as a diode's, a relay's or a chip's does. */
gboolean ml_kind_has_part_number (MlKind kind);
/** ml_kind_by_trade_word: the kind that a person calls so ("relay", "MOSFET", "chip"), for messages; NULL when none. */
const MlKindInfo *ml_kind_by_trade_word (const char *word);

G_END_DECLS
