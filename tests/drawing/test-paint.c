/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What lies over the circuit: notes that cover nothing, marks told apart without colour, icons, line weights. What is expected here are
 * properties the drawing must have whatever it looks like; no picture of our own serves as reference. */
#include "drawing/flow.h"
#include "drawing/layout-boards.h"
#include "drawing/legend.h"
#include "drawing/marks.h"
#include "drawing/notes.h"
#include "drawing/overlay-plan.h"
#include "drawing/paint-private.h"
#include "drawing/symbols.h"
#include "drawing/throw.h"

#include <math.h>
#include <string.h>

#include "support/generate.h"
#include "support/near.h"

typedef struct
{
  MlBoard *board;
  MlJob *job;
  MlScene *scene;
  MlVerdict verdict;
  MlOperatingPoint point;
  MlNextReading next;
  MlProbe red, black;
  MlOverlay overlay;
} Kit;

static const MlPaintStyle style = { .paper = ML_PAPER_LIGHT, .scale = 8, .legend = TRUE };

/* A reading on every third net and across every fourth part of two pins. */
static char *
job_text (const MlBoard *board)
{
  GString *text = g_string_new ("job \"Notes\"\nunit one suspect\n");
  const char *condition = board->conditions[0].name;

  for (guint i = 0; i < board->n_nets; i += 3)
    if ((int) i != board->reference && !board->nets[i].generated)
      g_string_append_printf (text, "reading one %s red=%s volts=12.34\n", condition, board->nets[i].name);
  for (guint i = 0; i < board->n_parts; i += 4)
    if (board->parts[i].n_pins == 2 && board->parts[i].pins[0].net >= 0 && board->parts[i].pins[1].net >= 0)
      g_string_append_printf (text, "reading one %s across=%s volts=0.567\n", condition, board->parts[i].name);
  return g_string_free (text, FALSE);
}

/* Made-up marks: the painter is tested, not the judge. */
static void
make_verdict (Kit *kit)
{
  MlVerdict *v = &kit->verdict;

  v->job = kit->job;
  v->pass = 1;
  v->n_parts = kit->board->n_parts;
  v->parts = g_new0 (MlPartVerdict, v->n_parts);
  for (guint i = 0; i < v->n_parts; i++)
    if (i % 3 == 0)
      v->parts[i] = (MlPartVerdict) { i % 9 == 3 ? ML_VERDICT_SUSPECT : i % 9 == 6 ? ML_VERDICT_POSSIBLE : ML_VERDICT_CLEARED, 0.3, 0 };
}

static void
kit_init (Kit *kit, const char *board)
{
  g_autofree char *readings = NULL;

  memset (kit, 0, sizeof *kit);
  kit->board = ml_test_board (board);
  readings = job_text (kit->board);
  kit->job = ml_test_job (kit->board, readings);
  assert_true (kit->job->n_readings > 0);
  kit->scene = ml_test_layout (kit->board, 1);
  make_verdict (kit);
  kit->point.net_v = g_new0 (double, kit->board->n_nets);
  for (guint i = 0; i < kit->board->n_nets; i++)
    kit->point.net_v[i] = 1.234 * i;
  kit->point.pin_a = g_new0 (double *, kit->board->n_parts);
  for (guint i = 0; i < kit->board->n_parts; i++)
    {
      kit->point.pin_a[i] = g_new0 (double, kit->board->parts[i].n_pins);
      for (guint p = 0; p < kit->board->parts[i].n_pins; p++)
        kit->point.pin_a[i][p] = p == 0 ? 0.2 : -0.1;
    }
  kit->point.solved = TRUE;
  kit->red = kit->job->readings[0].red;
  kit->black = kit->job->readings[0].black;
  kit->next = (MlNextReading) { .condition = 0, .red = kit->job->readings[kit->job->n_readings - 1].red, .black = kit->black, .supply = -1, .healthy = 3.3 };
  kit->overlay = (MlOverlay) { .verdict = &kit->verdict, .job = kit->job, .pass = 1, .other_unit = -1, .point = &kit->point, .show_expected = TRUE,
                               .selected_part = -1, .selected_pin = -1, .hover_part = -1, .hover_pin = -1, .red = &kit->red, .black = &kit->black,
                               .next = &kit->next };
}

static void
kit_clear (Kit *kit)
{
  g_free (kit->verdict.parts);
  g_free (kit->point.net_v);
  for (guint i = 0; i < kit->board->n_parts; i++)
    g_free (kit->point.pin_a[i]);
  g_free (kit->point.pin_a);
  ml_scene_unref (kit->scene);
  ml_job_unref (kit->job);
  ml_board_unref (kit->board);
}

/* A link that the readings point to is drawn dashed between its nets, and the legend says what that means; a cleared one is not. */
static void
test_a_suspected_link_is_in_the_legend (void **state)
{
  static const char board[] = "reference G\npart R1 resistor 1=P 2=A value=1k\npart R2 resistor 1=A 2=G value=2k\npart R3 resistor 1=P 2=B value=3k\n"
                              "part R4 resistor 1=B 2=G value=1k\ncondition on\n  supply plus=P minus=G voltage=12 limit=1\n";
  MlLinkVerdict link = { .verdict = ML_VERDICT_SUSPECT, .probability = 0.8 };
  Kit kit;

  kit_init (&kit, board);
  link.net_a = ml_board_find_net (kit.board, "A");
  link.net_b = ml_board_find_net (kit.board, "B");
  kit.verdict.links = &link;
  kit.verdict.n_links = 1;
  for (guint suspect = 0; suspect < 2; suspect++)
    {
      link.verdict = suspect ? ML_VERDICT_SUSPECT : ML_VERDICT_UNPROVEN;
      g_autoptr (MlPlan) plan = ml_plan_new (kit.scene, &kit.overlay, &style);
      assert_int_equal (!!(plan->legend & ML_LEGEND_LINK), suspect);
    }
  kit_clear (&kit);
}

