/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/canvas.h"

#include "desktop/add-list.h"
#include "desktop/canvas-private.h"
#include "desktop/canvas-target.h"
#include "desktop/entry.h"
#include "desktop/line-entry.h"

G_DEFINE_FINAL_TYPE (MlCanvas, ml_canvas, GTK_TYPE_WIDGET)

enum { PROP_MODE = 1, PROP_SHOW, N_PROPS };
static GParamSpec *props[N_PROPS];
enum { HINT, FAILED, MENU, PICTURED, ARRANGED, READ_SUPPLY, N_SIGNALS };
static guint signals[N_SIGNALS];

MlScene *
ml_canvas_scene (MlCanvas *self)
{
  if (self->view == ML_CANVAS_CIRCUIT)
    return ml_document_scene (self->document);
  if (self->magnify <= 1.0)
    return ml_document_picture_scene (self->document);
  if (!self->magnified)
    self->magnified = ml_photo_scene_magnified (ml_document_picture_scene (self->document), self->magnify);
  return self->magnified;
}

/* ---- telling ---- */

void
ml_canvas_pictured (MlCanvas *self)
{
  g_signal_emit (self, signals[PICTURED], 0);
}

void
ml_canvas_read_supply (MlCanvas *self, int condition, int supply)
{
  g_signal_emit (self, signals[READ_SUPPLY], 0, condition, supply);
}

void
ml_canvas_fail (MlCanvas *self, const char *format, ...)
{
  va_list arguments;
  va_start (arguments, format);
  g_autofree char *text = g_strdup_vprintf (format, arguments);
  va_end (arguments);
  g_signal_emit (self, signals[FAILED], 0, text);
}

void
ml_canvas_fail_error (MlCanvas *self, const GError *error)
{
  ml_canvas_fail (self, "%s", error ? error->message : "That cannot be done");
}

static char *
hint_now (MlCanvas *self)
{
  const MlBoard *board = ml_document_board (self->document);
  switch (self->doing)
    {
    case ML_DOING_ADD:
      return g_strdup_printf ("%s: click where it goes, or arrow keys and Enter; t turns it, Esc drops it", self->hand.polar ? "Electrolytic capacitor" : self->hand.kind->trade_name);
    case ML_DOING_JOIN:
      return g_strdup_printf ("Click what %s.%s is joined with, a pin or a wire; or walk to the pin, then Enter", board->parts[self->join_part].name,
                              board->parts[self->join_part].pins[self->join_pin].name);
    case ML_DOING_PICK:
      return g_strdup (self->pick.prompt);
    case ML_DOING_SCALE:
      return g_strdup (self->pinning.n_scale == 0 ? "Click the first of two points whose distance you know" : "Click the second point");
    case ML_DOING_NOTHING:
    case ML_DOING_PAN:
    case ML_DOING_MOVE:
      break;
    }
  if (ml_canvas_pins (self))
    return ml_canvas_pin_hint (self);
  if (ml_canvas_offers_reading (self))
    return g_strdup ("Type what the meter shows here, or click another place");
  return g_strdup (ml_canvas_half_probed (self) ? "Type the reading, or click where the black probe goes" : "");
}

void
ml_canvas_update_hint (MlCanvas *self)
{
  char *hint = hint_now (self);
  gboolean same = g_strcmp0 (hint, self->hint) == 0;
  g_free (self->hint);
  self->hint = hint;
  if (!same)
    g_signal_emit (self, signals[HINT], 0, hint);
}

/* ---- following the document ---- */

/* What is selected on the other view is brought into view on this one. */
static void
reveal_selection (MlCanvas *self)
{
  int part, pin;
  ml_document_selected (self->document, &part, &pin);
  if (part >= 0 && !gtk_widget_get_focus_child (GTK_WIDGET (self)) && !gtk_widget_has_focus (GTK_WIDGET (self)))
    ml_canvas_reveal (self, part, ml_canvas_shows (self, part, pin) ? pin : -1);
}

