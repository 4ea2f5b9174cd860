/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Drawing a board: a part hangs at the pointer and is set, parts are moved, pins are joined.
 * Also the "pick a pin" state, which others ask for. */
#include <math.h>
#include <string.h>

#include "board/edit.h"
#include "desktop/canvas-private.h"

/* Pins of a new part whose kind leaves the number open. */
static guint
pins_of_new (const MlKindInfo *kind, gboolean polar)
{
  if (!kind->any_pins)
    return polar ? 2 : 0;
  return kind->kind == ML_KIND_TESTPOINT ? 1 : kind->kind == ML_KIND_CONNECTOR ? 2 : 4;
}

const MlPart *
ml_canvas_part (MlCanvas *self, int part)
{
  return &ml_document_board (self->document)->parts[part];
}

gboolean
ml_canvas_apply (MlCanvas *self, MlText *text, GError *error, const char *label)
{
  if (text)
    {
      ml_document_apply (self->document, text, NULL, label, NULL);
      ml_text_unref (text);
      return TRUE;
    }
  ml_canvas_fail_error (self, error);
  g_clear_error (&error);
  return FALSE;
}

static MlPlace *
places_of (MlCanvas *self)
{
  const MlScene *scene = ml_canvas_scene (self);
  MlPlace *places = g_new0 (MlPlace, scene->board->n_parts + 1);
  ml_layout_places (scene, places);
  return places;
}

MlPlace
ml_canvas_place_of (MlCanvas *self, int part)
{
  g_autofree MlPlace *places = places_of (self);
  return places[part];
}

/* The only coil of the board; -1: it has none or several. */
static int
only_coil (const MlBoard *board)
{
  int coil = -1;
  for (guint i = 0; i < board->n_parts; i++)
    if (board->parts[i].kind->kind == ML_KIND_COIL)
      {
        if (coil >= 0)
          return -1;
        coil = (int) i;
      }
  return coil;
}

/* The board's text with the part in hand on it, with what is printed on it, and under its coil if that is sure. *name NULL: the next free one. */
static MlText *
text_with_hand (const MlBoard *board, const MlHand *hand, const MlPlace *place, char **name, GError **error)
{
  char *taken = NULL;
  g_autoptr (MlText) text = ml_board_edit_add_part (board, hand->kind, *name, pins_of_new (hand->kind, hand->polar), place, &taken, error);
  int coil = hand->kind->kind == ML_KIND_CONTACT ? only_coil (board) : -1;
  g_free (*name);
  *name = taken;
  if (!text || (!hand->number && coil < 0))
    return g_steal_pointer (&text);
  g_autoptr (MlBoard) with = ml_board_read (text, NULL);
  int part = ml_board_find_part (with, taken);
  return hand->number ? ml_board_edit_set_value (with, part, hand->number, error) : ml_board_edit_set_key (with, part, "by", board->parts[coil].name, error);
}

/* The part alone, with the place given, under the name that it will have on the board. */
static MlScene *
scene_of_hand (MlCanvas *self, const MlHand *hand, const MlPlace *place)
{
  g_autoptr (MlText) empty = ml_text_new ("", "meterleaf 1\n", -1);
  g_autoptr (MlBoard) nothing = ml_board_read (empty, NULL);
  g_autofree char *name = NULL;
  G_GNUC_UNUSED g_autoptr (MlText) on_board = text_with_hand (ml_document_board (self->document), hand, place, &name, NULL); /* for the name */
  g_autoptr (MlText) text = text_with_hand (nothing, hand, place, &name, NULL);
  if (!text)
    return NULL;
  g_autoptr (MlBoard) board = ml_board_read (text, NULL);
  MlLayoutOptions options = { .effort = 0 };
  return ml_layout (board, &options, NULL, NULL);
}

/* ---- stopping ---- */

static void
drop_hand (MlHand *hand)
{
  g_clear_pointer (&hand->scene, ml_scene_unref);
  g_clear_pointer (&hand->number, g_free);
  hand->kind = NULL;
}

