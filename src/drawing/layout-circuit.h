/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the layout knows of a board: parts and nets in an order of its own (by name, so that the order in the file does not matter),
 * relative potentials, and which nets are drawn as rails. */
#pragma once

#include "drawing/layout.h"
#include "drawing/symbol-geometry.h"

G_BEGIN_DECLS

typedef enum
{
  ML_PIN_WORD_OTHER, ML_PIN_WORD_ONE, ML_PIN_WORD_TWO, ML_PIN_WORD_ANODE, ML_PIN_WORD_CATHODE, ML_PIN_WORD_COLLECTOR, ML_PIN_WORD_BASE,
  ML_PIN_WORD_EMITTER, ML_PIN_WORD_DRAIN, ML_PIN_WORD_GATE, ML_PIN_WORD_SOURCE, ML_PIN_WORD_IN, ML_PIN_WORD_OUT, ML_PIN_WORD_GROUND,
  ML_PIN_WORD_ADJUST, ML_PIN_WORD_REFERENCE, ML_PIN_WORD_NONINVERTING, ML_PIN_WORD_INVERTING, ML_PIN_WORD_POSITIVE, ML_PIN_WORD_NEGATIVE,
  ML_PIN_WORD_PLUS, ML_PIN_WORD_MINUS, ML_PIN_WORD_WIPER, ML_PIN_WORD_NO, ML_PIN_WORD_NC, ML_PIN_WORD_A, ML_PIN_WORD_B,
  ML_PIN_WORD_COMMON, ML_PIN_WORD_AC1, ML_PIN_WORD_AC2
} MlPinWord;

typedef enum { ML_RAIL_NONE, ML_RAIL_UP, ML_RAIL_DOWN } MlRail;

typedef struct
{
  const char *name;
  MlPinWord word; /* OTHER for blocks, connectors, test points: their names mean nothing to the layout */
  int net;        /* the circuit's index, -1: open */
  int pin;        /* index in the board's part */
} MlCircuitPin;

typedef struct
{
  const MlPart *part;
  int index; /* in the board */
  MlKind kind;
  MlCircuitPin *pins;
  guint n_pins;
  char *value;    /* "" when there is none */
  double label_w; /* g, the wider of designator and value */
  gboolean two_terminal;
  int supplied_by; /* a section of a chip whose supply pins are drawn at another section: that part; else -1 */
  gboolean is_hub; /* a box with several signals: what hangs on it may be alike */
  guint64 colour;  /* equal where parts stand alike in the circuit; every hub has its own */
} MlCircuitPart;

typedef struct { int part, pin; } MlCircuitJoint; /* indices into the circuit's parts and their pins */

typedef struct
{
  const char *name;
  int index;        /* in the board */
  const MlNet *net;
  MlRail rail;
  double potential; /* 0..1 */
  MlCircuitJoint *joints;
  guint n_joints;
  gboolean on_connector;
  gboolean supply_plus, supply_minus; /* of a supply of the condition taken */
  int ground;       /* from which its voltage is counted: the reference, or that of an island which rectifies; -1: nothing is known */
  gboolean island_top; /* where the rectifier of an island feeds */
  guint64 colour;   /* equal where nets run alike; every rail has its own */
  gboolean short_flags; /* nobody named it, and there is no room for the pin by which texts tell it: its flags have the name it was given */
} MlCircuitNet;

typedef struct
{
  MlBoard *board;
  MlCircuitPart *parts; guint n_parts;
  MlCircuitNet *nets;   guint n_nets;
  int *part_of_board, *net_of_board; /* board index -> circuit index */
  int reference;            /* the net under the black probe, or the likeliest stand-in; -1 */
  gboolean reference_given; /* the board names it */
  const MlCondition *condition; /* the first that has a supply; NULL */
} MlCircuit;

MlCircuit *ml_circuit_new (MlBoard *board, const double *net_v);
void ml_circuit_free (MlCircuit *circuit);

/** ml_circuit_find_islands: which nets have a ground apart from the reference (layout-islands.c); before the potentials. */
void ml_circuit_find_islands (MlCircuit *circuit);
/** ml_circuit_find_potentials: the nets' potentials, 0..1 (layout-potentials.c); ml_circuit_find_rails: from those, which are rails (layout-rails.c). */
void ml_circuit_find_potentials (MlCircuit *circuit, const double *net_v);
void ml_circuit_find_rails (MlCircuit *circuit);
/** ml_circuit_find_colours: which parts and nets stand alike, values aside (layout-colours.c); after the rails. */
void ml_circuit_find_colours (MlCircuit *circuit);
guint64 ml_colours_mixed (guint64 a, guint64 b);
/** ml_circuit_word_alike: the pin's word, one for both ends of what may be turned round. */
MlPinWord ml_circuit_word_alike (const MlCircuitPart *part, guint pin);
/** ml_circuit_pin_counts: FALSE for the supply pins of amplifiers: at which section of a chip they are drawn says nothing of the structure. */
gboolean ml_circuit_pin_counts (const MlCircuitPart *part, guint pin);

/** ml_circuit_pin: the pin with that word, or NULL. ml_circuit_other: the far net of a two-terminal part, -1 when open. */
const MlCircuitPin *ml_circuit_pin (const MlCircuitPart *part, MlPinWord word);
int ml_circuit_other (const MlCircuitPart *part, int net);
/** ml_circuit_has_pin_at: whether the part has a pin on that net. */
gboolean ml_circuit_has_pin_at (const MlCircuitPart *part, int net);
/** ml_circuit_smooths: whether an inductor leads from a chopped net (a chip's pin, or a transistor's and a diode from the reference) to one that a
 * capacitor holds (layout-chopper.c). */
gboolean ml_circuit_smooths (const MlCircuit *circuit, const MlCircuitPart *part, int *ret_chopped, int *ret_out);
/** ml_circuit_pumps: whether a capacitor carries what is swung at `driven` to a node between two diodes, and these into another capacitor (layout-pump.c). */
gboolean ml_circuit_pumps (const MlCircuit *circuit, const MlCircuitPart *part, int driven);
/** ml_circuit_is_converted: what comes out of a step-down converter, or of a booster that a chip chops. */
gboolean ml_circuit_is_converted (const MlCircuit *circuit, int net);
gboolean ml_circuit_is_control (MlPinWord word);
gboolean ml_circuit_is_transistor (MlKind kind);  /* bipolar and field effect */
gboolean ml_circuit_is_regulator (MlKind kind);   /* boxes with in and out */
gboolean ml_circuit_is_amplifier (MlKind kind);
gboolean ml_circuit_is_free_box (MlKind kind);    /* connector, test point, block: any pins */

G_END_DECLS
