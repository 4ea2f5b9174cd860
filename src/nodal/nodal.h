/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Modified nodal analysis at d.c. (Ho, Ruehli, Brennan 1975). No GLib, no I/O, no globals.
 *
 *   circuit   topology and nominal parameters; immutable after ml_nodal_circuit_finish, may be shared by threads
 *   solver    workspace for one circuit: one symbolic analysis, factors, Newton state; one thread at a time
 *   change    one deviation from the circuit: a parameter, a joint, a short, a stray link, ...; a variation is an array of them
 *   solution  voltages and currents; the start of the next solve
 *
 * Net 0 is the reference. Pin currents are positive into the device. All quantities SI. */
#pragma once

#include <stdbool.h>
#include <stddef.h>

typedef struct MlNodalCircuit MlNodalCircuit;
typedef struct MlNodalSolver MlNodalSolver;
typedef struct MlNodalType MlNodalType; /* nodal/device.h */

typedef enum
{
  ML_NODAL_OK = 0,
  ML_NODAL_AMBIGUOUS = 1,       /* solved, but more than one state is possible */
  ML_NODAL_NO_MEMORY = -1,
  ML_NODAL_SINGULAR = -2,       /* a loop of ideal sources, a net nothing determines */
  ML_NODAL_NOT_CONVERGED = -3,
  ML_NODAL_BAD_ARGUMENT = -4
} MlNodalStatus;

const char *ml_nodal_status_text (MlNodalStatus status);

/* ---- building ---- */

MlNodalCircuit *ml_nodal_circuit_new (void); /* NULL without memory */
void ml_nodal_circuit_free (MlNodalCircuit *circuit);
/** ml_nodal_circuit_add_net: returns its number, the first one 1 (0, the reference, exists); negative status on failure. */
int ml_nodal_circuit_add_net (MlNodalCircuit *circuit);

/**
 * ml_nodal_type_find: by the board language's kind word, and "supply" "load-current" "current-source"
 * "chopped-current" (what a switch or diode on a chopped net carries on average). NULL when not simulated. */
const MlNodalType *ml_nodal_type_find (const char *word);
const char *ml_nodal_type_word (const MlNodalType *type);
int ml_nodal_type_n_pins (const MlNodalType *type);
const char *ml_nodal_type_pin (const MlNodalType *type, int pin);
int ml_nodal_type_n_parameters (const MlNodalType *type);
const char *ml_nodal_type_parameter (const MlNodalType *type, int parameter); /* its name, as in data/'s table of defaults */
double ml_nodal_type_default (const MlNodalType *type, int parameter);
int ml_nodal_type_find_parameter (const MlNodalType *type, const char *name); /* -1 when it has none */
/** elements: what lies between two pins inside (a diode of a bridge, a potentiometer's half); may be opened one by one. */
int ml_nodal_type_n_elements (const MlNodalType *type);
void ml_nodal_type_element (const MlNodalType *type, int element, int *ret_pin_a, int *ret_pin_b);

/**
 * ml_nodal_circuit_add_device: nets[n_pins of type], each a net number or -1 for a pin left open; parameters[n_parameters of type] are
 * copied. Returns the device number from 0, or a negative status.
 */
int ml_nodal_circuit_add_device (MlNodalCircuit *circuit, const MlNodalType *type, const int *nets, const double *parameters);
/** ml_nodal_circuit_drive: `device` (a contact) follows `coil`; controlled types only. */
MlNodalStatus ml_nodal_circuit_drive (MlNodalCircuit *circuit, int device, int coil);
/**
 * ml_nodal_circuit_prefer: which state of a bistable circuit is meant: net high (+1), low (-1), or any again (0). A cold solve then looks for both states
 * and returns ML_NODAL_AMBIGUOUS with the one meant when they differ. Contacts and parts that latch are tried in their other position in
 * every cold solve, asked for or not; a solve that starts from an ambiguous solution keeps its states.
 */
