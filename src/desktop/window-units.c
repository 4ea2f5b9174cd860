/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Small questions about units, passes, the log and names. */
#include "desktop/window-private.h"

#include "board/edit.h"
#include "board/nearest.h"
#include "board/scan.h"
#include "desktop/ask.h"
#include "desktop/repair-text.h"

typedef struct { MlWindow *window; gboolean good; char *what; } Context;

static Context *
context_new (MlWindow *window, gboolean good, const char *what)
{
  Context *context = g_new (Context, 1);

  *context = (Context){ .window = g_object_ref (window), .good = good, .what = g_strdup (what) };
  return context;
}

static void
context_free (gpointer data)
{
  Context *context = data;

  g_object_unref (context->window);
  g_free (context->what);
  g_free (context);
}

/* Applies the text, or gives back why there is none, for the question to show. */
static char *
apply_or_say (MlWindow *self, MlText *board_text, MlText *job_text, GError *error, const char *label)
{
  char *trouble = error != NULL ? g_strdup (error->message) : NULL;

  g_clear_error (&error);
  if (trouble == NULL)
    ml_window_apply (self, board_text, job_text, NULL, label);
  return trouble;
}

static char *
stripped (const char *text)
{
  return g_strstrip (g_strdup (text));
}

/* ---- units ---- */

static char *
unit_answered_cb (const char *const *answers, gpointer data)
{
  Context *context = data;
  MlWindow *self = context->window;
  GError *error = NULL;
  g_autofree char *name = ml_name_typed (answers[0]), *symptom = stripped (answers[1]);

  if (name[0] == '\0')
    return g_strdup ("What is it called? A number on a sticker will do.");
  MlText *text = ml_job_edit_add_unit (ml_document_job (self->document), name, context->good ? ML_UNIT_STATE_GOOD : ML_UNIT_STATE_SUSPECT,
                                       symptom[0] != '\0' ? symptom : NULL, &error);
  char *trouble = apply_or_say (self, NULL, text, error, "Add a unit");
  if (trouble == NULL)
    ml_document_set_unit (self->document, ml_job_find_unit (ml_document_job (self->document), name));
  return trouble;
}

void
ml_window_ask_unit (MlWindow *self, gboolean good)
{
  MlAsk ask = { .title = good ? "A good unit" : "A suspect unit",
                .explain = good ? "A board of the same type that works. Its readings show what is usual." : "One more board of this type to be repaired.",
                .accept = "Add",
                .fields = { { "Name", NULL, "bay7" }, { good ? "Note" : "Symptom", NULL, good ? "from the spare shelf" : "stuck half open" } },
                .n_fields = 2 };

  ml_ask (GTK_WINDOW (self), &ask, unit_answered_cb, context_new (self, good, NULL), context_free);
}

static char *
unit_named_cb (const char *const *answers, gpointer data)
{
  Context *context = data;
  MlDocument *document = context->window->document;
  GError *error = NULL;
  g_autofree char *name = ml_name_typed (answers[0]), *symptom = stripped (answers[1]);
  int unit = ml_job_find_unit (ml_document_job (document), context->what);

  if (unit < 0)
    return g_strdup ("That unit is not there any more.");
  return apply_or_say (context->window, NULL, ml_job_edit_set_unit (ml_document_job (document), unit, name, symptom, &error), error, "Name the unit");
}

void
ml_window_ask_unit_name (MlWindow *self)
{
  const MlUnitOnBench *unit = &ml_document_job (self->document)->units[ml_document_unit (self->document)];
  MlAsk ask = { .title = "Name of the unit", .accept = "Rename",
                .fields = { { "Name", unit->name, "bay7" }, { unit->state == ML_UNIT_STATE_GOOD ? "Note" : "Symptom", unit->symptom, "stuck half open" } },
                .n_fields = 2 };

  ml_ask (GTK_WINDOW (self), &ask, unit_named_cb, context_new (self, FALSE, unit->name), context_free);
}

