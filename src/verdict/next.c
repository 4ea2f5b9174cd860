/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where to measure next: expected information about which part to work on, per effort. */
#include "verdict/case.h"

#include "verdict/assumptions.h"
#include "verdict/misread.h"

#include <math.h>
#include <string.h>

#define MOST_LIVE 48
#define MOST_EXACT 14 /* candidates weighed in full after a rough screening */
#define MOST_GIVEN 8
#define MOST_EXPECTED 5

/* ---- information ---- */

static double
entropy_bits (const double *p, guint n)
{
  double sum = 0;

  for (guint i = 0; i < n; i++)
    if (p[i] > 0)
      sum -= p[i] * log2 (p[i]);
  return sum;
}

/* Classes renumbered 0 … so that sums per class are arrays. */
static guint
renumber (const int *key, guint n, guint *ret_class)
{
  guint n_classes = 0;

  for (guint i = 0; i < n; i++)
    {
      guint j = 0;
      while (j < i && key[j] != key[i])
        j++;
      ret_class[i] = j < i ? ret_class[j] : n_classes++;
    }
  return n_classes;
}

double
ml_information (const double *weight, const int *key, const double *mean, const double *sigma, guint n)
{
  static const double node[5] = { 0, 0.958572464613819, -0.958572464613819, 2.020182870456086, -2.020182870456086 };
  static const double share[5] = { 0.5333333333333333, 0.2220759220056126, 0.2220759220056126, 0.0112574113277207, 0.0112574113277207 };
  g_autofree guint *class = g_new (guint, MAX (n, 1));
  g_autofree double *p = g_new0 (double, MAX (n, 1));
  guint n_classes = renumber (key, n, class);
  double before, after = 0;

  for (guint i = 0; i < n; i++)
    p[class[i]] += weight[i];
  before = entropy_bits (p, n_classes);
  for (guint i = 0; i < n; i++)
    for (guint k = 0; k < 5; k++)
      {
        double y = mean[i] + sigma[i] * G_SQRT2 * node[k], total = 0;

        memset (p, 0, n_classes * sizeof *p);
        for (guint j = 0; j < n; j++)
          {
            double off = (y - mean[j]) / sigma[j];
            double likely = weight[j] * exp (-off * off / 2) / sigma[j];
            p[class[j]] += likely;
            total += likely;
          }
        for (guint j = 0; j < n_classes; j++)
          p[j] /= total;
        after += weight[i] * share[k] * entropy_bits (p, n_classes);
      }
  return MAX (before - after, 0);
}

/* ---- candidates ---- */

typedef struct
{
  MlReadingPlace place;
  double effort, score;
  guint order;
} Candidate;

typedef struct
{
  MlCase *own;
  guint n;
  guint item[MOST_LIVE];
  int key[MOST_LIVE];
  double weight[MOST_LIVE];
  GArray *candidates; /* Candidate */
  int last_condition; /* of the last reading; -1 */
  const MlMeter *meter;
} Search;

static gint
by_weight (gconstpointer a, gconstpointer b, gpointer data)
{
  const double *p = data;
  guint x = *(const guint *) a, y = *(const guint *) b;

  if (p[x] != p[y])
    return p[x] < p[y] ? 1 : -1;
  return x < y ? -1 : x > y;
}

/* What there would be to work on: a part, nothing, the drawing, or a fault that is no part's, each by itself. */
static int
class_of (const MlCase *own, guint item)
{
  const MlHypothesis *hypothesis = ml_dictionary_hypothesis (own->dictionary, item);

  if (hypothesis->explains == ML_EXPLAINS_FAULT && hypothesis->fault.part < 0)
    return -3 - (int) own->dictionary->items[item].hypothesis;
  return hypothesis->explains == ML_EXPLAINS_DRAWING ? -2 : hypothesis->fault.part;
}

