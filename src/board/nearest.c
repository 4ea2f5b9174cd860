/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "board/nearest.h"

#include <string.h>

#define MAX_LENGTH 48 /* longer words get no suggestion: nobody can have meant to type them */

static guint
change_cost (char a, char b)
{
  if (a == b)
    return 0;
  return g_ascii_tolower (a) == g_ascii_tolower (b) ? 1 : 2;
}

guint
ml_nearest_distance (const char *a, const char *b)
{
  gsize n_a = strlen (a), n_b = strlen (b);
  guint rows[3][MAX_LENGTH + 1];

  if (n_a > MAX_LENGTH || n_b > MAX_LENGTH)
    return G_MAXUINT;
  for (gsize j = 0; j <= n_b; j++)
    rows[0][j] = 2 * (guint) j;
  for (gsize i = 1; i <= n_a; i++)
    {
      guint *row = rows[i % 3], *above = rows[(i + 2) % 3], *second = rows[(i + 1) % 3];

      row[0] = 2 * (guint) i;
      for (gsize j = 1; j <= n_b; j++)
        {
          row[j] = MIN (above[j - 1] + change_cost (a[i - 1], b[j - 1]), MIN (above[j], row[j - 1]) + 2);
          if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
            row[j] = MIN (row[j], second[j - 2] + 2);
        }
    }
  return rows[n_a % 3][n_b];
}

void
ml_nearest_start (MlNearest *nearest, const char *word)
{
  gsize length = strlen (word);

  *nearest = (MlNearest) { .word = word, .length = length, .limit = length <= 2 ? 2 : length <= 5 ? 4 : 6 };
  nearest->distance = nearest->limit + 1;
}

void
ml_nearest_offer (MlNearest *nearest, const char *candidate)
{
  gsize length = strlen (candidate);
  gsize difference = length > nearest->length ? length - nearest->length : nearest->length - length;
  guint distance;

  if (2 * difference >= nearest->distance || length > MAX_LENGTH || nearest->length > MAX_LENGTH)
    return;
  distance = ml_nearest_distance (nearest->word, candidate);
  /* A word of which hardly a letter is left is no suggestion. */
  if (distance < nearest->distance && distance < 2 * MAX (length, nearest->length) && distance <= MAX (length, nearest->length) + 1)
    {
      nearest->distance = distance;
      nearest->best = candidate;
    }
}

void
ml_nearest_offer_whole (MlNearest *nearest, const char *candidate)
{
  const gboolean shortened = nearest->length > 0 && g_ascii_strncasecmp (nearest->word, candidate, nearest->length) == 0;
  const gboolean letter = g_ascii_strcasecmp (nearest->word, "k") == 0 && strcmp (candidate, "cathode") == 0; /* from the German, on every drawing */

  if ((shortened || letter) && nearest->distance > 2)
    {
      nearest->distance = 2;
      nearest->best = candidate;
    }
  else
    ml_nearest_offer (nearest, candidate);
}
