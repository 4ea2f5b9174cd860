/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/truth.h"

#include "support/truth-network.h"
#include "support/truth-values.h"

#include <math.h>
#include <string.h>

#define MOST_FAULTS 4
#define MOST_KIND_PINS 8
#define CLOSED_CONTACT_OHM 0.01
#define USUAL_SHORT_OHM 0.3
#define MOST_MOVES 6
#define OWN_CURRENT_A 2.5e-3 /* an adjustable regulator's, out of its output: data sheets ask for a load of some milliamperes (from memory) */
#define THYRISTOR_PATH_OHM 0.1 /* per volt of its drop */
#define THYRISTOR_GATE_OHM 8.0
#define STIFF_SHARE 1e-3 /* a place that a meter loads by less is read by a straight line */

const MlTruthWorld ML_TRUTH_USUAL = { 25, 1, 1 };

/* Of the board in the circuit. */
typedef struct
{
  int *net;          /* per net */
  int **pin;         /* per part and pin: the pin's own metal */
  int *inner;        /* per part two: of a thyristor, behind the resistances of its path and its gate */
} Nodes;

/* One condition's circuit with the faults in it. */
typedef struct
{
  MlTruthNetwork network;
  Nodes nodes[2];    /* of a chopped circuit while its chips hold the nets, and while they let go; else the first only */
  guint n_phases;
  double duty;       /* share of the time of the first phase */
  GArray *like;      /* per node: the node whose voltage it starts from */
  int first_supply[2]; /* branch of the condition's first supply in each phase */
  double *x;
  gboolean solved;
  MlTruthFactors factors; /* about x; jacobian NULL until asked for */
} Bench;

struct _MlTruth
{
  MlBoard *actual, *drawn;
  MlTrueValues *values;     /* per part */
  double *scale;            /* per part: of its main value, 1 but for ml_truth_scale */
  MlTruthBlock *blocks;     /* [part * n_conditions + condition] */
  MlTruthWorld world;
  MlFault faults[MOST_FAULTS];
  guint n_faults;
  const MlTruthPlace *lifting; /* the reading being taken, whose probes may hold legs off their pads; NULL: none */
  Bench **benches;          /* per condition, NULL until asked for */
  double **healthy_x;       /* per condition: net voltages without faults, the start of everything else */
};

/* nodes: of the phase that is being built; pulled: per part, coils that hold their armature and thyristors that have latched. */
typedef struct { MlTruth *truth; Bench *bench; Nodes *nodes; const MlCondition *condition; int index; guint phase; const gboolean *pulled; } Builder;

/* ---- drawing a unit ---- */

static guint64
mixed (guint64 seed, const char *word)
{
  return seed * G_GUINT64_CONSTANT (0x9e3779b97f4a7c15) + g_str_hash (word) * G_GUINT64_CONSTANT (0xd1b54a32d192ed03);
}

static char *
batch_key (const MlPart *part)
{
  const MlAttribute *family = ml_part_attribute (part, ML_KEY_FAMILY), *colour = ml_part_attribute (part, ML_KEY_COLOUR);
  return g_strdup_printf ("%s %s %s %s", part->kind->word, part->datasheet ? part->datasheet : "", family ? family->text : "",
                          colour ? colour->text : "");
}

static gboolean
is_known (const MlBoard *drawn, const MlPart *part)
{
  static const MlKey KEYS[] = { ML_KEY_VALUE, ML_KEY_RESISTANCE, ML_KEY_VOLTAGE };
  int i = ml_board_find_part (drawn, part->name);
  for (guint k = 0; k < G_N_ELEMENTS (KEYS) && i >= 0; k++)
    if (ml_part_attribute (&drawn->parts[i], KEYS[k]))
      return TRUE;
  return FALSE;
}

static MlTruthBlock
usual_block (const MlBoard *board, const MlPart *part, guint condition, MlTruthDraw draw, MlRandom *own, guint64 batch)
{
  g_autofree char *key = g_strdup_printf ("%s %s", board->title ? board->title : "", part->name);
  MlRandom design = ml_random_seeded (mixed (1, key)), state = ml_random_seeded (mixed (condition + 2, key));
  MlRandom common = ml_random_seeded (mixed (batch, key));
  double z = ml_random_normal (own);
  z = batch ? ml_random_normal (&common) + z / 8 : z;
  MlTruthBlock block = { .load_ohm = 800 * (draw == ML_TRUTH_NOMINAL ? 1 : exp (0.8 * z)), .drive_ohm = 70, .needs_v = 2.6 };
  for (guint i = 0; i < MIN (part->n_pins, G_N_ELEMENTS (block.pins)); i++)
    {
      gboolean input = i == 2 || ml_random_chance (&design, 0.2), high = ml_random_chance (&state, 0.5);
      block.pins[i] = input ? ML_TRUTH_PIN_INPUT : high ? ML_TRUTH_PIN_HIGH : ML_TRUTH_PIN_LOW;
    }
  return block;
}

static MlTruth *
new_truth (MlBoard *actual, MlBoard *drawn, MlTruthDraw draw, const guint64 seeds[2], const MlTruthWorld *world)
{
  guint64 seed = seeds[0];
  MlTruth *truth = g_new0 (MlTruth, 1);
  truth->actual = ml_board_ref (actual);
  truth->drawn = ml_board_ref (drawn);
  truth->world = world ? *world : ML_TRUTH_USUAL;
  truth->values = g_new0 (MlTrueValues, actual->n_parts);
  truth->scale = g_new (double, MAX (1, actual->n_parts));
  truth->blocks = g_new0 (MlTruthBlock, MAX (1, actual->n_parts * actual->n_conditions));
  truth->benches = g_new0 (Bench *, MAX (1, actual->n_conditions));
  truth->healthy_x = g_new0 (double *, MAX (1, actual->n_conditions));
  for (guint i = 0; i < actual->n_parts; i++)
    {
      const MlPart *part = &actual->parts[i];
      g_autofree char *key = batch_key (part);
      MlRandom own = ml_random_seeded (mixed (seed, part->name)), batch = ml_random_seeded (mixed ((seeds[1] ? seeds[1] : seed) + 77, key));
      truth->scale[i] = 1;
      truth->values[i] = ml_true_values_draw (part, draw, is_known (drawn, part), &own, &batch, &truth->world);
      for (guint k = 0; k < actual->n_conditions; k++)
        truth->blocks[i * actual->n_conditions + k] = usual_block (actual, part, k, draw, &own, seeds[1]);
    }
  return truth;
}

MlTruth *
ml_truth_new (MlBoard *actual, MlBoard *drawn, MlTruthDraw draw, guint64 seed, const MlTruthWorld *world)
{
  return new_truth (actual, drawn, draw, (guint64[]) { seed, 0 }, world);
}

MlTruth *
ml_truth_new_of_batch (MlBoard *actual, MlBoard *drawn, guint64 seed, guint64 batch)
{
  return new_truth (actual, drawn, ML_TRUTH_UNIT, (guint64[]) { seed, batch }, NULL);
}

