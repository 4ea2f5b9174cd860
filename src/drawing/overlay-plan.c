/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/overlay-plan.h"

#include <math.h>

#include "drawing/flow.h"
#include "drawing/legend.h"
#include "drawing/marks.h"
#include "drawing/paint-private.h"
#include "drawing/photo-scene.h"

#define PAD_EDGE 0.75 /* g: from a pad's middle to a little within its edge */

typedef struct
{
  const MlScene *scene;
  const MlOverlay *overlay;
  const MlPaintStyle *style;
  MlPlan *plan;
  MlField *field;
  gboolean *told; /* by net: a reading stands there already */
} Planner;

/* What is marked of a symbol: of a slanted one only the middle, for its hull reaches into its neighbours. */
static MlBox
symbol_body (const MlSceneSymbol *symbol)
{
  const MlSymbolGeometry *geometry = symbol->shape == ML_SHAPE_SYMBOL ? ml_symbol_geometry (symbol->name) : NULL;

  if (symbol->shape == ML_SHAPE_BOX)
    return ml_box_union (symbol->box, symbol->body);
  if (geometry != NULL && geometry->n_pins == 2 && geometry->n_inks > 1)
    return ml_place_box (&symbol->place, geometry->inks[geometry->n_inks / 2]);
  return symbol->body;
}

gboolean
ml_plan_part_body (const MlScene *scene, int part, guint nth, MlBox *ret_body)
{
  for (guint i = 0; i < scene->n_symbols; i++)
    if (scene->symbols[i].part == part && nth-- == 0)
      {
        *ret_body = symbol_body (&scene->symbols[i]);
        return TRUE;
      }
  return FALSE;
}

static const MlScenePin *
find_pin (const MlScene *scene, int part, int pin)
{
  const int i = ml_scene_pin (scene, part, pin);

  return i >= 0 ? &scene->pins[i] : NULL;
}

/* Where one would touch a net: its connector, else its flag, else the middle of its longest wire, else any of its pins. */
static gboolean
net_point (const MlScene *scene, int net, MlPoint *ret_point)
{
  double longest = -1;
  gboolean found = FALSE;

  for (guint i = 0; i < scene->n_pins; i++)
    {
      const MlScenePin *pin = &scene->pins[i];
      const MlKind kind = pin->part >= 0 ? scene->board->parts[pin->part].kind->kind : ML_N_KINDS;

      if (pin->net != net)
        continue;
      *ret_point = pin->at;
      if (kind == ML_KIND_CONNECTOR || kind == ML_KIND_TESTPOINT)
        return TRUE;
      found = TRUE;
    }
  for (guint i = 0; i < scene->n_wires; i++)
    {
      const MlSceneWire *wire = &scene->wires[i];
      const double length = fabs (wire->b.x - wire->a.x) + fabs (wire->b.y - wire->a.y);

      if (wire->net != net || length <= longest)
        continue;
      longest = length;
      *ret_point = (MlPoint) { (wire->a.x + wire->b.x) / 2, (wire->a.y + wire->b.y) / 2 };
      found = TRUE;
    }
  for (guint i = 0; i < scene->n_flags; i++)
    if (scene->flags[i].net == net)
      {
        *ret_point = scene->flags[i].at;
        return TRUE;
      }
  return found;
}

static const MlScenePin *
probed_pin (const MlScene *scene, const MlProbe *probe)
{
  return probe->part >= 0 && probe->pin >= 0 ? find_pin (scene, probe->part, probe->pin) : NULL;
}

/* The pin of a net that is nearest to another pin; NULL when none is drawn. */
static const MlScenePin *
nearest_pin (const MlScene *scene, int net, const MlScenePin *to)
{
  const MlScenePin *nearest = NULL;
  double least = INFINITY;

  for (guint i = 0; i < scene->n_pins; i++)
    {
      const double away = hypot (scene->pins[i].at.x - to->at.x, scene->pins[i].at.y - to->at.y);

      if (scene->pins[i].net != net || away >= least)
        continue;
      least = away;
      nearest = &scene->pins[i];
    }
  return nearest;
}

static gboolean
may_be_anywhere (const MlScene *scene, const MlProbe *probe)
{
  return probe->part < 0 && probe->net >= 0 && probe->net != scene->board->reference;
}

