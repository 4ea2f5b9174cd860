/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "command/command.h"

#include "board/file.h"
#include "drawing/layout.h"
#include "drawing/report.h"

typedef struct
{
  char *output, *unit;
  MlPageArguments page;
} Options;

/* Compared with: the first good unit that is not the one reported on. */
static int
good_unit (const MlJob *job, int unit)
{
  for (guint i = 0; i < job->n_units; i++)
    if ((int) i != unit && job->units[i].state == ML_UNIT_STATE_GOOD)
      return (int) i;
  return -1;
}

static MlExit
write_report (const MlInput *input, const MlRecord *record, const char *path, const Options *options)
{
  const gboolean solved = record->n_points > 0 && record->points[0] != NULL;
  const MlLayoutOptions layout = { .effort = 2, .net_v = solved ? record->points[0]->net_v : NULL };
  g_autoptr (MlScene) scene = ml_layout (record->job->board, &layout, NULL, NULL);
  ml_input_say_rows (input, scene);
  /* a picture that cannot be read is said, and the report is written without it */
  g_autoptr (MlScene) picture = input->board->n_pictures > 0 ? ml_input_picture (input, NULL) : NULL;
  g_autofree char *called = ml_file_stem (path);
  const MlReport report = { .record = record, .called = called, .scene = scene, .picture = picture, .other_unit = good_unit (record->job, record->unit), .page = options->page.size,
                            .landscape = options->page.turn == ML_PAGE_LANDSCAPE };
  g_autoptr (GError) error = NULL;

  if (ml_report_write (options->output, &report, &error))
    return ML_EXIT_DONE;
  ml_command_say ("%s", error->message);
  return ML_EXIT_FAILED;
}

static MlExit
run (const char *path, const Options *options)
{
  g_auto (MlInput) input = { 0 };
  g_autoptr (MlJudge) judge = NULL;
  g_autoptr (MlRecord) record = NULL;
  g_autoptr (GError) error = NULL;
  MlExit status = ml_input_load (&input, path, TRUE);
  int unit;

  if (status != ML_EXIT_DONE)
    return status;
  unit = ml_input_unit (&input, options->unit);
  if (unit < 0)
    return ML_EXIT_INPUT;
  judge = ml_judge_new (input.board);
  record = ml_record_new (judge, input.job, unit, NULL, &error);
  if (record != NULL)
    return write_report (&input, record, path, options);
  ml_command_say ("%s", error->message);
  return ML_EXIT_FAILED;
}

MlExit
ml_command_report (int argc, char **argv)
{
  Options options = { 0 };
  const GOptionEntry entries[] = {
    { "output", 'o', 0, G_OPTION_ARG_FILENAME, &options.output, "the report, a PDF", "FILE" },
    { "unit", 0, 0, G_OPTION_ARG_STRING, &options.unit, "the unit reported on (else the first one marked suspect)", "NAME" },
    { "page", 0, 0, G_OPTION_ARG_STRING, &options.page.word, "a4, a5 or letter (a4)", "SIZE" },
    { "portrait", 0, 0, G_OPTION_ARG_NONE, &options.page.portrait, "pages upright, as they are unless said", NULL },
    { "landscape", 0, 0, G_OPTION_ARG_NONE, &options.page.landscape, "pages lying", NULL },
    G_OPTION_ENTRY_NULL
  };
  MlExit status = ML_EXIT_USAGE;
  g_autoptr (GError) error = NULL;

  if (!ml_command_parse ("report", &argc, &argv, entries, 1, 1))
    goto done;
  if (options.output == NULL)
    {
      ml_command_say ("say where the report goes: -o FILE.pdf");
      goto done;
    }
  if (!ml_report_check_name (options.output, &error))
    {
      ml_command_say ("%s", error->message);
      goto done;
    }
  if (!ml_page_arguments_read (&options.page, ML_PAGE_A4))
    goto done;
  if (options.page.size == ML_PAGE_FIT)
    {
      ml_command_say ("a report needs pages: --page a4, a5 or letter");
      goto done;
    }
  status = run (argv[1], &options);
done:
  g_free (options.output);
  g_free (options.unit);
  g_free (options.page.word);
  return status;
}
