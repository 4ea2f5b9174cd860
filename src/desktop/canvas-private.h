/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The canvas's inside, shared by canvas.c (the widget) and canvas-….c, each of which is one thing that it does. */
#pragma once

#include "desktop/canvas-layer.h"
#include "desktop/canvas-target.h"
#include "desktop/canvas.h"
#include "desktop/viewport.h"
#include "drawing/overlay-plan.h"

G_BEGIN_DECLS

/* What is under way. */
typedef enum
{
  ML_DOING_NOTHING,
  ML_DOING_PAN,     /* the sheet follows the hand */
  ML_DOING_MOVE,    /* a part follows the hand */
  ML_DOING_JOIN,    /* one pin is chosen, the other is not */
  ML_DOING_ADD,     /* a new part hangs at the pointer */
  ML_DOING_PICK,    /* someone waits for a pin */
  ML_DOING_SCALE    /* two points of a picture are clicked */
} MlDoing;

/* The part that hangs at the pointer. */
typedef struct
{
  const MlKindInfo *kind;
  gboolean polar; /* a capacitor with plus and minus */
  char *number;   /* what is printed on it; NULL */
  int turn;
  gboolean mirror;
  MlScene *scene; /* the part alone, at the sheet's origin */
} MlHand;

typedef struct
{
  MlCanvasPickFunc func;
  gpointer data;
  GDestroyNotify destroy;
  char *prompt;
} MlPick;

/* Pins that are placed on a picture one after the other. */
typedef struct
{
  int picture;
  int part, pin;           /* asked for; -1: none */
  int last_part, last_pin; /* placed last; -1 */
  gboolean dragging;       /* a pad follows the hand */
  int dragged_part, dragged_pin;
  MlPoint grip;            /* g, from the pointer to the pad's middle when it was taken */
  MlPoint scale[2];        /* in pixels of the picture */
  guint n_scale;
} MlPinning;

/* What drawing and marks take of the sheet in one condition, g. */
typedef struct
{
  MlBox box;
  gboolean known; /* at least of an earlier job or verdict, on a drawing as large */
  gboolean fresh; /* of those that are there now */
} MlCanvasRoom;

struct _MlCanvas
{
  GtkWidget parent_instance;

  MlDocument *document; /* owned */
  MlCanvas *partner;    /* borrowed */
  gboolean partnered;   /* it has a partner, or is one */
  gulong changed_handler;

  /* how it is shown */
  MlViewport viewport;
  MlLook wanted_look;
  gboolean wants_look; /* as soon as it can be: drawing and size are known */
  MlCanvasLayer layer;
  guint zooming; /* a timeout while the zoom is changing: then the layer may be stretched; 0: at rest */
  guint marks_version;  /* of all that the plan and the layer are made from */
  gboolean displaced;   /* there is a new scene, and the widgets still stand where the one before had them */
  GArray *rooms;        /* MlCanvasRoom, the first of no condition, then one a condition */
  MlBox rooms_sheet;    /* the scene's extent that they belong to */
  int rooms_condition;  /* the one shown when they were asked for last */
  guint taking_rooms;   /* an idle source while those of the other conditions are worked out; 0 */
  MlPlan *plan;         /* the marks placed; NULL until painted */
  guint plan_version;
  MlCanvasMode mode;
  MlCanvasView view;
  MlScene *magnified; /* a picture's scene while magnify is above 1; NULL: to be made */
  double magnify;
  gboolean stale; /* the document changed while the canvas was not on screen */
  guint show;
  MlPaper paper;
  int other_unit;
  guint explanation;
  gboolean *chosen; /* parts of the explanation chosen; NULL */
  guint n_chosen;

  /* the widgets on it */
  GPtrArray *targets; /* MlCanvasTarget, one per part followed by its pins; borrowed: they are children */
  MlBoard *targets_board; /* what they stand for */
  GtkWidget *entry, *line_entry;
  gboolean following;           /* after a reading the probes were put where the next is suggested, and nobody has touched anything since */
  MlProbe put_red, put_black;   /* where they were put then */
  GtkWidget *add_list; /* NULL until asked for */
  MlBox panel_at; /* what an open entry is about, in g: it is put beside it */
  int panel_width_px;       /* with its frame */
  guint panel_room;         /* an idle source while the sheet is to be moved for it; 0 */
  gboolean moved_for_panel; /* the sheet was, and goes back when it closes */
  MlViewport before_panel, beside_panel; /* as it was, and as it was moved to */

