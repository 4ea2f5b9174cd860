/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A card's inside, shared by bench-card.c (the card), bench-card-supplies.c (one row a supply) and bench-card-settings.c (switches, loads). */
#pragma once

#include "desktop/bench-card.h"
#include "desktop/clip-editor.h"

G_BEGIN_DECLS

struct _MlBenchCard
{
  GtkWidget parent_instance;

  /* owned */
  MlDocument *document;
  char *rows_words, *footer_words; /* what the rows and the footer were built from */

  /* template */
  GtkWidget *column;
  GtkWidget *number, *name, *count;
  GtkWidget *stack, *rows, *footer, *editors[2]; /* by MlClipped */

  int condition;
  MlPaper paper;
  gboolean updating;
  gboolean folded, is_short;
  gboolean fresh; /* just added, and named by the program */
};

/* bench-card.c */
const MlCondition *ml_bench_card_shown (MlBenchCard *self); /* NULL: the board has it no more */
/* Takes an edit's result: applies it, or tells what stood in the way. */
gboolean ml_bench_card_apply (MlBenchCard *self, MlText *board_text, MlText *job_text, GError *error, const char *label);

/* What has the keyboard in the box, by its name, or NULL (new string); and what is so called in a box that was built anew takes it. */
char *ml_bench_card_focused (GtkWidget *box);
void ml_bench_card_focus_again (GtkWidget *box, const char *name);

/* Opens the form of that supply or load; index -1: a new one. */
void ml_bench_card_edit (MlBenchCard *self, MlClipped clipped, int index);

/* bench-card-supplies.c */
void ml_bench_card_update_supplies (MlBenchCard *self); /* one row a supply; the condition is there */
char *ml_bench_card_shows (MlBenchCard *self, int supply); /* "shows 85 mA", with the supply's name where there are several; new string */
void ml_bench_card_add_shows (MlBenchCard *self);
char *ml_bench_card_limits (MlBenchCard *self); /* which supplies the board as drawn brings into their limit, and what they give then; new string, "" */
void ml_bench_card_add_limits (MlBenchCard *self);

/* bench-card-settings.c */
void ml_bench_card_add_settings (MlBenchCard *self);
void ml_bench_card_add_loads (MlBenchCard *self); /* a click on one opens its form */
void ml_bench_card_add_besides (MlBenchCard *self);

G_END_DECLS
