/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The drawing on screen: shows the document's scene with its marks, moves about in it, and is where a board is drawn and readings are
 * taken. Every part and pin is also a child widget, so that the keyboard and a screen reader reach what the mouse reaches.
 *
 * The canvas has no key table of its own: single keys come from the program's table of actions, installed on this widget by the window,
 * which calls the functions below. What the canvas does itself is typing: a digit, a sign or a mark opens the entry at the selection. */
#pragma once

#include <gtk/gtk.h>

#include "desktop/document.h"
#include "desktop/room.h"
#include "desktop/viewport.h"
#include "drawing/paint.h"

G_BEGIN_DECLS

#define ML_TYPE_CANVAS (ml_canvas_get_type ())
G_DECLARE_FINAL_TYPE (MlCanvas, ml_canvas, ML, CANVAS, GtkWidget)

typedef enum
{
  ML_CANVAS_DRAW,   /* parts are added, moved, joined, given values */
  ML_CANVAS_MEASURE /* pins are probed, readings typed */
} MlCanvasMode;

/* What the canvas shows of the document. */
typedef enum
{
  ML_CANVAS_CIRCUIT, /* the circuit drawing */
  ML_CANVAS_PICTURE  /* the picture of the real board; "drawing" is pinning pads there */
} MlCanvasView;

/* What is laid over the circuit. */
typedef enum
{
  ML_CANVAS_SHOW_FLOW = 1 << 0,
  ML_CANVAS_SHOW_EXPECTED = 1 << 1,
  ML_CANVAS_SHOW_VERDICT = 1 << 2,
  ML_CANVAS_SHOW_LEGEND = 1 << 3
} MlCanvasShow;

/*
 * Signals:
 *   "hint"   (const char *text)   one line saying what a click does now ("Click the pin to join it with"); "" when nothing is under way
 *   "failed" (const char *text)   something asked for could not be done, in a sentence for the person
 *   "menu"   (int part, int pin, int net, double x, double y)   the menu of that thing was asked for at x, y in the canvas; -1 where it does not apply
 *   "read-supply" (int condition, int supply)   what that supply shows is to be typed
 *   "pictured" ()   a picture has got its scale, or its last pin was pinned
 *   "arranged" ()   it was given its room; panels and places are where they will be seen
 * Properties: "mode" (int, MlCanvasMode), "show" (uint, MlCanvasShow flags), both readable, writable, notified.
 */

/** ml_canvas_take_panels: closes what is open for typing. What was typed there counts if it can, as with Enter: nothing typed is lost. */
void ml_canvas_take_panels (MlCanvas *self);
/** ml_canvas_new: shows document, in ML_CANVAS_MEASURE, with everything shown but the legend. */
GtkWidget *ml_canvas_new (MlDocument *document);

/** ml_canvas_set_view: to be called before the canvas is shown; at first ML_CANVAS_CIRCUIT. */
void ml_canvas_set_view (MlCanvas *self, MlCanvasView view);
MlCanvasView ml_canvas_get_view (MlCanvas *self);

/** ml_canvas_is_settled: what is shown stays where it is until somebody does something. */
gboolean ml_canvas_is_settled (MlCanvas *self);

MlCanvasMode ml_canvas_get_mode (MlCanvas *self);
/** ml_canvas_set_mode: leaves what is under way (an open entry, a half-made join). */
void ml_canvas_set_mode (MlCanvas *self, MlCanvasMode mode);
guint ml_canvas_get_show (MlCanvas *self);
void ml_canvas_set_show (MlCanvas *self, guint show);
void ml_canvas_set_paper (MlCanvas *self, MlPaper paper);
/** ml_canvas_set_other_unit: the unit whose readings are compared with; -1: none. */
void ml_canvas_set_other_unit (MlCanvas *self, int unit);
/** ml_canvas_set_explanation: the explanation chosen in the findings, by id; its parts are brought out. 0: none. */
void ml_canvas_set_explanation (MlCanvas *self, guint id);

/* ---- moving about ---- */

/** ml_canvas_fit: the whole drawing in the window, and so it stays until it is moved or zoomed by hand. */
void ml_canvas_fit (MlCanvas *self);
/** ml_canvas_keep_off_corner: something of that size lies over the lower right corner: what is fitted keeps off it. 0: nothing does. */
void ml_canvas_keep_off_corner (MlCanvas *self, int width_px, int height_px);
/** ml_canvas_release: the whole drawing in the window again, if it only stayed where it was so that nothing moved under the hand that draws. */
void ml_canvas_release (MlCanvas *self);
MlLook ml_canvas_look (MlCanvas *self);
/** ml_canvas_look_at: what ml_canvas_look said another time, once the drawing is there and the size is known. */
void ml_canvas_look_at (MlCanvas *self, const MlLook *look);
void ml_canvas_zoom_in (MlCanvas *self);
void ml_canvas_zoom_out (MlCanvas *self);
/** ml_canvas_reveal: moves just enough that the part (pin -1) or pin is in view. */
void ml_canvas_reveal (MlCanvas *self, int part, int pin);
/** ml_canvas_open_panel: the entry or the line for a name or a value that is open; NULL: none. */
GtkWidget *ml_canvas_open_panel (MlCanvas *self);
/** ml_canvas_add_busy: appends what is there, in the widget's pixels moved by dx, dy, to an array of MlBusy: the open panel, the selected place and
 * the probes must be seen; parts and pins rather than not. */
