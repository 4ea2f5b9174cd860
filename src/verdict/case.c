/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "verdict/case.h"

#include "verdict/assumptions.h"
#include "verdict/cold.h"
#include "verdict/grown.h"
#include "verdict/misread.h"
#include "verdict/observe.h"
#include "verdict/pairs.h"
#include "verdict/remember.h"

#include <math.h>
#include <string.h>

/* ---- readings ---- */

static void
take_volts (MlCase *own, MlTaken *taken, double measured)
{
  double span = own->dictionary->model->conditions[own->job->readings[taken->reading].condition].span_v;
  double off = ml_assumption ("reading.mild-share") * measured, least = ml_assumption ("reading.mild-volts");

  taken->observed = measured;
  taken->class.mild_variance = least * least + off * off;
  taken->class.span = MAX (span, ml_assumption ("reading.gross-span-v"));
}

static void
take_amps (MlTaken *taken, double measured, double limit)
{
  taken->observed = measured;
  taken->class.mild_variance = pow (0.05 * measured, 2) + 1e-6;
  taken->class.span = MAX (limit, 0.1);
  taken->class.seldom = ml_assumption ("reading.gross-amps");
}

gboolean
ml_case_find_place (const MlCase *own, const MlReading *reading, gboolean shown, MlReadingPlace *ret_place)
{
  const MlMeter *meter = &own->job->meters[reading->meter];
  const MlCondition *condition = &own->job->board->conditions[reading->condition];
  MlReadingPlace place = { .condition = reading->condition, .reads = reading->reads, .red = reading->red, .black = reading->black,
                           .supply = reading->reads == ML_READS_AMPS ? reading->supply : -1, .input_ohm = meter->input_ohm,
                           .test_a = 0, .compliance_v = meter->diode_v };

  if (shown)
    {
      const MlSupply *supply = &condition->supplies[reading->supply];
      place.reads = ML_READS_VOLTS;
      place.supply = -1;
      place.red = (MlProbe){ supply->plus, -1, -1, FALSE };
      place.black = (MlProbe){ supply->minus, -1, -1, FALSE };
      place.input_ohm = INFINITY;
    }
  if (place.reads == ML_READS_DIODE)
    place.test_a = meter->diode_a;
  if (place.reads == ML_READS_OHMS)
    {
      place.test_a = ml_meter_ohms_test_a (meter, reading->measured.over ? INFINITY : reading->measured.value);
      place.compliance_v = ml_meter_figure ("ohms-open-volts");
    }
  if (place.reads == ML_READS_AMPS)
    {
      place.red = place.black = (MlProbe){ -1, -1, -1, FALSE };
      place.input_ohm = INFINITY;
    }
  *ret_place = place;
  return place.reads == ML_READS_AMPS || place.red.net >= 0 || place.red.part >= 0;
}

/* The d.c. value of a chopped net is only an average whose size depends on what nobody measured. */
static gboolean
stands_on_switching (const MlCase *own, const MlProbe *probe)
{
  const MlBoard *board = own->job->board;
  int net = probe->net;

  if (probe->part >= 0 && probe->pin >= 0)
    net = board->parts[probe->part].pins[probe->pin].net;
  return net >= 0 && own->dictionary->model->chopped->nets[net];
}

