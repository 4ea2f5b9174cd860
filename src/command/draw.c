/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "command/command.h"

#include <string.h>

#include "board/file.h"
#include "drawing/export.h"
#include "drawing/layout.h"
#include "drawing/symbol-geometry.h"

#define SMALLEST_TEXT_MM 1.4 /* about 5.5 points: below it print is hard to read (common practice) */

typedef struct
{
  char *output, *condition, *unit, *compare, *pass_word;
  MlPageArguments page;
  int pass;
  double dpi;
  gboolean flow, dark, picture;
  char *side;
} Options;

/* Everything the picture shows; what does not apply stays NULL or -1. */
typedef struct
{
  MlInput input;
  char *called; /* as its file is */
  MlJudge *judge;
  MlVerdict *verdict;
  MlOperatingPoint *first, *point;
  MlScene *scene;
  int unit, other_unit, condition;
  guint pass;
} Picture;

static void
picture_clear (Picture *self)
{
  g_clear_pointer (&self->verdict, ml_verdict_unref);
  g_clear_pointer (&self->first, ml_operating_point_free);
  g_clear_pointer (&self->point, ml_operating_point_free);
  g_clear_pointer (&self->scene, ml_scene_unref);
  g_clear_pointer (&self->judge, ml_judge_free);
  ml_input_clear (&self->input);
  g_free (self->called);
}

/* The condition shown when none is named: the one with most readings of the unit. */
static int
busiest_condition (const Picture *self)
{
  int best = self->input.board->n_conditions > 0 ? 0 : -1;
  guint best_n = 0;

  for (guint i = 0; self->unit >= 0 && i < self->input.board->n_conditions; i++)
    {
      guint n = 0;

      for (guint k = 0; k < self->input.job->n_readings; k++)
        {
          const MlReading *reading = &self->input.job->readings[k];
          n += reading->unit == self->unit && reading->pass == self->pass && reading->condition == (int) i && !reading->replaced;
        }
      if (n > best_n)
        {
          best = i;
          best_n = n;
        }
    }
  return best;
}

static MlExit
judge_unit (Picture *self)
{
  g_autoptr (GError) error = NULL;

  if (self->unit < 0 || !ml_job_has_readings (self->input.job, self->unit, self->pass))
    return ML_EXIT_DONE;
  if (ml_judge_prepare (self->judge, NULL, NULL, NULL, &error))
    self->verdict = ml_judge_run (self->judge, self->input.job, self->unit, self->pass, 2, NULL, &error);
  if (self->verdict != NULL)
    return ML_EXIT_DONE;
  ml_command_say ("%s", error->message);
  return ML_EXIT_FAILED;
}

static MlExit
compute (Picture *self, const Options *options)
{
  MlLayoutOptions layout = { .effort = 2 };
  MlExit status = judge_unit (self);

  self->condition = ml_input_condition (&self->input, options->condition, busiest_condition (self));
  if (options->condition != NULL && self->condition < 0)
    return ML_EXIT_INPUT;
  if (self->input.board->n_conditions > 0)
    self->first = ml_judge_solve (self->judge, 0, NULL, 0, NULL);
  if (self->condition >= 0)
    self->point = ml_judge_solve (self->judge, self->condition, NULL, 0, NULL);
  if (self->first != NULL && self->first->solved)
    layout.net_v = self->first->net_v;
  if (options->picture)
    {
      self->scene = ml_input_picture (&self->input, options->side);
      return self->scene != NULL ? status : ML_EXIT_INPUT;
    }
  self->scene = ml_layout (self->input.board, &layout, NULL, NULL);
  ml_input_say_rows (&self->input, self->scene);
  return status;
}

/* A verdict knows what the unknown chips do. */
static const MlOperatingPoint *
shown_point (const Picture *self)
{
  const MlOperatingPoint *known = ml_verdict_point (self->verdict, self->condition);

  if (known != NULL)
    return known;
  return self->point != NULL && self->point->solved ? self->point : NULL;
}

