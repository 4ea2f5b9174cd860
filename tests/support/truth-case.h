/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What can be told apart on a board by given readings, as the truth program sees it; and jobs typed from its readings. */
#pragma once

#include "support/truth-faults.h"

G_BEGIN_DECLS

typedef struct
{
  MlBoard *drawn, *actual;
  MlMeter meter;
  GArray *places;      /* MlTruthPlace: the readings given */
  GArray *modes;       /* MlTruthMode: the usual ones */
  GArray *seldom;      /* MlTruthMode: none is put into a board, but readings may not tell it from one that is */
  MlTruth *nominal;
  GPtrArray *believed; /* MlTruth: draws of what the drawing leaves open, tolerances and devices */
  double *healthy;     /* per place */
  double *healthy_sigma;
  gboolean solved;     /* the healthy board could be solved in every condition */
} MlTruthCase;

/** ml_truth_case_new: places are copied. */
MlTruthCase *ml_truth_case_new (MlBoard *drawn, MlBoard *actual, const GArray *places);
void ml_truth_case_free (MlTruthCase *c);

/** ml_truth_usual_meter: 0.5 % + 2 counts d.c., 0.8 % + 3 counts ohms, 6000 counts, 10 Mohm, diode test 1 mA 3 V (common practice). */
MlMeter ml_truth_usual_meter (void);

/** ml_truth_case_predict: readings of the nominal board with that fault (NULL: healthy); FALSE when one could not be solved. ret: n places. */
gboolean ml_truth_case_predict (MlTruthCase *c, const MlFault *fault, double *ret);
/** ml_truth_case_read: the same of any physical board with n_faults faults. */
gboolean ml_truth_case_read (const MlTruthCase *c, MlTruth *truth, const MlFault *faults, guint n_faults, double *ret);
/** ml_truth_case_sigma: uncertainty of each reading with that fault: tolerance, what is not on the drawing, and the meter. */
void ml_truth_case_sigma (MlTruthCase *c, const MlFault *fault, double *ret);

/** ml_truth_case_shift: the largest change against healthy in units of sigma; NAN when the faulty board could not be solved. Above 3: detectable. */
double ml_truth_case_shift (MlTruthCase *c, const MlFault *fault);
/** ml_truth_case_gives: some fault of `part`, -1: of any, gives y within 3 sigma, its size being free, `beside` (NULL: nothing) being there, too. */
gboolean ml_truth_case_gives (MlTruthCase *c, int part, const MlFault *beside, const double *y, const double *sigma);
/** ml_truth_case_tied: some fault of `part` gives the same readings as `fault`: none differs by more than 3 sigma, its size being free. */
gboolean ml_truth_case_tied (MlTruthCase *c, const MlFault *fault, int part);
/** ml_truth_case_reads_as_one: some single fault gives the readings of all these together, as above; sigma beside the first. */
gboolean ml_truth_case_reads_as_one (MlTruthCase *c, const MlFault *faults, guint n_faults);
/** ml_truth_case_touched: some fault of `part`, on top of `given` (NULL: on the healthy board), moves a reading by more than share sigma of the meter alone. */
gboolean ml_truth_case_touched (MlTruthCase *c, const MlFault *given, int part, double share);

/** ml_truth_all_places: every net against the reference and every supply's current, in every condition with a supply. */
GArray *ml_truth_all_places (const MlBoard *board);

/** ml_truth_job_text: a job on board file `board_file` with one unit "u1" of that state ("suspect", "good"), its readings taken with the meter. New string. */
char *ml_truth_job_text (const MlTruthCase *c, MlTruth *unit, const MlTruthMeter *meter, const char *state, const GArray *places);
/** ml_truth_reading_line: one reading statement for that place, "reading u1 c1 red=V5 volts=2.91". New string. */
char *ml_truth_reading_line (const MlBoard *board, MlTruth *unit, const MlTruthMeter *meter, const char *unit_name, const MlTruthPlace *place);

G_DEFINE_AUTOPTR_CLEANUP_FUNC (MlTruthCase, ml_truth_case_free)
G_END_DECLS
