/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the window does when one of its actions is called. */
#include "desktop/window-private.h"

#include <string.h>

#include "board/edit.h"
#include "desktop/appearance.h"
#include "desktop/ask.h"
#include "desktop/errors.h"
#include "desktop/removal.h"
#include "desktop/settings.h"
#include "desktop/shortcuts.h"
#include "desktop/suppose.h"

#define VERSION "0.1.0"

GAction *
ml_window_action (MlWindow *self, const char *name)
{
  return g_action_map_lookup_action (G_ACTION_MAP (self), name);
}

void
ml_window_set_state (MlWindow *self, const char *action, GVariant *state)
{
  GAction *found = ml_window_action (self, action);

  if (found != NULL)
    g_simple_action_set_state (G_SIMPLE_ACTION (found), state);
  else
    g_variant_unref (g_variant_ref_sink (state));
}

/* ---- files ---- */

/* The window that shall show something new: this one while it is empty, else a fresh one. */
static MlWindow *
window_for_more (MlWindow *self)
{
  if (ml_window_is_untouched (self))
    return self;
  return ml_window_new (gtk_window_get_application (GTK_WINDOW (self)));
}

static void
new_board (MlWindow *self)
{
  MlWindow *window = window_for_more (self);

  gtk_window_present (GTK_WINDOW (window));
  ml_window_begin_drawing (window);
}

static void
left_over (MlWindow *self)
{
  MlWindow *window = ml_window_new (gtk_window_get_application (GTK_WINDOW (self)));

  gtk_window_present (GTK_WINDOW (window)); /* its start page lists what was left */
}

static void
demo (MlWindow *self)
{
  g_autofree char *path = ml_demo_path ();

  if (path == NULL)
    {
      MlWindow *window = window_for_more (self);
      ml_window_show_work (window);
      ml_window_notice (window, "The demo is not installed. It is the file vent-controller.leafjob among the program's boards.", NULL, NULL);
      return;
    }
  ml_window_open_for (gtk_window_get_application (GTK_WINDOW (self)), self, path);
}

static void
save (MlWindow *self)
{
  ml_window_save (self, FALSE);
}

static void
save_as (MlWindow *self)
{
  ml_window_save (self, TRUE);
}

static void
close_window (MlWindow *self)
{
  gtk_window_close (GTK_WINDOW (self));
}

/* ---- changes ---- */

static void
file_text_state_cb (GSimpleAction *action, GVariant *state, gpointer data)
{
  MlWindow *self = data;

  if (!g_variant_get_boolean (state))
    ml_errors_view_take (ML_ERRORS_VIEW (self->errors));
  ml_document_barrier (self->document); /* what is typed next time is a step of its own */
  g_simple_action_set_state (action, state);
  gtk_stack_set_visible_child_name (GTK_STACK (self->drawing_stack), g_variant_get_boolean (state) ? "text" : "drawing");
}

/* ---- what is shown ---- */

static void
mode_state_cb (GSimpleAction *action, GVariant *state, gpointer data)
{
  MlWindow *self = data;
  gboolean draws = g_strcmp0 (g_variant_get_string (state, NULL), "draw") == 0;

  g_simple_action_set_state (action, state);
  ml_canvas_set_mode (self->circuit_canvas, draws ? ML_CANVAS_DRAW : ML_CANVAS_MEASURE);
  ml_canvas_set_mode (self->picture_canvas, draws ? ML_CANVAS_DRAW : ML_CANVAS_MEASURE);
  ml_window_show_tools (self);
  if (draws)
    ml_window_notice_over (self, "pads");
  ml_window_refresh_actions (self);
  ml_window_focus_canvas (self);
}

static void
set_show (MlWindow *self, MlCanvasShow flag, gboolean on)
{
  guint show = ml_canvas_get_show (self->circuit_canvas);

  show = on ? show | flag : show & ~(guint) flag;
  ml_canvas_set_show (self->circuit_canvas, show);
  ml_canvas_set_show (self->picture_canvas, show);
}

static void
flow_state_cb (GSimpleAction *action, GVariant *state, gpointer data)
{
  g_simple_action_set_state (action, state);
  set_show (data, ML_CANVAS_SHOW_FLOW, g_variant_get_boolean (state));
  ml_settings_set_flag ("show-flow", g_variant_get_boolean (state));
}