/* A page is printed on white paper; a picture has a ground of its own. */
static MlPaper
paper_of (const Options *options)
{
  if (options->dark)
    return ML_PAPER_DARK;
  return options->page.size != ML_PAGE_FIT ? ML_PAPER_WHITE : ML_PAPER_LIGHT;
}

static void
warn_of_small_text (const Picture *self, const MlOverlay *overlay, const MlExportOptions *export)
{
  const double height_mm = ML_TEXT_HEIGHT * ML_MM_PER_G * ml_export_scale (self->scene, overlay, export);

  char height[G_ASCII_DTOSTR_BUF_SIZE];

  if (height_mm < SMALLEST_TEXT_MM)
    ml_command_say ("the drawing comes out at %.0f %%: its letters are %s mm high; a larger page would read better",
                    100 * height_mm / (ML_TEXT_HEIGHT * ML_MM_PER_G), g_ascii_formatd (height, sizeof height, "%.1f", height_mm));
}

static MlExit
export_picture (const Picture *self, const Options *options)
{
  const MlExportOptions export = { .dpi = options->dpi, .paper = paper_of (options), .title_block = TRUE, .page = options->page.size,
                                   .turn = options->page.turn };
  const MlOverlay overlay = {
    .verdict = self->verdict, .job = self->input.job, .unit = self->unit, .condition = self->condition, .pass = self->pass,
    .other_unit = self->other_unit, .called = self->called, .point = shown_point (self), .show_flow = options->flow, .show_expected = self->unit >= 0,
    .selected_part = -1, .selected_pin = -1, .hover_part = -1, .hover_pin = -1,
    .next = self->verdict != NULL && self->verdict->n_next > 0 && self->verdict->next[0].condition == self->condition
              ? &self->verdict->next[0] : NULL,
  };
  g_autoptr (GError) error = NULL;

  warn_of_small_text (self, &overlay, &export);
  if (ml_export_picture (options->output, self->scene, &overlay, &export, &error))
    return ML_EXIT_DONE;
  ml_command_say ("%s", error->message);
  return ML_EXIT_FAILED;
}

/* What only a job has is refused of a board. */
static gboolean
want_job (const Picture *self, const char *path, const char *option, gboolean given)
{
  if (given && self->input.job == NULL)
    ml_command_say ("%s needs a job: %s is a board", option, path);
  return !given || self->input.job != NULL;
}

/* A board, and a job without a suspect, is drawn without readings. */
static gboolean
choose_units (Picture *self, const char *path, const Options *options)
{
  if (!want_job (self, path, "--unit", options->unit != NULL) || !want_job (self, path, "--compare", options->compare != NULL)
      || !want_job (self, path, "--pass", options->pass > 0))
    return FALSE;
  if (self->input.job != NULL && (options->unit != NULL || options->compare != NULL || options->pass > 0 || ml_job_suspect (self->input.job) >= 0))
    {
      self->unit = ml_input_unit (&self->input, options->unit);
      if (self->unit < 0 || !ml_input_pass (&self->input, self->unit, options->pass))
        return FALSE;
      self->pass = options->pass > 0 ? (guint) options->pass : ml_job_last_pass (self->input.job, self->unit);
    }
  if (options->compare != NULL && (self->other_unit = ml_input_unit (&self->input, options->compare)) < 0)
    return FALSE;
  if (self->other_unit >= 0 && self->other_unit == self->unit)
    ml_command_say ("--compare=%s: that is the unit which is drawn; name another one", options->compare);
  return self->other_unit < 0 || self->other_unit != self->unit;
}

static MlExit
run_draw (Picture *self, const char *path, const Options *options)
{
  MlExit status = ml_input_load (&self->input, path, FALSE);

  if (status != ML_EXIT_DONE)
    return status;
  if (!choose_units (self, path, options))
    return ML_EXIT_INPUT;
  self->called = ml_file_stem (path);
  self->judge = ml_judge_new (self->input.board);
  status = compute (self, options);
  return status == ML_EXIT_DONE ? export_picture (self, options) : status;
}

