/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Taking readings on the canvas: where the probes stand, the entry, and where to go next. */
#include <math.h>
#include <string.h>

#include "board/edit.h"
#include "desktop/canvas-private.h"
#include "desktop/entry.h"
#include "desktop/findings-text.h"

static MlProbe
pin_probe (const MlBoard *board, int part, int pin)
{
  return (MlProbe){ .net = board->parts[part].pins[pin].net, .part = part, .pin = pin };
}

static MlProbe
net_probe (int net)
{
  return (MlProbe){ .net = net, .part = -1, .pin = -1 };
}

/* ---- probes follow the selection ---- */

gboolean
ml_canvas_half_probed (MlCanvas *self)
{
  return self->mode == ML_CANVAS_MEASURE && ml_document_red (self->document) && !ml_document_black (self->document);
}

gboolean
ml_canvas_offers_reading (MlCanvas *self)
{
  int part, pin;
  ml_document_selected (self->document, &part, &pin);
  return self->mode == ML_CANVAS_MEASURE && pin >= 0 && ml_document_red (self->document) && ml_document_black (self->document)
         && !gtk_widget_get_visible (self->entry);
}

void
ml_canvas_measure_stop (MlCanvas *self)
{
  ml_document_set_probes (self->document, NULL, NULL);
}

void
ml_canvas_measure_selected (MlCanvas *self)
{
  int part, pin;
  const MlBoard *board = ml_document_board (self->document);
  if (self->mode != ML_CANVAS_MEASURE || self->doing == ML_DOING_PICK)
    return;
  ml_document_selected (self->document, &part, &pin);
  if (pin >= 0)
    {
      MlProbe red = pin_probe (board, part, pin);
      ml_document_set_probes (self->document, &red, NULL);
    }
  else if (part >= 0 && board->parts[part].n_pins == 2)
    {
      MlProbe red = pin_probe (board, part, 0), black = pin_probe (board, part, 1);
      ml_document_set_probes (self->document, &red, &black);
    }
  else
    ml_document_set_probes (self->document, NULL, NULL);
  ml_canvas_update_hint (self);
}

/* ---- clicks ---- */

static void
click_pin (MlCanvas *self, int part, int pin)
{
  MlProbe here = pin_probe (ml_document_board (self->document), part, pin);
  const MlProbe *stands = ml_document_red (self->document);
  gboolean second = ml_canvas_half_probed (self) && stands && !ml_probe_equal (stands, &here);
  MlProbe red = second ? *stands : here;
  ml_canvas_select_and_focus (self, part, pin);
  if (second)
    ml_document_set_probes (self->document, &red, &here);
}

static void
click_net (MlCanvas *self, int net)
{
  int part = -1, pin = -1;
  MlPoint at = ml_viewport_to_sheet (&self->viewport, self->pointer.x, self->pointer.y);
  const MlProbe *stands = ml_document_red (self->document);
  MlProbe here = net_probe (net), red = stands ? *stands : here;
  gboolean second = ml_canvas_half_probed (self) && stands && stands->net != net;
  if (ml_canvas_nearest_pin (self, net, at, &part, &pin))
    ml_canvas_select_and_focus (self, part, pin);
  if (second)
    ml_document_set_probes (self->document, &red, &here);
  else
    ml_document_set_probes (self->document, &here, NULL);
}

void
ml_canvas_measure_click (MlCanvas *self, const MlHit *hit)
{
  switch (hit->kind)
    {
    case ML_HIT_PIN: click_pin (self, hit->part, hit->pin); break;
    case ML_HIT_WIRE:
    case ML_HIT_FLAG: click_net (self, hit->net); break;
    case ML_HIT_PART: ml_canvas_select_and_focus (self, hit->part, -1); break;
    case ML_HIT_NOTHING:
    default:
      ml_canvas_measure_stop (self);
      ml_canvas_select_and_focus (self, -1, -1);
      break;
    }
  ml_canvas_update_hint (self);
}

/* ---- the entry ---- */

static void open_entry (MlCanvas *self, const char *typed);

