/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Light or dark, and how strong the contrast: what the person chose here, else what the desktop asks for. One for the whole program. */
#pragma once

#include <glib-object.h>

G_BEGIN_DECLS

#define ML_TYPE_APPEARANCE (ml_appearance_get_type ())
G_DECLARE_FINAL_TYPE (MlAppearance, ml_appearance, ML, APPEARANCE, GObject)

/**
 * ml_appearance_get: the program's own; borrowed. The desktop is asked in the background, over the session bus: what it says, now and when it
 * changes, comes with the signal "changed" (). Before the first answer, and where nobody answers, the theme tells. A display must be open.
 * Source: the settings portal's namespace org.freedesktop.appearance, keys color-scheme (1 dark, 2 light) and contrast (1 higher).
 */
MlAppearance *ml_appearance_get (void);
gboolean ml_appearance_is_dark (MlAppearance *self);
gboolean ml_appearance_wants_contrast (MlAppearance *self);
/** ml_appearance_choose: kept for the next time and before what the desktop asks for; choosing what it asks for is to follow it again. */
void ml_appearance_choose (MlAppearance *self, gboolean dark);

G_END_DECLS