/* Of two probes that may be anywhere on their nets: the pin of one of them where a part lies between both, else where the nets come closest. The
 * reference is no such net: the probe on it rests where it is. */
static const MlScenePin *
closest_pin (const MlScene *scene, int net, int other_net)
{
  const MlScenePin *closest = NULL;
  double least = INFINITY;

  for (guint i = 0; i < scene->n_pins; i++)
    {
      const MlScenePin *pin = &scene->pins[i];
      const MlPart *part = &scene->board->parts[pin->part];
      const gboolean across = part->n_pins == 2 && part->pins[1 - pin->pin].net == other_net;
      const MlScenePin *to = pin->net == net ? nearest_pin (scene, other_net, pin) : NULL;
      const double away = to == NULL ? INFINITY : across ? -1.0 : hypot (to->at.x - pin->at.x, to->at.y - pin->at.y);

      if (away >= least)
        continue;
      least = away;
      closest = pin;
    }
  return closest;
}

gboolean
ml_plan_probe_point (const MlScene *scene, const MlProbe *probe, const MlProbe *partner, MlPoint *ret_point)
{
  const MlScenePin *pin = probed_pin (scene, probe);
  const MlScenePin *to = partner != NULL ? probed_pin (scene, partner) : NULL;

  if (pin == NULL && to != NULL && probe->net >= 0)
    pin = nearest_pin (scene, probe->net, to);
  else if (pin == NULL && partner != NULL && may_be_anywhere (scene, probe) && may_be_anywhere (scene, partner))
    pin = closest_pin (scene, probe->net, partner->net);
  if (pin == NULL)
    return probe->net >= 0 && net_point (scene, probe->net, ret_point);
  *ret_point = pin->at;
  if (probe->lead) /* the part's own metal: between the solder and the body */
    {
      const MlPoint inner = ml_paint_inner_end (scene, pin);

      *ret_point = (MlPoint) { (pin->at.x + 2 * inner.x) / 3, (pin->at.y + 2 * inner.y) / 3 };
    }
  return TRUE;
}

/* A halo takes in the part's own name and value rather than cutting through them. */
static MlBox
with_labels (const MlScene *scene, const MlPlanMark *mark)
{
  const MlBox covers = ml_mark_extent (&mark->body, mark->verdict);
  MlBox body = mark->body;

  for (guint i = 0; i < scene->n_labels; i++)
    if (scene->labels[i].part == (int) mark->part && ml_box_meets (&scene->labels[i].box, &covers))
      body = ml_box_union (body, scene->labels[i].box);
  return body;
}

#define NEIGHBOUR_GAP 0.12 /* g that stays free between a mark and the part beside it */
#define LEAST_MARK_GAP 0.1 /* g outside its own part, however close the neighbour is */

/* One side of a mark, drawn in as far as a neighbour that begins at `free` beyond the body's edge needs it. */
static double
drawn_in (double reach, double free)
{
  return CLAMP (reach + NEIGHBOUR_GAP - free, 0, reach - LEAST_MARK_GAP);
}

/* A halo over the part next door would look as if that one were meant too. */
static void
keep_off_neighbours (const MlScene *scene, MlPlanMark *mark)
{
  const MlBox own = mark->body, covers = ml_mark_extent (&own, mark->verdict);
  const double reach = own.x0 - covers.x0;
  MlBox in = { 0 };

  for (guint i = 0; i < scene->n_symbols; i++)
    {
      const MlBox other = symbol_body (&scene->symbols[i]);
      if (scene->symbols[i].part == (int) mark->part || !ml_box_meets (&covers, &other) || ml_box_meets (&own, &other))
        continue;
      const double left = own.x0 - other.x1, right = other.x0 - own.x1, above = own.y0 - other.y1, below = other.y0 - own.y1;
      const double most = MAX (MAX (left, right), MAX (above, below));
      if (most == left)
        in.x0 = MAX (in.x0, drawn_in (reach, left));
      else if (most == right)
        in.x1 = MAX (in.x1, drawn_in (reach, right));
      else if (most == above)
        in.y0 = MAX (in.y0, drawn_in (reach, above));
      else
        in.y1 = MAX (in.y1, drawn_in (reach, below));
    }
  mark->body = (MlBox) { own.x0 + in.x0, own.y0 + in.y0, own.x1 - in.x1, own.y1 - in.y1 };
}

