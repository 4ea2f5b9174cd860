/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Naming slips of the person. Under each leading state of affairs every reading has a mean and a spread given all other readings; the
 * measured value is held against that, and against what swapped probes, a lost or added m, another pin or another condition would have
 * given. One further reading that is far off is let go meanwhile, so that two slips in one job do not hide each other. */
#include "verdict/misread.h"

#include "verdict/assumptions.h"

#include <math.h>
#include <string.h>

#define MOST_LEADERS 24

typedef enum { TERM_SWAPPED, TERM_THOUSANDFOLD, TERM_PIN, TERM_CONDITION, TERM_UNCLEAR, N_TERMS } Term;

static const MlSlip slip_of[N_TERMS] = { ML_SLIP_SWAPPED, ML_SLIP_THOUSANDFOLD, ML_SLIP_WRONG_PIN, ML_SLIP_WRONG_CONDITION, ML_SLIP_UNCLEAR };

typedef struct { guint item; double weight; } Leader;

typedef struct
{
  MlCase *own;
  Leader leaders[MOST_LEADERS];
  guint n_leaders;
  gboolean *let_go; /* [taken]: already found to be a slip */
} Search;

/* What one state of affairs says about one reading. */
typedef struct
{
  double odds;            /* slip against read well */
  double term[N_TERMS];   /* share of the slip's density */
  double density;         /* of the reading, given a slip */
  double mean;            /* what would have fitted */
  MlProbe at;             /* the likeliest other pin … */
  gboolean at_black;
  int condition;          /* … and condition */
} Opinion;

static double
normal (double x, double mean, double variance)
{
  return exp (-(x - mean) * (x - mean) / (2 * variance)) / sqrt (2 * G_PI * variance);
}

/* ---- a reading given the others ---- */

typedef struct
{
  Search *search;
  guint item;
  guint n;
  guint *which;        /* [n] readings taken as good */
  MlEvidence evidence; /* of those */
} Given;

static void
given_clear (Given *given)
{
  ml_evidence_clear (&given->evidence);
  g_clear_pointer (&given->which, g_free);
}

/* The readings that are neither let go nor among the two left out. */
static gboolean
given_init (Given *given, Search *search, guint item, int without, int without_too)
{
  MlCase *own = search->own;
  guint all = own->taken->len;
  g_autofree double *d = g_new0 (double, all);
  g_autofree double *covariance = g_new0 (double, all * all);
  g_autofree MlReadingClass *classes = g_new0 (MlReadingClass, all);

  *given = (Given){ .search = search, .item = item, .which = g_new (guint, all) };
  ml_case_residual (own, ml_case_expansion (own, item), NULL, NULL, d, covariance);
  for (guint i = 0; i < all; i++)
    if (!search->let_go[i] && (int) i != without && (int) i != without_too)
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
  given_clear (given);
  return FALSE;
}

/* Mean and variance of a place, the model's floor included, the meter's own error not. */
static void
given_predict (const Given *given, guint place, double *ret_mean, double *ret_variance)
{
  MlCase *own = given->search->own;
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

  given_predict (given, ml_dictionary_place (given->search->own->dictionary, place), &mean, &variance);
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
         + normal (y * 1000, mean, variance + taken->variance * 1e6) * 1000 / 2;
}

static gboolean
touches (const MlPart *part, int net)
{
  for (guint p = 0; p < part->n_pins; p++)
    if (part->pins[p].net == net)
      return TRUE;
  return FALSE;
}

static gboolean
share_a_part (const MlBoard *board, int net_a, int net_b)
{
  for (guint i = 0; i < board->n_parts; i++)
    if (touches (&board->parts[i], net_a) && touches (&board->parts[i], net_b))
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
  MlProbe probe = { net, -1, -1, FALSE };

  if (meant->part >= 0)
    for (guint p = 0; p < board->parts[meant->part].n_pins; p++)
      if (board->parts[meant->part].pins[p].net == net)
        {
          probe.part = meant->part;
          probe.pin = (int) p;
          break;
        }
  return probe;
}

typedef struct { double sum, weight, best; } Mean;

