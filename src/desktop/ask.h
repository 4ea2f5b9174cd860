/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Small questions: one or a few fields, a button that does it, a line that says why it cannot be done. */
#pragma once

#include <gtk/gtk.h>

G_BEGIN_DECLS

#define ML_ASK_MAX_FIELDS 4

typedef struct
{
  const char *label;
  const char *initial; /* NULL: empty */
  const char *hint;    /* shown while the field is empty; NULL: none */
} MlAskField;

typedef struct
{
  const char *title;
  const char *explain;  /* a sentence above the fields; NULL: none */
  const char *accept;   /* the button: "Add" */
  MlAskField fields[ML_ASK_MAX_FIELDS];
  guint n_fields;
  guint first; /* the field that is asked for: others may be filled in already */
} MlAsk;

/* NULL: done, the question closes. Otherwise a new string that says what stands in the way. answers has n_fields texts. */
typedef char *(*MlAskFunc) (const char *const *answers, gpointer data);

/** ml_ask: shows the question over parent. data is freed with destroy when the question closes. */
void ml_ask (GtkWindow *parent, const MlAsk *ask, MlAskFunc func, gpointer data, GDestroyNotify destroy);

/* The answer to a list: chosen has n flags. */
typedef void (*MlAskWhichFunc) (const gboolean *chosen, guint n, gpointer data);
/** ml_ask_which: a sentence, a list of things to tick (all are at first), Cancel and the button that does it. data is freed with destroy when it closes. */
void ml_ask_which (GtkWindow *parent, const MlAsk *ask, const char *const *items, MlAskWhichFunc func, gpointer data, GDestroyNotify destroy);

/* The answer to a choice: the index of the button, or -1 when it was left. */
typedef void (*MlChooseFunc) (int choice, gpointer data);
/** ml_choose: a sentence and buttons, the last of them the usual one. buttons is NULL-terminated; func is always called once. */
void ml_choose (GtkWindow *parent, const char *title, const char *text, const char *const *buttons, MlChooseFunc func, gpointer data);

G_END_DECLS
