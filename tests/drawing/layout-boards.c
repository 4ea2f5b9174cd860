/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/layout-boards.h"

#include <stdio.h>
#include <string.h>

#include "support/near.h"
#include "support/size.h"

static GHashTable *scenes; /* char * name -> MlScene * */

guint
ml_test_hard_faults (const MlScene *scene, const char *what)
{
  MlLayoutMeasure m = ml_layout_measure (scene);
  guint faults = ml_layout_hard_faults (&m);

  if (faults > 0)
    print_error ("%s: wires through symbols %u, texts on something %u, symbols touching %u, shared runs %u, slanted %u, wrong connections %u, parts without name %u\n",
                 what, m.through, m.text_overlaps, m.symbol_overlaps, m.shared_runs, m.slanted, m.misconnected, m.unnamed);
  return faults;
}

MlScene *
ml_test_layout (MlBoard *board, guint effort)
{
  MlLayoutOptions options = { .effort = effort };
  GError *error = NULL;
  MlScene *scene = ml_layout (board, &options, NULL, &error);

  assert_null (error);
  assert_non_null (scene);
  return scene;
}

MlScene *
ml_test_scene_of_file (const char *name, MlBoard **ret_board)
{
  MlScene *scene;

  if (scenes == NULL)
    scenes = g_hash_table_new_full (g_str_hash, g_str_equal, g_free, (GDestroyNotify) ml_scene_unref);
  scene = g_hash_table_lookup (scenes, name);
  if (scene == NULL)
    {
      g_autofree char *path = g_build_filename ("tests", "drawing", "boards", name, NULL);
      MlBoard *board = ml_test_board_of (path);
      scene = ml_test_layout (board, ml_test_size (2, 1));
      g_hash_table_insert (scenes, g_strdup (name), scene);
      ml_board_unref (board);
    }
  *ret_board = ml_board_ref (scene->board);
  return ml_scene_ref (scene);
}

MlPoint
ml_test_pin (const MlScene *scene, const char *part, const char *pin)
{
  int i = ml_board_find_part (scene->board, part);
  guint k;

  assert_true (i >= 0);
  for (k = 0; k < scene->board->parts[i].n_pins; k++)
    if (strcmp (scene->board->parts[i].pins[k].name, pin) == 0)
      return scene->pins[ml_scene_pin (scene, i, (int) k)].at;
  fail_msg ("%s has no pin %s", part, pin);
  return (MlPoint){ 0, 0 };
}

guint
ml_test_flags (const MlScene *scene, const char *net, MlFlagKind kind)
{
  int i = ml_board_find_net (scene->board, net);
  guint k, n = 0;

  assert_true (i >= 0);
  for (k = 0; k < scene->n_flags; k++)
    n += scene->flags[k].net == i && scene->flags[k].kind == kind;
  return n;
}

int
ml_test_forget_scenes (void **state)
{
  g_clear_pointer (&scenes, g_hash_table_unref);
  return 0;
}

char *
ml_test_scene_text (const MlScene *scene)
{
  GString *text = g_string_new (NULL);
  guint i;

  for (i = 0; i < scene->n_symbols; i++)
    {
      const MlSceneSymbol *s = &scene->symbols[i];
      g_string_append_printf (text, "symbol %s %s %g %g %d %d\n", scene->board->parts[s->part].name, s->name, s->place.x, s->place.y,
                              s->place.turn, s->place.mirror);
    }
  for (i = 0; i < scene->n_pins; i++)
    g_string_append_printf (text, "pin %s %g %g %d\n", scene->board->parts[scene->pins[i].part].pins[scene->pins[i].pin].name,
                            scene->pins[i].at.x, scene->pins[i].at.y, scene->pins[i].side);
  for (i = 0; i < scene->n_wires; i++)
    g_string_append_printf (text, "wire %s %g %g %g %g\n", scene->board->nets[scene->wires[i].net].name, scene->wires[i].a.x,
                            scene->wires[i].a.y, scene->wires[i].b.x, scene->wires[i].b.y);
  for (i = 0; i < scene->n_flags; i++)
    g_string_append_printf (text, "flag %s %g %g %d\n", scene->board->nets[scene->flags[i].net].name, scene->flags[i].at.x,
                            scene->flags[i].at.y, scene->flags[i].kind);
  for (i = 0; i < scene->n_labels; i++)
    g_string_append_printf (text, "label %s %.6f %.6f\n", scene->labels[i].text, scene->labels[i].box.x0, scene->labels[i].box.y0);
  return g_string_free (text, FALSE);
}