void
ml_window_call_unit (MlWindow *self, gboolean good)
{
  GError *error = NULL;
  MlText *text = ml_job_edit_set_unit_state (ml_document_job (self->document), ml_document_unit (self->document),
                                             good ? ML_UNIT_STATE_GOOD : ML_UNIT_STATE_SUSPECT, &error);

  ml_window_apply (self, NULL, text, error, good ? "Call the unit good" : "Call the unit suspect");
}

/* ---- passes and the log ---- */

static char *
pass_answered_cb (const char *const *answers, gpointer data)
{
  MlWindow *self = ((Context *) data)->window;
  GError *error = NULL;
  g_autofree char *text = stripped (answers[0]);
  int unit = ml_document_unit (self->document);
  MlText *job_text = ml_job_edit_add_pass (ml_document_job (self->document), unit, text, &error);
  char *trouble = apply_or_say (self, NULL, job_text, error, "New pass");

  if (trouble == NULL)
    {
      ml_document_set_pass (self->document, ml_document_job (self->document)->units[unit].n_passes);
      ml_window_notice_over (self, "logged");
    }
  return trouble;
}

/* What the log says was done to the unit since its latest pass began: "resoldered Q1, replaced R2"; NULL: nothing; new string. */
static char *
done_since_pass (const MlJob *job, int unit)
{
  static const char *const repairs[] = { "replaced", "resoldered", "heated", "removed", NULL };
  g_autoptr (GPtrArray) done = g_ptr_array_new_with_free_func (g_free);
  const guint begun = ml_repair_pass_begun (job, unit);

  for (guint i = 0; i < job->n_log; i++)
    {
      const MlLogEntry *entry = &job->log[i];
      if (entry->unit == unit && entry->line > begun && entry->subject != NULL && g_strv_contains (repairs, entry->what))
        g_ptr_array_add (done, g_strdup_printf ("%s %s", entry->what, entry->subject));
    }
  if (done->len == 0)
    return NULL;
  g_ptr_array_add (done, NULL);
  return g_strjoinv (", ", (char **) done->pdata);
}

void
ml_window_ask_pass (MlWindow *self)
{
  g_autofree char *done = done_since_pass (ml_document_job (self->document), ml_document_unit (self->document));
  MlAsk ask = { .title = "New pass", .explain = "Readings from now on were taken after the repair. The earlier ones are kept.", .accept = "Begin",
                .fields = { { "What was done", done, "new Q2" } }, .n_fields = 1 };

  ml_ask (GTK_WINDOW (self), &ask, pass_answered_cb, context_new (self, FALSE, NULL), context_free);
}

/* The part's own name for what was typed, capital letters or not; NULL: there is none. */
static const char *
part_called (const MlBoard *board, const char *typed)
{
  const char *found = NULL;

  for (guint i = 0; i < board->n_parts; i++)
    if (strcmp (board->parts[i].name, typed) == 0)
      return board->parts[i].name;
    else if (found == NULL && g_ascii_strcasecmp (board->parts[i].name, typed) == 0)
      found = board->parts[i].name;
  return found;
}

static char *
no_such_part (const MlBoard *board, const char *typed)
{
  MlNearest nearest;

  if (typed[0] == '\0')
    return g_strdup ("Which part was it? Type its name as the drawing has it.");
  ml_nearest_start (&nearest, typed);
  for (guint i = 0; i < board->n_parts; i++)
    ml_nearest_offer (&nearest, board->parts[i].name);
  return nearest.best != NULL ? g_strdup_printf ("There is no part “%s” on this board; did you mean %s?", typed, nearest.best)
                              : g_strdup_printf ("There is no part “%s” on this board.", typed);
}

