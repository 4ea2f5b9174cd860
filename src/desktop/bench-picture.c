/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/bench-picture.h"

#include <math.h>

#include <pango/pangocairo.h>

#include "desktop/findings-text.h"

#define BOX_WIDTH 104.0
#define NAMED_BOX_WIDTH 150.0 /* one of several: its name stands behind its volts, and goes first where there is no room */
#define KNOB 4.0
#define LEAD_LENGTH 26.0
#define LEAST_LEAD 10.0 /* where the names of the nets need the room: which ones they are says more */
#define CLIP_LENGTH 12.0
#define CLIP_GAP 4.0
#define CLIP_THICKNESS 6.0
#define NET_SIZE 12.0 /* of the nets' names, px at 100 % text */

char *
ml_bench_picture_limit (const MlSupply *supply)
{
  char text[48];

  ml_quantity_format (supply->limit_a, ML_UNIT_AMPERE, 3, false, text, sizeof text);
  return supply->limit_written ? g_strdup_printf ("up to %s", text) : g_strdup_printf ("no limit: %s", text);
}

static char *
voltage_text (const MlSupply *supply)
{
  char text[48];

  ml_quantity_format (supply->voltage_v, ML_UNIT_VOLT, 4, false, text, sizeof text);
  return g_strdup (text);
}

static char *
position_text (double position)
{
  char number[32];

  ml_quantity_format (round (1000.0 * position) / 10.0, ML_UNIT_NONE, 3, false, number, sizeof number);
  return g_strdup_printf ("at %s %%", number);
}

/* Where it stands when no condition says so: as written at the part, else in the middle. */
static double
position_of (const MlPart *part)
{
  const MlAttribute *attribute = ml_part_attribute (part, ML_KEY_POSITION);

  return attribute != NULL ? attribute->quantity.value : 0.5;
}

char *
ml_bench_setting (const MlBoard *board, int condition, int part)
{
  static const char *const words[] = { "open", "closed", "at a", "at b", "in the middle" };
  const MlSetting *setting = ml_condition_setting (&board->conditions[condition], part);

  if (setting)
    return setting->state == ML_SETTING_POSITION ? position_text (setting->position) : g_strdup (words[setting->state]);
  switch (board->parts[part].kind->kind)
    {
    case ML_KIND_SWITCH: return g_strdup ("open");
    case ML_KIND_CHANGEOVER: return g_strdup ("at a");
    case ML_KIND_POTENTIOMETER: return position_text (position_of (&board->parts[part]));
    default: return NULL;
    }
}

static gboolean
stands_otherwise (const MlBoard *board, int part)
{
  g_autofree char *first = ml_bench_setting (board, 0, part);

  for (guint c = 1; c < board->n_conditions; c++)
    {
      g_autofree char *there = ml_bench_setting (board, (int) c, part);
      if (g_strcmp0 (first, there) != 0)
        return TRUE;
    }
  return FALSE;
}

GArray *
ml_bench_settings (const MlBoard *board, int condition)
{
  GArray *parts = g_array_new (FALSE, FALSE, sizeof (int));
  guint n_first = 0;

  for (int i = 0; i < (int) board->n_parts; i++)
    {
      g_autofree char *setting = ml_bench_setting (board, condition, i);
      if (setting == NULL)
        continue;
      if (stands_otherwise (board, i))
        g_array_insert_val (parts, n_first++, i);
      else
        g_array_append_val (parts, i);
    }
  return parts;
}

char *
ml_bench_load (const MlBoard *board, const MlLoad *load)
{
  char amount[48];
  const char *plus = board->nets[load->plus].words, *minus = board->nets[load->minus].words;

  if (isfinite (load->resistance_ohm))
    ml_quantity_format (load->resistance_ohm, ML_UNIT_OHM, 4, false, amount, sizeof amount);
  else
    ml_quantity_format (load->current_a, ML_UNIT_AMPERE, 4, false, amount, sizeof amount);
  return load->minus == board->reference ? g_strdup_printf ("load %s at %s", amount, plus)
                                         : g_strdup_printf ("load %s, %s to %s", amount, plus, minus);
}

