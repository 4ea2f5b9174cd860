/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Plausible boards from a seed, for tests that must not be tuned to the boards they use. */
#pragma once

#include <glib.h>

G_BEGIN_DECLS

/* A supply, fuse and reverse-polarity diode or bridge, zener, series and three-terminal regulators, LED strings, dividers, transistor
 * switches with lamps and relays, diode steering, blocks; 1 to 3 conditions. Above 24 parts also kinds for the drawing's sake:
 * field-effect transistors, operational amplifiers, optocouplers, connectors, potentiometers. */

/** ml_generate_board: a board of about n_parts parts (at least 5, never more than n_parts + 3) in the board language; some values are left out. New string. */
char *ml_generate_board (guint64 seed, guint n_parts);
/** ml_generate_conditions: the same with at least so many conditions: those it lacks are its last one at lower supplies. New string. */
char *ml_generate_conditions (guint64 seed, guint n_parts, guint n_conditions);
/** ml_generate_pair: the same board as drawn (some values left out) and as it is (all values given). */
void ml_generate_pair (guint64 seed, guint n_parts, char **ret_drawn, char **ret_actual);
/** ml_generate_unread_pair: as the board on a bench mostly is. About half of the resistor and zener values could not be read, no capacitor's; one
 *  chip has no part number, its pins named (VCC, GND, IN, OUT) or numbered: an unknown block, or a regulator taken for one. At least 10 parts. */
void ml_generate_unread_pair (guint64 seed, guint n_parts, char **ret_drawn, char **ret_actual);

G_END_DECLS
