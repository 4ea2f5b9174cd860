/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "board/board-private.h"

#include <gio/gio.h>
#include <string.h>

#include "meterleaf-data.h"

typedef struct
{
  MlBoard board; /* first: the public part */
  gatomicrefcount references;
  GHashTable *nets, *parts, *conditions; /* name -> index, names borrowed from the arrays */
} Owned;

/* ---- freeing ---- */

void
ml_attributes_free (MlAttribute *attributes, guint n)
{
  for (guint i = 0; i < n; i++)
    g_free (attributes[i].text);
  g_free (attributes);
}

void
ml_datasheet_free (MlDatasheet *datasheet)
{
  g_free (datasheet->name);
  ml_attributes_free (datasheet->attributes, datasheet->n_attributes);
  g_free (datasheet);
}

static void
free_part (MlPart *part)
{
  for (guint i = 0; i < part->n_pins; i++)
    g_free (part->pins[i].name);
  g_free (part->pins);
  g_free (part->pin_places);
  ml_attributes_free (part->attributes, part->n_attributes);
  g_free (part->name);
  g_free (part->datasheet);
  g_free (part->package);
}

static void
free_condition (MlCondition *condition)
{
  for (guint i = 0; i < condition->n_supplies; i++)
    g_free (condition->supplies[i].name);
  g_free (condition->supplies);
  g_free (condition->loads);
  g_free (condition->settings);
  g_free (condition->lifts);
  g_free (condition->removals);
  g_free (condition->connects);
  g_free (condition->name);
  g_free (condition->label);
}

static void
free_board (MlBoard *board)
{
  for (guint i = 0; i < board->n_nets; i++)
    {
      g_free (board->nets[i].name);
      g_free (board->nets[i].label);
      g_free (board->nets[i].words);
    }
  for (guint i = 0; i < board->n_parts; i++)
    free_part (&board->parts[i]);
  for (guint i = 0; i < board->n_conditions; i++)
    free_condition (&board->conditions[i]);
  for (guint i = 0; i < board->n_hazards; i++)
    {
      g_free (board->hazards[i].what);
      g_free (board->hazards[i].text);
    }
  for (guint i = 0; i < board->n_pictures; i++)
    {
      g_free (board->pictures[i].file);
      g_free (board->pictures[i].pads);
    }
  g_free (board->nets);
  g_free (board->parts);
  g_free (board->conditions);
  g_free (board->beeps);
  g_free (board->nears);
  g_free (board->hazards);
  g_free (board->pictures);
  g_strfreev (board->notes);
  g_free (board->title);
  g_free (board->revision);
  ml_text_unref (board->text);
  g_hash_table_unref (((Owned *) board)->nets);
  g_hash_table_unref (((Owned *) board)->parts);
  g_hash_table_unref (((Owned *) board)->conditions);
  g_free (board);
}

MlBoard *
ml_board_ref (MlBoard *board)
{
  g_atomic_ref_count_inc (&((Owned *) board)->references);
  return board;
}

void
ml_board_unref (MlBoard *board)
{
  if (board != NULL && g_atomic_ref_count_dec (&((Owned *) board)->references))
    free_board (board);
}

/* ---- building ---- */

