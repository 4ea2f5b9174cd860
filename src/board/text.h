/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A file of either language as immutable text. The text is the truth: models are read from it, edits make a new text that shares
 * every untouched line, so that bytes which nobody changed survive, undo is the older text, and a journal entry is one splice. */
#pragma once

#include <glib.h>

G_BEGIN_DECLS

typedef struct _MlText MlText;

/** ml_text_new: copies length bytes (-1: up to NUL). Any bytes are accepted; what is wrong with them is said by the readers. name is for messages. */
MlText *ml_text_new (const char *name, const char *bytes, gssize length);
/** ml_text_load: at most ML_TEXT_MAX_BYTES. Errors: G_FILE_ERROR, G_IO_ERROR; the message names the file and what to do. */
MlText *ml_text_load (const char *path, GError **error);
/** ml_text_load_descriptor: the same from an open descriptor such as standard input; name: what messages call it. */
MlText *ml_text_load_descriptor (const char *name, int fd, GError **error);
MlText *ml_text_ref (MlText *text);
void ml_text_unref (MlText *text);
const char *ml_text_name (const MlText *text);
guint ml_text_n_lines (const MlText *text);
/** ml_text_line: line counts from 0; the bytes include the line's ending, as in the file. NUL-terminated; *ret_length may be NULL. */
const char *ml_text_line (const MlText *text, guint line, gsize *ret_length);
GBytes *ml_text_to_bytes (const MlText *text);
gboolean ml_text_equal (const MlText *a, const MlText *b);

/** ml_text_splice: a new text in which n_removed lines from `first` are replaced by `inserted` (NULL-terminated; an ending like the file's own is added where missing). */
MlText *ml_text_splice (const MlText *text, guint first, guint n_removed, const char *const *inserted);
/**
 * ml_text_replace_lines: a new text in which line i is replaced by replaced[i] (no, one or several lines); NULL keeps and shares it.
 * Shapes: replaced holds ml_text_n_lines (text) entries.
 */
MlText *ml_text_replace_lines (const MlText *text, char *const *replaced);
/** ml_text_difference: the one splice that turns a into b. ret_inserted is a new strv, with line endings. */
void ml_text_difference (const MlText *a, const MlText *b, guint *ret_first, guint *ret_removed, GStrv *ret_inserted);

#define ML_TEXT_MAX_BYTES (8u * 1024u * 1024u)
#define ML_TEXT_MAX_LINES 200000u

G_DEFINE_AUTOPTR_CLEANUP_FUNC (MlText, ml_text_unref)
G_END_DECLS
