/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/canvas.h"

#include <math.h>
#include <string.h>

#include "desktop/add-list.h"
#include "desktop/canvas-private.h"
#include "desktop/canvas-target.h"
#include "desktop/entry.h"
#include "desktop/line-entry.h"
#include "desktop/suppose.h"

#define REACH_PX 12.0
#define ZOOM_STEP 1.25
#define REST_MS 120 /* after the last step of a zoom it is painted anew */
#define PANEL_GAP_PX 14
#define SHEET_MARGIN_G 1.0
#define LEGEND_ROOM_G 10.0 /* below the marks, when the legend is shown */
#define LARGEST_TEXT_ZOOM 15.0 /* px per g: from here on a picture grows and the text on it does not */
#define MOST_MAGNIFIED 24.0
#define LARGEST_SHEET_G 3000.0 /* a magnified picture's longer side */

G_DEFINE_FINAL_TYPE (MlCanvas, ml_canvas, GTK_TYPE_WIDGET)

enum { PROP_MODE = 1, PROP_SHOW, N_PROPS };
static GParamSpec *props[N_PROPS];
enum { HINT, FAILED, MENU, PICTURED, N_SIGNALS };
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
      return g_strdup_printf ("%s: click where it goes; t turns it, Esc drops it", self->hand.polar ? "Electrolytic capacitor" : self->hand.kind->trade_name);
    case ML_DOING_JOIN:
      return g_strdup_printf ("Click what %s.%s is joined with: a pin or a wire", board->parts[self->join_part].name,
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

/* ---- where things are ---- */

MlHit
ml_canvas_hit (MlCanvas *self, double x_px, double y_px)
{
  MlPoint at = ml_viewport_to_sheet (&self->viewport, x_px, y_px);
  return ml_scene_hit (ml_canvas_scene (self), at.x, at.y, REACH_PX / self->viewport.zoom);
}

MlBox
ml_canvas_place_box (MlCanvas *self, int part, int pin)
{
  const MlScene *scene = ml_canvas_scene (self);
  int at = pin >= 0 ? ml_scene_pin (scene, part, pin) : -1;
  if (at >= 0)
    {
      MlPoint p = scene->pins[at].at;
      return (MlBox){ p.x - 0.5, p.y - 0.5, p.x + 0.5, p.y + 0.5 };
    }
  int symbol = part >= 0 ? ml_scene_symbol (scene, part) : -1;
  return symbol >= 0 ? scene->symbols[symbol].body : (MlBox){ 0, 0, 0, 0 };
}

gboolean
ml_canvas_shows (MlCanvas *self, int part, int pin)
{
  const MlScene *scene = ml_canvas_scene (self);
  return pin >= 0 ? ml_scene_pin (scene, part, pin) >= 0 : ml_scene_symbol (scene, part) >= 0;
}

gboolean
ml_canvas_nearest_pin (MlCanvas *self, int net, MlPoint at, int *ret_part, int *ret_pin)
{
  const MlScene *scene = ml_canvas_scene (self);
  double best = INFINITY;
  for (guint i = 0; i < scene->n_pins; i++)
    {
      const MlScenePin *pin = &scene->pins[i];
      double distance = hypot (pin->at.x - at.x, pin->at.y - at.y);
      if (pin->net != net || distance >= best)
        continue;
      best = distance;
      *ret_part = pin->part;
      *ret_pin = pin->pin;
    }
  return isfinite (best);
}

/* ---- following the document ---- */

static MlOverlay overlay_of (MlCanvas *self);

/* Room for the drawing and what is written round it. It only grows while the drawing stays: looking at another condition moves nothing. */
static void
take_extent (MlCanvas *self, gboolean anew)
{
  MlOverlay overlay = overlay_of (self);
  MlPaintStyle style = { .paper = self->paper, .scale = self->viewport.zoom };
  const MlScene *scene = ml_canvas_scene (self);
  static const MlBox empty_sheet = { -20.0, -12.0, 20.0, 12.0 };
  MlBox box = scene->n_symbols > 0 || scene->picture ? ml_paint_extent (scene, &overlay, &style) : empty_sheet, old = self->viewport.content;
  box = (MlBox){ box.x0 - SHEET_MARGIN_G, box.y0 - SHEET_MARGIN_G, box.x1 + SHEET_MARGIN_G, box.y1 + SHEET_MARGIN_G };
  if (!anew)
    box = (MlBox){ MIN (box.x0, old.x0), MIN (box.y0, old.y0), MAX (box.x1, old.x1), MAX (box.y1, old.y1) };
  if (!anew && memcmp (&box, &old, sizeof box) == 0)
    return;
  ml_viewport_set_content (&self->viewport, box);
  gtk_widget_queue_allocate (GTK_WIDGET (self));
}

static void
take_chosen (MlCanvas *self)
{
  const MlVerdict *verdict = ml_document_verdict (self->document);
  g_clear_pointer (&self->chosen, g_free);
  if (!verdict || self->explanation == 0)
    return;
  self->chosen = g_new0 (gboolean, verdict->n_parts + 1);
  self->n_chosen = verdict->n_parts;
  for (guint i = 0; i < verdict->n_explanations; i++)
    if (verdict->explanations[i].id == self->explanation)
      for (guint j = 0; j < verdict->explanations[i].n_faults; j++)
        if (verdict->explanations[i].faults[j].part >= 0)
          self->chosen[verdict->explanations[i].faults[j].part] = TRUE;
}

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
      g_clear_pointer (&self->magnified, ml_scene_unref);
    }
  if (self->pinning.picture != ml_document_picture (self->document) && self->view == ML_CANVAS_PICTURE)
    ml_canvas_fit (self);
  if (new_scene || (changed & (ML_CHANGED_JOB | ML_CHANGED_POINT | ML_CHANGED_VERDICT | ML_CHANGED_VIEW)))
    take_extent (self, new_scene && self->doing != ML_DOING_MOVE);
  if (changed & (ML_CHANGED_BOARD | ML_CHANGED_VERDICT))
    take_chosen (self);
  if (changed & (ML_CHANGED_BOARD | ML_CHANGED_VERDICT | ML_CHANGED_POINT | ML_CHANGED_VIEW))
    ml_canvas_describe_targets (self);
  if (changed & (ML_CHANGED_BOARD | ML_CHANGED_VIEW | ML_CHANGED_PICTURE))
    ml_canvas_pin_follow (self);
  if ((changed & ML_CHANGED_VIEW) && self->partnered)
    reveal_selection (self);
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

