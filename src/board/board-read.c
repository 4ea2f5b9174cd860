/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reading a board: statements by a table, in three rounds, so that a file may name things in any order. */
#include "board/assume.h"
#include "board/board-private.h"

#include <math.h>
#include <string.h>

typedef enum { ROUND_DATA, ROUND_CIRCUIT, ROUND_REST } Round;

typedef struct
{
  const char *word;
  Round round;
  void (*read) (MlBoardReader *reader, const MlStatement *statement);
  const char *form; /* what it looks like, for messages */
} Rule;

/* ---- saying what is wrong ---- */

char *
ml_meant (const MlNearest *nearest)
{
  return nearest->best != NULL ? g_strdup_printf ("; did you mean %s?", nearest->best) : g_strdup ("");
}

char *
ml_part_pin_words (const MlPart *part)
{
  GString *words = g_string_new (NULL);

  for (guint i = 0; i < part->n_pins && i < 12; i++) /* a message is no list of a connector's hundred pins */
    g_string_append_printf (words, "%s%s", i > 0 ? " " : "", part->pins[i].name);
  if (part->n_pins > 12)
    g_string_append (words, " …");
  return g_string_free (words, FALSE);
}

/* ---- names ---- */

int
ml_board_reader_net (MlBoardReader *reader, const char *name, gboolean make)
{
  gpointer found;
  MlNet net = { 0 };

  if (g_hash_table_lookup_extended (reader->net_index, name, NULL, &found))
    return GPOINTER_TO_INT (found);
  if (!make)
    return -1;
  net.name = g_strdup (name);
  g_array_append_val (reader->nets, net);
  g_hash_table_insert (reader->net_index, net.name, GINT_TO_POINTER (reader->nets->len - 1));
  return (int) reader->nets->len - 1;
}

int
ml_board_reader_part (MlBoardReader *reader, const char *name)
{
  gpointer found;

  return g_hash_table_lookup_extended (reader->part_index, name, NULL, &found) ? GPOINTER_TO_INT (found) : -1;
}

int
ml_board_reader_want_net (MlBoardReader *reader, const MlWord *word)
{
  MlNearest nearest;
  g_autofree char *meant = NULL;
  int net = ml_board_reader_net (reader, word->text, FALSE);

  if (net >= 0)
    return net;
  ml_nearest_start (&nearest, word->text);
  for (guint i = 0; !ml_diagnostics_is_full (reader->diagnostics) && i < reader->nets->len; i++)
    ml_nearest_offer (&nearest, g_array_index (reader->nets, MlNet, i).name);
  meant = ml_meant (&nearest);
  SAID_OF_VALUE (reader, word, "no pin is on a net '%s'%s", word->text, meant);
  return -1;
}

int
ml_board_reader_want_part (MlBoardReader *reader, const MlWord *word, const char *name)
{
  MlNearest nearest;
  g_autofree char *meant = NULL;
  int part = ml_board_reader_part (reader, name);

  if (part >= 0)
    return part;
  ml_nearest_start (&nearest, name);
  for (guint i = 0; !ml_diagnostics_is_full (reader->diagnostics) && i < reader->parts->len; i++)
    ml_nearest_offer (&nearest, g_array_index (reader->parts, MlPart, i).name);
  meant = ml_meant (&nearest);
  SAID_OF_VALUE (reader, word, "there is no part '%s'%s", name, meant);
  return -1;
}

gboolean
ml_board_reader_want_pin (MlBoardReader *reader, const MlWord *word, int *ret_part, int *ret_pin)
{
  const char *dot = strchr (word->text, '.');
  g_autofree char *name = NULL;
  g_autofree char *meant = NULL;
  g_autofree char *pins = NULL;
  const MlPart *part;
  MlNearest nearest;
  int index, pin;

  if (dot == NULL)
    {
      SAID (reader, word, "'%s' is not a pin: write PART.PIN, as in Q2.base", word->text);
      return FALSE;
    }
  name = g_strndup (word->text, (gsize) (dot - word->text));
  index = ml_board_reader_want_part (reader, word, name);
  if (index < 0)
    return FALSE;
  part = &g_array_index (reader->parts, MlPart, index);
  pin = ml_part_find_pin (part, dot + 1);
  if (pin >= 0)
    {
      *ret_part = index;
      *ret_pin = pin;
      return TRUE;
    }
  ml_nearest_start (&nearest, dot + 1);
  for (guint i = 0; !ml_diagnostics_is_full (reader->diagnostics) && i < part->n_pins; i++)
    ml_nearest_offer_whole (&nearest, part->pins[i].name);
  meant = ml_meant (&nearest);
  pins = ml_part_pin_words (part);
  SAID (reader, word, "%s has no pin '%s'; its pins are: %s%s", part->name, dot + 1, pins, meant);
  return FALSE;
}

