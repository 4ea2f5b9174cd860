/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "board/text.h"

#include <errno.h>
#include <fcntl.h>
#include <gio/gio.h>
#include <glib/gstdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

struct _MlText
{
  int n_references;
  char *name;
  GPtrArray *lines; /* GRefString, with their endings: shared between a text and those made from it */
};

static MlText *
text_alloc (const char *name, guint n_lines)
{
  MlText *text = g_new0 (MlText, 1);

  text->n_references = 1;
  text->name = g_strdup (name);
  text->lines = g_ptr_array_new_full (n_lines, (GDestroyNotify) g_ref_string_release);
  return text;
}

static void
add_lines (MlText *text, const char *bytes, gsize length)
{
  while (length > 0)
    {
      const char *end = memchr (bytes, '\n', length);
      gsize n = end != NULL ? (gsize) (end - bytes) + 1 : length;

      g_ptr_array_add (text->lines, g_ref_string_new_len (bytes, (gssize) n));
      bytes += n;
      length -= n;
    }
}

static void
share_lines (MlText *text, const MlText *from, guint first, guint n)
{
  for (guint i = first; i < first + n; i++)
    g_ptr_array_add (text->lines, g_ref_string_acquire (g_ptr_array_index (from->lines, i)));
}

MlText *
ml_text_new (const char *name, const char *bytes, gssize length)
{
  MlText *text = text_alloc (name, 0);

  add_lines (text, bytes, length < 0 ? strlen (bytes) : (gsize) length);
  return text;
}

static gboolean
refuse_special (const char *path, GError **error)
{
  struct stat status;

  if (stat (path, &status) != 0 || S_ISREG (status.st_mode))
    return FALSE;
  if (S_ISDIR (status.st_mode))
    g_set_error (error, G_IO_ERROR, G_IO_ERROR_IS_DIRECTORY, "%s is a folder: name the file in it", path);
  else
    g_set_error (error, G_IO_ERROR, G_IO_ERROR_NOT_REGULAR_FILE, "%s is a device or a pipe: name an ordinary file", path);
  return TRUE;
}

static void
say_errno (const char *name, GError **error)
{
  const int code = errno;

  g_set_error (error, G_IO_ERROR, g_io_error_from_errno (code), "%s cannot be read: %s", name, g_strerror (code));
}

/* Reads up to one byte more than the limit, so that devices and pipes without a length end too. */
static GByteArray *
read_limited (const char *name, int fd, GError **error)
{
  GByteArray *bytes = g_byte_array_new ();
  guint8 chunk[16384];
  gssize n = 0;

  while (bytes->len <= ML_TEXT_MAX_BYTES && ((n = read (fd, chunk, sizeof chunk)) > 0 || (n < 0 && errno == EINTR)))
    if (n > 0)
      g_byte_array_append (bytes, chunk, (guint) n);
  if (bytes->len > ML_TEXT_MAX_BYTES)
    g_set_error (error, G_IO_ERROR, G_IO_ERROR_INVALID_DATA, "%s is larger than %u MiB: no board or job is, look whether it is the right file", name,
                 ML_TEXT_MAX_BYTES / (1024u * 1024u));
  else if (n < 0)
    say_errno (name, error);
  else
    return bytes;
  g_byte_array_unref (bytes);
  return NULL;
}

MlText *
ml_text_load_descriptor (const char *name, int fd, GError **error)
{
  g_autoptr (GByteArray) bytes = read_limited (name, fd, error);

  return bytes != NULL ? ml_text_new (name, (const char *) bytes->data, bytes->len) : NULL;
}

MlText *
ml_text_load (const char *path, GError **error)
{
  MlText *text;
  int fd;

  if (refuse_special (path, error))
    return NULL;
  fd = g_open (path, O_RDONLY | O_CLOEXEC | O_NOCTTY, 0);
  if (fd < 0)
    {
      say_errno (path, error);
      return NULL;
    }
  text = ml_text_load_descriptor (path, fd, error);
  close (fd);
  return text;
}

MlText *
ml_text_ref (MlText *text)
{
  g_atomic_int_inc (&text->n_references);
  return text;
}

void
ml_text_unref (MlText *text)
{
  if (text == NULL || !g_atomic_int_dec_and_test (&text->n_references))
    return;
  g_ptr_array_unref (text->lines);
  g_free (text->name);
  g_free (text);
}

const char *
ml_text_name (const MlText *text)
{
  return text->name;
}

guint
ml_text_n_lines (const MlText *text)
{
  return text->lines->len;
}

const char *
ml_text_line (const MlText *text, guint line, gsize *ret_length)
{
  char *bytes = g_ptr_array_index (text->lines, line);

  if (ret_length != NULL)
    *ret_length = g_ref_string_length (bytes);
  return bytes;
}

