/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What every list and menu that opens over the window needs. */
#pragma once

#include <gtk/gtk.h>

G_BEGIN_DECLS

/**
 * ml_popovers_mend: from now on the click that follows a closed popover goes to what is seen under the pointer. Once per program.
 * GTK 4.8 on X11 may tell a popover that a key has closed of one more motion of the pointer that rests where it was; the popover then counts as
 * what is under the pointer, and the next click there is lost.
 */
void ml_popovers_mend (void);

G_END_DECLS