static void
expected_state_cb (GSimpleAction *action, GVariant *state, gpointer data)
{
  g_simple_action_set_state (action, state);
  set_show (data, ML_CANVAS_SHOW_EXPECTED, g_variant_get_boolean (state));
  ml_settings_set_flag ("show-expected", g_variant_get_boolean (state));
}

static void
compare_state_cb (GSimpleAction *action, GVariant *state, gpointer data)
{
  MlWindow *self = data;

  g_simple_action_set_state (action, state);
  self->compare = g_variant_get_boolean (state);
  ml_canvas_set_other_unit (self->circuit_canvas, ml_window_other_unit (self));
  ml_canvas_set_other_unit (self->picture_canvas, ml_window_other_unit (self));
}

static void
dark_paper_state_cb (GSimpleAction *action, GVariant *state, gpointer data)
{
  ml_appearance_choose (ml_appearance_get (), g_variant_get_boolean (state)); /* every window follows */
}

static void
findings_state_cb (GSimpleAction *action, GVariant *state, gpointer data)
{
  g_simple_action_set_state (action, state);
  ml_settings_set_flag ("show-findings", g_variant_get_boolean (state));
  gtk_widget_set_visible (ML_WINDOW (data)->findings_slot, g_variant_get_boolean (state));
}

/* Tab goes from part to part; over many of them this is the way out of the drawing. */
static void
next_area (MlWindow *self)
{
  GtkWidget *const areas[] = { GTK_WIDGET (self->canvas), self->errors, GTK_WIDGET (self->strip), self->findings, self->header, self->start };
  GtkWidget *focus = gtk_root_get_focus (GTK_ROOT (self));
  guint at = G_N_ELEMENTS (areas) - 1;

  for (guint i = 0; i < G_N_ELEMENTS (areas); i++)
    if (focus != NULL && (focus == areas[i] || gtk_widget_is_ancestor (focus, areas[i])))
      at = i;
  for (guint i = 1; i <= G_N_ELEMENTS (areas); i++)
    {
      GtkWidget *area = areas[(at + i) % G_N_ELEMENTS (areas)];
      if (gtk_widget_get_mapped (area) && (area == GTK_WIDGET (self->canvas) ? gtk_widget_grab_focus (area) : gtk_widget_child_focus (area, GTK_DIR_TAB_FORWARD)))
        return;
    }
}

/* ---- measuring ---- */

static void
condition_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  MlWindow *self = data;
  int condition = g_variant_get_int32 (parameter);

  if (condition >= 0 && condition < (int) ml_document_board (self->document)->n_conditions)
    ml_document_set_condition (self->document, condition);
}

/* On the picture, while pins are placed there, from pin to pin. */
static void
step (MlWindow *self, int way)
{
  if (ml_canvas_get_view (self->canvas) == ML_CANVAS_PICTURE && ml_canvas_get_mode (self->canvas) == ML_CANVAS_DRAW)
    ml_canvas_pin_step (self->canvas, way);
  else
    ml_canvas_step_reading (self->canvas, way);
}

static void
next_place (MlWindow *self)
{
  step (self, 1);
}

static void
previous_place (MlWindow *self)
{
  step (self, -1);
}

static void
stop_supposing (MlWindow *self)
{
  ml_document_suppose (self->document, NULL);
}

static void
cancel (MlWindow *self)
{
  ml_canvas_cancel (self->canvas);
}

static void
walk_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  static const struct { const char *word; MlSide side; } ways[] = {
    { "left", ML_SIDE_LEFT }, { "right", ML_SIDE_RIGHT }, { "up", ML_SIDE_UP }, { "down", ML_SIDE_DOWN },
  };

  for (guint i = 0; i < G_N_ELEMENTS (ways); i++)
    if (g_strcmp0 (ways[i].word, g_variant_get_string (parameter, NULL)) == 0)
      ml_canvas_walk (ML_WINDOW (data)->canvas, ways[i].side);
}

static gboolean
suppose (MlWindow *self, const char *words, GError **error)
{
  MlFault fault;

  if (!ml_fault_parse (ml_document_board (self->document), words, &fault, error))
    return FALSE;
  ml_document_suppose (self->document, &fault);
  ml_fault_clear (&fault);
  return TRUE;
}

static void
suppose_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  g_autoptr (GError) error = NULL;

  if (!suppose (data, g_variant_get_string (parameter, NULL), &error))
    ml_window_notice (data, error->message, NULL, NULL);
}

