/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/paint.h"
#include "drawing/paint-photo.h"

#include <math.h>

#include "support/near.h"

typedef struct { const char *name; MlColour colour; } Named;

/* Relative luminance and contrast ratio: definitions of WCAG 2.2 (from memory; the threshold 0.04045 is that of IEC 61966-2-1, WCAG's text prints
 * 0.03928, which changes nothing for 8-bit colours). */
static double
linear (double c)
{
  return c <= 0.04045 ? c / 12.92 : pow ((c + 0.055) / 1.055, 2.4);
}

static double
luminance (const MlColour *c)
{
  return 0.2126 * linear (c->r) + 0.7152 * linear (c->g) + 0.0722 * linear (c->b);
}

static double
contrast (const MlColour *a, const MlColour *b)
{
  const double la = luminance (a), lb = luminance (b);

  return (MAX (la, lb) + 0.05) / (MIN (la, lb) + 0.05);
}

/* Machado, Oliveira and Fernandes, "A physiologically-based model for simulation of color vision deficiency", IEEE Transactions on Visualization
 * and Computer Graphics 15 (2009) 6, table of matrices, severity 1.0, applied to linear RGB (from memory; each row sums to 1, so that greys stay
 * grey, and a second model stands beside them: both are tested). */
static const double protan[9] = { 0.152286, 1.052583, -0.204868, 0.114503, 0.786281, 0.099216, -0.003882, -0.048116, 1.051998 };
static const double deutan[9] = { 0.367322, 0.860646, -0.227968, 0.280085, 0.672501, 0.047413, -0.011820, 0.042940, 0.968881 };
static const double tritan[9] = { 1.255528, -0.076749, -0.178779, -0.078411, 0.930809, 0.147602, 0.004733, 0.691367, 0.303900 };
static const double normal[9] = { 1, 0, 0, 0, 1, 0, 0, 0, 1 };
static const struct { const char *name; const double *matrix; } visions[] = {
  { "normal", normal }, { "protan", protan }, { "deutan", deutan }, { "tritan", tritan },
};

/* The second model: Vienot, Brettel and Mollon, "Digital video colourmaps for checking the legibility of displays by dichromats", Color Research
 * and Application 24 (1999) 4: RGB to cones, and there the missing cone's signal from the other two (figures from memory). */
static const double to_cones[9] = { 17.8824, 43.5161, 4.11935, 3.45565, 27.1554, 3.86714, 0.0299566, 0.184309, 1.46709 };
static const double without_l[9] = { 0, 2.02344, -2.52581, 0, 1, 0, 0, 0, 1 };
static const double without_m[9] = { 1, 0, 0, 0.494207, 0, 1.24827, 0, 0, 1 };

static void
multiply (const double *a, const double *b, double *ret_product)
{
  for (guint i = 0; i < 3; i++)
    for (guint k = 0; k < 3; k++)
      ret_product[3 * i + k] = a[3 * i] * b[k] + a[3 * i + 1] * b[3 + k] + a[3 * i + 2] * b[6 + k];
}

/* By cofactors. */
static void
invert (const double *m, double *ret_inverse)
{
  double determinant = 0;

  for (guint i = 0; i < 3; i++)
    for (guint k = 0; k < 3; k++)
      ret_inverse[3 * k + i] = m[3 * ((i + 1) % 3) + (k + 1) % 3] * m[3 * ((i + 2) % 3) + (k + 2) % 3]
                               - m[3 * ((i + 1) % 3) + (k + 2) % 3] * m[3 * ((i + 2) % 3) + (k + 1) % 3];
  for (guint k = 0; k < 3; k++)
    determinant += m[k] * ret_inverse[3 * k];
  for (guint i = 0; i < 9; i++)
    ret_inverse[i] /= determinant;
}

/* Linear RGB to linear RGB. */
static void
dichromat (const double *missing, double *ret_matrix)
{
  double back[9], cones[9];

  invert (to_cones, back);
  multiply (missing, to_cones, cones);
  multiply (back, cones, ret_matrix);
}

typedef struct { double l, a, b; } Lab;

static double
lab_curve (double t)
{
  return t > 216.0 / 24389 ? cbrt (t) : (24389.0 / 27 * t + 16) / 116;
}

