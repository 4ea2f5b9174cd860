/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What placing labels is made of: an item per part with its text, and the places that text could take. */
#pragma once

#include "drawing/layout-plan.h"
#include "drawing/scene-private.h"

G_BEGIN_DECLS

typedef struct
{
  double cost;
  MlBox box;
  gboolean one_line;
  int align;
} MlLabelCandidate;

typedef struct
{
  int part; /* board's */
  const MlSceneSymbol *symbol;
  char *name, *value;
  double name_w, value_w, joint_w, gap_w;
  GArray *candidates; /* of MlLabelCandidate */
  guint chosen;
  gboolean inside, dropped, settled;
} MlLabelItem;

typedef struct
{
  MlScene *scene;
  GArray *obstacles; /* of MlBox */
  GHashTable *buckets; /* key -> GArray of guint */
  GArray *items;
  GArray *labels; /* of MlSceneLabel */
  MlLabelsCare care;
} MlLabelling;

/** ml_labels_hit: something drawn lies under the box. */
gboolean ml_labels_hit (const MlLabelling *labelling, const MlBox *box);
/** ml_labels_list: the places for an item's text round its symbol, cheapest first, those on something left out; one stays even so, unless as a
 *  last resort (labels-candidates.c). */
void ml_labels_list (MlLabelling *labelling, const MlSceneSymbol *symbol, MlLabelItem *item);
void ml_label_item_add (MlLabelItem *item, double cost, double x0, double y0, double w, double h, gboolean one_line, int align);
gboolean ml_label_item_has_value (const MlLabelItem *item);

G_END_DECLS
