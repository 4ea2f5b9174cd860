/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which nets are drawn as rails: bars above, signs below, flags where a wire would be too long. */
#include "board/parameters.h"
#include "drawing/layout-circuit.h"

#define MOST_SENSING_OHM 10.0
#define FEWEST_AT_OUTPUT 4 /* of a converter: with one load it is no supply */

typedef struct
{
  gboolean source, control, driven;
  gboolean converted; /* made by a chip: nothing is known of its voltage */
  gboolean fed;     /* by more than resistors, capacitors and lamps */
  gboolean output;  /* of an amplifier */
  gboolean used;    /* by more than capacitors and diodes: a step of a voltage multiplier feeds nobody */
  guint n_positive, n_negative;
} NetRoles;

static gboolean
is_passive (MlKind kind)
{
  return kind == ML_KIND_RESISTOR || kind == ML_KIND_CAPACITOR || kind == ML_KIND_POTENTIOMETER || kind == ML_KIND_THERMISTOR
         || kind == ML_KIND_TESTPOINT || kind == ML_KIND_LED;
}

/* Nets whose voltage is counted from some ground; an island without a supply has no rails. */
static gboolean
is_reached (const MlCircuitNet *net)
{
  return net->ground >= 0;
}

/* A capacitor to the ground keeps the net from swinging. */
static gboolean
is_steady (const MlCircuit *circuit, const MlCircuitNet *net)
{
  guint i;

  for (i = 0; i < net->n_joints; i++)
    {
      const MlCircuitPart *part = &circuit->parts[net->joints[i].part];
      if (part->kind == ML_KIND_CAPACITOR && ml_circuit_other (part, (int) (net - circuit->nets)) == net->ground)
        return TRUE;
    }
  return FALSE;
}

/* A capacitor with polarity stands there, that pin of it on the net: the net is fed, whatever hangs on it. */
static gboolean
is_reservoir (const MlCircuit *circuit, const MlCircuitNet *net, MlPinWord word)
{
  guint i;

  for (i = 0; i < net->n_joints; i++)
    {
      const MlCircuitPart *part = &circuit->parts[net->joints[i].part];
      if (part->kind == ML_KIND_CAPACITOR && part->pins[net->joints[i].pin].word == word
          && ml_circuit_other (part, (int) (net - circuit->nets)) == net->ground)
        return TRUE;
    }
  return FALSE;
}

/* A diode draws current out of a net that a capacitor steadies: a charge pump below the ground, of which no d.c. solution knows. */
static gboolean
is_pumped_down (const MlCircuit *circuit, const MlCircuitNet *net)
{
  guint i;

  for (i = 0; i < net->n_joints; i++)
    {
      const MlCircuitPart *part = &circuit->parts[net->joints[i].part];
      if (part->kind == ML_KIND_DIODE && part->pins[net->joints[i].pin].word == ML_PIN_WORD_ANODE)
        return is_steady (circuit, net);
    }
  return FALSE;
}

/* Main paths of transistors that end on a net. */
static guint
n_paths (const MlCircuit *circuit, int net)
{
  guint i, n = 0;

  for (i = 0; i < circuit->nets[net].n_joints; i++)
    {
      MlCircuitJoint joint = circuit->nets[net].joints[i];
      const MlCircuitPart *part = &circuit->parts[joint.part];
      n += ml_circuit_is_transistor (part->kind) && !ml_circuit_is_control (part->pins[joint.pin].word);
    }
  return n;
}

/* A resistor so small leads from a net to the reference that it only shows a current: as good as the reference itself. */
static gboolean
is_sensed (const MlCircuit *circuit, int net)
{
  guint i;

  for (i = 0; i < circuit->nets[net].n_joints; i++)
    {
      const MlCircuitPart *part = &circuit->parts[circuit->nets[net].joints[i].part];
      MlParameter resistance;
      if (part->kind == ML_KIND_RESISTOR && ml_circuit_other (part, net) == circuit->reference
          && ml_part_parameter (part->part, "value", &resistance) && resistance.origin == ML_ORIGIN_WRITTEN && resistance.centre <= MOST_SENSING_OHM)
        return TRUE;
    }
  return FALSE;
}

/* A collector or drain that swings: its other end is the reference or a busy node that no capacitor holds, where other transistors end as well: what
 * one follower feeds does not swing. */
static gboolean
is_swinging (const MlCircuit *circuit, const MlCircuitPart *part)
{
  const MlCircuitPin *low = ml_circuit_pin (part, ML_PIN_WORD_EMITTER);

  if (low == NULL)
    low = ml_circuit_pin (part, ML_PIN_WORD_SOURCE);
  if (part->kind == ML_KIND_PNP || part->kind == ML_KIND_PMOS)
    return TRUE;
  if (low == NULL || low->net < 0)
    return FALSE;
  return low->net == circuit->reference || is_sensed (circuit, low->net)
         || (circuit->nets[low->net].n_joints > 3 && n_paths (circuit, low->net) > 1 && !is_steady (circuit, &circuit->nets[low->net]));
}

