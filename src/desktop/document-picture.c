/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The picture of the real board: which one is looked at, its file, read in a thread of its own, and the scene made of it. */
#include "desktop/document-private.h"

#include <glib/gstdio.h>
#include <string.h>

/* What is known of one file; asked for again when the file is another one by now. */
struct _MlPictureFile
{
  char *path;
  gint64 changed_s, length;
  MlPhoto *photo; /* NULL: being read, or trouble */
  char *trouble;
  gboolean loading;
};

static void
file_clear (MlPictureFile *file)
{
  g_clear_pointer (&file->path, g_free);
  g_clear_pointer (&file->photo, ml_photo_unref);
  g_clear_pointer (&file->trouble, g_free);
  file->loading = FALSE;
}

void
ml_document_picture_clear (MlDocument *self)
{
  g_clear_pointer (&self->picture_scene, ml_scene_unref);
  for (guint i = 0; i < ML_PICTURE_FILES; i++)
    if (self->picture_files[i] != NULL)
      {
        file_clear (self->picture_files[i]);
        g_clear_pointer (&self->picture_files[i], g_free);
      }
}

void
ml_document_picture_changed (MlDocument *self)
{
  g_clear_pointer (&self->picture_scene, ml_scene_unref);
  self->view.picture = self->board->n_pictures == 0 ? -1 : CLAMP (self->view.picture, 0, (int) self->board->n_pictures - 1);
  ml_document_note_change (self, ML_CHANGED_PICTURE);
}

/* ---- reading the file ---- */

static void
load_thread (GTask *task, gpointer source, gpointer data, GCancellable *cancellable)
{
  GError *error = NULL;
  MlPhoto *photo = ml_photo_load (data, &error);

  if (photo != NULL)
    g_task_return_pointer (task, photo, (GDestroyNotify) ml_photo_unref);
  else
    g_task_return_error (task, error);
}

static void
loaded_cb (GObject *source, GAsyncResult *result, gpointer data)
{
  MlDocument *self = ML_DOCUMENT (source);
  g_autoptr (GError) error = NULL;
  MlPhoto *photo = g_task_propagate_pointer (G_TASK (result), &error);
  const char *path = g_task_get_task_data (G_TASK (result));

  for (guint i = 0; i < ML_PICTURE_FILES; i++)
    {
      MlPictureFile *file = self->picture_files[i];

      if (file == NULL || !file->loading || g_strcmp0 (file->path, path) != 0)
        continue;
      file->loading = FALSE;
      file->photo = photo != NULL ? ml_photo_ref (photo) : NULL;
      file->trouble = error != NULL ? g_strdup (error->message) : NULL;
    }
  g_clear_pointer (&photo, ml_photo_unref);
  g_clear_pointer (&self->picture_scene, ml_scene_unref);
  ml_document_note_change (self, ML_CHANGED_PICTURE);
  ml_document_tell (self);
}

static void
begin_loading (MlDocument *self, MlPictureFile *file, const char *path, const GStatBuf *status)
{
  g_autoptr (GTask) task = g_task_new (self, NULL, loaded_cb, NULL);

  file_clear (file);
  file->path = g_strdup (path);
  file->changed_s = status->st_mtime;
  file->length = status->st_size;
  file->loading = TRUE;
  g_task_set_task_data (task, g_strdup (path), g_free);
  g_task_run_in_thread (task, load_thread);
}

/* One slot a picture, the last one shared by all beyond: boards have two sides. */
static MlPictureFile *
file_of (MlDocument *self, int picture)
{
  MlPictureFile **slot = &self->picture_files[MIN (picture, ML_PICTURE_FILES - 1)];
  g_autofree char *path = ml_photo_path (self->board_file.path, self->board->pictures[picture].file);
  GStatBuf status = { 0 };

  if (*slot == NULL)
    *slot = g_new0 (MlPictureFile, 1);
  if (g_stat (path, &status) != 0)
    memset (&status, 0, sizeof status);
  if (g_strcmp0 ((*slot)->path, path) != 0 || (*slot)->changed_s != status.st_mtime || (*slot)->length != status.st_size)
    begin_loading (self, *slot, path, &status);
  return *slot;
}

/* ---- what is looked at ---- */

int
ml_document_picture (MlDocument *self)
{
  return self->view.picture;
}

void
ml_document_set_picture (MlDocument *self, int picture)
{
  if (picture < 0 || (guint) picture >= self->board->n_pictures || picture == self->view.picture)
    return;
  self->view.picture = picture;
  ml_document_picture_changed (self);
  ml_document_tell (self);
}

MlScene *
ml_document_picture_scene (MlDocument *self)
{
  int picture = self->view.picture;

  if (self->picture_scene == NULL)
    self->picture_scene = ml_photo_scene (self->board, picture, picture >= 0 ? file_of (self, picture)->photo : NULL);
  return self->picture_scene;
}

const char *
ml_document_picture_trouble (MlDocument *self)
{
  return self->view.picture >= 0 ? file_of (self, self->view.picture)->trouble : NULL;
}
