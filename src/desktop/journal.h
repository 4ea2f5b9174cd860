/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The journal: every step of one session, on disk before the step counts as done, so that a kill at any moment loses at most the entry
 * still being typed.
 *
 * A journal is one file: a first line, then records. The first record holds the two whole texts the session began with; each later one a
 * step as the lines it replaced, or an undo, a redo, or a save. A record is one line "record LENGTH CHECKSUM", LENGTH bytes, and a newline.
 * What a kill tore off at the end is dropped on reading: its checksum does not fit. The running program holds a lock on the file. */
#pragma once

#include "board/text.h"

G_BEGIN_DECLS

typedef struct _MlJournal MlJournal;

#define ML_JOURNAL_ERROR ml_journal_error_quark ()
GQuark ml_journal_error_quark (void);
typedef enum
{
  ML_JOURNAL_ERROR_IN_USE, /* another program has it open */
  ML_JOURNAL_ERROR_DAMAGED /* not a journal, or its first record is gone */
} MlJournalError;

/* One of the two texts, as the journal knows it. */
typedef struct
{
  MlText *text;
  char *path;        /* of the file it came from or was saved to last; NULL: none */
  char *fingerprint; /* of that file, as ml_file_fingerprint */
} MlJournalText;

typedef enum { ML_JOURNAL_STEP, ML_JOURNAL_UNDO, ML_JOURNAL_REDO, ML_JOURNAL_SAVED } MlJournalWhat;

typedef struct
{
  MlJournalWhat what;
  char *label, *merge;  /* of a step */
  gboolean merged;      /* the step widened the one before */
  MlText *board, *job;  /* after a step; after a save: NULL where that text was not saved */
  char *path[2], *fingerprint[2]; /* of a save: board, job */
} MlJournalRecord;

/* What a journal tells. */
typedef struct
{
  MlJournalText board, job;    /* at the beginning */
  GPtrArray *records;          /* MlJournalRecord, in order */
  guint n_unsaved;             /* steps, undos and redos since both texts were saved last */
  guint n_apart;               /* steps between that and the end of the story: those undone again count no more */
  gsize valid_length;          /* bytes up to the end of the last whole record */
} MlJournalStory;

/** ml_journal_folder: where journals are kept unless told otherwise; new string. */
char *ml_journal_folder (void);
/** ml_journal_create: a new journal in folder (made if need be), locked, its beginning on disk. Errors: G_FILE_ERROR. */
MlJournal *ml_journal_create (const char *folder, const MlJournalText *board, const MlJournalText *job, GError **error);
/** ml_journal_take: an abandoned journal is carried on: locked, its torn end cut off, its story told. Errors: ML_JOURNAL_ERROR, G_FILE_ERROR. */
MlJournal *ml_journal_take (const char *path, MlJournalStory **ret_story, GError **error);
/** ml_journal_peek: the story of an abandoned journal, nothing changed. Errors: as ml_journal_take. */
MlJournalStory *ml_journal_peek (const char *path, GError **error);
void ml_journal_story_free (MlJournalStory *story);

/* Each returns only when the record is on disk. Errors: G_FILE_ERROR; the journal is then as it was before. */
typedef struct { MlText *board_from, *board_to, *job_from, *job_to; const char *label, *merge; gboolean merged; } MlJournalStep;
gboolean ml_journal_append_step (MlJournal *self, const MlJournalStep *step, GError **error);
gboolean ml_journal_append_move (MlJournal *self, MlJournalWhat undo_or_redo, GError **error);
/** ml_journal_append_saved: text->text is not looked at. */
gboolean ml_journal_append_saved (MlJournal *self, gboolean job, const MlJournalText *text, GError **error);

const char *ml_journal_path (const MlJournal *self);
/** ml_journal_close: the file stays, to be found after a restart. ml_journal_discard: the file goes; nothing in it is wanted any more. */
void ml_journal_close (MlJournal *self);
void ml_journal_discard (MlJournal *self);

/** ml_journal_list: paths of the journals in folder that no program holds, newest first; new strings. A folder that is not there holds none. */
GPtrArray *ml_journal_list (const char *folder);

G_DEFINE_AUTOPTR_CLEANUP_FUNC (MlJournalStory, ml_journal_story_free)
G_END_DECLS
