/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Parts that obey Ohm's law at d.c.
 *
 * resistor (value), capacitor (leakage): i = v / value; INFINITY is an exact open, 0 an exact short.
 * thermistor (value at 25 C, beta, temperature in K): i = v / r, r = value exp (beta (1 / temperature - 1 / 298.15 K)); what it heats
 *   itself is left out, as the current through a sensor is kept small for that very reason.
 * link, inductor, fuse, coil (resistance): a branch current j of its own, v_1 - v_2 - resistance j = 0; with resistance INFINITY j = 0.
 * switch (resistance, state, worn): closed (state 1) as a link of resistance + worn, open (state 0) j = 0 exactly.
 * changeover, contact (common, two throws; a worn of each): a branch to each throw, of which at most one is closed. changeover state: 0 common
 *   to a, 1 to b, 2 neither; contact state: 0 common to nc (coil at rest), 1 to no (coil pulled in).
 * A contact follows the voltage across its coil's resistance: it pulls in at pull, lets go below release, rests in between.
 * potentiometer (1 2 wiper): value position between 1 and wiper, value (1 - position) between wiper and 2; either at least 1e-4 of the
 *   value (the wiper never leaves the track).
 * Source: Ohm's law; the exponential law of thermistors with their B value, IEC 60539-1 (from memory); branch
 * currents as unknowns: Ho, Ruehli, Brennan, IEEE CAS-22 (1975); that the wiper keeps 1e-4 of the track on either side is judgement. */
#include "nodal/device.h"

#include <math.h>

static void
resistor_prepare (const double *parameters, double *derived)
{
  derived[0] = 1.0 / parameters[0];
}

static void
thermistor_prepare (const double *parameters, double *derived)
{
  derived[0] = 1.0 / (parameters[0] * exp (parameters[1] * (1.0 / parameters[2] - 1.0 / 298.15)));
}

static bool
resistor_conducts (const double *derived, unsigned open, int path)
{
  return !open && derived[0] > 0;
}

static void
resistor_eval (const double *derived, unsigned open, const double *x, double *f, double *jacobian)
{
  if (!open)
    ml_nodal_stamp_branch (f, jacobian, 2, 0, 1, derived[0] * (x[0] - x[1]), derived[0]);
}

/* One switchable branch from pin a to pin b, its current being local unknown k. */
static void
branch_stamp (int n, int a, int b, int k, bool closed, double ohm, const double *x, double *f, double *jacobian)
{
  f[a] += x[k];
  f[b] -= x[k];
  jacobian[a * n + k] += 1;
  jacobian[b * n + k] -= 1;
  if (closed)
    {
      f[k] = x[a] - x[b] - ohm * x[k];
      jacobian[k * n + a] = 1;
      jacobian[k * n + b] = -1;
      jacobian[k * n + k] = -ohm;
    }
  else
    {
      f[k] = x[k];
      jacobian[k * n + k] = 1;
    }
}

static void
link_prepare (const double *parameters, double *derived)
{
  derived[0] = parameters[0];
  derived[1] = isfinite (parameters[0]);
}

static void
switch_prepare (const double *parameters, double *derived)
{
  derived[0] = parameters[0] + parameters[2];
  derived[1] = parameters[1] > 0.5 && isfinite (derived[0]);
}

static bool
link_conducts (const double *derived, unsigned open, int path)
{
  return !open && derived[1] > 0;
}

static void
link_eval (const double *derived, unsigned open, const double *x, double *f, double *jacobian)
{
  branch_stamp (3, 0, 1, 2, !open && derived[1] > 0, derived[0], x, f, jacobian);
}

/* In its resistance; what the others do, they do at once. */
static void
link_slopes (const double *derived, const double *d_derived, unsigned open, const double *x, double *ret)
{
  if (!open && derived[1] > 0)
    ret[2] = -x[2];
}

/* Of each throw: its resistance, and whether it is closed. */
static void
throws_prepare (const double *parameters, bool first, bool second, double *derived)
{
  derived[0] = parameters[0] + parameters[2];
  derived[1] = first;
  derived[2] = parameters[0] + parameters[3];
  derived[3] = second;
}

