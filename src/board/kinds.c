/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A new kind of part is one entry here, its defaults in data/, its symbol and its device. */
#include "board/kinds.h"

#include <string.h>

#define QUANTITY(key, word, unit) { key, word, ML_KEY_IS_QUANTITY, unit, ML_UNIT_NONE, NULL }
#define AT(key, word, unit, at_unit) { key, word, ML_KEY_IS_AT, unit, at_unit, NULL }
#define CHOICE(key, word, choices) { key, word, ML_KEY_IS_CHOICE, ML_UNIT_NONE, ML_UNIT_NONE, choices }
#define WORD(key, word) { key, word, ML_KEY_IS_WORD, ML_UNIT_NONE, ML_UNIT_NONE, NULL }

#define TOLERANCE QUANTITY (ML_KEY_TOLERANCE, "tolerance", ML_UNIT_PERCENT)
/* What every part may have. */
#define RATINGS \
  TOLERANCE, QUANTITY (ML_KEY_POWER, "power", ML_UNIT_WATT), QUANTITY (ML_KEY_CURRENT, "current", ML_UNIT_AMPERE), \
  QUANTITY (ML_KEY_REVERSE, "reverse", ML_UNIT_VOLT), WORD (ML_KEY_PACKAGE, "package")
#define VALUE(unit) QUANTITY (ML_KEY_VALUE, "value", unit)
#define RESISTANCE QUANTITY (ML_KEY_RESISTANCE, "resistance", ML_UNIT_OHM)
#define VOLTAGE QUANTITY (ML_KEY_VOLTAGE, "voltage", ML_UNIT_VOLT)
#define DROP AT (ML_KEY_DROP, "drop", ML_UNIT_VOLT, ML_UNIT_AMPERE)
#define FAMILY CHOICE (ML_KEY_FAMILY, "family", "silicon|schottky|germanium")
#define DROPOUT QUANTITY (ML_KEY_DROPOUT, "dropout", ML_UNIT_VOLT)
#define LIMIT QUANTITY (ML_KEY_LIMIT, "limit", ML_UNIT_AMPERE)
#define THRESHOLD QUANTITY (ML_KEY_THRESHOLD, "threshold", ML_UNIT_VOLT)

static const MlKeyInfo bare_keys[] = { RATINGS };
static const MlKeyInfo resistor_keys[] = { VALUE (ML_UNIT_OHM), RATINGS };
static const MlKeyInfo link_keys[] = { RESISTANCE, RATINGS };
static const MlKeyInfo inductor_keys[] = { VALUE (ML_UNIT_HENRY), RESISTANCE, RATINGS };
static const MlKeyInfo capacitor_keys[] = { VALUE (ML_UNIT_FARAD), VOLTAGE, RATINGS };
static const MlKeyInfo potentiometer_keys[]
    = { VALUE (ML_UNIT_OHM), QUANTITY (ML_KEY_POSITION, "position", ML_UNIT_PERCENT), RATINGS };
static const MlKeyInfo thermistor_keys[] = { VALUE (ML_UNIT_OHM), QUANTITY (ML_KEY_BETA, "beta", ML_UNIT_KELVIN), RATINGS };
static const MlKeyInfo clamp_keys[] = { QUANTITY (ML_KEY_CLAMP, "clamp", ML_UNIT_VOLT), RATINGS };
static const MlKeyInfo fuse_keys[] = { RESISTANCE, RATINGS };
static const MlKeyInfo coil_keys[]
    = { RESISTANCE, QUANTITY (ML_KEY_PULL, "pull", ML_UNIT_VOLT), QUANTITY (ML_KEY_RELEASE, "release", ML_UNIT_VOLT),
        CHOICE (ML_KEY_SHOW, "show", "relay|motor|heater|winding"), RATINGS };
static const MlKeyInfo contact_keys[] = { WORD (ML_KEY_BY, "by"), RATINGS };
static const MlKeyInfo lamp_keys[] = { VOLTAGE, RATINGS };
static const MlKeyInfo diode_keys[] = { FAMILY, DROP, RATINGS };
static const MlKeyInfo led_keys[]
    = { CHOICE (ML_KEY_COLOUR, "colour", "red|orange|yellow|green|blue|white|infrared"), DROP, RATINGS };
