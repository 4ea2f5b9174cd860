/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a meter shows in a state of affairs, and its slope in every unknown. */
#include "verdict/expansion-private.h"

#include "verdict/cold.h"
#include "verdict/room.h"
#include "verdict/side-by-side.h"

#include <math.h>
#include <string.h>

#define LEAST_SLOPE 1e-5 /* V, A or ln ohm per standard deviation: slopes below vanish beside every floor */
#define LEAST_VOLTS 1e-12 /* what rounding leaves of nothing */
#define NO_SLOPE 1e-11   /* at the centre: no sum of such comes near the least */

/* ---- slopes ---- */

/* value: the unknown's own, where the slope was found. */
static void
scatter (const MlModel *model, guint unknown, double slope, double value, double *dense)
{
  const MlUnknown *own = &model->unknowns[unknown];
  double du = slope * own->spread * (own->log ? value : 1);

  /* d p / d ln v = p most / (most + v), and p = v (most + centre) / (most + v) */
  if (own->log && own->most > 0)
    du *= 1 - value / (own->most + own->centre);

  if (own->group >= 0)
    {
      dense[unknown] += sqrt (1 - own->shared) * du;
      dense[own->group] += sqrt (own->shared) * du;
    }
  else
    dense[unknown] += du;
}

void
ml_model_scatter_slope (const MlModel *model, guint unknown, double slope, const double *z, guint node, double *dense)
{
  if (slope != 0)
    scatter (model, unknown, slope, ml_model_parameter_value (model, unknown, z, node), dense);
}

static gboolean
has_columns (const MlPrediction *prediction, const guint *column, guint n)
{
  return prediction && prediction->n == n && (!n || memcmp (prediction->column, column, n * sizeof *column) == 0);
}

static const MlPrediction *
prediction_of_item (const MlDictionary *dictionary, guint item, guint place)
{
  const GPtrArray *all = dictionary->expansions[item]->predictions;

  return place < all->len ? all->pdata[place] : NULL;
}

/* An item of the dictionary whose prediction has the same columns: the sound board, which most faults leave as it is at most places, or the size before.
 * Items stay as long as the dictionary. NULL: none. */
static const MlPrediction *
find_alike (const MlDictionary *dictionary, const MlExpansion *expansion, guint place, const guint *column, guint n)
{
  const guint item = (guint) expansion->item, node = dictionary->items[item].node, n_nodes = dictionary->model->n_nodes;
  const MlPrediction *alike;

  if (expansion != dictionary->expansions[item] || item == node)
    return NULL;
  alike = prediction_of_item (dictionary, node, place);
  if (has_columns (alike, column, n))
    return alike;
  alike = prediction_of_item (dictionary, item - n_nodes, place);
  return has_columns (alike, column, n) ? alike : NULL;
}

/* What stays lies in the condition's room: one by one, a tenth of a verdict would go into asking for it. */
static gpointer
take_room (MlDictionary *dictionary, gboolean in_room, int condition, gsize bytes)
{
  return in_room ? ml_room_take (ml_dictionary_room (dictionary, condition), bytes) : g_malloc0 (bytes);
}

static MlPrediction *
prediction_new (MlDictionary *dictionary, const MlExpansion *expansion, int condition)
{
  const gboolean in_room = ml_expansion_stays (dictionary, expansion);
  MlPrediction *prediction = take_room (dictionary, in_room, condition, sizeof *prediction);

  prediction->in_room = in_room;
  return prediction;
}

/* column: scratch, n_columns + 1. */
static void
keep_columns (MlDictionary *dictionary, const MlExpansion *expansion, int condition, guint place, MlPrediction *prediction, const double *dense,
              guint *column)
{
  const MlPrediction *alike;

  prediction->n = 0;
  for (guint i = 0; i < dictionary->n_columns; i++) /* without a branch that cannot be foreseen */
    {
      column[prediction->n] = i;
      prediction->n += fabs (dense[i]) >= LEAST_SLOPE;
    }
  alike = find_alike (dictionary, expansion, place, column, prediction->n);
  prediction->lent = alike != NULL;
  prediction->column = alike ? alike->column : take_room (dictionary, prediction->in_room, condition, MAX (prediction->n, 1) * sizeof *column);
  prediction->slope = take_room (dictionary, prediction->in_room, condition, MAX (prediction->n, 1) * sizeof (double));
  if (!alike && prediction->n)
    memcpy (prediction->column, column, prediction->n * sizeof *column);
  for (guint k = 0; k < prediction->n; k++)
    prediction->slope[k] = dense[column[k]];
}

