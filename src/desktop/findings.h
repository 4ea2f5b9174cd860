/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the readings say, beside the drawing: the sentence, the next reading, the explanations with their reasons, what cannot be told. */
#pragma once

#include <gtk/gtk.h>

#include "desktop/document.h"

G_BEGIN_DECLS

#define ML_TYPE_FINDINGS (ml_findings_get_type ())
G_DECLARE_FINAL_TYPE (MlFindings, ml_findings, ML, FINDINGS, GtkWidget)

/*
 * Signals:
 *   "chosen" (guint id)    another explanation was chosen: its id, 0 for none
 *   "probe"  (int next)    the probes shall go where the verdict's next reading says
 */

/** ml_findings_new: follows the document. */
GtkWidget *ml_findings_new (MlDocument *document);

G_END_DECLS
