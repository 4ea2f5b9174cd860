/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/layout-keep.h"
#include "drawing/layout.h"
#include "drawing/scene-private.h"

#include <math.h>
#include <string.h>

#define FARTHEST 1000 /* g from the median of all: beyond it a place is taken for a slip and the part is placed anew */

typedef struct
{
  int piece; /* plain */
  int x, y, turn;
  gboolean mirror;
  const char *symbol;           /* a geometry table's name, or NULL */
  const MlScene *scene;         /* boxes: where the pins' order comes from */
  int scene_symbol;
} Stay;

struct _MlKept
{
  GArray *stays; /* of Stay */
  GArray *partings; /* of MlParting */
  MlScene *previous;
  int x0, y0, x1, y1;
};

static char *
terminal_key (const MlBoard *board, const MlSceneSymbol *symbol, const MlScene *scene)
{
  const MlPart *part = &board->parts[symbol->part];

  return g_strdup_printf ("%s.%s", part->name, part->pins[scene->pins[symbol->first_pin].pin].name);
}

/* The symbol of a scene that shows this piece, by names: the board may have been edited since. */
static int
symbol_of_piece (const MlScene *scene, const MlPiece *piece, const MlCircuit *circuit, GHashTable *by_name)
{
  const MlCircuitPart *part = &circuit->parts[piece->part];
  g_autofree char *key = piece->kind == ML_PIECE_TERMINAL
                             ? g_strdup_printf ("%s.%s", part->part->name, part->pins[piece->pins[0].pin].name)
                             : g_strdup (part->part->name);
  gpointer found = g_hash_table_lookup (by_name, key);
  const MlSceneSymbol *symbol;

  if (found == NULL)
    return -1;
  symbol = &scene->symbols[GPOINTER_TO_INT (found) - 1];
  return scene->board->parts[symbol->part].kind->kind == part->kind ? GPOINTER_TO_INT (found) - 1 : -1;
}

static GHashTable *
symbols_by_name (const MlScene *scene)
{
  GHashTable *by_name = g_hash_table_new_full (g_str_hash, g_str_equal, g_free, NULL);
  guint i;

  for (i = 0; i < scene->n_symbols; i++)
    {
      const MlSceneSymbol *symbol = &scene->symbols[i];
      char *key = symbol->shape == ML_SHAPE_TERMINAL ? terminal_key (scene->board, symbol, scene)
                                                     : g_strdup (scene->board->parts[symbol->part].name);
      g_hash_table_insert (by_name, key, GINT_TO_POINTER ((int) i + 1));
    }
  return by_name;
}

static int
rounded (double v)
{
  return (int) floor (CLAMP (v, -1e8, 1e8) + 0.5);
}

static Stay
stay_at_place (const MlCircuitPart *part, int piece, const MlPlace *place)
{
  MlPlace drawn, snapped = { rounded (place->x), rounded (place->y), place->turn & 3, place->mirror };
  const char *symbol = ml_symbol_name (part->part, &snapped, &drawn);
  Stay stay = { piece, (int) drawn.x, (int) drawn.y, drawn.turn, drawn.mirror, symbol, NULL, -1 };

  return stay;
}

static Stay
stay_as_before (const MlScene *scene, int symbol_index, int piece)
{
  const MlSceneSymbol *symbol = &scene->symbols[symbol_index];
  Stay stay = { piece, rounded (symbol->place.x), rounded (symbol->place.y), symbol->place.turn, symbol->place.mirror, symbol->name, scene,
                symbol_index };

  return stay;
}

/* A pin of a connector that is drawn by itself; FALSE where the part's place says nothing of it. */
static gboolean
stay_of_terminal (const MlCircuit *circuit, const MlPiece *piece, int index, Stay *ret_stay)
{
  const MlPart *part = circuit->parts[piece->part].part;
  const MlPinPlace *place = piece->kind != ML_PIECE_TERMINAL || part->pin_places == NULL
                                ? NULL
                                : &part->pin_places[circuit->parts[piece->part].pins[piece->pins[0].pin].pin];

  if (place == NULL || place->edge < 0)
    return FALSE;
  *ret_stay = (Stay){ index, rounded (place->x), rounded (place->y), place->edge, FALSE, NULL, NULL, -1 }; /* MlEdge goes round as MlSide does */
  return TRUE;
}