static void
changeover_prepare (const double *parameters, double *derived)
{
  int state = (int) lround (parameters[1]);

  throws_prepare (parameters, state == 0, state == 1, derived);
}

static void
contact_prepare (const double *parameters, double *derived)
{
  throws_prepare (parameters, parameters[1] > 0.5, parameters[1] <= 0.5, derived); /* pins: common no nc */
}

static bool
changeover_conducts (const double *derived, unsigned open, int path)
{
  return !(open & 1u << path) && derived[2 * path + 1] > 0;
}

/* In its resistance and in what wear has added to it. */
static void
switch_slopes (const double *derived, const double *d_derived, unsigned open, const double *x, double *ret)
{
  link_slopes (derived, d_derived, open, x, ret);
  link_slopes (derived, d_derived, open, x, ret + 2 * 3);
}

/* The same of two throws, the wear of each its own. */
static void
changeover_slopes (const double *derived, const double *d_derived, unsigned open, const double *x, double *ret)
{
  for (int throw = 0; throw < 2; throw++)
    if (!(open & 1u << throw) && derived[2 * throw + 1] > 0)
      ret[3 + throw] = ret[(2 + throw) * 5 + 3 + throw] = -x[3 + throw];
}

static void
changeover_eval (const double *derived, unsigned open, const double *x, double *f, double *jacobian)
{
  branch_stamp (5, 0, 1, 3, !(open & 1u) && derived[1] > 0, derived[0], x, f, jacobian);
  branch_stamp (5, 0, 2, 4, !(open & 2u) && derived[3] > 0, derived[2], x, f, jacobian);
}

static void
potentiometer_prepare (const double *parameters, double *derived)
{
  double share = fmin (fmax (parameters[1], 1e-4), 1.0 - 1e-4);
  derived[0] = 1.0 / (parameters[0] * share);
  derived[1] = 1.0 / (parameters[0] * (1.0 - share));
}

static void
potentiometer_eval (const double *derived, unsigned open, const double *x, double *f, double *jacobian)
{
  if (!(open & 1u))
    ml_nodal_stamp_branch (f, jacobian, 3, 0, 2, derived[0] * (x[0] - x[2]), derived[0]);
  if (!(open & 2u))
    ml_nodal_stamp_branch (f, jacobian, 3, 2, 1, derived[1] * (x[2] - x[1]), derived[1]);
}

/* In its value and its position; at the end of the track it has none. */
static void
potentiometer_prepare_slopes (const double *parameters, double *ret)
{
  double value = parameters[0], at = parameters[1], share = fmin (fmax (at, 1e-4), 1.0 - 1e-4), moves = share == at ? 1 : 0;
  double first = 1.0 / (value * share), second = 1.0 / (value * (1.0 - share));

  ret[0] = -first / value;
  ret[1] = -second / value;
  ret[2] = -moves * first / share;
  ret[3] = moves * second / (1.0 - share);
}

static void
potentiometer_slopes (const double *derived, const double *d_derived, unsigned open, const double *x, double *ret)
{
  for (int p = 0; p < 2; p++)
    {
      ml_nodal_add_slope (ret + p * 3, 0, 2, open & 1u ? 0 : d_derived[p * 2] * (x[0] - x[2]));
      ml_nodal_add_slope (ret + p * 3, 2, 1, open & 2u ? 0 : d_derived[p * 2 + 1] * (x[2] - x[1]));
    }
}

#define TWO_PIN_CONDUCTANCE \
  .flags = ML_NODAL_CONDUCTANCE | ML_NODAL_LINEAR, .n_pins = 2, .n_elements = 1, .elements = { { 0, 1 } }, .n_derived = 1, \
  .conducts = resistor_conducts, .eval = resistor_eval

#define TWO_PIN_BRANCH \
  .flags = ML_NODAL_LINEAR, .n_pins = 2, .pins = { "1", "2" }, .n_elements = 1, .elements = { { 0, 1 } }, .n_inner = 1, \
  .n_derived = 2, .conducts = link_conducts, .eval = link_eval

