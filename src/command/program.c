/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "command/command.h"

#include <errno.h>
#include <gio/gio.h>
#include <langinfo.h>
#include <locale.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "board/nearest.h"

static const MlCommand commands[] = {
  { "check", "FILE…", "errors and warnings of boards and jobs", ml_command_check },
  { "solve", "BOARD", "voltages, currents and power of every part", ml_command_solve },
  { "judge", "JOB", "which part is faulty, how sure that is, and where to measure next", ml_command_judge },
  { "draw", "FILE -o PICTURE", "the circuit drawing with readings and marks as PNG, SVG or PDF", ml_command_draw },
  { "report", "JOB -o OUT.pdf", "the record of a repair: readings, verdict, what was done, before and after", ml_command_report },
};

const MlCommand *
ml_command_find (const char *name)
{
  for (guint i = 0; i < G_N_ELEMENTS (commands); i++)
    if (strcmp (commands[i].name, name) == 0)
      return &commands[i];
  return NULL;
}

gboolean
ml_command_parse (const char *command, int *argc, char ***argv, const GOptionEntry *entries, int n_min, int n_max)
{
  const MlCommand *self = ml_command_find (command);
  g_autoptr (GOptionContext) context = g_option_context_new (self->arguments);
  g_autofree char *program = g_strdup_printf ("meterleaf %s", command);
  g_autoptr (GError) error = NULL;

  g_option_context_set_summary (context, self->summary);
  g_option_context_add_main_entries (context, entries, NULL);
  g_set_prgname (program); /* the usage line of --help shows it */
  if (!g_option_context_parse (context, argc, argv, &error))
    {
      ml_command_say ("%s; see meterleaf %s --help", error->message, command);
      return FALSE;
    }
  if (*argc - 1 < n_min || (n_max >= 0 && *argc - 1 > n_max))
    {
      ml_command_say ("%s wants %s; see meterleaf %s --help", command, self->arguments, command);
      return FALSE;
    }
  return TRUE;
}

static void
print_help (void)
{
  g_print ("Usage:\n"
           "  meterleaf [FILE]                 open the window, with a board or a job\n");
  for (guint i = 0; i < G_N_ELEMENTS (commands); i++)
    {
      g_autofree char *left = g_strdup_printf ("meterleaf %s %s", commands[i].name, commands[i].arguments);
      g_print ("  %s%*s %s\n", left, MAX (0, 32 - (int) g_utf8_strlen (left, -1)), "", commands[i].summary); /* … is one column but three bytes */
    }
  g_print ("\n"
           "  meterleaf COMMAND --help         the options of a command\n"
           "  meterleaf --version              the version\n"
           "\n"
           "A FILE, BOARD or JOB of - is standard input.\n"
           "Exit status: 0 done, 2 usage, 3 the input is at fault, 4 the computation or writing the output failed.\n");
}

/* The window program stands beside this one when installed, and in the neighbouring folder of the build. */
static char *
find_window_program (void)
{
  g_autofree char *self = g_file_read_link ("/proc/self/exe", NULL);
  g_autofree char *folder = self != NULL ? g_path_get_dirname (self) : g_strdup (".");
  const char *places[] = { "meterleaf-window", "../desktop/meterleaf-window" };

  for (guint i = 0; i < G_N_ELEMENTS (places); i++)
    {
      char *path = g_build_filename (folder, places[i], NULL);
      if (g_file_test (path, G_FILE_TEST_IS_EXECUTABLE))
        return path;
      g_free (path);
    }
  return g_find_program_in_path ("meterleaf-window");
}

static void
say_unknown (const char *word)
{
  MlNearest nearest;

  ml_nearest_start (&nearest, word);
  for (guint i = 0; i < G_N_ELEMENTS (commands); i++)
    ml_nearest_offer (&nearest, commands[i].name);
  ml_command_say ("'%s' is neither a command nor a file%s%s%s; see meterleaf --help", word, nearest.best != NULL ? "; did you mean " : "",
                  nearest.best != NULL ? nearest.best : "", nearest.best != NULL ? "?" : "");
}