static int
by_value (gconstpointer a, gconstpointer b)
{
  return *(const int *) a < *(const int *) b ? -1 : *(const int *) a > *(const int *) b;
}

static int
median_of (const GArray *stays, gboolean of_y)
{
  int *values = g_new (int, MAX (stays->len, 1)), median;
  guint i;

  for (i = 0; i < stays->len; i++)
    values[i] = of_y ? g_array_index (stays, Stay, i).y : g_array_index (stays, Stay, i).x;
  qsort (values, stays->len, sizeof *values, by_value);
  median = stays->len == 0 ? 0 : values[stays->len / 2];
  g_free (values);
  return median;
}

static void
drop_far_ones (MlKept *kept)
{
  int x = median_of (kept->stays, FALSE), y = median_of (kept->stays, TRUE);
  guint i;

  for (i = kept->stays->len; i-- > 0;)
    {
      const Stay *stay = &g_array_index (kept->stays, Stay, i);
      if (ABS ((gint64) stay->x - x) > FARTHEST || ABS ((gint64) stay->y - y) > FARTHEST)
        g_array_remove_index (kept->stays, i);
    }
}

static void
take_hull (MlKept *kept)
{
  guint i;

  kept->x0 = kept->y0 = G_MAXINT;
  kept->x1 = kept->y1 = G_MININT;
  for (i = 0; i < kept->stays->len; i++)
    {
      const Stay *stay = &g_array_index (kept->stays, Stay, i);
      kept->x0 = MIN (kept->x0, stay->x);
      kept->y0 = MIN (kept->y0, stay->y);
      kept->x1 = MAX (kept->x1, stay->x);
      kept->y1 = MAX (kept->y1, stay->y);
    }
}

/* ---- a diamond of four diodes is written as four places: told by its corners meeting ---- */

static const Stay *
stay_of_part (const MlKept *kept, const MlKit *kit, int part)
{
  guint i;

  for (i = 0; i < kept->stays->len; i++)
    if (g_array_index (kept->stays, Stay, i).piece == kit->plain_of_part[part])
      return &g_array_index (kept->stays, Stay, i);
  return NULL;
}

static MlPoint
diagonal_end (const Stay *stay, gboolean cathode)
{
  MlPlace place = { stay->x, stay->y, stay->turn, stay->mirror };

  return ml_place_point (&place, cathode ? 4 : 0, cathode ? -4 : 0);
}

/* Another placed diode whose end of the same net would lie on this end if both were drawn diagonally. */
static gboolean
meets_another (const MlKept *kept, const MlKit *kit, int part, int end)
{
  const MlCircuit *circuit = kit->circuit;
  const Stay *own = stay_of_part (kept, kit, part);
  int net = circuit->parts[part].pins[end].net;
  guint i;

  for (i = 0; net >= 0 && i < circuit->nets[net].n_joints; i++)
    {
      MlCircuitJoint joint = circuit->nets[net].joints[i];
      const Stay *other = stay_of_part (kept, kit, joint.part);
      MlPoint a, b;
      if (joint.part == part || other == NULL || circuit->parts[joint.part].kind != ML_KIND_DIODE)
        continue;
      a = diagonal_end (own, end == 1);
      b = diagonal_end (other, joint.pin == 1);
      if (fabs (a.x - b.x) < 0.1 && fabs (a.y - b.y) < 0.1)
        return TRUE;
    }
  return FALSE;
}

static void
find_diamonds (MlKept *kept, const MlKit *kit)
{
  guint i;

  for (i = 0; i < kept->stays->len; i++)
    {
      Stay *stay = &g_array_index (kept->stays, Stay, i);
      int part = ((const MlPiece *) g_ptr_array_index (kit->plain, (guint) stay->piece))->part;
      if (kit->circuit->parts[part].kind == ML_KIND_DIODE && kit->circuit->parts[part].n_pins == 2 && meets_another (kept, kit, part, 0)
          && meets_another (kept, kit, part, 1))
        stay->symbol = "diode-diagonal";
    }
}

