/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A fuzz target as an ordinary test: every file of its corpus, then mutations of them from a fixed seed, each within a time limit.
 * usage: replay-… CORPUS MUTATIONS SECONDS [SEED] */
#include "fuzz/fuzz.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define MAX_SIZE 65536

static uint64_t random_state = 20261125;
static double slow_s; /* processor time that one input may take: generous, since a loaded machine's caches are cold */

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

/* The first number from there on becomes one that is unlikely. */
static void
mutate_number (GByteArray *bytes, guint at)
{
  static const char *const numbers[] = { "0", "1", "-1", "1e-12", "1e12", "1e300", "0.1", "99", "3", "47k", "1u", "2%" };
  const char *number = numbers[random_below (G_N_ELEMENTS (numbers))];
  const guint length = (guint) strlen (number);
  guint end;

  while (at < bytes->len && !g_ascii_isdigit (bytes->data[at]))
    at++;
  for (end = at; end < bytes->len && (g_ascii_isdigit (bytes->data[end]) || bytes->data[end] == '.');)
    end++;
  if (end == at)
    return;
  g_byte_array_remove_range (bytes, at, end - at);
  g_byte_array_set_size (bytes, bytes->len + length);
  memmove (bytes->data + at + length, bytes->data + at, bytes->len - length - at);
  memcpy (bytes->data + at, number, length);
}

static double
processor_s (void)
{
  struct timespec now;

  clock_gettime (CLOCK_PROCESS_CPUTIME_ID, &now);
  return (double) now.tv_sec + 1e-9 * (double) now.tv_nsec;
}

static void
mutate (GByteArray *bytes, GPtrArray *corpus)
{
  static const char *const words[] = { "\\\n", "\r\n", "\"", "=", ".", "#", "/lead", "\xff", "\xef\xbb\xbf", "-", "1e9", "part ", "  ", "@", "%" };
  guint at = random_below (bytes->len + 1), n = 1 + random_below (200); /* MIN () evaluates twice: no calls in it */

  switch (random_below (7))
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
    case 5: /* another number */
      mutate_number (bytes, at);
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

/* METERLEAF_FUZZ_KEEP=FILE: the input under test, so that one that ends the program is there afterwards. */
static void
keep (const guint8 *data, gsize size)
{
  const char *file = g_getenv ("METERLEAF_FUZZ_KEEP");

  if (file != NULL)
    g_file_set_contents_full (file, (const char *) data, (gssize) size, G_FILE_SET_CONTENTS_NONE, 0644, NULL);
}

static void
run (const guint8 *data, gsize size)
{
  g_autofree guint8 *exact = g_malloc (MAX (size, 1)); /* of just that size, so that a checker sees one byte too many */
  const double before_s = processor_s ();
  double taken_s;

  if (size > 0)
    memcpy (exact, data, size);
  keep (data, size);
  LLVMFuzzerTestOneInput (exact, size);
  taken_s = processor_s () - before_s;
  if (taken_s < slow_s)
    return;
  fprintf (stderr, "%.1f s for an input of %zu bytes\n", taken_s, size);
  exit (1);
}

int
main (int argc, char **argv)
{
  g_autoptr (GPtrArray) corpus = load_corpus (argv[1]);
  const guint n_mutations = argc > 2 ? (guint) strtoul (argv[2], NULL, 10) : 0;

  slow_s = argc > 3 ? g_ascii_strtod (argv[3], NULL) : 2;
  if (argc > 4)
    random_state = g_ascii_strtoull (argv[4], NULL, 10);

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
