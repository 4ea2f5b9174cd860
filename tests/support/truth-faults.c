/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/truth-faults.h"

#include <math.h>

/* pin_a, pin_b: places in the kind's order of pins, pin_b 0: none; EACH: one mode for every pin. Which ways of failing are usual:
 * MIL-HDBK-338B (open, short, drift of diodes, transistors, resistors, capacitors, coils) and, for bad joints, common practice. */
#define EACH -1
static const struct { MlKind kind; MlFaultKind fault; int pin_a, pin_b; double low, high; } MODES[] = {
  { ML_KIND_RESISTOR, ML_FAULT_OPEN, 0, 0, NAN, NAN },
  { ML_KIND_RESISTOR, ML_FAULT_HIGH, 0, 0, 1.5, 15 },
  { ML_KIND_RESISTOR, ML_FAULT_LOW, 0, 0, 0.07, 0.67 },
  { ML_KIND_RESISTOR, ML_FAULT_SHORT, 0, 1, NAN, NAN },
  { ML_KIND_RESISTOR, ML_FAULT_JOINT, 0, 0, 100, 300e3 },
  { ML_KIND_COIL, ML_FAULT_OPEN, 0, 0, NAN, NAN },
  { ML_KIND_COIL, ML_FAULT_SHORT, 0, 1, NAN, NAN },
  { ML_KIND_COIL, ML_FAULT_JOINT, 0, 0, 100, 300e3 },
  { ML_KIND_FUSE, ML_FAULT_OPEN, 0, 0, NAN, NAN },
  { ML_KIND_FUSE, ML_FAULT_JOINT, 0, 0, 100, 300e3 },
  { ML_KIND_INDUCTOR, ML_FAULT_OPEN, 0, 0, NAN, NAN },
  { ML_KIND_INDUCTOR, ML_FAULT_JOINT, 0, 0, 100, 300e3 },
  { ML_KIND_LINK, ML_FAULT_OPEN, 0, 0, NAN, NAN },
  { ML_KIND_LINK, ML_FAULT_JOINT, 0, 0, 100, 300e3 },
  { ML_KIND_SWITCH, ML_FAULT_OPEN, 0, 0, NAN, NAN },
  { ML_KIND_SWITCH, ML_FAULT_SHORT, 0, 1, NAN, NAN },
  { ML_KIND_SWITCH, ML_FAULT_JOINT, 0, 0, 100, 300e3 },
  { ML_KIND_CAPACITOR, ML_FAULT_SHORT, 0, 1, NAN, NAN },
  { ML_KIND_CAPACITOR, ML_FAULT_LEAK, 0, 1, 30, 15e3 },
  { ML_KIND_DIODE, ML_FAULT_OPEN, 0, 0, NAN, NAN },
  { ML_KIND_DIODE, ML_FAULT_SHORT, 0, 1, NAN, NAN },
  { ML_KIND_DIODE, ML_FAULT_LEAK, 0, 1, 30, 15e3 },
  { ML_KIND_DIODE, ML_FAULT_REVERSED, 0, 1, NAN, NAN },
  { ML_KIND_DIODE, ML_FAULT_JOINT, 0, 0, 100, 300e3 },
  { ML_KIND_LED, ML_FAULT_OPEN, 0, 0, NAN, NAN },
  { ML_KIND_LED, ML_FAULT_SHORT, 0, 1, NAN, NAN },
  { ML_KIND_LED, ML_FAULT_LEAK, 0, 1, 30, 15e3 },
  { ML_KIND_LED, ML_FAULT_REVERSED, 0, 1, NAN, NAN },
  { ML_KIND_LED, ML_FAULT_JOINT, 0, 0, 100, 300e3 },
  { ML_KIND_ZENER, ML_FAULT_OPEN, 0, 0, NAN, NAN },
  { ML_KIND_ZENER, ML_FAULT_SHORT, 0, 1, NAN, NAN },
  { ML_KIND_ZENER, ML_FAULT_LEAK, 0, 1, 30, 15e3 },
  { ML_KIND_ZENER, ML_FAULT_REVERSED, 0, 1, NAN, NAN },
  { ML_KIND_ZENER, ML_FAULT_JOINT, 0, 0, 100, 300e3 },
  { ML_KIND_NPN, ML_FAULT_OPEN, EACH, 0, NAN, NAN },
  { ML_KIND_NPN, ML_FAULT_JOINT, EACH, 0, 100, 300e3 },
  { ML_KIND_NPN, ML_FAULT_SHORT, 0, 2, NAN, NAN },
  { ML_KIND_NPN, ML_FAULT_SHORT, 1, 2, NAN, NAN },
  { ML_KIND_NPN, ML_FAULT_SHORT, 0, 1, NAN, NAN },
  { ML_KIND_NPN, ML_FAULT_LEAK, 0, 2, 30, 15e3 },
  { ML_KIND_PNP, ML_FAULT_OPEN, EACH, 0, NAN, NAN },
  { ML_KIND_PNP, ML_FAULT_JOINT, EACH, 0, 100, 300e3 },
  { ML_KIND_PNP, ML_FAULT_SHORT, 0, 2, NAN, NAN },
  { ML_KIND_PNP, ML_FAULT_SHORT, 1, 2, NAN, NAN },
  { ML_KIND_PNP, ML_FAULT_SHORT, 0, 1, NAN, NAN },
  { ML_KIND_PNP, ML_FAULT_LEAK, 0, 2, 30, 15e3 },
  { ML_KIND_REGULATOR, ML_FAULT_DEAD, 0, 0, NAN, NAN },
  { ML_KIND_REGULATOR, ML_FAULT_THROUGH, 0, 1, NAN, NAN },
  { ML_KIND_REGULATOR, ML_FAULT_LOW, 0, 0, 0.2, 0.9 },
  { ML_KIND_REGULATOR, ML_FAULT_OPEN, EACH, 0, NAN, NAN },
  { ML_KIND_REGULATOR, ML_FAULT_JOINT, EACH, 0, 100, 300e3 },
  { ML_KIND_THERMISTOR, ML_FAULT_OPEN, 0, 0, NAN, NAN },
  { ML_KIND_THERMISTOR, ML_FAULT_SHORT, 0, 1, NAN, NAN },
  { ML_KIND_THERMISTOR, ML_FAULT_HIGH, 0, 0, 1.5, 15 },
  { ML_KIND_THERMISTOR, ML_FAULT_LOW, 0, 0, 0.07, 0.67 },
  { ML_KIND_THERMISTOR, ML_FAULT_JOINT, 0, 0, 100, 300e3 },
  { ML_KIND_LAMP, ML_FAULT_OPEN, 0, 0, NAN, NAN },
  { ML_KIND_LAMP, ML_FAULT_SHORT, 0, 1, NAN, NAN },
  { ML_KIND_LAMP, ML_FAULT_JOINT, 0, 0, 100, 300e3 },
  { ML_KIND_TVS, ML_FAULT_OPEN, 0, 0, NAN, NAN },
  { ML_KIND_TVS, ML_FAULT_SHORT, 0, 1, NAN, NAN },
  { ML_KIND_TVS, ML_FAULT_LEAK, 0, 1, 30, 15e3 },
  { ML_KIND_TVS, ML_FAULT_JOINT, 0, 0, 100, 300e3 },
  { ML_KIND_VARISTOR, ML_FAULT_OPEN, 0, 0, NAN, NAN },
  { ML_KIND_VARISTOR, ML_FAULT_SHORT, 0, 1, NAN, NAN },
  { ML_KIND_VARISTOR, ML_FAULT_LEAK, 0, 1, 30, 15e3 },
  { ML_KIND_VARISTOR, ML_FAULT_JOINT, 0, 0, 100, 300e3 },
  { ML_KIND_POTENTIOMETER, ML_FAULT_OPEN, EACH, 0, NAN, NAN },
  { ML_KIND_POTENTIOMETER, ML_FAULT_JOINT, EACH, 0, 100, 300e3 },
  { ML_KIND_BRIDGE, ML_FAULT_OPEN, 0, 2, NAN, NAN },
  { ML_KIND_BRIDGE, ML_FAULT_SHORT, 0, 2, NAN, NAN },
  { ML_KIND_BRIDGE, ML_FAULT_OPEN, 1, 2, NAN, NAN },
  { ML_KIND_BRIDGE, ML_FAULT_SHORT, 1, 2, NAN, NAN },
  { ML_KIND_BRIDGE, ML_FAULT_OPEN, 0, 3, NAN, NAN },
  { ML_KIND_BRIDGE, ML_FAULT_SHORT, 0, 3, NAN, NAN },
  { ML_KIND_BRIDGE, ML_FAULT_OPEN, 3, 1, NAN, NAN },
  { ML_KIND_BRIDGE, ML_FAULT_SHORT, 3, 1, NAN, NAN },
  { ML_KIND_NMOS, ML_FAULT_OPEN, EACH, 0, NAN, NAN },
  { ML_KIND_NMOS, ML_FAULT_JOINT, EACH, 0, 100, 300e3 },
  { ML_KIND_NMOS, ML_FAULT_SHORT, 0, 2, NAN, NAN },
  { ML_KIND_NMOS, ML_FAULT_SHORT, 1, 2, NAN, NAN },
  { ML_KIND_NMOS, ML_FAULT_LEAK, 0, 2, 30, 15e3 },
  { ML_KIND_NMOS, ML_FAULT_LEAK, 1, 2, 30, 15e3 },
  { ML_KIND_PMOS, ML_FAULT_OPEN, EACH, 0, NAN, NAN },
  { ML_KIND_PMOS, ML_FAULT_JOINT, EACH, 0, 100, 300e3 },
  { ML_KIND_PMOS, ML_FAULT_SHORT, 0, 2, NAN, NAN },
  { ML_KIND_PMOS, ML_FAULT_SHORT, 1, 2, NAN, NAN },
  { ML_KIND_PMOS, ML_FAULT_LEAK, 0, 2, 30, 15e3 },
  { ML_KIND_PMOS, ML_FAULT_LEAK, 1, 2, 30, 15e3 },
  { ML_KIND_NJFET, ML_FAULT_OPEN, EACH, 0, NAN, NAN },
  { ML_KIND_NJFET, ML_FAULT_SHORT, 0, 2, NAN, NAN },
  { ML_KIND_PJFET, ML_FAULT_OPEN, EACH, 0, NAN, NAN },
  { ML_KIND_PJFET, ML_FAULT_SHORT, 0, 2, NAN, NAN },
  { ML_KIND_ADJUSTABLE, ML_FAULT_DEAD, 0, 0, NAN, NAN },
  { ML_KIND_ADJUSTABLE, ML_FAULT_THROUGH, 0, 1, NAN, NAN },
  { ML_KIND_ADJUSTABLE, ML_FAULT_LOW, 0, 0, 0.2, 0.9 },
  { ML_KIND_ADJUSTABLE, ML_FAULT_OPEN, EACH, 0, NAN, NAN },
  { ML_KIND_ADJUSTABLE, ML_FAULT_JOINT, EACH, 0, 100, 300e3 },
  { ML_KIND_CONVERTER, ML_FAULT_DEAD, 0, 0, NAN, NAN },
  { ML_KIND_CONVERTER, ML_FAULT_THROUGH, 0, 1, NAN, NAN },
  { ML_KIND_CONVERTER, ML_FAULT_LOW, 0, 0, 0.2, 0.9 },
  { ML_KIND_CONVERTER, ML_FAULT_OPEN, EACH, 0, NAN, NAN },
  { ML_KIND_CONVERTER, ML_FAULT_JOINT, EACH, 0, 100, 300e3 },
  { ML_KIND_SHUNT, ML_FAULT_OPEN, EACH, 0, NAN, NAN },
  { ML_KIND_SHUNT, ML_FAULT_SHORT, 0, 1, NAN, NAN },
  { ML_KIND_SHUNT, ML_FAULT_LOW, 0, 0, 0.2, 0.9 },
  { ML_KIND_OPTO, ML_FAULT_OPEN, EACH, 0, NAN, NAN },
  { ML_KIND_OPTO, ML_FAULT_SHORT, 2, 3, NAN, NAN },
  { ML_KIND_OPTO, ML_FAULT_SHORT, 0, 1, NAN, NAN },
  { ML_KIND_OPTO, ML_FAULT_JOINT, EACH, 0, 100, 300e3 },
  { ML_KIND_OPAMP, ML_FAULT_OPEN, EACH, 0, NAN, NAN },
  { ML_KIND_OPAMP, ML_FAULT_STUCK_HIGH, 2, 0, NAN, NAN },
  { ML_KIND_OPAMP, ML_FAULT_STUCK_LOW, 2, 0, NAN, NAN },
  { ML_KIND_COMPARATOR, ML_FAULT_OPEN, EACH, 0, NAN, NAN },
  { ML_KIND_COMPARATOR, ML_FAULT_STUCK_HIGH, 2, 0, NAN, NAN },
  { ML_KIND_COMPARATOR, ML_FAULT_STUCK_LOW, 2, 0, NAN, NAN },
  { ML_KIND_BLOCK, ML_FAULT_STOPPED, 0, 0, NAN, NAN },
  { ML_KIND_THYRISTOR, ML_FAULT_OPEN, EACH, 0, NAN, NAN },
  { ML_KIND_THYRISTOR, ML_FAULT_JOINT, EACH, 0, 100, 300e3 },
  { ML_KIND_THYRISTOR, ML_FAULT_SHORT, 0, 1, NAN, NAN },
  { ML_KIND_TRIAC, ML_FAULT_OPEN, EACH, 0, NAN, NAN },
  { ML_KIND_TRIAC, ML_FAULT_JOINT, EACH, 0, 100, 300e3 },
  { ML_KIND_TRIAC, ML_FAULT_SHORT, 0, 1, NAN, NAN },
};

