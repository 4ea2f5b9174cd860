/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Edits of the pictures of the real board: the statement, its pads, and the neighbours that the pads show. */
#include "board/edit-private.h"

#include <math.h>
#include <string.h>

#define WORD_SIZE G_ASCII_DTOSTR_BUF_SIZE

/* ---- the statement ---- */

static char *
scale_word (double scale_px_per_mm)
{
  char number[WORD_SIZE];

  if (isnan (scale_px_per_mm))
    return NULL;
  g_ascii_formatd (number, sizeof number, "%.6g", scale_px_per_mm);
  return g_strconcat (number, "/mm", NULL);
}

static char *
turn_word (double turn_deg)
{
  char number[WORD_SIZE];

  return turn_deg != 0 ? g_strdup (g_ascii_formatd (number, sizeof number, "%.6g", turn_deg)) : NULL;
}

static char *
picture_words (const MlPicture *to)
{
  g_autofree char *file = ml_text_quote (to->file), *scale = scale_word (to->scale_px_per_mm), *turn = turn_word (to->turn_deg);

  return g_strdup_printf ("picture %s%s%s%s%s%s%s", file, to->bottom ? " side=bottom" : "", scale != NULL ? " scale=" : "",
                          scale != NULL ? scale : "", turn != NULL ? " turn=" : "", turn != NULL ? turn : "", to->mirror ? " mirror" : "");
}

static const MlWord *
bare_word (const MlStatement *statement, const char *text)
{
  for (guint i = 2; i < statement->n_words; i++)
    if (statement->words[i].key == NULL && strcmp (statement->words[i].text, text) == 0)
      return &statement->words[i];
  return NULL;
}

static void
change_picture (MlPatch *patch, const MlStatement *statement, const MlPicture *from, const MlPicture *to)
{
  g_autofree char *scale = scale_word (to->scale_px_per_mm), *turn = turn_word (to->turn_deg), *file = ml_text_quote (to->file);
  gboolean same_scale = from->scale_px_per_mm == to->scale_px_per_mm || (isnan (from->scale_px_per_mm) && isnan (to->scale_px_per_mm));
  const MlWord *mirror = bare_word (statement, "mirror");

  if (strcmp (from->file, to->file) != 0)
    ml_patch_replace (patch, statement->words[1].line, statement->words[1].offset, statement->words[1].length, file);
  if (from->bottom != to->bottom)
    ml_patch_set_key (patch, statement, "side", to->bottom ? "bottom" : NULL);
  if (!same_scale)
    ml_patch_set_key (patch, statement, "scale", scale);
  if (from->turn_deg != to->turn_deg)
    ml_patch_set_key (patch, statement, "turn", turn);
  if (mirror != NULL && !to->mirror)
    ml_patch_remove_word (patch, mirror);
  else if (mirror == NULL && to->mirror)
    ml_patch_add_word (patch, &statement->words[statement->n_words - 1], "mirror");
}

MlText *
ml_board_edit_set_picture (const MlBoard *board, int picture, const MlPicture *to, GError **error)
{
  g_autoptr (MlScanner) scanner = ml_scanner_new (board->text, NULL);
  MlPatch *patch;

  if (to->file == NULL || *to->file == '\0')
    {
      g_set_error (error, ML_EDIT_ERROR, ML_EDIT_ERROR_VALUE, "the picture's file is missing");
      return NULL;
    }
  patch = ml_patch_new (board->text);
  if (picture >= 0)
    change_picture (patch, ml_edit_statement_at (scanner, board->pictures[picture].line), &board->pictures[picture], to);
  else
    {
      g_autofree char *words = picture_words (to);
      ml_patch_insert_line (patch, ml_edit_line_behind (board->text, "picture", ml_text_n_lines (board->text)), words);
    }
  return ml_board_edit_finish (board, patch, error);
}

MlText *
ml_board_edit_remove_picture (const MlBoard *board, int picture, GError **error)
{
  guint line = board->pictures[picture].line;
  MlPatch *patch = ml_patch_new (board->text);

  ml_patch_remove_lines (patch, line - 1, ml_edit_end_at (board->text, line, TRUE) - (line - 1));
  return ml_board_edit_finish (board, patch, error);
}

/* ---- pads ---- */

/* A tenth of a pixel is finer than a hand clicks. */
static char *
pixel_word (double px)
{
  char number[WORD_SIZE];

  return g_strdup (g_ascii_formatd (number, sizeof number, "%.9g", round (px * 10) / 10));
}

