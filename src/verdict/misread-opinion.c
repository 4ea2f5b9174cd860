/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What one state of affairs says about one reading, given all others: read well, or which slip. */
#include "verdict/misread-private.h"

#include "verdict/assumptions.h"

#include <math.h>

static double
normal (double x, double mean, double variance)
{
  return exp (-(x - mean) * (x - mean) / (2 * variance)) / sqrt (2 * G_PI * variance);
}

/* ---- a reading given the others ---- */

void
ml_given_clear (Given *given)
{
  ml_evidence_clear (&given->evidence);
  g_clear_pointer (&given->which, g_free);
}

/* The readings that are neither let go nor among the two left out. */
gboolean
ml_given_init (Given *given, MlCase *own, const gboolean *let_go, guint item, int without, int without_too)
{
  guint all = own->taken->len;
  g_autofree double *d = g_new0 (double, all);
  g_autofree double *covariance = g_new0 (double, all * all);
  g_autofree MlReadingClass *classes = g_new0 (MlReadingClass, all);

  *given = (Given){ .own = own, .item = item, .which = g_new (guint, all) };
  ml_case_residual (own, ml_case_expansion (own, item), NULL, NULL, d, covariance);
  for (guint i = 0; i < all; i++)
    if (!let_go[i] && (int) i != without && (int) i != without_too)
      given->which[given->n++] = i;
  for (guint i = 0; i < given->n; i++)
    {
      d[i] = d[given->which[i]];
      classes[i] = g_array_index (own->taken, MlTaken, given->which[i]).class;
      for (guint j = 0; j < given->n; j++) /* rows move up, never down: nothing is overwritten before it is read */
        covariance[i * given->n + j] = covariance[given->which[i] * all + given->which[j]];
    }
  if (ml_evidence_weigh (d, covariance, classes, given->n, ml_assumption ("reading.mild"), ml_assumption ("reading.gross"), &given->evidence))
    return TRUE;
  ml_given_clear (given);
  return FALSE;
}

/* Mean and variance of a place, the model's floor included, the meter's own error not. */
static void
given_predict (const Given *given, guint place, double *ret_mean, double *ret_variance)
{
  MlCase *own = given->own;
  const MlPrediction *next = ml_case_predict (own, given->item, place);
  const MlReadingPlace *at = &g_array_index (own->dictionary->places, MlReadingPlace, place);
  const double *z = ml_case_expansion (own, given->item)->z;
  g_autofree double *k = g_new0 (double, MAX (given->n, 1));
  g_autofree double *solved = g_new0 (double, MAX (given->n, 1));
  double mean = next->value, variance = ml_prediction_dot (next, next);
  MlReads reads = at->reads;
  int condition = at->condition;

  for (guint i = 0; z && i < next->n; i++)
    mean -= next->slope[i] * z[next->column[i]];
  for (guint i = 0; i < given->n; i++)
    k[i] = ml_prediction_dot (next, ml_case_predict (own, given->item, g_array_index (own->taken, MlTaken, given->which[i]).place));
  ml_evidence_solve (&given->evidence, k, solved);
  for (guint i = 0; i < given->n; i++)
    {
      mean += k[i] * given->evidence.a[i];
      variance -= k[i] * solved[i];
    }
  if (!next->valid)
    variance += pow (ml_assumption ("reading.unsolved-share") * MAX (own->dictionary->model->conditions[condition].span_v, 1), 2);
  *ret_mean = mean;
  *ret_variance = MAX (variance, 0) + ml_case_floor (own, reads, next->value, next->chopped);
}

/* ---- what a slip would have given ---- */

static double
density_at (const Given *given, const MlTaken *taken, const MlReadingPlace *place)
{
  double mean, variance;

  given_predict (given, ml_dictionary_place (given->own->dictionary, place), &mean, &variance);
  return normal (taken->observed, mean, variance + taken->variance);
}

static double
swapped_density (const MlTaken *taken, MlReads reads, double mean, double variance)
{
  if (reads == ML_READS_OHMS || reads == ML_READS_AMPS)
    return 0;
  return normal (-taken->observed, mean, variance + taken->variance);
}

/* The typed figure is a thousand times too large or too small; its uncertainty scales with it. */
static double
thousandfold_density (const MlTaken *taken, MlReads reads, double mean, double variance)
{
  double y = taken->observed;

  if (reads == ML_READS_OHMS)
    return (normal (y - log (1000), mean, variance + taken->variance) + normal (y + log (1000), mean, variance + taken->variance)) / 2;
  return normal (y / 1000, mean, variance + taken->variance * 1e-6) / 1000 / 2
         + taken->kept_digits * normal (y * 1000, mean, variance + taken->variance * 1e6) * 1000 / 2;
}

static gboolean
share_a_part (const MlBoard *board, int net_a, int net_b)
{
  for (guint i = 0; i < board->n_parts; i++)
    if (ml_part_pin_on (&board->parts[i], net_a) >= 0 && ml_part_pin_on (&board->parts[i], net_b) >= 0)
      return TRUE;
  return FALSE;
}

static int
net_of (const MlBoard *board, const MlProbe *probe)
{
  return probe->part >= 0 && probe->pin >= 0 ? board->parts[probe->part].pins[probe->pin].net : probe->net;
}

/* The name of that net nearest to what the person had in mind: a pin of the part that was named, if it has one there. */
static MlProbe
probe_on (const MlBoard *board, int net, const MlProbe *meant)
{
  const int pin = meant->part >= 0 ? ml_part_pin_on (&board->parts[meant->part], net) : -1;

  return (MlProbe){ net, pin >= 0 ? meant->part : -1, pin, FALSE };
}