void ml_canvas_add_busy (MlCanvas *self, int dx, int dy, GArray *busy);
/** ml_canvas_add_written: appends what is written on the drawing in that sense: names, values, readings, what is expected, the probes. */
void ml_canvas_add_written (MlCanvas *self, int dx, int dy, GArray *busy);
/** ml_canvas_place_rect: where the part (pin -1) or pin is in the widget, in pixels. FALSE: it is not shown. */
gboolean ml_canvas_place_rect (MlCanvas *self, int part, int pin, GdkRectangle *ret_rect);
/** ml_canvas_walk: selects the neighbour of the selection in that direction, along wires first; the first part when nothing is selected. */
void ml_canvas_walk (MlCanvas *self, MlSide direction);
/** ml_canvas_cancel: Esc: leaves the innermost thing under way; then ends a supposed fault; then the selection. FALSE: there was nothing. */
gboolean ml_canvas_cancel (MlCanvas *self);

/* ---- drawing; each does nothing, with a "failed" that says why, where it does not apply ---- */

/** ml_canvas_open_add_list: the list of part kinds with its search field, at the pointer or in the middle. */
void ml_canvas_open_add_list (MlCanvas *self);
/** ml_canvas_add_part: a part of that kind (number: its part number, or NULL) hangs at the pointer; a click sets it, Esc drops it. A relay's contact
 * goes to the coil when there is only one. */
void ml_canvas_add_part (MlCanvas *self, const MlKindInfo *kind, const char *number);
/** ml_canvas_add_electrolytic: the same with a capacitor whose pins are plus and minus. */
void ml_canvas_add_electrolytic (MlCanvas *self);
void ml_canvas_turn (MlCanvas *self);   /* the part in hand, else the selected one */
void ml_canvas_mirror (MlCanvas *self);
/** ml_canvas_remove: the selected part; with a pin selected, the pin's connection. */
void ml_canvas_remove (MlCanvas *self);
void ml_canvas_edit_value (MlCanvas *self);
/** ml_canvas_rename: the selected part, or the net of the selected pin. */
void ml_canvas_rename (MlCanvas *self);
void ml_canvas_rename_net (MlCanvas *self, int net);
/** ml_canvas_plus_pin: the pin of a capacitor that is its plus; -1: it has no polarity (or is no capacitor). */
int ml_canvas_plus_pin (const MlPart *part);
/** ml_canvas_set_polarity: of the selected capacitor: plus_pin is its plus from now on; -1: none is. Its readings and pads stay at their legs. */
void ml_canvas_set_polarity (MlCanvas *self, int plus_pin);
/** ml_canvas_rename_pin: the selected pin of a connector, test point or block. */
void ml_canvas_rename_pin (MlCanvas *self);
/** ml_canvas_add_pin: one more pin for the selected connector, test point or block. */
void ml_canvas_add_pin (MlCanvas *self);

/* picked NULL: left with Esc, or something else was begun. Otherwise a pin, wire or flag: picked->net is set unless the pin is open. */
typedef void (*MlCanvasPickFunc) (MlCanvas *canvas, const MlHit *picked, gpointer data);
/** ml_canvas_set_partner: another canvas of the same document (not owned), which picks while this one is not on screen. */
void ml_canvas_set_partner (MlCanvas *self, MlCanvas *partner);
/** ml_canvas_hint: what the signal "hint" said last; borrowed. */
const char *ml_canvas_hint (MlCanvas *self);
/** ml_canvas_pick: the next click on a pin or wire goes to func, once. prompt is shown as the hint: "Click where the red lead goes". */
void ml_canvas_pick (MlCanvas *self, const char *prompt, MlCanvasPickFunc func, gpointer data, GDestroyNotify destroy);
/** ml_canvas_stop_pick: what a click was waited for is not wanted any more. */
void ml_canvas_stop_pick (MlCanvas *self);
gboolean ml_canvas_picks (MlCanvas *self); /* a click is waited for */
gboolean ml_canvas_holds_part (MlCanvas *self); /* a new part hangs at the pointer */

/* ---- the picture of the real board; for a canvas that shows it ---- */

/** ml_canvas_pin_step: the next (1) or previous (-1) pin that has no place on the picture is asked for. */
void ml_canvas_pin_step (MlCanvas *self, int step);
/** ml_canvas_scale_picture: the next two clicks are two points whose distance is then asked for. */
void ml_canvas_scale_picture (MlCanvas *self);

/* ---- measuring ---- */

/** ml_canvas_focus_place: goes to that condition, puts the probes there and brings them into view. black NULL: the reference. */
void ml_canvas_focus_place (MlCanvas *self, const MlProbe *red, const MlProbe *black, int condition);
/** ml_canvas_open_entry: for a reading at the probes, else at the selection. */
void ml_canvas_open_entry (MlCanvas *self);
gboolean ml_canvas_entry_is_open (MlCanvas *self);
/** ml_canvas_reading_here: the standing reading at the probes, else at the selection, in the condition shown; an index, -1: none. */
int ml_canvas_reading_here (MlCanvas *self);
/** ml_canvas_take_out: removes that reading, and those that it replaced, from the job. FALSE: there is none. */
gboolean ml_canvas_take_out (MlCanvas *self);
void ml_canvas_swap_probes (MlCanvas *self);
/** ml_canvas_toggle_lead: the probe set last stands on the part's own metal instead of the solder, or on the solder again. */
void ml_canvas_toggle_lead (MlCanvas *self);
/** ml_canvas_step_reading: the next (1) or previous (-1) of the suggested readings, else of the places not read yet. */
void ml_canvas_step_reading (MlCanvas *self, int step);
/** ml_canvas_take_suggested: probes to the first suggested reading and the entry open there. */
void ml_canvas_take_suggested (MlCanvas *self);

G_END_DECLS
