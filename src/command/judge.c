/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "command/command.h"

#include <math.h>

static void
print_explanations (const MlVerdict *verdict)
{
  for (guint i = 0; i < verdict->n_explanations && i < 5; i++)
    {
      const MlExplanation *self = &verdict->explanations[i];
      g_autofree char *percent = NULL;

      if (i > 0 && self->probability < 0.005)
        break;
      percent = ml_verdict_percent (self->probability);
      g_print ("%9s  %s\n", percent, self->title);
      for (guint k = 0; i == 0 && self->reasons != NULL && self->reasons[k] != NULL; k++)
        g_print ("           - %s\n", self->reasons[k]);
    }
}

static void
print_names (const MlVerdict *verdict, MlVerdictWord word)
{
  g_autoptr (GString) names = g_string_new (NULL);

  for (guint i = 0; i < verdict->n_parts; i++)
    if (verdict->parts[i].verdict == word)
      g_string_append_printf (names, " %s", verdict->job->board->parts[i].name);
  if (names->len > 0)
    g_print ("%-9s%s\n", ml_verdict_word (word), names->str);
}

static void
print_links (const MlVerdict *verdict)
{
  const MlBoard *board = verdict->job->board;

  for (guint i = 0; i < verdict->n_links; i++)
    if (verdict->links[i].verdict >= ML_VERDICT_POSSIBLE)
      g_print ("%-9s stray link from %s to %s\n", ml_verdict_word (verdict->links[i].verdict), board->nets[verdict->links[i].net_a].words,
               board->nets[verdict->links[i].net_b].words);
}

static void
print_expected (const MlVerdict *verdict, const MlNextReading *next)
{
  char text[48];

  if (!isnan (next->healthy))
    {
      ml_quantity_format (next->healthy, ml_reading_unit (next->reads), 3, FALSE, text, sizeof text);
      g_print ("         %s if all is fine\n", text);
    }
  for (guint i = 0; i < next->n_expect; i++)
    {
      const MlExplanation *explanation = &verdict->explanations[next->expect[i].explanation - 1];

      if (explanation->explains == ML_EXPLAINS_HEALTHY) /* said above */
        continue;
      ml_quantity_format (next->expect[i].value, ml_reading_unit (next->reads), 3, FALSE, text, sizeof text);
      g_print ("         %s if: %s\n", text, explanation->title);
    }
}

static void
print_left (const MlVerdict *verdict)
{
  g_autofree char *left = ml_verdict_left (verdict);

  if (left != NULL)
    g_print ("         %s\n", left);
}

static void
print_next (const MlVerdict *verdict)
{
  const MlBoard *board = verdict->job->board;
  const MlNextReading *next = verdict->n_next > 0 ? &verdict->next[0] : NULL;

  if (next == NULL)
    return;
  g_print ("\nNext, in condition %s: ", board->conditions[next->condition].name);
  if (next->step != NULL)
    g_print ("%s, then ", next->step);
  if (next->supply >= 0)
    g_print ("read the current of supply %s\n", board->conditions[next->condition].supplies[next->supply].name);
  else
    {
      g_autofree char *red = ml_probe_label (board, &next->red);
      g_autofree char *black = ml_probe_label (board, &next->black);
      g_print ("%sred on %s, black on %s\n", next->reads == ML_READS_OHMS ? "ohms, " : next->reads == ML_READS_DIODE ? "diode test, " : "", red,
               black);
    }
  print_expected (verdict, next);
  print_left (verdict);
}

/* Readings that seem misread; never left out silently. */
static void
print_slips (const MlVerdict *verdict)
{
  gboolean any = FALSE;

  if (verdict->condition_slip != NULL)
    g_print ("\n%s\n", verdict->condition_slip);
  for (guint i = 0; i < verdict->n_readings; i++)
    {
      const MlReading *reading = &verdict->job->readings[verdict->readings[i].reading];
      g_autofree char *place = NULL;
      char measured[48];

      if (verdict->readings[i].slip_text == NULL)
        continue;
      if (!any)
        g_print ("\nLook again at:\n");
      any = TRUE;
      place = ml_reading_label (verdict->job, reading);
      ml_quantity_format (reading->measured.value, ml_reading_unit (reading->reads), 3, FALSE, measured, sizeof measured);
      g_print ("  line %u, %s (%s) %s: %s\n", reading->line, place, verdict->job->board->conditions[reading->condition].name, measured,
               verdict->readings[i].slip_text);
    }
}