  /* what the hand does */
  MlDoing doing;
  MlPoint pointer; /* px */
  gboolean pointer_inside;
  gboolean by_keys; /* a part was set where no pointer is */
  MlHit hover;
  MlHit pressed;        /* what lay under the pointer when a button went down */
  MlPoint panned;       /* px, of the pan under way already done */
  MlPoint drag_from;    /* px, where the drag under way began */
  MlPoint edge_panned;  /* px, moved by since then because the hand is at the edge */
  guint edge_tick;      /* while it is; 0 */
  gint64 edge_since_us, edge_last_us;
  double pinched;       /* the pinch's scale already done */
  int join_part, join_pin;
  gboolean dragged_join;
  gboolean click_used; /* the click before joined two pins or set a part: one that follows fast begins anew */
  MlPlace place_before, place_now; /* of the part that is moved */
  MlHand hand;
  char turning_key[2]; /* the key just pressed when it turned or mirrored the part, which it may have begun the value of; "" */
  int turned_part;
  gint64 turned_us;
  MlPick pick;
  MlPinning pinning;
  int asked_part, asked_pin, asked_net; /* what the line entry is about */
  char *hint;
};

/* canvas.c */
MlScene *ml_canvas_scene (MlCanvas *self); /* borrowed */
void ml_canvas_pictured (MlCanvas *self);
void ml_canvas_read_supply (MlCanvas *self, int condition, int supply);
void ml_canvas_fail (MlCanvas *self, const char *format, ...) G_GNUC_PRINTF (2, 3);
void ml_canvas_fail_error (MlCanvas *self, const GError *error);
void ml_canvas_update_hint (MlCanvas *self);
void ml_canvas_ask_for_menu (MlCanvas *self, const MlHit *hit, double x_px, double y_px);

/* canvas-view.c */
MlHit ml_canvas_hit (MlCanvas *self, double x_px, double y_px);
MlBox ml_canvas_place_box (MlCanvas *self, int part, int pin);
gboolean ml_canvas_shows (MlCanvas *self, int part, int pin); /* on a picture only what is pinned is there */
/* The pin of a net that lies nearest to a point of the sheet. FALSE: the net has none. */
gboolean ml_canvas_nearest_pin (MlCanvas *self, int net, MlPoint at, int *ret_part, int *ret_pin);
void ml_canvas_select_and_focus (MlCanvas *self, int part, int pin);
void ml_canvas_zoom_at (MlCanvas *self, double factor, double x_px, double y_px);
void ml_canvas_take_look (MlCanvas *self); /* the one wanted, if it can be had now */
void ml_canvas_pan_by (MlCanvas *self, double dx_px, double dy_px);
void ml_canvas_reveal_box (MlCanvas *self, MlBox box); /* moves as little as brings it into view */

MlPlace ml_canvas_hand_place (MlCanvas *self); /* that at which the middle of the part in hand is nearest to the pointer */
void ml_canvas_hand_set (MlCanvas *self, gboolean more); /* more: one more of its kind is in hand then */
void ml_canvas_hand_begin (MlCanvas *self); /* where no pointer says where it goes, it is shown where there is room */
gboolean ml_canvas_hand_walk (MlCanvas *self, MlSide direction); /* the part in hand, by the arrow keys; FALSE: there is none */
gboolean ml_canvas_hand_enter (MlCanvas *self); /* it is set, beside what is there already */

/* canvas-edge.c */
void ml_canvas_edge_watch (MlCanvas *self); /* the hand moved: near the view's edge the sheet goes on under what is being drawn */
void ml_canvas_reveal_labels (MlCanvas *self); /* what was drawn by hand may have pushed a name out of view */
void ml_canvas_reveal_net (MlCanvas *self, int net); /* all its wires and flags, if they fit */

/* canvas-panels.c */
void ml_canvas_close_panels (MlCanvas *self);
void ml_canvas_show_panel (MlCanvas *self, GtkWidget *panel, MlBox at);
void ml_canvas_allocate_panel (MlCanvas *self, GtkWidget *panel, int width, int height);
void ml_canvas_panel_follows (MlCanvas *self); /* the drawing is another one: an open panel goes along with what is selected */
gboolean ml_canvas_focus_in_panel (GtkWidget *panel, GtkDirectionType direction);
void ml_canvas_focus_selection (MlCanvas *self);

