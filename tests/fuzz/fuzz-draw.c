/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Any small board and job drawn and reported, marks of a first verdict and all. */
#include "fuzz/fuzz.h"

#include "drawing/export.h"
#include "drawing/layout.h"
#include "drawing/report.h"
#include "fuzz/whole.h"
#include "verdict/judge.h"

static void
draw (const MlScene *scene, MlJob *job, const MlVerdict *verdict, const MlOperatingPoint *point)
{
  const MlOverlay overlay = {
    .verdict = verdict, .job = job, .unit = verdict != NULL ? verdict->unit : -1, .condition = point != NULL ? point->condition : -1,
    .pass = verdict != NULL ? verdict->pass : 1, .other_unit = job->n_units > 1 ? 1 : -1, .point = point, .show_flow = TRUE, .show_expected = TRUE,
    .selected_part = -1, .selected_pin = -1, .hover_part = -1, .hover_pin = -1,
    .next = verdict != NULL && verdict->n_next > 0 ? &verdict->next[0] : NULL,
  };
  const MlExportOptions fit = { .title_block = TRUE, .page = ML_PAGE_FIT }, page = { .title_block = TRUE, .page = ML_PAGE_A5 };
  g_autoptr (GBytes) svg = ml_export_bytes (".svg", scene, &overlay, &fit, NULL);
  g_autoptr (GBytes) pdf = ml_export_bytes (".pdf", scene, &overlay, &page, NULL);

  g_assert_true (svg != NULL && pdf != NULL);
}

static void
report (const MlScene *scene, MlJudge *judge, MlJob *job)
{
  g_autoptr (MlRecord) record = ml_record_new (judge, job, ml_job_suspect (job), NULL, NULL);
  const MlReport it = { .record = record, .scene = scene, .other_unit = job->n_units > 1 ? 1 : -1, .page = ML_PAGE_A4 };
  cairo_rectangle_t extent = { 0, 0, 210, 297 };
  cairo_surface_t *surface = cairo_recording_surface_create (CAIRO_CONTENT_COLOR, &extent);
  cairo_t *cr = cairo_create (surface);
  const guint n_pages = ml_report_n_pages (&it);

  g_assert_cmpint (n_pages, >=, 1);
  for (guint i = 0; i < n_pages; i++)
    ml_report_paint (cr, &it, i, n_pages);
  g_assert_cmpint (cairo_status (cr), ==, CAIRO_STATUS_SUCCESS);
  cairo_destroy (cr);
  cairo_surface_destroy (surface);
}

int
LLVMFuzzerTestOneInput (const uint8_t *data, size_t size)
{
  g_autoptr (MlJob) job = whole_read (data, size);
  const MlLayoutOptions layout = { .effort = 0 };
  g_autoptr (MlScene) scene = NULL;
  g_autoptr (MlJudge) judge = NULL;
  g_autoptr (MlVerdict) verdict = NULL;
  g_autoptr (MlOperatingPoint) point = NULL;

  if (job == NULL)
    return 0;
  scene = ml_layout (job->board, &layout, NULL, NULL);
  g_assert_nonnull (scene);
  judge = ml_judge_new (job->board);
  if (job->board->n_conditions > 0)
    point = ml_judge_solve (judge, 0, NULL, 0, NULL);
  if (ml_job_suspect (job) >= 0 && ml_judge_prepare (judge, NULL, NULL, NULL, NULL))
    verdict = ml_judge_run (judge, job, -1, 0, 0, NULL, NULL);
  draw (scene, job, verdict, point != NULL && point->solved ? point : NULL);
  if (ml_job_suspect (job) >= 0 && job->n_readings <= 4)
    report (scene, judge, job);
  return 0;
}