void
ml_canvas_draw_stop (MlCanvas *self)
{
  MlDoing doing = self->doing;
  if (doing == ML_DOING_PICK)
    return;
  ml_canvas_pin_stop (self);
  self->doing = ML_DOING_NOTHING;
  self->dragged_join = FALSE;
  self->join_part = self->join_pin = -1;
  drop_hand (&self->hand);
  if (doing == ML_DOING_MOVE && self->view == ML_CANVAS_CIRCUIT)
    ml_document_cancel_place (self->document);
  ml_canvas_update_hint (self);
  gtk_widget_queue_draw (GTK_WIDGET (self));
}

/* ---- picking a pin for someone ---- */

void
ml_canvas_end_pick (MlCanvas *self, const MlHit *picked)
{
  MlPick pick = self->pick;
  if (!pick.func)
    return;
  self->pick = (MlPick){ 0 };
  self->doing = ML_DOING_NOTHING;
  pick.func (self, picked, pick.data);
  if (pick.destroy)
    pick.destroy (pick.data);
  g_free (pick.prompt);
  ml_canvas_update_hint (self);
}

void
ml_canvas_pick (MlCanvas *self, const char *prompt, MlCanvasPickFunc func, gpointer data, GDestroyNotify destroy)
{
  if (self->partner && !gtk_widget_get_mapped (GTK_WIDGET (self)) && gtk_widget_get_mapped (GTK_WIDGET (self->partner)))
    {
      ml_canvas_pick (self->partner, prompt, func, data, destroy);
      return;
    }
  ml_canvas_take_panels (self);
  ml_canvas_end_pick (self, NULL);
  ml_canvas_draw_stop (self);
  self->pick = (MlPick){ func, data, destroy, g_strdup (prompt) };
  self->doing = ML_DOING_PICK;
  ml_canvas_release (self); /* every pin that may be meant is in sight */
  gtk_widget_grab_focus (GTK_WIDGET (self));
  ml_canvas_update_hint (self);
}

void
ml_canvas_stop_pick (MlCanvas *self)
{
  ml_canvas_end_pick (self, NULL);
  if (self->partner)
    ml_canvas_end_pick (self->partner, NULL);
}

gboolean
ml_canvas_picks (MlCanvas *self)
{
  return self->doing == ML_DOING_PICK;
}

gboolean
ml_canvas_holds_part (MlCanvas *self)
{
  return self->doing == ML_DOING_ADD;
}

static void
pick_click (MlCanvas *self, const MlHit *hit)
{
  MlHit picked = *hit;
  if (hit->kind == ML_HIT_PIN)
    picked.net = ml_canvas_part (self, hit->part)->pins[hit->pin].net;
  if (hit->kind == ML_HIT_PIN || hit->kind == ML_HIT_WIRE || hit->kind == ML_HIT_FLAG)
    ml_canvas_end_pick (self, &picked);
  else
    ml_canvas_fail (self, "Click a pin or a wire");
}

/* ---- adding ---- */

static void
make_hand_scene (MlCanvas *self)
{
  MlHand *hand = &self->hand;
  MlPlace place = { 0.0, 0.0, hand->turn, hand->mirror };
  g_clear_pointer (&hand->scene, ml_scene_unref);
  hand->scene = scene_of_hand (self, hand, &place);
}

void
ml_canvas_turn_hand (MlCanvas *self, int quarter_turns, gboolean flip)
{
  self->hand.turn = (self->hand.turn + quarter_turns) & 3;
  self->hand.mirror ^= flip;
  make_hand_scene (self);
  gtk_widget_queue_draw (GTK_WIDGET (self));
}

static void
take_in_hand (MlCanvas *self, const MlKindInfo *kind, gboolean polar, const char *number)
{
  if (self->mode != ML_CANVAS_DRAW)
    ml_canvas_set_mode (self, ML_CANVAS_DRAW);
  ml_canvas_take_panels (self);
  ml_canvas_end_pick (self, NULL);
  ml_canvas_draw_stop (self);
  self->hand = (MlHand){ .kind = kind, .polar = polar, .number = g_strdup (number) };
  make_hand_scene (self);
  self->doing = ML_DOING_ADD;
  ml_canvas_hand_begin (self);
  gtk_widget_grab_focus (GTK_WIDGET (self));
  ml_canvas_update_hint (self);
  gtk_widget_queue_draw (GTK_WIDGET (self));
}

void
ml_canvas_add_part (MlCanvas *self, const MlKindInfo *kind, const char *number)
{
  take_in_hand (self, kind, FALSE, number);
}

