/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The board: the circuit as drawn, read from a text. Immutable once read; every index below is an index into the board's arrays. */
#pragma once

#include <glib.h>

#include "board/diagnostics.h"
#include "board/kinds.h"
#include "board/text.h"

G_BEGIN_DECLS

/* Above this, d.c., what can be touched is called dangerous: commonly cited limit of IEC 61010-1. What the verdict suggests goes by next.unsafe-volts
 * of data/assumptions.table, which a board may change. */
#define ML_TOUCH_LIMIT_V 60.0

typedef struct
{
  char *name;  /* in the file */
  char *label; /* NULL when none */
  char *words; /* what a person is told: the name, or of a generated one, by which a drawing at most tells its flags apart, a pin on the net: "J1.2" */
  gboolean switching;
  gboolean generated; /* named by the program ("N7") */
  guint line;         /* of its `net` statement, 0 when there is none; lines count from 1 here and in all structs below */
  int prefer;         /* +1 high, -1 low, 0 not said */
} MlNet;

typedef struct
{
  char *name; /* "collector", "1", "VDD" */
  int net;    /* -1: open */
  guint line, column;
} MlPin;

typedef struct
{
  const MlKeyInfo *info;
  char *text;              /* as written */
  MlQuantity quantity, at; /* for ML_KEY_IS_QUANTITY and ML_KEY_IS_AT */
  guint line, column;
  gboolean from_datasheet;
} MlAttribute;

typedef struct
{
  double x, y; /* grid units of the circuit drawing */
  int turn;    /* quarter turns clockwise, 0..3 (written in degrees) */
  gboolean mirror;
} MlPlace;

/* On which edge of a block's box a pin is drawn. The names are the keys of `place`, in this order. */
typedef enum { ML_EDGE_RIGHT, ML_EDGE_BOTTOM, ML_EDGE_LEFT, ML_EDGE_TOP, ML_N_EDGES } MlEdge;
extern const char *const ml_edge_names[ML_N_EDGES + 1]; /* NULL-terminated */
/* Where a pin is drawn. Of a block: at: how many of that edge come before it, from the top or from the left. Of a connector whose pins are drawn one by
 * one: x, y in grid units, edge: where its wire leaves. edge -1: not said. */
typedef struct { int edge; guint at; double x, y; } MlPinPlace;

typedef struct
{
  char *name;
  const MlKindInfo *kind;
  char *datasheet; /* the part number used, or NULL */
  char *package;   /* or NULL */
  MlPin *pins;
  guint n_pins;
  MlAttribute *attributes; /* written ones first, then those of its datasheet */
  guint n_attributes;
  gboolean placed;
  MlPlace place;
  MlPinPlace *pin_places;       /* block, connector: n_pins of them, NULL when its place says nothing of its pins */
  int by;                       /* contact: the coil part; -1 otherwise */
  int supply_pin, ground_pin;   /* block: which pins; -1 when not known */
  guint line;
} MlPart;

typedef struct
{
  char *name; /* "1", "2", … when unnamed */
  int plus, minus; /* nets */
  double voltage_v;
  double limit_a; /* 3 when not written */
  gboolean limit_written;
  guint line;
} MlSupply;

typedef struct
{
  int plus, minus;
  double resistance_ohm; /* NAN when a current load */
  double current_a;      /* NAN when a resistance */
  guint line;
} MlLoad;

typedef enum { ML_SETTING_OPEN, ML_SETTING_CLOSED, ML_SETTING_A, ML_SETTING_B, ML_SETTING_MIDDLE, ML_SETTING_POSITION } MlSettingState;

typedef struct
{
  int part;
  MlSettingState state;
  double position; /* fraction, for ML_SETTING_POSITION */
  guint line;
} MlSetting;

typedef struct { int part, pin; guint line; } MlLift;   /* a leg lifted off its pad */
typedef struct { int part; guint line; } MlRemoval;
typedef struct { int net_a, net_b; guint line; } MlConnect;

typedef struct
{
  char *name, *label; /* label NULL when none */
  MlSupply *supplies;   guint n_supplies;   /* none: cold */
  MlLoad *loads;        guint n_loads;
  MlSetting *settings;  guint n_settings;
  MlLift *lifts;        guint n_lifts;
  MlRemoval *removals;  guint n_removals;
  MlConnect *connects;  guint n_connects;
  guint line;
} MlCondition;