static void
add_mode (GArray *modes, const MlBoard *board, int part, guint row, int pin_a)
{
  const MlPart *p = &board->parts[part];
  MlTruthMode mode = { .fault = { .part = part, .kind = MODES[row].fault, .net_a = -1, .net_b = -1, .size = NAN,
                                  .size_low = NAN, .size_high = NAN },
                       .low = MODES[row].low, .high = MODES[row].high };
  mode.fault.n_pins = MODES[row].fault == ML_FAULT_STOPPED ? 0 : MODES[row].pin_b ? 2 : 1;
  mode.fault.pins[0] = mode.fault.n_pins ? ml_truth_pin (p, pin_a) : 0;
  mode.fault.pins[1] = MODES[row].pin_b ? ml_truth_pin (p, MODES[row].pin_b) : 0;
  if (mode.fault.pins[0] >= 0 && mode.fault.pins[1] >= 0)
    g_array_append_val (modes, mode);
}

static gboolean
is_on_chopped_net (const MlPart *part, const MlBoard *board)
{
  for (guint i = 0; i < part->n_pins; i++)
    if (part->pins[i].net >= 0 && board->nets[part->pins[i].net].switching)
      return TRUE;
  return FALSE;
}

GArray *
ml_truth_modes (const MlBoard *board)
{
  GArray *modes = g_array_new (FALSE, TRUE, sizeof (MlTruthMode));
  for (guint part = 0; part < board->n_parts; part++)
    for (guint row = 0; row < G_N_ELEMENTS (MODES); row++)
      {
        if (MODES[row].kind != board->parts[part].kind->kind || (MODES[row].fault == ML_FAULT_STOPPED && !is_on_chopped_net (&board->parts[part], board)))
          continue;
        if (MODES[row].pin_a != EACH)
          add_mode (modes, board, part, row, MODES[row].pin_a);
        else
          for (guint pin = 0; board->parts[part].kind->pins[pin]; pin++)
            add_mode (modes, board, part, row, pin);
      }
  return modes;
}

MlFault
ml_truth_mode_draw (const MlTruthMode *mode, MlRandom *random)
{
  MlFault fault = mode->fault;
  if (isfinite (mode->low))
    fault.size = ml_random_log (random, mode->low, mode->high);
  return fault;
}
