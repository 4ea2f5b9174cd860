/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The job: one repair. Units, readings, observations, passes, log; read from a text beside a board. Immutable once read. */
#pragma once

#include <glib.h>

#include "board/board.h"

G_BEGIN_DECLS

typedef enum { ML_READS_VOLTS, ML_READS_AMPS, ML_READS_OHMS, ML_READS_DIODE } MlReads;

/* Where on a pin a tip stands: on the solder, that is on the net; on the part's own metal; or on that metal while the leg is lifted off its
 * pad: the whole reading is then of the circuit without that connection. */
typedef enum { ML_LEAD_NONE, ML_LEAD_SOLDERED, ML_LEAD_LIFTED } MlLead;

/* Where a probe tip stands. net -1 and part -1: nowhere. */
typedef struct
{
  int net;
  int part, pin; /* -1 when a net was named */
  MlLead lead;
} MlProbe;

typedef struct
{
  char *name;
  double dc_share, dc_counts;     /* +-(share of reading + counts) */
  double ohms_share, ohms_counts;
  double counts;                  /* display counts, 6000 */
  double input_ohm;
  double diode_a, diode_v;        /* test current, open-circuit voltage */
  guint line;
} MlMeter;

typedef enum { ML_UNIT_STATE_UNKNOWN, ML_UNIT_STATE_SUSPECT, ML_UNIT_STATE_GOOD } MlUnitState;

typedef enum { ML_DIFFERS_FITTED, ML_DIFFERS_REMOVED, ML_DIFFERS_LIFTED, ML_DIFFERS_LINKED } MlDiffers;

/* How one physical board differs from the drawing, from `pass` on. */
typedef struct
{
  MlDiffers what;
  int part, pin;    /* fitted, removed, lifted */
  int net_a, net_b; /* linked */
  MlAttribute *attributes;
  guint n_attributes;
  guint pass;
  guint line;
} MlDifference;

typedef struct
{
  char *name;
  MlUnitState state;
  char *symptom;    /* NULL when none */
  MlDifference *differences;
  guint n_differences;
  guint n_passes;   /* at least 1 */
  guint line;
} MlUnitOnBench;

typedef struct
{
  int unit, condition; /* index; condition of the board */
  guint pass;          /* from 1 */
  MlReads reads;
  MlProbe red, black;  /* volts, ohms, diode */
  int across;          /* part when written across=, else -1 */
  int supply;          /* index in the condition when reads amps (and the volts shown), else -1 */
  MlQuantity measured;
  gboolean has_shown;  /* a supply reading that also gives volts */
  MlQuantity shown_v;
  int meter;
  gboolean replaced;   /* a later one of the same unit, pass, condition, probes and quantity stands */
  guint line;
} MlReading;

typedef struct { int unit, condition; guint pass; int part; /* -1: the supply */ int supply; char *what; guint line; } MlObservation;
typedef struct { int unit; guint pass; char *text; guint line; } MlPass;
typedef struct { char *when; int unit; char *what; char *subject; char *text; guint line; } MlLogEntry;

typedef struct _MlJob
{
  /*< read-only >*/
  char *title;
  char *board_file; /* as written; NULL when none */
  MlBoard *board;
  MlMeter *meters;             guint n_meters;  /* at least one: the default meter of data/ when none is written */
  MlUnitOnBench *units;        guint n_units;
  MlReading *readings;         guint n_readings;
  MlObservation *observations; guint n_observations;
  MlPass *passes;              guint n_passes;
  MlLogEntry *log;             guint n_log;
  MlText *text;
} MlJob;

/** ml_job_read: never NULL; what is in error is left out and said. board may be NULL: readings are then left out with one error. */
MlJob *ml_job_read (MlText *text, MlBoard *board, MlDiagnostics *diagnostics);
/** ml_job_read_with_board: a job and the board it names, looked for beside the file the text is named after. Never NULL. */
MlJob *ml_job_read_with_board (MlText *text, MlDiagnostics *diagnostics);
/** ml_job_load: the job file and the board it names, relative to the job's folder. NULL only when the job file cannot be read at all. */
MlJob *ml_job_load (const char *path, MlDiagnostics *diagnostics, GError **error);
/** ml_job_new_for_board: an empty job: one suspect unit "unit1", the default meter. */
MlJob *ml_job_new_for_board (MlBoard *board, const char *board_file);
MlJob *ml_job_ref (MlJob *job);
void ml_job_unref (MlJob *job);

int ml_job_find_unit (const MlJob *job, const char *name);
/** ml_job_suspect: the first unit marked suspect, or -1. */
int ml_job_suspect (const MlJob *job);
/** ml_job_last_pass: the last pass of that unit that has readings or observations, at least 1. */
guint ml_job_last_pass (const MlJob *job, int unit);
/** ml_job_has_readings: whether that pass of that unit has any, or observations. */
gboolean ml_job_has_readings (const MlJob *job, int unit, guint pass);
/** ml_job_find_reading: the standing reading of that place (either way round: *ret_swapped), or -1. */
int ml_job_find_reading (const MlJob *job, int unit, guint pass, int condition, MlReads reads, const MlProbe *red, const MlProbe *black,
                         gboolean *ret_swapped);
gboolean ml_probe_equal (const MlProbe *a, const MlProbe *b);
/** ml_probe_label: "V5", "Q2.emitter/lead", "D4.cathode/lifted", "J1.2" for a net that nobody named, each as a job's file takes it; new string. */
char *ml_probe_label (const MlBoard *board, const MlProbe *probe);
/** ml_probe_parse: "V5", "Q2.emitter", "Q2.emitter/lead", "D4.cathode/lifted". */
gboolean ml_probe_parse (const MlBoard *board, const char *words, MlProbe *ret_probe);
/** ml_reading_place: "V5", "across R4", "Q2, base to emitter", "Q2.emitter/lead against V5", "supply 1"; new string. */
char *ml_reading_place (const MlJob *job, const MlReading *reading);
/** ml_reading_label: the same as the subject of a sentence: "Q2, base to emitter,"; new string. */
char *ml_reading_label (const MlJob *job, const MlReading *reading);
/** ml_reading_sigma: standard uncertainty of one reading from the meter's figures and the digits typed, in SI (JCGM 100: half-width / sqrt 3). */
double ml_reading_sigma (const MlJob *job, const MlReading *reading);
/** ml_reading_unit: of what such a reading gives: V, A or ohm. */
MlUnit ml_reading_unit (MlReads reads);
/** ml_reading_needs_cold: ohms and diode tests: they mean something on the unpowered board only. */
gboolean ml_reading_needs_cold (const MlReading *reading);
/** ml_observation_suits: whether a part of that kind can be seen so ("lit", "clicks", …). */
gboolean ml_observation_suits (MlKind kind, const char *what);
/** ml_job_check: warnings about readings and observations that the condition or the part does not allow. */
void ml_job_check (const MlJob *job, MlDiagnostics *diagnostics);
/** ml_meter_resolution: the step of the display when it shows value (SI). */
double ml_meter_resolution (const MlMeter *meter, double value);
/** ml_meter_figure: a line of data/meters.table; a name that it lacks ends the program. */
double ml_meter_figure (const char *name);
/** ml_meter_ohms_test_a: the current, in ampere, that the meter sends through what it shows as that many ohms (INFINITY: over-range). */
double ml_meter_ohms_test_a (const MlMeter *meter, double ohm);

#define ML_JOB_MAX_UNITS 1000u
#define ML_JOB_MAX_METERS 100u

G_DEFINE_AUTOPTR_CLEANUP_FUNC (MlJob, ml_job_unref)
G_END_DECLS