static MlKept *
kept_finish (MlKept *kept, const MlKit *kit)
{
  drop_far_ones (kept);
  find_diamonds (kept, kit);
  take_hull (kept);
  return kept;
}

MlKept *
ml_kept_new (const MlKit *kit, const MlScene *previous)
{
  MlKept *kept = g_new0 (MlKept, 1);
  GHashTable *by_name = previous == NULL ? NULL : symbols_by_name (previous);
  guint i;

  kept->stays = g_array_new (FALSE, FALSE, sizeof (Stay));
  kept->partings = g_array_new (FALSE, FALSE, sizeof (MlParting));
  kept->previous = previous == NULL ? NULL : ml_scene_ref ((MlScene *) previous);
  for (i = 0; i < kit->plain->len; i++)
    {
      const MlPiece *piece = g_ptr_array_index (kit->plain, i);
      const MlCircuitPart *part = &kit->circuit->parts[piece->part];
      int before = previous == NULL ? -1 : symbol_of_piece (previous, piece, kit->circuit, by_name);
      Stay stay;
      if (part->part->placed && kit->plain_of_part[piece->part] == (int) i)
        {
          stay = stay_at_place (part, (int) i, &part->part->place);
          stay.scene = before < 0 ? NULL : previous;
          stay.scene_symbol = before;
        }
      else if (stay_of_terminal (kit->circuit, piece, (int) i, &stay))
        ;
      else if (before >= 0)
        stay = stay_as_before (previous, before, (int) i);
      else
        continue;
      g_array_append_val (kept->stays, stay);
    }
  g_clear_pointer (&by_name, g_hash_table_unref);
  return kept_finish (kept, kit);
}

MlKept *
ml_kept_reopened (const MlKit *kit, const MlScene *scene)
{
  MlKept *kept = g_new0 (MlKept, 1);
  g_autofree MlPlace *places = g_new0 (MlPlace, scene->board->n_parts + 1);
  GHashTable *by_name = symbols_by_name (scene);
  guint i;

  ml_layout_places (scene, places);
  kept->stays = g_array_new (FALSE, FALSE, sizeof (Stay));
  kept->partings = g_array_new (FALSE, FALSE, sizeof (MlParting));
  kept->previous = ml_scene_ref ((MlScene *) scene);
  for (i = 0; i < kit->plain->len; i++)
    {
      const MlPiece *piece = g_ptr_array_index (kit->plain, i);
      const MlCircuitPart *part = &kit->circuit->parts[piece->part];
      gboolean is_first = kit->plain_of_part[piece->part] == (int) i;
      int before = piece->kind == ML_PIECE_TERMINAL ? symbol_of_piece (scene, piece, kit->circuit, by_name) : ml_scene_symbol (scene, part->index);
      Stay stay = is_first ? stay_at_place (part, (int) i, &places[part->index]) : before >= 0 ? stay_as_before (scene, before, (int) i) : (Stay){ 0 };
      if (!is_first && before < 0)
        continue;
      stay.scene_symbol = part->kind == ML_KIND_BLOCK ? before : -1;
      stay.scene = stay.scene_symbol < 0 ? NULL : scene;
      g_array_append_val (kept->stays, stay);
    }
  g_hash_table_unref (by_name);
  return kept_finish (kept, kit);
}

void
ml_kept_free (MlKept *kept)
{
  g_array_unref (kept->stays);
  g_array_unref (kept->partings);
  g_clear_pointer (&kept->previous, ml_scene_unref);
  g_free (kept);
}

guint
ml_kept_n (const MlKept *kept)
{
  return kept->stays->len;
}

int
ml_kept_span (const MlKept *kept)
{
  return kept->stays->len == 0 ? 0 : 120 + MAX (kept->x1 - kept->x0, kept->y1 - kept->y0);
}

