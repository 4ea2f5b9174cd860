/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/actions.h"

#include <string.h>

static const MlActionInfo table[] = {
  { "win.new-board", "Draw a New Board", "<Control>n", "Start with an empty sheet", ML_ACTIONS_FILE, FALSE },
  { "win.open", "Open…", "<Control>o", "Open a board or a job", ML_ACTIONS_FILE, FALSE },
  { "win.find-board", "Find the Board…", NULL, "The file of the board that this job is about, when it lies elsewhere or has another name", ML_ACTIONS_FILE, FALSE },
  { "win.demo", "Look at the Demo", NULL, "A greenhouse vent controller with a fault, already measured", ML_ACTIONS_FILE, FALSE },
  { "win.read-files", "Read the Files Again", NULL, "What another program has changed in the board's or the job's file; undo brings back what was here",
    ML_ACTIONS_FILE, FALSE },
  { "win.left-over", "Work Left From Last Time", NULL, "What was not saved when the program ended unexpectedly", ML_ACTIONS_FILE, FALSE },
  { "win.save", "Save", "<Control>s", "Save the board and the job", ML_ACTIONS_FILE, FALSE },
  { "win.save-as", "Save As…", "<Control><Shift>s", "Save board and job under a new name", ML_ACTIONS_FILE, FALSE },
  { "win.save-picture", "Save a Picture…", "<Control>e", "The annotated drawing as PNG, SVG or PDF", ML_ACTIONS_FILE, FALSE },
  { "win.copy-picture", "Copy the Picture", "<Control><Shift>c", "The annotated drawing for another program, as an image and as SVG", ML_ACTIONS_FILE, FALSE },
  { "win.print", "Print the Drawing…", "<Control>p", "The annotated drawing on paper", ML_ACTIONS_FILE, FALSE },
  { "win.save-report", "Save a Report…", NULL, "The record of this repair as a PDF: readings, verdict, what was done, before and after", ML_ACTIONS_FILE, FALSE },
  { "win.close", "Close", "<Control>w", "Close this window", ML_ACTIONS_FILE, FALSE },
  { "app.quit", "Quit", "<Control>q", "Close all windows", ML_ACTIONS_FILE, FALSE },

  { "win.undo", "Undo", "<Control>z", "Take the last step back", ML_ACTIONS_EDIT, FALSE },
  { "win.redo", "Redo", "<Control><Shift>z <Control>y", "Do the step again", ML_ACTIONS_EDIT, FALSE },
  { "win.retitle", "Name of the Board…", NULL, "What is printed on the board, or what it is for", ML_ACTIONS_EDIT, FALSE },
  { "win.retitle-job", "Name of the Job…", NULL, "What is repaired here, or for whom", ML_ACTIONS_EDIT, FALSE },
  { "win.file-text", "Text of the File", "<Control>t", "Show the file itself, with what is wrong in it", ML_ACTIONS_EDIT, FALSE },

  { "win.mode::measure", "Measure", "<Control>m", "Type readings at pins and parts", ML_ACTIONS_VIEW, FALSE },
  { "win.mode::draw", "Draw", "<Control>d", "Add parts and join their pins", ML_ACTIONS_VIEW, FALSE },
  { "win.view::circuit", "Circuit Drawing", "<Control>1", "The circuit as it was drawn up", ML_ACTIONS_VIEW, FALSE },
  { "win.view::picture", "Picture of the Board", "<Control>2", "The real board, with the same marks at its pads", ML_ACTIONS_VIEW, FALSE },
  { "win.view::both", "Both Side by Side", "<Control>3", "Circuit drawing and board beside each other", ML_ACTIONS_VIEW, FALSE },
  { "win.picture-other", "The Other Side", "s", "The picture of the board's other side", ML_ACTIONS_VIEW, TRUE },
  { "win.flow", "Current Flow", "f", "Line weight and arrows show where the current goes", ML_ACTIONS_VIEW, TRUE },
  { "win.expected", "Expected Values", "e", "What every place should read", ML_ACTIONS_VIEW, TRUE },
  { "win.compare", "Compare With the Other Unit", "c", "The other unit's readings beside this one's", ML_ACTIONS_VIEW, TRUE },
  { "win.judge", "Work Out the Verdict", "F5", "Once more, after it was stopped", ML_ACTIONS_VIEW, FALSE },
  { "win.dark-paper", "Dark Paper", NULL, "Light lines on dark grey", ML_ACTIONS_VIEW, FALSE },
  { "win.findings", "Findings", "F9", "Show or hide what the readings say", ML_ACTIONS_VIEW, FALSE },
  { "win.next-area", "Next Part of the Window", "F6", "From the drawing to the bench strip, the findings and the top, and round again", ML_ACTIONS_VIEW, FALSE },
  { "win.zoom-in", "Zoom In", "<Control>plus <Control>equal <Control>KP_Add", "Enlarge the drawing", ML_ACTIONS_VIEW, FALSE },
  { "win.zoom-out", "Zoom Out", "<Control>minus <Control>KP_Subtract", "Make the drawing smaller", ML_ACTIONS_VIEW, FALSE },
  { "win.zoom-fit", "Whole Drawing", "<Control>0 <Control>KP_0", "Fit the drawing into the window", ML_ACTIONS_VIEW, FALSE },

  { "win.condition", "Choose a Condition", "<Alt>1 <Alt>2 <Alt>3 <Alt>4 <Alt>5 <Alt>6 <Alt>7 <Alt>8 <Alt>9",
    "The first to the ninth card of the bench strip", ML_ACTIONS_MEASURE, FALSE },
  { "win.suggested", "Take the Suggested Reading", "space", "Put the probes where the next reading tells most, and type it",
    ML_ACTIONS_MEASURE, TRUE },
  { "win.next-place", "Next Reading to Take", "n", "Walk through the suggested readings", ML_ACTIONS_MEASURE, TRUE },
  { "win.previous-place", "Reading Before", "p", "Walk back through the suggested readings", ML_ACTIONS_MEASURE, TRUE },
  { "win.swap-probes", "Swap Red and Black", "r", "Exchange the two probes", ML_ACTIONS_MEASURE, TRUE },
  { "win.lead", "On the Part's Own Metal", "l", "The probe set last touches the leg instead of the solder: a dry joint lies between", ML_ACTIONS_MEASURE, TRUE },
  { "win.all-conditions", "All Conditions Here", "k", "What the selected part reads and should read in every condition; a double click on it does the same",
    ML_ACTIONS_MEASURE, TRUE },
  { "win.take-out", "Remove This Reading", NULL, "The reading at the probes leaves the job; Delete does the same", ML_ACTIONS_MEASURE, FALSE },
  { "win.stop-supposing", "Stop Supposing", NULL, "Show the board as it is drawn again", ML_ACTIONS_MEASURE, FALSE },
  { "win.cancel", "Cancel", "Escape", "Give up what is under way, end a supposed fault, select nothing", ML_ACTIONS_MEASURE, TRUE },
  { NULL, "Type a Reading", "0...9 minus period comma o", "A digit, minus, point, comma or O opens a reading at what is selected",
    ML_ACTIONS_MEASURE, TRUE },
  { NULL, "Enter", "Return", "Measure: type the reading here. Draw: set the part down, begin or end a wire at this pin, or type what is printed on the part",
    ML_ACTIONS_MEASURE, TRUE },
  { NULL, "Menu of This Part or Pin", "Menu <Shift>F10", "As the right button does: suppose a fault, note what is seen, log a repair", ML_ACTIONS_MEASURE, TRUE },
  { "win.walk::left", "Walk Left", "Left", "To the next part or pin on the left, along wires first", ML_ACTIONS_MEASURE, TRUE },
  { "win.walk::right", "Walk Right", "Right", "To the next part or pin on the right", ML_ACTIONS_MEASURE, TRUE },
  { "win.walk::up", "Walk Up", "Up", "To the next part or pin above", ML_ACTIONS_MEASURE, TRUE },
  { "win.walk::down", "Walk Down", "Down", "To the next part or pin below", ML_ACTIONS_MEASURE, TRUE },

  { "win.add-part", "Add a Part…", "a", "Choose a part by its trade name", ML_ACTIONS_DRAW, TRUE },
  { "win.turn", "Turn Round", "t", "A quarter turn of the selected part", ML_ACTIONS_DRAW, TRUE },
  { "win.mirror", "Mirror", "m", "Left and right of the selected part exchanged", ML_ACTIONS_DRAW, TRUE },
  { "win.remove", "Remove", "Delete BackSpace", "In Draw the selected part, the wire at the selected pin, or an open pin of a block; in Measure the reading at the probes", ML_ACTIONS_DRAW, TRUE },
  { "win.add-pin", "Add a Pin", "plus KP_Add", "One more pin of the selected block, connector or test point", ML_ACTIONS_DRAW, TRUE },
  { "win.rename-part", "Name of the Part…", "F2", "Another name for the selected part", ML_ACTIONS_DRAW, TRUE },
  { "win.part-value", "Value of the Part…", "v", "What is printed on the selected part", ML_ACTIONS_DRAW, TRUE },
  { "win.rename-pin", "Name of the Pin…", "<Shift>F2", "Another name for the selected pin of a block, connector or test point",
    ML_ACTIONS_DRAW, TRUE },
  { "win.rename-net", "Name of the Net…", "w", "A name for the wires at the selected pin", ML_ACTIONS_DRAW, TRUE },
  { "win.set-reference", "Black Probe Rests Here", "b", "Readings are taken against this net unless both probes are named",
    ML_ACTIONS_DRAW, TRUE },
  { "win.switching", "Chopped or Switching Net", NULL, "Its d.c. value is only an average", ML_ACTIONS_DRAW, FALSE },
  { "win.arrange", "Arrange the Drawing", "<Control>l", "Lay the whole drawing out anew", ML_ACTIONS_DRAW, FALSE },
  { "win.add-condition", "Add a Condition", "<Control>k", "One more card on the bench strip", ML_ACTIONS_DRAW, FALSE },
  { "win.turn-supply", "Turn the Supply Round", NULL, "Red and black leads exchanged in the condition shown", ML_ACTIONS_DRAW, FALSE },

  { "win.picture-load", "Load a Picture…", "<Control>i", "A photo (PNG, JPEG) or an SVG of the real board; dropping it on the window does the same",
    ML_ACTIONS_DRAW, FALSE },
  { "win.picture-scale", "Scale From Two Points", NULL, "Click two points of the picture and type how far apart they are", ML_ACTIONS_DRAW, FALSE },
  { "win.picture-near", "Neighbours on the Board…", NULL, "Nets whose pads lie close together, as candidates for stray links", ML_ACTIONS_DRAW, FALSE },
  { "win.picture-carry", "Pads From the Other Side", NULL, "Legs that go through: three pads pinned on both sides say where the others are",
    ML_ACTIONS_DRAW, FALSE },
  { "win.picture-remove", "Remove the Picture", NULL, "Its pads go too; the file stays", ML_ACTIONS_DRAW, FALSE },

  { "win.add-suspect", "Add a Suspect Unit…", NULL, "One more board to be repaired", ML_ACTIONS_UNIT, FALSE },
  { "win.add-good", "Add a Good Unit…", NULL, "A board of the same type that works, to compare with", ML_ACTIONS_UNIT, FALSE },
  { "win.call-good", "This Unit Is Good", NULL, "It works: its readings show what is usual", ML_ACTIONS_UNIT, FALSE },
  { "win.call-suspect", "This Unit Is Suspect", NULL, "It is to be repaired: the verdict is on it", ML_ACTIONS_UNIT, FALSE },
  { "win.rename-unit", "Name of This Unit…", NULL, "What its sticker says, and what is wrong with it", ML_ACTIONS_UNIT, FALSE },
  { "win.remove-unit", "Remove This Unit", NULL, "With its readings; undo brings them back", ML_ACTIONS_UNIT, FALSE },
  { "win.new-pass", "New Pass…", NULL, "Readings from now on are after the repair", ML_ACTIONS_UNIT, FALSE },
  { "win.log-replaced", "Replaced a Part…", NULL, "Write in the log what was fitted", ML_ACTIONS_UNIT, FALSE },
  { "win.log-resoldered", "Resoldered a Part…", NULL, "Write in the log what was soldered again", ML_ACTIONS_UNIT, FALSE },
  { "win.log-noted", "Write in the Log…", NULL, "Anything worth knowing next time", ML_ACTIONS_UNIT, FALSE },

  { "win.shortcuts", "Keys", "F1 <Control>question", "All keys on one page", ML_ACTIONS_HELP, FALSE },
  { "win.about", "About Meterleaf", NULL, "Version and licence", ML_ACTIONS_HELP, FALSE },
};

