/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a net leads to: does a pin there drive it or listen to it? Weights were found by looking at drawings. */
#include "drawing/layout-drives.h"

#include <math.h>

gboolean
ml_circuit_has_word (const MlCircuit *circuit, int net, MlPinWord a, MlPinWord b)
{
  guint i;

  for (i = 0; net >= 0 && i < circuit->nets[net].n_joints; i++)
    {
      MlCircuitJoint joint = circuit->nets[net].joints[i];
      MlPinWord word = circuit->parts[joint.part].pins[joint.pin].word;
      if (word == a || word == b)
        return TRUE;
    }
  return FALSE;
}

gboolean
ml_circuit_is_supply (const MlCircuit *circuit, int net)
{
  return net >= 0 && net != circuit->reference && (circuit->nets[net].supply_plus || circuit->nets[net].supply_minus);
}

#define FARTHEST_DRIVER 3 /* parts on the way */

/* What gives a net its voltage: a rail, an output, a switching contact, straight or through fuses, diodes and their like. */
static gboolean
is_driven_through (const MlCircuit *circuit, int net, int from, int depth)
{
  guint i;

  if (circuit->nets[net].rail != ML_RAIL_NONE || ml_circuit_has_word (circuit, net, ML_PIN_WORD_OUT, ML_PIN_WORD_COLLECTOR)
      || ml_circuit_has_word (circuit, net, ML_PIN_WORD_DRAIN, ML_PIN_WORD_EMITTER) || ml_circuit_has_word (circuit, net, ML_PIN_WORD_NO, ML_PIN_WORD_NC)
      || ml_circuit_has_word (circuit, net, ML_PIN_WORD_COMMON, ML_PIN_WORD_COMMON))
    return TRUE;
  for (i = 0; depth > 0 && i < circuit->nets[net].n_joints; i++)
    {
      MlCircuitJoint joint = circuit->nets[net].joints[i];
      const MlCircuitPart *part = &circuit->parts[joint.part];
      int other = part->two_terminal ? ml_circuit_other (part, net) : -1;
      gboolean diode = part->kind == ML_KIND_DIODE && part->pins[joint.pin].word == ML_PIN_WORD_CATHODE;
      if (other < 0 || other == from || (diode && circuit->nets[other].rail == ML_RAIL_DOWN))
        continue;
      if ((diode || part->kind == ML_KIND_FUSE || part->kind == ML_KIND_LINK || part->kind == ML_KIND_INDUCTOR)
          && is_driven_through (circuit, other, net, depth - 1))
        return TRUE;
    }
  return FALSE;
}

/* The output of an amplifier behind a resistor that guards it; where something listens the resistor is a feedback. */
static gboolean
is_driven_guarded (const MlCircuit *circuit, int net)
{
  gboolean driven = FALSE, listened = FALSE;
  guint i;

  for (i = 0; i < circuit->nets[net].n_joints; i++)
    {
      MlCircuitJoint joint = circuit->nets[net].joints[i];
      const MlCircuitPart *part = &circuit->parts[joint.part];
      int other = part->kind == ML_KIND_RESISTOR ? ml_circuit_other (part, net) : -1;
      driven |= other >= 0 && ml_circuit_has_word (circuit, other, ML_PIN_WORD_OUT, ML_PIN_WORD_OUT);
      listened |= ml_circuit_is_control (part->pins[joint.pin].word) || part->kind == ML_KIND_BLOCK;
    }
  return driven && !listened;
}

gboolean
ml_circuit_is_driven (const MlCircuit *circuit, int net)
{
  return is_driven_through (circuit, net, -1, FARTHEST_DRIVER) || is_driven_guarded (circuit, net);
}

/* ---- of pins whose names mean nothing ---- */

static double score_of_net (const MlCircuit *circuit, int net, int depth, int from, int before);

gboolean
ml_drive_is_follower (const MlCircuit *circuit, const MlCircuitPart *part, MlPinWord word)
{
  const MlCircuitPin *end = word == ML_PIN_WORD_EMITTER  ? ml_circuit_pin (part, ML_PIN_WORD_COLLECTOR)
                            : word == ML_PIN_WORD_SOURCE ? ml_circuit_pin (part, ML_PIN_WORD_DRAIN)
                                                         : NULL;
  MlRail fed_from = part->kind == ML_KIND_NPN || part->kind == ML_KIND_NMOS   ? ML_RAIL_UP
                    : part->kind == ML_KIND_PNP || part->kind == ML_KIND_PMOS ? ML_RAIL_DOWN
                                                                              : ML_RAIL_NONE;

  return fed_from != ML_RAIL_NONE && end != NULL && end->net >= 0 && circuit->nets[end->net].rail == fed_from;
}