/* What is asked for the size of: the part and the words of it. */
typedef struct { MlWindow *window; char *part, *words; } Sizing;

static void
sizing_free (gpointer data)
{
  Sizing *sizing = data;

  g_object_unref (sizing->window);
  g_free (sizing->part);
  g_free (sizing->words);
  g_free (sizing);
}

static char *
size_typed_cb (const char *const *answers, gpointer data)
{
  const Sizing *sizing = data;
  const MlBoard *board = ml_document_board (sizing->window->document);
  int part = ml_board_find_part (board, sizing->part);
  g_autoptr (GPtrArray) list = part >= 0 ? ml_suppose_list (board, part) : NULL;
  const MlSuppose *chosen = list != NULL ? ml_suppose_find (list, sizing->words) : NULL;
  g_autoptr (GError) error = NULL;

  if (chosen == NULL)
    return NULL;
  g_autofree char *words = ml_suppose_sized (board, part, chosen, answers[0], &error);
  return words != NULL && suppose (sizing->window, words, &error) ? NULL : g_strdup (error->message);
}

static void
suppose_sized_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  MlWindow *self = data;
  const MlBoard *board = ml_document_board (self->document);
  int part, pin;

  ml_document_selected (self->document, &part, &pin);
  g_autoptr (GPtrArray) list = part >= 0 ? ml_suppose_list (board, part) : NULL;
  const MlSuppose *chosen = list != NULL ? ml_suppose_find (list, g_variant_get_string (parameter, NULL)) : NULL;
  if (chosen == NULL)
    return;
  gboolean value = *chosen->size == '\0';
  g_autofree char *what = g_strndup (chosen->label, strcspn (chosen->label, "…"));
  g_autofree char *title = g_strdup_printf ("Suppose %s: %s", board->parts[part].name, what);
  const MlAsk ask = { .title = title,
                      .explain = value ? "What would be read if it had another value: in ohms (47k), or how many times its own (×10, /10, ×1000)?" : NULL,
                      .accept = "Suppose", .fields = { { value ? "Value" : "Ohms", value ? NULL : chosen->size, value ? "×10" : NULL } }, .n_fields = 1 };
  Sizing *sizing = g_new (Sizing, 1);

  *sizing = (Sizing){ g_object_ref (self), g_strdup (board->parts[part].name), g_strdup (chosen->words) };
  ml_ask (GTK_WINDOW (self), &ask, size_typed_cb, sizing, sizing_free);
}

static void
observe_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  MlWindow *self = data;
  const MlJob *job = ml_document_job (self->document);
  const char *seen = g_variant_get_string (parameter, NULL);
  int unit = ml_document_unit (self->document), condition = ml_document_condition (self->document), part, pin;
  guint pass = ml_document_pass (self->document);
  GError *error = NULL;
  MlDropped dropped;

  ml_document_selected (self->document, &part, &pin);
  if (part < 0 || unit < 0 || condition < 0)
    return;
  if (seen[0] == '\0')
    ml_window_apply (self, NULL, ml_job_edit_drop_seen (job, unit, pass, condition, part, &dropped), NULL, "Remove what was observed");
  else
    ml_window_apply (self, NULL, ml_job_edit_add_observation (job, unit, pass, condition, part, -1, seen, &error), error, "Note what was observed");
}

/* ---- drawing ---- */

static void
polarity_state_cb (GSimpleAction *action, GVariant *state, gpointer data)
{
  ml_canvas_set_polarity (ML_WINDOW (data)->canvas, g_variant_get_int32 (state));
}

/* The coil that works the selected contact, by name; "": none. */
static void
coil_state_cb (GSimpleAction *action, GVariant *state, gpointer data)
{
  MlWindow *self = data;
  const MlBoard *board = ml_document_board (self->document);
  const char *coil = g_variant_get_string (state, NULL);
  GError *error = NULL;
  int part, pin;

  ml_document_selected (self->document, &part, &pin);
  if (part < 0 || board->parts[part].kind->kind != ML_KIND_CONTACT)
    return;
  g_autofree char *label = g_strdup_printf ("Coil of %s", board->parts[part].name);
  ml_window_apply (self, ml_board_edit_set_key (board, part, "by", coil[0] != '\0' ? coil : NULL, &error), NULL, error, label);
}