/* Resistances span decades: judged in the logarithm, over-range at the end of the scale. */
static void
take_logarithm (MlPrediction *prediction, double *dense, guint n)
{
  gboolean inside;
  double ln = ml_cold_ln (prediction->value, &inside);

  for (guint i = 0; i < n; i++)
    dense[i] = inside ? dense[i] / prediction->value : 0;
  prediction->value = ln;
}

/* ---- the meter ---- */

gboolean
ml_reading_place_meter (const MlModel *model, const MlReadingPlace *place, MlNodalMeter *ret_meter)
{
  MlNodalMeter meter = { .reads = ML_NODAL_READ_VOLTS, .device = -1, .input_ohm = place->input_ohm, .test_a = place->test_a,
                         .compliance_v = place->compliance_v, .over_ohm = place->reads == ML_READS_OHMS ? ml_meter_figure ("ohms-over") : 0 };

  meter.reads = place->reads == ML_READS_AMPS    ? ML_NODAL_READ_AMPS
                : place->reads == ML_READS_OHMS  ? ML_NODAL_READ_OHMS
                : place->reads == ML_READS_DIODE ? ML_NODAL_READ_DIODE
                                                 : ML_NODAL_READ_VOLTS;
  if (place->reads == ML_READS_AMPS)
    {
      if (place->supply < 0 || (guint) place->supply >= model->board->conditions[place->condition].n_supplies)
        return FALSE;
      meter.device = model->conditions[place->condition].supply_device[place->supply];
    }
  else if (!ml_model_point (model, place->condition, &place->red, &meter.red)
           || !ml_model_point (model, place->condition, &place->black, &meter.black))
    return FALSE;
  *ret_meter = meter;
  return TRUE;
}

typedef struct
{
  MlNodalParameterRef *refs;
  int n;
  const double *z; /* where they are asked; NULL: all 0 */
  double *value;   /* per unknown of the condition: its value there, as far as it was asked for; else NAN */
  double *own_z, *own_value;
  guint *column;   /* n_columns + 1: scratch */
} Slopes;

static double *
values_not_asked (const MlModelCondition *own)
{
  double *value = g_new (double, MAX (own->n_refs, 1));

  for (guint i = 0; i < own->n_refs; i++)
    value[i] = NAN;
  return value;
}

/* At the centre they are those of all items of the node. */
static double *
centred_values (MlDictionary *dictionary, int condition, guint node)
{
  double **own = &dictionary->centred_values[(guint) condition * dictionary->model->n_nodes + node];

  if (!*own)
    *own = values_not_asked (&dictionary->model->conditions[condition]);
  return *own;
}

static double
value_of (const MlDictionary *dictionary, const MlExpansion *expansion, int condition, const Slopes *slopes, guint i)
{
  if (isnan (slopes->value[i]))
    slopes->value[i] = ml_model_parameter_value (dictionary->model, dictionary->model->conditions[condition].unknown[i], slopes->z,
                                                 dictionary->items[expansion->item].node);
  return slopes->value[i];
}

static void
slopes_clear (Slopes *slopes)
{
  g_free (slopes->refs);
  g_free (slopes->own_z);
  g_free (slopes->own_value);
  g_free (slopes->column);
}

static void
collect_slopes (MlDictionary *dictionary, const MlExpansion *expansion, int condition, Slopes *ret)
{
  const MlModelCondition *own = &dictionary->model->conditions[condition];
  const MlHypothesis *hypothesis = ml_dictionary_hypothesis (dictionary, expansion->item);
  int part = hypothesis->fault.part, n = own->n_refs;

  ret->refs = g_new (MlNodalParameterRef, own->n_refs + dictionary->n_columns);
  memcpy (ret->refs, own->refs, own->n_refs * sizeof *own->refs);
  if (hypothesis->fault.kind == ML_FAULT_MISBEHAVING)
    for (guint p = 0; p < dictionary->model->board->parts[part].n_pins; p++)
      if (dictionary->model->block_current[part][p] >= 0)
        ret->refs[n++] = (MlNodalParameterRef){ dictionary->model->block_current[part][p], 0 };
  ret->n = n;
  ret->column = g_new (guint, dictionary->n_columns + 1);
  ret->z = ml_expansion_unknowns (dictionary, expansion, condition, &ret->own_z);
  ret->own_value = ret->z ? values_not_asked (own) : NULL;
  ret->value = ret->z ? ret->own_value : centred_values (dictionary, condition, dictionary->items[expansion->item].node);
}

