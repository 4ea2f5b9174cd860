/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One unit's readings against the dictionary: the posterior over all items, refined where it matters. */
#pragma once

#include "verdict/dictionary.h"
#include "verdict/evidence.h"
#include "verdict/judge.h"
#include "verdict/whitened.h"

G_BEGIN_DECLS

typedef struct
{
  int reading;        /* index into the job's */
  gboolean shown;     /* the volts of a supply's display */
  guint place;
  double observed;    /* V, A, ln ohm */
  double variance;    /* of the meter */
  guint named;        /* the place that the person named; place differs from it after a whole condition was mixed up */
  double kept_digits; /* probability of the digits that it would lack as the thousandth of what was shown */
  MlReadingClass class;
} MlTaken;

typedef struct
{
  double ln;             /* evidence */
  double heard;          /* of a late slip: ln of how much likelier good units make it */
  MlExpansion *refined;  /* NULL: judged at its centre */
  gboolean lent;         /* refined is one of the remembered, not ours */
  MlExpansion *mirrored; /* of an item judged as its twin, at the twin's point: what its own metal shows; NULL: not asked for yet */
  double *z_hat;         /* posterior mean at the refined point; with refined */
} MlWeighed;

typedef struct _MlMisread MlMisread;             /* verdict/misread.h */
typedef struct _MlConditionSlip MlConditionSlip;
typedef struct _MlPair MlPair;                   /* verdict/pairs.h */

/* What an unknown chip's pin is, in ln ohm: see chip-pins.c. */
typedef struct { double share, mean, precision; } MlPinState; /* precision: 1 / spread^2 */
typedef struct
{
  MlPinState states[2];
  double most;      /* of what one pin may add, as a factor */
  double node_step;
  double alike, alike_spread, alike_most, ln_drives_most; /* outputs of one chip: how often alike, how nearly in ln, what it may add as a factor; up to which ln ohm one drives */
} MlPinFigures;

/* Assumptions that are asked for in the innermost loops. */
typedef struct
{
  double volts_v, volts_share, zero_v, zero_scale; /* floors */
  double switching_v, switching_share, hiccup;
  double amps_a, amps_share;
  double unsolved_share, mild, gross, dry;
  MlPinFigures pins;
} MlCaseFigures;

typedef struct
{
  MlDictionary *dictionary;
  MlCaseFigures figures;
  double *ln_centre;     /* per unknown of the model */
  int *signal_of;        /* per unknown: which of those it is that are pins of unknown chips; -1 */
  guint n_signals;
  GHashTable *fits;      /* MlEvidence by expansion, once nothing is fitted any more; NULL before */
  MlJob *job;
  int unit;
  guint pass;
  GArray *taken;         /* MlTaken */
  GPtrArray *remembered; /* MlRemembered that something was taken from */
  MlWeighed *items;      /* per dictionary item */
  double *probability;   /* per item */
  gboolean looked_late;  /* at late hypotheses: until then the misfit stands for them */
  double misfit_ln, misfit_probability;
  double *hypothesis_probability;
  double *part_probability; /* per board part: of its faults, not of slips in drawing it */
  double drawing_probability; /* of all drawing slips */
  guint *id_of;          /* per hypothesis the id of its explanation, 0 when it has none */
  guint best_item;       /* the likeliest single state of affairs */
  double bench_ln;       /* evidence of the best fit that the faults were looked at again by */
  double least_off;      /* the smallest objective that a fit has reached so far */
  GArray *pairs;         /* MlPair: two faults at once that have earned it */
  int best_pair;         /* the likeliest of all explanations is this pair, else -1 */
  MlExpansion *fine;     /* the sound board on this bench; NULL: not asked for yet */
  gboolean *taken_over;  /* per column: whether `fine` has it from the leader */
  double fit_tail;       /* chi-squared tail of the leader */
  MlMisread *misread;    /* per taken: what seems to have gone wrong with it */
  double readings_left;  /* as ml_case_next finds: expected until one thing to work on is probable; NAN: not known */
  gboolean untold;       /* as ml_case_next finds: no reading with every leg in place tells the leading things apart */
  const GPtrArray *goods; /* MlGoodUnit, borrowed; NULL: none */
  gboolean glancing;     /* not all items have been looked at, nor will be: see glance.c */
  MlConditionSlip *condition_slip; /* a whole condition that was taken otherwise; its slip ML_SLIP_NONE: none */
} MlCase;

