/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reading `condition` and what stands below it. */
#include "board/board-private.h"

#include <math.h>
#include <string.h>

#define DEFAULT_LIMIT_A 3.0

void
ml_board_reader_condition (MlBoardReader *reader, const MlStatement *statement)
{
  MlCondition condition = { .line = statement->line + 1 };

  reader->parent_fine = FALSE;
  if (!ml_board_reader_name (reader, statement, 1, "condition"))
    return;
  if (g_hash_table_contains (reader->condition_index, statement->words[1].text))
    {
      SAID (reader, &statement->words[1], "there is a condition %s already", statement->words[1].text);
      return;
    }
  if (reader->conditions->len == ML_BOARD_MAX_CONDITIONS)
    {
      SAID (reader, &statement->words[1], "a board has at most %u conditions", ML_BOARD_MAX_CONDITIONS);
      return;
    }
  for (guint i = 2; i < statement->n_words; i++)
    if (statement->words[i].key != NULL || i > 2)
      ml_board_reader_unknown_word (reader, &statement->words[i], (const char *[]) { "\"label\"", NULL });
    else if (!statement->words[i].quoted)
      {
        SAID (reader, &statement->words[i], "'%s' is not expected here: a condition has one name, and then perhaps a label in quotes", statement->words[i].text);
        break;
      }
  ml_board_reader_close_condition (reader);
  condition.name = g_strdup (statement->words[1].text);
  if (statement->n_words > 2 && statement->words[2].key == NULL)
    condition.label = g_strdup (statement->words[2].text);
  g_hash_table_insert (reader->condition_index, condition.name, GINT_TO_POINTER (reader->conditions->len));
  g_array_append_val (reader->conditions, condition);
  reader->parent_fine = TRUE;
}

static gboolean
take_net (MlBoardReader *reader, const MlWord *word, const char *key, int *ret_net, gboolean *fine)
{
  if (word->key == NULL || strcmp (word->key, key) != 0)
    return FALSE;
  *ret_net = ml_board_reader_want_net (reader, word);
  *fine = *ret_net >= 0 && *fine;
  return TRUE;
}

static gboolean
take_number (MlBoardReader *reader, const MlWord *word, const char *key, MlUnit unit, double *ret_value, gboolean *fine)
{
  if (word->key == NULL || strcmp (word->key, key) != 0)
    return FALSE;
  *fine = ml_board_reader_number (reader, word, unit, ret_value) && ml_board_reader_plausible (reader, word, unit, *ret_value) && *fine;
  return TRUE;
}

/* The first of 1, 2, … that no supply of this condition has. */
static char *
next_supply_name (MlBoardReader *reader)
{
  for (guint n = 1;; n++)
    {
      char *name = g_strdup_printf ("%u", n);
      gboolean taken = FALSE;

      for (guint i = 0; i < reader->supplies->len; i++)
        taken |= strcmp (g_array_index (reader->supplies, MlSupply, i).name, name) == 0;
      if (!taken)
        return name;
      g_free (name);
    }
}

static void
check_supply (MlBoardReader *reader, const MlStatement *statement, MlSupply *supply)
{
  const MlWord *at = &statement->words[0];

  if (supply->plus == -2 || supply->minus == -2 || isnan (supply->voltage_v))
    SAID (reader, at, "a supply needs plus=NET minus=NET voltage=V");
  else if (supply->plus == supply->minus)
    SAID (reader, at, "both leads of the supply are on net %s", g_array_index (reader->nets, MlNet, supply->plus).name);
  else if (supply->voltage_v < 0)
    SAID (reader, at, "a supply's voltage is not negative: exchange plus= and minus= instead");
  else if (reader->supplies->len == ML_BOARD_MAX_SUPPLIES)
    SAID (reader, at, "a condition has at most %u supplies", ML_BOARD_MAX_SUPPLIES);
  else if (supply->limit_a <= 0)
    SAID (reader, at, "a supply's limit is above zero");
  else
    {
      if (supply->name == NULL)
        supply->name = next_supply_name (reader);
      g_array_append_val (reader->supplies, *supply);
      return;
    }
  g_free (supply->name);
}