/* How the reading hangs on the unknown chips, while dense holds slopes in z still. */
static double
chopped_slope (const MlModel *model, const MlModelCondition *own, const double *dense)
{
  double sum = 0;

  for (guint i = 0; i < own->n_blocks; i++)
    sum += pow (dense[own->block[i]] / model->unknowns[own->block[i]].spread, 2);
  return sqrt (sum);
}

static void
scatter_slopes (MlDictionary *dictionary, const MlExpansion *expansion, int condition, const Slopes *slopes, const MlNodalReading *reading,
                const int sized[2], double *dense, double *ret_chopped)
{
  const MlModel *model = dictionary->model;
  const MlModelCondition *own = &model->conditions[condition];
  const MlHypothesis *hypothesis = ml_dictionary_hypothesis (dictionary, expansion->item);
  const MlCell *cell = &hypothesis->cells[dictionary->items[expansion->item].cell];
  guint node = dictionary->items[expansion->item].node;
  int next = (int) own->n_refs, part = hypothesis->fault.part;
  const MlFault *faults[2];
  guint n_faults = ml_expansion_faults (dictionary, expansion, faults);

  for (guint i = 0; i < own->n_refs; i++)
    if (fabs (reading->slope[i]) * own->sway[i] < NO_SLOPE) /* most parts are far from most readings */
      continue;
    else if (ml_model_is_input (model, own->unknown[i], slopes->z, node))
      continue;
    else if (!model->unknowns[own->unknown[i]].chopped)
      scatter (model, own->unknown[i], reading->slope[i], value_of (dictionary, expansion, condition, slopes, i), dense);
    else if (ml_model_is_free (model, own->unknown[i], node, faults, n_faults))
      scatter (model, own->unknown[i], reading->slope[i] * ml_expansion_more (dictionary, expansion, own->unknown[i]),
               value_of (dictionary, expansion, condition, slopes, i), dense);
  *ret_chopped = chopped_slope (model, own, dense);
  ml_expansion_carry_slopes (dictionary, expansion, condition, dense);
  if (sized[0] >= 0)
    dense[model->n_z] = reading->size_slope[sized[0]] * cell->spread;
  if (sized[1] >= 0)
    dense[model->n_z + 1] = reading->size_slope[sized[1]]
                            * ml_dictionary_hypothesis (dictionary, expansion->second)->cells[dictionary->items[expansion->second].cell].spread;
  if (hypothesis->fault.kind == ML_FAULT_MISBEHAVING)
    for (guint p = 0; p < model->board->parts[part].n_pins; p++)
      if (model->block_current[part][p] >= 0)
        dense[model->n_z + 2 + p] = reading->slope[next++] * cell->size;
}

/* Whether the place lifts a leg: its changes then stand behind those of the expansion, until the caller cuts them off again at *ret_before. */
static gboolean
add_lifts (MlDictionary *dictionary, const MlReadingPlace *place, guint *ret_before)
{
  MlChanges *changes = dictionary->built[place->condition].changes;

  *ret_before = changes->array->len;
  ml_changes_lift (changes, dictionary->model, &place->red, &place->black);
  return changes->array->len > *ret_before;
}

static gboolean
solve_changed (MlDictionary *dictionary, int condition, const MlNodalSolution *start, MlNodalSolution *ret_at)
{
  MlModelCondition *own = &dictionary->model->conditions[condition];
  const GArray *changes = dictionary->built[condition].changes->array;

  if (ml_nodal_solution_init (ret_at, own->circuit) != ML_NODAL_OK)
    g_error ("out of memory"); /* as g_malloc does */
  if (ml_nodal_solve (own->solver, (const MlNodalChange *) (gpointer) changes->data, (int) changes->len, start, ret_at) >= 0)
    return TRUE;
  ml_nodal_solution_clear (ret_at);
  return FALSE;
}

