/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The verdict: plain results, owned by MlVerdict, read by drawing, desktop and command. Judging itself is in verdict/judge.h. */
#pragma once

#include <glib.h>

#include "job/job.h"

G_BEGIN_DECLS

typedef enum
{
  ML_FAULT_OPEN, ML_FAULT_JOINT, ML_FAULT_SHORT, ML_FAULT_LEAK, ML_FAULT_HIGH, ML_FAULT_LOW, ML_FAULT_REVERSED, ML_FAULT_DEAD,
  ML_FAULT_THROUGH, ML_FAULT_STUCK_HIGH, ML_FAULT_STUCK_LOW, ML_FAULT_MISBEHAVING, ML_FAULT_STOPPED, ML_FAULT_WRONG_PART,
  ML_FAULT_STRAY_LINK, ML_FAULT_BROKEN_TRACK,
  /* drawing slips */
  ML_FAULT_PINS_EXCHANGED, ML_FAULT_DRAWN_REVERSED, ML_FAULT_MISSING_LINK, ML_FAULT_EXTRA_LINK, ML_FAULT_WRONG_NET,
  ML_N_FAULTS
} MlFaultKind;

/** ml_fault_word: "stuck-high"; ml_fault_find: -1 when unknown. */
const char *ml_fault_word (MlFaultKind kind);
int ml_fault_find (const char *word);

typedef enum { ML_SIZE_NONE, ML_SIZE_OHM, ML_SIZE_FACTOR, ML_SIZE_VOLT } MlSizeIn;

#define ML_FAULT_MAX_PINS 8

typedef struct
{
  int part;                         /* -1 for links and tracks */
  MlFaultKind kind;
  int pins[ML_FAULT_MAX_PINS];      /* pin indices of the part */
  guint n_pins;
  int net_a, net_b;                 /* stray-link, missing-link: both; broken-track, extra-link: net_a; wrong-net: net_a where the pin
                                     * is, net_b where it is drawn */
  int cut_parts[ML_FAULT_MAX_PINS], cut_pins[ML_FAULT_MAX_PINS]; /* broken-track, extra-link: the pins cut off */
  guint n_cut;
  double size, size_low, size_high; /* NAN when it has none; 90 % interval */
  MlSizeIn size_in;
  char *as;                         /* wrong-part: what it seems to be; NULL */
} MlFault;

typedef enum { ML_EXPLAINS_HEALTHY, ML_EXPLAINS_FAULT, ML_EXPLAINS_DRAWING, ML_EXPLAINS_MISFIT } MlExplains;

typedef struct
{
  guint id;             /* from 1, in order of probability */
  double probability;
  MlExplains explains;
  MlFault *faults;      guint n_faults;
  guint *tied;          guint n_tied;     /* ids that the readings cannot tell from this one */
  char *title;          /* "Solder joint at Q2's emitter, about 300 Ω" */
  char **reasons;       /* NULL-terminated, a technician's words */
  guint *refusing;      guint n_refusing; /* indices into readings: what a misfit rests on */
} MlExplanation;

typedef enum { ML_VERDICT_UNPROVEN, ML_VERDICT_CLEARED, ML_VERDICT_POSSIBLE, ML_VERDICT_SUSPECT } MlVerdictWord;
const char *ml_verdict_word (MlVerdictWord word);
/** ml_verdict_percent: a probability as people may read it: "94 %", "under 1 %", "over 99 %", never none and never certain; new string. */
char *ml_verdict_percent (double probability);

typedef struct { MlVerdictWord verdict; double probability; guint group; /* 0: none; parts of one group cannot be told apart */ } MlPartVerdict;
typedef struct { int net_a, net_b; MlVerdictWord verdict; double probability; } MlLinkVerdict;

typedef enum { ML_SLIP_NONE, ML_SLIP_SWAPPED, ML_SLIP_THOUSANDFOLD, ML_SLIP_WRONG_PIN, ML_SLIP_WRONG_CONDITION, ML_SLIP_UNCLEAR } MlSlip;
const char *ml_slip_word (MlSlip slip); /* NULL for ML_SLIP_NONE */

typedef struct
{
  int reading;                        /* index into the job's readings */
  double healthy, healthy_sigma;      /* what it would be if all were fine, unknown chips doing what was found; NAN when it could not be computed */
  double explained, explained_sigma;  /* under the first explanation that names a fault, or healthy if that leads */
  gboolean doubtful;
  MlSlip slip;
  double fits;                        /* of a slip: what would have fitted there, SI; NAN without one */
  MlProbe slip_at;                    /* wrong-pin: where the probe seems to have stood; net -1 otherwise */
  int slip_condition;                 /* wrong-condition: the one it seems to have been taken in; -1 otherwise */
  char *slip_text;                    /* "probes swapped? 4.93 V would fit"; NULL without a slip */
} MlReadingVerdict;

typedef struct { guint explanation; double value; } MlExpect;

typedef struct
{
  int condition;
  MlReads reads;
  MlProbe red, black;
  int supply;            /* -1 */
  char *step;            /* what must be done first ("lift D4.cathode"), or NULL */
  double bits, effort;
  MlExpect *expect;      guint n_expect;
  double healthy;        /* value to expect if all were fine */
} MlNextReading;

