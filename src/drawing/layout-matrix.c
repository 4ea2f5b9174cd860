/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Lamps or keys in rows and columns. A row's parts hang from one level line; a column's meet on one upright line left of them, those of the last
 * column at their right, where that crosses no row:
 *
 *   R-T-row -----+---------+
 *                V         V
 *              +-+         +-+
 *   R---row ---|-+---------+ |
 *              | V         V |
 *              +-+         +-+
 *   R----------+           |   what is in series with a row or a column lies left of all: from top to bottom
 *   R----------------------+   as the chip has its pins, so that no wire crosses another
 */
#include "drawing/layout-idioms.h"

#define MOST 64 /* parts */
#define ROW_PITCH 8
#define COLUMN_LINE 3 /* g left of the parts: past the arrows of lamps */
#define BESIDE_TEXT 2
#define SERIES_PITCH 4 /* g between the lines of two columns: two lines of text */

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

/* The one resistor in line with a row or column; -1. */
static int
series_of (const MlFinder *finder, int net)
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
#define BEFORE_LINE (COLUMN_LINE + 2) /* g from a resistor to the first column */
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

/* Lying, its right end on a net at (x, y). */
static void
put_series (MlFinder *finder, MlMemberList *list, int series, int net, int x, int y)
{
  MlForm *lying = series < 0 ? NULL : ml_idiom_lying (finder, series, ml_idiom_other (finder, series, net));

  if (lying != NULL)
    ml_idiom_put (finder, list, series, lying, ml_idiom_pin_on (finder, series, net), x, y);
}

/* Left of its row, with the one resistor in line with its base; without a driver the resistor in line with the row. Where resistors end. */
static int
put_driver (MlFinder *finder, MlMemberList *list, int row, int cell_label_w, int y)
{
  MlForm *form = NULL;
  int driver = driver_of (finder, row, &form), x, base, piece, pin, series = -1;
  guint k, n = 0;

  if (driver < 0)
    {
      put_series (finder, list, series_of (finder, row), row, -BEFORE_LINE, y);
      return -BEFORE_LINE;
    }
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
  x += form->pins[CONTROL_PIN].x - form->pins[OUTPUT_PIN].x - 2;
  put_series (finder, list, n == 1 ? series : -1, base, x, y - form->pins[OUTPUT_PIN].y + form->pins[CONTROL_PIN].y);
  return x;
}

/* Texts stand right of the parts, in the last column left of them. */
static void
put_cells (MlFinder *finder, MlMemberList *list, const Matrix *matrix, int label_w)
{
  const int pitch = label_w + COLUMN_LINE + BESIDE_TEXT, last = (int) matrix->columns->len - 1;
  guint i;

  for (i = 0; i < matrix->n; i++)
    {
      int part = matrix->parts[i], row = ml_idiom_net (finder, part, 0), column = ml_idiom_net (finder, part, 1), place;
      MlForm *form;
      if (place_in (matrix->rows, row) < 0)
        {
          row = column;
          column = ml_idiom_net (finder, part, 0);
        }
      place = place_in (matrix->columns, column);
      form = ml_idiom_standing (finder, part, row);
      if (form != NULL && place == last)
        form = ml_piece_form_named_left (ml_idiom_piece (finder, part), finder->circuit, form);
      if (form != NULL)
        ml_idiom_put (finder, list, part, form, ml_idiom_pin_on (finder, part, row), place * pitch + (place == last ? label_w : 0),
                      place_in (matrix->rows, row) * ROW_PITCH);
    }
}

static void
add_matrix (MlFinder *finder, Matrix *matrix)
{
  MlMemberList *list = ml_idiom_list ();
  int label_w = 0, left = -BEFORE_LINE, y;
  guint i;

  g_array_sort (matrix->rows, by_net);
  g_array_sort (matrix->columns, by_net);
  for (i = 0; i < matrix->n; i++)
    label_w = MAX (label_w, ml_idiom_label_w (finder, matrix->parts[i]));
  put_cells (finder, list, matrix, label_w);
  for (i = 0; i < matrix->rows->len; i++)
    left = MIN (left, put_driver (finder, list, g_array_index (matrix->rows, int, i), label_w, (int) i * ROW_PITCH));
  y = (int) matrix->rows->len * ROW_PITCH;
  for (i = 0; i < matrix->columns->len; i++)
    {
      int net = g_array_index (matrix->columns, int, i), series = series_of (finder, net);
      put_series (finder, list, series, net, left, y);
      y += series < 0 ? 0 : SERIES_PITCH;
    }
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
