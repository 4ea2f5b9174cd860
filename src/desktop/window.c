/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/window-private.h"

#include "desktop/actions.h"
#include "desktop/appearance.h"
#include "desktop/ask.h"
#include "desktop/drawing-progress.h"
#include "desktop/errors-text.h"
#include "desktop/errors.h"
#include "desktop/findings.h"
#include "desktop/geometry.h"
#include "desktop/glyph.h"
#include "desktop/looks.h"
#include "desktop/settings.h"
#include "desktop/start-page.h"
#include "desktop/status-text.h"
#include "desktop/suppose.h"
#include "desktop/title.h"

#include <string.h>

#define DEFAULT_WIDTH 1280
#define DEFAULT_HEIGHT 800

G_DEFINE_FINAL_TYPE (MlWindow, ml_window, GTK_TYPE_APPLICATION_WINDOW)

/* ---- saying things ---- */

gboolean
ml_window_apply (MlWindow *self, MlText *board_text, MlText *job_text, GError *error, const char *label)
{
  gboolean done = error == NULL && (board_text != NULL || job_text != NULL);

  if (done)
    ml_document_apply (self->document, board_text, job_text, label, NULL);
  else if (error != NULL)
    ml_window_notice (self, error->message, NULL, NULL);
  g_clear_pointer (&board_text, ml_text_unref);
  g_clear_pointer (&job_text, ml_text_unref);
  g_clear_error (&error);
  return done;
}

static void
failed_cb (GtkWidget *widget, const char *text, gpointer data)
{
  ml_window_notice (data, text, NULL, NULL);
}

/* What is to be clicked must be in sight. */
static void
hint_cb (MlCanvas *canvas, const char *text, gpointer data)
{
  if (ML_WINDOW (data)->document == NULL)
    return; /* the window is going */
  if (canvas == ML_WINDOW (data)->canvas)
    ml_window_show_hint (data, text);
  ml_window_refresh_actions (data); /* a part taken in hand can be turned */
  if (ml_canvas_picks (canvas))
    g_action_group_change_action_state (G_ACTION_GROUP (data), "file-text", g_variant_new_boolean (FALSE));
}

static void
pictured_cb (MlCanvas *canvas, gpointer data)
{
  ml_window_offer_nears (data);
}

/* ---- what is shown ---- */

static const char *
state_word (MlUnitState state)
{
  return state == ML_UNIT_STATE_GOOD ? "good" : state == ML_UNIT_STATE_SUSPECT ? "suspect" : "not judged";
}

/* Its name, and below it what is never cut: a verdict is of that pass. */
static void
show_unit (MlWindow *self)
{
  const MlJob *job = ml_document_job (self->document);
  int unit = ml_document_unit (self->document);
  const char *name = unit >= 0 ? job->units[unit].name : "No unit";
  g_autofree char *state = unit >= 0 ? g_strdup_printf ("%s, pass %u", state_word (job->units[unit].state), ml_document_pass (self->document)) : g_strdup ("");
  g_autofree char *spoken = g_strdup_printf ("Unit: %s%s%s", name, unit >= 0 ? ", " : "", state);
  g_autofree char *tip = g_strdup_printf ("%s: which unit is on the bench, and its pass", name);

  gtk_label_set_text (GTK_LABEL (self->unit_label), name);
  gtk_label_set_text (GTK_LABEL (self->unit_state_label), state);
  gtk_widget_set_visible (self->unit_state_label, unit >= 0);
  gtk_widget_set_tooltip_text (self->unit_button, tip);
  gtk_accessible_update_property (GTK_ACCESSIBLE (self->unit_button), GTK_ACCESSIBLE_PROPERTY_LABEL, spoken, -1);
}