static void
plan_mark (Planner *self, MlPlanMark mark)
{
  MlBox covers;

  if (mark.verdict != ML_VERDICT_CLEARED)
    mark.body = with_labels (self->scene, &mark);
  if (self->scene->picture == NULL)
    keep_off_neighbours (self->scene, &mark);
  g_array_append_val (self->plan->marks, mark);
  covers = ml_mark_extent (&mark.body, mark.verdict);
  ml_field_add (self->field, ML_FIELD_MARK, covers);
  if (mark.verdict == ML_VERDICT_CLEARED)
    ml_field_add (self->field, ML_FIELD_MARK, (MlBox) { covers.x0 - 0.3, covers.y1 - 0.9, covers.x0 + 0.8, covers.y1 + 0.3 });
  self->plan->legend |= mark.verdict == ML_VERDICT_SUSPECT ? ML_LEGEND_SUSPECT
                        : mark.verdict == ML_VERDICT_POSSIBLE ? ML_LEGEND_POSSIBLE : ML_LEGEND_CLEARED;
}

/* A connector drawn pin by pin has a mark at each of them: one round all would take in what stands between. */
static void
plan_marks (Planner *self)
{
  const MlVerdict *verdict = self->overlay->verdict;

  for (guint i = 0; verdict != NULL && i < verdict->n_parts && i < self->scene->board->n_parts; i++)
    {
      MlPlanMark mark = { .part = i, .verdict = verdict->parts[i].verdict };

      for (guint nth = 0; mark.verdict != ML_VERDICT_UNPROVEN && ml_plan_part_body (self->scene, (int) i, nth, &mark.body); nth++)
        plan_mark (self, mark);
    }
  for (guint i = 0; verdict != NULL && i < verdict->n_links; i++)
    {
      MlPoint a, b;

      if (ml_paint_link_points (self->scene, &verdict->links[i], &a, &b))
        self->plan->legend |= ML_LEGEND_LINK;
    }
}

/* The direction in which the handle covers least; red leans right and black left when nothing is in the way. */
static double
free_angle (const Planner *self, MlPoint at, gboolean red, double length)
{
  static const double degrees[] = { -60, -30, -120, 60, 30, -150, 120, 150, -45, -75, 45, 75, -105, -135, 105, 135, -15, 15, -165, 165 };
  double best = 0;
  double least = INFINITY;

  for (guint i = 0; i < G_N_ELEMENTS (degrees); i++)
    {
      const double angle = (red ? degrees[i] : 180 - degrees[i]) * G_PI / 180;
      const MlPoint end = { at.x + (length + 0.4) * cos (angle), at.y + (length + 0.4) * sin (angle) };
      const double covers = ml_field_line (self->field, end, at);

      if (covers < least)
        {
          least = covers;
          best = angle;
        }
    }
  return best;
}

/* On the picture of a board the point touches the pad's edge, so that its letters stay readable. */
static void
off_the_pad (const Planner *self, MlPlanTip *tip)
{
  const double off = self->scene->picture != NULL ? PAD_EDGE : 0;

  tip->point = (MlPoint) { tip->at.x + off * cos (tip->angle), tip->at.y + off * sin (tip->angle) };
}

typedef enum { ML_TIP_BLACK = 0, ML_TIP_RED = 1, ML_TIP_TAKEN = 2 } MlTipIs;

static void
plan_tip (Planner *self, const MlProbe *probe, const MlProbe *partner, MlTipIs is)
{
  const gboolean red = is & ML_TIP_RED, taken = is & ML_TIP_TAKEN;
  MlPlanTip tip = { .red = red, .taken = taken };
  const double length = taken ? 0.9 : ML_TIP_LENGTH;

  if (probe == NULL || !ml_plan_probe_point (self->scene, probe, partner, &tip.at))
    return;
  for (guint i = 0; i < self->plan->tips->len; i++)
    {
      const MlPlanTip *other = &g_array_index (self->plan->tips, MlPlanTip, i);

      if (other->at.x == tip.at.x && other->at.y == tip.at.y && other->red == red)
        return; /* one is enough */
    }
  tip.angle = free_angle (self, tip.at, red, length);
  off_the_pad (self, &tip);
  g_array_append_val (self->plan->tips, tip);
  if (taken)
    ml_field_add (self->field, ML_FIELD_MARK, ml_box_grown (ml_box_of_points (tip.point, (MlPoint) { tip.point.x + 0.85 * cos (tip.angle), tip.point.y + 0.85 * sin (tip.angle) }), 0.1));
  else
    ml_field_add (self->field, ML_FIELD_MARK, ml_mark_tip_box (tip.point, tip.angle));
  self->plan->legend |= taken ? ML_LEGEND_TAKEN : ML_LEGEND_PROBES;
}