/* ---- words of a statement ---- */

gboolean
ml_board_reader_name (MlBoardReader *reader, const MlStatement *statement, guint i, const char *what)
{
  const MlWord *word;
  const char *wrong;

  if (statement->n_words <= i || statement->words[i].key != NULL)
    {
      const MlWord *at = &statement->words[MIN (i, statement->n_words - 1)];
      SAID (reader, at, "the name of the %s is missing", what);
      return FALSE;
    }
  word = &statement->words[i];
  wrong = word->quoted ? "a name is never quoted" : ml_name_check (word->text);
  if (wrong != NULL)
    SAID (reader, word, "'%s' cannot be the name of a %s: %s", word->text, what, wrong);
  return wrong == NULL;
}

gboolean
ml_board_reader_quantity (MlBoardReader *reader, const MlWord *word, const char *text, MlUnit unit, MlQuantity *ret_quantity)
{
  gsize where = 0;
  MlQuantityStatus status = ml_quantity_parse (text, strlen (text), unit, ML_QUANTITY_PLAIN, ret_quantity, &where);

  if (status == ML_QUANTITY_OK)
    return TRUE;
  SAID_AT (reader, word->line, ml_word_column (word, text, where), "%s=%s: %s; expected a number%s%s such as %s", word->key, word->text,
           ml_quantity_status_text (status), *ml_quantity_unit_symbol (unit) != '\0' ? " in " : "", ml_quantity_unit_symbol (unit),
           ml_quantity_unit_examples (unit));
  return FALSE;
}

gboolean
ml_board_reader_number (MlBoardReader *reader, const MlWord *word, MlUnit unit, double *ret_value)
{
  MlQuantity quantity;

  if (!ml_board_reader_quantity (reader, word, word->text, unit, &quantity))
    return FALSE;
  *ret_value = quantity.value;
  return TRUE;
}

void
ml_board_reader_unknown_word (MlBoardReader *reader, const MlWord *word, const char *const *known)
{
  MlNearest nearest;
  g_autofree char *meant = NULL;
  g_autofree char *list = g_strjoinv (" ", (char **) known);
  const char *found = word->key != NULL ? word->key : word->text;

  ml_nearest_start (&nearest, found);
  for (guint i = 0; known[i] != NULL; i++)
    {
      g_autofree char *bare = g_strndup (known[i], strcspn (known[i], "="));
      ml_nearest_offer (&nearest, g_intern_string (bare));
    }
  meant = ml_meant (&nearest);
  SAID (reader, word, "'%s' is not expected here; expected: %s%s", found, list, meant);
}

/* ---- statements of the circuit ---- */

static void
read_version (MlBoardReader *reader, const MlStatement *statement)
{
  if (reader->past_first)
    SAID (reader, &statement->words[0], "the version of the language comes before everything else");
  else if (statement->n_words != 2 || strcmp (statement->words[1].text, "1") != 0)
    SAID (reader, &statement->words[statement->n_words - 1], "this program reads version 1 of the language: the line is `meterleaf 1`");
}

static void
read_board (MlBoardReader *reader, const MlStatement *statement)
{
  if (statement->n_words < 2 || statement->words[1].key != NULL)
    {
      SAID (reader, &statement->words[0], "the board's title is missing: board \"Title\"");
      return;
    }
  if (reader->board->title != NULL)
    SAID (reader, &statement->words[0], "the board has a title already");
  g_free (reader->board->title);
  reader->board->title = g_strdup (statement->words[1].text);
  for (guint i = 2; i < statement->n_words; i++)
    {
      const MlWord *word = &statement->words[i];

      if (word->key != NULL && strcmp (word->key, "revision") == 0)
        {
          g_free (reader->board->revision);
          reader->board->revision = g_strdup (word->text);
        }
      else if (word->key == NULL)
        {
          SAID (reader, word, "'%s' is not expected here: a title of several words is put in quotes", word->text);
          return;
        }
      else
        ml_board_reader_unknown_word (reader, word, (const char *[]) { "revision=", NULL });
    }
}

