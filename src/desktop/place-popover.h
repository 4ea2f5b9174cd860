/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The table of a part in all conditions, in a popover at the part; each place in it leads to the probes there. */
#pragma once

#include <gtk/gtk.h>

#include "desktop/document.h"

G_BEGIN_DECLS

#define ML_TYPE_PLACE_POPOVER (ml_place_popover_get_type ())
G_DECLARE_FINAL_TYPE (MlPlacePopover, ml_place_popover, ML, PLACE_POPOVER, GtkPopover)

/** ml_place_popover_new: signal "chosen" (const MlProbe *red, const MlProbe *black, int condition): a place to read at. */
GtkWidget *ml_place_popover_new (MlDocument *document);
/** ml_place_popover_open: at that rectangle of the popover's parent. pin -1: the part; other_unit -1: none. It follows the document while it is open. */
void ml_place_popover_open (MlPlacePopover *self, int part, int pin, int other_unit, const GdkRectangle *at);

G_END_DECLS