static gboolean
is_shown (const Planner *self, const MlReading *reading)
{
  const MlOverlay *overlay = self->overlay;

  return reading->unit == overlay->unit && reading->pass == overlay->pass && reading->condition == overlay->condition && !reading->replaced;
}

static void
plan_tips (Planner *self)
{
  const MlOverlay *overlay = self->overlay;

  plan_tip (self, overlay->red, overlay->black, ML_TIP_RED);
  plan_tip (self, overlay->black, overlay->red, ML_TIP_BLACK);
  if (overlay->next != NULL && overlay->next->supply < 0 && overlay->next->condition == overlay->condition)
    {
      plan_tip (self, &overlay->next->red, &overlay->next->black, ML_TIP_RED);
      plan_tip (self, &overlay->next->black, &overlay->next->red, ML_TIP_BLACK);
    }
  for (guint i = 0; overlay->job != NULL && i < overlay->job->n_readings; i++)
    {
      const MlReading *reading = &overlay->job->readings[i];

      if (!is_shown (self, reading) || reading->supply >= 0)
        continue;
      plan_tip (self, &reading->red, &reading->black, ML_TIP_RED | ML_TIP_TAKEN);
      if (reading->black.net != self->scene->board->reference || reading->black.lead)
        plan_tip (self, &reading->black, &reading->red, ML_TIP_TAKEN);
    }
}

static void
add_keep (MlNote *note, MlBox keep)
{
  if (note->n_keeps < ML_NOTE_MAX_KEEPS)
    note->keeps[note->n_keeps++] = keep;
}

static void
keep_pin (const Planner *self, MlNote *note, int part, int pin)
{
  const MlScenePin *found = find_pin (self->scene, part, pin);

  if (found != NULL && self->scene->picture != NULL)
    add_keep (note, ml_photo_pad_box (&self->scene->board->parts[part], pin, found->at));
  else if (found != NULL)
    add_keep (note, (MlBox) { found->at.x - 0.1, found->at.y - 0.1, found->at.x + 0.1, found->at.y + 0.1 });
}

static void
keep_part (const Planner *self, MlNote *note, int part)
{
  MlBox body;
  gboolean marked = FALSE;

  for (guint i = 0; i < self->plan->marks->len; i++)
    {
      const MlPlanMark *mark = &g_array_index (self->plan->marks, MlPlanMark, i);

      if (mark->part != (guint) part)
        continue;
      add_keep (note, ml_mark_extent (&mark->body, mark->verdict));
      marked = TRUE;
    }
  for (guint nth = 0; !marked && ml_plan_part_body (self->scene, part, nth, &body); nth++)
    add_keep (note, body);
  note->beside = TRUE;
}

/* On the picture of a board a note stands beside the pad, not beside its middle. */
static gboolean
keep_pad_at (const Planner *self, MlNote *note, MlPoint at)
{
  const MlScene *scene = self->scene;

  for (guint i = 0; scene->picture != NULL && i < scene->n_pins; i++)
    if (scene->pins[i].at.x == at.x && scene->pins[i].at.y == at.y)
      {
        keep_pin (self, note, scene->pins[i].part, scene->pins[i].pin);
        return TRUE;
      }
  return FALSE;
}