static void
read_reference (MlBoardReader *reader, const MlStatement *statement)
{
  if (!ml_board_reader_name (reader, statement, 1, "reference net"))
    return;
  if (reader->board->reference >= 0)
    SAID (reader, &statement->words[0], "the board has a reference already");
  if (statement->n_words > 2)
    SAID (reader, &statement->words[2], "one net is the reference; nothing follows its name");
  reader->board->reference = ml_board_reader_net (reader, statement->words[1].text, TRUE);
  reader->reference_line = statement->line;
}

static void
read_net (MlBoardReader *reader, const MlStatement *statement)
{
  MlNet *net;
  int index;

  if (!ml_board_reader_name (reader, statement, 1, "net"))
    return;
  index = ml_board_reader_net (reader, statement->words[1].text, TRUE); /* first: it may move the array */
  net = &g_array_index (reader->nets, MlNet, index);
  if (net->line > 0)
    SAID (reader, &statement->words[1], "net %s has a statement already, in line %u", net->name, net->line);
  net->line = statement->line + 1;
  for (guint i = 2; i < statement->n_words; i++)
    {
      const MlWord *word = &statement->words[i];

      if (word->key == NULL && word->quoted)
        {
          g_free (net->label);
          net->label = g_strdup (word->text);
        }
      else if (word->key == NULL && strcmp (word->text, "switching") == 0)
        net->switching = TRUE;
      else
        ml_board_reader_unknown_word (reader, word, (const char *[]) { "\"label\"", "switching", NULL });
    }
}

/* ---- the other statements ---- */

static gboolean
want_words (MlBoardReader *reader, const MlStatement *statement, guint n, const char *form)
{
  for (guint i = 1; i < statement->n_words; i++)
    if (statement->words[i].key != NULL)
      {
        SAID (reader, &statement->words[i], "no key=value is expected here; the form is: %s", form);
        return FALSE;
      }
  if (statement->n_words == n)
    return TRUE;
  SAID (reader, &statement->words[MIN (n, statement->n_words - 1)], "the form is: %s", form);
  return FALSE;
}

/* The position of a word in a list of choices, or -1 and said. */
static int
want_choice (MlBoardReader *reader, const MlWord *word, const char *const *choices)
{
  for (int i = 0; choices[i] != NULL; i++)
    if (strcmp (choices[i], word->text) == 0)
      return i;
  ml_board_reader_unknown_word (reader, word, choices);
  return -1;
}

static void
read_beep (MlBoardReader *reader, const MlStatement *statement)
{
  MlBeep beep = { .line = statement->line + 1 };
  int joined;

  if (!want_words (reader, statement, 4, "beep R4.2 Q2.base yes"))
    return;
  joined = want_choice (reader, &statement->words[3], (const char *[]) { "no", "yes", NULL });
  if (!ml_board_reader_want_pin (reader, &statement->words[1], &beep.part_a, &beep.pin_a)
      || !ml_board_reader_want_pin (reader, &statement->words[2], &beep.part_b, &beep.pin_b) || joined < 0)
    return;
  beep.joined = joined == 1;
  g_array_append_val (reader->beeps, beep);
}

static void
read_near (MlBoardReader *reader, const MlStatement *statement)
{
  MlNear near = { .line = statement->line + 1 };

  if (!want_words (reader, statement, 3, "near NETA NETB"))
    return;
  near.net_a = ml_board_reader_want_net (reader, &statement->words[1]);
  near.net_b = ml_board_reader_want_net (reader, &statement->words[2]);
  if (near.net_a >= 0 && near.net_b >= 0 && near.net_a != near.net_b)
    g_array_append_val (reader->nears, near);
  else if (near.net_a >= 0 && near.net_a == near.net_b)
    SAID (reader, &statement->words[2], "a net is no neighbour of itself");
}