static void
show_title (MlWindow *self)
{
  const MlBoard *board = ml_document_board (self->document);
  const char *path = ml_document_job_path (self->document) != NULL ? ml_document_job_path (self->document)
                                                                   : ml_document_board_path (self->document);
  g_autofree char *base = path != NULL ? g_filename_display_basename (path) : g_strdup ("not saved yet");
  g_autofree char *subtitle = g_strdup_printf ("%s%s", base, path != NULL && !ml_document_is_saved (self->document) ? ", changed" : "");
  const char *of_job = ml_document_lacks_board (self->document) ? ml_document_job (self->document)->title : NULL;
  g_autofree char *stem = ml_window_file_stem (self);
  const char *unnamed = stem != NULL ? stem : "Board without a name";
  const char *title = of_job != NULL ? of_job : board->title != NULL && board->title[0] != '\0' ? board->title : unnamed;
  gboolean at_start = ml_window_is_untouched (self);

  ml_title_set (ML_TITLE (self->title), at_start ? "Meterleaf" : title, at_start ? NULL : subtitle);
  gtk_widget_set_visible (self->unit_button, !at_start);
  gtk_widget_set_visible (self->mode_box, !at_start);
  gtk_widget_set_visible (self->view_button, !at_start);
  show_unit (self);
  gtk_window_set_title (GTK_WINDOW (self), at_start ? "Meterleaf" : title);
}

void
ml_window_show_status (MlWindow *self)
{
  gboolean hint = self->hint_below && gtk_widget_get_visible (self->hint);
  g_autofree char *text = hint ? g_strdup (gtk_label_get_text (GTK_LABEL (self->hint))) : ml_status_text (self->document);

  (hint ? gtk_widget_add_css_class : gtk_widget_remove_css_class) (self->status, "hint-below");
  gtk_widget_set_visible (self->all_conditions_button, !hint && ml_canvas_get_mode (self->circuit_canvas) == ML_CANVAS_MEASURE
                                                         && ml_document_condition (self->document) >= 0); /* what is asked is read whole */
  const char *nothing = ml_document_board (self->document)->n_parts == 0 ? "Nothing drawn yet. Press a in Draw, or “Add a Part…”, and choose a kind by its name."
                                                                         : "Nothing selected. Click a part or a pin, or walk there with the arrow keys.";
  g_autofree char *went = self->went != NULL && !hint ? g_strdup_printf ("%s%s%s", self->went, text[0] != '\0' ? " · " : "", text) : NULL;
  gtk_label_set_text (GTK_LABEL (self->status), went != NULL ? went : text[0] != '\0' ? text : nothing);
}

/* All of it, where the line has no room for it. */
static gboolean
status_tip_cb (GtkWidget *status, int x, int y, gboolean keyboard, GtkTooltip *tip, gpointer data)
{
  gtk_tooltip_set_text (tip, gtk_label_get_text (GTK_LABEL (status)));
  return pango_layout_is_ellipsized (gtk_label_get_layout (GTK_LABEL (status)));
}

/* A row of its own: on the sheet it could lie outside of what is in view, and nothing would tell that these are no values of the board. */
static void
show_supposed (MlWindow *self)
{
  g_autofree char *words = ml_suppose_ribbon (ml_document_board (self->document), ml_document_supposed (self->document));

  if (words != NULL)
    words[0] = g_ascii_toupper (words[0]);
  gtk_label_set_text (GTK_LABEL (self->suppose_label), words != NULL ? words : "");
  gtk_widget_set_visible (self->suppose_bar, words != NULL);
}

static void
show_errors (MlWindow *self)
{
  MlDiagnostics *diagnostics = ml_document_diagnostics (self->document);
  g_autofree char *summary = ml_errors_summary (diagnostics);

  if (ml_diagnostics_n_errors (diagnostics) == 0 || summary == NULL)
    {
      ml_window_notice_over (self, "errors");
      return;
    }
  g_autofree char *text = g_strdup_printf ("%s. What could be read is shown.", summary);
  ml_window_notice_until (self, "errors", text, "Show Them", "win.file-text");
}

