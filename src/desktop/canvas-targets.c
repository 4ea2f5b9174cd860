/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The widgets that stand for parts and pins: made for the board, named, put in their places. */
#include <math.h>

#include "desktop/canvas-private.h"
#include "desktop/canvas-target.h"
#include "desktop/findings-text.h"
#include "desktop/status-text.h"

#define TARGET_PX 24.0 /* WCAG 2.2, 2.5.8 */

MlCanvasTarget *
ml_canvas_target_of (MlCanvas *self, int part, int pin)
{
  for (guint i = 0; i < self->targets->len; i++)
    {
      MlCanvasTarget *target = self->targets->pdata[i];
      if (ml_canvas_target_part (target) == part && ml_canvas_target_pin (target) == pin)
        return target;
    }
  return NULL;
}

static void
target_focus_cb (GtkWidget *target, GParamSpec *spec, MlCanvas *self)
{
  if (!gtk_widget_has_focus (target))
    return;
  int part = ml_canvas_target_part (ML_CANVAS_TARGET (target)), pin = ml_canvas_target_pin (ML_CANVAS_TARGET (target));
  int selected_part, selected_pin;
  ml_document_selected (self->document, &selected_part, &selected_pin);
  if (part == selected_part && pin == selected_pin)
    return;
  ml_document_select (self->document, part, pin);
  ml_canvas_measure_selected (self);
  ml_canvas_reveal (self, part, pin);
}

static void
target_activated_cb (GtkWidget *target, MlCanvas *self)
{
  ml_canvas_select_and_focus (self, ml_canvas_target_part (ML_CANVAS_TARGET (target)), ml_canvas_target_pin (ML_CANVAS_TARGET (target)));
  gboolean at_pin = ml_canvas_target_pin (ML_CANVAS_TARGET (target)) >= 0;
  if (self->mode == ML_CANVAS_MEASURE && self->doing != ML_DOING_PICK)
    ml_canvas_open_entry (self);
  else if (at_pin)
    {
      MlHit hit = { .kind = ML_HIT_PIN, .part = ml_canvas_target_part (ML_CANVAS_TARGET (target)),
                    .pin = ml_canvas_target_pin (ML_CANVAS_TARGET (target)), .net = -1 };
      ml_canvas_draw_click (self, &hit, FALSE);
    }
  else if (self->doing == ML_DOING_PICK || self->doing == ML_DOING_JOIN)
    ml_canvas_fail (self, "Walk to one of its pins, then Enter");
  else
    ml_canvas_edit_value (self);
}

static void
add_target (MlCanvas *self, int part, int pin)
{
  GtkWidget *target = ml_canvas_target_new (part, pin);
  g_signal_connect (target, "notify::has-focus", G_CALLBACK (target_focus_cb), self);
  g_signal_connect (target, "activated", G_CALLBACK (target_activated_cb), self);
  gtk_widget_insert_before (target, GTK_WIDGET (self), self->line_entry);
  g_ptr_array_add (self->targets, target);
}

static gboolean
targets_fit (MlCanvas *self, const MlBoard *board)
{
  if (!self->targets_board || self->targets_board->n_parts != board->n_parts)
    return FALSE;
  for (guint i = 0; i < board->n_parts; i++)
    if (self->targets_board->parts[i].n_pins != board->parts[i].n_pins)
      return FALSE;
  return TRUE;
}

void
ml_canvas_remove_targets (MlCanvas *self)
{
  for (guint i = 0; i < self->targets->len; i++)
    {
      g_signal_handlers_disconnect_by_data (self->targets->pdata[i], self);
      gtk_widget_unparent (self->targets->pdata[i]);
    }
  g_ptr_array_set_size (self->targets, 0);
}

gboolean
ml_canvas_focus_is_on_target (MlCanvas *self)
{
  GtkWidget *child = gtk_widget_get_focus_child (GTK_WIDGET (self));
  return child && ML_IS_CANVAS_TARGET (child);
}

void
ml_canvas_sync_targets (MlCanvas *self)
{
  MlBoard *board = ml_document_board (self->document);
  gboolean had_focus = ml_canvas_focus_is_on_target (self);
  if (!targets_fit (self, board))
    {
      ml_canvas_remove_targets (self);
      for (guint i = 0; i < board->n_parts; i++)
        for (int pin = -1; pin < (int) board->parts[i].n_pins; pin++)
          add_target (self, (int) i, pin);
    }
  g_clear_pointer (&self->targets_board, ml_board_unref);
  self->targets_board = ml_board_ref (board);
  if (!had_focus || ml_canvas_focus_is_on_target (self))
    return;
  int part, pin;
  ml_document_selected (self->document, &part, &pin);
  GtkWidget *target = (GtkWidget *) ml_canvas_target_of (self, part, pin);
  gtk_widget_grab_focus (target && ml_canvas_shows (self, part, pin) ? target : GTK_WIDGET (self));
}

