/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The words of a file: what both languages share below their statements. Linear in the file's length. */
#pragma once

#include <glib.h>

#include "board/diagnostics.h"
#include "board/text.h"

G_BEGIN_DECLS

typedef struct
{
  const char *key;  /* NULL: a bare word */
  const char *text; /* the word, or what stands after key=; quotes and escapes undone */
  guint line;       /* from 0 */
  guint offset, length;  /* of the whole word, in the line's bytes, as written */
  guint text_offset;     /* of what stands after key= (a quote included), else equal to offset */
  guint column, text_column; /* from 1, in characters */
  gboolean quoted;
} MlWord;

typedef struct
{
  guint line, n_lines; /* lines from 0; more than one when continued */
  gboolean indented;
  gboolean broken;     /* something in it could not be read as words */
  const MlWord *words;
  guint n_words;
} MlStatement;

typedef struct _MlScanner MlScanner;

/** ml_scanner_new: diagnostics NULL: nothing is said. Both must outlive the scanner. */
MlScanner *ml_scanner_new (const MlText *text, MlDiagnostics *diagnostics);
void ml_scanner_free (MlScanner *scanner);
/** ml_scanner_next: the next statement, valid until the next call; NULL at the end. Empty lines and comments are passed over. */
const MlStatement *ml_scanner_next (MlScanner *scanner);
/** ml_scanner_seek: goes on at that line (from 0), which must be a statement's first. */
void ml_scanner_seek (MlScanner *scanner, guint line);

/** ml_word_column: the column of byte `where` of a piece of word->text: the piece is its beginning or its end. */
guint ml_word_column (const MlWord *word, const char *piece, gsize where);
/** ml_name_check: NULL when word can be a name, else what is wrong with it (a sentence fragment; constant). */
const char *ml_name_check (const char *word);
/** ml_name_typed: what a person typed, as a name: "S1 pressed" is S1-pressed, "3.3 V" is 3V3 (IEC 60062 puts the unit in the point's place). What says
 * nothing stays what ml_name_check refuses. New string. */
char *ml_name_typed (const char *typed);
/** ml_word_quote: as it must be written in a file: quoted where needed. New string. */
char *ml_word_quote (const char *text);
/** ml_text_quote: always in quotes. New string. Line ends and control characters become blanks. */
char *ml_text_quote (const char *text);

/* A reader of either language has `diagnostics` (may be NULL) and `text`: an error at a word, at what stands after its key=, or at a
 * line (from 0) and column. */
#define SAID_AT(reader, line_, column_, ...) \
  ml_diagnostics_add ((reader)->diagnostics, ml_text_name ((reader)->text), (line_) + 1, (column_), ML_SEVERITY_ERROR, __VA_ARGS__)
#define SAID(reader, word, ...) SAID_AT ((reader), (word)->line, (word)->column, __VA_ARGS__)
#define SAID_OF_VALUE(reader, word, ...) SAID_AT ((reader), (word)->line, (word)->text_column, __VA_ARGS__)

#define ML_STATEMENT_MAX_WORDS 10000u

G_DEFINE_AUTOPTR_CLEANUP_FUNC (MlScanner, ml_scanner_free)
G_END_DECLS