static void
add_part (MlWindow *self)
{
  g_action_group_activate_action (G_ACTION_GROUP (self), "mode", g_variant_new_string ("draw"));
  if (!gtk_widget_get_visible (GTK_WIDGET (self->circuit_canvas)))
    g_action_group_change_action_state (G_ACTION_GROUP (self), "view", g_variant_new_string ("circuit"));
  ml_canvas_open_add_list (self->circuit_canvas);
}

/* Parts go in Draw only, so that a slip of the finger does no harm; a reading at the wrong place goes where it was typed. */
static void
remove_selected (MlWindow *self)
{
  if (ml_canvas_get_mode (self->canvas) == ML_CANVAS_DRAW)
    ml_canvas_remove (self->canvas);
  else if (!ml_canvas_take_out (self->canvas))
    ml_window_notice (self, "There is no reading here to remove. Parts are removed in Draw.", "Draw", "win.mode::draw");
  else
    {
      ml_window_notice (self, "The reading is removed.", "Undo", "win.undo");
      ml_window_notice_passes (self);
    }
}

/* The net that the menu was opened on, else that of the selected pin; -1 when there is none. */
static int
current_net (MlWindow *self)
{
  const MlBoard *board = ml_document_board (self->document);
  int part, pin;

  if (self->menu_net >= 0 && self->menu_net < (int) board->n_nets)
    return self->menu_net;
  ml_document_selected (self->document, &part, &pin);
  return part >= 0 && pin >= 0 ? board->parts[part].pins[pin].net : -1;
}

static void
take_out (MlWindow *self)
{
  if (!ml_canvas_take_out (self->canvas))
    return;
  ml_window_notice (self, "The reading is removed.", "Undo", "win.undo");
  ml_window_notice_passes (self);
}

static void
rename_net (MlWindow *self)
{
  int net = current_net (self);

  if (net >= 0)
    ml_canvas_rename_net (self->canvas, net);
}

static void
set_reference (MlWindow *self)
{
  GError *error = NULL;
  int net = current_net (self);

  if (net < 0 || net == ml_document_board (self->document)->reference)
    return;
  ml_window_apply (self, ml_board_edit_set_reference (ml_document_board (self->document), net, &error),
                   ml_job_edit_keep_reference (ml_document_job (self->document)), error, "Choose the reference");
}

static void
switching (MlWindow *self)
{
  const MlBoard *board = ml_document_board (self->document);
  GError *error = NULL;
  int net = current_net (self);

  if (net >= 0)
    ml_window_apply (self, ml_board_edit_set_switching (board, net, !board->nets[net].switching, &error), NULL, error,
                     board->nets[net].switching ? "Net is steady" : "Net is chopped");
}

static void
arrange (MlWindow *self)
{
  ml_document_arrange (self->document);
  ml_canvas_fit (self->circuit_canvas);
}

static void
add_condition (MlWindow *self)
{
  ml_bench_strip_add (self->strip);
}

static void
turn_supply (MlWindow *self)
{
  ml_bench_strip_turn (self->strip);
}

/* ---- the picture of the board ---- */

static void
view_state_cb (GSimpleAction *action, GVariant *state, gpointer data)
{
  g_simple_action_set_state (action, state);
  ml_window_show_view (data, g_variant_get_string (state, NULL));
}

static void
picture_scale (MlWindow *self)
{
  if (!gtk_widget_get_visible (GTK_WIDGET (self->picture_canvas)))
    g_action_group_change_action_state (G_ACTION_GROUP (self), "view", g_variant_new_string ("picture"));
  ml_canvas_scale_picture (self->picture_canvas);
}

/* ---- units ---- */

static void
unit_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_document_set_unit (ML_WINDOW (data)->document, g_variant_get_int32 (parameter));
}

static void
pass_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_document_set_pass (ML_WINDOW (data)->document, (guint) g_variant_get_int32 (parameter));
}

static void
add_suspect (MlWindow *self)
{
  ml_window_ask_unit (self, FALSE);
}

static void
add_good (MlWindow *self)
{
  ml_window_ask_unit (self, TRUE);
}

static void
call_good (MlWindow *self)
{
  ml_window_call_unit (self, TRUE);
}

static void
call_suspect (MlWindow *self)
{
  ml_window_call_unit (self, FALSE);
}