/* Beside the net's own name first, then along its straight wires, the longest first. */
static void
keep_net (const Planner *self, MlNote *note, int net)
{
  const MlScene *scene = self->scene;
  double last_length = INFINITY;
  MlPoint point;

  for (guint i = 0; i < scene->n_labels; i++)
    if (scene->labels[i].kind == ML_LABEL_NET && scene->labels[i].net == net)
      add_keep (note, scene->labels[i].box);
  for (guint n = 0; n < 3; n++)
    {
      double longest = 1.9;
      int best = -1;

      for (guint i = 0; i < scene->n_wires; i++)
        {
          const MlSceneWire *wire = &scene->wires[i];
          const double length = fabs (wire->b.x - wire->a.x) + fabs (wire->b.y - wire->a.y);

          if (wire->net == net && length > longest && length < last_length)
            {
              longest = length;
              best = (int) i;
            }
        }
      if (best < 0)
        break;
      last_length = longest;
      add_keep (note, ml_box_of_points (scene->wires[best].a, scene->wires[best].b));
    }
  for (guint i = 0; i < scene->n_flags && note->n_keeps < ML_NOTE_MAX_KEEPS - 1; i++)
    if (scene->flags[i].net == net)
      add_keep (note, scene->flags[i].box);
  if (net_point (scene, net, &point) && !keep_pad_at (self, note, point))
    add_keep (note, (MlBox) { point.x - 0.1, point.y - 0.1, point.x + 0.1, point.y + 0.1 });
}

static void
keep_probe (const Planner *self, MlNote *note, const MlProbe *probe)
{
  MlPoint point;

  if (probe->part >= 0 && probe->pin >= 0)
    keep_pin (self, note, probe->part, probe->pin);
  if (note->n_keeps == 0 && probe->net >= 0)
    keep_net (self, note, probe->net);
  if (note->n_keeps == 0 && ml_plan_probe_point (self->scene, probe, NULL, &point))
    add_keep (note, (MlBox) { point.x, point.y, point.x, point.y });
}

static void
add_note (Planner *self, MlNote *note, MlNoteText *text)
{
  if (note->n_keeps == 0 || text->n_lines == 0)
    {
      ml_note_text_clear (text);
      return;
    }
  for (guint i = 0; i < text->n_lines && self->style->text_scale > 0.0; i++)
    text->lines[i].height *= self->style->text_scale;
  ml_note_text_size (text, self->style->font, &note->width, &note->height);
  note->width += MAX (self->style->text_scale - 1.0, 0.0); /* a blank is larger, too */
  g_array_append_val (self->plan->notes, *note);
  g_array_append_val (self->plan->texts, *text);
}

static void
plan_percentages (Planner *self)
{
  for (guint i = 0; i < self->plan->marks->len; i++)
    {
      const MlPlanMark *mark = &g_array_index (self->plan->marks, MlPlanMark, i);
      MlNote note = { .reach = 12, .must = TRUE, .beside = TRUE, .close = TRUE };
      MlNoteText text;

      if (mark->verdict != ML_VERDICT_SUSPECT && mark->verdict != ML_VERDICT_POSSIBLE)
        continue;
      keep_part (self, &note, (int) mark->part);
      text = ml_note_of_part (self->scene, self->overlay->verdict, mark->part);
      add_note (self, &note, &text);
    }
}

/* A suspect that has no place on the picture must not go unseen: it is named below it. Where no picture is, nothing is missing. */
static void
plan_missing (Planner *self)
{
  const MlVerdict *verdict = self->overlay->verdict;
  const MlScene *scene = self->scene;
  GString *names = g_string_new (NULL);

  for (guint i = 0; scene->picture != NULL && scene->picture->picture >= 0 && verdict != NULL && i < verdict->n_parts && i < scene->board->n_parts; i++)
    if (verdict->parts[i].verdict == ML_VERDICT_SUSPECT && ml_scene_symbol (scene, (int) i) < 0)
      g_string_append_printf (names, "%s%s", names->len > 0 ? ", " : "", scene->board->parts[i].name);
  if (names->len > 0)
    {
      const MlBox *sheet = &scene->picture->sheet;
      MlNote note = { .keeps = { { sheet->x0, sheet->y1 - 0.1, sheet->x0 + 0.1, sheet->y1 } }, .n_keeps = 1, .reach = 3, .must = TRUE };
      g_autofree char *words = g_strdup_printf ("Not placed on this picture: %s (suspect)", names->str);
      MlNoteText text = ml_note_plain (words, TRUE, FALSE, 1.2);

      add_note (self, &note, &text);
    }
  g_string_free (names, TRUE);
}

static int
supply_net (const Planner *self, int condition, int supply)
{
  const MlBoard *board = self->scene->board;

  if (condition < 0 || condition >= (int) board->n_conditions || supply < 0 || supply >= (int) board->conditions[condition].n_supplies)
    return -1;
  return board->conditions[condition].supplies[supply].plus;
}

