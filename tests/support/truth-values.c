/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/truth-values.h"

#include <math.h>
#include <string.h>

typedef struct
{
  const MlPart *part;
  MlTruthDraw draw;
  gboolean known;
  MlRandom *own, *batch;
  const MlTruthWorld *world;
} Draw;

/* k/q: SI 2019, exact. */
double
ml_true_thermal_voltage (const MlTruthWorld *world)
{
  return 1.380649e-23 / 1.602176634e-19 * (world->temperature_c + 273.15);
}

static double
written (const MlPart *part, MlKey key, double otherwise)
{
  const MlAttribute *attribute = ml_part_attribute (part, key);
  return attribute ? attribute->quantity.value : otherwise;
}

static gboolean
chosen (const MlPart *part, MlKey key, const char *word)
{
  const MlAttribute *attribute = ml_part_attribute (part, key);
  return attribute && !strcmp (attribute->text, word);
}

static double
scatter (const Draw *d, MlRandom *random, double spread)
{
  double z = CLAMP (ml_random_normal (random), -2.5, 2.5);
  return d->draw == ML_TRUTH_NOMINAL ? 0 : spread * z;
}

static double
scattered (const Draw *d, MlRandom *random, double centre, double spread)
{
  return centre * exp (scatter (d, random, spread));
}

/* Within its tolerance, evenly: a maker's parts are not bell-shaped within a bin. */
static double
within (const Draw *d, double centre, double tolerance)
{
  double u = 2 * ml_random_uniform (d->own) - 1, any = scatter (d, d->own, 1.5);
  if (d->draw == ML_TRUTH_NOMINAL)
    return centre;
  return d->draw == ML_TRUTH_BELIEVED && !d->known ? centre * exp (any) : centre * (1 + tolerance * u);
}

static double
toleranced (const Draw *d, MlKey key, double otherwise, double tolerance)
{
  const MlAttribute *value = ml_part_attribute (d->part, key);
  if (value && isfinite (value->quantity.tolerance))
    tolerance = value->quantity.tolerance;
  return within (d, value ? value->quantity.value : otherwise, written (d->part, ML_KEY_TOLERANCE, tolerance));
}

/* Forward drop of a junction at a stated current. Silicon: 1N4148 and 1N4004 near 0.70 V at 10 mA (Kuphaldt, Semiconductors ch. 3);
 * Schottky 0.32 V at 10 mA, between the BAT54's maximum of 0.40 V and a power type; LEDs in the middle of Kuphaldt's ranges. */
static double
usual_drop (const MlPart *part, double *ret_at_a)
{
  static const struct { const char *colour; double drop_v; } LEDS[] = {
    { "infrared", 1.25 }, { "red", 1.92 }, { "orange", 2.08 }, { "yellow", 2.05 }, { "green", 2.15 }, { "blue", 3.05 }, { "white", 3.05 }, { "violet", 3.2 },
  };
  const MlAttribute *drop = ml_part_attribute (part, ML_KEY_DROP);
  *ret_at_a = part->kind->kind == ML_KIND_OPTO ? 5e-3 : 0.01;
  if (drop)
    {
      *ret_at_a = isfinite (drop->at.value) && drop->at.value > 0 ? drop->at.value : *ret_at_a;
      return drop->quantity.value;
    }
  if (part->kind->kind == ML_KIND_LED)
    {
      for (guint i = 0; i < G_N_ELEMENTS (LEDS); i++)
        if (chosen (part, ML_KEY_COLOUR, LEDS[i].colour))
          return LEDS[i].drop_v;
      return 2.0;
    }
  if (part->kind->kind == ML_KIND_OPTO) /* infrared, Kuphaldt's range */
    return 1.2;
  return chosen (part, ML_KEY_FAMILY, "schottky") ? 0.32 : chosen (part, ML_KEY_FAMILY, "germanium") ? 0.3 : 0.70;
}