static void
remove_unit (MlWindow *self)
{
  const MlJob *job = ml_document_job (self->document);
  int unit = ml_document_unit (self->document);
  g_autofree char *what = g_strdup_printf ("unit %s", job->units[unit].name);
  MlDropped dropped;
  MlText *text = ml_job_edit_drop_unit (job, unit, &dropped);

  ml_removal_offer (GTK_WIDGET (self), self->document, NULL, text, &dropped, what, "Remove the unit");
}

static void
log_replaced (MlWindow *self)
{
  ml_window_ask_log (self, "replaced");
}

static void
log_resoldered (MlWindow *self)
{
  ml_window_ask_log (self, "resoldered");
}

static void
log_noted (MlWindow *self)
{
  ml_window_ask_log (self, "noted");
}

/* ---- help ---- */

static void
shortcuts (MlWindow *self)
{
  ml_shortcuts_present (GTK_WINDOW (self));
}

static void
about (MlWindow *self)
{
  gtk_show_about_dialog (GTK_WINDOW (self), "program-name", "Meterleaf", "version", VERSION, "license-type", GTK_LICENSE_GPL_3_0, "comments",
                         "Finds the faulty part on a small electronics board from meter readings.\n"
                         "It is a calculation, not a licence: local codes and licensed practice prevail.",
                         "logo-icon-name", "org.meterleaf.Meterleaf", NULL);
}

/* What was done is said: a key shows no tip, and it may have been out of sight. */
static void
go (MlWindow *self, const char *how, const char *label, void (*move) (MlDocument *document))
{
  g_autofree char *words = g_strdup_printf ("%s: %s", how, label);

  self->going = TRUE;
  move (self->document);
  self->going = FALSE;
  g_free (self->went);
  self->went = g_steal_pointer (&words);
  ml_window_show_status (self);
}

static void
undo (MlWindow *self)
{
  go (self, "Taken back", ml_document_undo_label (self->document), ml_document_undo);
}

static void
redo (MlWindow *self)
{
  go (self, "Done again", ml_document_redo_label (self->document), ml_document_redo);
}

/* What needs nothing but the window, the drawing that is looked at, or the document. */
static const struct
{
  const char *name;
  void (*window) (MlWindow *window);
  void (*canvas) (MlCanvas *canvas);
  void (*document) (MlDocument *document);
} verbs[] = {
  { "new-board", .window = new_board },
  { "left-over", .window = left_over },
  { "open", .window = ml_window_choose_open },
  { "find-board", .window = ml_window_choose_board },
  { "read-files", .window = ml_window_read_files },
  { "demo", .window = demo },
  { "save", .window = save },
  { "save-as", .window = save_as },
  { "save-picture", .window = ml_window_choose_picture },
  { "copy-picture", .window = ml_window_copy_picture },
  { "print", .window = ml_window_print },
  { "save-report", .window = ml_window_choose_report },
  { "close", .window = close_window },
  { "undo", .window = undo },
  { "redo", .window = redo },
  { "judge", .document = ml_document_judge_again },
  { "retitle", .window = ml_window_ask_title },
  { "retitle-job", .window = ml_window_ask_job_title },
  { "next-area", .window = next_area },
  { "zoom-in", .canvas = ml_canvas_zoom_in },
  { "zoom-out", .canvas = ml_canvas_zoom_out },
  { "zoom-fit", .canvas = ml_canvas_fit },
  { "suggested", .canvas = ml_canvas_take_suggested },
  { "next-place", .window = next_place },
  { "previous-place", .window = previous_place },
  { "swap-probes", .canvas = ml_canvas_swap_probes },
  { "lead", .canvas = ml_canvas_toggle_lead },
  { "all-conditions", .window = ml_window_show_all_conditions },
  { "stop-supposing", .window = stop_supposing },
  { "cancel", .window = cancel },
  { "add-part", .window = add_part },
  { "turn", .canvas = ml_canvas_turn },
  { "mirror", .canvas = ml_canvas_mirror },
  { "take-out", .window = take_out },
  { "remove", .window = remove_selected },
  { "add-pin", .canvas = ml_canvas_add_pin },
  { "rename-part", .canvas = ml_canvas_rename },
  { "rename-pin", .canvas = ml_canvas_rename_pin },
  { "part-value", .canvas = ml_canvas_edit_value },
  { "rename-net", .window = rename_net },
  { "set-reference", .window = set_reference },
  { "switching", .window = switching },
  { "arrange", .window = arrange },
  { "add-condition", .window = add_condition },
  { "turn-supply", .window = turn_supply },
  { "picture-load", .window = ml_window_choose_board_picture },
  { "picture-scale", .window = picture_scale },
  { "picture-other", .window = ml_window_other_picture },
  { "picture-near", .window = ml_window_ask_nears },
  { "picture-carry", .window = ml_window_carry_pads },
  { "picture-remove", .window = ml_window_remove_picture },
  { "add-suspect", .window = add_suspect },
  { "add-good", .window = add_good },
  { "call-good", .window = call_good },
  { "call-suspect", .window = call_suspect },
  { "rename-unit", .window = ml_window_ask_unit_name },
  { "remove-unit", .window = remove_unit },
  { "new-pass", .window = ml_window_ask_pass },
  { "log-replaced", .window = log_replaced },
  { "log-resoldered", .window = log_resoldered },
  { "log-noted", .window = log_noted },
  { "shortcuts", .window = shortcuts },
  { "about", .window = about },
};

