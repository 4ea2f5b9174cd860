/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The truth program: one physical board with its own part values and faults, solved apart from the engine, and a meter to read it with. */
#pragma once

#include "job/job.h"
#include "verdict/verdict.h"

G_BEGIN_DECLS

/* What the real parts are like, beside their tolerance. */
typedef struct
{
  double temperature_c;    /* 25 */
  double ideality_scale;   /* 1; other device curves than the usual: 0.85, 1.2 */
  double resistance_scale; /* 1; series resistance of junctions */
} MlTruthWorld;

extern const MlTruthWorld ML_TRUTH_USUAL;

typedef enum
{
  ML_TRUTH_NOMINAL,   /* every part at the middle of its kind */
  ML_TRUTH_UNIT,      /* a real unit: written values within their tolerance, devices as they scatter */
  ML_TRUTH_BELIEVED   /* as far as the drawing tells: values that are not on the drawing may be anything usual */
} MlTruthDraw;

/* A chip nobody has a diagram of, in one condition: what its pins do. */
typedef enum { ML_TRUTH_PIN_INPUT, ML_TRUTH_PIN_HIGH, ML_TRUTH_PIN_LOW } MlTruthPinState;
typedef struct
{
  double load_ohm;  /* between supply and ground pin */
  double drive_ohm; /* of a pin held high or low */
  double needs_v;   /* below this supply it holds its pins open and takes a third */
  MlTruthPinState pins[16];
} MlTruthBlock;

typedef struct _MlTruth MlTruth;

/**
 * ml_truth_new: a physical board. actual: all values given; drawn: the same board as the person has it (the same object where nothing
 * is left out). Blocks get a behaviour from the board's title unless ml_truth_set_block says another. world NULL: the usual one.
 */
MlTruth *ml_truth_new (MlBoard *actual, MlBoard *drawn, MlTruthDraw draw, guint64 seed, const MlTruthWorld *world);
/** ml_truth_new_of_batch: the same of a real unit; units of one batch have like devices, and chips that draw within a tenth the same. */
MlTruth *ml_truth_new_of_batch (MlBoard *actual, MlBoard *drawn, guint64 seed, guint64 batch);
void ml_truth_free (MlTruth *truth);
const MlBoard *ml_truth_board (const MlTruth *truth);
/** ml_truth_knows: whether the truth program can compute the board: a chopped net needs a block or a part that chops it with its output. */
gboolean ml_truth_knows (const MlBoard *board);
void ml_truth_set_block (MlTruth *truth, int part, int condition, const MlTruthBlock *block);
/** ml_truth_scale: the main value of a part (ohms, a zener's or a regulator's volts) is factor times that drawn, fault or none. */
void ml_truth_scale (MlTruth *truth, int part, double factor);
/** ml_truth_set_faults: replaces the faults of the board; n_faults 0: healthy. */
void ml_truth_set_faults (MlTruth *truth, const MlFault *faults, guint n_faults);

/** ml_truth_pin: index into part->pins of the kind's pin i, or -1. */
int ml_truth_pin (const MlPart *part, guint i);

/* Where a reading is taken. */
typedef struct
{
  int condition;
  MlReads reads;
  MlProbe red, black;
  int supply; /* amps: index in the condition; else -1 */
} MlTruthPlace;

/** ml_truth_read: what an exact meter with that input resistance shows (V, A, ohm, V); NAN when the truth program cannot solve it, INFINITY when over-range. */
double ml_truth_read (MlTruth *truth, const MlTruthPlace *place, double input_ohm);

/* A meter as a person has it: one error per kind of reading and range, drawn once, then rounding to its counts. */
typedef struct { const MlMeter *figures; double gain[3][8]; guint64 seed; } MlTruthMeter;
MlTruthMeter ml_truth_meter (const MlMeter *figures, guint64 seed);
/** ml_truth_meter_show: the digits on the display, as typed into a job: "2.91", "0.270", "OL". New string. */
char *ml_truth_meter_show (const MlTruthMeter *meter, MlReads reads, double value);
/** ml_truth_meter_sigma: standard uncertainty of the meter at that value, rounding included. */
double ml_truth_meter_sigma (const MlMeter *figures, MlReads reads, double value);

G_DEFINE_AUTOPTR_CLEANUP_FUNC (MlTruth, ml_truth_free)
G_END_DECLS
