/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Inside of a solver: a circuit with a variation applied, and the Newton state. */
#pragma once

#include "nodal/matrix.h"

#define ML_NODAL_METER_WIDTH 1e-5 /* over which a meter's test current gives way at its open-circuit voltage, as a share of it */

/* Unknowns beyond the circuit's own, numbered from circuit->n_unknowns. */
typedef enum
{
  ML_NODAL_EXTRA_NODE,       /* voltage of a node cut off from its net: a pin's metal, a piece of broken track */
  ML_NODAL_EXTRA_INNER,      /* an inner unknown of a device whose pins were moved */
  ML_NODAL_EXTRA_STAND_IN,   /* a thousandth of the voltage that keeps at zero the current of a branch left behind: the usual pivots want it there */
  ML_NODAL_EXTRA_LINK,       /* current from a to b: v_a - v_b - ohm j = 0 */
  ML_NODAL_EXTRA_METER,      /* current out of a into b of the meter's test source */
  ML_NODAL_EXTRA_CORRECTION  /* copies v_a, to take a gauge out again */
} MlNodalExtraKind;

typedef struct
{
  MlNodalExtraKind kind;
  int a, b;            /* nodes */
  int device, local;   /* INNER, STAND_IN */
  int pin;             /* NODE: a pin (over all devices) whose metal it is */
  int change;          /* index of the change it stands for, or -1 */
  double ohm;          /* LINK */
  double test_a, compliance_v; /* METER */
  double last;         /* METER: where it was linearised last */
} MlNodalExtra;

/* A conductance between two nodes: a two-pin part, a joint or a leak. */
typedef struct
{
  int a, b;
  int device; /* or -1 */
  int change; /* or -1 */
  double siemens;
} MlNodalConductance;

/* A conductance that carries no current: it gives a floating piece of circuit a voltage to count from. */
typedef struct
{
  int a, b;
  int correction; /* unknown that cancels it, or 0 when it stays */
} MlNodalGauge;

#define ML_NODAL_SLOPE_PLACES 8 /* without a meter, and with it at the few nets of a condition that are read */

/* What is kept of a device's slopes; bit p: of parameter p. */
typedef struct
{
  signed char n_places, place, oldest; /* place: the one found last */
  unsigned char derived, slopes[ML_NODAL_SLOPE_PLACES];
} MlNodalSlopesKnown;

/* What the meter adds to the circuit. */
typedef struct
{
  int red, black; /* nodes, filled in */
  const MlNodalMeter *meter;
} MlNodalAttached;

/* How far Newton has come. */
typedef struct
{
  int steps, stuck, rounded;
  double last, size; /* of the last two steps, in units of what is asked of them */
  double least, least_a; /* of all steps and residuals so far */
  int idle;          /* steps since one of the two was less than half of that */
} MlNodalNewton;

typedef struct MlNodalLaneSet MlNodalLaneSet; /* lanes.c */
typedef struct MlNodalReadingRoom MlNodalReadingRoom; /* readings.c */

struct MlNodalSolver
{
  const MlNodalCircuit *circuit;
  MlNodalMatrix matrix;
  MlNodalCounts counts;

  /* the circuit as varied */
  double *parameters, *derived; /* as in the circuit, with changes */
  double *prepared;             /* n_parameters: what derived belongs to */
  unsigned *open;               /* n_devices: opened elements */
  unsigned *known_open;         /* n_devices: as of the last evaluation */
  int *node, *position;         /* as in the circuit, with changes */
  bool *touched;                /* n_devices: differs from the circuit */
  bool *moved;                  /* n_devices: some pin lies on another unknown */
  int *touched_list, n_touched;
  int *restored_list, n_restored; /* devices that were touched until now: to be prepared again unless changed to the same */
  double *latched;              /* n_devices: state of a contact or of a device that latches, -1 as built; between 0 and 1: in balance */
  signed char *put;             /* n_devices: where an amplifier's output is put, low -1 or high 1, twice that once it has been the other way; 0: not */
  bool nonlinear;

  MlNodalSolution scratch;      /* a reading's own; empty until asked for */
  bool bare;                    /* nobody asks for pin currents */

  MlNodalExtra *extras;
  int n_extras, extra_room;
  MlNodalConductance *conductances;
  int n_conductances, conductance_room;
  int *flowing, n_flowing;      /* n_devices: current sources, those apart that give nothing: most are there for a variation to use */
  MlNodalGauge *gauges;
  int n_gauges, gauge_room;
  int n_unknowns;               /* with extras and the reference */
  int attached;                 /* extra that is the meter, or -1 */