static void
reference_picked (MlCanvas *self, const MlHit *picked, gpointer data)
{
  if (!picked || picked->net < 0)
    return;
  g_autoptr (GError) error = NULL;
  g_autoptr (MlText) text = ml_board_edit_set_reference (ml_document_board (self->document), picked->net, &error);
  if (!text)
    {
      ml_canvas_fail_error (self, error);
      return;
    }
  ml_document_apply (self->document, text, NULL, "Choose where the black probe rests", NULL);
  open_entry (self, NULL);
}

static gboolean
ready_to_read (MlCanvas *self)
{
  if (ml_document_condition (self->document) < 0)
    ml_canvas_fail (self, "A reading belongs to a condition: add one first, with its supply");
  else if (ml_document_unit (self->document) < 0)
    ml_canvas_fail (self, "A reading belongs to a unit: add one first");
  else
    return TRUE;
  return FALSE;
}

static gboolean
probes_for_entry (MlCanvas *self, MlProbe *ret_red, MlProbe *ret_black)
{
  const MlBoard *board = ml_document_board (self->document);
  const MlProbe *red = ml_document_red (self->document), *black = ml_document_black (self->document);
  if (!red)
    {
      int part, pin;
      ml_document_selected (self->document, &part, &pin);
      ml_canvas_fail (self, part >= 0 ? "Select the two pins to read between, red first" : "Select a part or a pin first, then type its reading");
      return FALSE;
    }
  if (red->net < 0)
    {
      ml_canvas_fail (self, "This pin is joined to nothing on the drawing");
      return FALSE;
    }
  if (!black && board->reference < 0)
    {
      ml_canvas_pick (self, "Click where the black probe rests: readings are taken against it", reference_picked, NULL, NULL);
      return FALSE;
    }
  *ret_red = *red;
  *ret_black = black ? *black : net_probe (board->reference);
  if (!ml_probe_equal (ret_red, ret_black))
    return TRUE;
  ml_canvas_fail (self, "Both probes stand on the same net: click another place");
  return FALSE;
}

static MlBox
box_of_probe (MlCanvas *self, const MlProbe *probe)
{
  int part, pin;
  ml_document_selected (self->document, &part, &pin);
  if (part >= 0)
    return ml_canvas_place_box (self, part, pin);
  part = probe->part;
  pin = probe->pin;
  if (part < 0)
    ml_canvas_nearest_pin (self, probe->net, ml_viewport_to_sheet (&self->viewport, 0, 0), &part, &pin);
  return ml_canvas_place_box (self, part, pin);
}

static void
open_entry (MlCanvas *self, const char *typed)
{
  MlProbe red, black;
  if (self->mode != ML_CANVAS_MEASURE)
    ml_canvas_set_mode (self, ML_CANVAS_MEASURE);
  if (!ready_to_read (self) || !probes_for_entry (self, &red, &black))
    return;
  ml_document_set_probes (self->document, &red, &black);
  ml_canvas_show_panel (self, self->entry, box_of_probe (self, &red));
  ml_entry_fit (ML_ENTRY (self->entry), self->viewport.width_px, self->viewport.height_px);
  ml_entry_open (ML_ENTRY (self->entry), &red, &black, typed);
  ml_canvas_update_hint (self);
}

void
ml_canvas_open_entry (MlCanvas *self)
{
  open_entry (self, NULL);
}

gboolean
ml_canvas_entry_is_open (MlCanvas *self)
{
  return gtk_widget_get_visible (self->entry);
}

int
ml_canvas_reading_here (MlCanvas *self)
{
  static const MlReads all[] = { ML_READS_VOLTS, ML_READS_OHMS, ML_READS_DIODE };
  const MlBoard *board = ml_document_board (self->document);
  const MlProbe *red = ml_document_red (self->document), *black = ml_document_black (self->document);
  MlProbe other = black ? *black : net_probe (board->reference);
  if (!red || ml_document_unit (self->document) < 0 || ml_document_condition (self->document) < 0)
    return -1;
  for (guint i = 0; i < G_N_ELEMENTS (all); i++)
    {
      int reading = ml_job_find_reading (ml_document_job (self->document), ml_document_unit (self->document), ml_document_pass (self->document),
                                         ml_document_condition (self->document), all[i], red, &other, NULL);
      if (reading >= 0)
        return reading;
    }
  return -1;
}

