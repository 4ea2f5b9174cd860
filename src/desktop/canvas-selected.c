/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is done to the selected part or pin: turned, mirrored, removed; values and names typed, which the job follows; more pins. */
#include <math.h>
#include <string.h>

#include "board/edit.h"
#include "board/scan.h"
#include "desktop/canvas-private.h"
#include "desktop/line-entry.h"
#include "desktop/removal.h"
#include "drawing/symbol-geometry.h"

/* ---- turning ---- */

/* The place with another orientation at which the middle of the body stays where it is, as far as the grid allows. */
static MlPlace
turned_about_middle (MlBox body, const MlPlace *place, int turn, gboolean mirror)
{
  MlPoint middle = { (body.x0 + body.x1) / 2.0, (body.y0 + body.y1) / 2.0 };
  MlPlace back = { 0, 0, (4 - place->turn) & 3, FALSE };
  MlPoint local = ml_place_point (&back, middle.x - place->x, middle.y - place->y);
  if (place->mirror)
    local.x = -local.x;
  MlPlace orientation = { 0, 0, turn & 3, mirror };
  MlPoint moved = ml_place_point (&orientation, local.x, local.y);
  return (MlPlace){ round (middle.x - moved.x), round (middle.y - moved.y), turn & 3, mirror };
}

gboolean
ml_canvas_selected_part (MlCanvas *self, int *ret_part, int *ret_pin)
{
  ml_document_selected (self->document, ret_part, ret_pin);
  if (*ret_part >= 0)
    return TRUE;
  ml_canvas_fail (self, "Select a part first");
  return FALSE;
}

static void
orient (MlCanvas *self, int quarter_turns, gboolean flip)
{
  if (self->view == ML_CANVAS_PICTURE)
    {
      ml_canvas_pin_orient (self, quarter_turns, flip);
      return;
    }
  if (self->doing == ML_DOING_ADD)
    {
      ml_canvas_turn_hand (self, quarter_turns, flip);
      return;
    }
  int part, pin;
  if (self->doing != ML_DOING_NOTHING || !ml_canvas_selected_part (self, &part, &pin))
    return;
  MlPlace place = ml_canvas_place_of (self, part);
  MlPlace turned
    = turned_about_middle (ml_canvas_place_box (self, part, -1), &place, place.turn + quarter_turns, flip ? !place.mirror : place.mirror);
  ml_document_drop_place (self->document, part, &turned, flip ? "Mirror" : "Turn");
}

void
ml_canvas_turn (MlCanvas *self)
{
  orient (self, 1, FALSE);
}

void
ml_canvas_mirror (MlCanvas *self)
{
  orient (self, 0, TRUE);
}

/* ---- removing ---- */

void
ml_canvas_remove (MlCanvas *self)
{
  int part, pin;
  if (self->view == ML_CANVAS_PICTURE)
    {
      ml_canvas_pin_remove (self);
      return;
    }
  if (!ml_canvas_selected_part (self, &part, &pin))
    return;
  const MlBoard *board = ml_document_board (self->document);
  const char *name = board->parts[part].name;
  GError *error = NULL;
  ml_canvas_draw_stop (self);
  gboolean open_pin = pin >= 0 && board->parts[part].pins[pin].net < 0 && board->parts[part].kind->any_pins;
  if (open_pin)
    {
      g_autofree char *step = g_strdup_printf ("Remove pin %s.%s", name, board->parts[part].pins[pin].name);
      MlText *without = ml_board_edit_remove_pin (board, part, pin, &error);
      if (without)
        ml_canvas_select_and_focus (self, part, -1);
      ml_canvas_apply (self, without, error, step);
      return;
    }
  g_autofree char *label
    = pin >= 0 ? g_strdup_printf ("Free %s.%s", name, board->parts[part].pins[pin].name) : g_strdup_printf ("Remove %s", name);
  MlText *text = pin >= 0 ? ml_board_edit_free_pin (board, part, pin, &error) : ml_board_edit_remove_part (board, part, &error);
  if (!text)
    {
      ml_canvas_apply (self, NULL, error, label);
      return;
    }
  g_autofree char *what = pin >= 0 ? g_strdup_printf ("the wire at %s.%s", name, board->parts[part].pins[pin].name) : g_strdup (name);
  ml_removal_offer_board (GTK_WIDGET (self), self->document, text, what, label);
}

