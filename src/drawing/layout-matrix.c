/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Lamps or keys in rows and columns. A row's parts hang from one level line; a column's meet on one upright line right of them:
 *
 *   T-row --+---------+-----
 *           V         V
 *           +---+     +---+
 *     row --+---------+-----
 *           V         V
 *           +---+     +---+
 *               R         R   resistors in line with the columns
 */
#include "drawing/layout-idioms.h"

#define MOST 64 /* parts */
#define ROW_PITCH 8
#define COLUMN_LINE 2 /* g right of the parts */

typedef struct
{
  const MlFinder *finder;
  MlKind kind;
  int parts[MOST];
  guint n;
  GArray *rows, *columns; /* of int, nets */
} Matrix;

static gboolean
is_cell (const MlFinder *finder, int i, MlKind kind)
{
  return !finder->used[i] && ml_idiom_kind (finder, i) == kind && ml_idiom_two (finder, i) && ml_idiom_signal (finder, ml_idiom_net (finder, i, 0))
         && ml_idiom_signal (finder, ml_idiom_net (finder, i, 1));
}

static int
place_in (const GArray *nets, int net)
{
  guint i;

  for (i = 0; i < nets->len; i++)
    if (g_array_index (nets, int, i) == net)
      return (int) i;
  return -1;
}

static gboolean
has_part (const Matrix *matrix, int part)
{
  guint i;

  for (i = 0; i < matrix->n; i++)
    if (matrix->parts[i] == part)
      return TRUE;
  return FALSE;
}

/* All that hangs together with a row (or column); FALSE when a net is both, or there are too many. Diodes have their anodes on the rows. */
static gboolean
gather (Matrix *matrix, int net, gboolean is_row)
{
  GArray *own = is_row ? matrix->rows : matrix->columns;
  guint k;

  if (place_in (is_row ? matrix->columns : matrix->rows, net) >= 0)
    return FALSE;
  if (place_in (own, net) >= 0)
    return TRUE;
  g_array_append_val (own, net);
  for (k = 0; k < ml_idiom_n_at (matrix->finder, net); k++)
    {
      int piece, pin;
      if (!ml_idiom_at (matrix->finder, net, k, &piece, &pin) || !is_cell (matrix->finder, piece, matrix->kind) || has_part (matrix, piece))
        continue;
      if (matrix->n == MOST || (matrix->kind != ML_KIND_SWITCH && (pin == 0) != is_row))
        return FALSE;
      matrix->parts[matrix->n++] = piece;
      if (!gather (matrix, ml_idiom_other (matrix->finder, piece, net), !is_row))
        return FALSE;
    }
  return TRUE;
}

static int
by_net (gconstpointer a, gconstpointer b)
{
  return *(const int *) a - *(const int *) b;
}

/* Two of each at least, and no two parts in the same place. */
static gboolean
is_matrix (const Matrix *matrix)
{
  guint i, k;

  if (matrix->rows->len < 2 || matrix->columns->len < 2 || matrix->n < matrix->rows->len + matrix->columns->len)
    return FALSE;
  for (i = 0; i < matrix->n; i++)
    for (k = 0; k < i; k++)
      if (ml_idiom_pin_on (matrix->finder, matrix->parts[k], ml_idiom_net (matrix->finder, matrix->parts[i], 0)) >= 0
          && ml_idiom_pin_on (matrix->finder, matrix->parts[k], ml_idiom_net (matrix->finder, matrix->parts[i], 1)) >= 0)
        return FALSE;
  return TRUE;
}

/* The one resistor in line with a column; -1. */
static int
foot_of (const MlFinder *finder, int net)
{
  int piece, pin, found = -1;
  guint k;

  for (k = 0; k < ml_idiom_n_at (finder, net); k++)
    if (ml_idiom_at (finder, net, k, &piece, &pin) && ml_idiom_kind (finder, piece) == ML_KIND_RESISTOR && ml_idiom_two (finder, piece)
        && !ml_idiom_up (finder, ml_idiom_other (finder, piece, net)))
      found = found < 0 ? piece : G_MAXINT;
  return found == G_MAXINT ? -1 : found;
}

#define OUTPUT_PIN 0 /* collector or drain: pins are sorted so */
#define CONTROL_PIN 1
#define BEFORE_COLUMNS 4 /* g from a driver's text to the first column: arrows of lamps */
#define BEFORE_TEXTS 5   /* g and the texts of the cells: half a rail's name above the driver */

/* The one transistor whose collector or drain drives a row, its output below or above; -1. */
static int
driver_of (const MlFinder *finder, int net, MlForm **ret_form)
{
  int piece, pin, found = -1;
  guint k;

  for (k = 0; k < ml_idiom_n_at (finder, net); k++)
    {
      MlForm *form;
      if (!ml_idiom_at (finder, net, k, &piece, &pin) || !ml_circuit_is_transistor (ml_idiom_kind (finder, piece)) || pin != OUTPUT_PIN
          || ml_idiom_piece (finder, piece)->n_pins != 3)
        continue;
      form = ml_idiom_cheapest (finder, piece);
      if (found >= 0 || form->pins[OUTPUT_PIN].side != ML_SIDE_DOWN || form->pins[CONTROL_PIN].side != ML_SIDE_LEFT)
        return -1;
      found = piece;
      *ret_form = form;
    }
  return found;
}

