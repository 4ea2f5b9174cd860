/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The document's inside, shared by document.c (editing), document-view.c (what is looked at) and document-files.c (files and journals). */
#pragma once

#include "desktop/analysis.h"
#include "desktop/document.h"
#include "desktop/history.h"
#include "desktop/journal.h"
#include "desktop/sheet.h"

G_BEGIN_DECLS

/* What is looked at. Indices hold for the current board and job, and are carried over by name when these change. */
typedef struct
{
  int unit;
  guint pass;
  int condition;
  int picture; /* of the board's pictures; -1: there is none */
  int selected_part, selected_pin;
  MlProbe red, black;
  gboolean has_red, has_black;
  guint set_up; /* 1 + the condition that is being set up; 0: none is */
  MlLikelyPlace foretold_at; /* of … */
  double foretold, foretold_sigma; /* … what will be read there, V; NAN: not known */
  int next; /* of the verdict's suggested readings, when there are any */
  MlFault fault;
  gboolean supposing;
} MlDocumentView;

typedef struct
{
  char *path;        /* NULL: never saved */
  char *fingerprint; /* of the file when it was read or written last */
} MlDocumentFile;

typedef struct _MlPictureFile MlPictureFile;
#define ML_PICTURE_FILES 4

struct _MlDocument
{
  GObject parent_instance;

  /* what is edited */
  MlHistory *history; /* keepsakes: MlScene */
  MlBoard *board;
  MlJob *job;
  MlDiagnostics *diagnostics;
  MlDocumentFile board_file, job_file;
  char *file_trouble; /* the job names a board that could not be read */

  /* what is noted */
  char *journal_folder;
  MlJournal *journal;              /* NULL: nothing to lose yet */
  MlText *noted_board, *noted_job; /* as the journal has them */
  gboolean behind;                 /* a write failed: from now on only whole differences are noted */
  gboolean abandoned;
  char *journal_trouble;

  /* what is computed */
  MlSheet *sheet;
  MlScene *picture_scene; /* NULL: to be made */
  MlPictureFile *picture_files[ML_PICTURE_FILES];
  MlAnalysis *analysis;
  GPtrArray *points; /* MlOperatingPoint or NULL, one per condition */
  MlOperatingPoint *supposed_point;
  MlVerdict *verdict;
  MlVerdict *waiting; /* a first verdict that is not shown before the refined one; NULL: none */
  double progress;
  char *verdict_trouble;
  guint pads_rest; /* pads were placed: computed anew once the hand rests; 0: nothing waits */

  MlDocumentView view;
  guint pending; /* MlChanged not told yet */
};

/* The merge word of the step that a save makes by itself when it writes where the parts stand: nothing to see, so undo and redo pass over it. */
#define ML_DOCUMENT_KEEPS_PLACES "places"

/* document.c */
void ml_document_note_change (MlDocument *self, guint changed);
void ml_document_tell (MlDocument *self); /* emits what was noted */
/* The texts of the history's current state become board and job. how: what to do with the drawing. */
typedef enum { ML_REFRESH_KEEP_DRAWING, ML_REFRESH_LAY_OUT, ML_REFRESH_DROPPED } MlRefresh;
void ml_document_refresh (MlDocument *self, MlRefresh how);
/* Takes new history and files; everything of the old document is gone. */
void ml_document_begin (MlDocument *self, MlText *board, MlText *job);

/* *slot is a trouble of the document: a new text is told. */
void ml_document_set_trouble (MlDocument *self, char **slot, const char *text);

/* document-view.c */
void ml_document_view_reset (MlDocument *self);
void ml_document_view_carry_over (MlDocument *self, MlBoard *old_board, MlJob *old_job);
void ml_document_view_clear (MlDocumentView *view);
/** ml_document_solve_supposed: in the condition looked at, with what the verdict found; or, nothing being supposed, that this is so. */
void ml_document_solve_supposed (MlDocument *self);
/** ml_document_take_foretold: what will be read there, V, and the spread of that. */
void ml_document_take_foretold (MlDocument *self, const MlLikelyPlace *place, double value, double sigma);

/* document-picture.c */
void ml_document_picture_changed (MlDocument *self); /* the board is another one, or another picture is looked at */
void ml_document_picture_clear (MlDocument *self);

/* document-journal.c */
void ml_document_note_step (MlDocument *self, const char *label, const char *merge, gboolean merged);
void ml_document_note_move (MlDocument *self, MlJournalWhat what, const char *label);
void ml_document_note_saved (MlDocument *self, gboolean job);
/* begin: the texts are what a journal would start from; none is written before there is a change. end: kept when it holds anything unsaved. */
void ml_document_begin_journal (MlDocument *self);
void ml_document_end_journal (MlDocument *self);

G_END_DECLS
