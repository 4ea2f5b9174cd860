/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which connectors let something in and which let it out, and which of them are drawn pin by pin. */
#include "drawing/layout-drives.h"

#define LIKE_TERMINALS 4

/* So many of its pins end parts that stand alike: each is drawn where it belongs. */
static gboolean
ends_alike (const MlCircuit *circuit, const MlCircuitPart *part)
{
  guint i, k, j;

  for (i = 0; i < part->n_pins; i++)
    {
      int net = part->pins[i].net;
      gboolean chip = FALSE;
      guint n = 0;
      if (net < 0 || circuit->nets[net].rail != ML_RAIL_NONE)
        continue;
      for (j = 0; j < circuit->nets[net].n_joints; j++)
        chip |= circuit->parts[circuit->nets[net].joints[j].part].is_hub && &circuit->parts[circuit->nets[net].joints[j].part] != part;
      for (k = 0; k < part->n_pins && !chip; k++)
        n += part->pins[k].net >= 0 && circuit->nets[part->pins[k].net].colour == circuit->nets[net].colour;
      if (n >= LIKE_TERMINALS)
        return TRUE;
    }
  return FALSE;
}

/* A connector of four pins or more is drawn pin by pin where a supply comes in among signals, or goes out with what switches it, or where it ends
 * many parts alike. */
gboolean
ml_connector_is_split (const MlCircuit *circuit, const MlCircuitPart *part)
{
  gboolean rail = FALSE, switched = FALSE, listened = FALSE;
  guint i;

  if (part->kind == ML_KIND_TESTPOINT || (part->kind == ML_KIND_CONNECTOR && part->n_pins == 1))
    return part->n_pins > 0;
  if (part->kind != ML_KIND_CONNECTOR || part->n_pins < 4 || part->n_pins > 24)
    return FALSE;
  for (i = 0; i < part->n_pins; i++)
    {
      int net = part->pins[i].net;
      if (net < 0 || net == circuit->reference)
        continue;
      if (ml_circuit_is_supply (circuit, net))
        return TRUE;
      rail |= circuit->nets[net].rail != ML_RAIL_NONE;
      switched |= circuit->nets[net].rail == ML_RAIL_NONE && ml_circuit_is_driven (circuit, net);
      listened |= circuit->nets[net].rail == ML_RAIL_NONE && !ml_circuit_is_driven (circuit, net) && ml_drive_of_pin (circuit, net, (int) (part - circuit->parts)) > 0;
    }
  return (rail && switched) || (listened && switched) || ends_alike (circuit, part);
}

/* In some condition a load hangs there. */
static gboolean
is_loaded (const MlCircuit *circuit, int net)
{
  guint i, k;

  for (i = 0; i < circuit->board->n_conditions; i++)
    for (k = 0; k < circuit->board->conditions[i].n_loads; k++)
      {
        int plus = circuit->board->conditions[i].loads[k].plus;
        if (plus >= 0 && circuit->net_of_board[plus] == net)
          return TRUE;
      }
  return FALSE;
}

#define BEHIND_CONNECTOR 2.0
#define THROUGH_ONE_PART 0.8

static int
pull_at (const MlCircuit *circuit, const int *pulls, int net)
{
  int sum = 0;
  guint i;

  for (i = 0; i < circuit->nets[net].n_joints; i++)
    sum += pulls[circuit->nets[net].joints[i].part];
  return CLAMP (sum, -1, 1);
}

/* The far net of a resistor, or of a transistor whose gate a rail holds: a line between two voltages; -1. */
static int
behind_one_part (const MlCircuit *circuit, const MlCircuitPart *part, int net)
{
  const MlCircuitPin *gate = part->kind == ML_KIND_NMOS ? ml_circuit_pin (part, ML_PIN_WORD_GATE) : NULL, *drain, *source;

  if (part->two_terminal)
    return part->kind == ML_KIND_RESISTOR ? ml_circuit_other (part, net) : -1;
  if (gate == NULL || gate->net < 0 || circuit->nets[gate->net].rail != ML_RAIL_UP)
    return -1;
  drain = ml_circuit_pin (part, ML_PIN_WORD_DRAIN);
  source = ml_circuit_pin (part, ML_PIN_WORD_SOURCE);
  return drain == NULL || source == NULL ? -1 : drain->net == net ? source->net : source->net == net ? drain->net : -1;
}