gboolean
ml_canvas_take_out (MlCanvas *self)
{
  int reading = ml_canvas_reading_here (self);
  if (reading < 0)
    return FALSE;
  MlDropped dropped;
  g_autofree char *place = ml_reading_place (ml_document_job (self->document), &ml_document_job (self->document)->readings[reading]);
  g_autofree char *label = g_strdup_printf ("Remove the reading of %s", place);
  g_autoptr (MlText) text = ml_job_edit_drop_reading (ml_document_job (self->document), reading, &dropped);
  ml_document_apply (self->document, NULL, text, label, NULL);
  return TRUE;
}

void
ml_canvas_measure_typed (MlCanvas *self, const char *text)
{
  if (g_ascii_isdigit (*text) || (*text && strchr ("-+.,oO", *text)))
    open_entry (self, g_ascii_strcasecmp (text, "o") == 0 ? "O" : text);
}

/* ---- where to go next ---- */

static gboolean
same_place (const MlNextReading *next, const MlProbe *red, const MlProbe *black)
{
  return (ml_probe_equal (&next->red, red) && ml_probe_equal (&next->black, black))
         || (ml_probe_equal (&next->red, black) && ml_probe_equal (&next->black, red));
}

static gboolean
is_on_drawing (const MlNextReading *next)
{
  return next->reads != ML_READS_AMPS && next->supply < 0;
}

/* The first suggestion that can be taken here and now, other than at these probes; -1: none. */
static int
suggestion_here (MlCanvas *self, const MlProbe *red, const MlProbe *black)
{
  const MlVerdict *verdict = ml_document_verdict (self->document);
  for (guint i = 0; verdict && i < verdict->n_next; i++)
    {
      const MlNextReading *next = &verdict->next[i];
      if (next->condition == ml_document_condition (self->document) && !next->step && is_on_drawing (next) && !same_place (next, red, black))
        return (int) i;
    }
  return -1;
}

static gboolean
was_suggested (MlCanvas *self, const MlProbe *red, const MlProbe *black)
{
  const MlVerdict *verdict = ml_document_verdict (self->document);
  for (guint i = 0; verdict && i < verdict->n_next; i++)
    if (verdict->next[i].condition == ml_document_condition (self->document) && same_place (&verdict->next[i], red, black))
      return TRUE;
  return FALSE;
}

static gboolean
net_is_read (MlCanvas *self, int net)
{
  const MlBoard *board = ml_document_board (self->document);
  MlProbe red = net_probe (net), black = net_probe (board->reference);
  return ml_job_find_reading (ml_document_job (self->document), ml_document_unit (self->document), ml_document_pass (self->document),
                              ml_document_condition (self->document), ML_READS_VOLTS, &red, &black, NULL)
         >= 0;
}

/* The nearest pin whose net is not read yet against the reference. */
static gboolean
nearest_unread (MlCanvas *self, MlPoint from, int *ret_part, int *ret_pin)
{
  const MlBoard *board = ml_document_board (self->document);
  const MlScene *scene = ml_canvas_scene (self);
  double best = INFINITY;
  for (guint i = 0; i < scene->n_pins; i++)
    {
      const MlScenePin *pin = &scene->pins[i];
      double distance = hypot (pin->at.x - from.x, pin->at.y - from.y);
      if (pin->net < 0 || pin->net == board->reference || distance >= best || net_is_read (self, pin->net))
        continue;
      best = distance;
      *ret_part = pin->part;
      *ret_pin = pin->pin;
    }
  return isfinite (best);
}

static MlPoint
middle_of_selection (MlCanvas *self)
{
  int part, pin;
  ml_document_selected (self->document, &part, &pin);
  MlBox box = ml_canvas_place_box (self, part, pin);
  return (MlPoint){ (box.x0 + box.x1) / 2.0, (box.y0 + box.y1) / 2.0 };
}