static void
take_reading (MlCase *own, guint index, gboolean shown)
{
  const MlReading *reading = &own->job->readings[index];
  MlTaken taken = { .reading = index, .shown = shown };
  MlReadingPlace place;
  double sigma = ml_reading_sigma (own->job, reading);

  if (ml_reading_needs_cold (reading) && !ml_condition_is_cold (&own->job->board->conditions[reading->condition]))
    return; /* under power it shows anything; the cautions say so */
  if (!ml_case_find_place (own, reading, shown, &place))
    return;
  taken.variance = sigma * sigma;
  if (shown)
    {
      taken.variance = pow (reading->shown_v.resolution, 2) / 3 + pow (0.005 * reading->shown_v.value, 2) / 3;
      take_volts (own, &taken, reading->shown_v.value);
    }
  else if (ml_reading_needs_cold (reading))
    ml_taken_cold (&taken, own->job, reading);
  else if (reading->measured.over)
    return; /* volts or amps beyond the meter's range tell nothing that could be weighed */
  else if (reading->reads == ML_READS_AMPS)
    take_amps (&taken, reading->measured.value, own->job->board->conditions[reading->condition].supplies[reading->supply].limit_a);
  else
    take_volts (own, &taken, reading->measured.value);
  if (!isfinite (taken.observed) || !isfinite (taken.variance))
    return;
  if (place.reads == ML_READS_VOLTS
      && (stands_on_switching (own, &place.red) || stands_on_switching (own, &place.black)))
    taken.variance += pow (ml_assumption ("reading.switching-volts"), 2) + pow (ml_assumption ("reading.switching-share") * taken.observed, 2);
  taken.place = taken.named = ml_dictionary_place (own->dictionary, &place);
  g_array_append_val (own->taken, taken);
}

static void
find_figures (MlCase *own)
{
  own->figures = (MlCaseFigures){ .volts_v = ml_assumption ("floor.volts"),
                                  .volts_share = ml_assumption ("floor.share"),
                                  .switching_v = ml_assumption ("floor.switching-volts"),
                                  .switching_share = ml_assumption ("floor.switching-share"),
                                  .hiccup = ml_assumption ("floor.hiccup"),
                                  .dry = ml_assumption ("leak.none"),
                                  .amps_a = ml_assumption ("floor.amps"),
                                  .amps_share = ml_assumption ("floor.amps-share"),
                                  .unsolved_share = ml_assumption ("reading.unsolved-share"),
                                  .mild = ml_assumption ("reading.mild"),
                                  .gross = ml_assumption ("reading.gross") };
  ml_pin_figures_find (&own->figures.pins);
  own->ln_centre = g_new (double, MAX (own->dictionary->model->n_unknowns, 1));
  own->signal_of = g_new (int, MAX (own->dictionary->model->n_unknowns, 1));
  own->dense = g_new0 (double, own->dictionary->n_columns);
  for (guint i = 0; i < own->dictionary->model->n_unknowns; i++)
    {
      own->ln_centre[i] = log (own->dictionary->model->unknowns[i].centre);
      own->signal_of[i] = own->dictionary->model->unknowns[i].signal ? (int) own->n_signals++ : -1;
    }
}

MlCase *
ml_case_new (MlDictionary *dictionary, MlJob *job, int unit, guint pass)
{
  MlCase *own = g_new0 (MlCase, 1);

  own->dictionary = dictionary;
  find_figures (own);
  own->job = job;
  own->unit = unit;
  own->pass = pass;
  own->taken = g_array_new (FALSE, FALSE, sizeof (MlTaken));
  own->remembered = g_ptr_array_new ();
  own->items = g_new0 (MlWeighed, dictionary->n_items);
  own->probability = g_new0 (double, dictionary->n_items);
  own->hypothesis_probability = g_new0 (double, dictionary->hypotheses->len);
  own->id_of = g_new0 (guint, dictionary->hypotheses->len);
  own->part_probability = g_new0 (double, MAX (job->board->n_parts, 1));
  for (guint i = 0; i < job->n_readings; i++)
    if (job->readings[i].unit == unit && job->readings[i].pass == pass && !job->readings[i].replaced)
      {
        take_reading (own, i, FALSE);
        if (job->readings[i].has_shown)
          take_reading (own, i, TRUE);
      }
  own->misread = g_new0 (MlMisread, MAX (own->taken->len, 1));
  own->condition_slip = g_new0 (MlConditionSlip, 1);
  own->pairs = ml_pairs_new ();
  own->best_pair = -1;
  own->least_off = INFINITY;
  own->readings_left = NAN;
  return own;
}

