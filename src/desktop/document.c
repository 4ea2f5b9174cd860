/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/document.h"

#include <math.h>
#include <string.h>

#include "desktop/document-private.h"

#include "desktop/findings-text.h"

G_DEFINE_FINAL_TYPE (MlDocument, ml_document, G_TYPE_OBJECT)

#define PADS_REST_S 5 /* longer than one pad takes after the other */

enum { CHANGED, N_SIGNALS };
static guint signals[N_SIGNALS];

/* ---- telling ---- */

void
ml_document_note_change (MlDocument *self, guint changed)
{
  self->pending |= changed;
}

void
ml_document_tell (MlDocument *self)
{
  guint changed = self->pending;
  self->pending = 0;
  if (changed)
    g_signal_emit (self, signals[CHANGED], 0, changed);
}

void
ml_document_set_trouble (MlDocument *self, char **slot, const char *text)
{
  if (g_strcmp0 (*slot, text) == 0)
    return;
  g_free (*slot);
  *slot = g_strdup (text);
  ml_document_note_change (self, ML_CHANGED_PROGRESS);
}

/* ---- results of the analysis ---- */

static void
free_point (gpointer point)
{
  if (point)
    ml_operating_point_free (point);
}

/* The drawing gets better with potentials, once those of the first condition are known (or known not to be had). */
static void
improve_with (MlDocument *self, const MlOperatingPoint *point)
{
  if (point->condition == 0)
    ml_desktop_sheet_improve (self->sheet, point->solved ? point->net_v : NULL);
}

static void
point_arrived (MlOperatingPoint *point, gboolean supposed, gpointer data)
{
  MlDocument *self = data;
  if (point->condition < 0 || (guint) point->condition >= self->points->len || supposed != self->view.supposing)
    {
      ml_operating_point_free (point);
      return;
    }
  if (point->condition == self->view.condition)
    ml_document_note_change (self, ML_CHANGED_POINT);
  if (supposed)
    {
      g_clear_pointer (&self->supposed_point, ml_operating_point_free);
      self->supposed_point = point;
    }
  else
    {
      free_point (self->points->pdata[point->condition]);
      self->points->pdata[point->condition] = point;
      improve_with (self, point);
    }
  ml_document_tell (self);
}

static gboolean
same_suggestion (const MlNextReading *a, const MlNextReading *b)
{
  return a->condition == b->condition && a->reads == b->reads && a->supply == b->supply
         && (a->supply >= 0 || (ml_probe_equal (&a->red, &b->red) && ml_probe_equal (&a->black, &b->black)));
}

/* Takes the verdict. The suggestion looked at stays the same place, wherever it stands in the list now. */
static void
take_verdict (MlDocument *self, MlVerdict *verdict)
{
  int at = ml_document_next (self), now = 0;
  for (guint i = 0; at >= 0 && i < verdict->n_next; i++)
    if (same_suggestion (&self->verdict->next[at], &verdict->next[i]))
      now = (int) i;
  self->view.next = at > 0 ? now : 0;
  g_clear_pointer (&self->verdict, ml_verdict_unref);
  self->verdict = verdict;
  self->view.foretold = NAN; /* told again of what is known now */
  if (self->view.supposing && self->view.condition >= 0)
    ml_document_solve_supposed (self); /* it knows better what unknown chips do; the old answer stays until then */
}

static void
verdict_arrived (MlVerdict *verdict, gpointer data)
{
  MlDocument *self = data;
  g_clear_pointer (&self->waiting, ml_verdict_unref);
  if (ml_findings_waits (self->verdict, verdict))
    {
      self->waiting = verdict;
      return;
    }
  take_verdict (self, verdict);
  ml_document_set_trouble (self, &self->verdict_trouble, NULL);
  ml_document_note_change (self, ML_CHANGED_VERDICT | ML_CHANGED_POINT); /* it brings better expectations along */
  ml_document_tell (self);
}