void
ml_board_reader_start (MlBoardReader *reader, MlText *text, MlDiagnostics *diagnostics)
{
  Owned *owned = g_new0 (Owned, 1);

  g_atomic_ref_count_init (&owned->references);
  *reader = (MlBoardReader) { .text = text, .diagnostics = diagnostics, .board = &owned->board };
  reader->board->reference = -1;
  reader->board->text = ml_text_ref (text);
  reader->nets = g_array_new (FALSE, TRUE, sizeof (MlNet));
  reader->parts = g_array_new (FALSE, TRUE, sizeof (MlPart));
  reader->conditions = g_array_new (FALSE, TRUE, sizeof (MlCondition));
  reader->beeps = g_array_new (FALSE, TRUE, sizeof (MlBeep));
  reader->nears = g_array_new (FALSE, TRUE, sizeof (MlNear));
  reader->hazards = g_array_new (FALSE, TRUE, sizeof (MlHazard));
  reader->pictures = g_array_new (FALSE, TRUE, sizeof (MlPicture));
  reader->supplies = g_array_new (FALSE, TRUE, sizeof (MlSupply));
  reader->loads = g_array_new (FALSE, TRUE, sizeof (MlLoad));
  reader->settings = g_array_new (FALSE, TRUE, sizeof (MlSetting));
  reader->lifts = g_array_new (FALSE, TRUE, sizeof (MlLift));
  reader->removals = g_array_new (FALSE, TRUE, sizeof (MlRemoval));
  reader->connects = g_array_new (FALSE, TRUE, sizeof (MlConnect));
  reader->notes = g_ptr_array_new ();
  reader->pad_lists = g_ptr_array_new ();
  reader->net_index = g_hash_table_new (g_str_hash, g_str_equal);
  reader->part_index = g_hash_table_new (g_str_hash, g_str_equal);
  reader->condition_index = g_hash_table_new (g_str_hash, g_str_equal);
  reader->datasheet_index = g_hash_table_new (g_str_hash, g_str_equal);
  reader->assumed = g_hash_table_new_full (g_str_hash, g_str_equal, g_free, NULL);
  reader->set_parts = g_hash_table_new (NULL, NULL);
  reader->padded = g_hash_table_new (NULL, NULL);
  reader->datasheets = g_ptr_array_new_with_free_func ((GDestroyNotify) ml_datasheet_free);
}

static gpointer
take_all (GArray *array, guint *ret_n)
{
  gsize size = g_array_get_element_size (array) * array->len;
  gpointer copy = size > 0 ? g_memdup2 (array->data, size) : NULL;

  *ret_n = array->len;
  g_array_set_size (array, 0);
  return copy;
}

void
ml_board_reader_close_condition (MlBoardReader *reader)
{
  MlCondition *condition;

  if (reader->conditions->len == 0)
    return;
  condition = &g_array_index (reader->conditions, MlCondition, reader->conditions->len - 1);
  condition->supplies = take_all (reader->supplies, &condition->n_supplies);
  condition->loads = take_all (reader->loads, &condition->n_loads);
  condition->settings = take_all (reader->settings, &condition->n_settings);
  condition->lifts = take_all (reader->lifts, &condition->n_lifts);
  condition->removals = take_all (reader->removals, &condition->n_removals);
  condition->connects = take_all (reader->connects, &condition->n_connects);
  g_hash_table_remove_all (reader->set_parts);
}

/* N and digits, and nothing a person said about it. */
static gboolean
is_generated (const MlNet *net)
{
  const char *digits = net->name + 1;

  return net->name[0] == 'N' && *digits != '\0' && strspn (digits, "0123456789") == strlen (digits) && net->label == NULL;
}

/* The coils are what a contact can be worked by. */
static void
say_no_coil (MlBoardReader *reader, const MlAttribute *by, gboolean known)
{
  g_autofree char *meant = NULL;
  MlNearest nearest;

  ml_nearest_start (&nearest, by->text);
  for (guint i = 0; i < reader->parts->len && !ml_diagnostics_is_full (reader->diagnostics); i++)
    if (g_array_index (reader->parts, MlPart, i).kind->kind == ML_KIND_COIL)
      ml_nearest_offer (&nearest, g_array_index (reader->parts, MlPart, i).name);
  meant = ml_meant (&nearest);
  if (known)
    SAID_AT (reader, by->line - 1, by->column, "'%s' is not a coil%s", by->text, meant);
  else
    SAID_AT (reader, by->line - 1, by->column, "there is no part '%s'%s", by->text, meant);
}

static void
resolve_contact (MlBoardReader *reader, MlPart *part)
{
  const MlAttribute *by = ml_part_attribute (part, ML_KEY_BY);

  if (part->kind->kind != ML_KIND_CONTACT || by == NULL)
    return;
  part->by = ml_board_reader_part (reader, by->text);
  if (part->by >= 0 && g_array_index (reader->parts, MlPart, part->by).kind->kind == ML_KIND_COIL)
    return;
  say_no_coil (reader, by, part->by >= 0);
  part->by = -1;
}

