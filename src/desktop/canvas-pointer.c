/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Mouse, touch and typing on the canvas: found out here, done in canvas-draw.c and canvas-measure.c. */
#include <math.h>

#include "desktop/actions.h"
#include "desktop/canvas-private.h"

#define SCROLL_STEP_PX 48.0
#define SCROLL_ZOOM 1.15
#define DRAG_STARTS_PX 5.0

static gboolean
over_panel (MlCanvas *self, double x, double y)
{
  GtkWidget *under = gtk_widget_pick (GTK_WIDGET (self), x, y, GTK_PICK_DEFAULT);
  return under && under != GTK_WIDGET (self);
}

static gboolean
same_hit (const MlHit *a, const MlHit *b)
{
  return a->kind == b->kind && a->part == b->part && a->pin == b->pin && a->net == b->net;
}

/* ---- moving ---- */

static void
motion_cb (GtkEventControllerMotion *controller, double x, double y, MlCanvas *self)
{
  self->pointer = (MlPoint){ x, y };
  self->pointer_inside = TRUE;
  self->by_keys = FALSE;
  ml_canvas_edge_watch (self);
  MlHit hit = over_panel (self, x, y) ? (MlHit){ ML_HIT_NOTHING, -1, -1, -1 } : ml_canvas_hit (self, x, y);
  gboolean follows = self->doing == ML_DOING_ADD || self->doing == ML_DOING_JOIN || self->doing == ML_DOING_SCALE || ml_canvas_pins (self);
  if (same_hit (&hit, &self->hover) && !follows)
    return;
  self->hover = hit;
  gtk_widget_queue_draw (GTK_WIDGET (self));
}

static void
leave_cb (GtkEventControllerMotion *controller, MlCanvas *self)
{
  self->pointer_inside = FALSE;
  self->hover = (MlHit){ ML_HIT_NOTHING, -1, -1, -1 };
  gtk_widget_queue_draw (GTK_WIDGET (self));
}

static gboolean
scroll_cb (GtkEventControllerScroll *controller, double dx, double dy, MlCanvas *self)
{
  GdkModifierType state = gtk_event_controller_get_current_event_state (GTK_EVENT_CONTROLLER (controller));
  if (state & GDK_CONTROL_MASK)
    ml_canvas_zoom_at (self, pow (SCROLL_ZOOM, -dy), self->pointer.x, self->pointer.y);
  else if (state & GDK_SHIFT_MASK)
    ml_canvas_pan_by (self, SCROLL_STEP_PX * dy, SCROLL_STEP_PX * dx);
  else
    ml_canvas_pan_by (self, SCROLL_STEP_PX * dx, SCROLL_STEP_PX * dy);
  return TRUE;
}

static void
pinch_begin_cb (GtkGesture *gesture, GdkEventSequence *sequence, MlCanvas *self)
{
  self->pinched = 1.0;
}

static void
pinch_cb (GtkGestureZoom *gesture, double scale, MlCanvas *self)
{
  double x = self->pointer.x, y = self->pointer.y;
  gtk_gesture_get_bounding_box_center (GTK_GESTURE (gesture), &x, &y);
  ml_canvas_zoom_at (self, scale / self->pinched, x, y);
  self->pinched = scale;
}

/* ---- dragging ---- */

static void
drag_begin_cb (GtkGestureDrag *gesture, double x, double y, MlCanvas *self)
{
  if (over_panel (self, x, y))
    {
      gtk_gesture_set_state (GTK_GESTURE (gesture), GTK_EVENT_SEQUENCE_DENIED);
      return;
    }
  self->pressed = ml_canvas_hit (self, x, y);
  self->panned = (MlPoint){ 0, 0 };
}

/* The middle button always takes the sheet; the first one takes it where there is nothing else to take. */
static void
drag_starts (MlCanvas *self, guint button, MlPoint at_px)
{
  gboolean takes_thing = button == GDK_BUTTON_PRIMARY && self->mode == ML_CANVAS_DRAW && self->doing != ML_DOING_PICK
                         && self->doing != ML_DOING_ADD && (self->pressed.kind == ML_HIT_PIN || self->pressed.kind == ML_HIT_PART);
  if (self->view == ML_CANVAS_PICTURE && takes_thing)
    takes_thing = ml_canvas_pin_drag_begin (self, at_px);
  else if (takes_thing)
    ml_canvas_draw_drag_begin (self);
  if (takes_thing)
    return;
  if (self->doing == ML_DOING_NOTHING)
    self->doing = ML_DOING_PAN;
}