static const MlKeyInfo zener_keys[] = { AT (ML_KEY_VOLTAGE, "voltage", ML_UNIT_VOLT, ML_UNIT_AMPERE), RATINGS };
static const MlKeyInfo transistor_keys[] = { QUANTITY (ML_KEY_GAIN, "gain", ML_UNIT_NONE), RATINGS };
static const MlKeyInfo mosfet_keys[] = { THRESHOLD, AT (ML_KEY_ON, "on", ML_UNIT_OHM, ML_UNIT_VOLT), RATINGS };
static const MlKeyInfo jfet_keys[] = { QUANTITY (ML_KEY_IDSS, "idss", ML_UNIT_AMPERE), THRESHOLD, RATINGS };
static const MlKeyInfo thyristor_keys[]
    = { QUANTITY (ML_KEY_TRIGGER, "trigger", ML_UNIT_AMPERE), QUANTITY (ML_KEY_HOLD, "hold", ML_UNIT_AMPERE), DROP, RATINGS };
static const MlKeyInfo regulator_keys[] = { VOLTAGE, DROPOUT, LIMIT, RATINGS };
static const MlKeyInfo adjustable_keys[]
    = { QUANTITY (ML_KEY_REFERENCE, "reference", ML_UNIT_VOLT), DROPOUT, LIMIT, RATINGS };
/* The shunt's reference voltage is written voltage=: reference= is its third pin. */
static const MlKeyInfo shunt_keys[] = { QUANTITY (ML_KEY_REFERENCE, "voltage", ML_UNIT_VOLT), LIMIT, RATINGS };
/* bias: what flows out of each input. headroom, footroom: how far the output stays below its positive and above its negative pin. */
#define BIAS QUANTITY (ML_KEY_BIAS, "bias", ML_UNIT_AMPERE)
static const MlKeyInfo opamp_keys[]
    = { QUANTITY (ML_KEY_OFFSET, "offset", ML_UNIT_VOLT), BIAS, QUANTITY (ML_KEY_HEADROOM, "headroom", ML_UNIT_VOLT),
        QUANTITY (ML_KEY_FOOTROOM, "footroom", ML_UNIT_VOLT), RATINGS };
static const MlKeyInfo comparator_keys[]
    = { QUANTITY (ML_KEY_OFFSET, "offset", ML_UNIT_VOLT), BIAS, CHOICE (ML_KEY_OUTPUT, "output", "open|pushpull"), RATINGS };
static const MlKeyInfo opto_keys[] = { QUANTITY (ML_KEY_RATIO, "ratio", ML_UNIT_NONE), RATINGS };
static const MlKeyInfo converter_keys[]
    = { VOLTAGE, QUANTITY (ML_KEY_EFFICIENCY, "efficiency", ML_UNIT_PERCENT), LIMIT,
        QUANTITY (ML_KEY_START, "start", ML_UNIT_VOLT), RATINGS };
static const MlKeyInfo battery_keys[] = { VOLTAGE, RESISTANCE, RATINGS };
static const MlKeyInfo block_keys[] = { WORD (ML_KEY_SUPPLY, "supply"), WORD (ML_KEY_GROUND, "ground"), RATINGS };

static const char *const no_pins[] = { NULL };
static const char *const numbered[] = { "1", "2", NULL };
static const char *const poles[] = { "plus", "minus", NULL };
static const char *const junction[] = { "anode", "cathode", NULL };
static const char *const pot_pins[] = { "1", "2", "wiper", NULL };
static const char *const changeover_pins[] = { "common", "a", "b", NULL };
static const char *const contact_pins[] = { "common", "no", "nc", NULL };
static const char *const bridge_pins[] = { "ac1", "ac2", "plus", "minus", NULL };
static const char *const bipolar_pins[] = { "collector", "base", "emitter", NULL };
static const char *const fet_pins[] = { "drain", "gate", "source", NULL };
static const char *const thyristor_pins[] = { "anode", "cathode", "gate", NULL };
static const char *const triac_pins[] = { "1", "2", "gate", NULL };
static const char *const regulator_pins[] = { "in", "out", "ground", NULL };
static const char *const adjustable_pins[] = { "in", "out", "adjust", NULL };
static const char *const shunt_pins[] = { "cathode", "anode", "reference", NULL };
static const char *const opamp_pins[] = { "noninverting", "inverting", "out", "positive", "negative", NULL };
static const char *const opto_pins[] = { "anode", "cathode", "collector", "emitter", NULL };