static const char *const group_labels[ML_N_ACTION_GROUPS] = { "Files", "Changes", "What is shown", "Measuring", "Drawing", "Units", "Help" };

const MlActionInfo *
ml_actions_table (guint *ret_n)
{
  *ret_n = G_N_ELEMENTS (table);
  return table;
}

const MlActionInfo *
ml_actions_find (const char *id)
{
  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    if (g_strcmp0 (table[i].id, id) == 0)
      return &table[i];
  return NULL;
}

const char *
ml_actions_group_label (MlActionGroup group)
{
  return group_labels[group];
}

GMenu *
ml_actions_section (const char *first_id, ...)
{
  GMenu *section = g_menu_new ();
  va_list ids;

  va_start (ids, first_id);
  for (const char *id = first_id; id != NULL; id = va_arg (ids, const char *))
    {
      const MlActionInfo *info = ml_actions_find (id);
      g_return_val_if_fail (info != NULL, section);
      g_menu_append (section, info->label, id);
    }
  va_end (ids);
  return section;
}

/* A numbered action ("<Alt>1 <Alt>2 …") takes the place in its list as an integer target. */
static void
install_numbered (GtkApplication *application, const MlActionInfo *info)
{
  g_auto (GStrv) keys = g_strsplit (info->keys, " ", -1);

  for (int i = 0; keys[i] != NULL; i++)
    {
      g_autofree char *detailed = g_strdup_printf ("%s(%d)", info->id, i);
      gtk_application_set_accels_for_action (application, detailed, (const char *[]){ keys[i], NULL });
    }
}

