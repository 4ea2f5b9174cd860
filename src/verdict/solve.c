/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One condition as drawn, or with supposed faults. */
#include "verdict/judge-private.h"
#include "verdict/assumptions.h"

#include <math.h>

static void
take_nets (const MlModel *model, int condition, const MlNodalSolution *at, MlOperatingPoint *point)
{
  for (guint i = 0; i < model->board->n_nets; i++)
    {
      int net = model->conditions[condition].net_of[i];
      point->net_v[i] = at->floating[net] ? NAN : at->net_v[net];
    }
}

static double
metal (const MlModelCondition *own, const MlNodalSolution *at, MlDevicePin pin, double *ret_a)
{
  *ret_a = at->pin_a[ml_nodal_circuit_first_pin (own->circuit, pin.device) + pin.pin];
  return ml_nodal_solution_metal_v (own->circuit, at, pin.device, pin.pin);
}

static void
take_parts (const MlModel *model, int condition, const MlNodalSolution *at, MlOperatingPoint *point)
{
  for (guint i = 0; i < model->board->n_parts; i++)
    {
      double power = 0, a, v;
      gboolean known = FALSE;

      for (guint p = 0; p < model->board->parts[i].n_pins; p++)
        {
          if (model->pins[i][p].device < 0)
            continue;
          v = metal (&model->conditions[condition], at, model->pins[i][p], &a);
          point->pin_a[i][p] = a;
          if (a != 0 && isfinite (v))
            power += a * v;
          known = TRUE;
        }
      point->part_w[i] = known ? power : NAN;
    }
}

/* One in balance at its coil's pull voltage counts as where it is more of the time. */
static void
take_contacts (const MlModel *model, const MlNodalSolution *at, MlOperatingPoint *point)
{
  for (guint i = 0; i < model->board->n_parts; i++)
    {
      const MlPart *part = &model->board->parts[i];
      const int common = part->kind->kind == ML_KIND_CONTACT ? ml_part_find_pin (part, "common") : -1;
      const int device = common >= 0 ? model->pins[i][common].device : -1;

      point->pulled[i] = device >= 0 && at->latched && at->latched[device] > 0.5;
    }
}

static void
take_supplies (const MlModel *model, int condition, const MlNodalSolution *at, MlOperatingPoint *point)
{
  const MlCondition *own = &model->board->conditions[condition];

  for (guint i = 0; i < own->n_supplies; i++)
    {
      double a, b;
      MlDevicePin plus = { model->conditions[condition].supply_device[i], 0 }, minus = { plus.device, 1 };

      point->supply_v[i] = metal (&model->conditions[condition], at, plus, &a) - metal (&model->conditions[condition], at, minus, &b);
      point->supply_a[i] = -a;
      /* The knee is smooth: in its limit when it no longer holds its voltage. */
      point->limiting[i] = point->supply_a[i] > 0.95 * own->supplies[i].limit_a
                           && point->supply_v[i] < 0.995 * own->supplies[i].voltage_v;
    }
}

/* The part, supply or net where it failed; NULL when nothing of the user's stands there. */
static char *
name_failure (const MlModel *model, int condition, const MlNodalSolution *at)
{
  const MlBoard *board = model->board;

  for (guint i = 0; at->failed_device >= 0 && i < board->n_parts; i++)
    for (guint p = 0; p < board->parts[i].n_pins; p++)
      if (model->pins[i][p].device == at->failed_device)
        return g_strdup (board->parts[i].name);
  for (guint i = 0; at->failed_device >= 0 && i < board->conditions[condition].n_supplies; i++)
    if (model->conditions[condition].supply_device[i] == at->failed_device)
      return g_strdup_printf ("supply %s", board->conditions[condition].supplies[i].name);
  for (guint i = 0; at->failed_net > 0 && i < board->n_nets; i++)
    if (model->conditions[condition].net_of[i] == at->failed_net)
      return g_strdup_printf ("net %s", board->nets[i].name);
  return NULL;
}

static char *
describe_failure (const MlModel *model, int condition, MlNodalStatus status, const MlNodalSolution *at)
{
  g_autofree char *where = at ? name_failure (model, condition, at) : NULL;

  if (status == ML_NODAL_NOT_CONVERGED)
    return g_strdup_printf ("%s would not settle: look%s for a value that is far too large or too small, or a wrong connection",
                            where ? where : "the circuit", where ? " there" : "");
  return where ? g_strdup_printf ("%s: %s", where, ml_nodal_status_text (status)) : g_strdup (ml_nodal_status_text (status));
}