static void
plan_next (Planner *self)
{
  const MlNextReading *next = self->overlay->next;
  MlNote note = { .reach = 14, .must = TRUE };
  MlNoteText text;

  if (next == NULL)
    return;
  for (guint i = 0; i < self->plan->tips->len; i++)
    {
      const MlPlanTip *tip = &g_array_index (self->plan->tips, MlPlanTip, i);
      MlPoint at;

      if (!tip->taken && tip->red && ml_plan_probe_point (self->scene, &next->red, &next->black, &at) && at.x == tip->at.x && at.y == tip->at.y)
        {
          add_keep (&note, ml_mark_tip_box (tip->point, tip->angle));
          add_keep (&note, ml_box_of_points (tip->point, tip->point)); /* where the handle lies over a symbol that no line may cross */
        }
    }
  if (note.n_keeps == 0 && next->supply >= 0)
    keep_net (self, &note, supply_net (self, next->condition, next->supply));
  if (note.n_keeps == 0)
    keep_probe (self, &note, &next->red);
  text = ml_note_of_next (self->scene, self->overlay);
  add_note (self, &note, &text);
}

static void
tell_net (Planner *self, const MlReading *reading)
{
  if (reading->reads == ML_READS_VOLTS && reading->across < 0 && reading->black.net == self->scene->board->reference && reading->red.net >= 0
      && !reading->red.lead)
    self->told[reading->red.net] = TRUE;
}

static void
plan_readings (Planner *self)
{
  const MlJob *job = self->overlay->job;

  for (guint i = 0; job != NULL && i < job->n_readings; i++)
    {
      const MlReading *reading = &job->readings[i];
      MlNote note = { .reach = 14, .must = TRUE };
      MlNoteText text;

      if (!is_shown (self, reading))
        continue;
      if (reading->supply >= 0)
        keep_net (self, &note, supply_net (self, reading->condition, reading->supply));
      else if (reading->across >= 0)
        keep_part (self, &note, reading->across);
      else
        keep_probe (self, &note, &reading->red);
      tell_net (self, reading);
      text = ml_note_of_reading (self->scene, self->overlay, i);
      add_note (self, &note, &text);
      self->plan->legend |= ML_LEGEND_READING;
      if (self->overlay->show_expected)
        self->plan->legend |= ML_LEGEND_EXPECTED;
    }
}

static void
plan_observations (Planner *self)
{
  const MlOverlay *overlay = self->overlay;

  for (guint i = 0; overlay->job != NULL && i < overlay->job->n_observations; i++)
    {
      const MlObservation *seen = &overlay->job->observations[i];
      MlNote note = { .reach = 12, .must = TRUE };
      MlNoteText text;

      if (seen->unit != overlay->unit || seen->pass != overlay->pass || seen->condition != overlay->condition)
        continue;
      if (seen->part >= 0)
        keep_part (self, &note, seen->part);
      else
        keep_net (self, &note, supply_net (self, seen->condition, seen->supply));
      text = ml_note_plain (seen->what, TRUE, FALSE, 1.2);
      add_note (self, &note, &text);
      self->plan->legend |= ML_LEGEND_READING;
    }
}

#define NOTHING_V 5e-4 /* less than a meter shows in its usual ranges */

/* On a board without a supply that no volts are to be expected goes without saying, at every net. */
static gboolean
goes_without_saying (const Planner *self, double volts)
{
  const MlBoard *board = self->scene->board;
  const int condition = self->overlay->condition;

  return condition >= 0 && condition < (int) board->n_conditions && ml_condition_is_cold (&board->conditions[condition]) && fabs (volts) < NOTHING_V;
}

static void
plan_expected (Planner *self)
{
  const MlOperatingPoint *point = self->overlay->point;
  const MlBoard *board = self->scene->board;

  if (!self->overlay->show_expected || point == NULL || point->net_v == NULL)
    return;
  for (guint net = 0; net < board->n_nets; net++)
    {
      MlNote note = { .reach = 2.5 };
      g_autofree char *value = NULL;
      MlNoteText text;

      if (self->told[net] || (int) net == board->reference || !isfinite (point->net_v[net])
          || goes_without_saying (self, point->net_v[net]))
        continue;
      keep_net (self, &note, (int) net);
      value = ml_note_expected (point->net_v[net], ML_UNIT_VOLT);
      text = ml_note_plain (value, FALSE, TRUE, 1.0);
      add_note (self, &note, &text);
      self->plan->legend |= ML_LEGEND_EXPECTED;
    }
}

