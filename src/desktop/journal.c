/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/journal.h"

#include <errno.h>
#include <fcntl.h>
#include <glib/gstdio.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

static const char first_line[] = "meterleaf-journal 1\n";
static const char record_word[] = "record ";
static const char ending[] = ".journal";

/* What a record holds, as GVariant types. A text is its name, path, fingerprint and bytes; "" stands for none. Names and paths are byte
 * strings because neither is sure to be UTF-8. A change of a text is nothing, one splice, or (when lines hold NUL) the whole of it. */
#define TEXT_TYPE "(ayayayay)"
#define RECORD_TYPE "(yv)"
#define BASE_TYPE "(" TEXT_TYPE TEXT_TYPE ")"
#define STEP_TYPE "(ayaybvv)"
#define MOVE_TYPE "()"
#define SAVED_TYPE "(bayay)"
#define UNCHANGED_TYPE "()"
#define SPLICE_TYPE "(uuaay)"
#define WHOLE_TYPE "ay"

enum { RECORD_BASE = 'B', RECORD_STEP = 'S', RECORD_UNDO = 'U', RECORD_REDO = 'R', RECORD_SAVED = 'V' };

struct _MlJournal
{
  char *path;
  int fd;
  goffset length; /* of what is known to be whole */
};

G_DEFINE_QUARK (ml-journal-error-quark, ml_journal_error)

static gboolean
fail_errno (GError **error, int code, const char *path, const char *what)
{
  g_autofree char *shown = g_filename_display_name (path);
  g_set_error (error, G_FILE_ERROR, g_file_error_from_errno (code), "%s: %s: %s", shown, what, g_strerror (code));
  return FALSE;
}

/* ---- bytes to and from disk ---- */

static gboolean
write_whole (int fd, const char *bytes, gsize length)
{
  while (length > 0)
    {
      ssize_t written = write (fd, bytes, length);
      if (written < 0 && errno == EINTR)
        continue;
      if (written <= 0)
        return FALSE;
      bytes += written;
      length -= (gsize) written;
    }
  return TRUE;
}

