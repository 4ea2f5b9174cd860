/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Writing files so that nothing is lost: atomic, durable, through symbolic links, keeping the mode. */
#pragma once

#include <glib.h>

G_BEGIN_DECLS

/** ml_file_fingerprint: SHA-256 of the file's content as hex, NULL when there is no file. Tells a change by someone else apart from our own. */
char *ml_file_fingerprint (const char *path);
/**
 * ml_file_save: write bytes to path. expected (may be NULL): the fingerprint the file had when it was read; when the file differs now,
 * ML_FILE_ERROR_CHANGED and nothing is written. Errors: ML_FILE_ERROR, G_FILE_ERROR; the old file is whole in every case.
 */
gboolean ml_file_save (const char *path, GBytes *bytes, const char *expected, GError **error);
/** ml_file_stem: "pump" of "bench/pump.leafjob": how something is called that nobody gave a title; valid UTF-8, new string. NULL for NULL, "-" and "". */
char *ml_file_stem (const char *path);

#define ML_FILE_ERROR ml_file_error_quark ()
GQuark ml_file_error_quark (void);
typedef enum { ML_FILE_ERROR_CHANGED } MlFileError;

G_END_DECLS
