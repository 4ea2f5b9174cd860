/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/paint.h"

#define CASING 0.16 /* g */
#define HEX(rgb) { ((rgb) >> 16 & 255) / 255.0, ((rgb) >> 8 & 255) / 255.0, ((rgb) & 255) / 255.0 }

/* Hues of Okabe and Ito (2008), darkened on light paper and lightened on dark paper where one would fall below 3:1 (WCAG 2.2, 1.4.11).
 * Ink and faint carry text: 4.5:1. The black probe is told by its shape and its outline in ink, which also keeps it visible on dark paper. */
#define ON_LIGHT \
    .ink = HEX (0x22262b), .faint = HEX (0x5c6168), \
    .suspect = HEX (0xd55e00), .possible = HEX (0x7a4300), .cleared = HEX (0x009e73), \
    .selection = HEX (0x0072b2), .red_probe = HEX (0xc8102e), .black_probe = HEX (0x15171a), \
    .flow = HEX (0x7b3fc4), .warn = HEX (0xa35200),
#define LIGHT .paper = HEX (0xf6f4ef), ON_LIGHT
#define WHITE .paper = HEX (0xffffff), ON_LIGHT
#define DARK \
    .paper = HEX (0x2d2f33), .ink = HEX (0xebe8e2), .faint = HEX (0xaeb1b6), \
    .suspect = HEX (0xff7f32), .possible = HEX (0xf0e442), .cleared = HEX (0x2fc59a), \
    .selection = HEX (0x78b4ff), .red_probe = HEX (0xff6a6a), .black_probe = HEX (0x0c0d0f), \
    .flow = HEX (0xb07cf5), .warn = HEX (0xf2a33c),

static const MlPalette palettes[] = {
  [ML_PAPER_LIGHT] = { LIGHT },
  [ML_PAPER_DARK] = { DARK },
  [ML_PAPER_WHITE] = { WHITE },
};

static const MlPalette over_photo[] = {
  [ML_PAPER_LIGHT] = { LIGHT .casing = CASING },
  [ML_PAPER_DARK] = { DARK .casing = CASING },
  [ML_PAPER_WHITE] = { WHITE .casing = CASING },
};

static guint
known (MlPaper paper)
{
  return (guint) paper < G_N_ELEMENTS (palettes) ? (guint) paper : ML_PAPER_LIGHT;
}

/**
 * ml_palette: the colours for one kind of paper. Never NULL; anything unknown is light.
 */
const MlPalette *
ml_palette (MlPaper paper)
{
  return &palettes[known (paper)];
}

const MlPalette *
ml_palette_over_photo (MlPaper paper)
{
  return &over_photo[known (paper)];
}