static void
print_blind (const MlVerdict *verdict)
{
  g_auto (GStrv) lines = ml_verdict_blind_lines (verdict);

  if (lines[0] != NULL)
    g_print ("\nWhat these readings cannot tell:\n");
  for (guint i = 0; lines[i] != NULL; i++)
    g_print ("  %s\n", lines[i]);
}

/* Whose verdict this is: a job may hold several units and passes. */
static void
print_whose (const MlVerdict *verdict)
{
  const MlJob *job = verdict->job;

  g_print ("%s%sunit %s, pass %u\n", job->title != NULL ? job->title : "", job->title != NULL ? ": " : "", job->units[verdict->unit].name, verdict->pass);
}

static void
print_verdict (const MlVerdict *verdict)
{
  print_whose (verdict);
  g_print ("%s\n\n", verdict->sentence);
  print_explanations (verdict);
  print_slips (verdict);
  g_print ("\n");
  print_names (verdict, ML_VERDICT_SUSPECT);
  print_names (verdict, ML_VERDICT_POSSIBLE);
  print_links (verdict);
  print_names (verdict, ML_VERDICT_CLEARED);
  print_names (verdict, ML_VERDICT_UNPROVEN);
  print_next (verdict);
  print_blind (verdict);
  if (verdict->cautions != NULL && verdict->cautions[0] != NULL)
    g_print ("\nCautions:\n");
  for (guint i = 0; verdict->cautions != NULL && verdict->cautions[i] != NULL; i++)
    g_print ("  %s\n", verdict->cautions[i]);
}

static MlExit
run_judge (MlInput *input, const char *path, const char *unit_name, int pass, gboolean json)
{
  g_autoptr (MlJudge) judge = NULL;
  g_autoptr (MlVerdict) verdict = NULL;
  g_autoptr (GError) error = NULL;
  MlExit status = ml_input_load (input, path, TRUE);
  int unit;

  if (status != ML_EXIT_DONE)
    return status;
  unit = ml_input_unit (input, unit_name);
  if (unit < 0 || !ml_input_pass (input, unit, pass))
    return ML_EXIT_INPUT;
  /* what the verdict leaves out is never left out silently */
  ml_job_check (input->job, input->diagnostics);
  ml_input_say (input, ML_SEVERITY_WARNING);
  judge = ml_judge_new (input->board);
  if (ml_judge_prepare (judge, NULL, NULL, NULL, &error))
    verdict = ml_judge_run (judge, input->job, unit, pass, 2, NULL, &error);
  if (verdict == NULL)
    {
      ml_command_say ("%s", error->message);
      return g_error_matches (error, ML_JUDGE_ERROR, ML_JUDGE_ERROR_NO_UNIT) ? ML_EXIT_INPUT : ML_EXIT_FAILED;
    }
  if (json)
    {
      g_autoptr (JsonBuilder) builder = json_builder_new ();
      ml_judge_json (builder, verdict);
      ml_json_print (builder);
    }
  else
    print_verdict (verdict);
  return ML_EXIT_DONE;
}

MlExit
ml_command_judge (int argc, char **argv)
{
  g_autofree char *unit = NULL, *pass_word = NULL;
  int pass = 0;
  gboolean json = FALSE;
  const GOptionEntry entries[] = {
    { "unit", 0, 0, G_OPTION_ARG_STRING, &unit, "this unit (else the first one marked suspect)", "NAME" },
    { "pass", 0, 0, G_OPTION_ARG_STRING, &pass_word, "this pass (else the last one with readings)", "N" },
    { "json", 0, 0, G_OPTION_ARG_NONE, &json, "as JSON, in SI units", NULL },
    G_OPTION_ENTRY_NULL
  };
  g_auto (MlInput) input = { 0 };

  if (!ml_command_parse ("judge", &argc, &argv, entries, 1, 1) || !ml_pass_read (pass_word, &pass))
    return ML_EXIT_USAGE;
  return run_judge (&input, argv[1], unit, pass, json);
}