typedef struct { int part_a, pin_a, part_b, pin_b; gboolean joined; guint line; } MlBeep;
typedef struct { int net_a, net_b; guint line; } MlNear;
typedef struct { char *what, *text; guint line; } MlHazard; /* what: mains, capacitor, lithium */
typedef struct { int part, pin; double x_px, y_px; guint line; } MlPad; /* pin -1: the part's middle */
typedef struct
{
  char *file;
  gboolean bottom, mirror;
  double scale_px_per_mm; /* NAN when not known */
  double turn_deg;
  MlPad *pads;
  guint n_pads;
  guint line;
} MlPicture;

typedef struct _MlBoard
{
  /*< read-only >*/
  char *title, *revision; /* NULL when not written */
  int reference;          /* net; -1 when none was named */
  MlNet *nets;             guint n_nets;
  MlPart *parts;           guint n_parts;
  MlCondition *conditions; guint n_conditions;
  MlBeep *beeps;           guint n_beeps;
  MlNear *nears;           guint n_nears;
  MlHazard *hazards;       guint n_hazards;
  MlPicture *pictures;     guint n_pictures;
  char **notes;            /* NULL-terminated */
  MlText *text;
} MlBoard;

/**
 * ml_board_read: the board that a text describes. Never NULL: statements in error are left out and said in diagnostics (may be NULL).
 * Limits: see ML_BOARD_MAX_*; a file beyond them is an error, not a crash.
 */
MlBoard *ml_board_read (MlText *text, MlDiagnostics *diagnostics);
MlBoard *ml_board_ref (MlBoard *board);
void ml_board_unref (MlBoard *board);

/** ml_board_check: warnings and notes on a board that reads without errors (pins joined to nothing, no reference, beeps that contradict, kinds not simulated yet, supplies without limit …). */
void ml_board_check (const MlBoard *board, MlDiagnostics *diagnostics);

/** ml_board_same_circuit: whether two states of one file differ in `place` and `picture` statements at most: every index and whatever is computed from
 *  parts, nets and conditions is the same. FALSE says nothing: one changed comment is enough. */
gboolean ml_board_same_circuit (const MlBoard *a, const MlBoard *b);
/** ml_board_same_pictures: the same of the `picture` statements with their pads, which say who neighbours whom. */
gboolean ml_board_same_pictures (const MlBoard *a, const MlBoard *b);

int ml_board_find_net (const MlBoard *board, const char *name);
/** ml_board_telling_pin: of the pins on that net the one that a person finds soonest, other than `but` (may be NULL): "J1.2"; new string, NULL: none. */
char *ml_board_telling_pin (const MlBoard *board, int net, const MlPin *but);
/** ml_condition_setting: how that part is set there; NULL: it is not. */
const MlSetting *ml_condition_setting (const MlCondition *condition, int part);
/** ml_condition_supplies: whether a supply's lead is on that net there. */
gboolean ml_condition_supplies (const MlCondition *condition, int net);
/** ml_board_supplies: whether one is in any condition. */
gboolean ml_board_supplies (const MlBoard *board, int net);
int ml_board_find_part (const MlBoard *board, const char *name);
int ml_board_find_condition (const MlBoard *board, const char *name);
/**
 * ml_part_find_pin: index into part->pins, or -1. A part whose kind has fixed pins has all of them in its array, in the kind's order,
 * those left out of the file with net -1 and line 0; a capacitor's pins are found by either pair of names.
 */
int ml_part_find_pin (const MlPart *part, const char *name);
/** ml_part_pin_on: the first of its pins on that net; -1: none, as where net is -1. */
int ml_part_pin_on (const MlPart *part, int net);
/** ml_board_find_pad: where that pin (-1: the part's middle) lies on board->pictures[picture]: index into its pads, or -1. */
int ml_board_find_pad (const MlBoard *board, int picture, int part, int pin);
const MlAttribute *ml_part_attribute (const MlPart *part, MlKey key);
/** ml_part_value_text: what stands beside the symbol: "4k7", "BC547", "6.2 V", "" ; new string. */
char *ml_part_value_text (const MlPart *part);
gboolean ml_condition_is_cold (const MlCondition *condition);
/** ml_part_number: the one at that place in the table of part numbers (data/parts.table) and its kind; NULL past the last. It lives for the process. */
const char *ml_part_number (guint index, const MlKindInfo **ret_kind);

#define ML_PICTURE_MAX_PX 1e6 /* no pad lies farther out */
#define ML_BOARD_MAX_PARTS 20000u
#define ML_BOARD_MAX_PINS 4096u /* of one part */
#define ML_BOARD_MAX_WORD 4096u
#define ML_BOARD_MAX_CONDITIONS 1000u
#define ML_BOARD_MAX_SUPPLIES 100u /* of one condition */

G_DEFINE_AUTOPTR_CLEANUP_FUNC (MlBoard, ml_board_unref)
G_END_DECLS
