/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The window's menus, made from the table of actions. */
#include "desktop/window-private.h"

#include "desktop/actions.h"
#include "desktop/suppose.h"

static void
append_section (GMenu *menu, const char *label, GMenu *section)
{
  g_menu_append_section (menu, label, G_MENU_MODEL (section));
  g_object_unref (section);
}

static void
build_main_menu (MlWindow *self)
{
  g_autoptr (GMenu) menu = g_menu_new ();

  append_section (menu, NULL, ml_actions_section ("win.new-board", "win.open", "win.find-board", "win.read-files", "win.demo", NULL));
  append_section (menu, NULL, ml_actions_section ("win.save", "win.save-as", NULL));
  append_section (menu, NULL, ml_actions_section ("win.save-picture", "win.copy-picture", "win.print", "win.save-report", NULL));
  g_autoptr (GMenu) picture = g_menu_new (), section = g_menu_new ();

  append_section (picture, NULL, ml_actions_section ("win.picture-load", "win.picture-scale", "win.picture-near", NULL));
  append_section (picture, NULL, ml_actions_section ("win.picture-other", "win.picture-carry", "win.picture-remove", NULL));
  g_menu_append_submenu (section, "Picture of the Board", G_MENU_MODEL (picture));
  g_menu_append_section (menu, NULL, G_MENU_MODEL (section));
  append_section (menu, NULL, ml_actions_section ("win.retitle", "win.retitle-job", "win.arrange", "win.file-text", NULL));
  append_section (menu, NULL, ml_actions_section ("win.shortcuts", "win.about", NULL));
  append_section (menu, NULL, ml_actions_section ("win.close", "app.quit", NULL));
  gtk_menu_button_set_menu_model (GTK_MENU_BUTTON (self->menu_button), G_MENU_MODEL (menu));
}

static void
build_view_menu (MlWindow *self)
{
  g_autoptr (GMenu) menu = g_menu_new ();

  append_section (menu, NULL, ml_actions_section ("win.view::circuit", "win.view::picture", "win.view::both", NULL));
  append_section (menu, NULL, ml_actions_section ("win.flow", "win.expected", "win.compare", NULL));
  append_section (menu, NULL, ml_actions_section ("win.findings", "win.judge", "win.dark-paper", NULL));
  append_section (menu, NULL, ml_actions_section ("win.zoom-in", "win.zoom-out", "win.zoom-fit", NULL));
  gtk_menu_button_set_menu_model (GTK_MENU_BUTTON (self->view_button), G_MENU_MODEL (menu));
}

void
ml_window_build_menus (MlWindow *self)
{
  build_main_menu (self);
  build_view_menu (self);
  ml_window_refresh_unit_menu (self);
}

/* ---- units ---- */

static GMenu *
units_section (const MlJob *job)
{
  GMenu *section = g_menu_new ();

  for (guint i = 0; i < job->n_units; i++)
    {
      const MlUnitOnBench *unit = &job->units[i];
      const char *state = unit->state == ML_UNIT_STATE_GOOD ? "good" : unit->state == ML_UNIT_STATE_SUSPECT ? "suspect" : "not judged";
      g_autofree char *label = unit->symptom != NULL ? g_strdup_printf ("%s, %s: %s", unit->name, state, unit->symptom)
                                                     : g_strdup_printf ("%s, %s", unit->name, state);
      g_autofree char *id = g_strdup_printf ("win.unit(%u)", i);
      g_menu_append (section, label, id);
    }
  return section;
}

static GMenu *
passes_section (const MlJob *job, int unit)
{
  GMenu *section = g_menu_new ();

  for (guint pass = 1; unit >= 0 && pass <= job->units[unit].n_passes; pass++)
    {
      const char *text = NULL;
      for (guint i = 0; i < job->n_passes; i++)
        if (job->passes[i].unit == unit && job->passes[i].pass == pass)
          text = job->passes[i].text;
      g_autofree char *label = text != NULL ? g_strdup_printf ("Pass %u: %s", pass, text) : g_strdup_printf ("Pass %u", pass);
      g_autofree char *id = g_strdup_printf ("win.pass(%u)", pass);
      g_menu_append (section, label, id);
    }
  return section;
}