MlNodalStatus ml_nodal_circuit_prefer (MlNodalCircuit *circuit, int net, int high);
MlNodalStatus ml_nodal_circuit_finish (MlNodalCircuit *circuit);
int ml_nodal_circuit_n_nets (const MlNodalCircuit *circuit); /* with the reference */
int ml_nodal_circuit_n_devices (const MlNodalCircuit *circuit);
int ml_nodal_circuit_n_pins (const MlNodalCircuit *circuit); /* of all devices */
int ml_nodal_circuit_first_pin (const MlNodalCircuit *circuit, int device); /* index into MlNodalSolution.pin_a */
int ml_nodal_circuit_pin_net (const MlNodalCircuit *circuit, int device, int pin); /* -1 when it was left open */
double ml_nodal_circuit_parameter (const MlNodalCircuit *circuit, int device, int parameter);
const MlNodalType *ml_nodal_circuit_type (const MlNodalCircuit *circuit, int device);

/* ---- deviating ---- */

typedef enum
{
  ML_NODAL_SET_PARAMETER,  /* device, index = parameter, value */
  ML_NODAL_PIN_RESISTANCE, /* device, index = pin, value = ohms between the net and the pin's own metal; INFINITY is open */
  ML_NODAL_BRIDGE_PINS,    /* device, index and index_b = pins, value = ohms between the two pins' own metal; 0 is an exact short */
  ML_NODAL_OPEN_ELEMENT,   /* device, index = element */
  ML_NODAL_LINK_NETS,      /* index and index_b = nets, value = ohms; 0 exact */
  ML_NODAL_PERMUTE_PINS,   /* device, permutation[pin] = the pin whose net this pin gets: reversed, exchanged */
  ML_NODAL_DETACH,         /* device, index = pin, index_b = which spare net (0..ML_NODAL_MAX_SPARE-1): a broken track; pins with the same spare stay joined */
  ML_NODAL_MOVE_PIN        /* device, index = pin, index_b = the net it hangs on instead */
} MlNodalChangeKind;

#define ML_NODAL_MAX_SPARE 3

typedef struct
{
  MlNodalChangeKind kind;
  int device, index, index_b;
  double value;
  const int *permutation;
} MlNodalChange;

/* ---- solving ---- */

typedef enum
{
  ML_NODAL_RUNG_WARM, ML_NODAL_RUNG_FLIPPED, ML_NODAL_RUNG_HELD, ML_NODAL_RUNG_COLD, ML_NODAL_RUNG_TRANSIENT, ML_NODAL_RUNG_GAIN, ML_NODAL_N_RUNGS
} MlNodalRung;

typedef struct { int pin; double v; } MlNodalMetal;

typedef struct
{
  MlNodalStatus status;
  MlNodalRung rung;       /* which step of the ladder solved it */
  int iterations;         /* Newton steps in all */
  double residual_a;      /* largest Kirchhoff residual */
  int failed_net, failed_device; /* where it would not settle; -1 */
  int n_nets, n_pins, n_state, n_devices;
  double *net_v;          /* n_nets; of a floating one, counted from some net of the same piece of circuit */
  bool *floating;         /* n_nets: nothing determines its voltage */
  double *pin_a;          /* n_pins: into the device */
  double *metal_v;        /* n_pins: voltage of the pin's own metal (differs from the net's behind a joint); NULL in a room, see metals */
  double *latched;        /* n_devices: 1 for a contact that its coil has pulled in, a part that has latched (also one set so), else 0; between:
                           * a part that neither stays on nor off, at its balance of the two; NULL in a room when nothing could */
  double *state;          /* n_state: branch currents and inner unknowns; opaque */
  MlNodalMetal *metals;   /* without metal_v: n_metals pins whose metal is not at its net's voltage; else NULL */
  int n_metals;
  bool in_room;           /* the arrays lie in an MlNodalRoom and go with it */
} MlNodalSolution;

/* Memory for many solutions that go together, from one thread at a time. */
typedef struct MlNodalRoom MlNodalRoom;
MlNodalRoom *ml_nodal_room_new (void); /* NULL without memory */
void ml_nodal_room_free (MlNodalRoom *room);
/** ml_nodal_room_take: that many bytes, all 0, aligned for anything; NULL without memory. */
void *ml_nodal_room_take (MlNodalRoom *room, size_t bytes);