static void
read_hazard (MlBoardReader *reader, const MlStatement *statement)
{
  MlHazard hazard = { .line = statement->line + 1 };

  if (!want_words (reader, statement, 3, "hazard mains|capacitor|lithium \"text\"")
      || want_choice (reader, &statement->words[1], (const char *[]) { "mains", "capacitor", "lithium", NULL }) < 0)
    return;
  hazard.what = g_strdup (statement->words[1].text);
  hazard.text = g_strdup (statement->words[2].text);
  g_array_append_val (reader->hazards, hazard);
}

static void
read_note (MlBoardReader *reader, const MlStatement *statement)
{
  if (want_words (reader, statement, 2, "note \"text\""))
    g_ptr_array_add (reader->notes, g_strdup (statement->words[1].text));
}

static void
read_prefer (MlBoardReader *reader, const MlStatement *statement)
{
  int net, high;

  if (!want_words (reader, statement, 3, "prefer NET high|low"))
    return;
  net = ml_board_reader_want_net (reader, &statement->words[1]);
  high = want_choice (reader, &statement->words[2], (const char *[]) { "low", "high", NULL });
  if (net < 0 || high < 0)
    return;
  if (g_array_index (reader->nets, MlNet, net).prefer != 0)
    SAID (reader, &statement->words[1], "which state of net %s is meant was said already", statement->words[1].text);
  else
    g_array_index (reader->nets, MlNet, net).prefer = high == 1 ? 1 : -1;
}

/* What is healthy, drawn wrongly or a slip of the drawing leaves the rest of 1 to the faults. */
static gboolean
leaves_faults (MlBoardReader *reader, const char *name, const char *value)
{
  double usual = ml_assume_usual ("prior.healthy") + ml_assume_usual ("prior.misfit") + ml_assume_usual ("prior.slips");

  if (!g_str_has_prefix (name, "prior."))
    return TRUE;
  reader->priors_added += g_ascii_strtod (value, NULL) - ml_assume_usual (name);
  return usual + reader->priors_added <= 0.99;
}

static void
say_unknown_assumption (MlBoardReader *reader, const MlWord *word, const char *wrong)
{
  g_autofree char *meant = NULL;
  MlNearest nearest;

  ml_nearest_start (&nearest, word->text);
  ml_assume_offer (&nearest);
  meant = ml_meant (&nearest);
  SAID (reader, word, "'%s': %s%s", word->text, wrong, meant);
}

/* The values are the verdict's business: here only whether there is such a thing to assume. */
static void
read_assume (MlBoardReader *reader, const MlStatement *statement)
{
  gboolean name_wrong;
  const char *wrong;

  if (!want_words (reader, statement, 3, "assume NAME VALUE"))
    return;
  wrong = ml_assume_check (statement->words[1].text, statement->words[2].text, &name_wrong);
  if (wrong && name_wrong)
    say_unknown_assumption (reader, &statement->words[1], wrong);
  else if (wrong)
    SAID (reader, &statement->words[2], "'%s': %s", statement->words[2].text, wrong);
  else if (!g_hash_table_add (reader->assumed, g_strdup (statement->words[1].text)))
    SAID (reader, &statement->words[1], "%s is assumed twice", statement->words[1].text);
  else if (!leaves_faults (reader, statement->words[1].text, statement->words[2].text))
    SAID (reader, &statement->words[2], "prior.healthy, prior.misfit and prior.slips leave nothing for the faults: together at most 0.99");
}

static gboolean
read_turn (MlBoardReader *reader, const MlWord *word, int *ret_turn)
{
  double degrees;

  if (!ml_board_reader_number (reader, word, ML_UNIT_NONE, &degrees))
    return FALSE;
  if (fabs (degrees) > 3600 || fmod (degrees, 90) != 0)
    {
      SAID (reader, word, "turn= takes 0, 90, 180 or 270 degrees");
      return FALSE;
    }
  *ret_turn = (((int) degrees / 90) % 4 + 4) % 4;
  return TRUE;
}

#define FARTHEST_PLACE 1e5 /* g */

const char *const ml_edge_names[] = { "right", "bottom", "left", "top", NULL };