/* CIE 1976 L*a*b* of what that vision sees, D65; sRGB primaries of IEC 61966-2-1. */
static Lab
seen (const MlColour *c, const double *m)
{
  const double r = linear (c->r), g = linear (c->g), b = linear (c->b);
  const double R = CLAMP (m[0] * r + m[1] * g + m[2] * b, 0, 1), G = CLAMP (m[3] * r + m[4] * g + m[5] * b, 0, 1);
  const double B = CLAMP (m[6] * r + m[7] * g + m[8] * b, 0, 1);
  const double x = lab_curve ((0.4124564 * R + 0.3575761 * G + 0.1804375 * B) / 0.95047);
  const double y = lab_curve (0.2126729 * R + 0.7151522 * G + 0.0721750 * B);
  const double z = lab_curve ((0.0193339 * R + 0.1191920 * G + 0.9503041 * B) / 1.08883);

  return (Lab) { 116 * y - 16, 500 * (x - y), 200 * (y - z) };
}

static double
difference (const MlColour *a, const MlColour *b, const double *matrix)
{
  const Lab p = seen (a, matrix), q = seen (b, matrix);

  return sqrt ((p.l - q.l) * (p.l - q.l) + (p.a - q.a) * (p.a - q.a) + (p.b - q.b) * (p.b - q.b));
}

static void
test_contrast_of_known_pairs_is_right (void **state)
{
  const MlColour black = { 0, 0, 0 }, white = { 1, 1, 1 }, grey = { 0x76 / 255.0, 0x76 / 255.0, 0x76 / 255.0 };

  assert_near (contrast (&black, &white), 21, 1e-12, 0);      /* WCAG 2.2: the largest ratio is 21:1 */
  assert_near (contrast (&grey, &white), 4.54, 0, 0.005);     /* #767676 on white, the commonly quoted lightest grey that passes 4.5:1 */
  for (guint v = 0; v < G_N_ELEMENTS (visions); v++)
    for (guint row = 0; row < 3; row++)
      assert_near (visions[v].matrix[3 * row] + visions[v].matrix[3 * row + 1] + visions[v].matrix[3 * row + 2], 1, 0, 2e-6);
}

static void
check_contrast (const char *name, const MlColour *colour, const MlColour *paper, double least)
{
  if (contrast (colour, paper) < least)
    fail_msg ("%s has contrast %.2f, at least %.1f is needed", name, contrast (colour, paper), least);
}

/* WCAG 2.2 success criteria 1.4.3 (text, 4.5:1) and 1.4.11 (graphics, 3:1). */
static void
test_every_colour_on_its_paper_has_contrast (void **state)
{
  for (MlPaper paper = ML_PAPER_LIGHT; paper <= ML_PAPER_WHITE; paper++)
    {
      const MlPalette *p = ml_palette (paper);
      const Named graphics[] = { { "suspect", p->suspect }, { "possible", p->possible }, { "cleared", p->cleared }, { "selection", p->selection },
                                 { "red probe", p->red_probe }, { "flow", p->flow }, { "warn", p->warn } };

      check_contrast ("ink", &p->ink, &p->paper, 4.5);
      check_contrast ("faint", &p->faint, &p->paper, 4.5);
      for (guint i = 0; i < G_N_ELEMENTS (graphics); i++)
        check_contrast (graphics[i].name, &graphics[i].colour, &p->paper, 3);
      /* The black probe is drawn with an outline in ink; the outline must show against paper (above) or the filling against paper. */
      assert_true (contrast (&p->black_probe, &p->paper) >= 3 || contrast (&p->ink, &p->black_probe) >= 3);
    }
}

/* Paper is light grey or dark grey: never white on black. */
static void
test_paper_is_neither_white_nor_black (void **state)
{
  const double light = luminance (&ml_palette (ML_PAPER_LIGHT)->paper), dark = luminance (&ml_palette (ML_PAPER_DARK)->paper);

  assert_true (light > 0.7 && light < 1);
  assert_true (dark > 0.02 && dark < 0.1);
}

/* Both models keep white white and see red, the colour that a protan eye misses, darker than a normal one does. */
static void
test_models_of_colour_vision_agree_where_they_must (void **state)
{
  const MlColour white = { 1, 1, 1 }, red = { 1, 0, 0 };
  double second[9];

  dichromat (without_l, second);
  assert_near (seen (&white, second).l, 100, 0, 0.5);
  assert_near (seen (&white, protan).l, 100, 0, 0.5);
  assert_true (seen (&red, second).l < seen (&red, normal).l - 10);
  assert_true (seen (&red, protan).l < seen (&red, normal).l - 10);
  dichromat (without_m, second);
  assert_near (seen (&white, second).l, 100, 0, 0.5);
}

