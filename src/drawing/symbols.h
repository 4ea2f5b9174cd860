/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The symbols of data/symbols: parsed once, drawn as vectors in any colour, place and size. */
#pragma once

#include <cairo.h>

#include "drawing/paint.h"

G_BEGIN_DECLS

/** ml_symbol_exists: whether data/symbols holds NAME.svg. */
gboolean ml_symbol_exists (const char *name);
/**
 * ml_symbol_draw: one symbol in one colour; the context's unit is g. Letters within a symbol stand upright whatever the turn.
 * Errors: an unknown name draws nothing and returns FALSE.
 */
gboolean ml_symbol_draw (cairo_t *cr, const char *name, const MlPlace *place, const MlColour *ink, const char *font);

G_END_DECLS