static void
find_live (Search *search)
{
  MlCase *own = search->own;
  g_autofree guint *order = g_new (guint, own->dictionary->n_items);
  double total = 0;

  for (guint i = 0; i < own->dictionary->n_items; i++)
    order[i] = i;
  g_qsort_with_data (order, own->dictionary->n_items, sizeof *order, by_weight, own->probability);
  for (guint i = 0; i < own->dictionary->n_items && search->n < MOST_LIVE; i++)
    if (own->probability[order[i]] > ml_assumption ("next.live"))
      {
        search->item[search->n] = order[i];
        search->key[search->n] = class_of (own, order[i]);
        search->weight[search->n++] = own->probability[order[i]];
        total += own->probability[order[i]];
      }
  for (guint i = 0; i < search->n; i++)
    search->weight[i] /= total;
}

static gboolean
is_taken (const Search *search, const MlReadingPlace *place)
{
  const MlCase *own = search->own;
  gboolean swapped;

  if (place->reads == ML_READS_AMPS)
    {
      for (guint i = 0; i < own->taken->len; i++)
        {
          const MlReading *reading = &own->job->readings[g_array_index (own->taken, MlTaken, i).reading];
          if (reading->reads == ML_READS_AMPS && reading->condition == place->condition && reading->supply == place->supply)
            return TRUE;
        }
      return FALSE;
    }
  return ml_job_find_reading (own->job, own->unit, own->pass, place->condition, place->reads, &place->red, &place->black, &swapped) >= 0;
}

/* What the meter sends through in a cold test; ohms as in the middle of its ranges. */
static double
test_current (const MlMeter *meter, MlReads reads)
{
  return reads == ML_READS_DIODE ? meter->diode_a : reads == ML_READS_OHMS ? ml_meter_ohms_test_a (meter, 1e3) : 0;
}

static void
add_candidate (Search *search, int condition, MlReads reads, MlProbe red, MlProbe black, int supply, const char *effort)
{
  Candidate candidate = { .effort = ml_assumption (effort), .order = search->candidates->len };

  candidate.place = (MlReadingPlace){ .condition = condition, .reads = reads, .red = red, .black = black, .supply = supply,
                                      .input_ohm = reads == ML_READS_AMPS ? INFINITY : search->meter->input_ohm,
                                      .test_a = test_current (search->meter, reads), .compliance_v = search->meter->diode_v };
  if (search->last_condition >= 0 && condition != search->last_condition)
    candidate.effort += ml_assumption ("next.effort-condition");
  if (!is_taken (search, &candidate.place))
    g_array_append_val (search->candidates, candidate);
}

static MlProbe
on_net (int net)
{
  return (MlProbe){ net, -1, -1, FALSE };
}

static void
add_net_candidates (Search *search, int c)
{
  const MlBoard *board = search->own->job->board;
  int reference = board->reference >= 0 ? board->reference : board->conditions[c].supplies[0].minus;

  for (guint i = 0; i < board->n_nets; i++)
    if ((int) i != reference)
      add_candidate (search, c, ML_READS_VOLTS, on_net (i), on_net (reference), -1, "next.effort-net");
}

/* Across what lies between two pins, unless one of them is the reference: that is the net's own reading. */
static void
add_part_candidates (Search *search, int c)
{
  const MlModel *model = search->own->dictionary->model;
  const MlBoard *board = model->board;

  for (guint i = 0; i < board->n_parts; i++)
    {
      const MlPart *part = &board->parts[i];
      const MlNodalType *type = ml_model_type (model, i);

      for (int e = 0; type && e < ml_nodal_type_n_elements (type); e++)
        {
          int from, to, a = -1, b = -1;

          ml_nodal_type_element (type, e, &from, &to);
          for (guint p = 0; p < part->n_pins; p++)
            {
              if (model->pins[i][p].pin == from)
                a = part->pins[p].net;
              if (model->pins[i][p].pin == to)
                b = part->pins[p].net;
            }
          if (a >= 0 && b >= 0 && a != b && a != board->reference && b != board->reference)
            add_candidate (search, c, ML_READS_VOLTS, on_net (a), on_net (b), -1, "next.effort-across");
        }
    }
}