void
ml_case_free (MlCase *own)
{
  if (!own)
    return;
  for (guint i = 0; i < own->dictionary->n_items; i++)
    {
      if (!own->items[i].lent)
        ml_expansion_free (own->dictionary, own->items[i].refined);
      ml_expansion_free (own->dictionary, own->items[i].mirrored);
      g_free (own->items[i].z_hat);
    }
  ml_expansion_free (own->dictionary, own->fine);
  ml_case_forget_remembered (own);
  g_array_unref (own->taken);
  g_free (own->ln_centre);
  g_free (own->signal_of);
  g_free (own->dense);
  g_clear_pointer (&own->fits, g_hash_table_unref);
  g_free (own->items);
  g_free (own->probability);
  g_free (own->hypothesis_probability);
  g_free (own->part_probability);
  g_free (own->id_of);
  g_free (own->misread);
  g_free (own->condition_slip);
  ml_pairs_free (own->dictionary, own->pairs);
  g_free (own);
}

/* ---- weighing ---- */

double
ml_prediction_dot (const MlPrediction *a, const MlPrediction *b)
{
  double sum = 0;

  for (guint i = 0, j = 0; i < a->n && j < b->n;)
    if (a->column[i] == b->column[j])
      sum += a->slope[i++] * b->slope[j++];
    else if (a->column[i] < b->column[j])
      i++;
    else
      j++;
  return sum;
}

/* A chip that hiccups gives averages that no fixed conductance gives: what hangs on it is known so much the worse. */
static double
hiccup (const MlCase *own, double value, double chopped)
{
  const MlCaseFigures *figures = &own->figures;
  double most = pow (figures->switching_v, 2) + pow (figures->switching_share * value, 2);

  return own->dictionary->model->any_switching ? most : MIN (most, pow (figures->hiccup * chopped, 2));
}

double
ml_case_floor (const MlCase *own, MlReads reads, double value, double chopped)
{
  const MlCaseFigures *figures = &own->figures;
  double least = reads == ML_READS_AMPS ? figures->amps_a : figures->volts_v, share = reads == ML_READS_AMPS ? figures->amps_share : figures->volts_share;

  if (reads == ML_READS_OHMS)
    return 0.02 * 0.02;
  return least * least + share * share * value * value + (reads == ML_READS_AMPS ? 0 : hiccup (own, value, chopped));
}

double
ml_case_spread (const MlCase *own, const MlPrediction *prediction, MlReads reads)
{
  return sqrt (ml_prediction_dot (prediction, prediction) + ml_case_floor (own, reads, prediction->value, prediction->chopped));
}

static const MlPrediction *
predict (MlCase *own, MlExpansion *expansion, const MlExpansion *start, guint place)
{
  if (expansion->second < 0 && expansion == own->dictionary->expansions[expansion->item])
    return ml_dictionary_predict (own->dictionary, expansion->item, place);
  return ml_expansion_predict (own->dictionary, expansion, place, start);
}

void
ml_case_predict_taken (MlCase *own, MlExpansion *expansion, const MlExpansion *start)
{
  guint n = own->taken->len;
  g_autofree guint *places = g_new (guint, MAX (n, 1));

  for (guint i = 0; i < n; i++)
    places[i] = g_array_index (own->taken, MlTaken, i).place;
  if (expansion->second < 0 && expansion == own->dictionary->expansions[expansion->item])
    ml_dictionary_predict_all (own->dictionary, expansion->item, places, n);
  else
    ml_expansion_predict_all (own->dictionary, expansion, places, n, start);
}

static double
at_z (const MlPrediction *prediction, const double *z)
{
  double sum = 0;

  for (guint i = 0; z && i < prediction->n; i++)
    sum += prediction->slope[i] * z[prediction->column[i]];
  return sum;
}