/* A switch from which nothing higher comes only lets the net down; what an amplifier or a transistor listens to is not fed by that, nor is what a
 * zener hangs below: it holds a gate near its supply. */
static gboolean
may_feed (const MlCircuit *circuit, const MlCircuitNet *net, const MlCircuitPart *part, MlPinWord word)
{
  if (part->kind == ML_KIND_ZENER && word == ML_PIN_WORD_ANODE)
    return FALSE;
  if (part->kind == ML_KIND_SWITCH)
    {
      int other = ml_circuit_other (part, (int) (net - circuit->nets));
      return other >= 0 && circuit->nets[other].potential > net->potential - 0.02;
    }
  return !is_passive (part->kind) && !((ml_circuit_is_amplifier (part->kind) || ml_circuit_is_transistor (part->kind)) && ml_circuit_is_control (word));
}

static NetRoles
roles_of (const MlCircuit *circuit, const MlCircuitNet *net)
{
  NetRoles roles = { 0 };
  guint i;

  roles.source = net->supply_plus || net->supply_minus;
  for (i = 0; i < net->n_joints; i++)
    {
      const MlCircuitPart *part = &circuit->parts[net->joints[i].part];
      MlPinWord word = part->pins[net->joints[i].pin].word;
      roles.source |= ml_circuit_is_regulator (part->kind) && word == ML_PIN_WORD_OUT;
      roles.source |= (part->kind == ML_KIND_BRIDGE || part->kind == ML_KIND_BATTERY) && word == ML_PIN_WORD_PLUS;
      roles.control |= ml_circuit_is_control (word);
      roles.fed |= may_feed (circuit, net, part, word);
      roles.used |= part->kind != ML_KIND_CAPACITOR && part->kind != ML_KIND_DIODE;
      roles.output |= ml_circuit_is_amplifier (part->kind) && word == ML_PIN_WORD_OUT;
      roles.driven |= (word == ML_PIN_WORD_COLLECTOR || word == ML_PIN_WORD_DRAIN) && is_swinging (circuit, part);
      roles.n_positive += word == ML_PIN_WORD_POSITIVE;
      roles.n_negative += word == ML_PIN_WORD_NEGATIVE;
    }
  roles.converted = net->n_joints >= FEWEST_AT_OUTPUT && ml_circuit_is_converted (circuit, (int) (net - circuit->nets));
  roles.source |= roles.converted;
  roles.driven &= !roles.source && !is_reservoir (circuit, net, ML_PIN_WORD_PLUS);
  return roles;
}

static gboolean
is_minus_below_reference (const MlCircuit *circuit, const MlCircuitNet *net)
{
  guint i;

  for (i = 0; circuit->condition != NULL && i < circuit->condition->n_supplies; i++)
    {
      const MlSupply *supply = &circuit->condition->supplies[i];
      if (supply->minus == net->index && supply->plus >= 0 && circuit->net_of_board[supply->plus] == circuit->reference)
        return TRUE;
    }
  return FALSE;
}

/* A bench supply that only stands in for a signal: it feeds resistors and diodes, and another supply gives more. */
static gboolean
is_signal_source (const MlCircuit *circuit, const MlCircuitNet *net)
{
  gboolean more = FALSE;
  guint i;

  for (i = 0; circuit->condition != NULL && i < circuit->condition->n_supplies; i++)
    {
      int plus = circuit->condition->supplies[i].plus;
      more |= plus >= 0 && circuit->nets[circuit->net_of_board[plus]].potential > net->potential + 0.02;
    }
  for (i = 0; net->supply_plus && more && i < net->n_joints; i++)
    {
      MlKind kind = circuit->parts[net->joints[i].part].kind;
      if (kind != ML_KIND_RESISTOR && kind != ML_KIND_DIODE && kind != ML_KIND_CONNECTOR && kind != ML_KIND_TESTPOINT)
        return FALSE;
    }
  return net->supply_plus && more;
}

/* An input of a rectifier: of a bridge, or between two diodes of which one begins at the reference. */
static gboolean
is_alternating (const MlCircuit *circuit, const MlCircuitNet *net)
{
  gboolean anode = FALSE, cathode = FALSE;
  guint i;

  for (i = 0; i < net->n_joints; i++)
    {
      const MlCircuitPart *part = &circuit->parts[net->joints[i].part];
      MlPinWord word = part->pins[net->joints[i].pin].word;
      if (word == ML_PIN_WORD_AC1 || word == ML_PIN_WORD_AC2)
        return TRUE;
      if (part->kind != ML_KIND_DIODE)
        continue;
      anode |= word == ML_PIN_WORD_ANODE;
      cathode |= word == ML_PIN_WORD_CATHODE && ml_circuit_other (part, (int) (net - circuit->nets)) == circuit->reference;
    }
  return anode && cathode;
}