/* An input that its own output is tied to says nothing of where the net leads. */
static gboolean
is_fed_back (const MlCircuitPart *part, MlPinWord word, int net)
{
  const MlCircuitPin *out = ml_circuit_is_amplifier (part->kind) && ml_circuit_is_control (word) ? ml_circuit_pin (part, ML_PIN_WORD_OUT) : NULL;

  return out != NULL && out->net == net;
}

/* What leads from a stage's output to its own input says nothing either, whichever end it is seen from. */
static gboolean
leads_back (const MlCircuit *circuit, int net, int other)
{
  guint i, k;

  for (i = 0; i < circuit->nets[net].n_joints; i++)
    {
      MlCircuitJoint joint = circuit->nets[net].joints[i];
      const MlCircuitPart *part = &circuit->parts[joint.part];
      MlPinWord word = part->pins[joint.pin].word;
      if (word != ML_PIN_WORD_COLLECTOR && word != ML_PIN_WORD_DRAIN && word != ML_PIN_WORD_OUT)
        continue;
      for (k = 0; k < part->n_pins; k++)
        if (part->pins[k].net == other && ml_circuit_is_control (part->pins[k].word))
          return TRUE;
    }
  return FALSE;
}

double
ml_drive_of_joint (const MlCircuit *circuit, const MlCircuitPart *part, MlPinWord word)
{
  if (ml_circuit_is_control (word) || part->kind == ML_KIND_LED || part->kind == ML_KIND_COIL || part->kind == ML_KIND_LAMP)
    return 2;
  if (part->kind == ML_KIND_OPTO)
    return word == ML_PIN_WORD_ANODE || word == ML_PIN_WORD_CATHODE ? 2 : -2;
  if (part->kind == ML_KIND_SWITCH || part->kind == ML_KIND_CHANGEOVER || part->kind == ML_KIND_THERMISTOR || part->kind == ML_KIND_CONTACT
      || word == ML_PIN_WORD_COLLECTOR || word == ML_PIN_WORD_DRAIN || word == ML_PIN_WORD_OUT || word == ML_PIN_WORD_WIPER
      || ml_drive_is_follower (circuit, part, word))
    return -2;
  return 0;
}

static gboolean
passes_on (MlKind kind)
{
  return kind == ML_KIND_RESISTOR || kind == ML_KIND_CAPACITOR || kind == ML_KIND_DIODE || kind == ML_KIND_FUSE || kind == ML_KIND_LINK
         || kind == ML_KIND_INDUCTOR;
}

/* A converter's choke or a charge pump's capacitor hangs there: the net swings it. */
static gboolean
is_swung (const MlCircuit *circuit, const MlCircuitPart *part, int net)
{
  int chopped, out;

  return (ml_circuit_smooths (circuit, part, &chopped, &out) && chopped == net) || ml_circuit_pumps (circuit, part, net);
}

static double
score_of_net (const MlCircuit *circuit, int net, int depth, int from, int before)
{
  double score = 0;
  guint i;

  for (i = 0; i < circuit->nets[net].n_joints; i++)
    {
      MlCircuitJoint joint = circuit->nets[net].joints[i];
      const MlCircuitPart *part = &circuit->parts[joint.part];
      double own;
      int other;
      if (joint.part == from || joint.part == before || is_fed_back (part, part->pins[joint.pin].word, net))
        continue;
      own = is_swung (circuit, part, net) ? 2 : ml_drive_of_joint (circuit, part, part->pins[joint.pin].word);
      score += own;
      if (own > 0 || own < 0 || depth == 0 || !passes_on (part->kind) || !part->two_terminal)
        continue;
      other = ml_circuit_other (part, net);
      if (other >= 0 && circuit->nets[other].rail != ML_RAIL_NONE)
        score -= 0.3;
      else if (other >= 0 && !leads_back (circuit, net, other) && !leads_back (circuit, other, net))
        score += 0.8 * score_of_net (circuit, other, depth - 1, joint.part, from);
    }
  return score;
}

int
ml_drive_lean (const MlCircuit *circuit, int part)
{
  int lean = 0;
  guint i;

  for (i = 0; i < circuit->parts[part].n_pins; i++)
    {
      int net = circuit->parts[part].pins[i].net;
      double score = net < 0 || circuit->nets[net].rail != ML_RAIL_NONE ? 0 : score_of_net (circuit, net, 2, part, -1);
      lean += (score > 0.01) - (score < -0.01);
    }
  return lean;
}

/* The base or gate of a transistor hangs on that block, straight or through a resistor. */
static gboolean
is_switched_by (const MlCircuit *circuit, const MlCircuitPart *transistor, int block)
{
  guint i, k;

  for (i = 0; i < transistor->n_pins; i++)
    {
      int net = ml_circuit_is_control (transistor->pins[i].word) ? transistor->pins[i].net : -1;
      if (net < 0 || circuit->nets[net].rail != ML_RAIL_NONE)
        continue;
      for (k = 0; k < circuit->nets[net].n_joints; k++)
        {
          const MlCircuitPart *part = &circuit->parts[circuit->nets[net].joints[k].part];
          int other = part->kind == ML_KIND_RESISTOR ? ml_circuit_other (part, net) : net;
          if (other >= 0 && circuit->nets[other].rail == ML_RAIL_NONE && ml_circuit_has_pin_at (&circuit->parts[block], other))
            return TRUE;
        }
    }
  return FALSE;
}