/* A reference that no pin is on: a slip of the keyboard, or parts that are still to come. */
static void
warn_of_reference (MlBoardReader *reader)
{
  g_autofree char *meant = NULL;
  MlNearest nearest;
  gboolean any = FALSE;
  const char *name;

  if (reader->board->reference < 0 || reader->diagnostics == NULL)
    return;
  name = g_array_index (reader->nets, MlNet, reader->board->reference).name;
  for (guint i = 0; i < reader->parts->len; i++)
    for (guint k = 0; k < g_array_index (reader->parts, MlPart, i).n_pins; k++)
      {
        int net = g_array_index (reader->parts, MlPart, i).pins[k].net;
        any |= net >= 0;
        if (net == reader->board->reference)
          return;
      }
  ml_nearest_start (&nearest, name);
  for (guint i = 0; i < reader->nets->len; i++)
    if ((int) i != reader->board->reference)
      ml_nearest_offer (&nearest, g_array_index (reader->nets, MlNet, i).name);
  meant = ml_meant (&nearest);
  if (any)
    ml_diagnostics_add (reader->diagnostics, ml_text_name (reader->text), reader->reference_line + 1, 0, ML_SEVERITY_WARNING,
                        "no pin is on the reference '%s'%s", name, meant);
}

/* How well a pin tells where its net is: a plug's or test point's pin is found at once, a pin with a name sooner than one end of a resistor. */
static int
telling (const MlPart *part, const MlPin *pin)
{
  if (part->kind->kind == ML_KIND_CONNECTOR || part->kind->kind == ML_KIND_TESTPOINT)
    return 3;
  return g_ascii_isdigit (pin->name[0]) ? 1 : 2;
}

typedef struct { const MlPart *part; const MlPin *pin; } Place;

static void
prefer (Place *found, const MlPart *part, const MlPin *pin)
{
  if (found->pin == NULL || telling (part, pin) > telling (found->part, found->pin))
    *found = (Place) { part, pin };
}

static char *
place_words (const Place *place)
{
  return place->pin != NULL ? g_strdup_printf ("%s.%s", place->part->name, place->pin->name) : NULL;
}

char *
ml_board_telling_pin (const MlBoard *board, int net, const MlPin *but)
{
  Place found = { 0 };

  for (guint i = 0; i < board->n_parts; i++)
    for (guint k = 0; k < board->parts[i].n_pins; k++)
      if (board->parts[i].pins[k].net == net && &board->parts[i].pins[k] != but)
        prefer (&found, &board->parts[i], &board->parts[i].pins[k]);
  return place_words (&found);
}

/* All of them in one go: a board is read anew after every change. */
static void
put_nets_in_words (MlBoard *board)
{
  g_autofree Place *found = g_new0 (Place, board->n_nets + 1);

  for (guint i = 0; i < board->n_parts; i++)
    for (guint k = 0; k < board->parts[i].n_pins; k++)
      if (board->parts[i].pins[k].net >= 0)
        prefer (&found[board->parts[i].pins[k].net], &board->parts[i], &board->parts[i].pins[k]);
  for (guint i = 0; i < board->n_nets; i++)
    {
      char *pin = board->nets[i].generated ? place_words (&found[i]) : NULL;
      board->nets[i].words = pin != NULL ? pin : g_strdup (board->nets[i].name);
    }
}

MlBoard *
ml_board_reader_finish (MlBoardReader *reader)
{
  MlBoard *board = reader->board;

  ml_board_reader_close_condition (reader);
  warn_of_reference (reader);
  for (guint i = 0; i < reader->parts->len; i++)
    resolve_contact (reader, &g_array_index (reader->parts, MlPart, i));
  ml_board_reader_feed_blocks (reader);
  for (guint i = 0; i < reader->nets->len; i++)
    g_array_index (reader->nets, MlNet, i).generated = is_generated (&g_array_index (reader->nets, MlNet, i));
  for (guint i = 0; i < reader->pictures->len; i++)
    {
      MlPicture *picture = &g_array_index (reader->pictures, MlPicture, i);
      picture->pads = take_all (g_ptr_array_index (reader->pad_lists, i), &picture->n_pads);
      g_array_unref (g_ptr_array_index (reader->pad_lists, i));
    }
  board->nets = take_all (reader->nets, &board->n_nets);
  board->parts = take_all (reader->parts, &board->n_parts);
  put_nets_in_words (board);
  board->conditions = take_all (reader->conditions, &board->n_conditions);
  board->beeps = take_all (reader->beeps, &board->n_beeps);
  board->nears = take_all (reader->nears, &board->n_nears);
  board->hazards = take_all (reader->hazards, &board->n_hazards);
  board->pictures = take_all (reader->pictures, &board->n_pictures);
  g_ptr_array_add (reader->notes, NULL);
  board->notes = (char **) g_ptr_array_free (reader->notes, FALSE);
  for (GArray **array = (GArray *[]) { reader->nets, reader->parts, reader->conditions, reader->beeps, reader->nears, reader->hazards,
                                       reader->pictures, reader->supplies, reader->loads, reader->settings, reader->lifts, reader->removals,
                                       reader->connects, NULL };
       *array != NULL; array++)
    g_array_unref (*array);
  g_ptr_array_unref (reader->pad_lists);
  g_hash_table_unref (reader->datasheet_index);
  g_hash_table_unref (reader->assumed);
  g_hash_table_unref (reader->set_parts);
  g_hash_table_unref (reader->padded);
  ((Owned *) board)->nets = reader->net_index;
  ((Owned *) board)->parts = reader->part_index;
  ((Owned *) board)->conditions = reader->condition_index;
  g_ptr_array_unref (reader->datasheets);
  return board;
}