static void
drag_update_cb (GtkGestureDrag *gesture, double dx, double dy, MlCanvas *self)
{
  double x = 0.0, y = 0.0;
  guint button = gtk_gesture_single_get_current_button (GTK_GESTURE_SINGLE (gesture));
  gtk_gesture_drag_get_start_point (gesture, &x, &y);
  gboolean dragging = self->doing == ML_DOING_PAN || self->doing == ML_DOING_MOVE || self->dragged_join;
  if (!dragging)
    {
      if (hypot (dx, dy) < DRAG_STARTS_PX || button == GDK_BUTTON_SECONDARY)
        return;
      ml_canvas_take_panels (self);
      drag_starts (self, button, (MlPoint){ x, y });
      gtk_gesture_set_state (GTK_GESTURE (gesture), GTK_EVENT_SEQUENCE_CLAIMED);
    }
  if (self->pinning.dragging)
    {
      self->pointer = (MlPoint){ x + dx, y + dy };
      gtk_widget_queue_draw (GTK_WIDGET (self));
    }
  else if (self->doing == ML_DOING_MOVE || self->dragged_join)
    {
      ml_canvas_draw_drag_update (self, (MlPoint){ x, y }, (MlPoint){ x + dx, y + dy });
      ml_canvas_edge_watch (self);
    }
  else if (self->doing == ML_DOING_PAN)
    {
      ml_canvas_pan_by (self, self->panned.x - dx, self->panned.y - dy);
      self->panned = (MlPoint){ dx, dy };
    }
}

static void
drag_end_cb (GtkGestureDrag *gesture, double dx, double dy, MlCanvas *self)
{
  if (self->pinning.dragging)
    ml_canvas_pin_drag_end (self);
  else if (self->doing == ML_DOING_MOVE || self->dragged_join)
    ml_canvas_draw_drag_end (self);
  else if (self->doing == ML_DOING_PAN)
    self->doing = ML_DOING_NOTHING;
}

static void
drag_cancel_cb (GtkGesture *gesture, GdkEventSequence *sequence, MlCanvas *self)
{
  if (self->doing == ML_DOING_MOVE || self->doing == ML_DOING_PAN || self->dragged_join)
    ml_canvas_draw_stop (self);
}

/* ---- clicking ---- */

static void
menu_asked (MlCanvas *self, const MlHit *hit, double x, double y)
{
  if (hit->kind == ML_HIT_PART || hit->kind == ML_HIT_PIN)
    ml_canvas_select_and_focus (self, hit->part, hit->kind == ML_HIT_PIN ? hit->pin : -1);
  ml_canvas_ask_for_menu (self, hit, x, y);
}

static void
primary_clicked (MlCanvas *self, const MlHit *hit, int n_press, GdkModifierType state)
{
  if (self->doing == ML_DOING_SCALE || (self->doing != ML_DOING_PICK && ml_canvas_pins (self)))
    ml_canvas_pin_click (self, hit, (state & GDK_SHIFT_MASK) != 0);
  else if (self->doing == ML_DOING_PICK || self->mode == ML_CANVAS_DRAW)
    {
      if (n_press == 2 && !self->click_used && self->doing != ML_DOING_PICK && self->doing != ML_DOING_ADD)
        ml_canvas_draw_double_click (self, hit);
      else
        ml_canvas_draw_click (self, hit, (state & GDK_SHIFT_MASK) != 0);
    }
  else
    {
      ml_canvas_measure_click (self, hit);
      if (n_press == 2 && hit->kind == ML_HIT_PART)
        gtk_widget_activate_action (GTK_WIDGET (self), "win.all-conditions", NULL);
    }
}

static void
pressed_cb (GtkGestureClick *gesture, int n_press, double x, double y, MlCanvas *self)
{
  if (over_panel (self, x, y))
    gtk_gesture_set_state (GTK_GESTURE (gesture), GTK_EVENT_SEQUENCE_DENIED);
}

static void
released_cb (GtkGestureClick *gesture, int n_press, double x, double y, MlCanvas *self)
{
  guint button = gtk_gesture_single_get_current_button (GTK_GESTURE_SINGLE (gesture));
  if (button == GDK_BUTTON_MIDDLE)
    return;
  ml_canvas_take_panels (self);
  self->pointer = (MlPoint){ x, y };
  MlHit hit = ml_canvas_hit (self, x, y);
  gboolean wants_picture = self->view == ML_CANVAS_PICTURE && ml_document_board (self->document)->n_pictures == 0 && self->doing == ML_DOING_NOTHING;
  if (wants_picture && button == GDK_BUTTON_PRIMARY)
    gtk_widget_activate_action (GTK_WIDGET (self), "win.picture-load", NULL); /* what it says there */
  else if (button == GDK_BUTTON_SECONDARY)
    menu_asked (self, &hit, x, y);
  else
    primary_clicked (self, &hit, n_press, gtk_event_controller_get_current_event_state (GTK_EVENT_CONTROLLER (gesture)));
  ml_canvas_update_hint (self);
}