/* J_a . J_b for all b of n, by columns. */
static void
dot_all (MlCase *own, const MlPrediction *a, const MlPrediction **b, guint n, double *ret)
{
  for (guint k = 0; k < a->n; k++)
    own->dense[a->column[k]] = a->slope[k];
  for (guint i = 0; i < n; i++)
    {
      double sum = 0;

      for (guint k = 0; k < b[i]->n; k++)
        sum += b[i]->slope[k] * own->dense[b[i]->column[k]];
      ret[i] = sum;
    }
  for (guint k = 0; k < a->n; k++)
    own->dense[a->column[k]] = 0;
}

void
ml_case_residual (MlCase *own, MlExpansion *expansion, const MlExpansion *start, const double *extra, double *ret_d, double *ret_covariance)
{
  guint n = own->taken->len;
  g_autofree const MlPrediction **predictions = g_new (const MlPrediction *, MAX (n, 1));

  ml_case_predict_taken (own, expansion, start);
  for (guint i = 0; i < n; i++)
    {
      const MlTaken *taken = &g_array_index (own->taken, MlTaken, i);
      MlReads reads = g_array_index (own->dictionary->places, MlReadingPlace, taken->place).reads;

      predictions[i] = predict (own, expansion, start, taken->place);
      ret_d[i] = taken->observed - predictions[i]->value + at_z (predictions[i], expansion->z);
      dot_all (own, predictions[i], predictions, i + 1, ret_covariance + i * n);
      for (guint j = 0; j < i; j++)
        ret_covariance[j * n + i] = ret_covariance[i * n + j];
      ret_covariance[i * n + i] += taken->variance + ml_case_floor (own, reads, predictions[i]->value, predictions[i]->chopped) + (extra ? extra[i] : 0);
      if (!predictions[i]->valid)
        ret_covariance[i * n + i] += pow (own->figures.unsolved_share * taken->class.span, 2);
    }
}

/* The slopes of a prediction in leakages, as one of them alone. */
static MlPrediction
leaks_of (const MlModel *model, const MlPrediction *prediction, guint *column, double *slope)
{
  MlPrediction leaks = { .column = column, .slope = slope };

  for (guint k = 0; k < prediction->n; k++)
    if (prediction->column[k] < model->n_unknowns && model->unknowns[prediction->column[k]].leak)
      {
        column[leaks.n] = prediction->column[k];
        slope[leaks.n++] = prediction->slope[k];
      }
  return leaks;
}

/* Whether leakage does more to a reading than half of what the model leaves out. */
static gboolean
leaks_matter (MlCase *own, MlExpansion *expansion)
{
  const double least = pow (own->figures.volts_v, 2) / 4;
  const MlModel *model = own->dictionary->model;

  for (guint i = 0; i < own->taken->len; i++)
    {
      const MlPrediction *prediction = predict (own, expansion, NULL, g_array_index (own->taken, MlTaken, i).place);
      double sum = 0;

      for (guint k = 0; k < prediction->n; k++)
        if (prediction->column[k] < model->n_unknowns && model->unknowns[prediction->column[k]].leak)
          sum += prediction->slope[k] * prediction->slope[k];
      if (sum > least)
        return TRUE;
    }
  return FALSE;
}

static void
take_leaks_out (MlCase *own, MlExpansion *expansion, double *covariance)
{
  guint n = own->taken->len, most = own->dictionary->n_columns;
  g_autofree const MlPrediction **predictions = g_new (const MlPrediction *, MAX (n, 1));
  g_autofree guint *column = g_new (guint, most);
  g_autofree double *slope = g_new (double, most), *off = g_new (double, MAX (n, 1));

  for (guint i = 0; i < n; i++)
    {
      predictions[i] = predict (own, expansion, NULL, g_array_index (own->taken, MlTaken, i).place);
      MlPrediction leaks = leaks_of (own->dictionary->model, predictions[i], column, slope);

      dot_all (own, &leaks, predictions, i + 1, off);
      for (guint j = 0; j <= i; j++)
        covariance[i * n + j] = covariance[j * n + i] -= off[j];
    }
}

