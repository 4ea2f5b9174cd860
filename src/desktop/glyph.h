/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Small drawn signs for buttons, in the colour of the text around them: the program brings its own and needs no icon theme. */
#pragma once

#include <gtk/gtk.h>

#include "drawing/paint.h"

G_BEGIN_DECLS

typedef enum
{
  ML_GLYPH_UNDO,
  ML_GLYPH_REDO,
  ML_GLYPH_MENU,
  ML_GLYPH_EYE,
  ML_GLYPH_PLUS,
  ML_GLYPH_TURN_ROUND,
  ML_GLYPH_PENCIL,
  ML_GLYPH_PROBES,
  ML_GLYPH_MORE,
  ML_GLYPH_BOARD,
  ML_GLYPH_FOLDER,
  ML_GLYPH_LENS,
  ML_GLYPH_DONE,
  ML_GLYPH_CLOSE,
  ML_GLYPH_STOP,
  ML_GLYPH_UNFOLD
} MlGlyph;

/** ml_glyph_new: size in pixels at 100 % text; it grows with the text. Not seen by screen readers: the button carries the name. */
GtkWidget *ml_glyph_new (MlGlyph glyph, int size);
/** ml_glyph_button_new: a small button without a frame that shows it; name is its tooltip and what a screen reader says. */
GtkWidget *ml_glyph_button_new (MlGlyph glyph, int size, const char *name);
/** ml_part_picture_new: the symbol of a part kind, in the text colour's paper. */
GtkWidget *ml_part_picture_new (MlKind kind, int width, int height, MlPaper paper);
/** ml_symbol_picture_new: of an artwork by name, which must be a constant. */
GtkWidget *ml_symbol_picture_new (const char *name, int width, int height, MlPaper paper);

/** ml_glyph_text_scale: 1 at 100 % text, 2 at 200 %: what is drawn by hand grows with the text. */
double ml_glyph_text_scale (void);

G_END_DECLS