static void
plan_ribbon (MlPlan *plan, const MlScene *scene)
{
  plan->ribbon = (MlBox) { plan->extent.x0, plan->extent.y0 - 3, plan->extent.x1, plan->extent.y0 - 0.8 };
  plan->extent = ml_box_union (plan->extent, plan->ribbon);
}

static void
take_extent (Planner *self)
{
  MlPlan *plan = self->plan;

  plan->extent = ml_box_grown (self->scene->extent, 0.5);
  for (guint i = 0; i < plan->marks->len; i++)
    {
      const MlPlanMark *mark = &g_array_index (plan->marks, MlPlanMark, i);

      plan->extent = ml_box_union (plan->extent, ml_box_grown (ml_mark_extent (&mark->body, mark->verdict), 0.5));
    }
  for (guint i = 0; i < plan->tips->len; i++)
    {
      const MlPlanTip *tip = &g_array_index (plan->tips, MlPlanTip, i);

      plan->extent = ml_box_union (plan->extent, tip->taken ? ml_box_grown (ml_box_of_points (tip->point, tip->point), 1)
                                                            : ml_mark_tip_box (tip->point, tip->angle));
    }
  for (guint i = 0; i < plan->notes->len; i++)
    if (g_array_index (plan->notes, MlNote, i).placed)
      plan->extent = ml_box_union (plan->extent, g_array_index (plan->notes, MlNote, i).box);
}

/* Before the notes: a wire with current is drawn wider, and what stands beside it keeps off all of that. */
static void
plan_flow (Planner *self)
{
  const MlOverlay *overlay = self->overlay;

  if (!overlay->show_flow || overlay->point == NULL || overlay->point->pin_a == NULL || self->scene->picture != NULL)
    return;
  self->plan->flow = ml_flow_pieces (self->scene, overlay->point->pin_a);
  for (guint i = 0; i < self->plan->flow->len; i++)
    {
      const MlFlowPiece *piece = &g_array_index (self->plan->flow, MlFlowPiece, i);
      double width = ml_flow_width (piece->current_a);

      if (width > ML_WIRE_WIDTH)
        ml_field_add (self->field, ML_FIELD_WIRE, ml_box_grown (ml_box_of_points (piece->a, piece->b), width / 2));
    }
}

MlPlan *
ml_plan_new (const MlScene *scene, const MlOverlay *overlay, const MlPaintStyle *style)
{
  MlPlan *plan = g_new0 (MlPlan, 1);
  Planner self = { scene, overlay, style, plan, ml_field_new (scene), g_new0 (gboolean, scene->board->n_nets + 1) };

  plan->marks = g_array_new (FALSE, FALSE, sizeof (MlPlanMark));
  plan->tips = g_array_new (FALSE, FALSE, sizeof (MlPlanTip));
  plan->notes = g_array_new (FALSE, FALSE, sizeof (MlNote));
  plan->texts = g_array_new (FALSE, FALSE, sizeof (MlNoteText));
  plan_flow (&self);
  plan_marks (&self);
  plan_tips (&self);
  plan_percentages (&self);
  plan_missing (&self);
  plan_next (&self);
  plan_readings (&self);
  plan_observations (&self);
  plan_expected (&self);
  ml_notes_place (self.field, (MlNote *) plan->notes->data, plan->notes->len);
  take_extent (&self);
  if (overlay->ribbon != NULL)
    plan_ribbon (plan, scene);
  if (overlay->show_flow && overlay->point != NULL)
    plan->legend |= ML_LEGEND_FLOW;
  ml_field_free (self.field);
  g_free (self.told);
  return plan;
}

void
ml_plan_free (MlPlan *plan)
{
  for (guint i = 0; i < plan->texts->len; i++)
    ml_note_text_clear (&g_array_index (plan->texts, MlNoteText, i));
  g_array_unref (plan->marks);
  g_array_unref (plan->tips);
  g_array_unref (plan->notes);
  g_array_unref (plan->texts);
  g_clear_pointer (&plan->flow, g_array_unref);
  g_free (plan);
}
