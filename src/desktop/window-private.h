/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The window's inside, shared by window.c (what is shown), window-actions.c (what is done), window-menus.c and window-files.c. */
#pragma once

#include "desktop/bench-strip.h"
#include "desktop/canvas.h"
#include "desktop/window.h"

G_BEGIN_DECLS

struct _MlWindow
{
  GtkApplicationWindow parent_instance;

  /* owned */
  MlDocument *document;
  char *called;      /* the name of the file, for pictures and reports without a title; NULL */
  char *ribbon;      /* of the picture that leaves the window: what is supposed; NULL */
  char *notice_word; /* what the notice is about, when it goes by itself once that is over; NULL */
  GFileMonitor *monitors[2]; /* of the board's and the job's file; NULL */
  char *watched[2];          /* their paths; NULL */
  char *told_elsewhere;      /* which state of the files that another program wrote has been told; NULL: none */

  /* borrowed: children */
  MlCanvas *canvas; /* the one of both that keys and menus speak of */
  MlCanvas *circuit_canvas, *picture_canvas;
  GtkWidget *views; /* both */
  MlBenchStrip *strip;
  GtkWidget *findings, *errors, *start, *view_switch, *hint, *notice, *notice_label, *notice_button, *drawing_progress, *menu_popover, *place_popover;

  /* template */
  GtkWidget *header, *unit_button, *unit_label, *unit_state_label, *undo_button, *redo_button, *title, *mode_box, *draw_button,
      *measure_button, *view_button, *menu_button, *stack, *start_slot, *paned, *drawing_stack, *draw_bar, *draw_row, *suppose_bar, *suppose_label, *suppose_button, *drawing_slot, *status, *all_conditions_button, *text_slot,
      *strip_slot, *findings_slot;

  MlJob *unit_menu_job; /* owned: what the menu of units was made of; NULL */
  int unit_menu_unit;
  MlPaper paper;
  gboolean compare;
  gboolean told_of_rows; /* that the drawing is none */
  gboolean closing;      /* the person has decided what becomes of unsaved changes */
  guint look_rests; /* a timeout: what is looked at is noted once it rests; 0 */
  guint notice_timeout, notice_moves, views_share, corner_moves;
  int corner_width, corner_height; /* px, of the switch of views */
  gboolean is_short; /* little height for the size of the text */
  char *went; /* "Taken back: Move R3": said until something else is done; NULL: nothing is */
  char *told_trouble; /* what the notice said last of what stands in the way; NULL: nothing does */
  gboolean going; /* a step is being taken back or done again */
  gboolean hint_below; /* the drawing leaves the hint no room: it stands in the line below */
  int status_width; /* of the drawing, for which the line below it has its room */
  int views_width, views_height;     /* for which both views share the room; 0: not yet */
  gboolean views_kept, views_moving; /* the divider was moved by hand; by the window just now */
  int menu_part, menu_pin, menu_net; /* what the open menu speaks of */
};

/* window.c */
void ml_window_show_work (MlWindow *self);
void ml_window_opened (MlWindow *self); /* the document has just been opened: it is shown as it was left, or with its errors */
/* The unit compared with: the good unit, else any other; -1 when comparing is off. */
int ml_window_other_unit (MlWindow *self);
void ml_window_set_paper (MlWindow *self, MlPaper paper);
void ml_window_show_status (MlWindow *self); /* the line below the drawing: what is selected, or the hint */
/* Applies an edit's result as one step, or says what stood in the way; takes both. FALSE when it failed. */
gboolean ml_window_apply (MlWindow *self, MlText *board_text, MlText *job_text, GError *error, const char *label);

/* window-notice.c */
void ml_window_show_tools (MlWindow *self); /* the row of tools above the drawing, in Draw; in a short window not while a click on the drawing is waited for */
void ml_window_build_notice (MlWindow *self); /* once the views are there */
void ml_window_place_notice (MlWindow *self); /* what it keeps off may have moved */
/* A sentence over the drawing. action (may be NULL): a detailed action for its button, named label. */
void ml_window_notice (MlWindow *self, const char *text, const char *label, const char *action);
void ml_window_notice_passes (MlWindow *self); /* what was said just now only confirms: it soon goes by itself, its button too */
/* The same, until ml_window_notice_over is called with that word: what it says is no longer so. */
void ml_window_notice_until (MlWindow *self, const char *word, const char *text, const char *label, const char *action);
void ml_window_notice_over (MlWindow *self, const char *word);
void ml_window_show_hint (MlWindow *self, const char *text);

/* window-keys.c */
void ml_window_build_keys (MlWindow *self);
void ml_window_focus_canvas (MlWindow *self); /* where work goes on, unless the keyboard is at the switch of modes itself */

