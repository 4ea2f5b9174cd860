/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is wrong with a file: all of it in one go, in order of place. */
#pragma once

#include <glib.h>

G_BEGIN_DECLS

typedef enum
{
  ML_SEVERITY_NOTE,    /* worth knowing: "a supply without a limit gives 3 A" */
  ML_SEVERITY_WARNING, /* the file is usable but probably not what was meant */
  ML_SEVERITY_ERROR
} MlSeverity;

typedef struct
{
  char *file;
  guint line;   /* from 1; 0: the file as a whole */
  guint column; /* from 1, in characters; 0: the line as a whole */
  MlSeverity severity;
  char *message; /* what was found, what was expected, the nearest known word */
} MlDiagnostic;

typedef struct _MlDiagnostics MlDiagnostics;

#define ML_DIAGNOSTICS_MAX 1000u /* messages kept; all errors are counted */

MlDiagnostics *ml_diagnostics_new (void);
void ml_diagnostics_free (MlDiagnostics *diagnostics);
void ml_diagnostics_add (MlDiagnostics *diagnostics, const char *file, guint line, guint column, MlSeverity severity,
                         const char *format, ...) G_GNUC_PRINTF (6, 7);
void ml_diagnostics_sort (MlDiagnostics *diagnostics);
/** ml_diagnostics_is_full: further messages are only counted: no need to look for the nearest word. TRUE for NULL. */
gboolean ml_diagnostics_is_full (const MlDiagnostics *diagnostics);
guint ml_diagnostics_n (const MlDiagnostics *diagnostics);
guint ml_diagnostics_n_errors (const MlDiagnostics *diagnostics);
const MlDiagnostic *ml_diagnostics_get (const MlDiagnostics *diagnostics, guint i);
/** ml_diagnostic_to_string: "file:line:column: error: message". */
char *ml_diagnostic_to_string (const MlDiagnostic *diagnostic);

G_DEFINE_AUTOPTR_CLEANUP_FUNC (MlDiagnostics, ml_diagnostics_free)
G_END_DECLS