static MlOperatingPoint *
new_point (const MlBoard *board, int condition)
{
  MlOperatingPoint *point = g_new0 (MlOperatingPoint, 1);
  guint n_supplies = board->conditions[condition].n_supplies;

  point->condition = condition;
  point->net_v = g_new (double, MAX (board->n_nets, 1));
  point->part_w = g_new (double, MAX (board->n_parts, 1));
  point->pulled = g_new0 (gboolean, MAX (board->n_parts, 1));
  point->pin_a = g_new0 (double *, board->n_parts + 1);
  point->supply_v = g_new (double, MAX (n_supplies, 1));
  point->supply_a = g_new (double, MAX (n_supplies, 1));
  point->limiting = g_new0 (gboolean, MAX (n_supplies, 1));
  for (guint i = 0; i < board->n_nets; i++)
    point->net_v[i] = NAN;
  for (guint i = 0; i < n_supplies; i++)
    point->supply_v[i] = point->supply_a[i] = NAN;
  for (guint i = 0; i < board->n_parts; i++)
    {
      point->part_w[i] = NAN;
      point->pin_a[i] = g_new (double, MAX (board->parts[i].n_pins, 1));
      for (guint p = 0; p < board->parts[i].n_pins; p++)
        point->pin_a[i][p] = NAN;
    }
  return point;
}

static void
fill (MlOperatingPoint *point, const MlModel *model, const MlNodalSolution *at)
{
  point->solved = TRUE;
  take_nets (model, point->condition, at, point);
  take_parts (model, point->condition, at, point);
  take_contacts (model, at, point);
  take_supplies (model, point->condition, at, point);
}

MlOperatingPoint *
ml_operating_point_of (const MlModel *model, int condition, const MlNodalSolution *at)
{
  MlOperatingPoint *point = new_point (model->board, condition);

  fill (point, model, at);
  return point;
}

/* The node at which nobody knows anything of what chips do, and nothing switches: how much would is for readings to say. */
static guint
still (const MlModel *model)
{
  return ml_model_usual (model) + (model->n_states > 1 ? model->n_levels : 0);
}

/* The solution with these faults; the caller clears it when TRUE. */
static gboolean
solve_with (MlDictionary *dictionary, int condition, const MlFault *faults, guint n_faults, const MlFound *found, MlChanges *changes,
            MlNodalSolution *ret_at, char **ret_error)
{
  MlModelCondition *own = &dictionary->model->conditions[condition];
  MlExpansion *healthy = dictionary->expansions[still (dictionary->model)];
  g_autoptr (GError) error = NULL;
  MlNodalStatus status;

  if (!own->solver)
    {
      *ret_error = describe_failure (dictionary->model, condition, own->status, NULL);
      return FALSE;
    }
  ml_found_add (found, changes, dictionary->model, condition); /* what is supposed comes after it, and holds */
  for (guint i = 0; i < n_faults; i++)
    if (!ml_changes_add_fault (changes, dictionary->model, condition, &faults[i], NULL, &error))
      {
        *ret_error = g_strdup (error->message);
        return FALSE;
      }
  if (ml_nodal_solution_init (ret_at, own->circuit) != ML_NODAL_OK)
    g_error ("out of memory"); /* as g_malloc does */
  status = ml_nodal_solve_patiently (own->solver, (const MlNodalChange *) (gpointer) changes->array->data, changes->array->len,
                                     ml_expansion_solve (dictionary, healthy, condition, NULL) ? &healthy->at[condition] : NULL, ret_at);
  if (status >= 0 && n_faults > 0
      && ml_nodal_seek_states (own->solver, (const MlNodalChange *) (gpointer) changes->array->data, changes->array->len, ret_at)
           == ML_NODAL_NO_MEMORY)
    g_error ("out of memory"); /* as g_malloc does */
  if (status >= 0)
    return TRUE;
  *ret_error = describe_failure (dictionary->model, condition, status, ret_at);
  ml_nodal_solution_clear (ret_at);
  return FALSE;
}