/* A new name is only durable once the folder is. */
static void
sync_folder (const char *folder)
{
  int fd = open (folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (fd < 0)
    return;
  fsync (fd);
  close (fd);
}

static char *
checksum (const char *bytes, gsize length)
{
  char *sum = g_compute_checksum_for_data (G_CHECKSUM_SHA256, (const guchar *) bytes, length);
  sum[16] = '\0'; /* 64 bits are plenty against a torn write */
  return sum;
}

static GString *
frame (GVariant *content, char what)
{
  g_autoptr (GVariant) record = g_variant_ref_sink (g_variant_new ("(yv)", (guchar) what, content));
  gsize length = g_variant_get_size (record);
  const char *bytes = g_variant_get_data (record);
  g_autofree char *sum = checksum (bytes, length);
  GString *out = g_string_new (NULL);
  g_string_append_printf (out, "%s%" G_GSIZE_FORMAT " %s\n", record_word, length, sum);
  g_string_append_len (out, bytes, (gssize) length);
  g_string_append_c (out, '\n');
  return out;
}

static gboolean
append (MlJournal *self, GVariant *content, char what, GError **error)
{
  GString *out = frame (content, what);
  gboolean written = write_whole (self->fd, out->str, out->len) && fsync (self->fd) == 0;
  int code = errno;
  gsize length = out->len;
  g_string_free (out, TRUE);
  if (written)
    {
      self->length += (goffset) length;
      return TRUE;
    }
  /* Half a record must not stand before the next one. */
  if (ftruncate (self->fd, self->length) == 0)
    lseek (self->fd, self->length, SEEK_SET);
  return fail_errno (error, code, self->path, "the change could not be noted in the journal");
}

/* ---- texts to and from records ---- */

static GVariant *
bytes_variant (GBytes *bytes)
{
  gsize length = 0;
  const void *data = g_bytes_get_data (bytes, &length);
  return g_variant_new_fixed_array (G_VARIANT_TYPE_BYTE, data, length, 1);
}

static GVariant *
bytestring (const char *string)
{
  return g_variant_new_bytestring (string ? string : "");
}

static GVariant *
whole_text (MlText *text)
{
  g_autoptr (GBytes) bytes = ml_text_to_bytes (text);
  return bytes_variant (bytes);
}

static GVariant *
text_variant (const MlJournalText *text)
{
  return g_variant_new ("(@ay@ay@ay@ay)", bytestring (ml_text_name (text->text)), bytestring (text->path), bytestring (text->fingerprint),
                        whole_text (text->text));
}

static GVariant *
splice_variant (guint first, guint removed, GStrv inserted)
{
  return g_variant_new ("(uu@aay)", first, removed, g_variant_new_bytestring_array ((const char *const *) inserted, -1));
}

static GVariant *
change_variant (MlText *from, MlText *to)
{
  if (from == to || !to)
    return g_variant_new (UNCHANGED_TYPE);
  guint first = 0, removed = 0;
  g_auto (GStrv) inserted = NULL;
  ml_text_difference (from, to, &first, &removed, &inserted);
  g_autoptr (MlText) again = ml_text_splice (from, first, removed, (const char *const *) inserted);
  return ml_text_equal (again, to) ? splice_variant (first, removed, inserted) : whole_text (to);
}

static char *
read_bytestring (GVariant *tuple, gsize i)
{
  g_autoptr (GVariant) child = g_variant_get_child_value (tuple, i);
  const char *string = g_variant_get_bytestring (child);
  return *string ? g_strdup (string) : NULL;
}

static MlText *
read_whole (const char *name, GVariant *bytes)
{
  gsize length = 0;
  const char *data = g_variant_get_fixed_array (bytes, &length, 1);
  return ml_text_new (name, data ? data : "", (gssize) length);
}

static void
read_text (GVariant *tuple, MlJournalText *ret_text)
{
  g_autofree char *name = read_bytestring (tuple, 0);
  g_autoptr (GVariant) bytes = g_variant_get_child_value (tuple, 3);
  ret_text->path = read_bytestring (tuple, 1);
  ret_text->fingerprint = read_bytestring (tuple, 2);
  ret_text->text = read_whole (name ? name : "", bytes);
}

/* NULL: the change does not fit the text. */
static MlText *
read_change (MlText *from, GVariant *tuple, gsize i)
{
  g_autoptr (GVariant) holder = g_variant_get_child_value (tuple, i);
  g_autoptr (GVariant) change = g_variant_get_variant (holder);
  if (g_variant_is_of_type (change, G_VARIANT_TYPE (UNCHANGED_TYPE)))
    return ml_text_ref (from);
  if (g_variant_is_of_type (change, G_VARIANT_TYPE (WHOLE_TYPE)))
    return read_whole (ml_text_name (from), change);
  if (!g_variant_is_of_type (change, G_VARIANT_TYPE (SPLICE_TYPE)))
    return NULL;

  guint first = 0, removed = 0;
  g_autoptr (GVariant) lines = g_variant_get_child_value (change, 2);
  g_variant_get_child (change, 0, "u", &first);
  g_variant_get_child (change, 1, "u", &removed);
  if (first > ml_text_n_lines (from) || removed > ml_text_n_lines (from) - first)
    return NULL;
  g_autofree const char **inserted = g_variant_get_bytestring_array (lines, NULL);
  return ml_text_splice (from, first, removed, inserted);
}

/* ---- the story ---- */

static void
text_clear (MlJournalText *text)
{
  g_clear_pointer (&text->text, ml_text_unref);
  g_free (text->path);
  g_free (text->fingerprint);
}

static void
record_free (gpointer data)
{
  MlJournalRecord *record = data;
  g_free (record->label);
  g_free (record->merge);
  g_clear_pointer (&record->board, ml_text_unref);
  g_clear_pointer (&record->job, ml_text_unref);
  for (guint i = 0; i < G_N_ELEMENTS (record->path); i++)
    {
      g_free (record->path[i]);
      g_free (record->fingerprint[i]);
    }
  g_free (record);
}

void
ml_journal_story_free (MlJournalStory *story)
{
  if (!story)
    return;
  text_clear (&story->board);
  text_clear (&story->job);
  g_ptr_array_unref (story->records);
  g_free (story);
}

/* The texts as of now while a story is read. Undo and redo need the whole row of states: a splice is against the text of its moment. */
typedef struct
{
  MlJournalStory *story;
  GPtrArray *boards, *jobs; /* MlText, the row of states */
  guint at, saved_at; /* saved_at: the state saved last, or where the way leads off from the one to it */
  gboolean board_saved, job_saved;
} Reading;

static void
reading_begin (Reading *reading, MlJournalStory *story)
{
  reading->boards = g_ptr_array_new_with_free_func ((GDestroyNotify) ml_text_unref);
  reading->jobs = g_ptr_array_new_with_free_func ((GDestroyNotify) ml_text_unref);
  g_ptr_array_add (reading->boards, ml_text_ref (story->board.text));
  g_ptr_array_add (reading->jobs, ml_text_ref (story->job.text));
}

static void
reading_clear (Reading *reading)
{
  g_clear_pointer (&reading->boards, g_ptr_array_unref);
  g_clear_pointer (&reading->jobs, g_ptr_array_unref);
}

static gboolean
read_base (Reading *reading, GVariant *content)
{
  if (!g_variant_is_of_type (content, G_VARIANT_TYPE (BASE_TYPE)))
    return FALSE;
  g_autoptr (GVariant) board = g_variant_get_child_value (content, 0);
  g_autoptr (GVariant) job = g_variant_get_child_value (content, 1);
  read_text (board, &reading->story->board);
  read_text (job, &reading->story->job);
  reading_begin (reading, reading->story);
  return TRUE;
}

static void
unsaved (Reading *reading)
{
  reading->story->n_unsaved++;
  reading->story->n_apart = reading->at > reading->saved_at ? reading->at - reading->saved_at : reading->saved_at - reading->at;
  reading->board_saved = reading->job_saved = FALSE;
}

static MlJournalRecord *
add_record (Reading *reading, MlJournalWhat what)
{
  MlJournalRecord *record = g_new0 (MlJournalRecord, 1);
  record->what = what;
  g_ptr_array_add (reading->story->records, record);
  return record;
}

static gboolean
read_step (Reading *reading, GVariant *content)
{
  if (!g_variant_is_of_type (content, G_VARIANT_TYPE (STEP_TYPE)))
    return FALSE;
  MlText *board = read_change (g_ptr_array_index (reading->boards, reading->at), content, 3);
  MlText *job = read_change (g_ptr_array_index (reading->jobs, reading->at), content, 4);
  if (!board || !job)
    {
      g_clear_pointer (&board, ml_text_unref);
      g_clear_pointer (&job, ml_text_unref);
      return FALSE;
    }
  MlJournalRecord *record = add_record (reading, ML_JOURNAL_STEP);
  record->label = read_bytestring (content, 0);
  record->merge = read_bytestring (content, 1);
  g_variant_get_child (content, 2, "b", &record->merged);
  record->board = ml_text_ref (board);
  record->job = ml_text_ref (job);

  gboolean widen = record->merged && reading->at > 0;
  reading->saved_at = MIN (reading->saved_at, reading->at - (widen ? 1 : 0));
  g_ptr_array_set_size (reading->boards, (int) reading->at + (widen ? 0 : 1));
  g_ptr_array_set_size (reading->jobs, (int) reading->at + (widen ? 0 : 1));
  g_ptr_array_add (reading->boards, board);
  g_ptr_array_add (reading->jobs, job);
  reading->at = reading->boards->len - 1;
  unsaved (reading);
  return TRUE;
}

static gboolean
read_move (Reading *reading, gboolean redo)
{
  if (redo ? reading->at + 1 >= reading->boards->len : reading->at == 0)
    return FALSE;
  reading->at = redo ? reading->at + 1 : reading->at - 1;
  add_record (reading, redo ? ML_JOURNAL_REDO : ML_JOURNAL_UNDO);
  unsaved (reading);
  return TRUE;
}

static gboolean
read_saved (Reading *reading, GVariant *content)
{
  if (!g_variant_is_of_type (content, G_VARIANT_TYPE (SAVED_TYPE)))
    return FALSE;
  gboolean job = FALSE;
  g_variant_get_child (content, 0, "b", &job);
  MlJournalRecord *record = add_record (reading, ML_JOURNAL_SAVED);
  record->path[job ? 1 : 0] = read_bytestring (content, 1);
  record->fingerprint[job ? 1 : 0] = read_bytestring (content, 2);
  *(job ? &record->job : &record->board) = ml_text_ref (g_ptr_array_index (job ? reading->jobs : reading->boards, reading->at));
  *(job ? &reading->job_saved : &reading->board_saved) = TRUE;
  if (reading->job_saved && reading->board_saved)
    {
      reading->story->n_unsaved = reading->story->n_apart = 0;
      reading->saved_at = reading->at;
    }
  return TRUE;
}

static gboolean
read_record (Reading *reading, const char *bytes, gsize length)
{
  g_autoptr (GBytes) copy = g_bytes_new (bytes, length); /* aligned */
  g_autoptr (GVariant) record = g_variant_ref_sink (g_variant_new_from_bytes (G_VARIANT_TYPE (RECORD_TYPE), copy, FALSE));
  if (!g_variant_is_normal_form (record))
    return FALSE;
  guchar what = 0;
  g_autoptr (GVariant) content = NULL;
  g_variant_get (record, "(yv)", &what, &content);
  if (!reading->boards)
    return what == RECORD_BASE && read_base (reading, content);
  switch (what)
    {
    case RECORD_STEP:
      return read_step (reading, content);
    case RECORD_UNDO:
    case RECORD_REDO:
      return read_move (reading, what == RECORD_REDO);
    case RECORD_SAVED:
      return read_saved (reading, content);
    default:
      return FALSE;
    }
}

/* The bytes of the record that begins at text; NULL when it is torn, or something else. */
static const char *
find_record (const char *text, const char *end, gsize *ret_length, const char **ret_next)
{
  gsize word = strlen (record_word);
  if ((gsize) (end - text) < word || memcmp (text, record_word, word) != 0)
    return NULL;
  const char *line_end = memchr (text, '\n', (gsize) (end - text));
  if (!line_end)
    return NULL;
  g_autofree char *line = g_strndup (text + word, (gsize) (line_end - text) - word);
  char *sum = NULL;
  guint64 length = g_ascii_strtoull (line, &sum, 10);
  const char *bytes = line_end + 1;
  if (*sum != ' ' || length >= (guint64) (end - bytes) || bytes[length] != '\n')
    return NULL;
  g_autofree char *expected = checksum (bytes, length);
  if (strcmp (sum + 1, expected) != 0)
    return NULL;
  *ret_length = length;
  *ret_next = bytes + length + 1;
  return bytes;
}

static MlJournalStory *
read_story (const char *path, GError **error)
{
  g_autofree char *text = NULL;
  gsize length = 0;
  if (!g_file_get_contents (path, &text, &length, error))
    return NULL;
  g_autoptr (MlJournalStory) story = g_new0 (MlJournalStory, 1);
  story->records = g_ptr_array_new_with_free_func (record_free);
  Reading reading = { .story = story };
  const char *end = text + length;
  const char *at = g_str_has_prefix (text, first_line) ? text + strlen (first_line) : end;

  gsize record_length = 0;
  const char *next = NULL, *bytes;
  while ((bytes = find_record (at, end, &record_length, &next)) && read_record (&reading, bytes, record_length))
    at = next;
  story->valid_length = (gsize) (at - text);
  gboolean begun = reading.boards != NULL;
  reading_clear (&reading);
  if (begun)
    return g_steal_pointer (&story);
  g_autofree char *shown = g_filename_display_name (path);
  g_set_error (error, ML_JOURNAL_ERROR, ML_JOURNAL_ERROR_DAMAGED, "%s: this is no journal, or its beginning is damaged", shown);
  return NULL;
}

/* ---- opening ---- */

static int
open_locked (const char *path, GError **error)
{
  int fd = open (path, O_RDWR | O_CLOEXEC | O_NOFOLLOW);
  if (fd < 0)
    {
      fail_errno (error, errno, path, "the journal could not be opened");
      return -1;
    }
  if (flock (fd, LOCK_EX | LOCK_NB) == 0)
    return fd;
  close (fd);
  g_autofree char *shown = g_filename_display_name (path);
  g_set_error (error, ML_JOURNAL_ERROR, ML_JOURNAL_ERROR_IN_USE, "%s: this journal belongs to a program that is still running", shown);
  return -1;
}

static MlJournal *
journal_new (const char *path, int fd)
{
  MlJournal *self = g_new0 (MlJournal, 1);
  self->path = g_strdup (path);
  self->fd = fd;
  return self;
}

static char *
new_path (const char *folder)
{
  g_autoptr (GDateTime) now = g_date_time_new_now_utc ();
  g_autofree char *stamp = g_date_time_format (now, "%Y%m%dT%H%M%S");
  g_autofree char *unique = g_uuid_string_random ();
  g_autofree char *name = g_strdup_printf ("%s-%.8s%s", stamp, unique, ending);
  return g_build_filename (folder, name, NULL);
}

/* Written and locked under a passing name: whoever sees the final one finds it whole and locked. */
static gboolean
begin (MlJournal *self, const MlJournalText *board, const MlJournalText *job, GError **error)
{
  if (flock (self->fd, LOCK_EX | LOCK_NB) != 0 || !write_whole (self->fd, first_line, strlen (first_line)))
    return fail_errno (error, errno, self->path, "the journal could not be begun");
  self->length = (goffset) strlen (first_line);
  return append (self, g_variant_new ("(@" TEXT_TYPE "@" TEXT_TYPE ")", text_variant (board), text_variant (job)), RECORD_BASE, error);
}

char *
ml_journal_folder (void)
{
  return g_build_filename (g_get_user_state_dir (), "meterleaf", "journal", NULL);
}

MlJournal *
ml_journal_create (const char *folder, const MlJournalText *board, const MlJournalText *job, GError **error)
{
  if (g_mkdir_with_parents (folder, 0700) != 0)
    {
      fail_errno (error, errno, folder, "the folder for journals could not be made");
      return NULL;
    }
  g_autofree char *path = new_path (folder);
  g_autofree char *passing = g_strconcat (path, ".new", NULL);
  int fd = open (passing, O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
  if (fd < 0)
    {
      fail_errno (error, errno, passing, "the journal could not be begun");
      return NULL;
    }
  MlJournal *self = journal_new (path, fd);
  gboolean begun = begin (self, board, job, error);
  if (begun && g_rename (passing, path) != 0)
    begun = fail_errno (error, errno, path, "the journal could not be begun");
  if (!begun)
    {
      g_unlink (passing);
      ml_journal_close (self);
      return NULL;
    }
  sync_folder (folder);
  return self;
}

MlJournal *
ml_journal_take (const char *path, MlJournalStory **ret_story, GError **error)
{
  int fd = open_locked (path, error);
  if (fd < 0)
    return NULL;
  MlJournal *self = journal_new (path, fd);
  MlJournalStory *story = read_story (path, error);
  if (!story)
    {
      ml_journal_close (self);
      return NULL;
    }
  self->length = (goffset) story->valid_length;
  if (ftruncate (fd, self->length) != 0 || lseek (fd, self->length, SEEK_SET) < 0)
    {
      fail_errno (error, errno, path, "the journal could not be carried on");
      ml_journal_story_free (story);
      ml_journal_close (self);
      return NULL;
    }
  *ret_story = story;
  return self;
}

MlJournalStory *
ml_journal_peek (const char *path, GError **error)
{
  int fd = open_locked (path, error);
  if (fd < 0)
    return NULL;
  MlJournalStory *story = read_story (path, error);
  close (fd);
  return story;
}

/* ---- appending ---- */

gboolean
ml_journal_append_step (MlJournal *self, const MlJournalStep *step, GError **error)
{
  GVariant *content = g_variant_new ("(@ay@aybvv)", bytestring (step->label), bytestring (step->merge), step->merged,
                                     change_variant (step->board_from, step->board_to), change_variant (step->job_from, step->job_to));
  return append (self, content, RECORD_STEP, error);
}

gboolean
ml_journal_append_move (MlJournal *self, MlJournalWhat undo_or_redo, GError **error)
{
  return append (self, g_variant_new (MOVE_TYPE), undo_or_redo == ML_JOURNAL_REDO ? RECORD_REDO : RECORD_UNDO, error);
}

gboolean
ml_journal_append_saved (MlJournal *self, gboolean job, const MlJournalText *text, GError **error)
{
  return append (self, g_variant_new ("(b@ay@ay)", job, bytestring (text->path), bytestring (text->fingerprint)), RECORD_SAVED, error);
}

/* ---- ending ---- */

const char *
ml_journal_path (const MlJournal *self)
{
  return self->path;
}

void
ml_journal_close (MlJournal *self)
{
  if (!self)
    return;
  close (self->fd);
  g_free (self->path);
  g_free (self);
}

void
ml_journal_discard (MlJournal *self)
{
  if (!self)
    return;
  g_unlink (self->path);
  ml_journal_close (self);
}

static gboolean
is_abandoned (const char *path)
{
  int fd = open_locked (path, NULL);
  if (fd < 0)
    return FALSE;
  close (fd);
  return TRUE;
}

static int
newest_first (gconstpointer a, gconstpointer b)
{
  return strcmp (*(const char *const *) b, *(const char *const *) a);
}

GPtrArray *
ml_journal_list (const char *folder)
{
  GPtrArray *paths = g_ptr_array_new_with_free_func (g_free);
  g_autoptr (GDir) dir = g_dir_open (folder, 0, NULL);
  const char *name;
  while (dir && (name = g_dir_read_name (dir)))
    {
      g_autofree char *path = g_build_filename (folder, name, NULL);
      if (g_str_has_suffix (name, ending) && is_abandoned (path))
        g_ptr_array_add (paths, g_steal_pointer (&path));
    }
  g_ptr_array_sort (paths, newest_first);
  return paths;
}