gboolean
ml_expansion_solve_lifted (MlDictionary *dictionary, MlExpansion *expansion, const MlReadingPlace *place, MlNodalSolution *ret_at)
{
  int sized[2];
  guint before;
  gboolean solved;

  if (!ml_expansion_solve (dictionary, expansion, place->condition, NULL) || !ml_expansion_build_changes (dictionary, expansion, place->condition, sized))
    return FALSE;
  add_lifts (dictionary, place, &before);
  solved = solve_changed (dictionary, place->condition, &expansion->at[place->condition], ret_at);
  g_array_set_size (dictionary->built[place->condition].changes->array, before);
  return solved;
}

static void
measure_at (MlDictionary *dictionary, int condition, const MlNodalSolution *at, const Slopes *slopes, MlNodalReading *readings, guint n)
{
  const GArray *changes = dictionary->built[condition].changes->array;

  if (ml_nodal_measure_all (dictionary->model->conditions[condition].solver, (const MlNodalChange *) (gpointer) changes->data, (int) changes->len, at,
                            slopes->refs, slopes->n, readings, (int) n) == ML_NODAL_NO_MEMORY)
    g_error ("out of memory"); /* as g_malloc does */
}

/* The circuit with a leg lifted is another one; it is solved for the one reading. FALSE: the place lifts none. */
static gboolean
measure_lifted (MlDictionary *dictionary, const MlExpansion *expansion, const MlReadingPlace *place, const Slopes *slopes, MlNodalReading *reading)
{
  MlNodalSolution lifted;
  guint before;

  if (!add_lifts (dictionary, place, &before))
    return FALSE;
  reading->status = ML_NODAL_NOT_CONVERGED;
  if (solve_changed (dictionary, place->condition, &expansion->at[place->condition], &lifted))
    {
      measure_at (dictionary, place->condition, &lifted, slopes, reading, 1);
      ml_nodal_solution_clear (&lifted);
    }
  g_array_set_size (dictionary->built[place->condition].changes->array, before);
  return TRUE;
}

/* A pin that is not on its drawn net takes the solder that a probe stands on along. */
static void
follow_pin (const MlFault *fault, MlProbe *probe)
{
  if (fault->kind == ML_FAULT_WRONG_NET)
    probe->lead |= probe->part == fault->part && probe->pin == fault->pins[0];
  for (guint i = 0; i < fault->n_cut; i++)
    probe->lead |= probe->part == fault->cut_parts[i] && probe->pin == fault->cut_pins[i];
}

static MlReadingPlace
place_under (const MlDictionary *dictionary, const MlExpansion *expansion, const MlReadingPlace *place)
{
  MlReadingPlace own = *place;

  for (guint k = 0; k < (expansion->second < 0 ? 1 : 2); k++)
    {
      const MlFault *fault = &ml_dictionary_hypothesis (dictionary, k ? expansion->second : expansion->item)->fault;

      follow_pin (fault, &own.red);
      follow_pin (fault, &own.black);
    }
  return own;
}

static gboolean
moves_pins (const MlDictionary *dictionary, int item)
{
  const MlFault *fault = item >= 0 ? &ml_dictionary_hypothesis (dictionary, (guint) item)->fault : NULL;

  return fault && (fault->kind == ML_FAULT_WRONG_NET || fault->n_cut);
}

/* The place whose prediction serves there: where no pin leaves its net it is that of the nets. */
static guint
read_at (const MlDictionary *dictionary, const MlExpansion *expansion, guint place)
{
  const MlReadingPlace *own = &g_array_index (dictionary->places, MlReadingPlace, place);
  MlReadingPlace under;

  if (own->plain == place || (!moves_pins (dictionary, expansion->item) && !moves_pins (dictionary, expansion->second)))
    return own->plain;
  under = place_under (dictionary, expansion, own);
  return under.red.lead == own->red.lead && under.black.lead == own->black.lead ? own->plain : place;
}

guint
ml_dictionary_read_at (const MlDictionary *dictionary, guint item, guint place)
{
  return read_at (dictionary, dictionary->expansions[item], place);
}

/* A place to be measured, and its prediction. */
typedef struct
{
  MlReadingPlace place; /* as the hypothesis has it */
  guint index;          /* the dictionary's */
  MlNodalMeter meter;
  MlPrediction *prediction;
} Asked;