static void
check_apart (MlPaper paper, const char *vision, const double *matrix)
{
  const MlPalette *p = ml_palette (paper);
  const Named meanings[] = { { "suspect", p->suspect }, { "possible", p->possible }, { "cleared", p->cleared }, { "selection", p->selection },
                             { "flow", p->flow }, { "paper", p->paper }, { "ink", p->ink } };

  for (guint i = 0; i < G_N_ELEMENTS (meanings); i++)
    for (guint k = 0; k < i; k++)
      if (difference (&meanings[i].colour, &meanings[k].colour, matrix) < 10)
        fail_msg ("%s and %s differ by %.1f only for %s vision on %s paper", meanings[i].name, meanings[k].name,
                  difference (&meanings[i].colour, &meanings[k].colour, matrix), vision, paper == ML_PAPER_DARK ? "dark" : "light");
}

/* Colours that mean different things stay apart for every kind of colour vision; 10 is about four times the just noticeable difference of the
 * CIE 1976 formula (2.3, commonly quoted: Mahy, Van Eycken and Oosterlinck 1994, from memory). */
static void
test_meanings_stay_apart_for_every_vision (void **state)
{
  double no_l[9], no_m[9];

  dichromat (without_l, no_l);
  dichromat (without_m, no_m);
  for (MlPaper paper = ML_PAPER_LIGHT; paper <= ML_PAPER_WHITE; paper++)
    {
      for (guint v = 0; v < G_N_ELEMENTS (visions); v++)
        check_apart (paper, visions[v].name, visions[v].matrix);
      check_apart (paper, "protan (1999)", no_l);
      check_apart (paper, "deutan (1999)", no_m);
    }
}

/* In grey (a photocopy: CIE lightness alone) verdicts are told by outline and glyph, which the painter's tests look at; here only that each mark
 * and the ink still show on the paper: WCAG 2.2, 1.4.11, is a ratio of luminances, so 3:1 in colour is 3:1 in grey, and a difference of
 * lightness L* of 25 follows from it on every paper used. */
static void
test_every_mark_shows_in_grey (void **state)
{
  for (MlPaper paper = ML_PAPER_LIGHT; paper <= ML_PAPER_WHITE; paper++)
    {
      const MlPalette *p = ml_palette (paper);
      const Named marks[] = { { "suspect", p->suspect }, { "possible", p->possible }, { "cleared", p->cleared }, { "selection", p->selection },
                              { "flow", p->flow }, { "red probe", p->red_probe }, { "warn", p->warn }, { "ink", p->ink }, { "faint", p->faint } };

      for (guint i = 0; i < G_N_ELEMENTS (marks); i++)
        if (fabs (seen (&marks[i].colour, normal).l - seen (&p->paper, normal).l) < 25)
          fail_msg ("%s is too near to the paper in grey: L* %.0f and %.0f", marks[i].name, seen (&marks[i].colour, normal).l,
                    seen (&p->paper, normal).l);
    }
}

/* A patch lets a little of the photo through: faint text on it must pass over the blackest and the whitest photo. */
static void
test_text_on_a_patch_passes_over_any_photo (void **state)
{
  for (MlPaper paper = ML_PAPER_LIGHT; paper <= ML_PAPER_WHITE; paper++)
    for (double photo = 0; photo <= 1; photo += 1)
      {
        const MlPalette *palette = ml_palette_over_photo (paper);
        const double a = ML_PATCH_ALPHA, rest = (1 - ML_PATCH_ALPHA) * photo;
        const MlColour ground = { a * palette->paper.r + rest, a * palette->paper.g + rest, a * palette->paper.b + rest };

        assert_true (contrast (&palette->faint, &ground) >= 4.5);
        assert_true (contrast (&palette->ink, &ground) >= 4.5);
        assert_true (palette->casing > 0); /* every stroke has its own ground, that of paper */
        assert_true (ml_palette (paper)->casing == 0);
      }
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_text_on_a_patch_passes_over_any_photo),
    cmocka_unit_test (test_contrast_of_known_pairs_is_right),
    cmocka_unit_test (test_every_colour_on_its_paper_has_contrast),
    cmocka_unit_test (test_paper_is_neither_white_nor_black),
    cmocka_unit_test (test_models_of_colour_vision_agree_where_they_must),
    cmocka_unit_test (test_meanings_stay_apart_for_every_vision),
    cmocka_unit_test (test_every_mark_shows_in_grey),
  };

  return cmocka_run_group_tests (tests, NULL, NULL);
}