static void
foretold_arrived (const MlLikelyPlace *place, double value, double sigma, gpointer data)
{
  ml_document_take_foretold (data, place, value, sigma);
  ml_document_tell (data);
}

static void
progress_arrived (double share, gpointer data)
{
  MlDocument *self = data;
  if (share < 0.0 && self->waiting) /* stopped: nothing better comes */
    {
      take_verdict (self, g_steal_pointer (&self->waiting));
      ml_document_note_change (self, ML_CHANGED_VERDICT | ML_CHANGED_POINT);
    }
  self->progress = share;
  ml_document_note_change (self, ML_CHANGED_PROGRESS);
  ml_document_tell (self);
}

static void
analysis_failed (const GError *error, gpointer data)
{
  MlDocument *self = data;
  g_clear_pointer (&self->verdict, ml_verdict_unref);
  g_clear_pointer (&self->waiting, ml_verdict_unref);
  ml_document_set_trouble (self, &self->verdict_trouble, error->message);
  ml_document_note_change (self, ML_CHANGED_VERDICT);
  ml_document_tell (self);
}

/* The scene as it is now comes back when this state of the history does. */
static void
keep_scene (MlDocument *self)
{
  ml_history_set_keepsake (self->history, ml_scene_ref (ml_desktop_sheet_scene (self->sheet)));
}

static void
sheet_changed (gpointer data)
{
  MlDocument *self = data;
  keep_scene (self);
  ml_document_note_change (self, ML_CHANGED_SCENE);
  ml_document_tell (self);
}

static void
sheet_progressed (gpointer data)
{
  MlDocument *self = data;
  ml_document_note_change (self, ML_CHANGED_PROGRESS);
  ml_document_tell (self);
}

/* ---- from texts to models ---- */

static gboolean
same_pins (const MlPart *a, const MlPart *b)
{
  if (strcmp (a->name, b->name) != 0 || a->kind != b->kind || a->n_pins != b->n_pins)
    return FALSE;
  for (guint i = 0; i < a->n_pins; i++)
    if (a->pins[i].net != b->pins[i].net)
      return FALSE;
  return TRUE;
}

/* Whether results for one board can stand for the other until its own are there: same parts, nets and conditions by index. */
static gboolean
same_shape (const MlBoard *a, const MlBoard *b)
{
  if (a->n_parts != b->n_parts || a->n_nets != b->n_nets || a->n_conditions != b->n_conditions)
    return FALSE;
  for (guint i = 0; i < a->n_parts; i++)
    if (!same_pins (&a->parts[i], &b->parts[i]))
      return FALSE;
  for (guint i = 0; i < a->n_conditions; i++)
    if (a->conditions[i].n_supplies != b->conditions[i].n_supplies || strcmp (a->conditions[i].name, b->conditions[i].name) != 0)
      return FALSE;
  return TRUE;
}

static void
drop_results (MlDocument *self)
{
  g_ptr_array_set_size (self->points, 0);
  g_ptr_array_set_size (self->points, (int) self->board->n_conditions);
  g_clear_pointer (&self->supposed_point, ml_operating_point_free);
  g_clear_pointer (&self->verdict, ml_verdict_unref);
  g_clear_pointer (&self->waiting, ml_verdict_unref);
  ml_document_note_change (self, ML_CHANGED_POINT | ML_CHANGED_VERDICT);
}