void
ml_canvas_add_electrolytic (MlCanvas *self)
{
  take_in_hand (self, ml_kind_info (ML_KIND_CAPACITOR), TRUE, NULL);
}

MlPlace
ml_canvas_hand_place (MlCanvas *self)
{
  MlPoint at = ml_viewport_to_sheet (&self->viewport, self->pointer.x, self->pointer.y);
  MlPoint middle = { 0, 0 };
  if (self->hand.scene && self->hand.scene->n_symbols > 0)
    {
      MlBox body = self->hand.scene->symbols[0].body;
      middle = (MlPoint){ (body.x0 + body.x1) / 2.0, (body.y0 + body.y1) / 2.0 };
    }
  return (MlPlace){ round (at.x - middle.x), round (at.y - middle.y), self->hand.turn, self->hand.mirror };
}

static gboolean
meet (const MlBox *a, const MlBox *b)
{
  return a->x0 < b->x1 && b->x0 < a->x1 && a->y0 < b->y1 && b->y0 < a->y1;
}

#define PINS_BEYOND_G 2.0 /* a pin ends that far from its part's body at most */

/* Whether the part in hand may lie on another one there, or on its pins. */
static gboolean
may_meet (MlCanvas *self, const MlPlace *place)
{
  const MlScene *scene = ml_canvas_scene (self);
  const MlBox hand = self->hand.scene ? self->hand.scene->extent : (MlBox){ 0, 0, 0, 0 };
  const MlBox own = { hand.x0 + place->x - PINS_BEYOND_G, hand.y0 + place->y - PINS_BEYOND_G, hand.x1 + place->x + PINS_BEYOND_G,
                      hand.y1 + place->y + PINS_BEYOND_G };
  for (guint i = 0; i < scene->n_symbols; i++)
    if (meet (&own, &scene->symbols[i].body))
      return TRUE;
  return FALSE;
}

/* As where a part is dropped: beside what stands there already, never on top of it, where its pins could not be joined. */
static MlText *
text_beside_others (MlCanvas *self, MlPlace *place, char **name, GError **error)
{
  MlBoard *before = ml_document_board (self->document);
  g_autoptr (MlText) text = text_with_hand (before, &self->hand, place, name, error);
  if (!text || !may_meet (self, place))
    return g_steal_pointer (&text);
  g_autoptr (MlBoard) board = ml_board_read (text, NULL);
  MlLayoutOptions options = { .effort = 0, .previous = ml_canvas_scene (self) };
  g_autoptr (MlScene) scene = ml_layout (board, &options, NULL, NULL);
  if (!ml_layout_settle (scene, ml_board_find_part (board, *name), place))
    return g_steal_pointer (&text);
  return text_with_hand (before, &self->hand, place, name, error);
}

void
ml_canvas_hand_set (MlCanvas *self, gboolean more)
{
  MlPlace place = ml_canvas_hand_place (self);
  g_autofree char *name = NULL;
  GError *error = NULL;
  MlText *text = text_beside_others (self, &place, &name, &error);
  g_autofree char *label = g_strdup_printf ("Add %s", name ? name : self->hand.kind->word);
  if (!ml_canvas_apply (self, text, error, label))
    return;
  ml_canvas_select_and_focus (self, ml_board_find_part (ml_document_board (self->document), name), -1);
  if (more)
    make_hand_scene (self);
  else
    ml_canvas_draw_stop (self);
}

/* ---- joining ---- */

static void
begin_join (MlCanvas *self, int part, int pin)
{
  ml_canvas_select_and_focus (self, part, pin);
  self->doing = ML_DOING_JOIN;
  self->join_part = part;
  self->join_pin = pin;
  ml_canvas_update_hint (self);
  gtk_widget_queue_draw (GTK_WIDGET (self));
}

/* The job's readings follow a net whose name goes when two nets become one. */
static MlText *
job_after_join (MlJob *job, const MlBoard *before, const MlBoard *after, int part, int pin, int old_net)
{
  int net = after->parts[part].pins[pin].net;
  if (old_net < 0 || net < 0 || ml_board_find_net (after, before->nets[old_net].name) >= 0)
    return NULL;
  return ml_job_edit_rename (job, "net", before->nets[old_net].name, after->nets[net].name, NULL);
}

