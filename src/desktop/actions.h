/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The one table of what the window can do. Menus, buttons, keys, the shortcuts window and the tests all read it. */
#pragma once

#include <gtk/gtk.h>

G_BEGIN_DECLS

typedef enum
{
  ML_ACTIONS_FILE,
  ML_ACTIONS_EDIT,
  ML_ACTIONS_VIEW,
  ML_ACTIONS_MEASURE,
  ML_ACTIONS_DRAW,
  ML_ACTIONS_UNIT,
  ML_ACTIONS_HELP,
  ML_N_ACTION_GROUPS
} MlActionGroup;

typedef struct
{
  const char *id;      /* detailed action: "win.undo", "win.mode::draw"; NULL: a key that the drawing answers itself */
  const char *label;   /* as in menus */
  const char *keys;    /* accelerators, blank-separated; NULL when there is none */
  const char *help;    /* one line, for the shortcuts window and tool tips */
  MlActionGroup group;
  gboolean on_drawing; /* a single key: works only while the drawing has the focus, so that it never steals typing */
} MlActionInfo;

/** ml_actions_table: all of them, in the order of the menus; *ret_n is how many. */
const MlActionInfo *ml_actions_table (guint *ret_n);
/** ml_actions_find: by detailed id; NULL when unknown. */
const MlActionInfo *ml_actions_find (const char *id);
const char *ml_actions_group_label (MlActionGroup group);

/** ml_actions_key: its first key as a person reads it, "Ctrl+N"; NULL when it has none; new string. */
char *ml_actions_key (const MlActionInfo *info);

/** ml_actions_section: a menu section of the actions named, NULL-terminated. An unknown id is a programming error. */
GMenu *ml_actions_section (const char *first_id, ...) G_GNUC_NULL_TERMINATED;
/** ml_actions_install_keys: the window-wide accelerators. */
void ml_actions_install_keys (GtkApplication *application);
/** ml_actions_add_drawing_keys: the single keys, answered while drawing (a widget inside the window) has the focus. */
void ml_actions_add_drawing_keys (GtkWidget *drawing);
/** ml_actions_dress_button: gives a button its action, its accessible name and its tool tip from the table. */
void ml_actions_dress_button (GtkWidget *button, const char *id);

G_END_DECLS
