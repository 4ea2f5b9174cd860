/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a job must let go, or call otherwise, when something that it speaks of leaves the board. */
#include <string.h>

#include "board/edit-text.h"
#include "job/edit.h"

/* Lines (from 1) with an error when the job is read beside that board; a set. */
static GHashTable *
lines_in_error (const MlJob *job, MlBoard *board)
{
  g_autoptr (MlDiagnostics) diagnostics = ml_diagnostics_new ();
  G_GNUC_UNUSED g_autoptr (MlJob) again = ml_job_read (job->text, board, diagnostics);
  GHashTable *lines = g_hash_table_new (NULL, NULL);

  for (guint i = 0; i < ml_diagnostics_n (diagnostics); i++)
    if (ml_diagnostics_get (diagnostics, i)->severity == ML_SEVERITY_ERROR)
      g_hash_table_add (lines, GUINT_TO_POINTER (ml_diagnostics_get (diagnostics, i)->line));
  return lines;
}

static gboolean
any_line (GHashTable *lines, const MlStatement *statement)
{
  for (guint i = 1; i <= statement->n_lines; i++)
    if (g_hash_table_contains (lines, GUINT_TO_POINTER (statement->line + i)))
      return TRUE;
  return FALSE;
}

static void
count (const MlStatement *statement, MlDropped *dropped)
{
  if (statement->indented)
    dropped->n_others++;
  else if (ml_edit_is (statement, "reading"))
    dropped->n_readings++;
  else if (ml_edit_is (statement, "seen"))
    dropped->n_observations++;
  else
    dropped->n_others++;
}

MlText *
ml_job_edit_drop_unfit (const MlJob *job, MlBoard *after, MlDropped *ret_dropped)
{
  g_autoptr (GHashTable) wrong_before = lines_in_error (job, job->board);
  g_autoptr (GHashTable) wrong_after = lines_in_error (job, after);
  g_autoptr (MlScanner) scanner = ml_scanner_new (job->text, NULL);
  MlPatch *patch = ml_patch_new (job->text);
  const MlStatement *statement;
  MlDropped dropped = { 0 };

  while ((statement = ml_scanner_next (scanner)) != NULL)
    if (any_line (wrong_after, statement) && !any_line (wrong_before, statement))
      {
        ml_patch_remove_lines (patch, statement->line, statement->n_lines);
        count (statement, &dropped);
      }
  *ret_dropped = dropped;
  return ml_patch_finish (patch);
}

/* ---- supplies ---- */

typedef struct
{
  const MlJob *job;
  MlPatch *patch;
  const MlCondition *after;
  int supply; /* the one that is gone */
  MlDropped dropped;
} Follow;

/* "seen bay7 running supply limiting" means the first; "supply 2 limiting" names one. */
static const MlWord *
name_word (const MlStatement *statement)
{
  if (ml_edit_is (statement, "reading"))
    return ml_edit_key (statement, "supply");
  return statement->n_words > 5 && statement->words[5].key == NULL ? &statement->words[4] : NULL;
}

static void
follow_line (Follow *self, guint line, int supply)
{
  g_autoptr (MlScanner) scanner = ml_scanner_new (self->job->text, NULL);
  const MlStatement *statement = ml_edit_statement_at (scanner, line);

  if (supply == self->supply)
    {
      ml_patch_remove_lines (self->patch, statement->line, statement->n_lines);
      count (statement, &self->dropped);
      return;
    }
  const MlWord *word = name_word (statement);
  const char *name = self->after->supplies[supply > self->supply ? supply - 1 : supply].name;
  if (word != NULL && strcmp (word->text, name) != 0)
    ml_patch_replace_value (self->patch, word, name);
}