static void
join (MlCanvas *self, int part_a, int pin_a, int part_b, int pin_b)
{
  MlBoard *board = ml_document_board (self->document);
  int net_a = board->parts[part_a].pins[pin_a].net, net_b = board->parts[part_b].pins[pin_b].net;
  g_autofree char *label = g_strdup_printf ("Join %s.%s and %s.%s", board->parts[part_a].name, board->parts[part_a].pins[pin_a].name,
                                            board->parts[part_b].name, board->parts[part_b].pins[pin_b].name);
  ml_canvas_draw_stop (self);
  if ((part_a == part_b && pin_a == pin_b) || (net_a >= 0 && net_a == net_b))
    return; /* joined already */
  g_autoptr (GError) error = NULL;
  g_autoptr (MlText) text = ml_board_edit_join_pins (board, part_a, pin_a, part_b, pin_b, &error);
  if (!text)
    {
      ml_canvas_fail_error (self, error);
      return;
    }
  g_autoptr (MlBoard) after = ml_board_read (text, NULL);
  MlText *job_text = job_after_join (ml_document_job (self->document), board, after, part_a, pin_a, net_a);
  if (!job_text)
    job_text = job_after_join (ml_document_job (self->document), board, after, part_b, pin_b, net_b);
  ml_document_apply (self->document, text, job_text, label, NULL);
  g_clear_pointer (&job_text, ml_text_unref);
  ml_canvas_reveal_net (self, ml_document_board (self->document)->parts[part_a].pins[pin_a].net);
}

static void
join_with (MlCanvas *self, const MlHit *hit, MlPoint at_px)
{
  int part = self->join_part, pin = self->join_pin, other_part = -1, other_pin = -1;
  MlPoint at = ml_viewport_to_sheet (&self->viewport, at_px.x, at_px.y);
  if (hit->kind == ML_HIT_PIN)
    join (self, part, pin, hit->part, hit->pin);
  else if ((hit->kind == ML_HIT_WIRE || hit->kind == ML_HIT_FLAG) && ml_canvas_nearest_pin (self, hit->net, at, &other_part, &other_pin))
    join (self, part, pin, other_part, other_pin);
  else
    ml_canvas_draw_stop (self);
}

/* ---- clicks and drags ---- */

static void
select_hit (MlCanvas *self, const MlHit *hit)
{
  int part = -1, pin = -1;
  MlPoint at = ml_viewport_to_sheet (&self->viewport, self->pointer.x, self->pointer.y);
  if (hit->kind == ML_HIT_PART)
    part = hit->part;
  else if (hit->kind == ML_HIT_WIRE || hit->kind == ML_HIT_FLAG)
    ml_canvas_nearest_pin (self, hit->net, at, &part, &pin);
  ml_canvas_select_and_focus (self, part, pin);
}

void
ml_canvas_draw_click (MlCanvas *self, const MlHit *hit, gboolean more)
{
  if (self->doing != ML_DOING_PICK)
    ml_viewport_hold (&self->viewport); /* what is being drawn must not move under the hand */
  self->click_used = self->doing != ML_DOING_NOTHING;
  switch (self->doing)
    {
    case ML_DOING_PICK: pick_click (self, hit); break;
    case ML_DOING_ADD: ml_canvas_hand_set (self, more); break;
    case ML_DOING_JOIN: join_with (self, hit, self->pointer); break;
    case ML_DOING_NOTHING:
    case ML_DOING_PAN:
    case ML_DOING_MOVE:
    case ML_DOING_SCALE:
    default:
      if (hit->kind == ML_HIT_PIN)
        begin_join (self, hit->part, hit->pin);
      else
        select_hit (self, hit);
      break;
    }
}

void
ml_canvas_draw_double_click (MlCanvas *self, const MlHit *hit)
{
  ml_canvas_draw_stop (self);
  if (hit->kind == ML_HIT_NOTHING)
    return;
  if (hit->kind == ML_HIT_WIRE || hit->kind == ML_HIT_FLAG)
    ml_canvas_rename_net (self, hit->net);
  else
    {
      ml_canvas_select_and_focus (self, hit->part, hit->kind == ML_HIT_PIN ? hit->pin : -1);
      ml_canvas_rename (self);
    }
}