/* Where the drawing shows that probe: what is selected for it has to be there. */
static MlPoint
point_of_probe (MlCanvas *self, const MlProbe *probe, const MlProbe *partner)
{
  MlPoint at = middle_of_selection (self);
  ml_plan_probe_point (ml_canvas_scene (self), probe, partner, &at);
  return at;
}

static void
go_to_unread (MlCanvas *self)
{
  int part = -1, pin = -1, reference = ml_document_board (self->document)->reference;
  if (reference < 0 || !nearest_unread (self, middle_of_selection (self), &part, &pin))
    return;
  MlProbe red = pin_probe (ml_document_board (self->document), part, pin), black = net_probe (reference);
  ml_canvas_select_and_focus (self, part, pin);
  /* both are set: where the program went by itself, the next pin clicked is the red probe's, not a partner for this one */
  ml_document_set_probes (self->document, &red, &black);
  ml_canvas_update_hint (self);
}

/* What findings show then is what lies under the probes. */
static void
put_probes (MlCanvas *self, int at)
{
  ml_document_set_next (self->document, at);
  const MlNextReading *next = &ml_document_verdict (self->document)->next[at];
  self->put_red = next->red;
  self->put_black = next->black;
  ml_canvas_focus_place (self, &self->put_red, &self->put_black, next->condition);
}

/* Where the person followed the suggestions, the next of them; where not, the nearest place that is not read yet. The verdict on what was read just now
 * is still being worked out, and may know a better place: see ml_canvas_measure_follow. */
static void
move_on (MlCanvas *self, const MlProbe *red, const MlProbe *black, gboolean suggested)
{
  int at = suggested ? suggestion_here (self, red, black) : -1;
  self->following = at >= 0;
  if (self->following)
    put_probes (self, at);
  else
    go_to_unread (self);
}

static gboolean
stands (const MlProbe *probe, const MlProbe *put)
{
  return probe && ml_probe_equal (probe, put);
}

/* A first verdict does not know yet where measuring helps most; one of a later stage may think better of it. */
void
ml_canvas_measure_follow (MlCanvas *self)
{
  const MlVerdict *verdict = ml_document_verdict (self->document);
  gboolean final = ml_document_progress (self->document) < 0.0;
  if (!self->following || !verdict || verdict->job != ml_document_job (self->document) || (verdict->stage == 0 && !final))
    return;
  self->following = self->mode == ML_CANVAS_MEASURE && self->doing == ML_DOING_NOTHING && !ml_canvas_open_panel (self)
                    && ml_canvas_focus_is_on_target (self) && stands (ml_document_red (self->document), &self->put_red)
                    && stands (ml_document_black (self->document), &self->put_black);
  if (!self->following)
    return;
  const MlProbe nowhere = net_probe (-1);
  int at = suggestion_here (self, &nowhere, &nowhere);
  if (at >= 0 && !same_place (&verdict->next[at], &self->put_red, &self->put_black))
    put_probes (self, at);
  self->following = self->following && !final;
}

static void
recorded_cb (MlEntry *entry, MlCanvas *self)
{
  MlProbe red, black;
  ml_entry_places (entry, &red, &black);
  gboolean suggested = was_suggested (self, &red, &black);
  ml_canvas_close_panels (self);
  move_on (self, &red, &black, suggested);
}

static void
left_cb (MlEntry *entry, MlCanvas *self)
{
  ml_canvas_close_panels (self);
}

static void
swapped_cb (MlEntry *entry, MlCanvas *self)
{
  MlProbe red, black;
  ml_entry_places (entry, &red, &black);
  ml_document_set_probes (self->document, &red, &black);
}

void
ml_canvas_measure_add_entry (MlCanvas *self)
{
  self->entry = ml_entry_new (self->document);
  gtk_widget_set_visible (self->entry, FALSE);
  gtk_widget_set_parent (self->entry, GTK_WIDGET (self));
  g_signal_connect (self->entry, "recorded", G_CALLBACK (recorded_cb), self);
  g_signal_connect (self->entry, "left", G_CALLBACK (left_cb), self);
  g_signal_connect (self->entry, "swapped", G_CALLBACK (swapped_cb), self);
}