static void
show_undo_tips (MlWindow *self)
{
  const char *undo = ml_document_undo_label (self->document), *redo = ml_document_redo_label (self->document);
  g_autofree char *undo_tip = g_strdup_printf ("Undo: %s (Ctrl+Z)", undo), *redo_tip = g_strdup_printf ("Redo: %s (Ctrl+Shift+Z)", redo);

  gtk_widget_set_tooltip_text (self->undo_button, undo != NULL ? undo_tip : "Nothing to undo");
  gtk_widget_set_tooltip_text (self->redo_button, redo != NULL ? redo_tip : "Nothing to redo");
}

int
ml_window_other_unit (MlWindow *self)
{
  const MlJob *job = ml_document_job (self->document);
  int unit = ml_document_unit (self->document), other = -1;

  for (guint i = 0; i < job->n_units; i++)
    if ((int) i != unit && (other < 0 || (job->units[i].state == ML_UNIT_STATE_GOOD && job->units[other].state != ML_UNIT_STATE_GOOD)))
      other = (int) i;
  return self->compare ? other : -1;
}

void
ml_window_show_work (MlWindow *self)
{
  gtk_stack_set_visible_child_name (GTK_STACK (self->stack), "work");
  show_title (self);
  ml_window_refresh_actions (self);
}

/* How far the better drawing of a large board is; that a drawing is none, once nothing better is on its way. */
static void
show_drawing_progress (MlWindow *self)
{
  const MlScene *scene = ml_document_scene (self->document);
  const double share = ml_document_drawing_progress (self->document);
  const gboolean rows = scene->in_rows && share < 0;

  ml_drawing_progress_show (self->drawing_progress, share, scene->board->n_parts);
  if (rows && !self->told_of_rows)
    ml_window_notice_until (self, "rows", "The parts only stand in rows, in the order of their names.", "Arrange", "win.arrange");
  else if (!rows)
    ml_window_notice_over (self, "rows");
  self->told_of_rows = rows;
}

static void
keep_drawing (gpointer data)
{
  ml_document_keep_drawing (ML_WINDOW (data)->document);
}

/* It stays, with the way out, for as long as it stands in the way, and is told once. */
static void
show_trouble (MlWindow *self)
{
  const char *trouble = ml_document_trouble (self->document);
  gboolean unsafe = ml_document_is_unsafe (self->document);

  if (g_strcmp0 (trouble, self->told_trouble) == 0)
    return;
  g_free (self->told_trouble);
  self->told_trouble = g_strdup (trouble);
  if (trouble == NULL)
    ml_window_notice_over (self, "trouble");
  else
    ml_window_notice_until (self, "trouble", trouble, unsafe ? "Save" : NULL, unsafe ? "win.save" : NULL);
}

static void
changed_cb (MlDocument *document, guint what, gpointer data)
{
  MlWindow *self = data;

  if ((what & (ML_CHANGED_VIEW | ML_CHANGED_BOARD)) != 0)
    self->menu_net = -1; /* the last menu's net is no longer what is spoken of */
  if ((what & (ML_CHANGED_VIEW | ML_CHANGED_BOARD | ML_CHANGED_JOB | ML_CHANGED_HISTORY)) != 0)
    {
      if (!self->going)
        g_clear_pointer (&self->went, g_free);
      ml_window_keep_look_soon (self);
      show_title (self);
      ml_window_refresh_unit_menu (self);
      show_undo_tips (self);
      ml_window_watch_files (self);
      ml_canvas_set_other_unit (self->circuit_canvas, ml_window_other_unit (self));
      ml_canvas_set_other_unit (self->picture_canvas, ml_window_other_unit (self));
    }
  if ((what & (ML_CHANGED_VIEW | ML_CHANGED_BOARD | ML_CHANGED_JOB | ML_CHANGED_VERDICT | ML_CHANGED_POINT)) != 0)
    {
      ml_window_show_status (self);
      show_supposed (self);
      ml_window_place_notice (self);
    }
  if ((what & ML_CHANGED_DIAGNOSTICS) != 0)
    show_errors (self);
  if ((what & ML_CHANGED_PICTURE) != 0)
    ml_window_picture_changed (self);
  if ((what & ML_CHANGED_PROGRESS) != 0)
    show_trouble (self);
  if ((what & (ML_CHANGED_PROGRESS | ML_CHANGED_SCENE | ML_CHANGED_BOARD)) != 0)
    show_drawing_progress (self);
  ml_window_refresh_actions (self);
}

