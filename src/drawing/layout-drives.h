/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Who drives a net and who listens to it, read from what hangs there (layout-drives.c); from that, which connectors are inputs (layout-connectors.c). */
#pragma once

#include "drawing/layout-piece.h"

G_BEGIN_DECLS

/** ml_circuit_has_word: some pin on the net has one of the words. ml_circuit_is_supply: a bench supply's lead is there, and it is not the reference. */
gboolean ml_circuit_has_word (const MlCircuit *circuit, int net, MlPinWord a, MlPinWord b);
gboolean ml_circuit_is_supply (const MlCircuit *circuit, int net);
/** ml_circuit_is_driven: something gives the net its voltage: a rail, an output, a switching contact, straight or through fuses and their like. */
gboolean ml_circuit_is_driven (const MlCircuit *circuit, int net);
/** ml_drive_of_joint: what a pin with that word does: below 0 it drives, above 0 it listens. ml_drive_of_pin: what a pin of a block or connector
 *  does there, looking two parts deep: above 0 it drives something, below 0 it listens. */
double ml_drive_of_joint (const MlCircuit *circuit, const MlCircuitPart *part, MlPinWord word);
double ml_drive_of_pin (const MlCircuit *circuit, int net, int part);

/** ml_drive_is_follower: an emitter or source that drives: the other end of its path hangs on the rail that it is fed from. */
gboolean ml_drive_is_follower (const MlCircuit *circuit, const MlCircuitPart *part, MlPinWord word);

/** ml_drive_lean: how many more of a block's pins drive something than listen. */
int ml_drive_lean (const MlCircuit *circuit, int part);

/** ml_connector_is_split: a connector that is drawn pin by pin. */
gboolean ml_connector_is_split (const MlCircuit *circuit, const MlCircuitPart *part);
/** ml_connector_pulls: which connectors are inputs (+1) and outputs (-1), per part; those that are drawn pin by pin stay 0. New. */
int *ml_connector_pulls (const MlCircuit *circuit);
/** ml_piece_of_pins: n pins of a part from first on, without forms; what they do is known, too. pulls: as ml_connector_pulls, NULL while nothing is known. */
MlPiece *ml_piece_of_pins (const MlCircuit *circuit, const int *pulls, int part, MlPieceKind kind, guint first, guint n);

G_END_DECLS
