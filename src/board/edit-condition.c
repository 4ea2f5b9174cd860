/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Edits of conditions: supplies, loads, settings, names. */
#include "board/edit-private.h"

#include <math.h>
#include <string.h>

#define NUMBER_SIZE 48

static gboolean
want_free_condition_name (const MlBoard *board, const char *name, GError **error)
{
  if (!ml_edit_check_name (name, "condition", error))
    return FALSE;
  if (ml_board_find_condition (board, name) < 0)
    return TRUE;
  g_set_error (error, ML_EDIT_ERROR, ML_EDIT_ERROR_NAME, "there is a condition %s already", name);
  return FALSE;
}

MlText *
ml_board_edit_add_condition (const MlBoard *board, const char *name, const char *label, GError **error)
{
  g_autofree char *quoted = label != NULL && *label != '\0' ? ml_text_quote (label) : NULL;
  g_autofree char *line = NULL;
  MlPatch *patch;

  if (!want_free_condition_name (board, name, error))
    return NULL;
  line = g_strdup_printf ("condition %s%s%s", name, quoted != NULL ? " " : "", quoted != NULL ? quoted : "");
  patch = ml_patch_new (board->text);
  ml_patch_insert_line (patch, ml_edit_line_behind (board->text, "condition", ml_text_n_lines (board->text)), line);
  return ml_board_edit_finish (board, patch, error);
}

/* Line by line as it stands there, comments too, but for the name. */
MlText *
ml_board_edit_copy_condition (const MlBoard *board, int condition, const char *name, GError **error)
{
  guint line = board->conditions[condition].line, end = ml_edit_end_at (board->text, line, TRUE), last = 0;
  g_autoptr (MlScanner) scanner = ml_scanner_new (board->text, NULL);
  g_autoptr (GPtrArray) lines = g_ptr_array_new_with_free_func (g_free);

  if (!want_free_condition_name (board, name, error))
    return NULL;
  const MlWord *old = &ml_edit_statement_at (scanner, line)->words[1];
  for (guint i = line - 1; i < end; i++)
    {
      const char *bytes = ml_text_line (board->text, i, NULL);
      gsize length = strcspn (bytes, "\r\n");
      if (i == old->line)
        g_ptr_array_add (lines, g_strdup_printf ("%.*s%s%.*s", (int) old->offset, bytes, name, (int) (length - old->offset - old->length),
                                                 bytes + old->offset + old->length));
      else
        g_ptr_array_add (lines, g_strndup (bytes, length));
    }
  g_ptr_array_add (lines, NULL);
  for (guint i = 0; i < board->n_conditions; i++)
    last = MAX (last, ml_edit_end_at (board->text, board->conditions[i].line, TRUE));
  return ml_text_splice (board->text, last, 0, (const char *const *) lines->pdata);
}

static void
patch_label (MlPatch *patch, const MlStatement *statement, const char *label)
{
  const MlWord *old = statement->n_words > 2 ? &statement->words[2] : NULL;
  g_autofree char *quoted = label != NULL && *label != '\0' ? ml_text_quote (label) : NULL;

  if (old != NULL && quoted != NULL)
    ml_patch_replace (patch, old->line, old->offset, old->length, quoted);
  else if (old != NULL)
    ml_patch_remove_word (patch, old);
  else if (quoted != NULL)
    ml_patch_add_word (patch, &statement->words[1], quoted);
}

MlText *
ml_board_edit_rename_condition (const MlBoard *board, int condition, const char *name, const char *label, GError **error)
{
  const MlCondition *it = &board->conditions[condition];
  g_autoptr (MlScanner) scanner = ml_scanner_new (board->text, NULL);
  MlPatch *patch;

  if (g_strcmp0 (it->name, name) != 0 && !want_free_condition_name (board, name, error))
    return NULL;
  patch = ml_patch_new (board->text);
  if (strcmp (it->name, name) != 0)
    ml_edit_rename_all (patch, board->text, FALSE, ML_NAMES_CONDITION, it->name, name);
  if (g_strcmp0 (it->label, label) != 0)
    patch_label (patch, ml_edit_statement_at (scanner, it->line), label);
  return ml_board_edit_finish (board, patch, error);
}

MlText *
ml_board_edit_remove_condition (const MlBoard *board, int condition, GError **error)
{
  guint line = board->conditions[condition].line;
  MlPatch *patch = ml_patch_new (board->text);

  ml_patch_remove_lines (patch, line - 1, ml_edit_end_at (board->text, line, TRUE) - (line - 1));
  return ml_board_edit_finish (board, patch, error);
}