MlCase *ml_case_new (MlDictionary *dictionary, MlJob *job, int unit, guint pass);
void ml_case_free (MlCase *own);
/** ml_case_is_read_in: whether a reading was taken in that condition. */
gboolean ml_case_is_read_in (const MlCase *own, int condition);
/** ml_case_find_place: where and with what a reading is taken (shown: a supply's display instead). FALSE: nowhere. */
gboolean ml_case_find_place (const MlCase *own, const MlReading *reading, gboolean shown, MlReadingPlace *ret_place);
/** ml_case_take_reading: the job's reading of that index (shown: a supply's display instead) into own->taken, when it can be weighed at all. */
void ml_case_take_reading (MlCase *own, guint index, gboolean shown);
/** ml_case_weigh: evidence of an expansion's predictions; extra (may be NULL) adds to each reading's variance. Free the result. FALSE: no usable covariance. */
gboolean ml_case_weigh (MlCase *own, MlExpansion *expansion, const MlExpansion *start, const double *extra, MlEvidence *ret_evidence);
/** ml_case_pins_ln: what the unknown chips' pins, as the evidence leaves them, add to its ln: see chip-pins.c. */
double ml_case_pins_ln (MlCase *own, MlExpansion *at, const MlEvidence *evidence);
/** ml_case_grown_pins_ln: the same of an item at its centre, the pins being what `grown` watches; memory[4 n_watched]. */
double ml_case_grown_pins_ln (const MlCase *own, guint item, const MlWhitened *grown, const MlMixed *mixed, double *memory);
gboolean ml_case_weighs_pins (const MlCase *own);
/** ml_case_is_input: whether an expansion has that unknown where a chip's pin takes no current, and stays; ml_case_inputs_ln: ln share of such pins. */
gboolean ml_case_is_input (const MlCase *own, guint unknown, const MlExpansion *at);
double ml_case_inputs_ln (const MlCase *own, const MlExpansion *at);
/** ml_case_refine_inputs: what leads refined anew with those pins of unknown chips as inputs that the readings are likelier for; kept when that is the
 *  better fit. After everything that begins where the chips were found: on a bench with inputs, what needs such a pin to drive would be lost. Errors: cancelled. */
gboolean ml_case_refine_inputs (MlCase *own, GCancellable *cancellable, GError **error);
/** ml_case_refine_flips: the sound board fitted from where an amplifier's inputs stand the other way round, unless it is likely anyway. Errors: cancelled. */
gboolean ml_case_refine_flips (MlCase *own, GCancellable *cancellable, GError **error);
/** ml_case_exchange_fits: what leads fitted once more from where the other leaders were found; the better fits are kept. Errors: cancelled. */
gboolean ml_case_exchange_fits (MlCase *own, GCancellable *cancellable, GError **error);
/** ml_case_weigh_coincidences: slips in drawing the nets of an unknown chip, and faults at its pins that its freedom alone makes likely, speak for
 *  themselves by no more than `most` nats where the sound board gives the readings, too; after all fits. Always TRUE. */
gboolean ml_case_weigh_coincidences (MlCase *own, double most);
/** ml_case_is_about_chip: whether an item is a slip in drawing the nets of an unknown chip, or a fault of one. */
gboolean ml_case_is_about_chip (const MlCase *own, guint item);
void ml_pin_figures_find (MlPinFigures *ret);
/** ml_case_same_as_twin: whether an item reads as its twin at all that was taken. */
gboolean ml_case_same_as_twin (const MlCase *own, guint item);
/** ml_case_fill: evidence of all items at their centres. Errors: cancelled. */
gboolean ml_case_fill (MlCase *own, GCancellable *cancellable, GError **error);
/** ml_case_fill_some: of those items only; the rest stays as it is. */
void ml_case_fill_some (MlCase *own, const guint *items, guint n);
/** ml_case_refine: the leaders relinearised. Errors: cancelled. */
gboolean ml_case_refine (MlCase *own, GCancellable *cancellable, GError **error);
/** ml_case_refine_more: more of them where the best one does not fit: what is right may have looked hopeless. Errors: cancelled. */
gboolean ml_case_refine_more (MlCase *own, GCancellable *cancellable, GError **error);
/** ml_case_refine_on_bench: faults looked at again where the unknown chips do what the best fits found them to do. Errors: cancelled. */
gboolean ml_case_refine_on_bench (MlCase *own, GCancellable *cancellable, GError **error);
/** ml_case_refine_on_new_bench: the same again, and the fits exchanged, as often as the chips and unread values have been found elsewhere since, by a far
 *  better fit. Errors: cancelled. */