/* No command has a slash or such an ending. */
static gboolean
is_meant_as_file (const char *word)
{
  return strchr (word, '/') != NULL || g_str_has_suffix (word, ".leafboard") || g_str_has_suffix (word, ".leafjob");
}

/* As a desktop or a remote shell says it; a backend that was chosen by hand knows better. */
static gboolean
has_display (void)
{
  g_autofree char *wayland = g_build_filename (g_get_user_runtime_dir (), "wayland-0", NULL);
  const char *const names[] = { "DISPLAY", "WAYLAND_DISPLAY", "GDK_BACKEND" };

  for (guint i = 0; i < G_N_ELEMENTS (names); i++)
    if (g_getenv (names[i]) != NULL && *g_getenv (names[i]) != '\0')
      return TRUE;
  return g_file_test (wayland, G_FILE_TEST_EXISTS);
}

static int
open_window (int argc, char **argv)
{
  g_autofree char *program = find_window_program ();
  char *arguments[] = { program, argc > 1 ? argv[1] : NULL, NULL };

  if (argc > 1 && !g_file_test (argv[1], G_FILE_TEST_EXISTS))
    {
      if (is_meant_as_file (argv[1]))
        {
          ml_command_say ("%s cannot be read: %s", argv[1], g_strerror (ENOENT));
          return ML_EXIT_INPUT;
        }
      say_unknown (argv[1]);
      return ML_EXIT_USAGE;
    }
  if (argc > 2)
    {
      ml_command_say ("the window opens one file; see meterleaf --help");
      return ML_EXIT_USAGE;
    }
  if (program == NULL)
    {
      ml_command_say ("the window program meterleaf-window is not installed; the commands work without it, see meterleaf --help");
      return ML_EXIT_FAILED;
    }
  if (!has_display ())
    {
      ml_command_say ("there is no display for the window; judge and draw give the verdict and the picture without one, see meterleaf --help");
      return ML_EXIT_FAILED;
    }
  execv (program, arguments);
  ml_command_say ("%s could not be started: %s", program, g_strerror (errno));
  return ML_EXIT_FAILED;
}

static int
run (int argc, char **argv)
{
  const MlCommand *command;

  if (argc > 1 && (strcmp (argv[1], "--help") == 0 || strcmp (argv[1], "-h") == 0 || strcmp (argv[1], "help") == 0))
    {
      print_help ();
      return ML_EXIT_DONE;
    }
  if (argc > 1 && strcmp (argv[1], "--version") == 0)
    {
      g_print ("Meterleaf %s\n", METERLEAF_VERSION);
      return ML_EXIT_DONE;
    }
  if (argc > 1 && argv[1][0] == '-' && argv[1][1] != '\0')
    {
      ml_command_say ("unknown option '%s'; see meterleaf --help", argv[1]);
      return ML_EXIT_USAGE;
    }
  command = argc > 1 ? ml_command_find (argv[1]) : NULL;
  if (command == NULL)
    return open_window (argc, argv);
  return command->run (argc - 1, argv + 1);
}

int
ml_command_main (int argc, char **argv)
{
  int status;

  setlocale (LC_ALL, "");
  /* The C locale knows no Ω, and no name that is not English: there too text is UTF-8, as in the files. */
  if (strcmp (nl_langinfo (CODESET), "ANSI_X3.4-1968") == 0)
    setlocale (LC_CTYPE, "C.UTF-8");
  status = run (argc, argv);
  /* a full disk behind a redirection: what was printed is not there */
  if (fflush (stdout) != 0 || ferror (stdout))
    {
      ml_command_say ("the output could not be written: %s", g_strerror (errno));
      return status == ML_EXIT_DONE ? ML_EXIT_FAILED : status;
    }
  return status;
}