/* ---- panels ---- */

static gboolean
panel_is_open (GtkWidget *panel)
{
  return gtk_widget_get_visible (panel);
}

static GtkWidget *
open_panel (MlCanvas *self)
{
  return panel_is_open (self->entry) ? self->entry : panel_is_open (self->line_entry) ? self->line_entry : NULL;
}

static void
focus_selection (MlCanvas *self)
{
  int part, pin;
  ml_document_selected (self->document, &part, &pin);
  GtkWidget *target = (GtkWidget *) ml_canvas_target_of (self, part, pin);
  gtk_widget_grab_focus (target && ml_canvas_shows (self, part, pin) ? target : GTK_WIDGET (self));
}

void
ml_canvas_close_panels (MlCanvas *self)
{
  GtkWidget *panel = open_panel (self);
  if (!panel)
    return;
  gtk_widget_set_visible (panel, FALSE);
  focus_selection (self);
}

/* The panel must be on screen before it can take the focus. */
void
ml_canvas_show_panel (MlCanvas *self, GtkWidget *panel, MlBox at)
{
  GtkWidget *other = open_panel (self);
  if (other && other != panel)
    gtk_widget_set_visible (other, FALSE);
  self->panel_at = at;
  gtk_widget_set_visible (panel, TRUE);
  gtk_widget_queue_allocate (GTK_WIDGET (self));
}

static void
panel_left_cb (GtkWidget *panel, MlCanvas *self)
{
  ml_canvas_close_panels (self);
}

static int
fit_into (int at, int size, int room)
{
  return CLAMP (at, 4, MAX (4, room - size - 4));
}

/* Beside what it is about: right of it, else left, never over it when there is room. */
static void
allocate_panel (MlCanvas *self, GtkWidget *panel, int width, int height)
{
  int natural_width = 0, natural_height = 0, minimum = 0;
  gtk_widget_measure (panel, GTK_ORIENTATION_HORIZONTAL, -1, &minimum, &natural_width, NULL, NULL);
  natural_width = MAX (minimum, MIN (natural_width, width - 8));
  gtk_widget_measure (panel, GTK_ORIENTATION_VERTICAL, natural_width, &minimum, &natural_height, NULL, NULL);
  MlPoint low = ml_viewport_to_view (&self->viewport, self->panel_at.x0, self->panel_at.y0);
  MlPoint high = ml_viewport_to_view (&self->viewport, self->panel_at.x1, self->panel_at.y1);
  int x = (int) high.x + PANEL_GAP_PX;
  if (x + natural_width > width && low.x - PANEL_GAP_PX - natural_width > 0)
    x = (int) low.x - PANEL_GAP_PX - natural_width;
  GtkAllocation allocation = { fit_into (x, natural_width, width), fit_into ((int) low.y, natural_height, height), natural_width,
                               natural_height };
  gtk_widget_size_allocate (panel, &allocation, -1);
}