void
ml_actions_install_keys (GtkApplication *application)
{
  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      const MlActionInfo *info = &table[i];

      if (info->id == NULL || info->keys == NULL || info->on_drawing)
        continue;
      if (strcmp (info->id, "win.condition") == 0)
        install_numbered (application, info);
      else
        {
          g_auto (GStrv) keys = g_strsplit (info->keys, " ", -1);
          gtk_application_set_accels_for_action (application, info->id, (const char *const *) keys);
        }
    }
}

static void
add_shortcuts (GtkShortcutController *controller, const MlActionInfo *info)
{
  g_auto (GStrv) keys = g_strsplit (info->keys, " ", -1);
  g_autofree char *name = NULL;
  g_autoptr (GVariant) target = NULL;

  if (!g_action_parse_detailed_name (info->id, &name, &target, NULL))
    g_return_if_reached ();
  for (char **key = keys; *key != NULL; key++)
    {
      GtkShortcut *shortcut = gtk_shortcut_new (gtk_shortcut_trigger_parse_string (*key), gtk_named_action_new (name));
      gtk_shortcut_set_arguments (shortcut, target);
      gtk_shortcut_controller_add_shortcut (controller, shortcut);
    }
}

void
ml_actions_add_drawing_keys (GtkWidget *drawing)
{
  GtkEventController *controller = gtk_shortcut_controller_new ();

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    if (table[i].id != NULL && table[i].on_drawing)
      add_shortcuts (GTK_SHORTCUT_CONTROLLER (controller), &table[i]);
  gtk_widget_add_controller (drawing, controller);
}

char *
ml_actions_key (const MlActionInfo *info)
{
  guint key = 0;
  GdkModifierType modifiers = 0;

  if (info->keys == NULL)
    return NULL;
  g_auto (GStrv) keys = g_strsplit (info->keys, " ", 2);
  if (!gtk_accelerator_parse (keys[0], &key, &modifiers))
    return NULL;
  return gtk_accelerator_get_label (key, modifiers);
}

void
ml_actions_dress_button (GtkWidget *button, const char *id)
{
  const MlActionInfo *info = ml_actions_find (id);
  g_return_if_fail (info != NULL);
  g_autofree char *key = ml_actions_key (info);
  g_autofree char *tip = key != NULL ? g_strdup_printf ("%s (%s)\n%s", info->label, key, info->help)
                                     : g_strdup_printf ("%s\n%s", info->label, info->help);

  gtk_actionable_set_detailed_action_name (GTK_ACTIONABLE (button), id);
  gtk_widget_set_tooltip_text (button, tip);
  gtk_accessible_update_property (GTK_ACCESSIBLE (button), GTK_ACCESSIBLE_PROPERTY_LABEL, info->label, -1);
}