void
ml_board_reader_supply (MlBoardReader *reader, const MlStatement *statement)
{
  MlSupply supply = { .plus = -2, .minus = -2, .voltage_v = NAN, .limit_a = DEFAULT_LIMIT_A, .line = statement->line + 1 };
  gboolean fine = TRUE;

  for (guint i = 1; i < statement->n_words; i++)
    {
      const MlWord *word = &statement->words[i];

      if (i == 1 && word->key == NULL)
        {
          fine = ml_board_reader_name (reader, statement, 1, "supply") && fine;
          supply.name = g_strdup (word->text);
        }
      else if (take_number (reader, word, "limit", ML_UNIT_AMPERE, &supply.limit_a, &fine))
        supply.limit_written = TRUE;
      else if (!take_net (reader, word, "plus", &supply.plus, &fine) && !take_net (reader, word, "minus", &supply.minus, &fine)
               && !take_number (reader, word, "voltage", ML_UNIT_VOLT, &supply.voltage_v, &fine))
        ml_board_reader_unknown_word (reader, word, (const char *[]) { "plus=", "minus=", "voltage=", "limit=", NULL });
    }
  for (guint i = 0; supply.name != NULL && i < reader->supplies->len; i++)
    if (strcmp (g_array_index (reader->supplies, MlSupply, i).name, supply.name) == 0)
      {
        SAID (reader, &statement->words[1], "this condition has a supply %s already", supply.name);
        fine = FALSE;
      }
  if (fine)
    check_supply (reader, statement, &supply);
  else
    g_free (supply.name);
}

void
ml_board_reader_load (MlBoardReader *reader, const MlStatement *statement)
{
  MlLoad load = { .plus = -2, .minus = -2, .resistance_ohm = NAN, .current_a = NAN, .line = statement->line + 1 };
  gboolean fine = TRUE;

  for (guint i = 1; i < statement->n_words; i++)
    {
      const MlWord *word = &statement->words[i];

      if (!take_net (reader, word, "plus", &load.plus, &fine) && !take_net (reader, word, "minus", &load.minus, &fine)
          && !take_number (reader, word, "value", ML_UNIT_OHM, &load.resistance_ohm, &fine)
          && !take_number (reader, word, "current", ML_UNIT_AMPERE, &load.current_a, &fine))
        ml_board_reader_unknown_word (reader, word, (const char *[]) { "plus=", "minus=", "value=", "current=", NULL });
    }
  if (!fine)
    return;
  if (load.plus == -2 || load.minus == -2 || isnan (load.resistance_ohm) == isnan (load.current_a))
    SAID (reader, &statement->words[0], "a load needs plus=NET minus=NET and either value=OHM or current=A");
  else if (load.plus == load.minus)
    SAID (reader, &statement->words[0], "both ends of the load are on one net");
  else if (!(load.resistance_ohm > 0) && !(load.current_a > 0))
    SAID (reader, &statement->words[0], "a load's value is above zero");
  else
    g_array_append_val (reader->loads, load);
}

/* Which states a kind can be set to. */
static const char *const *
states_of (const MlKindInfo *kind)
{
  static const char *const contact[] = { "open", "closed", NULL };
  static const char *const changeover[] = { "a", "b", "middle", NULL };
  static const char *const position[] = { "position=", NULL };

  switch (kind->kind)
    {
    case ML_KIND_SWITCH:
    case ML_KIND_CONTACT:
      return contact;
    case ML_KIND_CHANGEOVER:
      return changeover;
    case ML_KIND_POTENTIOMETER:
      return position;
    default:
      return NULL;
    }
}

static gboolean
take_state (const MlWord *word, const char *const *states, MlSettingState *ret_state)
{
  static const struct { const char *word; MlSettingState state; } known[]
      = { { "open", ML_SETTING_OPEN }, { "closed", ML_SETTING_CLOSED }, { "a", ML_SETTING_A }, { "b", ML_SETTING_B },
          { "middle", ML_SETTING_MIDDLE } };

  if (word->key != NULL || !g_strv_contains (states, word->text))
    return FALSE;
  for (guint i = 0; i < G_N_ELEMENTS (known); i++)
    if (strcmp (known[i].word, word->text) == 0)
      *ret_state = known[i].state;
  return TRUE;
}