  double *base;                 /* matrix values that do not change from step to step */
  int base_room;
  int *group, *core;            /* n_unknowns: union-find over all, and without the border */

  MlNodalLaneSet *lanes;        /* for variants side by side; NULL until asked for */
  MlNodalReadingRoom *reading_room; /* for readings side by side; NULL until asked for */

  /* Newton; arrays of unknown_room */
  MlNodalNewton newton;
  int only_warm;                /* no ladder: the start given settles within so many steps, or it has failed; 0: the ladder */
  bool patient;                 /* pseudo-transient continuation goes on for long */
  int first_rung, failed_steps; /* of the ladder; steps in which a lane has failed on the rung before, else 0 */
  int unknown_room;
  double *x, *step, *f, *anchor;
  double *limited;              /* n_locals: where each device was linearised last */
  bool have_limited;
  bool from_solution;           /* x began as a solution of the circuit, perhaps otherwise varied */
  bool at_work;                 /* and it is varied in the same way: only a meter is attached */
  bool from_several;            /* the start was in one of several states, and is left by a change */
  bool measuring;               /* whatever is solved is for a reading, with or without a meter between two nets */
  bool from_anchor;             /* x began as a solution of this very variation, perhaps held */
  bool *known;                  /* n_devices: the three below hold that device's last evaluation */
  double *known_x, *known_f;    /* n_locals */
  double *known_jacobian;       /* n_positions */
  bool *home;                   /* n_devices: the three below hold the device, unchanged, at the start that it was last solved from */
  double *home_x, *home_f;      /* n_locals */
  double *home_jacobian;        /* n_positions */

  /* slopes.c: slopes of the devices' currents in their parameters, kept; all NULL until asked for */
  double *slopes;
  size_t *slopes_first;         /* n_devices: where in slopes */
  MlNodalSlopesKnown *slopes_known; /* n_devices */

  double lean_s, lean_v;        /* conductance that pulls preferred nets to lean_v (those wanted high) or to 0 */
  double leak_s, anchor_s;      /* ladder: conductance from every node to the reference, and to anchor */
  double loose;                 /* ladder: a step below this settles; 0: what is promised */
  double largest_a, residual_a; /* of the last assembly */
  double limit_gap;             /* largest relative distance between x and where devices were linearised */
  int limit_device, worst_row, worst_step; /* device, unknowns; -1, 0 when none */
};

#define ML_NODAL_GAUGE_S 1e-3
#define ML_NODAL_PERTURBATION_OHM 1e-12
#define ML_NODAL_STAND_IN_V 1e3 /* so that it is measured as voltages are, though it is no node */

/* A device whose voltages have moved no further than this since it was evaluated goes along its tangent: at 100 nV the curve of a junction leaves it by
 * (100 nV q / kT)^2 / 2, 8e-12 of the current, at 1 nV that of a regulator, 0.2 mV wide, by 1e-11. */
static inline double
ml_nodal_near_v (const MlNodalType *type)
{
  return type->flags & ML_NODAL_STEEP ? 1e-9 : 1e-7;
}

/** ml_nodal_vary: applies the changes to the solver's copy of the circuit, builds border, gauges and base values. */
MlNodalStatus ml_nodal_vary (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, const MlNodalMeter *meter);
/** ml_nodal_room_for: room in *array for n elements, what is there kept; false without memory. */
bool ml_nodal_room_for (void **array, int *room, int n, size_t size);
/** ml_nodal_add_extra: a further unknown; 0 without memory. */
int ml_nodal_add_extra (MlNodalSolver *solver, MlNodalExtra extra);
/** ml_nodal_find_floating: floating pieces get a gauge; one that only the border determines gets a gauge, and a correction that takes it out
 * again. False without memory. */
bool ml_nodal_find_floating (MlNodalSolver *solver);
/** ml_nodal_stand_in_volts: across a branch left behind, at x. */
double ml_nodal_stand_in_volts (MlNodalSolver *solver, const MlNodalExtra *extra);
/** ml_nodal_stamp_base: base, once the border is set. */
void ml_nodal_stamp_base (MlNodalSolver *solver);
/** ml_nodal_vary_soften: the same circuit with all gains at a share of their value (gain ramp); false when there are none. */
bool ml_nodal_vary_soften (MlNodalSolver *solver, double share);
/** ml_nodal_point_node: the unknown that a meter's point touches. */
int ml_nodal_point_node (const MlNodalSolver *solver, MlNodalPoint point);
bool ml_nodal_is_floating (MlNodalSolver *solver, int node);
bool ml_nodal_is_node (const MlNodalSolver *solver, int unknown);