static void
draw_junction (const Draw *d, MlTrueValues *v)
{
  gboolean led = d->part->kind->kind == ML_KIND_LED || d->part->kind->kind == ML_KIND_OPTO, schottky = chosen (d->part, ML_KEY_FAMILY, "schottky");
  double at_a, drop_v = usual_drop (d->part, &at_a);
  drop_v = scattered (d, d->batch, drop_v, 0.02) * exp (scatter (d, d->own, 0.02));
  double ideality = scattered (d, d->batch, led ? 1.9 : schottky ? 1.08 : 1.65, 0.08);
  ideality *= 1 + (d->world->ideality_scale - 1) * 1;
  double share = led ? 0.025 : schottky ? 0.05 : 0.02;
  v->value[ML_TRUE_NVT] = ideality * ml_true_thermal_voltage (d->world);
  v->value[ML_TRUE_SERIES] = scattered (d, d->batch, 0.6 * share * drop_v / at_a, 0.7) * d->world->resistance_scale;
  double inner_v = MAX (drop_v - v->value[ML_TRUE_SERIES] * at_a, 0.5 * drop_v);
  inner_v += (d->world->temperature_c - 25) * -2e-3; /* silicon junction about -2 mV/K */
  v->value[ML_TRUE_IS] = at_a / expm1 (inner_v / v->value[ML_TRUE_NVT]);
  v->value[ML_TRUE_LEAK] = scattered (d, d->own, schottky ? 4e6 : 2e10, 0.8);
}

static void
draw_zener (const Draw *d, MlTrueValues *v)
{
  draw_junction (d, v);
  double voltage = toleranced (d, ML_KEY_VOLTAGE, 5.6, 0.05);
  /* Field emission below about 5 V bends softly, avalanche above sharply: common practice. */
  v->value[ML_TRUE_ZENER_NVT] = scattered (d, d->batch, voltage > 5 ? 2.2 : 5.5, 0.4) * ml_true_thermal_voltage (d->world);
  v->value[ML_TRUE_ZENER_A] = 5e-3;
  v->value[ML_TRUE_SERIES] = scattered (d, d->batch, 1.8, 0.6);
  v->value[ML_TRUE_ZENER_V] = voltage - 5e-3 * v->value[ML_TRUE_SERIES];
}

static void
draw_transistor (const Draw *d, MlTrueValues *v)
{
  v->value[ML_TRUE_Q_IS] = scattered (d, d->batch, 4e-14, 1.1) * exp (scatter (d, d->own, 0.2));
  v->value[ML_TRUE_Q_IS] *= exp ((d->world->temperature_c - 25) * 2e-3 / ml_true_thermal_voltage (d->world));
  v->value[ML_TRUE_Q_GAIN] = scattered (d, d->batch, written (d->part, ML_KEY_GAIN, 190), 0.22) * exp (scatter (d, d->own, 0.2));
  v->value[ML_TRUE_Q_REVERSE] = scattered (d, d->batch, 3, 0.5);
  v->value[ML_TRUE_Q_EARLY] = scattered (d, d->batch, 95, 0.2);
  /* Collector to emitter: data sheets promise less than some tens of nanoamperes, most have a hundredth of it (from memory). */
  v->value[ML_TRUE_Q_LEAK] = scattered (d, d->own, 1e10, 1.5);
}

static void
draw_regulator (const Draw *d, MlTrueValues *v)
{
  v->value[ML_TRUE_U_V] = within (d, written (d->part, ML_KEY_VOLTAGE, 5), 0.025);
  v->value[ML_TRUE_U_DROPOUT] = written (d->part, ML_KEY_DROPOUT, 1.8) + scatter (d, d->own, 0.2);
  v->value[ML_TRUE_U_QUIESCENT] = scattered (d, d->own, 4.5e-3, 0.25);
  v->value[ML_TRUE_U_LIMIT] = scattered (d, d->own, written (d->part, ML_KEY_LIMIT, 1.2), 0.25);
}

static void
draw_fet (const Draw *d, MlTrueValues *v)
{
  v->value[ML_TRUE_THRESHOLD] = scattered (d, d->own, written (d->part, ML_KEY_THRESHOLD, 2.1), 0.1);
  const MlAttribute *on = ml_part_attribute (d->part, ML_KEY_ON);
  double room_v = on ? on->at.value - written (d->part, ML_KEY_THRESHOLD, 2.1) : 0;
  /* 1 / r = k (v - threshold) of the square law with little across it */
  double centre = on && room_v > 0.1 ? 1 / (on->quantity.value * room_v) : 0.5;
  v->value[ML_TRUE_K] = scattered (d, d->own, centre, room_v > 0.1 ? 0.3 : 0.6);
}