/* Most boards leak nothing worth mentioning, some do: a net that floats at 0 V must not lose against one that is tied there. */
static void
mix_in_dry (MlCase *own, MlExpansion *expansion, const double *d, double *covariance, const MlReadingClass *classes, MlEvidence *evidence)
{
  double dry = own->figures.dry;
  MlEvidence without;

  if (!leaks_matter (own, expansion))
    return;
  take_leaks_out (own, expansion, covariance);
  if (!ml_evidence_weigh (d, covariance, classes, own->taken->len, own->figures.mild, own->figures.gross, &without))
    return;
  evidence->ln = ml_ln_add (evidence->ln + log (1 - dry), without.ln + log (dry));
  ml_evidence_clear (&without);
}

gboolean
ml_case_weigh (MlCase *own, MlExpansion *expansion, const MlExpansion *start, const double *extra, MlEvidence *ret_evidence)
{
  guint n = own->taken->len;
  g_autofree double *d = g_new0 (double, MAX (n, 1));
  g_autofree double *covariance = g_new0 (double, MAX (n * n, 1));
  g_autofree MlReadingClass *classes = g_new0 (MlReadingClass, MAX (n, 1));

  ml_case_residual (own, expansion, start, extra, d, covariance);
  for (guint i = 0; i < n; i++)
    classes[i] = g_array_index (own->taken, MlTaken, i).class;
  if (!ml_evidence_weigh (d, covariance, classes, n, own->figures.mild, own->figures.gross, ret_evidence))
    return FALSE;
  mix_in_dry (own, expansion, d, covariance, classes, ret_evidence);
  ret_evidence->ln += ml_case_pins_ln (own, expansion, ret_evidence);
  return TRUE;
}

gboolean
ml_case_same_as_twin (const MlCase *own, guint item)
{
  int part = ml_dictionary_hypothesis (own->dictionary, item)->fault.part;

  if (own->dictionary->items[item].twin < 0)
    return FALSE;
  for (guint i = 0; i < own->taken->len; i++)
    {
      guint index = g_array_index (own->taken, MlTaken, i).place;
      const MlReadingPlace *place = &g_array_index (own->dictionary->places, MlReadingPlace, index);
      if ((place->red.lead && place->red.part == part) || (place->black.lead && place->black.part == part))
        return FALSE;
    }
  return TRUE;
}

/* The evidence of an item at its centre, grown from that of fewer readings. */
static double
weigh_item (MlGrowing *growing, guint item, MlGrown *known, const MlForeseen *const *foreseen)
{
  MlCase *own = growing->own;
  MlGrown fresh = { 0 }, *grown = known ? known : &fresh;
  double ln;

  while (grown->with.n < own->taken->len && !grown->lost)
    {
      guint place = g_array_index (own->taken, MlTaken, grown->with.n).place;
      const MlPrepared *prepared = ml_foreseen_of (foreseen[grown->with.n], own->dictionary, item, place);

      if (prepared)
        ml_grown_take (growing, item, grown, prepared);
      else
        {
          ml_case_predict_taken (own, own->dictionary->expansions[item], NULL);
          ml_grown_next (growing, item, grown);
        }
    }
  ln = ml_grown_ln (growing, item, grown);
  ml_grown_clear (&fresh);
  return ln;
}

static gboolean
fill_items (MlCase *own, MlRemembered *remembered, GCancellable *cancellable, GError **error)
{
  g_autofree const MlForeseen **foreseen = g_new (const MlForeseen *, MAX (own->taken->len, 1));
  MlGrowing growing;
  gboolean going = TRUE;

  for (guint i = 0; i < own->taken->len; i++)
    foreseen[i] = ml_foreseen_find (remembered->foreseen, own->dictionary, g_array_index (own->taken, MlTaken, i).place, i);
  ml_growing_init (&growing, own);
  for (guint i = 0; i < own->dictionary->n_early && going; i++)
    {
      going = !g_cancellable_set_error_if_cancelled (cancellable, error);
      if (ml_case_same_as_twin (own, i))
        own->items[i].ln = own->items[own->dictionary->items[i].twin].ln;
      else if (going)
        own->items[i].ln = weigh_item (&growing, i, remembered->grown ? &remembered->grown[i] : NULL, foreseen)
                           + ml_case_seen_ln (own, own->dictionary->expansions[i], NULL);
    }
  ml_growing_clear (&growing);
  if (going) /* what they followed upon is past */
    g_ptr_array_set_size (remembered->foreseen, 0);
  return going;
}