/* ---- the widget ---- */

static void
ml_canvas_measure (GtkWidget *widget, GtkOrientation orientation, int for_size, int *minimum, int *natural, int *minimum_baseline,
                   int *natural_baseline)
{
  *minimum = orientation == GTK_ORIENTATION_HORIZONTAL ? 240 : 160;
  *natural = orientation == GTK_ORIENTATION_HORIZONTAL ? 800 : 500;
}

static void
ml_canvas_size_allocate (GtkWidget *widget, int width, int height, int baseline)
{
  MlCanvas *self = ML_CANVAS (widget);
  ml_viewport_set_size (&self->viewport, width, height);
  for (guint i = 0; i < self->targets->len; i++)
    ml_canvas_allocate_target (self, self->targets->pdata[i]);
  GtkWidget *panel = open_panel (self);
  if (panel)
    allocate_panel (self, panel, width, height);
  if (self->add_list)
    gtk_popover_present (GTK_POPOVER (self->add_list));
}

static const MlNextReading *
next_to_show (MlCanvas *self)
{
  const MlVerdict *verdict = ml_document_verdict (self->document);
  if (!verdict || self->next < 0 || (guint) self->next >= verdict->n_next || ml_document_red (self->document))
    return NULL;
  const MlNextReading *next = &verdict->next[self->next];
  return next->condition == ml_document_condition (self->document) ? next : NULL;
}

/* The marks that belong to the job, without what the hand and the eye are at. While drawing, the sheet is kept free of judgement. */
static MlOverlay
overlay_of (MlCanvas *self)
{
  gboolean show_verdict = (self->show & ML_CANVAS_SHOW_VERDICT) && self->mode == ML_CANVAS_MEASURE;
  gboolean pins = ml_canvas_pins (self); /* then the solder must be seen, not what was read there */
  return (MlOverlay){
    .verdict = show_verdict ? ml_document_verdict (self->document) : NULL,
    .job = pins ? NULL : ml_document_job (self->document),
    .unit = ml_document_unit (self->document),
    .pass = ml_document_pass (self->document),
    .condition = ml_document_condition (self->document),
    .other_unit = self->other_unit,
    .point = pins ? NULL : ml_document_point (self->document),
    .show_flow = (self->show & ML_CANVAS_SHOW_FLOW) != 0,
    .show_expected = (self->show & ML_CANVAS_SHOW_EXPECTED) != 0,
    .selected_part = -1,
    .selected_pin = -1,
    .hover_part = -1,
    .hover_pin = -1,
  };
}

/* All of the marks, with what the hand and the eye are at. ribbon is borrowed. */
static MlOverlay
whole_overlay (MlCanvas *self, const char *ribbon)
{
  MlOverlay overlay = overlay_of (self);
  gboolean on_part = self->hover.kind == ML_HIT_PART || self->hover.kind == ML_HIT_PIN;
  overlay.hover_part = on_part ? self->hover.part : -1;
  overlay.hover_pin = self->hover.kind == ML_HIT_PIN ? self->hover.pin : -1;
  overlay.red = ml_document_red (self->document);
  overlay.black = ml_document_black (self->document);
  overlay.next = self->mode == ML_CANVAS_MEASURE ? next_to_show (self) : NULL;
  overlay.ribbon = ribbon;
  overlay.chosen = overlay.verdict && self->chosen && self->n_chosen == ml_document_board (self->document)->n_parts ? self->chosen : NULL;
  ml_document_selected (self->document, &overlay.selected_part, &overlay.selected_pin);
  return overlay;
}

typedef struct { MlCanvas *canvas; const MlOverlay *overlay; } Still;

static MlPaintStyle
paint_style (MlCanvas *self, double scale)
{
  return (MlPaintStyle){ .paper = self->paper, .scale = scale, .legend = (self->show & ML_CANVAS_SHOW_LEGEND) != 0 };
}