/* ---- values and names ---- */

static gboolean
take_value (const char *text, gpointer data, GError **error)
{
  MlCanvas *self = data;
  const MlBoard *board = ml_document_board (self->document);
  g_autoptr (MlText) edited = ml_board_edit_set_value (board, self->asked_part, text, error);
  if (!edited)
    return FALSE;
  g_autofree char *label = g_strdup_printf ("%s: %s", board->parts[self->asked_part].name, text);
  ml_document_apply (self->document, edited, NULL, label, NULL);
  return TRUE;
}

/* The keys of its kind that a number alone does not tell: "headroom=… footroom=…"; NULL: there are none; new string. */
static char *
keys_by_name (const MlKindInfo *kind)
{
  static const MlKey common[] = { ML_KEY_TOLERANCE, ML_KEY_POWER, ML_KEY_CURRENT, ML_KEY_REVERSE, ML_KEY_PACKAGE };
  GString *words = g_string_new (NULL);
  for (guint i = 0; i < kind->n_keys; i++)
    {
      gboolean told = kind->keys[i].key == ml_kind_main_key (kind->kind) || kind->keys[i].shape == ML_KEY_IS_CHOICE;
      for (guint k = 0; k < G_N_ELEMENTS (common); k++)
        told |= kind->keys[i].key == common[k];
      if (!told)
        g_string_append_printf (words, "%s%s=…", words->len > 0 ? " " : "", kind->keys[i].word);
    }
  return g_string_free (words, words->len == 0);
}

/* What the value of that part is asked for with; new string. */
static char *
value_question (const MlPart *part)
{
  if (part->kind->kind == ML_KIND_CONTACT)
    return g_strdup_printf ("Which coil works %s, by its name", part->name);
  g_autofree char *keys = keys_by_name (part->kind);
  return g_strdup_printf ("What is printed on %s, or its value%s%s", part->name, keys ? ", also " : "", keys ? keys : "");
}

static char *
value_now (const MlPart *part)
{
  const MlAttribute *by = part->kind->kind == ML_KIND_CONTACT ? ml_part_attribute (part, ML_KEY_BY) : NULL;
  return by ? g_strdup (by->text) : ml_part_value_text (part);
}

static void
open_value (MlCanvas *self, const char *typed)
{
  int part, pin;
  if (!ml_canvas_selected_part (self, &part, &pin))
    return;
  ml_canvas_draw_stop (self);
  self->asked_part = part;
  g_autofree char *now = value_now (ml_canvas_part (self, part));
  g_autofree char *title = value_question (ml_canvas_part (self, part));
  ml_canvas_show_panel (self, self->line_entry, ml_canvas_place_box (self, part, -1));
  ml_line_entry_open (ML_LINE_ENTRY (self->line_entry), title, typed ? typed : now, typed == NULL, take_value, self);
}

void
ml_canvas_edit_value (MlCanvas *self)
{
  open_value (self, NULL);
}

void
ml_canvas_draw_typed (MlCanvas *self, const char *text)
{
  int part, pin;
  ml_document_selected (self->document, &part, &pin);
  if (part >= 0 && self->doing != ML_DOING_ADD && self->doing != ML_DOING_PICK)
    open_value (self, text);
}

/* Board and job change names together, as one step. */
static gboolean
apply_rename (MlCanvas *self, MlText *board_text, const char *what, const char *from, const char *to)
{
  g_autoptr (MlText) job_text = ml_job_edit_rename (ml_document_job (self->document), what, from, to, NULL);
  g_autofree char *label = g_strdup_printf ("Rename %s to %s", from, to);
  ml_document_apply (self->document, board_text, job_text, label, NULL);
  return TRUE;
}

