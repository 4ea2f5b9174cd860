/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "board/scan.h"

#include <string.h>

#include "board/board.h"

struct _MlScanner
{
  /* borrowed */
  const MlText *text;
  MlDiagnostics *diagnostics;

  /* owned */
  GArray *words;
  GStringChunk *strings;
  GString *buffer;

  /* where it stands */
  guint next; /* line */
  const char *line, *at, *end;
  guint line_number, column;
  MlStatement statement;
};

MlScanner *
ml_scanner_new (const MlText *text, MlDiagnostics *diagnostics)
{
  MlScanner *scanner = g_new0 (MlScanner, 1);

  scanner->text = text;
  scanner->diagnostics = diagnostics;
  scanner->words = g_array_new (FALSE, FALSE, sizeof (MlWord));
  scanner->strings = g_string_chunk_new (1024);
  scanner->buffer = g_string_new (NULL);
  return scanner;
}

void
ml_scanner_free (MlScanner *scanner)
{
  if (scanner == NULL)
    return;
  g_array_unref (scanner->words);
  g_string_chunk_free (scanner->strings);
  g_string_free (scanner->buffer, TRUE);
  g_free (scanner);
}

void
ml_scanner_seek (MlScanner *scanner, guint line)
{
  scanner->next = line;
}

static void G_GNUC_PRINTF (3, 4)
complain (MlScanner *scanner, guint column, const char *format, ...)
{
  va_list arguments;
  g_autofree char *message = NULL;

  scanner->statement.broken = TRUE;
  if (scanner->diagnostics == NULL)
    return;
  va_start (arguments, format);
  message = g_strdup_vprintf (format, arguments);
  va_end (arguments);
  ml_diagnostics_add (scanner->diagnostics, ml_text_name (scanner->text), scanner->line_number + 1, column, ML_SEVERITY_ERROR, "%s",
                      message);
}

/* What stands here is no text at all: nothing after it is worth reading. */
static void
stop_at (MlScanner *scanner)
{
  scanner->next = ml_text_n_lines (scanner->text);
}

static gboolean
is_blank (char c)
{
  return c == ' ' || c == '\t';
}

static void
advance (MlScanner *scanner)
{
  scanner->at++;
  while (scanner->at < scanner->end && ((guchar) *scanner->at & 0xc0) == 0x80)
    scanner->at++;
  scanner->column++;
}

static void
skip_blanks (MlScanner *scanner)
{
  while (scanner->at < scanner->end && is_blank (*scanner->at))
    advance (scanner);
}

static void
refuse_byte (MlScanner *scanner, const char *where)
{
  guint column = (guint) g_utf8_strlen (scanner->line, where - scanner->line) + 1;
  guchar byte = (guchar) *where;

  if (byte == 0)
    {
      complain (scanner, column, "a zero byte: this is no text file, look whether it is the right one");
      stop_at (scanner);
    }
  else if (byte >= 0x80)
    complain (scanner, column, "byte 0x%02x is not UTF-8 text: save the file as UTF-8", byte);
  else if (byte == '\r')
    complain (scanner, column, "a carriage return in the middle of a line: end lines with a line feed, or both");
  else
    complain (scanner, column, "control character 0x%02x: a board or job file is plain text", byte);
}

/* Makes `line` the current one; FALSE when it holds what no text holds. */
static gboolean
enter_line (MlScanner *scanner, guint line)
{
  gsize length;
  const char *invalid;

  scanner->line = scanner->at = ml_text_line (scanner->text, line, &length);
  scanner->end = scanner->line + length;
  scanner->line_number = line;
  scanner->column = 1;
  if (scanner->end > scanner->at && scanner->end[-1] == '\n')
    scanner->end--;
  if (scanner->end > scanner->at && scanner->end[-1] == '\r')
    scanner->end--;
  if (line == 0 && scanner->end - scanner->at >= 3 && memcmp (scanner->at, "\xef\xbb\xbf", 3) == 0)
    scanner->line = scanner->at += 3;
  if (!g_utf8_validate_len (scanner->at, (gsize) (scanner->end - scanner->at), &invalid))
    {
      refuse_byte (scanner, invalid);
      return FALSE;
    }
  for (const char *c = scanner->at; c < scanner->end; c++)
    if (((guchar) *c < 0x20 && *c != '\t') || *c == 0x7f)
      {
        refuse_byte (scanner, c);
        return FALSE;
      }
  return TRUE;
}

static guint
byte_offset (const MlScanner *scanner)
{
  return (guint) (scanner->at - ml_text_line (scanner->text, scanner->line_number, NULL));
}

