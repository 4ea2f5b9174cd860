/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The known word that a person probably meant. */
#pragma once

#include <glib.h>

G_BEGIN_DECLS

/* Collects the best of the words it is shown; the first of equals stays, so that the result does not depend on anything but the order shown. */
typedef struct
{
  const char *word;
  gsize length;
  guint distance, limit;
  const char *best; /* NULL while none is near enough; borrowed */
} MlNearest;

void ml_nearest_start (MlNearest *nearest, const char *word);
void ml_nearest_offer (MlNearest *nearest, const char *candidate);
/** ml_nearest_offer_whole: the same, for words that people shorten: "res" is near to resistor, "c" to collector, "k" to cathode. */
void ml_nearest_offer_whole (MlNearest *nearest, const char *candidate);
/**
 * ml_nearest_distance: edits (insert, delete, change, exchange of neighbours) from a to b, letter case counting half, times two.
 * Source: optimal string alignment after Damerau (1964) and Levenshtein (1966).
 */
guint ml_nearest_distance (const char *a, const char *b);

G_END_DECLS
