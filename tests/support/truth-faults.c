/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/truth-faults.h"

#include <math.h>

#define EACH -1
#define MOST_KINDS 3
#define MOST_WAYS 9
#define LEAST_SHORT_OHM 0.03
#define MOST_SHORT_OHM 0.9
#define MOST_PINS 8 /* of a part any two of whose pins may be joined: beyond, they are too many to try */

/* pin_a, pin_b: places in the kind's order of pins, pin_b 0: none; EACH: one mode for every pin. */
typedef struct { MlFaultKind fault; int pin_a, pin_b; double low, high; } Way;

#define WHOLE(fault) { fault, 0, 0, NAN, NAN }
#define BETWEEN(fault, a, b) { fault, a, b, NAN, NAN }
#define OPEN(pin) { ML_FAULT_OPEN, pin, 0, NAN, NAN }
#define SHORT(a, b) { ML_FAULT_SHORT, a, b, NAN, NAN }
#define LEAK(a, b) { ML_FAULT_LEAK, a, b, 30, 15e3 } /* ohm */
#define JOINT(pin) { ML_FAULT_JOINT, pin, 0, 100, 300e3 } /* ohm */
#define TOO_HIGH { ML_FAULT_HIGH, 0, 0, 1.5, 15 } /* times what it should be, as the next two */
#define TOO_LOW { ML_FAULT_LOW, 0, 0, 0.07, 0.67 }
#define GIVES_LITTLE { ML_FAULT_LOW, 0, 0, 0.2, 0.9 }

/* Which ways of failing are usual: MIL-HDBK-338B (open, short, drift of diodes, transistors, resistors, capacitors, coils) and, for bad joints,
 * common practice. */
static const struct { MlKind kinds[MOST_KINDS]; guint n_kinds, n_ways; Way ways[MOST_WAYS]; } MODES[] = {
  { { ML_KIND_RESISTOR }, 1, 5, { OPEN (0), TOO_HIGH, TOO_LOW, SHORT (0, 1), JOINT (0) } },
  { { ML_KIND_THERMISTOR }, 1, 5, { OPEN (0), SHORT (0, 1), TOO_HIGH, TOO_LOW, JOINT (0) } },
  { { ML_KIND_COIL, ML_KIND_SWITCH, ML_KIND_LAMP }, 3, 3, { OPEN (0), SHORT (0, 1), JOINT (0) } },
  { { ML_KIND_FUSE, ML_KIND_INDUCTOR, ML_KIND_LINK }, 3, 2, { OPEN (0), JOINT (0) } },
  { { ML_KIND_POTENTIOMETER }, 1, 2, { OPEN (EACH), JOINT (EACH) } },
  { { ML_KIND_CAPACITOR }, 1, 2, { SHORT (0, 1), LEAK (0, 1) } },
  { { ML_KIND_DIODE, ML_KIND_LED, ML_KIND_ZENER }, 3, 5,
    { OPEN (0), SHORT (0, 1), LEAK (0, 1), BETWEEN (ML_FAULT_REVERSED, 0, 1), JOINT (0) } },
  { { ML_KIND_TVS, ML_KIND_VARISTOR }, 2, 4, { OPEN (0), SHORT (0, 1), LEAK (0, 1), JOINT (0) } },
  { { ML_KIND_BRIDGE }, 1, 8,
    { BETWEEN (ML_FAULT_OPEN, 0, 2), SHORT (0, 2), BETWEEN (ML_FAULT_OPEN, 1, 2), SHORT (1, 2), BETWEEN (ML_FAULT_OPEN, 0, 3), SHORT (0, 3),
      BETWEEN (ML_FAULT_OPEN, 3, 1), SHORT (3, 1) } },
  { { ML_KIND_NPN, ML_KIND_PNP }, 2, 6, { OPEN (EACH), JOINT (EACH), SHORT (0, 2), SHORT (1, 2), SHORT (0, 1), LEAK (0, 2) } },
  { { ML_KIND_NMOS, ML_KIND_PMOS }, 2, 6, { OPEN (EACH), JOINT (EACH), SHORT (0, 2), SHORT (1, 2), LEAK (0, 2), LEAK (1, 2) } },
  { { ML_KIND_NJFET, ML_KIND_PJFET }, 2, 2, { OPEN (EACH), SHORT (0, 2) } },
  { { ML_KIND_THYRISTOR, ML_KIND_TRIAC }, 2, 3, { OPEN (EACH), JOINT (EACH), SHORT (0, 1) } },
  { { ML_KIND_REGULATOR, ML_KIND_ADJUSTABLE, ML_KIND_CONVERTER }, 3, 5,
    { WHOLE (ML_FAULT_DEAD), BETWEEN (ML_FAULT_THROUGH, 0, 1), GIVES_LITTLE, OPEN (EACH), JOINT (EACH) } },
  { { ML_KIND_SHUNT }, 1, 3, { OPEN (EACH), SHORT (0, 1), GIVES_LITTLE } },
  { { ML_KIND_OPTO }, 1, 4, { OPEN (EACH), SHORT (2, 3), SHORT (0, 1), JOINT (EACH) } },
  { { ML_KIND_OPAMP, ML_KIND_COMPARATOR }, 2, 3, { OPEN (EACH), BETWEEN (ML_FAULT_STUCK_HIGH, 2, 0), BETWEEN (ML_FAULT_STUCK_LOW, 2, 0) } },
  { { ML_KIND_BLOCK }, 1, 1, { WHOLE (ML_FAULT_STOPPED) } },
};