/* ---- parts of the window talking to each other ---- */

static void
chosen_cb (MlFindings *findings, guint id, gpointer data)
{
  ml_canvas_set_explanation (ML_WINDOW (data)->circuit_canvas, id);
  ml_canvas_set_explanation (ML_WINDOW (data)->picture_canvas, id);
}

static void
probe_cb (MlFindings *findings, int next, gpointer data)
{
  MlWindow *self = data;
  const MlVerdict *verdict = ml_document_verdict (self->document);

  if (verdict == NULL || next < 0 || next >= (int) verdict->n_next)
    return;
  const MlNextReading *reading = &verdict->next[next];
  g_action_group_activate_action (G_ACTION_GROUP (self), "mode", g_variant_new_string ("measure"));
  if (reading->reads == ML_READS_AMPS)
    {
      ml_canvas_take_suggested (self->canvas);
      return;
    }
  ml_canvas_focus_place (self->canvas, &reading->red, &reading->black, reading->condition);
  gtk_widget_grab_focus (GTK_WIDGET (self->canvas));
}

static void
read_supply_cb (MlCanvas *canvas, int condition, int supply, gpointer data)
{
  ml_bench_strip_read_supply (ML_BENCH_STRIP (ML_WINDOW (data)->strip), condition, supply);
}

static void
menu_cb (MlCanvas *canvas, int part, int pin, int net, double x, double y, gpointer data)
{
  ml_window_open_part_menu (data, part, pin, net, x, y);
}

static void
text_closed_cb (GtkWidget *errors, gpointer data)
{
  g_action_group_activate_action (G_ACTION_GROUP (data), "file-text", NULL);
}

static void
recent_open_cb (GtkWidget *start, const char *path, gpointer data)
{
  g_autofree char *kept = g_strdup (path);

  ml_window_open_for (gtk_window_get_application (data), data, kept);
}

static void
recover_cb (MlStartPage *start, const char *journal, gpointer data)
{
  MlWindow *self = data;
  g_autoptr (GError) error = NULL;

  if (ml_document_recover (self->document, journal, &error))
    ml_window_opened (self);
  else
    {
      ml_window_show_work (self);
      ml_window_notice (self, error->message, NULL, NULL);
    }
}

typedef struct { MlStartPage *start; char *journal; } Discarding;

static void
discard_choice_cb (int choice, gpointer data)
{
  Discarding *discarding = data;

  if (choice == 0)
    {
      ml_document_discard (discarding->journal);
      ml_start_page_refresh (discarding->start);
    }
  g_object_unref (discarding->start);
  g_free (discarding->journal);
  g_free (discarding);
}

/* Nothing brings it back: asked first. */
static void
discard_cb (MlStartPage *start, const char *journal, gpointer data)
{
  Discarding *discarding = g_new (Discarding, 1);

  *discarding = (Discarding){ g_object_ref (start), g_strdup (journal) };
  ml_choose (GTK_WINDOW (data), "Discard the unsaved work?", "The changes that were not saved last time are gone for good. Files that were saved stay as they are.",
             (const char *const[]){ "Discard", "Keep It", NULL }, discard_choice_cb, discarding);
}