/* ---- typing ---- */

void
ml_canvas_typed (MlCanvas *self, const char *text)
{
  if (ml_canvas_pins (self))
    return;
  if (self->mode == ML_CANVAS_DRAW)
    ml_canvas_draw_typed (self, text);
  else
    ml_canvas_measure_typed (self, text);
}

static gboolean
menu_key (MlCanvas *self)
{
  int part, pin;
  ml_document_selected (self->document, &part, &pin);
  if (part < 0)
    return FALSE;
  const MlBoard *board = ml_document_board (self->document);
  MlBox box = ml_canvas_place_box (self, part, pin);
  MlPoint at = ml_viewport_to_view (&self->viewport, (box.x0 + box.x1) / 2.0, (box.y0 + box.y1) / 2.0);
  MlHit hit = { pin >= 0 ? ML_HIT_PIN : ML_HIT_PART, part, pin, pin >= 0 ? board->parts[part].pins[pin].net : -1 };
  ml_canvas_ask_for_menu (self, &hit, at.x, at.y);
  return TRUE;
}

static gboolean
is_enter (guint keyval)
{
  return keyval == GDK_KEY_Return || keyval == GDK_KEY_KP_Enter || keyval == GDK_KEY_ISO_Enter;
}

static gboolean
enter_key (MlCanvas *self)
{
  GtkWidget *child = gtk_widget_get_focus_child (GTK_WIDGET (self));
  if (ml_canvas_hand_enter (self) || (ml_canvas_pins (self) && ml_canvas_pin_enter (self)))
    return TRUE;
  return child && gtk_widget_activate (child);
}

/* Keys that neither a panel nor the window's table of single keys took. */
static gboolean
key_cb (GtkEventControllerKey *controller, guint keyval, guint keycode, GdkModifierType state, MlCanvas *self)
{
  if (keyval == GDK_KEY_Menu || (keyval == GDK_KEY_F10 && (state & GDK_SHIFT_MASK)))
    return menu_key (self);
  if (state & (GDK_CONTROL_MASK | GDK_ALT_MASK | GDK_SUPER_MASK))
    return FALSE;
  if (is_enter (keyval))
    return enter_key (self);
  gunichar typed = gdk_keyval_to_unicode (keyval);
  if (typed == 0 || !g_unichar_isgraph (typed))
    return FALSE;
  char text[7] = { 0 };
  g_unichar_to_utf8 (typed, text);
  ml_canvas_typed (self, text);
  return TRUE;
}

/* "w" and "b" are about the net at a pin: at a part as a whole they begin a value ("white", "bc547"). */
static gboolean
is_about_pins (const char *id)
{
  return strcmp (id, "win.rename-net") == 0 || strcmp (id, "win.set-reference") == 0;
}

/* Whether a key draws something by the table of actions ("t" turns): such keys do not begin a value. */
static gboolean
is_key_of_drawing (guint keyval, gboolean at_pin)
{
  guint n = 0, key = 0;
  GdkModifierType modifiers = 0;
  const MlActionInfo *table = ml_actions_table (&n);
  for (guint i = 0; i < n; i++)
    {
      if (!table[i].id || !table[i].on_drawing || table[i].group != ML_ACTIONS_DRAW || !table[i].keys || (!at_pin && is_about_pins (table[i].id)))
        continue;
      g_auto (GStrv) keys = g_strsplit (table[i].keys, " ", -1);
      for (char **word = keys; *word; word++)
        if (gtk_accelerator_parse (*word, &key, &modifiers) && key == keyval)
          return TRUE;
    }
  return FALSE;
}

static gboolean
begins_part_number (MlCanvas *self, int part, const char *letters)
{
  const MlKindInfo *kind = NULL;
  const char *number;
  for (guint i = 0; (number = ml_part_number (i, &kind)) != NULL; i++)
    if (kind->kind == ml_canvas_part (self, part)->kind->kind && g_ascii_strncasecmp (number, letters, strlen (letters)) == 0)
      return TRUE;
  return FALSE;
}

#define ONE_WORD_US (900 * 1000) /* letters that follow one another that fast are one word */

/* "tip31" or "mcp6541": what the first letter did to the part is taken back once the second one shows that it began a word. */
static gboolean
goes_on_after_turn (MlCanvas *self, int part, const char *typed)
{
  g_autofree char *word = g_strconcat (self->turning_key, typed, NULL), *turn = g_strdup_printf ("%s %s", *self->turning_key == 'm' ? "Mirror" : "Turn", ml_canvas_part (self, part)->name);
  if (self->turning_key[0] == '\0' || self->turned_part != part || g_get_monotonic_time () - self->turned_us > ONE_WORD_US
      || !begins_part_number (self, part, word) || g_strcmp0 (ml_document_undo_label (self->document), turn) != 0)
    return FALSE;
  self->turning_key[0] = '\0';
  ml_document_undo (self->document);
  ml_canvas_typed (self, word);
  return TRUE;
}

