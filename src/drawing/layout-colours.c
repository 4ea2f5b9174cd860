/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Parts and nets get colours that grow more particular round by round, from those of their neighbours (colour refinement; Weisfeiler and
 * Leman 1968, from memory). Of equal colour are those that stand alike in the circuit. */
#include "drawing/layout-circuit.h"

#define ROUNDS 10

guint64
ml_colours_mixed (guint64 a, guint64 b)
{
  guint64 h = (a ^ (b + 0x9e3779b97f4a7c15u + (a << 6) + (a >> 2))) * 0xbf58476d1ce4e5b9u;

  return h ^ (h >> 29);
}

MlPinWord
ml_circuit_word_alike (const MlCircuitPart *part, guint pin)
{
  MlPinWord word = part->pins[pin].word;

  return word == ML_PIN_WORD_TWO && part->two_terminal ? ML_PIN_WORD_ONE : word;
}

gboolean
ml_circuit_pin_counts (const MlCircuitPart *part, guint pin)
{
  return !ml_circuit_is_amplifier (part->kind) || (part->pins[pin].word != ML_PIN_WORD_POSITIVE && part->pins[pin].word != ML_PIN_WORD_NEGATIVE);
}

static gboolean
is_signal (const MlCircuit *circuit, int net)
{
  return net >= 0 && circuit->nets[net].rail == ML_RAIL_NONE;
}

static guint
n_signals (const MlCircuit *circuit, const MlCircuitPart *part)
{
  guint i, k, n = 0;

  for (i = 0; i < part->n_pins; i++)
    {
      for (k = 0; k < i && part->pins[k].net != part->pins[i].net; k++)
        ;
      n += k == i && is_signal (circuit, part->pins[i].net);
    }
  return n;
}

/* Sums do not depend on the order of what is summed. */
static void
refine_nets (MlCircuit *circuit)
{
  guint i, k;

  for (i = 0; i < circuit->n_nets; i++)
    {
      guint64 sum = 0;
      for (k = 0; k < circuit->nets[i].n_joints; k++)
        {
          MlCircuitJoint joint = circuit->nets[i].joints[k];
          const MlCircuitPart *part = &circuit->parts[joint.part];
          if (ml_circuit_pin_counts (part, (guint) joint.pin))
            sum += ml_colours_mixed (part->colour, ml_circuit_word_alike (part, (guint) joint.pin));
        }
      if (is_signal (circuit, (int) i))
        circuit->nets[i].colour = ml_colours_mixed (circuit->nets[i].colour, sum);
    }
}

static void
refine_parts (MlCircuit *circuit)
{
  guint i, k;

  for (i = 0; i < circuit->n_parts; i++)
    {
      MlCircuitPart *part = &circuit->parts[i];
      guint64 sum = 0;
      for (k = 0; k < part->n_pins && !part->is_hub; k++)
        if (ml_circuit_pin_counts (part, k))
          sum += ml_colours_mixed (part->pins[k].net < 0 ? 5 : circuit->nets[part->pins[k].net].colour, ml_circuit_word_alike (part, k));
      if (!part->is_hub)
        part->colour = ml_colours_mixed (part->colour, sum);
    }
}

void
ml_circuit_find_colours (MlCircuit *circuit)
{
  guint i;

  for (i = 0; i < circuit->n_parts; i++)
    {
      MlCircuitPart *part = &circuit->parts[i];
      part->is_hub = ml_circuit_is_free_box (part->kind) && n_signals (circuit, part) > 1;
      part->colour = part->is_hub ? ml_colours_mixed (1, i) : ml_colours_mixed (2, part->kind);
    }
  for (i = 0; i < circuit->n_nets; i++)
    circuit->nets[i].colour = is_signal (circuit, (int) i) ? 3 : ml_colours_mixed (4, i);
  for (i = 0; i < ROUNDS; i++)
    {
      refine_nets (circuit);
      refine_parts (circuit);
    }
}