/* What the next reading would be is said of every explanation in whole words, also of one that names no part. */
static void
test_next_note_says_an_explanation_in_full (void **state)
{
  g_autofree char *board = ml_generate_board (951, 10);
  MlFault fault = { .kind = ML_FAULT_EXTRA_LINK, .part = -1 };
  MlExplanation explanation = { .id = 3, .probability = 0.4, .explains = ML_EXPLAINS_DRAWING, .faults = &fault, .n_faults = 1,
                                .title = (char *) "U1B.out is not on OUTPUT on the board" };
  MlExpect expect = { .explanation = 3, .value = 1.5 };
  MlNoteText note;
  Kit kit;

  kit_init (&kit, board);
  kit.verdict.explanations = &explanation;
  kit.verdict.n_explanations = 1;
  kit.next.expect = &expect;
  kit.next.n_expect = 1;
  note = ml_note_of_next (kit.scene, &kit.overlay);
  /* over two lines: all of the drawing would be smaller beside one that is that long */
  assert_string_equal (note.lines[note.n_lines - 2].text, "if U1B.out is not on OUTPUT on");
  assert_string_equal (note.lines[note.n_lines - 1].text, "the board: 1.50 V");
  ml_note_text_clear (&note);
  kit_clear (&kit);
}

/* One line for each value: faults of one part that show the same are that part, others are listed, and three values are enough. */
static void
test_next_note_has_a_line_for_each_value (void **state)
{
  g_autofree char *board = ml_generate_board (951, 10);
  MlFault faults[] = { { .kind = ML_FAULT_JOINT, .part = 0 }, { .kind = ML_FAULT_JOINT, .part = 0, .pins = { 1 } }, { .kind = ML_FAULT_OPEN, .part = 1 },
                       { .kind = ML_FAULT_OPEN, .part = 2 }, { .kind = ML_FAULT_SHORT, .part = 2 }, { .kind = ML_FAULT_OPEN, .part = 3 } };
  static const char *const titles[] = { "solder joint at A, pin 1", "solder joint at A, pin 2", "B open", "C open", "C shorted", "D open" };
  static const double values[] = { 2.4, 2.4, 2.4, 2.4, 0, 5 };
  MlExplanation explanations[G_N_ELEMENTS (faults)];
  MlExpect expect[G_N_ELEMENTS (faults)];
  g_autofree char *wanted = NULL;
  MlNoteText note;
  Kit kit;

  kit_init (&kit, board);
  for (guint i = 0; i < G_N_ELEMENTS (faults); i++)
    {
      explanations[i] = (MlExplanation) { .id = i + 1, .probability = 0.1, .explains = ML_EXPLAINS_FAULT, .faults = &faults[i], .n_faults = 1, .title = (char *) titles[i] };
      expect[i] = (MlExpect) { .explanation = i + 1, .value = values[i] };
    }
  kit.verdict.explanations = explanations;
  kit.verdict.n_explanations = G_N_ELEMENTS (faults);
  kit.next.expect = expect;
  kit.next.n_expect = G_N_ELEMENTS (faults);
  note = ml_note_of_next (kit.scene, &kit.overlay);
  wanted = g_strdup_printf ("if %s, %s or others: 2.40 V", kit.scene->board->parts[0].name, kit.scene->board->parts[1].name);
  assert_string_equal (note.lines[note.n_lines - 3].text, wanted);
  assert_string_equal (note.lines[note.n_lines - 2].text, "if c shorted: 0 V");
  assert_true (g_str_has_suffix (note.lines[note.n_lines - 1].text, ": 5.00 V"));
  ml_note_text_clear (&note);
  kit_clear (&kit);
}

static guint
say_if_met (const MlBox *note, MlBox other, const char *what)
{
  if (!ml_box_meets (note, &other))
    return 0;
  print_error ("a note at %.2f,%.2f lies on %s\n", note->x0, note->y0, what);
  return 1;
}

/* Everything on the sheet once more, apart from the placer's own buckets. */
static guint
covered (const MlScene *scene, const MlPlan *plan, guint index)
{
  const MlBox *box = &g_array_index (plan->notes, MlNote, index).box;
  guint n = 0;

  for (guint i = 0; i < scene->n_wires; i++)
    n += say_if_met (box, ml_box_grown (ml_box_of_points (scene->wires[i].a, scene->wires[i].b), 0.05), "a wire");
  for (guint i = 0; plan->flow != NULL && i < plan->flow->len; i++)
    {
      const MlFlowPiece *piece = &g_array_index (plan->flow, MlFlowPiece, i);

      n += say_if_met (box, ml_box_grown (ml_box_of_points (piece->a, piece->b), ml_flow_width (piece->current_a) / 2), "a current");
    }
  for (guint i = 0; i < scene->n_symbols; i++)
    n += say_if_met (box, scene->symbols[i].body, "a symbol");
  for (guint i = 0; i < scene->n_labels; i++)
    n += say_if_met (box, scene->labels[i].box, "a label");
  for (guint i = 0; i < scene->n_flags; i++)
    n += say_if_met (box, scene->flags[i].box, "a flag");
  for (guint i = 0; i < plan->marks->len; i++)
    {
      const MlPlanMark *mark = &g_array_index (plan->marks, MlPlanMark, i);

      n += say_if_met (box, ml_mark_extent (&mark->body, mark->verdict), "a mark");
    }
  for (guint i = 0; i < plan->tips->len; i++)
    if (!g_array_index (plan->tips, MlPlanTip, i).taken)
      n += say_if_met (box, ml_mark_tip_box (g_array_index (plan->tips, MlPlanTip, i).at, g_array_index (plan->tips, MlPlanTip, i).angle), "a probe");
  for (guint i = 0; i < index; i++)
    if (g_array_index (plan->notes, MlNote, i).placed)
      n += say_if_met (box, g_array_index (plan->notes, MlNote, i).box, "another note");
  return n;
}

/* Whether a straight piece of a line has a point within a box; its last `end` g are left out. In small steps, not by the placer's clipping. */
static gboolean
piece_meets (MlPoint a, MlPoint b, MlBox box, double end)
{
  const double length = hypot (b.x - a.x, b.y - a.y);

  for (double s = 0.02; s < length - end; s += 0.02)
    {
      const double x = a.x + (b.x - a.x) * s / length, y = a.y + (b.y - a.y) * s / length;

      if (x > box.x0 + 0.02 && x < box.x1 - 0.02 && y > box.y0 + 0.02 && y < box.y1 - 0.02)
        return TRUE;
    }
  return FALSE;
}