static void
bench_free (const MlTruth *truth, Bench *bench)
{
  if (!bench)
    return;
  for (guint phase = 0; phase < bench->n_phases; phase++)
    {
      for (guint i = 0; i < truth->actual->n_parts; i++)
        g_free (bench->nodes[phase].pin[i]);
      g_free (bench->nodes[phase].pin);
      g_free (bench->nodes[phase].net);
      g_free (bench->nodes[phase].inner);
    }
  g_array_unref (bench->like);
  ml_truth_network_clear (&bench->network);
  ml_truth_factors_clear (&bench->factors);
  g_free (bench->x);
  g_free (bench);
}

static void
forget (MlTruth *truth)
{
  for (guint i = 0; i < truth->actual->n_conditions; i++)
    {
      bench_free (truth, truth->benches[i]);
      truth->benches[i] = NULL;
    }
}

void
ml_truth_free (MlTruth *truth)
{
  forget (truth);
  for (guint i = 0; i < truth->actual->n_conditions; i++)
    g_free (truth->healthy_x[i]);
  g_free (truth->healthy_x);
  g_free (truth->benches);
  g_free (truth->values);
  g_free (truth->scale);
  g_free (truth->blocks);
  ml_board_unref (truth->actual);
  ml_board_unref (truth->drawn);
  g_free (truth);
}

const MlBoard *
ml_truth_board (const MlTruth *truth)
{
  return truth->actual;
}

void
ml_truth_set_block (MlTruth *truth, int part, int condition, const MlTruthBlock *block)
{
  truth->blocks[part * truth->actual->n_conditions + condition] = *block;
  forget (truth);
}

void
ml_truth_scale (MlTruth *truth, int part, double factor)
{
  truth->scale[part] = factor;
  forget (truth);
}

void
ml_truth_set_faults (MlTruth *truth, const MlFault *faults, guint n_faults)
{
  truth->n_faults = MIN (n_faults, MOST_FAULTS);
  for (guint i = 0; i < truth->n_faults; i++)
    truth->faults[i] = faults[i];
  forget (truth);
}

int
ml_truth_pin (const MlPart *part, guint i)
{
  int pin = ml_part_find_pin (part, part->kind->pins[i]);
  return pin < 0 && part->kind->pins_also ? ml_part_find_pin (part, part->kind->pins_also[i]) : pin;
}

/* ---- building one condition ---- */

static int
new_node (Builder *b, int like)
{
  g_array_append_val (b->bench->like, like);
  return ml_truth_network_node (&b->bench->network);
}

static void
resistor_between (Builder *b, int node_a, int node_b, double ohm)
{
  if (node_a != node_b)
    ml_truth_network_add (&b->bench->network, ML_LAW_RESISTOR, (int[]) { node_a, node_b }, &ohm);
}

static const MlFault *
fault_of (const Builder *b, int part, MlFaultKind kind)
{
  for (guint i = 0; i < b->truth->n_faults; i++)
    if (b->truth->faults[i].part == part && b->truth->faults[i].kind == kind)
      return &b->truth->faults[i];
  return NULL;
}

/* What a drift makes of a part's main value, and what it was said to be. */
static double
drift (const Builder *b, int part)
{
  double factor = b->truth->scale[part];
  for (guint i = 0; i < b->truth->n_faults; i++)
    {
      const MlFault *fault = &b->truth->faults[i];
      if (fault->part == part && isfinite (fault->size) && (fault->kind == ML_FAULT_HIGH || fault->kind == ML_FAULT_LOW || fault->kind == ML_FAULT_WRONG_PART))
        factor *= fault->size;
    }
  return factor;
}

static gboolean
is_chopped_by_block (const MlBoard *board, int net)
{
  for (guint i = 0; i < board->n_parts; i++)
    for (guint k = 0; k < board->parts[i].n_pins; k++)
      if (board->parts[i].pins[k].net == net && board->parts[i].kind->kind == ML_KIND_BLOCK)
        return TRUE;
  return FALSE;
}

static gboolean
turn_at (const MlBoard *board, int part, int net)
{
  static const char *const OUTPUTS[] = { "collector", "drain", "out" };
  for (guint i = 0; i < G_N_ELEMENTS (OUTPUTS); i++)
    {
      int pin = ml_part_find_pin (&board->parts[part], OUTPUTS[i]);
      if (pin >= 0 && board->parts[part].pins[pin].net == net)
        return TRUE;
    }
  return FALSE;
}

/* What chops a net without a chip nobody knows, its own output: an oscillator's parts take turns. +1: conducts in the first phase, -1: in the second,
 * 0: as its circuit has it. */
static int
paced (const MlBoard *board, int part)
{
  int turn = 1;
  for (guint net = 0; net < board->n_nets; net++)
    {
      if (!board->nets[net].switching)
        continue;
      if (!is_chopped_by_block (board, (int) net) && turn_at (board, part, (int) net))
        return turn;
      turn = -turn;
    }
  return 0;
}

/* Its turn to rest. */
static gboolean
rests (const Builder *b, int part)
{
  int turn = b->bench->n_phases > 1 ? paced (b->truth->actual, part) : 0;
  return turn && (turn > 0) == (b->phase == 1);
}

static int
reference_net (const MlBoard *board)
{
  if (board->reference >= 0)
    return board->reference;
  for (guint i = 0; i < board->n_conditions; i++)
    if (board->conditions[i].n_supplies)
      return board->conditions[i].supplies[0].minus;
  return 0;
}

static void
number_nets (Builder *b)
{
  const MlBoard *board = b->truth->actual;
  for (guint i = 0; i < board->n_nets; i++)
    b->nodes->net[i] = (int) i == reference_net (board) ? 0 : new_node (b, 0);
}

static gboolean
lifts (const MlProbe *probe, int part, int pin)
{
  return probe->lead == ML_LEAD_LIFTED && probe->part == part && probe->pin == pin;
}

static gboolean
is_lifted (const Builder *b, int part, int pin)
{
  const MlTruthPlace *place = b->truth->lifting;
  if (place && (lifts (&place->red, part, pin) || lifts (&place->black, part, pin)))
    return TRUE;
  for (guint i = 0; i < b->condition->n_lifts; i++)
    if (b->condition->lifts[i].part == part && b->condition->lifts[i].pin == pin)
      return TRUE;
  for (guint i = 0; i < b->condition->n_removals; i++)
    if (b->condition->removals[i].part == part)
      return TRUE;
  return b->truth->actual->parts[part].pins[pin].net < 0;
}