void
ml_canvas_focus_place (MlCanvas *self, const MlProbe *red, const MlProbe *black, int condition)
{
  MlProbe red_copy = *red, black_copy = black ? *black : net_probe (ml_document_board (self->document)->reference);
  int part = red->part, pin = red->pin;
  if (self->mode != ML_CANVAS_MEASURE)
    ml_canvas_set_mode (self, ML_CANVAS_MEASURE);
  ml_canvas_take_panels (self);
  ml_document_set_condition (self->document, condition);
  if (part < 0)
    ml_canvas_nearest_pin (self, red_copy.net, point_of_probe (self, &red_copy, &black_copy), &part, &pin);
  ml_canvas_select_and_focus (self, part, pin);
  ml_document_set_probes (self->document, &red_copy, black_copy.net >= 0 || black_copy.part >= 0 ? &black_copy : NULL);
  ml_canvas_update_hint (self);
}

void
ml_canvas_swap_probes (MlCanvas *self)
{
  if (ml_canvas_entry_is_open (self))
    {
      ml_entry_swap (ML_ENTRY (self->entry));
      return;
    }
  const MlProbe *red = ml_document_red (self->document), *black = ml_document_black (self->document);
  int reference = ml_document_board (self->document)->reference;
  if (!red || (!black && reference < 0))
    {
      ml_canvas_fail (self, "There are no two probes to swap");
      return;
    }
  MlProbe new_black = *red, new_red = black ? *black : net_probe (reference);
  ml_document_set_probes (self->document, &new_red, &new_black);
}

void
ml_canvas_toggle_lead (MlCanvas *self)
{
  const MlProbe *red = ml_document_red (self->document), *black = ml_document_black (self->document);
  if (!red || (red->part < 0 && (!black || black->part < 0)))
    {
      ml_canvas_fail (self, "Click the pin first whose leg the probe shall touch");
      return;
    }
  MlProbe new_red = *red, new_black = black ? *black : net_probe (-1);
  MlProbe *end = black && black->part >= 0 ? &new_black : &new_red;
  end->lead = !end->lead;
  ml_document_set_probes (self->document, &new_red, black ? &new_black : NULL);
  ml_canvas_update_hint (self);
}

static gboolean
go_to_suggestion (MlCanvas *self, int at)
{
  const MlVerdict *verdict = ml_document_verdict (self->document);
  if (!verdict || at < 0 || (guint) at >= verdict->n_next)
    return FALSE;
  const MlNextReading *next = &verdict->next[at];
  if (next->step)
    ml_canvas_fail (self, "First: %s", next->step);
  if (!is_on_drawing (next))
    {
      ml_document_set_condition (self->document, next->condition);
      ml_canvas_fail (self, "Next is what the supply shows: type it on the card of this condition");
      return FALSE;
    }
  ml_canvas_focus_place (self, &next->red, &next->black, next->condition);
  return TRUE;
}

void
ml_canvas_step_reading (MlCanvas *self, int step)
{
  const MlVerdict *verdict = ml_document_verdict (self->document);
  if (!verdict || verdict->n_next == 0)
    {
      go_to_unread (self);
      return;
    }
  /* The first press goes to the suggestion that is shown, the following ones on from it. */
  if (ml_document_red (self->document))
    ml_document_set_next (self->document, ml_document_next (self->document) + step);
  go_to_suggestion (self, ml_document_next (self->document));
}

void
ml_canvas_take_suggested (MlCanvas *self)
{
  const MlVerdict *verdict = ml_document_verdict (self->document);
  if (!verdict || verdict->n_next == 0)
    {
      ml_canvas_fail (self, "%s", ml_findings_none_suggested (verdict, ml_document_progress (self->document) >= 0.0));
      return;
    }
  int at = ml_document_next (self->document);
  if (at < 0)
    {
      ml_canvas_fail (self, "Set the supply first: its form on the bench strip is still open");
      return;
    }
  if (!is_on_drawing (&verdict->next[at]))
    {
      ml_canvas_measure_stop (self); /* what is typed now belongs to no probe */
      ml_canvas_read_supply (self, verdict->next[at].condition, MAX (verdict->next[at].supply, 0));
    }
  else if (go_to_suggestion (self, at))
    open_entry (self, NULL);
}