/* ---- supplies ---- */

static void
change_supply (MlPatch *patch, const MlBoard *board, const MlSupply *old, const MlSupply *supply)
{
  g_autoptr (MlScanner) scanner = ml_scanner_new (board->text, NULL);
  const MlStatement *statement = ml_edit_statement_at (scanner, old->line);

  ml_patch_set_key (patch, statement, "plus", board->nets[supply->plus].name);
  ml_patch_set_key (patch, statement, "minus", board->nets[supply->minus].name);
  ml_patch_set_number (patch, statement, "voltage", supply->voltage_v, old->voltage_v == supply->voltage_v);
  ml_patch_set_number (patch, statement, "limit", supply->limit_a, old->limit_written && old->limit_a == supply->limit_a);
}

/* Behind the condition's other supplies, else right below its name. */
static guint
new_supply_line (const MlBoard *board, const MlCondition *condition)
{
  guint line = condition->n_supplies > 0 ? condition->supplies[condition->n_supplies - 1].line : condition->line;

  return ml_edit_end_at (board->text, line, FALSE);
}

static void
add_supply (MlPatch *patch, const MlBoard *board, const MlCondition *condition, const MlSupply *supply)
{
  char voltage[NUMBER_SIZE], limit[NUMBER_SIZE];
  g_autofree char *indent = ml_edit_indent (board->text, condition->line);
  g_autofree char *line = NULL;

  ml_quantity_format_file (supply->voltage_v, voltage, sizeof voltage);
  ml_quantity_format_file (supply->limit_a, limit, sizeof limit);
  line = g_strdup_printf ("%ssupply plus=%s minus=%s voltage=%s%s%s", indent, board->nets[supply->plus].name, board->nets[supply->minus].name,
                          voltage, isnan (supply->limit_a) ? "" : " limit=", isnan (supply->limit_a) ? "" : limit);
  ml_patch_insert_line (patch, new_supply_line (board, condition), line);
}

MlText *
ml_board_edit_set_supply (const MlBoard *board, int condition, int supply, int plus, int minus, double voltage_v, double limit_a,
                          GError **error)
{
  const MlCondition *it = &board->conditions[condition];
  MlSupply wanted = { .plus = plus, .minus = minus, .voltage_v = voltage_v, .limit_a = limit_a };
  MlPatch *patch;

  if (plus < 0 || minus < 0 || !isfinite (voltage_v) || isinf (limit_a))
    {
      g_set_error (error, ML_EDIT_ERROR, ML_EDIT_ERROR_VALUE, "a supply needs a net at each lead and a voltage");
      return NULL;
    }
  patch = ml_patch_new (board->text);
  if (supply >= 0)
    change_supply (patch, board, &it->supplies[supply], &wanted);
  else
    add_supply (patch, board, it, &wanted);
  return ml_board_edit_finish (board, patch, error);
}

MlText *
ml_board_edit_remove_supply (const MlBoard *board, int condition, int supply, GError **error)
{
  g_autoptr (MlScanner) scanner = ml_scanner_new (board->text, NULL);
  MlPatch *patch = ml_patch_new (board->text);

  ml_board_edit_drop_statement (patch, board->text, ml_edit_statement_at (scanner, board->conditions[condition].supplies[supply].line));
  return ml_board_edit_finish (board, patch, error);
}

MlText *
ml_board_edit_reverse_supply (const MlBoard *board, int condition, int supply, GError **error)
{
  const MlSupply *old = &board->conditions[condition].supplies[supply];
  g_autoptr (MlScanner) scanner = ml_scanner_new (board->text, NULL);
  const MlStatement *statement = ml_edit_statement_at (scanner, old->line);
  MlPatch *patch = ml_patch_new (board->text);

  ml_patch_set_key (patch, statement, "plus", board->nets[old->minus].name);
  ml_patch_set_key (patch, statement, "minus", board->nets[old->plus].name);
  return ml_board_edit_finish (board, patch, error);
}

/* ---- loads ---- */