static gboolean
take_part_name (const char *typed, gpointer data, GError **error)
{
  MlCanvas *self = data;
  g_autofree char *text = ml_name_typed (typed);
  const MlBoard *board = ml_document_board (self->document);
  g_autofree char *from = g_strdup (board->parts[self->asked_part].name);
  if (strcmp (from, text) == 0)
    return TRUE;
  g_autoptr (MlText) edited = ml_board_edit_rename_part (board, self->asked_part, text, error);
  return edited && apply_rename (self, edited, "part", from, text);
}

static gboolean
take_net_name (const char *typed, gpointer data, GError **error)
{
  MlCanvas *self = data;
  g_autofree char *text = ml_name_typed (typed);
  const MlBoard *board = ml_document_board (self->document);
  g_autofree char *from = g_strdup (board->nets[self->asked_net].name);
  if (strcmp (from, text) == 0)
    return TRUE;
  g_autoptr (MlText) edited = ml_board_edit_rename_net (board, self->asked_net, text, error);
  return edited && apply_rename (self, edited, "net", from, text);
}

void
ml_canvas_rename (MlCanvas *self)
{
  int part, pin;
  if (!ml_canvas_selected_part (self, &part, &pin))
    return;
  int net = pin >= 0 ? ml_canvas_part (self, part)->pins[pin].net : -1;
  if (net >= 0)
    {
      ml_canvas_rename_net (self, net);
      return;
    }
  self->asked_part = part;
  ml_canvas_show_panel (self, self->line_entry, ml_canvas_place_box (self, part, -1));
  ml_line_entry_open (ML_LINE_ENTRY (self->line_entry), "Name of the part", ml_canvas_part (self, part)->name, TRUE, take_part_name, self);
}

void
ml_canvas_rename_net (MlCanvas *self, int net)
{
  const MlBoard *board = ml_document_board (self->document);
  if (net < 0 || (guint) net >= board->n_nets)
    {
      ml_canvas_fail (self, "This pin is joined to nothing yet; join it, then name the net");
      return;
    }
  int part = -1, pin = -1;
  MlPoint at = ml_viewport_to_sheet (&self->viewport, self->pointer.x, self->pointer.y);
  ml_canvas_nearest_pin (self, net, at, &part, &pin);
  self->asked_net = net;
  ml_canvas_show_panel (self, self->line_entry, ml_canvas_place_box (self, part, pin));
  ml_line_entry_open (ML_LINE_ENTRY (self->line_entry), "Name of the net", board->nets[net].name, TRUE, take_net_name, self);
}

static gboolean
take_pin_name (const char *typed, gpointer data, GError **error)
{
  MlCanvas *self = data;
  g_autofree char *text = ml_name_typed (typed);
  const MlBoard *board = ml_document_board (self->document);
  const MlPart *part = &board->parts[self->asked_part];
  if (self->asked_pin < 0 || (guint) self->asked_pin >= part->n_pins || strcmp (part->pins[self->asked_pin].name, text) == 0)
    return TRUE;
  g_autofree char *part_name = g_strdup (part->name), *from = g_strdup (part->pins[self->asked_pin].name);
  g_autoptr (MlText) edited = ml_board_edit_rename_pin (board, self->asked_part, self->asked_pin, text, error);
  if (!edited)
    return FALSE;
  g_autoptr (MlText) job_text = ml_job_edit_rename_pin (ml_document_job (self->document), part_name, from, text, NULL);
  g_autofree char *label = g_strdup_printf ("Rename pin %s.%s to %s", part_name, from, text);
  ml_document_apply (self->document, edited, job_text, label, NULL);
  return TRUE;
}