static void
paint_still (cairo_t *cr, double device_px_per_g, gpointer data)
{
  const Still *still = data;
  MlPaintStyle style = paint_style (still->canvas, device_px_per_g);
  ml_paint_scene (cr, ml_canvas_scene (still->canvas), &style);
  ml_plan_paint (cr, ml_canvas_scene (still->canvas), still->overlay, still->canvas->plan, &style);
}

static void
make_plan (MlCanvas *self, const MlOverlay *overlay)
{
  MlPaintStyle style = paint_style (self, self->viewport.zoom);
  if (self->plan && self->plan_version == self->marks_version)
    return;
  g_clear_pointer (&self->plan, ml_plan_free);
  self->plan = ml_plan_new (ml_canvas_scene (self), overlay, &style);
  self->plan_version = self->marks_version;
}

void
ml_canvas_marks_changed (MlCanvas *self)
{
  self->marks_version++;
  gtk_widget_queue_draw (GTK_WIDGET (self));
}

static void
paint (MlCanvas *self, cairo_t *cr)
{
  const MlPalette *palette = ml_palette (self->paper);
  g_autofree char *ribbon = ml_suppose_ribbon (ml_document_board (self->document), ml_document_supposed (self->document));
  MlOverlay overlay = whole_overlay (self, ribbon);
  MlPaintStyle style = paint_style (self, self->viewport.zoom);
  Still still = { self, &overlay };
  make_plan (self, &overlay);
  MlCanvasLayerSource source = { self->plan->extent, self->marks_version, self->paper, paint_still, &still };
  source.extent.y1 += style.legend ? LEGEND_ROOM_G : 0;
  cairo_set_source_rgb (cr, palette->paper.r, palette->paper.g, palette->paper.b);
  cairo_paint (cr);
  ml_canvas_layer_paint (&self->layer, cr, &source, &self->viewport, gtk_widget_get_scale_factor (GTK_WIDGET (self)), self->zooming != 0);
  MlPoint origin = ml_viewport_to_view (&self->viewport, 0.0, 0.0);
  cairo_save (cr);
  cairo_translate (cr, origin.x, origin.y);
  cairo_scale (cr, self->viewport.zoom, self->viewport.zoom);
  ml_plan_paint_pointing (cr, ml_canvas_scene (self), &overlay, &style);
  ml_canvas_draw_paint (self, cr);
  ml_canvas_pin_paint (self, cr);
  cairo_restore (cr);
}

static void
ml_canvas_snapshot (GtkWidget *widget, GtkSnapshot *snapshot)
{
  MlCanvas *self = ML_CANVAS (widget);
  int width = gtk_widget_get_width (widget), height = gtk_widget_get_height (widget);
  cairo_t *cr = gtk_snapshot_append_cairo (snapshot, &GRAPHENE_RECT_INIT (0, 0, (float) width, (float) height));
  paint (self, cr);
  cairo_destroy (cr);
  GtkWidget *focused = gtk_widget_get_focus_child (widget);
  if (focused && ML_IS_CANVAS_TARGET (focused))
    gtk_widget_snapshot_child (widget, focused, snapshot);
  GtkWidget *panel = open_panel (self);
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
      focus_selection (self);
      return TRUE;
    }
  part = on_part ? part + (forward ? 1 : -1) : forward ? 0 : -1;
  if (part < 0 || part >= n_parts)
    return FALSE;
  ml_canvas_select_and_focus (self, part, -1);
  return TRUE;
}

static gboolean
focus_in_panel (GtkWidget *panel, GtkDirectionType direction)
{
  if (!gtk_widget_child_focus (panel, direction))
    gtk_widget_child_focus (panel, direction); /* round again */
  return TRUE;
}

static gboolean
ml_canvas_focus (GtkWidget *widget, GtkDirectionType direction)
{
  MlCanvas *self = ML_CANVAS (widget);
  GtkWidget *panel = open_panel (self);
  if (panel)
    return focus_in_panel (panel, direction);
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
  signals[PICTURED] = g_signal_new ("pictured", type, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 0);
  signals[MENU] = g_signal_new ("menu", type, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 5, G_TYPE_INT, G_TYPE_INT, G_TYPE_INT,
                                G_TYPE_DOUBLE, G_TYPE_DOUBLE);
}

