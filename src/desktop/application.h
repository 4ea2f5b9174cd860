/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The program meterleaf-window. */
#pragma once

#include <gtk/gtk.h>

G_BEGIN_DECLS

#define ML_TYPE_APPLICATION (ml_application_get_type ())
G_DECLARE_FINAL_TYPE (MlApplication, ml_application, ML, APPLICATION, GtkApplication)

MlApplication *ml_application_new (void);

G_END_DECLS