static gboolean
is_junction (MlKind kind)
{
  return kind == ML_KIND_DIODE || kind == ML_KIND_LED || kind == ML_KIND_ZENER;
}

/* On the cold board: ohms, or the diode test, across the leading parts with two pins. */
static void
add_cold_candidates (Search *search, int c)
{
  MlCase *own = search->own;
  const MlBoard *board = own->job->board;

  for (guint i = 0; i < board->n_parts; i++)
    {
      const MlPart *part = &board->parts[i];
      gboolean junction = is_junction (part->kind->kind);

      if (part->n_pins != 2 || own->part_probability[i] < ml_assumption ("next.leading") || !ml_model_type (own->dictionary->model, (int) i)
          || part->pins[0].net < 0 || part->pins[1].net < 0 || part->pins[0].net == part->pins[1].net)
        continue;
      add_candidate (search, c, junction ? ML_READS_DIODE : ML_READS_OHMS, on_net (part->pins[0].net), on_net (part->pins[1].net), -1,
                     "next.effort-cold");
    }
}

/* The part's own metal against its solder: the best test of a joint, worth asking for where one is in question. */
static void
add_lead_candidates (Search *search, int c)
{
  MlCase *own = search->own;

  for (guint h = 0; h < own->dictionary->hypotheses->len; h++)
    {
      const MlFault *fault = &g_array_index (own->dictionary->hypotheses, MlHypothesis, h).fault;
      gboolean asked = (fault->kind == ML_FAULT_JOINT || (fault->kind == ML_FAULT_OPEN && fault->n_pins == 1))
                       && own->hypothesis_probability[h] > 0.02;

      if (asked && own->job->board->parts[fault->part].pins[fault->pins[0]].net >= 0)
        {
          int net = own->job->board->parts[fault->part].pins[fault->pins[0]].net;
          add_candidate (search, c, ML_READS_VOLTS, (MlProbe){ net, fault->part, fault->pins[0], TRUE }, on_net (net), -1,
                         "next.effort-lead");
        }
    }
}

/* ---- safety ---- */

static double
part_power (const MlCase *own, const MlNodalSolution *at, int condition, int part)
{
  const MlModel *model = own->dictionary->model;
  double power = 0;

  for (guint p = 0; p < model->board->parts[part].n_pins; p++)
    {
      MlDevicePin pin = model->pins[part][p];
      if (pin.device >= 0)
        {
          int index = ml_nodal_circuit_first_pin (model->conditions[condition].circuit, pin.device) + pin.pin;
          power += at->pin_a[index] * at->metal_v[index];
        }
    }
  return fabs (power);
}

static gboolean
is_safe_under (const MlCase *own, const MlNodalSolution *at, int condition)
{
  const MlBoard *board = own->job->board;
  double most = ml_assumption ("next.unsafe-volts");

  for (int i = 0; i < at->n_nets; i++)
    if (!at->floating[i] && fabs (at->net_v[i]) > most)
      return FALSE;
  for (guint i = 0; i < board->n_parts; i++)
    {
      const MlAttribute *rating = ml_part_attribute (&board->parts[i], ML_KEY_POWER);
      if (rating && part_power (own, at, condition, i) > ml_assumption ("next.unsafe-power") * rating->quantity.value)
        return FALSE;
    }
  return TRUE;
}

/* Every explanation of some weight must leave this condition harmless. */
static gboolean
is_safe (Search *search, int c)
{
  MlCase *own = search->own;

  for (guint i = 0; i < search->n; i++)
    {
      guint h = own->dictionary->items[search->item[i]].hypothesis;
      MlExpansion *at = ml_case_expansion (own, search->item[i]);

      if (own->hypothesis_probability[h] < ml_assumption ("next.unsafe-probability"))
        continue;
      if (ml_expansion_solve (own->dictionary, at, c, NULL) && !is_safe_under (own, &at->at[c], c))
        return FALSE;
    }
  return TRUE;
}