gboolean
ml_judge_check_fault (MlJudge *judge, int condition, const MlFault *fault, GError **error)
{
  GHashTable *before = ml_assumptions_use (judge->assumed);
  MlDictionary *dictionary = ml_judge_base (judge);
  MlChanges *changes = ml_changes_new ();
  const gboolean fine = ml_changes_add_fault (changes, dictionary->model, condition, fault, NULL, error);

  ml_changes_free (changes);
  ml_assumptions_use (before);
  return fine;
}

MlOperatingPoint *
ml_judge_solve (MlJudge *judge, int condition, const MlFault *faults, guint n_faults, const MlFound *found)
{
  GHashTable *before = ml_assumptions_use (judge->assumed);
  MlDictionary *dictionary = ml_judge_base (judge);
  MlOperatingPoint *point = new_point (judge->board, condition);
  MlChanges *changes = ml_changes_new ();
  MlNodalSolution at;

  if (solve_with (dictionary, condition, faults, n_faults, found, changes, &at, &point->error))
    {
      const MlExpansion *healthy = dictionary->expansions[still (dictionary->model)];
      fill (point, dictionary->model, &at);
      point->other_state = at.status == ML_NODAL_AMBIGUOUS || (n_faults == 0 && healthy->at[condition].status == ML_NODAL_AMBIGUOUS);
      ml_nodal_solution_clear (&at);
    }
  ml_changes_free (changes);
  ml_assumptions_use (before);
  return point;
}

/* What the meter shows; of resistances in the first range that holds them, since the test current is the range's. */
static double
show (MlModelCondition *own, const MlChanges *changes, const MlNodalSolution *at, const MlMeter *meter, MlNodalMeter nodal, double *slope)
{
  double value, range = 0, most = ml_meter_figure ("ohms-over");

  do
    {
      range = range > 0 ? 10 * range : meter->counts * ml_meter_figure ("least-step-ohm");
      if (nodal.reads == ML_NODAL_READ_OHMS)
        nodal.test_a = ml_meter_ohms_test_a (meter, 0.99 * range);
      if (ml_nodal_measure (own->solver, (const MlNodalChange *) (gpointer) changes->array->data, changes->array->len, at, &nodal, own->refs,
                            own->n_refs, &value, slope, NULL, NULL) < 0)
        return NAN;
    }
  while (nodal.reads == ML_NODAL_READ_OHMS && value > range && range < most);
  return value;
}

double
ml_judge_expect (MlJudge *judge, int condition, const MlFault *faults, guint n_faults, const MlFound *found, MlReads reads, const MlProbe *red,
                 const MlProbe *black, int supply, const MlMeter *meter, double *ret_sigma)
{
  static const MlProbe nowhere = { -1, -1, -1, FALSE };
  GHashTable *before = ml_assumptions_use (judge->assumed);
  MlDictionary *dictionary = ml_judge_base (judge);
  MlModelCondition *own = &dictionary->model->conditions[condition];
  MlReadingPlace place = { .condition = condition, .reads = reads, .red = red ? *red : nowhere, .black = black ? *black : nowhere,
                           .supply = supply, .input_ohm = meter->input_ohm,
                           .compliance_v = reads == ML_READS_OHMS ? ml_meter_figure ("ohms-open-volts") : meter->diode_v,
                           .test_a = meter->diode_a };
  MlChanges *changes = ml_changes_new ();
  MlNodalSolution at;
  MlNodalMeter nodal;
  double value = NAN, variance = 0;
  g_autofree char *failure = NULL;
  g_autofree double *slope = g_new0 (double, own->n_refs + 1);
  g_autofree double *dense = g_new0 (double, dictionary->n_columns);

  ml_changes_lift (changes, dictionary->model, &place.red, &place.black);
  if (ml_reading_place_meter (dictionary->model, &place, &nodal)
      && solve_with (dictionary, condition, faults, n_faults, found, changes, &at, &failure))
    {
      value = show (own, changes, &at, meter, nodal, slope);
      ml_nodal_solution_clear (&at);
    }
  for (guint i = 0; isfinite (value) && i < own->n_refs; i++)
    ml_model_scatter_slope (dictionary->model, own->unknown[i], slope[i], NULL, still (dictionary->model), dense);
  for (guint i = 0; i < dictionary->n_columns; i++)
    variance += dense[i] * dense[i];
  if (ret_sigma)
    *ret_sigma = isfinite (value) ? sqrt (variance) : NAN;
  ml_changes_free (changes);
  ml_assumptions_use (before);
  return value;
}