/* Of single-supply types: input currents of some ten nanoampere that end 1.2 V below the positive supply, output within 1.5 V of the positive supply (data sheets, from memory). */
static void
draw_amplifier (const Draw *d, MlTrueValues *v)
{
  gboolean comparator = d->part->kind->kind == ML_KIND_COMPARATOR;
  double offset_v = within (d, 1, comparator ? 0.003 : 0.002) - 1;
  v->value[ML_TRUE_A_OFFSET] = written (d->part, ML_KEY_OFFSET, 0) + (d->draw == ML_TRUTH_NOMINAL ? 0 : offset_v);
  v->value[ML_TRUE_A_UPPER] = scattered (d, d->batch, written (d->part, ML_KEY_HEADROOM, 1.3), 0.25);
  v->value[ML_TRUE_A_LOWER] = scattered (d, d->batch, written (d->part, ML_KEY_FOOTROOM, 0.06), 0.6);
  v->value[ML_TRUE_A_OHM] = scattered (d, d->batch, comparator ? 45 : 60, 0.3);
  v->value[ML_TRUE_A_LIMIT] = scattered (d, d->own, comparator ? 16e-3 : 25e-3, 0.25);
  v->value[ML_TRUE_A_QUIESCENT] = scattered (d, d->own, comparator ? 0.4e-3 : 0.8e-3, 0.4);
  v->value[ML_TRUE_A_BIAS] = scattered (d, d->batch, written (d->part, ML_KEY_BIAS, 25e-9), 0.4);
  v->value[ML_TRUE_A_INPUT_ROOM] = scattered (d, d->batch, 1.2, 0.15);
}

static void
draw_adjustable (const Draw *d, MlTrueValues *v)
{
  draw_regulator (d, v);
  v->value[ML_TRUE_U_V] = within (d, written (d->part, ML_KEY_REFERENCE, 1.25), 0.02);
  v->value[ML_TRUE_U_QUIESCENT] = scattered (d, d->own, 50e-6, 0.2);
}

static void
draw_converter (const Draw *d, MlTrueValues *v)
{
  draw_regulator (d, v);
  v->value[ML_TRUE_U_QUIESCENT] = scattered (d, d->own, 2e-3, 0.4);
  v->value[ML_TRUE_U_EFFICIENCY] = written (d->part, ML_KEY_EFFICIENCY, 0.86) + scatter (d, d->own, 0.03);
  v->value[ML_TRUE_U_START] = scattered (d, d->own, written (d->part, ML_KEY_START, 4), 0.15);
}

static void
draw_shunt (const Draw *d, MlTrueValues *v)
{
  v->value[ML_TRUE_S_V] = within (d, written (d->part, ML_KEY_REFERENCE, 2.495), 0.01);
  v->value[ML_TRUE_S_OHM] = scattered (d, d->batch, 0.25, 0.4);
  v->value[ML_TRUE_S_BIAS] = scattered (d, d->batch, 2e-6, 0.3);
}

static void
draw_coupler (const Draw *d, MlTrueValues *v)
{
  draw_junction (d, v);
  v->value[ML_TRUE_RATIO] = scattered (d, d->own, written (d->part, ML_KEY_RATIO, 1.1), 0.35);
}

static void
draw_clamp (const Draw *d, MlTrueValues *v)
{
  gboolean varistor = d->part->kind->kind == ML_KIND_VARISTOR;
  v->value[ML_TRUE_C_V] = toleranced (d, ML_KEY_CLAMP, varistor ? 40 : 30, varistor ? 0.1 : 0.05);
  v->value[ML_TRUE_C_BEND] = varistor ? scattered (d, d->batch, 28, 0.15) : scattered (d, d->batch, 4.5, 0.4) * ml_true_thermal_voltage (d->world);
}

/* R25 exp (B (1/T - 1/T25)) (IEC 60539-1, from memory); a bench within three degrees of what the world says. */
static double
thermistor_ohm (const Draw *d)
{
  double warmth_c = d->draw == ML_TRUTH_NOMINAL ? 0 : 3 * (2 * ml_random_uniform (d->batch) - 1);
  double kelvin = 273.15 + d->world->temperature_c + warmth_c, beta = within (d, written (d->part, ML_KEY_BETA, 3950), 0.02);
  return toleranced (d, ML_KEY_VALUE, 10e3, 0.1) * exp (beta * (1 / kelvin - 1 / 298.15));
}

/* 70 % and 15 % of a 12 V winding where nothing is written (common practice). */
static void
draw_coil (const Draw *d, MlTrueValues *v)
{
  v->value[ML_TRUE_OHM] = toleranced (d, ML_KEY_RESISTANCE, 400, 0.1);
  v->value[ML_TRUE_PULL_V] = scattered (d, d->own, written (d->part, ML_KEY_PULL, 8), 0.1);
  v->value[ML_TRUE_RELEASE_V] = scattered (d, d->own, written (d->part, ML_KEY_RELEASE, 1.8), 0.25);
}

static void
draw_junction_gate (const Draw *d, MlTrueValues *v)
{
  v->value[ML_TRUE_THRESHOLD] = scattered (d, d->own, fabs (written (d->part, ML_KEY_THRESHOLD, 2)), 0.2);
  v->value[ML_TRUE_K] = scattered (d, d->own, written (d->part, ML_KEY_IDSS, 5e-3), 0.3);
}