static void
refresh (MlCanvas *self, guint changed)
{
  if (changed & ML_CHANGED_BOARD)
    {
      if (self->doing == ML_DOING_JOIN || self->doing == ML_DOING_MOVE)
        ml_canvas_draw_stop (self);
      self->hover = (MlHit){ ML_HIT_NOTHING, -1, -1, -1 };
      ml_canvas_sync_targets (self);
    }
  guint of_scene = self->view == ML_CANVAS_PICTURE ? ML_CHANGED_BOARD | ML_CHANGED_PICTURE : ML_CHANGED_BOARD | ML_CHANGED_SCENE;
  gboolean new_scene = (changed & of_scene) != 0;
  if (new_scene)
    {
      self->marks_version++;
      self->displaced = TRUE;
      ml_canvas_panel_follows (self);
      gtk_widget_queue_allocate (GTK_WIDGET (self));
      g_clear_pointer (&self->magnified, ml_scene_unref);
    }
  /* the point is another one wherever another condition is looked at, but not the points of each */
  gboolean other_condition = ml_document_condition (self->document) != self->rooms_condition;
  gboolean other_marks = (changed & (ML_CHANGED_JOB | ML_CHANGED_VERDICT)) || ((changed & ML_CHANGED_POINT) && !other_condition);
  gboolean other_sheet = (new_scene || other_marks) && self->doing != ML_DOING_MOVE && ml_canvas_forget_rooms (self);
  self->rooms_condition = ml_document_condition (self->document);
  if (self->pinning.picture != ml_document_picture (self->document) && self->view == ML_CANVAS_PICTURE)
    ml_canvas_fit (self);
  /* what is only looked at moves nothing back; a reading that was taken may */
  MlExtent how = (changed & (ML_CHANGED_JOB | ML_CHANGED_VERDICT)) ? ML_EXTENT_FOLLOWS : ML_EXTENT_GROWS;
  if (new_scene || (changed & (ML_CHANGED_JOB | ML_CHANGED_POINT | ML_CHANGED_VERDICT | ML_CHANGED_VIEW)))
    ml_canvas_take_extent (self, other_sheet ? ML_EXTENT_ANEW : how); /* saving, which notes the places, moves nothing */
  if (new_scene)
    ml_canvas_reveal_labels (self);
  if (changed & (ML_CHANGED_BOARD | ML_CHANGED_VERDICT))
    ml_canvas_take_chosen (self);
  if (changed & (ML_CHANGED_BOARD | ML_CHANGED_VERDICT | ML_CHANGED_POINT | ML_CHANGED_VIEW))
    ml_canvas_describe_targets (self);
  if (changed & (ML_CHANGED_BOARD | ML_CHANGED_VIEW | ML_CHANGED_PICTURE))
    ml_canvas_pin_follow (self);
  if ((changed & ML_CHANGED_VIEW) && self->partnered)
    reveal_selection (self);
  if (changed & (ML_CHANGED_VERDICT | ML_CHANGED_PROGRESS))
    ml_canvas_measure_follow (self);
  ml_canvas_update_hint (self);
  if (changed & ~(guint) (ML_CHANGED_PROGRESS | ML_CHANGED_HISTORY | ML_CHANGED_DIAGNOSTICS))
    ml_canvas_marks_changed (self);
}

/* A picture that nobody looks at is not read, and has no widgets kept up for it. */
static void
changed_cb (MlDocument *document, guint changed, MlCanvas *self)
{
  if (self->view == ML_CANVAS_PICTURE && !gtk_widget_get_mapped (GTK_WIDGET (self)))
    self->stale = TRUE;
  else
    refresh (self, changed);
}

static void
ml_canvas_map (GtkWidget *widget)
{
  MlCanvas *self = ML_CANVAS (widget);
  GTK_WIDGET_CLASS (ml_canvas_parent_class)->map (widget);
  if (!self->stale)
    return;
  self->stale = FALSE;
  refresh (self, ML_CHANGED_ALL);
}

/* ---- the widget ---- */

static void
ml_canvas_measure (GtkWidget *widget, GtkOrientation orientation, int for_size, int *minimum, int *natural, int *minimum_baseline,
                   int *natural_baseline)
{
  *minimum = orientation == GTK_ORIENTATION_HORIZONTAL ? 200 : 100; /* two of them, one above the other, must go into the smallest window */
  *natural = orientation == GTK_ORIENTATION_HORIZONTAL ? 800 : 500;
}

static void
ml_canvas_size_allocate (GtkWidget *widget, int width, int height, int baseline)
{
  MlCanvas *self = ML_CANVAS (widget);
  ml_viewport_set_size (&self->viewport, width, height);
  ml_canvas_take_look (self);
  for (guint i = 0; i < self->targets->len; i++)
    ml_canvas_allocate_target (self, self->targets->pdata[i]);
  GtkWidget *panel = ml_canvas_open_panel (self);
  if (panel)
    ml_canvas_allocate_panel (self, panel, width, height);
  if (self->add_list)
    gtk_popover_present (GTK_POPOVER (self->add_list));
  self->displaced = FALSE;
  g_signal_emit (self, signals[ARRANGED], 0);
}

