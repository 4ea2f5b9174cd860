/* SPDX-License-Identifier: GPL-3.0-or-later */
/* No click gets lost while the program is busy. */
#pragma once

#include <glib.h>

G_BEGIN_DECLS

/** ml_clicks_keep: from now on, in every window, dialog and menu. Once per program. */
void ml_clicks_keep (void);

G_END_DECLS