void
ml_board_reader_set (MlBoardReader *reader, const MlStatement *statement)
{
  MlSetting setting = { .line = statement->line + 1 };
  const char *const *states;
  const MlWord *word;

  if (!ml_board_reader_name (reader, statement, 1, "part"))
    return;
  setting.part = ml_board_reader_want_part (reader, &statement->words[1], statement->words[1].text);
  if (setting.part < 0)
    return;
  states = states_of (g_array_index (reader->parts, MlPart, setting.part).kind);
  if (states == NULL)
    {
      SAID (reader, &statement->words[1], "%s is %s: only a switch, changeover, contact or potentiometer is set", statement->words[1].text,
            ml_kind_called (g_array_index (reader->parts, MlPart, setting.part).kind));
      return;
    }
  if (statement->n_words != 3)
    {
      g_autofree char *list = g_strjoinv (" or ", (char **) states);
      SAID (reader, &statement->words[MIN (3, statement->n_words - 1)], "set %s to one thing: %s", statement->words[1].text, list);
      return;
    }
  word = &statement->words[2];
  if (strcmp (states[0], "position=") == 0 && word->key != NULL && strcmp (word->key, "position") == 0)
    {
      setting.state = ML_SETTING_POSITION;
      if (!ml_board_reader_number (reader, word, ML_UNIT_PERCENT, &setting.position))
        return;
      if (setting.position < 0 || setting.position > 1)
        {
          SAID (reader, word, "a position is from 0%% to 100%%");
          return;
        }
    }
  else if (!take_state (word, states, &setting.state))
    {
      ml_board_reader_unknown_word (reader, word, states);
      return;
    }
  if (!g_hash_table_add (reader->set_parts, GINT_TO_POINTER (setting.part + 1)))
    {
      SAID (reader, &statement->words[1], "%s is set twice in this condition", statement->words[1].text);
      return;
    }
  g_array_append_val (reader->settings, setting);
}

static gboolean
has_n_bare (MlBoardReader *reader, const MlStatement *statement, guint n, const char *form)
{
  gboolean fine = statement->n_words == n;

  for (guint i = 0; i < statement->n_words; i++)
    fine = fine && statement->words[i].key == NULL;
  if (!fine)
    SAID (reader, &statement->words[MIN (n, statement->n_words - 1)], "the form is: %s", form);
  return fine;
}

void
ml_board_reader_lift (MlBoardReader *reader, const MlStatement *statement)
{
  MlLift lift = { .line = statement->line + 1 };

  if (has_n_bare (reader, statement, 2, "lift D4.cathode") && ml_board_reader_want_pin (reader, &statement->words[1], &lift.part, &lift.pin))
    g_array_append_val (reader->lifts, lift);
}

void
ml_board_reader_remove (MlBoardReader *reader, const MlStatement *statement)
{
  MlRemoval removal = { .line = statement->line + 1 };

  if (!has_n_bare (reader, statement, 2, "remove F1"))
    return;
  removal.part = ml_board_reader_want_part (reader, &statement->words[1], statement->words[1].text);
  if (removal.part >= 0)
    g_array_append_val (reader->removals, removal);
}

void
ml_board_reader_connect (MlBoardReader *reader, const MlStatement *statement)
{
  MlConnect connect = { .line = statement->line + 1 };

  if (!has_n_bare (reader, statement, 3, "connect NETA NETB"))
    return;
  connect.net_a = ml_board_reader_want_net (reader, &statement->words[1]);
  connect.net_b = ml_board_reader_want_net (reader, &statement->words[2]);
  if (connect.net_a >= 0 && connect.net_a == connect.net_b)
    SAID (reader, &statement->words[2], "net %s is connected with itself: name two nets", statement->words[2].text);
  else if (connect.net_a >= 0 && connect.net_b >= 0)
    g_array_append_val (reader->connects, connect);
}