void
ml_kept_override (MlKept *kept, const MlKit *kit, int part, const MlPlace *place)
{
  int first = kit->plain_of_part[part], dx = 0, dy = 0;
  guint i;

  for (i = 0; i < kept->stays->len; i++)
    {
      Stay *stay = &g_array_index (kept->stays, Stay, i);
      const MlPiece *piece = g_ptr_array_index (kit->plain, (guint) stay->piece);
      if (piece->part != part)
        continue;
      if (stay->piece == first)
        {
          Stay moved = stay_at_place (&kit->circuit->parts[part], first, place);
          moved.scene = stay->scene;
          moved.scene_symbol = stay->scene_symbol;
          dx = moved.x - stay->x;
          dy = moved.y - stay->y;
          *stay = moved;
        }
      else /* the other terminals of a connector come along */
        {
          stay->x += dx;
          stay->y += dy;
        }
    }
  take_hull (kept);
}

/* ---- parted along a line ---- */

void
ml_kept_part (MlKept *kept, const MlParting *parting)
{
  g_array_append_val (kept->partings, *parting);
}

gboolean
ml_parting_moves (const MlParting *parting, const MlSpot *spot)
{
  int low = parting->axis == 0 ? spot->x + spot->form->pin_hull.x0 : spot->y + spot->form->pin_hull.y0;
  guint i;

  for (i = 0; i < spot->form->n_cores; i++)
    low = MIN (low, parting->axis == 0 ? spot->x + spot->form->cores[i].x0 : spot->y + spot->form->cores[i].y0);
  return low >= parting->line;
}

void
ml_parting_apply (const MlParting *parting, MlSheet *sheet)
{
  guint i;

  for (i = 0; i < sheet->n; i++)
    if (ml_parting_moves (parting, &sheet->spots[i]))
      *(parting->axis == 0 ? &sheet->spots[i].x : &sheet->spots[i].y) += parting->by;
}

/* None of the pieces that the line did not move lies beyond it where a moved one does. */
void
ml_parting_undo (const MlParting *parting, MlSheet *sheet)
{
  MlParting back = { parting->axis, parting->line + parting->by, -parting->by };

  ml_parting_apply (&back, sheet);
}

/* ---- boxes: pins in the order in which they stood ---- */

typedef struct { int pin, at; } Placed;

static int
by_at (gconstpointer a, gconstpointer b)
{
  const Placed *p = a, *q = b;

  return p->at != q->at ? (p->at < q->at ? -1 : 1) : p->pin - q->pin;
}

static const MlScenePin *
pin_before (const Stay *stay, const char *name)
{
  const MlSceneSymbol *symbol = &stay->scene->symbols[stay->scene_symbol];
  guint i;

  for (i = 0; i < symbol->n_pins; i++)
    {
      const MlScenePin *pin = &stay->scene->pins[symbol->first_pin + i];
      if (strcmp (stay->scene->board->parts[pin->part].pins[pin->pin].name, name) == 0)
        return pin;
    }
  return NULL;
}

/* On which side that pin stood, and where there: as the file says, else as in the scene before; FALSE: it is a new one. */
static gboolean
pin_stood (const Stay *stay, const MlCircuitPin *pin, const MlPart *part, int *ret_side, int *ret_at)
{
  if (part->pin_places != NULL)
    {
      const MlPinPlace *place = &part->pin_places[pin->pin];
      *ret_side = place->edge; /* MlEdge goes round as MlSide does */
      *ret_at = (int) place->at;
      return place->edge >= 0;
    }
  const MlScenePin *before = pin_before (stay, pin->name);
  if (before == NULL)
    return FALSE;
  *ret_side = (int) before->side;
  *ret_at = rounded ((before->side & 1) != 0 ? before->at.x : before->at.y);
  return TRUE;
}

static MlForm *
block_form_as_left (const Stay *stay, MlPiece *piece, const MlCircuit *circuit)
{
  const MlCircuitPart *part = &circuit->parts[piece->part];
  g_autofree Placed *placed = g_new (Placed, MAX (piece->n_pins, 1));
  MlBoxSides sides = { { NULL }, { 0 } };
  int side;
  guint i, k;
  MlForm *form;

  for (side = 0; side < 4; side++)
    {
      guint n = 0;
      for (i = 0; i < piece->n_pins; i++)
        {
          int on, at;
          if (!pin_stood (stay, &part->pins[piece->pins[i].pin], part->part, &on, &at))
            {
              on = ML_SIDE_RIGHT; /* last there */
              at = G_MAXINT;
            }
          if (on == side)
            placed[n++] = (Placed){ (int) i, at };
        }
      qsort (placed, n, sizeof *placed, by_at);
      sides.pins[side] = g_new (int, MAX (n, 1));
      sides.n[side] = n;
      for (k = 0; k < n; k++)
        sides.pins[side][k] = placed[k].pin;
    }
  form = ml_box_form (piece, circuit, &sides, 0);
  ml_box_sides_clear (&sides);
  g_ptr_array_add (piece->forms, form);
  return form;
}

