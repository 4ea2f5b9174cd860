/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/job-private.h"

#include <gio/gio.h>
#include <string.h>

typedef struct
{
  MlJob job; /* first: the public part */
  gatomicrefcount references;
} Owned;

MlJob *
ml_job_alloc (MlText *text, MlBoard *board)
{
  Owned *owned = g_new0 (Owned, 1);

  g_atomic_ref_count_init (&owned->references);
  owned->job.text = ml_text_ref (text);
  if (board != NULL)
    owned->job.board = ml_board_ref (board);
  else
    {
      g_autoptr (MlText) empty = ml_text_new (ml_text_name (text), "", 0);
      owned->job.board = ml_board_read (empty, NULL);
    }
  return &owned->job;
}

static void
free_units (MlJob *job)
{
  for (guint i = 0; i < job->n_units; i++)
    {
      MlUnitOnBench *unit = &job->units[i];

      for (guint k = 0; k < unit->n_differences; k++)
        ml_attributes_free (unit->differences[k].attributes, unit->differences[k].n_attributes);
      g_free (unit->differences);
      g_free (unit->name);
      g_free (unit->symptom);
    }
  g_free (job->units);
}

static void
free_log (MlJob *job)
{
  for (guint i = 0; i < job->n_log; i++)
    {
      g_free (job->log[i].when);
      g_free (job->log[i].what);
      g_free (job->log[i].subject);
      g_free (job->log[i].text);
    }
  g_free (job->log);
}

static void
free_job (MlJob *job)
{
  free_units (job);
  free_log (job);
  for (guint i = 0; i < job->n_meters; i++)
    g_free (job->meters[i].name);
  for (guint i = 0; i < job->n_observations; i++)
    g_free (job->observations[i].what);
  for (guint i = 0; i < job->n_passes; i++)
    g_free (job->passes[i].text);
  g_free (job->meters);
  g_free (job->readings);
  g_free (job->observations);
  g_free (job->passes);
  g_free (job->title);
  g_free (job->board_file);
  ml_board_unref (job->board);
  ml_text_unref (job->text);
  g_free (job);
}

MlJob *
ml_job_ref (MlJob *job)
{
  g_atomic_ref_count_inc (&((Owned *) job)->references);
  return job;
}

void
ml_job_unref (MlJob *job)
{
  if (job != NULL && g_atomic_ref_count_dec (&((Owned *) job)->references))
    free_job (job);
}

/* ---- from a file ---- */

/* The first `board` statement: its words are needed before the job can be read. */
static char *
find_board_file (const MlText *text, guint *ret_line)
{
  g_autoptr (MlScanner) scanner = ml_scanner_new (text, NULL);
  const MlStatement *statement;

  while ((statement = ml_scanner_next (scanner)) != NULL)
    if (!statement->broken && !statement->indented && statement->n_words > 1 && strcmp (statement->words[0].text, "board") == 0
        && statement->words[1].key == NULL)
      {
        *ret_line = statement->line + 1;
        return g_strdup (statement->words[1].text);
      }
  return NULL;
}

/* Whether there is one that cannot be read, since the file that it names is not called by UTF-8 text. */
static gboolean
board_file_is_no_text (const MlText *text, guint *ret_line)
{
  for (guint i = 0; i < ml_text_n_lines (text); i++)
    {
      gsize length;
      const char *bytes = ml_text_line (text, i, &length);
      if (!g_str_has_prefix (bytes, "board ") || g_utf8_validate_len (bytes, length, NULL))
        continue;
      *ret_line = i + 1;
      return TRUE;
    }
  return FALSE;
}

static int
by_name (gconstpointer a, gconstpointer b)
{
  return strcmp (*(char *const *) a, *(char *const *) b);
}

