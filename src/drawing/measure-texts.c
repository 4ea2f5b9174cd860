/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/measure-texts.h"
#include "drawing/scene-private.h"

#define STRAY_FROM 2.2 /* g */
#define BESIDE_ITS_PART 1.0 /* g: no nearer part takes such a name away */
#define NEARER_BY 0.15 /* g: what the eye sees */

guint
ml_texts_untold (const MlScene *scene)
{
  guint n = 0, i;

  for (i = 0; i < scene->n_symbols; i++)
    {
      g_autofree char *value = ml_part_value_text (&scene->board->parts[scene->symbols[i].part]);
      n += scene->symbols[i].shape == ML_SHAPE_TERMINAL ? 0 : 1 + (value[0] != '\0');
    }
  for (i = 0; i < scene->n_labels; i++)
    n -= scene->labels[i].pin < 0 && (scene->labels[i].kind == ML_LABEL_NAME || scene->labels[i].kind == ML_LABEL_VALUE);
  return n;
}

/* The value that is set with that name. */
static const MlSceneLabel *
value_by (const MlScene *scene, const MlSceneLabel *name)
{
  guint i;

  for (i = 0; i < scene->n_labels; i++)
    if (scene->labels[i].kind == ML_LABEL_VALUE && scene->labels[i].part == name->part
        && ml_boxes_gap (&scene->labels[i].box, &name->box) < BESIDE_ITS_PART)
      return &scene->labels[i];
  return name;
}

/* A ring is a connector's pin drawn by itself: its label names that pin. */
static gboolean
is_of (const MlScene *scene, const MlSceneSymbol *symbol, const MlSceneLabel *name)
{
  return symbol->part == name->part && (name->pin < 0 || scene->pins[symbol->first_pin].pin == name->pin);
}

/* From a name, with its value, to its own body and to the nearest of the others, g. */
static void
look_round (const MlScene *scene, const MlSceneLabel *name, double *ret_own, double *ret_other)
{
  const MlSceneLabel *value = value_by (scene, name);
  guint i;

  *ret_own = *ret_other = G_MAXDOUBLE;
  for (i = 0; i < scene->n_symbols; i++)
    {
      const MlSceneSymbol *symbol = &scene->symbols[i];
      double gap = MIN (ml_boxes_gap (&symbol->body, &name->box), ml_boxes_gap (&symbol->body, &value->box));
      double *nearest = is_of (scene, symbol, name) ? ret_own : ret_other;
      *nearest = MIN (*nearest, gap);
    }
}

gboolean
ml_texts_is_misread (const MlScene *scene, const MlSceneLabel *label)
{
  double own, other;

  if (label->kind != ML_LABEL_NAME || label->led)
    return FALSE;
  look_round (scene, label, &own, &other);
  return other + NEARER_BY < own;
}

guint
ml_texts_misread (const MlScene *scene)
{
  guint n = 0, i;

  for (i = 0; i < scene->n_labels; i++)
    n += ml_texts_is_misread (scene, &scene->labels[i]);
  return n;
}

guint
ml_texts_astray (const MlScene *scene)
{
  guint n = 0, i;
  double own, other;

  for (i = 0; i < scene->n_labels; i++)
    {
      if (scene->labels[i].kind != ML_LABEL_NAME)
        continue;
      look_round (scene, &scene->labels[i], &own, &other);
      n += own > STRAY_FROM || (own > BESIDE_ITS_PART && other < own);
    }
  return n;
}
