/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is looked at: unit, pass, condition, selection, probes, and what is supposed. */
#include <math.h>
#include <string.h>

#include "desktop/document-private.h"

#define NO_PROBE ((MlProbe){ .net = -1, .part = -1, .pin = -1 })

void
ml_document_view_clear (MlDocumentView *view)
{
  if (view->supposing)
    ml_fault_clear (&view->fault);
  view->supposing = FALSE;
}

static int
clamp_index (int i, guint n)
{
  return n == 0 ? -1 : CLAMP (i, 0, (int) n - 1);
}

void
ml_document_view_reset (MlDocument *self)
{
  MlDocumentView *view = &self->view;
  int suspect = ml_job_suspect (self->job);
  view->unit = suspect >= 0 ? suspect : clamp_index (0, self->job->n_units);
  view->pass = view->unit >= 0 ? self->job->units[view->unit].n_passes : 1; /* the one begun last: after a repair it waits for readings */
  view->condition = clamp_index (0, self->board->n_conditions);
  view->picture = clamp_index (0, self->board->n_pictures);
  view->selected_part = view->selected_pin = -1;
  view->set_up = 0;
  view->red = view->black = NO_PROBE;
  view->foretold = NAN;
  view->has_red = view->has_black = FALSE;
}

/* ---- carrying over ---- */

/* A renamed thing keeps its place when the number of things is the same. */
static int
carry_part (const MlBoard *from, const MlBoard *to, int part)
{
  if (part < 0)
    return -1;
  int found = ml_board_find_part (to, from->parts[part].name);
  return found >= 0 ? found : from->n_parts == to->n_parts ? part : -1;
}

static int
carry_pin (const MlPart *from, const MlPart *to, int pin)
{
  if (pin < 0 || (guint) pin >= from->n_pins)
    return -1;
  for (guint i = 0; i < to->n_pins; i++)
    if (strcmp (to->pins[i].name, from->pins[pin].name) == 0)
      return (int) i;
  return (guint) pin < to->n_pins ? pin : -1;
}

static int
carry_net (const MlBoard *from, const MlBoard *to, int net)
{
  if (net < 0)
    return -1;
  int found = ml_board_find_net (to, from->nets[net].name);
  return found >= 0 ? found : from->n_nets == to->n_nets ? net : -1;
}

static gboolean
carry_probe (const MlBoard *from, const MlBoard *to, MlProbe *probe)
{
  if (probe->part >= 0)
    {
      int part = carry_part (from, to, probe->part);
      int pin = part >= 0 ? carry_pin (&from->parts[probe->part], &to->parts[part], probe->pin) : -1;
      probe->part = part;
      probe->pin = pin;
      probe->net = pin >= 0 ? to->parts[part].pins[pin].net : -1;
      return pin >= 0 && probe->net >= 0;
    }
  probe->net = carry_net (from, to, probe->net);
  return probe->net >= 0;
}

static int
carry_condition (const MlBoard *from, const MlBoard *to, int condition)
{
  int found = condition >= 0 ? ml_board_find_condition (to, from->conditions[condition].name) : -1;
  return found >= 0 ? found : clamp_index (condition, to->n_conditions);
}

static void
carry_selection (MlDocumentView *view, const MlBoard *from, const MlBoard *to)
{
  int part = carry_part (from, to, view->selected_part);
  view->selected_pin = part >= 0 ? carry_pin (&from->parts[view->selected_part], &to->parts[part], view->selected_pin) : -1;
  view->selected_part = part;
}

/* Whoever looks at the last pass goes on doing so, when one is added or taken back. FALSE: it is another unit or pass, of which nothing is known yet. */
static gboolean
carry_unit (MlDocumentView *view, const MlJob *from, const MlJob *to)
{
  int found = view->unit >= 0 ? ml_job_find_unit (to, from->units[view->unit].name) : -1;
  const gboolean same = found >= 0 || from->n_units == to->n_units; /* or renamed */
  const gboolean last = view->unit >= 0 && view->pass >= from->units[view->unit].n_passes;
  const guint pass = view->pass;
  view->unit = found >= 0 ? found : clamp_index (view->unit, to->n_units);
  guint n_passes = view->unit >= 0 ? MAX (to->units[view->unit].n_passes, 1u) : 1;
  view->pass = last ? n_passes : CLAMP (view->pass, 1u, n_passes);
  return same && view->pass == pass;
}