/* What to do about a board that is not there: "; did you mean lamp.leafboard?" when its folder has one of nearly that name, or no other; new string. */
static char *
board_meant (const char *path)
{
  g_autofree char *folder = g_path_get_dirname (path), *wanted = g_path_get_basename (path);
  g_autoptr (GPtrArray) boards = g_ptr_array_new_with_free_func (g_free);
  GDir *dir = g_dir_open (folder, 0, NULL);
  const char *name;
  MlNearest nearest;

  while (dir != NULL && (name = g_dir_read_name (dir)) != NULL)
    if (g_str_has_suffix (name, ".leafboard") && g_utf8_validate (name, -1, NULL))
      g_ptr_array_add (boards, g_strdup (name));
  g_clear_pointer (&dir, g_dir_close);
  g_ptr_array_sort (boards, by_name);
  ml_nearest_start (&nearest, wanted);
  for (guint i = 0; i < boards->len; i++)
    ml_nearest_offer (&nearest, boards->pdata[i]);
  if (nearest.best == NULL && boards->len == 1)
    nearest.best = boards->pdata[0];
  return ml_meant (&nearest);
}

static MlBoard *
load_board (const char *job_path, const MlText *text, MlDiagnostics *diagnostics)
{
  g_autoptr (GError) error = NULL;
  g_autoptr (MlText) board_text = NULL;
  g_autofree char *folder = g_path_get_dirname (job_path);
  g_autofree char *path = NULL;
  guint line = 0;
  g_autofree char *file = find_board_file (text, &line);

  if (file == NULL)
    {
      if (diagnostics != NULL && board_file_is_no_text (text, &line))
        ml_diagnostics_add (diagnostics, job_path, line, 0, ML_SEVERITY_ERROR,
                            "this names its board by bytes that are no UTF-8 text: rename the board's file, and write its new name here");
      else if (diagnostics != NULL)
        ml_diagnostics_add (diagnostics, job_path, 0, 0, ML_SEVERITY_ERROR, "the job names no board: add a line such as board \"vent.leafboard\"");
      return NULL;
    }
  path = g_path_is_absolute (file) ? g_strdup (file) : g_build_filename (folder, file, NULL);
  board_text = ml_text_load (path, &error);
  if (board_text == NULL)
    {
      g_autofree char *meant = g_error_matches (error, G_IO_ERROR, G_IO_ERROR_NOT_FOUND) ? board_meant (path) : g_strdup ("");
      if (diagnostics != NULL)
        ml_diagnostics_add (diagnostics, job_path, line, 0, ML_SEVERITY_ERROR, "this names its board; %s%s", error->message, meant);
      return NULL;
    }
  return ml_board_read (board_text, diagnostics);
}

MlJob *
ml_job_read_with_board (MlText *text, MlDiagnostics *diagnostics)
{
  g_autoptr (MlBoard) board = load_board (ml_text_name (text), text, diagnostics);

  return ml_job_read (text, board, diagnostics);
}

MlJob *
ml_job_load (const char *path, MlDiagnostics *diagnostics, GError **error)
{
  g_autoptr (MlText) text = ml_text_load (path, error);

  return text != NULL ? ml_job_read_with_board (text, diagnostics) : NULL;
}

MlJob *
ml_job_new_for_board (MlBoard *board, const char *board_file)
{
  g_autofree char *file = board_file != NULL ? ml_text_quote (board_file) : NULL;
  g_autofree char *bytes = file != NULL ? g_strdup_printf ("meterleaf 1\nboard %s\nunit unit1 suspect\n", file)
                                        : g_strdup ("meterleaf 1\nunit unit1 suspect\n");
  g_autoptr (MlText) text = ml_text_new ("job", bytes, -1);

  return ml_job_read (text, board, NULL);
}

/* ---- looking up ---- */

int
ml_job_find_unit (const MlJob *job, const char *name)
{
  for (guint i = 0; i < job->n_units; i++)
    if (strcmp (job->units[i].name, name) == 0)
      return (int) i;
  return -1;
}

int
ml_job_suspect (const MlJob *job)
{
  for (guint i = 0; i < job->n_units; i++)
    if (job->units[i].state == ML_UNIT_STATE_SUSPECT)
      return (int) i;
  return -1;
}