#define KEYS(array) array, G_N_ELEMENTS (array)
#define FIXED(pins) pins, NULL, FALSE
#define ANY_PINS no_pins, NULL, TRUE

static const MlKindInfo kinds[ML_N_KINDS] = {
  { ML_KIND_RESISTOR, "resistor", "Resistor", "ohm shunt sense", "R", FIXED (numbered), FALSE, KEYS (resistor_keys) },
  { ML_KIND_LINK, "link", "Link", "wire jumper bridge zero ohm strap", "LK", FIXED (numbered), FALSE, KEYS (link_keys) },
  { ML_KIND_INDUCTOR, "inductor", "Inductor", "choke coil ferrite bead henry", "L", FIXED (numbered), FALSE, KEYS (inductor_keys) },
  { ML_KIND_CAPACITOR, "capacitor", "Capacitor", "ceramic electrolytic tantalum condenser farad", "C", numbered, poles, FALSE, FALSE,
    KEYS (capacitor_keys) },
  { ML_KIND_POTENTIOMETER, "potentiometer", "Potentiometer", "trimmer preset variable resistor pot", "RV", FIXED (pot_pins), FALSE,
    KEYS (potentiometer_keys) },
  { ML_KIND_THERMISTOR, "thermistor", "Thermistor", "ntc temperature sensor", "RT", FIXED (numbered), FALSE, KEYS (thermistor_keys) },
  { ML_KIND_VARISTOR, "varistor", "Varistor", "mov surge", "RV", FIXED (numbered), FALSE, KEYS (clamp_keys) },
  { ML_KIND_TVS, "tvs", "Transient suppressor", "surge clamp suppressor diode", "D", FIXED (numbered), FALSE, KEYS (clamp_keys) },
  { ML_KIND_FUSE, "fuse", "Fuse", "polyfuse resettable cut-out", "F", FIXED (numbered), FALSE, KEYS (fuse_keys) },
  { ML_KIND_COIL, "coil", "Coil", "relay solenoid motor heater winding valve", "K", FIXED (numbered), FALSE, KEYS (coil_keys) },
  { ML_KIND_SWITCH, "switch", "Switch", "button push key", "S", FIXED (numbered), FALSE, KEYS (bare_keys) },
  { ML_KIND_CHANGEOVER, "changeover", "Changeover switch", "toggle slide selector", "S", FIXED (changeover_pins), FALSE, KEYS (bare_keys) },
  { ML_KIND_CONTACT, "contact", "Relay contact", "relay changeover", "K", FIXED (contact_pins), FALSE, KEYS (contact_keys) },
  { ML_KIND_LAMP, "lamp", "Lamp", "bulb incandescent filament", "DS", FIXED (numbered), FALSE, KEYS (lamp_keys) },
  { ML_KIND_DIODE, "diode", "Diode", "rectifier schottky germanium signal freewheel", "D", FIXED (junction), TRUE, KEYS (diode_keys) },
  { ML_KIND_LED, "led", "LED", "light emitting diode indicator", "LED", FIXED (junction), TRUE, KEYS (led_keys) },
  { ML_KIND_ZENER, "zener", "Zener diode", "stabiliser reference", "D", FIXED (junction), TRUE, KEYS (zener_keys) },
  { ML_KIND_BRIDGE, "bridge", "Bridge rectifier", "rectifier four diodes", "D", FIXED (bridge_pins), FALSE, KEYS (diode_keys) },
  { ML_KIND_NPN, "npn", "NPN transistor", "bjt bipolar transistor", "Q", FIXED (bipolar_pins), FALSE, KEYS (transistor_keys) },
  { ML_KIND_PNP, "pnp", "PNP transistor", "bjt bipolar transistor", "Q", FIXED (bipolar_pins), FALSE, KEYS (transistor_keys) },
  { ML_KIND_NMOS, "nmos", "N-channel MOSFET", "fet mosfet transistor", "Q", FIXED (fet_pins), FALSE, KEYS (mosfet_keys) },
  { ML_KIND_PMOS, "pmos", "P-channel MOSFET", "fet mosfet transistor", "Q", FIXED (fet_pins), FALSE, KEYS (mosfet_keys) },
  { ML_KIND_NJFET, "njfet", "N-channel JFET", "fet junction transistor", "Q", FIXED (fet_pins), FALSE, KEYS (jfet_keys) },
  { ML_KIND_PJFET, "pjfet", "P-channel JFET", "fet junction transistor", "Q", FIXED (fet_pins), FALSE, KEYS (jfet_keys) },
  { ML_KIND_THYRISTOR, "thyristor", "Thyristor", "scr silicon controlled rectifier", "Q", FIXED (thyristor_pins), FALSE,
    KEYS (thyristor_keys) },
  { ML_KIND_TRIAC, "triac", "Triac", "thyristor", "Q", FIXED (triac_pins), FALSE, KEYS (thyristor_keys) },
  { ML_KIND_REGULATOR, "regulator", "Voltage regulator", "linear fixed ldo three terminal", "U", FIXED (regulator_pins), FALSE,
    KEYS (regulator_keys) },
  { ML_KIND_ADJUSTABLE, "adjustable", "Adjustable regulator", "linear voltage regulator", "U", FIXED (adjustable_pins), FALSE,
    KEYS (adjustable_keys) },
  { ML_KIND_SHUNT, "shunt", "Shunt reference", "adjustable zener voltage reference", "U", FIXED (shunt_pins), FALSE, KEYS (shunt_keys) },
  { ML_KIND_OPAMP, "opamp", "Operational amplifier", "op-amp amplifier", "U", FIXED (opamp_pins), FALSE, KEYS (opamp_keys) },
  { ML_KIND_COMPARATOR, "comparator", "Comparator", "open collector", "U", FIXED (opamp_pins), FALSE, KEYS (comparator_keys) },
  { ML_KIND_OPTO, "opto", "Optocoupler", "opto-isolator photocoupler", "U", FIXED (opto_pins), FALSE, KEYS (opto_keys) },
  { ML_KIND_CONVERTER, "converter", "Switching converter", "buck boost dc-dc switching regulator module", "U", FIXED (regulator_pins), FALSE,
    KEYS (converter_keys) },
  { ML_KIND_BATTERY, "battery", "Battery", "cell accumulator", "BT", FIXED (poles), TRUE, KEYS (battery_keys) },
  { ML_KIND_CONNECTOR, "connector", "Connector", "plug socket header terminal screw", "J", ANY_PINS, FALSE, KEYS (bare_keys) },
  { ML_KIND_TESTPOINT, "testpoint", "Test point", "pad measuring", "TP", ANY_PINS, FALSE, KEYS (bare_keys) },
  { ML_KIND_BLOCK, "block", "Block", "chip unknown microcontroller ic module box", "U", ANY_PINS, FALSE, KEYS (block_keys) },
};

