/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the window does when one of its actions is called. */
#include "desktop/window-private.h"

#include "board/edit.h"
#include "desktop/settings.h"
#include "desktop/shortcuts.h"

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
new_board_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  MlWindow *window = window_for_more (data);

  gtk_window_present (GTK_WINDOW (window));
  ml_window_begin_drawing (window);
}

static void
left_over_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  MlWindow *window = ml_window_new (gtk_window_get_application (GTK_WINDOW (data)));

  gtk_window_present (GTK_WINDOW (window)); /* its start page lists what was left */
}

static void
open_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_window_choose_open (data);
}

static void
demo_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  g_autofree char *path = ml_demo_path ();
  MlWindow *window = window_for_more (data);

  if (path == NULL)
    {
      ml_window_show_work (window);
      ml_window_notice (window, "The demo is not installed. It is the file vent-controller.leafjob among the program's boards.", NULL, NULL);
      return;
    }
  ml_window_open (window, path);
  gtk_window_present (GTK_WINDOW (window));
}

static void
save_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_window_save (data, FALSE);
}

static void
save_as_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_window_save (data, TRUE);
}

static void
save_picture_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_window_choose_picture (data);
}

static void
copy_picture_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_window_copy_picture (data);
}

static void
print_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_window_print (data);
}

static void
save_report_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_window_choose_report (data);
}

static void
close_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  gtk_window_close (GTK_WINDOW (data));
}

/* ---- changes ---- */

static void
undo_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_document_undo (ML_WINDOW (data)->document);
}

static void
redo_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_document_redo (ML_WINDOW (data)->document);
}

static void
retitle_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_window_ask_title (data);
}

static void
file_text_state_cb (GSimpleAction *action, GVariant *state, gpointer data)
{
  MlWindow *self = data;

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
  gtk_widget_set_visible (self->draw_bar, draws);
  ml_window_refresh_actions (self);
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
  g_simple_action_set_state (action, state);
  ml_settings_set_flag ("dark-paper", g_variant_get_boolean (state));
  ml_window_set_paper (data, g_variant_get_boolean (state) ? ML_PAPER_DARK : ML_PAPER_LIGHT);
}

static void
findings_state_cb (GSimpleAction *action, GVariant *state, gpointer data)
{
  g_simple_action_set_state (action, state);
  ml_settings_set_flag ("show-findings", g_variant_get_boolean (state));
  gtk_widget_set_visible (ML_WINDOW (data)->findings_slot, g_variant_get_boolean (state));
}

static void
zoom_in_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_canvas_zoom_in (ML_WINDOW (data)->canvas);
}

static void
zoom_out_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_canvas_zoom_out (ML_WINDOW (data)->canvas);
}

static void
zoom_fit_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_canvas_fit (ML_WINDOW (data)->canvas);
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

static void
suggested_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_canvas_take_suggested (ML_WINDOW (data)->canvas);
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
next_place_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  step (data, 1);
}

static void
previous_place_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  step (data, -1);
}

static void
swap_probes_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_canvas_swap_probes (ML_WINDOW (data)->canvas);
}

static void
lead_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_canvas_toggle_lead (ML_WINDOW (data)->canvas);
}

static void
all_conditions_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_window_show_all_conditions (data);
}

static void
stop_supposing_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_document_suppose (ML_WINDOW (data)->document, NULL);
}

static void
cancel_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_canvas_cancel (ML_WINDOW (data)->canvas);
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

static void
suppose_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  MlWindow *self = data;
  g_autoptr (GError) error = NULL;
  MlFault fault;

  if (!ml_fault_parse (ml_document_board (self->document), g_variant_get_string (parameter, NULL), &fault, &error))
    {
      ml_window_notice (self, error->message, NULL, NULL);
      return;
    }
  ml_document_suppose (self->document, &fault);
  ml_fault_clear (&fault);
}

static void
observe_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  MlWindow *self = data;
  GError *error = NULL;
  int part, pin;

  ml_document_selected (self->document, &part, &pin);
  if (part < 0 || ml_document_unit (self->document) < 0 || ml_document_condition (self->document) < 0)
    return;
  MlText *text = ml_job_edit_add_observation (ml_document_job (self->document), ml_document_unit (self->document),
                                              ml_document_pass (self->document), ml_document_condition (self->document), part, -1,
                                              g_variant_get_string (parameter, NULL), &error);
  ml_window_apply (self, NULL, text, error, "Note what is seen");
}

/* ---- drawing ---- */