/* ---- looking up ---- */

static int
find_name (GHashTable *index, const char *name)
{
  gpointer found;

  return g_hash_table_lookup_extended (index, name, NULL, &found) ? GPOINTER_TO_INT (found) : -1;
}

const MlSetting *
ml_condition_setting (const MlCondition *condition, int part)
{
  for (guint i = 0; i < condition->n_settings; i++)
    if (condition->settings[i].part == part)
      return &condition->settings[i];
  return NULL;
}

gboolean
ml_condition_supplies (const MlCondition *condition, int net)
{
  for (guint s = 0; s < condition->n_supplies; s++)
    if (condition->supplies[s].plus == net || condition->supplies[s].minus == net)
      return TRUE;
  return FALSE;
}

gboolean
ml_board_supplies (const MlBoard *board, int net)
{
  for (guint c = 0; c < board->n_conditions; c++)
    if (ml_condition_supplies (&board->conditions[c], net))
      return TRUE;
  return FALSE;
}

int
ml_board_find_net (const MlBoard *board, const char *name)
{
  return find_name (((const Owned *) board)->nets, name);
}

int
ml_board_find_part (const MlBoard *board, const char *name)
{
  return find_name (((const Owned *) board)->parts, name);
}

int
ml_board_find_condition (const MlBoard *board, const char *name)
{
  return find_name (((const Owned *) board)->conditions, name);
}

int
ml_board_find_pad (const MlBoard *board, int picture, int part, int pin)
{
  const MlPicture *it = &board->pictures[picture];

  for (guint i = 0; i < it->n_pads; i++)
    if (it->pads[i].part == part && it->pads[i].pin == pin)
      return (int) i;
  return -1;
}

int
ml_part_find_pin (const MlPart *part, const char *name)
{
  for (guint i = 0; i < part->n_pins; i++)
    if (strcmp (part->pins[i].name, name) == 0)
      return (int) i;
  /* a capacitor's plus is its pin 1 whichever way the file names them */
  for (guint set = 0; set < 2; set++)
    {
      const char *const *names = set == 0 ? part->kind->pins : part->kind->pins_also;
      for (guint i = 0; names != NULL && names[i] != NULL && i < part->n_pins; i++)
        if (strcmp (names[i], name) == 0)
          return (int) i;
    }
  return -1;
}

int
ml_part_pin_on (const MlPart *part, int net)
{
  for (guint i = 0; net >= 0 && i < part->n_pins; i++)
    if (part->pins[i].net == net)
      return (int) i;
  return -1;
}

const MlAttribute *
ml_part_attribute (const MlPart *part, MlKey key)
{
  for (guint i = 0; i < part->n_attributes; i++)
    if (part->attributes[i].info->key == key)
      return &part->attributes[i];
  return NULL;
}

static char *
format_attribute (const MlAttribute *attribute)
{
  char text[64];

  if (attribute->info->shape != ML_KEY_IS_QUANTITY && attribute->info->shape != ML_KEY_IS_AT)
    return g_strdup (attribute->text);
  if (attribute->info->key == ML_KEY_VALUE)
    ml_quantity_format_marking (attribute->quantity.value, attribute->info->unit, text, sizeof text);
  else
    ml_quantity_format (attribute->quantity.value, attribute->info->unit, 3, FALSE, text, sizeof text);
  return g_strdup (text);
}

