/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The line below the drawing: what is selected, what it should read, what it does read, and why it is or is not suspected. Knows no widget. */
#pragma once

#include "desktop/document.h"

G_BEGIN_DECLS

/** ml_status_text: in one line; "" when nothing is selected; new string. */
char *ml_status_text (MlDocument *document);
/** ml_status_pin_words: "Q2's emitter on V5"; new string. */
char *ml_status_pin_words (const MlBoard *board, int part, int pin);
/** ml_status_part_words: "R4, resistor 1k2, from FUSED to ZREF"; new string. */
char *ml_status_part_words (const MlBoard *board, int part);
/** ml_status_stands: how that switch or contact stands in the condition shown: "closed", "pulled in"; NULL of other parts and without a condition. */
const char *ml_status_stands (MlDocument *document, int part);
/** ml_status_why: "suspect, 94 %: Solder joint at Q2's emitter", "cleared: the readings speak against a fault here"; new string. */
char *ml_status_why (const MlVerdict *verdict, int part);

G_END_DECLS
