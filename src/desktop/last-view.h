/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a person looked at last in a board or job: kept for that person, in the state folder, never in the file. */
#pragma once

#include "desktop/viewport.h"

G_BEGIN_DECLS

typedef struct
{
  char *unit, *condition, *view; /* by name; NULL: not known */
  MlLook circuit, picture;
} MlLastView;

#define ML_LAST_VIEWS_MAX 200u /* files of which it is kept */

/** ml_last_view_read: FALSE when nothing is known of the file at that path. Numbers that make no sense are the whole drawing. */
gboolean ml_last_view_read (const char *path, MlLastView *ret_view);
/** ml_last_view_write: a folder that cannot be written is no trouble to anyone: then it is forgotten. */
void ml_last_view_write (const char *path, const MlLastView *view);
void ml_last_view_clear (MlLastView *view);

G_END_DECLS
