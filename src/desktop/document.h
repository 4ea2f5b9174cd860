/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the window works on: one board, one job, their history and journal, the drawing, the verdict, and what is being looked at.
 * Knows no widget. Every change of the board or the job is a new text (board/edit.h, job/edit.h) handed to ml_document_apply. */
#pragma once

#include <gio/gio.h>

#include "drawing/layout.h"
#include "drawing/photo-scene.h"
#include "job/edit.h"
#include "verdict/judge.h"

G_BEGIN_DECLS

#define ML_TYPE_DOCUMENT (ml_document_get_type ())
G_DECLARE_FINAL_TYPE (MlDocument, ml_document, ML, DOCUMENT, GObject)

/* The argument of the signal "changed": what is different now. Emitted on the main context, after everything is consistent. */
typedef enum
{
  ML_CHANGED_BOARD = 1 << 0,
  ML_CHANGED_JOB = 1 << 1,
  ML_CHANGED_SCENE = 1 << 2,
  ML_CHANGED_VERDICT = 1 << 3,
  ML_CHANGED_POINT = 1 << 4,       /* expected values and flow */
  ML_CHANGED_VIEW = 1 << 5,        /* unit, pass, condition, selection, probes, suppose */
  ML_CHANGED_HISTORY = 1 << 6,     /* undo, redo, saved or not */
  ML_CHANGED_DIAGNOSTICS = 1 << 7,
  ML_CHANGED_PROGRESS = 1 << 8,
  ML_CHANGED_PICTURE = 1 << 9,     /* the picture of the real board: another one, or it was read, or its pads */
  ML_CHANGED_FORETOLD = 1 << 10,   /* what will be read between the probes */
  ML_CHANGED_ALL = (1 << 11) - 1
} MlChanged;

/** ml_document_new: an empty board, one empty job. journal_folder NULL: the user's state folder. */
MlDocument *ml_document_new (const char *journal_folder);

/** ml_document_open: a .leafboard or .leafjob. A file with errors opens too: see ml_document_diagnostics. Errors: only when it cannot be read at all. */
gboolean ml_document_open (MlDocument *self, const char *path, GError **error);
/** ml_document_changed_elsewhere: the names of the board's and the job's files when another program has written them since they were read or saved here;
 *  NULL: it has not; new string. *ret_state (may be NULL; new string) tells one such state of the files from another. */
char *ml_document_changed_elsewhere (MlDocument *self, char **ret_state);
/** ml_document_read_files: what stands in those files now becomes current, as one step: undo brings back what was here, saved or not. */
gboolean ml_document_read_files (MlDocument *self, GError **error);
/** ml_document_lacks_board: a job was opened whose board could not be read, and nothing was drawn in its place. */
gboolean ml_document_lacks_board (MlDocument *self);
/**
 * ml_document_find_board: the board of the job that was opened lies at path; the job names it from now on, as a step that can be undone. What was changed in
 * the job before stays. Errors: path or the job's file cannot be read; path is a job; no job was opened from a file.
 */
gboolean ml_document_find_board (MlDocument *self, const char *path, GError **error);
/** ml_document_save: path NULL: where it came from (the job, and the board it names). Errors: ML_FILE_ERROR_CHANGED when someone else wrote there; force overwrites. */
gboolean ml_document_save_board (MlDocument *self, const char *path, gboolean force, GError **error);
gboolean ml_document_save_job (MlDocument *self, const char *path, gboolean force, GError **error);
const char *ml_document_board_path (MlDocument *self); /* NULL: never saved */
const char *ml_document_job_path (MlDocument *self);
const char *ml_document_journal_path (MlDocument *self); /* NULL: nothing was changed yet */
/** ml_document_has_job: the job has a file, or something in it that wants one. */
gboolean ml_document_has_job (MlDocument *self);
gboolean ml_document_is_saved (MlDocument *self);

/* Borrowed, never NULL, replaced (not changed) by edits: take a reference to keep one. */
MlBoard *ml_document_board (MlDocument *self);
MlJob *ml_document_job (MlDocument *self);
MlDiagnostics *ml_document_diagnostics (MlDocument *self);
/** ml_document_scene: the latest drawing; always of the current board. */
MlScene *ml_document_scene (MlDocument *self);
/** ml_document_is_drawing: a better drawing is on its way, or will be begun, and will take the place of this one. */
gboolean ml_document_is_drawing (MlDocument *self);
/** ml_document_drawing_progress: how much of that is done, 0 to 1, when it takes long (told with ML_CHANGED_PROGRESS); negative otherwise. */
double ml_document_drawing_progress (MlDocument *self);
/** ml_document_keep_drawing: no better drawing is wanted; this one stays. */
void ml_document_keep_drawing (MlDocument *self);
/** ml_document_verdict: NULL until there is one for the current board, unit and pass; stage tells how far it is. */
MlVerdict *ml_document_verdict (MlDocument *self);
/** ml_document_point: the current condition as drawn or supposed; NULL until solved. */
MlOperatingPoint *ml_document_point (MlDocument *self);
MlJudge *ml_document_judge (MlDocument *self); /* only on the main context and only for ml_judge_expect; NULL while busy */
/** ml_document_foretold: what red and black will read in the current condition going by all other readings, V, and the spread of that; NAN: not known
 *  (yet; told with ML_CHANGED_FORETOLD). */