void
ml_window_refresh_unit_menu (MlWindow *self)
{
  MlJob *job = ml_document_job (self->document);
  int unit = ml_document_unit (self->document);

  ml_window_set_state (self, "unit", g_variant_new_int32 (unit));
  ml_window_set_state (self, "pass", g_variant_new_int32 ((int) ml_document_pass (self->document)));
  if (job == self->unit_menu_job && unit == self->unit_menu_unit) /* its popover is made anew with the menu, which takes as long as a frame */
    return;
  g_clear_pointer (&self->unit_menu_job, ml_job_unref);
  self->unit_menu_job = ml_job_ref (job);
  self->unit_menu_unit = unit;
  g_autoptr (GMenu) menu = g_menu_new ();
  append_section (menu, NULL, units_section (job));
  append_section (menu, NULL, passes_section (job, unit));
  append_section (menu, NULL, ml_actions_section ("win.new-pass", "win.log-replaced", "win.log-resoldered", "win.log-noted", NULL));
  append_section (menu, NULL, ml_actions_section ("win.add-suspect", "win.add-good", "win.call-good", "win.call-suspect", "win.rename-unit", "win.remove-unit", NULL));
  gtk_menu_button_set_menu_model (GTK_MENU_BUTTON (self->unit_button), G_MENU_MODEL (menu));
}

/* ---- the menu of a part, a pin or a wire ---- */

static GMenu *
suppose_menu (MlWindow *self, int part)
{
  g_autoptr (GPtrArray) list = ml_suppose_list (ml_document_board (self->document), part);
  GMenu *menu = g_menu_new ();

  for (guint i = 0; i < list->len; i++)
    {
      const MlSuppose *suppose = g_ptr_array_index (list, i);
      g_autoptr (GMenuItem) item = g_menu_item_new (suppose->label, NULL);
      g_menu_item_set_action_and_target (item, suppose->size != NULL ? "win.suppose-sized" : "win.suppose", "s", suppose->words);
      g_menu_append_item (menu, item);
    }
  return menu;
}

/* Whether something was noted of the part in the condition, unit and pass that are shown. */
static gboolean
was_seen (MlWindow *self, int part)
{
  const MlJob *job = ml_document_job (self->document);

  for (guint i = 0; i < job->n_observations; i++)
    {
      const MlObservation *seen = &job->observations[i];
      if (seen->part == part && seen->unit == ml_document_unit (self->document) && seen->pass == ml_document_pass (self->document) &&
          seen->condition == ml_document_condition (self->document))
        return TRUE;
    }
  return FALSE;
}

static GMenu *
observe_menu (MlWindow *self, int part)
{
  static const struct { const char *label, *word; gboolean lights, moves; } seen[] = {
    { "Lit", "lit", TRUE, FALSE },       { "Dim", "dim", TRUE, FALSE },       { "Dark", "dark", TRUE, FALSE },
    { "Warm", "warm", FALSE, FALSE },    { "Hot", "hot", FALSE, FALSE },      { "Clicks", "clicks", FALSE, TRUE },
    { "Silent", "silent", FALSE, TRUE },
  };
  MlKind kind = ml_document_board (self->document)->parts[part].kind->kind;
  gboolean lights = kind == ML_KIND_LED || kind == ML_KIND_LAMP, moves = kind == ML_KIND_COIL;
  GMenu *menu = g_menu_new ();

  for (guint i = 0; i < G_N_ELEMENTS (seen); i++)
    if ((!seen[i].lights || lights) && (!seen[i].moves || moves))
      {
        g_autoptr (GMenuItem) item = g_menu_item_new (seen[i].label, NULL);
        g_menu_item_set_action_and_target (item, "win.observe", "s", seen[i].word);
        g_menu_append_item (menu, item);
      }
  if (was_seen (self, part))
    {
      g_autoptr (GMenuItem) item = g_menu_item_new ("Nothing Observed", NULL);
      g_menu_item_set_action_and_target (item, "win.observe", "s", "");
      g_menu_append_item (menu, item);
    }
  return menu;
}

/* Where a capacitor's plus is: named by what its legs are soldered to, since a plain one has no other names for them. */
static GMenu *
polarity_menu (MlWindow *self, int part)
{
  const MlBoard *board = ml_document_board (self->document);
  const MlPart *capacitor = &board->parts[part];
  GMenu *menu = g_menu_new ();

  if (capacitor->kind->pins_also == NULL)
    return menu;
  ml_window_set_state (self, "polarity", g_variant_new_int32 (ml_canvas_plus_pin (capacitor)));
  g_menu_append (menu, "No Polarity", "win.polarity(-1)");
  for (guint i = 0; i < capacitor->n_pins; i++)
    {
      int net = capacitor->pins[i].net, other = capacitor->pins[1 - i].net;
      g_autofree char *label = net >= 0 && net != other ? g_strdup_printf ("Plus at %s", board->nets[net].words)
                                                        : g_strdup_printf ("Plus at Pin %s", capacitor->pins[i].name);
      g_autofree char *id = g_strdup_printf ("win.polarity(%u)", i);
      g_menu_append (menu, label, id);
    }
  return menu;
}

