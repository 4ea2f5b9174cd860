/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Whether every part is told by its name and value, and whether the eye gives them to the right part. */
#pragma once

#include "drawing/scene.h"

G_BEGIN_DECLS

/** ml_texts_untold: names and values that the drawing does not show; one that is shown shortened is told. */
guint ml_texts_untold (const MlScene *scene);
/** ml_texts_is_misread: the label is a part's name and stands, with its value, nearer to another part than to its own. */
gboolean ml_texts_is_misread (const MlScene *scene, const MlSceneLabel *label);
/** ml_texts_misread: how many are. */
guint ml_texts_misread (const MlScene *scene);
/** ml_texts_astray: names that stand so far from their part, or a bit off and nearer to another one, that the eye must look whose they are. */
guint ml_texts_astray (const MlScene *scene);

G_END_DECLS
