/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Any bytes as a job on a small board. */
#include "fuzz/fuzz.h"

#include "job/edit.h"

static const char board_bytes[] = "reference MINUS\npart F1 fuse 1=FEED 2=FUSED\npart R4 resistor 1=FUSED 2=ZREF\n"
                                  "part Q2 npn collector=FUSED base=ZREF emitter=V5\npart LED1 led anode=V5 cathode=MINUS\n"
                                  "part S1 switch 1=V5 2=MINUS\npart U1 block 1=V5 2=MINUS\ncondition running\n"
                                  "  supply plus=FEED minus=MINUS voltage=18 limit=250m\ncondition cold\n";

int
LLVMFuzzerTestOneInput (const uint8_t *data, size_t size)
{
  g_autoptr (MlText) board_text = ml_text_new ("board", board_bytes, -1);
  g_autoptr (MlBoard) board = ml_board_read (board_text, NULL);
  g_autoptr (MlText) text = ml_text_new ("fuzz", (const char *) data, (gssize) size);
  g_autoptr (MlDiagnostics) diagnostics = ml_diagnostics_new ();
  g_autoptr (MlJob) job = ml_job_read (text, board, diagnostics);
  MlProbe red, black;
  MlDropped dropped;

  g_assert_true (ml_probe_parse (board, "V5", &red) && ml_probe_parse (board, "MINUS", &black));
  for (guint i = 0; i < job->n_readings; i++)
    ml_reading_sigma (job, &job->readings[i]);
  if (job->n_readings > 0)
    ml_text_unref (ml_job_edit_drop_reading (job, 0, &dropped));
  if (job->n_units > 0)
    ml_text_unref (ml_job_edit_add_reading (job, 0, job->units[0].n_passes, 0, ML_READS_VOLTS, &red, &black, "2.91", NULL));
  ml_text_unref (ml_job_edit_rename (job, "part", "Q2", "Q3", NULL));
  ml_text_unref (ml_job_edit_set_title (job, "t", NULL));
  return 0;
}