GPtrArray *
ml_bench_besides (const MlBoard *board, int condition)
{
  const MlCondition *shown = &board->conditions[condition];
  GPtrArray *lines = g_ptr_array_new_with_free_func (g_free);

  for (guint i = 0; i < shown->n_lifts; i++)
    {
      const MlPart *part = &board->parts[shown->lifts[i].part];
      g_ptr_array_add (lines, g_strdup_printf ("%s.%s lifted", part->name, part->pins[shown->lifts[i].pin].name));
    }
  for (guint i = 0; i < shown->n_removals; i++)
    g_ptr_array_add (lines, g_strdup_printf ("%s out", board->parts[shown->removals[i].part].name));
  for (guint i = 0; i < shown->n_connects; i++)
    g_ptr_array_add (lines, g_strdup_printf ("%s joined with %s", board->nets[shown->connects[i].net_a].words, board->nets[shown->connects[i].net_b].words));
  return lines;
}

char *
ml_bench_picture_words (const MlBoard *board, int condition)
{
  const MlCondition *shown = &board->conditions[condition];
  GString *words = g_string_new (shown->n_supplies == 0 ? "no supply" : NULL);

  for (guint i = 0; i < shown->n_supplies; i++)
    {
      const MlSupply *supply = &shown->supplies[i];
      g_autofree char *voltage = voltage_text (supply), *limit = ml_bench_picture_limit (supply);
      g_string_append_printf (words, "%s%s, %s, red on %s, black on %s", i == 0 ? "" : "; ", voltage, limit, board->nets[supply->plus].words,
                              board->nets[supply->minus].words);
    }
  for (guint i = 0; i < board->n_parts; i++)
    {
      g_autofree char *setting = ml_bench_setting (board, condition, (int) i);
      if (setting != NULL)
        g_string_append_printf (words, "; %s %s", board->parts[i].name, setting);
    }
  for (guint i = 0; i < shown->n_loads; i++)
    {
      g_autofree char *load = ml_bench_load (board, &shown->loads[i]);
      g_string_append_printf (words, "; %s", load);
    }
  g_autoptr (GPtrArray) besides = ml_bench_besides (board, condition);
  for (guint i = 0; i < besides->len; i++)
    g_string_append_printf (words, "; %s", (const char *) besides->pdata[i]);
  return g_string_free (words, FALSE);
}

/* ---- painting ---- */

static void
set_colour (cairo_t *cr, MlColour colour)
{
  cairo_set_source_rgb (cr, colour.r, colour.g, colour.b);
}