char *
ml_part_value_text (const MlPart *part)
{
  static const MlKey shown[] = { ML_KEY_VALUE, ML_KEY_VOLTAGE, ML_KEY_REFERENCE, ML_KEY_COLOUR, ML_KEY_CLAMP, ML_KEY_RESISTANCE };

  if (part->datasheet != NULL)
    return g_strdup (part->datasheet);
  for (guint i = 0; i < G_N_ELEMENTS (shown); i++)
    {
      const MlAttribute *attribute = ml_part_attribute (part, shown[i]);
      gboolean is_rating = shown[i] == ML_KEY_VOLTAGE && part->kind->kind == ML_KIND_CAPACITOR;

      if (attribute != NULL && !is_rating)
        return format_attribute (attribute);
    }
  if (part->kind->kind == ML_KIND_FUSE && ml_part_attribute (part, ML_KEY_CURRENT) != NULL)
    return format_attribute (ml_part_attribute (part, ML_KEY_CURRENT));
  if (ml_part_attribute (part, ML_KEY_FAMILY) != NULL && part->kind->kind == ML_KIND_DIODE)
    return format_attribute (ml_part_attribute (part, ML_KEY_FAMILY));
  return g_strdup ("");
}

gboolean
ml_condition_is_cold (const MlCondition *condition)
{
  return condition->n_supplies == 0;
}

/* ---- data/ ---- */

char *
ml_data_lookup (const char *name)
{
  g_autofree char *path = g_strdup_printf ("/org/meterleaf/data/%s", name);
  g_autoptr (GBytes) bytes = g_resource_lookup_data (ml_data_get_resource (), path, G_RESOURCE_LOOKUP_FLAGS_NONE, NULL);
  gsize length;
  const char *text;

  g_assert (bytes != NULL); /* a build without its tables is no build */
  text = g_bytes_get_data (bytes, &length);
  return g_strndup (text, length);
}

static GPtrArray *
load_datasheets (void)
{
  g_autofree char *content = ml_data_lookup ("parts.table");
  g_autoptr (MlText) text = ml_text_new ("parts.table", content, -1);
  g_autoptr (MlDiagnostics) diagnostics = ml_diagnostics_new ();
  g_autoptr (MlScanner) scanner = ml_scanner_new (text, diagnostics);
  MlBoardReader reader;
  const MlStatement *statement;
  GPtrArray *datasheets;
  MlBoard *board;

  ml_board_reader_start (&reader, text, diagnostics);
  while ((statement = ml_scanner_next (scanner)) != NULL)
    if (!statement->broken)
      ml_board_reader_datasheet (&reader, statement);
  for (guint i = 0; i < ml_diagnostics_n (diagnostics); i++)
    {
      g_autofree char *line = ml_diagnostic_to_string (ml_diagnostics_get (diagnostics, i));
      g_critical ("%s", line);
    }
  datasheets = g_ptr_array_ref (reader.datasheets);
  board = ml_board_reader_finish (&reader);
  ml_board_unref (board);
  return datasheets;
}

const GPtrArray *
ml_datasheets_shipped (void)
{
  static gsize once = 0;
  static GPtrArray *datasheets;

  if (g_once_init_enter (&once))
    {
      datasheets = load_datasheets ();
      g_once_init_leave (&once, 1);
    }
  return datasheets;
}

const MlDatasheet *
ml_datasheet_find (const char *name)
{
  const GPtrArray *datasheets = ml_datasheets_shipped ();

  for (guint i = 0; i < datasheets->len; i++)
    {
      const MlDatasheet *one = g_ptr_array_index (datasheets, i);
      if (strcmp (one->name, name) == 0)
        return one;
    }
  return NULL;
}

const char *
ml_part_number (guint index, const MlKindInfo **ret_kind)
{
  const GPtrArray *datasheets = ml_datasheets_shipped ();

  if (index >= datasheets->len)
    return NULL;
  const MlDatasheet *one = g_ptr_array_index (datasheets, index);
  *ret_kind = one->kind;
  return one->name;
}