static void
add_net_density (const Given *given, const MlTaken *taken, gboolean black, int net, Mean *mean, Opinion *opinion)
{
  MlDictionary *dictionary = given->search->own->dictionary;
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
  MlCase *own = given->search->own;
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
  MlCase *own = given->search->own;
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

static void
form_opinion (const Given *given, guint r, Opinion *opinion)
{
  MlCase *own = given->search->own;
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

/* ---- which readings to look at ---- */

typedef struct { double *a, *inverse; } Inverse; /* C^-1 d, C^-1 */

static void
invert (const Given *given, Inverse *ret)
{
  guint n = given->n;
  g_autofree double *unit = g_new0 (double, MAX (n, 1));

  ret->a = given->evidence.a;
  ret->inverse = g_new0 (double, MAX (n * n, 1));
  for (guint i = 0; i < n; i++)
    {
      unit[i] = 1;
      ml_evidence_solve (&given->evidence, unit, ret->inverse + i * n);
      unit[i] = 0;
    }
}

/* How far reading j is off, in standard deviations, given all others but r (r < 0: given all others). */
static double
off_without (const Inverse *inverse, guint n, int r, guint j)
{
  double a = inverse->a[j], v = inverse->inverse[j * n + j];

  if (r >= 0)
    {
      double c = inverse->inverse[j * n + (guint) r], v_r = inverse->inverse[(guint) r * n + (guint) r];
      a -= c * inverse->a[r] / v_r;
      v -= c * c / v_r;
    }
  return v > 0 ? fabs (a) / sqrt (v) : 0;
}

/* The reading furthest off beside r, if it is far enough off to be let go: index among the given, or -1. */
static int
worst_beside (const Inverse *inverse, guint n, guint r)
{
  double most = ml_assumption ("misread.let-go-sigma");
  int found = -1;

  for (guint j = 0; j < n; j++)
    if (j != r && off_without (inverse, n, (int) r, j) > most)
      {
        most = off_without (inverse, n, (int) r, j);
        found = (int) j;
      }
  return found;
}

/* An opinion on every reading that looks off in this state of affairs; opinions[taken], odds 0 where nothing is to say. */
static void
look_at_leader (Search *search, guint item, Opinion *opinions)
{
  const double look_sigma = ml_assumption ("misread.look-sigma");
  Given all;
  Inverse inverse;

  if (!given_init (&all, search, item, -1, -1))
    return;
  invert (&all, &inverse);
  for (guint i = 0; i < all.n; i++)
    {
      guint r = all.which[i];
      int beside = worst_beside (&inverse, all.n, i);
      Given given;

      /* Off by itself, or off once the other one is let go. */
      if (g_array_index (search->own->taken, MlTaken, r).shown
          || MAX (off_without (&inverse, all.n, -1, i), beside >= 0 ? off_without (&inverse, all.n, beside, i) : 0) < look_sigma
          || !given_init (&given, search, item, (int) r, beside >= 0 ? (int) all.which[beside] : -1))
        continue;
      form_opinion (&given, r, &opinions[r]);
      given_clear (&given);
    }
  g_free (inverse.inverse);
  given_clear (&all);
}

/* ---- the leaders ---- */

static void
find_leaders (Search *search)
{
  MlCase *own = search->own;
  guint most = MIN ((guint) ml_assumption ("misread.leaders"), MOST_LEADERS);
  double total = 0;

  search->n_leaders = 0;
  for (guint i = 0; i < own->dictionary->n_items; i++)
    {
      guint at = search->n_leaders;

      if (own->dictionary->items[i].twin >= 0 || !(own->probability[i] > 0))
        continue;
      while (at > 0 && own->probability[i] > search->leaders[at - 1].weight)
        at--;
      if (at >= most)
        continue;
      memmove (search->leaders + at + 1, search->leaders + at, (MIN (search->n_leaders, most - 1) - at) * sizeof (Leader));
      search->leaders[at] = (Leader){ i, own->probability[i] };
      search->n_leaders = MIN (search->n_leaders + 1, most);
    }
  for (guint i = 0; i < search->n_leaders; i++)
    total += search->leaders[i].weight;
  for (guint i = 0; i < search->n_leaders && total > 0; i++)
    search->leaders[i].weight /= total;
}

/* ---- naming ---- */

static void
merge_opinion (MlMisread *own, Opinion *sum, const Opinion *opinion, double weight)
{
  double slip = opinion->odds / (1 + opinion->odds);

  own->probability += weight * slip;
  if (!(opinion->density > 0))
    return;
  for (guint t = 0; t < N_TERMS; t++)
    sum->term[t] += weight * slip * opinion->term[t] / opinion->density;
  if (weight * slip > sum->density) /* the leader that speaks loudest gives value, pin and condition */
    {
      sum->density = weight * slip;
      sum->mean = opinion->mean;
      sum->at = opinion->at;
      sum->at_black = opinion->at_black;
      sum->condition = opinion->condition;
    }
}

static void
name_slip (MlMisread *own, const Opinion *sum)
{
  Term best = TERM_UNCLEAR;

  for (guint t = 0; t < N_TERMS; t++)
    if (sum->term[t] > sum->term[best])
      best = t;
  if (sum->term[best] < ml_assumption ("misread.name") * own->probability)
    best = TERM_UNCLEAR;
  own->slip = slip_of[best];
  own->fitting = sum->mean;
  own->at = best == TERM_PIN ? sum->at : (MlProbe){ -1, -1, -1, FALSE };
  own->at_black = best == TERM_PIN && sum->at_black;
  own->condition = best == TERM_CONDITION ? sum->condition : -1;
}

/* The strongest slip among the readings not yet let go; FALSE when none is likelier than not. */
static gboolean
find_strongest (Search *search)
{
  MlCase *own = search->own;
  guint n = own->taken->len, best = 0;
  g_autofree Opinion *opinions = g_new (Opinion, n);
  g_autofree Opinion *sums = g_new0 (Opinion, n);
  g_autofree MlMisread *found = g_new0 (MlMisread, n);

  for (guint l = 0; l < search->n_leaders; l++)
    {
      memset (opinions, 0, n * sizeof *opinions);
      look_at_leader (search, search->leaders[l].item, opinions);
      for (guint r = 0; r < n; r++)
        merge_opinion (&found[r], &sums[r], &opinions[r], search->leaders[l].weight);
    }
  for (guint r = 1; r < n; r++)
    if (found[r].probability > found[best].probability)
      best = r;
  for (guint r = 0; r < n; r++)
    own->misread[r].probability = MAX (own->misread[r].probability, found[r].probability);
  if (!(found[best].probability > ml_assumption ("misread.flag")))
    return FALSE;
  name_slip (&found[best], &sums[best]);
  own->misread[best] = found[best];
  search->let_go[best] = TRUE;
  return TRUE;
}

gboolean
ml_case_misread (MlCase *own, GCancellable *cancellable, GError **error)
{
  guint n = own->taken->len, most = MAX (n / 3, 1);
  g_autofree gboolean *let_go = g_new0 (gboolean, MAX (n, 1));
  Search search = { .own = own, .let_go = let_go };

  if (n < 2)
    return TRUE;
  find_leaders (&search);
  for (guint i = 0; i < most; i++)
    {
      if (g_cancellable_set_error_if_cancelled (cancellable, error))
        return FALSE;
      if (!find_strongest (&search))
        break;
    }
  return TRUE;
}

gboolean
ml_slip_leaves_mark (MlSlip slip)
{
  return slip == ML_SLIP_SWAPPED || slip == ML_SLIP_THOUSANDFOLD || slip == ML_SLIP_WRONG_CONDITION;
}

double *
ml_case_doubts (const MlCase *own)
{
  double *extra = g_new0 (double, MAX (own->taken->len, 1));

  for (guint i = 0; i < own->taken->len; i++)
    if (own->misread[i].slip != ML_SLIP_NONE && own->condition_slip->slip == ML_SLIP_NONE)
      extra[i] = pow (1e3 * g_array_index (own->taken, MlTaken, i).class.span, 2);
  return extra;
}

/* ---- words ---- */

static char *
say_value (MlReads reads, double value)
{
  return ml_say_quantity (reads == ML_READS_OHMS ? exp (value) : value, ml_reading_unit (reads));
}

static char *
say_thousandfold (const MlMisread *own, const MlTaken *taken, MlReads reads, const char *value)
{
  gboolean too_large = reads == ML_READS_OHMS ? taken->observed > own->fitting : fabs (taken->observed) > fabs (own->fitting);

  if (reads == ML_READS_OHMS)
    return g_strdup_printf ("%s? %s would fit", too_large ? "kilohms for ohms" : "ohms for kilohms", value);
  return g_strdup_printf ("%s? %s would fit", too_large ? "typed without its m" : "typed with an m too many", value);
}

char *
ml_misread_say (const MlCase *own, guint taken)
{
  const MlMisread *misread = &own->misread[taken];
  const MlTaken *reading = &g_array_index (own->taken, MlTaken, taken);
  MlReads reads = own->job->readings[reading->reading].reads;
  g_autofree char *value = say_value (reads, misread->fitting);
  g_autofree char *pin = misread->at.net >= 0 ? ml_probe_label (own->job->board, &misread->at) : NULL;

  switch (misread->slip)
    {
    case ML_SLIP_SWAPPED: return g_strdup_printf ("probes swapped? %s would fit", value);
    case ML_SLIP_THOUSANDFOLD: return say_thousandfold (misread, reading, reads, value);
    case ML_SLIP_WRONG_PIN: return g_strdup_printf ("%s probe on %s instead? Here %s would fit", misread->at_black ? "black" : "red", pin, value);
    case ML_SLIP_WRONG_CONDITION:
      return g_strdup_printf ("taken in condition %s instead? In %s %s would fit", own->job->board->conditions[misread->condition].name,
                              own->job->board->conditions[own->job->readings[reading->reading].condition].name, value);
    case ML_SLIP_UNCLEAR: return g_strdup_printf ("at odds with the other readings: %s would fit", value);
    case ML_SLIP_NONE:
    default: return NULL;
    }
}

/* ---- into the verdict ---- */

/* Of a whole condition that was mixed up: what the leader gives where the reading was said to be taken. */
static gboolean
fill_from_condition (MlCase *own, guint taken, MlReadingVerdict *reading)
{
  const MlConditionSlip *what = own->condition_slip;
  const MlTaken *self = &g_array_index (own->taken, MlTaken, taken);
  const MlReading *read = &own->job->readings[self->reading];
  double fits, sigma;

  if (what->slip == ML_SLIP_NONE || (read->condition != what->condition && !(what->exchanged && read->condition == what->other))
      || (what->slip == ML_SLIP_SWAPPED && read->reads != ML_READS_VOLTS))
    return FALSE;
  fits = ml_case_predict (own, own->best_item, self->named)->value;
  sigma = sqrt (self->variance + ml_case_floor (own, read->reads, fits, 0));
  if (fabs (fits - (what->slip == ML_SLIP_SWAPPED ? -self->observed : self->observed)) < 3 * sigma)
    return FALSE; /* it would read the same either way */
  reading->doubtful = TRUE;
  reading->slip = what->slip;
  reading->fits = read->reads == ML_READS_OHMS ? exp (fits) : fits;
  if (what->slip == ML_SLIP_WRONG_CONDITION)
    reading->slip_condition = read->condition == what->condition ? what->other : what->condition;
  own->misread[taken] = (MlMisread){ what->probability, what->slip, fits, { -1, -1, -1, FALSE }, FALSE, reading->slip_condition };
  reading->slip_text = ml_misread_say (own, taken);
  return TRUE;
}

void
ml_misread_fill (MlCase *own, guint taken, MlReadingVerdict *reading)
{
  const MlMisread *misread = &own->misread[taken];

  reading->fits = NAN;
  reading->slip_at = (MlProbe){ -1, -1, -1, FALSE };
  reading->slip_condition = -1;
  if (fill_from_condition (own, taken, reading) || misread->slip == ML_SLIP_NONE)
    return;
  reading->doubtful = TRUE;
  reading->slip = misread->slip;
  reading->fits = own->job->readings[g_array_index (own->taken, MlTaken, taken).reading].reads == ML_READS_OHMS ? exp (misread->fitting)
                                                                                                               : misread->fitting;
  reading->slip_at = misread->at;
  reading->slip_condition = misread->condition;
  reading->slip_text = ml_misread_say (own, taken);
}