/* window-enabled.c */
void ml_window_build_draw_bar (MlWindow *self);
/* The one place that says what can be done now. */
void ml_window_refresh_actions (MlWindow *self);

/* window-actions.c */
void ml_window_add_actions (MlWindow *self);
void ml_window_set_state (MlWindow *self, const char *action, GVariant *state);
GAction *ml_window_action (MlWindow *self, const char *name);

/* window-menus.c */
void ml_window_build_menus (MlWindow *self);
void ml_window_refresh_unit_menu (MlWindow *self);
void ml_window_open_part_menu (MlWindow *self, int part, int pin, int net, double x, double y);

/* window-places.c: the table of a part in all conditions */
void ml_window_build_places (MlWindow *self);
void ml_window_show_all_conditions (MlWindow *self);

/* window-units.c: units, passes, log, and the other small questions */
void ml_window_ask_unit (MlWindow *self, gboolean good);
void ml_window_ask_unit_name (MlWindow *self);
void ml_window_ask_pass (MlWindow *self);
void ml_window_ask_log (MlWindow *self, const char *what);
void ml_window_ask_title (MlWindow *self);
void ml_window_ask_job_title (MlWindow *self);
/** ml_window_call_unit: the unit shown is a good one from now on, or one to be repaired. */
void ml_window_call_unit (MlWindow *self, gboolean good);

/* window-files.c */
void ml_window_choose_open (MlWindow *self);
void ml_window_choose_board (MlWindow *self);
/* The board of the job that is open, which could not be read where the job says. */
void ml_window_find_board (MlWindow *self, const char *path);
void ml_window_save (MlWindow *self, gboolean under_new_name);
gboolean ml_window_may_close (MlWindow *self); /* FALSE: it asks first, and closes later if that is the answer */
void ml_window_choose_board_picture (MlWindow *self);
/* The native dialog vanishes with its last reference: the window keeps it as its data "chooser" until it has answered. */
GtkFileChooserNative *ml_window_chooser_new (MlWindow *self, const char *title, GtkFileChooserAction action, const char *accept);
void ml_window_add_filter (GtkFileChooser *chooser, const char *name, const char *const *patterns);
char *ml_window_chosen_path (GtkNativeDialog *dialog); /* new string; NULL: none */
char *ml_window_file_stem (MlWindow *self); /* "pump" of pump.leafjob; NULL: not saved yet; new string */
char *ml_window_suggested_name (MlWindow *self, const char *ending);

/* window-elsewhere.c: files that another program has written meanwhile */
void ml_window_build_elsewhere (MlWindow *self);
void ml_window_clear_elsewhere (MlWindow *self);
void ml_window_watch_files (MlWindow *self); /* those that are open now */
void ml_window_read_files (MlWindow *self);

/* window-paper.c: what leaves the window for paper or another program */
/* A name typed without an ending gets the usual one, one with two the one that was typed, unless a file would be written over unasked. Takes path. */
char *ml_window_with_usual_ending (char *path, const char *ending);
void ml_window_choose_picture (MlWindow *self);
void ml_window_keep_picture (MlWindow *self);  /* the small picture for the start page */
void ml_window_copy_picture (MlWindow *self);
void ml_window_print (MlWindow *self);
GtkPrintOperation *ml_window_print_operation (MlWindow *self);
void ml_window_choose_report (MlWindow *self);
void ml_window_write_report (MlWindow *self, const char *path); /* in a thread; says when it is done */

/* window-look.c: what was looked at last */
void ml_window_keep_look (MlWindow *self);
void ml_window_keep_look_soon (MlWindow *self);
void ml_window_restore_look (MlWindow *self);

/* window-views.c: circuit drawing, picture of the real board, or both */
void ml_window_build_views (MlWindow *self);
void ml_window_show_view (MlWindow *self, const char *view); /* "circuit", "picture" or "both" */
void ml_window_say_picture_trouble (MlWindow *self);

/* window-picture.c: the picture of the real board */
void ml_window_accept_drops (MlWindow *self);
void ml_window_load_picture (MlWindow *self, const char *path);
void ml_window_picture_changed (MlWindow *self);
void ml_window_other_picture (MlWindow *self);
void ml_window_remove_picture (MlWindow *self);
void ml_window_carry_pads (MlWindow *self);
/* The board goes to another folder: its pictures are named from there. FALSE: nothing had to change. */
gboolean ml_window_rebase_pictures (MlWindow *self, const char *board_path);
void ml_window_ask_nears (MlWindow *self);
void ml_window_offer_nears (MlWindow *self);

G_END_DECLS