GBytes *
ml_text_to_bytes (const MlText *text)
{
  GByteArray *bytes = g_byte_array_new ();

  for (guint i = 0; i < text->lines->len; i++)
    {
      gsize length;
      const char *line = ml_text_line (text, i, &length);
      g_byte_array_append (bytes, (const guint8 *) line, (guint) length);
    }
  return g_byte_array_free_to_bytes (bytes);
}

static gboolean
same_line (const MlText *a, guint line_a, const MlText *b, guint line_b)
{
  gsize length_a, length_b;
  const char *bytes_a = ml_text_line (a, line_a, &length_a), *bytes_b = ml_text_line (b, line_b, &length_b);

  return bytes_a == bytes_b || (length_a == length_b && memcmp (bytes_a, bytes_b, length_a) == 0);
}

gboolean
ml_text_equal (const MlText *a, const MlText *b)
{
  if (a == b)
    return TRUE;
  if (a->lines->len != b->lines->len)
    return FALSE;
  for (guint i = 0; i < a->lines->len; i++)
    if (!same_line (a, i, b, i))
      return FALSE;
  return TRUE;
}

static gboolean
ends_line (const char *line, gsize length)
{
  return length > 0 && line[length - 1] == '\n';
}

/* "\r\n" where the file's first line ends so. */
static const char *
line_ending (const MlText *text)
{
  gsize length;
  const char *line;

  if (text->lines->len == 0)
    return "\n";
  line = ml_text_line (text, 0, &length);
  return length >= 2 && ends_line (line, length) && line[length - 2] == '\r' ? "\r\n" : "\n";
}

static void
add_ending (MlText *text, const char *ending)
{
  guint last = text->lines->len - 1;
  gsize length;
  const char *line = ml_text_line (text, last, &length);
  g_autoptr (GString) whole = g_string_new_len (line, (gssize) length);

  g_string_append (whole, ending);
  g_ref_string_release (g_ptr_array_index (text->lines, last));
  g_ptr_array_index (text->lines, last) = g_ref_string_new_len (whole->str, (gssize) whole->len);
}

static gboolean
last_is_unended (const MlText *text)
{
  gsize length;
  const char *line;

  if (text->lines->len == 0)
    return FALSE;
  line = ml_text_line (text, text->lines->len - 1, &length);
  return !ends_line (line, length);
}

static void
add_inserted (MlText *text, const char *bytes, const char *ending)
{
  if (*bytes == '\0')
    return;
  if (last_is_unended (text))
    add_ending (text, ending);
  add_lines (text, bytes, strlen (bytes));
  if (last_is_unended (text))
    add_ending (text, ending);
}

/* A splice that only changes a last line without an ending leaves it without one, so that ml_text_difference () can be undone exactly. */
MlText *
ml_text_splice (const MlText *text, guint first, guint n_removed, const char *const *inserted)
{
  const char *ending = line_ending (text);
  guint n = text->lines->len;
  MlText *result = text_alloc (text->name, n);

  first = MIN (first, n);
  n_removed = MIN (n_removed, n - first);
  share_lines (result, text, 0, first);
  for (; inserted != NULL && *inserted != NULL; inserted++)
    add_inserted (result, *inserted, ending);
  if (first + n_removed < n && last_is_unended (result))
    add_ending (result, ending);
  share_lines (result, text, first + n_removed, n - first - n_removed);
  return result;
}

MlText *
ml_text_replace_lines (const MlText *text, char *const *replaced)
{
  const char *ending = line_ending (text);
  guint n = text->lines->len;
  MlText *result = text_alloc (text->name, n);

  for (guint i = 0; i < n; i++)
    if (replaced[i] == NULL)
      share_lines (result, text, i, 1);
    else if (i + 1 < n || !last_is_unended (text))
      add_inserted (result, replaced[i], ending);
    else
      add_lines (result, replaced[i], strlen (replaced[i]));
  return result;
}

void
ml_text_difference (const MlText *a, const MlText *b, guint *ret_first, guint *ret_removed, GStrv *ret_inserted)
{
  guint n_a = a->lines->len, n_b = b->lines->len, first = 0, same = 0;
  GStrvBuilder *inserted = g_strv_builder_new ();

  while (first < MIN (n_a, n_b) && same_line (a, first, b, first))
    first++;
  while (same < MIN (n_a, n_b) - first && same_line (a, n_a - 1 - same, b, n_b - 1 - same))
    same++;
  for (guint i = first; i < n_b - same; i++)
    g_strv_builder_add (inserted, ml_text_line (b, i, NULL));
  *ret_first = first;
  *ret_removed = n_a - same - first;
  *ret_inserted = g_strv_builder_end (inserted);
  g_strv_builder_unref (inserted);
}
