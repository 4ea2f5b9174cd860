/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the placement moves. A piece is a part, one terminal of a connector, or several of them held together as a draughtsman would
 * draw them; a form is one way of drawing a piece (turned, mirrored, pins of a block in another order). Costs are integers, x 20. */
#pragma once

#include "drawing/layout-circuit.h"

G_BEGIN_DECLS

#define ML_COST(x) ((int) ((x) * 20 + ((x) < 0 ? -0.5 : 0.5)))

typedef struct { int x, y; MlSide side; } MlFormPin;
typedef struct { int piece, form, dx, dy; } MlMember; /* of a composite: a plain piece and one of its forms */

typedef struct
{
  int cost;
  int turn;            /* plain pieces: how the artwork is drawn */
  gboolean mirror;
  const char *symbol;
  int width, height;   /* boxes: the rectangle is (1,0) - (1 + width, height), or as turned below */
  MlCells frame;       /* boxes: the rectangle */
  MlFormPin *pins;     /* as the piece's pins */
  MlCells *cores; guint n_cores; /* no wire may go there */
  MlCells *rooms; guint n_rooms; /* better left to labels and flags */
  MlMember *members; guint n_members;
  MlCells hull;        /* of cores and rooms */
  MlCells pin_hull;
  int *sides;          /* boxes: per pin 65536 x side + place within the side; NULL otherwise */
} MlForm;

typedef enum { ML_PIECE_PART, ML_PIECE_TERMINAL, ML_PIECE_COMPOSITE } MlPieceKind;

typedef struct
{
  int net;       /* circuit's, -1 open */
  int part, pin; /* circuit's part and the index into its pins */
  int score;     /* x 20: > 0 drives something, < 0 is driven; blocks and connectors */
  int rank;      /* of a block: the pin's number in the board's part */
  int like;      /* of a block: pins whose nets run alike have one number, counted from 1; 0: no other is like it */
} MlPiecePin;

typedef struct
{
  MlPieceKind kind;
  int part;        /* circuit's; composites -1 */
  MlKind part_kind;
  gboolean is_block;     /* pins may be permuted */
  gboolean has_likes;
  gboolean is_box;       /* drawn as a rectangle sized by its pins */
  gboolean is_source;    /* a supply comes in here */
  gboolean is_supply_chain;
  gboolean is_reference_pair;
  gboolean is_kept;      /* symmetric: its members never move apart */
  gboolean is_bank;      /* units alike at one pitch, which must stay so */
  int pull;              /* connectors: +1 left (input), -1 right (output) */
  MlPiecePin *pins; guint n_pins;
  GPtrArray *forms;      /* of MlForm; blocks get further ones while they are tried */
  int *members; guint n_members; /* plain pieces, in order of index */
  guint n_listed;        /* forms that were listed beforehand */
} MlPiece;

/* Two plain pieces that should stand side by side (level) or one over the other: a coil and its contact. */
typedef struct { int a, b; gboolean level; } MlMate;
typedef struct { int capacitor, chip; } MlTie; /* plain pieces */

typedef enum
{
  ML_KIT_PLAIN,    /* parts and terminals only */
  ML_KIT_IDIOMS,
  ML_KIT_NO_PAIRS, /* idioms, but two units that are alike need not be drawn so: that may cost more than it shows */
} MlKitCare;

typedef struct
{
  const MlCircuit *circuit;
  MlKitCare care;
  GPtrArray *plain;  /* of MlPiece: parts and terminals */
  GPtrArray *pieces; /* what is moved first: composites, and plain ones that belong to none; borrowed ones are those of `plain` */
  GPtrArray *composites; /* owned */
  GArray *mates;     /* of MlMate */
  GArray *ties;      /* of MlTie */
  int *plain_of_part; /* first plain piece of a part */
} MlKit;

MlKit *ml_kit_new (const MlCircuit *circuit, MlKitCare care);
void ml_kit_free (MlKit *kit);

/** ml_kit_list_pieces: the pieces of a board, each with its forms (layout-list.c). */
void ml_kit_list_pieces (MlKit *kit);
/** ml_kit_find_idioms: composites, ties and mates (layout-idioms.c). */
void ml_kit_find_idioms (MlKit *kit);

/** ml_terminal_text: what stands behind a terminal's ring: "J1:2", "TP1"; new string. */
char *ml_terminal_text (const MlCircuitPart *part, int pin);
MlPiece *ml_piece_new (MlPieceKind kind);
void ml_piece_free (MlPiece *piece);
/** ml_piece_pin_on: the first pin on that net; -1. */
int ml_piece_pin_on (const MlPiece *piece, int net);
/** ml_piece_form_at: the form of a part or terminal with that turn and mirror, made when it is not listed (layout-list.c). */
MlForm *ml_piece_form_at (MlPiece *piece, const MlCircuit *circuit, const char *symbol, int turn, gboolean mirror);
/** ml_piece_form_named_left: one more form, drawn as another is, but with the room for its text at the left. */
MlForm *ml_piece_form_named_left (MlPiece *piece, const MlCircuit *circuit, const MlForm *like);
MlForm *ml_form_new (guint n_pins, guint n_cores);
void ml_form_free (MlForm *form);
void ml_form_add_room (MlForm *form, int x0, int y0, int x1, int y1);
/** ml_form_finish: hulls; to be called when pins, cores and rooms are complete. */
void ml_form_finish (MlForm *form, guint n_pins);
/** ml_form_flag_rooms: room in front of every pin for a wire or a rail's flag. */
void ml_form_flag_rooms (MlForm *form, const MlPiece *piece, const MlCircuit *circuit);
/** ml_form_find: index of form in the piece's forms. */
int ml_form_index (const MlPiece *piece, const MlForm *form);
/** ml_form_mirrored: the form that is `form` mirrored left to right; *ret_dx: its origin lies at (-x + dx). NULL when there is none. */
MlForm *ml_form_mirrored (MlPiece *piece, MlForm *form, const MlCircuit *circuit, int *ret_dx);

/* Boxes sized by their pins: layout-box.c. order[side] lists pins (piece's indices) from left to right or from top to bottom. */
typedef struct { int *pins[4]; guint n[4]; } MlBoxSides;
MlForm *ml_box_form (const MlPiece *piece, const MlCircuit *circuit, const MlBoxSides *sides, int cost);
void ml_box_forms_list (MlPiece *piece, const MlCircuit *circuit);
MlBoxSides ml_box_sides_of (const MlPiece *piece, const MlForm *form);
void ml_box_sides_clear (MlBoxSides *sides);
int ml_box_cost (const MlPiece *piece, const MlBoxSides *sides);

G_END_DECLS
