/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/edit.h"

#include <string.h>

#include "board/edit-text.h"

static const struct { const char *key; MlUnit unit; } quantities[] = {
  [ML_READS_VOLTS] = { "volts", ML_UNIT_VOLT },
  [ML_READS_AMPS] = { "amps", ML_UNIT_AMPERE },
  [ML_READS_OHMS] = { "ohms", ML_UNIT_OHM },
  [ML_READS_DIODE] = { "diode", ML_UNIT_VOLT },
};

/* ---- the check behind every edit ---- */

static MlText *
finish (const MlJob *job, MlPatch *patch, GError **error)
{
  MlText *text = ml_patch_finish (patch);
  g_autoptr (MlDiagnostics) before = ml_diagnostics_new ();
  g_autoptr (MlDiagnostics) after = ml_diagnostics_new ();
  G_GNUC_UNUSED g_autoptr (MlJob) changed = ml_job_read (text, job->board, after);
  g_autoptr (MlJob) again = NULL;

  if (ml_diagnostics_n_errors (after) == 0)
    return text;
  again = ml_job_read (job->text, job->board, before);
  return ml_edit_accept (text, before, after, error);
}

static guint
end_of (const MlJob *job)
{
  return ml_text_n_lines (job->text);
}

static MlText *
insert (const MlJob *job, guint at, const char *line, GError **error)
{
  MlPatch *patch = ml_patch_new (job->text);

  ml_patch_insert_line (patch, at, line);
  return finish (job, patch, error);
}

/* ---- readings ---- */

static guint
line_of_pass (const MlJob *job, int unit, guint pass)
{
  for (guint i = 0; i < job->n_passes; i++)
    if (job->passes[i].unit == unit && job->passes[i].pass == pass)
      return job->passes[i].line;
  return 0;
}

/* Where a new line of that unit and pass goes: behind those it has, else at the end, but above the unit's next pass. */
static guint
line_for (const MlJob *job, int unit, guint pass)
{
  guint last = 0, next = line_of_pass (job, unit, pass + 1);

  for (guint i = 0; i < job->n_readings; i++)
    if (job->readings[i].unit == unit && job->readings[i].pass == pass)
      last = MAX (last, job->readings[i].line);
  for (guint i = 0; i < job->n_observations; i++)
    if (job->observations[i].unit == unit && job->observations[i].pass == pass)
      last = MAX (last, job->observations[i].line);
  if (last > 0)
    return ml_edit_end_at (job->text, last, FALSE);
  return next > 0 ? next - 1 : end_of (job);
}

static gboolean
want_place (const MlJob *job, int unit, guint pass, int condition, GError **error)
{
  if (unit < 0 || condition < 0 || (guint) unit >= job->n_units || (guint) condition >= job->board->n_conditions)
    {
      g_set_error (error, ML_EDIT_ERROR, ML_EDIT_ERROR_TARGET, "%s",
                   unit < 0 || (guint) unit >= job->n_units ? "choose a unit first: the job has none yet"
                                                            : "choose a condition first: the board has none yet");
      return FALSE;
    }
  if (pass >= 1 && pass <= job->units[unit].n_passes)
    return TRUE;
  g_set_error (error, ML_EDIT_ERROR, ML_EDIT_ERROR_TARGET, "%s has no pass %u", job->units[unit].name, pass);
  return FALSE;
}

/* The digits as typed, in the form files want: no blanks, the point as decimal mark, an ASCII minus. NULL and an error when it is no number. */
static char *
file_form (const char *typed, MlUnit unit, MlQuantityFlags flags, GError **error)
{
  g_autoptr (GString) form = g_string_new (NULL);
  MlQuantityStatus status;
  MlQuantity quantity;

  status = ml_quantity_parse (typed, strlen (typed), unit, flags | ML_QUANTITY_COMMA, &quantity, NULL);
  if (status != ML_QUANTITY_OK)
    {
      g_set_error (error, ML_EDIT_ERROR, ML_EDIT_ERROR_VALUE, "'%s': %s; expected a number in %s", typed, ml_quantity_status_text (status),
                   ml_quantity_unit_symbol (unit));
      return NULL;
    }
  if (quantity.over)
    return g_strdup ("OL");
  for (const char *c = typed; *c != '\0'; c++)
    if (*c == ',')
      g_string_append_c (form, '.');
    else if (*c != ' ' && *c != '\t')
      g_string_append_c (form, *c);
  g_string_replace (form, "\xe2\x88\x92", "-", 0);
  return g_strdup (form->str);
}