static char *
pad_words (const MlBoard *board, int part, int pin, const char *x, const char *y)
{
  const MlPart *it = &board->parts[part];

  return pin >= 0 ? g_strdup_printf ("pad %s.%s x=%s y=%s", it->name, it->pins[pin].name, x, y)
                  : g_strdup_printf ("pad %s x=%s y=%s", it->name, x, y);
}

static gboolean
is_within (const MlPad *pad, GError **error)
{
  if (fabs (pad->x_px) <= ML_PICTURE_MAX_PX && fabs (pad->y_px) <= ML_PICTURE_MAX_PX)
    return TRUE;
  g_set_error (error, ML_EDIT_ERROR, ML_EDIT_ERROR_TARGET, "that place lies outside every picture");
  return FALSE;
}

static void
patch_pad (MlPatch *patch, const MlBoard *board, int picture, const MlPad *to, guint end)
{
  const MlPicture *it = &board->pictures[picture];
  int pad = ml_board_find_pad (board, picture, to->part, to->pin);
  g_autofree char *x = pixel_word (to->x_px), *y = pixel_word (to->y_px);

  if (pad >= 0)
    {
      g_autoptr (MlScanner) scanner = ml_scanner_new (board->text, NULL);
      const MlStatement *statement = ml_edit_statement_at (scanner, it->pads[pad].line);

      ml_patch_set_key (patch, statement, "x", x);
      ml_patch_set_key (patch, statement, "y", y);
    }
  else
    {
      g_autofree char *words = pad_words (board, to->part, to->pin, x, y), *indent = ml_edit_indent (board->text, it->line);
      g_autofree char *line = g_strconcat (indent, words, NULL);

      ml_patch_insert_line (patch, end, line);
    }
}

MlText *
ml_board_edit_set_pads (const MlBoard *board, int picture, const MlPad *pads, guint n, GError **error)
{
  guint end = ml_edit_end_at (board->text, board->pictures[picture].line, TRUE);
  MlPatch *patch;

  for (guint i = 0; i < n; i++)
    if (!is_within (&pads[i], error))
      return NULL;
  patch = ml_patch_new (board->text);
  for (guint i = 0; i < n; i++)
    patch_pad (patch, board, picture, &pads[i], end);
  return ml_board_edit_finish (board, patch, error);
}

MlText *
ml_board_edit_set_pad (const MlBoard *board, int picture, int part, int pin, double x_px, double y_px, GError **error)
{
  const MlPad pad = { .part = part, .pin = pin, .x_px = x_px, .y_px = y_px };

  return ml_board_edit_set_pads (board, picture, &pad, 1, error);
}

MlText *
ml_board_edit_remove_pad (const MlBoard *board, int picture, int part, int pin, GError **error)
{
  int pad = ml_board_find_pad (board, picture, part, pin);
  guint line = pad >= 0 ? board->pictures[picture].pads[pad].line : 0;
  MlPatch *patch;

  if (pad < 0)
    return ml_text_ref (board->text);
  patch = ml_patch_new (board->text);
  ml_patch_remove_lines (patch, line - 1, ml_edit_end_at (board->text, line, FALSE) - (line - 1));
  return ml_board_edit_finish (board, patch, error);
}

/* ---- neighbours ---- */

static gboolean
is_near (const MlBoard *board, int net_a, int net_b)
{
  for (guint i = 0; i < board->n_nears; i++)
    if ((board->nears[i].net_a == net_a && board->nears[i].net_b == net_b) || (board->nears[i].net_a == net_b && board->nears[i].net_b == net_a))
      return TRUE;
  return FALSE;
}

MlText *
ml_board_edit_add_nears (const MlBoard *board, const int *nets, guint n_pairs, GError **error)
{
  guint line = ml_edit_line_behind (board->text, "near", ml_edit_line_behind (board->text, "beep part", ml_text_n_lines (board->text)));
  MlPatch *patch = ml_patch_new (board->text);

  for (guint i = 0; i < n_pairs; i++)
    if (!is_near (board, nets[2 * i], nets[2 * i + 1]))
      {
        g_autofree char *words = g_strdup_printf ("near %s %s", board->nets[nets[2 * i]].name, board->nets[nets[2 * i + 1]].name);
        ml_patch_insert_line (patch, line, words);
      }
  return ml_board_edit_finish (board, patch, error);
}