gboolean ml_case_refine_on_new_bench (MlCase *own, GCancellable *cancellable, GError **error);
/* An item, a hypothesis …, and how it ranks. */
typedef struct { guint index; double score; } MlScored;
/** ml_scored_best_first: compares two MlScored for sorting; equal ones stay in the order of their index. */
gint ml_scored_best_first (gconstpointer a, gconstpointer b);
/** ml_case_is_blamed: whether that part is at fault, or drawn wrongly, under an expansion of one item or two. */
gboolean ml_case_is_blamed (const MlCase *own, const MlExpansion *at, int part);
/** ml_case_beside_ln: what speaks for an expansion beside the readings, in ln: what was seen, and that unread resistors do not burn. start as in
 *  ml_case_weigh. */
double ml_case_beside_ln (MlCase *own, MlExpansion *at, const MlExpansion *start);
/** ml_case_say_unread: reasons that say which unread values an item takes to be unusual ones ("it takes R6, whose value is not said, for about 30 ohm (2.7 W)"). */
void ml_case_say_unread (MlCase *own, guint item, GPtrArray *reasons);
/** ml_case_ln_at: evidence of readings and of what stands beside them, taken at an expansion as it stands; start (may be NULL) is near it. */
double ml_case_ln_at (MlCase *own, MlExpansion *at, const MlExpansion *start);
/** ml_case_fit_from: from `start`, which stays, to its fit: a new expansion, or NULL when nothing is to be gained. *ret_ln: evidence of a fit. */
MlExpansion *ml_case_fit_from (MlCase *own, MlExpansion *start, double *ret_ln);
/** ml_case_fit: relinearised from `start`, which is taken: the fit, or start itself where nothing is to be gained. *ret_ln: its evidence. */
MlExpansion *ml_case_fit (MlCase *own, MlExpansion *start, double *ret_ln);
/** ml_case_fault_as_value: the item's fault at z, z[n_columns], taken for the value of its part instead, which nobody could read: z follows. FALSE: it cannot be. */
gboolean ml_case_fault_as_value (const MlCase *own, guint item, double *z);
/** ml_case_keep_better_fit: from `start`, which is taken, to the fit; it takes the place of the item's own when it is the better one. */
void ml_case_keep_better_fit (MlCase *own, guint item, MlExpansion *start);
/** ml_case_fit_without: what the item reads at the place of `taken` where it fits the readings that are not let go. */
double ml_case_fit_without (MlCase *own, guint item, const gboolean *let_go, guint taken);
/** ml_case_z_from: z of that expansion, which has one, but for the sizes of the faults, which are those of `sizes`. New array. */
double *ml_case_z_from (const MlCase *own, const MlExpansion *at, const MlExpansion *sizes);
/** ml_case_settled_ln: what the readings say at a place from which no step leads on: what the straight line still promises there is not to be had. */
double ml_case_settled_ln (MlCase *own, MlExpansion *at);
/** ml_case_refine_item: one item relinearised, its evidence taken at the fit. */
void ml_case_refine_item (MlCase *own, guint item);
/** ml_case_follow_twins: items that are judged as their twin are as likely as it, now that it may have been refined. */
void ml_case_follow_twins (MlCase *own);
/** ml_case_find_wrong_nets: pins drawn on the wrong net, looked for when something seems to be wrong. Errors: cancelled. */
gboolean ml_case_find_wrong_nets (MlCase *own, GCancellable *cancellable, GError **error);
/** ml_case_screen_wrong_nets: of those the `most` that best go with a fault, an item, by a rough look; appended to ret_items (guint). Errors: cancelled. */
gboolean ml_case_screen_wrong_nets (MlCase *own, guint beside, guint most, GArray *ret_items, GCancellable *cancellable, GError **error);
/** ml_case_blunted: variances to add to each reading, standard deviation volts (amps and ln ohm in proportion) and share of the reading; new array. */
double *ml_case_blunted (const MlCase *own, double volts, double share);
/** ml_case_update: probabilities from evidence and priors. */
void ml_case_update (MlCase *own);
/** ml_case_expansion: where an item was last linearised. */
MlExpansion *ml_case_expansion (const MlCase *own, guint item);
const MlPrediction *ml_case_predict (MlCase *own, guint item, guint place);
/** ml_case_misfit: ln density of the readings when the drawing is wrong; known (double) holds that of the first ones and is filled up. */
double ml_case_misfit (MlCase *own, GArray *known);
/** ml_case_misfit_density: of one reading when the drawing is wrong; values: what each of the n_early items gives there, NAN where it cannot be computed. */
double ml_case_misfit_density (MlCase *own, const MlTaken *taken, const double *values);
/** ml_case_misfit_prior: that the drawing is wrong in a way not looked at. */
double ml_case_misfit_prior (const MlCase *own);
/** ml_case_predict_several: has the predictions of several places at hand; cheaper than one by one. start (may be NULL): where Newton begins. */
void ml_case_predict_several (MlCase *own, MlExpansion *expansion, const MlExpansion *start, const guint *places, guint n);
/** ml_case_predict_taken: has the predictions of all readings taken at hand; cheaper than one by one. */
void ml_case_predict_taken (MlCase *own, MlExpansion *expansion, const MlExpansion *start);
/** ml_case_predict_taken_with: the same of those readings only that are of the same condition as that one. */
void ml_case_predict_taken_with (MlCase *own, MlExpansion *expansion, const MlExpansion *start, guint taken);
/** ml_case_residual: d and covariance of an expansion; arrays n and n * n. */
void ml_case_residual (MlCase *own, MlExpansion *expansion, const MlExpansion *start, const double *extra, double *ret_d, double *ret_covariance);
/** ml_prediction_dot: J_a . J_b */
double ml_prediction_dot (const MlPrediction *a, const MlPrediction *b);
/** ml_case_floor: variance of what the model leaves out, of a reading of that kind predicted as value; chopped as in MlPrediction. */
double ml_case_floor (const MlCase *own, MlReads reads, double value, double chopped);
/** ml_case_left_out: the same of a reading that is yet to be taken: what a switching net's average may be (a taken one's variance has it) comes to it. */
double ml_case_left_out (const MlCase *own, guint place, double value, double chopped);
/** ml_case_spread: standard deviation of a prediction from tolerances and floor. */
double ml_case_spread (const MlCase *own, const MlPrediction *prediction, MlReads reads);