guint
ml_job_last_pass (const MlJob *job, int unit)
{
  guint last = 1;

  for (guint i = 0; i < job->n_readings; i++)
    if (job->readings[i].unit == unit && job->readings[i].pass > last)
      last = job->readings[i].pass;
  for (guint i = 0; i < job->n_observations; i++)
    if (job->observations[i].unit == unit && job->observations[i].pass > last)
      last = job->observations[i].pass;
  return last;
}

gboolean
ml_job_has_readings (const MlJob *job, int unit, guint pass)
{
  for (guint i = 0; i < job->n_readings; i++)
    if (job->readings[i].unit == unit && job->readings[i].pass == pass)
      return TRUE;
  for (guint i = 0; i < job->n_observations; i++)
    if (job->observations[i].unit == unit && job->observations[i].pass == pass)
      return TRUE;
  return FALSE;
}

int
ml_job_find_reading (const MlJob *job, int unit, guint pass, int condition, MlReads reads, const MlProbe *red, const MlProbe *black,
                     gboolean *ret_swapped)
{
  for (guint i = 0; i < job->n_readings; i++)
    {
      const MlReading *reading = &job->readings[i];
      gboolean straight = ml_probe_equal (&reading->red, red) && ml_probe_equal (&reading->black, black);
      gboolean swapped = ml_probe_equal (&reading->red, black) && ml_probe_equal (&reading->black, red) && reads != ML_READS_DIODE;

      if (reading->unit != unit || reading->pass != pass || reading->condition != condition || reading->reads != reads || reading->replaced
          || reading->supply >= 0 || (!straight && !swapped))
        continue;
      if (ret_swapped != NULL)
        *ret_swapped = !straight;
      return (int) i;
    }
  return -1;
}

/* A pin means its solder, that is its net: V5 and Q2.emitter on V5 are one place, Q2.emitter/lead is another. */
gboolean
ml_probe_equal (const MlProbe *a, const MlProbe *b)
{
  if (a->lead || b->lead)
    return a->lead == b->lead && a->part == b->part && a->pin == b->pin;
  return a->net == b->net && (a->net >= 0 || (a->part == b->part && a->pin == b->pin));
}

char *
ml_probe_label (const MlBoard *board, const MlProbe *probe)
{
  if (probe->part >= 0)
    return g_strdup_printf ("%s.%s%s", board->parts[probe->part].name, board->parts[probe->part].pins[probe->pin].name,
                            probe->lead == ML_LEAD_LIFTED ? "/lifted" : probe->lead ? "/lead" : "");
  return g_strdup (probe->net >= 0 ? board->nets[probe->net].words : "");
}

char *
ml_reading_place (const MlJob *job, const MlReading *reading)
{
  const MlBoard *board = job->board;
  const MlPart *part = reading->across >= 0 ? &board->parts[reading->across] : NULL;
  g_autofree char *red = NULL, *black = NULL;

  if (reading->reads == ML_READS_AMPS)
    return g_strdup_printf ("supply %s", board->conditions[reading->condition].supplies[reading->supply].name);
  if (part && part->n_pins > 2)
    return g_strdup_printf ("%s, %s to %s", part->name, part->pins[reading->red.pin].name, part->pins[reading->black.pin].name);
  if (part)
    return g_strdup_printf ("across %s", part->name);
  red = ml_probe_label (board, &reading->red);
  if (reading->black.part < 0 && reading->black.net == board->reference)
    return g_steal_pointer (&red);
  black = ml_probe_label (board, &reading->black);
  return g_strdup_printf ("%s against %s", red, black);
}

char *
ml_reading_label (const MlJob *job, const MlReading *reading)
{
  char *place = ml_reading_place (job, reading);

  if (reading->across < 0 || job->board->parts[reading->across].n_pins <= 2)
    return place;
  g_autofree char *words = place;
  return g_strconcat (words, ",", NULL);
}

gboolean
ml_probe_parse (const MlBoard *board, const char *words, MlProbe *ret_probe)
{
  g_autoptr (MlText) text = ml_text_new ("probe", "", 0);
  MlJob job = { .board = (MlBoard *) board };
  MlJobReader reader = { .text = text, .job = &job };
  MlWord word = { .text = words };

  return ml_job_reader_want_probe (&reader, &word, ret_probe);
}