/* What the engine made of it, into the prediction. dense: n_columns, all 0 before and after. */
static void
take_reading (MlDictionary *dictionary, const MlExpansion *expansion, const Asked *asked, const MlNodalReading *reading, const Slopes *slopes,
              const int sized[2], double *dense)
{
  const MlReadingPlace *place = &asked->place;
  MlPrediction *prediction = asked->prediction;

  prediction->value = reading->status >= 0 ? reading->value : NAN;
  if (place->reads == ML_READS_VOLTS && fabs (prediction->value) < LEAST_VOLTS)
    prediction->value = 0;
  if (reading->status >= 0 && place->reads == ML_READS_DIODE && !isfinite (prediction->value))
    prediction->value = place->compliance_v;
  if (reading->status < 0 || (!isfinite (prediction->value) && place->reads != ML_READS_OHMS))
    {
      prediction->value = NAN;
      return;
    }
  if (place->reads == ML_READS_OHMS && isfinite (prediction->value))
    dense[ml_dictionary_test_column (dictionary)] = reading->test_slope * ml_meter_figure ("ohms-test-share");
  if (isfinite (prediction->value) && prediction->value < place->compliance_v + (place->reads != ML_READS_DIODE) * 1e30)
    scatter_slopes (dictionary, expansion, place->condition, slopes, reading, sized, dense, &prediction->chopped);
  if (place->reads == ML_READS_OHMS)
    take_logarithm (prediction, dense, dictionary->n_columns);
  keep_columns (dictionary, expansion, place->condition, asked->index, prediction, dense, slopes->column);
  memset (dense, 0, dictionary->n_columns * sizeof *dense);
  prediction->valid = TRUE;
}

/* All of one condition. */
static void
measure (MlDictionary *dictionary, const MlExpansion *expansion, int condition, Asked *asked, guint n)
{
  g_autofree double *memory = NULL, *dense = g_new0 (double, dictionary->n_columns);
  g_autofree MlNodalReading *readings = g_new0 (MlNodalReading, n);
  g_autofree guint *which = g_new (guint, n);
  guint together = 0, per_reading;
  Slopes slopes;
  int sized[2], asked_sizes[3] = { -1, -1, -1 };

  if (!ml_expansion_build_changes (dictionary, expansion, condition, sized))
    return;
  for (guint k = 0, to = 0; k < 2; k++)
    if (sized[k] >= 0)
      asked_sizes[to++] = sized[k];
  collect_slopes (dictionary, expansion, condition, &slopes);
  per_reading = (guint) slopes.n + dictionary->built[condition].changes->array->len + 2; /* with two lifted legs */
  memory = g_new0 (double, n * per_reading);
  for (guint i = 0; i < n; i++)
    {
      MlNodalReading *reading = &readings[together];

      *reading = (MlNodalReading){ .meter = &asked[i].meter, .status = ML_NODAL_NOT_CONVERGED, .value = NAN, .slope = memory + together * per_reading,
                                    .size_slope = memory + together * per_reading + slopes.n, .sized = asked_sizes };
      if (!measure_lifted (dictionary, expansion, &asked[i].place, &slopes, reading))
        which[together++] = i;
      else
        take_reading (dictionary, expansion, &asked[i], reading, &slopes, sized, dense);
    }
  if (together)
    measure_at (dictionary, condition, &expansion->at[condition], &slopes, readings, together);
  for (guint k = 0; k < together; k++)
    take_reading (dictionary, expansion, &asked[which[k]], &readings[k], &slopes, sized, dense);
  slopes_clear (&slopes);
}

/* Where a state of affairs could not be computed, the healthy board's reading stands in; evidence then gives it a wide spread. */
static void
stand_in (MlDictionary *dictionary, const MlExpansion *expansion, guint place, MlPrediction *prediction)
{
  guint middle = ml_model_usual (dictionary->model);

  prediction->value = 0;
  if (expansion != dictionary->expansions[middle])
    prediction->value = ml_expansion_predict (dictionary, dictionary->expansions[middle], place, NULL)->value;
}