/* The same of the whole line to a note, but for the end where it reaches its thing. */
static gboolean
line_meets (const MlNote *note, MlBox box, double end)
{
  const gboolean bent = note->via.x != note->to.x || note->via.y != note->to.y;

  return piece_meets (note->from, note->via, box, bent ? 0 : end) || (bent && piece_meets (note->via, note->to, box, end));
}

static guint
say_if_crossed (const MlNote *note, MlBox box, double end, const char *what)
{
  if (!line_meets (note, box, end))
    return 0;
  print_error ("the line from a note at %.2f,%.2f to %.2f,%.2f runs through %s\n", note->box.x0, note->box.y0, note->to.x, note->to.y, what);
  return 1;
}

/* Texts on the line that leads to a note. */
static guint
line_crosses_texts (const MlScene *scene, const MlPlan *plan, guint index)
{
  const MlNote *note = &g_array_index (plan->notes, MlNote, index);
  guint n = 0;

  for (guint i = 0; i < scene->n_labels; i++)
    n += say_if_crossed (note, scene->labels[i].box, 0.06, scene->labels[i].text);
  for (guint i = 0; i < scene->n_flags; i++)
    n += say_if_crossed (note, scene->flags[i].box, 0.06, "a flag");
  for (guint i = 0; i < plan->notes->len; i++)
    if (i != index && g_array_index (plan->notes, MlNote, i).placed)
      n += say_if_crossed (note, g_array_index (plan->notes, MlNote, i).box, 0, "another note");
  return n;
}

static guint
line_crosses_bodies (const MlScene *scene, const MlNote *note)
{
  guint n = 0;

  for (guint i = 0; i < scene->n_symbols; i++)
    {
      const MlSceneSymbol *symbol = &scene->symbols[i];
      const MlSymbolGeometry *geometry = symbol->shape == ML_SHAPE_SYMBOL ? ml_symbol_geometry (symbol->name) : NULL;
      const char *name = scene->board->parts[symbol->part].name;

      for (guint k = 0; geometry != NULL && k < geometry->n_inks; k++)
        n += say_if_crossed (note, ml_place_box (&symbol->place, geometry->inks[k]), 0.5, name);
      if (geometry == NULL)
        n += say_if_crossed (note, symbol->shape == ML_SHAPE_BOX ? symbol->box : symbol->body, 0.5, name);
    }
  return n;
}

/* Some boards are only drawn and have no condition, which readings need. */
static char *
with_condition (const char *text)
{
  return strstr (text, "\ncondition ") != NULL ? g_strdup (text) : g_strconcat (text, "\ncondition cold\n", NULL);
}

/* Notes cover nothing, and the lines that lead to them run through no text; returned is through how many symbols they run. */
static guint
bodies_crossed (const char *text)
{
  g_autofree char *whole = with_condition (text);
  g_autoptr (MlPlan) plan = NULL;
  guint crossed = 0;
  MlBox extent;
  Kit kit;

  kit_init (&kit, whole);
  kit.overlay.show_flow = TRUE;
  plan = ml_plan_new (kit.scene, &kit.overlay, &style);
  extent = ml_paint_extent (kit.scene, &kit.overlay, &style);
  for (guint i = 0; i < plan->notes->len; i++)
    {
      const MlNote *note = &g_array_index (plan->notes, MlNote, i);

      assert_true (note->placed || !note->must);
      if (!note->placed)
        continue;
      assert_int_equal (covered (kit.scene, plan, i), 0);
      if (note->leader)
        {
          assert_int_equal (line_crosses_texts (kit.scene, plan, i), 0);
          crossed += line_crosses_bodies (kit.scene, note);
        }
      assert_true (note->box.x0 >= extent.x0 && note->box.x1 <= extent.x1 && note->box.y0 >= extent.y0 && note->box.y1 <= extent.y1);
    }
  kit_clear (&kit);
  return crossed;
}

/* Larger text is larger by just that, line by line, and covers nothing all the same. */
static void
test_notes_follow_the_size_of_text (void **state)
{
  g_autofree char *generated = ml_generate_board (912, 12), *board = with_condition (generated);
  MlPaintStyle large = style;
  Kit kit;

  kit_init (&kit, board);
  large.text_scale = 1.5;
  g_autoptr (MlPlan) plan = ml_plan_new (kit.scene, &kit.overlay, &style), larger = ml_plan_new (kit.scene, &kit.overlay, &large);
  assert_true (plan->notes->len > 3);
  assert_int_equal (larger->notes->len, plan->notes->len);
  for (guint i = 0; i < plan->notes->len; i++)
    {
      const MlNote *usual = &g_array_index (plan->notes, MlNote, i), *note = &g_array_index (larger->notes, MlNote, i);
      double frame = g_array_index (larger->texts, MlNoteText, i).framed ? 0.8 : 0.0; /* it stays as narrow */
      assert_near (note->height - frame, 1.5 * (usual->height - frame), 1e-9, 0);
      assert_true (note->width - frame > 1.4 * (usual->width - frame));
      if (note->placed)
        assert_int_equal (covered (kit.scene, larger, i), 0);
    }
  kit_clear (&kit);
}

/* Of some hundred notes one is let through a chip: its pin is walled in by a dozen wires and names (seed 920). */
static void
test_notes_on_generated_boards_are_tidy (void **state)
{
  guint crossed = 0;

  for (guint seed = 900; seed < 924; seed++)
    {
      g_autofree char *text = ml_generate_board (seed, 6 + 2 * (seed - 900));

      crossed += bodies_crossed (text);
    }
  assert_true (crossed <= 1);
}

static void
test_notes_on_written_boards_are_tidy (void **state)
{
  static const char *const folders[] = { "tests/drawing/boards", "boards" };
  guint n = 0;

  for (guint i = 0; i < G_N_ELEMENTS (folders); i++)
    {
      g_autofree char *folder = g_build_filename (g_getenv ("METERLEAF_SOURCE"), folders[i], NULL);
      g_autoptr (GDir) dir = g_dir_open (folder, 0, NULL);

      for (const char *name = g_dir_read_name (dir); name != NULL; name = g_dir_read_name (dir))
        {
          g_autofree char *path = g_build_filename (folder, name, NULL), *text = NULL;

          if (!g_str_has_suffix (name, ".leafboard"))
            continue;
          assert_true (g_file_get_contents (path, &text, NULL, NULL));
          if (bodies_crossed (text) > 0)
            fail_msg ("%s", name);
          n++;
        }
    }
  assert_true (n >= 30);
}