static void
add_part_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  MlWindow *self = data;

  g_action_group_activate_action (G_ACTION_GROUP (self), "mode", g_variant_new_string ("draw"));
  if (!gtk_widget_get_visible (GTK_WIDGET (self->circuit_canvas)))
    g_action_group_change_action_state (G_ACTION_GROUP (self), "view", g_variant_new_string ("circuit"));
  ml_canvas_open_add_list (self->circuit_canvas);
}

static void
turn_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_canvas_turn (ML_WINDOW (data)->canvas);
}

static void
mirror_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_canvas_mirror (ML_WINDOW (data)->canvas);
}

static void
remove_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  MlWindow *self = data;

  /* readings are removed by undo or in the entry; parts only in the drawing mode, so that a slip of the finger does no harm */
  if (ml_canvas_get_mode (self->canvas) == ML_CANVAS_DRAW)
    ml_canvas_remove (self->canvas);
  else
    ml_window_notice (self, "Parts are removed in Draw.", "Draw", "win.mode::draw");
}

static void
rename_part_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_canvas_rename (ML_WINDOW (data)->canvas);
}

static void
rename_pin_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_canvas_rename_pin (ML_WINDOW (data)->canvas);
}

static void
part_value_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_canvas_edit_value (ML_WINDOW (data)->canvas);
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
rename_net_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  MlWindow *self = data;
  int net = current_net (self);

  if (net >= 0)
    ml_canvas_rename_net (self->canvas, net);
}

static void
set_reference_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  MlWindow *self = data;
  GError *error = NULL;
  int net = current_net (self);

  if (net >= 0)
    ml_window_apply (self, ml_board_edit_set_reference (ml_document_board (self->document), net, &error), NULL, error, "Choose the reference");
}

static void
switching_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  MlWindow *self = data;
  const MlBoard *board = ml_document_board (self->document);
  GError *error = NULL;
  int net = current_net (self);

  if (net >= 0)
    ml_window_apply (self, ml_board_edit_set_switching (board, net, !board->nets[net].switching, &error), NULL, error,
                     board->nets[net].switching ? "Net is steady" : "Net is chopped");
}

static void
arrange_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  MlWindow *self = data;

  ml_document_arrange (self->document);
  ml_canvas_fit (self->circuit_canvas);
}

static void
add_condition_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_bench_strip_add (ML_WINDOW (data)->strip);
}

static void
turn_supply_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_bench_strip_turn (ML_WINDOW (data)->strip);
}

/* ---- the picture of the board ---- */

static void
view_state_cb (GSimpleAction *action, GVariant *state, gpointer data)
{
  g_simple_action_set_state (action, state);
  ml_window_show_view (data, g_variant_get_string (state, NULL));
}

static void
picture_load_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_window_choose_board_picture (data);
}

static void
picture_scale_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  MlWindow *self = data;

  if (!gtk_widget_get_visible (GTK_WIDGET (self->picture_canvas)))
    g_action_group_change_action_state (G_ACTION_GROUP (self), "view", g_variant_new_string ("picture"));
  ml_canvas_scale_picture (self->picture_canvas);
}

static void
picture_other_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_window_other_picture (data);
}

static void
picture_near_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_window_ask_nears (data);
}

static void
picture_carry_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_window_carry_pads (data);
}

static void
picture_remove_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_window_remove_picture (data);
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
add_suspect_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_window_ask_unit (data, FALSE);
}

static void
add_good_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_window_ask_unit (data, TRUE);
}

static void
new_pass_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_window_ask_pass (data);
}

static void
log_replaced_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_window_ask_log (data, "replaced");
}

static void
log_resoldered_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_window_ask_log (data, "resoldered");
}

static void
log_noted_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_window_ask_log (data, "noted");
}

/* ---- help ---- */

static void
shortcuts_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  ml_shortcuts_present (GTK_WINDOW (data));
}

static void
about_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  gtk_show_about_dialog (GTK_WINDOW (data), "program-name", "Meterleaf", "version", VERSION, "license-type", GTK_LICENSE_GPL_3_0, "comments",
                         "Finds the faulty part on a small electronics board from meter readings.\n"
                         "It is a calculation, not a licence: local codes and licensed practice prevail.",
                         "logo-icon-name", "org.meterleaf.Meterleaf", NULL);
}

