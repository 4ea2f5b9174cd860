/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A fuzz target as an ordinary test: every file of its corpus, then mutations of them from a fixed seed, each within a time limit.
 * usage: replay-… CORPUS MUTATIONS */
#include "fuzz/fuzz.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define SLOW_S 2.0 /* for one input of some kilobytes; generous, so that a loaded machine does not fail */
#define MAX_SIZE 65536

static uint64_t random_state = 20261125;

/* Knuth's 64-bit linear congruential generator (MMIX); the same sequence everywhere. */
static guint
random_below (guint n)
{
  random_state = random_state * 6364136223846793005u + 1442695040888963407u;
  return (guint) (random_state >> 33) % n;
}

static int
compare_names (gconstpointer a, gconstpointer b)
{
  return strcmp (*(char *const *) a, *(char *const *) b);
}

static GPtrArray *
load_corpus (const char *folder)
{
  g_autoptr (GPtrArray) names = g_ptr_array_new_with_free_func (g_free);
  GPtrArray *corpus = g_ptr_array_new_with_free_func ((GDestroyNotify) g_bytes_unref);
  g_autoptr (GDir) dir = g_dir_open (folder, 0, NULL);
  const char *name;

  while (dir != NULL && (name = g_dir_read_name (dir)) != NULL)
    g_ptr_array_add (names, g_build_filename (folder, name, NULL));
  g_ptr_array_sort (names, compare_names);
  for (guint i = 0; i < names->len; i++)
    {
      char *content;
      gsize length;

      if (g_file_get_contents (g_ptr_array_index (names, i), &content, &length, NULL))
        g_ptr_array_add (corpus, g_bytes_new_take (content, length));
    }
  return corpus;
}

static void
mutate (GByteArray *bytes, GPtrArray *corpus)
{
  static const char *const words[] = { "\\\n", "\r\n", "\"", "=", ".", "#", "/lead", "\xff", "\xef\xbb\xbf", "-", "1e9", "part ", "  ", "@", "%" };
  guint at = random_below (bytes->len + 1), n = 1 + random_below (200); /* MIN () evaluates twice: no calls in it */

  switch (random_below (6))
    {
    case 0: /* another byte */
      if (at < bytes->len)
        bytes->data[at] = (guint8) random_below (256);
      break;
    case 1: /* a piece taken out */
      if (at < bytes->len)
        g_byte_array_remove_range (bytes, at, MIN (1 + n % 16, bytes->len - at));
      break;
    case 2: /* the rest cut off */
      g_byte_array_set_size (bytes, at);
      break;
    case 3: /* a word that means something put in */
      {
        const char *word = words[random_below (G_N_ELEMENTS (words))];
        gsize length = strlen (word);

        g_byte_array_set_size (bytes, bytes->len + (guint) length);
        memmove (bytes->data + at + length, bytes->data + at, bytes->len - length - at);
        memcpy (bytes->data + at, word, length);
        break;
      }
    case 4: /* a piece repeated at the end */
      if (at < bytes->len)
        {
          g_autofree guint8 *copy = g_memdup2 (bytes->data + at, bytes->len - at);
          g_byte_array_append (bytes, copy, MIN (bytes->len - at, n));
        }
      break;
    default: /* a piece of another file */
      {
        gsize length;
        const guint8 *other = g_bytes_get_data (g_ptr_array_index (corpus, random_below (corpus->len)), &length);
        guint from = random_below ((guint) length + 1);

        g_byte_array_append (bytes, other + from, MIN ((guint) length - from, n));
      }
    }
}

static void
run (const guint8 *data, gsize size)
{
  g_autofree guint8 *exact = g_malloc (MAX (size, 1)); /* of just that size, so that a checker sees one byte too many */
  g_autoptr (GTimer) timer = g_timer_new ();

  if (size > 0)
    memcpy (exact, data, size);
  LLVMFuzzerTestOneInput (exact, size);
  if (g_timer_elapsed (timer, NULL) < SLOW_S)
    return;
  fprintf (stderr, "%.1f s for an input of %zu bytes\n", g_timer_elapsed (timer, NULL), size);
  exit (1);
}

int
main (int argc, char **argv)
{
  g_autoptr (GPtrArray) corpus = load_corpus (argv[1]);
  guint n_mutations = (guint) strtoul (argv[2], NULL, 10);

  if (corpus->len == 0)
    {
      fprintf (stderr, "%s holds no corpus\n", argv[1]);
      return 1;
    }
  for (guint i = 0; i < corpus->len; i++)
    run (g_bytes_get_data (g_ptr_array_index (corpus, i), NULL), g_bytes_get_size (g_ptr_array_index (corpus, i)));
  for (guint i = 0; i < n_mutations; i++)
    {
      gsize length;
      const guint8 *start = g_bytes_get_data (g_ptr_array_index (corpus, random_below (corpus->len)), &length);
      g_autoptr (GByteArray) bytes = g_byte_array_new ();

      g_byte_array_append (bytes, start, (guint) MIN (length, MAX_SIZE));
      for (guint k = 1 + random_below (5); k > 0; k--)
        mutate (bytes, corpus);
      run (bytes->data, bytes->len);
    }
  printf ("%u files, %u mutations\n", corpus->len, n_mutations);
  return 0;
}