/* What comes in at a connector drives a chip's pin, straight or through a resistor, whatever else hangs there; what goes out there is driven. */
static double
score_of_connectors (const MlCircuit *circuit, const int *pulls, int net)
{
  double score = -BEHIND_CONNECTOR * pull_at (circuit, pulls, net);
  guint i;

  for (i = 0; i < circuit->nets[net].n_joints; i++)
    {
      const MlCircuitPart *part = &circuit->parts[circuit->nets[net].joints[i].part];
      int other = behind_one_part (circuit, part, net);
      if (other >= 0 && other != net && circuit->nets[other].rail == ML_RAIL_NONE)
        score -= THROUGH_ONE_PART * BEHIND_CONNECTOR * pull_at (circuit, pulls, other);
    }
  return score;
}

/* pulls: per part, what is known of connectors; NULL while nothing is. */
MlPiece *
ml_piece_of_pins (const MlCircuit *circuit, const int *pulls, int part, MlPieceKind kind, guint first, guint n)
{
  MlPiece *piece = ml_piece_new (kind);
  gboolean listened = FALSE;
  guint i;

  piece->part = part;
  piece->part_kind = circuit->parts[part].kind;
  piece->n_pins = n;
  piece->pins = g_new0 (MlPiecePin, MAX (n, 1));
  for (i = 0; i < n; i++)
    {
      int net = circuit->parts[part].pins[first + i].net;
      piece->pins[i] = (MlPiecePin){ net, part, (int) (first + i), 0, 0, 0 };
      if (net >= 0 && circuit->nets[net].rail == ML_RAIL_NONE
          && (piece->part_kind == ML_KIND_BLOCK || piece->part_kind == ML_KIND_CONNECTOR))
        piece->pins[i].score = ML_COST (ml_drive_of_pin (circuit, net, part)
                                        + (piece->part_kind == ML_KIND_BLOCK && pulls != NULL ? score_of_connectors (circuit, pulls, net) : 0));
      listened |= piece->pins[i].score > 0 && !ml_circuit_is_driven (circuit, net);
      piece->is_source |= ml_circuit_is_supply (circuit, net) && piece->part_kind == ML_KIND_CONNECTOR;
    }
  for (i = 0; i < n && piece->part_kind == ML_KIND_CONNECTOR && !listened; i++) /* loads at an input stand for what senses there */
    if (piece->pins[i].net >= 0 && is_loaded (circuit, piece->pins[i].net))
      piece->pins[i].score -= ML_COST (8);
  return piece;
}

/* A chip's pin, a resistor that holds the net at a rail. */
static void
look_for_input (const MlCircuit *circuit, int net, gboolean *chip, gboolean *held)
{
  guint k;

  for (k = 0; circuit->nets[net].rail == ML_RAIL_NONE && k < circuit->nets[net].n_joints; k++)
    {
      const MlCircuitPart *part = &circuit->parts[circuit->nets[net].joints[k].part];
      int other = part->two_terminal ? ml_circuit_other (part, net) : -1;
      *chip |= part->kind == ML_KIND_BLOCK;
      *held |= other >= 0 && part->kind == ML_KIND_RESISTOR && circuit->nets[other].rail != ML_RAIL_NONE;
    }
}

/* What comes out of a chip needs nothing to hold it at a rail, before or behind a resistor: where it is held a chip listens. */
static gboolean
leads_to_input (const MlCircuit *circuit, int net)
{
  gboolean chip_here = FALSE, held_here = FALSE;
  guint i;

  if (circuit->nets[net].rail != ML_RAIL_NONE) /* a divider at a supply is no line that comes in */
    return FALSE;
  look_for_input (circuit, net, &chip_here, &held_here);
  if (chip_here && held_here)
    return TRUE;
  for (i = 0; i < circuit->nets[net].n_joints; i++)
    {
      const MlCircuitPart *series = &circuit->parts[circuit->nets[net].joints[i].part];
      int behind = series->kind == ML_KIND_RESISTOR ? ml_circuit_other (series, net) : -1;
      gboolean chip = FALSE, held = held_here;
      if (behind >= 0)
        look_for_input (circuit, behind, &chip, &held);
      if (chip && held)
        return TRUE;
    }
  return FALSE;
}