void
ml_canvas_draw_drag_begin (MlCanvas *self)
{
  MlHit hit = self->pressed;
  ml_canvas_draw_stop (self);
  if (hit.kind == ML_HIT_PIN)
    {
      begin_join (self, hit.part, hit.pin);
      self->dragged_join = TRUE;
      return;
    }
  ml_canvas_select_and_focus (self, hit.part, -1);
  ml_viewport_hold (&self->viewport);
  self->doing = ML_DOING_MOVE;
  self->edge_panned = (MlPoint){ 0, 0 };
  self->place_before = self->place_now = ml_canvas_place_of (self, hit.part);
}

void
ml_canvas_draw_drag_update (MlCanvas *self, MlPoint from_px, MlPoint to_px)
{
  self->pointer = to_px;
  self->drag_from = from_px;
  if (self->dragged_join)
    {
      self->hover = ml_canvas_hit (self, to_px.x, to_px.y);
      gtk_widget_queue_draw (GTK_WIDGET (self));
      return;
    }
  MlPlace place = self->place_before;
  place.x += round ((to_px.x - from_px.x + self->edge_panned.x) / self->viewport.zoom);
  place.y += round ((to_px.y - from_px.y + self->edge_panned.y) / self->viewport.zoom);
  if (place.x == self->place_now.x && place.y == self->place_now.y)
    return;
  self->place_now = place;
  ml_document_preview_place (self->document, self->pressed.part, &place);
}

void
ml_canvas_draw_drag_end (MlCanvas *self)
{
  if (self->dragged_join)
    {
      MlHit hit = ml_canvas_hit (self, self->pointer.x, self->pointer.y);
      self->dragged_join = FALSE;
      join_with (self, &hit, self->pointer);
      return;
    }
  gboolean moved = self->place_now.x != self->place_before.x || self->place_now.y != self->place_before.y;
  self->doing = ML_DOING_NOTHING; /* before the document tells: what it tells would stop the move */
  if (moved)
    ml_document_drop_place (self->document, self->pressed.part, &self->place_now, "Move");
  else
    ml_document_cancel_place (self->document);
}

/* ---- painting what is under way ---- */

static void
paint_hand (MlCanvas *self, cairo_t *cr)
{
  MlPlace place = ml_canvas_hand_place (self);
  MlPaintStyle style = { .paper = self->paper, .scale = self->viewport.zoom };
  cairo_translate (cr, place.x, place.y);
  cairo_push_group (cr);
  ml_paint_scene (cr, self->hand.scene, &style);
  cairo_pop_group_to_source (cr);
  cairo_paint_with_alpha (cr, 0.7);
}

static void
paint_join (MlCanvas *self, cairo_t *cr)
{
  const MlColour *colour = &ml_palette (self->paper)->selection;
  MlBox pin = ml_canvas_place_box (self, self->join_part, self->join_pin);
  MlPoint to = ml_viewport_to_sheet (&self->viewport, self->pointer.x, self->pointer.y);
  int part, other;
  ml_document_selected (self->document, &part, &other);
  if (part >= 0 && (part != self->join_part || other != self->join_pin)) /* the keyboard has walked on */
    {
      MlBox box = ml_canvas_place_box (self, part, other);
      to = (MlPoint){ (box.x0 + box.x1) / 2.0, (box.y0 + box.y1) / 2.0 };
    }
  double dashes[] = { 0.5, 0.35 };
  cairo_set_source_rgb (cr, colour->r, colour->g, colour->b);
  cairo_set_line_width (cr, 0.2);
  cairo_set_dash (cr, dashes, 2, 0.0);
  cairo_move_to (cr, (pin.x0 + pin.x1) / 2.0, (pin.y0 + pin.y1) / 2.0);
  cairo_line_to (cr, to.x, to.y);
  cairo_stroke (cr);
}

void
ml_canvas_draw_paint (MlCanvas *self, cairo_t *cr)
{
  cairo_save (cr);
  if (self->doing == ML_DOING_ADD && self->hand.scene && self->pointer_inside)
    paint_hand (self, cr);
  else if (self->doing == ML_DOING_JOIN)
    paint_join (self, cr);
  cairo_restore (cr);
}