static void
read_texts (MlDocument *self)
{
  g_clear_pointer (&self->diagnostics, ml_diagnostics_free);
  self->diagnostics = ml_diagnostics_new ();
  if (self->file_trouble)
    ml_diagnostics_add (self->diagnostics, ml_text_name (ml_history_job (self->history)), 0, 0, ML_SEVERITY_ERROR, "%s", self->file_trouble);
  MlBoard *old = self->board;
  MlText *text = ml_history_board (self->history);
  g_autoptr (MlDiagnostics) unsaid = NULL;
  /* Read again even when only the job changed, for its diagnostics, but the board that everything refers to stays. */
  MlBoard *board = ml_board_read (text, self->diagnostics);
  MlDiagnostics *diagnostics = self->diagnostics;
  if (self->file_trouble && board->n_parts == 0)
    diagnostics = unsaid = ml_diagnostics_new (); /* it only follows from the board that is not there */
  ml_board_check (board, diagnostics);
  if (old && old->text == text)
    ml_board_unref (board);
  else
    self->board = board;
  g_clear_pointer (&self->job, ml_job_unref);
  self->job = ml_job_read (ml_history_job (self->history), self->board, diagnostics);
  ml_job_check (self->job, diagnostics);
  if (old && old != self->board)
    ml_board_unref (old);
  self->view.next = 0;
  ml_document_note_change (self, ML_CHANGED_JOB | ML_CHANGED_DIAGNOSTICS | ML_CHANGED_HISTORY);
}

static void
refresh_drawing (MlDocument *self, MlRefresh how)
{
  if (how == ML_REFRESH_DROPPED)
    return;
  if (how == ML_REFRESH_LAY_OUT)
    ml_desktop_sheet_lay_out (self->sheet, self->board);
  else
    ml_desktop_sheet_set_board (self->sheet, self->board, ml_history_keepsake (self->history));
  keep_scene (self);
}

/* Without a condition there is no potential to wait for. */
static void
analyse_board (MlDocument *self)
{
  ml_analysis_set_board (self->analysis, self->board, self->view.condition);
  if (self->board->n_conditions == 0)
    ml_desktop_sheet_improve (self->sheet, NULL);
}

static void
judge (MlDocument *self, gboolean soon)
{
  g_clear_pointer (&self->waiting, ml_verdict_unref);
  ml_analysis_judge (self->analysis, self->job, self->view.unit, self->view.pass, soon);
}

/* What was found of another arrangement of the same circuit goes on being right, and what is being computed too. Pads say who neighbours whom, which
 * weighs a little: it is computed anew, but not before the hand that places one after the other rests. */
static gboolean
pads_rest_cb (gpointer data)
{
  MlDocument *self = data;
  self->pads_rest = 0;
  analyse_board (self);
  judge (self, TRUE);
  return G_SOURCE_REMOVE;
}

static void
refresh_arrangement (MlDocument *self, MlBoard *old, MlRefresh how)
{
  refresh_drawing (self, how);
  if (self->board->n_conditions == 0)
    ml_desktop_sheet_improve (self->sheet, NULL);
  else if (self->points->pdata[0])
    improve_with (self, self->points->pdata[0]); /* else it comes with the point */
  ml_document_picture_changed (self);
  if (!ml_board_same_pictures (old, self->board))
    {
      g_clear_handle_id (&self->pads_rest, g_source_remove);
      self->pads_rest = g_timeout_add_seconds (PADS_REST_S, pads_rest_cb, self);
    }
  ml_document_note_change (self, ML_CHANGED_BOARD | ML_CHANGED_SCENE | ML_CHANGED_VIEW);
}

static void
refresh_board (MlDocument *self, MlBoard *old, MlRefresh how)
{
  g_clear_handle_id (&self->pads_rest, g_source_remove);
  if (!same_shape (old, self->board))
    drop_results (self);
  if (self->view.set_up > self->board->n_conditions)
    self->view.set_up = 0; /* its form went with the last card */
  ml_document_view_clear (&self->view); /* a fault supposed on another board means nothing */
  g_clear_pointer (&self->supposed_point, ml_operating_point_free);
  refresh_drawing (self, how);
  ml_document_picture_changed (self);
  analyse_board (self);
  ml_document_note_change (self, ML_CHANGED_BOARD | ML_CHANGED_SCENE | ML_CHANGED_VIEW);
}

