/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the window remembers between two runs, and where its files lie. */
#pragma once

#include <gio/gio.h>

G_BEGIN_DECLS

/** ml_settings_get: the program's settings, borrowed; NULL when the schema is nowhere to be found (the defaults then hold). */
GSettings *ml_settings_get (void);
gboolean ml_settings_flag (const char *key, gboolean otherwise);
void ml_settings_set_flag (const char *key, gboolean value);
int ml_settings_number (const char *key, int otherwise);
void ml_settings_set_number (const char *key, int value);

/** ml_recent_add: puts a file at the head of the list (at most ML_RECENT_MAX). */
void ml_recent_add (const char *path);
/** ml_recent_list: files that still exist, the latest first; new strv. */
GStrv ml_recent_list (void);
/** ml_recent_picture: where the small picture of a file is kept; new string. The folder is made. */
char *ml_recent_picture (const char *path);

/** ml_icon_folder: where the program's icon lies in a build tree that is not installed; new string, NULL: nowhere. */
char *ml_icon_folder (void);
/** ml_demo_path: the demo job as installed or in the source tree; NULL when there is none; new string. */
char *ml_demo_path (void);

#define ML_RECENT_MAX 12u

G_END_DECLS