/* Whether it is known how the pins of that block stood. */
static gboolean
pins_stood (const Stay *stay, const MlPiece *piece, const MlCircuit *circuit)
{
  return piece->is_block && (stay->scene != NULL || circuit->parts[piece->part].part->pin_places != NULL);
}

/* Where nothing is said of a block's pins they are put in the order that costs least where everything stands, as when it was first drawn.
 * What the wires then really cost may change it once more (ml_polish). */
static void
fit_blocks (const MlKept *kept, MlSheet *sheet)
{
  guint i;

  for (i = 0; i < kept->stays->len; i++)
    {
      const Stay *stay = &g_array_index (kept->stays, Stay, i);
      const MlSpot *spot = &sheet->spots[stay->piece];
      if (spot->on && spot->piece->is_block && !pins_stood (stay, spot->piece, sheet->circuit))
        {
          ml_sheet_fit_block (sheet, stay->piece);
          sheet->spots[stay->piece].pins_free = TRUE;
        }
    }
}

void
ml_kept_apply (const MlKept *kept, MlSheet *sheet)
{
  guint i;

  if (kept->stays->len == 0)
    return;
  sheet->origin_x = (sheet->width - (kept->x1 - kept->x0)) / 2 - kept->x0;
  sheet->origin_y = (sheet->height - (kept->y1 - kept->y0)) / 2 - kept->y0;
  for (i = 0; i < kept->stays->len; i++)
    {
      const Stay *stay = &g_array_index (kept->stays, Stay, i);
      MlSpot *spot = &sheet->spots[stay->piece];
      MlPiece *piece = spot->piece;
      spot->form = pins_stood (stay, piece, sheet->circuit)
                       ? block_form_as_left (stay, piece, sheet->circuit)
                       : ml_piece_form_at (piece, sheet->circuit, piece->kind == ML_PIECE_PART && !piece->is_box ? stay->symbol : NULL, stay->turn, stay->mirror);
      spot->x = stay->x + sheet->origin_x;
      spot->y = stay->y + sheet->origin_y;
      spot->fixed = spot->on = TRUE;
      if (!ml_sheet_inside (sheet, stay->piece))
        spot->fixed = spot->on = FALSE;
    }
  for (i = 0; i < kept->partings->len; i++)
    {
      MlParting parting = g_array_index (kept->partings, MlParting, i);
      parting.line += parting.axis == 0 ? sheet->origin_x : sheet->origin_y;
      ml_parting_apply (&parting, sheet);
    }
  ml_sheet_put_all (sheet);
  fit_blocks (kept, sheet);
}

/* ---- beside the scene ---- */

static void
state_free (gpointer data)
{
  MlSceneState *state = data;

  g_free (state->net_v);
  g_free (state);
}

void
ml_scene_state_set (MlScene *scene, const double *net_v, gboolean show_generated)
{
  MlSceneOwned *owned = (MlSceneOwned *) (gpointer) scene;
  MlSceneState *state = g_new0 (MlSceneState, 1);

  if (net_v != NULL)
    state->net_v = g_memdup2 (net_v, sizeof *net_v * scene->board->n_nets);
  state->show_generated = show_generated;
  owned->state = state;
  owned->free_state = state_free;
}

const MlSceneState *
ml_scene_state_get (const MlScene *scene)
{
  static const MlSceneState none = { NULL, FALSE };
  const MlSceneOwned *owned = (const MlSceneOwned *) (gconstpointer) scene;

  return owned->state == NULL ? &none : owned->state;
}