const MlNodalType ml_nodal_resistor_type = {
  .word = "resistor", TWO_PIN_CONDUCTANCE, .pins = { "1", "2" }, .n_parameters = 1, .parameters = { { "value", 10e3 } }, .prepare = resistor_prepare,
};

const MlNodalType ml_nodal_thermistor_type = {
  .word = "thermistor", TWO_PIN_CONDUCTANCE, .pins = { "1", "2" }, .n_parameters = 3,
  .parameters = { { "value", 10e3 }, { "beta", 3900.0 }, { "temperature", 298.15 } }, .prepare = thermistor_prepare,
};

const MlNodalType ml_nodal_capacitor_type = {
  .word = "capacitor", TWO_PIN_CONDUCTANCE, .pins = { "1", "2" }, .n_parameters = 1, .parameters = { { "leakage", 1e9 } }, .prepare = resistor_prepare,
};

const MlNodalType ml_nodal_link_type = {
  .word = "link", TWO_PIN_BRANCH, .n_parameters = 1, .parameters = { { "resistance", 0.01 } }, .prepare = link_prepare, .slopes = link_slopes,
};

const MlNodalType ml_nodal_inductor_type = {
  .word = "inductor", TWO_PIN_BRANCH, .n_parameters = 1, .parameters = { { "resistance", 0.5 } }, .prepare = link_prepare, .slopes = link_slopes,
};

const MlNodalType ml_nodal_fuse_type = {
  .word = "fuse", TWO_PIN_BRANCH, .n_parameters = 1, .parameters = { { "resistance", 0.1 } }, .prepare = link_prepare, .slopes = link_slopes,
};

const MlNodalType ml_nodal_coil_type = {
  .word = "coil", TWO_PIN_BRANCH, .n_parameters = 3,
  .parameters = { { "resistance", 400.0 }, { "pull", 9.0 }, { "release", 1.2 } }, .prepare = link_prepare, .slopes = link_slopes,
};

const MlNodalType ml_nodal_switch_type = {
  .word = "switch", TWO_PIN_BRANCH, .n_parameters = 3, .parameters = { { "resistance", 0.05 }, { "state", 0.0 }, { "worn", 0.0 } },
  .prepare = switch_prepare, .slopes = switch_slopes,
};

const MlNodalType ml_nodal_changeover_type = {
  .word = "changeover", .flags = ML_NODAL_LINEAR, .n_pins = 3, .pins = { "common", "a", "b" },
  .n_parameters = 4, .parameters = { { "resistance", 0.05 }, { "state", 0.0 }, { "worn_a", 0.0 }, { "worn_b", 0.0 } },
  .n_elements = 2, .elements = { { 0, 1 }, { 0, 2 } }, .n_inner = 2, .n_derived = 4,
  .prepare = changeover_prepare, .conducts = changeover_conducts, .eval = changeover_eval, .slopes = changeover_slopes,
};

const MlNodalType ml_nodal_contact_type = {
  .word = "contact", .flags = ML_NODAL_LINEAR, .n_pins = 3, .pins = { "common", "no", "nc" },
  .n_parameters = 4, .parameters = { { "resistance", 0.05 }, { "state", 0.0 }, { "worn_no", 0.0 }, { "worn_nc", 0.0 } },
  .n_elements = 2, .elements = { { 0, 1 }, { 0, 2 } }, .n_inner = 2, .n_derived = 4,
  .prepare = contact_prepare, .conducts = changeover_conducts, .eval = changeover_eval, .slopes = changeover_slopes, .latched = 2,
};

const MlNodalType ml_nodal_potentiometer_type = {
  .word = "potentiometer", .flags = ML_NODAL_LINEAR, .n_pins = 3, .pins = { "1", "2", "wiper" },
  .n_parameters = 2, .parameters = { { "value", 10e3 }, { "position", 0.5 } },
  .n_elements = 2, .elements = { { 0, 2 }, { 2, 1 } }, .n_derived = 2,
  .prepare = potentiometer_prepare, .eval = potentiometer_eval, .prepare_slopes = potentiometer_prepare_slopes, .slopes = potentiometer_slopes,
};