typedef struct { double sum, weight, best; } Mean;

static void
add_net_density (const Given *given, const MlTaken *taken, gboolean black, int net, Mean *mean, Opinion *opinion)
{
  MlDictionary *dictionary = given->own->dictionary;
  MlReadingPlace place = g_array_index (dictionary->places, MlReadingPlace, taken->place);
  MlProbe *moved = black ? &place.black : &place.red, meant = *moved;
  int other = net_of (dictionary->model->board, black ? &place.red : &place.black), own = net_of (dictionary->model->board, &meant);
  double weight = net == own || share_a_part (dictionary->model->board, own, net) ? 1 : ml_assumption ("misread.far-pin"), density;

  if (net == other || (net == own && !meant.lead))
    return;
  *moved = (MlProbe){ net, -1, -1, FALSE };
  density = density_at (given, taken, &place);
  mean->sum += weight * density;
  mean->weight += weight;
  if (weight * density > mean->best)
    {
      mean->best = weight * density;
      opinion->at = probe_on (dictionary->model->board, net, &meant);
      opinion->at_black = black;
    }
}

/* Mean over the other nets; those that share a part with the one named are likelier. The black probe moves too, unless it rests on the
 * reference. */
static double
pin_density (const Given *given, const MlTaken *taken, Opinion *opinion)
{
  MlCase *own = given->own;
  const MlBoard *board = own->job->board;
  const MlReadingPlace place = g_array_index (own->dictionary->places, MlReadingPlace, taken->place);
  gboolean black = net_of (board, &place.black) != board->reference;
  Mean mean = { 0 };

  if (place.reads == ML_READS_AMPS)
    return 0;
  for (guint net = 0; net < board->n_nets; net++)
    {
      add_net_density (given, taken, FALSE, net, &mean, opinion);
      if (black)
        add_net_density (given, taken, TRUE, net, &mean, opinion);
    }
  return mean.weight > 0 ? mean.sum / mean.weight : 0;
}

/* Whether the same reading can be taken in another condition at all. */
static gboolean
has_place_in (const MlCase *own, const MlReadingPlace *place, guint condition)
{
  const MlModelCondition *model = &own->dictionary->model->conditions[condition];

  if ((int) condition == place->condition || !model->solver)
    return FALSE;
  return place->reads != ML_READS_AMPS || (guint) place->supply < own->job->board->conditions[condition].n_supplies;
}

static double
condition_density (const Given *given, const MlTaken *taken, Opinion *opinion)
{
  MlCase *own = given->own;
  double sum = 0, best = 0;
  guint n = 0;

  for (guint c = 0; c < own->job->board->n_conditions; c++)
    {
      MlReadingPlace place = g_array_index (own->dictionary->places, MlReadingPlace, taken->place);
      double density;

      if (!has_place_in (own, &place, c))
        continue;
      place.condition = (int) c;
      density = density_at (given, taken, &place);
      sum += density;
      n++;
      if (density > best)
        {
          best = density;
          opinion->condition = (int) c;
        }
    }
  return n ? sum / n : 0;
}

/* Anything at all: flat as far as the supplies reach, hardly ever beyond. */
static double
other_density (const MlCase *own, const MlTaken *taken)
{
  const MlReadingPlace *place = &g_array_index (own->dictionary->places, MlReadingPlace, taken->place);
  double supplies = own->dictionary->model->conditions[place->condition].span_v, y = fabs (taken->observed);
  double range = place->reads == ML_READS_VOLTS && supplies > 0 ? ml_assumption ("misfit.flat-span") * supplies : taken->class.span;

  return y <= range ? 1 / range : ml_assumption ("misread.beyond") * range / (y * y);
}

void
ml_opinion_form (const Given *given, guint r, Opinion *opinion)
{
  MlCase *own = given->own;
  const MlTaken taken = g_array_index (own->taken, MlTaken, r);
  MlReads reads = g_array_index (own->dictionary->places, MlReadingPlace, taken.place).reads;
  double mild = ml_assumption ("reading.mild"), rate = ml_assumption ("misread.rate"), variance, good;

  *opinion = (Opinion){ .at = { -1, -1, -1, FALSE }, .condition = -1 };
  given_predict (given, taken.place, &opinion->mean, &variance);
  opinion->term[TERM_SWAPPED] = ml_assumption ("misread.swapped") * swapped_density (&taken, reads, opinion->mean, variance);
  opinion->term[TERM_THOUSANDFOLD] = ml_assumption ("misread.thousandfold") * thousandfold_density (&taken, reads, opinion->mean, variance);
  opinion->term[TERM_PIN] = ml_assumption ("misread.pin") * pin_density (given, &taken, opinion);
  opinion->term[TERM_CONDITION] = ml_assumption ("misread.condition") * condition_density (given, &taken, opinion);
  opinion->term[TERM_UNCLEAR] = ml_assumption ("misread.other") * other_density (own, &taken);
  for (guint t = 0; t < N_TERMS; t++)
    opinion->density += opinion->term[t];
  good = (1 - mild - rate) * normal (taken.observed, opinion->mean, variance + taken.variance)
         + mild * normal (taken.observed, opinion->mean, variance + taken.variance + taken.class.mild_variance);
  opinion->odds = rate * opinion->density / MAX (good, 1e-300);
}