/* A quoted text into the buffer, from its opening quote to behind its closing one. */
static gboolean
take_quoted (MlScanner *scanner)
{
  guint start = scanner->column;

  for (advance (scanner); scanner->at < scanner->end && *scanner->at != '"'; advance (scanner))
    {
      const char *from = scanner->at;

      if (*from == '\\')
        {
          if (from + 1 >= scanner->end || (from[1] != '"' && from[1] != '\\'))
            {
              complain (scanner, scanner->column, "in quotes a backslash is written \\\\ and a quote \\\"");
              return FALSE;
            }
          advance (scanner);
          from++;
        }
      g_string_append_len (scanner->buffer, from, g_utf8_next_char (from) - from);
    }
  if (scanner->at >= scanner->end)
    {
      complain (scanner, start, "the quote that opens here is not closed on this line");
      return FALSE;
    }
  advance (scanner);
  if (scanner->at < scanner->end && !is_blank (*scanner->at))
    {
      complain (scanner, scanner->column, "a blank must follow the closing quote");
      return FALSE;
    }
  return TRUE;
}

static gboolean
at_continuation (const MlScanner *scanner)
{
  return *scanner->at == '\\' && scanner->at + 1 == scanner->end;
}

/* An unquoted run into the buffer; stops at the first = where `stop_at_equals`. */
static gboolean
take_run (MlScanner *scanner, gboolean stop_at_equals)
{
  while (scanner->at < scanner->end && !is_blank (*scanner->at) && !at_continuation (scanner))
    {
      const char *from = scanner->at;

      if (*from == '=' && stop_at_equals)
        return TRUE;
      if (*from == '"' || *from == '\\')
        {
          complain (scanner, scanner->column,
                    *from == '"' ? "a quote inside a word: a text in quotes starts after a blank or after ="
                                 : "a backslash: only the last character of a line may be one, it goes on in the next then");
          return FALSE;
        }
      advance (scanner);
      g_string_append_len (scanner->buffer, from, scanner->at - from);
    }
  return TRUE;
}

static const char *
keep_buffer (MlScanner *scanner)
{
  const char *kept = g_string_chunk_insert_len (scanner->strings, scanner->buffer->str, (gssize) scanner->buffer->len);

  g_string_truncate (scanner->buffer, 0);
  return kept;
}

static gboolean
take_value (MlScanner *scanner, MlWord *word)
{
  if (scanner->at < scanner->end && *scanner->at == '"')
    {
      word->quoted = TRUE;
      return take_quoted (scanner);
    }
  if (!take_run (scanner, FALSE))
    return FALSE;
  if (scanner->buffer->len == 0)
    {
      complain (scanner, scanner->column, "a value is missing after %s=", word->key);
      return FALSE;
    }
  return TRUE;
}

static gboolean
take_word (MlScanner *scanner, MlWord *word)
{
  *word = (MlWord) { .line = scanner->line_number, .offset = byte_offset (scanner), .column = scanner->column };
  word->text_offset = word->offset;
  word->text_column = word->column;
  g_string_truncate (scanner->buffer, 0);
  if (*scanner->at == '"')
    {
      word->quoted = TRUE;
      return take_quoted (scanner);
    }
  if (!take_run (scanner, TRUE))
    return FALSE;
  if (scanner->at >= scanner->end || *scanner->at != '=')
    return TRUE;
  if (scanner->buffer->len == 0)
    {
      complain (scanner, scanner->column, "a word is missing before =");
      return FALSE;
    }
  word->key = keep_buffer (scanner);
  advance (scanner);
  word->text_offset = byte_offset (scanner);
  word->text_column = scanner->column;
  return take_value (scanner, word);
}

static gboolean
add_word (MlScanner *scanner)
{
  MlWord word;

  if (!take_word (scanner, &word))
    return FALSE;
  word.length = byte_offset (scanner) - word.offset;
  if (word.length > ML_BOARD_MAX_WORD)
    {
      complain (scanner, word.column, "this word has %u bytes, the longest allowed has %u", word.length, ML_BOARD_MAX_WORD);
      return FALSE;
    }
  if (scanner->words->len == ML_STATEMENT_MAX_WORDS)
    {
      complain (scanner, word.column, "more than %u words in one statement", ML_STATEMENT_MAX_WORDS);
      return FALSE;
    }
  word.text = keep_buffer (scanner);
  g_array_append_val (scanner->words, word);
  return TRUE;
}

/* The words of the current line. TRUE when it goes on in the next. After an error the rest of the line is passed over. */
static gboolean
take_line (MlScanner *scanner)
{
  for (skip_blanks (scanner); scanner->at < scanner->end && *scanner->at != '#'; skip_blanks (scanner))
    {
      if (at_continuation (scanner))
        return TRUE;
      if (!add_word (scanner))
        return scanner->end > scanner->line && scanner->end[-1] == '\\';
    }
  return FALSE;
}