static void
ml_canvas_init (MlCanvas *self)
{
  self->targets = g_ptr_array_new ();
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
  take_extent (self, TRUE);
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
  ml_canvas_end_pick (self, NULL);
  ml_canvas_draw_stop (self);
  ml_canvas_measure_stop (self);
  ml_canvas_close_panels (self);
  self->mode = mode;
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
  ml_canvas_marks_changed (self);
}

void
ml_canvas_set_explanation (MlCanvas *self, guint id)
{
  self->explanation = id;
  take_chosen (self);
  gtk_widget_queue_draw (GTK_WIDGET (self));
}

void
ml_canvas_set_next (MlCanvas *self, int next)
{
  self->next = next;
  ml_canvas_marks_changed (self);
}

/* ---- the list of kinds ---- */

static void
kind_chosen_cb (MlAddList *list, const MlKindInfo *kind, gboolean polar, MlCanvas *self)
{
  if (polar)
    ml_canvas_add_electrolytic (self);
  else
    ml_canvas_add_part (self, kind);
}

static void
make_add_list (MlCanvas *self)
{
  self->add_list = ml_add_list_new ();
  ml_add_list_set_paper (ML_ADD_LIST (self->add_list), self->paper);
  gtk_widget_set_parent (self->add_list, GTK_WIDGET (self));
  g_signal_connect (self->add_list, "chosen", G_CALLBACK (kind_chosen_cb), self);
}

void
ml_canvas_open_add_list (MlCanvas *self)
{
  if (!self->add_list)
    make_add_list (self);
  MlPoint at = self->pointer_inside ? self->pointer : (MlPoint){ self->viewport.width_px / 2.0, self->viewport.height_px / 4.0 };
  gtk_popover_set_pointing_to (GTK_POPOVER (self->add_list), &(GdkRectangle){ (int) at.x, (int) at.y, 1, 1 });
  ml_add_list_clear (ML_ADD_LIST (self->add_list));
  gtk_popover_popup (GTK_POPOVER (self->add_list));
}

/* ---- moving about ---- */

static void
moved (MlCanvas *self)
{
  gtk_widget_queue_allocate (GTK_WIDGET (self));
  gtk_widget_queue_draw (GTK_WIDGET (self));
}

/* The scene is another one, as much larger. */
static void
magnify_by (MlCanvas *self, double factor, double x_px, double y_px)
{
  self->magnify *= factor;
  if (self->magnify < 1.0 + 1e-9)
    self->magnify = 1.0;
  g_clear_pointer (&self->magnified, ml_scene_unref);
  self->marks_version++;
  ml_viewport_stretch (&self->viewport, factor, x_px, y_px);
  self->panel_at = (MlBox){ factor * self->panel_at.x0, factor * self->panel_at.y0, factor * self->panel_at.x1, factor * self->panel_at.y1 };
  take_extent (self, TRUE);
}

static double
most_magnified (MlCanvas *self)
{
  const MlBox *sheet = &ml_document_picture_scene (self->document)->picture->sheet;
  return CLAMP (LARGEST_SHEET_G / MAX (sheet->x1, sheet->y1), 1.0, MOST_MAGNIFIED);
}

/* Which share of a zoom goes to the sheet of a picture instead of the view: what would make the text on it larger than it is ever read. */
static double
share_of_sheet (MlCanvas *self, double factor)
{
  if (self->view != ML_CANVAS_PICTURE)
    return 1.0;
  if (factor < 1.0)
    return MAX (factor, 1.0 / self->magnify);
  return MIN (factor / CLAMP (LARGEST_TEXT_ZOOM / self->viewport.zoom, 1.0, factor), MAX (1.0, most_magnified (self) / self->magnify));
}

void
ml_canvas_fit (MlCanvas *self)
{
  if (self->magnify > 1.0)
    magnify_by (self, 1.0 / self->magnify, 0.0, 0.0);
  ml_viewport_fit (&self->viewport);
  moved (self);
}

static gboolean
at_rest_cb (gpointer data)
{
  MlCanvas *self = data;
  self->zooming = 0;
  gtk_widget_queue_draw (GTK_WIDGET (self)); /* sharp again */
  return G_SOURCE_REMOVE;
}

static void
zoom_changes (MlCanvas *self)
{
  g_clear_handle_id (&self->zooming, g_source_remove);
  self->zooming = g_timeout_add (REST_MS, at_rest_cb, self);
}