double ml_document_foretold (MlDocument *self, const MlProbe *red, const MlProbe *black, double *ret_sigma);
/** ml_document_progress: 0..1 while work goes on in the background, negative when idle. */
double ml_document_progress (MlDocument *self);
/** ml_document_judge_again: after ml_document_stop. */
void ml_document_judge_again (MlDocument *self);
void ml_document_stop (MlDocument *self);
/** ml_document_trouble: what stands in the way of the verdict or of the journal, in a sentence; NULL: nothing. Told with ML_CHANGED_PROGRESS. */
const char *ml_document_trouble (MlDocument *self);
/** ml_document_is_unsafe: what stands in the way is the journal's: a kill now would lose what was typed. */
gboolean ml_document_is_unsafe (MlDocument *self);

/* ---- editing ---- */

/**
 * ml_document_apply: board_text and/or job_text (either may be NULL: unchanged) become current as one step named label ("Add R4"), are
 * journalled and synced before this returns. merge (may be NULL): steps with the same merge word directly after one another are one step.
 */
void ml_document_apply (MlDocument *self, MlText *board_text, MlText *job_text, const char *label, const char *merge);
/** ml_document_barrier: the next step does not merge with the one before. */
void ml_document_barrier (MlDocument *self);
gboolean ml_document_can_undo (MlDocument *self);
gboolean ml_document_can_redo (MlDocument *self);
const char *ml_document_undo_label (MlDocument *self); /* NULL when there is nothing */
const char *ml_document_redo_label (MlDocument *self);
void ml_document_undo (MlDocument *self);
void ml_document_redo (MlDocument *self);
/** ml_document_arrange: lays the drawing out anew, `place` statements removed, as one step. */
void ml_document_arrange (MlDocument *self);
/** ml_document_preview_place: a part follows the hand; nothing is stored until ml_document_drop_place. */
void ml_document_preview_place (MlDocument *self, int part, const MlPlace *place);
/** ml_document_drop_place: the part stays there, as one step; how: what was done to it, "Move" or "Turn". */
void ml_document_drop_place (MlDocument *self, int part, const MlPlace *place, const char *how);
/** ml_document_cancel_place: the part goes back to where it was before the preview. */
void ml_document_cancel_place (MlDocument *self);
/** ml_document_abandon: the person said that the unsaved changes are not wanted: the journal goes when the document does. */
void ml_document_abandon (MlDocument *self);

/* ---- what is looked at ---- */

int ml_document_unit (MlDocument *self);       /* -1 when the job has none */
guint ml_document_pass (MlDocument *self);
int ml_document_condition (MlDocument *self);  /* -1 when the board has none */
void ml_document_set_unit (MlDocument *self, int unit);
void ml_document_set_pass (MlDocument *self, guint pass);
void ml_document_set_condition (MlDocument *self, int condition);
void ml_document_select (MlDocument *self, int part, int pin); /* -1, -1: nothing; pin -1: the part */
void ml_document_selected (MlDocument *self, int *ret_part, int *ret_pin);
/** ml_document_set_probes: NULL: none. */
void ml_document_set_probes (MlDocument *self, const MlProbe *red, const MlProbe *black);
const MlProbe *ml_document_red (MlDocument *self);   /* NULL: none */
const MlProbe *ml_document_black (MlDocument *self);
/**
 * ml_document_next: the suggested reading that is looked at, by findings, drawing and keys alike: an index into the verdict's list; -1: none is suggested.
 * The first again after each reading; the same place while the verdict on it gets better.
 */
int ml_document_next (MlDocument *self);
/**
 * ml_document_set_up: a supply of that condition is being set up, in a form that is still open; -1: of none. What it was before, or would be without, is
 * nothing to measure in: no reading in it is suggested meanwhile. Told with ML_CHANGED_VIEW.
 */
void ml_document_set_up (MlDocument *self, int condition);
/** ml_document_set_next: any whole number: the list goes round. Told with ML_CHANGED_VIEW. */
void ml_document_set_next (MlDocument *self, int next);
/** ml_document_suppose: expected values and flow as if; NULL ends it. The fault is copied. */
void ml_document_suppose (MlDocument *self, const MlFault *fault);
const MlFault *ml_document_supposed (MlDocument *self);
/** ml_document_point_of: the point of any condition as drawn, with the verdict's knowledge of unknown chips once there is one; NULL until solved. */
MlOperatingPoint *ml_document_point_of (MlDocument *self, int condition);
/** ml_document_point_as_drawn: the same without what the verdict has learnt of unknown chips; NULL: not worked out. Borrowed. */
MlOperatingPoint *ml_document_point_as_drawn (MlDocument *self, int condition);

/* ---- the picture of the real board ---- */

/** ml_document_picture: the one of the board's pictures that is looked at; -1: the board has none. */
int ml_document_picture (MlDocument *self);
void ml_document_set_picture (MlDocument *self, int picture);
/** ml_document_picture_scene: that picture with its pads, a blank sheet while the file is read or cannot be; borrowed, never NULL, of the current board. */
MlScene *ml_document_picture_scene (MlDocument *self);
/** ml_document_picture_trouble: why the file is not shown, in a sentence; NULL: nothing. Told with ML_CHANGED_PICTURE. */
const char *ml_document_picture_trouble (MlDocument *self);

/* ---- after a kill ---- */

typedef struct { char *journal; char *title; char *path; GDateTime *when; guint n_changes; /* 0: all undone again */ } MlRecoverable;
/** ml_document_recoverable: journals left by a program that did not end well; elements MlRecoverable. */
GPtrArray *ml_document_recoverable (const char *journal_folder);
void ml_recoverable_free (MlRecoverable *recoverable);
gboolean ml_document_recover (MlDocument *self, const char *journal, GError **error);
void ml_document_discard (const char *journal);

G_END_DECLS
