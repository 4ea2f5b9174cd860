/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What placing labels is made of: an item per part with its text, and the places that text could take. */
#pragma once

#include "drawing/layout-plan.h"
#include "drawing/scene-private.h"

G_BEGIN_DECLS

#define ML_LABELS_NO_LESS_X 0.9 /* g: where texts side by side come nearer, room is made */

typedef struct
{
  double cost;
  MlBox box;
  gboolean one_line;
  gboolean nearer; /* to another part than to its own */
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
  gboolean inside;
  gboolean waiting; /* for what is left once the others stand */
  gboolean settled;
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
void ml_labels_add_obstacle (MlLabelling *labelling, MlBox box);
void ml_labels_add (MlLabelling *labelling, MlLabelKind kind, int part, int pin, int net, const char *text, MlBox box, int align);
/** ml_labels_read_as_one: "R4 R1" on one line less than apart_x apart, or R8 right below the value of R7. */
gboolean ml_labels_read_as_one (const MlBox *a, const MlBox *b, double apart_x);
/** ml_labels_lead_out: a place anywhere round a part for its name and value in one line, as the item's only candidate (labels-lead.c); FALSE
 *  when nothing is free within 640 g. ml_labels_draw_lead: the line from there to the part, kept with its name. */
gboolean ml_labels_lead_out (MlLabelling *labelling, MlLabelItem *item);
void ml_labels_draw_lead (MlLabelling *labelling, const MlLabelItem *item, MlSceneLabel *name);
/** ml_labels_name_pins: the pins of connectors and blocks, and the rings that stand for a pin each (labels-pins.c); the first texts of all. */
void ml_labels_name_pins (MlLabelling *labelling);
/** ml_labels_name_nets: those whose name no flag and no connector tells, where there is room along a wire (labels-nets.c); the last texts. */
void ml_labels_name_nets (MlLabelling *labelling, gboolean show_generated);
/** ml_labels_list: the places for an item's text round its symbol, cheapest first, those on something left out; one stays even so, unless as a
 *  last resort (labels-candidates.c). */
void ml_labels_list (MlLabelling *labelling, const MlSceneSymbol *symbol, MlLabelItem *item);
void ml_label_item_add (MlLabelItem *item, double cost, double x0, double y0, double w, double h, gboolean one_line, int align);
gboolean ml_label_item_has_value (const MlLabelItem *item);

G_END_DECLS