static int
edge_of_key (const char *key)
{
  for (int i = 0; key != NULL && i < ML_N_EDGES; i++)
    if (strcmp (key, ml_edge_names[i]) == 0)
      return i;
  return -1;
}

/* "left=2,3": those pins, from the top or from the left. FALSE with what is wrong said. */
static gboolean
read_edge (MlBoardReader *reader, const MlWord *word, const MlPart *part, MlPinPlace *places)
{
  g_auto (GStrv) names = g_strsplit (word->text, ",", -1);

  for (guint i = 0; names[i] != NULL; i++)
    {
      int pin = ml_part_find_pin (part, names[i]);
      if (pin >= 0 && places[pin].edge < 0)
        places[pin] = (MlPinPlace){ edge_of_key (word->key), i, 0, 0 };
      else if (pin >= 0)
        {
          SAID (reader, word, "pin %s of %s is on an edge already", names[i], part->name);
          return FALSE;
        }
      else
        {
          SAID (reader, word, "%s has no pin '%s': %s= lists pins of its part statement, as in left=1,2", part->name, names[i], word->key);
          return FALSE;
        }
    }
  return TRUE;
}

/* "pin.OUT=20,8,left": that pin of a connector stands there, its wire leaves to the left. FALSE with what is wrong said. */
static gboolean
read_terminal (MlBoardReader *reader, const MlWord *word, const MlPart *part, MlPinPlace *places)
{
  int pin = ml_part_find_pin (part, word->key + strlen (ML_PIN_PREFIX));
  g_auto (GStrv) said = g_strsplit (word->text, ",", -1);
  MlPinPlace place = { -1, 0, 0, 0 };
  MlQuantity x, y;

  if (pin < 0)
    SAID (reader, word, "%s has no pin '%s'", part->name, word->key + strlen (ML_PIN_PREFIX));
  else if (places[pin].edge >= 0)
    SAID (reader, word, "pin %s of %s has its place already", part->pins[pin].name, part->name);
  else if (g_strv_length (said) != 3 || (place.edge = edge_of_key (said[2])) < 0)
    SAID (reader, word, "'%s': expected X,Y and where the wire leaves: right, bottom, left or top", word->text);
  else if (ml_board_reader_quantity (reader, word, said[0], ML_UNIT_NONE, &x) && ml_board_reader_quantity (reader, word, said[1], ML_UNIT_NONE, &y))
    {
      place.x = x.value;
      place.y = y.value;
      if (!(fabs (place.x) <= FARTHEST_PLACE && fabs (place.y) <= FARTHEST_PLACE))
        SAID (reader, word, "'%s': a place is in grid units, at most 100000 from the origin", word->text);
      else
        {
          places[pin] = place;
          return TRUE;
        }
    }
  return FALSE;
}

static gboolean
is_terminal_word (const MlWord *word)
{
  return word->key != NULL && g_str_has_prefix (word->key, ML_PIN_PREFIX);
}

/* Where the pins of a block stand on its box, those of a connector by themselves; NULL: nothing is said of them, or what is said is wrong (and
 * *ret_fine FALSE). */
static MlPinPlace *
read_pin_places (MlBoardReader *reader, const MlStatement *statement, const MlPart *part, gboolean *ret_fine)
{
  MlPinPlace *places = NULL;

  for (guint i = 2; i < statement->n_words; i++)
    {
      const MlWord *word = &statement->words[i];
      gboolean is_terminal = is_terminal_word (word);
      if (edge_of_key (word->key) < 0 && !is_terminal)
        continue;
      if (part->kind->kind != (is_terminal ? ML_KIND_CONNECTOR : ML_KIND_BLOCK))
        {
          SAID (reader, word, "%s is no %s: %s= is said of the pins of a %s only", part->name, is_terminal ? "connector" : "block", word->key,
                is_terminal ? "connector" : "block");
          *ret_fine = FALSE;
          break;
        }
      if (places == NULL)
        {
          places = g_new (MlPinPlace, part->n_pins + 1);
          for (guint k = 0; k < part->n_pins; k++)
            places[k] = (MlPinPlace){ -1, 0, 0, 0 };
        }
      *ret_fine = (is_terminal ? read_terminal : read_edge) (reader, word, part, places) && *ret_fine;
    }
  if (!*ret_fine)
    g_clear_pointer (&places, g_free);
  return places;
}