static char *
target_label (const MlBoard *board, int part, int pin)
{
  const MlPart *p = &board->parts[part];
  if (pin < 0)
    {
      g_autofree char *value = ml_part_value_text (p);
      return g_strdup_printf ("%s, %s%s%s", p->name, p->kind->trade_name, *value ? " " : "", value);
    }
  int net = p->pins[pin].net;
  g_autofree char *where = ml_findings_joined (board, &p->pins[pin]);
  return g_strdup_printf ("%s %s, %s%s", p->name, p->pins[pin].name, net < 0 || board->nets[net].generated ? "joined to " : "net ", where);
}

/* What the symbol and the mark round it say: "closed; suspect, 94 %". */
static char *
part_description (MlDocument *document, int part)
{
  const MlVerdict *verdict = ml_document_verdict (document);
  const char *stands = ml_status_stands (document, part);
  if (!verdict || (guint) part >= verdict->n_parts)
    return g_strdup (stands ? stands : "");
  const MlPartVerdict *judged = &verdict->parts[part];
  g_autofree char *percent = ml_verdict_percent (judged->probability);
  const char *word = ml_verdict_word (judged->verdict);
  const char *before = stands ? stands : "", *between = stands ? "; " : "";
  return judged->verdict >= ML_VERDICT_POSSIBLE ? g_strdup_printf ("%s%s%s, %s", before, between, word, percent)
                                                : g_strconcat (before, between, word, NULL);
}

static char *
pin_description (const MlBoard *board, const MlOperatingPoint *point, int part, int pin)
{
  int net = board->parts[part].pins[pin].net;
  if (!point || !point->solved || net < 0 || !isfinite (point->net_v[net]))
    return g_strdup ("");
  double reference_v = board->reference >= 0 ? point->net_v[board->reference] : 0.0;
  char value[32];
  ml_quantity_format (point->net_v[net] - (isfinite (reference_v) ? reference_v : 0.0), ML_UNIT_VOLT, 3, false, value, sizeof value);
  return g_strdup_printf ("should read %s", value);
}

/* For style sheets and tests. */
static char *
target_name (const MlBoard *board, int part, int pin, MlCanvasView view)
{
  if (view == ML_CANVAS_PICTURE)
    return pin < 0 ? g_strdup_printf ("photo:%s", board->parts[part].name)
                   : g_strdup_printf ("pad:%s.%s", board->parts[part].name, board->parts[part].pins[pin].name);
  return pin < 0 ? g_strdup_printf ("part:%s", board->parts[part].name)
                 : g_strdup_printf ("pin:%s.%s", board->parts[part].name, board->parts[part].pins[pin].name);
}

void
ml_canvas_describe_targets (MlCanvas *self)
{
  const MlBoard *board = ml_document_board (self->document);
  const MlOperatingPoint *point = ml_document_point (self->document);
  for (guint i = 0; i < self->targets->len; i++)
    {
      MlCanvasTarget *target = self->targets->pdata[i];
      int part = ml_canvas_target_part (target), pin = ml_canvas_target_pin (target);
      g_autofree char *name = target_name (board, part, pin, self->view);
      g_autofree char *label = target_label (board, part, pin);
      g_autofree char *description = pin < 0 ? part_description (self->document, part) : pin_description (board, point, part, pin);
      gtk_widget_set_name (GTK_WIDGET (target), name);
      ml_canvas_target_describe (target, label, description);
    }
}

void
ml_canvas_allocate_target (MlCanvas *self, GtkWidget *target)
{
  gboolean shown = ml_canvas_shows (self, ml_canvas_target_part (ML_CANVAS_TARGET (target)), ml_canvas_target_pin (ML_CANVAS_TARGET (target)));
  gtk_widget_set_child_visible (target, shown);
  if (!shown)
    return;
  MlBox box = ml_canvas_place_box (self, ml_canvas_target_part (ML_CANVAS_TARGET (target)), ml_canvas_target_pin (ML_CANVAS_TARGET (target)));
  MlPoint low = ml_viewport_to_view (&self->viewport, box.x0, box.y0), high = ml_viewport_to_view (&self->viewport, box.x1, box.y1);
  double width = MAX (high.x - low.x, TARGET_PX), height = MAX (high.y - low.y, TARGET_PX);
  GtkAllocation allocation = { (int) floor ((low.x + high.x - width) / 2), (int) floor ((low.y + high.y - height) / 2), (int) ceil (width),
                               (int) ceil (height) };
  gtk_widget_size_allocate (target, &allocation, -1);
}
