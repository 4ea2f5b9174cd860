/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where to measure next: expected information about which part to work on, per effort. */
#include "verdict/next-private.h"

#include "verdict/assumptions.h"
#include "verdict/cold.h"
#include "verdict/misread.h"

#include <math.h>
#include <string.h>

#define MOST_EXACT 14 /* candidates weighed in full after a rough screening */
#define MOST_GIVEN 8
#define MOST_LIFTED 4 /* parts */
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

/* All that is live of the same thing to work on. */
static double
together (const Search *search, int key)
{
  double sum = 0;

  for (guint i = 0; i < search->n; i++)
    sum += search->key[i] == key ? search->weight[i] : 0;
  return sum;
}

static void
find_leaders (Search *search)
{
  for (guint i = 0; i < search->n; i++)
    search->leader = MAX (search->leader, together (search, search->key[i]));
  for (guint i = 0; i < search->n; i++)
    search->leads[i] = together (search, search->key[i]) * ml_assumption ("word.tie") >= search->leader;
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
  find_leaders (search);
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

/* Of the readings taken, under one item; NULL when it has none. Asked for once, used for every candidate. */
static const MlEvidence *
evidence_of (Search *search, guint i)
{
  if (!search->state[i])
    {
      g_autofree double *doubts = ml_case_doubts (search->own);
      search->state[i] = ml_case_weigh (search->own, ml_case_expansion (search->own, search->item[i]), NULL, doubts, &search->evidence[i]) ? 1 : 2;
    }
  return search->state[i] == 1 ? &search->evidence[i] : NULL;
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
  const MlEvidence *evidence = evidence_of (search, i);
  double mean = next->value, variance = ml_prediction_dot (next, next);

  for (guint j = 0; at->z && j < next->n; j++)
    mean -= next->slope[j] * at->z[next->column[j]];
  if (evidence)
    {
      for (guint j = 0; j < n; j++)
        k[j] = ml_prediction_dot (next, ml_case_predict (own, search->item[i], g_array_index (own->taken, MlTaken, j).place));
      ml_evidence_solve (evidence, k, solved);
      for (guint j = 0; j < n; j++)
        {
          mean += k[j] * evidence->a[j];
          variance -= k[j] * solved[j];
        }
    }
  if (!next->valid)
    variance += pow (0.3 * MAX (own->dictionary->model->conditions[g_array_index (own->dictionary->places, MlReadingPlace, place).condition].span_v, 1), 2);
  *ret_mean = mean;
  *ret_sigma = sqrt (MAX (variance, 0) + ml_case_floor (own, reads, next->value, next->chopped) + pow (meter_error (search, reads, next->value), 2) / 3);
}

/* ---- a leg lifted ---- */

static const MlProbe *
lifted_tip (const MlReadingPlace *place)
{
  return place->red.lead == ML_LEAD_LIFTED ? &place->red : place->black.lead == ML_LEAD_LIFTED ? &place->black : NULL;
}

static char *
say_step (const Search *search, const MlReadingPlace *place)
{
  const MlProbe *tip = lifted_tip (place);
  const MlPart *part = tip ? &search->own->job->board->parts[tip->part] : NULL;

  return part ? g_strdup_printf ("lift %s.%s", part->name, part->pins[tip->pin].name) : NULL;
}

/* With one leg in the air and the supply off, the meter sees a part with two pins alone: what is wrong elsewhere does not matter. */
static gboolean
stands_alone (const Search *search, const MlReadingPlace *place, guint i)
{
  const MlProbe *tip = lifted_tip (place);
  const MlFault *fault = &ml_dictionary_hypothesis (search->own->dictionary, search->item[i])->fault;

  return tip && search->own->job->board->parts[tip->part].n_pins == 2 && !search->own->job->board->conditions[place->condition].n_supplies
         && fault->part != tip->part && !fault->n_cut;
}

static void
predict_all (Search *search, guint place, Prospect *prospect)
{
  const MlReadingPlace at = g_array_index (search->own->dictionary->places, MlReadingPlace, place);
  int alone = -1;

  for (guint i = 0; i < search->n; i++)
    if (alone >= 0 && stands_alone (search, &at, i))
      {
        prospect->mean[i] = prospect->mean[alone];
        prospect->sigma[i] = prospect->sigma[alone];
      }
    else
      {
        conditional (search, i, place, &prospect->mean[i], &prospect->sigma[i]);
        if (stands_alone (search, &at, i))
          alone = (int) i;
      }
}

static gboolean
is_wide (const MlBoard *board, int net)
{
  return net == board->reference || ml_board_supplies (board, net);
}

/* The pad is easier to free of solder away from the wide copper of supply and reference. */
static guint
leg_to_lift (const MlBoard *board, const MlPart *part, guint a, guint b)
{
  return is_wide (board, part->pins[b].net) && !is_wide (board, part->pins[a].net) ? a : b;
}

static void
add_lifted (Search *search, int c, int part, guint a, guint b)
{
  const MlBoard *board = search->own->job->board;
  const MlPart *it = &board->parts[part];
  guint leg = leg_to_lift (board, it, a, b);
  MlProbe tip = { it->pins[leg].net, part, (int) leg, ML_LEAD_LIFTED }, other = on_net (it->pins[leg == a ? b : a].net);
  guint before = search->candidates->len;

  if (tip.net < 0 || other.net < 0 || tip.net == other.net)
    return;
  if (board->conditions[c].n_supplies) /* what is left of the drive to the part, on its pad */
    add_candidate (search, c, ML_READS_VOLTS, tip, on_net (tip.net), -1, "next.effort-across");
  else if (is_junction (it->kind->kind) && leg != 0)
    add_candidate (search, c, ML_READS_DIODE, other, tip, -1, "next.effort-cold");
  else
    add_candidate (search, c, is_junction (it->kind->kind) ? ML_READS_DIODE : ML_READS_OHMS, tip, other, -1, "next.effort-cold");
  if (search->candidates->len > before)
    g_array_index (search->candidates, Candidate, before).effort += ml_assumption ("next.effort-lift");
}

/* The leading parts, each between two of its pins: those of its likeliest fault where it has more. */
static void
add_lifted_parts (Search *search, int c)
{
  MlCase *own = search->own;
  g_autofree gboolean *done = g_new0 (gboolean, MAX (own->job->board->n_parts, 1));
  guint n = 0;

  for (guint i = 0; i < search->n && n < MOST_LIFTED; i++)
    {
      const MlHypothesis *hypothesis = ml_dictionary_hypothesis (own->dictionary, search->item[i]);
      const MlFault *fault = &hypothesis->fault;
      gboolean two = fault->part >= 0 && own->job->board->parts[fault->part].n_pins == 2;

      if (hypothesis->explains != ML_EXPLAINS_FAULT || fault->part < 0 || done[fault->part] || (!two && fault->n_pins != 2)
          || own->part_probability[fault->part] < ml_assumption ("next.leading") || !ml_model_type (own->dictionary->model, fault->part))
        continue;
      done[fault->part] = TRUE;
      n++;
      add_lifted (search, c, fault->part, two ? 0 : (guint) fault->pins[0], two ? 1 : (guint) fault->pins[1]);
    }
}

/* Supply off where the board knows such a condition, else under power. */
static void
collect_lifted (Search *search)
{
  const MlBoard *board = search->own->job->board;
  gboolean cold = FALSE;

  for (guint c = 0; c < board->n_conditions; c++)
    cold |= ml_condition_is_cold (&board->conditions[c]);
  for (guint c = 0; c < board->n_conditions; c++)
    if (search->own->dictionary->model->conditions[c].solver && cold == ml_condition_is_cold (&board->conditions[c]))
      add_lifted_parts (search, (int) c);
}

/* ---- what to expect ---- */

/* The explanation that an item belongs to, 0 when it is too unlikely to have a name. */
static guint
id_of (const Search *search, guint i)
{
  return search->own->id_of[search->own->dictionary->items[search->item[i]].hypothesis];
}

/* Whether a reading tells two values apart: by more than the meter's error, and by more than the model leaves out. */
static gboolean
differ (const Search *search, MlReads reads, double a, double b)
{
  double most = MAX (fabs (a), fabs (b));

  return fabs (a - b) > ml_assumption ("next.meter-errors") * hypot (meter_error (search, reads, most), sqrt (ml_case_floor (search->own, reads, most, 0)));
}

/* Whether the meter could tell two live explanations apart there at all, were every part exactly as it is; one of them must matter. */
static gboolean
can_be_told (const Search *search, MlReads reads, const double *mean)
{
  double least = ml_assumption ("next.leading");

  for (guint i = 0; i < search->n; i++)
    for (guint j = 0; j < search->n && search->weight[i] >= least; j++)
      if (search->key[i] != search->key[j] && id_of (search, i) && id_of (search, j) && differ (search, reads, mean[i], mean[j]))
        return TRUE;
  return FALSE;
}

/* How many things to work on lead. */
static guint
count_leaders (const Search *search)
{
  guint n = 0;

  for (guint i = 0; i < search->n; i++)
    {
      guint j = 0;

      while (j < i && search->key[j] != search->key[i])
        j++;
      n += j == i && search->leads[i];
    }
  return n;
}

/* Whether two of the leading things to work on read differently there, taken by and large: the likelier half of what each may have. */
static gboolean
tells_leaders (const Search *search, MlReads reads, const double *mean)
{
  for (guint i = 0; i < search->n; i++)
    {
      double told = 0, all = 0;
      guint first = 0;

      while (search->key[first] != search->key[i])
        first++;
      if (!search->leads[i] || first < i)
        continue;
      for (guint j = 0; j < search->n; j++)
        for (guint k = 0; k < search->n; k++)
          if (search->key[j] == search->key[i] && search->key[k] != search->key[i] && search->leads[k])
            {
              all += search->weight[j] * search->weight[k];
              told += differ (search, reads, mean[j], mean[k]) ? search->weight[j] * search->weight[k] : 0;
            }
      if (told > all / 2)
        return TRUE;
    }
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
  gboolean apart = FALSE;

  for (guint i = 0; i < search->n && expect->len < MOST_EXPECTED; i++)
    {
      gboolean sound = ml_dictionary_hypothesis (search->own->dictionary, search->item[i])->explains == ML_EXPLAINS_HEALTHY;
      MlExpect own = { id_of (search, i), sound ? next->healthy : ml_shown_of (next->reads, mean[i], search->meter->diode_v) };
      gboolean differs = differ (search, next->reads, mean[i], mean[0]);

      if (own.explanation == 0 || is_listed (expect, own.explanation) || (expect->len + 1 == MOST_EXPECTED && !apart && !differs))
        continue;
      apart |= differs;
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
  Prospect prospect = { .effort = candidate->effort };
  double *mean = prospect.mean, fine_sigma;
  MlNextReading next = { .condition = candidate->place.condition, .reads = candidate->place.reads, .red = candidate->place.red,
                         .black = candidate->place.black, .supply = candidate->place.supply, .effort = candidate->effort };

  predict_all (search, place, &prospect);
  next.bits = ml_information (search->weight, search->key, mean, prospect.sigma, search->n);
  if (next.bits < ml_assumption ("next.least-bits") || !can_be_told (search, next.reads, mean))
    return;
  search->tells_leaders |= tells_leaders (search, next.reads, mean);
  g_array_append_val (search->prospects, prospect);
  next.step = say_step (search, &candidate->place);
  next.healthy = ml_case_predict_fine (search->own, place, &fine_sigma);
  for (guint i = 0; i < search->n && leads_healthy (search); i++) /* as fitted to what was read: one case, one prediction */
    if (ml_dictionary_hypothesis (search->own->dictionary, search->item[i])->explains == ML_EXPLAINS_HEALTHY)
      {
        next.healthy = mean[i];
        break;
      }
  next.healthy = ml_shown_of (next.reads, next.healthy, search->meter->diode_v);
  add_expectations (search, &next, mean);
  g_array_append_val (given, next);
}

/* Like parts gain alike but for rounding, and then stay in the order of the board. */
static gint
by_gain (gconstpointer a, gconstpointer b)
{
  const MlNextReading *x = a, *y = b;
  double gain_x = round (1e9 * x->bits / x->effort), gain_y = round (1e9 * y->bits / y->effort);

  return gain_x == gain_y ? 0 : gain_x < gain_y ? 1 : -1;
}

static void
collect_candidates (Search *search)
{
  const MlBoard *board = search->own->job->board;

  for (guint c = 0; c < board->n_conditions; c++)
    {
      if (!search->own->dictionary->model->conditions[c].solver || !ml_next_is_safe (search, c, NULL))
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

/* The most that any reading can tell: which of the things to work on it is. */
static double
open_bits (const Search *search)
{
  g_autofree guint *class = g_new (guint, MAX (search->n, 1));
  double p[MOST_LIVE] = { 0 };
  guint n = renumber (search->key, search->n, class);

  for (guint i = 0; i < search->n; i++)
    p[class[i]] += search->weight[i];
  return entropy_bits (p, n);
}

/* A leg is worth lifting where nothing else settles the matter, or with the chance to be the better bargain. */
static gboolean
is_lifting_worth_it (Search *search, const GArray *given)
{
  double most = 0;

  for (guint i = 0; i < given->len; i++)
    most = MAX (most, g_array_index (given, MlNextReading, i).bits / g_array_index (given, MlNextReading, i).effort);
  return search->n && search->leader < ml_assumption ("word.probably")
         && (search->own->untold || !isfinite (search->own->readings_left)
             || open_bits (search) / (ml_assumption ("next.effort-lift") + ml_assumption ("next.effort-cold")) > most);
}

static void
weigh_lifted (Search *search, GArray *given, GCancellable *cancellable)
{
  g_array_set_size (search->candidates, 0);
  collect_lifted (search);
  for (guint i = 0; i < search->candidates->len && !g_cancellable_is_cancelled (cancellable); i++)
    {
      Candidate *candidate = &g_array_index (search->candidates, Candidate, i);

      if (ml_next_is_safe (search, candidate->place.condition, &candidate->place))
        weigh_candidate (search, candidate, given);
    }
}

static void
weigh_all (Search *search, GArray *given, GCancellable *cancellable)
{
  MlCase *own = search->own;

  find_live (search);
  collect_candidates (search);
  for (guint i = 0; i < search->candidates->len && !g_cancellable_is_cancelled (cancellable); i++)
    screen (search, &g_array_index (search->candidates, Candidate, i));
  g_array_sort (search->candidates, best_first);
  for (guint i = 0; i < MIN (search->candidates->len, MOST_EXACT) && !g_cancellable_is_cancelled (cancellable); i++)
    weigh_candidate (search, &g_array_index (search->candidates, Candidate, i), given);
  own->untold = !search->tells_leaders && count_leaders (search) > 1;
  own->readings_left = ml_next_readings_left (search);
  if (!is_lifting_worth_it (search, given))
    return;
  weigh_lifted (search, given, cancellable);
  own->readings_left = ml_next_readings_left (search);
}

/* Those beyond `kept` go. */
static void
clear_given (GArray *given, guint kept)
{
  for (guint i = kept; i < given->len; i++)
    {
      g_free (g_array_index (given, MlNextReading, i).expect);
      g_free (g_array_index (given, MlNextReading, i).step);
    }
}

MlNextReading *
ml_case_next (MlCase *own, guint *ret_n, GCancellable *cancellable, GError **error)
{
  Search search = { .own = own, .last_condition = -1, .meter = &own->job->meters[0] };
  GArray *given = g_array_new (FALSE, TRUE, sizeof (MlNextReading));

  search.candidates = g_array_new (FALSE, FALSE, sizeof (Candidate));
  search.prospects = g_array_new (FALSE, FALSE, sizeof (Prospect));
  if (own->taken->len)
    search.last_condition = own->job->readings[g_array_index (own->taken, MlTaken, own->taken->len - 1).reading].condition;
  weigh_all (&search, given, cancellable);
  g_array_unref (search.candidates);
  g_array_unref (search.prospects);
  for (guint i = 0; i < search.n; i++)
    if (search.state[i] == 1)
      ml_evidence_clear (&search.evidence[i]);
  if (g_cancellable_set_error_if_cancelled (cancellable, error))
    {
      clear_given (given, 0);
      g_array_unref (given);
      return NULL;
    }
  g_array_sort (given, by_gain);
  clear_given (given, MOST_GIVEN);
  *ret_n = MIN (given->len, MOST_GIVEN);
  if (!given->len)
    g_array_set_size (given, 1); /* NULL would mean cancelled */
  return (MlNextReading *) (gpointer) g_array_free (given, FALSE);
}