/** ml_case_benches: per node of the blocks what they and the supplies do there by the best fit, and the values nobody could read, as z; NULL where
 * that is next to nothing. An unknown chip may do anything: what was found is where other states of affairs are looked at too. Free with
 * ml_case_benches_free. */
double **ml_case_benches (const MlCase *own);
void ml_case_benches_free (const MlCase *own, double **benches);
/** ml_case_fine: the sound board as it would be on this bench, its unknown chips doing what the leader found; after refinement. Owned by the case. */
MlExpansion *ml_case_fine (MlCase *own);
/** ml_case_predict_fine: what is read there on that board (V, A or ln ohm) and its spread; NAN when it could not be computed. */
double ml_case_predict_fine (MlCase *own, guint place, double *ret_sigma);
/** ml_case_keep_fits: from here on readings, doubts and expansions stay as they are. */
void ml_case_keep_fits (MlCase *own);
/** ml_case_fitted_along: by how much the readings move anything linear in z from an item's expansion, and the variance they leave. */
double ml_case_fitted_along (MlCase *own, MlExpansion *at, const MlPrediction *along, double *ret_variance);
/** ml_case_predict_at: of any expansion. */
const MlPrediction *ml_case_predict_at (MlCase *own, MlExpansion *at, guint place);

/** ml_case_cleared: per part, whether the readings speak against it. leader: item. Errors: cancelled. */
gboolean ml_case_cleared (MlCase *own, gboolean *ret_cleared, GCancellable *cancellable, GError **error);
/**
 * ml_case_next: the next readings, best first; new array of *ret_n. Errors: cancelled; NULL then.
 */
MlNextReading *ml_case_next (MlCase *own, guint *ret_n, GCancellable *cancellable, GError **error);
/**
 * ml_information: bits of information about which class holds (classes key[n], weight[n] summing to 1) that one reading is expected to
 * give, when item i predicts it as normal with mean[i] and sigma[i]. Five-point Gauss-Hermite quadrature (Abramowitz and Stegun 25.4.46).
 */
double ml_information (const double *weight, const int *key, const double *mean, const double *sigma, guint n);

G_END_DECLS