static void
read_place (MlBoardReader *reader, const MlStatement *statement)
{
  MlPlace place = { NAN, NAN, 0, FALSE };
  MlPinPlace *pin_places;
  gboolean fine = TRUE;
  int index;

  if (!ml_board_reader_name (reader, statement, 1, "part"))
    return;
  index = ml_board_reader_want_part (reader, &statement->words[1], statement->words[1].text);
  for (guint i = 2; i < statement->n_words; i++)
    {
      const MlWord *word = &statement->words[i];

      if (word->key == NULL && strcmp (word->text, "mirror") == 0)
        place.mirror = TRUE;
      else if (word->key != NULL && strcmp (word->key, "x") == 0)
        fine = ml_board_reader_number (reader, word, ML_UNIT_NONE, &place.x) && fine;
      else if (word->key != NULL && strcmp (word->key, "y") == 0)
        fine = ml_board_reader_number (reader, word, ML_UNIT_NONE, &place.y) && fine;
      else if (word->key != NULL && strcmp (word->key, "turn") == 0)
        fine = read_turn (reader, word, &place.turn) && fine;
      else if (edge_of_key (word->key) < 0 && !is_terminal_word (word))
        ml_board_reader_unknown_word (reader, word, (const char *[]) { "x=", "y=", "turn=", "mirror", "left=", "right=", "top=", "bottom=", "pin.NAME=", NULL });
    }
  if (!fine || index < 0)
    return;
  pin_places = read_pin_places (reader, statement, &g_array_index (reader->parts, MlPart, index), &fine);
  if (!fine)
    return;
  if (g_array_index (reader->parts, MlPart, index).placed)
    SAID (reader, &statement->words[1], "%s has its place already", statement->words[1].text);
  else if (!(fabs (place.x) <= FARTHEST_PLACE && fabs (place.y) <= FARTHEST_PLACE))
    SAID (reader, &statement->words[0], "a place needs x= and y= in grid units, at most 100000 from the origin");
  else
    {
      MlPart *part = &g_array_index (reader->parts, MlPart, index);
      part->placed = TRUE;
      part->place = place;
      part->pin_places = g_steal_pointer (&pin_places);
    }
  g_free (pin_places);
}

/* "12/mm" or a bare number: pixels per millimetre. */
static void
read_scale (MlBoardReader *reader, const MlWord *word, MlPicture *picture)
{
  g_autofree char *bare = g_strndup (word->text, strcspn (word->text, "/"));
  const char *unit = word->text + strlen (bare);
  MlQuantity quantity;

  if (!ml_board_reader_quantity (reader, word, bare, ML_UNIT_NONE, &quantity))
    return;
  if (!(quantity.value >= 1e-3 && quantity.value <= 1e5) || (*unit != '\0' && strcmp (unit, "/mm") != 0))
    SAID_OF_VALUE (reader, word, "scale=%s: expected pixels per millimetre, such as scale=12.5/mm", word->text);
  else
    picture->scale_px_per_mm = quantity.value;
}

static void
read_picture_turn (MlBoardReader *reader, const MlWord *word, MlPicture *picture)
{
  double turn_deg;

  if (!ml_board_reader_number (reader, word, ML_UNIT_NONE, &turn_deg))
    return;
  if (!(fabs (turn_deg) <= 360))
    SAID_OF_VALUE (reader, word, "turn=%s: expected degrees clockwise, -360 to 360", word->text);
  else
    picture->turn_deg = turn_deg;
}