/* Of which polarity the followers are that have their emitter or source on a net: bit 1 n, bit 2 p. */
static guint
followers_at (const MlCircuit *circuit, int net)
{
  guint i, found = 0;

  for (i = 0; net >= 0 && i < circuit->nets[net].n_joints; i++)
    {
      MlCircuitJoint joint = circuit->nets[net].joints[i];
      MlKind kind = circuit->parts[joint.part].kind;
      MlPinWord word = circuit->parts[joint.part].pins[joint.pin].word;
      if (word == ML_PIN_WORD_EMITTER || word == ML_PIN_WORD_SOURCE)
        found |= kind == ML_KIND_NPN || kind == ML_KIND_NMOS ? 1 : kind == ML_KIND_PNP || kind == ML_KIND_PMOS ? 2 : 0;
    }
  return found;
}

/* Followers of both polarities meet there, straight or through resistors of their own: a signal, however much hangs on it. */
static gboolean
is_push_pull_output (const MlCircuit *circuit, const MlCircuitNet *net)
{
  guint i, found = followers_at (circuit, (int) (net - circuit->nets));

  for (i = 0; i < net->n_joints; i++)
    {
      const MlCircuitPart *part = &circuit->parts[net->joints[i].part];
      int other = part->kind == ML_KIND_RESISTOR ? ml_circuit_other (part, (int) (net - circuit->nets)) : -1;
      if (other >= 0 && circuit->nets[other].n_joints == 2)
        found |= followers_at (circuit, other);
    }
  return found == 3;
}

/* A potentiometer as a rheostat, or a chip with two pins on one net, is one part there. */
static guint
n_parts_at (const MlCircuit *circuit, const MlCircuitNet *net)
{
  guint i, k, n = 0;

  for (i = 0; i < net->n_joints; i++)
    {
      for (k = 0; k < i; k++)
        if (net->joints[k].part == net->joints[i].part)
          break;
      n += k == i;
    }
  return n;
}

static MlRail
rail_of (const MlCircuit *circuit, const MlCircuitNet *net, gboolean reached, double top)
{
  double ground = circuit->reference < 0 ? 0 : circuit->nets[circuit->reference].potential;
  NetRoles roles = roles_of (circuit, net);
  guint n = net->n_joints, n_parts = n_parts_at (circuit, net);
  gboolean supplied = roles.fed && reached && !roles.driven && !roles.output && (roles.used || is_reservoir (circuit, net, ML_PIN_WORD_PLUS)), up;

  if (roles.n_negative > 0 && roles.n_positive == 0 && !roles.source && is_pumped_down (circuit, net))
    return ML_RAIL_DOWN;
  if (((roles.n_negative > 0 && roles.n_positive == 0) || is_minus_below_reference (circuit, net)
       || (reached && n >= 4 && is_reservoir (circuit, net, ML_PIN_WORD_MINUS))) /* behind a fuse */
      && n >= 2 && net->potential < ground - 0.02)
    return ML_RAIL_DOWN;
  if (is_signal_source (circuit, net) || is_alternating (circuit, net) || is_push_pull_output (circuit, net)
      || (net->net != NULL && net->net->switching)) /* a chopped net is no supply */
    return ML_RAIL_NONE;
  up = (roles.source && n >= 3) || (net->potential >= 0.88 * top && n_parts >= 4 && supplied)
       || (!roles.control && supplied && n_parts >= 5 && net->potential > ground + 0.2 * (top - ground)) || (roles.n_positive > 0 && n >= 3);
  /* What feeds chips is their supply even in a condition in which nothing comes there; of what a chip makes nothing is known. */
  return up && net->potential > ground + (roles.converted || roles.n_positive > roles.n_negative ? -0.02 : 0.02) ? ML_RAIL_UP : ML_RAIL_NONE;
}

#define BELOW_GROUND 0.1 /* of the highest voltage: a negative supply that nothing feeds by direct current */

void
ml_circuit_find_rails (MlCircuit *circuit)
{
  double top = 0; /* of what hangs together with a ground: a signal's own supply may be higher */
  guint i;

  for (i = 0; i < circuit->n_nets; i++)
    if (is_reached (&circuit->nets[i]))
      top = MAX (top, circuit->nets[i].potential);
  for (i = 0; i < circuit->n_nets; i++)
    {
      MlCircuitNet *net = &circuit->nets[i];
      net->rail = (int) i == net->ground ? ML_RAIL_DOWN : rail_of (circuit, net, is_reached (net), top);
      if (net->rail == ML_RAIL_DOWN && (int) i != net->ground && net->ground >= 0)
        net->potential = MIN (net->potential, circuit->nets[net->ground].potential - BELOW_GROUND);
    }
}
