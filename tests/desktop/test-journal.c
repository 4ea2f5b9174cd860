/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The journal: what is appended is told again, and nothing that a kill or a bad disk leaves behind is taken for more than it is. The
 * texts are compared with what was put in; a torn file is made here by cutting a whole one at every byte. */
#include "support/near.h"

#include <glib/gstdio.h>
#include <signal.h>
#include <string.h>
#include <sys/resource.h>

#include "desktop/journal.h"

typedef struct
{
  char *folder;
  MlText *board, *job;
} Fixture;

static int
set_up (void **state)
{
  Fixture *fixture = g_new0 (Fixture, 1);
  fixture->folder = g_dir_make_tmp ("leaf-journal-XXXXXX", NULL);
  fixture->board = ml_text_new ("b.leafboard", "meterleaf 1\npart R1 resistor 1=A 2=B\n", -1);
  fixture->job = ml_text_new ("j.leafjob", "meterleaf 1\njob \"x\"\n", -1);
  *state = fixture;
  return fixture->folder ? 0 : -1;
}

static int
tear_down (void **state)
{
  Fixture *fixture = *state;
  g_autoptr (GDir) dir = g_dir_open (fixture->folder, 0, NULL);
  const char *name;
  while ((name = g_dir_read_name (dir)))
    {
      g_autofree char *path = g_build_filename (fixture->folder, name, NULL);
      g_unlink (path);
    }
  g_rmdir (fixture->folder);
  g_free (fixture->folder);
  ml_text_unref (fixture->board);
  ml_text_unref (fixture->job);
  g_free (fixture);
  return 0;
}

static MlJournal *
begin (Fixture *fixture)
{
  MlJournalText board = { fixture->board, (char *) "/tmp/b.leafboard", (char *) "abc" };
  MlJournalText job = { fixture->job, NULL, NULL };
  g_autoptr (GError) error = NULL;
  MlJournal *journal = ml_journal_create (fixture->folder, &board, &job, &error);
  assert_null (error);
  assert_non_null (journal);
  return journal;
}

static MlText *
with_line (MlText *text, const char *line)
{
  return ml_text_splice (text, ml_text_n_lines (text), 0, (const char *const[]){ line, NULL });
}

static void
add_step (MlJournal *journal, MlText *board, MlText *job_from, MlText *job_to, const char *label)
{
  MlJournalStep step = { board, board, job_from, job_to, label, "word", FALSE };
  g_autoptr (GError) error = NULL;
  assert_true (ml_journal_append_step (journal, &step, &error));
}

static char *
only_journal (Fixture *fixture)
{
  g_autoptr (GPtrArray) list = ml_journal_list (fixture->folder);
  assert_int_equal (list->len, 1);
  return g_strdup (list->pdata[0]);
}

static const MlJournalRecord *
record (const MlJournalStory *story, guint i)
{
  assert_true (i < story->records->len);
  return story->records->pdata[i];
}

static void
test_journal_steps_come_back_whole (void **state)
{
  Fixture *fixture = *state;
  g_autoptr (MlText) one = with_line (fixture->job, "reading u run red=A volts=2.91");
  g_autoptr (MlText) two = with_line (one, "note \"caf\xe9, not UTF-8\"");
  g_autoptr (MlText) other = with_line (one, "reading u run red=B volts=270m");
  MlJournal *journal = begin (fixture);
  add_step (journal, fixture->board, fixture->job, one, "First");
  add_step (journal, fixture->board, one, two, "Second");
  assert_true (ml_journal_append_move (journal, ML_JOURNAL_UNDO, NULL));
  add_step (journal, fixture->board, one, other, "Other");
  ml_journal_close (journal);

  g_autofree char *path = only_journal (fixture);
  g_autoptr (MlJournalStory) story = ml_journal_peek (path, NULL);
  assert_non_null (story);
  assert_true (ml_text_equal (story->board.text, fixture->board));
  assert_true (ml_text_equal (story->job.text, fixture->job));
  assert_string_equal (story->board.path, "/tmp/b.leafboard");
  assert_null (story->job.path);
  assert_int_equal (story->records->len, 4);
  assert_true (ml_text_equal (record (story, 0)->job, one));
  assert_string_equal (record (story, 0)->label, "First");
  assert_string_equal (record (story, 0)->merge, "word");
  assert_true (ml_text_equal (record (story, 1)->job, two));
  assert_int_equal (record (story, 2)->what, ML_JOURNAL_UNDO);
  assert_true (ml_text_equal (record (story, 3)->job, other));
  assert_true (ml_text_equal (record (story, 3)->board, fixture->board));
  assert_int_equal (story->n_unsaved, 4);
  assert_int_equal (story->n_apart, 2); /* "First" and "Other": "Second" is undone */
}