/** ml_nodal_linear_jacobian: of a linear device, evaluated unless it is known; assembling relies on that. */
const double *ml_nodal_linear_jacobian (MlNodalSolver *solver, int device);
/** ml_nodal_assemble: f and matrix values at x. */
void ml_nodal_assemble (MlNodalSolver *solver);
/** ml_nodal_device_eval: one device at the solver's x, without limiting: f[n_local], jacobian[n_local^2]. */
void ml_nodal_device_eval (const MlNodalSolver *solver, int device, const double *derived, double *f, double *jacobian);
/** ml_nodal_device_currents: f[n_local] alone; from the last assembly where that was here. */
void ml_nodal_device_currents (const MlNodalSolver *solver, int device, double *f);
/** ml_nodal_slopes_make_room: once before the first ml_nodal_slopes_of_parameter. */
MlNodalStatus ml_nodal_slopes_make_room (MlNodalSolver *solver);
/** ml_nodal_slopes_find_place: of one device at the solver's x, before asking for slopes there. */
void ml_nodal_slopes_find_place (MlNodalSolver *solver, int device);
/** ml_nodal_slopes_of_parameter: d f / d parameter of one device where its place was found, f[n_local]; valid until the next call. */
const double *ml_nodal_slopes_of_parameter (MlNodalSolver *solver, int device, int parameter);
/** ml_nodal_newton: from solver->x; at most `most` steps. */
MlNodalStatus ml_nodal_newton (MlNodalSolver *solver, int most, int *ret_steps, int *ret_row);
/* Its parts, for whoever solves the linear systems otherwise: begin; until settled: solve for solver->step, take it. */
void ml_nodal_newton_begin (MlNodalSolver *solver);
/** ml_nodal_newton_settled: assembles at x; whether x is accepted. */
bool ml_nodal_newton_settled (MlNodalSolver *solver);
/** ml_nodal_newton_is_lost: so many steps, or none of them better for long. */
bool ml_nodal_newton_is_lost (const MlNodalSolver *solver, int most);
/** ml_nodal_newton_take_step: false when it is not finite. */
bool ml_nodal_newton_take_step (MlNodalSolver *solver);

#define ML_NODAL_WARM_STEPS 40
#define ML_NODAL_COLD_STEPS 60

/* ladder.c */
/** ml_nodal_begin_at: x and the ladder's state at a start; NULL: zeros. */
void ml_nodal_begin_at (MlNodalSolver *solver, const MlNodalSolution *start);
/** ml_nodal_climb: Newton from the solver's first rung on until one settles; steps are added up, row is the unknown of a singular matrix. */
MlNodalStatus ml_nodal_climb (MlNodalSolver *solver, const MlNodalSolution *start, MlNodalRung *ret_rung, int *steps, int *row);

/* flip.c */
/** ml_nodal_flip: from x at the start, amplifiers followed from one end of their output to the other. ML_NODAL_NOT_CONVERGED also where there are none. */
MlNodalStatus ml_nodal_flip (MlNodalSolver *solver, const MlNodalSolution *start, int *steps, int *row);

/* solution.c */
/** ml_nodal_name_failure: failed_net or failed_device of the solution from an unknown; 0 leaves them. */
void ml_nodal_name_failure (const MlNodalSolver *solver, int unknown, MlNodalSolution *solution);
/** ml_nodal_check_gauges: ML_NODAL_SINGULAR, with its name, when a floating piece of circuit would have to carry current to nowhere. */
MlNodalStatus ml_nodal_check_gauges (const MlNodalSolver *solver, MlNodalSolution *solution);
/** ml_nodal_solution_fits: it has room for what this circuit's solutions are made of. */
bool ml_nodal_solution_fits (const MlNodalSolution *solution, const MlNodalCircuit *circuit);
/** ml_nodal_fill_solution: from the solver's x; pin currents unless nobody asks for them. ML_NODAL_NO_MEMORY at worst. */
MlNodalStatus ml_nodal_fill_solution (MlNodalSolver *solver, const MlNodalChange *changes, MlNodalSolution *solution);