static const GActionEntry entries[] = {
  { .name = "new-board", .activate = new_board_cb },
  { .name = "left-over", .activate = left_over_cb },
  { .name = "open", .activate = open_cb },
  { .name = "demo", .activate = demo_cb },
  { .name = "save", .activate = save_cb },
  { .name = "save-as", .activate = save_as_cb },
  { .name = "save-picture", .activate = save_picture_cb },
  { .name = "copy-picture", .activate = copy_picture_cb },
  { .name = "print", .activate = print_cb },
  { .name = "save-report", .activate = save_report_cb },
  { .name = "close", .activate = close_cb },
  { .name = "undo", .activate = undo_cb },
  { .name = "redo", .activate = redo_cb },
  { .name = "retitle", .activate = retitle_cb },
  { .name = "file-text", .state = "false", .change_state = file_text_state_cb },
  { .name = "mode", .parameter_type = "s", .state = "'measure'", .change_state = mode_state_cb },
  { .name = "flow", .state = "true", .change_state = flow_state_cb },
  { .name = "expected", .state = "true", .change_state = expected_state_cb },
  { .name = "compare", .state = "true", .change_state = compare_state_cb },
  { .name = "dark-paper", .state = "false", .change_state = dark_paper_state_cb },
  { .name = "findings", .state = "true", .change_state = findings_state_cb },
  { .name = "zoom-in", .activate = zoom_in_cb },
  { .name = "zoom-out", .activate = zoom_out_cb },
  { .name = "zoom-fit", .activate = zoom_fit_cb },
  { .name = "condition", .activate = condition_cb, .parameter_type = "i" },
  { .name = "suggested", .activate = suggested_cb },
  { .name = "next-place", .activate = next_place_cb },
  { .name = "previous-place", .activate = previous_place_cb },
  { .name = "swap-probes", .activate = swap_probes_cb },
  { .name = "lead", .activate = lead_cb },
  { .name = "all-conditions", .activate = all_conditions_cb },
  { .name = "stop-supposing", .activate = stop_supposing_cb },
  { .name = "cancel", .activate = cancel_cb },
  { .name = "walk", .activate = walk_cb, .parameter_type = "s" },
  { .name = "suppose", .activate = suppose_cb, .parameter_type = "s" },
  { .name = "observe", .activate = observe_cb, .parameter_type = "s" },
  { .name = "add-part", .activate = add_part_cb },
  { .name = "turn", .activate = turn_cb },
  { .name = "mirror", .activate = mirror_cb },
  { .name = "remove", .activate = remove_cb },
  { .name = "rename-part", .activate = rename_part_cb },
  { .name = "rename-pin", .activate = rename_pin_cb },
  { .name = "part-value", .activate = part_value_cb },
  { .name = "rename-net", .activate = rename_net_cb },
  { .name = "set-reference", .activate = set_reference_cb },
  { .name = "switching", .activate = switching_cb },
  { .name = "arrange", .activate = arrange_cb },
  { .name = "add-condition", .activate = add_condition_cb },
  { .name = "turn-supply", .activate = turn_supply_cb },
  { .name = "view", .parameter_type = "s", .state = "'circuit'", .change_state = view_state_cb },
  { .name = "picture-load", .activate = picture_load_cb },
  { .name = "picture-scale", .activate = picture_scale_cb },
  { .name = "picture-other", .activate = picture_other_cb },
  { .name = "picture-near", .activate = picture_near_cb },
  { .name = "picture-carry", .activate = picture_carry_cb },
  { .name = "picture-remove", .activate = picture_remove_cb },
  { .name = "unit", .activate = unit_cb, .parameter_type = "i", .state = "-1" },
  { .name = "pass", .activate = pass_cb, .parameter_type = "i", .state = "1" },
  { .name = "add-suspect", .activate = add_suspect_cb },
  { .name = "add-good", .activate = add_good_cb },
  { .name = "new-pass", .activate = new_pass_cb },
  { .name = "log-replaced", .activate = log_replaced_cb },
  { .name = "log-resoldered", .activate = log_resoldered_cb },
  { .name = "log-noted", .activate = log_noted_cb },
  { .name = "shortcuts", .activate = shortcuts_cb },
  { .name = "about", .activate = about_cb },
};

void
ml_window_add_actions (MlWindow *self)
{
  gboolean flow = ml_settings_flag ("show-flow", TRUE), expected = ml_settings_flag ("show-expected", TRUE);

  g_action_map_add_action_entries (G_ACTION_MAP (self), entries, G_N_ELEMENTS (entries), self);
  ml_window_set_state (self, "flow", g_variant_new_boolean (flow));
  ml_window_set_state (self, "expected", g_variant_new_boolean (expected));
  ml_window_set_state (self, "dark-paper", g_variant_new_boolean (ml_settings_flag ("dark-paper", FALSE)));
  ml_window_set_state (self, "findings", g_variant_new_boolean (ml_settings_flag ("show-findings", TRUE)));
  set_show (self, ML_CANVAS_SHOW_FLOW, flow);
  set_show (self, ML_CANVAS_SHOW_EXPECTED, expected);
}
