/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The findings' inside, shared by findings.c (sentence, explanations), findings-next.c (the next reading) and findings-reasons.c (why, and what
 * readings cannot tell). */
#pragma once

#include "desktop/findings.h"

G_BEGIN_DECLS

struct _MlFindings
{
  GtkWidget parent_instance;

  /* owned */
  MlDocument *document;
  char *next_words, *rows_words, *mend_words; /* what `next`, `explanations` and `mend` were built from: a button must not go away between press and release */
  char *chosen_title; /* the explanation chosen by hand, kept through later verdicts; NULL: the first */

  /* template: built once, filled anew with every verdict */
  GtkWidget *scrolled;
  GtkWidget *progress_row, *progress;
  GtkWidget *sentence;
  GtkWidget *cautions;
  GtkWidget *next;
  GtkWidget *mend; /* what to do once it is found */
  GtkWidget *explanations;
  GtkWidget *reasons;
  GtkWidget *blind;

  guint chosen;
  gboolean mend_solders; /* the repair is a joint */
  gboolean filling;
  gboolean held_back; /* an early verdict that is not shown yet */
};

/* findings.c */
GtkWidget *ml_findings_text_new (const char *text, const char *style);
void ml_findings_clear (GtkWidget *box);
void ml_findings_add_heading (GtkWidget *box, const char *text);
/* TRUE when *slot says that already; else it says so from now on. Takes words. */
gboolean ml_findings_says_already (char **slot, char *words);

/* verdict NULL: there is none that may be shown. */
void ml_findings_fill_next (MlFindings *self, const MlVerdict *verdict);
void ml_findings_fill_mend (MlFindings *self, const MlVerdict *verdict);
void ml_findings_fill_reasons (MlFindings *self, const MlVerdict *verdict);
void ml_findings_fill_blind (MlFindings *self, const MlVerdict *verdict);
const MlExplanation *ml_findings_find_chosen (MlFindings *self, const MlVerdict *verdict);

G_END_DECLS