/* ---- rough screening ---- */

static double
point_volts (const MlCase *own, const MlNodalSolution *at, int c, const MlProbe *probe)
{
  MlNodalPoint point;

  if (!ml_model_point (own->dictionary->model, c, probe, &point))
    return 0;
  if (point.device >= 0)
    return at->metal_v[ml_nodal_circuit_first_pin (own->dictionary->model->conditions[c].circuit, point.device) + point.pin];
  return at->floating[point.net] ? 0 : at->net_v[point.net];
}

static double
rough_value (Search *search, guint i, const MlReadingPlace *place)
{
  MlCase *own = search->own;
  MlExpansion *at = ml_case_expansion (own, search->item[i]);
  int c = place->condition;
  double value;

  if (place->reads == ML_READS_OHMS || place->reads == ML_READS_DIODE) /* the meter itself drives the circuit: nothing rough about it */
    return ml_case_predict (own, search->item[i], ml_dictionary_place (own->dictionary, place))->value;
  if (!ml_expansion_solve (own->dictionary, at, c, NULL))
    return 0;
  if (place->reads == ML_READS_AMPS)
    {
      const MlModelCondition *own_condition = &own->dictionary->model->conditions[c];
      int device = own_condition->supply_device[place->supply];
      value = -at->at[c].pin_a[ml_nodal_circuit_first_pin (own_condition->circuit, device)];
    }
  else
    value = point_volts (own, &at->at[c], c, &place->red) - point_volts (own, &at->at[c], c, &place->black);
  return isfinite (value) ? value : 0;
}

static void
screen (Search *search, Candidate *candidate)
{
  gboolean amps = candidate->place.reads == ML_READS_AMPS;
  double mean[MOST_LIVE], sigma[MOST_LIVE];

  for (guint i = 0; i < search->n; i++)
    {
      mean[i] = rough_value (search, i, &candidate->place);
      sigma[i] = candidate->place.reads == ML_READS_OHMS ? 0.1 : hypot (amps ? 1e-3 : 20e-3, 0.02 * mean[i]);
    }
  candidate->score = ml_information (search->weight, search->key, mean, sigma, search->n) / candidate->effort;
}

static gint
best_first (gconstpointer a, gconstpointer b)
{
  const Candidate *x = a, *y = b;

  if (x->score != y->score)
    return x->score < y->score ? 1 : -1;
  return x->order < y->order ? -1 : x->order > y->order;
}

/* ---- in full ---- */

/* The meter's limit of error there: V, A or ln ohm. */
static double
meter_error (const Search *search, MlReads reads, double value)
{
  const MlMeter *meter = search->meter;

  if (reads == ML_READS_OHMS)
    return meter->ohms_share + meter->ohms_counts * ml_meter_resolution (meter, exp (value)) / exp (value);
  return meter->dc_share * fabs (value) + meter->dc_counts * ml_meter_resolution (meter, value);
}

