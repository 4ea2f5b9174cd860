/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "board/board.h"

#include <string.h>

typedef enum { SAYS_CIRCUIT, SAYS_PLACE, SAYS_PICTURE } Says;

/* The next lines of a text, but for those of no interest. */
typedef struct
{
  const MlText *text;
  guint next;
  Says says;        /* of the statement that the line before belongs to */
  gboolean goes_on; /* that line ended in a backslash */
} Walk;

static gboolean
starts_with_word (const char *line, const char *word)
{
  const gsize n = strlen (word);

  return strncmp (line, word, n) == 0 && (line[n] == ' ' || line[n] == '\t');
}

static gboolean
ends_in_backslash (const char *line)
{
  gsize n = strlen (line);

  while (n > 0 && strchr (" \t\r\n", line[n - 1]) != NULL)
    n--;
  return n > 0 && line[n - 1] == '\\';
}

/* The next line that says `wanted`; NULL at the end. */
static const char *
next_line (Walk *walk, Says wanted)
{
  while (walk->next < ml_text_n_lines (walk->text))
    {
      const char *line = ml_text_line (walk->text, walk->next++, NULL);
      const gboolean begins = !walk->goes_on && strchr (" \t\r\n#", line[0]) == NULL; /* strchr finds the end of an empty line too */

      if (begins)
        walk->says = starts_with_word (line, "place") ? SAYS_PLACE : starts_with_word (line, "picture") ? SAYS_PICTURE : SAYS_CIRCUIT;
      walk->goes_on = ends_in_backslash (line);
      if (walk->says == wanted)
        return line;
    }
  return NULL;
}

static gboolean
same_lines (const MlBoard *a, const MlBoard *b, Says says)
{
  Walk at_a = { .text = a->text }, at_b = { .text = b->text };

  for (;;)
    {
      const char *line_a = next_line (&at_a, says), *line_b = next_line (&at_b, says);

      if (line_a == NULL || line_b == NULL)
        return line_a == line_b;
      if (strcmp (line_a, line_b) != 0)
        return FALSE;
    }
}

gboolean
ml_board_same_circuit (const MlBoard *a, const MlBoard *b)
{
  return same_lines (a, b, SAYS_CIRCUIT);
}

gboolean
ml_board_same_pictures (const MlBoard *a, const MlBoard *b)
{
  return same_lines (a, b, SAYS_PICTURE);
}