static void
change_load (MlPatch *patch, const MlBoard *board, const MlLoad *old, const MlLoad *load)
{
  g_autoptr (MlScanner) scanner = ml_scanner_new (board->text, NULL);
  const MlStatement *statement = ml_edit_statement_at (scanner, old->line);

  ml_patch_set_key (patch, statement, "plus", board->nets[load->plus].name);
  ml_patch_set_key (patch, statement, "minus", board->nets[load->minus].name);
  ml_patch_set_number (patch, statement, "value", load->resistance_ohm, old->resistance_ohm == load->resistance_ohm);
  ml_patch_set_number (patch, statement, "current", load->current_a, old->current_a == load->current_a);
}

/* Behind the condition's other loads, else behind its supplies. */
static guint
new_load_line (const MlBoard *board, const MlCondition *condition)
{
  return condition->n_loads > 0 ? ml_edit_end_at (board->text, condition->loads[condition->n_loads - 1].line, FALSE)
                                : new_supply_line (board, condition);
}

static void
add_load (MlPatch *patch, const MlBoard *board, const MlCondition *condition, const MlLoad *load)
{
  gboolean resistor = isfinite (load->resistance_ohm);
  char size[NUMBER_SIZE];
  g_autofree char *indent = ml_edit_indent (board->text, condition->line);
  g_autofree char *line = NULL;

  ml_quantity_format_file (resistor ? load->resistance_ohm : load->current_a, size, sizeof size);
  line = g_strdup_printf ("%sload plus=%s minus=%s %s=%s", indent, board->nets[load->plus].name, board->nets[load->minus].name,
                          resistor ? "value" : "current", size);
  ml_patch_insert_line (patch, new_load_line (board, condition), line);
}

MlText *
ml_board_edit_set_load (const MlBoard *board, int condition, int load, int plus, int minus, double resistance_ohm, double current_a, GError **error)
{
  const MlCondition *it = &board->conditions[condition];
  MlLoad wanted = { .plus = plus, .minus = minus, .resistance_ohm = resistance_ohm, .current_a = current_a };
  double size = isnan (resistance_ohm) ? current_a : resistance_ohm;
  MlPatch *patch;

  if (plus < 0 || minus < 0 || isnan (resistance_ohm) == isnan (current_a) || !isfinite (size) || size <= 0)
    {
      g_set_error (error, ML_EDIT_ERROR, ML_EDIT_ERROR_VALUE, "a load needs a net at each end, and either ohms or a current above zero");
      return NULL;
    }
  patch = ml_patch_new (board->text);
  if (load >= 0)
    change_load (patch, board, &it->loads[load], &wanted);
  else
    add_load (patch, board, it, &wanted);
  return ml_board_edit_finish (board, patch, error);
}

MlText *
ml_board_edit_remove_load (const MlBoard *board, int condition, int load, GError **error)
{
  g_autoptr (MlScanner) scanner = ml_scanner_new (board->text, NULL);
  MlPatch *patch = ml_patch_new (board->text);

  ml_board_edit_drop_statement (patch, board->text, ml_edit_statement_at (scanner, board->conditions[condition].loads[load].line));
  return ml_board_edit_finish (board, patch, error);
}

/* ---- settings ---- */

/* state NULL or "": the part is set no more. A potentiometer takes "30%" or "position=30%". */
MlText *
ml_board_edit_set_setting (const MlBoard *board, int condition, int part, const char *state, GError **error)
{
  const MlCondition *it = &board->conditions[condition];
  const MlSetting *old = ml_condition_setting (it, part);
  g_autoptr (MlScanner) scanner = ml_scanner_new (board->text, NULL);
  const MlStatement *statement = old != NULL ? ml_edit_statement_at (scanner, old->line) : NULL;
  gboolean turned = board->parts[part].kind->kind == ML_KIND_POTENTIOMETER && state != NULL && strchr (state, '=') == NULL;
  g_autofree char *word = g_strconcat (turned ? "position=" : "", state, NULL);
  MlPatch *patch = ml_patch_new (board->text);

  if (state == NULL || *state == '\0')
    {
      if (statement != NULL)
        ml_board_edit_drop_statement (patch, board->text, statement);
    }
  else if (statement != NULL && statement->n_words > 2)
    ml_patch_replace (patch, statement->words[2].line, statement->words[2].offset, statement->words[2].length, word);
  else
    {
      g_autofree char *indent = ml_edit_indent (board->text, it->line);
      g_autofree char *line = g_strdup_printf ("%sset %s %s", indent, board->parts[part].name, word);
      ml_patch_insert_line (patch, ml_edit_end_at (board->text, it->line, TRUE), line);
    }
  return ml_board_edit_finish (board, patch, error);
}