/* Left of its row, with the one resistor in line with its base. */
static void
put_driver (MlFinder *finder, MlMemberList *list, int row, int cell_label_w, int y)
{
  MlForm *form = NULL, *lying;
  int driver = driver_of (finder, row, &form), x, base, piece, pin, series = -1;
  guint k, n = 0;

  if (driver < 0)
    return;
  x = -MAX (BEFORE_COLUMNS + ml_idiom_label_w (finder, driver), BEFORE_TEXTS + cell_label_w);
  ml_idiom_put (finder, list, driver, form, OUTPUT_PIN, x, y);
  base = ml_idiom_net (finder, driver, CONTROL_PIN);
  for (k = 0; ml_idiom_signal (finder, base) && k < ml_idiom_n_at (finder, base); k++)
    if (ml_idiom_at (finder, base, k, &piece, &pin) && ml_idiom_kind (finder, piece) == ML_KIND_RESISTOR && ml_idiom_two (finder, piece)
        && ml_idiom_signal (finder, ml_idiom_other (finder, piece, base)))
      {
        series = piece;
        n++;
      }
  lying = n != 1 ? NULL : ml_idiom_lying (finder, series, ml_idiom_other (finder, series, base));
  if (lying != NULL)
    ml_idiom_put (finder, list, series, lying, ml_idiom_pin_on (finder, series, base),
                  x - form->pins[OUTPUT_PIN].x + form->pins[CONTROL_PIN].x - 2, y - form->pins[OUTPUT_PIN].y + form->pins[CONTROL_PIN].y);
}

static void
put_cells (MlFinder *finder, MlMemberList *list, const Matrix *matrix, int pitch)
{
  guint i;

  for (i = 0; i < matrix->n; i++)
    {
      int part = matrix->parts[i], row = ml_idiom_net (finder, part, 0), column = ml_idiom_net (finder, part, 1);
      MlForm *form;
      if (place_in (matrix->rows, row) < 0)
        {
          row = column;
          column = ml_idiom_net (finder, part, 0);
        }
      form = ml_idiom_standing (finder, part, row);
      if (form != NULL)
        ml_idiom_put (finder, list, part, form, ml_idiom_pin_on (finder, part, row), place_in (matrix->columns, column) * pitch,
                      place_in (matrix->rows, row) * ROW_PITCH);
    }
}

static void
add_matrix (MlFinder *finder, Matrix *matrix)
{
  MlMemberList *list = ml_idiom_list ();
  int pitch = 0;
  guint i;

  g_array_sort (matrix->rows, by_net);
  g_array_sort (matrix->columns, by_net);
  for (i = 0; i < matrix->n; i++)
    pitch = MAX (pitch, ml_idiom_label_w (finder, matrix->parts[i]) + COLUMN_LINE + 2);
  put_cells (finder, list, matrix, pitch);
  for (i = 0; i < matrix->columns->len; i++)
    {
      int net = g_array_index (matrix->columns, int, i), foot = foot_of (finder, net);
      MlForm *form = foot < 0 ? NULL : ml_idiom_standing (finder, foot, net);
      if (form != NULL)
        ml_idiom_put (finder, list, foot, form, ml_idiom_pin_on (finder, foot, net), (int) i * pitch + COLUMN_LINE,
                      (int) matrix->rows->len * ROW_PITCH - 1);
    }
  for (i = 0; i < matrix->rows->len; i++)
    put_driver (finder, list, g_array_index (matrix->rows, int, i), pitch - COLUMN_LINE - 2, (int) i * ROW_PITCH);
  ml_idiom_keep (ml_idiom_add (finder, list, NULL, FALSE, 0)); /* never mirrored: columns are counted from the left */
}

void
ml_idiom_find_matrices (MlFinder *finder)
{
  static const MlKind kinds[] = { ML_KIND_LED, ML_KIND_LAMP, ML_KIND_DIODE, ML_KIND_SWITCH };
  guint i, k;

  for (k = 0; k < G_N_ELEMENTS (kinds); k++)
    for (i = 0; i < finder->kit->plain->len; i++)
      {
        Matrix matrix = { finder, kinds[k], { 0 }, 0, NULL, NULL };
        if (!is_cell (finder, (int) i, kinds[k]))
          continue;
        matrix.rows = g_array_new (FALSE, FALSE, sizeof (int));
        matrix.columns = g_array_new (FALSE, FALSE, sizeof (int));
        if (gather (&matrix, ml_idiom_net (finder, (int) i, 0), TRUE) && is_matrix (&matrix))
          add_matrix (finder, &matrix);
        g_array_unref (matrix.rows);
        g_array_unref (matrix.columns);
      }
}