/* The untaken reading under one item, given those taken: mean y_c - J_c z + k' C^-1 d, variance J_c J_c' - k' C^-1 k + R, k_r = J_c J_r'. */
static void
conditional (Search *search, guint i, guint place, double *ret_mean, double *ret_sigma)
{
  MlCase *own = search->own;
  guint n = own->taken->len;
  MlExpansion *at = ml_case_expansion (own, search->item[i]);
  MlReads reads = g_array_index (own->dictionary->places, MlReadingPlace, place).reads;
  const MlPrediction *next = ml_case_predict (own, search->item[i], place);
  g_autofree double *k = g_new0 (double, MAX (n, 1));
  g_autofree double *solved = g_new0 (double, MAX (n, 1));
  g_autofree double *doubts = ml_case_doubts (own);
  double mean = next->value, variance = ml_prediction_dot (next, next);
  MlEvidence evidence;

  for (guint j = 0; at->z && j < next->n; j++)
    mean -= next->slope[j] * at->z[next->column[j]];
  if (ml_case_weigh (own, at, NULL, doubts, &evidence))
    {
      for (guint j = 0; j < n; j++)
        k[j] = ml_prediction_dot (next, ml_case_predict (own, search->item[i], g_array_index (own->taken, MlTaken, j).place));
      ml_evidence_solve (&evidence, k, solved);
      for (guint j = 0; j < n; j++)
        {
          mean += k[j] * evidence.a[j];
          variance -= k[j] * solved[j];
        }
      ml_evidence_clear (&evidence);
    }
  if (!next->valid)
    variance += pow (0.3 * MAX (own->dictionary->model->conditions[g_array_index (own->dictionary->places, MlReadingPlace, place).condition].span_v, 1), 2);
  *ret_mean = mean;
  *ret_sigma = sqrt (MAX (variance, 0) + ml_case_floor (own, reads, next->value) + pow (meter_error (search, reads, next->value), 2) / 3);
}

/* The explanation that an item belongs to, 0 when it is too unlikely to have a name. */
static guint
id_of (const Search *search, guint i)
{
  return search->own->id_of[search->own->dictionary->items[search->item[i]].hypothesis];
}

/* Whether the meter could tell two live explanations apart there at all, were every part exactly as it is; one of them must matter. */
static gboolean
can_be_told (const Search *search, MlReads reads, const double *mean)
{
  double least = ml_assumption ("next.leading"), times = ml_assumption ("next.meter-errors");

  for (guint i = 0; i < search->n; i++)
    for (guint j = 0; j < search->n && search->weight[i] >= least; j++)
      if (search->key[i] != search->key[j] && id_of (search, i) && id_of (search, j)
          && fabs (mean[i] - mean[j]) > times * meter_error (search, reads, MAX (fabs (mean[i]), fabs (mean[j]))))
        return TRUE;
  return FALSE;
}

static gboolean
is_listed (const GArray *expect, guint id)
{
  for (guint j = 0; j < expect->len; j++)
    if (g_array_index (expect, MlExpect, j).explanation == id)
      return TRUE;
  return FALSE;
}

/* What to expect under the likeliest explanations; the last place is kept for the likeliest that reads otherwise, if all before read alike. */
static void
add_expectations (Search *search, MlNextReading *next, const double *mean)
{
  GArray *expect = g_array_new (FALSE, FALSE, sizeof (MlExpect));
  gboolean differ = FALSE;

  for (guint i = 0; i < search->n && expect->len < MOST_EXPECTED; i++)
    {
      MlExpect own = { id_of (search, i), next->reads == ML_READS_OHMS ? exp (mean[i]) : mean[i] };
      gboolean differs = fabs (mean[i] - mean[0]) > ml_assumption ("next.meter-errors") * meter_error (search, next->reads, mean[0]);

      if (own.explanation == 0 || is_listed (expect, own.explanation) || (expect->len + 1 == MOST_EXPECTED && !differ && !differs))
        continue;
      differ |= differs;
      g_array_append_val (expect, own);
    }
  next->n_expect = expect->len;
  next->expect = (MlExpect *) (gpointer) g_array_free (expect, FALSE);
}

static gboolean
leads_healthy (const Search *search)
{
  return ml_dictionary_hypothesis (search->own->dictionary, search->own->best_item)->explains == ML_EXPLAINS_HEALTHY;
}

