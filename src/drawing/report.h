/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The record of a repair on paper: what was measured, what that said, what was done, and what was measured then. */
#pragma once

#include "drawing/page.h"
#include "drawing/paint.h"

G_BEGIN_DECLS

typedef struct
{
  const MlRecord *record;  /* borrowed, as is the rest */
  const MlScene *scene;    /* the circuit */
  const MlScene *picture;  /* the picture of the real board with its pads; NULL: none */
  int other_unit;          /* compared with; -1: none */
  MlPageSize page;         /* not fit */
  gboolean landscape;
  const char *font;        /* NULL: "Sans" */
  const char *called;      /* where neither job nor board has a title: the file's name; NULL: none */
} MlReport;

/** ml_report_n_pages: how many pages it takes; at least 1. */
guint ml_report_n_pages (const MlReport *report);
/** ml_report_paint: one page (from 0), n_pages in all; the context's unit is a millimetre, its origin the paper's upper left corner. */
void ml_report_paint (cairo_t *cr, const MlReport *report, guint page, guint n_pages);
/** ml_report_check_name: whether path ends in .pdf; errors as below. */
gboolean ml_report_check_name (const char *path, GError **error);
/**
 * ml_report_write: all pages as a PDF, byte-identical on repeat, its words searchable, its date that of the job.
 * Errors: G_IO_ERROR_NOT_SUPPORTED when path does not end in .pdf; G_FILE_ERROR, G_IO_ERROR. Nothing is left half written.
 */
gboolean ml_report_write (const char *path, const MlReport *report, GError **error);

G_END_DECLS
