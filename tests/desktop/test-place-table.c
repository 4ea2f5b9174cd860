/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A part in all conditions. Expected voltages: a divider by Ohm's law, here two equal resistors; the rest is what the job says. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <glib/gstdio.h>
#include <string.h>

#include "desktop/place-table.h"

static const char board_text[] = "meterleaf 1\n"
                                 "reference G\n"
                                 "part R1 resistor 1=IN 2=MID value=1k\n"
                                 "part R2 resistor 1=MID 2=G value=1k\n"
                                 "part Q1 npn collector=IN base=MID emitter=G\n"
                                 "part U1 block 1=IN 2=G 3=MID 4=P 5=Q 6=R\n"
                                 "condition high\n"
                                 "  supply plus=IN minus=G voltage=1 limit=100m\n"
                                 "condition low\n"
                                 "  supply plus=IN minus=G voltage=0.4 limit=100m\n"
                                 "condition cold\n";
static const char job_text[] = "meterleaf 1\n"
                               "board \"divider.leafboard\"\n"
                               "unit bad suspect\n"
                               "unit fine good\n"
                               "reading bad high red=MID black=IN volts=-0.9\n"
                               "reading bad cold across=R1 ohms=OL\n"
                               "reading bad high red=R1.2/lead black=MID volts=0.3\n"
                               "reading bad low red=R1.2 black=R1.1 volts=-0.2\n"
                               "reading fine high across=R1 volts=0.5\n"
                               "seen bad low R1 warm\n"
                               "seen bad low R1 hot\n";

typedef struct { char *folder, *board, *job; MlDocument *document; } Fixture;

static int
set_up (void **state)
{
  Fixture *fixture = g_new0 (Fixture, 1);

  fixture->folder = g_dir_make_tmp ("meterleaf-XXXXXX", NULL);
  fixture->board = g_build_filename (fixture->folder, "divider.leafboard", NULL);
  fixture->job = g_build_filename (fixture->folder, "divider.leafjob", NULL);
  assert_true (g_file_set_contents (fixture->board, board_text, -1, NULL));
  assert_true (g_file_set_contents (fixture->job, job_text, -1, NULL));
  fixture->document = ml_document_new (fixture->folder);
  assert_true (ml_document_open (fixture->document, fixture->job, NULL));
  for (guint i = 0; i < 20000 && ml_document_point_of (fixture->document, 1) == NULL; i++)
    {
      g_main_context_iteration (NULL, FALSE);
      g_usleep (1000);
    }
  *state = fixture;
  return 0;
}

static int
tear_down (void **state)
{
  Fixture *fixture = *state;

  g_object_unref (fixture->document);
  g_remove (fixture->board);
  g_remove (fixture->job);
  g_rmdir (fixture->folder);
  g_free (fixture->folder);
  g_free (fixture->board);
  g_free (fixture->job);
  g_free (fixture);
  return 0;
}

static const MlPlaceRow *
row_of (const MlPlaceTable *table, const char *label)
{
  for (guint i = 0; i < table->n_rows; i++)
    if (strcmp (table->rows[i].label, label) == 0)
      return &table->rows[i];
  fail_msg ("no row %s", label);
  return NULL;
}

static guint
n_places (const MlPlaceTable *table)
{
  guint n = 0;

  for (guint i = 0; i < table->n_rows; i++)
    n += table->rows[i].is_place ? 1 : 0;
  return n;
}

static void
test_rows_hold_readings_and_expectations_of_every_condition (void **state)
{
  Fixture *fixture = *state;
  int r1 = ml_board_find_part (ml_document_board (fixture->document), "R1");
  g_autoptr (MlPlaceTable) table = ml_place_table_new (fixture->document, r1, -1, 1);

  assert_int_equal (table->n_conditions, 3);
  assert_string_equal (table->conditions[1], "low");
  const MlPlaceRow *across = row_of (table, "across R1");
  assert_string_equal (across->cells[0].measured, "900 mV"); /* read the other way round */
  assert_string_equal (across->cells[0].other, "500 mV");
  assert_string_equal (across->cells[2].measured, "OL");
  assert_string_equal (across->cells[1].measured, "200 mV"); /* the same pins, the probes exchanged: no place of its own */
  assert_int_equal (n_places (table), 4);
  assert_string_equal (across->cells[1].expected, "200 mV"); /* half of 0.4 V; the transistor draws nothing there */
  assert_null (across->cells[2].expected);
  assert_string_equal (row_of (table, "1 (IN)")->cells[1].expected, "400 mV");
  assert_string_equal (row_of (table, "R1.2/lead to MID")->cells[0].measured, "300 mV");
  assert_string_equal (row_of (table, "seen")->cells[1].measured, "hot"); /* the later one */
  g_autofree char *words = ml_place_table_words (table);
  assert_non_null (strstr (words, "\tlow\tlow, expected\tlow, fine\t"));
  assert_non_null (strstr (words, "\nseen\t\t\t\thot\t"));
}

static void
test_rows_of_a_transistor_are_its_junctions_and_its_pins (void **state)
{
  Fixture *fixture = *state;
  int q1 = ml_board_find_part (ml_document_board (fixture->document), "Q1");
  g_autoptr (MlPlaceTable) table = ml_place_table_new (fixture->document, q1, -1, -1);

  row_of (table, "base to emitter");
  row_of (table, "collector to emitter");
  for (guint i = 0; i < table->n_rows; i++) /* the emitter is on the reference: base (MID) would be base to emitter again */
    assert_string_not_equal (table->rows[i].label, "base (MID)");
}

static void
test_rows_of_a_chip_are_those_of_the_pin_chosen (void **state)
{
  Fixture *fixture = *state;
  int u1 = ml_board_find_part (ml_document_board (fixture->document), "U1");
  g_autoptr (MlPlaceTable) all = ml_place_table_new (fixture->document, u1, -1, -1), one = ml_place_table_new (fixture->document, u1, 2, -1);

  assert_int_equal (n_places (all), 5); /* six pins, one of them on the reference */
  assert_int_equal (n_places (one), 1);
  assert_string_equal (one->rows[0].label, "3 (MID)");
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test_setup_teardown (test_rows_hold_readings_and_expectations_of_every_condition, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_rows_of_a_transistor_are_its_junctions_and_its_pins, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_rows_of_a_chip_are_those_of_the_pin_chosen, set_up, tear_down),
  };

  return cmocka_run_group_tests (tests, NULL, NULL);
}