static void
verb_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  MlWindow *self = data;
  const char *name = g_action_get_name (G_ACTION (action));

  ml_errors_view_take (ML_ERRORS_VIEW (self->errors)); /* a key may begin something while the text of a file is being typed */
  for (guint i = 0; i < G_N_ELEMENTS (verbs); i++)
    if (strcmp (verbs[i].name, name) == 0)
      {
        if (verbs[i].window != NULL)
          verbs[i].window (self);
        else if (verbs[i].canvas != NULL)
          verbs[i].canvas (self->canvas);
        else
          verbs[i].document (self->document);
        return;
      }
}

/* In the program that the person uses for such files. */
static void
show_file_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  gtk_show_uri (GTK_WINDOW (data), g_variant_get_string (parameter, NULL), GDK_CURRENT_TIME);
}

/* What is chosen by a parameter, or has a state. */
static const GActionEntry entries[] = {
  { .name = "file-text", .state = "false", .change_state = file_text_state_cb },
  { .name = "mode", .parameter_type = "s", .state = "'measure'", .change_state = mode_state_cb },
  { .name = "flow", .state = "true", .change_state = flow_state_cb },
  { .name = "expected", .state = "true", .change_state = expected_state_cb },
  { .name = "compare", .state = "true", .change_state = compare_state_cb },
  { .name = "dark-paper", .state = "false", .change_state = dark_paper_state_cb },
  { .name = "findings", .state = "true", .change_state = findings_state_cb },
  { .name = "condition", .activate = condition_cb, .parameter_type = "i" },
  { .name = "walk", .activate = walk_cb, .parameter_type = "s" },
  { .name = "suppose", .activate = suppose_cb, .parameter_type = "s" },
  { .name = "suppose-sized", .activate = suppose_sized_cb, .parameter_type = "s" },
  { .name = "show-file", .activate = show_file_cb, .parameter_type = "s" },
  { .name = "observe", .activate = observe_cb, .parameter_type = "s" },
  { .name = "polarity", .parameter_type = "i", .state = "-1", .change_state = polarity_state_cb }, /* the open menu sets the state */
  { .name = "coil", .parameter_type = "s", .state = "''", .change_state = coil_state_cb },              /* the same */
  { .name = "view", .parameter_type = "s", .state = "'circuit'", .change_state = view_state_cb },
  { .name = "unit", .activate = unit_cb, .parameter_type = "i", .state = "-1" },
  { .name = "pass", .activate = pass_cb, .parameter_type = "i", .state = "1" },
};

void
ml_window_add_actions (MlWindow *self)
{
  gboolean flow = ml_settings_flag ("show-flow", TRUE), expected = ml_settings_flag ("show-expected", TRUE);

  g_action_map_add_action_entries (G_ACTION_MAP (self), entries, G_N_ELEMENTS (entries), self);
  for (guint i = 0; i < G_N_ELEMENTS (verbs); i++)
    {
      const GActionEntry entry = { .name = verbs[i].name, .activate = verb_cb };
      g_action_map_add_action_entries (G_ACTION_MAP (self), &entry, 1, self);
    }
  ml_window_set_state (self, "flow", g_variant_new_boolean (flow));
  ml_window_set_state (self, "expected", g_variant_new_boolean (expected));
  ml_window_set_state (self, "findings", g_variant_new_boolean (ml_settings_flag ("show-findings", TRUE)));
  set_show (self, ML_CANVAS_SHOW_FLOW, flow);
  set_show (self, ML_CANVAS_SHOW_EXPECTED, expected);
}