/* across=… where both tips are on one part, black= only where it is not the reference. */
static char *
place_words (const MlJob *job, const MlProbe *red, const MlProbe *black)
{
  const MlBoard *board = job->board;
  g_autofree char *red_label = ml_probe_label (board, red);
  g_autofree char *black_label = ml_probe_label (board, black);

  if (red->part >= 0 && red->part == black->part && red->lead == black->lead && red->lead != ML_LEAD_LIFTED)
    {
      const MlPart *part = &board->parts[red->part];
      const char *lead = red->lead ? "/lead" : "";

      if (part->n_pins == 2 && red->pin == 0)
        return g_strdup_printf ("across=%s%s", part->name, lead);
      return g_strdup_printf ("across=%s.%s-%s%s", part->name, part->pins[red->pin].name, part->pins[black->pin].name, lead);
    }
  if (!black->lead && black->net >= 0 && black->net == board->reference)
    return g_strdup_printf ("red=%s", red_label);
  return g_strdup_printf ("red=%s black=%s", red_label, black_label);
}

static gboolean
is_somewhere (const MlProbe *probe)
{
  return probe->lead ? probe->part >= 0 && probe->pin >= 0 : probe->net >= 0;
}

MlText *
ml_job_edit_add_reading (const MlJob *job, int unit, guint pass, int condition, MlReads reads, const MlProbe *red, const MlProbe *black,
                         const char *typed, GError **error)
{
  g_autofree char *value = NULL;
  g_autofree char *where = NULL;
  g_autofree char *line = NULL;

  if (!want_place (job, unit, pass, condition, error))
    return NULL;
  if (!is_somewhere (red) || !is_somewhere (black) || ml_probe_equal (red, black))
    {
      g_set_error (error, ML_EDIT_ERROR, ML_EDIT_ERROR_TARGET, "put the red and the black probe on two different places first");
      return NULL;
    }
  value = file_form (typed, quantities[reads].unit, ML_QUANTITY_RANGE | ML_QUANTITY_OVER, error);
  if (value == NULL)
    return NULL;
  where = place_words (job, red, black);
  line = g_strdup_printf ("reading %s %s %s %s=%s", job->units[unit].name, job->board->conditions[condition].name, where,
                          quantities[reads].key, value);
  return insert (job, line_for (job, unit, pass), line, error);
}

MlText *
ml_job_edit_add_supply_reading (const MlJob *job, int unit, guint pass, int condition, int supply, const char *amps, const char *volts,
                                GError **error)
{
  gboolean shown = volts != NULL && *volts != '\0';
  g_autofree char *amps_form = NULL;
  g_autofree char *volts_form = NULL;
  g_autofree char *line = NULL;

  if (!want_place (job, unit, pass, condition, error))
    return NULL;
  if (supply < 0 || (guint) supply >= job->board->conditions[condition].n_supplies)
    {
      g_set_error (error, ML_EDIT_ERROR, ML_EDIT_ERROR_TARGET, "condition %s has no such supply", job->board->conditions[condition].name);
      return NULL;
    }
  amps_form = file_form (amps, ML_UNIT_AMPERE, ML_QUANTITY_RANGE | ML_QUANTITY_OVER, error);
  if (amps_form != NULL && shown)
    volts_form = file_form (volts, ML_UNIT_VOLT, ML_QUANTITY_RANGE, error);
  if (amps_form == NULL || (shown && volts_form == NULL))
    return NULL;
  line = g_strdup_printf ("reading %s %s supply=%s amps=%s%s%s", job->units[unit].name, job->board->conditions[condition].name,
                          job->board->conditions[condition].supplies[supply].name, amps_form, shown ? " volts=" : "", shown ? volts_form : "");
  return insert (job, line_for (job, unit, pass), line, error);
}

MlText *
ml_job_edit_add_observation (const MlJob *job, int unit, guint pass, int condition, int part, int supply, const char *what, GError **error)
{
  const MlCondition *it;
  g_autofree char *subject = NULL;
  g_autofree char *line = NULL;

  if (!want_place (job, unit, pass, condition, error))
    return NULL;
  it = &job->board->conditions[condition];
  if (part < 0 && (supply < 0 || (guint) supply >= it->n_supplies))
    {
      g_set_error (error, ML_EDIT_ERROR, ML_EDIT_ERROR_TARGET, "choose the part or the supply that was looked at");
      return NULL;
    }
  if (part >= 0)
    subject = g_strdup (job->board->parts[part].name);
  else
    subject = it->n_supplies == 1 ? g_strdup ("supply") : g_strdup_printf ("supply %s", it->supplies[supply].name);
  line = g_strdup_printf ("seen %s %s %s %s", job->units[unit].name, it->name, subject, what);
  return insert (job, line_for (job, unit, pass), line, error);
}