static void
read_picture (MlBoardReader *reader, const MlStatement *statement)
{
  MlPicture picture = { .scale_px_per_mm = NAN, .line = statement->line + 1 };

  if (statement->n_words < 2 || statement->words[1].key != NULL)
    {
      SAID (reader, &statement->words[0], "the picture's file is missing: picture \"file\"");
      return;
    }
  picture.file = g_strdup (statement->words[1].text);
  for (guint i = 2; i < statement->n_words; i++)
    {
      const MlWord *word = &statement->words[i];
      const char *key = word->key != NULL ? word->key : word->text;

      if (word->key != NULL && strcmp (key, "side") == 0)
        picture.bottom = want_choice (reader, word, (const char *[]) { "top", "bottom", NULL }) == 1;
      else if (word->key != NULL && strcmp (key, "scale") == 0)
        read_scale (reader, word, &picture);
      else if (word->key != NULL && strcmp (key, "turn") == 0)
        read_picture_turn (reader, word, &picture);
      else if (word->key == NULL && strcmp (key, "mirror") == 0)
        picture.mirror = TRUE;
      else
        ml_board_reader_unknown_word (reader, word, (const char *[]) { "side=", "scale=", "turn=", "mirror", NULL });
    }
  reader->pads = g_array_new (FALSE, TRUE, sizeof (MlPad));
  g_hash_table_remove_all (reader->padded);
  g_array_append_val (reader->pictures, picture);
  g_ptr_array_add (reader->pad_lists, reader->pads);
}

static void
read_pad (MlBoardReader *reader, const MlStatement *statement)
{
  MlPad pad = { .part = -1, .pin = -1, .x_px = NAN, .y_px = NAN, .line = statement->line + 1 };
  gboolean fine = TRUE;

  if (statement->n_words < 2 || statement->words[1].key != NULL)
    {
      SAID (reader, &statement->words[0], "the form is: pad REF.PIN x= y=");
      return;
    }
  if (strchr (statement->words[1].text, '.') != NULL)
    fine = ml_board_reader_want_pin (reader, &statement->words[1], &pad.part, &pad.pin);
  else
    fine = (pad.part = ml_board_reader_want_part (reader, &statement->words[1], statement->words[1].text)) >= 0;
  for (guint i = 2; i < statement->n_words; i++)
    {
      const MlWord *word = &statement->words[i];

      if (word->key != NULL && strcmp (word->key, "x") == 0)
        fine = ml_board_reader_number (reader, word, ML_UNIT_NONE, &pad.x_px) && fine;
      else if (word->key != NULL && strcmp (word->key, "y") == 0)
        fine = ml_board_reader_number (reader, word, ML_UNIT_NONE, &pad.y_px) && fine;
      else
        ml_board_reader_unknown_word (reader, word, (const char *[]) { "x=", "y=", NULL });
    }
  if (!fine)
    return;
  if (!(fabs (pad.x_px) <= ML_PICTURE_MAX_PX && fabs (pad.y_px) <= ML_PICTURE_MAX_PX))
    SAID (reader, &statement->words[0], "a pad needs x= and y= in pixels of the picture, at most a million from its corner");
  else if (!g_hash_table_add (reader->padded, GINT_TO_POINTER (pad.part * ((int) ML_BOARD_MAX_PINS + 1) + pad.pin + 1)))
    SAID (reader, &statement->words[1], "%s has its place on this picture already", statement->words[1].text);
  else
    g_array_append_val (reader->pads, pad);
}

/* ---- the tables ---- */

static const Rule rules[] = {
  { "meterleaf", ROUND_DATA, read_version, "meterleaf 1" },
  { "datasheet", ROUND_DATA, ml_board_reader_datasheet, "datasheet NAME KIND key=value …" },
  { "board", ROUND_CIRCUIT, read_board, "board \"Title\"" },
  { "reference", ROUND_CIRCUIT, read_reference, "reference NET" },
  { "part", ROUND_CIRCUIT, ml_board_reader_part_statement, "part NAME KIND pin=net …" },
  { "net", ROUND_CIRCUIT, read_net, "net NAME" },
  { "beep", ROUND_REST, read_beep, "" },
  { "near", ROUND_REST, read_near, "" },
  { "hazard", ROUND_REST, read_hazard, "" },
  { "note", ROUND_REST, read_note, "" },
  { "prefer", ROUND_REST, read_prefer, "" },
  { "assume", ROUND_REST, read_assume, "" },
  { "place", ROUND_REST, read_place, "" },
  { "picture", ROUND_REST, read_picture, "" },
  { "condition", ROUND_REST, ml_board_reader_condition, "condition NAME" },
};

typedef struct
{
  const char *parent, *word;
  void (*read) (MlBoardReader *reader, const MlStatement *statement);
} SubRule;