gboolean
ml_canvas_is_settled (MlCanvas *self)
{
  return !self->displaced && self->taking_rooms == 0 && (self->view == ML_CANVAS_PICTURE || !ml_document_is_drawing (self->document));
}

static void
ml_canvas_snapshot (GtkWidget *widget, GtkSnapshot *snapshot)
{
  MlCanvas *self = ML_CANVAS (widget);
  int width = gtk_widget_get_width (widget), height = gtk_widget_get_height (widget);
  cairo_t *cr = gtk_snapshot_append_cairo (snapshot, &GRAPHENE_RECT_INIT (0, 0, (float) width, (float) height));
  ml_canvas_paint (self, cr);
  cairo_destroy (cr);
  GtkWidget *focused = gtk_widget_get_focus_child (widget);
  if (focused && ML_IS_CANVAS_TARGET (focused))
    gtk_widget_snapshot_child (widget, focused, snapshot);
  GtkWidget *panel = ml_canvas_open_panel (self);
  if (panel)
    gtk_widget_snapshot_child (widget, panel, snapshot);
}

/* Tab goes to the drawing as a whole, from there from part to part, and then on; pins are reached by the arrows from their part. */
static gboolean
focus_by_tab (MlCanvas *self, gboolean forward)
{
  int n_parts = (int) ml_document_board (self->document)->n_parts, part, pin;
  gboolean on_whole = gtk_widget_has_focus (GTK_WIDGET (self)), on_part = ml_canvas_focus_is_on_target (self);
  ml_document_selected (self->document, &part, &pin);
  if (!on_whole && !on_part)
    {
      ml_canvas_focus_selection (self);
      return TRUE;
    }
  part = on_part ? part + (forward ? 1 : -1) : forward ? 0 : -1;
  if (part < 0 || part >= n_parts)
    return FALSE;
  ml_canvas_select_and_focus (self, part, -1);
  return TRUE;
}

static gboolean
ml_canvas_focus (GtkWidget *widget, GtkDirectionType direction)
{
  MlCanvas *self = ML_CANVAS (widget);
  GtkWidget *panel = ml_canvas_open_panel (self);
  if (!panel && self->add_list && gtk_widget_get_mapped (self->add_list))
    panel = self->add_list; /* a popover is a child, too: Tab and the arrows in it are not for the drawing behind */
  if (panel)
    return ml_canvas_focus_in_panel (panel, direction);
  switch (direction)
    {
    case GTK_DIR_UP: ml_canvas_walk (self, ML_SIDE_UP); return TRUE;
    case GTK_DIR_DOWN: ml_canvas_walk (self, ML_SIDE_DOWN); return TRUE;
    case GTK_DIR_LEFT: ml_canvas_walk (self, ML_SIDE_LEFT); return TRUE;
    case GTK_DIR_RIGHT: ml_canvas_walk (self, ML_SIDE_RIGHT); return TRUE;
    case GTK_DIR_TAB_BACKWARD: return focus_by_tab (self, FALSE);
    case GTK_DIR_TAB_FORWARD:
    default: return focus_by_tab (self, TRUE);
    }
}

static void
get_property (GObject *object, guint id, GValue *value, GParamSpec *spec)
{
  MlCanvas *self = ML_CANVAS (object);
  if (id == PROP_MODE)
    g_value_set_int (value, (int) self->mode);
  else if (id == PROP_SHOW)
    g_value_set_uint (value, self->show);
  else
    G_OBJECT_WARN_INVALID_PROPERTY_ID (object, id, spec);
}

static void
set_property (GObject *object, guint id, const GValue *value, GParamSpec *spec)
{
  MlCanvas *self = ML_CANVAS (object);
  if (id == PROP_MODE)
    ml_canvas_set_mode (self, (MlCanvasMode) g_value_get_int (value));
  else if (id == PROP_SHOW)
    ml_canvas_set_show (self, g_value_get_uint (value));
  else
    G_OBJECT_WARN_INVALID_PROPERTY_ID (object, id, spec);
}