/* Supply, ground and one signal that nothing here drives: what hangs on such a cable, a sensor or a potentiometer, is fed from the board and answers. */
static gboolean
feeds_sensor (const MlCircuit *circuit, const MlPiece *piece)
{
  int up = 0, down = 0, signals = 0;
  guint i, k;

  for (i = 0; i < piece->n_pins; i++)
    {
      int net = piece->pins[i].net;
      if (net < 0)
        continue;
      up += circuit->nets[net].rail == ML_RAIL_UP && !ml_circuit_is_supply (circuit, net);
      down += circuit->nets[net].rail == ML_RAIL_DOWN;
      if (circuit->nets[net].rail != ML_RAIL_NONE)
        continue;
      signals++;
      for (k = 0; k < circuit->nets[net].n_joints; k++) /* a servo looks the same: what drives it tells */
        {
          MlCircuitJoint joint = circuit->nets[net].joints[k];
          if (circuit->parts[joint.part].kind == ML_KIND_BLOCK || ml_drive_of_joint (circuit, &circuit->parts[joint.part], circuit->parts[joint.part].pins[joint.pin].word) < 0)
            return FALSE;
        }
    }
  return up == 1 && down == 1 && signals == 1;
}

/* Inputs (+1) stand left, outputs (-1) right; 0 where nothing tells. */
static int
connector_pull (const MlCircuit *circuit, const MlPiece *piece)
{
  int score = 0;
  gboolean driven = FALSE, listened = FALSE, rectified = FALSE;
  int listening = 0;
  guint i;

  for (i = 0; i < piece->n_pins; i++)
    {
      int net = piece->pins[i].net;
      score += piece->pins[i].score;
      if (net < 0 || net == circuit->reference)
        continue;
      driven |= ml_circuit_is_driven (circuit, net);
      listened |= piece->pins[i].score > 0 && !ml_circuit_is_driven (circuit, net);
      listening += leads_to_input (circuit, net);
      rectified |= ml_circuit_has_word (circuit, net, ML_PIN_WORD_AC1, ML_PIN_WORD_AC2);
    }
  score += ML_COST (1) * listening;
  listened |= listening > 0;
  if (piece->is_source || rectified || feeds_sensor (circuit, piece))
    return 1;
  if (driven && !listened) /* whatever shows or watches an output */
    return -1;
  if (score >= ML_COST (1) || (listening > 0 && score > 0))
    return 1;
  return score <= -ML_COST (1) || driven ? -1 : 0;
}

/* A chip that nobody knows tells by its other pins: one that drives things is told what to do by the connector, one that listens tells it. */
static int
pull_of_chips (const MlCircuit *circuit, const MlCircuitPart *connector)
{
  int lean = 0;
  guint i, k;

  for (i = 0; i < connector->n_pins; i++)
    {
      const MlCircuitNet *net = connector->pins[i].net < 0 ? NULL : &circuit->nets[connector->pins[i].net];
      for (k = 0; net != NULL && net->rail == ML_RAIL_NONE && k < net->n_joints; k++)
        if (circuit->parts[net->joints[k].part].kind == ML_KIND_BLOCK)
          lean += ml_drive_lean (circuit, net->joints[k].part);
    }
  return CLAMP (lean, -1, 1);
}

/* Of those that nothing tells apart the first is an input, unless there is another. */
int *
ml_connector_pulls (const MlCircuit *circuit)
{
  int *pulls = g_new0 (int, MAX (circuit->n_parts, 1));
  g_autofree gboolean *open = g_new0 (gboolean, MAX (circuit->n_parts, 1));
  gboolean has_input = FALSE;
  guint i;

  for (i = 0; i < circuit->n_parts; i++)
    if (circuit->parts[i].kind == ML_KIND_CONNECTOR && !ml_connector_is_split (circuit, &circuit->parts[i]))
      {
        MlPiece *piece = ml_piece_of_pins (circuit, NULL, (int) i, ML_PIECE_PART, 0, circuit->parts[i].n_pins);
        pulls[i] = connector_pull (circuit, piece);
        open[i] = pulls[i] == 0;
        has_input |= pulls[i] > 0 && !piece->is_source;
        ml_piece_free (piece);
      }
  for (i = 0; i < circuit->n_parts; i++)
    if (open[i])
      {
        int told = pull_of_chips (circuit, &circuit->parts[i]);
        pulls[i] = told != 0 ? told : has_input ? -1 : 1;
        has_input |= pulls[i] > 0;
      }
  return pulls;
}