/* Which coil works a contact. */
static GMenu *
coil_menu (MlWindow *self, int part)
{
  const MlBoard *board = ml_document_board (self->document);
  const MlAttribute *by = ml_part_attribute (&board->parts[part], ML_KEY_BY);
  GMenu *menu = g_menu_new ();

  if (board->parts[part].kind->kind != ML_KIND_CONTACT)
    return menu;
  ml_window_set_state (self, "coil", g_variant_new_string (by != NULL ? by->text : ""));
  for (guint i = 0; i < board->n_parts; i++)
    if (board->parts[i].kind->kind == ML_KIND_COIL)
      {
        g_autoptr (GMenuItem) item = g_menu_item_new (board->parts[i].name, NULL);
        g_menu_item_set_action_and_target (item, "win.coil", "s", board->parts[i].name);
        g_menu_append_item (menu, item);
      }
  g_autoptr (GMenuItem) none = g_menu_item_new ("No Coil", NULL);
  g_menu_item_set_action_and_target (none, "win.coil", "s", "");
  g_menu_append_item (menu, none);
  return menu;
}

static void
append_submenu (GMenu *menu, const char *label, GMenu *submenu)
{
  if (g_menu_model_get_n_items (G_MENU_MODEL (submenu)) > 0)
    g_menu_append_submenu (menu, label, G_MENU_MODEL (submenu));
  g_object_unref (submenu);
}

static GMenu *
part_menu (MlWindow *self, int part, int pin, int net)
{
  const MlBoard *board = ml_document_board (self->document);
  GMenu *menu = g_menu_new (), *first = g_menu_new ();
  gboolean draws = ml_canvas_get_mode (self->canvas) == ML_CANVAS_DRAW;

  if (ml_document_supposed (self->document) != NULL)
    append_section (menu, NULL, ml_actions_section ("win.stop-supposing", NULL));
  if (part >= 0)
    {
      append_submenu (first, "Suppose It Is", suppose_menu (self, part));
      append_submenu (first, "Observed", observe_menu (self, part));
      append_submenu (first, "Polarity", polarity_menu (self, part));
      append_submenu (first, "Worked by", coil_menu (self, part));
      append_section (menu, board->parts[part].name, first);
      append_section (menu, NULL, draws ? ml_actions_section ("win.all-conditions", NULL)
                                         : ml_actions_section ("win.all-conditions", "win.take-out", NULL));
      append_section (menu, NULL, ml_actions_section ("win.part-value", "win.rename-part", NULL));
      append_section (menu, NULL, ml_actions_section ("win.log-replaced", "win.log-resoldered", NULL));
    }
  else
    g_object_unref (first);
  if (part >= 0 && board->parts[part].kind->any_pins)
    append_section (menu, NULL, pin < 0 ? ml_actions_section ("win.add-pin", NULL) : ml_actions_section ("win.add-pin", "win.rename-pin", NULL));
  if (part >= 0 && pin >= 0 && !draws)
    append_section (menu, NULL, ml_actions_section ("win.lead", NULL));
  if (net >= 0)
    append_section (menu, board->nets[net].words, ml_actions_section ("win.rename-net", "win.set-reference", "win.switching", NULL));
  if (part >= 0 && draws)
    append_section (menu, NULL, ml_actions_section ("win.turn", "win.mirror", "win.remove", NULL));
  if (part < 0 && net < 0)
    append_section (menu, NULL, ml_actions_section ("win.add-part", "win.arrange", "win.zoom-fit", NULL));
  return menu;
}

static void
menu_closed_cb (GtkPopover *popover, gpointer data)
{
  /* the chosen item's action still needs menu_net: it is set anew with the next menu, and cleared by the next selection */
  gtk_widget_grab_focus (GTK_WIDGET (ML_WINDOW (data)->canvas));
}

void
ml_window_open_part_menu (MlWindow *self, int part, int pin, int net, double x, double y)
{
  if (part >= 0)
    ml_document_select (self->document, part, pin);
  self->menu_part = part;
  self->menu_pin = pin;
  self->menu_net = net;
  ml_window_refresh_actions (self);
  g_autoptr (GMenu) menu = part_menu (self, part, pin, net);
  g_clear_pointer (&self->menu_popover, gtk_widget_unparent);
  self->menu_popover = gtk_popover_menu_new_from_model (G_MENU_MODEL (menu));
  gtk_widget_set_parent (self->menu_popover, self->drawing_slot);
  gtk_popover_set_has_arrow (GTK_POPOVER (self->menu_popover), FALSE);
  gtk_popover_set_pointing_to (GTK_POPOVER (self->menu_popover), &(GdkRectangle){ (int) x, (int) y, 1, 1 });
  g_signal_connect (self->menu_popover, "closed", G_CALLBACK (menu_closed_cb), self);
  gtk_popover_popup (GTK_POPOVER (self->menu_popover));
}
