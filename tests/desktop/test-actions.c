/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The table of actions. What a key or label has to be is this program's own rule; nothing is compared with an outside source here. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <string.h>

#include "desktop/actions.h"

static void
test_table_every_action_has_label_and_help (void **state)
{
  guint n;
  const MlActionInfo *table = ml_actions_table (&n);

  assert_true (n > 40);
  for (guint i = 0; i < n; i++)
    {
      assert_non_null (table[i].label);
      assert_non_null (table[i].help);
      assert_true (strlen (table[i].label) > 1 && strlen (table[i].help) > 3);
      assert_true (table[i].group < ML_N_ACTION_GROUPS);
      assert_true (table[i].id != NULL || table[i].keys != NULL);
    }
}

static void
test_table_ids_are_unique_and_well_formed (void **state)
{
  guint n;
  const MlActionInfo *table = ml_actions_table (&n);
  g_autoptr (GHashTable) seen = g_hash_table_new (g_str_hash, g_str_equal);

  for (guint i = 0; i < n; i++)
    {
      g_autofree char *name = NULL;
      g_autoptr (GVariant) target = NULL;
      if (table[i].id == NULL)
        continue;
      assert_true (g_hash_table_add (seen, (gpointer) table[i].id));
      assert_true (g_action_parse_detailed_name (table[i].id, &name, &target, NULL));
      assert_true (g_str_has_prefix (name, "win.") || g_str_has_prefix (name, "app."));
      assert_ptr_equal (ml_actions_find (table[i].id), &table[i]);
    }
  assert_null (ml_actions_find ("win.no-such-thing"));
}

/* A key may do one thing in the window and, where typing goes to the drawing, must not do another there. */
static void
test_table_keys_are_unique_and_can_be_parsed (void **state)
{
  guint n;
  const MlActionInfo *table = ml_actions_table (&n);
  g_autoptr (GHashTable) seen = g_hash_table_new_full (g_str_hash, g_str_equal, g_free, NULL);

  for (guint i = 0; i < n; i++)
    {
      if (table[i].keys == NULL || table[i].id == NULL)
        continue;
      g_auto (GStrv) keys = g_strsplit (table[i].keys, " ", -1);
      for (char **key = keys; *key != NULL; key++)
        {
          guint value;
          GdkModifierType modifiers;
          assert_true (gtk_accelerator_parse (*key, &value, &modifiers));
          assert_true (g_hash_table_add (seen, gtk_accelerator_name (value, modifiers)));
        }
    }
}

/* Single keys must not steal what is typed into fields: only the drawing answers them. Function keys are no letters. */
static void
test_table_plain_letters_belong_to_the_drawing (void **state)
{
  guint n;
  const MlActionInfo *table = ml_actions_table (&n);

  for (guint i = 0; i < n; i++)
    {
      if (table[i].keys == NULL || table[i].id == NULL || table[i].on_drawing)
        continue;
      g_auto (GStrv) keys = g_strsplit (table[i].keys, " ", -1);
      for (char **key = keys; *key != NULL; key++)
        assert_true ((*key)[0] == '<' || ((*key)[0] == 'F' && g_ascii_isdigit ((*key)[1])));
    }
}

static void
test_section_takes_labels_from_the_table (void **state)
{
  g_autoptr (GMenu) section = ml_actions_section ("win.undo", "win.mode::draw", NULL);
  g_autofree char *label = NULL, *target = NULL;

  assert_int_equal (g_menu_model_get_n_items (G_MENU_MODEL (section)), 2);
  assert_true (g_menu_model_get_item_attribute (G_MENU_MODEL (section), 0, G_MENU_ATTRIBUTE_LABEL, "s", &label));
  assert_string_equal (label, "Undo");
  assert_true (g_menu_model_get_item_attribute (G_MENU_MODEL (section), 1, G_MENU_ATTRIBUTE_TARGET, "s", &target));
  assert_string_equal (target, "draw");
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_table_every_action_has_label_and_help),
    cmocka_unit_test (test_table_ids_are_unique_and_well_formed),
    cmocka_unit_test (test_table_keys_are_unique_and_can_be_parsed),
    cmocka_unit_test (test_table_plain_letters_belong_to_the_drawing),
    cmocka_unit_test (test_section_takes_labels_from_the_table),
  };

  return cmocka_run_group_tests (tests, NULL, NULL);
}