void
ml_canvas_rename_pin (MlCanvas *self)
{
  int part, pin;
  ml_document_selected (self->document, &part, &pin);
  if (part < 0 || pin < 0)
    {
      ml_canvas_fail (self, "Select a pin first");
      return;
    }
  if (!ml_canvas_part (self, part)->kind->any_pins)
    {
      ml_canvas_fail (self, "The pins of %s have fixed names", ml_kind_called (ml_canvas_part (self, part)->kind));
      return;
    }
  ml_canvas_draw_stop (self);
  self->asked_part = part;
  self->asked_pin = pin;
  ml_canvas_show_panel (self, self->line_entry, ml_canvas_place_box (self, part, pin));
  ml_line_entry_open (ML_LINE_ENTRY (self->line_entry), "Name of the pin", ml_canvas_part (self, part)->pins[pin].name, TRUE, take_pin_name, self);
}

/* ---- polarity ---- */

/* The place at which the symbol turned end for end has each leg where the other one was. */
static MlPlace
end_for_end (MlBox body, const MlPlace *place)
{
  return turned_about_middle (body, place, place->turn + 2, place->mirror);
}

/* A capacitor placed by hand whose second leg becomes plus is turned round, so that each leg stays on its wire. */
static MlText *
keep_legs (MlCanvas *self, MlText *text, int part, GError **error)
{
  g_autoptr (MlBoard) board = ml_board_read (text, NULL);
  MlPlace now = ml_canvas_place_of (self, part), turned = end_for_end (ml_canvas_place_box (self, part, -1), &now);
  return ml_board_edit_place (board, &part, &turned, 1, error);
}

int
ml_canvas_plus_pin (const MlPart *part)
{
  return part->kind->pins_also && part->n_pins > 0 && strcmp (part->pins[0].name, part->kind->pins_also[0]) == 0 ? 0 : -1;
}

void
ml_canvas_set_polarity (MlCanvas *self, int plus_pin)
{
  int part, pin;
  if (!ml_canvas_selected_part (self, &part, &pin) || ml_canvas_plus_pin (ml_canvas_part (self, part)) == plus_pin)
    return;
  const MlBoard *board = ml_document_board (self->document);
  GError *error = NULL;
  ml_canvas_draw_stop (self);
  g_autofree char *label = g_strdup_printf ("Polarity of %s", board->parts[part].name);
  MlText *text = ml_board_edit_set_polarity (board, part, plus_pin, &error);
  if (text && plus_pin == 1 && board->parts[part].placed)
    {
      g_autoptr (MlText) named = text;
      text = keep_legs (self, named, part, &error);
    }
  if (!text)
    {
      ml_canvas_apply (self, NULL, error, label);
      return;
    }
  g_autoptr (MlText) board_text = text, job_text = ml_job_edit_set_polarity (ml_document_job (self->document), part, plus_pin);
  ml_document_apply (self->document, board_text, job_text, label, NULL);
  if (plus_pin == 1 && pin >= 0) /* the same leg, which is now the other one by number */
    ml_canvas_select_and_focus (self, part, 1 - pin);
}

/* ---- more pins ---- */

static char *
free_pin_name (const MlPart *part)
{
  for (guint i = part->n_pins + 1;; i++)
    {
      char *name = g_strdup_printf ("%u", i);
      if (ml_part_find_pin (part, name) < 0)
        return name;
      g_free (name);
    }
}

void
ml_canvas_add_pin (MlCanvas *self)
{
  int part, pin;
  if (!ml_canvas_selected_part (self, &part, &pin))
    return;
  if (!ml_canvas_part (self, part)->kind->any_pins)
    {
      ml_canvas_fail (self, "%s keeps its pins: only a block, a connector or a test point can have more", ml_canvas_part (self, part)->name);
      return;
    }
  GError *error = NULL;
  g_autofree char *name = free_pin_name (ml_canvas_part (self, part));
  g_autofree char *label = g_strdup_printf ("Add pin %s.%s", ml_canvas_part (self, part)->name, name);
  MlText *text = ml_board_edit_add_pin (ml_document_board (self->document), part, name, &error);
  ml_canvas_apply (self, text, error, label);
}