const MlKindInfo *
ml_kind_info (MlKind kind)
{
  return &kinds[kind];
}

/* Words spoken letter by letter take the article of their first letter's name: an "en-pee-en". */
const char *
ml_kind_called (const MlKindInfo *kind)
{
  const gboolean vowel = strchr ("aeiou", kind->word[0]) != NULL || kind->kind == ML_KIND_LED || kind->kind == ML_KIND_NPN
                         || kind->kind == ML_KIND_NMOS || kind->kind == ML_KIND_NJFET;
  g_autofree char *called = g_strconcat (vowel ? "an " : "a ", kind->word, NULL);

  return g_intern_string (called);
}

const MlKindInfo *
ml_kind_find (const char *word)
{
  for (guint i = 0; i < ML_N_KINDS; i++)
    if (strcmp (kinds[i].word, word) == 0)
      return &kinds[i];
  return NULL;
}

MlKey
ml_kind_main_key (MlKind kind)
{
  switch (kind)
    {
    case ML_KIND_RESISTOR: case ML_KIND_INDUCTOR: case ML_KIND_CAPACITOR: case ML_KIND_POTENTIOMETER: case ML_KIND_THERMISTOR:
      return ML_KEY_VALUE;
    case ML_KIND_LINK: case ML_KIND_COIL:
      return ML_KEY_RESISTANCE;
    case ML_KIND_VARISTOR: case ML_KIND_TVS:
      return ML_KEY_CLAMP;
    case ML_KIND_FUSE:
      return ML_KEY_CURRENT;
    case ML_KIND_LAMP: case ML_KIND_ZENER: case ML_KIND_REGULATOR: case ML_KIND_CONVERTER: case ML_KIND_BATTERY:
      return ML_KEY_VOLTAGE;
    case ML_KIND_DIODE: case ML_KIND_LED: case ML_KIND_BRIDGE:
      return ML_KEY_DROP;
    case ML_KIND_NPN: case ML_KIND_PNP:
      return ML_KEY_GAIN;
    case ML_KIND_NMOS: case ML_KIND_PMOS:
      return ML_KEY_THRESHOLD;
    case ML_KIND_NJFET: case ML_KIND_PJFET:
      return ML_KEY_IDSS;
    case ML_KIND_THYRISTOR: case ML_KIND_TRIAC:
      return ML_KEY_TRIGGER;
    case ML_KIND_ADJUSTABLE: case ML_KIND_SHUNT:
      return ML_KEY_REFERENCE;
    case ML_KIND_OPAMP: case ML_KIND_COMPARATOR:
      return ML_KEY_OFFSET;
    case ML_KIND_OPTO:
      return ML_KEY_RATIO;
    default:
      return ML_N_KEYS;
    }
}