/* How sure it is that a part is the one stands on one side of that part's mark, whatever readings crowd there: off a corner, beside a line that leads
 * elsewhere, it seemed to be another's. Here two want the only place right at the thing; the other one could have it for a shorter way in all. */
static void
test_a_share_stands_squarely_at_its_part (void **state)
{
  static const struct { MlFieldIs is; MlBox box; } things[] = {
    { ML_FIELD_TEXT, { -20, 4.3, 24, 20 } }, { ML_FIELD_TEXT, { -20, 0.2, -2.3, 4.3 } }, { ML_FIELD_TEXT, { 6.3, -1, 24, 4.3 } },
    { ML_FIELD_TEXT, { -20, -12, -9, 0 } }, { ML_FIELD_TEXT, { 12, -12, 24, -1 } },  { ML_FIELD_HULL, { -20, -12, 24, -4.5 } },
  };
  const MlBox mark = { -2, 0, 6, 4 };

  for (guint close = 0; close < 2; close++)
    {
      MlNote notes[] = { { .keeps = { mark }, .n_keeps = 1, .width = 4, .height = 1.6, .reach = 12, .must = TRUE, .beside = TRUE, .close = close },
                         { .keeps = { mark }, .n_keeps = 1, .width = 10, .height = 2.8, .reach = 14, .must = TRUE } };
      Kit kit;

      kit_init (&kit, "reference G\npart R1 resistor 1=P 2=G value=1k\ncondition on\n  supply plus=P minus=G voltage=12 limit=1\nplace R1 x=60 y=60\n");
      MlField *field = ml_field_new (kit.scene);
      for (guint i = 0; i < G_N_ELEMENTS (things); i++)
        ml_field_add (field, things[i].is, things[i].box);
      ml_notes_place (field, notes, G_N_ELEMENTS (notes));
      assert_true (notes[0].placed && notes[1].placed);
      const double middle = (notes[0].box.x0 + notes[0].box.x1) / 2;
      assert_int_equal (middle >= mark.x0 && middle <= mark.x1, close);
      assert_true (!close || !notes[0].leader);
      ml_field_free (field);
      kit_clear (&kit);
    }
}

/* Every reading of the unit, pass and condition shown has its note: none is lost for want of room. */
static void
test_every_reading_is_shown (void **state)
{
  g_autofree char *text = ml_generate_board (951, 40);
  g_autoptr (MlPlan) plan = NULL;
  guint readings = 0, standing = 0;
  Kit kit;

  kit_init (&kit, text);
  plan = ml_plan_new (kit.scene, &kit.overlay, &style);
  for (guint i = 0; i < plan->texts->len; i++)
    {
      const char *first = g_array_index (plan->texts, MlNoteText, i).lines[0].text;

      readings += g_array_index (plan->notes, MlNote, i).placed && (g_str_has_prefix (first, "12.34 V") || g_str_has_prefix (first, "567 mV"));
    }
  for (guint i = 0; i < kit.job->n_readings; i++)
    standing += !kit.job->readings[i].replaced;
  assert_true (standing >= 10);
  assert_int_equal (readings, standing);
  kit_clear (&kit);
}

#define SIDE 96

/* Where ink is, colour left out: 1 for a pixel that differs from the paper. */
static guint8 *
shape_of (MlVerdictWord verdict, const MlPalette *palette)
{
  cairo_surface_t *surface = cairo_image_surface_create (CAIRO_FORMAT_RGB24, SIDE, SIDE);
  cairo_t *cr = cairo_create (surface);
  const MlBox body = { 3, 2.5, 5, 5.5 };
  guint8 *shape = g_new0 (guint8, SIDE * SIDE);
  guint32 paper;
  const guint8 *data;

  ml_paint_colour (cr, &palette->paper);
  cairo_paint (cr);
  cairo_surface_flush (surface);
  memcpy (&paper, cairo_image_surface_get_data (surface), 4);
  cairo_scale (cr, SIDE / 8.0, SIDE / 8.0);
  ml_mark_verdict (cr, &body, verdict, palette);
  cairo_surface_flush (surface);
  data = cairo_image_surface_get_data (surface);
  for (guint y = 0; y < SIDE; y++)
    for (guint x = 0; x < SIDE; x++)
      shape[y * SIDE + x] = memcmp (data + y * (gsize) cairo_image_surface_get_stride (surface) + 4 * x, &paper, 3) != 0;
  cairo_destroy (cr);
  cairo_surface_destroy (surface);
  return shape;
}

/* Text keeps off the marks of the verdict; what brings the chosen explanation out needs no more room than these. */
static void
test_chosen_parts_are_marked_within_the_halo (void **state)
{
  const MlBox body = { 3, 2.5, 5, 5.5 }, halo = ml_mark_extent (&body, ML_VERDICT_SUSPECT);
  cairo_surface_t *surface = cairo_recording_surface_create (CAIRO_CONTENT_COLOR_ALPHA, NULL);
  cairo_t *cr = cairo_create (surface);
  double x, y, width, height;

  cairo_scale (cr, 100, 100); /* ink is told in whole pixels */
  ml_mark_chosen (cr, &body, ml_palette (ML_PAPER_LIGHT));
  cairo_recording_surface_ink_extents (surface, &x, &y, &width, &height);
  assert_true (width > 0 && height > 0);
  assert_true (x >= 100 * halo.x0 - 1 && y >= 100 * halo.y0 - 1 && x + width <= 100 * halo.x1 + 1 && y + height <= 100 * halo.y1 + 1);
  cairo_destroy (cr);
  cairo_surface_destroy (surface);
}

/* WCAG 2.2, 1.4.1: colour is not the only means. With all colour taken away at least a third of the ink of any two marks is not shared. */
static void
test_verdicts_differ_by_shape_alone (void **state)
{
  for (MlPaper paper = ML_PAPER_LIGHT; paper <= ML_PAPER_DARK; paper++)
    for (MlVerdictWord a = ML_VERDICT_UNPROVEN; a <= ML_VERDICT_SUSPECT; a++)
      for (MlVerdictWord b = ML_VERDICT_UNPROVEN; b < a; b++)
        {
          g_autofree guint8 *p = shape_of (a, ml_palette (paper)), *q = shape_of (b, ml_palette (paper));
          guint either = 0, one = 0;

          for (guint i = 0; i < SIDE * SIDE; i++)
            {
              either += p[i] | q[i];
              one += p[i] ^ q[i];
            }
          assert_true (either > 50);
          if (3 * one < either)
            fail_msg ("%s and %s share %u of %u pixels", ml_verdict_word (a), ml_verdict_word (b), either - one, either);
        }
}