static void
forget_verdict (MlDocument *self)
{
  g_clear_pointer (&self->verdict, ml_verdict_unref);
  g_clear_pointer (&self->waiting, ml_verdict_unref);
  ml_document_note_change (self, ML_CHANGED_VERDICT);
}

void
ml_document_view_carry_over (MlDocument *self, MlBoard *old_board, MlJob *old_job)
{
  MlDocumentView *view = &self->view;
  MlDocumentView before = *view;
  if (old_board != self->board)
    {
      view->condition = carry_condition (old_board, self->board, view->condition);
      carry_selection (view, old_board, self->board);
      view->has_red = view->has_red && carry_probe (old_board, self->board, &view->red);
      view->has_black = view->has_black && carry_probe (old_board, self->board, &view->black);
    }
  if (!carry_unit (view, old_job, self->job))
    forget_verdict (self);
  if (memcmp (&before, view, sizeof before) != 0)
    ml_document_note_change (self, ML_CHANGED_VIEW);
}

/* ---- looking elsewhere ---- */

int
ml_document_unit (MlDocument *self)
{
  return self->view.unit;
}

guint
ml_document_pass (MlDocument *self)
{
  return self->view.pass;
}

int
ml_document_condition (MlDocument *self)
{
  return self->view.condition;
}

static void
look_at_unit (MlDocument *self, int unit, guint pass)
{
  if (unit == self->view.unit && pass == self->view.pass)
    return;
  self->view.unit = unit;
  self->view.pass = pass;
  self->view.next = 0;
  forget_verdict (self);
  ml_analysis_judge (self->analysis, self->job, unit, pass, TRUE);
  ml_document_note_change (self, ML_CHANGED_VIEW);
  ml_document_tell (self);
}

void
ml_document_set_unit (MlDocument *self, int unit)
{
  if (unit >= 0 && (guint) unit < self->job->n_units)
    look_at_unit (self, unit, self->job->units[unit].n_passes);
}

void
ml_document_set_pass (MlDocument *self, guint pass)
{
  if (self->view.unit >= 0 && pass >= 1 && pass <= self->job->units[self->view.unit].n_passes)
    look_at_unit (self, self->view.unit, pass);
}

static void
forget_supposed_point (MlDocument *self)
{
  g_clear_pointer (&self->supposed_point, ml_operating_point_free);
}

void
ml_document_solve_supposed (MlDocument *self)
{
  ml_analysis_suppose (self->analysis, self->view.condition, self->view.supposing ? &self->view.fault : NULL,
                       self->verdict ? self->verdict->found : NULL);
}

/* Between two probes there will be a reading, mostly of volts. */
static void
expect_reading (MlDocument *self)
{
  MlDocumentView *view = &self->view;
  view->foretold = NAN;
  if (!view->has_red || !view->has_black || view->condition < 0)
    return;
  gboolean cold = ml_condition_is_cold (&self->board->conditions[view->condition]);
  ml_analysis_expect (self->analysis, &(MlLikelyPlace){ view->condition, cold ? ML_READS_OHMS : ML_READS_VOLTS, view->red, view->black, -1, 1e3 });
}

void
ml_document_set_condition (MlDocument *self, int condition)
{
  if (condition == self->view.condition || condition < 0 || (guint) condition >= self->board->n_conditions)
    return;
  self->view.condition = condition;
  expect_reading (self);
  if (self->view.supposing)
    {
      forget_supposed_point (self);
      ml_document_solve_supposed (self);
    }
  ml_document_note_change (self, ML_CHANGED_VIEW | ML_CHANGED_POINT);
  ml_document_tell (self);
}

void
ml_document_select (MlDocument *self, int part, int pin)
{
  if (part < 0 || (guint) part >= self->board->n_parts)
    part = pin = -1;
  else if (pin < 0 || (guint) pin >= self->board->parts[part].n_pins)
    pin = -1;
  if (part == self->view.selected_part && pin == self->view.selected_pin)
    return;
  self->view.selected_part = part;
  self->view.selected_pin = pin;
  ml_document_note_change (self, ML_CHANGED_VIEW);
  ml_document_tell (self);
}