MlExit
ml_command_draw (int argc, char **argv)
{
  Options options = { .dpi = ML_EXPORT_DPI };
  const GOptionEntry entries[] = {
    { "output", 'o', 0, G_OPTION_ARG_FILENAME, &options.output, "the picture: its ending says PNG, SVG or PDF", "FILE" },
    { "condition", 0, 0, G_OPTION_ARG_STRING, &options.condition, "readings and flow of this condition", "NAME" },
    { "unit", 0, 0, G_OPTION_ARG_STRING, &options.unit, "readings of this unit (else the first one marked suspect)", "NAME" },
    { "pass", 0, 0, G_OPTION_ARG_STRING, &options.pass_word, "this pass (else the last one with readings)", "N" },
    { "picture", 0, 0, G_OPTION_ARG_NONE, &options.picture, "on the picture of the real board instead of the circuit drawing", NULL },
    { "side", 0, 0, G_OPTION_ARG_STRING, &options.side, "with --picture: the picture of this side, top or bottom (else the first one)", "SIDE" },
    { "compare", 0, 0, G_OPTION_ARG_STRING, &options.compare, "this unit's readings and the difference beside each reading", "NAME" },
    { "flow", 0, 0, G_OPTION_ARG_NONE, &options.flow, "show which way the current should flow", NULL },
    { "dark", 0, 0, G_OPTION_ARG_NONE, &options.dark, "on dark paper", NULL },
    { "dpi", 0, 0, G_OPTION_ARG_DOUBLE, &options.dpi, "dots per inch of a PNG, 72 to 600 (150)", "N" },
    { "page", 0, 0, G_OPTION_ARG_STRING, &options.page.word, "a4, a5, letter, or fit: as large as the drawing needs (fit)", "SIZE" },
    { "portrait", 0, 0, G_OPTION_ARG_NONE, &options.page.portrait, "the page upright (else the way it comes out larger)", NULL },
    { "landscape", 0, 0, G_OPTION_ARG_NONE, &options.page.landscape, "the page lying", NULL },
    G_OPTION_ENTRY_NULL
  };
  Picture picture = { .unit = -1, .other_unit = -1, .condition = -1, .pass = 1 };
  MlExit status = ML_EXIT_USAGE;
  g_autoptr (GError) error = NULL;

  if (!ml_command_parse ("draw", &argc, &argv, entries, 1, 1))
    goto done;
  if (options.output == NULL)
    {
      ml_command_say ("say where the picture goes: -o FILE.png, .svg or .pdf");
      goto done;
    }
  if (*options.output == '\0')
    {
      ml_command_say ("-o names no file: say where the picture goes, as in -o FILE.png");
      goto done;
    }
  if (!ml_export_check_name (options.output, &error))
    {
      ml_command_say ("%s", error->message);
      goto done;
    }
  if (!ml_pass_read (options.pass_word, &options.pass))
    goto done;
  if (!(options.dpi >= 72 && options.dpi <= 600)) /* NaN too */
    {
      ml_command_say ("--dpi takes 72 to 600");
      goto done;
    }
  if (!ml_page_arguments_read (&options.page, ML_PAGE_FIT))
    goto done;
  if (options.side != NULL && (!options.picture || (strcmp (options.side, "top") != 0 && strcmp (options.side, "bottom") != 0)))
    {
      ml_command_say ("--side takes top or bottom, together with --picture");
      goto done;
    }
  status = run_draw (&picture, argv[1], &options);
done:
  picture_clear (&picture);
  g_free (options.output);
  g_free (options.side);
  g_free (options.condition);
  g_free (options.pass_word);
  g_free (options.unit);
  g_free (options.compare);
  g_free (options.page.word);
  return status;
}