static gboolean
close_request_cb (GtkWindow *window, gpointer data)
{
  MlWindow *self = ML_WINDOW (window);
  int width, height;

  if (!self->closing && !ml_window_may_close (self))
    return TRUE;
  gtk_window_get_default_size (window, &width, &height);
  ml_settings_set_flag ("window-maximized", gtk_window_is_maximized (window));
  if (!gtk_window_is_maximized (window) && width >= 600 && height >= 400)
    {
      ml_settings_set_number ("window-width", width);
      ml_settings_set_number ("window-height", height);
    }
  ml_window_keep_picture (self);
  ml_window_keep_look (self);
  return FALSE;
}

/* ---- building ---- */

void
ml_window_set_paper (MlWindow *self, MlPaper paper)
{
  self->paper = paper;
  ml_canvas_set_paper (self->circuit_canvas, paper);
  ml_canvas_set_paper (self->picture_canvas, paper);
  ml_bench_strip_set_paper (self->strip, paper);
  ml_looks_apply (gtk_widget_get_display (GTK_WIDGET (self)), paper);
}

static void
build_header (MlWindow *self)
{
  gtk_button_set_child (GTK_BUTTON (self->undo_button), ml_glyph_new (ML_GLYPH_UNDO, 16));
  gtk_button_set_child (GTK_BUTTON (self->redo_button), ml_glyph_new (ML_GLYPH_REDO, 16));
  gtk_menu_button_set_child (GTK_MENU_BUTTON (self->view_button), ml_glyph_new (ML_GLYPH_EYE, 16));
  gtk_menu_button_set_child (GTK_MENU_BUTTON (self->menu_button), ml_glyph_new (ML_GLYPH_MENU, 16));
  ml_actions_dress_button (self->suppose_button, "win.stop-supposing");
  ml_actions_dress_button (self->undo_button, "win.undo");
  ml_actions_dress_button (self->redo_button, "win.redo");
  ml_actions_dress_button (self->draw_button, "win.mode::draw");
  ml_actions_dress_button (self->measure_button, "win.mode::measure");
  gtk_widget_set_focus_on_click (self->draw_button, FALSE);
  gtk_widget_set_focus_on_click (self->measure_button, FALSE);
  gtk_widget_set_tooltip_text (self->view_button, "What is shown");
  gtk_accessible_update_property (GTK_ACCESSIBLE (self->view_button), GTK_ACCESSIBLE_PROPERTY_LABEL, "What is shown", -1);
  gtk_widget_set_tooltip_text (self->menu_button, "Menu");
  gtk_accessible_update_property (GTK_ACCESSIBLE (self->menu_button), GTK_ACCESSIBLE_PROPERTY_LABEL, "Menu", -1);
}

static void
build_places (MlWindow *self)
{
  GtkWidget *strip;

  ml_window_build_views (self);
  strip = ml_bench_strip_new (self->document, self->circuit_canvas);
  self->strip = ML_BENCH_STRIP (strip);
  gtk_widget_set_hexpand (strip, TRUE);
  gtk_box_append (GTK_BOX (self->strip_slot), strip);
  self->findings = ml_findings_new (self->document);
  gtk_box_append (GTK_BOX (self->findings_slot), self->findings);
  gtk_widget_set_hexpand (self->findings, TRUE);
  self->errors = ml_errors_view_new (self->document);
  gtk_widget_set_hexpand (self->errors, TRUE);
  gtk_box_append (GTK_BOX (self->text_slot), self->errors);
  self->start = ml_start_page_new ();
  gtk_box_append (GTK_BOX (self->start_slot), self->start);
}