void
ml_canvas_zoom_at (MlCanvas *self, double factor, double x_px, double y_px)
{
  double sheet = share_of_sheet (self, factor);
  if (fabs (sheet - 1.0) > 1e-9)
    magnify_by (self, sheet, x_px, y_px);
  if (self->view == ML_CANVAS_CIRCUIT || factor < 1.0 || self->viewport.zoom * factor / sheet <= LARGEST_TEXT_ZOOM * 1.01)
    {
      ml_viewport_zoom_at (&self->viewport, factor / sheet, x_px, y_px);
      zoom_changes (self);
    }
  moved (self);
}

static void
zoom_by (MlCanvas *self, double factor)
{
  MlPoint at = { self->viewport.width_px / 2.0, self->viewport.height_px / 2.0 };
  ml_canvas_zoom_at (self, factor, self->pointer_inside ? self->pointer.x : at.x, self->pointer_inside ? self->pointer.y : at.y);
}

void
ml_canvas_zoom_in (MlCanvas *self)
{
  zoom_by (self, ZOOM_STEP);
}

void
ml_canvas_zoom_out (MlCanvas *self)
{
  zoom_by (self, 1.0 / ZOOM_STEP);
}

void
ml_canvas_pan_by (MlCanvas *self, double dx_px, double dy_px)
{
  ml_viewport_pan_by (&self->viewport, dx_px, dy_px);
  moved (self);
}

void
ml_canvas_pan (MlCanvas *self, double windows_right, double windows_down)
{
  ml_canvas_pan_by (self, windows_right * self->viewport.width_px, windows_down * self->viewport.height_px);
}

void
ml_canvas_reveal (MlCanvas *self, int part, int pin)
{
  if (part >= 0 && ml_canvas_shows (self, part, pin) && ml_viewport_reveal (&self->viewport, ml_canvas_place_box (self, part, pin)))
    moved (self);
}

gboolean
ml_canvas_place_rect (MlCanvas *self, int part, int pin, GdkRectangle *ret_rect)
{
  if (part < 0 || !ml_canvas_shows (self, part, pin))
    return FALSE;
  MlBox box = ml_canvas_place_box (self, part, pin);
  MlPoint low = ml_viewport_to_view (&self->viewport, box.x0, box.y0), high = ml_viewport_to_view (&self->viewport, box.x1, box.y1);
  *ret_rect = (GdkRectangle){ (int) low.x, (int) low.y, MAX ((int) (high.x - low.x), 1), MAX ((int) (high.y - low.y), 1) };
  return TRUE;
}

void
ml_canvas_select_and_focus (MlCanvas *self, int part, int pin)
{
  ml_document_select (self->document, part, pin);
  ml_canvas_measure_selected (self);
  ml_canvas_reveal (self, part, pin);
  focus_selection (self);
}

void
ml_canvas_walk (MlCanvas *self, MlSide direction)
{
  int part, pin, next_part, next_pin;
  const MlScene *scene = ml_canvas_scene (self);
  if (ml_canvas_pin_walk (self, direction))
    return;
  ml_document_selected (self->document, &part, &pin);
  if (part < 0 || !ml_canvas_shows (self, part, pin))
    {
      if (scene->n_symbols > 0)
        ml_canvas_select_and_focus (self, scene->symbols[0].part, -1);
      return;
    }
  if (ml_scene_neighbour (scene, part, pin, direction, &next_part, &next_pin))
    ml_canvas_select_and_focus (self, next_part, next_pin);
}

gboolean
ml_canvas_cancel (MlCanvas *self)
{
  int part, pin;
  ml_document_selected (self->document, &part, &pin);
  if (open_panel (self))
    ml_canvas_close_panels (self);
  else if (self->doing == ML_DOING_PICK)
    ml_canvas_end_pick (self, NULL);
  else if (self->doing != ML_DOING_NOTHING)
    ml_canvas_draw_stop (self);
  else if (ml_document_supposed (self->document))
    ml_document_suppose (self->document, NULL);
  else if (part >= 0 || ml_document_red (self->document))
    {
      ml_canvas_measure_stop (self);
      ml_canvas_select_and_focus (self, -1, -1);
    }
  else
    return FALSE;
  return TRUE;
}

void
ml_canvas_ask_for_menu (MlCanvas *self, const MlHit *hit, double x_px, double y_px)
{
  g_signal_emit (self, signals[MENU], 0, hit->part, hit->pin, hit->net, x_px, y_px);
}