/* The places of one condition that have no prediction yet; the others stay. */
static void
predict_condition (MlDictionary *dictionary, MlExpansion *expansion, int condition, const guint *places, guint n, const MlExpansion *start)
{
  g_autofree Asked *asked = g_new (Asked, n);
  g_autofree guint *fresh = g_new (guint, n);
  guint n_asked = 0, n_fresh = 0;

  for (guint i = 0; i < n; i++)
    {
      const MlReadingPlace *own = &g_array_index (dictionary->places, MlReadingPlace, places[i]);
      MlPrediction *prediction;

      if (own->condition != condition || expansion->predictions->pdata[places[i]])
        continue;
      expansion->predictions->pdata[places[i]] = prediction = prediction_new (dictionary, expansion, condition);
      fresh[n_fresh++] = places[i];
      asked[n_asked].place = place_under (dictionary, expansion, own);
      asked[n_asked].index = places[i];
      asked[n_asked].prediction = prediction;
      n_asked += ml_reading_place_meter (dictionary->model, &asked[n_asked].place, &asked[n_asked].meter);
    }
  if (n_asked && ml_expansion_solve (dictionary, expansion, condition, start))
    measure (dictionary, expansion, condition, asked, n_asked);
  for (guint i = 0; i < n_fresh; i++)
    if (!((MlPrediction *) expansion->predictions->pdata[fresh[i]])->valid)
      stand_in (dictionary, expansion, fresh[i], expansion->predictions->pdata[fresh[i]]);
}

/* Several places of one expansion. */
typedef struct
{
  MlDictionary *dictionary;
  MlExpansion *expansion;
  const MlExpansion *start;
  guint *at, n;
} Several;

/* The first place without a prediction, of that condition or, with -1, of any; n when there is none. */
static guint
first_open (const Several *several, int condition)
{
  guint i = 0;

  /* The condition first: predictions of others may be written meanwhile. */
  while (i < several->n
         && ((condition >= 0 && g_array_index (several->dictionary->places, MlReadingPlace, several->at[i]).condition != condition)
             || several->expansion->predictions->pdata[several->at[i]]))
    i++;
  return i;
}

static void
predict_in_cb (guint condition, gpointer data)
{
  const Several *several = data;
  guint i = first_open (several, (int) condition);

  if (i < several->n)
    predict_condition (several->dictionary, several->expansion, (int) condition, several->at + i, several->n - i, several->start);
}

static gboolean
spans_conditions (const Several *several)
{
  guint first = first_open (several, -1);

  for (guint i = first; i < several->n; i++)
    if (!several->expansion->predictions->pdata[several->at[i]]
        && g_array_index (several->dictionary->places, MlReadingPlace, several->at[i]).condition
             != g_array_index (several->dictionary->places, MlReadingPlace, several->at[first]).condition)
      return TRUE;
  return FALSE;
}

static void
make_room (MlDictionary *dictionary, MlExpansion *expansion)
{
  if (expansion->predictions->len < dictionary->places->len)
    g_ptr_array_set_size (expansion->predictions, (int) dictionary->places->len);
}

void
ml_expansion_go_side_by_side (MlDictionary *dictionary, MlExpansion *expansion)
{
  make_room (dictionary, expansion);
  make_room (dictionary, dictionary->expansions[ml_model_usual (dictionary->model)]); /* which stands in for what cannot be computed */
  ml_expansion_find_more (dictionary, expansion);
}

void
ml_expansion_predict_all (MlDictionary *dictionary, MlExpansion *expansion, const guint *places, guint n, const MlExpansion *start)
{
  g_autofree guint *at = g_new (guint, MAX (n, 1));
  Several several = { dictionary, expansion, start, at, n };
  guint first;

  make_room (dictionary, expansion);
  for (guint i = 0; i < n; i++)
    at[i] = read_at (dictionary, expansion, places[i]);
  first = first_open (&several, -1);
  if (first == n)
    return;
  if (!spans_conditions (&several))
    {
      predict_in_cb ((guint) g_array_index (dictionary->places, MlReadingPlace, at[first]).condition, &several);
      return;
    }
  ml_expansion_go_side_by_side (dictionary, expansion);
  ml_side_by_side (dictionary->model->board->n_conditions, predict_in_cb, &several);
}

const MlPrediction *
ml_expansion_predict (MlDictionary *dictionary, MlExpansion *expansion, guint place, const MlExpansion *start)
{
  guint at = read_at (dictionary, expansion, place);

  if (at >= expansion->predictions->len || !expansion->predictions->pdata[at])
    ml_expansion_predict_all (dictionary, expansion, &at, 1, start);
  return expansion->predictions->pdata[at];
}