gboolean
ml_case_fill (MlCase *own, GCancellable *cancellable, GError **error)
{
  MlRemembered *remembered = ml_case_remember (own);

  for (guint i = own->dictionary->n_early; i < own->dictionary->n_items; i++)
    own->items[i].ln = -INFINITY;
  for (guint i = 0; i < own->dictionary->n_early && remembered->filled; i++)
    own->items[i].ln = remembered->ln[i];
  if (!remembered->filled && !fill_items (own, remembered, cancellable, error))
    return FALSE;
  for (guint i = 0; i < own->dictionary->n_early; i++)
    remembered->ln[i] = own->items[i].ln;
  remembered->filled = TRUE;
  own->misfit_ln = ml_case_misfit (own, remembered->misfit) + ml_case_seen_misfit_ln (own);
  return TRUE;
}

MlExpansion *
ml_case_expansion (const MlCase *own, guint item)
{
  int twin = own->dictionary->items[item].twin;

  if (own->items[item].refined)
    return own->items[item].refined;
  if (twin >= 0 && own->items[twin].refined && ml_case_same_as_twin (own, item))
    return own->items[twin].refined;
  return own->dictionary->expansions[item];
}

const MlPrediction *
ml_case_predict_at (MlCase *own, MlExpansion *at, guint place)
{
  return predict (own, at, NULL, place);
}

/* A joint judged as that of the other pin reads the same from the solder, but not from the part's own metal. */
static MlExpansion *
mirror (MlCase *own, guint item)
{
  MlWeighed *weighed = &own->items[item];

  if (!weighed->mirrored)
    weighed->mirrored = ml_expansion_new (own->dictionary, (int) item, -1, ml_case_expansion (own, item)->z);
  return weighed->mirrored;
}

const MlPrediction *
ml_case_predict (MlCase *own, guint item, guint place)
{
  const MlReadingPlace *at = &g_array_index (own->dictionary->places, MlReadingPlace, place);
  int part = ml_dictionary_hypothesis (own->dictionary, item)->fault.part;

  if (ml_case_expansion (own, item)->item != (int) item && ((at->red.lead && at->red.part == part) || (at->black.lead && at->black.part == part)))
    return predict (own, mirror (own, item), NULL, place);
  return predict (own, ml_case_expansion (own, item), NULL, place);
}

/* ---- probabilities ---- */

static double
ln_prior (const MlCase *own, guint item)
{
  return log (ml_dictionary_hypothesis (own->dictionary, item)->prior * own->dictionary->items[item].share);
}

/* exp (ln + ln prior - most) of everything, into its probability; their sum. */
static double
add_up (MlCase *own, double misfit)
{
  const MlDictionary *dictionary = own->dictionary;
  double most = misfit, total = 0;

  for (guint i = 0; i < dictionary->n_items; i++)
    most = MAX (most, own->items[i].ln + ln_prior (own, i));
  for (guint i = 0; i < own->pairs->len; i++)
    most = MAX (most, g_array_index (own->pairs, MlPair, i).ln + g_array_index (own->pairs, MlPair, i).ln_prior);
  for (guint i = 0; i < dictionary->n_items; i++)
    total += own->probability[i] = exp (own->items[i].ln + ln_prior (own, i) - most);
  for (guint i = 0; i < own->pairs->len; i++)
    {
      MlPair *pair = &g_array_index (own->pairs, MlPair, i);
      total += pair->probability = exp (pair->ln + pair->ln_prior - most);
    }
  return total + (own->misfit_probability = exp (misfit - most));
}

