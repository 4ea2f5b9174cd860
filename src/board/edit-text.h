/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Changing the words of a file and nothing else: what the edits of boards and jobs are made of. */
#pragma once

#include "board/edit.h"
#include "board/scan.h"

G_BEGIN_DECLS

/* Collects changes of one text, all places being those of the text as it was; ml_patch_finish applies them together. */
typedef struct _MlPatch MlPatch;

MlPatch *ml_patch_new (const MlText *text);
void ml_patch_free (MlPatch *patch);
/** ml_patch_replace: length bytes from offset of that line (from 0) become `with`. */
void ml_patch_replace (MlPatch *patch, guint line, guint offset, guint length, const char *with);
/** ml_patch_replace_value: what stands behind key= (or the bare word) becomes text, quoted where needed. */
void ml_patch_replace_value (MlPatch *patch, const MlWord *word, const char *text);
/** ml_patch_remove_word: with the blanks before it. */
void ml_patch_remove_word (MlPatch *patch, const MlWord *word);
/** ml_patch_add_word: a blank and `text` (already quoted) behind that word. */
void ml_patch_add_word (MlPatch *patch, const MlWord *behind, const char *text);
/** ml_patch_set_key: key=value of that statement changed, added behind its last word, or (value NULL) removed; value is quoted where needed. */
void ml_patch_set_key (MlPatch *patch, const MlStatement *statement, const char *key, const char *value);
/** ml_patch_set_number: the same with a number; NAN removes it. same: it says what it said before and keeps its spelling. */
void ml_patch_set_number (MlPatch *patch, const MlStatement *statement, const char *key, double value, gboolean same);
void ml_patch_remove_lines (MlPatch *patch, guint first, guint n);
/** ml_patch_insert_line: above that line; the number of lines puts it at the end. */
void ml_patch_insert_line (MlPatch *patch, guint line, const char *text);
/** ml_patch_finish: the text after all changes, without an ending newline added where none was; frees the patch. */
MlText *ml_patch_finish (MlPatch *patch);

/** ml_edit_statement_at: the statement that starts at that line (from 1); valid until the scanner goes on. */
const MlStatement *ml_edit_statement_at (MlScanner *scanner, guint line);
/** ml_edit_end_at: the line (from 0) behind the statement at `line` (from 1), with_below: and behind all indented below it. */
guint ml_edit_end_at (const MlText *text, guint line, gboolean with_below);
/**
 * ml_edit_line_behind: the line (from 0) behind the last statement in column one (and what is indented below it) that starts with the
 * first of these words that occurs at all; `otherwise` when none does. words: blank-separated.
 */
guint ml_edit_line_behind (const MlText *text, const char *words, guint otherwise);
/** ml_edit_indent: the blanks before the first line below the statement at `line` (from 1), "  " when there is none. New string. */
char *ml_edit_indent (const MlText *text, guint line);
/** ml_edit_key: the word key=… of a statement, or NULL. */
const MlWord *ml_edit_key (const MlStatement *statement, const char *key);
/** ml_edit_kind_key: the word of a part's statement that gives this key of its kind, under whichever name; or NULL. */
const MlWord *ml_edit_kind_key (const MlStatement *statement, const MlKindInfo *kind, const MlKeyInfo *info);
gboolean ml_edit_is (const MlStatement *statement, const char *word);

/** ml_edit_accept: text (taken) when reading it said no more errors than before, else NULL and the words of the new one. */
MlText *ml_edit_accept (MlText *text, const MlDiagnostics *before, const MlDiagnostics *after, GError **error);

/* ---- names in a file ---- */

typedef enum { ML_NAMES_PART, ML_NAMES_NET, ML_NAMES_CONDITION, ML_NAMES_UNIT } MlNames;

/* A place where a statement names something. */
typedef struct
{
  MlNames names;
  const MlStatement *statement;
  const MlWord *word;
  guint offset, length; /* of the name in the line's bytes */
  const char *name;     /* valid during the call only */
  const char *pins;     /* what follows behind PART. ("base", "base-emitter", "base/lead"), or NULL */
  gboolean defines;     /* the statement that makes it */
  gboolean in_part;     /* a pin's net or a contact's coil: without it the statement still stands */
} MlMention;

typedef void (*MlMentionFunc) (const MlMention *mention, gpointer data);
/** ml_edit_mentions: every name of parts, nets, conditions and units that a board (job FALSE) or a job names, in order of place. */
void ml_edit_mentions (const MlText *text, gboolean job, MlMentionFunc func, gpointer data);
/** ml_edit_rename_all: every mention of `from` becomes `to`. */
void ml_edit_rename_all (MlPatch *patch, const MlText *text, gboolean job, MlNames names, const char *from, const char *to);
/** ml_edit_rename_pins: every mention of those pins of that part, all n at once, except in the part's own statement. pair (may be NULL): what
 * `across=PART`, which names no pins, has to say from now on ("minus-plus"). */
void ml_edit_rename_pins (MlPatch *patch, const MlText *text, gboolean job, const char *part, const MlPinName *names, guint n, const char *pair);

/** ml_edit_check_name: FALSE and ML_EDIT_ERROR_NAME when that cannot be a name. */
gboolean ml_edit_check_name (const char *name, const char *what, GError **error);

G_END_DECLS