/* Some pins of a block are switched by transistors that the other block drives: a display behind its driver. */
static gboolean
is_driven_by (const MlCircuit *circuit, int part, int driver)
{
  guint i, k;

  for (i = 0; i < circuit->parts[part].n_pins; i++)
    {
      int net = circuit->parts[part].pins[i].net;
      for (k = 0; net >= 0 && circuit->nets[net].rail == ML_RAIL_NONE && k < circuit->nets[net].n_joints; k++)
        {
          MlCircuitJoint joint = circuit->nets[net].joints[k];
          const MlCircuitPart *of = &circuit->parts[joint.part];
          if ((of->pins[joint.pin].word == ML_PIN_WORD_COLLECTOR || of->pins[joint.pin].word == ML_PIN_WORD_DRAIN)
              && is_switched_by (circuit, of, driver))
            return TRUE;
        }
    }
  return FALSE;
}

/* Where one of two blocks switches the other, straight from it or through a resistor. */
static double
score_towards_display (const MlCircuit *circuit, int net, int part)
{
  guint i, k;

  for (i = 0; i < circuit->nets[net].n_joints; i++)
    {
      MlCircuitJoint joint = circuit->nets[net].joints[i];
      int far = circuit->parts[joint.part].kind == ML_KIND_RESISTOR ? ml_circuit_other (&circuit->parts[joint.part], net) : net;
      for (k = 0; far >= 0 && circuit->nets[far].rail == ML_RAIL_NONE && k < circuit->nets[far].n_joints; k++)
        {
          int other = circuit->nets[far].joints[k].part;
          if (other == part || circuit->parts[other].kind != ML_KIND_BLOCK)
            continue;
          if (is_driven_by (circuit, other, part))
            return 1;
          if (is_driven_by (circuit, part, other))
            return -1;
        }
    }
  return 0;
}

/* Between two blocks nothing but their other pins tells the way: the one that drives more comes later, unless it drives the other. */
static double
score_towards_blocks (const MlCircuit *circuit, int net, int part)
{
  double score = score_towards_display (circuit, net, part);
  guint i;

  if (fabs (score) > 0)
    return score;

  for (i = 0; i < circuit->nets[net].n_joints; i++)
    {
      int other = circuit->nets[net].joints[i].part, difference;
      if (other == part || circuit->parts[other].kind != ML_KIND_BLOCK)
        continue;
      difference = ml_drive_lean (circuit, other) - ml_drive_lean (circuit, part);
      return difference > 0 ? 1 : difference < 0 ? -1 : 0;
    }
  return 0;
}

static gboolean
is_switched_at (const MlCircuit *circuit, int net, int block)
{
  guint i;

  for (i = 0; net >= 0 && circuit->nets[net].rail == ML_RAIL_NONE && i < circuit->nets[net].n_joints; i++)
    {
      MlCircuitJoint joint = circuit->nets[net].joints[i];
      const MlCircuitPart *part = &circuit->parts[joint.part];
      MlPinWord word = part->pins[joint.pin].word;
      if ((word == ML_PIN_WORD_EMITTER || word == ML_PIN_WORD_SOURCE) && is_switched_by (circuit, part, block))
        return TRUE;
    }
  return FALSE;
}

/* It watches the current of a transistor that the block itself switches, straight or through a resistor: its pin looks that way. */
static gboolean
watches_own_current (const MlCircuit *circuit, int net, int block)
{
  guint i;

  if (is_switched_at (circuit, net, block))
    return TRUE;
  for (i = 0; i < circuit->nets[net].n_joints; i++)
    {
      const MlCircuitPart *part = &circuit->parts[circuit->nets[net].joints[i].part];
      if (part->kind == ML_KIND_RESISTOR && is_switched_at (circuit, ml_circuit_other (part, net), block))
        return TRUE;
    }
  return FALSE;
}

#define WATCHES 1.0 /* as if it drove something */

/* What a pin of a block or connector does: above 0 it drives something, below 0 it listens. */
double
ml_drive_of_pin (const MlCircuit *circuit, int net, int part)
{
  double score = score_of_net (circuit, net, 2, part, -1);

  if (circuit->parts[part].kind == ML_KIND_BLOCK && score < 0 && watches_own_current (circuit, net, part))
    return WATCHES;
  return circuit->parts[part].kind == ML_KIND_BLOCK && fabs (score) < 1 ? score + score_towards_blocks (circuit, net, part) : score;
}