typedef struct { int part; char *why; } MlBlind;

/* Plain comparison with a good unit: how far the units differ about a part, in standard deviations of what sound ones differ by; and the job's
 * reading that shows it. */
typedef struct { int part; double apart; int reading; } MlCompared;

/* What the circuit should do in one condition under one state of affairs: plain arrays for the drawing and for `solve`. */
typedef struct
{
  int condition;
  gboolean solved;
  gboolean other_state; /* more than one state is possible: a part that latches, a relay between pull and release, a flip-flop */
  char *error;        /* NULL when solved */
  double *net_v;      /* board->n_nets; NAN where floating */
  double **pin_a;     /* [part][pin], A into the part; NAN where not simulated */
  double *part_w;     /* board->n_parts */
  gboolean *pulled;   /* board->n_parts: contacts that stand at `no`, pulled in by their coil or set so; FALSE of all other parts */
  double *supply_v, *supply_a; /* condition's supplies */
  gboolean *limiting;
} MlOperatingPoint;

/* What a verdict found of the chips nobody has a diagram of and of the values nobody could read, to be put into the same circuit with another
 * fault in it (ml_judge_solve). Never changed: threads may share it. */
typedef struct _MlFound MlFound;
MlFound *ml_found_ref (MlFound *found); /* NULL: NULL */
void ml_found_unref (MlFound *found);

typedef struct _MlVerdict
{
  /*< read-only >*/
  MlJob *job;
  int unit;
  guint pass;
  char *sentence;
  guint named;        /* id of the explanation that the sentence says first; 0: it says none, or several parts of equal rank */
  gboolean one_of_suspects; /* the sentence says that it is one of the suspect parts */
  double healthy_probability, misfit_probability, rest_probability;
  MlExplanation *explanations; guint n_explanations;
  MlPartVerdict *parts;        guint n_parts;   /* one per board part */
  MlLinkVerdict *links;        guint n_links;
  MlReadingVerdict *readings;  guint n_readings;
  char *condition_slip;        /* "All readings in rest: probes swapped? Judged as if they were."; NULL: none */
  MlNextReading *next;         guint n_next;    /* best first */
  double readings_left;        /* expected number of readings until one thing to work on is probable; NAN: not known, or those at hand will not do */
  gboolean untold;             /* no reading with every leg in place tells the leading parts apart */
  MlOperatingPoint **fine;     guint n_fine;    /* per condition: a sound board, its unknown chips doing what was found; NULL where not solved */
  MlFound *found;              /* what that board took over; NULL: nothing, or it cannot be told apart from the board */
  MlBlind *blind;              guint n_blind;
  MlCompared *compared;        guint n_compared; /* most first; while the drawing convicts nobody */
  char **cautions;             /* NULL-terminated */
  guint stage;                 /* 0 dictionary, 1 refined, 2 final */
} MlVerdict;

/* One unit through all its passes: what a record of the repair shows. Made by ml_record_new (verdict/judge.h). */
typedef struct
{
  MlJob *job;                  /* owned reference */
  int unit;
  MlVerdict **verdicts;        /* per pass from the first; NULL where nothing was measured or could be judged */
  char **troubles;             /* per pass: why it could not be judged; NULL elsewhere */
  guint n_passes;
  MlOperatingPoint **points;   /* per condition, as drawn; NULL where not solved */
  guint n_points;
} MlRecord;
void ml_record_free (MlRecord *record);

void ml_verdict_unref (MlVerdict *verdict);
/** ml_verdict_blind_lines: "R1, R2: no reading …", parts of which the same is to be said on one line; new array. */
char **ml_verdict_blind_lines (const MlVerdict *verdict);
/** ml_verdict_left: "About 2 more readings should settle it."; NULL when nobody knows or nothing is left to settle; new string. */
char *ml_verdict_left (const MlVerdict *verdict);
/** ml_verdict_point: the sound board as the verdict (may be NULL) knows it in that condition; NULL when it does not. Owned by the verdict. */
MlOperatingPoint *ml_verdict_point (const MlVerdict *verdict, int condition);
/** ml_fault_describe: "solder joint at Q2's emitter", "R4 open"; new string. */
char *ml_fault_describe (const MlBoard *board, const MlFault *fault);
/** ml_part_wears: whether the part has contacts, which wear and burn (common practice, no source). */
gboolean ml_part_wears (const MlPart *part);
/** ml_fault_is_worn_contact: a joint between two pins, that is inside the part: reads the same as one at its solder, but not from its own metal. */
gboolean ml_fault_is_worn_contact (const MlFault *fault);
/** ml_fault_title: "Solder joint at Q2's emitter, about 300 Ω"; new string. */
char *ml_fault_title (const MlBoard *board, const MlFault *fault);
/** ml_verdict_ways: explanations (indices, at least one, each one fault of the same part) as alternatives: "Q1 open at its drain or source", "Q1
 *  leaking from base to emitter, or open at its base"; new string. */
char *ml_verdict_ways (const MlVerdict *verdict, const guint *which, guint n);

G_DEFINE_AUTOPTR_CLEANUP_FUNC (MlVerdict, ml_verdict_unref)
G_DEFINE_AUTOPTR_CLEANUP_FUNC (MlRecord, ml_record_free)
G_END_DECLS