static char *
log_answered_cb (const char *const *answers, gpointer data)
{
  Context *context = data;
  MlWindow *self = context->window;
  g_autoptr (GDateTime) now = g_date_time_new_now_local ();
  g_autofree char *when = g_date_time_format (now, "%Y-%m-%dT%H:%M");
  gboolean noted = g_str_equal (context->what, "noted");
  g_autofree char *typed = noted ? NULL : stripped (answers[0]), *text = stripped (answers[noted ? 0 : 1]);
  const char *part = NULL;
  GError *error = NULL;

  if (noted && text[0] == '\0')
    return g_strdup ("What shall be written?");
  if (!noted && (part = part_called (ml_document_board (self->document), typed)) == NULL)
    return no_such_part (ml_document_board (self->document), typed);
  MlText *job_text = ml_job_edit_add_log (ml_document_job (self->document), when, ml_document_unit (self->document), context->what, part,
                                          text[0] != '\0' ? text : NULL, &error);
  char *trouble = apply_or_say (self, NULL, job_text, error, "Write in the log");
  if (trouble == NULL && noted)
    {
      ml_window_notice (self, "Written in the log.", NULL, NULL);
      ml_window_notice_passes (self);
    }
  else if (trouble == NULL)
    {
      g_autofree char *said = g_strdup_printf ("Written in the log: %s %s. Measure again in a new pass.", context->what, part);
      ml_window_notice_until (self, "logged", said, "New Pass…", "win.new-pass");
    }
  return trouble;
}

void
ml_window_ask_log (MlWindow *self, const char *what)
{
  const MlBoard *board = ml_document_board (self->document);
  gboolean noted = g_str_equal (what, "noted");
  int part, pin;
  MlAsk ask = { .title = noted ? "Write in the log" : g_str_equal (what, "replaced") ? "Replaced a part" : "Resoldered a part", .accept = "Write" };

  ml_document_selected (self->document, &part, &pin);
  if (!noted)
    {
      ask.explain = "To measure again after it, begin a new pass.";
      ask.first = part >= 0 ? 1 : 0;
      ask.fields[ask.n_fields++] = (MlAskField){ "Part", part >= 0 ? board->parts[part].name : NULL, "Q2" };
    }
  ask.fields[ask.n_fields++] = (MlAskField){ "Note", NULL, noted ? "cleaned the contacts" : g_str_equal (what, "replaced") ? "same type, legs checked" : "cracked ring round a leg" };
  ml_ask (GTK_WINDOW (self), &ask, log_answered_cb, context_new (self, FALSE, what), context_free);
}

/* ---- the names of board and job ---- */

static char *
title_answered_cb (const char *const *answers, gpointer data)
{
  MlWindow *self = ((Context *) data)->window;
  GError *error = NULL;
  g_autofree char *title = stripped (answers[0]);

  if (title[0] == '\0')
    return g_strdup ("What is it called?");
  MlText *text = ml_board_edit_set_title (ml_document_board (self->document), title, &error);
  return apply_or_say (self, text, NULL, error, "Name the board");
}

void
ml_window_ask_title (MlWindow *self)
{
  const MlBoard *board = ml_document_board (self->document);
  MlAsk ask = { .title = "Name of the board", .accept = "Rename", .fields = { { "Name", board->title, "Greenhouse vent controller" } }, .n_fields = 1 };

  ml_ask (GTK_WINDOW (self), &ask, title_answered_cb, context_new (self, FALSE, NULL), context_free);
}

static char *
job_title_answered_cb (const char *const *answers, gpointer data)
{
  MlWindow *self = ((Context *) data)->window;
  GError *error = NULL;
  g_autofree char *title = stripped (answers[0]);

  if (title[0] == '\0')
    return g_strdup ("What is it called?");
  MlText *text = ml_job_edit_set_title (ml_document_job (self->document), title, &error);
  return apply_or_say (self, NULL, text, error, "Name the job");
}

void
ml_window_ask_job_title (MlWindow *self)
{
  const MlJob *job = ml_document_job (self->document);
  MlAsk ask = { .title = "Name of the job", .accept = "Rename", .fields = { { "Name", job->title, "Vent controller, bay 7" } }, .n_fields = 1 };

  ml_ask (GTK_WINDOW (self), &ask, job_title_answered_cb, context_new (self, FALSE, NULL), context_free);
}