static void
ml_canvas_dispose (GObject *object)
{
  MlCanvas *self = ML_CANVAS (object);
  g_clear_handle_id (&self->zooming, g_source_remove);
  if (self->document)
    {
      ml_canvas_end_pick (self, NULL);
      ml_canvas_draw_stop (self);
      ml_canvas_remove_targets (self);
    }
  g_clear_pointer (&self->entry, gtk_widget_unparent);
  g_clear_pointer (&self->line_entry, gtk_widget_unparent);
  g_clear_pointer (&self->add_list, gtk_widget_unparent);
  if (self->document)
    g_clear_signal_handler (&self->changed_handler, self->document);
  g_clear_handle_id (&self->panel_room, g_source_remove);
  g_clear_handle_id (&self->taking_rooms, g_source_remove); /* what was told until now may have asked for it */
  g_clear_object (&self->document);
  g_clear_pointer (&self->targets_board, ml_board_unref);
  ml_canvas_layer_clear (&self->layer);
  g_clear_pointer (&self->plan, ml_plan_free);
  g_clear_pointer (&self->magnified, ml_scene_unref);
  G_OBJECT_CLASS (ml_canvas_parent_class)->dispose (object);
}

static void
ml_canvas_finalize (GObject *object)
{
  MlCanvas *self = ML_CANVAS (object);
  g_ptr_array_unref (self->targets);
  g_array_unref (self->rooms);
  g_free (self->chosen);
  g_free (self->hint);
  G_OBJECT_CLASS (ml_canvas_parent_class)->finalize (object);
}

static void
ml_canvas_class_init (MlCanvasClass *klass)
{
  GObjectClass *object_class = G_OBJECT_CLASS (klass);
  GtkWidgetClass *widget_class = GTK_WIDGET_CLASS (klass);
  object_class->get_property = get_property;
  object_class->set_property = set_property;
  object_class->dispose = ml_canvas_dispose;
  object_class->finalize = ml_canvas_finalize;
  widget_class->measure = ml_canvas_measure;
  widget_class->size_allocate = ml_canvas_size_allocate;
  widget_class->snapshot = ml_canvas_snapshot;
  widget_class->map = ml_canvas_map;
  widget_class->focus = ml_canvas_focus;
  gtk_widget_class_set_css_name (widget_class, "drawing");
  gtk_widget_class_set_accessible_role (widget_class, GTK_ACCESSIBLE_ROLE_GROUP);

  props[PROP_MODE] = g_param_spec_int ("mode", NULL, NULL, ML_CANVAS_DRAW, ML_CANVAS_MEASURE, ML_CANVAS_MEASURE,
                                       G_PARAM_READWRITE | G_PARAM_STATIC_STRINGS | G_PARAM_EXPLICIT_NOTIFY);
  props[PROP_SHOW] = g_param_spec_uint ("show", NULL, NULL, 0, 15, 7, G_PARAM_READWRITE | G_PARAM_STATIC_STRINGS | G_PARAM_EXPLICIT_NOTIFY);
  g_object_class_install_properties (object_class, N_PROPS, props);

  GType type = G_TYPE_FROM_CLASS (klass);
  signals[HINT] = g_signal_new ("hint", type, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 1, G_TYPE_STRING);
  signals[FAILED] = g_signal_new ("failed", type, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 1, G_TYPE_STRING);
  signals[ARRANGED] = g_signal_new ("arranged", type, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 0);
  signals[READ_SUPPLY] = g_signal_new ("read-supply", type, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 2, G_TYPE_INT, G_TYPE_INT);
  signals[PICTURED] = g_signal_new ("pictured", type, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 0);
  signals[MENU] = g_signal_new ("menu", type, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 5, G_TYPE_INT, G_TYPE_INT, G_TYPE_INT,
                                G_TYPE_DOUBLE, G_TYPE_DOUBLE);
}

static void
panel_left_cb (GtkWidget *panel, MlCanvas *self)
{
  ml_canvas_close_panels (self);
}

static void
ml_canvas_init (MlCanvas *self)
{
  self->targets = g_ptr_array_new ();
  self->rooms = g_array_new (FALSE, TRUE, sizeof (MlCanvasRoom));
  self->mode = ML_CANVAS_MEASURE;
  self->show = ML_CANVAS_SHOW_FLOW | ML_CANVAS_SHOW_EXPECTED | ML_CANVAS_SHOW_VERDICT;
  self->other_unit = -1;
  self->hover = (MlHit){ ML_HIT_NOTHING, -1, -1, -1 };
  self->hint = g_strdup ("");
  self->join_part = self->join_pin = -1;
  self->magnify = 1.0;
  self->pinning = (MlPinning){ .part = -1, .pin = -1, .last_part = -1, .last_pin = -1 };
  ml_viewport_init (&self->viewport);
  gtk_widget_set_focusable (GTK_WIDGET (self), TRUE);
  gtk_widget_set_overflow (GTK_WIDGET (self), GTK_OVERFLOW_HIDDEN);
  gtk_accessible_update_property (GTK_ACCESSIBLE (self), GTK_ACCESSIBLE_PROPERTY_LABEL, "Drawing", -1);
  self->line_entry = ml_line_entry_new ();
  gtk_widget_set_visible (self->line_entry, FALSE);
  gtk_widget_set_parent (self->line_entry, GTK_WIDGET (self));
  g_signal_connect (self->line_entry, "left", G_CALLBACK (panel_left_cb), self);
  ml_canvas_add_controllers (self);
}