static PangoLayout *
text_layout (cairo_t *cr, const char *text, double size, gboolean bold)
{
  PangoLayout *layout = pango_cairo_create_layout (cr);
  g_autoptr (PangoFontDescription) font = pango_font_description_from_string ("Sans");

  pango_font_description_set_absolute_size (font, size * PANGO_SCALE);
  pango_font_description_set_weight (font, bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
  pango_layout_set_font_description (layout, font);
  pango_layout_set_text (layout, text, -1);
  return layout;
}

static double
net_width (cairo_t *cr, const char *net, double text_scale)
{
  g_autoptr (PangoLayout) layout = text_layout (cr, net, NET_SIZE * text_scale, TRUE);
  int width;

  pango_layout_get_pixel_size (layout, &width, NULL);
  return width + 1.0;
}

/* Text with its left edge at x and its middle at y, in at most `room`. */
static void
show_text (cairo_t *cr, const char *text, double x, double y, double size, gboolean bold, double room)
{
  g_autoptr (PangoLayout) layout = text_layout (cr, text, size, bold);
  int height;

  pango_layout_set_width (layout, (int) (MAX (room, 8.0) * PANGO_SCALE));
  pango_layout_set_ellipsize (layout, PANGO_ELLIPSIZE_END);
  pango_layout_get_pixel_size (layout, NULL, &height);
  cairo_move_to (cr, x, y - height / 2.0);
  pango_cairo_show_layout (cr, layout);
}

static void
round_box (cairo_t *cr, double x, double y, double width, double height, double radius)
{
  cairo_new_sub_path (cr);
  cairo_arc (cr, x + width - radius, y + radius, radius, -G_PI_2, 0);
  cairo_arc (cr, x + width - radius, y + height - radius, radius, 0, G_PI_2);
  cairo_arc (cr, x + radius, y + height - radius, radius, G_PI_2, G_PI);
  cairo_arc (cr, x + radius, y + radius, radius, G_PI, 3 * G_PI_2);
  cairo_close_path (cr);
}

/* Strokes the path; on a paper that the colour hardly differs from (black on dark grey), with a thin rim in the colour of the ink. */
static void
stroke_outlined (cairo_t *cr, const MlPalette *palette, MlColour colour, double line_width)
{
  double distance = fabs (palette->paper.r - colour.r) + fabs (palette->paper.g - colour.g) + fabs (palette->paper.b - colour.b);

  if (distance < 0.8)
    {
      set_colour (cr, palette->ink);
      cairo_set_line_width (cr, line_width + 1.8);
      cairo_stroke_preserve (cr);
    }
  set_colour (cr, colour);
  cairo_set_line_width (cr, line_width);
  cairo_stroke (cr);
}

/* A lead from its terminal to a clip, and the net's name behind it. sign is drawn in the terminal so that colour is not all that tells. */
static void
paint_lead (cairo_t *cr, const MlPalette *palette, MlColour colour, const char *sign, const char *net, double x, double y, double end_x,
            double room, double text_scale)
{
  cairo_new_path (cr);
  cairo_move_to (cr, x, y);
  cairo_curve_to (cr, x + 0.6 * (end_x - x), y + 3, x + 0.4 * (end_x - x), y - 3, end_x, y);
  stroke_outlined (cr, palette, colour, 2.2);
  cairo_arc (cr, x, y, KNOB, 0, 2 * G_PI);
  cairo_close_path (cr);
  cairo_move_to (cr, end_x, y - CLIP_THICKNESS / 2);
  cairo_line_to (cr, end_x + CLIP_LENGTH, y - 1);
  cairo_line_to (cr, end_x + CLIP_LENGTH, y + 1);
  cairo_line_to (cr, end_x, y + CLIP_THICKNESS / 2);
  cairo_close_path (cr);
  set_colour (cr, colour);
  cairo_fill_preserve (cr);
  stroke_outlined (cr, palette, colour, 0.4);
  set_colour (cr, palette->ink);
  show_text (cr, sign, x - 15.0 * text_scale, y, 12.0 * text_scale, TRUE, 14.0 * text_scale);
  show_text (cr, net, end_x + CLIP_LENGTH + CLIP_GAP, y, NET_SIZE * text_scale, TRUE, room);
}

static void
paint_supply (cairo_t *cr, const MlBoard *board, const MlSupply *supply, gboolean named, const MlPalette *palette, double width, double height,
              double text_scale)
{
  g_autofree char *volts = voltage_text (supply), *limit = ml_bench_picture_limit (supply);
  const char *plus = board->nets[supply->plus].words, *minus = board->nets[supply->minus].words;
  g_autofree char *voltage = named ? g_strdup_printf ("%s, %s", volts, supply->name) : g_strdup (volts);
  double box = MIN ((named ? NAMED_BOX_WIDTH : BOX_WIDTH) * text_scale, 0.55 * width), behind = width - box - CLIP_LENGTH - CLIP_GAP;
  double wanted = MAX (net_width (cr, plus, text_scale), net_width (cr, minus, text_scale));
  double lead_end = box + CLAMP (behind - wanted, LEAST_LEAD, LEAD_LENGTH), room = box + behind - lead_end;

  round_box (cr, 1, 2, box, height - 4, 5);
  set_colour (cr, palette->ink);
  cairo_set_line_width (cr, 1.3);
  cairo_stroke (cr);
  show_text (cr, voltage, 8, 0.34 * height, 15.0 * text_scale, TRUE, box - 26 * text_scale);
  show_text (cr, limit, 8, 0.72 * height, 10.5 * text_scale, FALSE, box - 22 * text_scale);
  paint_lead (cr, palette, palette->red_probe, "+", plus, box - 3, 0.3 * height, lead_end, room, text_scale);
  paint_lead (cr, palette, palette->black_probe, "−", minus, box - 3, 0.7 * height, lead_end, room, text_scale);
}

static void
paint_cold (cairo_t *cr, const MlPalette *palette, double width, double height, double text_scale)
{
  const double dashes[] = { 4, 3 };
  double box = MIN (BOX_WIDTH * text_scale, 0.55 * width);

  round_box (cr, 1, 2, box, height - 4, 5);
  set_colour (cr, palette->ink);
  cairo_set_line_width (cr, 1.0);
  cairo_set_dash (cr, dashes, 2, 0);
  cairo_stroke (cr);
  cairo_set_dash (cr, NULL, 0, 0);
  show_text (cr, "no supply", 8, 0.5 * height, 12.0 * text_scale, FALSE, box - 14);
}

void
ml_bench_picture_paint (cairo_t *cr, const MlBoard *board, int condition, int supply, MlPaper paper, double width, double height, double text_scale)
{
  const MlCondition *shown = &board->conditions[condition];
  const MlPalette *palette = ml_palette (paper);

  if (shown->n_supplies == 0)
    paint_cold (cr, palette, width, height, text_scale);
  else
    paint_supply (cr, board, &shown->supplies[supply], shown->n_supplies > 1, palette, width, height, text_scale);
}
