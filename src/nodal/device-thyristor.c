/* SPDX-License-Identifier: GPL-3.0-or-later */
/* thyristor (anode cathode gate), triac (1 2 gate); trigger, hold, drop, leakage; state: 1 when it has latched (found by the engine, 0 at a
 * start); between: that share of the latched current.
 *
 * thyristor: from anode to cathode v / leakage, and when latched a junction: drop at 1 A, ideality 1.5, series 0.1 ohm drop / 1 V.
 *   From gate to cathode a junction of 0.7 V at 1 mA, ideality 1.5, series 5 ohm, and 100 kohm.
 *   It latches when trigger flows into the gate with the anode above the cathode by 0.5 V, and stays while hold flows from anode to cathode
 *   or the gate still carries trigger.
 * triac: the same both ways; gate against pin 1; latches on either direction of gate current, whatever the sign between 2 and 1.
 * Source: trigger and holding current of data sheets, common practice; the gate's junction from memory; its leakage, and the
 * half volt that it needs to fire, are judgement. */
#include "nodal/device.h"
#include "nodal/junction.h"

#include <math.h>

enum { ANODE, CATHODE, GATE };                  /* thyristor */
enum { MAIN_1, MAIN_2, TRIAC_GATE };            /* triac */
enum { TRIGGER, HOLD, DROP, STATE, LEAKAGE };

typedef struct
{
  double on, blocked_s;
  MlNodalJunction path, gate;
} Thyristor;

static const double gate_s = 1e-5;

static void
thyristor_prepare (const double *parameters, double *derived)
{
  Thyristor *q = (Thyristor *) derived;
  q->on = fmin (fmax (parameters[STATE], 0), 1);
  q->blocked_s = 1 / parameters[LEAKAGE];
  ml_nodal_junction_prepare (&q->path, parameters[DROP], 1.0, 1.5, 0.1 * parameters[DROP]);
  ml_nodal_junction_prepare (&q->gate, 0.7, 1e-3, 1.5, 5.0);
}

static void
stamp_junction (const MlNodalJunction *junction, double share, const double *x, int a, int b, double *f, double *jacobian)
{
  double g, i = ml_nodal_junction_eval (junction, x[a] - x[b], &g);
  ml_nodal_stamp_branch (f, jacobian, 3, a, b, share * i, share * g);
}

static void
stamp_both (const Thyristor *q, unsigned open, const double *x, int main_a, int main_b, int gate, int gate_to, bool two_way, double *f,
            double *jacobian)
{
  if (!(open & 1u))
    {
      ml_nodal_stamp_branch (f, jacobian, 3, main_a, main_b, q->blocked_s * (x[main_a] - x[main_b]), q->blocked_s);
      if (q->on > 0)
        stamp_junction (&q->path, q->on, x, main_a, main_b, f, jacobian);
      if (q->on > 0 && two_way)
        stamp_junction (&q->path, q->on, x, main_b, main_a, f, jacobian);
    }
  if (!(open & 2u))
    {
      ml_nodal_stamp_branch (f, jacobian, 3, gate, gate_to, gate_s * (x[gate] - x[gate_to]), gate_s);
      stamp_junction (&q->gate, 1, x, gate, gate_to, f, jacobian);
      if (two_way)
        stamp_junction (&q->gate, 1, x, gate_to, gate, f, jacobian);
    }
}

static void
thyristor_eval (const double *derived, unsigned open, const double *x, double *f, double *jacobian)
{
  stamp_both ((const Thyristor *) derived, open, x, ANODE, CATHODE, GATE, CATHODE, false, f, jacobian);
}

static void
triac_eval (const double *derived, unsigned open, const double *x, double *f, double *jacobian)
{
  stamp_both ((const Thyristor *) derived, open, x, MAIN_2, MAIN_1, TRIAC_GATE, MAIN_1, true, f, jacobian);
}

static double
step (const MlNodalJunction *junction, double v, const double *old, int a, int b)
{
  return old ? ml_nodal_junction_limit (junction, v, old[a] - old[b]) : ml_nodal_junction_clamp (junction, v);
}

/* Moves pin a so that a - b is where the junction may go; two_way: in both directions. */
static void
limit_pair (const MlNodalJunction *junction, const double *old, double *x, int a, int b, bool two_way)
{
  double v = x[a] - x[b], to = step (junction, v, old, a, b);
  if (two_way)
    to = -step (junction, -to, old, b, a);
  if (to != v)
    x[a] = x[b] + to;
}

static void
thyristor_limit (const double *derived, unsigned open, const double *old, double *x)
{
  const Thyristor *q = (const Thyristor *) derived;
  if (!(open & 1u) && q->on > 0)
    limit_pair (&q->path, old, x, ANODE, CATHODE, false);
  if (!(open & 2u))
    limit_pair (&q->gate, old, x, GATE, CATHODE, false);
}

static void
triac_limit (const double *derived, unsigned open, const double *old, double *x)
{
  const Thyristor *q = (const Thyristor *) derived;
  if (!(open & 1u) && q->on > 0)
    limit_pair (&q->path, old, x, MAIN_2, MAIN_1, true);
  if (!(open & 2u))
    limit_pair (&q->gate, old, x, TRIAC_GATE, MAIN_1, true);
}

static bool
thyristor_latch (const double *parameters, const double *x, const double *pin_a, bool was)
{
  bool triggered = pin_a[GATE] >= parameters[TRIGGER];
  if (!was)
    return triggered && x[ANODE] - x[CATHODE] > 0.5;
  return pin_a[ANODE] >= parameters[HOLD] || (triggered && pin_a[ANODE] >= 0);
}

static bool
triac_latch (const double *parameters, const double *x, const double *pin_a, bool was)
{
  bool triggered = fabs (pin_a[TRIAC_GATE]) >= parameters[TRIGGER];
  if (!was)
    return triggered && fabs (x[MAIN_2] - x[MAIN_1]) > 0.5;
  return fabs (pin_a[MAIN_2]) >= parameters[HOLD] || triggered;
}

const MlNodalType ml_nodal_thyristor_type = {
  .word = "thyristor", .n_pins = 3, .pins = { "anode", "cathode", "gate" },
  .n_parameters = 5, .parameters = { { "trigger", 200e-6 }, { "hold", 3e-3 }, { "drop", 1.0 }, { "state", 0.0 }, { "leakage", 30e6 } },
  .n_elements = 2, .elements = { { ANODE, CATHODE }, { GATE, CATHODE } }, .n_derived = 2 + 2 * ML_NODAL_JUNCTION_DOUBLES,
  .prepare = thyristor_prepare, .eval = thyristor_eval, .limit = thyristor_limit, .latch = thyristor_latch, .latched = 1 + STATE,
};

const MlNodalType ml_nodal_triac_type = {
  .word = "triac", .n_pins = 3, .pins = { "1", "2", "gate" },
  .n_parameters = 5, .parameters = { { "trigger", 10e-3 }, { "hold", 10e-3 }, { "drop", 1.1 }, { "state", 0.0 }, { "leakage", 30e6 } },
  .n_elements = 2, .elements = { { MAIN_2, MAIN_1 }, { TRIAC_GATE, MAIN_1 } }, .n_derived = 2 + 2 * ML_NODAL_JUNCTION_DOUBLES,
  .prepare = thyristor_prepare, .eval = triac_eval, .limit = triac_limit, .latch = triac_latch, .latched = 1 + STATE,
};