/** ml_nodal_solution_init: memory for solutions of this circuit, by itself or (in) out of a room. ML_NODAL_NO_MEMORY leaves it empty. */
MlNodalStatus ml_nodal_solution_init (MlNodalSolution *solution, const MlNodalCircuit *circuit);
MlNodalStatus ml_nodal_solution_init_in (MlNodalSolution *solution, const MlNodalCircuit *circuit, MlNodalRoom *room);
/** ml_nodal_solution_copy: between solutions of this circuit; ML_NODAL_NO_MEMORY leaves `to`. */
MlNodalStatus ml_nodal_solution_copy (MlNodalSolution *to, const MlNodalSolution *from, const MlNodalCircuit *circuit);
void ml_nodal_solution_clear (MlNodalSolution *solution);
/** ml_nodal_solution_bytes: about what one of this circuit holds, not packed. */
size_t ml_nodal_solution_bytes (const MlNodalCircuit *circuit);
/**
 * ml_nodal_solution_pack: to about a tenth of its size on a large board: net_v, state and status stay, floating, pin_a and metal_v become NULL (latched,
 * too, where nothing latches). It still serves as a start and to be measured at, with the same results to the last bit.
 * One in a room stays as it is. Errors: ML_NODAL_NO_MEMORY, it is then as it was.
 */
MlNodalStatus ml_nodal_solution_pack (MlNodalSolution *solution, const MlNodalCircuit *circuit);
/** ml_nodal_solution_init_packed_in: memory for a solution that is packed from the start, so that no pin's current is found; where something latches, which
 * asks for them, for one by itself that is still to be packed. ML_NODAL_NO_MEMORY leaves it empty. */
MlNodalStatus ml_nodal_solution_init_packed_in (MlNodalSolution *solution, const MlNodalCircuit *circuit, MlNodalRoom *room);
/** ml_nodal_solution_metal_v: voltage of one pin's own metal, packed or not. */
double ml_nodal_solution_metal_v (const MlNodalCircuit *circuit, const MlNodalSolution *solution, int device, int pin);

MlNodalSolver *ml_nodal_solver_new (const MlNodalCircuit *circuit, MlNodalStatus *ret_status);
void ml_nodal_solver_free (MlNodalSolver *solver);

/**
 * ml_nodal_solve: the operating point with these changes. start (may be NULL, may be ret_solution) is where Newton begins.
 * Accepted when the residual is below max (1e-9 x largest branch current, 1 pA) and the step below 1e-9 (1 + |x|), or when rounding
 * leaves no better (nets that only leakage determines beside large currents). The result depends on circuit, changes and start alone.
 * Errors: negative status, also in ret_solution->status, with failed_net or failed_device; the best point reached is in ret_solution.
 */
MlNodalStatus ml_nodal_solve (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, const MlNodalSolution *start,
                              MlNodalSolution *ret_solution);

/**
 * ml_nodal_solution_unpack: all of a packed solution with these changes; what it had kept is the same to the last bit, pins' currents to what
 * Newton leaves open. ret_solution: room for one, another one.
 * Errors: ML_NODAL_NO_MEMORY, ML_NODAL_BAD_ARGUMENT.
 */
MlNodalStatus ml_nodal_solution_unpack (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, const MlNodalSolution *packed,
                                        MlNodalSolution *ret_solution);

/**
 * ml_nodal_seek_states: whether a solution with these changes is one of several that a circuit with gain can have (a flip-flop, a trigger):
 * each output is put low and high and let go. at: a solution; it becomes ML_NODAL_AMBIGUOUS where another state was
 * found, moves off a balance that no circuit keeps, and to what is preferred. Not exhaustive: states that take two touches are not found.
 * Returns at's status. Errors: ML_NODAL_NO_MEMORY, at is then unchanged or another valid solution.
 */
MlNodalStatus ml_nodal_seek_states (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, MlNodalSolution *at);
/** ml_nodal_solve_patiently: as ml_nodal_solve, and where that gives up, some ten times as long again: for the point that all else begins from. */
MlNodalStatus ml_nodal_solve_patiently (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, const MlNodalSolution *start,
                                        MlNodalSolution *ret_solution);

#define ML_NODAL_MOST_ALSO 2