void
ml_document_selected (MlDocument *self, int *ret_part, int *ret_pin)
{
  *ret_part = self->view.selected_part;
  *ret_pin = self->view.selected_pin;
}

void
ml_document_take_foretold (MlDocument *self, const MlLikelyPlace *place, double value, double sigma)
{
  self->view.foretold_at = *place;
  self->view.foretold = value;
  self->view.foretold_sigma = sigma;
  ml_document_note_change (self, ML_CHANGED_FORETOLD);
}

/* A place that was read already is foretold by that reading too: whoever reads it again doubts it. */
double
ml_document_foretold (MlDocument *self, const MlProbe *red, const MlProbe *black, double *ret_sigma)
{
  const MlDocumentView *view = &self->view;
  const MlLikelyPlace *at = &view->foretold_at;
  const gboolean same = ml_probe_equal (red, &at->red) && ml_probe_equal (black, &at->black);
  const gboolean swapped = ml_probe_equal (red, &at->black) && ml_probe_equal (black, &at->red);
  gboolean other_way;
  *ret_sigma = view->foretold_sigma;
  if (isnan (view->foretold) || at->condition != view->condition || !(same || swapped)
      || ml_job_find_reading (self->job, view->unit, view->pass, view->condition, ML_READS_VOLTS, red, black, &other_way) >= 0)
    return NAN;
  return same ? view->foretold : -view->foretold;
}

void
ml_document_set_probes (MlDocument *self, const MlProbe *red, const MlProbe *black)
{
  MlDocumentView *view = &self->view;
  MlProbe new_red = red ? *red : NO_PROBE, new_black = black ? *black : NO_PROBE;
  if (view->has_red == (red != NULL) && view->has_black == (black != NULL) && ml_probe_equal (&view->red, &new_red)
      && ml_probe_equal (&view->black, &new_black))
    return;
  view->red = new_red;
  view->black = new_black;
  view->has_red = red != NULL;
  view->has_black = black != NULL;
  expect_reading (self);
  ml_document_note_change (self, ML_CHANGED_VIEW);
  ml_document_tell (self);
}

const MlProbe *
ml_document_red (MlDocument *self)
{
  return self->view.has_red ? &self->view.red : NULL;
}

const MlProbe *
ml_document_black (MlDocument *self)
{
  return self->view.has_black ? &self->view.black : NULL;
}

int
ml_document_next (MlDocument *self)
{
  const MlVerdict *verdict = self->verdict;
  int next = self->view.next;
  gboolean there = verdict && next >= 0 && (guint) next < verdict->n_next;
  return there && verdict->next[next].condition + 1 != (int) self->view.set_up ? next : -1;
}

void
ml_document_set_up (MlDocument *self, int condition)
{
  if (self->view.set_up == (guint) (condition + 1))
    return;
  self->view.set_up = (guint) (condition + 1);
  ml_document_note_change (self, ML_CHANGED_VIEW);
  ml_document_tell (self);
}

void
ml_document_set_next (MlDocument *self, int next)
{
  int n = self->verdict ? (int) self->verdict->n_next : 0, within = n > 0 ? (next % n + n) % n : 0;
  if (within == self->view.next)
    return;
  self->view.next = within;
  ml_document_note_change (self, ML_CHANGED_VIEW);
  ml_document_tell (self);
}

void
ml_document_suppose (MlDocument *self, const MlFault *fault)
{
  MlDocumentView *view = &self->view;
  if (!fault && !view->supposing)
    return;
  MlFault copy;
  if (fault)
    ml_analysis_copy_fault (fault, &copy); /* before clearing: it may be our own */
  ml_document_view_clear (view);
  forget_supposed_point (self);
  if (fault)
    {
      view->fault = copy;
      view->supposing = TRUE;
    }
  if (view->condition >= 0)
    ml_document_solve_supposed (self);
  ml_document_note_change (self, ML_CHANGED_VIEW | ML_CHANGED_POINT);
  ml_document_tell (self);
}

const MlFault *
ml_document_supposed (MlDocument *self)
{
  return self->view.supposing ? &self->view.fault : NULL;
}