static void
add_mode (GArray *modes, const MlPart *part, guint index, const Way *way, int pin_a)
{
  MlTruthMode mode = { .fault = { .part = index, .kind = way->fault, .net_a = -1, .net_b = -1, .size = NAN, .size_low = NAN, .size_high = NAN },
                       .low = way->low, .high = way->high };
  mode.fault.n_pins = way->fault == ML_FAULT_STOPPED ? 0 : way->pin_b ? 2 : 1;
  mode.fault.pins[0] = mode.fault.n_pins ? ml_truth_pin (part, pin_a) : 0;
  mode.fault.pins[1] = way->pin_b ? ml_truth_pin (part, way->pin_b) : 0;
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

static gboolean
is_of_kinds (const MlPart *part, guint row)
{
  for (guint i = 0; i < MODES[row].n_kinds; i++)
    if (part->kind->kind == MODES[row].kinds[i])
      return TRUE;
  return FALSE;
}

static void
add_ways (GArray *modes, const MlBoard *board, guint index, guint row)
{
  const MlPart *part = &board->parts[index];

  for (const Way *way = MODES[row].ways; way < MODES[row].ways + MODES[row].n_ways; way++)
    {
      if (way->fault == ML_FAULT_STOPPED && !is_on_chopped_net (part, board))
        continue;
      if (way->pin_a != EACH)
        add_mode (modes, part, index, way, way->pin_a);
      else
        for (guint pin = 0; part->kind->pins[pin]; pin++)
          add_mode (modes, part, index, way, (int) pin);
    }
}

GArray *
ml_truth_modes (const MlBoard *board)
{
  GArray *modes = g_array_new (FALSE, TRUE, sizeof (MlTruthMode));
  for (guint part = 0; part < board->n_parts; part++)
    for (guint row = 0; row < G_N_ELEMENTS (MODES); row++)
      if (is_of_kinds (&board->parts[part], row))
        add_ways (modes, board, part, row);
  return modes;
}

GArray *
ml_truth_seldom_modes (const MlBoard *board)
{
  GArray *modes = g_array_new (FALSE, TRUE, sizeof (MlTruthMode));
  const Way ways[] = { SHORT (0, 0), LEAK (0, 0) };
  for (guint i = 0; i < board->n_parts; i++)
    for (guint a = 0; a < board->parts[i].n_pins && board->parts[i].n_pins > 2 && board->parts[i].n_pins <= MOST_PINS; a++)
      for (guint b = a + 1; b < board->parts[i].n_pins; b++)
        for (guint way = 0; way < G_N_ELEMENTS (ways) && board->parts[i].pins[a].net >= 0 && board->parts[i].pins[b].net >= 0; way++)
          {
            MlTruthMode mode = { .fault = { .part = i, .kind = ways[way].fault, .n_pins = 2, .pins = { a, b }, .net_a = -1, .net_b = -1, .size = NAN,
                                            .size_low = NAN, .size_high = NAN },
                                 .low = ways[way].low, .high = ways[way].high };
            g_array_append_val (modes, mode);
          }
  return modes;
}

gboolean
ml_truth_mode_sizes (const MlTruthMode *mode, double *ret_low, double *ret_high)
{
  gboolean shorted = mode->fault.kind == ML_FAULT_SHORT;
  *ret_low = shorted ? LEAST_SHORT_OHM : mode->low;
  *ret_high = shorted ? MOST_SHORT_OHM : mode->high;
  return isfinite (*ret_low);
}

MlFault
ml_truth_mode_draw (const MlTruthMode *mode, MlRandom *random)
{
  MlFault fault = mode->fault;
  if (isfinite (mode->low))
    fault.size = ml_random_log (random, mode->low, mode->high);
  return fault;
}
