/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What `check` says of boards that read without errors: input, the line it speaks of, the words it must hold. Common practice. */
#include "support/near.h"

#include <locale.h>
#include <stdio.h>
#include <string.h>

#include "board/board.h"

static MlDiagnostics *
check (const char *bytes)
{
  g_autoptr (MlText) text = ml_text_new ("test", bytes, -1);
  MlDiagnostics *diagnostics = ml_diagnostics_new ();
  g_autoptr (MlBoard) board = ml_board_read (text, diagnostics);

  assert_int_equal (ml_diagnostics_n (diagnostics), 0);
  ml_board_check (board, diagnostics);
  return diagnostics;
}

static gboolean
says (const MlDiagnostics *diagnostics, guint line, MlSeverity severity, const char *words)
{
  for (guint i = 0; i < ml_diagnostics_n (diagnostics); i++)
    {
      const MlDiagnostic *one = ml_diagnostics_get (diagnostics, i);
      if (one->line == line && one->severity == severity && strstr (one->message, words) != NULL)
        return TRUE;
    }
  return FALSE;
}

static void
test_each_doubt_is_said_at_its_line (void **state)
{
  static const struct { const char *board; guint line; MlSeverity severity; const char *words; } table[] = {
    { "", 0, ML_SEVERITY_WARNING, "no parts" },
    { "part R1 resistor 1=A 2=B\n", 0, ML_SEVERITY_WARNING, "reference" },
    { "part R1 resistor 1=A 2=B\n", 0, ML_SEVERITY_NOTE, "no condition" },
    { "reference A\npart R1 resistor\n", 2, ML_SEVERITY_WARNING, "joined to nothing" },
    { "reference A\npart R1 resistor 1=A 2=A\n", 2, ML_SEVERITY_WARNING, "both pins of R1" },
    { "reference A\npart R1 resistor 1=A\n", 2, ML_SEVERITY_WARNING, "one pin of R1" },
    { "reference A\npart R1 resistor 1=A 2=B\n", 2, ML_SEVERITY_NOTE, "ends at R1.2" },
    { "reference A\npart R1 resistor 1=A 2=B\nnet C \"nothing\"\n", 3, ML_SEVERITY_WARNING, "no pin is on net C" },
    { "part R1 resistor 1=A 2=B\nbeep R1.1 R1.2 yes\n", 2, ML_SEVERITY_WARNING, "beeped" },
    { "part R1 resistor 1=A 2=B\npart R2 resistor 1=A 2=B\nbeep R1.1 R2.1 no\n", 3, ML_SEVERITY_WARNING, "did not beep" },
    { "part R1 resistor 1=A 2=B\ncondition on\n  supply plus=A minus=B voltage=5\n", 3, ML_SEVERITY_NOTE, "3 A" },
    { "part R1 resistor 1=A 2=B\ncondition on\n  supply plus=A minus=B voltage=61 limit=1\n", 3, ML_SEVERITY_WARNING, "60 V" },
    { "part R1 resistor 1=A 2=B\ncondition on\n  supply plus=A minus=B voltage=60.5 limit=1\n", 3, ML_SEVERITY_WARNING, "60.5 V" },
    { "part K1 contact common=A no=B\n", 1, ML_SEVERITY_NOTE, "follows no coil" },
    { "part R1 resistor 1=A 2=B\ncondition on\n  supply plus=A minus=B voltage=5 limit=1\n  supply plus=A minus=B voltage=6 limit=1\n", 4, ML_SEVERITY_WARNING,
      "supplies 1 and 2 are both on A and B" },
    { "part R1 resistor 1=A 2=B\ncondition on\n  supply x plus=A minus=B voltage=5 limit=1\n  supply y plus=B minus=A voltage=6 limit=1\n", 4,
      ML_SEVERITY_WARNING, "other way round" },
    { "part Q1 nmos drain=A gate=A source=B on=50m\n", 1, ML_SEVERITY_WARNING, "at which gate voltage" },
    { "part Q1 nmos drain=A gate=A source=B threshold=3 on=50m@2.5\n", 1, ML_SEVERITY_WARNING, "not above the threshold" },
    { "part U1 block 1=A 2=B\n", 1, ML_SEVERITY_NOTE, "supply" },
  };

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      g_autoptr (MlDiagnostics) diagnostics = check (table[i].board);
      if (!says (diagnostics, table[i].line, table[i].severity, table[i].words))
        print_error ("%s: nothing says '%s' of line %u\n", table[i].board, table[i].words, table[i].line);
      assert_true (says (diagnostics, table[i].line, table[i].severity, table[i].words));
    }
}

static void
test_a_sound_board_gets_no_doubt (void **state)
{
  g_autoptr (MlDiagnostics) diagnostics = check ("reference M\npart F1 fuse 1=IN 2=A\npart R1 resistor 1=A 2=M\npart J1 connector 1=OUT 2=A\n"
                                                 "beep F1.1 R1.1 yes\nbeep R1.1 R1.2 no\n"
                                                 "condition on\n  supply plus=IN minus=M voltage=5 limit=100m\n");

  for (guint i = 0; i < ml_diagnostics_n (diagnostics); i++)
    print_error ("%s\n", ml_diagnostics_get (diagnostics, i)->message);
  assert_int_equal (ml_diagnostics_n (diagnostics), 0);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_each_doubt_is_said_at_its_line),
    cmocka_unit_test (test_a_sound_board_gets_no_doubt),
  };

  if (setlocale (LC_ALL, "de_DE.UTF-8") == NULL) /* the comma is the decimal mark there: messages keep the point that files have */
    fprintf (stderr, "the locale de_DE.UTF-8 is not installed: tested in the C locale\n");
  return cmocka_run_group_tests (tests, NULL, NULL);
}