/* Where a pin's metal is: on its net, on the net of another pin, behind a joint, cut off with others, or in the air. */
static int
metal_of (Builder *b, int part, int pin, int *cut_node)
{
  const MlPart *p = &b->truth->actual->parts[part];
  int net = p->pins[pin].net;
  for (guint i = 0; i < b->truth->n_faults; i++)
    {
      const MlFault *fault = &b->truth->faults[i];
      gboolean turned = fault->kind == ML_FAULT_REVERSED || fault->kind == ML_FAULT_PINS_EXCHANGED;
      if (fault->part == part && turned && (pin == fault->pins[0] || pin == fault->pins[1]))
        net = p->pins[fault->pins[0] + fault->pins[1] - pin].net;
    }
  int node = net >= 0 && !is_lifted (b, part, pin) ? b->nodes->net[net] : new_node (b, 0);
  for (guint i = 0; i < b->truth->n_faults; i++)
    {
      const MlFault *fault = &b->truth->faults[i];
      for (guint k = 0; k < fault->n_cut; k++)
        if (fault->cut_parts[k] == part && fault->cut_pins[k] == pin && !is_lifted (b, part, pin))
          node = *cut_node >= 0 ? *cut_node : (*cut_node = new_node (b, node));
      if (fault->part != part || !fault->n_pins || fault->pins[0] != pin)
        continue;
      int solder = node;
      if (fault->kind == ML_FAULT_JOINT || (fault->kind == ML_FAULT_OPEN && p->kind->kind != ML_KIND_BRIDGE))
        node = new_node (b, solder);
      if (fault->kind == ML_FAULT_JOINT)
        resistor_between (b, solder, node, fault->size);
    }
  return node;
}

static void
place_pins (Builder *b)
{
  const MlBoard *board = b->truth->actual;
  int cut_node = -1;
  for (guint i = 0; i < board->n_parts; i++)
    {
      b->nodes->pin[i] = g_new (int, MAX (1, board->parts[i].n_pins));
      for (guint k = 0; k < board->parts[i].n_pins; k++)
        b->nodes->pin[i][k] = metal_of (b, i, k, &cut_node);
    }
}

static void
add_junction (Builder *b, int anode, int cathode, const MlTrueValues *v)
{
  int inner = new_node (b, anode), nodes[] = { inner, cathode };
  resistor_between (b, anode, inner, v->value[ML_TRUE_SERIES]);
  ml_truth_network_add (&b->bench->network, ML_LAW_JUNCTION, nodes,
                        (double[]) { v->value[ML_TRUE_IS], v->value[ML_TRUE_NVT], v->value[ML_TRUE_LEAK] });
}

static void
add_zener (Builder *b, const int *pins, const MlTrueValues *v, double factor)
{
  int inner = new_node (b, pins[0]), nodes[] = { inner, pins[1] };
  resistor_between (b, pins[0], inner, v->value[ML_TRUE_SERIES]);
  ml_truth_network_add (&b->bench->network, ML_LAW_JUNCTION, nodes,
                        (double[]) { v->value[ML_TRUE_IS], v->value[ML_TRUE_NVT], v->value[ML_TRUE_LEAK] });
  ml_truth_network_add (&b->bench->network, ML_LAW_BREAKDOWN, nodes,
                        (double[]) { v->value[ML_TRUE_ZENER_V] * factor, v->value[ML_TRUE_ZENER_A], v->value[ML_TRUE_ZENER_NVT] });
}

/* Diodes of a bridge, pins ac1 ac2 plus minus; one of them may be open. */
static void
add_bridge (Builder *b, int part, const int *pins, const MlTrueValues *v)
{
  static const int DIODES[4][2] = { { 0, 2 }, { 1, 2 }, { 3, 0 }, { 3, 1 } };
  const MlFault *open = fault_of (b, part, ML_FAULT_OPEN);
  for (guint i = 0; i < 4; i++)
    {
      gboolean gone = open && open->n_pins == 2 && open->pins[0] + open->pins[1] == DIODES[i][0] + DIODES[i][1]
                      && (open->pins[0] == DIODES[i][0] || open->pins[0] == DIODES[i][1]);
      if (!gone)
        add_junction (b, pins[DIODES[i][0]], pins[DIODES[i][1]], v);
    }
}

static void
add_transistor (Builder *b, const int *pins, const MlTrueValues *v, double sign, double factor)
{
  double figures[] = { v->value[ML_TRUE_Q_IS], ml_true_thermal_voltage (&b->truth->world), v->value[ML_TRUE_Q_GAIN] * factor,
                       v->value[ML_TRUE_Q_REVERSE], v->value[ML_TRUE_Q_EARLY], sign };
  ml_truth_network_add (&b->bench->network, ML_LAW_TRANSISTOR, pins, figures);
  resistor_between (b, pins[0], pins[2], v->value[ML_TRUE_Q_LEAK]);
}

/* A substrate: 0.7 V at 10 mA (common practice). */
static void
add_substrate (Builder *b, int anode, int cathode)
{
  if (anode != cathode)
    ml_truth_network_add (&b->bench->network, ML_LAW_JUNCTION, (int[]) { anode, cathode }, (double[]) { 1.5e-12, 1.2 * 0.0257, 1e12 });
}

static void
add_gated (Builder *b, int node_a, int node_b, int supply, int ground, const double *figures)
{
  if (node_a != node_b)
    ml_truth_network_add (&b->bench->network, ML_LAW_GATED, (int[]) { node_a, node_b, supply, ground }, figures);
}

static void
add_regulator (Builder *b, int part, const int *pins, const MlTrueValues *v, double factor)
{
  if (fault_of (b, part, ML_FAULT_THROUGH))
    resistor_between (b, pins[0], pins[1], USUAL_SHORT_OHM);
  if (!fault_of (b, part, ML_FAULT_DEAD))
    ml_truth_network_add (&b->bench->network, ML_LAW_REGULATOR, pins,
                          (double[]) { v->value[ML_TRUE_U_V] * factor, v->value[ML_TRUE_U_DROPOUT], v->value[ML_TRUE_U_QUIESCENT],
                                       v->value[ML_TRUE_U_LIMIT] });
  resistor_between (b, pins[1], pins[2], 60e6);
  if (!fault_of (b, part, ML_FAULT_DEAD)) /* its own divider: even types for batteries have some microamperes of it (data sheets, from memory) */
    add_gated (b, pins[1], pins[2], pins[0], pins[2], (double[]) { 0.5e6, 0, 1.2 });
  add_substrate (b, pins[2], pins[0]);
}

/* What holds the output at a supply when the output stage has failed that way, beside which the chip does nothing; FALSE: it works. */
static gboolean
add_stuck (Builder *b, int part, const int *pins)
{
  const double stuck_ohm = 40;
  gboolean high = fault_of (b, part, ML_FAULT_STUCK_HIGH) != NULL, low = fault_of (b, part, ML_FAULT_STUCK_LOW) != NULL;
  if (high || low)
    resistor_between (b, pins[2], pins[high ? 3 : 4], stuck_ohm);
  return high || low || fault_of (b, part, ML_FAULT_DEAD);
}