void
ml_document_refresh (MlDocument *self, MlRefresh how)
{
  g_autoptr (MlBoard) old_board = ml_board_ref (self->board);
  g_autoptr (MlJob) old_job = ml_job_ref (self->job);
  read_texts (self);
  ml_document_view_carry_over (self, old_board, old_job);
  gboolean other_board = self->board != old_board, board_changed = other_board && !ml_board_same_circuit (old_board, self->board);
  if (board_changed)
    refresh_board (self, old_board, how);
  else if (other_board)
    refresh_arrangement (self, old_board, how);
  if (board_changed || self->job->text != old_job->text)
    judge (self, !board_changed);
}

void
ml_document_begin (MlDocument *self, MlText *board, MlText *job)
{
  ml_document_end_journal (self);
  g_clear_handle_id (&self->pads_rest, g_source_remove);
  g_clear_pointer (&self->history, ml_history_free);
  self->history = ml_history_new (board, job, (GDestroyNotify) ml_scene_unref);
  self->abandoned = FALSE;
  ml_document_begin_journal (self);
  g_clear_pointer (&self->board, ml_board_unref);
  read_texts (self);
  ml_document_view_clear (&self->view);
  ml_document_view_reset (self);
  ml_document_picture_changed (self);
  drop_results (self);
  if (self->sheet)
    ml_desktop_sheet_lay_out (self->sheet, self->board);
  else
    self->sheet = ml_desktop_sheet_new (self->board, sheet_changed, sheet_progressed, self);
  keep_scene (self);
  analyse_board (self);
  judge (self, TRUE);
  ml_document_note_change (self, ML_CHANGED_ALL);
}

/* ---- object ---- */

static void
ml_document_dispose (GObject *object)
{
  MlDocument *self = ML_DOCUMENT (object);
  g_clear_handle_id (&self->pads_rest, g_source_remove);
  g_clear_pointer (&self->analysis, ml_analysis_free);
  g_clear_pointer (&self->sheet, ml_desktop_sheet_free);
  ml_document_picture_clear (self);
  if (self->history)
    ml_document_end_journal (self);
  G_OBJECT_CLASS (ml_document_parent_class)->dispose (object);
}

static void
ml_document_finalize (GObject *object)
{
  MlDocument *self = ML_DOCUMENT (object);
  g_clear_pointer (&self->history, ml_history_free);
  g_clear_pointer (&self->verdict, ml_verdict_unref);
  g_clear_pointer (&self->waiting, ml_verdict_unref);
  g_clear_pointer (&self->supposed_point, ml_operating_point_free);
  g_ptr_array_unref (self->points);
  g_clear_pointer (&self->job, ml_job_unref);
  g_clear_pointer (&self->board, ml_board_unref);
  g_clear_pointer (&self->diagnostics, ml_diagnostics_free);
  ml_document_view_clear (&self->view);
  char *strings[] = { self->board_file.path,   self->board_file.fingerprint, self->job_file.path,       self->job_file.fingerprint,
                      self->journal_folder,    self->journal_trouble,        self->verdict_trouble,     self->file_trouble };
  for (guint i = 0; i < G_N_ELEMENTS (strings); i++)
    g_free (strings[i]);
  G_OBJECT_CLASS (ml_document_parent_class)->finalize (object);
}

static void
ml_document_class_init (MlDocumentClass *klass)
{
  GObjectClass *object_class = G_OBJECT_CLASS (klass);
  object_class->dispose = ml_document_dispose;
  object_class->finalize = ml_document_finalize;
  signals[CHANGED] = g_signal_new ("changed", G_TYPE_FROM_CLASS (klass), G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 1, G_TYPE_UINT);
}

static void
ml_document_init (MlDocument *self)
{
  static const MlAnalysisCalls calls = { point_arrived, verdict_arrived, progress_arrived, foretold_arrived, analysis_failed };
  self->points = g_ptr_array_new_with_free_func (free_point);
  self->analysis = ml_analysis_new (&calls, self);
  self->progress = -1.0;
  self->view.foretold = NAN;
}