GtkWidget *
ml_canvas_new (MlDocument *document)
{
  MlCanvas *self = g_object_new (ML_TYPE_CANVAS, NULL);
  self->document = g_object_ref (document);
  self->changed_handler = g_signal_connect (document, "changed", G_CALLBACK (changed_cb), self);
  ml_canvas_measure_add_entry (self);
  ml_canvas_sync_targets (self);
  ml_canvas_describe_targets (self);
  ml_canvas_take_extent (self, ML_EXTENT_ANEW);
  return GTK_WIDGET (self);
}

void
ml_canvas_set_view (MlCanvas *self, MlCanvasView view)
{
  if (view == self->view)
    return;
  self->view = view;
  self->stale = TRUE;
  ml_canvas_remove_targets (self);
  g_clear_pointer (&self->targets_board, ml_board_unref);
  gtk_accessible_update_property (GTK_ACCESSIBLE (self), GTK_ACCESSIBLE_PROPERTY_LABEL, view == ML_CANVAS_PICTURE ? "Picture of the board" : "Drawing", -1);
}

MlCanvasView
ml_canvas_get_view (MlCanvas *self)
{
  return self->view;
}

void
ml_canvas_set_partner (MlCanvas *self, MlCanvas *partner)
{
  self->partner = partner;
  self->partnered = partner->partnered = TRUE;
}

const char *
ml_canvas_hint (MlCanvas *self)
{
  return self->hint;
}

MlCanvasMode
ml_canvas_get_mode (MlCanvas *self)
{
  return self->mode;
}

void
ml_canvas_set_mode (MlCanvas *self, MlCanvasMode mode)
{
  if (mode == self->mode)
    return;
  ml_canvas_take_panels (self);
  ml_canvas_end_pick (self, NULL);
  ml_canvas_draw_stop (self);
  ml_canvas_measure_stop (self);
  self->mode = mode;
  ml_canvas_forget_rooms (self);
  if (mode == ML_CANVAS_MEASURE)
    {
      ml_canvas_take_extent (self, ML_EXTENT_GROWS); /* while drawing nothing was marked, nor suggested */
      ml_canvas_release (self);
    }
  ml_canvas_pin_follow (self);
  ml_canvas_update_hint (self);
  ml_canvas_marks_changed (self);
  g_object_notify_by_pspec (G_OBJECT (self), props[PROP_MODE]);
}

guint
ml_canvas_get_show (MlCanvas *self)
{
  return self->show;
}

void
ml_canvas_set_show (MlCanvas *self, guint show)
{
  if (show == self->show)
    return;
  self->show = show;
  ml_canvas_forget_rooms (self);
  ml_canvas_take_extent (self, ML_EXTENT_GROWS);
  ml_canvas_marks_changed (self);
  g_object_notify_by_pspec (G_OBJECT (self), props[PROP_SHOW]);
}

void
ml_canvas_set_paper (MlCanvas *self, MlPaper paper)
{
  self->paper = paper;
  ml_entry_set_paper (ML_ENTRY (self->entry), (int) paper);
  if (self->add_list)
    ml_add_list_set_paper (ML_ADD_LIST (self->add_list), paper);
  ml_canvas_marks_changed (self);
}

void
ml_canvas_set_other_unit (MlCanvas *self, int unit)
{
  if (unit == self->other_unit)
    return;
  self->other_unit = unit;
  ml_canvas_forget_rooms (self);
  ml_canvas_take_extent (self, ML_EXTENT_GROWS); /* its readings stand beside this one's */
  ml_canvas_marks_changed (self);
}

void
ml_canvas_set_explanation (MlCanvas *self, guint id)
{
  self->explanation = id;
  ml_canvas_take_chosen (self);
  gtk_widget_queue_draw (GTK_WIDGET (self));
}

void
ml_canvas_ask_for_menu (MlCanvas *self, const MlHit *hit, double x_px, double y_px)
{
  g_signal_emit (self, signals[MENU], 0, hit->part, hit->pin, hit->net, x_px, y_px);
}