/* The substrate's junctions, what the chip draws itself, and inputs of some gigohms. */
static void
add_around_amplifier (Builder *b, const int *pins, const MlTrueValues *v)
{
  add_substrate (b, pins[4], pins[3]);
  add_substrate (b, pins[4], pins[2]);
  ml_truth_network_add (&b->bench->network, ML_LAW_SINK, (int[]) { pins[3], pins[4] }, &v->value[ML_TRUE_A_QUIESCENT]);
  resistor_between (b, pins[0], pins[4], 5e9);
  resistor_between (b, pins[1], pins[4], 5e9);
}

static void
add_amplifier (Builder *b, int part, const int *pins, const MlTrueValues *v)
{
  add_around_amplifier (b, pins, v);
  add_substrate (b, pins[2], pins[3]);
  if (!add_stuck (b, part, pins))
    ml_truth_network_add (&b->bench->network, ML_LAW_AMPLIFIER, pins,
                          (double[]) { v->value[ML_TRUE_A_OFFSET], 1e5, v->value[ML_TRUE_A_UPPER], v->value[ML_TRUE_A_LOWER], v->value[ML_TRUE_A_OHM],
                                       v->value[ML_TRUE_A_LIMIT], v->value[ML_TRUE_A_BIAS], v->value[ML_TRUE_A_INPUT_ROOM] });
}

static void
add_comparator (Builder *b, int part, const int *pins, const MlTrueValues *v)
{
  const MlAttribute *output = ml_part_attribute (&b->truth->actual->parts[part], ML_KEY_OUTPUT);
  gboolean sources = output && !strcmp (output->text, "pushpull");
  add_around_amplifier (b, pins, v);
  if (add_stuck (b, part, pins))
    return;
  int element = ml_truth_network_add (&b->bench->network, ML_LAW_COMPARATOR, pins,
                                      (double[]) { v->value[ML_TRUE_A_OFFSET], v->value[ML_TRUE_A_OHM], v->value[ML_TRUE_A_LIMIT], v->value[ML_TRUE_A_OHM],
                                                   sources ? v->value[ML_TRUE_A_LIMIT] : 0, v->value[ML_TRUE_A_BIAS],
                                                   v->value[ML_TRUE_A_INPUT_ROOM] });
  int turn = b->bench->n_phases > 1 ? paced (b->truth->actual, part) : 0;
  g_array_index (b->bench->network.elements, MlTruthElement, element).forced = b->phase ? -turn : turn;
}

/* in out adjust. Most of what it needs itself goes to the output, some microamperes to the adjust pin; no current leaves by a ground. */
static void
add_adjustable (Builder *b, int part, const int *pins, const MlTrueValues *v, double factor)
{
  if (fault_of (b, part, ML_FAULT_THROUGH))
    resistor_between (b, pins[0], pins[1], USUAL_SHORT_OHM);
  if (fault_of (b, part, ML_FAULT_DEAD))
    return;
  ml_truth_network_add (&b->bench->network, ML_LAW_REGULATOR, pins,
                        (double[]) { v->value[ML_TRUE_U_V] * factor, v->value[ML_TRUE_U_DROPOUT], v->value[ML_TRUE_U_QUIESCENT], v->value[ML_TRUE_U_LIMIT] });
  ml_truth_network_add (&b->bench->network, ML_LAW_SINK, pins, &(double) { OWN_CURRENT_A });
  add_substrate (b, pins[1], pins[0]);
}

static void
add_shunt (Builder *b, const int *pins, const MlTrueValues *v, double factor)
{
  add_substrate (b, pins[1], pins[0]);
  ml_truth_network_add (&b->bench->network, ML_LAW_SHUNT, pins,
                        (double[]) { v->value[ML_TRUE_S_V] * factor, v->value[ML_TRUE_S_OHM], v->value[ML_TRUE_S_BIAS] });
}

static void
add_coupler (Builder *b, const int *pins, const MlTrueValues *v)
{
  int inner = new_node (b, pins[0]);
  resistor_between (b, pins[0], inner, v->value[ML_TRUE_SERIES]);
  ml_truth_network_add (&b->bench->network, ML_LAW_JUNCTION, (int[]) { inner, pins[1] },
                        (double[]) { v->value[ML_TRUE_IS], v->value[ML_TRUE_NVT], v->value[ML_TRUE_LEAK] });
  ml_truth_network_add (&b->bench->network, ML_LAW_COUPLER, (int[]) { inner, pins[1], pins[2], pins[3] },
                        (double[]) { v->value[ML_TRUE_IS], v->value[ML_TRUE_NVT], v->value[ML_TRUE_RATIO] });
}

static void
add_converter (Builder *b, int part, const int *pins, const MlTrueValues *v, double factor)
{
  if (fault_of (b, part, ML_FAULT_THROUGH))
    resistor_between (b, pins[0], pins[1], USUAL_SHORT_OHM);
  resistor_between (b, pins[1], pins[2], 60e6); /* its own divider */
  if (!fault_of (b, part, ML_FAULT_DEAD))
    ml_truth_network_add (&b->bench->network, ML_LAW_CONVERTER, pins,
                          (double[]) { v->value[ML_TRUE_U_V] * factor, v->value[ML_TRUE_U_EFFICIENCY], v->value[ML_TRUE_U_LIMIT], v->value[ML_TRUE_U_START],
                                       v->value[ML_TRUE_U_QUIESCENT] });
}

/* Either way: the stated current at the stated voltage. */
static void
add_suppressor (Builder *b, const int *pins, const MlTrueValues *v)
{
  for (guint way = 0; way < 2; way++)
    ml_truth_network_add (&b->bench->network, ML_LAW_BREAKDOWN, (int[]) { pins[way], pins[!way] },
                          (double[]) { v->value[ML_TRUE_C_V], 1e-3, v->value[ML_TRUE_C_BEND] });
}

/* With the drain's diode to the source. */
static void
add_insulated_gate (Builder *b, const int *pins, const MlTrueValues *v, double sign)
{
  int inner = new_node (b, pins[0]), anode = sign > 0 ? pins[2] : inner, cathode = sign > 0 ? inner : pins[2];
  ml_truth_network_add (&b->bench->network, ML_LAW_FET, pins, (double[]) { v->value[ML_TRUE_THRESHOLD], v->value[ML_TRUE_K], sign });
  resistor_between (b, pins[0], inner, 0.08);
  ml_truth_network_add (&b->bench->network, ML_LAW_JUNCTION, (int[]) { anode, cathode }, (double[]) { 1e-12, 1.25 * 0.0257, 1e11 });
}

/* W. Shockley 1952: idss (1 - vgs / vp)^2, the square law with a negative threshold; and the gate's two junctions. */
static void
add_junction_gate (Builder *b, const int *pins, const MlTrueValues *v, double sign)
{
  double pinch_v = v->value[ML_TRUE_THRESHOLD];
  ml_truth_network_add (&b->bench->network, ML_LAW_FET, pins, (double[]) { -pinch_v, 2 * v->value[ML_TRUE_K] / (pinch_v * pinch_v), sign });
  for (guint end = 0; end < 3; end += 2)
    if (pins[1] != pins[end])
      ml_truth_network_add (&b->bench->network, ML_LAW_JUNCTION, (int[]) { pins[sign > 0 ? 1 : end], pins[sign > 0 ? end : 1] },
                            (double[]) { 1e-14, 0.0257, 1e11 });
}