MlDocument *
ml_document_new (const char *journal_folder)
{
  MlDocument *self = g_object_new (ML_TYPE_DOCUMENT, NULL);
  self->journal_folder = journal_folder ? g_strdup (journal_folder) : ml_journal_folder ();
  g_autoptr (MlText) text = ml_text_new ("", "meterleaf 1\n", -1);
  g_autoptr (MlBoard) board = ml_board_read (text, NULL);
  g_autoptr (MlJob) job = ml_job_new_for_board (board, NULL);
  ml_document_begin (self, text, job->text);
  self->pending = 0;
  return self;
}

MlBoard *
ml_document_board (MlDocument *self)
{
  return self->board;
}

MlJob *
ml_document_job (MlDocument *self)
{
  return self->job;
}

MlDiagnostics *
ml_document_diagnostics (MlDocument *self)
{
  return self->diagnostics;
}

MlScene *
ml_document_scene (MlDocument *self)
{
  return ml_desktop_sheet_scene (self->sheet);
}

gboolean
ml_document_is_drawing (MlDocument *self)
{
  return ml_desktop_sheet_awaits_better (self->sheet);
}

double
ml_document_drawing_progress (MlDocument *self)
{
  return ml_desktop_sheet_progress (self->sheet);
}

void
ml_document_keep_drawing (MlDocument *self)
{
  ml_desktop_sheet_keep (self->sheet);
}

MlVerdict *
ml_document_verdict (MlDocument *self)
{
  return self->verdict;
}

MlOperatingPoint *
ml_document_point_of (MlDocument *self, int condition)
{
  if (condition < 0 || (guint) condition >= self->points->len)
    return NULL;
  MlOperatingPoint *known = ml_verdict_point (self->verdict, condition);
  return known ? known : self->points->pdata[condition];
}

MlOperatingPoint *
ml_document_point_as_drawn (MlDocument *self, int condition)
{
  return condition >= 0 && (guint) condition < self->points->len ? self->points->pdata[condition] : NULL;
}

MlOperatingPoint *
ml_document_point (MlDocument *self)
{
  return self->view.supposing ? self->supposed_point : ml_document_point_of (self, self->view.condition);
}

MlJudge *
ml_document_judge (MlDocument *self)
{
  return ml_analysis_bench_judge (self->analysis);
}

double
ml_document_progress (MlDocument *self)
{
  return self->progress;
}

void
ml_document_stop (MlDocument *self)
{
  ml_analysis_stop (self->analysis);
}

void
ml_document_judge_again (MlDocument *self)
{
  analyse_board (self);
  judge (self, TRUE);
}

const char *
ml_document_trouble (MlDocument *self)
{
  return self->journal_trouble ? self->journal_trouble : self->verdict_trouble;
}

gboolean
ml_document_is_unsafe (MlDocument *self)
{
  return self->journal_trouble != NULL;
}

/* ---- editing ---- */

void
ml_document_apply (MlDocument *self, MlText *board_text, MlText *job_text, const char *label, const char *merge)
{
  gboolean merged = ml_history_push (self->history, board_text, job_text, label, merge);
  ml_document_note_step (self, label, merge, merged);
  ml_document_refresh (self, ML_REFRESH_KEEP_DRAWING);
  ml_document_tell (self);
}

void
ml_document_barrier (MlDocument *self)
{
  ml_history_barrier (self->history);
}

/* Nothing was done yet but that a save wrote where the parts stand: no one would call that a step. */
static gboolean
is_only_places (MlDocument *self)
{
  return ml_history_n_undo (self->history) == 1 && g_strcmp0 (ml_history_undo_merge (self->history), ML_DOCUMENT_KEEPS_PLACES) == 0;
}

gboolean
ml_document_can_undo (MlDocument *self)
{
  return ml_document_undo_label (self) != NULL;
}

gboolean
ml_document_can_redo (MlDocument *self)
{
  return ml_history_redo_label (self->history) != NULL;
}

const char *
ml_document_undo_label (MlDocument *self)
{
  return is_only_places (self) ? NULL : ml_history_undo_label (self->history);
}

const char *
ml_document_redo_label (MlDocument *self)
{
  return ml_history_redo_label (self->history);
}