static void
test_journal_save_of_both_leaves_nothing_unsaved (void **state)
{
  Fixture *fixture = *state;
  g_autoptr (MlText) one = with_line (fixture->job, "log x");
  MlJournal *journal = begin (fixture);
  MlJournalText saved = { NULL, (char *) "/tmp/j.leafjob", (char *) "print" };
  add_step (journal, fixture->board, fixture->job, one, "First");
  assert_true (ml_journal_append_saved (journal, TRUE, &saved, NULL));
  g_autofree char *path = NULL;
  ml_journal_close (journal);
  path = only_journal (fixture);
  g_autoptr (MlJournalStory) half = ml_journal_peek (path, NULL);
  assert_int_equal (half->n_unsaved, 1); /* the board is not saved yet */
  assert_string_equal (record (half, 1)->path[1], "/tmp/j.leafjob");

  g_autoptr (MlJournalStory) again = NULL;
  journal = ml_journal_take (path, &again, NULL);
  assert_true (ml_journal_append_saved (journal, FALSE, &saved, NULL));
  ml_journal_close (journal);
  g_autoptr (MlJournalStory) story = ml_journal_peek (path, NULL);
  assert_int_equal (story->n_unsaved, 0);
  assert_int_equal (story->n_apart, 0);
}

static void
test_journal_in_use_is_not_taken (void **state)
{
  Fixture *fixture = *state;
  MlJournal *journal = begin (fixture);
  g_autoptr (GPtrArray) list = ml_journal_list (fixture->folder);
  assert_int_equal (list->len, 0);
  g_autoptr (GDir) dir = g_dir_open (fixture->folder, 0, NULL);
  g_autofree char *path = g_build_filename (fixture->folder, g_dir_read_name (dir), NULL);
  g_autoptr (GError) error = NULL;
  g_autoptr (MlJournalStory) story = NULL;
  assert_null (ml_journal_take (path, &story, &error));
  assert_true (g_error_matches (error, ML_JOURNAL_ERROR, ML_JOURNAL_ERROR_IN_USE));
  ml_journal_discard (journal);
  assert_false (g_file_test (path, G_FILE_TEST_EXISTS));
}

/* Cut at every byte: the whole records before the cut are told, never half of one, and the journal can be carried on from there. */
static void
test_journal_torn_anywhere_keeps_whole_records (void **state)
{
  Fixture *fixture = *state;
  g_autoptr (MlText) one = with_line (fixture->job, "a");
  g_autoptr (MlText) two = with_line (one, "b");
  MlJournal *journal = begin (fixture);
  ml_journal_close (journal);
  g_autofree char *path = only_journal (fixture);
  gsize ends[3];
  g_autofree char *whole = NULL;
  g_autoptr (MlJournalStory) start = NULL;
  journal = ml_journal_take (path, &start, NULL);
  ends[0] = start->valid_length;
  add_step (journal, fixture->board, fixture->job, one, "1");
  g_file_get_contents (path, &whole, &ends[1], NULL);
  add_step (journal, fixture->board, one, two, "2");
  g_free (whole);
  g_file_get_contents (path, &whole, &ends[2], NULL);
  ml_journal_close (journal);

  for (gsize cut = 0; cut <= ends[2]; cut++)
    {
      assert_true (g_file_set_contents (path, whole, (gssize) cut, NULL));
      g_autoptr (GError) error = NULL;
      g_autoptr (MlJournalStory) story = ml_journal_peek (path, &error);
      if (cut < ends[0])
        {
          assert_true (g_error_matches (error, ML_JOURNAL_ERROR, ML_JOURNAL_ERROR_DAMAGED));
          continue;
        }
      guint expected = cut < ends[1] ? 0 : cut < ends[2] ? 1 : 2;
      assert_int_equal (story->records->len, expected);
    }

  g_autoptr (MlJournalStory) torn = NULL, mended = NULL;
  g_file_set_contents (path, whole, (gssize) ends[2] - 5, NULL);
  journal = ml_journal_take (path, &torn, NULL);
  add_step (journal, fixture->board, one, two, "again");
  ml_journal_close (journal);
  mended = ml_journal_peek (path, NULL);
  assert_int_equal (mended->records->len, 2);
  assert_string_equal (record (mended, 1)->label, "again");
}