static void
test_unproven_parts_carry_no_mark (void **state)
{
  g_autofree guint8 *shape = shape_of (ML_VERDICT_UNPROVEN, ml_palette (ML_PAPER_LIGHT));

  for (guint i = 0; i < SIDE * SIDE; i++)
    assert_int_equal (shape[i], 0);
}

static const char switchgear[] = "reference M\npart S1 switch 1=P 2=A\npart S2 changeover common=A a=B b=C\npart K1 coil 1=P 2=M resistance=100\n"
                                 "part K1a contact common=P no=B by=K1\npart K1b contact common=P nc=C by=K1\npart K1c contact common=P no=B nc=C by=K1\n"
                                 "part R1 resistor 1=B 2=M value=1k\npart R2 resistor 1=C 2=M value=1k\n"
                                 "condition off\ncondition on\n  supply plus=P minus=M voltage=12\n  set S1 closed\n  set S2 b\n"
                                 "condition half\n  set S2 middle\n  set K1c closed\n";

static const char *
artwork_of (const Kit *kit, const char *part, int condition, const MlOperatingPoint *point)
{
  const int i = ml_board_find_part (kit->board, part);
  const MlPaintStyle shown = { .condition = condition >= 0 ? &kit->board->conditions[condition] : NULL, .point = point };

  return ml_paint_artwork (kit->scene, &kit->scene->symbols[ml_scene_symbol (kit->scene, i)], &shown);
}

/* At rest as IEC 60617 draws them while no condition is shown; else as they stand in it, a contact as its coil has put it or as it is set. */
static void
test_switches_and_contacts_are_drawn_as_they_stand (void **state)
{
  static const struct { const char *part; int condition; gboolean pulled; const char *artwork; } cases[] = {
    { "S1", -1, TRUE, "switch" },         { "S1", 0, FALSE, "switch" },          { "S1", 1, FALSE, "switch-closed" },
    { "S2", -1, TRUE, "changeover" },     { "S2", 1, FALSE, "changeover-b" },    { "S2", 2, FALSE, "changeover-middle" },
    { "K1a", -1, TRUE, "contact" },       { "K1a", 1, TRUE, "switch-closed" },   { "K1a", 1, FALSE, "contact" },
    { "K1b", 1, TRUE, "contact-nc-open" }, { "K1b", 1, FALSE, "contact-nc" },
    { "K1c", 1, TRUE, "changeover-b" },   { "K1c", 1, FALSE, "changeover" },     { "K1c", 2, FALSE, "changeover-b" },
  };
  Kit kit;

  kit_init (&kit, switchgear);
  for (guint i = 0; i < G_N_ELEMENTS (cases); i++)
    {
      gboolean pulled[16];
      MlOperatingPoint point = { .solved = TRUE, .pulled = pulled };

      for (guint k = 0; k < G_N_ELEMENTS (pulled); k++)
        pulled[k] = cases[i].pulled;
      assert_string_equal (artwork_of (&kit, cases[i].part, cases[i].condition, &point), cases[i].artwork);
    }
  kit_clear (&kit);
}

/* Without knowing what the coil does, and when the circuit could not be solved, a contact is at rest; what is set is known all the same. */
static void
test_without_an_operating_point_contacts_are_at_rest (void **state)
{
  gboolean pulled[16] = { TRUE, TRUE, TRUE, TRUE, TRUE, TRUE, TRUE, TRUE };
  const MlOperatingPoint unsolved = { .solved = FALSE, .pulled = pulled };
  Kit kit;

  kit_init (&kit, switchgear);
  assert_string_equal (artwork_of (&kit, "K1a", 1, NULL), "contact");
  assert_string_equal (artwork_of (&kit, "K1a", 1, &unsolved), "contact");
  assert_string_equal (artwork_of (&kit, "S1", 1, NULL), "switch-closed");
  assert_string_equal (ml_throw_words (kit.board, ml_board_find_part (kit.board, "S1"), &kit.board->conditions[1], NULL), "closed");
  assert_null (ml_throw_words (kit.board, ml_board_find_part (kit.board, "R1"), &kit.board->conditions[1], NULL));
  kit_clear (&kit);
}

/* What a sheet and the window are painted with. */
static void
test_a_style_takes_what_its_overlay_shows (void **state)
{
  Kit kit;
  MlPaintStyle taken;

  kit_init (&kit, switchgear);
  kit.overlay.condition = 1;
  taken = ml_paint_style_take (style, kit.scene, &kit.overlay);
  assert_ptr_equal (taken.condition, &kit.board->conditions[1]);
  assert_ptr_equal (taken.point, &kit.point);
  assert_int_equal (taken.legend, style.legend);
  kit.overlay.condition = -1;
  taken = ml_paint_style_take (style, kit.scene, &kit.overlay);
  assert_true (taken.condition == NULL && taken.point == NULL);
  taken = ml_paint_style_take (style, kit.scene, NULL);
  assert_true (taken.condition == NULL && taken.point == NULL);
  kit_clear (&kit);
}

