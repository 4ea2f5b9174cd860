/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Edits of a board: each takes the board as read and returns the text after the edit (a new reference), untouched lines shared.
 * Errors: NULL with ML_EDIT_ERROR, the message names what stands in the way; nothing is changed. */
#pragma once

#include "board/board.h"

G_BEGIN_DECLS

#define ML_EDIT_ERROR ml_edit_error_quark ()
GQuark ml_edit_error_quark (void);
typedef enum { ML_EDIT_ERROR_NAME, ML_EDIT_ERROR_VALUE, ML_EDIT_ERROR_TARGET } MlEditError;

/** ml_board_edit_add_part: a part with all pins open; name NULL: the next free one for its letter. any-pins kinds get n_pins pins 1..n; a capacitor
 * with n_pins 2 is one with a polarity: its pins are plus and minus. *ret_name (may be NULL) is new. */
MlText *ml_board_edit_add_part (const MlBoard *board, const MlKindInfo *kind, const char *name, guint n_pins, const MlPlace *place,
                                char **ret_name, GError **error);
/** ml_board_edit_remove_part: with every statement that speaks of it. */
MlText *ml_board_edit_remove_part (const MlBoard *board, int part, GError **error);
MlText *ml_board_edit_rename_part (const MlBoard *board, int part, const char *name, GError **error);
/** ml_board_edit_set_key: value NULL removes the key; the value is checked as the reader would. */
MlText *ml_board_edit_set_key (const MlBoard *board, int part, const char *key, const char *value, GError **error);
/** ml_board_edit_set_value: what a person types at a part: "4k7", "1N4148", "5.6 V", "red", "5%": the right key is found by kind. A part
 * number of a kind with the same pins makes the part one of that kind. */
MlText *ml_board_edit_set_value (const MlBoard *board, int part, const char *typed, GError **error);
/** ml_board_edit_join_pins: both pins on one net from now on (new net, one joins the other's, or two nets become one; a name given by a person wins over a generated one).
 * An open pin joined with itself gets a net of its own. */
MlText *ml_board_edit_join_pins (const MlBoard *board, int part_a, int pin_a, int part_b, int pin_b, GError **error);
/** ml_board_edit_free_pin: the pin is open from now on. */
MlText *ml_board_edit_free_pin (const MlBoard *board, int part, int pin, GError **error);
MlText *ml_board_edit_add_pin (const MlBoard *board, int part, const char *pin, GError **error);
/** ml_board_edit_remove_pin: an open pin of a part whose pins are free to name; one at least stays. */
MlText *ml_board_edit_remove_pin (const MlBoard *board, int part, int pin, GError **error);
/** ml_board_edit_rename_pin: of a part whose pins are free to name; what speaks of the pin follows. */
MlText *ml_board_edit_rename_pin (const MlBoard *board, int part, int pin, const char *name, GError **error);

typedef struct { const char *from, *to; } MlPinName;

/** ml_board_polarity_names: what the pins of that capacitor are called from then on: plus_pin -1: 1 and 2, else that pin is plus and the other
 * one minus. *ret_pair: what `across=` has to name once the first pin has become the second one, or NULL. */
void ml_board_polarity_names (const MlPart *capacitor, int plus_pin, MlPinName ret_names[2], const char **ret_pair);
/** ml_board_edit_set_polarity: a capacitor becomes one with a polarity, its other way round, or (plus_pin -1) one without; what speaks of its
 * pins follows. */
MlText *ml_board_edit_set_polarity (const MlBoard *board, int part, int plus_pin, GError **error);
MlText *ml_board_edit_rename_net (const MlBoard *board, int net, const char *name, GError **error);
MlText *ml_board_edit_set_switching (const MlBoard *board, int net, gboolean switching, GError **error);
MlText *ml_board_edit_set_reference (const MlBoard *board, int net, GError **error);
MlText *ml_board_edit_set_title (const MlBoard *board, const char *title, GError **error);
/** ml_board_edit_place: places[i] for parts[i], what stands there of single pins stays; places NULL removes the statements. */
MlText *ml_board_edit_place (const MlBoard *board, const int *parts, const MlPlace *places, guint n, GError **error);
/** ml_board_edit_place_pins: with pins[i] ("left=1,2 right=3" of a block, "pin.2=20,8,left" of a connector); NULL: as they stand there. */
MlText *ml_board_edit_place_pins (const MlBoard *board, const int *parts, const MlPlace *places, const char *const *pins, guint n, GError **error);

MlText *ml_board_edit_add_condition (const MlBoard *board, const char *name, const char *label, GError **error);
/** ml_board_edit_copy_condition: another one with the same label, supplies and settings, behind the last. */
MlText *ml_board_edit_copy_condition (const MlBoard *board, int condition, const char *name, GError **error);
MlText *ml_board_edit_rename_condition (const MlBoard *board, int condition, const char *name, const char *label, GError **error);
MlText *ml_board_edit_remove_condition (const MlBoard *board, int condition, GError **error);
/** ml_board_edit_set_supply: supply -1 adds one; limit NAN leaves it out. */
MlText *ml_board_edit_set_supply (const MlBoard *board, int condition, int supply, int plus, int minus, double voltage_v, double limit_a,
                                  GError **error);
MlText *ml_board_edit_remove_supply (const MlBoard *board, int condition, int supply, GError **error);
MlText *ml_board_edit_reverse_supply (const MlBoard *board, int condition, int supply, GError **error);
/** ml_board_edit_set_load: load -1 adds one; exactly one of the two sizes is a number above zero, the other one NAN. */
MlText *ml_board_edit_set_load (const MlBoard *board, int condition, int load, int plus, int minus, double resistance_ohm, double current_a,
                                GError **error);
MlText *ml_board_edit_remove_load (const MlBoard *board, int condition, int load, GError **error);
MlText *ml_board_edit_set_setting (const MlBoard *board, int condition, int part, const char *state, GError **error);

/* ---- pictures of the real board ---- */

/**
 * ml_board_edit_set_picture: picture -1 adds one behind the others. Of `to` the file, side, scale (NAN: not known), turn and mirror are
 * written; the pads stay.
 */
MlText *ml_board_edit_set_picture (const MlBoard *board, int picture, const MlPicture *to, GError **error);
/** ml_board_edit_remove_picture: the statement with its pads; the file itself is left alone. */
MlText *ml_board_edit_remove_picture (const MlBoard *board, int picture, GError **error);
/** ml_board_edit_set_pad: the pin (-1: the part's middle) lies at that pixel, whether it was pinned before or not; kept to a tenth of a pixel. */
MlText *ml_board_edit_set_pad (const MlBoard *board, int picture, int part, int pin, double x_px, double y_px, GError **error);
/** ml_board_edit_set_pads: the same for several at once. */
MlText *ml_board_edit_set_pads (const MlBoard *board, int picture, const MlPad *pads, guint n, GError **error);
MlText *ml_board_edit_remove_pad (const MlBoard *board, int picture, int part, int pin, GError **error);
/** ml_board_edit_add_nears: pairs of nets (nets[2 i], nets[2 i + 1]) become neighbours; those that are already are left out. */
MlText *ml_board_edit_add_nears (const MlBoard *board, const int *nets, guint n_pairs, GError **error);

G_END_DECLS
