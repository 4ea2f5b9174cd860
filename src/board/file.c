/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "board/file.h"

#include <errno.h>
#include <fcntl.h>
#include <gio/gio.h>
#include <glib/gstdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

G_DEFINE_QUARK (ml-file-error-quark, ml_file_error)

char *
ml_file_fingerprint (const char *path)
{
  g_autofree char *content = NULL;
  gsize length;

  if (!g_file_get_contents (path, &content, &length, NULL))
    return NULL;
  return g_compute_checksum_for_data (G_CHECKSUM_SHA256, (const guchar *) content, length);
}

static gboolean
fail (const char *path, const char *doing, GError **error)
{
  int code = errno;

  g_set_error (error, G_FILE_ERROR, g_file_error_from_errno (code), "%s could not be saved: %s: %s; what was there before is unchanged", path,
               doing, g_strerror (code));
  return FALSE;
}

/* The file behind symbolic links, so that the link stays a link. A link to nothing leads to where the file will be. */
static char *
resolve (const char *path)
{
  char *real = realpath (path, NULL);
  g_autofree char *target = NULL;
  g_autofree char *folder = NULL;
  char *copy;

  if (real != NULL)
    {
      copy = g_strdup (real);
      free (real);
      return copy;
    }
  target = g_file_read_link (path, NULL);
  if (target == NULL || errno == ELOOP)
    return g_strdup (path);
  folder = g_path_get_dirname (path);
  return g_path_is_absolute (target) ? g_steal_pointer (&target) : g_build_filename (folder, target, NULL);
}

static gboolean
write_all (int fd, const char *bytes, gsize length)
{
  while (length > 0)
    {
      gssize n = write (fd, bytes, length);

      if (n < 0 && errno == EINTR)
        continue;
      if (n < 0)
        return FALSE;
      bytes += n;
      length -= (gsize) n;
    }
  return TRUE;
}

/* Mode and, where we may, owner of the file that is replaced; a new file gets what the umask leaves of 0666. */
static gboolean
set_mode (int fd, const char *path)
{
  struct stat status;
  mode_t mask;

  if (stat (path, &status) == 0)
    {
      if (fchown (fd, status.st_uid, status.st_gid) != 0 && errno != EPERM)
        return FALSE;
      return fchmod (fd, status.st_mode & 07777) == 0;
    }
  mask = umask (0);
  umask (mask);
  return fchmod (fd, 0666 & ~mask) == 0;
}

/* Makes the new name itself durable. Some file systems cannot sync a folder; the file's own content is synced in any case. */
static void
sync_folder (const char *folder)
{
  int fd = g_open (folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC, 0);

  if (fd < 0)
    return;
  fsync (fd);
  close (fd);
}

static gboolean
write_beside (const char *path, const char *temporary, int fd, GBytes *bytes, GError **error)
{
  gsize length;
  const char *content = g_bytes_get_data (bytes, &length);

  if (!write_all (fd, content, length))
    return fail (path, "writing", error);
  if (!set_mode (fd, path))
    return fail (path, "setting its permissions", error);
  if (fsync (fd) != 0)
    return fail (path, "writing to the disk", error);
  if (g_rename (temporary, path) != 0)
    return fail (path, "putting the new file in place", error);
  return TRUE;
}

static gboolean
is_unchanged (const char *path, const char *expected, GError **error)
{
  g_autofree char *now = expected != NULL ? ml_file_fingerprint (path) : NULL;

  if (expected == NULL || g_strcmp0 (now, expected) == 0)
    return TRUE;
  g_set_error (error, ML_FILE_ERROR, ML_FILE_ERROR_CHANGED, "%s was %s by someone else since it was read; nothing was written", path,
               now != NULL ? "changed" : "removed");
  return FALSE;
}

/* A rename would put an ordinary file in the place of a device. */
static gboolean
is_ordinary (const char *path, const char *real, GError **error)
{
  struct stat status;

  if (stat (real, &status) != 0 || S_ISREG (status.st_mode))
    return TRUE;
  g_set_error (error, G_FILE_ERROR, S_ISDIR (status.st_mode) ? G_FILE_ERROR_ISDIR : G_FILE_ERROR_INVAL, "%s could not be saved: it is %s: name an ordinary file",
               path, S_ISDIR (status.st_mode) ? "a folder" : "a device or a pipe");
  return FALSE;
}

gboolean
ml_file_save (const char *path, GBytes *bytes, const char *expected, GError **error)
{
  g_autofree char *real = resolve (path);
  g_autofree char *folder = g_path_get_dirname (real);
  g_autofree char *name = g_path_get_basename (real);
  g_autofree char *temporary = g_strdup_printf ("%s/.%.200s.XXXXXX", folder, name);
  gboolean fine;
  int fd;

  if (!is_ordinary (path, real, error) || !is_unchanged (real, expected, error))
    return FALSE;
  if (g_file_test (real, G_FILE_TEST_EXISTS) && access (real, W_OK) != 0)
    return fail (path, "it is write-protected", error);
  fd = g_mkstemp_full (temporary, O_RDWR | O_CLOEXEC, 0600);
  if (fd < 0)
    return fail (path, "making a new file in its folder", error);
  fine = write_beside (real, temporary, fd, bytes, error);
  close (fd);
  if (fine)
    sync_folder (folder);
  else
    g_unlink (temporary);
  return fine;
}

char *
ml_file_stem (const char *path)
{
  static const char *const endings[] = { ".leafboard", ".leafjob" };

  if (path == NULL || *path == '\0' || strcmp (path, "-") == 0)
    return NULL;
  g_autofree char *base = g_path_get_basename (path);
  for (guint i = 0; i < G_N_ELEMENTS (endings); i++)
    if (g_str_has_suffix (base, endings[i]) && strlen (base) > strlen (endings[i]))
      base[strlen (base) - strlen (endings[i])] = '\0';
  return g_filename_display_name (base);
}