/* Ink where the dashed link ends, whichever way the blade stands. */
static void
test_the_link_from_a_coil_ends_at_the_blade (void **state)
{
  Kit kit;
  gboolean pulled[16] = { FALSE };
  const MlOperatingPoint point = { .solved = TRUE, .pulled = pulled };

  kit_init (&kit, "reference M\npart K1 coil 1=P 2=M resistance=100\npart K1a contact common=P no=B by=K1\npart R1 resistor 1=B 2=M value=1k\n"
                  "condition on\nplace K1 x=0 y=0\nplace K1a x=8 y=0\nplace R1 x=16 y=0\n");
  assert_int_equal (kit.scene->n_links, 1);
  for (int k = 0; k < 2; k++)
    {
      const int at = ml_scene_symbol (kit.scene, ml_board_find_part (kit.board, "K1a"));
      const MlSceneSymbol *contact = &kit.scene->symbols[at];
      const MlPaintStyle shown = { .condition = &kit.board->conditions[0], .point = &point };
      cairo_surface_t *surface = cairo_image_surface_create (CAIRO_FORMAT_A8, 40, 40);
      cairo_t *cr = cairo_create (surface);
      const MlColour ink = { 0, 0, 0 };
      MlPoint end;

      pulled[ml_board_find_part (kit.board, "K1a")] = k == 1;
      end = ml_paint_link_end (kit.scene, &kit.scene->links[0], &shown);
      cairo_scale (cr, 40, 40); /* one g round the end */
      cairo_translate (cr, 0.5 - end.x, 0.5 - end.y);
      ml_symbol_draw (cr, ml_paint_artwork (kit.scene, contact, &shown), &contact->place, &ink, NULL);
      cairo_surface_flush (surface);
      assert_true (cairo_image_surface_get_data (surface)[20 * cairo_image_surface_get_stride (surface) + 20] > 128);
      cairo_destroy (cr);
      cairo_surface_destroy (surface);
    }
  kit_clear (&kit);
}

/* Whether the strong ring's colour shows on that label, with this part and pin selected. */
static gboolean
ring_covers_label (const MlScene *scene, int part, int pin, const MlSceneLabel *label)
{
  enum { PX = 20 };
  const MlColour *blue = &ml_palette (ML_PAPER_LIGHT)->selection;
  const int rgb[] = { (int) (255 * blue->b + 0.5), (int) (255 * blue->g + 0.5), (int) (255 * blue->r + 0.5) };
  const MlPaintStyle large = { .paper = ML_PAPER_LIGHT, .scale = PX };
  const MlOverlay overlay = { .condition = -1, .selected_part = part, .selected_pin = pin, .hover_part = -1, .hover_pin = -1, .other_unit = -1 };
  const MlBox all = scene->extent;
  cairo_surface_t *surface = cairo_image_surface_create (CAIRO_FORMAT_RGB24, (int) (PX * (all.x1 - all.x0)) + 1, (int) (PX * (all.y1 - all.y0)) + 1);
  cairo_t *cr = cairo_create (surface);
  gboolean covered = FALSE;

  cairo_scale (cr, PX, PX);
  cairo_translate (cr, -all.x0, -all.y0);
  ml_paint_scene (cr, scene, &large);
  ml_plan_paint_pointing (cr, scene, &overlay, &large);
  cairo_surface_flush (surface);
  for (int y = (int) (PX * (label->box.y0 + 0.3 - all.y0)); y < (int) (PX * (label->box.y1 - 0.3 - all.y0)); y++)
    for (int x = (int) (PX * (label->box.x0 - all.x0)); x < (int) (PX * (label->box.x1 - all.x0)); x++)
      {
        const guint8 *pixel = cairo_image_surface_get_data (surface) + y * (gsize) cairo_image_surface_get_stride (surface) + 4 * x;
        covered = covered || abs (pixel[0] - rgb[0]) + abs (pixel[1] - rgb[1]) + abs (pixel[2] - rgb[2]) < 12;
      }
  cairo_destroy (cr);
  cairo_surface_destroy (surface);
  return covered;
}

/* The ring of the selection would lie over the first letter of a name that stands close to its part. */
static void
test_a_selected_part_keeps_its_name_readable (void **state)
{
  guint looked_at = 0;
  Kit kit;

  kit_init (&kit, "part R1 resistor 1=A 2=B value=4k7\npart R2 resistor 1=B 2=A value=1k\nreference A\ncondition on\n");
  for (guint i = 0; i < kit.scene->n_labels; i++)
    {
      const MlSceneLabel *label = &kit.scene->labels[i];
      MlBox body, ring;
      assert_true (ml_plan_part_body (kit.scene, 0, 0, &body));
      ring = ml_mark_selection_box (&body);
      if (label->part != 0 || label->pin >= 0 || label->align >= 0 || !ml_box_meets (&label->box, &ring))
        continue;
      looked_at++;
      assert_false (ring_covers_label (kit.scene, 0, -1, label));
    }
  assert_true (looked_at > 0);
  kit_clear (&kit);
}

/* 0 V at every net of a board without a supply says nothing and hides what is drawn; a battery's volts are said. */
static void
test_no_volts_are_expected_of_a_cold_board (void **state)
{
  static const char *const conditions[] = { "condition cold\n", "condition cold\n", "condition on\n  supply plus=A minus=M voltage=5 limit=1\n" };
  guint n[3];

  for (guint k = 0; k < G_N_ELEMENTS (conditions); k++)
    {
      g_autofree char *board = g_strconcat ("reference M\npart R1 resistor 1=A 2=B value=1k\npart R2 resistor 1=B 2=C value=1k\n"
                                            "part R3 resistor 1=C 2=M value=1k\n", conditions[k], NULL);
      Kit kit;
      kit_init (&kit, board);
      for (guint i = 0; k != 1 && i < kit.board->n_nets; i++)
        kit.point.net_v[i] = 0.0;
      g_autoptr (MlPlan) plan = ml_plan_new (kit.scene, &kit.overlay, &style);
      n[k] = plan->notes->len;
      kit_clear (&kit);
    }
  assert_true (n[0] < n[1]);
  assert_int_equal (n[1], n[2]);
}

/* The same at a pin: the name of the net it is on stands along the wire. */
static void
test_a_selected_pin_keeps_its_nets_name_readable (void **state)
{
  guint looked_at = 0;
  Kit kit;

  kit_init (&kit, "reference M\npart R1 resistor 1=P 2=BASE value=1k\npart R2 resistor 1=BASE 2=M value=10k\n"
                  "part Q1 npn collector=P base=BASE emitter=M\npart R3 resistor 1=P 2=M value=1k\ncondition on\n  supply plus=P minus=M voltage=5 limit=1\n");
  for (guint i = 0; i < kit.scene->n_pins; i++)
    for (guint k = 0; k < kit.scene->n_labels; k++)
      {
        const MlScenePin *pin = &kit.scene->pins[i];
        const MlSceneLabel *label = &kit.scene->labels[k];
        const MlBox at = ml_box_of_points (pin->at, pin->at), body = ml_box_grown (at, 0.3), ring = ml_mark_selection_box (&body);
        if (pin->part < 0 || label->kind == ML_LABEL_PIN || !ml_box_meets (&label->box, &ring))
          continue;
        looked_at++;
        assert_false (ring_covers_label (kit.scene, pin->part, pin->pin, label));
      }
  assert_true (looked_at > 0);
  kit_clear (&kit);
}