/* ---- units and passes ---- */

static const char *
state_word (MlUnitState state)
{
  return state == ML_UNIT_STATE_SUSPECT ? "suspect" : state == ML_UNIT_STATE_GOOD ? "good" : NULL;
}

static gboolean
want_free_unit_name (const MlJob *job, const char *name, GError **error)
{
  if (!ml_edit_check_name (name, "unit", error))
    return FALSE;
  if (ml_job_find_unit (job, name) < 0)
    return TRUE;
  g_set_error (error, ML_EDIT_ERROR, ML_EDIT_ERROR_NAME, "there is a unit %s already", name);
  return FALSE;
}

MlText *
ml_job_edit_add_unit (const MlJob *job, const char *name, MlUnitState state, const char *symptom, GError **error)
{
  g_autoptr (GString) line = g_string_new ("unit ");
  g_autofree char *quoted = symptom != NULL && *symptom != '\0' ? ml_text_quote (symptom) : NULL;

  if (!want_free_unit_name (job, name, error))
    return NULL;
  g_string_append (line, name);
  if (state_word (state) != NULL)
    g_string_append_printf (line, " %s", state_word (state));
  if (quoted != NULL)
    g_string_append_printf (line, " %s", quoted);
  return insert (job, ml_edit_line_behind (job->text, "unit meter board job meterleaf", end_of (job)), line->str, error);
}

MlText *
ml_job_edit_set_unit_state (const MlJob *job, int unit, MlUnitState state, GError **error)
{
  g_autoptr (MlScanner) scanner = ml_scanner_new (job->text, NULL);
  const MlStatement *statement = ml_edit_statement_at (scanner, job->units[unit].line);
  MlPatch *patch = ml_patch_new (job->text);
  const MlWord *old = NULL;

  for (guint i = 2; i < statement->n_words; i++)
    if (!statement->words[i].quoted)
      old = &statement->words[i];
  if (old != NULL && state_word (state) != NULL)
    ml_patch_replace_value (patch, old, state_word (state));
  else if (old != NULL)
    ml_patch_remove_word (patch, old);
  else if (state_word (state) != NULL)
    ml_patch_add_word (patch, &statement->words[1], state_word (state));
  return finish (job, patch, error);
}

static void
set_symptom (MlPatch *patch, const MlStatement *statement, const char *symptom)
{
  g_autofree char *quoted = symptom != NULL && *symptom != '\0' ? ml_text_quote (symptom) : NULL;
  const MlWord *old = NULL;

  for (guint i = 2; i < statement->n_words; i++)
    if (statement->words[i].quoted)
      old = &statement->words[i];
  if (old != NULL && quoted == NULL)
    ml_patch_remove_word (patch, old);
  else if (old != NULL)
    ml_patch_replace (patch, old->line, old->offset, old->length, quoted);
  else if (quoted != NULL)
    ml_patch_add_word (patch, &statement->words[statement->n_words - 1], quoted);
}

MlText *
ml_job_edit_set_unit (const MlJob *job, int unit, const char *name, const char *symptom, GError **error)
{
  g_autoptr (MlScanner) scanner = ml_scanner_new (job->text, NULL);
  const MlUnitOnBench *before = &job->units[unit];
  gboolean renamed = g_strcmp0 (name, before->name) != 0;

  if (renamed && !want_free_unit_name (job, name, error))
    return NULL;
  MlPatch *patch = ml_patch_new (job->text);
  if (renamed)
    ml_edit_rename_all (patch, job->text, TRUE, ML_NAMES_UNIT, before->name, name);
  if (g_strcmp0 (symptom != NULL ? symptom : "", before->symptom != NULL ? before->symptom : "") != 0)
    set_symptom (patch, ml_edit_statement_at (scanner, before->line), symptom);
  return finish (job, patch, error);
}

MlText *
ml_job_edit_add_pass (const MlJob *job, int unit, const char *text, GError **error)
{
  g_autofree char *quoted = text != NULL && *text != '\0' ? ml_text_quote (text) : NULL;
  g_autofree char *line = g_strdup_printf ("pass %s %u%s%s", job->units[unit].name, job->units[unit].n_passes + 1, quoted != NULL ? " " : "",
                                           quoted != NULL ? quoted : "");

  return insert (job, end_of (job), line, error);
}

