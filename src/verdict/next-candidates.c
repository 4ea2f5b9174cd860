/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The readings that could be taken next, and a rough look at what each would tell. */
#include "verdict/next-private.h"

#include "verdict/assumptions.h"

#include <math.h>

/* ---- listing ---- */

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

/* The open-circuit voltage, which the diode test and the ohms ranges need not have in common. */
static double
open_circuit_volts (const MlMeter *meter, MlReads reads)
{
  return reads == ML_READS_OHMS ? ml_meter_figure ("ohms-open-volts") : meter->diode_v;
}

void
ml_next_add_candidate (Search *search, int condition, MlReads reads, MlProbe red, MlProbe black, int supply, const char *effort)
{
  Candidate candidate = { .effort = ml_assumption (effort), .order = search->candidates->len };

  candidate.place = (MlReadingPlace){ .condition = condition, .reads = reads, .red = red, .black = black, .supply = supply,
                                      .input_ohm = reads == ML_READS_AMPS ? INFINITY : search->meter->input_ohm,
                                      .test_a = test_current (search->meter, reads), .compliance_v = open_circuit_volts (search->meter, reads) };
  if (search->last_condition >= 0 && condition != search->last_condition)
    candidate.effort += ml_assumption ("next.effort-condition");
  if (!is_taken (search, &candidate.place))
    g_array_append_val (search->candidates, candidate);
}

MlProbe
ml_next_on_net (int net)
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
      ml_next_add_candidate (search, c, ML_READS_VOLTS, ml_next_on_net (i), ml_next_on_net (reference), -1, "next.effort-net");
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
            ml_next_add_candidate (search, c, ML_READS_VOLTS, ml_next_on_net (a), ml_next_on_net (b), -1, "next.effort-across");
        }
    }
}

gboolean
ml_next_is_junction (MlKind kind)
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
      gboolean junction = ml_next_is_junction (part->kind->kind);

      if (part->n_pins != 2 || own->part_probability[i] < ml_assumption ("next.leading") || !ml_model_type (own->dictionary->model, (int) i)
          || part->pins[0].net < 0 || part->pins[1].net < 0 || part->pins[0].net == part->pins[1].net)
        continue;
      ml_next_add_candidate (search, c, junction ? ML_READS_DIODE : ML_READS_OHMS, ml_next_on_net (part->pins[0].net), ml_next_on_net (part->pins[1].net), -1,
                     "next.effort-cold");
    }
}

static gboolean
is_candidate (const Search *search, int condition, const MlProbe *red, const MlProbe *black)
{
  for (guint i = 0; i < search->candidates->len; i++)
    {
      const MlReadingPlace *place = &g_array_index (search->candidates, Candidate, i).place;

      if (place->condition == condition && place->red.lead == red->lead && place->black.lead == black->lead && place->red.part == red->part
          && place->red.pin == red->pin && place->black.part == black->part && place->black.pin == black->pin)
        return TRUE;
    }
  return FALSE;
}

static MlProbe
on_metal (const MlPart *part, int number, int pin)
{
  return (MlProbe){ part->pins[pin].net, number, pin, TRUE };
}

/* The part's own metal against its solder: the best test of a joint, worth asking for where one is in question. From one end's metal to the other's: whether it
 * is the part itself or a joint at either end. */
static void
add_lead_candidates (Search *search, int c)
{
  MlCase *own = search->own;

  for (guint h = 0; h < own->dictionary->hypotheses->len; h++)
    {
      const MlFault *fault = &g_array_index (own->dictionary->hypotheses, MlHypothesis, h).fault;
      gboolean asked = (fault->kind == ML_FAULT_JOINT || (fault->kind == ML_FAULT_OPEN && fault->n_pins == 1))
                       && own->hypothesis_probability[h] > ml_assumption ("next.leading");
      const MlPart *part = asked ? &own->job->board->parts[fault->part] : NULL;
      int other = asked && ml_fault_is_worn_contact (fault) ? fault->pins[1] : asked && part->n_pins == 2 ? !fault->pins[0] : -1;

      if (!asked || part->pins[fault->pins[0]].net < 0)
        continue;
      if (!ml_fault_is_worn_contact (fault))
        ml_next_add_candidate (search, c, ML_READS_VOLTS, on_metal (part, fault->part, fault->pins[0]), ml_next_on_net (part->pins[fault->pins[0]].net), -1,
                               "next.effort-lead");
      if (other >= 0 && part->pins[other].net >= 0)
        {
          MlProbe red = on_metal (part, fault->part, MIN (fault->pins[0], other)), black = on_metal (part, fault->part, MAX (fault->pins[0], other));

          if (!is_candidate (search, c, &red, &black)) /* several faults ask for it */
            ml_next_add_candidate (search, c, ML_READS_VOLTS, red, black, -1, "next.effort-lead");
        }
    }
}

void
ml_next_collect (Search *search)
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
        ml_next_add_candidate (search, c, ML_READS_AMPS, ml_next_on_net (-1), ml_next_on_net (-1), s, "next.effort-supply");
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
    return ml_nodal_solution_metal_v (own->dictionary->model->conditions[c].circuit, at, point.device, point.pin);
  return at->floating[point.net] ? 0 : at->net_v[point.net];
}

static double
rough_value (Search *search, guint i, const MlReadingPlace *place)
{
  MlCase *own = search->own;
  MlExpansion *at = ml_case_expansion (own, search->item[i]);
  const MlNodalSolution *solved;
  int c = place->condition;
  double value;

  if (place->reads == ML_READS_OHMS || place->reads == ML_READS_DIODE) /* the meter itself drives the circuit: nothing rough about it */
    return ml_case_predict (own, search->item[i], ml_dictionary_place (own->dictionary, place))->value;
  if (!ml_expansion_solve (own->dictionary, at, c, NULL))
    return 0;
  solved = ml_expansion_at (own->dictionary, at, c);
  if (place->reads == ML_READS_AMPS)
    {
      const MlModelCondition *own_condition = &own->dictionary->model->conditions[c];
      int device = own_condition->supply_device[place->supply];
      value = -solved->pin_a[ml_nodal_circuit_first_pin (own_condition->circuit, device)];
    }
  else
    value = point_volts (own, solved, c, &place->red) - point_volts (own, solved, c, &place->black);
  return isfinite (value) ? value : 0;
}

void
ml_next_screen (Search *search, Candidate *candidate)
{
  MlReads reads = candidate->place.reads;
  double least = ml_assumption (reads == ML_READS_OHMS ? "next.rough-ohm" : reads == ML_READS_AMPS ? "next.rough-amps" : "next.rough-volts");
  double share = reads == ML_READS_OHMS ? 0 : ml_assumption ("next.rough-share");
  double mean[MOST_LIVE], sigma[MOST_LIVE];

  for (guint i = 0; i < search->n; i++)
    {
      mean[i] = rough_value (search, i, &candidate->place);
      sigma[i] = hypot (least, share * mean[i]);
    }
  candidate->score = ml_information (search->weight, search->key, mean, sigma, search->n) / candidate->effort;
}