static const SubRule sub_rules[] = {
  { "condition", "supply", ml_board_reader_supply },   { "condition", "load", ml_board_reader_load },
  { "condition", "set", ml_board_reader_set },         { "condition", "lift", ml_board_reader_lift },
  { "condition", "remove", ml_board_reader_remove },   { "condition", "connect", ml_board_reader_connect },
  { "picture", "pad", read_pad },
};

static const Rule *
find_rule (MlBoardReader *reader, const MlWord *word)
{
  MlNearest nearest;
  g_autofree char *meant = NULL;

  for (guint i = 0; word->key == NULL && !word->quoted && i < G_N_ELEMENTS (rules); i++)
    if (strcmp (rules[i].word, word->text) == 0)
      return &rules[i];
  if (reader->round != ROUND_DATA)
    return NULL;
  ml_nearest_start (&nearest, word->key != NULL ? word->key : word->text);
  for (guint i = 0; i < G_N_ELEMENTS (rules); i++)
    ml_nearest_offer (&nearest, rules[i].word);
  for (guint i = 0; nearest.best == NULL && i < G_N_ELEMENTS (sub_rules); i++)
    if (strcmp (sub_rules[i].word, word->text) == 0)
      {
        SAID (reader, word, "'%s' belongs indented below a %s", word->text, sub_rules[i].parent);
        return NULL;
      }
  meant = ml_meant (&nearest);
  SAID (reader, word, "a line cannot start with '%s'; expected board, reference, part, net, condition, …%s", word->key != NULL ? word->key : word->text,
        meant);
  return NULL;
}

static void
read_sub (MlBoardReader *reader, const MlStatement *statement, const char *parent)
{
  const MlWord *word = &statement->words[0];
  const char *known[G_N_ELEMENTS (sub_rules) + 1] = { NULL };
  guint n = 0;

  for (guint i = 0; i < G_N_ELEMENTS (sub_rules); i++)
    if (parent != NULL && strcmp (sub_rules[i].parent, parent) == 0)
      {
        if (word->key == NULL && strcmp (sub_rules[i].word, word->text) == 0)
          {
            if (reader->parent_fine)
              sub_rules[i].read (reader, statement);
            return;
          }
        known[n++] = sub_rules[i].word;
      }
  if (n > 0)
    ml_board_reader_unknown_word (reader, word, known);
  else
    SAID (reader, word, "an indented line belongs to the condition or picture above it%s%s", parent != NULL ? ", not to " : "; there is none",
          parent != NULL ? parent : "");
}

static void
read_round (MlBoardReader *reader, Round round)
{
  g_autoptr (MlScanner) scanner = ml_scanner_new (reader->text, round == ROUND_DATA ? reader->diagnostics : NULL);
  const MlStatement *statement;
  const Rule *rule = NULL;
  gboolean unknown = FALSE; /* what stood in column one was in error: nothing is said of what stands below it */

  reader->round = round;
  while ((statement = ml_scanner_next (scanner)) != NULL)
    {
      if (statement->n_words == 0 || statement->broken)
        {
          if (!statement->indented)
            {
              rule = NULL;
              unknown = TRUE;
              reader->parent_fine = FALSE;
            }
          continue;
        }
      if (statement->indented)
        {
          if (round == ROUND_REST && !unknown)
            read_sub (reader, statement, rule != NULL ? rule->word : NULL);
          continue;
        }
      rule = find_rule (reader, &statement->words[0]);
      unknown = rule == NULL;
      reader->parent_fine = FALSE;
      if (rule != NULL && rule->round == round)
        {
          reader->parent_fine = TRUE;
          rule->read (reader, statement);
        }
      reader->past_first = TRUE;
    }
}

MlBoard *
ml_board_read (MlText *text, MlDiagnostics *diagnostics)
{
  MlBoardReader reader = { 0 };
  MlBoard *board;

  ml_board_reader_start (&reader, text, diagnostics);
  for (Round round = ROUND_DATA; round <= ROUND_REST; round++)
    read_round (&reader, round);
  board = ml_board_reader_finish (&reader);
  if (diagnostics != NULL)
    ml_diagnostics_sort (diagnostics);
  return board;
}