/* ---- chopped nets ---- */

typedef enum { WINDING_NONE, WINDING_TO_GROUND, WINDING_TO_SUPPLY } Winding;

/* How the chip chops a coil or an inductor on the net: towards its supply where a diode's cathode takes over, else towards its ground. */
static Winding
winding_on (const MlBoard *board, int net)
{
  Winding found = WINDING_NONE;
  for (guint i = 0; i < board->n_parts; i++)
    {
      const MlPart *p = &board->parts[i];
      for (guint k = 0; k < p->n_pins; k++)
        if (p->pins[k].net == net && (p->kind->kind == ML_KIND_COIL || p->kind->kind == ML_KIND_INDUCTOR) && found == WINDING_NONE)
          found = WINDING_TO_GROUND;
        else if (p->pins[k].net == net && p->kind->kind == ML_KIND_DIODE && !strcmp (p->pins[k].name, "cathode"))
          return WINDING_TO_SUPPLY;
    }
  return found;
}

/* A switch of an ohm onto a winding, which lets go between; elsewhere the pin goes high and low. */
static void
add_pulses (Builder *b, int net, int pin, int supply, int ground, gboolean on, const MlTruthBlock *block)
{
  Winding winding = winding_on (b->truth->actual, net);
  double ohm = winding == WINDING_NONE ? block->drive_ohm : 1;
  gboolean high = winding == WINDING_NONE ? on : winding == WINDING_TO_SUPPLY;
  if (winding == WINDING_NONE || on)
    add_gated (b, pin, high ? supply : ground, supply, ground, (double[]) { ohm, 1e-6, block->needs_v });
  else
    resistor_between (b, pin, ground, 20e6);
}

/* What keeps its voltage or its current from one phase to the other, pins and nodes of both; once, in the second. */
static void
add_between_phases (Builder *b, int part, MlTruthLaw law, double ohm)
{
  if (!b->phase)
    return;
  const int *first = b->bench->nodes[0].pin[part], *second = b->bench->nodes[1].pin[part];
  ml_truth_network_add (&b->bench->network, law, (int[]) { first[0], first[1], second[0], second[1] }, (double[]) { b->bench->duty, ohm });
}

/* A faulty oscillator does not. */
static gboolean
is_pulsed (const Builder *b)
{
  const MlBoard *board = b->truth->actual;
  gboolean powered = b->condition->n_supplies > 0, marked = FALSE;
  for (guint i = 0; i < board->n_parts; i++)
    powered = powered || board->parts[i].kind->kind == ML_KIND_BATTERY;
  for (guint i = 0; i < board->n_nets; i++)
    marked = marked || board->nets[i].switching;
  for (guint i = 0; i < b->truth->n_faults && marked; i++)
    if (b->truth->faults[i].part >= 0 && paced (board, b->truth->faults[i].part))
      return FALSE;
  return powered && marked;
}

static void
add_block (Builder *b, int part, const int *pins)
{
  const MlPart *p = &b->truth->actual->parts[part];
  const MlTruthBlock *block = &b->truth->blocks[part * b->truth->actual->n_conditions + b->index];
  int supply_pin = p->supply_pin >= 0 ? p->supply_pin : 0, ground_pin = p->ground_pin >= 0 ? p->ground_pin : 1;
  if (p->n_pins < 2 || fault_of (b, part, ML_FAULT_DEAD))
    return;
  const MlFault *wrong = fault_of (b, part, ML_FAULT_MISBEHAVING);
  int supply = pins[supply_pin], ground = pins[ground_pin];
  gboolean on = !b->phase && !fault_of (b, part, ML_FAULT_STOPPED);
  add_gated (b, supply, ground, supply, ground, (double[]) { block->load_ohm, 0.33, block->needs_v });
  for (guint i = 0; i < MIN (p->n_pins, G_N_ELEMENTS (block->pins)); i++)
    {
      if ((int) i == supply_pin || (int) i == ground_pin)
        continue;
      if (b->truth->actual->nets[MAX (p->pins[i].net, 0)].switching && p->pins[i].net >= 0)
        {
          add_pulses (b, p->pins[i].net, pins[i], supply, ground, on, block);
          continue;
        }
      gboolean high = block->pins[i] == ML_TRUTH_PIN_HIGH;
      if (wrong && wrong->pins[0] == (int) i)
        high = !high;
      if (block->pins[i] == ML_TRUTH_PIN_INPUT)
        resistor_between (b, pins[i], ground, 20e6);
      else
        add_gated (b, pins[i], high ? supply : ground, supply, ground, (double[]) { block->drive_ohm, 1e-6, block->needs_v });
    }
}

static const MlSetting *
setting_of (const Builder *b, int part)
{
  for (guint i = 0; i < b->condition->n_settings; i++)
    if (b->condition->settings[i].part == part)
      return &b->condition->settings[i];
  return NULL;
}

/* common no nc: where the setting does not say, the coil decides. */
static void
add_relay_contact (Builder *b, int part, const int *pins, double ohm)
{
  const MlSetting *setting = setting_of (b, part);
  int coil = b->truth->actual->parts[part].by;
  gboolean pulled = setting ? setting->state == ML_SETTING_CLOSED : coil >= 0 && b->pulled && b->pulled[coil];
  resistor_between (b, pins[0], pins[pulled ? 1 : 2], ohm);
}

static void
add_contact (Builder *b, int part, const int *pins, double ohm)
{
  const MlSetting *setting = setting_of (b, part);
  MlKind kind = b->truth->actual->parts[part].kind->kind;
  MlSettingState state = setting ? setting->state : kind == ML_KIND_CHANGEOVER ? ML_SETTING_A : ML_SETTING_OPEN;
  if (kind == ML_KIND_SWITCH && state == ML_SETTING_CLOSED)
    resistor_between (b, pins[0], pins[1], ohm);
  else if (kind == ML_KIND_CHANGEOVER && state != ML_SETTING_MIDDLE && state != ML_SETTING_OPEN)
    resistor_between (b, pins[0], pins[state == ML_SETTING_B ? 2 : 1], ohm);
}

static void
add_potentiometer (Builder *b, int part, const int *pins, double ohm)
{
  const MlSetting *setting = setting_of (b, part);
  const MlAttribute *written = ml_part_attribute (&b->truth->actual->parts[part], ML_KEY_POSITION);
  double share = setting ? setting->position : written ? written->quantity.value : 0.5;
  resistor_between (b, pins[0], pins[2], MAX (ohm * share, 1));
  resistor_between (b, pins[2], pins[1], MAX (ohm * (1 - share), 1));
}