/* A halo that reaches over the part next door would suspect that one too. */
static void
test_a_mark_keeps_off_the_part_beside_it (void **state)
{
  guint close = 0;
  Kit kit;

  kit_init (&kit, "reference M\npart R1 resistor 1=A 2=M value=1k\npart R2 resistor 1=A 2=M value=1k\npart R3 resistor 1=A 2=M value=1k\n"
                  "part R4 resistor 1=A 2=M value=1k\npart R5 resistor 1=A 2=M value=1k\npart R6 resistor 1=A 2=M value=1k\n"
                  "part R7 resistor 1=A 2=M value=1k\ncondition on\n  supply plus=A minus=M voltage=5 limit=1\n"
                  "place R1 x=-20 y=0\nplace R2 x=20 y=0\nplace R3 x=30 y=0\nplace R4 x=0 y=0\nplace R5 x=2 y=0\nplace R6 x=10 y=-4\n"
                  "place R7 x=11.5 y=0\n");
  g_autoptr (MlPlan) plan = ml_plan_new (kit.scene, &kit.overlay, &style);
  for (guint i = 0; i < plan->marks->len; i++)
    for (guint k = 0; k < kit.board->n_parts; k++)
      {
        const MlPlanMark *mark = &g_array_index (plan->marks, MlPlanMark, i);
        const MlBox covers = ml_mark_extent (&mark->body, mark->verdict);
        MlBox own, other;
        assert_true (ml_plan_part_body (kit.scene, (int) mark->part, 0, &own));
        assert_true (ml_plan_part_body (kit.scene, (int) k, 0, &other));
        if (k == mark->part)
          continue;
        assert_false (ml_box_meets (&covers, &other));
        const MlBox wide = ml_mark_extent (&own, mark->verdict);
        close += ml_box_meets (&wide, &other);
      }
  assert_true (close > 0);
  kit_clear (&kit);
}

/* The pins of a connector stand all over the sheet: its marks are at them, not round everything between. */
static void
test_marks_of_a_connector_drawn_pin_by_pin_take_in_no_part (void **state)
{
  g_autofree char *path = g_build_filename (g_getenv ("METERLEAF_SOURCE"), "tests", "drawing", "boards", "level-alarm.leafboard", NULL), *text = NULL;
  guint n = 0;
  MlBox body;
  Kit kit;
  int part;

  assert_true (g_file_get_contents (path, &text, NULL, NULL));
  kit_init (&kit, text);
  part = ml_board_find_part (kit.board, "J2");
  kit.verdict.parts[part] = (MlPartVerdict) { ML_VERDICT_SUSPECT, 0.8, 0 };
  g_autoptr (MlPlan) plan = ml_plan_new (kit.scene, &kit.overlay, &style);
  for (guint i = 0; i < plan->marks->len; i++)
    {
      const MlPlanMark *mark = &g_array_index (plan->marks, MlPlanMark, i);
      if ((int) mark->part != part)
        continue;
      n++;
      for (int k = 0; k < (int) kit.board->n_parts; k++)
        for (guint nth = 0; k != part && ml_plan_part_body (kit.scene, k, nth, &body); nth++)
          assert_false (ml_box_meets (&mark->body, &body));
    }
  assert_int_equal (n, kit.board->parts[part].n_pins);
  kit_clear (&kit);
}

/* The share of the icon's room that its ink spans, the larger of width and height; negative when ink lies outside. */
static double
icon_span (MlKind kind)
{
  const int frame = 10, room = 40, side = room + 2 * frame;
  cairo_surface_t *surface = cairo_image_surface_create (CAIRO_FORMAT_ARGB32, side, side);
  cairo_t *cr = cairo_create (surface);
  int x0 = side, y0 = side, x1 = -1, y1 = -1;

  cairo_translate (cr, frame, frame);
  ml_paint_part_icon (cr, kind, room, room, ML_PAPER_LIGHT);
  cairo_surface_flush (surface);
  for (int y = 0; y < side; y++)
    for (int x = 0; x < side; x++)
      if (cairo_image_surface_get_data (surface)[y * cairo_image_surface_get_stride (surface) + 4 * x + 3] > 40)
        {
          x0 = MIN (x0, x);
          x1 = MAX (x1, x);
          y0 = MIN (y0, y);
          y1 = MAX (y1, y);
        }
  cairo_destroy (cr);
  cairo_surface_destroy (surface);
  if (x1 < 0 || x0 < frame || y0 < frame || x1 >= frame + room || y1 >= frame + room)
    return -1;
  return MAX (x1 - x0, y1 - y0) / (double) room;
}

static void
test_every_kind_has_an_icon_that_fills_its_room (void **state)
{
  for (MlKind kind = 0; kind < ML_N_KINDS; kind++)
    if (icon_span (kind) < 0.8)
      fail_msg ("the icon of %s spans %.2f of its room", ml_kind_info (kind)->word, icon_span (kind));
}

/* A tenfold current widens the line by the same amount wherever it is: equal ratios, equal steps. */
static void
test_flow_weight_follows_the_logarithm (void **state)
{
  const double step = ml_flow_width (1e-3) - ml_flow_width (1e-4);

  assert_true (step > 0.02);
  for (double i = 1e-4; i < 0.2; i *= 10)
    assert_near (ml_flow_width (10 * i) - ml_flow_width (i), step, 1e-9, 0);
  assert_near (ml_flow_width (-0.02), ml_flow_width (0.02), 0, 0);
  assert_near (ml_flow_width (1e-9), 0, 0, 0);
  assert_near (ml_flow_width (NAN), 0, 0, 0);
}