static void
take_statement (MlScanner *scanner)
{
  MlStatement *statement = &scanner->statement;
  gboolean goes_on = TRUE;

  *statement = (MlStatement) { .line = scanner->next };
  g_array_set_size (scanner->words, 0);
  g_string_chunk_clear (scanner->strings);
  while (goes_on && scanner->next < ml_text_n_lines (scanner->text))
    {
      gboolean clean = enter_line (scanner, scanner->next++);

      if (statement->n_lines++ == 0)
        statement->indented = scanner->at < scanner->end && is_blank (*scanner->at);
      goes_on = clean && take_line (scanner);
    }
  if (goes_on)
    complain (scanner, scanner->column, "the file ends where a line should follow");
  statement->words = (const MlWord *) scanner->words->data;
  statement->n_words = scanner->words->len;
}

const MlStatement *
ml_scanner_next (MlScanner *scanner)
{
  while (scanner->next < ml_text_n_lines (scanner->text))
    {
      if (scanner->next >= ML_TEXT_MAX_LINES)
        {
          scanner->line_number = scanner->next;
          complain (scanner, 0, "a file has at most %u lines; what follows is not read", ML_TEXT_MAX_LINES);
          stop_at (scanner);
          return NULL;
        }
      take_statement (scanner);
      if (scanner->statement.n_words > 0 || scanner->statement.broken)
        return &scanner->statement;
    }
  return NULL;
}

guint
ml_word_column (const MlWord *word, const char *piece, gsize where)
{
  gsize before = g_str_has_suffix (word->text, piece) ? strlen (word->text) - strlen (piece) : 0;

  return word->text_column + (word->quoted ? 1 : 0) + (guint) g_utf8_strlen (word->text, (gssize) (before + where));
}

const char *
ml_name_check (const char *word)
{
  if (*word == '\0')
    return "a name is empty";
  if (strcmp (word, "-") == 0)
    return "- is no name, it leaves a pin open";
  for (const char *c = word; *c != '\0'; c = g_utf8_next_char (c))
    {
      if (strchr (".,=\"#@/\\", *c) != NULL)
        return "a name holds no . , = \" # @ / \\";
      if (g_unichar_isspace (g_utf8_get_char (c)))
        return "a name holds no blank";
      if (!g_unichar_isgraph (g_utf8_get_char (c)))
        return "a name holds only characters that can be seen";
    }
  return strlen (word) > ML_BOARD_MAX_WORD ? "a name is too long" : NULL;
}

/* "3.3 V" at the beginning of typed: 3V3; NULL when none stands there. *ret_end: what follows. */
static char *
volts_typed (const char *typed, const char **ret_end)
{
  gsize whole = strspn (typed, "0123456789"), point = strspn (typed + whole, ".,"), part = strspn (typed + whole + point, "0123456789");
  const char *unit = typed + whole + point + part;

  unit += strspn (unit, " ");
  if (whole == 0 || point > 1 || (point == 1) != (part > 0) || g_ascii_toupper (*unit) != 'V' || g_ascii_isalnum (unit[1]))
    return NULL;
  *ret_end = unit + 1;
  return g_strdup_printf (point == 1 ? "%.*sV%.*s" : "%.*sV", (int) whole, typed, (int) part, typed + whole + 1);
}

char *
ml_name_typed (const char *typed)
{
  g_autofree char *text = g_strstrip (g_utf8_make_valid (typed, -1));
  GString *name = g_string_new (NULL);
  gboolean parted = FALSE, in_word = FALSE;

  for (const char *c = text, *next; *c != '\0'; c = next)
    {
      gunichar letter = g_utf8_get_char (c);
      g_autofree char *volts = in_word ? NULL : volts_typed (c, &next);

      next = volts != NULL ? next : g_utf8_next_char (c);
      in_word = g_unichar_isalnum (letter);
      if (g_unichar_isspace (letter) || strchr (".,=\"#@/\\", *c) != NULL)
        parted = TRUE;
      else if (g_unichar_isgraph (letter))
        {
          if (parted && name->len > 0)
            g_string_append_c (name, '-');
          g_string_append_len (name, volts != NULL ? volts : c, volts != NULL ? -1 : next - c);
          parted = FALSE;
        }
    }
  return g_string_free (name, FALSE);
}

char *
ml_text_quote (const char *text)
{
  GString *quoted = g_string_new ("\"");

  for (const char *c = text; *c != '\0'; c++)
    {
      if (*c == '"' || *c == '\\')
        g_string_append_c (quoted, '\\');
      g_string_append_c (quoted, (guchar) *c < 0x20 || *c == 0x7f ? ' ' : *c);
    }
  g_string_append_c (quoted, '"');
  return g_string_free (quoted, FALSE);
}

char *
ml_word_quote (const char *text)
{
  if (*text == '\0' || strpbrk (text, " \t\r\n\"\\=#") != NULL)
    return ml_text_quote (text);
  return g_strdup (text);
}