/* The nodes of a part's pins in the order of its kind; a pin that the file leaves out hangs in the air. */
static void
pins_in_order (Builder *b, int part, int *ret_nodes)
{
  const MlPart *p = &b->truth->actual->parts[part];
  for (guint i = 0; i < MOST_KIND_PINS && p->kind->pins && p->kind->pins[i]; i++)
    {
      int pin = ml_truth_pin (p, i);
      ret_nodes[i] = pin >= 0 ? b->nodes->pin[part][pin] : new_node (b, 0);
    }
}

/* A net is chopped by a block or by the output of a part that can take turns. */
static gboolean
is_chopped_by_any (const MlBoard *board, int net)
{
  gboolean any = is_chopped_by_block (board, net);
  for (guint i = 0; i < board->n_parts; i++)
    any = any || turn_at (board, (int) i, net);
  return any;
}

gboolean
ml_truth_knows (const MlBoard *board)
{
  for (guint i = 0; i < board->n_nets; i++)
    if (board->nets[i].switching && !is_chopped_by_any (board, (int) i))
      return FALSE;
  return TRUE;
}

/* anode cathode gate; of a triac its second pin first. The gate is a junction; the path is one while it has latched, for a triac either way, else it
 * leaks (M. H. Rashid, Power Electronics, ch. on thyristors, from memory). */
static void
add_thyristor (Builder *b, int part, const int *pins, const MlTrueValues *v, gboolean either_way)
{
  int *inner = b->nodes->inner + 2 * part;
  double nvt = 1.4 * ml_true_thermal_voltage (&b->truth->world), gate[] = { 1e-3 / expm1 (0.68 / nvt), nvt, 100e3 };
  double path[] = { 1 / expm1 (0.9 * v->value[ML_TRUE_T_DROP] / nvt), nvt, 1e9 };
  inner[0] = new_node (b, pins[0]);
  inner[1] = new_node (b, pins[2]);
  resistor_between (b, pins[0], inner[0], THYRISTOR_PATH_OHM * v->value[ML_TRUE_T_DROP]);
  resistor_between (b, pins[2], inner[1], THYRISTOR_GATE_OHM);
  for (int way = 0; way <= either_way; way++)
    {
      int across[] = { inner[1], pins[1] }, along[] = { inner[0], pins[1] };
      if (!b->pulled || !b->pulled[part])
        resistor_between (b, inner[0], pins[1], 20e6);
      else
        ml_truth_network_add (&b->bench->network, ML_LAW_JUNCTION, (int[]) { along[way], along[!way] }, path);
      ml_truth_network_add (&b->bench->network, ML_LAW_JUNCTION, (int[]) { across[way], across[!way] }, gate);
    }
}

static void
add_part (Builder *b, int part)
{
  const MlPart *p = &b->truth->actual->parts[part];
  const MlTrueValues *v = &b->truth->values[part];
  int pins[MOST_KIND_PINS] = { 0 };
  pins_in_order (b, part, pins);
  double factor = drift (b, part);
  if (rests (b, part) && p->kind->kind != ML_KIND_COMPARATOR)
    return;
  switch (p->kind->kind)
    {
    case ML_KIND_COIL: case ML_KIND_INDUCTOR: case ML_KIND_CAPACITOR:
      if (b->bench->n_phases > 1)
        {
          add_between_phases (b, part, p->kind->kind == ML_KIND_CAPACITOR ? ML_LAW_HELD : ML_LAW_WOUND, v->value[ML_TRUE_OHM] * factor);
          break;
        }
      resistor_between (b, pins[0], pins[1], v->value[ML_TRUE_OHM] * factor);
      break;
    case ML_KIND_RESISTOR: case ML_KIND_FUSE: case ML_KIND_LINK: case ML_KIND_THERMISTOR:
      resistor_between (b, pins[0], pins[1], v->value[ML_TRUE_OHM] * factor);
      break;
    case ML_KIND_THYRISTOR: add_thyristor (b, part, pins, v, FALSE); break;
    case ML_KIND_TRIAC: add_thyristor (b, part, (int[]) { pins[1], pins[0], pins[2] }, v, TRUE); break;
    case ML_KIND_LAMP:
      ml_truth_network_add (&b->bench->network, ML_LAW_FILAMENT, pins, (double[]) { v->value[ML_TRUE_LAMP_V], v->value[ML_TRUE_OHM] });
      break;
    case ML_KIND_VARISTOR:
      ml_truth_network_add (&b->bench->network, ML_LAW_VARISTOR, pins, (double[]) { v->value[ML_TRUE_C_V], v->value[ML_TRUE_C_BEND] });
      break;
    case ML_KIND_TVS: add_suppressor (b, pins, v); break;
    case ML_KIND_POTENTIOMETER: add_potentiometer (b, part, pins, v->value[ML_TRUE_OHM] * factor); break;
    case ML_KIND_SWITCH: case ML_KIND_CHANGEOVER: add_contact (b, part, pins, v->value[ML_TRUE_OHM]); break;
    case ML_KIND_DIODE: case ML_KIND_LED: add_junction (b, pins[0], pins[1], v); break;
    case ML_KIND_ZENER: add_zener (b, pins, v, factor); break;
    case ML_KIND_BRIDGE: add_bridge (b, part, pins, v); break;
    case ML_KIND_NPN: add_transistor (b, pins, v, fault_of (b, part, ML_FAULT_WRONG_PART) ? -1 : 1, factor); break;
    case ML_KIND_PNP: add_transistor (b, pins, v, fault_of (b, part, ML_FAULT_WRONG_PART) ? 1 : -1, factor); break;
    case ML_KIND_NMOS: add_insulated_gate (b, pins, v, 1); break;
    case ML_KIND_PMOS: add_insulated_gate (b, pins, v, -1); break;
    case ML_KIND_NJFET: add_junction_gate (b, pins, v, 1); break;
    case ML_KIND_PJFET: add_junction_gate (b, pins, v, -1); break;
    case ML_KIND_REGULATOR: add_regulator (b, part, pins, v, factor); break;
    case ML_KIND_ADJUSTABLE: add_adjustable (b, part, pins, v, factor); break;
    case ML_KIND_CONVERTER: add_converter (b, part, pins, v, factor); break;
    case ML_KIND_SHUNT: add_shunt (b, pins, v, factor); break;
    case ML_KIND_OPTO: add_coupler (b, pins, v); break;
    case ML_KIND_OPAMP: add_amplifier (b, part, pins, v); break;
    case ML_KIND_COMPARATOR: add_comparator (b, part, pins, v); break;
    case ML_KIND_CONTACT: add_relay_contact (b, part, pins, v->value[ML_TRUE_OHM]); break;
    case ML_KIND_BLOCK: add_block (b, part, b->nodes->pin[part]); break;
    case ML_KIND_BATTERY:
      {
        int inner = new_node (b, pins[0]);
        ml_truth_network_add (&b->bench->network, ML_LAW_SUPPLY, (int[]) { inner, pins[1] },
                              (double[]) { v->value[ML_TRUE_B_V], 100 });
        resistor_between (b, inner, pins[0], v->value[ML_TRUE_B_OHM]);
        break;
      }
    default: break; /* connectors and test points carry nothing */
    }
}