static guint8 *
painted (const Kit *kit, gsize *ret_size)
{
  const MlBox extent = ml_paint_extent (kit->scene, &kit->overlay, &style);
  cairo_surface_t *surface = cairo_image_surface_create (CAIRO_FORMAT_RGB24, (int) (8 * (extent.x1 - extent.x0)), (int) (8 * (extent.y1 - extent.y0)));
  cairo_t *cr = cairo_create (surface);
  guint8 *bytes;

  cairo_scale (cr, 8, 8);
  cairo_translate (cr, -extent.x0, -extent.y0);
  ml_paint_scene (cr, kit->scene, &style);
  ml_paint_overlay (cr, kit->scene, &kit->overlay, &style);
  assert_int_equal (cairo_status (cr), CAIRO_STATUS_SUCCESS);
  cairo_surface_flush (surface);
  *ret_size = (gsize) cairo_image_surface_get_stride (surface) * (gsize) cairo_image_surface_get_height (surface);
  bytes = g_memdup2 (cairo_image_surface_get_data (surface), *ret_size);
  cairo_destroy (cr);
  cairo_surface_destroy (surface);
  return bytes;
}

static void
test_painting_twice_gives_the_same_picture (void **state)
{
  g_autofree char *text = ml_generate_board (977, 24);
  g_autofree guint8 *first = NULL, *second = NULL;
  gsize n_first, n_second;
  Kit kit;

  kit_init (&kit, text);
  first = painted (&kit, &n_first);
  second = painted (&kit, &n_second);
  assert_int_equal (n_first, n_second);
  assert_memory_equal (first, second, n_first);
  kit_clear (&kit);
}

/* What stands at a bar are the words by which texts tell the net, not a name that nobody gave: one changes the picture, the other does not. */
static void
test_a_flag_says_what_texts_say (void **state)
{
  Kit kit;
  gsize n, n_renamed, n_other;

  kit_init (&kit, "reference MINUS\npart J1 connector IN=PLUS MINUS=MINUS\npart D1 diode anode=PLUS cathode=N1\n"
                  "part R1 resistor 1=N1 2=L1 value=1k\npart LED1 led anode=L1 cathode=MINUS\npart R2 resistor 1=N1 2=L2 value=1k\n"
                  "part LED2 led anode=L2 cathode=MINUS\npart R3 resistor 1=N1 2=L3 value=1k\npart LED3 led anode=L3 cathode=MINUS\n"
                  "condition on\n  supply plus=PLUS minus=MINUS voltage=12\n");
  MlNet *net = &kit.board->nets[ml_board_find_net (kit.board, "N1")];
  assert_true (ml_test_flags (kit.scene, "N1", ML_FLAG_UP_RAIL) > 0);
  g_autofree guint8 *first = painted (&kit, &n);
  net->name[1] = '8';
  g_autofree guint8 *renamed = painted (&kit, &n_renamed);
  net->name[1] = '1';
  net->words[1] = '8';
  g_autofree guint8 *other = painted (&kit, &n_other);
  assert_int_equal (n, n_renamed);
  assert_memory_equal (first, renamed, n);
  assert_int_equal (n, n_other);
  assert_memory_not_equal (first, other, n);
  kit_clear (&kit);
}

/* Digits as the meter's display had them: what a person typed is what stands there. */
static void
test_readings_keep_the_digits_typed (void **state)
{
  static const struct { const char *typed, *shown; MlUnit unit; } cases[] = {
    { "2.91", "2.91 V", ML_UNIT_VOLT }, { "5.10", "5.10 V", ML_UNIT_VOLT }, { "270m", "270 mV", ML_UNIT_VOLT }, { "0.7m", "0.7 mV", ML_UNIT_VOLT },
    { "-1.20", "-1.20 V", ML_UNIT_VOLT }, { "1.2k", "1.2 kΩ", ML_UNIT_OHM }, { "85m", "85 mA", ML_UNIT_AMPERE }, { "OL", "OL", ML_UNIT_OHM },
    { "1.8..2.1", "1.8 V to 2.1 V", ML_UNIT_VOLT },
  };

  for (guint i = 0; i < G_N_ELEMENTS (cases); i++)
    {
      MlQuantity quantity;
      g_autofree char *shown = NULL;

      assert_int_equal (ml_quantity_parse (cases[i].typed, strlen (cases[i].typed), cases[i].unit, ML_QUANTITY_RANGE | ML_QUANTITY_OVER, &quantity, NULL), 0);
      shown = ml_note_value (&quantity, cases[i].unit);
      assert_string_equal (shown, cases[i].shown);
    }
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_a_flag_says_what_texts_say),
    cmocka_unit_test (test_notes_on_generated_boards_are_tidy),
    cmocka_unit_test (test_notes_on_written_boards_are_tidy),
    cmocka_unit_test (test_every_reading_is_shown),
    cmocka_unit_test (test_a_share_stands_squarely_at_its_part),
    cmocka_unit_test (test_verdicts_differ_by_shape_alone),
    cmocka_unit_test (test_unproven_parts_carry_no_mark),
    cmocka_unit_test (test_every_kind_has_an_icon_that_fills_its_room),
    cmocka_unit_test (test_flow_weight_follows_the_logarithm),
    cmocka_unit_test (test_switches_and_contacts_are_drawn_as_they_stand),
    cmocka_unit_test (test_without_an_operating_point_contacts_are_at_rest),
    cmocka_unit_test (test_a_style_takes_what_its_overlay_shows),
    cmocka_unit_test (test_the_link_from_a_coil_ends_at_the_blade),
    cmocka_unit_test (test_a_selected_part_keeps_its_name_readable),
    cmocka_unit_test (test_a_selected_pin_keeps_its_nets_name_readable),
    cmocka_unit_test (test_no_volts_are_expected_of_a_cold_board),
    cmocka_unit_test (test_a_mark_keeps_off_the_part_beside_it),
    cmocka_unit_test (test_marks_of_a_connector_drawn_pin_by_pin_take_in_no_part),
    cmocka_unit_test (test_painting_twice_gives_the_same_picture),
    cmocka_unit_test (test_notes_follow_the_size_of_text),
    cmocka_unit_test (test_next_note_says_an_explanation_in_full),
    cmocka_unit_test (test_next_note_has_a_line_for_each_value),
    cmocka_unit_test (test_a_suspected_link_is_in_the_legend),
    cmocka_unit_test (test_chosen_parts_are_marked_within_the_halo),
    cmocka_unit_test (test_readings_keep_the_digits_typed),
  };

  return cmocka_run_group_tests (tests, NULL, NULL);
}