static void
moved (MlDocument *self, MlJournalWhat what, const char *label)
{
  ml_document_note_move (self, what, label);
  ml_document_refresh (self, ML_REFRESH_KEEP_DRAWING);
  ml_document_tell (self);
}

void
ml_document_undo (MlDocument *self)
{
  gboolean unseen = g_strcmp0 (ml_history_undo_merge (self->history), ML_DOCUMENT_KEEPS_PLACES) == 0;
  if (is_only_places (self))
    return;
  if (ml_history_undo (self->history))
    moved (self, ML_JOURNAL_UNDO, ml_history_redo_label (self->history));
  if (unseen && ml_history_undo (self->history))
    moved (self, ML_JOURNAL_UNDO, ml_history_redo_label (self->history));
}

void
ml_document_redo (MlDocument *self)
{
  if (ml_history_redo (self->history))
    moved (self, ML_JOURNAL_REDO, ml_history_undo_label (self->history));
  if (g_strcmp0 (ml_history_redo_merge (self->history), ML_DOCUMENT_KEEPS_PLACES) == 0 && ml_history_redo (self->history))
    moved (self, ML_JOURNAL_REDO, ml_history_undo_label (self->history));
}

void
ml_document_arrange (MlDocument *self)
{
  g_autofree int *parts = g_new (int, self->board->n_parts + 1);
  for (guint i = 0; i < self->board->n_parts; i++)
    parts[i] = (int) i;
  g_autoptr (GError) error = NULL;
  g_autoptr (MlText) text = ml_board_edit_place (self->board, parts, NULL, self->board->n_parts, &error);
  if (!text)
    return;
  /* Even when no part was placed: the drawing itself is the step, and undo brings the old one back. */
  gboolean same = ml_text_equal (text, self->board->text);
  g_autoptr (MlText) copy = same ? ml_text_splice (self->board->text, 0, 0, (const char *const[]){ NULL }) : ml_text_ref (text);
  ml_history_push (self->history, copy, NULL, "Arrange the drawing", NULL);
  ml_document_note_step (self, "Arrange the drawing", NULL, FALSE);
  ml_document_refresh (self, ML_REFRESH_LAY_OUT);
  ml_document_tell (self);
}

void
ml_document_preview_place (MlDocument *self, int part, const MlPlace *place)
{
  ml_desktop_sheet_preview (self->sheet, part, place);
  ml_document_note_change (self, ML_CHANGED_SCENE);
  ml_document_tell (self);
}

void
ml_document_cancel_place (MlDocument *self)
{
  ml_desktop_sheet_end_preview (self->sheet);
  ml_document_note_change (self, ML_CHANGED_SCENE);
  ml_document_tell (self);
}

void
ml_document_drop_place (MlDocument *self, int part, const MlPlace *place, const char *how)
{
  g_autoptr (GError) error = NULL;
  MlPlace free = *place; /* beside what stands there already, never on top of it */
  ml_layout_settle (ml_desktop_sheet_scene (self->sheet), part, &free);
  g_autofree char *pins = ml_layout_pin_words (ml_desktop_sheet_scene (self->sheet), part, &free);
  g_autoptr (MlText) text = ml_board_edit_place_pins (self->board, &part, &free, (const char *const[]){ pins }, 1, &error);
  if (!text)
    {
      ml_document_cancel_place (self);
      return;
    }
  g_autofree char *label = g_strdup_printf ("%s %s", how, self->board->parts[part].name);
  ml_history_push (self->history, text, NULL, label, NULL);
  ml_document_note_step (self, label, NULL, FALSE);
  ml_document_refresh (self, ML_REFRESH_DROPPED);
  ml_desktop_sheet_drop (self->sheet, self->board, part, &free);
  keep_scene (self);
  ml_document_note_change (self, ML_CHANGED_SCENE);
  ml_document_tell (self);
}

void
ml_document_abandon (MlDocument *self)
{
  self->abandoned = TRUE;
}