/* Sensitive-gate thyristors, and triacs of some amperes: common practice. */
static void
draw_thyristor (const Draw *d, MlTrueValues *v)
{
  gboolean triac = d->part->kind->kind == ML_KIND_TRIAC;
  v->value[ML_TRUE_T_TRIGGER] = scattered (d, d->own, written (d->part, ML_KEY_TRIGGER, triac ? 8e-3 : 150e-6), 0.4);
  v->value[ML_TRUE_T_HOLD] = scattered (d, d->own, written (d->part, ML_KEY_HOLD, triac ? 9e-3 : 2.5e-3), 0.35);
  v->value[ML_TRUE_T_DROP] = scattered (d, d->batch, written (d->part, ML_KEY_DROP, 1.0), 0.08);
}

static double
lamp_ohm (const MlPart *part)
{
  double voltage = written (part, ML_KEY_VOLTAGE, 12), power = written (part, ML_KEY_POWER, 1.2);
  return voltage * voltage / power;
}

MlTrueValues
ml_true_values_draw (const MlPart *part, MlTruthDraw draw, gboolean known, MlRandom *random, MlRandom *batch, const MlTruthWorld *world)
{
  Draw d = { part, draw, known, random, batch, world };
  MlTrueValues v = { { 0 } };
  double *ohm = &v.value[ML_TRUE_OHM];
  switch (part->kind->kind)
    {
    case ML_KIND_RESISTOR: *ohm = toleranced (&d, ML_KEY_VALUE, 4.7e3, 0.05); break;
    case ML_KIND_POTENTIOMETER: *ohm = toleranced (&d, ML_KEY_VALUE, 10e3, 0.2); break;
    case ML_KIND_COIL: draw_coil (&d, &v); break;
    case ML_KIND_THERMISTOR: *ohm = thermistor_ohm (&d); break;
    case ML_KIND_VARISTOR: case ML_KIND_TVS: draw_clamp (&d, &v); break;
    case ML_KIND_FUSE: *ohm = scattered (&d, random, written (part, ML_KEY_RESISTANCE, 0.2), 0.3); break;
    case ML_KIND_INDUCTOR: *ohm = scattered (&d, random, written (part, ML_KEY_RESISTANCE, 0.5), 0.15); break;
    case ML_KIND_LINK: *ohm = scattered (&d, random, written (part, ML_KEY_RESISTANCE, 0.01), 0.3); break;
    case ML_KIND_SWITCH: case ML_KIND_CHANGEOVER: case ML_KIND_CONTACT: *ohm = scattered (&d, random, 0.04, 0.4); break;
    case ML_KIND_CAPACITOR: *ohm = scattered (&d, random, 2e9, 1.0); break;
    case ML_KIND_LAMP:
      *ohm = scattered (&d, random, lamp_ohm (part), 0.1);
      v.value[ML_TRUE_LAMP_V] = written (part, ML_KEY_VOLTAGE, 12);
      break;
    case ML_KIND_DIODE: case ML_KIND_LED: case ML_KIND_BRIDGE: draw_junction (&d, &v); break;
    case ML_KIND_ZENER: draw_zener (&d, &v); break;
    case ML_KIND_NPN: case ML_KIND_PNP: draw_transistor (&d, &v); break;
    case ML_KIND_NMOS: case ML_KIND_PMOS: draw_fet (&d, &v); break;
    case ML_KIND_REGULATOR: draw_regulator (&d, &v); break;
    case ML_KIND_ADJUSTABLE: draw_adjustable (&d, &v); break;
    case ML_KIND_CONVERTER: draw_converter (&d, &v); break;
    case ML_KIND_SHUNT: draw_shunt (&d, &v); break;
    case ML_KIND_OPTO: draw_coupler (&d, &v); break;
    case ML_KIND_OPAMP: case ML_KIND_COMPARATOR: draw_amplifier (&d, &v); break;
    case ML_KIND_THYRISTOR: case ML_KIND_TRIAC: draw_thyristor (&d, &v); break;
    case ML_KIND_NJFET: case ML_KIND_PJFET: draw_junction_gate (&d, &v); break;
    case ML_KIND_BATTERY:
      v.value[ML_TRUE_B_V] = written (part, ML_KEY_VOLTAGE, 9);
      v.value[ML_TRUE_B_OHM] = scattered (&d, random, written (part, ML_KEY_RESISTANCE, 1), 0.3);
      break;
    default: break;
    }
  return v;
}