static void
connect_places (MlWindow *self)
{
  MlCanvas *const canvases[] = { self->circuit_canvas, self->picture_canvas };

  for (guint i = 0; i < G_N_ELEMENTS (canvases); i++)
    {
      g_signal_connect (canvases[i], "hint", G_CALLBACK (hint_cb), self);
      g_signal_connect (canvases[i], "failed", G_CALLBACK (failed_cb), self);
      g_signal_connect (canvases[i], "read-supply", G_CALLBACK (read_supply_cb), self);
      g_signal_connect (canvases[i], "menu", G_CALLBACK (menu_cb), self);
      g_signal_connect (canvases[i], "pictured", G_CALLBACK (pictured_cb), self);
    }
  g_signal_connect (self->strip, "failed", G_CALLBACK (failed_cb), self);
  g_signal_connect (self->findings, "chosen", G_CALLBACK (chosen_cb), self);
  g_signal_connect (self->findings, "probe", G_CALLBACK (probe_cb), self);
  g_signal_connect (self->errors, "closed", G_CALLBACK (text_closed_cb), self);
  g_signal_connect (self->start, "open", G_CALLBACK (recent_open_cb), self);
  g_signal_connect (self->start, "recover", G_CALLBACK (recover_cb), self);
  g_signal_connect (self->start, "discard", G_CALLBACK (discard_cb), self);
  g_signal_connect (self->document, "changed", G_CALLBACK (changed_cb), self);
  gtk_widget_set_has_tooltip (self->status, TRUE);
  g_signal_connect (self->status, "query-tooltip", G_CALLBACK (status_tip_cb), NULL);
  g_signal_connect (self, "close-request", G_CALLBACK (close_request_cb), NULL);
  ml_window_build_elsewhere (self);
}

static void
ml_window_dispose (GObject *object)
{
  MlWindow *self = ML_WINDOW (object);

  g_clear_handle_id (&self->notice_timeout, g_source_remove);
  g_clear_handle_id (&self->notice_moves, g_source_remove);
  g_clear_handle_id (&self->views_share, g_source_remove);
  g_clear_handle_id (&self->corner_moves, g_source_remove);
  if (self->document != NULL)
    g_signal_handlers_disconnect_by_data (self->document, self);
  g_clear_pointer (&self->menu_popover, gtk_widget_unparent);
  g_clear_pointer (&self->place_popover, gtk_widget_unparent);
  g_clear_object (&self->document);
  g_clear_handle_id (&self->look_rests, g_source_remove);
  g_clear_pointer (&self->unit_menu_job, ml_job_unref);
  g_clear_pointer (&self->ribbon, g_free);
  g_clear_pointer (&self->called, g_free);
  g_clear_pointer (&self->went, g_free);
  g_clear_pointer (&self->told_trouble, g_free);
  g_clear_pointer (&self->notice_word, g_free);
  ml_window_clear_elsewhere (self);
  G_OBJECT_CLASS (ml_window_parent_class)->dispose (object);
}

static void
ml_window_class_init (MlWindowClass *klass)
{
  GtkWidgetClass *widget_class = GTK_WIDGET_CLASS (klass);
#define BIND(child) gtk_widget_class_bind_template_child (widget_class, MlWindow, child)

  G_OBJECT_CLASS (klass)->dispose = ml_window_dispose;
  ml_looks_load ();
  g_type_ensure (ML_TYPE_TITLE);
  gtk_widget_class_set_template_from_resource (widget_class, "/org/meterleaf/Meterleaf/window.ui");
  BIND (header), BIND (unit_button), BIND (unit_label), BIND (unit_state_label), BIND (undo_button), BIND (redo_button), BIND (title);
  BIND (mode_box), BIND (draw_button), BIND (measure_button), BIND (view_button), BIND (menu_button), BIND (stack), BIND (start_slot);
  BIND (paned), BIND (drawing_stack), BIND (draw_bar), BIND (draw_row), BIND (suppose_bar), BIND (suppose_label), BIND (suppose_button), BIND (drawing_slot), BIND (status), BIND (all_conditions_button), BIND (text_slot), BIND (strip_slot);
  BIND (findings_slot);
#undef BIND
}

static void
appearance_cb (MlAppearance *appearance, MlWindow *self)
{
  gboolean dark = ml_appearance_is_dark (appearance);

  ml_window_set_state (self, "dark-paper", g_variant_new_boolean (dark));
  ml_window_set_paper (self, dark ? ML_PAPER_DARK : ML_PAPER_LIGHT);
}