/* canvas-marks.c */
void ml_canvas_paint (MlCanvas *self, cairo_t *cr); /* the context's unit is the view's pixel */
/* Something of the marks or the scene looks different now. */
void ml_canvas_marks_changed (MlCanvas *self);
/* Room for the drawing and what is written round it in any condition: looking at another one moves nothing. */
/* What there is to see: only larger than it was; as it is now when that is much less; as it is now. */
typedef enum { ML_EXTENT_GROWS, ML_EXTENT_FOLLOWS, ML_EXTENT_ANEW } MlExtent;
void ml_canvas_take_extent (MlCanvas *self, MlExtent how);
gboolean ml_canvas_forget_rooms (MlCanvas *self); /* marks, or the scene too, changed in every condition. FALSE: the drawing is as large as before */
void ml_canvas_take_chosen (MlCanvas *self); /* the parts of the explanation chosen */

/* canvas-targets.c */
MlCanvasTarget *ml_canvas_target_of (MlCanvas *self, int part, int pin); /* NULL: none */
gboolean ml_canvas_focus_is_on_target (MlCanvas *self);
void ml_canvas_sync_targets (MlCanvas *self); /* one for every part and pin of the board; the focus stays with the selection */
void ml_canvas_remove_targets (MlCanvas *self);
void ml_canvas_describe_targets (MlCanvas *self);
void ml_canvas_allocate_target (MlCanvas *self, GtkWidget *target);

/* canvas-pointer.c */
void ml_canvas_add_controllers (MlCanvas *self);
void ml_canvas_typed (MlCanvas *self, const char *text);

/* canvas-selected.c */
void ml_canvas_draw_typed (MlCanvas *self, const char *text);
gboolean ml_canvas_selected_part (MlCanvas *self, int *ret_part, int *ret_pin); /* FALSE: none, which is said */

/* canvas-draw.c */
const MlPart *ml_canvas_part (MlCanvas *self, int part);
/* Text NULL: the edit could not be done, and error says why. Both are given up. */
gboolean ml_canvas_apply (MlCanvas *self, MlText *text, GError *error, const char *label);
MlPlace ml_canvas_place_of (MlCanvas *self, int part);
void ml_canvas_turn_hand (MlCanvas *self, int quarter_turns, gboolean flip); /* the part that hangs at the pointer */
void ml_canvas_draw_click (MlCanvas *self, const MlHit *hit, gboolean more); /* click_used is set by it */
void ml_canvas_draw_double_click (MlCanvas *self, const MlHit *hit);
void ml_canvas_draw_drag_begin (MlCanvas *self);
void ml_canvas_draw_drag_update (MlCanvas *self, MlPoint from_px, MlPoint to_px);
void ml_canvas_draw_drag_end (MlCanvas *self);
void ml_canvas_draw_stop (MlCanvas *self);
void ml_canvas_draw_paint (MlCanvas *self, cairo_t *cr); /* the context's unit is g */
void ml_canvas_end_pick (MlCanvas *self, const MlHit *picked);

/* canvas-pin.c */
gboolean ml_canvas_pins (MlCanvas *self); /* clicks place pins on the picture */
void ml_canvas_pin_follow (MlCanvas *self); /* board or selection changed */
void ml_canvas_pin_click (MlCanvas *self, const MlHit *hit, gboolean more);
gboolean ml_canvas_pin_enter (MlCanvas *self);
gboolean ml_canvas_pin_walk (MlCanvas *self, MlSide direction);
gboolean ml_canvas_pin_drag_begin (MlCanvas *self, MlPoint at_px);
void ml_canvas_pin_drag_end (MlCanvas *self);
void ml_canvas_pin_stop (MlCanvas *self);
void ml_canvas_pin_remove (MlCanvas *self);
void ml_canvas_pin_orient (MlCanvas *self, int quarter_turns, gboolean flip);
void ml_canvas_pin_paint (MlCanvas *self, cairo_t *cr);
char *ml_canvas_pin_hint (MlCanvas *self);

/* canvas-measure.c */
void ml_canvas_measure_add_entry (MlCanvas *self);
void ml_canvas_measure_click (MlCanvas *self, const MlHit *hit);
void ml_canvas_measure_selected (MlCanvas *self); /* probes follow the selection */
void ml_canvas_measure_typed (MlCanvas *self, const char *text);
void ml_canvas_measure_stop (MlCanvas *self);
void ml_canvas_measure_follow (MlCanvas *self); /* there is another verdict: probes that the program put where the one before said go along */
gboolean ml_canvas_offers_reading (MlCanvas *self); /* both probes stand where the program or the person put them, and nothing is typed yet */
gboolean ml_canvas_half_probed (MlCanvas *self); /* red stands, the next pin clicked is black: on whichever view */

G_END_DECLS