/* latches.c */
#define ML_NODAL_MOST_MOVES 8 /* a relay that switches itself off again never rests */
/** ml_nodal_recall_states: as built; where more than one state is possible, or at_work, as the start (may be NULL) has them. */
void ml_nodal_recall_states (MlNodalSolver *solver, const MlNodalSolution *start, bool at_work);
/** ml_nodal_keeps_states: of several states it was begun in one that is not as built, and is still in such a one: what begins here stays in it, too. */
bool ml_nodal_keeps_states (const MlNodalSolver *solver);
/** ml_nodal_recall_other_states: all as the start has them; false where that is as built. */
bool ml_nodal_recall_other_states (MlNodalSolver *solver, const MlNodalSolution *start);
/** ml_nodal_move_states: contacts and latching devices after a solution; true when one changed, *ret_device one of them. */
bool ml_nodal_move_states (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, int *ret_device);
/** ml_nodal_balance: ML_NODAL_AMBIGUOUS where the device just neither stays on nor off; ML_NODAL_NOT_CONVERGED where there is no such point. */
MlNodalStatus ml_nodal_balance (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, const MlNodalMeter *meter, int device,
                                MlNodalSolution *ret_solution);
/** ml_nodal_look_for_other_states: ML_NODAL_AMBIGUOUS when there are, with the one preferred. */
MlNodalStatus ml_nodal_look_for_other_states (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, MlNodalSolution *ret_solution);

/* solve.c */
/** ml_nodal_run_once: vary, ladder, solution, with contacts and latches where they are. */
MlNodalStatus ml_nodal_run_once (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, const MlNodalMeter *meter,
                                 const MlNodalSolution *start, MlNodalSolution *ret_solution);
/** ml_nodal_run: the same, followed until they rest. */
MlNodalStatus ml_nodal_run (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, const MlNodalMeter *meter,
                            const MlNodalSolution *start, MlNodalSolution *ret_solution);
/** ml_nodal_preference: how well a solution has the nets that are wanted high or low; the more the better. */
double ml_nodal_preference (const MlNodalCircuit *circuit, const MlNodalSolution *solution);
/** ml_nodal_run_begin: the first part of it: varied, x at the start (NULL: zeros). */
MlNodalStatus ml_nodal_run_begin (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, const MlNodalMeter *meter,
                                  const MlNodalSolution *start, MlNodalSolution *ret_solution);
/** ml_nodal_run_end: the last part, once x is accepted. False: a contact or latch moves, or a gauge carries current. */
bool ml_nodal_run_end (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, MlNodalSolution *ret_solution);

/** ml_nodal_meter_is_valid: probes and supply exist. */
bool ml_nodal_meter_is_valid (const MlNodalCircuit *circuit, const MlNodalMeter *meter);
/** ml_nodal_refs_are_valid: devices and parameters exist. */
bool ml_nodal_refs_are_valid (const MlNodalCircuit *circuit, const MlNodalParameterRef *refs, int n_refs);
/** ml_nodal_read_value: what is shown at x, and its gradient in the unknowns, in solver->anchor. False: over-range. */
bool ml_nodal_read_value (MlNodalSolver *solver, const MlNodalMeter *meter, double *ret_value);
/** ml_nodal_read_test_slope: d value / d ln test_a of an ohms or diode reading, while solver->step is its lambda. */
double ml_nodal_read_test_slope (const MlNodalSolver *solver, const MlNodalMeter *meter);
/** ml_nodal_read_slope: - lambda' d F / d parameter, lambda solving lambda' J = gradient, its entry 0 being 0; after ml_nodal_slopes_find_place of the device. */
double ml_nodal_read_slope (MlNodalSolver *solver, const double *lambda, MlNodalParameterRef ref);
/** ml_nodal_read_sizes: the same in the sizes of changes, as MlNodalReading has them; ret_size_slope may be NULL. */
void ml_nodal_read_sizes (MlNodalSolver *solver, const double *lambda, const MlNodalChange *changes, int n_changes, const int *sized, double *ret_size_slope);
/** ml_nodal_current_unknown: the unknown that is a supply's current. */
int ml_nodal_current_unknown (const MlNodalSolver *solver, int device);
/** ml_nodal_measure_reading: one alone, by Newton with the meter attached; its status, which is also in it. */
MlNodalStatus ml_nodal_measure_reading (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, const MlNodalSolution *at,
                                        const MlNodalParameterRef *refs, int n_refs, MlNodalReading *reading);
void ml_nodal_reading_room_free (MlNodalReadingRoom *room);

/** ml_nodal_solver_new_lane: a solver that has its own state and borrows the schedule; its matrix is factored by others. NULL without memory. */
MlNodalSolver *ml_nodal_solver_new_lane (const MlNodalSolver *solver);
void ml_nodal_lanes_free (MlNodalLaneSet *lanes);