static void
ml_window_init (MlWindow *self)
{
  self->menu_part = self->menu_pin = self->menu_net = -1;
  self->compare = TRUE;
  self->document = ml_document_new (NULL);
  gtk_widget_init_template (GTK_WIDGET (self));
  gtk_widget_add_css_class (GTK_WIDGET (self), "meterleaf");
  build_header (self);
  ml_window_build_draw_bar (self);
  build_places (self);
  ml_window_build_notice (self);
  self->drawing_progress = ml_drawing_progress_new (keep_drawing, self);
  gtk_overlay_add_overlay (GTK_OVERLAY (self->drawing_slot), self->drawing_progress);
  ml_window_build_places (self);
  ml_window_add_actions (self);
  ml_window_build_menus (self);
  connect_places (self);
  ml_window_build_keys (self);
  g_signal_connect_object (ml_appearance_get (), "changed", G_CALLBACK (appearance_cb), self, 0);
  appearance_cb (ml_appearance_get (), self);
  gtk_widget_set_visible (self->findings_slot, ml_settings_flag ("show-findings", TRUE));
  gtk_widget_set_visible (self->draw_bar, FALSE);
  gtk_window_set_default_size (GTK_WINDOW (self), ml_settings_number ("window-width", DEFAULT_WIDTH),
                               ml_settings_number ("window-height", DEFAULT_HEIGHT));
  if (ml_settings_flag ("window-maximized", FALSE))
    gtk_window_maximize (GTK_WINDOW (self));
  changed_cb (self->document, ML_CHANGED_ALL & ~(guint) ML_CHANGED_PROGRESS, self);
  ml_geometry_watch (GTK_WINDOW (self));
}

/* ---- public ---- */

MlWindow *
ml_window_new (GtkApplication *application)
{
  return g_object_new (ML_TYPE_WINDOW, "application", application, NULL);
}

MlDocument *
ml_window_document (MlWindow *self)
{
  return self->document;
}

gboolean
ml_window_is_untouched (MlWindow *self)
{
  return g_strcmp0 (gtk_stack_get_visible_child_name (GTK_STACK (self->stack)), "start") == 0;
}

void
ml_window_opened (MlWindow *self)
{
  gboolean errors = ml_diagnostics_n_errors (ml_document_diagnostics (self->document)) > 0;

  ml_window_show_work (self);
  ml_canvas_fit (self->circuit_canvas);
  ml_canvas_fit (self->picture_canvas);
  ml_window_restore_look (self);
  if (errors)
    ml_errors_view_show_first (ML_ERRORS_VIEW (self->errors));
  g_action_group_change_action_state (G_ACTION_GROUP (self), "file-text", g_variant_new_boolean (errors));
  if (!errors && ml_document_board (self->document)->n_conditions == 0) /* nothing to measure in yet: it is being drawn up */
    g_action_group_activate_action (G_ACTION_GROUP (self), "mode", g_variant_new_string ("draw"));
  gtk_widget_grab_focus (GTK_WIDGET (self->canvas));
}

void
ml_window_open (MlWindow *self, const char *path)
{
  g_autoptr (GError) error = NULL;

  if (!ml_document_open (self->document, path, &error))
    {
      ml_start_page_say (ML_START_PAGE (self->start), error->message);
      return;
    }
  ml_recent_add (path);
  ml_window_opened (self);
}

void
ml_window_begin_drawing (MlWindow *self)
{
  ml_window_show_work (self);
  g_action_group_activate_action (G_ACTION_GROUP (self), "mode", g_variant_new_string ("draw"));
  gtk_widget_grab_focus (GTK_WIDGET (self->canvas));
}

void
ml_window_offer_left_over (MlWindow *self)
{
  if (!gtk_widget_get_visible (self->notice) && !ml_window_is_untouched (self)) /* the first page offers it by itself */
    ml_window_notice (self, "Unsaved work was left from last time.", "Show It", "win.left-over");
}