/* Resistances that a fault puts between two pins of a part or two nets. */
static void
add_bridges_of_faults (Builder *b)
{
  for (guint i = 0; i < b->truth->n_faults; i++)
    {
      const MlFault *fault = &b->truth->faults[i];
      double ohm = isfinite (fault->size) && fault->size > 0 ? fault->size : USUAL_SHORT_OHM;
      if (fault->kind == ML_FAULT_SHORT || fault->kind == ML_FAULT_LEAK)
        resistor_between (b, b->nodes->pin[fault->part][fault->pins[0]], b->nodes->pin[fault->part][fault->pins[1]], ohm);
      if (fault->kind == ML_FAULT_STRAY_LINK)
        resistor_between (b, b->nodes->net[fault->net_a], b->nodes->net[fault->net_b], ohm);
    }
}

static void
add_surroundings (Builder *b)
{
  const MlCondition *c = b->condition;
  for (guint i = 0; i < c->n_supplies; i++)
    {
      int nodes[] = { b->nodes->net[c->supplies[i].plus], b->nodes->net[c->supplies[i].minus] };
      int element = ml_truth_network_add (&b->bench->network, ML_LAW_SUPPLY, nodes,
                                          (double[]) { c->supplies[i].voltage_v, c->supplies[i].limit_a });
      if (!i)
        b->bench->first_supply[b->phase] = g_array_index (b->bench->network.elements, MlTruthElement, element).branch;
    }
  for (guint i = 0; i < c->n_loads; i++)
    {
      int nodes[] = { b->nodes->net[c->loads[i].plus], b->nodes->net[c->loads[i].minus] };
      if (isfinite (c->loads[i].current_a))
        ml_truth_network_add (&b->bench->network, ML_LAW_SINK, nodes, &c->loads[i].current_a);
      else
        resistor_between (b, nodes[0], nodes[1], c->loads[i].resistance_ohm);
    }
  for (guint i = 0; i < c->n_connects; i++)
    resistor_between (b, b->nodes->net[c->connects[i].net_a], b->nodes->net[c->connects[i].net_b], CLOSED_CONTACT_OHM);
}

static void
fill_start (Bench *bench, const double *net_v, guint n_nets)
{
  for (guint phase = 0; phase < bench->n_phases; phase++)
    for (guint i = 0; i < n_nets; i++)
      if (net_v && bench->nodes[phase].net[i])
        bench->x[bench->nodes[phase].net[i] - 1] = net_v[phase * n_nets + i];
  for (int node = 1; node < bench->network.n_nodes; node++)
    {
      int like = g_array_index (bench->like, int, node);
      if (like && like < node)
        bench->x[node - 1] = ml_truth_at (bench->x, like);
    }
}

static void
build_phase (Builder *b)
{
  const MlBoard *board = b->truth->actual;
  b->nodes = &b->bench->nodes[b->phase];
  *b->nodes = (Nodes) { g_new0 (int, MAX (1, board->n_nets)), g_new0 (int *, MAX (1, board->n_parts)), g_new0 (int, MAX (1, 2 * board->n_parts)) };
  number_nets (b);
  place_pins (b);
  add_surroundings (b);
  for (guint i = 0; i < board->n_parts; i++)
    add_part (b, i);
  add_bridges_of_faults (b);
}

/* The same for all units of a design: from a quarter to two thirds. */
static double
duty_of (const MlBoard *board)
{
  MlRandom design = ml_random_seeded (mixed (3, board->title ? board->title : ""));
  return 0.25 + 0.42 * ml_random_uniform (&design);
}

static Bench *
bench_build (MlTruth *truth, int condition, const gboolean *pulled)
{
  const MlBoard *board = truth->actual;
  Bench *bench = g_new0 (Bench, 1);
  Builder b = { truth, bench, NULL, &board->conditions[condition], condition, 0, pulled };
  int zero = 0;
  ml_truth_network_init (&bench->network);
  bench->like = g_array_new (FALSE, TRUE, sizeof (int));
  g_array_append_val (bench->like, zero);
  bench->n_phases = is_pulsed (&b) ? 2 : 1;
  bench->duty = bench->n_phases > 1 ? duty_of (board) : 1;
  for (b.phase = 0; b.phase < bench->n_phases; b.phase++)
    build_phase (&b);
  bench->x = g_new0 (double, ml_truth_network_size (&bench->network) + 1);
  fill_start (bench, truth->healthy_x[condition], board->n_nets);
  bench->solved = ml_truth_network_solve (&bench->network, bench->x);
  return bench;
}

/* Of a voltage from a node of each phase, by its share of the time. */
static double
average (const Bench *bench, const double *x, const int nodes[2])
{
  double sum = 0;
  for (guint phase = 0; phase < bench->n_phases; phase++)
    sum += (phase ? 1 - bench->duty : bench->duty) * ml_truth_at (x, nodes[phase]);
  return sum;
}

static double
across_pins (const MlTruth *truth, const Bench *bench, guint part, guint pin_a, guint pin_b)
{
  int a[2] = { 0 }, b[2] = { 0 };
  for (guint phase = 0; phase < bench->n_phases; phase++)
    {
      a[phase] = bench->nodes[phase].pin[part][pin_a];
      b[phase] = bench->nodes[phase].pin[part][pin_b];
    }
  return average (bench, bench->x, a) - average (bench, bench->x, b);
}

/* Fired by its gate while there is voltage, then on as long as it carries its holding current. */
static gboolean
latches (const MlTruth *truth, const Bench *bench, guint part, gboolean was)
{
  const MlPart *p = &truth->actual->parts[part];
  gboolean triac = p->kind->kind == ML_KIND_TRIAC;
  const double *v = truth->values[part].value;
  const int *inner = bench->nodes[0].inner + 2 * part;
  int pins[3];
  for (guint i = 0; i < 3; i++)
    {
      int pin = ml_truth_pin (p, triac && i < 2 ? 1 - i : i);
      if (pin < 0)
        return FALSE;
      pins[i] = bench->nodes[0].pin[part][pin];
    }
  double path_a = (ml_truth_at (bench->x, pins[0]) - ml_truth_at (bench->x, inner[0])) / (THYRISTOR_PATH_OHM * v[ML_TRUE_T_DROP]);
  double gate_a = (ml_truth_at (bench->x, pins[2]) - ml_truth_at (bench->x, inner[1])) / THYRISTOR_GATE_OHM;
  double across = ml_truth_at (bench->x, pins[0]) - ml_truth_at (bench->x, pins[1]);
  if (triac)
    {
      path_a = fabs (path_a);
      gate_a = fabs (gate_a);
      across = fabs (across);
    }
  return was ? path_a >= v[ML_TRUE_T_HOLD] || (gate_a >= v[ML_TRUE_T_TRIGGER] && path_a >= 0) : gate_a >= v[ML_TRUE_T_TRIGGER] && across > 0.6;
}