static void
note_turn (MlCanvas *self, guint keyval, int part)
{
  const gboolean turns = keyval == GDK_KEY_t || keyval == GDK_KEY_m;
  self->turning_key[0] = turns ? (char) keyval : '\0';
  self->turning_key[1] = '\0';
  self->turned_part = part;
  self->turned_us = g_get_monotonic_time ();
}

/* While drawing, a letter typed at a part begins its value ("red", "BC547") also where that letter means something in measuring. */
static gboolean
value_key_cb (GtkEventControllerKey *controller, guint keyval, guint keycode, GdkModifierType state, MlCanvas *self)
{
  gunichar typed = gdk_keyval_to_unicode (keyval);
  gboolean free_to_type = self->mode == ML_CANVAS_DRAW && self->view == ML_CANVAS_CIRCUIT && self->doing != ML_DOING_ADD && self->doing != ML_DOING_PICK
                          && !gtk_widget_get_visible (self->line_entry);
  int part, pin;
  ml_document_selected (self->document, &part, &pin);
  if (!free_to_type || part < 0 || (state & (GDK_CONTROL_MASK | GDK_ALT_MASK | GDK_SUPER_MASK)) || typed == 0 || !g_unichar_isgraph (typed))
    return FALSE;
  char text[7] = { 0 };
  g_unichar_to_utf8 (typed, text);
  if (goes_on_after_turn (self, part, text))
    return TRUE;
  note_turn (self, keyval, part);
  if (is_key_of_drawing (keyval, pin >= 0))
    return FALSE;
  ml_canvas_typed (self, text);
  return TRUE;
}

static void
add_drag (MlCanvas *self)
{
  GtkGesture *drag = gtk_gesture_drag_new (), *click = gtk_gesture_click_new ();
  gtk_gesture_single_set_button (GTK_GESTURE_SINGLE (drag), 0);
  gtk_gesture_single_set_button (GTK_GESTURE_SINGLE (click), 0);
  g_signal_connect (drag, "drag-begin", G_CALLBACK (drag_begin_cb), self);
  g_signal_connect (drag, "drag-update", G_CALLBACK (drag_update_cb), self);
  g_signal_connect (drag, "drag-end", G_CALLBACK (drag_end_cb), self);
  g_signal_connect (drag, "cancel", G_CALLBACK (drag_cancel_cb), self);
  g_signal_connect (click, "pressed", G_CALLBACK (pressed_cb), self);
  g_signal_connect (click, "released", G_CALLBACK (released_cb), self);
  gtk_widget_add_controller (GTK_WIDGET (self), GTK_EVENT_CONTROLLER (drag));
  gtk_widget_add_controller (GTK_WIDGET (self), GTK_EVENT_CONTROLLER (click));
}

void
ml_canvas_add_controllers (MlCanvas *self)
{
  GtkEventController *motion = gtk_event_controller_motion_new ();
  g_signal_connect (motion, "motion", G_CALLBACK (motion_cb), self);
  g_signal_connect (motion, "enter", G_CALLBACK (motion_cb), self);
  g_signal_connect (motion, "leave", G_CALLBACK (leave_cb), self);
  gtk_widget_add_controller (GTK_WIDGET (self), motion);

  GtkEventController *scroll = gtk_event_controller_scroll_new (GTK_EVENT_CONTROLLER_SCROLL_BOTH_AXES);
  g_signal_connect (scroll, "scroll", G_CALLBACK (scroll_cb), self);
  gtk_widget_add_controller (GTK_WIDGET (self), scroll);

  GtkGesture *pinch = gtk_gesture_zoom_new ();
  g_signal_connect (pinch, "begin", G_CALLBACK (pinch_begin_cb), self);
  g_signal_connect (pinch, "scale-changed", G_CALLBACK (pinch_cb), self);
  gtk_widget_add_controller (GTK_WIDGET (self), GTK_EVENT_CONTROLLER (pinch));

  add_drag (self);

  GtkEventController *keys = gtk_event_controller_key_new (), *first = gtk_event_controller_key_new ();
  g_signal_connect (keys, "key-pressed", G_CALLBACK (key_cb), self);
  gtk_widget_add_controller (GTK_WIDGET (self), keys);
  gtk_event_controller_set_propagation_phase (first, GTK_PHASE_CAPTURE);
  g_signal_connect (first, "key-pressed", G_CALLBACK (value_key_cb), self);
  gtk_widget_add_controller (GTK_WIDGET (self), first);
}