/* Kinds of which one figure is what the trade calls their value; a diode's or a transistor's "value" is its part number. */
static gboolean
has_a_value (MlKind kind)
{
  const MlKey key = ml_kind_main_key (kind);

  return key == ML_KEY_VALUE || key == ML_KEY_RESISTANCE || key == ML_KEY_CLAMP || key == ML_KEY_VOLTAGE || kind == ML_KIND_FUSE;
}

const MlKeyInfo *
ml_kind_key_info (const MlKindInfo *kind, MlKey key)
{
  for (guint i = 0; i < kind->n_keys; i++)
    if (kind->keys[i].key == key)
      return &kind->keys[i];
  return NULL;
}

const MlKeyInfo *
ml_kind_key (const MlKindInfo *kind, const char *word)
{
  for (guint i = 0; i < kind->n_keys; i++)
    if (strcmp (kind->keys[i].word, word) == 0)
      return &kind->keys[i];
  return strcmp (word, "value") == 0 && has_a_value (kind->kind) ? ml_kind_key_info (kind, ml_kind_main_key (kind->kind)) : NULL;
}

gboolean
ml_kind_reserves (const MlKindInfo *kind, const char *word)
{
  return strcmp (word, "value") == 0 || ml_kind_key (kind, word) != NULL;
}

char *
ml_kind_key_words (const MlKindInfo *kind)
{
  GString *words = g_string_new (NULL);

  for (guint i = 0; i < kind->n_keys; i++)
    g_string_append_printf (words, "%s%s", i > 0 ? " " : "", kind->keys[i].word);
  return g_string_free (words, FALSE);
}

gboolean
ml_kind_has_part_number (MlKind kind)
{
  return kind == ML_KIND_TVS || kind == ML_KIND_COIL || kind == ML_KIND_BLOCK || (kind >= ML_KIND_DIODE && kind <= ML_KIND_CONVERTER && kind != ML_KIND_LED);
}

/* One of the blank-separated words, whatever its letters' case. */
static gboolean
has_word (const char *words, const char *word)
{
  g_auto (GStrv) all = g_strsplit (words, " ", -1);

  for (guint i = 0; all[i] != NULL; i++)
    if (g_ascii_strcasecmp (all[i], word) == 0)
      return TRUE;
  return FALSE;
}

const MlKindInfo *
ml_kind_by_trade_word (const char *word)
{
  for (guint i = 0; i < ML_N_KINDS; i++)
    if (g_ascii_strcasecmp (kinds[i].trade_name, word) == 0 || g_ascii_strcasecmp (kinds[i].word, word) == 0)
      return &kinds[i];
  for (guint i = 0; i < ML_N_KINDS; i++)
    if (has_word (kinds[i].search, word))
      return &kinds[i];
  return NULL;
}