/* What would be mended: the part, or of faults between the parts each by itself, numbered below zero. */
static int
mended (const MlCase *own, guint item)
{
  int part = ml_dictionary_hypothesis (own->dictionary, item)->fault.part;

  return part >= 0 ? part : -1 - (int) own->dictionary->items[item].hypothesis;
}

/* Pairs of the same two parts are one explanation: it leads when together they outweigh the likeliest single one. */
static double
same_parts (const MlCase *own, const MlPair *pair)
{
  int a = mended (own, pair->first), b = mended (own, pair->second);
  double sum = 0;

  for (guint i = 0; i < own->pairs->len; i++)
    {
      const MlPair *other = &g_array_index (own->pairs, MlPair, i);
      int c = mended (own, other->first), d = mended (own, other->second);
      sum += (a == c && b == d) || (a == d && b == c) ? other->probability : 0;
    }
  return sum;
}

static void
update_pairs (MlCase *own, double total)
{
  double best = own->hypothesis_probability[own->dictionary->items[own->best_item].hypothesis];

  own->best_pair = -1;
  for (guint i = 0; i < own->pairs->len; i++)
    g_array_index (own->pairs, MlPair, i).probability /= total;
  for (guint i = 0; i < own->pairs->len; i++)
    {
      const MlPair *pair = &g_array_index (own->pairs, MlPair, i);
      int a = ml_dictionary_hypothesis (own->dictionary, pair->first)->fault.part, b = ml_dictionary_hypothesis (own->dictionary, pair->second)->fault.part;

      if (a >= 0)
        own->part_probability[a] += pair->probability;
      if (b >= 0)
        own->part_probability[b] += pair->probability;
      if (same_parts (own, pair) > best)
        {
          best = same_parts (own, pair);
          own->best_pair = (int) i;
        }
    }
}

/* What has not been looked at is a drawing that cannot be right, of a kind not known yet. */
double
ml_case_misfit_prior (const MlCase *own)
{
  double prior = own->dictionary->misfit_prior;

  for (guint h = 0; h < own->dictionary->hypotheses->len && !own->looked_late; h++)
    if (g_array_index (own->dictionary->hypotheses, MlHypothesis, h).late)
      prior += g_array_index (own->dictionary->hypotheses, MlHypothesis, h).prior;
  return prior;
}

void
ml_case_update (MlCase *own)
{
  const MlDictionary *dictionary = own->dictionary;
  double total = add_up (own, own->misfit_ln + log (ml_case_misfit_prior (own)));

  own->misfit_probability /= total;
  memset (own->hypothesis_probability, 0, dictionary->hypotheses->len * sizeof (double));
  memset (own->part_probability, 0, dictionary->model->board->n_parts * sizeof (double));
  own->best_item = 0;
  own->drawing_probability = 0;
  for (guint i = 0; i < dictionary->n_items; i++)
    {
      const MlHypothesis *hypothesis = ml_dictionary_hypothesis (dictionary, i);

      own->probability[i] /= total;
      own->hypothesis_probability[dictionary->items[i].hypothesis] += own->probability[i];
      if (hypothesis->explains == ML_EXPLAINS_FAULT && hypothesis->fault.part >= 0)
        own->part_probability[hypothesis->fault.part] += own->probability[i];
      if (hypothesis->explains == ML_EXPLAINS_DRAWING)
        own->drawing_probability += own->probability[i];
    }
  /* The leading item: the likeliest item of the likeliest hypothesis. */
  for (guint i = 1, best = 0; i < dictionary->n_items; i++)
    {
      guint h = dictionary->items[i].hypothesis, b = dictionary->items[best].hypothesis;
      if (own->hypothesis_probability[h] > own->hypothesis_probability[b] || (h == b && own->probability[i] > own->probability[best]))
        best = i;
      own->best_item = best;
    }
  update_pairs (own, total);
}