/* One byte flipped anywhere: fewer records or the same ones, never a crash and never a changed text. */
static void
test_journal_flipped_byte_never_changes_a_record (void **state)
{
  Fixture *fixture = *state;
  g_autoptr (MlText) one = with_line (fixture->job, "reading u run red=A volts=1");
  MlJournal *journal = begin (fixture);
  add_step (journal, fixture->board, fixture->job, one, "1");
  ml_journal_close (journal);
  g_autofree char *path = only_journal (fixture);
  g_autofree char *whole = NULL;
  gsize length = 0;
  g_file_get_contents (path, &whole, &length, NULL);
  for (gsize i = 0; i < length; i++)
    {
      whole[i] ^= 0x10;
      g_file_set_contents (path, whole, (gssize) length, NULL);
      g_autoptr (MlJournalStory) story = ml_journal_peek (path, NULL);
      if (story && story->records->len == 1)
        assert_true (ml_text_equal (record (story, 0)->job, one));
      whole[i] ^= 0x10;
    }
}

static char *
only_file (Fixture *fixture)
{
  g_autoptr (GDir) dir = g_dir_open (fixture->folder, 0, NULL);
  char *path = g_build_filename (fixture->folder, g_dir_read_name (dir), NULL);

  assert_null (g_dir_read_name (dir));
  return path;
}

/* The disk is full in the middle of a record (here: the file may not grow further): that step is an error, and the next one, when there is room
 * again, stands behind the last whole record. */
static void
test_journal_goes_on_after_a_full_disk (void **state)
{
  Fixture *fixture = *state;
  g_autoptr (MlText) one = with_line (fixture->job, "reading u run red=A volts=2.91");
  g_autoptr (MlText) two = with_line (one, "reading u run red=B volts=270m");
  g_autoptr (GError) error = NULL;
  MlJournal *journal = begin (fixture);
  MlJournalStep step = { fixture->board, fixture->board, one, two, "Second", "word", FALSE };
  struct rlimit all, little;
  GStatBuf info;

  add_step (journal, fixture->board, fixture->job, one, "First");
  g_autofree char *path = only_file (fixture);
  assert_int_equal (g_stat (path, &info), 0);
  assert_int_equal (getrlimit (RLIMIT_FSIZE, &all), 0);
  little = (struct rlimit){ (rlim_t) info.st_size + 20, all.rlim_max };
  signal (SIGXFSZ, SIG_IGN);
  assert_int_equal (setrlimit (RLIMIT_FSIZE, &little), 0);
  gboolean noted = ml_journal_append_step (journal, &step, &error);
  assert_int_equal (setrlimit (RLIMIT_FSIZE, &all), 0);
  assert_false (noted);
  assert_non_null (error);

  add_step (journal, fixture->board, one, two, "Again");
  ml_journal_close (journal);
  g_autoptr (MlJournalStory) story = ml_journal_peek (path, NULL);
  assert_non_null (story);
  assert_int_equal (story->records->len, 2);
  assert_string_equal (record (story, 1)->label, "Again");
  assert_true (ml_text_equal (record (story, 1)->job, two));
}

static void
test_journal_folder_that_cannot_be_made_is_an_error (void **state)
{
  Fixture *fixture = *state;
  MlJournalText board = { fixture->board, NULL, NULL }, job = { fixture->job, NULL, NULL };
  g_autoptr (GError) error = NULL;
  assert_null (ml_journal_create ("/dev/null/journal", &board, &job, &error));
  assert_non_null (error);
  assert_non_null (strstr (error->message, "/dev/null/journal"));
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test_setup_teardown (test_journal_steps_come_back_whole, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_journal_save_of_both_leaves_nothing_unsaved, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_journal_in_use_is_not_taken, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_journal_torn_anywhere_keeps_whole_records, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_journal_flipped_byte_never_changes_a_record, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_journal_goes_on_after_a_full_disk, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_journal_folder_that_cannot_be_made_is_an_error, set_up, tear_down),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