/** ml_nodal_solve_warm: from that start by plain Newton or not at all. Errors: as ml_nodal_solve. */
MlNodalStatus ml_nodal_solve_warm (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, const MlNodalSolution *start,
                                   MlNodalSolution *ret_solution);

/* One of several variations of the same circuit. */
typedef struct
{
  const MlNodalChange *changes;
  int n_changes;
  const MlNodalSolution *start;  /* may be NULL; not the ret_solution of another one */
  MlNodalSolution *ret_solution; /* its status tells how it went */
  const MlNodalSolution *also[ML_NODAL_MOST_ALSO]; /* further starts, NULL behind the last: solutions, or the ret_solution of earlier ones in the list */
} MlNodalVariant;

/**
 * ml_nodal_solve_variants: each as ml_nodal_solve would, to the last bit, the linear systems of several in one pass. Those that do not settle
 * at once, or whose contacts move, are solved alone; before they climb the ladder they are tried from their further starts, such as the same
 * fault of another size.
 * Errors: ML_NODAL_NO_MEMORY; else each solution has its own status.
 */
MlNodalStatus ml_nodal_solve_variants (MlNodalSolver *solver, const MlNodalVariant *variants, int n_variants);

/* ---- reading ---- */

typedef enum { ML_NODAL_READ_VOLTS, ML_NODAL_READ_OHMS, ML_NODAL_READ_DIODE, ML_NODAL_READ_AMPS } MlNodalReads;

typedef struct { int net; int device, pin; } MlNodalPoint; /* device >= 0: that pin's own metal; else the net */

typedef struct
{
  MlNodalReads reads;
  MlNodalPoint red, black;
  int device;          /* AMPS: the supply device whose current is read (positive out of its plus pin) */
  double input_ohm;    /* VOLTS: the meter's resistance; INFINITY: none */
  double test_a;       /* OHMS, DIODE: the meter's current */
  double compliance_v; /* OHMS, DIODE: its open-circuit voltage; near it the meter shows over-range, unless over_ohm says where */
  double over_ohm;     /* OHMS: the top of its highest range: only beyond it there is over-range; 0: one range only */
} MlNodalMeter;

typedef struct { int device, parameter; } MlNodalParameterRef;

/**
 * ml_nodal_measure: what the meter shows, the meter being part of the circuit (continues Newton from `at`, which was solved with the same
 * changes). ret_value: V, ohm, V, A; INFINITY when over-range. ret_slope (may be NULL): d value / d parameter for refs[n_refs], by one
 * transposed solve (Director and Rohrer 1969). ret_size_slope (may be NULL): d value / d ln (value) for each change with a finite positive
 * value, else 0. loaded (may be NULL): the solution with the meter attached.
 */
MlNodalStatus ml_nodal_measure (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, const MlNodalSolution *at,
                                const MlNodalMeter *meter, const MlNodalParameterRef *refs, int n_refs, double *ret_value,
                                double *ret_slope, double *ret_size_slope, MlNodalSolution *loaded);

/* One of several readings of the same state of affairs. */
typedef struct
{
  const MlNodalMeter *meter;
  MlNodalStatus status;
  double value;        /* as ml_nodal_measure has them */
  double *slope;       /* n_refs; may be NULL */
  double *size_slope;  /* n_changes; may be NULL */
  const int *sized;    /* the changes that it is asked for, -1 behind the last; NULL: all */
  double test_slope;   /* OHMS, DIODE: d value / d ln test_a, when slopes are asked for; else 0 */
} MlNodalReading;

/**
 * ml_nodal_measure_all: each as ml_nodal_measure would, to what Newton leaves open, at a common cost; no reading depends on the others.
 * Errors: ML_NODAL_NO_MEMORY; else each reading has its own status.
 */
MlNodalStatus ml_nodal_measure_all (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, const MlNodalSolution *at,
                                    const MlNodalParameterRef *refs, int n_refs, MlNodalReading *readings, int n_readings);

/* ---- counting, for benchmarks and tests ---- */
typedef struct
{
  long solves, newton_steps, refactors, factors, analyses, transposed_solves;
  long solved_by[ML_NODAL_N_RUNGS];
  long failures;
} MlNodalCounts;
MlNodalCounts ml_nodal_solver_counts (const MlNodalSolver *solver);