/* Which coils have contacts to move, pull in (from their pulling voltage) or hold on (down to their releasing one), and which thyristors have latched;
 * TRUE: one has changed. */
static gboolean
move_armatures (const MlTruth *truth, const Bench *bench, gboolean *pulled)
{
  gboolean moved = FALSE;
  for (guint i = 0; i < truth->actual->n_parts && bench->solved; i++)
    {
      MlKind kind = truth->actual->parts[i].kind->kind;
      int coil = kind == ML_KIND_CONTACT ? truth->actual->parts[i].by : -1;
      if (kind == ML_KIND_THYRISTOR || kind == ML_KIND_TRIAC)
        {
          gboolean on = latches (truth, bench, i, pulled[i]);
          moved = moved || on != pulled[i];
          pulled[i] = on;
        }
      if (coil < 0)
        continue;
      const double *v = truth->values[coil].value;
      double across = fabs (across_pins (truth, bench, (guint) coil, 0, 1));
      gboolean holds = across > v[pulled[coil] ? ML_TRUE_RELEASE_V : ML_TRUE_PULL_V];
      moved = moved || holds != pulled[coil];
      pulled[coil] = holds;
    }
  return moved;
}

/* From rest: every armature released, then as the coils say. A relay that breaks its own current never settles. */
static Bench *
bench_new (MlTruth *truth, int condition)
{
  const MlBoard *board = truth->actual;
  g_autofree gboolean *pulled = g_new0 (gboolean, board->n_parts + 1);
  Bench *bench = bench_build (truth, condition, pulled);
  guint moves = 0;
  while (moves++ < MOST_MOVES && move_armatures (truth, bench, pulled))
    {
      bench_free (truth, bench);
      bench = bench_build (truth, condition, pulled);
    }
  bench->solved = bench->solved && moves <= MOST_MOVES;
  if (bench->solved && !truth->n_faults && !truth->healthy_x[condition])
    {
      truth->healthy_x[condition] = g_new0 (double, 2 * board->n_nets);
      for (guint i = 0; i < 2 * board->n_nets; i++)
        truth->healthy_x[condition][i] = ml_truth_at (bench->x, bench->nodes[i / board->n_nets % bench->n_phases].net[i % board->n_nets]);
    }
  return bench;
}

/* ---- reading ---- */

static Bench *
bench_of (MlTruth *truth, int condition)
{
  if (!truth->benches[condition])
    truth->benches[condition] = bench_new (truth, condition);
  return truth->benches[condition];
}

static int
probe_node (const Nodes *nodes, const MlBoard *board, const MlProbe *probe)
{
  if (probe->part < 0)
    return nodes->net[probe->net];
  if (probe->lead || board->parts[probe->part].pins[probe->pin].net < 0)
    return nodes->pin[probe->part][probe->pin];
  return nodes->net[board->parts[probe->part].pins[probe->pin].net];
}

/* Where the probes stand in each phase. */
typedef struct { int red[2], black[2]; } Stand;

/* The voltage between two places with one more element of the meter between them; of a chopped circuit its average. */
static double
with_meter (Bench *bench, const Stand *stand, MlTruthLaw law, const double *figures)
{
  int n = ml_truth_network_size (&bench->network);
  g_autofree double *x = g_memdup2 (bench->x, (n + 1) * sizeof *x);
  guint before = bench->network.elements->len;
  if (stand->red[0] == stand->black[0])
    return 0;
  for (guint phase = 0; phase < bench->n_phases; phase++)
    ml_truth_network_add (&bench->network, law, (int[]) { stand->red[phase], stand->black[phase] }, figures);
  gboolean solved = ml_truth_network_solve (&bench->network, x);
  g_array_set_size (bench->network.elements, before);
  return solved ? average (bench, x, stand->red) - average (bench, x, stand->black) : NAN;
}

/* What a voltmeter shows: where it hardly loads the circuit, from the resistance between the two places. */
static double
volts (Bench *bench, const Stand *stand, double input_ohm)
{
  int red = stand->red[0], black = stand->black[0];
  if (bench->n_phases > 1 || (!bench->factors.jacobian && !ml_truth_network_factor (&bench->network, bench->x, &bench->factors)))
    return with_meter (bench, stand, ML_LAW_RESISTOR, &input_ohm);
  double ohm = ml_truth_factors_ohm (&bench->factors, red, black);
  if (!(fabs (ohm) < STIFF_SHARE * input_ohm))
    return with_meter (bench, stand, ML_LAW_RESISTOR, &input_ohm);
  return (ml_truth_at (bench->x, red) - ml_truth_at (bench->x, black)) / (1 + ohm / input_ohm);
}

/* Ranges of a common meter: full scale drops half a volt, at most 1 mA (common practice, no source). */
static double
ohms (Bench *bench, const Stand *stand)
{
  for (double range = 600; range < 1e8; range *= 10)
    {
      double test_a = MIN (0.5 / range, 1e-3), ohm = with_meter (bench, stand, ML_LAW_SOURCE, (double[]) { test_a, 1.5 }) / test_a;
      if (!(ohm > range))
        return ohm;
    }
  return INFINITY;
}

static double
diode_test (Bench *bench, const Stand *stand)
{
  double v = with_meter (bench, stand, ML_LAW_SOURCE, (double[]) { 1e-3, 3 });
  return v > 2.9 ? INFINITY : v;
}

static double
supply_amps (const Bench *bench, int supply)
{
  double sum = 0;
  for (guint phase = 0; phase < bench->n_phases; phase++)
    sum += (phase ? 1 - bench->duty : bench->duty) * bench->x[bench->network.n_nodes - 1 + bench->first_supply[phase] + supply];
  return sum;
}

static double
read_on (Bench *bench, MlTruth *truth, const MlTruthPlace *place, double input_ohm)
{
  Stand stand = { { 0 }, { 0 } };
  if (!bench->solved)
    return NAN;
  if (place->reads == ML_READS_AMPS)
    return supply_amps (bench, place->supply);
  for (guint phase = 0; phase < bench->n_phases; phase++)
    {
      stand.red[phase] = probe_node (&bench->nodes[phase], truth->actual, &place->red);
      stand.black[phase] = probe_node (&bench->nodes[phase], truth->actual, &place->black);
    }
  if (place->reads == ML_READS_OHMS)
    return ohms (bench, &stand);
  if (place->reads == ML_READS_DIODE)
    return diode_test (bench, &stand);
  return volts (bench, &stand, input_ohm);
}

double
ml_truth_read (MlTruth *truth, const MlTruthPlace *place, double input_ohm)
{
  Bench *bench = bench_of (truth, place->condition);
  if (place->red.lead != ML_LEAD_LIFTED && place->black.lead != ML_LEAD_LIFTED)
    return read_on (bench, truth, place, input_ohm);
  truth->lifting = place;
  bench = bench_new (truth, place->condition);
  truth->lifting = NULL;
  double value = read_on (bench, truth, place, input_ohm);
  bench_free (truth, bench);
  return value;
}