MlText *
ml_job_edit_drop_supply (const MlJob *job, int condition, int supply, const MlBoard *after, MlDropped *ret_dropped)
{
  int there = ml_board_find_condition (after, job->board->conditions[condition].name);

  g_return_val_if_fail (there >= 0 && after->conditions[there].n_supplies + 1 == job->board->conditions[condition].n_supplies, NULL);
  Follow follow = { job, ml_patch_new (job->text), &after->conditions[there], supply, { 0 } };
  for (guint i = 0; i < job->n_readings; i++)
    if (job->readings[i].condition == condition && job->readings[i].supply >= 0)
      follow_line (&follow, job->readings[i].line, job->readings[i].supply);
  for (guint i = 0; i < job->n_observations; i++)
    if (job->observations[i].condition == condition && job->observations[i].part < 0)
      follow_line (&follow, job->observations[i].line, job->observations[i].supply);
  *ret_dropped = follow.dropped;
  return ml_patch_finish (follow.patch);
}

/* ---- what was typed at the wrong place ---- */

static void
drop_line (const MlJob *job, MlPatch *patch, guint line, MlDropped *dropped)
{
  g_autoptr (MlScanner) scanner = ml_scanner_new (job->text, NULL);
  const MlStatement *statement = ml_edit_statement_at (scanner, line);

  ml_patch_remove_lines (patch, statement->line, statement->n_lines);
  count (statement, dropped);
}

static gboolean
same_place (const MlReading *a, const MlReading *b)
{
  if (a->unit != b->unit || a->pass != b->pass || a->condition != b->condition || a->reads != b->reads || a->supply != b->supply)
    return FALSE;
  if (a->supply >= 0)
    return TRUE;
  return (ml_probe_equal (&a->red, &b->red) && ml_probe_equal (&a->black, &b->black))
         || (ml_probe_equal (&a->red, &b->black) && ml_probe_equal (&a->black, &b->red) && a->reads != ML_READS_DIODE);
}

MlText *
ml_job_edit_drop_reading (const MlJob *job, int reading, MlDropped *ret_dropped)
{
  MlPatch *patch = ml_patch_new (job->text);
  MlDropped dropped = { 0 };

  for (guint i = 0; i < job->n_readings; i++)
    if (same_place (&job->readings[i], &job->readings[reading]))
      drop_line (job, patch, job->readings[i].line, &dropped);
  *ret_dropped = dropped;
  return ml_patch_finish (patch);
}

typedef struct { const char *unit; GHashTable *lines; } OfUnit;

static void
of_unit_cb (const MlMention *it, gpointer data)
{
  OfUnit *of = data;

  if (it->names == ML_NAMES_UNIT && strcmp (it->name, of->unit) == 0)
    g_hash_table_add (of->lines, GUINT_TO_POINTER (it->statement->line + 1));
}

MlText *
ml_job_edit_drop_unit (const MlJob *job, int unit, MlDropped *ret_dropped)
{
  g_autoptr (GHashTable) lines = g_hash_table_new (NULL, NULL);
  g_autoptr (MlScanner) scanner = ml_scanner_new (job->text, NULL);
  MlPatch *patch = ml_patch_new (job->text);
  const MlStatement *statement;
  gboolean above = FALSE; /* what stands above the lines that belong to it goes */
  MlDropped dropped = { 0 };

  ml_edit_mentions (job->text, TRUE, of_unit_cb, &(OfUnit){ job->units[unit].name, lines });
  while ((statement = ml_scanner_next (scanner)) != NULL)
    {
      if (!statement->indented)
        above = g_hash_table_contains (lines, GUINT_TO_POINTER (statement->line + 1));
      if (!above)
        continue;
      ml_patch_remove_lines (patch, statement->line, statement->n_lines);
      if (!ml_edit_is (statement, "unit"))
        count (statement, &dropped);
    }
  *ret_dropped = dropped;
  return ml_patch_finish (patch);
}

MlText *
ml_job_edit_drop_seen (const MlJob *job, int unit, guint pass, int condition, int part, MlDropped *ret_dropped)
{
  MlPatch *patch = ml_patch_new (job->text);
  MlDropped dropped = { 0 };

  for (guint i = 0; i < job->n_observations; i++)
    {
      const MlObservation *seen = &job->observations[i];
      if (seen->unit == unit && seen->pass == pass && seen->condition == condition && seen->part == part)
        drop_line (job, patch, seen->line, &dropped);
    }
  *ret_dropped = dropped;
  return ml_patch_finish (patch);
}
