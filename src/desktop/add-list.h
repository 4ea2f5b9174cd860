/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The list from which a part is chosen by typing its trade name. */
#pragma once

#include <gtk/gtk.h>

#include "board/kinds.h"
#include "drawing/paint.h"

G_BEGIN_DECLS

#define ML_TYPE_ADD_LIST (ml_add_list_get_type ())
G_DECLARE_FINAL_TYPE (MlAddList, ml_add_list, ML, ADD_LIST, GtkPopover)

/** ml_add_list_new: a popover; signal "chosen" (const MlKindInfo *, gboolean polar, const char *number) when a kind was taken, after it closed; polar: a
 * capacitor with plus and minus; number: the part number or what else is printed on it, NULL: the kind as such. Signal "printed" (const char *) when
 * what was typed is no part to add but what is printed on the one selected. */
GtkWidget *ml_add_list_new (void);
void ml_add_list_set_paper (MlAddList *self, MlPaper paper);
/** ml_add_list_begin: empties the search, for the next opening; selected: the name of the part that is selected now, or NULL. */
void ml_add_list_begin (MlAddList *self, const char *selected);
/** ml_add_list_print: what a person types who means the selected part ("ac128", "atmega8"): its first letter has opened the list. new string. */
char *ml_add_list_print (const char *typed);

/** ml_add_list_rank: how well typed words fit a kind: 0 not at all, else the smaller the better. Each typed word must begin some word of the kind. */
guint ml_add_list_rank (const MlKindInfo *kind, const char *typed);

/** ml_add_list_rank_number: the same for a part number: the beginning of it is typed, or more than it ("L7805CV" is a 7805). */
guint ml_add_list_rank_number (const char *number, const char *typed);

G_END_DECLS