MlText *
ml_job_edit_add_log (const MlJob *job, const char *when, int unit, const char *what, const char *subject, const char *text, GError **error)
{
  g_autoptr (GString) line = g_string_new (NULL);
  g_autofree char *quoted = text != NULL && *text != '\0' ? ml_text_quote (text) : NULL;

  g_string_append_printf (line, "log %s %s %s", when, job->units[unit].name, what);
  if (subject != NULL && *subject != '\0')
    g_string_append_printf (line, " %s", subject);
  if (quoted != NULL)
    g_string_append_printf (line, " %s", quoted);
  return insert (job, end_of (job), line->str, error);
}

/* ---- the job as a whole ---- */

/* The one text of a statement such as `job "…"`; the statement is made behind those of `behind` where it is missing. */
static MlText *
set_text (const MlJob *job, const char *word, const char *value, const char *behind, GError **error)
{
  g_autoptr (MlScanner) scanner = ml_scanner_new (job->text, NULL);
  g_autofree char *quoted = ml_text_quote (value != NULL ? value : "");
  g_autofree char *line = g_strdup_printf ("%s %s", word, quoted);
  MlPatch *patch = ml_patch_new (job->text);
  const MlStatement *statement;

  while ((statement = ml_scanner_next (scanner)) != NULL)
    if (!statement->indented && ml_edit_is (statement, word) && statement->n_words > 1)
      {
        ml_patch_replace (patch, statement->words[1].line, statement->words[1].offset, statement->words[1].length, quoted);
        return finish (job, patch, error);
      }
  ml_patch_insert_line (patch, ml_edit_line_behind (job->text, behind, 0), line);
  return finish (job, patch, error);
}

MlText *
ml_job_edit_set_title (const MlJob *job, const char *title, GError **error)
{
  return set_text (job, "job", title, "meterleaf", error);
}

MlText *
ml_job_edit_set_board_file (const MlJob *job, const char *file, GError **error)
{
  return set_text (job, "board", file, "job meterleaf", error);
}

/* Not read again afterwards: the names are those of the board as it will be. */
MlText *
ml_job_edit_rename (const MlJob *job, const char *what, const char *from, const char *to, GError **error)
{
  static const struct { const char *word; MlNames names; } kinds[]
      = { { "part", ML_NAMES_PART }, { "net", ML_NAMES_NET }, { "condition", ML_NAMES_CONDITION } };
  MlPatch *patch;

  for (guint i = 0; i < G_N_ELEMENTS (kinds); i++)
    if (strcmp (kinds[i].word, what) == 0)
      {
        if (!ml_edit_check_name (to, what, error))
          return NULL;
        patch = ml_patch_new (job->text);
        ml_edit_rename_all (patch, job->text, TRUE, kinds[i].names, from, to);
        return ml_patch_finish (patch);
      }
  g_set_error (error, ML_EDIT_ERROR, ML_EDIT_ERROR_TARGET, "'%s' is not renamed: expected part, net or condition", what);
  return NULL;
}

MlText *
ml_job_edit_rename_pin (const MlJob *job, const char *part, const char *from, const char *to, GError **error)
{
  MlPatch *patch;

  if (!ml_edit_check_name (to, "pin", error))
    return NULL;
  patch = ml_patch_new (job->text);
  ml_edit_rename_pins (patch, job->text, TRUE, part, &(MlPinName){ from, to }, 1, NULL);
  return ml_patch_finish (patch);
}

static const MlWord *
word_of (const MlStatement *statement, const char *key)
{
  for (guint i = 1; i < statement->n_words; i++)
    if (g_strcmp0 (statement->words[i].key, key) == 0)
      return &statement->words[i];
  return NULL;
}

MlText *
ml_job_edit_keep_reference (const MlJob *job)
{
  g_autoptr (MlScanner) scanner = ml_scanner_new (job->text, NULL);
  MlPatch *patch = ml_patch_new (job->text);
  const MlStatement *statement;

  while (job->board->reference >= 0 && (statement = ml_scanner_next (scanner)) != NULL)
    {
      const MlWord *red = ml_edit_is (statement, "reading") ? word_of (statement, "red") : NULL;
      if (red == NULL || word_of (statement, "black") != NULL)
        continue;
      g_autofree char *black = g_strdup_printf ("black=%s", job->board->nets[job->board->reference].name);
      ml_patch_add_word (patch, red, black);
    }
  return ml_patch_finish (patch);
}

MlText *
ml_job_edit_set_polarity (const MlJob *job, int part, int plus_pin)
{
  const MlPart *capacitor = &job->board->parts[part];
  MlPatch *patch = ml_patch_new (job->text);
  MlPinName names[2];
  const char *pair;

  ml_board_polarity_names (capacitor, plus_pin, names, &pair);
  ml_edit_rename_pins (patch, job->text, TRUE, capacitor->name, names, 2, pair);
  return ml_patch_finish (patch);
}