static void
weigh_candidate (Search *search, Candidate *candidate, GArray *given)
{
  guint place = ml_dictionary_place (search->own->dictionary, &candidate->place);
  double mean[MOST_LIVE], sigma[MOST_LIVE], fine_sigma;
  MlNextReading next = { .condition = candidate->place.condition, .reads = candidate->place.reads, .red = candidate->place.red,
                         .black = candidate->place.black, .supply = candidate->place.supply, .effort = candidate->effort };

  for (guint i = 0; i < search->n; i++)
    conditional (search, i, place, &mean[i], &sigma[i]);
  next.bits = ml_information (search->weight, search->key, mean, sigma, search->n);
  if (next.bits < ml_assumption ("next.least-bits") || !can_be_told (search, next.reads, mean))
    return;
  next.healthy = ml_case_predict_fine (search->own, place, &fine_sigma);
  for (guint i = 0; i < search->n && leads_healthy (search); i++) /* as fitted to what was read: one case, one prediction */
    if (ml_dictionary_hypothesis (search->own->dictionary, search->item[i])->explains == ML_EXPLAINS_HEALTHY)
      {
        next.healthy = mean[i];
        break;
      }
  if (next.reads == ML_READS_OHMS)
    next.healthy = exp (next.healthy);
  add_expectations (search, &next, mean);
  g_array_append_val (given, next);
}

static gint
by_gain (gconstpointer a, gconstpointer b)
{
  const MlNextReading *x = a, *y = b;
  double gain_x = x->bits / x->effort, gain_y = y->bits / y->effort;

  return gain_x == gain_y ? 0 : gain_x < gain_y ? 1 : -1;
}

static void
collect_candidates (Search *search)
{
  const MlBoard *board = search->own->job->board;

  for (guint c = 0; c < board->n_conditions; c++)
    {
      if (!search->own->dictionary->model->conditions[c].solver || !is_safe (search, c))
        continue;
      if (!board->conditions[c].n_supplies)
        {
          add_cold_candidates (search, c);
          continue;
        }
      add_net_candidates (search, c);
      add_part_candidates (search, c);
      add_lead_candidates (search, c);
      for (guint s = 0; s < board->conditions[c].n_supplies; s++)
        add_candidate (search, c, ML_READS_AMPS, on_net (-1), on_net (-1), s, "next.effort-supply");
    }
}

MlNextReading *
ml_case_next (MlCase *own, guint *ret_n, GCancellable *cancellable, GError **error)
{
  Search search = { .own = own, .last_condition = -1, .meter = &own->job->meters[0] };
  GArray *given = g_array_new (FALSE, TRUE, sizeof (MlNextReading));

  search.candidates = g_array_new (FALSE, FALSE, sizeof (Candidate));
  if (own->taken->len)
    search.last_condition = own->job->readings[g_array_index (own->taken, MlTaken, own->taken->len - 1).reading].condition;
  find_live (&search);
  collect_candidates (&search);
  for (guint i = 0; i < search.candidates->len && !g_cancellable_is_cancelled (cancellable); i++)
    screen (&search, &g_array_index (search.candidates, Candidate, i));
  g_array_sort (search.candidates, best_first);
  for (guint i = 0; i < MIN (search.candidates->len, MOST_EXACT) && !g_cancellable_is_cancelled (cancellable); i++)
    weigh_candidate (&search, &g_array_index (search.candidates, Candidate, i), given);
  g_array_unref (search.candidates);
  if (g_cancellable_set_error_if_cancelled (cancellable, error))
    {
      for (guint i = 0; i < given->len; i++)
        g_free (g_array_index (given, MlNextReading, i).expect);
      g_array_unref (given);
      return NULL;
    }
  g_array_sort (given, by_gain);
  for (guint i = MOST_GIVEN; i < given->len; i++)
    g_free (g_array_index (given, MlNextReading, i).expect);
  *ret_n = MIN (given->len, MOST_GIVEN);
  if (!given->len)
    g_array_set_size (given, 1); /* NULL would mean cancelled */
  return (MlNextReading *) (gpointer) g_array_free (given, FALSE);
}
